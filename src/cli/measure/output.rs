//! The printed forms of a measurement. Names, units and signs of the JSON are fixed; fields
//! may be added, never changed.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::domain::{
    Contribution, GroundMark, ImagePoint, Known, LengthUnit, MarkWord, Measured, ProposedReference,
    Quantity, ReferenceKind, Reviewable, Setup, Source, SwingKind, SwingNumber, SwingResult,
    Warning, counted,
};
use crate::geometry::{BudgetPart, CameraBudget, CameraNumber, GroundView, ReferenceFit};
use crate::workflow::{
    Expansion, Measurement, clearance_words, expansion, number_words, state, view_words,
    warning_words, words_for_offset,
};

/// The contract's JSON, schema 1.
pub fn json(measurement: &Measurement) -> Value {
    let (facts, view) = (&measurement.recording, measurement.view.as_ref());
    json!({
        "schema": 1,
        "recording": {
            "frames": facts.frames,
            "duration_s": rounded(facts.duration.0, 6),
            "width": facts.size.width,
            "height": facts.size.height,
            "slow_factor": rounded(facts.slow_factor, 3),
        },
        "swings": measurement.swings.iter().map(swing_json).collect::<Vec<_>>(),
        "warnings": measurement.warnings.iter().map(warning_json).collect::<Vec<_>>(),
        "proposed_references": measurement.setup.proposed.iter().map(proposed_json).collect::<Vec<_>>(),
        "proposed_target_line": measurement.setup.asked_line().map(|line| json!({
            "target_line_px": line.ends.map(point_json),
            "confidence": rounded(line.confidence, 3),
        })),
        "camera": view.map(camera_json),
        "references": view.map_or(&[][..], |view| &view.references).iter().map(fit_json).collect::<Vec<_>>(),
    })
}

/// Each number of the camera with its standard uncertainty and where that comes from.
fn camera_json(view: &GroundView) -> Value {
    let numbers = [
        ("height_mm", CameraNumber::Height, 0),
        ("distance_mm", CameraNumber::Distance, 0),
        ("tilt_deg", CameraNumber::Tilt, 2),
        ("yaw_deg", CameraNumber::Yaw, 2),
        ("roll_deg", CameraNumber::Roll, 2),
        ("focal_px", CameraNumber::Focal, 0),
        ("mm_per_px_at_ball", CameraNumber::Scale, 4),
    ];
    let mut json = json!({ "standard_uncertainty": {}, "budget": {} });
    for (name, number, places) in numbers {
        let Some(CameraBudget { known: Known { value, standard }, parts, .. }) =
            view.camera_budget(number)
        else {
            json[name] = Value::Null;
            continue;
        };
        json[name] = json!(rounded(value, places));
        json["standard_uncertainty"][name] = json!(rounded(standard, places));
        let part = |part: BudgetPart| {
            json!({
                "source": part.told_by,
                "standard_uncertainty": rounded(part.standard, places + 2),
            })
        };
        json["budget"][name] = parts.into_iter().map(part).collect();
    }
    json
}

/// How each reference fits; `null` where its marks would fit whatever they are.
fn fit_json(fit: &ReferenceFit) -> Value {
    let residual = fit.is_checked.then(|| rounded(fit.residual, 3));
    json!({ "what": fit.which, "residual_px": residual })
}

/// A proposal in the form of the set-up file, with how sure it is.
fn proposed_json(proposed: &ProposedReference) -> Value {
    let reference = &proposed.reference;
    let mut value = match &reference.kind {
        ReferenceKind::Sheet { size, corners } => json!({
            "kind": "sheet",
            "size_mm": [size[0].0, size[1].0],
            "corners_px": corners.map(point_json),
        }),
        ReferenceKind::FourPoints { sides, diagonal, points } => json!({
            "kind": "four_points",
            "sides_mm": sides.map(|side| side.0),
            "diagonal_mm": diagonal.0,
            "points_px": points.map(point_json),
        }),
        ReferenceKind::Line { length, ends } => {
            json!({"kind": "line", "length_mm": length.0, "ends_px": ends.map(point_json)})
        }
        ReferenceKind::LinePair { distance, lines } => json!({
            "kind": "line_pair",
            "distance_mm": distance.0,
            "lines_px": lines.map(|line| line.map(point_json)),
        }),
        ReferenceKind::Ball { outline } => json!({
            "kind": "ball",
            "outline_px": outline.map(|(c, d)| [rounded(c.x, 3), rounded(c.y, 3), rounded(d.0, 3)]),
        }),
    };
    value["height_mm"] = json!(reference.height.0);
    value["along_target"] = json!(reference.along_target);
    value["confidence"] = json!(rounded(proposed.confidence, 3));
    value
}

