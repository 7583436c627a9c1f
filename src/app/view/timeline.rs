//! The strip under the picture: film, sound, swings, and the frame shown; and playing.

use eframe::egui::{
    self, Align2, Color32, CursorIcon, Key, Painter, Pos2, Rect, Response, Sense, Shape, Stroke,
    TextStyle, Ui, accesskit::Role, pos2, vec2,
};

use super::{View, edged};
use crate::app::keys::{self, Act};
use crate::app::message::{PictureMessage, StripMessage};
use crate::app::model::OpenRecording;
use crate::app::strip::SPEEDS;
use crate::domain::{FrameIndex, Seconds, Timeline};

/// Least height of the strip, in points.
const HEIGHT: f32 = 84.0;
/// Height of a button beside it.
const BUTTON: f32 = 30.0;
/// Part of the strip that the film takes; the rest is sound.
const FILM: f32 = 0.6;
/// Height of the bar that tells which stretch is shown.
const BAR: f32 = 4.0;

/// Height of the strip: with the frame's number and time below the buttons in any type.
pub fn height(ui: &Ui) -> f32 {
    let words = 2.0 * ui.text_style_height(&TextStyle::Small);
    let spacing = ui.spacing();
    (BUTTON.max(spacing.interact_size.y) + spacing.item_spacing.y + words + 14.0).max(HEIGHT)
}

/// Shows the buttons, the strip and the frame's number and time.
pub fn timeline_ui(view: &mut View, ui: &mut Ui) {
    let Some(open) = &view.model.open else { return };
    let Some(timeline) = open.timeline.clone() else { return };
    let (last, frame) = (open.last_frame(), open.frame);
    ui.horizontal_centered(|ui| {
        ui.allocate_ui(vec2(132.0, ui.available_height() - 8.0), |ui| {
            ui.vertical(|ui| {
                ui.horizontal(|ui| {
                    ui.spacing_mut().item_spacing.x = 3.0;
                    step_button(view, ui, "‹", "Previous frame", Act::BackFrame, -1);
                    step_button(view, ui, "›", "Next frame", Act::NextFrame, 1);
                    play_button(view, ui);
                    speed_choice(view, ui);
                });
                let time = timeline.time_of(frame).0;
                let numbers = format!("Frame {} of {last}\n{time:.3} s", frame.0);
                ui.label(egui::RichText::new(numbers).small());
            });
        });
        strip_ui(view, ui, &timeline);
    });
    if view.model.play.running {
        let passed = f64::from(ui.input(|i| i.unstable_dt));
        view.send(StripMessage::Tick(passed));
        ui.ctx().request_repaint();
    }
}

fn step_button(view: &mut View, ui: &mut Ui, sign: &str, name: &str, act: Act, by: i64) {
    let button = egui::Button::new(egui::RichText::new(sign).text_style(super::strong()));
    let response = ui.add_sized([26.0, BUTTON], button);
    response.widget_info(|| egui::WidgetInfo::labeled(Role::Button, true, name));
    if response.on_hover_text(keys::hint(name, act)).clicked() {
        view.send(PictureMessage::StepFrame(by));
    }
}

fn play_button(view: &mut View, ui: &mut Ui) {
    let running = view.model.play.running;
    let name = if running { "Stop playing" } else { "Play" };
    let response = ui.add_sized([26.0, BUTTON], egui::Button::new(""));
    response.widget_info(|| egui::WidgetInfo::labeled(Role::Button, true, name));
    let (at, ink) = (response.rect.center(), view.colours().text);
    if running {
        for side in [-3.5, 3.5] {
            let bar = Rect::from_center_size(at + vec2(side, 0.0), vec2(3.0, 12.0));
            ui.painter().rect_filled(bar, 1.0, ink);
        }
    } else {
        let corners = [vec2(-4.0, -6.5), vec2(7.0, 0.0), vec2(-4.0, 6.5)];
        let corners = corners.map(|by| at + by).to_vec();
        ui.painter().add(Shape::convex_polygon(corners, ink, Stroke::NONE));
    }
    if response.on_hover_text(keys::hint(name, Act::Play)).clicked() {
        view.send(StripMessage::Play(!running));
    }
}

fn speed_words(speed: f64) -> String {
    if speed == 1.0 { "1×".into() } else { format!("1/{}", (1.0 / speed).round()) }
}

