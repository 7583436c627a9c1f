//! Spread, intervals, comparison of blocks of swings.
//!
//! No input or output, no clock, no thread. Same input, same answer.
