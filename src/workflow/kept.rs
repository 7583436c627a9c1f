//! Recordings in the library: read in once, measured anew after every edit.

use std::path::Path;

use crate::domain::{
    Golfer, PictureError, PictureSize, Pictures, PlacedBy, PlacedMark, Session, Setup, Surface,
    SwingMarks, SwingResult, Timeline, Warning,
};
use crate::store::{
    BlockId, Edit, FileIdentity, GolferId, Library, NewRecording, NewSwing, Of, RecordingId,
    RecordingRow, Scope, SessionId, StoreError, SwingId, SwingRow, identify_file,
};
use crate::video::{CancelToken, Facts, Recording};

use super::carried::{doubt_numbers, view_to_be};
use super::evaluate::{Evaluation, SwingInput, evaluate};
use super::kept_error::KeptError;
use super::measure::{MeasureError, Measurement, clicks_of, has_frames, measure, steadied_setup};
use super::progress::Progress;
use super::reopen::reopen_known;
use super::state::chosen_threshold;

/// Under which key of the settings the block is kept that new swings go into.
pub const RUNNING_BLOCK: &str = "running-block";

/// The recording with the same content that `session` (any, if `None`) already holds.
///
/// # Errors
/// The library can't be read.
pub fn kept_recording(
    library: &Library,
    identity: &FileIdentity,
    session: Option<SessionId>,
) -> Result<Option<RecordingRow>, StoreError> {
    let rows = library.recordings_with(identity)?;
    Ok(rows.into_iter().find(|row| session.is_none_or(|s| row.session == s)))
}

/// Finds and measures the swings of a recording, then puts all of it into the library in one
/// step. `setup`: what is known of it; `None`: what the session's last recording of the same
/// size was set up with, since a camera on a tripod stays where it is.
///
/// A recording the session already holds is left as it is. One that was read in before its
/// file was whole gives way, unless a person has worked on it since.
///
/// # Errors
/// The recording can't be measured or the library not written; nothing is kept then.
pub fn read_in(
    library: &mut Library,
    session: SessionId,
    recording: &mut Recording,
    setup: Option<&Setup>,
    progress: &mut Progress,
) -> Result<RecordingId, KeptError> {
    recording.hold_little();
    let identity = identify_file(recording.path())?;
    let path = std::path::absolute(recording.path()).unwrap_or(recording.path().to_path_buf());
    if let Some(row) = kept_recording(library, &identity, Some(session))? {
        // It was moved, and here it is again.
        if !row.path.exists() {
            library.save(|edit| edit.move_recording(row.id, &path))?;
        }
        return Ok(row.id);
    }
    let (setup, carried) = setup_to_use(library, session, recording, setup)?;
    let clicks = clicks_of(recording)?;
    let mut measurement = measure(recording, clicks.as_deref(), &setup, progress)?;
    if let Some(Carried { setup: shared, differs: Some(warning), .. }) = &carried {
        let Measurement { swings, inputs, .. } = &mut measurement;
        doubt_numbers(swings, inputs, shared, recording.size(), warning);
    }
    if !progress.report("Saving", 1.0) {
        return Err(MeasureError::from(PictureError::Cancelled).into());
    }
    let outgrown = outgrown(library, session, &path)?;
    let new = NewRecording { path, identity };
    Ok(keep(library, session, recording, new, &measurement, carried.as_ref(), &outgrown)?)
}

/// What a recording is measured with: what was given, else what is carried over. Where nothing was
/// placed or found in that, this recording begins a set-up with places and shares none.
fn setup_to_use(
    library: &mut Library,
    session: SessionId,
    recording: &mut Recording,
    given: Option<&Setup>,
) -> Result<(Setup, Option<Carried>), KeptError> {
    let last = match given {
        Some(_) => None,
        None => carried_setup(library, session, recording)?,
    };
    let setup = given.or(last.as_ref().map(|c| &c.setup)).cloned().unwrap_or_default();
    let setup = with_threshold(library, setup)?;
    let carried = last.filter(|last| last.setup.has_places());
    // One carried over is not this recording's to change.
    let said = if carried.is_none() { said_surface(library, session)? } else { None };
    Ok((Setup { surface: setup.surface.or(said), ..setup }, carried))
}

