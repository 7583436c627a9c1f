//! One module for each thing a user can do.

mod abuse;
mod bundle;
mod calibrate;
mod care;
mod compare;
mod demo;
mod doors;
mod export;
mod find_swing;
mod find_turf_change;
mod house;
mod kept_inside;
mod library;
mod measure;
mod package;
mod real_window;
mod reference;
mod register;
mod report;
mod screens;
mod stats;
mod store;
mod support;
mod timing;
mod video_verbs;
mod window;
