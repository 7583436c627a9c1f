//! Draws one frame in linear light: the static plate, then what moves, with the blur of the
//! exposure.

use nalgebra::Vector3;

use super::canvas::{Dot, Rows, disc, fill_convex, hull, limb};
use super::ground::{Footprint, Ground, Rgb, blend};
use super::motion::{self, Pose, RADIUS, ball_at, pose_at, turf_at};
use super::noise::{fade, rough, unit};
use super::scenario::{Scenario, Swing, Thing};
use crate::domain::ImagePoint;

type V3 = Vector3<f64>;

/// A picture in linear light.
pub(super) struct Linear {
    pub width: usize,
    pub height: usize,
    pub rgb: Vec<Rgb>,
}

/// What a swing changes in one pixel of the plate, and from when.
struct Dab {
    pixel: usize,
    change: Rgb,
    from: f64,
}

/// Draws the frames of one scenario.
pub(super) struct Painter {
    plate: Linear,
    dabs: Vec<Dab>,
    /// Ground s of every pixel; only where a shadow moves over it.
    along: Vec<f32>,
    layer: Layer,
    sum: Layer,
    shadow: Vec<f32>,
}

/// A translucent picture: premultiplied colour and coverage, with the rows in use.
struct Layer {
    width: usize,
    rgba: Vec<[f32; 4]>,
    rows: Rows,
}

impl Layer {
    fn new(width: usize, height: usize) -> Self {
        Self { width, rgba: vec![[0.0; 4]; width * height], rows: Rows { from: height, to: 0 } }
    }

    fn put(&mut self, x: usize, y: usize, cover: f32, colour: Rgb) {
        let under = &mut self.rgba[y * self.width + x];
        for (channel, value) in under.iter_mut().zip([colour[0], colour[1], colour[2], 1.0]) {
            *channel = *channel * (1.0 - cover) + value * cover;
        }
        self.rows = Rows { from: self.rows.from.min(y), to: self.rows.to.max(y + 1) };
    }

    fn used(&self) -> std::ops::Range<usize> {
        let to = self.rows.to * self.width;
        (self.rows.from * self.width).min(to)..to
    }

    fn clear(&mut self) {
        let used = self.used();
        self.rgba[used].fill([0.0; 4]);
        self.rows = Rows { from: self.rgba.len() / self.width, to: 0 };
    }

    fn add(&mut self, other: &Self, weight: f32) {
        for i in other.used() {
            if other.rgba[i][3] > 0.0 {
                for k in 0..4 {
                    self.rgba[i][k] += weight * other.rgba[i][k];
                }
            }
        }
        self.rows.from = self.rows.from.min(other.rows.from);
        self.rows.to = self.rows.to.max(other.rows.to);
    }
}

/// From golfer's coordinates to the picture of one frame.
#[derive(Clone, Copy)]
struct View<'a> {
    scenario: &'a Scenario,
    shift: [f64; 2],
}

impl View<'_> {
    /// Where a point shows and how many pixels a metre is there.
    fn dot(&self, p: V3) -> Option<(Dot, f64)> {
        let world = self.scenario.world(p);
        let at = self.scenario.camera.project(world)?;
        let scale = self.scenario.camera.pixels_per_metre(world);
        Some(([at.x + self.shift[0], at.y + self.shift[1]], scale))
    }

    fn limb(&self, piece: &Limb) -> Option<(Vec<Dot>, [Dot; 2], f64)> {
        let (a, scale_a) = self.dot(piece.from)?;
        let (b, scale_b) = self.dot(piece.to)?;
        let [ra, rb] = [piece.radii[0] * scale_a, piece.radii[1] * scale_b];
        Some((limb(a, ra, b, rb), [a, b], 0.5 * (ra + rb)))
    }

    /// The outline of the shadow that a limb throws on the ground.
    fn shadow(&self, piece: &Limb) -> Vec<Dot> {
        let sun = self.scenario.ground.sun;
        let flat = V3::new(sun.x, sun.y, 0.0);
        let along = flat / flat.norm().max(1e-6);
        let aside = V3::new(-along.y, along.x, 0.0);
        let ends = [(piece.from, piece.radii[0]), (piece.to, piece.radii[1])];
        let rim = ends.iter().flat_map(|&(p, r)| {
            let foot = p - sun * (p.z.max(0.0) / sun.z);
            (0..12).filter_map(move |i| {
                let (sin, cos) = (std::f64::consts::TAU * f64::from(i) / 12.0).sin_cos();
                let q = foot + (along * (cos / sun.z.max(0.25)) + aside * sin) * r;
                self.dot(V3::new(q.x, q.y, 0.0)).map(|(dot, _)| dot)
            })
        });
        hull(rim.collect())
    }
}

