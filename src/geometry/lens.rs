//! What is known of a lens before a recording is calibrated, and how it is found: from straight
//! edges, or from a chessboard shown several times.

use nalgebra::{DVector, Matrix3, Rotation3, Vector3};

use super::camera::{Camera, long_side, middle};
use super::error::GeometryError;
use super::homography::homography;
use super::least_squares::{Minimum, minimise};
use crate::domain::{ImagePoint, Known, LensProfile, PictureSize};

// Priors of a phone's lens (common practice, no source).

/// Principal point about the middle, as a part of the long side: lens shift and stabilisation.
pub(super) const CENTRE_SPREAD: f64 = 0.01;
/// Lens: 1.7 % at the corner of a 16:9 picture; phones correct most of it themselves.
pub(super) const LENS_SPREAD: [f64; 2] = [0.05, 0.03];

/// Puts what the profile knows in place of the priors.
pub(super) fn narrow(lens: &LensProfile, size: PictureSize, mean: &mut [f64], spread: &mut [f64]) {
    let long = long_side(size);
    for (i, known) in lens.radial.iter().enumerate() {
        mean[6 + i] = known.value;
        spread[6 + i] = known.standard.max(1e-6);
    }
    if let Some(focal) = lens.focal {
        mean[0] = (focal.value * long).ln();
        spread[0] = (focal.standard / focal.value).max(1e-6);
    }
    if let Some(centre) = lens.centre {
        for (i, known) in centre.iter().enumerate() {
            mean[1 + i] = middle(size)[i] + known.value * long;
            spread[1 + i] = (known.standard * long).max(1e-6);
        }
    }
}

/// Lens from edges that are straight in the world: a stick, a mat's or a sheet's edges.
///
/// `edges`: three or more points along each, pixels; `sigma`: their standard uncertainty. Edges
/// far from the picture's middle tell most. The radial terms come with their uncertainty; focal
/// length and principal point stay unknown.
///
/// # Errors
/// [`GeometryError::TooLittleForLens`] if no edge has three points.
///
/// Method: the plumb line (Brown 1971; Devernay & Faugeras 2001): the lens that makes the points
/// of each edge lie in a line, by least squares with the priors of an unknown phone.
pub fn fit_lens_from_edges(
    size: PictureSize,
    edges: &[Vec<ImagePoint>],
    sigma: f64,
) -> Result<LensProfile, GeometryError> {
    let usable: Vec<&Vec<ImagePoint>> = edges.iter().filter(|e| e.len() >= 3).collect();
    if usable.is_empty() {
        return Err(GeometryError::TooLittleForLens {
            needed: "one straight edge with three points".into(),
            found: "none".into(),
        });
    }
    let [cx, cy] = middle(size);
    let camera = |p: &DVector<f64>| Camera {
        focal: 1.0,
        centre: [
            cx + CENTRE_SPREAD * long_side(size) * p[2],
            cy + CENTRE_SPREAD * long_side(size) * p[3],
        ],
        tilt: 0.0,
        roll: 0.0,
        height: 1.0,
        lens: [LENS_SPREAD[0] * p[0], LENS_SPREAD[1] * p[1]],
        long_side: long_side(size),
    };
    let residuals = |p: &DVector<f64>| {
        let camera = camera(p);
        let mut out: Vec<f64> = p.iter().copied().collect();
        for edge in &usable {
            let straight: Option<Vec<_>> = edge.iter().map(|q| camera.undistort(*q)).collect();
            out.extend(distances_from_own_line(&straight?).into_iter().map(|d| d / sigma));
        }
        Some(DVector::from_vec(out))
    };
    let minimum = minimise(residuals, DVector::zeros(4))
        .ok_or(GeometryError::NotSettled { what: "lens".into() })?;
    let points: usize = usable.iter().map(|e| e.len()).sum();
    let misses = minimum.residuals.rows_range(4..).norm_squared();
    // An edge that is not as straight as its marks are sure, or was marked more loosely, tells less;
    // the misfit says by how much (Birge 1932). Each edge's own line takes two of its marks.
    let freedom = (points - 2 * usable.len()) as f64;
    let stretch = (minimum.sum_of_squares() / freedom).sqrt().max(1.0);
    let (radial, correlation) = radial_of(&minimum, 0, stretch);
    Ok(LensProfile {
        radial,
        correlation,
        focal: None,
        centre: None,
        residual: sigma * (misses / points as f64).sqrt(),
        size,
    })
}

