//! A mat's edges: long straight borders between ground of two colours, along the picture.
//!
//! Only where they lie is found. They tell no scale, mats being of many sizes, but most golfers
//! stand square to their mat, so a person may say that the target line runs along one.

use nalgebra::{Matrix3, Vector3};

use super::plane::median;
use super::runs::longest_stretch;
use crate::domain::{ColourFrame, Found, ImagePoint};

/// An edge as it shows, which the lens may have bent: its left end, its middle, its right end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FoundEdge {
    /// From left to right.
    pub points: [ImagePoint; 3],
}

// What tells a mat's edge, besides what is measured in the picture itself: common practice or
// reasoned, no source.

/// Steeper in the picture than this it does not lie along the target line of a face-on camera.
const STEEPEST: f64 = 0.12;
const SLOPES: i32 = 24;
/// How many lines are looked at closely.
const TRIES: usize = 6;
/// Its least length as a part of the long side: a mat 1.2 m wide seen from 5 m.
const SHORTEST: f64 = 0.25;
/// Half of the trim and of the mat's own thickness that may lie between the two colours, as a
/// part of the long side: 40 mm seen from 2 m.
const TRIM: f64 = 0.008;
/// How much of the ground is compared on each side, as a part of the long side.
const BESIDE: f64 = 0.01;
/// Feet and their shadows hide so much of it at a time, as a part of the long side.
const HIDDEN: f64 = 0.12;
/// Least difference of tint (log units), as of soil and grass.
const LEAST_TINT: f64 = 0.06;
/// Share of a shadow's darkness that its tint can reach (blue sky against yellow sun).
const SHADE_TINT_SHARE: f64 = 0.3;
/// A lens bends a straight edge by this much at most, as a part of the long side.
const MOST_BENT: f64 = 0.012;
/// Added to a colour before its logarithm is taken, so that the noise of dark pixels stays
/// bounded.
const DARK: f64 = 10.0;
/// Single differences count for no more than this, log units: a white shoe outvotes nothing.
const CLIP: f64 = 0.3;
/// An end so close to the picture's side may lie beyond it, as a part of the long side.
const EDGE_OF_PICTURE: f64 = 0.03;
/// Columns averaged to find the border in one.
const TOGETHER: usize = 2;

/// The mat's edges in a frame, in its own pixels, the longest first, `sigma` being the standard
/// uncertainty of each point across the edge in pixels; empty if there are none.
///
/// The two sides differ in tint by more than a shadow's edge does, all along, near by and
/// farther off (a chalk line has the same ground on both its sides), and the border between them
/// follows one gentle curve to a fraction of a pixel, which the borders of turf do not.
///
/// A mat of the colour of the ground about it is not found.
pub fn find_mat_edges(frame: &ColourFrame) -> Vec<Found<FoundEdge>> {
    let Some(ground) = Ground::new(frame) else { return Vec::new() };
    let mut edges: Vec<Found<FoundEdge>> = Vec::new();
    for line in ground.strongest_lines() {
        let rough = ground.trim + ground.beside;
        let traced = ground.traced(line, rough).and_then(|t| ground.traced(t.curve, ground.trim));
        let Some(edge) = traced.and_then(|t| ground.edge(&t)) else { continue };
        if edges.iter().all(|known| !is_same(&known.value, &edge.value, frame)) {
            edges.push(edge);
        }
    }
    let length = |e: &Found<FoundEdge>| e.value.points[0].distance(e.value.points[2]);
    edges.sort_by(|a, b| length(b).total_cmp(&length(a)));
    edges
}

/// Two looks at one trim.
fn is_same(a: &FoundEdge, b: &FoundEdge, frame: &ColourFrame) -> bool {
    let near = 4.0 * TRIM * frame.width.max(frame.height) as f64;
    let apart = |p: &ImagePoint| (p.y - a.y_at(p.x)).abs();
    b.points.iter().map(apart).fold(f64::INFINITY, f64::min) < near
}

impl FoundEdge {
    /// Its y at the column `x`, both in pixels of the picture, by the parabola through its points.
    pub fn y_at(&self, x: f64) -> f64 {
        let p = &self.points;
        let share = |i: usize, j: usize, k: usize| {
            (x - p[j].x) * (x - p[k].x) / ((p[i].x - p[j].x) * (p[i].x - p[k].x))
        };
        p[0].y * share(0, 1, 2) + p[1].y * share(1, 0, 2) + p[2].y * share(2, 0, 1)
    }
}

