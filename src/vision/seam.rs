//! A picture whose parts are displaced by one pixel, as where it was put together from parts: told
//! by the ground's own texture, which along the seam repeats a row or goes on a pixel aside.

use super::clear_plate::{Patch, Plate};
use super::mark_shape::robust_sigma;
use super::steady::median;
use super::torn::Tear;
use crate::domain::{BallOutline, ImagePoint, PictureSize};

/// Pixels of a row whose likeness to the next row is one number: blades and clumps are 2 to 4
/// pixels wide, so that it rests on some 15 of them.
const WINDOW: usize = 40;
/// Wider light and dark has no say in that likeness, pixels.
const BROAD: usize = 15;
/// How far from the ball the ground is looked at, pixels: along the rows, and over how many.
const ASIDE: f64 = 560.0;
const ROWS: f64 = 125.0;
/// A seam as near to the ball's centre as this, in diameters, crosses the ball itself.
const BESIDE_BALL: f64 = 0.7;
/// A shorter seam, in windows, is not told from chance.
const LEAST_WINDOWS: usize = 8;
/// Of its windows, so many at least show texture.
const LEAST_SEEN: usize = 7;
/// Rows that a seam may rise or fall by, a column: the camera's roll and lens bend it.
const SLOPES: [f64; 9] = [-0.008, -0.006, -0.004, -0.002, 0.0, 0.002, 0.004, 0.006, 0.008];
/// Rows about one whose likenesses are its own usual one.
const ABOUT: usize = 10;
/// Rows about one whose likenesses scatter as much.
const ALIKE: usize = 25;
/// A window whose brightness steps by so many times the usual from row to row shows an edge (mat,
/// stick, sheet), and says nothing for so many rows about it.
const EDGE: f64 = 5.0;
const EDGE_ROWS: usize = 5;
/// A window with less than this part of the usual texture shows a sheet, or something smooth.
const SMOOTH: f64 = 0.3;
/// No window counts for more, standard deviations.
const MOST: f64 = 3.0;
/// A seam stands out by so many standard deviations. The search tries some hundred thousand runs:
/// of ground without one the best comes to 5.3 at most, and the least of three real ones to 5.9.
const SURE: f64 = 5.5;
/// A coder's blocks begin at rows that are multiples of this, and where it saves much their first
/// rows repeat the last above: a seam there must stand out by so much more (recordings coded anew
/// reach 7.2 in all).
const BLOCK: usize = 16;
const OF_BLOCKS: f64 = 2.0;
/// The windows no farther from the ball than this (in windows) must stand out by so much together:
/// a seam that begins beside the ball is none of its own.
const BESIDE: f64 = 2.0;
const HERE: f64 = 4.5;

/// The ground to look at for a seam beside a ball of the steadied picture.
pub(super) fn ground_about(ball: &BallOutline, size: PictureSize) -> Option<Patch> {
    let from = |v: f64| v.floor().max(0.0) as usize;
    let (left, top) = (from(ball.centre.x - ASIDE), from(ball.centre.y - ROWS));
    let right = from(ball.centre.x + ASIDE).min(size.width);
    let bottom = from(ball.centre.y + ROWS).min(size.height);
    let fits = right > left + LEAST_WINDOWS * WINDOW && bottom > top + 2 * ABOUT;
    fits.then(|| Patch { left, top, width: right - left, height: bottom - top })
}

/// The surest seam above or below a ball, if there is one; its row is that under the ball.
///
/// Method: the correlation of each row with the next, window by window (and of the next moved by a
/// pixel to either side), as Fisher's z less its median over the rows about; summed along slightly
/// tilted lines past the ball.
pub(super) fn find_seam(plate: &Plate, ball: &BallOutline) -> Option<Tear> {
    let texture = Texture::new(plate);
    let place = ImagePoint::new(
        ball.centre.x - plate.patch.left as f64,
        ball.centre.y - plate.patch.top as f64,
    );
    let clear = BESIDE_BALL * ball.diameter.0;
    let [same, right, left] = [0, 1, -1].map(|aside| texture.likeness(aside));
    let aside: Vec<f64> = right.iter().zip(&left).map(|(r, l)| r - l).collect();
    let other: Vec<f64> = aside.iter().map(|v| -v).collect();
    let lines = [same, aside, other].map(|values| texture.standing_out(&values));
    let first = plate.patch.top + 1;
    let less = |row: usize| if (first + row).is_multiple_of(BLOCK) { OF_BLOCKS } else { 0.0 };
    let best = lines.iter().filter_map(|line| texture.surest_run(line, place, clear, less));
    let (sure, row) = best.max_by(|a, b| a.0.total_cmp(&b.0))?;
    (sure > SURE).then(|| Tear { row: (first + row) as f64, pixels: 1.0 })
}

