//! The strip under the picture: which stretch of the recording it shows, its small pictures, and
//! playing.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::domain::{ColourFrame, FrameIndex, Seconds, Timeline};
use crate::video::Envelope;

/// The shortest stretch, in frames.
const CLOSEST: f64 = 8.0;
/// Small pictures held at most.
const MOST_PICTURES: usize = 400;

/// How fast it can be played: parts of real time.
pub const SPEEDS: [f64; 6] = [1.0, 0.5, 0.25, 0.125, 0.0625, 0.03125];

/// What a loop shows before and after the strike, seconds of capture.
const LOOP: (f64, f64) = (1.0, 0.5);

/// The strip of one recording. Times are on the clock of playing.
#[derive(Debug, Default)]
pub struct Strip {
    /// The recording's length, to the end of its last frame.
    all: Seconds,
    /// Between neighbouring frames, as is usual in it.
    spacing: Seconds,
    /// The stretch it shows; `None`: all of the recording.
    span: Option<(Seconds, Seconds)>,
    /// How many small pictures stand side by side.
    pub cells: usize,
    /// Small pictures by the frame they were asked for.
    pub film: BTreeMap<FrameIndex, Arc<ColourFrame>>,
    /// The frames asked for last.
    pub asked: Vec<FrameIndex>,
    /// Least and greatest sample of the sound along the recording.
    pub sound: Option<Arc<Envelope>>,
}

impl Strip {
    /// A strip that shows all of a recording.
    pub fn of(timeline: &Timeline) -> Self {
        // A single frame has no spacing; it still takes up the strip.
        let all = Seconds(timeline.duration().0.max(1e-3));
        Self { all, spacing: timeline.median_spacing(), ..Self::default() }
    }

    /// The stretch it shows.
    pub fn span(&self) -> (Seconds, Seconds) {
        self.span.unwrap_or((Seconds(0.0), self.all))
    }

    /// It shows less than all of the recording.
    pub fn is_zoomed(&self) -> bool {
        self.span.is_some()
    }

    /// Shows a longer (below 1) or shorter (above 1) stretch; `about` stays where it is.
    pub fn zoom(&mut self, about: Seconds, factor: f64) {
        if !(factor.is_finite() && factor > 0.0 && about.is_finite()) {
            return;
        }
        let (from, to) = self.span();
        let length = Seconds(((to - from).0 / factor).max((self.spacing * CLOSEST).0));
        if length >= self.all {
            self.span = None;
            return;
        }
        let part = ((about - from).0 / (to - from).0).clamp(0.0, 1.0);
        self.place(about - length * part, length);
    }

    /// Shows what lies `by` later.
    pub fn slide(&mut self, by: Seconds) {
        if let Some((from, to)) = self.span.filter(|_| by.is_finite()) {
            self.place(from + by, to - from);
        }
    }

    /// Moves the stretch so that `time` is in it.
    pub fn follow(&mut self, time: Seconds) {
        let Some((from, to)) = self.span else { return };
        if time < from || time > to {
            let length = to - from;
            self.place(time - length / 2.0, length);
        }
    }

    fn place(&mut self, from: Seconds, length: Seconds) {
        let from = Seconds(from.0.clamp(0.0, (self.all - length).0.max(0.0)));
        self.span = Some((from, from + length));
    }

    /// The frame of each cell: the one in its middle.
    pub fn cell_frames(&self, timeline: &Timeline) -> Vec<FrameIndex> {
        let (from, to) = self.span();
        let middle = |i: usize| from + (to - from) * ((i as f64 + 0.5) / self.cells as f64);
        (0..self.cells).map(|i| timeline.frame_at(middle(i))).collect()
    }

    /// The recording's length.
    pub fn length(&self) -> Seconds {
        self.all
    }

    /// When the last frame begins.
    pub fn end(&self) -> Seconds {
        self.all - self.spacing
    }

    /// Frames in half a cell: how far a small picture may lie from its place.
    pub fn tolerance(&self) -> usize {
        let (from, to) = self.span();
        let frames = (to - from).0 / self.spacing.0.max(1e-9);
        (frames / self.cells.max(1) as f64 / 2.0) as usize
    }

    /// Takes a small picture; those farthest from what is shown give way.
    pub fn take(&mut self, timeline: &Timeline, frame: FrameIndex, picture: Arc<ColourFrame>) {
        self.film.insert(frame, picture);
        while self.film.len() > MOST_PICTURES {
            let (from, to) = self.span();
            let middle = timeline.frame_at((from + to) / 2.0).0;
            let farthest = self.film.keys().max_by_key(|frame| frame.0.abs_diff(middle)).copied();
            farthest.map(|frame| self.film.remove(&frame));
        }
    }

    /// The small picture nearest to `frame`, not farther than `within`.
    pub fn near(&self, frame: FrameIndex, within: usize) -> Option<&Arc<ColourFrame>> {
        let low = FrameIndex(frame.0.saturating_sub(within));
        let high = FrameIndex(frame.0.saturating_add(within));
        let near = self.film.range(low..=high).min_by_key(|(at, _)| at.0.abs_diff(frame.0));
        near.map(|(_, picture)| picture)
    }
}

/// Playing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Play {
    /// It is playing.
    pub running: bool,
    /// Parts of real time; see [`SPEEDS`].
    pub speed: f64,
    /// Around the strike, again and again.
    pub looped: bool,
    /// Where it is, on the clock of playing.
    pub at: Seconds,
}

impl Default for Play {
    fn default() -> Self {
        Self { running: false, speed: 0.125, looped: true, at: Seconds(0.0) }
    }
}

