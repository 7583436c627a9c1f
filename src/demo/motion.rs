//! Where golfer, club and ball are at a given time. Golfer's coordinates throughout.

use nalgebra::Vector3;

use super::noise::ease;
use super::scenario::{BALL, Scenario, Swing};

type V3 = Vector3<f64>;

/// Within this arc angle of the low point the club does not bend at the wrists.
const RIGID: f64 = 0.42;
/// From the middle of the shoulders to the hands, m.
const ARM: f64 = 0.62;
/// Arm and wrist angles at the top of the swing and at the finish.
const TOP: [f64; 2] = [-2.15, -1.55];
const FINISH: [f64; 2] = [2.2, 1.7];
/// From the finish to the next address, s.
const RESET: f64 = 1.2;

/// The golfer and the club at one instant.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pose {
    /// Middle of the shoulders.
    pub hub: V3,
    pub hands: V3,
    /// Mid point of the leading edge.
    pub edge: V3,
    /// The head's own directions: toward the target, toward the golfer, up.
    pub forward: V3,
    pub away: V3,
    pub up: V3,
    /// s of the trail and lead foot.
    pub feet: [f64; 2],
    /// How far into the finish the body is, 0..1.
    pub finish: f64,
    /// The swing that it belongs to.
    pub swing: usize,
}

/// Arm angle and wrist angle, and how far the whole is lifted.
#[derive(Clone, Copy)]
struct Angles {
    arm: f64,
    wrist: f64,
    lift: f64,
}

/// Where everything is at `t` seconds.
pub(super) fn pose_at(scenario: &Scenario, t: f64) -> Pose {
    let last = scenario.swings.len() - 1;
    let index = (0..last).find(|&i| t < end_of(&scenario.swings[i])).unwrap_or(last);
    let swing = &scenario.swings[index];
    let before = index.checked_sub(1).map(|i| &scenario.swings[i]);
    let (angles, finish) = angles_at(swing, before, t);
    let settle = before.map_or(1.0, |b| ease((t - end_of(b)) / RESET));
    let from = before.unwrap_or(swing);
    let hub = from.arc.hub().lerp(&swing.arc.hub(), settle) + V3::z() * angles.lift;
    let feet = [0, 1].map(|i| from.feet[i] + (swing.feet[i] - from.feet[i]) * settle);
    place(swing, hub, angles, Pose { feet, finish, swing: index, ..Pose::blank() })
}

impl Pose {
    fn blank() -> Self {
        let zero = V3::zeros();
        Self {
            hub: zero,
            hands: zero,
            edge: zero,
            forward: zero,
            away: zero,
            up: zero,
            feet: [0.0; 2],
            finish: 0.0,
            swing: 0,
        }
    }
}

fn place(swing: &Swing, hub: V3, angles: Angles, pose: Pose) -> Pose {
    let arc = &swing.arc;
    let hands = hub + arc.toward(angles.arm) * ARM;
    let phi = angles.arm + angles.wrist;
    let edge = hands + arc.toward(phi) * (arc.radius - ARM);
    let (sin, cos) = arc.plane.sin_cos();
    let inward = -arc.toward(phi);
    let normal = V3::new(0.0, -sin, cos);
    let forward = V3::new(phi.cos(), phi.sin() * cos, phi.sin() * sin);
    let (up, away) = (inward * sin + normal * cos, inward * cos - normal * sin);
    Pose { hub, hands, edge, forward, away, up, ..pose }
}

/// When the next swing takes over.
fn end_of(swing: &Swing) -> f64 {
    swing.time_at(RIGID) + swing.timing.follow + swing.timing.hold
}

/// When the next ball may come to rest after this swing, s.
pub(super) fn next_ready(swing: &Swing) -> f64 {
    end_of(swing) + RESET
}

/// The start of the backswing, s.
pub(super) fn takeaway(swing: &Swing) -> f64 {
    top(swing) - swing.timing.back
}

/// The top of the swing, s.
pub(super) fn top(swing: &Swing) -> f64 {
    swing.time_at(-RIGID) - swing.timing.down
}

