//! What is known before looking: of phones on tripods, and of the things laid on the ground.

// Common practice, no source, except where one is named; all are wide, and none is fitted to any
// recording. Those of the lens stand in `lens.rs`.

/// Focal length over the picture's long side. Main cameras (24 to 28 mm on the 36 mm format, less
/// the crop of video stabilisation) have 0.7 to 0.95, twofold ones 1.4 to 1.7.
pub(super) const FOCAL_RATIO: f64 = 1.1;
pub(super) const FOCAL_SPREAD: f64 = 0.35;
/// Height over the ground, mm, and its spread as a logarithm: half to two metres at 95 %.
pub(super) const HEIGHT: f64 = 1000.0;
pub(super) const HEIGHT_SPREAD: f64 = 0.35;
/// Distance along the ground, mm: two to eight metres at 95 %.
pub(super) const DISTANCE: f64 = 4000.0;
pub(super) const DISTANCE_SPREAD: f64 = 0.35;
/// Where references lie from the point of interest (the ball), in depth, mm: within reach of it
/// (half a metre at 95 %).
pub(super) const DEPTH_SPREAD: f64 = 250.0;
/// Roll against the ground plane: tripod and lie together.
pub(super) const ROLL_SPREAD: f64 = 1.5 * DEGREE;
/// A camera set up square to the target line by eye; this is so however the line is told.
pub(super) const SQUARE_SPREAD: f64 = 3.0 * DEGREE;
/// A target line that nobody marked, taken as level in the picture.
pub(super) const LEVEL_SPREAD: f64 = 2.5 * DEGREE;
/// A line that is the target line by definition: what its laying adds to its points' own doubt.
pub(super) const ALONG_SPREAD: f64 = 0.1 * DEGREE;

// How well reference objects keep to their stated sizes and places.

/// A sheet's edges, mm: ISO 216 allows ±2 mm from 150 to 600 mm; most sheets are nearer, so
/// triangular: 2 / √6 (JCGM 100:2008, 4.3.9).
pub(super) const SHEET_SIZE_SPREAD: f64 = 0.82;
/// A length read from a tape: ±2 mm rectangular, 2 / √3.
pub(super) const LENGTH_SPREAD: f64 = 1.15;
/// A ball's diameter: the rule sets a minimum and no maximum.
pub(super) const BALL_SPREAD: f64 = 0.05;
/// Height above the ground at which a reference lies.
pub(super) const LAY_HEIGHT_SPREAD: f64 = 2.0;
/// How parallel two lines are.
pub(super) const PARALLEL_SPREAD: f64 = 0.3 * DEGREE;
/// How parallel to the ground a sheet or a stick lies.
pub(super) const LAY_SLOPE_SPREAD: f64 = 0.4 * DEGREE;

const DEGREE: f64 = std::f64::consts::PI / 180.0;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_become_standard_uncertainties() {
        // JCGM 100:2008, 4.3.7 and 4.3.9: a rectangle's half width over √3, a triangle's over √6.
        assert!((LENGTH_SPREAD - 2.0 / 3f64.sqrt()).abs() < 0.005);
        assert!((SHEET_SIZE_SPREAD - 2.0 / 6f64.sqrt()).abs() < 0.005);
    }
}
