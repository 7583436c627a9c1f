//! Files written to be passed on: asks where, then writes, each on a thread of its own.

use std::path::PathBuf;
use std::time::{Duration, Instant};

use super::report::{Report, guarded, sentence};
use super::writing::Writing;
use super::{dialog, once};
use crate::app::message::Event;
use crate::app::notebook::Answer;
use crate::app::options::Options;
use crate::store::{Library, StoreError};
use crate::video::CancelToken;
use crate::workflow::Progress;
use crate::workflow::bundle::{Bundle, merge, plan, usual_folder};
use crate::workflow::send::{Form, Order, write_out};

/// A report of progress comes at most this often.
const PAUSE: Duration = Duration::from_millis(80);

/// What a thread that writes a file, or takes one in, is handed.
pub struct Sending {
    /// Stops it.
    pub stop: CancelToken,
    /// Held while it writes.
    pub writing: Writing,
}

/// Asks where the file goes, unless that is known, and writes it.
pub fn start(
    options: &Options,
    order: Order,
    path: Option<PathBuf>,
    Sending { stop, writing }: Sending,
    report: &Report,
) {
    let options = options.clone();
    begin(stop, report, move |progress| {
        let library = open_library(&options)?;
        let path = path.map_or_else(|| ask_where(&library, &order), Ok)?;
        let Some(_writing) = writing.begin() else { return Err(None) };
        let left_out = write_out(&library, &order, &path, progress).map_err(told)?;
        let note = (!left_out.is_empty()).then(|| left_out.join(" "));
        Ok(Answer::Sent(path, note))
    });
}

/// Asks which bundle, unless that is known; says what it would add, or with `take` adds it.
pub fn start_bundle(
    options: &Options,
    path: Option<PathBuf>,
    take: bool,
    Sending { stop, writing }: Sending,
    report: &Report,
) {
    let options = options.clone();
    begin(stop, report, move |progress| {
        let mut library = open_library(&options)?;
        let path = path.map_or_else(ask_which, Ok)?;
        let Some(_writing) = writing.begin() else { return Err(None) };
        let mut bundle = Bundle::open_telling(&path, progress).map_err(told)?;
        if !take {
            let plan = plan(&library, &bundle).map_err(told)?;
            return Ok(Answer::LookedInto(path, plan.words()));
        }
        let folder = usual_folder(library.path());
        let done = merge(&mut library, &mut bundle, &folder, progress).map_err(told)?;
        Ok(Answer::TakenIn(done.golfer))
    });
}

/// An answer, or why there is none; nothing to say if the person chose no file.
type Outcome = Result<Answer, Option<String>>;

fn told(error: impl std::error::Error) -> Option<String> {
    Some(sentence(&error))
}

/// Does the work on a thread of its own, telling how far it is.
fn begin(
    stop: CancelToken,
    report: &Report,
    work: impl FnOnce(&mut Progress) -> Outcome + Send + 'static,
) {
    once("send", report, move |report| {
        let mut last = Instant::now() - PAUSE;
        let mut listener = |doing: &str, done: f64| {
            if last.elapsed() >= PAUSE && !stop.is_cancelled() {
                last = Instant::now();
                report.send(Event::Answer(Answer::Sending { doing: doing.into(), done }));
            }
            !stop.is_cancelled()
        };
        // Whoever looks at its progress must hear that it broke down.
        let outcome = guarded(|| work(&mut Progress::new(&mut listener)));
        let outcome = outcome.unwrap_or_else(|broke_down| Err(Some(broke_down)));
        let answer = outcome.unwrap_or_else(Answer::NotSent);
        // Who stopped it knows, unless the stop came too late.
        if !stop.is_cancelled() || matches!(answer, Answer::TakenIn(_)) {
            report.send(Event::Answer(answer));
        }
    });
}

fn open_library(options: &Options) -> Result<Library, Option<String>> {
    let place = options.place().ok_or(None)?;
    Library::open(place).map_err(told)
}

/// Which bundle, as the person says.
fn ask_which() -> Result<PathBuf, Option<String>> {
    dialog::bundle(Form::Bundle.ending()).map_err(told)?.ok_or(None)
}

/// Where to write, as the person says.
fn ask_where(library: &Library, order: &Order) -> Result<PathBuf, Option<String>> {
    let name = suggestion(library, order).unwrap_or_else(|_| "scuffline".into());
    dialog::place(&name, order.form.ending()).map_err(told)?.ok_or(None)
}

/// "Robin 2026-05-10 page": a name for the file, without what file systems refuse.
fn suggestion(library: &Library, order: &Order) -> Result<String, StoreError> {
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
    use std::sync::mpsc::channel;

    use super::*;

    #[test]
    fn names_of_files_hold_nothing_odd() {
        assert_eq!(
            safe("Robin Example (invented) 2026-05-10"),
            "Robin Example invented 2026-05-10"
        );
        assert_eq!(safe("../a/b:c"), "a b c");
    }

    #[test]
    fn who_waits_for_a_file_hears_that_it_broke_down() {
        let (events, heard) = channel();
        let report = Report::new(events, || {});
        begin(CancelToken::new(), &report, |_| panic!("invented"));
        let event = heard.recv_timeout(Duration::from_secs(30)).expect("an answer");
        let Event::Answer(Answer::NotSent(Some(sentence))) = event else { panic!("{event:?}") };
        assert!(sentence.starts_with("Something went wrong inside the program"), "{sentence}");
    }

    #[test]
    fn a_thread_that_breaks_down_says_so() {
        let (events, heard) = channel();
        let report = Report::new(events, || {});
        once("test", &report, |_| panic!("invented"));
        let event = heard.recv_timeout(Duration::from_secs(30)).expect("an event");
        assert!(matches!(event, Event::JobFailed(_)), "{event:?}");
    }
}
