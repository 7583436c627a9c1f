//! The library: the only room that knows SQL.
//!
//! A [`Library`] is one SQLite file. Every change goes through [`Library::edit`] (a step a
//! person can undo) or [`Library::save`] (what the program works out); both are one
//! transaction each, on disk when they return. Rows are converted at this door: nothing of
//! SQL is seen outside.

mod care;
mod error;
mod frame_index;
mod journal;
mod library;
mod people;
mod recordings;
mod swings;
mod values;

pub use care::{CheckReport, Contents, Restoring};
pub use error::{Result, StoreError};
pub use frame_index::KeptIndex;
pub use journal::{Edit, Scope};
pub use library::{Library, SCHEMA_VERSION};
pub use people::{AimWindowRow, BlockRow, SessionRow};
pub use recordings::{CameraProfile, FileIdentity, NewRecording, RecordingRow, identify_file};
pub use swings::{NewSwing, Of, SwingRow, TapeCheck};

use serde::{Deserialize, Serialize};

macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(
            Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
        )]
        #[serde(transparent)]
        pub struct $name(pub i64);

        impl rusqlite::ToSql for $name {
            fn to_sql(&self) -> rusqlite::Result<rusqlite::types::ToSqlOutput<'_>> {
                self.0.to_sql()
            }
        }

        impl rusqlite::types::FromSql for $name {
            fn column_result(
                value: rusqlite::types::ValueRef<'_>,
            ) -> rusqlite::types::FromSqlResult<Self> {
                i64::column_result(value).map(Self)
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(f)
            }
        }
    };
}

id!(
    /// A golfer's number in the library; never given twice.
    GolferId
);
id!(
    /// A session's number in the library.
    SessionId
);
id!(
    /// A block's number in the library.
    BlockId
);
id!(
    /// A recording's number in the library.
    RecordingId
);
id!(
    /// The number of one standing of the camera; recordings may share it.
    CalibrationId
);
id!(
    /// A camera profile's number in the library.
    CameraProfileId
);
id!(
    /// A swing's number in the library.
    SwingId
);
id!(
    /// A mark's number in the library.
    MarkId
);
