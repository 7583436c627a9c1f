//! The panel beside the picture: what is next, the number that matters, the session.

use std::sync::Arc;

use eframe::egui::{
    self, Align, Color32, FontId, Galley, Layout, Rect, RichText, Sense, Stroke, TextFormat,
    TextStyle, Ui, accesskit::Role, pos2, text::LayoutJob, vec2,
};

use super::shapes::{MarkLook, draw_mark};
use super::{View, big, edged, strong, turf_ruler};
use crate::app::keys::{self, Act};
use crate::app::message::{MarkMessage, Message, ScreenMessage, SetupMessage, SwingMessage};
use crate::app::model::{Finding, MarkName, Sheet, Swing, Tool};
use crate::app::notebook::{Chapter, NotebookMessage};
use crate::app::words;
use crate::domain::{
    Club, FrameIndex, GroundAnswer, MarkWord, Measured, Quantity, Reviewable, SwingKind,
    SwingNumber, SwingResult, Warning,
};
use crate::workflow::{
    Stated, clearance_words, number_words, reference_title, state, warning_words,
};

/// Clubs offered; others can be typed on the command line.
const CLUBS: [&str; 16] = [
    "driver", "3-wood", "5-wood", "hybrid", "3-iron", "4-iron", "5-iron", "6-iron", "7-iron",
    "8-iron", "9-iron", "PW", "GW", "SW", "LW", "putter",
];

/// Shows the panel.
pub fn panel_ui(view: &mut View, ui: &mut Ui) {
    ui.spacing_mut().item_spacing.y = 3.0;
    // In large type or a low window the swing is scrolled, and the session stays in sight; it
    // gives way to what comes and goes at the foot, and where it would take half of the panel.
    let all = ui.available_height();
    let session = SessionRoom::of(view, ui);
    let least = session.as_ref().map_or(0.0, |session| session.least + 8.0);
    let gives_way = least > all * 0.5 || !view.model.notices.is_empty();
    let room = if gives_way || !view.model.queue.is_empty() { all } else { all - least };
    let area = egui::ScrollArea::vertical().id_salt("swing").max_height(room);
    area.auto_shrink([false, true]).show(ui, |ui| swing_ui(view, ui));
    // While files are read their rows come first; what would lie over them is left away.
    if let Some(session) = session.filter(|session| session.least <= ui.available_height()) {
        part_ui(ui, "session", |ui| session_ui(view, ui, session));
    }
}

/// What is next, and the swing looked at with its marks.
fn swing_ui(view: &mut View, ui: &mut Ui) {
    next_ui(view, ui);
    ui.add_space(8.0);
    if let Some(swing) = view.model.current_swing().cloned() {
        swing_head_ui(view, ui, &swing);
        ui.add_space(2.0);
        result_ui(view, ui, &swing);
        ui.add_space(6.0);
    }
    marks_ui(view, ui);
    ui.add_space(8.0);
    findings_ui(view, ui);
}

/// A part whose controls keep their names for the keyboard while rows come and go above it.
fn part_ui(ui: &mut Ui, name: &str, add: impl FnOnce(&mut Ui)) {
    let id = ui.make_persistent_id(name);
    ui.scope_builder(egui::UiBuilder::new().scope_id(id), add);
}

/// Room for a row drawn by hand that is a button; keeps the keyboard's focus by its name.
fn button_room(ui: &mut Ui, name: &str, height: f32) -> (Rect, egui::Response) {
    let (_, rect) = ui.allocate_space(vec2(ui.available_width(), height));
    let response = ui.interact(rect, ui.make_persistent_id(name), Sense::click());
    (rect, response)
}

