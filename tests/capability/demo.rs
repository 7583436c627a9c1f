//! Invented scenes: what is drawn is what the truth says.

use scuffline::demo::{Condition, Faults, MarkKind, Scenario, Scene};
use scuffline::domain::{Direction, FrameIndex, GrayFrame, ImagePoint, Pictures};

const SEEDS: std::ops::Range<u32> = 1..7;

/// A scenario with a flawless picture.
fn flawless(condition: Condition, seed: u32) -> Scenario {
    let mut scenario = Scenario::draw(condition, seed);
    scenario.faults = Faults {
        noise: [0.0; 2],
        quantiser: 0.0,
        exposure_drift: None,
        shake: [0.0; 2],
        moving_shadow: None,
    };
    scenario
}

/// The centroid of what is brighter than `limit` within `reach` of `around`.
fn bright_centroid(
    picture: &GrayFrame,
    around: ImagePoint,
    reach: f64,
    limit: u8,
) -> Option<ImagePoint> {
    let (mut sum, mut x, mut y) = (0.0, 0.0, 0.0);
    for row in 0..picture.height {
        for column in 0..picture.width {
            let here = ImagePoint::new(column as f64, row as f64);
            let light = picture.at(column, row);
            if here.distance(around) < reach && light > limit {
                let weight = f64::from(light - limit);
                (sum, x, y) = (sum + weight, x + weight * here.x, y + weight * here.y);
            }
        }
    }
    (sum > 0.0).then(|| ImagePoint::new(x / sum, y / sum))
}

#[test]
fn the_same_scenario_gives_the_same_pictures() {
    let picture = |seed| {
        let mut scene = Scene::new(Scenario::draw(Condition::Small480, seed));
        (*scene.gray(FrameIndex(60)).expect("a frame")).clone()
    };
    assert_eq!(picture(3), picture(3));
    assert_ne!(picture(3), picture(4));
}

#[test]
fn every_condition_makes_sense() {
    for condition in Condition::ALL {
        for seed in SEEDS {
            let scenario = Scenario::draw(condition, seed);
            let truth = scuffline::demo::Truth::of(&scenario);
            for (swing, told) in truth.swings.iter().zip(&scenario.swings) {
                let name = &scenario.name;
                let shows = swing.origin;
                assert!((0.0..scenario.size.width as f64).contains(&shows.x), "{name}");
                assert!((0.0..scenario.size.height as f64).contains(&shows.y), "{name}");
                assert!(swing.last_frame_before < swing.first_frame_after, "{name}");
                assert_eq!(swing.contact.is_some(), told.arc.low.z < 0.0, "{name}");
                if told.struck {
                    let ball = told.ball.expect("a struck ball");
                    let edge = told.arc.at(told.strike_angle());
                    let behind = ball.at[0] - edge.x;
                    assert!((0.0..0.025).contains(&behind), "{name}: edge {behind} behind");
                }
            }
            assert!(scenario.ticks.windows(2).all(|pair| pair[0] < pair[1]));
        }
    }
}

#[test]
fn the_ball_shows_where_the_truth_says_until_it_is_struck() {
    for (condition, seed) in
        [(Condition::DriverTee, 1), (Condition::LeftHanded, 2), (Condition::Mat, 3)]
    {
        let mut scene = Scene::new(flawless(condition, seed));
        let truth = scene.truth();
        let ball = truth.swings[0].ball.expect("a ball");
        let width = 0.04267 * scene.scenario().camera.pixels_per_metre(Default::default());
        let at = |scene: &mut Scene, frame: usize, limit: u8| {
            let picture = scene.gray(FrameIndex(frame)).expect("a frame");
            bright_centroid(&picture, ball, 0.55 * width, limit)
        };
        let before = at(&mut scene, truth.swings[0].last_frame_before.0, 130).expect("the ball");
        // Its lower side is darker, so the centroid lies a little high.
        assert!((before.x - ball.x).abs() < 0.12 * width, "{before:?} {ball:?}");
        assert!((before.y - ball.y).abs() < 0.15 * width, "{before:?} {ball:?}");
        let after = truth.swings[0].first_frame_after.0 + scene.scenario().rate as usize / 30;
        // A tee may be left; it is darker.
        assert_eq!(at(&mut scene, after, 205), None, "{condition:?}");
    }
}

