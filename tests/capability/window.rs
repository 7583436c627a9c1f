//! The main job in the window: open, calibrate, mark, correct, undo, and it is there tomorrow.
//!
//! The real window is driven by the names of its controls; jobs run on their real threads,
//! and conditions are waited for.

use std::path::{Path, PathBuf};
use std::time::Duration;

use eframe::egui::{self, accesskit::Role};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use scuffline::app::{
    Chapter, FileMessage, MarkMessage, MarkName, Message, Model, NotebookMessage, Options, Page,
    ScreenMessage, SendMessage, SettingsMessage, SetupMessage, Sheet, SwingMessage, Theme, Tool,
};
use scuffline::domain::{
    ContactOrder, GroundAnswer, GroundMark, LengthUnit, Millimetres, ReferenceKind, Reviewable,
    SwingNumber, SwingResult,
};
use scuffline::report::csv;
use scuffline::store::{Library, Of};
use scuffline::workflow::send::Form;
use scuffline::workflow::{state, words_for_offset};

use crate::screens::has_come;
use crate::support::window::{Driven, drive, model, until};
use crate::support::{meadow, sample};

fn open(library: &Path, files: &[PathBuf]) -> Driven {
    let library = Some(library.to_path_buf());
    drive(Harness::builder(), Options { library, files: files.to_vec(), sample: false })
}

/// Where a point of the 1280 x 720 picture lies on the screen: of all of it, or close up.
fn on_screen(driven: &Driven, [x, y]: [f64; 2]) -> egui::Pos2 {
    let rect = driven.get_by_label_contains("Picture, frame").rect();
    let fit = (f64::from(rect.width()) / 1280.0).min(f64::from(rect.height()) / 720.0);
    let close = model(driven).viewport;
    let (middle, scale) = match close.scale {
        Some(scale) => ([close.centre.x, close.centre.y], scale),
        None => ([639.5, 359.5], fit),
    };
    rect.center() + egui::vec2(((x - middle[0]) * scale) as f32, ((y - middle[1]) * scale) as f32)
}

fn click_picture(driven: &mut Driven, point: [f64; 2]) {
    let at = on_screen(driven, point);
    driven.hover_at(at);
    driven.step();
    driven.drag_at(at);
    driven.step();
    driven.drop_at(at);
    driven.run_ok();
}

fn key(driven: &mut Driven, key: egui::Key) {
    driven.key_press(key);
    driven.run_ok();
}

fn result(model: &Model) -> Option<&SwingResult> {
    model.current_swing()?.result.as_deref()
}

#[test]
fn a_recording_without_a_swing_can_be_looked_at_and_given_one() {
    let folder = tempfile::tempdir().unwrap();
    let library = folder.path().join("library.scuffline");
    let mut driven = opened(&library);
    let path = folder.path().join("meadow.mp4");
    meadow(&path, 320, 240);
    driven.state_mut().as_mut().unwrap().handle(FileMessage::Import(vec![path]));
    until(&mut driven, "the recording", |m| {
        m.queue.is_empty() && m.without_swing().len() == 1 && m.current.is_some()
    });
    driven.get_by_label("No swing found in meadow.mp4").click();
    until(&mut driven, "its picture", |m| {
        m.current.is_none() && m.open.as_ref().is_some_and(|open| open.shown.is_some())
    });
    assert!(driven.query_by_label("No swing found in meadow.mp4").is_none());
    let meadow = model(&driven).open.as_ref().unwrap().id;
    driven.key_press_modifiers(egui::Modifiers::SHIFT, egui::Key::S);
    until(&mut driven, "its swing", |m| {
        m.swings.len() == 2 && m.current_swing().is_some_and(|s| s.recording == Some(meadow))
    });
    assert!(model(&driven).without_swing().is_empty());
}

/// Opens `iron_turf_sheet.mp4` in a fresh library and puts the guide away.
fn opened(library: &Path) -> Driven {
    let mut driven = open(library, &[sample("iron_turf_sheet.mp4")]);
    until(&mut driven, "the guide", |m| m.sheet == Some(Sheet::Guide(0)));
    driven.get_by_label("Put away").click();
    until(&mut driven, "the recording", |m| {
        m.sheet.is_none()
            && m.queue.is_empty()
            && m.open.as_ref().is_some_and(|o| o.shown.is_some())
    });
    driven
}

