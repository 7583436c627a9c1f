//! The thread that owns the library: loads, saves, measures again, undoes.

use std::collections::HashMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender};
use std::time::Duration;

use super::jobs::{PictureJob, ReadJob, ToReader};
use super::report::{Report, guarded, sentence};
use super::{Halts, edits};
use crate::app::message::{BesideEvent, Edit, Event, FileEvent, Job, PictureEvent, SessionEvent};
use crate::app::model::{Ground, History, People, Settings, Standing, Swing, WAITS, WindowSize};
use crate::app::options::Options;
use crate::domain::{Session, Setup, SwingMarks};
use crate::stats::AimWindow;
use crate::store::{
    GolferId, Library, Of, RecordingId, Scope, SessionId, StoreError, SwingId, SwingRow,
};
use crate::workflow::{
    Evaluation, KeptError, PlanEdit, SwingGround, WINDOW_SETTINGS, build_sample, carried_from,
    change_plan, chosen_threshold, erase, evaluate_kept, file_name, lens_choice, start_windows,
    swings_words,
};

/// Under which key the session looked at last is kept.
const LAST_SESSION: &str = "window.session";
/// How often to look whether another program changed the library.
const LOOK: Duration = Duration::from_secs(1);

/// The window as it was left, from a library that is there; read before the window opens, so
/// that it does not jump.
pub fn kept_window(options: &Options) -> Option<WindowSize> {
    let path = options.place().filter(|path| path.is_file())?;
    let text = Library::open(path).ok()?.setting(WINDOW_SETTINGS).ok()??;
    let settings: Settings = serde_json::from_str(&text).ok()?;
    let kept = settings.window?;
    let sane = |v: f32| v.is_finite() && (200.0..=20_000.0).contains(&v);
    kept.size.into_iter().all(sane).then_some(kept)
}

/// Answers until the window is gone.
pub fn run(
    options: &Options,
    jobs: &Receiver<Job>,
    halts: &Halts,
    pictures: &Sender<PictureJob>,
    reader: &ToReader,
    report: &Report,
) {
    let Some(mut shelf) = Shelf::open(options, halts, pictures, report) else {
        // Without a library nothing can be saved; what is asked is refused with its sentence.
        while jobs.recv().is_ok_and(|job| job != Job::Leave) {}
        return;
    };
    crate::video::remove_leftovers(&shelf.library.kept_frames_folder());
    if options.sample && shelf.library.golfers().is_ok_and(|golfers| golfers.is_empty()) {
        shelf.guard(Waiting::Nobody, |shelf| shelf.put_sample_in(reader));
    }
    loop {
        match jobs.recv_timeout(LOOK) {
            Ok(Job::Leave) | Err(RecvTimeoutError::Disconnected) => {
                // Nothing more is kept of what is open.
                halts.opening.stop_all();
                return;
            }
            Ok(job) => shelf.guard(Waiting::on(&job), |shelf| shelf.answer(job, reader)),
            Err(RecvTimeoutError::Timeout) => shelf.guard(Waiting::Nobody, Shelf::look_for_changes),
        }
    }
}

/// What in the window waits for a job's answer, and must hear that there will be none.
#[derive(Clone, Copy)]
enum Waiting {
    /// What is on the screen is ahead of what is kept.
    Edit,
    /// The picture of a recording.
    Opening(u64),
    /// The ground before and after.
    BeforeAfter(u64),
    /// Nothing; or it must not be asked for again, or it would never end.
    Nobody,
}

impl Waiting {
    fn on(job: &Job) -> Self {
        match job {
            Job::Edit { .. } | Job::Undo { .. } | Job::Redo { .. } => Self::Edit,
            Job::OpenRecording { generation, .. } => Self::Opening(*generation),
            Job::BeforeAfter { request, .. } => Self::BeforeAfter(*request),
            _ => Self::Nobody,
        }
    }
}

struct Shelf<'a> {
    library: Library,
    pictures: &'a Sender<PictureJob>,
    report: &'a Report,
    golfer: Option<GolferId>,
    session: Option<SessionId>,
    open: Option<RecordingId>,
    halts: &'a Halts,
    /// The number of the last edit that was asked for.
    edit: u64,
    evaluations: HashMap<RecordingId, Evaluation>,
}

