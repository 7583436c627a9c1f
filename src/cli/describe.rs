//! `scuffline describe`, `aim`, `undo` and `redo`: what is known of golfers, sessions, blocks and
//! swings, and changing it, one step of undo each.

use std::io::Write;
use std::path::Path;

use anyhow::{Context, bail};
use clap::builder::{PossibleValuesParser, TypedValueParser};
use clap::{Args, Subcommand};
use serde::de::DeserializeOwned;

use super::export::golfer_of;
use crate::domain::{
    BallUse, Block, Club, Golfer, Handed, LengthUnit, Lie, Phase, Quantity, Session, Surface,
    TypedLength,
};
use crate::store::{BlockId, GolferId, Library, Of, Scope, SessionId, SwingId, SwingRow};
use crate::workflow::{
    PlanEdit, aim_table, change_plan, choose_unit, chosen_unit, remeasure, value_words,
};

/// What to describe.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline describe golfer Robin --handed left
  scuffline describe session 3 --place \"Bay 9\" --surface mat --lie up --cue \"Brush the far line\"
  scuffline describe block 12 --phase after --club 7-iron
  scuffline describe swing 3 4 5 --tag fat --leave-out \"talked to in the backswing\"
Without options it prints what is known. Every change can be taken back with scuffline undo.")]
pub struct DescribeArgs {
    /// What to describe.
    #[command(subcommand)]
    pub what: Described,
}

/// What can be described.
#[derive(Debug, Subcommand)]
pub enum Described {
    /// A golfer.
    Golfer(GolferArgs),
    /// A session.
    Session(SessionArgs),
    /// A block of a session.
    Block(BlockArgs),
    /// Swings of a session.
    Swing(SwingArgs),
}

/// The unit of lengths.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  scuffline units inch")]
pub struct UnitsArgs {
    /// In which unit lengths are shown from now on, in the window and everywhere else; without it
    /// the unit chosen is printed.
    #[arg(value_name = "UNIT", value_parser = words::<LengthUnit>(&["mm", "cm", "inch"]))]
    pub unit: Option<LengthUnit>,
}

/// Chooses the unit of lengths, or prints it.
///
/// # Errors
/// The library can't be used.
pub fn units(args: &UnitsArgs, library: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let mut library = super::open_library(library)?;
    if let Some(unit) = args.unit {
        choose_unit(&mut library, unit)?;
    }
    writeln!(out, "{}", word(&chosen_unit(&library)?))?;
    Ok(())
}

/// What is known of a golfer.
#[derive(Debug, Args)]
pub struct GolferArgs {
    /// Who.
    #[arg(value_name = "NAME")]
    pub golfer: String,
    /// A golfer who is not in the library yet.
    #[arg(long)]
    pub new: bool,
    /// Another name.
    #[arg(long, value_name = "NAME")]
    pub rename: Option<String>,
    /// Which side they play from.
    #[arg(long, value_parser = words::<Handed>(&["right", "left"]))]
    pub handed: Option<Handed>,
    /// A child: sharing asks for the guardian's consent.
    #[arg(long, value_name = "yes|no", value_parser = yes_or_no())]
    pub child: Option<bool>,
    /// Free notes.
    #[arg(long, value_name = "TEXT")]
    pub notes: Option<String>,
}

/// What is known of a session.
#[derive(Debug, Args)]
pub struct SessionArgs {
    /// Its number, as scuffline sessions prints it.
    #[arg(value_name = "SESSION")]
    pub session: i64,
    /// The day, as 2026-05-31.
    #[arg(long, value_name = "DATE", value_parser = super::day)]
    pub date: Option<jiff::civil::Date>,
    /// Where.
    #[arg(long, value_name = "TEXT")]
    pub place: Option<String>,
    /// What was played from.
    #[arg(long, value_parser = words::<Surface>(&["turf", "mat"]))]
    pub surface: Option<Surface>,
    /// The lie of the ground toward the target.
    #[arg(long, value_parser = words::<Lie>(&["level", "up", "down"]))]
    pub lie: Option<Lie>,
    /// Where the camera stood.
    #[arg(long, value_name = "TEXT")]
    pub camera: Option<String>,
    /// The cue, in the coach's words.
    #[arg(long, value_name = "TEXT")]
    pub cue: Option<String>,
    /// Free notes.
    #[arg(long, value_name = "TEXT")]
    pub notes: Option<String>,
}

