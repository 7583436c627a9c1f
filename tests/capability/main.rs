//! One module for each thing a user can do.

mod support;
mod timing;
