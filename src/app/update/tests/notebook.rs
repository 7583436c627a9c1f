//! The notebook message by message, without egui.

use std::path::PathBuf;
use std::sync::Arc;

use super::super::notebook::{dropped, refresh, take, write_agreed};
use super::super::update;
use crate::app::message::{Edit, Job, ScreenMessage};
use crate::app::model::{Model, Page};
use crate::app::notebook::*;
use crate::domain::{Block, Club, Golfer, Handed, Phase, Quantity, Session};
use crate::store::{AimWindowRow, BlockId, BlockRow, GolferId, Of, SessionId, SwingId};
use crate::workflow::send::Form;
use crate::workflow::{Erasure, Listed, Outline, OutlinedSession};

fn block(id: i64, session: i64, phase: Phase, swings: usize) -> (BlockRow, String) {
    let block = Block { title: format!("block {id}"), phase, ..Block::default() };
    (
        BlockRow { id: BlockId(id), session: SessionId(session), block, swings },
        format!("block {id}"),
    )
}

fn session(id: i64, day: i8, blocks: Vec<(BlockRow, String)>) -> OutlinedSession {
    let swings = blocks.iter().map(|(row, _)| row.swings).sum();
    let session = Session::on(jiff::civil::date(2026, 5, day));
    OutlinedSession { id: SessionId(id), session, swings, blocks }
}

/// A golfer with a lesson (before, after), a session a week later, and one without blocks.
fn outlined() -> Outline {
    let lesson = vec![block(1, 10, Phase::Before, 10), block(2, 10, Phase::After, 10)];
    let later = vec![block(3, 11, Phase::Later, 8), block(4, 11, Phase::Plain, 0)];
    Outline {
        golfer: GolferId(1),
        sessions: vec![session(11, 17, later), session(10, 10, lesson), session(9, 3, Vec::new())],
    }
}

/// That golfer at his newest session.
fn model() -> Model {
    let mut model = Model::default();
    let golfer = Golfer { name: "Kim Example".into(), ..Golfer::default() };
    model.people.golfers = vec![(GolferId(1), golfer)];
    model.people.golfer = Some(GolferId(1));
    model.people.session = Some(SessionId(11));
    model
}

fn answered(model: &mut Model) -> Vec<Job> {
    take(model, Answer::Outline(Arc::new(outlined())))
}

fn plans(jobs: &[Job]) -> Vec<PlanEdit> {
    let plan = |job: &Job| match job {
        Job::Edit { edit: Edit::Plan(edit), .. } => Some(edit.clone()),
        _ => None,
    };
    jobs.iter().filter_map(plan).collect()
}

#[test]
fn a_chapter_asks_for_its_numbers_once_it_is_known_what_there_is() {
    let mut m = model();
    let jobs = update(&mut m, NotebookMessage::Open(Chapter::Consistency));
    assert_eq!(jobs, vec![Job::Ask(Ask::Outline(GolferId(1)))]);
    // The newest block that has swings.
    let newest = Of::Block(BlockId(3));
    assert_eq!(answered(&mut m), vec![Job::Ask(Ask::Block(GolferId(1), newest))]);
    let other = Of::Block(BlockId(1));
    let choose = NotebookMessage::Consistency(ConsistencyMessage::Choose(other));
    assert_eq!(update(&mut m, choose), vec![Job::Ask(Ask::Block(GolferId(1), other))]);
    // A block that is gone is looked at no longer.
    m.notebook.consistency.of = Some(Of::Block(BlockId(77)));
    assert_eq!(answered(&mut m), vec![Job::Ask(Ask::Block(GolferId(1), newest))]);
    // Another golfer's outline comes too late.
    m.people.golfer = Some(GolferId(2));
    assert_eq!(answered(&mut m), vec![]);
}

#[test]
fn nothing_is_asked_while_the_picture_is_looked_at() {
    let mut m = model();
    assert_eq!(refresh(&mut m), vec![]);
    assert_eq!(answered(&mut m), vec![]);
}

#[test]
fn the_lesson_is_compared_unasked_and_what_was_kept_with_it() {
    let mut m = model();
    update(&mut m, NotebookMessage::Open(Chapter::Comparison));
    let of = |id| Of::Block(BlockId(id));
    let jobs = answered(&mut m);
    assert_eq!(jobs, vec![Job::Ask(Ask::Compare(GolferId(1), of(1), vec![of(2), of(3)]))]);
    // One less, one more, and never one against itself.
    let say = |m: &mut Model, message| update(m, NotebookMessage::Comparison(message));
    let jobs = say(&mut m, ComparisonMessage::Remove(0));
    assert_eq!(jobs, vec![Job::Ask(Ask::Compare(GolferId(1), of(1), vec![of(3)]))]);
    let jobs = say(&mut m, ComparisonMessage::Add(Of::Session(SessionId(9))));
    let others = vec![of(3), Of::Session(SessionId(9))];
    assert_eq!(jobs, vec![Job::Ask(Ask::Compare(GolferId(1), of(1), others))]);
    say(&mut m, ComparisonMessage::First(of(3)));
    assert!(!m.notebook.comparison.others.contains(&of(3)));
}

