//! The chapters beside the picture, driven by the names of their controls on the invented
//! golfer's library, and what they are made of.

use std::path::Path;

use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use scuffline::app::{
    Chapter, ConsistencyMessage, Field, FileMessage, Message, Model, NotebookMessage, Options,
    Page, PeopleMessage, PlanField, ScreenMessage, SendMessage, Sheet, SwingMessage, TapeMessage,
};
use scuffline::domain::{LengthUnit, Quantity};
use scuffline::report::drill_pictures;
use scuffline::stats::DRILLS;
use scuffline::store::{Library, Of, Scope};
use scuffline::workflow::send::Form;
use scuffline::workflow::{
    Span, build_sample, list_swings, mean_words, outline, plain_facts, study_block, study_clubs,
    study_comparison, study_drills, study_season, summarise, words_for_offset,
};

use crate::support::window::{Driven, drive, model, until};

fn sample_window(library: &Path) -> Driven {
    let mut kept = Library::open(library).unwrap();
    build_sample(&mut kept, Path::new("no footage")).unwrap();
    drop(kept);
    let options = Options { library: Some(library.to_path_buf()), ..Options::default() };
    let mut driven = drive(Harness::builder(), options);
    until(&mut driven, "the session", |m| !m.swings.is_empty() && m.sheet.is_some());
    driven.get_by_label("Put away").click();
    driven.run_ok();
    driven
}

fn say(driven: &mut Driven, message: impl Into<Message>) {
    driven.state_mut().as_mut().expect("a window").handle(message.into());
    driven.run_ok();
}

fn turn_to(driven: &mut Driven, chapter: Chapter) {
    if !matches!(model(driven).page, Page::Notebook(_)) {
        driven.get_by_label("Notebook").click();
        driven.run_ok();
    }
    driven.get_all_by_label(chapter.words()).next().expect("a tab").click();
    // Also read: until then its buttons are not there.
    let read = |m: &Model| m.notebook.outline.is_some();
    until(driven, chapter.words(), |m| m.page == Page::Notebook(chapter) && read(m));
}

#[test]
fn every_chapter_shows_something_at_the_first_start() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven = sample_window(&folder.path().join("library"));

    turn_to(&mut driven, Chapter::Consistency);
    until(&mut driven, "numbers", |m| m.notebook.consistency.found.is_some());
    for label in ["Your spread", "Chart of divot start", "Chart of the differences", "on the ruler"]
    {
        assert!(driven.query_by_label_contains(label).is_some(), "{label}");
    }

    turn_to(&mut driven, Chapter::Comparison);
    until(&mut driven, "a comparison", |m| m.notebook.comparison.found.is_some());
    for label in ["Gained in the lesson", "The blocks on one ruler", "Corrected: for the"] {
        assert!(driven.query_by_label_contains(label).is_some(), "{label}");
    }

    turn_to(&mut driven, Chapter::Clubs);
    until(&mut driven, "a season", |m| m.notebook.clubs.season.is_some());
    for label in ["Season of divot start: 3 sessions", "Ball position against low point, one"] {
        assert!(driven.query_by_label_contains(label).is_some(), "{label}");
    }
    assert!(driven.query_by_label("7-iron, no ball").is_some());

    turn_to(&mut driven, Chapter::Drills);
    until(&mut driven, "drills", |m| m.notebook.drills.found.is_some());
    for drill in DRILLS {
        assert!(driven.query_by_label(&format!("Start {}", drill.title)).is_some());
        assert!(driven.query_by_label(&format!("How {} is laid out", drill.title)).is_some());
    }
    assert!(driven.query_by_label_contains("Stop if a wrist").is_some(), "cautions");

    turn_to(&mut driven, Chapter::People);
    until(&mut driven, "swings", |m| m.notebook.people.swings.is_some());
    for label in ["Name", "Place", "Who agreed to what, and when"] {
        assert!(driven.query_all_by_label(label).next().is_some(), "{label}");
    }

    turn_to(&mut driven, Chapter::Send);
    until(&mut driven, "the page", |m| m.notebook.send.content.is_some());
    for label in ["PDF page…", "Slow-motion clip…", "Bundle…", "Table (CSV)…"] {
        assert!(driven.query_by_label(label).is_some(), "{label}");
    }
    assert!(driven.query_by_label_contains("The page: ").is_some());
    driven.get_by_label("Picture").click();
    driven.run_ok();
    assert_eq!(model(&driven).page, Page::Measure);
}

