//! Recordings in the library from the command line: read in, marked, still there tomorrow.

use std::path::Path;

use crate::support::{sample, scuffline};

fn run(library: &Path, arguments: &[&str]) -> (bool, String, String) {
    let mut all = vec!["--library", library.to_str().expect("a plain path")];
    all.extend(arguments);
    let output = scuffline(all);
    (
        output.status.success(),
        String::from_utf8(output.stdout).expect("stdout is text"),
        String::from_utf8(output.stderr).expect("stderr is text"),
    )
}

fn line_with<'a>(text: &'a str, name: &str) -> &'a str {
    text.lines().find(|line| line.trim_start().starts_with(name)).unwrap_or_default()
}

#[test]
fn a_mark_set_today_is_there_tomorrow() {
    let folder = tempfile::tempdir().expect("a temporary folder can be made");
    let library = folder.path().join("lessons.scuffline");
    let clip = sample("iron_turf_sheet.mp4");
    let setup = sample("iron_turf_sheet.setup.json");
    let (clip, setup) =
        (clip.to_str().expect("a plain path"), setup.to_str().expect("a plain path"));
    let (done, said, trouble) =
        run(&library, &["scan", clip, "--setup", setup, "--date", "2026-05-31"]);
    assert!(done, "{trouble}");
    assert!(said.contains("Swing 1, strike at 1.5"), "{said}");
    let (done, said, trouble) =
        run(&library, &["mark", clip, "--swing", "1", "divot-start", "651.645", "601.678"]);
    assert!(done, "{trouble}");
    let marked = line_with(&said, "divot start").to_owned();
    assert!(
        marked.contains("18 mm behind")
            || marked.contains("17 mm behind")
            || marked.contains("19 mm behind"),
        "{said}"
    );
    // Another mark later on: the first one is still part of what is measured.
    let (done, said, trouble) =
        run(&library, &["mark", clip, "--swing", "1", "divot-end", "739.413", "599.661"]);
    assert!(done, "{trouble}");
    assert_eq!(line_with(&said, "divot start"), marked);
    let (done, sum, trouble) = run(&library, &["summary", "1"]);
    assert!(done, "{trouble}");
    let place = marked.trim_start().trim_start_matches("divot start").trim();
    let place = place.split(" ±").next().expect("a place");
    let (_, starts) = sum.split_once("Divot start\n").expect("a part about the divot start");
    assert!(line_with(starts, "Swings").ends_with(" 1"), "{sum}");
    assert!(line_with(starts, "Mean ").contains(place), "{sum}");
    let (done, list, trouble) = run(&library, &["sessions"]);
    assert!(done && list.contains("2026-05-31: 1 swing\n"), "{list}{trouble}");
    // The club head is marked frame by frame, and taken away frame by frame.
    let head = |more: &[&str]| {
        let mut arguments = vec!["mark", clip, "--swing", "1", "club-head"];
        arguments.extend(more);
        run(&library, &arguments)
    };
    let (done, _, trouble) = head(&["631.0", "600.5"]);
    assert!(!done && trouble.contains("--frame 187"), "{trouble}");
    for (frame, x, y) in [("186", "631.0", "600.5"), ("187", "777.0", "596.3")] {
        let (done, _, trouble) = head(&[x, y, "--frame", frame]);
        assert!(done, "{trouble}");
    }
    let kept = || {
        let library = scuffline::store::Library::open(&library).expect("opens");
        let recording = scuffline::store::RecordingId(1);
        let heads = library.setup(recording).expect("a set-up").swings[0].club_head.clone();
        heads.into_keys().map(|frame| frame.0).collect::<Vec<_>>()
    };
    assert_eq!(kept(), [186, 187]);
    let (done, _, trouble) = head(&["--remove", "--frame", "186"]);
    assert!(done, "{trouble}");
    assert_eq!(kept(), [187]);
    let (done, _, trouble) = head(&["--remove", "--frame", "187"]);
    assert!(done, "{trouble}");
    // Reading the same file in again changes nothing.
    let (done, again, trouble) = run(&library, &["scan", clip, "--date", "2026-05-31"]);
    assert!(done, "{trouble}");
    assert_eq!(line_with(&again, "divot start"), marked);
}

