//! A camera, references on the ground and a ball, all true.

use super::{Cameras, Random, Ruler};
use crate::domain::{
    Direction, ImagePoint, Known, LensProfile, Millimetres, PictureSize, Pixels, Reference,
    ReferenceKind,
};
use crate::geometry::camera::{Camera, long_side, middle};
use crate::geometry::lens::{CENTRE_SPREAD, LENS_SPREAD};
use crate::geometry::mark::{BALL_DIAMETER, CLICK_SIGMA, ImageMark, ball_rest};
use crate::geometry::priors::{
    ALONG_SPREAD, BALL_SPREAD, DISTANCE, DISTANCE_SPREAD, FOCAL_RATIO, FOCAL_SPREAD, HEIGHT,
    HEIGHT_SPREAD, LAY_HEIGHT_SPREAD, LAY_SLOPE_SPREAD, LENGTH_SPREAD, LEVEL_SPREAD,
    PARALLEL_SPREAD, ROLL_SPREAD, SHEET_SIZE_SPREAD, SQUARE_SPREAD,
};
use crate::geometry::view::State;

pub(super) const BALL_RADIUS: f64 = BALL_DIAMETER / 2.0;
/// At most so doubtful is where a frame lies on the steadied picture, pixels.
pub(super) const STEADIED: f64 = 0.4;

/// A camera, a target line and a ball, all true.
pub(super) struct Scene {
    pub(super) size: PictureSize,
    pub(super) state: State,
    pub(super) direction: Direction,
    /// The ball's resting point in the foot frame.
    zero: [f64; 2],
    pub(super) references: Vec<Reference>,
    pub(super) target_line: Option<[ImageMark; 2]>,
    pub(super) on_tee: bool,
    /// How high what the ball rests on lies over the ground, mm.
    pub(super) rest: f64,
    pub(super) lens: Option<LensProfile>,
}

impl Scene {
    pub(super) fn draw(random: &mut Random, ruler: Ruler, cameras: Cameras) -> Option<Self> {
        let portrait = random.between(0.0, 1.0) < 0.2;
        let size = match portrait {
            true => PictureSize { width: 1080, height: 1920 },
            false => PictureSize { width: 1920, height: 1080 },
        };
        let left = random.between(0.0, 1.0) < 0.3;
        let direction = if left { Direction::Left } else { Direction::Right };
        let (mut camera, distance) = draw_camera(random, size, cameras);
        // The ball is filmed in the lower middle of the picture.
        let at = ImagePoint::new(
            random.between(0.35, 0.65) * size.width as f64,
            random.between(0.6, 0.85) * size.height as f64,
        );
        camera.tilt = tilt_to_see(&camera, at, distance)?;
        let zero = camera.place_at_height(at, 0.0)?;
        let told = matches!(
            ruler,
            Ruler::SheetAndLine | Ruler::Stick | Ruler::SheetAndStick | Ruler::LinePair
        );
        let yaw = draw_yaw(random, &camera, zero, cameras, told)?;
        let mut globals = camera.to_array().to_vec();
        globals.push(yaw);
        let state = State::new(&globals, camera.long_side, direction);
        let on_tee = random.between(0.0, 1.0) < 0.2;
        let (rest, spread) = ball_rest(on_tee);
        let mut scene = Self {
            size,
            state,
            direction,
            zero,
            references: Vec::new(),
            target_line: None,
            on_tee,
            rest: rest + random.normal(spread),
            lens: (ruler == Ruler::SheetAndLens).then(|| stored_lens(random, &camera, size)),
        };
        scene.lay(random, ruler, cameras)?;
        Some(scene)
    }

    /// Where a point of the ground frame appears, if within the picture.
    pub(super) fn see(&self, p: [f64; 3]) -> Option<ImagePoint> {
        let seen = self.state.camera.project(self.state.foot_from_world(self.zero, p))?;
        let within = (0.0..self.size.width as f64).contains(&seen.x)
            && (0.0..self.size.height as f64).contains(&seen.y);
        within.then_some(seen)
    }

    pub(super) fn click(&self, random: &mut Random, p: [f64; 3]) -> Option<ImagePoint> {
        self.see(p).map(|seen| random.moved(seen, CLICK_SIGMA))
    }

