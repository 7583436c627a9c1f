//! Thin safe wrappers over what ffmpeg-next leaves to raw libav, and one call to the C library's
//! allocator: every `unsafe` line of the crate.

use std::ffi::CStr;
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

use ffmpeg_next as ffmpeg;

use ffmpeg::codec::packet::{Mut as _, Ref as _};
use ffmpeg::codec::{Context, Parameters, decoder};
use ffmpeg::{Dictionary, Error, Packet, ffi, format, frame, media};

use super::orient::Turn;
use super::tone::Transfer;
use super::{CancelToken, VideoError, hash};
use crate::domain::{ColourFrame, PictureSize};

/// Containers that are opened. Playlists and scripts are not among them: such a file, renamed,
/// could make FFmpeg open other files or the network.
const CONTAINERS: &str =
    "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,mpegts,mpeg,mpegvideo,ogg,h264,hevc,asf,flv,mxf";

/// More pixels than 8K video; beyond this a header is taken to be damaged.
pub(super) const MOST_PIXELS: i64 = 8192 * 4320;

/// The flag that the reader looks at, exchangeable while libav holds on to it.
#[derive(Clone, Default)]
pub(super) struct CancelSlot(Arc<Mutex<CancelToken>>);

impl CancelSlot {
    pub fn set(&self, token: CancelToken) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = token;
    }

    pub fn token(&self) -> CancelToken {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    pub fn is_cancelled(&self) -> bool {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).is_cancelled()
    }

    pub fn check(&self) -> Result<(), VideoError> {
        if self.is_cancelled() { Err(VideoError::Cancelled) } else { Ok(()) }
    }
}

/// An error of FFmpeg in this room's words.
pub(super) fn library(error: Error) -> VideoError {
    match error {
        Error::Exit => VideoError::Cancelled,
        other => VideoError::Library { reason: other.to_string() },
    }
}

/// The system could not give the bytes of a file.
fn unread(errno: i32) -> VideoError {
    VideoError::Library { reason: std::io::Error::from_raw_os_error(errno).to_string() }
}

/// An open file, of which the packets of one stream are read.
pub(super) struct Container {
    input: format::context::Input,
    stream: usize,
}

/// What is known of the video stream before a picture is decoded.
#[derive(Clone, Debug, Default)]
pub(super) struct StreamInfo {
    pub codec: String,
    pub width: usize,
    pub height: usize,
    pub time_base: (i32, i32),
    /// How wide a pixel is, in heights.
    pub pixel_aspect: (i32, i32),
    pub turn: Turn,
    pub interlaced: bool,
    /// Pictures that the decoder may hold back for reordering.
    pub delay: usize,
    pub average_rate: Option<f64>,
    /// Entries in the container's own index; more than packets read means that data is missing.
    pub listed: usize,
    /// Of the NAL units in MP4 and Matroska packets; `None`: not H.264 or HEVC, or start codes.
    pub nal: Option<NalFormat>,
    pub audio_streams: usize,
}

/// How slices lie in the packets of a stream.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct NalFormat {
    pub hevc: bool,
    /// Bytes of each length prefix; 0: start codes (ISO/IEC 14496-10 Annex B).
    pub length_size: usize,
}

impl Container {
    /// Opens `path` and picks its video stream.
    pub fn open(path: &Path, cancel: &CancelSlot) -> Result<Self, VideoError> {
        let mut container = Self { input: open_input(path, cancel)?, stream: 0 };
        let best = container.input.streams().best(media::Type::Video).map(|s| s.index());
        let stream = best.ok_or_else(|| VideoError::NoVideoStream { path: path.into() })?;
        container.read_only(stream);
        Ok(container)
    }

    /// Opens `path` and picks its audio stream, if it has one.
    pub fn open_audio(path: &Path, cancel: &CancelSlot) -> Result<Option<Self>, VideoError> {
        let mut container = Self { input: open_input(path, cancel)?, stream: 0 };
        let best = container.input.streams().best(media::Type::Audio).map(|s| s.index());
        Ok(best.map(|stream| {
            container.read_only(stream);
            container
        }))
    }

