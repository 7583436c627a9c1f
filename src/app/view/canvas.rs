//! The picture with its marks, the ruler on the ground and the loupe.

use eframe::egui::{
    self, Align2, Color32, CursorIcon, EventFilter, Painter, PointerButton, Pos2, Rect, Response,
    Sense, Stroke, TextStyle, Ui, Vec2, accesskit::Role, pos2, vec2,
};

use super::placement::Placement;
use super::shapes::{MarkLook, double_edge, draw_mark};
use super::{View, arc, ground_ruler, loupe, tools, turf_ruler, waiting};
use crate::app::keys;
use crate::app::message::{FileMessage, MarkMessage, PictureMessage, SwingMessage};
use crate::app::model::{Look, MarkName, Sheet, ShownMark, Tool, reference_points};
use crate::app::theme::Colours;
use crate::domain::ReferenceKind;
use crate::report::ruler::{self, Bar, Group};
use crate::workflow::ViewDoubt;

/// How close the pointer must be to take hold of a mark, in points.
const REACH: f32 = 13.0;
/// Before and after change places this often while the blink key is held, in seconds.
const BLINK: f64 = 0.45;

/// Shows the picture and reports what is done to it.
pub fn canvas_ui(view: &mut View, ui: &mut Ui) {
    let (rect, _) = ui.allocate_exact_size(ui.available_size(), Sense::hover());
    let response = ui.interact(rect, crate::app::focus::picture_id(), Sense::click_and_drag());
    keep_arrows(ui, &response);
    if ui.memory(|m| m.focused().is_none()) {
        response.request_focus();
    }
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 0.0, view.colours().ground);
    let response = describe(view, response);
    let Some(placement) = Placement::new(view, rect) else {
        nothing_to_show(view, ui, rect);
        return;
    };
    let held = show_picture(view, ui, &painter, placement);
    move_about(view, ui, &response, placement);
    if held == Held::Nothing {
        draw_overlays(view, &painter, placement);
        let on_mark = marks_ui(view, ui, &painter, placement);
        if !on_mark {
            act(view, ui, &response, placement);
        }
        loupe::loupe_ui(view, ui, &response, placement);
    }
    caption(view, ui, &painter, rect, held);
    tools::tools_ui(view, ui, rect);
}

/// Arrow keys move marks here; they do not move the keyboard to another widget.
fn keep_arrows(ui: &Ui, response: &Response) {
    if response.has_focus() {
        let filter = EventFilter {
            horizontal_arrows: true,
            vertical_arrows: true,
            ..EventFilter::default()
        };
        ui.memory_mut(|m| m.set_focus_lock_filter(response.id, filter));
    }
}

fn describe(view: &View, response: Response) -> Response {
    let text = match &view.model.open {
        Some(open) => format!("Picture, frame {} of {}", open.frame.0, open.last_frame()),
        None => "Picture".into(),
    };
    response.widget_info(|| egui::WidgetInfo::labeled(Role::Canvas, true, &text));
    response
}

/// A swing without a recording, in the picture's place: its mark on the ruler.
fn on_the_ruler_ui(view: &View, ui: &mut Ui, rect: Rect) {
    let Some(swing) = view.model.current_swing() else { return };
    let number = view.model.number_of(swing.id).unwrap_or(0);
    let type_size = f64::from(rect.height() / 42.0).clamp(13.0, 20.0);
    let width = f64::from(rect.width() - 96.0).clamp(200.0, 1100.0);
    let style = turf_ruler::sized(view, width, type_size, type_size * 2.6);
    let bar = Bar { label: String::new(), ..turf_ruler::bar_of(swing, number, true) };
    let alone = Group { name: String::new(), bars: vec![bar] };
    let drawing = ruler::draw(&[alone], swing.aim, &style);
    let words = format!("Swing {number} was not filmed: its numbers, on the ruler");
    turf_ruler::drawing_ui(view, ui, &drawing)
        .widget_info(|| egui::WidgetInfo::labeled(Role::Image, true, &words));
    ui.add_space(2.0 * type_size as f32);
    ui.weak(words);
}

