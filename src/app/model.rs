//! Everything the window knows. What can be computed from it is not kept in it.

use std::collections::{HashMap, VecDeque};
use std::path::PathBuf;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::beside::Beside;
use super::notebook::{Chapter, Notebook};
use super::strip::{Play, Strip};
use super::theme::{TextSize, Theme};
use crate::domain::{
    Club, ColourFrame, Direction, FoundSwing, FrameIndex, Golfer, GroundPoint, ImagePoint,
    LengthUnit, Mark, MarkKind, Millimetres, Part, PictureSize, Pixels, ProposedLine,
    ProposedReference, Quantity, Reference, ReferenceKind, Reviewable, Seconds, Setup, SwingKind,
    SwingMarks, SwingResult, Timeline, WorldPoint,
};
use crate::geometry::GroundView;
use crate::store::{GolferId, RecordingId, SessionId, SwingId};
use crate::vision::Motion;
use crate::workflow::{KeptLens, LensChoice};

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
    /// Playing.
    pub play: Play,
    /// Lightened or darkened picture.
    pub tone: Tone,
    /// The ground before and after, while both are at hand.
    pub before_after: Option<BeforeAfter>,
    /// Whose were asked for and are on their way.
    pub before_after_asked: Option<SwingId>,
    /// Which page fills the window.
    pub page: Page,
    /// The other of two swings.
    pub beside: Beside,
    /// What stands in the picture's place.
    pub look: Look,
    /// Small looks at swings' ground; `None` while one is on its way.
    pub glances: HashMap<SwingId, Option<Arc<ColourFrame>>>,
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

/// One swing of the session.
#[derive(Clone, Debug, PartialEq)]
pub struct Swing {
    /// In the library.
    pub id: SwingId,
    /// Its recording; an invented swing, or one written down, has none.
    pub recording: Option<RecordingId>,
    /// Strike or practice swing.
    pub kind: SwingKind,
    /// The club.
    pub club: Option<Club>,
    /// Where the golfer's divot should start with this club, mm ahead of the ball; `None`:
    /// there is nothing to aim for.
    pub aim: Option<[f64; 2]>,
    /// Marks made by a person.
    pub marks: SwingMarks,
    /// What the program proposed.
    pub found: Option<Arc<FoundSwing>>,
    /// What was measured.
    pub result: Option<Arc<SwingResult>>,
    /// What a person has accepted as it stands.
    pub confirmed: Vec<Reviewable>,
    /// Not counted.
    pub left_out: bool,
    /// Its numbers are invented.
    pub invented: bool,
}

impl Swing {
    /// What is still to be looked at.
    pub fn doubtful(&self) -> Vec<Reviewable> {
        let needed = self.result.as_ref().map(|r| r.needs_review.clone()).unwrap_or_default();
        needed.into_iter().filter(|what| !self.confirmed.contains(what)).collect()
    }

    /// Nothing is left to be looked at.
    pub fn is_settled(&self) -> bool {
        self.left_out || (self.result.is_some() && self.doubtful().is_empty())
    }
}

/// The recording in the picture.
#[derive(Debug)]
pub struct OpenRecording {
    /// In the library.
    pub id: RecordingId,
    /// The file.
    pub path: PathBuf,
    /// When each frame is shown; `None` until the file is indexed.
    pub timeline: Option<Arc<Timeline>>,
    /// Displayed size.
    pub size: PictureSize,
    /// The frame asked for.
    pub frame: FrameIndex,
    /// The frame at hand, perhaps an older one while the newer is read.
    pub shown: Option<(FrameIndex, Arc<ColourFrame>)>,
    /// The last frame that could not be read.
    pub unreadable: Option<FrameIndex>,
    /// How frames have moved against the first, as far as known.
    pub motions: HashMap<FrameIndex, Motion>,
    /// The strip under the picture.
    pub strip: Strip,
    /// What belongs to the set-up.
    pub setup: Setup,
    /// What is known of where the camera stands.
    pub standing: Standing,
    /// Where a set-up carried over does not fit what is seen, a sentence.
    pub view_differs: Option<String>,
    /// The file cannot be read; its sentence.
    pub trouble: Option<String>,
}

impl OpenRecording {
    /// A recording about to be read.
    pub fn new(id: RecordingId, path: PathBuf) -> Self {
        Self {
            id,
            path,
            timeline: None,
            size: PictureSize { width: 0, height: 0 },
            frame: FrameIndex(0),
            shown: None,
            unreadable: None,
            motions: HashMap::new(),
            strip: Strip::default(),
            setup: Setup::default(),
            standing: Standing::default(),
            view_differs: None,
            trouble: None,
        }
    }

