//! Club by club, ball position against low point, and the season.

use std::sync::Arc;

use crate::domain::{Club, Quantity};
use crate::workflow::{ClubsStudy, SeasonStudy, Span};

/// What the chapter shows.
#[derive(Debug)]
pub struct ClubsPage {
    /// Which swings the table is about.
    pub span: Span,
    /// The table and the scatter.
    pub found: Option<Arc<ClubsStudy>>,
    /// Which number the season is about.
    pub quantity: Quantity,
    /// With which club; `None` within: all of them; `None` without: the one played most.
    pub club: Option<Option<Club>>,
    /// The season.
    pub season: Option<Arc<SeasonStudy>>,
}

impl Default for ClubsPage {
    fn default() -> Self {
        Self {
            span: Span::All,
            found: None,
            quantity: Quantity::DivotStart,
            club: None,
            season: None,
        }
    }
}

/// What is done in the chapter.
#[derive(Clone, Debug)]
pub enum ClubsMessage {
    /// Look at these swings.
    Look(Span),
    /// The season of this number.
    Chart(Quantity),
    /// The season with this club, or with all.
    Club(Option<Club>),
}
