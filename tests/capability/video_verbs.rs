//! `scuffline index` and `scuffline picture`: the forms that scripts rely on.

use std::path::Path;

use scuffline::domain::GrayFrame;
use serde_json::{Value, json};

use crate::support::numbered::{make, read_number, rewrap, set_matrix};
use crate::support::scuffline;

const X264: &str = "-c:v libx264 -pix_fmt yuv420p -preset veryfast -crf 18 -g 25 -bf 2";

fn index(path: &Path) -> (String, Value) {
    let output = scuffline(["index".as_ref(), path.as_os_str(), "--json".as_ref()]);
    assert!(output.status.success() && output.stderr.is_empty(), "{output:?}");
    let text = String::from_utf8(output.stdout).unwrap();
    let value = serde_json::from_str(&text).unwrap();
    (text, value)
}

fn number_in(png: &Path) -> Option<usize> {
    let gray = image::open(png).unwrap().to_luma8();
    let (width, height) = (gray.width() as usize, gray.height() as usize);
    read_number(&GrayFrame { width, height, data: gray.into_raw() })
}

#[test]
fn the_index_is_printed_in_the_promised_form() {
    let folder = tempfile::tempdir().unwrap();
    let options = format!("{X264} -video_track_timescale 90000");
    let path = make(folder.path(), "a.mp4", 40, "30", "", &options);
    set_matrix(&path, [0, 1, -1, 0]);
    let (text, value) = index(&path);
    let head = r#"{"schema":1,"time_base":[1,90000],"width":96,"height":128,"rotation":90,"mirrored":false,"frames":[{"pts":"#;
    assert!(text.starts_with(head), "{text}");
    assert!(text.ends_with("]}\n") && text.lines().count() == 1);
    let frames = value["frames"].as_array().unwrap();
    assert_eq!(frames.len(), 40);
    for (i, frame) in frames.iter().enumerate() {
        let pts = frames[0]["pts"].as_i64().unwrap() + 3000 * i as i64;
        let key = i % 25 == 0;
        assert_eq!(*frame, json!({"pts": pts, "time_s": i as f64 / 30.0, "key": key}));
    }
}

#[test]
fn turning_is_clockwise_and_mirroring_is_told() {
    let folder = tempfile::tempdir().unwrap();
    // FFmpeg tells a turn by its own sign: -90 is a quarter clockwise (`-display_rotation` and
    // the rotate tag run the other way round).
    for (matrix, rotation, mirrored, ffmpeg) in [
        ([1, 0, 0, 1], 0, false, None),
        ([0, 1, -1, 0], 90, false, Some("-90")),
        ([-1, 0, 0, -1], 180, false, Some("-180")),
        ([0, -1, 1, 0], 270, false, Some("90")),
        ([-1, 0, 0, 1], 0, true, None),
        ([0, -1, -1, 0], 90, true, None),
    ] {
        let path = make(folder.path(), "a.mp4", 3, "30", "", X264);
        set_matrix(&path, matrix);
        let (_, value) = index(&path);
        assert_eq!(value["rotation"], json!(rotation), "{matrix:?}");
        assert_eq!(value["mirrored"], json!(mirrored), "{matrix:?}");
        let expected = if rotation % 180 == 90 { [96, 128] } else { [128, 96] };
        assert_eq!([&value["width"], &value["height"]], [&json!(expected[0]), &json!(expected[1])]);
        if let Some(expected) = ffmpeg {
            let probed = std::process::Command::new("ffprobe")
                .args(["-v", "error", "-show_entries", "stream_side_data=rotation", "-of"])
                .args(["csv=p=0".as_ref(), path.as_os_str()])
                .output()
                .unwrap();
            assert_eq!(String::from_utf8_lossy(&probed.stdout).trim(), expected, "{matrix:?}");
        }
    }
}

