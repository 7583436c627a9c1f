//! Files whose headers lie: turns, times, lengths and sizes that no camera writes. Each is read
//! to its right frames or gets a sentence; none takes the program along or fills the memory.

use std::collections::HashSet;
use std::path::{Path, PathBuf};
use std::process::Command;

use scuffline::domain::{FrameIndex, GrayFrame, Pictures, Setup};
use scuffline::video::{Index, Recording, VideoError};
use scuffline::workflow::{Progress, measure_file};

use crate::support::numbered::{HEIGHT, WIDTH, make, read_number, stored};

const X264: &str = "-c:v libx264 -pix_fmt yuv420p -preset veryfast -crf 18 -g 10";

/// Frames of the clips that are spoiled.
const FRAMES: usize = 40;

/// What has to become of a file.
#[derive(Clone, Debug)]
enum Expect {
    /// Every frame, in order, carries its number.
    Exact,
    /// The frames carry these numbers.
    Numbers(Vec<usize>),
    /// The first so many frames carry their numbers; the rest lies after the end that the edit
    /// list sets.
    Beginning,
    /// Its times are nonsense: each frame that is shown is one of the recording's, none twice.
    Distinct,
    /// Some pictures cannot be decoded; those that can carry their number.
    Damaged,
    /// It is refused with a sentence.
    Refused,
}

/// The numbers that the frames carry; `None` for one that cannot be read.
fn numbers(recording: &mut Recording) -> Vec<Option<usize>> {
    let count = recording.timeline().len();
    let mut numbers: Vec<_> = (0..count)
        .rev()
        .map(|i| {
            let gray = recording.gray(FrameIndex(i)).ok()?;
            read_number(&squeezed(&stored(recording.facts(), &gray)))
        })
        .collect();
    numbers.reverse();
    numbers
}

/// Brought to the size that numbers are read in.
fn squeezed(gray: &GrayFrame) -> GrayFrame {
    let at = |i: usize, to: usize, from: usize| (2 * i + 1) * from / (2 * to);
    let pixels = (0..HEIGHT).flat_map(|y| (0..WIDTH).map(move |x| (x, y)));
    let data = pixels
        .map(|(x, y)| gray.at(at(x, WIDTH, gray.width), at(y, HEIGHT, gray.height)))
        .collect();
    GrayFrame { width: WIDTH, height: HEIGHT, data }
}

/// Goes in by every door of a recording and returns the numbers of its frames.
fn read_all(path: &Path) -> Result<Vec<Option<usize>>, VideoError> {
    let mut recording = Recording::open(path)?;
    let timeline = recording.timeline().clone();
    let times: Vec<f64> = (0..timeline.len()).map(|i| timeline.time_of(FrameIndex(i)).0).collect();
    assert!(times.iter().all(|time| time.is_finite()) && times.is_sorted(), "{times:?}");
    assert!(timeline.duration().is_finite());
    let kept = Index::from_bytes(&recording.index().to_bytes());
    assert_eq!(kept.as_ref(), Some(recording.index()), "the index comes back as it was kept");
    let found = numbers(&mut recording);
    let facts = recording.facts().clone();
    let mut last = None;
    let _ = recording.for_each_gray(FrameIndex(0), FrameIndex(usize::MAX), &mut |frame, gray| {
        assert!(last < Some(frame.0), "a pass goes forward");
        let number = read_number(&squeezed(&stored(&facts, gray)));
        assert_eq!(number, found[frame.0], "frame {} of a pass", frame.0);
        last = Some(frame.0);
        true
    });
    for frame in [0, found.len() / 2, found.len() - 1] {
        while recording.prepare(FrameIndex(frame)) == Ok(true) {}
        let _ = recording.colour(FrameIndex(frame));
    }
    let mut sketcher = recording.sketcher()?;
    let _ = sketcher.small(FrameIndex(found.len() / 2), 0, 40);
    let _ = sketcher.near(FrameIndex(found.len() - 1), 40);
    let _ = recording.sound();
    let _ = measure_file(path, &Setup::default(), &mut Progress::silent());
    Ok(found)
}

