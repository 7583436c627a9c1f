//! The sample library: an invented golfer, so that there is something to look at on the first
//! start. Nothing in it is real; the numbers of its swings are drawn from a fixed seed and
//! marked as invented, except those that are measured on the shipped, rendered recordings.

use std::path::{Path, PathBuf};

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use crate::domain::{
    BallUse, Block, Club, ContactOrder, Contribution, Direction, Golfer, GroundMark, ImagePoint,
    LowPointMethod, Measured, Millimetres, Phase, PlacedBy, Reference, ReferenceKind, Session,
    Setup, Source, Surface, SwingKind, SwingResult, Warning,
};
use crate::store::{Edit, GolferId, Library, NewSwing, SessionId, StoreError, SwingId};
use crate::video::Recording;

use super::kept::read_in;
use super::kept_error::KeptError;
use super::progress::Progress;

/// The golfer's name, which says what he is.
const NAME: &str = "Robin Example (invented)";

/// What was put into the library.
#[derive(Clone, Debug, PartialEq)]
pub struct Sample {
    /// The invented golfer.
    pub golfer: GolferId,
    /// The sessions, oldest first.
    pub sessions: Vec<SessionId>,
    /// Rendered recordings to be read into the newest session, with their set-ups.
    pub recordings: Vec<(PathBuf, Setup)>,
}

/// Puts the invented golfer with three sessions into the library and returns what is left to
/// be read in; `None`: he is there already. Takes milliseconds; `folder` is where the sample
/// footage lies and need not exist.
///
/// # Errors
/// The library can't be read or written; nothing is kept then.
pub fn build_sample(library: &mut Library, folder: &Path) -> Result<Option<Sample>, StoreError> {
    if library.golfers()?.iter().any(|(_, g)| g.invented && g.name == NAME) {
        return Ok(None);
    }
    let golfer = Golfer {
        name: NAME.into(),
        notes: "Invented: the golfer, the places and the swings. The recordings are rendered."
            .into(),
        consent: "Not needed: nobody real.".into(),
        invented: true,
        ..Golfer::default()
    };
    let (golfer, sessions) = library.save(|edit| {
        let golfer = edit.add_golfer(&golfer)?;
        let mut dice = ChaCha8Rng::seed_from_u64(7);
        let sessions =
            [first_visit, lesson, a_week_later].map(|visit| visit(edit, golfer, &mut dice));
        Ok((golfer, sessions.into_iter().collect::<Result<Vec<_>, _>>()?))
    })?;
    Ok(Some(Sample { golfer, sessions, recordings: recordings(folder) }))
}

/// Reads the sample's recordings into its newest session and measures them.
///
/// # Errors
/// As [`read_in`]; what was read before stays.
pub fn read_sample_recordings(
    library: &mut Library,
    sample: &Sample,
    progress: &mut Progress,
) -> Result<(), KeptError> {
    let Some(&session) = sample.sessions.last() else { return Ok(()) };
    for (path, setup) in &sample.recordings {
        let mut recording = Recording::open(path)?;
        read_in(library, session, &mut recording, Some(setup), progress)?;
    }
    Ok(())
}

fn visit(day: jiff::civil::Date, cue: &str) -> Session {
    Session {
        place: "Invented Range, bay 4".into(),
        camera: "Face on, 3 m away, hip high".into(),
        cue: cue.into(),
        ..Session::on(day)
    }
}

fn first_visit(
    edit: &Edit<'_>,
    golfer: GolferId,
    dice: &mut ChaCha8Rng,
) -> Result<SessionId, StoreError> {
    let session =
        edit.add_session(golfer, &visit(jiff::civil::date(2026, 5, 3), "No cue: how is it now?"))?;
    let bare = block("Two lines, no ball", Phase::Plain, BallUse::WithoutBall);
    add_block(
        edit,
        session,
        &Block { drill: Some("two-lines-bare".into()), ..bare },
        80.0,
        15.0,
        dice,
    )?;
    let with = block("Two lines with a ball", Phase::Plain, BallUse::WithBall);
    add_block(
        edit,
        session,
        &Block { drill: Some("two-lines-ball".into()), ..with },
        16.0,
        27.0,
        dice,
    )?;
    let mut own = ChaCha8Rng::seed_from_u64(71);
    add_block(edit, session, &with_club("Wedges", "PW"), 24.0, 15.0, &mut own)?;
    add_block(edit, session, &with_club("5-iron", "5-iron"), -4.0, 24.0, &mut own)?;
    Ok(session)
}