    #[allow(unsafe_code)]
    fn read_only(&mut self, stream: usize) {
        self.stream = stream;
        // SAFETY: `streams` holds `nb_streams` valid pointers for as long as the context lives.
        unsafe {
            let context = self.input.as_mut_ptr();
            for i in (0..(*context).nb_streams as usize).filter(|&i| i != stream) {
                (**(*context).streams.add(i)).discard = ffi::AVDiscard::AVDISCARD_ALL;
            }
        }
    }

    fn stream(&self) -> ffmpeg::Stream<'_> {
        self.input.stream(self.stream).expect("the stream was found in this file")
    }

    pub fn parameters(&self) -> Parameters {
        self.stream().parameters()
    }

    /// Pixels of a picture, as the container says.
    #[allow(unsafe_code)]
    pub fn pixels(&self) -> usize {
        let parameters = self.parameters();
        // SAFETY: plain integers of live parameters.
        let (width, height) = unsafe {
            let raw = parameters.as_ptr();
            ((*raw).width, (*raw).height)
        };
        width.max(0) as usize * height.max(0) as usize
    }

    pub fn time_base(&self) -> (i32, i32) {
        let base = self.stream().time_base();
        (base.numerator(), base.denominator())
    }

    /// The value of the first of `keys` in the file's or the stream's own notes.
    pub fn note(&self, keys: &[&str]) -> Option<String> {
        let (file, stream) = (self.input.metadata(), self.stream());
        let notes = stream.metadata();
        keys.iter()
            .find_map(|key| file.get(key).or_else(|| notes.get(key)))
            .map(|text| text.trim().to_owned())
            .filter(|text| !text.is_empty())
    }

    #[allow(unsafe_code)]
    pub fn info(&mut self) -> StreamInfo {
        let audio_streams =
            self.input.streams().filter(|s| s.parameters().medium() == media::Type::Audio).count();
        let stream = self.stream();
        let parameters = stream.parameters();
        let rate = stream.avg_frame_rate();
        // SAFETY: stream and parameters belong to `self.input`, which outlives this block; the
        // name that libav returns is static; the aspect is plain data.
        unsafe {
            let (raw_stream, raw) = (stream.as_ptr(), parameters.as_ptr());
            let aspect = ffi::av_guess_sample_aspect_ratio(
                self.input.as_ptr().cast_mut(),
                raw_stream.cast_mut(),
                std::ptr::null_mut(),
            );
            use ffi::AVFieldOrder::*;
            StreamInfo {
                codec: codec_name(&parameters),
                width: (*raw).width.max(0) as usize,
                height: (*raw).height.max(0) as usize,
                time_base: self.time_base(),
                pixel_aspect: (aspect.num, aspect.den),
                turn: self.turn(),
                interlaced: !matches!((*raw).field_order, AV_FIELD_UNKNOWN | AV_FIELD_PROGRESSIVE),
                delay: (*raw).video_delay.max(0) as usize,
                average_rate: (rate.denominator() > 0 && rate.numerator() > 0)
                    .then(|| f64::from(rate.numerator()) / f64::from(rate.denominator())),
                listed: stream.frames().max(0) as usize,
                nal: nal_format(&parameters),
                audio_streams,
            }
        }
    }

    fn turn(&self) -> Turn {
        use ffmpeg::codec::packet::side_data::Type;
        let stream = self.stream();
        let matrix = stream.side_data().find(|data| data.kind() == Type::DisplayMatrix);
        let mut numbers = [0; 9];
        match matrix {
            Some(data) if data.data().len() >= 36 => {
                for (number, bytes) in numbers.iter_mut().zip(data.data().chunks_exact(4)) {
                    *number = i32::from_ne_bytes([bytes[0], bytes[1], bytes[2], bytes[3]]);
                }
                Turn::from_matrix(&numbers)
            }
            _ => Turn::default(),
        }
    }

    /// Reads the stream's next packet; false at the end of the file.
    pub fn read(&mut self, packet: &mut Packet) -> Result<bool, VideoError> {
        loop {
            // Reading does not let go of what is in it: packets of other streams, which are there
            // from the file's opening, would be lost with their data.
            clear(packet);
            match packet.read(&mut self.input) {
                Ok(()) if packet.stream() == self.stream => return Ok(true),
                Ok(()) => {}
                Err(error) => return self.end(error),
            }
        }
    }

    /// What the end of reading means. The container's own words for it are of no use: to some an
    /// unreadable disk is the end of the file, to others an unexpected end is a failing disk.
    #[allow(unsafe_code)]
    fn end(&mut self, error: Error) -> Result<bool, VideoError> {
        // SAFETY: the context is open; what it reads through is null or lives as long.
        let failed = unsafe {
            let from = (*self.input.as_mut_ptr()).pb;
            if from.is_null() { 0 } else { (*from).error }
        };
        match (error, Error::from(failed)) {
            (Error::Exit, _) | (_, Error::Exit) => Err(VideoError::Cancelled),
            // The system's own word of why it did not give the bytes.
            (_, Error::Other { errno }) if failed < 0 => Err(unread(errno)),
            // What follows damaged bytes is lost; what came before is still good.
            _ => Ok(false),
        }
    }

    /// Asks the container to go to the key frame at or before `time` (ticks); false: refused.
    #[allow(unsafe_code)]
    pub fn seek(&mut self, time: i64) -> bool {
        // SAFETY: the context is open; the stream index was checked when it was chosen; what it
        // reads through is null or lives as long.
        unsafe {
            // What failed elsewhere need not fail there.
            if let Some(from) = (*self.input.as_mut_ptr()).pb.as_mut() {
                from.error = 0;
            }
            ffi::av_seek_frame(
                self.input.as_mut_ptr(),
                self.stream as i32,
                time,
                ffi::AVSEEK_FLAG_BACKWARD,
            ) >= 0
        }
    }
}

