//! Choosing the lens a recording was made with, or finding it from straight edges.

use eframe::egui::{self, RichText, Ui};

use super::title_ui;
use crate::app::keys::{self, Act};
use crate::app::message::{Field, MarkMessage, SetupMessage};
use crate::app::model::Tool;
use crate::app::view::{View, edged, strong};
use crate::app::words;
use crate::workflow::{KeptLens, lens_words};

/// What the panel says of the lens; `None` where there is nothing to say.
pub fn lens_aside(view: &View) -> Option<String> {
    let open = view.model.open.as_ref()?;
    let choice = &open.standing.lenses;
    let all = || choice.offered.iter().chain(&choice.others);
    match &open.setup.lens {
        Some(lens) => {
            let kept = all().find(|kept| kept.lens == *lens);
            Some(kept.map_or("as set up".into(), |kept| kept.name.clone()))
        }
        None if !open.setup.straight_edges.is_empty() => {
            Some(words::counted(open.setup.straight_edges.len(), "straight edge"))
        }
        None => view.model.offered_lens().map(|kept| format!("{}?", kept.name)),
    }
}

/// Offers the lenses that could have made the recording, and the way to find another.
pub fn lens_ui(view: &mut View, ui: &mut Ui) {
    ui.set_width(520.0);
    title_ui(view, ui, "Lens");
    ui.weak(
        "A wide lens bends straight lines near the picture's edges, and millimetres with them.",
    );
    ui.add_space(10.0);
    let Some(open) = &view.model.open else {
        ui.label("Open a recording first.");
        return;
    };
    let (setup, choice) = (open.setup.clone(), open.standing.lenses.clone());
    let none = setup.lens.is_none();
    let text = if setup.straight_edges.is_empty() { "None known" } else { "From the edges below" };
    if edged(ui, |ui| ui.radio(none, text)).clicked() && !none {
        view.send(SetupMessage::UseLens(None));
    }
    let phone = match choice.camera.as_str() {
        "" => "Kept in the library".to_owned(),
        camera => format!("Found with this phone ({camera})"),
    };
    let used = |kept: &KeptLens| setup.lens.as_ref() == Some(&kept.lens);
    for (title, lenses) in [(phone, &choice.offered), ("Of other phones".into(), &choice.others)] {
        if lenses.is_empty() {
            continue;
        }
        ui.add_space(6.0);
        ui.weak(title);
        for kept in lenses {
            if edged(ui, |ui| ui.radio(used(kept), &kept.name)).clicked() {
                view.send(SetupMessage::UseLens(Some(kept.id)));
            }
            ui.label(RichText::new(lens_words(&kept.lens)).small().color(view.colours().quiet));
        }
    }
    edges_ui(view, ui);
}

fn edges_ui(view: &mut View, ui: &mut Ui) {
    let Some(open) = &view.model.open else { return };
    let (edges, found) = (open.setup.straight_edges.clone(), open.standing.lenses.edges.clone());
    ui.add_space(14.0);
    ui.label(RichText::new("Find it from straight edges").text_style(strong()));
    ui.weak("A mat's edge, a board, a wall: long ones, near the picture's edges, three or more.");
    for (i, edge) in edges.iter().enumerate() {
        ui.horizontal(|ui| {
            ui.label(format!("Edge {}: {} points", i + 1, edge.len()));
            let name = format!("Take edge {} away", i + 1);
            if ui.button("Take away").on_hover_text(&name).accessible_name(name).clicked() {
                view.send(SetupMessage::RemoveEdge(i));
            }
        });
    }
    if ui.add(egui::Button::new("Mark an edge").shortcut_text(keys::short(Act::Edge))).clicked() {
        view.send(MarkMessage::Choose(Tool::Edge(Vec::new())));
    }
    match found {
        None => {}
        Some(Err(why)) => {
            ui.add(egui::Label::new(why).wrap());
        }
        Some(Ok(words)) => {
            ui.add_space(6.0);
            ui.label(words);
            ui.horizontal(|ui| {
                super::reference::field(view, ui, Field::Lens, "phone and zoom, as my phone 1x");
                if ui.button("Keep this lens").clicked() {
                    view.send(SetupMessage::KeepLens);
                }
            });
            ui.weak("Kept, it is offered for every recording of this phone in this format.");
        }
    }
}
