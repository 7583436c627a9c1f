//! Golfers, sessions, blocks, and what is said of swings.

use eframe::egui::{
    self, Align, Frame, Key, Layout, Margin, RichText, Stroke, TextEdit, TextStyle, Ui, WidgetInfo,
    accesskit::Role, collapsing_header::CollapsingState, vec2,
};

use super::{heading, reading_ui, small, swing_link};
use crate::app::message::{Field, ScreenMessage, SwingMessage};
use crate::app::notebook::{
    BlockMessage, ErasingMessage, NotebookMessage, PeopleMessage, PickedMessage, PlanField, TAGS,
};
use crate::app::view::{View, edged, strong};
use crate::app::words;
use crate::domain::{BallUse, Golfer, Handed, Lie, Phase, Quantity, Surface};
use crate::store::{BlockId, BlockRow};
use crate::workflow::{Listed, clearance_of, day_words, state, swings_words, words_for_offset};

/// Shows the chapter.
pub fn people_ui(view: &mut View, ui: &mut Ui) {
    let wide = ui.available_width();
    // The blocks have room for all of one in a row, also in sunlight's larger type.
    let (first, second) = ((wide * 0.2).clamp(210.0, 300.0), (wide * 0.195).clamp(240.0, 340.0));
    let third = wide - first - second - 56.0;
    ui.horizontal_top(|ui| {
        ui.spacing_mut().item_spacing.x = 28.0;
        column(ui, first, |ui| golfer_ui(view, ui));
        column(ui, second, |ui| session_ui(view, ui));
        column(ui, third, |ui| blocks_ui(view, ui));
    });
}

fn column(ui: &mut Ui, width: f32, content: impl FnOnce(&mut Ui)) {
    ui.vertical(|ui| {
        ui.set_width(width);
        ui.spacing_mut().item_spacing.x = 8.0;
        content(ui);
    });
}

fn send(view: &mut View, message: impl Into<PeopleMessage>) {
    view.send(NotebookMessage::People(message.into()));
}

/// A text field that is kept when it is left; `lines` above 1 takes several.
fn field_ui(view: &mut View, ui: &mut Ui, field: PlanField, name: &str, kept: &str, lines: usize) {
    let draft = view.model.notebook.people.draft.as_ref();
    let mut text = draft.filter(|(f, _)| *f == field).map_or(kept.to_owned(), |(_, t)| t.clone());
    let width = ui.available_width();
    let edit = match lines {
        1 => TextEdit::singleline(&mut text),
        _ => TextEdit::multiline(&mut text).desired_rows(lines),
    };
    let edit = edit.desired_width(width).hint_text(name).id_salt(("plan", field));
    let response = ui.add(edit).accessible_name(name);
    if response.changed() {
        send(view, PeopleMessage::Typed(field, text));
    }
    if response.lost_focus() {
        send(view, PeopleMessage::Keep);
    }
}

fn named_field_ui(
    view: &mut View,
    ui: &mut Ui,
    field: PlanField,
    name: &str,
    kept: &str,
    lines: usize,
) {
    small(view, ui, name);
    field_ui(view, ui, field, name, kept, lines);
}

fn choices<T: Copy + PartialEq>(ui: &mut Ui, all: &[(T, &str)], chosen: T) -> Option<T> {
    let mut picked = None;
    ui.horizontal_wrapped(|ui| {
        for (one, name) in all {
            if ui.selectable_label(*one == chosen, *name).clicked() {
                picked = Some(*one);
            }
        }
    });
    picked
}

fn golfer_ui(view: &mut View, ui: &mut Ui) {
    ui.label(RichText::new("Golfer").text_style(strong()));
    let people = view.model.people.clone();
    ui.horizontal_wrapped(|ui| {
        for (id, golfer) in &people.golfers {
            if ui.selectable_label(people.golfer == Some(*id), &golfer.name).clicked()
                && people.golfer != Some(*id)
            {
                view.send(SwingMessage::ChooseGolfer(*id));
            }
        }
    });
    add_golfer_ui(view, ui);
    let Some((_, golfer)) = people.golfers.iter().find(|(id, _)| Some(*id) == people.golfer) else {
        return;
    };
    ui.add_space(8.0);
    named_field_ui(view, ui, PlanField::GolferName, "Name", &golfer.name, 1);
    small(view, ui, "Plays");
    let hands = [(Handed::Right, "right-handed"), (Handed::Left, "left-handed")];
    if let Some(handed) = choices(ui, &hands, golfer.handed) {
        send(view, PeopleMessage::Handed(handed));
    }
    named_field_ui(view, ui, PlanField::GolferNotes, "Notes on the golfer", &golfer.notes, 3);
    consent_ui(view, ui, golfer);
    erase_ui(view, ui, golfer);
}

