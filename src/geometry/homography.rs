//! The plane-to-plane mapping of four or more points.

use nalgebra::{DMatrix, Matrix3, Vector3};

/// Moves points to their centroid and scales them to a mean distance of √2: `(moved, transform)`.
fn normalised(points: &[[f64; 2]]) -> Option<(Vec<[f64; 2]>, Matrix3<f64>)> {
    let n = points.len() as f64;
    let sum = points.iter().fold([0.0, 0.0], |s, p| [s[0] + p[0], s[1] + p[1]]);
    let centre = [sum[0] / n, sum[1] / n];
    let spread = points.iter().map(|p| (p[0] - centre[0]).hypot(p[1] - centre[1])).sum::<f64>() / n;
    let s = 2f64.sqrt() / spread;
    s.is_finite().then(|| {
        let moved = points.iter().map(|p| [(p[0] - centre[0]) * s, (p[1] - centre[1]) * s]);
        let transform = Matrix3::new(s, 0.0, -s * centre[0], 0.0, s, -s * centre[1], 0.0, 0.0, 1.0);
        (moved.collect(), transform)
    })
}

/// The homography that takes `from[i]` to `to[i]`, scaled so that its last element is 1.
///
/// At least four pairs; `None` if they determine none (repeated points, three of four in a line).
///
/// Method: normalised direct linear transform (Hartley & Zisserman 2004, algorithm 4.2).
///
/// ```
/// use scuffline::geometry::{apply, homography};
///
/// // A sheet of 297 mm by 210 mm as a camera sees it.
/// let sheet = [[0.0, 0.0], [297.0, 0.0], [297.0, 210.0], [0.0, 210.0]];
/// let picture = [[835.6, 644.2], [986.5, 638.3], [959.2, 605.9], [817.2, 611.2]];
/// let ground_from_image = homography(&picture, &sheet).expect("four corners");
/// let [x, y] = apply(&ground_from_image, picture[2]);
/// assert!((x - 297.0).abs() < 1e-6 && (y - 210.0).abs() < 1e-6);
/// ```
pub fn homography(from: &[[f64; 2]], to: &[[f64; 2]]) -> Option<Matrix3<f64>> {
    if from.len() < 4 || from.len() != to.len() {
        return None;
    }
    let (from, from_transform) = normalised(from)?;
    let (to, to_transform) = normalised(to)?;
    let mut rows = DMatrix::zeros((2 * from.len()).max(9), 9);
    for (i, ([x, y], [u, v])) in from.iter().zip(&to).enumerate() {
        let equations = [
            [*x, *y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y, -u],
            [0.0, 0.0, 0.0, *x, *y, 1.0, -v * x, -v * y, -v],
        ];
        for (k, equation) in equations.iter().enumerate() {
            for (j, value) in equation.iter().enumerate() {
                rows[(2 * i + k, j)] = *value;
            }
        }
    }
    let svd = rows.svd(false, true);
    let mut order: Vec<usize> = (0..9).collect();
    order.sort_by(|a, b| svd.singular_values[*b].total_cmp(&svd.singular_values[*a]));
    // Eight equations must be independent, or a whole family of mappings fits.
    if svd.singular_values[order[7]] < 1e-7 * svd.singular_values[order[0]] {
        return None;
    }
    let v = svd.v_t?;
    // Of unit norm. Three collinear points of one side give a singular mapping.
    let h = Matrix3::from_fn(|i, j| v[(order[8], 3 * i + j)]);
    if h.determinant().abs() < 1e-6 {
        return None;
    }
    let h = to_transform.try_inverse()? * h * from_transform;
    let scaled = h / h[(2, 2)];
    scaled.iter().all(|v| v.is_finite()).then_some(scaled)
}

/// Where a homography takes a point.
pub fn apply(h: &Matrix3<f64>, [x, y]: [f64; 2]) -> [f64; 2] {
    let p = h * Vector3::new(x, y, 1.0);
    [p.x / p.z, p.y / p.z]
}

#[cfg(test)]
mod tests {
    use super::*;

