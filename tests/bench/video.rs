//! Measures reading one recording and prints one JSON object.
//!
//! `cargo run --example bench-video -- RECORDING [--random N]`: what the figures mean is said in
//! `docs/performance.md`.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::mpsc::{channel, sync_channel};
use std::time::{Duration, Instant};

use clap::Parser;
use scuffline::domain::{FrameIndex, Pictures, Seconds};
use scuffline::video::{CancelToken, Recording};
use serde_json::{Map, Value, json};

#[derive(Parser)]
struct Args {
    /// The recording to read.
    recording: PathBuf,
    /// How many random frames are asked for.
    #[arg(long, default_value_t = 30)]
    random: usize,
    /// Leave the whole passes out.
    #[arg(long)]
    no_passes: bool,
    /// Measure one part only: open, random, steps, scrub, warm or passes.
    #[arg(long)]
    only: Option<String>,
}

impl Args {
    fn wants(&self, part: &str) -> bool {
        self.only.as_ref().map_or(part != "passes" || !self.no_passes, |only| only == part)
    }
}

/// Marsaglia's xorshift (Journal of Statistical Software 8(14), 2003): a generator that is three
/// lines in any language, so that another program can be asked for the same frames.
struct Xorshift(u32);

impl Xorshift {
    fn below(&mut self, count: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 17;
        self.0 ^= self.0 << 5;
        self.0 as usize % count
    }
}

fn main() {
    let args = Args::parse();
    let mut report = Map::new();
    report.insert("clip".into(), json!(args.recording.file_name().map(|n| n.to_string_lossy())));
    if args.wants("open") {
        open(&args.recording, &mut report);
    }
    let mut recording = Recording::open(&args.recording).expect("opened before");
    let count = recording.timeline().len();
    let rng = &mut Xorshift(2_654_435_761);
    report.insert("frames".into(), json!(count));
    if args.wants("random") {
        random(&mut recording, args.random, rng, &mut report);
    }
    if args.wants("steps") {
        steps(&mut recording, rng, &mut report);
    }
    if args.wants("scrub") {
        scrub(&args.recording, count, &mut report);
    }
    if args.wants("warm") {
        warm(&args.recording, rng, &mut report);
    }
    report.insert("peak_mib_before_passes".into(), json!(peak_mib()));
    if args.wants("passes") {
        passes(&mut recording, &args.recording, &mut report);
    }
    report.insert("peak_mib".into(), json!(peak_mib()));
    println!("{}", Value::Object(report));
}

fn open(path: &Path, report: &mut Map<String, Value>) {
    let start = Instant::now();
    let mut recording = Recording::open(path).expect("the recording opens");
    let indexed = ms(start);
    recording.colour(FrameIndex(0)).expect("the first frame decodes");
    report.insert("open_and_index_ms".into(), json!(indexed));
    report.insert("open_to_first_picture_ms".into(), json!(ms(start)));
    let kept = recording.index().clone();
    let start = Instant::now();
    let mut again =
        Recording::open_with(path, Some(kept), CancelToken::new()).expect("opens again");
    again.colour(FrameIndex(0)).expect("the first frame decodes");
    report.insert("reopen_to_first_picture_ms".into(), json!(ms(start)));
}

fn random(
    recording: &mut Recording,
    asked: usize,
    rng: &mut Xorshift,
    report: &mut Map<String, Value>,
) {
    let count = recording.timeline().len();
    let mut times = Vec::new();
    let before = cpu_ms();
    for _ in 0..asked {
        let frame = FrameIndex(rng.below(count));
        let start = Instant::now();
        recording.colour(frame).expect("every frame decodes");
        times.push(ms(start));
    }
    put_times(report, "random", &mut times);
    report.insert("random_cpu_ms".into(), json!((cpu_ms() - before) / asked as f64));
}