/// The surface that a person said the session is on: turf is what it begins with, so that says
/// nothing.
fn said_surface(library: &Library, session: SessionId) -> Result<Option<Surface>, StoreError> {
    Ok(Some(library.session(session)?.session.surface).filter(|surface| *surface == Surface::Mat))
}

/// The set-up of the session's last recording whose picture has the same size.
fn carried_setup(
    library: &mut Library,
    session: SessionId,
    recording: &mut Recording,
) -> Result<Option<Carried>, KeptError> {
    let size = recording.size();
    for row in library.recordings(session)?.into_iter().rev() {
        if row.calibration.is_some() && picture_size(&row) == Some(size) {
            let setup = library.shared_setup(row.id)?;
            // Its frames are those of its own recording; where that is gone, its points must do.
            let timeline = library.timeline(row.id)?;
            let steadied = timeline.map(|own| steady_kept(library, setup.clone(), &row, &own));
            let setup = steadied.and_then(Result::ok).map_or(setup, |(setup, _)| setup);
            let setup = setup.without_frames();
            let cancel = recording.cancel_token();
            let differs = match setup.has_places() {
                true => view_to_be(library, &row, recording, &cancel)?,
                false => None,
            };
            return Ok(Some(Carried { row, setup, differs }));
        }
    }
    Ok(None)
}

/// A set-up to be shared.
struct Carried {
    /// A recording that has it.
    row: RecordingRow,
    setup: Setup,
    /// That the camera stood elsewhere when it was made.
    differs: Option<Warning>,
}

/// What the file of a recording said of itself, where it was read.
pub(super) fn facts_of(row: &RecordingRow) -> Option<Facts> {
    serde_json::from_str(row.facts.as_ref()?).ok()
}

fn picture_size(row: &RecordingRow) -> Option<PictureSize> {
    let facts = facts_of(row)?;
    Some(PictureSize { width: facts.width, height: facts.height })
}

/// What was read in from this place when the file had another content, and was left as it was.
fn outgrown(
    library: &Library,
    session: SessionId,
    path: &Path,
) -> Result<Vec<RecordingId>, StoreError> {
    let mut outgrown = Vec::new();
    for row in library.recordings(session)?.into_iter().filter(|row| row.path == path) {
        let swings = library.swings(Of::Recording(row.id))?;
        let mut touched = !library.marks(row.id, None)?.is_empty();
        for swing in &swings {
            touched |= swing.strike_by == PlacedBy::Person
                || !swing.confirmed.is_empty()
                || swing.left_out.is_some()
                || swing.ground.is_some()
                || !library.marks(row.id, Some(swing.id))?.is_empty();
        }
        if !touched {
            outgrown.push(row.id);
        }
    }
    Ok(outgrown)
}

/// Puts recording, swings, a person's marks and results into the library: all or nothing.
fn keep(
    library: &mut Library,
    session: SessionId,
    recording: &Recording,
    new: NewRecording,
    measurement: &Measurement,
    carried: Option<&Carried>,
    outgrown: &[RecordingId],
) -> Result<RecordingId, StoreError> {
    let facts = serde_json::to_string(recording.facts())
        .map_err(|_| StoreError::BadValue { what: "facts of the recording" })?;
    let slow_factor = measurement.recording.slow_factor;
    let timeline = Timeline { slow_factor, ..recording.timeline().clone() };
    let setup = Setup { swings: Vec::new(), ..measurement.setup.clone() };
    // A set-up that several recordings share can't name the frames of one.
    let framed = match carried {
        Some(carried) => has_frames(&library.shared_setup(carried.row.id)?),
        None => false,
    };
    let block = running_block(library, session)?;
    let words = format!("recording {}", file_name(&new.path));
    library.edit(Scope::Session(session), &words, |edit| {
        if let Some(known) = edit.recording_with(session, &new.identity)? {
            return Ok(known);
        }
        outgrown.iter().try_for_each(|old| edit.remove_recording(*old))?;
        let id = edit.add_recording(session, &new)?;
        edit.set_facts(id, &timeline, &facts)?;
        match carried {
            Some(Carried { row, setup: steadied, differs }) => {
                edit.share_setup(id, row.calibration)?;
                edit.set_view_differs(id, differs.as_ref())?;
                if framed {
                    edit.set_setup(row.id, steadied)?;
                }
            }
            None if setup != Setup::default() => {
                edit.set_setup(id, &setup)?;
            }
            None => {}
        }
        for (input, result) in measurement.inputs.iter().zip(&measurement.swings) {
            let swing = edit.add_swing(session, &new_swing(id, block, input, result))?;
            keep_what_is_known(edit, id, swing, input, result)?;
        }
        Ok(id)
    })
}

