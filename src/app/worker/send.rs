//! Files written to be passed on: asks where, then writes, each on a thread of its own.

use std::path::PathBuf;
use std::time::{Duration, Instant};

use super::library::place;
use super::{Report, sentence};
use crate::app::message::Event;
use crate::app::notebook::Answer;
use crate::app::window::Options;
use crate::store::{Library, Result};
use crate::video::CancelToken;
use crate::workflow::Progress;
use crate::workflow::send::{Form, Order, write_out};

/// A report of progress comes at most this often.
const PAUSE: Duration = Duration::from_millis(80);

/// Asks where the file goes, unless that is known, and writes it.
pub fn start(
    options: &Options,
    order: Order,
    path: Option<PathBuf>,
    stop: CancelToken,
    report: &Report,
) {
    let (options, report) = (options.clone(), report.clone());
    let work = move || {
        let answer = write(&options, &order, path, &stop, &report);
        // Who stopped it knows.
        if !stop.is_cancelled() {
            report.send(Event::Answer(answer));
        }
    };
    if let Err(error) = std::thread::Builder::new().name("send".into()).spawn(work) {
        tracing::error!("the file could not be begun: {error}");
    }
}

fn write(
    options: &Options,
    order: &Order,
    path: Option<PathBuf>,
    stop: &CancelToken,
    report: &Report,
) -> Answer {
    let Some(place) = place(options) else { return Answer::NotSent(None) };
    let library = match Library::open(place) {
        Ok(library) => library,
        Err(error) => return Answer::NotSent(Some(sentence(&error))),
    };
    let Some(path) = path.or_else(|| ask_where(&library, order)) else {
        return Answer::NotSent(None);
    };
    let mut last = Instant::now() - PAUSE;
    let mut listener = |doing: &str, done: f64| {
        if last.elapsed() >= PAUSE && !stop.is_cancelled() {
            last = Instant::now();
            report.send(Event::Answer(Answer::Sending { doing: doing.into(), done }));
        }
        !stop.is_cancelled()
    };
    match write_out(&library, order, &path, &mut Progress::new(&mut listener)) {
        Ok(left_out) if left_out.is_empty() => Answer::Sent(path, None),
        Ok(left_out) => Answer::Sent(path, Some(left_out.join(" "))),
        Err(error) => Answer::NotSent(Some(sentence(&error))),
    }
}

/// The system's dialog for saving a file.
fn ask_where(library: &Library, order: &Order) -> Option<PathBuf> {
    let ending = order.form.ending();
    let name = suggestion(library, order).unwrap_or_else(|_| "scuffline".into());
    rfd::FileDialog::new()
        .set_title("Save as")
        .set_file_name(format!("{name}.{ending}"))
        .add_filter(ending.to_uppercase(), &[ending])
        .save_file()
        .map(|path| match path.extension() {
            Some(_) => path,
            None => path.with_extension(ending),
        })
}

/// "Robin 2026-05-10 page": a name for the file, without what file systems refuse.
fn suggestion(library: &Library, order: &Order) -> Result<String> {
    let golfer = library.golfer(order.golfer)?.name;
    let day = library.session(order.session)?.session.date;
    let what = match order.form {
        Form::Page => " page",
        Form::Web => " web page",
        Form::Table | Form::Data => "",
        Form::Picture => " picture",
        Form::Clip => " slow motion",
        Form::Bundle => return Ok(safe(&golfer)),
    };
    Ok(safe(&format!("{golfer} {day}{what}")))
}

fn safe(name: &str) -> String {
    name.chars()
        .map(|c| if c.is_alphanumeric() || " -_".contains(c) { c } else { ' ' })
        .collect::<String>()
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_files_hold_nothing_odd() {
        assert_eq!(
            safe("Robin Example (invented) 2026-05-10"),
            "Robin Example invented 2026-05-10"
        );
        assert_eq!(safe("../a/b:c"), "a b c");
    }
}
