//! Ball, mark in the ground, club head, steadying: what the pictures show.
//!
//! No input or output, no clock, no thread. Same input, same answer; pictures are handed in
//! through [`crate::domain::Pictures`].

mod ball;
mod chessboard;
mod clear_plate;
mod club_head;
mod club_sole;
mod colours;
mod edge;
mod find;
mod ground_strip;
mod hints;
mod leaving_ball;
mod light;
mod mark_edges;
mod mark_shape;
mod mat_edge;
mod met;
mod motion;
mod pace;
mod phase_correlation;
mod plane;
mod references;
mod runs;
mod seam;
mod shaft;
mod sound;
mod steady;
mod stick;
mod swings;
mod torn;
mod turf_change;
mod unbroken;
mod unseen;
mod window;

pub use chessboard::find_chessboard;
pub use find::{SearchStep, find_swings};
pub use hints::{GivenStrike, Hints};
pub use mat_edge::{FoundEdge, find_mat_edges};
pub use references::{FoundSheet, find_sheets};
pub use sound::{Click, ClickFinder, SPEED_OF_SOUND, find_clicks};
pub use steady::{Motion, Steadying};
pub use stick::{FoundStick, find_stick};
pub use torn::{Tear, find_tear};
pub use turf_change::{
    BeforeAfter, GroundMarkFinding, GroundMarkRequest, before_after, find_ground_mark,
};
