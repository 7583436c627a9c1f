//! Sends spoiled files through every door, from one number to another:
//! `cargo run --example fuzz-doors -- FROM TO`. A short run of the same is among the tests.

#[path = "../capability/support/doors.rs"]
mod doors;
#[path = "../capability/support/mutate.rs"]
mod mutate;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::{Duration, Instant};

use clap::Parser;
use doors::{DOORS, spoiled, through, whole_files};

#[derive(Parser)]
struct Args {
    /// The first number.
    from: u64,
    /// One past the last number.
    to: u64,
}

fn main() {
    let args = Args::parse();
    let folder = tempfile::tempdir().expect("a folder for the files");
    let mut failed = 0;
    for (door, whole) in DOORS.into_iter().zip(whole_files(folder.path())) {
        let (mut let_in, mut broke, mut longest) = (0, 0, Duration::ZERO);
        for number in args.from..args.to {
            let bytes = spoiled(door, &whole, number);
            let start = Instant::now();
            match catch_unwind(AssertUnwindSafe(|| through(door, &bytes, folder.path()))) {
                Ok(true) => let_in += 1,
                Ok(false) => {}
                Err(_) => {
                    println!("{door:?} {number} broke down");
                    broke += 1;
                }
            }
            longest = longest.max(start.elapsed());
        }
        println!(
            "{door:?}: {} files, {let_in} let in, {broke} broke down, longest {:.2} s",
            args.to - args.from,
            longest.as_secs_f64()
        );
        failed += broke;
    }
    println!("peak memory: {}", peak_memory());
    std::process::exit(i32::from(failed > 0));
}

/// As Linux tells it.
fn peak_memory() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let peak = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    peak.map_or("unknown".into(), |peak| peak.trim().to_owned())
}
