//! A session of the library as a report's content: every number and word as the screen has it.

use std::collections::BTreeMap;

use crate::domain::{
    Block, Interval, LengthUnit, LowPointMethod, Measured, Phase, Quantity, Surface, SwingResult,
};
use crate::report::content::{
    AimWindow, BlockSummary, Comparison, Content, Figure, PLUS_MINUS, Share, Spread, SwingRow,
    cautions,
};
use crate::stats::{self, AimTable, OffsetSummary, SpreadRatio, SwingOffsets};
use crate::store::{self, BlockId, Library, Of, RecordingId, Result, SessionId};

use super::consistency::{aim_table, compare, offsets_of, summarise};
use super::outline::block_names;
use super::state::{
    Stated, chosen_unit, length_words, reference_words, state, words_for_attack, words_for_offset,
};
use super::tell::laying_words;

/// What a coach adds to a report; empty parts are taken from the session.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CoachSays {
    /// The coach's words; else the session's cue.
    pub words: String,
    /// What to practise; else the drills that were played.
    pub practise: Vec<String>,
}

/// A session as a report.
///
/// # Errors
/// The library can't be read.
pub fn session_content(library: &Library, id: SessionId, says: &CoachSays) -> Result<Content> {
    let row = library.session(id)?;
    let golfer = library.golfer(row.golfer)?;
    let unit = chosen_unit(library)?;
    let blocks = library.blocks(id)?;
    let swings = library.swings(Of::Session(id))?;
    // One that has only begun says nothing yet, and hides what was played before.
    let is_played = |(id, _): &&(BlockId, Block)| swings.iter().any(|s| s.block == Some(*id));
    let played: Vec<(BlockId, Block)> = blocks.iter().filter(is_played).cloned().collect();
    let offsets = offsets_of(library, Of::Session(id))?;
    let clubs: Vec<String> =
        offsets.iter().filter_map(|o| Some(o.club.as_ref()?.0.clone())).collect();
    let names = block_names(&blocks);
    let name_of =
        |block: Option<BlockId>| block.and_then(|id| names.get(&id)).cloned().unwrap_or_default();
    let told = swings.iter().zip(&offsets).enumerate().map(|(i, (swing, offset))| {
        let club = offset.club.as_ref().map_or(String::new(), |c| c.0.clone());
        swing_row(swing, i + 1, name_of(swing.block), club, unit)
    });
    let aim = aim_table(library, row.golfer)?;
    let window = common_window(&aim, &offsets);
    let summaries = summaries(library, &row, &played, &names, unit)?;
    Ok(Content {
        golfer: match golfer.invented && !golfer.name.contains("invented") {
            true => format!("{} (invented)", golfer.name),
            false => golfer.name.clone(),
        },
        date: row.session.date.to_string(),
        place: row.session.place.clone(),
        clubs: in_order_once(clubs),
        surface: surface_words(row.session.surface).into(),
        unit,
        aim_window: window.map(|w| AimWindow { from_mm: w.low_mm, to_mm: w.high_mm }),
        swings: told.collect(),
        blocks: summaries,
        comparison: comparison(library, &row, &played, &names, unit)?,
        coach_words: first_filled(&[&says.words, &row.session.cue]),
        practise: practise(says, &blocks, unit),
        how_measured: how_measured(library, &swings, unit)?,
        cautions: cautions(unit).to_vec(),
    })
}

/// Where all swings whose mark begins somewhere were to begin it; `None` where clubs differ in that.
fn common_window(aim: &AimTable, offsets: &[SwingOffsets]) -> Option<stats::AimWindow> {
    let marked = offsets.iter().filter(|o| o.divot_start.is_some() && !o.left_out);
    let mut windows = marked.map(|o| aim.window(o.club.as_ref(), o.on_tee, Quantity::DivotStart));
    let first = windows.next()??;
    windows.all(|window| window == Some(first)).then_some(first)
}

fn first_filled(texts: &[&str]) -> String {
    texts.iter().find(|t| !t.trim().is_empty()).map_or(String::new(), |t| t.trim().to_owned())
}

fn in_order_once(names: Vec<String>) -> Vec<String> {
    let mut once: Vec<String> = Vec::new();
    for name in names {
        if !once.contains(&name) {
            once.push(name);
        }
    }
    once
}

pub(super) fn surface_words(surface: Surface) -> &'static str {
    match surface {
        Surface::Turf => "turf",
        Surface::Mat => "mat",
    }
}

/// A measured number with the screen's words for it.
fn figure(measured: &Measured, words: impl Fn(&Stated) -> String) -> Figure {
    let stated = state(measured);
    figure_of(stated.value, stated.interval, words(&stated))
}

fn figure_of(value: f64, interval: Interval, words: String) -> Figure {
    let interval_95 = [interval.low, interval.high];
    Figure { value, expanded_uncertainty: interval.half_width(), interval_95, words }
}

