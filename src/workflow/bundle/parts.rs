//! A golfer's part of the library as it is written into a bundle (schema 1). Rows point at
//! each other by their place in the lists of their session.

use serde::{Deserialize, Serialize};

use super::BundleError;
use crate::domain::{
    BallUse, Block, Club, FoundSwing, Golfer, GroundAnswer, Lie, Mark, MarkKind, Part, Phase,
    Pixels, PlacedBy, PlacedMark, Quantity, Reviewable, Seconds, Session, Setup, Surface,
    SwingKind, SwingResult, Timeline, Warning,
};
use crate::store::{AimWindowRow, CameraProfile, GolferId, Library, Of, RecordingRow, TapeCheck};

/// All of a golfer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct GolferPart {
    pub golfer: Golfer,
    pub aim_windows: Vec<AimPart>,
    pub sessions: Vec<SessionPart>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct AimPart {
    pub club: Club,
    pub quantity: Quantity,
    pub low_mm: f64,
    pub high_mm: f64,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct SessionPart {
    pub date: String,
    pub place: String,
    pub surface: Surface,
    pub lie: Lie,
    pub camera: String,
    pub cue: String,
    pub notes: String,
    pub blocks: Vec<BlockPart>,
    pub setups: Vec<SetupPart>,
    pub recordings: Vec<RecordingPart>,
    pub swings: Vec<SwingPart>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct BlockPart {
    pub title: String,
    pub phase: Phase,
    pub ball: BallUse,
    pub drill: Option<String>,
    pub club: Option<Club>,
    pub cue: String,
    pub notes: String,
}

/// A standing of the camera, shared by the recordings that name it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct SetupPart {
    pub setup: Setup,
    pub camera: Option<CameraPart>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct CameraPart {
    pub name: String,
    pub lens: String,
    /// Maker and model, as its files say.
    #[serde(default)]
    pub camera: String,
    pub notes: String,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct RecordingPart {
    /// Its name without the folder: where it lay is nobody else's business.
    pub file_name: String,
    pub size_bytes: u64,
    pub quick_hash: String,
    pub full_hash: Option<String>,
    pub facts: Option<String>,
    pub timeline: Option<Timeline>,
    pub setup: Option<usize>,
    /// Absent in bundles from before it was kept.
    #[serde(default)]
    pub view_differs: Option<Warning>,
    pub marks: Vec<MarkPart>,
    /// The entry of the bundle that holds the file.
    pub entry: Option<String>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct SwingPart {
    pub recording: Option<usize>,
    pub block: Option<usize>,
    pub kind: SwingKind,
    pub club: Option<Club>,
    pub strike_time: Option<Seconds>,
    pub strike_by: PlacedBy,
    pub invented: bool,
    pub left_out: Option<String>,
    pub tags: Vec<String>,
    pub notes: String,
    pub confirmed: Vec<Reviewable>,
    /// Absent in bundles from before a person could answer for the ground.
    #[serde(default)]
    pub ground: Option<GroundAnswer>,
    pub found: Option<FoundSwing>,
    /// Absent where it was out of date: it is then computed anew.
    pub result: Option<SwingResult>,
    pub marks: Vec<MarkPart>,
    pub tape_checks: Vec<TapePart>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct MarkPart {
    pub kind: MarkKind,
    /// Said beside `part` for programs that know only lines.
    pub second_end: bool,
    /// Absent in bundles from before the club head was marked.
    #[serde(default)]
    pub part: usize,
    pub mark: Mark,
    pub sigma: Option<Pixels>,
    pub by: PlacedBy,
    pub confidence: Option<f64>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct TapePart {
    pub quantity: Quantity,
    pub tape_mm: f64,
    pub notes: String,
}

impl From<&PlacedMark> for MarkPart {
    fn from(placed: &PlacedMark) -> Self {
        let PlacedMark { kind, part, mark, sigma, by, confidence } = *placed;
        Self { kind, second_end: part == Part(1), part: part.0, mark, sigma, by, confidence }
    }
}

impl MarkPart {
    pub(super) fn placed(&self) -> PlacedMark {
        let Self { kind, second_end, part, mark, sigma, by, confidence } = *self;
        let part = Part(part.max(usize::from(second_end)));
        PlacedMark { kind, part, mark, sigma, by, confidence }
    }
}

impl BlockPart {
    pub(super) fn block(&self) -> Block {
        let Self { title, phase, ball, drill, club, cue, notes } = self.clone();
        Block { title, phase, ball, drill, club, cue, notes }
    }
}

impl From<Block> for BlockPart {
    fn from(block: Block) -> Self {
        let Block { title, phase, ball, drill, club, cue, notes } = block;
        Self { title, phase, ball, drill, club, cue, notes }
    }
}

impl SessionPart {
    /// # Errors
    /// [`BundleError::NotABundle`] if the date is none.
    pub(super) fn session(&self) -> Result<Session, BundleError> {
        let wrong = |_| BundleError::NotABundle { why: format!("\"{}\" is no date", self.date) };
        Ok(Session {
            date: self.date.parse().map_err(wrong)?,
            place: self.place.clone(),
            surface: self.surface,
            lie: self.lie,
            camera: self.camera.clone(),
            cue: self.cue.clone(),
            notes: self.notes.clone(),
        })
    }
}

impl RecordingPart {
    pub(super) fn identity(&self) -> crate::store::FileIdentity {
        let (size_bytes, quick_hash) = (self.size_bytes, self.quick_hash.clone());
        crate::store::FileIdentity { size_bytes, quick_hash }
    }
}

/// Reads a golfer out of the library, with the rows of the recordings beside, session by
/// session.
///
/// # Errors
/// The library can't be read.
pub(super) fn gather(
    library: &Library,
    id: GolferId,
) -> Result<(GolferPart, Vec<Vec<RecordingRow>>), BundleError> {
    let windows = library.aim_windows(id)?.into_iter().map(|row| {
        let AimWindowRow { club, quantity, low_mm, high_mm } = row;
        AimPart { club, quantity, low_mm, high_mm }
    });
    let aim_windows = windows.collect();
    let (mut sessions, mut files) = (Vec::new(), Vec::new());
    for row in library.sessions(id)?.into_iter().rev() {
        let recordings = library.recordings(row.id)?;
        sessions.push(gather_session(library, &row, &recordings)?);
        files.push(recordings);
    }
    Ok((GolferPart { golfer: library.golfer(id)?, aim_windows, sessions }, files))
}

fn gather_session(
    library: &Library,
    row: &crate::store::SessionRow,
    recordings: &[RecordingRow],
) -> Result<SessionPart, BundleError> {
    let blocks = library.blocks(row.id)?;
    let (mut setups, mut standings, mut parts) = (Vec::new(), Vec::new(), Vec::new());
    for recording in recordings {
        let setup = match recording.calibration {
            None => None,
            Some(standing) => Some(match standings.iter().position(|s| *s == standing) {
                Some(known) => known,
                None => {
                    standings.push(standing);
                    setups.push(gather_setup(library, recording)?);
                    setups.len() - 1
                }
            }),
        };
        parts.push(gather_recording(library, recording, setup)?);
    }
    let mut swings = Vec::new();
    for swing in library.swings(Of::Session(row.id))? {
        let recording = recordings.iter().position(|r| Some(r.id) == swing.recording);
        let block = blocks.iter().position(|(id, _)| Some(*id) == swing.block);
        swings.push(gather_swing(library, swing, recording, block)?);
    }
    let session = row.session.clone();
    Ok(SessionPart {
        date: session.date.to_string(),
        place: session.place,
        surface: session.surface,
        lie: session.lie,
        camera: session.camera,
        cue: session.cue,
        notes: session.notes,
        blocks: blocks.into_iter().map(|(_, block)| block.into()).collect(),
        setups,
        recordings: parts,
        swings,
    })
}

fn gather_setup(library: &Library, recording: &RecordingRow) -> Result<SetupPart, BundleError> {
    let camera = library.camera_profile_of(recording.id)?.map(|profile| {
        let CameraProfile { name, camera, lens, notes } = profile;
        CameraPart { name, camera, lens, notes }
    });
    Ok(SetupPart { setup: library.shared_setup(recording.id)?, camera })
}

fn gather_recording(
    library: &Library,
    row: &RecordingRow,
    setup: Option<usize>,
) -> Result<RecordingPart, BundleError> {
    let marks = library.marks(row.id, None)?;
    Ok(RecordingPart {
        file_name: super::super::kept::file_name(&row.path),
        size_bytes: row.identity.size_bytes,
        quick_hash: row.identity.quick_hash.clone(),
        full_hash: row.full_hash.clone(),
        facts: row.facts.clone(),
        timeline: library.timeline(row.id)?,
        setup,
        view_differs: row.view_differs.clone(),
        marks: marks.iter().map(MarkPart::from).collect(),
        entry: None,
    })
}

fn gather_swing(
    library: &Library,
    swing: crate::store::SwingRow,
    recording: Option<usize>,
    block: Option<usize>,
) -> Result<SwingPart, BundleError> {
    let marks = match swing.recording {
        Some(kept) => library.marks(kept, Some(swing.id))?,
        None => Vec::new(),
    };
    let tapes = library.tape_checks(swing.id)?.into_iter().map(|check| {
        let TapeCheck { quantity, tape_mm, notes } = check;
        TapePart { quantity, tape_mm, notes }
    });
    Ok(SwingPart {
        recording,
        block,
        kind: swing.kind,
        club: swing.club,
        strike_time: swing.strike_time,
        strike_by: swing.strike_by,
        invented: swing.invented,
        left_out: swing.left_out,
        tags: swing.tags,
        notes: swing.notes,
        confirmed: swing.confirmed,
        ground: swing.ground,
        found: swing.found,
        result: swing.result.filter(|_| swing.result_is_current),
        marks: marks.iter().map(MarkPart::from).collect(),
        tape_checks: tapes.collect(),
    })
}

/// Every row points at rows that are there.
///
/// # Errors
/// [`BundleError::NotABundle`] if one does not.
pub(super) fn check(part: &GolferPart) -> Result<(), BundleError> {
    for session in &part.sessions {
        session.session()?;
        let within = |index: Option<usize>, len: usize| index.is_none_or(|i| i < len);
        let recordings = session.recordings.iter().all(|r| within(r.setup, session.setups.len()));
        let swings = session.swings.iter().all(|s| {
            within(s.recording, session.recordings.len())
                && within(s.block, session.blocks.len())
                && (s.recording.is_some() || s.marks.is_empty())
        });
        if !(recordings && swings) {
            let why = "its rows do not fit each other".into();
            return Err(BundleError::NotABundle { why });
        }
    }
    Ok(())
}
