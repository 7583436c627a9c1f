//! Files to pass on: what the page says, who agreed, and the buttons.

use eframe::egui::{
    self, Frame, Margin, RichText, Sense, Stroke, TextEdit, Ui, accesskit::Role, vec2,
};

use super::{beside, heading, lead, reading_ui, small};
use crate::app::message::SwingMessage;
use crate::app::notebook::{NotebookMessage, SendMessage};
use crate::app::view::{View, edged, strong, turf_ruler};
use crate::domain::Golfer;
use crate::report::content::Content;
use crate::report::drawing::Drawing;
use crate::report::page::{self, Element, Paper};
use crate::store::SwingId;
use crate::workflow::send::Form;
use crate::workflow::{day_words, file_name, may_pass_on};

/// Shows the chapter.
pub fn send_ui(view: &mut View, ui: &mut Ui) {
    let left = (ui.available_width() * 0.42).clamp(360.0, 520.0);
    beside(view, ui, left, choose_ui, preview_ui);
}

fn send(view: &mut View, message: SendMessage) {
    view.send(NotebookMessage::Send(message));
}

fn choose_ui(view: &mut View, ui: &mut Ui) {
    let golfer =
        view.model.people.golfers.iter().find(|(id, _)| Some(*id) == view.model.people.golfer);
    let Some((_, golfer)) = golfer.cloned() else {
        going_ui(view, ui);
        carry_ui(view, ui, false);
        return;
    };
    session_menu(view, ui, &golfer);
    small(
        view,
        ui,
        "Nothing leaves this machine by itself: these are files, and you pass them on.",
    );
    if view.model.notebook.send.waiting.is_some() {
        consent_ui(view, ui, &golfer);
    }
    going_ui(view, ui);
    heading(ui, "One page to send home");
    said_ui(view, ui);
    ui.horizontal(|ui| {
        ui.label("Paper");
        for (paper, name) in [(Paper::A4, "A4"), (Paper::Letter, "Letter")] {
            if ui.selectable_label(view.model.notebook.send.paper == paper, name).clicked() {
                send(view, SendMessage::Paper(paper));
            }
        }
    });
    ui.horizontal(|ui| {
        write_button(view, ui, Form::Page, "PDF page…", true);
        write_button(view, ui, Form::Web, "Web page…", false);
    });
    heading(ui, "The swing itself");
    swings_ui(view, ui);
    ui.horizontal(|ui| {
        write_button(view, ui, Form::Picture, "Picture…", false);
        write_button(view, ui, Form::Clip, "Slow-motion clip…", false);
    });
    small(
        view,
        ui,
        "Ruler and words are burnt in; the clip shows half a second to either side of the strike.",
    );
    heading(ui, "For other programs");
    ui.horizontal(|ui| {
        write_button(view, ui, Form::Table, "Table (CSV)…", false);
        write_button(view, ui, Form::Data, "Data (JSON)…", false);
    });
    carry_ui(view, ui, true);
}

/// A golfer carried over, out of this library or into it.
fn carry_ui(view: &mut View, ui: &mut Ui, has_golfer: bool) {
    heading(ui, "A golfer carried over");
    ui.horizontal(|ui| {
        if has_golfer {
            write_button(view, ui, Form::Bundle, "Bundle…", false);
            let mut along = view.model.notebook.send.recordings;
            if edged(ui, |ui| ui.checkbox(&mut along, "with the recordings")).changed() {
                send(view, SendMessage::Recordings(along));
            }
        }
        let idle = view.model.notebook.send.going.is_none();
        if ui.add_enabled(idle, egui::Button::new("Take a bundle in…")).clicked() {
            send(view, SendMessage::LookInto(None));
        }
    });
    small(
        view,
        ui,
        "All sessions of a golfer in one checked file, for another library. What it would add is said before it is taken in.",
    );
}

/// What a bundle would add, before it does.
fn bundle_ui(view: &mut View, ui: &mut Ui) {
    let Some((path, words)) = view.model.notebook.send.bundle.clone() else { return };
    let name = file_name(&path);
    framed(view, ui, |view, ui| {
        ui.add(egui::Label::new(RichText::new(name).text_style(strong())).wrap());
        for line in words.lines() {
            ui.add(egui::Label::new(line).wrap());
        }
        ui.horizontal(|ui| {
            if ui.button("Take it in").clicked() {
                send(view, SendMessage::TakeIn);
            }
            if ui.button("Leave it").clicked() {
                send(view, SendMessage::LeaveIt);
            }
        });
    });
}

