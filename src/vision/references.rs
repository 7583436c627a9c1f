//! White sheets lying on the ground: proposed as reference objects.
//!
//! Only their place in the picture is found; the person says what size they are.

use super::plane::{Plane, median};
use crate::domain::{Found, GrayFrame, ImagePoint};

/// A bright quadrilateral on the ground: its corners, going round from the lower left one with
/// the lower edge first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FoundSheet {
    /// Going round.
    pub corners: [ImagePoint; 4],
}

/// A sheet stands out of the ground by this many grey levels.
const LEAST_STEP: f64 = 50.0;
/// Its width in the picture, as a share of the picture's longer side: an A4 sheet 2.5 to 7 m
/// from a phone's lens (0.9 to 1.4 of that side in focal length).
const NARROWEST: f64 = 0.03;
const WIDEST: f64 = 0.25;
/// Lower than this many pixels, its side edges say too little.
const LOWEST_PX: f64 = 10.0;
/// How far a corner lies from where a flat sheet of its size would have it, pixels, standard:
/// corners curl and grass stands over edges.
const NOT_FLAT_PX: f64 = 0.6;
/// How far from the first guess an edge is looked for, pixels.
const REACH_PX: f64 = 5.0;

/// Sheets lying on the ground, the surest first; `sigma` is that of each corner coordinate, in
/// pixels. Empty if there are none.
///
/// `frame`: any frame in which nothing stands in front of them. A straight line is fitted to
/// each edge's places of half level between inside and outside; the corners are where these
/// lines cross.
pub fn find_sheets(frame: &GrayFrame) -> Vec<Found<FoundSheet>> {
    let plane = Plane::from_gray(frame).blurred(0.8);
    let mut sheets: Vec<Found<FoundSheet>> =
        bright_regions(&plane).iter().filter_map(|region| sheet(&plane, region)).collect();
    sheets.sort_by(|a, b| b.confidence.total_cmp(&a.confidence));
    sheets
}

/// Connected bright regions of the picture's lower two thirds, as pixel numbers.
fn bright_regions(plane: &Plane) -> Vec<Vec<usize>> {
    let top = plane.height / 3 * plane.width;
    let mut sample: Vec<f64> = plane.data[top..].iter().step_by(7).map(|&v| f64::from(v)).collect();
    let Some(ground) = median(&mut sample) else { return Vec::new() };
    let bright = (ground + 255.0).max(2.0 * (ground + LEAST_STEP)) as f32 / 2.0;
    let mut taken: Vec<bool> = plane.data.iter().map(|&v| v < bright).collect();
    taken[..top].fill(true);
    let mut regions = Vec::new();
    for start in top..plane.data.len() {
        if !taken[start] {
            regions.push(fill(plane, start, top, &mut taken));
        }
    }
    regions
}

fn fill(plane: &Plane, start: usize, top: usize, taken: &mut [bool]) -> Vec<usize> {
    let mut region = vec![start];
    taken[start] = true;
    let mut next = 0;
    while next < region.len() {
        let i = region[next];
        next += 1;
        let x = i % plane.width;
        let neighbours = [
            (x > 0).then(|| i - 1),
            (x + 1 < plane.width).then_some(i + 1),
            i.checked_sub(plane.width),
            Some(i + plane.width),
        ];
        for j in neighbours.into_iter().flatten() {
            if (top..plane.data.len()).contains(&j) && !taken[j] {
                taken[j] = true;
                region.push(j);
            }
        }
    }
    region
}

