//! Edits as the library keeps them: one transaction and one step of undo each.

use crate::app::message::Edit;
use crate::app::model::MarkName;
use crate::domain::{
    FrameIndex, Mark, MarkWord, PlacedBy, PlacedMark, Seconds, SwingKind, Timeline,
};
use crate::store::{
    CameraProfileId, Library, NewSwing, Of, RecordingId, Scope, SessionId, StoreError, SwingId,
};
use crate::workflow::{
    KeptError, add_tape_value, keep_lens_of_edges, kept_lenses, set_up_anew, use_lens,
};

/// Carries out an edit; returns the swing it added, if it added one.
///
/// # Errors
/// Why nothing was changed.
pub fn apply(
    library: &mut Library,
    session: Option<SessionId>,
    edit: Edit,
) -> Result<Option<SwingId>, KeptError> {
    let Some(session) = session else {
        return Err(StoreError::Missing { what: "session" }.into());
    };
    let scope = Scope::Session(session);
    match edit {
        Edit::Mark { swing, name, mark } => set_mark(library, scope, swing, name, mark)?,
        Edit::AddSwing { recording, strike, mark } => {
            return Ok(Some(add_swing(library, session, recording, strike, mark)?));
        }
        Edit::Strike { swing, frame } => set_strike(library, scope, swing, frame)?,
        Edit::Confirm { swing, accepted } => {
            let words = named("review", library, session, swing)?;
            library.edit(scope, &words, |edit| edit.set_confirmed(swing, &accepted))?;
        }
        Edit::Ground { swing, answer } => {
            let words = named("mark in the ground", library, session, swing)?;
            library.edit(scope, &words, |edit| edit.set_ground(swing, answer))?;
        }
        Edit::LeaveOut { swing, left_out } => {
            let words = named("leaving out", library, session, swing)?;
            let reason = left_out.then_some("left out by hand");
            library.edit(scope, &words, |edit| edit.leave_out(swing, reason))?;
        }
        Edit::Club { swing, club } => {
            let words = named("club", library, session, swing)?;
            library.edit(scope, &words, |edit| edit.set_club(swing, Some(&club)))?;
        }
        Edit::Kind { swing, kind } => {
            let words = named("kind", library, session, swing)?;
            library.edit(scope, &words, |edit| edit.set_kind(swing, kind))?;
        }
        Edit::Plan(edit) => crate::workflow::change_plan(library, Some(session), edit)?,
        Edit::Lens { recording, lens } => set_lens(library, recording, lens)?,
        Edit::KeepLens { recording, name } => {
            return keep_lens_of_edges(library, recording, &name).map(|()| None);
        }
        Edit::OwnSetup { recording } => set_up_anew(library, recording)?,
        Edit::Tape { swing, quantity, tape_mm } => {
            add_tape_value(library, swing, quantity, tape_mm)?;
        }
        Edit::Setup { recording, setup, what } => {
            library.edit(scope, what, |edit| edit.set_setup(recording, &setup).map(|_| ()))?;
        }
    }
    Ok(None)
}

/// Measures a recording by a lens of the library, or by none.
fn set_lens(
    library: &mut Library,
    recording: RecordingId,
    lens: Option<CameraProfileId>,
) -> Result<(), StoreError> {
    let kept = kept_lenses(library)?;
    let chosen = kept.iter().find(|kept| Some(kept.id) == lens);
    if lens.is_some() && chosen.is_none() {
        return Err(StoreError::Missing { what: "lens" });
    }
    use_lens(library, recording, chosen)
}

/// "divot start of swing 3".
fn named(
    what: &str,
    library: &Library,
    session: SessionId,
    swing: SwingId,
) -> Result<String, StoreError> {
    let swings = library.swings(Of::Session(session))?;
    let number = swings.iter().position(|row| row.id == swing).map_or(0, |i| i + 1);
    Ok(format!("{what} of swing {number}"))
}

