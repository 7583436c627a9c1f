//! The whole proposal: every swing of a recording with its strike, ball and club head.

use super::ball::{BallFit, fit_outline, round_spots};
use super::club_head::{Parabola, Shaft, ShaftEnd, find_shaft};
use super::club_sole::find_soles;
use super::colours::{Colours, read_colours};
use super::leaving_ball::{Departure, way_through};
use super::motion::{Scan, scan};
use super::plane::{Area, Plane, median};
use super::sound::{Click, SPEED_OF_SOUND};
use super::steady::{Motion, Steadying};
use super::swings::{APART_S, Sweep, find_sweeps};
use super::turf_change::{GroundMarkRequest, find_ground_mark};
use super::unseen::{Place, leaving, left_at_once, left_in_one_picture, presences};
use super::window::{Clock, Window, ball_zone, read_window, strike_area};
use crate::domain::{
    BallOutline, ClubHeadSighting, Found, FoundSwing, FrameIndex, ImagePoint, Millimetres,
    MillimetresPerPixel, PictureError, PictureSize, Pictures, Pixels, Seconds, Surface, SwingKind,
    Warning,
};

/// A swing that a person has pointed out.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct GivenStrike {
    /// When, on the playback clock.
    pub time: Option<Seconds>,
    /// The ball's centre in the steadied picture, if a person placed it.
    pub ball: Option<ImagePoint>,
    /// The ground point that stands in for the ball in this practice swing.
    pub origin: Option<ImagePoint>,
}

/// What is known before looking.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Hints {
    /// Swings that a person has pointed out.
    pub given: Vec<GivenStrike>,
    /// Look for no others.
    pub only_given: bool,
    /// What the ball lies on.
    pub surface: Option<Surface>,
    /// Millimetres a pixel at the ball; `None`: from the ball's own size.
    pub scale: Option<MillimetresPerPixel>,
    /// From the camera to the ball; `None`: from the ball's size for a usual phone lens.
    pub camera_distance: Option<Millimetres>,
    /// The way to the target in the picture, a unit vector; `None`: level.
    pub target_line: Option<[f64; 2]>,
    /// A ground point that stands in for the ball in practice swings.
    pub origin: Option<ImagePoint>,
    /// How fast the film plays is a guess: only a ball that is gone from one picture to the next
    /// counts as struck, since a hand or a foot can take one away slowly.
    pub is_speed_guessed: bool,
}

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
    /// ground was looked at. Swings are told in order of time.
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
    let mut clock = Clock::new(pictures.timeline().clone());
    let Scan { lines, departures, pace } =
        scan(pictures, &clock, &mut |share| progress(SearchStep::Done(SCAN_SHARE * share)))?;
    clock.pace = pace;
    let sweeps = with_given(find_sweeps(&lines, &clock.pace), hints, &clock, pictures.size());
    // A slow-motion file's sound, if any, does not run with its pictures.
    let clicks = clicks.filter(|_| (clock.timeline.slow_factor - 1.0).abs() < 1e-9);
    let mut steadying = Steadying::new(pictures)?;
    // Each swing is looked at twice: for club and ball, then for its mark in the ground.
    let steps = (2 * sweeps.len()).max(1) as f64;
    let share = |step: usize| SCAN_SHARE + (1.0 - SCAN_SHARE) * step as f64 / steps;
    let longest = sweeps.iter().map(|(sweep, _)| sweep.length).fold(0.0, f64::max);
    let mut found = Vec::new();
    for (i, (sweep, given)) in sweeps.iter().enumerate() {
        let motion = steadying.motion(pictures, FrameIndex(clock.frame_at(sweep.time)))?;
        let look = Look { clock: &clock, clicks, hints, given: given.as_ref(), motion, longest };
        let mut go_on = || progress(SearchStep::Done(share(i)));
        if let Some(swing) = propose(pictures, &mut steadying, &look, sweep, &mut go_on)? {
            let number = found.len();
            progress(SearchStep::Found { number, swing: &swing, complete: false });
            let foot = motion.to_first(sweep.foot);
            found.push(Proposed { swing, origin: given.and_then(|g| g.origin), foot });
        }
    }
    for sweep in unseen_clubs(&departures, &found, hints, longest, (&clock, pictures.size())) {
        let motion = steadying.motion(pictures, FrameIndex(clock.frame_at(sweep.time)))?;
        let hints = Hints { is_speed_guessed: true, ..hints.clone() };
        let look = Look { clock: &clock, clicks, hints: &hints, given: None, motion, longest };
        let mut go_on = || progress(SearchStep::Done(share(sweeps.len())));
        let foot = motion.to_first(sweep.foot);
        let swing = propose(pictures, &mut steadying, &look, &sweep, &mut go_on)?;
        if let Some(mut swing) = swing.filter(|swing| met_ball_at(swing, foot)) {
            swing.warnings.push(Warning::ClubUnseen);
            // What was taken for a practice swing was part of this one.
            found.retain(|known| !is_part_of(&known.swing, &swing, &clock));
            found.push(Proposed { swing, origin: None, foot });
        }
    }
    found.sort_by(|a, b| a.swing.strike_time.value.0.total_cmp(&b.swing.strike_time.value.0));
    for i in 0..found.len() {
        if !progress(SearchStep::Done(share(sweeps.len() + i))) {
            return Err(PictureError::Cancelled);
        }
        if let Some(request) = mark_request(&found, i, hints, &clock) {
            add_mark(&mut found[i].swing, pictures, &mut steadying, &request)?;
        }
        progress(SearchStep::Found { number: i, swing: &found[i].swing, complete: true });
    }
    Ok(found.into_iter().map(|proposed| proposed.swing).collect())
}