#[test]
fn what_was_typed_is_kept_when_the_field_is_left() {
    let mut m = model();
    update(&mut m, NotebookMessage::Open(Chapter::People));
    answered(&mut m);
    let say = |m: &mut Model, message| update(m, NotebookMessage::People(message));
    assert_eq!(say(&mut m, PeopleMessage::Typed(PlanField::Place, "Bay 7".into())), vec![]);
    let edits = plans(&say(&mut m, PeopleMessage::Keep));
    let [PlanEdit::Session(id, session, "place")] = edits.as_slice() else { panic!("{edits:?}") };
    assert_eq!((*id, session.place.as_str()), (SessionId(11), "Bay 7"));
    // Shown at once, and saved once.
    let shown = m.notebook.outline.as_ref().and_then(|o| o.session(SessionId(11)));
    assert_eq!(shown.map(|s| s.session.place.as_str()), Some("Bay 7"));
    assert_eq!(say(&mut m, PeopleMessage::Keep), vec![]);
    // Turning to another chapter keeps it as well.
    say(&mut m, PeopleMessage::Typed(PlanField::GolferName, "Kim".into()));
    let jobs = update(&mut m, NotebookMessage::Open(Chapter::Drills));
    assert!(matches!(plans(&jobs).as_slice(), [PlanEdit::Golfer(_, g, "name")] if g.name == "Kim"));
    // So does stepping out of the notebook, and showing another page.
    for leaving in [ScreenMessage::Escape, ScreenMessage::Show(Page::Range), ScreenMessage::Closing]
    {
        update(&mut m, NotebookMessage::Open(Chapter::People));
        say(&mut m, PeopleMessage::Typed(PlanField::Place, format!("{leaving:?}")));
        assert_eq!(plans(&update(&mut m, leaving)).len(), 1);
    }
    update(&mut m, NotebookMessage::Open(Chapter::People));
    // What cannot be is told and not saved.
    for (field, text) in [(PlanField::GolferName, " "), (PlanField::Date, "31 May")] {
        let before = m.notices.len();
        say(&mut m, PeopleMessage::Typed(field, text.into()));
        assert_eq!(say(&mut m, PeopleMessage::Keep), vec![]);
        assert_eq!(m.notices.len(), before + 1);
    }
    assert_eq!(say(&mut m, PeopleMessage::Handed(Handed::Right)), vec![], "nothing changed");
    assert_eq!(plans(&say(&mut m, PeopleMessage::Handed(Handed::Left))).len(), 1);
}

fn listed(id: i64, tags: &[&str]) -> Listed {
    Listed {
        id: SwingId(id),
        number: id as usize,
        block: Some(BlockId(3)),
        left_out: None,
        tags: tags.iter().map(|t| (*t).to_owned()).collect(),
        notes: String::new(),
        filmed: false,
        open: 0,
        offsets: crate::stats::SwingOffsets::without_numbers(crate::domain::SwingKind::Strike),
    }
}

#[test]
fn swings_are_left_out_for_a_reason_and_tagged_together() {
    let mut m = model();
    update(&mut m, NotebookMessage::Open(Chapter::People));
    answered(&mut m);
    let swings = Arc::new(vec![listed(1, &["fat"]), listed(2, &[])]);
    take(&mut m, Answer::Swings(SessionId(11), swings, Some(BlockId(3))));
    let say = |m: &mut Model, message| update(m, NotebookMessage::People(message));
    say(&mut m, PickedMessage::Block(Some(BlockId(3))).into());
    let both = vec![SwingId(1), SwingId(2)];
    // Without a reason nothing is left out.
    assert_eq!(say(&mut m, PickedMessage::LeaveOut.into()), vec![]);
    assert_eq!(m.notices.len(), 1);
    say(&mut m, PeopleMessage::Typed(PlanField::Reason, "slipped".into()));
    let edits = plans(&say(&mut m, PickedMessage::LeaveOut.into()));
    assert_eq!(edits, vec![PlanEdit::LeaveOut(both.clone(), Some("slipped".into()))]);
    // The tag goes to the one that lacks it; once all have it, it is taken from all.
    let edits = plans(&say(&mut m, PickedMessage::Tag("Fat".into()).into()));
    assert_eq!(edits, vec![PlanEdit::Tags(SwingId(2), vec!["fat".into()])]);
    let swings = Arc::new(vec![listed(1, &["fat"]), listed(2, &["fat", "toe"])]);
    take(&mut m, Answer::Swings(SessionId(11), swings, None));
    let edits = plans(&say(&mut m, PickedMessage::Tag("fat".into()).into()));
    let without = vec![
        PlanEdit::Tags(SwingId(1), Vec::new()),
        PlanEdit::Tags(SwingId(2), vec!["toe".into()]),
    ];
    assert_eq!(edits, without);
    let edits = plans(&say(&mut m, PickedMessage::Move(None).into()));
    assert_eq!(edits, vec![PlanEdit::Move(both, None)]);
}