    /// The last frame's number.
    pub fn last_frame(&self) -> usize {
        self.timeline.as_ref().map_or(0, |t| t.len().saturating_sub(1))
    }

    /// The motion of a frame against the first, where it is known and to be believed.
    fn motion_of(&self, frame: Option<FrameIndex>) -> Option<&Motion> {
        self.motions.get(&frame?).filter(|motion| motion.is_trusted)
    }

    fn shown_frame(&self) -> Option<FrameIndex> {
        self.shown.as_ref().map(|(frame, _)| *frame)
    }

    /// Where a mark lies in the steadied picture, as far as its frame's motion is known.
    pub fn steadied(&self, mark: Mark) -> ImagePoint {
        self.motion_of(mark.frame).map_or(mark.point, |m| m.to_first(mark.point))
    }

    /// Where a mark lies in the frame that is shown.
    pub fn place_in_shown(&self, mark: Mark) -> ImagePoint {
        if mark.frame.is_some() && mark.frame == self.shown_frame() {
            return mark.point;
        }
        let first = self.steadied(mark);
        self.motion_of(self.shown_frame()).map_or(first, |m| m.from_first(first))
    }

    /// Where `point` of the frame that is shown lies in `frame`; `None`: in the steadied picture.
    pub fn shown_point_in(&self, point: ImagePoint, frame: Option<FrameIndex>) -> ImagePoint {
        if frame.is_some() && frame == self.shown_frame() {
            return point;
        }
        let first = self.steadied(Mark { point, frame: self.shown_frame() });
        self.motion_of(frame).map_or(first, |m| m.from_first(first))
    }

    /// A mark read at `point` of the frame that is shown: in the steadied picture where the
    /// frame's motion is known, else in the frame itself.
    pub fn mark_at(&self, point: ImagePoint) -> Mark {
        match self.motion_of(self.shown_frame()) {
            Some(motion) => Mark::steadied(motion.to_first(point)),
            None => Mark { point, frame: self.shown_frame() },
        }
    }
}

/// What is known of where a recording's camera stands, and what it sees through.
#[derive(Clone, Debug, Default)]
pub struct Standing {
    /// The recording the set-up was made in, where it is carried over from another.
    pub carried_from: Option<String>,
    /// The ground as calibrated, for each swing that has a ball or a ball line.
    pub grounds: Vec<(SwingId, Ground)>,
    /// Lenses that could have made it.
    pub lenses: LensChoice,
}

/// The ground as the calibration sees it.
#[derive(Clone, Debug)]
pub struct Ground {
    /// Between picture and ground; its zero is the swing's ball or ball line.
    pub view: Arc<GroundView>,
    /// The club head's path over it; empty where no arc was fitted.
    pub path: Vec<WorldPoint>,
    /// Where the camera stands, in words.
    pub pose: String,
}

impl Ground {
    /// Where a ground point appears in the steadied picture.
    pub fn project(&self, point: GroundPoint) -> Option<ImagePoint> {
        self.view.image_from_ground(point)
    }
}

/// The ground before and after a swing, steadied on each other.
#[derive(Clone, Debug)]
pub struct BeforeAfter {
    /// Whose.
    pub swing: SwingId,
    /// Before.
    pub before: Arc<ColourFrame>,
    /// After, on the before picture's grid.
    pub after: Arc<ColourFrame>,
    /// Where they differ.
    pub difference: Arc<ColourFrame>,
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

/// What a click on the picture does.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Tool {
    /// Selects marks, drags them, pans.
    #[default]
    Look,
    /// Places a mark.
    Place(MarkName),
    /// Places the points of a reference object one after the other.
    Reference(ReferenceDraft),
    /// Places the two points of the target line.
    TargetLine(Vec<Mark>),
    /// Places the club head, and goes on to the next frame.
    ClubHead,
    /// Places three points or more along an edge that is straight in the world.
    Edge(Vec<Mark>),
}

/// A mark by its name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum MarkName {
    /// The ball's centre.
    Ball,
    /// Where the mark in the ground begins.
    DivotStart,
    /// Where it ends.
    DivotEnd,
    /// Where the tee goes into the ground.
    Tee,
    /// Stands in for the ball in practice swings: the ball line.
    BallLine,
    /// A point of a drill's reach line.
    ReachLine,
    /// The lead foot's heel.
    LeadHeel,
    /// The trail foot's heel.
    TrailHeel,
    /// The middle of the club head's leading edge in one frame.
    ClubHead(FrameIndex),
    /// One of the target line's two points.
    TargetLine(usize),
    /// A point of a reference object.
    Reference {
        /// Which object.
        object: usize,
        /// Which of its points.
        point: usize,
    },
}

