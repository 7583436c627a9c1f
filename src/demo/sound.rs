//! What a scene sounds like.

use super::noise::{hash, unit};
use super::scenario::Scenario;
use crate::domain::{Seconds, Sound};

/// Samples a second.
const RATE: u32 = 48_000;
/// m/s at 20 °C in dry air (ISO 9613-1: 343.2).
pub(super) const SPEED_OF_SOUND: f64 = 343.0;

/// The sound track; `None` where the recording has none.
pub(super) fn sound_of(scenario: &Scenario) -> Option<Sound> {
    let scape = scenario.sound.as_ref()?;
    let end = scenario.time(scenario.ticks.len() - 1) + 1.0 / scenario.rate;
    let count = (end * f64::from(RATE)) as usize;
    let mut samples: Vec<f32> = (0..count).map(|i| scape.hiss * white(i, scenario.seed)).collect();
    let delay = scape.lag + distance(scenario) / SPEED_OF_SOUND;
    for (i, swing) in scenario.swings.iter().enumerate() {
        let seed = scenario.seed ^ (900 + i as u32);
        if swing.struck {
            // Irons ring around 3 to 5 kHz; a driver lower (own choice, within the trade's words).
            let pitch = if swing.loft < 0.3 { 2600.0 } else { 3900.0 };
            let click = Burst { level: 0.7, decay: 0.004, pitch, dull: false };
            click.add(&mut samples, swing.strike_time + delay, seed);
        }
        if let Some(phi) = swing.arc.entry().filter(|_| swing.mark.is_some()) {
            let level = if swing.struck { 0.18 } else { 0.12 };
            let thud = Burst { level, decay: 0.012, pitch: 170.0, dull: true };
            thud.add(&mut samples, swing.time_at(phi) + delay, seed ^ 5);
        }
    }
    for (i, &(time, level)) in scape.neighbours.iter().enumerate() {
        let seed = scenario.seed ^ (700 + i as u32);
        let pitch = 3000.0 + 300.0 * f64::from(seed % 5);
        Burst { level, decay: 0.004, pitch, dull: false }.add(&mut samples, time, seed);
    }
    samples.iter_mut().for_each(|s| *s = s.clamp(-1.0, 1.0));
    Some(Sound { rate: RATE, start: Seconds(0.0), samples })
}

/// From the camera to the first ball, m.
pub(super) fn distance(scenario: &Scenario) -> f64 {
    scenario.camera.centre.norm()
}

/// A short burst of noise with a ring.
struct Burst {
    level: f32,
    /// Seconds.
    decay: f64,
    /// Of the ring, Hz.
    pitch: f64,
    /// Its noise is as dull as turf that is met by a club, not broadband as a struck ball's click.
    dull: bool,
}

/// Noise of a dull burst fades above this, Hz: club and turf are soft, ball and club are hard.
const DULL: f64 = 500.0;

impl Burst {
    /// Adds the burst, beginning at `time`.
    fn add(&self, samples: &mut [f32], time: f64, seed: u32) {
        let rate = f64::from(RATE);
        let first = (time * rate).ceil().max(0.0) as usize;
        let last = samples.len().min(first + (9.0 * self.decay * rate) as usize);
        let share =
            if self.dull { 1.0 - (-std::f64::consts::TAU * DULL / rate).exp() } else { 1.0 };
        // So much a smoothing by `share` takes off white noise.
        let gain = ((2.0 - share) / share).sqrt();
        let mut noise = 0.0;
        for (i, sample) in samples.iter_mut().enumerate().take(last).skip(first) {
            let t = i as f64 / rate - time;
            let ring = (std::f64::consts::TAU * self.pitch * t).sin() as f32;
            let fall = (-t / self.decay).exp() as f32;
            noise += share * (f64::from(white(i, seed)) - noise);
            *sample += self.level * fall * (0.55 * ring + 0.45 * (gain * noise) as f32);
        }
    }
}

fn white(i: usize, seed: u32) -> f32 {
    2.0 * unit(i as i32, hash(7, 7, seed) as i32, seed) - 1.0
}
