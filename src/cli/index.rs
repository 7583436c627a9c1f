//! `scuffline index`: the frames of a recording and when each is shown.

use std::io::Write;
use std::path::PathBuf;

use serde::Serialize;

use crate::domain::{FrameIndex, Pictures};
use crate::video::Recording;

/// Print the frames of a recording: their time stamps in presentation order.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  scuffline index swing.mp4 --json")]
pub struct IndexArgs {
    /// The recording.
    pub recording: PathBuf,
    /// Print one JSON object instead of a table.
    #[arg(long)]
    pub json: bool,
}

#[derive(Serialize)]
struct Printed {
    schema: u32,
    time_base: [i32; 2],
    width: usize,
    height: usize,
    rotation: u16,
    mirrored: bool,
    frames: Vec<PrintedFrame>,
}

#[derive(Serialize)]
struct PrintedFrame {
    pts: i64,
    time_s: f64,
    key: bool,
}

/// Prints the index to `out`.
///
/// # Errors
/// If the recording cannot be read or `out` cannot be written.
pub fn run(args: &IndexArgs, out: &mut dyn Write) -> anyhow::Result<()> {
    let recording = Recording::open(&args.recording)?;
    let printed = describe(&recording);
    if args.json {
        serde_json::to_writer(&mut *out, &printed)?;
        writeln!(out)?;
        return Ok(());
    }
    let Printed { width, height, rotation, .. } = printed;
    let [numerator, denominator] = printed.time_base;
    writeln!(out, "{width} x {height} pixels as displayed, turned {rotation}° clockwise")?;
    writeln!(out, "time stamps in {numerator}/{denominator} s")?;
    writeln!(out, "{:>7} {:>12} {:>12}  key", "frame", "stamp", "seconds")?;
    for (i, frame) in printed.frames.iter().enumerate() {
        let key = if frame.key { "yes" } else { "" };
        writeln!(out, "{i:>7} {:>12} {:>12.6}  {key}", frame.pts, frame.time_s)?;
    }
    Ok(())
}

fn describe(recording: &Recording) -> Printed {
    let (facts, timeline) = (recording.facts(), recording.timeline());
    let frames = timeline.frames.iter().enumerate().map(|(i, frame)| PrintedFrame {
        pts: frame.pts.0,
        time_s: timeline.time_of(FrameIndex(i)).0,
        key: frame.key,
    });
    Printed {
        schema: 1,
        time_base: [timeline.time_base.numerator, timeline.time_base.denominator],
        width: facts.width,
        height: facts.height,
        rotation: facts.rotation,
        mirrored: facts.mirrored,
        frames: frames.collect(),
    }
}
