//! Everything the window knows. What can be computed from it is not kept in it.

mod beside;
mod marks;
mod recording;
mod swing;

use std::collections::{HashMap, VecDeque};
use std::path::PathBuf;

use serde::{Deserialize, Serialize};

pub use beside::Beside;
pub use marks::{
    MarkName, ReferenceDraft, ReferenceWhat, ShownMark, Tool, reference_points, with_point_moved,
};
pub use recording::{BeforeAfter, Ground, OpenRecording, Standing};
pub use swing::{Glance, Swing};

use super::notebook::{Chapter, Notebook, Shown};
use super::strip::Play;
use super::theme::{TextSize, Theme};
use crate::domain::{
    Direction, FoundSwing, FrameIndex, Golfer, GroundAnswer, GroundMark, ImagePoint, LengthUnit,
    Mark, MarkWord, Measured, ProposedLine, ProposedReference, Quantity, Seconds, SwingKind,
    SwingNumber, Timeline,
};
use crate::geometry::CameraNumber;
use crate::store::{GolferId, RecordingId, SessionId, SwingId};
use crate::workflow::{KeptLens, ViewDoubt};

/// The window's whole state.
#[derive(Debug, Default)]
pub struct Model {
    /// What the person likes.
    pub settings: Settings,
    /// Who and when can be chosen.
    pub people: People,
    /// The chosen session's swings, oldest first.
    pub swings: Vec<Swing>,
    /// The session's recordings and their files.
    pub recordings: Vec<(RecordingId, PathBuf)>,
    /// Which of the swings is looked at.
    pub current: Option<SwingId>,
    /// The recording in the picture.
    pub open: Option<OpenRecording>,
    /// What a click on the picture does.
    pub tool: Tool,
    /// The mark that arrow keys move.
    pub selected: Option<MarkName>,
    /// A mark on its way under the pointer; saved when it is let go.
    pub dragging: Option<(MarkName, ImagePoint)>,
    /// How the picture is laid into its frame.
    pub viewport: Viewport,
    /// The ground is looked at for a mark in it.
    pub detour: Option<Detour>,
    /// Playing.
    pub play: Play,
    /// Lightened or darkened picture.
    pub tone: Tone,
    /// The ground before and after, while both are at hand.
    pub before_after: Option<BeforeAfter>,
    /// Whose were asked for and are on their way, with the number of the request.
    pub before_after_asked: Option<(SwingId, u64)>,
    /// How often they were asked for.
    pub before_after_requests: u64,
    /// They were stopped, or there are none: not asked for again while the key is held.
    pub before_after_refused: bool,
    /// Which page fills the window.
    pub page: Page,
    /// The other of two swings.
    pub beside: Beside,
    /// What stands in the picture's place.
    pub look: Look,
    /// Small looks at swings' ground.
    pub glances: HashMap<SwingId, Glance>,
    /// The settings are those that were kept.
    pub ready: bool,
    /// The chapters beside the picture.
    pub notebook: Notebook,
    /// A sheet laid over the page.
    pub sheet: Option<Sheet>,
    /// Files being read, first come first served.
    pub queue: VecDeque<QueueItem>,
    /// Short messages, newest last.
    pub notices: Vec<Notice>,
    /// What undo would take back and redo would do again, in words.
    pub history: History,
    /// Text fields being filled in.
    pub fields: Fields,
    /// How many edits were sent off; older states of the session are dropped unread.
    pub edits: u64,
    /// A swing begun by hand is on its way to the library and back.
    pub adding_swing: bool,
    /// The last edit that came back from the library.
    pub edits_seen: u64,
    /// Counts requests so that late answers to old ones are dropped unread.
    pub generation: u64,
    /// Folder watched for the range display.
    pub watched: Option<PathBuf>,
}

/// What the person likes; kept in the library.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Light, dark or sunlight.
    pub theme: Theme,
    /// Text size.
    pub text_size: TextSize,
    /// Unit of lengths.
    pub unit: LengthUnit,
    /// The guided first measurement has been put away.
    pub guide_dismissed: bool,
    /// Last opened first.
    pub recent_files: Vec<PathBuf>,
    /// The result is spoken on the range display.
    pub speak: bool,
    /// Proposals less sure than this share are asked about; `None`: the usual threshold.
    pub review_below: Option<f64>,
    /// The window as it was left.
    pub window: Option<WindowSize>,
    /// Width of the panel in points, where it was drawn to another than its first.
    pub panel: Option<f32>,
    /// The invented golfer is put away.
    pub sample_hidden: bool,
}

