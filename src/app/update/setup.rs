//! What is known of a recording: reference objects, surface, target side.

use super::common::{change_setup, edit, notify};
use super::marks;
use crate::app::message::{Edit, Job, SetupMessage};
use crate::app::model::{FOUR_LENGTHS, Model, ReferenceDraft, ReferenceWhat, Tool};
use crate::app::words::read_length;
use crate::domain::{Millimetres, ReferenceKind, Setup};
use crate::store::RecordingId;
use crate::workflow::is_height;

/// What was typed is not the length of a stick, or from line to line.
const NO_LENGTH: &str = "The length must be above zero, such as 1219.2 mm or 48 in; type it again.";

/// Applies a message about the set-up.
pub fn update(model: &mut Model, message: SetupMessage) -> Vec<Job> {
    use SetupMessage as M;
    match message {
        M::BeginSheet(size) => begin_sheet(model, size),
        M::BeginFourPoints => begin_four_points(model),
        M::BeginLine { along_target } => begin_line(model, along_target),
        M::BeginLinePair => begin_line_pair(model),
        M::BeginBall => begin_ball(model),
        M::AcceptReference(size) => accept_reference(model, size),
        M::DismissReference => dismiss_reference(model),
        M::AcceptLine => change_setup(model, "target line", Setup::take_proposed_line),
        M::DismissLine => change_setup(model, "target line", |setup| setup.proposed_line = None),
        M::RemoveReference(object) => marks::remove_reference(model, object),
        M::SetReferenceHeight(object, height) => set_height(model, object, height),
        M::SetAlongTarget(object, along) => set_along_target(model, object, along),
        M::SetSurface(surface) => change_setup(model, "surface", |s| s.surface = Some(surface)),
        M::SetTarget(target) => change_setup(model, "target side", |s| s.target = Some(target)),
        M::UseLens(lens) => of_open(model, |recording| Edit::Lens { recording, lens }),
        M::KeepLens => keep_lens(model),
        M::RemoveEdge(edge) => change_setup(model, "straight edge", |setup| {
            if edge < setup.straight_edges.len() {
                setup.straight_edges.remove(edge);
            }
        }),
        M::OwnSetup => own_setup(model),
        M::SetOnTee(on_tee) => change_setup(model, "tee", |s| s.on_tee = Some(on_tee)),
    }
}

/// Begins a sheet of `size`, or of the size in the fields.
pub fn begin_sheet(model: &mut Model, size: Option<[Millimetres; 2]>) -> Vec<Job> {
    let unit = model.settings.unit;
    let typed = || {
        let width = read_length(&model.fields.width, unit)?;
        let height = read_length(&model.fields.height, unit)?;
        Some([Millimetres(width), Millimetres(height)])
    };
    match size.or_else(typed) {
        Some(size) => begin(model, ReferenceWhat::Sheet(size)),
        None => {
            notify(
                model,
                "Both edges need a length above zero, such as 297 mm or 11 in; type them again.",
            );
            Vec::new()
        }
    }
}

/// Begins four points with the lengths in their fields.
fn begin_four_points(model: &mut Model) -> Vec<Job> {
    let unit = model.settings.unit;
    let typed = model.fields.four_points.each_ref();
    let lengths = typed.map(|text| read_length(text, unit).map(Millimetres));
    let [Some(a), Some(b), Some(c), Some(d), Some(diagonal)] = lengths else {
        let missing = lengths.iter().zip(FOUR_LENGTHS).filter(|(length, _)| length.is_none());
        let names: Vec<&str> = missing.map(|(_, name)| name).collect();
        let wanted = "type a length above zero, such as 1000 mm or 40 in";
        notify(model, format!("Not yet known: {}; {wanted}.", names.join(", ")));
        return Vec::new();
    };
    begin(model, ReferenceWhat::FourPoints([a, b, c, d, diagonal]))
}

/// Begins a line of the length in the field.
pub fn begin_line(model: &mut Model, along_target: bool) -> Vec<Job> {
    with_length(model, |length| ReferenceWhat::Line { length, along_target })
}