/// How long a club is that is not seen, in diameters of its ball.
const CLUB_IN_BALLS: f64 = 14.0;
/// A ball this much narrower than others that were struck belongs to a golfer farther back.
const FARTHER_BACK: f64 = 0.75;

/// A sweep without a club for each ball that left its place while no strike was found.
fn unseen_clubs(
    departures: &[Departure],
    found: &[Proposed],
    hints: &Hints,
    longest: f64,
    (clock, size): (&Clock, PictureSize),
) -> Vec<Sweep> {
    if hints.only_given || hints.is_speed_guessed {
        return Vec::new();
    }
    let struck = found.iter().filter(|f| f.swing.kind.value == SwingKind::Strike);
    let struck = struck.filter_map(|f| Some((f.swing.strike_time.value, f.swing.ball?.value)));
    let struck: Vec<(Seconds, BallOutline)> = struck.collect();
    let given = hints.given.iter().filter_map(|given| given.time);
    let taken: Vec<Seconds> = struck.iter().map(|(time, _)| *time).chain(given).collect();
    let wide = struck.iter().map(|(_, ball)| ball.diameter.0);
    let widest = match struck.is_empty() {
        true => departures.iter().map(|d| d.diameter).fold(0.0, f64::max),
        false => wide.fold(0.0, f64::max),
    };
    let is_new = |d: &&Departure| {
        let apart = APART_S * clock.timeline.slow_factor;
        taken.iter().all(|t| (t.0 - clock.playback(d.time)).abs() > apart)
            && d.diameter > FARTHER_BACK * widest
    };
    let sweep = |d: &Departure| Sweep {
        time: d.time,
        heading: 0.0,
        speed: 0.0,
        turned: 0.0,
        length: longest.max((CLUB_IN_BALLS * d.diameter).min(size.height as f64)),
        foot: ImagePoint::new(d.x, d.y),
        lines: Vec::new(),
    };
    departures.iter().filter(is_new).map(sweep).collect()
}

/// Whether what was proposed for a ball that left is a strike of that very ball, and the club was
/// seen to go one way through it.
fn met_ball_at(swing: &FoundSwing, place: ImagePoint) -> bool {
    let that = |ball: Found<BallOutline>| ball.value.centre.distance(place) < ball.value.diameter.0;
    swing.kind.value == SwingKind::Strike && swing.heading.is_some() && swing.ball.is_some_and(that)
}

