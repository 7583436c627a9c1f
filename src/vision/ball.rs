//! The ball: found as a bright disc, its outline fitted between pixels.

use super::plane::{Plane, fill, median, sigma_from_median_distance};
use crate::domain::{BallOutline, ImagePoint, Pixels};

/// Diameters looked for, pixels: up to those of a ball near the camera in a picture of 2160 rows.
const SMALLEST: f64 = 6.0;
const LARGEST: f64 = 110.0;
/// Directions in which the outline is looked for.
const DIRECTIONS: usize = 64;
/// The outline counts as seen in a direction if it stands out by this many grey levels.
const LEAST_STEP: f64 = 12.0;

/// The foot of a ball lies in its own shade and behind blades of grass, and where the picture is
/// blurred its shading draws the outline inwards there, so that a circle through its clear edges
/// comes out high: by this share of the radius, and by so much of the blur beyond a sharp picture's.
/// (Recordings of 18 to 24 pixels, blurred by 0.8: 0.1 to 0.65 pixels. Invented scenes of 11 to
/// 59: sharp 0.0 to 0.2, blurred by 0.9 and 1.05 0.15 to 0.65, the large no more than the small.
/// Chosen on them, so the ball's errors there flatter.)
const HIGH_BY: f64 = 0.008;
const HIGH_BY_BLUR: f64 = 0.9;
const HIGH_BY_SIGMA: f64 = 0.015;
/// What that leaves open at any size, pixels.
const HIGH_SIGMA: f64 = 0.2;
/// A sharp edge falls within its pixel, which this method takes for such a blur (standard
/// deviation, pixels).
const SHARP: f64 = 0.5;

/// How far its width may be off, as a share of it: shading draws the edge inwards, blur and glare
/// outwards (rendered balls of 17 to 24 pixels: 4 % too narrow to 4 % too wide, most 1 to 3 % too
/// narrow).
const WIDE_BY_SIGMA: f64 = 0.025;

/// A ball's outline and how well the picture shows it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct BallFit {
    pub outline: BallOutline,
    /// Standard uncertainty of the centre, pixels.
    pub sigma: f64,
    /// The share of directions in which the outline fits, 0 to 1.
    pub seen: f64,
    /// Scatter of the outline about the circle over its radius.
    pub scatter: f64,
    /// Grey levels inside minus those around.
    pub contrast: f64,
}

impl BallFit {
    /// It stands out and is round enough to be a ball and nothing else lying on grass; `light`: how
    /// bright the scene is, 1 by day.
    pub fn is_ball(&self, light: f32) -> bool {
        self.contrast >= 35.0 * f64::from(light) && self.seen >= 0.5 && self.scatter <= 0.14
    }
}

/// A round bright spot.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spot {
    pub x: f64,
    pub y: f64,
    pub diameter: f64,
    pub peak: f64,
}

/// Round bright spots of a picture or of a difference of pictures: places that stand out by
/// at least `least` grey levels and whose outline is about as high as wide and filled like a
/// disc: at half its height where that is round, else at the lowest level at which it parts from
/// what it touches (brighter ground beside a shadow, a club head, a sheet), as the stable regions
/// of Matas et al. 2004 are found.
pub(crate) fn round_spots(plane: &Plane, least: f32) -> Vec<Spot> {
    let smooth = plane.blurred(1.2);
    let value = |i: &usize| smooth.data[*i];
    let highest = smooth.data.iter().copied().fold(0.0, f32::max);
    let (mut spots, mut region) = (Vec::<Spot>::new(), Vec::new());
    let mut about_peak = vec![false; smooth.data.len()];
    let mut level = least.max(1.0);
    while level <= highest {
        let mut seen = vec![false; smooth.data.len()];
        for start in 0..smooth.data.len() {
            if seen[start] || smooth.data[start] < level {
                continue;
            }
            fill(&smooth, start, level, &mut seen, &mut region);
            let peak = region.iter().copied().max_by(|a, b| value(a).total_cmp(&value(b)));
            let Some(peak) = peak.filter(|_| region.len() < MOST_PIXELS) else { continue };
            let height = smooth.data[peak];
            let Some(whole) = round(&region, smooth.width, f64::from(height)) else { continue };
            fill(&smooth, peak, (height * 0.5).max(level), &mut about_peak, &mut region);
            let spot = round(&region, smooth.width, f64::from(height)).unwrap_or(whole);
            region.iter().for_each(|&i| about_peak[i] = false);
            if !spots.iter().any(|known| known.is_about(&spot)) {
                spots.push(spot);
            }
        }
        level *= STEP_UP;
    }
    spots.sort_by(|a, b| b.peak.total_cmp(&a.peak));
    spots
}