/// Walks from random places: 30 frames forward, 60 backward, and 120 backward after the
/// neighbourhood was prepared as the window does when no one waits: more than is held ready.
/// And from just behind key frames, prepared likewise, 20 backward without time to prepare more.
fn steps(recording: &mut Recording, rng: &mut Xorshift, report: &mut Map<String, Value>) {
    let count = recording.timeline().len();
    let (mut forward, mut backward, mut prepared) = (Vec::new(), Vec::new(), Vec::new());
    let mut timed = |frame: usize, times: &mut Vec<f64>| {
        let start = Instant::now();
        recording.colour(FrameIndex(frame)).expect("every frame decodes");
        times.push(ms(start));
    };
    if count < 180 {
        return;
    }
    for _ in 0..4 {
        let from = 70 + rng.below(count - 110);
        timed(from, &mut Vec::new());
        (1..=30).for_each(|k| timed(from + k, &mut forward));
    }
    for _ in 0..4 {
        let from = 70 + rng.below(count - 110);
        timed(from, &mut Vec::new());
        (1..=60).for_each(|k| timed(from - k, &mut backward));
    }
    for _ in 0..4 {
        let from = 130 + rng.below(count - 170);
        recording.colour(FrameIndex(from)).expect("every frame decodes");
        while recording.prepare(FrameIndex(from)).expect("it can be prepared") {}
        for k in 1..=120 {
            let start = Instant::now();
            recording.colour(FrameIndex(from - k)).expect("every frame decodes");
            prepared.push(ms(start));
            // A key held down repeats every 33 ms; what is left of that goes into preparing.
            while start.elapsed() < Duration::from_millis(33)
                && recording.prepare(FrameIndex(from - k)).expect("it can be prepared")
            {
            }
        }
    }
    let mut over_key = Vec::new();
    let keys = recording.timeline().frames.iter().enumerate().skip(60).filter(|(_, f)| f.key);
    let keys: Vec<usize> = keys.map(|(n, _)| n).collect();
    for &key in keys.iter().step_by(keys.len().div_ceil(8).max(1)) {
        let from = (key + 3).min(count - 1);
        recording.colour(FrameIndex(from)).expect("every frame decodes");
        while recording.prepare(FrameIndex(from)).expect("it can be prepared") {}
        for k in 1..=(from - key + 20) {
            let start = Instant::now();
            recording.colour(FrameIndex(from - k)).expect("every frame decodes");
            over_key.push(ms(start));
        }
    }
    put_times(report, "step_back_over_key", &mut over_key);
    put_times(report, "step_forward", &mut forward);
    put_times(report, "step_back_unprepared", &mut backward);
    put_times(report, "step_back", &mut prepared);
}

/// Two seconds of dragging across the whole recording at 60 requests a second: each newer request
/// replaces the one that waits. A key frame nearby is shown at once; where the dragging stops, the
/// exact frame.
fn scrub(path: &Path, count: usize, report: &mut Map<String, Value>) {
    let (ask, asked) = channel::<(usize, Instant)>();
    let (shown, seen) = sync_channel(1000);
    let path = path.to_owned();
    let worker = std::thread::spawn(move || {
        let mut recording = Recording::open(&path).expect("opened before");
        let mut sketcher = recording.sketcher().expect("opened before");
        let mut last = 0;
        while let Ok(first) = asked.recv() {
            let (frame, since) = asked.try_iter().last().unwrap_or(first);
            sketcher.near(FrameIndex(frame), usize::MAX).expect("key frames decode");
            shown.send(ms(since)).expect("the other end waits");
            last = frame;
        }
        let start = Instant::now();
        recording.colour(FrameIndex(last)).expect("every frame decodes");
        ms(start)
    });
    let requests = 120;
    let start = Instant::now();
    for i in 0..requests {
        let frame = (count - 1) * i / (requests - 1);
        ask.send((frame, Instant::now())).expect("the worker lives");
        std::thread::sleep(Duration::from_micros(16_667));
    }
    let took = ms(start);
    drop(ask);
    let exact = worker.join().expect("the worker ends");
    let mut latencies: Vec<f64> = seen.try_iter().collect();
    report.insert("scrub_pictures_a_second".into(), json!(latencies.len() as f64 * 1000.0 / took));
    put_times(report, "scrub_sketch", &mut latencies);
    report.insert("scrub_exact_after_stop_ms".into(), json!(exact));
}

