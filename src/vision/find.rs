//! The whole proposal: every swing of a recording with its strike, ball and club head.

use std::ops::Range;

use super::ball::BallFit;
use super::clear_plate::Plate;
use super::club_head::{Shaft, ShaftEnd, find_shaft};
use super::club_sole::find_soles;
use super::colours::read_colours;
use super::hints::{GivenStrike, Hints, Look};
use super::leaving_ball::{Departure, unseen_clubs, way_past, way_through};
use super::met::{Met, find_above, find_coloured, find_met, find_struck, may_be_hidden};
use super::motion::{LineSighting, Scan, scan};
use super::plane::median;
use super::seam::{find_seam, ground_about};
use super::sound::Click;
use super::steady::Steadying;
use super::swings::{APART_S, Sweep, find_sweeps};
use super::torn::Tear;
use super::turf_change::{GroundMarkRequest, find_ground_mark};
use super::unbroken::Unbroken;
use super::window::{Clock, ball_zone, read_window, strike_area};
use crate::domain::{
    BallOutline, ClubHeadSighting, Found, FoundSwing, FrameIndex, ImagePoint, Millimetres,
    PictureError, PictureSize, Pictures, Pixels, Seconds, SwingKind, Warning,
};

/// The reading of the recording takes about this share of the work.
const SCAN_SHARE: f64 = 0.6;
/// Swings given by a person replace found ones this near to them (measuring contract).
const SAME_SWING_S: f64 = 0.5;

/// How far the search is.
#[derive(Clone, Copy, Debug)]
pub enum SearchStep<'a> {
    /// Which part of the work is done, 0 to 1.
    Done(f64),
    /// A swing as known so far: at first with its ball and club head, and once more when the
    /// ground was looked at. The second time they are told in order of time, and any told before
    /// under a higher number than the last was none.
    Found {
        /// Which of the swings, from 0.
        number: usize,
        /// What is known of it.
        swing: &'a FoundSwing,
        /// The ground was looked at too.
        complete: bool,
    },
}

/// Every swing of a recording, in order of time, each with what could be proposed for it.
///
/// `clicks`: those of the sound track, if it has one. `progress`: is told how far the search is
/// and stops the work by returning false.
///
/// # Errors
/// [`PictureError::Cancelled`] when stopped; the reader's own error when a picture cannot be
/// read.
pub fn find_swings(
    pictures: &mut dyn Pictures,
    clicks: Option<&[Click]>,
    hints: &Hints,
    progress: &mut dyn FnMut(SearchStep) -> bool,
) -> Result<Vec<FoundSwing>, PictureError> {
    let pictures = &mut Unbroken(pictures);
    let mut clock = Clock::new(pictures.timeline().clone());
    let Scan { lines, departures, pace } =
        scan(pictures, &clock, &mut |share| progress(SearchStep::Done(SCAN_SHARE * share)))?;
    clock.pace = pace;
    let sweeps = find_sweeps(&lines, &clock.pace, pictures.size().width);
    let sweeps = with_given(sweeps, hints, &clock, pictures.size());
    // A slow-motion file's sound, if any, does not run with its pictures.
    let clicks = clicks.filter(|_| (clock.timeline.slow_factor - 1.0).abs() < 1e-9);
    let longest = sweeps.iter().map(|(sweep, _)| sweep.length).fold(0.0, f64::max);
    let steadying = Steadying::new(pictures)?;
    // Each swing is looked at twice: for club and ball, then for its mark in the ground.
    let steps = (2 * sweeps.len()).max(1);
    let (found, done) = (Vec::new(), 0);
    let mut search =
        Search { pictures, steadying, clock, clicks, hints, longest, progress, steps, done, found };
    search.follow(&sweeps)?;
    search.follow_balls(&departures, &lines)?;
    search.look_at_ground()?;
    Ok(search.found.into_iter().map(|proposed| proposed.swing).collect())
}

/// A search under way.
struct Search<'a> {
    pictures: &'a mut dyn Pictures,
    steadying: Steadying,
    clock: Clock,
    clicks: Option<&'a [Click]>,
    hints: &'a Hints,
    /// The longest club seen, pixels.
    longest: f64,
    progress: &'a mut dyn FnMut(SearchStep) -> bool,
    /// How many steps there are after the recording was read through, and how many are done.
    steps: usize,
    done: usize,
    found: Vec<Proposed>,
}

