//! A scenario as a recording: pictures on demand, in memory.

use std::collections::VecDeque;
use std::sync::Arc;

use super::frame::{Linear, Painter};
use super::noise::GaussTable;
use super::scenario::{Scenario, TICKS};
use super::{Truth, sound};
use crate::domain::{
    ColourFrame, FrameEntry, FrameIndex, GrayFrame, PictureError, PictureSize, Pictures, Pts,
    Sound, TimeBase, Timeline,
};

/// How many pictures of each kind are kept.
const KEPT: usize = 12;
/// Entries of the table from linear light to grey levels.
const LEVELS: usize = 4096;
/// Luma of red, green and blue (ITU-R BT.709).
const LUMA: [f32; 3] = [0.2126, 0.7152, 0.0722];

/// A recording that is drawn when it is asked for.
pub struct Scene {
    scenario: Scenario,
    timeline: Timeline,
    painter: Painter,
    noise: GaussTable,
    coded: Vec<f32>,
    /// Luma of the picture without anything that moves: most of most frames.
    plate_luma: Vec<f32>,
    gray: VecDeque<(usize, Arc<GrayFrame>)>,
    colour: VecDeque<(usize, Arc<ColourFrame>)>,
}

impl Scene {
    /// Draws the scene's fixed parts; frames are drawn on demand.
    pub fn new(scenario: Scenario) -> Self {
        let frames = scenario.ticks.iter().enumerate();
        let timeline = Timeline {
            time_base: TimeBase { numerator: 1, denominator: TICKS },
            frames: frames.map(|(i, &t)| FrameEntry { pts: Pts(t), key: i % 30 == 0 }).collect(),
            slow_factor: 1.0,
        };
        let painter = Painter::new(&scenario);
        let coded: Vec<f32> = (0..=LEVELS).map(|i| coded_level(i as f32 / LEVELS as f32)).collect();
        Self {
            plate_luma: painter.plate().iter().map(|&p| luma_of(levels_of(&coded, p))).collect(),
            painter,
            noise: GaussTable::new(scenario.seed),
            coded,
            timeline,
            scenario,
            gray: VecDeque::new(),
            colour: VecDeque::new(),
        }
    }

    /// What the scene shows.
    pub fn scenario(&self) -> &Scenario {
        &self.scenario
    }

    /// What a measurement of it should find.
    pub fn truth(&self) -> Truth {
        Truth::of(&self.scenario)
    }

    /// Its sound track; `None` for a recording without sound.
    pub fn sound(&self) -> Option<Sound> {
        sound::sound_of(&self.scenario)
    }

    fn luma(&self, picture: &Linear, frame: usize) -> Vec<u8> {
        let PictureSize { width, height } = self.scenario.size;
        let [dark, white] = self.scenario.faults.noise;
        let slope = (white - dark) / 255.0;
        let known = self.painter.plate().iter().zip(&self.plate_luma);
        let mut plane: Vec<f32> = picture
            .rgb
            .iter()
            .zip(known)
            .map(|(&p, (&q, &y))| if p == q { y } else { luma_of(levels_of(&self.coded, p)) })
            .collect();
        for (row, pixels) in plane.chunks_mut(width).enumerate() {
            for (y, n) in pixels.iter_mut().zip(self.noise.row(frame, row, width)) {
                *y += n * (dark + slope * *y);
            }
        }
        quantise(&mut plane, width, height, self.scenario.faults.quantiser);
        // The cast saturates.
        plane.into_iter().map(|y| (y + 0.5) as u8).collect()
    }

    /// Colour differences at half size each way: blue and red minus luma.
    fn chroma(&self, levels: &[[f32; 3]], frame: usize) -> [Vec<f32>; 2] {
        let PictureSize { width, height } = self.scenario.size;
        let (w, h) = (width / 2, height / 2);
        let strength = 0.35 * self.scenario.faults.noise[0];
        [(2, 1.8556), (0, 1.5748)].map(|(channel, scale)| {
            let mut plane = Vec::with_capacity(w * h);
            for row in 0..h {
                let noise = self.noise.row(frame, height * (1 + channel) + row, w);
                plane.extend(noise.iter().enumerate().map(|(x, n)| {
                    let four = [(0, 0), (1, 0), (0, 1), (1, 1)].map(|(dx, dy)| {
                        let p = levels[(2 * row + dy) * width + 2 * x + dx];
                        p[channel] - luma_of(p)
                    });
                    four.iter().sum::<f32>() / 4.0 / scale + strength * n
                }));
            }
            quantise(&mut plane, w, h, 1.5 * self.scenario.faults.quantiser);
            plane
        })
    }
}

impl Pictures for Scene {
    fn timeline(&self) -> &Timeline {
        &self.timeline
    }

    fn size(&self) -> PictureSize {
        self.scenario.size
    }

    fn gray(&mut self, frame: FrameIndex) -> Result<Arc<GrayFrame>, PictureError> {
        check(&self.timeline, frame)?;
        if let Some((_, kept)) = self.gray.iter().find(|(i, _)| *i == frame.0) {
            return Ok(kept.clone());
        }
        let drawn = self.painter.paint(&self.scenario, frame.0);
        let PictureSize { width, height } = self.scenario.size;
        let picture = Arc::new(GrayFrame { width, height, data: self.luma(&drawn, frame.0) });
        keep(&mut self.gray, frame.0, &picture);
        Ok(picture)
    }

