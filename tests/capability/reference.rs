//! Things of known size are found and proposed; nothing is measured by them unasked.

use std::path::{Path, PathBuf};

use scuffline::domain::{
    ImagePoint, Millimetres, Reference, ReferenceKind, Reviewable, Session, Setup, Surface,
    SwingResult, Warning,
};
use scuffline::store::{Library, Of, identify_file};
use scuffline::video::Recording;
use scuffline::workflow::{
    KnownBefore, Progress, carried_from, evaluate_kept, golfer_named, measure, measure_file,
    propose_line, propose_references, read_in, remeasure, session_on, state,
};

use crate::support::truth::{Truth, truth};
use crate::support::{meadow, sample, scuffline};

/// The rendered sample recordings.
const CLIPS: [&str; 8] = [
    "iron_turf_sheet",
    "iron_mat_stick",
    "driver_tee",
    "left_handed",
    "chalk_practice",
    "iron_four_swings",
    "portrait",
    "drifting_tripod",
];

/// What is proposed for a clip is there, and where it is said to be.
fn check(path: PathBuf, scene: &Truth) -> usize {
    let mut recording = Recording::open(&path).expect("the footage opens");
    let proposed = propose_references(&mut recording, &KnownBefore::default()).unwrap();
    let true_ones = scene.references();
    for p in &proposed {
        let sigma = p.reference.point_sigma.unwrap().0;
        let right = true_ones.iter().any(|t| match (&p.reference.kind, &t.kind) {
            (
                ReferenceKind::Sheet { size, corners },
                ReferenceKind::Sheet { size: true_size, corners: true_corners },
            ) => {
                // Either way round: the same corners, and the edge between them as long.
                let shift = (0..4).find(|k| {
                    corners
                        .iter()
                        .enumerate()
                        .all(|(i, c)| c.distance(true_corners[(i + k) % 4]) < 3.5 * sigma + 0.3)
                });
                shift.is_some_and(|k| size[0] == true_size[k % 2])
            }
            (
                ReferenceKind::Line { length, ends },
                ReferenceKind::Line { length: true_length, ends: true_ends },
            ) => {
                let near = |a: ImagePoint| true_ends.iter().any(|b| a.distance(*b) < 2.5 * sigma);
                ends.iter().all(|end| near(*end)) && length == true_length
            }
            _ => false,
        });
        assert!(right, "{}: {p:?} is not there: {true_ones:?}", path.display());
        println!("{}: {:.2} sure, sigma {sigma:.2}", path.display(), p.confidence);
    }
    proposed.len()
}

#[test]
fn sheets_and_sticks_are_proposed_where_they_lie_and_nowhere_else() {
    let (mut found, mut there) = (0, 0);
    for name in CLIPS {
        let scene = truth(name);
        found += check(sample(&format!("{name}.mp4")), &scene);
        let is_single = |r: &&Reference| !matches!(r.kind, ReferenceKind::LinePair { .. });
        there += scene.references().iter().filter(is_single).count();
    }
    assert_eq!(found, there);
}

/// Invented scenes with lines, mats and balls about: what is proposed lies where such a thing is.
#[test]
fn in_invented_scenes_nothing_else_is_taken_for_a_reference() {
    use scuffline::demo::{Condition, Scenario, Scene};
    let conditions = [Condition::Mat, Condition::MatChalkWiped, Condition::TurfLines];
    let (mut right, mut there) = (0, 0);
    for (condition, seed) in conditions.into_iter().zip(31..) {
        let mut scene = Scene::new(Scenario::draw(condition, seed));
        let true_points: Vec<Vec<ImagePoint>> = scene
            .truth()
            .setup()
            .references
            .into_iter()
            .filter(|r| !matches!(r.kind, ReferenceKind::LinePair { .. }))
            .map(|mut r| r.kind.points_mut().into_iter().map(|p| *p).collect())
            .collect();
        let measured =
            measure(&mut scene, None, &Setup::default(), &mut Progress::silent()).unwrap();
        for mut p in measured.setup.proposed {
            let near = |a: &ImagePoint| true_points.iter().flatten().any(|b| a.distance(*b) < 4.0);
            let found = p.reference.kind.points_mut();
            assert!(found.iter().all(|a| near(a)), "{condition:?}: {found:?} of {true_points:?}");
            right += 1;
        }
        there += true_points.len();
        println!("{condition:?}: {right} of {there} so far");
    }
    // Sheets and sticks that others hide are passed over, not guessed.
    assert!(2 * right >= there && there >= 2, "{right} of {there}");
}