fn add_golfer_ui(view: &mut View, ui: &mut Ui) {
    ui.horizontal(|ui| {
        let mut name = view.model.fields.golfer.clone();
        let width = (ui.available_width() - 60.0).max(80.0);
        let edit = TextEdit::singleline(&mut name).hint_text("A new golfer").desired_width(width);
        let response = ui.add(edit).accessible_name("A new golfer's name");
        let entered = response.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter));
        if response.changed() {
            view.send(ScreenMessage::Typed(Field::Golfer, name));
        }
        if ui.button("Add").on_hover_text("Add a golfer").clicked() || entered {
            view.send(SwingMessage::AddGolfer);
        }
    });
}

fn consent_ui(view: &mut View, ui: &mut Ui, golfer: &Golfer) {
    ui.add_space(6.0);
    let mut child = golfer.child;
    if edged(ui, |ui| ui.checkbox(&mut child, "A child"))
        .on_hover_text("Passing on asks for a guardian's word")
        .changed()
    {
        send(view, PeopleMessage::Child(child));
    }
    if golfer.child {
        small(
            view,
            ui,
            "Local rules first: a parent or guardian decides what is filmed, kept and passed on.",
        );
    }
    let name = "Who agreed to what, and when";
    named_field_ui(view, ui, PlanField::Consent, name, &golfer.consent, 2);
    small(view, ui, "Asked for before anything is passed on.");
}

fn erase_ui(view: &mut View, ui: &mut Ui, golfer: &Golfer) {
    ui.add_space(10.0);
    let erasing = view.model.notebook.people.erasing.clone();
    let Some(erasing) = erasing.filter(|e| Some(e.golfer) == view.model.people.golfer) else {
        if ui.button("Remove for good…").clicked() {
            send(view, ErasingMessage::Ask);
        }
        return;
    };
    let Some(plan) = erasing.plan.clone() else {
        reading_ui(view, ui, "Looking at what would go along…");
        return;
    };
    let text = format!(
        "{} goes with {} and {}, and no undo brings them back.",
        golfer.name,
        words::counted(plan.sessions, "session"),
        words::counted(plan.swings, "swing"),
    );
    ui.add(egui::Label::new(text).wrap());
    if !plan.recordings.is_empty() {
        let mut files = erasing.files;
        let text =
            format!("and {} from the disk", words::counted(plan.recordings.len(), "recording"));
        let names: Vec<_> = plan.recordings.iter().map(|p| p.display().to_string()).collect();
        if edged(ui, |ui| ui.checkbox(&mut files, text)).on_hover_text(names.join("\n")).changed() {
            send(view, ErasingMessage::Files(files));
        }
    }
    if !plan.backups.is_empty() {
        let text = format!(
            "{} beside the library may still hold this golfer; remove them by hand.",
            words::counted(plan.backups.len(), "backup")
        );
        small(view, ui, text);
    }
    ui.horizontal(|ui| {
        if ui.button("Remove for good").clicked() {
            send(view, ErasingMessage::Erase);
        }
        if ui.button("Keep").on_hover_text("The golfer stays").clicked() {
            send(view, ErasingMessage::Spare);
        }
    });
}

