//! Words and JSON in columns.

use rusqlite::Row;
use serde::{Serialize, de::DeserializeOwned};

use super::{Result, StoreError};

/// A plain enum as the word serde gives it, so that column and JSON use the same words.
pub(super) fn word<T: Serialize>(value: &T) -> Result<String> {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(word)) => Ok(word),
        _ => Err(StoreError::BadValue { what: "word" }),
    }
}

/// The enum a stored word stands for.
pub(super) fn from_word<T: DeserializeOwned>(word: String, what: &'static str) -> Result<T> {
    serde_json::from_value(serde_json::Value::String(word))
        .map_err(|e| StoreError::Unreadable { what, detail: e.to_string() })
}

/// A value as JSON that is sure to read back the same; NaN and infinity, which JSON does not
/// have, are refused.
pub(super) fn json<T>(value: &T, what: &'static str) -> Result<String>
where
    T: Serialize + DeserializeOwned + PartialEq,
{
    let bad = |_| StoreError::BadValue { what };
    let text = serde_json::to_string(value).map_err(bad)?;
    let back: T = serde_json::from_str(&text).map_err(bad)?;
    if back == *value { Ok(text) } else { Err(StoreError::BadValue { what }) }
}

/// The value a JSON column holds.
pub(super) fn from_json<T: DeserializeOwned>(text: &str, what: &'static str) -> Result<T> {
    serde_json::from_str(text).map_err(|e| StoreError::Unreadable { what, detail: e.to_string() })
}

/// A number that may be stored.
pub(super) fn finite(value: f64, what: &'static str) -> Result<f64> {
    if value.is_finite() { Ok(value) } else { Err(StoreError::BadValue { what }) }
}

/// A column holding a word.
pub(super) fn word_at<T: DeserializeOwned>(
    row: &Row<'_>,
    column: &str,
    what: &'static str,
) -> Result<T> {
    from_word(row.get(column)?, what)
}