impl Search<'_> {
    /// What is proposed for each sweep of a club.
    fn follow(&mut self, sweeps: &[(Sweep, Option<GivenStrike>)]) -> Result<(), PictureError> {
        for (sweep, given) in sweeps {
            if let Some(proposed) =
                self.propose(sweep, given.as_ref(), self.hints.is_speed_guessed)?
            {
                let (number, swing) = (self.found.len(), &proposed.swing);
                (self.progress)(SearchStep::Found { number, swing, complete: false });
                self.found.push(proposed);
            }
            self.done += 1;
        }
        Ok(())
    }

    /// What is proposed for each ball that left while no strike was found.
    fn follow_balls(
        &mut self,
        departures: &[Departure],
        lines: &[LineSighting],
    ) -> Result<(), PictureError> {
        let struck = self.found.iter().filter(|f| f.swing.kind.value == SwingKind::Strike);
        let struck = struck.filter_map(|f| Some((f.swing.strike_time.value, f.swing.ball?.value)));
        let struck: Vec<(Seconds, BallOutline)> = struck.collect();
        let scene = (&self.clock, self.pictures.size());
        for sweep in unseen_clubs(departures, &struck, self.hints, self.longest, scene) {
            let slow = self.clock.timeline.slow_factor;
            let mut proposed = self.propose(&sweep, None, true)?;
            if let Some(swing) = proposed.as_mut().map(|proposed| &mut proposed.swing) {
                let ball = swing.ball.map(|ball| (sweep.foot, ball.value.diameter.0));
                let past = |ball| way_past(lines, ball, swing.strike_frame.0, &self.clock.pace);
                swing.heading = swing.heading.or_else(|| ball.and_then(past));
            }
            let proposed = proposed.filter(|proposed| {
                let is_known = |known: &Proposed| {
                    known.is_begun_by(proposed, slow) || known.is_same_strike(proposed, slow)
                };
                proposed.is_strike_at_foot() && !self.found.iter().any(is_known)
            });
            if let Some(mut proposed) = proposed {
                proposed.swing.warnings.push(Warning::ClubUnseen);
                // What was taken for a practice swing was part of this one.
                self.found.retain(|known| !known.is_part_of(&proposed, slow));
                self.found.push(proposed);
            }
        }
        let time = |proposed: &Proposed| proposed.swing.strike_time.value.0;
        self.found.sort_by(|a, b| time(a).total_cmp(&time(b)));
        Ok(())
    }

    /// What each swing left in the ground.
    fn look_at_ground(&mut self) -> Result<(), PictureError> {
        for number in 0..self.found.len() {
            let share = self.share();
            if !(self.progress)(SearchStep::Done(share)) {
                return Err(PictureError::Cancelled);
            }
            let request = mark_request(&self.found, number, self.hints, &self.clock);
            let swing = &mut self.found[number].swing;
            if let Some(request) = request {
                add_mark(swing, self.pictures, &mut self.steadying, &request)?;
            }
            (self.progress)(SearchStep::Found { number, swing, complete: true });
            self.done += 1;
        }
        Ok(())
    }

    /// How much is done, 0 to 1.
    fn share(&self) -> f64 {
        SCAN_SHARE + (1.0 - SCAN_SHARE) * (self.done as f64 / self.steps as f64).min(1.0)
    }

    fn propose(
        &mut self,
        sweep: &Sweep,
        given: Option<&GivenStrike>,
        at_once: bool,
    ) -> Result<Option<Proposed>, PictureError> {
        let at = FrameIndex(self.clock.frame_at(sweep.time));
        let motion = self.steadying.motion(self.pictures, at)?;
        let (clock, clicks) = (&self.clock, self.clicks);
        let (hints, longest) = (self.hints, self.longest);
        let look = Look { clock, clicks, hints, given, motion, longest, at_once };
        let done = SearchStep::Done(self.share());
        let (pictures, steadying) = (&mut *self.pictures, &mut self.steadying);
        let mut go_on = || (self.progress)(done);
        let swing = propose(pictures, steadying, &look, sweep, &mut go_on)?;
        let origin = given.and_then(|given| given.origin);
        let foot = motion.to_first(sweep.foot);
        Ok(swing.map(|swing| Proposed { swing, origin, foot }))
    }
}

/// The ground is not looked at nearer than this to another swing: turf is still flying, or
/// the golfer is already at the next address.
const SETTLED_S: f64 = 0.5;
const ADDRESS_S: f64 = 0.9;

/// From where the club head begins to go back until it meets the ground: 0.7 to 1.3 s in most
/// swings (common practice, no source).
const TAKEN_BACK_S: Range<f64> = 0.4..1.6;

