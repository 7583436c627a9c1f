//! The frames of a recording and when each is shown.

use serde::{Deserialize, Serialize};

use super::{FrameIndex, Pts, Seconds, TimeBase};

/// One displayed frame: its own time stamp, and whether decoding can start at it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FrameEntry {
    /// When it is shown, in ticks of the timeline's time base.
    pub pts: Pts,
    /// A decoder can start here.
    pub key: bool,
}

/// All displayed frames of a recording in presentation order.
///
/// Frames hidden by an edit list are not in it. Times are differences of ticks; a
/// frame number divided by a rate is never a time, since rates vary.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Timeline {
    /// The length of a tick.
    pub time_base: TimeBase,
    /// In presentation order; never empty in a timeline that `video` built.
    pub frames: Vec<FrameEntry>,
    /// How many seconds of play one second of capture became (1 for most files; 8 for
    /// 240 fps written to play at 30). Speeds divide by the *capture* time.
    pub slow_factor: f64,
}

impl Timeline {
    /// The number of frames.
    pub fn len(&self) -> usize {
        self.frames.len()
    }

    /// No frame at all.
    pub fn is_empty(&self) -> bool {
        self.frames.is_empty()
    }

    /// When `frame` is shown, on the playback clock, counted from the first frame.
    ///
    /// # Panics
    /// If `frame` is not in the recording.
    pub fn time_of(&self, frame: FrameIndex) -> Seconds {
        self.time_base.between(self.frames[0].pts, self.frames[frame.0].pts)
    }

    /// The last frame shown at or before `time`; the first frame for earlier times.
    pub fn frame_at(&self, time: Seconds) -> FrameIndex {
        let after = self.frames.partition_point(|entry| {
            self.time_base.between(self.frames[0].pts, entry.pts).0 <= time.0
        });
        FrameIndex(after.saturating_sub(1))
    }

    /// The frame whose time is nearest to `time`.
    pub fn nearest_frame(&self, time: Seconds) -> FrameIndex {
        let before = self.frame_at(time);
        let next = FrameIndex((before.0 + 1).min(self.len() - 1));
        let gap = |frame| (self.time_of(frame) - time).abs();
        if gap(next) < gap(before) { next } else { before }
    }

    /// From the first frame to the end of the last one, whose length is taken to be the
    /// median frame spacing.
    pub fn duration(&self) -> Seconds {
        match self.len() {
            0 => Seconds(0.0),
            n => self.time_of(FrameIndex(n - 1)) + self.median_spacing(),
        }
    }

    /// The median time between neighbouring frames; zero for a single frame.
    pub fn median_spacing(&self) -> Seconds {
        let mut gaps: Vec<f64> = self
            .frames
            .windows(2)
            .map(|pair| self.time_base.between(pair[0].pts, pair[1].pts).0)
            .collect();
        if gaps.is_empty() {
            return Seconds(0.0);
        }
        gaps.sort_by(f64::total_cmp);
        Seconds(gaps[gaps.len() / 2])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn timeline(pts: &[i64]) -> Timeline {
        Timeline {
            time_base: TimeBase { numerator: 1, denominator: 1000 },
            frames: pts.iter().map(|&p| FrameEntry { pts: Pts(p), key: false }).collect(),
            slow_factor: 1.0,
        }
    }

    #[test]
    fn time_starts_at_the_first_displayed_frame() {
        let t = timeline(&[-40, 0, 50, 90]);
        assert_eq!(t.time_of(FrameIndex(0)), Seconds(0.0));
        assert_eq!(t.time_of(FrameIndex(3)), Seconds(0.13));
        assert_eq!(t.duration(), Seconds(0.17));
    }

    #[test]
    fn lookup_follows_uneven_times() {
        let t = timeline(&[0, 40, 200, 210]);
        assert_eq!(t.frame_at(Seconds(-1.0)), FrameIndex(0));
        assert_eq!(t.frame_at(Seconds(0.199)), FrameIndex(1));
        assert_eq!(t.nearest_frame(Seconds(0.199)), FrameIndex(2));
        assert_eq!(t.frame_at(Seconds(9.0)), FrameIndex(3));
    }
}
