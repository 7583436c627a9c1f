//! Two swings side by side, or one over the other, stepping together.

use eframe::egui::{
    self, Align, Align2, Color32, Frame, Layout, Margin, Painter, Rect, RichText, Sense, TextStyle,
    Ui, accesskit::Role, pos2, vec2,
};

use super::canvas::move_about;
use super::placement::Placement;
use super::waiting::waiting_over;
use super::{BUDGET_HINT, View, edged, strong, turf_ruler};
use crate::app::keys::{self, Act};
use crate::app::message::{BesideMessage, PictureMessage, ScreenMessage};
use crate::app::model::{Page, Sheet, Swing};
use crate::app::words;
use crate::domain::{ColourFrame, ImagePoint, LengthUnit, Quantity};
use crate::report::ruler::{self, Bar};
use crate::workflow::state;

/// The two swings' ruler is no wider than this, in points.
const RULER_WIDTH: f64 = 760.0;
/// How much larger than whole a picture is shown at most, so that ball and feet stay in sight.
const MOST_FILLED: f64 = 1.7;

/// Fills the page.
pub fn beside_ui(view: &mut View, ui: &mut Ui) {
    let panel = view.colours().panel;
    let frame = Frame::new().fill(panel).inner_margin(Margin::symmetric(18, 8));
    egui::Panel::bottom("beside").frame(frame).show(ui, |ui| {
        rulers_ui(view, ui);
        controls_ui(view, ui);
    });
    egui::CentralPanel::no_frame().show(ui, |ui| pictures_ui(view, ui));
}

/// The two swings as bars on one ruler: what the pictures can't say.
fn rulers_ui(view: &View, ui: &mut Ui) {
    let mine = view.model.current_swing();
    let mine = mine.and_then(|swing| Some((swing, view.model.number_of(swing.id)?)));
    let other = view.model.beside.other().zip(view.model.beside.number());
    let bars: Vec<Bar> = [mine, other]
        .into_iter()
        .flatten()
        .enumerate()
        .map(|(i, (swing, number))| turf_ruler::bar_of(swing, number, i == 0))
        .collect();
    if bars.is_empty() {
        return;
    }
    let type_size = f64::from(TextStyle::Small.resolve(ui.style()).size);
    let width = f64::from(ui.available_width()).min(RULER_WIDTH);
    let style = turf_ruler::sized(view, width, type_size, type_size * 1.7);
    let aim = view.model.current_swing().and_then(|swing| swing.aim);
    let range = ruler::range_of(&bars, aim);
    let drawings = std::iter::once(ruler::head(range, aim, &style))
        .chain(bars.iter().map(|bar| ruler::row(bar, range, aim, &style)));
    ui.vertical_centered(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        for drawing in drawings {
            let response = turf_ruler::drawing_ui(view, ui, &drawing);
            response.widget_info(|| {
                egui::WidgetInfo::labeled(Role::Image, true, "The two swings on one ruler")
            });
        }
    });
    ui.add_space(8.0);
}

fn controls_ui(view: &mut View, ui: &mut Ui) {
    ui.horizontal_wrapped(|ui| {
        step_buttons(view, ui);
        ui.add_space(10.0);
        choice_ui(view, ui);
        ui.add_space(10.0);
        line_up_ui(view, ui);
        ui.add_space(10.0);
        over_ui(view, ui);
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            if ui.button("Back to the picture").on_hover_text(keys::shown(Act::StepOut)).clicked() {
                view.send(ScreenMessage::Show(Page::Measure));
            }
        });
    });
}

fn step_buttons(view: &mut View, ui: &mut Ui) {
    for (sign, name, act, by) in [
        ("‹", "Previous frame of both", Act::BackFrame, -1),
        ("›", "Next frame of both", Act::NextFrame, 1),
    ] {
        let button = egui::Button::new(RichText::new(sign).text_style(strong()));
        let response = ui.add(button);
        response.widget_info(|| egui::WidgetInfo::labeled(Role::Button, true, name));
        if response.on_hover_text(keys::hint(name, act)).clicked() {
            view.send(PictureMessage::StepFrame(by));
        }
    }
    let hint = keys::hint("Both at the strike", Act::Strike);
    if ui.button("Strike").on_hover_text(hint).clicked() {
        view.send(BesideMessage::AtTheStrike);
        view.send(PictureMessage::ShowStrike);
    }
}

