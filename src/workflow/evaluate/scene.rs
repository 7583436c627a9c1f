//! One swing measured on the ground that it shares with all others of its recording.

use crate::domain::{
    ClubHeadSighting, Direction, FoundSwing, FrameIndex, GroundMark, ImagePoint, Interval,
    LowPointMethod, Mark, Measured, Pixels, Setup, Surface, SwingKind, SwingNumber, SwingResult,
    Timeline, Warning,
};
use crate::geometry::{
    self, ArcFit, ArcRequest, Contacts, GeometryError, GroundView, ImageMark, OffsetRequest, Origin,
};

use super::input::{Placed, Zero};
use super::review::{ReviewRule, needs_review};
use super::{SURE_ENOUGH, SwingGround, SwingInput};

/// With frames farther apart the club head is seen fewer than four times within the stretch that
/// an arc is fitted to (0.84 rad at some 23 rad/s; common practice, no source for the speed).
const ARC_SPACING_S: f64 = 0.0101;

/// How far a tee's top may stand beside its foot along the target line, mm, standard: three
/// degrees of lean over 35 mm of height (common practice, no source).
const TEE_LEAN: f64 = 2.0;

/// How well a person places the middle of a blurred leading edge, along and across its way,
/// standard: four and three times a click on something that stands still (assumed, no source).
const CLUB_HEAD_CLICK: [Pixels; 2] = [Pixels(2.0), Pixels(1.5)];

/// An arc whose low point has a wider ± (95 %) than this, mm, says nothing of it: one and a half times
/// the length of a divot (reasoned, no source).
const WIDEST: f64 = 150.0;

/// The ground under the low point may lie so much higher or lower than under the ball, mm (common
/// practice, no source).
const UNEVEN: f64 = 5.0;

/// Whether an arc tells its low point well enough to be told at all.
fn says_where(low_point: &Measured) -> bool {
    geometry::expand(low_point).half_width() <= WIDEST
}

/// Whether an arc passes above ground that it marked, or below ground that it left untouched, by
/// more than its ± and what is uneven explain.
fn off_ground(arc: &ArcFit, mark: Option<GroundMark>) -> Option<Warning> {
    let marked = mark? != GroundMark::None;
    let Interval { low, high } = geometry::expand(&arc.low_point_height);
    let off = if marked { low > UNEVEN } else { high < -UNEVEN };
    off.then_some(Warning::ArcOffGround { height: arc.low_point_height.value, marked })
}

/// Whether the interval of one of a swing's numbers could not be checked by draws.
fn holds_undrawn(result: &SwingResult) -> bool {
    let mut known = SwingNumber::ALL.into_iter().filter_map(|number| result.number(number));
    known.any(|measured| measured.warnings.contains(&Warning::IntervalNotDrawn))
}

/// Whether a person's mark of the ball lies beside the ball that is surely seen there: farther than
/// their doubts explain, nearer than another ball could lie.
fn ball_apart(input: &SwingInput) -> Option<Warning> {
    let (given, found) = (input.given.ball?, input.found_ball()?);
    let pixels = given.point.distance(found.value.centre);
    let doubt = found.sigma.hypot(geometry::CLICK_SIGMA).hypot(given.register_sigma().0);
    // One false alarm in a thousand of each of the two directions.
    let beside = 3.3 * std::f64::consts::SQRT_2 * doubt..found.value.diameter.0;
    (found.confidence >= SURE_ENOUGH && beside.contains(&pixels))
        .then_some(Warning::BallMarkApart { pixels })
}

/// What all swings of a recording share.
pub(super) struct Scene<'a> {
    pub(super) timeline: &'a Timeline,
    pub(super) setup: &'a Setup,
    /// Where it lies, as said or as the swings went.
    pub(super) target: Option<Direction>,
    /// Something has a known size.
    pub(super) has_scale: bool,
    /// Absent where nothing has, or the target's side is unknown.
    pub(super) view: Option<&'a GroundView>,
}