/// The window as it was left.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct WindowSize {
    /// Width and height in points.
    pub size: [f32; 2],
    /// It filled the screen.
    pub maximised: bool,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            theme: Theme::Light,
            text_size: TextSize::Medium,
            unit: LengthUnit::Mm,
            guide_dismissed: false,
            recent_files: Vec::new(),
            speak: false,
            review_below: None,
            window: None,
            panel: None,
            sample_hidden: false,
        }
    }
}

/// Golfers and sessions to choose from.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct People {
    /// All golfers by name.
    pub golfers: Vec<(GolferId, Golfer)>,
    /// The chosen golfer's sessions, newest first: id and title.
    pub sessions: Vec<(SessionId, String)>,
    /// The chosen golfer.
    pub golfer: Option<GolferId>,
    /// The chosen session.
    pub session: Option<SessionId>,
}

/// How the picture is laid into its frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Viewport {
    /// The picture point in the middle of the frame.
    pub centre: ImagePoint,
    /// Screen points a picture pixel; `None`: the whole picture fits.
    pub scale: Option<f64>,
}

impl Default for Viewport {
    fn default() -> Self {
        Self { centre: ImagePoint::new(0.0, 0.0), scale: None }
    }
}

/// Which frame is looked at, and how it is laid into its frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sight {
    /// The frame.
    pub frame: FrameIndex,
    /// How it is laid.
    pub viewport: Viewport,
}

/// A look at something else from which one comes back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Detour {
    /// Where one was looking.
    pub from: Sight,
    /// What was shown instead.
    pub to: Sight,
}

/// Lightening and contrast of the picture shown; the pixels measured are untouched.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tone {
    /// Added to each value, in parts of full scale.
    pub brightness: f32,
    /// Factor about the middle grey.
    pub contrast: f32,
}

impl Default for Tone {
    fn default() -> Self {
        Self { brightness: 0.0, contrast: 1.0 }
    }
}

/// What stands in the picture's place.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Look {
    /// The frame.
    #[default]
    Frame,
    /// The ground before and after by turns.
    Blink,
    /// What has changed on the ground.
    Changes,
}

/// Which page fills the window.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Page {
    /// The picture and one session.
    #[default]
    Measure,
    /// Two swings side by side.
    Beside,
    /// A chapter of the notebook.
    Notebook(Chapter),
    /// Big type for the range.
    Range,
}

/// How many pages the guide has.
pub const GUIDE_PAGES: usize = 5;

/// A sheet laid over the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sheet {
    /// All keys.
    Keys,
    /// The guided first measurement, at one of its steps.
    Guide(usize),
    /// Where a number's doubt comes from.
    Budget(SwingNumber),
    /// Where the doubt of a number of any one swing comes from.
    Swing(SwingId, SwingNumber),
    /// Where the doubt of a number of the notebook comes from.
    Shown(Shown, Quantity),
    /// Where the doubt of a number of the camera comes from.
    Camera(CameraNumber),
    /// Theme, text size, units.
    Settings,
    /// Golfers and sessions.
    Chooser,
    /// Choose a reference object and its size.
    Reference,
    /// Choose the lens, or find it from straight edges.
    Lens,
}

/// A file on its way in.
#[derive(Clone, Debug, PartialEq)]
pub struct QueueItem {
    /// The file.
    pub path: PathBuf,
    /// What is being done, in words.
    pub doing: String,
    /// Which part of it is done, 0 to 1.
    pub done: f64,
    /// Its swings as far as they are found, in order of time.
    pub found: Vec<Finding>,
}

/// What is being done with a file whose turn has not come.
pub const WAITS: &str = "waiting";

impl QueueItem {
    /// A file that waits for its turn.
    pub fn waiting(path: PathBuf) -> Self {
        Self { path, doing: WAITS.into(), done: 0.0, found: Vec::new() }
    }
}

