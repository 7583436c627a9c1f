//! Arguments in, window or command out, the last error printed.

use std::io::Write;
use std::process::ExitCode;

use clap::Parser;
use scuffline::cli::{self, Cli};

fn main() -> ExitCode {
    let cli = Cli::parse();
    // Kept until the work is done, so that a failure leaves nothing on stdout.
    let mut printed = Vec::new();
    let outcome = match &cli.verb {
        Some(verb) => cli::run(verb, cli.library.as_deref(), &mut printed),
        None => open_window(&cli),
    };
    match outcome.and_then(|()| Ok(std::io::stdout().write_all(&printed)?)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{}", one_sentence(&error));
            ExitCode::FAILURE
        }
    }
}

/// Opens the window, with the recordings named on the command line.
fn open_window(cli: &Cli) -> anyhow::Result<()> {
    let (library, files) = (cli.library.clone(), cli.recordings.clone());
    Ok(scuffline::app::run(scuffline::app::Options { library, files, sample: true })?)
}

/// The sentence meant for people; what lies beneath it follows in brackets.
fn one_sentence(error: &anyhow::Error) -> String {
    let causes: Vec<String> = error.chain().skip(1).map(ToString::to_string).collect();
    if causes.is_empty() { error.to_string() } else { format!("{error} ({})", causes.join("; ")) }
}
