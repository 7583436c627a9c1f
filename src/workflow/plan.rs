//! Changes of people and plans as the library keeps them: one step of undo each.

use super::erase::erase;
use super::kept::RUNNING_BLOCK;
use super::tell::swings_words;
use crate::domain::{Block, Club, Golfer, Millimetres, Quantity, Session};
use crate::store::{
    AimWindowRow, BlockId, GolferId, Library, Of, Result, Scope, SessionId, SwingId,
};

/// A change of people and plans: one step of undo.
#[derive(Clone, Debug, PartialEq)]
pub enum PlanEdit {
    /// What is known of a golfer; the words say what was changed.
    Golfer(GolferId, Box<Golfer>, &'static str),
    /// What is known of a session.
    Session(SessionId, Box<Session>, &'static str),
    /// What is known of a block.
    Block(BlockId, Box<Block>, &'static str),
    /// A new block, into which new swings go from now on.
    Begin(SessionId, Box<Block>),
    /// New swings go into this block, or into none.
    Run(Option<BlockId>),
    /// A block is taken away; its swings stay.
    RemoveBlock(BlockId),
    /// Swings go into a block, or out of any.
    Move(Vec<SwingId>, Option<BlockId>),
    /// A swing's tags.
    Tags(SwingId, Vec<String>),
    /// A swing's notes.
    Notes(SwingId, String),
    /// Swings are left out for a reason, or count again.
    LeaveOut(Vec<SwingId>, Option<String>),
    /// A golfer's own aim window.
    Aim(GolferId, AimWindowRow),
    /// Back to the usual one.
    UsualAim(GolferId, Club, Quantity),
    /// A golfer with everything, for good; with the recordings that nobody else has, or not.
    Erase(GolferId, bool),
}

impl PlanEdit {
    /// A golfer's own aim window between two ends, mm ahead of the ball, in either order. `None`
    /// unless they are two and lie within a metre of the ball.
    pub fn aim(golfer: GolferId, club: Club, quantity: Quantity, [a, b]: [f64; 2]) -> Option<Self> {
        let (low_mm, high_mm) = (a.min(b), a.max(b));
        let reach = Millimetres::METRE.0;
        let is_window = low_mm < high_mm && low_mm >= -reach && high_mm <= reach;
        let window = AimWindowRow { club, quantity, low_mm, high_mm };
        (is_window && a.is_finite() && b.is_finite()).then_some(Self::Aim(golfer, window))
    }
}

/// Carries out a change; `session`: the one looked at, through whose steps undo goes.
///
/// # Errors
/// Why nothing was changed.
pub fn change_plan(
    library: &mut Library,
    session: Option<SessionId>,
    edit: PlanEdit,
) -> Result<()> {
    let scope = session.map_or(Scope::Library, Scope::Session);
    match edit {
        PlanEdit::Golfer(id, golfer, what) => {
            library.edit(scope, &format!("the golfer's {what}"), |e| e.update_golfer(id, &golfer))
        }
        PlanEdit::Session(id, session, what) => {
            library
                .edit(scope, &format!("the session's {what}"), |e| e.update_session(id, &session))
        }
        PlanEdit::Block(id, block, what) => {
            let words = format!("{what} of {}", named(&block.title));
            library.edit(scope, &words, |e| e.update_block(id, &block))
        }
        PlanEdit::Begin(session, block) => begin_block(library, session, &block).map(|_| ()),
        PlanEdit::Run(block) => run(library, block),
        PlanEdit::RemoveBlock(id) => {
            library.edit(scope, "block taken away", |e| e.remove_block(id))
        }
        PlanEdit::Move(swings, block) => {
            let words = format!("moving {}", counted(library, session, &swings)?);
            library.edit(scope, &words, |e| e.put_in_block(&swings, block))
        }
        PlanEdit::Tags(swing, tags) => {
            let words = format!("tags of {}", counted(library, session, &[swing])?);
            library.edit(scope, &words, |e| e.set_tags(swing, &tags))
        }
        PlanEdit::Notes(swing, notes) => {
            let words = format!("notes on {}", counted(library, session, &[swing])?);
            library.edit(scope, &words, |e| e.set_swing_notes(swing, &notes))
        }
        PlanEdit::LeaveOut(swings, reason) => {
            let what = if reason.is_some() { "leaving out" } else { "counting" };
            let words = format!("{what} {}", counted(library, session, &swings)?);
            library.edit(scope, &words, |e| {
                swings.iter().try_for_each(|swing| e.leave_out(*swing, reason.as_deref()))
            })
        }
        PlanEdit::Aim(golfer, window) => {
            let words = format!("aim window, {}", window.club.0);
            library.edit(scope, &words, |e| e.set_aim_window(golfer, &window))
        }
        PlanEdit::UsualAim(golfer, club, of) => {
            let words = format!("usual aim window, {}", club.0);
            library.edit(scope, &words, |e| e.clear_aim_window(golfer, &club, of))
        }
        PlanEdit::Erase(golfer, files) => erase(library, golfer, files).map(|_| ()),
    }
}

/// Makes a block into which new swings of its session go from now on.
///
/// # Errors
/// Why nothing was changed.
pub fn begin_block(library: &mut Library, session: SessionId, block: &Block) -> Result<BlockId> {
    let words = format!("new block {}", named(&block.title));
    let id = library.edit(Scope::Session(session), &words, |e| e.add_block(session, block))?;
    run(library, Some(id))?;
    Ok(id)
}

/// New swings go into this block from now on; nothing that undo takes back.
fn run(library: &mut Library, block: Option<BlockId>) -> Result<()> {
    let value = block.map_or(String::new(), |id| id.0.to_string());
    library.save(|e| e.set_setting(RUNNING_BLOCK, &value))
}

fn named(title: &str) -> &str {
    if title.trim().is_empty() { "a block" } else { title }
}

/// "swing 3", "4 swings".
fn counted(library: &Library, session: Option<SessionId>, swings: &[SwingId]) -> Result<String> {
    let (Some(session), [swing]) = (session, swings) else {
        return Ok(swings_words(swings.len()));
    };
    let all = library.swings(Of::Session(session))?;
    let number = all.iter().position(|row| row.id == *swing).map_or(0, |i| i + 1);
    Ok(format!("swing {number}"))
}