/// The radial terms among the parameters from `at` on, in units of their priors' spreads; their
/// uncertainties stretched by `stretch`.
fn radial_of(minimum: &Minimum, at: usize, stretch: f64) -> ([Known; 2], f64) {
    let c = &minimum.covariance;
    let known = |i: usize| Known {
        value: LENS_SPREAD[i] * minimum.parameters[at + i],
        standard: LENS_SPREAD[i] * c[(at + i, at + i)].sqrt() * stretch,
    };
    let correlation = c[(at, at + 1)] / (c[(at, at)] * c[(at + 1, at + 1)]).sqrt();
    ([known(0), known(1)], correlation)
}

/// Signed distances of points from the line that fits them best (orthogonal regression).
fn distances_from_own_line(points: &[ImagePoint]) -> Vec<f64> {
    let n = points.len() as f64;
    let (mx, my) = points.iter().fold((0.0, 0.0), |s, p| (s.0 + p.x / n, s.1 + p.y / n));
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for p in points {
        let (dx, dy) = (p.x - mx, p.y - my);
        (xx, xy, yy) = (xx + dx * dx, xy + dx * dy, yy + dy * dy);
    }
    let (sin, cos) = ((2.0 * xy).atan2(xx - yy) / 2.0).sin_cos();
    points.iter().map(|p| (p.y - my) * cos - (p.x - mx) * sin).collect()
}

/// A chessboard's inner corners.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Board {
    /// Inner corners in a row.
    pub columns: usize,
    /// Rows of inner corners.
    pub rows: usize,
}

/// The unknowns before the poses: ln focal ratio, principal point, radial terms.
const SHARED: usize = 5;
/// Weak priors for a camera of any kind: they matter only where the boards tell nothing.
const ANY_FOCAL_SPREAD: f64 = 1.0;
const ANY_CENTRE_SPREAD: f64 = 0.1;
const ANY_LENS_FACTOR: f64 = 20.0;

/// Focal length, principal point and lens from a chessboard seen several times.
///
/// `views`: all inner corners of each view, row by row, pixels. At least three views; the board
/// should be tilted differently in each and reach the picture's edges.
///
/// # Errors
/// [`GeometryError::TooLittleForLens`] for fewer views or incomplete ones.
///
/// Method: Zhang 2000 (PAMI 22:1330-1334): homographies give the focal length, least squares over
/// all corners the rest; the corners' uncertainty is taken from the residuals.
pub fn fit_lens_from_boards(
    size: PictureSize,
    board: Board,
    views: &[Vec<ImagePoint>],
) -> Result<LensProfile, GeometryError> {
    let corners = board.columns * board.rows;
    if views.len() < 3 || corners < 6 || views.iter().any(|v| v.len() != corners) {
        return Err(GeometryError::TooLittleForLens {
            needed: "three complete views of the board".into(),
            found: format!("{} views", views.len()),
        });
    }
    let failed = || GeometryError::NotSettled { what: "lens".into() };
    let boards = Boards { size, board, views };
    let start = boards.start().ok_or_else(failed)?;
    let minimum = minimise(|p| boards.residuals(p), start).ok_or_else(failed)?;
    let misses = minimum.residuals.rows_range(SHARED..).norm_squared();
    let seen = (2 * corners * views.len()) as f64;
    // One standard uncertainty for all corners, from what is left over.
    let sigma = (misses / (seen - minimum.parameters.len() as f64)).sqrt();
    let spread = |i: usize| minimum.covariance[(i, i)].sqrt() * sigma;
    let (mut radial, correlation) = radial_of(&minimum, 3, sigma);
    for known in &mut radial {
        known.value *= ANY_LENS_FACTOR;
        known.standard *= ANY_LENS_FACTOR;
    }
    let focal = (ANY_FOCAL_SPREAD * minimum.parameters[0]).exp();
    let centre = [1, 2].map(|i| Known {
        value: ANY_CENTRE_SPREAD * minimum.parameters[i],
        standard: ANY_CENTRE_SPREAD * spread(i),
    });
    Ok(LensProfile {
        radial,
        correlation,
        focal: Some(Known { value: focal, standard: focal * ANY_FOCAL_SPREAD * spread(0) }),
        centre: Some(centre),
        residual: (misses / (seen / 2.0)).sqrt(),
        size,
    })
}

