//! The thread that owns the decoder of the recording in the picture.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError};

use super::{Report, sentence};
use crate::app::message::Event;
use crate::app::model::BeforeAfter;
use crate::domain::{ColourFrame, FrameIndex, PictureError, Pictures, Sound, Timeline};
use crate::store::{RecordingId, SwingId};
use crate::video::{CancelToken, Recording};
use crate::vision::{self, Steadying};

/// Small pictures along the strip.
const FILM: usize = 24;
/// Their height in pixels.
const FILM_HEIGHT: usize = 64;
/// Steps of the loudness curve.
const LOUDNESS: usize = 600;

/// What the picture thread is asked.
#[derive(Clone, Debug)]
pub enum PictureJob {
    /// Open a recording for looking at.
    Open {
        /// Which.
        recording: RecordingId,
        /// Its file.
        path: PathBuf,
        /// To tell late answers.
        generation: u64,
        /// Stops it when another is asked for.
        cancel: CancelToken,
    },
    /// Bring the ground before and after a swing together.
    BeforeAfter {
        /// Whose.
        swing: SwingId,
        /// A clear frame before it.
        before: FrameIndex,
        /// A clear frame after it.
        after: FrameIndex,
        /// To tell late answers.
        generation: u64,
    },
    /// Read one frame.
    Frame {
        /// Which.
        frame: FrameIndex,
        /// To tell late answers.
        generation: u64,
    },
}

/// What is done when nobody is waiting for a frame.
enum Idle {
    Steady,
    Film {
        next: usize,
        pictures: Vec<Arc<ColourFrame>>,
    },
    Sound,
    /// Reads the frames around the one shown, so that a step back does not wait.
    Neighbours,
    Nothing,
}

struct Opened {
    recording: Recording,
    generation: u64,
    idle: Idle,
    /// Follows the ground through the recording; made when there is time for it.
    steadying: Option<Steadying>,
    /// The frame shown last.
    shown: FrameIndex,
}

/// Answers until the window is gone. Of several frames asked for, only the newest is read.
pub fn run(jobs: &Receiver<PictureJob>, report: &Report) {
    let mut opened: Option<Opened> = None;
    loop {
        let busy = opened.as_ref().is_some_and(|o| !matches!(o.idle, Idle::Nothing));
        let job = if busy {
            match jobs.try_recv() {
                Ok(job) => Some(job),
                Err(TryRecvError::Empty) => None,
                Err(TryRecvError::Disconnected) => return,
            }
        } else {
            match jobs.recv() {
                Ok(job) => Some(job),
                Err(_) => return,
            }
        };
        match job.map(|job| newest(job, jobs)) {
            Some(PictureJob::Open { recording, path, generation, cancel }) => {
                opened = open(recording, path, generation, cancel, report);
            }
            Some(PictureJob::Frame { frame, generation }) => {
                if let Some(opened) = opened.as_mut().filter(|o| o.generation == generation) {
                    read_frame(opened, frame, report);
                }
            }
            Some(PictureJob::BeforeAfter { swing, before, after, generation }) => {
                if let Some(opened) = opened.as_mut().filter(|o| o.generation == generation) {
                    compare(opened, swing, before, after, report);
                }
            }
            None => {
                if let Some(opened) = &mut opened {
                    step_idle(opened, report);
                }
            }
        }
    }
}

/// The job that still matters: the newest frame, unless something else comes after it.
fn newest(first: PictureJob, jobs: &Receiver<PictureJob>) -> PictureJob {
    let mut kept = first;
    while matches!(kept, PictureJob::Frame { .. }) {
        match jobs.try_recv() {
            Ok(job) => kept = job,
            Err(_) => break,
        }
    }
    kept
}

