//! What a perfect measurement of a scene would find.

use nalgebra::Vector3;
use serde_json::{Value, json};

use super::ground::Ground;
use super::motion::pose_at;
use super::scenario::{BALL, Scenario, Swing, Thing};
use super::sound::{SPEED_OF_SOUND, distance};
use super::{CutMark, frame};
use crate::domain::{
    Direction, FrameIndex, ImagePoint, Mark, Millimetres, Reference, ReferenceKind, Setup, Surface,
    SwingKind,
};

type V3 = Vector3<f64>;

/// The truth about a scene: lengths in metres, pixels of the unshifted picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    scenario: Scenario,
    /// In order of time.
    pub swings: Vec<SwingTruth>,
}

/// The truth about one swing. Offsets count from its ball or origin, + toward the target.
#[derive(Clone, Debug, PartialEq)]
pub struct SwingTruth {
    /// Strike or practice swing.
    pub kind: SwingKind,
    /// First touch of the ball, or the edge passing the origin, s.
    pub strike_time: f64,
    /// The last frame the exposure of which ends before it.
    pub last_frame_before: FrameIndex,
    /// The first frame the exposure of which begins after it.
    pub first_frame_after: FrameIndex,
    /// The ball's centre.
    pub ball: Option<ImagePoint>,
    /// The ground point at the ball or at what stands in for it.
    pub origin: ImagePoint,
    /// Low point, m.
    pub low_point: f64,
    /// The low point's height over the ground, m.
    pub low_height: f64,
    /// Slope of the edge's path where it passes the ball, degrees.
    pub attack_at_ball: f64,
    /// What was touched.
    pub contact: Option<ContactTruth>,
}

/// The truth about a mark in the ground.
#[derive(Clone, Debug, PartialEq)]
pub struct ContactTruth {
    /// When the edge enters the ground, s.
    pub time: f64,
    /// Where it does, m.
    pub start: f64,
    /// Where the mark ends, m.
    pub end: f64,
    /// Where the mark is seen to begin and end: half of its inner change of colour, averaged over
    /// the middle of its width, without noise. `None`: too faint to be made out.
    pub seen: Option<[f64; 2]>,
    /// Mean change of the ground's brightness inside the mark, relative.
    pub contrast: f64,
    /// No reader of the picture can make the start out: a ball lies or lay on it.
    pub start_hidden: bool,
}

impl Truth {
    /// The truth about a scenario.
    pub fn of(scenario: &Scenario) -> Self {
        let swings = (0..scenario.swings.len()).map(|i| swing_truth(scenario, i)).collect();
        Self { scenario: scenario.clone(), swings }
    }

    /// What a person might say before measuring: only where the things of known size lie
    /// and, in practice swings without a ball, the point that stands in for it.
    pub fn setup(&self) -> Setup {
        let scenario = &self.scenario;
        let without_ball = scenario.swings.iter().position(|s| s.ball.is_none());
        Setup {
            references: scenario.things.iter().filter_map(|t| reference(scenario, t)).collect(),
            origin: without_ball.map(|i| Mark::steadied(self.swings[i].origin)),
            ..Setup::default()
        }
    }