fn nothing_to_show(view: &mut View, ui: &mut Ui, rect: Rect) {
    let mut inner = ui.new_child(egui::UiBuilder::new().max_rect(rect.shrink(40.0)));
    inner.vertical_centered(|ui| {
        ui.add_space(rect.height() * 0.3);
        if let Some(trouble) = view.model.open.as_ref().and_then(|o| o.trouble.clone()) {
            ui.label(trouble);
            ui.add_space(8.0);
            let again = view.model.open.as_ref().map(|open| open.id);
            if ui.button("Try again").clicked() {
                let swing = view.model.current.map(SwingMessage::ShowSwing);
                let again = swing.or(again.map(SwingMessage::ShowRecording));
                again.into_iter().for_each(|message| view.send(message));
            }
        } else if view.model.current_swing().is_some_and(|swing| swing.recording.is_none()) {
            on_the_ruler_ui(view, ui, rect);
        } else if view.model.open.is_some() {
            opening_ui(view, ui);
        } else {
            ui.label(egui::RichText::new("Drop a recording here").text_style(super::strong()));
            ui.add_space(4.0);
            ui.weak("Face-on, phone on a tripod, club and ground in view.");
            ui.add_space(12.0);
            if ui.button("Open a recording…").clicked() {
                view.send(FileMessage::AskForFiles);
            }
        }
    });
}

/// A recording on its way into the picture.
fn opening_ui(view: &mut View, ui: &mut Ui) {
    // As wide as the row, so that it stands in the middle.
    ui.allocate_ui(vec2(300.0, 0.0), |ui| {
        waiting::waiting_ui(view, ui, "Opening the recording…", PictureMessage::StopOpening);
    });
}

/// Which key shows something else than the frame.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Held {
    Nothing,
    Before,
    After,
    Difference,
    Waiting,
}

fn what_is_held(view: &mut View, ui: &Ui) -> Held {
    if ui.ctx().text_edit_focused() {
        return Held::Nothing;
    }
    let ((blink, _), (changes, _)) = (keys::BLINK, keys::CHANGES);
    let (blink, difference, now) = ui.input(|i| (i.key_down(blink), i.key_down(changes), i.time));
    let blink = blink || view.model.look == Look::Blink;
    let difference = difference || view.model.look == Look::Changes;
    if !(blink || difference) {
        if view.model.before_after_refused {
            view.send(PictureMessage::LetGo);
        }
        return Held::Nothing;
    }
    let at_hand =
        view.model.before_after.as_ref().is_some_and(|b| Some(b.swing) == view.model.current);
    if !at_hand {
        if view.model.before_after_refused {
            return Held::Nothing;
        }
        view.send(PictureMessage::WantBeforeAfter);
        return Held::Waiting;
    }
    if difference {
        return Held::Difference;
    }
    ui.ctx().request_repaint_after_secs((BLINK - now % BLINK) as f32 + 0.005);
    if (now / BLINK) as i64 % 2 == 0 { Held::Before } else { Held::After }
}

fn show_picture(view: &mut View, ui: &Ui, painter: &Painter, placement: Placement) -> Held {
    let held = what_is_held(view, ui);
    let pair = view.model.before_after.as_ref();
    let picture = match held {
        Held::Before => pair.map(|p| p.before.clone()),
        Held::After => pair.map(|p| p.after.clone()),
        Held::Difference => pair.map(|p| p.difference.clone()),
        Held::Nothing | Held::Waiting => None,
    };
    let shown = view.model.open.as_ref().and_then(|o| o.shown.as_ref());
    let Some(picture) = picture.or(shown.map(|(_, picture)| picture.clone())) else {
        return held;
    };
    // A picture shown meanwhile may have fewer pixels; it takes up the same place.
    let Some(size) = view.model.open.as_ref().map(|open| open.size) else { return held };
    let rect = placement.picture_rect(size.width, size.height);
    let texture = view.pictures.texture(ui.ctx(), &picture, view.model.tone);
    let all = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
    painter.image(texture, rect, all, Color32::WHITE);
    held
}

