//! Looking after the library from the command line: backups, checks, moved recordings, a golfer
//! who wants to be forgotten, a folder in which recordings arrive.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use scuffline::domain::{Golfer, PlacedBy, Seconds, Session, SwingKind};
use scuffline::store::{GolferId, Library, NewRecording, NewSwing, Scope, identify_file};

use crate::support::numbered::make;
use crate::support::scuffline;

struct Told {
    done: bool,
    said: String,
    trouble: String,
}

fn run(library: &Path, arguments: &[&str]) -> Told {
    let mut all = vec!["--library", library.to_str().unwrap()];
    all.extend(arguments);
    let output = scuffline(all);
    Told {
        done: output.status.success(),
        said: String::from_utf8(output.stdout).unwrap(),
        trouble: String::from_utf8(output.stderr).unwrap(),
    }
}

/// A golfer with a session and a recording of one swing in `folder`.
fn add(library: &mut Library, folder: &Path, name: &str) -> (GolferId, PathBuf) {
    let clip = folder.join(format!("{name}.mp4"));
    std::fs::write(&clip, format!("a recording of {name}")).unwrap();
    let golfer = Golfer { name: name.into(), ..Golfer::default() };
    let new = NewRecording { path: clip.clone(), identity: identify_file(&clip).unwrap() };
    let id = library
        .edit(Scope::Library, "golfer", |edit| {
            let golfer = edit.add_golfer(&golfer)?;
            let session = Session::on(jiff::civil::date(2026, 5, 14));
            let session = edit.add_session(golfer, &session)?;
            let recording = edit.add_recording(session, &new)?;
            let by = PlacedBy::Program;
            let swing = NewSwing::on(recording, SwingKind::Strike, Seconds(1.0), by);
            edit.add_swing(session, &swing)?;
            Ok(golfer)
        })
        .unwrap();
    (id, clip)
}

fn path_in(folder: &tempfile::TempDir) -> PathBuf {
    folder.path().join("lessons.scuffline")
}

#[test]
fn a_backup_is_made_and_put_back_after_it_said_what_is_in_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = path_in(&folder);
    let mut library = Library::open(&path).unwrap();
    add(&mut library, folder.path(), "Robin Invented");
    let told = run(&path, &["backup"]);
    assert!(told.done, "{}", told.trouble);
    assert!(told.said.contains("1 golfer, 1 session, the latest on 2026-05-14, 1 recording, "));
    let backup = told.said.lines().next().unwrap().to_owned();
    assert_eq!(Path::new(&backup).parent().unwrap(), folder.path().join("backups"));
    let again = run(&path, &["backup", &backup]);
    assert!(!again.done && again.trouble.contains("already"), "{}", again.trouble);

    add(&mut library, folder.path(), "Kim Invented");
    let first = run(&path, &["restore", &backup]);
    assert!(first.done && first.said.contains("Nothing was changed"), "{}", first.said);
    assert_eq!(library.golfers().unwrap().len(), 2);
    let told = run(&path, &["restore", &backup, "--yes"]);
    assert!(told.done, "{}", told.trouble);
    // The open window, as it were, sees it.
    assert!(library.changed_since().unwrap());
    assert_eq!(library.golfers().unwrap().len(), 1);

    // Also where there is no library any more, or one beyond reading.
    drop(library);
    for damage in [None, Some(vec![0x11; 50_000])] {
        std::fs::remove_file(&path).unwrap();
        if let Some(bytes) = damage {
            std::fs::write(&path, bytes).unwrap();
        }
        let told = run(&path, &["restore", &backup, "--yes"]);
        assert!(told.done, "{}", told.trouble);
        assert_eq!(Library::open(&path).unwrap().golfers().unwrap().len(), 1);
    }
    let wrong = run(&path, &["restore", path.parent().unwrap().to_str().unwrap()]);
    assert!(!wrong.done && wrong.said.is_empty() && wrong.trouble.lines().count() == 1);
}

#[test]
fn moved_recordings_are_found_and_noted_only_when_asked_to() {
    let folder = tempfile::tempdir().unwrap();
    let path = path_in(&folder);
    let mut library = Library::open(&path).unwrap();
    let (golfer, clip) = add(&mut library, folder.path(), "Robin Invented");
    assert!(run(&path, &["check"]).said.contains("The library is sound."));
    let archive = folder.path().join("archive");
    std::fs::create_dir(&archive).unwrap();
    let moved = archive.join("renamed.mp4");
    std::fs::rename(&clip, &moved).unwrap();

    let told = run(&path, &["check"]);
    assert!(told.done && told.said.contains("Not where it was") && told.said.contains("--look-in"));
    let place = || {
        let session = library.sessions(golfer).unwrap().remove(0).id;
        library.recordings(session).unwrap().remove(0).path
    };
    let look = ["check", "--look-in", folder.path().to_str().unwrap()];
    let told = run(&path, &look);
    assert!(told.said.contains("Found again") && told.said.contains("Nothing was changed"));
    assert_eq!(place(), clip);
    let told = run(&path, &[&look[..], &["--mend"]].concat());
    assert!(told.done && !told.said.contains("Not where it was"), "{}", told.said);
    assert_eq!(place(), moved);
    std::fs::write(&moved, "something else").unwrap();
    assert!(run(&path, &["check"]).said.contains("Another recording lies in its place"));
}