struct Boards<'a> {
    size: PictureSize,
    board: Board,
    views: &'a [Vec<ImagePoint>],
}

impl Boards<'_> {
    /// The board's corners in units of its squares.
    fn corners(&self) -> Vec<[f64; 2]> {
        let at = |i: usize| [(i % self.board.columns) as f64, (i / self.board.columns) as f64];
        (0..self.board.columns * self.board.rows).map(at).collect()
    }

    fn camera(&self, p: &DVector<f64>) -> Camera {
        let long = long_side(self.size);
        let [cx, cy] = middle(self.size);
        let lens = |i: usize| ANY_LENS_FACTOR * LENS_SPREAD[i] * p[3 + i];
        Camera {
            focal: long * (ANY_FOCAL_SPREAD * p[0]).exp(),
            centre: [cx + ANY_CENTRE_SPREAD * long * p[1], cy + ANY_CENTRE_SPREAD * long * p[2]],
            tilt: 0.0,
            roll: 0.0,
            height: 1.0,
            lens: [lens(0), lens(1)],
            long_side: long,
        }
    }

    fn residuals(&self, p: &DVector<f64>) -> Option<DVector<f64>> {
        let camera = self.camera(p);
        let mut out: Vec<f64> = p.rows(0, SHARED).iter().copied().collect();
        let corners = self.corners();
        for (i, view) in self.views.iter().enumerate() {
            let pose = p.rows(SHARED + 6 * i, 6);
            let turn = Rotation3::from_scaled_axis(Vector3::new(pose[0], pose[1], pose[2]));
            let away = Vector3::new(pose[3], pose[4], pose[5]);
            for ([x, y], seen) in corners.iter().zip(view) {
                let at = turn * Vector3::new(*x, *y, 0.0) + away;
                if at.z <= 0.0 {
                    return None;
                }
                let there = camera.distort(camera.picture_from_ray([at.x, at.y], at.z))?;
                out.push(there.x - seen.x);
                out.push(there.y - seen.y);
            }
        }
        Some(DVector::from_vec(out))
    }

    /// Focal length and poses from the homographies, without distortion, principal point in the
    /// middle.
    fn start(&self) -> Option<DVector<f64>> {
        let [cx, cy] = middle(self.size);
        let corners = self.corners();
        let mappings: Option<Vec<Matrix3<f64>>> = self
            .views
            .iter()
            .map(|view| {
                let seen: Vec<[f64; 2]> = view.iter().map(|p| [p.x - cx, p.y - cy]).collect();
                homography(&corners, &seen)
            })
            .collect();
        let mappings = mappings?;
        // Rotation columns are square to each other and of one length: two equations a view,
        // linear in 1 / f².
        let (mut top, mut bottom) = (0.0, 0.0);
        for h in &mappings {
            let h = h / h.norm();
            let (a, b) = (h.column(0), h.column(1));
            for (x, y) in [
                (a[0] * b[0] + a[1] * b[1], a[2] * b[2]),
                (a[0] * a[0] + a[1] * a[1] - b[0] * b[0] - b[1] * b[1], a[2] * a[2] - b[2] * b[2]),
            ] {
                top -= x * y;
                bottom += x * x;
            }
        }
        let inverse_square = top / bottom;
        let focal = match inverse_square > 0.0 {
            true => inverse_square.sqrt().recip(),
            // The boards were all square to the camera: start from any phone's.
            false => long_side(self.size),
        };
        let mut p =
            vec![(focal / long_side(self.size)).ln() / ANY_FOCAL_SPREAD, 0.0, 0.0, 0.0, 0.0];
        for h in &mappings {
            p.extend(pose_of(h, focal)?);
        }
        Some(DVector::from_vec(p))
    }
}

