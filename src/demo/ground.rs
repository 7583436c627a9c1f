//! The colour of the ground at a place: grass, mat, chalk, marks, shade.

use super::mark::{CutMark, MarkKind};
use super::noise::{fade, mix, rough, value};
use super::scenario::{GroundLook, PaintedLine, Scenario};

/// Linear red, green, blue.
pub(super) type Rgb = [f32; 3];

/// The size of a pixel on the ground along s and y, m.
pub(super) type Footprint = [f64; 2];

/// Wavelengths along s and y (m) and strength of the texture of grass and of a mat.
const GRASS: [(f64, f64, f32); 7] = [
    (0.9, 1.1, 0.13),
    (0.23, 0.3, 0.12),
    (0.07, 0.09, 0.12),
    (0.022, 0.03, 0.2),
    (0.008, 0.016, 0.34),
    (0.0035, 0.009, 0.3),
    (0.0014, 0.004, 0.35),
];
const MAT: [(f64, f64, f32); 4] =
    [(0.5, 0.3, 0.10), (0.12, 0.07, 0.10), (0.03, 0.012, 0.10), (0.005, 0.006, 0.22)];

/// The ground of a scene: what was there before and what each swing adds.
pub(super) struct Ground<'a> {
    look: &'a GroundLook,
    marks: Vec<Option<&'a CutMark>>,
    /// How far blades reach over a mark as seen from the camera, m.
    pub hidden: f64,
    seed: u32,
}

impl<'a> Ground<'a> {
    pub(super) fn of(scenario: &'a Scenario) -> Self {
        let camera = scenario.camera.centre;
        let slope = camera.z / camera.x.hypot(camera.y);
        Self {
            look: &scenario.ground,
            marks: scenario.swings.iter().map(|s| s.mark.as_ref()).collect(),
            // Blades lean and part; about half of their height hides what lies behind.
            hidden: (0.5 * scenario.ground.grass_height / slope).min(0.02),
            seed: scenario.seed,
        }
    }

    /// The colour at a place after the first `done` swings.
    pub(super) fn colour(&self, s: f64, y: f64, foot: Footprint, done: usize) -> Rgb {
        let fresh = || self.marks[..done].iter().flatten().copied();
        let on_mat = self.look.mat.map_or(0.0, |m| inside(m, s, y, foot));
        let mut colour = self.grass(s, y, foot);
        if on_mat > 0.0 {
            colour = blend(colour, self.mat(s, y, foot), on_mat);
        }
        for line in &self.look.lines {
            let wiped = fresh()
                .filter(|m| m.kind == MarkKind::Smear)
                .map(|m| m.strength * m.cover(s, y, 0.0))
                .fold(0.0, f32::max);
            let chalk = self.chalk(line, s, y, foot) * (1.0 - wiped);
            colour = blend(colour, [0.78, 0.78, 0.75], chalk);
        }
        for mark in self.look.old_marks.iter().chain(fresh()) {
            colour = self.marked(colour, mark, s, y);
        }
        let shade =
            1.0 - self.look.dapple * fade(2.2 * rough(s / 0.4, y / 0.5, self.seed ^ 9) + 0.4);
        colour.map(|c| c * shade)
    }

    fn grass(&self, s: f64, y: f64, foot: Footprint) -> Rgb {
        let light = 1.0 + texture(&GRASS, s, y, foot, self.seed);
        let patch = rough(s / 0.35, y / 0.4, self.seed ^ 21)
            + 0.4 * value(s / 0.05, y / 0.06, self.seed ^ 22);
        let dry = self.look.dryness * fade(1.4 * patch);
        let hue = 0.12 * value(s / 0.6, y / 0.6, self.seed ^ 23);
        let [r, g, b] = self.look.grass;
        let green = [r * (1.0 + hue), g, b * (1.0 - hue)];
        blend(green, [0.26, 0.19, 0.09], 0.6 * dry).map(|c| c * light.max(0.25))
    }

