//! From a frame number to its decoded picture, starting at the right key frame.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use ffmpeg_next as ffmpeg;

use ffmpeg::codec::decoder;
use ffmpeg::{Error, Packet, frame};

use super::index::{Index, PacketEntry};
use super::libav::{CancelSlot, Container, Use, VideoFrame, clear, open_decoder, packet_facts};
use super::{VideoError, libav};
use crate::domain::FrameIndex;

/// How many key frames are tried before a frame is called damaged.
const STARTS: usize = 4;

/// Decodes frames by number. Going forward is cheap; going elsewhere starts at a key frame.
pub(super) struct FrameReader {
    path: PathBuf,
    container: Container,
    decoder: decoder::Video,
    index: Arc<Index>,
    cancel: CancelSlot,
    packet: Packet,
    /// `packet` holds the next packet already.
    pending: bool,
    /// Ordinal of the next packet to be sent; `None`: the position is unknown.
    next: Option<usize>,
    /// The key packet from which the decoder started.
    start: usize,
    /// The last frame that came out.
    last: Option<usize>,
    /// Frames from here on are decoded; before, pictures that no other needs may be left out.
    wanted_from: usize,
    /// The decoder has given its last picture.
    ended: bool,
}

impl FrameReader {
    /// Prepares to decode an open file by `index`; `path` is for its errors.
    pub fn new(
        container: Container,
        path: &Path,
        index: Arc<Index>,
        cancel: CancelSlot,
        purpose: Use,
    ) -> Result<Self, VideoError> {
        let threading = purpose.threading(container.pixels());
        let decoder = open_decoder(container.parameters(), index.depth as usize, threading)
            .map_err(|error| error.at(path))?;
        Ok(Self {
            path: path.into(),
            container,
            decoder,
            index,
            cancel,
            packet: Packet::empty(),
            pending: false,
            next: None,
            start: 0,
            last: None,
            wanted_from: 0,
            ended: false,
        })
    }

    /// The picture of `target`. Every picture from `keep_from` on that comes out on the way is
    /// handed to `keep`, in order; those before it are decoded only where others need them.
    ///
    /// # Errors
    /// [`VideoError::DamagedFrame`] if no key frame leads to it.
    pub fn frame(
        &mut self,
        target: FrameIndex,
        keep_from: FrameIndex,
        keep: &mut dyn FnMut(FrameIndex, &Arc<VideoFrame>),
    ) -> Result<Arc<VideoFrame>, VideoError> {
        let index = self.index.clone();
        let starts: Vec<usize> = index.starts_for(target).take(STARTS).collect();
        let wanted_from = keep_from.0.min(target.0);
        if self.leads_to(target, starts[0], keep_from) {
            self.wanted_from = wanted_from;
            if let Some(found) = self.run_to(target, keep)? {
                return Ok(found);
            }
        }
        for start in starts {
            self.wanted_from = wanted_from;
            if self.go_to(start)?
                && let Some(found) = self.run_to(target, keep)?
            {
                return Ok(found);
            }
        }
        self.next = None;
        Err(VideoError::DamagedFrame { frame: target.0 })
    }

    /// The picture of `from`, or of the first decodable frame after it, ready to go on with
    /// [`FrameReader::next_frame`].
    pub fn first_of(
        &mut self,
        from: FrameIndex,
    ) -> Result<(FrameIndex, Arc<VideoFrame>), VideoError> {
        for frame in from.0..self.index.frames.len() {
            match self.frame(FrameIndex(frame), FrameIndex(frame), &mut |_, _| {}) {
                Err(VideoError::DamagedFrame { .. }) => {}
                other => return other.map(|picture| (FrameIndex(frame), picture)),
            }
        }
        Err(VideoError::DamagedFrame { frame: from.0 })
    }

    /// The picture of key packet `start` alone, with the frame it is; `None` if it does not decode
    /// or is not shown.
    pub fn key_picture(
        &mut self,
        start: usize,
    ) -> Result<Option<(FrameIndex, VideoFrame)>, VideoError> {
        self.wanted_from = 0;
        if !self.go_to(start)? {
            return Ok(None);
        }
        self.feed()?;
        // Draining gives the picture at once, without those that would follow it.
        let _ = self.decoder.send_eof();
        let found = self.next_frame();
        self.next = None;
        found
    }