/// From now on memory for large pictures (4K and what is shown of 1080p) goes back to the system
/// when it is let go. Left alone, the C library of most Linux systems soon keeps it in the heaps of
/// the threads that asked for it: some 100 MB with a 4K recording. Elsewhere nothing is done.
#[cfg_attr(all(target_os = "linux", target_env = "gnu"), allow(unsafe_code))]
pub fn give_back_large_pictures() {
    // SAFETY: sets a number inside the allocator, which any thread may do at any time.
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    unsafe {
        libc::mallopt(libc::M_MMAP_THRESHOLD, 4 << 20);
    }
}

/// Memory that was let go goes back to the system, where the C library keeps it otherwise: some
/// 50 MB after a 1080p recording was read in. Takes some thousandths of a second; for the end of
/// large jobs. Elsewhere nothing is done.
#[cfg_attr(all(target_os = "linux", target_env = "gnu"), allow(unsafe_code))]
pub fn give_back_memory() {
    // SAFETY: touches only memory that nobody holds, which any thread may do at any time.
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    unsafe {
        libc::malloc_trim(0);
    }
}

/// FFmpeg prints nothing by itself.
pub(super) fn be_quiet() {
    ffmpeg::log::set_level(ffmpeg::log::Level::Quiet);
}

fn open_input(path: &Path, cancel: &CancelSlot) -> Result<format::context::Input, VideoError> {
    let length = hash::open(path)?.metadata().map(|m| (m.is_file(), m.len()));
    match length {
        Ok((true, 0)) => return Err(VideoError::Empty { path: path.into() }),
        Ok((true, _)) => {}
        _ => return Err(VideoError::NotVideo { path: path.into() }),
    }
    let name = path.to_str().ok_or_else(|| VideoError::Unreadable {
        reason: "its name is not valid Unicode; rename it".into(),
        path: path.into(),
    })?;
    be_quiet();
    let mut options = Dictionary::new();
    options.set("format_whitelist", CONTAINERS);
    options.set("protocol_whitelist", "file");
    let slot = cancel.clone();
    // The scheme keeps a colon in the name from being read as one.
    let url = format!("file:{name}");
    format::input_with_interrupt_and_dictionary(&url, move || slot.is_cancelled(), options).map_err(
        |error| match error {
            Error::Exit => VideoError::Cancelled,
            // A failing disk is no fault of the file.
            _ => hash::read_ends(path).err().unwrap_or(VideoError::NotVideo { path: path.into() }),
        },
    )
}