/// What is known of a block.
#[derive(Debug, Args)]
pub struct BlockArgs {
    /// Its number, as scuffline sessions --blocks prints it.
    #[arg(value_name = "BLOCK")]
    pub block: i64,
    /// What it is called.
    #[arg(long, value_name = "TEXT")]
    pub title: Option<String>,
    /// When in the course of learning.
    #[arg(long, value_parser = words::<Phase>(&["plain", "before", "after", "later"]))]
    pub phase: Option<Phase>,
    /// With or without a ball.
    #[arg(long, value_parser = words::<BallUse>(&["with-ball", "without-ball"]))]
    pub ball: Option<BallUse>,
    /// The club of every swing in it; empty: several.
    #[arg(long, value_name = "CLUB")]
    pub club: Option<String>,
    /// The cue, in the coach's words.
    #[arg(long, value_name = "TEXT")]
    pub cue: Option<String>,
    /// Free notes.
    #[arg(long, value_name = "TEXT")]
    pub notes: Option<String>,
    /// Take the block away; its swings stay in the session.
    #[arg(long)]
    pub take_away: bool,
}

/// What is said of swings.
#[derive(Debug, Args)]
pub struct SwingArgs {
    /// The session's number, as scuffline sessions prints it.
    #[arg(value_name = "SESSION")]
    pub session: i64,
    /// The swings' numbers in the session.
    #[arg(value_name = "SWING", required = true)]
    pub swings: Vec<usize>,
    /// Tag them: fat, thin, topped, clean, toe, heel, straight, draw, fade or a word of your own;
    /// may be given many times.
    #[arg(long, value_name = "WORD")]
    pub tag: Vec<String>,
    /// Take a tag away; may be given many times.
    #[arg(long, value_name = "WORD")]
    pub untag: Vec<String>,
    /// Notes on them.
    #[arg(long, value_name = "TEXT")]
    pub notes: Option<String>,
    /// They do not count, for this reason.
    #[arg(long, value_name = "REASON", conflicts_with = "count")]
    pub leave_out: Option<String>,
    /// They count again.
    #[arg(long)]
    pub count: bool,
    /// Put them into this block of the session; 0: into none.
    #[arg(long, value_name = "BLOCK")]
    pub block: Option<i64>,
}

/// Which aim window.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline aim --golfer Robin --club 7-iron
  scuffline aim --golfer Robin --club 7-iron --of low-point --from 60mm --to 110mm
  scuffline aim --golfer Robin --club 7-iron --of low-point --usual
Usual windows are common practice without a published source.")]
pub struct AimArgs {
    /// Whose. Without it, the only golfer, or else the only real one.
    #[arg(long, value_name = "NAME")]
    pub golfer: Option<String>,
    /// The club.
    #[arg(long, value_name = "CLUB")]
    pub club: String,
    /// Of which number.
    #[arg(long, value_parser = words::<Quantity>(&["divot-start", "low-point"]))]
    pub of: Option<Quantity>,
    /// From, ahead of the ball; behind is negative. Without a unit (mm, cm, m, in, ft), in the
    /// library's.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true, requires_all = ["of", "to"])]
    pub from: Option<TypedLength>,
    /// To, ahead of the ball.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true, requires = "from")]
    pub to: Option<TypedLength>,
    /// Back to the usual one.
    #[arg(long, requires = "of", conflicts_with = "from")]
    pub usual: bool,
}

/// Whose steps to go back or forward through.
#[derive(Debug, Args)]
pub struct StepArgs {
    /// The session's number, as scuffline sessions prints it. Without it, what belongs to
    /// none: golfers, aim windows, new sessions, lenses, bundles taken in.
    #[arg(value_name = "SESSION")]
    pub session: Option<i64>,
}

/// Words for a value of the domain, as the domain itself is written down.
pub(super) fn words<T>(all: &'static [&'static str]) -> impl TypedValueParser<Value = T>
where
    T: DeserializeOwned + Clone + Send + Sync + 'static,
{
    let read = |word: String| serde_json::from_value(word.into());
    PossibleValuesParser::new(all)
        .try_map(move |word| read(word.clone()).or_else(|_| read(word.replace('-', "_"))))
}