fn open(
    id: RecordingId,
    path: PathBuf,
    generation: u64,
    cancel: CancelToken,
    report: &Report,
) -> Option<Opened> {
    match Recording::open_with(&path, None, cancel) {
        Ok(recording) => {
            let timeline = Arc::new(recording.timeline().clone());
            let size = recording.size();
            report.send(Event::Opened { generation, recording: id, path, timeline, size });
            let (idle, shown) = (Idle::Steady, FrameIndex(0));
            Some(Opened { recording, generation, idle, steadying: None, shown })
        }
        Err(crate::video::VideoError::Cancelled) => None,
        Err(error) => {
            report.send(Event::NotOpened { generation, sentence: sentence(&error) });
            None
        }
    }
}

fn read_frame(opened: &mut Opened, frame: FrameIndex, report: &Report) {
    let generation = opened.generation;
    match opened.recording.colour(frame) {
        Ok(picture) => {
            report.send(Event::Frame { generation, frame, picture });
            opened.shown = frame;
            tell_motion(opened, report);
            if matches!(opened.idle, Idle::Nothing) {
                opened.idle = Idle::Neighbours;
            }
        }
        Err(PictureError::Cancelled) => {}
        Err(error) => report.send(Event::Notice(sentence(&error))),
    }
}

/// Tells how the frame shown has moved, once the ground is followed.
fn tell_motion(opened: &mut Opened, report: &Report) {
    let (generation, frame) = (opened.generation, opened.shown);
    let Some(steadying) = &mut opened.steadying else { return };
    // A frame whose motion can't be had is taken as it is; marks then name their frame.
    if let Ok(motion) = steadying.motion(&mut opened.recording, frame) {
        report.send(Event::Moved { generation, frame, motion });
    }
}

