//! Every frame is the frame asked for, with its own time stamp, whatever path led there.

use std::path::{Path, PathBuf};
use std::process::Command;

use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use scuffline::domain::{
    ColourFrame, FrameIndex, GrayFrame, PictureError, Pictures, Pts, Seconds, TimeBase, Warning,
};
use scuffline::store::{KeptIndex, Library, identify_file};
use scuffline::video::{CancelToken, ClipWriter, Index, Recording, VideoError, full_hash};
use scuffline::workflow::{check_kept_index, open_kept};

use crate::support::numbered::{
    HEIGHT, WIDTH, double_stamps, make, read_number, rewrap, set_matrix, stored,
};

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-frames").join(name)
}

/// Time stamps as FFmpeg's own `ffprobe -show_frames` reports them, in its order.
fn probed_stamps(path: &Path) -> Vec<Option<i64>> {
    let output = Command::new("ffprobe")
        .args([
            "-v",
            "error",
            "-select_streams",
            "v:0",
            "-show_entries",
            "frame=best_effort_timestamp",
            "-of",
        ])
        .args(["csv=p=0".as_ref(), path.as_os_str()])
        .output()
        .expect("ffprobe is in the list of packages");
    let text = String::from_utf8(output.stdout).expect("ffprobe prints text");
    let number = |line: &str| line.trim_end_matches(',').parse().ok();
    text.lines().filter(|line| !line.is_empty()).map(number).collect()
}

fn shuffled(count: usize) -> Vec<usize> {
    let mut order: Vec<usize> = (0..count).collect();
    order.shuffle(&mut ChaCha8Rng::seed_from_u64(3));
    order
}

#[test]
fn sample_footage_is_indexed_as_ffprobe_sees_it() {
    for name in ["iron_turf_sheet.mp4", "portrait.mp4", "iron_mat_stick.mp4"] {
        let recording = Recording::open(&sample(name)).unwrap();
        check_stamps(&recording, &sample(name), name);
    }
}

#[test]
fn random_frames_equal_those_of_a_pass_from_the_start() {
    let mut recording = Recording::open(&sample("iron_mat_stick.mp4")).unwrap();
    let count = recording.timeline().len();
    let mut passed = Vec::new();
    recording
        .for_each_gray(FrameIndex(0), FrameIndex(count), &mut |frame, gray| {
            assert_eq!(frame.0, passed.len());
            passed.push(gray.clone());
            true
        })
        .unwrap();
    assert_eq!(passed.len(), count);
    for &i in shuffled(count).iter().take(24) {
        assert!(*recording.gray(FrameIndex(i)).unwrap() == passed[i], "frame {i}");
    }
}

/// Where the click of the strike begins: the first sample near `expected` that stands out from
/// the half second before.
fn onset(sound: &scuffline::domain::Sound, expected: f64) -> f64 {
    let at = |time: f64| ((time - sound.start.0) * f64::from(sound.rate)).round() as usize;
    let loudest = |from: usize, to: usize| {
        sound.samples[from..to].iter().fold(0.0f32, |most, s| most.max(s.abs()))
    };
    let quiet = loudest(at(expected - 0.3), at(expected - 0.01));
    let peak = loudest(at(expected - 0.01), at(expected + 0.02));
    let level = (quiet * 1.5).max(peak * 0.35);
    let first = (at(expected - 0.01)..).find(|&i| sound.samples[i].abs() > level).unwrap();
    sound.start.0 + first as f64 / f64::from(sound.rate)
}

#[test]
fn the_click_sounds_when_it_arrived() {
    for name in ["iron_turf_sheet", "driver_tee", "left_handed"] {
        let text = std::fs::read_to_string(sample(&format!("{name}.truth.json"))).unwrap();
        let truth: serde_json::Value = serde_json::from_str(&text).unwrap();
        let expected = truth["swings"][0]["strike"]["sound_arrival_s"].as_f64().unwrap();
        let recording = Recording::open(&sample(&format!("{name}.mp4"))).unwrap();
        let sound = recording.sound().unwrap().unwrap();
        assert_eq!(sound.rate, 48_000);
        let found = onset(&sound, expected);
        // A priming of the coder left in would be 21 ms.
        assert!((found - expected).abs() < 0.0005, "{name}: {found} s instead of {expected} s");
    }
}

