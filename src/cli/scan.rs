//! `scuffline scan`: recordings into the library, every swing found and measured.

use std::fmt::Write as _;
use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::Args;

use super::measure::{setup_file, write_swing};
use super::progress::told;
use crate::domain::{Pictures, Setup};
use crate::store::{Library, Of, RecordingId};
use crate::video::{CancelToken, Recording};
use crate::workflow::{
    carried_from, chosen_unit, evaluate_kept, file_name, golfer_named, offered_lenses, open_kept,
    read_in, reference_words, session_on, view_differs, warning_words,
};

/// Which recordings, and whose.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline scan monday/*.mp4 --golfer \"Robin\"
  scuffline scan swing.mp4 --setup setup.json --library lessons.scuffline")]
pub struct ScanArgs {
    /// The recordings.
    #[arg(value_name = "FILE", required = true)]
    pub files: Vec<PathBuf>,

    /// Whose they are and what is known about them.
    #[command(flatten)]
    pub read_as: ReadAs,
}

/// Whose recordings are, and what is known about them.
#[derive(Debug, Args)]
pub struct ReadAs {
    /// Whose swings they are; added to the library if new. Without it, the first golfer.
    #[arg(long, value_name = "NAME")]
    pub golfer: Option<String>,

    /// The day they were played, as 2026-05-31. Without it, the day the file says, else today.
    #[arg(long, value_name = "DATE")]
    pub date: Option<jiff::civil::Date>,

    /// What is known about them: reference objects, target. Without it, the set-up of the
    /// session's last recording is carried on.
    #[arg(long, value_name = "SETUP.json")]
    pub setup: Option<PathBuf>,
}

/// Reads every file in; those that can't be read are named at the end and keep nothing.
///
/// # Errors
/// The library can't be used, or at least one file could not be read in.
pub fn run(args: &ScanArgs, library: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let setup = args.read_as.setup.as_deref().map(setup_file::read_setup).transpose()?;
    let mut library = super::open_library(library)?;
    let mut failed = Vec::new();
    for (i, file) in args.files.iter().enumerate() {
        eprintln!("{} of {}: {}", i + 1, args.files.len(), file_name(file));
        match scan(&args.read_as, file, setup.as_ref(), &mut library) {
            Ok(text) => out.write_all(text.as_bytes())?,
            Err(error) => failed.push(error.to_string()),
        }
    }
    if failed.is_empty() {
        return Ok(());
    }
    // What was read in is told even where other files failed.
    eprintln!("{}", failed.join("\n"));
    anyhow::bail!(
        "{} of {} files could not be read in; the others are in the library",
        failed.len(),
        args.files.len()
    )
}

/// Reads one file in; returns its swings in words.
pub(super) fn scan(
    args: &ReadAs,
    file: &Path,
    setup: Option<&Setup>,
    library: &mut Library,
) -> anyhow::Result<String> {
    let mut recording = open_kept(library, file, CancelToken::new())?;
    let golfer = golfer_named(library, args.golfer.as_deref())?;
    let date = args.date.or_else(|| day_of(&recording)).unwrap_or_else(today);
    let session = session_on(library, golfer, date)?;
    let id = told(|progress| read_in(library, session, &mut recording, setup, progress))?;
    let mut text = format!("{}, {date}\n", file_name(file));
    let rows = library.swings(Of::Recording(id))?;
    let setup = library.shared_setup(id)?;
    let unit = chosen_unit(library)?;
    for (i, row) in rows.iter().enumerate() {
        if let Some(result) = &row.result {
            write_swing(&mut text, i + 1, result, &setup, unit);
        }
    }
    if rows.is_empty() {
        text.push_str("  no swing found\n");
    }
    let evaluation = evaluate_kept(library, id)?;
    let of_setup = evaluation.iter().flat_map(|evaluation| &evaluation.warnings);
    for warning in recording.warnings().iter().chain(of_setup) {
        let _ = writeln!(text, "  note: {}", warning_words(warning, unit));
    }
    text.push_str(&carried_words(library, id, &mut recording)?);
    let camera = recording.facts().camera.as_deref();
    for lens in offered_lenses(library, camera, recording.size())? {
        if setup.lens.is_none() {
            let (name, file) = (lens.name, file_name(file));
            let _ = writeln!(
                text,
                "  made with the same phone as the lens {name}; use it with: scuffline lens use \"{name}\" {file}"
            );
        }
    }
    for proposed in &setup.proposed {
        let _ = writeln!(
            text,
            "  found {} ({:.0} % sure); say yes with: scuffline reference {} --accept 1",
            reference_words(&proposed.reference, unit),
            100.0 * proposed.confidence,
            file_name(file)
        );
    }
    Ok(text)
}

/// Where a set-up was carried over from, and whether the camera still stands as it stood there;
/// empty where it was made for this recording.
fn carried_words(
    library: &mut Library,
    id: RecordingId,
    recording: &mut Recording,
) -> anyhow::Result<String> {
    let Some(from) = carried_from(library, id)? else { return Ok(String::new()) };
    Ok(match view_differs(library, id, recording, &CancelToken::new())? {
        Some(differs) => format!("  note: {differs}\n"),
        None => format!("  its set-up is carried over from {}\n", file_name(&from.path)),
    })
}

/// The day the camera wrote into the file.
fn day_of(recording: &Recording) -> Option<jiff::civil::Date> {
    let created = recording.facts().created.as_ref()?;
    created.get(..10)?.parse().ok()
}

fn today() -> jiff::civil::Date {
    jiff::ZonedDateTime::now().date()
}

/// The library's recording with the content of this file.
pub(super) fn recording_of(
    library: &Library,
    file: &Path,
) -> anyhow::Result<crate::store::RecordingRow> {
    let identity = crate::store::identify_file(file)?;
    crate::workflow::kept_recording(library, &identity, None)?.with_context(|| {
        format!(
            "This recording is not in the library; read it in first with scuffline scan: {}",
            file.display()
        )
    })
}
