//! Broken files get a sentence, never a panic, a hang or unbounded memory.

use std::path::{Path, PathBuf};

use scuffline::domain::{FrameIndex, Pictures, Warning};
use scuffline::video::{CancelToken, Recording, VideoError, full_hash};

use crate::support::mutate::damaged;
use crate::support::numbered::make;

const X264: &str = "-c:v libx264 -pix_fmt yuv420p -preset veryfast -crf 22";

fn written(folder: &Path, name: &str, bytes: &[u8]) -> PathBuf {
    let path = folder.join(name);
    std::fs::write(&path, bytes).unwrap();
    path
}

/// Opens and reads here and there, as far as the file lets; panics are what is looked for.
fn read_all_over(path: &Path) {
    let Ok(mut recording) = Recording::open(path) else { return };
    let count = recording.timeline().len();
    for frame in [0, count / 2, count - 1, count / 3] {
        let _ = recording.gray(FrameIndex(frame));
        let _ = recording.colour(FrameIndex(frame));
    }
    let _ = recording.for_each_gray(FrameIndex(0), FrameIndex(count), &mut |_, _| true);
    let _ = recording.sound();
    let _ = recording.warnings();
}

#[test]
fn damaged_files_never_panic() {
    let folder = tempfile::tempdir().unwrap();
    let tone = "-f lavfi -i sine=frequency=440:sample_rate=48000 -map 0:v -map 1:a -shortest";
    for (kind, options) in [
        ("mp4", format!("-c:a aac {X264} -g 10 -bf 2")),
        ("mkv", format!("-c:a aac {X264} -g 10 -bf 2 -x264-params open-gop=1")),
        ("ts", format!("-c:a aac {X264} -g 10 -bf 2")),
        ("avi", "-c:a pcm_s16le -c:v mpeg4 -q:v 5 -g 10 -bf 2".into()),
        ("webm", "-c:a libopus -c:v libvpx -b:v 300k -deadline realtime -cpu-used 8".into()),
    ] {
        let whole = make(folder.path(), &format!("whole.{kind}"), 30, "30", tone, &options);
        let original = std::fs::read(whole).unwrap();
        for number in 0..16 {
            let bytes = damaged(&original, number);
            read_all_over(&written(folder.path(), &format!("damaged.{kind}"), &bytes));
        }
    }
}

#[test]
fn what_is_no_recording_gets_its_own_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let error = |path: &Path| Recording::open(path).err().expect("it is no recording");
    let path = folder.path().join("absent.mp4");
    assert_eq!(error(&path), VideoError::Missing { path: path.clone() });
    assert!(matches!(full_hash(&path, &CancelToken::new()), Err(VideoError::Missing { .. })));
    let path = written(folder.path(), "empty.mp4", &[]);
    assert_eq!(error(&path), VideoError::Empty { path });
    let path = written(folder.path(), "text.mp4", b"#EXTM3U\n#EXTINF:1,\nfile:///etc/hostname\n");
    assert_eq!(error(&path), VideoError::NotVideo { path });
    let path = written(folder.path(), "zeros.mov", &[0; 100_000]);
    assert_eq!(error(&path), VideoError::NotVideo { path });
    assert!(matches!(error(folder.path()), VideoError::NotVideo { .. }));
    let sound = "-f lavfi -i sine=frequency=440:duration=1 -map 1:a -c:a aac";
    let path = make(folder.path(), "sound.m4a", 1, "30", sound, "");
    assert_eq!(error(&path), VideoError::NoVideoStream { path });
    for sentence in [error(&folder.path().join("absent.mp4")), error(folder.path())] {
        let text = sentence.to_string();
        assert!(text.contains(';') && !text.contains('\n'), "what happened; what to do: {text}");
    }
}

#[test]
fn a_recording_still_being_written_is_refused_or_read_as_far_as_it_goes() {
    let folder = tempfile::tempdir().unwrap();
    let options = format!("{X264} -g 10 -bf 2");
    let bytes = std::fs::read(make(folder.path(), "whole.mp4", 60, "30", "", &options)).unwrap();
    let path = written(folder.path(), "growing.mp4", &bytes[..bytes.len() / 2]);
    assert_eq!(Recording::open(&path).err(), Some(VideoError::NotVideo { path }));
    for kind in ["mkv", "ts"] {
        let whole = make(folder.path(), &format!("whole.{kind}"), 60, "30", "", &options);
        let bytes = std::fs::read(whole).unwrap();
        let path = written(folder.path(), &format!("growing.{kind}"), &bytes[..bytes.len() / 2]);
        let mut recording = Recording::open(&path).unwrap();
        let count = recording.timeline().len();
        assert!((10..60).contains(&count), "{kind}: {count}");
        recording.gray(FrameIndex(count - 3)).unwrap();
    }
}

#[test]
fn a_truncated_recording_is_read_with_a_warning() {
    let folder = tempfile::tempdir().unwrap();
    let options = format!("{X264} -g 10 -bf 2 -movflags +faststart");
    let bytes = std::fs::read(make(folder.path(), "whole.mp4", 60, "30", "", &options)).unwrap();
    let path = written(folder.path(), "cut.mp4", &bytes[..bytes.len() * 2 / 3]);
    let mut recording = Recording::open(&path).unwrap();
    let count = recording.timeline().len();
    assert!((20..59).contains(&count), "{count}");
    assert!(recording.warnings().iter().any(|w| matches!(w, Warning::Damaged { .. })));
    for frame in 0..count {
        let _ = recording.gray(FrameIndex(frame));
    }
    recording.gray(FrameIndex(5)).unwrap();
}

#[test]
fn enormous_pictures_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    for coding in ["-c:v ffv1 -level 1 -g 1", "-c:v rawvideo -pix_fmt bgr24"] {
        let path = make(folder.path(), "small.avi", 5, "30", "", coding);
        let mut bytes = std::fs::read(&path).unwrap();
        // The stream's BITMAPINFOHEADER follows "strf" and its length: size, width, height.
        let at = bytes.windows(4).position(|w| w == b"strf").unwrap() + 12;
        bytes[at..at + 8].copy_from_slice(&[0x00, 0x75, 0, 0, 0x00, 0x75, 0, 0]);
        let path = written(folder.path(), "enormous.avi", &bytes);
        let error = Recording::open(&path).err();
        let refused =
            matches!(error, Some(VideoError::TooLarge { .. } | VideoError::NoFrames { .. }));
        assert!(refused, "{coding}: {error:?}");
    }
}