/// A swing before its mark in the ground is looked for; points in the steadied picture.
struct Proposed {
    swing: FoundSwing,
    /// The stand-in for the ball that a person placed for this swing.
    origin: Option<ImagePoint>,
    /// Where the lower end of the shaft passes.
    foot: ImagePoint,
}

impl Proposed {
    /// It is a strike of the ball at its foot, and the club was seen to go one way through it.
    fn is_strike_at_foot(&self) -> bool {
        let here = |ball: Found<BallOutline>| {
            ball.value.centre.distance(self.foot) < ball.value.diameter.0
        };
        self.swing.kind.value == SwingKind::Strike
            && self.swing.heading.is_some()
            && self.swing.ball.is_some_and(here)
    }

    /// It is a practice swing so near to a strike, in film so many times slower, that it is only a
    /// part of that.
    fn is_part_of(&self, strike: &Self, slow: f64) -> bool {
        self.swing.kind.value == SwingKind::Practice && self.is_near(strike, slow)
    }

    /// Two balls that left together, or one that was seen as two, are one strike.
    fn is_same_strike(&self, strike: &Self, slow: f64) -> bool {
        self.swing.kind.value == SwingKind::Strike && self.is_near(strike, slow)
    }

    fn is_near(&self, other: &Self, slow: f64) -> bool {
        self.after(other, slow).abs() <= APART_S
    }

    /// What left the ground before it was no ball but this swing's own club head, which lay there
    /// as bright as one until it was taken back.
    fn is_begun_by(&self, strike: &Self, slow: f64) -> bool {
        TAKEN_BACK_S.contains(&self.after(strike, slow))
    }

    /// By how many seconds of capture it comes after another.
    fn after(&self, other: &Self, slow: f64) -> f64 {
        let [own, other] = [self, other].map(|p| p.swing.strike_time.value.0);
        (own - other) / slow
    }
}

/// What to look for in the ground after swing `i`; `None` if it is not known where.
fn mark_request(
    found: &[Proposed],
    i: usize,
    hints: &Hints,
    clock: &Clock,
) -> Option<GroundMarkRequest> {
    let Proposed { swing, origin, foot } = &found[i];
    let time = |i: usize| found[i].swing.strike_time.value.0 / clock.timeline.slow_factor;
    let earliest = if i > 0 { clock.frame_at(time(i - 1) + SETTLED_S) } else { 0 };
    let last = clock.timeline.len() - 1;
    let latest = if i + 1 < found.len() { clock.frame_at(time(i + 1) - ADDRESS_S) } else { last };
    let ball = swing.ball.map(|b| b.value);
    let bottom = || {
        let frame = swing.strike_frame.0 as f64;
        let gap = |s: &&ClubHeadSighting| (s.frame.0 as f64 - frame).abs();
        let nearest = swing.club_head.iter().min_by(|a, b| gap(a).total_cmp(&gap(b)));
        // At low frame rates the head may not be seen; it passes under the shaft's end.
        nearest.map_or(*foot, |s| s.point)
    };
    let origin = origin.or(hints.origin.filter(|_| ball.is_none()));
    Some(GroundMarkRequest {
        strike_frame: swing.strike_frame,
        heading: swing.heading?,
        ball,
        struck: swing.kind.value == SwingKind::Strike,
        origin: if ball.is_none() { Some(origin.unwrap_or_else(bottom)) } else { origin },
        earliest: FrameIndex(earliest.min(swing.strike_frame.0)),
        latest: FrameIndex(latest.max(swing.strike_frame.0)),
        surface: hints.surface,
        scale: hints.scale,
        along: hints.target_line,
    })
}

/// Fills in what the swing left in the ground.
fn add_mark(
    swing: &mut FoundSwing,
    pictures: &mut dyn Pictures,
    steadying: &mut Steadying,
    request: &GroundMarkRequest,
) -> Result<(), PictureError> {
    if request.ball.is_none() && request.origin.is_none() {
        return Ok(());
    }
    let finding = find_ground_mark(pictures, steadying, request)?;
    swing.ground_mark = finding.mark;
    swing.divot_start = finding.start;
    swing.divot_end = finding.end;
    swing.mark_line = finding.line;
    swing.compared = finding.compared;
    swing.steadying_sigma = finding.steadying_sigma;
    swing.warnings.extend(finding.warnings);
    let [before, _] = finding.averaged;
    // Blocks repeat rows themselves.
    let is_coarse = |w: &Warning| matches!(w, Warning::CoarselyCoded { .. });
    let torn = match swing.ball.filter(|_| !swing.warnings.iter().any(is_coarse)) {
        Some(ball) => tear_beside(&ball.value, pictures, steadying, &before)?,
        None => None,
    };
    if let Some(Tear { row, pixels }) = torn {
        swing.note_tear(row, pixels);
    }
    Ok(())
}

