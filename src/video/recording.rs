//! A recording on disk, open for reading.

use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::sync_channel;

use super::cache::FrameCache;
use super::cancel::CancelToken;
use super::decode::FrameReader;
use super::index::{self, Index};
use super::libav::{CancelSlot, Container, StreamInfo, Use, VideoFrame, check_size};
use super::picture::Converter;
use super::warm::{self, WarmFrames};
use super::{Facts, Sketcher, SketcherSource, VideoError, sound};
use crate::domain::{
    ColourFrame, FrameIndex, GrayFrame, PictureError, PictureSize, Pictures, Sound, Timeline,
    Warning,
};

/// Decoded pictures that wait between decoding and work in a sequential pass.
const READ_AHEAD: usize = 4;

/// Frames before the current one that are kept ready for steps back, as far as memory allows.
const READY_BEHIND: usize = 64;

/// Frames after the current one that are kept ready.
const READY_AHEAD: usize = 8;

/// After a jump so many pictures before the one asked for are kept of those decoded on the way,
/// for the first steps back.
const KEPT_ON_THE_WAY: usize = 8;

/// Bytes of decoded pictures kept: some 77 pictures of 1080p, 18 of 4K (8 bits).
const fn cache_limit(pixels: usize) -> usize {
    if pixels <= 1920 * 1088 { 232 << 20 } else { 224 << 20 }
}

/// A recording: its facts, its timeline, and its pictures by frame number.
pub struct Recording {
    path: PathBuf,
    facts: Facts,
    index: Arc<Index>,
    timeline: Timeline,
    /// Goes where the person goes.
    reader: FrameReader,
    /// Decodes what lies before, so that steps back do not send the other one astray.
    behind: Option<FrameReader>,
    cache: FrameCache,
    last_asked: Option<usize>,
    /// The frames that the reader behind is decoding in one go.
    run: Option<Range<usize>>,
    holds_little: bool,
    info: StreamInfo,
    warm: Option<WarmFrames>,
    converter: Converter,
    /// The last colour picture given away.
    handed_out: Option<Arc<ColourFrame>>,
    cancel: CancelSlot,
}

impl Recording {
    /// Opens a recording and indexes its frames: from packets where the container's time stamps
    /// settle the order, by decoding all of it where they do not.
    ///
    /// ```
    /// use std::path::Path;
    /// use scuffline::domain::Pictures;
    /// use scuffline::video::Recording;
    ///
    /// let recording = Recording::open(Path::new("sample-frames/iron_turf_sheet.mp4"))?;
    /// assert_eq!(recording.size().width, 1280);
    /// assert!(Recording::open(Path::new("README.md")).is_err());
    /// # Ok::<(), scuffline::video::VideoError>(())
    /// ```
    ///
    /// # Errors
    /// Any [`VideoError`] that speaks of files.
    pub fn open(path: &Path) -> Result<Self, VideoError> {
        Self::open_with(path, None, CancelToken::new())
    }

    /// Like [`Recording::open`], with an index that was kept (of the same content) and a flag
    /// that stops the opening.
    pub fn open_with(
        path: &Path,
        index: Option<Index>,
        cancel: CancelToken,
    ) -> Result<Self, VideoError> {
        Self::open_sharing(path, index.map(Arc::new), cancel)
    }

    /// Like [`Recording::open_with`], with the index of a recording that is open already.
    ///
    /// # Errors
    /// As [`Recording::open`].
    pub fn open_sharing(
        path: &Path,
        index: Option<Arc<Index>>,
        cancel: CancelToken,
    ) -> Result<Self, VideoError> {
        Self::open_for(path, index, cancel, Use::Exact)
    }

    /// Like [`Recording::open_sharing`], for work in the background beside a recording that is
    /// looked at: decodes with one thread and holds as [`Recording::hold_little`] says.
    ///
    /// # Errors
    /// As [`Recording::open`].
    pub fn open_aside(
        path: &Path,
        index: Arc<Index>,
        cancel: CancelToken,
    ) -> Result<Self, VideoError> {
        let mut recording = Self::open_for(path, Some(index), cancel, Use::Aside)?;
        recording.hold_little();
        Ok(recording)
    }

