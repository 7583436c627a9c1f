//! Threads that do what takes time: one owns the decoder of the recording in the picture, one
//! those of pictures beside it, one the library, one reads new recordings in. Jobs go in, events come out.
//!
//! A job is never waited for. A panic in a thread's job becomes an event, and the thread goes on
//! with its next job. Every thread ends by itself when the window drops its end of the channels;
//! those that write are waited for, so that what was done last is kept and nothing half written
//! stays behind.

mod dialog;
mod edits;
mod film;
mod halt;
mod jobs;
mod keeper;
mod library;
mod notebook;
mod pictures;
mod reader;
mod reading;
mod report;
mod second;
mod send;
#[cfg(test)]
mod tests;
mod watch;
mod writing;

use std::path::PathBuf;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use super::message::{Event, FileEvent, Job, SecondJob};
use super::notebook::Ask;
use super::options::Options;
use crate::store::SessionId;
use crate::video::CancelToken;
use crate::workflow::Running;
use halt::Halt;
use jobs::{FilmJob, PictureJob, ReadJob, ToReader};
use keeper::Busy;
use pictures::Pictures;
use reading::Reading;
use report::{Report, guarded};
use send::Sending;
use writing::Writing;

pub use library::kept_window;

/// A library that is busy for longer than this when the window closes is on a stuck disk.
const LEAVE: Duration = Duration::from_secs(20);

/// The window's end of the threads.
pub struct Worker {
    library: Sender<Job>,
    /// The library's thread.
    keeping: Option<JoinHandle<()>>,
    /// Who else writes.
    writing: Writing,
    pictures: Sender<PictureJob>,
    film: Sender<FilmJob>,
    second: Sender<SecondJob>,
    reader: Sender<ReadJob>,
    /// Stops the frame asked for last.
    frame: CancelToken,
    /// Stops the small pictures asked for last.
    small: CancelToken,
    notebook: Sender<(Ask, CancelToken)>,
    /// Stops what a chapter was asked for last.
    asking: CancelToken,
    halts: Halts,
    sending: CancelToken,
    options: Options,
    reading: Reading,
    watching: CancelToken,
    events: Receiver<Event>,
    report: Report,
    running: Option<Running>,
}

/// Stops what is opened or brought together.
#[derive(Clone, Debug, Default)]
struct Halts {
    /// The recording in the picture, by its request.
    opening: Halt,
    /// Before and after, by its request.
    comparing: Halt,
    /// The recording beside, by its request.
    beside: Halt,
}

impl Worker {
    /// Starts the threads; `wake` is called after each event.
    pub fn start(options: &Options, wake: impl Fn() + Send + Sync + 'static) -> Self {
        let (events_in, events) = channel();
        let report = Report::new(events_in, wake);
        let begun = options.place().map(|place| Running::begin(&place));
        let (running, left) = begun.unwrap_or_default();
        if let Some(left) = left {
            report.send(Event::Notice(left.sentence()));
        }
        let (second, second_jobs) = channel();
        let place = options.clone();
        let halts = Halts::default();
        let halt = halts.beside.clone();
        spawn("second", &report, move |report| second::run(&place, &second_jobs, &halt, report));
        let (notebook, asks) = channel();
        let place = options.clone();
        spawn("notebook", &report, move |report| notebook::run(&place, &asks, report));
        let reading = Reading::default();
        let writing = Writing::default();
        let (pictures, film) = start_pictures(options, &writing, &report);
        let ends = Ends {
            options,
            halts: &halts,
            pictures: &pictures,
            writing: &writing,
            reading: &reading,
        };
        let (library, reader, keeping) = start_library(&ends, &report);
        Self {
            library,
            keeping,
            writing,
            pictures,
            film,
            second,
            reader,
            frame: CancelToken::new(),
            small: CancelToken::new(),
            notebook,
            asking: CancelToken::new(),
            halts,
            sending: CancelToken::new(),
            options: options.clone(),
            reading,
            watching: CancelToken::new(),
            events,
            report,
            running,
        }
    }

