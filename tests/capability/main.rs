//! One module for each thing a user can do.

mod abuse;
mod bundle;
mod calibrate;
mod care;
mod compare;
mod demo;
mod doors;
mod exchanged;
mod export;
#[cfg(target_os = "linux")]
mod failing_disk;
mod faults;
mod find_swing;
mod find_turf_change;
mod hostile;
mod house;
#[cfg(target_os = "linux")]
mod kept_inside;
mod knocked;
mod lens;
mod library;
mod measure;
mod notebook;
mod odd_film;
mod package;
mod plans;
mod published;
mod real_window;
mod reference;
mod register;
mod report;
mod screens;
mod stats;
mod store;
mod support;
mod timing;
mod together;
mod video_verbs;
mod window;