/// A part of the body or the club: a tapered rod with round ends (m).
struct Limb {
    from: V3,
    to: V3,
    radii: [f64; 2],
    colour: Rgb,
}

impl Painter {
    /// Draws the plate: everything that does not move.
    pub(super) fn new(scenario: &Scenario) -> Self {
        let (width, height) = (scenario.size.width, scenario.size.height);
        let ground = Ground::of(scenario);
        let mut plate = Linear { width, height, rgb: vec![[0.0; 3]; width * height] };
        let mut along = Vec::new();
        let keep_along = scenario.faults.moving_shadow.is_some();
        for y in 0..height {
            for x in 0..width {
                let (colour, s) = plate_pixel(scenario, &ground, x, y);
                plate.rgb[y * width + x] = colour;
                if keep_along {
                    along.push(s as f32);
                }
            }
        }
        let covered = paint_things(scenario, &mut plate);
        let dabs = (0..scenario.swings.len())
            .flat_map(|i| dabs_of(scenario, &ground, i, &covered))
            .collect();
        Self {
            plate,
            dabs,
            along,
            layer: Layer::new(width, height),
            sum: Layer::new(width, height),
            shadow: vec![0.0; width * height],
        }
    }

    /// The picture without anything that moves.
    pub(super) fn plate(&self) -> &[Rgb] {
        &self.plate.rgb
    }

    /// Draws a frame.
    pub(super) fn paint(&mut self, scenario: &Scenario, frame: usize) -> Linear {
        let t = scenario.time(frame);
        let shift = scenario.shift(frame);
        let view = View { scenario, shift };
        let mut picture = self.plate_at(t, shift);
        let bands = bands(scenario);
        for &(rows, delay) in &bands {
            self.shade(&view, t + delay, rows, &mut picture);
        }
        for swing in &scenario.swings {
            paint_crumbs(&view, swing, t, &mut picture);
        }
        for &(rows, delay) in &bands {
            let pose = pose_at(scenario, t + delay);
            for piece in still_body(scenario, &pose) {
                paint_limb(&view, &piece, rows, &mut |x, y, cover, colour| {
                    let under = &mut picture.rgb[y * picture.width + x];
                    *under = blend(*under, colour, cover);
                });
            }
            self.paint_moving(&view, t + delay, rows, &mut picture);
        }
        self.light(scenario, t, &mut picture);
        picture
    }

    fn plate_at(&self, t: f64, shift: [f64; 2]) -> Linear {
        let mut rgb = self.plate.rgb.clone();
        for dab in self.dabs.iter().filter(|dab| t >= dab.from) {
            for (channel, change) in rgb[dab.pixel].iter_mut().zip(dab.change) {
                *channel += change;
            }
        }
        let plate = Linear { width: self.plate.width, height: self.plate.height, rgb };
        if shift == [0.0; 2] { plate } else { shifted(&plate, shift) }
    }

    /// Darkens the ground where body, club and ball keep the sun away.
    fn shade(&mut self, view: &View, t: f64, rows: Rows, picture: &mut Linear) {
        let scenario = view.scenario;
        if scenario.ground.shadow == 0.0 {
            return;
        }
        let width = picture.width;
        let used = rows.from * width..rows.to * width;
        self.shadow[used.clone()].fill(0.0);
        let pose = pose_at(scenario, t);
        let mut limbs = still_body(scenario, &pose);
        limbs.extend(moving_body(scenario, &pose));
        limbs.extend(balls(scenario, t).map(ball_limb));
        for piece in &limbs {
            fill_convex(&view.shadow(piece), width, rows, &mut |x, y, cover| {
                let dark = &mut self.shadow[y * width + x];
                *dark = dark.max(cover);
            });
        }
        let depth = scenario.ground.shadow;
        for (pixel, dark) in picture.rgb[used.clone()].iter_mut().zip(&self.shadow[used]) {
            if *dark > 0.0 {
                *pixel = pixel.map(|c| c * (1.0 - depth * dark));
            }
        }
    }