/// The pose (rotation as a scaled axis, translation) of a board with this homography.
fn pose_of(h: &Matrix3<f64>, focal: f64) -> Option<[f64; 6]> {
    let ray = Matrix3::from_diagonal(&Vector3::new(1.0 / focal, 1.0 / focal, 1.0)) * h;
    let scale = 2.0 / (ray.column(0).norm() + ray.column(1).norm()) * ray[(2, 2)].signum();
    let (a, b, away) = (ray.column(0) * scale, ray.column(1) * scale, ray.column(2) * scale);
    let rough = Matrix3::from_columns(&[a, b, a.cross(&b)]);
    let svd = rough.svd(true, true);
    let turn = Rotation3::from_matrix_unchecked(svd.u? * svd.v_t?).scaled_axis();
    Some([turn.x, turn.y, turn.z, away.x, away.y, away.z])
}

/// The second of two standard normal numbers with the given correlation.
pub(super) fn correlated(correlation: f64, first: f64, second: f64) -> f64 {
    correlation * first + (1.0 - correlation * correlation).max(0.0).sqrt() * second
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIZE: PictureSize = PictureSize { width: 1280, height: 720 };

    fn seen_edges(lens: [f64; 2]) -> Vec<Vec<ImagePoint>> {
        let camera = Camera {
            focal: 1500.0,
            centre: middle(SIZE),
            tilt: 0.0,
            roll: 0.0,
            height: 1.0,
            lens,
            long_side: 1280.0,
        };
        let edge = |a: (f64, f64), b: (f64, f64)| {
            (0..12)
                .map(|i| {
                    let t = f64::from(i) / 11.0;
                    let flat = ImagePoint::new(a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1));
                    camera.distort(flat).unwrap()
                })
                .collect()
        };
        vec![
            edge((40.0, 690.0), (1240.0, 660.0)),
            edge((60.0, 40.0), (1230.0, 60.0)),
            edge((60.0, 40.0), (40.0, 690.0)),
        ]
    }

    #[test]
    fn straight_edges_tell_the_lens() {
        for lens in [[-0.045, 0.004], [0.03, 0.0], [0.0, 0.0]] {
            let found = fit_lens_from_edges(SIZE, &seen_edges(lens), 0.3).unwrap();
            for (known, want) in found.radial.iter().zip(lens) {
                assert!((known.value - want).abs() < 2.0 * known.standard, "{found:?} {lens:?}");
            }
            // What matters is how far a point at the edge is moved: to half a pixel of 640.
            let moved = |k: [f64; 2]| 640.0 * (k[0] * 0.25 + k[1] * 0.0625);
            let got = moved([found.radial[0].value, found.radial[1].value]);
            assert!((got - moved(lens)).abs() < 0.5, "{got} {}", moved(lens));
            assert!(found.radial[0].standard < 0.5 * LENS_SPREAD[0] && found.residual < 0.1);
        }
    }

    #[test]
    fn an_edge_that_is_not_straight_tells_less() {
        let straight = seen_edges([-0.08, 0.02]);
        let mut waved = straight.clone();
        // One of them waves, as a mat's worn edge does: no lens does that.
        for (i, point) in waved[0].iter_mut().enumerate() {
            *point = point.moved(0.0, 3.0 * f64::sin(i as f64));
        }
        let standard = |edges: &[Vec<ImagePoint>]| {
            let lens = fit_lens_from_edges(SIZE, edges, 0.5).unwrap();
            (lens.radial[0].standard, lens.residual)
        };
        let ((sure, fits), (less, misses)) = (standard(&straight), standard(&waved));
        assert!(misses > 2.0 * fits.max(0.3), "{fits} {misses}");
        assert!(less > 1.3 * sure, "{sure} {less}");
    }

    #[test]
    fn too_little_is_refused() {
        let short = vec![vec![ImagePoint::new(0.0, 0.0), ImagePoint::new(10.0, 0.0)]];
        let error = fit_lens_from_edges(SIZE, &short, 0.3);
        assert!(matches!(error, Err(GeometryError::TooLittleForLens { .. })));
        let board = Board { columns: 9, rows: 6 };
        let error = fit_lens_from_boards(SIZE, board, &[vec![ImagePoint::default(); 54]]);
        assert!(matches!(error, Err(GeometryError::TooLittleForLens { .. })));
    }
}
