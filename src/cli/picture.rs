//! `scuffline picture`: frames of a recording as PNG files.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::sync_channel;

use anyhow::Context;
use image::ImageEncoder;
use image::codecs::png::{CompressionType, FilterType, PngEncoder};

use crate::domain::{ColourFrame, FrameIndex, PictureError, Pictures};
use crate::video::{Recording, VideoError};

/// Write frames of a recording as PNG files, as displayed.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  scuffline picture swing.mp4 --frame 120 --frame 121 --out frames"
)]
pub struct PictureArgs {
    /// The recording.
    pub recording: PathBuf,
    /// A frame's number, counted from 0 in presentation order; may be given many times.
    #[arg(long = "frame", required = true, value_name = "N")]
    pub frames: Vec<usize>,
    /// The folder for the pictures; made if it is missing.
    #[arg(long, value_name = "FOLDER")]
    pub out: PathBuf,
}

/// Writes the frames, named by their number (`000123.png`), and prints their paths.
///
/// They are read in ascending order, so that a group of pictures is decoded once only.
///
/// # Errors
/// If a frame does not exist or cannot be decoded (nothing is written then for that one and those
/// after it), or the folder cannot be written.
pub fn run(args: &PictureArgs, out: &mut dyn Write) -> anyhow::Result<()> {
    let mut recording = Recording::open(&args.recording)?;
    let mut frames = args.frames.clone();
    frames.sort_unstable();
    frames.dedup();
    let count = recording.timeline().len();
    if let Some(&asked) = frames.last().filter(|&&last| last >= count) {
        return Err(VideoError::NoSuchFrame { asked, count }.into());
    }
    std::fs::create_dir_all(&args.out).with_context(|| {
        format!("The folder cannot be made; check its name: {}", args.out.display())
    })?;
    // A picture takes about as long to write as to decode: both are done side by side.
    std::thread::scope(|scope| {
        let (give, take) = sync_channel::<(usize, Arc<ColourFrame>)>(2);
        let decoding = scope.spawn(move || {
            for frame in frames {
                let picture = recording.colour(FrameIndex(frame))?;
                if give.send((frame, picture)).is_err() {
                    break;
                }
            }
            Ok::<(), PictureError>(())
        });
        for (frame, picture) in take {
            let path = args.out.join(format!("{frame:06}.png"));
            write_png(&picture, &path)?;
            writeln!(out, "{}", path.display())?;
        }
        Ok(decoding.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))?)
    })
}

fn write_png(picture: &ColourFrame, path: &Path) -> anyhow::Result<()> {
    let failed = || format!("The picture cannot be written; free some space: {}", path.display());
    let rgb: Vec<u8> =
        picture.data.as_chunks::<4>().0.iter().flat_map(|p| [p[0], p[1], p[2]]).collect();
    let file = BufWriter::new(File::create(path).with_context(failed)?);
    // Trying every filter on every row would take several times as long.
    let encoder = PngEncoder::new_with_quality(file, CompressionType::Fast, FilterType::Up);
    let (width, height) = (picture.width as u32, picture.height as u32);
    encoder.write_image(&rgb, width, height, image::ExtendedColorType::Rgb8).with_context(failed)
}
