//! Sends spoiled files through every door, from one number to another:
//! `cargo run --example fuzz-doors -- FROM TO`. A short run of the same is among the tests.
//!
//! Tells every few seconds how far it is. An input that breaks something is named, and one that
//! takes longer than ten seconds, or more memory than the bound, ends the run, named as well.

#[path = "../capability/support/doors.rs"]
mod doors;
#[path = "../capability/support/mutate.rs"]
mod mutate;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use clap::Parser;
use doors::{DOORS, Door, MOST_MEMORY, forget_peak, peak_memory, spoiled, through, whole_files};

/// No input may take longer.
const MOST_TIME: Duration = Duration::from_secs(10);

/// How often it is told how far the run is.
const TELL: Duration = Duration::from_secs(5);

#[derive(Parser)]
struct Args {
    /// The first number.
    from: u64,
    /// One past the last number.
    to: u64,
    /// Only through this door, such as library.
    #[arg(long)]
    door: Option<String>,
    /// Where inputs that break something are kept.
    #[arg(long, value_name = "FOLDER")]
    keep: Option<PathBuf>,
}

impl Args {
    fn wants(&self, door: Door) -> bool {
        let name = format!("{door:?}");
        self.door.as_ref().is_none_or(|only| name.eq_ignore_ascii_case(only))
    }
}

/// The input at work, and since when.
type AtWork = Arc<Mutex<Option<(String, Instant)>>>;

#[derive(Default)]
struct Tally {
    let_in: u64,
    broke: u64,
    longest: Duration,
}

fn main() {
    let args = Args::parse();
    let folder = tempfile::tempdir().expect("a folder for the files");
    eprintln!("making whole files");
    let files = whole_files(folder.path());
    let at_work = AtWork::default();
    watch_the_clock(at_work.clone());
    let mut broke = 0;
    for (door, whole) in DOORS.into_iter().zip(files).filter(|(door, _)| args.wants(*door)) {
        let tally = run(&args, door, &whole, folder.path(), &at_work);
        println!(
            "{door:?}: {} files, {} let in, {} broke down, longest {:.2} s, peak memory {}",
            args.to - args.from,
            tally.let_in,
            tally.broke,
            tally.longest.as_secs_f64(),
            peak_memory().map_or("unknown".into(), |peak| format!("{} MB", peak >> 20))
        );
        broke += tally.broke;
    }
    std::process::exit(i32::from(broke > 0));
}

fn run(args: &Args, door: Door, whole: &[u8], folder: &Path, at_work: &AtWork) -> Tally {
    let (mut tally, mut told) = (Tally::default(), Instant::now());
    forget_peak();
    for number in args.from..args.to {
        let bytes = spoiled(door, whole, number);
        let start = Instant::now();
        set(at_work, Some((format!("{door:?} {number}"), start)));
        match catch_unwind(AssertUnwindSafe(|| through(door, &bytes, folder))) {
            Ok(let_in) => tally.let_in += u64::from(let_in),
            Err(_) => {
                println!("{door:?} {number} broke down");
                tally.broke += 1;
                if let Some(place) = &args.keep {
                    std::fs::write(place.join(format!("{door:?}-{number}")), &bytes)
                        .expect("there is room");
                }
            }
        }
        set(at_work, None);
        if peak_memory().is_some_and(|peak| peak > MOST_MEMORY) {
            println!("{door:?} {number} takes more than {} MB of memory", MOST_MEMORY >> 20);
            std::process::exit(1);
        }
        tally.longest = tally.longest.max(start.elapsed());
        if told.elapsed() > TELL {
            told = Instant::now();
            eprintln!("{door:?}: at {number}");
        }
    }
    tally
}

fn set(at_work: &AtWork, input: Option<(String, Instant)>) {
    *at_work.lock().expect("no one breaks down while holding it") = input;
}

/// Ends the run with the name of an input that takes too long.
fn watch_the_clock(at_work: AtWork) {
    std::thread::spawn(move || {
        loop {
            std::thread::sleep(Duration::from_millis(500));
            let input = at_work.lock().expect("no one breaks down while holding it").clone();
            if let Some((name, _)) = input.filter(|(_, since)| since.elapsed() > MOST_TIME) {
                println!("{name} takes longer than {} s", MOST_TIME.as_secs());
                std::process::exit(1);
            }
        }
    });
}
