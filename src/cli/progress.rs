//! How far a command is, told on a terminal and nowhere else: a file of messages keeps none of it.

use std::io::{IsTerminal, Write};

use crate::workflow::Progress;

/// Wide enough for what is told, so that a shorter line covers a longer one.
const WIDTH: usize = 60;

/// Does `job`, telling how far it is.
pub(super) fn told<T>(job: impl FnOnce(&mut Progress) -> T) -> T {
    let mut terminal = std::io::stderr();
    if !terminal.is_terminal() {
        return job(&mut Progress::silent());
    }
    let mut shown = String::new();
    let mut listener = |what: &str, done: f64| {
        let line = line(what, done);
        if line != shown {
            // Nobody is helped by an error of the line that tells about the work.
            let _ = write!(std::io::stderr(), "\r{line}");
            shown = line;
        }
        true
    };
    let answer = job(&mut Progress::new(&mut listener));
    let _ = write!(terminal, "\r{:WIDTH$}\r", "");
    answer
}

fn line(what: &str, done: f64) -> String {
    let told = format!("{what}: {:.0} %", 100.0 * done.clamp(0.0, 1.0));
    format!("{told:<WIDTH$}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_tells_what_is_done_and_how_much_of_it() {
        assert_eq!(line("Looking for swings", 0.426).trim_end(), "Looking for swings: 43 %");
        assert_eq!(line("Looking for swings", 7.0).len(), line("Keeping", 0.0).len());
    }

    #[test]
    fn the_jobs_answer_comes_back() {
        assert!(told(|progress| progress.report("Keeping", 0.5)));
    }
}