fn caption(view: &mut View, ui: &Ui, painter: &Painter, rect: Rect, held: Held) {
    let text = match held {
        Held::Before => "Before".to_owned(),
        Held::After => "After".to_owned(),
        Held::Difference => "What has changed".to_owned(),
        Held::Waiting => {
            let place = (Align2::CENTER_TOP, rect.center_top() + vec2(0.0, 16.0));
            let doing = "Steadying before and after on each other…";
            waiting::waiting_over(view, ui, place, doing, PictureMessage::StopBeforeAfter);
            return;
        }
        Held::Nothing => match prompt(view) {
            Some(prompt) => prompt,
            None => return,
        },
    };
    let at = rect.center_top() + vec2(0.0, 16.0);
    let font = TextStyle::Body.resolve(&painter.ctx().global_style());
    let galley = painter.layout_no_wrap(text, font, view.colours().text);
    let place = Align2::CENTER_TOP.anchor_size(at, galley.size());
    painter.rect_filled(place.expand2(vec2(14.0, 7.0)), 8.0, view.colours().panel);
    painter.galley(place.min, galley, view.colours().text);
}

/// What to click next, while something is being placed.
pub fn prompt(view: &View) -> Option<String> {
    Some(match &view.model.tool {
        Tool::Look => return None,
        Tool::Place(MarkName::Ball) => "Click the middle of the ball".into(),
        Tool::Place(MarkName::DivotStart) => "Click where the mark in the ground begins".into(),
        Tool::Place(MarkName::DivotEnd) => "Click where the mark in the ground ends".into(),
        Tool::Place(MarkName::Tee) => "Click where the tee goes into the ground".into(),
        Tool::Place(MarkName::BallLine) => "Click the ball line, where the ball would lie".into(),
        Tool::Place(MarkName::ReachLine) => "Click a point of the reach line".into(),
        Tool::Place(name) => {
            let title = name.title(view.model.current_mark_word());
            format!("Click the {}", title.to_lowercase())
        }
        Tool::Reference(draft) => draft.what.prompt(draft.points.len()),
        Tool::ClubHead => {
            "Click the middle of the club head's leading edge; the next frame follows (Esc ends it)"
                .into()
        }
        Tool::Edge(points) => match points.len() {
            n @ 0..3 => {
                format!("Click point {} of 3 or more along an edge that is straight", n + 1)
            }
            n => format!("{n} points; click on, or press Enter to end the edge"),
        },
        Tool::TargetLine(points) => {
            format!("Click point {} of 2 on the target line", points.len() + 1)
        }
    })
}

/// Wheel and pinch zoom to the pointer; dragging moves the picture.
pub fn move_about(view: &mut View, ui: &Ui, response: &Response, placement: Placement) {
    if response.clicked() || response.drag_started() {
        response.request_focus();
    }
    if let Some(pointer) = response.hover_pos() {
        let (scroll, pinch) = ui.input(|i| (i.smooth_scroll_delta().y, i.zoom_delta()));
        let factor = f64::from(pinch) * (f64::from(scroll) * 0.004).exp();
        if factor != 1.0 {
            let about = placement.to_image(pointer);
            view.send(PictureMessage::Zoom { about, factor, fit: placement.fit });
        }
    }
    let hand = response.dragged_by(PointerButton::Middle)
        || response.dragged_by(PointerButton::Secondary)
        || (response.dragged_by(PointerButton::Primary) && view.model.tool == Tool::Look);
    if hand && view.model.dragging.is_none() {
        let by = response.drag_delta();
        let by = [f64::from(by.x) / placement.scale, f64::from(by.y) / placement.scale];
        view.send(PictureMessage::Pan(by));
    }
}

/// A click, or the end of a drag, places what the tool places.
fn act(view: &mut View, ui: &Ui, response: &Response, placement: Placement) {
    let placing = view.model.tool != Tool::Look;
    let let_go = placing && response.drag_stopped_by(PointerButton::Primary);
    if (response.clicked() || let_go)
        && let Some(at) = response.interact_pointer_pos()
    {
        view.send(match placing {
            true => MarkMessage::ClickAt(placement.to_image(at)),
            false => MarkMessage::Select(None),
        });
    }
    if response.double_clicked() && !placing {
        view.send(PictureMessage::ZoomToGround);
    }
    if placing && response.hovered() {
        ui.ctx().set_cursor_icon(CursorIcon::Crosshair);
    }
}

