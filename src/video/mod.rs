//! Recordings on disk: the only room that sees FFmpeg.
