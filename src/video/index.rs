//! The frame index: which packets there are, which of them are shown, and in what order.

use serde::{Deserialize, Serialize};

use super::VideoError;
use super::libav::{Container, NalFormat, PacketFacts, StreamInfo, clear, packet_facts};
use crate::domain::{FrameEntry, FrameIndex, Pts, TimeBase, Timeline};

/// One packet of the video stream. Its place in the list is its ordinal: the name by which a
/// decoded picture is known.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct PacketEntry {
    pub pts: Option<i64>,
    pub dts: Option<i64>,
    pub position: i64,
    pub size: u32,
    pub key: bool,
    /// Decoded, but hidden by an edit list.
    pub hidden: bool,
    /// Nothing else is decoded from this picture, so it may be left out on the way to another.
    pub disposable: bool,
    /// Place in the order of showing, hidden packets included.
    pub order: u32,
    /// The frame it becomes, if it becomes one.
    pub frame: Option<u32>,
}

/// A frame: the packet it comes from and its time stamp.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct IndexedFrame {
    pub pts: i64,
    pub packet: u32,
}

/// All packets and frames of a recording's video stream. It can be kept and given back to
/// [`super::Recording::open_with`] to save building it again; it is only good for the same content.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Index {
    pub(super) time_base: (i32, i32),
    pub(super) packets: Vec<PacketEntry>,
    pub(super) frames: Vec<IndexedFrame>,
    /// Largest number of pictures that are decoded before, but shown after, another one.
    pub(super) depth: u32,
    /// Packets that the container lists but the file does not hold.
    pub(super) missing: u32,
    /// Frames without a time of their own in the file; theirs are inferred from the frame rate.
    pub(super) untimed: u32,
}

/// The version of [`Index::to_bytes`].
const FORMAT: u8 = 2;

impl PacketEntry {
    fn numbers(&self) -> [i64; 6] {
        let frame = self.frame.map_or(0, i64::from);
        let (pts, dts) = (self.pts.unwrap_or(0), self.dts.unwrap_or(0));
        [pts, dts, self.position, self.size.into(), self.order.into(), frame]
    }

    fn from_numbers(bits: u8, [pts, dts, position, size, order, frame]: [i64; 6]) -> Option<Self> {
        let flag = |bit: u8| bits >> bit & 1 == 1;
        Some(Self {
            pts: flag(3).then_some(pts),
            dts: flag(4).then_some(dts),
            position,
            size: size.try_into().ok()?,
            key: flag(0),
            hidden: flag(1),
            disposable: flag(2),
            order: order.try_into().ok()?,
            frame: if flag(5) { Some(frame.try_into().ok()?) } else { None },
        })
    }
}

/// Appends a number in groups of seven bits, small ones of either sign in few.
fn put(out: &mut Vec<u8>, number: i64) {
    let mut rest = (number << 1 ^ number >> 63) as u64;
    while rest >= 128 {
        out.push(rest as u8 | 128);
        rest >>= 7;
    }
    out.push(rest as u8);
}

fn take_number(bytes: &mut &[u8]) -> Option<i64> {
    let mut value = 0u64;
    for shift in (0..64).step_by(7) {
        let (&byte, rest) = bytes.split_first()?;
        *bytes = rest;
        value |= u64::from(byte & 127) << shift;
        if byte < 128 {
            return Some((value >> 1) as i64 ^ -((value & 1) as i64));
        }
    }
    None
}

fn take_as<T: TryFrom<i64>>(bytes: &mut &[u8]) -> Option<T> {
    take_number(bytes)?.try_into().ok()
}

impl Index {
    /// The frames as the rest of the program knows them.
    pub(super) fn timeline(&self, slow_factor: f64) -> Timeline {
        let entry = |frame: &IndexedFrame| FrameEntry {
            pts: Pts(frame.pts),
            key: self.packets[frame.packet as usize].key,
        };
        Timeline {
            time_base: TimeBase { numerator: self.time_base.0, denominator: self.time_base.1 },
            frames: self.frames.iter().map(entry).collect(),
            slow_factor,
        }
    }