/// The ground's texture, rows of windows.
struct Texture {
    width: usize,
    rows: usize,
    windows: usize,
    /// Less its local mean along the row.
    fine: Vec<f64>,
    /// Whether a window of a row shows texture and nothing else.
    shows: Vec<bool>,
}

impl Texture {
    fn new(plate: &Plate) -> Self {
        let Patch { width, height: rows, .. } = plate.patch;
        let light: Vec<f64> = plate.pixels.iter().map(|p| f64::from(p[1])).collect();
        let fine = light.chunks_exact(width).flat_map(without_broad).collect();
        let mut texture = Self { width, rows, windows: width / WINDOW, fine, shows: Vec::new() };
        texture.shows = texture.plain(&light);
        texture
    }

    /// The sum over a window of a row of what a pixel of it has.
    fn sum(&self, row: usize, window: usize, value: impl Fn(usize) -> f64) -> f64 {
        let first = row * self.width + window * WINDOW;
        (first..first + WINDOW).map(value).sum()
    }

    /// One value for each window of each row.
    fn each<T>(&self, value: impl Fn(usize, usize) -> T) -> Vec<T> {
        let windows = (0..self.rows).flat_map(|row| (0..self.windows).map(move |w| (row, w)));
        windows.map(|(row, w)| value(row, w)).collect()
    }

    /// Which windows show texture alone.
    fn plain(&self, light: &[f64]) -> Vec<bool> {
        let energy = self.each(|row, w| self.sum(row, w, |i| self.fine[i] * self.fine[i]));
        let usual = median(energy.clone());
        let steps = self.each(|row, w| {
            let next = if row + 1 < self.rows { self.width } else { 0 };
            self.sum(row, w, |i| light[i + next] - light[i]).abs()
        });
        let usual_step = median(steps.clone());
        let is_edge = |row: usize, w: usize| {
            let about = row.saturating_sub(EDGE_ROWS)..(row + EDGE_ROWS + 1).min(self.rows);
            about.into_iter().any(|r| steps[r * self.windows + w] > EDGE * usual_step)
        };
        let smooth = SMOOTH * SMOOTH * usual;
        self.each(|row, w| energy[row * self.windows + w] > smooth && !is_edge(row, w))
    }

    /// How like each row is to the next, `aside` pixels to the right there, as Fisher's z.
    fn likeness(&self, aside: isize) -> Vec<f64> {
        self.each(|row, w| {
            if row + 1 >= self.rows {
                return 0.0;
            }
            let next = |i: usize| {
                let x = (i % self.width) as isize + aside;
                let x = x.clamp(0, self.width as isize - 1) as usize;
                self.fine[(row + 1) * self.width + x]
            };
            let product = self.sum(row, w, |i| self.fine[i] * next(i));
            let own = self.sum(row, w, |i| self.fine[i] * self.fine[i]);
            let others = self.sum(row, w, |i| next(i) * next(i));
            (product / (own * others).sqrt().max(f64::MIN_POSITIVE)).clamp(-0.95, 0.99).atanh()
        })
    }

