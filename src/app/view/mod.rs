//! What is on the screen. Draws the model and reports what is done to it; decides nothing.

mod arc;
mod beside;
mod canvas;
mod glance;
mod ground_ruler;
mod key_cap;
mod loupe;
mod notebook;
mod panel;
mod pen;
mod pictures;
mod placement;
mod range;
mod shapes;
mod sheets;
mod timeline;
mod tools;
mod top;
mod turf_ruler;
mod waiting;

use eframe::egui::{self, Frame, Id, Margin, Pos2, RichText, Ui};

pub use super::theme::{big, strong};
pub use pictures::PictureCache;

use super::message::{Message, SettingsMessage};
use super::model::{Model, Page};
use super::theme::Colours;
use crate::domain::{LengthUnit, TypedLength};

/// What drawing needs: the model to read, textures, and where messages go.
pub struct View<'a> {
    /// What is drawn.
    pub model: &'a Model,
    /// Textures of pictures.
    pub pictures: &'a mut PictureCache,
    /// What is done to it.
    pub out: &'a mut Vec<Message>,
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
        Self { model, pictures, out, grip, scroll_to_current: false, colours }
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

/// Shows the whole window.
pub fn window_ui(view: &mut View, ui: &mut Ui) {
    match view.model.page {
        Page::Range => range::range_ui(view, ui),
        Page::Measure => measure_page_ui(view, ui),
        Page::Beside => below_the_bar(view, ui, beside::beside_ui),
        Page::Notebook(chapter) => notebook::notebook_ui(view, ui, chapter),
    }
    let ctx = ui.ctx().clone();
    sheets::sheets_ui(view, &ctx);
    if view.model.page == Page::Range {
        top::notices_ui(view, &ctx);
    }
    top::dropping_ui(view, &ctx);
}

/// What a click on a number with a ± does.
const BUDGET_HINT: &str = "Click for where the doubt comes from";

/// Small print.
fn small(view: &View, ui: &mut Ui, text: impl Into<String>) {
    let text = RichText::new(text).small().color(view.colours().quiet);
    ui.add(egui::Label::new(text).wrap());
}

/// Boxes to tick and rings to choose by, with an edge that is seen on any sheet.
fn edged<T>(ui: &mut Ui, add: impl FnOnce(&mut Ui) -> T) -> T {
    let widgets = &ui.visuals().widgets;
    let edge = widgets.hovered.bg_stroke;
    ui.scope(|ui| {
        ui.visuals_mut().widgets.inactive.bg_stroke = edge;
        add(ui)
    })
    .inner
}

/// A field for a length that is kept in mm and shown in the chosen unit.
fn length_field(mm: &mut f64, unit: LengthUnit) -> egui::DragValue<'_> {
    egui::DragValue::from_get_set(move |typed| {
        if let Some(value) = typed {
            *mm = value * unit.in_mm();
        }
        unit.from_mm(*mm)
    })
    .custom_parser(move |text| Some(unit.from_mm(text.parse::<TypedLength>().ok()?.mm(unit))))
    .speed(unit.from_mm(1.0))
    .suffix(format!(" {}", unit.short_name()))
    .max_decimals(unit.decimals() + 1)
}

/// Keeps the panel's width once the person has drawn it to another.
fn remember_panel(view: &mut View, ui: &Ui, width: f32, known: f32) {
    let id = Id::unique("panel drawn");
    let down = ui.input(|input| input.pointer.any_down());
    let (before, drawn) = ui.data(|data| (data.get_temp::<f32>(id), data.get_temp::<bool>(id)));
    let drawn = drawn.unwrap_or(false) || (down && before.is_some_and(|before| before != width));
    if drawn && !down && (width - known).abs() > 1.0 {
        view.send(SettingsMessage::SetPanel(width));
    }
    ui.data_mut(|data| {
        data.insert_temp(id, width);
        data.insert_temp(id, drawn && down);
    });
}

/// A page with the bar above it.
fn below_the_bar(view: &mut View, ui: &mut Ui, page: fn(&mut View, &mut Ui)) {
    let panel = view.colours().panel;
    let frame = Frame::new().fill(panel).inner_margin(Margin::symmetric(14, 6));
    egui::Panel::top("top").frame(frame).show(ui, |ui| top::top_ui(view, ui));
    top::foot_of_page_ui(view, ui);
    egui::CentralPanel::no_frame().show(ui, |ui| page(view, ui));
}

fn measure_page_ui(view: &mut View, ui: &mut Ui) {
    let panel = view.colours().panel;
    let frame = |x, y| Frame::new().fill(panel).inner_margin(Margin::symmetric(x, y));
    egui::Panel::top("top").frame(frame(14, 6)).show(ui, |ui| top::top_ui(view, ui));
    let wide = ui.available_width();
    let first = (wide * 0.25).clamp(300.0, 420.0);
    let kept = view.model.settings.panel;
    // Another panel once the settings are known, since a panel remembers its size itself.
    let shown = egui::Panel::right(Id::unique(("panel", view.model.ready)))
        .frame(frame(18, 10))
        .default_size(kept.unwrap_or(first))
        .size_range(270.0..=(wide * 0.36).max(280.0))
        .show(ui, |ui| {
            top::foot_of_panel_ui(view, ui);
            panel::panel_ui(view, ui);
        });
    remember_panel(view, ui, shown.response.rect.width(), kept.unwrap_or(first));
    if view.model.open.as_ref().is_some_and(|o| o.timeline.is_some()) {
        egui::Panel::bottom("time")
            .frame(frame(10, 2))
            .exact_size(timeline::height(ui))
            .show(ui, |ui| timeline::timeline_ui(view, ui));
    }
    egui::CentralPanel::no_frame().show(ui, |ui| canvas::canvas_ui(view, ui));
}

#[cfg(test)]
mod tests {
    use eframe::egui::{Event, Key, accesskit::Role};
    use egui_kittest::{Harness, kittest::Queryable};

    use super::*;
    use crate::app::theme;

    #[test]
    fn a_length_field_takes_any_unit() {
        let mut has_type = false;
        let field = move |ui: &mut Ui, mm: &mut f64| {
            // The typeface is there from the next pass on.
            if std::mem::replace(&mut has_type, true) {
                ui.add(length_field(mm, LengthUnit::Mm));
            } else {
                ui.ctx().set_fonts(theme::fonts());
            }
        };
        let mut harness = Harness::new_ui_state(field, 10.0);
        harness.run();
        let mut typed = |text: &str| {
            harness.get_by_role(Role::SpinButton).click();
            harness.run();
            harness.event(Event::Text(text.into()));
            harness.run();
            harness.key_press(Key::Enter);
            harness.run();
            *harness.state()
        };
        assert_eq!(typed("2,5"), 2.5);
        assert_eq!(typed("-2 in"), -50.8);
        assert_eq!(typed("a hand"), -50.8);
    }
}
