//! The mark on the raster: where it is, which colour it has, how it begins and ends.
//!
//! A rectangle of changed ground is looked for twice, in the tint (grass becomes soil; shadows
//! leave it alone) and in the light (a scuff is paler or darker). The colour that sets the found
//! rectangle apart from noise best (Fisher's discriminant) then turns each cell into a share:
//! 0 for untouched ground, 1 for the mark.

use nalgebra::Matrix3;

use super::ground_strip::{Axes, Colour, Cover, Strip, tint_of};
use super::steady::median;

/// The chance tint of a shadow: standard deviation of each log colour against the others.
const SHADE_TINT: f64 = 0.04;
/// Share of a shadow's darkness that its tint can reach (blue sky against yellow sun).
const SHADE_TINT_SHARE: f64 = 0.3;
/// Differences beyond this say no more than "different" (log units).
const CLIP: f64 = 0.6;

/// A rectangle of changed cells: half-open ranges of raster indices.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Rect {
    pub columns: [usize; 2],
    pub rows: [usize; 2],
}

/// What a search found: the best rectangle, its mean change, and how far that stands out of the
/// noise (standard deviations).
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sighting {
    pub rect: Rect,
    pub contrast: f64,
    pub significance: f64,
}

/// Limits of a search, in cells.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Limits {
    /// The middle of the mark lies within so many rows of the middle line.
    pub band: f64,
    /// Shortest and longest mark.
    pub length: [f64; 2],
    /// Widest mark.
    pub width: f64,
    /// Columns that a mark must overlap.
    pub reach: [f64; 2],
    /// Rows outside of which the ground is taken to be unchanged.
    pub quiet: f64,
    /// Cells in a patch over which noise is told from texture: columns, rows.
    pub noise_patch: [usize; 2],
}

/// What shows where the ball lay, whose ground before was hidden: taken to have been like the
/// ground around it, against whose own variety a mark must stand out. `None`: nothing does.
pub(crate) fn under_ball(strip: &Strip, limits: &Limits) -> Option<Sighting> {
    let cells: Vec<usize> =
        (0..strip.cover.len()).filter(|&i| strip.cover[i] == Cover::Ball).collect();
    let [from, to] = [
        cells.iter().map(|i| i % strip.width).min()?,
        cells.iter().map(|i| i % strip.width).max()?,
    ];
    let reach = (to - from).max(8);
    let near =
        |i: usize| (from.saturating_sub(2 * reach)..=to + 2 * reach).contains(&(i % strip.width));
    let around: Vec<Colour> = (0..strip.cover.len())
        .filter(|&i| strip.cover[i] == Cover::Open && near(i))
        .map(|i| strip.before[i])
        .collect();
    let typical = median_colour(&around)?;
    let mut seen = strip.clone();
    for i in 0..seen.cover.len() {
        if matches!(seen.cover[i], Cover::Ball | Cover::Shade) {
            seen.change[i] = seen.after[i] - typical;
            seen.cover[i] = Cover::Shade;
        }
    }
    let sighting = search(&seen, Sense::Tint, limits).1?;
    let grass: Vec<f64> =
        (0..strip.cover.len()).map(|i| tint_of(&(strip.before[i] - typical))).collect();
    let variety = measure_noise(strip, &grass, limits);
    let cells = rect_cells(strip, sighting.rect).count() as f64;
    let significance = sighting.contrast * cells.sqrt() / (variety.sigma * variety.inflation);
    let stands_out = significance >= HIDDEN_SIGNIFICANT && sighting.contrast >= HIDDEN_CONTRAST;
    stands_out.then_some(Sighting { significance, ..sighting })
}

/// Against the variety of grass, which is not of one's own choosing as noise is.
const HIDDEN_SIGNIFICANT: f64 = 6.0;
/// Soil differs from grass in its tint by 0.1 to 0.4.
const HIDDEN_CONTRAST: f64 = 0.12;

