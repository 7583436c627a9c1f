//! A lens found in a recording, kept, offered again and measured by.

use std::path::Path;

use scuffline::domain::{ColourFrame, ImagePoint, PictureSize, Pts, TimeBase};
use scuffline::store::{Library, identify_file};
use scuffline::video::{ClipWriter, Recording};
use scuffline::workflow::{kept_recording, lens_choice};
use serde_json::{Value, json};

use crate::support::{sample, scuffline};

const SIZE: PictureSize = PictureSize { width: 1280, height: 720 };
/// Of the invented camera: focal length in pixels and its radial terms (Brown 1971).
const FOCAL: f64 = 1150.0;
const RADIAL: [f64; 2] = [-0.12, 0.03];
/// Width of a square of the board, mm.
const SQUARE: f64 = 30.0;

/// Where a point of the camera's frame appears.
fn project(p: [f64; 3]) -> ImagePoint {
    let (x, y) = (p[0] / p[2], p[1] / p[2]);
    let r2 = x * x + y * y;
    let bend = 1.0 + RADIAL[0] * r2 + RADIAL[1] * r2 * r2;
    ImagePoint::new(639.5 + FOCAL * x * bend, 359.5 + FOCAL * y * bend)
}

/// The ray of a pixel, by turning the bend round step by step.
fn ray(u: f64, v: f64) -> [f64; 2] {
    let (xd, yd) = ((u - 639.5) / FOCAL, (v - 359.5) / FOCAL);
    let (mut x, mut y) = (xd, yd);
    for _ in 0..12 {
        let r2 = x * x + y * y;
        let bend = 1.0 + RADIAL[0] * r2 + RADIAL[1] * r2 * r2;
        (x, y) = (xd / bend, yd / bend);
    }
    [x, y]
}

/// A board's axes and middle in the camera's frame.
struct Held {
    across: [f64; 3],
    down: [f64; 3],
    middle: [f64; 3],
}

/// Held in that many ways: leant to the sides, to the front, and moved about.
fn held(way: usize) -> Held {
    let lean = [0.0, 0.5, -0.5, 0.15, -0.2, 0.4, -0.35, 0.1][way % 8];
    let nod = [0.05, 0.1, -0.15, 0.5, -0.45, -0.35, 0.35, 0.0][way % 8];
    let at = [[0.0, 0.0], [-110.0, 20.0], [110.0, -30.0], [-60.0, -40.0]][way % 4];
    let ((sl, cl), (sn, cn)) = (f64::sin_cos(lean), f64::sin_cos(nod));
    Held {
        across: [cl, 0.0, sl],
        down: [-sl * sn, cn, cl * sn],
        middle: [at[0], at[1], 520.0 + 12.0 * way as f64],
    }
}

