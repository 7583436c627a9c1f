//! Why a geometric question has no answer.

/// What went wrong; each sentence says what to do.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum GeometryError {
    /// Nothing of known size.
    #[error("Nothing of known size is marked; mark a sheet, four points, a stick or the ball.")]
    NoReference,
    /// More reference objects than are adjusted together in a time that can be waited for.
    #[error(
        "{found} reference objects are marked, more than the {most} that are adjusted together; remove some."
    )]
    TooMany {
        /// How many there are.
        found: usize,
        /// How many there may be.
        most: usize,
    },
    /// A length that is zero, negative or not a number.
    #[error("The size given for the {which} is no length above zero; correct it.")]
    BadSize {
        /// The reference object, in plain words.
        which: String,
    },
    /// Sides and a diagonal that close no figure.
    #[error("These four sides and this diagonal make no figure; measure them again.")]
    NoFigure,
    /// Points that coincide or lie in a line where they must not.
    #[error("The marked points of the {which} coincide or lie in one line; mark them again.")]
    Degenerate {
        /// The reference object, in plain words.
        which: String,
    },
    /// A coordinate, or an uncertainty, that is not usable.
    #[error("A coordinate of the {which} is not a usable number; mark it again.")]
    NotFinite {
        /// What was marked, in plain words.
        which: String,
    },
    /// No camera over the ground sees the references as they were marked.
    #[error(
        "No camera above the ground could see the {which} as marked; check the order of its points and its size."
    )]
    NoCamera {
        /// The reference objects, in plain words.
        which: String,
    },
    /// A point at or above the horizon has no place on the ground.
    #[error(
        "The {which} does not lie on the ground as the camera sees it; place it below the horizon."
    )]
    AboveHorizon {
        /// What was marked, in plain words.
        which: String,
    },
    /// Fewer than three usable sightings of the club head.
    #[error(
        "Only {found} frames show the club head near the ball; three are needed for an arc, so record at 120 frames a second or more."
    )]
    TooFewSightings {
        /// How many there were.
        found: usize,
    },
    /// The path's bulge drowns in its scatter.
    #[error(
        "The club head's path bulges by {sagitta:.1} px against a scatter of {scatter:.1} px, too straight for a radius; record more of the swing's bottom."
    )]
    NearlyStraight {
        /// The bulge between its ends, pixels.
        sagitta: f64,
        /// Standard uncertainty of it, pixels.
        scatter: f64,
    },
    /// The path is highest in its middle.
    #[error(
        "The club head's path bends upwards, as no swing does; check the marks of the club head."
    )]
    BentUpwards,
    /// The adjustment found no answer.
    #[error("The {what} did not settle on an answer; check the marks.")]
    NotSettled {
        /// Which adjustment.
        what: String,
    },
    /// Too little to fit a lens from.
    #[error(
        "The lens needs at least {needed} and got {found}; mark more straight edges or show the board more often."
    )]
    TooLittleForLens {
        /// What is needed, in plain words.
        needed: String,
        /// What there was, in plain words.
        found: String,
    },
}
