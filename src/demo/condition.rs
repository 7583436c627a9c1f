//! Scenarios at random, one difficulty at a time.

use nalgebra::Vector3;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::camera::Placing;
use super::motion::next_ready;
use super::scenario::{
    BALL, BallPlace, Faults, GolferLook, GroundLook, MovingShadow, PaintedLine, Scenario,
    SoundScape, Swing, SwingTiming, TICKS, Thing,
};
use super::{Arc3, Camera, CutMark, MarkKind};
use crate::domain::{Direction, PictureSize, Surface};

type V3 = Vector3<f64>;

macro_rules! conditions {
    ($($name:ident,)+) => {
        /// What is difficult about a scenario. All else is drawn from an easy everyday range.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[allow(missing_docs)] // `about` says it in words.
        pub enum Condition {
            $($name,)+
        }

        impl Condition {
            /// All of them.
            pub const ALL: [Self; [$(Self::$name),+].len()] = [$(Self::$name),+];
        }
    };
}

conditions! {
    Plain,
    LeftHanded,
    FatAndLong,
    ThinNoContact,
    DriverTee,
    FairwayWood,
    PracticeNoBall,
    PracticeBallLeft,
    ThreeSwings,
    Mat,
    MatChalkWiped,
    TurfLines,
    OldDivots,
    Crumbs,
    DryGround,
    LongGrass,
    Shade,
    FlatLight,
    LowSunBehind,
    MovingShadow,
    ExposureDrift,
    Shake,
    HandHeld,
    Noise,
    Compression,
    SlowShutter,
    RollingShutter,
    Rate30,
    Rate60,
    Rate240,
    VariableRate,
    Small480,
    Large1080,
    Portrait,
    SmallBall,
    LargeBall,
    LowCamera,
    HighCamera,
    TurnedCamera,
    Decoys,
    Waggles,
    Neighbours,
    NoSound,
    BallIsRuler,
}

/// Name, loft (degrees), radius of the arc (m), its plane (degrees), speed (m/s): invented
/// within the ranges that are common practice.
const IRONS: [(&str, f64, f64, f64, f64); 6] = [
    ("5-iron", 26.0, 1.58, 59.0, 39.0),
    ("6-iron", 29.0, 1.55, 60.0, 38.0),
    ("7-iron", 32.0, 1.52, 60.5, 37.0),
    ("8-iron", 36.0, 1.50, 61.0, 35.5),
    ("9-iron", 40.0, 1.48, 62.0, 34.5),
    ("PW", 45.0, 1.45, 63.0, 33.0),
];

impl Condition {
    /// In plain words.
    pub fn about(self) -> &'static str {
        match self {
            Self::Plain => "iron on turf, nothing special",
            Self::LeftHanded => "left-handed",
            Self::FatAndLong => "fat: the mark begins far behind the ball",
            Self::ThinNoContact => "thin: nothing touched",
            Self::DriverTee => "driver from a tee",
            Self::FairwayWood => "fairway wood, shallow mark",
            Self::PracticeNoBall => "practice swing between two chalk lines, no ball",
            Self::PracticeBallLeft => "practice swing beside a ball",
            Self::ThreeSwings => "three swings in one recording",
            Self::Mat => "mat with a faint scuff",
            Self::MatChalkWiped => "mat with a chalk line that is wiped",
            Self::TurfLines => "turf with two chalk lines",
            Self::OldDivots => "many old divots",
            Self::Crumbs => "many crumbs of soil ahead",
            Self::DryGround => "dry ground: pale soil, patchy grass",
            Self::LongGrass => "long grass",
            Self::Shade => "dappled shade of a tree",
            Self::FlatLight => "flat light",
            Self::LowSunBehind => "low sun behind the golfer: shadow over the ball",
            Self::MovingShadow => "a shadow moves over the ground",
            Self::ExposureDrift => "exposure drifts",
            Self::Shake => "tripod drifts and trembles",
            Self::HandHeld => "held in the hand: the picture sways",
            Self::Noise => "strong noise",
            Self::Compression => "strong compression",
            Self::SlowShutter => "slow shutter (4 to 6 ms)",
            Self::RollingShutter => "rows exposed one after the other",
            Self::Rate30 => "30 frames a second",
            Self::Rate60 => "60 frames a second",
            Self::Rate240 => "240 frames a second",
            Self::VariableRate => "uneven frame times",
            Self::Small480 => "854 x 480",
            Self::Large1080 => "1920 x 1080",
            Self::Portrait => "portrait",
            Self::SmallBall => "ball 8 to 13 pixels wide",
            Self::LargeBall => "ball 35 to 60 pixels wide",
            Self::LowCamera => "camera 0.5 to 0.65 m high",
            Self::HighCamera => "camera 1.35 to 1.5 m high",
            Self::TurnedCamera => "camera turned 3.5 to 5 degrees",
            Self::Decoys => "white shoes, glove, balls near by",
            Self::Waggles => "waggles before the swing",
            Self::Neighbours => "neighbours' strikes to be heard",
            Self::NoSound => "no sound",
            Self::BallIsRuler => "no reference object but the ball",
        }
    }

    /// Its name in lists.
    pub fn name(self) -> String {
        format!("{self:?}")
    }
}

