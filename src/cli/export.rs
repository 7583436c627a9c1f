//! `scuffline export`: a session written down, for home or for other programs.

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use clap::{Args, ValueEnum};

use super::progress::told;
use crate::domain::Golfer;
use crate::report::page::Paper;
use crate::store::{GolferId, Library, Of, SessionId, SessionRow, SwingId, SwingRow};
use crate::workflow::send::{Form, Order, write_out};
use crate::workflow::{CoachSays, ConsentError, may_pass_on, note_consent};

/// What is written, and of whom.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline export lesson.pdf --golfer Robin            one page to send home
  scuffline export lesson.csv --golfer Robin --date 2026-05-14
  scuffline export swing.mp4 --swing 3                  slow motion with the ruler burnt in
  scuffline export both.mp4 --swing 1 --swing 12        two swings side by side
  scuffline export swing.png --swing 3                  the mark with the ruler on the ground")]
pub struct ExportArgs {
    /// The file; its ending says what is written: csv, json, html, pdf, png or mp4.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,

    /// Whose session. Without it, the only golfer, or else the only real one.
    #[arg(long, value_name = "NAME")]
    pub golfer: Option<String>,

    /// The session's day, as 2026-05-31. Without it, the latest.
    #[arg(long, value_name = "DATE", value_parser = super::day)]
    pub date: Option<jiff::civil::Date>,

    /// The session by its number, as scuffline sessions prints it.
    #[arg(long, value_name = "SESSION", conflicts_with_all = ["golfer", "date"])]
    pub session: Option<i64>,

    /// A swing by its number in the session, for pictures and clips; may be given twice.
    /// Without it, the latest with a recording.
    #[arg(long = "swing", value_name = "N")]
    pub swings: Vec<usize>,

    /// The sheet the page is printed on.
    #[arg(long, value_enum, default_value = "a4")]
    pub paper: Sheet,

    /// The coach's words on the page. Without them, the session's cue.
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub words: String,

    /// What to practise; may be given many times. Without it, the drills that were played.
    #[arg(long, value_name = "TEXT")]
    pub practise: Vec<String>,

    /// Who agreed that this golfer's report may be passed on; kept with the golfer.
    #[arg(long, value_name = "TEXT")]
    pub consent: Option<String>,
}

/// Sheets of paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Sheet {
    /// 210 mm by 297 mm.
    A4,
    /// 8.5 in by 11 in.
    Letter,
}

/// Writes the file and prints its name.
///
/// # Errors
/// There is no such golfer, session or swing; nobody agreed yet; the file can't be written.
pub fn run(args: &ExportArgs, library: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let form = form_of(&args.file)?;
    let mut library = super::open_library(library)?;
    let (golfer, session) = session_of(&library, args)?;
    agreed(&mut library, golfer, args.consent.as_deref())?;
    let order = Order {
        form,
        golfer,
        session: session.id,
        says: CoachSays { words: args.words.clone(), practise: args.practise.clone() },
        paper: match args.paper {
            Sheet::A4 => Paper::A4,
            Sheet::Letter => Paper::Letter,
        },
        swings: chosen(&library.swings(Of::Session(session.id))?, &args.swings)?,
        recordings: false,
    };
    let sentences = told(|progress| write_out(&library, &order, &args.file, progress))?;
    for sentence in sentences {
        eprintln!("{sentence}");
    }
    Ok(writeln!(out, "{}", args.file.display())?)
}

/// A bundle has a verb of its own, since it is no part of a session.
fn form_of(file: &Path) -> anyhow::Result<Form> {
    let ending = file.extension().unwrap_or_default().to_string_lossy();
    Form::of_ending(&ending).filter(|form| *form != Form::Bundle).with_context(|| {
        format!("The file's ending must be csv, json, html, pdf, png or mp4: {}", file.display())
    })
}

fn session_of(library: &Library, args: &ExportArgs) -> anyhow::Result<(GolferId, SessionRow)> {
    if let Some(number) = args.session {
        let row = library.session(SessionId(number))?;
        return Ok((row.golfer, row));
    }
    let golfer = golfer_of(library, args.golfer.as_deref())?;
    let sessions = library.sessions(golfer)?;
    let session = match args.date {
        Some(date) => sessions
            .into_iter()
            .find(|s| s.session.date == date)
            .with_context(|| format!("There is no session on {date}; check the day"))?,
        None => sessions
            .into_iter()
            .next()
            .context("This golfer has no session yet; read a recording in first")?,
    };
    Ok((golfer, session))
}

/// The golfer of that name; without a name the only golfer, or else the only real one.
pub(super) fn golfer_of(library: &Library, name: Option<&str>) -> anyhow::Result<GolferId> {
    let golfers = library.golfers()?;
    let named = |(_, golfer): &&(GolferId, Golfer)| match name {
        Some(name) => golfer.name.eq_ignore_ascii_case(name.trim()),
        None => golfers.len() == 1 || !golfer.invented,
    };
    let wanted: Vec<&(GolferId, Golfer)> = golfers.iter().filter(named).collect();
    match (wanted.as_slice(), name) {
        ([(id, _)], _) => Ok(*id),
        ([], Some(name)) => {
            bail!("There is no golfer called {name} in the library; check the name")
        }
        ([], None) => bail!("There is no golfer in the library yet; read a recording in first"),
        _ => bail!("Several golfers are in the library; say whose with --golfer NAME"),
    }
}

/// Nothing about a real person is passed on before somebody agreed to it.
pub(super) fn agreed(
    library: &mut Library,
    id: GolferId,
    consent: Option<&str>,
) -> anyhow::Result<()> {
    let asked = match consent {
        Some(consent) => note_consent(library, id, consent),
        None => may_pass_on(&library.golfer(id)?),
    };
    asked.map_err(|error| match error {
        ConsentError::Store(error) => error.into(),
        ask => anyhow::anyhow!("{ask} Do so with --consent TEXT."),
    })
}

/// The swings of these numbers, at most two.
fn chosen(swings: &[SwingRow], numbers: &[usize]) -> anyhow::Result<Vec<SwingId>> {
    let numbered = |n: &usize| {
        let swing = n.checked_sub(1).and_then(|i| swings.get(i));
        let count = swings.len();
        swing
            .map(|s| s.id)
            .with_context(|| format!("There is no swing {n}; the session has {count}"))
    };
    numbers.iter().take(2).map(numbered).collect()
}