/// The ways of looking.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Sense {
    /// Grass gone, soil bare.
    Tint,
    /// The tint the other way: no grass is lost by that, but chalk may be.
    Greener,
    /// Paler or darker.
    Light,
}

/// Noise of one cell and how much slower it averages out than independent noise would.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Noise {
    pub sigma: f64,
    pub inflation: f64,
}

/// Looks for the most significant rectangle that is marked all along; `None` if there is none.
///
/// A tee, a clod or a crumb changes a few columns only, and a shadow may be gone: such a rectangle
/// is put aside and the search goes on without its cells.
pub(crate) fn search(strip: &Strip, sense: Sense, limits: &Limits) -> (Noise, Option<Sighting>) {
    let values: Vec<f64> = (0..strip.cover.len())
        .map(|i| match (sense, strip.cover[i]) {
            (Sense::Tint, Cover::Shade) => {
                let allowed = SHADE_TINT_SHARE * strip.light(i).max(0.0);
                let tint = strip.tint(i);
                tint - tint.clamp(-allowed, allowed)
            }
            (Sense::Tint, _) => strip.tint(i),
            (Sense::Greener, _) => -strip.tint(i),
            (Sense::Light, _) => strip.light(i),
        })
        .collect();
    let noise = measure_noise(strip, &values, limits);
    let mut is_seen: Vec<bool> = (strip.cover.iter())
        .map(|cover| match cover {
            Cover::Open => true,
            Cover::Shade => sense == Sense::Tint,
            Cover::Ball | Cover::Unknown => false,
        })
        .collect();
    for _ in 0..4 {
        let sums = Sums::new(strip, &values, &is_seen);
        let Some((score, rect, contrast)) = sums.best(strip, sense, limits) else { break };
        let is_mark = is_marked_all_along(strip, &values, &is_seen, rect, contrast)
            && !(sense == Sense::Light && is_shadow_gone(strip, &is_seen, rect));
        if is_mark {
            let significance = score.sqrt() / (noise.sigma * noise.inflation);
            return (noise, Some(Sighting { rect, contrast, significance }));
        }
        rect_cells(strip, rect).for_each(|i| is_seen[i] = false);
    }
    (noise, None)
}

fn rect_cells(strip: &Strip, rect: Rect) -> impl Iterator<Item = usize> + use<> {
    let width = strip.width;
    (rect.rows[0]..rect.rows[1])
        .flat_map(move |y| (rect.columns[0]..rect.columns[1]).map(move |x| y * width + x))
}

/// At least three quarters of the columns that can be seen reach two fifths of the contrast.
fn is_marked_all_along(
    strip: &Strip,
    values: &[f64],
    is_seen: &[bool],
    rect: Rect,
    contrast: f64,
) -> bool {
    let (mut marked, mut seen) = (0.0, 0.0);
    for x in rect.columns[0]..rect.columns[1] {
        let cells: Vec<f64> = (rect.rows[0]..rect.rows[1])
            .map(|y| y * strip.width + x)
            .filter(|&i| is_seen[i])
            .map(|i| values[i])
            .collect();
        if cells.is_empty() {
            continue;
        }
        seen += 1.0;
        let mean = cells.iter().sum::<f64>() / cells.len() as f64;
        marked += if mean / contrast > 0.4 { 1.0 } else { 0.0 };
    }
    marked >= 0.75 * seen
}