    /// Puts the reader on the way to `target`, so that [`FrameReader::next_frame`] leads there.
    pub fn aim(&mut self, target: FrameIndex) -> Result<(), VideoError> {
        let start = self.index.starts_for(target).next().unwrap_or(0);
        if !self.leads_to(target, start, target) && !self.go_to(start)? {
            return Err(VideoError::DamagedFrame { frame: target.0 });
        }
        self.wanted_from = target.0;
        Ok(())
    }

    /// How many packets have to go through the decoder before `target` comes out.
    pub fn distance(&self, target: FrameIndex) -> usize {
        let packet = self.index.frames.get(target.0).map_or(0, |frame| frame.packet as usize);
        let start = self.index.starts_for(target).next().unwrap_or(0);
        let from = match self.next {
            Some(next) if self.leads_to(target, start, target) => next,
            _ => start,
        };
        (packet + 1).saturating_sub(from).max(1)
    }

    /// From where on pictures can be kept on the way to `target`: at best from `from`.
    pub fn can_keep_from(&self, target: FrameIndex, from: usize) -> FrameIndex {
        let passed = if self.is_on_the_way(target) {
            self.wanted_from.max(self.last.map_or(0, |last| last + 1))
        } else {
            0
        };
        FrameIndex(from.max(passed).min(target.0))
    }

    /// Whether decoding on from here reaches `target`.
    pub fn is_on_the_way(&self, target: FrameIndex) -> bool {
        let start = self.index.starts_for(target).next().unwrap_or(0);
        self.leads_to(target, start, target)
    }

    /// Whether decoding on from here reaches `target` without a detour.
    fn leads_to(&self, target: FrameIndex, nearest_start: usize, keep_from: FrameIndex) -> bool {
        let first = target.0.min(keep_from.0);
        // Below `wanted_from` pictures may have been left out already.
        let ahead = self.last.is_none_or(|last| last < first) && self.wanted_from <= first;
        // Past the nearest key frame already, or this is the run that began there.
        let near =
            self.next.is_some_and(|next| next > nearest_start) || self.start == nearest_start;
        ahead && near && self.next.is_some() && !self.ended
    }

    /// Decodes until `target` comes out; `None` if it does not.
    fn run_to(
        &mut self,
        target: FrameIndex,
        keep: &mut dyn FnMut(FrameIndex, &Arc<VideoFrame>),
    ) -> Result<Option<Arc<VideoFrame>>, VideoError> {
        while let Some((frame, picture)) = self.next_frame()? {
            let picture = Arc::new(picture);
            if frame.0 >= self.wanted_from {
                keep(frame, &picture);
            }
            if frame == target {
                self.wanted_from = target.0;
                return Ok(Some(picture));
            }
            if frame > target {
                return Ok(None);
            }
        }
        Ok(None)
    }

    /// The next frame in presentation order, or `None` at the end.
    pub fn next_frame(&mut self) -> Result<Option<(FrameIndex, VideoFrame)>, VideoError> {
        let mut picture = frame::Video::empty();
        loop {
            self.cancel.check()?;
            match self.decoder.receive_frame(&mut picture) {
                Ok(()) => {
                    if let Some(frame) = self.identify(&picture) {
                        self.last = Some(frame.0);
                        return Ok(Some((frame, VideoFrame::new(picture))));
                    }
                }
                Err(Error::Eof) => {
                    self.ended = true;
                    return Ok(None);
                }
                Err(Error::Exit) => {
                    self.next = None;
                    return Err(VideoError::Cancelled);
                }
                Err(_) => self.feed()?,
            }
        }
    }

    /// The frame that a decoded picture is; `None` for one that is not shown or came before.
    fn identify(&self, picture: &frame::Video) -> Option<FrameIndex> {
        let ordinal = usize::try_from(picture.pts()?).ok()?;
        let frame = self.index.packets.get(ordinal)?.frame? as usize;
        self.last.is_none_or(|last| frame > last).then_some(FrameIndex(frame))
    }

