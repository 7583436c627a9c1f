//! The numbers of the swing looked at, each a way to its budget.

use eframe::egui::{
    self, FontId, Rect, RichText, Sense, TextStyle, Ui, accesskit::Role, pos2, vec2,
};

use super::{button_room, warnings_ui};
use crate::app::keys::{self, Act};
use crate::app::message::{ScreenMessage, SwingMessage};
use crate::app::model::{Sheet, Swing};
use crate::app::view::{BUDGET_HINT, View, big, strong};
use crate::app::words;
use crate::domain::{Club, GroundAnswer, Measured, Quantity, SwingKind, SwingNumber, SwingResult};
use crate::workflow::{Stated, clearance_words, number_words, state};
/// Clubs offered; others can be typed on the command line.
const CLUBS: [&str; 16] = [
    "driver", "3-wood", "5-wood", "hybrid", "3-iron", "4-iron", "5-iron", "6-iron", "7-iron",
    "8-iron", "9-iron", "PW", "GW", "SW", "LW", "putter",
];

pub(super) fn swing_head_ui(view: &mut View, ui: &mut Ui, swing: &Swing) {
    let number = view.model.number_of(swing.id).unwrap_or(0);
    ui.horizontal(|ui| {
        ui.label(RichText::new(format!("Swing {number}")).text_style(strong()));
        let club = swing.club.as_ref().map_or("Which club?", |Club(name)| name.as_str()).to_owned();
        let menu = ui.menu_button(club, |ui| {
            for name in CLUBS {
                if ui.button(name).clicked() {
                    view.send(SwingMessage::SetClub(name.into()));
                    ui.close();
                }
            }
        });
        menu.response.on_hover_text("The club of this swing");
        let menu = ui.menu_button(words::capital(words::kind(swing.kind)), |ui| {
            for kind in [SwingKind::Strike, SwingKind::Practice] {
                if ui.button(words::capital(words::kind(kind))).clicked() {
                    view.send(SwingMessage::SetKind(kind));
                    ui.close();
                }
            }
        });
        let hint = "A ball was struck, or it was a practice swing";
        menu.response.on_hover_text(keys::hint(hint, Act::Kind));
    });
    if swing.left_out {
        let key = keys::shown(Act::LeaveOut);
        ui.weak(format!("Left out: not counted ({key} counts it again)"));
    }
}

pub(super) fn result_ui(view: &mut View, ui: &mut Ui, swing: &Swing) {
    let Some(result) = swing.result.clone() else {
        ui.weak("Not measured yet.");
        return;
    };
    let unit = view.model.settings.unit;
    match &result.divot_start_offset {
        Some(start) => headline_ui(view, ui, start),
        None => no_number_ui(view, ui, &result, swing.marks.ground),
    }
    ui.add_space(4.0);
    if result.divot_start_offset.is_some() {
        contact_ui(view, ui, &result);
    }
    let low_point_from = result.low_point.as_ref().map_or("", |(_, from)| words::method(*from));
    for (quantity, aside) in [
        (Quantity::DivotEnd, ""),
        (Quantity::LowPoint, low_point_from),
        (Quantity::AttackAngle, ""),
    ] {
        if let Some(measured) = result.measured(quantity) {
            let text = number_words(quantity.into(), &state(measured), unit);
            number_row(view, ui, quantity, &text, aside);
        }
    }
    let open = view.model.open.as_ref();
    let club = swing.club.as_ref().or(open.and_then(|open| open.setup.club.as_ref()));
    let on_tee = open.is_some_and(|open| open.setup.is_on_tee(club));
    if let Some(words) = clearance_words(&result, club, on_tee, unit) {
        small_number_ui(view, ui, SwingNumber::HeightAtBall, &words);
    }
    stance_ui(view, ui, &result);
    reach_ui(view, ui, &result);
    warnings_ui(view, ui, &result.warnings);
}

