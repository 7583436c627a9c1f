//! What is on the screen. Draws the model and reports what is done to it; decides nothing.

mod canvas;
mod compare;
mod ground_ruler;
mod loupe;
mod panel;
mod pictures;
mod range;
mod shapes;
mod sheets;
mod timeline;
mod top;
mod turf_ruler;

use eframe::egui::{self, Frame, Id, Margin, Pos2, Ui};

pub use super::theme::{big, strong};
pub use pictures::PictureCache;

use super::message::Message;
use super::model::{MarkName, Model, Page};
use super::theme::Colours;

/// What drawing needs: the model to read, textures, and where messages go.
pub struct View<'a> {
    /// What is drawn.
    pub model: &'a Model,
    /// Textures of pictures.
    pub pictures: &'a mut PictureCache,
    /// What is done to it.
    pub out: &'a mut Vec<Message>,
    /// The blink button is held down.
    pub hold_blink: bool,
    /// Where a drag began and where its mark was.
    pub grip: &'a mut Option<(Pos2, Pos2)>,
    /// The current swing's row is to come into sight.
    pub scroll_to_current: bool,
    colours: Colours,
}

impl<'a> View<'a> {
    /// A view of `model`.
    pub fn new(
        model: &'a Model,
        pictures: &'a mut PictureCache,
        out: &'a mut Vec<Message>,
        grip: &'a mut Option<(Pos2, Pos2)>,
    ) -> Self {
        let colours = model.settings.theme.colours();
        Self { model, pictures, out, hold_blink: false, grip, scroll_to_current: false, colours }
    }

    /// The theme's colours.
    pub fn colours(&self) -> &Colours {
        &self.colours
    }

    /// Reports what was done.
    pub fn send(&mut self, message: impl Into<Message>) {
        self.out.push(message.into());
    }
}

fn picture_id() -> Id {
    Id::unique("the picture")
}

fn mark_id(name: MarkName) -> Id {
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

/// Shows the whole window.
pub fn window_ui(view: &mut View, ui: &mut Ui) {
    match view.model.page {
        Page::Range => range::range_ui(view, ui),
        Page::Measure => measure_page_ui(view, ui),
        Page::Compare => compare_page_ui(view, ui),
    }
    let ctx = ui.ctx().clone();
    sheets::sheets_ui(view, &ctx);
    top::notices_ui(view, &ctx);
}

fn compare_page_ui(view: &mut View, ui: &mut Ui) {
    let panel = view.colours().panel;
    let frame = Frame::new().fill(panel).inner_margin(Margin::symmetric(14, 6));
    egui::Panel::top("top").frame(frame).show(ui, |ui| top::top_ui(view, ui));
    egui::CentralPanel::no_frame().show(ui, |ui| compare::compare_ui(view, ui));
}

fn measure_page_ui(view: &mut View, ui: &mut Ui) {
    let panel = view.colours().panel;
    let frame = |x, y| Frame::new().fill(panel).inner_margin(Margin::symmetric(x, y));
    egui::Panel::top("top").frame(frame(14, 6)).show(ui, |ui| top::top_ui(view, ui));
    let wide = ui.available_width();
    egui::Panel::right("panel")
        .frame(frame(18, 10))
        .default_size((wide * 0.25).clamp(300.0, 420.0))
        .size_range(270.0..=(wide * 0.36).max(280.0))
        .show(ui, |ui| panel::panel_ui(view, ui));
    if view.model.open.as_ref().is_some_and(|o| o.timeline.is_some()) {
        egui::Panel::bottom("time")
            .frame(frame(10, 2))
            .exact_size(timeline::HEIGHT)
            .show(ui, |ui| timeline::timeline_ui(view, ui));
    }
    egui::CentralPanel::no_frame().show(ui, |ui| canvas::canvas_ui(view, ui));
}