fn yes_or_no() -> impl TypedValueParser<Value = bool> {
    PossibleValuesParser::new(["yes", "no"]).map(|word| word == "yes")
}

/// Changes what is known, if asked to, and prints it.
///
/// # Errors
/// There is no such golfer, session, block or swing; nothing is changed then.
pub fn run(args: &DescribeArgs, path: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let mut library = super::open_library(path)?;
    match &args.what {
        Described::Golfer(args) => golfer(args, &mut library, out),
        Described::Session(args) => session(args, &mut library, out),
        Described::Block(args) => block(args, &mut library, out),
        Described::Swing(args) => swings(args, &mut library, out),
    }
}

/// Puts a new value in the place of the old one, where one is given.
fn put<T: Clone>(place: &mut T, given: Option<&T>) {
    if let Some(given) = given {
        *place = given.clone();
    }
}

/// A word of the domain as it is written down.
fn word(value: &impl serde::Serialize) -> String {
    let word = serde_json::to_value(value).unwrap_or_default();
    word.as_str().unwrap_or_default().to_owned()
}

/// One line for each thing that is known.
fn print(out: &mut dyn Write, lines: &[(&str, &str)]) -> std::io::Result<()> {
    lines
        .iter()
        .filter(|(_, text)| !text.is_empty())
        .try_for_each(|(name, text)| writeln!(out, "{name:<9} {text}"))
}

fn golfer(args: &GolferArgs, library: &mut Library, out: &mut dyn Write) -> anyhow::Result<()> {
    let known = library.golfers()?;
    let same = |g: &Golfer| g.name.eq_ignore_ascii_case(args.golfer.trim());
    let found = known.into_iter().find(|(_, golfer)| same(golfer));
    let (id, before) = match (found, args.new) {
        (Some(_), true) => bail!("{} is in the library already", args.golfer.trim()),
        (Some((id, golfer)), false) => (Some(id), golfer),
        (None, true) => (None, Golfer { name: args.golfer.trim().into(), ..Golfer::default() }),
        (None, false) => bail!(
            "There is no golfer called {}; check the name, or add one with --new",
            args.golfer
        ),
    };
    let mut after = before.clone();
    put(&mut after.name, args.rename.as_ref());
    put(&mut after.handed, args.handed.as_ref());
    put(&mut after.child, args.child.as_ref());
    put(&mut after.notes, args.notes.as_ref());
    match id {
        None => {
            let words = format!("golfer {}", after.name);
            library.edit(Scope::Library, &words, |edit| edit.add_golfer(&after))?;
        }
        Some(id) if after != before => {
            let edit = PlanEdit::Golfer(id, Box::new(after.clone()), "description");
            change_plan(library, None, edit)?;
        }
        Some(_) => {}
    }
    let child = if after.child { "yes" } else { "no" };
    print(
        out,
        &[
            ("golfer", &after.name),
            ("handed", &word(&after.handed)),
            ("child", child),
            ("agreed", &after.consent),
            ("notes", &after.notes),
        ],
    )?;
    Ok(())
}

fn session(args: &SessionArgs, library: &mut Library, out: &mut dyn Write) -> anyhow::Result<()> {
    let row = library.session(SessionId(args.session))?;
    let mut after: Session = row.session.clone();
    put(&mut after.date, args.date.as_ref());
    put(&mut after.place, args.place.as_ref());
    put(&mut after.surface, args.surface.as_ref());
    put(&mut after.lie, args.lie.as_ref());
    put(&mut after.camera, args.camera.as_ref());
    put(&mut after.cue, args.cue.as_ref());
    put(&mut after.notes, args.notes.as_ref());
    if after != row.session {
        let edit = PlanEdit::Session(row.id, Box::new(after.clone()), "description");
        change_plan(library, Some(row.id), edit)?;
        measure_anew(library, row.id)?;
    }
    print(
        out,
        &[
            ("session", &row.id.to_string()),
            ("golfer", &library.golfer(row.golfer)?.name),
            ("day", &after.date.to_string()),
            ("place", &after.place),
            ("surface", &word(&after.surface)),
            ("lie", &word(&after.lie)),
            ("camera", &after.camera),
            ("cue", &after.cue),
            ("notes", &after.notes),
            ("swings", &row.swings.to_string()),
        ],
    )?;
    Ok(())
}

