//! Helpers shared by the capability tests.

pub mod display;
pub mod doors;
pub mod file_drag;
pub mod mutate;
pub mod noise;
pub mod numbered;
pub mod painter;
pub mod strd;
pub mod truth;
pub mod window;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use scuffline::domain::{ColourFrame, PictureSize, Pts, TimeBase};
use scuffline::video::ClipWriter;

/// Says something aloud: what a passing test prints is swallowed, what it writes here is not.
pub fn say(what: &str) {
    let _ = writeln!(std::io::stderr(), "{what}");
}

/// A file of the shipped sample footage.
pub fn sample(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("sample-frames").join(name)
}

/// Runs the program with `arguments` and waits for it.
pub fn scuffline<I, S>(arguments: I) -> Output
where
    I: IntoIterator<Item = S>,
    S: AsRef<std::ffi::OsStr>,
{
    Command::new(env!("CARGO_BIN_EXE_scuffline"))
        .args(arguments)
        .output()
        .expect("the program was built with the tests and can be started")
}

/// The truth that belongs to a clip of the sample footage.
pub fn sample_truth(name: &str) -> serde_json::Value {
    let text = std::fs::read_to_string(sample(name)).expect("sample truth is shipped");
    serde_json::from_str(&text).expect("sample truth is JSON")
}

/// Writes a recording of a bare meadow, in which nobody swings.
pub fn meadow(path: &Path, width: usize, height: usize) {
    let time_base = TimeBase { numerator: 1, denominator: 30 };
    let mut writer = ClipWriter::create(path, PictureSize { width, height }, time_base).unwrap();
    let value = |i: usize| (90 + ((i * 2_654_435_761) >> 7) % 40) as u8;
    let pixel = |i: usize| [value(i) / 2, value(i), value(i) / 3, 255];
    let data: Vec<u8> = (0..width * height).flat_map(pixel).collect();
    for frame in 0..20 {
        writer.write(&ColourFrame { width, height, data: data.clone() }, Pts(frame)).unwrap();
    }
    writer.finish().unwrap();
}
