//! The thread that makes the small pictures of the strip.

use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::mpsc::Receiver;

use super::jobs::FilmJob;
use super::report::{Report, next_job};
use crate::app::message::Event;
use crate::domain::FrameIndex;
use crate::video::Sketcher;

/// Rows of a small picture.
const HEIGHT: usize = 72;

struct Open {
    sketcher: Sketcher,
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
        match (job, &mut open) {
            (Some(FilmJob::Open { source, generation }), open) => {
                // A recording without a strip can still be looked at.
                let sketcher = source.open().ok();
                let wanted = VecDeque::new();
                *open = sketcher.map(|sketcher| Open { sketcher, generation, wanted, within: 0 });
            }
            (Some(FilmJob::Pictures { frames, within, generation, cancel }), Some(open))
                if open.generation == generation =>
            {
                open.sketcher.set_cancel(cancel);
                open.wanted = frames.into();
                open.within = within;
            }
            (None, Some(open)) => make_next(open, report),
            _ => {}
        }
    }
}

fn make_next(open: &mut Open, report: &Report) {
    let Some(frame) = open.wanted.pop_front() else { return };
    // A picture that can't be read leaves a gap in the strip; it is told when looked at.
    if let Ok(picture) = open.sketcher.small(frame, open.within, HEIGHT) {
        let (generation, picture) = (open.generation, Arc::new(picture));
        report.send(Event::Film { generation, frame, picture });
    }
}