    /// By how many standard deviations each window's value stands above those of the rows about;
    /// `None` where it shows no texture.
    fn standing_out(&self, values: &[f64]) -> Vec<Option<f64>> {
        let at = |row: usize, w: usize| row * self.windows + w;
        let excess = |row: usize, w: usize| {
            let about = row.checked_sub(ABOUT)?..row + ABOUT + 1;
            let shows = about.end < self.rows && self.shows[at(row, w)];
            let seen = about.filter(|&r| shows && self.shows[at(r, w)]);
            let usual: Vec<f64> = seen.map(|r| values[at(r, w)]).collect();
            (usual.len() > ABOUT).then(|| values[at(row, w)] - median(usual))
        };
        let excess = self.each(excess);
        // Nearer ground is coarser, so that fewer clumps make a window there.
        let sigma = |row: usize| {
            let near = row.saturating_sub(ALIKE)..(row + ALIKE + 1).min(self.rows);
            let near = &excess[at(near.start, 0)..at(near.end, 0)];
            robust_sigma(near.iter().flatten().copied().collect()).max(0.05)
        };
        let sigmas: Vec<f64> = (0..self.rows).map(sigma).collect();
        let row = |i: usize| i / self.windows;
        let out = excess.iter().enumerate();
        out.map(|(i, e)| e.map(|e| (e / sigmas[row(i)]).clamp(-MOST, MOST))).collect()
    }

