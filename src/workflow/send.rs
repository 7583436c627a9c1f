//! Files to pass on: the same for window and command line.

use std::path::{Path, PathBuf};

use crate::report::page::Paper;
use crate::report::picture::{self, Picture};
use crate::report::{ReportError, csv, html, json, pdf};
use crate::store::{GolferId, Library, Of, SessionId, StoreError, SwingId, SwingRow};
use crate::video::writes_h264;

use super::bundle::{BundleError, write_bundle};
use super::content::{CoachSays, session_content};
use super::export::{ExportError, beside, swing_picture, write_clip};
use super::progress::Progress;

/// What kind of file is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// One page, PDF.
    Page,
    /// A web page in one file.
    Web,
    /// A table, CSV.
    Table,
    /// Everything for other programs, JSON.
    Data,
    /// A picture with the ruler burnt in, PNG.
    Picture,
    /// A slow-motion clip, MP4.
    Clip,
    /// All of a golfer's sessions in one file.
    Bundle,
}

impl Form {
    /// All of them, in the order in which they are offered.
    pub const ALL: [Self; 7] =
        [Self::Page, Self::Picture, Self::Clip, Self::Web, Self::Table, Self::Data, Self::Bundle];

    /// The ending of such a file's name.
    pub fn ending(self) -> &'static str {
        match self {
            Self::Page => "pdf",
            Self::Web => "html",
            Self::Table => "csv",
            Self::Data => "json",
            Self::Picture => "png",
            Self::Clip => "mp4",
            Self::Bundle => "zip",
        }
    }

    /// The form a file's ending asks for; `None`: no form has it.
    pub fn of_ending(ending: &str) -> Option<Self> {
        let ending = match ending.to_lowercase().as_str() {
            "htm" => "html".to_owned(),
            other => other.to_owned(),
        };
        Self::ALL.into_iter().find(|form| form.ending() == ending)
    }
}

/// What is to be written.
#[derive(Clone, Debug, PartialEq)]
pub struct Order {
    /// Which kind of file.
    pub form: Form,
    /// Whose.
    pub golfer: GolferId,
    /// Which session; a bundle holds all of them.
    pub session: SessionId,
    /// What the coach adds.
    pub says: CoachSays,
    /// The paper of a page.
    pub paper: Paper,
    /// The swings of a picture, a clip or a page's pictures, at most two; empty: the latest
    /// that was filmed (on a page the first and the last).
    pub swings: Vec<SwingId>,
    /// A bundle takes the recordings along.
    pub recordings: bool,
}

/// What is to be known of a file that was written all the same, in sentences.
pub type LeftOut = Vec<String>;

