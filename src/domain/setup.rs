//! What a person says about a recording before it is measured.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::{
    Club, FrameIndex, GroundAnswer, ImagePoint, LensProfile, MarkKind, Millimetres, Part, Pixels,
    Seconds,
};

/// Where the target lies in the displayed picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Direction {
    /// The target is to the left.
    Left,
    /// The target is to the right.
    Right,
}

impl Direction {
    /// +1 where the target is to the right of the picture, -1 where it is to the left.
    pub fn sign(self) -> f64 {
        match self {
            Self::Left => -1.0,
            Self::Right => 1.0,
        }
    }
}

/// What the ball lies on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Surface {
    /// Grass: a divot can be taken.
    #[default]
    Turf,
    /// A mat: a scuff at most.
    Mat,
}

/// A point somebody placed. With `frame`, it lies in that frame as it is; without, in the steadied
/// picture in which the first frame is unshifted.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Mark {
    /// Where.
    pub point: ImagePoint,
    /// In which frame it lies.
    pub frame: Option<FrameIndex>,
    /// Where it was read and brought into the steadied picture from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub register: Option<Register>,
}

impl Mark {
    /// A mark in the steadied picture.
    pub fn steadied(point: ImagePoint) -> Self {
        Self { point, frame: None, register: None }
    }

    /// A mark read in a frame as it is; `None`: in the steadied picture.
    pub fn read_in(point: ImagePoint, frame: Option<FrameIndex>) -> Self {
        Self { point, frame, register: None }
    }

    /// The standard uncertainty in each coordinate that its way into the steadied picture adds to
    /// it.
    pub fn register_sigma(&self) -> Pixels {
        self.register.map_or(Pixels(0.0), |register| register.sigma)
    }
}

/// How well a frame lies on the steadied picture at a mark that was read in it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Register {
    /// The frame.
    pub frame: FrameIndex,
    /// Standard uncertainty in each coordinate.
    pub sigma: Pixels,
}

impl Register {
    /// The standard uncertainty, in each coordinate, of where two marks lie to each other: none
    /// where both were read in one frame, whatever is known of where that lies.
    pub fn between(one: Option<Self>, other: Option<Self>) -> Pixels {
        let frame = |register: Option<Self>| register.map(|register| register.frame);
        let sigma = |register: Option<Self>| register.map_or(0.0, |register| register.sigma.0);
        match frame(one) == frame(other) {
            true => Pixels(0.0),
            false => Pixels(sigma(one).hypot(sigma(other))),
        }
    }
}

/// A reference object with a known size.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reference {
    /// What it is and where its points lie.
    pub kind: ReferenceKind,
    /// How high above the ground it lies.
    pub height: Millimetres,
    /// Its direction (a sheet's or four points' first edge, a line's direction) is the target line.
    pub along_target: bool,
    /// The frame in which its points were read; `None`: the steadied picture.
    pub frame: Option<FrameIndex>,
    /// The standard uncertainty of each of its points in each coordinate; `None`: a click.
    pub point_sigma: Option<Pixels>,
}

/// The kinds of reference object.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum ReferenceKind {
    /// A rectangle: corners go round it, the first edge being the first size.
    Sheet {
        /// First and second edge.
        size: [Millimetres; 2],
        /// Going round.
        corners: [ImagePoint; 4],
    },
    /// Any four points on the ground between which a tape measured: nothing need be square.
    FourPoints {
        /// From the first point to the second, and so on round to the first again.
        sides: [Millimetres; 4],
        /// From the first point to the third.
        diagonal: Millimetres,
        /// Going round.
        points: [ImagePoint; 4],
    },
    /// Two points a known distance apart.
    Line {
        /// The distance.
        length: Millimetres,
        /// The two points.
        ends: [ImagePoint; 2],
    },
    /// Two parallel lines on the ground across the target line.
    LinePair {
        /// The distance between them, square to them.
        distance: Millimetres,
        /// Two points on each.
        lines: [[ImagePoint; 2]; 2],
    },
    /// A golf ball: at least 42.67 mm (Equipment Rules), a poor ruler.
    Ball {
        /// Centre and width of its outline; `None`: measured by the program.
        outline: Option<(ImagePoint, Pixels)>,
    },
}

