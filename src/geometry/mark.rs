//! What is marked at the ground: the ball, and the mark that the club leaves.

use crate::domain::{ImagePoint, Mark, Millimetres, Pixels};

/// A click's standard uncertainty in each coordinate, pixels: half a pixel, the resolution that a
/// loupe gives (common practice, no source).
pub const CLICK_SIGMA: f64 = 0.5;
/// The ball's least diameter, mm.
pub const BALL_DIAMETER: f64 = Millimetres::BALL.0;
/// Height of a mark's edge about the ground plane, mm, standard: bare soil lies some millimetres
/// under the level the ball rests on, the grass beside it some above (common practice, no source).
pub(super) const MARK_HEIGHT_SPREAD: f64 = 2.0;
/// By how much of that the two ends of one mark differ, each by itself: both are cut into the same
/// turf, so most of it they share (common practice, no source).
pub(super) const MARK_HEIGHT_OWN: f64 = 1.0;
/// How far a ball settles into grass, mm, standard (common practice, no source).
pub(super) const SETTLING: f64 = 2.0;
/// A tee's height, mm: 20 to 50 for drivers and irons; the Equipment Rules only bound its length
/// by 101.6 mm.
pub(super) const TEE_HEIGHT: f64 = 35.0;
pub(super) const TEE_SPREAD: f64 = 15.0;

/// Height over the ground of what a ball rests on, and its standard uncertainty, mm.
pub fn ball_rest(on_tee: bool) -> (f64, f64) {
    if on_tee { (TEE_HEIGHT, TEE_SPREAD) } else { (0.0, SETTLING) }
}

/// The standard uncertainty of a point on something of known size, pixels: as said with it, else a
/// click's.
pub fn placed_sigma(said: Option<Pixels>) -> f64 {
    said.map_or(CLICK_SIGMA, |sigma| sigma.0)
}
/// How near to the middle of a mark a person marks each of its ends across the target line, mm.
pub(super) const CLICKED_MIDDLE: f64 = 3.0;
/// How far each end of a line fitted to the whole mark wanders from its middle, mm: frayed edges
/// count in the line's own uncertainty already.
const FITTED_MIDDLE: f64 = 1.5;
/// By how much the whole of a mark lies to one side of the leading edge's middle, mm: a toe or
/// heel that is deeper cuts wider on its side, from end to end.
pub(super) const MIDDLE_SHIFT: f64 = 3.0;

/// A point of the steadied picture with its standard uncertainty in x and y, pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ImageMark {
    /// Where.
    pub point: ImagePoint,
    /// Standard uncertainty in the picture's x and y.
    pub sigma: [Pixels; 2],
}

impl ImageMark {
    /// A mark that a person placed with the loupe.
    pub fn click(point: ImagePoint) -> Self {
        Self::found(point, CLICK_SIGMA)
    }

    /// A mark with the same standard uncertainty both ways, pixels.
    pub fn found(point: ImagePoint, sigma: f64) -> Self {
        Self { point, sigma: [Pixels(sigma); 2] }
    }

    /// What a person placed, with all that is not sure of where it lies in the steadied picture.
    pub fn steadied(mark: &Mark) -> Self {
        Self::click(mark.point).with_register(mark.register_sigma())
    }

    /// The same with the doubt of a register beside its own.
    pub fn with_register(self, register: Pixels) -> Self {
        Self { sigma: self.sigma.map(|own| Pixels(own.0.hypot(register.0))), ..self }
    }
}

/// What offsets are counted from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Origin {
    /// A ball's centre as seen; zero is the ground straight below it.
    Ball {
        /// The centre of its outline.
        centre: ImageMark,
        /// It stands on a tee, the height of which nobody knows.
        on_tee: bool,
    },
    /// Where a tee goes into the ground, straight below the ball it holds.
    Tee(ImageMark),
    /// A point on the ground that stands in for the ball.
    Ground(ImageMark),
}

impl Origin {
    /// The mark it was placed by.
    pub fn mark(&self) -> ImageMark {
        match self {
            Self::Ball { centre, .. } => *centre,
            Self::Tee(mark) | Self::Ground(mark) => *mark,
        }
    }

    /// The point it was placed at and how high above the ground that is.
    pub fn place(&self) -> (ImagePoint, Millimetres) {
        (self.mark().point, Millimetres(self.height().0))
    }

    /// Height over the ground of what the ball rests on, and its standard uncertainty, mm.
    pub(super) fn rest(&self) -> (f64, f64) {
        match self {
            Self::Ball { on_tee, .. } => ball_rest(*on_tee),
            Self::Tee(_) => ball_rest(true),
            Self::Ground(_) => (0.0, 0.0),
        }
    }

    /// Height of the marked point over the ground and its standard uncertainty, mm.
    pub fn height(&self) -> (f64, f64) {
        match self {
            Self::Ball { on_tee, .. } => {
                let (rest, spread) = ball_rest(*on_tee);
                (BALL_DIAMETER / 2.0 + rest, spread)
            }
            // Grass hides the very place; a ball's settling is of the same size.
            Self::Tee(_) => (0.0, SETTLING),
            Self::Ground(_) => (0.0, 0.0),
        }
    }
}

/// The line along the middle of a mark on the ground, by its two ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MiddleLine {
    /// Both ends were marked by a person.
    Clicked([ImageMark; 2]),
    /// Fitted to the whole mark.
    Fitted([ImageMark; 2]),
}

impl MiddleLine {
    pub(super) fn ends(&self) -> &[ImageMark; 2] {
        match self {
            Self::Clicked(ends) | Self::Fitted(ends) => ends,
        }
    }

    /// How near each end is to the mark's middle, mm, standard.
    pub(super) fn spread(&self) -> f64 {
        match self {
            Self::Clicked(_) => CLICKED_MIDDLE,
            Self::Fitted(_) => FITTED_MIDDLE,
        }
    }
}