/// Which swing stands on the right.
fn choice_ui(view: &mut View, ui: &mut Ui) {
    ui.label("Beside it:");
    let sessions = view.model.people.sessions.clone();
    let chosen = view.model.beside.choice.as_ref().map(|(id, _)| *id);
    let title = sessions.iter().find(|(id, _)| Some(*id) == chosen).map(|(_, title)| title.clone());
    // The day alone: place and cue are in the menu, and the bar is short of room.
    let day = title.as_ref().and_then(|title| title.split(',').next()).map(str::to_owned);
    let menu = ui.menu_button(day.unwrap_or_else(|| "Choose a session".into()), |ui| {
        for (id, title) in &sessions {
            if ui.selectable_label(Some(*id) == chosen, title).clicked() {
                view.send(BesideMessage::ChooseSession(*id));
                ui.close();
            }
        }
    });
    menu.response.on_hover_text("The session the other swing is taken from");
    let swings = view.model.beside.choice.as_ref().map_or(Vec::new(), |(_, swings)| swings.clone());
    let number = view.model.beside.number();
    let title = number.map_or("Choose a swing".into(), |n| format!("Swing {n}"));
    let menu = ui.menu_button(title, |ui| {
        for (i, swing) in swings.iter().enumerate().filter(|(_, s)| s.recording.is_some()) {
            let text = format!("Swing {}{}", i + 1, club_words(swing));
            if ui.selectable_label(Some(i + 1) == number, text).clicked() {
                view.send(BesideMessage::Choose(swing.id));
                ui.close();
            }
        }
    });
    menu.response.on_hover_text("The swing on the right");
}

/// Moves the other alone, so that any two instants can be lined up.
fn line_up_ui(view: &mut View, ui: &mut Ui) {
    let shift = view.model.beside.shift;
    let names = [("−", "The other one frame back", -1), ("+", "The other one frame on", 1)];
    ui.label("Line up:");
    for (sign, name, by) in names {
        let response = ui.add(egui::Button::new(sign));
        response.widget_info(|| egui::WidgetInfo::labeled(Role::Button, true, name));
        let words = format!("{name}, this one staying: what is then shown is lined up");
        let hint = keys::hint(&words, Act::LineUp);
        if response.on_hover_text(hint).clicked() {
            view.send(BesideMessage::Shift(by));
        }
    }
    let text = match shift {
        0 => "at the strike".to_owned(),
        1 => "1 frame later".into(),
        -1 => "1 frame earlier".into(),
        n if n > 0 => format!("{n} frames later"),
        n => format!("{} frames earlier", -n),
    };
    if ui
        .add_enabled(shift != 0, egui::Button::new(text))
        .on_hover_text("Back to the strike")
        .clicked()
    {
        view.send(BesideMessage::AtTheStrike);
    }
}

fn over_ui(view: &mut View, ui: &mut Ui) {
    let mut over = view.model.beside.over;
    if edged(ui, |ui| ui.checkbox(&mut over, "One over the other"))
        .on_hover_text(keys::hint("The balls lie on each other", Act::Over))
        .changed()
    {
        view.send(BesideMessage::Over(over));
    }
    if over {
        let mut fade = view.model.beside.fade;
        let slider = egui::Slider::new(&mut fade, 0.0..=1.0).show_value(false);
        // A rail that is seen on the panel.
        let rail = view.colours().line;
        let shown = ui.scope(|ui| {
            ui.visuals_mut().widgets.inactive.bg_fill = rail;
            ui.add(slider).accessible_name("How much of the other is seen")
        });
        let response = shown.inner;
        if response.on_hover_text("From this one to the other").changed() {
            view.send(BesideMessage::Fade(fade));
        }
    }
}

fn pictures_ui(view: &mut View, ui: &mut Ui) {
    let (rect, _) = ui.allocate_exact_size(ui.available_size(), Sense::hover());
    ui.painter_at(rect).rect_filled(rect, 0.0, view.colours().ground);
    let middle = rect.center().x;
    let (left, right) = match view.model.beside.over {
        true => (rect, rect),
        false => (
            Rect::from_min_max(rect.min, pos2(middle - 1.0, rect.bottom())),
            Rect::from_min_max(pos2(middle + 1.0, rect.top()), rect.max),
        ),
    };
    let Some(placement) = Placement::new(view, left).map(filling) else {
        let text = "Choose a swing with a recording first.";
        ui.put(rect, egui::Label::new(text));
        return;
    };
    let response = ui.interact(rect, crate::app::focus::picture_id(), Sense::click_and_drag());
    response
        .widget_info(|| egui::WidgetInfo::labeled(Role::Canvas, true, "Two swings side by side"));
    let pointed = pointed_at(view, &response, left, right, placement);
    move_about(view, ui, &response, pointed);
    if let Some((_, picture)) = view.model.open.as_ref().and_then(|open| open.shown.clone()) {
        show(view, ui, &picture, placement, 1.0);
    }
    let fade = if view.model.beside.over { view.model.beside.fade } else { 1.0 };
    if let Some((_, picture)) = view.model.beside.shown.clone()
        && let Some(placement) = other_placement(view, placement, right)
    {
        show(view, ui, &picture, placement, fade);
    }
    captions(view, ui, left, right);
    if view.model.beside.is_opening() {
        let place = (Align2::CENTER_TOP, right.center_top() + vec2(0.0, 16.0));
        waiting_over(view, ui, place, "Opening the recording…", BesideMessage::Stop);
    }
}

