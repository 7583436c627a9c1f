//! Film that an editor or a messenger slowed down without a note of it in the file.
//!
//! Played as it stands such film shows no swing, or at most part of one in passing: nothing turns
//! fast enough. It is told from film
//! without a swing by what only a strike does: a ball that lies at the foot of a turning club is
//! gone from one picture to the next. Lengths are not touched by how fast it is taken to play;
//! all times are.

use std::sync::Arc;

use crate::domain::{
    ColourFrame, FoundSwing, FrameIndex, GrayFrame, PictureError, PictureSize, Pictures, SwingKind,
    Timeline,
};
use crate::vision::{Hints, find_swings};

use super::progress::Progress;

/// How many times slower it is taken to play, in the order tried. A full swing, 20 to 35 radians
/// a second, is seen as one by the first if it was slowed 5 to 12 times, by the second from 2.5 on;
/// slowed less it is found as it plays.
const FACTORS: [f64; 2] = [8.0, 4.0];
/// What is found so is no surer: a person looks at it.
const SUREST: f64 = 0.7;

/// A recording's pictures as if it played so many times slower than it was captured.
struct Slowed<'a> {
    pictures: &'a mut dyn Pictures,
    timeline: Timeline,
}

impl Pictures for Slowed<'_> {
    fn timeline(&self) -> &Timeline {
        &self.timeline
    }

    fn size(&self) -> PictureSize {
        self.pictures.size()
    }

    fn gray(&mut self, frame: FrameIndex) -> Result<Arc<GrayFrame>, PictureError> {
        self.pictures.gray(frame)
    }

    fn colour(&mut self, frame: FrameIndex) -> Result<Arc<ColourFrame>, PictureError> {
        self.pictures.colour(frame)
    }

    fn for_each_gray(
        &mut self,
        from: FrameIndex,
        to: FrameIndex,
        each: &mut dyn FnMut(FrameIndex, &GrayFrame) -> bool,
    ) -> Result<(), PictureError> {
        self.pictures.for_each_gray(from, to, each)
    }
}

/// The swings of a recording that shows none for sure as it plays, and how many times slower it was then
/// taken to play; `None`: it shows none at any speed, or says itself how fast it plays.
///
/// # Errors
/// The work was stopped, or a picture can't be read.
pub(super) fn find_slowed(
    pictures: &mut dyn Pictures,
    hints: &Hints,
    progress: &mut Progress,
) -> Result<Option<(f64, Vec<FoundSwing>)>, PictureError> {
    let timeline = pictures.timeline().clone();
    if timeline.slow_factor != 1.0 || hints.only_given {
        return Ok(None);
    }
    let hints = Hints { is_speed_guessed: true, ..hints.clone() };
    for factor in FACTORS {
        let timeline = Timeline { slow_factor: factor, ..timeline.clone() };
        let mut slowed = Slowed { pictures: &mut *pictures, timeline };
        let mut found = find_swings(&mut slowed, None, &hints, &mut |step| {
            progress.search_for("Looking for slowed-down swings", step)
        })?;
        if found.iter().any(|swing| swing.kind.value == SwingKind::Strike) {
            found.iter_mut().for_each(put_before_a_person);
            return Ok(Some((factor, found)));
        }
    }
    Ok(None)
}

fn put_before_a_person(swing: &mut FoundSwing) {
    for sure in [&mut swing.kind.confidence, &mut swing.strike_time.confidence] {
        *sure = sure.min(SUREST);
    }
}
