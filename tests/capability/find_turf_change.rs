//! The mark in the ground, found between before and after, strike and ball being known: where
//! the rendered truth says a perfect reader would mark it, and nothing where nothing is.

use scuffline::demo::{Condition, Scenario, Scene, Truth};
use scuffline::domain::{
    BallOutline, Direction, Found, FrameIndex, GroundMark, ImagePoint, Pictures, Pixels, Surface,
    SwingKind, Warning,
};
use scuffline::video::Recording;
use scuffline::vision::{
    GroundMarkFinding, GroundMarkRequest, Steadying, before_after, find_ground_mark,
};
use scuffline::workflow::accuracy::{Given, Outcome, judge};
use serde_json::Value;

use crate::support::{sample, sample_truth};

struct Looked {
    recording: Recording,
    steadying: Steadying,
    swing: Value,
    found: GroundMarkFinding,
}

fn point(value: &Value) -> ImagePoint {
    serde_json::from_value(value.clone()).expect("the truth has this point")
}

fn look(name: &str, surface: Surface) -> Looked {
    look_beside(name, surface, 0.0)
}

/// As `look`, told that the ball lay so many pixels farther to the right than it did.
fn look_beside(name: &str, surface: Surface, beside: f64) -> Looked {
    let truth = sample_truth(&format!("{name}.truth.json"));
    let mut recording = Recording::open(&sample(&format!("{name}.mp4"))).unwrap();
    let mut steadying = Steadying::new(&mut recording).unwrap();
    let swing = truth["swings"][0].clone();
    let ball = swing["ball"]["centre_px"].is_array().then(|| BallOutline {
        centre: point(&swing["ball"]["centre_px"]).moved(beside, 0.0),
        diameter: Pixels(swing["ball"]["width_px_approx"].as_f64().unwrap()),
        diameter_sigma: Pixels(0.3),
    });
    let last = match truth["swings"].as_array().map_or(0, Vec::len) {
        1 => recording.timeline().len() - 1,
        // Before the next swing's address.
        _ => 250,
    };
    let strike = swing["strike"]["last_frame_before_contact"].as_u64().unwrap() as usize;
    let request = GroundMarkRequest {
        strike_frame: FrameIndex(strike),
        heading: if truth["target_direction_in_picture"] == "left" { -1.0 } else { 1.0 },
        struck: ball.is_some(),
        ball,
        origin: Some(point(&swing["low_point"]["ground_px"]).moved(-15.0, 10.0)),
        earliest: FrameIndex(0),
        latest: FrameIndex(last),
        surface: Some(surface),
        scale: None,
        along: None,
    };
    let found = find_ground_mark(&mut recording, &mut steadying, &request).unwrap();
    Looked { recording, steadying, swing, found }
}

/// Millimetres by which a point is off what a perfect reader would mark, and its ± (95 %).
fn error(swing: &Value, end: &str, found: Found<ImagePoint>) -> (f64, f64) {
    let g = &swing["ground_contact"];
    let mm = |name: String| 1000.0 * g[name].as_f64().expect("the truth has this offset");
    let (a, b) = (point(&g["start_px"]), point(&g["end_px"]));
    let (x, y) = (mm("start_offset_from_ball_m".into()), mm("end_offset_from_ball_m".into()));
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let along = (found.value.x - a.x) * dx + (found.value.y - a.y) * dy;
    let offset = x + (y - x) * along / (dx * dx + dy * dy);
    let scale = (y - x) / a.distance(b);
    (offset - mm(format!("seen_{end}_offset_from_ball_m")), 1.96 * found.sigma * scale)
}

fn check(name: &str, surface: Surface, kind: GroundMark) {
    let Looked { swing, found, .. } = look(name, surface);
    let mark = found.mark.unwrap_or_else(|| panic!("{name}: could not look"));
    assert_eq!(mark.value, kind, "{name}");
    assert!(mark.confidence > 0.8, "{name}: {}", mark.confidence);
    let start = found.start.unwrap_or_else(|| panic!("{name}: no start"));
    let (off, doubt) = error(&swing, "start", start);
    assert!(off.abs() < 5.0 && off.abs() < doubt, "{name}: start off by {off:.1} ± {doubt:.1} mm");
    assert!(doubt < 12.0, "{name}: start ± {doubt:.1} mm");
    if let Some(end) = found.end {
        let (off, doubt) = error(&swing, "end", end);
        assert!(off.abs() < 1.5 * doubt, "{name}: end off by {off:.1} ± {doubt:.1} mm");
    }
}

#[test]
fn a_divot_is_found_where_it_begins() {
    check("iron_turf_sheet", Surface::Turf, GroundMark::Divot);
    check("portrait", Surface::Turf, GroundMark::Divot);
    check("iron_four_swings", Surface::Turf, GroundMark::Divot);
}

#[test]
fn old_divots_and_a_left_handed_golfer_do_not_mislead() {
    check("left_handed", Surface::Turf, GroundMark::Divot);
}