/// Begins a line pair at the distance in the field.
pub fn begin_line_pair(model: &mut Model) -> Vec<Job> {
    with_length(model, ReferenceWhat::LinePair)
}

/// Begins the ball's outline.
pub fn begin_ball(model: &mut Model) -> Vec<Job> {
    begin(model, ReferenceWhat::Ball)
}

fn with_length(model: &mut Model, what: impl Fn(Millimetres) -> ReferenceWhat) -> Vec<Job> {
    match read_length(&model.fields.length, model.settings.unit) {
        Some(length) => begin(model, what(Millimetres(length))),
        None => {
            notify(model, NO_LENGTH);
            Vec::new()
        }
    }
}

fn begin(model: &mut Model, what: ReferenceWhat) -> Vec<Job> {
    let draft = ReferenceDraft::new(what);
    marks::choose(model, Tool::Reference(draft))
}

/// Measures by the reference object proposed first; `size` is a sheet's if not as proposed. A
/// stick is as long as the length typed in, if there is one.
fn accept_reference(model: &mut Model, size: Option<[Millimetres; 2]>) -> Vec<Job> {
    let Some(proposed) = model.proposed() else { return Vec::new() };
    let is_stick = matches!(proposed.reference.kind, ReferenceKind::Line { .. });
    let typed = Some(model.fields.length.trim()).filter(|text| is_stick && !text.is_empty());
    let typed = typed.map(|text| read_length(text, model.settings.unit));
    if typed == Some(None) {
        notify(model, NO_LENGTH);
        return Vec::new();
    }
    model.sheet = None;
    change_setup(model, "proposed reference object", |setup| {
        let mut reference = setup.proposed.remove(0).reference;
        if let (Some(size), ReferenceKind::Sheet { size: known, .. }) = (size, &mut reference.kind)
        {
            *known = size;
        }
        if let (Some(Some(typed)), ReferenceKind::Line { length, .. }) =
            (typed, &mut reference.kind)
        {
            *length = Millimetres(typed);
        }
        setup.references.push(reference);
    })
}

/// Takes the proposal away: it is no reference object.
fn dismiss_reference(model: &mut Model) -> Vec<Job> {
    change_setup(model, "proposed reference object", |setup| {
        if !setup.proposed.is_empty() {
            setup.proposed.remove(0);
        }
    })
}

/// Says how high a reference object lies above the ground.
pub fn set_height(model: &mut Model, object: usize, height: Millimetres) -> Vec<Job> {
    if !is_height(height) {
        notify(model, "A reference object lies within 1 m (39 in) of the ground; type it again.");
        return Vec::new();
    }
    change_setup(model, "height of the reference object", |setup| {
        if let Some(reference) = setup.references.get_mut(object) {
            reference.height = height;
        }
    })
}

/// Says whether a reference object lies along the target line.
pub fn set_along_target(model: &mut Model, object: usize, along: bool) -> Vec<Job> {
    change_setup(model, "direction of the reference object", |setup| {
        if let Some(reference) = setup.references.get_mut(object) {
            reference.along_target = along;
        }
    })
}

/// An edit of the open recording, shown once it has come back.
fn of_open(model: &mut Model, change: impl FnOnce(RecordingId) -> Edit) -> Vec<Job> {
    match model.open.as_ref().map(|open| open.id) {
        Some(recording) => edit(model, change(recording)),
        None => Vec::new(),
    }
}

/// Keeps the lens that the straight edges tell under the name typed.
fn keep_lens(model: &mut Model) -> Vec<Job> {
    let name = model.fields.lens.trim().to_owned();
    if name.is_empty() {
        notify(model, "The lens needs a name, such as the phone and its zoom; type one.");
        return Vec::new();
    }
    model.fields.lens.clear();
    of_open(model, |recording| Edit::KeepLens { recording, name })
}

/// Begins a set-up of the open recording's own; the one it shared stays with the others.
fn own_setup(model: &mut Model) -> Vec<Job> {
    model.selected = None;
    if let Some(open) = &mut model.open {
        open.setup = open.setup.without_places();
        open.standing.carried_from = None;
        open.standing.warnings.clear();
        open.view_differs = None;
    }
    of_open(model, |recording| Edit::OwnSetup { recording })
}