/// Whether a practice swing was only a part of a strike.
fn is_part_of(swing: &FoundSwing, strike: &FoundSwing, clock: &Clock) -> bool {
    let apart = (swing.strike_time.value.0 - strike.strike_time.value.0).abs();
    swing.kind.value == SwingKind::Practice && apart <= APART_S * clock.timeline.slow_factor
}

/// The ground is not looked at nearer than this to another swing: turf is still flying, or
/// the golfer is already at the next address.
const SETTLED_S: f64 = 0.5;
const ADDRESS_S: f64 = 0.9;

/// A swing before its mark in the ground is looked for; points in the steadied picture.
struct Proposed {
    swing: FoundSwing,
    /// The stand-in for the ball that a person placed for this swing.
    origin: Option<ImagePoint>,
    /// Where the lower end of the shaft passes.
    foot: ImagePoint,
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
    Ok(())
}

/// What is known when one swing is looked at.
struct Look<'a> {
    clock: &'a Clock,
    /// `None`: there is no sound.
    clicks: Option<&'a [Click]>,
    hints: &'a Hints,
    given: Option<&'a GivenStrike>,
    /// How the picture has moved, at the strike, since the first frame.
    motion: Motion,
    /// The length of the longest club seen in any swing, pixels.
    longest: f64,
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
    let Shaft { bands, ends } = find_shaft(&window, sweep, &clock.pace);
    let soles = find_soles(pictures, steadying, &window, &bands, sweep, clock)?;
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
    let met = find_met(&window, struck, &ends, sweep, look, pictures.size());
    let Met { kind, ball, time, frame } = met;
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
            confidence: worth * ball_confidence(&b),
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

/// A struck ball that stands out by its colour, or by being darker than the ground.
fn find_coloured(
    window: &Window,
    tint: &Window,
    ends: &[ShaftEnd],
    sweep: &Sweep,
    look: &Look,
) -> Option<(BallFit, usize)> {
    let dark = window.part(tint.area, |level| 255.0 - level);
    let found = [tint, &dark].into_iter().find_map(|part| find_gone(part, ends, sweep, look));
    found.map(|found| laid_in(window, tint.area, found))
}

/// A struck ball higher up in the picture than the foot of the swing, whose place may be known
/// badly: from a copy of the picture beside it, or where much of the shaft is outside.
fn find_above(
    window: &Window,
    sweep: &Sweep,
    look: &Look,
    size: PictureSize,
) -> Option<(BallFit, usize)> {
    let foot = sweep.foot.moved(0.0, -HIGHER * sweep.length);
    let raised = Sweep { foot, ..sweep.clone() };
    let area = ball_zone((foot.x, foot.y), sweep.length, size)?;
    let found = find_gone(&window.part(area, |level| level), &[], &raised, look)?;
    Some(laid_in(window, area, found))
}

/// In lengths of the shaft.
const HIGHER: f64 = 0.25;

/// A struck ball of a kind, or in a place, that is rare: what is not gone at once is something else.
fn find_gone(
    part: &Window,
    ends: &[ShaftEnd],
    sweep: &Sweep,
    look: &Look,
) -> Option<(BallFit, usize)> {
    let (ball, frame) = find_struck(part, ends, sweep, look)?;
    let present = presences(part, &ball.outline);
    left_at_once(&present, frame + 1 - part.first).then_some((ball, frame))
}

/// A ball found in part of a window, an area inside its own.
fn laid_in(window: &Window, part: Area, (ball, frame): (BallFit, usize)) -> (BallFit, usize) {
    let (dx, dy) = (part.left - window.area.left, part.top - window.area.top);
    let centre = ball.outline.centre.moved(dx as f64, dy as f64);
    (BallFit { outline: BallOutline { centre, ..ball.outline }, ..ball }, frame)
}

/// Whether a ball may have been struck and not seen.
fn may_be_hidden(window: &Window, colours: &Colours, sweep: &Sweep, size: PictureSize) -> bool {
    let Sweep { foot, length, time, .. } = *sweep;
    let place = Place { foot, length, time };
    let zone = colours.tint.area;
    place.is_cut_off(size)
        || place.is_too_bright(window)
        || place.something_left(&colours.tint)
        || place.something_left(&colours.white.part(zone, |level| level))
        || place.something_left(&window.part(zone, |level| level))
        || place.something_left(&window.part(zone, |level| 255.0 - level))
}

