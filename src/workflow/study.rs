//! What the pages about a golfer's numbers show, put together in one call each.

use crate::domain::{Club, LengthUnit, Phase, Quantity, Surface, SwingKind};
use crate::stats::{
    AimTable, AimWindow, BlockSummary, Caution, Comparison, DRILLS, Drill, DrillScore, LineFit,
    Reliability, Retention, SwingOffsets, compare_blocks, fit_line, holm, reliability, retention,
    score_drill, summarise_block,
};
use crate::store::{BlockId, GolferId, Library, Of, Result, SessionId, SwingId, SwingRow};

use super::consistency::{ClubRow, SeasonPoint, aim_table, club_rows, offsets_of_rows, season};
use super::outline::{Outline, day_words, outline};

/// One swing as the pages list it.
#[derive(Clone, Debug, PartialEq)]
pub struct Listed {
    /// In the library.
    pub id: SwingId,
    /// Its number in its session, from 1.
    pub number: usize,
    /// The block it is in.
    pub block: Option<BlockId>,
    /// Why it does not count; `None`: it counts.
    pub left_out: Option<String>,
    /// Tags such as fat, thin, toe.
    pub tags: Vec<String>,
    /// Free notes.
    pub notes: String,
    /// It can be looked at and shown as a clip.
    pub filmed: bool,
    /// How many things are still to be looked at.
    pub open: usize,
    /// Its numbers.
    pub offsets: SwingOffsets,
}

/// The swings of a block or session, in the order they were played.
///
/// # Errors
/// The library can't be read.
pub fn list_swings(library: &Library, of: Of) -> Result<Vec<Listed>> {
    let session = match of {
        Of::Session(session) => Some(session),
        Of::Block(_) | Of::Recording(_) => library.swings(of)?.first().map(|row| row.session),
    };
    let Some(session) = session else { return Ok(Vec::new()) };
    let rows = library.swings(Of::Session(session))?;
    let offsets = offsets_of_rows(library, &rows)?;
    let numbered = rows.into_iter().zip(offsets).enumerate();
    let listed = numbered.map(|(i, (row, offsets))| listed(i + 1, row, offsets));
    Ok(listed.filter(|(row, _)| is_meant(of, row)).map(|(_, listed)| listed).collect())
}

fn is_meant(of: Of, row: &SwingRow) -> bool {
    match of {
        Of::Session(_) => true,
        Of::Block(block) => row.block == Some(block),
        Of::Recording(recording) => row.recording == Some(recording),
    }
}

fn listed(number: usize, row: SwingRow, offsets: SwingOffsets) -> (SwingRow, Listed) {
    let needed = row.result.as_ref().map_or(&[][..], |r| &r.needs_review);
    let listed = Listed {
        id: row.id,
        number,
        block: row.block,
        left_out: row.left_out.clone(),
        tags: row.tags.clone(),
        notes: row.notes.clone(),
        filmed: row.recording.is_some() && row.strike_time.is_some(),
        open: needed.iter().filter(|what| !row.confirmed.contains(what)).count(),
        offsets,
    };
    (row, listed)
}

fn plain(swings: &[Listed]) -> Vec<SwingOffsets> {
    swings.iter().map(|s| s.offsets.clone()).collect()
}

/// A block (or a whole session) in numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct BlockStudy {
    /// Which.
    pub of: Of,
    /// What it is called.
    pub title: String,
    /// Its swings.
    pub swings: Vec<Listed>,
    /// In numbers.
    pub summary: BlockSummary,
    /// Where to aim with each club that it was played with, the first swing's first; where none is
    /// named, one for all.
    pub aims: Vec<ClubAim>,
    /// The drill it was a run of, and how it went.
    pub drill: Option<(&'static Drill, DrillScore)>,
}

/// Where divot start and low point should lie with a club.
#[derive(Clone, Debug, PartialEq)]
pub struct ClubAim {
    /// Which; `None`: nobody said.
    pub club: Option<Club>,
    /// Of the divot start and of the low point; `None`: nothing to aim for.
    pub windows: [Option<AimWindow>; 2],
}