#[test]
fn a_proposal_is_told_and_not_measured_by() {
    let clip = sample("iron_turf_sheet.mp4");
    let measured = measure_file(&clip, &Setup::default(), &mut Progress::silent()).unwrap();
    assert_eq!(measured.setup.proposed.len(), 1);
    let told = |w: &Warning| matches!(w, Warning::ReferenceProposed { .. });
    assert!(measured.warnings.iter().any(told));
    // The ball is the ruler as long as nobody has said yes.
    assert!(measured.warnings.contains(&Warning::BallIsRuler));
    let references = vec![measured.setup.proposed[0].reference.clone()];
    let confirmed = Setup { references, ..Setup::default() };
    let confirmed = measure_file(&clip, &confirmed, &mut Progress::silent()).unwrap();
    assert!(!confirmed.warnings.iter().any(told));
    assert!(!confirmed.warnings.contains(&Warning::BallIsRuler));
    let start = confirmed.swings[0].divot_start_offset.as_ref().expect("measured");
    // The rendered swing's mark is seen to begin 14 to 18 mm behind the ball.
    assert!(state(start).interval.contains(-16.0), "{start:?}");
}

/// Invented mats: their edges are proposed as the target line where the truth has them.
#[test]
fn a_mats_edge_is_proposed_as_the_target_line() {
    use scuffline::demo::{Condition, Scenario, Scene};
    for (condition, seed) in [(Condition::Mat, 41), (Condition::MatChalkWiped, 42)] {
        let mut scene = Scene::new(Scenario::draw(condition, seed));
        let ball = scene.truth().swings[0].ball;
        let about = ball.map(|ball| (ball, Millimetres(21.3)));
        let known = KnownBefore { about, ..KnownBefore::default() };
        let line = propose_line(&mut scene, &known).unwrap().expect("a mat's edge");
        assert!(line.confidence > 0.6, "{line:?}");
        let [_, near, _, far] = scene.scenario().ground.mat.unwrap();
        let [a, b] = line.ends;
        // What a perfect reader would see: the mat's own straight edge, bent by the lens.
        let off = [near, far].map(|y| {
            let edge = scene.truth().seen_along(y);
            line.ends.map(|p| {
                let nearest =
                    edge.iter().min_by(|q, r| (q.x - p.x).abs().total_cmp(&(r.x - p.x).abs()));
                p.y - nearest.unwrap().y
            })
        });
        println!("{condition:?}: {line:?}, off the edges by {off:?}");
        let best = off.into_iter().min_by(|a, b| a[0].abs().total_cmp(&b[0].abs())).unwrap();
        // Rubber 18 mm wide lies round the mat, some four pixels: either side of it is parallel.
        assert!(best.iter().all(|o| o.abs() < 6.0), "{off:?}");
        let askew = (best[0] - best[1]).atan2(b.x - a.x).to_degrees();
        assert!(askew.abs() < 0.1, "{askew:.2}° askew");
    }
}

/// Chalk, shadows, a tree's shade, old divots, dry patches, a stick and sheets are no mat's edge.
#[test]
fn no_target_line_is_made_up_on_turf() {
    use scuffline::demo::{Condition, Scenario, Scene};
    let turf = [
        Condition::TurfLines,
        Condition::Shade,
        Condition::MovingShadow,
        Condition::OldDivots,
        Condition::DryGround,
        Condition::Decoys,
        Condition::LowSunBehind,
    ];
    for (condition, seed) in turf.into_iter().zip(51..) {
        let mut scene = Scene::new(Scenario::draw(condition, seed));
        let line = propose_line(&mut scene, &KnownBefore::default()).unwrap();
        assert_eq!(line, None, "{condition:?}");
    }
}