/// A swing in a file that is still being read.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// When the ball was struck, on the playback clock.
    pub time: Seconds,
    /// Strike or practice swing.
    pub kind: SwingKind,
    /// How sure the program is of its ball, 0 to 1; `None`: no ball was found.
    pub ball: Option<f64>,
    /// What was seen in the ground so far.
    pub ground_mark: Option<GroundMark>,
    /// How sure it is of where the mark in the ground begins; `None`: none was found.
    pub divot_start: Option<f64>,
    /// The ground was looked at.
    pub complete: bool,
}

impl Finding {
    /// What is known of a swing so far.
    pub fn of(swing: &FoundSwing, complete: bool) -> Self {
        Self {
            time: swing.strike_time.value,
            kind: swing.kind.value,
            ball: swing.placed_ball().map(|ball| ball.confidence),
            ground_mark: swing.ground_mark.map(|mark| mark.value),
            divot_start: swing.divot_start.map(|start| start.confidence),
            complete,
        }
    }
}

/// One sentence for the person.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Notice {
    /// Tells notices apart.
    pub id: u64,
    /// What happened and what to do.
    pub text: String,
    /// It says only what was just done, and leaves with the next thing that is.
    pub passing: bool,
}

/// What undo and redo would do.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct History {
    /// Words for what undo takes back.
    pub undo: Option<String>,
    /// Words for what redo does again.
    pub redo: Option<String>,
}

/// The lengths that a tape measures between four points, in the order of their fields.
pub const FOUR_LENGTHS: [&str; 5] =
    ["side 1-2", "side 2-3", "side 3-4", "side 4-1", "diagonal 1-3"];

/// Text fields being filled in.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Fields {
    /// Length of a line, or distance of a line pair.
    pub length: String,
    /// First edge of a sheet.
    pub width: String,
    /// Second edge of a sheet.
    pub height: String,
    /// What lies between four points: [`FOUR_LENGTHS`].
    pub four_points: [String; 5],
    /// A new golfer's name.
    pub golfer: String,
    /// What a lens shall be called.
    pub lens: String,
}

impl Model {
    /// The swing looked at.
    pub fn current_swing(&self) -> Option<&Swing> {
        self.swings.iter().find(|s| Some(s.id) == self.current)
    }

    /// The swing looked at, to be changed.
    pub fn current_swing_mut(&mut self) -> Option<&mut Swing> {
        let id = self.current;
        self.swings.iter_mut().find(|s| Some(s.id) == id)
    }

    /// The number of a swing in its session, from 1.
    pub fn number_of(&self, id: SwingId) -> Option<usize> {
        self.swings.iter().position(|s| s.id == id).map(|i| i + 1)
    }

    /// A number of any swing that is shown: of this session, beside it, or in the notebook; with
    /// what its mark is called and which swing it is.
    pub fn measured_of(
        &self,
        id: SwingId,
        number: SwingNumber,
    ) -> Option<(Measured, MarkWord, String)> {
        let whose = |number: usize| format!("Swing {number}");
        let here = self.swings.iter().enumerate().map(|(i, swing)| (i + 1, swing));
        let beside = self.beside.number().zip(self.beside.other());
        if let Some((place, swing)) = here.chain(beside).find(|(_, swing)| swing.id == id) {
            let measured = swing.result.as_ref()?.number(number)?;
            return Some((measured, self.mark_word(swing), whose(place)));
        }
        let listed = self.notebook.listed(id)?;
        let measured = match number {
            SwingNumber::Collected(quantity) => listed.offsets.measured(quantity)?.clone(),
            SwingNumber::HeightAtBall => listed.offsets.height_at_ball.clone()?,
            _ => return None,
        };
        Some((measured, listed.offsets.mark, whose(listed.number)))
    }

    /// How many swings are still to be looked at.
    pub fn open_count(&self) -> usize {
        self.swings.iter().filter(|s| !s.is_settled()).count()
    }

    /// The last frame before contact of the swing looked at.
    pub fn strike_frame(&self) -> Option<FrameIndex> {
        self.current_swing()?.strike_frame()
    }

