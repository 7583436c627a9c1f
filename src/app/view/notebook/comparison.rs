//! Blocks against each other: did it change, and is that more than luck?

use eframe::egui::{self, RichText, Ui, vec2};

use super::{compact, drawn, heading, lead, ruler_style, small, subject_menu};
use crate::app::notebook::{ComparisonMessage, MOST_OTHERS, NotebookMessage};
use crate::app::view::{View, strong};
use crate::app::words;
use crate::domain::{Interval, LengthUnit, Quantity};
use crate::report::ruler::{self, Lane};
use crate::stats::OffsetComparison;
use crate::workflow::{
    Against, ComparisonStudy, Listed, Repeatability, chance_words, share_words, size_words,
    value_words,
};

/// Shows the chapter.
pub fn comparison_ui(view: &mut View, ui: &mut Ui) {
    choice_ui(view, ui);
    ui.add_space(10.0);
    let page = &view.model.notebook.comparison;
    let waiting = page.first.is_some() && !page.others.is_empty();
    match page.found.clone() {
        Some(study) => study_ui(view, ui, &study),
        None if waiting => {
            ui.weak("Comparing…");
        }
        None => {
            ui.label("It takes two blocks or sessions of this golfer to compare.");
        }
    }
}

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
                let button = ui.small_button("×").on_hover_text(&name);
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
    for other in &study.others {
        if study.others.len() > 1 {
            ui.weak(&other.title);
        }
        lead(ui, &other.comparison.sentence(unit));
        if other.is_ball_gap {
            ui.label("One was played without a ball and the other with one: the gap itself is the finding.");
        }
        ui.add_space(4.0);
    }
    if let Some(retention) = &study.retention {
        heading(ui, "What was kept");
        ui.add(egui::Label::new(retention.sentence(unit)).wrap());
    }
    lanes_ui(view, ui, study);
    for (place, other) in study.others.iter().enumerate() {
        heading(ui, &format!("{} against {}", other.title, study.title));
        compact(ui, |ui| table_ui(ui, place, other, unit));
        shares_ui(ui, other);
        for caution in &other.comparison.cautions {
            small(view, ui, caution.clone());
        }
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
    repeats_ui(view, ui, study.repeatability);
}

