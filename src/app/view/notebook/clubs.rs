//! Club by club, ball position against low point, and the season.

use eframe::egui::{
    self, Align2, Pos2, Rect, RichText, Sense, Stroke, Ui, accesskit::Role, pos2, vec2,
};

use super::{
    WHERE_FROM, axis_words, beside, chart_style, compact, doubt_link, drawn, heading,
    quantity_tabs, reading_ui, small,
};
use crate::app::keys::{self, Act};
use crate::app::message::ScreenMessage;
use crate::app::model::Sheet;
use crate::app::notebook::{ClubsMessage, NotebookMessage, Shown};
use crate::app::view::{View, pen::Pen, strong};
use crate::domain::{Club, MarkWord, Quantity, Surface};
use crate::report::charts::{Scatter, SeasonDot, scatter, season};
use crate::stats::{OffsetSummary, Share};
use crate::workflow::{
    BlockNumber, ClubsStudy, SeasonStudy, Span, club_words, day_words, mean_words, sd_words,
    stance_words, swings_words, value_words,
};

/// Shows the chapter.
pub fn clubs_ui(view: &mut View, ui: &mut Ui) {
    span_ui(view, ui);
    ui.add_space(8.0);
    let Some(study) = view.model.notebook.clubs.found.clone() else {
        reading_ui(view, ui, "Reading the clubs…");
        return;
    };
    if study.rows.is_empty() {
        ui.label("No swings yet: drop a recording on the window, and its clubs are here.");
        return;
    }
    compact(ui, |ui| table_ui(view, ui, &study));
    gaps_ui(view, ui, &study);
    ui.add_space(6.0);
    let high = chart_height(ui);
    let half = (ui.available_width() - 32.0) / 2.0;
    let season = |view: &mut View, ui: &mut Ui| season_ui(view, ui, &study, high);
    beside(view, ui, half, season, |view, ui| stance_ui(view, ui, &study, high));
}

/// The charts fill what the table leaves of the page, as far as that looks well; what stands
/// above and below them takes so many rows of text.
fn chart_height(ui: &Ui) -> f64 {
    const ROWS: f32 = 8.5;
    let above = ui.cursor().top() - ui.min_rect().top();
    let rows = ROWS * ui.text_style_height(&egui::TextStyle::Body);
    f64::from(ui.clip_rect().height() - above - rows).clamp(230.0, 520.0)
}

fn send(view: &mut View, message: ClubsMessage) {
    view.send(NotebookMessage::Clubs(message));
}

fn span_ui(view: &mut View, ui: &mut Ui) {
    let span = view.model.notebook.clubs.span;
    let here = view.model.people.session;
    ui.horizontal(|ui| {
        ui.label(RichText::new("Club by club").text_style(strong()));
        ui.add_space(12.0);
        if ui.selectable_label(span == Span::All, "All sessions").clicked() {
            send(view, ClubsMessage::Look(Span::All));
        }
        let Some(here) = here else { return };
        let outline = view.model.notebook.outline.as_ref();
        let day = outline.and_then(|o| o.session(here)).map(|s| day_words(s.session.date));
        let text = day.unwrap_or_else(|| "This session".into());
        if ui.selectable_label(span == Span::Session(here), text).clicked() {
            send(view, ClubsMessage::Look(Span::Session(here)));
        }
    });
}

fn table_ui(view: &mut View, ui: &mut Ui, study: &ClubsStudy) {
    let unit = view.model.settings.unit;
    let start = mark_of(study).start_title();
    egui::Grid::new("clubs").num_columns(8).spacing(vec2(22.0, 7.0)).show(ui, |ui| {
        for head in [
            "Club",
            "Swings",
            start,
            "Spread",
            "Low point",
            "Spread",
            "Ball first",
            "Low point in window",
        ] {
            ui.weak(head);
        }
        ui.end_row();
        for (place, row) in study.rows.iter().enumerate() {
            ui.label(RichText::new(row.name()).text_style(strong()));
            ui.label(row.summary.n.to_string());
            for quantity in [Quantity::DivotStart, Quantity::LowPoint] {
                let told = row.summary.offset(quantity);
                match told {
                    Some(of) if of.moments.n > 2 => {
                        let which = Shown::Club(place, BlockNumber::Mean);
                        doubt_link(view, ui, &mean_words(of, unit), which, quantity);
                    }
                    // Two swings have a mean, but an interval that says nothing.
                    of => {
                        let value = |o: &OffsetSummary| value_words(quantity, o.moments.mean, unit);
                        ui.label(of.map_or("–".into(), value));
                    }
                }
                // Two swings have a spread, but nothing to believe.
                let enough = told.filter(|o| o.moments.n > 2);
                let which = Shown::Club(place, BlockNumber::Spread);
                link_or_dash(view, ui, enough.and_then(|o| sd_words(o, unit)), (which, quantity));
            }
            let shares = [
                (row.summary.ball_first, BlockNumber::BallFirst),
                (row.summary.low_point_in_window, BlockNumber::LowPointInWindow),
            ];
            for (share, number) in shares {
                let which = (Shown::Club(place, number), Quantity::LowPoint);
                link_or_dash(view, ui, share.map(plain), which);
            }
            ui.end_row();
        }
    });
    small(
        view,
        ui,
        "Mean with its 95 % interval; spread as standard deviation with its interval. Strikes and practice swings, turf and mat stand apart.",
    );
}