impl<'a> Shelf<'a> {
    fn open(
        options: &Options,
        halts: &'a Halts,
        pictures: &'a Sender<PictureJob>,
        report: &'a Report,
    ) -> Option<Self> {
        let Some(path) = options.place() else {
            report.send(Event::Notice(
                "There is no home folder for the library; start again with --library PATH.".into(),
            ));
            return None;
        };
        match Library::open(&path) {
            Ok(library) => Some(Self {
                library,
                pictures,
                report,
                golfer: None,
                session: None,
                open: None,
                halts,
                edit: 0,
                evaluations: HashMap::new(),
            }),
            Err(error) => {
                report.send(Event::Notice(sentence(&error)));
                None
            }
        }
    }

    /// Into a library in which it is not yet: the invented golfer. His recordings are read by
    /// the reader, like any.
    fn put_sample_in(&mut self, reader: &ToReader) {
        match build_sample(&mut self.library, &sample_folder()) {
            Ok(Some(sample)) => {
                let session = sample.sessions.last().copied();
                let with_stop = |(path, setup): (PathBuf, Setup)| {
                    let cancel = reader.reading.begin(&path);
                    ReadJob { path, session, setup: Some(setup), cancel }
                };
                let jobs: Vec<_> = sample.recordings.into_iter().map(with_stop).collect();
                // Nobody asked for them, so the window is told that they wait.
                for job in &jobs {
                    let (path, doing, done) = (job.path.clone(), WAITS.into(), 0.0);
                    self.report.send(FileEvent::Importing { path, doing, done });
                }
                jobs.into_iter().for_each(|job| _ = reader.jobs.send(job));
            }
            Ok(None) => {}
            Err(error) => self.report.send(Event::Notice(sentence(&error))),
        }
    }

    /// Does one job. Where it breaks down, what it held is made anew, and what the person is
    /// looking at stays.
    fn guard(&mut self, waiting: Waiting, job: impl FnOnce(&mut Self)) {
        if let Err(sentence) = guarded(|| job(self)) {
            self.evaluations.clear();
            // A library that cannot be opened just now is held as it is.
            if let Ok(library) = Library::open(self.library.path()) {
                self.library = library;
            }
            self.tell(waiting, sentence);
        }
    }

    fn answer(&mut self, job: Job, reader: &ToReader) {
        let waiting = Waiting::on(&job);
        if let Err(error) = self.try_answer(job, reader) {
            self.tell(waiting, sentence(&error));
        }
    }

    /// Says why something was not done to whoever waits for it.
    fn tell(&self, waiting: Waiting, sentence: String) {
        match waiting {
            Waiting::Edit => self.report.send(Event::JobFailed(sentence)),
            Waiting::Opening(generation) => {
                self.report.send(PictureEvent::NotOpened { generation, sentence });
            }
            Waiting::BeforeAfter(request) => {
                let sentence = Some(sentence);
                self.report.send(PictureEvent::NoBeforeAfter { request, sentence });
            }
            Waiting::Nobody => self.report.send(Event::Notice(sentence)),
        }
    }

    fn try_answer(&mut self, job: Job, reader: &ToReader) -> Result<(), KeptError> {
        let done = match job {
            Job::Load => self.load(),
            Job::LoadGolfer(id) => self.load_golfer(id),
            Job::LoadSession(id) => self.load_session(id),
            Job::Refresh(id) => self.refresh(id),
            Job::AddGolfer(name) => self.add_golfer(name),
            Job::AddSession(golfer) => self.add_session(golfer),
            Job::OpenRecording { recording, generation } => {
                self.open_recording(recording, generation)
            }
            Job::BeforeAfter { swing, request, generation } => {
                self.before_after(swing, request, generation)
            }
            Job::Edit { edit: Edit::Plan(edit), number } => self.change_plan(edit, number),
            Job::Edit { edit, number } => return self.edit(edit, number),
            Job::Undo { number } => self.step_history(number, false),
            Job::Redo { number } => self.step_history(number, true),
            Job::SaveSettings(settings) => self.save_settings(&settings),
            Job::BesideSwings(session) => self.beside_swings(session),
            Job::PutSampleIn => {
                self.put_sample_in(reader);
                self.load_last()
            }
            // The others have threads of their own.
            Job::AskForFiles
            | Job::Import { .. }
            | Job::CancelImport(_)
            | Job::Frame { .. }
            | Job::Film { .. }
            | Job::Second(_)
            | Job::Ask(_)
            | Job::Send { .. }
            | Job::Bundle { .. }
            | Job::StopSending
            | Job::StopAsking
            | Job::StopOpening(_)
            | Job::StopBeforeAfter(_)
            | Job::StopBeside(_)
            | Job::Watch
            | Job::Speak(_)
            | Job::Leave
            | Job::StopWatching => Ok(()),
        };
        Ok(done?)
    }

