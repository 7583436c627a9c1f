//! Pictures and clips of swings with the ruler burnt in.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::domain::{
    ColourFrame, FrameIndex, GroundPoint, ImagePoint, LengthUnit, MarkWord, PictureError,
    PictureSize, Pictures, Pts, Seconds, TimeBase,
};
use crate::geometry::GroundView;
use crate::report::drawing::Drawing;
use crate::report::paint::{ON_PICTURE, Overlay, overlay};
use crate::report::picture::{self, burn_in};
use crate::report::picture::{Focus, OnGround, Picture, caption_band, ground_ruler, line_width};
use crate::store::{Library, Of, StoreError, SwingId, SwingRow};
use crate::video::{CancelToken, ClipWriter, Recording, VideoError};
use crate::vision::{Motion, Steadying};

use super::kept::evaluate_kept;
use super::kept_error::KeptError;
use super::measure::MeasureError;
use super::progress::Progress;
use super::reopen::reopen_known;
use super::state::{chosen_unit, on_ground, state, words_for_offset};

/// Why a picture or clip could not be made.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// The library or the recording can't be read, or the work was stopped.
    #[error(transparent)]
    Kept(#[from] KeptError),
    /// The picture can't be written.
    #[error(transparent)]
    Report(#[from] crate::report::ReportError),
    /// A swing that was never filmed.
    #[error("This swing has no recording, so there is no picture of it; choose another swing.")]
    NoRecording,
    /// No instant to show.
    #[error("The strike of this swing is not known; mark it, then export again.")]
    NoStrike,
}

impl From<StoreError> for ExportError {
    fn from(error: StoreError) -> Self {
        Self::Kept(error.into())
    }
}

impl From<VideoError> for ExportError {
    fn from(error: VideoError) -> Self {
        Self::Kept(error.into())
    }
}

impl From<PictureError> for ExportError {
    fn from(error: PictureError) -> Self {
        Self::Kept(MeasureError::from(error).into())
    }
}

/// A swing that can be shown: its open recording, its ground, its words.
struct Scene {
    recording: Recording,
    steadying: Steadying,
    swing: SwingRow,
    view: Option<GroundView>,
    ground: OnGround,
    strike: Seconds,
    number: String,
    facts: String,
}

impl Scene {
    fn open(library: &Library, id: SwingId) -> Result<Self, ExportError> {
        let swing = library.swing(id)?;
        let kept = swing.recording.ok_or(ExportError::NoRecording)?;
        let strike = swing.strike_time.ok_or(ExportError::NoStrike)?;
        let row = library.recording(kept)?;
        let session = library.session(swing.session)?;
        let golfer = library.golfer(session.golfer)?;
        let unit = chosen_unit(library)?;
        let place_in = library.swings(Of::Recording(kept))?.iter().position(|s| s.id == id);
        let evaluation = evaluate_kept(library, kept)?;
        let grounds = evaluation.map(|evaluation| evaluation.grounds).unwrap_or_default();
        let view = place_in.and_then(|i| Some(grounds.into_iter().nth(i)??.view));
        let setup = library.setup(kept)?;
        let ground = on_ground(swing.result.as_ref(), None, unit);
        let number = number_words(&swing, unit);
        let club = swing.club.clone().or_else(|| setup.club.clone()).map(|c| c.0);
        let club = club.unwrap_or_default();
        let facts = [golfer.name, club, session.session.date.to_string()];
        let facts: Vec<String> = facts.into_iter().filter(|f| !f.is_empty()).collect();
        let mut recording = reopen_known(library, &row, CancelToken::new())?;
        let steadying = Steadying::new(&mut recording)?;
        let facts = facts.join("  ·  ");
        Ok(Self { recording, steadying, swing, view, ground, strike, number, facts })
    }

    /// A clear frame after the swing, in which the mark in the ground is seen.
    fn clear_frame(&self) -> FrameIndex {
        let compared = self.swing.found.as_ref().and_then(|f| f.compared);
        let timeline = self.recording.timeline();
        let later = || timeline.nearest_frame(self.strike + Seconds(timeline.slow_factor));
        let frame = compared.map_or_else(later, |(_, after)| after);
        FrameIndex(frame.0.min(timeline.len().saturating_sub(1)))
    }

    fn ruler(&self, motion: &Motion, size: [usize; 2]) -> Drawing {
        let Some(view) = &self.view else { return Drawing::default() };
        let project = |x: f64, y: f64| {
            let seen = view.image_from_ground(GroundPoint::new(x, y))?;
            let ImagePoint { x, y } = motion.from_first(seen);
            (x.is_finite() && y.is_finite()).then_some([x, y])
        };
        ground_ruler(&project, &self.ground, line_width(size))
    }

    /// Where the camera looked in each frame that a clip shows. Where the swing itself hides it,
    /// it is taken to go evenly from the last frame that tells to the next.
    fn motions(&mut self) -> Result<BTreeMap<FrameIndex, Motion>, ExportError> {
        let timeline = self.recording.timeline();
        let reach = Seconds(HALF * timeline.slow_factor.max(1.0));
        let first = timeline.frame_at(self.strike - reach).0;
        let last = timeline.frame_at(self.strike + reach).0;
        let mut found = Vec::new();
        for frame in first..=last {
            found.push(self.steadying.motion(&mut self.recording, FrameIndex(frame))?);
        }
        let bridged = bridged(&found);
        Ok((first..=last).map(FrameIndex).zip(bridged).collect())
    }

    fn focus(&self) -> Option<Focus> {
        let seen = |x: f64| self.view.as_ref()?.image_from_ground(GroundPoint::new(x, -60.0));
        let (middle, left, right) = (seen(60.0)?, seen(-250.0)?, seen(370.0)?);
        let reach = (right.x - left.x).abs() / 2.0;
        Some(Focus { centre: [middle.x, middle.y], reach })
    }
}

/// The one number that matters, in words: the divot start, else the low point.
fn number_words(swing: &SwingRow, unit: LengthUnit) -> String {
    let Some(result) = &swing.result else { return String::new() };
    let name = MarkWord::of(result.ground_mark, None).start_title();
    let start = result.divot_start_offset.as_ref().map(|m| (name, m));
    let told = start.or_else(|| result.low_point.as_ref().map(|(m, _)| ("Low point", m)));
    told.map_or(String::new(), |(name, m)| format!("{name} {}", words_for_offset(&state(m), unit)))
}

/// A clear picture of a swing's ground with the ruler burnt in.
///
/// `band`: with the number and who it was along its lower edge.
///
/// # Errors
/// The swing has no recording or strike, or the recording can't be read.
pub fn swing_picture(library: &Library, id: SwingId, band: bool) -> Result<Picture, ExportError> {
    let mut scene = Scene::open(library, id)?;
    let at = scene.clear_frame();
    let mut frame: ColourFrame = (*scene.recording.colour(at)?).clone();
    let motion = scene.steadying.motion(&mut scene.recording, at)?;
    let size = [frame.width, frame.height];
    let mut drawings = vec![scene.ruler(&motion, size)];
    if band {
        drawings.push(caption_band(size, &scene.number, &scene.facts));
    }
    burn_in(&mut frame, drawings);
    let caption = first_filled(&scene.number, &scene.facts);
    Ok(Picture { frame, caption, focus: scene.focus() })
}

fn first_filled(number: &str, facts: &str) -> String {
    if number.is_empty() { facts.to_owned() } else { number.to_owned() }
}

/// Half of what a clip shows, in seconds of capture.
const HALF: f64 = 0.5;
/// Pictures a second of the finished clip: phones play it smoothly.
const RATE: f64 = 30.0;
/// The finished clip's longest side, pixels: small enough to send.
const LONGEST: u32 = 1280;

/// Writes a slow-motion clip of one swing, or of two side by side with their strikes together:
/// half a second before and after the strike, ruler and words burnt in. Each picture is laid on
/// the one at the strike, so that the ground stands still under the ruler.
///
/// # Errors
/// As [`swing_picture`]; or the clip can't be written, or the work was stopped (the unfinished
/// file is removed then).
pub fn write_clip(
    library: &Library,
    swings: &[SwingId],
    path: &Path,
    progress: &mut Progress,
) -> Result<(), ExportError> {
    let beside = beside(path);
    let outcome = try_clip(library, swings, &beside, progress);
    let outcome = outcome.and_then(|()| {
        let reason = |e: std::io::Error| e.to_string();
        std::fs::rename(&beside, path)
            .map_err(|e| VideoError::CannotWrite { reason: reason(e), path: path.into() }.into())
    });
    if outcome.is_err() {
        // What is half written plays nowhere; if it can't be removed either, the error stands.
        let _ = std::fs::remove_file(&beside);
    }
    outcome
}

/// The name under which a file is written until it is whole.
pub fn beside(file: &Path) -> PathBuf {
    let name = file.file_name().unwrap_or_default().to_string_lossy();
    file.with_file_name(format!(".{name}.part"))
}

fn try_clip(
    library: &Library,
    swings: &[SwingId],
    path: &Path,
    progress: &mut Progress,
) -> Result<(), ExportError> {
    let mut panes = Vec::new();
    for id in swings.iter().take(2) {
        panes.push(Pane::open(library, *id, swings.len().min(2))?);
    }
    let first = panes.first().ok_or(ExportError::NoStrike)?;
    let slow = first.slowness();
    let steps = (2.0 * HALF * slow * RATE).round() as usize;
    let height = panes.iter().map(|p| p.size[1]).min().unwrap_or(0);
    let width = panes.iter().map(|p| p.size[0]).sum();
    let size = PictureSize { width, height };
    let base = TimeBase { numerator: 1, denominator: RATE as i32 };
    let mut writer = ClipWriter::create(path, size, base)?;
    for step in 0..=steps {
        let time = (step as f64 / RATE / slow) - HALF;
        let mut whole = blank(size);
        let mut left = 0;
        for pane in &mut panes {
            paste(&mut whole, pane.at(time)?, left);
            left += pane.size[0];
        }
        writer.write(&whole, Pts(step as i64))?;
        if !progress.report("Writing the clip", step as f64 / steps.max(1) as f64) {
            return Err(PictureError::Cancelled.into());
        }
    }
    Ok(writer.finish()?)
}

/// One swing of a clip.
struct Pane {
    scene: Scene,
    overlay: Overlay,
    band: Overlay,
    size: [usize; 2],
    /// Where the camera looked at the strike; the pictures are laid on that one.
    strike: Motion,
    /// Where it looked in each frame that is shown.
    motions: BTreeMap<FrameIndex, Motion>,
    /// The frame last drawn and its picture: slow motion shows it more than once.
    last: Option<(FrameIndex, ColourFrame)>,
}

impl Pane {
    fn open(library: &Library, id: SwingId, panes: usize) -> Result<Self, ExportError> {
        let mut scene = Scene::open(library, id)?;
        let size = scene.recording.size();
        let motions = scene.motions()?;
        let at = scene.recording.timeline().frame_at(scene.strike);
        let first = scene.steadying.motion(&mut scene.recording, FrameIndex(0))?;
        let strike = *motions.get(&at).unwrap_or(&first);
        let full = [size.width, size.height];
        let ruler = scene.ruler(&strike, full);
        let overlay = overlay(&ruler, full, &ON_PICTURE, 0.7 * line_width(full));
        let longest = size.width.max(size.height).max(1) as f64;
        let scale = (f64::from(LONGEST) / panes as f64 / longest).min(1.0);
        let even = |v: usize| (((v as f64 * scale) as usize) & !1).max(2);
        let small = full.map(even);
        let words = caption_band(small, &scene.number, &scene.facts);
        let band = self::overlay(&words, small, &ON_PICTURE, 0.0);
        Ok(Self { scene, overlay, band, size: small, strike, motions, last: None })
    }

    /// How much slower than captured the clip plays: as slow as the frames allow, four to
    /// eight times.
    fn slowness(&self) -> f64 {
        let timeline = self.scene.recording.timeline();
        let spacing = timeline.median_spacing().0.max(1e-4) / timeline.slow_factor.max(1.0);
        (1.0 / spacing / RATE).clamp(4.0, 8.0)
    }

    /// The picture `time` seconds of capture after the strike.
    fn at(&mut self, time: f64) -> Result<&ColourFrame, ExportError> {
        let timeline = self.scene.recording.timeline();
        let played = Seconds(time * timeline.slow_factor.max(1.0));
        let index = timeline.frame_at(self.scene.strike + played);
        if self.last.as_ref().is_none_or(|(last, _)| *last != index) {
            let picture = self.scene.recording.colour(index)?;
            let motion = self.motions.get(&index).unwrap_or(&self.strike);
            let mut frame = laid_on(&picture, motion, &self.strike);
            self.overlay.apply(&mut frame);
            let mut small = picture::scaled(&frame, self.size)?;
            self.band.apply(&mut small);
            self.last = Some((index, small));
        }
        self.last.as_ref().map(|(_, frame)| frame).ok_or(ExportError::NoStrike)
    }
}

/// The motions with those in doubt put between their trusted neighbours.
fn bridged(found: &[Motion]) -> Vec<Motion> {
    let trusted = |i: &usize| found[*i].is_trusted;
    let bridge = |i: usize| {
        let before = (0..=i).rev().find(trusted);
        let after = (i..found.len()).find(trusted);
        match (before, after) {
            (Some(a), Some(b)) if a < b => {
                found[a].on_the_way_to(&found[b], (i - a) as f64 / (b - a) as f64)
            }
            (Some(known), _) | (None, Some(known)) => found[known],
            (None, None) => found[i],
        }
    };
    (0..found.len()).map(bridge).collect()
}

/// A picture as it would have been taken from where the camera looked at the strike; what lay
/// outside it repeats its edge.
fn laid_on(picture: &ColourFrame, here: &Motion, strike: &Motion) -> ColourFrame {
    let seen = |x: f64, y: f64| here.from_first(strike.to_first(ImagePoint::new(x, y)));
    // Both are similarities, so three points tell it all.
    let (origin, across, down) = (seen(0.0, 0.0), seen(1.0, 0.0), seen(0.0, 1.0));
    let [right, below] = [across, down].map(|p| [p.x - origin.x, p.y - origin.y]);
    let corner = seen(picture.width as f64, picture.height as f64);
    let moved = (corner.x - picture.width as f64).hypot(corner.y - picture.height as f64);
    if origin.x.hypot(origin.y).max(moved) < 0.05 {
        return picture.clone();
    }
    let mut data = Vec::with_capacity(picture.data.len());
    for y in 0..picture.height {
        for x in 0..picture.width {
            let (u, v) = (x as f64, y as f64);
            let at = [0, 1].map(|i| [origin.x, origin.y][i] + u * right[i] + v * below[i]);
            data.extend_from_slice(&between_pixels(picture, at));
        }
    }
    ColourFrame { width: picture.width, height: picture.height, data }
}

/// The colour between four pixels, by bilinear interpolation.
fn between_pixels(picture: &ColourFrame, [x, y]: [f64; 2]) -> [u8; 4] {
    let inside = |v: f64, size: usize| v.clamp(0.0, size.saturating_sub(1) as f64);
    let (x, y) = (inside(x, picture.width), inside(y, picture.height));
    let (left, top) = (x as usize, y as usize);
    let right = (left + 1).min(picture.width - 1);
    let bottom = (top + 1).min(picture.height - 1);
    let (part_x, part_y) = ((x - left as f64) as f32, (y - top as f64) as f32);
    let value =
        |x: usize, y: usize, c: usize| f32::from(picture.data[4 * (y * picture.width + x) + c]);
    let channel = |c: usize| {
        let above = value(left, top, c) * (1.0 - part_x) + value(right, top, c) * part_x;
        let under = value(left, bottom, c) * (1.0 - part_x) + value(right, bottom, c) * part_x;
        (above * (1.0 - part_y) + under * part_y).round() as u8
    };
    [channel(0), channel(1), channel(2), 255]
}

fn blank(size: PictureSize) -> ColourFrame {
    let data = [0, 0, 0, 255].repeat(size.width * size.height);
    ColourFrame { width: size.width, height: size.height, data }
}

fn paste(whole: &mut ColourFrame, part: &ColourFrame, left: usize) {
    for y in 0..part.height.min(whole.height) {
        let width = 4 * part.width.min(whole.width.saturating_sub(left));
        let to = 4 * (y * whole.width + left);
        let from = 4 * y * part.width;
        whole.data[to..to + width].copy_from_slice(&part.data[from..from + width]);
    }
}
