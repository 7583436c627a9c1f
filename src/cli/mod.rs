//! Arguments to one workflow request to printed lines.

pub mod index;
pub mod picture;
