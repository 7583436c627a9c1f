//! `scuffline watch`: recordings that arrive in a folder go into the library by themselves.

use std::collections::HashMap;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use anyhow::Context;
use clap::Args;

use super::measure::setup_file;
use super::scan::{ReadAs, Said, scan};
use crate::domain::counted;
use crate::workflow::{FolderWatch, file_name, folder_words};

/// How often the folder is looked at.
const LOOK: Duration = Duration::from_secs(1);

/// Which folder, and whose recordings arrive there.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline watch ~/Phone --golfer Robin           until it is stopped with Ctrl+C
  scuffline watch ~/Phone --those-there --quit-after 60")]
pub struct WatchArgs {
    /// The folder; folders in it are not looked into.
    #[arg(value_name = "FOLDER")]
    pub folder: PathBuf,

    /// Recordings that are there already are read in, too.
    #[arg(long)]
    pub those_there: bool,

    /// Stop once nothing has arrived for so long.
    #[arg(long, value_name = "SECONDS")]
    pub quit_after: Option<u64>,

    /// Whose they are and what is known about them.
    #[command(flatten)]
    pub read_as: ReadAs,
}

/// Reads in each finished recording that arrives; one still being copied waits. What can't be
/// read is told on stderr, and the watch goes on.
///
/// # Errors
/// The folder or the library can't be used; or, at the end, some files could not be read in.
pub fn run(args: &WatchArgs, library: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    let setup = args.read_as.setup.as_deref().map(setup_file::read_setup).transpose()?;
    let begin = if args.those_there { FolderWatch::with_those_there } else { FolderWatch::new };
    let mut watch = begin(&args.folder).with_context(|| {
        format!("The folder cannot be watched; check its name: {}", args.folder.display())
    })?;
    let given = library;
    let mut library = super::open_library(given)?;
    let (mut troubles, mut is_away) = (HashMap::new(), false);
    let mut said = Said::default();
    let mut last = Instant::now();
    loop {
        for file in look(&mut watch, &args.folder, &mut is_away) {
            eprintln!("{}", file_name(&file));
            match scan(&args.read_as, &file, setup.as_ref(), &mut library, given) {
                Ok(text) => {
                    // A part of it may have been tried before.
                    troubles.remove(&file);
                    out.write_all(said.but_once(&text).as_bytes()).and_then(|()| out.flush())?;
                }
                Err(error) => {
                    // One that goes on growing has been told before.
                    let sentence = error.to_string();
                    if troubles.insert(file, sentence.clone()).as_ref() != Some(&sentence) {
                        eprintln!("{sentence}");
                    }
                }
            }
            last = Instant::now();
        }
        if watch.is_waiting() {
            last = Instant::now();
        }
        let limit = args.quit_after.map(Duration::from_secs);
        if limit.is_some_and(|limit| last.elapsed() >= limit) {
            break;
        }
        std::thread::sleep(LOOK);
    }
    match troubles.len() {
        0 => Ok(()),
        n => anyhow::bail!(
            "{} could not be read in; what else arrived is in the library",
            counted(n, "file")
        ),
    }
}

/// What has arrived. A folder that goes away, and one that is back, is told once.
fn look(watch: &mut FolderWatch, folder: &Path, is_away: &mut bool) -> Vec<PathBuf> {
    let looked = watch.look();
    if looked.is_err() != *is_away {
        *is_away = looked.is_err();
        eprintln!("{}", folder_words(folder, looked.as_ref().err()));
    }
    looked.unwrap_or_default()
}
