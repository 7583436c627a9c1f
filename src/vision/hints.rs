//! What is known before and while a swing is looked at.

use super::sound::Click;
use super::steady::Motion;
use super::window::Clock;
use crate::domain::{ImagePoint, Millimetres, MillimetresPerPixel, Seconds, Surface};

/// A swing that a person has pointed out.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct GivenStrike {
    /// When, on the playback clock.
    pub time: Option<Seconds>,
    /// The ball's centre in the steadied picture, if a person placed it.
    pub ball: Option<ImagePoint>,
    /// The ground point that stands in for the ball in this practice swing.
    pub origin: Option<ImagePoint>,
}

/// What is known before looking.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Hints {
    /// Swings that a person has pointed out.
    pub given: Vec<GivenStrike>,
    /// Look for no others.
    pub only_given: bool,
    /// What the ball lies on.
    pub surface: Option<Surface>,
    /// Millimetres a pixel at the ball; `None`: from the ball's own size.
    pub scale: Option<MillimetresPerPixel>,
    /// From the camera to the ball; `None`: from the ball's size for a usual phone lens.
    pub camera_distance: Option<Millimetres>,
    /// The way to the target in the picture, a unit vector; `None`: level.
    pub target_line: Option<[f64; 2]>,
    /// A ground point that stands in for the ball in practice swings.
    pub origin: Option<ImagePoint>,
    /// How fast the film plays is a guess: a strike needs a club that is seen to turn, and a ball
    /// that is gone from one picture to the next.
    pub is_speed_guessed: bool,
}

/// What is known when one swing is looked at.
pub(crate) struct Look<'a> {
    pub clock: &'a Clock,
    /// `None`: there is no sound.
    pub clicks: Option<&'a [Click]>,
    pub hints: &'a Hints,
    pub given: Option<&'a GivenStrike>,
    /// How the picture has moved, at the strike, since the first frame.
    pub motion: Motion,
    /// The length of the longest club seen in any swing, pixels.
    pub longest: f64,
    /// Only a ball that is gone from one picture to the next counts as struck, since a hand or a
    /// foot can take one away slowly.
    pub at_once: bool,
}