    const UNIT: [[f64; 2]; 4] = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];

    fn check(h: Matrix3<f64>, want: [f64; 9], tolerance: f64) {
        for (k, want) in want.iter().enumerate() {
            let got = h[(k / 3, k % 3)];
            assert!((got - want).abs() < tolerance, "{k}: {got} {want}");
        }
    }

    #[test]
    fn unit_square_by_hand() {
        // Solvable by hand: H maps (1,1) to (2,2) and fixes the other three corners.
        let h = homography(&UNIT, &[[0.0, 0.0], [1.0, 0.0], [2.0, 2.0], [0.0, 1.0]]).unwrap();
        let (t, m) = (2.0 / 3.0, -1.0 / 3.0);
        check(h, [t, 0.0, 0.0, 0.0, t, 0.0, m, m, 1.0], 1e-12);
    }

    const A4: [[f64; 2]; 4] = [[0.0, 0.0], [210.0, 0.0], [210.0, 297.0], [0.0, 297.0]];
    const A4_PX: [[f64; 2]; 4] = [[100.0, 120.0], [520.0, 100.0], [560.0, 640.0], [80.0, 600.0]];

    #[test]
    fn a4_sheet_in_the_picture() {
        // Computed with two independent implementations (numpy, OpenCV).
        let h = homography(&A4, &A4_PX).unwrap();
        let want = [
            1.74622893,
            -0.0987096639,
            100.0,
            -0.144040225,
            1.38088964,
            120.0,
            -4.88021295e-4,
            -3.92119957e-4,
            1.0,
        ];
        check(h, want, 1e-7);
        let [u, v] = apply(&h, [105.0, 148.5]);
        assert!((u - 301.72624).abs() < 1e-5 && (v - 348.03836).abs() < 1e-5);
    }

    #[test]
    fn normalisation_of_hartley_and_zisserman() {
        // Centroid (315, 365), scale 0.00415442799, offset (-1.30864482, -1.51636621).
        let (_, t) = normalised(&A4_PX).unwrap();
        assert!((t[(0, 0)] - 0.00415442799).abs() < 1e-11);
        assert!((t[(0, 2)] + 1.30864482).abs() < 1e-8);
        assert!((t[(1, 2)] + 1.51636621).abs() < 1e-8);
    }

    #[test]
    fn published_matrix_of_the_graffiti_pair() {
        // Images 1 to 3 of the affine-covariant-features set, H1to3p.xml in Debian's opencv-doc.
        let h = Matrix3::new(
            0.76285898,
            -0.29922929,
            225.67123,
            0.33443473,
            1.0143901,
            -76.999973,
            3.4663091e-4,
            -1.4364524e-5,
            1.0,
        );
        let from = [[0.0, 0.0], [799.0, 0.0], [799.0, 639.0], [0.0, 639.0], [400.0, 320.0]];
        let to = from.map(|p| apply(&h, p));
        assert!((to[0][0] - 225.67123).abs() < 1e-5 && (to[0][1] + 76.99997).abs() < 1e-5);
        assert!((to[2][0] - 507.96547).abs() < 1e-4 && (to[2][1] - 661.32074).abs() < 1e-4);
        assert!((to[4][0] - 383.63322).abs() < 1e-4 && (to[4][1] - 336.29631).abs() < 1e-4);
        let found = homography(&from, &to).unwrap();
        for (a, b) in found.iter().zip(h.iter()) {
            assert!((a - b).abs() < 1e-8 * b.abs().max(1.0));
        }
    }

    /// Brewin & Kerwin 2003, J Appl Biomech 19:79-88: over a 6 m field a two-point scale is biased
    /// once the plane is tilted by more than about 1°, a four-point plane is not.
    #[test]
    fn a_plane_does_not_mind_tilt_and_a_two_point_scale_does() {
        let rms = |tilt: f64| {
            let see = |[x, y]: [f64; 2]| {
                let (sin, cos) = tilt.to_radians().sin_cos();
                let depth = 12_000.0 + y * sin;
                [1500.0 * x / depth, 1500.0 * y * cos / depth]
            };
            let corners =
                [[-3000.0, -1000.0], [3000.0, -1000.0], [3000.0, 1000.0], [-3000.0, 1000.0]];
            let plane = homography(&corners.map(see), &corners).unwrap();
            let scale = 6000.0 / (see([3000.0, 0.0])[0] - see([-3000.0, 0.0])[0]);
            let mut sums = [0.0, 0.0];
            for i in 0..30 {
                let truth = [f64::from(i % 6) * 1000.0 - 2500.0, f64::from(i / 6) * 400.0 - 800.0];
                let seen = see(truth);
                let scaled = seen.map(|v| v * scale);
                for (sum, got) in sums.iter_mut().zip([apply(&plane, seen), scaled]) {
                    *sum += ((got[0] - truth[0]).powi(2) + (got[1] - truth[1]).powi(2)) / 30.0;
                }
            }
            sums.map(f64::sqrt)
        };
        for tilt in [-2.0, 0.0, 1.0, 2.0, 4.0, 6.0] {
            assert!(rms(tilt)[0] < 1e-6, "{tilt}");
        }
        assert!(rms(0.0)[1] < 1e-6 && rms(1.0)[1] < 3.0);
        assert!(rms(6.0)[1] > 5.0 * rms(1.0)[1]);
    }

    #[test]
    fn collinear_or_repeated_corners_are_refused() {
        let line = [[0.0, 0.0], [1.0, 1.0], [2.0, 2.0], [3.0, 3.0]];
        let repeated = [[0.0, 0.0], [0.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
        let three_in_line = [[0.0, 0.0], [1.0, 0.0], [2.0, 0.0], [0.0, 1.0]];
        for bad in [line, repeated, three_in_line] {
            assert_eq!(homography(&UNIT, &bad), None);
            assert_eq!(homography(&bad, &UNIT), None);
        }
        assert_eq!(homography(&UNIT[..3], &UNIT[..3]), None);
        assert_eq!(homography(&[[5.0, 5.0]; 4], &UNIT), None);
    }
}