/// Whether a part of the picture beside a ball is displaced against that with the ball.
fn tear_beside(
    ball: &BallOutline,
    pictures: &mut dyn Pictures,
    steadying: &mut Steadying,
    frames: &[FrameIndex],
) -> Result<Option<Tear>, PictureError> {
    let patch = ground_about(ball, pictures.size());
    let Some(patch) = patch.filter(|_| !frames.is_empty()) else { return Ok(None) };
    let plate = Plate::new(pictures, steadying, frames, patch)?;
    Ok(find_seam(&plate, ball))
}

/// A club this much shorter than the longest is perhaps that of a golfer farther back: one 1.3 m
/// behind a player who is 4 m away. Clubs of one bag differ by less but for driver and wedge.
const SHORTER: f64 = 0.75;

/// The found sweeps with what a person said about each; a given strike without a sweep
/// becomes an empty one, and only given ones are kept where that is wished.
fn with_given(
    sweeps: Vec<Sweep>,
    hints: &Hints,
    clock: &Clock,
    size: PictureSize,
) -> Vec<(Sweep, Option<GivenStrike>)> {
    let near = |sweep: &Sweep, given: &GivenStrike| {
        given.time.map(|t| (clock.playback(sweep.time) - t.0).abs()).filter(|d| *d <= SAME_SWING_S)
    };
    let mut out: Vec<(Sweep, Option<GivenStrike>)> = Vec::new();
    for given in &hints.given {
        let best = sweeps
            .iter()
            .filter_map(|s| near(s, given).map(|d| (d, s)))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        match (best, given.time) {
            (Some((_, sweep)), _) => out.push((sweep.clone(), Some(*given))),
            (None, Some(time)) => out.push((unseen(time, given, hints, clock, size), Some(*given))),
            (None, None) => {}
        }
    }
    if !hints.only_given {
        let fresh = |s: &Sweep| hints.given.iter().all(|g| near(s, g).is_none());
        out.extend(sweeps.into_iter().filter(fresh).map(|s| (s, None)));
    }
    out.sort_by(|a, b| a.0.time.total_cmp(&b.0.time));
    out
}

/// A strike that a person saw and the motion did not show.
fn unseen(
    time: Seconds,
    given: &GivenStrike,
    hints: &Hints,
    clock: &Clock,
    size: PictureSize,
) -> Sweep {
    let (w, h) = (size.width as f64, size.height as f64);
    let middle = ImagePoint::new(w / 2.0, 0.8 * h);
    Sweep {
        time: time.0 / clock.timeline.slow_factor,
        heading: 0.0,
        speed: 0.0,
        turned: 0.0,
        length: 0.4 * h,
        foot: given.ball.or(given.origin).or(hints.origin).unwrap_or(middle),
        lines: Vec::new(),
    }
}

