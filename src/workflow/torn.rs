//! Whether a recording's picture is torn, told by the sheets in it, and what becomes of its balls.

use super::evaluate::SwingInput;
use crate::domain::{FrameIndex, ImagePoint, PictureError, Pictures, ReferenceKind, Setup};
use crate::vision::{Tear, find_tear};

/// In how many frames, spread over the recording, to look; two must show the same.
const LOOKS: usize = 3;
/// Seen in two frames at rows no farther apart it is one tear.
const SAME_ROW: f64 = 3.0;

/// Looks for a tear across one of the set-up's sheets, given or proposed; where there is one, each
/// found ball is in doubt.
///
/// # Errors
/// The work was stopped.
pub(super) fn doubt_torn_balls(
    pictures: &mut dyn Pictures,
    setup: &Setup,
    inputs: &mut [SwingInput],
) -> Result<(), PictureError> {
    let proposed = setup.proposed.iter().map(|proposed| &proposed.reference);
    let sheets = setup.references.iter().chain(proposed).filter_map(|r| match &r.kind {
        ReferenceKind::Sheet { corners, .. } => Some(*corners),
        _ => None,
    });
    let sheets: Vec<[ImagePoint; 4]> = sheets.collect();
    let Some(Tear { row, pixels }) = torn(pictures, &sheets)? else { return Ok(()) };
    for found in inputs.iter_mut().filter_map(|input| input.found.as_mut()) {
        found.note_tear(row, pixels);
    }
    Ok(())
}

fn torn(
    pictures: &mut dyn Pictures,
    sheets: &[[ImagePoint; 4]],
) -> Result<Option<Tear>, PictureError> {
    let frames = pictures.timeline().len();
    if sheets.is_empty() || frames < LOOKS {
        return Ok(None);
    }
    let mut seen: Vec<Tear> = Vec::new();
    for look in 0..LOOKS {
        let frame = match pictures.gray(FrameIndex(look * (frames - 1) / (LOOKS - 1))) {
            Ok(frame) => frame,
            Err(PictureError::Cancelled) => return Err(PictureError::Cancelled),
            // A damaged frame shows nothing; the others may.
            Err(PictureError::Unreadable(_)) => continue,
        };
        let Some(tear) = sheets.iter().find_map(|corners| find_tear(&frame, corners)) else {
            continue;
        };
        if seen.iter().any(|known| (known.row - tear.row).abs() <= SAME_ROW) {
            return Ok(Some(tear));
        }
        seen.push(tear);
    }
    Ok(None)
}