impl ClubAim {
    /// Where the numbers of a kind should lie.
    pub fn window(&self, quantity: Quantity) -> Option<AimWindow> {
        match quantity {
            Quantity::DivotStart => self.windows[0],
            Quantity::LowPoint => self.windows[1],
            _ => None,
        }
    }
}

impl BlockStudy {
    /// Where to aim with `club`; with the first one where it was not played.
    pub fn aim(&self, club: Option<&Club>) -> Option<&ClubAim> {
        let named = self.aims.iter().find(|aim| aim.club.is_some() && aim.club.as_ref() == club);
        named.or(self.aims.first())
    }

    /// The number in its session of the swing at a place of the block.
    pub fn number(&self, place: usize) -> usize {
        self.swings.get(place).map_or(place + 1, |swing| swing.number)
    }

    /// What to know before believing the numbers; swings go by their number in the session.
    pub fn cautions(&self) -> Vec<Caution> {
        let in_session = |caution: &Caution| match caution {
            Caution::StandingApart { quantity, swings } => Caution::StandingApart {
                quantity: *quantity,
                swings: swings.iter().map(|place| self.number(*place) - 1).collect(),
            },
            other => other.clone(),
        };
        self.summary.cautions.iter().map(in_session).collect()
    }
}

/// Looks at a block or session.
///
/// # Errors
/// The library can't be read.
pub fn study_block(library: &Library, golfer: GolferId, of: Of) -> Result<BlockStudy> {
    let outline = outline(library, golfer)?;
    let aim = aim_table(library, golfer)?;
    let swings = list_swings(library, of)?;
    let offsets = plain(&swings);
    let drill = match of {
        Of::Block(id) => {
            outline.block(id).and_then(|(_, row, _)| drill_of(row.block.drill.as_deref()))
        }
        Of::Session(_) | Of::Recording(_) => None,
    };
    Ok(BlockStudy {
        of,
        title: outline.words(of).unwrap_or_default(),
        summary: summarise_block(&offsets, &aim),
        aims: club_aims(&aim, &offsets),
        drill: drill.map(|drill| (drill, score_drill(drill.scoring, &offsets, &aim))),
        swings,
    })
}

fn club_aims(aim: &AimTable, swings: &[SwingOffsets]) -> Vec<ClubAim> {
    let mut clubs = vec![first_club(swings)];
    for swing in swings.iter().filter(|swing| swing.club.is_some()) {
        if clubs.iter().all(|(club, _)| *club != swing.club) {
            clubs.push((swing.club.clone(), swing.on_tee));
        }
    }
    let of = |club| ClubAim { windows: windows(aim, &club), club: club.0 };
    clubs.into_iter().map(of).collect()
}

fn first_club(swings: &[SwingOffsets]) -> (Option<Club>, bool) {
    let named = swings.iter().find(|s| s.club.is_some()).or(swings.first());
    named.map_or((None, false), |s| (s.club.clone(), s.on_tee))
}

fn windows(aim: &AimTable, (club, on_tee): &(Option<Club>, bool)) -> [Option<AimWindow>; 2] {
    [Quantity::DivotStart, Quantity::LowPoint].map(|q| aim.window(club.as_ref(), *on_tee, q))
}

fn drill_of(key: Option<&str>) -> Option<&'static Drill> {
    DRILLS.iter().find(|drill| Some(drill.key) == key)
}

/// One block against the first of a comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct Against {
    /// Which.
    pub of: Of,
    /// What it is called.
    pub title: String,
    /// Its swings.
    pub swings: Vec<Listed>,
    /// What stands between the first block and this one.
    pub comparison: Comparison,
    /// The chances of `comparison.offsets`, in their order, corrected for everything that the
    /// page compares at once (Holm).
    pub corrected: Vec<f64>,
    /// The chance of the number that the sentence is about, corrected for the sentences of all
    /// blocks held against the first.
    pub told_corrected: f64,
    /// The one was played without a ball and the other with: the gap itself is the finding.
    pub is_ball_gap: bool,
}

impl Against {
    /// The plain sentence; what does not stand up to several blocks having been held against
    /// the first is taken back in the same breath.
    pub fn sentence(&self, unit: LengthUnit) -> String {
        let sentence = self.comparison.sentence(unit);
        let shown = self.comparison.told().is_some_and(|told| told.is_shown());
        match shown && self.told_corrected > 0.05 {
            true => format!(
                "{sentence} With several blocks looked at together this may be chance (Holm's correction)."
            ),
            false => sentence,
        }
    }
}