fn verdict(found: &Result<Vec<Option<usize>>, VideoError>, expect: &Expect) -> bool {
    let Ok(numbers) = found else {
        let text = found.as_ref().unwrap_err().to_string();
        let one_sentence = text.contains(';') && !text.contains('\n') && text.len() < 600;
        return matches!(expect, Expect::Refused) && one_sentence;
    };
    let counted = numbers.iter().enumerate().all(|(i, number)| *number == Some(i));
    match expect {
        Expect::Exact => counted && numbers.len() == FRAMES,
        Expect::Numbers(expected) => {
            numbers.iter().copied().eq(expected.iter().map(|number| Some(*number)))
        }
        Expect::Beginning => counted && (1..FRAMES).contains(&numbers.len()),
        Expect::Distinct => {
            let different: HashSet<_> = numbers.iter().flatten().collect();
            let all = numbers.iter().all(|number| number.is_some_and(|number| number < FRAMES));
            all && different.len() == numbers.len()
        }
        Expect::Damaged => {
            let right = |(i, number): (usize, &Option<usize>)| number.is_none_or(|n| n == i);
            numbers.iter().enumerate().all(right) && numbers.iter().any(Option::is_some)
        }
        Expect::Refused => false,
    }
}

/// The program itself with at most 600 MB of data: it ends by itself, with a sentence if it fails.
fn within_memory(path: &Path, folder: &Path) -> Result<(), String> {
    let out = folder.join("pictures");
    let first = ["--frame", "0", "--frame", "7", "--out"].map(String::from);
    let picture = first.into_iter().chain([out.to_string_lossy().into_owned()]);
    let verbs: [(&str, Vec<String>); 3] = [
        ("index", vec!["--json".into()]),
        ("picture", picture.collect()),
        ("measure", vec!["--json".into()]),
    ];
    for (verb, more) in verbs {
        let ended = Command::new("sh")
            .args(["-c", "ulimit -d 600000; exec \"$0\" \"$@\"", env!("CARGO_BIN_EXE_scuffline")])
            .arg(verb)
            .arg(path)
            .args(more)
            .output()
            .unwrap();
        let told = String::from_utf8_lossy(&ended.stderr).into_owned();
        if ended.status.code().is_none_or(|code| code > 2) || told.contains("panicked") {
            return Err(format!("{verb}: {:?} {told}", ended.status));
        }
    }
    Ok(())
}

/// Files to spoil, and what did not go as it should.
struct Bench {
    folder: tempfile::TempDir,
    wrong: Vec<String>,
}

impl Bench {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap(), wrong: Vec::new() }
    }

    fn make(&self, name: &str, options: &str) -> Vec<u8> {
        std::fs::read(make(self.folder.path(), name, FRAMES, "30", "", options)).unwrap()
    }

    fn check(&mut self, what: &str, ending: &str, bytes: &[u8], expect: Expect) {
        let path = self.folder.path().join(format!("spoiled.{ending}"));
        std::fs::write(&path, bytes).unwrap();
        self.check_file(what, &path, expect);
    }

    fn check_file(&mut self, what: &str, path: &Path, expect: Expect) {
        let found = read_all(path);
        if !verdict(&found, &expect) {
            self.wrong.push(format!("{what}: {expect:?}, not {found:?}"));
        }
        if let Err(told) = within_memory(path, self.folder.path()) {
            self.wrong.push(format!("{what}: {told}"));
        }
    }

    fn done(self) {
        assert!(self.wrong.is_empty(), "{}", self.wrong.join("\n"));
    }
}

/// `bytes` with `new` in the place `offset` bytes after the last `name`.
fn set(bytes: &[u8], name: &[u8], offset: usize, new: &[u8]) -> Vec<u8> {
    let at = bytes.windows(name.len()).rposition(|window| window == name).expect("it is there");
    let mut bytes = bytes.to_vec();
    bytes[at + offset..at + offset + new.len()].copy_from_slice(new);
    bytes
}

fn big_endian(numbers: &[u32]) -> Vec<u8> {
    numbers.iter().flat_map(|number| number.to_be_bytes()).collect()
}

