//! The thread that reads pictures beside the one in the picture: the other of two swings, and
//! small looks at a swing's ground.

use std::path::Path;
use std::sync::Arc;
use std::sync::mpsc::Receiver;

use super::halt::Halt;
use super::report::{Report, guarded, sentence};
use crate::app::message::{BesideEvent, Event, PictureEvent, SecondJob};
use crate::app::options::Options;
use crate::domain::{ColourFrame, FrameIndex, ImagePoint, PictureError, Pictures};
use crate::store::{Library, RecordingId};
use crate::video::{CancelToken, Recording};
use crate::workflow::{KeptError, reopen};

/// Width of a small look at the ground, in pixels, and its height.
const GLANCE: [usize; 2] = [320, 128];

/// What the thread holds.
#[derive(Default)]
struct Held {
    library: Option<Library>,
    other: Option<(u64, Recording)>,
    glanced: Option<(RecordingId, Recording)>,
}

/// Answers until the window is gone.
pub fn run(options: &Options, jobs: &Receiver<SecondJob>, halt: &Halt, report: &Report) {
    let mut held = Held::default();
    while let Ok(first) = jobs.recv() {
        for job in newest(first, jobs) {
            let asked = match &job {
                SecondJob::Open { generation, .. } | SecondJob::Frame { generation, .. } => {
                    Some(*generation)
                }
                SecondJob::Glance { .. } => None,
            };
            if let Err(sentence) = guarded(|| answer(options, &mut held, job, halt, report)) {
                // What was being worked on may be half done.
                held = Held::default();
                report.send(match asked {
                    Some(generation) => BesideEvent::Trouble { generation, sentence }.into(),
                    None => Event::Notice(sentence),
                });
            }
        }
    }
}

/// What waits, without what is asked for anew behind it: only the newest recording is opened,
/// only the newest frame read. Small looks are all wanted.
fn newest(first: SecondJob, jobs: &Receiver<SecondJob>) -> Vec<SecondJob> {
    let mut waiting = vec![first];
    waiting.extend(jobs.try_iter());
    let is_open = |job: &SecondJob| matches!(job, SecondJob::Open { .. });
    let is_frame = |job: &SecondJob| matches!(job, SecondJob::Frame { .. });
    let (open, frame) = (waiting.iter().rposition(is_open), waiting.iter().rposition(is_frame));
    let is_old = |i: usize, job: &SecondJob| {
        (is_open(job) && Some(i) != open) || (is_frame(job) && Some(i) != frame)
    };
    let all = waiting.into_iter().enumerate();
    all.filter(|(i, job)| !is_old(*i, job)).map(|(_, job)| job).collect()
}

fn answer(options: &Options, held: &mut Held, job: SecondJob, halt: &Halt, report: &Report) {
    match job {
        SecondJob::Open { recording, path, generation } => {
            held.other = None; // Before the next one takes its memory.
            let cancel = halt.begin(generation);
            match open_at_once(options, &mut held.library, (recording, &path), cancel) {
                Ok(mut file) => {
                    file.hold_half();
                    let (timeline, size) = (Arc::new(file.timeline().clone()), file.size());
                    report.send(BesideEvent::Opened { generation, timeline, size });
                    held.other = Some((generation, file));
                }
                // Who stopped it knows.
                Err(error) if error.is_stopped() => {}
                Err(error) => {
                    report.send(BesideEvent::Trouble { generation, sentence: sentence(&error) });
                }
            }
        }
        SecondJob::Frame { frame, generation } => match &mut held.other {
            Some((open, file)) if *open == generation => read(file, frame, generation, report),
            _ => {}
        },
        SecondJob::Glance { swing, recording, path, frame, about } => {
            if let Some(picture) = glance(options, held, (recording, &path), frame, about) {
                report.send(PictureEvent::Glanced { swing, picture: Arc::new(picture) });
            }
        }
    }
}

/// With the frame index that the library keeps. Without a library it is built; that the library
/// cannot be opened is told by its own thread.
fn open_at_once(
    options: &Options,
    library: &mut Option<Library>,
    (recording, path): (RecordingId, &Path),
    cancel: CancelToken,
) -> Result<Recording, KeptError> {
    if library.is_none() {
        *library = options.place().and_then(|place| Library::open(place).ok());
    }
    Ok(match library {
        Some(library) => {
            let row = library.recording(recording)?;
            reopen(library, &row, cancel)?
        }
        None => Recording::open_with(path, None, cancel)?,
    })
}