    fn open_for(
        path: &Path,
        index: Option<Arc<Index>>,
        cancel: CancelToken,
        purpose: Use,
    ) -> Result<Self, VideoError> {
        let slot = CancelSlot::default();
        slot.set(cancel);
        let mut container = Container::open(path, &slot)?;
        let info = container.info();
        check_size(&info, path)?;
        let facts = Facts::read(&container, &info);
        let index = match index.filter(|index| index.is_consistent()) {
            Some(kept) if kept.time_base == info.time_base => kept,
            _ => Arc::new(build_index(&mut container, path, &info, &slot)?),
        };
        let timeline = index.timeline(facts.slow_factor);
        let reader = FrameReader::new(container, path, index.clone(), slot.clone(), purpose)?;
        let converter = Converter::new(&info);
        Ok(Self {
            path: path.into(),
            facts,
            index,
            timeline,
            reader,
            behind: None,
            cache: FrameCache::new(cache_limit(info.width * info.height)),
            last_asked: None,
            run: None,
            holds_little: false,
            info,
            warm: None,
            converter,
            handed_out: None,
            cancel: slot,
        })
    }

    /// Where it lies.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What its header says.
    pub fn facts(&self) -> &Facts {
        &self.facts
    }

    /// Its index, to be kept.
    pub fn index(&self) -> &Index {
        &self.index
    }

    /// Its index, for [`Recording::open_sharing`].
    pub fn shared_index(&self) -> Arc<Index> {
        self.index.clone()
    }

    /// For a recording beside another one: holds half of the pictures.
    pub fn hold_half(&mut self) {
        self.cache.hold(cache_limit(self.info.width * self.info.height) / 2);
    }

    /// For work that nobody looks at: holds an eighth of the pictures, those asked for last, and none
    /// for steps back.
    pub fn hold_little(&mut self) {
        self.holds_little = true;
        self.cache.hold_by_turn();
        self.cache.hold(cache_limit(self.info.width * self.info.height) / 8);
    }

    /// From here on it plays so many times slower than it was captured, whatever its header says.
    pub fn take_as_slowed(&mut self, factor: f64) {
        self.timeline.slow_factor = factor;
    }

    /// Exchanges the flag that stops the work at hand: one flag for each request.
    pub fn set_cancel(&mut self, token: CancelToken) {
        self.cancel.set(token);
    }

    /// The flag that stops the work at hand.
    pub fn cancel_token(&self) -> CancelToken {
        self.cancel.token()
    }

    /// What is odd about the file.
    pub fn warnings(&self) -> Vec<Warning> {
        let mut warnings = Vec::new();
        if self.facts.interlaced {
            warnings.push(Warning::Interlaced);
        }
        if self.facts.slow_factor != 1.0 {
            warnings.push(Warning::SlowMotion { factor: self.facts.slow_factor });
        }
        if self.index.untimed > 0 {
            let note = format!(
                "{} frames of the file have no time of their own and are taken as evenly spaced; record again if times matter.",
                self.index.untimed
            );
            warnings.push(Warning::Note { note });
        }
        if self.index.missing > 0 {
            let what = format!("{} of its pictures are missing at the end", self.index.missing);
            warnings.push(Warning::Damaged { what });
        }
        warnings
    }

    /// The sound mixed to one channel at 48 kHz; `None` if there is none. All of it is held, 11 MB
    /// a minute; [`Recording::for_each_sound`] holds a second.
    ///
    /// Its start is on the playback clock: the first displayed frame is 0.
    ///
    /// # Errors
    /// [`VideoError::NoDecoder`] for an unknown codec, [`VideoError::Cancelled`].
    pub fn sound(&self) -> Result<Option<Sound>, VideoError> {
        let mut whole: Option<Sound> = None;
        let heard = self.for_each_sound(&mut |block| {
            match &mut whole {
                Some(whole) => whole.samples.extend_from_slice(&block.samples),
                none => *none = Some(block.clone()),
            }
            true
        })?;
        Ok(whole.filter(|_| heard))
    }