impl Play {
    /// The stretch that is played, the last frame at `end`: around the strike if it is looped
    /// and there is one.
    pub fn stretch(
        &self,
        end: Seconds,
        slow_factor: f64,
        strike: Option<Seconds>,
    ) -> (Seconds, Seconds) {
        match strike.filter(|_| self.looped) {
            Some(strike) => {
                let (before, after) = (LOOP.0 * slow_factor, LOOP.1 * slow_factor);
                let from = Seconds((strike.0 - before).max(0.0));
                (from, Seconds((strike.0 + after).min(end.0).max(from.0)))
            }
            None => (Seconds(0.0), end),
        }
    }

    /// Goes on by `passed` seconds of real time within `stretch`; stops at its end unless looped.
    pub fn advance(&mut self, passed: f64, slow_factor: f64, stretch: (Seconds, Seconds)) {
        // A window that was hidden does not leap.
        let passed = if passed.is_finite() { passed.clamp(0.0, 0.25) } else { 0.0 };
        self.at = self.at + Seconds(passed * self.speed * slow_factor);
        if self.at > stretch.1 {
            self.running = self.looped;
            self.at = if self.looped { stretch.0 } else { stretch.1 };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{FrameEntry, Pts, TimeBase};

    fn timeline() -> Timeline {
        let frames = (0..1000).map(|i| FrameEntry { pts: Pts(i), key: i % 100 == 0 }).collect();
        let time_base = TimeBase { numerator: 1, denominator: 100 };
        Timeline { time_base, frames, slow_factor: 1.0 }
    }

    fn close(a: Seconds, b: f64) -> bool {
        (a.0 - b).abs() < 1e-9
    }

    #[test]
    fn zooming_keeps_the_time_under_the_pointer() {
        let mut strip = Strip::of(&timeline());
        let part = |strip: &Strip, time: f64| {
            let (from, to) = strip.span();
            (time - from.0) / (to - from).0
        };
        let before = part(&strip, 7.0);
        strip.zoom(Seconds(7.0), 4.0);
        assert!((part(&strip, 7.0) - before).abs() < 1e-9);
        let (from, to) = strip.span();
        assert!(close(to - from, 2.5));
        // As close as eight frames, and out again to all of it.
        strip.zoom(Seconds(7.0), 1e6);
        let (from, to) = strip.span();
        assert!(close(to - from, 0.08) && from.0 <= 7.0 && to.0 >= 7.0);
        strip.zoom(Seconds(7.0), 1e-9);
        assert!(!strip.is_zoomed());
        strip.zoom(Seconds(f64::NAN), 2.0);
        strip.zoom(Seconds(1.0), f64::NAN);
        assert!(!strip.is_zoomed());
    }

    #[test]
    fn the_stretch_stays_within_the_recording_and_follows_the_frame() {
        let mut strip = Strip::of(&timeline());
        strip.zoom(Seconds(0.0), 10.0);
        strip.slide(Seconds(-5.0));
        assert!(close(strip.span().0, 0.0) && close(strip.span().1, 1.0));
        strip.slide(Seconds(100.0));
        assert!(close(strip.span().0, 9.0) && close(strip.span().1, 10.0));
        strip.follow(Seconds(5.0));
        assert!(close(strip.span().0, 4.5));
        strip.follow(Seconds(5.4));
        assert!(close(strip.span().0, 4.5), "what is seen does not move");
    }

    #[test]
    fn cells_name_the_frame_in_their_middle() {
        let mut strip = Strip { cells: 4, ..Strip::of(&timeline()) };
        let numbers = |strip: &Strip| {
            strip.cell_frames(&timeline()).iter().map(|frame| frame.0).collect::<Vec<_>>()
        };
        assert_eq!(numbers(&strip), [125, 375, 625, 875]);
        assert_eq!(strip.tolerance(), 125);
        strip.zoom(Seconds(0.0), 100.0);
        assert_eq!(numbers(&strip), [1, 3, 6, 8]);
        assert_eq!(strip.tolerance(), 1);
    }

    #[test]
    fn small_pictures_are_bounded_and_the_far_ones_go() {
        let mut strip = Strip::of(&timeline());
        let picture = Arc::new(ColourFrame { width: 1, height: 1, data: vec![0; 4] });
        for frame in 0..1000 {
            strip.take(&timeline(), FrameIndex(frame), picture.clone());
        }
        assert_eq!(strip.film.len(), MOST_PICTURES);
        assert!(strip.near(FrameIndex(500), 0).is_some());
        assert!(strip.near(FrameIndex(0), 3).is_none());
    }

    #[test]
    fn a_loop_goes_around_the_strike_in_time_of_capture() {
        let play = Play { running: true, ..Play::default() };
        let (from, to) = play.stretch(Seconds(80.0), 8.0, Some(Seconds(40.0)));
        assert!(close(from, 32.0) && close(to, 44.0));
        let mut play = Play { at: Seconds(43.9), speed: 0.5, ..play };
        // A fifth of a second at half speed is 0.1 s of capture, 0.8 s of an eightfold file.
        play.advance(0.2, 8.0, (from, to));
        assert!(close(play.at, 32.0) && play.running);
        play.advance(0.2, 8.0, (from, to));
        assert!(close(play.at, 32.8));
        let mut once = Play { looped: false, at: Seconds(79.9), ..play };
        once.advance(0.2, 8.0, once.stretch(Seconds(80.0), 8.0, Some(Seconds(40.0))));
        assert!(close(once.at, 80.0) && !once.running);
    }
}
