//! Runs many scenes through the program and gathers how well each was measured.

use std::fs::{File, OpenOptions};
use std::io::{BufRead, BufReader, Write};
use std::path::Path;

use anyhow::Result;
use scuffline::demo::{Condition, Scenario, Scene};
use scuffline::domain::Pictures;
use scuffline::vision::find_clicks;
use scuffline::workflow::{Measurement, Progress, measure};

use crate::judge::{Outcome, Reading, judge};

/// Measures scenes `seeds` of each condition; one line of JSON a swing is added to `out`.
pub fn sweep(conditions: &[Condition], seeds: std::ops::Range<u32>, out: &Path) -> Result<()> {
    let mut file = OpenOptions::new().create(true).append(true).open(out)?;
    for seed in seeds {
        for &condition in conditions {
            let scene = Scene::new(Scenario::draw(condition, seed));
            note(&mut file, &run(scene, condition.name(), seed)?)?;
        }
    }
    Ok(())
}

/// Measures scenes `seeds` of several difficulties at once, likewise.
pub fn mixed(seeds: std::ops::Range<u32>, out: &Path) -> Result<()> {
    let mut file = OpenOptions::new().create(true).append(true).open(out)?;
    for seed in seeds {
        let scenario = Scenario::mixed(seed);
        let name = scenario.name.rsplit_once('-').map_or("", |(name, _)| name).to_owned();
        note(&mut file, &run(Scene::new(scenario), name, seed)?)?;
    }
    Ok(())
}

/// Prints all that is measured of a scene, beside the truth.
pub fn measured(scenario: Scenario) -> Result<()> {
    let mut scene = Scene::new(scenario);
    let truth = scene.truth();
    println!("{}", serde_json::to_string_pretty(&truth.to_json())?);
    println!("{}", serde_json::to_string_pretty(&measure_scene(&mut scene)?.swings)?);
    Ok(())
}

fn measure_scene(scene: &mut Scene) -> Result<Measurement> {
    let (setup, sound) = (scene.truth().setup(), scene.sound());
    let clicks = sound.as_ref().map(find_clicks);
    Ok(measure(scene, clicks.as_deref(), &setup, &mut Progress::silent())?)
}

fn note(file: &mut File, outcomes: &[Outcome]) -> Result<()> {
    for outcome in outcomes {
        let line = serde_json::to_string(outcome)?;
        writeln!(file, "{line}")?;
        println!("{line}");
    }
    Ok(())
}

fn run(mut scene: Scene, condition: String, seed: u32) -> Result<Vec<Outcome>> {
    let truth = scene.truth();
    let begun = std::time::Instant::now();
    let measured = measure_scene(&mut scene)?;
    let blank = Outcome {
        condition,
        seed,
        seconds: begun.elapsed().as_secs_f64(),
        length_s: scene.timeline().duration().0,
        rate: scene.scenario().rate,
        ..Outcome::default()
    };
    Ok(judge(&truth, &measured.swings, &blank))
}

/// Prints a table of all outcomes in `file`, the worst condition first.
pub fn table(file: &Path) -> Result<()> {
    let lines = BufReader::new(std::fs::File::open(file)?).lines();
    let outcomes: Vec<Outcome> =
        lines.map(|line| Ok(serde_json::from_str(&line?)?)).collect::<Result<_>>()?;
    let mut rows: Vec<(f64, String)> = Condition::ALL
        .iter()
        .filter_map(|c| {
            let name = c.name();
            let has = |o: &&Outcome| o.condition.split('+').any(|c| c == name);
            let own: Vec<&Outcome> = outcomes.iter().filter(has).collect();
            (!own.is_empty()).then(|| (badness(&own), row(c.about(), &own)))
        })
        .collect();
    rows.sort_by(|a, b| b.0.total_cmp(&a.0));
    println!(
        "| condition | swings | missed | invented | frame right | ball ≤ 1 px | start error: median, 9 in 10 | start ± | start flagged | end error | low point error | low ± | low flagged | within stated interval | silent blunders |"
    );
    println!("|---|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|");
    rows.iter().for_each(|(_, line)| println!("{line}"));
    println!("{}", row("**all**", &outcomes.iter().collect::<Vec<_>>()));
    Ok(())
}

