//! The bar at the top: who and when, files, help; and the notices.

use eframe::egui::{self, Align, Align2, Frame, Id, Layout, Margin, RichText, Stroke, Ui, vec2};

use super::{View, strong};
use crate::app::keys::{self, Act};
use crate::app::message::{FileMessage, Message, ScreenMessage, SettingsMessage, SwingMessage};
use crate::app::model::{Page, Sheet};
use crate::app::notebook::{Chapter, NotebookMessage};
use crate::workflow::file_name;

/// Shows the bar.
pub fn top_ui(view: &mut View, ui: &mut Ui) {
    // The buttons first: a long session's title gives way to them.
    ui.horizontal(|ui| {
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            help_ui(view, ui);
            for (name, hint, act, message) in places(view) {
                if ui.button(name).on_hover_text(keys::hint(hint, act)).clicked() {
                    view.send(message);
                }
            }
            ui.add_space(8.0);
            history_ui(view, ui);
            ui.add_space(8.0);
            open_ui(view, ui);
            ui.add_space(8.0);
            ui.with_layout(Layout::left_to_right(Align::Center), |ui| who_ui(view, ui));
        });
    });
}

/// Where one can go from the bar, the rightmost first.
fn places(view: &View) -> [(&'static str, &'static str, Act, Message); 4] {
    [
        (
            "Look",
            "Theme, text size, units, brightness",
            Act::Look,
            ScreenMessage::Open(Sheet::Settings).into(),
        ),
        ("Range", "Big type for the range", Act::Range, ScreenMessage::Show(Page::Range).into()),
        (
            "Send home",
            "A page, a picture, a clip, a table",
            Act::SendHome,
            NotebookMessage::Open(Chapter::Send).into(),
        ),
        (
            "Notebook",
            "Consistency, comparison, clubs, drills, people and plans",
            Act::Notebook,
            NotebookMessage::Open(view.model.notebook.last).into(),
        ),
    ]
}

/// The share of the room that a golfer's name has beside a session's title.
const NAME_SHARE: f32 = 0.6;

fn who_ui(view: &mut View, ui: &mut Ui) {
    let people = &view.model.people;
    let golfer = people.golfers.iter().find(|(id, _)| Some(*id) == people.golfer);
    let golfer = golfer.map_or("Choose a golfer", |(_, g)| g.name.as_str()).to_owned();
    let session = people.sessions.iter().find(|(id, _)| Some(*id) == people.session);
    let session = session.map(|(_, title)| title.clone());
    let hint = keys::hint("Golfers and sessions", Act::People);
    let text = RichText::new(golfer.as_str()).text_style(strong());
    let name = egui::Button::new(text).frame_when_inactive(false).truncate();
    // A long name leaves room for the session.
    let width = ui.available_width() * if session.is_some() { NAME_SHARE } else { 1.0 };
    let button = ui.scope(|ui| {
        ui.set_max_width(width);
        ui.add(name)
    });
    let mut clicked = button.inner.on_hover_text(format!("{golfer}: {hint}")).clicked();
    if let Some(session) = session {
        // Where it is cut short, the pointer on it tells all of it.
        let hint = format!("{session}: {hint}");
        let text = RichText::new(session).color(view.colours().quiet);
        let button = ui.add(egui::Button::new(text).frame_when_inactive(false).truncate());
        clicked |= button.on_hover_text(&hint).clicked();
    }
    if clicked {
        view.send(ScreenMessage::Open(Sheet::Chooser));
    }
}

fn open_ui(view: &mut View, ui: &mut Ui) {
    let recent = view.model.settings.recent_files.clone();
    if !recent.is_empty() {
        let menu = ui.menu_button("Recent", |ui| {
            for path in recent {
                let name = file_name(&path);
                if ui.button(name).clicked() {
                    view.send(FileMessage::Import(vec![path]));
                    ui.close();
                }
            }
        });
        menu.response.on_hover_text("Recordings opened lately");
    }
    let hint = keys::hint("Open recordings, or drop them on the window", Act::Open);
    if ui.button("Open…").on_hover_text(hint).clicked() {
        view.send(FileMessage::AskForFiles);
    }
}

fn history_ui(view: &mut View, ui: &mut Ui) {
    let history = view.model.history.clone();
    let say = |what: &Option<String>, none: &str| match what {
        Some(what) => what.clone(),
        None => none.to_owned(),
    };
    let redo = ui.add_enabled(history.redo.is_some(), egui::Button::new("Redo"));
    let hint = format!("Do again: {}", say(&history.redo, "nothing"));
    if redo.on_hover_text(keys::hint(&hint, Act::Redo)).clicked() {
        view.send(SwingMessage::Redo);
    }
    let undo = ui.add_enabled(history.undo.is_some(), egui::Button::new("Undo"));
    let hint = format!("Take back: {}", say(&history.undo, "nothing"));
    if undo.on_hover_text(keys::hint(&hint, Act::Undo)).clicked() {
        view.send(SwingMessage::Undo);
    }
}

