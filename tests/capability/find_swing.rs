//! Swings found without a click, in rendered recordings with exact truth.

use std::path::Path;

use std::sync::Arc;

use scuffline::demo::{Condition, Scenario, Scene, SwingTruth};
use scuffline::domain::{
    ColourFrame, FoundSwing, FrameIndex, GrayFrame, ImagePoint, PictureError, PictureSize,
    Pictures, Seconds, SwingKind, Timeline,
};
use scuffline::video::Recording;
use scuffline::vision::{Click, Hints, find_clicks, find_swings};
use scuffline::workflow::clicks_of;

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
    let clicks = clicks_of(&recording).unwrap();
    let found =
        find_swings(&mut recording, clicks.as_deref(), &Hints::default(), &mut |_| true).unwrap();
    check_found(name, &found, worst_ball);
}

fn check_found(name: &str, found: &[FoundSwing], worst_ball: f64) {
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

/// A recording as if it had been held in the hand: its picture sways by some pixels.
struct HandHeld {
    recording: Recording,
}

impl HandHeld {
    /// How far the picture has moved since the first frame, whole and parts of pixels.
    fn sway(&self, frame: usize) -> [f64; 2] {
        let at = |t: f64| {
            let turn = std::f64::consts::TAU * t;
            [4.0 * (0.6 * turn).sin() + 0.9 * (2.3 * turn).sin(), 2.5 * (0.5 * turn + 1.0).sin()]
        };
        let (now, first) = (at(self.timeline().time_of(FrameIndex(frame)).0), at(0.0));
        [now[0] - first[0], now[1] - first[1]]
    }

    /// One channel of a picture, moved by `sway`: bilinear, the border continued.
    fn moved(
        (width, height): (usize, usize),
        [dx, dy]: [f64; 2],
        at: impl Fn(usize, usize) -> u8,
    ) -> Vec<u8> {
        let mut data = Vec::with_capacity(width * height);
        for y in 0..height {
            for x in 0..width {
                let u = (x as f64 - dx).clamp(0.0, (width - 2) as f64);
                let v = (y as f64 - dy).clamp(0.0, (height - 2) as f64);
                let (i, j) = (u as usize, v as usize);
                let (fu, fv) = (u - i as f64, v - j as f64);
                let row =
                    |j: usize| f64::from(at(i, j)) * (1.0 - fu) + f64::from(at(i + 1, j)) * fu;
                data.push((row(j) * (1.0 - fv) + row(j + 1) * fv).round() as u8);
            }
        }
        data
    }
}

impl Pictures for HandHeld {
    fn timeline(&self) -> &Timeline {
        self.recording.timeline()
    }

    fn size(&self) -> PictureSize {
        self.recording.size()
    }

    fn gray(&mut self, frame: FrameIndex) -> Result<Arc<GrayFrame>, PictureError> {
        let seen = self.recording.gray(frame)?;
        let size = (seen.width, seen.height);
        let data = Self::moved(size, self.sway(frame.0), |x, y| seen.at(x, y));
        Ok(Arc::new(GrayFrame { width: seen.width, height: seen.height, data }))
    }

    fn colour(&mut self, frame: FrameIndex) -> Result<Arc<ColourFrame>, PictureError> {
        let seen = self.recording.colour(frame)?;
        let size = (seen.width, seen.height);
        let sway = self.sway(frame.0);
        let channels = [0, 1, 2].map(|c| Self::moved(size, sway, |x, y| seen.rgb(x, y)[c]));
        let data = (0..seen.width * seen.height)
            .flat_map(|i| [channels[0][i], channels[1][i], channels[2][i], 255])
            .collect();
        Ok(Arc::new(ColourFrame { width: seen.width, height: seen.height, data }))
    }
}

#[test]
fn a_picture_that_sways_in_the_hand() {
    let name = "iron_mat_stick";
    let mut pictures = HandHeld { recording: Recording::open(&path(name, "mp4")).unwrap() };
    let found = find_swings(&mut pictures, None, &Hints::default(), &mut |_| true).unwrap();
    let [truth] = &truth(name)[..] else { panic!("one swing") };
    let [swing] = &found[..] else { panic!("{found:?}") };
    assert_eq!(swing.kind.value, SwingKind::Strike);
    assert!(truth.frames.contains(&(swing.strike_frame.0 as i64)), "{:?}", swing.strike_frame);
    let ball = swing.ball.expect("a ball").value.centre;
    let off = ball.distance(truth.ball.expect("a true ball"));
    // Swaying by up to 15 pixels a second, it was off by 2 to 4 as long as the pictures about the
    // strike were not laid on each other.
    assert!(off < 0.8, "the ball is off by {off:.2} pixels");
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

/// Louder than any strike, while nothing passes a ball: claps, dropped clubs, the neighbours.
#[test]
fn claps_and_dropped_clubs_are_not_swings() {
    let name = "iron_four_swings";
    let mut recording = Recording::open(&path(name, "mp4")).unwrap();
    let mut clicks = clicks_of(&recording).unwrap().expect("a sound track");
    let strength = clicks.iter().map(|click| click.strength).fold(0.0, f64::max) + 6.0;
    for click in &mut clicks {
        click.loudness *= 0.5;
    }
    let struck = truth(name).into_iter().map(|truth| truth.time);
    let about = struck.flat_map(|time| [time - 0.8, time - 0.35, time + 0.5, time + 0.52]);
    let every = (0..20).map(|i| 0.7 + 1.37 * f64::from(i));
    let clap = |time| Click { time: Seconds(time), strength, loudness: 1.0 };
    clicks.extend(about.chain(every).map(clap));
    clicks.sort_by(|a, b| a.time.0.total_cmp(&b.time.0));
    let found =
        find_swings(&mut recording, Some(&clicks), &Hints::default(), &mut |_| true).unwrap();
    check_found(name, &found, 2.0);
}

/// A track on which no strike is to be heard: the picture alone tells.
#[test]
fn a_silent_sound_track() {
    let name = "iron_mat_stick";
    let mut recording = Recording::open(&path(name, "mp4")).unwrap();
    let found = find_swings(&mut recording, Some(&[]), &Hints::default(), &mut |_| true).unwrap();
    check_found(name, &found, 2.0);
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

/// In the golfer's shadow, between sunlit stretches, the ball is no brighter than what surrounds
/// it: it is found by its lack of colour.
#[test]
fn a_ball_in_the_golfers_shadow() {
    let (frame, right) = finds_strike_and_ball(Scenario::draw(Condition::LowSunBehind, 8));
    assert_eq!(frame, right.start);
}

/// Ends of another thing than the shaft bend its path away from the ball.
#[test]
fn a_ball_where_the_shafts_ends_stray() {
    // The contact is inside an exposure, whose frame counts as well.
    let (frame, right) = finds_strike_and_ball(Scenario::mixed(159));
    assert!(right.contains(&frame), "{frame:?}, not {right:?}");
}

/// A club head at rest is as bright as a ball, and gone from one picture to the next when it is
/// taken back.
#[test]
fn a_club_head_that_is_taken_back_is_no_strike() {
    let (swing, truth) = only_swing(Scenario::mixed(300));
    assert_eq!(swing.kind.value, SwingKind::Practice);
    assert!(swing.strike_frame.0.abs_diff(truth.last_frame_before.0) <= 2);
}

/// From so near that the third picture of the club shows but its foot, at the picture's side.
#[test]
fn a_club_that_is_out_of_the_picture_at_once_swings() {
    let (swing, truth) = only_swing(Scenario::mixed(713));
    assert_eq!(swing.kind.value, SwingKind::Practice);
    assert!(swing.strike_frame.0.abs_diff(truth.last_frame_before.0) <= 2);
}

/// From so near that it is at the left side in one picture and out at the right in the next, bent past
/// the upright by a rolling shutter in both.
#[test]
fn a_club_past_the_upright_in_both_pictures_it_crosses_swings() {
    let (swing, truth) = only_swing(Scenario::mixed(979));
    assert_eq!(swing.kind.value, SwingKind::Practice);
    assert!(swing.strike_frame.0.abs_diff(truth.last_frame_before.0) <= 2);
}

/// A rolling shutter bends the club past the upright while it is before the ball yet; and at 30 pictures
/// a second from very near it is near the ground in none, but on either side of the ball in turn.
#[test]
fn a_ball_whose_club_is_hardly_seen() {
    for seed in [1142, 1269] {
        let (frame, right) = finds_strike_and_ball(Scenario::mixed(seed));
        assert!(right.contains(&frame), "{seed}: {frame:?}, not {right:?}");
    }
}

/// A fairway wood whose dark head is lost in half of the pictures, and a driver, whose end comes out as
/// the hands go round: the head is followed at one height beside its true way.
#[test]
fn a_wood_is_followed_through_the_ball() {
    for seed in [1120, 1180] {
        let scenario = Scenario::mixed(seed);
        let truth = Scene::new(scenario.clone()).truth().to_json();
        let path = &truth["swings"][0]["club_path"];
        let first = path["frames"][0].as_u64().expect("a frame") as usize;
        let (swing, _) = only_swing(scenario);
        let off = swing.club_head.iter().map(|seen| {
            let height = path["px"][seen.frame.0 - first][1].as_f64().expect("a height");
            seen.point.y - height
        });
        let (least, most) = off.fold((f64::MAX, f64::MIN), |(l, m), off| (l.min(off), m.max(off)));
        assert!(swing.club_head.len() >= 4, "{seed}: {:?}", swing.club_head);
        assert!(most - least < 16.0, "{seed}: from {least:.1} to {most:.1}");
    }
}

/// In a long exposure the club is paler than its shadow, which is as fast and may be longer.
#[test]
fn a_club_plainer_in_its_shadow_than_in_itself_swings() {
    for seed in [851, 911] {
        let (swing, truth) = only_swing(Scenario::mixed(seed));
        assert_eq!(swing.kind.value, SwingKind::Practice, "{seed}");
        assert!(swing.strike_frame.0.abs_diff(truth.last_frame_before.0) <= 2, "{seed}");
    }
}

/// A piece of a chalk line that the club cuts off is as white as a ball and gone as fast.
#[test]
fn chalk_that_is_cut_off_is_no_ball() {
    let mut scene = Scene::new(Scenario::mixed(1117));
    let clicks = find_clicks(&scene.sound().expect("a sound track"));
    for heard in [Some(&clicks[..]), None] {
        let found = find_swings(&mut scene, heard, &Hints::default(), &mut |_| true).unwrap();
        let [swing] = &found[..] else { panic!("{found:?}") };
        assert!(swing.kind.confidence < 0.8, "{:?}", swing.kind);
        match heard {
            // No click is heard with it.
            Some(_) => assert_eq!((swing.kind.value, swing.ball), (SwingKind::Practice, None)),
            None => assert!(swing.ball.is_none_or(|ball| ball.confidence < 0.4)),
        }
    }
}

/// Between pictures the club's end goes from one side of the ball far to the other, and balls lie
/// about: that of the swing lies nearest to where the club was lowest.
#[test]
fn the_ball_of_a_practice_swing_among_others() {
    let (swing, truth) = only_swing(Scenario::mixed(1030));
    let ball = swing.ball.expect("a ball");
    let off = ball.value.centre.distance(truth.ball.expect("a true ball"));
    assert!(off < 1.0 && ball.confidence < 0.4, "off by {off:.2}, {}", ball.confidence);
}

/// A ball clicks; a club that meets the turf without one thuds.
#[test]
fn a_practice_swing_that_is_heard_in_the_turf_is_sure() {
    let mut scene = Scene::new(Scenario::draw(Condition::PracticeNoBall, 3));
    let sound = scene.sound().expect("a sound track");
    let loudest = sound.samples.iter().fold(0.0_f32, |most, s| most.max(s.abs()));
    assert!(loudest > 0.05, "the thud is {loudest}");
    let clicks = find_clicks(&sound);
    let found = find_swings(&mut scene, Some(&clicks), &Hints::default(), &mut |_| true).unwrap();
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].kind.value, SwingKind::Practice);
    assert!(found[0].kind.confidence > 0.9, "{:?}", found[0].kind);
}

/// The strike frame that is found, and those that are right.
fn finds_strike_and_ball(scenario: Scenario) -> (FrameIndex, std::ops::Range<FrameIndex>) {
    let (swing, truth) = only_swing(scenario);
    assert_eq!(swing.kind.value, SwingKind::Strike);
    let ball = swing.ball.expect("a ball").value.centre;
    let off = ball.distance(truth.ball.expect("a true ball"));
    assert!(off < 1.0, "the ball is off by {off:.2} pixels");
    (swing.strike_frame, truth.last_frame_before..truth.first_frame_after)
}

/// The one swing that is found in a silent scene that has one.
fn only_swing(scenario: Scenario) -> (FoundSwing, SwingTruth) {
    let mut scene = Scene::new(scenario);
    let mut truth = scene.truth();
    let mut found = find_swings(&mut scene, None, &Hints::default(), &mut |_| true).unwrap();
    assert_eq!((truth.swings.len(), found.len()), (1, 1), "{found:?}");
    (found.remove(0), truth.swings.remove(0))
}
