//! Where a step lies in a row of noisy numbers, with an uncertainty taken from the step itself.

use statrs::function::erf::erf;

/// Widths of the step that are considered, standard deviations of its slope in columns.
const WIDTHS: [f64; 4] = [0.6, 1.2, 2.4, 4.5];
/// Raster of positions, columns.
const RASTER: f64 = 0.25;

/// One column of a profile.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Column {
    /// Its place.
    pub at: f64,
    /// Its value.
    pub value: f64,
    /// Its variance; infinite where nothing was seen.
    pub variance: f64,
}

/// Where a step lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Step {
    pub at: f64,
    pub sigma: f64,
    /// How wide it is: standard deviation of its slope, columns.
    pub width: f64,
}

/// Finds the rise from about 0 to about `inner` in `columns`, ordered by place.
///
/// The place is the mean, its uncertainty the standard deviation of the posterior over all
/// places and widths; lower and upper level are free within 8 % and 25 % of `inner` and
/// integrated out. Columns that nothing is known of take no part, so a step hidden among them
/// comes out as wide as they are. `None` if fewer than 4 columns are known.
pub(crate) fn find_rise(columns: &[Column], inner: f64) -> Option<Step> {
    let known: Vec<Column> =
        columns.iter().copied().filter(|c| c.variance.is_finite() && c.variance > 0.0).collect();
    if known.len() < 4 || inner <= 0.0 {
        return None;
    }
    let (first, last) = (columns[0].at, columns[columns.len() - 1].at);
    let steps = ((last - first) / RASTER) as usize;
    let places: Vec<f64> = (0..=steps).map(|i| first + i as f64 * RASTER).collect();
    let mut logs = Vec::with_capacity(places.len() * WIDTHS.len());
    for &at in &places {
        for width in WIDTHS {
            logs.push(log_evidence(&known, inner, at, width));
        }
    }
    let best = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let (mut total, mut first_moment, mut second, mut width) = (0.0, 0.0, 0.0, 0.0);
    for (i, log) in logs.iter().enumerate() {
        let (p, at) = ((log - best).exp(), places[i / WIDTHS.len()]);
        total += p;
        first_moment += p * at;
        second += p * at * at;
        width += p * WIDTHS[i % WIDTHS.len()];
    }
    let mean = first_moment / total;
    let sigma = (second / total - mean * mean).max(0.0).sqrt();
    Some(Step { at: mean, sigma, width: width / total })
}

/// Log of the evidence for a step at `at`, levels integrated out: a linear Gaussian model with
/// lower level b ~ N(0, (0.08 inner)²) and height a ~ N(inner, (0.25 inner)²).
fn log_evidence(columns: &[Column], inner: f64, at: f64, width: f64) -> f64 {
    let (prior_b, prior_a) = ((0.08 * inner).powi(-2), (0.25 * inner).powi(-2));
    let (mut bb, mut ba, mut aa) = (prior_b, 0.0, prior_a);
    let (mut rb, mut ra) = (0.0, prior_a * inner);
    let mut squares = prior_a * inner * inner;
    for c in columns {
        let x = 0.5 * (1.0 + erf((c.at - at) / (width * std::f64::consts::SQRT_2)));
        let w = 1.0 / c.variance;
        bb += w;
        ba += w * x;
        aa += w * x * x;
        rb += w * c.value;
        ra += w * x * c.value;
        squares += w * c.value * c.value;
    }
    let det = bb * aa - ba * ba;
    let explained = (aa * rb * rb - 2.0 * ba * rb * ra + bb * ra * ra) / det;
    -0.5 * (squares - explained) - 0.5 * det.ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn columns(at: f64, noise: f64, hidden: std::ops::Range<usize>) -> Vec<Column> {
        let mut seed = 3u32;
        (0..60)
            .map(|i| {
                seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                let ripple = f64::from(seed >> 8) / f64::from(1u32 << 24) - 0.5;
                let x = 0.5 * (1.0 + erf((i as f64 - at) / (1.2 * std::f64::consts::SQRT_2)));
                let variance = if hidden.contains(&i) { f64::INFINITY } else { noise * noise };
                Column { at: i as f64, value: x + 12f64.sqrt() * noise * ripple, variance }
            })
            .collect()
    }

    #[test]
    fn a_clear_step_is_found_below_a_pixel() {
        for at in [20.3, 31.75, 40.0] {
            let step = find_rise(&columns(at, 0.05, 0..0), 1.0).unwrap();
            assert!((step.at - at).abs() < 0.3 && step.sigma < 0.3, "{step:?} for {at}");
        }
    }

    #[test]
    fn a_hidden_step_is_as_doubtful_as_what_hides_it_is_wide() {
        let step = find_rise(&columns(30.0, 0.05, 22..40), 1.0).unwrap();
        assert!(step.sigma > 3.0, "{step:?}");
        assert!((step.at - 30.0).abs() < 2.5 * step.sigma);
    }

    #[test]
    fn stated_doubt_covers_the_truth() {
        let inside = (0..40)
            .filter(|i| {
                let at = 20.0 + 0.37 * f64::from(*i);
                let step = find_rise(&columns(at, 0.15, 0..0), 1.0).unwrap();
                (step.at - at).abs() < 1.96 * step.sigma + 0.1
            })
            .count();
        assert!(inside >= 36, "{inside} of 40");
    }
}
