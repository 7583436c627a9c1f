//! `scuffline sessions`, `summary` and `compare`: what the library's swings say together.

use std::fmt::Write as _;
use std::io::Write;
use std::path::Path;

use anyhow::bail;
use clap::Args;

use crate::domain::{LengthUnit, Quantity};
use crate::stats::{BlockSummary, OffsetSummary};
use crate::store::{BlockId, GolferId, Library, Of, SessionId};
use crate::workflow::{
    attack_words, chance_words, chosen_unit, length_words, outline, place_words, study_comparison,
    summarise,
};

/// Whose sessions to list.
#[derive(Debug, Args)]
pub struct SessionsArgs {
    /// The golfer; without it, all of them.
    #[arg(long, value_name = "NAME")]
    pub golfer: Option<String>,

    /// Their blocks as well.
    #[arg(long)]
    pub blocks: bool,
}

/// What to sum up.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline summary 3            number, mean and spread of session 3 (see scuffline sessions)
  scuffline summary --block 12   of a block of it (see scuffline sessions --blocks)")]
pub struct SummaryArgs {
    /// The session's number, as scuffline sessions prints it.
    #[arg(value_name = "SESSION", required_unless_present = "block")]
    pub session: Option<i64>,

    /// A block's number instead, as scuffline sessions --blocks prints it.
    #[arg(long, value_name = "BLOCK", conflicts_with = "session")]
    pub block: Option<i64>,
}

/// What to compare.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline compare 3 5          what changed from session 3 to session 5, and whether it is shown
  scuffline compare --block 12 --block 13 --block 21
                                 before, after and days later: what was gained, and what was kept
Several comparisons at once are corrected for each other (Holm).")]
pub struct CompareArgs {
    /// The earlier session's number, then those held against it.
    #[arg(value_name = "SESSION")]
    pub sessions: Vec<i64>,

    /// A block's number, instead of sessions; two or more.
    #[arg(long = "block", value_name = "BLOCK", conflicts_with = "sessions")]
    pub blocks: Vec<i64>,
}

/// Lists golfers and their sessions, newest first.
///
/// # Errors
/// The library can't be read.
pub fn list(args: &SessionsArgs, path: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let library = super::open_library(path)?;
    let wanted = |name: &str| {
        args.golfer.as_ref().is_none_or(|golfer| golfer.trim().eq_ignore_ascii_case(name))
    };
    for (id, golfer) in library.golfers()?.into_iter().filter(|(_, g)| wanted(&g.name)) {
        writeln!(out, "{}", golfer.name)?;
        for session in outline(&library, id)?.sessions {
            let place = &session.session.place;
            let gap = if place.is_empty() { "" } else { ", " };
            let (id, date, swings) = (session.id, session.session.date, counted(session.swings));
            writeln!(out, "  {id:>4}  {date}{gap}{place}: {swings}")?;
            for (row, name) in session.blocks.iter().filter(|_| args.blocks) {
                writeln!(out, "        block {:>4}  {name}: {}", row.id, counted(row.swings))?;
            }
        }
    }
    Ok(())
}

fn counted(swings: usize) -> String {
    if swings == 1 { "1 swing".into() } else { format!("{swings} swings") }
}

/// Prints number, mean and spread of a session's or block's swings.
///
/// # Errors
/// There is no such session or block, or the library can't be read.
pub fn sum_up(args: &SummaryArgs, path: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let library = super::open_library(path)?;
    let of = match (args.session, args.block) {
        (_, Some(block)) => Of::Block(BlockId(block)),
        (Some(session), None) => Of::Session(SessionId(session)),
        (None, None) => bail!("Say which session, or which block with --block"),
    };
    let summary = summarise(&library, golfer_of(&library, of)?, of)?;
    Ok(out.write_all(summary_words(&summary, chosen_unit(&library)?).as_bytes())?)
}