/// What must be answered first stands in a frame.
fn framed(view: &mut View, ui: &mut Ui, add: impl FnOnce(&mut View, &mut Ui)) {
    let colours = *view.colours();
    let frame = Frame::new()
        .fill(colours.raised)
        .stroke(Stroke::new(2.0 * colours.stroke, colours.accent))
        .corner_radius(8)
        .inner_margin(Margin::same(14));
    ui.add_space(8.0);
    frame.show(ui, |ui| {
        ui.set_width(ui.available_width());
        add(view, ui);
    });
}

fn session_menu(view: &mut View, ui: &mut Ui, golfer: &Golfer) {
    let here = view.model.people.session;
    let Some(outline) = view.model.notebook.outline.clone() else { return };
    let day = here.and_then(|id| outline.session(id)).map(|s| day_words(s.session.date));
    ui.horizontal_wrapped(|ui| {
        lead(ui, &golfer.name);
        let menu = ui.menu_button(day.unwrap_or_else(|| "Choose a session".into()), |ui| {
            for session in &outline.sessions {
                let text = day_words(session.session.date);
                if ui.selectable_label(Some(session.id) == here, text).clicked() {
                    view.send(SwingMessage::ChooseSession(session.id));
                    ui.close();
                }
            }
        });
        menu.response.on_hover_text("Which session");
    });
}

fn write_button(view: &mut View, ui: &mut Ui, form: Form, text: &str, first: bool) {
    let colours = *view.colours();
    let going = view.model.notebook.send.going.is_some();
    let mut words = RichText::new(text);
    if first {
        words = words.text_style(strong()).color(colours.on_accent);
    }
    let mut button = egui::Button::new(words);
    if first {
        button = button.fill(colours.accent);
    }
    if ui.add_enabled(!going, button).clicked() {
        send(view, SendMessage::Write(form, None));
    }
}

/// What is being asked before anything is passed on.
fn consent_ui(view: &mut View, ui: &mut Ui, golfer: &Golfer) {
    let Err(question) = may_pass_on(golfer) else { return };
    framed(view, ui, |view, ui| {
        ui.add(egui::Label::new(RichText::new(question.to_string()).text_style(strong())).wrap());
        let mut text = view.model.notebook.send.consent.clone();
        let edit = TextEdit::singleline(&mut text).hint_text("Who agreed, and when");
        let edit = edit.desired_width(ui.available_width());
        if ui.add(edit).accessible_name("Who agreed, and when").changed() {
            send(view, SendMessage::Consent(text));
        }
        ui.horizontal(|ui| {
            if ui.button("They agreed").clicked() {
                send(view, SendMessage::Agree);
            }
            if ui.button("Not now").clicked() {
                send(view, SendMessage::Refuse);
            }
        });
    });
}

fn going_ui(view: &mut View, ui: &mut Ui) {
    bundle_ui(view, ui);
    let page = &view.model.notebook.send;
    if let Some(going) = page.going.clone() {
        ui.add_space(8.0);
        ui.horizontal(|ui| {
            let bar = egui::ProgressBar::new(going.done as f32).desired_width(160.0);
            let bar = bar.desired_height(6.0).fill(view.colours().accent);
            ui.add(bar).accessible_name("Writing the file");
            ui.label(&going.doing);
            if ui.button("Stop").on_hover_text("Nothing half written stays behind").clicked() {
                send(view, SendMessage::Stop);
            }
        });
    } else if let Some(path) = &page.last {
        ui.add_space(8.0);
        ui.add(egui::Label::new(format!("Written: {}", path.display())).wrap());
    }
}