fn angles_at(swing: &Swing, before: Option<&Swing>, t: f64) -> (Angles, f64) {
    let address = address(swing);
    let (top, entry, exit) = (top(swing), swing.time_at(-RIGID), swing.time_at(RIGID));
    if t < takeaway(swing) {
        let Some(before) = before.filter(|b| t < end_of(b) + RESET) else {
            return (waggle(swing, address, t), 0.0);
        };
        let u = ease((t - end_of(before)) / RESET);
        let arm = FINISH[0] + (address.arm - FINISH[0]) * u;
        let wrist = FINISH[1] * (1.0 - u);
        // The club is carried over the ground, not dragged along it.
        let lift = address.lift * u + 0.2 * (std::f64::consts::PI * u).sin();
        return (Angles { arm, wrist, lift }, 1.0 - u);
    }
    if t < top {
        let u = ease((t - takeaway(swing)) / swing.timing.back);
        let arm = address.arm + (TOP[0] - address.arm) * u;
        let wrist = TOP[1] * ease((u - 0.25) / 0.75);
        return (Angles { arm, wrist, lift: address.lift * (1.0 - ease(3.0 * u)) }, 0.0);
    }
    if t < entry {
        let u = (t - top) / swing.timing.down;
        let arm = toward_rigid(TOP[0], u, swing, swing.timing.down);
        let wrist = TOP[1] * (1.0 - ease((u - 0.4) / 0.6));
        return (Angles { arm, wrist, lift: 0.0 }, 0.0);
    }
    if t <= exit {
        let arm = (t - swing.low_time()) * swing.arc.turn_rate;
        return (Angles { arm, wrist: 0.0, lift: 0.0 }, 0.0);
    }
    let u = ((t - exit) / swing.timing.follow).min(1.0);
    let arm = toward_rigid(-FINISH[0], 1.0 - u, swing, swing.timing.follow);
    let wrist = FINISH[1] * ease((u - 0.1) / 0.9);
    (Angles { arm: -arm, wrist, lift: 0.0 }, ease((t - exit) / 0.5))
}

/// From `far` (at `u` = 0) to the start of the rigid part (`u` = 1), where the arms turn at
/// the arc's own rate.
fn toward_rigid(far: f64, u: f64, swing: &Swing, duration: f64) -> f64 {
    let span = -RIGID - far;
    let power = (swing.arc.turn_rate * duration / span).max(1.2);
    far + span * u.powf(power)
}

/// The club behind the ball, its sole on the grass.
fn address(swing: &Swing) -> Angles {
    let arm = swing.arc.angle_at(swing.origin - 0.045);
    Angles { arm, wrist: 0.0, lift: 0.004 - swing.arc.at(arm).z }
}

fn waggle(swing: &Swing, address: Angles, t: f64) -> Angles {
    const PERIOD: f64 = 0.8;
    let since = t - (takeaway(swing) - 0.3 - PERIOD * f64::from(swing.timing.waggles));
    if since < 0.0 || since > PERIOD * f64::from(swing.timing.waggles) {
        return address;
    }
    let swingback = 0.5 - 0.5 * (std::f64::consts::TAU * since / PERIOD).cos();
    Angles {
        arm: address.arm - 0.06 * swingback,
        wrist: -0.35 * swingback,
        lift: address.lift + 0.03 * swingback,
    }
}

/// Where the ball of a swing is at `t`; `None` when it is not there yet or gone.
pub(super) fn ball_at(swing: &Swing, t: f64) -> Option<V3> {
    let ball = swing.ball?;
    let rest = V3::new(ball.at[0], ball.at[1], ball.height);
    if t < ball.rest_from {
        // It is rolled in from the golfer's trail side over the last second.
        let left = ball.rest_from - t;
        return (left < 1.0).then(|| rest + V3::new(-0.9, -0.25, 0.0) * left.powi(2));
    }
    if !swing.struck || t < swing.strike_time {
        return Some(rest);
    }
    let gone = t - swing.strike_time;
    let launch = 0.62 * swing.loft + 0.03;
    let speed = 1.38 * swing.arc.speed() * swing.loft.cos();
    let velocity = V3::new(launch.cos(), 0.02, launch.sin()) * speed;
    (gone < 0.6).then(|| rest + velocity * gone - V3::z() * (4.905 * gone * gone))
}

/// Where the flying piece of turf is at `t`, if there is one in the air or on the ground.
pub(super) fn turf_at(swing: &Swing, t: f64) -> Option<(V3, f64)> {
    let mark = swing.mark.as_ref().filter(|_| swing.turf_flies)?;
    let from = V3::new(mark.end, mark.middle, 0.005);
    let gone = t - swing.time_at(swing.arc.angle_at(mark.end));
    if gone < 0.0 {
        return None;
    }
    let kick = f64::from(super::noise::unit(1, 2, mark.seed));
    let velocity = V3::new(2.0 + 3.5 * kick, 0.35 * (kick - 0.5), 1.2 + 1.4 * kick);
    let landing = 2.0 * velocity.z / 9.81;
    let flown = gone.min(landing);
    let size = 0.012 + 0.02 * (mark.end - mark.start).min(0.2) / 0.2;
    Some((from + velocity * flown - V3::z() * (4.905 * flown * flown), size))
}

/// The ball's radius, m.
pub(super) const RADIUS: f64 = BALL / 2.0;
