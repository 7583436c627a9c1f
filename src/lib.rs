//! scuffline reads, from face-on phone video, where the club met the turf and
//! where the swing bottomed out relative to the ball, with an honest ±.
//!
//! The rooms, in reading order. Arrows point one way only: each room may use
//! those above it, never those below.
//!
//! | room | what lives there |
//! |---|---|
//! | [`domain`] | what we talk about: units, points, frames, set-up, swing, [`domain::Measured`] |
//! | [`geometry`] | picture to ground: calibration, lens, arc, budget |
//! | [`stats`] | spread, intervals, comparison |
//! | [`vision`] | ball, mark in the ground, club head, steadying |
//! | [`demo`] | invented scenes with exact truth, for judging the rooms above |
//! | [`video`] | the only room that sees FFmpeg |
//! | [`store`] | the only room that knows SQL |
//! | [`report`] | finished numbers, written down |
//! | [`workflow`] | puts the rooms together; jobs with progress and cancel |
//! | [`app`] | the window; the only room that sees egui |
//! | [`cli`] | arguments to one workflow request to printed lines |

pub mod domain;

pub mod geometry;
pub mod stats;

pub mod demo;
pub mod report;
pub mod vision;

pub mod store;
pub mod video;

pub mod workflow;

pub mod app;
pub mod cli;