    /// Arms, club, ball and flying turf, averaged over the exposure.
    fn paint_moving(&mut self, view: &View, t: f64, rows: Rows, picture: &mut Linear) {
        let scenario = view.scenario;
        let samples = samples(view, t);
        for k in 0..samples {
            let part = (k as f64 + 0.5) / samples as f64 - 0.5;
            self.paint_instant(view, t + part * scenario.exposure, rows);
            self.sum.add(&self.layer, 1.0 / samples as f32);
            self.layer.clear();
        }
        for i in self.sum.used() {
            let [r, g, b, a] = self.sum.rgba[i];
            if a > 0.0 {
                let under = picture.rgb[i];
                picture.rgb[i] = [0, 1, 2].map(|k| under[k] * (1.0 - a) + [r, g, b][k]);
            }
        }
        self.sum.clear();
    }

    fn paint_instant(&mut self, view: &View, t: f64, rows: Rows) {
        let scenario = view.scenario;
        let layer = &mut self.layer;
        let pose = pose_at(scenario, t);
        let width = layer.width;
        for piece in moving_body(scenario, &pose) {
            paint_limb(view, &piece, rows, &mut |x, y, cover, c| layer.put(x, y, cover, c));
        }
        let (outline, colour) = club_head(view, &scenario.swings[pose.swing], &pose);
        fill_convex(&outline, width, rows, &mut |x, y, c| layer.put(x, y, c, colour));
        for swing in &scenario.swings {
            // Every other tee is knocked out.
            if t < swing.strike_time || scenario.seed.is_multiple_of(2) {
                paint_tee(view, swing, rows, layer);
            }
        }
        for ball in balls(scenario, t) {
            let light = 1.0 - shaded(scenario, &pose, ball) * scenario.ground.shadow;
            paint_ball(view, ball, rows, &mut |x, y, cover, c| {
                layer.put(x, y, cover, c.map(|c| c * light));
            });
        }
        for swing in &scenario.swings {
            if let Some((at, size)) = turf_at(swing, t) {
                let soil = swing.mark.as_ref().map_or([0.04; 3], |m| m.soil);
                let clod = Limb {
                    from: at + V3::z() * (0.3 * size),
                    to: at + V3::new(size, 0.0, 0.6 * size),
                    radii: [0.6 * size, 0.45 * size],
                    colour: blend(soil, scenario.ground.grass, 0.35),
                };
                paint_limb(view, &clod, rows, &mut |x, y, cover, c| layer.put(x, y, cover, c));
            }
        }
    }

    /// A moving shadow and the camera's wandering exposure.
    fn light(&self, scenario: &Scenario, t: f64, picture: &mut Linear) {
        let gain = scenario.faults.exposure_drift.map_or(1.0, |(depth, period)| {
            1.0 + depth * (std::f64::consts::TAU * t / period + 0.7).sin() as f32
        });
        if gain != 1.0 {
            picture.rgb.iter_mut().for_each(|p| *p = p.map(|c| c * gain));
        }
        if let Some(edge) = scenario.faults.moving_shadow {
            let at = edge.edge + edge.speed * t;
            for (pixel, s) in picture.rgb.iter_mut().zip(&self.along) {
                let inside = fade(((f64::from(*s) - at) / edge.softness) as f32);
                *pixel = pixel.map(|c| c * (1.0 - edge.depth * inside));
            }
        }
    }
}

/// Groups of rows that are exposed together, and by how much later than the middle.
fn bands(scenario: &Scenario) -> Vec<(Rows, f64)> {
    let height = scenario.size.height;
    if scenario.readout == 0.0 {
        return vec![(Rows { from: 0, to: height }, 0.0)];
    }
    const BAND: usize = 8;
    (0..height)
        .step_by(BAND)
        .map(|from| {
            let to = (from + BAND).min(height);
            let middle = 0.5 * (from + to - 1) as f64 / (height - 1) as f64;
            (Rows { from, to }, scenario.readout * (middle - 0.5))
        })
        .collect()
}

/// How many instants of an exposure are drawn: one for about every two pixels of travel.
fn samples(view: &View, t: f64) -> usize {
    let half = view.scenario.exposure / 2.0;
    let ends = [t - half, t + half].map(|t| view.dot(pose_at(view.scenario, t).edge));
    let flying =
        view.scenario.swings.iter().any(|s| {
            s.struck && s.ball.is_some() && (0.0..0.1).contains(&(t + half - s.strike_time))
        });
    let travel = match ends {
        [Some((a, _)), Some((b, _))] => (a[0] - b[0]).hypot(a[1] - b[1]),
        _ => 0.0,
    };
    ((travel / 2.0).ceil() as usize).clamp(if flying { 8 } else { 1 }, 28)
}

