//! The thread that makes the small pictures of the strip.

use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::mpsc::Receiver;

use super::jobs::FilmJob;
use super::report::{Report, guarded, next_job};
use crate::app::message::{Event, PictureEvent};
use crate::domain::FrameIndex;
use crate::video::{CancelToken, Sketcher, SketcherSource};

/// Rows of a small picture.
const HEIGHT: usize = 72;

struct Open {
    sketcher: Sketcher,
    source: SketcherSource,
    cancel: CancelToken,
    generation: u64,
    wanted: VecDeque<FrameIndex>,
    within: usize,
}

/// Makes small pictures until the window is gone.
pub fn run(jobs: &Receiver<FilmJob>, report: &Report) {
    let mut open: Option<Open> = None;
    loop {
        let Ok(job) = next_job(jobs, open.as_ref().is_none_or(|open| open.wanted.is_empty()))
        else {
            return;
        };
        if let Err(sentence) = guarded(|| answer(job, &mut open, report)) {
            report.send(Event::Notice(sentence));
            open = open.and_then(open_again);
        }
    }
}

fn answer(job: Option<FilmJob>, open: &mut Option<Open>, report: &Report) {
    match (job, open) {
        (Some(FilmJob::Open { source, generation }), open) => {
            // A recording without a strip can still be looked at.
            let (wanted, cancel) = (VecDeque::new(), CancelToken::new());
            *open = source.open().ok().map(|sketcher| Open {
                sketcher,
                source,
                cancel,
                generation,
                wanted,
                within: 0,
            });
        }
        (Some(FilmJob::Pictures { frames, within, generation, cancel }), Some(open))
            if open.generation == generation =>
        {
            open.sketcher.set_cancel(cancel.clone());
            (open.wanted, open.within, open.cancel) = (frames.into(), within, cancel);
        }
        (None, Some(open)) => make_next(open, report),
        _ => {}
    }
}

/// The reader broke down at a picture, which leaves a gap; the others are made by a new one.
fn open_again(old: Open) -> Option<Open> {
    let mut sketcher = guarded(|| old.source.open()).ok()?.ok()?;
    sketcher.set_cancel(old.cancel.clone());
    Some(Open { sketcher, ..old })
}

fn make_next(open: &mut Open, report: &Report) {
    let Some(frame) = open.wanted.pop_front() else { return };
    // A picture that can't be read leaves a gap in the strip; it is told when looked at.
    if let Ok(picture) = open.sketcher.small(frame, open.within, HEIGHT) {
        let (generation, picture) = (open.generation, Arc::new(picture));
        report.send(PictureEvent::Film { generation, frame, picture });
    }
}