/// Until it is zoomed, a picture is shown as large as its half of the page takes it: a wide
/// picture loses some of its sides, where nothing happens.
fn filling(placement: Placement) -> Placement {
    if placement.scale > placement.fit {
        return placement;
    }
    let wide = placement.centre.x * 2.0 + 1.0;
    let high = placement.centre.y * 2.0 + 1.0;
    let (width, height) = (f64::from(placement.rect.width()), f64::from(placement.rect.height()));
    let cover = (width / wide).max(height / high);
    let scale = cover.min(MOST_FILLED * placement.fit);
    Placement { scale, fit: scale, ..placement }
}

/// The placement of the picture under the pointer, in the coordinates of this one.
fn pointed_at(
    view: &View,
    response: &egui::Response,
    left: Rect,
    right: Rect,
    placement: Placement,
) -> Placement {
    let over_right =
        response.hover_pos().is_some_and(|at| !left.contains(at) && right.contains(at));
    match over_right && !view.model.beside.over {
        true => Placement { rect: right, ..placement },
        false => placement,
    }
}

fn other_placement(view: &View, placement: Placement, rect: Rect) -> Option<Placement> {
    let (_, size) = view.model.beside.recording.as_ref()?;
    let here = view.model.open.as_ref()?.size;
    let middle =
        |w: usize, h: usize| ImagePoint::new((w as f64 - 1.0) / 2.0, (h as f64 - 1.0) / 2.0);
    let balls = view
        .model
        .current_swing()
        .and_then(Swing::ball_point)
        .zip(view.model.beside.other().and_then(Swing::ball_point));
    let (mine, other) =
        balls.unwrap_or((middle(here.width, here.height), middle(size.width, size.height)));
    Some(placement.of_another(rect, [here.width, size.width], [mine, other]))
}

fn show(
    view: &mut View,
    ui: &Ui,
    picture: &std::sync::Arc<ColourFrame>,
    placement: Placement,
    opacity: f32,
) {
    let painter: Painter = ui.painter_at(placement.rect);
    let rect = placement.picture_rect(picture.width, picture.height);
    let texture = view.pictures.texture(ui.ctx(), picture, view.model.tone);
    let all = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
    painter.image(texture, rect, all, Color32::WHITE.gamma_multiply(opacity));
}

fn club_words(swing: &Swing) -> String {
    swing.club.as_ref().map_or(String::new(), |club| format!(", {}", club.0))
}

/// "Swing 3, 7-iron: 12 mm behind ± 7".
fn swing_words(swing: &Swing, number: usize, unit: LengthUnit) -> String {
    let result = swing.result.as_deref();
    let start = match result.and_then(|result| result.divot_start_offset.as_ref()) {
        Some(m) => words::offset_with_doubt(m.value, state(m).interval, unit),
        None => result
            .map_or("not measured yet", |r| words::without_start(r, swing.marks.ground))
            .into(),
    };
    format!("Swing {number}{}: {start}", club_words(swing))
}

/// What each picture shows; a click on it opens the budget of its number.
fn captions(view: &mut View, ui: &Ui, left: Rect, right: Rect) {
    let unit = view.model.settings.unit;
    let current = view.model.current_swing();
    let mine =
        current.map(|swing| swing_words(swing, view.model.number_of(swing.id).unwrap_or(0), unit));
    let with_start = |swing: &&Swing| {
        swing.result.as_ref().is_some_and(|result| result.divot_start_offset.is_some())
    };
    let ids =
        [current, view.model.beside.other()].map(|swing| swing.filter(with_start).map(|s| s.id));
    let beside = &view.model.beside;
    let other = match (&beside.trouble, beside.other(), beside.number()) {
        (Some(trouble), _, _) => Some(trouble.clone()),
        (None, Some(_), _) if beside.is_opening() => None,
        (None, Some(swing), Some(number)) => Some(swing_words(swing, number, unit)),
        _ => None,
    };
    let over = beside.over;
    let places = [(mine, left, 0.0), (other, right, if over { 34.0 } else { 0.0 })];
    for ((text, rect, y), swing) in places.into_iter().zip(ids) {
        let Some(text) = text else { continue };
        let font = TextStyle::Body.resolve(ui.style());
        let painter = ui.painter_at(rect);
        let colours = view.colours();
        let galley = painter.layout(text.clone(), font, colours.text, rect.width() - 60.0);
        let at = rect.left_top() + vec2(20.0, 16.0 + y);
        let place = Rect::from_min_size(at, galley.size()).expand2(vec2(10.0, 5.0));
        painter.rect_filled(place, 6.0, colours.panel);
        painter.galley(at, galley, colours.text);
        let Some(swing) = swing else { continue };
        let caption = ui.interact(place, ui.scope_id().with(("caption", swing)), Sense::click());
        caption.widget_info(|| egui::WidgetInfo::labeled(Role::Button, true, &text));
        let caption = caption.on_hover_cursor(egui::CursorIcon::PointingHand);
        if caption.on_hover_text(BUDGET_HINT).clicked() {
            let number = Quantity::DivotStart.into();
            view.send(ScreenMessage::Open(Sheet::Swing(swing, number)));
        }
    }
}