fn mark_everything(driven: &mut Driven) {
    // The sheet's corners, ball and mark as the truth file of the recording gives them.
    key(driven, egui::Key::Num1);
    driven.get_by_label("A4 sheet").click();
    driven.run_ok();
    for corner in [[835.62, 644.25], [986.46, 638.28], [959.21, 605.86], [817.20, 611.20]] {
        click_picture(driven, corner);
    }
    until(driven, "the sheet to be saved", |m| {
        m.edits == m.edits_seen
            && m.open.as_ref().is_some_and(|open| !open.setup.references.is_empty())
    });
    for (number, point) in [
        (egui::Key::Num2, [660.19, 592.00]),
        (egui::Key::Num3, [651.65, 601.68]),
        (egui::Key::Num4, [739.41, 599.66]),
    ] {
        key(driven, number);
        click_picture(driven, point);
        until(driven, "the mark to be saved", |m| {
            m.edits == m.edits_seen && m.current_swing().is_some()
        });
    }
}

#[test]
fn the_main_job_from_opening_to_tomorrow() {
    let folder = tempfile::tempdir().unwrap();
    let library = folder.path().join("library.scuffline");
    let mut driven = opened(&library);
    mark_everything(&mut driven);
    until(&mut driven, "the result", |m| result(m).is_some_and(|r| r.divot_end_offset.is_some()));
    let first = result(model(&driven)).unwrap().clone();
    // Truth: the divot starts 18.3 mm behind the ball and ends 167.6 mm ahead of it.
    let start = first.divot_start_offset.as_ref().unwrap();
    assert!((start.value + 18.3).abs() < 4.0, "{}", start.value);
    let end = first.divot_end_offset.as_ref().unwrap();
    assert!((end.value - 167.6).abs() < 8.0, "{}", end.value);
    // 12 ± 4 mm (standard) of lead: 18 mm behind is too close to call, or turf first.
    assert!(matches!(first.contact_order, Some(ContactOrder::TooClose | ContactOrder::TurfFirst)));
    // What makes it wide is said, and where the camera stands.
    assert!(driven.query_by_label_contains("The target line is taken as level").is_some());
    key(&mut driven, egui::Key::Num1);
    assert!(driven.query_by_label_contains("m high").is_some());
    assert!(driven.query_by_label_contains("The marks of the sheet fit within").is_some());
    // A sheet clicked by hand lies on the grass tips as one that was found does.
    let references = &model(&driven).open.as_ref().unwrap().setup.references;
    assert_eq!(references[0].height, Millimetres(5.0));
    key(&mut driven, egui::Key::Escape);
    // The number is on the screen in words.
    assert!(driven.query_by_label_contains("Budget of divot start, 1").is_some());
    // On the range display, too, a click on it shows the budget.
    key(&mut driven, egui::Key::F11);
    driven.get_by_label_contains("Budget of divot start, 1").click();
    driven.run_ok();
    assert!(matches!(model(&driven).sheet, Some(Sheet::Budget(_))));
    key(&mut driven, egui::Key::Escape);
    key(&mut driven, egui::Key::F11);

    // Correct the start by ten pixels with the keyboard: it moves by as much.
    key(&mut driven, egui::Key::Escape);
    driven.get_by_label_contains("Divot start, by hand").click();
    driven.run_ok();
    assert_eq!(model(&driven).selected, Some(MarkName::DivotStart));
    let before = model(&driven).mark(MarkName::DivotStart).unwrap().mark.point;
    for _ in 0..10 {
        driven.key_press_modifiers(egui::Modifiers::SHIFT, egui::Key::ArrowRight);
        driven.run_ok();
    }
    key(&mut driven, egui::Key::ArrowRight);
    let after = model(&driven).mark(MarkName::DivotStart).unwrap().mark.point;
    assert!((after.x - before.x - 10.1).abs() < 1e-6, "{before:?} {after:?}");
    until(&mut driven, "the corrected result", |m| m.edits == m.edits_seen);
    let moved = result(model(&driven)).unwrap().divot_start_offset.as_ref().unwrap().value;
    assert!((moved - start.value - 21.0).abs() < 3.0, "{moved}");

    // Undo takes back each step, and redo does it again.
    for _ in 0..11 {
        driven.get_by_label("Undo").click();
        driven.run_ok();
        until(&mut driven, "undo", |m| m.edits == m.edits_seen);
    }
    let back = result(model(&driven)).unwrap().divot_start_offset.as_ref().unwrap().value;
    assert!((back - start.value).abs() < 1e-9);
    driven.get_by_label("Redo").click();
    driven.run_ok();
    until(&mut driven, "redo", |m| m.edits == m.edits_seen);
    assert!(model(&driven).history.redo.is_some());

    // Tomorrow: another window on the same library shows the same marks.
    let shown: Vec<_> = model(&driven).marks();
    drop(driven);
    let mut again = open(&library, &[]);
    until(&mut again, "the library", |m| {
        m.open.as_ref().is_some_and(|o| o.shown.is_some() && !o.setup.references.is_empty())
    });
    assert_eq!(model(&again).sheet, None);
    assert!(model(&again).settings.guide_dismissed);
    assert_eq!(model(&again).marks(), shown);
    let references = &model(&again).open.as_ref().unwrap().setup.references;
    assert!(matches!(references[0].kind, ReferenceKind::Sheet { .. }));
}

