//! What a set-up must satisfy before anything is measured with it.

use crate::domain::{
    FrameIndex, ImagePoint, Mark, Millimetres, PictureSize, Reference, ReferenceKind, Setup,
    TimeBase, Timeline, Warning,
};

/// Why a set-up can't be used with a recording.
#[derive(Clone, Debug, thiserror::Error, PartialEq)]
pub enum SetupFault {
    /// A point lies outside the displayed picture.
    #[error(
        "The {which} at ({x:.1}, {y:.1}) lies outside the picture of {width} x {height} pixels; place it again"
    )]
    OutsidePicture {
        /// Which point.
        which: &'static str,
        /// Its column.
        x: f64,
        /// Its row.
        y: f64,
        /// Columns of the picture.
        width: usize,
        /// Rows of the picture.
        height: usize,
    },
    /// A frame that the recording does not have.
    #[error(
        "Frame {frame} is not in the recording, which has {frames} frames from 0; correct the frame number"
    )]
    NoSuchFrame {
        /// The frame asked for.
        frame: usize,
        /// How many there are.
        frames: usize,
    },
    /// A strike outside the recording.
    #[error(
        "A strike at {seconds} s is outside the recording of {duration:.2} s; correct its time"
    )]
    NoSuchTime {
        /// The time asked for.
        seconds: f64,
        /// The recording's length.
        duration: f64,
    },
    /// A size that is no size.
    #[error("The {which} has no size; give a length above zero")]
    NoSize {
        /// Which object.
        which: &'static str,
    },
    /// Two points that must differ are the same.
    #[error("The points of the {which} coincide; place them apart")]
    PointsCoincide {
        /// Which object.
        which: &'static str,
    },
    /// A lens found in pictures of another shape.
    #[error(
        "The lens was found in pictures of {width} x {height} pixels, which show another field than this recording; choose another lens"
    )]
    OtherShape {
        /// Columns of the picture the lens was found in.
        width: usize,
        /// Rows of it.
        height: usize,
    },
    /// A threshold that is not a share.
    #[error("The threshold for what to look at is a number from 0 to 1, as 0.8; correct it")]
    BadThreshold,
    /// A height that is not a number.
    #[error("The height of the {which} is not a sensible length; give it in millimetres")]
    BadHeight {
        /// Which object.
        which: &'static str,
    },
}

/// Checks every point, frame, time and size of `setup` against the recording.
///
/// # Errors
/// The first fault found.
pub fn check_setup(
    setup: &Setup,
    timeline: &Timeline,
    size: PictureSize,
) -> Result<(), SetupFault> {
    let checker = Checker { timeline, size };
    setup.references.iter().try_for_each(|reference| checker.reference(reference))?;
    if setup.review_below.is_some_and(|share| !(0.0..=1.0).contains(&share)) {
        return Err(SetupFault::BadThreshold);
    }
    if let Some([a, b]) = &setup.target_line {
        checker.mark(a, "target line")?;
        checker.mark(b, "target line")?;
        apart(&[a.point, b.point], "target line")?;
    }
    if let Some(line) = &setup.reach_line {
        checker.mark(line, "reach line")?;
    }
    if let Some(origin) = &setup.origin {
        checker.mark(origin, "ball line")?;
    }
    for edge in &setup.straight_edges {
        edge.iter().try_for_each(|mark| checker.mark(mark, "straight edge"))?;
        let points: Vec<ImagePoint> = edge.iter().map(|mark| mark.point).collect();
        apart(&points, "straight edge")?;
    }
    if let Some(lens) = setup.lens.as_ref().filter(|lens| !lens.fits(size)) {
        let (width, height) = (lens.size.width, lens.size.height);
        return Err(SetupFault::OtherShape { width, height });
    }
    setup.swings.iter().try_for_each(|swing| {
        for (kind, _, mark) in swing.points() {
            checker.mark(&mark, kind.words())?;
        }
        checker.time(swing.strike_time.map(|t| t.0))
    })
}

/// Checks one mark against the recording; frames can't be checked without a `timeline`.
///
/// # Errors
/// It lies outside the picture, or was read in a frame that is not there.
pub fn check_mark(
    mark: &Mark,
    which: &'static str,
    timeline: Option<&Timeline>,
    size: PictureSize,
) -> Result<(), SetupFault> {
    let none = Timeline {
        time_base: TimeBase { numerator: 1, denominator: 1 },
        frames: Vec::new(),
        slow_factor: 1.0,
    };
    Checker { timeline: timeline.unwrap_or(&none), size }.mark(mark, which)
}

/// Whether a reference object may lie so high above the ground, or below it: within a metre.
pub fn is_height(height: Millimetres) -> bool {
    height.is_finite() && height.abs() < Millimetres::METRE
}

