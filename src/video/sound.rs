//! The sound track as mono at 48 kHz, placed on the playback clock of the pictures.

use std::path::Path;

use ffmpeg_next as ffmpeg;

use ffmpeg::format::sample::{Sample, Type};
use ffmpeg::software::resampling;
use ffmpeg::{ChannelLayout, Error, Packet, codec, frame};

use super::libav::{CancelSlot, Container, clear, library};
use super::{VideoError, libav};
use crate::domain::{Pts, Seconds, Sound, Timeline};

/// Samples a second of the sound handed out.
pub(super) const RATE: u32 = 48_000;

/// Samples a second that a recording's sound may have; others are taken for damage.
const RATES: std::ops::RangeInclusive<u32> = 1_000..=768_000;

/// Sound this long after the last picture, and anything after an hour, is left out: a bound for
/// damaged files.
const AFTER_PICTURES: Seconds = Seconds(10.0);
const LONGEST: Seconds = Seconds(3600.0);

/// Hands the file's best sound track to `each` in blocks of about a second, each with its own
/// start, until it returns false. False: the file has no sound.
pub(super) fn read(
    path: &Path,
    timeline: &Timeline,
    cancel: &CancelSlot,
    each: &mut dyn FnMut(&Sound) -> bool,
) -> Result<bool, VideoError> {
    let Some(mut container) = Container::open_audio(path, cancel)? else {
        return Ok(false);
    };
    let most = (timeline.duration() + AFTER_PICTURES).0.clamp(0.0, LONGEST.0);
    let zero = timeline.time_base.between(Pts(0), timeline.frames[0].pts);
    let blocks = Blocks::new((most * f64::from(RATE)) as usize, zero, each);
    let mut track = Track::open(&container, path, blocks)?;
    let mut packet = Packet::empty();
    while !track.blocks.is_full() && container.read(&mut packet)? {
        cancel.check()?;
        // A packet that does not decode leaves a gap, which is filled with silence.
        let _ = track.decoder.send_packet(&packet);
        clear(&mut packet);
        track.take_frames()?;
    }
    let _ = track.decoder.send_eof();
    track.take_frames()?;
    track.take_rest();
    track.blocks.give();
    Ok(track.blocks.start.is_some())
}

/// Samples on their way out, a block at a time: an hour of sound is never held at once.
struct Blocks<'a> {
    /// Of the first sample, on the file's clock, in seconds.
    start: Option<f64>,
    /// When the first picture is shown, on the file's clock.
    zero: Seconds,
    /// Samples handed out before those of `block`.
    given: usize,
    /// How many samples there may be.
    most: usize,
    block: Sound,
    each: &'a mut dyn FnMut(&Sound) -> bool,
    /// No more are wanted.
    stopped: bool,
}

impl<'a> Blocks<'a> {
    fn new(most: usize, zero: Seconds, each: &'a mut dyn FnMut(&Sound) -> bool) -> Self {
        let block = Sound { rate: RATE, ..Sound::default() };
        Self { start: None, zero, given: 0, most, block, each, stopped: false }
    }

    fn count(&self) -> usize {
        self.given + self.block.samples.len()
    }

    fn is_full(&self) -> bool {
        self.stopped || self.count() >= self.most
    }

    fn add(&mut self, samples: &[f32]) {
        let room = self.most.saturating_sub(self.count());
        self.block.samples.extend_from_slice(&samples[..samples.len().min(room)]);
        if self.block.samples.len() >= RATE as usize {
            self.give();
        }
    }

    fn add_silence(&mut self, mut samples: usize) {
        const PIECE: usize = 4096;
        while samples > 0 && !self.is_full() {
            let piece = samples.min(PIECE);
            self.add(&[0.0; PIECE][..piece]);
            samples -= piece;
        }
    }