#[test]
fn a_struck_ball_flies_toward_the_target() {
    for (condition, side) in [(Condition::Plain, 1.0), (Condition::LeftHanded, -1.0)] {
        let mut scene = Scene::new(flawless(condition, 5));
        let truth = scene.truth();
        let ball = truth.swings[0].ball.expect("a ball");
        let expected = if side > 0.0 { Direction::Right } else { Direction::Left };
        assert_eq!(scene.scenario().heading, expected);
        let width = 0.04267 * scene.scenario().camera.pixels_per_metre(Default::default());
        let frame = FrameIndex(truth.swings[0].first_frame_after.0 + 1);
        let before = scene.gray(FrameIndex(0)).expect("a frame");
        let mut after = (*scene.gray(frame).expect("a frame")).clone();
        for (a, b) in after.data.iter_mut().zip(&before.data) {
            *a = a.saturating_sub(*b);
        }
        let ahead = ball.moved(side * 7.0 * width, -4.0 * width);
        assert!(bright_centroid(&after, ahead, 6.0 * width, 60).is_some(), "{condition:?}");
    }
}

/// How the mark shows in the noise-free picture: the mean change per millimetre along the
/// target line in the middle of the mark's seen width, read through the scene's own camera.
fn profile(scene: &mut Scene, swing: usize) -> Vec<(f64, f64)> {
    let last = scene.timeline().len() - 2;
    let scenario = scene.scenario().clone();
    // In the downswing the club is clear of the ground.
    let top = scenario.swings[swing].strike_time - 0.25;
    let top = scene.timeline().nearest_frame(scuffline::domain::Seconds(top));
    let before = scene.gray(top).expect("a frame");
    let after = scene.gray(FrameIndex(last)).expect("a frame");
    let mark = scenario.swings[swing].mark.clone().expect("a mark");
    let slope = scenario.camera.centre.z / scenario.camera.centre.y.abs();
    let hidden = (0.5 * scenario.ground.grass_height / slope).min(0.02);
    let [near, far] = mark.seen_width(hidden);
    let from = 1000.0 * (mark.start - 0.03);
    let steps = (1000.0 * (mark.end - mark.start) + 60.0) as usize;
    (0..steps)
        .map(|i| {
            let s = from + i as f64;
            let lines = 9;
            let change = |k: usize| {
                let y = near + (far - near) * (0.25 + 0.5 * (k as f64 + 0.5) / f64::from(lines));
                let world = [scenario.heading.sign() * s / 1000.0, y, 0.0];
                let p = scenario.camera.project(world.into()).expect("in front");
                smooth(&after, p) - smooth(&before, p)
            };
            (s, (0..lines as usize).map(change).sum::<f64>() / f64::from(lines))
        })
        .collect()
}

/// Between pixels, linearly.
fn smooth(picture: &GrayFrame, p: ImagePoint) -> f64 {
    let (x, y) = (p.x.floor() as usize, p.y.floor() as usize);
    let (u, v) = (p.x - x as f64, p.y - y as f64);
    let at = |dx: usize, dy: usize| f64::from(picture.at(x + dx, y + dy));
    (at(0, 0) * (1.0 - u) + at(1, 0) * u) * (1.0 - v) + (at(0, 1) * (1.0 - u) + at(1, 1) * u) * v
}