    /// Sends the decoder its next packet, or tells it that there are no more.
    fn feed(&mut self) -> Result<(), VideoError> {
        loop {
            self.cancel.check()?;
            let got = std::mem::take(&mut self.pending)
                || self.container.read(&mut self.packet).inspect_err(|_| self.next = None)?;
            let ordinal = self.next.unwrap_or(usize::MAX);
            let Some(entry) = self.index.packets.get(ordinal).filter(|_| got) else {
                // The drained decoder answers further calls with the end of the stream.
                let _ = self.decoder.send_eof();
                return Ok(());
            };
            self.next = Some(ordinal + 1);
            if entry.disposable && entry.frame.is_none_or(|f| (f as usize) < self.wanted_from) {
                clear(&mut self.packet);
                continue;
            }
            self.packet.set_pts(Some(ordinal as i64));
            self.packet.set_dts(Some(ordinal as i64));
            // A packet that does not decode yields no frame; the decoder goes on after it.
            let _ = self.decoder.send_packet(&self.packet);
            clear(&mut self.packet);
            return Ok(());
        }
    }

    /// Puts the decoder just before key packet `start`; false if the container does not find it.
    pub fn go_to(&mut self, start: usize) -> Result<bool, VideoError> {
        self.decoder.flush();
        (self.last, self.ended, self.start, self.next) = (None, false, start, None);
        for Attempt { time, may_read_on } in self.seek_plan(start) {
            if self.container.seek(time) && self.read_until(start, may_read_on)? {
                self.next = Some(start);
                return Ok(true);
            }
        }
        // A file that cannot be sought in, or lies about where its key frames are.
        self.container = Container::open(&self.path, &self.cancel)?;
        for _ in 0..=start {
            self.cancel.check()?;
            clear(&mut self.packet);
            if !self.container.read(&mut self.packet)? {
                return Ok(false);
            }
        }
        (self.pending, self.next) = (true, Some(start));
        Ok(true)
    }

    /// The times to seek to in turn.
    ///
    /// Containers differ in whether they take a time as one of decoding or of showing, and
    /// irregular stamps mislead them further: so the packet that comes is looked at. A landing
    /// one key frame early is first answered by asking for a little later.
    fn seek_plan(&self, start: usize) -> Vec<Attempt> {
        let PacketEntry { pts, dts, .. } = self.index.packets[start];
        let (Some(shown), Some(decoded)) = (pts.or(dts), dts.or(pts)) else { return Vec::new() };
        let frames = &self.index.frames;
        let span = frames[frames.len() - 1].pts.saturating_sub(frames[0].pts);
        let spacing = (span / frames.len() as i64).max(1);
        let exact =
            [0, 1, 2, 4, 8, 16].map(|steps| shown.saturating_add(spacing.saturating_mul(steps)));
        let early = [decoded, shown.saturating_sub(spacing.saturating_mul(60))];
        let attempt = |may_read_on| move |time| Attempt { time, may_read_on };
        exact.map(attempt(false)).into_iter().chain(early.map(attempt(true))).collect()
    }

    /// Reads until the packet at hand is number `start`; false if it was missed.
    fn read_until(&mut self, start: usize, may_read_on: bool) -> Result<bool, VideoError> {
        let wanted = self.index.packets[start];
        self.pending = false;
        clear(&mut self.packet);
        while self.container.read(&mut self.packet)? {
            self.cancel.check()?;
            let facts = packet_facts(&self.packet);
            if is_same(&facts, &wanted) {
                self.pending = true;
                return Ok(true);
            }
            clear(&mut self.packet);
            let beyond = match (facts.dts, wanted.dts) {
                (Some(here), Some(there)) => here > there,
                _ => facts.position > wanted.position,
            };
            if beyond || !may_read_on {
                return Ok(false);
            }
        }
        Ok(false)
    }
}

/// A time to seek to, and whether to read on from where that leads.
struct Attempt {
    time: i64,
    may_read_on: bool,
}

/// Whether a packet read after a seek is the one in the table. Its decoding time may be unknown
/// after a seek where it was inferred before.
fn is_same(facts: &libav::PacketFacts, entry: &PacketEntry) -> bool {
    let same_place = facts.position >= 0 && facts.position == entry.position;
    let same_time = facts.dts.is_some() && facts.dts == entry.dts;
    facts.size as u32 == entry.size
        && (same_place || same_time)
        && (facts.pts == entry.pts || facts.pts.is_none() || entry.pts.is_none())
}