fn help_ui(view: &mut View, ui: &mut Ui) {
    let sample_hidden = view.model.settings.sample_hidden;
    ui.menu_button("Help", |ui| {
        if ui.add(egui::Button::new("Keys").shortcut_text(keys::short(Act::Keys))).clicked() {
            view.send(ScreenMessage::Open(Sheet::Keys));
            ui.close();
        }
        let guide = egui::Button::new("Guided first measurement");
        if ui.add(guide.shortcut_text(keys::short(Act::Guide))).clicked() {
            view.send(ScreenMessage::Open(Sheet::Guide(0)));
            ui.close();
        }
        let watching = view.model.watched.is_some();
        let text = if watching { "Stop watching the folder" } else { "Watch a folder…" };
        let watch = egui::Button::new(text).shortcut_text(keys::short(Act::Watch));
        let hint = "New recordings in it are read as soon as they are complete";
        if ui.add(watch).on_hover_text(hint).clicked() {
            view.send(FileMessage::Watch(!watching));
            ui.close();
        }
        let text = if sample_hidden {
            "Bring the invented golfer"
        } else {
            "Put the invented golfer away"
        };
        if ui.button(text).on_hover_text("Sessions to look around in; nobody real").clicked() {
            view.send(SettingsMessage::ShowSample(sample_hidden));
            ui.close();
        }
    });
}

/// Files being read, each with its progress and a way out.
fn queue_ui(view: &mut View, ui: &mut Ui) {
    let queue: Vec<_> = view.model.queue.iter().take(4).cloned().collect();
    let more = view.model.queue.len().saturating_sub(queue.len());
    let quiet = view.colours().quiet;
    for item in queue {
        let name = file_name(&item.path);
        ui.horizontal(|ui| {
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                if ui.button("Stop").on_hover_text("Stop reading; nothing is kept").clicked() {
                    view.send(FileMessage::CancelImport(item.path.clone()));
                }
                let words = format!("{name}: {}", item.doing);
                ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                    ui.add(egui::Label::new(RichText::new(words).small()).truncate());
                });
            });
        });
        let bar = egui::ProgressBar::new(item.done as f32)
            .desired_width(ui.available_width())
            .desired_height(6.0)
            .fill(view.colours().accent);
        ui.add(bar).accessible_name(format!("Reading {name}"));
    }
    if more > 0 {
        ui.label(RichText::new(format!("and {more} more")).small().color(quiet));
    }
}

/// While files are held over the window: that it takes them.
pub fn dropping_ui(view: &View, ctx: &egui::Context) {
    let held = ctx.input(|input| input.raw.hovered_files.len());
    if held == 0 {
        return;
    }
    let colours = *view.colours();
    let text = if held == 1 {
        "Let go to read it".to_owned()
    } else {
        format!("Let go to read {held} files")
    };
    egui::Area::new(Id::unique("dropping"))
        .order(egui::Order::Tooltip)
        .anchor(Align2::CENTER_CENTER, vec2(0.0, 0.0))
        .show(ctx, |ui| {
            Frame::new()
                .fill(colours.panel)
                .stroke(Stroke::new(2.0 * colours.stroke, colours.accent))
                .corner_radius(12)
                .inner_margin(Margin::symmetric(36, 24))
                .show(ui, |ui| ui.label(RichText::new(text).text_style(strong()).size(20.0)));
        });
}

/// Files being read and notices, newest last, at the foot of the panel beside the picture:
/// they hide nothing that is being marked, the picture stays where it is when they come and
/// go, and no click meant for it falls on one.
pub fn foot_of_panel_ui(view: &mut View, ui: &mut Ui) {
    if view.model.notices.is_empty() && view.model.queue.is_empty() {
        return;
    }
    egui::Panel::bottom("foot of the panel")
        .frame(Frame::new().inner_margin(Margin { top: 8, ..Margin::ZERO }))
        .show_separator_line(false)
        .resizable(false)
        .show(ui, |ui| {
            queue_ui(view, ui);
            notice_rows_ui(view, ui);
        });
}

/// The same at the foot of a page that has no panel.
pub fn foot_of_page_ui(view: &mut View, ui: &mut Ui) {
    if view.model.notices.is_empty() && view.model.queue.is_empty() {
        return;
    }
    let panel = view.colours().panel;
    egui::Panel::bottom("foot of the page")
        .frame(Frame::new().fill(panel).inner_margin(Margin::symmetric(16, 8)))
        .resizable(false)
        .show(ui, |ui| {
            ui.set_max_width(548.0);
            queue_ui(view, ui);
            notice_rows_ui(view, ui);
        });
}

/// Notices over the range display, which fills the screen and says by itself what is being read.
pub fn notices_ui(view: &mut View, ctx: &egui::Context) {
    if view.model.notices.is_empty() {
        return;
    }
    let area = egui::Area::new(Id::unique("notices over the page")).order(egui::Order::Foreground);
    // Right of the ball and above the ruler nothing else stands.
    let below = ctx.content_rect().height() * 0.24;
    area.anchor(Align2::RIGHT_TOP, vec2(-24.0, below)).show(ctx, |ui| {
        ui.set_width(400.0);
        notice_rows_ui(view, ui);
    });
}

/// Each can be put away.
fn notice_rows_ui(view: &mut View, ui: &mut Ui) {
    let colours = *view.colours();
    for notice in view.model.notices.clone() {
        Frame::new()
            .fill(colours.raised)
            .stroke(Stroke::new(colours.stroke, colours.quiet))
            .corner_radius(8)
            .inner_margin(Margin::symmetric(14, 9))
            .show(ui, |ui| {
                let font = egui::TextStyle::Button.resolve(ui.style());
                let words = ui.painter().layout_no_wrap("OK".into(), font, colours.text).size().x;
                let button = words + 2.0 * ui.spacing().button_padding.x;
                let width = ui.available_width() - button - ui.spacing().item_spacing.x - 1.0;
                // The text takes what the button leaves.
                ui.horizontal(|ui| {
                    ui.vertical(|ui| {
                        ui.set_width(width);
                        ui.add(egui::Label::new(&notice.text).wrap());
                    });
                    if ui.button("OK").clicked() {
                        view.send(ScreenMessage::DismissNotice(notice.id));
                    }
                });
            });
        ui.add_space(4.0);
    }
}
