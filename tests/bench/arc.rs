//! The club head's arc on recordings with known truth: what was seen of it, and where each mm of
//! the low point's ± comes from.
//!
//! ```text
//! cargo run --example bench-arc -- find SEEN.jsonl FOLDER...      look, and keep what was seen
//! cargo run --example bench-arc -- scenes SEEN.jsonl FROM_SEED TO_SEED [CONDITION...]
//! cargo run --example bench-arc -- fit SEEN.jsonl [LEAST_RATE]    measure what was seen
//! ```

use std::collections::BTreeMap;
use std::fs::OpenOptions;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;

use anyhow::{Context, Result, bail};
use scuffline::demo::{Condition, Scenario, Scene};
use scuffline::domain::{
    FoundSwing, ImagePoint, LowPointMethod, Measured, PictureSize, Pictures, Setup, Source,
    SwingResult, Timeline,
};
use scuffline::vision::find_clicks;
use scuffline::workflow::accuracy::given_setup;
use scuffline::workflow::{
    Measurement, Progress, SwingInput, evaluate, measure, measure_file, state,
};
use serde::{Deserialize, Serialize};
use serde_json::Value;

fn main() -> Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words[..] {
        ["find", out, ..] => words[2..].iter().try_for_each(|f| find(Path::new(out), Path::new(f))),
        ["scenes", out, from, to, ..] => {
            scenes(Path::new(out), from.parse()?..to.parse()?, &words[4..])
        }
        ["fit", seen, ..] => fit(Path::new(seen), words.get(2).map_or(Ok(0.0), |r| r.parse())?),
        _ => bail!("Say find, scenes or fit; the head of this file says how."),
    }
}

/// What was seen in one recording, with its truth.
#[derive(Serialize, Deserialize)]
struct Seen {
    name: String,
    size: PictureSize,
    timeline: Timeline,
    setup: Setup,
    found: Vec<FoundSwing>,
    truth: Value,
}

impl Seen {
    fn new(name: String, timeline: Timeline, measured: Measurement, mut truth: Value) -> Self {
        truth["pts_s"] = Value::Null;
        truth["frame_shift_px"] = Value::Null;
        Self {
            name,
            size: measured.recording.size,
            timeline,
            setup: measured.setup,
            found: measured.inputs.into_iter().filter_map(|i| i.found).collect(),
            truth,
        }
    }

    fn keep(&self, out: &Path) -> Result<()> {
        let mut file = OpenOptions::new().create(true).append(true).open(out)?;
        writeln!(file, "{}", serde_json::to_string(self)?)?;
        eprintln!("{}", self.name);
        Ok(())
    }
}

fn find(out: &Path, folder: &Path) -> Result<()> {
    let mut truths: Vec<_> =
        std::fs::read_dir(folder)?.map(|e| Ok(e?.path())).collect::<Result<_>>()?;
    truths.retain(|p| p.to_string_lossy().ends_with(".truth.json"));
    truths.sort();
    for path in truths {
        let truth: Value = serde_json::from_str(&std::fs::read_to_string(&path)?)?;
        let clip = path.to_string_lossy().replace(".truth.json", ".mp4");
        let clip = Path::new(&clip);
        let measured = measure_file(clip, &given_setup(&truth), &mut Progress::silent())?;
        let timeline = scuffline::video::Recording::open(clip)?.timeline().clone();
        let name = clip.file_stem().context("a name")?.to_string_lossy().into();
        Seen::new(name, timeline, measured, truth).keep(out)?;
    }
    Ok(())
}

fn scenes(out: &Path, seeds: std::ops::Range<u32>, names: &[&str]) -> Result<()> {
    let wanted =
        |c: &Condition| names.is_empty() || names.iter().any(|n| c.name().eq_ignore_ascii_case(n));
    for seed in seeds {
        for condition in Condition::ALL.into_iter().filter(wanted) {
            let mut scene = Scene::new(Scenario::draw(condition, seed));
            let (truth, sound) = (scene.truth(), scene.sound());
            let clicks = sound.as_ref().map(find_clicks);
            let measured =
                measure(&mut scene, clicks.as_deref(), &truth.setup(), &mut Progress::silent())?;
            let name = format!("{}-{seed}", condition.name());
            let timeline = scene.timeline().clone();
            Seen::new(name, timeline, measured, truth.to_json()).keep(out)?;
        }
    }
    Ok(())
}

