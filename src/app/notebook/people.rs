//! Golfers, sessions, blocks, and what is said of swings.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::domain::{BallUse, Handed, Lie, Phase, Surface};
use crate::store::{BlockId, GolferId, SessionId, SwingId};
use crate::workflow::{Erasure, Listed};

/// Tags offered for a swing; any other word can be typed.
pub const TAGS: [&str; 9] =
    ["fat", "thin", "topped", "clean", "toe", "heel", "straight", "draw", "fade"];

/// What the chapter shows.
#[derive(Debug, Default)]
pub struct PeoplePage {
    /// The session's swings.
    pub swings: Option<(SessionId, Arc<Vec<Listed>>)>,
    /// The block new swings go into.
    pub running: Option<BlockId>,
    /// Swings picked to be moved, tagged or left out together.
    pub picked: BTreeSet<SwingId>,
    /// The field being typed in; kept when it is left.
    pub draft: Option<(PlanField, String)>,
    /// Removing the golfer for good was asked for once.
    pub erasing: Option<Erasing>,
}

/// A golfer who is about to be removed for good.
#[derive(Clone, Debug, PartialEq)]
pub struct Erasing {
    /// Who.
    pub golfer: GolferId,
    /// What would go along, once it is known.
    pub plan: Option<Arc<Erasure>>,
    /// The recordings that nobody else has go too.
    pub files: bool,
}

/// A field that is typed in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PlanField {
    /// The golfer's name.
    GolferName,
    /// Notes on the golfer.
    GolferNotes,
    /// Who agreed to what.
    Consent,
    /// The session's day.
    Date,
    /// Where.
    Place,
    /// Where the camera stood.
    Camera,
    /// The session's cue.
    Cue,
    /// Notes on the session.
    SessionNotes,
    /// A block's title.
    BlockTitle(BlockId),
    /// A block's club.
    BlockClub(BlockId),
    /// A block's cue.
    BlockCue(BlockId),
    /// Notes on a swing.
    SwingNotes(SwingId),
    /// Why the picked swings are left out.
    Reason,
    /// A tag for the picked swings.
    Tag,
}

/// What is done in the chapter.
#[derive(Clone, Debug)]
pub enum PeopleMessage {
    /// A field was typed into.
    Typed(PlanField, String),
    /// The field was left: keep what was typed.
    Keep,
    /// Which side the golfer plays from.
    Handed(Handed),
    /// The golfer is a child.
    Child(bool),
    /// Turf or mat.
    Surface(Surface),
    /// The lie of the ground.
    Lie(Lie),
    /// Removing the golfer for good.
    Erasing(ErasingMessage),
    /// Blocks of the session.
    Block(BlockMessage),
    /// The picked swings.
    Picked(PickedMessage),
}

/// Removing a golfer for good.
#[derive(Clone, Debug)]
pub enum ErasingMessage {
    /// Ask before it is done.
    Ask,
    /// The golfer's recordings go too, or stay.
    Files(bool),
    /// The golfer stays.
    Spare,
    /// Do it.
    Erase,
}

/// Blocks of the session.
#[derive(Clone, Debug)]
pub enum BlockMessage {
    /// A new block.
    Begin,
    /// New swings go into this block, or into none.
    Run(Option<BlockId>),
    /// Before, after, later.
    Phase(BlockId, Phase),
    /// With or without a ball.
    Ball(BlockId, BallUse),
    /// Take a block away; its swings stay.
    Remove(BlockId),
}

/// Swings picked to be moved, tagged or left out together.
#[derive(Clone, Debug)]
pub enum PickedMessage {
    /// Pick a swing, or no longer.
    Pick(SwingId, bool),
    /// Pick all swings of a block, or those of none.
    Block(Option<BlockId>),
    /// Pick none.
    None,
    /// Put them into a block, or out of any.
    Move(Option<BlockId>),
    /// Set a tag on them; where all have it, take it away.
    Tag(String),
    /// Leave them out, for the reason typed.
    LeaveOut,
    /// Count them again.
    Count,
}

macro_rules! part_of_people {
    ($($inner:ident in $group:ident;)+) => {
        $(impl From<$inner> for PeopleMessage {
            fn from(message: $inner) -> Self {
                Self::$group(message)
            }
        })+
    };
}

part_of_people! {
    ErasingMessage in Erasing;
    BlockMessage in Block;
    PickedMessage in Picked;
}