fn new_swing(
    recording: RecordingId,
    block: Option<BlockId>,
    input: &SwingInput,
    result: &SwingResult,
) -> NewSwing {
    let given = input.given.strike_time.is_some();
    NewSwing {
        recording: Some(recording),
        block,
        kind: result.kind,
        club: None,
        strike_time: result.strike_time,
        strike_by: if given { PlacedBy::Person } else { PlacedBy::Program },
        invented: false,
    }
}

/// What was found of a swing, what a person gave, and what came of it.
fn keep_what_is_known(
    edit: &Edit,
    recording: RecordingId,
    swing: SwingId,
    input: &SwingInput,
    result: &SwingResult,
) -> Result<(), StoreError> {
    if let Some(found) = &input.found {
        edit.set_found(swing, found)?;
    }
    for placed in person_marks(&input.given) {
        edit.set_mark(recording, Some(swing), &placed)?;
    }
    if input.given.ground.is_some() {
        edit.set_ground(swing, input.given.ground)?;
    }
    edit.set_result(swing, result)
}

/// The block of this session that new swings go into, if one was begun.
///
/// # Errors
/// The library can't be read.
pub fn running_block(library: &Library, session: SessionId) -> Result<Option<BlockId>, StoreError> {
    let kept = library.setting(RUNNING_BLOCK)?.and_then(|text| text.parse().ok()).map(BlockId);
    let here = library.blocks(session)?;
    Ok(kept.filter(|id| here.iter().any(|(block, _)| block == id)))
}

fn person_marks(given: &SwingMarks) -> Vec<PlacedMark> {
    let placed = |(kind, part, mark)| PlacedMark::by_person(kind, mark).numbered(part);
    given.points().map(placed).collect()
}

/// What is known of each swing of a recording, in the order of [`Library::swings`].
///
/// `setup`: from [`Library::setup`], steadied.
pub fn inputs_of(rows: &[SwingRow], setup: &Setup) -> Vec<SwingInput> {
    rows.iter()
        .zip(&setup.swings)
        .map(|(row, given)| SwingInput {
            found: row.found.clone(),
            given: given.clone(),
            // A kind that is the program's own is still open to question.
            kind: (row.found.as_ref().map(|f| f.kind.value) != Some(row.kind)).then_some(row.kind),
            club: row.club.clone(),
        })
        .collect()
}

/// Measures the swings of a recording as they are marked now; `None`: its file was never read.
///
/// Reads the file only if a mark was read in a frame of its own and must be steadied.
///
/// # Errors
/// The library can't be read, or the references can't be used.
pub fn evaluate_kept(
    library: &Library,
    recording: RecordingId,
) -> Result<Option<Evaluation>, KeptError> {
    let row = library.recording(recording)?;
    let Some(timeline) = library.timeline(recording)? else { return Ok(None) };
    let Some(facts) = facts_of(&row) else { return Ok(None) };
    let size = PictureSize { width: facts.width, height: facts.height };
    let setup = with_threshold(library, library.setup(recording)?)?;
    let shared = library.shared_setup(recording)?;
    // A point may be the recording's own.
    let shared = Setup { origin: shared.origin.filter(|o| setup.origin == Some(*o)), ..shared };
    let (setup, moved) = steady_kept(library, setup, &row, &timeline)?;
    let inputs = inputs_of(&library.swings(Of::Recording(recording))?, &setup);
    let mut evaluation = evaluate(size, &timeline, &setup, &inputs)?;
    evaluation.warnings.extend(moved);
    if let Some(warning) = row.view_differs {
        doubt_numbers(&mut evaluation.swings, &inputs, &shared, size, &warning);
        evaluation.warnings.push(warning);
    }
    let factor = timeline.slow_factor;
    let guessed = (factor != facts.slow_factor).then_some(Warning::SlowMotionGuessed { factor });
    // First: the rest follows from it.
    evaluation.warnings.splice(0..0, guessed);
    Ok(Some(evaluation))
}