/// Reads every frame in random order, then forward and backward, and checks that each carries
/// the number it should; the stamps are compared with those of ffprobe.
fn check_exact(path: &Path, first: usize, count: usize) {
    let name = path.file_name().unwrap().to_string_lossy().into_owned();
    let mut recording = Recording::open(path).unwrap();
    assert_eq!(recording.timeline().len(), count, "{name}: number of frames");
    check_stamps(&recording, path, &name);
    let mut wrong = Vec::new();
    let order = shuffled(count).into_iter().chain(0..count).chain((0..count).rev().take(40));
    for i in order {
        let gray = recording.gray(FrameIndex(i)).unwrap_or_else(|e| panic!("{name} {i}: {e}"));
        let number = read_number(&unturned(&recording, &gray));
        if number != Some(first + i) {
            wrong.push((i, number));
        }
    }
    for centre in [count / 2, count - 1, count / 4] {
        while recording.prepare(FrameIndex(centre)).unwrap() {}
        for i in (centre.saturating_sub(70)..=centre).rev().chain(centre..(centre + 12).min(count))
        {
            let gray = recording.gray(FrameIndex(i)).unwrap();
            let number = read_number(&unturned(&recording, &gray));
            if number != Some(first + i) {
                wrong.push((i, number));
            }
        }
    }
    assert!(wrong.is_empty(), "{name}: frame and the number it shows: {wrong:?}");
    check_pass(&mut recording, first, &name);
}

fn check_stamps(recording: &Recording, path: &Path, name: &str) {
    let stamps: Vec<i64> = recording.timeline().frames.iter().map(|f| f.pts.0).collect();
    let probed = probed_stamps(path);
    assert_eq!(probed.len(), stamps.len(), "{name}: ffprobe counts otherwise");
    // ffprobe guesses what the file leaves out, from the decoder's delay: then only the distances
    // are comparable.
    let guessed = name.ends_with(".avi") || name.ends_with(".h264");
    let shift = if guessed { stamps[0] - probed.iter().flatten().next().unwrap_or(&0) } else { 0 };
    for (i, (ours, theirs)) in stamps.iter().zip(probed).enumerate() {
        match theirs {
            Some(theirs) => assert_eq!(*ours, theirs + shift, "{name}: stamp of frame {i}"),
            None => assert!(guessed, "{name}: ffprobe knows no stamp of frame {i}"),
        }
    }
}

fn check_pass(recording: &mut Recording, first: usize, name: &str) {
    let count = recording.timeline().len();
    let turn = recording.facts().clone();
    let mut next = 0;
    recording
        .for_each_gray(FrameIndex(0), FrameIndex(count), &mut |frame, gray| {
            assert_eq!(frame.0, next, "{name}: order of the pass");
            assert_eq!(read_number(&stored(&turn, gray)), Some(first + next), "{name}: pass");
            next += 1;
            true
        })
        .unwrap();
    assert_eq!(next, count, "{name}: length of the pass");
}

fn unturned(recording: &Recording, gray: &GrayFrame) -> GrayFrame {
    stored(recording.facts(), gray)
}

const X264: &str = "-c:v libx264 -pix_fmt yuv420p -preset veryfast -crf 18";
const X265: &str = "-c:v libx265 -preset superfast -crf 18 -tag:v hvc1";

struct Shape(&'static str, &'static str, String);

fn check_shapes(shapes: &[Shape]) {
    let folder = tempfile::tempdir().unwrap();
    for Shape(name, inputs, options) in shapes {
        let path = make(folder.path(), name, 100, "30", inputs, options);
        check_exact(&path, 0, 100);
    }
}

fn x264(name: &'static str, more: &str) -> Shape {
    Shape(name, "", format!("{X264} {more}"))
}

fn x265(name: &'static str, format: &str, parameters: &str) -> Shape {
    Shape(name, "", format!("{X265} -pix_fmt {format} -x265-params log-level=error:{parameters}"))
}

#[test]
fn h264_in_every_container() {
    check_shapes(&[
        x264("closed.mp4", "-g 25 -bf 3"),
        x264("pyramid.mov", "-g 40 -bf 5 -b_strategy 0 -x264-params b-pyramid=normal"),
        x264("no_reorder.mp4", "-g 20 -bf 0"),
        x264("open.mp4", "-g 25 -bf 3 -x264-params open-gop=1"),
        x264("open.mkv", "-g 25 -bf 3 -x264-params open-gop=1"),
        x264("fragments.mp4", "-g 25 -bf 2 -movflags frag_keyframe+empty_moov"),
        x264("transport.ts", "-g 25 -bf 3"),
        x264("refresh.mkv", "-g 25 -bf 0 -x264-params intra-refresh=1"),
        Shape("deep.mp4", "", format!("{X264} -pix_fmt yuv420p10le -g 25 -bf 3")),
        Shape("full_range.mp4", "", format!("{X264} -pix_fmt yuvj420p -g 25 -bf 3")),
    ]);
}

