//! Arguments to one workflow request to printed lines.
//!
//! Errors are one sentence on stderr and an exit code other than 0, with nothing on stdout:
//! 1 when the work could not be done, 2 when the command line was wrong.

pub mod accuracy;
pub mod blocks;
pub mod bundle;
pub mod care;
pub mod coverage;
pub mod describe;
pub mod export;
pub mod help;
pub mod index;
pub mod lens;
pub mod mark;
pub mod measure;
pub mod picture;
mod progress;
pub mod reference;
pub mod scan;
pub mod sessions;
pub mod tape;
pub mod watch;

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::error::ErrorKind;
use clap::{Arg, CommandFactory, Parser, Subcommand};

use crate::store::Library;

const EXAMPLES: &str = "\
Examples:
  scuffline                                      open the window
  scuffline swing.mp4                            open the window with a recording
  scuffline measure swing.mp4                    measure every swing of a recording
  scuffline measure swing.mp4 --setup setup.json --json
  scuffline scan monday/*.mp4 --golfer Robin     read recordings into the library
  scuffline watch ~/Phone --golfer Robin         the same for each that arrives in a folder
  scuffline export lesson.pdf --golfer Robin     one page to send home
  scuffline backup                               a copy of the library

Keep people and camera 3 to 4 m out of the club's reach and off the target line;
look before each swing. The range's rules and local codes come first.";

/// Where the club met the turf and where the swing bottomed out, from face-on phone video.
#[derive(Debug, Parser)]
#[command(version, about, after_help = EXAMPLES)]
pub struct Cli {
    /// What to do; without it, the window opens.
    #[command(subcommand)]
    pub verb: Option<Verb>,

    /// The library to use instead of the one in its usual place.
    #[arg(long, value_name = "PATH", global = true)]
    pub library: Option<PathBuf>,

    /// Recordings to open in the window; a library to open it with.
    #[arg(value_name = "RECORDING")]
    pub recordings: Vec<PathBuf>,
}

impl Cli {
    /// The arguments as they are meant: a library named like a recording, as a desktop does it, is
    /// the one to use.
    pub fn read() -> Self {
        let read = Self::parse();
        if let Some(wrong) = read.needless_library().or_else(|| read.unknown_verb()) {
            wrong.exit();
        }
        read.with_library_of_files()
    }

    /// What is said where `--library` goes with a verb that opens none.
    fn needless_library(&self) -> Option<clap::Error> {
        let verb = self.verb.as_ref().filter(|verb| self.library.is_some() && !verb.has_library());
        let refused = "This verb opens no library; leave --library away";
        verb.map(|_| Self::command().error(ErrorKind::ArgumentConflict, refused))
    }

    /// What is said of a word that is neither a verb nor, by its looks, a file.
    fn unknown_verb(&self) -> Option<clap::Error> {
        let is_word = |path: &&PathBuf| {
            path.extension().is_none() && path.components().count() == 1 && !path.exists()
        };
        let word = self.recordings.first().filter(is_word).filter(|_| self.verb.is_none())?;
        let refused = format!("There is no verb and no file called {}", word.display());
        Some(Self::command().error(ErrorKind::InvalidSubcommand, refused))
    }

    fn with_library_of_files(mut self) -> Self {
        if self.library.is_none() {
            let is_library = |path: &PathBuf| path.extension().is_some_and(|e| e == "scuffline");
            let at = self.recordings.iter().position(is_library);
            self.library = at.map(|at| self.recordings.remove(at));
        }
        self
    }
}

/// What the program does besides opening its window.
#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Measure the swings of one recording.
    Measure(measure::MeasureArgs),
    /// Read recordings into the library: every swing found and measured.
    Scan(scan::ScanArgs),
    /// Read in recordings as they arrive in a folder.
    Watch(watch::WatchArgs),
    /// Set a mark of a swing in the library.
    Mark(mark::MarkArgs),
    /// What of known size lies in a recording; say yes or no to what was found.
    Reference(reference::ReferenceArgs),
    /// Lenses found once, kept and used again.
    Lens(lens::LensArgs),
    /// Enter what a tape measure said, and see whether the ± keeps its word.
    Tape(tape::TapeArgs),
    /// Write a session down: table, page to send home, picture or clip.
    Export(export::ExportArgs),
    /// Write a golfer's sessions into one file, to be carried to another library.
    Bundle(bundle::BundleArgs),
    /// Take such a file into the library; says what it would do first.
    Unbundle(bundle::UnbundleArgs),
    /// Write a copy of the library.
    Backup(care::BackupArgs),
    /// Put a backup in the library's place; says what is in it first.
    Restore(care::RestoreArgs),
    /// Look for damage and for recordings that were moved.
    Check(care::CheckArgs),
    /// Remove a golfer for good; says what would go first.
    Erase(care::EraseArgs),
    /// Print a completion script for a shell.
    #[command(arg(no_library()))]
    Completions(help::CompletionsArgs),
    /// Print the manual page.
    #[command(arg(no_library()))]
    Manual,
    /// Count, over simulated set-ups, how often the 95 % intervals hold the truth.
    #[command(arg(no_library()))]
    Coverage(coverage::CoverageArgs),
    /// List golfers and their sessions.
    Sessions(sessions::SessionsArgs),
    /// Begin a block of a session: new swings go into it.
    Begin(blocks::BeginArgs),
    /// What is known of a golfer, session, block or swing, and changing it.
    Describe(describe::DescribeArgs),
    /// Where a golfer should meet the ground with a club, and changing it.
    Aim(describe::AimArgs),
    /// Choose the unit in which lengths are shown.
    Units(describe::UnitsArgs),
    /// Take back the last change of a session, or of what belongs to no session.
    Undo(describe::StepArgs),
    /// Do again what was taken back last.
    Redo(describe::StepArgs),
    /// Number, mean and spread of a session's or block's swings.
    Summary(sessions::SummaryArgs),
    /// What changed from one session or block to another, and whether it is shown.
    Compare(sessions::CompareArgs),
    /// A golfer's swings club by club, without a ball against with one, and the stance.
    Clubs(blocks::ClubsArgs),
    /// A number session by session.
    Season(blocks::SeasonArgs),
    /// List the drills, and how a golfer does in them.
    Drills(blocks::DrillsArgs),
    /// Print the time stamp of every frame of a recording.
    #[command(arg(no_library()))]
    Index(index::IndexArgs),
    /// Judge how well recordings with known truth are measured.
    #[command(arg(no_library()))]
    Accuracy(accuracy::AccuracyArgs),
    /// Write frames of a recording as PNG pictures.
    #[command(arg(no_library()))]
    Picture(picture::PictureArgs),
}

/// A day as it is typed.
fn day(text: &str) -> Result<jiff::civil::Date, &'static str> {
    text.parse().map_err(|_| "write the day as year, month and day: 2026-05-31")
}

/// `--library` for a verb that opens none: its help is silent about it.
fn no_library() -> Arg {
    Arg::new("library").long("library").hide(true).value_parser(clap::value_parser!(PathBuf))
}

impl Verb {
    /// It opens a library; the others' help is silent about `--library`.
    fn has_library(&self) -> bool {
        !matches!(
            self,
            Self::Completions(_)
                | Self::Manual
                | Self::Coverage(_)
                | Self::Index(_)
                | Self::Accuracy(_)
                | Self::Picture(_)
        )
    }

    /// It goes on until it is stopped, and what it has to say is wanted meanwhile.
    pub fn goes_on(&self) -> bool {
        matches!(self, Self::Watch(_))
    }
}

/// Carries out a verb; what it has to say goes to `out`.
///
/// # Errors
/// One sentence for the person at the keyboard; nothing has been written to `out` then.
pub fn run(verb: &Verb, library: Option<&Path>, out: &mut dyn Write) -> anyhow::Result<()> {
    match verb {
        Verb::Measure(args) => measure::run(args, library, out),
        Verb::Accuracy(args) => accuracy::run(args, out),
        Verb::Scan(args) => scan::run(args, library, out),
        Verb::Watch(args) => watch::run(args, library, out),
        Verb::Mark(args) => mark::run(args, library, out),
        Verb::Reference(args) => reference::run(args, library, out),
        Verb::Lens(args) => lens::run(args, library, out),
        Verb::Tape(args) => tape::run(args, library, out),
        Verb::Export(args) => export::run(args, library, out),
        Verb::Bundle(args) => bundle::bundle(args, library, out),
        Verb::Unbundle(args) => bundle::unbundle(args, library, out),
        Verb::Backup(args) => care::backup(args, library, out),
        Verb::Restore(args) => care::restore(args, library, out),
        Verb::Check(args) => care::check(args, library, out),
        Verb::Erase(args) => care::run_erase(args, library, out),
        Verb::Completions(args) => help::completions(args, out),
        Verb::Manual => help::manual(out),
        Verb::Coverage(args) => coverage::run(args, out),
        Verb::Sessions(args) => sessions::list(args, library, out),
        Verb::Summary(args) => sessions::sum_up(args, library, out),
        Verb::Compare(args) => sessions::set_beside(args, library, out),
        Verb::Describe(args) => describe::run(args, library, out),
        Verb::Aim(args) => describe::aim(args, library, out),
        Verb::Units(args) => describe::units(args, library, out),
        Verb::Undo(args) => describe::undo(args, library, out),
        Verb::Redo(args) => describe::redo(args, library, out),
        Verb::Begin(args) => blocks::begin(args, library, out),
        Verb::Clubs(args) => blocks::clubs(args, library, out),
        Verb::Season(args) => blocks::season(args, library, out),
        Verb::Drills(args) => blocks::drills(args, library, out),
        Verb::Index(args) => index::run(args, out),
        Verb::Picture(args) => picture::run(args, out),
    }
}

/// Where the library lies: at `path`, else in its usual place.
fn library_place(path: Option<&Path>) -> anyhow::Result<PathBuf> {
    let usual = || {
        Library::default_path()
            .context("There is no home folder for the library; say where it is with --library PATH")
    };
    path.map_or_else(usual, |path| Ok(path.to_path_buf()))
}

/// The library at `path`, else the one in its usual place.
fn open_library(path: Option<&Path>) -> anyhow::Result<Library> {
    Ok(Library::open(library_place(path)?)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_verbs_that_open_a_library_speak_of_one() {
        let help = |verb: &str| {
            let all = ["scuffline", verb, "--help"];
            Cli::try_parse_from(all).expect_err("help ends it").to_string()
        };
        for verb in ["index", "picture", "accuracy", "coverage", "completions", "manual"] {
            assert!(!help(verb).contains("--library"), "{verb}");
        }
        for verb in ["measure", "scan", "drills"] {
            assert!(help(verb).contains("--library"), "{verb}");
        }
    }

    #[test]
    fn a_word_that_is_no_verb_does_not_open_the_window() {
        let refused = |words: &[&str]| {
            let all = ["scuffline"].iter().chain(words);
            let read = Cli::try_parse_from(all).expect("it can be read");
            read.unknown_verb().map(|error| error.to_string())
        };
        assert!(refused(&["mesure"]).is_some_and(|told| told.contains("called mesure")));
        for fine in [&["no/such"][..], &["gone.mp4"], &["src"], &[], &["manual"]] {
            assert_eq!(refused(fine), None, "{fine:?}");
        }
    }

    #[test]
    fn a_library_is_refused_where_none_is_opened() {
        let refused = |words: &str| {
            let read = Cli::try_parse_from(words.split(' ')).expect("it can be read");
            read.needless_library().map(|error| error.to_string())
        };
        for needless in [
            "scuffline --library a.scuffline manual",
            "scuffline manual --library a.scuffline",
            "scuffline index a.mp4 --library a.scuffline",
            "scuffline coverage --library a.scuffline",
            "scuffline completions bash --library a.scuffline",
        ] {
            let told = refused(needless).expect(needless);
            assert!(told.contains("opens no library; leave --library away"), "{told}");
        }
        for fine in
            ["scuffline manual", "scuffline --library a b.mp4", "scuffline drills --library a"]
        {
            assert_eq!(refused(fine), None, "{fine}");
        }
    }

    #[test]
    fn a_library_among_the_files_is_the_one_to_use() {
        let read = |words: &[&str]| {
            let all = ["scuffline"].iter().chain(words);
            let cli = Cli::try_parse_from(all).unwrap().with_library_of_files();
            (cli.library, cli.recordings)
        };
        let path = PathBuf::from;
        let both = read(&["a.mp4", "my.scuffline"]);
        assert_eq!(both, (Some(path("my.scuffline")), vec![path("a.mp4")]));
        // One that is named stays; what else comes is refused as no recording.
        let named = read(&["--library", "one.scuffline", "two.scuffline"]);
        assert_eq!(named, (Some(path("one.scuffline")), vec![path("two.scuffline")]));
        assert_eq!(read(&["a.mp4"]), (None, vec![path("a.mp4")]));
    }
}
