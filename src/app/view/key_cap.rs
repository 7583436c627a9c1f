//! A key as it stands on a keyboard.

use std::sync::Arc;

use eframe::egui::{
    Color32, Galley, Painter, Pos2, Rect, Stroke, StrokeKind, TextStyle, Ui, Vec2, vec2,
};

use crate::app::theme::Colours;

/// Around the key's words, in points.
const MARGIN: Vec2 = vec2(5.0, 1.5);

/// A key's words, laid out.
pub struct KeyCap(Arc<Galley>);

impl KeyCap {
    /// Of the keys as they are named.
    pub fn new(ui: &Ui, keys: &str) -> Self {
        let small = TextStyle::Small.resolve(ui.style());
        Self(ui.painter().layout_no_wrap(keys.to_owned(), small, Color32::PLACEHOLDER))
    }

    /// How much room it takes.
    pub fn size(&self) -> Vec2 {
        self.0.size() + 2.0 * MARGIN
    }

    /// Draws it with its top left at `min`.
    pub fn paint(self, painter: &Painter, min: Pos2, colours: &Colours) {
        let cap = Rect::from_min_size(min, self.size());
        let edge = Stroke::new(colours.stroke, colours.line);
        painter.rect(cap, 4.0, colours.raised, edge, StrokeKind::Inside);
        painter.galley(min + MARGIN, self.0, colours.text);
    }
}
