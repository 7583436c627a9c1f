//! Blocks against each other: did it change, and is that more than luck?

use std::sync::Arc;

use eframe::egui::{self, RichText, Ui, vec2};

use super::{
    beside, compact, doubt_link, drawn, facts_ui, heading, lead, reading_ui, ruler_style, small,
    subject_menu,
};
use crate::app::notebook::{Chapter, ComparisonMessage, MOST_OTHERS, NotebookMessage, Shown};
use crate::app::view::{View, strong, turf_ruler};
use crate::app::words;
use crate::domain::{MarkWord, Quantity};
use crate::report::ruler::{self, Lane, Style};
use crate::stats::{BlockSummary, OffsetComparison, mean_interval, moments};
use crate::workflow::{
    Against, BlockNumber, ComparedNumber, ComparisonStudy, Listed, Repeatability, comparison_facts,
    repeatability_words, share_facts,
};

/// Shows the chapter.
pub fn comparison_ui(view: &mut View, ui: &mut Ui) {
    choice_ui(view, ui);
    ui.add_space(10.0);
    let page = &view.model.notebook.comparison;
    let waiting = page.first.is_some() && !page.others.is_empty();
    // What was chosen meanwhile is not shown under other names.
    let wanted = |study: &Arc<ComparisonStudy>| {
        Some(study.first) == page.first && study.others.iter().map(|o| o.of).eq(page.others.clone())
    };
    match page.found.clone().filter(wanted) {
        Some(study) => study_ui(view, ui, &study),
        None if waiting => reading_ui(view, ui, "Comparing…"),
        None => nothing_yet_ui(view, ui),
    }
}

/// What a comparison shows and what it takes, while there is only one block or session.
fn nothing_yet_ui(view: &mut View, ui: &mut Ui) {
    lead(ui, "Is it different, by how much, and is that more than luck?");
    ui.add_space(6.0);
    let wide = ui.available_width();
    if wide < ROOM_BESIDE {
        what_it_takes_ui(view, ui);
        example_ui(view, ui);
        return;
    }
    beside(view, ui, (wide * 0.44).min(620.0), what_it_takes_ui, example_ui);
}

fn what_it_takes_ui(view: &mut View, ui: &mut Ui) {
    ui.label("It takes two blocks or sessions of this golfer:");
    ui.add_space(4.0);
    for (title, text) in [
        ("Before and after", "a block of swings before the lesson, and one after it"),
        ("A week later", "the same club and cue on another day: what was kept"),
        ("Without a ball and with one", "most people do better without; the gap is a finding"),
        ("This club and that", "where each one meets the turf"),
    ] {
        ui.add_space(6.0);
        ui.label(RichText::new(title).text_style(strong()));
        ui.add(egui::Label::new(RichText::new(text).weak()).wrap());
    }
    ui.add_space(14.0);
    let colours = *view.colours();
    let text = RichText::new("Put swings into blocks").text_style(strong());
    let button = egui::Button::new(text.color(colours.on_accent)).fill(colours.accent);
    if ui.add(button).on_hover_text("In People and plans").clicked() {
        view.send(NotebookMessage::Open(Chapter::People));
    }
    ui.add_space(4.0);
    // Half of the interval of a difference of two means of ten: t(18) sqrt(2 / 10) = 0.94 SD.
    small(
        view,
        ui,
        "With ten swings a block a difference is known to within about one spread either way.",
    );
}

/// Where invented marks begin in two blocks of ten, mm ahead of the ball.
const EXAMPLE: [(&str, [f64; 10]); 2] = [
    ("After the lesson", [21.0, 34.0, 9.0, 28.0, 41.0, 17.0, 30.0, 25.0, 12.0, 37.0]),
    ("Before", [-18.0, 6.0, -31.0, 14.0, -4.0, -22.0, 9.0, -12.0, 2.0, -27.0]),
];

/// The picture that two blocks give.
fn example_ui(view: &mut View, ui: &mut Ui) {
    let lane = |(i, (name, values)): (usize, &(&str, [f64; 10]))| {
        let moments = moments(values);
        let spread = moments.as_ref().and_then(|m| Some([m.mean - m.sd?, m.mean + m.sd?]));
        let interval = moments.as_ref().and_then(mean_interval).map(|i| [i.low, i.high]);
        let (name, values, mean) = ((*name).into(), values.to_vec(), moments.map(|m| m.mean));
        Lane { name, values, mean, interval, spread, accent: i == 0 }
    };
    let lanes: Vec<_> = EXAMPLE.iter().enumerate().map(lane).collect();
    ui.weak("An invented example, two blocks of ten:");
    ui.add_space(4.0);
    let drawing = ruler::draw_lanes(&lanes, None, &example_style(view, ui));
    drawn(view, ui, &drawing, "Invented example: two blocks on one ruler, ball at zero");
    ui.add_space(4.0);
    small(view, ui, LANES);
    ui.add(egui::Label::new("The two lines that stand for the means lie far apart, each with its interval: such a change is more than luck.").wrap());
}

