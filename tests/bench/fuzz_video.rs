//! Reads damaged copies of a recording, from one number to another: `fuzz-video RECORDING FROM TO`.
//!
//! Prints the number at work, so that a crash or a hang names its input; a short fixed run of the
//! same damage is among the tests.

#[path = "../capability/support/mutate.rs"]
mod mutate;

use std::time::{Duration, Instant};

use clap::Parser;
use scuffline::domain::{FrameIndex, Pictures};
use scuffline::video::Recording;

#[derive(Parser)]
struct Args {
    /// A small recording.
    recording: std::path::PathBuf,
    /// The first number.
    from: u64,
    /// One past the last number.
    to: u64,
}

fn main() {
    let args = Args::parse();
    let original = std::fs::read(&args.recording).expect("the recording can be read");
    let kind = args.recording.extension().unwrap_or_default().to_string_lossy().into_owned();
    let copy = std::env::temp_dir().join(format!("scuffline-fuzz-{}.{kind}", std::process::id()));
    let mut opened = 0;
    for number in args.from..args.to {
        std::fs::write(&copy, mutate::damaged(&original, number)).expect("there is room");
        let start = Instant::now();
        opened += u64::from(read(&copy));
        if start.elapsed() > Duration::from_secs(10) {
            println!("{number}: took {:.1} s", start.elapsed().as_secs_f64());
        }
    }
    let _ = std::fs::remove_file(&copy);
    println!("{} inputs, {opened} of them opened, no panic", args.to - args.from);
}

fn read(path: &std::path::Path) -> bool {
    let Ok(mut recording) = Recording::open(path) else { return false };
    let count = recording.timeline().len();
    for frame in [0, count / 2, count - 1, count / 3] {
        let _ = recording.gray(FrameIndex(frame));
        let _ = recording.colour(FrameIndex(frame));
        let _ = recording.prepare(FrameIndex(frame));
    }
    let _ = recording.for_each_gray(FrameIndex(0), FrameIndex(count), &mut |_, _| true);
    let _ = recording.sound();
    if let Ok(mut sketcher) = recording.sketcher() {
        let _ = sketcher.near(FrameIndex(count / 2), 50);
        let _ = sketcher.small(FrameIndex(count / 3), 0, 50);
    }
    true
}