/// From level to level at which spots are looked for.
const STEP_UP: f32 = 1.2;

/// Round spots that stand out of the ground as a ball does.
pub(crate) struct Bright {
    pub spots: Vec<Spot>,
    /// The ground's usual level, above which the spots' peaks are counted.
    pub ground: f32,
    /// How bright the scene is: 1 by day, less in dusk and shade.
    pub light: f32,
}

/// Grey levels by which a ball stands out of the ground by day.
const LEAST_BRIGHT: f32 = 40.0;
/// Ground darker than this leaves a ball, whose light goes with the ground's, fewer grey levels.
const DAY_GROUND: f32 = 75.0;
const LEAST_LIGHT: f32 = 0.35;

/// What stands out of the ground, which most of the picture is taken to show.
pub(crate) fn bright_spots(plane: &Plane) -> Option<Bright> {
    let mut values: Vec<f64> = plane.data.iter().step_by(11).map(|&v| f64::from(v)).collect();
    let ground = median(&mut values)? as f32;
    let above = Plane { data: plane.data.iter().map(|v| v - ground).collect(), ..*plane };
    let light = (ground / DAY_GROUND).clamp(LEAST_LIGHT, 1.0);
    Some(Bright { spots: round_spots(&above, light * LEAST_BRIGHT), ground, light })
}

/// No ball has more.
const MOST_PIXELS: usize = (2.0 * LARGEST * LARGEST) as usize;

impl Spot {
    /// The same spot, found at another level.
    fn is_about(&self, other: &Self) -> bool {
        let apart = (self.x - other.x).hypot(self.y - other.y);
        apart < 0.2 * self.diameter && (0.75..1.33).contains(&(self.diameter / other.diameter))
    }
}

/// A region as a spot, if it is about as high as wide and filled like a disc (pi / 4).
fn round(region: &[usize], width: usize, peak: f64) -> Option<Spot> {
    let n = region.len() as f64;
    let diameter = 2.0 * (n / std::f64::consts::PI).sqrt();
    let (mut left, mut right, mut top, mut bottom) = (usize::MAX, 0, usize::MAX, 0);
    let (mut sx, mut sy) = (0.0, 0.0);
    for &i in region {
        let (x, y) = (i % width, i / width);
        (left, right) = (left.min(x), right.max(x));
        (top, bottom) = (top.min(y), bottom.max(y));
        sx += x as f64;
        sy += y as f64;
    }
    let (w, h) = ((right - left + 1) as f64, (bottom - top + 1) as f64);
    let is_round = (0.62..1.6).contains(&(w / h)) && n / (w * h) > 0.6;
    ((SMALLEST - 2.0..LARGEST).contains(&diameter) && is_round).then(|| Spot {
        x: sx / n,
        y: sy / n,
        diameter,
        peak,
    })
}

/// Fits the outline of the bright disc near `(x, y)` of about `diameter`; `None` if there is
/// no disc to be seen.
///
/// Along each direction from the centre, the outline is where the grey level falls half way
/// from the inside to the outside; a circle is fitted to those points by weighted least
/// squares with Tukey's weights, so that grass before the ball's foot and its own shadow are
/// left out.
pub(crate) fn fit_outline(plane: &Plane, x: f64, y: f64, diameter: f64) -> Option<BallFit> {
    let (mut cx, mut cy, mut r) = (x, y, diameter / 2.0);
    let mut fit = None;
    for _ in 0..6 {
        let points = outline_points(plane, cx, cy, r);
        let circle = clear_circle(&points, robust_circle(&points, cx, cy, r)?);
        let moved = (circle.x - cx).hypot(circle.y - cy);
        (cx, cy, r) = (circle.x, circle.y, circle.r);
        if (cx - x).hypot(cy - y) > 0.6 * diameter || !(SMALLEST / 2.0..LARGEST / 2.0).contains(&r)
        {
            return None;
        }
        fit = Some((circle, points));
        if moved < 0.01 {
            break;
        }
    }
    let (circle, points) = fit?;
    let seen = circle.used / DIRECTIONS as f64;
    let above = points.iter().filter(|p| p.y < circle.y);
    let blur = median(&mut above.map(|p| p.blur).collect::<Vec<f64>>())?;
    let mut steps: Vec<f64> = points.iter().map(|p| p.step).collect();
    // Neighbouring directions share pixels: about one independent point a pixel of outline.
    let independent = circle.used.min(seen * 2.0 * std::f64::consts::PI * r).max(3.0);
    let statistical = circle.scatter * (2.0 / independent).sqrt();
    let sigma = statistical.hypot(HIGH_BY_SIGMA * r).hypot(HIGH_SIGMA);
    let cy = cy + HIGH_BY * r + HIGH_BY_BLUR * (blur - SHARP).max(0.0);
    Some(BallFit {
        outline: BallOutline {
            centre: ImagePoint::new(cx, cy),
            diameter: Pixels(2.0 * r),
            diameter_sigma: Pixels(
                (2.0 * circle.scatter / independent.sqrt()).hypot(2.0 * WIDE_BY_SIGMA * r),
            ),
        },
        sigma,
        seen,
        scatter: circle.scatter / r,
        contrast: median(&mut steps)?,
    })
}

