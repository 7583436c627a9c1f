//! A chessboard's inner corners, from which a lens is found.

use crate::domain::{GrayFrame, ImagePoint};

/// Corners are first looked for in a picture of about this long side, pixels.
const LOOK_SIDE: usize = 640;
/// At which radius, pixels, the four fields around a corner are looked at.
const RING_PX: f64 = 5.0;
/// How many points of that ring.
const RING: usize = 24;
/// Fields differ by this many grey levels at least.
const LEAST_STEP: f64 = 25.0;
/// A neighbour lies within this part of a step of where the grid has it.
const STRAY: f64 = 0.3;

/// The inner corners of a chessboard with `columns` by `rows` of them, row by row, to a few
/// hundredths of a pixel; `None` where the board is not seen whole.
///
/// Which corner comes first, and which way round the rows run, depends on how the board is held.
///
/// Method: saddle points of the blurred picture around which light and dark change four times; a
/// grid grown from one of them by its own steps; each corner then where all edges near it meet
/// (the point to which the gradients around it are square, Förstner & Gülch 1987).
pub fn find_chessboard(frame: &GrayFrame, columns: usize, rows: usize) -> Option<Vec<ImagePoint>> {
    let step = frame.width.max(frame.height).div_ceil(LOOK_SIDE).max(1);
    let small = Small::new(frame, step);
    let spots = saddles(&small);
    let steps: Vec<Option<f64>> = spots.iter().map(|s| nearest(&spots, s.at)).collect();
    let mut seeds: Vec<usize> = (0..spots.len()).collect();
    let centre = middle(&spots)?;
    seeds.sort_by(|a, b| {
        let far = |i: usize| spots[i].at.distance(centre);
        far(*a).total_cmp(&far(*b))
    });
    let grid = seeds.iter().find_map(|seed| {
        let grid = grow(&spots, *seed, steps[*seed]?);
        whole(&grid, columns, rows)
    })?;
    let full = |p: ImagePoint| {
        let half = (step as f64 - 1.0) / 2.0;
        ImagePoint::new(p.x * step as f64 + half, p.y * step as f64 + half)
    };
    let places: Vec<ImagePoint> = grid.iter().map(|i| full(spots[*i].at)).collect();
    places
        .iter()
        .map(|at| {
            let apart = places
                .iter()
                .map(|other| other.distance(*at))
                .filter(|d| *d > 0.0)
                .fold(f64::INFINITY, f64::min);
            refine(frame, *at, (0.35 * apart).clamp(3.0, 20.0))
        })
        .collect()
}

/// The picture averaged over squares and blurred.
struct Small {
    width: usize,
    height: usize,
    data: Vec<f64>,
}

impl Small {
    fn new(frame: &GrayFrame, step: usize) -> Self {
        let (width, height) = (frame.width / step, frame.height / step);
        let mean = |i: usize| {
            let (x, y) = (i % width * step, i / width * step);
            let sum: u32 = (y..y + step)
                .flat_map(|y| (x..x + step).map(move |x| (x, y)))
                .map(|(x, y)| u32::from(frame.at(x, y)))
                .sum();
            f64::from(sum) / (step * step) as f64
        };
        let data = (0..width * height).map(mean).collect();
        Self { width, height, data }.blurred().blurred()
    }

    /// Binomial weights 1, 4, 6, 4, 1 both ways: a blur of one pixel.
    fn blurred(self) -> Self {
        let along = |data: &[f64], stride: usize, at: usize, length: usize, i: usize| {
            let take = |k: isize| {
                let place = at.saturating_add_signed(k).min(length - 1);
                data[i - at * stride + place * stride]
            };
            (take(-2) + 4.0 * take(-1) + 6.0 * take(0) + 4.0 * take(1) + take(2)) / 16.0
        };
        let (w, h) = (self.width, self.height);
        let rows: Vec<f64> = (0..w * h).map(|i| along(&self.data, 1, i % w, w, i)).collect();
        let data = (0..w * h).map(|i| along(&rows, w, i / w, h, i)).collect();
        Self { data, ..self }
    }

    fn at(&self, x: usize, y: usize) -> f64 {
        self.data[y * self.width + x]
    }

    fn sample(&self, p: ImagePoint) -> Option<f64> {
        let inside = p.x >= 0.0
            && p.y >= 0.0
            && p.x < (self.width - 1) as f64
            && p.y < (self.height - 1) as f64;
        inside.then(|| {
            let (x, y) = (p.x as usize, p.y as usize);
            let (fx, fy) = (p.x - x as f64, p.y - y as f64);
            let upper = self.at(x, y) * (1.0 - fx) + self.at(x + 1, y) * fx;
            let lower = self.at(x, y + 1) * (1.0 - fx) + self.at(x + 1, y + 1) * fx;
            upper * (1.0 - fy) + lower * fy
        })
    }