fn set_mark(
    library: &mut Library,
    scope: Scope,
    swing: SwingId,
    name: MarkName,
    mark: Option<Mark>,
) -> Result<(), StoreError> {
    let Some(kind) = name.kind() else { return Ok(()) };
    let row = library.swing(swing)?;
    let Some(recording) = row.recording else {
        return Err(StoreError::Missing { what: "recording of this swing" });
    };
    let surface = library.shared_setup(recording)?.surface;
    let seen = row.result.as_ref().and_then(|result| result.ground_mark);
    let title = name.title(MarkWord::of(seen, surface)).to_lowercase();
    let words = named(&title, library, row.session, swing)?;
    library.edit(scope, &words, |edit| match mark {
        Some(mark) => {
            let placed = PlacedMark::by_person(kind, mark).numbered(name.part());
            edit.set_mark(recording, Some(swing), &placed).map(|_| ())
        }
        None => edit.remove_mark(recording, Some(swing), kind, name.part()),
    })
}

/// The middle between a frame and the next: contact came after the one and before the other.
fn between(timeline: &Timeline, frame: FrameIndex) -> Seconds {
    let last = timeline.len().saturating_sub(1);
    let (a, b) = (FrameIndex(frame.0.min(last)), FrameIndex((frame.0 + 1).min(last)));
    (timeline.time_of(a) + timeline.time_of(b)) / 2.0
}

fn timeline_of(library: &Library, recording: RecordingId) -> Result<Timeline, StoreError> {
    let timeline = library.timeline(recording)?.filter(|timeline| !timeline.is_empty());
    timeline.ok_or(StoreError::Missing { what: "frame table of this recording" })
}

fn add_swing(
    library: &mut Library,
    session: SessionId,
    recording: RecordingId,
    strike: Option<FrameIndex>,
    mark: Option<(MarkName, Mark)>,
) -> Result<SwingId, StoreError> {
    let timeline = timeline_of(library, recording)?;
    let new = NewSwing {
        recording: Some(recording),
        block: None,
        kind: SwingKind::Strike,
        club: None,
        strike_time: strike.map(|frame| between(&timeline, frame)),
        strike_by: PlacedBy::Person,
        invented: false,
    };
    let mark = mark.and_then(|(name, mark)| {
        Some(PlacedMark::by_person(name.kind()?, mark).numbered(name.part()))
    });
    library.edit(Scope::Session(session), "new swing", |edit| {
        let swing = edit.add_swing(session, &new)?;
        if let Some(placed) = &mark {
            edit.set_mark(recording, Some(swing), placed)?;
        }
        Ok(swing)
    })
}

fn set_strike(
    library: &mut Library,
    scope: Scope,
    swing: SwingId,
    frame: FrameIndex,
) -> Result<(), StoreError> {
    let row = library.swing(swing)?;
    let Some(recording) = row.recording else {
        return Err(StoreError::Missing { what: "recording of this swing" });
    };
    let time = between(&timeline_of(library, recording)?, frame);
    let words = named("strike", library, row.session, swing)?;
    library.edit(scope, &words, |edit| edit.set_strike_time(swing, time, PlacedBy::Person))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{FrameEntry, Pts, TimeBase};

    #[test]
    fn a_strike_by_hand_lies_between_two_frames() {
        // Uneven gaps: 0, 10, 50 ms.
        let frames = [0, 10, 50].map(|pts| FrameEntry { pts: Pts(pts), key: true }).to_vec();
        let time_base = TimeBase { numerator: 1, denominator: 1000 };
        let timeline = Timeline { time_base, frames, slow_factor: 1.0 };
        assert!((between(&timeline, FrameIndex(1)).0 - 0.03).abs() < 1e-12);
        // So the last frame at or before the strike is the one that was shown.
        assert_eq!(timeline.frame_at(between(&timeline, FrameIndex(0))), FrameIndex(0));
        assert_eq!(between(&timeline, FrameIndex(9)), Seconds(0.05));
    }
}
