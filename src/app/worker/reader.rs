//! The thread that reads new recordings: finds their swings, measures them, and only then
//! puts all of it into the library in one step.

use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender};
use std::time::Duration;

use super::library::{file_name, new_session, place};
use super::{Report, sentence};
use crate::app::message::{Event, Job};
use crate::app::window::Options;
use crate::domain::{Golfer, PictureError, Pictures, PlacedBy, Setup};
use crate::store::{
    FileIdentity, GolferId, Library, NewRecording, NewSwing, Of, Scope, SessionId, StoreError,
    SwingId, identify_file,
};
use crate::video::{CancelToken, Recording, VideoError};
use crate::workflow::{MeasureError, Measurement, Progress, measure};

/// A report of progress comes at most this often, so that the window is not kept busy by it.
const PAUSE: Duration = Duration::from_millis(80);

/// A file to read.
#[derive(Clone, Debug)]
pub struct ReadJob {
    /// The file.
    pub path: PathBuf,
    /// Where its swings go; `None`: a new session.
    pub session: Option<SessionId>,
    /// Stops it.
    pub cancel: CancelToken,
}

/// Why a file was not read in.
#[derive(Debug, thiserror::Error)]
enum ReadError {
    #[error("stopped")]
    Stopped,
    #[error(transparent)]
    Store(#[from] StoreError),
    #[error(transparent)]
    Measure(MeasureError),
    #[error("There is no home folder for the library; start again with --library PATH.")]
    NoPlace,
}

impl From<MeasureError> for ReadError {
    fn from(error: MeasureError) -> Self {
        match error {
            MeasureError::Video(VideoError::Cancelled)
            | MeasureError::Picture(PictureError::Cancelled) => Self::Stopped,
            error => Self::Measure(error),
        }
    }
}

impl From<VideoError> for ReadError {
    fn from(error: VideoError) -> Self {
        MeasureError::from(error).into()
    }
}

/// Reads files one after the other until the window is gone.
pub fn run(options: &Options, jobs: &Receiver<ReadJob>, library: &Sender<Job>, report: &Report) {
    while let Ok(job) = jobs.recv() {
        let path = job.path.clone();
        let event = match read(options, &job, report) {
            Ok((session, swing)) => {
                let _ = library.send(Job::LoadSession(session));
                Event::Imported { path, session, swing }
            }
            Err(ReadError::Stopped) => Event::NotImported { path, sentence: None },
            Err(error) => Event::NotImported { path, sentence: Some(sentence(&error)) },
        };
        report.send(event);
    }
}

fn read(
    options: &Options,
    job: &ReadJob,
    report: &Report,
) -> Result<(SessionId, Option<SwingId>), ReadError> {
    if job.cancel.is_cancelled() {
        return Err(ReadError::Stopped);
    }
    tell(report, &job.path, "opening", 0.0);
    // Opened first: a file that is no video gets the sentence that says so.
    let mut recording = Recording::open_with(&job.path, None, job.cancel.clone())?;
    let identity = identify_file(&job.path)?;
    let mut library = Library::open(place(options).ok_or(ReadError::NoPlace)?)?;
    if let Some(known) = known(&library, &identity, job.session)? {
        return Ok(known);
    }
    let measurement = measured(&mut recording, job, report)?;
    if job.cancel.is_cancelled() {
        return Err(ReadError::Stopped);
    }
    let session = match job.session {
        Some(session) => session,
        None => {
            let golfer = first_golfer(&mut library)?;
            new_session(&mut library, golfer)?
        }
    };
    let swing = keep(&mut library, session, &recording, identity, &measurement)?;
    Ok((session, swing))
}

fn tell(report: &Report, path: &Path, doing: &str, done: f64) {
    report.send(Event::Importing { path: path.to_path_buf(), doing: doing.into(), done });
}

/// The same content that is already in the session is looked at, not read again.
fn known(
    library: &Library,
    identity: &FileIdentity,
    session: Option<SessionId>,
) -> Result<Option<(SessionId, Option<SwingId>)>, StoreError> {
    let rows = library.recordings_with(identity)?;
    let Some(row) = rows.iter().find(|row| session.is_none_or(|s| row.session == s)) else {
        return Ok(None);
    };
    let first = library.swings(Of::Recording(row.id))?.first().map(|swing| swing.id);
    Ok(Some((row.session, first)))
}

fn measured(
    recording: &mut Recording,
    job: &ReadJob,
    report: &Report,
) -> Result<Measurement, ReadError> {
    let sound = recording.sound()?;
    let mut last = std::time::Instant::now() - PAUSE;
    let mut listener = |what: &str, done: f64| {
        if last.elapsed() >= PAUSE {
            last = std::time::Instant::now();
            tell(report, &job.path, what, done);
        }
        !job.cancel.is_cancelled()
    };
    let mut progress = Progress::new(&mut listener);
    Ok(measure(recording, sound.as_ref(), &Setup::default(), &mut progress)?)
}

fn first_golfer(library: &mut Library) -> Result<GolferId, StoreError> {
    if let Some((id, _)) = library.golfers()?.into_iter().find(|(_, golfer)| !golfer.invented) {
        return Ok(id);
    }
    let golfer = Golfer { name: "My swings".into(), ..Golfer::default() };
    library.edit(Scope::Library, "golfer My swings", |edit| edit.add_golfer(&golfer))
}

/// Puts recording, swings and results into the library: all of it or nothing.
fn keep(
    library: &mut Library,
    session: SessionId,
    recording: &Recording,
    identity: FileIdentity,
    measurement: &Measurement,
) -> Result<Option<SwingId>, StoreError> {
    let path = std::path::absolute(recording.path()).unwrap_or(recording.path().to_path_buf());
    let facts = serde_json::to_string(recording.facts())
        .map_err(|_| StoreError::BadValue { what: "facts of the recording" })?;
    let words = format!("recording {}", file_name(&path));
    let setup = Setup { swings: Vec::new(), ..measurement.setup.clone() };
    library.edit(Scope::Session(session), &words, |edit| {
        let id = edit.add_recording(session, &NewRecording { path, identity })?;
        edit.set_facts(id, recording.timeline(), &facts)?;
        if setup != Setup::default() {
            edit.set_setup(id, &setup)?;
        }
        let mut first = None;
        for (input, result) in measurement.inputs.iter().zip(&measurement.swings) {
            let Some(time) = result.strike_time else { continue };
            let new = NewSwing::on(id, result.kind, time, PlacedBy::Program);
            let swing = edit.add_swing(session, &new)?;
            if let Some(found) = &input.found {
                edit.set_found(swing, found)?;
            }
            edit.set_result(swing, result)?;
            first = first.or(Some(swing));
        }
        Ok(first)
    })
}