fn swing_row(
    swing: &store::SwingRow,
    number: usize,
    block: String,
    club: String,
    unit: LengthUnit,
) -> SwingRow {
    let result = swing.result.as_ref();
    let offset = |of: fn(&SwingResult) -> Option<&Measured>| {
        result.and_then(of).map(|m| figure(m, |stated| words_for_offset(stated, unit)))
    };
    let attack = result.and_then(|r| r.attack_angle.as_ref());
    let open = result.map_or(&[][..], |r| &r.needs_review);
    SwingRow {
        number,
        block,
        club,
        kind: swing.kind,
        ground_mark: result.and_then(|r| r.ground_mark),
        divot_start_mm: offset(|r| r.divot_start_offset.as_ref()),
        divot_end_mm: offset(|r| r.divot_end_offset.as_ref()),
        low_point_mm: offset(|r| r.low_point.as_ref().map(|(m, _)| m)),
        low_point_method: result.and_then(|r| r.low_point.as_ref()).map(|(_, method)| *method),
        attack_angle_deg: attack.map(|m| figure(m, words_for_attack)),
        contact_order: result.and_then(|r| r.contact_order),
        needs_review: open.iter().filter(|r| !swing.confirmed.contains(r)).copied().collect(),
        left_out: swing.left_out.clone(),
        notes: swing.notes.clone(),
    }
}

fn summaries(
    library: &Library,
    row: &store::SessionRow,
    blocks: &[(BlockId, Block)],
    names: &BTreeMap<BlockId, String>,
    unit: LengthUnit,
) -> Result<Vec<BlockSummary>> {
    if blocks.is_empty() {
        let all = summarise(library, row.golfer, Of::Session(row.id))?;
        return Ok(vec![block_summary(String::new(), &all, unit)]);
    }
    let of = |(id, _): &(BlockId, Block)| {
        let summary = summarise(library, row.golfer, Of::Block(*id))?;
        Ok(block_summary(names[id].clone(), &summary, unit))
    };
    blocks.iter().map(of).collect()
}

fn block_summary(name: String, of: &stats::BlockSummary, unit: LengthUnit) -> BlockSummary {
    let share = |share: stats::Share| Share {
        count: share.hits,
        of: share.of,
        words: format!("{} of {}", share.hits, share.of),
    };
    BlockSummary {
        name,
        counted: of.n,
        left_out: of.left_out,
        divot_start: of.offset(Quantity::DivotStart).and_then(|o| spread(o, unit)),
        low_point: of.offset(Quantity::LowPoint).and_then(|o| spread(o, unit)),
        ball_first: of.ball_first.map(share),
        in_aim_window: of.start_in_window.map(share),
    }
}

/// Mean and spread; a single swing has neither and speaks for itself.
fn spread(of: &OffsetSummary, unit: LengthUnit) -> Option<Spread> {
    if of.moments.n < 2 {
        return None;
    }
    let stated = Stated { value: of.moments.mean, interval: of.mean_interval? };
    let mean_mm = figure_of(stated.value, stated.interval, words_for_offset(&stated, unit));
    let sd_mm = of.moments.sd.zip(of.sd_interval).map(|(sd, interval)| {
        let words = |mm: f64| length_words(mm, unit);
        let (low, high) = (words(interval.low), words(interval.high));
        let words = format!("{} {} ({low} to {high})", words(sd), unit.short_name());
        figure_of(sd, interval, words)
    });
    Some(Spread { swings: of.moments.n, mean_mm, sd_mm })
}

/// The blocks that a lesson sets against each other: the first "before" and the last "after"
/// or "later"; else the only two.
fn compared(blocks: &[(BlockId, Block)]) -> Option<[BlockId; 2]> {
    let before = blocks.iter().find(|(_, b)| b.phase == Phase::Before);
    let after = blocks.iter().rfind(|(_, b)| matches!(b.phase, Phase::After | Phase::Later));
    match (before, after, blocks) {
        (Some((before, _)), Some((after, _)), _) => Some([*before, *after]),
        (_, _, [(first, _), (second, _)]) => Some([*first, *second]),
        _ => None,
    }
}

fn comparison(
    library: &Library,
    row: &store::SessionRow,
    blocks: &[(BlockId, Block)],
    names: &BTreeMap<BlockId, String>,
    unit: LengthUnit,
) -> Result<Option<Comparison>> {
    let Some([first, second]) = compared(blocks) else { return Ok(None) };
    let compared = compare(library, row.golfer, Of::Block(first), Of::Block(second))?;
    let told =
        compared.offset(Quantity::DivotStart).or_else(|| compared.offset(Quantity::LowPoint));
    let difference_mm = told.map(|o| {
        let (value, interval) = (o.means.difference, o.means.interval);
        figure_of(value, interval, difference_words(value, interval, unit))
    });
    let more = told.filter(|o| !o.is_shown()).and_then(|o| o.swings_needed);
    Ok(Some(Comparison {
        before: names[&first].clone(),
        after: names[&second].clone(),
        sentence: compared.sentence(unit),
        difference_mm,
        spread_ratio: told.and_then(|o| o.spreads.as_ref()).map(ratio),
        more_swings: more.map(|n| {
            format!(
                "To show a difference as large as this one takes about {n} swings in each block."
            )
        }),
    }))
}