fn compare(
    opened: &mut Opened,
    swing: SwingId,
    before: FrameIndex,
    after: FrameIndex,
    report: &Report,
) {
    let generation = opened.generation;
    let frames = [vec![before], vec![after]];
    match laid_on_each_other(opened, &frames) {
        Ok(Some(pair)) => {
            let [before, after, difference] =
                [pair.before, pair.after, pair.difference].map(Arc::new);
            let pictures = BeforeAfter { swing, before, after, difference };
            report.send(Event::BeforeAfter { generation, pictures });
        }
        Ok(None) => report.send(Event::NoBeforeAfter(swing)),
        Err(PictureError::Cancelled) => {}
        Err(error) => report.send(Event::Notice(sentence(&error))),
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

fn step_idle(opened: &mut Opened, report: &Report) {
    let generation = opened.generation;
    opened.idle = match std::mem::replace(&mut opened.idle, Idle::Nothing) {
        Idle::Steady => {
            opened.steadying = Steadying::new(&mut opened.recording).ok();
            tell_motion(opened, report);
            Idle::Film { next: 0, pictures: Vec::new() }
        }
        Idle::Film { next, mut pictures } => {
            let frame = film_frame(opened.recording.timeline(), next);
            // A picture that can't be read leaves a gap in the strip; it is told when looked at.
            if let Ok(picture) = opened.recording.colour(frame) {
                pictures.push(Arc::new(shrunk(&picture, FILM_HEIGHT)));
            }
            if next + 1 < FILM {
                Idle::Film { next: next + 1, pictures }
            } else {
                report.send(Event::Film { generation, pictures });
                Idle::Sound
            }
        }
        Idle::Sound => {
            if let Ok(Some(sound)) = opened.recording.sound() {
                let duration = opened.recording.timeline().duration().0;
                let envelope = Arc::new(loudness(&sound, duration));
                report.send(Event::Sound { generation, envelope });
            }
            Idle::Neighbours
        }
        Idle::Neighbours => match opened.recording.prepare(opened.shown) {
            Ok(true) => Idle::Neighbours,
            // A frame that can't be read is told when it is looked at.
            Ok(false) | Err(_) => Idle::Nothing,
        },
        Idle::Nothing => Idle::Nothing,
    };
}

/// The frame of a strip picture: the key frame nearest to its place, which is quick to read.
fn film_frame(timeline: &Timeline, i: usize) -> FrameIndex {
    let last = timeline.len() - 1;
    let wanted = (2 * i + 1) * last / (2 * FILM);
    let spacing = last / FILM;
    let near = wanted.saturating_sub(spacing / 2)..=(wanted + spacing / 2).min(last);
    let key = near
        .filter(|f| timeline.frames[*f].key)
        .min_by_key(|f| f.abs_diff(wanted))
        .or_else(|| (0..=wanted).rev().find(|f| timeline.frames[*f].key));
    FrameIndex(key.unwrap_or(wanted))
}

/// The picture at `height` rows, each the mean of the pixels it covers.
fn shrunk(picture: &ColourFrame, height: usize) -> ColourFrame {
    let height = height.min(picture.height).max(1);
    let width = (picture.width * height / picture.height).max(1);
    let mut data = Vec::with_capacity(4 * width * height);
    for y in 0..height {
        for x in 0..width {
            let rows = y * picture.height / height..((y + 1) * picture.height / height);
            let columns = x * picture.width / width..((x + 1) * picture.width / width);
            let (mut sum, mut n) = ([0u32; 3], 0);
            // Every second pixel is plenty for a picture this small.
            for row in rows.step_by(2) {
                for column in columns.clone().step_by(2) {
                    let rgb = picture.rgb(column, row);
                    (0..3).for_each(|c| sum[c] += u32::from(rgb[c]));
                    n += 1;
                }
            }
            data.extend(sum.map(|s| (s / n.max(1)) as u8));
            data.push(255);
        }
    }
    ColourFrame { width, height, data }
}

/// The loudest sample of each stretch of the recording, as a part of the loudest of all.
fn loudness(sound: &Sound, duration: f64) -> Vec<f32> {
    let mut peaks = vec![0.0f32; LOUDNESS];
    for (i, sample) in sound.samples.iter().enumerate() {
        let time = sound.start.0 + i as f64 / f64::from(sound.rate.max(1));
        let at = time / duration.max(1e-9) * LOUDNESS as f64;
        if at >= 0.0 && at < LOUDNESS as f64 {
            let peak = &mut peaks[at as usize];
            *peak = peak.max(sample.abs());
        }
    }
    let loudest = peaks.iter().copied().fold(1e-6, f32::max);
    peaks.iter().map(|p| p / loudest).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{FrameEntry, Pts, Seconds, TimeBase};

    #[test]
    fn loudness_sits_at_its_time() {
        // A click 0.75 s into a recording of one second.
        let mut samples = vec![0.0; 1000];
        samples[700] = -0.5;
        let sound = Sound { rate: 1000, start: Seconds(0.05), samples };
        let peaks = loudness(&sound, 1.0);
        assert_eq!(peaks[LOUDNESS * 3 / 4], 1.0);
        assert_eq!(peaks.iter().filter(|p| **p > 0.0).count(), 1);
    }

    #[test]
    fn film_prefers_key_frames_near_by() {
        let frames = (0..480).map(|i| FrameEntry { pts: Pts(i), key: i % 48 == 0 }).collect();
        let time_base = TimeBase { numerator: 1, denominator: 60 };
        let timeline = Timeline { time_base, frames, slow_factor: 1.0 };
        let all: Vec<usize> = (0..FILM).map(|i| film_frame(&timeline, i).0).collect();
        assert!(all.is_sorted() && all[FILM - 1] <= 479, "{all:?}");
        assert!(all.iter().all(|f| timeline.frames[*f].key));
    }

    #[test]
    fn a_shrunk_picture_keeps_its_mean_colour() {
        let picture = ColourFrame { width: 8, height: 8, data: [10, 20, 30, 255].repeat(64) };
        let small = shrunk(&picture, 4);
        assert_eq!((small.width, small.height), (4, 4));
        assert_eq!(small.rgb(3, 3), [10, 20, 30]);
    }
}