/// Marks that can be taken hold of; returns whether the pointer is on one.
fn marks_ui(view: &mut View, ui: &Ui, painter: &Painter, placement: Placement) -> bool {
    let mut on_mark = false;
    let placing = view.model.tool != Tool::Look;
    for (name, placed) in view.model.marks() {
        let Some(open) = &view.model.open else { continue };
        let at = placement.to_screen(open.place_in_shown(placed.mark));
        let selected = view.model.selected == Some(name);
        draw_mark(painter, name, at, &look(view, name, &placed, placement));
        if selected {
            painter.circle_stroke(at, 19.0, Stroke::new(4.4, Color32::from_black_alpha(150)));
            painter.circle_stroke(at, 19.0, Stroke::new(2.0, view.colours().accent));
        }
        if placing || !placement.rect.contains(at) {
            continue;
        }
        on_mark |= mark_handle(view, ui, placement, name, &placed, at);
    }
    on_mark
}

fn mark_handle(
    view: &mut View,
    ui: &Ui,
    placement: Placement,
    name: MarkName,
    placed: &ShownMark,
    at: Pos2,
) -> bool {
    let grip = Rect::from_center_size(at, Vec2::splat(2.0 * REACH));
    let response = ui.interact(grip, crate::app::focus::mark_id(name), Sense::click_and_drag());
    keep_arrows(ui, &response);
    let title = name.title(view.model.current_mark_word());
    let text = describe_mark(name, title, placed) + carried_words(view, name).as_str();
    response.widget_info(|| egui::WidgetInfo::labeled(Role::Button, true, &text));
    if response.clicked() || response.gained_focus() {
        view.send(MarkMessage::Select(Some(name)));
    }
    // On letting go as well: the last way of the pointer may come in the same pass.
    if (response.dragged_by(PointerButton::Primary) || response.drag_stopped())
        && let Some(pointer) = response.interact_pointer_pos()
    {
        // The grip keeps its distance from the pointer, so that taking hold moves nothing.
        let pressed = ui.input(|i| i.pointer.press_origin()).unwrap_or(pointer);
        let (origin, start) = *view.grip.get_or_insert((pressed, at));
        view.send(MarkMessage::DragTo(name, placement.to_image(start + (pointer - origin))));
    }
    if response.drag_stopped() {
        *view.grip = None;
        view.send(MarkMessage::Drop);
    }
    let response = response.on_hover_cursor(CursorIcon::Grab);
    let active = response.hovered() || response.dragged() || response.drag_stopped();
    if view.model.dragging.is_none() {
        response.on_hover_text(text);
    }
    active
}

/// A mark in words.
fn describe_mark(name: MarkName, title: &str, placed: &ShownMark) -> String {
    let whose = match placed.sure {
        Some(sure) => format!("proposed, {:.0} % sure", sure * 100.0),
        None => "placed by hand".into(),
    };
    let p = placed.mark.point;
    let which = match name {
        MarkName::ClubHead(frame) => format!(" of frame {}", frame.0 + 1),
        _ => String::new(),
    };
    format!("{title}{which} in the picture, {whose}, at {:.1}, {:.1}", p.x, p.y)
}

/// Whether a mark was made for this swing or is carried to it, in words.
pub fn carried_words(view: &View, name: MarkName) -> String {
    let Some(open) = &view.model.open else { return String::new() };
    let of_set_up = match name {
        MarkName::Reference { .. } | MarkName::TargetLine(_) | MarkName::ReachLine => true,
        MarkName::BallLine => view.model.current_swing().is_none_or(|s| s.marks.origin.is_none()),
        _ => false,
    };
    match (&open.standing.carried_from, of_set_up) {
        (_, false) => String::new(),
        (Some(from), true) => format!(", carried over from {from}"),
        (None, true) => ", carried to every swing of this recording".into(),
    }
}

/// How a mark is drawn where the picture lies like this.
pub fn look(view: &View, name: MarkName, placed: &ShownMark, placement: Placement) -> MarkLook {
    let target = view.model.target().sign() as f32;
    let size = match name {
        MarkName::Ball => ball_radius(view, placement).max(7.0),
        MarkName::Reference { .. } => 6.0,
        // Smaller while all of the picture is seen, since the ruler lies close by then.
        _ => (7.0 * placement.scale / placement.fit).clamp(7.0, 12.0) as f32,
    };
    MarkLook {
        ink: Color32::WHITE,
        edge: Color32::from_black_alpha(200),
        size,
        width: 1.8 * view.colours().stroke.max(1.0),
        dashed: !placed.by_person,
        toward_target: target,
    }
}