fn session_ui(view: &mut View, ui: &mut Ui) {
    ui.label(RichText::new("Session").text_style(strong()));
    let Some(outline) = view.model.notebook.outline.clone() else { return };
    let here = view.model.people.session;
    let current = here.and_then(|id| outline.session(id)).cloned();
    ui.horizontal(|ui| {
        let text = current.as_ref().map_or("Choose".into(), |s| day_words(s.session.date));
        let menu = ui.menu_button(text, |ui| {
            for session in &outline.sessions {
                let text = format!(
                    "{}, {}",
                    day_words(session.session.date),
                    swings_words(session.swings)
                );
                if ui.selectable_label(here == Some(session.id), text).clicked() {
                    view.send(SwingMessage::ChooseSession(session.id));
                    ui.close();
                }
            }
        });
        menu.response.on_hover_text("Another session");
        if ui.button("New session").clicked() {
            view.send(SwingMessage::AddSession);
        }
    });
    let Some(session) = current.map(|s| s.session) else { return };
    ui.add_space(8.0);
    named_field_ui(view, ui, PlanField::Date, "Day, as 2026-05-31", &session.date.to_string(), 1);
    named_field_ui(view, ui, PlanField::Place, "Place", &session.place, 1);
    small(view, ui, "Played from");
    let surfaces = [(Surface::Turf, "turf"), (Surface::Mat, "mat")];
    if let Some(surface) = choices(ui, &surfaces, session.surface) {
        send(view, PeopleMessage::Surface(surface));
    }
    small(view, ui, "Lie of the ground, toward the target");
    let lies = [(Lie::Level, "level"), (Lie::Up, "uphill"), (Lie::Down, "downhill")];
    if let Some(lie) = choices(ui, &lies, session.lie) {
        send(view, PeopleMessage::Lie(lie));
    }
    named_field_ui(view, ui, PlanField::Camera, "Camera: where it stood", &session.camera, 2);
    named_field_ui(view, ui, PlanField::Cue, "Cue, in the coach's words", &session.cue, 2);
    named_field_ui(view, ui, PlanField::SessionNotes, "Notes on the session", &session.notes, 3);
}

fn blocks_ui(view: &mut View, ui: &mut Ui) {
    let Some(outline) = view.model.notebook.outline.clone() else { return };
    let here = view.model.people.session.and_then(|id| outline.session(id));
    let blocks = here.map(|s| s.blocks.clone()).unwrap_or_default();
    let page = &view.model.notebook.people;
    let known = page.swings.as_ref().filter(|(id, _)| Some(*id) == view.model.people.session);
    let swings = known.map(|(_, swings)| swings.clone()).unwrap_or_default();
    ui.horizontal(|ui| {
        ui.label(RichText::new("Blocks and swings").text_style(strong()));
        let hint = "A run of swings under one condition; new swings go into the newest";
        if ui.button("New block").on_hover_text(hint).clicked() {
            send(view, BlockMessage::Begin);
        }
    });
    picked_ui(view, ui, &blocks, &swings);
    for (row, name) in &blocks {
        let own: Vec<&Listed> = swings.iter().filter(|s| s.block == Some(row.id)).collect();
        block_ui(view, ui, row, name, &own);
    }
    let loose: Vec<&Listed> = swings.iter().filter(|s| s.block.is_none()).collect();
    if !loose.is_empty() {
        heading(ui, "In no block");
        swings_ui(view, ui, &loose, None);
    }
    if blocks.is_empty() && loose.is_empty() {
        small(
            view,
            ui,
            "No swings and no blocks yet. A drill run is a block too: start one under Drills.",
        );
    }
}

fn block_ui(view: &mut View, ui: &mut Ui, row: &BlockRow, name: &str, swings: &[&Listed]) {
    let colours = *view.colours();
    let frame = Frame::new()
        .fill(colours.raised)
        .stroke(Stroke::new(colours.stroke, colours.line))
        .corner_radius(8)
        .inner_margin(Margin::symmetric(8, 8));
    frame.show(ui, |ui| {
        ui.set_width(ui.available_width());
        let id = ui.make_persistent_id(("block", row.id.0));
        let first = view.model.notebook.people.running == Some(row.id);
        let state = CollapsingState::load_with_default_open(ui.ctx(), id, first);
        let mut is_turned = false;
        let mut head = state.show_header(ui, |ui| {
            is_turned = block_head_ui(view, ui, row, name, swings.len());
        });
        if is_turned {
            head.toggle();
        }
        head.body(|ui| {
            named_field_ui(
                view,
                ui,
                PlanField::BlockCue(row.id),
                "Cue of this block",
                &row.block.cue,
                1,
            );
            swings_ui(view, ui, swings, Some(row.id));
            remove_ui(view, ui, row.id);
        });
    });
    ui.add_space(4.0);
}