/// The set-up with the threshold for what to look at that the person chose.
fn with_threshold(library: &Library, setup: Setup) -> Result<Setup, StoreError> {
    let review_below = chosen_threshold(library)?.or(setup.review_below);
    Ok(Setup { review_below, ..setup })
}

/// A kept set-up with all its marks in the steadied picture.
pub(super) fn steady_kept(
    library: &Library,
    setup: Setup,
    row: &RecordingRow,
    timeline: &Timeline,
) -> Result<(Setup, Option<Warning>), KeptError> {
    if !has_frames(&setup) {
        return Ok((setup, None));
    }
    let mut recording = reopen_known(library, row, CancelToken::new())?;
    if recording.timeline().len() != timeline.len() {
        let note = "The file has another number of frames than when it was read in, so marks are not steadied by the frames they were read in; copy it again from the phone.".into();
        return Ok((setup, Some(Warning::Note { note })));
    }
    Ok(steadied_setup(&setup, &mut recording).map_err(MeasureError::from)?)
}

/// Measures the swings of a recording anew and keeps the numbers.
///
/// # Errors
/// As [`evaluate_kept`]; or the library can't be written.
pub fn remeasure(library: &mut Library, recording: RecordingId) -> Result<(), KeptError> {
    let Some(evaluation) = evaluate_kept(library, recording)? else { return Ok(()) };
    let rows = library.swings(Of::Recording(recording))?;
    library.save(|edit| {
        rows.iter()
            .zip(&evaluation.swings)
            .try_for_each(|(row, result)| edit.set_result(row.id, result))
    })?;
    Ok(())
}

/// The golfer of that name, added if there is none; without a name the first real one.
///
/// # Errors
/// The library can't be read or written.
pub fn golfer_named(library: &mut Library, name: Option<&str>) -> Result<GolferId, StoreError> {
    let wanted = |golfer: &Golfer| match name {
        Some(name) => golfer.name.eq_ignore_ascii_case(name.trim()),
        None => !golfer.invented,
    };
    if let Some((id, _)) = library.golfers()?.into_iter().find(|(_, golfer)| wanted(golfer)) {
        return Ok(id);
    }
    let name = name.unwrap_or("My swings").trim().to_owned();
    let golfer = Golfer { name: name.clone(), ..Golfer::default() };
    library.edit(Scope::Library, &format!("golfer {name}"), |edit| {
        // Another program may have added the same one meanwhile.
        match edit.golfer_called(&name)? {
            Some(known) => Ok(known),
            None => edit.add_golfer(&golfer),
        }
    })
}

/// The golfer's session of that day, added if there is none.
///
/// # Errors
/// The library can't be read or written.
pub fn session_on(
    library: &mut Library,
    golfer: GolferId,
    date: jiff::civil::Date,
) -> Result<SessionId, StoreError> {
    let known = library.sessions(golfer)?;
    if let Some(row) = known.iter().find(|row| row.session.date == date) {
        return Ok(row.id);
    }
    library.edit(Scope::Library, "new session", |edit| match edit.session_of(golfer, date)? {
        Some(known) => Ok(known),
        None => edit.add_session(golfer, &Session::on(date)),
    })
}

/// The name of a file without its folder.
pub fn file_name(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}
