//! Why something could not be done with the library's recordings.

use crate::domain::PictureError;
use crate::geometry::GeometryError;
use crate::store::StoreError;
use crate::video::VideoError;

use super::measure::MeasureError;

/// Why something could not be done with the library's recordings.
#[derive(Debug, thiserror::Error)]
pub enum KeptError {
    /// The library can't be read or written.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The recording can't be read or measured, or the work was stopped.
    #[error(transparent)]
    Measure(#[from] MeasureError),
    /// The references can't be used.
    #[error(transparent)]
    Geometry(#[from] GeometryError),
}

impl KeptError {
    /// The person stopped the work; there is nothing to tell.
    pub fn is_stopped(&self) -> bool {
        matches!(
            self,
            Self::Measure(
                MeasureError::Video(VideoError::Cancelled)
                    | MeasureError::Picture(PictureError::Cancelled)
            )
        )
    }
}

impl From<VideoError> for KeptError {
    fn from(error: VideoError) -> Self {
        Self::Measure(error.into())
    }
}