/// What the club met, and when.
struct Met {
    kind: SwingKind,
    /// The ball that was struck, or one that lay there and was not.
    ball: Option<BallFit>,
    time: Found<Seconds>,
    /// The last frame before.
    frame: usize,
}

/// The ball that leaves its place, and the last frame in which it lies there.
fn find_struck(
    window: &Window,
    ends: &[ShaftEnd],
    sweep: &Sweep,
    look: &Look,
) -> Option<(BallFit, usize)> {
    let leaves = |ball: BallFit| {
        let present = presences(window, &ball.outline);
        let gone = leaving(window, &present, sweep.time)?;
        let counts = !look.hints.is_speed_guessed || left_in_one_picture(&present, gone);
        counts.then_some((ball, window.first + gone - 1))
    };
    let Some(at) = look.given.and_then(|g| g.ball) else {
        return find_struck_ball(window, sweep, ends).and_then(leaves);
    };
    let at = look.motion.from_first(at);
    // A mark that slipped off the ball still means the ball beside it.
    let beside = || {
        let (left, top) = (window.area.left as f64, window.area.top as f64);
        let near = |ball: &BallFit| {
            ball.outline.centre.moved(left, top).distance(at) < ball.outline.diameter.0
        };
        find_struck_ball(window, sweep, ends).filter(near).and_then(leaves)
    };
    ball_at(window, at).and_then(leaves).or_else(beside)
}

/// A ball that leaves makes a strike of the swing.
fn find_met(
    window: &Window,
    struck: Option<(BallFit, usize)>,
    ends: &[ShaftEnd],
    sweep: &Sweep,
    look: &Look,
    size: PictureSize,
) -> Met {
    let strike = struck.as_ref().map(|(_, frame)| *frame);
    let ball = struck.map(|(ball, _)| ball).or_else(|| find_lying_ball(window, sweep, ends));
    let ball = ball.map(|b| moved(&b, window, look.motion));
    let kind = if strike.is_some() { SwingKind::Strike } else { SwingKind::Practice };
    let (time, frame) = match strike {
        Some(frame) => (strike_instant(frame, ball.as_ref(), look, size), frame),
        None => practice_instant(ends, sweep, look),
    };
    Met { kind, ball, time, frame }
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
    if look.given.is_some() {
        return 0.99;
    }
    let fast = (0.5 + 0.05 * (sweep.speed - 7.0)).clamp(0.5, 0.95);
    let heard = look
        .clicks
        .is_some_and(|clicks| clicks.iter().any(|c| (c.time.0 - time.0 - 0.012).abs() < 0.03));
    let silent = sweep.lines.is_empty() && !heard;
    sure_of(kind, fast, heard, doubtful || silent || stands_back(sweep, look.longest))
}

/// Whether this may be a golfer behind the one whose club is the longest.
fn stands_back(sweep: &Sweep, longest: f64) -> bool {
    sweep.length < SHORTER * longest
}

/// The same from how sure its speed makes it, whether a click is heard at that very instant, and
/// whether something speaks against it.
fn sure_of(kind: SwingKind, fast: f64, heard: bool, doubtful: bool) -> f64 {
    let doubt = 1.0 - fast;
    match kind {
        SwingKind::Strike if doubtful => 0.75,
        SwingKind::Strike if heard => 1.0 - 0.2 * doubt,
        // A ball that leaves its place under a club is hardly anything else.
        SwingKind::Strike => 1.0 - 0.4 * doubt,
        // With a click, perhaps a ball was there and not seen.
        SwingKind::Practice if heard || doubtful => fast.min(0.6),
        SwingKind::Practice => fast,
    }
}