fn said_ui(view: &mut View, ui: &mut Ui) {
    let page = &view.model.notebook.send;
    let fields = [
        ("The coach's words", "Left empty, the session's cue is printed", page.words.clone()),
        (
            "What to practise, one thing a line",
            "Left empty, the drills that were played are printed",
            page.practise.clone(),
        ),
    ];
    for (i, (name, hint, mut text)) in fields.into_iter().enumerate() {
        small(view, ui, name);
        let edit = TextEdit::multiline(&mut text).desired_rows(2).hint_text(hint);
        let response = ui.add(edit.desired_width(ui.available_width())).accessible_name(name);
        if response.changed() {
            send(view, if i == 0 { SendMessage::Words(text) } else { SendMessage::Practise(text) });
        }
        if response.lost_focus() {
            send(view, SendMessage::Typed);
        }
    }
}

fn swings_ui(view: &mut View, ui: &mut Ui) {
    let filmed: Vec<(SwingId, usize)> = view
        .model
        .swings
        .iter()
        .enumerate()
        .filter(|(_, s)| s.recording.is_some())
        .map(|(i, s)| (s.id, i + 1))
        .collect();
    if filmed.is_empty() {
        small(view, ui, "No swing of this session has a recording.");
        return;
    }
    let chosen = view.model.notebook.send.swings;
    ui.horizontal(|ui| {
        for (place, none) in ["the latest swing", "none beside it"].into_iter().enumerate() {
            let number = |id: SwingId| filmed.iter().find(|(s, _)| *s == id).map(|(_, n)| *n);
            let text =
                chosen[place].and_then(number).map_or(none.to_owned(), |n| format!("swing {n}"));
            let menu = ui.menu_button(text, |ui| {
                if ui.button(none).clicked() {
                    send(view, SendMessage::Swing(place, None));
                    ui.close();
                }
                for (id, number) in &filmed {
                    if ui.button(format!("swing {number}")).clicked() {
                        send(view, SendMessage::Swing(place, Some(*id)));
                        ui.close();
                    }
                }
            });
            let hint = ["Which swing", "A second one, side by side"][place];
            menu.response.on_hover_text(hint);
        }
    });
}

/// The page as it will be written, without its pictures.
fn preview_ui(view: &mut View, ui: &mut Ui) {
    let Some(here) = view.model.people.session else { return };
    let content = view.model.notebook.send.content.clone();
    let Some((_, content)) = content.filter(|(session, _)| *session == here) else {
        reading_ui(view, ui, "Laying out the page…");
        return;
    };
    let paper = view.model.notebook.send.paper;
    let drawing = sheet(&content, paper);
    let width = ui.available_width().min(620.0);
    let drawing = drawing.scaled(f64::from(width) / paper.points()[0]);
    let size = vec2(drawing.width as f32, drawing.height as f32);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    let says = format!("The page: {}", page_words(&content));
    response.widget_info(|| egui::WidgetInfo::labeled(Role::Image, true, &says));
    let colours = crate::app::theme::Theme::Light.colours();
    let paper_look = crate::app::theme::Colours { panel: egui::Color32::WHITE, ..colours };
    let painter = ui.painter_at(rect.expand(1.0));
    painter.rect_filled(rect, 2.0, egui::Color32::WHITE);
    turf_ruler::paint(&painter, rect.min, &drawing, &paper_look);
    let line = Stroke::new(view.colours().stroke, view.colours().line);
    painter.rect_stroke(rect, 2.0, line, egui::StrokeKind::Outside);
    small(
        view,
        ui,
        "As it will be written; two pictures of filmed swings find their place when there are any.",
    );
}

/// Everything drawn on the page.
fn sheet(content: &Content, paper: Paper) -> Drawing {
    let laid = page::lay_out(content, &[], paper);
    let mut drawing =
        Drawing { width: laid.size[0], height: laid.size[1], shapes: laid.ornaments.clone() };
    fn add(drawing: &mut Drawing, element: &Element) {
        drawing.shapes.extend(element.shapes.iter().cloned());
        element.children.iter().for_each(|child| add(drawing, child));
    }
    laid.elements.iter().for_each(|element| add(&mut drawing, element));
    drawing
}

fn page_words(content: &Content) -> String {
    let sentence = content.comparison.as_ref().map(|c| c.sentence.clone());
    let means = content
        .blocks
        .iter()
        .filter_map(|b| b.divot_start.as_ref())
        .map(|s| s.mean_mm.words.clone());
    sentence.into_iter().chain(means).collect::<Vec<_>>().join("; ")
}