/// Why a file could not be written.
#[derive(Debug, thiserror::Error)]
pub enum SendError {
    /// The library can't be read.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The picture or clip can't be made, or the work was stopped.
    #[error(transparent)]
    Export(#[from] ExportError),
    /// The page can't be made.
    #[error(transparent)]
    Report(#[from] ReportError),
    /// The bundle can't be made.
    #[error(transparent)]
    Bundle(#[from] BundleError),
    /// Nothing to show.
    #[error("No swing of this session has a recording, so there is nothing to show.")]
    NothingFilmed,
    /// The file can't be written.
    #[error("The file cannot be written ({reason}); check folder and free space: {path}")]
    File {
        /// What the system says.
        reason: String,
        /// Which file.
        path: PathBuf,
    },
    /// The person stopped it.
    #[error("Stopped.")]
    Stopped,
}

/// Writes what was ordered into `path`; returns what had to be left out. Nothing half written
/// stays behind.
///
/// # Errors
/// See [`SendError`].
pub fn write_out(
    library: &Library,
    order: &Order,
    path: &Path,
    progress: &mut Progress,
) -> Result<LeftOut, SendError> {
    let mut left_out = Vec::new();
    match order.form {
        Form::Bundle => {
            let written = write_bundle(library, order.golfer, path, order.recordings, progress)?;
            let missing = |name: String| {
                format!("The recording {name} is not where it was and does not go along.")
            };
            left_out.extend(written.missing.into_iter().map(missing));
        }
        Form::Picture => {
            let swings = library.swings(Of::Session(order.session))?;
            let shown = shown(&swings, &order.swings)?;
            tell(progress, "Drawing the picture", 0.1)?;
            let picture = swing_picture(library, shown[0], true)?;
            save(path, &picture::png(&picture.frame)?)?;
        }
        Form::Clip => {
            let swings = library.swings(Of::Session(order.session))?;
            write_clip(library, &shown(&swings, &order.swings)?, path, progress)?;
            if !writes_h264() {
                left_out.push("The FFmpeg in use cannot write H.264; the clip is MPEG-4 part 2, which not every phone plays.".into());
            }
        }
        Form::Page | Form::Web | Form::Table | Form::Data => {
            let bytes = document(library, order, &mut left_out, progress)?;
            save(path, &bytes)?;
        }
    }
    Ok(left_out)
}

fn tell(progress: &mut Progress, doing: &str, done: f64) -> Result<(), SendError> {
    if progress.report(doing, done) { Ok(()) } else { Err(SendError::Stopped) }
}

fn document(
    library: &Library,
    order: &Order,
    left_out: &mut LeftOut,
    progress: &mut Progress,
) -> Result<Vec<u8>, SendError> {
    tell(progress, "Reading the session", 0.05)?;
    let content = session_content(library, order.session, &order.says)?;
    Ok(match order.form {
        Form::Table => csv::write(&content).into_bytes(),
        Form::Data => json::write(&content).into_bytes(),
        Form::Web => {
            html::write(&content, &pictures(library, order, left_out, progress)?)?.into_bytes()
        }
        _ => pdf::write(&content, &pictures(library, order, left_out, progress)?, order.paper)?,
    })
}

fn is_filmed(swing: &SwingRow) -> bool {
    swing.recording.is_some() && swing.strike_time.is_some()
}

/// The swings asked for; else the latest that was filmed.
fn shown(swings: &[SwingRow], asked: &[SwingId]) -> Result<Vec<SwingId>, SendError> {
    if !asked.is_empty() {
        return Ok(asked.iter().copied().take(2).collect());
    }
    let latest = swings.iter().rfind(|s| is_filmed(s)).map(|s| vec![s.id]);
    latest.ok_or(SendError::NothingFilmed)
}

/// The pictures of a page: those asked for, else the first and the last filmed swing. One
/// whose file has gone is left out and named, since the numbers are worth sending without it.
fn pictures(
    library: &Library,
    order: &Order,
    left_out: &mut LeftOut,
    progress: &mut Progress,
) -> Result<Vec<Picture>, SendError> {
    let swings = library.swings(Of::Session(order.session))?;
    let filmed: Vec<SwingId> = swings.iter().filter(|s| is_filmed(s)).map(|s| s.id).collect();
    let wanted = match (order.swings.as_slice(), filmed.as_slice()) {
        ([], [first, .., last]) => vec![*first, *last],
        ([], one) => one.to_vec(),
        (asked, _) => asked.iter().copied().take(2).collect(),
    };
    let mut pictures = Vec::new();
    for (i, id) in wanted.iter().enumerate() {
        tell(progress, "Drawing the pictures", 0.1 + 0.4 * i as f64)?;
        match swing_picture(library, *id, false) {
            Ok(picture) => {
                let number = swings.iter().position(|s| s.id == *id).map_or(0, |i| i + 1);
                let caption = format!("Swing {number}: {}", picture.caption);
                pictures.push(Picture { caption, ..picture });
            }
            Err(error) => left_out.push(format!("A picture is left out: {error}")),
        }
    }
    tell(progress, "Writing", 0.95)?;
    Ok(pictures)
}

/// Writes beside the file first, so that a full disk leaves no half of it.
fn save(file: &Path, bytes: &[u8]) -> Result<(), SendError> {
    let beside = beside(file);
    let whole = std::fs::write(&beside, bytes).and_then(|()| std::fs::rename(&beside, file));
    whole.map_err(|error| {
        // What is half written is of no use; if it can't be removed either, the error stands.
        let _ = std::fs::remove_file(&beside);
        SendError::File { reason: error.to_string(), path: file.to_path_buf() }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn endings_name_their_forms() {
        for form in Form::ALL {
            assert_eq!(Form::of_ending(form.ending()), Some(form));
        }
        assert_eq!(Form::of_ending("HTM"), Some(Form::Web));
        assert_eq!(Form::of_ending("doc"), None);
    }
}
