//! `scuffline bundle` and `scuffline unbundle`: a golfer carried from one library to another.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;

use super::export::{agreed, golfer_of};
use super::progress::told;
use crate::domain::counted;
use crate::workflow::bundle::{Bundle, merge, plan, usual_folder, write_bundle};

/// Which golfer, and where to.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline bundle robin.zip --golfer Robin
  scuffline bundle robin.zip --golfer Robin --recordings    with the recordings, larger")]
pub struct BundleArgs {
    /// The bundle to be written.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,

    /// Whose. Without it, the only golfer, or else the only real one.
    #[arg(long, value_name = "NAME")]
    pub golfer: Option<String>,

    /// The recordings go along.
    #[arg(long)]
    pub recordings: bool,

    /// Who agreed that this golfer may be passed on; kept with the golfer.
    #[arg(long, value_name = "TEXT")]
    pub consent: Option<String>,
}

/// Which bundle, and where its recordings go.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline unbundle robin.zip           says what it would do
  scuffline unbundle robin.zip --yes     does it")]
pub struct UnbundleArgs {
    /// The bundle.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,

    /// The folder for its recordings; without it, "recordings" beside the library.
    #[arg(long, value_name = "FOLDER")]
    pub into: Option<PathBuf>,

    /// Do it.
    #[arg(long)]
    pub yes: bool,
}

/// Writes a bundle and says what is in it.
///
/// # Errors
/// There is no such golfer, nobody agreed yet, or the file can't be written.
pub fn bundle(
    args: &BundleArgs,
    library: Option<&Path>,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let mut library = super::open_library(library)?;
    let golfer = golfer_of(&library, args.golfer.as_deref())?;
    agreed(&mut library, golfer, args.consent.as_deref())?;
    let written =
        told(|progress| write_bundle(&library, golfer, &args.file, args.recordings, progress))?;
    writeln!(
        out,
        "{}: {}, {}, {}",
        args.file.display(),
        counted(written.sessions, "session"),
        counted(written.swings, "swing"),
        counted(written.recordings, "recording")
    )?;
    for name in written.missing {
        eprintln!("The recording {name} is not where it was and does not go along.");
    }
    Ok(())
}

/// Says what taking a bundle in would do, and with `--yes` does it.
///
/// # Errors
/// The bundle is damaged, hostile or too new, or the library can't be written; the library is
/// as it was then.
pub fn unbundle(
    args: &UnbundleArgs,
    library: Option<&Path>,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let mut bundle = Bundle::open(&args.file)?;
    let mut library = super::open_library(library)?;
    if !args.yes {
        out.write_all(plan(&library, &bundle)?.words().as_bytes())?;
        writeln!(out, "Nothing was changed; run it again with --yes to take it in.")?;
        return Ok(());
    }
    let folder = args.into.clone().unwrap_or_else(|| usual_folder(library.path()));
    let done = told(|progress| merge(&mut library, &mut bundle, &folder, progress))?;
    Ok(write!(out, "{}", done.words())?)
}
