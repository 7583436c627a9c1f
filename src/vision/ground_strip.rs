//! The strip of ground along the target line, before against after, on a raster of its own:
//! columns along the line, rows across it.

use nalgebra::{SMatrix, SVector, Vector3};

use super::clear_plate::Plate;
use super::steady::median;
use crate::domain::ImagePoint;

/// A colour above level 248 (as a logarithm, see `clear_plate`) no longer follows the light.
const SATURATED: f64 = 5.553;

/// Colours as logarithms of red, green, blue, or their change.
pub(crate) type Colour = Vector3<f64>;

/// Terms of the correction of exposure.
type Basis = SVector<f64, 5>;

/// Logarithm of a middling ground colour (level 80), the unit of the black level's term.
const DARK_GROUND: f64 = 4.5;

/// How the raster lies in the steadied picture.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Axes {
    /// Where column 0 and row 0 meet.
    pub origin: ImagePoint,
    /// Unit vector of growing columns: the way the club goes.
    pub along: [f64; 2],
    /// Pixels between neighbouring columns and rows.
    pub pitch: f64,
}

impl Axes {
    /// The place of (possibly fractional) column and row. Rows grow downwards in the picture.
    pub fn point(&self, column: f64, row: f64) -> ImagePoint {
        let [x, y] = self.along;
        let side = if x < 0.0 { -1.0 } else { 1.0 };
        self.origin.moved(
            self.pitch * (column * x - row * y * side),
            self.pitch * (column * y + row * x * side),
        )
    }

    /// The same raster with its middle line moved by `row` and turned by `slope` (rows a column).
    pub fn follow(&self, row: f64, slope: f64) -> Self {
        let ahead = self.point(1.0, slope);
        let (dx, dy) = (ahead.x - self.origin.x, ahead.y - self.origin.y);
        let length = dx.hypot(dy);
        let origin = self.point(0.0, row);
        Self { origin, along: [dx / length, dy / length], pitch: self.pitch }
    }
}

/// The extent of the raster, in columns and rows relative to its origin.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Extent {
    pub columns: [i32; 2],
    pub rows: [i32; 2],
}

/// What a cell of the raster can tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Cover {
    /// Clear before and after.
    Open,
    /// The ball's shadow lay here: only the tint can be compared.
    Shade,
    /// The ball lay in front.
    Ball,
    /// Outside the picture, or never clear.
    Unknown,
}

/// The ball's outline as the strip needs it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Disc {
    pub centre: ImagePoint,
    pub radius: f64,
    /// Where the ball touches the ground.
    pub foot: ImagePoint,
}

/// Red and blue against green.
pub(crate) fn tint_of(colour: &Colour) -> f64 {
    (colour[0] + colour[2]) / 2.0 - colour[1]
}

/// Before and after on the raster.
#[derive(Clone)]
pub(crate) struct Strip {
    pub axes: Axes,
    pub extent: Extent,
    pub width: usize,
    pub height: usize,
    pub cover: Vec<Cover>,
    /// After less before, exposure and wide shadows taken out.
    pub change: Vec<Colour>,
    pub before: Vec<Colour>,
    /// After, with the same correction.
    pub after: Vec<Colour>,
    /// By how much more the light changed in one place than in another: a wide shadow came or
    /// went.
    pub light_tilt: f64,
}

impl Strip {
    /// Lays the raster over two plates. `band`: rows within it of the middle line may hold the
    /// mark and have no say in the correction of exposure; 0 where that is not known.
    pub fn new(
        before: &Plate,
        after: &Plate,
        axes: Axes,
        extent: Extent,
        ball: Option<Disc>,
        band: f64,
    ) -> Self {
        let width = (extent.columns[1] - extent.columns[0] + 1).max(1) as usize;
        let height = (extent.rows[1] - extent.rows[0] + 1).max(1) as usize;
        let nothing = vec![Colour::zeros(); width * height];
        let mut strip = Self {
            axes,
            extent,
            width,
            height,
            cover: vec![Cover::Unknown; width * height],
            change: nothing.clone(),
            before: nothing.clone(),
            after: nothing,
            light_tilt: 0.0,
        };
        for i in 0..width * height {
            let point = axes.point(strip.column(i), strip.row(i));
            let (Some(b), Some(a)) = (before.at(point), after.at(point)) else { continue };
            // Coding smears the ball's edge, its colours (stored at half size) over two pixels.
            let hidden = ball.is_some_and(|d| point.distance(d.centre) < 1.03 * d.radius + 2.0);
            if !hidden && b.iter().chain(&a).any(|&v| v > SATURATED) {
                continue;
            }
            strip.cover[i] = if hidden { Cover::Ball } else { Cover::Open };
            strip.before[i] = Colour::from(b);
            strip.after[i] = Colour::from(a);
        }
        strip.correct_exposure(band);
        if let Some(disc) = ball {
            strip.mark_shade(disc);
        }
        strip
    }

