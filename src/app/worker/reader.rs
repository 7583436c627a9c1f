//! The thread that reads new recordings: finds their swings, measures them, and only then
//! puts all of it into the library in one step.

use std::path::Path;
use std::sync::mpsc::{Receiver, Sender};
use std::time::Duration;

use super::jobs::ReadJob;
use super::report::{Report, guarded, sentence};
use super::writing::Writing;
use crate::app::message::{FileEvent, Job};
use crate::app::model::Finding;
use crate::app::options::Options;
use crate::domain::FoundSwing;
use crate::store::{GolferId, Library, Of, SessionId, StoreError, SwingId, identify_file};
use crate::workflow::{
    KeptError, Progress, golfer_named, kept_recording, open_kept, read_in, session_on,
};

/// A report of progress comes at most this often, so that the window is not kept busy by it.
const PAUSE: Duration = Duration::from_millis(80);

/// Why a file was not read in.
#[derive(Debug, thiserror::Error)]
enum ReadError {
    #[error(transparent)]
    Kept(#[from] KeptError),
    #[error("There is no home folder for the library; start again with --library PATH.")]
    NoPlace,
}

impl From<StoreError> for ReadError {
    fn from(error: StoreError) -> Self {
        Self::Kept(error.into())
    }
}

/// Reads files one after the other until the window is gone.
pub fn run(
    options: &Options,
    jobs: &Receiver<ReadJob>,
    library: &Sender<Job>,
    writing: &Writing,
    report: &Report,
) {
    while let Ok(job) = jobs.recv() {
        let Some(_writing) = writing.begin() else { return };
        let path = job.path.clone();
        let outcome = guarded(|| read(options, &job, report));
        crate::video::give_back_memory();
        let event = match outcome {
            Ok(Ok(ReadIn { session, swing, whose })) => {
                let _ = library.send(Job::Refresh(session));
                FileEvent::Imported { path, session, swing, whose }
            }
            _ if job.cancel.is_cancelled() => FileEvent::NotImported { path, sentence: None },
            Ok(Err(error)) => FileEvent::NotImported { path, sentence: Some(sentence(&error)) },
            Err(sentence) => FileEvent::NotImported { path, sentence: Some(sentence) },
        };
        report.send(event);
    }
}

/// Where the swings of a file are.
struct ReadIn {
    session: SessionId,
    swing: Option<SwingId>,
    whose: Option<(GolferId, String)>,
}

fn read(options: &Options, job: &ReadJob, report: &Report) -> Result<ReadIn, ReadError> {
    tell(report, &job.path, "Opening", 0.0);
    let mut library = Library::open(options.place().ok_or(ReadError::NoPlace)?)?;
    // Before anything is put into the library: a file that is no video gets its own sentence.
    let mut recording =
        open_kept(&mut library, &job.path, job.cancel.clone()).map_err(KeptError::from)?;
    let identity = identify_file(&job.path)?;
    let session = match (job.session, kept_recording(&library, &identity, job.session)?) {
        (_, Some(row)) => row.session,
        (Some(session), None) => session,
        (None, None) => {
            let golfer = golfer_named(&mut library, None)?;
            session_on(&mut library, golfer, jiff::ZonedDateTime::now().date())?
        }
    };
    let mut last = std::time::Instant::now() - PAUSE;
    let mut listener = |what: &str, done: f64| {
        if last.elapsed() >= PAUSE {
            last = std::time::Instant::now();
            tell(report, &job.path, what, done);
        }
        !job.cancel.is_cancelled()
    };
    let mut finds = |number: usize, swing: &FoundSwing, complete: bool| {
        let (path, finding) = (job.path.clone(), Finding::of(swing, complete));
        report.send(FileEvent::Finding { path, number, finding });
    };
    let mut progress = Progress::new(&mut listener).telling(&mut finds);
    let setup = job.setup.as_ref();
    let id = read_in(&mut library, session, &mut recording, setup, &mut progress)?;
    let first = library.swings(Of::Recording(id))?.first().map(|swing| swing.id);
    let golfer = library.session(session)?.golfer;
    let chosen = job.session == Some(session);
    let whose = if chosen { None } else { Some((golfer, library.golfer(golfer)?.name)) };
    Ok(ReadIn { session, swing: first, whose })
}

fn tell(report: &Report, path: &Path, doing: &str, done: f64) {
    report.send(FileEvent::Importing { path: path.to_path_buf(), doing: doing.into(), done });
}
