//! A large library: how long its screens take. Prints a table for docs/performance.md.
//!
//! `cargo run --example bench-store -- FOLDER [SESSIONS]` makes a library of SESSIONS sessions
//! (default 10,000) with 100 generated swings each, 20 sessions to a golfer, keeps it in FOLDER
//! and uses it again the next time.

use std::path::{Path, PathBuf};
use std::time::Instant;

use anyhow::Context;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use scuffline::domain::{
    Block, Club, ContactOrder, Contribution, Golfer, LowPointMethod, Measured, PlacedBy, Quantity,
    Session, Source, SwingKind, SwingResult,
};
use scuffline::store::{Edit, GolferId, Library, NewSwing, Of, SessionId, StoreError};
use scuffline::workflow;

const SESSIONS_PER_GOLFER: usize = 20;
const SWINGS_PER_BLOCK: usize = 50;

fn main() -> anyhow::Result<()> {
    let mut arguments = std::env::args().skip(1);
    let folder = PathBuf::from(arguments.next().context("name a folder for the library")?);
    let sessions = arguments.next().map_or(Ok(10_000), |n| n.parse::<usize>())?;
    let path = folder.join(format!("large-{sessions}.scuffline"));
    if !path.exists() {
        generate(&path, sessions)?;
    }
    let size = std::fs::metadata(&path)?.len() as f64 / 1e9;
    println!("{sessions} sessions, {} swings, {size:.2} GB", sessions * 2 * SWINGS_PER_BLOCK);
    measure(&path)
}

fn generate(path: &Path, sessions: usize) -> anyhow::Result<()> {
    let start = Instant::now();
    let partial = path.with_extension("partial");
    let mut library = Library::open(&partial)?;
    let mut dice = ChaCha8Rng::seed_from_u64(1);
    for number in 0..sessions.div_ceil(SESSIONS_PER_GOLFER) {
        library.save(|edit| add_golfer(edit, number, &mut dice))?;
    }
    library.backup_to(path)?;
    drop(library);
    for end in ["", "-wal", "-shm"] {
        let mut name = partial.clone().into_os_string();
        name.push(end);
        drop(std::fs::remove_file(name));
    }
    println!("generated in {:.0} s", start.elapsed().as_secs_f64());
    Ok(())
}

fn add_golfer(edit: &Edit<'_>, number: usize, dice: &mut ChaCha8Rng) -> Result<(), StoreError> {
    let golfer =
        Golfer { name: format!("Golfer {number:05}"), invented: true, ..Golfer::default() };
    let golfer = edit.add_golfer(&golfer)?;
    for visit in 0..SESSIONS_PER_GOLFER {
        let day =
            jiff::civil::date(2024, 1, 1).saturating_add(jiff::Span::new().weeks(visit as i64));
        let session = edit.add_session(golfer, &Session::on(day))?;
        for title in ["Before", "After"] {
            add_block(edit, session, title, dice)?;
        }
    }
    Ok(())
}

fn add_block(
    edit: &Edit<'_>,
    session: SessionId,
    title: &str,
    dice: &mut ChaCha8Rng,
) -> Result<(), StoreError> {
    let club = Some(Club("7-iron".into()));
    let block =
        edit.add_block(session, &Block { title: title.into(), club, ..Block::default() })?;
    for _ in 0..SWINGS_PER_BLOCK {
        let new = NewSwing {
            recording: None,
            block: Some(block),
            kind: SwingKind::Strike,
            club: None,
            strike_time: None,
            strike_by: PlacedBy::Program,
            invented: true,
        };
        let swing = edit.add_swing(session, &new)?;
        let start = 30.0 + 20.0 * Distribution::<f64>::sample(&StandardNormal, &mut *dice);
        edit.set_result(swing, &result(start))?;
    }
    Ok(())
}

