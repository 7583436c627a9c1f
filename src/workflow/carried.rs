//! A set-up carried over from one recording to the next: where it came from, and whether the
//! camera still sees the same ground.

use crate::domain::{
    FrameIndex, PictureError, PictureSize, Pictures, Reviewable, Setup, SwingResult, Warning,
};
use crate::store::{
    CalibrationId, Library, Of, RecordingId, RecordingRow, Result, Scope, SessionId,
};
use crate::video::{CancelToken, VideoError};
use crate::vision::{Motion, Steadying};

use super::evaluate::SwingInput;
use super::kept::{file_name, inputs_of};
use super::kept_error::KeptError;
use super::measure::{MeasureError, look_for_references};
use super::reopen::reopen;

/// A view that lies farther off than this is another one, pixels: as far as a click may lie off
/// (twice its standard uncertainty), so that what was marked in the one recording lies in the other
/// where it might have been marked there.
const SAME_VIEW: f64 = 1.0;
/// From here on the scale is another, as a share of the picture's height: the ground's scale changes
/// by some 1.5 % over that many rows where a phone looks down by 15 to 25 degrees.
const FAR: f64 = 0.01;

/// The first recording of the session that this one shares its set-up with; `None` where the
/// set-up was made for this one.
///
/// # Errors
/// There is no such recording, or the library can't be read.
pub fn carried_from(library: &Library, recording: RecordingId) -> Result<Option<RecordingRow>> {
    let row = library.recording(recording)?;
    let Some(calibration) = row.calibration else { return Ok(None) };
    let first = made_for(library, row.session, calibration)?;
    Ok(first.filter(|first| first.id != recording))
}

/// The recording that a session's set-up with this number was made for.
fn made_for(
    library: &Library,
    session: SessionId,
    calibration: CalibrationId,
) -> Result<Option<RecordingRow>> {
    let all = library.recordings(session)?;
    Ok(all.into_iter().find(|other| other.calibration == Some(calibration)))
}

/// Why a set-up carried over may not fit.
#[derive(Clone, Debug, PartialEq)]
pub enum ViewDoubt {
    /// The two views were compared and differ: [`Warning::ViewDiffers`].
    Differs(Warning),
    /// They could not be compared; a sentence.
    NotCompared(String),
}

impl ViewDoubt {
    /// What is wrong and what to do.
    pub fn sentence(&self) -> String {
        match self {
            Self::Differs(warning) => warning.text(),
            Self::NotCompared(sentence) => sentence.clone(),
        }
    }

    /// The warning that the two differ.
    pub(super) fn differs(self) -> Option<Warning> {
        match self {
            Self::Differs(warning) => Some(warning),
            Self::NotCompared(_) => None,
        }
    }
}

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
    match carried_from(library, recording)? {
        Some(from) => compared(library, &from, pictures, cancel),
        None => Ok(None),
    }
}

/// The same for a recording that is about to be read in with the set-up of `shared`.
///
/// # Errors
/// As [`view_differs`].
pub(super) fn view_to_be(
    library: &mut Library,
    shared: &RecordingRow,
    pictures: &mut dyn Pictures,
) -> std::result::Result<Option<Warning>, KeptError> {
    let Some(calibration) = shared.calibration else { return Ok(None) };
    let Some(from) = made_for(library, shared.session, calibration)? else { return Ok(None) };
    let doubt = compared(library, &from, pictures, &CancelToken::new())?;
    Ok(doubt.and_then(ViewDoubt::differs))
}

