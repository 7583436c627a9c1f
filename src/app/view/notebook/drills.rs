//! Drills: set-up, cue, score, personal best.

use eframe::egui::{self, Align, Frame, Layout, Margin, RichText, Stroke, TextStyle, Ui, vec2};

use super::{drawn, lead, reading_ui, small};
use crate::app::notebook::{DrillsMessage, NotebookMessage};
use crate::app::view::{View, strong};
use crate::report::content::cautions;
use crate::report::drawing::Drawing;
use crate::report::drill_pictures;
use crate::workflow::{DrillStudy, laying_words, reach_words, score_words, scoring_words};

/// Shows the chapter.
pub fn drills_ui(view: &mut View, ui: &mut Ui) {
    lead(ui, "The cue is on the ground, not in the body.");
    small(view, ui, cautions(view.model.settings.unit).join(" "));
    ui.add_space(10.0);
    let Some(found) = view.model.notebook.drills.found.clone() else {
        reading_ui(view, ui, "Reading the drills…");
        return;
    };
    let gap = 16.0;
    let across = if ui.available_width() > 760.0 { 3.0 } else { 2.0 };
    let width = (ui.available_width() - gap * (across - 1.0)) / across;
    for row in found.chunks(across as usize) {
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = gap;
            for study in row {
                card_ui(view, ui, study, width);
            }
        });
        ui.add_space(gap - ui.spacing().item_spacing.y);
    }
    small(view, ui, "Common practice, no source; the names are this program's own.");
}

fn card_ui(view: &mut View, ui: &mut Ui, study: &DrillStudy, width: f32) {
    let colours = *view.colours();
    let frame = Frame::new()
        .fill(colours.raised)
        .stroke(Stroke::new(colours.stroke, colours.line))
        .corner_radius(10)
        .inner_margin(Margin::same(12));
    frame.show(ui, |ui| {
        ui.spacing_mut().item_spacing.x = 8.0;
        let inner = width - 26.0;
        // The picture grows with the card; what is said beneath it takes as much as it takes.
        let picture = f64::from(inner) / drill_pictures::SIZE[0] * drill_pictures::SIZE[1];
        let line = TextStyle::Body.resolve(ui.style()).size * 1.3;
        let height = picture as f32 + 10.5 * line;
        ui.allocate_ui_with_layout(vec2(inner, height), Layout::top_down(Align::Min), |ui| {
            ui.set_width(inner);
            let unit = view.model.settings.unit;
            ui.set_min_height(height);
            let picture = scaled(
                drill_pictures::picture(study.drill.key, &reach_words(unit)),
                f64::from(inner),
            );
            drawn(view, ui, &picture, &format!("How {} is laid out", study.drill.title));
            ui.label(RichText::new(study.drill.title).text_style(strong()).size(17.0));
            ui.add(egui::Label::new(laying_words(study.drill, unit)).wrap());
            ui.add(egui::Label::new(RichText::new(study.drill.cue).text_style(strong())).wrap());
            small(view, ui, scoring_words(study.drill.scoring, unit));
            ui.with_layout(Layout::bottom_up(Align::Min), |ui| {
                foot_ui(view, ui, study);
            });
        });
    });
}

fn foot_ui(view: &mut View, ui: &mut Ui, study: &DrillStudy) {
    ui.horizontal(|ui| {
        let colours = *view.colours();
        let name = format!("Start {}", study.drill.title);
        let text = RichText::new("Start").text_style(strong()).color(colours.on_accent);
        let button = ui.add(egui::Button::new(text).fill(colours.accent)).accessible_name(name);
        if button.on_hover_text("A new block: the session's next swings go into it").clicked() {
            view.send(NotebookMessage::Drills(DrillsMessage::Start(study.drill.key)));
        }
        ui.vertical(|ui| {
            ui.spacing_mut().item_spacing.y = 1.0;
            match study.best() {
                Some(best) => {
                    let score = score_words(study.drill.scoring, &best.score);
                    ui.label(format!("Personal best {score}"));
                    let runs = study.runs.len();
                    let times = if runs == 1 { "once".into() } else { format!("{runs} times") };
                    small(view, ui, format!("{}; played {times}", best.day));
                }
                None => {
                    small(view, ui, "Not played yet");
                }
            }
        });
    });
}

/// A drawing brought to a width; type grows with it.
fn scaled(drawing: Drawing, width: f64) -> Drawing {
    drawing.scaled(width / drill_pictures::SIZE[0])
}
