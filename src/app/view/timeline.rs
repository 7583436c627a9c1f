//! The strip under the picture: film, loudness, swings, and the frame shown.

use eframe::egui::{
    self, Align2, Color32, CursorIcon, Key, Painter, Rect, Sense, Stroke, TextStyle, Ui,
    accesskit::Role, pos2, vec2,
};

use super::View;
use crate::app::message::{Message, PictureMessage};
use crate::domain::{FrameIndex, Seconds};

/// Height of the strip, in points.
pub const HEIGHT: f32 = 58.0;

/// Shows the step buttons, the strip and the frame's number and time.
pub fn timeline_ui(view: &mut View, ui: &mut Ui) {
    let Some(open) = &view.model.open else { return };
    let Some(timeline) = open.timeline.clone() else { return };
    let last = open.last_frame();
    let frame = open.frame;
    ui.horizontal_centered(|ui| {
        step_button(view, ui, "‹", "Previous frame", "Comma (,); Shift: ten frames", -1);
        step_button(view, ui, "›", "Next frame", "Full stop (.); Shift: ten frames", 1);
        let numbers = format!("Frame {} of {last}\n{:.3} s", frame.0, timeline.time_of(frame).0);
        ui.add_sized(
            [104.0, HEIGHT - 14.0],
            egui::Label::new(egui::RichText::new(numbers).small()),
        );
        strip_ui(view, ui, last);
    });
}

fn step_button(view: &mut View, ui: &mut Ui, sign: &str, name: &str, keys: &str, by: i64) {
    let button = egui::Button::new(egui::RichText::new(sign).text_style(super::strong()));
    let response = ui.add_sized([30.0, 34.0], button);
    response.widget_info(|| egui::WidgetInfo::labeled(Role::Button, true, name));
    if response.on_hover_text(format!("{name}: {keys}")).clicked() {
        view.send(PictureMessage::StepFrame(by));
    }
}

fn strip_ui(view: &mut View, ui: &mut Ui, last: usize) {
    let size = vec2(ui.available_width() - 4.0, HEIGHT - 12.0);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
    let Some(open) = &view.model.open else { return };
    let frame = open.frame;
    response.widget_info(|| egui::WidgetInfo::slider(true, frame.0 as f64, "Frame"));
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 4.0, view.colours().ground);
    film(view, ui, &painter, rect);
    loudness(view, &painter, rect);
    swings(view, &painter, rect, last);
    let x = x_of(rect, frame.0, last);
    painter.vline(x, rect.y_range(), Stroke::new(4.0, Color32::from_black_alpha(170)));
    painter.vline(x, rect.y_range(), Stroke::new(2.0, Color32::WHITE));
    painter.rect_stroke(
        rect,
        4.0,
        Stroke::new(view.colours().stroke, view.colours().line),
        egui::StrokeKind::Inside,
    );
    if (response.clicked() || response.dragged())
        && let Some(pointer) = response.interact_pointer_pos()
    {
        let part = ((pointer.x - rect.left()) / rect.width()).clamp(0.0, 1.0);
        let to = (part * last as f32).round() as usize;
        if to != frame.0 {
            view.send(PictureMessage::ShowFrame(FrameIndex(to)));
        }
    }
    if response.has_focus() {
        ui.input(|i| {
            let by = i.num_presses(Key::ArrowRight) as i64 - i.num_presses(Key::ArrowLeft) as i64;
            if by != 0 {
                view.out.push(Message::Picture(PictureMessage::StepFrame(by)));
            }
        });
    }
    response.on_hover_cursor(CursorIcon::ResizeHorizontal);
}

fn x_of(rect: Rect, frame: usize, last: usize) -> f32 {
    rect.left() + rect.width() * frame as f32 / last.max(1) as f32
}

fn film(view: &mut View, ui: &Ui, painter: &Painter, rect: Rect) {
    let Some(open) = &view.model.open else { return };
    let n = open.film.len();
    let step = rect.width() / n.max(1) as f32;
    let tone = Default::default();
    for (i, picture) in open.film.iter().enumerate() {
        let cell = Rect::from_min_size(
            pos2(rect.left() + step * i as f32, rect.top()),
            vec2(step, rect.height()),
        );
        // The cell shows the middle of the picture at its own proportions.
        let aspect = picture.width as f32 / picture.height as f32;
        let shown = (cell.aspect_ratio() / aspect).clamp(0.05, 1.0);
        let tall = (aspect / cell.aspect_ratio()).clamp(0.05, 1.0);
        let uv = Rect::from_center_size(pos2(0.5, 0.5), vec2(shown, tall));
        let texture = view.pictures.texture(ui.ctx(), picture, tone);
        painter.image(texture, cell, uv, Color32::from_gray(170));
    }
}

fn loudness(view: &View, painter: &Painter, rect: Rect) {
    let Some(open) = &view.model.open else { return };
    let n = open.sound.len();
    if n == 0 {
        return;
    }
    let stroke = Stroke::new(1.0, Color32::from_white_alpha(190));
    for (i, level) in open.sound.iter().enumerate() {
        let x = rect.left() + rect.width() * (i as f32 + 0.5) / n as f32;
        let half = (level.clamp(0.0, 1.0) * rect.height() * 0.46).max(0.5);
        painter.vline(x, rect.center().y - half..=rect.center().y + half, stroke);
    }
}

/// A flag at each strike, with the swing's number.
fn swings(view: &View, painter: &Painter, rect: Rect, last: usize) {
    let Some(open) = &view.model.open else { return };
    let Some(timeline) = &open.timeline else { return };
    let font = TextStyle::Small.resolve(&painter.ctx().global_style());
    for (i, swing) in view.model.swings.iter().enumerate() {
        if swing.recording != Some(open.id) {
            continue;
        }
        let time = swing.result.as_ref().and_then(|r| r.strike_time);
        let time = time.or(swing.found.as_ref().map(|f| f.strike_time.value));
        let Some(Seconds(seconds)) = time.or(swing.marks.strike_time) else { continue };
        let x = x_of(rect, timeline.frame_at(Seconds(seconds)).0, last);
        let current = Some(swing.id) == view.model.current;
        let (back, ink) = if current {
            (view.colours().accent, view.colours().on_accent)
        } else {
            (view.colours().panel, view.colours().text)
        };
        painter.vline(x, rect.y_range(), Stroke::new(2.0, back));
        let galley = painter.layout_no_wrap((i + 1).to_string(), font.clone(), ink);
        let flag =
            Align2::LEFT_TOP.anchor_size(pos2(x, rect.top()), galley.size() + vec2(8.0, 2.0));
        painter.rect_filled(flag, 2.0, back);
        painter.galley(flag.min + vec2(4.0, 1.0), galley, ink);
    }
}