fn lesson(
    edit: &Edit<'_>,
    golfer: GolferId,
    dice: &mut ChaCha8Rng,
) -> Result<SessionId, StoreError> {
    let cue = "Brush the reach line";
    let session = edit.add_session(golfer, &visit(jiff::civil::date(2026, 5, 10), cue))?;
    add_block(edit, session, &block("Before", Phase::Before, BallUse::WithBall), 0.0, 20.0, dice)?;
    let after = Block { cue: cue.into(), ..block("After", Phase::After, BallUse::WithBall) };
    add_block(edit, session, &after, 37.0, 15.0, dice)?;
    Ok(session)
}

fn a_week_later(
    edit: &Edit<'_>,
    golfer: GolferId,
    dice: &mut ChaCha8Rng,
) -> Result<SessionId, StoreError> {
    let session =
        edit.add_session(golfer, &visit(jiff::civil::date(2026, 5, 17), "Brush the reach line"))?;
    let later = block("A week later", Phase::Later, BallUse::WithBall);
    add_block(edit, session, &later, 28.0, 16.0, dice)?;
    let mut own = ChaCha8Rng::seed_from_u64(73);
    add_block(edit, session, &with_club("Wedges", "PW"), 30.0, 12.0, &mut own)?;
    add_block(edit, session, &with_club("5-iron", "5-iron"), 8.0, 21.0, &mut own)?;
    let gate = Block { drill: Some("ten-through".into()), ..with_club("Gate", "7-iron") };
    add_block(edit, session, &gate, 38.0, 22.0, &mut own)?;
    let bare = block("Stairs ahead", Phase::Plain, BallUse::WithoutBall);
    let stairs = Block { drill: Some("stairs-ahead".into()), ..bare };
    add_block(edit, session, &stairs, 55.0, 22.0, &mut own)?;
    let tee = Block { drill: Some("sweep-the-tee".into()), ..with_club("Sweep the tee", "driver") };
    add_block(edit, session, &tee, 0.0, 0.0, &mut own)?;
    let drawn = block("Drawn clubs", Phase::Plain, BallUse::WithBall);
    let drawn = Block { drill: Some("drawn-clubs".into()), club: None, ..drawn };
    add_block(edit, session, &drawn, 18.0, 26.0, &mut own)?;
    Ok(session)
}

fn block(title: &str, phase: Phase, ball: BallUse) -> Block {
    Block {
        title: title.into(),
        phase,
        ball,
        club: Some(Club("7-iron".into())),
        ..Block::default()
    }
}

fn with_club(title: &str, club: &str) -> Block {
    let plain = block(title, Phase::Plain, BallUse::WithBall);
    Block { club: Some(Club(club.into())), ..plain }
}

/// Ten invented swings about `mean` with spread `sd`, mm.
fn add_block(
    edit: &Edit<'_>,
    session: SessionId,
    block: &Block,
    mean: f64,
    sd: f64,
    dice: &mut ChaCha8Rng,
) -> Result<(), StoreError> {
    let id = edit.add_block(session, block)?;
    let kind = match block.ball {
        BallUse::WithBall => SwingKind::Strike,
        BallUse::WithoutBall => SwingKind::Practice,
    };
    for number in 0..10 {
        let mut normal = || Distribution::<f64>::sample(&StandardNormal, &mut *dice);
        let (start, length) = (mean + sd * normal(), 105.0 + 14.0 * normal());
        // Where each swing draws a club of its own, five take turns.
        let drawn = ["5-iron", "PW", "7-iron", "9-iron", "6-iron"][number % 5];
        let club = block.club.is_none().then(|| Club(drawn.into()));
        let new = NewSwing {
            recording: None,
            block: Some(id),
            kind,
            club: club.clone(),
            strike_time: None,
            strike_by: PlacedBy::Program,
            invented: true,
        };
        let swing = edit.add_swing(session, &new)?;
        let result = match &block.club {
            Some(club) if club.is_driver() => swept(normal(), normal()),
            None if number == 6 => picked_clean(length),
            _ => invented_result(kind, start, length),
        };
        edit.set_result(swing, &with_stance(result, normal()))?;
        describe(edit, swing, kind, start, number)?;
    }
    Ok(())
}

/// Tags as a coach would set them, and one swing left out.
fn describe(
    edit: &Edit<'_>,
    swing: SwingId,
    kind: SwingKind,
    start: f64,
    number: usize,
) -> Result<(), StoreError> {
    if kind == SwingKind::Strike && start < -25.0 {
        edit.set_tags(swing, &["fat".to_owned()])?;
    }
    if kind == SwingKind::Strike && start < -55.0 && number > 0 {
        edit.set_swing_notes(swing, "Lost balance; played again.")?;
        edit.leave_out(swing, Some("lost balance"))?;
    }
    Ok(())
}

/// A number such as measuring gives: clicks, ball and a scale good to 1 %.
fn measured(value: f64, model: f64) -> Measured {
    let mut budget = vec![
        Contribution::new(Source::Ball, 1.2),
        Contribution::new(Source::Mark, 2.0),
        Contribution::new(Source::Calibration(0), 0.01 * value),
    ];
    if model > 0.0 {
        budget.push(Contribution::new(Source::Model, model));
    }
    Measured::new(value, budget)
}

