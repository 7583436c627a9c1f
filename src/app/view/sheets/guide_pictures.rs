//! What the guide's pages say, drawn: one picture a page, all of one height.

use eframe::egui::{Align2, Pos2, Rect, Shape, Stroke, StrokeKind, Ui, pos2, vec2};

use crate::app::model::GUIDE_PAGES;
use crate::app::view::View;
use crate::app::view::pen::Pen;
use crate::domain::LengthUnit;

/// Height of each picture, in points.
const HEIGHT: f32 = 132.0;

/// What each picture shows, for who does not see it.
const SAYS: [&str; GUIDE_PAGES] = [
    "A ball at zero on a ruler, and a divot that begins ahead of it",
    "From above: golfer, ball, sheet and stick, and the camera in front of them",
    "The club head's places near the ball at 30, 60, 120 and 240 frames a second",
    "A recording goes from the phone into the window, where its swings stand in rows",
    "A mark under the crosshair, and the keys that move it and accept it",
];

/// Draws a page's picture.
pub fn picture_ui(view: &View, ui: &mut Ui, page: usize) {
    let size = vec2(ui.available_width(), HEIGHT);
    let pen = Pen::new(view, ui, size, SAYS[page.min(GUIDE_PAGES - 1)]);
    match page {
        0 => ruler(&pen),
        1 => camera(&pen, view.model.settings.unit),
        2 => frame_rates(&pen),
        3 => from_the_phone(&pen),
        _ => confirm(&pen),
    }
}

/// The signature picture with one divot on it.
fn ruler(pen: &Pen) {
    let (zero, y, mm) = (pen.rect.width() * 0.36, 70.0, 1.45);
    let x = |value: f32| zero + value * mm;
    let band = Rect::from_min_max(pen.at(x(-75.0), y), pen.at(x(175.0), y + 7.0));
    pen.painter.rect_filled(band, 0.0, pen.colours.turf);
    for value in [-50.0, 0.0, 50.0, 100.0, 150.0_f32] {
        pen.line(pen.at(x(value), y), pen.at(x(value), y + 7.0));
        let text = format!("{:.0}", value.abs());
        pen.words(pen.at(x(value), y + 17.0), Align2::CENTER_CENTER, &text);
    }
    pen.ball(pen.at(x(0.0), y - 21.34 * mm), 21.34 * mm);
    let bar = Rect::from_min_max(pen.at(x(18.0), y + 30.0), pen.at(x(140.0), y + 42.0));
    pen.painter.rect_filled(bar, 2.0, pen.colours.accent);
    let start = bar.left_center();
    pen.painter.hline(start.x - 9.0..=start.x + 9.0, start.y, pen.thin());
    for end in [-9.0, 9.0] {
        pen.painter.vline(start.x + end, start.y - 4.0..=start.y + 4.0, pen.thin());
    }
    pen.words(start - vec2(16.0, 0.0), Align2::RIGHT_CENTER, "divot start, with its ±");
    let target = pen.at(x(175.0), y - 12.0);
    pen.words(target - vec2(32.0, 0.0), Align2::RIGHT_CENTER, "target");
    pen.arrow(target - vec2(26.0, 0.0), target);
}

/// The set-up from above, the camera below.
fn camera(pen: &Pen, unit: LengthUnit) {
    let (middle, ground) = (pen.rect.width() * 0.42, 46.0);
    for side in [-22.0, 22.0] {
        let foot = Rect::from_center_size(pen.at(middle + side, 18.0), vec2(11.0, 24.0));
        pen.outline(foot, 5);
    }
    let stick = [pen.at(middle + 95.0, 17.0), pen.at(middle + 190.0, 17.0)];
    pen.painter.line_segment(stick, Stroke::new(3.0, pen.colours.accent));
    pen.words(stick[1] + vec2(8.0, 0.0), Align2::LEFT_CENTER, "stick");
    pen.ball(pen.at(middle, ground), 5.0);
    pen.words(pen.at(middle - 12.0, ground), Align2::RIGHT_CENTER, "ball");
    pen.arrow(pen.at(middle + 14.0, ground), pen.at(middle + 215.0, ground));
    pen.words(pen.at(middle + 222.0, ground), Align2::LEFT_CENTER, "target");
    let sheet = Rect::from_center_size(pen.at(middle + 92.0, ground + 24.0), vec2(29.0, 20.0));
    pen.painter.rect(
        sheet,
        0.0,
        eframe::egui::Color32::WHITE,
        Stroke::new(1.5 * pen.colours.stroke, pen.colours.accent),
        StrokeKind::Middle,
    );
    pen.words(sheet.right_center() + vec2(8.0, 0.0), Align2::LEFT_CENTER, "A4 sheet");
    pen.length(pen.at(middle, ground + 9.0), pen.at(middle, 108.0), unit.away());
    let phone = Rect::from_center_size(pen.at(middle, 118.0), vec2(30.0, 9.0));
    pen.outline(phone, 2);
    pen.words(phone.left_center() - vec2(8.0, 0.0), Align2::RIGHT_CENTER, "phone");
}