fn speed_choice(view: &mut View, ui: &mut Ui) {
    let play = view.model.play;
    let text = egui::RichText::new(speed_words(play.speed)).small();
    let menu = egui::containers::menu::MenuButton::from_button(
        egui::Button::new(text).min_size(vec2(36.0, BUTTON)),
    );
    let (response, _) = menu.ui(ui, |ui| {
        for speed in SPEEDS {
            let words = match speed {
                1.0 => "Real time".to_owned(),
                slower => format!("{} of real time", speed_words(slower)),
            };
            if edged(ui, |ui| ui.radio(play.speed == speed, words)).clicked() {
                view.send(StripMessage::SetSpeed(speed));
            }
        }
        ui.separator();
        let mut looped = play.looped;
        if edged(ui, |ui| ui.checkbox(&mut looped, "Around the strike, again and again")).changed()
        {
            view.send(StripMessage::SetLooped(looped));
        }
    });
    response.widget_info(|| egui::WidgetInfo::labeled(Role::Button, true, "Speed of playing"));
    let [slower, faster] = [Act::Slower, Act::Faster].map(keys::shown);
    response.on_hover_text(format!("Speed of playing ({slower} slower, {faster} faster)"));
}

/// Between times and places on the strip.
#[derive(Clone, Copy)]
struct Place {
    rect: Rect,
    from: Seconds,
    to: Seconds,
}

impl Place {
    fn x(self, time: Seconds) -> f32 {
        let part = (time - self.from).0 / (self.to - self.from).0.max(1e-9);
        self.rect.left() + self.rect.width() * part as f32
    }

    fn time(self, x: f32) -> Seconds {
        let part = f64::from((x - self.rect.left()) / self.rect.width().max(1.0));
        self.from + (self.to - self.from) * part
    }
}

fn strip_ui(view: &mut View, ui: &mut Ui, timeline: &Timeline) {
    let size = vec2(ui.available_width() - 4.0, ui.available_height() - 10.0);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
    let Some(open) = &view.model.open else { return };
    let frame = open.frame;
    let (from, to) = open.strip.span();
    let place = Place { rect, from, to };
    response.widget_info(|| egui::WidgetInfo::slider(true, frame.0 as f64, "Frame"));
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 4.0, view.colours().ground);
    let (film_rect, sound_rect) = rect.split_top_bottom_at_fraction(FILM);
    film(view, ui, &painter, film_rect, timeline);
    sound(view, &painter, Place { rect: sound_rect, ..place });
    swings(view, &painter, place);
    playhead(&painter, place, timeline, frame);
    stretch_bar(view, &painter, place);
    painter.rect_stroke(
        rect,
        4.0,
        Stroke::new(view.colours().stroke, view.colours().line),
        egui::StrokeKind::Inside,
    );
    move_about(view, ui, &response, place, timeline);
    response.on_hover_cursor(CursorIcon::ResizeHorizontal);
}

/// Dragging shows frames, the wheel zooms about the pointer or slides, arrows step.
fn move_about(view: &mut View, ui: &Ui, response: &Response, place: Place, timeline: &Timeline) {
    let Some(open) = &view.model.open else { return };
    let frame = open.frame;
    if (response.clicked() || response.dragged())
        && let Some(pointer) = response.interact_pointer_pos()
    {
        let to = timeline.nearest_frame(place.time(pointer.x));
        if to != frame {
            view.send(PictureMessage::ShowFrame(to));
        }
    }
    if let Some(pointer) = response.hover_pos() {
        let (scroll, pinch) = ui.input(|i| (i.smooth_scroll_delta(), i.zoom_delta()));
        let factor = f64::from(pinch) * (f64::from(scroll.y) * 0.004).exp();
        if factor != 1.0 {
            view.send(StripMessage::Zoom { about: place.time(pointer.x), factor });
        }
        if scroll.x != 0.0 {
            let by = place.time(place.rect.left()) - place.time(place.rect.left() + scroll.x);
            view.send(StripMessage::Slide(by));
        }
    }
    if response.has_focus() {
        let by = ui.input(|i| {
            i.num_presses(Key::ArrowRight) as i64 - i.num_presses(Key::ArrowLeft) as i64
        });
        if by != 0 {
            view.send(PictureMessage::StepFrame(by));
        }
    }
}

fn playhead(painter: &Painter, place: Place, timeline: &Timeline, frame: FrameIndex) {
    let x = place.x(timeline.time_of(frame));
    let range = place.rect.y_range();
    painter.vline(x, range, Stroke::new(4.0, Color32::from_black_alpha(170)));
    painter.vline(x, range, Stroke::new(2.0, Color32::WHITE));
}