#[test]
fn hevc_with_open_groups_and_temporal_layers() {
    check_shapes(&[
        x265("open.mp4", "yuv420p", "keyint=25:min-keyint=25:open-gop=1:bframes=4"),
        x265("closed.mkv", "yuv420p10le", "keyint=25:min-keyint=25:open-gop=0:bframes=3"),
        x265("layers.mp4", "yuv420p", "keyint=30:open-gop=1:bframes=4:temporal-layers=1"),
        x265("transport.ts", "yuv420p", "keyint=25:open-gop=1:bframes=3"),
    ]);
}

#[test]
fn other_codecs_and_containers() {
    check_shapes(&[
        Shape(
            "vp9.webm",
            "",
            "-c:v libvpx-vp9 -b:v 1M -deadline realtime -cpu-used 8 -g 25".into(),
        ),
        Shape(
            "vp8.webm",
            "",
            "-c:v libvpx -b:v 2M -deadline realtime -cpu-used 8 -g 25 -auto-alt-ref 1".into(),
        ),
        Shape("part2.avi", "", "-c:v mpeg4 -q:v 3 -g 20 -bf 2".into()),
        Shape("intra.avi", "", "-c:v mjpeg -q:v 3 -pix_fmt yuvj420p".into()),
        Shape("mpeg2.ts", "", "-c:v mpeg2video -q:v 3 -g 15 -bf 2".into()),
        Shape("part2.mp4", "", "-c:v mpeg4 -q:v 3 -g 20 -bf 2".into()),
        x264("reordered.avi", "-g 25 -bf 2"),
        x264("bare.h264", "-g 25 -bf 2"),
    ]);
}

#[test]
fn sound_tracks_change_nothing() {
    const TONE: &str = "-f lavfi -i sine=frequency=440:sample_rate=48000 -f lavfi -i sine=frequency=880:sample_rate=44100";
    check_shapes(&[
        Shape("one.mp4", TONE, format!("-map 0:v -map 1:a -shortest -c:a aac {X264} -g 25 -bf 3")),
        Shape(
            "two.mkv",
            TONE,
            format!("-map 1:a -map 0:v -map 2:a -shortest -c:a aac {X264} -g 25 -bf 3"),
        ),
    ]);
}

#[test]
fn interlaced_pictures_are_shown_with_a_warning() {
    let folder = tempfile::tempdir().unwrap();
    for (name, options) in [
        ("fields.mp4", format!("{X264} -g 25 -bf 2 -flags +ildct+ilme -x264-params tff=1")),
        ("fields.ts", "-c:v mpeg2video -q:v 2 -g 15 -bf 2 -flags +ildct+ilme -top 1".into()),
    ] {
        let path = make(folder.path(), name, 60, "25", "", &options);
        check_exact(&path, 0, 60);
        let warnings = Recording::open(&path).unwrap().warnings();
        assert!(warnings.contains(&Warning::Interlaced), "{name}: {warnings:?}");
    }
}

#[test]
fn irregular_and_shifted_times() {
    let folder = tempfile::tempdir().unwrap();
    let vary = "-vf settb=1/90000,setpts='3000*(N+0.3*sin(N*1.7)+3*floor(N/40))' -fps_mode passthrough -enc_time_base 1:90000";
    let clip = |name: &str, options: String| make(folder.path(), name, 100, "30", "", &options);
    let mp4 = clip("vary.mp4", format!("{vary} -video_track_timescale 90000 {X264} -g 25 -bf 2"));
    check_exact(&mp4, 0, 100);
    check_exact(&clip("vary.mkv", format!("{vary} {X264} -g 25 -bf 2")), 0, 100);
    check_exact(&clip("late.mkv", format!("{X264} -g 25 -bf 2 -output_ts_offset 7.5")), 0, 100);
    check_exact(&clip("late.mp4", format!("{X264} -g 25 -bf 2 -output_ts_offset 2.5")), 0, 100);
    let early = format!("{X264} -g 25 -bf 2 -output_ts_offset -1 -avoid_negative_ts disabled");
    check_exact(&clip("early.mp4", format!("{early} -use_editlist 0")), 0, 100);
    let negative = clip("early.ts", format!("{early} -muxdelay 0 -muxpreload 0"));
    check_exact(&negative, 0, 100);
    assert!(Recording::open(&negative).unwrap().timeline().frames[0].pts < Pts(0));
    check_exact(&rewrap(&mp4, "vary.mov", "", ""), 0, 100);
    let options = format!("{vary} -video_track_timescale 90000 {X264} -g 25 -bf 0");
    let doubled = clip("doubled.mp4", options);
    double_stamps(&doubled, &[5, 26]);
    check_exact(&doubled, 0, 100);
}

