//! `scuffline picture`: frames of a recording as PNG files.

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::Context;

use crate::domain::{ColourFrame, FrameIndex, Pictures};
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
    for frame in frames {
        let path = args.out.join(format!("{frame:06}.png"));
        write_png(&*recording.colour(FrameIndex(frame))?, &path)?;
        writeln!(out, "{}", path.display())?;
    }
    Ok(())
}

fn write_png(picture: &ColourFrame, path: &Path) -> anyhow::Result<()> {
    let rgb: Vec<u8> = picture.data.chunks_exact(4).flat_map(|p| [p[0], p[1], p[2]]).collect();
    image::save_buffer_with_format(
        path,
        &rgb,
        picture.width as u32,
        picture.height as u32,
        image::ExtendedColorType::Rgb8,
        image::ImageFormat::Png,
    )
    .with_context(|| format!("The picture cannot be written; free some space: {}", path.display()))
}