/// The ball's radius on the screen where its outline is known.
fn ball_radius(view: &View, placement: Placement) -> f32 {
    let found = view.model.current_swing().and_then(|s| s.found.as_ref());
    let diameter = found.and_then(|f| f.ball).map(|b| b.value.diameter.0);
    diameter.map_or(8.0, |d| (d / 2.0 * placement.scale) as f32)
}

fn draw_overlays(view: &View, painter: &Painter, placement: Placement) {
    ground_ruler::draw(view, painter, placement);
    arc::draw(view, painter, placement);
    draw_references(view, painter, placement);
    draw_proposed(view, painter, placement);
    draw_draft(view, painter, placement);
    draw_target_line(view, painter, placement);
    draw_edges(view, painter, placement);
    draw_club_head(view, painter, placement);
}

fn overlay_look(colours: &Colours) -> MarkLook {
    MarkLook {
        ink: Color32::WHITE,
        edge: Color32::from_black_alpha(170),
        size: 6.0,
        width: 1.2 * colours.stroke,
        dashed: false,
        toward_target: 1.0,
    }
}

/// The outline of what was proposed as a reference object, or as the target line: dashed until a
/// person says yes.
fn draw_proposed(view: &View, painter: &Painter, placement: Placement) {
    let Some(open) = &view.model.open else { return };
    let points = match (view.model.proposed(), view.model.proposed_line()) {
        (Some(proposed), _) => reference_points(&proposed.reference),
        (None, Some(line)) => line.ends.to_vec(),
        (None, None) => return,
    };
    let mut points: Vec<Pos2> = points
        .into_iter()
        .map(|p| placement.to_screen(open.place_in_shown(crate::domain::Mark::steadied(p))))
        .collect();
    if points.len() == 4 {
        points.push(points[0]);
    }
    let edge = Stroke::new(3.5, Color32::from_black_alpha(150));
    let ink = Stroke::new(1.6 * view.colours().stroke, Color32::WHITE);
    for shape in egui::Shape::dashed_line(&points, edge, 7.0, 5.0) {
        painter.add(shape);
    }
    for shape in egui::Shape::dashed_line(&points, ink, 7.0, 5.0) {
        painter.add(shape);
    }
}

fn draw_references(view: &View, painter: &Painter, placement: Placement) {
    let Some(open) = &view.model.open else { return };
    for (object, reference) in open.setup.references.iter().enumerate() {
        let mut points: Vec<Pos2> = (0..reference_points(reference).len())
            .filter_map(|point| view.model.mark(MarkName::Reference { object, point }))
            .map(|placed| placement.to_screen(open.place_in_shown(placed.mark)))
            .collect();
        let look = overlay_look(view.colours());
        match &reference.kind {
            ReferenceKind::Sheet { .. } | ReferenceKind::FourPoints { .. } if points.len() == 4 => {
                points.push(points[0]);
                double_edge(painter, points.clone(), &look);
            }
            ReferenceKind::LinePair { .. } if points.len() == 4 => {
                double_edge(painter, points[..2].to_vec(), &look);
                double_edge(painter, points[2..].to_vec(), &look);
            }
            _ => double_edge(painter, points.clone(), &look),
        }
        if matches!(reference.kind, ReferenceKind::FourPoints { .. }) {
            numbered(painter, &points[..points.len().min(4)]);
        }
        if let Some(at) = lowest(&points) {
            carried_label(view, painter, at);
        }
    }
}

/// Each point's number beside it, as the lengths between them are named.
fn numbered(painter: &Painter, points: &[Pos2]) {
    let font = TextStyle::Small.resolve(&painter.ctx().global_style());
    for (i, at) in points.iter().enumerate() {
        let text = (i + 1).to_string();
        ground_ruler::shadowed(painter, *at + vec2(7.0, -5.0), Align2::LEFT_BOTTOM, &text, &font);
    }
}

