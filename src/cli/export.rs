//! `scuffline export`: a session written down, for home or for other programs.

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use clap::{Args, ValueEnum};

use crate::domain::Golfer;
use crate::report::content::Content;
use crate::report::page::Paper;
use crate::report::picture::{self, Picture};
use crate::report::{csv, html, json, pdf};
use crate::store::{GolferId, Library, Of, SessionId, SessionRow, SwingId, SwingRow};
use crate::video::writes_h264;
use crate::workflow::{
    CoachSays, ConsentError, Progress, beside, may_pass_on, note_consent, session_content,
    swing_picture, write_clip,
};

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
    #[arg(long, value_name = "DATE")]
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

/// Kinds of files.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Csv,
    Json,
    Html,
    Pdf,
    Png,
    Mp4,
}

/// Writes the file and prints its name.
///
/// # Errors
/// There is no such golfer, session or swing; nobody agreed yet; the file can't be written.
pub fn run(args: &ExportArgs, library: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let kind = kind_of(&args.file)?;
    let mut library = super::open_library(library)?;
    let (golfer, session) = session_of(&library, args)?;
    agreed(&mut library, golfer, args.consent.as_deref())?;
    let swings = library.swings(Of::Session(session.id))?;
    match kind {
        Kind::Csv | Kind::Json | Kind::Html | Kind::Pdf => {
            let says = CoachSays { words: args.words.clone(), practise: args.practise.clone() };
            let content = session_content(&library, session.id, &says)?;
            let bytes = document(kind, &content, &library, &swings, args)?;
            save(&args.file, &bytes)?;
        }
        Kind::Png => {
            let shown = chosen(&swings, &args.swings, 1)?;
            let picture = swing_picture(&library, shown[0], true)?;
            save(&args.file, &picture::png(&picture.frame)?)?;
        }
        Kind::Mp4 => {
            let shown = chosen(&swings, &args.swings, 1)?;
            write_clip(&library, &shown, &args.file, &mut Progress::silent())?;
            if !writes_h264() {
                eprintln!(
                    "The FFmpeg in use cannot write H.264; the clip is MPEG-4 part 2, which not every phone plays."
                );
            }
        }
    }
    Ok(writeln!(out, "{}", args.file.display())?)
}

fn document(
    kind: Kind,
    content: &Content,
    library: &Library,
    swings: &[SwingRow],
    args: &ExportArgs,
) -> anyhow::Result<Vec<u8>> {
    let pictures = || pictures(library, swings, &args.swings);
    let paper = match args.paper {
        Sheet::A4 => Paper::A4,
        Sheet::Letter => Paper::Letter,
    };
    Ok(match kind {
        Kind::Csv => csv::write(content).into_bytes(),
        Kind::Json => json::write(content).into_bytes(),
        Kind::Html => html::write(content, &pictures()?)?.into_bytes(),
        _ => pdf::write(content, &pictures()?, paper)?,
    })
}

fn kind_of(file: &Path) -> anyhow::Result<Kind> {
    let ending = file.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    Ok(match ending.as_str() {
        "csv" => Kind::Csv,
        "json" => Kind::Json,
        "html" | "htm" => Kind::Html,
        "pdf" => Kind::Pdf,
        "png" => Kind::Png,
        "mp4" => Kind::Mp4,
        _ => {
            bail!("The file's ending must be csv, json, html, pdf, png or mp4: {}", file.display())
        }
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

/// The swings of these numbers; without numbers the latest `most` with a recording, in order.
fn chosen(swings: &[SwingRow], numbers: &[usize], most: usize) -> anyhow::Result<Vec<SwingId>> {
    let numbered = |n: &usize| {
        let swing = n.checked_sub(1).and_then(|i| swings.get(i));
        let count = swings.len();
        swing
            .map(|s| s.id)
            .with_context(|| format!("There is no swing {n}; the session has {count}"))
    };
    if !numbers.is_empty() {
        return numbers.iter().take(2).map(numbered).collect();
    }
    let filmed = |s: &&SwingRow| s.recording.is_some() && s.strike_time.is_some();
    let filmed: Vec<SwingId> = swings.iter().filter(filmed).map(|s| s.id).collect();
    if filmed.is_empty() {
        bail!("No swing of this session has a recording, so there is nothing to show");
    }
    Ok(filmed[filmed.len().saturating_sub(most)..].to_vec())
}

/// The pictures of a page: the first and the last filmed swing. One whose file has gone is
/// left out and named, since the numbers are worth sending without it.
fn pictures(
    library: &Library,
    swings: &[SwingRow],
    numbers: &[usize],
) -> anyhow::Result<Vec<Picture>> {
    let all = match numbers {
        [] => chosen(swings, &[], swings.len()).unwrap_or_default(),
        numbers => chosen(swings, numbers, 2)?,
    };
    let shown = match all.as_slice() {
        [first, .., last] => vec![*first, *last],
        one => one.to_vec(),
    };
    let mut pictures = Vec::new();
    for id in shown {
        match swing_picture(library, id, false) {
            Ok(picture) => {
                let number = swings.iter().position(|s| s.id == id).map_or(0, |i| i + 1);
                let caption = format!("Swing {number}: {}", picture.caption);
                pictures.push(Picture { caption, ..picture });
            }
            Err(error) => eprintln!("A picture is left out: {error}"),
        }
    }
    Ok(pictures)
}

/// Writes beside the file first, so that a full disk leaves no half of it.
fn save(file: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    let beside = beside(file);
    let whole = std::fs::write(&beside, bytes).and_then(|()| std::fs::rename(&beside, file));
    whole.inspect_err(|_| _ = std::fs::remove_file(&beside)).with_context(|| {
        format!("The file cannot be written; check folder and free space: {}", file.display())
    })
}
