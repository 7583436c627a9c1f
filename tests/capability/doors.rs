//! Whatever a file from outside holds: no panic, no half of it taken in, one sentence.

use crate::support::doors::{DOORS, Door, spoiled, through, whole_files};

/// The long run is a command of its own: `cargo run --example fuzz-doors`.
const ROUNDS: u64 = 60;

#[test]
fn whole_files_are_let_in() {
    let folder = tempfile::tempdir().unwrap();
    for (door, whole) in DOORS.into_iter().zip(whole_files(folder.path())) {
        assert!(through(door, &whole, folder.path()), "{door:?}");
    }
}

#[test]
fn spoiled_files_are_refused_or_usable() {
    let folder = tempfile::tempdir().unwrap();
    for (door, whole) in DOORS.into_iter().zip(whole_files(folder.path())) {
        let let_in = (0..ROUNDS)
            .filter(|&number| through(door, &spoiled(door, &whole, number), folder.path()))
            .count() as u64;
        assert!(let_in < ROUNDS, "{door:?}: damage goes unnoticed");
    }
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
            name if name.starts_with("bundle") => Door::Bundle,
            name if name.starts_with("recording") => Door::Recording,
            _ => Door::Library,
        };
        through(door, &std::fs::read(entry.path()).unwrap(), folder.path());
        count += 1;
    }
    assert!(count >= 10);
}
