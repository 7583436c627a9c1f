//! Every frame is the frame asked for, with its own time stamp, whatever path led there.

use std::path::{Path, PathBuf};
use std::process::Command;

use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use scuffline::domain::{FrameIndex, Pictures};
use scuffline::video::Recording;

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-frames").join(name)
}

/// Time stamps as FFmpeg's own `ffprobe -show_frames` reports them, in its order.
fn probed_stamps(path: &Path) -> Vec<i64> {
    let output = Command::new("ffprobe")
        .args(["-v", "error", "-select_streams", "v:0", "-show_entries", "frame=pts", "-of"])
        .args(["csv=p=0".as_ref(), path.as_os_str()])
        .output()
        .expect("ffprobe is in the list of packages");
    let text = String::from_utf8(output.stdout).expect("ffprobe prints text");
    text.lines().filter_map(|line| line.trim_end_matches(',').parse().ok()).collect()
}

fn shuffled(count: usize) -> Vec<usize> {
    let mut order: Vec<usize> = (0..count).collect();
    order.shuffle(&mut ChaCha8Rng::seed_from_u64(3));
    order
}

#[test]
fn sample_footage_is_indexed_as_ffprobe_sees_it() {
    for name in ["iron_turf_sheet.mp4", "portrait.mp4", "iron_mat_stick.mp4"] {
        let recording = Recording::open(&sample(name)).unwrap();
        let stamps: Vec<i64> = recording.timeline().frames.iter().map(|f| f.pts.0).collect();
        assert_eq!(stamps, probed_stamps(&sample(name)), "{name}");
    }
}

#[test]
fn random_frames_equal_those_of_a_pass_from_the_start() {
    let mut recording = Recording::open(&sample("iron_mat_stick.mp4")).unwrap();
    let count = recording.timeline().len();
    let mut passed = Vec::new();
    recording
        .for_each_gray(FrameIndex(0), FrameIndex(count), &mut |frame, gray| {
            assert_eq!(frame.0, passed.len());
            passed.push(gray.clone());
            true
        })
        .unwrap();
    assert_eq!(passed.len(), count);
    for &i in shuffled(count).iter().take(24) {
        assert!(*recording.gray(FrameIndex(i)).unwrap() == passed[i], "frame {i}");
    }
}

/// Where the click of the strike begins: the first sample near `expected` that stands out from
/// the half second before.
fn onset(sound: &scuffline::domain::Sound, expected: f64) -> f64 {
    let at = |time: f64| ((time - sound.start.0) * f64::from(sound.rate)).round() as usize;
    let loudest = |from: usize, to: usize| {
        sound.samples[from..to].iter().fold(0.0f32, |most, s| most.max(s.abs()))
    };
    let quiet = loudest(at(expected - 0.3), at(expected - 0.01));
    let peak = loudest(at(expected - 0.01), at(expected + 0.02));
    let level = (quiet * 1.5).max(peak * 0.35);
    let first = (at(expected - 0.01)..).find(|&i| sound.samples[i].abs() > level).unwrap();
    sound.start.0 + first as f64 / f64::from(sound.rate)
}

#[test]
fn the_click_sounds_when_it_arrived() {
    for name in ["iron_turf_sheet", "driver_tee", "left_handed"] {
        let text = std::fs::read_to_string(sample(&format!("{name}.truth.json"))).unwrap();
        let truth: serde_json::Value = serde_json::from_str(&text).unwrap();
        let expected = truth["swings"][0]["strike"]["sound_arrival_s"].as_f64().unwrap();
        let recording = Recording::open(&sample(&format!("{name}.mp4"))).unwrap();
        let sound = recording.sound().unwrap().unwrap();
        assert_eq!(sound.rate, 48_000);
        let found = onset(&sound, expected);
        // A priming of the coder left in would be 21 ms.
        assert!((found - expected).abs() < 0.0005, "{name}: {found} s instead of {expected} s");
    }
}