    fn mat(&self, s: f64, y: f64, foot: Footprint) -> Rgb {
        let light = 1.0 + texture(&MAT, s, y, foot, self.seed ^ 31);
        let m = self.look.mat.unwrap_or_default();
        let rim = (s - m[0]).min(m[2] - s).min(y - m[1]).min(m[3] - y);
        let rubber = 1.0 - fade(((rim - 0.018) / (0.5 * foot[1].max(0.002)) + 0.5) as f32);
        blend(self.look.mat_colour.map(|c| c * light), [0.02, 0.02, 0.022], rubber)
    }

    fn chalk(&self, line: &PaintedLine, s: f64, y: f64, foot: Footprint) -> f32 {
        let [a, b] = line.ends;
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let length = dx.hypot(dy);
        let along = ((s - a[0]) * dx + (y - a[1]) * dy) / length;
        let across = ((s - a[0]) * dy - (y - a[1]) * dx).abs() / length;
        let soft = if dx.abs() > dy.abs() { foot[1] } else { foot[0] }.max(0.002);
        let edge = ((line.width / 2.0 - across) / soft + 0.5).clamp(0.0, 1.0)
            * ((along.min(length - along)) / soft + 0.5).clamp(0.0, 1.0);
        let bitty = 0.8 + 0.2 * value(s / 0.006, y / 0.01, self.seed ^ 41);
        edge as f32 * line.opacity * bitty
    }

    fn marked(&self, under: Rgb, mark: &CutMark, s: f64, y: f64) -> Rgb {
        match mark.kind {
            MarkKind::Smear => under,
            MarkKind::Scuff => {
                let cover = mark.cover(s, y, 0.0);
                let streak = 0.75 + 0.25 * value(s / 0.05, y / 0.003, mark.seed ^ 5);
                under.map(|c| c * (1.0 + mark.strength * cover * streak))
            }
            MarkKind::Divot => {
                let cover = mark.cover(s, y, self.hidden);
                if cover == 0.0 {
                    return under;
                }
                let grain = 1.0
                    + 0.25 * value(s / 0.006, y / 0.008, mark.seed ^ 6)
                    + 0.15 * value(s / 0.02, y / 0.02, mark.seed ^ 7);
                // The wall on the camera's side and the blades over it shade the soil.
                let depth = (y - mark.middle) / mark.width + 0.5;
                let shade = 0.65 + 0.35 * fade(1.6 * depth as f32);
                blend(under, mark.soil.map(|c| c * grain * shade), cover * mark.strength)
            }
        }
    }
}

/// How the lattice of the texture is turned (sine and cosine of 0.35 rad, one way and the other by
/// turns): along the rows of the picture it would give them a pattern that no lawn has.
const LEAN: [f64; 2] = [0.3429, 0.9394];

/// Texture of several wavelengths; those finer than the footprint fade out.
fn texture(octaves: &[(f64, f64, f32)], s: f64, y: f64, foot: Footprint, seed: u32) -> f32 {
    let one = |(i, &(ws, wy, strength)): (usize, &(f64, f64, f32))| {
        let fades = (1.0 + (foot[0] / ws).powi(2)) * (1.0 + (foot[1] / wy).powi(2));
        let weight = strength / fades as f32;
        let [sine, cosine] = [if i % 2 == 0 { LEAN[0] } else { -LEAN[0] }, LEAN[1]];
        let (along, up) = (s * cosine + y * sine, y * cosine - s * sine);
        let seed = seed ^ (100 + i as u32);
        if weight < 0.004 { 0.0 } else { weight * value(along / ws, up / wy, seed) }
    };
    octaves.iter().enumerate().map(one).sum()
}

fn inside(m: [f64; 4], s: f64, y: f64, foot: Footprint) -> f32 {
    let cover = |d: f64, f: f64| (d / f + 0.5).clamp(0.0, 1.0);
    let along = cover(s - m[0], foot[0]) * cover(m[2] - s, foot[0]);
    (along * cover(y - m[1], foot[1]) * cover(m[3] - y, foot[1])) as f32
}

pub(super) fn blend(a: Rgb, b: Rgb, t: f32) -> Rgb {
    [mix(a[0], b[0], t), mix(a[1], b[1], t), mix(a[2], b[2], t)]
}
