//! From a decoded picture to luma and colours as displayed.

use ffmpeg_next as ffmpeg;

use ffmpeg::format;

use super::VideoError;
use super::libav::{Component, Scaler, StreamInfo, VideoFrame};
use super::orient::{Turn, widen};
use super::tone::{Toner, Transfer};
use crate::domain::{ColourFrame, GrayFrame, PictureSize};

/// Turns decoded pictures into displayed ones.
pub(super) struct Converter {
    stored: PictureSize,
    widened: PictureSize,
    turn: Turn,
    to_colour: Scaler,
    to_small: Scaler,
    to_gray: Scaler,
    /// For pictures of one kind of light and colour.
    toner: Option<(Transfer, bool, Option<Toner>)>,
}

impl Converter {
    pub fn new(info: &StreamInfo) -> Self {
        Self {
            stored: PictureSize { width: info.width, height: info.height },
            widened: super::facts::widened(info),
            turn: info.turn,
            to_colour: Scaler::new(format::Pixel::RGBA),
            to_small: Scaler::new(format::Pixel::RGBA),
            to_gray: Scaler::new(format::Pixel::GRAY8),
            toner: None,
        }
    }

    pub fn stored_size(&self) -> PictureSize {
        self.stored
    }

    /// The stored size with square pixels.
    pub fn widened_size(&self) -> PictureSize {
        self.widened
    }

    pub fn size(&self) -> PictureSize {
        self.turn.apply_to_size(self.widened)
    }

    /// The luma as displayed, spread to 0..255; `data` is memory to be used again.
    pub fn gray(
        &mut self,
        picture: &VideoFrame,
        mut data: Vec<u8>,
    ) -> Result<GrayFrame, VideoError> {
        match picture.luma() {
            Some(luma) if self.has_stored_size(picture) => {
                read_luma(&luma, self.stored, picture.tags.limited, &mut data);
            }
            _ => self.to_gray.run(picture, self.stored, &mut data)?,
        }
        let data = self.turn.apply(self.widen(data, 1), self.widened);
        let PictureSize { width, height } = self.size();
        Ok(GrayFrame { width, height, data })
    }

    /// The colours as displayed; `spare` is memory to be used again.
    pub fn colour(
        &mut self,
        picture: &VideoFrame,
        mut spare: Vec<u8>,
    ) -> Result<ColourFrame, VideoError> {
        self.to_colour.run(picture, self.stored, &mut spare)?;
        let data = self.widen(spare, 4);
        Ok(self.finish(data, self.widened, picture))
    }

    /// The colours in a picture of `size` as displayed; `spare` is memory to be used again.
    pub fn colour_in(
        &mut self,
        picture: &VideoFrame,
        size: PictureSize,
        mut spare: Vec<u8>,
    ) -> Result<ColourFrame, VideoError> {
        let stored = self.turn.apply_to_size(size);
        self.to_small.run(picture, stored, &mut spare)?;
        Ok(self.finish(spare, stored, picture))
    }

    /// Tones a picture of stored `size` for the screen and turns it.
    fn finish(
        &mut self,
        mut data: Vec<u8>,
        size: PictureSize,
        picture: &VideoFrame,
    ) -> ColourFrame {
        let (transfer, wide) = (picture.tags.transfer, picture.tags.wide);
        let toner = match &self.toner {
            Some((t, w, toner)) if (*t, *w) == (transfer, wide) => toner,
            _ => &self.toner.insert((transfer, wide, Toner::new(transfer, wide))).2,
        };
        if let Some(toner) = toner {
            toner.apply(&mut data);
        }
        if self.turn != Turn::default() {
            let pixels = data.as_chunks::<4>().0.to_vec();
            data = self.turn.apply(pixels, size).into_flattened();
        }
        let PictureSize { width, height } = self.turn.apply_to_size(size);
        ColourFrame { width, height, data }
    }

    fn widen(&self, data: Vec<u8>, channels: usize) -> Vec<u8> {
        if self.widened == self.stored {
            return data;
        }
        widen(&data, self.stored.width, self.widened.width, channels)
    }

    fn has_stored_size(&self, picture: &VideoFrame) -> bool {
        picture.width() == self.stored.width && picture.height() == self.stored.height
    }
}

/// Reads the luma values as bytes; limited range is spread to 0..255 (ITU-R BT.709: black is 16,
/// white 235 in 8 bits).
fn read_luma(luma: &Component<'_>, size: PictureSize, limited: bool, data: &mut Vec<u8>) {
    data.resize(size.width * size.height, 0);
    for (y, out) in data.chunks_exact_mut(size.width).enumerate() {
        let row = luma.row(y);
        match (luma.depth, luma.step) {
            (8, 1) if limited => spread_row(row, out),
            (8, 1) => out.copy_from_slice(row),
            (8, step) => {
                out.iter_mut().zip(row.iter().step_by(step)).for_each(|(to, from)| *to = *from);
                if limited {
                    spread_in_place(out);
                }
            }
            _ => deep_row(row, luma, limited, out),
        }
    }
}

/// Spreads 16..235 to 0..255 in 16-bit arithmetic, which compilers turn into vector code (with a
/// product of 32 bits they do not).
fn spread(value: u8) -> u8 {
    let above_black = u16::from(value.saturating_sub(16));
    // 255 / 219 is 1 and 168.3 / 1024; the added part rounds to nearest. At most 239 x 168 + 521.
    let more = above_black.wrapping_mul(168).wrapping_add(521) >> 10;
    above_black.wrapping_add(more).min(255) as u8
}

fn spread_row(row: &[u8], out: &mut [u8]) {
    for (to, from) in out.iter_mut().zip(row) {
        *to = spread(*from);
    }
}

fn spread_in_place(out: &mut [u8]) {
    for value in out {
        *value = spread(*value);
    }
}

/// Values of 9 to 16 bits, little-endian.
fn deep_row(row: &[u8], luma: &Component<'_>, limited: bool, out: &mut [u8]) {
    let full = f32::from(u16::MAX >> (16 - luma.depth));
    let unit = f32::from(1u16 << (luma.depth - 8));
    let (black, span) = if limited { (16.0 * unit, 219.0 * unit) } else { (0.0, full) };
    let scale = 255.0 / span;
    for (x, to) in out.iter_mut().enumerate() {
        let at = x * luma.step;
        let value = u16::from_le_bytes([row[at], row[at + 1]]) >> luma.shift;
        // A float turned into a byte is held to 0..=255.
        *to = ((f32::from(value) - black) * scale + 0.5) as u8;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limited_range_is_spread_and_rounded() {
        // ITU-R BT.709 / H.273: Y' = 219 E' + 16, so E' x 255 = (Y' - 16) x 255 / 219.
        for value in 0..=255u8 {
            let exact = ((f64::from(value) - 16.0) * 255.0 / 219.0).clamp(0.0, 255.0);
            assert!((f64::from(spread(value)) - exact).abs() < 0.57, "{value}");
        }
        assert_eq!((spread(16), spread(235), spread(255)), (0, 255, 255));
    }
}
