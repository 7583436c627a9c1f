//! The thread that owns the decoder of the recording in the picture.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender};

use super::jobs::{FilmJob, KeeperJob, PictureJob};
use super::keeper::Busy;
use super::report::{Report, guarded, next_job, sentence};
use crate::app::message::{Event, PictureEvent};
use crate::app::model::BeforeAfter;
use crate::app::options::Options;
use crate::domain::{FrameIndex, PictureError, Pictures as _, Seconds};
use crate::store::{Library, RecordingRow, SwingId, identify_file};
use crate::video::{CancelToken, Recording, Sketcher, VideoError};
use crate::vision::{self, Steadying};
use crate::workflow::reopen;

/// So many pictures are decoded for one frame without showing something else meanwhile.
const QUICK: usize = 8;
/// Steps up to this long show nothing else meanwhile: a flash of another frame would be worse
/// than the wait.
const STEP: usize = 64;

/// What is done when nobody is waiting for a frame.
enum Idle {
    /// Looks for frames near the strikes that were kept before.
    Kept,
    Steady,
    /// Reads the frames around the one shown, so that a step back does not wait.
    Neighbours,
    Nothing,
}

struct Opened {
    recording: Recording,
    sketcher: Option<Sketcher>,
    row: RecordingRow,
    strikes: Vec<Seconds>,
    generation: u64,
    /// Stops everything about it.
    cancel: CancelToken,
    idle: Idle,
    /// Follows the ground through the recording; made when there is time for it.
    steadying: Option<Steadying>,
    /// The frame asked for last.
    shown: FrameIndex,
}

/// The thread's ends of the others' channels.
pub struct Pictures {
    /// Where the library lies.
    pub options: Options,
    /// Makes small pictures.
    pub film: Sender<FilmJob>,
    /// Reads sound, keeps frames.
    pub keeper: Sender<KeeperJob>,
    /// Set while someone waits for this thread.
    pub busy: Busy,
}

/// Answers until the window is gone. Of several frames asked for, only the newest is read.
pub fn run(ends: &Pictures, jobs: &Receiver<PictureJob>, report: &Report) {
    let mut opened: Option<Opened> = None;
    let mut library = None;
    loop {
        let idle = opened.as_ref().is_none_or(|o| matches!(o.idle, Idle::Nothing));
        ends.busy.set(!idle);
        let Ok(job) = next_job(jobs, idle) else { return };
        ends.busy.set(true);
        match job {
            Some(first) => {
                for job in newest(first, jobs) {
                    let waiting = Waiting::on(&job);
                    let done = guarded(|| answer(job, &mut opened, ends, &mut library, report));
                    if let Err(sentence) = done {
                        waiting.tell(sentence, report);
                        open_again(&mut opened, Idle::Kept, &mut library, report);
                    }
                }
            }
            None => {
                let Some(at_hand) = &mut opened else { continue };
                let done = guarded(|| step_idle(at_hand, library.as_ref(), report));
                if let Err(sentence) = done {
                    Waiting::Nobody.tell(sentence, report);
                    // What broke down once in the background is not tried again.
                    open_again(&mut opened, Idle::Nothing, &mut library, report);
                }
            }
        }
    }
}

/// What in the window waits for a job's answer, and must hear that there will be none.
#[derive(Clone, Copy)]
enum Waiting {
    Opening(u64),
    Frame(u64, FrameIndex),
    BeforeAfter(u64),
    Nobody,
}

impl Waiting {
    fn on(job: &PictureJob) -> Self {
        match job {
            PictureJob::Open { generation, .. } | PictureJob::Stale { generation } => {
                Self::Opening(*generation)
            }
            PictureJob::Frame { generation, frame, .. } => Self::Frame(*generation, *frame),
            PictureJob::BeforeAfter { request, .. } => Self::BeforeAfter(*request),
            PictureJob::Kept { .. } => Self::Nobody,
        }
    }