/// Nothing else is on the page: rows and type grow with the room.
fn example_style(view: &View, ui: &Ui) -> Style {
    let type_size = f64::from(ui.text_style_height(&egui::TextStyle::Small));
    let width = f64::from(ui.available_width()).min(1000.0);
    let type_size = type_size * (width / 760.0).clamp(0.8, 1.3);
    turf_ruler::sized(view, width, type_size, 1.9 * type_size)
}

/// What the signs in a lane mean.
const LANES: &str = "Dots: swings. Bar: one standard deviation to either side. Line: the mean with its 95 % interval.";

fn send(view: &mut View, message: ComparisonMessage) {
    view.send(NotebookMessage::Comparison(message));
}

fn choice_ui(view: &mut View, ui: &mut Ui) {
    let page = &view.model.notebook.comparison;
    let (first, others) = (page.first, page.others.clone());
    ui.horizontal_wrapped(|ui| {
        if let Some(of) = subject_menu(view, ui, "The block all others are held against", first) {
            send(view, ComparisonMessage::First(of));
        }
        ui.weak("against");
        for (place, other) in others.iter().enumerate() {
            if let Some(of) = subject_menu(view, ui, "A block held against the first", Some(*other))
            {
                send(view, ComparisonMessage::Other(place, of));
            }
            if others.len() > 1 {
                let name = format!("Take block {} out of the comparison", place + 1);
                let button = ui.button("×").on_hover_text(&name);
                let button = button.accessible_name(name);
                if button.clicked() {
                    send(view, ComparisonMessage::Remove(place));
                }
            }
        }
        if others.len() < MOST_OTHERS
            && let Some(of) = add_menu(view, ui)
        {
            send(view, ComparisonMessage::Add(of));
        }
    });
}

fn add_menu(view: &View, ui: &mut Ui) -> Option<crate::store::Of> {
    let outline = view.model.notebook.outline.clone()?;
    let mut picked = None;
    let menu = ui.menu_button("Add…", |ui| {
        egui::ScrollArea::vertical().max_height(420.0).show(ui, |ui| {
            for of in outline.subjects() {
                if ui.selectable_label(false, outline.words(of).unwrap_or_default()).clicked() {
                    picked = Some(of);
                    ui.close();
                }
            }
        });
    });
    menu.response.on_hover_text("Hold one more block against the first");
    picked
}

fn study_ui(view: &mut View, ui: &mut Ui, study: &ComparisonStudy) {
    let unit = view.model.settings.unit;
    // Where three blocks are a lesson and what came of it, that is the one sentence.
    let kept = study.retention.as_ref().map(|retention| retention.sentence(unit));
    if let Some(sentence) = &kept {
        lead(ui, sentence);
        retention_links_ui(view, ui, study);
        ui.add_space(8.0);
    }
    for other in &study.others {
        let sentence = other.sentence(unit);
        match (&kept, study.others.len()) {
            (None, 1) => lead(ui, &sentence),
            (None, _) => {
                ui.weak(&other.title);
                lead(ui, &sentence);
            }
            (Some(_), _) => {
                ui.add(egui::Label::new(format!("{}: {sentence}", other.title)).wrap());
            }
        }
        if other.is_ball_gap {
            ui.label("One was played without a ball and the other with one: the gap itself is the finding.");
        }
        ui.add_space(4.0);
    }
    ruler_and_shares_ui(view, ui, study);
    for (place, other) in study.others.iter().enumerate() {
        heading(ui, &format!("{} against {}", other.title, study.title));
        compact(ui, |ui| table_ui(view, ui, place, other));
    }
    ui.add_space(8.0);
    if study.looked_at > 1 {
        small(
            view,
            ui,
            format!(
                "Corrected: for the {} comparisons looked at together on this page (Holm 1979). Intervals are 95 % each.",
                study.looked_at
            ),
        );
    }
}

/// What leads to the budgets of the sentence about a lesson and what is left of it.
fn retention_links_ui(view: &mut View, ui: &mut Ui, study: &ComparisonStudy) {
    let Some(retention) = &study.retention else { return };
    let quantity = retention.gained.quantity;
    let at = |wanted: &OffsetComparison| {
        study.others.iter().position(|o| o.comparison.offset(quantity) == Some(wanted))
    };
    let compared = |place| Shown::Compared(place, ComparedNumber::Difference);
    let gained = at(&retention.gained).map(|place| ("gained in the lesson", compared(place)));
    let kept = at(&retention.kept).map(|place| ("still there", compared(place)));
    ui.horizontal_wrapped(|ui| {
        ui.weak("Where each interval comes from:");
        for (text, which) in
            gained.into_iter().chain(kept).chain([("since the lesson", Shown::Since)])
        {
            doubt_link(view, ui, text, which, quantity);
        }
    });
}

/// With less room than this, in points, what the picture means stands below it.
const ROOM_BESIDE: f32 = 980.0;