    /// A click in a frame of its own, which was steadied with some doubt.
    fn read(&self, random: &mut Random, p: [f64; 3]) -> Option<ImageMark> {
        let register = Pixels(random.between(0.0, STEADIED));
        let click = ImageMark::click(self.click(random, p)?);
        let point = random.moved(click.point, register.0);
        Some(ImageMark { point, ..click }.with_register(register))
    }

    /// Lays the references down and marks them.
    fn lay(&mut self, random: &mut Random, ruler: Ruler, cameras: Cameras) -> Option<()> {
        self.references.clear();
        let stick = matches!(ruler, Ruler::Stick | Ruler::SheetAndStick);
        match ruler {
            Ruler::LinePair => self.lay_pair(random)?,
            Ruler::Ball => self.lay_ball(random)?,
            Ruler::FourPoints => self.lay_figure(random, cameras)?,
            Ruler::TwoPoints => self.lay_points(random, cameras)?,
            Ruler::Stick => {}
            _ => self.lay_sheet(random, cameras)?,
        }
        if stick {
            self.lay_stick(random, cameras)?;
        }
        if ruler == Ruler::SheetAndBall {
            self.lay_ball(random)?;
        }
        if ruler == Ruler::SheetAndLine {
            let y = random.between(-300.0, 300.0);
            let [a, b] = [-500.0, 500.0].map(|x| {
                let height = random.normal(LAY_HEIGHT_SPREAD);
                self.read(random, [x, y, height])
            });
            self.target_line = Some([a?, b?]);
        }
        Some(())
    }