/// A number that opens its budget; a dash where it is not known.
fn link_or_dash(
    view: &mut View,
    ui: &mut Ui,
    text: Option<String>,
    (which, quantity): (Shown, Quantity),
) {
    match text {
        Some(text) => doubt_link(view, ui, &text, which, quantity),
        None => drop(ui.label("–")),
    }
}

/// What the marks of all clubs together are called.
fn mark_of(study: &ClubsStudy) -> MarkWord {
    MarkWord::of_all(study.rows.iter().map(|row| row.summary.mark))
}

fn plain(share: Share) -> String {
    format!("{} of {}", share.hits, share.of)
}

fn gaps_ui(view: &mut View, ui: &mut Ui, study: &ClubsStudy) {
    if study.gaps.is_empty() {
        return;
    }
    heading(ui, "With a ball against without");
    let unit = view.model.settings.unit;
    for (place, (club, comparison)) in study.gaps.iter().enumerate() {
        let sentence = comparison.sentence(unit);
        ui.add(egui::Label::new(format!("{}: {sentence}", club_words(club.as_ref()))).wrap());
        if let Some(told) = comparison.told() {
            doubt_link(view, ui, WHERE_FROM, Shown::Gap(place), told.quantity);
        }
    }
}

fn season_ui(view: &mut View, ui: &mut Ui, study: &ClubsStudy, high: f64) {
    heading(ui, "Season");
    let page = &view.model.notebook.clubs;
    let (quantity, club, found) = (page.quantity, page.club.clone().flatten(), page.season.clone());
    ui.horizontal_wrapped(|ui| {
        let menu = ui.menu_button(club_or_all(club.as_ref()), |ui| {
            let mut clubs: Vec<Option<Club>> = vec![None];
            for row in study.rows.iter().filter(|row| row.club.is_some()) {
                if !clubs.contains(&row.club) {
                    clubs.push(row.club.clone());
                }
            }
            for one in clubs {
                if ui.selectable_label(one == club, club_or_all(one.as_ref())).clicked() {
                    send(view, ClubsMessage::Club(one));
                    ui.close();
                }
            }
        });
        menu.response.on_hover_text("Strikes with which club");
        if let Some(quantity) = quantity_tabs(ui, quantity, mark_of(study), |_| true) {
            send(view, ClubsMessage::Chart(quantity));
        }
    });
    match found.filter(|s| s.quantity == quantity && s.club == club) {
        Some(season) if season.points.is_empty() => {
            ui.label(format!("No strike has a {} yet.", quantity.words_of(mark_of(study))));
        }
        Some(season) => trend_ui(view, ui, &season, high),
        None => {
            reading_ui(view, ui, "Reading the season…");
        }
    }
}

fn club_or_all(club: Option<&Club>) -> String {
    club.map_or("all clubs".into(), |c| c.0.clone())
}

/// How wide the place is where a click meets a dot, in points.
const DOT: f32 = 22.0;

/// Where one of the season's dots is drawn: a click opens the budget of its mean.
fn dot_ui(view: &mut View, ui: &Ui, (study, place): (&SeasonStudy, usize), at: Pos2) {
    let Some((day, point)) = study.points.get(place) else { return };
    let id = ui.scope_id().with(("season", place));
    let dot = ui.interact(Rect::from_center_size(at, vec2(DOT, DOT)), id, Sense::click());
    let (day, unit) = (day_words(*day), view.model.settings.unit);
    let told = value_words(study.quantity, point.mean.value, unit);
    let name = format!("Mean of {day}, {told}: where its doubt comes from");
    dot.widget_info(|| egui::WidgetInfo::labeled(Role::Button, true, &name));
    let hint = format!("{day}: {told}, over {}", swings_words(point.n));
    let dot = dot.on_hover_cursor(egui::CursorIcon::PointingHand).on_hover_text(hint);
    if dot.clicked() {
        view.send(ScreenMessage::Open(Sheet::Shown(Shown::Season(place), study.quantity)));
    }
    if dot.has_focus() {
        let ring = Stroke::new(1.5 * view.colours().stroke, view.colours().accent);
        ui.painter().circle_stroke(at, DOT / 2.0, ring);
    }
}

