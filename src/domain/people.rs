//! Golfers, clubs and lies.

use serde::{Deserialize, Serialize};

use super::Direction;

/// Which side a golfer plays from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Handed {
    /// Right-handed.
    #[default]
    Right,
    /// Left-handed.
    Left,
}

impl Handed {
    /// Where the target lies in a face-on picture of such a golfer.
    pub fn target_in_picture(self) -> Direction {
        match self {
            Self::Right => Direction::Right,
            Self::Left => Direction::Left,
        }
    }
}

/// The lie of the ground a session was played from, seen along the target line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Lie {
    /// Level.
    #[default]
    Level,
    /// Uphill toward the target.
    Up,
    /// Downhill toward the target.
    Down,
}

/// A golfer in the library.
#[derive(Clone, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Golfer {
    /// As the coach writes it.
    pub name: String,
    /// Which side they play from.
    pub handed: Handed,
    /// Free notes.
    pub notes: String,
    /// A child: sharing asks for the guardian's consent.
    pub child: bool,
    /// Who agreed to what and when, in the coach's words; empty: nobody was asked yet.
    pub consent: String,
    /// Not a real person: shown as such wherever the name is shown.
    pub invented: bool,
}

/// A club by its trade name, such as "7-iron", "PW", "driver".
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Club(pub String);

impl Club {
    /// Any club the name of which says driver.
    pub fn is_driver(&self) -> bool {
        self.0.to_lowercase().contains("driver")
    }

    /// Fairway woods: "3-wood", "5 wood", but not the driver.
    pub fn is_fairway_wood(&self) -> bool {
        self.0.to_lowercase().contains("wood") && !self.is_driver()
    }
}