/// ISO/IEC 14496-12, 8.3.2: a b u, c d v, x y w in 16.16 and 2.30 bits.
#[test]
fn turns_that_are_none_show_the_frames() {
    let mut bench = Bench::new();
    let clip = bench.make("turned.mp4", &format!("{X264} -bf 2"));
    let one = 1 << 16;
    let half = 46_341; // of the root of 2: 45 degrees
    let unit = 1 << 30;
    for (what, matrix) in [
        ("45 degrees", [half, half, 0, -half, half, 0, 0, 0, unit]),
        ("30 degrees", [56_756, 32_768, 0, -32_768, 56_756, 0, 0, 0, unit]),
        ("nothing but zeros", [0; 9]),
        ("a line", [one, one, 0, one, one, 0, 0, 0, unit]),
        ("a point", [0, 0, 0, 0, 0, 0, 0, 0, unit]),
        ("a thousandfold", [1000 * one, 0, 0, 0, 1000 * one, 0, 0, 0, unit]),
        ("the least part", [1, 0, 0, 0, 1, 0, 0, 0, unit]),
        ("the largest numbers", [i32::MAX; 9]),
        ("the smallest numbers", [i32::MIN; 9]),
        ("both", [i32::MIN, i32::MAX, 7, i32::MAX, i32::MIN, -7, i32::MIN, i32::MAX, 0]),
        ("seen aslant", [one, 0, unit, 0, one, unit, i32::MAX, i32::MIN, 1]),
    ] {
        let numbers = matrix.map(|number: i32| number as u32);
        let bytes = set(&clip, b"tkhd", 44, &big_endian(&numbers));
        bench.check(what, "mp4", &bytes, Expect::Exact);
    }
    bench.done();
}

/// ISO/IEC 14496-12: tables of times (8.6.1), edit list (8.6.6), headers (8.2.2, 8.4.2).
#[test]
fn times_and_lengths_that_cannot_be_in_mp4() {
    let mut bench = Bench::new();
    let plain = bench.make("plain.mp4", &format!("{X264} -bf 0"));
    let reordered = bench.make("reordered.mp4", &format!("{X264} -bf 2"));
    let (huge, least) = (0x7fff_ffff_u32, 0x8000_0000_u32);
    for (what, name, offset, numbers, expect) in [
        ("no time between frames", b"stts", 16, vec![0], Expect::Exact),
        ("an age between frames", b"stts", 16, vec![huge], Expect::Beginning),
        ("time that runs backwards", b"stts", 16, vec![u32::MAX], Expect::Exact),
        ("the largest step back", b"stts", 16, vec![least], Expect::Beginning),
        ("times for no frame", b"stts", 12, vec![0], Expect::Exact),
        ("times for more frames than there are", b"stts", 12, vec![u32::MAX], Expect::Exact),
        ("more times than bytes", b"stts", 8, vec![u32::MAX], Expect::Refused),
        ("no tick in a second", b"mdhd", 16, vec![0], Expect::Beginning),
        ("a tick a second", b"mdhd", 16, vec![1], Expect::Beginning),
        ("four milliard ticks a second", b"mdhd", 16, vec![u32::MAX], Expect::Beginning),
        ("136 years", b"mdhd", 20, vec![u32::MAX], Expect::Exact),
        ("no length", b"mdhd", 20, vec![0], Expect::Exact),
        ("a film of years", b"mvhd", 20, vec![u32::MAX], Expect::Exact),
        ("a film without a clock", b"mvhd", 16, vec![0], Expect::Exact),
        ("a track of years", b"tkhd", 24, vec![u32::MAX], Expect::Exact),
        ("an edit of years", b"elst", 12, vec![huge], Expect::Exact),
        ("an edit of negative length", b"elst", 12, vec![u32::MAX], Expect::Exact),
        ("an edit of no length", b"elst", 12, vec![0], Expect::Refused),
        ("an edit that is a pause", b"elst", 16, vec![u32::MAX], Expect::Refused),
        ("an edit before the beginning", b"elst", 16, vec![least], Expect::Refused),
        ("an edit after the end", b"elst", 16, vec![huge], Expect::Refused),
        ("an edit that stands still", b"elst", 20, vec![0], Expect::Exact),
        ("more edits than bytes", b"elst", 8, vec![u32::MAX], Expect::Exact),
        ("key frames that are none", b"stss", 12, vec![huge, 0, 3, u32::MAX], Expect::Exact),
        ("no key frame", b"stss", 8, vec![0], Expect::Exact),
    ] {
        let bytes = set(&plain, name, offset, &big_endian(&numbers));
        bench.check(what, "mp4", &bytes, expect);
    }
    for (what, offsets) in [
        ("shown an age later", [huge, huge, huge, huge]),
        ("shown an age earlier", [least, least, least, least]),
        ("shown here and there", [huge, 0, least, 1]),
    ] {
        let mut bytes = reordered.clone();
        // Entries of a count and an offset.
        for (entry, offset) in offsets.into_iter().enumerate() {
            bytes = set(&bytes, b"ctts", 16 + 8 * entry, &big_endian(&[offset]));
        }
        bench.check(what, "mp4", &bytes, Expect::Distinct);
    }
    bench.done();
}