/// All blocks in lanes on one ruler: how far they overlap.
fn lanes_ui(view: &mut View, ui: &mut Ui, study: &ComparisonStudy) {
    heading(ui, "Divot starts on one ruler");
    let lane = |name: &str, swings: &[Listed], summary: &crate::stats::BlockSummary, accent| {
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
    small(
        view,
        ui,
        "Dots: swings. Bar: one standard deviation to either side. Line: the mean with its 95 % interval. Shaded: aim window.",
    );
}

fn table_ui(ui: &mut Ui, place: usize, other: &Against, unit: LengthUnit) {
    let offsets = &other.comparison.offsets;
    let grid = egui::Grid::new(("compared", place)).num_columns(offsets.len() + 1);
    grid.spacing(vec2(28.0, 6.0)).show(ui, |ui| {
        ui.label("");
        for offset in offsets {
            ui.label(RichText::new(words::capital(offset.quantity.words())).text_style(strong()));
        }
        ui.end_row();
        let mut row = |name: &str, hint: &str, cell: &dyn Fn(usize, &OffsetComparison) -> String| {
            ui.weak(name).on_hover_text(hint);
            for (i, offset) in offsets.iter().enumerate() {
                ui.label(cell(i, offset));
            }
            ui.end_row();
        };
        let mean = |summary: &crate::stats::BlockSummary, q, n| {
            let mean = summary.offset(q).map(|o| value_words(q, o.moments.mean, unit));
            format!("{} (n = {n})", mean.unwrap_or_default())
        };
        row("First mean", "Of the block the other is held against", &|_, o| {
            mean(&other.comparison.first, o.quantity, o.n[0])
        });
        row("This mean", "Of this block", &|_, o| mean(&other.comparison.second, o.quantity, o.n[1]));
        row("Difference (95 %)", "Of the means (Welch), the doubt of the measuring included; what both blocks share of the set-up cancels", &|_, o| {
            o.difference_words(unit)
        });
        row("By scatter alone", "The same without the doubt of the measuring", &|_, o| {
            interval_words(o.quantity, o.scatter_only.interval, unit)
        });
        row("Shift of medians (95 %)", "Hodges and Lehmann's estimate; asks for no distribution", &|_, o| {
            o.shift.as_ref().map_or("too few swings".into(), |s| match s.interval {
                Some(i) => format!("{} ({})", signed(o.quantity, s.estimate, unit), interval_words(o.quantity, i, unit)),
                None => signed(o.quantity, s.estimate, unit),
            })
        });
        row("Its chance", "How often swings dealt at random give medians as far apart", &|_, o| {
            o.shift.as_ref().map_or(String::new(), |s| match s.median_p_u {
                u if u < 0.0005 => chance_words(s.median_p),
                u => format!("{} ± {u:.3}", chance_words(s.median_p)),
            })
        });
        row("Spread, this / first", "By distances from the median (Bonett and Seier; Brown and Forsythe), which survives outliers", &|_, o| {
            o.spreads.map_or("too few swings".into(), |s| {
                let Interval { low, high } = s.robust_interval;
                format!("{:.2} ({low:.2} to {high:.2}), chance {}", s.robust_ratio, chance_words(s.brown_forsythe.p))
            })
        });
        row("The same by variances", "F test; exact for normally distributed values only", &|_, o| {
            o.spreads.map_or(String::new(), |s| {
                let Interval { low, high } = s.interval;
                format!("{:.2} ({low:.2} to {high:.2}), chance {}", s.ratio, chance_words(s.f_test.p))
            })
        });
        row("Effect size", "Difference in standard deviations (Hedges' g)", &|_, o| {
            o.effect_size.map_or(String::new(), |g| format!("{g:.2}"))
        });
        row("Chance, corrected", "Of so large a difference of means if there were none; then corrected for all that is compared here", &|i, o| {
            let corrected = other.corrected.get(i).copied().unwrap_or(1.0);
            format!("{}, {}", chance_words(o.means.test.p), chance_words(corrected))
        });
        row("Swings needed", "In each block, to show a difference as large as this one in four of five tries", &|_, o| {
            match o.swings_needed {
                Some(n) if !o.is_shown() => format!("about {n} each"),
                Some(_) => "enough".into(),
                None => "too many to say".into(),
            }
        });
    });
}

fn signed(of: Quantity, value: f64, unit: LengthUnit) -> String {
    let sign = if value < 0.0 { "-" } else { "+" };
    format!("{sign}{}", size_words(of, value, unit))
}

fn interval_words(of: Quantity, interval: Interval, unit: LengthUnit) -> String {
    format!("{} to {}", signed(of, interval.low, unit), signed(of, interval.high, unit))
}

fn shares_ui(ui: &mut Ui, other: &Against) {
    let (first, second) = (&other.comparison.first, &other.comparison.second);
    for (name, a, b) in [
        ("Ball first", first.ball_first, second.ball_first),
        ("Divot start in the aim window", first.start_in_window, second.start_in_window),
        ("Low point in the aim window", first.low_point_in_window, second.low_point_in_window),
    ] {
        if let (Some(a), Some(b)) = (a, b) {
            ui.label(format!("{name}: {} first, {} now.", share_words(&a), share_words(&b)));
        }
    }
}

fn repeats_ui(view: &View, ui: &mut Ui, repeats: Option<Repeatability>) {
    let unit = view.model.settings.unit;
    heading(ui, "How much must change?");
    let text = match repeats {
        Some(Repeatability { clubs, reliability }) => {
            let size = |v| size_words(Quantity::DivotStart, v, unit);
            format!(
                "From this golfer's repeat sessions ({clubs} clubs, the last two sessions of each): two sessions' mean divot starts must differ by more than {} to be more than daily form and measuring (standard error of measurement {}, intraclass correlation {:.2}; Weir 2005). Few clubs make this a rough figure.",
                size(reliability.detectable_change), size(reliability.sem), reliability.single[1]
            )
        }
        None => "It takes two clubs, each played in two sessions with three strikes or more, to tell daily form from a change.".into(),
    };
    ui.add(egui::Label::new(text).wrap());
}
