//! Marks in the picture: their names, how they are placed, what is shown of them.

use crate::domain::{
    FrameIndex, ImagePoint, Mark, MarkKind, MarkWord, Millimetres, Part, Pixels, Reference,
    ReferenceKind, Reviewable, Surface,
};
use crate::geometry::ImageMark;
use crate::workflow::lying_height;

/// What a click on the picture does.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Tool {
    /// Selects marks, drags them, pans.
    #[default]
    Look,
    /// Places a mark.
    Place(MarkName),
    /// Places the points of a reference object one after the other.
    Reference(ReferenceDraft),
    /// Places the two points of the target line.
    TargetLine(Vec<Mark>),
    /// Places the club head, and goes on to the next frame.
    ClubHead,
    /// Places three points or more along an edge that is straight in the world.
    Edge(Vec<Mark>),
}

/// A mark by its name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum MarkName {
    /// The ball's centre.
    Ball,
    /// Where the mark in the ground begins.
    DivotStart,
    /// Where it ends.
    DivotEnd,
    /// Where the tee goes into the ground.
    Tee,
    /// Stands in for the ball in practice swings: the ball line.
    BallLine,
    /// A point of a drill's reach line.
    ReachLine,
    /// The lead foot's heel.
    LeadHeel,
    /// The trail foot's heel.
    TrailHeel,
    /// The middle of the club head's leading edge in one frame.
    ClubHead(FrameIndex),
    /// One of the target line's two points.
    TargetLine(usize),
    /// A point of a reference object.
    Reference {
        /// Which object.
        object: usize,
        /// Which of its points.
        point: usize,
    },
}

impl MarkName {
    /// Plain words; `mark` is what the mark in the ground is called.
    pub fn title(self, mark: MarkWord) -> &'static str {
        match self {
            Self::Ball => "Ball",
            Self::DivotStart => mark.start_title(),
            Self::DivotEnd => mark.end_title(),
            Self::Tee => "Tee",
            Self::BallLine => "Ball line",
            Self::ReachLine => "Reach line",
            Self::LeadHeel => "Lead heel",
            Self::TrailHeel => "Trail heel",
            Self::ClubHead(_) => "Club head",
            Self::TargetLine(_) => "Target line",
            Self::Reference { .. } => "Reference object",
        }
    }

    /// As a swing keeps it; `None` for what belongs to the recording's set-up.
    pub fn kind(self) -> Option<MarkKind> {
        match self {
            Self::Ball => Some(MarkKind::Ball),
            Self::DivotStart => Some(MarkKind::DivotStart),
            Self::DivotEnd => Some(MarkKind::DivotEnd),
            Self::Tee => Some(MarkKind::Tee),
            Self::BallLine => Some(MarkKind::Origin),
            Self::LeadHeel => Some(MarkKind::LeadHeel),
            Self::TrailHeel => Some(MarkKind::TrailHeel),
            Self::ClubHead(_) => Some(MarkKind::ClubHead),
            Self::TargetLine(_) | Self::ReachLine | Self::Reference { .. } => None,
        }
    }

    /// Which of several of its kind.
    pub fn part(self) -> Part {
        match self {
            Self::ClubHead(frame) => Part(frame.0),
            _ => Part::FIRST,
        }
    }

    /// The doubt that placing it settles.
    pub fn reviewable(self) -> Option<Reviewable> {
        match self {
            Self::Ball => Some(Reviewable::Ball),
            Self::DivotStart => Some(Reviewable::DivotStart),
            Self::DivotEnd => Some(Reviewable::DivotEnd),
            _ => None,
        }
    }
}

/// A reference object whose points are being placed.
#[derive(Clone, Debug, PartialEq)]
pub struct ReferenceDraft {
    /// What it is.
    pub what: ReferenceWhat,
    /// Points so far, as read in `frame`.
    pub points: Vec<ImagePoint>,
    /// The frame the first point was read in; the others are taken from the same.
    pub frame: Option<FrameIndex>,
    /// Standard uncertainty that the way into the steadied picture adds to its points.
    pub register: Pixels,
}

/// What a reference object is, and its size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ReferenceWhat {
    /// A rectangle.
    Sheet([Millimetres; 2]),
    /// Any four points: the sides going round, and the diagonal from the first to the third.
    FourPoints([Millimetres; 5]),
    /// Two points a known distance apart, lying along the target line or not.
    Line {
        /// The distance.
        length: Millimetres,
        /// It points at the target.
        along_target: bool,
    },
    /// Two parallel lines across the target line.
    LinePair(Millimetres),
    /// The ball.
    Ball,
}

impl ReferenceWhat {
    /// How many points it takes.
    pub fn points(self) -> usize {
        match self {
            Self::Sheet(_) | Self::FourPoints(_) | Self::LinePair(_) => 4,
            Self::Line { .. } | Self::Ball => 2,
        }
    }