impl MarkName {
    /// Plain words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Ball => "Ball",
            Self::DivotStart => "Divot start",
            Self::DivotEnd => "Divot end",
            Self::Tee => "Tee",
            Self::BallLine => "Ball line",
            Self::ReachLine => "Reach line",
            Self::LeadHeel => "Lead heel",
            Self::TrailHeel => "Trail heel",
            Self::ClubHead(_) => "Club head",
            Self::TargetLine(_) => "Target line",
            Self::Reference { .. } => "Reference object",
        }
    }

    /// As a swing keeps it; `None` for what belongs to the recording's set-up.
    pub fn kind(self) -> Option<MarkKind> {
        match self {
            Self::Ball => Some(MarkKind::Ball),
            Self::DivotStart => Some(MarkKind::DivotStart),
            Self::DivotEnd => Some(MarkKind::DivotEnd),
            Self::Tee => Some(MarkKind::Tee),
            Self::BallLine => Some(MarkKind::Origin),
            Self::LeadHeel => Some(MarkKind::LeadHeel),
            Self::TrailHeel => Some(MarkKind::TrailHeel),
            Self::ClubHead(_) => Some(MarkKind::ClubHead),
            Self::TargetLine(_) | Self::ReachLine | Self::Reference { .. } => None,
        }
    }

    /// Which of several of its kind.
    pub fn part(self) -> Part {
        match self {
            Self::ClubHead(frame) => Part(frame.0),
            _ => Part::FIRST,
        }
    }

    /// The doubt that placing it settles.
    pub fn reviewable(self) -> Option<Reviewable> {
        match self {
            Self::Ball => Some(Reviewable::Ball),
            Self::DivotStart => Some(Reviewable::DivotStart),
            Self::DivotEnd => Some(Reviewable::DivotEnd),
            _ => None,
        }
    }
}

/// A reference object whose points are being placed.
#[derive(Clone, Debug, PartialEq)]
pub struct ReferenceDraft {
    /// What it is.
    pub what: ReferenceWhat,
    /// Points so far, as read in `frame`.
    pub points: Vec<ImagePoint>,
    /// The frame the first point was read in; the others are taken from the same.
    pub frame: Option<FrameIndex>,
}

/// What a reference object is, and its size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ReferenceWhat {
    /// A rectangle.
    Sheet([Millimetres; 2]),
    /// Two points a known distance apart, lying along the target line or not.
    Line {
        /// The distance.
        length: Millimetres,
        /// It points at the target.
        along_target: bool,
    },
    /// Two parallel lines across the target line.
    LinePair(Millimetres),
    /// The ball.
    Ball,
}

impl ReferenceWhat {
    /// How many points it takes.
    pub fn points(self) -> usize {
        match self {
            Self::Sheet(_) | Self::LinePair(_) => 4,
            Self::Line { .. } | Self::Ball => 2,
        }
    }

    /// What to click next, in words.
    pub fn prompt(self, placed: usize) -> String {
        match self {
            Self::Sheet(_) => format!("Click corner {} of 4, going round the sheet", placed + 1),
            Self::Line { .. } => format!("Click end {} of 2", placed + 1),
            Self::LinePair(_) if placed < 2 => {
                format!("Click point {} of 2 on the first line", placed + 1)
            }
            Self::LinePair(_) => format!("Click point {} of 2 on the second line", placed - 1),
            Self::Ball if placed == 0 => "Click the ball's left edge".into(),
            Self::Ball => "Click the ball's right edge".into(),
        }
    }
}

impl ReferenceDraft {
    /// The finished reference object, once all points are there.
    pub fn finish(&self) -> Option<Reference> {
        let p = &self.points;
        if p.len() != self.what.points() {
            return None;
        }
        let mut along_target = false;
        let kind = match self.what {
            ReferenceWhat::Sheet(size) => {
                ReferenceKind::Sheet { size, corners: [p[0], p[1], p[2], p[3]] }
            }
            ReferenceWhat::Line { length, along_target: along } => {
                along_target = along;
                ReferenceKind::Line { length, ends: [p[0], p[1]] }
            }
            ReferenceWhat::LinePair(distance) => {
                ReferenceKind::LinePair { distance, lines: [[p[0], p[1]], [p[2], p[3]]] }
            }
            ReferenceWhat::Ball => {
                let centre = ImagePoint::new((p[0].x + p[1].x) / 2.0, (p[0].y + p[1].y) / 2.0);
                ReferenceKind::Ball { outline: Some((centre, Pixels(p[0].distance(p[1])))) }
            }
        };
        let height = Millimetres(0.0);
        Some(Reference { kind, height, along_target, frame: self.frame, point_sigma: None })
    }
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

/// A sheet laid over the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sheet {
    /// All keys.
    Keys,
    /// The guided first measurement, at one of its steps.
    Guide(usize),
    /// Where a number's doubt comes from.
    Budget(Quantity),
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

impl QueueItem {
    /// A file that waits for its turn.
    pub fn waiting(path: PathBuf) -> Self {
        Self { path, doing: "waiting".into(), done: 0.0, found: Vec::new() }
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
            ball: swing.ball.map(|ball| ball.confidence),
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
}

/// What undo and redo would do.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct History {
    /// Words for what undo takes back.
    pub undo: Option<String>,
    /// Words for what redo does again.
    pub redo: Option<String>,
}

/// Text fields being filled in.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Fields {
    /// Length of a line, or distance of a line pair.
    pub length: String,
    /// First edge of a sheet.
    pub width: String,
    /// Second edge of a sheet.
    pub height: String,
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