impl ReferenceKind {
    /// Its points, to be moved into another picture.
    pub fn points_mut(&mut self) -> Vec<&mut ImagePoint> {
        match self {
            Self::Sheet { corners: four, .. } | Self::FourPoints { points: four, .. } => {
                four.iter_mut().collect()
            }
            Self::Line { ends, .. } => ends.iter_mut().collect(),
            Self::LinePair { lines, .. } => lines.iter_mut().flatten().collect(),
            Self::Ball { outline } => outline.iter_mut().map(|(centre, _)| centre).collect(),
        }
    }
}

/// A reference object that the program found; nothing is measured by it until a person says so.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ProposedReference {
    /// What it would be, with the size it most probably has.
    pub reference: Reference,
    /// The chance that it is one: of those called 0.9 sure nine in ten are.
    pub confidence: f64,
}

/// The target line as the program would have it; it stays unused until a person says so.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ProposedLine {
    /// Two points on it, in the steadied picture.
    pub ends: [ImagePoint; 2],
    /// The chance that it lies along a mat's edge: of those called 0.9 sure nine in ten do.
    pub confidence: f64,
}

/// Marks that a person made for one swing.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SwingMarks {
    /// When the ball was struck.
    pub strike_time: Option<Seconds>,
    /// The ball's centre at rest.
    pub ball: Option<Mark>,
    /// Where the mark in the ground begins.
    pub divot_start: Option<Mark>,
    /// Where the mark in the ground ends.
    pub divot_end: Option<Mark>,
    /// A point on the ground that stands in for the ball in a practice swing.
    pub origin: Option<Mark>,
    /// Where the tee goes into the ground.
    pub tee: Option<Mark>,
    /// The inner edges of the heels on the ground, lead then trail.
    pub heels: [Option<Mark>; 2],
    /// The middle of the club head's leading edge, by the frame it is seen in.
    #[serde(default)]
    pub club_head: BTreeMap<FrameIndex, Mark>,
    /// What the swing left in the ground, where a person said so.
    #[serde(default)]
    pub ground: Option<GroundAnswer>,
}

impl SwingMarks {
    /// A person said that nothing in the ground begins or ends: there is no mark, or it cannot
    /// be seen. Whatever was found or placed there is not looked at.
    pub fn has_no_mark(&self) -> bool {
        self.ground.is_some_and(|answer| !answer.is_mark())
    }

    /// All of its points: what each stands for, which of several of its kind, and where it is.
    pub fn points(&self) -> impl Iterator<Item = (MarkKind, Part, Mark)> + '_ {
        let one = [
            (MarkKind::Ball, self.ball),
            (MarkKind::DivotStart, self.divot_start),
            (MarkKind::DivotEnd, self.divot_end),
            (MarkKind::Origin, self.origin),
            (MarkKind::Tee, self.tee),
            (MarkKind::LeadHeel, self.heels[0]),
            (MarkKind::TrailHeel, self.heels[1]),
        ];
        let one = one.into_iter().filter_map(|(kind, mark)| Some((kind, Part::FIRST, mark?)));
        let heads = self.club_head.iter();
        one.chain(heads.map(|(frame, mark)| (MarkKind::ClubHead, Part(frame.0), *mark)))
    }

    /// All of its points, to be moved into another picture.
    pub fn points_mut(&mut self) -> impl Iterator<Item = &mut Mark> {
        let Self { ball, divot_start, divot_end, origin, tee, heels: [lead, trail], .. } = self;
        let one = [ball, divot_start, divot_end, origin, tee, lead, trail];
        one.into_iter().flatten().chain(self.club_head.values_mut())
    }

    /// Keeps a mark, or with `None` takes it away; those that are the recording's are left
    /// alone.
    pub fn put(&mut self, kind: MarkKind, part: Part, mark: Option<Mark>) {
        let frame = FrameIndex(part.0);
        match (kind, mark) {
            (MarkKind::ClubHead, Some(mark)) => _ = self.club_head.insert(frame, mark),
            (MarkKind::ClubHead, None) => _ = self.club_head.remove(&frame),
            _ => {
                if let Some(place) = self.place(kind) {
                    *place = mark;
                }
            }
        }
    }

    /// Where a mark of this kind is kept; `None` for those that are the recording's.
    fn place(&mut self, kind: MarkKind) -> Option<&mut Option<Mark>> {
        match kind {
            MarkKind::Ball => Some(&mut self.ball),
            MarkKind::DivotStart => Some(&mut self.divot_start),
            MarkKind::DivotEnd => Some(&mut self.divot_end),
            MarkKind::Tee => Some(&mut self.tee),
            MarkKind::Origin => Some(&mut self.origin),
            MarkKind::LeadHeel => Some(&mut self.heels[0]),
            MarkKind::TrailHeel => Some(&mut self.heels[1]),
            MarkKind::BallLine | MarkKind::ReachLine | MarkKind::ClubHead => None,
        }
    }
}