#[test]
fn what_was_done_last_is_kept_however_quickly_the_window_is_closed() {
    let folder = tempfile::tempdir().unwrap();
    let library = folder.path().join("library.scuffline");
    let mut driven = open(&library, &[]);
    until(&mut driven, "the settings", |m| m.sheet == Some(Sheet::Guide(0)));
    let window = driven.state_mut().as_mut().unwrap();
    window.handle(SettingsMessage::SetTheme(Theme::Sun));
    window.handle(ScreenMessage::Typed(scuffline::app::Field::Golfer, "Lee Example".into()));
    window.handle(SwingMessage::AddGolfer);
    drop(driven);
    let kept = Library::open(&library).unwrap();
    assert!(kept.setting("window").unwrap().unwrap().contains("\"sun\""));
    assert_eq!(kept.golfers().unwrap()[0].1.name, "Lee Example");
}

#[test]
fn a_lens_is_found_from_straight_edges() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven = opened(&folder.path().join("library.scuffline"));
    let edges = |m: &Model| m.open.as_ref().map_or(0, |o| o.setup.straight_edges.len());
    for (n, y) in [(1, 60.0), (2, 160.0)] {
        key(&mut driven, egui::Key::W);
        for x in [100.0, 640.0] {
            click_picture(&mut driven, [x, y]);
        }
        // Two points make no edge.
        key(&mut driven, egui::Key::Enter);
        assert_eq!(edges(model(&driven)), n - 1);
        click_picture(&mut driven, [1180.0, y]);
        key(&mut driven, egui::Key::Enter);
        until(&mut driven, "the edge", |m| edges(m) == n && m.edits == m.edits_seen);
        assert_eq!(model(&driven).sheet, Some(Sheet::Lens));
        let title = format!("Edge {n}: 3 points");
        assert!(driven.query_by_label(&title).is_some(), "{title}");
        all_named(&driven, "lens");
        key(&mut driven, egui::Key::Escape);
    }
    until(&mut driven, "what the edges tell", |m| {
        m.open.as_ref().is_some_and(|o| o.standing.lenses.edges.is_some())
    });
    assert!(driven.query_by_label_contains("Lens, 2 straight edges").is_some());
}

fn saved(driven: &mut Driven) {
    until(driven, "what was done to be saved", |m| m.edits == m.edits_seen);
}

fn click(driven: &mut Driven, label: &str) {
    driven.get_by_label(label).click();
    driven.run_ok();
}

fn turn_to(driven: &mut Driven, chapter: Chapter) {
    driven.get_all_by_label(chapter.words()).next().expect("a tab").click();
    until(driven, chapter.words(), |m| m.page == Page::Notebook(chapter));
}