    /// How much the picture is a saddle at a pixel: minus the determinant of its curvature.
    fn saddle(&self, x: usize, y: usize) -> f64 {
        const D: usize = 2;
        let at = |dx: usize, dy: usize| self.at(x + dx - D, y + dy - D);
        let here = 2.0 * at(D, D);
        let xx = at(0, D) + at(2 * D, D) - here;
        let yy = at(D, 0) + at(D, 2 * D) - here;
        let xy = (at(2 * D, 2 * D) + at(0, 0) - at(2 * D, 0) - at(0, 2 * D)) / 4.0;
        xy * xy - xx * yy
    }
}

/// A corner that may be one of a board's.
struct Spot {
    at: ImagePoint,
    /// Directions of the two edges that cross in it, radians in 0 to π, in this order.
    edges: [f64; 2],
    /// The field between the first and the second is light.
    is_light: bool,
}

impl Spot {
    /// Whether `other` can be the next corner of the same board: the same edges (the view changes
    /// them a little), light where this one is dark.
    fn goes_on_in(&self, other: &Self) -> bool {
        use std::f64::consts::PI;
        let off = |a: f64, b: f64| ((a - b) / PI - ((a - b) / PI).round()).abs() * PI;
        let [a, b] = self.edges;
        let [c, d] = other.edges;
        let same = off(a, c).max(off(b, d));
        let swapped = off(a, d).max(off(b, c));
        match same <= swapped {
            true => same < 0.35 && self.is_light != other.is_light,
            // Counted from the other edge on, it is the other field.
            false => swapped < 0.35 && self.is_light == other.is_light,
        }
    }
}

fn saddles(small: &Small) -> Vec<Spot> {
    const MARGIN: usize = 3;
    const NEAR: usize = 3;
    let (w, h) = (small.width, small.height);
    if w <= 2 * (MARGIN + NEAR) || h <= 2 * (MARGIN + NEAR) {
        return Vec::new();
    }
    let mut response = vec![0.0; w * h];
    for y in MARGIN..h - MARGIN {
        for x in MARGIN..w - MARGIN {
            response[y * w + x] = small.saddle(x, y);
        }
    }
    let mut spots = Vec::new();
    for y in MARGIN + NEAR..h - MARGIN - NEAR {
        for x in MARGIN + NEAR..w - MARGIN - NEAR {
            let here = response[y * w + x];
            // A board of the least step has about a quarter of it across two pixels.
            if here < (LEAST_STEP / 8.0).powi(2) {
                continue;
            }
            let highest = (y - NEAR..=y + NEAR)
                .flat_map(|v| (x - NEAR..=x + NEAR).map(move |u| v * w + u))
                .all(|i| response[i] <= here);
            if highest {
                spots.extend(spot(small, ImagePoint::new(x as f64, y as f64)));
            }
        }
    }
    spots
}

/// A corner where light and dark change four times around it, opposite fields alike.
fn spot(small: &Small, at: ImagePoint) -> Option<Spot> {
    use std::f64::consts::TAU;
    let angle = |i: usize| TAU * i as f64 / RING as f64;
    let ring: Option<Vec<f64>> = (0..RING)
        .map(|i| {
            let (sin, cos) = angle(i).sin_cos();
            small.sample(at.moved(RING_PX * cos, RING_PX * sin))
        })
        .collect();
    let ring = ring?;
    let (low, high) = ring.iter().fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(*v), h.max(*v)));
    let half = (low + high) / 2.0;
    let crossings: Vec<f64> = (0..RING)
        .filter_map(|i| {
            let (a, b) = (ring[i] - half, ring[(i + 1) % RING] - half);
            (a * b <= 0.0 && a != b).then(|| angle(i) + TAU / RING as f64 * a / (a - b))
        })
        .collect();
    let [a, b, c, d] = crossings[..] else { return None };
    // Edges run straight through: opposite crossings are half a turn apart.
    let straight = |from: f64, to: f64| (to - from - TAU / 2.0).abs() < 0.5;
    let crossed = (0.5..TAU / 2.0 - 0.5).contains(&(b - a));
    let edges = [(a + c) / 2.0 - TAU / 4.0, (b + d) / 2.0 - TAU / 4.0];
    let (sin, cos) = ((edges[0] + edges[1]) / 2.0).sin_cos();
    let is_light = small.sample(at.moved(RING_PX * cos, RING_PX * sin))? > half;
    (high - low > LEAST_STEP && straight(a, c) && straight(b, d) && crossed).then_some(Spot {
        at,
        edges,
        is_light,
    })
}

