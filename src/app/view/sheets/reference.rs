//! Choosing what of known size lies in the picture.

use eframe::egui::{self, Align, Layout, RichText, Ui, vec2};

use super::title_ui;
use crate::app::keys::{self, Act};
use crate::app::message::{Field, ScreenMessage, SetupMessage};
use crate::app::model::{FOUR_LENGTHS, Sheet};
use crate::app::view::{BUDGET_HINT, View, edged, length_field, small};
use crate::app::words::capital;
use crate::domain::{Millimetres, ReferenceKind, SHEETS};
use crate::geometry::CameraNumber;
use crate::workflow::{reference_title, view_words};

/// Offers the kinds of reference object, best first, and lists those already marked.
pub fn reference_ui(view: &mut View, ui: &mut Ui) {
    ui.set_width(600.0);
    title_ui(view, ui, "Something of known size");
    ui.weak("It turns pixels into millimetres. The best comes first.");
    ui.add_space(10.0);
    egui::ScrollArea::vertical().show(ui, |ui| kinds_ui(view, ui));
}

fn kinds_ui(view: &mut View, ui: &mut Ui) {
    proposed_ui(view, ui);
    section(view, ui, "Sheet", sheet_ui);
    section(view, ui, "Points", four_points_ui);
    section(view, ui, "Length", line_ui);
    section(view, ui, "Ball", |view, ui| {
        if ui.button("Ball").on_hover_text("Two clicks: its left and its right edge").clicked() {
            view.send(SetupMessage::BeginBall);
        }
        small(view, ui, "42.67 mm (1.68 in) by the rules, but small in the picture: a wide ±.");
    });
    listed_ui(view, ui);
    camera_ui(view, ui);
}

/// Where the camera stands and how the references fit.
fn camera_ui(view: &mut View, ui: &mut Ui) {
    let seen = view.model.open.as_ref().and_then(|open| open.standing.view.as_ref());
    let Some(words) = seen.map(|seen| view_words(seen, view.model.settings.unit)) else { return };
    ui.add_space(10.0);
    for sentence in words {
        small(view, ui, sentence);
    }
    ui.horizontal_wrapped(|ui| {
        small(view, ui, "How well each is known:");
        for number in CameraNumber::ALL {
            let text = RichText::new(number.short_words()).small();
            if ui.link(text).on_hover_text(BUDGET_HINT).clicked() {
                view.send(ScreenMessage::Open(Sheet::Camera(number)));
            }
        }
    });
}

/// A kind of object: its name on the left, what can be done on the right.
fn section(view: &mut View, ui: &mut Ui, name: &str, content: impl FnOnce(&mut View, &mut Ui)) {
    ui.horizontal_top(|ui| {
        let size = vec2(64.0, ui.spacing().interact_size.y);
        let layout = Layout::left_to_right(Align::Center);
        ui.allocate_ui_with_layout(size, layout, |ui| {
            ui.set_min_size(size);
            ui.label(RichText::new(name).text_style(crate::app::view::strong()));
        });
        ui.vertical(|ui| content(view, ui));
    });
    ui.add_space(12.0);
}

/// What was found and waits for a yes; a sheet may have another size than
/// proposed, a stick another length.
fn proposed_ui(view: &mut View, ui: &mut Ui) {
    let Some(proposed) = view.model.proposed().cloned() else { return };
    let words = reference_title(&proposed.reference, view.model.settings.unit);
    let sure = 100.0 * proposed.confidence;
    ui.label(
        RichText::new(format!("Found in the picture ({sure:.0} % sure), with a dashed outline:"))
            .text_style(crate::app::view::strong()),
    );
    ui.horizontal_wrapped(|ui| {
        let yes = egui::Button::new(format!("Yes: {words}")).shortcut_text(keys::short(Act::Yes));
        if ui.add(yes).clicked() {
            view.send(SetupMessage::AcceptReference(None));
        }
        if let ReferenceKind::Sheet { size, .. } = &proposed.reference.kind {
            let lengthwise = size[0].0 >= size[1].0;
            for (name, [a, b]) in SHEETS {
                let [a, b] = if lengthwise { [a, b] } else { [b, a] };
                if (a - size[0].0).abs() > 0.01 && ui.button(name).clicked() {
                    view.send(SetupMessage::AcceptReference(Some([
                        Millimetres(a),
                        Millimetres(b),
                    ])));
                }
            }
        }
        if matches!(proposed.reference.kind, ReferenceKind::Line { .. }) {
            field(view, ui, Field::Length, "length, if another");
        }
        if ui.button("No").clicked() {
            view.send(SetupMessage::DismissReference);
        }
    });
    ui.add_space(10.0);
}

