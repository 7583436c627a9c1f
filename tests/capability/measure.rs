//! `scuffline measure`: the contract with scripts, on shipped footage.

use std::path::Path;
use std::process::Output;

use serde_json::{Value, json};

use crate::support::{sample, sample_truth, scuffline};

/// What `measure` says of a recording with a set-up of this text.
fn measured_with(recording: &Path, setup: &str) -> Output {
    let folder = tempfile::tempdir().expect("a temporary folder can be made");
    let path = folder.path().join("setup.json");
    std::fs::write(&path, setup).expect("the set-up can be written");
    scuffline([
        "measure".as_ref(),
        recording.as_os_str(),
        "--setup".as_ref(),
        path.as_os_str(),
        "--json".as_ref(),
    ])
}

fn measure(recording: &Path, setup: &Value) -> Value {
    let output = measured_with(recording, &setup.to_string());
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
    serde_json::from_slice(&output.stdout).expect("stdout is one JSON value")
}

fn refused(recording: &Path, setup: &str) -> String {
    let output = measured_with(recording, setup);
    let said = String::from_utf8(output.stderr).expect("stderr is text");
    assert!(!output.status.success(), "should have been refused: {setup}");
    assert!(output.stdout.is_empty(), "nothing on stdout when refused");
    assert_eq!(said.trim_end().lines().count(), 1, "one sentence, not: {said}");
    said
}

/// The sheet, the true marks as clicks: what a careful person would give.
fn given_marks(truth: &Value) -> Value {
    let swing = &truth["swings"][0];
    json!({
        "target": truth["target_direction_in_picture"],
        "surface": truth["ground"],
        "club": swing["club"],
        "references": [{
            "kind": "sheet",
            "size_mm": truth["reference_objects"][0]["size_m"].as_array().expect("a size").iter()
                .map(|s| s.as_f64().expect("metres") * 1000.0).collect::<Vec<_>>(),
            "corners_px": truth["reference_objects"][0]["corners_px"],
            "height_mm": truth["reference_objects"][0]["height_m"].as_f64().expect("metres") * 1000.0,
        }],
        "only_given": true,
        "swings": [{
            "strike_time_s": swing["strike"]["time_s"],
            "ball_px": swing["ball"]["centre_px"],
            "divot_start_px": swing["ground_contact"]["start_px"],
            "divot_end_px": swing["ground_contact"]["end_px"],
        }],
    })
}

#[test]
fn given_marks_become_millimetres() {
    let truth = sample_truth("iron_turf_sheet.truth.json");
    let result = measure(&sample("iron_turf_sheet.mp4"), &given_marks(&truth));
    assert_eq!(result["schema"], 1);
    assert_eq!(
        result["recording"],
        json!({"frames": 312, "duration_s": 2.6, "width": 1280, "height": 720, "slow_factor": 1.0})
    );
    assert_eq!(result["swings"].as_array().map(Vec::len), Some(1));
    let swing = &result["swings"][0];
    assert_eq!(swing["kind"], "strike");
    assert_eq!(swing["strike_frame"], 186);
    let contact = &truth["swings"][0]["ground_contact"];
    for (name, true_m) in [
        ("divot_start_mm", &contact["start_offset_from_ball_m"]),
        ("divot_end_mm", &contact["end_offset_from_ball_m"]),
    ] {
        let value = swing[name]["value"].as_f64().expect("a value");
        let true_mm = 1000.0 * true_m.as_f64().expect("metres");
        assert!((value - true_mm).abs() < 4.0, "{name}: {value} against {true_mm}");
        let [low, high] = [0, 1].map(|i| swing[name]["interval_95"][i].as_f64().expect("a limit"));
        assert!(low < true_mm && true_mm < high, "{name}: {true_mm} within {low} to {high}");
        let half = swing[name]["expanded_uncertainty"].as_f64().expect("a half width");
        assert!((half - (high - low) / 2.0).abs() < 1e-3);
        assert!(half < 15.0, "{name}: ± {half}");
    }
    assert!(swing["needs_review"].is_array() && swing["warnings"].is_array());
}

/// The part with the ball lies one row too high: its last row of turf is seen twice.
#[test]
fn a_ball_in_a_displaced_part_of_the_picture_is_put_before_the_person() {
    let truth = sample_truth("iron_turf_sheet.truth.json");
    let sheet = given_marks(&truth)["references"].clone();
    let result = measure(&sample("iron_turf_sheet.mp4"), &json!({"references": sheet}));
    let swing = &result["swings"][0];
    assert_eq!(swing["needs_review"], json!(["ball"]));
    assert!(swing["warnings"].to_string().contains("picture-torn"), "{}", swing["warnings"]);
}

