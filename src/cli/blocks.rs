//! `scuffline begin`, `clubs`, `season` and `drills`: blocks of swings, and what a golfer's
//! swings say club by club, over the season and in drills.

use std::fmt::Write as _;
use std::io::Write;
use std::path::Path;

use anyhow::{Context, bail};
use clap::{Args, ValueEnum};

use super::export::golfer_of;
use crate::domain::{BallUse, Block, Club, LengthUnit, Phase, Quantity, Surface, SwingKind};
use crate::stats::DRILLS;
use crate::store::SessionId;
use crate::workflow::{
    ClubRow, Span, begin_block, chosen_unit, laying_words, mean_words, score_words, scoring_words,
    sd_words, share_words, stance_words, study_clubs, study_drills, study_season, swings_words,
    value_words,
};

/// Which block to begin.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline begin 3 --title Before --phase before --club 7-iron
  scuffline begin 3 --drill two-lines-bare      a run of a drill is a block
New swings of that session (scuffline scan) go into it until another block is begun.")]
pub struct BeginArgs {
    /// The session's number, as scuffline sessions prints it.
    #[arg(value_name = "SESSION")]
    pub session: i64,

    /// What it is called.
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub title: String,

    /// When in the course of learning.
    #[arg(long, value_enum, default_value = "plain")]
    pub phase: PhaseArg,

    /// Without a ball.
    #[arg(long)]
    pub no_ball: bool,

    /// A drill by its key, as scuffline drills prints it.
    #[arg(long, value_name = "KEY")]
    pub drill: Option<String>,

    /// The club of every swing in it.
    #[arg(long, value_name = "CLUB")]
    pub club: Option<String>,

    /// The cue, in the coach's words.
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub cue: String,
}

/// When in the course of learning.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum PhaseArg {
    /// Nothing is compared.
    Plain,
    /// Before the lesson or the change.
    Before,
    /// After it, the same day.
    After,
    /// Days later.
    Later,
}

/// Whose clubs.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline clubs --golfer Robin
  scuffline clubs --session 3        of one session alone")]
pub struct ClubsArgs {
    /// The golfer. Without it, the only one, or else the only real one.
    #[arg(long, value_name = "NAME")]
    pub golfer: Option<String>,

    /// One session by its number; without it, all of them.
    #[arg(long, value_name = "SESSION", conflicts_with = "golfer")]
    pub session: Option<i64>,
}

/// Whose season, and of what.
#[derive(Debug, Args)]
#[command(after_help = "\
Example:
  scuffline season --golfer Robin --club 7-iron --of low-point")]
pub struct SeasonArgs {
    /// The golfer. Without it, the only one, or else the only real one.
    #[arg(long, value_name = "NAME")]
    pub golfer: Option<String>,

    /// Strikes with this club only.
    #[arg(long, value_name = "CLUB")]
    pub club: Option<String>,

    /// Which number.
    #[arg(long, value_enum, default_value = "divot-start")]
    pub of: NumberArg,
}

/// A number of a swing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum NumberArg {
    /// Divot start minus ball.
    DivotStart,
    /// Divot end minus ball.
    DivotEnd,
    /// Low point minus ball.
    LowPoint,
    /// Attack angle at the ball.
    AttackAngle,
}

/// Whose drills.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline drills                     how each is laid out and scored, and its key
  scuffline drills --golfer Robin      with personal bests
  scuffline begin 3 --drill two-lines-bare")]
pub struct DrillsArgs {
    /// The golfer whose personal bests are told. Without it, the only one, or else the only
    /// real one.
    #[arg(long, value_name = "NAME")]
    pub golfer: Option<String>,
}

/// Begins a block and prints its number and name.
///
/// # Errors
/// There is no such session or drill, or the library can't be written.
pub fn begin(args: &BeginArgs, path: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let drill =
        match &args.drill {
            Some(key) => Some(DRILLS.iter().find(|d| d.key == key).with_context(|| {
                format!("There is no drill {key}; scuffline drills lists them")
            })?),
            None => None,
        };
    let text = |given: &str, of_drill: Option<&str>| match given.is_empty() {
        true => of_drill.unwrap_or_default().to_owned(),
        false => given.to_owned(),
    };
    let bare = args.no_ball || drill.is_some_and(|d| d.ball == BallUse::WithoutBall);
    let block = Block {
        title: text(&args.title, drill.map(|d| d.title)),
        phase: match args.phase {
            PhaseArg::Plain => Phase::Plain,
            PhaseArg::Before => Phase::Before,
            PhaseArg::After => Phase::After,
            PhaseArg::Later => Phase::Later,
        },
        ball: if bare { BallUse::WithoutBall } else { BallUse::WithBall },
        drill: args.drill.clone(),
        club: args.club.clone().map(Club),
        cue: text(&args.cue, drill.map(|d| d.cue)),
        notes: String::new(),
    };
    let mut library = super::open_library(path)?;
    let session = library.session(SessionId(args.session))?.id;
    let id = begin_block(&mut library, session, &block)?;
    let name = match (block.title.as_str(), block.phase) {
        ("", Phase::Plain) => String::new(),
        ("", Phase::Before) => ": Before".into(),
        ("", Phase::After) => ": After".into(),
        ("", Phase::Later) => ": Later".into(),
        (title, _) => format!(": {title}"),
    };
    Ok(writeln!(out, "Block {id}{name}")?)
}

