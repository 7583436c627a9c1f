//! What of one swing is measured: what a person placed, else what was found.

use crate::domain::{
    BallOutline, Club, Found, GroundMark, ImagePoint, Mark, Pixels, Register, Seconds, Setup,
    SwingKind,
};
use crate::geometry::{ImageMark, MiddleLine, Origin};

use super::SwingInput;

impl SwingInput {
    pub(super) fn found_mark(&self) -> Option<Found<GroundMark>> {
        self.found.as_ref()?.ground_mark
    }

    pub(super) fn found_ball(&self) -> Option<Found<BallOutline>> {
        self.found.as_ref()?.ball
    }

    /// The ball's centre, given or found.
    pub fn ball_point(&self) -> Option<ImagePoint> {
        let given = self.given.ball.map(|mark| mark.point);
        given.or_else(|| self.found_ball().map(|ball| ball.value.centre))
    }

    /// Whether its offsets count from something of its own: a ball, a tee, or a point that a person
    /// marked for it.
    pub fn has_own_zero(&self) -> bool {
        self.ball_point().is_some() || self.given.tee.is_some() || self.given.origin.is_some()
    }

    pub(super) fn club<'a>(&'a self, setup: &'a Setup) -> Option<&'a Club> {
        self.club.as_ref().or(setup.club.as_ref())
    }

    /// The point that stands in for the ball in a practice swing.
    pub(super) fn stand_in(&self, setup: &Setup) -> Option<Mark> {
        self.given.origin.or(setup.origin)
    }

    pub(super) fn kind(&self) -> SwingKind {
        let found = self.found.as_ref().map(|found| found.kind.value);
        let guess = if self.given.ball.is_some() { SwingKind::Strike } else { SwingKind::Practice };
        self.kind.or(found).unwrap_or(guess)
    }

    pub(super) fn strike_time(&self) -> Option<Seconds> {
        self.given.strike_time.or_else(|| self.found.as_ref().map(|f| f.strike_time.value))
    }

    pub(super) fn start(&self) -> Option<Placed> {
        if self.given.has_no_mark() {
            return None;
        }
        placed(self.given.divot_start, self.found.as_ref().and_then(|f| f.divot_start))
    }

    /// How well what was read of the ball lies on what was read of the mark: of the ground before
    /// and after on each other, or between the frames of a person's marks.
    pub(super) fn steadying(&self, one: &Placed, other: &Placed) -> Pixels {
        let found = self.found.as_ref().map_or(0.0, |found| found.steadying_sigma.0);
        match (one.read, other.read) {
            (Read::Found, Read::Found) => Pixels(found),
            (Read::Given(one), Read::Given(other)) => Register::between(one, other),
            (Read::Given(given), Read::Found) | (Read::Found, Read::Given(given)) => {
                Pixels(found.hypot(given.map_or(0.0, |register| register.sigma.0)))
            }
        }
    }

    /// Two places that the club's path passes over: start and end where a person put both on the
    /// mark's middle, else its middle line as it was found.
    pub(super) fn middle_line(&self) -> Option<MiddleLine> {
        if self.given.has_no_mark() {
            return None;
        }
        if let (Some(start), Some(end)) = (self.given.divot_start, self.given.divot_end) {
            return Some(MiddleLine::Clicked([start, end].map(|mark| ImageMark::steadied(&mark))));
        }
        let line = self.found.as_ref()?.mark_line?;
        let end = |point| ImageMark { point, sigma: [line.across; 2] };
        Some(MiddleLine::Fitted(line.ends.map(end)))
    }

    pub(super) fn end(&self) -> Option<Placed> {
        if self.given.has_no_mark() {
            return None;
        }
        placed(self.given.divot_end, self.found.as_ref().and_then(|f| f.divot_end))
    }
}

/// A mark as it was placed, without what is doubtful of the frame it was read in.
#[derive(Clone, Copy)]
pub(super) struct Placed {
    pub(super) mark: ImageMark,
    pub(super) read: Read,
}

/// By whom a mark was read, and by a person in which frame.
#[derive(Clone, Copy)]
pub(super) enum Read {
    Found,
    Given(Option<Register>),
}

impl Placed {
    pub(super) fn given(mark: Mark) -> Self {
        Self { mark: ImageMark::click(mark.point), read: Read::Given(mark.register) }
    }

    pub(super) fn found(point: ImagePoint, sigma: f64) -> Self {
        Self { mark: ImageMark::found(point, sigma), read: Read::Found }
    }

    /// With all that is doubtful of where it lies in the steadied picture.
    pub(super) fn absolute(&self) -> ImageMark {
        match self.read {
            Read::Given(Some(register)) => self.mark.with_register(register.sigma),
            Read::Given(None) | Read::Found => self.mark,
        }
    }
}

fn placed(given: Option<Mark>, found: Option<Found<ImagePoint>>) -> Option<Placed> {
    match given {
        Some(mark) => Some(Placed::given(mark)),
        None => found.map(|found| Placed::found(found.value, found.sigma)),
    }
}

/// What a swing's offsets are counted from.
#[derive(Clone, Copy)]
pub(super) struct Zero {
    pub(super) placed: Placed,
    pub(super) origin: fn(ImageMark, bool) -> Origin,
    pub(super) on_tee: bool,
}

impl Zero {
    /// A point on the ground in the place of a ball.
    pub(super) fn stand_in(mark: Mark) -> Self {
        let origin = |mark, _| Origin::Ground(mark);
        Self { placed: Placed::given(mark), origin, on_tee: false }
    }

    /// For marks to which how far it is off by the register is told apart.
    pub(super) fn relative(&self) -> Origin {
        (self.origin)(self.placed.mark, self.on_tee)
    }

    /// With all that is doubtful of where it lies in the steadied picture.
    pub(super) fn absolute(&self) -> Origin {
        (self.origin)(self.placed.absolute(), self.on_tee)
    }
}
