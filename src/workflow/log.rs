//! The program's log, and the note that it is running.
//!
//! Both lie in the folder `logs` beside the library, for its owner's eyes. The log names no
//! golfer and no recording: what is noted in it must not carry any text a person entered.

use std::backtrace::Backtrace;
use std::collections::BTreeSet;
use std::fs::{File, OpenOptions};
use std::io::{Read, Seek, Write};
use std::panic::PanicHookInfo;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, OnceLock};

use tracing_appender::rolling::{RollingFileAppender, Rotation};

use crate::video::make_private;

/// One file a day; so many are kept.
const DAYS: usize = 7;

/// Where this process keeps its log.
static PLACE: OnceLock<PathBuf> = OnceLock::new();

/// The folder of the logs of the library at this place.
pub fn log_folder(library: &Path) -> PathBuf {
    library.parent().unwrap_or(Path::new("")).join("logs")
}

/// The folder in which this process keeps its log, if it keeps one.
pub fn log_place() -> Option<&'static Path> {
    PLACE.get().map(PathBuf::as_path)
}

/// Keeps a log beside the library from now on, of panics as well. Where none can be written
/// there is none: the program works without.
pub fn keep_log(library: &Path) {
    if begin_log(library) {
        std::panic::set_hook(Box::new(note_panic));
    }
}

/// Keeps a log beside the library only if the program breaks down: a command that works writes
/// nothing but what it was told to.
pub fn keep_log_of_faults(library: Option<PathBuf>) {
    std::panic::set_hook(Box::new(move |info| {
        library.as_deref().map(begin_log);
        note_panic(info);
    }));
}

/// False if it was begun before or there is no writing there.
fn begin_log(library: &Path) -> bool {
    let folder = log_folder(library);
    let Some(appender) = appender(&folder) else { return false };
    let subscriber = tracing_subscriber::fmt().with_ansi(false).with_writer(appender).finish();
    let is_first = tracing::subscriber::set_global_default(subscriber).is_ok();
    is_first && PLACE.set(folder).is_ok()
}

fn appender(folder: &Path) -> Option<RollingFileAppender> {
    make_private(folder).ok()?;
    remove_old(folder, jiff::Timestamp::now());
    let daily = RollingFileAppender::builder().rotation(Rotation::DAILY);
    let named = daily.filename_prefix("scuffline").filename_suffix("log").max_log_files(DAYS);
    named.build(folder).ok()
}

/// Removes logs of days more than a week ago, also where the program is started now and then
/// only. One that cannot be removed is tried again at the next start.
fn remove_old(folder: &Path, now: jiff::Timestamp) {
    // The days in the names are of universal time.
    let today = jiff::tz::TimeZone::UTC.to_datetime(now).date();
    let kept = DAYS as i64 - 1;
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let day = name.strip_prefix("scuffline.").and_then(|rest| rest.strip_suffix(".log"));
        let Some(day) = day.and_then(|day| day.parse::<jiff::civil::Date>().ok()) else { continue };
        let age = (today - day).get_days();
        if i64::from(age) > kept {
            let _ = std::fs::remove_file(entry.path());
        }
    }
}

fn note_panic(info: &PanicHookInfo<'_>) {
    let text = info.payload_as_str().unwrap_or_default();
    let place = info.location().map(ToString::to_string).unwrap_or_default();
    let trace = Backtrace::force_capture().to_string();
    tracing::error!("broke down at {place}: {}\n{}", without_values(text), own_frames(&trace));
}

/// A panic's text up to the value it shows, which may be something that a person entered.
fn without_values(text: &str) -> &str {
    let counts = text.starts_with("index out of bounds") || text.starts_with("range ");
    let end =
        if counts { text.len() } else { text.find([':', '`', '"', '\'']).unwrap_or(text.len()) };
    &text[..end]
}

/// The lines of a backtrace that are about this program.
fn own_frames(trace: &str) -> String {
    let own = trace.lines().filter(|line| line.contains("scuffline::"));
    own.map(str::trim).collect::<Vec<_>>().join("\n")
}

/// A note in the folder of the logs that the program is running and which recordings it is
/// reading. It is locked as long as the process lives, and removed when it ends well: one that
/// is there unlocked is from a process that broke down.
#[derive(Debug)]
pub struct Running {
    path: PathBuf,
    note: Mutex<(File, BTreeSet<PathBuf>)>,
}

/// What a process that broke down left behind.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct BrokeDown {
    /// The recordings it was reading.
    pub reading: Vec<PathBuf>,
}

impl BrokeDown {
    /// What people are told at the next start.
    pub fn sentence(&self) -> String {
        let log = log_place().map_or(String::new(), |p| format!(" The log is in {}.", p.display()));
        let reading = match self.reading.as_slice() {
            [] => String::new(),
            [one] => format!(" {} was not read to its end; open it again.", one.display()),
            [first, others @ ..] => format!(
                " {} and {} more were not read to their end; open them again.",
                first.display(),
                others.len()
            ),
        };
        format!(
            "Last time the program ended in the middle. You are where you were, and everything that was confirmed is there.{reading}{log}"
        )
    }
}

impl Running {
    /// Notes that the program is running on this library, and looks for what processes that
    /// broke down left behind; their notes are removed. `None`: there is no writing there.
    pub fn begin(library: &Path) -> (Option<Self>, Option<BrokeDown>) {
        let folder = log_folder(library);
        let left = take_left_behind(&folder);
        let path = folder.join(format!("running-{}", std::process::id()));
        let open = || -> std::io::Result<Self> {
            make_private(&folder)?;
            let mut options = OpenOptions::new();
            options.read(true).write(true).create(true).truncate(true);
            #[cfg(unix)]
            std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
            let file = options.open(&path)?;
            file.try_lock()?;
            Ok(Self { path: path.clone(), note: Mutex::new((file, BTreeSet::new())) })
        };
        (open().ok(), left)
    }