/// Open, calibrate, mark, correct, undo, compare, export, as a coach does it.
#[test]
fn the_whole_job_from_a_recording_to_the_table_that_is_passed_on() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven = opened(&folder.path().join("library.scuffline"));
    // Calibrate: the sheet was found, and is what it was taken for.
    until(&mut driven, "the sheet that is proposed", |m| m.proposed().is_some());
    click(&mut driven, "Yes, measure by it");
    until(&mut driven, "the sheet", |m| {
        m.edits == m.edits_seen && m.open.as_ref().is_some_and(|o| !o.setup.references.is_empty())
    });
    // Mark: the start of the divot anew, at its true place.
    key(&mut driven, egui::Key::Num3);
    click_picture(&mut driven, [651.65, 601.68]);
    saved(&mut driven);
    let start = |m: &Model| result(m)?.divot_start_offset.as_ref().map(|start| start.value);
    until(&mut driven, "the number", |m| start(m).is_some());
    let marked = start(model(&driven)).unwrap();
    // Correct by a nudge, and think better of it.
    driven.key_press_modifiers(egui::Modifiers::SHIFT, egui::Key::ArrowRight);
    driven.run_ok();
    saved(&mut driven);
    assert!(start(model(&driven)).unwrap() > marked + 1.0);
    click(&mut driven, "Undo");
    saved(&mut driven);
    assert!((start(model(&driven)).unwrap() - marked).abs() < 1e-9);
    // Compare: a second block of four swings against all of the session.
    click(&mut driven, "Notebook");
    turn_to(&mut driven, Chapter::People);
    until(&mut driven, "swings", |m| m.notebook.people.swings.is_some());
    click(&mut driven, "New block");
    saved(&mut driven);
    let more = Dropped(sample("iron_four_swings.mp4"));
    driven.input_mut().dropped_files.push(std::sync::Arc::new(more));
    driven.step();
    until(&mut driven, "four more swings", |m| m.queue.is_empty() && m.swings.len() == 5);
    turn_to(&mut driven, Chapter::Comparison);
    until(&mut driven, "a comparison", |m| m.notebook.comparison.found.is_some());
    assert!(driven.query_by_label_contains("The blocks on one ruler").is_some());
    // Export: nothing is written before somebody agreed.
    turn_to(&mut driven, Chapter::Send);
    let file = folder.path().join("table.csv");
    let message = SendMessage::Write(Form::Table, Some(file.clone()));
    driven.state_mut().as_mut().unwrap().handle(NotebookMessage::Send(message));
    driven.run_ok();
    assert!(model(&driven).notebook.send.waiting.is_some() && !file.exists());
    let field = driven.get_by_label("Who agreed, and when");
    field.focus();
    driven.run_ok();
    driven.get_by_label("Who agreed, and when").type_text("Kim herself, 14 May");
    driven.run_ok();
    click(&mut driven, "They agreed");
    until(&mut driven, "the table", |m| m.notebook.send.last.as_ref() == Some(&file));
    let table = csv::read(&std::fs::read_to_string(&file).unwrap()).unwrap();
    let first = table[0].swing.divot_start_mm.as_ref().unwrap();
    let result = model(&driven).swings[0].result.clone().unwrap();
    let measured = result.divot_start_offset.as_ref().unwrap();
    assert_eq!(first.words, words_for_offset(&state(measured), LengthUnit::Mm));
    assert_eq!(table.len(), 5);
}

#[test]
fn a_tee_is_marked_and_the_numbers_count_from_it() {
    let folder = tempfile::tempdir().unwrap();
    // A second file that isn't there leaves a notice on the screen.
    let files = [sample("driver_tee.mp4"), folder.path().join("missing.mp4")];
    let mut driven = open(&folder.path().join("library.scuffline"), &files);
    until(&mut driven, "the guide", |m| m.sheet == Some(Sheet::Guide(0)));
    click(&mut driven, "Put away");
    until(&mut driven, "swing and notice", |m| {
        m.queue.is_empty()
            && m.current_swing().is_some()
            && m.notices.len() == 1
            && m.open.as_ref().is_some_and(|o| o.shown.is_some())
    });
    let low = |m: &Model| result(m)?.low_point.as_ref().map(|(low, _)| low.value);
    let mut seen = Vec::new();
    // Where the truth file has the ground below the ball, and 40 pixels behind that.
    for x in [618.01, 578.01] {
        key(&mut driven, egui::Key::E);
        assert_eq!(model(&driven).tool, Tool::Place(MarkName::Tee));
        click_picture(&mut driven, [x, 585.51]);
        let tee = model(&driven).mark(MarkName::Tee).expect("the tee is marked").mark.point;
        assert!((tee.x - x).abs() < 1.0 && (tee.y - 585.51).abs() < 1.0, "{tee:?}");
        saved(&mut driven);
        seen.push(low(model(&driven)).expect("a low point"));
    }
    assert!(driven.query_by_label_contains("Tee, by hand").is_some());
    // Truth: 1.86 mm a pixel at the ball; the scale comes from the ball alone here.
    assert!((seen[1] - seen[0] - 40.0 * 1.86).abs() < 20.0, "{seen:?}");
}

#[test]
fn a_notice_hides_nothing_of_the_picture() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven = opened(&folder.path().join("library.scuffline"));
    let missing = FileMessage::Import(vec![folder.path().join("missing.mp4")]);
    driven.state_mut().as_mut().unwrap().handle(missing);
    until(&mut driven, "a notice", |m| m.notices.len() == 1);
    driven.run_ok();
    let picture = driven.get_by_label_contains("Picture, frame").rect();
    let text = model(&driven).notices[0].text.clone();
    for label in [text.as_str(), "OK"] {
        let rect = driven.get_by_label(label).rect();
        assert!(!rect.intersects(picture), "{label}: {rect:?} on {picture:?}");
    }
    click(&mut driven, "OK");
    assert!(model(&driven).notices.is_empty());
}

/// A file let go over the window.
#[derive(Debug)]
struct Dropped(PathBuf);

impl egui::DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        Err("the window opens files itself".into())
    }
}