/// When the ball was first touched, between the given frame and the next: by the click, if one
/// fits, else the middle.
fn strike_instant(
    frame: usize,
    ball: Option<&BallFit>,
    look: &Look,
    size: PictureSize,
) -> Found<Seconds> {
    let clock = look.clock;
    let next = (frame + 1).min(clock.timeline.len() - 1);
    let from = clock.playback(clock.shown_since(frame));
    let to = clock.playback(clock.time(next));
    let (distance, doubt) = camera_distance(ball, look.hints, size);
    let travel = distance / SPEED_OF_SOUND;
    let heard = look.clicks.unwrap_or_default().iter().map(|c| c.time.0 - travel);
    let fitting = heard.filter(|t| (from..=to).contains(t)).min_by(|a, b| a.total_cmp(b));
    let uniform = (to - from) / 12.0_f64.sqrt();
    match fitting {
        Some(time) => {
            let sigma = (doubt / SPEED_OF_SOUND).hypot(0.001).min(uniform);
            Found { value: Seconds(time), sigma, confidence: 0.95 }
        }
        None => Found { value: Seconds((from + to) / 2.0), sigma: uniform, confidence: 0.95 },
    }
}

/// The camera's distance from the ball and its standard uncertainty, metres: as given, or from
/// the ball's size through a phone's usual lens, whose focal length is some 0.9 to 1.4 of the
/// picture's longer side (26 to 35 mm equivalent and the crop of video; common practice).
fn camera_distance(ball: Option<&BallFit>, hints: &Hints, size: PictureSize) -> (f64, f64) {
    if let Some(distance) = hints.camera_distance {
        return (distance.0 / 1000.0, 0.05 * distance.0 / 1000.0);
    }
    let focal = 1.15 * size.width.max(size.height) as f64;
    match ball {
        Some(b) => {
            let distance = focal * Millimetres::BALL.0 / 1000.0 / b.outline.diameter.0;
            (distance, 0.15 * distance)
        }
        None => (4.0, 1.0),
    }
}

/// The ball near a person's mark.
fn ball_at(window: &Window, at: ImagePoint) -> Option<BallFit> {
    let (x, y) = (at.x - window.area.left as f64, at.y - window.area.top as f64);
    [20.0, 12.0, 32.0, 50.0, 8.0]
        .into_iter()
        .filter_map(|diameter| fit_outline(&window.before, x, y, diameter))
        .filter(|fit| fit.seen > 0.5 && fit.outline.centre.distance(ImagePoint::new(x, y)) < 6.0)
        .max_by(|a, b| (a.seen - a.scatter).total_cmp(&(b.seen - b.scatter)))
}

/// The ball in the steadied picture.
fn moved(ball: &BallFit, window: &Window, motion: Motion) -> BallFit {
    let centre = ball.outline.centre.moved(window.area.left as f64, window.area.top as f64);
    let sigma = ball.sigma.hypot(motion.sigma_at(centre).0);
    let centre = motion.to_first(centre);
    BallFit { outline: BallOutline { centre, ..ball.outline }, sigma, ..*ball }
}

/// How sure a ball's place is to a pixel.
fn ball_confidence(ball: &BallFit) -> f64 {
    let seen = ((ball.seen - 0.4) / 0.4).clamp(0.0, 1.0);
    let clean = ((0.15 - ball.scatter) / 0.1).clamp(0.0, 1.0);
    (0.5 + 0.48 * seen * clean).min(SUREST_BALL)
}

/// However clear the outline, its place is no surer: in one recording of seven the part of the
/// picture about the ball is itself displaced (see `docs/accuracy.md`).
const SUREST_BALL: f64 = 0.86;

/// Where the lower end of the shaft is when the club stands as at address, in the window.
fn address_point(window: &Window, sweep: &Sweep, ends: &[ShaftEnd]) -> ImagePoint {
    let (dx, dy) = (window.area.left as f64, window.area.top as f64);
    let lean = |e: &ShaftEnd| (sweep.heading * e.line.angle - 0.14).abs();
    let nearest = ends.iter().min_by(|a, b| lean(a).total_cmp(&lean(b)));
    let parabola =
        (ends.len() >= 4).then(|| Parabola::through(ends.iter().map(|e| e.end))).flatten();
    let y = match (&parabola, nearest) {
        (Some(p), Some(_)) => p.at(sweep.foot.x),
        (None, Some(e)) => e.end.y.max(sweep.foot.y),
        _ => sweep.foot.y,
    };
    ImagePoint::new(sweep.foot.x - dx, y - dy)
}