#[test]
fn a_line_is_asked_about_after_things_of_known_size_and_used_once_confirmed() {
    let clip = sample("iron_mat_stick.mp4");
    let measured = measure_file(&clip, &Setup::default(), &mut Progress::silent()).unwrap();
    let told = |w: &Warning| matches!(w, Warning::LineProposed { .. });
    // The stick comes first, and says where the target line lies.
    assert_eq!(measured.setup.proposed.len(), 1);
    assert!(!measured.warnings.iter().any(told));
    let mut setup = measured.setup.clone();
    let stick = setup.proposed.remove(0).reference;
    assert!(setup.asked_line().is_some_and(|line| line.confidence > 0.6), "{setup:?}");
    let along = Setup { references: vec![stick.clone()], ..setup.clone() };
    assert_eq!(along.asked_line(), None);
    // Both were laid along the same line by whoever rendered this.
    let [a, b] = setup.asked_line().unwrap().ends;
    setup.take_proposed_line();
    assert_eq!(
        (setup.target_line.map(|l| l.map(|m| m.point)), setup.asked_line()),
        (Some([a, b]), None)
    );
    let by_edge = measure_file(&clip, &setup, &mut Progress::silent()).unwrap();
    assert!(!by_edge.warnings.contains(&Warning::TargetLineAssumed));
    let yaw = |m: &scuffline::workflow::Measurement| m.view.as_ref().unwrap().pose().yaw.value;
    let by_stick = measure_file(&clip, &along, &mut Progress::silent()).unwrap();
    let (edge, stick) = (yaw(&by_edge), yaw(&by_stick));
    assert!((edge - stick).abs() < 0.5, "the edge says {edge:.2}°, the stick {stick:.2}°");
}

#[test]
fn a_session_that_is_said_to_be_on_a_mat_is_measured_as_on_one() {
    let folder = tempfile::tempdir().unwrap();
    let mut library = Library::open(folder.path().join("library.scuffline")).unwrap();
    let golfer = golfer_named(&mut library, None).unwrap();
    let surface_of = |library: &mut Library, day: i8, said: Option<Surface>| {
        let session = session_on(library, golfer, jiff::civil::date(2026, 5, day)).unwrap();
        if let Some(surface) = said {
            let session_row = library.session(session).unwrap().session;
            let said = Session { surface, ..session_row };
            library.save(|edit| edit.update_session(session, &said)).unwrap();
        }
        let mut recording = Recording::open(&sample("iron_mat_stick.mp4")).unwrap();
        let quiet = &mut Progress::silent();
        let id = read_in(library, session, &mut recording, None, quiet).unwrap();
        let evaluation = evaluate_kept(library, id).unwrap().unwrap();
        let assumed = evaluation.warnings.contains(&Warning::SurfaceAssumed);
        (library.setup(id).unwrap().surface, assumed)
    };
    assert_eq!(surface_of(&mut library, 1, None), (None, true));
    assert_eq!(surface_of(&mut library, 2, Some(Surface::Mat)), (Some(Surface::Mat), false));
}

#[test]
fn a_set_up_in_which_nothing_is_placed_keeps_no_later_recording_from_proposing() {
    let folder = tempfile::tempdir().unwrap();
    let mut library = Library::open(folder.path().join("library.scuffline")).unwrap();
    let golfer = golfer_named(&mut library, None).unwrap();
    let session = session_on(&mut library, golfer, jiff::civil::date(2026, 5, 3)).unwrap();
    let path = folder.path().join("meadow.mp4");
    meadow(&path, 1280, 720);
    let mut read = |path: &Path, setup: Option<&Setup>| {
        let mut recording = Recording::open(path).unwrap();
        let id = read_in(&mut library, session, &mut recording, setup, &mut Progress::silent());
        let id = id.unwrap();
        (library.setup(id).unwrap(), carried_from(&library, id).unwrap().is_some())
    };
    let said = Setup { surface: Some(Surface::Mat), ..Setup::default() };
    assert!(read(&path, Some(&said)).0.proposed.is_empty());
    let (setup, is_carried) = read(&sample("iron_mat_stick.mp4"), None);
    assert_eq!((setup.surface, is_carried), (Some(Surface::Mat), false));
    assert!(!setup.proposed.is_empty(), "{setup:?}");
}

