//! The notebook's pages: a strip of chapters, and the chapter beneath it.

mod clubs;
mod comparison;
mod consistency;
mod drills;
mod people;
mod send;
mod tape;

use eframe::egui::{self, Frame, Margin, RichText, TextStyle, Ui, accesskit::Role, vec2};

use super::waiting::waiting_ui;
use super::{BUDGET_HINT, View, small, strong, top, turf_ruler};
use crate::app::keys::{self, Act};
use crate::app::message::ScreenMessage;
use crate::app::model::{Page, Sheet};
use crate::app::notebook::{Chapter, NotebookMessage, Shown};
use crate::app::words;
use crate::domain::{MarkWord, Quantity, SwingKind, SwingNumber};
use crate::report::charts::ChartStyle;
use crate::report::drawing::Drawing;
use crate::report::ruler::{Bar, Style};
use crate::store::{Of, SwingId};
use crate::workflow::{BlockFact, BlockNumber, Listed, length_words, on_ruler};

/// Fills the window with a chapter.
pub fn notebook_ui(view: &mut View, ui: &mut Ui, chapter: Chapter) {
    let panel = view.colours().panel;
    let frame = Frame::new().fill(panel).inner_margin(Margin::symmetric(14, 6));
    egui::Panel::top("top").frame(frame).show(ui, |ui| top::top_ui(view, ui));
    let frame = Frame::new().fill(panel).inner_margin(Margin::symmetric(14, 4));
    egui::Panel::top("chapters").frame(frame).show(ui, |ui| chapters_ui(view, ui, chapter));
    top::foot_of_page_ui(view, ui);
    egui::CentralPanel::no_frame().show(ui, |ui| page_ui(view, ui, chapter));
}

fn chapters_ui(view: &mut View, ui: &mut Ui, chapter: Chapter) {
    ui.horizontal(|ui| {
        if ui
            .selectable_label(false, "Picture")
            .on_hover_text(keys::hint("Back to the picture", Act::StepOut))
            .clicked()
        {
            view.send(ScreenMessage::Show(Page::Measure));
        }
        for one in Chapter::ALL {
            let [back, on] = [Act::LastChapter, Act::NextChapter].map(keys::shown);
            let hint = format!("{back} and {on} turn the chapters");
            if ui.selectable_label(one == chapter, one.words()).on_hover_text(hint).clicked() {
                view.send(NotebookMessage::Open(one));
            }
        }
    });
}

fn page_ui(view: &mut View, ui: &mut Ui, chapter: Chapter) {
    let panel = view.colours().panel;
    let widest = if chapter == Chapter::People { 1500.0 } else { 1180.0 };
    let side = ((ui.available_width() - widest) / 2.0).clamp(24.0, 120.0) as i8;
    let frame = Frame::new().fill(panel).inner_margin(Margin {
        left: side,
        right: side,
        top: 12,
        bottom: 12,
    });
    frame.show(ui, |ui| {
        ui.set_min_size(ui.available_size());
        // A golfer can come into an empty library by a bundle.
        if view.model.people.golfer.is_none() && chapter != Chapter::Send {
            nobody_ui(view, ui);
            return;
        }
        if view.model.notebook.outline.is_none() && chapter != Chapter::Send {
            reading_ui(view, ui, "Reading the notebook…");
            return;
        }
        egui::ScrollArea::vertical().id_salt(chapter).auto_shrink([false, false]).show(ui, |ui| {
            match chapter {
                Chapter::Consistency => consistency::consistency_ui(view, ui),
                Chapter::Comparison => comparison::comparison_ui(view, ui),
                Chapter::Clubs => clubs::clubs_ui(view, ui),
                Chapter::Drills => drills::drills_ui(view, ui),
                Chapter::People => people::people_ui(view, ui),
                Chapter::Tape => tape::tape_ui(view, ui),
                Chapter::Send => send::send_ui(view, ui),
            }
        });
    });
}

