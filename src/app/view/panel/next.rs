//! What is next: how many swings are left to look at, and the way on.

use std::path::PathBuf;

use eframe::egui::{self, Align, Layout, Rect, RichText, Sense, Stroke, Ui, pos2, vec2};

use crate::app::keys::{self, Act};
use crate::app::message::{Message, SwingMessage};
use crate::app::model::Swing;
use crate::app::notebook::{Chapter, NotebookMessage};
use crate::app::view::waiting::turning_ui;
use crate::app::view::{View, strong};
use crate::store::RecordingId;
use crate::workflow::file_name;

/// "3 of 8 to look at", and the way on.
pub(super) fn next_ui(view: &mut View, ui: &mut Ui) {
    let total = view.model.swings.len();
    let open = view.model.open_count();
    ui.horizontal(|ui| {
        let text = match (total, open) {
            (0, _) => "No swings yet".to_owned(),
            (1, 0) => "Looked at".to_owned(),
            (_, 0) => format!("All {total} looked at"),
            _ => format!("{open} of {total} to look at"),
        };
        if !measuring_ui(view, ui) {
            ui.label(RichText::new(text).text_style(strong()));
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            if total > 0 {
                accept_button(view, ui, open > 0);
            }
        });
    });
    if total > 0 {
        pips_ui(view, ui);
    }
    without_swing_ui(view, ui);
    let doubtful = view.model.current_swing().map(Swing::doubtful).unwrap_or_default();
    if !doubtful.is_empty() {
        let mark = view.model.current_mark_word();
        let list: Vec<&str> = doubtful.iter().map(|what| what.words_of(mark)).collect();
        let text = RichText::new(format!("Doubtful here: {}", list.join(", "))).small();
        ui.add(egui::Label::new(text.color(view.colours().quiet)).wrap());
    }
}

/// The way to recordings in which no swing was found: a button for one, a menu for several.
fn without_swing_ui(view: &mut View, ui: &mut Ui) {
    let named = |(id, path): &(RecordingId, PathBuf)| (*id, file_name(path));
    let rest: Vec<_> = view.model.without_swing().into_iter().map(named).collect();
    let small = |text: String| RichText::new(text).small();
    let mut show = |id: RecordingId| view.send(SwingMessage::ShowRecording(id));
    match &rest[..] {
        [] => {}
        [(id, name)] => {
            let button = egui::Button::new(small(format!("No swing found in {name}"))).truncate();
            if ui.add(button).on_hover_text("Look at it").clicked() {
                show(*id);
            }
        }
        several => {
            let title = small(format!("No swing found in {} recordings", several.len()));
            ui.menu_button(title, |ui| {
                for (id, name) in several {
                    if ui.button(name).clicked() {
                        show(*id);
                        ui.close();
                    }
                }
            });
        }
    }
}

/// For how long, in seconds, a change may take before it is said that it does.
const MOMENT: f64 = 0.4;

/// While a change is on its way through the library and the swings are measured again by it, in
/// the place of what is next; what is done quickly is not said. Whether it is shown.
fn measuring_ui(view: &View, ui: &mut Ui) -> bool {
    const DOING: &str = "Measuring again…";
    let id = egui::Id::unique("measuring since");
    if view.model.edits == view.model.edits_seen {
        ui.data_mut(|data| data.remove::<f64>(id));
        return false;
    }
    let now = ui.input(|input| input.time);
    let since = ui.data_mut(|data| *data.get_temp_mut_or(id, now));
    if now - since < MOMENT {
        let left = std::time::Duration::from_secs_f64(MOMENT - (now - since));
        ui.ctx().request_repaint_after(left);
        return false;
    }
    turning_ui(view, ui, DOING);
    ui.label(RichText::new(DOING).text_style(strong()));
    true
}

/// What is next: a doubtful swing, or once all are looked at the session's numbers.
fn accept_button(view: &mut View, ui: &mut Ui, any_open: bool) {
    let doubtful = view.model.current_swing().is_some_and(|s| !s.is_settled());
    let accept = || Message::from(SwingMessage::Accept);
    let numbers = || NotebookMessage::Open(Chapter::Consistency).into();
    let on = "Accept and go to the next doubtful swing";
    let (text, hint, message) = match (any_open, doubtful) {
        (true, true) => ("Accept", keys::hint(on, Act::Accept), accept()),
        (true, false) => ("Next", keys::hint(on, Act::Accept), accept()),
        (false, _) => ("Its numbers", "The session's mean and spread".into(), numbers()),
    };
    let colours = *view.colours();
    let text = RichText::new(text).text_style(strong()).color(colours.on_accent);
    let button = ui.add(egui::Button::new(text).fill(colours.accent));
    if button.on_hover_text(hint).clicked() {
        view.send(message);
    }
}

/// One small sign a swing: a ring while it is open, a dot once it is settled.
fn pips_ui(view: &mut View, ui: &mut Ui) {
    let colours = *view.colours();
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), 16.0), Sense::hover());
    let n = view.model.swings.len();
    let step = (rect.width() / n as f32).min(18.0);
    if step < 9.0 {
        share_ui(view, ui, rect);
        return;
    }
    let painter = ui.painter_at(rect.expand(3.0));
    for (i, swing) in view.model.swings.iter().enumerate() {
        let at = pos2(rect.left() + step * (i as f32 + 0.5), rect.center().y - 1.0);
        let current = Some(swing.id) == view.model.current;
        let ink = if current { colours.accent } else { colours.quiet };
        let radius = (step * 0.28).min(4.0);
        if swing.is_settled() {
            painter.circle_filled(at, radius, ink);
        } else {
            painter.circle_stroke(at, radius, Stroke::new(1.0 + 0.5 * colours.stroke, ink));
        }
        if current {
            painter.hline(
                at.x - radius..=at.x + radius,
                rect.bottom() - 1.0,
                Stroke::new(2.0, ink),
            );
        }
    }
}

/// Too many swings for signs of their own: how much is looked at, and where one stands.
fn share_ui(view: &View, ui: &Ui, rect: Rect) {
    let (colours, n) = (*view.colours(), view.model.swings.len());
    let part = |i: usize| rect.left() + rect.width() * i as f32 / n as f32;
    let bar = Rect::from_x_y_ranges(rect.x_range(), rect.center().y - 2.0..=rect.center().y + 2.0);
    ui.painter().rect_filled(bar, 2.0, colours.turf);
    for (i, swing) in view.model.swings.iter().enumerate() {
        let here = Rect::from_x_y_ranges(part(i)..=part(i + 1), bar.y_range());
        if Some(swing.id) == view.model.current {
            ui.painter().rect_filled(here.expand2(vec2(1.0, 4.0)), 1.0, colours.accent);
        } else if swing.is_settled() {
            ui.painter().rect_filled(here, 0.0, colours.quiet);
        }
    }
}