#[test]
fn a_drill_begins_as_a_block() {
    let mut m = model();
    let start = NotebookMessage::Drills(DrillsMessage::Start("sweep-the-tee"));
    let edits = plans(&update(&mut m, start.clone()));
    let [PlanEdit::Begin(SessionId(11), block)] = edits.as_slice() else { panic!("{edits:?}") };
    assert_eq!(block.drill.as_deref(), Some("sweep-the-tee"));
    assert_eq!(block.club, Some(Club("driver".into())));
    m.people.session = None;
    assert_eq!(update(&mut m, start), vec![]);
    assert_eq!(m.notices.len(), 2);
}

#[test]
fn somebody_is_asked_before_a_file_is_written() {
    let mut m = model();
    m.people.golfers[0].1.child = true;
    let say = |m: &mut Model, message| update(m, NotebookMessage::Send(message));
    assert_eq!(say(&mut m, SendMessage::Write(Form::Page, None)), vec![]);
    assert!(m.notebook.send.waiting.is_some());
    // An empty word is none.
    assert_eq!(say(&mut m, SendMessage::Agree), vec![]);
    say(&mut m, SendMessage::Consent("Kim's mother, 14 May".into()));
    let jobs = say(&mut m, SendMessage::Agree);
    assert!(matches!(&plans(&jobs)[..], [PlanEdit::Golfer(_, g, _)] if !g.consent.is_empty()));
    // Not before the library has kept it.
    assert_eq!((jobs.len(), write_agreed(&mut m)), (1, vec![]));
    m.edits_seen = m.edits;
    let jobs = write_agreed(&mut m);
    assert!(matches!(&jobs[0], Job::Send { order, .. } if order.form == Form::Page));
    assert_eq!(write_agreed(&mut m), vec![]);
    // One file at a time; stopping frees the way.
    assert_eq!(say(&mut m, SendMessage::Write(Form::Table, None)), vec![]);
    assert_eq!(say(&mut m, SendMessage::Stop), vec![Job::StopSending]);
    take(&mut m, Answer::Sending { doing: "late".into(), done: 0.5 });
    assert_eq!(m.notebook.send.going, None);
    assert_eq!(say(&mut m, SendMessage::Write(Form::Table, None)).len(), 1);
}

#[test]
fn a_bundle_is_looked_into_before_it_is_taken_in() {
    let mut m = model();
    let say = |m: &mut Model, message| update(m, NotebookMessage::Send(message));
    let path = PathBuf::from("robin.zip");
    assert_eq!(say(&mut m, SendMessage::TakeIn), vec![], "nothing was looked into");
    let look = Job::Bundle { path: Some(path.clone()), take: false };
    assert!(dropped(&mut m, path.clone()).contains(&look));
    assert_eq!(m.page, Page::Notebook(Chapter::Send));
    assert_eq!(say(&mut m, SendMessage::LookInto(None)), vec![], "one file at a time");
    take(&mut m, Answer::LookedInto(path.clone(), "Robin is new.".into()));
    let jobs = say(&mut m, SendMessage::TakeIn);
    assert_eq!(jobs, vec![Job::Bundle { path: Some(path), take: true }]);
    take(&mut m, Answer::TakenIn("Robin".into()));
    assert_eq!((m.notebook.send.going, m.notebook.send.bundle), (None, None));
}

