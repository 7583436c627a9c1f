//! What a bundle would add to a library, and adding it.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::archive::Bundle;
use super::parts::{BlockPart, GolferPart, RecordingPart, SessionPart, SetupPart, SwingPart};
use super::{BundleError, Copying, file_error};
use crate::domain::{Block, Session, counted};
use crate::store::{
    AimWindowRow, BlockId, CalibrationId, CameraProfile, Edit, GolferId, Library, NewRecording,
    NewSwing, RecordingId, Result as StoreResult, Scope, SessionId, TapeCheck, identify_file,
};
use crate::workflow::Progress;

/// What taking a bundle in would do.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Plan {
    /// The golfer's name.
    pub golfer: String,
    /// The golfer is in the library already: what is new is added to them.
    pub golfer_known: bool,
    /// Sessions that would be added.
    pub new_sessions: usize,
    /// Recordings that would be added.
    pub new_recordings: usize,
    /// Of these, how many files come with the bundle.
    pub files: usize,
    /// Swings that would be added.
    pub new_swings: usize,
    /// Swings that are there already.
    pub known_swings: usize,
}

impl Plan {
    /// In plain words, one line each.
    pub fn words(&self) -> String {
        let golfer = match self.golfer_known {
            true => format!("{} is in the library already.", self.golfer),
            false => format!("{} is new.", self.golfer),
        };
        format!(
            "{golfer}\nTo be added: {}, {} ({} with file), {}.\nThere already: {}.\n",
            counted(self.new_sessions, "session"),
            counted(self.new_recordings, "recording"),
            self.files,
            counted(self.new_swings, "swing"),
            counted(self.known_swings, "swing")
        )
    }
}

/// Where a session of the bundle meets the library.
struct Meeting {
    session: Option<SessionId>,
    blocks: Vec<Option<BlockId>>,
    /// Recordings the session holds already.
    known: Vec<bool>,
}

/// A session is the same if golfer, day and place are; a recording, if its content is; a swing,
/// if its recording is. Swings without a recording come in with a new session only.
fn meet(
    library: &Library,
    part: &GolferPart,
) -> Result<(Option<GolferId>, Vec<Meeting>), BundleError> {
    let golfers = library.golfers()?;
    let golfer = golfers.into_iter().find(|(_, g)| g.name == part.golfer.name).map(|(id, _)| id);
    let sessions = golfer.map_or(Ok(Vec::new()), |id| library.sessions(id))?;
    let mut meetings = Vec::new();
    for session in &part.sessions {
        let wanted = session.session()?;
        let same = |s: &Session| s.date == wanted.date && s.place == wanted.place;
        let found = sessions.iter().find(|row| same(&row.session)).map(|row| row.id);
        meetings.push(match found {
            None => Meeting {
                session: None,
                blocks: vec![None; session.blocks.len()],
                known: vec![false; session.recordings.len()],
            },
            Some(id) => meet_session(library, id, session)?,
        });
    }
    Ok((golfer, meetings))
}

fn meet_session(
    library: &Library,
    id: SessionId,
    part: &SessionPart,
) -> Result<Meeting, BundleError> {
    let (blocks, recordings) = (library.blocks(id)?, library.recordings(id)?);
    let alike = |a: &Block, b: &BlockPart| {
        (&a.title, a.phase, a.ball, &a.drill) == (&b.title, b.phase, b.ball, &b.drill)
    };
    let block_of = |b: &BlockPart| blocks.iter().find(|(_, a)| alike(a, b)).map(|(id, _)| *id);
    let is_known = |r: &RecordingPart| recordings.iter().any(|row| row.identity == r.identity());
    Ok(Meeting {
        session: Some(id),
        blocks: part.blocks.iter().map(block_of).collect(),
        known: part.recordings.iter().map(is_known).collect(),
    })
}

impl Meeting {
    fn is_new(&self, swing: &SwingPart) -> bool {
        swing.recording.map_or(self.session.is_none(), |i| !self.known[i])
    }
}