/// FFmpeg's name of the codec; for one that it does not know at all the four characters by which
/// the file calls it.
#[allow(unsafe_code)]
pub(super) fn codec_name(parameters: &Parameters) -> String {
    // SAFETY: plain integers of live parameters; libav returns a static, NUL-terminated name for
    // every id.
    let (name, tag) = unsafe {
        let raw = parameters.as_ptr();
        let known = (*raw).codec_id != ffi::AVCodecID::AV_CODEC_ID_NONE;
        let name = known.then(|| CStr::from_ptr(ffi::avcodec_get_name((*raw).codec_id)));
        (name.map(|name| name.to_string_lossy().into_owned()), (*raw).codec_tag.to_le_bytes())
    };
    let tag = || match std::str::from_utf8(&tag) {
        Ok(text) if text.chars().all(|c| c.is_ascii_graphic() || c == ' ') => text.trim().into(),
        _ => "something unknown".into(),
    };
    name.unwrap_or_else(tag)
}

#[allow(unsafe_code)]
fn nal_format(parameters: &Parameters) -> Option<NalFormat> {
    // SAFETY: `extradata` holds `extradata_size` bytes owned by the parameters.
    let (id, extra) = unsafe {
        let raw = parameters.as_ptr();
        let (data, size) = ((*raw).extradata, (*raw).extradata_size);
        let extra: &[u8] = if data.is_null() || size <= 0 {
            &[]
        } else {
            std::slice::from_raw_parts(data, size as usize)
        };
        ((*raw).codec_id, extra)
    };
    let (hevc, at) = match id {
        ffi::AVCodecID::AV_CODEC_ID_H264 => (false, 4),
        ffi::AVCodecID::AV_CODEC_ID_HEVC => (true, 21),
        _ => return None,
    };
    // avcC and hvcC begin with version 1; anything else is in start-code form.
    let length_size = match extra {
        [1, ..] if extra.len() > at => usize::from(extra[at] & 3) + 1,
        _ => 0,
    };
    Some(NalFormat { hevc, length_size })
}

/// Tells a decoder the unit of its packets' times; AAC needs it to cut its priming samples off.
#[allow(unsafe_code)]
pub(super) fn set_packet_time_base(context: &mut Context, (num, den): (i32, i32)) {
    // SAFETY: a plain field of a context that is not open yet.
    unsafe { (*context.as_mut_ptr()).pkt_timebase = ffi::AVRational { num, den } }
}

/// Refuses sizes that no camera writes, and those that the container refused already (0).
pub(super) fn check_size(info: &StreamInfo, path: &Path) -> Result<(), VideoError> {
    let (width, height) = (info.width as i64, info.height as i64);
    if width == 0 || height == 0 {
        return Err(VideoError::NoFrames { path: path.into() });
    }
    if width.max(height) > 32_768 || width * height > MOST_PIXELS {
        return Err(VideoError::TooLarge { width, height, path: path.into() });
    }
    Ok(())
}

/// What a packet says of itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct PacketFacts {
    pub pts: Option<i64>,
    pub dts: Option<i64>,
    pub position: i64,
    pub size: usize,
    pub key: bool,
    /// Hidden by an edit list: decoded, not shown.
    pub hidden: bool,
    pub corrupt: bool,
}

#[allow(unsafe_code)]
pub(super) fn packet_facts(packet: &Packet) -> PacketFacts {
    // SAFETY: reads a plain integer of a packet that is borrowed.
    let flags = unsafe { (*packet.as_ptr()).flags };
    PacketFacts {
        pts: packet.pts(),
        dts: packet.dts(),
        position: packet.position() as i64,
        size: packet.size(),
        key: flags & ffi::AV_PKT_FLAG_KEY != 0,
        hidden: flags & ffi::AV_PKT_FLAG_DISCARD != 0,
        corrupt: flags & ffi::AV_PKT_FLAG_CORRUPT != 0,
    }
}

/// Drops the data of a packet, so that it can be read into again.
#[allow(unsafe_code)]
pub(super) fn clear(packet: &mut Packet) {
    // SAFETY: a packet may be unreferenced at any time; it is then empty.
    unsafe { ffi::av_packet_unref(packet.as_mut_ptr()) }
}

/// How a decoder shares its work out.
#[derive(Clone, Copy)]
pub(super) struct Threading {
    pub count: usize,
    /// Several pictures at once: faster in a row, slower for a single one.
    pub by_frame: bool,
    /// Leaves out the smoothing of block edges: not exact, good enough for a small picture.
    pub rough: bool,
}

