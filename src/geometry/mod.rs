//! Picture to ground: calibration, lens, arc, budget.
//!
//! No input or output, no clock, no thread. Same input, same answer.
