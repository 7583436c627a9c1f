//! A magnified look at what lies under the pointer while something is being placed, with the marks
//! that the picture shows there.

use eframe::egui::{self, Color32, Pos2, Rect, Response, Stroke, TextStyle, Ui, Vec2, pos2, vec2};

use super::placement::Placement;
use super::shapes::draw_mark;
use super::{View, canvas};
use crate::app::model::{MarkName, Model, Tool};
use crate::app::words;
use crate::domain::ImagePoint;

/// The loupe's side, in points.
const SIDE: f32 = 176.0;
/// Screen points a picture pixel in the loupe.
const CLOSE: f64 = 9.0;

/// Shows the loupe while placing, dragging, or with a mark selected for the arrow keys.
pub fn loupe_ui(view: &mut View, ui: &Ui, response: &Response, placement: Placement) {
    let Some(at) = looked_at(view, response, placement) else { return };
    let Some(open) = &view.model.open else { return };
    let Some((_, picture)) = &open.shown else { return };
    let place = corner(placement.rect, placement.to_screen(at));
    let painter = ui.painter_at(placement.rect);
    let close = CLOSE.max(placement.scale * 1.5);
    painter.rect_filled(place.expand(2.0), 8.0, Color32::BLACK);
    let texture = view.pictures.texture(ui.ctx(), picture, view.model.tone);
    let half = f64::from(place.width()) / 2.0 / close;
    let (width, height) = (open.size.width as f64, open.size.height as f64);
    let uv = |p: ImagePoint| pos2(((p.x + 0.5) / width) as f32, ((p.y + 0.5) / height) as f32);
    let seen = Rect::from_min_max(uv(at.moved(-half, -half)), uv(at.moved(half, half)));
    painter.image(texture, place, seen, Color32::WHITE);
    let there = Placement { rect: place, centre: at, scale: close, fit: placement.fit };
    marks(view, &painter.with_clip_rect(place), there);
    crosshair(&painter, place);
    painter.rect_stroke(
        place,
        0.0,
        Stroke::new(2.0, view.colours().accent),
        egui::StrokeKind::Outside,
    );
    let Some(text) = place_words(view.model, at) else { return };
    let font = TextStyle::Body.resolve(ui.style());
    let galley = painter.layout_no_wrap(text, font, Color32::WHITE);
    let foot = place.left_bottom() + vec2(6.0, -galley.size().y - 4.0);
    painter.rect_filled(
        Rect::from_min_size(foot, galley.size()).expand2(vec2(4.0, 1.0)),
        3.0,
        Color32::from_black_alpha(160),
    );
    painter.galley(foot, galley, Color32::WHITE);
}

/// The marks as in the picture, but for the one under the crosshair, whose place it shows.
fn marks(view: &View, painter: &egui::Painter, placement: Placement) {
    let Some(open) = &view.model.open else { return };
    let dragged = view.model.dragging.map(|(name, _)| name);
    let selected = view.model.selected.filter(|_| view.model.tool == Tool::Look);
    let moved = dragged.or(selected);
    for (name, placed) in view.model.marks() {
        if Some(name) != moved {
            let at = placement.to_screen(open.place_in_shown(placed.mark));
            draw_mark(painter, name, at, &canvas::look(view, name, &placed, placement));
        }
    }
}

/// How far along the target line from the ball the point lies, for what is placed on the
/// ground once that is calibrated.
fn place_words(model: &Model, at: ImagePoint) -> Option<String> {
    let name = match (&model.dragging, &model.tool) {
        (Some((name, _)), _) | (None, Tool::Place(name)) => *name,
        (None, Tool::Look) => model.selected?,
        _ => return None,
    };
    let on_ground = [
        MarkName::DivotStart,
        MarkName::DivotEnd,
        MarkName::Tee,
        MarkName::ReachLine,
        MarkName::LeadHeel,
        MarkName::TrailHeel,
    ];
    let open = model.open.as_ref().filter(|_| on_ground.contains(&name))?;
    let view = &model.ground()?.view;
    let ground = view.ground_from_image(open.steadied(open.mark_at(at)))?;
    Some(words::offset(ground.x, model.settings.unit))
}

fn looked_at(view: &View, response: &Response, placement: Placement) -> Option<ImagePoint> {
    let model = view.model;
    if let Some((_, point)) = model.dragging {
        return Some(point);
    }
    if model.tool != Tool::Look {
        return response
            .hover_pos()
            .or(response.interact_pointer_pos())
            .map(|p| placement.to_image(p));
    }
    let selected = model.mark(model.selected?)?;
    Some(model.open.as_ref()?.place_in_shown(selected.mark))
}

/// The upper corner away from the point looked at.
fn corner(rect: Rect, at: Pos2) -> Rect {
    let inset = 14.0;
    let side = Vec2::splat(SIDE.min(rect.width() / 2.5).min(rect.height() / 2.5));
    let left = at.x > rect.center().x;
    let min = if left {
        rect.left_top() + Vec2::splat(inset)
    } else {
        rect.right_top() + vec2(-side.x - inset, inset)
    };
    Rect::from_min_size(min, side)
}

/// A crosshair with an open middle, dark and light.
fn crosshair(painter: &egui::Painter, place: Rect) {
    let c = place.center();
    let (gap, reach) = (7.0, place.width() / 2.0 - 6.0);
    for (stroke, colour) in [(3.0, Color32::from_black_alpha(140)), (1.0, Color32::WHITE)] {
        let stroke = Stroke::new(stroke, colour);
        for direction in [vec2(1.0, 0.0), vec2(-1.0, 0.0), vec2(0.0, 1.0), vec2(0.0, -1.0)] {
            painter.line_segment([c + gap * direction, c + reach * direction], stroke);
        }
        painter.circle_filled(c, if colour == Color32::WHITE { 1.0 } else { 2.0 }, colour);
    }
}
