//! A number with its doubt.

use serde::{Deserialize, Serialize};

use super::Warning;

/// Where a piece of doubt comes from. Two results that share a calibration share the
/// `Calibration…`, `Lens` and `TargetLine` parts: they are added with sign first, in quadrature
/// across sources after. So they do not average away over the swings of one standing.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Source {
    /// Placing or finding the ball (or the point that stands in for it), along the picture's rows.
    Ball,
    /// The same up and down in the picture, which is depth on the ground.
    BallDepth,
    /// Placing or finding the mark itself.
    Mark,
    /// A principal component of the calibration's joint uncertainty: shared by all results
    /// of one calibration. The number tells the components apart.
    Calibration(usize),
    /// The direction of the target line on the ground.
    TargetLine,
    /// The lens.
    Lens,
    /// The ball's height above the ground: its centre is not on the plane.
    BallHeight,
    /// Bringing two frames into register.
    Steadying,
    /// Scatter of the club head about the fitted arc.
    ArcFit,
    /// What the model leaves out.
    Model,
    /// How swings scatter, as it stands in their mean.
    Scatter,
}

impl Source {
    /// Plain words for tables.
    pub fn words(&self) -> &'static str {
        match self {
            Self::Ball => "ball position",
            Self::BallDepth => "ball's depth",
            Self::Mark => "mark position",
            Self::Calibration(_) => "scale and camera",
            Self::TargetLine => "target line",
            Self::Lens => "lens",
            Self::BallHeight => "ball height",
            Self::Steadying => "steadying",
            Self::ArcFit => "arc fit",
            Self::Model => "model",
            Self::Scatter => "scatter of the swings",
        }
    }

    /// Whether two numbers of one swing share it: it moves both at once. A mark's own place, its
    /// steadying, an arc and a model belong to the number alone.
    fn is_shared(&self) -> bool {
        match self {
            Self::Ball | Self::BallDepth | Self::BallHeight => true,
            Self::Calibration(_) | Self::TargetLine | Self::Lens => true,
            Self::Mark | Self::Steadying | Self::ArcFit | Self::Model | Self::Scatter => false,
        }
    }
}

/// One signed standard contribution to a value's uncertainty, in the value's unit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Contribution {
    /// Where it comes from.
    pub source: Source,
    /// Sensitivity times standard uncertainty; the sign matters only between results that
    /// share the source.
    pub standard: f64,
    /// Degrees of freedom; `None` for a type B estimate taken as exact.
    pub freedom: Option<f64>,
}

impl Contribution {
    /// A type B contribution.
    pub fn new(source: Source, standard: f64) -> Self {
        Self { source, standard, freedom: None }
    }
}

/// A 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Interval {
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

impl Interval {
    /// Half the interval's width: the expanded uncertainty.
    pub fn half_width(self) -> f64 {
        (self.high - self.low) / 2.0
    }

    /// How far it reaches from `value` on the side where it reaches farther: a single ± that leaves
    /// nothing of it out.
    pub fn reach(self, value: f64) -> f64 {
        (value - self.low).max(self.high - value)
    }

    /// Whether `value` lies within.
    pub fn contains(self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }
}

/// A value, what makes it doubtful, and what was odd on the way.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// The value, in the unit its holder names (mm for offsets, degrees for angles).
    pub value: f64,
    /// Signed standard contributions in the unit of `value`.
    pub budget: Vec<Contribution>,
    /// Where the propagation of distributions (JCGM 101) disagrees with the sum of the
    /// budget, its interval; it then takes the place of the linear one.
    pub monte_carlo: Option<Interval>,
    /// What was odd on the way.
    pub warnings: Vec<Warning>,
}

impl Measured {
    /// A value with its budget and no warnings.
    pub fn new(value: f64, budget: Vec<Contribution>) -> Self {
        Self { value, budget, monte_carlo: None, warnings: Vec::new() }
    }

    /// A value made of others of the same swing, with how much it changes with each of them: what
    /// they share is added with its sign, their own parts stay apart (JCGM 100:2008, 5.1 and 5.2.2,
    /// note 1).
    ///
    /// ```
    /// use scuffline::domain::{Contribution, Measured, Source};
    ///
    /// // Start 90 mm and line 75 mm ahead: the scale's 1 % is 1 % of the 15 mm between them.
    /// let placed = |mm: f64| {
    ///     let scale = Contribution::new(Source::Calibration(0), 0.01 * mm);
    ///     Measured::new(mm, vec![Contribution::new(Source::Mark, 2.0), scale])
    /// };
    /// let (start, line) = (placed(90.0), placed(75.0));
    /// let between = Measured::made_of(15.0, &[(1.0, &start), (-1.0, &line)]);
    /// let u = (2.0f64.powi(2) + 2.0f64.powi(2) + 0.15f64.powi(2)).sqrt();
    /// assert!((between.standard_uncertainty() - u).abs() < 1e-12);
    /// ```
    pub fn made_of(value: f64, parts: &[(f64, &Measured)]) -> Self {
        let mut budget: Vec<Contribution> = Vec::new();
        for (slope, part) in parts {
            for c in &part.budget {
                let standard = slope * c.standard;
                let same = |of: &&mut Contribution| of.source == c.source && c.source.is_shared();
                match budget.iter_mut().find(same) {
                    Some(sum) => sum.standard += standard,
                    None => budget.push(Contribution { standard, ..c.clone() }),
                }
            }
        }
        Self::new(value, budget)
    }

    /// The combined standard uncertainty: root sum of squares (JCGM 100:2008, 5.1.2), the
    /// contributions being of independent sources.
    pub fn standard_uncertainty(&self) -> f64 {
        self.budget.iter().map(|c| c.standard.powi(2)).sum::<f64>().sqrt()
    }

    /// The effective degrees of freedom of the budget; `None`: infinite.
    ///
    /// Method: Welch-Satterthwaite (JCGM 100:2008, G.4.1), not truncated to a whole number (G.4.2
    /// allows either; t is defined between).
    pub fn effective_freedom(&self) -> Option<f64> {
        let part = |c: &Contribution| c.freedom.map(|nu| c.standard.powi(4) / nu);
        let spread: f64 = self.budget.iter().filter_map(part).sum();
        (spread > 0.0).then(|| self.standard_uncertainty().powi(4) / spread)
    }
}