fn compared(
    library: &mut Library,
    from: &RecordingRow,
    pictures: &mut dyn Pictures,
    cancel: &CancelToken,
) -> std::result::Result<Option<ViewDoubt>, KeptError> {
    let name = file_name(&from.path);
    let mut other = match reopen(library, from, cancel.clone()) {
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
    Ok(difference(&motion, name).map(ViewDoubt::Differs))
}

fn not_compared(from: &str, why: &str) -> ViewDoubt {
    ViewDoubt::NotCompared(format!(
        "Whether the camera still stands where it stood in {from}, from which the set-up is carried over, could not be compared, since {from} {why}; look whether the marks lie right here, else set it up anew here."
    ))
}

fn difference(motion: &Motion, from: String) -> Option<Warning> {
    let shift = motion.shift().0;
    match motion.is_trusted {
        true if shift <= SAME_VIEW => None,
        true => Some(Warning::ViewDiffers { from, pixels: Some(shift) }),
        false => Some(Warning::ViewDiffers { from, pixels: None }),
    }
}

/// Says of each swing that its set-up may not fit, and puts before the person what would then be
/// off: the numbers in millimetres, where the view is so far off that the scale is another, and
/// those counted from a point of the set-up.
pub(super) fn doubt_numbers(
    swings: &mut [SwingResult],
    inputs: &[SwingInput],
    size: PictureSize,
    warning: &Warning,
) {
    let Warning::ViewDiffers { pixels, .. } = warning else { return };
    let is_far = pixels.is_none_or(|pixels| pixels > FAR * size.height as f64);
    for (swing, input) in swings.iter_mut().zip(inputs) {
        let by_setup = input.ball_point().is_none() && input.given.origin.is_none();
        if !is_far && !by_setup {
            continue;
        }
        let told = [
            (Reviewable::DivotStart, swing.divot_start_offset.is_some()),
            (Reviewable::DivotEnd, swing.divot_end_offset.is_some()),
            (Reviewable::LowPoint, swing.low_point.is_some()),
            (Reviewable::AttackAngle, is_far && swing.attack_angle.is_some()),
        ];
        let told = told.into_iter().filter(|(_, is_told)| *is_told).map(|(what, _)| what);
        swing.needs_review.extend(told);
        swing.needs_review.sort_unstable();
        swing.needs_review.dedup();
        swing.warnings.push(warning.clone());
    }
}

/// Gives a recording a set-up of its own in place of the one that it shares: empty but for what of
/// known size is found in its pictures, and that unconfirmed. A step that can be undone.
///
/// # Errors
/// There is no such recording, or the library can't be read or written. A file that can't be read
/// only proposes nothing.
pub fn set_up_anew(
    library: &mut Library,
    recording: RecordingId,
) -> std::result::Result<(), KeptError> {
    let row = library.recording(recording)?;
    let rows = library.swings(Of::Recording(recording))?;
    let inputs = inputs_of(&rows, &library.setup(recording)?);
    let setup = match reopen(library, &row, CancelToken::new()) {
        Ok(mut pictures) => {
            let mut setup = Setup::default();
            look_for_references(&mut pictures, &mut setup, &inputs).map(|()| setup).ok()
        }
        Err(_) => None,
    };
    let setup = setup.filter(|setup| *setup != Setup::default());
    library.edit(Scope::Session(row.session), "set-up of its own", |edit| {
        edit.share_setup(recording, None)?;
        setup.map_or(Ok(()), |setup| edit.set_setup(recording, &setup).map(|_| ()))
    })?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{
        ColourFrame, GrayFrame, ImagePoint, Mark, Measured, SwingKind, SwingMarks, Timeline,
    };
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
        let differs = difference(&steadying.motion_of(FrameIndex(1), &here), "one.mp4".into());
        differs.map(|warning| warning.text())
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

    #[test]
    fn a_view_far_off_doubts_every_number_and_a_nudged_one_those_of_a_carried_point() {
        let size = PictureSize { width: 1280, height: 720 };
        let at = |x| Some(Mark::steadied(ImagePoint::new(x, 500.0)));
        let with_ball = SwingMarks { ball: at(600.0), ..SwingMarks::default() };
        let own_point = SwingMarks { origin: at(600.0), ..SwingMarks::default() };
        let inputs = [with_ball, own_point, SwingMarks::default()]
            .map(|given| SwingInput { given, ..SwingInput::default() });
        let asked = |pixels: Option<f64>| {
            let start = Some(Measured::new(-20.0, Vec::new()));
            let told = SwingResult {
                divot_start_offset: start.clone(),
                attack_angle: start,
                needs_review: vec![Reviewable::ContactOrder],
                ..SwingResult::without_numbers(SwingKind::Strike)
            };
            let mut swings = [told.clone(), told.clone(), told];
            let warning = Warning::ViewDiffers { from: "one.mp4".into(), pixels };
            doubt_numbers(&mut swings, &inputs, size, &warning);
            let said = swings.iter().map(|swing| swing.warnings.contains(&warning)).collect();
            (said, swings.map(|swing| swing.needs_review))
        };
        let before = || vec![Reviewable::ContactOrder];
        let [start, attack, order] =
            [Reviewable::DivotStart, Reviewable::AttackAngle, Reviewable::ContactOrder];
        let all = || vec![start, attack, order];
        for far in [None, Some(8.0)] {
            assert_eq!(asked(far), (vec![true; 3], [all(), all(), all()]), "{far:?}");
        }
        let nudged = (vec![false, false, true], [before(), before(), vec![start, order]]);
        assert_eq!(asked(Some(3.0)), nudged);
    }
}
