//! The real program in a real window on a display of its own (Xvfb), driven by mouse and keys
//! (xdotool): what is marked is there when the window is opened again.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use scuffline::domain::{Golfer, ImagePoint, MarkKind, PlacedBy};
use scuffline::store::{Library, Of, Scope, SessionId};

use crate::support::display::{Running, display, open_window};
use crate::support::file_drag::drop_file;

struct Desk {
    display: String,
    library: PathBuf,
}

impl Desk {
    fn xdotool(&self, arguments: &str) {
        let status = Command::new("xdotool")
            .args(arguments.split_whitespace())
            .env("DISPLAY", &self.display)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status();
        status.expect("xdotool is one of the packages of .ci/packages");
    }

    fn open(&self, files: &[PathBuf]) -> Running {
        let mut program = Command::new(env!("CARGO_BIN_EXE_scuffline"));
        program.args(files);
        let running = open_window(program, &self.display, &self.library);
        self.xdotool("search --sync --onlyvisible --name ^scuffline$ windowsize --sync 1280 800 windowmove 0 0 windowfocus");
        running
    }

    /// The program's window.
    fn window(&self) -> u32 {
        let found = Command::new("xdotool")
            .args(["search", "--sync", "--onlyvisible", "--name", "^scuffline$"])
            .env("DISPLAY", &self.display)
            .output()
            .expect("xdotool is one of the packages of .ci/packages");
        let text = String::from_utf8(found.stdout).unwrap();
        text.lines().next().and_then(|id| id.parse().ok()).expect("the window is open")
    }

    /// The person's divot end of the first swing, once there is one.
    fn divot_end(&self) -> Option<ImagePoint> {
        let library = Library::open(&self.library).ok()?;
        let swing = library.swings(Of::Session(session_of(&library)?)).ok()?.into_iter().next()?;
        let marks = library.marks(swing.recording?, Some(swing.id)).ok()?;
        let end =
            marks.iter().find(|m| m.kind == MarkKind::DivotEnd && m.by == PlacedBy::Person)?;
        Some(end.mark.point)
    }

    fn divot_end_x(&self) -> Option<f64> {
        self.divot_end().map(|point| point.x)
    }

    fn has_swing(&self) -> bool {
        let swings = Library::open(&self.library).ok().and_then(|library| {
            let session = session_of(&library)?;
            library.swings(Of::Session(session)).ok()
        });
        swings.is_some_and(|swings| !swings.is_empty())
    }

    /// Repeats what a hand does until it has had its effect: a window on a busy machine may
    /// not be ready for the first try.
    fn until(&self, what: &str, reached: impl Fn() -> bool, mut hand: impl FnMut()) {
        let end = Instant::now() + Duration::from_secs(180);
        while !reached() {
            assert!(Instant::now() < end, "waited in vain: {what}");
            hand();
            let pause = Instant::now() + Duration::from_secs(4);
            while !reached() && Instant::now() < pause {
                std::thread::sleep(Duration::from_millis(100));
            }
        }
    }
}

fn session_of(library: &Library) -> Option<SessionId> {
    let (golfer, _) = library.golfers().ok()?.into_iter().next()?;
    library.sessions(golfer).ok()?.first().map(|row| row.id)
}

/// A library with a golfer, in which the guide was put away.
fn library_in(folder: &Path) -> PathBuf {
    let path = folder.join("library.scuffline");
    let mut library = Library::open(&path).unwrap();
    let golfer = Golfer { name: "A. Nobody (invented)".into(), ..Golfer::default() };
    library.edit(Scope::Library, "golfer", |edit| edit.add_golfer(&golfer)).unwrap();
    library.save(|edit| edit.set_setting("window", r#"{"guide_dismissed": true}"#)).unwrap();
    path
}

#[test]
fn marks_made_with_mouse_and_keys_are_there_when_the_window_is_opened_again() {
    let folder = tempfile::tempdir().unwrap();
    let (_server, display) = display();
    let desk = Desk { display, library: library_in(folder.path()) };
    let recording = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-frames/iron_turf_sheet.mp4");

    let window = desk.open(&[recording]);
    desk.until("the swing", || desk.has_swing(), || {});
    // Somewhere on the ground to the right of the ball; the picture fills the window's left.
    desk.until(
        "the divot end",
        || desk.divot_end_x().is_some(),
        || {
            // F, since the picture comes close for what is placed in the ground.
            desk.xdotool("key Escape key 4 key f mousemove 560 572 click 1");
        },
    );
    let placed = desk.divot_end_x().unwrap();
    assert!((700.0..800.0).contains(&placed), "{placed}");
    desk.until(
        "the nudge",
        || desk.divot_end_x().is_some_and(|x| x > placed + 0.05),
        || {
            desk.xdotool("key Right");
        },
    );
    let nudged = desk.divot_end_x().unwrap();
    // A tenth of a pixel for each press.
    let presses = (nudged - placed) * 10.0;
    assert!((presses - presses.round()).abs() < 1e-6, "{placed} {nudged}");
    let before = desk.divot_end().unwrap();
    // Dragged by the mouse: pressed, moved and let go. Esc first, so that nothing is being placed.
    let (right, up) = (42.0, -14.0);
    desk.until(
        "the mark to be dragged",
        || desk.divot_end_x().is_some_and(|x| x > nudged + 20.0),
        || {
            desk.xdotool(
                "key Escape mousemove 560 572 mousedown 1 sleep 0.3 mousemove 575 570 sleep 0.3 \
                 mousemove 602 558 sleep 0.3 mouseup 1",
            );
        },
    );
    // The window shows about 0.7 screen points a picture pixel, the same both ways.
    let dragged = desk.divot_end().unwrap();
    let scale = right / (dragged.x - nudged);
    assert!((0.6..0.85).contains(&scale), "{nudged} {dragged:?}");
    assert!((dragged.y - before.y - up / scale).abs() < 1.5, "{before:?} {dragged:?}");
    let mut tries = 0;
    desk.until(
        "undo of the drag",
        || desk.divot_end() == Some(before),
        || {
            // Not at every look: a second step back before the first is seen would be one too many.
            if tries % 5 == 0 {
                desk.xdotool("key ctrl+z");
            }
            tries += 1;
        },
    );
    drop(window);

    // Opened again: the mark is where it was left, can be taken hold of and moved on.
    let _window = desk.open(&[]);
    assert_eq!(desk.divot_end_x(), Some(nudged));
    desk.until(
        "the mark to be moved on",
        || desk.divot_end_x() != Some(nudged),
        || {
            desk.xdotool("mousemove 560 572 click 1 key Right");
        },
    );
    let moved = desk.divot_end_x().unwrap();
    assert!(moved > nudged && moved < nudged + 2.0, "{nudged} {moved}");
}

#[test]
fn a_file_dropped_on_the_window_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let (_server, display) = display();
    let desk = Desk { display, library: library_in(folder.path()) };
    let _window = desk.open(&[]);
    assert!(!desk.has_swing());
    let recording = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-frames/iron_turf_sheet.mp4");
    assert!(drop_file(&desk.display, desk.window(), &recording), "the window takes files");
    desk.until("the dropped recording", || desk.has_swing(), || {});
}
