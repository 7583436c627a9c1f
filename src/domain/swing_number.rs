//! Every number that is told of one swing, with its budget.

use super::{MarkWord, Measured, Quantity, SwingResult};

/// A number that is told of a swing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SwingNumber {
    /// One that is also collected over many swings.
    Collected(Quantity),
    /// The leading edge's height over the ground where it passes the ball, mm.
    HeightAtBall,
    /// The radius of the club head's path near the ground, mm.
    ArcRadius,
    /// How steeply the plane of that path stands on the ground, degrees.
    ArcPlane,
    /// Where the club head's path first reaches the ground, minus the ball, mm.
    PredictedContact,
    /// The ball minus the lead heel, mm.
    FromLeadHeel,
    /// The ball minus the trail heel, mm.
    FromTrailHeel,
    /// How far the ball lies on the way from trail to lead heel, percent.
    StanceShare,
    /// The reach line minus the ball, mm.
    ReachLine,
    /// The mark's start minus the reach line, mm.
    StartFromReachLine,
}

impl SwingNumber {
    /// All of them, in the order they are shown.
    pub const ALL: [Self; 13] = [
        Self::Collected(Quantity::DivotStart),
        Self::Collected(Quantity::LowPoint),
        Self::Collected(Quantity::DivotEnd),
        Self::Collected(Quantity::AttackAngle),
        Self::HeightAtBall,
        Self::ArcRadius,
        Self::ArcPlane,
        Self::PredictedContact,
        Self::FromLeadHeel,
        Self::FromTrailHeel,
        Self::StanceShare,
        Self::ReachLine,
        Self::StartFromReachLine,
    ];

    /// Plain words for it, where the mark in the ground is called so.
    pub fn words_of(self, mark: MarkWord) -> String {
        match self {
            Self::Collected(quantity) => quantity.words_of(mark).into(),
            Self::HeightAtBall => "height at the ball".into(),
            Self::ArcRadius => "radius of the arc".into(),
            Self::ArcPlane => "plane of the arc".into(),
            Self::PredictedContact => "path meets ground".into(),
            Self::FromLeadHeel => "ball from the lead heel".into(),
            Self::FromTrailHeel => "ball from the trail heel".into(),
            Self::StanceShare => "ball in the stance".into(),
            Self::ReachLine => "reach line".into(),
            Self::StartFromReachLine => format!("{} from the reach line", mark.start()),
        }
    }
}

impl From<Quantity> for SwingNumber {
    fn from(quantity: Quantity) -> Self {
        Self::Collected(quantity)
    }
}

impl SwingResult {
    /// A number of the swing with its budget, where it is known.
    pub fn number(&self, which: SwingNumber) -> Option<Measured> {
        match which {
            SwingNumber::Collected(quantity) => self.measured(quantity).cloned(),
            SwingNumber::HeightAtBall => self.height_at_ball.clone(),
            SwingNumber::ArcRadius => self.arc_radius.clone(),
            SwingNumber::ArcPlane => self.arc_plane.clone(),
            SwingNumber::PredictedContact => self.predicted_contact.clone(),
            SwingNumber::FromLeadHeel => self.ball_position.clone(),
            SwingNumber::FromTrailHeel => self.from_trail_heel.clone(),
            SwingNumber::StanceShare => self.stance_share(),
            SwingNumber::ReachLine => self.reach_line.clone(),
            SwingNumber::StartFromReachLine => {
                let (start, line) = (self.divot_start_offset.as_ref()?, self.reach_line.as_ref()?);
                let between = start.value - line.value;
                Some(Measured::made_of(between, &[(1.0, start), (-1.0, line)]))
            }
        }
    }

    /// `None` unless both heels are marked, the lead one ahead of the trail one.
    fn stance_share(&self) -> Option<Measured> {
        let (lead, trail) = (self.ball_position.as_ref()?, self.from_trail_heel.as_ref()?);
        let wide = trail.value - lead.value;
        if wide <= 0.0 {
            return None;
        }
        let share = 100.0 * trail.value / wide;
        // The slopes of t / (t - l), l and t being the ball's distances from lead and trail heel.
        let slopes = [trail.value, -lead.value].map(|of| 100.0 * of / (wide * wide));
        Some(Measured::made_of(share, &[(slopes[0], lead), (slopes[1], trail)]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Contribution, Source, SwingKind};

    /// Clicks of 2 mm, and a scale good to 1 %.
    fn placed(mm: f64) -> Option<Measured> {
        let scale = Contribution::new(Source::Calibration(0), 0.01 * mm);
        Some(Measured::new(mm, vec![Contribution::new(Source::Mark, 2.0), scale]))
    }

    #[test]
    fn a_share_of_the_stance_does_without_the_scale() {
        // 300 mm wide, the ball 90 mm behind the lead heel: 70 %, whatever the scale. One click of
        // 2 mm at each heel moves it by 0.7 · 2 / 3 and 0.3 · 2 / 3 percent.
        let result = SwingResult {
            ball_position: placed(-90.0),
            from_trail_heel: placed(210.0),
            ..SwingResult::without_numbers(SwingKind::Strike)
        };
        let share = result.number(SwingNumber::StanceShare).expect("two heels");
        assert!((share.value - 70.0).abs() < 1e-9);
        let u = (0.7f64.powi(2) + 0.3f64.powi(2)).sqrt() * 2.0 / 3.0;
        assert!((share.standard_uncertainty() - u).abs() < 1e-9, "{share:?}");
        let crossed = SwingResult { ball_position: placed(250.0), ..result };
        assert_eq!(crossed.number(SwingNumber::StanceShare), None);
    }

    #[test]
    fn what_a_start_and_its_line_share_cancels() {
        let result = SwingResult {
            divot_start_offset: placed(60.0),
            reach_line: placed(75.0),
            ..SwingResult::without_numbers(SwingKind::Practice)
        };
        let short = result.number(SwingNumber::StartFromReachLine).expect("both known");
        assert_eq!(short.value, -15.0);
        let u = (2.0f64.powi(2) * 2.0 + 0.15f64.powi(2)).sqrt();
        assert!((short.standard_uncertainty() - u).abs() < 1e-9, "{short:?}");
        let known = SwingNumber::ALL.into_iter().filter(|n| result.number(*n).is_some());
        assert_eq!(known.count(), 3);
    }
}