    /// Applies an edit, and shows a swing that it added.
    fn edit(&mut self, edit: Edit, number: u64) -> Result<(), KeptError> {
        self.edit = number;
        self.evaluations.clear();
        let added = edits::apply(&mut self.library, self.session, edit)?;
        self.reload()?;
        if let Some(swing) = added {
            self.report.send(SessionEvent::Look(swing));
        }
        Ok(())
    }

    fn load(&mut self) -> Result<(), StoreError> {
        let kept = self.library.setting(WINDOW_SETTINGS)?;
        let settings = kept.and_then(|text| serde_json::from_str(&text).ok());
        self.report.send(Event::Settings(settings.unwrap_or_default()));
        self.load_last()
    }

    /// The session looked at last, else the first golfer's newest.
    fn load_last(&mut self) -> Result<(), StoreError> {
        let last = self.library.setting(LAST_SESSION)?.and_then(|text| text.parse().ok());
        if let Some(session) = last.map(SessionId)
            && self.library.session(session).is_ok()
        {
            return self.load_session(session);
        }
        match self.library.golfers()?.first() {
            Some((golfer, _)) => self.load_golfer(*golfer),
            None => Ok(()),
        }
    }

    fn save_settings(&mut self, settings: &Settings) -> Result<(), StoreError> {
        let text = serde_json::to_string(settings)
            .map_err(|_| StoreError::BadValue { what: "settings" })?;
        let as_before = settings.review_below == chosen_threshold(&self.library)?;
        self.library.save(|edit| {
            edit.set_setting(WINDOW_SETTINGS, &text)?;
            if as_before { Ok(()) } else { edit.measure_all_anew() }
        })?;
        if !as_before {
            self.evaluations.clear();
        }
        if as_before { Ok(()) } else { self.reload() }
    }

    fn load_golfer(&mut self, golfer: GolferId) -> Result<(), StoreError> {
        self.golfer = Some(golfer);
        match self.library.sessions(golfer)?.first() {
            Some(newest) => self.load_session(newest.id),
            None => {
                self.session = None;
                let people = self.people(Some(golfer), None)?;
                self.report.send(SessionEvent::People(people));
                self.report_history()
            }
        }
    }

    fn people(
        &self,
        golfer: Option<GolferId>,
        session: Option<SessionId>,
    ) -> Result<People, StoreError> {
        let rows = golfer.map(|id| self.library.sessions(id)).transpose()?.unwrap_or_default();
        let sessions = rows.iter().map(|row| (row.id, title(&row.session, row.swings))).collect();
        Ok(People { golfers: self.library.golfers()?, sessions, golfer, session })
    }

    fn load_session(&mut self, session: SessionId) -> Result<(), StoreError> {
        let row = self.library.session(session)?;
        self.golfer = Some(row.golfer);
        if self.session != Some(session) {
            self.session = Some(session);
            self.evaluations.clear();
            self.library.save(|edit| edit.set_setting(LAST_SESSION, &session.0.to_string()))?;
        }
        let people = self.people(Some(row.golfer), Some(session))?;
        self.report.send(SessionEvent::People(people));
        self.reload()
    }

