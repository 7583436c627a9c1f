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
use std::path::PathBuf;
use std::process::{Command, Output};

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