/// While only a stretch is shown: which.
fn stretch_bar(view: &View, painter: &Painter, place: Place) {
    let Some(strip) = view.model.open.as_ref().map(|open| &open.strip) else { return };
    if !strip.is_zoomed() {
        return;
    }
    let foot = Rect::from_min_max(
        pos2(place.rect.left(), place.rect.bottom() - BAR),
        place.rect.right_bottom(),
    );
    let all = Place { rect: foot, from: Seconds(0.0), to: strip.length() };
    painter.rect_filled(foot, 0.0, Color32::from_black_alpha(120));
    let stretch = Rect::from_x_y_ranges(all.x(place.from)..=all.x(place.to), foot.y_range());
    painter.rect_filled(stretch, 2.0, view.colours().accent);
}

fn film(view: &mut View, ui: &Ui, painter: &Painter, rect: Rect, timeline: &Timeline) {
    let Some(open) = &view.model.open else { return };
    let cells = cells_in(rect, open);
    if cells != open.strip.cells {
        view.send(StripMessage::Cells(cells));
        return;
    }
    let within = open.strip.tolerance();
    let step = rect.width() / cells as f32;
    for (i, frame) in open.strip.cell_frames(timeline).into_iter().enumerate() {
        // Until its own picture is there, one from not too far away.
        let near = open.strip.near(frame, within).or(open.strip.near(frame, 4 * within + 4));
        let Some(picture) = near else { continue };
        let corner = pos2(rect.left() + step * i as f32, rect.top());
        let cell = Rect::from_min_size(corner, vec2(step, rect.height()));
        // The cell shows the middle of the picture at its own proportions.
        let aspect = picture.width as f32 / picture.height as f32;
        let shown = (cell.aspect_ratio() / aspect).clamp(0.05, 1.0);
        let tall = (aspect / cell.aspect_ratio()).clamp(0.05, 1.0);
        let uv = Rect::from_center_size(pos2(0.5, 0.5), vec2(shown, tall));
        let texture = view.pictures.texture(ui.ctx(), picture, Default::default());
        painter.image(texture, cell, uv, Color32::from_gray(200));
    }
}

/// How many small pictures fit at their own proportions.
fn cells_in(rect: Rect, open: &OpenRecording) -> usize {
    let aspect = open.size.width as f32 / open.size.height.max(1) as f32;
    let width = (rect.height() * aspect).max(32.0);
    ((rect.width() / width).round() as usize).clamp(1, 80)
}

/// The sound's least and greatest sample in each column, as parts of its loudest; drawn by the
/// root, so that quiet sounds are seen beside the strike's.
fn sound(view: &View, painter: &Painter, place: Place) {
    let Some(envelope) = view.model.open.as_ref().and_then(|o| o.strip.sound.clone()) else {
        return;
    };
    let (rect, loudest) = (place.rect, envelope.loudest().max(1e-6));
    let half = rect.height() * 0.46;
    let ink = view.colours().text.gamma_multiply(0.75);
    let mut x = rect.left().floor();
    while x < rect.right() {
        if let Some((least, most)) = envelope.between(place.time(x), place.time(x + 1.0)) {
            let reach = |level: f32| (level.max(0.0) / loudest).sqrt() * half;
            let top = pos2(x, rect.center().y - reach(most).max(0.5));
            let foot = pos2(x + 1.0, rect.center().y + reach(-least).max(0.5));
            painter.rect_filled(Rect::from_min_max(top, foot), 0.0, ink);
        }
        x += 1.0;
    }
}

/// A flag at each strike, with the swing's number.
fn swings(view: &View, painter: &Painter, place: Place) {
    let Some(open) = &view.model.open else { return };
    let font = TextStyle::Small.resolve(&painter.ctx().global_style());
    for (i, swing) in view.model.swings.iter().enumerate() {
        if swing.recording != Some(open.id) {
            continue;
        }
        let time = swing.result.as_ref().and_then(|r| r.strike_time);
        let time = time.or(swing.found.as_ref().map(|f| f.strike_time.value));
        let Some(time) = time.or(swing.marks.strike_time) else { continue };
        let x = place.x(time);
        let current = Some(swing.id) == view.model.current;
        let (back, ink) = if current {
            (view.colours().accent, view.colours().on_accent)
        } else {
            (view.colours().panel, view.colours().text)
        };
        painter.vline(x, place.rect.y_range(), Stroke::new(2.0, back));
        let galley = painter.layout_no_wrap((i + 1).to_string(), font.clone(), ink);
        let corner: Pos2 = pos2(x, place.rect.top());
        let flag = Align2::LEFT_TOP.anchor_size(corner, galley.size() + vec2(8.0, 2.0));
        painter.rect_filled(flag, 2.0, back);
        painter.galley(flag.min + vec2(4.0, 1.0), galley, ink);
    }
}