    fn colour(&mut self, frame: FrameIndex) -> Result<Arc<ColourFrame>, PictureError> {
        check(&self.timeline, frame)?;
        if let Some((_, kept)) = self.colour.iter().find(|(i, _)| *i == frame.0) {
            return Ok(kept.clone());
        }
        let drawn = self.painter.paint(&self.scenario, frame.0);
        let PictureSize { width, height } = self.scenario.size;
        let luma = self.luma(&drawn, frame.0);
        let levels: Vec<[f32; 3]> = drawn.rgb.iter().map(|&p| levels_of(&self.coded, p)).collect();
        let [blue, red] = self.chroma(&levels, frame.0);
        let mut data = Vec::with_capacity(4 * luma.len());
        for (i, &y) in luma.iter().enumerate() {
            let (x, row) = (i % width, i / width);
            let k = (row / 2).min(height / 2 - 1) * (width / 2) + (x / 2).min(width / 2 - 1);
            let (y, b, r) = (f32::from(y), blue[k], red[k]);
            let rgb = [y + 1.5748 * r, y - 0.1873 * b - 0.4681 * r, y + 1.8556 * b];
            data.extend(rgb.map(|c| c.round().clamp(0.0, 255.0) as u8));
            data.push(255);
        }
        let picture = Arc::new(ColourFrame { width, height, data });
        keep(&mut self.colour, frame.0, &picture);
        Ok(picture)
    }
}

/// Red, green, blue in grey levels, by the table.
fn levels_of(coded: &[f32], p: [f32; 3]) -> [f32; 3] {
    p.map(|c| coded[(c.clamp(0.0, 1.0) * LEVELS as f32) as usize])
}

fn luma_of(p: [f32; 3]) -> f32 {
    LUMA[0] * p[0] + LUMA[1] * p[1] + LUMA[2] * p[2]
}

fn check(timeline: &Timeline, frame: FrameIndex) -> Result<(), PictureError> {
    if frame.0 < timeline.len() {
        return Ok(());
    }
    Err(PictureError::Unreadable(format!(
        "There is no frame {}; the scene has {} frames.",
        frame.0,
        timeline.len()
    )))
}

fn keep<T>(kept: &mut VecDeque<(usize, Arc<T>)>, frame: usize, picture: &Arc<T>) {
    if kept.len() == KEPT {
        kept.pop_front();
    }
    kept.push_back((frame, picture.clone()));
}

/// From linear light 0..1 to grey levels 0..255 (sRGB, IEC 61966-2-1).
pub(super) fn coded_level(linear: f32) -> f32 {
    255.0
        * if linear <= 0.003_130_8 {
            12.92 * linear
        } else {
            1.055 * linear.powf(1.0 / 2.4) - 0.055
        }
}

/// Quantises the cosine transform of blocks of 8 x 8, as still-picture and video coders do;
/// what is left over at the right and lower border stays as it is.
fn quantise(plane: &mut [f32], width: usize, height: usize, step: f32) {
    if step <= 0.0 {
        return;
    }
    let basis = cosines();
    let back = turned(&basis);
    let steps: Block =
        std::array::from_fn(|v| std::array::from_fn(|u| step * (0.5 + 0.2 * (u + v) as f32)));
    let mut block = [[0.0f32; 8]; 8];
    for y0 in (0..height / 8 * 8).step_by(8) {
        for x0 in (0..width / 8 * 8).step_by(8) {
            for (i, row) in block.iter_mut().enumerate() {
                row.copy_from_slice(&plane[(y0 + i) * width + x0..][..8]);
            }
            let mut spectrum = times(&times(&basis, &block), &back);
            for (c, q) in spectrum.iter_mut().flatten().zip(steps.iter().flatten()) {
                // Rounds to nearest; a cast is much quicker than `round`.
                *c = ((*c / q + 8192.5) as i32 - 8192) as f32 * q;
            }
            for (i, row) in times(&times(&back, &spectrum), &basis).iter().enumerate() {
                plane[(y0 + i) * width + x0..][..8].copy_from_slice(row);
            }
        }
    }
}

type Block = [[f32; 8]; 8];

/// The orthonormal cosine transform (DCT-II) of length 8, row by row.
fn cosines() -> Block {
    std::array::from_fn(|k| {
        std::array::from_fn(|n| {
            let scale: f32 = if k == 0 { 0.125_f32.sqrt() } else { 0.5 };
            scale * (std::f32::consts::PI * (n as f32 + 0.5) * k as f32 / 8.0).cos()
        })
    })
}

/// The matrix product.
fn times(a: &Block, b: &Block) -> Block {
    let mut out = [[0.0; 8]; 8];
    for (row, factors) in out.iter_mut().zip(a) {
        for (factor, other) in factors.iter().zip(b) {
            row.iter_mut().zip(other).for_each(|(sum, c)| *sum += factor * c);
        }
    }
    out
}

fn turned(a: &Block) -> Block {
    std::array::from_fn(|i| std::array::from_fn(|j| a[j][i]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn transform_and_back_is_the_same() {
        let basis = cosines();
        let x: Block =
            std::array::from_fn(|i| std::array::from_fn(|j| (i * 31 + j * 7) as f32 % 50.0));
        let turned = turned(&basis);
        let spectrum = times(&times(&basis, &x), &turned);
        let back = times(&times(&turned, &spectrum), &basis);
        for (a, b) in x.iter().flatten().zip(back.iter().flatten()) {
            assert!((a - b).abs() < 1e-3);
        }
    }

    #[test]
    fn coarse_steps_blur_but_keep_the_mean() {
        let mut plane: Vec<f32> = (0..64 * 64).map(|i| 100.0 + ((i * 37) % 11) as f32).collect();
        let mean = plane.iter().sum::<f32>() / 4096.0;
        let before = plane.clone();
        quantise(&mut plane, 64, 64, 6.0);
        let after = plane.iter().sum::<f32>() / 4096.0;
        assert!((mean - after).abs() < 0.3 && plane != before);
    }
}
