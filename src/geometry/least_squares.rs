//! Nonlinear least squares with the covariance of its answer.
//!
//! Residuals come whitened (divided by their standard uncertainty) and priors are residuals like
//! any other, so the minimum is the most probable answer and the inverse normal matrix its
//! covariance (Gauss-Markov; JCGM 102:2011, 6.3, from memory, for implicit models solved by least squares).

use nalgebra::{DMatrix, DVector};

/// Step of the central differences. Parameters are scaled to be of order one, so the truncation
/// error (h²) and the rounding error (1e-16 / h) are both near 1e-10.
const STEP: f64 = 1e-5;
const MOST_STEPS: usize = 100;

/// A minimum of a sum of squares.
#[derive(Clone, Debug)]
pub struct Minimum {
    /// Where it lies.
    pub parameters: DVector<f64>,
    /// The residuals there.
    pub residuals: DVector<f64>,
    /// Derivatives of the residuals there: one row a residual, one column a parameter.
    pub jacobian: DMatrix<f64>,
    /// The inverse of the normal matrix: the parameters' covariance if the residuals are whitened.
    pub covariance: DMatrix<f64>,
}

impl Minimum {
    /// The sum of squared residuals.
    pub fn sum_of_squares(&self) -> f64 {
        self.residuals.norm_squared()
    }
}

/// Finds the parameters that make the sum of squared residuals least, going downhill from `start`.
///
/// `residuals` returns `None` where the model is undefined (a point behind the camera, say); the
/// search then shortens its step. There must be at least as many residuals as parameters.
/// Returns `None` if the start is undefined or the problem is singular. After 100 steps the best
/// place so far is returned, minimum or not.
///
/// Method: Levenberg 1944, Marquardt 1963, damping scaled by the normal matrix's diagonal;
/// derivatives by central differences.
pub fn minimise(
    residuals: impl Fn(&DVector<f64>) -> Option<DVector<f64>>,
    start: DVector<f64>,
) -> Option<Minimum> {
    let mut at = start;
    let mut here = residuals(&at)?;
    let mut jacobian = derivatives(&residuals, &at)?;
    let mut damping = 1e-3;
    for _ in 0..MOST_STEPS {
        let normal = jacobian.tr_mul(&jacobian);
        let downhill = jacobian.tr_mul(&here);
        let Some(step) = damped_step(&normal, &downhill, damping) else {
            damping *= 10.0;
            if damping > 1e12 {
                return None;
            }
            continue;
        };
        let next = &at - &step;
        match residuals(&next).filter(|r| r.norm_squared() <= here.norm_squared()) {
            Some(better) => {
                let gain = here.norm_squared() - better.norm_squared();
                at = next;
                here = better;
                jacobian = derivatives(&residuals, &at)?;
                damping = (damping * 0.1).max(1e-12);
                if gain <= 1e-12 * (1e-6 + here.norm_squared()) && step.amax() < 1e-7 {
                    break;
                }
            }
            None if step.amax() < 1e-10 => break,
            None => damping *= 10.0,
        }
    }
    let covariance = jacobian.tr_mul(&jacobian).cholesky()?.inverse();
    covariance.iter().all(|v| v.is_finite()).then_some(Minimum {
        parameters: at,
        residuals: here,
        jacobian,
        covariance,
    })
}

fn damped_step(
    normal: &DMatrix<f64>,
    downhill: &DVector<f64>,
    damping: f64,
) -> Option<DVector<f64>> {
    let mut damped = normal.clone();
    for i in 0..damped.nrows() {
        damped[(i, i)] += damping * normal[(i, i)].max(1e-12);
    }
    Some(damped.cholesky()?.solve(downhill))
}