    /// The packets from which `frame` can be decoded, nearest first.
    ///
    /// A key frame serves if it comes before the frame both in the file and on the screen:
    /// pictures shown before a key frame but stored after it (open GOP) need the one before.
    pub(super) fn starts_for(&self, frame: FrameIndex) -> impl Iterator<Item = usize> + '_ {
        let target = self.frames[frame.0].packet as usize;
        let order = self.packets[target].order;
        (0..=target)
            .rev()
            .filter(move |&n| n == 0 || (self.packets[n].key && self.packets[n].order <= order))
    }

    /// The index in a compact form, about 12 bytes a frame.
    pub fn to_bytes(&self) -> Vec<u8> {
        let mut out = vec![FORMAT];
        let head = [self.time_base.0.into(), self.time_base.1.into(), self.depth.into()];
        let (packets, frames) = (self.packets.len() as i64, self.frames.len() as i64);
        let counts = [self.missing.into(), self.untimed.into(), packets, frames];
        head.iter().chain(&counts).for_each(|&number| put(&mut out, number));
        let mut before = PacketEntry::default();
        for packet in &self.packets {
            let flags = [packet.key, packet.hidden, packet.disposable, packet.pts.is_some()];
            let more = [packet.dts.is_some(), packet.frame.is_some()];
            let bits = flags.iter().chain(&more).rev().fold(0u8, |sum, &f| sum << 1 | u8::from(f));
            out.push(bits);
            for (now, last) in packet.numbers().into_iter().zip(before.numbers()) {
                put(&mut out, now.wrapping_sub(last));
            }
            before = *packet;
        }
        let mut last = 0i64;
        for frame in &self.frames {
            put(&mut out, frame.pts.wrapping_sub(last));
            put(&mut out, frame.packet.into());
            last = frame.pts;
        }
        out
    }

    /// The index from its compact form; `None` if it is damaged or of another version.
    pub fn from_bytes(bytes: &[u8]) -> Option<Self> {
        let (&format, mut rest) = bytes.split_first()?;
        if format != FORMAT {
            return None;
        }
        let take = &mut rest;
        let time_base = (take_as(take)?, take_as(take)?);
        let (depth, missing, untimed) = (take_as(take)?, take_as(take)?, take_as(take)?);
        let counts: [usize; 2] = [take_as(take)?, take_as(take)?];
        // Every packet takes 7 bytes at least: a damaged count must not reserve memory.
        if counts.iter().any(|&count| count > bytes.len()) {
            return None;
        }
        let mut before = PacketEntry::default();
        let mut packets = Vec::with_capacity(counts[0]);
        for _ in 0..counts[0] {
            let (&bits, after) = take.split_first()?;
            *take = after;
            let mut numbers = before.numbers();
            for number in &mut numbers {
                *number = number.wrapping_add(take_number(take)?);
            }
            before = PacketEntry::from_numbers(bits, numbers)?;
            packets.push(before);
        }
        let mut last = 0i64;
        let mut frames = Vec::with_capacity(counts[1]);
        for _ in 0..counts[1] {
            last = last.wrapping_add(take_number(take)?);
            frames.push(IndexedFrame { pts: last, packet: take_as(take)? });
        }
        let index = Self { time_base, packets, frames, depth, missing, untimed };
        index.is_consistent().then_some(index)
    }

    /// Sums of structure that hold for every index built here; an index from outside is checked.
    pub(super) fn is_consistent(&self) -> bool {
        let frames = self.frames.len();
        !self.frames.is_empty()
            && self.time_base.0 > 0
            && self.time_base.1 > 0
            && self.frames.iter().enumerate().all(|(i, f)| {
                self.packets.get(f.packet as usize).is_some_and(|p| p.frame == Some(i as u32))
            })
            && self.packets.iter().filter(|p| p.frame.is_some()).count() == frames
    }
}

/// The packets of the stream, and whether they alone tell the frames.
pub(super) struct PacketTable {
    pub packets: Vec<PacketEntry>,
    pub corrupt: usize,
}

/// Reads all packets, no picture.
pub(super) fn read_packets(
    container: &mut Container,
    info: &StreamInfo,
    check: &dyn Fn() -> Result<(), VideoError>,
) -> Result<PacketTable, VideoError> {
    let mut packet = ffmpeg_next::Packet::empty();
    let mut table = PacketTable { packets: Vec::new(), corrupt: 0 };
    let mut layers = Vec::new();
    while container.read(&mut packet)? {
        check()?;
        let facts = packet_facts(&packet);
        table.corrupt += usize::from(facts.corrupt);
        let slices = info.nal.and_then(|nal| slices(packet.data()?, nal));
        layers.push(slices.map(|s| s.temporal_layer));
        table.packets.push(entry(&facts, slices.is_some_and(|s| !s.referenced)));
        clear(&mut packet);
    }
    // HEVC's "not referenced" speaks of the picture's own temporal layer only (ITU-T H.265,
    // 7.4.2.2): a picture below the highest layer may still serve one above it.
    let highest = layers.iter().flatten().max().copied();
    for (packet, layer) in table.packets.iter_mut().zip(layers) {
        packet.disposable &= layer == highest;
    }
    Ok(table)
}