#[test]
fn a_damaged_library_is_told_by_exit_code_and_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let path = path_in(&folder);
    let mut library = Library::open(&path).unwrap();
    for n in 0..40 {
        add(&mut library, folder.path(), &format!("Invented {n}"));
    }
    let whole = folder.path().join("whole.backup");
    library.backup_to(&whole).unwrap();
    drop(library);
    let mut bytes = std::fs::read(&whole).unwrap();
    // Pages in the middle: tables and indexes, not the header.
    let pages = 3 * 4096..9 * 4096;
    bytes[pages].fill(0);
    let damaged = folder.path().join("damaged.scuffline");
    std::fs::write(&damaged, bytes).unwrap();
    let told = run(&damaged, &["check"]);
    assert!(!told.done && told.said.is_empty());
    assert!(told.trouble.contains("restore its newest backup"), "{}", told.trouble);
    assert!(!run(&damaged, &["backup"]).done, "no backup of damage");
    assert!(run(&damaged, &["restore", whole.to_str().unwrap(), "--yes"]).done);
    assert!(run(&damaged, &["check"]).said.contains("The library is sound."));
}

#[test]
fn a_golfer_is_erased_after_being_asked_twice_and_what_others_have_stays() {
    let folder = tempfile::tempdir().unwrap();
    let path = path_in(&folder);
    let mut library = Library::open(&path).unwrap();
    let (_, clip) = add(&mut library, folder.path(), "Quillon Invented");
    let (kim, kims) = add(&mut library, folder.path(), "Kim Invented");
    // Both were filmed in one recording.
    let shared = folder.path().join("both.mp4");
    std::fs::write(&shared, "two golfers").unwrap();
    let new = NewRecording { path: shared.clone(), identity: identify_file(&shared).unwrap() };
    let golfers = library.golfers().unwrap();
    for (golfer, _) in &golfers {
        let session = library.sessions(*golfer).unwrap().remove(0).id;
        library.save(|edit| edit.add_recording(session, &new)).unwrap();
    }
    let recent = serde_json::json!({"recent_files": [clip, kims], "theme": "sunlight"});
    library.save(|edit| edit.set_setting("window", &recent.to_string())).unwrap();
    assert!(run(&path, &["backup"]).done);

    let erase = ["erase", "--golfer", "quillon invented", "--recordings"];
    let told = run(&path, &erase);
    assert!(told.done && told.said.contains("Nothing was changed"), "{}", told.said);
    assert_eq!(library.golfers().unwrap().len(), 2);
    assert!(clip.exists());
    let told = run(&path, &[&erase[..], &["--yes"]].concat());
    assert!(told.done && told.said.contains("may still be in this backup"), "{}", told.said);
    assert!(!clip.exists() && shared.exists() && kims.exists());
    assert_eq!(library.golfers().unwrap()[0].0, kim);
    let kept: serde_json::Value =
        serde_json::from_str(&library.setting("window").unwrap().unwrap()).unwrap();
    assert_eq!(kept, serde_json::json!({"recent_files": [kims], "theme": "sunlight"}));
    for entry in std::fs::read_dir(folder.path()).unwrap().flatten() {
        let Ok(bytes) = std::fs::read(entry.path()) else { continue };
        assert!(!bytes.windows(7).any(|w| w == b"Quillon"), "{}", entry.path().display());
    }
    assert!(!run(&path, &["erase", "--golfer", "Nobody", "--yes"]).done);
}