    /// The frame of the other recording that is shown beside `frame`; `None` until both are open.
    ///
    /// Frames pair by the time that has passed since the two strikes in the world, which is less
    /// than on the playback clock of a slow-motion file; the nearest frame is taken.
    pub fn other_frame(&self, frame: FrameIndex) -> Option<FrameIndex> {
        let here = self.open.as_ref()?.timeline.as_ref()?;
        let (there, _) = self.beside.recording.as_ref()?;
        let strike =
            |swing: Option<&Swing>| swing.and_then(Swing::strike_frame).unwrap_or(FrameIndex(0));
        let (mine, others) = (strike(self.current_swing()), strike(self.beside.other()));
        // A file that was exchanged for a shorter one may lack a frame.
        let time_in = |timeline: &Timeline, frame: FrameIndex| {
            let last = timeline.len().checked_sub(1)?;
            Some(timeline.time_of(FrameIndex(frame.0.min(last))).0)
        };
        let passed = (time_in(here, frame)? - time_in(here, mine)?) / here.slow_factor;
        let time = time_in(there, others)? + passed * there.slow_factor;
        let last = there.len().checked_sub(1)? as i64;
        let shifted = there.nearest_frame(Seconds(time)).0 as i64 + self.beside.shift;
        Some(FrameIndex(shifted.clamp(0, last) as usize))
    }

    /// The swing that a tape's value is kept with: the one chosen, else the one looked at.
    pub fn tape_swing(&self) -> Option<SwingId> {
        let chosen = self.notebook.tape.swing.filter(|id| self.number_of(*id).is_some());
        chosen.or(self.current).or(self.swings.last().map(|swing| swing.id))
    }

    /// A lens found with the phone that made the open recording, where no lens is told yet.
    pub fn offered_lens(&self) -> Option<&KeptLens> {
        let open = self.open.as_ref()?;
        let asks = open.setup.lens.is_none() && open.setup.straight_edges.is_empty();
        open.standing.lenses.offered.first().filter(|_| asks)
    }

    /// The session's recordings without any swing, but for the one that is looked at.
    pub fn without_swing(&self) -> Vec<&(RecordingId, PathBuf)> {
        let open = self.open.as_ref().map(|open| open.id);
        let has_swing = |id: RecordingId| self.swings.iter().any(|s| s.recording == Some(id));
        let rest = self.recordings.iter().filter(|(id, _)| Some(*id) != open && !has_swing(*id));
        rest.collect()
    }

    /// The reference object that waits for a yes, the surest one.
    pub fn proposed(&self) -> Option<&ProposedReference> {
        self.asking()?.setup.proposed.first()
    }

    /// The mat's edge that waits for a yes to be the target line.
    pub fn proposed_line(&self) -> Option<&ProposedLine> {
        self.asking()?.setup.asked_line()
    }

    /// The open recording, if what is asked about was seen in it: a set-up carried over from
    /// where the camera stood elsewhere asks about things that do not lie there.
    fn asking(&self) -> Option<&OpenRecording> {
        self.open.as_ref().filter(|o| !matches!(o.view_doubt(), Some(ViewDoubt::Differs(_))))
    }

    /// The ground under the swing looked at.
    pub fn ground(&self) -> Option<&Ground> {
        let open = self.open.as_ref()?;
        open.standing
            .grounds
            .iter()
            .find(|(id, _)| Some(*id) == self.current)
            .map(|(_, ground)| ground)
    }

    /// How far ahead of the ball the reach line lies, mm, where it is marked and the ground known.
    pub fn reach(&self) -> Option<f64> {
        let mark = self.mark(MarkName::ReachLine)?.mark;
        let first = self.open.as_ref()?.steadied(mark);
        self.ground()?.view.ground_from_image(first).map(|ground| ground.x)
    }

    /// Where the target lies in the picture; right unless something says otherwise.
    pub fn target(&self) -> Direction {
        let golfer = self.people.golfers.iter().find(|(id, _)| Some(*id) == self.people.golfer);
        self.open
            .as_ref()
            .and_then(|open| open.setup.target)
            .or(golfer.map(|(_, golfer)| golfer.handed.target_in_picture()))
            .unwrap_or(Direction::Right)
    }