    /// The truth as a truth file holds it (see `docs/formats.md`).
    pub fn to_json(&self) -> Value {
        let s = &self.scenario;
        let right = s.heading == Direction::Right;
        let c = &s.camera;
        let shifts = (s.faults.shake != [0.0; 2])
            .then(|| (0..s.ticks.len()).map(|i| s.shift(i)).collect::<Vec<_>>());
        let pts: Vec<f64> = (0..s.ticks.len()).map(|i| s.time(i)).collect();
        let translation = -(c.rotation * c.centre);
        let mut json = json!({
            "clip": s.name,
            "about": s.about,
            "generator_seed": s.seed,
            "video": {
                "width": s.size.width, "height": s.size.height, "fps_nominal": s.rate,
                "frames": s.ticks.len(), "duration_s": pts.last().unwrap_or(&0.0) + 1.0 / s.rate,
                "exposure_s": s.exposure, "rolling_shutter": s.readout > 0.0,
                "readout_s": s.readout, "display_turn_clockwise_deg": 0,
            },
            "handedness": if right { "right" } else { "left" },
            "target_direction_in_picture": if right { "right" } else { "left" },
            "camera": {
                "K": [[c.focal, 0.0, c.principal.x], [0.0, c.focal, c.principal.y], [0.0, 0.0, 1.0]],
                "dist_model": "OpenCV k1,k2,p1,p2,k3",
                "dist": [c.k1, 0.0, 0.0, 0.0, 0.0],
                "R_world_to_cam": rows(&c.rotation),
                "t": list(translation),
                "centre_m": list(c.centre),
                "height_m": c.centre.z,
                "yaw_deg": c.yaw.to_degrees(),
                "roll_deg": c.roll.to_degrees(),
                "mm_per_px_at_ball": 1000.0 / c.pixels_per_metre(V3::zeros()),
            },
            "ground": if s.ground.surface == Surface::Turf { "turf" } else { "mat" },
            "pts_s": pts,
            "frame_shift_px": shifts,
            "reference_objects": s.things.iter().flat_map(|t| thing_json(s, t)).collect::<Vec<_>>(),
            "swings": (0..self.swings.len()).map(|i| self.swing_json(i)).collect::<Vec<_>>(),
        });
        for thing in &s.things {
            if let Thing::LinePair { at, .. } = thing {
                json["chalk_separation_m"] = json!(at[1] - at[0]);
            }
        }
        json
    }

    fn swing_json(&self, index: usize) -> Value {
        let (s, truth) = (&self.scenario, &self.swings[index]);
        let swing = &s.swings[index];
        let y = swing.ball.map_or(swing.arc.low.y, |b| b.at[1]);
        let inside = (truth.first_frame_after.0 - truth.last_frame_before.0 > 1)
            .then_some(truth.last_frame_before.0 + 1);
        let low = swing.arc.low;
        json!({
            "index": index,
            "kind": if swing.struck { "strike" } else { "rehearsal" },
            "club": swing.club,
            "ball_struck": swing.struck,
            "ball_present": swing.ball.is_some(),
            "strike": {
                "time_s": truth.strike_time,
                "last_frame_before_contact": truth.last_frame_before.0,
                "first_frame_after_contact": truth.first_frame_after.0,
                "contact_inside_exposure_of_frame": inside,
                "sound_arrival_s": truth.strike_time + distance(s) / SPEED_OF_SOUND,
                "sound_present": swing.struck && s.sound.is_some(),
            },
            "ball": swing.ball.map(|ball| json!({
                "centre_m": list(s.world(V3::new(ball.at[0], ball.at[1], ball.height))),
                "ground_point_m": list(s.world(V3::new(ball.at[0], ball.at[1], 0.0))),
                "centre_px": truth.ball,
                "ground_point_px": truth.origin,
                "diameter_m": BALL,
                "on_tee": ball.height > BALL,
                "width_px_approx": BALL * s.camera.pixels_per_metre(
                    s.world(V3::new(ball.at[0], ball.at[1], ball.height))),
                "rest_from_s": ball.rest_from.max(0.0),
            })),
            "reference_x_m": s.sign() * swing.origin,
            "reference_px": show(s, V3::new(swing.origin, y, 0.0)),
            "low_point": {
                "offset_from_ball_m": truth.low_point,
                "point_m": list(s.world(low)),
                "px": show(s, low),
                "ground_px": show(s, V3::new(low.x, low.y, 0.0)),
                "depth_below_ground_m": -low.z,
            },
            "attack_angle_deg": {
                "at_contact": swing.arc.attack(swing.strike_angle()).to_degrees(),
                "at_ball_position": truth.attack_at_ball,
            },
            "ground_contact": truth.contact.as_ref().zip(swing.mark.as_ref())
                .map(|(contact, mark)| contact_json(s, swing, contact, mark)),
            "club_path": path_json(s, index),
            "arc": {
                "hub_m": list(s.world(swing.arc.hub())),
                "radius_m": swing.arc.radius,
                "plane_deg": swing.arc.plane.to_degrees(),
                "speed_at_contact_m_s": swing.arc.speed(),
                "angular_speed_rad_s": swing.arc.turn_rate,
                "loft_deg": swing.loft.to_degrees(),
            },
        })
    }
}

