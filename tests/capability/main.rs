//! One module for each thing a user can do.

mod calibrate;
mod measure;
mod support;
mod timing;