#[test]
fn missing_times_are_inferred_with_a_warning() {
    let folder = tempfile::tempdir().unwrap();
    // Matroska has no times below zero: the first three frames come without.
    let options = format!("{X264} -g 25 -bf 0 -output_ts_offset -0.1 -avoid_negative_ts disabled");
    let path = make(folder.path(), "untimed.mkv", 100, "30", "", &options);
    let mut recording = Recording::open(&path).unwrap();
    assert_eq!(recording.timeline().len(), 100);
    for i in [0, 1, 2, 3, 50] {
        let time = recording.timeline().time_of(FrameIndex(i)).0;
        assert!((time - i as f64 / 30.0).abs() < 2e-3, "frame {i} at {time} s");
        assert_eq!(read_number(&recording.gray(FrameIndex(i)).unwrap()), Some(i));
    }
    let told = recording.warnings();
    assert!(told.iter().any(|w| matches!(w, Warning::Note { .. })), "{told:?}");
    let kept = Index::from_bytes(&recording.index().to_bytes()).unwrap();
    assert_eq!(kept, *recording.index());
}

#[test]
fn trimmed_clips_begin_where_a_player_begins() {
    let folder = tempfile::tempdir().unwrap();
    for (name, options) in [
        ("closed.mp4", format!("{X264} -g 30 -bf 2")),
        ("open.mp4", format!("{X264} -g 30 -bf 3 -x264-params open-gop=1")),
        (
            "hevc.mp4",
            format!(
                "{X265} -pix_fmt yuv420p -x265-params log-level=error:keyint=30:min-keyint=30:open-gop=1:bframes=4"
            ),
        ),
    ] {
        let whole = make(folder.path(), name, 120, "30", "", &options);
        for wrap in ["mp4", "mkv", "ts"] {
            // FFmpeg's own rewrapping leaves the parameter sets of this one behind.
            if (name, wrap) == ("open.mp4", "ts") {
                continue;
            }
            let path = rewrap(&whole, &format!("cut_{name}.{wrap}"), "-ss 1.7", "");
            let first = first_number(&path);
            check_exact(&path, first, probed_stamps(&path).len());
        }
    }
}

/// The number in the first frame that the `ffmpeg` command shows.
fn first_number(path: &Path) -> usize {
    let output = Command::new("ffmpeg")
        .args(["-v", "error", "-nostdin", "-flags", "-output_corrupt", "-i"])
        .arg(path)
        .args(["-frames:v", "1", "-f", "rawvideo", "-pix_fmt", "gray", "-"])
        .output()
        .unwrap();
    assert_eq!(output.stdout.len(), WIDTH * HEIGHT, "{}: {output:?}", path.display());
    let gray = GrayFrame { width: WIDTH, height: HEIGHT, data: output.stdout };
    read_number(&gray).expect("the first frame is readable")
}

#[test]
fn turned_and_mirrored_clips_are_shown_upright() {
    let folder = tempfile::tempdir().unwrap();
    let options = format!("{X264} -g 10 -bf 2");
    for (i, (matrix, rotation, mirrored)) in [
        ([1, 0, 0, 1], 0, false),
        ([0, 1, -1, 0], 90, false),
        ([-1, 0, 0, -1], 180, false),
        ([0, -1, 1, 0], 270, false),
        ([-1, 0, 0, 1], 0, true),
        ([0, -1, -1, 0], 90, true),
        ([1, 0, 0, -1], 180, true),
        ([0, 1, 1, 0], 270, true),
    ]
    .into_iter()
    .enumerate()
    {
        let path = make(folder.path(), &format!("{i}.mp4"), 20, "30", "", &options);
        set_matrix(&path, matrix);
        let mut recording = Recording::open(&path).unwrap();
        let facts = recording.facts().clone();
        assert_eq!((facts.rotation, facts.mirrored), (rotation, mirrored), "{matrix:?}");
        let ours = recording.gray(FrameIndex(0)).unwrap();
        let theirs = upright_by_ffmpeg(&path);
        let worst = ours.data.iter().zip(&theirs).map(|(a, b)| a.abs_diff(*b)).max();
        assert!(ours.data.len() == theirs.len() && worst <= Some(2), "{matrix:?}: {worst:?}");
        check_exact(&path, 0, 20);
    }
}

