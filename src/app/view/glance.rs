//! The ground of a swing, small, while the pointer rests on its bar.

use std::sync::Arc;

use eframe::egui::{
    Color32, CursorIcon, Rect, RectAlign, Response, TextStyle, Tooltip, Ui, pos2, vec2,
};

use super::shapes::{MarkLook, draw_mark};
use super::{View, timeline};
use crate::app::message::SwingMessage;
use crate::app::model::{Glance, MarkName, Page};
use crate::domain::ColourFrame;
use crate::store::SwingId;

/// From the bar to the look: the panel's margin and a little of the picture.
const GAP: f32 = 28.0;
/// Height of the picture in it.
const HIGH: f32 = 128.0;

/// Shows it beside the ruler, since below its row it would lie over the bars.
pub fn glance_ui(view: &mut View, ui: &Ui, response: Response, swing: SwingId, text: &str) {
    if response.hovered() && !view.model.glances.contains_key(&swing) {
        view.send(SwingMessage::Glance(swing));
    }
    if view.model.sheet.is_some() {
        return; // Not over what lies over the page.
    }
    let response = response.on_hover_cursor(CursorIcon::PointingHand);
    let mut tip = Tooltip::for_enabled(&response);
    let beside = above_the_strip(view, ui, response.interact_rect);
    tip.popup = tip.popup.align(RectAlign::LEFT).gap(GAP).anchor(beside);
    tip.show(|ui| {
        ui.label(text);
        let glance = view.model.glances.get(&swing);
        if let Some((glance, picture)) = glance.and_then(|g| Some((g, g.picture.clone()?))) {
            picture_ui(view, ui, swing, glance, &picture);
        }
    });
}

/// The bar's place, brought up as far as it takes for the look to end within the picture.
fn above_the_strip(view: &View, ui: &Ui, bar: Rect) -> Rect {
    // The picture, two lines of words and what lies around them.
    let high = HIGH + 2.0 * ui.text_style_height(&TextStyle::Body) + 24.0;
    if view.model.page != Page::Measure {
        return bar;
    }
    let strip = ui.ctx().content_rect().bottom() - timeline::height(ui) - 8.0;
    bar.translate(vec2(0.0, (strip - high / 2.0 - bar.center().y).min(0.0)))
}

/// The look, with the ball and the beginning of its mark in it.
fn picture_ui(
    view: &mut View,
    ui: &mut Ui,
    id: SwingId,
    glance: &Glance,
    picture: &Arc<ColourFrame>,
) {
    let texture = view.pictures.texture(ui.ctx(), picture, view.model.tone);
    let size = vec2(picture.width as f32, picture.height as f32);
    let rect = ui.image((texture, size)).rect;
    let swing = view.model.swings.iter().find(|swing| swing.id == id);
    let Some((swing, result)) = swing.and_then(|s| Some((s, s.result.as_deref()?))) else { return };
    let scale = glance.scale(picture.width);
    let found = swing.found.as_ref().and_then(|found| found.ball);
    let ball = found.map_or(6.0, |ball| (ball.value.diameter.0 / 2.0 * scale) as f32);
    let painter = ui.painter_at(rect);
    for (name, point, size) in
        [(MarkName::Ball, result.ball, ball), (MarkName::DivotStart, result.divot_start, 8.0)]
    {
        let Some(point) = point else { continue };
        let [x, y] = glance.place(point, picture);
        let look = MarkLook {
            ink: Color32::WHITE,
            edge: Color32::from_black_alpha(200),
            size,
            width: 1.4,
            dashed: false,
            toward_target: view.model.target().sign() as f32,
        };
        draw_mark(&painter, name, rect.min + pos2(x as f32, y as f32).to_vec2(), &look);
    }
}