fn middle(spots: &[Spot]) -> Option<ImagePoint> {
    let n = spots.len() as f64;
    let sum = spots.iter().fold((0.0, 0.0), |s, p| (s.0 + p.at.x, s.1 + p.at.y));
    (n > 0.0).then(|| ImagePoint::new(sum.0 / n, sum.1 / n))
}

fn nearest(spots: &[Spot], at: ImagePoint) -> Option<f64> {
    let apart = spots.iter().map(|s| s.at.distance(at)).filter(|d| *d > 0.0);
    apart.min_by(f64::total_cmp)
}

/// Places in the grid with the spots that lie there.
type Grid = std::collections::BTreeMap<(i32, i32), usize>;

/// Grows a grid from one spot along its edges, each next step as the last one was.
fn grow(spots: &[Spot], seed: usize, apart: f64) -> Grid {
    let near = |at: ImagePoint, reach: f64| {
        let far = |i: &usize| spots[*i].at.distance(at);
        (0..spots.len()).filter(|i| far(i) < reach).min_by(|a, b| far(a).total_cmp(&far(b)))
    };
    // The first steps: the nearest spot that lies along an edge, up to twice as far as any is.
    let along = |edge: f64| {
        let from = spots[seed].at;
        (0..spots.len())
            .filter(|i| {
                let (dx, dy) = (spots[*i].at.x - from.x, spots[*i].at.y - from.y);
                let length = dx.hypot(dy);
                let (sin, cos) = edge.sin_cos();
                length > 0.0
                    && length < 4.0 * apart
                    && dx * cos + dy * sin > 0.95 * length
                    && spots[seed].goes_on_in(&spots[*i])
            })
            .min_by(|a, b| spots[*a].at.distance(from).total_cmp(&spots[*b].at.distance(from)))
            .map(|i| [spots[i].at.x - from.x, spots[i].at.y - from.y])
    };
    let mut grid = Grid::from([((0, 0), seed)]);
    let [Some(u), Some(v)] = spots[seed].edges.map(along) else { return grid };
    let mut open = vec![((0, 0), u, v)];
    while let Some(((i, j), u, v)) = open.pop() {
        let here = &spots[grid[&(i, j)]];
        let from = here.at;
        for (di, dj) in [(1, 0), (-1, 0), (0, 1), (0, -1)] {
            let to = (i + di, j + dj);
            if grid.contains_key(&to) {
                continue;
            }
            let step = if di != 0 { u } else { v };
            let sign = f64::from(di + dj);
            let reach = STRAY * step[0].hypot(step[1]);
            let guess = from.moved(sign * step[0], sign * step[1]);
            let fits =
                |f: &usize| here.goes_on_in(&spots[*f]) && !grid.values().any(|known| known == f);
            let Some(found) = near(guess, reach).filter(fits) else { continue };
            let own = [sign * (spots[found].at.x - from.x), sign * (spots[found].at.y - from.y)];
            let (u, v) = if di != 0 { (own, v) } else { (u, own) };
            grid.insert(to, found);
            open.push((to, u, v));
        }
    }
    grid
}

/// The spots of a whole grid row by row; `None` if it has another size or holes.
fn whole(grid: &Grid, columns: usize, rows: usize) -> Option<Vec<usize>> {
    let span = |of: fn(&(i32, i32)) -> i32| {
        let (low, high) =
            grid.keys().fold((i32::MAX, i32::MIN), |(l, h), k| (l.min(of(k)), h.max(of(k))));
        (low, (high - low + 1) as usize)
    };
    let ((left, wide), (top, high)) = (span(|k| k.0), span(|k| k.1));
    if grid.len() != columns * rows {
        return None;
    }
    let place = |c: usize, r: usize| match (wide, high) {
        (w, h) if (w, h) == (columns, rows) => Some((left + c as i32, top + r as i32)),
        (w, h) if (w, h) == (rows, columns) => Some((left + r as i32, top + c as i32)),
        _ => None,
    };
    (0..rows * columns).map(|i| grid.get(&place(i % columns, i / columns)?).copied()).collect()
}

