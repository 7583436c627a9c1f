//! Steadying: a picture that drifts is followed to a fraction of a pixel.

use scuffline::domain::{FrameIndex, ImagePoint, Mark, Pictures, Setup, SwingMarks};
use scuffline::video::Recording;
use scuffline::vision::Steadying;
use scuffline::workflow::steadied_setup;

use crate::support::{sample, sample_truth};

fn open(name: &str) -> Recording {
    Recording::open(&sample(name)).expect("the sample footage opens")
}

fn true_shifts(name: &str) -> Vec<[f64; 2]> {
    let shifts = sample_truth(name)["frame_shift_px"].clone();
    serde_json::from_value(shifts).expect("one shift a frame")
}

#[test]
fn a_drifting_tripod_is_followed() {
    let mut recording = open("drifting_tripod.mp4");
    let shifts = true_shifts("drifting_tripod.truth.json");
    let mut steadying = Steadying::new(&mut recording).unwrap();
    let ground = ImagePoint::new(660.0, 580.0);
    for frame in (0..recording.timeline().len()).step_by(13) {
        let motion = steadying.motion(&mut recording, FrameIndex(frame)).unwrap();
        let seen = motion.from_first(ground);
        let [dx, dy] = [0, 1].map(|k| shifts[frame][k] - shifts[0][k]);
        let error = (seen.x - ground.x - dx).hypot(seen.y - ground.y - dy);
        assert!(motion.is_trusted, "frame {frame} is lost");
        assert!(error < 0.2, "frame {frame}: off by {error:.3} px");
        assert!(error <= 3.0 * motion.sigma_at(ground).0, "frame {frame}: ± too small");
        assert!(motion.to_first(seen).distance(ground) < 1e-9);
    }
    assert!(steadying.largest_shift().0 > 0.5, "the drift is seen");
    assert!(steadying.warning().is_none());
}

#[test]
fn a_tripod_that_stands_still_is_left_alone() {
    let mut recording = open("iron_turf_sheet.mp4");
    let mut steadying = Steadying::new(&mut recording).unwrap();
    for frame in [60, 180, 190, 300] {
        let motion = steadying.motion(&mut recording, FrameIndex(frame)).unwrap();
        assert!(motion.is_trusted && motion.shift().0 < 0.05, "frame {frame}: {motion:?}");
    }
}

#[test]
fn marks_of_several_frames_carry_the_registers_doubt() {
    let mut recording = open("drifting_tripod.mp4");
    let shifts = true_shifts("drifting_tripod.truth.json");
    let last = recording.timeline().len() - 1;
    let ground = ImagePoint::new(660.0, 580.0);
    let mut steadied = |frames: [usize; 2]| {
        let [ball, start] = frames.map(|frame| {
            let point = ground.moved(shifts[frame][0], shifts[frame][1]);
            Some(Mark { point, frame: Some(FrameIndex(frame)) })
        });
        let swing = SwingMarks { ball, divot_start: start, ..SwingMarks::default() };
        let setup = Setup { swings: vec![swing], ..Setup::default() };
        steadied_setup(&setup, &mut recording).unwrap().0.swings.remove(0)
    };
    assert_eq!(steadied([last, last]).steadying.0, 0.0);
    // What stands in for the ball of every swing counts like a swing's own.
    let shared = Setup {
        origin: Some(Mark { point: ground, frame: Some(FrameIndex(0)) }),
        swings: vec![SwingMarks {
            divot_start: Some(Mark { point: ground, frame: Some(FrameIndex(last)) }),
            ..SwingMarks::default()
        }],
        ..Setup::default()
    };
    let (practice, _) = steadied_setup(&shared, &mut open("drifting_tripod.mp4")).unwrap();
    assert!(practice.swings[0].steadying.0 > 0.01, "{:?}", practice.swings[0].steadying);
    let apart = steadied([0, last]);
    let off = apart.ball.unwrap().point.distance(apart.divot_start.unwrap().point);
    assert!((0.01..0.3).contains(&apart.steadying.0), "{:?}", apart.steadying);
    assert!(off <= 3.0 * apart.steadying.0, "{off:.3} px, ± {:?}", apart.steadying);
}
