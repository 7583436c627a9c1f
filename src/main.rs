//! Arguments in, window or command out, the last error printed.

use std::io::Write;
use std::process::ExitCode;

use scuffline::cli::{self, Cli};
use scuffline::store::Library;
use scuffline::workflow::{keep_log, keep_log_of_faults, log_place};

fn main() -> ExitCode {
    let cli = Cli::read();
    let library = cli.library.clone().or_else(Library::default_path);
    match (&cli.verb, library) {
        (None, Some(library)) => keep_log(&library),
        (_, library) => keep_log_of_faults(library),
    }
    // Kept until the work is done, so that a failure leaves nothing on stdout.
    let mut printed = Vec::new();
    let work = std::panic::AssertUnwindSafe(|| match &cli.verb {
        Some(verb) if verb.goes_on() => {
            cli::run(verb, cli.library.as_deref(), &mut std::io::stdout())
        }
        Some(verb) => cli::run(verb, cli.library.as_deref(), &mut printed),
        None => open_window(&cli),
    });
    let outcome = std::panic::catch_unwind(work).unwrap_or_else(|_| Err(broke_down()));
    match outcome.and_then(|()| Ok(std::io::stdout().write_all(&printed)?)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            // A terminal that is gone can't be told.
            let _ = writeln!(std::io::stderr(), "{}", one_sentence(&error));
            ExitCode::FAILURE
        }
    }
}

/// Opens the window, with the recordings named on the command line.
fn open_window(cli: &Cli) -> anyhow::Result<()> {
    let (library, files) = (cli.library.clone(), cli.recordings.clone());
    Ok(scuffline::app::run(scuffline::app::Options { library, files, sample: true })?)
}

/// What is said of a fault of the program's own.
fn broke_down() -> anyhow::Error {
    let log = log_place().map_or(String::new(), |p| format!("; the log is in {}", p.display()));
    anyhow::anyhow!(
        "Something went wrong inside the program; what was confirmed before is kept{log}"
    )
}

/// The sentence meant for people; what lies beneath it follows in brackets.
fn one_sentence(error: &anyhow::Error) -> String {
    let causes: Vec<String> = error.chain().skip(1).map(ToString::to_string).collect();
    if causes.is_empty() { error.to_string() } else { format!("{error} ({})", causes.join("; ")) }
}
