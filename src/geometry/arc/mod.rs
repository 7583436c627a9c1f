//! The club head's path near the ground: a circle in a tilted plane, seen by the calibrated view.
//!
//! One view does not tell depth, so three things that are true of any swing stand in for it: the
//! head strikes the ball (its path passes the ball within a few millimetres to either side), its
//! plane is inclined as the club's length makes it, and the plane's line on the ground runs nearly
//! along the target line. All three are priors with their spreads in the adjustment, together with
//! the calibration's own doubt, so each has its entry in the budget. Times are not used: the ball
//! and the turf slow the head by a fifth and more, so equal times are not equal angles.

mod answer;
mod circle;
mod draws;
mod problem;

use nalgebra::{DMatrix, DVector};

use super::club::{Expected, expected};
use super::error::GeometryError;
use super::mark::{MiddleLine, Origin};
use super::view::GroundView;
use crate::domain::{Club, ClubHeadSighting, Measured, WorldPoint};
pub(super) use circle::{Arc, edge_at_contact};
use problem::{Problem, in_plane};
pub(super) use problem::{WANDER_SPREAD, hidden};

/// How far from the low point the club moves as one rigid piece about one centre, radians: the
/// planar phase before and after the strike (Kwon et al. 2012) is longer, the circular part about
/// this (Nesbit & McGinnis 2009: the radius changes over the downswing).
const RIGID: f64 = 0.42;

/// What an arc is fitted from.
#[derive(Clone, Debug)]
pub struct ArcRequest<'a> {
    /// The calibrated view.
    pub view: &'a GroundView,
    /// What offsets are counted from.
    pub origin: &'a Origin,
    /// The ball at the origin was struck, so the path passes it.
    pub struck: bool,
    /// The leading edge's middle in frames around the strike.
    pub sightings: &'a [ClubHeadSighting],
    /// The club.
    pub club: Option<&'a Club>,
    /// The middle line of the mark on the ground: the path runs along it.
    pub middle_line: Option<MiddleLine>,
}

/// The club head's path near the ground.
#[derive(Clone, Debug)]
pub struct ArcFit {
    /// Low point ahead of the origin, mm.
    pub low_point: Measured,
    /// Slope of the path to the ground at the origin, degrees; down is negative.
    pub attack_angle: Measured,
    /// Radius, mm.
    pub radius: Measured,
    /// How steeply its plane stands on the ground, degrees.
    pub plane: Measured,
    /// Height over the ground at the origin, mm.
    pub height_at_ball: Measured,
    /// Height of the low point over the ground, mm; negative: it goes into the ground.
    pub low_point_height: Measured,
    /// Where the path first reaches the ground, mm ahead of the origin; `None`: it clears it.
    pub first_contact: Option<Measured>,
    /// Where the leading edge is along the target line when the face meets the ball, mm.
    pub edge_at_contact: Measured,
    /// The path within the fitted stretch, for drawing, in the ground frame of the origin.
    pub path: Vec<WorldPoint>,
    /// How many sightings were used.
    pub used: usize,
}

/// Fits the club head's path near the ground.
///
/// At least three sightings within 0.42 rad of the low point are needed. Sightings far from the
/// arc lose their weight (Huber); if they scatter more than they say, their uncertainty is
/// stretched accordingly (Birge 1932).
///
/// # Errors
/// [`GeometryError::TooFewSightings`]; [`GeometryError::NearlyStraight`] if the sightings bulge by
/// less than twice the bulge's own uncertainty; [`GeometryError::BentUpwards`] if they bulge the
/// wrong way by more.
///
/// Method: orthogonal distances in the picture (each sighting's place on the arc is an unknown),
/// least squares with the priors of this module; the covariance gives the budget.
pub fn fit_arc(request: &ArcRequest) -> Result<ArcFit, GeometryError> {
    let expected = expected(request.club);
    let mut used = near_the_ball(request, &expected)?;
    let mut fit = None;
    // The low point is known only after a fit, and with it which sightings are near enough.
    for _ in 0..4 {
        if used.len() < 3 {
            return Err(GeometryError::TooFewSightings { found: used.len() });
        }
        check_bulge(&used)?;
        let problem = Problem::new(request, &expected, used.clone())?;
        let (minimum, problem) = problem.solve_robustly()?;
        let near = problem.within_rigid(&minimum);
        let settled = near.len() == used.len();
        used = near;
        fit = Some((minimum, problem));
        if settled {
            break;
        }
    }
    let (minimum, problem) = fit.ok_or(GeometryError::NotSettled { what: "arc".into() })?;
    problem.answer(&minimum)
}