    fn tell(self, sentence: String, report: &Report) {
        match self {
            Self::Opening(generation) => {
                report.send(PictureEvent::NotOpened { generation, sentence })
            }
            Self::Frame(generation, frame) => {
                report.send(PictureEvent::NoFrame { generation, frame, sentence });
            }
            Self::BeforeAfter(request) => {
                report.send(PictureEvent::NoBeforeAfter { request, sentence: Some(sentence) });
            }
            Self::Nobody => report.send(Event::Notice(sentence)),
        }
    }
}

/// After something broke down: the recording is opened once more, since what was being done with
/// it may be half done. The person sees what was seen before.
fn open_again(
    opened: &mut Option<Opened>,
    idle: Idle,
    library: &mut Option<Library>,
    report: &Report,
) {
    *library = None;
    let Some(old) = opened.take() else { return };
    let Opened { row, strikes, generation, cancel, shown, recording, .. } = old;
    let (index, slow_factor) = (recording.shared_index(), recording.timeline().slow_factor);
    // Before the next one takes its memory.
    drop(recording);
    match guarded(|| Recording::open_sharing(&row.path, Some(index), cancel.clone())) {
        Ok(Ok(mut recording)) => {
            recording.take_as_slowed(slow_factor);
            let of = Of { row, strikes, generation, cancel };
            *opened = Some(Opened { idle, shown, ..Opened::begin(of, recording) });
        }
        Ok(Err(VideoError::Cancelled)) => {}
        Ok(Err(error)) => Waiting::Opening(generation).tell(sentence(&error), report),
        Err(sentence) => Waiting::Opening(generation).tell(sentence, report),
    }
}

fn answer(
    job: PictureJob,
    opened: &mut Option<Opened>,
    ends: &Pictures,
    library: &mut Option<Library>,
    report: &Report,
) {
    let current = |o: &&mut Opened, generation: u64| o.generation == generation;
    match job {
        PictureJob::Open { row, strikes, generation, cancel } => {
            // Before the next one takes its memory.
            drop(opened.take());
            let of = Of { row, strikes, generation, cancel };
            *opened = open(of, ends, library, report);
        }
        PictureJob::Frame { frame, generation, cancel } => {
            if let Some(opened) = opened.as_mut().filter(|o| current(o, generation)) {
                read_frame(opened, frame, &cancel, report);
            }
        }
        PictureJob::BeforeAfter { swing, request, before, after, generation, cancel } => {
            if let Some(opened) = opened.as_mut().filter(|o| current(o, generation)) {
                // Frames asked for meanwhile wait; another recording does not.
                opened.recording.set_cancel(cancel);
                compare(opened, (swing, request), [before, after], report);
            }
        }
        PictureJob::Kept { generation, place } => {
            if let Some(opened) = opened.as_mut().filter(|o| current(o, generation)) {
                opened.recording.use_kept(&place);
            }
        }
        PictureJob::Stale { generation } => {
            if let Some(old) = opened.take_if(|o| o.generation == generation) {
                let Opened { row, strikes, cancel, .. } = old;
                *opened = open(Of { row, strikes, generation, cancel }, ends, library, report);
            }
        }
    }
}

/// The jobs that still matter: of several frames in a row the newest, and what was asked after
/// it. That is done first: a frame asked of a recording that is opened anew is read from the
/// new one, and one of a recording that was left is not read at all.
fn newest(first: PictureJob, jobs: &Receiver<PictureJob>) -> Vec<PictureJob> {
    let mut newest = first;
    while matches!(newest, PictureJob::Frame { .. }) {
        match jobs.try_recv() {
            Ok(frame @ PictureJob::Frame { .. }) => newest = frame,
            Ok(other) => return vec![other, newest],
            Err(_) => break,
        }
    }
    vec![newest]
}

/// What is opened.
struct Of {
    row: RecordingRow,
    strikes: Vec<Seconds>,
    generation: u64,
    cancel: CancelToken,
}

