//! Files to pass on.

use std::path::PathBuf;
use std::sync::Arc;

use crate::report::content::Content;
use crate::report::page::Paper;
use crate::store::{SessionId, SwingId};
use crate::workflow::send::Form;

/// What the chapter shows.
#[derive(Debug)]
pub struct SendPage {
    /// The coach's words; empty: the session's cue.
    pub words: String,
    /// What to practise, one thing a line; empty: the drills that were played.
    pub practise: String,
    /// The paper of the page.
    pub paper: Paper,
    /// The swing of a picture or clip, and a second one beside it.
    pub swings: [Option<SwingId>; 2],
    /// The recordings go along in a bundle.
    pub recordings: bool,
    /// Who agreed, while it is being typed.
    pub consent: String,
    /// What waits for somebody's consent.
    pub waiting: Option<(Form, Option<PathBuf>)>,
    /// Agreed to in this edit, and written once it is kept.
    pub agreed: Option<(u64, Form, Option<PathBuf>)>,
    /// A file on its way.
    pub going: Option<Going>,
    /// The last file written.
    pub last: Option<PathBuf>,
    /// A bundle that was looked into, and what it would add.
    pub bundle: Option<(PathBuf, String)>,
    /// What the page says.
    pub content: Option<(SessionId, Arc<Content>)>,
}

impl Default for SendPage {
    fn default() -> Self {
        Self {
            words: String::new(),
            practise: String::new(),
            paper: Paper::A4,
            swings: [None, None],
            recordings: false,
            consent: String::new(),
            waiting: None,
            agreed: None,
            going: None,
            last: None,
            bundle: None,
            content: None,
        }
    }
}

/// A file on its way.
#[derive(Clone, Debug, PartialEq)]
pub struct Going {
    /// What is being done.
    pub doing: String,
    /// Which part of it is done, 0 to 1.
    pub done: f64,
}

/// What is done in the chapter.
#[derive(Clone, Debug)]
pub enum SendMessage {
    /// The coach's words are being typed.
    Words(String),
    /// What to practise is being typed.
    Practise(String),
    /// The words are typed: the page is laid out anew.
    Typed,
    /// The paper of the page.
    Paper(Paper),
    /// The first (0) or second (1) swing of a picture or clip.
    Swing(usize, Option<SwingId>),
    /// The recordings go along in a bundle.
    Recordings(bool),
    /// Write a file; where it goes is asked for, or given.
    Write(Form, Option<PathBuf>),
    /// Who agreed is being typed.
    Consent(String),
    /// They agreed: keep it, and go on.
    Agree,
    /// They did not.
    Refuse,
    /// Stop writing.
    Stop,
    /// Look into a golfer's bundle; which one is asked for, or given.
    LookInto(Option<PathBuf>),
    /// Take it into the library.
    TakeIn,
    /// Leave it.
    LeaveIt,
}
