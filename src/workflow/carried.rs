//! A set-up carried over from one recording to the next: where it came from, and whether the
//! camera still sees the same ground.

use crate::domain::{FrameIndex, PictureError, Pictures};
use crate::store::{Library, RecordingId, RecordingRow, Result};
use crate::video::{CancelToken, VideoError};
use crate::vision::{Motion, Steadying};

use super::kept::file_name;
use super::kept_error::KeptError;
use super::measure::MeasureError;
use super::reopen::reopen;

/// A view that lies farther off than this is another one, pixels: as far as a click may lie off
/// (twice its standard uncertainty), so that what was marked in the one recording lies in the other
/// where it might have been marked there.
const SAME_VIEW: f64 = 1.0;

/// The first recording of the session that this one shares its set-up with; `None` where the
/// set-up was made for this one.
///
/// # Errors
/// There is no such recording, or the library can't be read.
pub fn carried_from(library: &Library, recording: RecordingId) -> Result<Option<RecordingRow>> {
    let row = library.recording(recording)?;
    if row.calibration.is_none() {
        return Ok(None);
    }
    let all = library.recordings(row.session)?;
    let first = all.into_iter().find(|other| other.calibration == row.calibration);
    Ok(first.filter(|first| first.id != recording))
}

/// Why a set-up carried over may not fit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ViewDoubt {
    /// The two views were compared and differ; a sentence.
    Differs(String),
    /// They could not be compared; a sentence.
    NotCompared(String),
}

impl ViewDoubt {
    /// What is wrong and what to do.
    pub fn sentence(&self) -> &str {
        let (Self::Differs(sentence) | Self::NotCompared(sentence)) = self;
        sentence
    }
}

/// The way out, in the words of the window's button.
const WHAT_TO_DO: &str = "mark the known size anew, or press \"Set up anew here\" in the window";

/// Why a set-up carried over does not fit what `pictures`, the recording's own, show, or why
/// that is not known; `None` where it fits or was made for this recording.
///
/// # Errors
/// The library or a picture can't be read, or it was stopped.
pub fn view_differs(
    library: &mut Library,
    recording: RecordingId,
    pictures: &mut dyn Pictures,
    cancel: &CancelToken,
) -> std::result::Result<Option<ViewDoubt>, KeptError> {
    let Some(from) = carried_from(library, recording)? else { return Ok(None) };
    let name = file_name(&from.path);
    let mut other = match reopen(library, &from, cancel.clone()) {
        Ok(other) => other,
        Err(VideoError::Cancelled) => return Err(VideoError::Cancelled.into()),
        Err(_) => return Ok(Some(not_compared(&name, "cannot be opened any more"))),
    };
    let read = |error: PictureError| KeptError::from(MeasureError::from(error));
    if other.size() != pictures.size() {
        return Ok(Some(not_compared(&name, "has pictures of another size")));
    }
    let mut steadying = Steadying::new(&mut other).map_err(read)?;
    let here = pictures.gray(FrameIndex(0)).map_err(read)?;
    // Any number but the first frame's: it is not a frame of that recording.
    let motion = steadying.motion_of(FrameIndex(1), &here);
    Ok(sentence(&motion, &name).map(ViewDoubt::Differs))
}

fn not_compared(from: &str, why: &str) -> ViewDoubt {
    ViewDoubt::NotCompared(format!(
        "Whether the camera still stands where it stood in {from}, from which the set-up is carried over, could not be compared, since {from} {why}; look whether the marks lie right here, else {WHAT_TO_DO}."
    ))
}

fn sentence(motion: &Motion, from: &str) -> Option<String> {
    let shift = motion.shift().0;
    match motion.is_trusted {
        true if shift <= SAME_VIEW => None,
        true => Some(format!(
            "The camera stands {shift:.1} pixels off where it stood in {from}, from which the set-up is carried over; {WHAT_TO_DO}."
        )),
        false => Some(format!(
            "This does not look like the ground in {from}, from which the set-up is carried over; {WHAT_TO_DO}."
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{ColourFrame, GrayFrame, PictureSize, Timeline};
    use std::sync::Arc;

    /// Ground texture from a hash of the pixel, seen from a camera moved by `shift`.
    struct Ground {
        shift: [i64; 2],
        seed: u64,
        timeline: Timeline,
    }

    impl Ground {
        fn new(shift: [i64; 2], seed: u64) -> Self {
            let time_base = crate::domain::TimeBase { numerator: 1, denominator: 30 };
            let frames = vec![crate::domain::FrameEntry { pts: crate::domain::Pts(0), key: true }];
            Self { shift, seed, timeline: Timeline { time_base, frames, slow_factor: 1.0 } }
        }

        fn value(&self, x: i64, y: i64) -> f64 {
            let cell = |i: i64, j: i64| {
                let mut h = (i as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15)
                    ^ (j as u64).wrapping_mul(0xC2B2_AE3D_27D4_EB4F)
                    ^ self.seed;
                h ^= h >> 29;
                h = h.wrapping_mul(0xBF58_476D_1CE4_E5B9);
                ((h >> 32) & 0xFF) as f64
            };
            let (i, j) = (x.div_euclid(4), y.div_euclid(4));
            let (u, v) = (x.rem_euclid(4) as f64 / 4.0, y.rem_euclid(4) as f64 / 4.0);
            let row = |j| cell(i, j) * (1.0 - u) + cell(i + 1, j) * u;
            row(j) * (1.0 - v) + row(j + 1) * v
        }
    }

    impl Pictures for Ground {
        fn timeline(&self) -> &Timeline {
            &self.timeline
        }
        fn size(&self) -> PictureSize {
            PictureSize { width: 640, height: 360 }
        }
        fn gray(&mut self, _: FrameIndex) -> std::result::Result<Arc<GrayFrame>, PictureError> {
            let at = |i: i64| self.value(i % 640 + self.shift[0], i / 640 + self.shift[1]) as u8;
            let data = (0..640 * 360).map(at).collect();
            Ok(Arc::new(GrayFrame { width: 640, height: 360, data }))
        }
        fn colour(&mut self, _: FrameIndex) -> std::result::Result<Arc<ColourFrame>, PictureError> {
            Err(PictureError::Cancelled)
        }
    }

    fn said(shift: [i64; 2], seed: u64) -> Option<String> {
        let mut steadying = Steadying::new(&mut Ground::new([0, 0], 1)).unwrap();
        let here = Ground::new(shift, seed).gray(FrameIndex(0)).unwrap();
        sentence(&steadying.motion_of(FrameIndex(1), &here), "one.mp4")
    }

    #[test]
    fn a_view_that_moved_is_told_and_one_that_stayed_is_not() {
        assert_eq!(said([0, 0], 1), None);
        let moved = said([9, 12], 1).expect("15 pixels off");
        assert!(moved.starts_with("The camera stands 15.0 pixels off"), "{moved}");
        // At some 3 mm a pixel this is more than a centimetre for a point that stands in for the
        // ball.
        let nudged = said([3, 2], 1).expect("4 pixels off");
        assert!(nudged.starts_with("The camera stands 3.6 pixels off"), "{nudged}");
        let other = said([0, 0], 2).expect("another ground");
        assert!(other.starts_with("This does not look like"), "{other}");
    }
}
