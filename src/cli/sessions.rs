//! `scuffline sessions`, `summary` and `compare`: what the library's swings say together.

use std::fmt::Write as _;
use std::io::Write;
use std::path::Path;

use anyhow::bail;
use clap::Args;

use crate::domain::{LengthUnit, Quantity};
use crate::stats::{BlockSummary, OffsetSummary};
use crate::store::{GolferId, Library, Of, SessionId};
use crate::workflow::{attack_words, chosen_unit, compare, length_words, place_words, summarise};

/// Whose sessions to list.
#[derive(Debug, Args)]
pub struct SessionsArgs {
    /// The golfer; without it, all of them.
    #[arg(long, value_name = "NAME")]
    pub golfer: Option<String>,
}

/// Which session to sum up.
#[derive(Debug, Args)]
#[command(after_help = "\
Example:
  scuffline summary 3        number, mean and spread of session 3 (see scuffline sessions)")]
pub struct SummaryArgs {
    /// The session's number, as scuffline sessions prints it.
    #[arg(value_name = "SESSION")]
    pub session: i64,
}

/// Which two sessions to compare.
#[derive(Debug, Args)]
#[command(after_help = "\
Example:
  scuffline compare 3 5      what changed from session 3 to session 5, and whether it is shown")]
pub struct CompareArgs {
    /// The earlier session's number.
    #[arg(value_name = "SESSION")]
    pub first: i64,

    /// The later session's number.
    #[arg(value_name = "SESSION")]
    pub second: i64,
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
        for row in library.sessions(id)? {
            let place = &row.session.place;
            let gap = if place.is_empty() { "" } else { ", " };
            let swings = if row.swings == 1 { "swing" } else { "swings" };
            writeln!(
                out,
                "  {:>4}  {}{gap}{place}: {} {swings}",
                row.id, row.session.date, row.swings
            )?;
        }
    }
    Ok(())
}

/// Prints number, mean and spread of a session's swings.
///
/// # Errors
/// There is no such session, or the library can't be read.
pub fn sum_up(args: &SummaryArgs, path: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let library = super::open_library(path)?;
    let session = SessionId(args.session);
    let summary = summarise(&library, golfer_of(&library, session)?, Of::Session(session))?;
    Ok(out.write_all(summary_words(&summary, chosen_unit(&library)?).as_bytes())?)
}

/// Prints what two sessions of a golfer say against each other.
///
/// # Errors
/// There is no such session, they belong to two golfers, or the library can't be read.
pub fn set_beside(
    args: &CompareArgs,
    path: Option<&Path>,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let library = super::open_library(path)?;
    let (first, second) = (SessionId(args.first), SessionId(args.second));
    let golfer = golfer_of(&library, first)?;
    if golfer_of(&library, second)? != golfer {
        bail!("The two sessions belong to different golfers; choose two of one golfer");
    }
    let comparison = compare(&library, golfer, Of::Session(first), Of::Session(second))?;
    let unit = chosen_unit(&library)?;
    writeln!(out, "{}", comparison.sentence(unit))?;
    for offset in &comparison.offsets {
        writeln!(out, "\n{}\n  {}", title(offset.quantity), offset.sentence(unit))?;
    }
    for caution in &comparison.cautions {
        writeln!(out, "\nNote: {caution}")?;
    }
    Ok(())
}

fn golfer_of(library: &Library, session: SessionId) -> anyhow::Result<GolferId> {
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
