//! The thread that does for an open recording what nobody waits for: reads its sound, checks
//! that the kept index is its own, keeps the frames near its strikes.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender};
use std::time::Duration;

use super::jobs::{KeeperJob, PictureJob};
use super::report::{Report, guarded};
use super::writing::Writing;
use crate::app::message::{Event, PictureEvent};
use crate::app::options::Options;
use crate::store::{Library, identify_file};
use crate::video::{Envelope, Recording, VideoError};
use crate::workflow::{KeptError, check_kept_index, view_differs};

/// How often to look whether the machine is free again.
const PAUSE: Duration = Duration::from_millis(5);

/// Whether someone waits for a picture.
#[derive(Clone, Default)]
pub struct Busy(Arc<AtomicBool>);

impl Busy {
    /// Says so.
    pub fn set(&self, busy: bool) {
        self.0.store(busy, Ordering::Relaxed);
    }

    fn is_set(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

/// Works until the window is gone; only for the recording opened last.
pub fn run(
    options: &Options,
    jobs: &Receiver<KeeperJob>,
    pictures: &Sender<PictureJob>,
    busy: &Busy,
    writing: &Writing,
    report: &Report,
) {
    while let Ok(first) = jobs.recv() {
        let job = jobs.try_iter().last().unwrap_or(first);
        let Some(_writing) = writing.begin() else { return };
        match guarded(|| work(options, &job, pictures, busy, report)) {
            Err(sentence) => report.send(Event::Notice(sentence)),
            Ok(Err(error)) if !error.is_stopped() => {
                // Its words name files.
                tracing::warn!("what is done in the background for a recording failed");
            }
            _ => {}
        }
    }
}

fn work(
    options: &Options,
    job: &KeeperJob,
    pictures: &Sender<PictureJob>,
    busy: &Busy,
    report: &Report,
) -> Result<(), KeptError> {
    let generation = job.generation;
    let (index, cancel) = (job.index.clone(), job.cancel.clone());
    let mut recording = Recording::open_aside(&job.path, index, cancel)?;
    let mut envelope = Envelope::default();
    let heard = recording.for_each_sound(&mut |block| {
        envelope.add(block);
        true
    });
    match heard {
        Ok(true) => {
            envelope.close();
            report.send(PictureEvent::Sound { generation, envelope: Arc::new(envelope) });
        }
        Err(VideoError::Cancelled) => return Err(VideoError::Cancelled.into()),
        // A sound that cannot be read leaves the strip without one.
        _ => {}
    }
    let Some(place) = options.place() else { return Ok(()) };
    let mut library = Library::open(place)?;
    if !check_kept_index(&mut library, &job.path, Some(job.recording), &job.cancel)? {
        let _ = pictures.send(PictureJob::Stale { generation });
        return Ok(());
    }
    let differs = view_differs(&mut library, job.recording, &mut recording, &job.cancel)?;
    if let Some(doubt) = differs {
        report.send(PictureEvent::ViewDiffers { generation, doubt });
    }
    let place = library.kept_frames_place(&identify_file(&job.path)?);
    drop(library);
    let mut go_on = || {
        while busy.is_set() && !job.cancel.is_cancelled() {
            std::thread::sleep(PAUSE);
        }
        !job.cancel.is_cancelled()
    };
    recording.keep_near(&job.strikes, &place, &mut go_on)?;
    let _ = pictures.send(PictureJob::Kept { generation, place });
    Ok(())
}
