//! `scuffline mark`: a person's mark, set from the command line.

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use clap::{Args, ValueEnum};

use super::measure::write_swing;
use super::scan::recording_of;
use crate::domain::{
    FrameIndex, GroundAnswer, ImagePoint, Mark, MarkKind, Part, PictureSize, PlacedMark,
};
use crate::store::{Library, Of, RecordingRow, Scope, SwingId, SwingRow};
use crate::video::Facts;
use crate::workflow::{check_mark, chosen_unit, remeasure, swings_words};

/// Which mark, of which swing, where.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline mark swing.mp4 --swing 1 divot-start 651.6 601.7
  scuffline mark swing.mp4 --swing 1 divot-start 652.0 601.9 --frame 240
  scuffline mark swing.mp4 --swing 1 divot-start --remove
  scuffline mark swing.mp4 --swing 1 ground --answer none
  scuffline mark swing.mp4 --swing 1 club-head 651.6 581.7 --frame 187
  scuffline mark swing.mp4 ball-line 660.3 601.7       for every practice swing of the recording")]
pub struct MarkArgs {
    /// The recording; it must be in the library (see scuffline scan).
    #[arg(value_name = "RECORDING")]
    pub recording: PathBuf,

    /// What is marked.
    #[arg(value_enum, value_name = "WHAT")]
    pub what: What,

    /// Column, pixels of the displayed picture.
    #[arg(value_name = "X", allow_negative_numbers = true, requires = "y")]
    pub x: Option<f64>,

    /// Row, pixels of the displayed picture.
    #[arg(value_name = "Y", allow_negative_numbers = true)]
    pub y: Option<f64>,

    /// The swing, counted from 1 in order of time.
    #[arg(long, value_name = "N")]
    pub swing: Option<usize>,

    /// The frame the point was read in; without it, the steadied picture. A club head is marked
    /// frame by frame and always has one.
    #[arg(long, value_name = "N")]
    pub frame: Option<usize>,

    /// What is in the ground, with the mark "ground".
    #[arg(long, value_enum, value_name = "ANSWER", conflicts_with_all = ["x", "y", "frame"])]
    pub answer: Option<Answer>,

    /// Take the mark away, or what was answered.
    #[arg(long, conflicts_with_all = ["x", "y", "answer"])]
    pub remove: bool,
}

/// What can be marked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum What {
    /// The ball's centre at rest.
    Ball,
    /// Where the mark in the ground begins.
    DivotStart,
    /// Where it ends.
    DivotEnd,
    /// A ground point that stands in for the ball in practice swings.
    BallLine,
    /// Where the tee goes into the ground, straight below the ball.
    Tee,
    /// The inner edge of the lead heel.
    LeadHeel,
    /// The inner edge of the trail heel.
    TrailHeel,
    /// The middle of the club head's leading edge in the frame named.
    ClubHead,
    /// What the swing left in the ground; say it with --answer.
    Ground,
}

/// What the swing left in the ground.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Answer {
    /// Turf was cut out.
    Divot,
    /// A mat or the grass was brushed.
    Scuff,
    /// A chalk line was wiped.
    Smear,
    /// Looked, and there is nothing.
    None,
    /// The ground cannot be seen.
    CouldNotLook,
}

impl From<Answer> for GroundAnswer {
    fn from(answer: Answer) -> Self {
        match answer {
            Answer::Divot => Self::Divot,
            Answer::Scuff => Self::Scuff,
            Answer::Smear => Self::Smear,
            Answer::None => Self::None,
            Answer::CouldNotLook => Self::Unseen,
        }
    }
}

impl What {
    /// Which point it is; `None`: it is none.
    fn kind(self) -> Option<MarkKind> {
        Some(match self {
            Self::Ball => MarkKind::Ball,
            Self::DivotStart => MarkKind::DivotStart,
            Self::DivotEnd => MarkKind::DivotEnd,
            Self::BallLine => MarkKind::Origin,
            Self::Tee => MarkKind::Tee,
            Self::LeadHeel => MarkKind::LeadHeel,
            Self::TrailHeel => MarkKind::TrailHeel,
            Self::ClubHead => MarkKind::ClubHead,
            Self::Ground => return None,
        })
    }
}

