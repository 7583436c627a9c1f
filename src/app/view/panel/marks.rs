//! The marks: which there are, who placed them, which are doubtful; a click places anew.

use eframe::egui::{self, Ui};

use super::row::{Row, row_ui};
use super::{part_ui, setup, warnings_ui};
use crate::app::keys::{self, Act};
use crate::app::message::{MarkMessage, ScreenMessage};
use crate::app::model::{MarkName, Sheet, Swing, Tool};
use crate::app::view::{View, canvas};
use crate::app::words;
use crate::domain::{FrameIndex, GroundAnswer, Reviewable};
/// What the recording is measured by, then the swing's marks, each in a row.
pub(super) fn marks_ui(view: &mut View, ui: &mut Ui) {
    if view.model.open.is_none() {
        return;
    }
    setup::reference_row(view, ui);
    setup::proposed_line_row(view, ui);
    setup::view_differs_ui(view, ui);
    warnings_ui(view, ui, &setup::recording_warnings(view));
    setup::lens_row(view, ui);
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
pub(super) fn key_for(name: MarkName) -> &'static str {
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
        setup::setup_ui(view, ui);
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

pub(super) fn tool_for(name: MarkName) -> Tool {
    match name {
        MarkName::TargetLine(_) => Tool::TargetLine(Vec::new()),
        name => Tool::Place(name),
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
    let carried = canvas::carried_words(view, name);
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
