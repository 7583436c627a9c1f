//! Invented scenes with exact truth.
//!
//! Never reads what `vision` found; it knows only the truth, so it can judge.