#[test]
fn files_dropped_on_the_window_are_read() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven = open(&folder.path().join("library.scuffline"), &[]);
    until(&mut driven, "the settings", |m| m.sheet == Some(Sheet::Guide(0)));
    let file = Dropped(sample("iron_turf_sheet.mp4"));
    driven.input_mut().dropped_files.push(std::sync::Arc::new(file));
    driven.step();
    assert_eq!(model(&driven).queue.len(), 1);
    until(&mut driven, "the dropped recording", |m| m.queue.is_empty() && !m.swings.is_empty());
    assert_eq!(model(&driven).recordings.len(), 1);
    assert_eq!(model(&driven).settings.recent_files, [sample("iron_turf_sheet.mp4")]);
}

#[test]
fn files_that_are_no_recordings_get_their_sentence_and_change_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let library = folder.path().join("library.scuffline");
    let text = folder.path().join("notes.mp4");
    std::fs::write(&text, "not a video").unwrap();
    let cut = folder.path().join("cut.mp4");
    let whole = std::fs::read(sample("iron_turf_sheet.mp4")).unwrap();
    std::fs::write(&cut, &whole[..2000]).unwrap();
    let missing = folder.path().join("missing.mp4");
    let mut driven = open(&library, &[text, cut, missing]);
    until(&mut driven, "three notices", |m| {
        m.sheet.is_some() && m.queue.is_empty() && m.notices.len() == 3
    });
    let m = model(&driven);
    assert!(m.recordings.is_empty() && m.swings.is_empty() && m.people.golfers.is_empty());
    for notice in &m.notices {
        assert!(notice.text.ends_with(['.', '4']), "{}", notice.text);
    }
}

#[test]
fn every_sheet_and_page_can_be_reached_and_left_by_keys() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven = opened(&folder.path().join("library.scuffline"));
    for (pressed, sheet) in [
        (egui::Key::F1, Sheet::Keys),
        (egui::Key::Num1, Sheet::Reference),
        (egui::Key::C, Sheet::Chooser),
    ] {
        key(&mut driven, pressed);
        assert_eq!(model(&driven).sheet, Some(sheet));
        key(&mut driven, egui::Key::Escape);
        assert_eq!(model(&driven).sheet, None);
    }
    key(&mut driven, egui::Key::F11);
    assert!(driven.query_by_label("Watch a folder…").is_some());
    key(&mut driven, egui::Key::F11);
    assert!(driven.query_by_label_contains("Picture, frame").is_some());
    key(&mut driven, egui::Key::F10);
    assert!(driven.query_by_label("Comparison").is_some());
    key(&mut driven, egui::Key::Escape);
    assert!(driven.query_by_label_contains("Picture, frame").is_some());
}

#[test]
fn the_first_start_shows_the_invented_golfer() {
    let folder = tempfile::tempdir().unwrap();
    let library = folder.path().join("library.scuffline");
    let mut driven = drive(
        Harness::builder(),
        Options { library: Some(library), sample: true, ..Options::default() },
    );
    until(&mut driven, "the sample", |m| !m.swings.is_empty() && m.sheet == Some(Sheet::Guide(0)));
    let m = model(&driven);
    let (_, golfer) = &m.people.golfers[0];
    assert!(golfer.invented && golfer.name.contains("invented"));
    assert!(m.people.sessions.len() >= 2);
    driven.get_by_label("Put away").click();
    driven.run_ok();
    // His lesson: before against after, and a week later.
    key(&mut driven, egui::Key::F10);
    until(&mut driven, "the comparison", |m| m.notebook.comparison.found.is_some());
    assert!(driven.query_by_label_contains("The blocks on one ruler").is_some());
}

#[test]
fn a_file_being_read_can_be_stopped() {
    let folder = tempfile::tempdir().unwrap();
    let library = folder.path().join("library.scuffline");
    let path = sample("iron_four_swings.mp4");
    let mut driven = open(&library, std::slice::from_ref(&path));
    until(&mut driven, "the file in the queue", |m| !m.queue.is_empty());
    let window = driven.state_mut().as_mut().unwrap();
    window.handle(FileMessage::CancelImport(path));
    until(&mut driven, "the queue to be empty", |m| m.queue.is_empty());
    assert!(model(&driven).recordings.is_empty());
}

#[test]
fn stepping_shows_the_frame_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven = opened(&folder.path().join("library.scuffline"));
    let shown = |m: &Model| m.open.as_ref().and_then(|o| o.shown.as_ref()).map(|(f, _)| f.0);
    let start = shown(model(&driven)).unwrap();
    key(&mut driven, egui::Key::Period);
    until(&mut driven, "the next frame", |m| shown(m) == Some(start + 1));
    driven.get_by_label("Previous frame").click();
    until(&mut driven, "the frame before", |m| shown(m) == Some(start));
    key(&mut driven, egui::Key::End);
    until(&mut driven, "the last frame", |m| shown(m) == Some(311));
    driven.get_by_label_contains("Picture, frame 311 of 311");
}

