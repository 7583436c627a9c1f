//! A picture as plain shapes, in points, y down. Every output draws the same list.

/// What a shape is inked with; each output gives the names its own colours.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tone {
    /// Text and the strongest lines.
    Text,
    /// Text and lines of second rank.
    Quiet,
    /// Hairlines and the strip of turf.
    Hairline,
    /// The one accent.
    Accent,
    /// The surface that the drawing lies on.
    Surface,
    /// The ball.
    White,
}

/// A tone and how much of it covers what lies beneath.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ink {
    /// Which tone.
    pub tone: Tone,
    /// From 0 (nothing) to 1 (all of it).
    pub opacity: f64,
}

impl Tone {
    /// This tone, opaque.
    pub const fn ink(self) -> Ink {
        Ink { tone: self, opacity: 1.0 }
    }

    /// This tone at `opacity`.
    pub const fn faint(self, opacity: f64) -> Ink {
        Ink { tone: self, opacity }
    }
}

/// An outline's ink and width in points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outline {
    /// Ink.
    pub ink: Ink,
    /// Width in points, centred on the edge.
    pub width: f64,
}

/// Which end of a text stands at its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// The text runs to the right of its point.
    Left,
    /// It is centred on its point.
    Centre,
    /// It ends at its point.
    Right,
}

/// Words in a drawing. The point lies at half the height of the capitals.
#[derive(Clone, Debug, PartialEq)]
pub struct Words {
    /// Where.
    pub at: [f64; 2],
    /// Which end stands there.
    pub anchor: Anchor,
    /// Type size in points.
    pub size: f64,
    /// In the bolder weight.
    pub strong: bool,
    /// Ink.
    pub ink: Ink,
    /// What.
    pub text: String,
}

/// One shape.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A straight line with butt ends.
    Line {
        /// From here.
        from: [f64; 2],
        /// To here.
        to: [f64; 2],
        /// Ink and width.
        outline: Outline,
    },
    /// An upright rectangle.
    Rect {
        /// Top left.
        min: [f64; 2],
        /// Bottom right.
        max: [f64; 2],
        /// Radius of its corners.
        radius: f64,
        /// Its inside.
        fill: Option<Ink>,
        /// Its edge.
        outline: Option<Outline>,
    },
    /// A circle.
    Circle {
        /// Centre.
        centre: [f64; 2],
        /// Radius.
        radius: f64,
        /// Its inside.
        fill: Option<Ink>,
        /// Its edge.
        outline: Option<Outline>,
    },
    /// A closed polygon.
    Polygon {
        /// Its corners in order.
        points: Vec<[f64; 2]>,
        /// Its inside.
        fill: Option<Ink>,
        /// Its edge.
        outline: Option<Outline>,
    },
    /// Words.
    Words(Words),
}

/// Shapes from back to front, within a rectangle whose top left is the origin.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// Points across.
    pub width: f64,
    /// Points down.
    pub height: f64,
    /// From back to front.
    pub shapes: Vec<Shape>,
}

impl Drawing {
    /// Puts `other` into this drawing with its origin at `at`; grows downwards if it must.
    pub fn place(&mut self, other: Drawing, at: [f64; 2]) {
        self.height = self.height.max(at[1] + other.height);
        self.shapes.extend(other.shapes.into_iter().map(|shape| shape.moved(at)));
    }

    /// The whole drawing enlarged or reduced, type and lines with it.
    pub fn scaled(self, by: f64) -> Self {
        let shapes = self.shapes.into_iter().map(|shape| shape.scaled(by)).collect();
        Self { width: self.width * by, height: self.height * by, shapes }
    }

    /// Adds a line.
    pub fn line(&mut self, from: [f64; 2], to: [f64; 2], width: f64, ink: Ink) {
        self.shapes.push(Shape::Line { from, to, outline: Outline { ink, width } });
    }

    /// Adds a filled rectangle.
    pub fn fill(&mut self, min: [f64; 2], max: [f64; 2], radius: f64, ink: Ink) {
        self.shapes.push(Shape::Rect { min, max, radius, fill: Some(ink), outline: None });
    }
}

impl Shape {
    /// The shape enlarged or reduced about the origin.
    fn scaled(self, by: f64) -> Self {
        let m = |p: [f64; 2]| [p[0] * by, p[1] * by];
        let edge = |o: Outline| Outline { width: o.width * by, ..o };
        match self {
            Self::Line { from, to, outline } => {
                Self::Line { from: m(from), to: m(to), outline: edge(outline) }
            }
            Self::Rect { min, max, radius, fill, outline } => {
                let (radius, outline) = (radius * by, outline.map(edge));
                Self::Rect { min: m(min), max: m(max), radius, fill, outline }
            }
            Self::Circle { centre, radius, fill, outline } => {
                let (radius, outline) = (radius * by, outline.map(edge));
                Self::Circle { centre: m(centre), radius, fill, outline }
            }
            Self::Polygon { points, fill, outline } => {
                let points = points.into_iter().map(m).collect();
                Self::Polygon { points, fill, outline: outline.map(edge) }
            }
            Self::Words(words) => {
                Self::Words(Words { at: m(words.at), size: words.size * by, ..words })
            }
        }
    }

    /// The shape shifted by `by`.
    pub fn moved(self, by: [f64; 2]) -> Self {
        let m = |p: [f64; 2]| [p[0] + by[0], p[1] + by[1]];
        match self {
            Self::Line { from, to, outline } => Self::Line { from: m(from), to: m(to), outline },
            Self::Rect { min, max, radius, fill, outline } => {
                Self::Rect { min: m(min), max: m(max), radius, fill, outline }
            }
            Self::Circle { centre, radius, fill, outline } => {
                Self::Circle { centre: m(centre), radius, fill, outline }
            }
            Self::Polygon { points, fill, outline } => {
                Self::Polygon { points: points.into_iter().map(m).collect(), fill, outline }
            }
            Self::Words(words) => Self::Words(Words { at: m(words.at), ..words }),
        }
    }
}