fn plate_pixel(scenario: &Scenario, ground: &Ground, x: usize, y: usize) -> (Rgb, f64) {
    /// Where the field ends in a hedge, m.
    const HEDGE: f64 = 32.0;
    let camera = &scenario.camera;
    let ray = camera.ray(ImagePoint::new(x as f64, y as f64));
    let level = scenario.sign();
    let reach = (HEDGE - camera.centre.y) / ray.y.max(1e-3);
    let over = camera.centre.z + ray.z * reach;
    if over >= 0.0 {
        let s = level * (camera.centre.x + ray.x * reach);
        let top = 3.6 + 1.2 * f64::from(rough(s / 1.5, 0.0, scenario.seed ^ 61));
        let leaves = 0.7 + 0.5 * rough(s / 0.7, over / 0.7, scenario.seed ^ 62);
        let hedge = [0.012, 0.026, 0.010].map(|c| c * leaves.max(0.2));
        let edge = ((top - over) / 0.06 + 0.5).clamp(0.0, 1.0) as f32;
        return (blend([0.55, 0.62, 0.75], hedge, edge), s);
    }
    let reach = camera.centre.z / -ray.z;
    let at = camera.centre + ray * reach;
    (ground.colour(level * at.x, at.y, footprint(scenario, reach, &ray), 0), level * at.x)
}

/// The size on the ground of the pixel that looks along `ray` and meets it at `reach`.
fn footprint(scenario: &Scenario, reach: f64, ray: &V3) -> Footprint {
    let across = reach / scenario.camera.focal;
    [across, across * ray.norm() / -ray.z]
}

/// What swing `index` changes in the plate.
fn dabs_of(scenario: &Scenario, ground: &Ground, index: usize, covered: &[bool]) -> Vec<Dab> {
    let swing = &scenario.swings[index];
    let Some(mark) = &swing.mark else { return Vec::new() };
    let view = View { scenario, shift: [0.0; 2] };
    let half = 0.7 * mark.width;
    let corners: Vec<Dot> =
        [(mark.start, -half), (mark.start, half), (mark.end, -half), (mark.end, half)]
            .iter()
            .filter_map(|&(s, y)| view.dot(V3::new(s, mark.middle + y, 0.0)).map(|d| d.0))
            .collect();
    let limit = |axis: usize, high: bool, most: usize| {
        let values = corners.iter().map(|c| c[axis]);
        let v =
            if high { values.fold(0.0, f64::max) + 2.0 } else { values.fold(1e9, f64::min) - 2.0 };
        v.clamp(0.0, most as f64) as usize
    };
    let (width, height) = (scenario.size.width, scenario.size.height);
    let mut out = Vec::new();
    for y in limit(1, false, height)..limit(1, true, height) {
        for x in limit(0, false, width)..limit(0, true, width) {
            let pixel = y * width + x;
            if !covered[pixel] {
                out.extend(dab(scenario, ground, index, (x, y)).map(|(change, s)| Dab {
                    pixel,
                    change,
                    from: swing.time_at(swing.arc.angle_at(s)),
                }));
            }
        }
    }
    out
}

/// The mean change over 4 x 4 places of a pixel, and the pixel's s.
fn dab(
    scenario: &Scenario,
    ground: &Ground,
    index: usize,
    at: (usize, usize),
) -> Option<(Rgb, f64)> {
    const SUB: usize = 4;
    let mut sum = [0.0f32; 3];
    let mut middle = 0.0;
    for k in 0..SUB * SUB {
        let offset = |i: usize| (i as f64 + 0.5) / SUB as f64 - 0.5;
        let point = ImagePoint::new(at.0 as f64 + offset(k % SUB), at.1 as f64 + offset(k / SUB));
        let world = scenario.camera.on_level(point, 0.0)?;
        let ray = scenario.camera.ray(point);
        let reach = scenario.camera.centre.z / -ray.z;
        let foot = footprint(scenario, reach, &ray);
        let s = scenario.sign() * world.x;
        let [before, after] = [index, index + 1].map(|done| ground.colour(s, world.y, foot, done));
        for (total, (b, a)) in sum.iter_mut().zip(before.iter().zip(after)) {
            *total += (a - b) / (SUB * SUB) as f32;
        }
        middle += s / (SUB * SUB) as f64;
    }
    (sum != [0.0; 3]).then_some((sum, middle))
}