/// A point of the outline and the grey levels by which the inside stands out there.
#[derive(Clone, Copy)]
struct OutlinePoint {
    x: f64,
    y: f64,
    step: f64,
    /// Standard deviation of the blur, pixels.
    blur: f64,
}

fn outline_points(plane: &Plane, cx: f64, cy: f64, r: f64) -> Vec<OutlinePoint> {
    (0..DIRECTIONS)
        .filter_map(|i| {
            let (sin, cos) = (i as f64 * std::f64::consts::TAU / DIRECTIONS as f64).sin_cos();
            let at = |d: f64| plane.sample(cx + d * cos, cy + d * sin);
            let (distance, step, blur) = half_level(&at, r)?;
            Some(OutlinePoint { x: cx + distance * cos, y: cy + distance * sin, step, blur })
        })
        .collect()
}

/// Where along a ray the level falls half way from inside to outside, by how much it falls, and the
/// standard deviation of its blur: of a Gaussian one that falls as steeply.
///
/// Inside and outside are taken close to the steepest fall, so that shading across the ball
/// does not draw the outline inwards on its dark side.
fn half_level(at: &impl Fn(f64) -> Option<f32>, r: f64) -> Option<(f64, f64, f64)> {
    const STEP: f64 = 0.25;
    let from = (0.6 * r).min(r - 2.5).max(0.0);
    let count = ((1.4 * r).max(r + 2.5) - from) / STEP;
    let values: Option<Vec<f64>> =
        (0..=count as usize).map(|i| at(from + i as f64 * STEP).map(f64::from)).collect();
    let values = values?;
    // Fall over one pixel: four steps.
    let (steepest, fall) =
        values.windows(5).map(|w| w[0] - w[4]).enumerate().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let middle = steepest + 2;
    // 1.5 pixels either side of it the blur of the picture has faded.
    let inner = values[middle.saturating_sub(6)];
    let outer = values[(middle + 6).min(values.len() - 1)];
    if inner - outer < LEAST_STEP {
        return None;
    }
    let half = (inner + outer) / 2.0;
    let start = middle.saturating_sub(6);
    let i = (start..values.len() - 1).find(|&i| values[i] >= half && values[i + 1] < half)?;
    let share = (values[i] - half) / (values[i] - values[i + 1]);
    let blur = (inner - outer) / (fall * std::f64::consts::TAU.sqrt());
    Some((from + (i as f64 + share) * STEP, inner - outer, blur))
}

fn upper_quartile(values: &mut [f64]) -> Option<f64> {
    let at = values.len() * 3 / 4;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(at, f64::total_cmp).1)
}

struct Circle {
    x: f64,
    y: f64,
    r: f64,
    /// Robust scatter of the used points about the circle, pixels.
    scatter: f64,
    /// How many points fit the circle (sum of Tukey's weights).
    used: f64,
}

/// A circle whose points scatter by more than this part of its radius is none of a clear ball.
const RAGGED: f64 = 0.04;

/// Long grass may hide so much of a ball's lower half that a smaller circle fits what it leaves, and
/// badly: that of the upper points alone, where it fits them at least twice as well.
fn clear_circle(points: &[OutlinePoint], all: Circle) -> Circle {
    if all.scatter < RAGGED * all.r {
        return all;
    }
    let is_upper = |p: &&OutlinePoint| p.y < all.y + 0.3 * all.r;
    let upper: Vec<OutlinePoint> = points.iter().filter(is_upper).copied().collect();
    let larger = robust_circle(&upper, all.x, all.y, all.r)
        .filter(|c| 2.0 * c.scatter < all.scatter && (0.95..1.4).contains(&(c.r / all.r)));
    larger.unwrap_or(all)
}