/// One block against one or more others.
#[derive(Clone, Debug, PartialEq)]
pub struct ComparisonStudy {
    /// The block all others are held against.
    pub first: Of,
    /// What it is called.
    pub title: String,
    /// Its swings.
    pub swings: Vec<Listed>,
    /// The others.
    pub others: Vec<Against>,
    /// How many chances were corrected together.
    pub looked_at: usize,
    /// What became of the gain, where a block before, one after and one later are compared.
    pub retention: Option<Retention>,
    /// Where the divot start should lie.
    pub window: Option<AimWindow>,
    /// What repeat sessions say about how much must change to be more than daily form.
    pub repeatability: Option<Repeatability>,
}

/// Holds blocks or sessions of a golfer against the first of them.
///
/// # Errors
/// The library can't be read.
pub fn study_comparison(
    library: &Library,
    golfer: GolferId,
    first: Of,
    others: &[Of],
) -> Result<ComparisonStudy> {
    let outline = outline(library, golfer)?;
    let aim = aim_table(library, golfer)?;
    let swings = list_swings(library, first)?;
    let before = plain(&swings);
    let mut against = Vec::new();
    for of in others {
        let swings = list_swings(library, *of)?;
        let after = plain(&swings);
        let comparison = compare_blocks(&before, &after, &aim);
        let is_ball_gap = comparison.is_ball_gap(&before, &after);
        let title = outline.words(*of).unwrap_or_default();
        against.push(Against {
            of: *of,
            title,
            swings,
            comparison,
            corrected: Vec::new(),
            told_corrected: 1.0,
            is_ball_gap,
        });
    }
    let looked_at = correct_together(&mut against);
    let retention = left_of_lesson(&outline, first, &against, &aim);
    Ok(ComparisonStudy {
        first,
        title: outline.words(first).unwrap_or_default(),
        others: against,
        looked_at,
        retention,
        window: windows(&aim, &first_club(&before))[0],
        repeatability: repeatability(library, &outline, Quantity::DivotStart)?,
        swings,
    })
}

/// What became of a lesson's gain. Only blocks that were played as such are a lesson and what is
/// left of it.
fn left_of_lesson(
    outline: &Outline,
    first: Of,
    against: &[Against],
    aim: &AimTable,
) -> Option<Retention> {
    let phase = |of: Of| match of {
        Of::Block(id) => outline.block(id).map(|(_, row, _)| row.block.phase),
        Of::Session(_) | Of::Recording(_) => None,
    };
    let played = |wanted| against.iter().find(|a| phase(a.of) == Some(wanted));
    if phase(first) != Some(Phase::Before) {
        return None;
    }
    let (after, later) = (played(Phase::After)?, played(Phase::Later)?);
    let since = compare_blocks(&plain(&after.swings), &plain(&later.swings), aim);
    retention(&after.comparison, &later.comparison, &since)
}

/// Corrects all chances of a page together; returns how many there are.
fn correct_together(against: &mut [Against]) -> usize {
    let chances =
        |a: &Against| -> Vec<f64> { a.comparison.offsets.iter().map(|o| o.means.test.p).collect() };
    let all: Vec<f64> = against.iter().flat_map(chances).collect();
    let mut corrected = holm(&all).into_iter();
    let told = |a: &Against| a.comparison.told().map_or(1.0, |told| told.means.test.p);
    let sentences = holm(&against.iter().map(told).collect::<Vec<_>>());
    for (one, chance) in against.iter_mut().zip(sentences) {
        one.told_corrected = chance;
    }
    for one in against {
        one.corrected = corrected.by_ref().take(one.comparison.offsets.len()).collect();
    }
    all.len()
}

/// How alike repeat sessions are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Repeatability {
    /// How many clubs were played in two sessions.
    pub clubs: usize,
    /// What they say.
    pub reliability: Reliability,
}

/// Sessions looked at for repeats, the newest ones.
const REPEATS: usize = 6;

