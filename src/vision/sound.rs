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
    let mut finder = ClickFinder::default();
    finder.take(sound);
    finder.finish()
}

/// Finds the clicks of a track that comes in blocks: of a long one only the energy and the
/// samples about what may be a click are held.
#[derive(Default)]
pub struct ClickFinder {
    rate: u32,
    start: Seconds,
    /// Samples in a step.
    step: usize,
    /// Mean square of the first difference in each step so far.
    energy: Vec<f64>,
    /// Of the step at hand: the sum of squares, and how many are in it.
    sum: f64,
    summed: usize,
    /// The newest samples, and how many came before them.
    recent: Vec<f32>,
    before: usize,
    /// The samples about each step that may be a click, ascending.
    likely: Vec<(usize, Vec<f32>)>,
}

impl ClickFinder {
    /// Goes on with the next block; the first one sets the start.
    pub fn take(&mut self, block: &Sound) {
        if self.step == 0 {
            (self.rate, self.start) = (block.rate, block.start);
            self.step = (f64::from(block.rate) * STEP_S).round() as usize;
            if self.step == 0 {
                return;
            }
        }
        // The difference to the block before is taken, too.
        let from = self.recent.len().max(1);
        self.recent.extend_from_slice(&block.samples);
        for i in from..self.recent.len() {
            let difference = f64::from(self.recent[i]) - f64::from(self.recent[i - 1]);
            self.sum += difference.powi(2);
            self.summed += 1;
            if self.summed == self.step {
                self.energy.push(self.sum / self.step as f64);
                (self.sum, self.summed) = (0.0, 0);
                self.note_likely();
            }
        }
        let kept = 6 * self.step;
        let gone = self.recent.len().saturating_sub(kept);
        self.recent.drain(..gone);
        self.before += gone;
    }

    /// Keeps the samples about the step four back if it may be the onset of a click. The quiet of
    /// the whole track, not known yet, can only make it less of one.
    fn note_likely(&mut self) {
        let Some(i) = self.energy.len().checked_sub(4).filter(|i| *i >= steps(BEFORE_S)) else {
            return;
        };
        if self.rise(i, QUIETEST).is_some() {
            let from = (i - 1) * self.step - self.before;
            self.likely.push((i, self.recent[from..=from + 3 * self.step].to_vec()));
        }
    }

    /// The quiet before step `i`, the energy of what begins there and the ratio of the two, in
    /// decibels, if it rises as a click does.
    fn rise(&self, i: usize, floor: f64) -> Option<(f64, f64, f64)> {
        let quiet = mean(&self.energy[i - steps(BEFORE_S)..i - 1]).max(floor);
        let burst = mean(&self.energy[i..i + 4]);
        let ratio = 10.0 * (burst / quiet).log10();
        (self.energy[i] > 4.0 * quiet && ratio > LEAST_DB).then_some((quiet, burst, ratio))
    }

    /// All clicks, in order of time.
    pub fn finish(self) -> Vec<Click> {
        if self.step == 0 || self.before + self.recent.len() < 200 * self.step {
            return Vec::new();
        }
        let energy = &self.energy;
        let floor = floor_of(energy);
        let mut clicks = Vec::new();
        let mut next = 0;
        for (i, samples) in &self.likely {
            if *i < next || i + 4 >= energy.len() {
                continue;
            }
            let Some((quiet, burst, ratio)) = self.rise(*i, floor) else { continue };
            if is_short(energy, *i, burst) {
                let peak = energy[*i..*i + 8.min(energy.len() - i)].iter().copied();
                let onset = (i - 1) * self.step + onset_sample(samples, quiet);
                let time = self.start.0 + onset as f64 / f64::from(self.rate);
                clicks.push((Seconds(time), ratio, peak.fold(0.0, f64::max).sqrt()));
                next = i + steps(DEAD_S);
            }
        }
        let loudest = clicks.iter().map(|c| c.2).fold(f64::MIN_POSITIVE, f64::max);
        clicks
            .into_iter()
            .map(|(time, strength, peak)| Click { time, strength, loudness: peak / loudest })
            .collect()
    }
}

/// So many steps of energy in a time.
fn steps(seconds: f64) -> usize {
    (seconds / STEP_S) as usize
}

/// Below this it is digital silence: no room is that quiet.
const QUIETEST: f64 = 1e-10;

/// The quiet level of the whole track: its lower quartile, and never digital silence.
fn floor_of(energy: &[f64]) -> f64 {
    let mut sorted = energy.to_vec();
    let quarter = sorted.len() / 4;
    sorted.select_nth_unstable_by(quarter, f64::total_cmp).1.max(QUIETEST)
}

/// An impact has lost most of its energy 60 ms later; speech and engines have not.
fn is_short(energy: &[f64], onset: usize, burst: f64) -> bool {
    let later = (onset + (0.06 / STEP_S) as usize).min(energy.len());
    let end = (onset + (0.09 / STEP_S) as usize).min(energy.len());
    later == end || mean(&energy[later..end]) < 0.25 * burst
}

/// The first sample whose difference stands out of the quiet (4 sigma); the middle if none does.
fn onset_sample(samples: &[f32], quiet: f64) -> usize {
    let limit = 4.0 * quiet.sqrt();
    let differences = samples.windows(2).map(|w| f64::from((w[1] - w[0]).abs()));
    differences.clone().position(|d| d > limit).unwrap_or(differences.len() / 2)
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
    fn a_track_in_blocks_has_the_clicks_of_the_whole() {
        let whole = track(&[(0.5, 0.5), (0.51, 0.9), (1.3, 0.1), (1.9, 0.3)]);
        for length in [1, 23, 1000, 48_000] {
            let mut finder = ClickFinder::default();
            for samples in whole.samples.chunks(length) {
                finder.take(&Sound { samples: samples.to_vec(), ..whole });
            }
            assert_eq!(finder.finish(), find_clicks(&whole), "{length}");
        }
    }

    #[test]
    fn hum_hiss_and_silence_are_no_clicks() {
        assert!(find_clicks(&track(&[])).is_empty());
        let silence = Sound { rate: 48_000, start: Seconds(0.0), samples: vec![0.0; 48_000] };
        assert!(find_clicks(&silence).is_empty());
        assert!(find_clicks(&Sound::default()).is_empty());
    }
}