/// Red against green, blue against green, and light.
type Tone = Vector3<f64>;
/// Height in the picture: constant, slope and bend, of the columns from -1 to 1.
type Curve = Vector3<f64>;

/// A picture's tones at half size, at which cameras keep colours, summed down the columns.
struct Ground {
    width: usize,
    height: usize,
    longer: f64,
    trim: usize,
    beside: usize,
    sums: Vec<Tone>,
}

/// A border followed along the picture.
struct Traced {
    curve: Curve,
    /// Off the curve by this much, column by column; `None`: not seen there.
    off: Vec<Option<f64>>,
    /// How the ground below differs from that above.
    step: Tone,
}

impl Ground {
    fn new(frame: &ColourFrame) -> Option<Self> {
        let (width, height) = (frame.width / 2, frame.height / 2);
        let longer = width.max(height) as f64;
        let part = |share: f64, least: f64| (share * longer).round().max(least) as usize;
        let (trim, beside) = (part(TRIM, 2.0), part(BESIDE, 3.0));
        if width < 64 || height < 8 * (trim + beside) {
            return None;
        }
        let mut sums = vec![Tone::zeros(); width];
        for y in 0..height {
            for x in 0..width {
                let tone = sums[y * width + x] + tone(frame, 2 * x, 2 * y);
                sums.push(tone);
            }
        }
        Some(Self { width, height, longer, trim, beside, sums })
    }

    /// Ground below less ground above a border between the rows `y - 1` and `y`, `reach` rows of
    /// each, from `gap` away; `None` outside the picture.
    fn step(&self, x: usize, y: f64, gap: usize, reach: usize) -> Option<Tone> {
        let far = (gap + reach) as f64;
        if y < far || y > self.height as f64 - far {
            return None;
        }
        let y = y as usize;
        let rows = |from: usize| {
            self.sums[(from + reach) * self.width + x] - self.sums[from * self.width + x]
        };
        Some((rows(y + gap) - rows(y - gap - reach)) / reach as f64)
    }

    fn across(&self, x: usize) -> f64 {
        2.0 * x as f64 / self.width as f64 - 1.0
    }

    fn height_of(&self, curve: &Curve, x: usize) -> f64 {
        let u = self.across(x);
        curve[0] + curve[1] * u + curve[2] * u * u
    }

    /// Lines in the picture's lower part along which the steps add up to most, none near another.
    fn strongest_lines(&self) -> Vec<Curve> {
        let top = 2 * self.height / 5;
        let steps: Vec<[f64; 2]> = (top..self.height)
            .flat_map(|y| (0..self.width).map(move |x| (x, y)))
            .map(|(x, y)| match self.step(x, y as f64, self.trim, self.beside) {
                Some(step) => [0, 1].map(|i| step[i].clamp(-CLIP, CLIP)),
                None => [0.0; 2],
            })
            .collect();
        let mut lines: Vec<(f64, Curve)> = Vec::new();
        let half = self.width as f64 / 2.0;
        for k in -SLOPES..=SLOPES {
            let rise = half * STEEPEST * f64::from(k) / f64::from(SLOPES);
            let shifts: Vec<isize> =
                (0..self.width).map(|x| (rise * self.across(x)).round() as isize).collect();
            for y in top..self.height {
                let mut sum = [0.0; 2];
                for (x, shift) in shifts.iter().enumerate() {
                    let row = y as isize + shift - top as isize;
                    if (0..(self.height - top) as isize).contains(&row) {
                        let step = steps[row as usize * self.width + x];
                        sum = [sum[0] + step[0], sum[1] + step[1]];
                    }
                }
                lines.push((sum[0].hypot(sum[1]), Curve::new(y as f64, rise, 0.0)));
            }
        }
        lines.sort_by(|a, b| b.0.total_cmp(&a.0));
        let near = (2 * self.trim + self.beside) as f64;
        let mut chosen: Vec<Curve> = Vec::new();
        for (_, line) in lines {
            let is_new =
                |c: &Curve| (c[0] - line[0]).abs() >= near || (c[1] - line[1]).abs() >= 3.0 * near;
            if chosen.iter().all(is_new) {
                chosen.push(line);
            }
            if chosen.len() == TRIES {
                break;
            }
        }
        chosen
    }