/// What repeat sessions of one golfer say: each club's mean in the last two sessions it was
/// played in, with three strikes or more in each. `None` below two such clubs.
fn repeatability(
    library: &Library,
    outline: &Outline,
    of: Quantity,
) -> Result<Option<Repeatability>> {
    // A club on turf and on a mat are two: one session with both is no repeat.
    let mut rows: Vec<((Club, Surface), Vec<f64>)> = Vec::new();
    for session in outline.sessions.iter().take(REPEATS) {
        let swings = offsets_of_rows(library, &library.swings(Of::Session(session.id))?)?;
        let strikes = swings.into_iter().filter(|s| s.kind == SwingKind::Strike).collect();
        for row in club_rows(strikes, &AimTable::default()) {
            let mean = row.summary.offset(of).filter(|o| o.moments.n >= 3).map(|o| o.moments.mean);
            let (Some(club), Some(mean)) = (row.club, mean) else { continue };
            let alike = (club, row.surface);
            match rows.iter_mut().find(|(known, _)| *known == alike) {
                Some((_, means)) => means.push(mean),
                None => rows.push((alike, vec![mean])),
            }
        }
    }
    let repeated: Vec<Vec<f64>> =
        rows.into_iter().filter(|(_, m)| m.len() >= 2).map(|(_, m)| m[..2].to_vec()).collect();
    let clubs = repeated.len();
    Ok(reliability(&repeated).map(|reliability| Repeatability { clubs, reliability }))
}

/// Which of a golfer's swings a table is about.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Span {
    /// One session.
    Session(SessionId),
    /// All sessions.
    #[default]
    All,
}

/// Clubs, stance and season of a golfer.
#[derive(Clone, Debug, PartialEq)]
pub struct ClubsStudy {
    /// Whose.
    pub golfer: GolferId,
    /// Which swings.
    pub span: Span,
    /// Club by club.
    pub rows: Vec<ClubRow>,
    /// Without a ball against with one, club by club, where both were played on one surface.
    pub gaps: Vec<(Option<Club>, Comparison)>,
    /// Ball position and low point of the swings that have both.
    pub stance: Vec<StancePoint>,
    /// The line through them.
    pub stance_line: Option<LineFit>,
}

/// One swing's ball position and low point.
#[derive(Clone, Debug, PartialEq)]
pub struct StancePoint {
    /// Which swing.
    pub id: SwingId,
    /// With which club.
    pub club: Option<Club>,
    /// Strike or practice swing.
    pub kind: SwingKind,
    /// Turf or mat.
    pub surface: Surface,
    /// Ball minus lead heel, mm.
    pub ball_position: f64,
    /// Low point minus ball, mm.
    pub low_point: f64,
}

/// Looks at a golfer club by club.
///
/// # Errors
/// The library can't be read.
pub fn study_clubs(library: &Library, golfer: GolferId, span: Span) -> Result<ClubsStudy> {
    let aim = aim_table(library, golfer)?;
    let sessions = match span {
        Span::Session(id) => vec![id],
        // The oldest first, so that drift reads forward in time.
        Span::All => library.sessions(golfer)?.iter().rev().map(|s| s.id).collect(),
    };
    let mut swings = Vec::new();
    let mut ids = Vec::new();
    for session in sessions {
        let rows = library.swings(Of::Session(session))?;
        swings.extend(offsets_of_rows(library, &rows)?);
        ids.extend(rows.iter().map(|row| row.id));
    }
    let stance = stance(&ids, &swings);
    let column = |f: fn(&StancePoint) -> f64| stance.iter().map(f).collect::<Vec<_>>();
    let stance_line = fit_line(&column(|p| p.ball_position), &column(|p| p.low_point));
    let gaps = gaps(&swings, &aim);
    let rows = club_rows(swings, &aim);
    Ok(ClubsStudy { golfer, span, rows, gaps, stance_line, stance })
}

fn stance(ids: &[SwingId], swings: &[SwingOffsets]) -> Vec<StancePoint> {
    let counting = ids.iter().zip(swings).filter(|(_, s)| !s.left_out);
    let point = |(id, swing): (&SwingId, &SwingOffsets)| {
        Some(StancePoint {
            id: *id,
            club: swing.club.clone(),
            kind: swing.kind,
            surface: swing.surface,
            ball_position: swing.ball_position.as_ref()?.value,
            low_point: swing.value(Quantity::LowPoint)?,
        })
    };
    counting.filter_map(point).collect()
}