/// Where the ball lies in the stance, once the heels are marked.
fn stance_ui(view: &mut View, ui: &mut Ui, result: &SwingResult) {
    let told = [SwingNumber::StanceShare, SwingNumber::FromLeadHeel, SwingNumber::FromTrailHeel];
    let known = told.into_iter().find_map(|number| Some((number, result.number(number)?)));
    if let Some((number, measured)) = known {
        let words = number_words(number, &state(&measured), view.model.settings.unit);
        small_number_ui(view, ui, number, &format!("Ball {words}"));
    }
}

/// Where the mark begins against the reach line, once that is marked.
fn reach_ui(view: &mut View, ui: &mut Ui, result: &SwingResult) {
    let start = view.model.current_mark_word().start_title();
    for (number, name) in
        [(SwingNumber::ReachLine, "Reach line"), (SwingNumber::StartFromReachLine, start)]
    {
        if let Some(measured) = result.number(number) {
            let words = number_words(number, &state(&measured), view.model.settings.unit);
            small_number_ui(view, ui, number, &format!("{name} {words}"));
        }
    }
}

/// The one number that matters, in words.
fn headline_ui(view: &mut View, ui: &mut Ui, start: &Measured) {
    let unit = view.model.settings.unit;
    let interval = state(start).interval;
    let whole = words::offset_with_doubt(start.value, interval, unit);
    let name = view.model.current_mark_word().start();
    ui.weak(words::capital(name));
    let colours = *view.colours();
    let font = big().resolve(ui.style());
    let (rect, response) = button_room(ui, "headline", font.size * 1.25);
    response.widget_info(|| {
        egui::WidgetInfo::labeled(Role::Button, true, format!("Budget of {name}, {whole}"))
    });
    let painter = ui.painter_at(rect.expand(6.0));
    if response.hovered() || response.has_focus() {
        painter.rect_filled(rect.expand2(vec2(6.0, 0.0)), 6.0, colours.raised);
    }
    let body = TextStyle::Body.resolve(ui.style());
    let drop = body.size * 0.32;
    let doubt = painter.layout_no_wrap(
        words::plus_minus(&Stated { value: start.value, interval }, unit),
        body,
        colours.quiet,
    );
    // The ± is never cut off: in a narrow panel the number is drawn smaller.
    let room = (rect.width() - 10.0 - doubt.size().x).max(1.0);
    let text = words::offset(start.value, unit);
    let whole_size = painter.layout_no_wrap(text.clone(), font.clone(), colours.text).size().x;
    let font = FontId { size: font.size * (room / whole_size).min(1.0), ..font };
    let number = painter.layout_no_wrap(text, font, colours.text);
    let y = rect.center().y;
    let end = rect.left() + number.size().x + 10.0;
    painter.galley(pos2(rect.left(), y - number.size().y / 2.0), number, colours.text);
    painter.galley(pos2(end, y + drop - doubt.size().y / 2.0), doubt, colours.quiet);
    let hint = "Holds the truth 95 times in a hundred; click for where the doubt comes from";
    if response.on_hover_text(keys::hint(hint, Act::Budget)).clicked() {
        view.send(ScreenMessage::Open(Sheet::Budget(Quantity::DivotStart.into())));
    }
}

/// Which came first, ball or ground: a finding beside the number, not its sign.
fn contact_ui(view: &View, ui: &mut Ui, result: &SwingResult) {
    let Some(order) = result.contact_order.map(words::contact_order) else { return };
    let colours = view.colours();
    let (rect, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), row_height(ui)), Sense::hover());
    let says = format!("Contact: {order}");
    response.widget_info(|| egui::WidgetInfo::labeled(Role::Label, true, &says));
    let font = TextStyle::Body.resolve(ui.style());
    let (left, at) = (egui::Align2::LEFT_CENTER, rect.left_center());
    let number = at + vec2(numbers_from(&font), 0.0);
    ui.painter().text(at, left, "Contact", font, colours.quiet);
    ui.painter().text(number, left, order, strong().resolve(ui.style()), colours.text);
    response.on_hover_text(words::CONTACT_HINT);
}

