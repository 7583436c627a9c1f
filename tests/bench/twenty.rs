//! A library with one session of twenty swings, for what is timed about the window.

use std::path::Path;

use scuffline::domain::{Golfer, PlacedBy, Seconds, Session, SwingKind};
use scuffline::store::{Library, NewSwing, Of, RecordingId, Scope, SessionId};
use scuffline::video::Recording;
use scuffline::workflow::{Progress, read_in};

/// Swings of the session.
pub const SWINGS: usize = 20;

/// A library with one session of twenty swings of one recording, all measured.
pub fn make_library(path: &Path, recording: &Path) -> anyhow::Result<()> {
    let mut library = Library::open(path)?;
    let golfer = Golfer { name: "A. Nobody (invented)".into(), ..Golfer::default() };
    let golfer = library.edit(Scope::Library, "golfer", |edit| edit.add_golfer(&golfer))?;
    let day = Session::on(jiff::civil::date(2026, 5, 3));
    let session = library.edit(Scope::Library, "session", |edit| edit.add_session(golfer, &day))?;
    let mut file = Recording::open(recording)?;
    let id = read_in(&mut library, session, &mut file, None, &mut Progress::silent())?;
    fill_up(&mut library, session, id)?;
    library.save(|edit| edit.set_setting("window", r#"{"guide_dismissed": true}"#))?;
    library.save(|edit| edit.set_setting("window.session", &session.0.to_string()))?;
    Ok(())
}

/// More swings like those that were found, until there are enough.
fn fill_up(library: &mut Library, session: SessionId, id: RecordingId) -> anyhow::Result<()> {
    let found = library.swings(Of::Recording(id))?;
    anyhow::ensure!(!found.is_empty(), "no swing was found in the recording");
    library.edit(Scope::Session(session), "more swings", |edit| {
        for i in found.len()..SWINGS {
            let like = &found[i % found.len()];
            let new = NewSwing {
                recording: Some(id),
                block: None,
                kind: SwingKind::Strike,
                club: None,
                strike_time: like.strike_time.map(|t| Seconds(t.0 + 0.001 * i as f64)),
                strike_by: PlacedBy::Program,
                invented: true,
            };
            let swing = edit.add_swing(session, &new)?;
            if let Some(swing_found) = &like.found {
                edit.set_found(swing, swing_found)?;
            }
            if let Some(result) = &like.result {
                edit.set_result(swing, result)?;
            }
        }
        Ok(())
    })?;
    Ok(())
}
