//! When pictures were taken, where film repeats some of them or its rate changes.
//!
//! Film of 24, 25 or 30 pictures a second that was brought to 50 or 60 by an editor, a messenger
//! or a recorder of screens shows some of its pictures twice or more. Those copies say nothing
//! about what moves: the time between pictures is that between the first showings.

/// The pictures of a recording, copies left out: frame and capture time of the first showing, in
/// order.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Pace {
    shown: Vec<(usize, f64)>,
}

/// The usual time between pictures is that of so many seconds either side: the part of a swing in
/// which everything moves.
const ABOUT_S: f64 = 0.25;

impl Pace {
    /// Pictures that were taken at even times, none of them twice.
    #[cfg(test)]
    pub fn even(spacing: f64, pictures: usize) -> Self {
        Self { shown: (0..pictures).map(|i| (i, i as f64 * spacing)).collect() }
    }

    /// The next picture is first shown in `frame`, at `time`.
    pub fn push(&mut self, frame: usize, time: f64) {
        self.shown.push((frame, time));
    }

    /// The number, among all pictures, of the one that is shown in `frame`.
    pub fn picture_in(&self, frame: usize) -> usize {
        self.shown.partition_point(|s| s.0 <= frame).saturating_sub(1)
    }

    /// The frame shows a picture that an earlier one showed.
    pub fn is_copy(&self, frame: usize) -> bool {
        self.first_frame(self.picture_in(frame)) != Some(frame)
    }

    /// In which frame picture `number` is first shown; `None` if there are not so many.
    pub fn first_frame(&self, number: usize) -> Option<usize> {
        self.shown.get(number).map(|s| s.0)
    }

    /// The usual time between pictures about `time`: that in which half of the time passes, so
    /// that where pictures come in bursts the gaps between those count.
    pub fn spacing_at(&self, time: f64) -> f64 {
        let from = self.shown.partition_point(|s| s.1 < time - ABOUT_S).saturating_sub(1);
        let to = self.shown.partition_point(|s| s.1 <= time + ABOUT_S) + 1;
        let near = &self.shown[from..to.min(self.shown.len())];
        let mut gaps: Vec<f64> = near.windows(2).map(|pair| pair[1].1 - pair[0].1).collect();
        gaps.sort_by(f64::total_cmp);
        let half = gaps.iter().sum::<f64>() / 2.0;
        let mut passed = 0.0;
        let reaches_half = |gap: &&f64| {
            passed += **gap;
            passed >= half
        };
        gaps.iter().find(reaches_half).copied().unwrap_or(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn copies_do_not_shorten_the_time_between_pictures() {
        // 24 pictures a second in 60 frames: each is shown two or three times.
        let mut pace = Pace::default();
        for i in 0..48 {
            let frame = (i * 60_usize).div_ceil(24);
            pace.push(frame, frame as f64 / 60.0);
        }
        assert!((pace.spacing_at(1.0) - 1.0 / 24.0).abs() < 0.01, "{}", pace.spacing_at(1.0));
        let at = pace.picture_in(31);
        assert_eq!((pace.first_frame(at), pace.first_frame(at + 1)), (Some(30), Some(33)));
    }

    #[test]
    fn each_part_of_a_film_has_its_own_rate() {
        let mut pace = Pace::even(1.0 / 30.0, 60);
        (0..240).for_each(|i| pace.push(60 + i, 2.0 + i as f64 / 120.0));
        assert!((pace.spacing_at(1.0) - 1.0 / 30.0).abs() < 1e-9);
        assert!((pace.spacing_at(3.0) - 1.0 / 120.0).abs() < 1e-9);
        assert_eq!(Pace::default().spacing_at(0.0), 0.0);
    }

    #[test]
    fn between_bursts_the_gaps_count() {
        // Of 8 frames at 120 a second, 4 are lost in one piece.
        let mut pace = Pace::default();
        for frame in (0..240).filter(|frame| frame % 8 < 4) {
            pace.push(frame, frame as f64 / 120.0);
        }
        assert!((pace.spacing_at(1.0) - 5.0 / 120.0).abs() < 1e-9);
    }
}