    /// The run past the ball that stands out most, above or below it: by how many standard
    /// deviations, `less` what its row takes off, and that row, under the ball.
    fn surest_run(
        &self,
        values: &[Option<f64>],
        ball: ImagePoint,
        clear: f64,
        less: impl Fn(usize) -> f64,
    ) -> Option<(f64, usize)> {
        let rows = (0..self.rows).filter(|&row| (row as f64 - ball.y).abs() > clear);
        let tried = rows.flat_map(|row| SLOPES.map(|slope| (row, slope)));
        let odds = tried.filter_map(|(row, slope)| {
            let line = self.line(values, row as f64 - slope * ball.x, slope);
            let place = ball.x / WINDOW as f64;
            let here = below_ball(&line, place);
            Some((best_run(&line, place).filter(|_| here > HERE)? - less(row), row))
        });
        odds.max_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// What stands out along a tilted line; nothing where it leaves the ground looked at.
    fn line(&self, values: &[Option<f64>], offset: f64, slope: f64) -> Vec<Option<f64>> {
        let at = |w: usize| {
            let row = (offset + slope * ((w as f64 + 0.5) * WINDOW as f64)).round();
            let inside = row >= 0.0 && row < self.rows as f64;
            inside.then(|| values[row as usize * self.windows + w]).flatten()
        };
        (0..self.windows).map(at).collect()
    }
}

/// By how much the windows above or below the ball stand out together.
fn below_ball(line: &[Option<f64>], place: f64) -> f64 {
    let near = line.iter().enumerate().filter(|(w, _)| (*w as f64 + 0.5 - place).abs() < BESIDE);
    near.filter_map(|(_, value)| *value).sum()
}

/// The best sum of a run that has `place` within it, over the square root of how many it sums.
fn best_run(line: &[Option<f64>], place: f64) -> Option<f64> {
    let mut best: Option<f64> = None;
    for from in 0..line.len() {
        let (mut sum, mut seen) = (0.0, 0usize);
        for to in from + 1..=line.len() {
            if let Some(value) = line[to - 1] {
                sum += value;
                seen += 1;
            }
            let spans = from as f64 <= place && place <= to as f64;
            if spans && to - from >= LEAST_WINDOWS && seen >= LEAST_SEEN {
                best = Some(best.unwrap_or(f64::MIN).max(sum / (seen as f64).sqrt()));
            }
        }
    }
    best
}

/// A row less its moving mean.
fn without_broad(row: &[f64]) -> Vec<f64> {
    let mut sums = vec![0.0];
    sums.extend(row.iter().scan(0.0, |sum, v| {
        *sum += v;
        Some(*sum)
    }));
    let fine = |x: usize| {
        let (from, to) = (x.saturating_sub(BROAD), (x + BROAD + 1).min(row.len()));
        row[x] - (sums[to] - sums[from]) / (to - from) as f64
    };
    (0..row.len()).map(fine).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Pixels;

    const SIZE: PictureSize = PictureSize { width: 1280, height: 720 };

    fn ball() -> BallOutline {
        let centre = ImagePoint::new(610.3, 560.2);
        BallOutline { centre, diameter: Pixels(21.0), diameter_sigma: Pixels(0.3) }
    }

    /// A lawn without a pattern: noise of one pixel, smoothed to clumps of three.
    fn lawn(x: usize, y: usize, seed: usize) -> f32 {
        let noise = |x: usize, y: usize| {
            let mut h = (x as u64) << 32 | (y as u64) << 8 | seed as u64;
            for _ in 0..3 {
                h = (h ^ (h >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
                h ^= h >> 27;
            }
            (h >> 40) as f32 / (1u64 << 24) as f32 - 0.5
        };
        let near = (0..3).flat_map(|dx| (0..3).map(move |dy| (dx, dy)));
        near.map(|(dx, dy)| noise(x + dx, y + dy)).sum::<f32>() / 9.0
    }

    /// What is seen at each pixel of the ground about the ball.
    fn seen(light: impl Fn(usize, usize) -> f32) -> Plate {
        let patch = ground_about(&ball(), SIZE).expect("ground");
        let pixel = |i: usize| {
            let (x, y) = (patch.left + i % patch.width, patch.top + i / patch.width);
            [4.4 + light(x, y); 3]
        };
        let count = patch.width * patch.height;
        Plate { patch, pixels: (0..count).map(pixel).collect(), clear: vec![9; count] }
    }

    /// A part of the picture shows what lies `[right, down]` of there.
    fn displaced(x: usize, y: usize, [right, down]: [usize; 2], seed: usize) -> f32 {
        let is_part = (520..1040).contains(&x) && (500..608).contains(&y);
        if is_part { lawn(x + right, y + down, seed) } else { lawn(x, y, seed) }
    }

    #[test]
    fn a_displaced_part_is_told_whichever_way_it_went() {
        for seed in 0..4 {
            for (by, row) in [([0, 1], 608.0), ([1, 0], 608.0)] {
                let seam = find_seam(&seen(|x, y| displaced(x, y, by, seed)), &ball());
                let seam = seam.expect("a seam");
                let nearest = (seam.row - row).abs().min((seam.row - 500.0).abs());
                assert!(nearest <= 2.0 && seam.pixels == 1.0, "{seed} {by:?}: {seam:?}");
            }
        }
    }

    #[test]
    fn a_lawn_has_none_nor_has_a_part_beside_the_ball() {
        for seed in 0..12 {
            assert_eq!(find_seam(&seen(|x, y| lawn(x, y, seed)), &ball()), None, "{seed}");
        }
        let elsewhere = |x: usize, y: usize| lawn(x, y + usize::from(x > 840 && y < 608), 1);
        assert_eq!(find_seam(&seen(elsewhere), &ball()), None);
    }

    #[test]
    fn a_coder_that_repeats_a_row_at_its_blocks_displaces_nothing() {
        // One row is in part what the row above it is; blocks of 16 begin at 592, none at 594.
        let seams = |row: usize, part: f32| {
            let repeated = move |x: usize, y: usize, seed: usize| match y == row {
                true => part * lawn(x, y - 1, seed) + (1.0 - part) * lawn(x, y, seed),
                false => lawn(x, y, seed),
            };
            let has_one =
                |&seed: &usize| find_seam(&seen(|x, y| repeated(x, y, seed)), &ball()).is_some();
            (0..4).filter(has_one).count()
        };
        let all = |row: usize| [0.1, 0.15, 0.2, 0.25].map(|part| seams(row, part));
        let (of_blocks, others) = (all(592), all(594));
        assert!(
            of_blocks.iter().sum::<usize>() + 2 < others.iter().sum(),
            "{of_blocks:?} {others:?}"
        );
    }

    #[test]
    fn edges_and_smooth_things_are_none() {
        for seed in 0..4 {
            // A stick that rises by 6 rows in a thousand, and a mat's edge that falls.
            let light = |x: usize, y: usize| {
                let stick = (y as f32 - 630.0 + 0.006 * x as f32).abs() < 4.0;
                let mat = y as f32 > 640.0 + 0.008 * x as f32;
                let ground = if mat { -0.6 } else { 0.0 } + lawn(x, y, seed);
                if stick { 0.9 } else { ground }
            };
            assert_eq!(find_seam(&seen(light), &ball()), None, "{seed}");
        }
        // Nothing at all to see.
        assert_eq!(find_seam(&seen(|_, _| 0.0), &ball()), None);
        // A ball at the picture's corner has too little ground about it.
        let cornered = BallOutline { centre: ImagePoint::new(4.0, 4.0), ..ball() };
        assert_eq!(ground_about(&cornered, PictureSize { width: 200, height: 100 }), None);
    }
}
