//! `scuffline sessions`, `summary` and `compare`: what the library's swings say together.

use std::fmt::Write as _;
use std::io::Write;
use std::path::Path;

use anyhow::bail;
use clap::Args;

use crate::domain::{LengthUnit, capital};
use crate::store::{BlockId, GolferId, Library, Of, SessionId};
use crate::workflow::{
    Against, BlockFact, BlockStudy, ComparisonStudy, block_facts, chosen_unit, comparison_facts,
    outline, own_spread_words, repeatability_words, score_words, share_facts, study_block,
    study_comparison, swings_words,
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
                                 begun as before, after and later: what was gained, what was kept
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
    let golfers: Vec<_> = library.golfers()?.into_iter().filter(|(_, g)| wanted(&g.name)).collect();
    if let (Some(name), true) = (&args.golfer, golfers.is_empty()) {
        bail!("There is no golfer called {} in the library; check the name", name.trim());
    }
    if golfers.is_empty() {
        writeln!(out, "Nothing was found here; read a recording in with scuffline scan.")?;
    }
    for (id, golfer) in golfers {
        writeln!(out, "{}", golfer.name)?;
        for session in outline(&library, id)?.sessions {
            let place = &session.session.place;
            let gap = if place.is_empty() { "" } else { ", " };
            let (id, date, swings) =
                (session.id, session.session.date, swings_words(session.swings));
            writeln!(out, "  {id:>4}  {date}{gap}{place}: {swings}")?;
            for (row, name) in session.blocks.iter().filter(|_| args.blocks) {
                writeln!(out, "        block {:>4}  {name}: {}", row.id, swings_words(row.swings))?;
            }
        }
    }
    Ok(())
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
    let study = study_block(&library, golfer_of(&library, of)?, of)?;
    Ok(out.write_all(summary_words(&study, chosen_unit(&library)?).as_bytes())?)
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
    for (i, other) in study.others.iter().enumerate() {
        if i > 0 {
            writeln!(out)?;
        }
        if study.others.len() > 1 {
            writeln!(out, "{} against {}", other.title, study.title)?;
        }
        out.write_all(against_words(other, unit).as_bytes())?;
    }
    out.write_all(shares_words(&study).as_bytes())?;
    let has_more = study.retention.is_some() || study.repeatability.is_some();
    if study.looked_at > 1 || has_more {
        writeln!(out)?;
    }
    if study.looked_at > 1 {
        writeln!(
            out,
            "Chances are corrected for the {} comparisons looked at together (Holm 1979).",
            study.looked_at
        )?;
    }
    if let Some(retention) = &study.retention {
        writeln!(out, "{}", retention.sentence(unit))?;
    }
    if study.repeatability.is_some() {
        writeln!(out, "{}", repeatability_words(study.repeatability.as_ref(), unit))?;
    }
    Ok(())
}

/// One block against the first: the sentence, then every number.
fn against_words(other: &Against, unit: LengthUnit) -> String {
    let mut text = format!("{}\n", other.sentence(unit));
    if other.is_ball_gap {
        text.push_str("One was played without a ball and the other with one: the gap itself is the finding.\n");
    }
    for (place, offset) in other.comparison.offsets.iter().enumerate() {
        let _ = writeln!(text, "\n{}", capital(offset.quantity.words()));
        for fact in comparison_facts(other, place, unit) {
            let _ = writeln!(text, "  {:<22} {}", fact.name, fact.text);
        }
    }
    let cautions: Vec<_> =
        other.comparison.cautions.iter().map(|caution| format!("Note: {caution}\n")).collect();
    if !cautions.is_empty() {
        let _ = write!(text, "\n{}", cautions.concat());
    }
    text
}

/// How many swings of each block did what, block by block.
fn shares_words(study: &ComparisonStudy) -> String {
    let mut text = String::new();
    let first = study.others.first().map(|other| (&study.title, &other.comparison.first));
    let others = study.others.iter().map(|other| (&other.title, &other.comparison.second));
    for (title, summary) in first.into_iter().chain(others) {
        let facts = share_facts(summary);
        if !facts.is_empty() {
            let _ = writeln!(text, "\n{}", capital(title));
        }
        for BlockFact { name, text: fact, .. } in facts {
            let _ = writeln!(text, "  {name:<22} {fact}");
        }
    }
    text
}

fn golfer_of(library: &Library, of: Of) -> anyhow::Result<GolferId> {
    let session = match of {
        Of::Session(id) => id,
        Of::Block(id) => library.block(id)?.session,
        Of::Recording(id) => library.recording(id)?.session,
    };
    Ok(library.session(session)?.golfer)
}

/// A block's numbers in words, a line each.
fn summary_words(study: &BlockStudy, unit: LengthUnit) -> String {
    let n = study.summary.n;
    let mut text = format!("{} {}", swings_words(n), if n == 1 { "counts" } else { "count" });
    if study.summary.left_out > 0 {
        let _ = write!(text, ", {} left out", study.summary.left_out);
    }
    text.push('\n');
    let shares = share_facts(&study.summary);
    for BlockFact { name, text: fact, .. } in &shares {
        let _ = writeln!(text, "  {name:<22} {fact}");
    }
    for offset in &study.summary.offsets {
        let _ = writeln!(text, "\n{}", capital(offset.quantity.words()));
        if let Some(own) = own_spread_words(offset, unit) {
            let _ = writeln!(text, "  {own}.");
        }
        let facts = block_facts(study, offset, unit);
        let others = facts.into_iter().filter(|fact| !shares.contains(fact));
        for BlockFact { name, text: fact, .. } in others {
            let _ = writeln!(text, "  {name:<22} {fact}");
        }
    }
    if let Some((drill, score)) = &study.drill {
        let _ = writeln!(text, "\n{}: {}", drill.title, score_words(drill.scoring, score));
    }
    for caution in study.cautions() {
        let _ = writeln!(text, "\nNote: {}", caution.text(unit, study.summary.mark));
    }
    text
}