    /// How the two sides of a curve differ where they do in the same way, and in which columns
    /// that is; `None`: nowhere long enough, hardly, or by a shadow alone.
    fn common_step(&self, curve: &Curve) -> Option<(Tone, Vec<bool>)> {
        let steps: Vec<Option<Tone>> = (0..self.width)
            .map(|x| self.step(x, self.height_of(curve, x).round(), self.trim, self.beside))
            .collect();
        // The strongest ones begin.
        let (mut sum, mut weight) = (Tone::zeros(), 0.0);
        for step in steps.iter().flatten() {
            let strength = step[0].powi(2) + step[1].powi(2);
            sum += step * strength;
            weight += strength;
        }
        let mut common = sum / weight;
        let mut near = vec![false; self.width];
        for _ in 0..3 {
            near = steps
                .iter()
                .map(|s| s.is_some_and(|s| (0.5..2.0).contains(&likeness(&s, &common))))
                .collect();
            if near.iter().filter(|n| **n).count() as f64 <= 0.2 * self.longer {
                return None;
            }
            let middle = |i: usize| {
                let own = steps.iter().zip(&near).filter(|(_, near)| **near);
                median(&mut own.filter_map(|(s, _)| s.map(|s| s[i])).collect::<Vec<_>>())
            };
            common = Tone::new(middle(0)?, middle(1)?, middle(2)?);
        }
        is_other_ground(&common, 1.0).then_some((common, near))
    }

    /// Follows the border within `reach` of a curve.
    fn traced(&self, along: Curve, reach: usize) -> Option<Traced> {
        let (step, near) = self.common_step(&along)?;
        let places: Vec<Option<f64>> = (0..self.width)
            .map(|x| near[x].then(|| self.border(x, &along, reach, &step)).flatten())
            .collect();
        let rough = |x: usize| self.height_of(&along, x);
        let seen = || places.iter().enumerate().filter_map(|(x, y)| Some((x, (*y)?)));
        // The commonest distance from the curve begins.
        let mut counts = vec![0; 2 * reach + 3];
        let bin = |x: usize, y: f64| (y - rough(x) + reach as f64 + 1.0).max(0.0) as usize;
        for (x, y) in seen() {
            if let Some(count) = counts.get_mut(bin(x, y)) {
                *count += 1;
            }
        }
        let most = (0..counts.len()).max_by_key(|&i| counts[i])?;
        let mut own: Vec<(usize, f64)> =
            seen().filter(|&(x, y)| (bin(x, y) as f64 - most as f64).abs() < 2.5).collect();
        let mut curve = along;
        for _ in 0..6 {
            if (own.len() as f64) < 0.12 * self.longer {
                return None;
            }
            curve = self.fitted(&own)?;
            let off = |x: usize, y: f64| (y - self.height_of(&curve, x)).abs();
            let usual = median(&mut own.iter().map(|&(x, y)| off(x, y)).collect::<Vec<_>>())?;
            let limit = (3.0 * 1.4826 * usual).clamp(0.6, 2.5);
            own = seen().filter(|&(x, y)| off(x, y) < limit).collect();
        }
        let off = |(x, y): (usize, &Option<f64>)| y.map(|y| y - self.height_of(&curve, x));
        Some(Traced { curve, off: places.iter().enumerate().map(off).collect(), step })
    }

    /// Where in a column, some neighbours averaged, the tone changes most.
    fn border(&self, x: usize, along: &Curve, reach: usize, step: &Tone) -> Option<f64> {
        let columns = x.saturating_sub(TOGETHER)..(x + TOGETHER + 1).min(self.width);
        let strength = |away: isize| {
            let one = |x: usize| {
                let y = self.height_of(along, x).round() + away as f64;
                self.step(x, y, 0, 2).map_or(-1.0, |s| likeness(&s, step))
            };
            columns.clone().map(one).sum::<f64>() / columns.len() as f64
        };
        let reach = reach as isize;
        let all: Vec<f64> = (-reach..=reach).map(strength).collect();
        let most = (1..all.len() - 1).max_by(|&i, &j| all[i].total_cmp(&all[j]))?;
        let (a, b, c) = (all[most - 1], all[most], all[most + 1]);
        let bend = a - 2.0 * b + c;
        (b > 0.3 && b >= a && b >= c && bend < 0.0).then(|| {
            let at = self.height_of(along, x).round() + (most as isize - reach) as f64;
            at + 0.5 * (a - c) / bend
        })
    }