/// There is no golfer whose numbers a chapter could show.
fn nobody_ui(view: &mut View, ui: &mut Ui) {
    ui.vertical_centered(|ui| {
        ui.add_space(ui.available_height() * 0.3);
        ui.label(RichText::new("No golfer is chosen").text_style(strong()));
        ui.add_space(4.0);
        ui.weak("Numbers, comparisons and drills belong to somebody.");
        ui.add_space(12.0);
        let hint = keys::hint("Choose a golfer, or add one", Act::People);
        if ui.button("Golfers and sessions…").on_hover_text(hint).clicked() {
            view.send(ScreenMessage::Open(Sheet::Chooser));
        }
        ui.add_space(4.0);
        ui.weak("A recording dropped on the window brings one by itself.");
    });
}

/// What a chapter shows is still being read, or was stopped.
fn reading_ui(view: &mut View, ui: &mut Ui, doing: &str) {
    if !view.model.notebook.stopped {
        waiting_ui(view, ui, doing, NotebookMessage::Stop);
        return;
    }
    ui.horizontal(|ui| {
        ui.weak("It was not read.");
        if ui.button("Read it again").clicked() {
            view.send(NotebookMessage::Open(view.model.notebook.last));
        }
    });
}

/// A heading within a chapter.
fn heading(ui: &mut Ui, text: &str) {
    ui.add_space(14.0);
    ui.label(RichText::new(text).text_style(strong()));
    ui.add_space(2.0);
}

/// The one sentence of a chapter.
fn lead(ui: &mut Ui, text: &str) {
    ui.add(egui::Label::new(RichText::new(text).text_style(strong()).size(19.0)).wrap());
}

/// What leads to a budget where the number itself stands in a sentence.
const WHERE_FROM: &str = "Where this ± comes from";

/// A number of the chapter with a doubt of its own: a click opens its budget.
fn doubt_link(view: &mut View, ui: &mut Ui, text: &str, which: Shown, quantity: Quantity) {
    budget_link(view, ui, text, Sheet::Shown(which, quantity));
}

/// A number of one swing: a click opens its budget.
fn swing_link(
    view: &mut View,
    ui: &mut Ui,
    text: impl Into<egui::WidgetText>,
    (swing, number): (SwingId, SwingNumber),
) {
    budget_link(view, ui, text, Sheet::Swing(swing, number));
}

fn budget_link(view: &mut View, ui: &mut Ui, text: impl Into<egui::WidgetText>, budget: Sheet) {
    if ui.link(text).on_hover_text(BUDGET_HINT).clicked() {
        view.send(ScreenMessage::Open(budget));
    }
}

/// Rows of text as close as text stands, without the height of buttons.
fn compact(ui: &mut Ui, content: impl FnOnce(&mut Ui)) {
    ui.scope(|ui| {
        ui.spacing_mut().interact_size.y = 0.0;
        content(ui);
    });
}

/// What a block says, a row of a grid each; what has a doubt of its own opens it.
fn facts_ui(
    view: &mut View,
    ui: &mut Ui,
    id: &str,
    (facts, quantity, shown): (Vec<BlockFact>, Quantity, impl Fn(BlockNumber) -> Shown),
) {
    let widest = (ui.available_width() - 150.0).max(120.0);
    let grid = egui::Grid::new(id).num_columns(2).spacing(vec2(16.0, 7.0)).max_col_width(widest);
    let mut row = |ui: &mut Ui, BlockFact { name, text, number }| {
        ui.weak(name);
        match number {
            Some(number) => doubt_link(view, ui, &text, shown(number), quantity),
            None => drop(ui.add(egui::Label::new(text).wrap())),
        }
        ui.end_row();
    };
    compact(ui, |ui| {
        grid.show(ui, |ui| facts.into_iter().for_each(|fact| row(ui, fact)));
    });
}