/// What is drawn first and then turned into a scenario.
struct Draft {
    size: PictureSize,
    rate: f64,
    placing: Placing,
    heading: Direction,
    club: (&'static str, f64, f64, f64, f64),
    low: [f64; 2],
    depth: [f64; 2],
    practice: Option<bool>,
    swings: usize,
    tee: f64,
}

impl Scenario {
    /// A scenario in which `condition` holds; the same `seed` always gives the same one.
    ///
    /// ```
    /// use scuffline::demo::{Condition, Scenario, Scene};
    ///
    /// let scene = Scene::new(Scenario::draw(Condition::ALL[0], 1));
    /// assert_eq!(scene.truth(), Scene::new(Scenario::draw(Condition::ALL[0], 1)).truth());
    /// ```
    pub fn draw(condition: Condition, seed: u32) -> Self {
        Self::draw_all(&[condition], seed)
    }

    /// A scenario of several difficulties at once, three or four as a rule, as a day at the range
    /// throws them together; the same `seed` always gives the same one.
    pub fn mixed(seed: u32) -> Self {
        Self::draw_all(&mixture(seed), seed)
    }

    fn draw_all(conditions: &[Condition], seed: u32) -> Self {
        // Rotated, so that no number of conditions pushes the seed out.
        let mix = |state: u64, &c: &Condition| state.rotate_left(8) ^ c as u64;
        let state = conditions.iter().fold(u64::from(seed), mix);
        let mut rng = ChaCha8Rng::seed_from_u64(state);
        let draft = draft(conditions, &mut rng);
        let words = |word: &dyn Fn(Condition) -> String, between: &str| {
            conditions.iter().map(|&c| word(c)).collect::<Vec<_>>().join(between)
        };
        let mut scenario = Self {
            name: format!("{}-{seed}", words(&Condition::name, "+")),
            about: words(&|c| c.about().to_owned(), "; "),
            seed: rng.random(),
            size: draft.size,
            camera: Camera::placed(draft.size, draft.placing),
            heading: draft.heading,
            rate: draft.rate,
            ticks: Vec::new(),
            exposure: rng.random_range(0.0006..0.0016),
            readout: 0.0,
            ground: ground(&mut rng),
            golfer: golfer(&mut rng),
            things: Vec::new(),
            swings: Vec::new(),
            faults: Faults {
                noise: [rng.random_range(0.8..1.6), rng.random_range(1.0..2.2)],
                quantiser: rng.random_range(2.0..5.0),
                exposure_drift: None,
                shake: [0.0; 2],
                moving_shadow: None,
            },
            sound: Some(SoundScape {
                lag: rng.random_range(0.0..0.004),
                hiss: rng.random_range(0.002..0.01),
                neighbours: vec![(rng.random_range(0.2..0.8), rng.random_range(0.05..0.15))],
            }),
        };
        add_swings(&mut scenario, &draft, conditions, &mut rng);
        scenario.things = vec![sheet(&mut rng)];
        conditions.iter().for_each(|&c| alter(&mut scenario, c, &mut rng));
        set_times(&mut scenario, conditions, &mut rng);
        scenario
    }
}

/// Difficulties that go together: at most one of each row, and of most rows none.
fn mixture(seed: u32) -> Vec<Condition> {
    use Condition::*;
    const ROWS: [&[Condition]; 10] = [
        &[
            FatAndLong,
            ThinNoContact,
            DriverTee,
            FairwayWood,
            PracticeNoBall,
            PracticeBallLeft,
            ThreeSwings,
        ],
        &[LeftHanded],
        &[Mat, MatChalkWiped, TurfLines, OldDivots, Crumbs, DryGround, LongGrass],
        &[Shade, FlatLight, LowSunBehind, MovingShadow, ExposureDrift],
        &[Shake, HandHeld],
        &[Noise, Compression, SlowShutter, RollingShutter],
        &[Rate30, Rate60, Rate240, VariableRate],
        &[Small480, Large1080, Portrait],
        &[SmallBall, LargeBall, LowCamera, HighCamera, TurnedCamera],
        &[Decoys, Waggles, Neighbours, NoSound],
    ];
    let mut rng = ChaCha8Rng::seed_from_u64((u64::from(seed) << 8) | 0xff);
    let one_of =
        |row: &[Condition]| rng.random_bool(0.35).then(|| row[rng.random_range(0..row.len())]);
    let drawn: Vec<Condition> = ROWS.iter().copied().filter_map(one_of).collect();
    if drawn.is_empty() { vec![Plain] } else { drawn }
}

fn draft(conditions: &[Condition], rng: &mut ChaCha8Rng) -> Draft {
    let size = [(1280, 720), (960, 540)][rng.random_range(0..2)];
    let mut draft = Draft {
        size: PictureSize { width: size.0, height: size.1 },
        rate: 120.0,
        placing: Placing {
            height: rng.random_range(0.75..1.3),
            distance: rng.random_range(2.8..4.3),
            yaw: rng.random_range(-2.5_f64..2.5).to_radians(),
            roll: rng.random_range(-1.0_f64..1.0).to_radians(),
            k1: rng.random_range(-0.09..0.03),
            ball_px: rng.random_range(16.0..26.0),
            ball_at: [rng.random_range(0.44..0.56), rng.random_range(0.74..0.84)],
        },
        heading: Direction::Right,
        club: IRONS[rng.random_range(0..IRONS.len())],
        low: [-0.05, 0.13],
        depth: [0.0012, 0.007],
        practice: None,
        swings: 1,
        tee: 0.0,
    };
    conditions.iter().for_each(|&c| redraft(&mut draft, c, rng));
    if draft.swings > 1 {
        draft.rate = 60.0;
    }
    draft
}

/// Draws what the condition asks to be otherwise.
fn redraft(draft: &mut Draft, condition: Condition, rng: &mut ChaCha8Rng) {
    use Condition::*;
    match condition {
        LeftHanded => draft.heading = Direction::Left,
        FatAndLong => (draft.low, draft.depth) = ([-0.12, -0.03], [0.003, 0.008]),
        ThinNoContact => draft.depth = [-0.014, -0.004],
        DriverTee => {
            draft.club = ("driver", 10.5, 1.75, 47.0, 45.0);
            (draft.low, draft.depth, draft.tee) = ([-0.15, -0.02], [-0.035, -0.012], 0.03);
        }
        FairwayWood => {
            draft.club = ("3-wood", 15.5, 1.68, 52.0, 43.0);
            (draft.low, draft.depth) = ([-0.03, 0.06], [0.0006, 0.002]);
        }
        PracticeNoBall => draft.practice = Some(false),
        PracticeBallLeft => draft.practice = Some(true),
        ThreeSwings => draft.swings = 3,
        Rate30 => draft.rate = 30.0,
        Rate60 | RollingShutter => draft.rate = 60.0,
        Rate240 => draft.rate = 240.0,
        Small480 => {
            draft.size = PictureSize { width: 854, height: 480 };
            draft.placing.ball_px *= 0.67;
        }
        Large1080 => {
            draft.size = PictureSize { width: 1920, height: 1080 };
            draft.placing.ball_px *= 1.5;
        }
        Portrait => draft.size = PictureSize { width: 720, height: 1280 },
        SmallBall => draft.placing.ball_px = rng.random_range(8.0..13.0),
        LargeBall => draft.placing.ball_px = rng.random_range(35.0..60.0),
        LowCamera => draft.placing.height = rng.random_range(0.5..0.65),
        HighCamera => {
            draft.placing.height = rng.random_range(1.35..1.5);
            draft.placing.distance = rng.random_range(2.5..3.2);
        }
        TurnedCamera => {
            let side = if rng.random() { 1.0 } else { -1.0 };
            draft.placing.yaw = side * rng.random_range(3.5_f64..5.0).to_radians();
        }
        _ => {}
    }
}

fn ground(rng: &mut ChaCha8Rng) -> GroundLook {
    let (elevation, azimuth) = (rng.random_range(0.55_f64..1.1), rng.random_range(-1.1_f64..1.1));
    let light = rng.random_range(0.75..1.25);
    let hue = rng.random_range(0.8..1.25);
    GroundLook {
        surface: Surface::Turf,
        mat: None,
        grass_height: rng.random_range(0.004..0.007),
        grass: [0.115 * light * hue, 0.2 * light, 0.042 * light],
        dryness: rng.random_range(0.0..0.8),
        mat_colour: [0.025, 0.11, 0.05].map(|c| c * light),
        sun: sun(elevation, azimuth),
        shadow: rng.random_range(0.35..0.6),
        dapple: 0.0,
        old_marks: (0..rng.random_range(0..4)).map(|_| old_mark(rng)).collect(),
        lines: Vec::new(),
        balls: (0..rng.random_range(0..9))
            .map(|_| [rng.random_range(-4.0..5.0), rng.random_range(2.0..18.0)])
            .collect(),
    }
}

/// A sun `elevation` high, `azimuth` radians to the right of the camera's back.
fn sun(elevation: f64, azimuth: f64) -> V3 {
    let level = elevation.cos();
    V3::new(level * azimuth.sin(), -level * azimuth.cos(), elevation.sin())
}

fn golfer(rng: &mut ChaCha8Rng) -> GolferLook {
    let cloth = |rng: &mut ChaCha8Rng| [0; 3].map(|_| rng.random_range(0.02f32..0.35));
    let pale = rng.random_range(0.3..1.0);
    GolferLook {
        shoes: [rng.random_range(0.01..0.1); 3],
        trousers: cloth(rng),
        shirt: cloth(rng),
        skin: [0.5 * pale, 0.3 * pale, 0.2 * pale],
        glove: rng.random(),
        head: rng.random_range(0.0..0.9),
    }
}

fn soil(rng: &mut ChaCha8Rng) -> [f32; 3] {
    let light: f32 = rng.random_range(0.55..1.4);
    [0.075 * light, 0.045 * light, 0.026 * light]
}

fn old_mark(rng: &mut ChaCha8Rng) -> CutMark {
    let start = rng.random_range(-0.8..0.9);
    let aside: f64 = rng.random_range(0.08..0.5);
    CutMark {
        kind: MarkKind::Divot,
        start,
        end: start + rng.random_range(0.06..0.2),
        middle: if rng.random() { aside } else { -0.7 * aside },
        width: rng.random_range(0.035..0.06),
        opening: rng.random_range(0.004..0.03),
        closing: rng.random_range(0.01..0.04),
        ragged: [0.005, 0.01],
        soil: soil(rng).map(|c| 1.7 * c),
        strength: rng.random_range(0.35..0.85),
        seed: rng.random(),
    }
}

/// A sheet nearer to the camera than the ball, to one side (A4 by ISO 216).
fn sheet(rng: &mut ChaCha8Rng) -> Thing {
    let size = [0.297, 0.21];
    let turn = rng.random_range(-4.0_f64..4.0).to_radians();
    let side = if rng.random() { 0.22 } else { -0.5 };
    let corner = V3::new(side + rng.random_range(0.0..0.1), rng.random_range(-0.42..-0.3), 0.006);
    let (along, across) =
        (V3::new(turn.cos(), turn.sin(), 0.0), V3::new(-turn.sin(), turn.cos(), 0.0));
    let corners = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]
        .map(|(a, b)| corner + along * (a * size[0]) + across * (b * size[1]));
    Thing::Sheet { corners, size, turn }
}

