//! A report as JSON with a versioned schema (docs/formats.md, "Exports").

use serde::{Deserialize, Serialize};

use super::ReportError;
use super::content::Content;

/// The newest schema written and read here.
pub const SCHEMA: u64 = 1;

#[derive(Serialize)]
struct Written<'a> {
    schema: u64,
    kind: &'static str,
    #[serde(flatten)]
    content: &'a Content,
}

#[derive(Deserialize)]
struct Header {
    schema: u64,
    kind: String,
}

const KIND: &str = "scuffline session";

/// The report as indented JSON, ending in a line break.
pub fn write(content: &Content) -> String {
    let written = Written { schema: SCHEMA, kind: KIND, content };
    let mut text = serde_json::to_string_pretty(&written)
        .expect("numbers, words and lists without maps of odd keys always serialise");
    text.push('\n');
    text
}

/// Reads back what [`write()`] wrote; fields it does not know are passed over.
///
/// # Errors
/// [`ReportError::NewerSchema`] if a later program wrote it, [`ReportError::Json`] if it is
/// something else.
pub fn read(text: &str) -> Result<Content, ReportError> {
    let wrong = |e: serde_json::Error| ReportError::Json { why: e.to_string() };
    let header: Header = serde_json::from_str(text).map_err(wrong)?;
    if header.kind != KIND {
        return Err(ReportError::Json { why: format!("it is a \"{}\"", header.kind) });
    }
    if header.schema > SCHEMA {
        return Err(ReportError::NewerSchema { found: header.schema, known: SCHEMA });
    }
    serde_json::from_str(text).map_err(wrong)
}
