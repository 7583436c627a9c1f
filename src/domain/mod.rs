//! What we talk about: units, points, frames, the set-up, a swing, a number with its doubt.
//!
//! No input or output, no clock, no thread. Same input, same answer.

mod frame;
mod ground_words;
mod length;
mod lens;
mod measured;
mod people;
mod pictures;
mod point;
mod reference_words;
mod sentence;
mod session;
mod setup;
mod swing;
mod swing_number;
mod units;
mod warning;

pub use frame::{FrameEntry, Timeline};
pub use ground_words::{GroundAnswer, MarkWord};
pub use length::{LengthUnit, NoLength, TypedLength};
pub use lens::{Known, LensProfile};
pub use measured::{Contribution, Interval, Measured, Source};
pub use people::{Club, Golfer, Handed, Lie};
pub use pictures::{ColourFrame, GrayFrame, PictureError, PictureSize, Pictures, Sound};
pub use point::{GroundPoint, ImagePoint, ScreenPoint, WorldPoint};
pub use reference_words::SHEETS;
pub use sentence::{capital, counted, excerpt};
pub use session::{BallUse, Block, MarkKind, Part, Phase, PlacedBy, PlacedMark, Quantity, Session};
pub use setup::{
    Direction, Mark, ProposedLine, ProposedReference, Reference, ReferenceKind, Register, Setup,
    Surface, SwingMarks,
};
pub use swing::{
    BallOutline, ClubHeadSighting, ContactOrder, Found, FoundSwing, GroundMark, LowPointMethod,
    MarkLine, Reviewable, SwingKind, SwingResult,
};
pub use swing_number::SwingNumber;
pub use units::{
    FrameIndex, MetresPerSecond, Millimetres, MillimetresPerPixel, Pixels, Pts, Seconds, TimeBase,
};
pub use warning::Warning;