/// The derivatives of `residuals` at `at` by central differences; `None` where undefined.
pub fn derivatives(
    residuals: &impl Fn(&DVector<f64>) -> Option<DVector<f64>>,
    at: &DVector<f64>,
) -> Option<DMatrix<f64>> {
    let mut moved = at.clone();
    let mut columns = Vec::with_capacity(at.len());
    for i in 0..at.len() {
        moved[i] = at[i] + STEP;
        let ahead = residuals(&moved)?;
        moved[i] = at[i] - STEP;
        let behind = residuals(&moved)?;
        moved[i] = at[i];
        columns.push((ahead - behind) / (2.0 * STEP));
    }
    Some(DMatrix::from_columns(&columns))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fit(n: usize, start: &[f64], residual: impl Fn(usize, &DVector<f64>) -> f64) -> Minimum {
        minimise(
            |p| Some(DVector::from_fn(n, |i, _| residual(i, p))),
            DVector::from_row_slice(start),
        )
        .unwrap()
    }

    #[test]
    fn thermometer_calibration_of_the_gum() {
        // JCGM 100:2008, H.3 (as worked in MSLNZ/GTC, docs/API/GUM_H3.rst).
        let t: [f64; 11] = [
            21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511,
        ];
        let b = [
            -0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160,
        ];
        let m = fit(11, &[0.0, 0.0], |i, p| b[i] - p[0] - p[1] * (t[i] - 20.0));
        let s = (m.sum_of_squares() / 9.0).sqrt();
        let c = &m.covariance * s * s;
        assert!((m.parameters[0] + 0.17120379).abs() < 1e-8);
        assert!((m.parameters[1] - 0.00218270).abs() < 1e-8);
        assert!((s - 0.0034976).abs() < 1e-7);
        assert!((c[(0, 0)].sqrt() - 0.0028776).abs() < 1e-7);
        assert!((c[(1, 1)].sqrt() - 0.00066794).abs() < 1e-8);
        assert!((c[(0, 1)] / (c[(0, 0)] * c[(1, 1)]).sqrt() + 0.930430).abs() < 1e-6);
        // At 30 degrees the covariance matters: without it u would be 0.00727.
        let u30 = (c[(0, 0)] + 100.0 * c[(1, 1)] + 20.0 * c[(0, 1)]).sqrt();
        assert!((u30 - 0.0041386).abs() < 1e-7);
        let b30 = m.parameters[0] + 10.0 * m.parameters[1];
        assert!((b30 + 0.1493768).abs() < 1e-7);
    }

    const GANDER_X: [f64; 8] = [1.0, 2.0, 5.0, 7.0, 9.0, 3.0, 6.0, 8.0];
    const GANDER_Y: [f64; 8] = [7.0, 6.0, 8.0, 7.0, 5.0, 7.0, 2.0, 4.0];

    #[test]
    fn geometric_circle_of_gander_golub_strebel() {
        // Gander, Golub, Strebel 1994, BIT 34:558-578, first six points.
        let m =
            fit(6, &[5.0, 5.0, 4.0], |i, p| (GANDER_X[i] - p[0]).hypot(GANDER_Y[i] - p[1]) - p[2]);
        for (got, want) in m.parameters.iter().zip([4.739782, 2.983533, 4.714226]) {
            assert!((got - want).abs() < 2e-6, "{got} {want}");
        }
        assert!((m.sum_of_squares() - 1.227599).abs() < 1e-6);
    }

    #[test]
    fn geometric_circle_through_all_eight_points() {
        // The points of the same paper; the answer computed by an independent implementation.
        let m =
            fit(8, &[5.0, 5.0, 3.0], |i, p| (GANDER_X[i] - p[0]).hypot(GANDER_Y[i] - p[1]) - p[2]);
        for (got, want) in m.parameters.iter().zip([4.840141, 4.797126, 3.390682]) {
            assert!((got - want).abs() < 2e-6, "{got} {want}");
        }
        assert!((m.sum_of_squares() - 2.314114).abs() < 1e-6);
    }

    #[test]
    fn geometric_ellipse_of_gander_golub_strebel() {
        // The same paper, all eight points: foot points are unknowns beside the five of the ellipse.
        let place = |p: &DVector<f64>, i: usize| {
            let (a, b) = (p[2] * p[5 + i].cos(), p[3] * p[5 + i].sin());
            let (s, c) = p[4].sin_cos();
            (p[0] + a * c - b * s, p[1] + a * s + b * c)
        };
        let start: Vec<f64> = [2.7, 3.8, 6.0, 3.0, 0.3]
            .into_iter()
            .chain((0..8).map(|i| (GANDER_Y[i] - 3.8f64).atan2(GANDER_X[i] - 2.7)))
            .collect();
        let m = fit(16, &start, |k, p| {
            let (x, y) = place(p, k / 2);
            if k % 2 == 0 { x - GANDER_X[k / 2] } else { y - GANDER_Y[k / 2] }
        });
        let want = [2.699611, 3.815956, 6.518723, 3.031886, 0.359624];
        for (got, want) in m.parameters.iter().zip(want) {
            assert!((got - want).abs() < 2e-6, "{got} {want}");
        }
        assert!((m.sum_of_squares() - 1.373306).abs() < 1e-6);
    }

    #[test]
    fn an_undefined_start_or_a_singular_problem_has_no_answer() {
        assert!(minimise(|_| None, DVector::zeros(2)).is_none());
        let flat = minimise(
            |p| Some(DVector::from_element(3, p[0] + p[1])),
            DVector::from_element(2, 1.0),
        );
        assert!(flat.is_none());
    }
}