/// Paints sheets, sticks and other balls into the plate; which pixels they cover.
fn paint_things(scenario: &Scenario, plate: &mut Linear) -> Vec<bool> {
    let view = View { scenario, shift: [0.0; 2] };
    let rows = Rows { from: 0, to: plate.height };
    let width = plate.width;
    let mut covered = vec![false; plate.rgb.len()];
    let mut lay = |x: usize, y: usize, cover: f32, colour: Rgb| {
        let under = &mut plate.rgb[y * width + x];
        *under = blend(*under, colour, cover);
        covered[y * width + x] = true;
    };
    for thing in &scenario.things {
        match thing {
            Thing::Sheet { corners, .. } => {
                let (outline, edge) = (rim(&view, corners, true), rim(&view, corners, false));
                fill_convex(&edge, width, rows, &mut |x, y, c| lay(x, y, 0.5 * c, [0.02; 3]));
                fill_convex(&outline, width, rows, &mut |x, y, c| {
                    lay(x, y, c, [0.80, 0.81, 0.83]);
                });
            }
            Thing::Stick { ends, radius } => {
                let colour = [[0.75, 0.22, 0.04], [0.78, 0.74, 0.10], [0.7, 0.7, 0.7]];
                let colour = colour[scenario.seed as usize % 3];
                let piece = Limb { from: ends[0], to: ends[1], radii: [*radius; 2], colour };
                fill_convex(&view.shadow(&piece), width, rows, &mut |x, y, c| {
                    lay(x, y, 0.4 * c, [0.02; 3]);
                });
                paint_limb(&view, &piece, rows, &mut lay);
            }
            Thing::LinePair { .. } => {}
        }
    }
    for &[s, y] in &scenario.ground.balls {
        let ball = V3::new(s, y, RADIUS);
        let depth = scenario.ground.shadow;
        fill_convex(&view.shadow(&ball_limb(ball)), width, rows, &mut |x, y, c| {
            lay(x, y, depth * c, [0.01; 3]);
        });
        paint_ball(&view, ball, rows, &mut lay);
    }
    covered
}

/// The outline of a sheet, its edges cut up since the lens bends them; or that of the dark
/// rim it throws on the grass.
fn rim(view: &View, corners: &[V3; 4], top: bool) -> Vec<Dot> {
    let drop = if top { 0.0 } else { 0.004 };
    let points = (0..4).flat_map(|i| {
        let (a, b) = (corners[i], corners[(i + 1) % 4]);
        (0..8).map(move |k| a.lerp(&b, f64::from(k) / 8.0) - V3::new(0.0, drop, drop))
    });
    points.filter_map(|p| view.dot(p).map(|d| d.0)).collect()
}

/// The balls that are there at `t`.
fn balls(scenario: &Scenario, t: f64) -> impl Iterator<Item = V3> {
    scenario.swings.iter().enumerate().filter_map(move |(i, swing)| {
        // A ball left lying by a practice swing is drawn by the swing that strikes it.
        let later = &scenario.swings[i + 1..];
        let taken_over = !swing.struck && later.iter().any(|n| same_ball(n, swing));
        if taken_over { None } else { ball_at(swing, t) }
    })
}

fn same_ball(a: &Swing, b: &Swing) -> bool {
    matches!((a.ball, b.ball), (Some(a), Some(b)) if a.at == b.at)
}

/// How much of the sun the golfer keeps from a point, 0..1.
fn shaded(scenario: &Scenario, pose: &Pose, point: V3) -> f32 {
    let sun = scenario.ground.sun;
    let mut limbs = still_body(scenario, pose);
    limbs.extend(moving_body(scenario, pose));
    let dark = limbs.iter().map(|limb| {
        // As the sun sees it: the point's distance from the limb across the rays.
        let flat = |p: V3| (p - point) - sun * (p - point).dot(&sun);
        let (a, b) = (flat(limb.from), flat(limb.to));
        let along = (b - a).norm_squared();
        let u = if along > 0.0 { (-a.dot(&(b - a)) / along).clamp(0.0, 1.0) } else { 0.0 };
        let radius = limb.radii[0] + (limb.radii[1] - limb.radii[0]) * u;
        let inside = (radius - a.lerp(&b, u).norm()) / (2.0 * RADIUS) + 0.5;
        (inside.clamp(0.0, 1.0) * (radius / RADIUS).min(1.0)) as f32
    });
    dark.fold(0.0, f32::max)
}

