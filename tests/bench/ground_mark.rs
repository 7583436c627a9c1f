//! Judges the mark in the ground alone: strike and ball come from the truth files of rendered
//! footage, start and end are compared with what a perfect reader of the picture would mark.
//!
//! `cargo run --example bench-ground-mark -- FOLDER... [--only PART]`

use std::path::{Path, PathBuf};

use scuffline::domain::{
    BallOutline, FrameIndex, ImagePoint, MillimetresPerPixel, Pictures, Pixels, Seconds, Surface,
};
use scuffline::video::Recording;
use scuffline::vision::{GroundMarkFinding, GroundMarkRequest, Steadying, find_ground_mark};
use serde_json::Value;

fn main() -> anyhow::Result<()> {
    let mut arguments: Vec<String> = std::env::args().skip(1).collect();
    let only = match arguments.iter().position(|a| a == "--only") {
        Some(i) => arguments.drain(i..).nth(1).unwrap_or_default(),
        None => String::new(),
    };
    let mut ends: [Vec<[f64; 2]>; 2] = [Vec::new(), Vec::new()];
    let mut wrong = 0;
    for folder in &arguments {
        for truth in truth_files(Path::new(folder))? {
            if truth.to_string_lossy().contains(&only) {
                wrong += judge(&truth, &mut ends)?;
            }
        }
    }
    for (name, errors) in ["start", "end"].iter().zip(&ends) {
        summarise(name, errors);
    }
    println!("wrong kinds {wrong}");
    Ok(())
}

fn truth_files(folder: &Path) -> anyhow::Result<Vec<PathBuf>> {
    let entries = std::fs::read_dir(folder)?.collect::<Result<Vec<_>, _>>()?;
    let mut files: Vec<PathBuf> = entries.into_iter().map(|e| e.path()).collect();
    files.retain(|p| p.to_string_lossy().ends_with(".truth.json") && recording_of(p).exists());
    files.sort();
    Ok(files)
}

fn recording_of(truth: &Path) -> PathBuf {
    PathBuf::from(truth.to_string_lossy().replace(".truth.json", ".mp4"))
}

fn judge(truth_path: &Path, ends: &mut [Vec<[f64; 2]>; 2]) -> anyhow::Result<usize> {
    let truth: Value = serde_json::from_str(&std::fs::read_to_string(truth_path)?)?;
    let mut recording = Recording::open(&recording_of(truth_path))?;
    let mut steadying = Steadying::new(&mut recording)?;
    let empty = Vec::new();
    let swings = truth["swings"].as_array().unwrap_or(&empty);
    let mut wrong = 0;
    for (k, swing) in swings.iter().enumerate() {
        let request = request(&recording, &truth, swings, k);
        let begun = std::time::Instant::now();
        let found = find_ground_mark(&mut recording, &mut steadying, &request)?;
        let name = truth["clip"].as_str().unwrap_or_default();
        print!("{name:42.42} {k} {:5.2} s ", begun.elapsed().as_secs_f64());
        wrong += print_swing(swing, &found, ends);
    }
    Ok(wrong)
}

fn request(recording: &Recording, truth: &Value, swings: &[Value], k: usize) -> GroundMarkRequest {
    let timeline = recording.timeline();
    let swing = &swings[k];
    let strike = |k: usize| {
        swings[k]["strike"]["last_frame_before_contact"].as_u64().map_or(0, |f| f as usize)
    };
    let beside = |k: usize, seconds: f64| {
        timeline.nearest_frame(timeline.time_of(FrameIndex(strike(k))) + Seconds(seconds))
    };
    let right = truth["target_direction_in_picture"] != "left";
    let ball = swing["ball"]["centre_px"].is_array().then(|| BallOutline {
        centre: point(&swing["ball"]["centre_px"]),
        diameter: Pixels(swing["ball"]["width_px_approx"].as_f64().unwrap_or(20.0)),
        diameter_sigma: Pixels(0.3),
    });
    let low = point(&swing["low_point"]["ground_px"]);
    let scale = ball.is_none().then(|| scale_of(swing)).flatten();
    GroundMarkRequest {
        strike_frame: FrameIndex(strike(k)),
        heading: if right { 1.0 } else { -1.0 },
        struck: swing["ball_struck"] != false,
        ball,
        // Some centimetres off, as where a club's bottom is seen may be.
        origin: Some(low.moved(-20.0, 15.0)),
        earliest: if k == 0 { FrameIndex(0) } else { beside(k - 1, 1.5) },
        latest: match k + 1 < swings.len() {
            true => beside(k + 1, -1.6),
            false => FrameIndex(timeline.len() - 1),
        },
        surface: match truth["ground"].as_str() {
            Some("mat") => Some(Surface::Mat),
            Some("turf") => Some(Surface::Turf),
            _ => None,
        },
        scale,
        along: None,
    }
}