/// Prints what sessions or blocks of a golfer say against the first of them.
///
/// # Errors
/// There is no such session or block, they belong to two golfers, or the library can't be
/// read.
pub fn set_beside(
    args: &CompareArgs,
    path: Option<&Path>,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let library = super::open_library(path)?;
    let sessions = args.sessions.iter().map(|id| Of::Session(SessionId(*id)));
    let blocks = args.blocks.iter().map(|id| Of::Block(BlockId(*id)));
    let all: Vec<Of> = sessions.chain(blocks).collect();
    let [first, others @ ..] = all.as_slice() else { bail!("Say what to compare: two sessions") };
    if others.is_empty() {
        bail!("It takes two to compare; name another session or block");
    }
    let golfer = golfer_of(&library, *first)?;
    for other in others {
        if golfer_of(&library, *other)? != golfer {
            bail!("They belong to different golfers; choose those of one golfer");
        }
    }
    let unit = chosen_unit(&library)?;
    let study = study_comparison(&library, golfer, *first, others)?;
    for other in &study.others {
        if study.others.len() > 1 {
            writeln!(out, "{} against {}", other.title, study.title)?;
        }
        writeln!(out, "{}", other.comparison.sentence(unit))?;
        for (offset, corrected) in other.comparison.offsets.iter().zip(&other.corrected) {
            let (p, corrected) = (chance_words(offset.means.test.p), chance_words(*corrected));
            writeln!(out, "\n{}\n  {}", title(offset.quantity), offset.sentence(unit))?;
            writeln!(
                out,
                "  chance {p}; corrected for {} looked at together: {corrected}",
                study.looked_at
            )?;
        }
        for caution in &other.comparison.cautions {
            writeln!(out, "\nNote: {caution}")?;
        }
        writeln!(out)?;
    }
    if let Some(retention) = &study.retention {
        writeln!(out, "{}", retention.sentence(unit))?;
    }
    Ok(())
}

fn golfer_of(library: &Library, of: Of) -> anyhow::Result<GolferId> {
    let session = match of {
        Of::Session(id) => id,
        Of::Block(id) => library.block(id)?.session,
        Of::Recording(id) => library.recording(id)?.session,
    };
    Ok(library.session(session)?.golfer)
}

fn title(quantity: Quantity) -> String {
    let words = quantity.words();
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

/// A block's numbers in words, a line each.
fn summary_words(summary: &BlockSummary, unit: LengthUnit) -> String {
    let mut text = match summary.n {
        1 => "1 swing counts".to_owned(),
        n => format!("{n} swings count"),
    };
    if summary.left_out > 0 {
        let _ = write!(text, ", {} left out", summary.left_out);
    }
    text.push('\n');
    for offset in &summary.offsets {
        let _ = writeln!(text, "  {:<13} {}", offset.quantity.words(), offset_words(offset, unit));
    }
    if let Some(share) = summary.ball_first {
        let _ = writeln!(text, "  {:<13} {} of {}", "ball first", share.hits, share.of);
    }
    for (name, share) in
        [("start in aim", summary.start_in_window), ("low in aim", summary.low_point_in_window)]
    {
        if let Some(share) = share {
            let _ = writeln!(text, "  {name:<13} {} of {}", share.hits, share.of);
        }
    }
    for caution in &summary.cautions {
        let _ = writeln!(text, "Note: {}", caution.text());
    }
    text
}

fn offset_words(offset: &OffsetSummary, unit: LengthUnit) -> String {
    let moments = &offset.moments;
    let is_angle = offset.quantity == Quantity::AttackAngle;
    let length = |value: f64| match is_angle {
        true => format!("{value:.1}"),
        false => length_words(value, unit),
    };
    let mean = match is_angle {
        true => attack_words(moments.mean),
        false => place_words(moments.mean, unit),
    };
    let mut words = format!("n {}, mean {mean}", moments.n);
    if let Some(interval) = offset.mean_interval {
        let _ = write!(words, " ± {}", length(interval.half_width()));
    }
    if let (Some(sd), Some(interval)) = (moments.sd, offset.sd_interval) {
        let _ = write!(
            words,
            ", SD {} ({} to {}), of which measuring {}",
            length(sd),
            length(interval.low),
            length(interval.high),
            length(offset.measuring_sd)
        );
    }
    words
}