/// Under what belongs to a set-up that was made in another recording: which one.
fn carried_label(view: &View, painter: &Painter, at: Pos2) {
    let Some(open) = &view.model.open else { return };
    let Some(from) = &open.standing.carried_from else { return };
    let font = TextStyle::Small.resolve(&painter.ctx().global_style());
    let text = match open.view_doubt() {
        Some(ViewDoubt::Differs(_)) => format!("carried over from {from}, but the view differs"),
        Some(ViewDoubt::NotCompared(_)) => format!("carried over from {from}, not compared"),
        None => format!("carried over from {from}"),
    };
    // All of it is read, wherever the thing lies.
    let size = painter.layout_no_wrap(text.clone(), font.clone(), Color32::WHITE).size();
    let seen = painter.clip_rect().shrink(4.0);
    let most = (seen.right() - size.x).max(seen.left());
    let left = (at.x - size.x / 2.0).clamp(seen.left(), most);
    let top = (at.y + 6.0).min(seen.bottom() - size.y);
    ground_ruler::shadowed(painter, pos2(left, top), Align2::LEFT_TOP, &text, &font);
}

/// The edges by which the lens is found, while they are looked at.
fn draw_edges(view: &View, painter: &Painter, placement: Placement) {
    let looked_at =
        matches!(view.model.tool, Tool::Edge(_)) || view.model.sheet == Some(Sheet::Lens);
    let Some(open) = view.model.open.as_ref().filter(|_| looked_at) else { return };
    for edge in &open.setup.straight_edges {
        let points = edge.iter().map(|m| placement.to_screen(open.place_in_shown(*m))).collect();
        double_edge(painter, points, &overlay_look(view.colours()));
    }
}

fn lowest(points: &[Pos2]) -> Option<Pos2> {
    points.iter().copied().max_by(|a, b| a.y.total_cmp(&b.y))
}

/// The points of a reference object, or of the target line, so far.
fn draw_draft(view: &View, painter: &Painter, placement: Placement) {
    let Some(open) = &view.model.open else { return };
    let marks: Vec<crate::domain::Mark> = match &view.model.tool {
        Tool::Reference(draft) => draft
            .points
            .iter()
            .map(|point| crate::domain::Mark::read_in(*point, draft.frame))
            .collect(),
        Tool::TargetLine(points) | Tool::Edge(points) => points.clone(),
        _ => return,
    };
    let look = MarkLook { ink: view.colours().accent, ..overlay_look(view.colours()) };
    let look = MarkLook { edge: Color32::WHITE, ..look };
    let points: Vec<Pos2> =
        marks.iter().map(|mark| placement.to_screen(open.place_in_shown(*mark))).collect();
    for point in &points {
        draw_mark(painter, MarkName::Reference { object: 0, point: 0 }, *point, &look);
    }
    if matches!(&view.model.tool, Tool::Reference(draft) if draft.what.has_numbers()) {
        numbered(painter, &points);
    }
    if points.len() > 1 {
        double_edge(painter, points, &look);
    }
}

fn draw_target_line(view: &View, painter: &Painter, placement: Placement) {
    let Some(open) = &view.model.open else { return };
    let ends: Vec<Pos2> = (0..2)
        .filter_map(|i| view.model.mark(MarkName::TargetLine(i)))
        .map(|placed| placement.to_screen(open.place_in_shown(placed.mark)))
        .collect();
    if ends.len() == 2 {
        if let Some(at) = lowest(&ends).filter(|_| open.setup.references.is_empty()) {
            carried_label(view, painter, at);
        }
        double_edge(painter, ends, &overlay_look(view.colours()));
    }
}

/// Club-head positions around the strike; the one of the frame shown is filled.
fn draw_club_head(view: &View, painter: &Painter, placement: Placement) {
    let Some(open) = &view.model.open else { return };
    let Some(found) = view.model.current_swing().and_then(|s| s.found.as_ref()) else { return };
    let edge = Stroke::new(3.0, Color32::from_black_alpha(150));
    let marked = view.model.current_swing().map(|swing| &swing.marks.club_head);
    let by_program =
        found.club_head.iter().filter(|s| marked.is_none_or(|m| !m.contains_key(&s.frame)));
    for sighting in by_program {
        let mark = crate::domain::Mark::steadied(sighting.point);
        let at = placement.to_screen(open.place_in_shown(mark));
        painter.circle_stroke(at, 3.0, edge);
        if sighting.frame == open.frame {
            painter.circle_filled(at, 3.5, Color32::WHITE);
        } else {
            painter.circle_stroke(at, 3.0, Stroke::new(1.2, Color32::WHITE));
        }
    }
}
