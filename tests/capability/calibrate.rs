//! Marks in the picture become millimetres on the ground, with a true ±.

use scuffline::domain::{ImagePoint, Pixels};
use scuffline::geometry::{
    CalibrationRequest, GroundView, ImageMark, Origin, calibrate, expand, measure_offset,
};

use crate::support::truth::{SCENES, SwingTruth, Truth, truth};

/// The scene's calibration from its own true reference points.
fn view_of(scene: &Truth, about: ImagePoint) -> GroundView {
    let references = scene.references();
    calibrate(&CalibrationRequest {
        size: scene.size(),
        references: &references,
        target_line: None,
        direction: scene.direction(),
        about: Some(about),
        lens: None,
    })
    .unwrap()
}

/// The ball as a person marks it; for a practice swing the point that stands in for it.
fn origin_of(scene: &Truth, swing: &SwingTruth) -> Origin {
    let x = swing.number(&["reference_x_m"]).unwrap();
    match swing.ball() {
        Some(centre) => Origin::Ball { centre: ImageMark::click(centre), on_tee: swing.on_tee() },
        // On the mark's own line, as a chalk line under the swing would be crossed by it.
        None => {
            let y = swing.0["ground_contact"]["start_m"][1].as_f64().unwrap();
            Origin::Ground(ImageMark::click(scene.project([x, y, 0.0])))
        }
    }
}

#[test]
fn divot_start_within_four_millimetres_on_every_sheet() {
    // Truth of the rendered sample footage; true picture points as clicks.
    for name in SCENES {
        let scene = truth(name);
        for swing in scene.swings() {
            let (Some(mark), Some(offsets)) = (swing.mark(), swing.mark_offsets()) else {
                continue;
            };
            let origin = origin_of(&scene, &swing);
            let view = view_of(&scene, origin.mark().point);
            for (point, want) in mark.into_iter().zip(offsets) {
                let got =
                    measure_offset(&view, &ImageMark::click(point), &origin, Pixels(0.0)).unwrap();
                let interval = expand(&got);
                assert!(interval.contains(want), "{name}: {} {interval:?} {want}", got.value);
                if scene.has_sheet() {
                    assert!((got.value - want).abs() < 4.0, "{name}: {} {want}", got.value);
                }
            }
        }
    }
}