    /// Its points have numbers, by which the lengths between them are named.
    pub fn has_numbers(self) -> bool {
        matches!(self, Self::FourPoints(_))
    }

    /// What to click next, in words.
    pub fn prompt(self, placed: usize) -> String {
        match self {
            Self::Sheet(_) => format!("Click corner {} of 4, going round the sheet", placed + 1),
            Self::FourPoints(_) => format!("Click point {} of 4, going round", placed + 1),
            Self::Line { .. } => format!("Click end {} of 2", placed + 1),
            Self::LinePair(_) if placed < 2 => {
                format!("Click point {} of 2 on the first line", placed + 1)
            }
            Self::LinePair(_) => format!("Click point {} of 2 on the second line", placed - 1),
            Self::Ball if placed == 0 => "Click the ball's left edge".into(),
            Self::Ball => "Click the ball's right edge".into(),
        }
    }
}

impl ReferenceDraft {
    /// Nothing is placed yet.
    pub fn new(what: ReferenceWhat) -> Self {
        Self { what, points: Vec::new(), frame: None, register: Pixels(0.0) }
    }

    /// The finished reference object, once all points are there; it lies as high above the ground
    /// as such a thing does on this surface.
    pub fn finish(&self, surface: Option<Surface>) -> Option<Reference> {
        let p = &self.points;
        if p.len() != self.what.points() {
            return None;
        }
        let mut along_target = false;
        let kind = match self.what {
            ReferenceWhat::Sheet(size) => {
                ReferenceKind::Sheet { size, corners: [p[0], p[1], p[2], p[3]] }
            }
            ReferenceWhat::FourPoints([a, b, c, d, diagonal]) => {
                let points = [p[0], p[1], p[2], p[3]];
                ReferenceKind::FourPoints { sides: [a, b, c, d], diagonal, points }
            }
            ReferenceWhat::Line { length, along_target: along } => {
                along_target = along;
                ReferenceKind::Line { length, ends: [p[0], p[1]] }
            }
            ReferenceWhat::LinePair(distance) => {
                ReferenceKind::LinePair { distance, lines: [[p[0], p[1]], [p[2], p[3]]] }
            }
            ReferenceWhat::Ball => {
                let centre = ImagePoint::new((p[0].x + p[1].x) / 2.0, (p[0].y + p[1].y) / 2.0);
                ReferenceKind::Ball { outline: Some((centre, Pixels(p[0].distance(p[1])))) }
            }
        };
        let height = lying_height(&kind, along_target, surface);
        let click = ImageMark::click(p[0]);
        let moved = self.register.0 > 0.0;
        let point_sigma = moved.then(|| click.with_register(self.register).sigma[0]);
        Some(Reference { kind, height, along_target, frame: self.frame, point_sigma })
    }
}

/// A mark and who put it there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShownMark {
    /// Where, and in which frame it was read.
    pub mark: Mark,
    /// A person placed it.
    pub by_person: bool,
    /// How sure the program is of its proposal, 0 to 1.
    pub sure: Option<f64>,
}

impl ShownMark {
    /// One that a person placed.
    pub fn person(mark: Mark) -> Self {
        Self { mark, by_person: true, sure: None }
    }
}

/// The points by which a reference object is dragged. A ball: left and right edge.
pub fn reference_points(reference: &Reference) -> Vec<ImagePoint> {
    match &reference.kind {
        ReferenceKind::Sheet { corners: four, .. }
        | ReferenceKind::FourPoints { points: four, .. } => four.to_vec(),
        ReferenceKind::Line { ends, .. } => ends.to_vec(),
        ReferenceKind::LinePair { lines, .. } => lines.concat(),
        ReferenceKind::Ball { outline: Some((centre, diameter)) } => {
            let half = diameter.0 / 2.0;
            vec![centre.moved(-half, 0.0), centre.moved(half, 0.0)]
        }
        ReferenceKind::Ball { outline: None } => Vec::new(),
    }
}

/// `reference` with one of its points moved to `to`.
pub fn with_point_moved(reference: &Reference, point: usize, to: ImagePoint) -> Reference {
    let mut moved = reference.clone();
    match &mut moved.kind {
        ReferenceKind::Sheet { corners: four, .. }
        | ReferenceKind::FourPoints { points: four, .. } => four[point] = to,
        ReferenceKind::Line { ends, .. } => ends[point] = to,
        ReferenceKind::LinePair { lines, .. } => lines[point / 2][point % 2] = to,
        ReferenceKind::Ball { outline } => {
            let mut edges = reference_points(reference);
            if let Some(edge) = edges.get_mut(point) {
                *edge = to;
                let centre = ImagePoint::new(
                    (edges[0].x + edges[1].x) / 2.0,
                    (edges[0].y + edges[1].y) / 2.0,
                );
                *outline = Some((centre, Pixels(edges[0].distance(edges[1]))));
            }
        }
    }
    moved
}