fn propose(
    pictures: &mut dyn Pictures,
    steadying: &mut Steadying,
    look: &Look,
    sweep: &Sweep,
    go_on: &mut dyn FnMut() -> bool,
) -> Result<Option<FoundSwing>, PictureError> {
    let clock = look.clock;
    let foot = (sweep.foot.x, sweep.foot.y);
    let Some(area) = strike_area(foot, sweep.length, pictures.size()) else { return Ok(None) };
    let window = read_window(pictures, steadying, clock, sweep.time, area, go_on)?;
    let shaft = find_shaft(&window, sweep, &clock.pace);
    let soles = find_soles(pictures, steadying, &window, &shaft, sweep, clock)?;
    let Shaft { bands, ends } = shaft;
    let mut struck = find_struck(&window, &ends, sweep, look);
    let mut doubtful = false;
    if struck.is_none() {
        let size = pictures.size();
        let zone = ball_zone(foot, sweep.length, size).unwrap_or(area);
        let when = (clock, sweep.time);
        let colours = read_colours(pictures, steadying, &window, zone, when, go_on)?;
        struck = find_struck(&colours.white, &ends, sweep, look)
            .or_else(|| find_coloured(&window, &colours.tint, &ends, sweep, look));
        if struck.is_none() {
            struck = find_above(&window, sweep, look, size);
            doubtful = struck.is_some() || may_be_hidden(&window, &colours, sweep, size);
        }
    }
    // Chalk that the club has cut off a line is gone at once, too, but in silence.
    let is_placed = look.given.is_some_and(|given| given.ball.is_some());
    let ragged = !is_placed && struck.is_some_and(|(ball, _)| ball.scatter > RAGGED_BALL);
    doubtful |= ragged;
    if ragged && look.clicks.is_some() {
        struck = struck.filter(|(_, last)| {
            heard(Seconds(clock.playback(clock.time(*last))), look) >= Some(LEAST_OF_BALL)
        });
    }
    let met = find_met(&window, struck, &ends, sweep, look, pictures.size());
    let Met { kind, ball, is_astray, time, frame } = met;
    let heading = match (sweep.heading, struck) {
        (0.0, Some((ball, last))) => way_through(&window, &ball.outline, last, &clock.pace),
        (0.0, None) => None,
        (heading, _) => Some(heading),
    };
    let sure = swing_confidence(sweep, time.value, (kind, doubtful), look);
    let moved =
        (!look.motion.is_trusted).then(|| Warning::CameraMoved { pixels: look.motion.shift().0 });
    // Where the picture went is a guess then, and so is where the ball lies in the first one.
    let worth = if moved.is_some() { 0.5 } else { 1.0 };
    let most = if is_astray || ragged { SUREST_ASTRAY } else { SUREST_BALL };
    let scale = look.hints.scale.map(|s| s.0);
    let scale = scale.or(ball.map(|b| Millimetres::BALL.0 / b.outline.diameter.0));
    Ok(Some(FoundSwing {
        kind: Found { value: kind, sigma: 0.0, confidence: sure },
        strike_time: Found { confidence: sure, ..time },
        strike_frame: FrameIndex(frame),
        heading,
        ball: ball.map(|b| Found {
            value: b.outline,
            sigma: b.sigma,
            confidence: worth * ball_confidence(&b).min(most),
        }),
        ground_mark: None,
        divot_start: None,
        divot_end: None,
        mark_line: None,
        club_head: match 2 * soles.len() >= bands.len() {
            true => edges_from_soles(&soles, scale, sweep, look),
            false => edges_from_ends(&ends, scale, sweep, look),
        },
        compared: None,
        steadying_sigma: Pixels(0.0),
        warnings: moved.into_iter().collect(),
    }))
}

/// How sure it is that this is a swing of its kind: a full swing's speed, and a click where one is
/// heard, without which a club that was not seen leaves doubt. `doubtful`: what was struck may not
/// have been seen, or only out of place.
fn swing_confidence(
    sweep: &Sweep,
    time: Seconds,
    (kind, doubtful): (SwingKind, bool),
    look: &Look,
) -> f64 {
    // Whoever says when it was need not have said whether a ball was struck.
    if look.given.is_some() && !doubtful {
        return 0.99;
    }
    let fast = (0.5 + 0.05 * (sweep.speed - 7.0)).clamp(0.5, 0.95);
    let heard = heard(time, look);
    let silent = sweep.lines.is_empty() && heard.is_none();
    sure_of(kind, fast, heard, doubtful || silent || stands_back(sweep, look.longest))
}

/// How much the loudest click at a strike's instant stands out, decibels, if one is heard.
fn heard(strike: Seconds, look: &Look) -> Option<f64> {
    let at_once = |c: &&Click| (c.time.0 - strike.0 - 0.012).abs() < 0.03;
    let clicks = look.clicks.unwrap_or_default().iter().filter(at_once);
    clicks.map(|click| click.strength).max_by(f64::total_cmp)
}

/// Whether this may be a golfer behind the one whose club is the longest.
fn stands_back(sweep: &Sweep, longest: f64) -> bool {
    sweep.length < SHORTER * longest
}

/// A club that meets turf alone thuds; what little of that is as high as a click stands out of the
/// quiet by less than this (decibels; scenes of the program's own reach 12), a struck ball by more.
const LEAST_OF_BALL: f64 = 13.0;

/// The same from how sure its speed makes it, how much the loudest click at that very instant stands
/// out, if one is heard, and whether something speaks against it.
fn sure_of(kind: SwingKind, fast: f64, heard: Option<f64>, doubtful: bool) -> f64 {
    let doubt = 1.0 - fast;
    let struck = heard.is_some_and(|strength| strength >= LEAST_OF_BALL);
    match kind {
        SwingKind::Strike if doubtful => 0.75,
        SwingKind::Strike if heard.is_some() => 1.0 - 0.2 * doubt,
        // A ball that leaves its place under a club is hardly anything else.
        SwingKind::Strike => 1.0 - 0.4 * doubt,
        // With a click, perhaps a ball was there and not seen.
        SwingKind::Practice if struck || doubtful => fast.min(0.6),
        SwingKind::Practice => fast,
    }
}

