//! One measured scene beside its truth: one line of figures for each swing.

use scuffline::demo::{SwingTruth, Truth};
use scuffline::domain::{ContactOrder, GroundMark, Measured, Reviewable, SwingKind, SwingResult};
use scuffline::workflow::state;
use serde::{Deserialize, Serialize};

/// What became of one swing of a scene. Lengths in mm; errors are measured minus true.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Outcome {
    pub condition: String,
    pub seed: u32,
    pub swing: usize,
    /// True for a swing that is there; false for an invented one.
    pub real: bool,
    pub found: bool,
    pub kind_right: bool,
    pub frame_error: Option<i64>,
    pub ball_error_px: Option<f64>,
    pub ball_flagged: bool,
    pub ball_invented: bool,
    pub mark_kind: String,
    pub mark_found: String,
    pub start: Option<Reading>,
    pub end: Option<Reading>,
    pub low: Option<Reading>,
    pub attack: Option<Reading>,
    pub order_right: Option<bool>,
    pub order_flagged: bool,
    /// A yes or no about ground contact that is wrong and not flagged.
    pub contact_blunder: bool,
    pub seconds: f64,
    pub length_s: f64,
    /// The frame rate, since arcs are judged from 120 on.
    pub rate: f64,
}

/// One number beside its truth.
#[derive(Clone, Copy, Debug, Default, Serialize, Deserialize)]
pub struct Reading {
    pub truth: f64,
    /// `None`: could not tell.
    pub error: Option<f64>,
    pub expanded: Option<f64>,
    pub covered: Option<bool>,
    pub flagged: bool,
}

impl Reading {
    /// Wrong beyond three times its own ±, and nobody told to look.
    pub fn is_blunder(&self) -> bool {
        let far = self.error.zip(self.expanded).is_some_and(|(e, u)| e.abs() > 3.0 * u);
        far && !self.flagged
    }
}

/// Judges the swings found in a scene.
pub fn judge(truth: &Truth, results: &[SwingResult], blank: &Outcome) -> Vec<Outcome> {
    const SAME_SWING: f64 = 0.35;
    let mut left: Vec<&SwingResult> = results.iter().collect();
    let mut out = Vec::new();
    for (index, told) in truth.swings.iter().enumerate() {
        let gap =
            |r: &SwingResult| r.strike_time.map_or(f64::MAX, |t| (t.0 - told.strike_time).abs());
        let nearest = left
            .iter()
            .enumerate()
            .min_by(|a, b| gap(a.1).total_cmp(&gap(b.1)))
            .filter(|(_, r)| gap(r) < SAME_SWING)
            .map(|(i, _)| i);
        let blank = Outcome { swing: index, real: true, ..blank.clone() };
        let contact = told.contact.as_ref();
        out.push(match nearest {
            None => Outcome { mark_kind: kind_word(contact.is_some()), ..blank },
            Some(i) => outcome(told, left.remove(i), blank),
        });
    }
    out.extend(left.iter().map(|_| Outcome { real: false, found: true, ..blank.clone() }));
    out
}

fn kind_word(mark: bool) -> String {
    if mark { "mark" } else { "none" }.to_owned()
}

fn outcome(told: &SwingTruth, result: &SwingResult, blank: Outcome) -> Outcome {
    let flagged = |what| result.needs_review.contains(&what);
    let seen = told.contact.as_ref().and_then(|c| c.seen);
    let read = |truth: Option<f64>, measured: Option<&Measured>, what| {
        truth.map(|truth| reading(truth, measured, flagged(what)))
    };
    let low = result.low_point.as_ref().map(|(m, _)| m);
    let start = read(
        seen.map(|s| 1000.0 * s[0]),
        result.divot_start_offset.as_ref(),
        Reviewable::DivotStart,
    );
    let hidden = told.contact.as_ref().is_some_and(|c| c.start_hidden);
    let truth_order = order(told);
    Outcome {
        found: true,
        kind_right: result.kind == told.kind,
        frame_error: result.strike_frame.map(|f| frame_error(told, f.0)),
        ball_error_px: result.ball.zip(told.ball).map(|(a, b)| a.distance(b)),
        ball_flagged: flagged(Reviewable::Ball),
        ball_invented: result.ball.is_some() && told.ball.is_none(),
        mark_kind: kind_word(told.contact.is_some()),
        mark_found: result.ground_mark.map_or("?".into(), |m| format!("{m:?}").to_lowercase()),
        // Where nobody can make it out, "could not tell" is right and not counted as doubt.
        start: start.filter(|start| !(hidden && start.error.is_none())),
        end: read(
            seen.map(|s| 1000.0 * s[1]),
            result.divot_end_offset.as_ref(),
            Reviewable::DivotEnd,
        ),
        low: read(Some(1000.0 * told.low_point), low, Reviewable::LowPoint),
        attack: read(
            Some(told.attack_at_ball),
            result.attack_angle.as_ref(),
            Reviewable::AttackAngle,
        ),
        order_right: result
            .contact_order
            .zip(truth_order)
            .map(|(a, b)| a == b || a == ContactOrder::TooClose),
        order_flagged: flagged(Reviewable::ContactOrder),
        contact_blunder: contact_blunder(told, result),
        ..blank
    }
}

fn reading(truth: f64, measured: Option<&Measured>, flagged: bool) -> Reading {
    let stated = measured.map(state);
    Reading {
        truth,
        error: stated.map(|s| s.value - truth),
        expanded: stated.map(|s| s.interval.half_width()),
        covered: stated.map(|s| s.interval.contains(truth)),
        flagged: flagged || measured.is_none(),
    }
}

/// How far the frame is from those that count as right.
fn frame_error(told: &SwingTruth, frame: usize) -> i64 {
    let (first, last) = match told.kind {
        SwingKind::Practice => {
            (told.last_frame_before.0.saturating_sub(2), told.last_frame_before.0 + 2)
        }
        // With the contact inside an exposure, that frame counts as well.
        SwingKind::Strike => (told.last_frame_before.0, told.first_frame_after.0 - 1),
    };
    if frame < first { frame as i64 - first as i64 } else { (frame as i64 - last as i64).max(0) }
}

fn order(told: &SwingTruth) -> Option<ContactOrder> {
    if told.kind == SwingKind::Practice {
        return None;
    }
    Some(match &told.contact {
        None => ContactOrder::NoGroundContact,
        Some(c) if c.time < told.strike_time => ContactOrder::TurfFirst,
        Some(_) => ContactOrder::BallFirst,
    })
}

fn contact_blunder(told: &SwingTruth, result: &SwingResult) -> bool {
    let touched = told.contact.as_ref().is_some_and(|c| c.seen.is_some());
    let said = match result.ground_mark {
        None => return false,
        Some(GroundMark::None) => false,
        Some(_) => true,
    };
    let flagged = [Reviewable::DivotStart, Reviewable::DivotEnd]
        .iter()
        .any(|what| result.needs_review.contains(what));
    said != touched && !flagged
}
