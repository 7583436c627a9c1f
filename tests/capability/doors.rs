//! Whatever a file from outside holds: no panic, no half of it taken in, one sentence.

use std::process::Command;

use crate::support::doors::{
    DOORS, Door, MOST_MEMORY, forget_peak, peak_memory, spoiled, through, whole_files,
};

/// The long run is a command of its own: `cargo run --example fuzz-doors`.
const ROUNDS: u64 = 60;

#[test]
fn whole_files_are_let_in() {
    let folder = tempfile::tempdir().unwrap();
    for (door, whole) in DOORS.into_iter().zip(whole_files(folder.path())) {
        assert!(through(door, &whole, folder.path()), "{door:?}");
    }
}

/// Asks `taking_in_process` to do so.
const TAKES_IN: &str = "SCUFFLINE_TEST_TAKES_IN";

/// No test by itself: the process that another one starts, so that its memory is its own.
#[test]
fn taking_in_process() {
    if std::env::var_os(TAKES_IN).is_none() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    for (door, whole) in DOORS.into_iter().zip(whole_files(folder.path())) {
        forget_peak();
        let let_in = (0..ROUNDS)
            .filter(|&number| through(door, &spoiled(door, &whole, number), folder.path()))
            .count() as u64;
        assert!(let_in < ROUNDS, "{door:?}: damage goes unnoticed");
        let peak = peak_memory();
        assert!(peak.is_none_or(|peak| peak <= MOST_MEMORY), "{door:?}: {peak:?} bytes");
        println!("\n{door:?} {let_in} let in, peak {} MB", peak.unwrap_or_default() >> 20);
    }
    println!("\nall doors");
}

#[test]
fn spoiled_files_are_refused_or_usable_and_keep_to_the_memory_bound() {
    let output = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "doors::taking_in_process", "--nocapture"])
        .env(TAKES_IN, "1")
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&output.stdout);
    let trouble = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success() && told.contains("\nall doors"), "{told}{trouble}");
    println!("{told}");
}

/// Inputs that once broke something, or were thought up to; kept beside this file.
#[test]
fn what_once_broke_something_breaks_nothing_any_more() {
    let folder = tempfile::tempdir().unwrap();
    let kept = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/capability/support/corpus");
    let mut count = 0;
    for entry in std::fs::read_dir(kept).unwrap().flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let door = match name.split('.').next().unwrap_or_default() {
            name if name.starts_with("setup") => Door::Setup,
            name if name.starts_with("table") => Door::Table,
            name if name.starts_with("session") => Door::Session,
            name if name.starts_with("page") => Door::Page,
            name if name.starts_with("bundle") => Door::Bundle,
            name if name.starts_with("recording") => Door::Recording,
            _ => Door::Library,
        };
        let bytes = std::fs::read(entry.path()).unwrap();
        through(door, &bytes, folder.path());
        if door == Door::Session {
            through(Door::Page, &bytes, folder.path());
        }
        count += 1;
    }
    assert!(count >= 10);
}