    /// Column of cell `i` relative to the origin.
    pub fn column(&self, i: usize) -> f64 {
        f64::from(self.extent.columns[0]) + (i % self.width) as f64
    }

    /// Row of cell `i` relative to the origin.
    pub fn row(&self, i: usize) -> f64 {
        f64::from(self.extent.rows[0]) + (i / self.width) as f64
    }

    /// Mean change of the three logarithms: brighter is positive.
    pub fn light(&self, i: usize) -> f64 {
        self.change[i].mean()
    }

    /// Change of green against red and blue: grass gone is positive, shadows leave it alone.
    pub fn tint(&self, i: usize) -> f64 {
        tint_of(&self.change[i])
    }

    /// Cells clear both before and after, outside the band.
    pub fn open_outside(&self, band: f64) -> Vec<usize> {
        (0..self.cover.len())
            .filter(|&i| self.cover[i] == Cover::Open && self.row(i).abs() >= band)
            .collect()
    }

    /// Takes exposure, white balance and wide shadows out of the change: a bilinear surface of
    /// gain, and an offset of the black level, which weighs more the darker the ground is.
    fn correct_exposure(&mut self, band: f64) {
        let cells = self.open_outside(band);
        let raw: Vec<Colour> = self.after.iter().zip(&self.before).map(|(a, b)| a - b).collect();
        for c in 0..3 {
            let basis = |i: usize| {
                let (x, y) = (self.column(i) / 200.0, self.row(i) / 40.0);
                Basis::from([1.0, x, y, x * y, (DARK_GROUND - self.before[i][c]).exp()])
            };
            let surface = fit_surface(&cells, &|i| raw[i][c], &basis);
            let tilt = |i: usize| (1..4).map(|k| surface[k] * basis(i)[k]).sum::<f64>();
            let [low, high] = cells.iter().fold([0.0_f64; 2], |[low, high], &i| {
                let tilt = tilt(i);
                [low.min(tilt), high.max(tilt)]
            });
            let uneven = high - low;
            let light: Vec<f64> = (0..raw.len()).map(|i| surface.dot(&basis(i))).collect();
            for (i, light) in light.into_iter().enumerate() {
                self.change[i][c] = raw[i][c] - light;
                self.after[i][c] -= light;
            }
            self.light_tilt = self.light_tilt.max(uneven);
        }
    }

    /// The ball's shadow is gone after the strike: the ground brightens there, more than any
    /// scuff does (about a quarter in its middle), or it touches the ball. Right under the ball
    /// the sky's own soft shade is taken for granted.
    fn mark_shade(&mut self, ball: Disc) {
        let open: Vec<usize> =
            (0..self.cover.len()).filter(|&i| self.cover[i] == Cover::Open).collect();
        let noise = 1.4826 * median(open.iter().map(|&i| self.light(i).abs()).collect());
        let radius = ball.radius / self.axes.pitch;
        let limit = (6.0 * noise).max(0.12).max(0.4 * self.shade_depth(ball));
        let near: Vec<bool> = (0..self.cover.len())
            .map(|i| {
                self.axes.point(self.column(i), self.row(i)).distance(ball.centre)
                    < 7.0 * ball.radius
            })
            .collect();
        let bright = |i: usize| near[i] && self.cover[i] == Cover::Open && self.light(i) > limit;
        let mut shade = vec![false; self.cover.len()];
        for cells in self.components(&bright) {
            let touches = cells.iter().any(|&i| {
                self.neighbours(i).into_iter().flatten().any(|j| self.cover[j] == Cover::Ball)
            });
            let mut levels: Vec<f64> = cells.iter().map(|&i| self.light(i)).collect();
            levels.sort_by(f64::total_cmp);
            let is_dark = levels[levels.len() * 9 / 10] > 0.25;
            let is_large = cells.len() as f64 > 0.15 * radius * radius;
            if touches || (is_dark && is_large) {
                cells.iter().for_each(|&i| shade[i] = true);
            }
        }
        for (i, is_shade) in shade.iter_mut().enumerate() {
            let point = self.axes.point(self.column(i), self.row(i));
            let u = (point.x - ball.foot.x) / (1.35 * ball.radius);
            let v = (point.y - ball.foot.y) / (0.6 * ball.radius);
            *is_shade |= u * u + v * v < 1.0;
        }
        let reach = (0.2 * radius).round().max(1.0) as usize;
        for (i, is_shade) in self.grow(&shade, reach).into_iter().enumerate() {
            if is_shade && self.cover[i] == Cover::Open {
                self.cover[i] = Cover::Shade;
            }
        }
    }