#[test]
fn a_mark_where_no_club_that_struck_the_ball_comes_down_is_doubtful() {
    // It begins 18 mm behind the ball; now 190 mm past it.
    let found = look_beside("iron_turf_sheet", Surface::Turf, -102.0).found;
    let mark = found.mark.expect("a mark");
    assert!(mark.value == GroundMark::Divot && mark.confidence < 0.8, "{mark:?}");
    assert!([found.start, found.end].into_iter().flatten().all(|end| end.confidence < 0.8));
}

#[test]
fn a_drifting_tripod_does_not_mislead() {
    check("drifting_tripod", Surface::Turf, GroundMark::Divot);
}

#[test]
fn a_practice_swing_needs_only_a_rough_place() {
    check("chalk_practice", Surface::Turf, GroundMark::Divot);
}

#[test]
fn a_faint_scuff_on_a_mat_is_seen() {
    let Looked { swing, found, .. } = look("iron_mat_stick", Surface::Mat);
    assert_eq!(found.mark.unwrap().value, GroundMark::Scuff);
    let (off, doubt) = error(&swing, "start", found.start.unwrap());
    assert!(off.abs() < 5.0 && off.abs() < doubt, "off by {off:.1} ± {doubt:.1} mm");
    // It ends in the ball's shadow: told with its doubt, or not at all.
    if let Some(end) = found.end {
        let (off, doubt) = error(&swing, "end", end);
        assert!(off.abs() < 1.5 * doubt, "off by {off:.1} ± {doubt:.1} mm");
    }
}

#[test]
fn ball_shadow_and_tee_going_away_are_no_mark() {
    let Looked { found, .. } = look("driver_tee", Surface::Turf);
    assert_eq!(found.mark.map(|m| m.value), Some(GroundMark::None));
    assert!(found.start.is_none() && found.end.is_none());
}

/// The mark of an invented scene's only swing.
fn look_at(scenario: Scenario) -> (GroundMarkFinding, Truth) {
    let mut scene = Scene::new(scenario);
    let truth = scene.truth();
    let swing = truth.swings[0].clone();
    let width = truth.to_json()["swings"][0]["ball"]["width_px_approx"].as_f64();
    let mut steadying = Steadying::new(&mut scene).unwrap();
    let request = GroundMarkRequest {
        strike_frame: swing.last_frame_before,
        heading: if scene.scenario().heading == Direction::Left { -1.0 } else { 1.0 },
        ball: swing.ball.map(|centre| BallOutline {
            centre,
            diameter: Pixels(width.expect("a ball")),
            diameter_sigma: Pixels(0.3),
        }),
        struck: swing.kind == SwingKind::Strike,
        origin: None,
        earliest: FrameIndex(0),
        latest: FrameIndex(scene.timeline().len() - 1),
        surface: None,
        scale: None,
        along: None,
    };
    (find_ground_mark(&mut scene, &mut steadying, &request).unwrap(), truth)
}

#[test]
fn blocks_of_the_coder_leave_start_and_end_in_doubt() {
    let look = |quantiser: f32| {
        let mut scenario = Scenario::draw(Condition::Compression, 5);
        scenario.faults.quantiser = quantiser;
        let (found, _) = look_at(scenario);
        let shows = found.warnings.iter().any(|w| matches!(w, Warning::CoarselyCoded { .. }));
        let [start, end] = [found.start, found.end].map(|end| end.expect("told"));
        assert_eq!(found.mark.map(|mark| mark.value), Some(GroundMark::Divot));
        (shows, start, end)
    };
    let (shows, start, end) = look(3.0);
    assert!(!shows && start.confidence > 0.8 && end.confidence > 0.8);
    let (shows, coarse_start, coarse_end) = look(22.0);
    assert!(shows && coarse_start.confidence < 0.8 && coarse_end.confidence < 0.8);
    // As far as a block reaches.
    assert!(coarse_start.sigma > 2.3 && coarse_end.sigma > 2.3 && start.sigma < 2.3);
}

/// A mark that lies mostly where the ball hid the ground does not show; its crumbs do.
#[test]
fn turf_that_has_flown_leaves_doubt_about_untouched_ground() {
    let sure = |crumbs: usize| {
        let mut scenario = Scenario::draw(Condition::ThinNoContact, 4);
        let mut mark = Scenario::draw(Condition::FairwayWood, 4).swings[0].mark.clone();
        mark.iter_mut().for_each(|mark| mark.start = mark.end - 0.003);
        (scenario.swings[0].mark, scenario.swings[0].crumbs) = (mark, crumbs);
        let mark = look_at(scenario).0.mark.expect("the ground is seen");
        assert_eq!(mark.value, GroundMark::None, "{crumbs} crumbs");
        mark.confidence
    };
    assert!(sure(30) < 0.8);
    assert!(sure(0) > 0.9);
}