/// A sheet with its sides exchanged fits a camera of its own; the ball that was found does not.
#[test]
fn a_sheet_of_another_size_is_told_by_the_ball() {
    let truth = sample_truth("iron_turf_sheet.truth.json");
    let text = std::fs::read_to_string(sample("iron_turf_sheet.setup.json")).expect("its set-up");
    let mut setup: Value = serde_json::from_str(&text).expect("JSON");
    let codes = |setup: &Value| {
        let result = measure(&sample("iron_turf_sheet.mp4"), setup);
        let told = result["warnings"].as_array().expect("warnings").clone();
        (told.iter().any(|warning| warning["code"] == "references-disagree"), result)
    };
    let (told, _) = codes(&setup);
    assert!(!told, "a true sheet and its ball agree");
    let [a, b] = [1, 0].map(|i| setup["references"][0]["size_mm"][i].clone());
    setup["references"][0]["size_mm"] = json!([a, b]);
    let (told, result) = codes(&setup);
    assert!(told, "{}", result["warnings"]);
    let true_mm = 1000.0
        * truth["swings"][0]["ground_contact"]["seen_end_offset_from_ball_m"]
            .as_f64()
            .expect("an end");
    let end = &result["swings"][0]["divot_end_mm"]["interval_95"];
    let [low, high] = [0, 1].map(|i| end[i].as_f64().expect("a limit"));
    assert!(low < true_mm && true_mm < high, "{true_mm} within {low} to {high}");
}

#[test]
fn every_number_is_printed_with_its_budget() {
    let mut setup = given_marks(&sample_truth("iron_turf_sheet.truth.json"));
    // Heels on either side of the ball, 300 mm apart or so.
    setup["swings"][0]["lead_heel_px"] = json!([720.0, 601.0]);
    setup["swings"][0]["trail_heel_px"] = json!([580.0, 602.0]);
    let result = measure(&sample("iron_turf_sheet.mp4"), &setup);
    let swing = &result["swings"][0];
    for name in [
        "divot_start_mm",
        "divot_end_mm",
        "low_point_mm",
        "attack_angle_deg",
        "height_at_ball_mm",
        "arc_radius_mm",
        "arc_plane_deg",
        "predicted_contact_mm",
        "ball_position_mm",
        "ball_from_trail_heel_mm",
        "ball_in_stance_percent",
    ] {
        let told = &swing[name];
        let number = |value: &Value| value.as_f64().unwrap_or_else(|| panic!("{name}: {told}"));
        let (mut variance, mut sources) = (0.0, Vec::new());
        for part in told["budget"].as_array().expect(name) {
            variance += number(&part["standard_uncertainty"]).powi(2);
            assert!(part["sign"] == 1 || part["sign"] == -1, "{name}: {part}");
            sources.push(part["source"].as_str().expect("words"));
        }
        assert!(sources.contains(&"scale and camera"), "{name}: {sources:?}");
        let standard = number(&told["standard_uncertainty"]);
        assert!((variance.sqrt() - standard).abs() < 0.001, "{name}: {told}");
        // JCGM 100:2008, 6.2.1, unless the interval was drawn.
        let half = number(&told["expanded_uncertainty"]);
        let factor = told["coverage_factor"].as_f64();
        assert!(factor.is_none_or(|k| (half - k * standard).abs() < 0.002), "{name}: {told}");
    }
    assert_eq!(swing["ball_in_stance_percent"]["value"].as_f64().map(f64::round), Some(57.0));
    // So have those of the camera, the true height of which is known.
    let camera = &result["camera"];
    let doubt = &camera["standard_uncertainty"];
    let number = |value: &Value| value.as_f64().unwrap_or_else(|| panic!("{camera}"));
    for (name, _) in doubt.as_object().expect("of each number") {
        let [value, standard] = [&camera[name], &doubt[name]].map(|v| v.as_f64().expect(name));
        assert!(standard > 0.0 && value.is_finite(), "{name}: {camera}");
        let parts = camera["budget"][name].as_array().expect("a budget");
        let squares = parts.iter().map(|part| number(&part["standard_uncertainty"]).powi(2));
        let off = squares.sum::<f64>().sqrt() / standard - 1.0;
        assert!(parts.len() > 3 && off.abs() < 0.02, "{name} {off}: {camera}");
    }
    let truth = sample_truth("iron_turf_sheet.truth.json")["camera"]["height_m"].as_f64();
    let off = camera["height_mm"].as_f64().expect("a height") - 1000.0 * truth.expect("known");
    assert!(off.abs() < 2.0 * doubt["height_mm"].as_f64().expect("a doubt"), "{off} mm: {camera}");
    let fit = &result["references"][0];
    assert_eq!(fit["what"], "sheet");
    assert!((0.0..1.0).contains(&number(&fit["residual_px"])), "{fit}");
}

