//! A set-up carried over from one recording to the next: where it came from, and whether the
//! camera still sees the same ground.

use crate::domain::{
    FrameIndex, ImagePoint, PictureError, PictureSize, Pictures, Reviewable, Setup, SwingResult,
    Warning,
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
/// that is not known; `None` where it fits or was made for this recording. That they differ is kept.
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
    let doubt = compared(library, &from, pictures, cancel)?;
    // One that was read in before this was kept.
    if let Some(ViewDoubt::Differs(warning)) = &doubt
        && library.recording(recording)?.view_differs.is_none()
    {
        library.save(|edit| edit.set_view_differs(recording, Some(warning)))?;
    }
    Ok(doubt)
}

/// The same for a recording that is about to be read in with the set-up of `shared`.
///
/// # Errors
/// As [`view_differs`].
pub(super) fn view_to_be(
    library: &mut Library,
    shared: &RecordingRow,
    pictures: &mut dyn Pictures,
    cancel: &CancelToken,
) -> std::result::Result<Option<Warning>, KeptError> {
    let Some(calibration) = shared.calibration else { return Ok(None) };
    let Some(from) = made_for(library, shared.session, calibration)? else { return Ok(None) };
    let doubt = compared(library, &from, pictures, cancel)?.and_then(ViewDoubt::differs);
    // Where the recording that it was made for is gone, the next one may stand elsewhere itself.
    Ok(doubt.or(from.view_differs))
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
    if other.size() != pictures.size() {
        return Ok(Some(not_compared(&name, "has pictures of another size")));
    }
    let mut steadying = match Steadying::new(&mut other) {
        Ok(steadying) => steadying,
        Err(PictureError::Cancelled) => return Err(VideoError::Cancelled.into()),
        Err(PictureError::Unreadable(_)) => {
            return Ok(Some(not_compared(&name, "cannot be read any more")));
        }
    };
    let here = pictures.gray(FrameIndex(0)).map_err(MeasureError::from)?;
    // Any number but the first frame's: it is not a frame of that recording.
    let motion = steadying.motion_of(FrameIndex(1), &here);
    Ok(difference(&motion, pictures.size(), name).map(ViewDoubt::Differs))
}

fn not_compared(from: &str, why: &str) -> ViewDoubt {
    ViewDoubt::NotCompared(format!(
        "Whether the camera still stands where it stood in {from}, from which the set-up is carried over, could not be compared, since {from} {why}; look whether the marks lie right here, else set it up anew here."
    ))
}

/// That the ground in the picture, its lower half, lies off by more than a click may.
fn difference(motion: &Motion, size: PictureSize, from: String) -> Option<Warning> {
    let (right, foot) = (size.width as f64, size.height as f64);
    let ground = [[0.0, 0.5 * foot], [right, 0.5 * foot], [0.0, foot], [right, foot]];
    let off = |[x, y]: [f64; 2]| {
        let point = ImagePoint::new(x, y);
        motion.from_first(point).distance(point)
    };
    let shift = ground.map(off).into_iter().fold(motion.shift().0, f64::max);
    match motion.is_trusted {
        true if shift <= SAME_VIEW => None,
        true => Some(Warning::ViewDiffers { from, pixels: Some(shift) }),
        false => Some(Warning::ViewDiffers { from, pixels: None }),
    }
}

/// Says of each swing that its set-up may not fit, and puts before the person what would then be
/// off: all that is measured by things placed in another view, where that is so far off that the
/// scale is another, and what counts from a point of the set-up. `shared`: what comes from the
/// set-up carried over, nothing of the recording's own.
pub(super) fn doubt_numbers(
    swings: &mut [SwingResult],
    inputs: &[SwingInput],
    shared: &Setup,
    size: PictureSize,
    warning: &Warning,
) {
    let Warning::ViewDiffers { pixels, .. } = warning else { return };
    let far = FAR * size.height as f64;
    let is_far = shared.measures_by_places() && pixels.is_none_or(|pixels| pixels > far);
    for (swing, input) in swings.iter_mut().zip(inputs) {
        let is_off = is_far || !input.has_own_zero() && shared.origin.is_some();
        let offsets = swing.told_offsets().filter(|_| is_off);
        // The order is told by the start.
        let order = swing.divot_start_offset.is_some() && swing.contact_order.is_some();
        let more = [
            (Reviewable::AttackAngle, is_far && swing.attack_angle.is_some()),
            (Reviewable::ContactOrder, is_off && order),
        ];
        let more = more.into_iter().filter(|(_, doubtful)| *doubtful).map(|(what, _)| what);
        swing.needs_review.extend(offsets.chain(more));
        swing.needs_review.sort_unstable();
        swing.needs_review.dedup();
        if is_off || shared.reach_line.is_some() && swing.reach_line.is_some() {
            swing.warnings.push(warning.clone());
        }
    }
}

