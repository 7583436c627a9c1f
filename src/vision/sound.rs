//! Clicks on the sound track: short, broadband, with a sharp onset.
//!
//! A click is judged on the first difference of the samples, which lifts the high notes of an
//! impact above voices and wind. Its onset is where the short-time energy first leaves the
//! level before it (energy-ratio picking, as used for first arrivals: Coppens 1985).

use crate::domain::{Seconds, Sound};

/// A click as it is heard, the sound's travel not taken off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Click {
    /// When its onset is heard, on the video's playback clock.
    pub time: Seconds,
    /// Its energy over that of the quiet before it, in decibels.
    pub strength: f64,
    /// Its peak, relative to the loudest click of the track (0..1).
    pub loudness: f64,
}

/// The speed of sound in dry air at 20 °C, metres a second (ISO 9613-1 uses 343.2).
pub const SPEED_OF_SOUND: f64 = 343.2;

/// Energy is looked at in steps of half a millisecond.
const STEP_S: f64 = 0.0005;
/// The quiet that a click is compared with, and how long after a click none is looked for.
const BEFORE_S: f64 = 0.03;
const DEAD_S: f64 = 0.06;
/// A click is this much louder than the quiet before it. Impacts reach 20 dB and more
/// (common practice, no source).
const LEAST_DB: f64 = 10.0;

/// All clicks of a track in order of time, decoys (neighbours, claps) included.
///
/// ```
/// use scuffline::domain::{Seconds, Sound};
///
/// // A second of silence with one impact after 0.6 s.
/// let mut samples = vec![0.0; 48_000];
/// samples[28_800..28_840].fill(0.8);
/// let sound = Sound { rate: 48_000, start: Seconds(0.0), samples };
/// let clicks = scuffline::vision::find_clicks(&sound);
/// assert_eq!(clicks.len(), 1);
/// assert!((clicks[0].time.0 - 0.6).abs() < 0.001);
/// ```
pub fn find_clicks(sound: &Sound) -> Vec<Click> {
    let step = (f64::from(sound.rate) * STEP_S).round() as usize;
    if step == 0 || sound.samples.len() < 200 * step {
        return Vec::new();
    }
    let energy = step_energy(&sound.samples, step);
    let floor = floor_of(&energy);
    let before = (BEFORE_S / STEP_S) as usize;
    let dead = (DEAD_S / STEP_S) as usize;
    let mut clicks = Vec::new();
    let mut i = before;
    while i + 4 < energy.len() {
        let quiet = mean(&energy[i - before..i - 1]).max(floor);
        let burst = mean(&energy[i..i + 4]);
        let ratio = 10.0 * (burst / quiet).log10();
        let rises = energy[i] > 4.0 * quiet;
        if rises && ratio > LEAST_DB && is_short(&energy, i, burst) {
            let peak = energy[i..i + 8.min(energy.len() - i)].iter().copied().fold(0.0, f64::max);
            let onset = onset_sample(&sound.samples, (i - 1) * step, 3 * step, quiet);
            let time = sound.start.0 + onset as f64 / f64::from(sound.rate);
            clicks.push((Seconds(time), ratio, peak.sqrt()));
            i += dead;
        } else {
            i += 1;
        }
    }
    let loudest = clicks.iter().map(|c| c.2).fold(f64::MIN_POSITIVE, f64::max);
    clicks
        .into_iter()
        .map(|(time, strength, peak)| Click { time, strength, loudness: peak / loudest })
        .collect()
}

/// Mean square of the first difference in each step.
fn step_energy(samples: &[f32], step: usize) -> Vec<f64> {
    let difference: Vec<f64> =
        samples.windows(2).map(|w| (f64::from(w[1]) - f64::from(w[0])).powi(2)).collect();
    difference.chunks_exact(step).map(mean).collect()
}

/// The quiet level of the whole track: its lower quartile, and never digital silence.
fn floor_of(energy: &[f64]) -> f64 {
    let mut sorted = energy.to_vec();
    let quarter = sorted.len() / 4;
    sorted.select_nth_unstable_by(quarter, f64::total_cmp).1.max(1e-10)
}

/// An impact has lost most of its energy 60 ms later; speech and engines have not.
fn is_short(energy: &[f64], onset: usize, burst: f64) -> bool {
    let later = (onset + (0.06 / STEP_S) as usize).min(energy.len());
    let end = (onset + (0.09 / STEP_S) as usize).min(energy.len());
    later == end || mean(&energy[later..end]) < 0.25 * burst
}

/// The first sample whose difference stands out of the quiet (4 sigma).
fn onset_sample(samples: &[f32], from: usize, length: usize, quiet: f64) -> usize {
    let limit = 4.0 * quiet.sqrt();
    let end = (from + length).min(samples.len() - 1);
    (from..end)
        .find(|&i| f64::from((samples[i + 1] - samples[i]).abs()) > limit)
        .unwrap_or(from + length / 2)
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A track of hiss with impacts (decaying bursts) and a slow hum.
    fn track(impacts: &[(f64, f32)]) -> Sound {
        let rate = 48_000_u32;
        let mut state = 1_u32;
        let mut noise = move || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / (1 << 23) as f32 - 1.0
        };
        let mut samples: Vec<f32> = (0..96_000)
            .map(|i| 0.002 * noise() + 0.2 * (i as f32 * 0.01).sin() * (i as f32 * 2e-5).sin())
            .collect();
        for &(time, loud) in impacts {
            let start = (time * f64::from(rate)) as usize;
            for i in 0..1500 {
                samples[start + i] += loud * noise() * (-(i as f32) / 200.0).exp();
            }
        }
        Sound { rate, start: Seconds(-0.021), samples }
    }

    #[test]
    fn impacts_are_found_to_half_a_millisecond() {
        let clicks = find_clicks(&track(&[(0.5, 0.5), (1.3, 0.1)]));
        assert_eq!(clicks.len(), 2, "{clicks:?}");
        assert!((clicks[0].time.0 - (0.5 - 0.021)).abs() < 0.0005);
        assert!((clicks[1].time.0 - (1.3 - 0.021)).abs() < 0.0005);
        assert!(clicks[1].loudness < 0.5 && clicks[0].loudness == 1.0);
    }

    #[test]
    fn hum_hiss_and_silence_are_no_clicks() {
        assert!(find_clicks(&track(&[])).is_empty());
        let silence = Sound { rate: 48_000, start: Seconds(0.0), samples: vec![0.0; 48_000] };
        assert!(find_clicks(&silence).is_empty());
        assert!(find_clicks(&Sound::default()).is_empty());
    }
}