    /// A recording was put into a session: shown if it is the one looked at.
    fn refresh(&mut self, session: SessionId) -> Result<(), StoreError> {
        if self.session == Some(session) {
            self.load_session(session)?;
        }
        Ok(())
    }

    /// Measures what is out of date and reports the session as it is.
    fn reload(&mut self) -> Result<(), StoreError> {
        let Some(session) = self.session else { return Ok(()) };
        let recordings = self.library.recordings(session)?;
        // One that was undone, or is of the session looked at before, has nothing to report.
        self.open = self.open.filter(|open| recordings.iter().any(|row| row.id == *open));
        for recording in &recordings {
            if !self.library.swings_to_measure(recording.id)?.is_empty() {
                self.measure(recording.id)?;
            }
        }
        let swings = self.swings(session)?;
        let history = self.history()?;
        let recordings = recordings.into_iter().map(|row| (row.id, row.path)).collect();
        let edit = self.edit;
        self.report.send(SessionEvent::Session { session, swings, recordings, history, edit });
        if let Some(open) = self.open {
            self.report_setup(open)?;
        }
        let _ = self.library.changed_since();
        Ok(())
    }

    /// Works out the numbers of a recording's swings and keeps them.
    fn measure(&mut self, recording: RecordingId) -> Result<(), StoreError> {
        let rows = self.library.swings(Of::Recording(recording))?;
        let Some(evaluation) = self.evaluation(recording)? else { return Ok(()) };
        let results: Vec<_> =
            rows.iter().map(|row| row.id).zip(evaluation.swings.clone()).collect();
        self.library.save(|edit| {
            results.iter().try_for_each(|(swing, result)| edit.set_result(*swing, result))
        })
    }

    /// The evaluation of a recording as marked now; `None` if its file was never read, or its
    /// references can't be used (the sentence is told).
    fn evaluation(&mut self, recording: RecordingId) -> Result<Option<&Evaluation>, StoreError> {
        if !self.evaluations.contains_key(&recording) {
            match evaluate_kept(&self.library, recording) {
                Ok(Some(evaluation)) => {
                    self.evaluations.insert(recording, evaluation);
                }
                Ok(None) => {}
                Err(KeptError::Store(error)) => return Err(error),
                Err(error) => self.report.send(Event::Notice(sentence(&error))),
            }
        }
        Ok(self.evaluations.get(&recording))
    }

    fn report_setup(&mut self, recording: RecordingId) -> Result<(), StoreError> {
        let setup = Box::new(self.library.shared_setup(recording)?);
        let rows = self.library.swings(Of::Recording(recording))?;
        let from = carried_from(&self.library, recording)?;
        let carried_from = from.map(|from| file_name(&from.path));
        let lenses = lens_choice(&self.library, recording)?;
        let (mut grounds, mut warnings, mut seen) = (Vec::new(), Vec::new(), None);
        if let Some(evaluation) = self.evaluation(recording)? {
            warnings.clone_from(&evaluation.warnings);
            seen = evaluation.view.clone().map(Arc::new);
            for (row, ground) in rows.iter().zip(&evaluation.grounds) {
                let Some(SwingGround { view, path }) = ground.clone() else { continue };
                grounds.push((row.id, Ground { view: Arc::new(view), path }));
            }
        }
        let edit = self.edit;
        let standing = Box::new(Standing { carried_from, grounds, lenses, warnings, view: seen });
        self.report.send(PictureEvent::Setup { recording, setup, standing, edit });
        Ok(())
    }

    fn open_recording(
        &mut self,
        recording: RecordingId,
        generation: u64,
    ) -> Result<(), StoreError> {
        let row = self.library.recording(recording)?;
        let cancel = self.halts.opening.begin(generation);
        // Before its picture can be seen, so that nothing is marked on top of an empty set-up; its
        // ground follows once it is worked out.
        let setup = Box::new(self.library.shared_setup(recording)?);
        let (standing, edit) = (Box::default(), self.edit);
        self.report.send(PictureEvent::Setup { recording, setup, standing, edit });
        let rows = self.library.swings(Of::Recording(recording))?;
        let strikes = rows.iter().filter_map(|row| row.strike_time).collect();
        let open = PictureJob::Open { row, strikes, generation, cancel };
        let _ = self.pictures.send(open);
        self.open = Some(recording);
        self.report_setup(recording)
    }

