//! Reference objects that the program found, for a person to say yes to.

use crate::domain::{
    Direction, Found, FrameIndex, ImagePoint, Millimetres, PictureError, PictureSize, Pictures,
    Pixels, ProposedLine, ProposedReference, Reference, ReferenceKind, Surface,
};
use crate::geometry::{CalibrationRequest, misfit_of};
use crate::vision::{FoundEdge, Motion, Steadying, find_mat_edges, find_sheets, find_stick};

/// In how many frames, spread over the recording, to look.
const LOOKS: usize = 5;
/// A thing that lies still is found at the same place, pixels.
const SAME_PLACE_PX: f64 = 1.5;
/// Sheets that lie about: ISO 216 A4 and ANSI/ASME Y14.1 Letter, mm.
const A4: [f64; 2] = [297.0, 210.0];
const LETTER: [f64; 2] = [279.4, 215.9];
/// How high a sheet lies on grass (common practice, no source); on a mat it lies on it.
const ON_GRASS: Millimetres = Millimetres(5.0);
/// A sheet is called Letter instead of A4 only if it is so much more probable.
const LETTER_FROM: f64 = 0.9;

/// A stick as it is sold, 48 inches (common practice, no source); a person says if it is another.
const STICK: Millimetres = Millimetres(1219.2);
/// How high its axis lies on grass or mat, mm (8 mm thick; common practice, no source).
const STICK_AXIS: Millimetres = Millimetres(8.0);
/// A stick of another length than that fits the ball worse than this: twice the negative logarithm
/// of the density that the stick adds, to which the usual view (4 ln sin 17°) lends -5, so some two
/// standard uncertainties.
const MOST_MISFIT: f64 = 0.0;

/// How much of the confidence is left where no ball can speak against the length.
const UNCHECKED: f64 = 0.6;

/// What the proposals are judged with.
#[derive(Clone, Copy, Debug, Default)]
pub struct KnownBefore<'a> {
    /// The ball's outline, if one was found: it tells a large sheet far away from a small one.
    pub ball: Option<&'a Reference>,
    /// The point of interest, and how high above the ground it is.
    pub about: Option<(ImagePoint, Millimetres)>,
    /// What the ball lies on.
    pub surface: Option<Surface>,
}

/// Sheets and sticks lying still on the ground, the surest first; empty if there are none.
///
/// Each must be found at the same place of the steadied picture in two frames at least, so that
/// nothing passing is taken for one. Its points are in the steadied picture.
///
/// # Errors
/// A frame can't be read.
pub fn propose_references(
    pictures: &mut dyn Pictures,
    known: &KnownBefore,
) -> Result<Vec<ProposedReference>, PictureError> {
    let size = pictures.size();
    let (sheets, sticks) = lying(pictures)?;
    let mut proposed: Vec<ProposedReference> = sheets
        .iter()
        .filter_map(|sheet| sheet_reference(size, sheet, known))
        .chain(sticks.iter().filter_map(|stick| stick_reference(size, stick, known)))
        .collect();
    proposed.sort_by(|a, b| b.confidence.total_cmp(&a.confidence));
    Ok(proposed)
}

/// The target line along a mat's edge that lies still, the longest such; `None` if there is none.
///
/// It must be found at the same place of the steadied picture in two frames at least, so that no
/// shadow passing is taken for one, and lie before or behind the ball.
///
/// # Errors
/// A frame can't be read.
pub fn propose_line(
    pictures: &mut dyn Pictures,
    known: &KnownBefore,
) -> Result<Option<ProposedLine>, PictureError> {
    let edges = still_edges(pictures)?;
    let width = pictures.size().width as f64;
    // Without a ball to lie before or behind, it must end on both sides: a golfer standing before
    // the horizon hides where that goes on.
    let by_ball = |edge: &FoundEdge| {
        let [left, _, right] = edge.points;
        match known.about {
            Some((about, _)) => (left.x..right.x).contains(&about.x),
            None => left.x > 0.03 * width && right.x < 0.97 * width,
        }
    };
    let best = edges.into_iter().filter(|edge| by_ball(&edge.value)).max_by(|a, b| {
        let length = |e: &Found<FoundEdge>| e.value.points[0].distance(e.value.points[2]);
        length(a).total_cmp(&length(b))
    });
    // Without a ball nothing says that it is the mat played from.
    let known_place = if known.about.is_some() { 1.0 } else { UNCHECKED };
    Ok(best.map(|edge| {
        let [left, _, right] = edge.value.points;
        ProposedLine { ends: [left, right], confidence: edge.confidence * known_place }
    }))
}