/// ISO/IEC 14496-12, 8.7: sizes and places of samples; 8.5.2: the picture's size.
#[test]
fn sizes_that_cannot_be_in_mp4() {
    let mut bench = Bench::new();
    let clip = bench.make("plain.mp4", &format!("{X264} -bf 0"));
    let (all, none) = ([0xff, 0xff, 0xff, 0xff], [0, 0, 0, 0]);
    for (what, name, offset, new, expect) in [
        ("a sample entry of 65535 x 65535", b"avc1", 28, all, Expect::Exact),
        ("a sample entry of 0 x 0", b"avc1", 28, none, Expect::Exact),
        ("a track as wide as can be", b"tkhd", 80, all, Expect::Exact),
        ("a track as high as can be", b"tkhd", 84, all, Expect::Exact),
        ("a track without width", b"tkhd", 80, none, Expect::Exact),
        ("more samples than bytes", b"stsz", 12, all, Expect::Refused),
        ("all samples of 4 GB", b"stsz", 8, all, Expect::Refused),
        ("the sixth sample of 4 GB", b"stsz", 16 + 20, all, Expect::Refused),
        ("samples beyond the end", b"stco", 12, all, Expect::Refused),
    ] {
        bench.check(what, "mp4", &set(&clip, name, offset, &new), expect);
    }
    bench.done();
}

/// Where the two bytes of the relative time of each simple block of a Matroska file are (RFC
/// 9559, 5.1.3.4 and 10).
fn block_times(bytes: &[u8]) -> Vec<usize> {
    // A number whose leading zeros tell how many bytes it has (RFC 8794, 4).
    let number = |at: usize| {
        let length = bytes[at].leading_zeros() as usize + 1;
        let first = u64::from(bytes[at]) & (0xff_u64 >> length);
        let value = bytes[at + 1..at + length].iter().fold(first, |n, b| n << 8 | u64::from(*b));
        (value as usize, length)
    };
    let mut times = Vec::new();
    let clusters = bytes.windows(4).enumerate().filter(|(_, w)| **w == [0x1f, 0x43, 0xb6, 0x75]);
    for (cluster, _) in clusters {
        let (size, length) = number(cluster + 4);
        let (mut at, end) = (cluster + 4 + length, cluster + 4 + length + size);
        while at < end.min(bytes.len()) {
            let id = bytes[at].leading_zeros() as usize + 1;
            let (size, length) = number(at + id);
            if bytes[at] == 0xa3 {
                times.push(at + id + length + 1);
            }
            at += id + length + size;
        }
    }
    times
}

