//! Who holds the keyboard.

use eframe::egui::{self, Id};

use super::model::{MarkName, Model};

/// The picture's own name among what can hold the keyboard.
pub fn picture_id() -> Id {
    Id::unique("the picture")
}

/// A mark's own name among what can hold the keyboard.
pub fn mark_id(name: MarkName) -> Id {
    Id::unique(("mark", name))
}

/// The keyboard belongs to the picture or one of its marks, not to a button or a field.
pub fn picture_has_keys(ctx: &egui::Context, model: &Model) -> bool {
    match ctx.memory(|m| m.focused()) {
        None => true,
        Some(id) => {
            id == picture_id() || model.marks().iter().any(|(name, _)| id == mark_id(*name))
        }
    }
}