fn block(args: &BlockArgs, library: &mut Library, out: &mut dyn Write) -> anyhow::Result<()> {
    let row = library.block(BlockId(args.block))?;
    if args.take_away {
        change_plan(library, Some(row.session), PlanEdit::RemoveBlock(row.id))?;
        return Ok(writeln!(out, "Block {} is taken away; its swings stay", row.id)?);
    }
    let mut after: Block = row.block.clone();
    put(&mut after.title, args.title.as_ref());
    put(&mut after.phase, args.phase.as_ref());
    put(&mut after.ball, args.ball.as_ref());
    put(&mut after.cue, args.cue.as_ref());
    put(&mut after.notes, args.notes.as_ref());
    if let Some(club) = &args.club {
        after.club = (!club.trim().is_empty()).then(|| Club(club.trim().to_owned()));
    }
    if after != row.block {
        let edit = PlanEdit::Block(row.id, Box::new(after.clone()), "description");
        change_plan(library, Some(row.session), edit)?;
        measure_anew(library, row.session)?;
    }
    print(
        out,
        &[
            ("block", &row.id.to_string()),
            ("session", &row.session.to_string()),
            ("title", &after.title),
            ("phase", &word(&after.phase)),
            ("ball", &word(&after.ball)),
            ("drill", after.drill.as_deref().unwrap_or_default()),
            ("club", after.club.as_ref().map_or("", |c| c.0.as_str())),
            ("cue", &after.cue),
            ("notes", &after.notes),
            ("swings", &row.swings.to_string()),
        ],
    )?;
    Ok(())
}

fn swings(args: &SwingArgs, library: &mut Library, out: &mut dyn Write) -> anyhow::Result<()> {
    let session = library.session(SessionId(args.session))?.id;
    let chosen = numbered(&library.swings(Of::Session(session))?, &args.swings)?;
    let ids: Vec<SwingId> = chosen.iter().map(|(_, row)| row.id).collect();
    let mut edits = Vec::new();
    if let Some(block) = args.block {
        edits.push(PlanEdit::Move(ids.clone(), block_of(library, session, block)?));
    }
    if args.count || args.leave_out.is_some() {
        let reason = args.leave_out.as_deref().map(str::trim);
        if reason == Some("") {
            bail!("Say why the swings do not count, as in --leave-out \"ball moved\"");
        }
        edits.push(PlanEdit::LeaveOut(ids, reason.map(str::to_owned)));
    }
    for (_, row) in &chosen {
        let tags = tags_after(&row.tags, &args.tag, &args.untag);
        if tags != row.tags {
            edits.push(PlanEdit::Tags(row.id, tags));
        }
        if let Some(notes) = args.notes.as_ref().filter(|notes| **notes != row.notes) {
            edits.push(PlanEdit::Notes(row.id, notes.clone()));
        }
    }
    for edit in edits {
        change_plan(library, Some(session), edit)?;
    }
    measure_anew(library, session)?;
    for (number, row) in numbered(&library.swings(Of::Session(session))?, &args.swings)? {
        let block = row.block.map(|id| format!("block {id}"));
        let left_out = row.left_out.map(|reason| format!("left out: {reason}"));
        let tags = (!row.tags.is_empty()).then(|| row.tags.join(", "));
        let notes = (!row.notes.is_empty()).then_some(row.notes);
        let said: Vec<String> = [block, left_out, tags, notes].into_iter().flatten().collect();
        writeln!(out, "swing {number:<3} {}", said.join("; "))?;
    }
    Ok(())
}

/// The swings of these numbers, each once.
fn numbered(rows: &[SwingRow], numbers: &[usize]) -> anyhow::Result<Vec<(usize, SwingRow)>> {
    let numbers: std::collections::BTreeSet<usize> = numbers.iter().copied().collect();
    let row = |n: usize| {
        let row = n.checked_sub(1).and_then(|i| rows.get(i)).cloned();
        let row =
            row.with_context(|| format!("There is no swing {n}; the session has {}", rows.len()))?;
        Ok((n, row))
    };
    numbers.into_iter().map(row).collect()
}