fn still_edges(pictures: &mut dyn Pictures) -> Result<Vec<Found<FoundEdge>>, PictureError> {
    let mut seen: Vec<(usize, Found<FoundEdge>)> = Vec::new();
    let find = |pictures: &mut dyn Pictures, frame| {
        Ok(Some(find_mat_edges(&*pictures.colour(frame)?)).filter(|edges| !edges.is_empty()))
    };
    each_look(pictures, find, |edges, motion| {
        for edge in edges {
            let value = FoundEdge { points: edge.value.points.map(|p| motion.to_first(p)) };
            note_edge(&mut seen, Found { value, ..edge });
        }
    })?;
    let still = seen.into_iter().filter(|(looks, _)| *looks >= 2);
    Ok(still.map(|(n, edge)| Found { confidence: often(n) * edge.confidence, ..edge }).collect())
}

/// What hides an end in one frame may not in the next: the longest look counts.
fn note_edge(seen: &mut Vec<(usize, Found<FoundEdge>)>, edge: Found<FoundEdge>) {
    let ends = |e: &FoundEdge| [e.points[0].x, e.points[2].x];
    let near = |known: &FoundEdge| {
        let ([a, b], [c, d]) = (ends(known), ends(&edge.value));
        let both = [a.max(c), b.min(d)];
        let off = |x: f64| (known.y_at(x) - edge.value.y_at(x)).abs();
        both[1] > both[0] && both.into_iter().all(|x| off(x) < SAME_PLACE_PX)
    };
    match seen.iter_mut().find(|(_, known)| near(&known.value)) {
        Some((looks, known)) => {
            *looks += 1;
            let [a, b] = ends(&known.value);
            let [c, d] = ends(&edge.value);
            if d - c > b - a {
                *known = edge;
            }
        }
        None => seen.push((1, edge)),
    }
}

/// A thing where it was seen, frame by frame.
struct Seen<const N: usize> {
    points: Vec<[ImagePoint; N]>,
    sigma: f64,
    confidence: f64,
}

/// Sheets and sticks that lie at one place.
type Lying = (Vec<Found<[ImagePoint; 4]>>, Vec<Found<[ImagePoint; 2]>>);

fn lying(pictures: &mut dyn Pictures) -> Result<Lying, PictureError> {
    let (mut sheets, mut sticks) = (Vec::new(), Vec::new());
    let find = |pictures: &mut dyn Pictures, frame| {
        let found_sheets = find_sheets(&*pictures.gray(frame)?);
        let found_stick = find_stick(&*pictures.colour(frame)?);
        let any = !found_sheets.is_empty() || found_stick.is_some();
        Ok(any.then_some((found_sheets, found_stick)))
    };
    each_look(pictures, find, |(found_sheets, found_stick), motion| {
        for sheet in found_sheets {
            note(&mut sheets, &sheet, sheet.value.corners.map(|p| motion.to_first(p)));
        }
        if let Some(stick) = found_stick {
            note(&mut sticks, &stick, stick.value.ends.map(|p| motion.to_first(p)));
        }
    })?;
    Ok((still(&sheets), still(&sticks)))
}

/// Looks at some frames spread over the recording: `take` gets what `find` finds in each, with
/// the way into the steadied picture. Frames that can't be steadied count for nothing.
fn each_look<T>(
    pictures: &mut dyn Pictures,
    find: impl Fn(&mut dyn Pictures, FrameIndex) -> Result<Option<T>, PictureError>,
    mut take: impl FnMut(T, &Motion),
) -> Result<(), PictureError> {
    let frames = pictures.timeline().len();
    let mut steadying = None;
    let looks = LOOKS.min(frames);
    for look in 0..looks {
        let frame = FrameIndex(look * (frames - 1) / (looks - 1).max(1));
        let found = match find(pictures, frame) {
            Ok(Some(found)) => found,
            // A damaged frame shows nothing; the others may.
            Ok(None) | Err(PictureError::Unreadable(_)) => continue,
            Err(PictureError::Cancelled) => return Err(PictureError::Cancelled),
        };
        let steadying = match &mut steadying {
            Some(known) => known,
            none => none.insert(Steadying::new(pictures)?),
        };
        let motion = steadying.motion(pictures, frame)?;
        if motion.is_trusted {
            take(found, &motion);
        }
    }
    Ok(())
}

/// Seen in fewer than half of the looks it may be something else that lay still a while: how much
/// of the confidence is left.
fn often(looks: usize) -> f64 {
    if 2 * looks > LOOKS { 1.0 } else { 0.7 }
}

