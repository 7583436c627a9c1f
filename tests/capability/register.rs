//! Steadying: a picture that drifts is followed to a fraction of a pixel.

use scuffline::domain::{
    FrameIndex, ImagePoint, Mark, Millimetres, Pictures, Reference, ReferenceKind, Register, Setup,
    SwingMarks,
};
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
            Some(Mark::read_in(point, Some(FrameIndex(frame))))
        });
        let swing = SwingMarks { ball, divot_start: start, ..SwingMarks::default() };
        let setup = Setup { swings: vec![swing], ..Setup::default() };
        let swing = steadied_setup(&setup, &mut recording).unwrap().0.swings.remove(0);
        [swing.ball.unwrap(), swing.divot_start.unwrap()]
    };
    let between = |[one, other]: [Mark; 2]| Register::between(one.register, other.register).0;
    assert_eq!(between(steadied([last, last])), 0.0);
    // In the steadied picture itself nothing was moved.
    let [still, moved] = steadied([0, last]);
    assert_eq!(Register::between(Mark::steadied(ground).register, still.register).0, 0.0);
    let off = still.point.distance(moved.point);
    let sigma = between([still, moved]);
    assert!((0.01..0.3).contains(&sigma), "{sigma}");
    assert!(off <= 3.0 * sigma, "{off:.3} px, ± {sigma}");
}

#[test]
fn what_the_whole_recording_shares_carries_the_registers_doubt_too() {
    let mut recording = open("drifting_tripod.mp4");
    let last = recording.timeline().len() - 1;
    let read = |x: f64| Mark::read_in(ImagePoint::new(x, 580.0), Some(FrameIndex(last)));
    let stick = Reference {
        kind: ReferenceKind::Line {
            length: Millimetres(1000.0),
            ends: [ImagePoint::new(400.0, 580.0), ImagePoint::new(900.0, 580.0)],
        },
        height: Millimetres(8.0),
        along_target: true,
        frame: Some(FrameIndex(last)),
        point_sigma: None,
    };
    let setup = Setup {
        origin: Some(read(660.0)),
        reach_line: Some(read(700.0)),
        target_line: Some([read(300.0), read(900.0)]),
        straight_edges: vec![vec![read(300.0), read(600.0), read(900.0)]],
        references: vec![stick],
        swings: vec![SwingMarks {
            club_head: [(FrameIndex(last), read(650.0))].into(),
            heels: [Some(read(640.0)), None],
            ..SwingMarks::default()
        }],
        ..Setup::default()
    };
    let (steadied, _) = steadied_setup(&setup, &mut recording).unwrap();
    let swing = &steadied.swings[0];
    let line = steadied.target_line.unwrap();
    let marks = [steadied.origin, steadied.reach_line, swing.heels[0]];
    let marks = marks.into_iter().flatten().chain(line).chain(steadied.straight_edges[0].clone());
    for mark in marks.chain(swing.club_head.values().copied()) {
        let sigma = mark.register_sigma().0;
        assert!((0.01..0.5).contains(&sigma), "{mark:?}");
    }
    let sigma = steadied.references[0].point_sigma.expect("clicks and register");
    assert!((0.501..0.8).contains(&sigma.0), "{sigma:?}");
}