fn sheet(plane: &Plane, region: &[usize]) -> Option<Found<FoundSheet>> {
    let place = |i: &usize| ((i % plane.width) as f64, (i / plane.width) as f64);
    let bounds = region.iter().map(place).fold([f64::MAX, f64::MAX, 0.0, 0.0_f64], |b, (x, y)| {
        [b[0].min(x), b[1].min(y), b[2].max(x), b[3].max(y)]
    });
    let (width, height) = (bounds[2] - bounds[0], bounds[3] - bounds[1]);
    let longer = plane.width.max(plane.height) as f64;
    let fits = (NARROWEST * longer..WIDEST * longer).contains(&width)
        && (LOWEST_PX..width).contains(&height);
    if !fits {
        return None;
    }
    let extreme = |dx: f64, dy: f64| {
        let reach = |i: &&usize| {
            let (x, y) = place(i);
            dx * x / width + dy * y / height
        };
        let i = region.iter().max_by(|a, b| reach(a).total_cmp(&reach(b)))?;
        Some(ImagePoint::new(place(i).0, place(i).1))
    };
    let rough =
        [extreme(-1.0, 1.0)?, extreme(1.0, 1.0)?, extreme(1.0, -1.0)?, extreme(-1.0, -1.0)?];
    let mut edges = Vec::with_capacity(4);
    for i in 0..4 {
        edges.push(edge(plane, rough[i], rough[(i + 1) % 4])?);
    }
    let corners = [
        edges[3].crossing(&edges[0])?,
        edges[0].crossing(&edges[1])?,
        edges[1].crossing(&edges[2])?,
        edges[2].crossing(&edges[3])?,
    ];
    let filled = region.len() as f64 / area(&corners);
    let moved = corners.iter().zip(&rough).map(|(a, b)| a.distance(*b)).fold(0.0, f64::max);
    let scatter = edges.iter().map(|e| e.scatter).fold(0.0, f64::max);
    let is_sheet = (0.85..1.15).contains(&filled) && moved < 2.0 * REACH_PX && scatter < 0.8;
    is_sheet.then(|| Found {
        value: FoundSheet { corners },
        sigma: NOT_FLAT_PX + scatter / 2.0,
        confidence: if scatter < 0.5 { 0.9 } else { 0.7 },
    })
}

/// Twice-signed area by the shoelace formula, halved and without its sign.
fn area(corners: &[ImagePoint; 4]) -> f64 {
    let twice: f64 = (0..4)
        .map(|i| {
            let (a, b) = (corners[i], corners[(i + 1) % 4]);
            a.x * b.y - b.x * a.y
        })
        .sum();
    twice.abs() / 2.0
}

/// A straight edge: a point, a direction, and how far the places found lie from it.
struct Edge {
    at: ImagePoint,
    direction: [f64; 2],
    scatter: f64,
}

impl Edge {
    fn crossing(&self, other: &Self) -> Option<ImagePoint> {
        let ([a, b], [c, d]) = (self.direction, other.direction);
        let determinant = a * d - b * c;
        let (dx, dy) = (other.at.x - self.at.x, other.at.y - self.at.y);
        let step = (dx * d - dy * c) / determinant;
        (determinant.abs() > 1e-6).then(|| self.at.moved(step * a, step * b))
    }
}

/// The straight line through the places of half level near the segment from `a` to `b`, which
/// goes round its sheet with the inside on its left as seen in the picture.
fn edge(plane: &Plane, a: ImagePoint, b: ImagePoint) -> Option<Edge> {
    let length = a.distance(b);
    if length < 8.0 {
        return None;
    }
    let direction = [(b.x - a.x) / length, (b.y - a.y) / length];
    let outward = [-direction[1], direction[0]];
    let mut places: Vec<(f64, f64)> = (0..40)
        .filter_map(|i| {
            let s = length * (0.12 + 0.76 * f64::from(i) / 39.0);
            let (x, y) = (a.x + s * direction[0], a.y + s * direction[1]);
            let level = |u: f64| plane.sample(x + u * outward[0], y + u * outward[1]);
            half_level(&level).map(|u| (s, u))
        })
        .collect();
    if places.len() < 20 {
        return None;
    }
    let mut line = through(&places)?;
    // Blades of grass over the edge are left out.
    for _ in 0..3 {
        let off = |p: &(f64, f64)| (p.1 - line.0 - line.1 * p.0).abs();
        let mut distances: Vec<f64> = places.iter().map(off).collect();
        let limit = (3.0 * 1.4826 * median(&mut distances)?).max(0.3);
        places.retain(|p| off(p) <= limit);
        line = through(&places)?;
    }
    let squares: f64 = places.iter().map(|p| (p.1 - line.0 - line.1 * p.0).powi(2)).sum();
    let norm = line.1.hypot(1.0);
    Some(Edge {
        at: a.moved(line.0 * outward[0], line.0 * outward[1]),
        direction: [
            (direction[0] + line.1 * outward[0]) / norm,
            (direction[1] + line.1 * outward[1]) / norm,
        ],
        scatter: (squares / places.len() as f64).sqrt(),
    })
    .filter(|_| places.len() >= 16)
}