/// Whether what has become lighter was darker than the ground about it and is like it now: the shadow
/// of a teed ball lies far from it, and goes with it.
fn is_shadow_gone(strip: &Strip, is_seen: &[bool], rect: Rect) -> bool {
    let [width, height] = [rect.columns, rect.rows].map(|[from, to]| to - from);
    let wider = |[from, to]: [usize; 2], by: usize, most: usize| {
        from.saturating_sub(by)..(to + by).min(most)
    };
    let columns = wider(rect.columns, (width / 2).max(6), strip.width);
    let rows = wider(rect.rows, height.max(4), strip.height);
    let inside = |i: usize| {
        let (x, y) = (i % strip.width, i / strip.width);
        (rect.columns[0]..rect.columns[1]).contains(&x) && (rect.rows[0]..rect.rows[1]).contains(&y)
    };
    let near: Vec<usize> = rows
        .flat_map(|y| columns.clone().map(move |x| y * strip.width + x))
        .filter(|&i| is_seen[i])
        .collect();
    let stands_out = |of: &dyn Fn(usize) -> f64| {
        let [own, others] = [true, false].map(|own| {
            median(near.iter().filter(|&&i| inside(i) == own).map(|&i| of(i)).collect())
        });
        own - others
    };
    let before = stands_out(&|i| strip.before[i].mean());
    let after = stands_out(&|i| strip.after[i].mean());
    before < 0.0 && after > before && after.abs() < 0.5 * before.abs()
}

/// Column sums, down the rows, of values and of cells seen.
struct Sums {
    values: Vec<f64>,
    seen: Vec<f64>,
}

impl Sums {
    fn new(strip: &Strip, values: &[f64], is_seen: &[bool]) -> Self {
        let (w, h) = (strip.width, strip.height);
        let (mut sum, mut seen) = (vec![0.0; w * (h + 1)], vec![0.0; w * (h + 1)]);
        for i in 0..w * h {
            let one = if is_seen[i] { 1.0 } else { 0.0 };
            sum[i + w] = sum[i] + one * values[i].clamp(-CLIP, CLIP);
            seen[i + w] = seen[i] + one;
        }
        Self { values: sum, seen }
    }

    /// The rectangle with the highest score (squared sum over count), with it and the mean.
    fn best(&self, strip: &Strip, sense: Sense, limits: &Limits) -> Option<(f64, Rect, f64)> {
        let mut best = None;
        for height in [2usize, 3, 4, 6, 8, 11, 15, 20, 27] {
            if height as f64 > limits.width || height >= strip.height {
                continue;
            }
            for top in 0..strip.height - height {
                let first = f64::from(strip.extent.rows[0]) + top as f64;
                if (first + (height as f64 - 1.0) / 2.0).abs() <= limits.band {
                    self.best_in_rows(strip, sense, [top, top + height], limits, &mut best);
                }
            }
        }
        best
    }

    /// The best run of columns within `rows`; every second column is tried.
    fn best_in_rows(
        &self,
        strip: &Strip,
        sense: Sense,
        rows: [usize; 2],
        limits: &Limits,
        best: &mut Option<(f64, Rect, f64)>,
    ) {
        let w = strip.width;
        let mut run = vec![[0.0; 2]];
        for x in 0..w {
            let [value, seen] = run[x];
            let (top, bottom) = (rows[0] * w + x, rows[1] * w + x);
            run.push([
                value + self.values[bottom] - self.values[top],
                seen + self.seen[bottom] - self.seen[top],
            ]);
        }
        let height = (rows[1] - rows[0]) as f64;
        let first = f64::from(strip.extent.columns[0]);
        let shortest = limits.length[0].ceil().max(3.0) as usize;
        for from in (0..w.saturating_sub(shortest)).step_by(2) {
            let longest = (from + limits.length[1] as usize).min(w);
            for to in (from + shortest..=longest).step_by(2) {
                if first + (to as f64) < limits.reach[0] || first + from as f64 > limits.reach[1] {
                    continue;
                }
                let seen = run[to][1] - run[from][1];
                // Less than two fifths seen is a guess, not a sighting.
                if seen < 0.4 * height * (to - from) as f64 {
                    continue;
                }
                let sum = run[to][0] - run[from][0];
                if sense != Sense::Light && sum < 0.0 {
                    continue;
                }
                let score = sum * sum / seen;
                if best.is_none_or(|b| score > b.0) {
                    let rect = Rect { columns: [from, to], rows };
                    *best = Some((score, rect, sum / seen));
                }
            }
        }
    }
}

