//! Helpers shared by the capability tests.

pub mod truth;