    /// Notes that a recording is being read.
    pub fn reads(&self, recording: &Path) {
        self.change(|reading| reading.insert(recording.to_path_buf()));
    }

    /// Notes that it is no longer read.
    pub fn has_read(&self, recording: &Path) {
        self.change(|reading| reading.remove(recording));
    }

    /// Best effort: without the note nothing is lost but a sentence at the next start.
    fn change(&self, change: impl FnOnce(&mut BTreeSet<PathBuf>) -> bool) {
        let Ok(mut note) = self.note.lock() else { return };
        let (file, reading) = &mut *note;
        change(reading);
        let lines: Vec<String> =
            reading.iter().map(|path| format!("{}\n", path.display())).collect();
        let _ = file
            .set_len(0)
            .and_then(|()| file.rewind())
            .and_then(|()| file.write_all(lines.concat().as_bytes()));
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        if std::thread::panicking() {
            self.reads(Path::new(FAULT));
        } else {
            let _ = std::fs::remove_file(&self.path);
        }
    }
}

/// Stands in the note for a fault of the program's own.
const FAULT: &str = "a fault of the program";

fn take_left_behind(folder: &Path) -> Option<BrokeDown> {
    let mut left: Option<BrokeDown> = None;
    for entry in std::fs::read_dir(folder).ok()?.flatten() {
        if !entry.file_name().to_string_lossy().starts_with("running-") {
            continue;
        }
        let Ok(mut file) = File::open(entry.path()) else { continue };
        if file.try_lock().is_err() {
            continue;
        }
        let mut text = String::new();
        let _ = file.read_to_string(&mut text);
        let _ = std::fs::remove_file(entry.path());
        // Ended from outside while nothing was under way: nothing is missing, nothing to tell.
        if !text.is_empty() {
            let found = left.get_or_insert_default();
            found.reading.extend(text.lines().map(PathBuf::from).filter(|path| path.exists()));
        }
    }
    left
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_shows_no_value_that_a_person_entered() {
        assert_eq!(
            without_values("called `Result::unwrap()` on an `Err` value: \"Robin\""),
            "called "
        );
        assert_eq!(without_values("no session of Robin: Robin"), "no session of Robin");
        let counts = "index out of bounds: the len is 3 but the index is 5";
        assert_eq!(without_values(counts), counts);
        let trace = "0: std::rt\n   at /rustc/x\n1: scuffline::workflow::measure\n";
        assert_eq!(own_frames(trace), "1: scuffline::workflow::measure");
    }

    #[test]
    fn logs_older_than_a_week_go() {
        let folder = tempfile::tempdir().unwrap();
        let logs = folder.path().join("logs");
        std::fs::create_dir(&logs).unwrap();
        let log = |day: &str| logs.join(format!("scuffline.{day}.log"));
        let old = ["2025-12-30", "2026-05-07", "2025-05-12"].map(log);
        let young = ["2026-05-08", "2026-05-14", "2026-05-15"].map(log);
        let others = [logs.join("running-17"), logs.join("scuffline.notes.log")];
        for path in old.iter().chain(&young).chain(&others) {
            std::fs::write(path, "x").unwrap();
        }
        remove_old(&logs, "2026-05-14T23:30:00Z".parse().unwrap());
        assert!(!old.iter().any(|path| path.exists()));
        assert!(young.iter().chain(&others).all(|path| path.exists()));
        // So it is at each start, whatever day that is.
        let today = jiff::tz::TimeZone::UTC.to_datetime(jiff::Timestamp::now()).date();
        let before = |days: i32| log(&(today - jiff::Span::new().days(days)).to_string());
        let (old, young) = (before(30), before(3));
        [&old, &young].into_iter().for_each(|path| std::fs::write(path, "x").unwrap());
        assert!(appender(&logs).is_some());
        assert!(!old.exists() && young.exists() && before(0).exists());
    }

    #[test]
    fn what_a_broken_down_process_was_reading_is_offered_once() {
        let folder = tempfile::tempdir().unwrap();
        let library = folder.path().join("library.scuffline");
        let clip = folder.path().join("swing.mp4");
        std::fs::write(&clip, "x").unwrap();
        let (running, left) = Running::begin(&library);
        let running = running.unwrap();
        assert_eq!(left, None);
        running.reads(&clip);
        running.reads(Path::new("/nowhere/other.mp4"));
        // While it lives, it is no business of another one's.
        assert_eq!(take_left_behind(&log_folder(&library)), None);
        // A process that dies leaves the note and loses the lock.
        let note = std::fs::read(&running.path).unwrap();
        let path = running.path.clone();
        drop(running);
        assert!(!path.exists(), "a good end leaves nothing");
        std::fs::write(log_folder(&library).join("running-1"), note).unwrap();
        let (_running, left) = Running::begin(&library);
        let left = left.unwrap();
        assert_eq!(left.reading, [clip]);
        assert!(left.sentence().contains("swing.mp4 was not read to its end"));
        assert_eq!(take_left_behind(&log_folder(&library)), None, "told once");
        std::fs::write(log_folder(&library).join("running-1"), "").unwrap();
        assert_eq!(take_left_behind(&log_folder(&library)), None, "nothing was under way");
        std::fs::write(log_folder(&library).join("running-1"), FAULT).unwrap();
        assert_eq!(take_left_behind(&log_folder(&library)), Some(BrokeDown::default()));
    }
}