/// The ball that lay before the strike and is gone after it, at the foot of the swing.
///
/// It is looked for in what has gone and in the picture before: a shadow's edge or the mark behind
/// a ball can leave half a disc of what has gone.
fn find_struck_ball(window: &Window, sweep: &Sweep, ends: &[ShaftEnd]) -> Option<BallFit> {
    let gone = Plane {
        data: window.before.data.iter().zip(&window.after.data).map(|(b, a)| b - a).collect(),
        ..window.before
    };
    let at = address_point(window, sweep, ends);
    let mut best: Option<(f64, BallFit)> = None;
    let (bright, light) = above_ground(window)?;
    let lying = round_spots(&bright, light * LEAST_BRIGHT);
    for spot in round_spots(&gone, light * LEAST_GONE).into_iter().chain(lying) {
        let (across, down) = ((spot.x - at.x) / sweep.length, (spot.y - at.y) / sweep.length);
        if across.abs() > 0.45 || !(-0.12..0.25).contains(&down) {
            continue;
        }
        let fit = fit_outline(&window.before, spot.x, spot.y, spot.diameter)
            .filter(|fit| fit.is_ball(light) && has_gone(&gone, fit, light));
        let Some(fit) = fit else { continue };
        let distance = (across / 0.2).powi(2) + ((down - 0.04) / 0.08).powi(2);
        let score = spot.peak * fit.seen * (-0.5 * distance).exp().max(0.02);
        if best.as_ref().is_none_or(|b| score > b.0) {
            best = Some((score, fit));
        }
    }
    best.map(|b| b.1)
}

/// Grey levels by which a ball stands out of what has gone, and out of the ground, by day.
const LEAST_GONE: f32 = 30.0;
const LEAST_BRIGHT: f32 = 40.0;
/// Ground darker than this leaves a ball, whose light goes with the ground's, fewer grey levels.
const DAY_GROUND: f32 = 75.0;
const LEAST_LIGHT: f32 = 0.35;

/// The picture before the strike over the ground's usual level, and how bright the scene is: 1 by
/// day, less in dusk and shade.
fn above_ground(window: &Window) -> Option<(Plane, f32)> {
    let mut values: Vec<f64> =
        window.before.data.iter().step_by(11).map(|&v| f64::from(v)).collect();
    let ground = median(&mut values)? as f32;
    let data = window.before.data.iter().map(|v| v - ground).collect();
    Some((Plane { data, ..window.before }, (ground / DAY_GROUND).clamp(LEAST_LIGHT, 1.0)))
}

/// Whether the whole disc has darkened: the median of what has gone within it.
fn has_gone(gone: &Plane, fit: &BallFit, light: f32) -> bool {
    let BallOutline { centre, diameter, .. } = fit.outline;
    let reach = 0.4 * diameter.0;
    let mut levels = Vec::new();
    for y in 0..gone.height {
        for x in 0..gone.width {
            if (x as f64 - centre.x).hypot(y as f64 - centre.y) <= reach {
                levels.push(f64::from(gone.at(x, y)));
            }
        }
    }
    median(&mut levels).is_some_and(|level| level >= f64::from(light * LEAST_GONE) / 2.0)
}

/// A ball lying at the foot of the swing before and after.
fn find_lying_ball(window: &Window, sweep: &Sweep, ends: &[ShaftEnd]) -> Option<BallFit> {
    let at = address_point(window, sweep, ends);
    let (bright, light) = above_ground(window)?;
    round_spots(&bright, light * LEAST_BRIGHT)
        .into_iter()
        .filter(|spot| {
            let (across, down) = ((spot.x - at.x) / sweep.length, (spot.y - at.y) / sweep.length);
            across.abs() < 0.3 && (-0.03..0.14).contains(&down)
        })
        .filter_map(|spot| fit_outline(&window.before, spot.x, spot.y, spot.diameter))
        .filter(|fit| fit.seen > 0.7 && fit.scatter < 0.08)
        .filter(|fit| {
            let c = fit.outline.centre;
            fit_outline(&window.after, c.x, c.y, fit.outline.diameter.0)
                .is_some_and(|again| again.is_ball(light) && again.outline.centre.distance(c) < 2.0)
        })
        .min_by(|a, b| {
            let d = |f: &BallFit| (f.outline.centre.x - at.x).abs();
            d(a).total_cmp(&d(b))
        })
}

