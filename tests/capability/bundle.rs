//! A golfer carried from one library to another in one file.

use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use scuffline::store::{GolferId, Library, Of};
use scuffline::workflow::Progress;
use scuffline::workflow::build_sample;
use scuffline::workflow::bundle::{Bundle, BundleError, WrittenBundle, merge, plan, write_bundle};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

use super::support::sample;

/// A library with the invented golfer, one of whose swings was filmed.
fn library_with_golfer(folder: &Path) -> (Library, GolferId) {
    let mut library = Library::open(folder.join("from.scuffline")).unwrap();
    let built = build_sample(&mut library, folder).unwrap().unwrap();
    let clip = folder.join("swing.mp4");
    std::fs::copy(sample("iron_turf_sheet.mp4"), &clip).unwrap();
    let identity = scuffline::store::identify_file(&clip).unwrap();
    let session = built.sessions[0];
    library
        .save(|edit| {
            let new = scuffline::store::NewRecording { path: clip.clone(), identity };
            let recording = edit.add_recording(session, &new)?;
            let kind = scuffline::domain::SwingKind::Strike;
            let time = scuffline::domain::Seconds(1.5);
            let by = scuffline::domain::PlacedBy::Person;
            let swing = scuffline::store::NewSwing::on(recording, kind, time, by);
            let swing = edit.add_swing(session, &swing)?;
            let sigma = scuffline::domain::Pixels(0.08);
            let frame = scuffline::domain::FrameIndex(40);
            let mark = scuffline::domain::Mark {
                register: Some(scuffline::domain::Register { frame, sigma }),
                ..scuffline::domain::Mark::steadied(scuffline::domain::ImagePoint::new(
                    651.6, 601.7,
                ))
            };
            let kind = scuffline::domain::MarkKind::DivotStart;
            edit.set_mark(
                recording,
                Some(swing),
                &scuffline::domain::PlacedMark::by_person(kind, mark),
            )
        })
        .unwrap();
    (library, built.golfer)
}

/// Everything of a golfer that people see, for comparison.
fn contents(library: &Library, golfer: GolferId) -> Vec<String> {
    let mut lines = vec![format!("{:?}", library.golfer(golfer).unwrap())];
    lines.extend(library.aim_windows(golfer).unwrap().iter().map(|w| format!("{w:?}")));
    for session in library.sessions(golfer).unwrap() {
        lines.push(format!("{:?}", session.session));
        lines.extend(library.blocks(session.id).unwrap().iter().map(|(_, b)| format!("{b:?}")));
        for swing in library.swings(Of::Session(session.id)).unwrap() {
            let marks = swing.recording.map(|r| library.marks(r, Some(swing.id)).unwrap());
            lines.push(format!(
                "{:?} {:?} {:?} {:?} {:?} {:?}",
                swing.kind, swing.club, swing.strike_time, swing.left_out, swing.result, marks
            ));
        }
    }
    lines
}

fn written(folder: &Path, recordings: bool) -> (PathBuf, Library, GolferId, WrittenBundle) {
    let (library, golfer) = library_with_golfer(folder);
    let path = folder.join("robin.zip");
    let told = write_bundle(&library, golfer, &path, recordings, &mut Progress::silent()).unwrap();
    (path, library, golfer, told)
}

#[test]
fn a_golfer_arrives_whole_and_only_once() {
    let folder = tempfile::tempdir().unwrap();
    let (path, from, golfer, told) = written(folder.path(), true);
    assert_eq!([told.recordings, told.sessions], [1, 3]);
    let mut to = Library::open(folder.path().join("to.scuffline")).unwrap();
    let mut bundle = Bundle::open(&path).unwrap();
    let before = plan(&to, &bundle).unwrap();
    assert_eq!([before.new_sessions, before.new_recordings, before.files], [3, 1, 1]);
    assert_eq!([before.new_swings, before.known_swings], [told.swings, 0]);
    assert!(to.golfers().unwrap().is_empty(), "a plan changes nothing");

    let kept = folder.path().join("kept");
    merge(&mut to, &mut bundle, &kept, &mut Progress::silent()).unwrap();
    let (arrived, _) = to.golfers().unwrap().remove(0);
    assert_eq!(contents(&to, arrived), contents(&from, golfer));
    let session = to.sessions(arrived).unwrap().pop().unwrap();
    let recording = to.recordings(session.id).unwrap().remove(0);
    let original = std::fs::read(sample("iron_turf_sheet.mp4")).unwrap();
    assert_eq!(std::fs::read(&recording.path).unwrap(), original);

    let again = plan(&to, &bundle).unwrap();
    assert_eq!([again.new_sessions, again.new_recordings, again.new_swings], [0, 0, 0]);
    merge(&mut to, &mut bundle, &kept, &mut Progress::silent()).unwrap();
    assert_eq!(contents(&to, arrived), contents(&from, golfer));
    assert_eq!(to.golfers().unwrap().len(), 1);
}

#[test]
fn recordings_stay_at_home_unless_they_are_wanted() {
    let folder = tempfile::tempdir().unwrap();
    let (path, library, golfer, told) = written(folder.path(), false);
    assert_eq!(told.recordings, 0);
    let text = std::fs::read(&path).unwrap();
    let folder_name = folder.path().to_str().unwrap().as_bytes();
    assert!(!text.windows(folder_name.len()).any(|w| w == folder_name), "paths stay at home");
    // A recording whose file is gone is named, and the rest goes along.
    std::fs::remove_file(folder.path().join("swing.mp4")).unwrap();
    let told = write_bundle(&library, golfer, &path, true, &mut Progress::silent()).unwrap();
    assert_eq!(told.missing, ["swing.mp4"]);
    Bundle::open(&path).unwrap();
}