#[test]
fn a_mark_that_runs_behind_a_ball_left_lying_ends_in_doubt() {
    // A practice swing beside a ball, whose mark ends just behind it and is plain to see.
    let mut scenario = Scenario::mixed(117);
    scenario.swings[0].mark.as_mut().expect("a mark").strength = 1.0;
    let (found, truth) = look_at(scenario);
    assert_eq!(found.mark.expect("seen").value, GroundMark::Divot);
    let start = point(&truth.to_json()["swings"][0]["ground_contact"]["start_px"]);
    let (seen_start, seen_end) = (found.start.expect("a start"), found.end.expect("an end"));
    assert!((seen_start.value.x - start.x).abs() < 6.0, "{} {}", seen_start.value.x, start.x);
    assert!(
        seen_end.confidence < 0.8 && seen_start.confidence > 0.9,
        "{seen_end:?} {seen_start:?}"
    );
}

/// Too few columns of it lie in the open to tell how wide it is; those in the shade do.
#[test]
fn a_short_mark_under_ball_and_shade_is_told() {
    let (found, truth) = look_at(Scenario::mixed(773));
    let start = point(&truth.to_json()["swings"][0]["ground_contact"]["start_px"]);
    let seen = found.start.expect("a start");
    assert!((seen.value.x - start.x).abs() < 6.0, "{} {}", seen.value.x, start.x);
    assert!(seen.confidence > 0.9, "{seen:?}");
}

/// Coarsely coded, the chalk's colour bleeds into the mat beside it, before more than after.
#[test]
fn chalk_that_is_wiped_has_the_say_over_a_faint_stripe_beside_it() {
    let (found, truth) = look_at(Scenario::mixed(720));
    assert_eq!(found.mark.expect("seen").value, GroundMark::Smear);
    let start = point(&truth.to_json()["swings"][0]["ground_contact"]["start_px"]);
    let seen = found.start.expect("a start");
    assert!((seen.value.x - start.x).abs() < 6.0, "{} {}", seen.value.x, start.x);
}

/// A driver's ball on a tee, nothing touched, and a faint patch 160 mm behind it.
#[test]
fn a_faint_mark_that_stands_out_by_little_is_doubtful() {
    let (found, _) = look_at(Scenario::mixed(948));
    for end in [found.start, found.end].into_iter().flatten() {
        assert!(end.confidence < 0.8, "{end:?}");
    }
    if let Some(mark) = found.mark {
        assert!(mark.value == GroundMark::None || mark.confidence < 0.8, "{mark:?}");
    }
}

#[test]
fn a_recording_that_ends_with_the_strike_is_not_judged() {
    let truth = sample_truth("iron_turf_sheet.truth.json");
    let swing = &truth["swings"][0];
    let strike = swing["strike"]["last_frame_before_contact"].as_u64().unwrap() as usize;
    let mut recording = Recording::open(&sample("iron_turf_sheet.mp4")).unwrap();
    let mut steadying = Steadying::new(&mut recording).unwrap();
    let request = GroundMarkRequest {
        strike_frame: FrameIndex(strike),
        heading: 1.0,
        ball: None,
        struck: false,
        origin: Some(point(&swing["low_point"]["ground_px"])),
        earliest: FrameIndex(0),
        latest: FrameIndex(strike + 5),
        surface: None,
        scale: None,
        along: None,
    };
    let found = find_ground_mark(&mut recording, &mut steadying, &request).unwrap();
    assert!(found.mark.is_none() && found.start.is_none());
    assert_eq!(found.warnings.len(), 1);
}

#[test]
fn before_and_after_differ_in_the_mark_alone() {
    let Looked { mut recording, mut steadying, swing, found } =
        look("iron_turf_sheet", Surface::Turf);
    let middle = point(&swing["low_point"]["ground_px"]);
    let area = [middle.x - 160.0, middle.y - 60.0, 320.0, 120.0];
    let pair = before_after(&mut recording, &mut steadying, &found.averaged, area)
        .unwrap()
        .expect("the area lies in the picture");
    let shade = |p: ImagePoint| {
        let (x, y) = (p.x - pair.corner.x, p.y - pair.corner.y);
        let rgb = pair.difference.rgb(x.round() as usize, y.round() as usize);
        rgb.map(|v| (f64::from(v) - 128.0).abs()).iter().sum::<f64>() / 3.0
    };
    assert!(shade(middle) > 40.0, "the mark: {}", shade(middle));
    let beside = shade(middle.moved(-120.0, 0.0));
    assert!(beside < 20.0, "untouched ground: {beside}");
}

/// The before-picture is renewed each time: an earlier swing's divot is not a later one's.
#[test]
fn each_swing_of_a_recording_has_its_own_mark() {
    let [recording, truth] =
        ["mp4", "truth.json"].map(|e| sample(&format!("iron_four_swings.{e}")));
    let judged = judge(&recording, &truth, Given::References).unwrap();
    assert_eq!((judged.swings.len(), judged.missed, judged.invented), (4, 0, 0));
    let mut certain = 0;
    for (i, swing) in judged.swings.iter().enumerate() {
        let Outcome::Value(start) = swing.divot_start else { panic!("swing {i}: {swing:?}") };
        assert!(start.held, "swing {i}: {start:?}");
        assert!(!start.is_silent_blunder() && swing.contact_right == Some(true), "{swing:?}");
        certain += usize::from(!start.flagged);
    }
    assert!(certain >= 3, "{certain} of 4 starts are told without asking");
}