impl Opened {
    fn begin(of: Of, recording: Recording) -> Self {
        let Of { row, strikes, generation, cancel } = of;
        Self {
            recording,
            sketcher: None,
            row,
            strikes,
            generation,
            cancel,
            idle: Idle::Kept,
            steadying: None,
            shown: FrameIndex(0),
        }
    }
}

fn open(of: Of, ends: &Pictures, library: &mut Option<Library>, report: &Report) -> Option<Opened> {
    let (generation, path, cancel) = (of.generation, of.row.path.clone(), of.cancel.clone());
    if library.is_none() {
        // Without a library nothing is kept; that it cannot be opened is told by its own thread.
        *library = ends.options.place().and_then(|place| Library::open(place).ok());
    }
    let result = match library {
        Some(library) => reopen(library, &of.row, cancel.clone()),
        None => Recording::open_with(&path, None, cancel.clone()),
    };
    match result {
        Ok(recording) => {
            let source = recording.sketcher_source();
            let _ = ends.film.send(FilmJob::Open { source, generation });
            let _ = ends.keeper.send(KeeperJob {
                recording: of.row.id,
                path: path.clone(),
                index: recording.shared_index(),
                strikes: of.strikes.clone(),
                generation,
                cancel,
            });
            let timeline = Arc::new(recording.timeline().clone());
            let (size, warnings) = (recording.size(), recording.warnings());
            report.send(PictureEvent::Opened {
                generation,
                recording: of.row.id,
                path,
                timeline,
                size,
                warnings,
            });
            Some(Opened::begin(of, recording))
        }
        Err(VideoError::Cancelled) => None,
        Err(error) => {
            report.send(PictureEvent::NotOpened { generation, sentence: sentence(&error) });
            None
        }
    }
}

fn read_frame(opened: &mut Opened, frame: FrameIndex, cancel: &CancelToken, report: &Report) {
    let generation = opened.generation;
    let step = frame.0.abs_diff(opened.shown.0);
    opened.shown = frame;
    opened.recording.set_cancel(cancel.clone());
    if opened.recording.distance(frame) > QUICK {
        show_meanwhile(opened, frame, step, cancel, report);
    }
    match opened.recording.colour(frame) {
        Ok(picture) => {
            report.send(PictureEvent::Frame { generation, frame, picture });
            // Whoever asks for the next frame already does not wait for this.
            if !cancel.is_cancelled() {
                tell_motion(opened, report);
            }
        }
        Err(PictureError::Cancelled) => {}
        Err(error) => {
            report.send(PictureEvent::NoFrame { generation, frame, sentence: sentence(&error) });
        }
    }
    if matches!(opened.idle, Idle::Nothing) {
        opened.idle = Idle::Neighbours;
    }
}

/// Shows what is at hand while a frame is decoded that takes long: the frame itself if it is kept
/// near a strike, else, after a jump, the key frame before it.
fn show_meanwhile(
    opened: &mut Opened,
    frame: FrameIndex,
    step: usize,
    cancel: &CancelToken,
    report: &Report,
) {
    let generation = opened.generation;
    if let Some(picture) = opened.recording.kept(frame) {
        report.send(PictureEvent::Frame { generation, frame, picture });
        return;
    }
    if step <= STEP {
        return;
    }
    if opened.sketcher.is_none() {
        opened.sketcher = opened.recording.sketcher().ok();
    }
    let Some(sketcher) = &mut opened.sketcher else { return };
    sketcher.set_cancel(cancel.clone());
    // Without it the exact frame is waited for.
    if let Ok((frame, picture)) = sketcher.near(frame, usize::MAX) {
        report.send(PictureEvent::Frame { generation, frame, picture: Arc::new(picture) });
    }
}

/// Tells how the frame shown has moved, once the ground is followed.
fn tell_motion(opened: &mut Opened, report: &Report) {
    let (generation, frame) = (opened.generation, opened.shown);
    let Some(steadying) = &mut opened.steadying else { return };
    // A frame whose motion can't be had is taken as it is; marks then name their frame.
    if let Ok(motion) = steadying.motion(&mut opened.recording, frame) {
        report.send(PictureEvent::Moved { generation, frame, motion });
    }
}