/// Prints a golfer's swings club by club.
///
/// # Errors
/// There is no such golfer or session, or the library can't be read.
pub fn clubs(args: &ClubsArgs, path: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let library = super::open_library(path)?;
    let (golfer, span) = match args.session {
        Some(number) => {
            let row = library.session(SessionId(number))?;
            (row.golfer, Span::Session(row.id))
        }
        None => (golfer_of(&library, args.golfer.as_deref())?, Span::All),
    };
    let study = study_clubs(&library, golfer, span)?;
    if study.rows.is_empty() {
        bail!("This golfer has no swings yet; read a recording in first");
    }
    let unit = chosen_unit(&library)?;
    for row in &study.rows {
        out.write_all(club_words(row, unit).as_bytes())?;
    }
    for (club, comparison) in &study.gaps {
        let club = club.as_ref().map_or("no club named", |c| c.0.as_str());
        writeln!(out, "With a ball against without, {club}: {}", comparison.sentence(unit))?;
    }
    if let Some(words) = stance_words(&study, unit) {
        writeln!(out, "{words}")?;
    }
    Ok(())
}

fn club_words(row: &ClubRow, unit: LengthUnit) -> String {
    let mut text = row.club.as_ref().map_or("club not named".to_owned(), |c| c.0.clone());
    if row.kind == SwingKind::Practice {
        text.push_str(", no ball");
    }
    if row.surface == Surface::Mat {
        text.push_str(", mat");
    }
    let _ = writeln!(text, ": {}", swings_words(row.summary.n));
    for offset in &row.summary.offsets {
        let spread = sd_words(offset, unit).map_or(String::new(), |s| format!(", SD {s}"));
        let mean = mean_words(offset, unit);
        let _ = writeln!(text, "  {:<13} {mean}{spread}", offset.quantity.words_of(offset.mark));
    }
    if let Some(share) = &row.summary.ball_first {
        let _ = writeln!(text, "  {:<13} {}", "ball first", share_words(share));
    }
    for caution in &row.summary.cautions {
        let _ = writeln!(text, "  Note: {}", caution.text(unit, row.summary.mark));
    }
    text
}

/// Prints a number session by session.
///
/// # Errors
/// There is no such golfer, or the library can't be read.
pub fn season(args: &SeasonArgs, path: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let library = super::open_library(path)?;
    let golfer = golfer_of(&library, args.golfer.as_deref())?;
    let of = match args.of {
        NumberArg::DivotStart => Quantity::DivotStart,
        NumberArg::DivotEnd => Quantity::DivotEnd,
        NumberArg::LowPoint => Quantity::LowPoint,
        NumberArg::AttackAngle => Quantity::AttackAngle,
    };
    let study = study_season(&library, golfer, of, args.club.clone().map(Club))?;
    let unit = chosen_unit(&library)?;
    if study.points.is_empty() {
        let of = of.words();
        writeln!(
            out,
            "Nothing was found here: no strike with a {of} counts, or none with this club; scuffline sessions lists what there is."
        )?;
    }
    for (day, point) in &study.points {
        let value = |v| value_words(of, v, unit);
        let interval = point
            .interval
            .map_or(String::new(), |i| format!(", 95 % {} to {}", value(i.low), value(i.high)));
        let mat = if point.surface == Surface::Mat { ", mat" } else { "" };
        writeln!(
            out,
            "{day}  session {}{mat}: {} (n = {}{interval})",
            point.session,
            value(point.mean.value),
            point.n
        )?;
    }
    Ok(())
}

/// Lists the drills with their keys, and how the golfer does in them.
///
/// # Errors
/// The library can't be read.
pub fn drills(args: &DrillsArgs, path: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let library = super::open_library(path)?;
    let unit = chosen_unit(&library)?;
    // Without a golfer the drills themselves are worth reading.
    let golfer = match args.golfer.as_deref() {
        Some(name) => Some(golfer_of(&library, Some(name))?),
        None => golfer_of(&library, None).ok(),
    };
    let studies = golfer.map(|golfer| study_drills(&library, golfer)).transpose()?;
    for (i, drill) in DRILLS.iter().enumerate() {
        writeln!(out, "{:<15} {}", drill.key, drill.title)?;
        for line in [&laying_words(drill, unit), drill.cue, &scoring_words(drill.scoring, unit)] {
            writeln!(out, "                {line}")?;
        }
        if let Some(best) = studies.as_ref().and_then(|all| all.get(i)?.best()) {
            let score = score_words(drill.scoring, &best.score);
            writeln!(
                out,
                "                Personal best {score}, {} (block {})",
                best.day, best.block
            )?;
        }
    }
    Ok(())
}