fn entry(facts: &PacketFacts, disposable: bool) -> PacketEntry {
    PacketEntry {
        pts: facts.pts,
        dts: facts.dts,
        position: facts.position,
        size: facts.size as u32,
        key: facts.key,
        hidden: facts.hidden,
        disposable,
        order: 0,
        frame: None,
    }
}

/// What the slices of a packet say.
#[derive(Clone, Copy)]
struct Slices {
    referenced: bool,
    temporal_layer: u8,
}

/// Looks at the NAL unit headers of a packet (ITU-T H.264 7.3.1, H.265 7.3.1.2); `None` if they
/// do not parse or hold no slice.
fn slices(data: &[u8], nal: NalFormat) -> Option<Slices> {
    let mut found: Option<Slices> = None;
    for_each_nal(data, nal.length_size, &mut |unit| {
        let first = unit[0];
        let slice = if nal.hevc {
            let kind = first >> 1 & 63;
            (kind < 32).then(|| Slices {
                // Even types below 16 are sub-layer non-reference pictures.
                referenced: kind >= 16 || kind & 1 == 1,
                temporal_layer: unit.get(1).map_or(0, |b| b & 7),
            })
        } else {
            (1..=5)
                .contains(&(first & 31))
                .then_some(Slices { referenced: first >> 5 & 3 != 0, temporal_layer: 0 })
        };
        if let Some(slice) = slice {
            let so_far = found.unwrap_or(Slices { referenced: false, ..slice });
            found = Some(Slices {
                referenced: so_far.referenced || slice.referenced,
                temporal_layer: so_far.temporal_layer.max(slice.temporal_layer),
            });
        }
    })?;
    found
}

fn for_each_nal(data: &[u8], length_size: usize, each: &mut dyn FnMut(&[u8])) -> Option<()> {
    if length_size == 0 {
        let mut rest = data;
        while let Some(at) = rest.windows(3).position(|w| w == [0, 0, 1]) {
            rest = &rest[at + 3..];
            if !rest.is_empty() {
                each(rest);
            }
        }
        return Some(());
    }
    let mut rest = data;
    while rest.len() > length_size {
        let (prefix, body) = rest.split_at(length_size);
        let length = prefix.iter().fold(0usize, |sum, &b| sum << 8 | usize::from(b));
        if length == 0 || length > body.len() {
            return None;
        }
        each(&body[..length]);
        rest = &body[length..];
    }
    Some(())
}

/// Whether the packets' own time stamps settle which frames there are and in what order.
pub(super) fn stamps_suffice(packets: &[PacketEntry], info: &StreamInfo, corrupt: usize) -> bool {
    let mut stamps: Vec<i64> = packets.iter().filter_map(|p| p.pts).collect();
    let complete = stamps.len() == packets.len();
    stamps.sort_unstable();
    let unique = stamps.windows(2).all(|pair| pair[0] != pair[1]);
    // Reordering without a trace of it in the stamps: the container does not know the order.
    let reordered = info.delay > 0 && packets.len() > 2 && packets.iter().all(|p| p.pts == p.dts);
    // Fields of an interlaced picture may come as packets of their own.
    complete
        && unique
        && !reordered
        && !info.interlaced
        && corrupt == 0
        && packets.iter().all(|p| p.size > 0)
}

/// Numbers the packets in the order of their time stamps; all of them are known and differ.
pub(super) fn order_by_stamps(packets: &mut [PacketEntry]) {
    let mut by_time: Vec<u32> = (0..packets.len() as u32).collect();
    by_time.sort_by_key(|&n| packets[n as usize].pts);
    for (order, &n) in by_time.iter().enumerate() {
        packets[n as usize].order = order as u32;
    }
}

/// Whether the order of showing is one that a codec makes: it holds back 16 pictures at most
/// (ITU-T H.264 A.3.1, H.265 A.4.2). Stamps that run backwards or jump about ask for more.
pub(super) fn is_reordering(packets: &[PacketEntry]) -> bool {
    const MOST: usize = 16;
    packets.iter().enumerate().all(|(n, packet)| n.abs_diff(packet.order as usize) <= MOST)
}

