//! What the drawings of how something is set up and measured have in common.

use eframe::egui::{
    Align2, Color32, FontId, Painter, Pos2, Rect, Sense, Stroke, StrokeKind, TextStyle, Ui, Vec2,
    WidgetInfo, accesskit::Role, epaint::CornerRadius, vec2,
};

use super::View;
use crate::app::theme::Colours;

/// Draws one such picture.
pub struct Pen {
    /// Paints within the picture.
    pub painter: Painter,
    /// Where the picture lies.
    pub rect: Rect,
    /// Those of the window.
    pub colours: Colours,
    font: FontId,
}

impl Pen {
    /// Takes the room for a picture and lays the ground in it; `says`: what it shows, for who does
    /// not see it.
    pub fn new(view: &View, ui: &mut Ui, size: Vec2, says: &str) -> Self {
        let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::Image, true, says));
        let (painter, colours) = (ui.painter_at(rect), *view.colours());
        painter.rect_filled(rect, 8.0, colours.ground);
        Self { painter, rect, colours, font: TextStyle::Small.resolve(ui.style()) }
    }

    /// A place by its distance from the picture's top left.
    pub fn at(&self, x: f32, y: f32) -> Pos2 {
        self.rect.min + vec2(x, y)
    }

    /// A thin line.
    pub fn line(&self, from: Pos2, to: Pos2) {
        self.painter.line_segment([from, to], self.thin());
    }

    /// How thin lines look.
    pub fn thin(&self) -> Stroke {
        Stroke::new(1.2 * self.colours.stroke, self.colours.text)
    }

    /// Small words beside a place.
    pub fn words(&self, at: Pos2, align: Align2, text: &str) {
        self.painter.text(at, align, text, self.font.clone(), self.colours.text);
    }

    /// A ball.
    pub fn ball(&self, at: Pos2, radius: f32) {
        self.painter.circle(at, radius, Color32::WHITE, self.thin());
    }

    /// A thing with an edge.
    pub fn outline(&self, rect: Rect, corner: u8) {
        let corner = CornerRadius::same(corner);
        self.painter.rect(rect, corner, self.colours.panel, self.thin(), StrokeKind::Middle);
    }

    /// A thin line with a tip.
    pub fn arrow(&self, from: Pos2, to: Pos2) {
        self.line(from, to);
        let along = (to - from).normalized() * 7.0;
        let across = vec2(-along.y, along.x) * 0.5;
        self.line(to, to - along + across);
        self.line(to, to - along - across);
    }

    /// A line between two places with the length it stands for beside its middle.
    pub fn length(&self, from: Pos2, to: Pos2, text: &str) {
        self.line(from, to);
        for end in [from, to] {
            self.line(end - vec2(4.0, 0.0), end + vec2(4.0, 0.0));
        }
        let middle = from + (to - from) / 2.0;
        self.words(middle + vec2(10.0, 0.0), Align2::LEFT_CENTER, text);
    }

    /// Where the target lies, an arrow that ends at `tip`.
    pub fn target(&self, tip: Pos2) {
        self.words(tip - vec2(34.0, 0.0), Align2::RIGHT_CENTER, "target");
        self.painter.arrow(tip - vec2(28.0, 0.0), vec2(28.0, 0.0), self.thin());
    }
}