impl Scene<'_> {
    pub(super) fn measure(&self, input: &SwingInput) -> (SwingResult, Option<SwingGround>) {
        let kind = input.kind();
        let mut warnings = input.found.as_ref().map_or(Vec::new(), |f| f.warnings.clone());
        let zero = self.zero(input, kind);
        let given = |mark: Option<Mark>| mark.map(Placed::given);
        if kind == SwingKind::Practice && zero.is_none() {
            warnings.push(Warning::NoOrigin);
        }
        let ground_mark = self.ground_mark(input);
        let offset =
            |mark: Option<Placed>, struck: bool| self.offset(input, struck, mark?, zero.as_ref()?);
        let struck = kind == SwingKind::Strike;
        let start = offset(input.start(), struck);
        let end = offset(input.end(), struck);
        let [lead_heel, trail_heel] = input.given.heels.map(|heel| offset(given(heel), false));
        let reach_line = offset(given(self.setup.reach_line), false);
        let arc = self.arc(input, kind, zero.map(|zero| zero.absolute()).as_ref(), &mut warnings);
        let off_ground = arc.as_ref().and_then(|arc| off_ground(arc, ground_mark));
        warnings.extend(self.other_side(input));
        warnings.extend(ball_apart(input));
        warnings.extend(off_ground.clone());
        warnings.extend(arc.as_ref().and_then(|arc| self.odd_radius(input, arc)));
        let low_point = self.low_point(arc.as_ref(), start.as_ref(), end.as_ref(), &mut warnings);
        let contact_order = geometry::contact_order(&Contacts {
            kind,
            surface: self.setup.surface.unwrap_or_default(),
            ground_mark,
            divot_start: start.as_ref(),
            // How high it passes the ball is not believed where it is off the ground below.
            arc: arc.as_ref().filter(|_| off_ground.is_none()),
        });
        let untouched = ground_mark == Some(GroundMark::None);
        let predicted = arc.as_ref().and_then(|arc| arc.first_contact.clone());
        let mut result = SwingResult {
            kind,
            strike_time: input.strike_time(),
            strike_frame: self.strike_frame(input),
            ball: input.ball_point(),
            divot_start: input.start().map(|placed| placed.mark.point),
            divot_end: input.end().map(|placed| placed.mark.point),
            ground_mark,
            divot_start_offset: start,
            divot_end_offset: end,
            low_point,
            attack_angle: arc.as_ref().map(|arc| arc.attack_angle.clone()),
            height_at_ball: arc.as_ref().map(|arc| arc.height_at_ball.clone()),
            arc_radius: arc.as_ref().map(|arc| arc.radius.clone()),
            arc_plane: arc.as_ref().map(|arc| arc.plane.clone()),
            predicted_contact: predicted.filter(|_| !untouched),
            ball_position: lead_heel.map(turned),
            from_trail_heel: trail_heel.map(turned),
            reach_line,
            contact_order,
            needs_review: Vec::new(),
            warnings,
        };
        if holds_undrawn(&result) && !result.warnings.contains(&Warning::IntervalNotDrawn) {
            result.warnings.push(Warning::IntervalNotDrawn);
        }
        result.needs_review = needs_review(input, &result, self.review_rule());
        (result, self.ground(input, zero, arc))
    }

    fn odd_radius(&self, input: &SwingInput, arc: &ArcFit) -> Option<Warning> {
        let radius = arc.radius.value;
        geometry::is_odd_radius(radius, input.club(self.setup))
            .then_some(Warning::ArcRadiusOdd { radius })
    }

    /// The ground for drawing. What stands in for the ball serves a strike too, whose ball
    /// nobody has marked yet.
    fn ground(
        &self,
        input: &SwingInput,
        zero: Option<Zero>,
        arc: Option<ArcFit>,
    ) -> Option<SwingGround> {
        let stand_in = || input.stand_in(self.setup).map(Zero::stand_in);
        let origin = zero.or_else(stand_in)?.relative();
        let view = self.view?.with_zero(origin.mark().point, origin.height().0)?;
        Some(SwingGround { view, path: arc.map_or(Vec::new(), |arc| arc.path) })
    }

    /// Whether the bottom of a swing is seen in enough frames at all.
    fn review_rule(&self) -> ReviewRule {
        ReviewRule {
            below: self.setup.review_below.unwrap_or(SURE_ENOUGH),
            measurable: self.has_scale,
            arc_expected: self.is_fast_enough_for_arcs(),
        }
    }

    /// Whether the club head went away from where the target is said to lie.
    fn other_side(&self, input: &SwingInput) -> Option<Warning> {
        let went = match input.found.as_ref()?.heading? {
            right if right > 0.0 => Direction::Right,
            _ => Direction::Left,
        };
        (went != self.target?).then_some(Warning::TargetOtherSide { went })
    }

    fn is_fast_enough_for_arcs(&self) -> bool {
        self.timeline.median_spacing().0 <= ARC_SPACING_S * self.timeline.slow_factor
    }

    fn strike_frame(&self, input: &SwingInput) -> Option<FrameIndex> {
        match (input.given.strike_time, &input.found) {
            (None, Some(found)) => Some(found.strike_frame),
            (Some(time), _) if !self.timeline.is_empty() => Some(self.timeline.frame_at(time)),
            _ => None,
        }
    }

    fn zero(&self, input: &SwingInput, kind: SwingKind) -> Option<Zero> {
        if let Some(tee) = input.given.tee {
            let placed = Placed { mark: self.tee_foot(tee.point), ..Placed::given(tee) };
            return Some(Zero { placed, origin: |mark, _| Origin::Tee(mark), on_tee: true });
        }
        let found = input.found.as_ref().and_then(FoundSwing::placed_ball);
        let found = found.map(|ball| Placed::found(ball.value, ball.sigma));
        if let Some(placed) = input.given.ball.map(Placed::given).or(found) {
            let on_tee = self.setup.is_on_tee(input.club(self.setup));
            let origin = |centre, on_tee| Origin::Ball { centre, on_tee };
            return Some(Zero { placed, origin, on_tee });
        }
        let stand_in = input.stand_in(self.setup).filter(|_| kind == SwingKind::Practice)?;
        Some(Zero::stand_in(stand_in))
    }

    /// The click on a tee's foot; how far the tee may lean counts as doubt of where it is.
    fn tee_foot(&self, point: ImagePoint) -> ImageMark {
        let view = self.view;
        let ground = |p: ImagePoint| view?.ground_from_image(p);
        let step = ground(point).zip(ground(point.moved(1.0, 0.0)));
        let lean = step.map_or(0.0, |(a, b)| TEE_LEAN / (b.x - a.x).hypot(b.y - a.y).max(0.01));
        let click = ImageMark::click(point);
        let along = Pixels(click.sigma[0].0.hypot(lean));
        ImageMark { sigma: [along, click.sigma[1]], ..click }
    }

    fn ground_mark(&self, input: &SwingInput) -> Option<GroundMark> {
        if let Some(answer) = input.given.ground {
            return answer.mark();
        }
        let found = input.found_mark().map(|mark| mark.value);
        let given = input.given.divot_start.is_some() || input.given.divot_end.is_some();
        let told = match self.setup.surface.unwrap_or_default() {
            Surface::Turf => GroundMark::Divot,
            Surface::Mat => GroundMark::Scuff,
        };
        match found {
            None | Some(GroundMark::None) if given => Some(told),
            _ => found,
        }
    }

    fn offset(
        &self,
        input: &SwingInput,
        struck: bool,
        placed: Placed,
        zero: &Zero,
    ) -> Option<Measured> {
        let request = OffsetRequest {
            view: self.view?,
            mark: &placed.mark,
            origin: &zero.relative(),
            struck,
            steadying: input.steadying(&placed, &zero.placed),
        };
        geometry::measure_offset(&request).ok()
    }

    fn arc(
        &self,
        input: &SwingInput,
        kind: SwingKind,
        origin: Option<&Origin>,
        warnings: &mut Vec<Warning>,
    ) -> Option<ArcFit> {
        let (view, origin) = (self.view?, origin?);
        if input.found.is_none() && input.given.club_head.is_empty() {
            return None;
        }
        let sightings = self.sightings(input);
        let request = ArcRequest {
            view,
            origin,
            struck: kind == SwingKind::Strike,
            sightings: &sightings,
            club: input.club(self.setup),
            middle_line: input.middle_line(),
        };
        match geometry::fit_arc(&request) {
            Ok(arc) if says_where(&arc.low_point) => Some(arc),
            Ok(_) | Err(GeometryError::NearlyStraight { .. }) => {
                warnings.push(Warning::NearlyStraight);
                None
            }
            Err(GeometryError::TooFewSightings { found }) => {
                warnings.push(Warning::TooFewClubFrames { frames: found });
                None
            }
            Err(other) => {
                warnings.push(Warning::Note { note: other.to_string() });
                None
            }
        }
    }

    /// The club head frame by frame: as a person marked it, else as it was found.
    fn sightings(&self, input: &SwingInput) -> Vec<ClubHeadSighting> {
        let given = &input.given.club_head;
        let found = input.found.iter().flat_map(|found| &found.club_head);
        let kept = found.filter(|seen| !given.contains_key(&seen.frame)).copied();
        // A file that was exchanged for a shorter one has fewer frames than were marked.
        let shown = |frame: &FrameIndex| frame.0 < self.timeline.len();
        let within = given.iter().filter(|(frame, _)| shown(frame));
        let marked = within.map(|(frame, mark)| ClubHeadSighting {
            frame: *frame,
            time: self.timeline.time_of(*frame),
            point: mark.point,
            sigma: CLUB_HEAD_CLICK.map(|own| Pixels(own.0.hypot(mark.register_sigma().0))),
        });
        let mut all: Vec<_> = kept.chain(marked).collect();
        all.sort_by_key(|seen| seen.frame);
        all
    }

    fn low_point(
        &self,
        arc: Option<&ArcFit>,
        start: Option<&Measured>,
        end: Option<&Measured>,
        warnings: &mut Vec<Warning>,
    ) -> Option<(Measured, LowPointMethod)> {
        let ends = start.zip(end).filter(|(start, end)| {
            let reversed = start.value > end.value;
            if reversed {
                warnings.push(Warning::MarkReversed);
            }
            !reversed
        });
        let from_mark = ends.map(|(start, end)| geometry::low_point_from_mark(start, end));
        let combined = geometry::combine_low_points(arc.map(|a| &a.low_point), from_mark.as_ref());
        if let Some((measured, _)) = &combined {
            warnings.extend(measured.warnings.iter().cloned());
        }
        combined
    }
}