#[test]
fn a_recording_read_before_it_was_whole_gives_way_to_the_whole_one() {
    let folder = tempfile::tempdir().unwrap();
    let path = path_in(&folder);
    let options = "-c:v libx264 -preset ultrafast -g 10";
    let whole = std::fs::read(make(folder.path(), "whole.ts", 40, "30", "", options)).unwrap();
    let clip = folder.path().join("swing.ts");
    let recordings = || {
        let library = Library::open(&path).unwrap();
        let golfer = library.golfers().unwrap().remove(0).0;
        let session = library.sessions(golfer).unwrap().remove(0).id;
        library.recordings(session).unwrap()
    };
    let scan = ["scan", clip.to_str().unwrap(), "--date", "2026-05-14"];
    std::fs::write(&clip, &whole[..whole.len() / 2]).unwrap();
    assert!(run(&path, &scan).done);
    let half = recordings();
    std::fs::write(&clip, &whole).unwrap();
    assert!(run(&path, &scan).done);
    assert_eq!(recordings().len(), 1);
    assert_ne!(recordings()[0].identity, half[0].identity);
    // What a person worked on stays.
    let mut library = Library::open(&path).unwrap();
    let row = recordings().remove(0);
    let time = Seconds(0.3);
    let swing = NewSwing::on(row.id, SwingKind::Strike, time, PlacedBy::Person);
    library.save(|edit| edit.add_swing(row.session, &swing)).unwrap();
    std::fs::write(&clip, &whole[..whole.len() * 2 / 3]).unwrap();
    assert!(run(&path, &scan).done);
    assert_eq!(recordings().len(), 2);
}

#[test]
fn recordings_that_arrive_in_a_folder_are_read_once_they_are_whole() {
    let folder = tempfile::tempdir().unwrap();
    let (path, inbox) = (path_in(&folder), folder.path().join("inbox"));
    std::fs::create_dir(&inbox).unwrap();
    let whole = make(folder.path(), "whole.mp4", 20, "30", "", "-c:v libx264 -preset ultrafast");
    let bytes = std::fs::read(&whole).unwrap();
    std::fs::copy(&whole, inbox.join("there before.mp4")).unwrap();
    let mut watching = Command::new(env!("CARGO_BIN_EXE_scuffline"))
        .args(["watch", "--golfer", "Robin Invented", "--date", "2026-05-14"])
        .args(["--quit-after", "4", "--library"])
        .args([&path, &inbox])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    until(|| path.exists());
    // One whole, one in two parts with a pause, one that is broken for good. Each has a content
    // of its own, since what is already in the library is not read twice.
    let arriving = |n: u8| [&bytes[..], &[0, 0, 0, 9, b'f', b'r', b'e', b'e', n]].concat();
    std::fs::write(inbox.join("one.mp4"), arriving(1)).unwrap();
    let two = arriving(2);
    std::fs::write(inbox.join("two.mp4"), &two[..two.len() / 2]).unwrap();
    std::fs::write(inbox.join("broken.mp4"), &bytes[..99]).unwrap();
    until(|| Library::open(&path).is_ok_and(|library| library.contents().unwrap().recordings == 1));
    std::fs::write(inbox.join("two.mp4"), &two).unwrap();
    let output = {
        watching.wait().unwrap();
        watching.wait_with_output().unwrap()
    };
    let trouble = String::from_utf8_lossy(&output.stderr);
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(!output.status.success() && trouble.contains("broken.mp4"), "{trouble}");
    assert!(said.contains("one.mp4, 2026-05-14") && said.contains("two.mp4"), "{said}");
    let library = Library::open(&path).unwrap();
    let (golfer, kept) = library.golfers().unwrap().remove(0);
    assert_eq!(kept.name, "Robin Invented");
    let session = library.sessions(golfer).unwrap().remove(0);
    let names: Vec<PathBuf> =
        library.recordings(session.id).unwrap().into_iter().map(|row| row.path).collect();
    assert_eq!(names, ["one.mp4", "two.mp4"].map(|name| inbox.join(name)));
}

#[test]
fn commands_at_once_on_one_library_make_one_golfer_one_session_and_each_recording_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = path_in(&folder);
    let options = "-c:v libx264 -preset ultrafast";
    let clips: Vec<PathBuf> = (1..4)
        .map(|n| make(folder.path(), &format!("{n}.mp4"), 10 + n, "30", "", options))
        .collect();
    let scan = |files: &[&PathBuf]| {
        Command::new(env!("CARGO_BIN_EXE_scuffline"))
            .args(["scan", "--golfer", "Robin Invented", "--date", "2026-05-14", "--library"])
            .arg(&path)
            .args(files)
            .stdout(Stdio::null())
            .spawn()
            .unwrap()
    };
    // Each in its own order, so that they meet at the same files.
    let orders = [[0, 1, 2], [1, 2, 0], [2, 0, 1], [0, 2, 1]];
    let running = orders.map(|order| scan(&order.map(|i| &clips[i])));
    // A window is open, too, and a person edits in it.
    let mut window = Library::open(&path).unwrap();
    for n in 0..20 {
        let golfer = Golfer { name: format!("Kim Invented {n}"), ..Golfer::default() };
        window.edit(Scope::Library, "golfer", |edit| edit.add_golfer(&golfer)).unwrap();
    }
    for mut child in running {
        assert!(child.wait().unwrap().success());
    }
    assert!(window.changed_since().unwrap(), "the window hears of it");
    let golfers = window.golfers().unwrap();
    let robins: Vec<_> = golfers.iter().filter(|(_, g)| g.name == "Robin Invented").collect();
    assert_eq!([robins.len(), golfers.len()], [1, 21]);
    let sessions = window.sessions(robins[0].0).unwrap();
    assert_eq!(sessions.len(), 1);
    assert_eq!(window.recordings(sessions[0].id).unwrap().len(), 3);
    assert!(window.check().unwrap().is_sound());
}