/// Decoding threads: one for each core, eight at most; fewer for large pictures, since each
/// holds some.
fn threads(pixels: usize) -> usize {
    const PIXELS_IN_ALL: usize = 48 << 20;
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    cores.min(8).min((PIXELS_IN_ALL / pixels.max(1)).max(2))
}

/// What a reader is for.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Use {
    /// Exact pictures, many in a row.
    Exact,
    /// Small or passing pictures of key frames.
    KeyFrames,
    /// A clip of key frames only, exactly.
    Intra,
    /// Exact pictures that nobody waits for: as few held as can be.
    Aside,
}

impl Use {
    /// For pictures of so many pixels.
    pub fn threading(self, pixels: usize) -> Threading {
        let count = if self == Self::Aside { 1 } else { threads(pixels) };
        Threading { count, by_frame: self == Self::Exact, rough: self == Self::KeyFrames }
    }
}

/// A video decoder for `parameters`.
///
/// `delay`: pictures it must hold back at least, so that it never has to guess the depth of
/// reordering from the first pictures after a seek.
#[allow(unsafe_code)]
pub(super) fn open_decoder(
    parameters: Parameters,
    delay: usize,
    threading: Threading,
) -> Result<decoder::Video, VideoError> {
    let codec = codec_name(&parameters);
    // The caller, who knows the path, puts it in.
    let failed = |error| match error {
        Error::DecoderNotFound => VideoError::NoDecoder { codec, path: Default::default() },
        _ => VideoError::NoFrames { path: Default::default() },
    };
    let mut context = Context::from_parameters(parameters).map_err(library)?;
    // SAFETY: the context is not open yet; these fields may be set then.
    unsafe {
        let raw = context.as_mut_ptr();
        (*raw).has_b_frames = (*raw).has_b_frames.max(delay as i32);
        (*raw).thread_count = threading.count as i32;
        (*raw).thread_type = if threading.by_frame {
            ffi::FF_THREAD_FRAME | ffi::FF_THREAD_SLICE
        } else {
            ffi::FF_THREAD_SLICE
        };
        if threading.rough {
            (*raw).skip_loop_filter = ffi::AVDiscard::AVDISCARD_ALL;
        }
        (*raw).max_pixels = MOST_PIXELS;
    }
    context.decoder().video().map_err(failed)
}

/// A decoded picture of `libav`, read-only.
pub(super) struct VideoFrame {
    frame: frame::Video,
    pub tags: ColourTags,
}

/// How a picture's values stand for colours.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub(super) struct ColourTags {
    /// libswscale's number for the colour matrix.
    pub matrix: i32,
    /// Values run from 16 to 235 (in 8 bits) instead of 0 to 255.
    pub limited: bool,
    pub transfer: Transfer,
    /// In the primaries of BT.2020.
    pub wide: bool,
}

// SAFETY: the picture is reference-counted with atomics and never written after decoding.
#[allow(unsafe_code)]
unsafe impl Sync for VideoFrame {}

/// Takes away what a camera or coder noted beside a picture.
#[allow(unsafe_code)]
fn forget_notes(frame: &mut frame::Video) {
    // SAFETY: `side_data` holds `nb_side_data` valid pointers; removing a kind takes away at least
    // the first, so that this ends.
    unsafe {
        let raw = frame.as_mut_ptr();
        let first = || ((*raw).nb_side_data > 0).then(|| (**(*raw).side_data).type_);
        while let Some(kind) = first() {
            ffi::av_frame_remove_side_data(raw, kind);
        }
    }
}

#[allow(unsafe_code)]
fn is_limited(frame: &frame::Video) -> bool {
    // SAFETY: plain integers of a live frame; names of formats are static.
    unsafe {
        let full = (*frame.as_ptr()).color_range == ffi::AVColorRange::AVCOL_RANGE_JPEG;
        let name = descriptor(frame).map(|d| CStr::from_ptr((*d).name).to_bytes());
        !full && !name.is_some_and(|n| n.starts_with(b"yuvj") || n.starts_with(b"gray"))
    }
}

#[allow(unsafe_code)]
fn descriptor(frame: &frame::Video) -> Option<*const ffi::AVPixFmtDescriptor> {
    // SAFETY: a decoded frame's format is one that libav knows; the description is static.
    let found = unsafe {
        let format: ffi::AVPixelFormat = std::mem::transmute((*frame.as_ptr()).format);
        ffi::av_pix_fmt_desc_get(format)
    };
    (!found.is_null()).then_some(found)
}

