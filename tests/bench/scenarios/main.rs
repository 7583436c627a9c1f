//! Invented scenes: pictures of them, and how well they are measured.
//!
//! ```text
//! cargo run --example scenarios -- pictures FOLDER [CONDITION|mixed] [SEED]
//! cargo run --example scenarios -- clips FOLDER [CONDITION|mixed] [SEED]
//! cargo run --example scenarios -- measured [CONDITION|mixed] [SEED]
//! cargo run --example scenarios -- speed [CONDITION]
//! cargo run --example scenarios -- sweep OUTCOMES.jsonl FROM_SEED TO_SEED [CONDITION]
//! cargo run --example scenarios -- mixed OUTCOMES.jsonl FROM_SEED TO_SEED
//! cargo run --example scenarios -- marks OUTCOMES.jsonl FROM_SEED TO_SEED [CONDITION]
//! cargo run --example scenarios -- table OUTCOMES.jsonl
//! ```

mod judge;
mod marks;
mod sweep;

use std::path::Path;

use anyhow::{Context, Result, bail};
use scuffline::demo::{Condition, Scenario, Scene};
use scuffline::domain::{FrameIndex, Pictures, Seconds};
use scuffline::video::ClipWriter;

fn main() -> Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words[..] {
        ["pictures", folder, ..] => pictures(Path::new(folder), &words[2..]),
        ["clips", folder, ..] => clips(Path::new(folder), &words[2..]),
        ["measured", ..] => drawn(&words[1..])?.into_iter().try_for_each(sweep::measured),
        ["speed", ..] => speed(&words[1..]),
        ["sweep", out, from, to, ..] => {
            sweep::sweep(&chosen(words.get(4)), from.parse()?..to.parse()?, Path::new(out))
        }
        ["mixed", out, from, to] => sweep::mixed(from.parse()?..to.parse()?, Path::new(out)),
        ["marks", out, from, to, ..] => {
            marks::marks(&chosen(words.get(4)), from.parse()?..to.parse()?, Path::new(out))
        }
        ["table", file] => sweep::table(Path::new(file)),
        _ => bail!(
            "Say pictures, clips, measured, speed, marks, sweep, mixed or table; the head of this file says how."
        ),
    }
}

/// The scenes asked for by condition and seed; of several difficulties where it says `mixed`.
fn drawn(rest: &[&str]) -> Result<Vec<Scenario>> {
    let seed = rest.get(1).map_or(Ok(1), |s| s.parse()).context("The seed is a number")?;
    Ok(match rest.first() {
        Some(&"mixed") => vec![Scenario::mixed(seed)],
        name => chosen(name).into_iter().map(|c| Scenario::draw(c, seed)).collect(),
    })
}

fn chosen(name: Option<&&str>) -> Vec<Condition> {
    let fits = |c: &Condition| name.is_none_or(|n| c.name().eq_ignore_ascii_case(n));
    Condition::ALL.into_iter().filter(fits).collect()
}

/// Address, just before the strike, just after, and the end of each scene.
fn pictures(folder: &Path, rest: &[&str]) -> Result<()> {
    std::fs::create_dir_all(folder)?;
    for scenario in drawn(rest)? {
        let begun = std::time::Instant::now();
        let mut scene = Scene::new(scenario);
        let built = begun.elapsed();
        let truth = scene.truth();
        let strike = truth.swings[0].last_frame_before;
        let end = FrameIndex(scene.timeline().len() - 3);
        let shots = [
            ("a", truth.address_frame(0)),
            ("b", strike),
            ("c", scene.timeline().nearest_frame(Seconds(truth.swings[0].strike_time + 0.02))),
            ("z", end),
        ];
        let begun = std::time::Instant::now();
        for (tag, frame) in shots {
            let shot = scene.colour(frame)?;
            let path = folder.join(format!("{}_{tag}.png", scene.scenario().name));
            image::save_buffer(
                path,
                &shot.data,
                shot.width as u32,
                shot.height as u32,
                image::ColorType::Rgba8,
            )?;
        }
        println!("{} built {built:?}, 4 frames {:?}", scene.scenario().name, begun.elapsed());
        println!("  {:?}", truth.swings[0].contact);
    }
    Ok(())
}

/// Writes scenes as silent clips with their truth files, as a real coder leaves them.
fn clips(folder: &Path, rest: &[&str]) -> Result<()> {
    std::fs::create_dir_all(folder)?;
    for mut scenario in drawn(rest)? {
        // The coder compresses; there is no sound to write.
        scenario.faults.quantiser = 0.0;
        scenario.sound = None;
        let mut scene = Scene::new(scenario);
        let timeline = scene.timeline().clone();
        let name = scene.scenario().name.clone();
        let path = folder.join(format!("{name}.mp4"));
        let mut clip = ClipWriter::create(&path, scene.size(), timeline.time_base)?;
        for (i, entry) in timeline.frames.iter().enumerate() {
            clip.write(&*scene.colour(FrameIndex(i))?, entry.pts)?;
        }
        clip.finish()?;
        let truth = serde_json::to_vec(&scene.truth().to_json())?;
        std::fs::write(folder.join(format!("{name}.truth.json")), truth)?;
        println!("{name}");
    }
    Ok(())
}

/// Frames a second that a scene gives, luma only, around the strike.
fn speed(rest: &[&str]) -> Result<()> {
    for condition in chosen(rest.first()) {
        let mut scene = Scene::new(Scenario::draw(condition, 1));
        let strike = scene.truth().swings[0].last_frame_before.0;
        let (from, to) = (strike.saturating_sub(40), (strike + 40).min(scene.timeline().len()));
        let begun = std::time::Instant::now();
        for i in from..to {
            scene.gray(FrameIndex(i))?;
        }
        let rate = (to - from) as f64 / begun.elapsed().as_secs_f64();
        println!("{condition:?}: {rate:.1} frames a second");
    }
    Ok(())
}