/// Noise of `values` on quiet ground: of single cells, and of means over small patches.
fn measure_noise(strip: &Strip, values: &[f64], limits: &Limits) -> Noise {
    let quiet = strip.open_outside(limits.quiet);
    let sigma = robust_sigma(quiet.iter().map(|&i| values[i]).collect()).max(1e-3);
    let [across, down] = limits.noise_patch;
    let mut means = Vec::new();
    for top in (0..strip.height.saturating_sub(down)).step_by(down) {
        for left in (0..strip.width.saturating_sub(across)).step_by(across) {
            let cells: Vec<usize> = (top..top + down)
                .flat_map(|y| (left..left + across).map(move |x| y * strip.width + x))
                .collect();
            let is_quiet =
                |&i: &usize| strip.cover[i] == Cover::Open && strip.row(i).abs() >= limits.quiet;
            if cells.iter().all(is_quiet) {
                let sum: f64 =
                    cells.iter().map(|&i| values[i].clamp(-4.0 * sigma, 4.0 * sigma)).sum();
                means.push(sum / cells.len() as f64);
            }
        }
    }
    let inflation = if means.len() >= 12 {
        (robust_sigma(means) * ((across * down) as f64).sqrt() / sigma).max(1.0)
    } else {
        3.0
    };
    Noise { sigma, inflation }
}

/// 1.4826 times the median absolute deviation: the standard deviation of normal noise.
pub(crate) fn robust_sigma(values: Vec<f64>) -> f64 {
    let middle = median(values.clone());
    1.4826 * median(values.into_iter().map(|v| (v - middle).abs()).collect())
}

/// Each cell's share in the mark and the variance of that share.
pub(crate) struct Shares {
    pub share: Vec<f64>,
    /// Infinite where the cell tells nothing.
    pub variance: Vec<f64>,
    /// Share of bare soil (or earlier scuff) that the ground had before already.
    pub earlier: Vec<f64>,
}

/// Turns colours into shares, given where the mark's core is.
///
/// In the ball's shade only the tint counts; behind the ball the ground before is not known and
/// is taken to be like its surroundings, with their variety as variance. A mark that shows in the
/// light alone cannot be followed into either.
pub(crate) fn to_shares(
    strip: &Strip,
    sense: Sense,
    core: Rect,
    limits: &Limits,
    ball_gone: bool,
) -> Option<Shares> {
    let core_cells = core_cells(strip, core);
    let core_changes: Vec<Colour> = core_cells.iter().map(|&i| strip.change[i]).collect();
    let centre = median_colour(&core_changes)?;
    let quiet: Vec<Colour> =
        strip.open_outside(limits.quiet).into_iter().map(|i| strip.change[i]).collect();
    let noise = covariance(&quiet, true) + Matrix3::identity() * 1e-7;
    let inner = covariance(&core_changes, true) * 0.5;
    let flat = Matrix3::from_element(4.0) + Matrix3::identity() * SHADE_TINT.powi(2);
    let full = Discriminant::new(noise + inner, &centre)?;
    let tint = Discriminant::new(noise + inner + flat, &centre)?;
    let near = surroundings(strip, core);
    let typical = median_colour(&near).unwrap_or_else(Colour::zeros);
    let variety = covariance(&near, true);
    let hidden = Discriminant::new(noise + variety + flat, &centre)?;
    let tint_noise = Matrix3::identity() * SHADE_TINT.powi(2);
    let variances = [
        full.variance(&noise),
        tint.variance(&(noise + tint_noise)),
        // Ground texture hangs together over some cells, so averages shrink slower: four times.
        hidden.variance(&(variety * 4.0 + tint_noise)) + 0.02,
    ];
    let mut shares = Shares { share: Vec::new(), variance: Vec::new(), earlier: Vec::new() };
    for i in 0..strip.cover.len() {
        let (share, variance) = match strip.cover[i] {
            Cover::Open => (full.share(&strip.change[i]), variances[0]),
            Cover::Shade if sense == Sense::Tint => (tint.share(&strip.change[i]), variances[1]),
            Cover::Ball if sense == Sense::Tint && ball_gone => {
                (hidden.share(&(strip.after[i] - typical)), variances[2])
            }
            _ => (0.0, f64::INFINITY),
        };
        shares.share.push(share.clamp(-4.0, 5.0));
        shares.variance.push(variance);
        shares.earlier.push(match strip.cover[i] {
            Cover::Open | Cover::Shade => hidden.share(&(strip.before[i] - typical)),
            Cover::Ball | Cover::Unknown => 0.0,
        });
    }
    Some(shares)
}

