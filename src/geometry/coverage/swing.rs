//! A true swing under a scene's camera: what is marked of it, and what comes out.

use super::scene::{BALL_RADIUS, STEADIED, Scene};
use super::{CONTACT, Comparison, Random};
use crate::domain::{Club, ClubHeadSighting, FrameIndex, Measured, Pixels, Seconds};
use crate::geometry::arc::{Arc, ArcRequest, WANDER_SPREAD, edge_at_contact, fit_arc, hidden};
use crate::geometry::calibrate::{CalibrationRequest, calibrate};
use crate::geometry::club::{EDGE_HEIGHT, EDGE_HEIGHT_TEE, PATH_SPREAD, STRIKE_SPREAD, expected};
use crate::geometry::mark::{
    CLICKED_MIDDLE, ImageMark, MARK_HEIGHT_OWN, MARK_HEIGHT_SPREAD, MIDDLE_SHIFT, MiddleLine,
    Origin,
};

use crate::geometry::low_point::{
    LEAST_MODEL, PART, PART_SPREAD, combine_low_points, low_point_from_mark,
};
use crate::geometry::offset::{OffsetRequest, measure_offset};
use crate::geometry::view::GroundView;

/// A swing that does not fit into the picture is swung again under the same camera so often:
/// drawing a new camera would prefer those that see much, which nobody assumes.
const SWINGS: usize = 100;

/// Marks a swing, measures it and pairs each result with the truth; what does not fit into the
/// picture has none.
pub(super) fn measure(scene: &Scene, random: &mut Random) -> Vec<Comparison> {
    let Some(centre) = scene.click(random, [0.0, 0.0, BALL_RADIUS + scene.rest]) else {
        return Vec::new();
    };
    let origin = Origin::Ball { centre: ImageMark::click(centre), on_tee: scene.on_tee };
    let view = calibrate(&CalibrationRequest {
        size: scene.size,
        references: &scene.references,
        target_line: scene.target_line,
        direction: scene.direction,
        about: Some(origin.place()),
        lens: scene.lens.as_ref(),
    });
    let Ok(view) = view else {
        return Vec::new();
    };
    let study = Study { scene, view, origin };
    let heel = study.heel(random);
    let marks = (0..SWINGS).find_map(|_| study.marks(random));
    let swing = (0..SWINGS).find_map(|_| {
        let swing = SwingTruth::draw(random, scene.on_tee);
        study.swing(&swing, random)
    });
    let marks = marks.unwrap_or_default().into_iter().chain(heel);
    marks.chain(swing.unwrap_or_default()).collect()
}

/// A scene as it was calibrated.
struct Study<'a> {
    scene: &'a Scene,
    view: GroundView,
    origin: Origin,
}

impl Study<'_> {
    /// A mark's start and end in a frame that was steadied on the ball's; `None` if they do not
    /// fit into the picture.
    fn marks(&self, random: &mut Random) -> Option<Vec<Comparison>> {
        let start = random.between(-150.0, 50.0);
        let end = start + random.between(80.0, 250.0);
        let side = random.normal(STRIKE_SPREAD);
        let turned = random.normal(PATH_SPREAD).to_radians().tan();
        let steadying = random.between(0.0, 0.6);
        [("divot start", start), ("divot end", end)]
            .into_iter()
            .map(|(name, x)| {
                let height = random.normal(MARK_HEIGHT_SPREAD);
                let mark = self.click(random, [x, side + x * turned], height)?;
                let moved = random.moved(mark.point, steadying);
                let mark = ImageMark { point: moved, ..mark };
                Some((name, self.offset(&mark, true, Pixels(steadying))?, x))
            })
            .collect()
    }

    /// The ball's place in the stance, by the inner edge of the lead heel: two feet or so behind the
    /// ball as the camera sees it.
    fn heel(&self, random: &mut Random) -> Option<Comparison> {
        let heel = (0..SWINGS).find_map(|_| {
            let x = random.between(-50.0, 250.0);
            let height = random.normal(MARK_HEIGHT_SPREAD);
            let at = [x, random.between(500.0, 900.0), height];
            Some((ImageMark::click(self.scene.click(random, at)?), x))
        });
        let (mark, x) = heel?;
        Some(("ball in the stance", self.offset(&mark, false, Pixels(0.0))?, x))
    }

    /// A click at an end of a mark, whose middle passes the given place.
    fn click(&self, random: &mut Random, [x, y]: [f64; 2], height: f64) -> Option<ImageMark> {
        let y = y + random.normal(CLICKED_MIDDLE);
        Some(ImageMark::click(self.scene.click(random, [x, y, height])?))
    }

    fn offset(&self, mark: &ImageMark, struck: bool, steadying: Pixels) -> Option<Measured> {
        let (view, origin) = (&self.view, &self.origin);
        measure_offset(&OffsetRequest { view, mark, origin, struck, steadying }).ok()
    }

    /// The arc by itself, and the low point from the mark that the swing left and from both.
    fn swing(&self, swing: &SwingTruth, random: &mut Random) -> Option<Vec<Comparison>> {
        let sightings = swing.sightings(random, self.scene);
        let request = ArcRequest {
            view: &self.view,
            origin: &self.origin,
            struck: true,
            sightings: &sightings,
            club: Some(&swing.club),
            middle_line: None,
        };
        let alone = fit_arc(&request).ok()?;
        let arc = &swing.arc;
        let [low, _, _] = arc.low;
        let height = arc.at(arc.at_ball)[2];
        let edge = edge_at_contact(height - self.scene.rest, swing.loft);
        let mut out = vec![
            ("low point (arc)", alone.low_point, low),
            ("attack angle (arc)", alone.attack_angle, arc.attack().to_degrees()),
            ("height at the ball (arc)", alone.height_at_ball, height),
            ("edge at contact (arc)", alone.edge_at_contact, edge),
        ];
        let met = arc.contact().map(|phi| arc.at(phi)[0]);
        out.extend(alone.first_contact.zip(met).map(|(told, met)| (CONTACT, told, met)));
        let [start, end] = swing.mark(random);
        let common = random.normal((MARK_HEIGHT_SPREAD.powi(2) - MARK_HEIGHT_OWN.powi(2)).sqrt());
        let [near, far] = [0, 1].map(|_| common + random.normal(MARK_HEIGHT_OWN));
        let ends = [self.click(random, start, near)?, self.click(random, end, far)?];
        let offset = |mark: &ImageMark| self.offset(mark, true, Pixels(0.0));
        let from_mark = low_point_from_mark(&offset(&ends[0])?, &offset(&ends[1])?);
        let middle_line = Some(MiddleLine::Clicked(ends));
        let along = fit_arc(&ArcRequest { middle_line, ..request }).ok()?.low_point;
        let (both, _) = combine_low_points(Some(&along), Some(&from_mark))?;
        out.extend([("low point (mark)", from_mark, low), ("low point (arc and mark)", both, low)]);
        Some(out)
    }
}