/// How sure a ball's place is to a pixel.
fn ball_confidence(ball: &BallFit) -> f64 {
    let seen = ((ball.seen - 0.4) / 0.4).clamp(0.0, 1.0);
    let clean = ((0.15 - ball.scatter) / 0.1).clamp(0.0, 1.0);
    0.5 + 0.48 * seen * clean
}

/// However clear the outline, its place is no surer: in three recordings of 13 the part of the
/// picture about the ball is itself displaced (see `docs/accuracy.md`), and that may go unseen.
const SUREST_BALL: f64 = 0.94;
/// Struck balls scatter about their outline by at most 0.03 of their radius (invented
/// scenes); by more than this it may have been something else, unless a person placed it.
const RAGGED_BALL: f64 = 0.1;
/// How sure a ball is at most that may be another than that of the swing, or none.
const SUREST_ASTRAY: f64 = 0.3;

/// Leading-edge sightings from shaft ends: the edge's middle lies some 30 mm farther down and 10
/// mm ahead (irons; common practice, no source), a distance that all sightings share and that
/// therefore does not move the low point.
fn edges_from_ends(
    ends: &[ShaftEnd],
    scale: Option<f64>,
    sweep: &Sweep,
    look: &Look,
) -> Vec<ClubHeadSighting> {
    let mut lengths: Vec<f64> = ends.iter().map(|e| e.head_length).collect();
    let seen = median(&mut lengths).unwrap_or(0.0);
    let down = match scale {
        // Near the ground the head's shadow makes it look longer than any head is.
        Some(mm) => (0.7 * seen).clamp(24.0 / mm, 38.0 / mm),
        None => 0.7 * seen,
    };
    ends.iter().map(|e| edge(e, down, 0.35 * down, 0.7 * e.sigma.hypot(1.2), sweep, look)).collect()
}

/// Leading-edge sightings from the sole under the leading side of the shaft.
fn edges_from_soles(
    soles: &[ShaftEnd],
    scale: Option<f64>,
    sweep: &Sweep,
    look: &Look,
) -> Vec<ClubHeadSighting> {
    let ahead = scale.map_or(0.02 * sweep.length, |mm| 8.0 / mm);
    soles.iter().map(|s| edge(s, 0.0, ahead, s.sigma, sweep, look)).collect()
}

/// The edge `down` along the shaft from a point fixed to the club and `ahead` of it, pixels.
fn edge(
    e: &ShaftEnd,
    down: f64,
    ahead: f64,
    sigma: f64,
    sweep: &Sweep,
    look: &Look,
) -> ClubHeadSighting {
    let along = e.line.along(e.end.x, e.end.y);
    let across = e.line.across(e.end.x, e.end.y);
    let point = e.line.point(along + down, across + sweep.heading * ahead);
    ClubHeadSighting {
        frame: FrameIndex(e.frame),
        time: Seconds(look.clock.playback(e.time)),
        point: look.motion.to_first(point),
        // The band's middle line wanders by some pixels as the head turns, more where the blur is
        // wide; the end is judged frame by frame.
        sigma: [Pixels(1.0_f64.hypot(0.12 * e.half_width)), Pixels(sigma)],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_golfer_farther_back_is_put_before_the_person() {
        let sweep = |length: f64| Sweep {
            time: 1.0,
            heading: 1.0,
            speed: 25.0,
            turned: 2.0,
            length,
            foot: ImagePoint::new(95.0, 76.0),
            lines: Vec::new(),
        };
        let doubtful = [150.0, 93.0, 120.0].map(|length| stands_back(&sweep(length), 150.0));
        assert_eq!(doubtful, [false, true, false]);
        for kind in [SwingKind::Strike, SwingKind::Practice] {
            assert!(
                sure_of(kind, 0.95, None, true) < 0.8 && sure_of(kind, 0.95, None, false) > 0.9
            );
        }
    }

    #[test]
    fn a_click_without_a_ball_leaves_doubt_and_a_thud_does_not() {
        let sure = |strength: f64| sure_of(SwingKind::Practice, 0.95, Some(strength), false);
        assert!(sure(20.0) < 0.8 && sure(11.0) > 0.9);
    }
}
