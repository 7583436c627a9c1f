//! What a recording says of itself besides its frames.

use serde::{Deserialize, Serialize};

use super::libav::{Container, MOST_PIXELS, StreamInfo};
use crate::domain::PictureSize;

/// What is known of a recording from its header.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Facts {
    /// Columns of the displayed picture: turned, non-square pixels widened.
    pub width: usize,
    /// Rows of the displayed picture.
    pub height: usize,
    /// Degrees a player turns the stored picture clockwise: 0, 90, 180 or 270.
    pub rotation: u16,
    /// The stored picture is mirrored left to right before it is turned.
    pub mirrored: bool,
    /// FFmpeg's name of the video codec.
    pub codec: String,
    /// The picture is made of two fields taken one after the other.
    pub interlaced: bool,
    /// Seconds of play in one second of capture; 1 unless the file says otherwise.
    pub slow_factor: f64,
    /// Maker and model of the camera.
    pub camera: Option<String>,
    /// When it was recorded, as the file writes it (ISO 8601 in most).
    pub created: Option<String>,
    /// How many sound tracks there are.
    pub audio_streams: usize,
}

impl Facts {
    pub(super) fn read(container: &Container, info: &StreamInfo) -> Self {
        let shown = info.turn.apply_to_size(widened(info));
        Self {
            width: shown.width,
            height: shown.height,
            rotation: info.turn.clockwise,
            mirrored: info.turn.mirrored,
            codec: info.codec.clone(),
            interlaced: info.interlaced,
            slow_factor: slow_factor(container, info),
            camera: camera(container),
            created: container.note(&["com.apple.quicktime.creationdate", "creation_time"]),
            audio_streams: info.audio_streams,
        }
    }
}

/// The stored size with square pixels, before turning.
pub(super) fn widened(info: &StreamInfo) -> PictureSize {
    let (wide, high) = info.pixel_aspect;
    let square = PictureSize { width: info.width.max(1), height: info.height };
    // Beyond 4 the note is taken to be damage.
    if wide < 1 || high < 1 || wide / 4 > high || high / 4 > wide {
        return square;
    }
    let width = (info.width as f64 * f64::from(wide) / f64::from(high)).round().max(1.0);
    if width * info.height as f64 > MOST_PIXELS as f64 {
        return square;
    }
    PictureSize { width: width as usize, height: info.height }
}

fn camera(container: &Container) -> Option<String> {
    let make = container.note(&["com.apple.quicktime.make", "com.android.manufacturer", "make"]);
    let model = container.note(&["com.apple.quicktime.model", "com.android.model", "model"]);
    match (make, model) {
        (Some(make), Some(model)) if !model.starts_with(&make) => Some(format!("{make} {model}")),
        (make, model) => model.or(make),
    }
}

/// Capture rate over playback rate, where the file states its capture rate.
fn slow_factor(container: &Container, info: &StreamInfo) -> f64 {
    let captured = container
        .note(&["com.android.capture.fps"])
        .and_then(|text| text.parse::<f64>().ok())
        .filter(|rate| rate.is_finite() && *rate > 0.0);
    match (captured, info.average_rate) {
        (Some(captured), Some(played)) => {
            let factor = captured / played;
            // Within 10 % it is the same rate, stated roughly; below 1 it would be a time lapse.
            if factor > 1.1 { factor } else { 1.0 }
        }
        _ => 1.0,
    }
}
