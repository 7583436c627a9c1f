//! How near given marks come to the truth, and how often the ± keeps its word, over a folder of
//! truth files: marks and references are the true ones moved by normal noise. No picture is read.
//!
//! ```text
//! cargo run --example bench-given-marks -- FOLDER [DRAWS] [NOISE_PX]      50 draws of 0.5 px
//! ```

use std::path::{Path, PathBuf};

use anyhow::{Context, Result, ensure};
use scuffline::domain::{Measured, Pixels, Reference};
use scuffline::geometry::{
    CalibrationRequest, GroundView, ImageMark, OffsetRequest, Origin, calibrate, expand,
    measure_offset,
};

#[allow(dead_code, reason = "the tests use more of it")]
#[path = "../capability/support/noise.rs"]
mod noise;
#[allow(dead_code, reason = "the tests use more of it")]
#[path = "../capability/support/truth.rs"]
mod truth;

use noise::Noise;
use truth::{SwingTruth, Truth};

/// Errors of divot start and end, and how many intervals held the truth.
#[derive(Default)]
struct Tally {
    errors: [Vec<f64>; 2],
    halves: [Vec<f64>; 2],
    held: [usize; 2],
}

fn main() -> Result<()> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let folder = words.first().context("Say which folder holds the truth files.")?;
    let draws = words.get(1).map_or(Ok(50), |w| w.parse())?;
    let sigma = words.get(2).map_or(Ok(0.5), |w| w.parse())?;
    let (mut exact, mut sheets, mut others) =
        (Tally::default(), Tally::default(), Tally::default());
    let files = truth_files(Path::new(folder))?;
    ensure!(!files.is_empty(), "There are no truth files (NAME.truth.json) in {folder}.");
    for file in files {
        let scene = Truth(serde_json::from_str(&std::fs::read_to_string(&file)?)?);
        for swing in scene.swings().iter().filter(|swing| swing.mark_offsets().is_some()) {
            for seed in 0..draws {
                let (exact, noisy) = match scene.has_sheet() {
                    true => (Some(&mut exact), &mut sheets),
                    false => (None, &mut others),
                };
                draw(&scene, swing, seed, sigma, exact, noisy)?;
            }
        }
    }
    println!("given marks ± {sigma} px (SD), {draws} draws a mark; mm");
    exact.print("sheet exact, marks noisy");
    sheets.print("sheet, marks and corners noisy");
    others.print("stick or pair of lines, marks and ends noisy");
    Ok(())
}

fn truth_files(folder: &Path) -> Result<Vec<PathBuf>> {
    let entries = std::fs::read_dir(folder)?.collect::<std::io::Result<Vec<_>>>()?;
    let mut files: Vec<PathBuf> = entries.into_iter().map(|entry| entry.path()).collect();
    files.retain(|path| path.to_string_lossy().ends_with(".truth.json"));
    files.sort();
    Ok(files)
}

fn draw(
    scene: &Truth,
    swing: &SwingTruth,
    seed: u64,
    sigma: f64,
    exact: Option<&mut Tally>,
    noisy: &mut Tally,
) -> Result<()> {
    let mut noise = Noise::new(seed);
    let mut references = scene.references();
    if references.is_empty() {
        return Ok(());
    }
    let click = |noise: &mut Noise, p| ImageMark {
        point: noise.moved(p, sigma),
        sigma: [Pixels(sigma); 2],
    };
    let origin = match swing.ball() {
        Some(centre) => Origin::Ball { centre: click(&mut noise, centre), on_tee: swing.on_tee() },
        // On the mark's own line, as a chalk line under the swing would be crossed by it.
        None => {
            let x = swing.number(&["reference_x_m"]).context("a practice swing's zero")?;
            let y = swing.0["ground_contact"]["start_m"][1].as_f64().context("a start")?;
            Origin::Ground(click(&mut noise, scene.project([x, y, 0.0])))
        }
    };
    let (Some(marks), Some(offsets)) = (swing.mark(), swing.mark_offsets()) else { return Ok(()) };
    let marks = marks.map(|p| click(&mut noise, p));
    if let Some(tally) = exact {
        tally.add(&view(scene, &references, &origin)?, &origin, &marks, offsets)?;
    }
    for reference in &mut references {
        reference.point_sigma = Some(Pixels(sigma));
        for p in reference.kind.points_mut() {
            *p = noise.moved(*p, sigma);
        }
    }
    noisy.add(&view(scene, &references, &origin)?, &origin, &marks, offsets)
}

fn view(scene: &Truth, references: &[Reference], origin: &Origin) -> Result<GroundView> {
    Ok(calibrate(&CalibrationRequest {
        size: scene.size(),
        references,
        target_line: None,
        direction: scene.direction(),
        about: Some(origin.place()),
        lens: None,
    })?)
}

impl Tally {
    fn add(
        &mut self,
        view: &GroundView,
        origin: &Origin,
        marks: &[ImageMark; 2],
        offsets: [f64; 2],
    ) -> Result<()> {
        for (i, (mark, want)) in marks.iter().zip(offsets).enumerate() {
            let struck = !matches!(origin, Origin::Ground(_));
            let steadying = Pixels(0.0);
            let request = OffsetRequest { view, mark, origin, struck, steadying };
            let got: Measured = measure_offset(&request)?;
            let interval = expand(&got);
            self.errors[i].push((got.value - want).abs());
            self.halves[i].push(interval.half_width());
            self.held[i] += usize::from(interval.contains(want));
        }
        Ok(())
    }

    fn print(&mut self, title: &str) {
        let median = |values: &mut Vec<f64>| {
            values.sort_by(f64::total_cmp);
            values.get(values.len() / 2).copied()
        };
        for (i, what) in ["divot start", "divot end"].into_iter().enumerate() {
            let all = self.errors[i].len();
            let middle = (median(&mut self.errors[i]), median(&mut self.halves[i]));
            let (Some(error), Some(half)) = middle else { continue };
            let share = 100.0 * self.held[i] as f64 / all as f64;
            println!(
                "{title}: {what}: {all}, median error {error:.2}, median ± {half:.2}, held {share:.1} %"
            );
        }
    }
}