    fn before_after(
        &mut self,
        swing: SwingId,
        request: u64,
        generation: u64,
    ) -> Result<(), StoreError> {
        // Begun at once: a stop that crosses the answer must not wait for the next asking.
        let cancel = self.halts.comparing.begin(request);
        let row = self.library.swing(swing)?;
        match row.found.and_then(|found| found.compared) {
            Some((before, after)) => {
                let _ = self.pictures.send(PictureJob::BeforeAfter {
                    swing,
                    request,
                    before,
                    after,
                    generation,
                    cancel,
                });
            }
            None => self.report.send(PictureEvent::NoBeforeAfter { request, sentence: None }),
        }
        Ok(())
    }

    fn beside_swings(&mut self, session: SessionId) -> Result<(), StoreError> {
        let swings = self.swings(session)?;
        let rows = self.library.recordings(session)?;
        let files = rows.into_iter().map(|row| (row.id, row.path)).collect();
        self.report.send(BesideEvent::Swings { session, swings, files });
        Ok(())
    }

    /// A session's swings as the window takes them.
    fn swings(&self, session: SessionId) -> Result<Vec<Swing>, StoreError> {
        let rows = self.library.swings(Of::Session(session))?;
        let windows = start_windows(&self.library, session, &rows)?;
        let swings = rows.into_iter().zip(windows);
        swings.map(|(row, window)| swing_from(&self.library, row, window)).collect()
    }

    fn add_golfer(&mut self, name: String) -> Result<(), StoreError> {
        let golfer = crate::domain::Golfer { name: name.clone(), ..Default::default() };
        let words = format!("golfer {name}");
        let id = self.library.edit(Scope::Library, &words, |edit| edit.add_golfer(&golfer))?;
        self.load_golfer(id)
    }

    fn add_session(&mut self, golfer: GolferId) -> Result<(), StoreError> {
        let session = new_session(&mut self.library, golfer)?;
        self.load_session(session)
    }

    /// Takes back or does again what is next, of the session looked at or of the library.
    fn step_history(&mut self, number: u64, again: bool) -> Result<(), StoreError> {
        self.edit = number;
        self.evaluations.clear();
        let words = match (self.next(again)?, again) {
            (Some(scope), false) => self.library.undo(scope)?,
            (Some(scope), true) => self.library.redo(scope)?,
            (None, _) => None,
        };
        if let Some(words) = words {
            let done = if again { "Done again" } else { "Taken back" };
            self.report.send(Event::Mention(format!("{done}: {words}.")));
        }
        self.load_what_is_left()
    }

    /// The session looked at, whose golfer's name or day may have changed; or, if it is gone,
    /// the one that comes first.
    fn load_what_is_left(&mut self) -> Result<(), StoreError> {
        match self.session {
            Some(session) if self.library.session(session).is_ok() => self.load_session(session),
            _ => {
                (self.session, self.open) = (None, None);
                let people = self.people(None, None)?;
                self.report.send(SessionEvent::People(people));
                self.report_history()?;
                self.load_last()
            }
        }
    }

    /// Whose step is next to be taken back, or done again.
    fn next(&self, again: bool) -> Result<Option<Scope>, StoreError> {
        match again {
            false => self.library.next_undo(self.session),
            true => self.library.next_redo(self.session),
        }
    }

    /// What undo and redo would do here.
    fn history(&self) -> Result<History, StoreError> {
        let words = |scope: Option<Scope>, words: fn(&Library, Scope) -> _| {
            scope.map_or(Ok(None), |scope| words(&self.library, scope))
        };
        Ok(History {
            undo: words(self.next(false)?, Library::undo_words)?,
            redo: words(self.next(true)?, Library::redo_words)?,
        })
    }

    /// Tells it where no session does.
    fn report_history(&self) -> Result<(), StoreError> {
        let (history, edit) = (self.history()?, self.edit);
        self.report.send(SessionEvent::History { history, edit });
        Ok(())
    }