/// The picture of a board with 9 x 6 inner corners, 3 x 3 samples a pixel.
fn board_picture(held: &Held) -> ColourFrame {
    let cross = |a: [f64; 3], b: [f64; 3]| {
        [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
    };
    let dot = |a: [f64; 3], b: [f64; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    let normal = cross(held.across, held.down);
    let level = |u: f64, v: f64| {
        let [x, y] = ray(u, v);
        let depth = dot(normal, held.middle) / dot(normal, [x, y, 1.0]);
        let p = [x * depth, y * depth, depth];
        let d = [p[0] - held.middle[0], p[1] - held.middle[1], p[2] - held.middle[2]];
        let (a, b) = (dot(d, held.across) / SQUARE + 4.0, dot(d, held.down) / SQUARE + 2.5);
        let within = (-1.0..9.0).contains(&a) && (-1.0..6.0).contains(&b);
        let dark = (a.floor() as i64 + b.floor() as i64).rem_euclid(2) == 0;
        if within && dark { 50.0 } else { 205.0 }
    };
    let data = (0..SIZE.width * SIZE.height)
        .flat_map(|i| {
            let (x, y) = ((i % SIZE.width) as f64, (i / SIZE.width) as f64);
            let sum: f64 = (0..9)
                .map(|k| level(x + f64::from(k % 3 - 1) / 3.0, y + f64::from(k / 3 - 1) / 3.0))
                .sum();
            let gray = (sum / 9.0).round() as u8;
            [gray, gray, gray, 255]
        })
        .collect();
    ColourFrame { width: SIZE.width, height: SIZE.height, data }
}

fn record(path: &Path) {
    let base = TimeBase { numerator: 1, denominator: 30 };
    let mut clip = ClipWriter::create(path, SIZE, base).expect("a clip can be begun");
    for frame in 0..16 {
        clip.write(&board_picture(&held(frame / 2)), Pts(frame as i64))
            .expect("a picture is written");
    }
    clip.finish().expect("the clip is closed");
}

fn run(library: &Path, arguments: &[&str]) -> String {
    let mut all = vec!["--library", library.to_str().expect("a plain path")];
    all.extend(arguments);
    let output = scuffline(all);
    let text = |bytes| String::from_utf8(bytes).expect("text");
    assert!(output.status.success(), "{arguments:?}: {}", text(output.stderr));
    text(output.stdout)
}

/// The share of the radius that the lens takes away at the corner, in percent, with its ± .
fn bend_of(lens: &Value) -> (f64, f64) {
    let (w, h) = (SIZE.width as f64, SIZE.height as f64);
    let q = (w * w + h * h) / (2.0 * w).powi(2);
    let of = |i: usize, key: &str| lens["radial"][i][key].as_f64().expect("a number");
    let rho = lens["correlation"].as_f64().expect("a number");
    let (a, b) = (of(0, "standard") * q, of(1, "standard") * q * q);
    let doubt = (a * a + b * b + 2.0 * rho * a * b).max(0.0).sqrt();
    (100.0 * (of(0, "value") * q + of(1, "value") * q * q), 200.0 * doubt)
}

/// What the invented camera does to a point as far off as the corner, in percent.
fn true_bend() -> f64 {
    let r2 = (640f64.hypot(360.0) / FOCAL).powi(2);
    100.0 * (RADIAL[0] * r2 + RADIAL[1] * r2 * r2)
}

#[test]
fn a_recorded_chessboard_tells_the_lens_and_measuring_goes_by_it() {
    let folder = tempfile::tempdir().expect("a temporary folder can be made");
    let (library, board) = (folder.path().join("a.scuffline"), folder.path().join("board.mp4"));
    record(&board);
    let board = board.to_str().expect("a plain path");
    let said = run(&library, &["lens", "make", "invented, 1x", board, "--board", "9x6"]);
    assert!(said.contains("barrel"), "{said}");
    let lens: Value =
        serde_json::from_str(&run(&library, &["lens", "print", "invented, 1x"])).expect("JSON");
    let focal = lens["focal"]["value"].as_f64().expect("found with a board") * SIZE.width as f64;
    assert!((focal - FOCAL).abs() < 0.01 * FOCAL, "focal length {focal} px, {FOCAL} in truth");
    let (bend, doubt) = bend_of(&lens);
    println!("bend {bend:.2} ± {doubt:.2} %, {:.2} in truth; focal {focal:.0} px", true_bend());
    assert!((bend - true_bend()).abs() < doubt.max(0.1), "{bend} ± {doubt}, {}", true_bend());

    // A recording of the library is measured by it, and no longer when it is forgotten.
    let clip = sample("iron_turf_sheet.mp4");
    let setup = sample("iron_turf_sheet.setup.json");
    let (clip, setup) = (clip.to_str().expect("plain"), setup.to_str().expect("plain"));
    run(&library, &["scan", clip, "--setup", setup, "--date", "2026-05-31"]);
    let end = |said: &str| {
        said.lines().find(|line| line.trim_start().starts_with("divot end")).map(str::to_owned)
    };
    let before = end(&run(&library, &["mark", clip, "--swing", "1", "ball", "660.19", "591.996"]));
    run(&library, &["lens", "use", "invented, 1x", clip]);
    let after = end(&run(&library, &["mark", clip, "--swing", "1", "ball", "660.19", "591.996"]));
    assert!(before.is_some() && after.is_some());
    assert_ne!(before, after, "a lens that bends by some percent moves what it measures");
    assert!(run(&library, &["lens", "list"]).contains("invented, 1x"));
}

/// A clip of three even pictures.
fn plain_clip(path: &Path, size: PictureSize) {
    let base = TimeBase { numerator: 1, denominator: 30 };
    let mut clip = ClipWriter::create(path, size, base).expect("a clip can be begun");
    let data = vec![120; 4 * size.width * size.height];
    let plain = ColourFrame { width: size.width, height: size.height, data };
    for frame in 0..3 {
        clip.write(&plain, Pts(frame)).expect("a picture is written");
    }
    clip.finish().expect("the clip is closed");
}

/// Straight lines near the picture's edges as the invented lens shows them, seven marks each,
/// each up to a third of a pixel off; a set-up file's text.
fn edges_setup() -> String {
    let mut wrong = (1..).map(|i: u64| f64::from((i * 7919 % 101) as u32) / 152.0 - 0.33);
    let lines = [
        [-0.5, -0.27, 0.5, -0.25],
        [-0.5, 0.27, 0.5, 0.28],
        [-0.48, -0.25, -0.47, 0.25],
        [0.48, -0.25, 0.49, 0.25],
    ];
    let edges: Vec<Vec<[f64; 2]>> = lines
        .iter()
        .map(|[ax, ay, bx, by]| {
            (0..7)
                .map(|i| {
                    let t = f64::from(i) / 6.0;
                    let p = project([ax + t * (bx - ax), ay + t * (by - ay), 1.0]);
                    [p.x + wrong.next().unwrap_or(0.0), p.y + wrong.next().unwrap_or(0.0)]
                })
                .collect()
        })
        .collect();
    json!({ "straight_edges_px": edges }).to_string()
}

#[test]
fn straight_edges_of_a_recording_tell_the_lens() {
    let folder = tempfile::tempdir().expect("a temporary folder can be made");
    let (library, film) = (folder.path().join("a.scuffline"), folder.path().join("edges.mp4"));
    plain_clip(&film, SIZE);
    let setup = folder.path().join("edges.json");
    std::fs::write(&setup, edges_setup()).expect("written");
    let (film, setup) = (film.to_str().expect("plain"), setup.to_str().expect("plain"));
    run(&library, &["lens", "make", "edges", film, "--setup", setup]);
    let lens: Value =
        serde_json::from_str(&run(&library, &["lens", "print", "edges"])).expect("JSON");
    let (bend, doubt) = bend_of(&lens);
    println!("bend {bend:.2} ± {doubt:.2} %, {:.2} in truth", true_bend());
    assert!((bend - true_bend()).abs() < doubt.max(0.1), "{bend} ± {doubt}");
    assert!(lens["focal"].is_null(), "straight edges tell no focal length");
}

/// Writes maker and model into a clip as phones do (QuickTime's user data): a new `moov` box with
/// them goes to the end, the old one becomes a `free` box, so nothing else moves.
fn tag(path: &Path, maker: &str, model: &str) {
    let boxed = |kind: &[u8], content: &[u8]| {
        let mut out = (content.len() as u32 + 8).to_be_bytes().to_vec();
        out.extend(kind);
        out.extend(content);
        out
    };
    let note = |kind: &[u8], text: &str| {
        // Length, language (undetermined), text.
        let mut content = (text.len() as u16).to_be_bytes().to_vec();
        content.extend([0x55, 0xC4]);
        content.extend(text.as_bytes());
        boxed(kind, &content)
    };
    let mut file = std::fs::read(path).expect("the clip was written");
    let mut at = 0;
    while &file[at + 4..at + 8] != b"moov" {
        at += u32::from_be_bytes(file[at..at + 4].try_into().expect("four bytes")) as usize;
    }
    let length = u32::from_be_bytes(file[at..at + 4].try_into().expect("four bytes")) as usize;
    let mut content = file[at + 8..at + length].to_vec();
    content.extend(boxed(b"udta", &[note(b"\xa9mak", maker), note(b"\xa9mod", model)].concat()));
    file[at + 4..at + 8].copy_from_slice(b"free");
    file.extend(boxed(b"moov", &content));
    std::fs::write(path, file).expect("the clip is written anew");
}

#[test]
fn a_kept_lens_is_offered_where_the_camera_is_the_same_and_nowhere_else() {
    let folder = tempfile::tempdir().expect("a temporary folder can be made");
    let library = folder.path().join("a.scuffline");
    let wide = PictureSize { width: 640, height: 360 };
    let square = PictureSize { width: 480, height: 480 };
    let clip = |name: &str, size, camera: Option<(&str, &str)>| {
        let path = folder.path().join(name);
        plain_clip(&path, size);
        if let Some((maker, model)) = camera {
            tag(&path, maker, model);
        }
        path.to_str().expect("plain").to_owned()
    };
    let phone = Some(("Invented", "Phone 1"));
    let made_with = clip("edges.mp4", SIZE, phone);
    let seen = Recording::open(Path::new(&made_with)).unwrap();
    assert_eq!(seen.facts().camera.as_deref(), Some("Invented Phone 1"));
    let setup = folder.path().join("edges.json");
    std::fs::write(&setup, edges_setup()).expect("written");
    let setup = setup.to_str().expect("plain");
    run(&library, &["lens", "make", "the wide one", &made_with, "--setup", setup]);

    let offers = |clip: &str| {
        let said = run(&library, &["scan", clip, "--date", "2026-05-31"]);
        let kept = Library::open(&library).unwrap();
        let id = identify_file(Path::new(clip)).unwrap();
        let row = kept_recording(&kept, &id, None).unwrap().expect("just read in");
        // What the window is told, and what the command line says.
        let choice = lens_choice(&kept, row.id).unwrap();
        assert_eq!(choice.offered.len(), usize::from(said.contains("the wide one")), "{said}");
        (choice.offered.len(), choice.others.len())
    };
    let same = clip("same.mp4", wide, phone);
    assert_eq!(offers(&same), (1, 0), "the same phone, a smaller picture of the same shape");
    assert_eq!(offers(&clip("other.mp4", wide, Some(("Invented", "Phone 2")))), (0, 1));
    assert_eq!(offers(&clip("untold.mp4", wide, None)), (0, 1));
    assert_eq!(offers(&clip("square.mp4", square, phone)), (0, 0), "another field");

    // Taken once, it is no longer asked.
    run(&library, &["lens", "use", "the wide one", &same]);
    assert!(!run(&library, &["scan", &same, "--date", "2026-05-31"]).contains("the wide one"));
}
