//! Two sessions against each other: one plain sentence, the ruler, and the numbers behind it.

use eframe::egui::{self, Align, Frame, Layout, Margin, RichText, Ui, vec2};

use super::{View, big, strong, turf_ruler};
use crate::app::message::{CompareMessage, ScreenMessage};
use crate::app::model::{Page, Swing};
use crate::app::words;
use crate::domain::{Interval, LengthUnit, Quantity};
use crate::report::ruler::{self, Group};
use crate::stats::{Comparison, OffsetComparison, Share};
use crate::store::SessionId;
use crate::workflow::length_words;

/// Fills the page.
pub fn compare_ui(view: &mut View, ui: &mut Ui) {
    let colours = *view.colours();
    let side = ((ui.available_width() - 1080.0) / 2.0).clamp(24.0, 400.0) as i8;
    let frame = Frame::new().fill(colours.panel).inner_margin(Margin::symmetric(side, 18));
    frame.show(ui, |ui| {
        ui.set_min_size(ui.available_size());
        egui::ScrollArea::vertical().id_salt("compare").show(ui, |ui| {
            choice_ui(view, ui);
            ui.add_space(14.0);
            match view.model.compared.found.clone() {
                Some((swings, comparison)) => found_ui(view, ui, &swings, &comparison),
                None => nothing_ui(view, ui),
            }
        });
    });
}

fn choice_ui(view: &mut View, ui: &mut Ui) {
    ui.horizontal(|ui| {
        ui.label(RichText::new("Two sessions against each other").text_style(strong()));
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            if ui.button("Back to the picture").on_hover_text("Esc").clicked() {
                view.send(ScreenMessage::Show(Page::Measure));
            }
        });
    });
    ui.horizontal_wrapped(|ui| {
        session_menu(view, ui, 0, "Earlier session");
        ui.weak("against");
        session_menu(view, ui, 1, "Later session");
    });
}

fn session_menu(view: &mut View, ui: &mut Ui, place: usize, name: &str) {
    let sessions = view.model.people.sessions.clone();
    let chosen = view.model.compared.sessions[place];
    let text = title_of(&sessions, chosen).unwrap_or_else(|| "Choose a session".into());
    let menu = ui.menu_button(text, |ui| {
        for (id, title) in &sessions {
            if ui.selectable_label(Some(*id) == chosen, title).clicked() {
                view.send(CompareMessage::Choose(place, *id));
                ui.close();
            }
        }
    });
    menu.response.on_hover_text(name);
}

fn title_of(sessions: &[(SessionId, String)], id: Option<SessionId>) -> Option<String> {
    sessions.iter().find(|(one, _)| Some(*one) == id).map(|(_, title)| title.clone())
}

fn nothing_ui(view: &View, ui: &mut Ui) {
    let [earlier, later] = view.model.compared.sessions;
    ui.label(match (earlier, later) {
        (Some(a), Some(b)) if a != b => "Comparing…",
        _ => "Choose two different sessions of this golfer.",
    });
}

fn found_ui(view: &mut View, ui: &mut Ui, swings: &[Vec<Swing>; 2], comparison: &Comparison) {
    let unit = view.model.settings.unit;
    let sentence = RichText::new(comparison.sentence(unit)).text_style(big()).size(22.0);
    ui.add(egui::Label::new(sentence).wrap());
    ui.add_space(12.0);
    ruler_ui(view, ui, swings);
    ui.add_space(14.0);
    table_ui(ui, comparison, unit);
    ui.add_space(8.0);
    shares_ui(ui, comparison);
    for caution in &comparison.cautions {
        ui.add(egui::Label::new(RichText::new(caution).small()).wrap());
    }
}