/// One click on a mean or a difference of means shows where its ± comes from.
#[test]
fn means_and_differences_open_their_budgets() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven = sample_window(&folder.path().join("library"));
    let unit = LengthUnit::default();
    let open = |driven: &mut Driven, link: &str, title: &str| {
        driven.get_all_by_label(link).next().expect("a link").click_accesskit();
        driven.run_ok();
        for label in [title, "scatter of the swings", "together"] {
            assert!(driven.query_all_by_label_contains(label).next().is_some(), "{title}: {label}");
        }
        driven.get_by_label("Close").click();
        driven.run_ok();
    };
    turn_to(&mut driven, Chapter::Consistency);
    until(&mut driven, "numbers", |m| m.notebook.consistency.found.is_some());
    open(&mut driven, "Where this ± comes from", "Mean of divot start");
    turn_to(&mut driven, Chapter::Comparison);
    until(&mut driven, "a comparison", |m| m.notebook.comparison.found.is_some());
    let study = model(&driven).notebook.comparison.found.clone().unwrap();
    let offset = study.others[0].comparison.offset(Quantity::DivotStart).unwrap();
    let link = offset.difference_words(unit);
    open(&mut driven, &link, "Difference of means, divot start");
    turn_to(&mut driven, Chapter::Clubs);
    until(&mut driven, "clubs", |m| m.notebook.clubs.found.is_some());
    let study = model(&driven).notebook.clubs.found.clone().unwrap();
    let starts = study.rows.iter().filter_map(|row| row.summary.offset(Quantity::DivotStart));
    let link = mean_words(starts.into_iter().find(|of| of.moments.n > 2).unwrap(), unit);
    open(&mut driven, &link, "Mean of divot start");
    assert!(!study.gaps.is_empty());
    open(&mut driven, "Where this ± comes from", "Difference of means, divot start");
}

#[test]
fn a_session_is_described_in_the_window_and_undone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("library");
    let mut driven = sample_window(&path);
    turn_to(&mut driven, Chapter::People);
    until(&mut driven, "swings", |m| m.notebook.people.swings.is_some());
    let session = model(&driven).people.session.unwrap();
    let place = |path: &Path| Library::open(path).unwrap().session(session).unwrap().session.place;
    let before = place(&path);
    for message in [PeopleMessage::Typed(PlanField::Place, "Bay 9".into()), PeopleMessage::Keep] {
        say(&mut driven, NotebookMessage::People(message));
    }
    until(&mut driven, "the place to be saved", |m| m.edits == m.edits_seen);
    assert_eq!(place(&path), "Bay 9");
    driven.get_by_label("Undo").click();
    driven.run_ok();
    until(&mut driven, "undo", |m| m.edits == m.edits_seen);
    assert_eq!(place(&path), before);

    // A new block, into which new swings go; undo takes it back.
    let blocks = |path: &Path| Library::open(path).unwrap().blocks(session).unwrap().len();
    let n = blocks(&path);
    driven.get_by_label("New block").click();
    driven.run_ok();
    until(&mut driven, "the block", |m| m.edits == m.edits_seen);
    assert_eq!(blocks(&path), n + 1);
    driven.get_by_label("Undo").click();
    driven.run_ok();
    until(&mut driven, "undo", |m| m.edits == m.edits_seen);
    assert_eq!(blocks(&path), n);
}

