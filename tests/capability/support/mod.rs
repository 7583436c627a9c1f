//! Helpers shared by the capability tests.