/// A swing that left its mark in the ground.
fn invented_result(kind: SwingKind, start: f64, length: f64) -> SwingResult {
    SwingResult {
        ground_mark: Some(GroundMark::Divot),
        divot_start_offset: Some(measured(start, 0.0)),
        divot_end_offset: Some(measured(start + length, 0.0)),
        low_point: Some((measured(start + 0.55 * length, 0.12 * length), LowPointMethod::Mark)),
        contact_order: (kind == SwingKind::Strike).then(|| order(start)),
        ..nothing_told(kind)
    }
}

/// A driver's swing over the tee: the ground untouched, the low point behind the ball.
fn swept(low: f64, angle: f64) -> SwingResult {
    SwingResult {
        low_point: Some((measured(-72.0 + 34.0 * low, 9.0), LowPointMethod::Arc)),
        attack_angle: Some(degrees(2.1 + 1.2 * angle)),
        height_at_ball: Some(measured(31.0, 1.5)),
        arc_radius: None,
        arc_plane: None,
        ..untouched()
    }
}

/// An iron that took the ball and no turf.
fn picked_clean(length: f64) -> SwingResult {
    SwingResult {
        low_point: Some((measured(0.4 * length, 9.0), LowPointMethod::Arc)),
        attack_angle: Some(degrees(-1.1)),
        height_at_ball: Some(Measured::new(3.6, vec![Contribution::new(Source::ArcFit, 1.3)])),
        arc_radius: None,
        arc_plane: None,
        ..untouched()
    }
}

fn untouched() -> SwingResult {
    SwingResult {
        ground_mark: Some(GroundMark::None),
        contact_order: Some(ContactOrder::NoGroundContact),
        ..nothing_told(SwingKind::Strike)
    }
}

fn degrees(value: f64) -> Measured {
    Measured::new(value, vec![Contribution::new(Source::ArcFit, 0.4)])
}

/// Where the ball lay in the stance: farther back, and the low point is farther ahead of it.
fn with_stance(result: SwingResult, noise: f64) -> SwingResult {
    let low = result.low_point.as_ref().map(|(low, _)| low.value);
    let ball_position = low.map(|low| measured(-85.0 - 0.55 * low + 16.0 * noise, 0.0));
    SwingResult { ball_position, ..result }
}

fn nothing_told(kind: SwingKind) -> SwingResult {
    let note = "These numbers are invented, for show; record a swing to see real ones.".into();
    SwingResult { warnings: vec![Warning::Note { note }], ..SwingResult::without_numbers(kind) }
}

/// The edge meets the ball 12 mm behind its centre (± 4 standard, the measure contract's
/// figure); nearer to it than the expanded uncertainty is too close to call.
fn order(start: f64) -> ContactOrder {
    let ahead = start + 12.0;
    let expanded = 1.96 * (4.0_f64.powi(2) + 1.2_f64.powi(2) + 2.0_f64.powi(2)).sqrt();
    match ahead {
        _ if ahead.abs() <= expanded => ContactOrder::TooClose,
        _ if ahead > 0.0 => ContactOrder::BallFirst,
        _ => ContactOrder::TurfFirst,
    }
}

/// The rendered recordings with their sheets, where they are in `folder`.
fn recordings(folder: &Path) -> Vec<(PathBuf, Setup)> {
    let named = [
        (
            "iron_turf_sheet.mp4",
            [[835.622, 644.248], [986.457, 638.278], [959.208, 605.861], [817.198, 611.197]],
        ),
        (
            "iron_four_swings.mp4",
            [[909.908, 645.077], [1078.762, 649.114], [1051.273, 604.627], [894.929, 600.859]],
        ),
    ];
    named
        .into_iter()
        .map(|(name, corners)| (folder.join(name), sheet_setup(corners)))
        .filter(|(path, _)| path.is_file())
        .collect()
}

/// A 7-iron on turf beside an A4 sheet (ISO 216: 210 mm × 297 mm) lying 6 mm above the ground.
fn sheet_setup(corners: [[f64; 2]; 4]) -> Setup {
    let sheet = Reference {
        kind: ReferenceKind::Sheet {
            size: [Millimetres(297.0), Millimetres(210.0)],
            corners: corners.map(ImagePoint::from),
        },
        height: Millimetres(6.0),
        along_target: false,
        frame: None,
        point_sigma: None,
    };
    Setup {
        target: Some(Direction::Right),
        surface: Some(Surface::Turf),
        club: Some(Club("7-iron".into())),
        on_tee: Some(false),
        references: vec![sheet],
        ..Setup::default()
    }
}
