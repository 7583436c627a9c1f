//! Swings found without a click, in rendered recordings with exact truth.

use std::path::Path;

use scuffline::domain::{ImagePoint, SwingKind};
use scuffline::video::Recording;
use scuffline::vision::{Hints, find_swings};

/// What the truth file of a recording says about one swing.
struct Truth {
    time: f64,
    kind: SwingKind,
    /// Right answers for the last frame before contact.
    frames: Vec<i64>,
    ball: Option<ImagePoint>,
}

fn truth(name: &str) -> Vec<Truth> {
    let text = std::fs::read_to_string(path(name, "truth.json")).unwrap();
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    let swings = value["swings"].as_array().unwrap();
    swings
        .iter()
        .map(|s| {
            let strike = &s["strike"];
            let frame = strike["last_frame_before_contact"].as_i64().unwrap();
            let mut frames = vec![frame];
            frames.extend(strike["contact_inside_exposure_of_frame"].as_i64());
            let struck = s["kind"] == "strike";
            if !struck {
                frames = (frame - 2..=frame + 2).collect();
            }
            Truth {
                time: strike["time_s"].as_f64().unwrap(),
                kind: if struck { SwingKind::Strike } else { SwingKind::Practice },
                frames,
                ball: serde_json::from_value(s["ball"]["centre_px"].clone()).ok(),
            }
        })
        .collect()
}

fn path(name: &str, ending: &str) -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-frames").join(format!("{name}.{ending}"))
}

fn check(name: &str, worst_ball: f64) {
    let mut recording = Recording::open(&path(name, "mp4")).unwrap();
    let sound = recording.sound().unwrap();
    let found =
        find_swings(&mut recording, sound.as_ref(), &Hints::default(), &mut |_| true).unwrap();
    let expected = truth(name);
    assert_eq!(found.len(), expected.len(), "{name}: {found:?}");
    for (swing, truth) in found.iter().zip(&expected) {
        let (time, frame) = (swing.strike_time.value.0, swing.strike_frame.0 as i64);
        assert_eq!(swing.kind.value, truth.kind, "{name} at {time}");
        assert!(truth.frames.contains(&frame), "{name}: frame {frame}, not {:?}", truth.frames);
        assert!((time - truth.time).abs() < 0.05, "{name}: {time}, not {}", truth.time);
        let off = match (swing.ball, truth.ball) {
            (Some(ball), Some(at)) => ball.value.centre.distance(at),
            (None, None) => 0.0,
            (ball, _) => panic!("{name} at {time}: ball {ball:?}"),
        };
        assert!(off < worst_ball, "{name} at {time}: ball off by {off:.2} px");
    }
}

#[test]
fn a_strike_of_a_right_handed_golfer() {
    check("iron_turf_sheet", 2.0);
}

#[test]
fn a_strike_of_a_left_handed_golfer() {
    check("left_handed", 1.0);
}

#[test]
fn a_practice_swing_without_a_ball() {
    check("chalk_practice", 1.0);
}

#[test]
fn a_ball_on_a_tee() {
    check("driver_tee", 1.0);
}

#[test]
fn several_swings_in_one_recording() {
    check("iron_four_swings", 1.0);
}

#[test]
fn a_portrait_picture_and_flat_light() {
    check("portrait", 1.0);
}

#[test]
fn a_mat_with_sixty_frames_a_second() {
    check("iron_mat_stick", 1.0);
}

#[test]
fn a_drifting_tripod() {
    check("drifting_tripod", 1.0);
}

#[test]
fn a_sheets_corners_are_proposed() {
    use scuffline::domain::{FrameIndex, Pictures};
    for (name, tolerance) in [("iron_turf_sheet", 2.0), ("left_handed", 1.0), ("portrait", 1.0)] {
        let mut recording = Recording::open(&path(name, "mp4")).unwrap();
        let frame = recording.gray(FrameIndex(0)).unwrap();
        let sheets = scuffline::vision::find_sheets(&frame);
        let text = std::fs::read_to_string(path(name, "truth.json")).unwrap();
        let value: serde_json::Value = serde_json::from_str(&text).unwrap();
        let objects = value["reference_objects"].as_array().unwrap();
        let sheet = objects.iter().find(|o| o["kind"] == "sheet").unwrap();
        let corners: [ImagePoint; 4] = serde_json::from_value(sheet["corners_px"].clone()).unwrap();
        let found = sheets.first().unwrap_or_else(|| panic!("{name}: no sheet"));
        for corner in corners {
            let nearest = found.value.corners.map(|c| c.distance(corner));
            let off = nearest.into_iter().fold(f64::MAX, f64::min);
            assert!(off < tolerance, "{name}: a corner is off by {off:.2} px");
        }
    }
}