/// Geometric circle fit by Gauss-Newton with Tukey's biweight (Huber & Ronchetti 2009); a
/// clear edge counts for more than a faint one, which may be the ball's own shade.
fn robust_circle(points: &[OutlinePoint], x: f64, y: f64, r: f64) -> Option<Circle> {
    if points.len() < DIRECTIONS / 4 {
        return None;
    }
    let (mut cx, mut cy, mut r) = (x, y, r);
    let mut scatter = 0.0;
    let mut used = 0.0;
    let mut steps: Vec<f64> = points.iter().map(|p| p.step).collect();
    let clear = upper_quartile(&mut steps)?;
    for _ in 0..12 {
        let residuals: Vec<f64> = points.iter().map(|p| (p.x - cx).hypot(p.y - cy) - r).collect();
        scatter = sigma_from_median_distance(residuals.iter().copied()).max(0.08);
        let mut normal = nalgebra::Matrix3::<f64>::zeros();
        let mut right = nalgebra::Vector3::<f64>::zeros();
        used = 0.0;
        for (p, e) in points.iter().zip(&residuals) {
            let t = e / (4.7 * scatter);
            if t.abs() >= 1.0 {
                continue;
            }
            let fits = (1.0 - t * t).powi(2);
            let weight = fits * (p.step / clear).min(1.0).powi(4);
            let d = (p.x - cx).hypot(p.y - cy).max(1e-9);
            let row = nalgebra::Vector3::new((cx - p.x) / d, (cy - p.y) / d, -1.0);
            normal += weight * row * row.transpose();
            right -= weight * e * row;
            used += fits;
        }
        let step = normal.cholesky()?.solve(&right);
        (cx, cy, r) = (cx + step.x, cy + step.y, r + step.z);
        if step.norm() < 1e-4 {
            break;
        }
    }
    (r.is_finite() && used > DIRECTIONS as f64 / 5.0).then_some(Circle {
        x: cx,
        y: cy,
        r,
        scatter,
        used,
    })
}

