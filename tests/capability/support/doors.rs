//! The doors through which files from outside come in, and damage for what comes through them.
//! The same number gives the same damage.

use std::io::{Read, Write};
use std::path::Path;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use scuffline::cli::measure::setup_file::parse_setup;
use scuffline::domain::{
    ColourFrame, FrameEntry, FrameIndex, PictureSize, Pictures, Pts, Setup, SwingMarks, TimeBase,
    Timeline,
};
use scuffline::report::content::Content;
use scuffline::report::page::Paper;
use scuffline::report::picture::Picture;
use scuffline::report::{csv, html, json, pdf};
use scuffline::store::{Library, Of, Scope};
use scuffline::video::{ClipWriter, Index, Recording};
use scuffline::workflow::Progress;
use scuffline::workflow::bundle::{Bundle, merge, plan, write_bundle};
use scuffline::workflow::{CoachSays, SwingInput, build_sample, evaluate, session_content, state};
use serde_json::Value;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

use super::mutate::damaged;

/// Where something from outside comes in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Door {
    /// A set-up file, and measuring with it.
    Setup,
    /// A golfer of another library.
    Bundle,
    /// A table of another program.
    Table,
    /// A session as JSON.
    Session,
    /// A page to be: a session whose values nobody expects, and the PDF, the web page and the
    /// table written from it.
    Page,
    /// A library file.
    Library,
    /// A recording.
    Recording,
}

/// All of them.
pub const DOORS: [Door; 7] = [
    Door::Setup,
    Door::Bundle,
    Door::Table,
    Door::Session,
    Door::Page,
    Door::Library,
    Door::Recording,
];

/// No input may bring the process beyond so many bytes of memory.
pub const MOST_MEMORY: u64 = 512 << 20;

/// The most memory that this process held since the last [`forget_peak`], in bytes; `None` where
/// the system does not tell it as Linux does.
pub fn peak_memory() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let peak = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    Some(1024 * peak.trim().strip_suffix(" kB")?.parse::<u64>().ok()?)
}

/// From now on the peak counts anew.
pub fn forget_peak() {
    // Where that can't be had the peak is that of the whole run, which bounds more, not less.
    let _ = std::fs::write("/proc/self/clear_refs", "5");
}

/// Whole files, one for each door, in the order of [`DOORS`].
pub fn whole_files(folder: &Path) -> [Vec<u8>; 7] {
    let path = folder.join("whole.scuffline");
    let mut library = Library::open(&path).unwrap();
    let built = build_sample(&mut library, folder).unwrap().unwrap();
    let bundle = folder.join("whole.zip");
    write_bundle(&library, built.golfer, &bundle, false, &mut Progress::silent()).unwrap();
    let content = session_content(&library, built.sessions[0], &CoachSays::default()).unwrap();
    let copy = folder.join("copy.scuffline");
    library.backup_to(&copy).unwrap();
    [
        SETUP.as_bytes().to_vec(),
        std::fs::read(bundle).unwrap(),
        csv::write(&content).into_bytes(),
        json::write(&content).into_bytes(),
        json::write(&content).into_bytes(),
        std::fs::read(copy).unwrap(),
        small_recording(&folder.join("whole.mp4")),
    ]
}

/// Two seconds of a bright square that crosses a small picture.
fn small_recording(path: &Path) -> Vec<u8> {
    let size = PictureSize { width: 64, height: 48 };
    let time_base = TimeBase { numerator: 1, denominator: 30 };
    let mut clip = ClipWriter::create(path, size, time_base).unwrap();
    for n in 0..60 {
        let lit = |i: usize| (n..n + 8).contains(&(i % 64)) && (20..28).contains(&(i / 64));
        let data = (0..64 * 48)
            .flat_map(|i| if lit(i) { [250, 250, 250, 255] } else { [40, 90, 40, 255] });
        let picture = ColourFrame { width: 64, height: 48, data: data.collect() };
        clip.write(&picture, Pts(n as i64)).unwrap();
    }
    clip.finish().unwrap();
    std::fs::read(path).unwrap()
}