/// A menu of everything that can be looked at by itself; returns what was chosen.
fn subject_menu(view: &View, ui: &mut Ui, name: &str, chosen: Option<Of>) -> Option<Of> {
    let outline = view.model.notebook.outline.clone()?;
    let text = chosen.and_then(|of| outline.words(of)).unwrap_or_else(|| "Choose a block".into());
    let mut picked = None;
    let menu = ui.menu_button(RichText::new(text).text_style(strong()), |ui| {
        ui.set_min_width(260.0);
        egui::ScrollArea::vertical().max_height(420.0).show(ui, |ui| {
            for of in outline.subjects() {
                let words = outline.words(of).unwrap_or_default();
                if ui.selectable_label(Some(of) == chosen, words).clicked() {
                    picked = Some(of);
                    ui.close();
                }
            }
        });
    });
    menu.response.on_hover_text(name.to_owned());
    picked
}

/// Tabs for numbers; returns the one chosen.
fn quantity_tabs(
    ui: &mut Ui,
    chosen: Quantity,
    mark: MarkWord,
    has: impl Fn(Quantity) -> bool,
) -> Option<Quantity> {
    let mut picked = None;
    for quantity in Quantity::ALL.into_iter().filter(|q| has(*q)) {
        let text = words::capital(quantity.words_of(mark));
        if ui.selectable_label(quantity == chosen, text).clicked() {
            picked = Some(quantity);
        }
    }
    picked
}

/// A listed swing as the ruler draws it.
fn bar_of(listed: &Listed) -> Bar {
    let of = &listed.offsets;
    Bar {
        label: listed.number.to_string(),
        start: of.divot_start.as_ref().map(on_ruler),
        end: of.divot_end.as_ref().map(on_ruler),
        low_point: of.low_point.as_ref().map(|(m, _)| on_ruler(m)),
        current: false,
        left_out: listed.left_out.is_some(),
        practice: of.kind == SwingKind::Practice,
    }
}

/// Sizes of a ruler: no wider than a ball of its true size looks well on.
fn ruler_style(view: &View, ui: &Ui) -> Style {
    let style = turf_ruler::panel_style(ui, view);
    Style { width: style.width.min(760.0), ..style }
}

/// Sizes of a chart in the room at hand.
fn chart_style(view: &View, ui: &Ui, height: f64) -> ChartStyle {
    ChartStyle {
        width: f64::from(ui.available_width()),
        height,
        type_size: f64::from(TextStyle::Small.resolve(ui.style()).size),
        stroke: f64::from(view.colours().stroke),
    }
}

/// Draws a picture and says what it shows.
fn drawn(view: &View, ui: &mut Ui, drawing: &Drawing, says: &str) -> egui::Response {
    let response = turf_ruler::drawing_ui(view, ui, drawing);
    response.widget_info(|| egui::WidgetInfo::labeled(Role::Image, true, says));
    response
}

/// How a value is written on an axis: "40 ahead", "2.0° down".
fn axis_words(view: &View, quantity: Quantity) -> impl Fn(f64) -> String + use<> {
    let unit = view.model.settings.unit;
    move |value: f64| match quantity {
        Quantity::AttackAngle => words::attack_angle(value),
        _ => match length_words(value.abs(), unit) {
            zero if zero.parse::<f64>() == Ok(0.0) => "ball".into(),
            size if value > 0.0 => format!("{size} ahead"),
            size => format!("{size} behind"),
        },
    }
}

/// Two columns side by side, the left one `left` points wide.
fn beside(
    view: &mut View,
    ui: &mut Ui,
    left: f32,
    first: impl FnOnce(&mut View, &mut Ui),
    second: impl FnOnce(&mut View, &mut Ui),
) {
    let right = (ui.available_width() - left - 32.0).max(240.0);
    ui.horizontal_top(|ui| {
        ui.vertical(|ui| {
            ui.set_width(left);
            first(view, ui);
        });
        ui.add_space(24.0);
        ui.vertical(|ui| {
            ui.set_width(right);
            second(view, ui);
        });
    });
}