    /// Changes people and plans, and shows what became of them.
    fn change_plan(&mut self, edit: PlanEdit, number: u64) -> Result<(), StoreError> {
        self.edit = number;
        self.evaluations.clear();
        if let PlanEdit::Erase(golfer, files) = edit {
            return self.erase(golfer, files);
        }
        change_plan(&mut self.library, self.session, edit)?;
        match self.session {
            Some(session) => self.load_session(session),
            None => {
                let people = self.people(self.golfer, None)?;
                self.report.send(SessionEvent::People(people));
                self.report_history()
            }
        }
    }

    /// Removes a golfer for good and turns to another.
    fn erase(&mut self, golfer: GolferId, files: bool) -> Result<(), StoreError> {
        // Nothing of it is kept any more while it goes.
        self.halts.opening.stop_all();
        let done = erase(&mut self.library, golfer, files)?;
        self.golfer = self.golfer.filter(|kept| *kept != golfer);
        self.report.send(Event::Notice(done.words(files)));
        self.session = None;
        self.open = None;
        let people = self.people(None, None)?;
        self.report.send(SessionEvent::People(people));
        self.load_last()
    }

    /// Shows what another program, or the reader, put into the library.
    fn look_for_changes(&mut self) {
        match self.library.changed_since() {
            Ok(true) => {
                self.evaluations.clear();
                let result = match (self.session, self.golfer) {
                    (Some(session), _) => self.load_session(session),
                    // A golfer without a session yet is not left for another.
                    (None, Some(golfer)) => self.load_golfer(golfer),
                    // Not the settings: what the person has just set may not be kept yet.
                    (None, None) => self.load_last(),
                };
                if let Err(error) = result {
                    self.report.send(Event::Notice(sentence(&error)));
                }
            }
            Ok(false) => {}
            // Its words name the library's place.
            Err(_) => tracing::warn!("the library could not be looked at"),
        }
    }
}

fn swing_from(
    library: &Library,
    row: SwingRow,
    window: Option<AimWindow>,
) -> Result<Swing, StoreError> {
    let mut marks = SwingMarks::default();
    if let Some(recording) = row.recording {
        for placed in library.marks(recording, Some(row.id))? {
            marks.put(placed.kind, placed.part, Some(placed.mark));
        }
    }
    marks.strike_time = row.strike_time;
    marks.ground = row.ground;
    Ok(Swing {
        id: row.id,
        recording: row.recording,
        kind: row.kind,
        club: row.club,
        aim: window.map(|w| [w.low_mm, w.high_mm]),
        marks,
        found: row.found.map(Arc::new),
        result: row.result.map(Arc::new),
        confirmed: row.confirmed,
        left_out: row.left_out.is_some(),
        invented: row.invented,
    })
}

/// Where the rendered sample footage lies: in the folder the program was started in, or beside
/// the program, as far up as the folder it was built in, or where packages put it.
fn sample_folder() -> PathBuf {
    let here = std::env::current_dir().ok();
    let program = std::env::current_exe().ok();
    let above = program.iter().flat_map(|path| path.ancestors().skip(1).take(3));
    let places = here.iter().map(PathBuf::as_path).chain(above);
    let folders = places.flat_map(|place| {
        ["sample-frames", "share/scuffline/sample-frames"].map(|name| place.join(name))
    });
    folders.into_iter().find(|folder| folder.is_dir()).unwrap_or_default()
}

/// Adds a session of today for a golfer.
pub fn new_session(library: &mut Library, golfer: GolferId) -> Result<SessionId, StoreError> {
    let session = Session::on(jiff::ZonedDateTime::now().date());
    library.edit(Scope::Library, "new session", |edit| edit.add_session(golfer, &session))
}

/// A session's title: its day, its place or cue, how many swings.
fn title(session: &Session, swings: usize) -> String {
    let mut title = session.date.strftime("%-d %B %Y").to_string();
    for more in [&session.place, &session.cue] {
        if !more.is_empty() {
            title.push_str(", ");
            title.push_str(more);
        }
    }
    match swings {
        0 => title,
        n => format!("{title}, {}", swings_words(n)),
    }
}