#[test]
fn a_golfer_added_in_the_window_is_undone_there_and_nothing_else_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("library");
    let mut driven = sample_window(&path);
    let (first, swings) = (model(&driven).people.golfer, model(&driven).swings.len());
    let window = driven.state_mut().as_mut().expect("a window");
    window.handle(ScreenMessage::Typed(Field::Golfer, "Invented Newcomer".into()));
    window.handle(SwingMessage::AddGolfer);
    until(&mut driven, "the newcomer", |m| m.people.golfers.len() == 2 && m.swings.is_empty());
    until(&mut driven, "the step", |m| {
        m.history.undo.as_deref() == Some("golfer Invented Newcomer")
    });
    driven.get_by_label("Undo").click();
    until(&mut driven, "the one before", |m| m.people.golfer == first && m.swings.len() == swings);
    assert_eq!(Library::open(&path).unwrap().golfers().unwrap().len(), 1);
    driven.get_by_label("Redo").click();
    until(&mut driven, "the newcomer again", |m| m.people.golfers.len() == 2);
    assert_eq!(Library::open(&path).unwrap().golfers().unwrap().len(), 2);
}

#[test]
fn starting_a_drill_makes_the_block_new_swings_go_into() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("library");
    let mut driven = sample_window(&path);
    turn_to(&mut driven, Chapter::Drills);
    until(&mut driven, "drills", |m| m.notebook.drills.found.is_some());
    driven.get_by_label("Start Two lines, no ball").click();
    driven.run_ok();
    until(&mut driven, "the block", |m| m.edits > 0 && m.edits == m.edits_seen);
    let session = model(&driven).people.session.unwrap();
    let library = Library::open(&path).unwrap();
    let (id, block) = library.blocks(session).unwrap().pop().unwrap();
    assert_eq!(block.drill.as_deref(), Some("two-lines-bare"));
    assert_eq!(scuffline::workflow::running_block(&library, session).unwrap(), Some(id));
}

#[test]
fn an_own_aim_window_changes_the_share_on_the_screen() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("library");
    let mut driven = sample_window(&path);
    turn_to(&mut driven, Chapter::Consistency);
    until(&mut driven, "numbers", |m| m.notebook.consistency.found.is_some());
    // A session with several clubs has the windows of each: the second one's are chosen.
    let outline = model(&driven).notebook.outline.clone().unwrap();
    let sessions: Vec<Of> = outline.sessions.iter().map(|s| Of::Session(s.id)).collect();
    for of in sessions {
        say(&mut driven, NotebookMessage::Consistency(ConsistencyMessage::Choose(of)));
        until(&mut driven, "the session", |m| {
            m.notebook.consistency.found.as_ref().is_some_and(|study| study.of == of)
        });
        if model(&driven).notebook.consistency.found.as_ref().unwrap().aims.len() > 1 {
            break;
        }
    }
    let study = model(&driven).notebook.consistency.found.clone().unwrap();
    let club = study.aims[1].club.clone().unwrap();
    driven.get_by_role_and_label(eframe::egui::accesskit::Role::Button, &club.0).click_accesskit();
    driven.run_ok();
    assert!(driven.query_by_label(&format!("Aim windows, {}", club.0)).is_some());
    // A window beyond every swing.
    let (quantity, window) = (Quantity::DivotStart, [700.0, 800.0]);
    say(
        &mut driven,
        NotebookMessage::Consistency(ConsistencyMessage::TypeWindow(quantity, window)),
    );
    say(&mut driven, NotebookMessage::Consistency(ConsistencyMessage::KeepWindow(club.clone())));
    until(&mut driven, "the window", |m| {
        let study = m.notebook.consistency.found.as_ref();
        let window = study.and_then(|s| s.aim(Some(&club))?.windows[0]);
        window.is_some_and(|w| w.low_mm == 700.0)
    });
    let library = Library::open(&path).unwrap();
    let golfer = model(&driven).people.golfer.unwrap();
    let kept = &library.aim_windows(golfer).unwrap()[0];
    assert_eq!((kept.club.clone(), kept.low_mm), (club, 700.0));
}