#[test]
fn times_count_from_the_first_shown_frame() {
    let folder = tempfile::tempdir().unwrap();
    let start = "-output_ts_offset -1 -avoid_negative_ts disabled -muxdelay 0 -muxpreload 0";
    let path = make(folder.path(), "early.ts", 40, "30", "", &format!("{X264} {start}"));
    let (_, value) = index(&path);
    assert!(value["frames"][0]["pts"].as_i64().unwrap() < 0);
    assert_eq!(value["frames"][0]["time_s"], json!(0.0));
    assert!((value["frames"][30]["time_s"].as_f64().unwrap() - 1.0).abs() < 1e-3);
    // An edit list hides frames 25 to 29 and those before; 30 is shown first.
    let whole = make(folder.path(), "whole.mp4", 60, "30", "", X264);
    let cut = rewrap(&whole, "cut.mp4", "-ss 1.0", "");
    let (_, value) = index(&cut);
    assert_eq!(value["frames"].as_array().unwrap().len(), 30);
    assert_eq!(value["frames"][0]["time_s"], json!(0.0));
    assert_eq!(value["frames"][0]["key"], json!(false));
    let out = folder.path().join("cut");
    let arguments = ["picture".as_ref(), cut.as_os_str(), "--frame".as_ref(), "0".as_ref()];
    let output = scuffline(arguments.into_iter().chain(["--out".as_ref(), out.as_os_str()]));
    assert!(output.status.success(), "{output:?}");
    assert_eq!(number_in(&out.join("000000.png")), Some(30));
}

#[test]
fn pictures_are_written_under_their_numbers_whatever_the_order() {
    let folder = tempfile::tempdir().unwrap();
    let path = make(folder.path(), "a.mp4", 130, "30", "", X264);
    let out = folder.path().join("new").join("pictures");
    let wanted = [123, 7, 99, 0, 7, 129, 25, 24, 26];
    let mut arguments = vec!["picture".to_owned(), path.display().to_string()];
    arguments.extend(wanted.iter().flat_map(|n| ["--frame".to_owned(), n.to_string()]));
    arguments.extend(["--out".to_owned(), out.display().to_string()]);
    let output = scuffline(&arguments);
    assert!(output.status.success(), "{output:?}");
    let mut names: Vec<String> = std::fs::read_dir(&out)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    let sorted = [0, 7, 24, 25, 26, 99, 123, 129];
    assert_eq!(names, sorted.map(|n| format!("{n:06}.png")));
    for n in sorted {
        assert_eq!(number_in(&out.join(format!("{n:06}.png"))), Some(n));
    }
    // A frame that is not there: one sentence, nothing on stdout, nothing written.
    let none = folder.path().join("none");
    let output = scuffline([
        "picture".as_ref(),
        path.as_os_str(),
        "--frame".as_ref(),
        "0".as_ref(),
        "--frame".as_ref(),
        "130".as_ref(),
        "--out".as_ref(),
        none.as_os_str(),
    ]);
    assert_eq!(output.status.code(), Some(1));
    assert!(output.stdout.is_empty() && !none.exists());
    let told = String::from_utf8(output.stderr).unwrap();
    assert!(told.contains("There is no frame 130; the recording has 130 frames"), "{told}");
}

#[test]
fn a_codec_that_is_missing_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let named = |from: &[u8], to: &[u8], name: &str, coding: &str| {
        let path = make(folder.path(), name, 10, "30", "", coding);
        let mut bytes = std::fs::read(&path).unwrap();
        for at in 0..bytes.len() - 4 {
            if &bytes[at..at + 4] == from {
                bytes[at..at + 4].copy_from_slice(to);
            }
        }
        std::fs::write(&path, bytes).unwrap();
        let output = scuffline(["index".as_ref(), path.as_os_str()]);
        assert_eq!(output.status.code(), Some(1));
        String::from_utf8(output.stderr).unwrap()
    };
    for told in [
        named(b"avc1", b"zzq1", "a.mp4", X264),
        named(b"FMP4", b"zzq1", "a.avi", "-c:v mpeg4 -q:v 3"),
    ] {
        assert!(told.contains("coded as zzq1, which the installed FFmpeg cannot decode"), "{told}");
    }
}