/// A true swing: low point, plane and radius.
struct SwingTruth {
    arc: Arc,
    loft: f64,
    club: Club,
}

impl SwingTruth {
    fn draw(random: &mut Random, on_tee: bool) -> Self {
        let club = Club(if on_tee { "driver" } else { "7-iron" }.into());
        let e = expected(Some(&club));
        let (height, spread) = if on_tee { EDGE_HEIGHT_TEE } else { EDGE_HEIGHT };
        loop {
            let arc = Arc::through(
                random.between(-150.0, 180.0),
                random.normal(STRIKE_SPREAD),
                height + random.normal(spread),
                e.radius + random.normal(e.radius_spread),
                (e.plane + random.normal(e.plane_spread)).to_radians(),
                random.normal(PATH_SPREAD).to_radians(),
            );
            if let Some(arc) = arc {
                return Self { arc, loft: e.loft + random.normal(e.loft_spread), club };
            }
        }
    }

    /// Frames at 240 a second in which the head is near its low point, each seen within 1 px
    /// across its way and 2 px along and steadied with some doubt, while it is in the picture; and
    /// what is seen as its edge wanders and is hidden by grass as the fit takes it to.
    fn sightings(&self, random: &mut Random, scene: &Scene) -> Vec<ClubHeadSighting> {
        const STEP: f64 = 0.1;
        let first = random.between(-0.40, -0.40 + STEP);
        let wander = random.normal(WANDER_SPREAD);
        let sigma = [2.0, 1.0].map(|own| random.between(0.0, STEADIED).hypot(own));
        (0..8)
            .filter_map(|i| {
                let phi = first + STEP * f64::from(i);
                let p = scene.see(self.arc.at(phi))?;
                let next = scene.see(self.arc.at(phi + 1e-3))?;
                let length = p.distance(next);
                let (tx, ty) = ((next.x - p.x) / length, (next.y - p.y) / length);
                let pixels_per_mm = length / (1e-3 * self.arc.radius);
                let wander = wander * phi * pixels_per_mm;
                let hidden = hidden(self.arc.at(phi)[2]) * pixels_per_mm;
                let along = random.normal(sigma[0]);
                let across = random.normal(sigma[1].hypot(hidden));
                let across = across + wander;
                Some(ClubHeadSighting {
                    frame: FrameIndex(i as usize),
                    time: Seconds(f64::from(i) / 240.0),
                    point: p.moved(tx * along - ty * across, ty * along + tx * across),
                    sigma: sigma.map(Pixels),
                })
            })
            .collect()
    }

    /// Where the mark it leaves starts and ends, mm along and across the target line: the low
    /// point lies in it as the program takes it to, and a toe or heel that is deeper moves it to
    /// one side.
    fn mark(&self, random: &mut Random) -> [[f64; 2]; 2] {
        let length = random.between(80.0, 250.0);
        let half = (PART_SPREAD * length).max(LEAST_MODEL) * 3f64.sqrt();
        let before = PART * length + random.between(-half, half);
        let shift = random.normal(MIDDLE_SHIFT);
        let [low, _, _] = self.arc.low;
        [low - before, low - before + length].map(|x| {
            let phi = ((x - low) / self.arc.radius).clamp(-0.9, 0.9).asin();
            [x, self.arc.at(phi)[1] + shift]
        })
    }
}