fn sheet_ui(view: &mut View, ui: &mut Ui) {
    ui.horizontal_wrapped(|ui| {
        for (name, [a, b]) in SHEETS {
            if ui.button(name).clicked() {
                view.send(SetupMessage::BeginSheet(Some([Millimetres(a), Millimetres(b)])));
            }
        }
    });
    ui.horizontal(|ui| {
        field(view, ui, Field::Width, "first edge");
        ui.label("×");
        field(view, ui, Field::Height, "second edge");
        if ui.button("Another sheet").clicked() {
            view.send(SetupMessage::BeginSheet(None));
        }
    });
    small(
        view,
        ui,
        "Four corners, going round; the first edge first. Also tells how the camera stands.",
    );
}

fn four_points_ui(view: &mut View, ui: &mut Ui) {
    ui.horizontal_top(|ui| {
        let gaps = (FOUR_LENGTHS.len() - 1) as f32 * ui.spacing().item_spacing.x;
        let wide = (ui.available_width() - gaps) / FOUR_LENGTHS.len() as f32;
        for (place, name) in FOUR_LENGTHS.into_iter().enumerate() {
            ui.vertical(|ui| {
                ui.set_width(wide);
                small(view, ui, name);
                typed_ui(view, ui, Field::FourPoints(place), name, "", wide);
            });
        }
    });
    ui.horizontal(|ui| {
        if ui.button("Any four points").clicked() {
            view.send(SetupMessage::BeginFourPoints);
        }
        small(view, ui, "On the ground, going round, measured by a tape. As good as a sheet.");
    });
}

fn line_ui(view: &mut View, ui: &mut Ui) {
    field(view, ui, Field::Length, "length, such as 48 in");
    ui.horizontal_wrapped(|ui| {
        if ui.button("Stick along the target line").clicked() {
            view.send(SetupMessage::BeginLine { along_target: true });
        }
        if ui.button("Any two points").on_hover_text("That far apart").clicked() {
            view.send(SetupMessage::BeginLine { along_target: false });
        }
        if ui.button("Two lines across it").on_hover_text("Across the target line").clicked() {
            view.send(SetupMessage::BeginLinePair);
        }
    });
    small(view, ui, "A length does not tell how the camera stands: the ± grows.");
}

/// A field of the sheet; `hint` is its name.
pub(super) fn field(view: &mut View, ui: &mut Ui, field: Field, hint: &str) {
    let body = egui::TextStyle::Body.resolve(ui.style()).size;
    let wide = (0.56 * body * hint.chars().count() as f32).max(150.0);
    typed_ui(view, ui, field, hint, hint, wide);
}

/// A field called `name`, so wide in points.
fn typed_ui(view: &mut View, ui: &mut Ui, field: Field, name: &str, hint: &str, wide: f32) {
    let fields = &view.model.fields;
    let mut text = match field {
        Field::Length => fields.length.clone(),
        Field::Width => fields.width.clone(),
        Field::Height => fields.height.clone(),
        Field::FourPoints(place) => fields.four_points[place].clone(),
        Field::Golfer => fields.golfer.clone(),
        Field::Lens => fields.lens.clone(),
    };
    let edit = egui::TextEdit::singleline(&mut text).hint_text(hint).desired_width(wide);
    if ui.add(edit).accessible_name(name).changed() {
        view.send(ScreenMessage::Typed(field, text));
    }
}

fn listed_ui(view: &mut View, ui: &mut Ui) {
    let Some(open) = &view.model.open else { return };
    let references = open.setup.references.clone();
    if references.is_empty() {
        return;
    }
    ui.add_space(12.0);
    ui.weak("Marked in this recording");
    for (object, reference) in references.iter().enumerate() {
        ui.horizontal(|ui| {
            let words = reference_title(reference, view.model.settings.unit);
            ui.label(RichText::new(capital(&words)).text_style(crate::app::view::strong()));
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                if ui.button("Remove").accessible_name(format!("Remove {words}")).clicked() {
                    view.send(SetupMessage::RemoveReference(object));
                }
            });
        });
        ui.horizontal(|ui| {
            ui.weak("lies");
            let mut height = reference.height.0;
            let value = length_field(&mut height, view.model.settings.unit);
            let hint = "How high it lies above the ground: grass tips, a stick's axis";
            if ui.add(value).accessible_name(hint).on_hover_text(hint).changed() {
                view.send(SetupMessage::SetReferenceHeight(object, Millimetres(height)));
            }
            ui.weak("above the ground");
            let mut along = reference.along_target;
            let says = match reference.kind {
                ReferenceKind::Ball { .. } | ReferenceKind::LinePair { .. } => return,
                ReferenceKind::Line { .. } => "along the target line",
                ReferenceKind::Sheet { .. } | ReferenceKind::FourPoints { .. } => {
                    "its first side along the target line"
                }
            };
            ui.add_space(12.0);
            if edged(ui, |ui| ui.checkbox(&mut along, says)).changed() {
                view.send(SetupMessage::SetAlongTarget(object, along));
            }
        });
    }
}
