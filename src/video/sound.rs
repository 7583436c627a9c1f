//! The sound track as mono at 48 kHz, placed on the playback clock of the pictures.

use std::path::Path;

use ffmpeg_next as ffmpeg;

use ffmpeg::format::sample::{Sample, Type};
use ffmpeg::software::resampling;
use ffmpeg::{ChannelLayout, Error, Packet, codec, frame};

use super::libav::{CancelSlot, Container, clear, library};
use super::{VideoError, libav};
use crate::domain::{Seconds, Sound, Timeline};

/// Samples a second of the sound handed out.
pub(super) const RATE: u32 = 48_000;

/// Sound this long after the last picture, and anything after an hour, is left out: a bound for
/// damaged files.
const AFTER_PICTURES: Seconds = Seconds(10.0);
const LONGEST: Seconds = Seconds(3600.0);

/// Reads the file's best sound track; `None` if it has none.
pub(super) fn read(
    path: &Path,
    timeline: &Timeline,
    cancel: &CancelSlot,
) -> Result<Option<Sound>, VideoError> {
    let Some(mut container) = Container::open_audio(path, cancel)? else {
        return Ok(None);
    };
    let most = (timeline.duration() + AFTER_PICTURES).0.clamp(0.0, LONGEST.0);
    let mut track = Track::open(&container, path, (most * f64::from(RATE)) as usize)?;
    let mut packet = Packet::empty();
    while container.read(&mut packet)? {
        cancel.check()?;
        // A packet that does not decode leaves a gap, which is filled with silence.
        let _ = track.decoder.send_packet(&packet);
        clear(&mut packet);
        track.take_frames()?;
        if track.samples.len() >= track.most {
            break;
        }
    }
    let _ = track.decoder.send_eof();
    track.take_frames()?;
    track.take_rest();
    track.samples.truncate(track.most);
    let video_start = timeline.time_base.between(crate::domain::Pts(0), timeline.frames[0].pts);
    let Some(start) = track.start else { return Ok(None) };
    Ok(Some(Sound { rate: RATE, start: Seconds(start) - video_start, samples: track.samples }))
}

struct Track {
    decoder: codec::decoder::Audio,
    time_base: (i32, i32),
    resampler: Option<resampling::Context>,
    /// Of the first sample, on the file's clock, in seconds.
    start: Option<f64>,
    samples: Vec<f32>,
    /// How many samples there may be.
    most: usize,
}

impl Track {
    fn open(container: &Container, path: &Path, most: usize) -> Result<Self, VideoError> {
        let parameters = container.parameters();
        let name = libav::codec_name(&parameters);
        let mut context = codec::Context::from_parameters(parameters).map_err(library)?;
        libav::set_packet_time_base(&mut context, container.time_base());
        let decoder = context
            .decoder()
            .audio()
            .map_err(|_| VideoError::NoDecoder { codec: name, path: path.into() })?;
        Ok(Self {
            decoder,
            time_base: container.time_base(),
            resampler: None,
            start: None,
            samples: Vec::new(),
            most,
        })
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
        if decoded.samples() == 0 || decoded.rate() == 0 {
            return Ok(());
        }
        if decoded.channel_layout().is_empty() {
            decoded.set_channel_layout(ChannelLayout::default(i32::from(decoded.channels())));
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
            self.samples.extend(mixed.plane::<f32>(0).iter().take(mixed.samples()));
        }
        Ok(())
    }

    /// Keeps time: the first frame sets the start; a gap before a later one is filled with
    /// silence, so that what follows does not come early.
    fn place(&mut self, decoded: &frame::Audio) {
        let Some(stamp) = decoded.timestamp() else { return };
        let seconds = stamp as f64 * f64::from(self.time_base.0) / f64::from(self.time_base.1);
        let Some(start) = self.start else {
            self.start = Some(seconds);
            return;
        };
        let held = self.resampler.as_ref().and_then(|context| context.delay());
        let held = held.map_or(0.0, |delay| delay.output as f64 / f64::from(RATE));
        let due = start + self.samples.len() as f64 / f64::from(RATE) + held;
        // Below 20 ms it is rounding of the container's stamps.
        let gap = ((seconds - due) * f64::from(RATE)).round();
        if gap > 0.02 * f64::from(RATE) && gap < self.most as f64 {
            self.take_rest();
            self.samples.resize(self.samples.len() + gap as usize, 0.0);
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
            self.samples.extend(rest.plane::<f32>(0).iter().take(got));
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
}

impl Envelope {
    /// Samples in a block: 1.3 ms at 48 kHz, a third of a frame at 240 a second.
    const BLOCK: usize = 64;

    /// The envelope of `sound`.
    pub fn of(sound: &Sound) -> Self {
        let least_and_greatest = |block: &[f32]| {
            let fold = |pick: fn(f32, f32) -> f32| block.iter().copied().reduce(pick);
            (fold(f32::min).unwrap_or(0.0), fold(f32::max).unwrap_or(0.0))
        };
        let blocks: Vec<(f32, f32)> =
            sound.samples.chunks(Self::BLOCK).map(least_and_greatest).collect();
        let loudest = blocks.iter().fold(0.0f32, |most, (low, high)| most.max(-low).max(*high));
        Self {
            start: sound.start,
            blocks,
            block: Seconds(Self::BLOCK as f64 / f64::from(sound.rate.max(1))),
            loudest,
        }
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
}