/// What taking the bundle in would do; nothing is written.
///
/// # Errors
/// The library can't be read.
pub fn plan(library: &Library, bundle: &Bundle) -> Result<Plan, BundleError> {
    let part = &bundle.part;
    let (golfer, meetings) = meet(library, part)?;
    let mut plan = Plan {
        golfer: part.golfer.name.clone(),
        golfer_known: golfer.is_some(),
        ..Plan::default()
    };
    for (session, meeting) in part.sessions.iter().zip(&meetings) {
        plan.new_sessions += usize::from(meeting.session.is_none());
        let new = session.recordings.iter().zip(&meeting.known).filter(|(_, known)| !**known);
        plan.new_recordings += new.clone().count();
        plan.files += new.filter(|(r, _)| r.entry.is_some()).count();
        let new_swings = session.swings.iter().filter(|s| meeting.is_new(s)).count();
        plan.new_swings += new_swings;
        plan.known_swings += session.swings.len() - new_swings;
    }
    Ok(plan)
}

/// Where a bundle's recordings go unless somebody says otherwise: beside the library.
pub fn usual_folder(library: &Path) -> PathBuf {
    library.parent().unwrap_or(Path::new(".")).join("recordings")
}

/// Takes the bundle in: recordings into `folder`, everything else into the library in one step
/// that can be undone. If anything fails, the library is as it was and files that were taken
/// out are removed again.
///
/// # Errors
/// A recording can't be taken out, the library not written, or it was stopped.
pub fn merge(
    library: &mut Library,
    bundle: &mut Bundle,
    folder: &Path,
    progress: &mut Progress,
) -> Result<Plan, BundleError> {
    let told = plan(library, bundle)?;
    let mut taken = Vec::new();
    let outcome = take_recordings(library, bundle, folder, &mut taken, progress)
        .and_then(|places| write(library, &bundle.part, &places));
    if outcome.is_err() {
        for path in taken {
            // The error that is passed on says more than a failure to clean up.
            let _ = std::fs::remove_file(path);
        }
    }
    outcome.map(|()| told)
}

/// Where each recording that is new lies now, by session and place in it.
type Places = BTreeMap<(usize, usize), PathBuf>;

fn take_recordings(
    library: &Library,
    bundle: &mut Bundle,
    folder: &Path,
    taken: &mut Vec<PathBuf>,
    progress: &mut Progress,
) -> Result<Places, BundleError> {
    let (_, meetings) = meet(library, &bundle.part)?;
    let recordings = bundle.part.sessions.iter().flat_map(|s| &s.recordings);
    let bytes = recordings.fold(0u64, |sum, r| sum.saturating_add(r.identity().size_bytes));
    let mut copying = Copying::new("Taking the recordings out", bytes, progress);
    let mut places = Places::new();
    for (s, meeting) in meetings.iter().enumerate() {
        for r in (0..meeting.known.len()).filter(|r| !meeting.known[*r]) {
            let recording = bundle.part.sessions[s].recordings[r].clone();
            // Without its file the recording is found again by its content once it turns up.
            let mut path = PathBuf::from(&recording.file_name);
            if let Some(entry) = &recording.entry {
                let (target, is_new) = bundle.take_out(entry, folder, &mut copying)?;
                if is_new {
                    taken.push(target.clone());
                }
                let found = identify_file(&target)?;
                if found != recording.identity() {
                    return Err(BundleError::Damaged { entry: entry.clone() });
                }
                path = std::path::absolute(&target).map_err(file_error(&target))?;
            }
            places.insert((s, r), path);
        }
    }
    Ok(places)
}

fn write(library: &mut Library, part: &GolferPart, places: &Places) -> Result<(), BundleError> {
    let (golfer, meetings) = meet(library, part)?;
    let sessions = part.sessions.iter().map(SessionPart::session);
    let sessions = sessions.collect::<Result<Vec<Session>, BundleError>>()?;
    let words = format!("{} carried over", part.golfer.name);
    library.edit(Scope::Library, &words, |edit| {
        let id = match golfer {
            Some(id) => id,
            None => {
                let id = edit.add_golfer(&part.golfer)?;
                for window in &part.aim_windows {
                    let (club, quantity) = (window.club.clone(), window.quantity);
                    let (low_mm, high_mm) = (window.low_mm, window.high_mm);
                    edit.set_aim_window(id, &AimWindowRow { club, quantity, low_mm, high_mm })?;
                }
                id
            }
        };
        for (s, (session, meeting)) in sessions.iter().zip(&meetings).enumerate() {
            let kept = match meeting.session {
                Some(kept) => kept,
                None => edit.add_session(id, session)?,
            };
            write_session(edit, kept, &part.sessions[s], meeting, |r| places.get(&(s, r)))?;
        }
        Ok(())
    })?;
    Ok(())
}

