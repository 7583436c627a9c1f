//! Steadying: a picture that drifts is followed to a fraction of a pixel.

use scuffline::domain::{FrameIndex, ImagePoint, Pictures};
use scuffline::video::Recording;
use scuffline::vision::Steadying;

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