const SETUP: &str = r#"{"target": "right", "surface": "turf", "club": "7-iron", "on_tee": false,
 "references": [
  {"kind": "sheet", "size_mm": [297, 210], "along_target": true,
   "corners_px": [[354.1, 627.1], [520.2, 628.0], [530.7, 560.3], [370.6, 559.2]]},
  {"kind": "line", "length_mm": 1219.2, "ends_px": [[300.0, 640.5], [962.1, 646.0]], "frame": 3},
  {"kind": "line_pair", "distance_mm": 100, "lines_px":
   [[[600, 580], [590, 640]], [[660, 580], [655, 640]]]},
  {"kind": "ball", "outline_px": [660.2, 592.0, 24.1]}],
 "target_line_px": [[300, 600], [900, 604]], "origin_px": {"px": [661, 601], "frame": 2},
 "only_given": true,
 "swings": [{"strike_time_s": 0.75, "ball_px": [660.2, 592.0], "divot_start_px": [651.6, 601.7],
  "divot_end_px": [720.3, 603.3], "frame": 9}]}"#;

/// The file with damage of this number: bytes for even numbers, values in their form for odd ones,
/// of any kind or (every other time) of their own kind, which more often is let in. Only values of
/// their kind for a page: bytes of a session go through the session's own door.
pub fn spoiled(door: Door, whole: &[u8], number: u64) -> Vec<u8> {
    let twisted = match (number % 2, door) {
        (1, Door::Setup | Door::Session) | (_, Door::Page) => {
            let in_kind = door == Door::Page || number % 4 == 3;
            let twisted = |v: Value| twisted(v, number, in_kind).to_string().into_bytes();
            serde_json::from_slice(whole).ok().map(twisted)
        }
        (1, Door::Bundle) => forged(whole, number),
        _ => None,
    };
    twisted.unwrap_or_else(|| damaged(whole, number))
}

/// One to four values replaced by ones that nobody expects.
fn twisted(mut value: Value, number: u64, in_kind: bool) -> Value {
    let rng = &mut ChaCha8Rng::seed_from_u64(number);
    for _ in 0..rng.random_range(1..=4) {
        twist(&mut value, rng, in_kind);
    }
    value
}

fn twist(value: &mut Value, rng: &mut ChaCha8Rng, in_kind: bool) {
    let inner: Vec<&mut Value> = match value {
        Value::Array(list) => list.iter_mut().collect(),
        Value::Object(fields) => fields.values_mut().collect(),
        _ => Vec::new(),
    };
    let count = inner.len();
    if count > 0 && rng.random_bool(0.9) {
        let chosen = rng.random_range(0..count);
        return twist(inner.into_iter().nth(chosen).unwrap(), rng, in_kind);
    }
    let numbers = [0.0, -0.0, -1.0, 1e-300, 1e-9, 0.5, 1e9, -1e18, 1e300, -1.7976931348623157e308];
    let long = "W".repeat(rng.random_range(1..20_000));
    let texts =
        ["", "=1+1", "\u{202e}evil\u{0}\n", "../../x", "🏌\u{200d}♂️ é", &long, "9999-99-99"];
    let what = match (&*value, in_kind) {
        (_, false) => rng.random_range(0..6),
        (Value::Array(_), _) => 1,
        (Value::String(_), _) => 2,
        (Value::Number(_), _) => rng.random_range(3..6),
        _ => return,
    };
    *value = match (what, value.take()) {
        (0, _) => Value::Null,
        (1, Value::Array(mut list)) => {
            let copies = rng.random_range(0..200);
            let last = list.pop().unwrap_or_default();
            list.extend(std::iter::repeat_n(last, copies));
            Value::Array(list)
        }
        (2, _) => texts[rng.random_range(0..texts.len())].into(),
        (3, _) => rng.random::<i64>().into(),
        (4, Value::Number(n)) => (-n.as_f64().unwrap_or_default()).into(),
        _ => numbers[rng.random_range(0..numbers.len())].into(),
    };
}