/// The swings of files still being read, one row each as they are found.
fn findings_ui(view: &mut View, ui: &mut Ui) {
    let found: Vec<Finding> =
        view.model.queue.iter().flat_map(|item| item.found.iter().cloned()).collect();
    if found.is_empty() {
        return;
    }
    let more = if found.len() == 1 { "swing" } else { "swings" };
    ui.label(RichText::new(format!("Found so far: {} {more}", found.len())).text_style(strong()));
    let room = (ui.available_height() * 0.45).max(80.0);
    let area = egui::ScrollArea::vertical().id_salt("found").max_height(room).stick_to_bottom(true);
    area.show(ui, |ui| {
        for (i, finding) in found.iter().enumerate() {
            let words = words::finding(finding);
            ui.label(RichText::new(format!("{}   {words}", i + 1)).small());
        }
    });
    ui.add_space(8.0);
}

/// "3 of 8 to look at", and the way on.
fn next_ui(view: &mut View, ui: &mut Ui) {
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
    let doubtful = view.model.current_swing().map(Swing::doubtful).unwrap_or_default();
    if !doubtful.is_empty() {
        let mark = view.model.current_mark_word();
        let list: Vec<&str> = doubtful.iter().map(|what| what.words_of(mark)).collect();
        let text = RichText::new(format!("Doubtful here: {}", list.join(", "))).small();
        ui.add(egui::Label::new(text.color(view.colours().quiet)).wrap());
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
    let size = ui.text_style_height(&TextStyle::Body);
    let turning = ui.add(egui::Spinner::new().size(size).color(view.colours().quiet));
    turning.widget_info(|| egui::WidgetInfo::labeled(Role::ProgressIndicator, true, DOING));
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

fn swing_head_ui(view: &mut View, ui: &mut Ui, swing: &Swing) {
    let number = view.model.number_of(swing.id).unwrap_or(0);
    ui.horizontal(|ui| {
        ui.label(RichText::new(format!("Swing {number}")).text_style(strong()));
        let club = swing.club.as_ref().map_or("which club?", |Club(name)| name.as_str()).to_owned();
        let menu = ui.menu_button(club, |ui| {
            for name in CLUBS {
                if ui.button(name).clicked() {
                    view.send(SwingMessage::SetClub(name.into()));
                    ui.close();
                }
            }
        });
        menu.response.on_hover_text("The club of this swing");
        let menu = ui.menu_button(words::kind(swing.kind), |ui| {
            for kind in [SwingKind::Strike, SwingKind::Practice] {
                if ui.button(words::kind(kind)).clicked() {
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

fn result_ui(view: &mut View, ui: &mut Ui, swing: &Swing) {
    let Some(result) = swing.result.clone() else {
        ui.weak("Not measured yet.");
        return;
    };
    let unit = view.model.settings.unit;
    match &result.divot_start_offset {
        Some(start) => headline_ui(view, ui, start, &result),
        None => no_number_ui(view, ui, &result, swing.marks.ground),
    }
    ui.add_space(4.0);
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
    let on_tee = open.is_some_and(|open| open.setup.on_tee == Some(true));
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
fn headline_ui(view: &mut View, ui: &mut Ui, start: &Measured, result: &SwingResult) {
    let unit = view.model.settings.unit;
    let interval = state(start).interval;
    let whole = words::offset_with_doubt(start.value, interval, unit);
    let name = view.model.current_mark_word().start();
    ui.horizontal(|ui| {
        ui.weak(words::capital(name));
        if let Some(order) = result.contact_order {
            ui.weak("·");
            ui.label(RichText::new(words::contact_order(order)).text_style(strong()));
        }
    });
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
    let hint = keys::hint("Click for where the doubt comes from", Act::Budget);
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
    let height = ui.spacing().interact_size.y * 0.8;
    let called = quantity.words_of(view.model.current_mark_word());
    let rect = number_room(view, ui, quantity.into(), text, height);
    let painter = ui.painter_at(rect.expand(2.0));
    let font = TextStyle::Body.resolve(ui.style());
    let y = rect.center().y;
    let left = egui::Align2::LEFT_CENTER;
    let name = words::capital(called);
    painter.text(pos2(rect.left(), y), left, name, font.clone(), colours.quiet);
    let at = pos2(rect.left() + font.size * 6.3, y);
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

/// The first warning; the others under the pointer.
fn warnings_ui(view: &View, ui: &mut Ui, warnings: &[Warning]) {
    let unit = view.model.settings.unit;
    let Some(first) = warnings.first().map(|warning| warning_words(warning, unit)) else {
        return;
    };
    let n = warnings.len();
    let more = if n > 1 { format!(" ({} more)", n - 1) } else { String::new() };
    let label = ui.add(
        egui::Label::new(
            RichText::new(format!("{first}{more}")).small().color(view.colours().quiet),
        )
        .wrap(),
    );
    if n > 1 {
        label.on_hover_ui(|ui| {
            for warning in warnings {
                ui.label(warning_words(warning, unit));
            }
        });
    }
}

/// The marks: which there are, who placed them, which are doubtful; a click places anew.
fn marks_ui(view: &mut View, ui: &mut Ui) {
    if view.model.open.is_none() {
        return;
    }
    reference_row(view, ui);
    proposed_line_row(view, ui);
    view_differs_ui(view, ui);
    warnings_ui(view, ui, &recording_warnings(view));
    lens_row(view, ui);
    mark_row(view, ui, MarkName::Ball);
    ground_row(view, ui);
    let has_no_mark = view.model.current_swing().is_some_and(|s| s.marks.has_no_mark());
    for name in [MarkName::DivotStart, MarkName::DivotEnd] {
        if !has_no_mark || view.model.tool == tool_for(name) {
            mark_row(view, ui, name);
        }
    }
    for name in MORE {
        if view.model.mark(name).is_some() || view.model.tool == tool_for(name) {
            mark_row(view, ui, name);
        }
    }
    club_head_row(view, ui);
    part_ui(ui, "more", |ui| more_ui(view, ui));
}

/// What is marked more rarely.
const MORE: [MarkName; 6] = [
    MarkName::Tee,
    MarkName::LeadHeel,
    MarkName::TrailHeel,
    MarkName::TargetLine(0),
    MarkName::BallLine,
    MarkName::ReachLine,
];

/// The key that places a mark.
fn key_for(name: MarkName) -> &'static str {
    keys::shown(match name {
        MarkName::Ball => Act::Ball,
        MarkName::DivotStart => Act::Start,
        MarkName::DivotEnd => Act::End,
        MarkName::Tee => Act::Tee,
        MarkName::BallLine => Act::BallLine,
        MarkName::ReachLine => Act::ReachLine,
        MarkName::LeadHeel => Act::LeadHeel,
        MarkName::TrailHeel => Act::TrailHeel,
        MarkName::ClubHead(_) => Act::ClubHead,
        MarkName::TargetLine(_) => Act::TargetLine,
        MarkName::Reference { .. } => Act::KnownSize,
    })
}

/// What the swing left in the ground, found or answered by hand.
fn ground_row(view: &mut View, ui: &mut Ui) {
    let Some(swing) = view.model.current_swing() else { return };
    let said = swing.marks.ground;
    let found = swing.found.as_ref().and_then(|found| found.ground_mark);
    let asked = swing.doubtful().contains(&Reviewable::DivotStart);
    let aside = match (said, found) {
        (Some(said), _) => format!("{}, by hand", said.words()),
        (None, Some(found)) => {
            format!("{}, {:.0} % sure", found.value.words(), found.confidence * 100.0)
        }
        (None, None) => "what is in it?".into(),
    };
    let row = Row {
        title: "Ground".into(),
        aside,
        key: "",
        active: false,
        doubtful: asked && view.model.mark(MarkName::DivotStart).is_none(),
        placed: said.is_some(),
    };
    let response = row_ui(view, ui, None, &row);
    let response = response.on_hover_text("What the swing left in the ground");
    egui::Popup::menu(&response).show(|ui| ground_menu(view, ui, said));
}

/// The answers a person can give, and the way back to what the program found.
fn ground_menu(view: &mut View, ui: &mut Ui, said: Option<GroundAnswer>) {
    for answer in GroundAnswer::ALL {
        let key = match answer {
            GroundAnswer::None => keys::short(Act::NoMark),
            GroundAnswer::Unseen => keys::short(Act::Unseen),
            _ => "",
        };
        let button = egui::Button::selectable(said == Some(answer), words::capital(answer.words()));
        if ui.add(button.shortcut_text(key)).clicked() {
            view.send(MarkMessage::SayGround(Some(answer)));
            ui.close();
        }
    }
    ui.separator();
    let found = egui::Button::selectable(said.is_none(), "As the program found it");
    if ui.add(found).clicked() {
        view.send(MarkMessage::SayGround(None));
        ui.close();
    }
}

/// The menu of what is marked more rarely.
fn more_ui(view: &mut View, ui: &mut Ui) {
    ui.menu_button("More marks and set-up", |ui| {
        let lens = egui::Button::new("Lens").shortcut_text(keys::short(Act::Lens));
        if ui.add(lens).clicked() {
            view.send(ScreenMessage::Open(Sheet::Lens));
            ui.close();
        }
        for name in MORE {
            let title = name.title(view.model.current_mark_word());
            if ui.add(egui::Button::new(title).shortcut_text(key_for(name))).clicked() {
                view.send(MarkMessage::Choose(tool_for(name)));
                ui.close();
            }
        }
        let head = egui::Button::new("Club head, frame by frame");
        if ui.add(head.shortcut_text(keys::short(Act::ClubHead))).clicked() {
            view.send(MarkMessage::Choose(Tool::ClubHead));
            ui.close();
        }
        ui.separator();
        setup_ui(view, ui);
    });
}

/// In how many frames the club head is marked, while it is or is being.
fn club_head_row(view: &mut View, ui: &mut Ui) {
    let marked = view.model.current_swing().map_or(0, |swing| swing.marks.club_head.len());
    let active = view.model.tool == Tool::ClubHead;
    if marked == 0 && !active {
        return;
    }
    let row = Row {
        title: "Club head".into(),
        aside: if marked == 1 { "1 frame".into() } else { format!("{marked} frames") },
        key: keys::shown(Act::ClubHead),
        active,
        doubtful: false,
        placed: true,
    };
    let name = MarkName::ClubHead(FrameIndex(0));
    if row_ui(view, ui, Some(name), &row).clicked() {
        view.send(MarkMessage::Choose(Tool::ClubHead));
    }
}

fn tool_for(name: MarkName) -> Tool {
    match name {
        MarkName::TargetLine(_) => Tool::TargetLine(Vec::new()),
        name => Tool::Place(name),
    }
}

fn setup_ui(view: &mut View, ui: &mut Ui) {
    use crate::domain::{Direction, Surface};
    let Some(open) = &view.model.open else { return };
    let setup = open.setup.clone();
    ui.horizontal(|ui| {
        ui.weak("Surface");
        for (surface, name) in [(Surface::Turf, "turf"), (Surface::Mat, "mat")] {
            if ui.selectable_label(setup.surface == Some(surface), name).clicked() {
                view.send(SetupMessage::SetSurface(surface));
            }
        }
    });
    ui.horizontal(|ui| {
        ui.weak("Target");
        for (target, name) in [(Direction::Left, "left"), (Direction::Right, "right")] {
            if ui.selectable_label(setup.target == Some(target), name).clicked() {
                view.send(SetupMessage::SetTarget(target));
            }
        }
    });
    let mut on_tee = setup.on_tee == Some(true);
    if edged(ui, |ui| ui.checkbox(&mut on_tee, "ball on a tee")).changed() {
        view.send(SetupMessage::SetOnTee(on_tee));
    }
}

struct Row {
    title: String,
    aside: String,
    key: &'static str,
    active: bool,
    doubtful: bool,
    placed: bool,
}

/// The question whether the target line runs along a mat's edge.
fn proposed_line_row(view: &mut View, ui: &mut Ui) {
    let Some(line) = view.model.proposed_line() else { return };
    let name = MarkName::TargetLine(0);
    let row = Row {
        title: name.title(MarkWord::default()).into(),
        aside: format!("along the mat's edge? {:.0} % sure", 100.0 * line.confidence),
        key: key_for(name),
        active: false,
        doubtful: true,
        placed: false,
    };
    if row_ui(view, ui, Some(name), &row).clicked() {
        view.send(MarkMessage::Choose(tool_for(name)));
    }
    ui.horizontal(|ui| {
        ui.add_space(24.0);
        if ui.button("Yes, along it").on_hover_text(keys::shown(Act::Yes)).clicked() {
            view.send(SetupMessage::AcceptLine);
        }
        if ui.button("No").on_hover_text("It is something else, or lies askew").clicked() {
            view.send(SetupMessage::DismissLine);
        }
    });
}

fn reference_row(view: &mut View, ui: &mut Ui) {
    let Some(open) = &view.model.open else { return };
    let names: Vec<String> = open
        .setup
        .references
        .iter()
        .map(|r| reference_title(r, view.model.settings.unit))
        .collect();
    let proposed = view.model.proposed().map(|proposed| {
        let words = reference_title(&proposed.reference, view.model.settings.unit);
        format!("{words}? {:.0} % sure", 100.0 * proposed.confidence)
    });
    let asks = names.is_empty() && proposed.is_some();
    let row = Row {
        title: "Known size".into(),
        aside: match (names.is_empty(), proposed, &open.standing.carried_from) {
            (true, Some(words), _) => words,
            (true, None, _) if open.timeline.is_none() => String::new(), // not open yet
            (true, None, _) => "nothing marked".into(),
            (false, _, Some(from)) => format!("{}, from {from}", names.join(", ")),
            (false, _, None) => names.join(", "),
        },
        key: keys::shown(Act::KnownSize),
        active: matches!(view.model.tool, Tool::Reference(_)),
        doubtful: names.is_empty(),
        placed: !names.is_empty(),
    };
    let name = MarkName::Reference { object: 0, point: 0 };
    if row_ui(view, ui, Some(name), &row).clicked() {
        view.send(ScreenMessage::Open(Sheet::Reference));
    }
    if asks {
        ui.horizontal(|ui| {
            ui.add_space(24.0);
            if ui.button("Yes, measure by it").on_hover_text(keys::shown(Act::Yes)).clicked() {
                view.send(SetupMessage::AcceptReference(None));
            }
            if ui.button("No").on_hover_text("It is something else").clicked() {
                view.send(SetupMessage::DismissReference);
            }
        });
    }
}

/// What is odd about the file and about its set-up, the least urgent last.
fn recording_warnings(view: &View) -> Vec<Warning> {
    let Some(open) = &view.model.open else { return Vec::new() };
    let all = open.warnings.iter().chain(&open.standing.warnings);
    let mut warnings: Vec<Warning> = all.filter(|warning| !is_asked(warning)).cloned().collect();
    warnings.sort_by_key(|warning| *warning == Warning::TargetLineAssumed);
    warnings
}

/// Whether the rows and the set-up menu ask for it already.
fn is_asked(warning: &Warning) -> bool {
    matches!(
        warning,
        Warning::NoReference
            | Warning::SurfaceAssumed
            | Warning::ReferenceProposed { .. }
            | Warning::LineProposed { .. }
    )
}

/// What is wrong with a set-up carried over, and the way out.
fn view_differs_ui(view: &mut View, ui: &mut Ui) {
    let Some(doubt) = view.model.open.as_ref().and_then(|o| o.view_differs.clone()) else {
        return;
    };
    ui.add(egui::Label::new(RichText::new(doubt.sentence()).small()).wrap());
    if ui.button("Set up anew here").on_hover_text("The others keep theirs").clicked() {
        view.send(SetupMessage::OwnSetup);
    }
}

/// The lens, once there is one to be used or one to choose.
fn lens_row(view: &mut View, ui: &mut Ui) {
    let Some(aside) = super::sheets::lens_aside(view) else { return };
    let used = view.model.open.as_ref().is_some_and(|open| open.setup.lens.is_some());
    let row = Row {
        title: "Lens".into(),
        aside,
        key: keys::shown(Act::Lens),
        active: matches!(view.model.tool, Tool::Edge(_)),
        doubtful: false,
        placed: used,
    };
    let name = MarkName::Reference { object: 0, point: 0 };
    if row_ui(view, ui, Some(name), &row).clicked() {
        view.send(ScreenMessage::Open(Sheet::Lens));
    }
}

fn mark_row(view: &mut View, ui: &mut Ui, name: MarkName) {
    let title = name.title(view.model.current_mark_word());
    let placed = view.model.mark(name);
    let doubt = view.model.current_swing().map(Swing::doubtful).unwrap_or_default();
    let doubtful = name.reviewable().is_some_and(|what| doubt.contains(&what));
    let aside = match placed {
        Some(p) if p.by_person => "by hand".to_owned(),
        Some(p) => p.sure.map_or(String::new(), |s| format!("{:.0} % sure", s * 100.0)),
        None if doubtful => "could not tell".to_owned(),
        None => String::new(),
    };
    let row = Row {
        title: title.into(),
        aside,
        key: key_for(name),
        active: view.model.tool == tool_for(name) || view.model.selected == Some(name),
        doubtful,
        placed: placed.is_some(),
    };
    let response = row_ui(view, ui, Some(name), &row);
    let carried = super::canvas::carried_words(view, name);
    let response = match carried.is_empty() || placed.is_none() {
        true => response,
        false => response.on_hover_text(format!("{title}{carried}")),
    };
    if response.clicked() {
        // A mark that exists is selected for the arrow keys; one that doesn't is placed.
        view.send(match placed {
            Some(_) if view.model.selected != Some(name) => MarkMessage::Select(Some(name)),
            _ => MarkMessage::Choose(tool_for(name)),
        });
    }
}

fn row_ui(view: &View, ui: &mut Ui, name: Option<MarkName>, row: &Row) -> egui::Response {
    let colours = *view.colours();
    let height = ui.spacing().interact_size.y * 0.86;
    let aside = aside_of(ui, row, colours.text, colours.quiet);
    let below = if aside.beside { 0.0 } else { aside.galley.size().y };
    let (rect, response) = button_room(ui, &row.title, height + below);
    let label =
        format!("{}, {}", row.title, if row.aside.is_empty() { "not placed" } else { &row.aside });
    response.widget_info(|| egui::WidgetInfo::selected(Role::Button, true, row.active, &label));
    let painter = ui.painter_at(rect.expand(4.0));
    let back = rect.expand2(vec2(6.0, -1.0));
    if row.active {
        painter.rect_filled(back, 6.0, colours.accent.gamma_multiply(0.14));
    } else if response.hovered() || response.has_focus() {
        painter.rect_filled(back, 6.0, colours.raised);
    }
    let look = MarkLook {
        ink: if row.placed { colours.text } else { colours.quiet },
        edge: Color32::TRANSPARENT,
        size: 6.5,
        width: 1.5 * colours.stroke,
        dashed: false,
        toward_target: 1.0,
    };
    let y = rect.top() + height / 2.0;
    let at = pos2(rect.left() + 10.0, y);
    match name {
        Some(name) => draw_mark(&painter, name, at, &look),
        // The ground, with a dip in it.
        None => {
            let dip =
                [[-7.0, -1.5], [-3.5, -1.5], [-1.5, 2.5], [1.5, 2.5], [3.5, -1.5], [7.0, -1.5]];
            let line = dip.map(|[x, y]| at + vec2(x, y)).to_vec();
            painter.add(egui::Shape::line(line, Stroke::new(look.width, look.ink)));
        }
    }
    row_text(&painter, rect, y, aside, colours.quiet);
    if row.doubtful {
        let at = pos2(rect.left() + 10.0 + 14.0, y - 7.0);
        painter.circle_filled(at, 3.0, colours.accent);
    }
    if name.is_none() {
        return response;
    }
    let hint = if row.placed { "Select; click again to place it anew" } else { "Place it" };
    let key = if row.key.is_empty() { String::new() } else { format!(" ({})", row.key) };
    response.on_hover_text(format!("{hint}{key}"))
}

/// A row's words, laid out: what is said aside stands below the title where it would be cut off.
struct RowWords {
    title: Arc<Galley>,
    key: Arc<Galley>,
    galley: Arc<Galley>,
    beside: bool,
}

/// From a row's left edge to its title, in points.
const TITLE: f32 = 32.0;

fn aside_of(ui: &Ui, row: &Row, ink: Color32, quiet: Color32) -> RowWords {
    let body = TextStyle::Body.resolve(ui.style());
    let small = TextStyle::Small.resolve(ui.style());
    let painter = ui.painter();
    let title = painter.layout_no_wrap(row.title.clone(), body, ink);
    let key = painter.layout_no_wrap(row.key.to_owned(), small.clone(), quiet);
    let aside = painter.layout_no_wrap(row.aside.clone(), small.clone(), quiet);
    let all = ui.available_width();
    let room = all - TITLE - title.size().x - 12.0 - 10.0 - key.size().x - 2.0;
    let beside = aside.size().x <= room;
    let galley = if beside {
        aside
    } else {
        painter.layout(row.aside.clone(), small, quiet, all - TITLE - 2.0)
    };
    RowWords { title, key, galley, beside }
}

fn row_text(painter: &egui::Painter, rect: Rect, y: f32, words: RowWords, quiet: Color32) {
    let RowWords { title, key, galley, beside } = words;
    let centred = |x: f32, galley: &Galley| pos2(x, y - galley.size().y / 2.0);
    let left = rect.left() + TITLE;
    let at_key = centred(rect.right() - 2.0 - key.size().x, &key);
    let at = if beside {
        centred(at_key.x - 10.0 - galley.size().x, &galley)
    } else {
        pos2(left, rect.bottom() - galley.size().y - 2.0)
    };
    painter.galley(centred(left, &title), title, quiet);
    painter.galley(at, galley, quiet);
    painter.galley(at_key, key, quiet);
}

/// Space around the session's ruler and its words, in points.
const AROUND: f32 = 20.0;

/// The session in words, and the room that it takes.
struct SessionRoom {
    words: Vec<LayoutJob>,
    /// Height of the words and of the space around the ruler.
    foot: f32,
    /// With less height than this the session is not shown.
    least: f32,
}

impl SessionRoom {
    /// `None` while there are no swings.
    fn of(view: &View, ui: &Ui) -> Option<Self> {
        if view.model.swings.is_empty() {
            return None;
        }
        let (words, high) = summary_lines(view, ui, ui.available_width());
        let foot = high + AROUND;
        Some(Self { words, foot, least: foot + turf_ruler::least_height(ui, view) })
    }
}

/// The session: its swings on the turf ruler, and n, mean and SD in words.
fn session_ui(view: &mut View, ui: &mut Ui, session: SessionRoom) {
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
    for line in words {
        ui.add(egui::Label::new(line).wrap());
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
        let words = words.replace("n = ", "n\u{a0}=\u{a0}").replace("SD ", "SD\u{a0}");
        job.append(&format!(" {words}"), 4.0, TextFormat::simple(font.clone(), text));
        job.wrap.max_width = width;
        job
    };
    let lines: Vec<_> = turf_ruler::summary_words(view.model).into_iter().map(line).collect();
    let high = |line: &LayoutJob| ui.painter().layout_job(line.clone()).size().y;
    let height = lines.iter().map(|line| high(line) + ui.spacing().item_spacing.y).sum();
    (lines, height)
}