fn swing_truth(scenario: &Scenario, index: usize) -> SwingTruth {
    let swing = &scenario.swings[index];
    let y = swing.ball.map_or(swing.arc.low.y, |b| b.at[1]);
    let ball = swing.ball.and_then(|b| show(scenario, V3::new(b.at[0], b.at[1], b.height)));
    let origin = show(scenario, V3::new(swing.origin, y, 0.0)).unwrap_or_default();
    let (before, after) = around(scenario, swing.strike_time, ball.unwrap_or(origin).y);
    SwingTruth {
        kind: if swing.struck { SwingKind::Strike } else { SwingKind::Practice },
        strike_time: swing.strike_time,
        last_frame_before: FrameIndex(before),
        first_frame_after: FrameIndex(after),
        ball,
        origin,
        low_point: swing.arc.low.x - swing.origin,
        low_height: swing.arc.low.z,
        attack_at_ball: swing.arc.attack(swing.arc.angle_at(swing.origin)).to_degrees(),
        contact: contact_truth(scenario, index),
    }
}

/// The last frame exposed wholly before `time` and the first exposed wholly after it, at the
/// picture's row `row`.
fn around(scenario: &Scenario, time: f64, row: f64) -> (usize, usize) {
    let height = scenario.size.height as f64;
    let delay = scenario.readout * (row / (height - 1.0) - 0.5);
    let half = scenario.exposure / 2.0;
    let count = scenario.ticks.len();
    let ended = |i: &usize| scenario.time(*i) + delay + half < time;
    let begun = |i: &usize| scenario.time(*i) + delay - half > time;
    ((0..count).rfind(ended).unwrap_or(0), (0..count).find(begun).unwrap_or(count - 1))
}

fn contact_truth(scenario: &Scenario, index: usize) -> Option<ContactTruth> {
    let swing = &scenario.swings[index];
    let mark = swing.mark.as_ref()?;
    let (seen, contrast) = seen_ends(scenario, index, mark);
    let start_hidden = starts_behind_ball(scenario, swing, mark, contrast);
    Some(ContactTruth {
        time: swing.time_at(swing.arc.angle_at(mark.start)),
        start: mark.start - swing.origin,
        end: mark.end - swing.origin,
        seen: seen.map(|ends| ends.map(|s| s - swing.origin)),
        contrast,
        start_hidden,
    })
}

/// Whether a ball hides where a mark begins: one that stays, if the middle of the mark's width is
/// behind it there; one that is struck, if it lay on a mark so faint that it can't be told from the
/// ground's own pattern, which nobody saw beneath the ball.
fn starts_behind_ball(s: &Scenario, swing: &Swing, mark: &CutMark, contrast: f64) -> bool {
    const FAINT: f64 = 0.12;
    let Some(ball) = swing.ball else { return false };
    if swing.struck {
        let on_it =
            (mark.start - ball.at[0]).abs() < BALL / 2.0 && (mark.middle - ball.at[1]).abs() < 0.03;
        return on_it && contrast.abs() < FAINT;
    }
    let centre = V3::new(ball.at[0], ball.at[1], ball.height);
    let radius = 0.5 * BALL * s.camera.pixels_per_metre(s.world(centre));
    let [near, far] = seen_width(&Ground::of(s), mark);
    [0.25, 0.5, 0.75].iter().all(|share| {
        let edge = V3::new(mark.start, near + (far - near) * share, 0.0);
        show(s, centre).zip(show(s, edge)).is_some_and(|(a, b)| a.distance(b) < radius)
    })
}

