//! What is waited for: that it goes on, what is being done, and the way out.

use eframe::egui::{self, Align2, Area, Frame, Id, Margin, Pos2, Ui, accesskit::Role};

use super::View;
use crate::app::message::Message;

/// A sign that turns while nobody knows how long it takes, the words, and a stop.
pub fn waiting_ui(view: &mut View, ui: &mut Ui, doing: &str, stop: impl Into<Message>) {
    let stop = stop.into();
    ui.horizontal(|ui| {
        turning_ui(view, ui, doing);
        ui.label(doing);
        stop_button(view, ui, doing, stop);
    });
}

/// A sign that turns while something is being done.
pub fn turning_ui(view: &View, ui: &mut Ui, doing: &str) {
    let size = ui.text_style_height(&egui::TextStyle::Body);
    let turning = ui.add(egui::Spinner::new().size(size).color(view.colours().quiet));
    turning.widget_info(|| egui::WidgetInfo::labeled(Role::ProgressIndicator, true, doing));
}

/// The same over a picture, which it covers as little of as it can.
pub fn waiting_over(
    view: &mut View,
    ui: &Ui,
    (pivot, at): (Align2, Pos2),
    doing: &str,
    stop: impl Into<Message>,
) {
    let panel = view.colours().panel;
    let area = Area::new(Id::unique(("waiting", doing))).pivot(pivot).fixed_pos(at);
    area.show(ui.ctx(), |ui| {
        let frame =
            Frame::new().fill(panel).corner_radius(8).inner_margin(Margin::symmetric(14, 6));
        frame.show(ui, |ui| waiting_ui(view, ui, doing, stop));
    });
}

/// "Stop", which says what it stops.
pub fn stop_button(view: &mut View, ui: &mut Ui, doing: &str, stop: impl Into<Message>) {
    let hint = format!("Stop: {}", doing.trim_end_matches('…'));
    let button = ui.button("Stop").on_hover_text("Nothing is changed or left half done");
    if button.accessible_name(hint).clicked() {
        view.send(stop);
    }
}
