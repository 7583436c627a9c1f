//! Blocks, sessions and clubs of the library in numbers: the same for window, command line
//! and report.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use crate::domain::{Club, MarkWord, Measured, Quantity, Setup, Surface, SwingKind};
use crate::geometry::wedge_loft;
use crate::stats::{
    AimTable, AimWindow, BlockSummary, Comparison, SwingOffsets, compare_blocks, summarise_block,
    summarise_offset,
};
use crate::store::{
    CalibrationId, GolferId, Library, Of, RecordingId, Result, SessionId, SwingRow,
};

/// A golfer's aim windows: common practice, and their own in its place.
///
/// # Errors
/// The library can't be read.
pub fn aim_table(library: &Library, golfer: GolferId) -> Result<AimTable> {
    let own = library.aim_windows(golfer)?.into_iter().map(|row| {
        let window = AimWindow { low_mm: row.low_mm, high_mm: row.high_mm };
        (row.club, row.quantity, window)
    });
    Ok(AimTable::with_own(own.collect()))
}

/// The swings meant as statistics see them, in the order they were played; swings that are not
/// measured yet have no numbers.
///
/// # Errors
/// The library can't be read.
pub fn offsets_of(library: &Library, of: Of) -> Result<Vec<SwingOffsets>> {
    offsets_of_rows(library, &library.swings(of)?)
}

/// What a swing, its recording and its session say about it.
#[derive(Clone, Debug)]
struct Context {
    club: Option<Club>,
    on_tee: bool,
    surface: Surface,
    calibration: Option<CalibrationId>,
}

#[derive(Default)]
struct Contexts {
    surfaces: BTreeMap<SessionId, Surface>,
    recordings: BTreeMap<RecordingId, (Setup, Option<CalibrationId>)>,
}

impl Contexts {
    fn of(&mut self, library: &Library, row: &SwingRow) -> Result<Context> {
        let surface = match self.surfaces.entry(row.session) {
            Entry::Occupied(known) => *known.get(),
            Entry::Vacant(place) => *place.insert(library.session(row.session)?.session.surface),
        };
        let Some(recording) = row.recording else {
            let (club, on_tee) = (row.club.clone(), Setup::default().is_on_tee(row.club.as_ref()));
            return Ok(Context { club, on_tee, surface, calibration: None });
        };
        let (setup, calibration) = match self.recordings.entry(recording) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(place) => {
                let calibration = library.recording(recording)?.calibration;
                place.insert((library.shared_setup(recording)?, calibration))
            }
        };
        let club = row.club.as_ref().or(setup.club.as_ref());
        Ok(Context {
            club: club.cloned(),
            on_tee: setup.is_on_tee(club),
            surface: setup.surface.unwrap_or(surface),
            // Without a set-up of its own each recording is calibrated by itself: a number that
            // no standing has keeps it apart.
            calibration: Some(calibration.unwrap_or(CalibrationId(-recording.0))),
        })
    }
}

/// Swings at hand as statistics see them.
pub(super) fn offsets_of_rows(library: &Library, rows: &[SwingRow]) -> Result<Vec<SwingOffsets>> {
    let mut contexts = Contexts::default();
    rows.iter().map(|row| Ok(offsets(row, contexts.of(library, row)?))).collect()
}

fn offsets(row: &SwingRow, context: Context) -> SwingOffsets {
    let numbers = row.result.as_ref().map(SwingOffsets::of);
    let numbers = numbers.unwrap_or_else(|| SwingOffsets::without_numbers(row.kind));
    SwingOffsets {
        kind: row.kind,
        on_tee: context.on_tee,
        club: context.club,
        surface: context.surface,
        mark: MarkWord::of(
            row.result.as_ref().and_then(|result| result.ground_mark),
            Some(context.surface),
        ),
        calibration: context.calibration.map(|id| id.0),
        left_out: row.left_out.is_some(),
        ..numbers
    }
}

/// Where the divot of each of a session's swings should start, for its golfer and club.
///
/// # Errors
/// The library can't be read.
pub fn start_windows(
    library: &Library,
    session: SessionId,
    rows: &[SwingRow],
) -> Result<Vec<Option<AimWindow>>> {
    let aim = aim_table(library, library.session(session)?.golfer)?;
    let swings = offsets_of_rows(library, rows)?;
    let window = |s: &SwingOffsets| aim.window(s.club.as_ref(), s.on_tee, Quantity::DivotStart);
    Ok(swings.iter().map(window).collect())
}

/// The swings meant in numbers.
///
/// # Errors
/// The library can't be read.
pub fn summarise(library: &Library, golfer: GolferId, of: Of) -> Result<BlockSummary> {
    Ok(summarise_block(&offsets_of(library, of)?, &aim_table(library, golfer)?))
}