/// Where the edges around `at` meet, within a square of half side `half`; `None` if they do not,
/// or not near `at`.
fn refine(frame: &GrayFrame, at: ImagePoint, half: f64) -> Option<ImagePoint> {
    let mut place = at;
    for _ in 0..20 {
        let (mut a, mut b, mut c, mut p, mut q) = (0.0, 0.0, 0.0, 0.0, 0.0);
        let (x0, x1) = ((place.x - half).ceil(), (place.x + half).floor());
        let (y0, y1) = ((place.y - half).ceil(), (place.y + half).floor());
        if x0 < 1.0 || y0 < 1.0 || x1 + 2.0 > frame.width as f64 || y1 + 2.0 > frame.height as f64 {
            return None;
        }
        for y in y0 as usize..=y1 as usize {
            for x in x0 as usize..=x1 as usize {
                let value = |x: usize, y: usize| f64::from(frame.at(x, y));
                let gx = (value(x + 1, y) - value(x - 1, y)) / 2.0;
                let gy = (value(x, y + 1) - value(x, y - 1)) / 2.0;
                let (dx, dy) = (x as f64 - place.x, y as f64 - place.y);
                let weight = (-2.0 * (dx * dx + dy * dy) / (half * half)).exp();
                let (xx, xy, yy) = (weight * gx * gx, weight * gx * gy, weight * gy * gy);
                a += xx;
                b += xy;
                c += yy;
                p += xx * dx + xy * dy;
                q += xy * dx + yy * dy;
            }
        }
        let det = a * c - b * b;
        if det <= 1e-6 * (a + c).powi(2) {
            return None;
        }
        let (dx, dy) = ((c * p - b * q) / det, (a * q - b * p) / det);
        place = place.moved(dx, dy);
        if dx.hypot(dy) < 1e-3 {
            break;
        }
    }
    (place.distance(at) < half).then_some(place)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A board of grey squares on a light ground, held askew; 4 x 4 samples a pixel.
    fn picture(map: impl Fn(f64, f64) -> [f64; 2], columns: usize, rows: usize) -> GrayFrame {
        let (width, height) = (480, 360);
        let level = |x: f64, y: f64| {
            let [u, v] = map(x, y);
            let within = (-1.0..columns as f64).contains(&u) && (-1.0..rows as f64).contains(&v);
            let dark = (u.floor() as i64 + v.floor() as i64).rem_euclid(2) == 0;
            if within && dark { 60.0 } else { 210.0 }
        };
        let data = (0..width * height)
            .map(|i| {
                let (x, y) = ((i % width) as f64, (i / width) as f64);
                let sum: f64 = (0..16)
                    .map(|k| {
                        let (a, b) = (f64::from(k % 4), f64::from(k / 4));
                        level(x - 0.375 + a / 4.0, y - 0.375 + b / 4.0)
                    })
                    .sum();
                (sum / 16.0).round() as u8
            })
            .collect();
        GrayFrame { width, height, data }
    }

    #[test]
    fn corners_of_a_board_held_askew() {
        // The board's place u, v of a picture point, and back: a mild perspective and a turn.
        let (sin, cos) = 0.35f64.sin_cos();
        let map = |x: f64, y: f64| {
            let (dx, dy) = (x - 240.0, y - 180.0);
            let depth = 1.0 + 0.0006 * dx - 0.0004 * dy;
            let (dx, dy) = (dx / depth, dy / depth);
            [(cos * dx + sin * dy) / 30.0 + 3.0, (cos * dy - sin * dx) / 30.0 + 2.0]
        };
        let back = |u: f64, v: f64| {
            let (p, q) = (30.0 * (u - 3.0), 30.0 * (v - 2.0));
            let (dx, dy) = (cos * p - sin * q, sin * p + cos * q);
            let depth = 1.0 / (1.0 - 0.0006 * dx + 0.0004 * dy);
            ImagePoint::new(240.0 + dx * depth, 180.0 + dy * depth)
        };
        let found = find_chessboard(&picture(map, 7, 5), 7, 5).expect("a whole board");
        assert_eq!(found.len(), 35);
        for v in 0..5 {
            for u in 0..7 {
                let want = back(f64::from(u), f64::from(v));
                let off = found.iter().map(|p| p.distance(want)).fold(f64::MAX, f64::min);
                assert!(off < 0.1, "{u} {v}: {off:.3} px");
            }
        }
        // Row by row: neighbours in the list are neighbours on the board.
        for row in found.chunks(7) {
            assert!(row.windows(2).all(|w| w[0].distance(w[1]) < 40.0));
        }
        assert_eq!(find_chessboard(&picture(map, 7, 5), 9, 6), None);
    }

    #[test]
    fn plain_ground_has_no_board() {
        let picture = picture(|x, _| [x / 40.0, 0.5], 3, 3);
        assert_eq!(find_chessboard(&picture, 3, 3), None);
    }
}
