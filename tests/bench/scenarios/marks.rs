//! Judges the mark in the ground alone: strike and ball are the true ones.

use std::fs::OpenOptions;
use std::io::Write;
use std::path::Path;

use anyhow::Result;
use scuffline::demo::{Condition, Scenario, Scene, Truth};
use scuffline::domain::{
    BallOutline, Found, FrameIndex, GroundMark, ImagePoint, MillimetresPerPixel, Pictures, Pixels,
    Seconds, Surface, SwingKind,
};
use scuffline::vision::{GroundMarkRequest, Steadying, find_ground_mark};

use crate::judge::{Outcome, Reading};

/// Below this a proposal is put before a person, unless they set another threshold.
const SURE_ENOUGH: f64 = 0.8;

/// Looks for the mark of each swing; one line of JSON a swing is added to `out`.
pub fn marks(conditions: &[Condition], seeds: std::ops::Range<u32>, out: &Path) -> Result<()> {
    let mut file = OpenOptions::new().create(true).append(true).open(out)?;
    for seed in seeds {
        for &condition in conditions {
            let mut scene = Scene::new(Scenario::draw(condition, seed));
            let truth = scene.truth();
            let mut steadying = Steadying::new(&mut scene)?;
            for k in 0..truth.swings.len() {
                let blank = Outcome {
                    condition: condition.name(),
                    seed,
                    swing: k,
                    real: true,
                    found: true,
                    kind_right: true,
                    frame_error: Some(0),
                    rate: scene.scenario().rate,
                    ..Outcome::default()
                };
                let outcome = one(&mut scene, &truth, &mut steadying, k, blank)?;
                writeln!(file, "{}", serde_json::to_string(&outcome)?)?;
            }
        }
    }
    Ok(())
}

fn one(
    scene: &mut Scene,
    truth: &Truth,
    steadying: &mut Steadying,
    k: usize,
    blank: Outcome,
) -> Result<Outcome> {
    let request = request(scene, truth, k);
    let found = find_ground_mark(scene, steadying, &request)?;
    let contact = truth.swings[k].contact.as_ref();
    let kind = contact.zip(scene.scenario().swings[k].mark.as_ref());
    let read = |i: usize, end: Option<Found<ImagePoint>>| {
        let truth = 1000.0 * contact?.seen?[i];
        let error = end.map(|e| offset(scene, k, e.value) - truth);
        let expanded = end.map(|e| 1.96 * e.sigma.hypot(found.steadying_sigma.0) * scale(scene));
        Some(Reading {
            truth,
            error,
            expanded,
            covered: error.zip(expanded).map(|(e, u)| e.abs() <= u),
            flagged: end.is_none_or(|e| e.confidence < SURE_ENOUGH),
        })
    };
    let sure = found.mark.is_some_and(|m| m.confidence >= SURE_ENOUGH);
    let touched = contact.is_some_and(|c| c.seen.is_some());
    let said = found.mark.is_some_and(|m| m.value != GroundMark::None);
    Ok(Outcome {
        mark_kind: kind.map_or("none", |(_, mark)| mark.kind.word()).to_owned(),
        mark_found: found.mark.map_or("?".into(), |m| format!("{:?}", m.value).to_lowercase()),
        start: read(0, found.start),
        end: read(1, found.end),
        contact_blunder: sure && said != touched,
        ..blank
    })
}

/// mm a pixel at the ball.
fn scale(scene: &Scene) -> f64 {
    1000.0 / scene.scenario().camera.pixels_per_metre(Default::default())
}

/// Where a picture's point lies along the target line, mm from the swing's origin.
fn offset(scene: &Scene, k: usize, p: ImagePoint) -> f64 {
    let scenario = scene.scenario();
    let x = scenario.camera.on_level(p, 0.0).map_or(f64::NAN, |w| w.x);
    1000.0 * (scenario.heading.sign() * x - scenario.swings[k].origin)
}

fn request(scene: &Scene, truth: &Truth, k: usize) -> GroundMarkRequest {
    let (scenario, timeline) = (scene.scenario(), scene.timeline());
    let swing = &truth.swings[k];
    let beside =
        |k: usize, off: f64| timeline.nearest_frame(Seconds(truth.swings[k].strike_time + off));
    let ball = swing.ball.map(|centre| BallOutline {
        centre,
        diameter: Pixels(42.67 / scale(scene)),
        diameter_sigma: Pixels(0.3),
    });
    GroundMarkRequest {
        strike_frame: swing.last_frame_before,
        heading: scenario.heading.sign(),
        ball,
        struck: swing.kind == SwingKind::Strike,
        origin: Some(swing.origin),
        earliest: if k == 0 { FrameIndex(0) } else { beside(k - 1, 1.5) },
        latest: match k + 1 < truth.swings.len() {
            true => beside(k + 1, -1.6),
            false => FrameIndex(timeline.len() - 1),
        },
        surface: Some(if scenario.ground.mat.is_some() { Surface::Mat } else { Surface::Turf }),
        scale: ball.is_none().then(|| MillimetresPerPixel(scale(scene))),
        along: None,
    }
}
