//! A fault of the program's own in a command: one sentence with a log place, and a log that names
//! nobody.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use scuffline::workflow::keep_log_of_faults;

/// Asks `breaking_process` to break down, with its log beside this library.
const BREAKS: &str = "SCUFFLINE_TEST_BREAKS";

/// No test by itself: the process that another one starts.
#[test]
fn breaking_process() {
    let Some(library) = std::env::var_os(BREAKS) else { return };
    keep_log_of_faults(Some(PathBuf::from(library)));
    let golfer: Result<u32, String> = "Robin".parse().map_err(|_| "Robin Nobody".into());
    golfer.expect("a golfer");
}

fn logged(folder: &Path) -> String {
    let entries = std::fs::read_dir(folder.join("logs")).expect("a log was begun").flatten();
    entries.map(|entry| std::fs::read_to_string(entry.path()).expect("text")).collect()
}

#[test]
fn a_fault_leaves_its_place_in_the_log_and_no_name() {
    let folder = tempfile::tempdir().unwrap();
    let output = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "faults::breaking_process"])
        .env(BREAKS, folder.path().join("library.scuffline"))
        .output()
        .unwrap();
    assert!(!output.status.success());
    let log = logged(folder.path());
    assert!(log.contains("broke down at tests/capability/faults.rs"), "{log}");
    assert!(!log.contains("Robin"), "{log}");
}

/// With a standard error that takes nothing, telling how far it is breaks a command down.
#[cfg(target_os = "linux")]
#[test]
fn a_command_that_breaks_down_is_logged_beside_its_library() {
    let folder = tempfile::tempdir().unwrap();
    let library = folder.path().join("library.scuffline");
    let scan = |trouble: &str| -> Output {
        Command::new(env!("CARGO_BIN_EXE_scuffline"))
            .args(["scan", "nothing.mp4", "--library"])
            .arg(&library)
            .current_dir(folder.path())
            .stderr(std::fs::File::options().write(true).open(trouble).unwrap())
            .output()
            .unwrap()
    };
    assert!(!scan("/dev/null").status.success());
    assert!(!folder.path().join("logs").exists(), "a wrong name is no fault");
    let broken = scan("/dev/full");
    assert_eq!((broken.status.code(), broken.stdout.len()), (Some(1), 0));
    assert!(logged(folder.path()).contains("broke down at"));
}
