//! Small clips whose frames carry their own number as a readable pattern, in any shape that the
//! `ffmpeg` command can write.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use scuffline::domain::GrayFrame;
use scuffline::video::Facts;

/// Columns of a stored picture.
pub const WIDTH: usize = 128;
/// Rows of a stored picture.
pub const HEIGHT: usize = 96;
/// Bits of a frame's number, each shown as a square and, below it, its opposite.
const BITS: usize = 12;
const SQUARE: usize = 8;

/// The luma of numbered frame `n`: the squares over a background that moves, so that a coder
/// predicts from neighbours.
fn numbered_frame(n: usize) -> Vec<u8> {
    let mut luma = vec![0u8; WIDTH * HEIGHT];
    for (i, value) in luma.iter_mut().enumerate() {
        let (x, y) = (i % WIDTH, i / WIDTH);
        let moving = (x + 3 * n) % 64 + (y + n) % 32;
        *value = match (x / SQUARE, y / SQUARE) {
            (bit, row @ (1 | 2)) if bit < BITS => {
                let set = (n >> bit & 1 == 1) == (row == 1);
                if set { 220 } else { 30 }
            }
            _ => 60 + moving as u8,
        };
    }
    luma
}

/// The number that a stored picture carries, and whether it is readable without doubt.
pub fn read_number(gray: &GrayFrame) -> Option<usize> {
    let mean = |bit: usize, row: usize| {
        let (x, y) = (bit * SQUARE, row * SQUARE);
        let inner = (2..6).flat_map(|dy| (2..6).map(move |dx| (x + dx, y + dy)));
        inner.map(|(x, y)| f64::from(gray.at(x, y))).sum::<f64>() / 16.0
    };
    (0..BITS).try_fold(0, |number, bit| {
        let difference = mean(bit, 1) - mean(bit, 2);
        (difference.abs() > 60.0).then_some(number | usize::from(difference > 0.0) << bit)
    })
}

/// Undoes turning and mirroring, pixel by pixel from what the words mean.
pub fn stored(facts: &Facts, gray: &GrayFrame) -> GrayFrame {
    let (w, h) = (gray.width, gray.height);
    let (width, height) = if facts.rotation % 180 == 90 { (h, w) } else { (w, h) };
    let mut data = Vec::with_capacity(w * h);
    for y in 0..height {
        for x in 0..width {
            let x = if facts.mirrored { width - 1 - x } else { x };
            // A stored column becomes a shown row when the picture is turned by a quarter.
            data.push(match facts.rotation {
                90 => gray.at(height - 1 - y, x),
                180 => gray.at(width - 1 - x, height - 1 - y),
                270 => gray.at(y, width - 1 - x),
                _ => gray.at(x, y),
            });
        }
    }
    GrayFrame { width, height, data }
}

/// Pipes `frames` numbered pictures at `rate` into `ffmpeg` and writes `folder/name`.
///
/// `options` are those of the output; more inputs may be given in `inputs`.
pub fn make(
    folder: &Path,
    name: &str,
    frames: usize,
    rate: &str,
    inputs: &str,
    options: &str,
) -> PathBuf {
    let path = folder.join(name);
    let size = format!("{WIDTH}x{HEIGHT}");
    let mut child = Command::new("ffmpeg")
        .args(["-v", "error", "-y", "-nostdin", "-f", "rawvideo", "-pix_fmt", "gray", "-s", &size])
        .args(["-r", rate, "-i", "pipe:0"])
        .args(inputs.split_whitespace())
        .args(options.split_whitespace())
        .arg(&path)
        .stdin(Stdio::piped())
        .spawn()
        .expect("ffmpeg is in the list of packages");
    let mut pipe = child.stdin.take().expect("it was asked for");
    for n in 0..frames {
        pipe.write_all(&numbered_frame(n)).expect("ffmpeg takes all frames");
    }
    drop(pipe);
    assert!(child.wait().unwrap().success(), "ffmpeg did not write {name}");
    path
}

/// Rewrites a finished clip without decoding it.
pub fn rewrap(from: &Path, name: &str, before: &str, after: &str) -> PathBuf {
    let path = from.with_file_name(name);
    let done = Command::new("ffmpeg")
        .args(["-v", "error", "-y", "-nostdin"])
        .args(before.split_whitespace())
        .arg("-i")
        .arg(from)
        .args(["-c", "copy"])
        .args(after.split_whitespace())
        .arg(&path)
        .status()
        .expect("ffmpeg is in the list of packages");
    assert!(done.success(), "ffmpeg did not write {name}");
    path
}

/// Overwrites the display matrix in an MP4's video track header (ISO/IEC 14496-12, 8.3.2).
pub fn set_matrix(path: &Path, [a, b, c, d]: [i32; 4]) {
    let mut bytes = std::fs::read(path).unwrap();
    let at = bytes.windows(4).position(|w| w == b"tkhd").expect("an MP4 has a track header");
    assert_eq!(bytes[at + 4], 0, "version 0 of the box");
    let matrix = at + 4 + 40;
    for (slot, value) in [(0, a), (1, b), (3, c), (4, d)] {
        let fixed = (value << 16).to_be_bytes();
        bytes[matrix + 4 * slot..matrix + 4 * slot + 4].copy_from_slice(&fixed);
    }
    std::fs::write(path, bytes).unwrap();
}

/// Gives the frames after entries `which` of an MP4's table of durations the stamp of the frame
/// before (ISO/IEC 14496-12, 8.6.1.2); each entry stands for one frame.
pub fn double_stamps(path: &Path, which: &[usize]) {
    let mut bytes = std::fs::read(path).unwrap();
    let at = bytes.windows(4).position(|w| w == b"stts").expect("an MP4 has a table of durations");
    for entry in which {
        let entry = at + 12 + 8 * entry;
        assert_eq!(bytes[entry..entry + 4], [0, 0, 0, 1], "an entry for one frame");
        bytes[entry + 4..entry + 8].fill(0);
    }
    std::fs::write(path, bytes).unwrap();
}
