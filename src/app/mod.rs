//! The window; the only room that sees egui.
//!
//! `view` draws the [`Model`] and reports what is done to it as messages; [`update()`] is the
//! only place that changes the model; the worker's threads own decoders and library and
//! answer with events. Nothing on the window's thread waits.

mod focus;
mod icon;
mod keys;
mod message;
mod model;
mod notebook;
mod options;
mod strip;
mod theme;
mod update;
mod view;
mod window;
mod words;
mod worker;

pub use message::{
    BesideMessage, Edit, Event, Field, FileMessage, Job, MarkMessage, Message, PictureMessage,
    ScreenMessage, SettingsMessage, SetupMessage, StripMessage, SwingMessage,
};
pub use model::{MarkName, Model, Page, Sheet, Swing, Tool};
pub use notebook::{
    Answer, Ask, Chapter, ClubsMessage, ComparisonMessage, ConsistencyMessage, DrillsMessage,
    NotebookMessage, PeopleMessage, PlanEdit, PlanField, SendMessage, Shown, TapeMessage,
};
pub use options::Options;
pub use theme::{TextSize, Theme};
pub use update::update;
pub use window::{RunError, Window, run};