fn read(file: &mut Recording, frame: FrameIndex, generation: u64, report: &Report) {
    match file.colour(frame) {
        Ok(picture) => report.send(BesideEvent::Frame { generation, frame, picture }),
        Err(PictureError::Cancelled) => {}
        Err(error) => {
            report.send(BesideEvent::Trouble { generation, sentence: sentence(&error) });
        }
    }
}

/// A look at the ground, small. `None` where the file can't be read: it is told when the swing
/// is opened.
fn glance(
    options: &Options,
    held: &mut Held,
    (recording, path): (RecordingId, &Path),
    frame: FrameIndex,
    (middle, width): (ImagePoint, f64),
) -> Option<ColourFrame> {
    if held.glanced.as_ref().is_none_or(|(open, _)| *open != recording) {
        held.glanced = None; // Before the next one takes its memory.
        let of = (recording, path);
        let mut file = open_at_once(options, &mut held.library, of, CancelToken::new()).ok()?;
        file.hold_little();
        held.glanced = Some((recording, file));
    }
    let (_, file) = held.glanced.as_mut()?;
    let picture = file.colour(frame).ok()?;
    Some(cut(&picture, middle, width))
}

/// The part of `picture` that is `width` pixels wide about `middle`, brought to the size of a
/// glance; each pixel is the mean of what it covers. Beyond the edge the edge is repeated.
fn cut(picture: &ColourFrame, middle: ImagePoint, width: f64) -> ColourFrame {
    let [columns, rows] = GLANCE;
    let step = width / columns as f64;
    let samples = (step.ceil() as usize).clamp(1, 4);
    let mut data = Vec::with_capacity(4 * columns * rows);
    let at = |i: usize, n: usize, s: usize| {
        (i as f64 + (s as f64 + 0.5) / samples as f64 - n as f64 / 2.0) * step
    };
    let within = |v: f64, n: usize| v.round().clamp(0.0, n as f64 - 1.0) as usize;
    for row in 0..rows {
        for column in 0..columns {
            let mut sum = [0u32; 3];
            for (sy, sx) in (0..samples).flat_map(|y| (0..samples).map(move |x| (y, x))) {
                let x = within(middle.x + at(column, columns, sx), picture.width);
                let y = within(middle.y + at(row, rows, sy), picture.height);
                let rgb = picture.rgb(x, y);
                (0..3).for_each(|c| sum[c] += u32::from(rgb[c]));
            }
            let n = (samples * samples) as u32;
            data.extend(sum.map(|s| ((s + n / 2) / n) as u8));
            data.push(255);
        }
    }
    ColourFrame { width: columns, height: rows, data }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_several_recordings_only_the_newest_is_opened() {
        let (ask, jobs) = std::sync::mpsc::channel();
        let (recording, path) = (RecordingId(1), std::path::PathBuf::from("a.mp4"));
        let open = |generation| SecondJob::Open { recording, path: path.clone(), generation };
        let frame = |generation| SecondJob::Frame { frame: FrameIndex(5), generation };
        let glance = SecondJob::Glance {
            swing: crate::store::SwingId(1),
            recording,
            path: path.clone(),
            frame: FrameIndex(1),
            about: (ImagePoint::new(1.0, 1.0), 10.0),
        };
        for job in [frame(1), open(2), glance.clone(), frame(2), open(3), frame(3)] {
            ask.send(job).expect("it listens");
        }
        assert_eq!(newest(open(1), &jobs), [glance, open(3), frame(3)]);
        assert_eq!(newest(open(4), &jobs), [open(4)]);
    }

    #[test]
    fn a_look_shows_what_lies_about_its_middle() {
        // Left half dark, right half light.
        let (width, height) = (200, 100);
        let mut data = Vec::new();
        for i in 0..width * height {
            let v = if i % width < 100 { 10 } else { 200 };
            data.extend([v, v, v, 255]);
        }
        let picture = ColourFrame { width, height, data };
        let look = cut(&picture, ImagePoint::new(99.5, 50.0), 80.0);
        assert_eq!([look.width, look.height], GLANCE);
        assert_eq!(look.rgb(0, 64), [10, 10, 10]);
        assert_eq!(look.rgb(158, 64), [10, 10, 10]);
        assert_eq!(look.rgb(161, 64), [200, 200, 200]);
        // A look wider than the picture ends in its edges.
        let look = cut(&picture, ImagePoint::new(0.0, 0.0), 1000.0);
        assert_eq!(look.rgb(0, 0), [10, 10, 10]);
        assert_eq!(look.rgb(319, 127), [200, 200, 200]);
    }
}