/// Height of a row with a number.
fn row_height(ui: &Ui) -> f32 {
    ui.spacing().interact_size.y * 0.8
}

/// From a row's left edge to its number.
fn numbers_from(font: &FontId) -> f32 {
    font.size * 6.3
}

fn no_number_ui(view: &View, ui: &mut Ui, result: &SwingResult, answer: Option<GroundAnswer>) {
    ui.weak(view.model.current_mark_word().start_title());
    let text = words::without_start(result, answer);
    ui.label(RichText::new(text).text_style(big()).size(22.0).color(view.colours().text));
}

/// Room for a number that is told: a click opens its budget.
fn number_room(view: &mut View, ui: &mut Ui, number: SwingNumber, text: &str, height: f32) -> Rect {
    let called = number.words_of(view.model.current_mark_word());
    let (rect, response) = button_room(ui, &called, height);
    let label = format!("Budget of {called}, {text}");
    response.widget_info(|| egui::WidgetInfo::labeled(Role::Button, true, &label));
    if response.hovered() || response.has_focus() {
        let raised = view.colours().raised;
        let painter = ui.painter_at(rect.expand(4.0));
        painter.rect_filled(rect.expand2(vec2(4.0, 0.0)), 4.0, raised);
    }
    let hint = keys::hint(BUDGET_HINT, Act::Budget);
    if response.on_hover_text(hint).clicked() {
        view.send(ScreenMessage::Open(Sheet::Budget(number)));
    }
    rect
}

/// A number that is told in passing, in small type.
fn small_number_ui(view: &mut View, ui: &mut Ui, number: SwingNumber, text: &str) {
    let (font, ink) = (TextStyle::Small.resolve(ui.style()), view.colours().text);
    let galley = ui.painter().layout(text.into(), font, ink, ui.available_width());
    let rect = number_room(view, ui, number, text, galley.size().y);
    ui.painter().galley(rect.min, galley, ink);
}

fn number_row(view: &mut View, ui: &mut Ui, quantity: Quantity, text: &str, aside: &str) {
    let colours = *view.colours();
    let height = row_height(ui);
    let called = quantity.words_of(view.model.current_mark_word());
    let rect = number_room(view, ui, quantity.into(), text, height);
    let painter = ui.painter_at(rect.expand(2.0));
    let font = TextStyle::Body.resolve(ui.style());
    let y = rect.center().y;
    let left = egui::Align2::LEFT_CENTER;
    let name = words::capital(called);
    painter.text(pos2(rect.left(), y), left, name, font.clone(), colours.quiet);
    let at = pos2(rect.left() + numbers_from(&font), y);
    // The ± is never cut off: in a narrow panel the number is drawn smaller.
    let whole = painter.layout_no_wrap(text.into(), font.clone(), colours.text).size().x;
    let font = FontId { size: font.size * ((rect.right() - at.x) / whole).min(1.0), ..font };
    let end = painter.text(at, left, text, font, colours.text).right();
    if aside.is_empty() {
        return;
    }
    // Beside the number where it fits, else below it: it is always told.
    let small = TextStyle::Small.resolve(ui.style());
    let galley = ui.painter().layout_no_wrap(format!("from {aside}"), small, colours.quiet);
    let beside = pos2(end + 7.0, y - galley.size().y / 2.0);
    if beside.x + galley.size().x <= rect.right() + 2.0 {
        ui.painter().galley(beside, galley, colours.quiet);
    } else {
        let (_, below) = ui.allocate_space(vec2(ui.available_width(), galley.size().y));
        ui.painter().galley(pos2(at.x, below.top() - 3.0), galley, colours.quiet);
    }
}
