//! Decoded pictures on their way to the screen.

use std::sync::{Arc, Weak};

use eframe::egui::{self, Color32, ColorImage, TextureHandle, TextureId, TextureOptions};

use crate::app::model::Tone;
use crate::domain::ColourFrame;

/// Full-size pictures held as textures: the one shown, before, after, difference, the one beside.
const KEPT: usize = 6;
/// Small pictures of the film strip.
const KEPT_SMALL: usize = 96;
/// A picture up to this many pixels is small.
const SMALL: usize = 400 * 200;

/// Textures by picture. The picture itself is not held, only its address, so that it is not used
/// again: a picture that nobody else holds is never asked for again, and its texture goes.
#[derive(Default)]
pub struct PictureCache {
    large: Vec<Entry>,
    small: Vec<Entry>,
}

struct Entry {
    picture: Weak<ColourFrame>,
    tone: Tone,
    texture: TextureHandle,
}

impl PictureCache {
    /// The texture of `picture` with `tone` applied; made once, the least used is let go.
    pub fn texture(
        &mut self,
        ctx: &egui::Context,
        picture: &Arc<ColourFrame>,
        tone: Tone,
    ) -> TextureId {
        let small = picture.width * picture.height <= SMALL;
        let (entries, kept) =
            if small { (&mut self.small, KEPT_SMALL) } else { (&mut self.large, KEPT) };
        let address = Arc::as_ptr(picture);
        let at_hand = |e: &Entry| e.picture.as_ptr() == address && e.tone == tone;
        if let Some(i) = entries.iter().position(at_hand) {
            let entry = entries.remove(i);
            let id = entry.texture.id();
            entries.push(entry);
            return id;
        }
        // Nearest when magnified: a pixel must be seen as a pixel when a tenth of it counts.
        let options = TextureOptions {
            magnification: egui::TextureFilter::Nearest,
            minification: egui::TextureFilter::Linear,
            ..TextureOptions::LINEAR
        };
        let texture = ctx.load_texture("picture", toned(picture, tone), options);
        let id = texture.id();
        entries.retain(|e| e.picture.strong_count() > 0);
        entries.push(Entry { picture: Arc::downgrade(picture), tone, texture });
        if entries.len() > kept {
            entries.remove(0);
        }
        id
    }
}

fn toned(picture: &ColourFrame, tone: Tone) -> ColorImage {
    let table: Vec<u8> = (0..=255u8)
        .map(|v| {
            let level = (f32::from(v) / 255.0 - 0.5) * tone.contrast + 0.5 + tone.brightness;
            (level.clamp(0.0, 1.0) * 255.0).round() as u8
        })
        .collect();
    let pixels = picture
        .data
        .chunks_exact(4)
        .map(|p| {
            Color32::from_rgb(
                table[usize::from(p[0])],
                table[usize::from(p[1])],
                table[usize::from(p[2])],
            )
        })
        .collect();
    ColorImage::new([picture.width, picture.height], pixels)
}