/// The luma of the first frame as the `ffmpeg` command turns it, spread to full range.
fn upright_by_ffmpeg(path: &Path) -> Vec<u8> {
    let filter = "scale=out_range=full,format=gray";
    Command::new("ffmpeg")
        .args(["-v", "error", "-nostdin", "-i"])
        .arg(path)
        .args(["-vf", filter, "-frames:v", "1", "-f", "rawvideo", "-"])
        .output()
        .unwrap()
        .stdout
}

#[test]
fn non_square_pixels_are_widened() {
    let folder = tempfile::tempdir().unwrap();
    for (aspect, matrix, expected) in [
        ("4/3", [1, 0, 0, 1], (171, 96)),
        ("8/9", [1, 0, 0, 1], (114, 96)),
        ("4/3", [0, 1, -1, 0], (96, 171)),
    ] {
        let options = format!("-vf setsar={aspect} {X264} -g 10");
        let path = make(folder.path(), "wide.mp4", 10, "30", "", &options);
        set_matrix(&path, matrix);
        let mut recording = Recording::open(&path).unwrap();
        let facts = recording.facts().clone();
        assert_eq!((facts.width, facts.height), expected, "{aspect}");
        let size = recording.size();
        assert_eq!((size.width, size.height), expected);
        let gray = recording.gray(FrameIndex(7)).unwrap();
        let colour = recording.colour(FrameIndex(7)).unwrap();
        assert_eq!((gray.width, gray.height), expected);
        assert_eq!((colour.width, colour.height), expected);
        let (wide, narrow) = (stored(&facts, &gray), WIDTH as f64);
        // Square 0 of the number is dark or light over 8 stored columns: look in its middle.
        let column =
            |stored: f64| ((stored + 0.5) * wide.width as f64 / narrow - 0.5).round() as usize;
        for bit in 0..3 {
            let level = wide.at(column(8.0 * bit as f64 + 3.5), 12);
            assert!(level > 200, "frame 7 has its first three bits set: {level}");
        }
        assert!(wide.at(column(8.0 * 3.0 + 3.5), 12) < 60, "and the fourth not set");
    }
}

#[test]
fn odd_sizes_keep_their_last_row_and_column() {
    let folder = tempfile::tempdir().unwrap();
    for (name, options) in [
        (
            "odd.webm",
            "-vf pad=129:97 -c:v libvpx-vp9 -b:v 1M -deadline realtime -cpu-used 8".to_string(),
        ),
        ("odd.mp4", format!("-vf pad=129:97,format=yuv444p {X264} -pix_fmt yuv444p -g 10")),
    ] {
        let path = make(folder.path(), name, 30, "30", "", &options);
        let recording = Recording::open(&path).unwrap();
        let facts = recording.facts();
        assert_eq!((facts.width, facts.height), (129, 97));
        check_exact(&path, 0, 30);
    }
}

#[test]
fn slow_motion_is_taken_from_the_tag() {
    let folder = tempfile::tempdir().unwrap();
    let options =
        format!("{X264} -movflags use_metadata_tags -metadata com.android.capture.fps=240");
    let path = make(folder.path(), "slow.mp4", 30, "30", "", &options);
    let recording = Recording::open(&path).unwrap();
    assert_eq!(recording.timeline().slow_factor, 8.0);
    assert!(recording.warnings().contains(&Warning::SlowMotion { factor: 8.0 }));
}

/// A clip of 150 frames that a key frame begins every 30.
fn grouped(folder: &Path) -> PathBuf {
    make(folder, "grouped.mp4", 150, "30", "", &format!("{X264} -g 30 -bf 2"))
}

fn luma_of(colour: &ColourFrame) -> GrayFrame {
    let data = colour.data.as_chunks::<4>().0.iter().map(|pixel| pixel[1]).collect();
    GrayFrame { width: colour.width, height: colour.height, data }
}