fn still<const N: usize>(seen: &[Seen<N>]) -> Vec<Found<[ImagePoint; N]>> {
    seen.iter().filter(|s| s.points.len() >= 2).map(Seen::middle).collect()
}

fn note<T, const N: usize>(seen: &mut Vec<Seen<N>>, found: &Found<T>, points: [ImagePoint; N]) {
    let near =
        |a: &[ImagePoint; N]| a.iter().zip(&points).all(|(p, q)| p.distance(*q) < SAME_PLACE_PX);
    match seen.iter_mut().find(|s| near(&s.points[0])) {
        Some(known) => {
            known.points.push(points);
            known.sigma = known.sigma.max(found.sigma);
            known.confidence = known.confidence.max(found.confidence);
        }
        None => seen.push(Seen {
            points: vec![points],
            sigma: found.sigma,
            confidence: found.confidence,
        }),
    }
}

impl<const N: usize> Seen<N> {
    /// Its mean place. What hides an edge in one frame moves a corner by the same in all looks
    /// at it, so more looks make the points no surer.
    fn middle(&self) -> Found<[ImagePoint; N]> {
        let n = self.points.len() as f64;
        let mean = |i: usize| {
            let sum = self.points.iter().fold((0.0, 0.0), |s, c| (s.0 + c[i].x, s.1 + c[i].y));
            ImagePoint::new(sum.0 / n, sum.1 / n)
        };
        Found {
            value: std::array::from_fn(mean),
            sigma: self.sigma,
            confidence: self.confidence * often(self.points.len()),
        }
    }
}

/// How high above the ground a thing marked in the picture lies as a rule: a sheet on the grass
/// tips, the axis of a stick laid along the target line; points and lines on it.
pub fn lying_height(
    kind: &ReferenceKind,
    along_target: bool,
    surface: Option<Surface>,
) -> Millimetres {
    match kind {
        ReferenceKind::Sheet { .. } => sheet_height(surface),
        ReferenceKind::Line { .. } if along_target => STICK_AXIS,
        _ => Millimetres(0.0),
    }
}

fn sheet_height(surface: Option<Surface>) -> Millimetres {
    match surface {
        Some(Surface::Mat) => Millimetres(0.0),
        _ => ON_GRASS,
    }
}

/// The stick with the length that sticks are sold in; `None` if no camera sees such a one, or if
/// it does not fit the ball.
fn stick_reference(
    size: PictureSize,
    stick: &Found<[ImagePoint; 2]>,
    known: &KnownBefore,
) -> Option<ProposedReference> {
    let reference = Reference {
        kind: ReferenceKind::Line { length: STICK, ends: stick.value },
        height: STICK_AXIS,
        along_target: true,
        frame: None,
        point_sigma: Some(Pixels(stick.sigma)),
    };
    let alone = known
        .ball
        .map_or(Some(0.0), |ball| misfit_of(&request(size, std::slice::from_ref(ball), known)))?;
    let both: Vec<Reference> =
        [Some(&reference), known.ball].into_iter().flatten().cloned().collect();
    let misfit = misfit_of(&request(size, &both, known))?;
    // Without the ball nothing contradicts a line of another length, chalked or painted.
    let known_length = if known.ball.is_some() { 1.0 } else { UNCHECKED };
    // The ball has its own misfit of priors; what the stick adds to it counts.
    (misfit - alone < MOST_MISFIT)
        .then_some(ProposedReference { reference, confidence: stick.confidence * known_length })
}

/// The sheet with the size it most probably has; `None` if no camera sees a sheet like that.
fn sheet_reference(
    size: PictureSize,
    sheet: &Found<[ImagePoint; 4]>,
    known: &KnownBefore,
) -> Option<ProposedReference> {
    let turned = |[a, b]: [f64; 2]| [b, a];
    let sizes = [A4, turned(A4), LETTER, turned(LETTER)];
    let references = sizes.map(|mm| Reference {
        kind: ReferenceKind::Sheet { size: mm.map(Millimetres), corners: sheet.value },
        height: sheet_height(known.surface),
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
    misfit_of(&request(size, &references, known))
}

fn request<'a>(
    size: PictureSize,
    references: &'a [Reference],
    known: &KnownBefore,
) -> CalibrationRequest<'a> {
    CalibrationRequest {
        size,
        references,
        target_line: None,
        direction: Direction::Right,
        about: known.about,
        lens: None,
    }
}