/// The least and greatest y between which a mark is seen.
fn seen_width(ground: &Ground, mark: &CutMark) -> [f64; 2] {
    mark.seen_width(if mark.kind == super::MarkKind::Divot { ground.hidden } else { 0.0 })
}

/// Where the mark is seen to begin and end (s, m), and its relative contrast.
fn seen_ends(scenario: &Scenario, index: usize, mark: &CutMark) -> (Option<[f64; 2]>, f64) {
    const STEP: f64 = 0.0005;
    const LINES: usize = 15;
    let ground = Ground::of(scenario);
    let [near, far] = seen_width(&ground, mark);
    let margin = 0.03;
    let count = ((mark.end - mark.start + 2.0 * margin) / STEP) as usize;
    let foot = [1.0 / scenario.camera.pixels_per_metre(V3::zeros()); 2];
    let mut light = 0.0;
    let mut change_at = |s: f64| -> [f64; 3] {
        let mut sum = [0.0; 3];
        for k in 0..LINES {
            let share = 0.25 + 0.5 * (k as f64 + 0.5) / LINES as f64;
            let y = near + (far - near) * share;
            // Contrast is that of the picture's grey levels, as a reader sees it.
            let [b, a] = [index, index + 1]
                .map(|done| ground.colour(s, y, foot, done).map(super::scene::coded_level));
            light += f64::from(b[1]) / (LINES * count) as f64;
            (0..3).for_each(|c| sum[c] += f64::from(a[c] - b[c]) / LINES as f64);
        }
        sum
    };
    let profile: Vec<[f64; 3]> =
        (0..count).map(|i| change_at(mark.start - margin + i as f64 * STEP)).collect();
    let inner = &profile[count * 2 / 5..count * 3 / 5];
    let contrast = inner.iter().map(|p| p[1]).sum::<f64>() / inner.len() as f64 / light.max(1e-6);
    // On patchy ground the same soil is darker than here and brighter than there: what counts is how
    // much the colour changes, not to which side.
    let change: Vec<f64> = profile
        .windows(5)
        .map(|w| [0, 1, 2].map(|c| w.iter().map(|p| p[c]).sum::<f64>() / 5.0))
        .map(|[r, g, b]| r.hypot(g).hypot(b))
        .collect();
    let mut within = change[count / 3..2 * count / 3].to_vec();
    within.sort_by(f64::total_cmp);
    let typical = within[within.len() / 2];
    // Five per cent are what an attentive eye still finds among the ground's own pattern.
    if typical < 0.05 * light {
        return (None, contrast);
    }
    let at = |i: usize| mark.start - margin + (i as f64 + 2.0) * STEP;
    let first = change.iter().position(|&v| v >= 0.5 * typical).map(at);
    let last = change.iter().rposition(|&v| v >= 0.5 * typical).map(at);
    (first.zip(last).map(|(a, b)| [a, b]), contrast)
}

fn contact_json(s: &Scenario, swing: &Swing, contact: &ContactTruth, mark: &CutMark) -> Value {
    let start = V3::new(mark.start, mark.middle, 0.0);
    let end = V3::new(mark.end, mark.middle, 0.0);
    json!({
        "kind": mark.kind.word(),
        "start_time_s": contact.time,
        "start_offset_from_ball_m": contact.start,
        "start_m": list(s.world(start)),
        "start_px": show(s, start),
        "end_m": list(s.world(end)),
        "end_px": show(s, end),
        "end_offset_from_ball_m": contact.end,
        "length_m": mark.end - mark.start,
        "width_m": mark.width,
        "visible_mark": contact.seen.is_some(),
        "start_hidden": contact.start_hidden,
        "contrast": contact.contrast,
        "max_depth_m": -swing.arc.low.z,
        "seen_start_offset_from_ball_m": contact.seen.map(|e| e[0]),
        "seen_end_offset_from_ball_m": contact.seen.map(|e| e[1]),
    })
}