    /// Hands the sound, mixed to one channel at 48 kHz, to `each` in blocks that follow on each
    /// other, each with its own start, until it returns false. False: there is no sound.
    ///
    /// # Errors
    /// As [`Recording::sound`].
    pub fn for_each_sound(&self, each: &mut dyn FnMut(&Sound) -> bool) -> Result<bool, VideoError> {
        sound::read(&self.path, &self.timeline, &self.cancel, each)
    }

    /// A reader of key frames for dragging and for the film strip.
    ///
    /// # Errors
    /// As [`Recording::open`].
    pub fn sketcher(&self) -> Result<Sketcher, VideoError> {
        self.sketcher_source().open()
    }

    /// What another thread needs to open a reader of key frames.
    pub fn sketcher_source(&self) -> SketcherSource {
        SketcherSource {
            path: self.path.clone(),
            index: self.index.clone(),
            info: self.info.clone(),
        }
    }

    /// Uses the frames that were kept at `place` before; false if there are none.
    pub fn use_kept(&mut self, place: &Path) -> bool {
        self.warm = warm::open(place);
        self.warm.is_some()
    }

    /// The colours of a frame that was kept near a strike, for looking at: they have been coded
    /// once more, those above 1080p at half their size. Measuring never sees them.
    pub fn kept(&mut self, frame: FrameIndex) -> Option<Arc<ColourFrame>> {
        let picture = self.warm.as_mut()?.picture(frame)?;
        let size = self.info.turn.apply_to_size(warm::kept_size(self.widened_size()));
        let spare = self.take_spare();
        let colour = Arc::new(self.converter.colour_in(&picture, size, spare).ok()?);
        self.handed_out = Some(colour.clone());
        Some(colour)
    }

    /// How many pictures have to be decoded before `frame` is there; 0: it is in memory.
    pub fn distance(&self, frame: FrameIndex) -> usize {
        if self.cache.contains(frame.0) { 0 } else { self.reader.distance(frame) }
    }

    fn take_spare(&mut self) -> Vec<u8> {
        // A picture that no one holds any more gives its memory to the next: fresh memory of
        // this size costs more than the conversion.
        self.handed_out.take().and_then(Arc::into_inner).map(|old| old.data).unwrap_or_default()
    }

    fn convert(&mut self, picture: &VideoFrame) -> Result<Arc<ColourFrame>, VideoError> {
        let spare = self.take_spare();
        let colour = Arc::new(self.converter.colour(picture, spare)?);
        self.handed_out = Some(colour.clone());
        Ok(colour)
    }

    pub(super) fn stored_size(&self) -> PictureSize {
        self.converter.stored_size()
    }

    fn widened_size(&self) -> PictureSize {
        self.converter.widened_size()
    }

    /// Hands the decoded originals of ascending `frames` to `each` until it returns false.
    pub(super) fn for_each_original(
        &mut self,
        frames: &[usize],
        each: &mut dyn FnMut(FrameIndex, &VideoFrame) -> Result<bool, VideoError>,
    ) -> Result<(), VideoError> {
        for &frame in frames {
            let frame = FrameIndex(frame);
            match self.reader.frame(frame, frame, &mut |_, _| {}) {
                Ok(picture) if !each(frame, &picture)? => break,
                Ok(_) | Err(VideoError::DamagedFrame { .. }) => {}
                Err(error) => return Err(error),
            }
        }
        Ok(())
    }

    /// Does one piece of preparing the neighbourhood of `frame`, about one picture's decoding,
    /// so that steps from there are instant; false if nothing is left to do.
    ///
    /// For times when no one waits: call it until it returns false or something else is asked.
    ///
    /// # Errors
    /// [`VideoError::Cancelled`]; damaged frames are passed over.
    pub fn prepare(&mut self, frame: FrameIndex) -> Result<bool, VideoError> {
        let room = self.cache.room();
        self.cache.look_at(frame.0);
        let end = (frame.0 + READY_AHEAD.min(room / 8) + 1).min(self.timeline.len());
        let after = (frame.0 + 1..end).find(|&n| !self.cache.contains(n));
        let at_once = |n: &usize| self.reader.distance(FrameIndex(*n)) <= 2 * READY_AHEAD;
        if let Some(next) = after.filter(at_once) {
            return self.prepare_after(next);
        }
        if let Some(run) = self.run_before(frame.0, READY_BEHIND.min(room * 5 / 6)) {
            return self.go_on(run);
        }
        after.map_or(Ok(false), |next| self.prepare_after(next))
    }