#[test]
fn frames_kept_near_a_strike_are_the_right_ones() {
    let folder = tempfile::tempdir().unwrap();
    let path = grouped(folder.path());
    let kept = folder.path().join("frames/content");
    let mut recording = Recording::open(&path).unwrap();
    assert!(!recording.use_kept(&kept), "nothing is kept yet");
    let strikes = [Seconds(2.0), Seconds(4.5)];
    recording.keep_near(&strikes, &kept, &mut || true).unwrap();
    // Opened anew, as the next day.
    let mut recording = Recording::open(&path).unwrap();
    assert!(recording.use_kept(&kept));
    for i in shuffled(150) {
        let time = i as f64 / 30.0;
        let near = (time - 2.0).abs() <= 1.0 + 1e-9 || (time - 4.5).abs() <= 1.0 + 1e-9;
        let found = recording.kept(FrameIndex(i));
        assert_eq!(found.is_some(), near, "frame {i}");
        if let Some(colour) = found {
            assert_eq!(read_number(&luma_of(&colour)), Some(i));
        }
    }
    // Kept once; fewer strikes are among them, stopping leaves them alone.
    let clip = kept.with_extension("mp4");
    let before = std::fs::read(&clip).unwrap();
    recording.keep_near(&strikes[..1], &kept, &mut || true).unwrap();
    assert!(recording.kept(FrameIndex(130)).is_some());
    assert_eq!(
        recording.keep_near(&[Seconds(0.5)], &kept, &mut || false).unwrap_err(),
        VideoError::Cancelled
    );
    assert!(std::fs::read(&clip).unwrap() == before);
    let left = std::fs::read_dir(folder.path().join("frames")).unwrap();
    let left: Vec<_> = left.map(|entry| entry.unwrap().file_name()).collect();
    // The clip, its list, and the lock that outlives its holders.
    assert_eq!(left.len(), 3, "nothing half-written is left: {left:?}");
    assert!(left.iter().all(|name| !name.to_string_lossy().contains("part")), "{left:?}");
    // Pixels for measuring stay the original's.
    let mut untouched = Recording::open(&path).unwrap();
    assert!(recording.gray(FrameIndex(60)).unwrap() == untouched.gray(FrameIndex(60)).unwrap());
    // What was kept is rebuilt when it is gone.
    std::fs::remove_dir_all(folder.path().join("frames")).unwrap();
    assert!(!recording.use_kept(&kept));
    recording.keep_near(&[Seconds(2.0)], &kept, &mut || true).unwrap();
    assert!(recording.kept(FrameIndex(75)).is_some());
}

#[test]
fn sketches_say_which_frame_they_show() {
    let folder = tempfile::tempdir().unwrap();
    let path = grouped(folder.path());
    let recording = Recording::open(&path).unwrap();
    let mut sketcher = recording.sketcher().unwrap();
    for (asked, expected) in [(0, 0), (29, 0), (30, 30), (119, 90), (149, 120)] {
        let (shown, colour) = sketcher.near(FrameIndex(asked), HEIGHT).unwrap();
        assert_eq!(shown.0, expected);
        assert_eq!(read_number(&luma_of(&colour)), Some(expected));
        let (_, small) = sketcher.near(FrameIndex(asked), 24).unwrap();
        assert_eq!((small.width, small.height), (32, 24));
    }
    assert!(sketcher.near(FrameIndex(150), 24).is_err());
}

#[test]
fn written_clips_read_back_with_their_times() {
    let folder = tempfile::tempdir().unwrap();
    let mut recording = Recording::open(&grouped(folder.path())).unwrap();
    let path = folder.path().join("out.mp4");
    let base = TimeBase { numerator: 1, denominator: 1000 };
    let mut writer = ClipWriter::create(&path, recording.size(), base).unwrap();
    let stamps: Vec<i64> = (0..40).map(|i| 33 * i + i % 3).collect();
    for (i, &pts) in stamps.iter().enumerate() {
        writer.write(&recording.colour(FrameIndex(50 + i)).unwrap(), Pts(pts)).unwrap();
    }
    writer.finish().unwrap();
    let mut written = Recording::open(&path).unwrap();
    for (i, &pts) in stamps.iter().enumerate() {
        let gray = written.gray(FrameIndex(i)).unwrap();
        assert_eq!(read_number(&gray), Some(50 + i));
        assert!((written.timeline().time_of(FrameIndex(i)).0 - pts as f64 / 1000.0).abs() < 1e-4);
        // Colours survive the way there and back.
        let (there, back) =
            (recording.colour(FrameIndex(50 + i)).unwrap(), written.colour(FrameIndex(i)).unwrap());
        let off: f64 =
            there.data.iter().zip(&back.data).map(|(a, b)| f64::from(a.abs_diff(*b))).sum();
        assert!(
            off / (there.data.len() as f64) < 4.0,
            "mean difference {}",
            off / there.data.len() as f64
        );
    }
    assert_eq!(written.timeline().len(), 40);
}