    fn give(&mut self) {
        let Some(start) = self.start else { return };
        if !self.stopped && !self.block.samples.is_empty() {
            let before = Seconds(self.given as f64 / f64::from(RATE));
            self.block.start = Seconds(start) - self.zero + before;
            self.stopped = !(self.each)(&self.block);
        }
        self.given += self.block.samples.len();
        self.block.samples.clear();
    }
}

struct Track<'a> {
    decoder: codec::decoder::Audio,
    time_base: (i32, i32),
    resampler: Option<resampling::Context>,
    blocks: Blocks<'a>,
}

impl<'a> Track<'a> {
    fn open(container: &Container, path: &Path, blocks: Blocks<'a>) -> Result<Self, VideoError> {
        let parameters = container.parameters();
        let name = libav::codec_name(&parameters);
        let mut context = codec::Context::from_parameters(parameters).map_err(library)?;
        libav::set_packet_time_base(&mut context, container.time_base());
        let decoder = context
            .decoder()
            .audio()
            .map_err(|_| VideoError::NoDecoder { codec: name, path: path.into() })?;
        Ok(Self { decoder, time_base: container.time_base(), resampler: None, blocks })
    }

    fn take_frames(&mut self) -> Result<(), VideoError> {
        let mut decoded = frame::Audio::empty();
        loop {
            match self.decoder.receive_frame(&mut decoded) {
                Ok(()) => self.add(&mut decoded)?,
                Err(Error::Exit) => return Err(VideoError::Cancelled),
                Err(_) => return Ok(()),
            }
        }
    }

    fn add(&mut self, decoded: &mut frame::Audio) -> Result<(), VideoError> {
        if decoded.samples() == 0 || !RATES.contains(&decoded.rate()) {
            return Ok(());
        }
        if decoded.channel_layout().is_empty() {
            decoded.set_channel_layout(ChannelLayout::default(i32::from(decoded.channels())));
        }
        // A resampler that cannot be set up would leave its memory behind.
        if decoded.channel_layout().is_empty() {
            return Ok(());
        }
        self.place(decoded);
        let same = self.resampler.as_ref().is_some_and(|context| {
            let input = context.input();
            input.format == decoded.format()
                && input.rate == decoded.rate()
                && input.channel_layout == decoded.channel_layout()
        });
        if !same {
            self.take_rest();
            let context = resampling::Context::get(
                decoded.format(),
                decoded.channel_layout(),
                decoded.rate(),
                Sample::F32(Type::Packed),
                ChannelLayout::MONO,
                RATE,
            )
            .map_err(library)?;
            self.resampler = Some(context);
        }
        let Some(context) = self.resampler.as_mut() else { return Ok(()) };
        // Room for the new samples at the new rate and for what was held back before.
        let held = context.delay().map_or(0, |delay| delay.output.max(0) as usize);
        let room = decoded.samples() * RATE as usize / decoded.rate() as usize + held + 64;
        let mut mixed = frame::Audio::new(Sample::F32(Type::Packed), room, ChannelLayout::MONO);
        if context.run(decoded, &mut mixed).is_ok() {
            self.blocks.add(&mixed.plane::<f32>(0)[..mixed.samples()]);
        }
        Ok(())
    }

    /// Keeps time: the first frame sets the start; a gap before a later one is filled with
    /// silence, so that what follows does not come early.
    fn place(&mut self, decoded: &frame::Audio) {
        let Some(stamp) = decoded.timestamp() else { return };
        let seconds = stamp as f64 * f64::from(self.time_base.0) / f64::from(self.time_base.1);
        let Some(start) = self.blocks.start else {
            self.blocks.start = Some(seconds);
            return;
        };
        let held = self.resampler.as_ref().and_then(|context| context.delay());
        let held = held.map_or(0.0, |delay| delay.output as f64 / f64::from(RATE));
        let due = start + self.blocks.count() as f64 / f64::from(RATE) + held;
        // Below 20 ms it is rounding of the container's stamps.
        let gap = ((seconds - due) * f64::from(RATE)).round();
        if gap > 0.02 * f64::from(RATE) && gap < self.blocks.most as f64 {
            self.take_rest();
            self.blocks.add_silence(gap as usize);
        }
    }