/// The blocks on one ruler and, beside it where there is room, how many swings did what.
fn ruler_and_shares_ui(view: &mut View, ui: &mut Ui, study: &ComparisonStudy) {
    let wide = ui.available_width();
    if wide < ROOM_BESIDE {
        lanes_ui(view, ui, study);
        results_ui(view, ui, study);
        return;
    }
    let left = (wide * 0.6).min(760.0);
    let lanes = |view: &mut View, ui: &mut Ui| lanes_ui(view, ui, study);
    beside(view, ui, left, lanes, |view, ui| results_ui(view, ui, study));
}

/// Shares, cautions, and how much must change to be seen.
fn results_ui(view: &mut View, ui: &mut Ui, study: &ComparisonStudy) {
    if let Some(other) = study.others.first() {
        let summary = &other.comparison.first;
        shares_ui(view, ui, &study.title, (summary, Shown::First));
    }
    for (place, other) in study.others.iter().enumerate() {
        let shown = |number| Shown::Second(place, number);
        shares_ui(view, ui, &other.title, (&other.comparison.second, shown));
        for caution in &other.comparison.cautions {
            small(view, ui, caution.clone());
        }
    }
    repeats_ui(view, ui, study.repeatability);
}

/// All blocks in lanes on one ruler: how far they overlap.
fn lanes_ui(view: &mut View, ui: &mut Ui, study: &ComparisonStudy) {
    let all = study.others.first().map_or_else(MarkWord::default, |other| {
        MarkWord::of_all([other.comparison.first.mark, other.comparison.second.mark])
    });
    heading(ui, &format!("{}s on one ruler", all.start_title()));
    let lane = |name: &str, swings: &[Listed], summary: &BlockSummary, accent| {
        let counting = swings.iter().filter(|s| s.left_out.is_none());
        let told = summary.offset(Quantity::DivotStart);
        Lane {
            name: name.to_owned(),
            values: counting.filter_map(|s| s.offsets.value(Quantity::DivotStart)).collect(),
            mean: told.map(|o| o.moments.mean),
            interval: told.and_then(|o| o.mean_interval).map(|i| [i.low, i.high]),
            spread: told.and_then(|o| {
                Some([o.moments.mean - o.moments.sd?, o.moments.mean + o.moments.sd?])
            }),
            accent,
        }
    };
    let mut lanes = Vec::new();
    // The newest on top, as everywhere.
    for other in study.others.iter().rev() {
        lanes.push(lane(&other.title, &other.swings, &other.comparison.second, true));
    }
    if let Some(other) = study.others.first() {
        lanes.push(lane(&study.title, &study.swings, &other.comparison.first, false));
    }
    let style = ruler_style(view, ui);
    let aim = study.window.map(|w| [w.low_mm, w.high_mm]);
    let drawing = ruler::draw_lanes(&lanes, aim, &style);
    drawn(view, ui, &drawing, "The blocks on one ruler, ball at zero, target to the right");
    small(view, ui, format!("{LANES} Shaded: aim window."));
}

fn table_ui(view: &mut View, ui: &mut Ui, place: usize, other: &Against) {
    let unit = view.model.settings.unit;
    let offsets = &other.comparison.offsets;
    let columns: Vec<_> = (0..offsets.len()).map(|i| comparison_facts(other, i, unit)).collect();
    let grid = egui::Grid::new(("compared", place)).num_columns(offsets.len() + 1);
    grid.spacing(vec2(28.0, 6.0)).show(ui, |ui| {
        ui.label("");
        for offset in offsets {
            ui.label(
                RichText::new(words::capital(offset.quantity.words_of(offset.mark)))
                    .text_style(strong()),
            );
        }
        ui.end_row();
        for (row, fact) in columns.first().into_iter().flatten().enumerate() {
            ui.weak(fact.name).on_hover_text(fact.method);
            for (column, offset) in columns.iter().zip(offsets) {
                let told = &column[row];
                match told.number.map(|number| Shown::Compared(place, number)) {
                    Some(which) => doubt_link(view, ui, &told.text, which, offset.quantity),
                    None => drop(ui.label(&told.text)),
                }
            }
            ui.end_row();
        }
    });
}

/// How many swings of one block did what.
fn shares_ui(
    view: &mut View,
    ui: &mut Ui,
    title: &str,
    (summary, shown): (&BlockSummary, impl Fn(BlockNumber) -> Shown),
) {
    heading(ui, &words::capital(title));
    facts_ui(view, ui, title, (share_facts(summary), Quantity::DivotStart, shown));
}

fn repeats_ui(view: &View, ui: &mut Ui, repeats: Option<Repeatability>) {
    heading(ui, "How much must change?");
    let text = repeatability_words(repeats.as_ref(), view.model.settings.unit);
    ui.add(egui::Label::new(text).wrap());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_examples_change_is_more_than_luck_as_it_says() {
        let [after, before] = EXAMPLE.map(|(_, values)| mean_interval(&moments(&values).unwrap()));
        assert!(before.unwrap().high < after.unwrap().low);
    }
}