fn point(value: &Value) -> ImagePoint {
    serde_json::from_value(value.clone()).unwrap_or_default()
}

/// Start and end of the true contact: where in the picture, and millimetres from the ball.
fn contact(swing: &Value) -> Option<[(ImagePoint, f64); 2]> {
    let g = &swing["ground_contact"];
    let mm = |name: &str| Some(1000.0 * g[name].as_f64()?);
    Some([
        (point(&g["start_px"]), mm("start_offset_from_ball_m")?),
        (point(&g["end_px"]), mm("end_offset_from_ball_m")?),
    ])
}

fn scale_of(swing: &Value) -> Option<MillimetresPerPixel> {
    let [(a, x), (b, y)] = contact(swing)?;
    Some(MillimetresPerPixel((y - x) / a.distance(b)))
}

/// Millimetres from the ball of a point, along the line from the true start to the true end.
fn offset(swing: &Value, p: ImagePoint) -> Option<f64> {
    let [(a, x), (b, y)] = contact(swing)?;
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    Some(x + (y - x) * ((p.x - a.x) * dx + (p.y - a.y) * dy) / (dx * dx + dy * dy))
}

fn print_swing(swing: &Value, found: &GroundMarkFinding, ends: &mut [Vec<[f64; 2]>; 2]) -> usize {
    let kind = swing["ground_contact"]["kind"].as_str().unwrap_or("none");
    let said = found.mark.map_or("null".into(), |m| format!("{:?}", m.value).to_lowercase());
    let sure = found.mark.map_or(0.0, |m| m.confidence);
    print!("{kind:5} {said:5} {sure:.2} ");
    let scale = scale_of(swing).map_or(0.0, |s| s.0);
    let names = ["seen_start_offset_from_ball_m", "seen_end_offset_from_ball_m"];
    for (k, end) in [found.start, found.end].into_iter().enumerate() {
        let seen = swing["ground_contact"][names[k]].as_f64().map(|m| 1000.0 * m);
        match (seen, end.and_then(|e| Some((offset(swing, e.value)?, e)))) {
            (Some(seen), Some((mm, e))) => {
                let (error, doubt) = (mm - seen, 1.96 * e.sigma * scale);
                ends[k].push([error, doubt]);
                print!("  {seen:7.1} {error:+6.1} ± {doubt:4.1} ({:.2})", e.confidence);
            }
            (Some(seen), None) => print!("  {seen:7.1}   null             "),
            (None, Some(_)) => print!("  invented "),
            (None, None) => {}
        }
    }
    println!();
    usize::from(kind != said)
}

fn summarise(name: &str, errors: &[[f64; 2]]) {
    if errors.is_empty() {
        return;
    }
    let quantile = |mut values: Vec<f64>, q: f64| {
        values.sort_by(f64::total_cmp);
        values[((values.len() - 1) as f64 * q).round() as usize]
    };
    let sizes: Vec<f64> = errors.iter().map(|e| e[0].abs()).collect();
    let inside = errors.iter().filter(|e| e[0].abs() <= e[1]).count();
    let blunders = errors.iter().filter(|e| e[0].abs() > 3.0 * e[1]).count();
    println!(
        "{name}: n {}, median error {:.1} mm, nine in ten {:.1}, median {:+.1}, median ± {:.1}, inside ± {:.0} %, beyond 3 ± {blunders}",
        errors.len(),
        quantile(sizes.clone(), 0.5),
        quantile(sizes, 0.9),
        quantile(errors.iter().map(|e| e[0]).collect(), 0.5),
        quantile(errors.iter().map(|e| e[1]).collect(), 0.5),
        100.0 * inside as f64 / errors.len() as f64,
    );
}