fn write_session<'a>(
    edit: &Edit<'_>,
    id: SessionId,
    part: &SessionPart,
    meeting: &Meeting,
    place: impl Fn(usize) -> Option<&'a PathBuf>,
) -> StoreResult<()> {
    let mut blocks = Vec::new();
    for (block, known) in part.blocks.iter().zip(&meeting.blocks) {
        blocks.push(match known {
            Some(known) => *known,
            None => edit.add_block(id, &block.block())?,
        });
    }
    let mut standings: Vec<Option<CalibrationId>> = vec![None; part.setups.len()];
    let mut recordings: Vec<Option<RecordingId>> = Vec::new();
    for (r, recording) in part.recordings.iter().enumerate() {
        recordings.push(match place(r) {
            None => None,
            Some(path) => {
                Some(write_recording(edit, id, recording, path, &part.setups, &mut standings)?)
            }
        });
    }
    for swing in part.swings.iter().filter(|s| meeting.is_new(s)) {
        let recording = swing.recording.and_then(|r| recordings[r]);
        write_swing(edit, id, swing, recording, swing.block.map(|b| blocks[b]))?;
    }
    Ok(())
}

fn write_recording(
    edit: &Edit<'_>,
    session: SessionId,
    part: &RecordingPart,
    path: &Path,
    setups: &[SetupPart],
    standings: &mut [Option<CalibrationId>],
) -> StoreResult<RecordingId> {
    let new = NewRecording { path: path.to_owned(), identity: part.identity() };
    let id = edit.add_recording(session, &new)?;
    if let (Some(timeline), Some(facts)) = (&part.timeline, &part.facts) {
        edit.set_facts(id, timeline, facts)?;
    }
    if let Some(hash) = &part.full_hash {
        edit.set_full_hash(id, hash)?;
    }
    if let Some(s) = part.setup {
        match standings[s] {
            Some(standing) => edit.share_setup(id, Some(standing))?,
            None => {
                let standing = edit.set_setup(id, &setups[s].setup)?;
                if let Some(camera) = &setups[s].camera {
                    let (name, lens) = (camera.name.clone(), camera.lens.clone());
                    let (camera, notes) = (camera.camera.clone(), camera.notes.clone());
                    let profile = CameraProfile { name, camera, lens, notes };
                    let profile = edit.add_camera_profile(&profile)?;
                    edit.use_camera_profile(standing, Some(profile))?;
                }
                standings[s] = Some(standing);
            }
        }
    }
    edit.set_view_differs(id, part.view_differs.as_ref())?;
    for mark in &part.marks {
        edit.set_mark(id, None, &mark.placed())?;
    }
    Ok(id)
}

fn write_swing(
    edit: &Edit<'_>,
    session: SessionId,
    part: &SwingPart,
    recording: Option<RecordingId>,
    block: Option<BlockId>,
) -> StoreResult<()> {
    let id = edit.add_swing(
        session,
        &NewSwing {
            recording,
            block,
            kind: part.kind,
            club: part.club.clone(),
            strike_time: part.strike_time,
            strike_by: part.strike_by,
            invented: part.invented,
        },
    )?;
    edit.leave_out(id, part.left_out.as_deref())?;
    edit.set_tags(id, &part.tags)?;
    edit.set_swing_notes(id, &part.notes)?;
    edit.set_confirmed(id, &part.confirmed)?;
    if let Some(found) = &part.found {
        edit.set_found(id, found)?;
    }
    if let Some(recording) = recording {
        for mark in &part.marks {
            edit.set_mark(recording, Some(id), &mark.placed())?;
        }
    }
    if part.ground.is_some() {
        edit.set_ground(id, part.ground)?;
    }
    for check in &part.tape_checks {
        let (quantity, tape_mm) = (check.quantity, check.tape_mm);
        edit.add_tape_check(id, &TapeCheck { quantity, tape_mm, notes: check.notes.clone() })?;
    }
    // Last, since marks and findings put a result out of date.
    if let Some(result) = &part.result {
        edit.set_result(id, result)?;
    }
    Ok(())
}