    fn fitted(&self, places: &[(usize, f64)]) -> Option<Curve> {
        let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
        for &(x, y) in places {
            let u = self.across(x);
            let row = Vector3::new(1.0, u, u * u);
            normal += row * row.transpose();
            right += row * y;
        }
        Some(normal.try_inverse()? * right)
    }

    /// The edge on a border, if it is one.
    fn edge(&self, traced: &Traced) -> Option<Found<FoundEdge>> {
        let Traced { curve, off, step } = traced;
        if curve[2].abs() > MOST_BENT * self.longer {
            return None;
        }
        let good: Vec<bool> = (0..self.width)
            .map(|x| {
                let beside = self.step(x, self.height_of(curve, x).round(), self.trim, self.beside);
                off[x].is_some_and(|off| off.abs() < 1.0)
                    && beside.is_some_and(|s| (0.5..1.6).contains(&likeness(&s, step)))
            })
            .collect();
        let (from, to) = mostly_good(&good, HIDDEN * self.longer)?;
        // The horizon, a path, a hedge go through the whole picture.
        let margin = EDGE_OF_PICTURE * self.longer;
        if (from as f64) < margin && (self.width - 1 - to) as f64 <= margin {
            return None;
        }
        let length = (to - from + 1) as f64;
        let inside = || (from..=to).filter(|x| good[*x]);
        let filled = inside().count() as f64 / length;
        let scatter = inside().filter_map(|x| off[x]).map(|o| o * o).sum::<f64>();
        let scatter = (scatter / inside().count() as f64).sqrt();
        if length < SHORTEST * self.longer || filled < 0.6 || scatter > 0.7 {
            return None;
        }
        self.is_other_ground_farther_off(traced, from..=to).then(|| Found {
            value: FoundEdge {
                points: [from, (from + to) / 2, to].map(|x| self.in_frame(curve, x)),
            },
            // A raised edge and a frayed one are no sharper than the pixels they are kept in.
            sigma: 0.5 + scatter,
            confidence: if filled > 0.75 && scatter < 0.5 { 0.9 } else { 0.75 },
        })
    }

    /// A chalk line's ground is the same again a little farther off; at one distance or another
    /// something else may lie on the mat.
    fn is_other_ground_farther_off(
        &self,
        traced: &Traced,
        columns: std::ops::RangeInclusive<usize>,
    ) -> bool {
        let (mut other, mut looked) = (0, 0);
        for gap in [2, 3, 4, 6, 8].map(|times| times * self.trim) {
            let mut steps: Vec<f64> = columns
                .clone()
                .filter_map(|x| {
                    let y = self.height_of(&traced.curve, x).round();
                    Some(likeness(&self.step(x, y, gap, self.beside)?, &traced.step))
                })
                .collect();
            if 2 * steps.len() <= columns.end() - columns.start() {
                continue;
            }
            looked += 1;
            let share = median(&mut steps).unwrap_or(0.0);
            other += usize::from(share > 0.25 && is_other_ground(&traced.step, share));
        }
        2 * other > looked
    }

    /// A place on a curve in the frame's own pixels: a border lies half a row before its row, and
    /// each pixel here is two by two there.
    fn in_frame(&self, curve: &Curve, x: usize) -> ImagePoint {
        ImagePoint::new(2.0 * x as f64 + 0.5, 2.0 * self.height_of(curve, x) - 0.5)
    }
}

/// Whether a step of tone, a `share` of it, is more than a shadow's edge makes.
fn is_other_ground(step: &Tone, share: f64) -> bool {
    let tint = step[0].hypot(step[1]);
    share * tint > LEAST_TINT && share * tint > SHADE_TINT_SHARE * step[2].abs()
}

/// How much of `whole` there is in a step's tint: 1 if it is the same.
fn likeness(step: &Tone, whole: &Tone) -> f64 {
    (step[0] * whole[0] + step[1] * whole[1]) / (whole[0].powi(2) + whole[1].powi(2)).max(1e-12)
}

/// Tone of two by two pixels.
fn tone(frame: &ColourFrame, x: usize, y: usize) -> Tone {
    let four = [(0, 0), (1, 0), (0, 1), (1, 1)].map(|(dx, dy)| frame.rgb(x + dx, y + dy));
    let log = |c: usize| {
        let sum: f64 = four.iter().map(|p| f64::from(p[c])).sum();
        (sum / 4.0 + DARK).ln()
    };
    let [red, green, blue] = [log(0), log(1), log(2)];
    Tone::new(red - green, blue - green, (red + green + blue) / 3.0)
}