#[test]
fn a_changed_byte_is_found_wherever_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let (path, ..) = written(folder.path(), false);
    let whole = std::fs::read(&path).unwrap();
    let broken = folder.path().join("broken.zip");
    // A fixed stride, so that names, lists, contents and the directory are all met.
    for place in (0..whole.len()).step_by(whole.len() / 61 + 1) {
        let mut bytes = whole.clone();
        bytes[place] ^= 0x20;
        std::fs::write(&broken, &bytes).unwrap();
        if let Ok(bundle) = Bundle::open(&broken) {
            // Only fields that carry no content, such as a time stamp, may differ unnoticed.
            let reference = Bundle::open(&path).unwrap();
            let library = Library::open(folder.path().join("empty.scuffline")).unwrap();
            assert_eq!(plan(&library, &bundle).unwrap(), plan(&library, &reference).unwrap());
        }
    }
    for length in [0, 1, whole.len() / 2, whole.len() - 1] {
        std::fs::write(&broken, &whole[..length]).unwrap();
        assert!(Bundle::open(&broken).is_err(), "{length}");
    }
}

/// The entries of a bundle, to be packed anew with changes.
fn entries(path: &Path) -> Vec<(String, Vec<u8>)> {
    let mut zip = ZipArchive::new(std::fs::File::open(path).unwrap()).unwrap();
    (0..zip.len())
        .map(|i| {
            let mut entry = zip.by_index(i).unwrap();
            let mut bytes = Vec::new();
            entry.read_to_end(&mut bytes).unwrap();
            (entry.name().to_owned(), bytes)
        })
        .collect()
}

fn pack(path: &Path, entries: &[(String, Vec<u8>)]) {
    let mut zip = ZipWriter::new(std::fs::File::create(path).unwrap());
    for (name, bytes) in entries {
        let options = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
        zip.start_file(name, options).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap();
}

/// The bundle with its golfer replaced, and the list set right, as a forger would.
fn forged(path: &Path, golfer: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut all = entries(path);
    for (name, bytes) in &mut all {
        if name == "golfer.json" {
            *bytes = golfer.to_vec();
        }
        if name == "bundle.json" {
            let mut list: serde_json::Value = serde_json::from_slice(bytes).unwrap();
            let hash = blake3::hash(golfer).to_hex().to_string();
            list["entries"]["golfer.json"] =
                serde_json::json!({"size_bytes": golfer.len(), "blake3": hash});
            *bytes = serde_json::to_vec(&list).unwrap();
        }
    }
    all
}

#[test]
fn hostile_bundles_are_refused_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let (path, ..) = written(folder.path(), false);
    let hostile = folder.path().join("hostile.zip");
    let good = entries(&path);
    for name in
        ["../evil.txt", "/etc/evil", "recordings/../../evil", "recordings/x\\..\\evil", "evil"]
    {
        let mut all = good.clone();
        all.push((name.to_owned(), b"evil".to_vec()));
        pack(&hostile, &all);
        assert!(matches!(Bundle::open(&hostile), Err(BundleError::Hostile { .. })), "{name}");
    }
    // An entry that is not listed, under a name that bundles have.
    let mut all = good.clone();
    all.push(("recordings/0123456789abcdef.mp4".into(), b"x".to_vec()));
    pack(&hostile, &all);
    assert!(matches!(Bundle::open(&hostile), Err(BundleError::Damaged { .. })));
    // Rows that point nowhere, dates that are none, and things that are no golfer.
    let text =
        String::from_utf8(good.iter().find(|e| e.0 == "golfer.json").unwrap().1.clone()).unwrap();
    let mut golfer: serde_json::Value = serde_json::from_str(&text).unwrap();
    golfer["sessions"][0]["swings"][0]["block"] = 99.into();
    let nowhere = golfer.to_string();
    golfer = serde_json::from_str(&text).unwrap();
    golfer["sessions"][0]["date"] = "tomorrow".into();
    for forgery in [nowhere, golfer.to_string(), "{}".into(), "[".repeat(100_000)] {
        pack(&hostile, &forged(&path, forgery.as_bytes()));
        assert!(matches!(Bundle::open(&hostile), Err(BundleError::NotABundle { .. })));
    }
    // A newer schema says so.
    let mut all = good.clone();
    for (name, bytes) in &mut all {
        if name == "bundle.json" {
            let text = String::from_utf8(bytes.clone()).unwrap();
            *bytes = text.replacen("\"schema\":1", "\"schema\":9", 1).into_bytes();
        }
    }
    pack(&hostile, &all);
    assert!(matches!(Bundle::open(&hostile), Err(BundleError::NewerSchema { found: 9, known: 1 })));
    assert!(!folder.path().join("evil.txt").exists() && !folder.path().join("evil").exists());
}

#[test]
fn a_failed_import_leaves_library_and_folder_as_they_were() {
    let folder = tempfile::tempdir().unwrap();
    let (path, ..) = written(folder.path(), true);
    let mut to = Library::open(folder.path().join("to.scuffline")).unwrap();
    // A folder that cannot be made: a file stands in its place.
    let blocked = folder.path().join("blocked");
    std::fs::write(&blocked, b"x").unwrap();
    let mut bundle = Bundle::open(&path).unwrap();
    assert!(matches!(
        merge(&mut to, &mut bundle, &blocked, &mut Progress::silent()),
        Err(BundleError::File { .. })
    ));
    assert!(to.golfers().unwrap().is_empty());
    assert_eq!(std::fs::read(&blocked).unwrap(), b"x");
}