/// A bundle with twisted contents whose list of hashes is right, as a forger would make it.
fn forged(whole: &[u8], number: u64) -> Option<Vec<u8>> {
    let mut zip = ZipArchive::new(std::io::Cursor::new(whole)).ok()?;
    let mut entry = |name: &str| -> Option<Value> {
        let mut bytes = Vec::new();
        zip.by_name(name).ok()?.read_to_end(&mut bytes).ok()?;
        serde_json::from_slice(&bytes).ok()
    };
    let (mut list, golfer) = (entry("bundle.json")?, entry("golfer.json")?);
    let golfer = twisted(golfer, number, number % 4 == 3).to_string();
    list["entries"]["golfer.json"] = serde_json::json!({
        "size_bytes": golfer.len(), "blake3": blake3::hash(golfer.as_bytes()).to_hex().to_string()
    });
    let mut zip = ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, text) in [("bundle.json", list.to_string()), ("golfer.json", golfer)] {
        let options = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
        zip.start_file(name, options).ok()?;
        zip.write_all(text.as_bytes()).ok()?;
    }
    Some(zip.finish().ok()?.into_inner())
}

/// Sends a file through its door; whether it was let in. What is let in must be usable, and
/// a refusal must be one sentence.
pub fn through(door: Door, bytes: &[u8], folder: &Path) -> bool {
    let text = String::from_utf8_lossy(bytes);
    let outcome = match door {
        Door::Setup => parse_setup(&text).map_err(|e| e.to_string()).map(measure_with),
        Door::Table => csv::read(&text).map_err(|e| e.to_string()).map(|rows| {
            let numbers = rows.iter().filter_map(|row| row.swing.divot_start_mm.as_ref());
            assert!(numbers.into_iter().all(|figure| figure.value.is_finite()));
        }),
        Door::Session => json::read(&text).map_err(|e| e.to_string()).map(|content| {
            assert_eq!(json::read(&json::write(&content)).unwrap(), content);
        }),
        Door::Page => json::read(&text).map_err(|e| e.to_string()).and_then(|c| write_pages(&c)),
        Door::Bundle => take_in(bytes, folder),
        Door::Library => look_into(bytes, folder),
        Door::Recording => watch(bytes, folder),
    };
    if let Err(sentence) = &outcome {
        assert!(!sentence.contains('\n') && sentence.len() < 1000, "{sentence}");
    }
    outcome.is_ok()
}

/// Writes all pages of a session, with a picture. Each is whole, or refused with a sentence.
fn write_pages(content: &Content) -> Result<(), String> {
    let table = csv::write(content);
    if let Ok(rows) = csv::read(&table) {
        assert_eq!(rows.len(), content.swings.len(), "a row of the table for each swing");
    }
    let data = (0..64 * 48).flat_map(|i| [i as u8, 90, 40, 255]).collect();
    let frame = ColourFrame { width: 64, height: 48, data };
    let pictures = [Picture { frame, caption: content.golfer.clone(), focus: None }];
    let web = html::write(content, &pictures).map_err(|e| e.to_string())?;
    assert!(web.trim_end().ends_with("</html>") && web.matches("<html").count() == 1);
    for paper in [Paper::A4, Paper::Letter] {
        let page = pdf::write(content, &pictures, paper).map_err(|e| e.to_string())?;
        assert_whole_pdf(&page);
    }
    Ok(())
}

/// Every object of a PDF lies where its table says (ISO 32000-1, 7.5.4 and 7.5.5).
fn assert_whole_pdf(bytes: &[u8]) {
    assert!(bytes.starts_with(b"%PDF-1."));
    let tail = String::from_utf8_lossy(&bytes[bytes.len().saturating_sub(64)..]).into_owned();
    let start = tail.split("startxref").nth(1).expect("where the table lies");
    let mut words = start.split_whitespace();
    let start: usize = words.next().expect("a number").parse().expect("a number");
    assert_eq!(words.next(), Some("%%EOF"));
    let table = String::from_utf8_lossy(&bytes[start..]).into_owned();
    let mut lines = table.lines();
    assert_eq!(lines.next(), Some("xref"));
    let head = lines.next().expect("the first number and how many");
    let count: usize = head.split(' ').nth(1).expect("how many").parse().expect("a number");
    for (number, line) in lines.take(count).enumerate() {
        if !line.trim_end().ends_with('n') {
            continue;
        }
        let at: usize = line[..10].parse().expect("an offset");
        let object = format!("{number} 0 obj");
        assert!(bytes[at..].starts_with(object.as_bytes()), "object {number} at {at}");
    }
}