/// What a person can operate.
const OPERATED: [Role; 9] = [
    Role::Button,
    Role::CheckBox,
    Role::RadioButton,
    Role::Slider,
    Role::SpinButton,
    Role::TextInput,
    Role::ComboBox,
    Role::ListItem,
    Role::Canvas,
];

/// Every control on the screen has a name, and can be reached with the keyboard.
fn all_named(driven: &Driven, screen: &str) {
    let mut seen = 0;
    for node in driven.root().children_recursive() {
        let node = node.accesskit_node();
        if !OPERATED.contains(&node.role()) || node.is_hidden() {
            continue;
        }
        seen += 1;
        let name = node.label().or_else(|| node.value()).unwrap_or_default();
        let words = name.chars().filter(|c| c.is_alphanumeric()).count();
        assert!(words > 1, "{screen}: a {:?} has no name, only {name:?}", node.role());
        let reached = node.data().supports_action(egui::accesskit::Action::Focus);
        assert!(reached || node.is_disabled(), "{screen}: {name} can't be reached by keyboard");
    }
    assert!(seen > 3, "{screen}: hardly anything to operate ({seen})");
}

#[test]
fn every_control_has_a_name_and_can_be_reached_by_keyboard() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven = opened(&folder.path().join("library.scuffline"));
    all_named(&driven, "picture");
    for (keys, screen) in [
        (egui::Key::Num1, "reference objects"),
        (egui::Key::C, "golfers and sessions"),
        (egui::Key::F1, "keys"),
        (egui::Key::F9, "side by side"),
        (egui::Key::F10, "comparison"),
        (egui::Key::F11, "range"),
    ] {
        key(&mut driven, keys);
        all_named(&driven, screen);
        key(&mut driven, egui::Key::Escape);
    }
    for (sheet, screen) in
        [(Sheet::Guide(0), "guide"), (Sheet::Settings, "settings"), (Sheet::Lens, "lens")]
            .into_iter()
            .chain(SwingNumber::ALL.map(|number| (Sheet::Budget(number), "budget")))
    {
        driven.state_mut().as_mut().unwrap().handle(ScreenMessage::Open(sheet));
        driven.run_ok();
        all_named(&driven, screen);
        key(&mut driven, egui::Key::Escape);
    }
}

#[test]
fn every_control_of_the_notebook_has_a_name_and_can_be_reached_by_keyboard() {
    let folder = tempfile::tempdir().unwrap();
    let library = Some(folder.path().join("library.scuffline"));
    let options = Options { library, files: Vec::new(), sample: true };
    let mut driven = drive(Harness::builder(), options);
    until(&mut driven, "the invented golfer", |m| {
        m.sheet == Some(Sheet::Guide(0)) && m.people.session.is_some()
    });
    key(&mut driven, egui::Key::Escape);
    key(&mut driven, egui::Key::F8);
    for chapter in Chapter::ALL {
        until(&mut driven, "the chapter", |m| {
            m.page == Page::Notebook(chapter)
                && m.notebook.outline.is_some()
                && has_come(m, chapter)
        });
        all_named(&driven, chapter.words());
        driven.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::PageDown);
        driven.run_ok();
    }
    // Past the last one it stays there; the other key turns back.
    driven.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::PageUp);
    driven.run_ok();
    assert_eq!(model(&driven).page, Page::Notebook(Chapter::Tape));
}

/// What the person answers for the ground is measured by, undone like any edit, and kept.
#[test]
fn no_mark_and_could_not_look_are_answered_by_hand() {
    let folder = tempfile::tempdir().unwrap();
    let library = folder.path().join("library.scuffline");
    let mut driven = opened(&library);
    until(&mut driven, "its numbers", |m| {
        result(m).is_some_and(|r| r.ground_mark == Some(GroundMark::Divot))
    });
    assert!(driven.query_by_label_contains("Divot start, ").is_some());
    key(&mut driven, egui::Key::M);
    until(&mut driven, "no mark", |m| {
        m.edits == m.edits_seen
            && result(m).is_some_and(|r| r.ground_mark == Some(GroundMark::None))
    });
    assert!(driven.query_by_label("Ground, no mark, by hand").is_some());
    assert!(driven.query_by_label_contains("Divot start, ").is_none());
    let review = result(model(&driven)).unwrap().needs_review.clone();
    assert!(!review.contains(&Reviewable::DivotStart), "{review:?}");
    // What comes in from the worker meanwhile may take the pointer away: the menu is opened again.
    for _ in 0..20 {
        if driven.query_by_label_contains("Could not look").is_some() {
            break;
        }
        driven.get_by_label("Ground, no mark, by hand").click();
        driven.run_ok();
    }
    driven.get_by_label_contains("Could not look").click();
    until(&mut driven, "could not look", |m| {
        m.edits == m.edits_seen && result(m).is_some_and(|r| r.ground_mark.is_none())
    });
    assert!(driven.query_by_label("could not look").is_some());
    for seen in [Some(GroundMark::None), Some(GroundMark::Divot)] {
        key(&mut driven, egui::Key::U);
        until(&mut driven, "undone", |m| {
            m.edits == m.edits_seen && result(m).is_some_and(|r| r.ground_mark == seen)
        });
    }
    key(&mut driven, egui::Key::R);
    saved(&mut driven);
    drop(driven);
    let library = Library::open(&library).unwrap();
    let golfer = library.golfers().unwrap()[0].0;
    let session = library.sessions(golfer).unwrap()[0].id;
    let swing = library.swings(Of::Session(session)).unwrap().remove(0);
    assert_eq!(swing.ground, Some(GroundAnswer::None));
}

