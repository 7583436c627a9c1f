//! One swing, as the window knows it.

use std::sync::Arc;

use crate::domain::{
    Club, ColourFrame, FoundSwing, FrameIndex, ImagePoint, Reviewable, SwingKind, SwingMarks,
    SwingResult,
};
use crate::store::{RecordingId, SwingId};

/// A small look at a swing's ground.
#[derive(Clone, Debug, PartialEq)]
pub struct Glance {
    /// The middle of what is seen, and its width in pixels of the recording.
    pub about: (ImagePoint, f64),
    /// `None` while it is on its way.
    pub picture: Option<Arc<ColourFrame>>,
}

impl Glance {
    /// Its pixels for one of the recording, where it is so many wide.
    pub fn scale(&self, width: usize) -> f64 {
        width as f64 / self.about.1
    }

    /// Where a point of the recording lies in it, pixels from its top left.
    pub fn place(&self, point: ImagePoint, picture: &ColourFrame) -> [f64; 2] {
        let ((middle, _), scale) = (self.about, self.scale(picture.width));
        let [width, height] = [picture.width, picture.height].map(|n| n as f64);
        [width / 2.0 + (point.x - middle.x) * scale, height / 2.0 + (point.y - middle.y) * scale]
    }
}

/// One swing of the session.
#[derive(Clone, Debug, PartialEq)]
pub struct Swing {
    /// In the library.
    pub id: SwingId,
    /// Its recording; an invented swing, or one written down, has none.
    pub recording: Option<RecordingId>,
    /// Strike or practice swing.
    pub kind: SwingKind,
    /// The club.
    pub club: Option<Club>,
    /// Where the golfer's divot should start with this club, mm ahead of the ball; `None`:
    /// there is nothing to aim for.
    pub aim: Option<[f64; 2]>,
    /// Marks made by a person.
    pub marks: SwingMarks,
    /// What the program proposed.
    pub found: Option<Arc<FoundSwing>>,
    /// What was measured.
    pub result: Option<Arc<SwingResult>>,
    /// What a person has accepted as it stands.
    pub confirmed: Vec<Reviewable>,
    /// Not counted.
    pub left_out: bool,
    /// Its numbers are invented.
    pub invented: bool,
}

impl Swing {
    /// What is still to be looked at.
    pub fn doubtful(&self) -> Vec<Reviewable> {
        let needed = self.result.as_ref().map(|r| r.needs_review.clone()).unwrap_or_default();
        needed.into_iter().filter(|what| !self.confirmed.contains(what)).collect()
    }

    /// Nothing is left to be looked at.
    pub fn is_settled(&self) -> bool {
        self.left_out || (self.result.is_some() && self.doubtful().is_empty())
    }

    /// The last frame before contact: measured, else found.
    pub fn strike_frame(&self) -> Option<FrameIndex> {
        let measured = self.result.as_ref().and_then(|result| result.strike_frame);
        measured.or(self.found.as_ref().map(|found| found.strike_frame))
    }

    /// The ball's place in the picture.
    pub fn ball_point(&self) -> Option<ImagePoint> {
        let found = || Some(self.found.as_ref()?.ball?.value.centre);
        self.result.as_ref().and_then(|result| result.ball).or_else(found)
    }
}