/// Two blocks, recordings or sessions of a golfer against each other, the earlier one first.
///
/// # Errors
/// The library can't be read.
pub fn compare(library: &Library, golfer: GolferId, first: Of, second: Of) -> Result<Comparison> {
    let aim = aim_table(library, golfer)?;
    Ok(compare_blocks(&offsets_of(library, first)?, &offsets_of(library, second)?, &aim))
}

/// What was played alike: with one club, from one surface, with or without a ball.
#[derive(Clone, Debug, PartialEq)]
pub struct ClubRow {
    /// The club, where it is named.
    pub club: Option<Club>,
    /// Strikes or practice swings.
    pub kind: SwingKind,
    /// Turf or mat.
    pub surface: Surface,
    /// In numbers.
    pub summary: BlockSummary,
}

impl ClubRow {
    /// "7-iron", "7-iron, no ball", "7-iron, mat".
    pub fn name(&self) -> String {
        let mut name = club_words(self.club.as_ref());
        if self.kind == SwingKind::Practice {
            name.push_str(", no ball");
        }
        if self.surface == Surface::Mat {
            name.push_str(", mat");
        }
        name
    }
}

/// A club by its name.
pub fn club_words(club: Option<&Club>) -> String {
    club.map_or("club not named".into(), |c| c.0.clone())
}

/// Swings club by club from the longest to the shortest; those without a named club come last.
/// Turf and mat, strikes and practice swings are kept apart.
pub(super) fn club_rows(swings: Vec<SwingOffsets>, aim: &AimTable) -> Vec<ClubRow> {
    let mut alike: Vec<(Alike, Vec<SwingOffsets>)> = Vec::new();
    for swing in swings {
        let key = (swing.club.clone(), swing.kind, swing.surface);
        match alike.iter_mut().find(|(known, _)| *known == key) {
            Some((_, swings)) => swings.push(swing),
            None => alike.push((key, vec![swing])),
        }
    }
    alike.sort_by_key(|((club, kind, surface), _)| {
        let practice = *kind == SwingKind::Practice;
        (club.as_ref().map_or((u32::MAX, String::new()), bag_place), *surface as u8, practice)
    });
    let rows = alike.into_iter().map(|((club, kind, surface), swings)| ClubRow {
        club,
        kind,
        surface,
        summary: summarise_block(&swings, aim),
    });
    rows.collect()
}

type Alike = (Option<Club>, SwingKind, Surface);

/// A club's place in the bag, longest first; clubs with names of their own stand at the end in
/// the order of their names.
fn bag_place(club: &Club) -> (u32, String) {
    let name = club.0.trim().to_lowercase();
    let number: u32 =
        name.chars().filter(char::is_ascii_digit).collect::<String>().parse().unwrap_or(5);
    let number = number.min(90);
    let place = match name.as_str() {
        _ if club.is_driver() => 0,
        _ if club.is_fairway_wood() => 100 + number,
        n if n.contains("hybrid") => 200 + number,
        n if n.contains("iron") => 300 + number,
        "putter" => 500,
        n => wedge_loft(n).map_or(600, |loft| 400 + loft.round() as u32),
    };
    (place, name)
}

/// One session of a season.
#[derive(Clone, Debug, PartialEq)]
pub struct SeasonPoint {
    /// The session.
    pub session: SessionId,
    /// What was played from: turf and mat are points of their own.
    pub surface: Surface,
    /// How many swings count.
    pub n: usize,
    /// What the marks in the ground are called.
    pub mark: MarkWord,
    /// The mean with its budget, the shared doubt of the measuring included.
    pub mean: Measured,
    /// Its 95 % interval.
    pub interval: Option<crate::domain::Interval>,
}

/// A number of a golfer's strikes with one club (`None`: with all of them), session by
/// session, oldest first; sessions without it are passed over.
///
/// # Errors
/// The library can't be read.
pub fn season(
    library: &Library,
    golfer: GolferId,
    of: Quantity,
    club: Option<&Club>,
) -> Result<Vec<SeasonPoint>> {
    let mut points = Vec::new();
    for row in library.sessions(golfer)?.iter().rev() {
        let swings = offsets_of(library, Of::Session(row.id))?;
        for surface in [Surface::Turf, Surface::Mat] {
            let counts = |s: &&SwingOffsets| {
                let of_club = club.is_none() || s.club.as_ref() == club;
                s.kind == SwingKind::Strike && s.surface == surface && of_club
            };
            let counting: Vec<_> = swings.iter().filter(counts).cloned().collect();
            points.extend(summarise_offset(&counting, of).map(|told| SeasonPoint {
                session: row.id,
                surface,
                n: told.moments.n,
                mark: told.mark,
                mean: told.mean,
                interval: told.mean_interval,
            }));
        }
    }
    Ok(points)
}
