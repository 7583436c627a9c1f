//! Finished numbers, written down: what is said ([`content`]) and how it is drawn and written.
//!
//! This room receives numbers and words that are already stated; it computes none. It does
//! not read the clock. The turf ruler is described once ([`ruler`]) as plain shapes
//! ([`drawing`]), so that window, page, picture and web page draw the same.

pub mod charts;
pub mod content;
pub mod csv;
pub mod drawing;
pub mod drill_pictures;
pub mod html;
pub mod json;
pub mod page;
pub mod paint;
pub mod pdf;
pub mod picture;
pub mod ruler;
pub mod svg;
pub mod typeface;

use crate::domain::excerpt;

/// Why something could not be written down or read back.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// A table that is not one of ours.
    #[error(
        "Line {line} of the table cannot be read: {}; export it again or correct that line.",
        excerpt(.why)
    )]
    Table {
        /// The line, counted from 1; 0 when the reader could not tell.
        line: u64,
        /// What is wrong.
        why: String,
    },
    /// A file of a newer program.
    #[error(
        "The file has schema {found}, this program reads up to {known}; open it with a newer scuffline."
    )]
    NewerSchema {
        /// The file's schema.
        found: u64,
        /// The newest one read here.
        known: u64,
    },
    /// A picture that cannot be written.
    #[error("The picture cannot be written: {why}; choose another frame.")]
    Picture {
        /// What is wrong.
        why: String,
    },
    /// Not JSON, or not of our shape.
    #[error("The file is not a scuffline export: {}; export it again.", excerpt(.why))]
    Json {
        /// What is wrong.
        why: String,
    },
}