#[derive(Default)]
struct Tally {
    errors: Vec<f64>,
    halves: Vec<f64>,
    held: usize,
    blunders: usize,
    nulls: usize,
}

impl Tally {
    fn add(&mut self, measured: Option<&Measured>, truth: f64) -> String {
        let Some(measured) = measured else {
            self.nulls += 1;
            return "none".into();
        };
        let stated = state(measured);
        let (error, half) = (stated.value - truth, stated.interval.half_width());
        self.errors.push(error.abs());
        self.halves.push(half);
        let held = stated.interval.contains(truth);
        self.held += usize::from(held);
        let blunder = error.abs() > 3.0 * half;
        self.blunders += usize::from(blunder);
        let mark = if blunder {
            "!!"
        } else if held {
            ""
        } else {
            "!"
        };
        format!("{error:+.1}±{half:.1}{mark}")
    }

    fn line(mut self) -> String {
        let n = self.errors.len();
        let mut at = |share: f64, halves: bool| {
            let v = if halves { &mut self.halves } else { &mut self.errors };
            v.sort_by(f64::total_cmp);
            v.get(((n as f64 * share) as usize).min(n.saturating_sub(1)))
                .copied()
                .unwrap_or(f64::NAN)
        };
        format!(
            "n {n}, none {}; error median {:.1}, nine in ten {:.1}; ± median {:.1}; held {:.3}; blunders {}",
            self.nulls,
            at(0.5, false),
            at(0.9, false),
            at(0.5, true),
            self.held as f64 / n as f64,
            self.blunders
        )
    }
}

fn fit(seen: &Path, least_rate: f64) -> Result<()> {
    let mut tallies: BTreeMap<String, Tally> = BTreeMap::new();
    for line in BufReader::new(std::fs::File::open(seen)?).lines() {
        let seen: Seen = serde_json::from_str(&line?)?;
        let rate = 1.0 / (seen.timeline.median_spacing().0 / seen.timeline.slow_factor);
        if rate < least_rate {
            continue;
        }
        let inputs: Vec<SwingInput> = seen
            .found
            .iter()
            .map(|f| SwingInput { found: Some(f.clone()), ..SwingInput::default() })
            .collect();
        let begun = std::time::Instant::now();
        let measured = evaluate(seen.size, &seen.timeline, &seen.setup, &inputs)?;
        let taken = begun.elapsed().as_secs_f64();
        println!("{} {rate:.0}/s, {taken:.2} s", seen.name);
        for truth in seen.truth["swings"].as_array().into_iter().flatten() {
            let time = truth["strike"]["time_s"].as_f64().context("a strike time")?;
            let gap = |s: &SwingResult| s.strike_time.map_or(f64::MAX, |t| (t.0 - time).abs());
            let near = (0..inputs.len())
                .min_by(|&a, &b| gap(&measured.swings[a]).total_cmp(&gap(&measured.swings[b])))
                .filter(|&i| gap(&measured.swings[i]) < 0.3);
            match near {
                Some(i) => swing(&mut tallies, truth, &seen.found[i], &measured.swings[i]),
                None => println!("  missed at {time}"),
            }
        }
    }
    for (name, tally) in tallies {
        println!("{name}: {}", tally.line());
    }
    Ok(())
}