fn swing_json(swing: &SwingResult) -> Value {
    let low_point = swing.low_point.as_ref().map(|(measured, method)| {
        let mut value = measured_json(measured);
        value["method"] = json!(method);
        value
    });
    json!({
        "kind": swing.kind,
        "strike_time_s": swing.strike_time.map(|t| rounded(t.0, 6)),
        "strike_frame": swing.strike_frame,
        "ball_px": swing.ball.map(point_json),
        "divot_start_px": swing.divot_start.map(point_json),
        "divot_end_px": swing.divot_end.map(point_json),
        "ground_mark": swing.ground_mark,
        "divot_start_mm": swing.divot_start_offset.as_ref().map(measured_json),
        "divot_end_mm": swing.divot_end_offset.as_ref().map(measured_json),
        "low_point_mm": low_point,
        "attack_angle_deg": swing.attack_angle.as_ref().map(measured_json),
        "height_at_ball_mm": swing.height_at_ball.as_ref().map(measured_json),
        "arc_radius_mm": swing.arc_radius.as_ref().map(measured_json),
        "arc_plane_deg": swing.arc_plane.as_ref().map(measured_json),
        "predicted_contact_mm": swing.predicted_contact.as_ref().map(measured_json),
        "ball_position_mm": swing.ball_position.as_ref().map(measured_json),
        "ball_from_trail_heel_mm": swing.from_trail_heel.as_ref().map(measured_json),
        "ball_in_stance_percent": swing.number(SwingNumber::StanceShare).as_ref().map(measured_json),
        "contact_order": swing.contact_order,
        "needs_review": swing.needs_review,
        "warnings": swing.warnings.iter().map(warning_json).collect::<Vec<_>>(),
    })
}

fn measured_json(measured: &Measured) -> Value {
    let interval = state(measured).interval;
    let (low, high) = (rounded(interval.low, 3), rounded(interval.high, 3));
    let Expansion { standard, freedom, factor } = expansion(measured);
    json!({
        "value": rounded(measured.value, 3),
        "expanded_uncertainty": rounded((high - low) / 2.0, 4),
        "interval_95": [low, high],
        "standard_uncertainty": rounded(standard, 4),
        "degrees_of_freedom": freedom.map(|nu| rounded(nu, 1)),
        "coverage_factor": factor.map(|k| rounded(k, 4)),
        "budget": measured.budget.iter().map(contribution_json).collect::<Vec<_>>(),
    })
}

/// One part of a budget, with its sign: what two numbers of one recording share is added with it.
fn contribution_json(part: &Contribution) -> Value {
    let mut value = json!({
        "source": part.source.words(),
        "standard_uncertainty": rounded(part.standard.abs(), 4),
        "sign": if part.standard < 0.0 { -1 } else { 1 },
        "degrees_of_freedom": part.freedom.map(|nu| rounded(nu, 1)),
    });
    if let Source::Calibration(component) = part.source {
        value["component"] = json!(component);
    }
    value
}

fn warning_json(warning: &Warning) -> Value {
    json!({"code": warning.code(), "text": warning.text()})
}

fn point_json(point: ImagePoint) -> Value {
    json!([rounded(point.x, 3), rounded(point.y, 3)])
}

fn rounded(value: f64, decimals: i32) -> f64 {
    let factor = 10f64.powi(decimals);
    // Adding zero turns a negative zero into a plain one.
    (value * factor).round() / factor + 0.0
}

/// The same numbers in words, one paragraph a swing.
pub fn words(measurement: &Measurement, unit: LengthUnit) -> String {
    let facts = &measurement.recording;
    let mut text = format!(
        "{}, {:.2} s, {} x {}: {}\n",
        counted(facts.frames, "frame"),
        facts.duration.0,
        facts.size.width,
        facts.size.height,
        match measurement.swings.len() {
            0 => "no swing found".to_owned(),
            n => counted(n, "swing"),
        }
    );
    for (i, swing) in measurement.swings.iter().enumerate() {
        write_swing(&mut text, i + 1, swing, &measurement.setup, unit);
    }
    if let Some(view) = &measurement.view {
        let _ = writeln!(text, "\n{}", view_words(view, unit).join("\n"));
    }
    for warning in &measurement.warnings {
        let _ = writeln!(text, "\nNote: {}", warning_words(warning, unit));
    }
    text
}