    /// A mark as it stands: the person's, else the program's proposal.
    pub fn mark(&self, name: MarkName) -> Option<ShownMark> {
        if let Some((moving, point)) = self.dragging
            && moving == name
        {
            let mark = self.open.as_ref()?.mark_at(point);
            return Some(ShownMark { mark, by_person: true, sure: None });
        }
        match name {
            MarkName::TargetLine(i) => {
                let line = self.open.as_ref()?.setup.target_line?;
                line.get(i).map(|mark| ShownMark::person(*mark))
            }
            MarkName::Reference { object, point } => {
                let reference = self.open.as_ref()?.setup.references.get(object)?;
                let point = *reference_points(reference).get(point)?;
                Some(ShownMark::person(Mark::read_in(point, reference.frame)))
            }
            MarkName::BallLine => self
                .current_swing()
                .and_then(|s| s.marks.origin)
                .or(self.open.as_ref()?.setup.origin)
                .map(ShownMark::person),
            MarkName::ReachLine => self.open.as_ref()?.setup.reach_line.map(ShownMark::person),
            MarkName::Tee => self.current_swing()?.marks.tee.map(ShownMark::person),
            MarkName::LeadHeel => self.current_swing()?.marks.heels[0].map(ShownMark::person),
            MarkName::TrailHeel => self.current_swing()?.marks.heels[1].map(ShownMark::person),
            MarkName::ClubHead(frame) => {
                self.current_swing()?.marks.club_head.get(&frame).copied().map(ShownMark::person)
            }
            MarkName::Ball | MarkName::DivotStart | MarkName::DivotEnd => self.swing_mark(name),
        }
    }

    /// What a swing's mark in the ground is called.
    pub fn mark_word(&self, swing: &Swing) -> MarkWord {
        let open = self.open.as_ref().filter(|open| Some(open.id) == swing.recording);
        let said = swing.marks.ground.map(GroundAnswer::mark);
        let seen = || swing.result.as_ref().and_then(|result| result.ground_mark);
        MarkWord::of(said.unwrap_or_else(seen), open.and_then(|open| open.setup.surface))
    }

    /// The same of the swing looked at; without one, of what is marked next.
    pub fn current_mark_word(&self) -> MarkWord {
        let surface = self.open.as_ref().and_then(|open| open.setup.surface);
        let of_surface = MarkWord::of(None, surface);
        self.current_swing().map_or(of_surface, |swing| self.mark_word(swing))
    }

    fn swing_mark(&self, name: MarkName) -> Option<ShownMark> {
        let swing = self.current_swing()?;
        if name != MarkName::Ball && swing.marks.has_no_mark() {
            return None;
        }
        let found = swing.found.as_deref();
        let (by_person, proposed) = match name {
            MarkName::Ball => (
                swing.marks.ball,
                found.and_then(FoundSwing::placed_ball).map(|b| (b.value, b.confidence)),
            ),
            MarkName::DivotStart => (
                swing.marks.divot_start,
                found.and_then(|f| f.divot_start).map(|p| (p.value, p.confidence)),
            ),
            _ => (
                swing.marks.divot_end,
                found.and_then(|f| f.divot_end).map(|p| (p.value, p.confidence)),
            ),
        };
        by_person.map(ShownMark::person).or(proposed.map(|(point, sure)| ShownMark {
            mark: Mark::steadied(point),
            by_person: false,
            sure: Some(sure),
        }))
    }

    /// All marks that exist, for drawing and picking.
    pub fn marks(&self) -> Vec<(MarkName, ShownMark)> {
        let objects = self.open.iter().flat_map(|open| {
            open.setup.references.iter().enumerate().flat_map(|(object, reference)| {
                let points = reference_points(reference).len();
                (0..points).map(move |point| MarkName::Reference { object, point })
            })
        });
        let heads = self.current_swing().into_iter().flat_map(|swing| swing.marks.club_head.keys());
        objects
            .chain(heads.map(|frame| MarkName::ClubHead(*frame)))
            .chain([
                MarkName::TargetLine(0),
                MarkName::TargetLine(1),
                MarkName::LeadHeel,
                MarkName::TrailHeel,
                MarkName::BallLine,
                MarkName::ReachLine,
                MarkName::Tee,
                MarkName::Ball,
                MarkName::DivotEnd,
                MarkName::DivotStart,
            ])
            .filter_map(|name| self.mark(name).map(|mark| (name, mark)))
            .collect()
    }
}