/// Orders the table: blunders and lost swings weigh most, then wrong frames, then flags.
fn badness(own: &[&Outcome]) -> f64 {
    let n = own.iter().filter(|o| o.real).count().max(1) as f64;
    let count = |f: &dyn Fn(&&&Outcome) -> bool| own.iter().filter(f).count() as f64 / n;
    let lost = count(&|o| !o.real || !o.found);
    let wrong = count(&|o| o.found && o.frame_error.is_some_and(|e| e != 0));
    let flagged = count(&|o| o.start.is_some_and(|r| r.flagged));
    let starts = readings(own, |o| o.start, true);
    let far = quantile(&sizes(&starts), 0.9).unwrap_or(0.0) / 10.0;
    4.0 * count(&|o| blunders(o) > 0) + 3.0 * lost + wrong + flagged + far.min(3.0)
}

fn blunders(o: &Outcome) -> usize {
    let readings = [o.start, o.end, o.low, o.attack];
    let numbers = readings.iter().flatten().filter(|r| r.is_blunder()).count();
    let order = o.order_right == Some(false) && !o.order_flagged;
    numbers + usize::from(order || o.contact_blunder) + usize::from(o.ball_invented)
}

fn readings(
    own: &[&Outcome],
    pick: impl Fn(&Outcome) -> Option<Reading>,
    sure: bool,
) -> Vec<Reading> {
    own.iter()
        .filter(|o| o.found && o.real)
        .filter_map(|o| pick(o))
        .filter(|r| !sure || !r.flagged)
        .collect()
}

fn sizes(readings: &[Reading]) -> Vec<f64> {
    readings.iter().filter_map(|r| r.error.map(f64::abs)).collect()
}

fn quantile(values: &[f64], share: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len().checked_sub(1)?;
    Some(sorted[(share * last as f64).round() as usize])
}

fn row(about: &str, own: &[&Outcome]) -> String {
    let real: Vec<&Outcome> = own.iter().copied().filter(|o| o.real).collect();
    let found: Vec<&Outcome> = real.iter().copied().filter(|o| o.found).collect();
    let right = found.iter().filter(|o| o.frame_error == Some(0)).count();
    let balls: Vec<f64> =
        found.iter().filter(|o| !o.ball_flagged).filter_map(|o| o.ball_error_px).collect();
    let near = balls.iter().filter(|e| **e <= 1.0).count();
    let text = |v: Option<f64>| v.map_or("–".to_owned(), |v| format!("{v:.0}"));
    let starts = readings(own, |o| o.start, true);
    let ends = readings(own, |o| o.end, true);
    let lows = readings(own, |o| o.low, true);
    let widths = |r: &[Reading]| r.iter().filter_map(|r| r.expanded).collect::<Vec<_>>();
    let flagged = |pick: fn(&Outcome) -> Option<Reading>| {
        let all = readings(own, pick, false);
        format!("{} of {}", all.iter().filter(|r| r.flagged).count(), all.len())
    };
    let judged: Vec<bool> =
        starts.iter().chain(&ends).chain(&lows).filter_map(|r| r.covered).collect();
    format!(
        "| {about} | {} | {} | {} | {right} of {} | {near} of {} | {}, {} | {} | {} | {} | {} | {} | {} | {} of {} | {} |",
        real.len(),
        real.len() - found.len(),
        own.len() - real.len(),
        found.len(),
        balls.len(),
        text(quantile(&sizes(&starts), 0.5)),
        text(quantile(&sizes(&starts), 0.9)),
        text(quantile(&widths(&starts), 0.5)),
        flagged(|o| o.start),
        text(quantile(&sizes(&ends), 0.5)),
        text(quantile(&sizes(&lows), 0.5)),
        text(quantile(&widths(&lows), 0.5)),
        flagged(|o| o.low),
        judged.iter().filter(|c| **c).count(),
        judged.len(),
        own.iter().map(|o| blunders(o)).sum::<usize>(),
    )
}