#[test]
fn words_come_in_the_unit_asked_for_or_the_librarys() {
    let folder = tempfile::tempdir().expect("a temporary folder can be made");
    let library = folder.path().join("library.scuffline").to_str().expect("text").to_owned();
    let (clip, setup) = (sample("iron_turf_sheet.mp4"), sample("iron_turf_sheet.setup.json"));
    let (clip, setup) = (clip.to_str().expect("text"), setup.to_str().expect("text"));
    let told = |more: &[&str]| {
        let all = ["measure", clip, "--setup", setup, "--library", &library];
        let output = scuffline(all.iter().chain(more));
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let text = String::from_utf8(output.stdout).expect("text");
        let start = text.lines().find(|line| line.trim_start().starts_with("divot start"));
        start.expect("a start").split_whitespace().nth(3).expect("a unit").to_owned()
    };
    assert_eq!(told(&[]), "mm");
    assert!(!Path::new(&library).exists(), "measuring makes no library");
    assert!(scuffline(["units", "inch", "--library", &library]).status.success());
    assert_eq!(told(&[]), "in");
    assert_eq!(told(&["--unit", "cm"]), "cm");
}

#[test]
fn a_club_head_marked_by_hand_outranks_what_was_found() {
    let truth = sample_truth("iron_turf_sheet.truth.json");
    let path = &truth["swings"][0]["club_path"];
    let number = |v: &Value| v.as_f64().expect("a number");
    let list = |key: &str| path[key].as_array().expect("a list").clone();
    // The edge's middle in seven frames about the strike, as the truth has it, moved by `by`.
    let low_point = |by: f64| {
        let near = |frame: &Value| (183..=189).contains(&frame.as_u64().expect("a frame"));
        let heads: Vec<Value> = list("frames")
            .iter()
            .zip(list("px"))
            .filter(|(frame, _)| near(frame))
            .map(|(frame, px)| json!({"frame": frame, "px": [number(&px[0]) + by, px[1]]}))
            .collect();
        assert_eq!(heads.len(), 7);
        let mut setup = given_marks(&truth);
        setup["swings"][0]["club_head_px"] = json!(heads);
        let result = measure(&sample("iron_turf_sheet.mp4"), &setup);
        let low = result["swings"][0]["low_point_mm"].clone();
        assert!(low["method"].as_str().is_some_and(|m| m.starts_with("arc")), "{low}");
        low
    };
    let low = low_point(0.0);
    let true_mm = number(&truth["swings"][0]["low_point"]["offset_from_ball_m"]) * 1000.0;
    let [from, to] = [0, 1].map(|i| number(&low["interval_95"][i]));
    assert!(from < true_mm && true_mm < to, "{low}");
    // 20 px are some 42 mm here; the divot's own word pulls a little the other way.
    let moved = number(&low_point(-20.0)["value"]) - number(&low["value"]);
    assert!((-60.0..-20.0).contains(&moved), "{moved}");
}

#[test]
fn a_club_head_that_runs_straight_has_no_arc_and_says_so() {
    let truth = sample_truth("iron_turf_sheet.truth.json");
    let ball = &truth["swings"][0]["ball"]["ground_point_px"];
    let [x, y] = [0, 1].map(|i| ball[i].as_f64().expect("a number"));
    // Every frame in which the head is to be seen, so that nothing found is left.
    let straight = (181..=191).map(|frame| {
        let along = 100.0 * (f64::from(frame) - 186.0);
        json!({"frame": frame, "px": [x + along, y + 0.02 * along]})
    });
    let mut setup = given_marks(&truth);
    setup["swings"][0]["club_head_px"] = straight.collect();
    let swing = &measure(&sample("iron_turf_sheet.mp4"), &setup)["swings"][0];
    let codes: Vec<_> =
        swing["warnings"].as_array().expect("a list").iter().map(|w| w["code"].clone()).collect();
    assert!(codes.contains(&json!("nearly-straight")), "{codes:?}");
    assert_eq!(swing["low_point_mm"]["method"], json!("mark"));
    assert!(swing["attack_angle_deg"].is_null());
}