fn difference_words(mm: f64, interval: Interval, unit: LengthUnit) -> String {
    let way = if mm < 0.0 { "farther back" } else { "farther ahead" };
    let half = length_words(interval.reach(mm), unit);
    format!("{} {} {way} ± {half}", length_words(mm.abs(), unit), unit.short_name())
}

/// The ratio of which the sentence speaks: the one that outliers hardly move.
fn ratio(spreads: &SpreadRatio) -> Figure {
    let Interval { low, high } = spreads.robust_interval;
    let words = format!("{:.2} ({low:.2} to {high:.2})", spreads.robust_ratio);
    figure_of(spreads.robust_ratio, spreads.robust_interval, words)
}

fn practise(says: &CoachSays, blocks: &[(BlockId, Block)], unit: LengthUnit) -> Vec<String> {
    if !says.practise.is_empty() {
        return says.practise.clone();
    }
    let keys = in_order_once(blocks.iter().filter_map(|(_, b)| b.drill.clone()).collect());
    let drill = |key: &String| stats::DRILLS.iter().find(|d| d.key == key);
    let told = keys.iter().filter_map(drill);
    told.map(|d| format!("{}: {} {}", d.title, laying_words(d, unit), d.cue)).collect()
}

/// Which objects gave the scale, what the low points were read from, and what ± means.
fn how_measured(
    library: &Library,
    swings: &[store::SwingRow],
    unit: LengthUnit,
) -> Result<Vec<String>> {
    let mut lines = Vec::new();
    let recordings: std::collections::BTreeSet<RecordingId> =
        swings.iter().filter_map(|s| s.recording).collect();
    let mut rulers = Vec::new();
    for recording in recordings {
        let setup = library.shared_setup(recording)?;
        rulers.extend(setup.references.iter().map(|r| reference_words(r, unit)));
    }
    let rulers = in_order_once(rulers);
    if !rulers.is_empty() {
        lines.push(format!("Scale from {}, marked in the picture.", rulers.join(", ")));
    } else if swings.iter().any(|s| s.recording.is_some()) {
        lines.push("Scale from the ball alone: a poor ruler, and the ± says so.".into());
    }
    let methods = swings.iter().filter_map(|s| Some(s.result.as_ref()?.low_point.as_ref()?.1));
    let methods = in_order_once(methods.map(|m| method_words(m).to_owned()).collect());
    if !methods.is_empty() {
        lines.push(format!("Low point {}.", methods.join(", or ")));
    }
    if swings.iter().any(|s| s.invented) {
        lines.push("Some of these numbers are invented, to show what a session looks like.".into());
    }
    lines.push(PLUS_MINUS.into());
    Ok(lines)
}

fn method_words(method: LowPointMethod) -> &'static str {
    match method {
        LowPointMethod::Arc => "from the club head's path",
        LowPointMethod::Mark => "from the mark in the ground, with a wide ±",
        LowPointMethod::ArcAndMark => "from the club head's path and the mark together",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_of_one_name_are_told_apart() {
        let block = |title: &str, phase| Block { title: title.into(), phase, ..Block::default() };
        let blocks = [
            (BlockId(1), block("", Phase::Before)),
            (BlockId(2), block("gate", Phase::Plain)),
            (BlockId(3), block("gate", Phase::Plain)),
            (BlockId(4), block("", Phase::Later)),
        ];
        let names = block_names(&blocks);
        let names: Vec<&str> = names.values().map(String::as_str).collect();
        assert_eq!(names, ["before", "gate", "gate 2", "later"]);
        assert_eq!(compared(&blocks), Some([BlockId(1), BlockId(4)]));
        assert_eq!(compared(&blocks[1..3]), Some([BlockId(2), BlockId(3)]));
        assert_eq!(compared(&blocks[..3]), None);
    }

    #[test]
    fn differences_are_said_with_their_way() {
        let interval = Interval { low: 23.0, high: 65.0 };
        assert_eq!(difference_words(44.0, interval, LengthUnit::Mm), "44 mm farther ahead ± 21");
        let interval = Interval { low: -65.0, high: -23.0 };
        assert_eq!(difference_words(-44.0, interval, LengthUnit::Cm), "4.4 cm farther back ± 2.1");
    }
}
