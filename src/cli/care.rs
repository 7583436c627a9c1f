//! `scuffline backup`, `restore`, `check` and `erase`: looking after the library.

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use clap::Args;

use super::export::golfer_of;
use crate::domain::counted;
use crate::store::{CheckReport, Contents, Library, Restoring};
use crate::workflow::{Erasure, backup_folder, erase, plan_erasure, swings_words};

/// Where to.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline backup                              into the folder \"backups\" beside the library
  scuffline backup /media/stick/lessons.backup")]
pub struct BackupArgs {
    /// The backup to be written; without it, one named by day and time in the folder
    /// "backups" beside the library.
    #[arg(value_name = "FILE")]
    pub file: Option<PathBuf>,
}

/// Which backup.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline restore lessons.backup           says what is in it
  scuffline restore lessons.backup --yes     puts it in the library's place")]
pub struct RestoreArgs {
    /// The backup.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,

    /// Do it. What was in the library is kept aside.
    #[arg(long)]
    pub yes: bool,
}

/// Where to look, and whether to mend.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline check                                 changes nothing
  scuffline check --look-in ~/Videos --mend       notes where moved recordings lie now")]
pub struct CheckArgs {
    /// A folder in which moved recordings are looked for by their content, folders in it
    /// included; may be given many times.
    #[arg(long, value_name = "FOLDER")]
    pub look_in: Vec<PathBuf>,

    /// Put right what can be put right without guessing: the places of moved recordings, and
    /// damaged indexes after a copy was kept aside.
    #[arg(long)]
    pub mend: bool,
}

/// Whom.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline erase --golfer Robin                       says what would go
  scuffline erase --golfer Robin --yes                 for good; the recordings stay
  scuffline erase --golfer Robin --recordings --yes    the recordings go, too")]
pub struct EraseArgs {
    /// Who is erased with all sessions, swings and marks.
    #[arg(long, value_name = "NAME")]
    pub golfer: String,

    /// The recordings go along, unless another golfer has them, too.
    #[arg(long)]
    pub recordings: bool,

    /// Do it. This cannot be taken back.
    #[arg(long)]
    pub yes: bool,
}

/// Writes a backup and prints where.
///
/// # Errors
/// The library is damaged, there is such a file already, or it can't be written.
pub fn backup(
    args: &BackupArgs,
    library: Option<&Path>,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let library = super::open_library(library)?;
    let file = match &args.file {
        Some(file) => file.clone(),
        None => usual_backup(library.path())?,
    };
    if file.exists() {
        bail!("There is such a file already; choose another name: {}", file.display());
    }
    library.backup_to(&file)?;
    writeln!(out, "{}", file.display())?;
    Ok(writeln!(out, "{}", contents_words(&library.contents()?))?)
}

/// "backups/library-2026-05-14-153059.backup" beside the library.
fn usual_backup(library: &Path) -> anyhow::Result<PathBuf> {
    let folder = backup_folder(library);
    let made = std::fs::create_dir_all(&folder);
    made.with_context(|| format!("The folder cannot be made: {}", folder.display()))?;
    let stem = library.file_stem().unwrap_or_default().to_string_lossy();
    let now = jiff::ZonedDateTime::now().strftime("%Y-%m-%d-%H%M%S");
    Ok(folder.join(format!("{stem}-{now}.backup")))
}

/// Says what is in a backup, and with `--yes` puts it in the library's place.
///
/// # Errors
/// It is no sound backup, or newer than this program; or the library can't be written.
pub fn restore(
    args: &RestoreArgs,
    library: Option<&Path>,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let place = super::library_place(library)?;
    let restoring = Restoring::prepare(&args.file, &place)?;
    writeln!(out, "The backup:  {}", contents_words(&restoring.contents()?))?;
    if place.exists() {
        let there = Library::open(&place).and_then(|library| library.contents());
        let words = there.map_or_else(|error| error.to_string(), |there| contents_words(&there));
        writeln!(out, "The library: {words}")?;
    }
    if !args.yes {
        return Ok(writeln!(out, "Nothing was changed; run it again with --yes to restore it.")?);
    }
    if let Some(aside) = restoring.finish()? {
        writeln!(out, "What was in the library is kept: {}", aside.display())?;
    }
    Ok(writeln!(out, "The backup is now the library: {}", place.display())?)
}