struct Checker<'a> {
    timeline: &'a Timeline,
    size: PictureSize,
}

impl Checker<'_> {
    fn reference(&self, reference: &Reference) -> Result<(), SetupFault> {
        let which = name_of(&reference.kind);
        self.frame(reference.frame)?;
        if !is_height(reference.height) {
            return Err(SetupFault::BadHeight { which });
        }
        let (points, sizes) = points_and_sizes(&reference.kind);
        if sizes.iter().any(|size| !(size.is_finite() && *size > 0.0)) {
            return Err(SetupFault::NoSize { which });
        }
        points.iter().try_for_each(|point| self.point(*point, which, self.reach()))?;
        apart(&points, which)
    }

    /// A reference may end so far outside the picture: its end is then known from elsewhere, a
    /// construction or another frame.
    fn reach(&self) -> f64 {
        self.size.width.max(self.size.height) as f64 / 4.0
    }

    fn mark(&self, mark: &Mark, which: &'static str) -> Result<(), SetupFault> {
        self.frame(mark.frame)?;
        self.point(mark.point, which, 0.0)
    }

    fn point(&self, point: ImagePoint, which: &'static str, reach: f64) -> Result<(), SetupFault> {
        if is_within(point, self.size, reach) {
            return Ok(());
        }
        let (width, height) = (self.size.width, self.size.height);
        Err(SetupFault::OutsidePicture { which, x: point.x, y: point.y, width, height })
    }

    fn frame(&self, frame: Option<FrameIndex>) -> Result<(), SetupFault> {
        let frames = self.timeline.len();
        match frame {
            Some(FrameIndex(frame)) if frame >= frames => {
                Err(SetupFault::NoSuchFrame { frame, frames })
            }
            _ => Ok(()),
        }
    }

    fn time(&self, seconds: Option<f64>) -> Result<(), SetupFault> {
        let duration = self.timeline.duration().0;
        match seconds {
            Some(seconds) if !(0.0..=duration).contains(&seconds) => {
                Err(SetupFault::NoSuchTime { seconds, duration })
            }
            _ => Ok(()),
        }
    }
}

/// Whether a point lies in the picture or at most `reach` pixels outside it; the outermost pixels
/// reach half a pixel beyond their centres.
fn is_within(point: ImagePoint, size: PictureSize, reach: f64) -> bool {
    let within =
        |value: f64, size: usize| (-0.5 - reach..=size as f64 - 0.5 + reach).contains(&value);
    within(point.x, size.width) && within(point.y, size.height)
}

/// A warning for each reference that ends outside the picture.
pub(super) fn outside_warnings(setup: &Setup, size: PictureSize) -> Vec<Warning> {
    let is_outside = |reference: &&Reference| {
        points_and_sizes(&reference.kind).0.iter().any(|point| !is_within(*point, size, 0.0))
    };
    let outside = setup.references.iter().filter(is_outside);
    outside.map(|r| Warning::OutsidePicture { which: name_of(&r.kind).into() }).collect()
}

fn name_of(kind: &ReferenceKind) -> &'static str {
    match kind {
        ReferenceKind::Sheet { .. } => "sheet",
        ReferenceKind::FourPoints { .. } => "set of four points",
        ReferenceKind::Line { .. } => "line",
        ReferenceKind::LinePair { .. } => "line pair",
        ReferenceKind::Ball { .. } => "ball's outline",
    }
}

fn points_and_sizes(kind: &ReferenceKind) -> (Vec<ImagePoint>, Vec<f64>) {
    match kind {
        ReferenceKind::Sheet { size, corners } => (corners.to_vec(), vec![size[0].0, size[1].0]),
        ReferenceKind::FourPoints { sides, diagonal, points } => {
            (points.to_vec(), sides.iter().chain([diagonal]).map(|mm| mm.0).collect())
        }
        ReferenceKind::Line { length, ends } => (ends.to_vec(), vec![length.0]),
        ReferenceKind::LinePair { distance, lines } => (lines.concat(), vec![distance.0]),
        ReferenceKind::Ball { outline } => match outline {
            Some((centre, diameter)) => (vec![*centre], vec![diameter.0]),
            None => (Vec::new(), Vec::new()),
        },
    }
}

/// Points nearer to each other than this are one point clicked twice.
const SAME_POINT_PX: f64 = 0.5;

fn apart(points: &[ImagePoint], which: &'static str) -> Result<(), SetupFault> {
    let pairs =
        points.iter().enumerate().flat_map(|(i, a)| points[..i].iter().map(move |b| (a, b)));
    for (a, b) in pairs {
        if a.distance(*b) < SAME_POINT_PX {
            return Err(SetupFault::PointsCoincide { which });
        }
    }
    Ok(())
}
