//! A day on the range at full speed: recordings arrive in a watched folder, some in two parts,
//! some broken; every tenth is measured in full, the others are taken in with their frames only.
//!
//! `cargo run --example range-day -- FOLDER [RECORDINGS]` prints memory, open files and the size
//! of the library as they go, and ends with an error if a good recording is not in the library.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use clap::Parser;
use scuffline::store::{Library, NewRecording, Of, SessionId, identify_file};
use scuffline::video::Recording;
use scuffline::workflow::{FolderWatch, Progress, golfer_named, read_in, session_on};

#[derive(Parser)]
struct Args {
    /// An empty folder for recordings and library.
    folder: PathBuf,
    /// How many recordings arrive.
    #[arg(default_value_t = 600)]
    recordings: usize,
}

/// How often the folder is looked at here; a day's pauses are left out.
const LOOK: Duration = Duration::from_millis(150);

fn main() {
    let args = Args::parse();
    let inbox = args.folder.join("inbox");
    std::fs::create_dir_all(&inbox).expect("the folder can be made");
    let sources = Sources::make(&args.folder);
    let mut watch = FolderWatch::new(&inbox).expect("the folder can be read");
    let mut library = Library::open(args.folder.join("library.scuffline")).expect("a library");
    let golfer = golfer_named(&mut library, Some("Robin Example (invented)")).expect("a golfer");
    let day = jiff::civil::date(2026, 5, 14);
    let session = session_on(&mut library, golfer, day).expect("a session");
    let count = args.recordings;
    let arriving = std::thread::spawn(move || arrive(&inbox, &sources, count));
    let (mut done, mut refused, mut swings) = (0, 0, 0);
    println!("recordings  refused  swings  memory kB  open files  library kB");
    loop {
        let is_over = arriving.is_finished();
        let finished = watch.look().expect("the folder is there");
        for file in &finished {
            match take_in(&mut library, session, file) {
                Ok(found) => {
                    done += 1;
                    swings += found;
                }
                Err(_) => refused += 1,
            }
            if (done + refused) % 50 == 0 {
                tell(done, refused, swings, &library);
            }
        }
        if is_over && finished.is_empty() && !watch.is_waiting() {
            break;
        }
        std::thread::sleep(LOOK);
    }
    tell(done, refused, swings, &library);
    let wanted = (0..count).filter(|n| fate(*n) != Fate::Broken).count();
    let kept = library.recordings(session).expect("recordings").len();
    println!("{kept} of {wanted} good recordings are in the library");
    assert!(library.check().expect("a check").is_sound());
    std::process::exit(i32::from(kept != wanted));
}

/// One recording measured in full, one small one, as bytes.
struct Sources {
    full: Vec<u8>,
    small: Vec<u8>,
}

impl Sources {
    fn make(folder: &Path) -> Self {
        let sample = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-frames/iron_turf_sheet.mp4");
        let of_size = |name: &str, size: &str, seconds: &str| {
            let path = folder.join(name);
            let status = Command::new("ffmpeg")
                .args(["-v", "error", "-y", "-i", sample, "-t", seconds, "-vf", size, "-an"])
                .args(["-c:v", "libx264", "-preset", "veryfast", "-crf", "20"])
                .arg(&path)
                .status();
            assert!(status.is_ok_and(|s| s.success()), "ffmpeg makes the recordings");
            std::fs::read(path).expect("it was made")
        };
        Self {
            full: of_size("full.mp4", "scale=640:360", "9"),
            small: of_size("small.mp4", "scale=64:48", "1"),
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Fate {
    Whole,
    InTwoParts,
    Broken,
}

fn fate(number: usize) -> Fate {
    match number {
        n if n % 37 == 36 => Fate::Broken,
        n if n % 20 == 19 => Fate::InTwoParts,
        _ => Fate::Whole,
    }
}

fn is_full(path: &Path) -> bool {
    path.to_string_lossy().contains("full")
}

/// Puts the recordings into the folder one after the other, each with a content of its own.
fn arrive(inbox: &Path, sources: &Sources, count: usize) {
    for number in 0..count {
        let (kind, source) =
            if number % 10 == 0 { ("full", &sources.full) } else { ("small", &sources.small) };
        let mut bytes = source.clone();
        // An empty box at the end, which players pass over.
        bytes.extend_from_slice(&[0, 0, 0, 16, b'f', b'r', b'e', b'e']);
        bytes.extend_from_slice(&(number as u64).to_be_bytes());
        let path = inbox.join(format!("{number:04} {kind}.mp4"));
        let part = bytes.len() * 2 / 5;
        let put = |bytes: &[u8]| std::fs::write(&path, bytes).expect("there is room");
        match fate(number) {
            Fate::Whole => put(&bytes),
            Fate::Broken => put(&bytes[..part]),
            Fate::InTwoParts => {
                put(&bytes[..part]);
                std::thread::sleep(3 * LOOK);
                put(&bytes);
            }
        }
        std::thread::sleep(Duration::from_millis(20));
    }
}

fn take_in(library: &mut Library, session: SessionId, file: &Path) -> anyhow::Result<usize> {
    let mut recording = Recording::open(file)?;
    if is_full(file) {
        let id = read_in(library, session, &mut recording, None, &mut Progress::silent())?;
        return Ok(library.swings(Of::Recording(id))?.len());
    }
    let facts = serde_json::to_string(recording.facts())?;
    let new = NewRecording { path: file.to_path_buf(), identity: identify_file(file)? };
    library.save(|edit| {
        let id = edit.add_recording(session, &new)?;
        edit.set_facts(id, scuffline::domain::Pictures::timeline(&recording), &facts)
    })?;
    Ok(0)
}

fn tell(done: usize, refused: usize, swings: usize, library: &Library) {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let memory = status.lines().find_map(|line| line.strip_prefix("VmRSS:")).unwrap_or("?");
    let files = std::fs::read_dir("/proc/self/fd").map_or(0, Iterator::count);
    let size = std::fs::metadata(library.path()).map_or(0, |data| data.len() / 1024);
    let memory = memory.trim().trim_end_matches(" kB");
    println!("{done:10}  {refused:7}  {swings:6}  {memory:>9}  {files:10}  {size:10}");
}
