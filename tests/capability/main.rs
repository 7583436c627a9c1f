//! One module for each thing a user can do.

mod calibrate;
mod find_swing;
mod measure;
mod store;
mod demo;
mod support;
mod timing;