    /// How many swings are still to be looked at.
    pub fn open_count(&self) -> usize {
        self.swings.iter().filter(|s| !s.is_settled()).count()
    }

    /// A lens found with the phone that made the open recording, where no lens is told yet.
    pub fn offered_lens(&self) -> Option<&KeptLens> {
        let open = self.open.as_ref()?;
        let asks = open.setup.lens.is_none() && open.setup.straight_edges.is_empty();
        open.standing.lenses.offered.first().filter(|_| asks)
    }

    /// The reference object that waits for a yes, the surest one.
    pub fn proposed(&self) -> Option<&ProposedReference> {
        self.open.as_ref()?.setup.proposed.first()
    }

    /// The mat's edge that waits for a yes to be the target line.
    pub fn proposed_line(&self) -> Option<&ProposedLine> {
        self.open.as_ref()?.setup.asked_line()
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

    /// Where the ball lies in the stance: mm of the lead and of the trail heel from the ball
    /// along the target line, where they are marked and the ground is known.
    pub fn stance(&self) -> [Option<f64>; 2] {
        let along = |name| {
            let view = &self.ground()?.view;
            let mark = self.mark(name)?.mark;
            let first = self.open.as_ref()?.steadied(mark);
            view.ground_from_image(first).map(|ground| ground.x)
        };
        [along(MarkName::LeadHeel), along(MarkName::TrailHeel)]
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
                Some(ShownMark::person(Mark { point, frame: reference.frame }))
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

    fn swing_mark(&self, name: MarkName) -> Option<ShownMark> {
        let swing = self.current_swing()?;
        let found = swing.found.as_deref();
        let (by_person, proposed) = match name {
            MarkName::Ball => (
                swing.marks.ball,
                found.and_then(|f| f.ball.as_ref()).map(|b| (b.value.centre, b.confidence)),
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

/// A mark and who put it there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShownMark {
    /// Where, and in which frame it was read.
    pub mark: Mark,
    /// A person placed it.
    pub by_person: bool,
    /// How sure the program is of its proposal, 0 to 1.
    pub sure: Option<f64>,
}

impl ShownMark {
    fn person(mark: Mark) -> Self {
        Self { mark, by_person: true, sure: None }
    }
}

/// The points by which a reference object is dragged. A ball: left and right edge.
pub fn reference_points(reference: &Reference) -> Vec<ImagePoint> {
    match &reference.kind {
        ReferenceKind::Sheet { corners, .. } => corners.to_vec(),
        ReferenceKind::Line { ends, .. } => ends.to_vec(),
        ReferenceKind::LinePair { lines, .. } => lines.concat(),
        ReferenceKind::Ball { outline: Some((centre, diameter)) } => {
            let half = diameter.0 / 2.0;
            vec![centre.moved(-half, 0.0), centre.moved(half, 0.0)]
        }
        ReferenceKind::Ball { outline: None } => Vec::new(),
    }
}

/// `reference` with one of its points moved to `to`.
pub fn with_point_moved(reference: &Reference, point: usize, to: ImagePoint) -> Reference {
    let mut moved = reference.clone();
    match &mut moved.kind {
        ReferenceKind::Sheet { corners, .. } => corners[point] = to,
        ReferenceKind::Line { ends, .. } => ends[point] = to,
        ReferenceKind::LinePair { lines, .. } => lines[point / 2][point % 2] = to,
        ReferenceKind::Ball { outline } => {
            let mut edges = reference_points(reference);
            if let Some(edge) = edges.get_mut(point) {
                *edge = to;
                let centre = ImagePoint::new(
                    (edges[0].x + edges[1].x) / 2.0,
                    (edges[0].y + edges[1].y) / 2.0,
                );
                *outline = Some((centre, Pixels(edges[0].distance(edges[1]))));
            }
        }
    }
    moved
}
