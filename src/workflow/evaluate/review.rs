//! Which of a swing's numbers a person should look at.

use crate::domain::{
    Found, FoundSwing, GroundMark, ImagePoint, LowPointMethod, Mark, Reviewable, SwingKind,
    SwingResult, Warning,
};
use crate::geometry::MiddleLine;

use super::SwingInput;

/// What decides about that.
#[derive(Clone, Copy)]
pub(super) struct ReviewRule {
    /// Proposals less sure than this.
    pub(super) below: f64,
    /// There is a scale.
    pub(super) measurable: bool,
    /// There are frames enough for an arc.
    pub(super) arc_expected: bool,
}

/// What a person should look at: proposals below the threshold, and what could not be told.
pub(super) fn needs_review(
    input: &SwingInput,
    result: &SwingResult,
    rule: ReviewRule,
) -> Vec<Reviewable> {
    let ReviewRule { measurable, arc_expected, .. } = rule;
    let (given, found) = (&input.given, input.found.as_ref());
    let struck = result.kind == SwingKind::Strike;
    let ball = found.and_then(FoundSwing::placed_ball).map(|ball| ball.confidence);
    let ball_expected = struck || ball.is_some();
    let [start, end] = ends_in_doubt(input, result, rule);
    let answered = given.has_no_mark();
    let no_low_point = result.low_point.is_none() && (arc_expected || !answered);
    let no_order = !answered && (result.contact_order.is_none() || start);
    let arc_doubtful = is_reversed(result) || is_odd_arc(result);
    // Too few frames a second for an arc is no doubt that looking could settle: a warning says it.
    let line_doubtful = is_line_found(input) && is_mark_doubtful(input, rule);
    let zero_doubtful = is_zero_doubtful(input, rule);
    let attack = match result.attack_angle {
        // It is that where the ball lies.
        Some(_) => arc_doubtful || line_doubtful || zero_doubtful,
        None => arc_expected,
    };
    let all = [
        (Reviewable::Swing, !is_kind_given(input) && rule.doubts(found.map(|f| f.kind.confidence))),
        (
            Reviewable::Strike,
            given.strike_time.is_none() && rule.doubts(found.map(|f| f.strike_time.confidence)),
        ),
        (Reviewable::Ball, given.ball.is_none() && ball_expected && rule.doubts(ball)),
        (Reviewable::DivotStart, start),
        (Reviewable::DivotEnd, end),
        (
            Reviewable::LowPoint,
            measurable && (no_low_point || arc_doubtful || rests_on_doubt(input, result, rule)),
        ),
        (Reviewable::AttackAngle, measurable && attack),
        (Reviewable::ContactOrder, struck && measurable && (no_order || arc_doubtful)),
    ];
    let miscounted: Vec<_> = result.told_offsets().filter(|_| zero_doubtful).collect();
    let is_asked = |(what, doubtful): &(Reviewable, bool)| *doubtful || miscounted.contains(what);
    all.into_iter().filter(is_asked).map(|(what, _)| what).collect()
}

/// Balls less sure than this may be another than that of the swing: the search calls such a one 30 %
/// sure at most, and others half sure at least unless the camera moved.
const ANOTHER_BALL: f64 = 0.4;

/// Whether the numbers may count from the wrong place: from a ball that may be another; those of a
/// swing without a ball that may be a strike whose ball was not found count from what stands in for
/// one.
fn is_zero_doubtful(input: &SwingInput, rule: ReviewRule) -> bool {
    let ball = input.found.as_ref().and_then(|found| found.ball).map(|ball| ball.confidence);
    let is_another = ball.is_some_and(|sure| sure < ANOTHER_BALL) && rule.doubts(ball);
    if input.given.ball.is_none() && is_another {
        return true;
    }
    let kind = input.found.as_ref().map(|found| found.kind.confidence);
    !input.has_own_zero() && !is_kind_given(input) && rule.doubts(kind)
}

/// Whether a person said what swing it is; of one who said when it struck, what was found agrees.
fn is_kind_given(input: &SwingInput) -> bool {
    let strikes = input.found.as_ref().is_none_or(|f| f.kind.value == SwingKind::Strike);
    input.kind.is_some() || input.given.strike_time.is_some() && strikes
}

/// Whether the low point is told, alone or in part, by a mark that may not be one, or by an arc
/// whose way such a mark tells.
fn rests_on_doubt(input: &SwingInput, result: &SwingResult, rule: ReviewRule) -> bool {
    let by_mark =
        matches!(result.low_point, Some((_, LowPointMethod::Mark | LowPointMethod::ArcAndMark)));
    (by_mark || is_line_found(input)) && is_mark_doubtful(input, rule)
}

/// Whether the path's way is told by a mark's middle line that nobody placed.
fn is_line_found(input: &SwingInput) -> bool {
    matches!(input.middle_line(), Some(MiddleLine::Fitted(_)))
}

/// Whether the mark may not be one, and nobody said that it is.
fn is_mark_doubtful(input: &SwingInput, rule: ReviewRule) -> bool {
    let given = &input.given;
    let is_said =
        given.ground.is_some() || given.divot_start.is_some() || given.divot_end.is_some();
    !is_said && rule.doubts(input.found_mark().map(|mark| mark.confidence))
}

/// Whether the swing or its mark runs away from the target: doubtful whoever placed it.
fn is_reversed(result: &SwingResult) -> bool {
    let is = |w: &Warning| matches!(w, Warning::TargetOtherSide { .. } | Warning::MarkReversed);
    result.warnings.iter().any(is)
}

/// Whether arc and ground contradict each other, or the arc is no swing's, whoever placed what they
/// are measured from.
fn is_odd_arc(result: &SwingResult) -> bool {
    let is = |w: &Warning| matches!(w, Warning::ArcOffGround { .. } | Warning::ArcRadiusOdd { .. });
    result.warnings.iter().any(is)
}

/// Whether the mark's start and end are doubtful. Whoever said that there is no mark, or that it
/// cannot be seen, is not asked for its ends, nor for what can be read from them alone.
fn ends_in_doubt(input: &SwingInput, result: &SwingResult, rule: ReviewRule) -> [bool; 2] {
    let (given, found) = (&input.given, input.found.as_ref());
    let untouched = result.ground_mark == Some(GroundMark::None);
    // Where nobody knows where the club went, nobody knows that the ground there is untouched.
    let unknown = found.filter(|f| f.ball.is_none() && !is_kind_given(input));
    let swing = unknown.map_or(1.0, |f| f.kind.confidence);
    let mark = input.found_mark().map(|mark| mark.confidence.min(swing));
    let reversed = is_reversed(result) && !untouched;
    let in_doubt = |given: Option<Mark>, found: Option<Found<ImagePoint>>| {
        let confidence = if untouched { mark } else { found.map(|end| end.confidence) };
        reversed || given.is_none() && !input.given.has_no_mark() && rule.doubts(confidence)
    };
    [
        in_doubt(given.divot_start, found.and_then(|f| f.divot_start)),
        in_doubt(given.divot_end, found.and_then(|f| f.divot_end)),
    ]
}

impl ReviewRule {
    fn doubts(self, confidence: Option<f64>) -> bool {
        confidence.is_none_or(|c| c < self.below)
    }
}