/// Random frames within a second of a strike in the middle, after they were kept on disk.
fn warm(path: &Path, rng: &mut Xorshift, report: &mut Map<String, Value>) {
    let folder = std::env::temp_dir().join(format!("scuffline-bench-{}", std::process::id()));
    let mut recording = Recording::open(path).expect("opened before");
    let strike = recording.timeline().duration() / 2.0;
    let start = Instant::now();
    recording
        .keep_near(&[strike], &folder.join("clip"), &mut || true)
        .expect("there is room on the disk");
    report.insert("keep_near_ms".into(), json!(ms(start)));
    let bytes: u64 = std::fs::read_dir(&folder)
        .into_iter()
        .flatten()
        .filter_map(|entry| entry.ok()?.metadata().ok())
        .map(|data| data.len())
        .sum();
    report.insert("kept_mb".into(), json!(bytes as f64 / 1e6));
    let mut recording = Recording::open(path).expect("opened before");
    recording.use_kept(&folder.join("clip"));
    let timeline = recording.timeline();
    // Where frames are missing, the one at that time may lie farther away than a second.
    let first = timeline.frame_at(strike - Seconds(0.99)).0 + 1;
    let last = timeline.frame_at(strike + Seconds(0.99)).0;
    let before = cpu_ms();
    let mut times: Vec<f64> = (0..300)
        .map(|_| {
            let frame = FrameIndex(first + rng.below(last - first + 1));
            let start = Instant::now();
            recording.kept(frame).expect("every frame near the strike was kept");
            ms(start)
        })
        .collect();
    report.insert("warm_random_cpu_ms".into(), json!((cpu_ms() - before) / times.len() as f64));
    put_times(report, "warm_random", &mut times);
    let _ = std::fs::remove_dir_all(&folder);
}

/// Whole passes, each beside FFmpeg's own null decode just before it.
fn passes(recording: &mut Recording, path: &Path, report: &mut Map<String, Value>) {
    let count = recording.timeline().len();
    let beside = null_decode(path, count);
    let (start, before) = (Instant::now(), cpu_ms());
    let mut sum = 0u64;
    recording
        .for_each_gray(FrameIndex(0), FrameIndex(count), &mut |_, gray| {
            sum += u64::from(gray.data[gray.data.len() / 2]);
            true
        })
        .expect("the pass goes through");
    put_pass(report, "luma", count, ms(start), cpu_ms() - before, &beside);
    let beside = null_decode(path, count);
    let (start, before) = (Instant::now(), cpu_ms());
    for frame in 0..count {
        recording.colour(FrameIndex(frame)).expect("every frame decodes");
    }
    put_pass(report, "rgba", count, ms(start), cpu_ms() - before, &beside);
}

struct NullDecode {
    frames_a_second: f64,
    cpu_ms_a_frame: f64,
}

fn null_decode(path: &Path, count: usize) -> NullDecode {
    let (start, before) = (Instant::now(), children_cpu_ms());
    let done = Command::new("ffmpeg")
        .args(["-v", "quiet", "-nostdin", "-i"])
        .arg(path)
        .args(["-map", "0:v:0", "-fps_mode", "passthrough", "-f", "null", "-"])
        .stdout(Stdio::null())
        .status()
        .expect("ffmpeg is installed");
    assert!(done.success());
    NullDecode {
        frames_a_second: count as f64 * 1000.0 / ms(start),
        cpu_ms_a_frame: (children_cpu_ms() - before) / count as f64,
    }
}

fn put_pass(
    report: &mut Map<String, Value>,
    name: &str,
    count: usize,
    wall_ms: f64,
    cpu_ms: f64,
    beside: &NullDecode,
) {
    let cpu = cpu_ms / count as f64;
    report.insert(
        format!("{name}_pass"),
        json!({
            "frames_a_second": count as f64 * 1000.0 / wall_ms,
            "cpu_ms_a_frame": cpu,
            "ffmpeg_null_frames_a_second": beside.frames_a_second,
            "ffmpeg_null_cpu_ms_a_frame": beside.cpu_ms_a_frame,
            "cpu_ratio": cpu / beside.cpu_ms_a_frame,
        }),
    );
}

fn put_times(report: &mut Map<String, Value>, name: &str, times: &mut [f64]) {
    times.sort_by(f64::total_cmp);
    let at = |share: f64| times.get((share * (times.len().max(1) - 1) as f64).round() as usize);
    report.insert(
        format!("{name}_ms"),
        json!({"n": times.len(), "p50": at(0.5), "p95": at(0.95), "max": at(1.0)}),
    );
}

fn ms(since: Instant) -> f64 {
    since.elapsed().as_secs_f64() * 1000.0
}

/// User and system time of this process, ended threads included, in milliseconds.
fn cpu_ms() -> f64 {
    ticks(11) + ticks(12)
}

fn children_cpu_ms() -> f64 {
    ticks(13) + ticks(14)
}

/// A field of `/proc/self/stat`, counted after the name in parentheses; 100 ticks a second.
fn ticks(field: usize) -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let fields = stat.rsplit(')').next().unwrap_or_default();
    fields.split_whitespace().nth(field).and_then(|t| t.parse().ok()).map_or(0.0, |t: f64| t * 10.0)
}

fn peak_mib() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse::<f64>().ok().map(|kib| kib / 1024.0)
}