fn add_swings(
    scenario: &mut Scenario,
    draft: &Draft,
    conditions: &[Condition],
    rng: &mut ChaCha8Rng,
) {
    let mut ready = 0.0;
    for i in 0..draft.swings {
        let at = if i == 0 { [0.0; 2] } else { [rng.random_range(-0.06..0.06), 0.07 * i as f64] };
        let practice = draft
            .practice
            .or((i == 1 && conditions.contains(&Condition::ThreeSwings)).then_some(false));
        let mut swing = swing(draft, at, practice, rng);
        let first =
            if i == 0 { rng.random_range(0.45..0.8) } else { ready + rng.random_range(0.4..0.7) };
        swing.strike_time = 0.0;
        swing.strike_time = first - super::motion::takeaway(&swing);
        if let Some(ball) = &mut swing.ball {
            ball.rest_from = if i == 0 { 0.0 } else { ready - 0.1 };
        }
        ready = next_ready(&swing);
        scenario.swings.push(swing);
    }
}

fn swing(draft: &Draft, at: [f64; 2], practice: Option<bool>, rng: &mut ChaCha8Rng) -> Swing {
    let (club, loft, radius, plane, speed) = draft.club;
    let aside = if practice == Some(true) { rng.random_range(0.1..0.18) } else { 0.0 };
    let low = V3::new(
        at[0] + rng.random_range(draft.low[0]..draft.low[1]),
        at[1] + aside,
        draft.tee.min(0.02) - rng.random_range(draft.depth[0]..draft.depth[1]),
    );
    let speed = speed * rng.random_range(0.75..1.1);
    let arc = Arc3 { low, radius, plane: f64::to_radians(plane), turn_rate: speed / radius };
    let height = BALL / 2.0 + draft.tee;
    let ball = BallPlace { at, height, rest_from: 0.0 };
    let lead = low.x.max(at[0] - 0.02) + 0.02;
    Swing {
        club: club.to_owned(),
        loft: loft.to_radians(),
        mark: divot(&arc, rng),
        arc,
        ball: (practice != Some(false)).then_some(ball),
        struck: practice.is_none(),
        origin: at[0],
        strike_time: 0.0,
        crumbs: rng.random_range(0..12),
        turf_flies: rng.random_bool(0.7),
        feet: [lead - rng.random_range(0.38..0.5), lead],
        timing: SwingTiming {
            back: rng.random_range(0.65..0.95),
            down: rng.random_range(0.2..0.28),
            follow: rng.random_range(0.28..0.4),
            hold: rng.random_range(0.7..1.1),
            waggles: 0,
        },
    }
}