fn path_json(s: &Scenario, index: usize) -> Value {
    let swing = &s.swings[index];
    let (from, to) = (super::motion::top(swing), swing.strike_time + 0.3);
    let frames: Vec<usize> =
        (0..s.ticks.len()).filter(|&i| (from..to).contains(&s.time(i))).collect();
    let edges: Vec<V3> = frames.iter().map(|&i| edge_in(s, i)).collect();
    let dots: Vec<Option<ImagePoint>> = edges.iter().map(|&p| show(s, p)).collect();
    let inside = |p: &Option<ImagePoint>| p.is_some_and(|p| is_inside(s, &p));
    json!({
        "point": "mid point of the leading edge",
        "frames": frames,
        "m": edges.iter().map(|&p| list(s.world(p))).collect::<Vec<_>>(),
        "in_picture": dots.iter().map(inside).collect::<Vec<_>>(),
        "px": dots,
    })
}

fn is_inside(s: &Scenario, p: &ImagePoint) -> bool {
    p.x >= 0.0 && p.y >= 0.0 && p.x < s.size.width as f64 && p.y < s.size.height as f64
}

/// The edge in a frame, when its own row was exposed.
fn edge_in(s: &Scenario, frame: usize) -> V3 {
    let t = s.time(frame);
    let mut edge = pose_at(s, t).edge;
    for _ in 0..if s.readout > 0.0 { 4 } else { 0 } {
        let row = show(s, edge).map_or(0.0, |p| p.y.clamp(0.0, s.size.height as f64 - 1.0));
        let delay = s.readout * (row / (s.size.height as f64 - 1.0) - 0.5);
        edge = pose_at(s, t + delay).edge;
    }
    edge
}

fn thing_json(s: &Scenario, thing: &Thing) -> Vec<Value> {
    let spots = |points: &[V3]| {
        let metres: Vec<_> = points.iter().map(|&p| list(s.world(p))).collect();
        let pixels: Vec<_> = points.iter().map(|&p| show(s, p)).collect();
        (metres, pixels)
    };
    match thing {
        Thing::Sheet { corners, size, turn } => {
            let (m, px) = spots(corners);
            vec![json!({"kind": "sheet", "size_m": size, "rotation_deg": turn.to_degrees(),
                "corners_m": m, "corners_px": px, "height_m": corners[0].z})]
        }
        Thing::Stick { ends, radius } => {
            let (m, px) = spots(ends);
            vec![json!({"kind": "stick", "size_m": [(ends[1] - ends[0]).norm(), 2.0 * radius],
                "rotation_deg": 0.0, "ends_m": m, "ends_px": px, "height_m": ends[0].z})]
        }
        Thing::LinePair { at, reach, width } => at
            .iter()
            .map(|&x| {
                let (m, px) = spots(&reach.map(|y| V3::new(x, y, 0.0)));
                json!({"kind": "chalk_line", "width_m": width, "length_m": reach[1] - reach[0],
                    "axis_m": m, "axis_px": px, "height_m": 0.0})
            })
            .collect(),
    }
}

