//! One row of the panel: a mark's sign, its name, what is said aside and its key.

use std::sync::Arc;

use eframe::egui::{
    self, Color32, Galley, Pos2, Rect, Stroke, TextStyle, Ui, accesskit::Role, pos2, vec2,
};

use super::button_room;
use crate::app::model::MarkName;
use crate::app::theme::Colours;
use crate::app::view::View;
use crate::app::view::key_cap::KeyCap;
use crate::app::view::shapes::{MarkLook, draw_mark};

/// What a row says.
pub(super) struct Row {
    pub(super) title: String,
    pub(super) aside: String,
    pub(super) key: &'static str,
    pub(super) active: bool,
    pub(super) doubtful: bool,
    pub(super) placed: bool,
}

/// Shows a row; `name`: whose sign stands before it, `None` for the ground, which is answered and
/// not placed.
pub(super) fn row_ui(
    view: &View,
    ui: &mut Ui,
    name: Option<MarkName>,
    row: &Row,
) -> egui::Response {
    let colours = *view.colours();
    let height = ui.spacing().interact_size.y * 0.86;
    let aside = aside_of(ui, row, colours.text, colours.quiet);
    let below = if aside.beside { 0.0 } else { aside.galley.size().y };
    let (rect, response) = button_room(ui, &row.title, height + below);
    let label =
        format!("{}, {}", row.title, if row.aside.is_empty() { "not placed" } else { &row.aside });
    response.widget_info(|| egui::WidgetInfo::selected(Role::Button, true, row.active, &label));
    let painter = ui.painter_at(rect.expand(4.0));
    let back = rect.expand2(vec2(6.0, -1.0));
    if row.active {
        painter.rect_filled(back, 6.0, colours.accent.gamma_multiply(0.14));
    } else if response.hovered() || response.has_focus() {
        painter.rect_filled(back, 6.0, colours.raised);
    }
    let y = rect.top() + height / 2.0;
    draw_sign(&painter, name, pos2(rect.left() + 10.0, y), row.placed, &colours);
    row_text(&painter, rect, y, aside, &colours);
    if row.doubtful {
        let at = pos2(rect.left() + 10.0 + 14.0, y - 7.0);
        painter.circle_filled(at, 3.0, colours.accent);
    }
    if name.is_none() {
        return response;
    }
    let hint = if row.placed { "Select; click again to place it anew" } else { "Place it" };
    let key = if row.key.is_empty() { String::new() } else { format!(" ({})", row.key) };
    response.on_hover_text(format!("{hint}{key}"))
}

/// A mark's sign, or the ground with a dip in it.
fn draw_sign(
    painter: &egui::Painter,
    name: Option<MarkName>,
    at: Pos2,
    placed: bool,
    colours: &Colours,
) {
    let look = MarkLook {
        ink: if placed { colours.text } else { colours.quiet },
        edge: Color32::TRANSPARENT,
        size: 6.5,
        width: 1.5 * colours.stroke,
        dashed: false,
        toward_target: 1.0,
    };
    let Some(name) = name else {
        let dip = [[-7.0, -1.5], [-3.5, -1.5], [-1.5, 2.5], [1.5, 2.5], [3.5, -1.5], [7.0, -1.5]];
        let line = dip.map(|[x, y]| at + vec2(x, y)).to_vec();
        painter.add(egui::Shape::line(line, Stroke::new(look.width, look.ink)));
        return;
    };
    draw_mark(painter, name, at, &look);
}

/// A row's words, laid out: what is said aside stands below the title where it would be cut off.
struct RowWords {
    title: Arc<Galley>,
    key: Option<KeyCap>,
    /// Where what is said aside ends, from the row's right edge.
    end: f32,
    galley: Arc<Galley>,
    beside: bool,
}

/// From a row's left edge to its title, in points.
const TITLE: f32 = 32.0;

fn aside_of(ui: &Ui, row: &Row, ink: Color32, quiet: Color32) -> RowWords {
    let body = TextStyle::Body.resolve(ui.style());
    let small = TextStyle::Small.resolve(ui.style());
    let painter = ui.painter();
    let title = painter.layout_no_wrap(row.title.clone(), body, ink);
    // A row without a key ends where the others do.
    let column = KeyCap::new(ui, if row.key.is_empty() { "0" } else { row.key }).size().x;
    let key = (!row.key.is_empty()).then(|| KeyCap::new(ui, row.key));
    let end = column + 8.0;
    let aside = painter.layout_no_wrap(row.aside.clone(), small.clone(), quiet);
    let all = ui.available_width();
    let room = all - TITLE - title.size().x - 12.0 - end;
    let beside = aside.size().x <= room;
    let galley = if beside {
        aside
    } else {
        painter.layout(row.aside.clone(), small, quiet, all - TITLE - 2.0)
    };
    RowWords { title, key, end, galley, beside }
}

fn row_text(painter: &egui::Painter, rect: Rect, y: f32, words: RowWords, colours: &Colours) {
    let RowWords { title, key, end, galley, beside } = words;
    let quiet = colours.quiet;
    let centred = |x: f32, galley: &Galley| pos2(x, y - galley.size().y / 2.0);
    let left = rect.left() + TITLE;
    let at = if beside {
        centred(rect.right() - end - galley.size().x, &galley)
    } else {
        pos2(left, rect.bottom() - galley.size().y - 2.0)
    };
    painter.galley(centred(left, &title), title, quiet);
    painter.galley(at, galley, quiet);
    if let Some(key) = key {
        let size = key.size();
        key.paint(painter, pos2(rect.right() - size.x, y - size.y / 2.0), colours);
    }
}