    /// Hands a job to the thread that does it. A stop overtakes the queue.
    pub fn send(&mut self, job: Job) {
        match job {
            Job::Frame { frame, generation } => {
                let cancel = renewed(&mut self.frame);
                let _ = self.pictures.send(PictureJob::Frame { frame, generation, cancel });
            }
            Job::Film { frames, within, generation } => {
                let cancel = renewed(&mut self.small);
                let _ = self.film.send(FilmJob::Pictures { frames, within, generation, cancel });
            }
            Job::Second(job) => {
                if let SecondJob::Open { generation, .. } = &job {
                    self.halts.beside.ask(*generation);
                }
                let _ = self.second.send(job);
            }
            Job::AskForFiles => ask_for_files(&self.report),
            Job::Import { path, session } => self.read(path, session),
            Job::CancelImport(path) => self.reading.stop(&path),
            Job::Watch => ask_for_folder(&self.report, renewed(&mut self.watching)),
            Job::Ask(ask) => {
                let _ = self.notebook.send((ask, self.asking.clone()));
            }
            Job::Send { order, path } => {
                self.sending = CancelToken::new();
                send::start(&self.options, *order, path, self.hand_out(), &self.report);
            }
            Job::Bundle { path, take } => {
                self.sending = CancelToken::new();
                send::start_bundle(&self.options, path, take, self.hand_out(), &self.report);
            }
            Job::StopSending => self.sending.cancel(),
            Job::StopAsking => _ = renewed(&mut self.asking),
            Job::StopOpening(generation) => self.halts.opening.stop(generation),
            Job::StopBeforeAfter(request) => self.halts.comparing.stop(request),
            Job::StopBeside(generation) => self.halts.beside.stop(generation),
            Job::Speak(text) => speak(text, &self.report),
            Job::StopWatching => self.watching.cancel(),
            job => {
                self.overtake(&job);
                let _ = self.library.send(job);
            }
        }
    }

    /// Ends what a job for the library makes needless, without waiting for its turn.
    fn overtake(&self, job: &Job) {
        match job {
            Job::OpenRecording { generation, .. } => {
                self.frame.cancel();
                self.small.cancel();
                self.halts.comparing.stop_all();
                self.halts.opening.ask(*generation);
            }
            Job::BeforeAfter { request, .. } => self.halts.comparing.ask(*request),
            _ => {}
        }
    }

    fn hand_out(&self) -> Sending {
        Sending { stop: self.sending.clone(), writing: self.writing.clone() }
    }

    fn read(&mut self, path: PathBuf, session: Option<SessionId>) {
        let cancel = self.reading.begin(&path);
        if let Some(running) = &self.running {
            running.reads(&path);
        }
        let _ = self.reader.send(ReadJob { path, session, setup: None, cancel });
    }

    /// The next event, if one is waiting.
    pub fn poll(&mut self) -> Option<Event> {
        self.events.try_recv().ok().inspect(|event| self.note_read(event))
    }

    /// The next event, waited for up to `limit`.
    pub fn wait(&mut self, limit: Duration) -> Option<Event> {
        self.events.recv_timeout(limit).ok().inspect(|event| self.note_read(event))
    }

    fn note_read(&self, event: &Event) {
        let Event::File(event) = event else { return };
        if let (
            Some(running),
            FileEvent::Imported { path, .. } | FileEvent::NotImported { path, .. },
        ) = (&self.running, event)
        {
            running.has_read(path);
        }
    }
}

impl Drop for Worker {
    fn drop(&mut self) {
        self.reading.close();
        self.frame.cancel();
        self.small.cancel();
        self.watching.cancel();
        self.sending.cancel();
        self.asking.cancel();
        let Halts { opening, comparing, beside } = &self.halts;
        [opening, comparing, beside].into_iter().for_each(Halt::stop_all);
        self.writing.close();
        // What was done last must be kept before the program ends, and nothing half written be
        // left behind; all else ends with the program.
        let _ = self.library.send(Job::Leave);
        let end = Instant::now() + LEAVE;
        let is_kept = || self.keeping.as_ref().is_none_or(JoinHandle::is_finished);
        while !(is_kept() && self.writing.is_idle()) && Instant::now() < end {
            std::thread::sleep(Duration::from_millis(1));
        }
    }
}

/// Stops what `token` stops, and gives a new one in its place.
fn renewed(token: &mut CancelToken) -> CancelToken {
    token.cancel();
    *token = CancelToken::new();
    token.clone()
}

/// The threads of the recording in the picture: its frames, its small pictures, and what nobody
/// waits for.
fn start_pictures(
    options: &Options,
    writing: &Writing,
    report: &Report,
) -> (Sender<PictureJob>, Sender<FilmJob>) {
    let (pictures, picture_jobs) = channel();
    let (film, film_jobs) = channel();
    let (keeper, keeper_jobs) = channel();
    let busy = Busy::default();
    let ends =
        Pictures { options: options.clone(), film: film.clone(), keeper, busy: busy.clone() };
    spawn("pictures", report, move |report| pictures::run(&ends, &picture_jobs, report));
    spawn("film", report, move |report| film::run(&film_jobs, report));
    let (to_pictures, place, writing) = (pictures.clone(), options.clone(), writing.clone());
    spawn("keeper", report, move |report| {
        keeper::run(&place, &keeper_jobs, &to_pictures, &busy, &writing, report);
    });
    (pictures, film)
}