/// A direction in colour space, scaled so that the mark's own colour gives 1.
struct Discriminant(Colour);

impl Discriminant {
    fn new(noise: Matrix3<f64>, mark: &Colour) -> Option<Self> {
        let weights = noise.try_inverse()? * mark;
        let reach = weights.dot(mark);
        (reach > 1e-12).then(|| Self(weights / reach))
    }

    fn share(&self, change: &Colour) -> f64 {
        self.0.dot(change)
    }

    fn variance(&self, noise: &Matrix3<f64>) -> f64 {
        (self.0.transpose() * noise * self.0)[0]
    }
}

/// Cells of the core that were clear; with those in shade where nothing else is left.
fn core_cells(strip: &Strip, core: Rect) -> Vec<usize> {
    let (open, shade): (Vec<usize>, Vec<usize>) = rect_cells(strip, core)
        .filter(|&i| matches!(strip.cover[i], Cover::Open | Cover::Shade))
        .partition(|&i| strip.cover[i] == Cover::Open);
    if open.len() >= 10 { open } else { [open, shade].concat() }
}

/// Ground before, around the ball or the mark, on the strip.
fn surroundings(strip: &Strip, core: Rect) -> Vec<Colour> {
    let height = core.rows[1] - core.rows[0];
    let rows = core.rows[0].saturating_sub(height)..(core.rows[1] + height).min(strip.height);
    let reach = 60;
    let columns = core.columns[0].saturating_sub(reach)..(core.columns[1] + reach).min(strip.width);
    rows.flat_map(|y| columns.clone().map(move |x| y * strip.width + x))
        .filter(|&i| strip.cover[i] == Cover::Open)
        .map(|i| strip.before[i])
        .collect()
}

fn median_colour(colours: &[Colour]) -> Option<Colour> {
    let middle = |c: usize| median(colours.iter().map(|v| v[c]).collect());
    (!colours.is_empty()).then(|| Colour::new(middle(0), middle(1), middle(2)))
}

/// Covariance of colours; `trim` leaves out the tenth farthest from the median.
fn covariance(colours: &[Colour], trim: bool) -> Matrix3<f64> {
    let Some(centre) = median_colour(colours) else { return Matrix3::zeros() };
    let mut squares: Vec<(f64, Colour)> =
        colours.iter().map(|c| ((c - centre).norm_squared(), c - centre)).collect();
    squares.sort_by(|a, b| a.0.total_cmp(&b.0));
    let keep = if trim { squares.len() * 9 / 10 } else { squares.len() }.max(1);
    let mut sum = Matrix3::zeros();
    squares[..keep.min(squares.len())].iter().for_each(|(_, d)| sum += d * d.transpose());
    // Without its outer tenth a normal cloud of three dimensions keeps 0.76 of its variance.
    sum / (keep as f64 * if trim { 0.76 } else { 1.0 })
}

/// A middle line is hardly known better than this, rows: edges fray, colours are coded at half size.
const MIDDLE_ROWS: f64 = 0.35;
/// Steeper than this against the line looked along is no middle line, rows a column.
const STEEPEST: f64 = 0.09;