#[test]
fn every_file_of_the_send_page_holds_the_numbers_of_the_screen() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("library");
    let mut driven = sample_window(&path);
    turn_to(&mut driven, Chapter::Consistency);
    until(&mut driven, "numbers", |m| m.notebook.consistency.found.is_some());
    // The lesson's first block, as the consistency chapter states it.
    let outline = model(&driven).notebook.outline.clone().unwrap();
    let lesson = outline.sessions.iter().find(|s| s.blocks.len() == 2).expect("the lesson").clone();
    let before = Of::Block(lesson.blocks[0].0.id);
    say(&mut driven, NotebookMessage::Consistency(ConsistencyMessage::Choose(before)));
    until(&mut driven, "the block", |m| {
        m.notebook.consistency.found.as_ref().is_some_and(|s| s.of == before)
    });
    let study = model(&driven).notebook.consistency.found.clone().unwrap();
    let mean = mean_words(study.summary.offset(Quantity::DivotStart).unwrap(), LengthUnit::Mm);
    assert!(driven.query_all_by_label_contains(&mean).next().is_some(), "{mean} is on the screen");

    driven
        .state_mut()
        .as_mut()
        .unwrap()
        .handle(scuffline::app::SwingMessage::ChooseSession(lesson.id));
    turn_to(&mut driven, Chapter::Send);
    until(&mut driven, "the page", |m| {
        let content = m.notebook.send.content.as_ref();
        content.is_some_and(|(id, _)| *id == lesson.id)
    });
    let label = format!("; {mean}");
    assert!(driven.query_by_label_contains(&label).is_some(), "{mean} is on the page");
    for form in [Form::Page, Form::Web, Form::Table, Form::Data, Form::Bundle] {
        let file = folder.path().join(format!("out.{}", form.ending()));
        say(&mut driven, NotebookMessage::Send(SendMessage::Write(form, Some(file.clone()))));
        until(&mut driven, "the file", |m| m.notebook.send.last.as_ref() == Some(&file));
        let bytes = std::fs::read(&file).unwrap();
        assert!(bytes.len() > 500, "{form:?}");
        let text = String::from_utf8_lossy(&bytes);
        let start = study.swings[0].offsets.divot_start.as_ref().unwrap();
        let words = scuffline::workflow::words_for_offset(
            &scuffline::workflow::state(start),
            LengthUnit::Mm,
        );
        match form {
            Form::Web | Form::Data => assert!(text.contains(&mean), "{form:?}: {mean}"),
            Form::Table => assert!(text.contains(&words), "{form:?}: {words}"),
            _ => {}
        }
    }
}

#[test]
fn studies_of_the_sample_agree_with_each_other() {
    let folder = tempfile::tempdir().unwrap();
    let mut library = Library::open(folder.path().join("library")).unwrap();
    let sample = build_sample(&mut library, Path::new("no footage")).unwrap().unwrap();
    let golfer = sample.golfer;
    let outline = outline(&library, golfer).unwrap();
    assert_eq!(outline.sessions.len(), 3);
    let lesson = &outline.sessions[1];
    let [before, after] = [0, 1].map(|i| Of::Block(lesson.blocks[i].0.id));
    let later = Of::Block(outline.sessions[0].blocks[0].0.id);

    let study = study_block(&library, golfer, before).unwrap();
    assert_eq!(study.summary, summarise(&library, golfer, before).unwrap());
    assert_eq!(study.title, "Before, 10 May 2026");
    assert_eq!(study.swings, list_swings(&library, before).unwrap());
    assert_eq!(study.swings[0].number, 1, "numbers are those of the session");

    let study = study_comparison(&library, golfer, before, &[after, later]).unwrap();
    let alone = scuffline::workflow::compare(&library, golfer, before, after).unwrap();
    assert_eq!(study.others[0].comparison, alone);
    let chances: usize = study.others.iter().map(|o| o.comparison.offsets.len()).sum();
    assert_eq!(study.looked_at, chances);
    for other in &study.others {
        for (corrected, offset) in other.corrected.iter().zip(&other.comparison.offsets) {
            assert!(*corrected >= offset.means.test.p);
        }
    }
    let retention = study.retention.expect("three blocks");
    assert_eq!(Some(&retention.gained), alone.offset(Quantity::DivotStart));
    assert!(study.repeatability.expect("repeat sessions").clubs >= 3);

    let clubs = study_clubs(&library, golfer, Span::All).unwrap();
    let counted: usize = clubs.rows.iter().map(|r| r.summary.n + r.summary.left_out).sum();
    assert_eq!(counted, outline.sessions.iter().map(|s| s.swings).sum::<usize>());
    assert!(clubs.stance_line.expect("a line").slope < 0.0);
    assert_eq!(clubs.gaps.len(), 1, "7-iron without a ball and with one");
    let season = study_season(&library, golfer, Quantity::LowPoint, None).unwrap();
    assert_eq!(season.points.len(), 3);
    let drills = study_drills(&library, golfer).unwrap();
    for study in &drills {
        let best = study.best().map(|run| run.score.points(study.drill.scoring));
        let runs = library.drill_runs(golfer, study.drill.key).unwrap();
        let points = runs.iter().map(|(_, block)| {
            let swings = scuffline::workflow::offsets_of(&library, Of::Block(*block)).unwrap();
            let aim = scuffline::workflow::aim_table(&library, golfer).unwrap();
            let scoring = study.drill.scoring;
            scuffline::stats::score_drill(scoring, &swings, &aim).points(scoring)
        });
        assert_eq!(best, points.max(), "{}", study.drill.key);
    }
}