/// Numbers the packets by the order in which the decoder showed them. A packet that was not
/// shown stands where the next shown one of those after it in the file stands.
pub(super) fn order_by_showing(packets: &mut [PacketEntry], shown: &[u32]) {
    let mut place = vec![None; packets.len()];
    for (order, &n) in shown.iter().enumerate() {
        place[n as usize] = Some(order as u32);
    }
    let mut next = shown.len() as u32;
    for (packet, place) in packets.iter_mut().zip(place).rev() {
        packet.order = place.unwrap_or(next);
        next = packet.order;
    }
}

/// Makes the index of `packets`, of which those in `shown` are frames, in that order.
pub(super) fn assemble(mut packets: Vec<PacketEntry>, shown: &[u32], info: &StreamInfo) -> Index {
    for (i, &n) in shown.iter().enumerate() {
        packets[n as usize].frame = Some(i as u32);
    }
    let stamps = stamps_of(&packets, shown, info);
    let no_time = |&&n: &&u32| packets[n as usize].pts.or(packets[n as usize].dts).is_none();
    let untimed = shown.iter().filter(no_time).count() as u32;
    let frames = shown.iter().zip(stamps).map(|(&packet, pts)| IndexedFrame { pts, packet });
    Index {
        time_base: info.time_base,
        frames: frames.collect(),
        depth: reorder_depth(&packets),
        missing: info.listed.saturating_sub(packets.len()) as u32,
        untimed,
        packets,
    }
}

/// The time stamp of each shown frame.
///
/// Where stamps run against the order of showing they are dealt out in ascending order. Where
/// some are missing (AVI knows decoding times only), the decoding times are dealt out, shifted
/// so that they meet the stamps that are known.
fn stamps_of(packets: &[PacketEntry], shown: &[u32], info: &StreamInfo) -> Vec<i64> {
    let packet = |n: &u32| &packets[*n as usize];
    if let Some(mut own) = shown.iter().map(|n| packet(n).pts).collect::<Option<Vec<i64>>>() {
        own.sort_unstable();
        return own;
    }
    let decoding = shown.iter().map(|n| packet(n).dts.or(packet(n).pts));
    let Some(mut times) = decoding.collect::<Option<Vec<i64>>>() else {
        let known: Vec<_> = shown.iter().map(|n| packet(n).pts.or(packet(n).dts)).collect();
        return fill_in(&known, spacing(info));
    };
    times.sort_unstable();
    let pairs = shown.iter().zip(&times);
    let mut shifts: Vec<i64> =
        pairs.filter_map(|(n, time)| packet(n).pts.map(|pts| pts.saturating_sub(*time))).collect();
    shifts.sort_unstable();
    let shift = shifts.get(shifts.len() / 2).copied().unwrap_or(0);
    times.iter().map(|time| time.saturating_add(shift)).collect()
}

/// Ticks from frame to frame by the file's frame rate; 1 where it has none.
fn spacing(info: &StreamInfo) -> f64 {
    let rate = info.average_rate.filter(|rate| rate.is_finite() && *rate > 0.0);
    let (numerator, denominator) = info.time_base;
    let ticks = |rate: f64| f64::from(denominator) / f64::from(numerator.max(1)) / rate;
    rate.map_or(1.0, ticks).max(1.0)
}

/// Unknown times lie `spacing` apart: after the last known one, and before the first.
fn fill_in(known: &[Option<i64>], spacing: f64) -> Vec<i64> {
    let first = known.iter().position(Option::is_some);
    let mut anchor = match first {
        Some(at) => (at, known[at].unwrap_or(0)),
        None => (0, 0),
    };
    let mut last = i64::MIN;
    let mut times = Vec::with_capacity(known.len());
    for (i, time) in known.iter().enumerate() {
        if let Some(time) = time {
            anchor = (i, *time);
        }
        let steps = (i as f64 - anchor.0 as f64) * spacing;
        // A known time is met again, never passed.
        last = anchor.1.saturating_add(steps.round() as i64).max(last);
        times.push(last);
    }
    times
}

/// Over all packets, the most that come before it in the file but after it on the screen.
fn reorder_depth(packets: &[PacketEntry]) -> u32 {
    // Only the neighbourhood counts: codecs keep at most 16 pictures.
    const WINDOW: usize = 32;
    (0..packets.len())
        .map(|n| {
            let before = &packets[n.saturating_sub(WINDOW)..n];
            before.iter().filter(|p| p.order > packets[n].order).count()
        })
        .max()
        .unwrap_or(0)
        .min(16) as u32
}

