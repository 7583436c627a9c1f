//! Sending a session home: every number as on the screen, pictures and clips that play.

use std::path::Path;
use std::process::Command;

use scuffline::domain::{ColourFrame, FrameIndex, Golfer, LengthUnit, Pictures as _, Setup};
use scuffline::report::content::SwingRow;
use scuffline::report::page::Paper;
use scuffline::report::picture::{burn_in, caption_band};
use scuffline::report::{csv, html, json, pdf};
use scuffline::store::{Library, Of, Scope, SessionId, SwingId};
use scuffline::workflow::{
    CoachSays, Progress, build_sample, choose_unit, golfer_named, read_in, session_content,
    session_on, state, swing_picture, words_for_attack, words_for_offset, write_clip,
};

use super::support::{sample, scuffline};

/// A library with the invented golfer; returns the session with a lesson's two blocks.
fn sample_library(folder: &Path) -> (Library, SessionId) {
    let mut library = Library::open(folder.join("library.scuffline")).unwrap();
    let built = build_sample(&mut library, folder).unwrap().unwrap();
    let lesson = built.sessions.iter().find(|s| library.blocks(**s).unwrap().len() == 2);
    let lesson = *lesson.expect("one of the sample's sessions has two blocks");
    (library, lesson)
}

/// A library with the strike of a rendered recording; returns the swing.
fn filmed_library(folder: &Path) -> (Library, SwingId) {
    let mut library = Library::open(folder.join("library.scuffline")).unwrap();
    let golfer =
        Golfer { name: "Robin Example (invented)".into(), invented: true, ..Golfer::default() };
    library.edit(Scope::Library, "golfer", |edit| edit.add_golfer(&golfer)).unwrap();
    let golfer = golfer_named(&mut library, Some("Robin Example (invented)")).unwrap();
    let session = session_on(&mut library, golfer, jiff::civil::date(2026, 5, 14)).unwrap();
    let text = std::fs::read_to_string(sample("iron_turf_sheet.setup.json")).unwrap();
    let setup: Setup = scuffline::cli::measure::setup_file::parse_setup(&text).unwrap();
    let clip = sample("iron_turf_sheet.mp4");
    let mut recording = scuffline::video::Recording::open(&clip).unwrap();
    let progress = &mut Progress::silent();
    let id = read_in(&mut library, session, &mut recording, Some(&setup), progress).unwrap();
    let swing = library.swings(Of::Recording(id)).unwrap()[0].id;
    (library, swing)
}

#[test]
fn every_exported_number_is_the_one_on_the_screen() {
    for unit in [LengthUnit::Mm, LengthUnit::Inch] {
        exported_as_on_the_screen(unit);
    }
}

fn exported_as_on_the_screen(unit: LengthUnit) {
    let folder = tempfile::tempdir().unwrap();
    let (mut library, session) = sample_library(folder.path());
    choose_unit(&mut library, unit).unwrap();
    let content = session_content(&library, session, &CoachSays::default()).unwrap();
    assert_eq!(content.unit, unit);
    // The screen's own way: the swing's result, stated and put into words.
    let swings = library.swings(Of::Session(session)).unwrap();
    let written = csv::read(&csv::write(&content)).unwrap();
    let told: Vec<&SwingRow> = written.iter().map(|row| &row.swing).collect();
    assert_eq!(json::read(&json::write(&content)).unwrap(), content);
    let web = html::write(&content, &[]).unwrap();
    let mut compared = 0;
    for ((swing, told), said) in swings.iter().zip(&told).zip(&content.swings) {
        let Some(result) = &swing.result else { continue };
        let offsets = [
            (result.divot_start_offset.as_ref(), &told.divot_start_mm, &said.divot_start_mm),
            (result.divot_end_offset.as_ref(), &told.divot_end_mm, &said.divot_end_mm),
            (result.low_point.as_ref().map(|(m, _)| m), &told.low_point_mm, &said.low_point_mm),
        ];
        for (measured, in_table, in_content) in offsets {
            let Some(measured) = measured else {
                assert!(in_table.is_none() && in_content.is_none());
                continue;
            };
            let stated = state(measured);
            let screen = words_for_offset(&stated, unit);
            for figure in [in_table, in_content] {
                let figure = figure.as_ref().unwrap();
                assert_eq!(figure.words, screen);
                assert_eq!(figure.value, stated.value);
                assert_eq!(figure.interval_95, [stated.interval.low, stated.interval.high]);
            }
            compared += 1;
        }
        if let (Some(measured), Some(figure)) = (&result.attack_angle, &told.attack_angle_deg) {
            let stated = state(measured);
            assert_eq!(figure.value, stated.value);
            assert_eq!(figure.words, words_for_attack(&stated));
            assert!(web.contains(&figure.words));
        }
        assert_eq!(told.contact_order, result.contact_order);
        assert_eq!(told.low_point_method, result.low_point.as_ref().map(|(_, method)| *method));
    }
    assert!(compared >= 30, "{compared}");
    let screen: Vec<Option<String>> = swings
        .iter()
        .map(|s| s.result.as_ref()?.divot_start_offset.as_ref())
        .map(|m| m.map(|m| words_for_offset(&state(m), unit)))
        .collect();
    assert!(screen.iter().flatten().count() >= 8);
    assert!(screen.iter().flatten().all(|words| web.contains(words)));
    let page = folder.path().join("page.pdf");
    std::fs::write(&page, pdf::write(&content, &[], Paper::A4).unwrap()).unwrap();
    let output = Command::new("pdftotext").arg("-layout").arg(&page).arg("-").output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for block in &content.blocks {
        let mean = &block.divot_start.as_ref().unwrap().mean_mm.words;
        assert!(joined.contains(mean), "{mean} in {text}");
    }
    assert!(joined.contains(&content.comparison.unwrap().sentence), "{text}");
}

