//! `scuffline lens`: lenses found once, kept in the library and used again.

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::{Args, Subcommand};

use super::measure::setup_file::read_setup;
use super::scan::recording_of;
use crate::domain::{LensProfile, Pictures};
use crate::store::{Library, Scope};
use crate::video::Recording;
use crate::workflow::{
    KeptLens, check_setup, keep_lens, kept_lenses, lens_of_board, lens_of_edges, lens_words,
    remeasure, steadied_setup, use_lens,
};

/// What to do with lenses.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline lens make \"my phone, 1x\" board.mp4 --board 9x6
  scuffline lens make \"my phone, 1x\" mat.mp4 --setup edges.json
  scuffline lens list
  scuffline lens use \"my phone, 1x\" swing.mp4
  scuffline lens print \"my phone, 1x\"       for the field \"lens\" of a set-up file

The set-up file marks three points or more along edges that are straight in the world, near the
picture's edges: \"straight_edges_px\": [[[12,640],[630,652],[1270,645]], …]")]
pub struct LensArgs {
    /// What to do.
    #[command(subcommand)]
    pub verb: LensVerb,
}

/// What can be done with lenses.
#[derive(Debug, Subcommand)]
pub enum LensVerb {
    /// Find a lens from straight edges marked in a recording, and keep it.
    Make {
        /// As it shall be called: phone and lens.
        name: String,
        /// A recording made with it.
        recording: PathBuf,
        /// Where straight edges are marked.
        #[arg(long, value_name = "SETUP.json", required_unless_present = "board")]
        setup: Option<PathBuf>,
        /// Inner corners of a chessboard that the recording shows in three ways or more, as 9x6.
        #[arg(long, value_name = "AxB", conflicts_with = "setup", value_parser = board)]
        board: Option<[usize; 2]>,
    },
    /// List the lenses of the library.
    List,
    /// Measure a recording of the library by a lens.
    Use {
        /// The lens.
        name: String,
        /// The recording; it must be in the library.
        recording: PathBuf,
    },
    /// Print a lens as JSON.
    Print {
        /// The lens.
        name: String,
    },
    /// Forget a lens; what was set up with it keeps its numbers.
    Forget {
        /// The lens.
        name: String,
    },
}

/// Carries out what was asked.
///
/// # Errors
/// There is no such lens or recording, or the edges tell no lens; nothing is changed then.
pub fn run(args: &LensArgs, library: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let mut library = super::open_library(library)?;
    match &args.verb {
        LensVerb::Make { name, recording, setup, board } => {
            let mut file = Recording::open(recording)?;
            let lens = match (board, setup) {
                (Some([columns, rows]), _) => {
                    let (lens, views) = lens_of_board(&mut file, *columns, *rows)?;
                    writeln!(out, "The board was seen in {views} ways.")?;
                    lens
                }
                (None, Some(setup)) => edges(&mut file, setup)?,
                (None, None) => anyhow::bail!("Say --board or --setup"),
            };
            keep_lens(&mut library, name, file.facts().camera.as_deref(), &lens)?;
            writeln!(out, "{}: {}", name.trim(), lens_words(&lens))?;
        }
        LensVerb::List => list(&library, out)?,
        LensVerb::Use { name, recording } => {
            let kept = lens_named(&library, name)?;
            let row = recording_of(&library, recording)?;
            let size = Recording::open(recording)?.size();
            anyhow::ensure!(
                kept.lens.fits(size),
                "The lens was found in pictures of another shape; choose one found at this format"
            );
            use_lens(&mut library, row.id, Some(&kept))?;
            remeasure(&mut library, row.id)?;
            writeln!(out, "{} is used", kept.name)?;
        }
        LensVerb::Print { name } => {
            let kept = lens_named(&library, name)?;
            writeln!(out, "{}", serde_json::to_string_pretty(&kept.lens)?)?;
        }
        LensVerb::Forget { name } => {
            let kept = lens_named(&library, name)?;
            let words = format!("lens {}", kept.name);
            library.edit(Scope::Library, &words, |edit| edit.remove_camera_profile(kept.id))?;
        }
    }
    Ok(())
}

fn list(library: &Library, out: &mut dyn Write) -> anyhow::Result<()> {
    let all = kept_lenses(library)?;
    if all.is_empty() {
        writeln!(out, "Nothing was found here; find a lens with scuffline lens make.")?;
    }
    for kept in all {
        let camera = match kept.camera.as_str() {
            "" => "no camera named in its file",
            camera => camera,
        };
        writeln!(out, "{}: {} ({camera})", kept.name, lens_words(&kept.lens))?;
    }
    Ok(())
}

fn board(text: &str) -> Result<[usize; 2], String> {
    let count = |part: &str| part.trim().parse::<usize>().ok().filter(|n| (2..=50).contains(n));
    text.split_once('x')
        .and_then(|(a, b)| Some([count(a)?, count(b)?]))
        .ok_or_else(|| "inner corners along both edges, as in 9x6".into())
}

fn edges(file: &mut Recording, setup: &Path) -> anyhow::Result<LensProfile> {
    let (size, timeline) = (file.size(), file.timeline().clone());
    let setup = read_setup(setup)?;
    check_setup(&setup, &timeline, size)?;
    let (setup, _) = steadied_setup(&setup, file)?;
    Ok(lens_of_edges(&setup, size)?)
}

fn lens_named(library: &Library, name: &str) -> anyhow::Result<KeptLens> {
    kept_lenses(library)?
        .into_iter()
        .find(|kept| kept.name.eq_ignore_ascii_case(name.trim()))
        .with_context(|| {
            format!("There is no lens {name}; scuffline lens list names those there are")
        })
}