/// A block in one row; whether its number of swings was clicked, which folds them out or in.
fn block_head_ui(view: &mut View, ui: &mut Ui, row: &BlockRow, name: &str, swings: usize) -> bool {
    let phases = [
        (Phase::Plain, "no phase"),
        (Phase::Before, "before"),
        (Phase::After, "after"),
        (Phase::Later, "days later"),
    ];
    let balls = [(BallUse::WithBall, "with ball"), (BallUse::WithoutBall, "without ball")];
    ui.horizontal_wrapped(|ui| {
        // The title gives way so that all stands in one row.
        let high = ui.spacing().interact_size.y;
        let title = (ui.available_width() - 17.0 * high).clamp(4.0 * high, 7.0 * high);
        sized_field(view, ui, title, PlanField::BlockTitle(row.id), "Title", &row.block.title);
        let club = row.block.club.as_ref().map_or("", |c| c.0.as_str());
        sized_field(view, ui, 2.3 * high, PlanField::BlockClub(row.id), "Club", club);
        let word = |all: &[(Phase, &'static str)]| {
            all.iter().find(|(p, _)| *p == row.block.phase).map_or("", |(_, w)| *w)
        };
        ui.menu_button(word(&phases), |ui| {
            for (phase, name) in phases {
                if ui.selectable_label(phase == row.block.phase, name).clicked() {
                    send(view, BlockMessage::Phase(row.id, phase));
                    ui.close();
                }
            }
        });
        let ball = balls.iter().find(|(b, _)| *b == row.block.ball).map_or("", |(_, w)| *w);
        ui.menu_button(ball, |ui| {
            for (ball, name) in balls {
                if ui.selectable_label(ball == row.block.ball, name).clicked() {
                    send(view, BlockMessage::Ball(row.id, ball));
                    ui.close();
                }
            }
        });
        running_ui(view, ui, row.id);
        let says = format!("{name}: {}", swings_words(swings));
        let count = egui::Label::new(swings_words(swings)).selectable(false).extend();
        let count = ui.add(count.sense(egui::Sense::click()));
        count.widget_info(|| WidgetInfo::labeled(Role::Button, true, &says));
        count.clicked()
    })
    .inner
}

fn sized_field(view: &mut View, ui: &mut Ui, width: f32, field: PlanField, name: &str, kept: &str) {
    ui.allocate_ui(vec2(width, ui.spacing().interact_size.y), |ui| {
        ui.set_width(width);
        field_ui(view, ui, field, name, kept, 1);
    });
}

fn running_ui(view: &mut View, ui: &mut Ui, id: BlockId) {
    let is_running = view.model.notebook.people.running == Some(id);
    let mut running = is_running;
    let hint = "New swings of this session go into this block";
    let tick = edged(ui, |ui| ui.checkbox(&mut running, "new swings here"));
    if tick.on_hover_text(hint).clicked() {
        send(view, BlockMessage::Run((!is_running).then_some(id)));
    }
}

fn remove_ui(view: &mut View, ui: &mut Ui, id: BlockId) {
    if ui
        .button("Take the block away")
        .on_hover_text("Its swings stay; undo brings it back")
        .clicked()
    {
        send(view, BlockMessage::Remove(id));
    }
}

/// What is done with the picked swings.
fn picked_ui(view: &mut View, ui: &mut Ui, blocks: &[(BlockRow, String)], swings: &[Listed]) {
    let page = &view.model.notebook.people;
    let n = swings.iter().filter(|s| page.picked.contains(&s.id)).count();
    if n == 0 {
        small(view, ui, "Pick swings to tag them, move them, or leave them out.");
        return;
    }
    let left_out = swings.iter().any(|s| page.picked.contains(&s.id) && s.left_out.is_some());
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new(format!("{n} picked")).text_style(strong()));
        ui.menu_button("Move to…", |ui| {
            for (row, name) in blocks {
                if ui.button(name).clicked() {
                    send(view, PickedMessage::Move(Some(row.id)));
                    ui.close();
                }
            }
            if ui.button("no block").clicked() {
                send(view, PickedMessage::Move(None));
                ui.close();
            }
        });
        tags_ui(view, ui);
        sized_field(view, ui, 170.0, PlanField::Reason, "Reason to leave out", "");
        if ui.button("Leave out").on_hover_text("Not counted, never deleted").clicked() {
            send(view, PickedMessage::LeaveOut);
        }
        if left_out && ui.button("Count again").clicked() {
            send(view, PickedMessage::Count);
        }
        if ui.button("Pick none").clicked() {
            send(view, PickedMessage::None);
        }
    });
}