#[test]
fn bad_marks_change_nothing() {
    let folder = tempfile::tempdir().expect("a temporary folder can be made");
    let library = folder.path().join("lessons.scuffline");
    let clip = sample("iron_mat_stick.mp4");
    let clip = clip.to_str().expect("a plain path");
    let (done, _, said) = run(&library, &["mark", clip, "--swing", "1", "ball", "10", "10"]);
    assert!(!done && said.contains("scuffline scan"), "{said}");
    let (done, before, trouble) = run(&library, &["scan", clip, "--date", "2026-05-31"]);
    assert!(done, "{trouble}");
    for (arguments, expected) in [
        (["mark", clip, "--swing", "9", "ball", "10", "10"].as_slice(), "no swing 9"),
        (&["mark", clip, "--swing", "1", "ball", "-10", "10"], "outside the picture"),
        (
            &["mark", clip, "--swing", "1", "ball", "10", "10", "--frame", "9999"],
            "not in the recording",
        ),
        (&["mark", clip, "--swing", "1", "ball"], "Say where"),
    ] {
        let (done, said, trouble) = run(&library, arguments);
        assert!(!done && said.is_empty() && trouble.contains(expected), "{trouble}");
    }
    let (_, after, _) = run(&library, &["scan", clip, "--date", "2026-05-31"]);
    assert_eq!(before, after);
}

#[test]
fn a_bad_file_keeps_nothing() {
    let folder = tempfile::tempdir().expect("a temporary folder can be made");
    let library = folder.path().join("lessons.scuffline");
    let text = folder.path().join("notes.mp4");
    std::fs::write(&text, "this is no video").expect("the file can be written");
    let (done, said, trouble) = run(&library, &["scan", text.to_str().expect("a plain path")]);
    assert!(!done && said.is_empty(), "{said}");
    assert!(trouble.contains("notes.mp4"), "{trouble}");
}

#[test]
fn blocks_clubs_season_and_drills_are_told() {
    let folder = tempfile::tempdir().expect("a temporary folder can be made");
    let path = folder.path().join("lessons.scuffline");
    let mut library = scuffline::store::Library::open(&path).expect("opens");
    let sample = scuffline::workflow::build_sample(&mut library, folder.path());
    let sample = sample.expect("built").expect("the first time");
    let lesson = library.blocks(sample.sessions[1]).expect("blocks");
    let later = library.blocks(sample.sessions[2]).expect("blocks")[0].0;
    drop(library);
    let told = |arguments: &[&str]| {
        let (done, said, trouble) = run(&path, arguments);
        assert!(done, "{arguments:?}: {trouble}");
        said
    };
    let sessions = told(&["sessions", "--blocks"]);
    assert!(sessions.contains("Before: 10 swings"), "{sessions}");
    let [before, after] = [0, 1].map(|i| lesson[i].0.to_string());
    assert!(told(&["summary", "--block", &before]).contains("Divot start\n"));
    let later = later.to_string();
    let compared = told(&["compare", "--block", &before, "--block", &after, "--block", &later]);
    assert!(compared.contains("After, 10 May 2026 against Before, 10 May 2026"), "{compared}");
    assert!(compared.contains("corrected for the 6 comparisons looked at together"), "{compared}");
    assert!(compared.contains("lesson"), "what was kept: {compared}");
    assert!(told(&["clubs"]).contains("7-iron, no ball: "));
    let season = told(&["season", "--club", "7-iron", "--of", "low-point"]);
    assert_eq!(season.lines().count(), 3, "{season}");
    assert!(told(&["drills"]).contains("two-lines-bare  Two lines, no ball"));
    let session = sample.sessions[0].to_string();
    let begun = told(&["begin", &session, "--drill", "stairs-ahead"]);
    let id = begun.trim().strip_prefix("Block ").and_then(|b| b.strip_suffix(": Stairs ahead"));
    let id = id.expect("number and name");
    assert!(told(&["sessions", "--blocks"]).contains(&format!("block {id:>4}  Stairs")));
    for wrong in [
        &["begin", &session, "--drill", "juggling"][..],
        &["begin", "99"],
        &["summary", "--block", "999"],
        &["compare", "1"],
        &["season", "--golfer", "Nobody"],
    ] {
        let (done, said, trouble) = run(&path, wrong);
        assert!(!done && said.is_empty() && trouble.lines().count() == 1, "{wrong:?}: {trouble}");
    }
}