/// First and last of the longest stretch that mostly holds. It goes on beyond a gap of at most
/// `gap` if what follows is no short scrap.
fn mostly_good(good: &[bool], gap: f64) -> Option<(usize, usize)> {
    const WINDOW: usize = 7;
    let holds = |x: &usize| {
        let around = x.saturating_sub(WINDOW)..(x + WINDOW + 1).min(good.len());
        2 * around.clone().filter(|i| good[*i]).count() > around.len()
    };
    longest_stretch((0..good.len()).filter(holds), |(first, last), away| {
        away as f64 <= gap && (last - first) as f64 > 0.3 * away as f64
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Textured green ground; `colour` gives a place's own colour.
    fn picture(colour: impl Fn(f64, f64) -> Option<[f64; 3]>) -> ColourFrame {
        let (width, height) = (640, 360);
        let data = (0..width * height)
            .flat_map(|i| {
                let (x, y) = ((i % width) as f64, (i / width) as f64);
                let hash = (i as u32).wrapping_mul(2_654_435_761) >> 24;
                let texture = 0.85 + f64::from(hash) / 850.0 + 0.1 * (0.05 * x + 0.3 * y).sin();
                let mut sum = [0.0; 3];
                for k in 0..16 {
                    let (u, v) = (f64::from(k % 4) / 4.0 - 0.375, f64::from(k / 4) / 4.0 - 0.375);
                    let own = colour(x + u, y + v).unwrap_or([96.0, 118.0, 50.0]);
                    (0..3).for_each(|c| sum[c] += own[c] / 16.0);
                }
                let [r, g, b] = sum.map(|c| (c * texture).round().clamp(0.0, 255.0) as u8);
                [r, g, b, 255]
            })
            .collect();
        ColourFrame { width, height, data }
    }

    const MAT: [f64; 3] = [40.0, 96.0, 62.0];

    #[test]
    fn both_edges_of_a_mat_are_found_between_pixels() {
        let near = |x: f64| 290.3 - 0.02 * (x - 320.0);
        let far = |x: f64| 190.6 - 0.015 * (x - 320.0);
        let mat = |x: f64, y: f64| {
            let inside = (70.0..580.0).contains(&x) && (far(x)..near(x)).contains(&y);
            let shoe = (250.0..290.0).contains(&x) && (180.0..200.0).contains(&y);
            shoe.then_some([230.0; 3]).or(inside.then_some(MAT))
        };
        let found = find_mat_edges(&picture(mat));
        assert_eq!(found.len(), 2, "{found:?}");
        for (edge, truth) in found.iter().map(|e| e.value).map(|e| {
            let is_near = e.points[1].y > 240.0;
            (e, if is_near { &near as &dyn Fn(f64) -> f64 } else { &far })
        }) {
            let [left, _, right] = edge.points;
            assert!((left.x - 70.0).abs() < 25.0 && (right.x - 580.0).abs() < 25.0, "{edge:?}");
            for p in edge.points {
                assert!((p.y - truth(p.x)).abs() < 0.5, "{p:?} is not at {:.2}", truth(p.x));
            }
        }
    }

    #[test]
    fn turf_a_shadow_chalk_the_horizon_and_short_or_wavy_borders_are_no_mats_edge() {
        let none = |name: &str, colour: &dyn Fn(f64, f64) -> Option<[f64; 3]>| {
            let found = find_mat_edges(&picture(colour));
            assert!(found.is_empty(), "{name}: {found:?}");
        };
        none("plain turf", &|_, _| None);
        none("a shadow's edge, bluer by a tenth", &|_, y| {
            (y > 250.2).then_some([0.5 * 96.0, 0.5 * 118.0, 0.55 * 50.0])
        });
        none("chalk", &|_, y| (246.0..254.0).contains(&y).then_some([200.0, 205.0, 195.0]));
        none("wide chalk", &|_, y| (240.0..262.0).contains(&y).then_some([200.0, 205.0, 195.0]));
        none("steep", &|x, y| (y - 250.0 > 0.5 * (x - 320.0)).then_some(MAT));
        none("short", &|x, y| {
            ((280.0..400.0).contains(&x) && (240.0..290.0).contains(&y)).then_some(MAT)
        });
        none("the horizon", &|x, y| (y < 180.0 + 0.01 * x).then_some([60.0, 75.0, 90.0]));
        none("wavy", &|x, y| (y > 250.0 + 9.0 * (0.04 * x).sin()).then_some(MAT));
    }
}