/// The raster laid along the mark's own middle line, told from the core column group by group, with
/// the line's standard uncertainty across it at each end of the mark, in rows; `None`: too little
/// of the mark was seen to tell its direction, which is then the one looked along.
pub(crate) fn follow_middle(strip: &Strip, shares: &Shares, core: Rect) -> (Axes, Option<f64>) {
    let height = core.rows[1] - core.rows[0];
    let rows = core.rows[0].saturating_sub(3)..(core.rows[1] + 3).min(strip.height);
    let group = ((core.columns[1] - core.columns[0]) / 10).max(4);
    let mut places: Vec<[f64; 2]> = Vec::new();
    let mut from = core.columns[0];
    while from + group <= core.columns[1] {
        if let Some(row) = middle_row(strip, shares, from..from + group, rows.clone(), height) {
            let column = f64::from(strip.extent.columns[0]) + from as f64;
            places.push([column + (group as f64 - 1.0) / 2.0, row]);
        }
        from += group;
    }
    let fallback = f64::from(strip.extent.rows[0]) + (core.rows[0] + core.rows[1] - 1) as f64 / 2.0;
    let span = places.last().map_or(0.0, |p| p[0]) - places.first().map_or(0.0, |p| p[0]);
    if places.len() < 4 || span < 20.0 {
        return (strip.axes.follow(fallback, 0.0), None);
    }
    let slope = theil_slope(&places);
    let told = slope.abs() < STEEPEST;
    let slope = slope.clamp(-STEEPEST, STEEPEST);
    let offsets: Vec<f64> = places.iter().map(|p| p[1] - slope * p[0]).collect();
    let row = median(offsets.clone());
    // A slope through n even places is known to s √(12 / n) over their span.
    let length = (core.columns[1] - core.columns[0]) as f64;
    let sigma = robust_sigma(offsets) * (6.0 / places.len() as f64).sqrt() * length / span;
    (strip.axes.follow(row, slope), told.then_some(sigma.max(MIDDLE_ROWS)))
}

/// Centre of gravity of a column group's shares across the strip.
fn middle_row(
    strip: &Strip,
    shares: &Shares,
    columns: std::ops::Range<usize>,
    rows: std::ops::Range<usize>,
    height: usize,
) -> Option<f64> {
    let (mut weight, mut moment) = (0.0, 0.0);
    for y in rows {
        let cells: Vec<usize> = columns.clone().map(|x| y * strip.width + x).collect();
        if cells.iter().any(|&i| strip.cover[i] != Cover::Open) {
            return None;
        }
        let mean = cells.iter().map(|&i| shares.share[i].clamp(-0.2, 1.2)).sum::<f64>()
            / cells.len() as f64;
        let level = (mean - 0.15).max(0.0);
        weight += level;
        moment += level * (f64::from(strip.extent.rows[0]) + y as f64);
    }
    (weight > 0.3 * height as f64).then(|| moment / weight)
}