#[test]
fn a_set_up_carried_over_says_from_where_and_whether_it_fits() {
    let folder = tempfile::tempdir().unwrap();
    let library = folder.path().join("library.scuffline");
    let scan = |clip: &Path, more: &[&str]| {
        let text = |path: &Path| path.to_str().unwrap().to_owned();
        let mut words = vec!["scan".to_owned(), text(clip), "--library".to_owned(), text(&library)];
        let day = ["--golfer", "Robin", "--date", "2026-05-14"];
        words.extend(day.iter().chain(more).map(|word| (*word).to_owned()));
        let output = scuffline(words);
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    };
    let clip = sample("iron_turf_sheet.mp4");
    let setup = sample("iron_turf_sheet.setup.json");
    let first = scan(&clip, &["--setup", setup.to_str().unwrap()]);
    assert!(!first.contains("carried over"), "{first}");
    // The same pictures in a file of other content: its camera stands where it stood.
    let again = folder.path().join("again.mp4");
    let mut bytes = std::fs::read(&clip).unwrap();
    bytes.extend(*b"\0\0\0\x08free");
    std::fs::write(&again, bytes).unwrap();
    let same = scan(&again, &[]);
    assert!(same.contains("its set-up is carried over from iron_turf_sheet.mp4"), "{same}");
    let elsewhere = sample("iron_mat_stick.mp4");
    let other = scan(&elsewhere, &[]);
    assert!(other.contains("note: This does not look like the ground in iron_turf"), "{other}");
    // What is measured by it is put before the person, when it is measured anew, too; until the
    // recording is set up anew, for which its stick is found.
    let result = || {
        let library = Library::open(&library).unwrap();
        let row = library.recordings_with(&identify_file(&elsewhere).unwrap()).unwrap().remove(0);
        library.swings(Of::Recording(row.id)).unwrap().remove(0).result.unwrap()
    };
    let differs = |result: &SwingResult| {
        result.warnings.iter().any(|w| matches!(w, Warning::ViewDiffers { .. }))
    };
    let reference = |more: &[&str]| {
        let mut words = vec!["reference", elsewhere.to_str().unwrap()];
        words.extend(more.iter().chain(&["--library", library.to_str().unwrap()]));
        let output = scuffline(words);
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    };
    let as_read = result();
    assert!(as_read.divot_start_offset.is_some() && differs(&as_read), "{:?}", as_read.warnings);
    assert!(as_read.needs_review.contains(&Reviewable::DivotStart), "{:?}", as_read.needs_review);
    let mut kept = Library::open(&library).unwrap();
    let row = kept.recordings_with(&identify_file(&elsewhere).unwrap()).unwrap().remove(0);
    remeasure(&mut kept, row.id).unwrap();
    assert_eq!(result().needs_review, as_read.needs_review);
    let told = reference(&[]);
    assert!(told.contains("Note: This does not look like the ground"), "{told}");
    // Nor does it end with the recording that the set-up was made for, whose own it is.
    let first = clip.to_str().unwrap();
    let own = scuffline(["reference", first, "--anew", "--library", library.to_str().unwrap()]);
    let refused = String::from_utf8_lossy(&own.stderr).into_owned();
    assert!(!own.status.success() && refused.contains("is its own"), "{refused}");
    let shared = kept.recordings_with(&identify_file(&clip).unwrap()).unwrap().remove(0);
    for row in kept.recordings(shared.session).unwrap() {
        if row.path != elsewhere {
            kept.save(|edit| edit.remove_recording(row.id)).unwrap();
        }
    }
    remeasure(&mut kept, row.id).unwrap();
    assert!(differs(&result()));
    let anew = reference(&["--anew"]);
    assert!(anew.contains("found, not confirmed 1: a stick"), "{anew}");
    assert!(!anew.contains("does not look like"), "{anew}");
    reference(&["--accept", "1"]);
    assert!(!differs(&result()), "{:?}", result().warnings);
}
