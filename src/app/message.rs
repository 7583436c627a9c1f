//! What can happen: clicks and keys ([`Message`]), work to be done elsewhere ([`Job`]) and
//! what came of it ([`Event`]).

use std::path::PathBuf;
use std::sync::Arc;

use super::model::{
    BeforeAfter, Finding, History, Look, MarkName, Page, People, Settings, Sheet, Standing, Swing,
    Tone, Tool, WindowSize,
};
use super::notebook::{Answer, Ask, NotebookMessage, PlanEdit};
use super::theme::{TextSize, Theme};
use crate::domain::{
    Club, ColourFrame, Direction, FrameIndex, GroundAnswer, ImagePoint, LengthUnit, Mark,
    Millimetres, PictureSize, Quantity, Reviewable, Seconds, Setup, Surface, SwingKind, Timeline,
    Warning,
};
use crate::store::{CameraProfileId, GolferId, RecordingId, SessionId, SwingId};
use crate::video::Envelope;
use crate::vision::Motion;
use crate::workflow::ViewDoubt;
use crate::workflow::send::Order;

macro_rules! groups {
    ($($(#[$words:meta])* $group:ident($inner:ident),)+) => {
        /// What a person does, or what a job reports: one group a part of the window, so that a
        /// new part adds its own group and its own module in `update`.
        #[derive(Clone, Debug)]
        pub enum Message {
            $($(#[$words])* $group($inner),)+
        }

        $(impl From<$inner> for Message {
            fn from(message: $inner) -> Self {
                Self::$group(message)
            }
        })+
    };
}

groups! {
    /// Recordings on their way in.
    File(FileMessage),
    /// Golfers, sessions, swings, and the way back.
    Swing(SwingMessage),
    /// Frames, and how the picture is looked at.
    Picture(PictureMessage),
    /// The strip under the picture, and playing.
    Strip(StripMessage),
    /// Marks in the picture.
    Mark(MarkMessage),
    /// What is known of a recording: reference objects, surface, target.
    Setup(SetupMessage),
    /// Pages, sheets, fields and notices.
    Screen(ScreenMessage),
    /// What the person likes.
    Settings(SettingsMessage),
    /// Two swings side by side.
    Beside(BesideMessage),
    /// The chapters beside the picture.
    Notebook(NotebookMessage),
    /// A job reports.
    Event(Event),
}

/// Recordings on their way in.
#[derive(Clone, Debug)]
pub enum FileMessage {
    /// Open the file dialog.
    AskForFiles,
    /// Read these recordings.
    Import(Vec<PathBuf>),
    /// Stop reading this one.
    CancelImport(PathBuf),
    /// Watch a folder for new recordings, or no longer.
    Watch(bool),
}

/// Golfers, sessions, swings, and the way back.
#[derive(Clone, Debug)]
pub enum SwingMessage {
    /// Another golfer.
    ChooseGolfer(GolferId),
    /// Another session.
    ChooseSession(SessionId),
    /// Add the golfer whose name is in the field.
    AddGolfer,
    /// Begin a new session.
    AddSession,
    /// Look at this swing.
    ShowSwing(SwingId),
    /// Fetch a small look at this swing's ground.
    Glance(SwingId),
    /// Look at a recording, whether or not a swing was found in it.
    ShowRecording(RecordingId),
    /// Look at a swing further on (+) or back (-).
    StepSwing(i64),
    /// Accept what is proposed and go to the next doubtful swing.
    Accept,
    /// Count this swing, or leave it out.
    LeaveOut(bool),
    /// The club of the swing looked at.
    SetClub(String),
    /// Strike or practice swing.
    SetKind(SwingKind),
    /// Take back the last edit.
    Undo,
    /// Do it again.
    Redo,
}

/// Frames, and how the picture is looked at.
#[derive(Clone, Debug)]
pub enum PictureMessage {
    /// Frames forward (+) or back (-).
    StepFrame(i64),
    /// Show this frame.
    ShowFrame(FrameIndex),
    /// Show the strike frame.
    ShowStrike,
    /// Zoom about a picture point that stays where it is; `fit` is the scale at which the
    /// whole picture fits.
    Zoom {
        /// Stays under the pointer.
        about: ImagePoint,
        /// Larger than 1: closer.
        factor: f64,
        /// Screen points a pixel when the whole picture fits.
        fit: f64,
    },
    /// Move the picture by picture pixels.
    Pan([f64; 2]),
    /// Show the whole picture.
    Fit,
    /// One picture pixel on one screen pixel; `points` is the length of a screen pixel.
    RealSize {
        /// Screen points a screen pixel.
        points: f64,
    },
    /// Zoom in on the ball and the marks around it.
    ZoomToGround,
    /// Lighten, darken, more or less contrast.
    SetTone(Tone),
    /// Fetch the ground before and after.
    WantBeforeAfter,
    /// Fetch it no longer.
    StopBeforeAfter,
    /// The key that showed it is let go.
    LetGo,
    /// Stop opening the recording.
    StopOpening,
    /// Show the frame, before and after by turns, or what has changed.
    Look(Look),
}

/// The strip under the picture, and playing.
#[derive(Clone, Debug)]
pub enum StripMessage {
    /// Zoom about a time that stays where it is.
    Zoom {
        /// Stays under the pointer.
        about: Seconds,
        /// Larger than 1: closer.
        factor: f64,
    },
    /// Show what lies this much later.
    Slide(Seconds),
    /// So many small pictures fit side by side.
    Cells(usize),
    /// Play, or stop.
    Play(bool),
    /// So much faster (+) or slower (-), in steps.
    StepSpeed(i64),
    /// Parts of real time.
    SetSpeed(f64),
    /// Around the strike, again and again.
    SetLooped(bool),
    /// So many seconds have passed while playing.
    Tick(f64),
}

/// Marks in the picture.
#[derive(Clone, Debug)]
pub enum MarkMessage {
    /// What a click does from now on.
    Choose(Tool),
    /// The mark arrow keys move.
    Select(Option<MarkName>),
    /// A click on the picture.
    ClickAt(ImagePoint),
    /// A mark is being dragged.
    DragTo(MarkName, ImagePoint),
    /// It is let go.
    Drop,
    /// Move the selected mark by picture pixels.
    Nudge([f64; 2]),
    /// Take the selected mark away.
    RemoveMark,
    /// The straight edge being marked has all its points.
    EndEdge,
    /// The strike is between this frame and the next.
    StrikeHere,
    /// What the swing left in the ground; `None`: the program is believed again.
    SayGround(Option<GroundAnswer>),
}

/// What is known of a recording: reference objects, surface, target.
#[derive(Clone, Debug)]
pub enum SetupMessage {
    /// Begin a sheet with the size in the fields, or of a named size.
    BeginSheet(Option<[Millimetres; 2]>),
    /// Begin four points with the lengths in their fields.
    BeginFourPoints,
    /// Begin a line with the length in the field.
    BeginLine {
        /// It points at the target.
        along_target: bool,
    },
    /// Begin a line pair with the distance in the field.
    BeginLinePair,
    /// Begin the ball's outline.
    BeginBall,
    /// Measure by the reference object that was proposed, with this size if it is a sheet of
    /// another than proposed.
    AcceptReference(Option<[Millimetres; 2]>),
    /// What was proposed as a reference object is none.
    DismissReference,
    /// The target line runs along the mat's edge that was proposed.
    AcceptLine,
    /// The target line does not run along what was proposed.
    DismissLine,
    /// Take a reference object away.
    RemoveReference(usize),
    /// How high a reference object lies above the ground.
    SetReferenceHeight(usize, Millimetres),
    /// The reference object lies along the target line.
    SetAlongTarget(usize, bool),
    /// Turf or mat.
    SetSurface(Surface),
    /// Where the target lies.
    SetTarget(Direction),
    /// The ball stands on a tee.
    SetOnTee(bool),
    /// Measure by a lens of the library, or by none.
    UseLens(Option<CameraProfileId>),
    /// Keep the lens that the straight edges tell under the name in the field.
    KeepLens,
    /// Take a straight edge away.
    RemoveEdge(usize),
    /// Begin a set-up of this recording's own.
    OwnSetup,
}

/// Pages, sheets, fields and notices.
#[derive(Clone, Debug)]
pub enum ScreenMessage {
    /// Fill the window with this page.
    Show(Page),
    /// Lay a sheet over it.
    Open(Sheet),
    /// Take the sheet away.
    CloseSheet,
    /// Step out of whatever is going on.
    Escape,
    /// The window is about to close.
    Closing,
    /// Turn so many pages of the guide; past its last one it is put away.
    TurnPage(isize),
    /// Put the guide away for good.
    DismissGuide,
    /// A field was typed into.
    Typed(Field, String),
    /// Take a notice away.
    DismissNotice(u64),
}

/// What the person likes.
#[derive(Clone, Debug)]
pub enum SettingsMessage {
    /// Light, dark or sunlight.
    SetTheme(Theme),
    /// Text size.
    SetTextSize(TextSize),
    /// Unit of lengths.
    SetUnit(LengthUnit),
    /// Say each new result aloud on the range.
    SetSpeak(bool),
    /// Ask about what is less sure than this share.
    SetReviewBelow(f64),
    /// The window's size in points, and whether it fills the screen.
    SetWindow(WindowSize),
    /// Width of the panel in points.
    SetPanel(f32),
    /// The invented golfer is shown, or put away.
    ShowSample(bool),
}

/// Two swings side by side.
#[derive(Clone, Debug)]
pub enum BesideMessage {
    /// Choose the other swing from this session.
    ChooseSession(SessionId),
    /// Put this swing beside the one looked at.
    Choose(SwingId),
    /// The next (+) or the previous (-) swing of that session.
    Step(i64),
    /// Move the other alone by frames: the instants then shown are lined up.
    Shift(i64),
    /// Line the two up at the strike.
    AtTheStrike,
    /// One over the other, or one beside the other.
    Over(bool),
    /// How much of the other is seen when it lies over, 0 to 1.
    Fade(f32),
    /// Stop opening the other's recording.
    Stop,
}

/// A text field.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Field {
    /// Length or distance of a reference object.
    Length,
    /// First edge of a sheet.
    Width,
    /// Second edge of a sheet.
    Height,
    /// One of the lengths between four points, by its place.
    FourPoints(usize),
    /// A new golfer's name.
    Golfer,
    /// What a lens shall be called.
    Lens,
}

/// What is asked of the thread that reads pictures beside the one in the picture.
#[derive(Clone, Debug, PartialEq)]
pub enum SecondJob {
    /// Open the other swing's recording.
    Open {
        /// Which.
        recording: RecordingId,
        /// Its file.
        path: PathBuf,
        /// To tell late answers.
        generation: u64,
    },
    /// Read one of its frames; only the newest request counts.
    Frame {
        /// Which.
        frame: FrameIndex,
        /// To tell late answers.
        generation: u64,
    },
    /// Read a small look at a swing's ground.
    Glance {
        /// Whose.
        swing: SwingId,
        /// Its recording.
        recording: RecordingId,
        /// Its file.
        path: PathBuf,
        /// The frame.
        frame: FrameIndex,
        /// The middle of what is looked at, and its width in pixels.
        about: (ImagePoint, f64),
    },
}

/// Work done away from the window.
#[derive(Clone, Debug, PartialEq)]
pub enum Job {
    /// Load what the window starts with.
    Load,
    /// Open the system's file dialog.
    AskForFiles,
    /// Read a recording into the session and measure it.
    Import {
        /// The file.
        path: PathBuf,
        /// Where its swings go; `None`: a new session.
        session: Option<SessionId>,
    },
    /// Stop reading a recording.
    CancelImport(PathBuf),
    /// List this golfer's sessions and load the newest.
    LoadGolfer(GolferId),
    /// Load this session.
    LoadSession(SessionId),
    /// Load this session again if it is the one looked at.
    Refresh(SessionId),
    /// Add a golfer.
    AddGolfer(String),
    /// Add a session for a golfer.
    AddSession(GolferId),
    /// Open a recording for looking at.
    OpenRecording {
        /// Which.
        recording: RecordingId,
        /// To tell late answers.
        generation: u64,
    },
    /// Read one frame of the open recording; only the newest request counts.
    Frame {
        /// Which.
        frame: FrameIndex,
        /// To tell late answers.
        generation: u64,
    },
    /// Make small pictures for the strip; only the newest request counts.
    Film {
        /// Of which frames.
        frames: Vec<FrameIndex>,
        /// How many frames away a picture may be taken.
        within: usize,
        /// To tell late answers.
        generation: u64,
    },
    /// Stop opening the recording of this request.
    StopOpening(u64),
    /// Stop bringing together the before and after of this request.
    StopBeforeAfter(u64),
    /// Stop opening the other swing's recording of this request.
    StopBeside(u64),
    /// Stop reading what a chapter shows.
    StopAsking,
    /// Steady before and after on each other.
    BeforeAfter {
        /// Whose.
        swing: SwingId,
        /// Which request this is.
        request: u64,
        /// To tell late answers.
        generation: u64,
    },
    /// Save an edit, measure again and report the session.
    Edit {
        /// What.
        edit: Edit,
        /// The number of this edit since the window opened.
        number: u64,
    },
    /// Take back the last edit.
    Undo {
        /// Counted as an edit.
        number: u64,
    },
    /// Do it again.
    Redo {
        /// Counted as an edit.
        number: u64,
    },
    /// Load the swings of a session, one of which is put beside the one looked at.
    BesideSwings(SessionId),
    /// Read a picture beside the one in the picture.
    Second(SecondJob),
    /// Put the invented golfer into the library, unless it is there.
    PutSampleIn,
    /// Read what a chapter of the notebook shows.
    Ask(Ask),
    /// Write a file to be passed on.
    Send {
        /// What.
        order: Box<Order>,
        /// Where to; `None`: asked for.
        path: Option<PathBuf>,
    },
    /// Look into a golfer's bundle and say what it would add, or add it.
    Bundle {
        /// Its file; `None`: asked for.
        path: Option<PathBuf>,
        /// Add it.
        take: bool,
    },
    /// Stop writing a file, or reading a bundle.
    StopSending,
    /// Ask for a folder and watch it for new recordings.
    Watch,
    /// Watch no longer.
    StopWatching,
    /// Say it aloud.
    Speak(String),
    /// Keep the settings.
    SaveSettings(Settings),
    /// The window is closing: end once everything before this is kept.
    Leave,
}

/// One edit: one transaction, one step of undo.
#[derive(Clone, Debug, PartialEq)]
pub enum Edit {
    /// A swing's mark; `None` takes it away.
    Mark {
        /// Whose.
        swing: SwingId,
        /// Which.
        name: MarkName,
        /// Where.
        mark: Option<Mark>,
    },
    /// A swing that was not found.
    AddSwing {
        /// In which recording.
        recording: RecordingId,
        /// The last frame before contact, if known.
        strike: Option<FrameIndex>,
        /// Its first mark.
        mark: Option<(MarkName, Mark)>,
    },
    /// The instant of the strike.
    Strike {
        /// Whose.
        swing: SwingId,
        /// The last frame before contact.
        frame: FrameIndex,
    },
    /// What a person accepts as it stands.
    Confirm {
        /// Whose.
        swing: SwingId,
        /// All that is accepted from now on.
        accepted: Vec<Reviewable>,
    },
    /// What a person says the swing left in the ground; `None`: the program is believed.
    Ground {
        /// Whose.
        swing: SwingId,
        /// What was said.
        answer: Option<GroundAnswer>,
    },
    /// Count the swing, or leave it out.
    LeaveOut {
        /// Whose.
        swing: SwingId,
        /// Left out.
        left_out: bool,
    },
    /// The club.
    Club {
        /// Whose.
        swing: SwingId,
        /// The club's name.
        club: Club,
    },
    /// Strike or practice swing.
    Kind {
        /// Whose.
        swing: SwingId,
        /// Which.
        kind: SwingKind,
    },
    /// People and plans.
    Plan(PlanEdit),
    /// Measure a recording by this lens, or by none.
    Lens {
        /// Whose.
        recording: RecordingId,
        /// Which.
        lens: Option<CameraProfileId>,
    },
    /// Keep the lens that a recording's straight edges tell, and use it.
    KeepLens {
        /// Whose.
        recording: RecordingId,
        /// As it shall be called.
        name: String,
    },
    /// A recording that shares another's set-up begins one of its own.
    OwnSetup {
        /// Which.
        recording: RecordingId,
    },
    /// What a tape said of a swing.
    Tape {
        /// Whose.
        swing: SwingId,
        /// Which distance from the ball.
        quantity: Quantity,
        /// mm, ahead is positive.
        tape_mm: f64,
    },
    /// What belongs to a recording's set-up.
    Setup {
        /// Whose.
        recording: RecordingId,
        /// All of it; its swings are left as they are.
        setup: Box<Setup>,
        /// What was changed, in words.
        what: &'static str,
    },
}

macro_rules! events {
    ($($(#[$words:meta])* $group:ident($inner:ident),)+) => {
        /// What a job reports: one group a part of the window, as with [`Message`].
        #[derive(Clone, Debug)]
        pub enum Event {
            $($(#[$words])* $group($inner),)+
            /// What the person likes.
            Settings(Settings),
            /// What a chapter of the notebook shows.
            Answer(Answer),
            /// Something to tell the person.
            Notice(String),
            /// What was just done, told until the next thing is.
            Mention(String),
            /// A job broke down; its edit, if any, was not saved.
            JobFailed(String),
        }

        $(impl From<$inner> for Event {
            fn from(event: $inner) -> Self {
                Self::$group(event)
            }
        }

        impl From<$inner> for Message {
            fn from(event: $inner) -> Self {
                Self::Event(event.into())
            }
        })+
    };
}

events! {
    /// Golfers, sessions and their swings, as they are in the library.
    Session(SessionEvent),
    /// The recording in the picture.
    Picture(PictureEvent),
    /// Recordings on their way in.
    File(FileEvent),
    /// The other of two swings.
    Beside(BesideEvent),
}

/// Golfers, sessions and their swings, as they are in the library.
#[derive(Clone, Debug)]
pub enum SessionEvent {
    /// Golfers and sessions.
    People(People),
    /// A session as it is in the library.
    Session {
        /// Which.
        session: SessionId,
        /// Oldest first.
        swings: Vec<Swing>,
        /// The session's recordings and their files.
        recordings: Vec<(RecordingId, PathBuf)>,
        /// Undo and redo.
        history: History,
        /// The last edit that is in it.
        edit: u64,
    },
    /// What undo and redo would do where no session is looked at.
    History {
        /// Undo and redo.
        history: History,
        /// The last edit that is in it.
        edit: u64,
    },
    /// A swing to look at.
    Look(SwingId),
}

/// The recording in the picture.
#[derive(Clone, Debug)]
pub enum PictureEvent {
    /// A recording is open.
    Opened {
        /// Which request this answers.
        generation: u64,
        /// Which recording.
        recording: RecordingId,
        /// The file.
        path: PathBuf,
        /// When each frame is shown.
        timeline: Arc<Timeline>,
        /// Displayed size.
        size: PictureSize,
        /// What is odd about the file.
        warnings: Vec<Warning>,
    },
    /// A recording cannot be opened.
    NotOpened {
        /// Which request this answers.
        generation: u64,
        /// What happened and what to do.
        sentence: String,
    },
    /// A recording's set-up and, where it can be calibrated, its ground.
    Setup {
        /// Which recording.
        recording: RecordingId,
        /// The set-up.
        setup: Box<Setup>,
        /// What else is known of where the camera stands.
        standing: Box<Standing>,
        /// The last edit that is in it.
        edit: u64,
    },
    /// A set-up carried over may not fit what is seen.
    ViewDiffers {
        /// Which request this answers.
        generation: u64,
        /// Why, and what to do.
        doubt: ViewDoubt,
    },
    /// A frame; when it takes long, first one that is at hand, coded once more or near by.
    Frame {
        /// Which request this answers.
        generation: u64,
        /// Which frame.
        frame: FrameIndex,
        /// As displayed.
        picture: Arc<ColourFrame>,
    },
    /// A frame cannot be read.
    NoFrame {
        /// Which request this answers.
        generation: u64,
        /// Which frame.
        frame: FrameIndex,
        /// What happened and what to do.
        sentence: String,
    },
    /// How a frame has moved against the first.
    Moved {
        /// Which request this answers.
        generation: u64,
        /// Which frame.
        frame: FrameIndex,
        /// Its motion.
        motion: Motion,
    },
    /// A small picture for the strip.
    Film {
        /// Which request this answers.
        generation: u64,
        /// The frame it was asked for; it may be a key frame near by.
        frame: FrameIndex,
        /// The picture.
        picture: Arc<ColourFrame>,
    },
    /// Least and greatest samples of the sound.
    Sound {
        /// Which request this answers.
        generation: u64,
        /// On the clock of playing.
        envelope: Arc<Envelope>,
    },
    /// The ground before and after.
    BeforeAfter {
        /// Of which opening.
        generation: u64,
        /// Which request this answers.
        request: u64,
        /// The pictures.
        pictures: BeforeAfter,
    },
    /// There is nothing to show for this request.
    NoBeforeAfter {
        /// Which request this answers.
        request: u64,
        /// What happened and what to do; `None`: no clear frames before and after are known.
        sentence: Option<String>,
    },
    /// A small look at a swing's ground.
    Glanced {
        /// Whose.
        swing: SwingId,
        /// Small.
        picture: Arc<ColourFrame>,
    },
}

/// Recordings on their way in.
#[derive(Clone, Debug)]
pub enum FileEvent {
    /// A file is being read.
    Importing {
        /// Which.
        path: PathBuf,
        /// What is being done.
        doing: String,
        /// Which part of it is done.
        done: f64,
    },
    /// A swing was found in a file that is still being read.
    Finding {
        /// Which file.
        path: PathBuf,
        /// Which of its swings, from 0.
        number: usize,
        /// What is known so far.
        finding: Finding,
    },
    /// A file is in the library.
    Imported {
        /// Which.
        path: PathBuf,
        /// Where its swings went.
        session: SessionId,
        /// Its first swing.
        swing: Option<SwingId>,
        /// Whose swings they are, which nobody chose for them.
        whose: Option<(GolferId, String)>,
    },
    /// A file cannot be read; nothing was changed. In silence when the person stopped it.
    NotImported {
        /// Which.
        path: PathBuf,
        /// What happened and what to do.
        sentence: Option<String>,
    },
    /// A folder is watched from now on.
    Watching(PathBuf),
    /// Files were chosen in the dialog.
    Chosen(Vec<PathBuf>),
}

/// The other of two swings.
#[derive(Clone, Debug)]
pub enum BesideEvent {
    /// The swings of a session, one of which is put beside the one looked at.
    Swings {
        /// Which session.
        session: SessionId,
        /// Oldest first.
        swings: Vec<Swing>,
        /// The session's recordings and their files.
        files: Vec<(RecordingId, PathBuf)>,
    },
    /// The recording of the other swing is open.
    Opened {
        /// Which request this answers.
        generation: u64,
        /// When each frame is shown.
        timeline: Arc<Timeline>,
        /// Displayed size.
        size: PictureSize,
    },
    /// A frame of it.
    Frame {
        /// Which request this answers.
        generation: u64,
        /// Which frame.
        frame: FrameIndex,
        /// As displayed.
        picture: Arc<ColourFrame>,
    },
    /// It cannot be read.
    Trouble {
        /// Which request this answers.
        generation: u64,
        /// What happened and what to do.
        sentence: String,
    },
}