/// The grey level of a pixel half of which shows the one and half the other: light adds up before
/// the camera's transfer curve bends it (BT.709, taken as a power of 2.2), so bright things look
/// larger than they are where the levels' own middle is taken.
fn half_light(a: f64, b: f64) -> f64 {
    ((a.max(0.0).powf(2.2) + b.max(0.0).powf(2.2)) / 2.0).powf(1.0 / 2.2)
}

/// Where, going outwards from inside, the light falls half way.
pub(super) fn half_level(level: &impl Fn(f64) -> Option<f32>) -> Option<f64> {
    let (inside, outside) = (f64::from(level(-REACH_PX)?), f64::from(level(REACH_PX)?));
    if inside - outside < LEAST_STEP {
        return None;
    }
    let half = half_light(inside, outside);
    let mut last = (-REACH_PX, inside);
    let mut u = -REACH_PX + 0.25;
    while u <= REACH_PX {
        let value = f64::from(level(u)?);
        if last.1 >= half && value < half {
            return Some(last.0 + 0.25 * (last.1 - half) / (last.1 - value));
        }
        last = (u, value);
        u += 0.25;
    }
    None
}

/// Offset and slope of the straight line through `places` by least squares.
pub(super) fn through(places: &[(f64, f64)]) -> Option<(f64, f64)> {
    let n = places.len() as f64;
    let (sx, sy) = places.iter().fold((0.0, 0.0), |t, p| (t.0 + p.0, t.1 + p.1));
    let (mx, my) = (sx / n, sy / n);
    let (sxx, sxy) = places
        .iter()
        .fold((0.0, 0.0), |t, p| (t.0 + (p.0 - mx).powi(2), t.1 + (p.0 - mx) * (p.1 - my)));
    (sxx > 0.0).then(|| (my - mx * sxy / sxx, sxy / sxx))
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// A grey ground with a white quadrilateral, 4 x 4 samples a pixel.
    pub fn picture(corners: &[[f64; 2]; 4], white: f64) -> GrayFrame {
        let (width, height) = (400, 300);
        let inside = |x: f64, y: f64| {
            (0..4).all(|i| {
                let ([ax, ay], [bx, by]) = (corners[i], corners[(i + 1) % 4]);
                (bx - ax) * (y - ay) - (by - ay) * (x - ax) <= 0.0
            })
        };
        let data = (0..width * height)
            .map(|i| {
                let (x, y) = ((i % width) as f64, (i / width) as f64);
                let ground = 95.0 + 8.0 * (1.3 * x).sin() * (0.9 * y).cos();
                let share = (0..16)
                    .filter(|k| {
                        let (u, v) = (f64::from(k % 4), f64::from(k / 4));
                        inside(x - 0.375 + u / 4.0, y - 0.375 + v / 4.0)
                    })
                    .count() as f64
                    / 16.0;
                let light = share * white.powf(2.2) + (1.0 - share) * ground.powf(2.2);
                light.powf(1.0 / 2.2).round() as u8
            })
            .collect();
        GrayFrame { width, height, data }
    }

    #[test]
    fn corners_are_found_between_pixels() {
        let corners = [[150.3, 240.6], [231.7, 236.2], [222.4, 212.9], [148.8, 216.1]];
        let found = find_sheets(&picture(&corners, 240.0));
        assert_eq!(found.len(), 1, "{found:?}");
        for (a, [x, y]) in found[0].value.corners.iter().zip(corners) {
            let off = a.distance(ImagePoint::new(x, y));
            assert!(off < 0.5, "{a:?} is {off:.2} px off ({x}, {y})");
        }
    }

    #[test]
    fn plain_ground_and_a_faint_patch_are_no_sheet() {
        let corners = [[150.0, 240.0], [230.0, 236.0], [222.0, 212.0], [148.0, 216.0]];
        assert!(find_sheets(&picture(&corners, 120.0)).is_empty());
    }
}