/// A divot that begins where the edge enters the ground; its length and shape are free, but for
/// this: level ground is cut until the edge is deepest at least.
fn divot(arc: &Arc3, rng: &mut ChaCha8Rng) -> Option<CutMark> {
    let start = arc.at(arc.entry()?).x;
    let half_chord = arc.low.x - start;
    let length = (half_chord * rng.random_range(1.0..2.4)).clamp(0.04, 0.25);
    let opening = if rng.random_bool(0.25) { 0.012..0.022 } else { 0.002..0.012 };
    Some(CutMark {
        kind: MarkKind::Divot,
        start,
        end: start + length,
        middle: arc.low.y + rng.random_range(-0.004..0.004),
        width: rng.random_range(0.04..0.065),
        opening: rng.random_range(opening),
        closing: rng.random_range(0.004..0.05_f64).min(0.4 * length),
        ragged: [rng.random_range(0.001..0.006), rng.random_range(0.002..0.012)],
        soil: soil(rng),
        strength: rng.random_range(0.8..1.0),
        seed: rng.random(),
    })
}

/// Makes the condition hold.
fn alter(s: &mut Scenario, condition: Condition, rng: &mut ChaCha8Rng) {
    use Condition::*;
    match condition {
        Mat => lay_mat(s, MarkKind::Scuff, rng),
        MatChalkWiped => lay_mat(s, MarkKind::Smear, rng),
        PracticeNoBall | TurfLines => lay_lines(s, rng),
        OldDivots => s.ground.old_marks = (0..25).map(|_| old_mark(rng)).collect(),
        Crumbs => s.swings.iter_mut().for_each(|w| (w.crumbs, w.turf_flies) = (120, true)),
        DryGround => {
            s.ground.dryness = rng.random_range(1.2..1.6);
            s.ground.grass = [0.2, 0.2, 0.07];
            let pale = |m: &mut CutMark| m.soil = [0.19, 0.135, 0.085];
            s.swings.iter_mut().filter_map(|w| w.mark.as_mut()).for_each(pale);
        }
        LongGrass => s.ground.grass_height = rng.random_range(0.011..0.018),
        Shade => s.ground.dapple = rng.random_range(0.4..0.65),
        FlatLight => s.ground.shadow = rng.random_range(0.0..0.08),
        LowSunBehind => {
            let azimuth = std::f64::consts::PI + rng.random_range(-0.6..0.6);
            s.ground.sun = sun(rng.random_range(0.45..0.8), azimuth);
        }
        MovingShadow => {
            let at = s.swings[0].strike_time;
            let speed = rng.random_range(0.3..0.9) * if rng.random() { 1.0 } else { -1.0 };
            s.faults.moving_shadow = Some(self::MovingShadow {
                edge: rng.random_range(-0.4..0.6) - speed * at,
                speed,
                softness: rng.random_range(0.05..0.5),
                depth: rng.random_range(0.2..0.5),
            });
        }
        ExposureDrift => {
            let depth = rng.random_range(0.1..0.25);
            s.faults.exposure_drift = Some((depth, rng.random_range(2.0..6.0)));
        }
        Shake => s.faults.shake = [rng.random_range(2.0..9.0), rng.random_range(0.1..0.8)],
        HandHeld => s.faults.shake = [rng.random_range(9.0..16.0), rng.random_range(0.4..1.0)],
        Noise => s.faults.noise = [rng.random_range(4.0..7.0), rng.random_range(5.0..9.0)],
        Compression => s.faults.quantiser = rng.random_range(14.0..26.0),
        SlowShutter => s.exposure = rng.random_range(0.004..0.006),
        RollingShutter => s.readout = rng.random_range(0.004..0.014),
        Decoys => add_decoys(s, rng),
        Waggles => s.swings.iter_mut().for_each(|w| w.timing.waggles = rng.random_range(2..5)),
        Neighbours => add_neighbours(s, rng),
        NoSound => s.sound = None,
        BallIsRuler => s.things.clear(),
        Plain | LeftHanded | FatAndLong | ThinNoContact | DriverTee | FairwayWood
        | PracticeBallLeft | ThreeSwings | Rate30 | Rate60 | Rate240 | VariableRate | Small480
        | Large1080 | Portrait | SmallBall | LargeBall | LowCamera | HighCamera | TurnedCamera => {}
    }
    if condition == Waggles {
        // Waggling takes its time before the takeaway, and what comes later is later still.
        let mut later = 0.0;
        for swing in &mut s.swings {
            // The first ball lies there from the start.
            swing.ball.iter_mut().for_each(|ball| ball.rest_from += later);
            later += 0.8 * f64::from(swing.timing.waggles);
            swing.strike_time += later;
        }
    }
}