#[test]
fn new_swings_go_into_the_block_that_was_begun() {
    let folder = tempfile::tempdir().unwrap();
    let mut library = Library::open(folder.path().join("library")).unwrap();
    let golfer = scuffline::workflow::golfer_named(&mut library, Some("Kim Invented")).unwrap();
    let day = jiff::civil::date(2026, 5, 14);
    let session = scuffline::workflow::session_on(&mut library, golfer, day).unwrap();
    let block = library
        .edit(Scope::Session(session), "block", |edit| edit.add_block(session, &Default::default()))
        .unwrap();
    let value = block.0.to_string();
    library.save(|edit| edit.set_setting(scuffline::workflow::RUNNING_BLOCK, &value)).unwrap();
    let clip = super::support::sample("iron_turf_sheet.mp4");
    let mut recording = scuffline::video::Recording::open(&clip).unwrap();
    let progress = &mut scuffline::workflow::Progress::silent();
    let id = scuffline::workflow::read_in(&mut library, session, &mut recording, None, progress);
    let swings = library.swings(Of::Recording(id.unwrap())).unwrap();
    assert!(!swings.is_empty() && swings.iter().all(|s| s.block == Some(block)));
}

/// A drawing with the colours that a page around it would give.
fn standing_alone(drawing: String) -> String {
    [
        ("text", "#1c201e"),
        ("quiet", "#5c645f"),
        ("hairline", "#d5d6cf"),
        ("accent", "#2452b8"),
        ("surface", "#ffffff"),
    ]
    .into_iter()
    .fold(drawing, |text, (name, colour)| text.replace(&format!("var(--{name})"), colour))
}

#[test]
fn every_drill_has_a_picture_of_its_own() {
    let empty = drill_pictures::picture("", "75 mm").shapes.len();
    let mut seen = Vec::new();
    for drill in DRILLS {
        let drawn = drill_pictures::picture(drill.key, "75 mm");
        assert!(drawn.shapes.len() > empty + 4, "{}", drill.key);
        assert!(!seen.contains(&drawn), "{}", drill.key);
        // The guide shows the same; `SCUFFLINE_RENEW_SCREENS=1` draws it anew.
        let place = format!("{}/docs/screens/drill-{}.svg", env!("CARGO_MANIFEST_DIR"), drill.key);
        let text = standing_alone(scuffline::report::svg::write(&drawn, drill.title));
        if std::env::var_os("SCUFFLINE_RENEW_SCREENS").is_some() {
            std::fs::write(&place, &text).unwrap();
        }
        assert_eq!(std::fs::read_to_string(&place).unwrap(), text, "{place}");
        seen.push(drawn);
    }
}