fn ruler_ui(view: &mut View, ui: &mut Ui, swings: &[Vec<Swing>; 2]) {
    let sessions = &view.model.people.sessions;
    // The later one on top, as in a session the newest swing.
    let groups: Vec<Group> = [1, 0]
        .into_iter()
        .map(|place| Group {
            name: title_of(sessions, view.model.compared.sessions[place]).unwrap_or_default(),
            bars: swings[place]
                .iter()
                .enumerate()
                .rev()
                .map(|(i, swing)| turf_ruler::bar_of(swing, i + 1, false))
                .collect(),
        })
        .collect();
    let style = turf_ruler::panel_style(ui, view);
    let drawing = ruler::draw(&groups, Some(view.model.settings.aim), &style);
    let response = turf_ruler::drawing_ui(view, ui, &drawing);
    response.widget_info(|| {
        let text = "Both sessions on the ruler, ball at zero, target to the right";
        egui::WidgetInfo::labeled(egui::accesskit::Role::Label, true, text)
    });
}

fn table_ui(ui: &mut Ui, comparison: &Comparison, unit: LengthUnit) {
    egui::Grid::new("compared").num_columns(6).spacing(vec2(26.0, 8.0)).show(ui, |ui| {
        for heading in [
            "",
            "Earlier",
            "Later",
            "Difference (95 %)",
            "Spread, later / earlier",
            "Swings needed",
        ] {
            ui.weak(heading);
        }
        ui.end_row();
        for offset in &comparison.offsets {
            row_ui(ui, comparison, offset, unit);
        }
    });
}

fn row_ui(ui: &mut Ui, comparison: &Comparison, offset: &OffsetComparison, unit: LengthUnit) {
    let quantity = offset.quantity;
    ui.label(RichText::new(words::capital(quantity.words())).text_style(strong()));
    for (summary, n) in [&comparison.first, &comparison.second].into_iter().zip(offset.n) {
        let mean = summary.offset(quantity).map(|o| o.moments.mean);
        ui.label(
            mean.map_or(String::new(), |mean| format!("{} (n = {n})", value(mean, quantity, unit))),
        );
    }
    ui.label(difference(offset.means.difference, offset.means.interval, quantity, unit));
    ui.label(offset.spreads.map_or("too few swings".into(), |s| {
        let Interval { low, high } = s.robust_interval;
        format!("{:.2} ({low:.2} to {high:.2})", s.robust_ratio)
    }));
    ui.label(match offset.swings_needed {
        Some(n) if !offset.is_shown() => format!("{n} each"),
        Some(_) => "enough".into(),
        None => "too many to say".into(),
    });
    ui.end_row();
}

fn value(mean: f64, quantity: Quantity, unit: LengthUnit) -> String {
    match quantity {
        Quantity::AttackAngle => words::attack_angle(mean),
        _ => words::offset(mean, unit),
    }
}

/// "+23 mm (+8 to +38)": toward the target is +.
fn difference(by: f64, interval: Interval, quantity: Quantity, unit: LengthUnit) -> String {
    let one = |v: f64| {
        let sign = if v < 0.0 { "-" } else { "+" };
        match quantity {
            Quantity::AttackAngle => format!("{sign}{:.1}°", v.abs()),
            _ => format!("{sign}{}", length_words(v.abs(), unit)),
        }
    };
    format!("{} ({} to {})", one(by), one(interval.low), one(interval.high))
}

fn shares_ui(ui: &mut Ui, comparison: &Comparison) {
    let rows = [
        ("Ball first", comparison.first.ball_first, comparison.second.ball_first),
        (
            "Divot start in the aim window",
            comparison.first.start_in_window,
            comparison.second.start_in_window,
        ),
    ];
    for (name, first, second) in rows {
        if let (Some(first), Some(second)) = (first, second) {
            ui.label(format!("{name}: {} earlier, {} later.", share(first), share(second)));
        }
    }
}

fn share(share: Share) -> String {
    let (low, high) = (share.interval.low * 100.0, share.interval.high * 100.0);
    format!("{} of {} ({low:.0} to {high:.0} %)", share.hits, share.of)
}
