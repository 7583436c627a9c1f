//! Two windows and a scan from the command line on one library: no edit is lost, nobody waits for
//! ever, and each sees what the others did.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use egui_kittest::Harness;
use scuffline::app::{Model, Options, SwingMessage};
use scuffline::domain::Club;
use scuffline::store::{Library, Of};

use crate::support::numbered::make;
use crate::support::sample;
use crate::support::window::{Driven, drive, model, until};

fn open(library: &Path, files: &[PathBuf]) -> Driven {
    let library = Some(library.to_path_buf());
    drive(Harness::builder(), Options { library, files: files.to_vec(), sample: false })
}

fn is_settled(m: &Model) -> bool {
    m.queue.is_empty() && m.current.is_some() && m.edits == m.edits_seen
}

fn handle(driven: &mut Driven, message: SwingMessage) {
    driven.state_mut().as_mut().expect("the first pass makes the window").handle(message);
}

#[test]
fn two_windows_and_a_scan_lose_nothing_and_see_each_other() {
    let folder = tempfile::tempdir().unwrap();
    let library = folder.path().join("library.scuffline");
    let mut first = open(&library, &[sample("iron_turf_sheet.mp4")]);
    until(&mut first, "the recording", is_settled);
    let mut second = open(&library, &[]);
    until(&mut second, "what the first has read in", is_settled);
    assert_eq!(model(&second).swings.len(), 1);
    let session = model(&first).people.session.unwrap();
    assert_eq!(model(&second).people.session, Some(session));
    let date = Library::open(&library).unwrap().session(session).unwrap().session.date;

    let options = "-c:v libx264 -preset ultrafast";
    let clips =
        [1, 2, 3].map(|n| make(folder.path(), &format!("{n}.mp4"), 10 + n, "30", "", options));
    let mut scan = Command::new(env!("CARGO_BIN_EXE_scuffline"))
        .args(["scan", "--date", &date.to_string(), "--library"])
        .arg(&library)
        .args(&clips)
        .arg(sample("iron_mat_stick.mp4"))
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    // Both edit the same swing while the scan writes; neither waits for the other.
    for round in 0..20 {
        handle(&mut first, SwingMessage::SetClub(format!("iron {round}")));
        handle(&mut second, SwingMessage::LeaveOut(round % 2 == 0));
        first.run_ok();
        second.run_ok();
    }
    assert_eq!([&first, &second].map(|window| model(window).edits), [20, 20]);
    assert!(scan.wait().unwrap().success());
    let sees_all = |m: &Model| {
        let swing = m.swings.first();
        let edited = swing
            .is_some_and(|swing| swing.club == Some(Club("iron 19".into())) && !swing.left_out);
        m.edits == m.edits_seen && m.recordings.len() == 5 && m.swings.len() == 2 && edited
    };
    until(&mut first, "what the second and the scan did", sees_all);
    until(&mut second, "what the first and the scan did", sees_all);
    for window in [&first, &second] {
        let notices: Vec<_> = model(window).notices.iter().map(|n| n.text.as_str()).collect();
        assert!(notices.is_empty(), "{notices:?}");
    }
    drop((first, second));

    let library = Library::open(&library).unwrap();
    assert!(library.check().unwrap().is_sound());
    assert_eq!(library.contents().unwrap().golfers, 1);
    let mut rows = library.recordings(session).unwrap();
    rows.sort_by_key(|row| format!("{:?}", row.identity));
    rows.dedup_by(|a, b| a.identity == b.identity);
    assert_eq!(rows.len(), 5, "each recording once");
    let swing = library.swings(Of::Session(session)).unwrap().remove(0);
    assert_eq!((swing.club, swing.left_out), (Some(Club("iron 19".into())), None));
}