fn compare(
    opened: &mut Opened,
    (swing, request): (SwingId, u64),
    frames: [FrameIndex; 2],
    report: &Report,
) {
    let generation = opened.generation;
    let frames = frames.map(|frame| vec![frame]);
    match laid_on_each_other(opened, &frames) {
        Ok(Some(pair)) => {
            let [before, after, difference] =
                [pair.before, pair.after, pair.difference].map(Arc::new);
            let pictures = BeforeAfter { swing, before, after, difference };
            report.send(PictureEvent::BeforeAfter { generation, request, pictures });
        }
        Ok(None) => report.send(PictureEvent::NoBeforeAfter { request, sentence: None }),
        Err(PictureError::Cancelled) => {}
        Err(error) => {
            let sentence = Some(sentence(&error));
            report.send(PictureEvent::NoBeforeAfter { request, sentence });
        }
    }
}

/// The whole picture before and after, in the steadied picture.
fn laid_on_each_other(
    opened: &mut Opened,
    frames: &[Vec<FrameIndex>; 2],
) -> Result<Option<vision::BeforeAfter>, PictureError> {
    let recording = &mut opened.recording;
    let steadying = match &mut opened.steadying {
        Some(steadying) => steadying,
        None => opened.steadying.insert(Steadying::new(recording)?),
    };
    let size = recording.size();
    let area = [0.0, 0.0, size.width as f64, size.height as f64];
    vision::before_after(recording, steadying, frames, area)
}

fn step_idle(opened: &mut Opened, library: Option<&Library>, report: &Report) {
    opened.idle = match std::mem::replace(&mut opened.idle, Idle::Nothing) {
        Idle::Kept => {
            let content = identify_file(opened.recording.path()).ok();
            if let Some((library, content)) = library.zip(content) {
                opened.recording.use_kept(&library.kept_frames_place(&content));
            }
            Idle::Steady
        }
        Idle::Steady => match Steadying::new(&mut opened.recording) {
            // A frame is asked for.
            Err(PictureError::Cancelled) => again(opened, Idle::Steady),
            steadying => {
                opened.steadying = steadying.ok();
                tell_motion(opened, report);
                Idle::Neighbours
            }
        },
        Idle::Neighbours => match opened.recording.prepare(opened.shown) {
            Ok(true) => Idle::Neighbours,
            Err(VideoError::Cancelled) => again(opened, Idle::Neighbours),
            // A frame that can't be read is told when it is looked at.
            Ok(false) | Err(_) => Idle::Nothing,
        },
        Idle::Nothing => Idle::Nothing,
    };
}

/// Goes on with what was interrupted, with a flag that is not set; a recording that is closed
/// is left.
fn again(opened: &mut Opened, idle: Idle) -> Idle {
    if opened.cancel.is_cancelled() {
        return Idle::Nothing;
    }
    opened.recording.set_cancel(CancelToken::new());
    idle
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::PathBuf;
    use std::sync::mpsc::channel;

    fn frame(number: usize) -> PictureJob {
        let cancel = CancelToken::new();
        PictureJob::Frame { frame: FrameIndex(number), generation: 1, cancel }
    }

    #[test]
    fn a_frame_is_not_lost_behind_what_another_thread_sends() {
        let (sender, jobs) = channel();
        sender.send(frame(7)).unwrap();
        sender.send(PictureJob::Kept { generation: 1, place: PathBuf::new() }).unwrap();
        sender.send(frame(8)).unwrap();
        let wanted = newest(frame(6), &jobs);
        assert!(matches!(
            &wanted[..],
            [PictureJob::Kept { .. }, PictureJob::Frame { frame: FrameIndex(7), .. }]
        ));
        assert!(matches!(&newest(jobs.recv().unwrap(), &jobs)[..], [PictureJob::Frame { .. }]));
    }
}