    fn lay_sheet(&mut self, random: &mut Random, cameras: Cameras) -> Option<()> {
        let turned = random.normal(5f64.to_radians());
        let side = if random.between(0.0, 1.0) < 0.5 { -1.0 } else { 1.0 };
        let middle = [side * random.between(250.0, 600.0), random.depth(cameras, -350.0, -100.0)];
        let slope = [random.normal(LAY_SLOPE_SPREAD), random.normal(LAY_SLOPE_SPREAD)];
        let half = [297.0, 210.0].map(|s| (s + random.normal(SHEET_SIZE_SPREAD)) / 2.0);
        let height = 6.0 + random.normal(LAY_HEIGHT_SPREAD);
        let (sin, cos) = turned.sin_cos();
        let mut corners = [ImagePoint::default(); 4];
        for (corner, [a, b]) in
            corners.iter_mut().zip([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
        {
            let (a, b) = (a * half[0], b * half[1]);
            let at = [
                middle[0] + a * cos - b * sin,
                middle[1] + a * sin + b * cos,
                height + slope[0] * a + slope[1] * b,
            ];
            *corner = self.click(random, at)?;
        }
        let size = [Millimetres(297.0), Millimetres(210.0)];
        self.add(ReferenceKind::Sheet { size, corners }, 6.0, false);
        Some(())
    }

    /// Four marks on uneven ground, between which a tape measured.
    fn lay_figure(&mut self, random: &mut Random, cameras: Cameras) -> Option<()> {
        let middle = [random.normal(100.0), random.depth(cameras, -350.0, 250.0)];
        let mut wide = || random.between(250.0, 450.0);
        let ground = [[-wide(), -wide()], [wide(), -wide()], [wide(), wide()], [-wide(), wide()]];
        let mut points = [ImagePoint::default(); 4];
        for (point, [x, y]) in points.iter_mut().zip(ground) {
            let height = random.normal(LAY_HEIGHT_SPREAD);
            *point = self.click(random, [middle[0] + x, middle[1] + y, height])?;
        }
        let mut tape = |i: usize, k: usize| {
            let [a, b] = [ground[i], ground[k]];
            Millimetres((a[0] - b[0]).hypot(a[1] - b[1]) + random.normal(LENGTH_SPREAD))
        };
        let sides = [tape(0, 1), tape(1, 2), tape(2, 3), tape(3, 0)];
        let diagonal = tape(0, 2);
        self.add(ReferenceKind::FourPoints { sides, diagonal, points }, 0.0, false);
        Some(())
    }

    /// Two marks on the ground, a metre apart, more or less square to the camera.
    fn lay_points(&mut self, random: &mut Random, cameras: Cameras) -> Option<()> {
        const LENGTH: f64 = 1000.0;
        let middle = [random.normal(100.0), random.depth(cameras, -350.0, 250.0)];
        let half = (LENGTH + random.normal(LENGTH_SPREAD)) / 2.0;
        let (sin, cos) = random.normal(5f64.to_radians()).sin_cos();
        let slope = random.normal(LAY_SLOPE_SPREAD);
        let height = random.normal(LAY_HEIGHT_SPREAD);
        let mut ends = [ImagePoint::default(); 2];
        for (end, a) in ends.iter_mut().zip([-half, half]) {
            let at = [middle[0] + a * cos, middle[1] + a * sin, height + slope * a];
            *end = self.click(random, at)?;
        }
        self.add(ReferenceKind::Line { length: Millimetres(LENGTH), ends }, 0.0, false);
        Some(())
    }

    fn lay_stick(&mut self, random: &mut Random, cameras: Cameras) -> Option<()> {
        const LENGTH: f64 = 1219.2;
        let middle = [random.normal(60.0), random.depth(cameras, -350.0, 250.0)];
        let half = (LENGTH + random.normal(LENGTH_SPREAD)) / 2.0;
        let (sin, cos) = random.normal(ALONG_SPREAD).sin_cos();
        let height = 8.0 + random.normal(LAY_HEIGHT_SPREAD);
        let slope = random.normal(LAY_SLOPE_SPREAD);
        let mut ends = [ImagePoint::default(); 2];
        for (end, a) in ends.iter_mut().zip([-half, half]) {
            let at = [middle[0] + a * cos, middle[1] + a * sin, height + slope * a];
            *end = self.click(random, at)?;
        }
        let kind = ReferenceKind::Line { length: Millimetres(LENGTH), ends };
        self.add(kind, 8.0, true);
        Some(())
    }

    fn lay_pair(&mut self, random: &mut Random) -> Option<()> {
        let half = (400.0 + random.normal(LENGTH_SPREAD)) / 2.0;
        let middle = random.normal(50.0);
        let turned = random.normal(ALONG_SPREAD);
        let apart = random.normal(PARALLEL_SPREAD) / 2.0;
        let mut lines = [[ImagePoint::default(); 2]; 2];
        for (line, (a, turn)) in
            lines.iter_mut().zip([(-half, turned - apart), (half, turned + apart)])
        {
            for (end, along) in line.iter_mut().zip([-250.0, 250.0]) {
                let at = [
                    middle + a - along * turn.sin(),
                    along * turn.cos(),
                    random.normal(LAY_HEIGHT_SPREAD),
                ];
                *end = self.click(random, at)?;
            }
        }
        self.add(ReferenceKind::LinePair { distance: Millimetres(400.0), lines }, 0.0, false);
        Some(())
    }

    fn lay_ball(&mut self, random: &mut Random) -> Option<()> {
        let sigma = CLICK_SIGMA;
        let diameter = 2.0 * BALL_RADIUS + random.normal(BALL_SPREAD);
        let at = self.state.foot_from_world(self.zero, [0.0, 0.0, self.rest + diameter / 2.0]);
        let (centre, width) = self.state.camera.outline_of_sphere(at, diameter / 2.0)?;
        let centre = random.moved(centre, sigma);
        let width = Pixels(width + random.normal(sigma * std::f64::consts::SQRT_2));
        let (rest, _) = ball_rest(self.on_tee);
        self.add(ReferenceKind::Ball { outline: Some((centre, width)) }, rest, false);
        Some(())
    }

    fn add(&mut self, kind: ReferenceKind, height: f64, along_target: bool) {
        let height = Millimetres(height);
        self.references.push(Reference {
            kind,
            height,
            along_target,
            frame: None,
            point_sigma: None,
        });
    }
}

/// The camera without its tilt, and how far away the ball lies along the ground.
fn draw_camera(random: &mut Random, size: PictureSize, cameras: Cameras) -> (Camera, f64) {
    let long = long_side(size);
    let [cx, cy] = middle(size);
    let mut log = |middle: f64, spread: f64| middle * random.normal(spread).exp();
    let (ratio, height, distance) = match cameras {
        Cameras::AsAssumed => (
            log(FOCAL_RATIO, FOCAL_SPREAD),
            log(HEIGHT, HEIGHT_SPREAD),
            log(DISTANCE, DISTANCE_SPREAD),
        ),
        Cameras::OneKind => (
            random.between(1.0, 1.6),
            random.between(850.0, 1150.0),
            random.between(2700.0, 3600.0),
        ),
    };
    let (roll, centre, lens) = match cameras {
        Cameras::AsAssumed => (
            random.normal(ROLL_SPREAD),
            [random.normal(CENTRE_SPREAD), random.normal(CENTRE_SPREAD)],
            LENS_SPREAD.map(|s| random.normal(s)),
        ),
        Cameras::OneKind => {
            let k1 = random.between(-0.08, -0.03) / (ratio * ratio);
            let offset = [random.between(-0.004, 0.004), random.between(-0.004, 0.004)];
            (random.between(-0.017, 0.017), offset, [k1, -0.1 * k1])
        }
    };
    let camera = Camera {
        focal: ratio * long,
        centre: [cx + centre[0] * long, cy + centre[1] * long],
        tilt: 0.0,
        roll,
        height,
        lens,
        long_side: long,
    };
    (camera, distance)
}

/// The tilt at which `camera` sees the ground at the given distance at `at`.
fn tilt_to_see(camera: &Camera, at: ImagePoint, distance: f64) -> Option<f64> {
    let mut tilt = 0.0f64;
    for _ in 0..50 {
        let off = |tilt: f64| {
            let [x, y] = Camera { tilt, ..*camera }.place_at_height(at, 0.0)?;
            Some((x.hypot(y) / distance).ln())
        };
        // Until the point is below the horizon, tilt down.
        let Some(here) = off(tilt) else {
            tilt += 0.05;
            continue;
        };
        let slope = (off(tilt + 1e-6)? - here) / 1e-6;
        let step = (here / slope).clamp(-0.05, 0.05);
        tilt -= step;
        if step.abs() < 1e-12 {
            return (tilt.abs() < 1.0).then_some(tilt);
        }
    }
    None
}

/// How far the camera is turned from square to the target line; `told`: the line is marked, so
/// nobody needs to keep it level in the picture.
fn draw_yaw(
    random: &mut Random,
    camera: &Camera,
    zero: [f64; 2],
    cameras: Cameras,
    told: bool,
) -> Option<f64> {
    if cameras == Cameras::OneKind {
        return Some(random.between(-0.07, 0.07));
    }
    // Square by eye, and level by eye in the picture: drawn from the one, kept by the other.
    let yaw = random.normal(SQUARE_SPREAD);
    let (sin, cos) = yaw.sin_cos();
    let at = |d: f64| camera.project([zero[0] + d * cos, zero[1] + d * sin, 0.0]);
    let (a, b) = (at(-50.0)?, at(50.0)?);
    let slope = (b.y - a.y).atan2(b.x - a.x) / LEVEL_SPREAD;
    (told || random.between(0.0, 1.0) < (-slope * slope / 2.0).exp()).then_some(yaw)
}

/// A lens as a recorded chessboard leaves it: focal length within 0.4 %, middle within a
/// thousandth of the long side, and a bend whose two terms make up for each other.
fn stored_lens(random: &mut Random, camera: &Camera, size: PictureSize) -> LensProfile {
    const CORRELATION: f64 = -0.9;
    let long = camera.long_side;
    let mut about =
        |truth: f64, standard: f64| Known { value: truth + random.normal(standard), standard };
    let focal = about(camera.focal / long, 0.004 * camera.focal / long);
    let [cx, cy] = middle(size);
    let centre = [
        about((camera.centre[0] - cx) / long, 0.001),
        about((camera.centre[1] - cy) / long, 0.001),
    ];
    let [first, second] = [0.004, 0.006];
    let common = random.normal(1.0);
    let other =
        CORRELATION * common + (1.0 - CORRELATION * CORRELATION).sqrt() * random.normal(1.0);
    let radial = [
        Known { value: camera.lens[0] + first * common, standard: first },
        Known { value: camera.lens[1] + second * other, standard: second },
    ];
    LensProfile {
        radial,
        correlation: CORRELATION,
        focal: Some(focal),
        centre: Some(centre),
        residual: 0.4,
        size,
    }
}