/// Everything a person says about a recording; all of it may be absent.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Setup {
    /// Where the target lies; `None`: the way the club goes through the strike.
    pub target: Option<Direction>,
    /// What the ball lies on; `None`: turf, with a warning where it matters.
    pub surface: Option<Surface>,
    /// The club.
    pub club: Option<Club>,
    /// The ball stands on a tee.
    pub on_tee: Option<bool>,
    /// Objects of known size.
    pub references: Vec<Reference>,
    /// Objects that the program found, waiting for a person's yes.
    pub proposed: Vec<ProposedReference>,
    /// The lens, where it was found before.
    pub lens: Option<LensProfile>,
    /// Three points or more along edges that are straight in the world: they tell the lens.
    pub straight_edges: Vec<Vec<Mark>>,
    /// Two points along the target line, trail side or lead side first alike.
    pub target_line: Option<[Mark; 2]>,
    /// A mat's edge that the program found, waiting for a person's yes to be the target line.
    pub proposed_line: Option<ProposedLine>,
    /// Stands in for the ball in practice swings.
    pub origin: Option<Mark>,
    /// A point of the reach line of a drill, which lies across the target line ahead of the ball.
    #[serde(default)]
    pub reach_line: Option<Mark>,
    /// Look for no further swings.
    pub only_given: bool,
    /// Proposals less sure than this (0 to 1) are put before a person; `None`: the usual
    /// threshold.
    #[serde(default)]
    pub review_below: Option<f64>,
    /// Marks made by a person, swing by swing.
    pub swings: Vec<SwingMarks>,
}

impl Setup {
    /// Whether something tells the target line: a line marked, or a reference object along or
    /// across it.
    pub fn tells_target_line(&self) -> bool {
        let tells = |reference: &Reference| match reference.kind {
            ReferenceKind::Sheet { .. }
            | ReferenceKind::FourPoints { .. }
            | ReferenceKind::Line { .. } => reference.along_target,
            ReferenceKind::LinePair { .. } => true,
            ReferenceKind::Ball { .. } => false,
        };
        self.target_line.is_some() || self.references.iter().any(tells)
    }

    /// Whether the ball lies on a tee; where nobody says, a driver's does (common practice, no
    /// source).
    pub fn is_on_tee(&self, club: Option<&Club>) -> bool {
        self.on_tee.unwrap_or_else(|| club.is_some_and(Club::is_driver))
    }

    /// The same with each of its own points taken as one of the steadied picture; the swings'
    /// marks stay as they are.
    pub fn without_frames(mut self) -> Self {
        let lines = self.target_line.iter_mut().flatten();
        let edges = self.straight_edges.iter_mut().flatten();
        let points = self.origin.iter_mut().chain(self.reach_line.iter_mut());
        lines.chain(edges).chain(points).for_each(|mark| *mark = Mark::steadied(mark.point));
        self.references.iter_mut().for_each(|reference| reference.frame = None);
        self
    }

    /// What of it holds wherever the camera stands.
    pub fn without_places(&self) -> Self {
        Self {
            references: Vec::new(),
            proposed: Vec::new(),
            straight_edges: Vec::new(),
            target_line: None,
            proposed_line: None,
            origin: None,
            reach_line: None,
            swings: Vec::new(),
            ..self.clone()
        }
    }

    /// Whether any of it lies at a place in the picture, found or marked.
    pub fn has_places(&self) -> bool {
        *self != self.without_places()
    }

    /// Whether a length or a direction in the picture comes from something placed in it.
    pub fn measures_by_places(&self) -> bool {
        let is_placed = |r: &Reference| !matches!(r.kind, ReferenceKind::Ball { outline: None });
        self.references.iter().any(is_placed)
            || self.target_line.is_some()
            || !self.straight_edges.is_empty()
    }

    /// The mat's edge to ask about. Things of known size are asked about first: a stick among
    /// them may tell the line better.
    pub fn asked_line(&self) -> Option<&ProposedLine> {
        let asks = self.proposed.is_empty() && !self.tells_target_line();
        self.proposed_line.as_ref().filter(|_| asks)
    }

    /// The target line is taken to run along the mat's edge that was proposed.
    pub fn take_proposed_line(&mut self) {
        if let Some(line) = self.proposed_line.take() {
            self.target_line = Some(line.ends.map(Mark::steadied));
        }
    }
}