/// The sightings that can belong to the arc's bottom.
fn near_the_ball(
    request: &ArcRequest,
    expected: &Expected,
) -> Result<Vec<ClubHeadSighting>, GeometryError> {
    let state = request.view.state();
    let (height, _) = request.origin.height();
    let zero = state
        .camera
        .place_at_height(request.origin.mark().point, height)
        .ok_or(GeometryError::AboveHorizon { which: "ball".into() })?;
    let near = |s: &&ClubHeadSighting| {
        in_plane(&state, zero, s.point, expected.plane.to_radians()).is_some_and(|[x, up]| {
            // Half a radian about the ball leaves the low point room to either side.
            x.abs() < 0.5 * expected.radius && up.abs() < 0.2 * expected.radius
        })
    };
    Ok(request.sightings.iter().filter(near).copied().collect())
}

/// Refuses sightings that a straight line fits as well: the bulge of a parabola through them must
/// be twice its own standard uncertainty.
fn check_bulge(sightings: &[ClubHeadSighting]) -> Result<(), GeometryError> {
    let (first, last) = (sightings[0].point, sightings[sightings.len() - 1].point);
    let length = first.distance(last);
    let straight = |sagitta: f64, scatter: f64| GeometryError::NearlyStraight { sagitta, scatter };
    if length < 1.0 {
        return Err(straight(0.0, length));
    }
    let (tx, ty) = ((last.x - first.x) / length, (last.y - first.y) / length);
    let n = sightings.len();
    let mut rows = DMatrix::zeros(n, 3);
    let mut values = DVector::zeros(n);
    for (i, s) in sightings.iter().enumerate() {
        let (dx, dy) = (s.point.x - first.x, s.point.y - first.y);
        let along = 2.0 * (dx * tx + dy * ty) / length - 1.0;
        let weight = 1.0 / s.sigma[1].0;
        for (j, term) in [1.0, along, 1.0 - along * along].into_iter().enumerate() {
            rows[(i, j)] = term * weight;
        }
        values[i] = (dy * tx - dx * ty) * weight;
    }
    let normal = rows.tr_mul(&rows);
    let Some(inverse) = normal.try_inverse() else {
        return Err(straight(0.0, 0.0));
    };
    let fitted = &inverse * rows.tr_mul(&values);
    // To the right of the way it goes is down in the picture where it goes to the right.
    let (bulge, sigma) = (fitted[2] * tx.signum(), inverse[(2, 2)].sqrt());
    match bulge {
        down if down > 2.0 * sigma => Ok(()),
        up if up < -2.0 * sigma => Err(GeometryError::BentUpwards),
        flat => Err(straight(flat.abs(), sigma)),
    }
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, StandardNormal};

    use super::problem::HEIGHT;
    use super::*;
    use crate::domain::{
        Direction, FrameIndex, ImagePoint, Millimetres, PictureSize, Pixels, Reference,
        ReferenceKind, Seconds,
    };
    use crate::geometry::{CalibrationRequest, Camera, ImageMark, Minimum, calibrate, minimise};

    const AWAY: f64 = 3400.0;

    fn camera() -> Camera {
        Camera {
            focal: 1500.0,
            centre: [639.5, 359.5],
            tilt: 0.2,
            roll: 0.0,
            height: 1050.0,
            lens: [0.0; 2],
            long_side: 1280.0,
        }
    }

    fn see(p: [f64; 3]) -> ImagePoint {
        camera().project([p[0], p[1] + AWAY, p[2]]).unwrap()
    }

    fn view_and_origin() -> (GroundView, Origin) {
        let stick = [[-600.0, -200.0, 8.0], [600.0, -200.0, 8.0]].map(see);
        let sheet =
            [[300.0, -300.0, 6.0], [597.0, -300.0, 6.0], [597.0, -90.0, 6.0], [300.0, -90.0, 6.0]];
        let reference = |kind, height, along_target| Reference {
            kind,
            height: Millimetres(height),
            along_target,
            frame: None,
            point_sigma: None,
        };
        let size = [Millimetres(297.0), Millimetres(210.0)];
        let references = [
            reference(ReferenceKind::Line { length: Millimetres(1200.0), ends: stick }, 8.0, true),
            reference(ReferenceKind::Sheet { size, corners: sheet.map(see) }, 6.0, false),
        ];
        let ball = ImageMark::click(see([0.0, 0.0, 21.335]));
        let view = calibrate(&CalibrationRequest {
            size: PictureSize { width: 1280, height: 720 },
            references: &references,
            target_line: None,
            direction: Direction::Right,
            about: Some((ball.point, Millimetres(21.335))),
            lens: None,
        })
        .unwrap();
        (view, Origin::Ball { centre: ball, on_tee: false })
    }

    fn sightings(arc: &Arc, reach: f64, noise: &mut impl FnMut() -> f64) -> Vec<ClubHeadSighting> {
        (0..8)
            .map(|i| {
                let phi = reach * (f64::from(i) / 3.5 - 1.0);
                ClubHeadSighting {
                    frame: FrameIndex(i as usize),
                    time: Seconds(f64::from(i) / 240.0),
                    point: see(arc.at(phi)).moved(noise(), noise()),
                    sigma: [Pixels(2.0); 2],
                }
            })
            .collect()
    }

    /// A struck ball's arc, without a line that the club head's middle follows.
    fn request<'a>(
        (view, origin): (&'a GroundView, &'a Origin),
        club: &'a Club,
        sightings: &'a [ClubHeadSighting],
    ) -> ArcRequest<'a> {
        let (club, struck, middle_line) = (Some(club), true, None);
        ArcRequest { view, origin, struck, sightings, club, middle_line }
    }

    fn fit(sightings: &[ClubHeadSighting]) -> Result<ArcFit, GeometryError> {
        let (view, origin) = view_and_origin();
        let club = Club("7-iron".into());
        fit_arc(&request((&view, &origin), &club, sightings))
    }

    #[test]
    fn low_point_and_attack_angle_of_the_tilted_circle() {
        // D = R sin |A| / sin θ with R = 1500 mm: driver 47°, -1.3°: 46.5 mm; 5-iron 59°, -3.7°:
        // 112.9 mm; 7-iron 61°, -4.3°: 128.6 mm; PW 64°, -5.0°: 145.5 mm (exact for a circle).
        for (plane, attack, low) in
            [(47.0f64, -1.3, 46.5), (59.0, -3.7, 112.9), (61.0, -4.3, 128.6), (64.0, -5.0, 145.5)]
        {
            let arc = Arc::through(low, 0.0, 0.0, 1500.0, plane.to_radians(), 0.0).unwrap();
            assert!((arc.attack().to_degrees() - attack).abs() < 0.01);
            assert!((arc.at(arc.at_ball)[0]).abs() < 1e-9);
        }
        // First contact c = √(2 R' d) before the low point for R' = 1730 mm, in mm.
        let plane = 60f64.to_radians();
        let radius = 1730.0 * plane.sin();
        let depths =
            [(1.0, 59.0), (2.0, 83.0), (5.0, 131.0), (10.0, 186.0), (15.0, 227.0), (20.0, 262.0)];
        for (depth, before) in depths {
            let arc = Arc { low: [0.0, 0.0, -depth], radius, plane, direction: 0.0, at_ball: 0.0 };
            let contact = arc.at(arc.contact().unwrap())[0];
            assert!((contact + before).abs() < 0.5, "{depth}: {contact}");
        }
    }

    #[test]
    fn an_exact_arc_is_found() {
        let arc = Arc::through(80.0, 0.0, 2.0, 1540.0, 60.6f64.to_radians(), 0.0).unwrap();
        let fit = fit(&sightings(&arc, 0.38, &mut || 0.0)).unwrap();
        assert_eq!(fit.used, 8);
        assert!((fit.low_point.value - 80.0).abs() < 3.0, "{}", fit.low_point.value);
        assert!((fit.attack_angle.value - arc.attack().to_degrees()).abs() < 0.1);
        assert!((fit.radius.value - 1540.0).abs() < 10.0, "{}", fit.radius.value);
        assert!((fit.height_at_ball.value - 2.0).abs() < 2.0, "{}", fit.height_at_ball.value);
    }

    /// Algebraic circle fit of Kåsa 1976.
    fn kasa_radius(points: &[[f64; 2]]) -> f64 {
        let rows = DMatrix::from_fn(points.len(), 3, |i, j| [points[i][0], points[i][1], 1.0][j]);
        let squares =
            DVector::from_fn(points.len(), |i, _| points[i][0].powi(2) + points[i][1].powi(2));
        let p = rows.svd(true, true).solve(&squares, 1e-12).unwrap();
        ((p[0] / 2.0).powi(2) + (p[1] / 2.0).powi(2) + p[2]).sqrt()
    }

    #[test]
    fn the_algebraic_fit_compared_with_is_the_published_one() {
        // Six points of Gander, Golub, Strebel 1994; PyPI circle-fit and scikit-image agree.
        let points = [[1.0, 7.0], [2.0, 6.0], [5.0, 8.0], [7.0, 7.0], [9.0, 5.0], [3.0, 7.0]];
        assert!((kasa_radius(&points) - 4.108762).abs() < 1e-6);
    }

    #[test]
    fn the_short_arc_is_not_fitted_too_small() {
        // Al-Sharadqah & Chernov 2009: Kåsa's fit is heavily biased to small radii on short arcs.
        let arc = Arc::through(20.0, 0.0, 2.0, 1543.0, 60.6f64.to_radians(), 0.0).unwrap();
        let mut rng = ChaCha8Rng::seed_from_u64(7);
        let mut noise = || {
            let z: f64 = StandardNormal.sample(&mut rng);
            2.0 * z
        };
        let (view, origin) = view_and_origin();
        let state = view.state();
        let zero = state.camera.place_at_height(origin.mark().point, 21.335).unwrap();
        let (mut ours, mut algebraic) = (0.0, 0.0);
        const RUNS: usize = 20;
        for _ in 0..RUNS {
            let seen = sightings(&arc, 0.2, &mut noise);
            let places: Vec<[f64; 2]> = seen
                .iter()
                .map(|s| in_plane(&state, zero, s.point, 60.6f64.to_radians()).unwrap())
                .collect();
            algebraic += kasa_radius(&places) / RUNS as f64;
            ours += fit(&seen).unwrap().radius.value / RUNS as f64;
        }
        assert!(algebraic < 1500.0, "{algebraic}");
        assert!((ours - 1543.0).abs() < 30.0, "{ours}");
    }

    #[test]
    fn a_straight_path_gets_no_radius() {
        let mut straight = Vec::new();
        for i in 0..6 {
            straight.push(ClubHeadSighting {
                frame: FrameIndex(i),
                time: Seconds(i as f64 / 240.0),
                point: see([-300.0 + 120.0 * i as f64, 0.0, 2.0]),
                sigma: [Pixels(1.0); 2],
            });
        }
        assert!(matches!(fit(&straight), Err(GeometryError::NearlyStraight { .. })));
        let two = fit(&straight[..2]);
        assert_eq!(two.err(), Some(GeometryError::TooFewSightings { found: 2 }));
    }

    #[test]
    fn a_path_that_is_highest_in_the_middle_is_no_swing() {
        let bent = |way: f64, up: f64| {
            let places = (0..6).map(|i| {
                let along = 300.0 - 120.0 * f64::from(i);
                [way * along, 0.0, 2.0 + up * along * along / 3000.0]
            });
            let seen: Vec<_> = places
                .enumerate()
                .map(|(i, place)| ClubHeadSighting {
                    frame: FrameIndex(i),
                    time: Seconds(i as f64 / 240.0),
                    point: see(place),
                    sigma: [Pixels(1.0); 2],
                })
                .collect();
            fit(&seen).err()
        };
        for way in [1.0, -1.0] {
            assert_eq!(bent(way, -1.0), Some(GeometryError::BentUpwards));
            assert_eq!(bent(way, 1.0), None);
        }
    }

    #[test]
    fn one_wrong_sighting_loses_its_weight() {
        let arc = Arc::through(80.0, 0.0, 2.0, 1540.0, 60.6f64.to_radians(), 0.0).unwrap();
        let mut seen = sightings(&arc, 0.38, &mut || 0.0);
        seen[2].point = seen[2].point.moved(0.0, 25.0);
        let fit = fit(&seen).unwrap();
        let interval = crate::geometry::expand(&fit.low_point);
        assert!((fit.low_point.value - 80.0).abs() < 25.0, "{}", fit.low_point.value);
        assert!(interval.contains(80.0));
    }

    /// Sightings of a low arc as grass hides it, or of a high one as it is seen.
    fn seen_in_grass(arc: &Arc, rng: &mut ChaCha8Rng) -> Vec<ClubHeadSighting> {
        let mut seen = sightings(arc, 0.38, &mut || 0.0);
        for (i, sighting) in seen.iter_mut().enumerate() {
            let phi = 0.38 * (i as f64 / 3.5 - 1.0);
            let z: f64 = StandardNormal.sample(rng);
            // A millimetre is about 0.42 pixels.
            sighting.point =
                sighting.point.moved(0.0, z * 0.3f64.hypot(0.42 * hidden(arc.at(phi)[2])));
            sighting.sigma = [Pixels(0.6), Pixels(0.3)];
        }
        seen
    }

    #[test]
    fn a_bottom_in_the_grass_and_one_above_it_are_both_looked_for() {
        let (_, origin) = view_and_origin();
        let view = view_by_ball(&origin);
        let club = Club("7-iron".into());
        let expected = expected(Some(&club));
        let plane = 60.6f64.to_radians();
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        for height in [-15.0, 18.0].into_iter().cycle().take(60) {
            let arc = Arc::through(60.0, 0.0, height, 1540.0, plane, 0.0).unwrap();
            let seen = seen_in_grass(&arc, &mut rng);
            let request = request((&view, &origin), &club, &seen);
            let problem = Problem::new(&request, &expected, seen.clone()).unwrap();
            let found: Vec<f64> = problem.minima().iter().map(Minimum::sum_of_squares).collect();
            let least = found.iter().copied().fold(f64::INFINITY, f64::min);
            for start_height in [-2.0, -0.5, 0.5, 2.0] {
                let mut start = problem.start().unwrap();
                start[HEIGHT] = start_height;
                let other = minimise(|p| problem.residuals(p), start).unwrap().sum_of_squares();
                assert!(least < other + 0.01, "{height}: {found:?}, but {other}");
            }
        }
    }

    /// The same view, calibrated by the outline of the ball alone.
    fn view_by_ball(origin: &Origin) -> GroundView {
        let middle = origin.mark().point;
        let (_, width) = camera().outline_of_sphere([0.0, AWAY, 21.335], 21.335).unwrap();
        let ball = Reference {
            kind: ReferenceKind::Ball { outline: Some((middle, Pixels(width))) },
            height: Millimetres(0.0),
            along_target: false,
            frame: None,
            point_sigma: None,
        };
        calibrate(&CalibrationRequest {
            size: PictureSize { width: 1280, height: 720 },
            references: &[ball],
            target_line: None,
            direction: Direction::Right,
            about: Some(origin.place()),
            lens: None,
        })
        .unwrap()
    }

    /// What a picture tells of one swing seen by the ball alone and by stick and sheet.
    fn by_ball_and_by_sheet(seen: &[ClubHeadSighting]) -> [ArcFit; 2] {
        let (sheet, origin) = view_and_origin();
        let poor = view_by_ball(&origin);
        let club = Club("7-iron".into());
        [poor, sheet].map(|view| fit_arc(&request((&view, &origin), &club, seen)).unwrap())
    }

    #[test]
    fn the_drawn_interval_is_the_one_shown_where_it_differs() {
        use crate::geometry::{expand, linear_interval};
        let arc = Arc::through(80.0, 0.0, 4.0, 1540.0, 60.6f64.to_radians(), 0.0).unwrap();
        let [poor, good] = by_ball_and_by_sheet(&sightings(&arc, 0.38, &mut || 0.0));
        let apart = |m: &Measured| {
            let (shown, linear) = (expand(m), linear_interval(m));
            let off = (shown.low - linear.low).abs().max((shown.high - linear.high).abs());
            off / linear.half_width()
        };
        for fit in [&poor, &good] {
            for m in [&fit.low_point, &fit.attack_angle, &fit.height_at_ball, &fit.radius] {
                match m.monte_carlo {
                    Some(drawn) => assert_eq!(expand(m), drawn),
                    None => assert_eq!(apart(m), 0.0),
                }
            }
        }
        // Grass hides a low edge and not a high one, so the height's distribution is lopsided;
        // the low point's is hardly.
        for fit in [&poor, &good] {
            assert!(fit.height_at_ball.monte_carlo.is_some());
            assert!(apart(&fit.low_point) < 0.15, "{}", apart(&fit.low_point));
        }
    }

    #[test]
    fn a_marks_line_tells_the_way_of_the_swing() {
        let (view, origin) = view_and_origin();
        let club = Club("7-iron".into());
        let mut rng = ChaCha8Rng::seed_from_u64(3);
        let (mut held, mut narrower) = (0, 0);
        for turned in [-4.0f64, -2.0, -1.0, 1.0, 2.0, 4.0] {
            let plane = 60.6f64.to_radians();
            let arc = Arc::through(70.0, 3.0, 1.0, 1540.0, plane, turned.to_radians()).unwrap();
            let mut noise = || {
                let z: f64 = StandardNormal.sample(&mut rng);
                z
            };
            let seen = sightings(&arc, 0.38, &mut noise);
            let fitted = |middle_line| {
                let request = ArcRequest { middle_line, ..request((&view, &origin), &club, &seen) };
                crate::geometry::expand(&fit_arc(&request).unwrap().low_point)
            };
            let over = |x: f64| {
                let [_, y, _] = arc.at(((x - arc.low[0]) / arc.radius).asin());
                ImageMark::found(see([x, y, 0.0]), 0.4)
            };
            let (without, with) =
                (fitted(None), fitted(Some(MiddleLine::Fitted([-20.0, 160.0].map(over)))));
            held += usize::from(with.contains(70.0));
            narrower += usize::from(with.half_width() < 0.95 * without.half_width());
        }
        assert_eq!((held, narrower), (6, 6));
    }
}