/// The name of the control that has the keyboard's focus.
fn focused(driven: &Driven) -> Option<String> {
    let node = driven.root().children_recursive().find(|node| node.is_focused())?;
    node.accesskit_node().label()
}

#[test]
fn the_keyboard_goes_round_all_controls_and_comes_back() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven = opened(&folder.path().join("library.scuffline"));
    until(&mut driven, "the sheet to be proposed", |m| m.proposed().is_some());
    let mut reached = Vec::<String>::new();
    while reached.iter().filter(|name| *name == "Blink").count() < 2 {
        driven.key_press(egui::Key::Tab);
        driven.run_ok();
        reached.extend(focused(&driven));
        assert!(reached.len() < 150, "never back at the start: {reached:?}");
    }
    for wanted in ["Open…", "Notebook", "Range", "Look", "Help", "Next frame", "Blink", "Frame"] {
        assert!(reached.iter().any(|name| name == wanted), "{wanted} was not reached: {reached:?}");
    }
}

#[test]
fn the_focus_stays_where_it_is_while_rows_come_and_go_above_it() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven = opened(&folder.path().join("library.scuffline"));
    until(&mut driven, "the sheet to be proposed", |m| m.proposed().is_some());
    for name in ["Divot end, 95 % sure", "More marks and set-up"] {
        driven.get_by_label(name).focus();
        driven.run_ok();
        assert_eq!(focused(&driven).as_deref(), Some(name));
        for message in [
            Message::from(SetupMessage::DismissReference),
            MarkMessage::Choose(Tool::Place(MarkName::LeadHeel)).into(),
        ] {
            driven.state_mut().as_mut().unwrap().handle(message);
            driven.run_ok();
            assert_eq!(focused(&driven).as_deref(), Some(name));
        }
    }
}

/// From dropping a recording to a session in which nothing is open, by keys.
#[test]
fn confirming_a_session_takes_at_most_two_keys_a_swing() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven =
        open(&folder.path().join("library.scuffline"), &[sample("iron_four_swings.mp4")]);
    until(&mut driven, "the guide", |m| m.sheet == Some(Sheet::Guide(0)));
    driven.get_by_label("Put away").click();
    until(&mut driven, "the swings", |m| m.queue.is_empty() && m.current.is_some());
    let swings = model(&driven).swings.len();
    assert_eq!(swings, 4);
    let mut presses = 0;
    while model(&driven).open_count() > 0 {
        assert!(presses < 2 * swings, "{presses} keys, {} open", model(&driven).open_count());
        key(&mut driven, egui::Key::Enter);
        presses += 1;
        until(&mut driven, "the library", |m| m.edits == m.edits_seen);
    }
    assert!(driven.query_by_label("All 4 looked at").is_some());
}