/// As somebody who is not root, whom no rights stop: a command that runs a copy of the program.
fn as_nobody(folder: &Path) -> Command {
    let program = folder.join("scuffline");
    std::fs::copy(env!("CARGO_BIN_EXE_scuffline"), &program).unwrap();
    let is_root = String::from_utf8(Command::new("id").arg("-u").output().unwrap().stdout);
    if is_root.unwrap().trim() != "0" {
        return Command::new(program);
    }
    let mut command = Command::new("setpriv");
    command.args(["--reuid=65534", "--regid=65534", "--clear-groups"]).arg(program);
    command
}

#[cfg(unix)]
#[test]
fn a_folder_that_may_not_be_written_to_gets_a_sentence() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let allow = |path: &Path, mode: u32| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    };
    allow(folder.path(), 0o755);
    let locked = folder.path().join("locked");
    std::fs::create_dir(&locked).unwrap();
    let path = locked.join("lessons.scuffline");
    let mut library = Library::open(&path).unwrap();
    add(&mut library, folder.path(), "Robin Invented");
    drop(library);
    allow(&path, 0o444);
    let before = std::fs::read(&path).unwrap();
    allow(&locked, 0o555);
    let fresh = locked.join("fresh.scuffline");
    let out = locked.join("out.csv");
    let copy = locked.join("copy.backup");
    let window = ["--of", "low-point", "--from", "60", "--to", "110"];
    let aim = [&["aim", "--golfer", "Robin Invented", "--club", "PW"][..], &window[..]].concat();
    let tries: [(&Path, &[&str]); 5] = [
        (&path, &["check"]),
        (&path, &["export", out.to_str().unwrap(), "--consent", "Robin"]),
        (&path, &["backup", copy.to_str().unwrap()]),
        (&fresh, &["sessions"]),
        (&path, &aim),
    ];
    for (library, arguments) in tries {
        let mut command = as_nobody(folder.path());
        let output = command.arg("--library").arg(library).args(arguments).output().unwrap();
        let trouble = String::from_utf8(output.stderr).unwrap();
        assert!(!output.status.success() && output.stdout.is_empty(), "{arguments:?}");
        assert!(trouble.lines().count() == 1 && trouble.contains("; "), "{trouble}");
    }
    allow(&locked, 0o755);
    assert_eq!(std::fs::read(&path).unwrap(), before);
    let left = std::fs::read_dir(&locked).unwrap().flatten().count();
    assert_eq!(left, 1, "nothing was left behind");
}

/// Waits until it is so; what never comes shows as a failure further on.
fn until(mut is_so: impl FnMut() -> bool) {
    let start = Instant::now();
    while !is_so() && start.elapsed() < Duration::from_secs(60) {
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn what_is_empty_is_said_and_checking_begins_no_library() {
    let folder = tempfile::tempdir().unwrap();
    let path = path_in(&folder);
    let told = run(&path, &["check"]);
    assert!(!told.done && told.trouble.starts_with("There is no library"), "{}", told.trouble);
    assert!(!path.exists(), "checking made a library");

    for nothing in [&["sessions"][..], &["lens", "list"]] {
        let told = run(&path, nothing);
        assert!(told.said.starts_with("Nothing was found here"), "{nothing:?}: {}", told.said);
    }
    let mut library = Library::open(&path).unwrap();
    let (golfer, _) = add(&mut library, folder.path(), "Robin Invented");
    let told = run(&path, &["season"]);
    assert!(told.said.starts_with("Nothing was found here"), "{}", told.said);

    // Two empty blocks: the sentence alone, and no word of repeat sessions.
    let session = library.sessions(golfer).unwrap()[0].id.0.to_string();
    for _ in 0..2 {
        assert!(run(&path, &["begin", &session]).done);
    }
    let told = run(&path, &["compare", "--block", "1", "--block", "2"]);
    assert!(told.done, "{}", told.trouble);
    assert!(!told.said.contains("two clubs") && !told.said.contains("\n\n\n"), "{}", told.said);
}