#[test]
fn times_and_sizes_that_cannot_be_in_matroska() {
    let mut bench = Bench::new();
    let clip = bench.make("plain.mkv", &format!("{X264} -bf 0"));
    let places = block_times(&clip);
    assert_eq!(places.len(), FRAMES, "all are simple blocks");
    let timed = |time: &dyn Fn(usize) -> i16| {
        let mut bytes = clip.clone();
        for (i, at) in places.iter().enumerate() {
            bytes[*at..at + 2].copy_from_slice(&time(i).to_be_bytes());
        }
        bytes
    };
    bench.check("one time for all", "mkv", &timed(&|_| 5), Expect::Exact);
    bench.check("pairs of times", "mkv", &timed(&|i| 70 * (i as i16 / 2)), Expect::Exact);
    bench.check("before the beginning", "mkv", &timed(&|i| i as i16 - 32_000), Expect::Exact);
    let reversed = timed(&|i| 3000 - 33 * i as i16);
    bench.check("backwards", "mkv", &reversed, Expect::Exact);
    let garbage = timed(&|i| (i as u32).wrapping_mul(2_654_435_761) as i16);
    bench.check("here and there", "mkv", &garbage, Expect::Exact);
    for (what, name, offset, new) in [
        ("a length of years", &b"\x44\x89\x88"[..], 3, &1e300_f64.to_be_bytes()[..]),
        ("a negative length", b"\x44\x89\x88", 3, &(-1e9_f64).to_be_bytes()),
        ("a length that is no number", b"\x44\x89\x88", 3, &f64::NAN.to_be_bytes()),
        ("no tick in a second", b"\x2a\xd7\xb1\x83", 4, &[0, 0, 0]),
        ("the longest tick", b"\x2a\xd7\xb1\x83", 4, &[0xff, 0xff, 0xff]),
        ("the shortest tick", b"\x2a\xd7\xb1\x83", 4, &[0, 0, 1]),
        ("65535 columns and no rows", b"\xb0\x81\x80\xba", 0, b"\xb0\x82\xff\xff\xec\x80"),
        ("no columns and rows", b"\xb0\x81\x80\xba", 0, b"\xb0\x81\x00\xba\x81\x00"),
    ] {
        bench.check(what, "mkv", &set(&clip, name, offset, new), Expect::Exact);
    }
    let late = "-output_ts_offset 9000000000000 -avoid_negative_ts disabled";
    let bytes = bench.make("late.mkv", &format!("{X264} -bf 2 {late}"));
    bench.check("285 000 years late", "mkv", &bytes, Expect::Exact);
    bench.done();
}

/// The five bytes of each presentation time in a transport stream of one video stream (ISO/IEC
/// 13818-1, 2.4.3.6).
fn stamp_places(bytes: &[u8]) -> Vec<usize> {
    let start = [0, 0, 1, 0xe0];
    let packets = bytes.windows(4).enumerate().filter(|(_, window)| **window == start);
    packets.map(|(at, _)| at + 9).filter(|at| bytes[at - 2] & 0x80 != 0).collect()
}

fn set_stamp(bytes: &mut [u8], at: usize, time: u64) {
    let time = time & 0x1_ffff_ffff;
    let mark = bytes[at] & 0xf0 | 1;
    bytes[at] = mark | (time >> 29 & 0x0e) as u8;
    bytes[at + 1] = (time >> 22) as u8;
    bytes[at + 2] = (time >> 14) as u8 | 1;
    bytes[at + 3] = (time >> 7) as u8;
    bytes[at + 4] = (time << 1) as u8 | 1;
}

#[test]
fn times_that_cannot_be_in_a_transport_stream() {
    let mut bench = Bench::new();
    let clip = bench.make("plain.ts", &format!("{X264} -bf 0"));
    let places = stamp_places(&clip);
    assert_eq!(places.len(), FRAMES);
    let timed = |time: &dyn Fn(usize) -> u64| {
        let mut bytes = clip.clone();
        places.iter().enumerate().for_each(|(i, at)| set_stamp(&mut bytes, *at, time(i)));
        bytes
    };
    bench.check("one time for all", "ts", &timed(&|_| 126_000), Expect::Exact);
    let wrapped = timed(&|i| (1 << 33) - 60_000 + 3000 * i as u64);
    bench.check("past the largest time", "ts", &wrapped, Expect::Exact);
    let reversed = timed(&|i| 900_000 - 3000 * i as u64);
    bench.check("backwards", "ts", &reversed, Expect::Exact);
    let garbage = timed(&|i| (i as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15));
    bench.check("here and there", "ts", &garbage, Expect::Exact);
    let mut untimed = clip.clone();
    places.iter().for_each(|at| untimed[at - 2] &= 0x3f);
    bench.check("no times", "ts", &untimed, Expect::Exact);
    places.iter().skip(7).for_each(|at| untimed[at - 2] = clip[at - 2]);
    bench.check("no times at first", "ts", &untimed, Expect::Exact);
    bench.done();
}

