//! A tripod knocked at the strike: steadied where that can be done, otherwise no number; and one
//! moved between two recordings: told, as the set-up carried over no longer fits.

use std::sync::Arc;

use scuffline::domain::{
    ColourFrame, FrameIndex, GrayFrame, ImagePoint, Millimetres, PictureError, PictureSize,
    Pictures, Reference, ReferenceKind, Reviewable, Setup, Timeline, Warning,
};
use scuffline::store::Library;
use scuffline::video::{CancelToken, ClipWriter, Recording};
use scuffline::workflow::{
    Measurement, Progress, ViewDoubt, carried_from, golfer_named, measure, read_in, session_on,
    view_differs,
};

use crate::support::{sample, sample_truth};

const NAME: &str = "iron_turf_sheet";

/// A recording of which each pixel is fetched from elsewhere.
struct Moved<F> {
    recording: Recording,
    /// Where the pixel in this column and row of a frame is fetched from.
    source: F,
}

/// A picture that jumps to the right and down by so many pixels from one frame on, for good; the
/// border is continued.
fn knocked(
    recording: Recording,
    from: FrameIndex,
    (right, down): (usize, usize),
) -> Moved<impl Fn(FrameIndex, usize, usize) -> (usize, usize)> {
    let source = move |frame: FrameIndex, x: usize, y: usize| match frame < from {
        true => (x, y),
        false => (x.saturating_sub(right), y.saturating_sub(down)),
    };
    Moved { recording, source }
}

impl<F: Fn(FrameIndex, usize, usize) -> (usize, usize)> Pictures for Moved<F> {
    fn timeline(&self) -> &Timeline {
        self.recording.timeline()
    }

    fn size(&self) -> PictureSize {
        self.recording.size()
    }

    fn gray(&mut self, frame: FrameIndex) -> Result<Arc<GrayFrame>, PictureError> {
        let seen = self.recording.gray(frame)?;
        Ok(Arc::new(fetched(&seen, |x, y| (self.source)(frame, x, y))))
    }

    fn colour(&mut self, frame: FrameIndex) -> Result<Arc<ColourFrame>, PictureError> {
        let seen = self.recording.colour(frame)?;
        Ok(Arc::new(fetched_colours(&seen, |x, y| (self.source)(frame, x, y))))
    }
}

/// A picture made of another's pixels.
fn fetched(seen: &GrayFrame, from: impl Fn(usize, usize) -> (usize, usize)) -> GrayFrame {
    let mut data = Vec::with_capacity(seen.data.len());
    for y in 0..seen.height {
        for x in 0..seen.width {
            let (i, j) = from(x, y);
            data.push(seen.at(i, j));
        }
    }
    GrayFrame { width: seen.width, height: seen.height, data }
}

/// The same in colour.
fn fetched_colours(
    seen: &ColourFrame,
    from: impl Fn(usize, usize) -> (usize, usize),
) -> ColourFrame {
    let mut data = Vec::with_capacity(seen.data.len());
    for y in 0..seen.height {
        for x in 0..seen.width {
            let (i, j) = from(x, y);
            let [red, green, blue] = seen.rgb(i, j);
            data.extend([red, green, blue, 255]);
        }
    }
    ColourFrame { width: seen.width, height: seen.height, data }
}

/// Measured without a click, the tripod knocked by a share of the picture's width at the strike.
fn knocked_by(share: f64) -> Measurement {
    let recording = Recording::open(&sample(&format!("{NAME}.mp4"))).unwrap();
    let truth = sample_truth(&format!("{NAME}.truth.json"));
    let strike = truth["swings"][0]["strike"]["first_frame_after_contact"].as_u64().unwrap();
    let right = (share * recording.size().width as f64).round() as usize;
    let from = FrameIndex(strike as usize + 1);
    let mut pictures = knocked(recording, from, (right, right / 3));
    measure(&mut pictures, None, &Setup::default(), &mut Progress::silent()).unwrap()
}

fn says_moved(measurement: &Measurement) -> bool {
    let of_swings = measurement.swings.iter().flat_map(|swing| &swing.warnings);
    let mut all = measurement.warnings.iter().chain(of_swings);
    all.any(|warning| matches!(warning, Warning::CameraMoved { .. }))
}

#[test]
fn a_knock_beyond_steadying_is_told_and_gives_no_number_of_the_mark() {
    let measurement = knocked_by(0.06);
    assert!(says_moved(&measurement), "{:?}", measurement.warnings);
    assert_eq!(measurement.swings.len(), 1, "the swing itself is found");
    for swing in &measurement.swings {
        assert!(swing.divot_start_offset.is_none(), "{:?}", swing.divot_start_offset);
        assert!(swing.divot_end_offset.is_none(), "{:?}", swing.divot_end_offset);
    }
}

#[test]
fn a_small_knock_is_steadied_and_the_number_holds() {
    let measurement = knocked_by(0.01);
    assert!(!says_moved(&measurement));
    let [swing] = &measurement.swings[..] else { panic!("one swing: {:?}", measurement.swings) };
    let start = swing.divot_start_offset.as_ref().expect("a divot start");
    let truth = sample_truth(&format!("{NAME}.truth.json"));
    let seen = &truth["swings"][0]["ground_contact"]["seen_start_offset_from_ball_m"];
    let seen = 1000.0 * seen.as_f64().unwrap();
    let interval = scuffline::geometry::expand(start);
    assert!(interval.contains(seen), "{} instead of {seen}: {interval:?}", start.value);
    assert!(interval.half_width() < 15.0, "{interval:?}");
}