/// Looks for damage and for recordings that are not where they were.
///
/// # Errors
/// There is no library, it can't be read, or is damaged and was not mended.
pub fn check(args: &CheckArgs, library: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let place = super::library_place(library)?;
    if !place.exists() {
        bail!(
            "There is no library there to be checked; scuffline scan begins one: {}",
            place.display()
        );
    }
    let mut library = Library::open(&place)?;
    writeln!(out, "{}: {}", library.path().display(), contents_words(&library.contents()?))?;
    let mut report = library.check()?;
    if args.mend && report.is_mendable() {
        let aside = library.mend_indexes()?;
        report = library.check()?;
        writeln!(out, "The indexes were made anew; as it was: {}", aside.display())?;
    }
    let moved = moved(&mut library, args)?;
    for (id, to) in &moved {
        writeln!(out, "Found again: {}", to.display())?;
        report.missing.retain(|(missing, _)| missing != id);
    }
    if !moved.is_empty() && !args.mend {
        writeln!(out, "Nothing was changed; run it again with --mend to note where they are.")?;
    }
    told(&report, args, out)
}

type Moved = Vec<(crate::store::RecordingId, PathBuf)>;

fn moved(library: &mut Library, args: &CheckArgs) -> anyhow::Result<Moved> {
    let mut moved = Moved::new();
    for folder in &args.look_in {
        let folder = std::path::absolute(folder).unwrap_or_else(|_| folder.clone());
        let found = match args.mend {
            true => library.find_moved(&folder)?,
            false => library.look_for_moved(&folder)?,
        };
        let is_new = |(id, _): &(_, _), moved: &Moved| moved.iter().all(|(known, _)| known != id);
        moved.extend(found.into_iter().filter(|one| is_new(one, &moved)).collect::<Vec<_>>());
    }
    Ok(moved)
}

fn told(report: &CheckReport, args: &CheckArgs, out: &mut dyn Write) -> anyhow::Result<()> {
    for (_, path) in &report.missing {
        writeln!(out, "Not where it was: {}", path.display())?;
    }
    if !report.missing.is_empty() && args.look_in.is_empty() {
        writeln!(out, "Look for moved recordings with --look-in FOLDER.")?;
    }
    for (_, path) in &report.changed {
        writeln!(out, "Another recording lies in its place: {}", path.display())?;
    }
    if report.is_sound() {
        return Ok(writeln!(out, "The library is sound.")?);
    }
    report.problems.iter().for_each(|line| eprintln!("{line}"));
    match report.is_mendable() {
        true => bail!("Indexes of the library are damaged; run it again with --mend"),
        false => bail!("The library is damaged; restore its newest backup with scuffline restore"),
    }
}

/// Says what erasing a golfer would remove, and with `--yes` does it.
///
/// # Errors
/// There is no such golfer, or the library can't be written.
pub fn run_erase(
    args: &EraseArgs,
    library: Option<&Path>,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let mut library = super::open_library(library)?;
    let golfer = golfer_of(&library, Some(&args.golfer))?;
    if !args.yes {
        let plan = plan_erasure(&library, golfer)?;
        writeln!(out, "Would be erased: {}", erasure_words(&plan))?;
        tell_files(&plan, args.recordings, out)?;
        return Ok(writeln!(out, "Nothing was changed; run it again with --yes to erase.")?);
    }
    let done = erase(&mut library, golfer, args.recordings)?;
    writeln!(out, "Erased for good: {}", erasure_words(&done))?;
    tell_files(&done, args.recordings, out)?;
    for (path, reason) in &done.kept {
        eprintln!("Could not be removed ({reason}): {}", path.display());
    }
    if !done.kept.is_empty() {
        let files = counted(done.kept.len(), "recording");
        bail!("{files} could not be removed; remove by hand what was named");
    }
    Ok(())
}

fn erasure_words(erasure: &Erasure) -> String {
    let (sessions, swings) = (counted(erasure.sessions, "session"), swings_words(erasure.swings));
    format!("{}, {sessions}, {swings}", erasure.name)
}

fn tell_files(erasure: &Erasure, with_files: bool, out: &mut dyn Write) -> std::io::Result<()> {
    let fate = if with_files { "Goes along" } else { "Stays where it is" };
    for path in erasure.recordings.iter().filter(|p| erasure.kept.iter().all(|k| k.0 != **p)) {
        writeln!(out, "{fate}: {}", path.display())?;
    }
    for path in &erasure.backups {
        writeln!(out, "The golfer may still be in this backup: {}", path.display())?;
    }
    Ok(())
}

fn contents_words(contents: &Contents) -> String {
    let latest = contents.latest.map_or(String::new(), |day| format!(", the latest on {day}"));
    format!(
        "{}, {}{latest}, {}, {}",
        counted(contents.golfers, "golfer"),
        counted(contents.sessions, "session"),
        counted(contents.recordings, "recording"),
        swings_words(contents.swings)
    )
}
