//! `scuffline scan`: recordings into the library, every swing found and measured.

use std::collections::HashSet;
use std::fmt::Write as _;
use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::Args;

use super::measure::{setup_file, write_swing};
use super::progress::told;
use crate::domain::{Pictures, Setup, Warning, counted};
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
    #[arg(long, value_name = "DATE", value_parser = super::day)]
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
    let given = library;
    let mut library = super::open_library(given)?;
    let (mut failed, mut said) = (Vec::new(), Said::default());
    for (i, file) in args.files.iter().enumerate() {
        eprintln!("{} of {}: {}", i + 1, args.files.len(), file_name(file));
        match scan(&args.read_as, file, setup.as_ref(), &mut library, given) {
            Ok(text) => out.write_all(said.but_once(&text).as_bytes())?,
            Err(error) => failed.push(error.to_string()),
        }
    }
    if failed.is_empty() {
        return Ok(());
    }
    // What was read in is told even where other files failed.
    eprintln!("{}", failed.join("\n"));
    let others =
        if failed.len() < args.files.len() { "; the others are in the library" } else { "" };
    let all = counted(args.files.len(), "file");
    anyhow::bail!("{} of {all} could not be read in{others}", failed.len())
}

/// What a line begins with that says something of a whole recording.
const NOTE: &str = "  note: ";

/// The notes that were printed: of many recordings made alike most are the same.
#[derive(Default)]
pub(super) struct Said(HashSet<String>);

impl Said {
    /// The words of one recording without the notes that an earlier one has had; how many those are
    /// stands where the first of them stood.
    pub fn but_once(&mut self, text: &str) -> String {
        let is_known = |line: &str| line.starts_with(NOTE) && self.0.contains(line);
        let known = text.lines().filter(|line| is_known(line)).count();
        let mut out = String::new();
        let mut is_counted = false;
        for line in text.lines() {
            if !is_known(line) {
                out.push_str(line);
                out.push('\n');
            } else if !is_counted {
                let _ = writeln!(out, "  and {} that an earlier one has", counted(known, "note"));
                is_counted = true;
            }
        }
        self.0.extend(text.lines().filter(|line| line.starts_with(NOTE)).map(str::to_owned));
        out
    }
}

/// Reads one file in; returns its swings in words. `given`: the library as it was named on the
/// command line, for the commands that are told.
pub(super) fn scan(
    args: &ReadAs,
    file: &Path,
    setup: Option<&Setup>,
    library: &mut Library,
    given: Option<&Path>,
) -> anyhow::Result<String> {
    let mut recording = open_kept(library, file, CancelToken::new())?;
    let known = library.golfers()?.len();
    let golfer = golfer_named(library, args.golfer.as_deref())?;
    let is_new = args.golfer.is_some() && known > 0 && library.golfers()?.len() > known;
    let date = args.date.or_else(|| day_of(&recording)).unwrap_or_else(today);
    let session = session_on(library, golfer, date)?;
    let id = told(|progress| read_in(library, session, &mut recording, setup, progress))?;
    let mut text = format!("{}, {date}\n", file_name(file));
    if is_new {
        let name = library.golfer(golfer)?.name;
        let _ = writeln!(text, "note: {name} is a new golfer in the library");
    }
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
    // What was found is told below, with what to type.
    let is_told = |warning: &&Warning| {
        !matches!(warning, Warning::ReferenceProposed { .. } | Warning::ViewDiffers { .. })
    };
    for warning in recording.warnings().iter().chain(of_setup).filter(is_told) {
        let _ = writeln!(text, "{NOTE}{}", warning_words(warning, unit));
    }
    let place = given.map_or(String::new(), |path| format!(" --library {}", quoted(path)));
    let anew = format!("scuffline reference {} --anew{place}", quoted(file));
    text.push_str(&carried_words(library, id, &mut recording, &anew)?);
    text.push_str(&what_to_type(library, &recording, &setup, (&quoted(file), &place))?);
    Ok(text)
}

/// What could be said yes to, each with what to type for it: `typed`, the recording, and `place`,
/// the library where one was named.
fn what_to_type(
    library: &Library,
    recording: &Recording,
    setup: &Setup,
    (typed, place): (&str, &str),
) -> anyhow::Result<String> {
    let mut text = String::new();
    let unit = chosen_unit(library)?;
    let camera = recording.facts().camera.as_deref();
    for lens in offered_lenses(library, camera, recording.size())? {
        if setup.lens.is_none() {
            let (name, lens) = (&lens.name, quoted(Path::new(&lens.name)));
            let _ = writeln!(
                text,
                "  made with the same phone as the lens {name}; use it with: scuffline lens use {lens} {typed}{place}"
            );
        }
    }
    for (i, proposed) in setup.proposed.iter().enumerate() {
        let _ = writeln!(
            text,
            "  found {} ({:.0} % sure); say yes with: scuffline reference {typed} --accept {}{place}",
            reference_words(&proposed.reference, unit),
            100.0 * proposed.confidence,
            i + 1
        );
    }
    Ok(text)
}

/// A path as it can be typed into a shell: within quotes where it holds more than letters,
/// digits and what no shell reads.
fn quoted(path: &Path) -> String {
    let text = path.display().to_string();
    let is_plain = |c: char| c.is_alphanumeric() || "/._-+:,@%".contains(c);
    match !text.is_empty() && text.chars().all(is_plain) {
        true => text,
        false => format!("'{}'", text.replace('\'', r"'\''")),
    }
}

/// Where a set-up was carried over from, and whether the camera still stands as it stood there, with
/// what to type then; empty where it was made for this recording.
fn carried_words(
    library: &mut Library,
    id: RecordingId,
    recording: &mut Recording,
    anew: &str,
) -> anyhow::Result<String> {
    let Some(from) = carried_from(library, id)? else { return Ok(String::new()) };
    Ok(match view_differs(library, id, recording, &CancelToken::new())? {
        Some(doubt) => format!("{NOTE}{}\n  that is done with: {anew}\n", doubt.sentence()),
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_that_an_earlier_recording_had_is_counted_and_not_said_again() {
        let mut said = Said::default();
        let first = "a.mp4\n  note: dark\n  note: level\n  found a sheet\n";
        assert_eq!(said.but_once(first), first);
        assert_eq!(
            said.but_once("b.mp4\n  note: dark\n  note: shaky\n  note: level\n"),
            "b.mp4\n  and 2 notes that an earlier one has\n  note: shaky\n"
        );
        assert_eq!(said.but_once("c.mp4\n"), "c.mp4\n");
    }

    #[test]
    fn a_path_is_quoted_where_a_shell_would_take_it_apart() {
        let typed = |path: &str| quoted(Path::new(path));
        assert_eq!(typed("monday/swing_1.mp4"), "monday/swing_1.mp4");
        assert_eq!(typed("my swings/1.mp4"), "'my swings/1.mp4'");
        assert_eq!(typed("it's $HOME.mp4"), r"'it'\''s $HOME.mp4'");
    }
}