fn swing(
    tallies: &mut BTreeMap<String, Tally>,
    truth: &Value,
    found: &FoundSwing,
    said: &SwingResult,
) {
    let low =
        truth["low_point"]["offset_from_ball_m"].as_f64().map(|m| 1000.0 * m).unwrap_or(f64::NAN);
    let attack = truth["attack_angle_deg"]["at_ball_position"].as_f64().unwrap_or(f64::NAN);
    let mut tally = |name: &str, m: Option<&Measured>, t: f64| {
        tallies.entry(name.into()).or_default().add(m, t)
    };
    let method = said.low_point.as_ref().map(|(_, m)| *m);
    let name = match method {
        Some(LowPointMethod::Arc) => "low, arc",
        Some(LowPointMethod::Mark) => "low, mark",
        Some(LowPointMethod::ArcAndMark) => "low, arc and mark",
        None => "low",
    };
    let measured = said.low_point.as_ref().map(|(m, _)| m);
    let said_low = tally(name, measured, low);
    tally("low, all", measured, low);
    let said_attack = tally("attack", said.attack_angle.as_ref(), attack);
    println!("  {name} {said_low} (true {low:.0}); attack {said_attack} (true {attack:.1})");
    if let Some(m) = measured {
        println!("    {}", budget(m));
    }
    let contact = &truth["ground_contact"];
    if let (Some(a), Some(b)) = (found.divot_start, found.divot_end) {
        let slope = |a: ImagePoint, b: ImagePoint| ((b.y - a.y) / (b.x - a.x)).atan().to_degrees();
        let (ta, tb) = (point(&contact["start_px"]), point(&contact["end_px"]));
        if let (Some(ta), Some(tb)) = (ta, tb) {
            println!(
                "    mark: length {:.0} px, start off {:+.1} {:+.1}, end off {:+.1} {:+.1}, slope {:+.2}° true {:+.2}°, sigma {:.1} {:.1}",
                a.value.distance(b.value),
                a.value.x - ta.x,
                a.value.y - ta.y,
                b.value.x - tb.x,
                b.value.y - tb.y,
                slope(a.value, b.value),
                slope(ta, tb),
                a.sigma,
                b.sigma
            );
        }
    }
    sightings(truth, found);
    for w in &said.warnings {
        println!("    {w:?}");
    }
}

fn point(v: &Value) -> Option<ImagePoint> {
    serde_json::from_value(v.clone()).ok()
}

/// Standard contributions, those of one kind together.
fn budget(m: &Measured) -> String {
    let mut sums: BTreeMap<&str, f64> = BTreeMap::new();
    for c in &m.budget {
        let name = match &c.source {
            Source::Calibration(_) => "camera",
            s => s.words(),
        };
        *sums.entry(name).or_default() += c.standard.powi(2);
    }
    let mut parts: Vec<_> = sums.into_iter().map(|(n, s)| (n, s.sqrt())).collect();
    parts.sort_by(|a, b| b.1.total_cmp(&a.1));
    parts
        .iter()
        .filter(|p| p.1 > 0.5)
        .map(|(n, s)| format!("{n} {s:.1}"))
        .collect::<Vec<_>>()
        .join(", ")
}

/// Each sighting's distance from the truth along and across its way, pixels.
fn sightings(truth: &Value, found: &FoundSwing) {
    let path = &truth["club_path"];
    let frames: Vec<usize> = serde_json::from_value(path["frames"].clone()).unwrap_or_default();
    let px: Vec<Option<ImagePoint>> =
        serde_json::from_value(path["px"].clone()).unwrap_or_default();
    let metres: Vec<[f64; 3]> = serde_json::from_value(path["m"].clone()).unwrap_or_default();
    let hub: [f64; 3] = serde_json::from_value(truth["arc"]["hub_m"].clone()).unwrap_or_default();
    let radius = truth["arc"]["radius_m"].as_f64().unwrap_or(1.5);
    let mut out = Vec::new();
    for s in &found.club_head {
        let Some(i) = frames.iter().position(|f| *f == s.frame.0) else { continue };
        let (Some(Some(p)), phi) =
            (px.get(i), ((metres[i][0] - hub[0]) / radius).clamp(-1.0, 1.0).asin())
        else {
            continue;
        };
        let next = px
            .get(i + 1)
            .copied()
            .flatten()
            .or_else(|| px.get(i.wrapping_sub(1)).copied().flatten())
            .unwrap_or(*p);
        let length = p.distance(next).max(1e-9);
        let (tx, ty) = ((next.x - p.x) / length, (next.y - p.y) / length);
        let (tx, ty) = if tx < 0.0 { (-tx, -ty) } else { (tx, ty) };
        let (dx, dy) = (s.point.x - p.x, s.point.y - p.y);
        out.push(format!(
            "{phi:+.2}:{:+.1}/{:+.1}~{:.1}",
            dx * tx + dy * ty,
            dy * tx - dx * ty,
            s.sigma[1].0
        ));
    }
    println!("    head: {}", out.join(" "));
}