    fn prepare_after(&mut self, missing: usize) -> Result<bool, VideoError> {
        let Self { reader, cache, .. } = self;
        match reader.aim(FrameIndex(missing)).and_then(|()| reader.next_frame()) {
            Err(VideoError::Cancelled) => Err(VideoError::Cancelled),
            Ok(Some((got, picture))) => {
                if got.0 > missing {
                    cache.insert_damaged(missing);
                }
                Ok(got.0 < missing || cache.insert(got.0, &picture))
            }
            _ => {
                cache.insert_damaged(missing);
                Ok(true)
            }
        }
    }

    /// The frames before `frame` that are to be decoded next, in one go: whoever holds the key
    /// down moves on meanwhile, and beginning anew at a key frame for each frame would never
    /// get there. `None`: enough are ready.
    fn run_before(&self, frame: usize, behind: usize) -> Option<Range<usize>> {
        let lowest = frame.saturating_sub(behind);
        let missing = (lowest..=frame).rev().find(|&n| !self.cache.contains(n))?;
        let on_the_way = |reader: &FrameReader| reader.is_on_the_way(FrameIndex(missing));
        if let Some(run) = self.run.clone().filter(|run| run.contains(&missing))
            && self.behind.as_ref().is_some_and(on_the_way)
        {
            return Some(run);
        }
        let few = lowest > 0 && missing - lowest < behind / 4;
        (!few).then_some(lowest..missing + 1)
    }

    fn go_on(&mut self, run: Range<usize>) -> Result<bool, VideoError> {
        let begun = self.run.replace(run.clone()) == Some(run.clone());
        let Self { behind, cache, .. } = self;
        let reader = match behind {
            Some(open) => open,
            none => none.insert(open_behind(&self.path, &self.index, &self.cancel)?),
        };
        let aimed = if begun { Ok(()) } else { reader.aim(FrameIndex(run.start)) };
        let (passed, kept) = match aimed.and_then(|()| reader.next_frame()) {
            Err(VideoError::Cancelled) => return Err(VideoError::Cancelled),
            Ok(Some((got, picture))) => {
                let kept = !run.contains(&got.0) || cache.insert(got.0, &picture);
                (got.0 + 1, kept)
            }
            _ => (run.end, true),
        };
        for frame in run.start..passed.min(run.end) {
            if !cache.contains(frame) {
                cache.insert_damaged(frame);
            }
        }
        if passed >= run.end || !kept {
            self.run = None;
        }
        Ok(kept)
    }

    fn picture(&mut self, frame: FrameIndex) -> Result<Arc<VideoFrame>, VideoError> {
        if frame.0 >= self.timeline.len() {
            return Err(VideoError::NoSuchFrame { asked: frame.0, count: self.timeline.len() });
        }
        let last = self.last_asked.replace(frame.0);
        self.cache.look_at(frame.0);
        if let Some(kept) = self.cache.get(frame.0) {
            return Ok(kept);
        }
        let steps_back =
            last.is_some_and(|last| (1..=READY_BEHIND).contains(&last.wrapping_sub(frame.0)));
        let Self { reader, cache, .. } = self;
        let mut keep = |frame: FrameIndex, picture: &Arc<VideoFrame>| {
            cache.insert(frame.0, picture);
        };
        if steps_back && !self.holds_little {
            let behind = match &mut self.behind {
                Some(open) => open,
                none => none.insert(open_behind(&self.path, &self.index, &self.cancel)?),
            };
            let from = behind.can_keep_from(frame, frame.0.saturating_sub(READY_BEHIND - 1));
            behind.frame(frame, from, &mut keep)
        } else {
            let behind = if self.holds_little { 0 } else { KEPT_ON_THE_WAY };
            let from = reader.can_keep_from(frame, frame.0.saturating_sub(behind));
            reader.frame(frame, from, &mut keep)
        }
    }