fn tags_ui(view: &mut View, ui: &mut Ui) {
    ui.menu_button("Tag…", |ui| {
        for tag in TAGS {
            if ui.button(tag).clicked() {
                send(view, PickedMessage::Tag(tag.into()));
                ui.close();
            }
        }
        ui.separator();
        let draft = view.model.notebook.people.draft.clone();
        let own = draft.filter(|(f, _)| *f == PlanField::Tag).map(|(_, text)| text);
        let mut text = own.clone().unwrap_or_default();
        let edit = TextEdit::singleline(&mut text).hint_text("another word").desired_width(130.0);
        let response = ui.add(edit).accessible_name("Another tag");
        if response.changed() {
            send(view, PeopleMessage::Typed(PlanField::Tag, text.clone()));
        }
        if response.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter)) {
            send(view, PickedMessage::Tag(text));
            ui.close();
        }
    });
}

fn swings_ui(view: &mut View, ui: &mut Ui, swings: &[&Listed], block: Option<BlockId>) {
    if swings.is_empty() {
        small(view, ui, "No swings in it yet.");
        return;
    }
    if ui.button("Pick all").clicked() {
        send(view, PickedMessage::Block(block));
    }
    for swing in swings {
        swing_ui(view, ui, swing);
    }
}

fn swing_ui(view: &mut View, ui: &mut Ui, swing: &Listed) {
    let unit = view.model.settings.unit;
    let colours = *view.colours();
    ui.horizontal(|ui| {
        let mut picked = view.model.notebook.people.picked.contains(&swing.id);
        let name = format!("Pick swing {}", swing.number);
        if edged(ui, |ui| ui.checkbox(&mut picked, "")).accessible_name(name).changed() {
            send(view, PickedMessage::Pick(swing.id, picked));
        }
        let ink = if swing.left_out.is_some() { colours.quiet } else { colours.text };
        ui.label(RichText::new(format!("{:>2}", swing.number)).text_style(strong()).color(ink));
        let start = swing.offsets.measured(Quantity::DivotStart);
        let told = match (start, swing.offsets.contact_order) {
            (Some(start), _) => words_for_offset(&state(start), unit),
            (None, Some(order)) => words::contact_order(order).into(),
            (None, None) => "no number yet".into(),
        };
        let club = swing.offsets.club.as_ref().map_or("", |c| c.0.as_str());
        // Wide enough for any of them, so that notes begin at one place.
        let wide = 13.5 * TextStyle::Body.resolve(ui.style()).size;
        let size = vec2(wide, ui.spacing().interact_size.y);
        ui.allocate_ui_with_layout(size, Layout::left_to_right(Align::Center), |ui| {
            ui.set_min_width(wide);
            let told = RichText::new(told).color(ink);
            match start {
                Some(_) => swing_link(view, ui, told, (swing.id, Quantity::DivotStart.into())),
                None => drop(ui.label(told)),
            }
            small(view, ui, club);
        });
        let mut said: Vec<String> = swing.tags.clone();
        said.extend(clearance_of(&swing.offsets, unit));
        said.extend(swing.left_out.as_ref().map(|why| format!("left out: {why}")));
        if !said.is_empty() {
            small(view, ui, said.join(", "));
        }
        let room = ui.available_width();
        if room > 90.0 {
            sized_field(
                view,
                ui,
                room - 8.0,
                PlanField::SwingNotes(swing.id),
                "Notes",
                &swing.notes,
            );
        }
    });
}