#[test]
fn two_swings_of_a_recording_stand_side_by_side() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven =
        open(&folder.path().join("library.scuffline"), &[sample("iron_four_swings.mp4")]);
    until(&mut driven, "the guide", |m| m.sheet == Some(Sheet::Guide(0)));
    driven.get_by_label("Put away").click();
    until(&mut driven, "swings as they are found", |m| {
        m.queue.front().is_some_and(|item| !item.found.is_empty())
    });
    assert!(driven.query_by_label_contains("Found so far").is_some());
    until(&mut driven, "the swings", |m| m.queue.is_empty() && !m.swings.is_empty());
    until(&mut driven, "the picture", |m| m.open.as_ref().is_some_and(|o| o.shown.is_some()));
    driven.get_by_label("Side by side").click();
    until(&mut driven, "both pictures", |m| m.beside.shown.is_some());
    let strike = |m: &Model, id| {
        let swing = m.swings.iter().find(|s| Some(s.id) == id).unwrap();
        swing.result.as_ref().unwrap().strike_frame.unwrap().0
    };
    let m = model(&driven);
    assert_eq!(m.open.as_ref().unwrap().frame.0, strike(m, m.current));
    let other = strike(m, m.beside.swing);
    assert_eq!(m.beside.shown.as_ref().unwrap().0.0, other);
    // Both step; then the other alone is moved to line up another instant.
    driven.get_by_label("Next frame of both").click();
    until(&mut driven, "a step", |m| m.beside.shown.as_ref().unwrap().0.0 == other + 1);
    driven.get_by_label("The other one frame on").click();
    until(&mut driven, "a shift", |m| m.beside.shown.as_ref().unwrap().0.0 == other + 2);
    assert!(driven.query_by_label("1 frame later").is_some());
    driven.get_by_label("One over the other").click();
    driven.run_ok();
    assert!(driven.query_by_label("How much of the other is seen").is_some());
    key(&mut driven, egui::Key::Escape);
    assert_eq!(model(&driven).page, Page::Measure);
}

#[test]
fn the_pointer_on_a_bar_shows_the_ground_of_its_swing() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven = opened(&folder.path().join("library.scuffline"));
    let id = model(&driven).swings[0].id;
    // What the panel says of the ground moves the bars below it.
    until(&mut driven, "the ground", |m| m.ground().is_some());
    driven.run_ok();
    let bar = driven.get_by_label_contains("Swing 1: ").rect().center();
    driven.hover_at(bar);
    until(&mut driven, "the small look", |m| {
        m.glances.get(&id).is_some_and(|glance| glance.picture.is_some())
    });
    driven.run_ok();
    // It stands beside the bars and leaves all of them in sight.
    let said = |driven: &Driven| -> Vec<egui::Rect> {
        driven.query_all_by_label_contains("Swing 1: ").map(|node| node.rect()).collect()
    };
    let look = said(&driven).into_iter().find(|rect| !rect.contains(bar)).expect("its words");
    let bars = driven.query_all(egui_kittest::kittest::by().role(Role::ListItem));
    assert!(bars.map(|node| node.rect()).all(|bar| !bar.intersects(look)), "{look:?}");
    // A click opens the swing.
    driven.state_mut().as_mut().unwrap().handle(SwingMessage::StepSwing(0));
    driven.drag_at(bar);
    driven.step();
    driven.drop_at(bar);
    driven.run_ok();
    assert_eq!(model(&driven).current, Some(id));
}

#[test]
fn the_window_and_its_panel_are_as_they_were_left() {
    let folder = tempfile::tempdir().unwrap();
    let library = folder.path().join("library.scuffline");
    let mut driven = opened(&library);
    driven.set_size(egui::vec2(1100.0, 700.0));
    for _ in 0..40 {
        driven.step();
    }
    let kept = |m: &Model| m.settings.window.map(|window| window.size);
    assert_eq!(kept(model(&driven)), Some([1100.0, 700.0]));
    // The panel's edge is drawn to the left.
    let edge = driven.get_by_label_contains("Picture, frame").rect().right();
    let grip = driven.get_by_label("Resize panel").rect().center();
    // Its inner side: the outer one belongs to the picture.
    let at = |by: f32| egui::pos2(grip.x + 2.0 - by, 300.0);
    driven.hover_at(at(0.0));
    driven.step();
    driven.drag_at(at(0.0));
    driven.step();
    for by in [15.0, 30.0, 40.0] {
        driven.hover_at(at(by));
        driven.step();
    }
    driven.drop_at(at(40.0));
    driven.run_ok();
    let panel = model(&driven).settings.panel.expect("the panel was drawn wider");
    let narrower = driven.get_by_label_contains("Picture, frame").rect().right();
    assert!((edge - narrower - 40.0).abs() < 4.0, "{edge} {narrower}");
    drop(driven);
    // The library's thread keeps the settings after the window is gone.
    let end = std::time::Instant::now() + Duration::from_secs(60);
    let text = format!("\"panel\":{panel:?}");
    let kept = || Library::open(&library).ok()?.setting("window").ok()?;
    while !kept().is_some_and(|kept| kept.contains(&text)) {
        assert!(std::time::Instant::now() < end, "{text} was not kept: {:?}", kept());
        std::thread::sleep(Duration::from_millis(20));
    }
    let mut again = open(&library, &[]);
    until(&mut again, "the settings", |m| m.ready);
    assert_eq!(model(&again).settings.panel, Some(panel));
}