#[test]
fn a_tapes_value_stands_beside_the_programs_and_is_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven = sample_window(&folder.path().join("library"));
    turn_to(&mut driven, Chapter::Tape);
    until(&mut driven, "no pair yet", |m| m.notebook.tape.found.is_some());
    assert!(driven.query_by_label("No swing has a tape value yet.").is_some());
    let started = |s: &&scuffline::app::Swing| {
        s.result.as_ref().is_some_and(|r| r.divot_start_offset.is_some())
    };
    let swing = model(&driven).swings.iter().rfind(started).map(|s| s.id).expect("a divot");
    say(&mut driven, NotebookMessage::Tape(TapeMessage::Swing(swing)));
    // Something that is no length is told and not kept.
    say(&mut driven, NotebookMessage::Tape(TapeMessage::Typed("about a hand".into())));
    driven.get_by_label("Keep").click();
    driven.run_ok();
    assert_eq!(model(&driven).notices.len(), 1);
    say(&mut driven, NotebookMessage::Tape(TapeMessage::Typed("2.2 cm".into())));
    driven.get_by_label("behind it").click();
    driven.run_ok();
    driven.get_by_label("Keep").click();
    let pairs = |m: &Model| m.notebook.tape.found.as_ref().map_or(0, |study| study.pairs.len());
    until(&mut driven, "the pair", |m| pairs(m) == 1);
    assert!(driven.query_by_label("22 mm behind").is_some());
    let pair = model(&driven).notebook.tape.found.as_ref().unwrap().pairs[0].clone();
    assert_eq!((pair.swing, pair.tape_mm), (swing, -22.0));
    // A click on the program's number beside it opens its budget.
    let text = words_for_offset(&pair.stated(), LengthUnit::Mm);
    driven.get_by_label(&text).click();
    until(&mut driven, "the budget", |m| matches!(m.sheet, Some(Sheet::Shown(..))));
    say(&mut driven, ScreenMessage::CloseSheet);
    driven.get_by_label("Undo").click();
    until(&mut driven, "the pair taken back", |m| pairs(m) == 0);
}

#[test]
fn a_golfer_is_removed_for_good_after_it_is_told_what_goes() {
    let folder = tempfile::tempdir().unwrap();
    let library = folder.path().join("library");
    let mut driven = sample_window(&library);
    turn_to(&mut driven, Chapter::People);
    driven.get_by_label("Remove for good…").click();
    until(&mut driven, "what would go", |m| {
        m.notebook.people.erasing.as_ref().is_some_and(|erasing| erasing.plan.is_some())
    });
    assert!(driven.query_by_label_contains("no undo brings them back").is_some());
    driven.get_by_label("Remove for good").click();
    until(&mut driven, "nobody left", |m| m.people.golfers.is_empty());
    assert!(model(&driven).notices[0].text.contains("removed for good"));
    drop(driven);
    assert!(Library::open(&library).unwrap().golfers().unwrap().is_empty());
}