fn lay_mat(s: &mut Scenario, kind: MarkKind, rng: &mut ChaCha8Rng) {
    s.ground.surface = Surface::Mat;
    s.ground.mat = Some([-0.75, -0.5, 0.77, 1.0]);
    s.ground.grass_height = 0.0;
    s.ground.old_marks.clear();
    let chalk_y = if kind == MarkKind::Smear { Some(0.0) } else { None };
    if let Some(y) = chalk_y {
        s.ground.lines.push(PaintedLine {
            ends: [[-0.35, y], [0.4, y]],
            width: rng.random_range(0.025..0.045),
            opacity: rng.random_range(0.35..0.7),
        });
    }
    for swing in &mut s.swings {
        (swing.crumbs, swing.turf_flies) = (0, false);
        if let Some(mark) = &mut swing.mark {
            let lighter = if rng.random_bool(0.6) { 1.0 } else { -1.0 };
            mark.kind = kind;
            mark.strength = match kind {
                MarkKind::Scuff => lighter * rng.random_range(0.12..0.35),
                _ => rng.random_range(0.6..0.95),
            };
            mark.opening = rng.random_range(0.004..0.02);
            mark.closing = rng.random_range(0.01..0.05_f64).min(0.4 * (mark.end - mark.start));
        }
    }
    if let Some(Thing::Sheet { corners, .. }) = s.things.first_mut() {
        let down = V3::new(0.0, 0.0, -corners[0].z);
        *corners = corners.map(|c| c + down);
    }
}