/// The first pictures of a rendered clip as a recording of their own, seen from a camera that
/// stands `right` pixels aside.
fn recorded(folder: &std::path::Path, name: &str, clip: &str, right: usize) -> Recording {
    let recording = Recording::open(&sample(clip)).unwrap();
    let (size, base) = (recording.size(), recording.timeline().time_base);
    let mut pictures = knocked(recording, FrameIndex(0), (right, right / 3));
    let path = folder.join(name);
    let mut writer = ClipWriter::create(&path, size, base).unwrap();
    for frame in 0..12 {
        let pts = pictures.timeline().frames[frame].pts;
        writer.write(&pictures.colour(FrameIndex(frame)).unwrap(), pts).unwrap();
    }
    writer.finish().unwrap();
    Recording::open(&path).unwrap()
}

#[test]
fn a_camera_moved_between_recordings_is_told_where_the_setup_is_carried_over() {
    let folder = tempfile::tempdir().unwrap();
    let mut library = Library::open(folder.path().join("a.scuffline")).unwrap();
    let golfer = golfer_named(&mut library, None).unwrap();
    let session = session_on(&mut library, golfer, jiff::civil::date(2026, 5, 31)).unwrap();
    let (mut said, mut kept) = (Vec::new(), Vec::new());
    // The clip's own pictures; the same encoded anew, from 2 and from 24 pixels aside; and
    // another place.
    for (name, clip, right) in [
        ("first.mp4", "iron_turf_sheet.mp4", 0),
        ("nudged.mp4", "iron_turf_sheet.mp4", 2),
        ("aside.mp4", "iron_turf_sheet.mp4", 24),
        ("elsewhere.mp4", "driver_tee.mp4", 0),
    ] {
        let mut recording = recorded(folder.path(), name, clip, right);
        let quiet = &mut Progress::silent();
        let id = read_in(&mut library, session, &mut recording, None, quiet).unwrap();
        let from = carried_from(&library, id).unwrap();
        assert_eq!(from.is_some(), name != "first.mp4", "{name}: {from:?}");
        let differs = view_differs(&mut library, id, &mut recording, &CancelToken::new()).unwrap();
        said.push(differs);
        kept.push((id, recording));
    }
    assert_eq!(said[0], None);
    // More than a click's doubt; and 24 to the right and 8 down: 25.3 pixels.
    for (at, pixels) in [(1, "2.0 "), (2, "25.")] {
        let moved = said[at].as_ref().expect("beside it").sentence();
        assert!(moved.starts_with(&format!("The camera stands {pixels}")), "{moved}");
    }
    let other = said[3].as_ref().expect("another place").sentence();
    assert!(other.starts_with("This does not look like the ground in first.mp4"), "{other}");
    // Without the first one's file nothing can be said, and that is said.
    std::fs::remove_file(folder.path().join("first.mp4")).unwrap();
    let (id, nudged) = &mut kept[1];
    let doubt = view_differs(&mut library, *id, nudged, &CancelToken::new()).unwrap();
    let Some(ViewDoubt::NotCompared(sentence)) = doubt else { panic!("{doubt:?}") };
    assert!(sentence.contains("could not be compared, since first.mp4 cannot"), "{sentence}");
}

#[test]
fn a_picture_displaced_in_part_puts_its_ball_before_the_person() {
    let truth = sample_truth("left_handed.truth.json");
    let mut objects = truth["reference_objects"].as_array().unwrap().iter();
    let sheet = objects.find(|object| object["kind"] == "sheet").unwrap();
    let mm = [0, 1].map(|i| 1000.0 * sheet["size_m"][i].as_f64().unwrap());
    let corner = |i: usize| {
        let [x, y] = [0, 1].map(|k| sheet["corners_px"][i][k].as_f64().unwrap());
        ImagePoint::new(x, y)
    };
    let kind = ReferenceKind::Sheet {
        size: mm.map(Millimetres),
        corners: [corner(0), corner(1), corner(2), corner(3)],
    };
    let height = Millimetres(6.0);
    let sheet = Reference { kind, height, along_target: false, frame: None, point_sigma: None };
    let setup = Setup { references: vec![sheet], ..Setup::default() };
    let told = |by: usize| {
        let recording = Recording::open(&sample("left_handed.mp4")).unwrap();
        // The sheet is seen from row 607 to row 645.
        let source =
            move |_, x: usize, y: usize| (if y < 625 { x.saturating_sub(by) } else { x }, y);
        let mut pictures = Moved { recording, source };
        let found = measure(&mut pictures, None, &setup, &mut Progress::silent()).unwrap();
        let swing = &found.swings[0];
        let torn = |w: &Warning| matches!(w, Warning::PictureTorn { row, .. } if (row - 625.0).abs() < 2.0);
        let is_asked = swing.needs_review.contains(&Reviewable::Ball);
        let start = swing.divot_start_offset.as_ref().expect("a start");
        (swing.warnings.iter().any(torn), is_asked, scuffline::geometry::expand(start).half_width())
    };
    let (whole, torn) = (told(0), told(2));
    assert_eq!((whole.0, whole.1), (false, false));
    assert_eq!((torn.0, torn.1), (true, true));
    assert!(torn.2 > whole.2, "{torn:?} {whole:?}");
}
