//! Ball, mark in the ground, club head, steadying: what the pictures show.
//!
//! No input or output, no clock, no thread. Same input, same answer; pictures are handed in
//! through [`crate::domain::Pictures`].