fn trend_ui(view: &mut View, ui: &mut Ui, study: &SeasonStudy, high: f64) {
    let first = study.points.first().map(|(day, _)| *day);
    let since = |day: jiff::civil::Date| {
        first.and_then(|f| f.until(day).ok()).map_or(0.0, |span| f64::from(span.get_days()))
    };
    let dots: Vec<SeasonDot> = study
        .points
        .iter()
        .map(|(day, point)| SeasonDot {
            day: day.strftime("%-d %b").to_string(),
            at: since(*day),
            mean: point.mean.value,
            interval: point.interval.map(|i| [i.low, i.high]),
            hollow: point.surface == Surface::Mat,
        })
        .collect();
    let style = chart_style(view, ui, high);
    let (drawing, places) = season(&dots, None, &style, &axis_words(view, study.quantity));
    let says = format!(
        "Season of {}: {} sessions with their intervals",
        study.quantity.words(),
        dots.len()
    );
    let chart = drawn(view, ui, &drawing, &says).rect;
    for (place, at) in places.into_iter().enumerate() {
        let at = chart.min + vec2(at[0] as f32, at[1] as f32);
        dot_ui(view, ui, (study, place), at);
    }
    small(
        view,
        ui,
        "Each dot is a session's mean with its 95 % interval, the doubt of the measuring included; hollow dots were played from a mat. A click tells where the doubt comes from.",
    );
}

/// What is measured: feet and ball from above, the camera below, and how far the ball lies from
/// the lead heel.
fn stance_sketch_ui(view: &View, ui: &mut Ui) {
    let width = ui.available_width().min(560.0);
    let says = "From above: the ball's distance from the lead heel along the target line";
    let pen = Pen::new(view, ui, vec2(width, 0.42 * width), says);
    // A hundredth of the width, from the top left.
    let u = width / 100.0;
    let at = |x: f32, y: f32| pen.at(x * u, y * u);
    for (left, name) in [(28.0, "trail foot"), (58.0, "lead foot")] {
        let foot = Rect::from_min_size(at(left, 8.0), vec2(7.0, 16.0) * u);
        let (round, edge) = (3.5 * u, egui::StrokeKind::Middle);
        pen.painter.rect(foot, round, pen.colours.panel, pen.thin(), edge);
        pen.words(foot.center_top() - vec2(0.0, 2.6 * u), Align2::CENTER_CENTER, name);
    }
    // The toes look down, at the ball; the heel is measured at its inner edge.
    let (heel, ball) = (at(58.0, 11.0), at(48.0, 33.0));
    let chosen = Stroke::new(1.6 * pen.colours.stroke, pen.colours.accent);
    pen.painter.line_segment([heel, pos2(heel.x, ball.y + 4.0 * u)], chosen);
    pen.painter.arrow(ball, vec2(heel.x - ball.x, 0.0), chosen);
    pen.ball(ball, 1.8 * u);
    let between = pos2((ball.x + heel.x) / 2.0, ball.y + 4.5 * u);
    pen.words(between, Align2::CENTER_CENTER, "ball position");
    pen.target(at(97.0, 5.0));
}

fn stance_ui(view: &mut View, ui: &mut Ui, study: &ClubsStudy, high: f64) {
    heading(ui, "Ball position in the stance against low point");
    if study.stance.len() < 2 {
        let key = keys::shown(Act::LeadHeel);
        ui.add(egui::Label::new(format!("Mark the lead heel (key {key}) in the picture: then each swing's ball position stands here against its low point.")).wrap());
        ui.add_space(6.0);
        stance_sketch_ui(view, ui);
        return;
    }
    let unit = view.model.settings.unit;
    let points: Vec<[f64; 2]> =
        study.stance.iter().map(|p| [p.ball_position, p.low_point]).collect();
    let ends = points
        .iter()
        .fold([f64::INFINITY, f64::NEG_INFINITY], |e, p| [e[0].min(p[0]), e[1].max(p[0])]);
    let line = study.stance_line.as_ref().map_or(Vec::new(), |fit| {
        (0..=24)
            .map(|i| ends[0] + (ends[1] - ends[0]) * f64::from(i) / 24.0)
            .map(|x| {
                let (y, interval) = fit.at(x);
                [x, y, interval.low, interval.high]
            })
            .collect()
    });
    let chart = Scatter {
        points,
        line,
        x_words: format!("ball from the lead heel, {}", unit.short_name()),
        y_words: format!("low point from the ball, {}", unit.short_name()),
    };
    let from_ball = axis_words(view, Quantity::LowPoint);
    let from_heel = |value: f64| from_ball(value).replace("ball", "heel");
    let drawing = scatter(&chart, &chart_style(view, ui, high + 26.0), [&from_heel, &from_ball]);
    drawn(
        view,
        ui,
        &drawing,
        "Ball position against low point, one dot a swing, with the fitted line",
    );
    if let Some(words) = stance_words(study, unit) {
        small(view, ui, format!("{words} The band is the line's 95 % interval."));
        doubt_link(view, ui, WHERE_FROM, Shown::Stance, Quantity::LowPoint);
    }
}