/// One component of a picture: how to find its values in memory.
pub(super) struct Component<'a> {
    frame: &'a VideoFrame,
    plane: usize,
    /// Bytes from one value to the next.
    pub step: usize,
    pub offset: usize,
    /// Bits to drop below the value.
    pub shift: u32,
    /// Bits in the value.
    pub depth: u32,
}

impl VideoFrame {
    pub fn new(frame: frame::Video) -> Self {
        use ffmpeg::color::TransferCharacteristic;
        let transfer = match frame.color_transfer_characteristic() {
            TransferCharacteristic::SMPTE2084 => Transfer::Pq,
            TransferCharacteristic::ARIB_STD_B67 => Transfer::Hlg,
            _ => Transfer::Ordinary,
        };
        let tags = ColourTags {
            matrix: matrix_of(&frame),
            limited: is_limited(&frame),
            transfer,
            wide: frame.color_primaries() == ffmpeg::color::Primaries::BT2020,
        };
        Self { frame, tags }
    }

    /// The same picture in memory of its own. A decoder keeps the memory of every picture that
    /// was ever out at once; those that are kept must not be its own.
    pub fn detached(&self) -> Self {
        Self { frame: self.frame.clone(), tags: self.tags }
    }

    /// Like [`VideoFrame::detached`], in the memory of `old` where that fits.
    pub fn copied_into(&self, mut old: Self) -> Self {
        let (from, to) = (&self.frame, &mut old.frame);
        let fits =
            (from.format(), from.width(), from.height()) == (to.format(), to.width(), to.height());
        if !fits {
            return self.detached();
        }
        // Notes that come with each picture would be added to those of the one before.
        forget_notes(to);
        to.clone_from(from);
        old.tags = self.tags;
        old
    }

    pub fn width(&self) -> usize {
        self.frame.width() as usize
    }

    pub fn height(&self) -> usize {
        self.frame.height() as usize
    }

    /// Bytes that the picture keeps in memory.
    #[allow(unsafe_code)]
    pub fn bytes(&self) -> usize {
        // SAFETY: unused entries of `buf` are null; used ones are valid while the frame lives.
        unsafe {
            let buffers = (*self.frame.as_ptr()).buf;
            buffers.iter().filter(|b| !b.is_null()).map(|b| (**b).size).sum()
        }
    }

    pub fn as_video(&self) -> &frame::Video {
        &self.frame
    }

    /// The luma values, where the format has them as whole bytes or little-endian 16-bit words.
    #[allow(unsafe_code)]
    pub fn luma(&self) -> Option<Component<'_>> {
        // SAFETY: descriptions are static.
        let (flags, luma) = unsafe {
            let found = descriptor(&self.frame)?;
            ((*found).flags, (*found).comp[0])
        };
        let refused = ffi::AV_PIX_FMT_FLAG_RGB
            | ffi::AV_PIX_FMT_FLAG_PAL
            | ffi::AV_PIX_FMT_FLAG_BITSTREAM
            | ffi::AV_PIX_FMT_FLAG_HWACCEL
            | ffi::AV_PIX_FMT_FLAG_BE
            | ffi::AV_PIX_FMT_FLAG_FLOAT;
        if flags & refused as u64 != 0 || !(8..=16).contains(&luma.depth) {
            return None;
        }
        Some(Component {
            frame: self,
            plane: luma.plane as usize,
            step: luma.step as usize,
            offset: luma.offset as usize,
            shift: luma.shift as u32,
            depth: luma.depth as u32,
        })
    }
}

impl Component<'_> {
    /// The bytes of row `y`, from the first value to the last.
    #[allow(unsafe_code)]
    pub fn row(&self, y: usize) -> &[u8] {
        let frame = &self.frame.frame;
        assert!(y < frame.height() as usize && self.plane < 4);
        let value_bytes = if self.depth > 8 { 2 } else { 1 };
        let length = (frame.width() as usize - 1) * self.step + value_bytes;
        // SAFETY: libav lays out `height` rows `linesize` bytes apart (negative: bottom up), each
        // of at least `width` pixels; component 0 is never subsampled.
        unsafe {
            let raw = frame.as_ptr();
            let stride = (*raw).linesize[self.plane] as isize;
            let start = (*raw).data[self.plane].offset(stride * y as isize).add(self.offset);
            std::slice::from_raw_parts(start, length)
        }
    }
}