/// How much of the ball is still there: 1 as in `with`, 0 as in `without`, by the pixels
/// well inside its outline.
pub(crate) fn presence(now: &Plane, with: &Plane, without: &Plane, ball: &BallOutline) -> f64 {
    let reach = 0.8 * ball.diameter.0 / 2.0;
    let (cx, cy) = (ball.centre.x, ball.centre.y);
    let (mut sum, mut total) = (0.0, 0.0);
    for y in 0..now.height {
        for x in 0..now.width {
            if (x as f64 - cx).hypot(y as f64 - cy) > reach {
                continue;
            }
            let gone = f64::from(with.at(x, y) - without.at(x, y));
            let left = f64::from(now.at(x, y) - without.at(x, y));
            sum += gone * left;
            total += gone * gone;
        }
    }
    if total > 0.0 { sum / total } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A shaded disc on a textured ground, drawn with 8 x 8 samples a pixel.
    fn ball_picture(cx: f64, cy: f64, r: f64, sun: f64) -> Plane {
        let mut plane = Plane::filled(120, 110, 0.0);
        for y in 0..plane.height {
            for x in 0..plane.width {
                let mut sum = 0.0;
                for k in 0..64 {
                    let sx = x as f64 - 0.4375 + (k % 8) as f64 / 8.0;
                    let sy = y as f64 - 0.4375 + (k / 8) as f64 / 8.0;
                    let d = (sx - cx).hypot(sy - cy) / r;
                    let ground = 85.0 + 8.0 * (sx * 1.7).sin() * (sy * 2.3).cos();
                    let lit = 215.0 - sun * (sy - cy) / r - 0.5 * sun * (sx - cx) / r;
                    sum += if d < 1.0 { lit } else { ground };
                }
                plane.data[y * plane.width + x] = (sum / 64.0) as f32;
            }
        }
        plane.blurred(0.6)
    }

    #[test]
    fn the_outline_is_found_between_pixels() {
        for (cx, cy, r, sun) in
            [(60.3, 50.7, 10.1, 0.0), (58.85, 51.2, 4.4, 20.0), (61.5, 49.9, 29.0, 40.0)]
        {
            let plane = ball_picture(cx, cy, r, sun);
            let fit = fit_outline(&plane, cx + 0.3 * r, cy - 0.2 * r, 1.8 * r).unwrap();
            let error = fit.outline.centre.distance(ImagePoint::new(cx, cy));
            assert!(error < 0.06 * r + 0.1, "{cx} {cy} {r}: off by {error}");
            assert!((fit.outline.diameter.0 - 2.0 * r).abs() < 0.5, "{:?}", fit.outline);
            assert!(fit.seen > 0.8);
        }
    }

    #[test]
    fn grass_before_the_foot_does_not_pull_the_centre_up() {
        let mut plane = ball_picture(60.3, 50.7, 10.1, 20.0);
        for y in 58..70 {
            for x in 40..80 {
                // Blades of uneven height hide the lowest quarter.
                if y as f64 > 57.5 + 2.0 * (x as f64 * 1.9).sin() {
                    plane.data[y * plane.width + x] = 80.0;
                }
            }
        }
        let fit = fit_outline(&plane, 60.0, 49.0, 18.0).unwrap();
        assert!((fit.outline.centre.y - 50.7).abs() < 0.5, "{:?}", fit.outline);
    }

    #[test]
    fn a_plain_ground_has_no_ball() {
        let plane = Plane::filled(100, 100, 90.0);
        assert!(fit_outline(&plane, 50.0, 50.0, 20.0).is_none());
        assert!(round_spots(&Plane::filled(100, 100, 0.0), 20.0).is_empty());
    }

    #[test]
    fn spots_are_round_ones_only() {
        let mut plane = Plane::filled(120, 80, 0.0);
        for y in 0..80 {
            for x in 0..120 {
                let disc = (x as f64 - 30.0).hypot(y as f64 - 40.0) < 9.0;
                let bar = (60..110).contains(&x) && (38..46).contains(&y);
                if disc || bar {
                    plane.data[y * 120 + x] = 100.0;
                }
            }
        }
        let spots = round_spots(&plane, 20.0);
        assert_eq!(spots.len(), 1, "{spots:?}");
        assert!((spots[0].x - 30.0).abs() < 0.5 && (spots[0].diameter - 18.0).abs() < 1.5);
    }

    #[test]
    fn a_ball_beside_brighter_ground_and_a_club_head_is_told_apart() {
        let mut plane = Plane::filled(160, 120, 20.0);
        for y in 0..120 {
            for x in 0..160 {
                // Sunlit to the left of the ball, which stands out of it by little.
                if x < 62 {
                    plane.data[y * 160 + x] = 55.0;
                }
                if (x as f64 - 70.0).hypot(y as f64 - 60.0) < 10.0 {
                    plane.data[y * 160 + x] = 95.0;
                }
                if (40..52).contains(&x) && (48..80).contains(&y) {
                    plane.data[y * 160 + x] = 190.0;
                }
            }
        }
        let found = round_spots(&plane, 30.0);
        let ball = found.iter().find(|s| (s.x - 70.0).hypot(s.y - 60.0) < 2.0);
        assert!(ball.is_some_and(|s| (s.diameter - 20.0).abs() < 4.0), "{found:?}");
    }

    #[test]
    fn presence_goes_from_one_to_nothing() {
        let with = ball_picture(60.0, 50.0, 10.0, 0.0);
        let without = Plane::filled(120, 110, 85.0);
        let ball = fit_outline(&with, 60.0, 50.0, 20.0).unwrap().outline;
        assert!((presence(&with, &with, &without, &ball) - 1.0).abs() < 1e-6);
        assert!(presence(&without, &with, &without, &ball).abs() < 0.05);
    }

    #[test]
    fn long_grass_over_the_lower_half_draws_no_smaller_circle() {
        // A ball of radius 10 about (50, 40); blades cut it off from 4 below its middle on, two
        // pixels aside of one another.
        let points: Vec<OutlinePoint> = (0..DIRECTIONS)
            .map(|i| {
                let (sin, cos) = (i as f64 * std::f64::consts::TAU / DIRECTIONS as f64).sin_cos();
                let blade = 4.0 + 2.0 * (i % 3) as f64 / 2.0;
                let d = if sin * 10.0 > blade { blade / sin } else { 10.0 + 0.05 * (i % 2) as f64 };
                OutlinePoint { x: 50.0 + d * cos, y: 40.0 + d * sin, step: 100.0, blur: 0.8 }
            })
            .collect();
        let all = robust_circle(&points, 50.0, 38.5, 8.5).expect("a circle");
        let clear = clear_circle(&points, all);
        assert!(
            (clear.y - 40.0).abs() < 0.1 && (clear.r - 10.0).abs() < 0.1,
            "{} {}",
            clear.y,
            clear.r
        );
        // A whole ball keeps the circle through all of its outline.
        let whole: Vec<OutlinePoint> = points.iter().filter(|p| p.y < 43.0).copied().collect();
        let before = robust_circle(&whole, 50.0, 40.0, 10.0).expect("a circle");
        let (y, r) = (before.y, before.r);
        let after = clear_circle(&whole, before);
        assert_eq!((after.y, after.r), (y, r));
    }
}
