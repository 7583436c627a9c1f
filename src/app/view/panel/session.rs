//! The session at the panel's foot: its swings on the turf ruler, and its numbers in words.

use eframe::egui::{
    self, Align, Layout, Sense, Stroke, TextFormat, TextStyle, Ui, text::LayoutJob, vec2,
};

use crate::app::notebook::{Chapter, ConsistencyMessage, NotebookMessage};
use crate::app::view::{View, turf_ruler};
use crate::domain::Quantity;
use crate::store::Of;

/// Space around the session's ruler and its words, in points.
const AROUND: f32 = 20.0;

/// The session in words, and the room that it takes.
pub(super) struct SessionRoom {
    words: Vec<LayoutJob>,
    /// Height of the words and of the space around the ruler.
    foot: f32,
    /// With less height than this the session is not shown.
    pub(super) least: f32,
}

impl SessionRoom {
    /// `None` while there are no swings.
    pub(super) fn of(view: &View, ui: &Ui) -> Option<Self> {
        if view.model.swings.is_empty() {
            return None;
        }
        let (words, high) = summary_lines(view, ui, ui.available_width());
        let foot = high + AROUND;
        Some(Self { words, foot, least: foot + turf_ruler::least_height(ui, view) })
    }
}

/// The session: its swings on the turf ruler, and mean, spread and n in words.
pub(super) fn session_ui(view: &mut View, ui: &mut Ui, session: SessionRoom) {
    let width = ui.available_width();
    let SessionRoom { words, foot, .. } = session;
    let colours = *view.colours();
    let line = Stroke::new(colours.stroke, colours.line);
    let (rect, _) = ui.allocate_exact_size(vec2(width, 1.0), Sense::hover());
    ui.painter().hline(rect.x_range(), rect.center().y, line);
    ui.add_space(6.0);
    let room = (ui.available_height() - foot).max(0.0);
    let style = turf_ruler::panel_filling(ui, view, room);
    let area = vec2(width, room);
    ui.allocate_ui_with_layout(area, Layout::top_down(Align::Min), |ui| {
        turf_ruler::turf_ruler_ui(view, ui, &style, usize::MAX);
    });
    ui.add_space(4.0);
    ui.spacing_mut().interact_size.y = 0.0;
    for (line, quantity) in words.into_iter().zip([Quantity::DivotStart, Quantity::LowPoint]) {
        let label = egui::Label::new(line).wrap().sense(Sense::click());
        let told = ui.add(label).on_hover_cursor(egui::CursorIcon::PointingHand);
        let clicked = told.on_hover_text("Click for how well this is known").clicked();
        if let Some(session) = view.model.people.session.filter(|_| clicked) {
            let chosen = ConsistencyMessage::Choose(Of::Session(session));
            view.send(NotebookMessage::Consistency(chosen));
            view.send(NotebookMessage::Consistency(ConsistencyMessage::Chart(quantity)));
            view.send(NotebookMessage::Open(Chapter::Consistency));
        }
    }
}

/// The session in words, and how high that is: as many rows as it takes, so that nothing of it
/// is cut off in a narrow panel or in large type.
fn summary_lines(view: &View, ui: &Ui, width: f32) -> (Vec<LayoutJob>, f32) {
    let font = TextStyle::Small.resolve(ui.style());
    let (quiet, text) = (view.colours().quiet, view.colours().text);
    let line = |(name, words): (String, String)| {
        let mut job = LayoutJob::default();
        job.append(&name, 0.0, TextFormat::simple(font.clone(), quiet));
        // What belongs together stays in one row.
        let parts: Vec<String> = words.split(", ").map(|p| p.replace(' ', "\u{a0}")).collect();
        let words = parts.join(", ");
        job.append(&format!(" {words}"), 0.0, TextFormat::simple(font.clone(), text));
        job.wrap.max_width = width;
        job
    };
    let lines: Vec<_> = turf_ruler::summary_words(view.model).into_iter().map(line).collect();
    let high = |line: &LayoutJob| ui.painter().layout_job(line.clone()).size().y;
    let height = lines.iter().map(|line| high(line) + ui.spacing().item_spacing.y).sum();
    (lines, height)
}
