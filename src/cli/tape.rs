//! `scuffline tape`: what a tape measure said beside the program's numbers.

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::bail;
use clap::{Args, ValueEnum};

use super::mark::nth_swing;
use super::scan::recording_of;
use crate::domain::{Quantity, TypedLength};
use crate::store::Of;
use crate::workflow::{
    TAPE_REACH, add_tape_value, chosen_unit, golfer_named, place_words, tape_study,
};

/// Of which swing, and what the tape said.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline tape swing.mp4 --swing 1 divot-start -22mm    22 mm behind the ball by the tape
  scuffline tape swing.mp4 --swing 1 divot-end 5.5in
  scuffline tape                                          what all tape values say, each distance by itself")]
pub struct TapeArgs {
    /// The recording; it must be in the library. Without it, the golfer's pairs are summed up.
    #[arg(value_name = "RECORDING", requires = "what")]
    pub recording: Option<PathBuf>,

    /// Which distance from the ball.
    #[arg(value_enum, value_name = "WHAT", requires = "length")]
    pub what: Option<What>,

    /// From the ball along the target line; ahead is positive. Without a unit (mm, cm, m, in, ft),
    /// in the library's.
    #[arg(value_name = "LENGTH", allow_hyphen_values = true)]
    pub length: Option<TypedLength>,

    /// The swing, counted from 1 in order of time.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub swing: usize,

    /// Whose tape values to sum up; without it, those of the recording's golfer, else the first.
    #[arg(long, value_name = "NAME")]
    pub golfer: Option<String>,
}

/// What a tape can measure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum What {
    /// Where the mark in the ground begins.
    DivotStart,
    /// Where it ends.
    DivotEnd,
    /// Where the club was deepest.
    LowPoint,
}

impl What {
    fn quantity(self) -> Quantity {
        match self {
            Self::DivotStart => Quantity::DivotStart,
            Self::DivotEnd => Quantity::DivotEnd,
            Self::LowPoint => Quantity::LowPoint,
        }
    }
}

/// Keeps a tape value, if one is given, and prints every pair with bias, limits of agreement and
/// whether the ± kept its word.
///
/// # Errors
/// The recording is not in the library or has no such swing; nothing is changed then.
pub fn run(args: &TapeArgs, library: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let mut library = super::open_library(library)?;
    let golfer = match (&args.recording, args.what, args.length) {
        (Some(recording), Some(what), Some(length)) => {
            let mm = length.mm(chosen_unit(&library)?);
            if mm.abs() > TAPE_REACH.0 {
                bail!("What a tape says lies within 2 m (78 in) of the ball; say another length");
            }
            let row = recording_of(&library, recording)?;
            let rows = library.swings(Of::Recording(row.id))?;
            let swing = nth_swing(&rows, args.swing)?;
            add_tape_value(&mut library, swing, what.quantity(), mm)?;
            library.session(row.session)?.golfer
        }
        _ => golfer_named(&mut library, args.golfer.as_deref())?,
    };
    let unit = chosen_unit(&library)?;
    let study = tape_study(&library, golfer)?;
    for pair in &study.pairs {
        let kept = if pair.held() { "within" } else { "outside" };
        writeln!(
            out,
            "{:<12} program {}, tape {}: {kept} the ±",
            pair.quantity.words(),
            crate::workflow::words_for_offset(&pair.stated(), unit),
            place_words(pair.tape_mm, unit),
        )?;
    }
    for line in study.words(unit) {
        writeln!(out, "{line}")?;
    }
    Ok(())
}