/// When the club passes the origin, or its lowest place, in a practice swing; and the last
/// frame before that.
fn practice_instant(ends: &[ShaftEnd], sweep: &Sweep, look: &Look) -> (Found<Seconds>, usize) {
    let clock = look.clock;
    let origin = look.given.and_then(|g| g.origin).or(look.hints.origin);
    let origin = origin.map(|o| look.motion.from_first(o));
    let passed = origin.and_then(|o| {
        let behind = |e: &ShaftEnd| sweep.heading * (e.end.x - o.x);
        ends.windows(2).find_map(|w| {
            let (a, b) = (behind(&w[0]), behind(&w[1]));
            (a <= 0.0 && b > 0.0).then(|| w[0].time + (w[1].time - w[0].time) * a / (a - b))
        })
    });
    let time = passed.unwrap_or(sweep.time);
    let value = Seconds(clock.playback(time));
    let sigma = 0.5 * clock.playback(clock.pace.spacing_at(time));
    (Found { value, sigma, confidence: 0.9 }, clock.frame_at(time))
}

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
    use super::super::colours::{cut_tint, ground_tint};
    use super::super::plane::HeldPlane;
    use super::*;
    use crate::domain::ColourFrame;

    /// A shadow over the upper half of the ground; `ball`: before it at the shadow's edge, its
    /// lower half darker.
    fn ground(ball: bool) -> Plane {
        let mut plane = Plane::filled(200, 160, 0.0);
        for y in 0..plane.height {
            for x in 0..plane.width {
                let inside = ball && (x as f64 - 100.0).hypot(y as f64 - 80.0) < 10.0;
                plane.data[y * plane.width + x] = match (inside, y < 80) {
                    (true, true) => 200.0,
                    (true, false) => 150.0,
                    (false, true) => 60.0,
                    (false, false) => 100.0,
                };
            }
        }
        plane.blurred(0.6)
    }

    fn window(before: Plane, after: Plane) -> Window {
        let area = Area { left: 0, top: 0, width: 200, height: 160 };
        Window {
            area,
            laid_on: None,
            first: 0,
            frames: Vec::new(),
            times: Vec::new(),
            before,
            after,
        }
    }

    #[test]
    fn a_golfer_farther_back_is_put_before_the_person() {
        let near = sweep();
        let [back, wedge] = [0.62, 0.8].map(|part| Sweep { length: part * near.length, ..sweep() });
        let doubtful = [&near, &back, &wedge].map(|club| stands_back(club, near.length));
        assert_eq!(doubtful, [false, true, false]);
        for kind in [SwingKind::Strike, SwingKind::Practice] {
            assert!(
                sure_of(kind, 0.95, false, true) < 0.8 && sure_of(kind, 0.95, false, false) > 0.9
            );
        }
    }

    fn sweep() -> Sweep {
        Sweep {
            time: 1.0,
            heading: 1.0,
            speed: 25.0,
            turned: 2.0,
            length: 150.0,
            foot: ImagePoint::new(95.0, 76.0),
            lines: Vec::new(),
        }
    }

    #[test]
    fn a_ball_before_a_shadows_edge_is_found() {
        let seen = window(ground(true), ground(false));
        let ball = find_struck_ball(&seen, &sweep(), &[]).expect("a ball");
        let off = ball.outline.centre.distance(ImagePoint::new(100.0, 80.0));
        assert!(off < 1.0, "{:?}", ball.outline);
    }

    #[test]
    fn a_ball_that_stays_was_not_struck() {
        let seen = window(ground(true), ground(true));
        assert!(find_struck_ball(&seen, &sweep(), &[]).is_none());
        assert!(find_lying_ball(&seen, &sweep(), &[]).is_some());
    }

    #[test]
    fn a_ball_that_has_gone_does_not_lie_there() {
        let seen = window(ground(true), ground(false));
        assert!(find_lying_ball(&seen, &sweep(), &[]).is_none());
    }

    /// Grass of 200 by 160 pixels; `ball`: an orange one on it, no brighter than the grass.
    fn grass(ball: bool) -> ColourFrame {
        let pixel = |x: usize, y: usize| {
            let inside = ball && (x as f64 - 100.0).hypot(y as f64 - 80.0) < 10.0;
            let patchy = (x * 37 % 9 + y * 53 % 7) as u8;
            let [r, g, b] = if inside { [176, 74, 20] } else { [83, 112, 54] };
            [r + patchy, g + patchy, b + patchy, 255]
        };
        let data = (0..200 * 160).flat_map(|i| pixel(i % 200, i / 200)).collect();
        ColourFrame { width: 200, height: 160, data }
    }

    /// Nine frames at 60 a second; the ball is in the first four, and fades out if it is `slow`.
    fn film(with: Plane, without: Plane, slow: bool) -> Window {
        let frame = |i: usize| {
            let left = if slow { 1.0 - i as f32 / 8.0 } else { f32::from(i < 4) };
            let mix = with.data.iter().zip(&without.data).map(|(w, o)| o + left * (w - o));
            HeldPlane::of(&Plane { data: mix.collect(), ..with })
        };
        let frames = (0..9).map(frame).collect();
        let times = (0..9).map(|i| 1.0 + (f64::from(i) - 3.5) / 60.0).collect();
        Window { frames, times, ..window(with, without) }
    }

    #[test]
    fn an_orange_ball_is_found_by_its_colour() {
        let area = Area { left: 0, top: 0, width: 200, height: 160 };
        let ground = ground_tint(&grass(true), area);
        let [with, without] =
            [true, false].map(|ball| cut_tint(&grass(ball), area, ground).plane());
        let luma = |ball: bool| {
            let own = grass(ball);
            let grey = |p: &[u8]| 0.213 * p[0] as f32 + 0.715 * p[1] as f32 + 0.072 * p[2] as f32;
            Plane { width: 200, height: 160, data: own.data.chunks_exact(4).map(grey).collect() }
        };
        let seen = film(luma(true), luma(false), false);
        assert!(find_struck_ball(&seen, &sweep(), &[]).is_none());
        let tint = film(with, without, false);
        let ball = find_struck_ball(&tint, &sweep(), &[]).expect("a ball");
        let off = ball.outline.centre.distance(ImagePoint::new(100.0, 80.0));
        assert!(off < 1.0, "{:?}", ball.outline);
        let present = presences(&tint, &ball.outline);
        assert_eq!(leaving(&tint, &present, sweep().time), Some(4));
    }

    #[test]
    fn what_is_gone_at_once_leaves_a_practice_swing_in_doubt() {
        // Too faint to be taken for a ball.
        let faint = |ball: bool| {
            let mut plane = ground(false);
            let inside = |i: usize| (i % 200) as f64 - 100.0;
            for (i, v) in plane.data.iter_mut().enumerate() {
                let near = inside(i).hypot((i / 200) as f64 - 95.0) < 5.0;
                *v += if ball && near { 32.0 } else { 0.0 };
            }
            plane
        };
        let place = Place { foot: sweep().foot, length: 150.0, time: 1.0 };
        let seen = |slow: bool| film(faint(true), faint(false), slow);
        assert!(place.something_left(&seen(false)));
        assert!(!place.something_left(&seen(true)));
        assert!(!place.something_left(&film(faint(false), faint(false), false)));
    }

    #[test]
    fn a_ball_could_hide_on_glaring_ground_and_beyond_the_edge() {
        let place = Place { foot: sweep().foot, length: 150.0, time: 1.0 };
        let glaring = Plane::filled(200, 160, 225.0);
        assert!(place.is_too_bright(&window(glaring.clone(), glaring)));
        assert!(!place.is_too_bright(&window(ground(false), ground(false))));
        let size = |height| PictureSize { width: 200, height };
        assert!(!place.is_cut_off(size(160)) && place.is_cut_off(size(80)));
    }
}