fn reference(s: &Scenario, thing: &Thing) -> Option<Reference> {
    let mm = |m: f64| Millimetres(1000.0 * m);
    // Only what lies whole in the picture can be marked.
    let see = |p: V3| show(s, p).filter(|p| is_inside(s, p));
    let (kind, height) = match thing {
        Thing::Sheet { corners, size, .. } => {
            let [a, b, c, d] = corners.map(see);
            let kind = ReferenceKind::Sheet { size: size.map(mm), corners: [a?, b?, c?, d?] };
            (kind, corners[0].z)
        }
        Thing::Stick { ends, .. } => {
            let [a, b] = ends.map(see);
            let length = mm((ends[1] - ends[0]).norm());
            (ReferenceKind::Line { length, ends: [a?, b?] }, ends[0].z)
        }
        Thing::LinePair { at, reach, .. } => {
            let line = |x: f64| {
                let [a, b] = reach.map(|y| see(V3::new(x, y, 0.0)));
                Some([a?, b?])
            };
            let lines = [line(at[0])?, line(at[1])?];
            (ReferenceKind::LinePair { distance: mm(at[1] - at[0]), lines }, 0.0)
        }
    };
    Some(Reference {
        kind,
        height: mm(height),
        along_target: false,
        frame: None,
        point_sigma: None,
    })
}

/// Where a point given in golfer's coordinates shows.
fn show(s: &Scenario, p: V3) -> Option<ImagePoint> {
    s.camera.project(s.world(p))
}

fn list(v: V3) -> [f64; 3] {
    [v.x, v.y, v.z]
}

fn rows(m: &nalgebra::Matrix3<f64>) -> [[f64; 3]; 3] {
    [0, 1, 2].map(|r| [m[(r, 0)], m[(r, 1)], m[(r, 2)]])
}

impl Truth {
    /// Where a straight line on the ground along the target line shows, `y` (m) farther from the
    /// camera than the ball: places along it, from 1 m behind the ball to 1 m ahead.
    pub fn seen_along(&self, y: f64) -> Vec<ImagePoint> {
        let at = |i: i32| show(&self.scenario, V3::new(f64::from(i) / 500.0, y, 0.0));
        (-500..=500).filter_map(at).collect()
    }

    /// A frame well before the backswing of a swing, for looking at it.
    pub fn address_frame(&self, swing: usize) -> FrameIndex {
        let start = frame::takeaway_of(&self.scenario, swing) - 0.15;
        let count = self.scenario.ticks.len();
        FrameIndex((0..count).rfind(|&i| self.scenario.time(i) < start).unwrap_or(0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::Condition;

    #[test]
    fn a_ball_that_stays_hides_the_start_behind_it() {
        // Whether the start is hidden, of a mark that begins so far ahead of the ball and beyond it, m.
        let hidden = |ahead: f64, beyond: f64| {
            let mut scenario = Scenario::draw(Condition::PracticeBallLeft, 1);
            let ball = scenario.swings[0].ball.expect("a ball");
            let mark = scenario.swings[0].mark.as_mut().expect("a mark");
            let length = mark.end - mark.start;
            mark.start = ball.at[0] + ahead;
            mark.end = mark.start + length;
            mark.middle = ball.at[1] + beyond;
            Truth::of(&scenario).swings[0].contact.as_ref().expect("contact").start_hidden
        };
        assert!((4..8).any(|cm| hidden(0.0, f64::from(cm) / 100.0)));
        assert!(!hidden(0.0, -0.05), "in front of the ball");
        assert!(!hidden(0.08, 0.05), "beside it");
    }

    #[test]
    fn a_mark_is_seen_to_begin_where_the_soil_does_on_patchy_ground_too() {
        let drawn = (1..=8).map(|seed| Scenario::draw(Condition::DryGround, seed));
        // Where the same soil is darker than one patch and brighter than the next.
        let scenes = drawn.chain([1073, 1078, 1223].map(Scenario::mixed));
        let off: Vec<Option<f64>> = scenes
            .map(|scene| {
                let contact = Truth::of(&scene).swings[0].contact.clone().expect("contact");
                contact.seen.map(|seen| seen[0] - contact.start)
            })
            .collect();
        // The edge is ragged and the soil pale at first, so it is seen to begin some millimetres late.
        let is_near = |off: &Option<f64>| off.is_some_and(|off| (-0.002..0.017).contains(&off));
        assert!(off.iter().all(is_near), "{off:?}");
    }
}