/// Measures a swing of two seconds at 120 pictures a second with this set-up.
fn measure_with(setup: Setup) {
    let entry = |n: i64| FrameEntry { pts: Pts(n), key: n % 30 == 0 };
    let time_base = TimeBase { numerator: 1, denominator: 120 };
    let timeline = Timeline { time_base, frames: (0..240).map(entry).collect(), slow_factor: 1.0 };
    let given = setup.swings.first().cloned().unwrap_or_else(SwingMarks::default);
    let input = SwingInput { given, ..SwingInput::default() };
    let size = PictureSize { width: 1280, height: 720 };
    let Ok(evaluation) = evaluate(size, &timeline, &setup, &[input]) else { return };
    for result in &evaluation.swings {
        for measured in result.divot_start_offset.iter().chain(&result.divot_end_offset) {
            let stated = state(measured);
            let ends = [stated.value, stated.interval.low, stated.interval.high];
            assert!(ends.iter().all(|v| v.is_finite()), "{ends:?}");
        }
    }
}

fn take_in(bytes: &[u8], folder: &Path) -> Result<(), String> {
    let path = folder.join("bundle.zip");
    std::fs::write(&path, bytes).unwrap();
    let mut bundle = Bundle::open(&path).map_err(|e| e.to_string())?;
    let to = folder.join("to.scuffline");
    for ending in ["", "-wal", "-shm"] {
        let _ = std::fs::remove_file(folder.join(format!("to.scuffline{ending}")));
    }
    let mut library = Library::open(&to).unwrap();
    let outcome = plan(&library, &bundle)
        .and_then(|_| {
            merge(&mut library, &mut bundle, &folder.join("kept"), &mut Progress::silent())
        })
        .map_err(|e| e.to_string());
    assert!(library.check().unwrap().is_sound());
    match outcome {
        Ok(_) => read_all(&library).map(|_| ()),
        Err(sentence) => {
            assert_eq!(library.contents().unwrap().golfers, 0, "a refusal leaves nothing");
            Err(sentence)
        }
    }
}

fn look_into(bytes: &[u8], folder: &Path) -> Result<(), String> {
    let path = folder.join("spoiled.scuffline");
    for ending in ["-wal", "-shm"] {
        let _ = std::fs::remove_file(folder.join(format!("spoiled.scuffline{ending}")));
    }
    std::fs::write(&path, bytes).unwrap();
    let mut library = Library::open(&path).map_err(|e| e.to_string())?;
    library.check().map_err(|e| e.to_string())?;
    read_all(&library)?;
    library.undo(Scope::Library).map_err(|e| e.to_string())?;
    library
        .edit(Scope::Library, "golfer", |edit| edit.add_golfer(&Default::default()))
        .map_err(|e| e.to_string())?;
    Ok(())
}

/// Reads a recording here and there, back, and through; what can't be read has its sentence.
fn watch(bytes: &[u8], folder: &Path) -> Result<(), String> {
    let path = folder.join("spoiled.mp4");
    std::fs::write(&path, bytes).unwrap();
    let mut recording = Recording::open(&path).map_err(|e| e.to_string())?;
    let count = recording.timeline().len();
    for frame in [0, count / 2, count - 1, count / 3, (count / 3).saturating_sub(1)] {
        let _ = recording.gray(FrameIndex(frame));
        let _ = recording.colour(FrameIndex(frame));
        let _ = recording.prepare(FrameIndex(frame));
    }
    let _ = recording.for_each_gray(FrameIndex(0), FrameIndex(count), &mut |_, _| true);
    let _ = recording.sound();
    let mut sketcher = recording.sketcher().map_err(|e| e.to_string())?;
    let _ = sketcher.small(FrameIndex(count / 3), 0, 20);
    assert_eq!(Index::from_bytes(&recording.index().to_bytes()).as_ref(), Some(recording.index()));
    Ok(())
}

/// Reads all that is in a library, as lists and summaries do.
fn read_all(library: &Library) -> Result<(), String> {
    let golfers = library.golfers().map_err(|e| e.to_string())?;
    for (golfer, _) in golfers {
        for row in library.sessions(golfer).map_err(|e| e.to_string())? {
            library.swings(Of::Session(row.id)).map_err(|e| e.to_string())?;
            library.recordings(row.id).map_err(|e| e.to_string())?;
            session_content(library, row.id, &CoachSays::default()).map_err(|e| e.to_string())?;
        }
    }
    Ok(())
}
