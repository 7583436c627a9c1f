//! Reference objects that the program found, for a person to say yes to.

use crate::domain::{
    Direction, Found, FrameIndex, ImagePoint, Millimetres, PictureError, PictureSize, Pictures,
    Pixels, ProposedReference, Reference, ReferenceKind, Surface,
};
use crate::geometry::{CalibrationRequest, misfit_of};
use crate::vision::{FoundSheet, Steadying, find_sheets};

/// In how many frames, spread over the recording, to look.
const LOOKS: usize = 5;
/// A thing that lies still is found at the same place, pixels.
const SAME_PLACE_PX: f64 = 1.5;
/// Sheets that lie about: ISO 216 A4 and ANSI/ASME Y14.1 Letter, mm.
const A4: [f64; 2] = [297.0, 210.0];
const LETTER: [f64; 2] = [279.4, 215.9];
/// How high a sheet lies on grass, mm (common practice, no source); on a mat it lies on it.
const ON_GRASS_MM: f64 = 5.0;
/// A sheet is called Letter instead of A4 only if it is so much more probable.
const LETTER_FROM: f64 = 0.9;

/// What the proposals are judged with.
#[derive(Clone, Copy, Debug, Default)]
pub struct KnownBefore<'a> {
    /// The ball's outline, if one was found: it tells a large sheet far away from a small one.
    pub ball: Option<&'a Reference>,
    /// The point of interest.
    pub about: Option<ImagePoint>,
    /// What the ball lies on.
    pub surface: Option<Surface>,
}

/// Sheets lying still on the ground, the surest first; empty if there are none.
///
/// A sheet must be found at the same place of the steadied picture in two frames at least, so
/// that nothing passing is taken for one. Its corners are in the steadied picture.
///
/// # Errors
/// A frame can't be read.
pub fn propose_references(
    pictures: &mut dyn Pictures,
    known: &KnownBefore,
) -> Result<Vec<ProposedReference>, PictureError> {
    let size = pictures.size();
    let mut proposed: Vec<ProposedReference> =
        sheets(pictures)?.iter().filter_map(|sheet| as_reference(size, sheet, known)).collect();
    proposed.sort_by(|a, b| b.confidence.total_cmp(&a.confidence));
    Ok(proposed)
}

/// A sheet where it was seen, frame by frame.
struct Seen {
    corners: Vec<[ImagePoint; 4]>,
    sigma: f64,
    confidence: f64,
}

fn sheets(pictures: &mut dyn Pictures) -> Result<Vec<Found<FoundSheet>>, PictureError> {
    let frames = pictures.timeline().len();
    let mut steadying = None;
    let mut seen: Vec<Seen> = Vec::new();
    for look in 0..LOOKS.min(frames) {
        let frame = FrameIndex(look * (frames - 1) / (LOOKS - 1));
        let picture = pictures.gray(frame)?;
        for sheet in find_sheets(&picture) {
            let steadying = match &mut steadying {
                Some(known) => known,
                none => none.insert(Steadying::new(pictures)?),
            };
            let motion = steadying.motion(pictures, frame)?;
            if motion.is_trusted {
                note(&mut seen, sheet, sheet.value.corners.map(|p| motion.to_first(p)));
            }
        }
    }
    Ok(seen.iter().filter(|s| s.corners.len() >= 2).map(|s| s.middle(LOOKS)).collect())
}

fn note(seen: &mut Vec<Seen>, sheet: Found<FoundSheet>, corners: [ImagePoint; 4]) {
    let near =
        |a: &[ImagePoint; 4]| a.iter().zip(&corners).all(|(p, q)| p.distance(*q) < SAME_PLACE_PX);
    match seen.iter_mut().find(|s| near(&s.corners[0])) {
        Some(known) => {
            known.corners.push(corners);
            known.sigma = known.sigma.max(sheet.sigma);
            known.confidence = known.confidence.max(sheet.confidence);
        }
        None => seen.push(Seen {
            corners: vec![corners],
            sigma: sheet.sigma,
            confidence: sheet.confidence,
        }),
    }
}

impl Seen {
    /// Its mean place. What hides an edge in one frame moves a corner by the same in all looks
    /// at it, so more looks make the corners no surer.
    fn middle(&self, looks: usize) -> Found<FoundSheet> {
        let n = self.corners.len() as f64;
        let mean = |i: usize| {
            let sum = self.corners.iter().fold((0.0, 0.0), |s, c| (s.0 + c[i].x, s.1 + c[i].y));
            ImagePoint::new(sum.0 / n, sum.1 / n)
        };
        // Seen in fewer than half of the looks it may be something else that lay still a while.
        let often = if 2 * self.corners.len() > looks { 1.0 } else { 0.7 };
        Found {
            value: FoundSheet { corners: [0, 1, 2, 3].map(mean) },
            sigma: self.sigma,
            confidence: self.confidence * often,
        }
    }
}

/// The sheet with the size it most probably has; `None` if no camera sees a sheet like that.
fn as_reference(
    size: PictureSize,
    sheet: &Found<FoundSheet>,
    known: &KnownBefore,
) -> Option<ProposedReference> {
    let turned = |[a, b]: [f64; 2]| [b, a];
    let sizes = [A4, turned(A4), LETTER, turned(LETTER)];
    let references = sizes.map(|mm| Reference {
        kind: ReferenceKind::Sheet { size: mm.map(Millimetres), corners: sheet.value.corners },
        height: Millimetres(match known.surface {
            Some(Surface::Mat) => 0.0,
            _ => ON_GRASS_MM,
        }),
        along_target: false,
        frame: None,
        point_sigma: Some(Pixels(sheet.sigma)),
    });
    let misfits = references.each_ref().map(|r| misfit(size, r, known).unwrap_or(f64::INFINITY));
    let least = misfits.iter().copied().fold(f64::INFINITY, f64::min);
    if least.is_infinite() {
        return None;
    }
    let weights = misfits.map(|m| (-(m - least) / 2.0).exp());
    let letter = (weights[2] + weights[3]) / weights.iter().sum::<f64>();
    let from = if letter > LETTER_FROM { 2 } else { 0 };
    let (first, second) = (weights[from], weights[from + 1]);
    let best = if first >= second { from } else { from + 1 };
    // Which way round it lies is part of what is proposed; which make of sheet is asked.
    let sure = first.max(second) / (first + second);
    let [a, b, c, d] = references;
    let reference = [a, b, c, d].into_iter().nth(best)?;
    Some(ProposedReference { reference, confidence: sheet.confidence * sure })
}

fn misfit(size: PictureSize, sheet: &Reference, known: &KnownBefore) -> Option<f64> {
    let references: Vec<Reference> =
        [Some(sheet), known.ball].into_iter().flatten().cloned().collect();
    misfit_of(&CalibrationRequest {
        size,
        references: &references,
        target_line: None,
        direction: Direction::Right,
        about: known.about,
        lens: None,
    })
}