fn result(start: f64) -> SwingResult {
    let measured = |value: f64| {
        let own = [Source::Ball, Source::Mark, Source::Steadying, Source::BallHeight];
        let shared = (0..7).map(Source::Calibration);
        let parts = own.into_iter().chain(shared);
        Measured::new(value, parts.map(|s| Contribution::new(s, 1.3 + value / 1e3)).collect())
    };
    SwingResult {
        divot_start_offset: Some(measured(start)),
        divot_end_offset: Some(measured(start + 100.0)),
        low_point: Some((measured(start + 55.0), LowPointMethod::Mark)),
        contact_order: Some(ContactOrder::BallFirst),
        ..SwingResult::without_numbers(SwingKind::Strike)
    }
}

fn measure(path: &Path) -> anyhow::Result<()> {
    let library = Library::open(path)?;
    let golfers = library.golfers()?;
    let golfer = golfers[golfers.len() / 2].0;
    let session = library.sessions(golfer)?[0].id;
    let blocks = library.blocks(session)?;
    let (before, after) = (Of::Block(blocks[0].0), Of::Block(blocks[1].0));
    println!("| what | longest of 20, ms | CPU mean, ms |\n|---|---|---|");
    time("open the library and list the golfers", || Ok(Library::open(path)?.golfers()?.len()))?;
    time("a golfer's sessions", || Ok(library.sessions(golfer)?.len()))?;
    time("a session's swings with their results", || {
        Ok(library.swings(Of::Session(session))?.len())
    })?;
    time("a session in numbers", || {
        Ok(workflow::summarise(&library, golfer, Of::Session(session))?.n)
    })?;
    time("two blocks against each other", || {
        Ok(workflow::compare(&library, golfer, before, after)?.offsets.len())
    })?;
    time("two sessions against each other", || two_sessions(&library, golfer))?;
    time("consistency of a block, as its page shows it", || {
        Ok(workflow::study_block(&library, golfer, before)?.swings.len())
    })?;
    time("three blocks against each other, as their page shows them", || {
        let third = Of::Session(library.sessions(golfer)?[1].id);
        Ok(workflow::study_comparison(&library, golfer, before, &[after, third])?.looked_at)
    })?;
    time("clubs and stance over all sessions of a golfer", || {
        Ok(workflow::study_clubs(&library, golfer, workflow::Span::All)?.rows.len())
    })?;
    time("drills and personal bests", || Ok(workflow::study_drills(&library, golfer)?.len()))?;
    time("people and plans: a session's swings and blocks", || {
        let swings = workflow::list_swings(&library, Of::Session(session))?.len();
        Ok(swings + workflow::outline(&library, golfer)?.sessions.len())
    })?;
    time("a page to send home, laid out", || {
        let says = workflow::CoachSays::default();
        Ok(workflow::session_content(&library, session, &says)?.swings.len())
    })?;
    time("a golfer's season", || {
        Ok(workflow::season(&library, golfer, Quantity::DivotStart, None)?.len())
    })
}

fn two_sessions(library: &Library, golfer: GolferId) -> anyhow::Result<usize> {
    let sessions = library.sessions(golfer)?;
    let (first, second) = (Of::Session(sessions[1].id), Of::Session(sessions[0].id));
    Ok(workflow::compare(library, golfer, first, second)?.offsets.len())
}

fn time(what: &str, mut run: impl FnMut() -> anyhow::Result<usize>) -> anyhow::Result<()> {
    const ROUNDS: usize = 20;
    let cpu = cpu_ms();
    let mut longest = 0.0_f64;
    for _ in 0..ROUNDS {
        let start = Instant::now();
        anyhow::ensure!(run()? > 0, "{what}: nothing came back");
        longest = longest.max(start.elapsed().as_secs_f64() * 1e3);
    }
    let cpu = Option::zip(cpu, cpu_ms()).map(|(a, b)| (b - a) / ROUNDS as f64);
    let cpu = cpu.map_or("unknown".into(), |ms| format!("{ms:.1}"));
    println!("| {what} | {longest:.1} | {cpu} |");
    Ok(())
}

/// This process' CPU time on Linux, from its scheduler figures (nanoseconds).
fn cpu_ms() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/self/schedstat").ok()?;
    Some(text.split_whitespace().next()?.parse::<f64>().ok()? / 1e6)
}