fn ball_limb(centre: V3) -> Limb {
    Limb { from: centre, to: centre, radii: [RADIUS; 2], colour: [0.8; 3] }
}

/// A sphere in the sun's light, the sky's and what the grass throws back: a surface that leans sees
/// of the sky what it does not see of the ground (Lambert; half of each where it stands upright).
/// On the ground, blades stand in front of its foot.
fn paint_ball(view: &View, ball: V3, rows: Rows, put: &mut dyn FnMut(usize, usize, f32, Rgb)) {
    let Some((centre, scale)) = view.dot(ball) else { return };
    let radius = RADIUS * scale;
    let scenario = view.scenario;
    let ground = &scenario.ground;
    let sun = scenario.camera.rotation * scenario.world(ground.sun);
    let up = scenario.camera.rotation * V3::z();
    let below = if ground.mat.is_some() { ground.mat_colour } else { ground.grass };
    let blades = ground.grass_height * scale;
    let foot = view.dot(V3::new(ball.x, ball.y - 0.5 * RADIUS, 0.0));
    let resting = (ball.z - RADIUS).abs() < 1e-6 && blades > 0.3;
    let front = foot.filter(|_| resting).map(|(d, _)| d[1]);
    let width = scenario.size.width;
    fill_convex(&disc(centre, radius), width, rows, &mut |x, y, cover| {
        let (u, v) = ((x as f64 - centre[0]) / radius, (y as f64 - centre[1]) / radius);
        let depth = (1.0 - u * u - v * v).max(0.0).sqrt();
        let toward = |light: &V3| (u * light.x + v * light.y - depth * light.z) as f32;
        let (lit, open) = (toward(&sun).max(0.0), 0.5 + 0.5 * toward(&up));
        let light = 0.85 * open * (1.0 - 0.5 * ground.shadow) + ground.shadow * lit;
        let colour = below.map(|c| 0.9 * (light + (1.0 - open) * c).min(1.0));
        let hidden = front.map_or(0.0, |row| {
            let column = (x as f64 / 1.4).floor() as i32;
            let blade = blades * (0.35 + 0.65 * f64::from(unit(column, 1, scenario.seed ^ 71)));
            ((y as f64 - (row - blade)) + 0.5).clamp(0.0, 1.0)
        });
        put(x, y, cover * (1.0 - hidden as f32), [colour[0], colour[1], 0.97 * colour[2]]);
    });
}

fn paint_tee(view: &View, swing: &Swing, rows: Rows, layer: &mut Layer) {
    let Some(ball) = swing.ball.filter(|b| b.height > RADIUS + 0.005) else { return };
    let top = V3::new(ball.at[0], ball.at[1], ball.height - RADIUS);
    let tee = Limb {
        from: V3::new(top.x, top.y, 0.0),
        to: top,
        radii: [0.0025, 0.0045],
        colour: [0.6, 0.45, 0.25],
    };
    paint_limb(view, &tee, rows, &mut |x, y, cover, c| layer.put(x, y, cover, c));
}

/// Crumbs of soil that lie ahead once they have come down.
fn paint_crumbs(view: &View, swing: &Swing, t: f64, picture: &mut Linear) {
    let Some(mark) = &swing.mark else { return };
    let landed = t - swing.strike_time - 0.3;
    if landed < 0.0 {
        return;
    }
    let rows = Rows { from: 0, to: picture.height };
    let width = picture.width;
    for i in 0..swing.crumbs {
        let r = |k: i32| f64::from(unit(i as i32, k, mark.seed ^ 81));
        let ahead = 0.01 + 0.9 * r(1).powi(2);
        let at =
            V3::new(mark.end + ahead, mark.middle + (r(2) - 0.5) * (0.06 + 0.3 * ahead), 0.003);
        let size = 0.0015 + 0.005 * r(3) * r(4);
        if landed > 0.25 * r(5) {
            let lump =
                Limb { from: at, to: at, radii: [size; 2], colour: mark.soil.map(|c| 0.7 * c) };
            paint_limb(view, &lump, rows, &mut |x, y, cover, colour| {
                let under = &mut picture.rgb[y * width + x];
                *under = blend(*under, colour, cover);
            });
        }
    }
}