    /// Takes what the resampler still holds.
    fn take_rest(&mut self) {
        let Some(mut context) = self.resampler.take() else { return };
        loop {
            let mut rest = frame::Audio::new(Sample::F32(Type::Packed), 4096, ChannelLayout::MONO);
            if context.flush(&mut rest).is_err() || rest.samples() == 0 {
                return;
            }
            let got = rest.samples();
            self.blocks.add(&rest.plane::<f32>(0)[..got]);
            if got < 4096 {
                return;
            }
        }
    }
}

/// The least and the greatest sample of each block of a sound, for drawing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Envelope {
    start: Seconds,
    blocks: Vec<(f32, f32)>,
    block: Seconds,
    loudest: f32,
    /// The block at hand, and how many samples are in it.
    open: Option<(f32, f32)>,
    in_open: usize,
}

impl Envelope {
    /// Samples in a block: 1.3 ms at 48 kHz, a third of a frame at 240 a second.
    const BLOCK: usize = 64;

    /// The envelope of `sound`.
    pub fn of(sound: &Sound) -> Self {
        let mut envelope = Self::default();
        envelope.add(sound);
        envelope.close();
        envelope
    }

    /// Goes on with the next block of a sound; the first one sets the start.
    pub fn add(&mut self, sound: &Sound) {
        if self.block.0 == 0.0 {
            self.start = sound.start;
            self.block = Seconds(Self::BLOCK as f64 / f64::from(sound.rate.max(1)));
        }
        for sample in &sound.samples {
            self.loudest = self.loudest.max(sample.abs());
            let (low, high) = self.open.get_or_insert((*sample, *sample));
            (*low, *high) = (low.min(*sample), high.max(*sample));
            self.in_open += 1;
            if self.in_open == Self::BLOCK {
                self.close();
            }
        }
    }

    /// Ends a block that is not full, as the sound ends.
    pub fn close(&mut self) {
        self.in_open = 0;
        self.blocks.extend(self.open.take());
    }

    /// The greatest distance of a sample from zero.
    pub fn loudest(&self) -> f32 {
        self.loudest
    }

    /// Least and greatest sample between two times on the playback clock; `None` where there is
    /// no sound.
    pub fn between(&self, from: Seconds, to: Seconds) -> Option<(f32, f32)> {
        let place = |time: Seconds| (time - self.start).0 / self.block.0;
        let first = place(from).floor().max(0.0) as usize;
        let last = (place(to).ceil().max(0.0) as usize).min(self.blocks.len());
        let blocks = self.blocks.get(first..last)?;
        blocks.iter().copied().reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_envelope_keeps_a_lone_click() {
        let mut samples = vec![0.0; 48_000];
        samples[24_000] = 0.9;
        samples[24_010] = -0.7;
        let envelope = Envelope::of(&Sound { rate: 48_000, start: Seconds(-0.5), samples });
        assert_eq!(envelope.between(Seconds(-0.01), Seconds(0.01)), Some((-0.7, 0.9)));
        assert_eq!(envelope.between(Seconds(0.1), Seconds(0.2)), Some((0.0, 0.0)));
        assert_eq!(envelope.between(Seconds(5.0), Seconds(6.0)), None);
        assert_eq!(envelope.loudest(), 0.9);
    }

    #[test]
    fn the_envelope_of_blocks_is_that_of_the_whole() {
        let samples: Vec<f32> = (0..10_000).map(|i| (i as f32 * 0.37).sin()).collect();
        let whole = Sound { rate: 48_000, start: Seconds(0.25), samples };
        let mut pieces = Envelope::default();
        let mut at = whole.start;
        for samples in whole.samples.chunks(777) {
            pieces.add(&Sound { rate: 48_000, start: at, samples: samples.to_vec() });
            at = at + Seconds(samples.len() as f64 / 48_000.0);
        }
        pieces.close();
        assert_eq!(pieces, Envelope::of(&whole));
    }
}