    /// How much the ground brightens where the ball's shadow was darkest: all but the uppermost
    /// thirtieth of the ground within half a radius of the ball's outline, below its middle.
    fn shade_depth(&self, ball: Disc) -> f64 {
        let mut levels: Vec<f64> = (0..self.cover.len())
            .filter(|&i| self.cover[i] == Cover::Open)
            .filter(|&i| {
                let point = self.axes.point(self.column(i), self.row(i));
                point.distance(ball.centre) < 1.5 * ball.radius + 2.0 && point.y > ball.centre.y
            })
            .map(|i| self.light(i))
            .collect();
        levels.sort_by(f64::total_cmp);
        levels.get(levels.len() * 29 / 30).copied().unwrap_or(0.0)
    }

    fn neighbours(&self, i: usize) -> [Option<usize>; 4] {
        let (x, y) = (i % self.width, i / self.width);
        [
            (x > 0).then(|| i - 1),
            (x + 1 < self.width).then(|| i + 1),
            (y > 0).then(|| i - self.width),
            (y + 1 < self.height).then(|| i + self.width),
        ]
    }

    /// Groups of neighbouring cells for which `is_in` holds.
    fn components(&self, is_in: &dyn Fn(usize) -> bool) -> Vec<Vec<usize>> {
        let mut seen = vec![false; self.cover.len()];
        let mut groups = Vec::new();
        for start in 0..self.cover.len() {
            if seen[start] || !is_in(start) {
                continue;
            }
            seen[start] = true;
            let mut group = vec![start];
            let mut next = 0;
            while next < group.len() {
                for j in self.neighbours(group[next]).into_iter().flatten() {
                    if !seen[j] && is_in(j) {
                        seen[j] = true;
                        group.push(j);
                    }
                }
                next += 1;
            }
            groups.push(group);
        }
        groups
    }

    /// Widens a set of cells by `reach` cells in all directions (a square).
    fn grow(&self, set: &[bool], reach: usize) -> Vec<bool> {
        let (w, h) = (self.width, self.height);
        let spread = |set: &[bool], step: usize, place: &dyn Fn(usize) -> (usize, usize)| {
            (0..set.len())
                .map(|i| {
                    let (at, length) = place(i);
                    let low = at.saturating_sub(reach);
                    let high = (at + reach).min(length - 1);
                    (low..=high).any(|k| set[i + k * step - at * step])
                })
                .collect::<Vec<bool>>()
        };
        let wide = spread(set, 1, &|i| (i % w, w));
        spread(&wide, w, &|i| (i / w, h))
    }
}

/// Least squares, the cells farther off than three times the median left out in each of six
/// rounds: a mark, crumbs and feet have no say.
fn fit_surface(
    cells: &[usize],
    raw: &dyn Fn(usize) -> f64,
    basis: &dyn Fn(usize) -> Basis,
) -> Basis {
    let mut limit = f64::INFINITY;
    let mut surface = Basis::zeros();
    for _ in 0..6 {
        let mut normal = SMatrix::<f64, 5, 5>::identity() * 1e-6;
        let mut right = Basis::zeros();
        for &i in cells {
            let b = basis(i);
            if (raw(i) - surface.dot(&b)).abs() <= limit {
                normal += b * b.transpose();
                right += b * raw(i);
            }
        }
        let Some(inverse) = normal.try_inverse() else { break };
        surface = inverse * right;
        let rests = cells.iter().map(|&i| (raw(i) - surface.dot(&basis(i))).abs()).collect();
        limit = 3.0 * median(rests);
    }
    surface
}