/// A rod lit from the sun's side.
fn paint_limb(view: &View, piece: &Limb, rows: Rows, put: &mut dyn FnMut(usize, usize, f32, Rgb)) {
    let Some((outline, [a, b], radius)) = view.limb(piece) else { return };
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let length = dx.hypot(dy);
    let across = if length > 1e-6 { [dy / length, -dx / length] } else { [1.0, 0.0] };
    let side = view.scenario.sign() * view.scenario.ground.sun.x.signum() * across[0].signum();
    let contrast = 0.12 + 0.3 * view.scenario.ground.shadow;
    fill_convex(&outline, view.scenario.size.width, rows, &mut |x, y, cover| {
        let off = (x as f64 - a[0]) * across[0] + (y as f64 - a[1]) * across[1];
        let off = (off / radius.max(0.5)).clamp(-1.0, 1.0) as f32;
        let light = 0.8 + contrast * off * side as f32 + 0.2 * (1.0 - off * off);
        put(x, y, cover, piece.colour.map(|c| c * light));
    });
}

/// Legs, trunk and head: parts that move little within an exposure, back to front.
fn still_body(scenario: &Scenario, pose: &Pose) -> Vec<Limb> {
    let look = &scenario.golfer;
    let depth = pose.hub.y + 0.02;
    let middle = 0.5 * (pose.feet[0] + pose.feet[1]);
    let hips = V3::new(middle + 0.04 + 0.12 * pose.finish, depth + 0.17, 0.92);
    let mut out = Vec::new();
    for (i, &foot) in pose.feet.iter().enumerate() {
        let side = if i == 0 { -1.0 } else { 1.0 };
        let raised = if i == 0 { 0.13 * pose.finish } else { 0.0 };
        let ankle = V3::new(foot + 0.06 * raised, depth + 0.06, 0.09 + raised);
        let toe = V3::new(foot + side * 0.05, depth - 0.15, 0.035);
        let knee =
            V3::new(foot * 0.8 + hips.x * 0.2 + 0.25 * raised, depth - 0.02, 0.5 - 0.3 * raised);
        let hip = hips + V3::new(side * 0.1, 0.0, 0.0);
        out.push(Limb { from: hip, to: knee, radii: [0.1, 0.07], colour: look.trousers });
        out.push(Limb { from: knee, to: ankle, radii: [0.068, 0.052], colour: look.trousers });
        out.push(Limb {
            from: ankle - V3::z() * 0.045,
            to: toe,
            radii: [0.045, 0.036],
            colour: look.shoes,
        });
    }
    out.push(Limb {
        from: hips + V3::new(-0.06, 0.0, 0.03),
        to: hips + V3::new(0.06, 0.0, 0.03),
        radii: [0.13; 2],
        colour: look.trousers,
    });
    let chest = pose.hub + V3::new(0.08 * pose.finish, 0.08, 0.02);
    out.push(Limb {
        from: hips + V3::z() * 0.1,
        to: chest,
        radii: [0.14, 0.19],
        colour: look.shirt,
    });
    let head = chest + V3::new(-0.04, -0.08, 0.32);
    out.push(Limb { from: head, to: head + V3::z() * 0.05, radii: [0.1; 2], colour: look.skin });
    out
}

/// Arms, hands and shaft, back to front.
fn moving_body(scenario: &Scenario, pose: &Pose) -> Vec<Limb> {
    let look = &scenario.golfer;
    let mut out = Vec::new();
    let turn = 0.9 * pose.finish;
    for side in [-1.0, 1.0] {
        let shoulder =
            pose.hub + V3::new(side * 0.19 * (1.0 - 0.5 * turn), side * 0.1 * turn, 0.04);
        let half = (shoulder + pose.hands) / 2.0;
        let elbow = half + V3::new(side * 0.05, 0.03, -0.02);
        out.push(Limb { from: shoulder, to: elbow, radii: [0.06, 0.05], colour: look.shirt });
        out.push(Limb { from: elbow, to: pose.hands, radii: [0.045, 0.035], colour: look.skin });
    }
    let heel = pose.edge + pose.away * 0.034 + pose.up * 0.03 - pose.forward * 0.006;
    let grip = pose.hands.lerp(&heel, 0.16);
    let butt = pose.hands - (heel - pose.hands).normalize() * 0.08;
    out.push(Limb { from: butt, to: grip, radii: [0.013, 0.011], colour: [0.015; 3] });
    out.push(Limb { from: grip, to: heel, radii: [0.0072, 0.0048], colour: [0.5, 0.51, 0.53] });
    let glove = if look.glove { [0.75; 3] } else { look.skin };
    let down = (heel - pose.hands).normalize();
    out.push(Limb {
        from: pose.hands - down * 0.04,
        to: pose.hands + down * 0.01,
        radii: [0.047; 2],
        colour: glove,
    });
    out.push(Limb {
        from: pose.hands + down * 0.04,
        to: pose.hands + down * 0.06,
        radii: [0.043; 2],
        colour: look.skin,
    });
    out
}