#[test]
fn a_picture_shows_the_ruler_where_the_ground_is() {
    let folder = tempfile::tempdir().unwrap();
    let (library, swing) = filmed_library(folder.path());
    let with = swing_picture(&library, swing, false).unwrap();
    let banded = swing_picture(&library, swing, true).unwrap();
    let result = library.swing(swing).unwrap().result.unwrap();
    let start = result.divot_start_offset.as_ref().map(|m| ("Divot start", m));
    let low = result.low_point.as_ref().map(|(m, _)| ("Low point", m));
    let (name, told) = start.or(low).expect("the strike was measured");
    let words = words_for_offset(&state(told), scuffline::domain::LengthUnit::Mm);
    assert_eq!(with.caption, format!("{name} {words}"));
    // The band lies along the lower edge and nowhere else.
    let same =
        |y: usize| (0..with.frame.width).all(|x| with.frame.rgb(x, y) == banded.frame.rgb(x, y));
    let height = with.frame.height;
    assert!(same(height / 2) && !same(height - 2));
    // White graduation stands on the dark band within the stretch that must be seen.
    let focus = with.focus.unwrap();
    let [x, y] = focus.centre.map(|v| v as usize);
    let near = |x: usize, y: usize| with.frame.rgb(x, y).iter().all(|v| *v > 235);
    let reach = focus.reach as usize / 2;
    let lit = (y - 40..y + 60).flat_map(|y| (x - reach..x + reach).map(move |x| (x, y)));
    assert!(lit.filter(|(x, y)| near(*x, *y)).count() > 100);
}

/// Which of the numbers stands in the band along a picture's lower edge: that whose letters lie
/// closest over what is there.
fn read_off(frame: &ColourFrame, numbers: &[String]) -> usize {
    let size = [frame.width, frame.height];
    let light = |frame: &ColourFrame| -> Vec<f64> {
        let band = frame.height - frame.height / 18..frame.height - frame.height / 50;
        let places = band.flat_map(|y| (0..frame.width / 2).map(move |x| (x, y)));
        places.map(|(x, y)| f64::from(frame.rgb(x, y)[1])).collect()
    };
    let there = light(frame);
    let likeness = |number: &String| {
        let data = [0, 0, 0, 255].repeat(size[0] * size[1]);
        let mut drawn = ColourFrame { width: size[0], height: size[1], data };
        burn_in(&mut drawn, [caption_band(size, number, "")]);
        correlation(&there, &light(&drawn))
    };
    let found: Vec<f64> = numbers.iter().map(likeness).collect();
    let best = (0..found.len()).max_by(|a, b| found[*a].total_cmp(&found[*b])).unwrap();
    assert!(found[best] > 0.8, "nothing like a number stands there: {found:?}");
    best
}

fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
    let (of_a, of_b) = (mean(a), mean(b));
    let sum = |f: &dyn Fn(f64, f64) -> f64| -> f64 {
        a.iter().zip(b).map(|(a, b)| f(a - of_a, b - of_b)).sum()
    };
    sum(&|a, b| a * b) / (sum(&|a, _| a * a) * sum(&|_, b| b * b)).sqrt()
}

#[test]
fn the_number_burnt_into_picture_and_clip_is_the_one_on_the_screen() {
    let folder = tempfile::tempdir().unwrap();
    let (library, swing) = filmed_library(folder.path());
    let result = library.swing(swing).unwrap().result.unwrap();
    let start = result.divot_start_offset.as_ref().expect("the divot start was measured");
    // The screen's words among those of its neighbours, a millimetre apart.
    let numbers: Vec<String> = (-12..=12)
        .map(|by| {
            let mut other = start.clone();
            other.value += f64::from(by);
            let words = words_for_offset(&state(&other), scuffline::domain::LengthUnit::Mm);
            format!("Divot start {words}")
        })
        .collect();
    let screen = words_for_offset(&state(start), scuffline::domain::LengthUnit::Mm);
    let picture = swing_picture(&library, swing, true).unwrap();
    let read = |frame: &ColourFrame| numbers[read_off(frame, &numbers)].clone();
    assert_eq!(read(&picture.frame), format!("Divot start {screen}"));
    let path = folder.path().join("swing.mp4");
    write_clip(&library, &[swing], &path, &mut Progress::silent()).unwrap();
    let mut clip = scuffline::video::Recording::open(&path).unwrap();
    let last = FrameIndex(clip.timeline().len() - 1);
    for frame in [FrameIndex(0), last] {
        assert_eq!(read(&clip.colour(frame).unwrap()), format!("Divot start {screen}"));
    }
}

#[test]
fn a_clip_plays_in_slow_motion_and_is_small_enough_to_send() {
    let folder = tempfile::tempdir().unwrap();
    let (library, swing) = filmed_library(folder.path());
    let path = folder.path().join("swing.mp4");
    write_clip(&library, &[swing], &path, &mut Progress::silent()).unwrap();
    let probed = Command::new("ffprobe")
        .args([
            "-v",
            "error",
            "-show_entries",
            "stream=codec_name,width,height,pix_fmt,r_frame_rate",
        ])
        .args(["-show_entries", "format=duration", "-of", "default=nw=1"])
        .arg(&path)
        .output()
        .unwrap();
    let probed = String::from_utf8(probed.stdout).unwrap();
    assert!(probed.contains("width=1280") && probed.contains("height=720"), "{probed}");
    assert!(probed.contains("pix_fmt=yuv420p") && probed.contains("r_frame_rate=30/1"), "{probed}");
    // One second of capture at 120 frames a second, shown four times slower.
    let duration = probed.lines().find_map(|l| l.strip_prefix("duration=")?.parse::<f64>().ok());
    assert!((duration.unwrap() - 4.0).abs() < 0.1, "{probed}");
    assert!(path.metadata().unwrap().len() < 8_000_000);
    // A clip that was stopped leaves no file.
    let stopped = folder.path().join("stopped.mp4");
    let mut stop = |_: &str, _: f64| false;
    assert!(write_clip(&library, &[swing], &stopped, &mut Progress::new(&mut stop)).is_err());
    assert!(!stopped.exists());
}