/// A block of this session; 0: none.
fn block_of(library: &Library, session: SessionId, block: i64) -> anyhow::Result<Option<BlockId>> {
    if block == 0 {
        return Ok(None);
    }
    let row = library.block(BlockId(block))?;
    if row.session != session {
        bail!("Block {block} belongs to session {}; swings stay in their session", row.session);
    }
    Ok(Some(row.id))
}

fn tags_after(before: &[String], tag: &[String], untag: &[String]) -> Vec<String> {
    let plain = |tag: &String| tag.trim().to_lowercase();
    let away: Vec<String> = untag.iter().map(plain).collect();
    let mut after: Vec<String> = before.iter().filter(|tag| !away.contains(tag)).cloned().collect();
    for tag in tag.iter().map(plain) {
        if !tag.is_empty() && !after.contains(&tag) {
            after.push(tag);
        }
    }
    after
}

/// Brings up to date the numbers that rest on what was changed.
fn measure_anew(library: &mut Library, session: SessionId) -> anyhow::Result<()> {
    for recording in library.recordings(session)? {
        if !library.swings_to_measure(recording.id)?.is_empty() {
            remeasure(library, recording.id)?;
        }
    }
    Ok(())
}

/// Changes a golfer's aim windows for a club, if asked to, and prints them.
///
/// # Errors
/// There is no such golfer, or the window has no two ends; nothing is changed then.
pub fn aim(args: &AimArgs, path: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let mut library = super::open_library(path)?;
    let golfer = golfer_of(&library, args.golfer.as_deref())?;
    let club = Club(args.club.trim().to_owned());
    if let (Some(quantity), Some(a), Some(b)) = (args.of, args.from, args.to) {
        let unit = chosen_unit(&library)?;
        let edit = PlanEdit::aim(golfer, club.clone(), quantity, [a, b].map(|end| end.mm(unit)));
        let Some(edit) = edit else {
            bail!("An aim window lies within 1 m (39 in) of the ball and has two ends; say others");
        };
        change_plan(&mut library, None, edit)?;
    } else if let (Some(quantity), true) = (args.of, args.usual) {
        change_plan(&mut library, None, PlanEdit::UsualAim(golfer, club.clone(), quantity))?;
    }
    print_aim(&library, golfer, &club, out)
}

fn print_aim(
    library: &Library,
    golfer: GolferId,
    club: &Club,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let (table, unit) = (aim_table(library, golfer)?, chosen_unit(library)?);
    let own = library.aim_windows(golfer)?;
    for quantity in [Quantity::DivotStart, Quantity::LowPoint] {
        let window = table.window(Some(club), club.is_driver(), quantity);
        let is_own = own.iter().any(|row| row.club == *club && row.quantity == quantity);
        let whose = if is_own { "the golfer's own" } else { "usual" };
        let value = |mm| value_words(quantity, mm, unit);
        let text = window.map_or("nothing to aim for".to_owned(), |w| {
            format!("{} to {} ({whose})", value(w.low_mm), value(w.high_mm))
        });
        writeln!(out, "{:<12} {text}", quantity.words())?;
    }
    Ok(())
}

/// Takes the newest step back, of a session or of the library.
///
/// # Errors
/// There is no such session, or what the step changed was changed since.
pub fn undo(args: &StepArgs, path: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    step(args, path, out, Library::undo, "Undone", "Nothing to undo")
}

/// Does the step taken back last once more.
///
/// # Errors
/// As [`undo`].
pub fn redo(args: &StepArgs, path: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    step(args, path, out, Library::redo, "Done again", "Nothing to do again")
}

fn step(
    args: &StepArgs,
    path: Option<&Path>,
    out: &mut dyn Write,
    step: fn(&mut Library, Scope) -> crate::store::Result<Option<String>>,
    done: &str,
    nothing: &str,
) -> anyhow::Result<()> {
    let mut library = super::open_library(path)?;
    let session = match args.session {
        Some(number) => Some(library.session(SessionId(number))?.id),
        None => None,
    };
    let words = step(&mut library, session.map_or(Scope::Library, Scope::Session))?;
    if let Some(session) = session {
        measure_anew(&mut library, session)?;
    }
    match words {
        Some(words) => writeln!(out, "{done}: {words}")?,
        None => writeln!(out, "{nothing}")?,
    }
    Ok(())
}