/// Where the head is caught, for a head of 38 m/s: farther apart the fewer frames a second.
fn frame_rates(pen: &Pen) {
    let (left, right) = (112.0, pen.rect.width() - 20.0);
    let ball = (left + right) / 2.0;
    // The stretch of two metres about the ball fills the width.
    let point = |metres: f32| ball + metres * (right - left) / 2.0;
    for (row, rate) in [30.0, 60.0, 120.0, 240.0_f32].into_iter().enumerate() {
        let y = 16.0 + row as f32 * 29.0;
        let text = format!("{rate:.0} a second");
        pen.words(pen.at(16.0, y), Align2::LEFT_CENTER, &text);
        pen.painter.hline(
            pen.at(left, y).x..=pen.at(right, y).x,
            pen.at(0.0, y).y + 8.0,
            Stroke::new(pen.colours.stroke, pen.colours.line),
        );
        let step = 38.0 / rate;
        let first = -(1.0 / step).floor() - 1.0;
        for i in 0..20 {
            let metres = (first + i as f32 + 0.4) * step;
            if metres.abs() <= 1.0 {
                // An arc of 1.6 m about the hands, from the side: half of the square over it.
                let height = metres * metres / 3.2 * 20.0;
                pen.painter.circle_filled(
                    pen.at(point(metres), y + 6.0 - height),
                    3.0,
                    pen.colours.accent,
                );
            }
        }
        pen.ball(pen.at(ball, y + 5.0), 3.5);
    }
}

fn from_the_phone(pen: &Pen) {
    let middle = pen.rect.width() / 2.0;
    let phone = Rect::from_center_size(pen.at(middle - 165.0, 60.0), vec2(44.0, 84.0));
    pen.outline(phone, 7);
    let screen = phone.shrink2(vec2(5.0, 11.0));
    pen.painter.rect_filled(screen, 1.0, pen.colours.turf);
    pen.ball(screen.center() + vec2(0.0, 16.0), 4.0);
    pen.words(phone.center_bottom() + vec2(0.0, 14.0), Align2::CENTER_CENTER, "as it was filmed");
    pen.arrow(phone.right_center() + vec2(18.0, 0.0), phone.right_center() + vec2(98.0, 0.0));
    let window = Rect::from_center_size(pen.at(middle + 100.0, 60.0), vec2(220.0, 84.0));
    pen.outline(window, 4);
    let picture = Rect::from_min_size(window.min + vec2(8.0, 8.0), vec2(130.0, 68.0));
    pen.painter.rect_filled(picture, 1.0, pen.colours.turf);
    pen.ball(picture.center() + vec2(0.0, 18.0), 4.0);
    for row in 0..4 {
        let y = window.top() + 16.0 + row as f32 * 16.0;
        let from = 4.0 + (row * 7 % 12) as f32;
        let bar = Rect::from_min_size(pos2(picture.right() + 12.0 + from, y), vec2(44.0, 7.0));
        let ink = if row == 0 { pen.colours.accent } else { pen.colours.quiet };
        pen.painter.rect_filled(bar, 1.0, ink);
    }
    let below = window.center_bottom() + vec2(0.0, 14.0);
    pen.words(below, Align2::CENTER_CENTER, "a row for each swing it finds");
}

fn confirm(pen: &Pen) {
    let middle = pen.rect.width() / 2.0;
    let loupe = Rect::from_center_size(pen.at(middle - 130.0, 66.0), vec2(150.0, 100.0));
    pen.painter.rect(loupe, 4.0, pen.colours.turf, pen.thin(), StrokeKind::Middle);
    pen.ball(loupe.center() - vec2(34.0, 12.0), 17.0);
    let divot = Rect::from_min_size(loupe.center() - vec2(0.0, 4.0), vec2(62.0, 14.0));
    pen.painter.rect_filled(divot, 3.0, pen.colours.quiet);
    let cross = Stroke::new(1.5 * pen.colours.stroke, pen.colours.accent);
    let at = divot.left_center();
    pen.painter.hline(at.x - 26.0..=at.x + 26.0, at.y, cross);
    pen.painter.vline(at.x, at.y - 26.0..=at.y + 26.0, cross);
    let key = |at: Pos2, width: f32, text: &str| {
        pen.outline(Rect::from_center_size(at, vec2(width, 22.0)), 4);
        pen.words(at, Align2::CENTER_CENTER, text);
    };
    let rows = [("Enter", "right: on to the next"), ("Hold B", "before and after")];
    for (row, (name, does)) in rows.into_iter().enumerate() {
        let at = pen.at(middle + 5.0, 30.0 + row as f32 * 72.0);
        key(at, 56.0, name);
        pen.words(at + vec2(38.0, 0.0), Align2::LEFT_CENTER, does);
    }
    let at = pen.at(middle + 5.0, 66.0);
    for (side, way) in [(-15.0, -1.0), (15.0, 1.0_f32)] {
        let middle = at + vec2(side, 0.0);
        pen.outline(Rect::from_center_size(middle, vec2(26.0, 22.0)), 4);
        let head = [vec2(5.0 * way, 0.0), vec2(-4.0 * way, 5.0), vec2(-4.0 * way, -5.0)];
        let points = head.map(|d| middle + d).to_vec();
        pen.painter.add(Shape::convex_polygon(points, pen.colours.text, Stroke::NONE));
    }
    pen.words(at + vec2(38.0, 0.0), Align2::LEFT_CENTER, "a tenth of a pixel");
}