#[test]
fn a_golfer_goes_into_a_bundle_and_comes_back_out_of_it() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven = sample_window(&folder.path().join("library"));
    let path = folder.path().join("robin.zip");
    turn_to(&mut driven, Chapter::Send);
    let order = SendMessage::Write(Form::Bundle, Some(path.clone()));
    say(&mut driven, NotebookMessage::Send(order));
    until(&mut driven, "the bundle", |m| m.notebook.send.last.is_some());
    let (golfer, swings) = {
        let m = model(&driven);
        (m.people.golfers[0].1.clone(), m.swings.len())
    };
    turn_to(&mut driven, Chapter::People);
    driven.get_by_label("Remove for good…").click();
    until(&mut driven, "what would go", |m| {
        m.notebook.people.erasing.as_ref().is_some_and(|erasing| erasing.plan.is_some())
    });
    driven.get_by_label("Remove for good").click();
    until(&mut driven, "nobody left", |m| m.people.golfers.is_empty());

    // Dropped on the window like a recording: told first, and taken in when that is wanted.
    let window = driven.state_mut().as_mut().expect("a window");
    window.handle(FileMessage::Import(vec![path.clone()]));
    until(&mut driven, "what it would add", |m| m.notebook.send.bundle.is_some());
    assert_eq!(model(&driven).page, Page::Notebook(Chapter::Send));
    assert!(model(&driven).queue.is_empty() && model(&driven).people.golfers.is_empty());
    assert!(driven.query_by_label("Robin Example (invented) is new.").is_some());
    driven.get_by_label("Leave it").click();
    driven.run_ok();
    assert_eq!(model(&driven).notebook.send.bundle, None);
    say(&mut driven, NotebookMessage::Send(SendMessage::LookInto(Some(path))));
    until(&mut driven, "what it would add", |m| m.notebook.send.bundle.is_some());
    driven.get_by_label("Take it in").click();
    until(&mut driven, "the golfer is back", |m| !m.swings.is_empty());
    assert_eq!(model(&driven).people.golfers[0].1, golfer);
    assert_eq!(model(&driven).swings.len(), swings);

    // The window's own undo takes the whole bundle back, and brings it again.
    let undo = |m: &Model| m.history.undo.clone();
    until(&mut driven, "its step", |m| undo(m).is_some_and(|words| words.contains("carried over")));
    driven.get_by_label("Undo").click();
    until(&mut driven, "nobody again", |m| m.people.golfers.is_empty() && m.swings.is_empty());
    let told = |m: &Model| m.notices.last().map(|notice| notice.text.clone());
    assert!(told(model(&driven)).is_some_and(|text| text.starts_with("Taken back: Robin")));
    until(&mut driven, "the way forward", |m| m.history.redo.is_some());
    driven.get_by_label("Redo").click();
    until(&mut driven, "the golfer once more", |m| m.swings.len() == swings);

    // What is no bundle is told in a sentence.
    let other = folder.path().join("other.zip");
    std::fs::write(&other, b"not a bundle").unwrap();
    say(&mut driven, NotebookMessage::Send(SendMessage::LookInto(Some(other))));
    until(&mut driven, "why not", |m| {
        m.notices.last().is_some_and(|n| n.text.contains("not a scuffline bundle"))
    });
}

#[test]
fn a_click_on_a_number_of_the_notebook_opens_its_budget() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven = sample_window(&folder.path().join("library"));
    let opens = |driven: &mut Driven, label: &str| {
        driven.run_ok();
        // The sentence above says some of it too.
        let named = driven.query_all_by_label(label).next();
        let named = named.or_else(|| driven.query_all_by_label_contains(label).next());
        named.expect(label).click();
        until(driven, label, |m| matches!(m.sheet, Some(Sheet::Shown(..) | Sheet::Swing(..))));
        assert!(driven.query_by_label("together").is_some(), "{label}: no table");
        say(driven, ScreenMessage::CloseSheet);
    };
    // The session's numbers beside the picture lead to its page.
    driven.get_all_by_label_contains("spread\u{a0}").next().expect("the session").click();
    let session = model(&driven).people.session.expect("a session");
    let of = Of::Session(session);
    until(&mut driven, "its numbers", |m| {
        m.notebook.consistency.found.as_ref().is_some_and(|study| study.of == of)
    });
    let study = model(&driven).notebook.consistency.found.clone().expect("a block");
    let of = study.summary.offset(Quantity::DivotStart).expect("starts");
    let facts = plain_facts(&study, of, LengthUnit::Mm);
    let told: Vec<_> = facts.into_iter().filter(|fact| fact.number.is_some()).collect();
    assert!(told.len() > 2, "{told:?}");
    for fact in told {
        opens(&mut driven, &fact.text);
    }
    turn_to(&mut driven, Chapter::Clubs);
    until(&mut driven, "the season", |m| m.notebook.clubs.season.is_some());
    driven.run_ok();
    opens(&mut driven, "where its doubt comes from");
    turn_to(&mut driven, Chapter::Comparison);
    until(&mut driven, "a comparison", |m| m.notebook.comparison.found.is_some());
    for label in ["gained in the lesson", "still there", "since the lesson"] {
        opens(&mut driven, label);
    }
    turn_to(&mut driven, Chapter::People);
    until(&mut driven, "the swings", |m| m.notebook.people.swings.is_some());
    driven.run_ok();
    // The first block's number of swings folds them out.
    driven.get_all_by_label_contains(" swings").last().expect("a block").click();
    opens(&mut driven, " ahead ± ");
}