#[test]
fn a_club_head_marked_too_high_does_not_decide_what_came_first() {
    // Its centre instead of its leading edge: 12 px, some 25 mm, over the true places.
    let truth = sample_truth("iron_turf_sheet.truth.json");
    let path = &truth["swings"][0]["club_path"];
    let frames: Vec<u64> = serde_json::from_value(path["frames"].clone()).expect("frames");
    let heads = frames.iter().zip(path["px"].as_array().expect("a list"));
    let near = heads.filter(|(frame, _)| (183..=189).contains(*frame));
    let heads: Vec<Value> = near
        .map(|(frame, px)| {
            let [x, y] = [0, 1].map(|i| px[i].as_f64().expect("a number"));
            json!({"frame": frame, "px": [x, y - 12.0]})
        })
        .collect();
    let mut setup = given_marks(&truth);
    setup["swings"][0]["club_head_px"] = json!(heads);
    let swing = &measure(&sample("iron_turf_sheet.mp4"), &setup)["swings"][0];
    // The true order is turf first, by 6 mm; by the arc it would be ball first.
    assert_ne!(swing["contact_order"], json!("ball first"));
    let warnings = swing["warnings"].to_string();
    assert!(warnings.contains("arc-off-ground"), "{warnings}");
    let review = swing["needs_review"].as_array().expect("a list");
    for what in ["low_point", "attack_angle", "contact_order"] {
        assert!(review.contains(&json!(what)), "{review:?}");
    }
}

#[test]
fn a_path_that_bends_more_than_a_swing_does_is_put_before_the_person() {
    let truth = sample_truth("iron_turf_sheet.truth.json");
    let low = &truth["swings"][0]["low_point"]["px"];
    let [x, y] = [0, 1].map(|i| low[i].as_f64().expect("a number"));
    // What times there are between the places does not count.
    let told = |radius: f64| {
        let head = |frame: i32| {
            let beside = 35.0 * f64::from(frame - 186);
            json!({"frame": frame, "px": [x + beside, y - beside * beside / (2.0 * radius)]})
        };
        let mut setup = given_marks(&truth);
        setup["swings"][0]["club_head_px"] = (181..=191).map(head).collect();
        let swing = measure(&sample("iron_turf_sheet.mp4"), &setup)["swings"][0].clone();
        let is_asked = swing["needs_review"].to_string().contains("low_point");
        (is_asked, swing["warnings"].to_string().contains("arc-radius-odd"))
    };
    // 1.6 m by 2.1 mm a pixel, and 0.9 m.
    assert_eq!(told(760.0), (false, false));
    assert_eq!(told(430.0), (true, true));
}

#[test]
fn a_ball_mark_that_slipped_still_means_the_ball() {
    let truth = sample_truth("iron_turf_sheet.truth.json");
    let mut setup = given_marks(&truth);
    let [x, y] = [0, 1].map(|i| setup["swings"][0]["ball_px"][i].as_f64().expect("a number"));
    for off in [[0.0, 5.0], [6.0, 0.0]] {
        setup["swings"][0]["ball_px"] = json!([x + off[0], y + off[1]]);
        let swing = &measure(&sample("iron_turf_sheet.mp4"), &setup)["swings"][0];
        assert_eq!(swing["kind"], json!("strike"), "{off:?}");
        let warnings = swing["warnings"].to_string();
        assert!(warnings.contains("ball-mark-apart"), "{off:?}: {warnings}");
    }
}

#[test]
fn every_promised_field_is_printed() {
    let result =
        measure(&sample("iron_turf_sheet.mp4"), &json!({"swings": [{"strike_time_s": 1.55}]}));
    let swing = &result["swings"][0];
    for field in [
        "kind",
        "strike_time_s",
        "strike_frame",
        "ball_px",
        "divot_start_px",
        "divot_end_px",
        "ground_mark",
        "divot_start_mm",
        "divot_end_mm",
        "low_point_mm",
        "attack_angle_deg",
        "contact_order",
        "needs_review",
        "warnings",
    ] {
        assert!(swing.get(field).is_some(), "{field} is missing");
    }
}