/// Gives a recording a set-up of its own in place of the one that it shares: what holds wherever the
/// camera stands, and what of known size is found in its pictures, unconfirmed. A step that can be
/// undone.
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
    let mut setup = library.shared_setup(recording)?.without_places();
    if let Ok(mut pictures) = reopen(library, &row, CancelToken::new()) {
        let mut looked = setup.clone();
        if look_for_references(&mut pictures, &mut looked, &inputs).is_ok() {
            setup = looked;
        }
    }
    library.edit(Scope::Session(row.session), "set-up of its own", |edit| {
        edit.share_setup(recording, None)?;
        edit.set_view_differs(recording, None)?;
        match setup == Setup::default() {
            true => Ok(()),
            false => edit.set_setup(recording, &setup).map(|_| ()),
        }
    })?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{
        ColourFrame, ContactOrder, GrayFrame, Mark, Measured, SwingKind, SwingMarks, Timeline,
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
            size_seen()
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

    fn size_seen() -> PictureSize {
        PictureSize { width: 640, height: 360 }
    }

    fn said(shift: [i64; 2], seed: u64) -> Option<String> {
        let mut steadying = Steadying::new(&mut Ground::new([0, 0], 1)).unwrap();
        let here = Ground::new(shift, seed).gray(FrameIndex(0)).unwrap();
        let motion = steadying.motion_of(FrameIndex(1), &here);
        let differs = difference(&motion, size_seen(), "one.mp4".into());
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

    /// A swing with a ball of its own, one with a point of its own, one with a tee, and one that
    /// counts from the set-up's point: which are warned of, and what is asked of each.
    fn asked(shared: &Setup, pixels: Option<f64>) -> ([bool; 4], [Vec<Reviewable>; 4]) {
        let size = PictureSize { width: 1280, height: 720 };
        let at = |x| Some(Mark::steadied(ImagePoint::new(x, 500.0)));
        let inputs = [
            SwingMarks { ball: at(600.0), ..SwingMarks::default() },
            SwingMarks { origin: at(600.0), ..SwingMarks::default() },
            SwingMarks { tee: at(600.0), ..SwingMarks::default() },
            SwingMarks::default(),
        ]
        .map(|given| SwingInput { given, ..SwingInput::default() });
        let number = Some(Measured::new(-20.0, Vec::new()));
        let mut swings = [(); 4].map(|()| SwingResult {
            divot_start_offset: number.clone(),
            attack_angle: number.clone(),
            reach_line: number.clone(),
            contact_order: Some(ContactOrder::TurfFirst),
            needs_review: vec![Reviewable::Ball],
            ..SwingResult::without_numbers(SwingKind::Strike)
        });
        let warning = Warning::ViewDiffers { from: "one.mp4".into(), pixels };
        doubt_numbers(&mut swings, &inputs, shared, size, &warning);
        let said = swings.each_ref().map(|swing| swing.warnings.contains(&warning));
        (said, swings.map(|swing| swing.needs_review))
    }

    #[test]
    fn only_what_is_measured_by_another_view_is_doubted() {
        let point = Mark::steadied(ImagePoint::new(640.0, 500.0));
        let by_line = Setup { target_line: Some([point, point]), ..Setup::default() };
        let by_point = Setup { origin: Some(point), ..Setup::default() };
        let drill = Setup { reach_line: Some(point), ..Setup::default() };
        let [ball, start, attack, order] = [
            Reviewable::Ball,
            Reviewable::DivotStart,
            Reviewable::AttackAngle,
            Reviewable::ContactOrder,
        ];
        let (as_before, counted) = (vec![ball], vec![ball, start, order]);
        let all = vec![ball, start, attack, order];
        let none = [(); 4].map(|()| as_before.clone());
        let last = [as_before.clone(), as_before.clone(), as_before.clone(), counted];
        for far in [None, Some(8.0)] {
            let each = [(); 4].map(|()| all.clone());
            assert_eq!(asked(&by_line, far), ([true; 4], each), "{far:?}");
            // Each recording's own ball is the ruler.
            assert_eq!(asked(&Setup::default(), far), ([false; 4], none.clone()), "{far:?}");
        }
        assert_eq!(asked(&by_line, Some(3.0)), ([false; 4], none.clone()));
        assert_eq!(asked(&by_point, Some(3.0)), ([false, false, false, true], last));
        assert_eq!(asked(&drill, Some(3.0)), ([true; 4], none));
    }
}