#[test]
fn a_cancelled_request_leaves_the_recording_usable() {
    let folder = tempfile::tempdir().unwrap();
    let mut recording = Recording::open(&grouped(folder.path())).unwrap();
    let token = CancelToken::new();
    token.cancel();
    recording.set_cancel(token);
    assert_eq!(recording.gray(FrameIndex(100)).unwrap_err(), PictureError::Cancelled);
    recording.set_cancel(CancelToken::new());
    assert_eq!(read_number(&recording.gray(FrameIndex(100)).unwrap()), Some(100));
}

/// The clips of the Debian package `opencv-doc`, where it is installed.
#[test]
fn clips_whose_header_is_wrong_are_counted_by_their_pictures() {
    let folder = Path::new("/usr/share/doc/opencv-doc/examples/data");
    for (name, count) in [("tree.avi", 68), ("vtest.avi", 795)] {
        let path = folder.join(name);
        if !path.exists() {
            continue;
        }
        let recording = Recording::open(&path).unwrap();
        assert_eq!(recording.timeline().len(), count, "{name}");
        check_stamps(&recording, &path, name);
    }
}

#[test]
fn colours_are_those_of_the_coding() {
    let folder = tempfile::tempdir().unwrap();
    let expected = [200.0, 50.0, 20.0];
    for (name, matrix, range, coding) in [
        ("a.mp4", "bt709", "tv", "libx264 -pix_fmt yuv420p"),
        ("b.mp4", "bt709", "pc", "libx264 -pix_fmt yuv420p"),
        ("c.mp4", "smpte170m", "tv", "libx264 -pix_fmt yuv420p"),
        ("d.mp4", "bt2020nc", "tv", "libx265 -pix_fmt yuv420p10le -x265-params log-level=error"),
        ("e.mp4", "bt709", "pc", "libx265 -pix_fmt yuv420p10le -x265-params log-level=error"),
    ] {
        let path = folder.path().join(name);
        let filter = format!("scale=out_color_matrix={matrix}:out_range={range}");
        let tags = format!("-colorspace {matrix} -color_range {range} -c:v {coding}");
        let done = Command::new("ffmpeg")
            .args(["-v", "error", "-f", "lavfi", "-i", "color=c=0xC83214:s=128x96:r=10:d=0.5"])
            .args(["-vf", &filter, "-preset", "veryfast", "-crf", "5"])
            .args(tags.split_whitespace())
            .arg(&path)
            .status()
            .unwrap();
        assert!(done.success());
        let mut recording = Recording::open(&path).unwrap();
        let colour = recording.colour(FrameIndex(2)).unwrap();
        let rgb = colour.rgb(64, 48).map(f64::from);
        for (value, expected) in rgb.iter().zip(expected) {
            assert!((value - expected).abs() <= 4.0, "{name}: {rgb:?}");
        }
        // ITU-R BT.709, BT.601, BT.2020: E'Y of (200, 50, 20), spread to 0..255.
        let (red, blue) = match matrix {
            "bt709" => (0.2126, 0.0722),
            "smpte170m" => (0.299, 0.114),
            _ => (0.2627, 0.0593),
        };
        let luma = red * expected[0] + (1.0 - red - blue) * expected[1] + blue * expected[2];
        let found = f64::from(recording.gray(FrameIndex(2)).unwrap().at(64, 48));
        assert!((found - luma).abs() < 2.5, "{name}: luma {found}, not {luma}");
    }
}

#[test]
fn a_kept_index_opens_the_same_frames() {
    let folder = tempfile::tempdir().unwrap();
    let path = grouped(folder.path());
    let recording = Recording::open(&path).unwrap();
    let kept = Index::from_bytes(&recording.index().to_bytes()).unwrap();
    let mut again = Recording::open_with(&path, Some(kept), CancelToken::new()).unwrap();
    assert_eq!(again.timeline(), recording.timeline());
    for i in shuffled(150).into_iter().take(30) {
        assert_eq!(read_number(&again.gray(FrameIndex(i)).unwrap()), Some(i));
    }
}