/// Practice swings against strikes of the same club from the same surface.
fn gaps(swings: &[SwingOffsets], aim: &AimTable) -> Vec<(Option<Club>, Comparison)> {
    let mut keys = Vec::new();
    for swing in swings {
        let key = (swing.club.clone(), swing.surface);
        if !keys.contains(&key) {
            keys.push(key);
        }
    }
    let gap = |(club, surface): (Option<Club>, _)| {
        let of = |kind| -> Vec<SwingOffsets> {
            let alike = |s: &&SwingOffsets| {
                s.club == club && s.surface == surface && s.kind == kind && !s.left_out
            };
            swings.iter().filter(alike).cloned().collect()
        };
        let (without, with) = (of(SwingKind::Practice), of(SwingKind::Strike));
        let comparison = compare_blocks(&without, &with, aim);
        (!comparison.offsets.is_empty()).then_some((club, comparison))
    };
    keys.into_iter().filter_map(gap).collect()
}

/// A number over a golfer's season, with the days.
#[derive(Clone, Debug, PartialEq)]
pub struct SeasonStudy {
    /// Which number.
    pub quantity: Quantity,
    /// Of the strikes with which club; `None`: with all of them.
    pub club: Option<Club>,
    /// Sessions, oldest first, with the day of each.
    pub points: Vec<(jiff::civil::Date, SeasonPoint)>,
}

/// Looks at a number over all sessions of a golfer.
///
/// # Errors
/// The library can't be read.
pub fn study_season(
    library: &Library,
    golfer: GolferId,
    of: Quantity,
    club: Option<Club>,
) -> Result<SeasonStudy> {
    let sessions = library.sessions(golfer)?;
    let day = |id: SessionId| sessions.iter().find(|s| s.id == id).map(|s| s.session.date);
    let points = season(library, golfer, of, club.as_ref())?;
    let points = points.into_iter().filter_map(|p| Some((day(p.session)?, p))).collect();
    Ok(SeasonStudy { quantity: of, club, points })
}

/// A drill and how a golfer does in it.
#[derive(Clone, Debug, PartialEq)]
pub struct DrillStudy {
    /// The drill.
    pub drill: &'static Drill,
    /// Its runs, oldest first.
    pub runs: Vec<DrillRun>,
}

/// One run of a drill.
#[derive(Clone, Debug, PartialEq)]
pub struct DrillRun {
    /// The block it is.
    pub block: BlockId,
    /// In words: the day, and whether a mat was played from.
    pub day: String,
    /// How it went.
    pub score: DrillScore,
}

impl DrillStudy {
    /// The run with the most points, the first of equals; runs nothing could be scored in do
    /// not count.
    pub fn best(&self) -> Option<&DrillRun> {
        let points = |run: &&DrillRun| run.score.points(self.drill.scoring);
        let scored = self.runs.iter().filter(|run| run.score.swings > 0);
        scored.rev().max_by_key(points)
    }
}

/// Every drill, and how a golfer does in it.
///
/// # Errors
/// The library can't be read.
pub fn study_drills(library: &Library, golfer: GolferId) -> Result<Vec<DrillStudy>> {
    let aim = aim_table(library, golfer)?;
    let outline = outline(library, golfer)?;
    let study = |drill: &'static Drill| {
        let mut runs = Vec::new();
        for (session, block) in library.drill_runs(golfer, drill.key)? {
            let swings = offsets_of_rows(library, &library.swings(Of::Block(block))?)?;
            let day = outline.session(session).map(|s| day_words(s.session.date));
            let mut day = day.unwrap_or_default();
            if swings.iter().any(|s| s.surface == Surface::Mat) {
                day.push_str(", on a mat");
            }
            let score = score_drill(drill.scoring, &swings, &aim);
            runs.push(DrillRun { block, day, score });
        }
        Ok(DrillStudy { drill, runs })
    };
    DRILLS.iter().map(study).collect()
}