/// Converts pictures to one packed format with libswscale, in the picture's own colour matrix.
pub(super) struct Scaler {
    to: format::Pixel,
    context: Option<ffmpeg::software::scaling::Context>,
    /// What the context was made for.
    made_for: Option<(format::Pixel, u32, u32, PictureSize, ColourTags)>,
}

// SAFETY: a scaling context has no ties to the thread that made it.
#[allow(unsafe_code)]
unsafe impl Send for Scaler {}

impl Scaler {
    pub fn new(to: format::Pixel) -> Self {
        Self { to, context: None, made_for: None }
    }

    /// Writes the picture's pixels in `size` to `out`, row by row without padding.
    #[allow(unsafe_code)]
    pub fn run(
        &mut self,
        picture: &VideoFrame,
        size: PictureSize,
        out: &mut Vec<u8>,
    ) -> Result<(), VideoError> {
        let from = picture.as_video();
        self.prepare(from, size, picture.tags, true)?;
        let bytes_a_pixel = if self.to == format::Pixel::RGBA { 4 } else { 1 };
        let row = size.width * bytes_a_pixel;
        // libswscale's vector code may write past the end of the last row.
        const OVERRUN: usize = 128;
        out.resize(row * size.height + OVERRUN, 0);
        let context = self.context.as_mut().expect("made above");
        // SAFETY: the source is a decoded picture of the size and format that the context was made
        // for; the target has `size.height` rows of `row` bytes and room for the overrun.
        let rows = unsafe {
            let (source, strides) = ((*from.as_ptr()).data, (*from.as_ptr()).linesize);
            let target = [
                out.as_mut_ptr(),
                std::ptr::null_mut(),
                std::ptr::null_mut(),
                std::ptr::null_mut(),
            ];
            ffi::sws_scale(
                context.as_mut_ptr(),
                source.as_ptr().cast(),
                strides.as_ptr(),
                0,
                from.height() as i32,
                target.as_ptr().cast(),
                [row as i32, 0, 0, 0].as_ptr(),
            )
        };
        out.truncate(row * size.height);
        if rows <= 0 {
            return Err(VideoError::Library { reason: "colour conversion failed".into() });
        }
        Ok(())
    }

    /// A coloured picture as limited-range BT.709, as clips for watching are.
    pub fn convert_for_clip(
        &mut self,
        from: &frame::Video,
        to: &mut frame::Video,
    ) -> Result<(), VideoError> {
        let size = PictureSize { width: to.width() as usize, height: to.height() as usize };
        let tags = ColourTags { matrix: ffi::SWS_CS_ITU709, ..ColourTags::default() };
        self.prepare(from, size, tags, false)?;
        self.context.as_mut().expect("prepared").run(from, to).map_err(library)
    }

    /// A decoded picture in limited range, in its own colour matrix.
    pub fn convert_to_limited(
        &mut self,
        from: &VideoFrame,
        to: &mut frame::Video,
    ) -> Result<(), VideoError> {
        let size = PictureSize { width: to.width() as usize, height: to.height() as usize };
        self.prepare(&from.frame, size, from.tags, false)?;
        self.context.as_mut().expect("prepared").run(&from.frame, to).map_err(library)
    }

    #[allow(unsafe_code)]
    fn prepare(
        &mut self,
        from: &frame::Video,
        size: PictureSize,
        tags: ColourTags,
        to_full_range: bool,
    ) -> Result<(), VideoError> {
        use ffmpeg::software::scaling::{Context, Flags};
        let key = (from.format(), from.width(), from.height(), size, tags);
        if self.made_for == Some(key) {
            return Ok(());
        }
        let mut context = Context::get(
            from.format(),
            from.width(),
            from.height(),
            self.to,
            size.width as u32,
            size.height as u32,
            Flags::BILINEAR,
        )
        .map_err(library)?;
        // SAFETY: the coefficient tables are static; a refusal leaves the defaults.
        unsafe {
            let coefficients = ffi::sws_getCoefficients(tags.matrix);
            ffi::sws_setColorspaceDetails(
                context.as_mut_ptr(),
                coefficients,
                i32::from(!tags.limited),
                coefficients,
                i32::from(to_full_range),
                0,
                1 << 16,
                1 << 16,
            );
        }
        (self.context, self.made_for) = (Some(context), Some(key));
        Ok(())
    }
}

