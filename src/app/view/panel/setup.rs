//! What a recording is measured by: known sizes, the target line, the lens, and the rest of its
//! set-up.

use eframe::egui::{self, RichText, Ui};

use super::marks::{key_for, tool_for};
use super::row::{Row, row_ui};
use crate::app::keys::{self, Act};
use crate::app::message::{MarkMessage, ScreenMessage, SetupMessage};
use crate::app::model::{MarkName, OpenRecording, Sheet, Tool};
use crate::app::view::{View, edged, sheets};
use crate::domain::{Direction, MarkWord, Surface, Warning};
use crate::workflow::reference_title;
pub(super) fn setup_ui(view: &mut View, ui: &mut Ui) {
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
    let mut on_tee = setup.is_on_tee(setup.club.as_ref());
    if edged(ui, |ui| ui.checkbox(&mut on_tee, "ball on a tee")).changed() {
        view.send(SetupMessage::SetOnTee(on_tee));
    }
}

/// The question whether the target line runs along a mat's edge.
pub(super) fn proposed_line_row(view: &mut View, ui: &mut Ui) {
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

pub(super) fn reference_row(view: &mut View, ui: &mut Ui) {
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
    let (asks, also) = (proposed.is_some(), proposed.clone().filter(|_| !names.is_empty()));
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
    if let Some(also) = also {
        let quiet = view.colours().quiet;
        ui.horizontal(|ui| {
            ui.add_space(24.0);
            let text = RichText::new(format!("And {also}")).small().color(quiet);
            ui.add(egui::Label::new(text).wrap());
        });
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
pub(super) fn recording_warnings(view: &View) -> Vec<Warning> {
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
            | Warning::ViewDiffers { .. }
    )
}

/// What is wrong with a set-up carried over, and the way out.
pub(super) fn view_differs_ui(view: &mut View, ui: &mut Ui) {
    let Some(doubt) = view.model.open.as_ref().and_then(OpenRecording::view_doubt) else {
        return;
    };
    ui.add(egui::Label::new(RichText::new(doubt.sentence()).small()).wrap());
    if ui.button("Set up anew here").on_hover_text("The others keep theirs").clicked() {
        view.send(SetupMessage::OwnSetup);
    }
}

/// The lens, once there is one to be used or one to choose.
pub(super) fn lens_row(view: &mut View, ui: &mut Ui) {
    let Some(aside) = sheets::lens_aside(view) else { return };
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
