//! `scuffline measure`: the fixed contract for scripts, and the same numbers in words.

mod output;
pub mod setup_file;

pub(super) use output::write_swing;

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;

use crate::domain::{LengthUnit, Setup};
use crate::workflow;

use super::describe::words;
use super::progress::told;

/// What to measure and how to print it.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline measure swing.mp4
  scuffline measure swing.mp4 --unit inch
  scuffline measure swing.mp4 --setup setup.json --json

Offsets run along the target line from the ball: ahead is toward the target.
The set-up file and the printed fields are described in docs/formats.md.")]
pub struct MeasureArgs {
    /// The recording.
    #[arg(value_name = "RECORDING")]
    pub recording: PathBuf,

    /// What is known about the recording: reference objects, target, marks.
    #[arg(long, value_name = "SETUP.json")]
    pub setup: Option<PathBuf>,

    /// Print JSON for scripts instead of words; its lengths are always millimetres.
    #[arg(long)]
    pub json: bool,

    /// The unit of lengths in the words; without it the library's, where there is one.
    #[arg(long, value_name = "UNIT", value_parser = words::<LengthUnit>(&["mm", "cm", "inch"]))]
    #[arg(conflicts_with = "json")]
    pub unit: Option<LengthUnit>,
}

/// Measures a recording and prints every swing.
///
/// # Errors
/// One sentence: the recording or the set-up can't be used; nothing is printed then.
pub fn run(args: &MeasureArgs, library: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let setup = match &args.setup {
        Some(path) => setup_file::read_setup(path)?,
        None => Setup::default(),
    };
    let measurement = told(|progress| workflow::measure_file(&args.recording, &setup, progress))?;
    let text = if args.json {
        serde_json::to_string_pretty(&output::json(&measurement))?
    } else {
        output::words(&measurement, args.unit.unwrap_or_else(|| unit_of(library)))
    };
    writeln!(out, "{}", text.trim_end())?;
    Ok(())
}

/// The unit chosen in the library, where there is one: measuring makes none and writes nothing.
fn unit_of(library: Option<&Path>) -> LengthUnit {
    let place = super::library_place(library);
    place.map_or(LengthUnit::default(), |place| workflow::unit_at(&place))
}