/// Decodes the whole file and returns the packets' ordinals in the order of showing.
pub(super) fn decode_order(
    container: &mut Container,
    packets: &[PacketEntry],
    delay: usize,
    check: &dyn Fn() -> Result<(), VideoError>,
    until: Option<u32>,
) -> Result<Vec<u32>, VideoError> {
    let mut decoder = super::libav::open_decoder(
        container.parameters(),
        delay,
        super::libav::Use::Exact.threading(container.pixels()),
    )?;
    let (mut packet, mut frame) =
        (ffmpeg_next::Packet::empty(), ffmpeg_next::frame::Video::empty());
    let mut shown = Vec::new();
    let mut seen = vec![false; packets.len()];
    let mut next = 0;
    loop {
        check()?;
        match decoder.receive_frame(&mut frame) {
            Ok(()) => {
                let ordinal = frame.pts().unwrap_or(-1);
                if let Some(seen) = usize::try_from(ordinal).ok().and_then(|n| seen.get_mut(n)) {
                    // A picture that is given twice is one frame.
                    if !std::mem::replace(seen, true) {
                        shown.push(ordinal as u32);
                    }
                }
                if until.is_some_and(|last| last as i64 == ordinal) {
                    return Ok(shown);
                }
            }
            Err(ffmpeg_next::Error::Eof) => return Ok(shown),
            Err(ffmpeg_next::Error::Exit) => return Err(VideoError::Cancelled),
            Err(_) => {
                if container.read(&mut packet)? {
                    packet.set_pts(Some(next));
                    packet.set_dts(Some(next));
                    next += 1;
                    // A packet that does not decode yields no frame; the decoder goes on.
                    let _ = decoder.send_packet(&packet);
                    clear(&mut packet);
                } else if decoder.send_eof().is_err() {
                    return Ok(shown);
                }
            }
        }
    }
}

/// Whether pictures are shown before the first key frame: a file cut without recoding may begin
/// with such that cannot be decoded.
pub(super) fn in_doubt(packets: &[PacketEntry], first_key: usize) -> bool {
    let Some(key) = packets.get(first_key) else { return true };
    packets.iter().enumerate().any(|(n, p)| !p.hidden && (n < first_key || p.order < key.order))
}