#[test]
fn a_library_keeps_the_index_of_a_content_and_drops_it_when_the_content_is_another() {
    let folder = tempfile::tempdir().unwrap();
    let mut library = Library::open(folder.path().join("a.scuffline")).unwrap();
    // Long enough for parts of which no sample is taken.
    let noise = "-f lavfi -i anoisesrc=d=30:c=white:r=48000 -map 0:v -map 1:a";
    let coding = format!("-c:a pcm_s16le {X264} -g 30 -bf 2 -movflags +faststart");
    let path = make(folder.path(), "a.mov", 100, "30", noise, &coding);
    let content = identify_file(&path).unwrap().quick_hash;
    assert_eq!(library.kept_index(&content).unwrap(), None);
    let first = open_kept(&mut library, &path, CancelToken::new()).unwrap();
    let kept = library.kept_index(&content).unwrap().unwrap();
    assert_eq!(Index::from_bytes(&kept.packets).as_ref(), Some(first.index()));
    // Found again under another name; the frames are the same.
    let moved = folder.path().join("b.mov");
    std::fs::rename(&path, &moved).unwrap();
    let mut again = open_kept(&mut library, &moved, CancelToken::new()).unwrap();
    assert_eq!(again.timeline(), first.timeline());
    assert_eq!(read_number(&again.gray(FrameIndex(77)).unwrap()), Some(77));
    assert!(check_kept_index(&mut library, &moved, None, &CancelToken::new()).unwrap());
    let kept = library.kept_index(&content).unwrap().unwrap();
    assert_eq!(kept.full_hash, Some(full_hash(&moved, &CancelToken::new()).unwrap()));
    // A change in the first third leaves size and samples as they were.
    let mut bytes = std::fs::read(&moved).unwrap();
    let third = bytes.len() / 3;
    assert!(bytes.len() > 2_500_000);
    bytes[third] ^= 1;
    std::fs::write(&moved, bytes).unwrap();
    assert_eq!(identify_file(&moved).unwrap().quick_hash, content);
    assert!(!check_kept_index(&mut library, &moved, None, &CancelToken::new()).unwrap());
    assert_eq!(library.kept_index(&content).unwrap(), None);
    // Damage in the library costs time only.
    let broken = KeptIndex { packets: vec![1, 2, 3], ..kept };
    library.save(|edit| edit.keep_index(&content, &broken)).unwrap();
    let built = open_kept(&mut library, &moved, CancelToken::new()).unwrap();
    assert_eq!(built.timeline(), first.timeline());
    let stopped = CancelToken::new();
    stopped.cancel();
    assert!(check_kept_index(&mut library, &moved, None, &stopped).unwrap_err().is_stopped());
}

#[test]
fn only_the_newest_indexes_are_kept() {
    let folder = tempfile::tempdir().unwrap();
    let mut library = Library::open(folder.path().join("a.scuffline")).unwrap();
    let index = KeptIndex { file_time_ns: None, full_hash: None, packets: vec![1] };
    library
        .save(|edit| (0..450).try_for_each(|n| edit.keep_index(&format!("content {n}"), &index)))
        .unwrap();
    assert_eq!(library.kept_index("content 49").unwrap(), None);
    assert_eq!(library.kept_index("content 449").unwrap(), Some(index));
}

#[test]
fn pictures_of_a_wider_range_are_shown_in_the_screens_colours() {
    let folder = tempfile::tempdir().unwrap();
    // A red of light (0.8, 0.1, 0.05) of diffuse white, 203 cd/m², in BT.2020 primaries (ITU-R
    // BT.2087) as PQ and HLG code it (ITU-R BT.2100), and what a screen of gamma 2.4 shows for
    // it with diffuse white at 0.8 of its own.
    let expected = [(0.8f64, 0), (0.1, 1), (0.05, 2)];
    for (name, transfer, coded) in [
        ("pq.mp4", "smpte2084", [0.517, 0.393, 0.324]),
        ("hlg.mp4", "arib-std-b67", [0.672, 0.385, 0.259]),
    ] {
        let path = folder.path().join(name);
        let [r, g, b] = coded.map(|value: f64| (value * 65535.0) as u32);
        let picture = format!(
            "color=c=black:s=128x96:r=10:d=0.5,format=rgb48le,lutrgb=r={r}:g={g}:b={b},scale=out_color_matrix=bt2020nc:out_range=tv,format=yuv420p10le"
        );
        let done = Command::new("ffmpeg")
            .args(["-v", "error", "-f", "lavfi", "-i", &picture])
            .args(["-color_primaries", "bt2020", "-color_trc", transfer])
            .args(["-colorspace", "bt2020nc", "-color_range", "tv"])
            .args(["-c:v", "libx265", "-crf", "5", "-x265-params", "log-level=error"])
            .arg(&path)
            .status()
            .unwrap();
        assert!(done.success());
        let mut recording = Recording::open(&path).unwrap();
        let shown = recording.colour(FrameIndex(2)).unwrap().rgb(64, 48);
        for (light, channel) in expected {
            let value = (light * 0.8).powf(1.0 / 2.4) * 255.0;
            let off = (f64::from(shown[channel]) - value).abs();
            assert!(off < 12.0, "{name}: {shown:?}, channel {channel} should be {value}");
        }
    }
}