    /// Decodes `from..to` on a thread of its own while `each` works on this one.
    fn pass(
        &mut self,
        from: FrameIndex,
        to: FrameIndex,
        each: &mut dyn FnMut(FrameIndex, &GrayFrame) -> bool,
    ) -> Result<(), VideoError> {
        let (reader, converter) = (&mut self.reader, &mut self.converter);
        std::thread::scope(|scope| {
            let (give, take) = sync_channel::<(FrameIndex, Arc<VideoFrame>)>(READ_AHEAD);
            let decoding = scope.spawn(move || {
                let mut next = Some(reader.first_of(from)?);
                while let Some((frame, picture)) = next.take() {
                    if frame >= to || give.send((frame, picture)).is_err() {
                        break;
                    }
                    if frame.0 + 1 < to.0 {
                        next = reader.next_frame()?.map(|(f, p)| (f, Arc::new(p)));
                    }
                }
                Ok(())
            });
            let mut spare = Vec::new();
            for (frame, picture) in take {
                let gray = converter.gray(&picture, spare)?;
                if !each(frame, &gray) {
                    break;
                }
                spare = gray.data;
            }
            decoding.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
        })
    }
}

impl Pictures for Recording {
    fn timeline(&self) -> &Timeline {
        &self.timeline
    }

    fn size(&self) -> PictureSize {
        self.converter.size()
    }

    fn gray(&mut self, frame: FrameIndex) -> Result<Arc<GrayFrame>, PictureError> {
        let picture = self.picture(frame)?;
        Ok(Arc::new(self.converter.gray(&picture, Vec::new())?))
    }

    fn colour(&mut self, frame: FrameIndex) -> Result<Arc<ColourFrame>, PictureError> {
        let picture = self.picture(frame)?;
        Ok(self.convert(&picture)?)
    }

    /// A frame whose data is damaged beyond decoding is left out.
    fn for_each_gray(
        &mut self,
        from: FrameIndex,
        to: FrameIndex,
        each: &mut dyn FnMut(FrameIndex, &GrayFrame) -> bool,
    ) -> Result<(), PictureError> {
        let to = FrameIndex(to.0.min(self.timeline.len()));
        if from >= to {
            return Ok(());
        }
        Ok(self.pass(from, to, each)?)
    }
}

fn open_behind(
    path: &Path,
    index: &Arc<Index>,
    cancel: &CancelSlot,
) -> Result<FrameReader, VideoError> {
    let container = Container::open(path, cancel)?;
    FrameReader::new(container, path, index.clone(), cancel.clone(), Use::Exact)
}

pub(super) fn build_index(
    container: &mut Container,
    path: &Path,
    info: &StreamInfo,
    cancel: &CancelSlot,
) -> Result<Index, VideoError> {
    let check = || cancel.check();
    let mut table = index::read_packets(container, info, &check)?;
    let mut by_stamps = index::stamps_suffice(&table.packets, info, table.corrupt);
    if by_stamps {
        index::order_by_stamps(&mut table.packets);
        by_stamps = index::is_reordering(&table.packets);
    }
    let shown = if by_stamps {
        let first_key = table.packets.iter().position(|p| p.key).unwrap_or(table.packets.len());
        let in_doubt = index::in_doubt(&table.packets, first_key);
        let decodable = if in_doubt {
            let mut again = Container::open(path, cancel)?;
            let until = Some(first_key as u32);
            index::decode_order(&mut again, &table.packets, info.delay, &check, until)
                .map_err(|error| error.at(path))?
        } else {
            Vec::new()
        };
        index::shown_by_stamps(&table.packets, first_key, &decodable)
    } else {
        let mut again = Container::open(path, cancel)?;
        let shown = index::decode_order(&mut again, &table.packets, info.delay, &check, None)
            .map_err(|error| error.at(path))?;
        index::order_by_showing(&mut table.packets, &shown);
        shown
    };
    if shown.is_empty() {
        return Err(VideoError::NoFrames { path: path.into() });
    }
    Ok(index::assemble(table.packets, &shown, info))
}