#[test]
fn an_aim_window_is_kept_in_order_and_within_reason() {
    let mut m = model();
    let iron = Club("7-iron".into());
    let say = |m: &mut Model, message| update(m, NotebookMessage::Consistency(message));
    let typed = ConsistencyMessage::TypeWindow(Quantity::LowPoint, [120.0, 60.0]);
    assert_eq!(say(&mut m, typed), vec![]);
    let edits = plans(&say(&mut m, ConsistencyMessage::KeepWindow(iron.clone())));
    let window = AimWindowRow {
        club: iron.clone(),
        quantity: Quantity::LowPoint,
        low_mm: 60.0,
        high_mm: 120.0,
    };
    assert_eq!(edits, vec![PlanEdit::Aim(GolferId(1), window)]);
    for wrong in [[50.0, 50.0], [0.0, f64::NAN], [0.0, 5000.0]] {
        say(&mut m, ConsistencyMessage::TypeWindow(Quantity::LowPoint, wrong));
        assert_eq!(say(&mut m, ConsistencyMessage::KeepWindow(iron.clone())), vec![]);
    }
}

#[test]
fn a_tapes_value_is_kept_with_its_side() {
    let mut m = crate::app::update::tests::model();
    let mut kept = |text: &str, behind: bool| {
        for message in [TapeMessage::Typed(text.into()), TapeMessage::Behind(behind)] {
            update(&mut m, NotebookMessage::Tape(message));
        }
        update(&mut m, NotebookMessage::Tape(TapeMessage::Keep)).into_iter().find_map(|job| {
            match job {
                Job::Edit { edit: Edit::Tape { tape_mm, .. }, .. } => Some(tape_mm),
                _ => None,
            }
        })
    };
    for (text, behind, mm) in [
        ("2,2 cm", false, 22.0_f64),
        ("22", true, -22.0),
        // A minus alone says behind; with the side that was chosen it does not say ahead.
        ("-22", false, -22.0),
        ("-22 mm", true, -22.0),
        ("0 mm", true, 0.0),
        ("-0", false, 0.0),
    ] {
        let kept = kept(text, behind).expect(text);
        assert_eq!(kept.to_bits(), mm.to_bits(), "{text}: {kept}");
    }
    for wrong in ["about a hand", "", "3 m", "-3 m"] {
        assert_eq!(kept(wrong, false), None, "{wrong}");
    }
}

#[test]
fn removing_for_good_takes_two_clicks() {
    let mut m = model();
    let say = |m: &mut Model, message| update(m, NotebookMessage::People(message));
    assert_eq!(say(&mut m, ErasingMessage::Erase.into()), vec![]);
    assert_eq!(say(&mut m, ErasingMessage::Ask.into()), vec![Job::Ask(Ask::Erasure(GolferId(1)))]);
    let plan = Arc::new(Erasure { name: "Kim Example".into(), ..Erasure::default() });
    take(&mut m, Answer::Erasure(GolferId(1), plan.clone()));
    assert_eq!(m.notebook.people.erasing.as_ref().and_then(|e| e.plan.clone()), Some(plan));
    // Recordings stay unless they are said to go too.
    let edits = plans(&say(&mut m, ErasingMessage::Erase.into()));
    assert_eq!(edits, vec![PlanEdit::Erase(GolferId(1), false)]);
    say(&mut m, ErasingMessage::Ask.into());
    say(&mut m, ErasingMessage::Files(true).into());
    let edits = plans(&say(&mut m, ErasingMessage::Erase.into()));
    assert_eq!(edits, vec![PlanEdit::Erase(GolferId(1), true)]);
    say(&mut m, ErasingMessage::Ask.into());
    say(&mut m, ErasingMessage::Spare.into());
    assert_eq!(say(&mut m, ErasingMessage::Erase.into()), vec![]);
    // What was asked for one golfer does not hold for another.
    say(&mut m, ErasingMessage::Ask.into());
    m.people.golfer = Some(GolferId(2));
    assert_eq!(say(&mut m, ErasingMessage::Erase.into()), vec![]);
}

#[test]
fn reading_is_stopped_and_begun_again() {
    let mut m = model();
    update(&mut m, NotebookMessage::Open(Chapter::Drills));
    assert_eq!(update(&mut m, NotebookMessage::Stop), vec![Job::StopAsking]);
    assert!(m.notebook.stopped);
    let jobs = update(&mut m, NotebookMessage::Open(Chapter::Drills));
    assert_eq!(jobs, vec![Job::Ask(Ask::Outline(GolferId(1)))]);
    assert!(!m.notebook.stopped);
    // What cannot be read is not waited for, nor is what would go with a golfer.
    update(&mut m, NotebookMessage::People(ErasingMessage::Ask.into()));
    assert!(m.notebook.people.erasing.is_some());
    take(&mut m, Answer::NotRead);
    assert!(m.notebook.stopped && m.notebook.people.erasing.is_none());
}