/// The frames in the order of their stamps. Those before the first key frame, in the file or on
/// the screen, are frames only if they are among the `decodable`.
pub(super) fn shown_by_stamps(
    packets: &[PacketEntry],
    first_key: usize,
    decodable: &[u32],
) -> Vec<u32> {
    let key_order = packets.get(first_key).map_or(u32::MAX, |key| key.order);
    let mut shown: Vec<u32> = (0..packets.len())
        .filter(|&n| {
            let packet = &packets[n];
            let settled = n >= first_key && packet.order >= key_order;
            !packet.hidden && (settled || decodable.contains(&(n as u32)))
        })
        .map(|n| n as u32)
        .collect();
    shown.sort_by_key(|&n| packets[n as usize].order);
    shown
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Packets of three groups: I P B B in the file, shown I B B P.
    fn index() -> Index {
        let mut packets = Vec::new();
        for group in 0..3i64 {
            for (n, place) in [0i64, 3, 1, 2].into_iter().enumerate() {
                packets.push(PacketEntry {
                    pts: Some(100 * (4 * group + place) - 50),
                    dts: (group > 0 || n > 0).then_some(100 * (4 * group + n as i64) - 300),
                    position: 1000 * packets.len() as i64,
                    size: 300 + 40 * n as u32,
                    key: n == 0,
                    disposable: n >= 2,
                    ..PacketEntry::default()
                });
            }
        }
        order_by_stamps(&mut packets);
        let shown = shown_by_stamps(&packets, 0, &[]);
        let info = StreamInfo { time_base: (1, 9000), listed: 13, ..StreamInfo::default() };
        assemble(packets, &shown, &info)
    }

    #[test]
    fn the_compact_form_brings_back_the_same_index() {
        let index = index();
        let bytes = index.to_bytes();
        assert_eq!(Index::from_bytes(&bytes).as_ref(), Some(&index));
        assert!(bytes.len() < 20 * index.packets.len());
        for cut in 0..bytes.len() {
            assert_eq!(Index::from_bytes(&bytes[..cut]), None, "cut at {cut}");
        }
        let mut other = bytes.clone();
        other[0] = FORMAT + 1;
        assert_eq!(Index::from_bytes(&other), None);
    }

    #[test]
    fn extreme_numbers_survive() {
        let mut bytes = Vec::new();
        let numbers = [0, -1, 1, 63, 64, -65, i64::MAX, i64::MIN];
        numbers.iter().for_each(|&number| put(&mut bytes, number));
        let rest = &mut bytes.as_slice();
        assert!(numbers.iter().all(|&number| take_number(rest) == Some(number)));
    }

    #[test]
    fn frames_stand_in_the_order_of_showing() {
        let index = index();
        assert_eq!((index.depth, index.missing), (1, 1));
        let stamps: Vec<i64> = index.frames.iter().map(|f| f.pts).collect();
        assert_eq!(stamps, (0..12).map(|i| 100 * i - 50).collect::<Vec<_>>());
        // Frame 5 is the B stored after the P of its group; its key frame is packet 4.
        assert_eq!(index.starts_for(FrameIndex(5)).collect::<Vec<_>>(), [4, 0]);
    }

    #[test]
    fn stamps_that_run_backwards_are_no_order() {
        let ordered = |stamp: &dyn Fn(i64) -> i64| {
            let packet = |i| PacketEntry { pts: Some(stamp(i)), ..PacketEntry::default() };
            let mut packets: Vec<_> = (0..100).map(packet).collect();
            order_by_stamps(&mut packets);
            is_reordering(&packets)
        };
        assert!(ordered(&|i| i - 40) && ordered(&|i| i ^ 7));
        assert!(!ordered(&|i| -i) && !ordered(&|i| if i < 50 { i + 1000 } else { i }));
    }

    #[test]
    fn frames_without_a_time_are_spaced_by_the_frame_rate() {
        let at = |known: &[Option<i64>]| fill_in(known, 33.3);
        assert_eq!(at(&[None, None, None, None]), [0, 33, 67, 100]);
        assert_eq!(at(&[None, None, Some(0), Some(33)]), [-67, -33, 0, 33]);
        assert_eq!(at(&[Some(10), None, None, Some(50)]), [10, 43, 77, 77]);
        let info =
            |rate| StreamInfo { time_base: (1, 1000), average_rate: rate, ..StreamInfo::default() };
        assert_eq!(spacing(&info(Some(25.0))), 40.0);
        assert_eq!(spacing(&info(None)), 1.0);
    }

    #[test]
    fn leading_pictures_start_at_the_key_frame_before() {
        // I0 P2 | I4 b3: the b stored after the second key frame is shown before it.
        let packet = |pts, key| PacketEntry { pts: Some(pts), key, size: 1, ..Default::default() };
        let mut packets =
            vec![packet(0, true), packet(2, false), packet(4, true), packet(3, false)];
        order_by_stamps(&mut packets);
        let shown = shown_by_stamps(&packets, 0, &[]);
        let index = assemble(packets, &shown, &StreamInfo::default());
        assert_eq!(index.starts_for(FrameIndex(2)).collect::<Vec<_>>(), [0]);
        assert_eq!(index.starts_for(FrameIndex(3)).collect::<Vec<_>>(), [2, 0]);
    }

    #[test]
    fn slices_that_others_need_are_not_disposable() {
        let h264 = NalFormat { hevc: false, length_size: 4 };
        let hevc = NalFormat { hevc: true, length_size: 0 };
        // H.264 table 7-1: nal_ref_idc in bits 5 and 6, kind 1 is a slice, 6 is SEI.
        let reads = |data: &[u8], nal| slices(data, nal).map(|s| (s.referenced, s.temporal_layer));
        assert_eq!(reads(&[0, 0, 0, 2, 0x01, 9], h264), Some((false, 0)));
        assert_eq!(reads(&[0, 0, 0, 2, 0x41, 9], h264), Some((true, 0)));
        assert_eq!(reads(&[0, 0, 0, 1, 0x06, 0, 0, 0, 1, 0x01], h264), Some((false, 0)));
        assert_eq!(reads(&[0, 0, 0, 9, 0x01], h264), None, "a length beyond the packet");
        // H.265 table 7-1: TRAIL_N is 0, TRAIL_R 1, TSA_N 2; the second byte holds the layer.
        assert_eq!(reads(&[0, 0, 1, 0x00, 0x01, 0], hevc), Some((false, 1)));
        assert_eq!(reads(&[0, 0, 1, 0x02, 0x01, 0], hevc), Some((true, 1)));
        assert_eq!(reads(&[0, 0, 1, 0x04, 0x02, 0], hevc), Some((false, 2)));
    }
}