#[test]
fn a_mark_is_seen_to_begin_and_end_where_the_truth_says() {
    let mut compared = 0;
    for seed in 1..5 {
        for condition in [Condition::PracticeNoBall, Condition::FatAndLong, Condition::Small480] {
            let mut scenario = flawless(condition, seed);
            // Nothing else may change where the mark is.
            scenario.ground.shadow = 0.0;
            scenario.swings.iter_mut().for_each(|s| (s.ball, s.struck) = (None, false));
            scenario.swings.iter_mut().for_each(|s| (s.crumbs, s.turf_flies) = (0, false));
            // Dark soil, since only brightness is compared here.
            let darken = |m: &mut scuffline::demo::CutMark| m.soil = [0.02, 0.012, 0.008];
            scenario.swings.iter_mut().filter_map(|s| s.mark.as_mut()).for_each(darken);
            let mut scene = Scene::new(scenario);
            let truth = scene.truth();
            let origin = 1000.0 * scene.scenario().swings[0].origin;
            let Some(seen) = truth.swings[0].contact.as_ref().and_then(|c| c.seen) else {
                continue;
            };
            if scene.scenario().swings[0].mark.as_ref().map(|m| m.kind) != Some(MarkKind::Divot) {
                continue;
            }
            let profile = profile(&mut scene, 0);
            let middle = &profile[profile.len() * 2 / 5..profile.len() * 3 / 5];
            let inner = middle.iter().map(|p| p.1).sum::<f64>() / middle.len() as f64;
            let inside = |p: &&(f64, f64)| p.1 / inner > 0.5;
            let start = profile.iter().find(inside).expect("a start").0 - origin;
            let end = profile.iter().rfind(inside).expect("an end").0 - origin;
            let pixel = scene.scenario().camera.pixels_per_metre(Default::default()) / 1000.0;
            let allowed = 3.0 + 1.0 / pixel;
            assert!(
                (start - 1000.0 * seen[0]).abs() < allowed,
                "{condition:?} {seed}: {start} {seen:?}"
            );
            assert!(
                (end - 1000.0 * seen[1]).abs() < allowed + 2.0,
                "{condition:?} {seed}: {end} {seen:?}"
            );
            compared += 1;
        }
    }
    assert!(compared >= 8, "{compared}");
}

#[test]
fn truth_files_are_consistent_in_themselves() {
    let scene = Scene::new(flawless(Condition::LeftHanded, 2));
    let truth = scene.truth().to_json();
    let camera = &truth["camera"];
    let number = |v: &serde_json::Value| v.as_f64().expect("a number");
    // The projection with radial distortion as every handbook has it.
    let show = |m: &serde_json::Value| {
        let cam = [0, 1, 2].map(|r| {
            let row = &camera["R_world_to_cam"][r];
            (0..3).map(|c| number(&row[c]) * number(&m[c])).sum::<f64>() + number(&camera["t"][r])
        });
        let (x, y) = (cam[0] / cam[2], cam[1] / cam[2]);
        let bend = 1.0 + number(&camera["dist"][0]) * (x * x + y * y);
        let k = &camera["K"];
        let u = number(&k[0][0]) * x * bend + number(&k[0][2]);
        ImagePoint::new(u, number(&k[1][1]) * y * bend + number(&k[1][2]))
    };
    let swing = &truth["swings"][0];
    let pairs = [
        (&swing["ball"]["centre_m"], &swing["ball"]["centre_px"]),
        (&swing["ground_contact"]["start_m"], &swing["ground_contact"]["start_px"]),
        (&swing["low_point"]["point_m"], &swing["low_point"]["px"]),
        (
            &truth["reference_objects"][0]["corners_m"][2],
            &truth["reference_objects"][0]["corners_px"][2],
        ),
    ];
    for (m, px) in pairs {
        let shown = ImagePoint::new(number(&px[0]), number(&px[1]));
        assert!(show(m).distance(shown) < 1e-6, "{m} {px}");
    }
    let start = number(&swing["ground_contact"]["start_m"][0]) - number(&swing["reference_x_m"]);
    let offset = number(&swing["ground_contact"]["start_offset_from_ball_m"]);
    assert!((start + offset).abs() < 1e-12, "a left-hander's target is at -x");
}

#[test]
fn the_click_is_heard_when_the_truth_says() {
    let mut scenario = flawless(Condition::Plain, 4);
    let scape = scenario.sound.as_mut().expect("sound");
    scape.neighbours.clear();
    let lag = scape.lag;
    let scene = Scene::new(scenario);
    let sound = scene.sound().expect("sound");
    let loud = sound.samples.iter().position(|s| s.abs() > 0.25).expect("a click");
    let heard = sound.start.0 + loud as f64 / f64::from(sound.rate);
    let told = scene.truth().to_json()["swings"][0]["strike"]["sound_arrival_s"].as_f64();
    let told = told.expect("a time") + lag;
    assert!((0.0..0.001).contains(&(heard - told)), "{heard} {told}");
}