/// The `n`th swing of a recording, counted from 1.
pub(super) fn nth_swing(rows: &[SwingRow], n: usize) -> anyhow::Result<SwingId> {
    let row = n.checked_sub(1).and_then(|at| rows.get(at));
    row.map(|row| row.id).with_context(|| {
        let all = swings_words(rows.len());
        format!("The recording has {all}, counted from 1; there is no swing {n}")
    })
}

impl MarkArgs {
    /// The swing that the mark belongs to; a ball line may be the recording's.
    fn swing_of(&self, rows: &[SwingRow]) -> anyhow::Result<Option<SwingId>> {
        match self.swing {
            Some(n) => Ok(Some(nth_swing(rows, n)?)),
            None if self.what == What::BallLine => Ok(None),
            None => bail!("Say which swing the mark belongs to, as in --swing 1"),
        }
    }

    /// Which of several of its kind.
    fn part(&self) -> anyhow::Result<Part> {
        match (self.what, self.frame) {
            (What::ClubHead, Some(frame)) => Ok(Part(frame)),
            (What::ClubHead, None) => {
                bail!("Say in which frame the club head is marked, as in --frame 187")
            }
            _ => Ok(Part::FIRST),
        }
    }
}

fn picture_size(row: &RecordingRow) -> anyhow::Result<PictureSize> {
    let facts: Facts = serde_json::from_str(row.facts.as_deref().unwrap_or("null"))?;
    Ok(PictureSize { width: facts.width, height: facts.height })
}

fn set_point(
    args: &MarkArgs,
    library: &mut Library,
    row: &RecordingRow,
    (swing, kind): (Option<SwingId>, MarkKind),
    of: &str,
) -> anyhow::Result<()> {
    let part = args.part()?;
    let words = format!("{} of {of}", kind.words());
    match (args.x, args.y) {
        (Some(x), Some(y)) => {
            let frame = args.frame.map(FrameIndex);
            let mark = Mark::read_in(ImagePoint::new(x, y), frame);
            let size = picture_size(row)?;
            check_mark(&mark, kind.words(), library.timeline(row.id)?.as_ref(), size)?;
            let placed = PlacedMark::by_person(kind, mark).numbered(part);
            library.edit(Scope::Session(row.session), &words, |edit| {
                edit.set_mark(row.id, swing, &placed)
            })?;
        }
        _ if args.remove => library.edit(Scope::Session(row.session), &words, |edit| {
            edit.remove_mark(row.id, swing, kind, part)
        })?,
        _ => bail!("Say where the mark lies, as X and Y in pixels, or take it away with --remove"),
    }
    Ok(())
}

fn say_ground(
    args: &MarkArgs,
    library: &mut Library,
    row: &RecordingRow,
    swing: SwingId,
    of: &str,
) -> anyhow::Result<()> {
    if args.answer.is_none() && !args.remove {
        bail!("Say what is in the ground, as in --answer none, or take it back with --remove");
    }
    let (answer, words) =
        (args.answer.map(GroundAnswer::from), format!("mark in the ground of {of}"));
    library.edit(Scope::Session(row.session), &words, |edit| edit.set_ground(swing, answer))?;
    Ok(())
}

/// Sets or removes the mark as one step that can be undone, measures anew and prints the swing.
///
/// # Errors
/// The recording is not in the library, has no such swing, or the point is not in its picture;
/// nothing is changed then.
pub fn run(args: &MarkArgs, library: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let mut library = super::open_library(library)?;
    let row = recording_of(&library, &args.recording)?;
    let rows = library.swings(Of::Recording(row.id))?;
    let swing = args.swing_of(&rows)?;
    let of = args.swing.map_or("the recording".to_owned(), |n| format!("swing {n}"));
    match (args.what.kind(), swing) {
        (Some(kind), _) => set_point(args, &mut library, &row, (swing, kind), &of)?,
        (None, Some(swing)) => say_ground(args, &mut library, &row, swing, &of)?,
        (None, None) => bail!("Say which swing left the mark, as in --swing 1"),
    }
    remeasure(&mut library, row.id)?;
    let setup = library.shared_setup(row.id)?;
    let unit = chosen_unit(&library)?;
    let mut text = String::new();
    for (i, row) in library.swings(Of::Recording(row.id))?.iter().enumerate() {
        if let Some(result) = row.result.as_ref().filter(|_| swing.is_none_or(|s| s == row.id)) {
            write_swing(&mut text, i + 1, result, &setup, unit);
        }
    }
    Ok(writeln!(out, "{}", text.trim())?)
}