/// The median of all pairwise slopes (Theil 1950, Sen 1968).
fn theil_slope(places: &[[f64; 2]]) -> f64 {
    let mut slopes = Vec::new();
    for (k, a) in places.iter().enumerate() {
        for b in &places[k + 1..] {
            slopes.push((b[1] - a[1]) / (b[0] - a[0]));
        }
    }
    median(slopes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::ImagePoint;
    use crate::vision::ground_strip::Extent;

    /// Grass with a ball lying on it; where `soil` holds (columns and rows from the ball's middle)
    /// it is bare afterwards. Each cell's texture is a fixed scatter, some cells wide.
    fn strip(soil: impl Fn(f64, f64) -> bool) -> Strip {
        let (width, height) = (240usize, 61usize);
        let scatter = |i: usize, salt: usize| {
            let cell = (i % width) / 3 + 97 * ((i / width) / 2) + salt * 7919;
            let hash = (cell as u32).wrapping_mul(2_654_435_761) ^ 0x9e37;
            f64::from(hash.wrapping_mul(2_246_822_519) >> 16) / 65536.0 - 0.5
        };
        let grass = |i: usize, salt: usize| {
            let tone = 0.12 * scatter(i, salt);
            Colour::new(4.2 + tone, 4.6 + tone + 0.04 * scatter(i, salt + 1), 3.9 + tone)
        };
        let mut strip = Strip {
            axes: Axes { origin: ImagePoint::new(300.0, 300.0), along: [1.0, 0.0], pitch: 1.0 },
            extent: Extent { columns: [-120, 119], rows: [-30, 30] },
            width,
            height,
            cover: vec![Cover::Open; width * height],
            change: vec![Colour::zeros(); width * height],
            before: (0..width * height).map(|i| grass(i, 0)).collect(),
            after: (0..width * height).map(|i| grass(i, 0)).collect(),
            light_tilt: 0.0,
        };
        for i in 0..width * height {
            let (x, y) = (strip.column(i), strip.row(i));
            if x.hypot(y + 8.0) < 14.0 {
                // What lies under the ball is other grass than the ball's own colours before.
                strip.before[i] = Colour::new(5.4, 5.4, 5.4);
                strip.after[i] = grass(i, 5);
                strip.cover[i] = Cover::Ball;
            }
            if soil(x, y) {
                strip.after[i] = Colour::new(4.3, 4.2, 3.9);
            }
            strip.change[i] = match strip.cover[i] {
                Cover::Ball => Colour::zeros(),
                _ => (strip.after[i] - strip.before[i]) + Colour::repeat(0.01 * scatter(i, 9)),
            };
        }
        strip
    }

    fn limits() -> Limits {
        Limits {
            band: 16.0,
            length: [15.0, 200.0],
            width: 22.0,
            reach: [-100.0, 110.0],
            quiet: 20.0,
            noise_patch: [10, 4],
        }
    }

    #[test]
    fn a_shadow_that_has_gone_is_no_scuff_and_a_paler_scuff_is_one() {
        let seen = |before: f64, after: f64| {
            let mut strip = strip(|_, _| false);
            for i in 0..strip.cover.len() {
                let (x, y) = (strip.column(i), strip.row(i));
                if (-70.0..-30.0).contains(&x) && (-5.0..4.0).contains(&y) {
                    strip.before[i] += Colour::repeat(before);
                    strip.after[i] += Colour::repeat(after);
                    strip.change[i] += Colour::repeat(after - before);
                }
            }
            search(&strip, Sense::Light, &limits()).1.map(|s| s.rect.columns)
        };
        let near = |columns: Option<[usize; 2]>| {
            columns.is_some_and(|[from, to]| from.abs_diff(50) < 4 && to.abs_diff(90) < 4)
        };
        assert!(near(seen(0.0, 0.2)) && near(seen(0.0, -0.2)), "{:?}", seen(0.0, 0.2));
        assert!(near(seen(-0.1, 0.2)), "a scuff paler than darker ground about it");
        assert!(!near(seen(-0.2, 0.0)), "{:?}", seen(-0.2, 0.0));
    }

    #[test]
    fn a_mark_as_long_as_the_ball_is_wide_shows_once_the_ball_is_gone() {
        let strip = strip(|x, y| (-12.0..12.0).contains(&x) && (-4.0..4.0).contains(&y));
        let found = under_ball(&strip, &limits()).expect("bare soil under the ball");
        let [from, to] = found.rect.columns.map(|c| strip.column(c));
        assert!((from + 12.0).abs() <= 4.0 && (to - 12.0).abs() <= 4.0, "{from} to {to}");
    }

    #[test]
    fn other_grass_under_the_ball_is_no_mark() {
        assert!(under_ball(&strip(|_, _| false), &limits()).is_none());
    }
}