fn lay_lines(s: &mut Scenario, rng: &mut ChaCha8Rng) {
    let apart = rng.random_range(0.3..0.45);
    let at = [-apart / 2.0 - 0.02, apart / 2.0 - 0.02];
    let (reach, width) = ([-0.26, 0.22], 0.024);
    for x in at {
        let opacity = rng.random_range(0.6..0.9);
        s.ground.lines.push(PaintedLine { ends: reach.map(|y| [x, y]), width, opacity });
    }
    s.things = vec![Thing::LinePair { at, reach, width }];
}

fn add_decoys(s: &mut Scenario, rng: &mut ChaCha8Rng) {
    s.golfer.shoes = [0.75; 3];
    s.golfer.glove = true;
    let near = |rng: &mut ChaCha8Rng| {
        let side = if rng.random() { 1.0 } else { -1.0 };
        [side * rng.random_range(0.35..1.1), rng.random_range(-0.4..0.6)]
    };
    s.ground.balls.extend((0..6).map(|_| near(rng)));
    let radius = 0.0045;
    let y = rng.random_range(0.2..0.3);
    let ends = [-0.6096, 0.6096].map(|x: f64| V3::new(x + 0.05, y, 0.008));
    s.things.push(Thing::Stick { ends, radius });
}

fn add_neighbours(s: &mut Scenario, rng: &mut ChaCha8Rng) {
    let strike = s.swings[0].strike_time;
    if let Some(sound) = &mut s.sound {
        for _ in 0..6 {
            let off = rng.random_range(0.12..1.4) * if rng.random() { 1.0 } else { -1.0 };
            sound.neighbours.push(((strike + off).max(0.05), rng.random_range(0.2..0.65)));
        }
    }
}

fn set_times(s: &mut Scenario, conditions: &[Condition], rng: &mut ChaCha8Rng) {
    let is_uneven = conditions.contains(&Condition::VariableRate);
    let last = s.swings.last().map_or(0.0, |w| w.strike_time);
    let count = ((last + rng.random_range(1.3..1.9)) * s.rate) as usize;
    let spacing = f64::from(TICKS) / s.rate;
    let uneven = if is_uneven { 0.3 } else { 0.0 };
    s.ticks = (0..count)
        .map(|i| {
            let jitter = if i == 0 { 0.0 } else { uneven * rng.random_range(-1.0..1.0) };
            ((i as f64 + jitter) * spacing).round() as i64
        })
        .collect();
    if is_uneven {
        // Phones also drop frames now and then.
        let mut i = 0;
        s.ticks.retain(|_| {
            i += 1;
            i < 5 || rng.random_bool(0.97)
        });
    }
}