/// The same distance seen from its other end.
fn turned(mut offset: Measured) -> Measured {
    offset.value = -offset.value;
    offset.budget.iter_mut().for_each(|part| part.standard = -part.standard);
    offset.monte_carlo = offset.monte_carlo.map(|i| Interval { low: -i.high, high: -i.low });
    offset
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Contribution, Source};

    #[test]
    fn a_low_point_that_may_lie_anywhere_about_the_ball_is_not_told() {
        let low = |standard| Measured::new(20.0, vec![Contribution::new(Source::ArcFit, standard)]);
        assert!(says_where(&low(60.0)) && !says_where(&low(90.0)));
        // As wide to one side alone, by draws.
        let mut lopsided = low(60.0);
        lopsided.monte_carlo = Some(Interval { low: -60.0, high: 330.0 });
        assert!(!says_where(&lopsided));
    }

    #[test]
    fn a_number_that_could_not_be_drawn_is_noticed_whichever_it_is() {
        let mut start = Measured::new(10.0, Vec::new());
        let with = |start: &Measured| SwingResult {
            divot_start_offset: Some(start.clone()),
            ..SwingResult::without_numbers(SwingKind::Strike)
        };
        assert!(!holds_undrawn(&with(&start)));
        start.warnings.push(Warning::IntervalNotDrawn);
        assert!(holds_undrawn(&with(&start)));
    }
}