#[test]
fn the_ground_stands_still_in_a_clip_of_a_camera_that_does_not() {
    let folder = tempfile::tempdir().unwrap();
    let clip = folder.path().join("shaken.mp4");
    // Up to 12 pixels to and fro within a third of a second, as by hand.
    let shaking = "scale=2560:-2,crop=2480:1360:40+24*sin(n/6):40+18*cos(n/8),scale=1240:-2";
    let made = Command::new("ffmpeg")
        .args(["-v", "error", "-ss", "0.8", "-t", "1.5", "-i"])
        .arg(sample("iron_turf_sheet.mp4"))
        .args(["-vf", shaking, "-c:v", "libx264", "-preset", "veryfast", "-crf", "16"])
        .arg(&clip)
        .status();
    assert!(made.unwrap().success());
    let mut library = Library::open(folder.path().join("library.scuffline")).unwrap();
    let golfer = Golfer { name: "Robin (invented)".into(), invented: true, ..Golfer::default() };
    let golfer = library.edit(Scope::Library, "golfer", |edit| edit.add_golfer(&golfer)).unwrap();
    let session = session_on(&mut library, golfer, jiff::civil::date(2026, 5, 14)).unwrap();
    let identity = scuffline::store::identify_file(&clip).unwrap();
    let strike = scuffline::domain::Seconds(0.75);
    let swing = library
        .save(|edit| {
            let new = scuffline::store::NewRecording { path: clip.clone(), identity };
            let recording = edit.add_recording(session, &new)?;
            let by = scuffline::domain::PlacedBy::Person;
            let kind = scuffline::domain::SwingKind::Strike;
            let swing = scuffline::store::NewSwing::on(recording, kind, strike, by);
            edit.add_swing(session, &swing)
        })
        .unwrap();
    let written = folder.path().join("steadied.mp4");
    write_clip(&library, &[swing], &written, &mut Progress::silent()).unwrap();
    let (before, after) = (largest_shift(&clip), largest_shift(&written));
    assert!(before > 8.0 && after < 2.5, "{before} px before, {after} px after");
}

/// How far the picture of any frame lies from the first one's, pixels.
fn largest_shift(clip: &Path) -> f64 {
    let mut recording = scuffline::video::Recording::open(clip).unwrap();
    let frames = scuffline::domain::Pictures::timeline(&recording).len();
    let mut steadying = scuffline::vision::Steadying::new(&mut recording).unwrap();
    let (mut largest, mut told): (f64, usize) = (0.0, 0);
    for frame in (0..frames).step_by(4) {
        let frame = scuffline::domain::FrameIndex(frame);
        let motion = steadying.motion(&mut recording, frame).unwrap();
        if motion.is_trusted {
            told += 1;
            largest = largest.max(motion.shift().0);
        }
    }
    assert!(told * 4 > frames / 2, "{told} of {frames} frames were told");
    largest
}

#[test]
fn the_command_line_asks_before_a_real_person_is_passed_on() {
    let folder = tempfile::tempdir().unwrap();
    let library_path = folder.path().join("library.scuffline");
    let mut library = Library::open(&library_path).unwrap();
    let child = Golfer { name: "Kim Invented".into(), child: true, ..Golfer::default() };
    let golfer = library.edit(Scope::Library, "golfer", |edit| edit.add_golfer(&child)).unwrap();
    session_on(&mut library, golfer, jiff::civil::date(2026, 5, 14)).unwrap();
    drop(library);
    let file = folder.path().join("kim.csv");
    let export = |more: &[&str]| {
        let mut arguments = vec!["export", file.to_str().unwrap(), "--library"];
        arguments.push(library_path.to_str().unwrap());
        arguments.extend(more);
        scuffline(arguments)
    };
    let refused = export(&[]);
    let sentence = String::from_utf8(refused.stderr).unwrap();
    assert!(!refused.status.success() && refused.stdout.is_empty() && !file.exists());
    assert!(sentence.contains("parent or guardian"), "{sentence}");
    let agreed = export(&["--consent", "Kim's mother, 14 May"]);
    assert!(agreed.status.success(), "{}", String::from_utf8_lossy(&agreed.stderr));
    assert!(std::fs::read_to_string(&file).unwrap().starts_with("golfer,date,place,"));
    // It is kept: nobody is asked twice.
    assert!(export(&[]).status.success());
    for wrong in [&["--date", "2020-01-01"][..], &["--golfer", "Nobody"]] {
        let output = export(wrong);
        assert!(!output.status.success() && output.stdout.is_empty());
        assert_eq!(String::from_utf8(output.stderr).unwrap().lines().count(), 1);
    }
}

#[test]
fn shells_and_man_are_served() {
    let script = scuffline(["completions", "bash"]);
    assert!(String::from_utf8(script.stdout).unwrap().contains("complete -F _scuffline"));
    let manual = String::from_utf8(scuffline(["manual"]).stdout).unwrap();
    assert!(manual.starts_with(".ie") || manual.contains(".TH scuffline"), "{manual}");
    assert!(manual.contains("SCUFFLINE EXPORT"));
}