/// One swing in words.
pub fn write_swing(
    text: &mut String,
    number: usize,
    swing: &SwingResult,
    setup: &Setup,
    unit: LengthUnit,
) {
    let kind = match swing.kind {
        SwingKind::Strike => "strike",
        SwingKind::Practice => "practice swing",
    };
    let time = swing.strike_time.map_or(String::new(), |t| format!(" at {:.3} s", t.0));
    let _ = writeln!(text, "\nSwing {number}, {kind}{time}");
    line(text, "mark in the ground", &mark_words(swing.ground_mark));
    let word = MarkWord::of(swing.ground_mark, setup.surface);
    let offset = |measured: Option<&Measured>, of| {
        measured.map_or(absent(swing, of).into(), |m| words_for_offset(&state(m), unit))
    };
    let (start, end) = (swing.divot_start_offset.as_ref(), swing.divot_end_offset.as_ref());
    line(text, word.start(), &offset(start, Reviewable::DivotStart));
    line(text, word.end(), &offset(end, Reviewable::DivotEnd));
    let low_point = swing.low_point.as_ref();
    let method = low_point.map_or(String::new(), |(_, m)| {
        format!(" (from the {})", json!(m).as_str().unwrap_or_default())
    });
    line(text, "low point", &(offset(low_point.map(|l| &l.0), Reviewable::LowPoint) + &method));
    write_numbers(text, swing, word, unit);
    let order = swing.contact_order.map(|o| json!(o));
    let order = order.as_ref().and_then(Value::as_str);
    line(text, "contact", order.unwrap_or(absent(swing, Reviewable::ContactOrder)));
    let club = setup.club.as_ref();
    if let Some(words) = clearance_words(swing, club, setup.is_on_tee(club), unit) {
        line(text, "height at the ball", &words);
    }
    if !swing.needs_review.is_empty() {
        let names: Vec<_> = swing.needs_review.iter().map(|r| r.words_of(word)).collect();
        line(text, "to look at", &names.join(", "));
    }
    for warning in &swing.warnings {
        line(text, "note", &warning_words(warning, unit));
    }
}

/// Those numbers of a swing that are told only where they are known.
fn write_numbers(text: &mut String, swing: &SwingResult, word: MarkWord, unit: LengthUnit) {
    for (name, number) in [
        ("attack angle", Quantity::AttackAngle.into()),
        ("path meets ground", SwingNumber::PredictedContact),
        ("ball", SwingNumber::FromLeadHeel),
        ("ball", SwingNumber::FromTrailHeel),
        ("ball", SwingNumber::StanceShare),
        ("reach line", SwingNumber::ReachLine),
        (word.start(), SwingNumber::StartFromReachLine),
    ] {
        if let Some(measured) = swing.number(number) {
            line(text, name, &number_words(number, &state(&measured), unit));
        }
    }
}

fn line(text: &mut String, name: &str, value: &str) {
    let _ = writeln!(text, "  {name:<19} {value}");
}

/// What is said in a missing number's place: it was looked for in vain, or there is none.
fn absent(swing: &SwingResult, of: Reviewable) -> &'static str {
    if swing.needs_review.contains(&of) { "could not tell" } else { "–" }
}

fn mark_words(mark: Option<GroundMark>) -> String {
    match mark {
        Some(GroundMark::Divot) => "divot",
        Some(GroundMark::Scuff) => "scuff",
        Some(GroundMark::Smear) => "smear",
        Some(GroundMark::None) => "none",
        None => "could not look",
    }
    .to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Interval;

    #[test]
    fn where_the_drawn_interval_differs_it_is_the_one_printed() {
        let mut low = Measured::new(80.0, vec![Contribution::new(Source::ArcFit, 10.0)]);
        // 1.95996 standard uncertainties to either side (JCGM 100:2008, G.6.4) ...
        let linear = measured_json(&low);
        assert_eq!(linear["interval_95"], json!([60.4, 99.6]));
        assert_eq!(linear["expanded_uncertainty"], json!(19.6));
        // ... unless the propagation of distributions says otherwise (JCGM 101:2008, 8.1).
        low.monte_carlo = Some(Interval { low: 40.0, high: 95.0 });
        let drawn = measured_json(&low);
        assert_eq!(drawn["value"], json!(80.0));
        assert_eq!(drawn["interval_95"], json!([40.0, 95.0]));
        assert_eq!(drawn["expanded_uncertainty"], json!(27.5));
        // It is no multiple of the standard uncertainty then.
        assert_eq!(linear["coverage_factor"], json!(1.96));
        assert_eq!(drawn["coverage_factor"], Value::Null);
    }

    #[test]
    fn a_budget_says_source_size_sign_and_freedom() {
        let scale =
            Contribution { source: Source::Calibration(2), standard: -3.0, freedom: Some(7.0) };
        let start = Measured::new(58.0, vec![Contribution::new(Source::Mark, 4.0), scale]);
        let json = measured_json(&start);
        assert_eq!(json["standard_uncertainty"], json!(5.0));
        // Welch-Satterthwaite (JCGM 100:2008, G.4.1): 5^4 / (3^4 / 7) = 54.0.
        assert_eq!(json["degrees_of_freedom"], json!(54.0));
        let known = json!({"source": "mark position", "standard_uncertainty": 4.0, "sign": 1,
            "degrees_of_freedom": null});
        let of_scale = json!({"source": "scale and camera", "component": 2,
            "standard_uncertainty": 3.0, "sign": -1, "degrees_of_freedom": 7.0});
        assert_eq!(json["budget"], json!([known, of_scale]));
    }
}