/// Copies a picture into a frame of its size.
pub(super) fn fill_rgba(frame: &mut frame::Video, picture: &ColourFrame) {
    let stride = frame.stride(0);
    let row = 4 * picture.width;
    for (to, from) in frame.data_mut(0).chunks_mut(stride).zip(picture.data.chunks_exact(row)) {
        to[..row].copy_from_slice(from);
    }
}

/// libswscale's number for the picture's colour matrix. Unnamed: BT.709 from 720 rows on, else
/// BT.601, as players take it (common practice, no source).
fn matrix_of(frame: &frame::Video) -> i32 {
    use ffmpeg::color::Space;
    match frame.color_space() {
        Space::BT709 => ffi::SWS_CS_ITU709,
        Space::BT2020NCL | Space::BT2020CL => ffi::SWS_CS_BT2020,
        Space::FCC => ffi::SWS_CS_FCC,
        Space::SMPTE240M => ffi::SWS_CS_SMPTE240M,
        Space::BT470BG | Space::SMPTE170M => ffi::SWS_CS_ITU601,
        _ if frame.height() >= 720 => ffi::SWS_CS_ITU709,
        _ => ffi::SWS_CS_ITU601,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn container() -> Container {
        let sample = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-frames/iron_turf_sheet.mp4");
        Container::open(Path::new(sample), &CancelSlot::default()).unwrap()
    }

    /// As FFmpeg does where the system's `read` fails.
    #[allow(unsafe_code)]
    fn fail(container: &mut Container, code: i32) {
        // SAFETY: plain integers of what an open context reads through.
        unsafe {
            let from = (*container.input.as_mut_ptr()).pb;
            ((*from).error, (*from).eof_reached) = (code, 1);
        }
    }

    fn read_all(container: &mut Container) -> (usize, Result<bool, VideoError>) {
        let (mut packet, mut count) = (Packet::empty(), 0);
        loop {
            match container.read(&mut packet) {
                Ok(true) => count += 1,
                end => return (count, end),
            }
        }
    }

    #[test]
    fn a_failing_disk_is_not_the_end_of_the_file() {
        let (whole, end) = read_all(&mut container());
        assert_eq!(end, Ok(false));
        for errno in [ffmpeg::error::EIO, ffmpeg::error::ENODEV, ffmpeg::error::ETIMEDOUT] {
            let mut failing = container();
            fail(&mut failing, ffi::AVERROR(errno));
            let (count, end) = read_all(&mut failing);
            assert!(count <= whole);
            let Err(VideoError::Library { reason }) = end else { panic!("{end:?}") };
            assert!(reason.contains("os error"), "{reason}");
            // Elsewhere the disk may be good.
            assert!(failing.seek(0));
            assert_eq!(read_all(&mut failing), (whole, Ok(false)));
        }
        // The end of the file, and a person who stops it, are no failing disk.
        for (code, means) in
            [(ffi::AVERROR_EOF, Ok(false)), (ffi::AVERROR_EXIT, Err(VideoError::Cancelled))]
        {
            let mut ended = container();
            fail(&mut ended, code);
            assert_eq!(read_all(&mut ended).1, means);
        }
    }

    #[allow(unsafe_code)]
    fn notes(frame: &frame::Video) -> i32 {
        // SAFETY: a plain integer of a live frame.
        unsafe { (*frame.as_ptr()).nb_side_data }
    }

    #[test]
    fn notes_beside_pictures_do_not_pile_up() {
        let mut from = frame::Video::new(format::Pixel::YUV420P, 64, 48);
        from.new_side_data(frame::side_data::Type::A53CC, 3).unwrap();
        let from = VideoFrame::new(from);
        let mut copy = from.detached();
        for _ in 0..100 {
            copy = from.copied_into(copy);
        }
        assert!(notes(&copy.frame) <= 1, "{}", notes(&copy.frame));
    }
}