/// What the library's threads need of the others.
struct Ends<'a> {
    options: &'a Options,
    halts: &'a Halts,
    pictures: &'a Sender<PictureJob>,
    writing: &'a Writing,
    reading: &'a Reading,
}

/// The thread that owns the library, with its handle, and the one that reads new recordings in.
fn start_library(
    ends: &Ends,
    report: &Report,
) -> (Sender<Job>, Sender<ReadJob>, Option<JoinHandle<()>>) {
    let (library, library_jobs) = channel();
    let (reader, read_jobs) = channel();
    let to_reader = ToReader { jobs: reader.clone(), reading: ends.reading.clone() };
    let (to_pictures, place) = (ends.pictures.clone(), ends.options.clone());
    let halts = ends.halts.clone();
    let keeping = spawn("library", report, move |report| {
        library::run(&place, &library_jobs, &halts, &to_pictures, &to_reader, report);
    });
    let (to_library, place) = (library.clone(), ends.options.clone());
    let writing = ends.writing.clone();
    spawn("reader", report, move |report| {
        reader::run(&place, &read_jobs, &to_library, &writing, report);
    });
    (library, reader, keeping)
}

/// Runs a thread's loop. Its jobs are guarded one by one, so that what the thread holds outlives
/// one that breaks down; should the loop itself do so, it begins anew with nothing.
fn spawn(
    name: &str,
    report: &Report,
    mut run: impl FnMut(&Report) + Send + 'static,
) -> Option<JoinHandle<()>> {
    let report = report.clone();
    // A fault that comes back at once must not take a whole core.
    const PAUSE: Duration = Duration::from_millis(200);
    let body = move || {
        while let Err(sentence) = guarded(|| run(&report)) {
            report.send(Event::JobFailed(sentence));
            std::thread::sleep(PAUSE);
        }
    };
    let started = std::thread::Builder::new().name(name.into()).spawn(body);
    started
        .inspect_err(|error| tracing::error!("the {name} thread could not be started: {error}"))
        .ok()
}

/// Does one thing on a thread of its own; what broke down is told.
fn once(name: &str, report: &Report, run: impl FnOnce(&Report) + Send + 'static) {
    let report = report.clone();
    let body = move || {
        if let Err(sentence) = guarded(|| run(&report)) {
            report.send(Event::JobFailed(sentence));
        }
    };
    if let Err(error) = std::thread::Builder::new().name(name.into()).spawn(body) {
        tracing::error!("the {name} thread could not be started: {error}");
    }
}

/// The system's file dialog, on a thread of its own.
fn ask_for_files(report: &Report) {
    once("dialog", report, |report| match dialog::recordings() {
        Ok(Some(paths)) => report.send(FileEvent::Chosen(paths)),
        Ok(None) => {}
        Err(none) => report.send(Event::Notice(none.to_string())),
    });
}

/// The system's folder dialog, and then the watch, on a thread of its own.
fn ask_for_folder(report: &Report, stop: CancelToken) {
    once("watch", report, move |report| match dialog::folder() {
        Ok(Some(folder)) => watch::run(&folder, &stop, report),
        Ok(None) => {}
        Err(none) => report.send(Event::Notice(none.to_string())),
    });
}

/// What is told where none of them speaks.
const NO_SPEECH: &str = "The result could not be spoken: no speech program answers. Install \
    speech-dispatcher or espeak-ng, or turn speaking off under Look.";

/// Programs that speak a text given as their last argument, and what they need before it.
const SPEAKERS: [(&str, &[&str]); 4] =
    [("spd-say", &["--wait"]), ("espeak-ng", &[]), ("espeak", &[]), ("say", &[])];

/// Lets the system's speech program say it; that there is none is told.
fn speak(text: String, report: &Report) {
    once("speech", report, move |report| {
        let speaks = |(program, before): &(&str, &[&str])| {
            let status = std::process::Command::new(program).args(*before).arg(&text).status();
            status.is_ok_and(|status| status.success())
        };
        if !SPEAKERS.iter().any(speaks) {
            report.send(Event::Notice(NO_SPEECH.into()));
        }
    });
}