#[test]
fn what_to_look_at_follows_the_threshold_and_a_reference_may_end_outside() {
    let truth = sample_truth("left_handed.truth.json");
    let recording = sample("left_handed.mp4");
    let review = |result: &Value| result["swings"][0]["needs_review"].clone();
    let sheet = given_marks(&truth)["references"].clone();
    let usual = measure(&recording, &json!({"references": sheet}));
    assert_eq!(review(&usual), json!([]), "nothing is doubtful here");
    let strict = measure(&recording, &json!({"references": sheet, "review_below": 1.0}));
    let listed = review(&strict);
    for name in ["swing", "strike", "ball", "divot_start", "divot_end"] {
        assert!(listed.as_array().expect("a list").contains(&json!(name)), "{name} in {listed}");
    }
    assert_eq!(strict["swings"][0]["divot_start_mm"], usual["swings"][0]["divot_start_mm"]);
    // A stick that goes on beyond the picture's edge.
    let stick = json!([{"kind": "line", "length_mm": 1500, "along_target": true,
        "ends_px": [[-20.0, 629.0], [690.0, 629.0]]}]);
    let warned =
        measure(&sample("iron_turf_sheet.mp4"), &json!({"references": stick, "only_given": true}));
    let codes = warned["warnings"].to_string();
    assert!(codes.contains("outside-picture"), "{codes}");
}

#[test]
fn bad_setups_are_refused_in_one_sentence() {
    let recording = sample("iron_turf_sheet.mp4");
    let sheet = |size: &str, corners: &str| {
        format!(
            r#"{{"references": [{{"kind": "sheet", "size_mm": {size}, "corners_px": {corners}}}]}}"#
        )
    };
    let good = "[[835.6,644.2],[986.5,638.3],[959.2,605.9],[817.2,611.2]]";
    let cases = [
        ("not JSON", "{".to_owned(), "documented form"),
        ("zero size", sheet("[0, 210]", good), "above zero"),
        ("negative length", sheet("[297, -210]", good), "above zero"),
        (
            "repeated corner",
            sheet("[297, 210]", "[[835,644],[986,638],[959,605],[835,644]]"),
            "coincide",
        ),
        (
            "collinear corners",
            sheet("[297, 210]", "[[100,600],[200,600],[300,600],[400,600]]"),
            "line",
        ),
        (
            "outside",
            sheet("[297, 210]", "[[835,644],[1986,638],[959,605],[817,611]]"),
            "outside the picture",
        ),
        ("threshold", r#"{"review_below": 1.5}"#.to_owned(), "from 0 to 1"),
        (
            "mark outside",
            r#"{"swings": [{"strike_time_s": 1.5, "ball_px": [-40, 100]}]}"#.to_owned(),
            "outside the picture",
        ),
        (
            "late strike",
            r#"{"swings": [{"strike_time_s": 99}]}"#.to_owned(),
            "outside the recording",
        ),
        (
            "heel outside",
            r#"{"swings": [{"strike_time_s": 1.5, "lead_heel_px": [4000, 100]}]}"#.to_owned(),
            "outside the picture",
        ),
        (
            "club head in no such frame",
            r#"{"swings": [{"club_head_px": [{"frame": 5000, "px": [10, 10]}]}]}"#.to_owned(),
            "not in the recording",
        ),
        (
            "no such frame",
            r#"{"origin_px": {"px": [10, 10], "frame": 5000}}"#.to_owned(),
            "not in the recording",
        ),
    ];
    for (name, setup, expected) in cases {
        let said = refused(&recording, &setup);
        assert!(said.contains(expected), "{name}: {said}");
    }
}

#[test]
fn bad_recordings_are_refused_in_one_sentence() {
    let folder = tempfile::tempdir().expect("a temporary folder can be made");
    let text = folder.path().join("notes.mp4");
    std::fs::write(&text, "this is no video").expect("the file can be written");
    let empty = folder.path().join("empty.mp4");
    std::fs::write(&empty, "").expect("the file can be written");
    let whole = std::fs::read(sample("iron_turf_sheet.mp4")).expect("sample footage is shipped");
    let cut = folder.path().join("cut.mp4");
    std::fs::write(&cut, &whole[..20_000]).expect("the file can be written");
    for recording in [&text, &empty, &cut, &folder.path().join("absent.mp4")] {
        let said = refused(recording, "{}");
        let name = recording.file_name().and_then(|n| n.to_str()).expect("a name");
        assert!(said.contains(name), "the file is named: {said}");
    }
}
