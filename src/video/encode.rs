//! Pictures into a clip: for sending home, and for keeping frames near a strike at hand.

use std::path::{Path, PathBuf};

use ffmpeg_next as ffmpeg;

use ffmpeg::format::Pixel;
use ffmpeg::{Dictionary, Packet, Rational, codec, encoder, format, frame};

use super::libav::{Scaler, VideoFrame, fill_rgba, library};
use super::{VideoError, libav};
use crate::domain::{ColourFrame, PictureSize, Pts, TimeBase};

/// Writes an MP4 of H.264 where the FFmpeg in use can, else of MPEG-4 part 2.
///
/// The picture's sides are cut to even numbers, as 4:2:0 colour needs.
pub struct ClipWriter {
    path: PathBuf,
    output: format::context::Output,
    encoder: encoder::Video,
    /// Of the stamps given to [`ClipWriter::write`].
    time_base: Rational,
    to_yuv: Scaler,
    source: frame::Video,
    converted: frame::Video,
    packet: Packet,
    last_pts: Option<i64>,
    /// Ticks between the last two pictures.
    spacing: i64,
}

/// What the clip is for.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Purpose {
    /// To be watched: small, plays everywhere.
    Watch,
    /// To be read frame by frame: each picture by itself, quick to decode.
    Frames,
}

impl ClipWriter {
    /// Begins a clip of pictures of `size` whose stamps count in `time_base`.
    ///
    /// # Errors
    /// [`VideoError::CannotWrite`] if the file or the encoder cannot be opened.
    pub fn create(path: &Path, size: PictureSize, time_base: TimeBase) -> Result<Self, VideoError> {
        let base = Rational(time_base.numerator, time_base.denominator);
        Self::create_for(path, size, base, Purpose::Watch)
    }

    pub(super) fn create_for(
        path: &Path,
        size: PictureSize,
        time_base: Rational,
        purpose: Purpose,
    ) -> Result<Self, VideoError> {
        let failed = |error: ffmpeg::Error| cannot_write(path, error);
        let name = path.to_str().ok_or_else(|| cannot_write(path, ffmpeg::Error::InvalidData))?;
        let (width, height) = (size.width as u32 & !1, size.height as u32 & !1);
        if width == 0 || height == 0 {
            return Err(cannot_write(path, ffmpeg::Error::InvalidData));
        }
        libav::be_quiet();
        let mut output = format::output_as(&format!("file:{name}"), "mp4").map_err(failed)?;
        let (codec, options) = choose_encoder(purpose)
            .ok_or_else(|| cannot_write(path, ffmpeg::Error::EncoderNotFound))?;
        let mut context =
            codec::Context::new_with_codec(codec).encoder().video().map_err(failed)?;
        context.set_width(width);
        context.set_height(height);
        context.set_format(Pixel::YUV420P);
        context.set_time_base(time_base);
        context.set_colorspace(ffmpeg::color::Space::BT709);
        context.set_color_range(ffmpeg::color::Range::MPEG);
        // For the encoder without a quality setting: about 0.1 bit a pixel at 30 pictures a second.
        context.set_bit_rate((width as usize * height as usize * 3).max(200_000));
        context.set_flags(codec::Flags::GLOBAL_HEADER);
        let encoder = context.open_with(options).map_err(failed)?;
        let mut stream = output.add_stream(codec).map_err(failed)?;
        stream.set_parameters(&encoder);
        stream.set_time_base(time_base);
        output.write_header().map_err(failed)?;
        Ok(Self {
            path: path.into(),
            output,
            encoder,
            time_base,
            to_yuv: Scaler::new(Pixel::YUV420P),
            source: frame::Video::new(Pixel::RGBA, size.width as u32, size.height as u32),
            converted: frame::Video::new(Pixel::YUV420P, width, height),
            packet: Packet::empty(),
            last_pts: None,
            spacing: 1,
        })
    }

    /// Adds a picture, shown from `pts` on; stamps must rise.
    ///
    /// # Errors
    /// [`VideoError::CannotWrite`] if the size is another one, or the disk is full.
    pub fn write(&mut self, picture: &ColourFrame, pts: Pts) -> Result<(), VideoError> {
        let fits = (picture.width, picture.height)
            == (self.source.width() as usize, self.source.height() as usize);
        if !fits {
            return Err(cannot_write(&self.path, ffmpeg::Error::InvalidData));
        }
        fill_rgba(&mut self.source, picture);
        self.to_yuv.convert_for_clip(&self.source, &mut self.converted)?;
        self.send(pts.0)
    }

    /// Adds a decoded picture as it is stored, its colour matrix untouched.
    pub(super) fn write_decoded(
        &mut self,
        picture: &VideoFrame,
        pts: i64,
    ) -> Result<(), VideoError> {
        self.to_yuv.convert_to_limited(picture, &mut self.converted)?;
        self.send(pts)
    }

    fn send(&mut self, pts: i64) -> Result<(), VideoError> {
        if let Some(last) = self.last_pts.replace(pts) {
            self.spacing = (pts - last).max(1);
        }
        self.converted.set_pts(Some(pts));
        self.converted.set_kind(ffmpeg::picture::Type::None);
        let sent = self.encoder.send_frame(&self.converted);
        sent.map_err(|error| cannot_write(&self.path, error))?;
        self.take_packets()
    }

    fn take_packets(&mut self) -> Result<(), VideoError> {
        let base = self.output.stream(0).map_or(self.time_base, |stream| stream.time_base());
        while self.encoder.receive_packet(&mut self.packet).is_ok() {
            self.packet.set_stream(0);
            // A last picture without a length would lie outside the clip's edit list.
            self.packet.set_duration(self.spacing);
            self.packet.rescale_ts(self.time_base, base);
            let written = self.packet.write_interleaved(&mut self.output);
            written.map_err(|error| cannot_write(&self.path, error))?;
        }
        Ok(())
    }

    /// Ends the clip; without it the file is not playable.
    ///
    /// # Errors
    /// [`VideoError::CannotWrite`] if the disk is full.
    pub fn finish(mut self) -> Result<(), VideoError> {
        self.encoder.send_eof().map_err(library)?;
        self.take_packets()?;
        self.output.write_trailer().map_err(|error| cannot_write(&self.path, error))
    }
}

/// Clips that are written are H.264, which phones play; else they are MPEG-4 part 2.
pub fn writes_h264() -> bool {
    choose_encoder(Purpose::Watch).is_some_and(|(codec, _)| codec.id() == codec::Id::H264)
}

fn choose_encoder(purpose: Purpose) -> Option<(ffmpeg::Codec, Dictionary<'static>)> {
    let mut options = Dictionary::new();
    if let Some(x264) = encoder::find_by_name("libx264") {
        match purpose {
            Purpose::Watch => {
                options.set("preset", "veryfast");
                options.set("crf", "20");
            }
            Purpose::Frames => {
                options.set("preset", "ultrafast");
                options.set("tune", "fastdecode");
                // Decoding time grows with the bits.
                options.set("crf", "20");
                options.set("g", "1");
                // Slices are decoded side by side.
                options.set("slices", "2");
                // In the background, beside somebody who looks at pictures: each thread holds one.
                options.set("threads", "1");
            }
        }
        return Some((x264, options));
    }
    if purpose == Purpose::Frames {
        options.set("g", "1");
    }
    let other = encoder::find_by_name("libopenh264").or_else(|| encoder::find_by_name("mpeg4"));
    other.map(|codec| (codec, options))
}

fn cannot_write(path: &Path, error: ffmpeg::Error) -> VideoError {
    VideoError::CannotWrite { reason: error.to_string(), path: path.into() }
}