/// The outline and colour of the club head.
fn club_head(view: &View, swing: &Swing, pose: &Pose) -> (Vec<Dot>, Rgb) {
    let wood = swing.loft < 18_f64.to_radians();
    let (sin, cos) = swing.loft.sin_cos();
    // Along the head's own directions, from the mid point of the leading edge (m).
    let corners: Vec<[f64; 3]> = if wood {
        let ring = (0..10).map(|i| {
            let (s, c) = (std::f64::consts::TAU * f64::from(i) / 10.0).sin_cos();
            [-0.055 + 0.05 * c, 0.058 * s, 0.03]
        });
        let sole = [[-0.09, 0.0, 0.006], [0.0, -0.03, 0.0], [0.0, 0.03, 0.0]];
        let face = [-0.04, 0.04].map(|w| [-0.052 * sin, w, 0.052 * cos]);
        ring.chain(sole).chain(face).collect()
    } else {
        [(-0.04, 0.055), (0.034, 0.03)]
            .iter()
            .flat_map(|&(aside, high)| {
                let top = [-high * sin, aside, high * cos];
                let back = [-0.019, aside, 0.002];
                [[0.0, aside, 0.0], back, top, [top[0] - 0.006, aside, top[2]]]
            })
            .collect()
    };
    let place = |c: &[f64; 3]| pose.edge + pose.forward * c[0] + pose.away * c[1] + pose.up * c[2];
    let dots = corners.iter().filter_map(|c| view.dot(place(c)).map(|d| d.0)).collect();
    let shine = view.scenario.golfer.head;
    (
        hull(dots),
        if wood { [0.02, 0.02, 0.024] } else { [0.3, 0.31, 0.33].map(|c| 0.1 + c * shine) },
    )
}

/// The picture moved by a part of a pixel (cubic convolution, Keys 1981, a = -1/2).
fn shifted(plate: &Linear, shift: [f64; 2]) -> Linear {
    let (width, height) = (plate.width, plate.height);
    let taps = |d: f64| {
        let from = (-d).floor();
        let f = (-d - from) as f32;
        let weights = [
            ((-0.5 * f + 1.0) * f - 0.5) * f,
            (1.5 * f - 2.5) * f * f + 1.0,
            ((-1.5 * f + 2.0) * f + 0.5) * f,
            (0.5 * f - 0.5) * f * f,
        ];
        (from as i64 - 1, weights)
    };
    let pick = |rgb: &[Rgb], at: &dyn Fn(i64) -> usize, i: i64, (from, w): (i64, [f32; 4])| {
        let mut out = [0.0; 3];
        for (k, weight) in w.iter().enumerate() {
            let p = rgb[at(i + from + k as i64)];
            for c in 0..3 {
                out[c] += weight * p[c];
            }
        }
        out
    };
    let across = taps(shift[0]);
    let down = taps(shift[1]);
    let mut wide = Vec::with_capacity(plate.rgb.len());
    for y in 0..height {
        let at = |x: i64| y * width + x.clamp(0, width as i64 - 1) as usize;
        wide.extend((0..width).map(|x| pick(&plate.rgb, &at, x as i64, across)));
    }
    let mut rgb = Vec::with_capacity(wide.len());
    for y in 0..height {
        for x in 0..width {
            let at = |y: i64| y.clamp(0, height as i64 - 1) as usize * width + x;
            rgb.push(pick(&wide, &at, y as i64, down).map(|c| c.max(0.0)));
        }
    }
    Linear { width, height, rgb }
}

/// When the first swing's takeaway begins, for choosing frames to look at.
pub(super) fn takeaway_of(scenario: &Scenario, swing: usize) -> f64 {
    motion::takeaway(&scenario.swings[swing])
}