#[test]
fn times_and_sizes_that_cannot_be_in_avi() {
    let mut bench = Bench::new();
    let clip = bench.make("plain.avi", "-c:v mpeg4 -q:v 3 -g 10");
    let (none, huge, all) = ([0; 4], [0xff, 0xff, 0xff, 0x7f], [0xff; 4]);
    // AVIMAINHEADER, AVISTREAMHEADER and BITMAPINFOHEADER, each after its name and its length.
    for (what, name, offset, new, expect) in [
        ("no time between frames", b"avih", 8, none, Expect::Exact),
        ("more frames than there are", b"avih", 24, all, Expect::Exact),
        ("no frames", b"avih", 24, none, Expect::Exact),
        ("a scale of nothing", b"strh", 28, none, Expect::Exact),
        ("a rate of nothing", b"strh", 32, none, Expect::Exact),
        ("the largest rate", b"strh", 32, all, Expect::Exact),
        ("the largest scale", b"strh", 28, huge, Expect::Exact),
        ("a late start", b"strh", 36, huge, Expect::Exact),
        ("an early start", b"strh", 36, all, Expect::Exact),
        ("a length of years", b"strh", 40, all, Expect::Exact),
        ("a size of sample", b"strh", 52, huge, Expect::Exact),
        ("no columns", b"strf", 12, none, Expect::Exact),
        ("two milliard columns", b"strf", 12, huge, Expect::Exact),
        ("rows upside down without end", b"strf", 16, [0, 0, 0, 0x80], Expect::Refused),
    ] {
        bench.check(what, "avi", &set(&clip, name, offset, &new), expect);
    }
    bench.done();
}

fn joined(folder: &Path, parts: [PathBuf; 2], name: &str) -> PathBuf {
    let bytes: Vec<u8> = parts.iter().flat_map(|part| std::fs::read(part).unwrap()).collect();
    let path = folder.join(name);
    std::fs::write(&path, bytes).unwrap();
    path
}

#[test]
fn pictures_that_change_their_size_on_the_way() {
    let mut bench = Bench::new();
    let folder = bench.folder.path().to_owned();
    let twice: Vec<usize> = (0..20).chain(0..20).collect();
    for (ending, size) in [("ts", "256:192"), ("ts", "96:72"), ("h264", "256:192")] {
        let part = |name: &str, more: &str| {
            let options = format!("{X264} -bf 0 {more}");
            make(&folder, &format!("{name}.{ending}"), 20, "30", "", &options)
        };
        let second = format!("-vf scale={size} -output_ts_offset 10");
        let parts = [part("first", ""), part("second", &second)];
        let path = joined(&folder, parts, &format!("joined.{ending}"));
        bench.check_file(size, &path, Expect::Numbers(twice.clone()));
    }
    bench.done();
}

/// Overwrites what follows the `which`-th (from 0) of `mark`.
fn overwrite(bytes: &[u8], mark: &[u8], which: usize, offset: usize, new: &[u8]) -> Vec<u8> {
    let places = bytes.windows(mark.len()).enumerate().filter(|(_, window)| *window == mark);
    let at = places.map(|(at, _)| at).nth(which).expect("there are so many") + offset;
    let mut bytes = bytes.to_vec();
    bytes[at..at + new.len()].copy_from_slice(new);
    bytes
}

#[test]
fn single_pictures_that_claim_an_enormous_size() {
    let mut bench = Bench::new();
    // ITU-T T.81, B.2.2: SOF0, its length, the depth of samples, lines, samples a line.
    let jpegs = bench.make("jpegs.avi", "-c:v mjpeg -q:v 3 -pix_fmt yuvj420p");
    // RFC 6386, 9.1: the start code of a key frame, width and height in 14 bits.
    let vp8 = "-c:v libvpx -b:v 2M -deadline realtime -cpu-used 8 -g 10";
    let vp8 = bench.make("vp8.webm", vp8);
    for (what, lines, columns) in [
        ("all there is", 65_535_u16, 65_535_u16),
        ("one long line", 1, 65_535),
        ("as much as is let in", 4320, 8192),
        ("nothing", 0, 0),
    ] {
        let size = [lines.to_be_bytes(), columns.to_be_bytes()].concat();
        let bytes = overwrite(&jpegs, &[0xff, 0xc0, 0, 17, 8], 12, 5, &size);
        bench.check(what, "avi", &bytes, Expect::Damaged);
        let size = [columns.min(16_383).to_le_bytes(), lines.min(16_383).to_le_bytes()].concat();
        let bytes = overwrite(&vp8, &[0x9d, 0x01, 0x2a], 2, 3, &size);
        bench.check(what, "webm", &bytes, Expect::Damaged);
    }
    bench.done();
}
