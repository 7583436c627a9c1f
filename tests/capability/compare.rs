//! Blocks of swings: consistency, comparison, drills; from plain lists and from a library.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use scuffline::domain::{
    Club, ContactOrder, Contribution, LengthUnit, LowPointMethod, MarkWord, Measured, Quantity,
    Source, Surface, SwingKind,
};
use scuffline::geometry::expand;
use scuffline::stats::{
    AimTable, AimWindow, Caution, DRILLS, DrillScore, Scoring, SwingOffsets, compare_blocks,
    correct_several, score_drill, summarise_block,
};
use scuffline::store::{Library, Of};
use scuffline::workflow::{
    Span, build_sample, compare, offsets_of, season, study_clubs, study_drills,
};

/// A strike on turf: `start` with a measuring doubt of its own and a shared part.
fn swing(start: f64, own: f64, shared: f64, calibration: i64) -> SwingOffsets {
    let budget = vec![
        Contribution::new(Source::Mark, own),
        Contribution::new(Source::Calibration(0), shared),
    ];
    SwingOffsets {
        club: Some(Club("7-iron".into())),
        calibration: Some(calibration),
        divot_start: Some(Measured::new(start, budget)),
        ..SwingOffsets::without_numbers(SwingKind::Strike)
    }
}

fn plain(starts: &[f64]) -> Vec<SwingOffsets> {
    starts.iter().map(|&s| swing(s, 0.0, 0.0, 1)).collect()
}

fn normals(rng: &mut ChaCha8Rng, n: usize, mean: f64, sd: f64) -> Vec<f64> {
    (0..n).map(|_| mean + sd * Distribution::<f64>::sample(&StandardNormal, rng)).collect()
}

#[test]
fn measuring_is_taken_out_of_the_spread() {
    // 21 mm observed, 5 mm of it measuring: root of 21² - 5².
    let swings: Vec<SwingOffsets> =
        [-21.0, 0.0, 21.0].iter().map(|&s| swing(s, 3.0, 0.0, 1)).collect();
    let s = summarise_block(&swings, &AimTable::default());
    let start = s.offset(Quantity::DivotStart).expect("starts");
    assert_eq!(start.moments.sd, Some(21.0));
    assert!((start.measuring_sd - 3.0).abs() < 1e-12);
    assert!((start.own_sd.expect("a spread") - 432.0_f64.sqrt()).abs() < 1e-12);
    // Measuring explains it all: the own spread is not shown as nothing.
    let steady: Vec<SwingOffsets> =
        [-1.0, 0.0, 1.0].iter().map(|&s| swing(s, 3.0, 0.0, 1)).collect();
    let s = summarise_block(&steady, &AimTable::default());
    assert_eq!(s.offset(Quantity::DivotStart).expect("starts").own_sd, None);
}

#[test]
fn a_shared_calibration_does_not_average_away() {
    // Many swings without any scatter of their own: what is left is the shared 4 mm.
    let block: Vec<SwingOffsets> =
        (0..400).map(|i| swing(50.0 + f64::from(i % 2) * 0.001, 0.0, 4.0, 7)).collect();
    let s = summarise_block(&block, &AimTable::default());
    let start = s.offset(Quantity::DivotStart).expect("starts");
    assert!((start.shared_u - 4.0).abs() < 1e-9);
    let half = start.mean_interval.expect("an interval").half_width();
    assert!((half - 1.96 * 4.0).abs() < 0.01, "{half}");
    // Against another block of the same standing it cancels, of another one it adds up.
    let later: Vec<SwingOffsets> =
        (0..400).map(|i| swing(60.0 + f64::from(i % 2) * 0.001, 0.0, 4.0, 7)).collect();
    let same = compare_blocks(&block, &later, &AimTable::default());
    let same = same.offset(Quantity::DivotStart).expect("both").means;
    assert!(same.interval.half_width() < 0.01, "{same:?}");
    let moved: Vec<SwingOffsets> =
        later.iter().cloned().map(|s| SwingOffsets { calibration: Some(8), ..s }).collect();
    let other = compare_blocks(&block, &moved, &AimTable::default());
    let half = other.offset(Quantity::DivotStart).expect("both").means.interval.half_width();
    assert!((half - 1.96 * 32.0_f64.sqrt()).abs() < 0.02, "{half}");
    assert!(other.cautions.iter().any(|c| c.contains("set up anew")), "{:?}", other.cautions);
    // A part with the other sign does not cancel: a scale error moves 50 and -50 apart.
    let behind: Vec<SwingOffsets> =
        (0..400).map(|i| swing(-50.0 + f64::from(i % 2) * 0.001, 0.0, -4.0, 7)).collect();
    let apart = compare_blocks(&block, &behind, &AimTable::default());
    let half = apart.offset(Quantity::DivotStart).expect("both").means.interval.half_width();
    assert!((half - 1.96 * 8.0).abs() < 0.02, "{half}");
}

#[test]
fn the_budgets_of_means_and_differences_are_their_intervals() {
    // Means of 10 and 30 mm, both with a spread of 8 mm over four swings: 4 mm of scatter with
    // three degrees of freedom each. The first block's standing has 3 mm, the second's 4 mm.
    let block = |mean: f64, shared: f64, standing: i64| -> Vec<SwingOffsets> {
        let far = 96.0_f64.sqrt();
        [-far, 0.0, 0.0, far].map(|off| swing(mean + off, 0.0, shared, standing)).to_vec()
    };
    let compared = compare_blocks(&block(10.0, 3.0, 1), &block(30.0, 4.0, 2), &AimTable::default());
    let part = |m: &Measured, source: &Source| {
        let of = m.budget.iter().filter(|c| c.source == *source);
        of.map(|c| c.standard.powi(2)).sum::<f64>().sqrt()
    };
    let mean = &compared.first.offset(Quantity::DivotStart).expect("starts").mean;
    assert!((part(mean, &Source::Scatter) - 4.0).abs() < 1e-12, "{mean:?}");
    assert!((part(mean, &Source::Calibration(0)) - 3.0).abs() < 1e-12, "{mean:?}");
    assert!((mean.standard_uncertainty() - 5.0).abs() < 1e-12);
    // Welch-Satterthwaite: 5⁴ / (4⁴ / 3).
    assert!((mean.effective_freedom().unwrap() - 625.0 * 3.0 / 256.0).abs() < 1e-9);
    let told = compared.first.offset(Quantity::DivotStart).unwrap().mean_interval.unwrap();
    assert!((told.high - expand(mean).high).abs() < 1e-9);
    let between = compared.offset(Quantity::DivotStart).expect("both");
    let difference = &between.difference;
    assert!((part(difference, &Source::Scatter) - 32.0_f64.sqrt()).abs() < 1e-12);
    assert!((part(difference, &Source::Calibration(0)) - 5.0).abs() < 1e-12);
    let wide = expand(difference).half_width();
    assert!((between.means.interval.half_width() - wide).abs() < 1e-9, "{between:?}");
    // Of one standing what is shared cancels with its sign: 4 - 3 = 1 mm.
    let same = compare_blocks(&block(10.0, 3.0, 1), &block(30.0, 4.0, 1), &AimTable::default());
    let difference = &same.offset(Quantity::DivotStart).expect("both").difference;
    assert!((part(difference, &Source::Calibration(0)) - 1.0).abs() < 1e-12);
}

#[test]
fn stated_intervals_cover_the_truth_with_shared_and_unshared_errors() {
    // Rounds of two blocks of eight: the golfer's scatter 20 mm, measuring 3 mm a swing, and
    // each standing of the camera off by a scale error of 3 % (one sigma). The truth is 70 and
    // 55 mm. Both the first mean's interval and the difference's are to hold it 95 times of
    // 100 (± three standard errors of 600 rounds).
    let mut rng = ChaCha8Rng::seed_from_u64(77);
    for same_standing in [true, false] {
        let (mut mean_held, mut difference_held) = (0, 0);
        let rounds = 600;
        for _ in 0..rounds {
            let scale: Vec<f64> = normals(&mut rng, 2, 0.0, 0.03);
            let block = |rng: &mut ChaCha8Rng, truth: f64, standing: usize| {
                let played = normals(rng, 8, truth, 20.0);
                let noise = normals(rng, 8, 0.0, 3.0);
                let read = |(p, e): (f64, f64)| {
                    let read = p * (1.0 + scale[standing]) + e;
                    swing(read, 3.0, 0.03 * read, standing as i64)
                };
                played.into_iter().zip(noise).map(read).collect::<Vec<_>>()
            };
            let a = block(&mut rng, 70.0, 0);
            let b = block(&mut rng, 55.0, usize::from(!same_standing));
            let c = compare_blocks(&a, &b, &AimTable::default());
            let first = c.first.offset(Quantity::DivotStart).expect("starts");
            mean_held += i32::from(first.mean_interval.expect("an interval").contains(70.0));
            let d = c.offset(Quantity::DivotStart).expect("both").means;
            difference_held += i32::from(d.interval.contains(-15.0));
        }
        for (held, what) in [(mean_held, "mean"), (difference_held, "difference")] {
            let share = f64::from(held) / f64::from(rounds);
            assert!((0.923..=0.977).contains(&share), "{what}, same {same_standing}: {share}");
        }
    }
}

#[test]
fn the_sentence_says_what_is_shown_and_what_cannot_be() {
    let before = plain(&[20.0, 32.0, 41.0, 28.0, 35.0, 22.0, 39.0, 30.0, 26.0, 37.0]);
    let after = plain(&[45.0, 38.0, 52.0, 41.0, 36.0, 48.0, 55.0, 40.0, 43.0, 47.0]);
    let c = compare_blocks(&before, &after, &AimTable::default());
    assert!(c.offset(Quantity::DivotStart).expect("both").is_shown());
    assert_eq!(
        c.sentence(LengthUnit::Mm),
        "Divot start 14 mm farther ahead, 95 % interval 7 to 20; spread not shown to differ: \
         with 10 swings a ratio under 2.0 can't be seen."
    );
    let back = compare_blocks(&after, &before, &AimTable::default());
    assert!(back.sentence(LengthUnit::Cm).starts_with("Divot start 1.4 cm farther behind, 95 %"));

    let hardly = plain(&[22.0, 33.0, 42.0, 28.0, 38.0, 22.0, 39.0, 33.0, 26.0, 40.0]);
    let c = compare_blocks(&before, &hardly, &AimTable::default());
    let words = c.sentence(LengthUnit::Mm);
    assert!(words.starts_with("No difference shown in divot start: 1 mm farther ahead"), "{words}");
    let needed = c.offset(Quantity::DivotStart).expect("both").swings_needed.expect("a number");
    assert!(words.contains(&format!("about {needed} swings in each block")), "{words}");

    // Set up anew in between, with 4 mm of shared doubt each: more swings would not help.
    let moved = |starts: &[f64], standing| -> Vec<SwingOffsets> {
        starts.iter().map(|&s| swing(s, 0.0, 4.0, standing)).collect()
    };
    let c = compare_blocks(
        &moved(&[30.0, 31.0, 32.0, 31.0, 30.0], 1),
        &moved(&[32.0, 33.0, 34.0, 33.0, 32.0], 2),
        &AimTable::default(),
    );
    let offset = c.offset(Quantity::DivotStart).expect("both");
    assert!(offset.hidden_by_set_up && offset.swings_needed.is_none());
    assert!(c.sentence(LengthUnit::Mm).contains("leave the camera standing"), "{c:?}");

    let wild = plain(&[-80.0, 95.0, 10.0, 140.0, -60.0, 120.0, -30.0, 60.0, 100.0, -90.0]);
    let c = compare_blocks(&wild, &before, &AimTable::default());
    assert!(c.sentence(LengthUnit::Mm).contains("spread smaller: 0."), "{c:?}");

    let one = compare_blocks(&before, &after[..1], &AimTable::default());
    assert!(one.sentence(LengthUnit::Mm).starts_with("Too few swings"));
    let alike = compare_blocks(&plain(&[5.0; 4]), &plain(&[5.0; 4]), &AimTable::default());
    assert!(!alike.sentence(LengthUnit::Mm).contains("NaN"));
}

#[test]
fn a_claim_of_a_difference_is_rarely_false() {
    // Two blocks of the same golfer: at most 5 % (and three standard errors) are told apart.
    let mut rng = ChaCha8Rng::seed_from_u64(21);
    let rounds = 500;
    let (mut means, mut spreads) = (0, 0);
    for _ in 0..rounds {
        let a = plain(&normals(&mut rng, 10, 40.0, 20.0));
        let b = plain(&normals(&mut rng, 10, 40.0, 20.0));
        let c = compare_blocks(&a, &b, &AimTable::default());
        let start = c.offset(Quantity::DivotStart).expect("both");
        means += i32::from(start.is_shown());
        spreads += i32::from(start.spread_is_shown());
    }
    let limit = 0.05 + 3.0 * (0.05 * 0.95 / f64::from(rounds)).sqrt();
    assert!(f64::from(means) / f64::from(rounds) < limit, "{means}");
    assert!(f64::from(spreads) / f64::from(rounds) < limit, "{spreads}");
}

#[test]
fn what_speaks_against_a_number_is_said() {
    let mut block = plain(&[20.0, 22.0, 24.0, 27.0, 28.0, 31.0, 33.0, 34.0, 37.0, 39.0]);
    block[3].surface = Surface::Mat;
    block[4].calibration = Some(2);
    block[5].club = Some(Club("PW".into()));
    let cautions = summarise_block(&block, &AimTable::default()).cautions;
    assert!(cautions.contains(&Caution::MixedSurfaces));
    assert!(cautions.contains(&Caution::MixedClubs));
    assert!(cautions.contains(&Caution::SeveralSetUps { n: 2 }));
    assert!(cautions.iter().any(|c| matches!(c, Caution::Drifting { .. })));
    assert!(cautions.iter().any(|c| matches!(c, Caution::Following { .. })));
    for caution in &cautions {
        assert!(caution.text(LengthUnit::Mm, MarkWord::Divot).ends_with('.'));
    }
    let drift = cautions.iter().find(|c| matches!(c, Caution::Drifting { .. })).expect("drifts");
    assert!(
        drift.text(LengthUnit::Mm, MarkWord::Divot).contains("drifts by 2.1 mm a swing"),
        "{drift:?}"
    );
    assert!(
        drift
            .text(LengthUnit::Cm, MarkWord::Scuff)
            .contains("The scuff start drifts by 0.21 cm a swing"),
        "{drift:?}"
    );

    // Held against another block, what is mixed is said as well.
    let steady = plain(&[20.0, 35.0, 24.0, 31.0]);
    let said =
        |first: &[SwingOffsets]| compare_blocks(first, &steady, &AimTable::default()).cautions;
    assert!(said(&block).contains(&"Several clubs are mixed; compare club by club.".to_owned()));
    assert_eq!(said(&steady), Vec::<String>::new());
    let mut bare = steady.clone();
    bare[0].kind = SwingKind::Practice;
    assert!(said(&bare)[0].starts_with("Strikes and practice swings are mixed"));
    let steady = plain(&[20.0, 35.0, 24.0, 31.0, 22.0, 33.0, 26.0, 34.0, 21.0, 30.0]);
    assert_eq!(summarise_block(&steady, &AimTable::default()).cautions, vec![]);
    let mut apart = steady.clone();
    apart[6] = swing(300.0, 0.0, 0.0, 1);
    let s = summarise_block(&apart, &AimTable::default());
    assert_eq!(s.offset(Quantity::DivotStart).expect("starts").outliers, vec![6]);
    assert_eq!(s.n, 10, "marked, not removed");
    apart[6].left_out = true;
    let s = summarise_block(&apart, &AimTable::default());
    assert_eq!((s.n, s.left_out), (9, 1));
    assert!(s.offset(Quantity::DivotStart).expect("starts").moments.mean < 40.0);
    assert_eq!(
        summarise_block(&plain(&[3.0]), &AimTable::default()).cautions,
        vec![Caution::Few { n: 1 }]
    );
    assert!(summarise_block(&[], &AimTable::default()).offsets.is_empty());
}

#[test]
fn shares_count_what_could_be_told() {
    let order = |order| SwingOffsets { contact_order: order, ..swing(60.0, 0.0, 0.0, 1) };
    let block: Vec<SwingOffsets> = [
        Some(ContactOrder::BallFirst),
        Some(ContactOrder::BallFirst),
        Some(ContactOrder::TurfFirst),
        Some(ContactOrder::TooClose),
        None,
    ]
    .map(order)
    .to_vec();
    let s = summarise_block(&block, &AimTable::default());
    let share = s.ball_first.expect("a share");
    assert_eq!((share.hits, share.of, s.too_close), (2, 3, 1));
    assert_eq!(s.start_in_window.expect("a share").hits, 5);
    let own = AimTable::with_own(vec![(
        Club("7-iron".into()),
        Quantity::DivotStart,
        AimWindow { low_mm: 70.0, high_mm: 90.0 },
    )]);
    assert_eq!(summarise_block(&block, &own).start_in_window.expect("a share").hits, 0);
}

#[test]
fn aim_windows_of_common_practice() {
    let table = AimTable::default();
    let low = |club: &str, tee| table.window(Some(&Club(club.into())), tee, Quantity::LowPoint);
    let window = |low_mm, high_mm| Some(AimWindow { low_mm, high_mm });
    assert_eq!(low("7-iron", false), window(50.0, 125.0));
    assert_eq!(low("PW", false), window(50.0, 125.0));
    assert_eq!(low("3-wood", false), window(0.0, 60.0));
    assert_eq!(low("driver", true), window(-150.0, -25.0));
    assert_eq!(table.window(Some(&Club("driver".into())), true, Quantity::DivotStart), None);
}

#[test]
fn several_comparisons_are_corrected_together() {
    let a = plain(&[20.0, 32.0, 41.0, 28.0, 35.0, 22.0, 39.0, 30.0]);
    let b = plain(&[31.0, 43.0, 52.0, 39.0, 46.0, 33.0, 50.0, 38.0]);
    let c = compare_blocks(&a, &b, &AimTable::default());
    let one = c.offset(Quantity::DivotStart).expect("both");
    let p = correct_several(&[one, one, one]);
    assert!((p[0] - 3.0 * one.means.test.p).abs() < 1e-12);
}

#[test]
fn drills_are_scored_from_the_marks() {
    let score =
        |scoring, swings: &[SwingOffsets]| score_drill(scoring, swings, &AimTable::default());
    let reach = score(Scoring::Reach { line_mm: 75.0 }, &plain(&[80.0, 74.9, 75.0, 90.0, 10.0]));
    assert_eq!(reach, DrillScore { swings: 5, hits: 3, best_run: 2 });
    let climb = score(Scoring::Climb, &plain(&[10.0, 20.0, 30.0, 25.0, 26.0, 27.0, 28.0]));
    assert_eq!(climb.best_run, 4, "25, 26, 27, 28");
    let mut gate = plain(&[5.0; 12]);
    gate[10] = swing(-3.0, 0.0, 0.0, 1);
    let run = score(Scoring::Gate { goal: 10 }, &gate);
    assert_eq!(run, DrillScore { swings: 12, hits: 11, best_run: 10 });
    // The line that was drawn counts, not the usual distance.
    let drawn = |line| SwingOffsets { reach_line: Some(line), ..swing(80.0, 0.0, 0.0, 1) };
    let reach = Scoring::Reach { line_mm: 75.0 };
    assert_eq!(score(reach, &[drawn(79.0), drawn(95.0)]).hits, 1);
    // Turf that shows nothing was missed; a mat may hide it.
    let mut missed = SwingOffsets { unmarked: true, ..swing(0.0, 0.0, 0.0, 1) };
    missed.divot_start = None;
    assert_eq!(score(reach, &[missed.clone()]), DrillScore { swings: 1, hits: 0, best_run: 0 });
    missed.surface = Surface::Mat;
    assert_eq!(score(reach, &[missed]).swings, 0);
    gate[4].left_out = true;
    assert_eq!(score(Scoring::Gate { goal: 10 }, &gate).swings, 11);
    let tee = |order, low: f64| SwingOffsets {
        contact_order: Some(order),
        low_point: Some((Measured::new(low, vec![]), LowPointMethod::Arc)),
        ..SwingOffsets::without_numbers(SwingKind::Strike)
    };
    let swept = [
        tee(ContactOrder::NoGroundContact, -40.0),
        tee(ContactOrder::NoGroundContact, 10.0),
        tee(ContactOrder::TurfFirst, -40.0),
    ];
    assert_eq!(score(Scoring::NothingTouched, &swept).hits, 1);
    let club = |club: &str, low: f64| SwingOffsets {
        club: Some(Club(club.into())),
        ..tee(ContactOrder::BallFirst, low)
    };
    let drawn = [club("7-iron", 80.0), club("5-wood", 80.0), club("5-wood", 20.0)];
    assert_eq!(score(Scoring::OwnWindow, &drawn).hits, 2);
    let keys: std::collections::BTreeSet<_> = DRILLS.iter().map(|d| d.key).collect();
    assert_eq!(keys.len(), DRILLS.len(), "keys tell drills apart");
}

#[test]
fn the_sample_library_has_something_to_compare() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = Library::open(folder.path().join("sample.scuffline")).expect("opens");
    let footage = crate::support::sample("");
    let sample = build_sample(&mut library, &footage).expect("built").expect("the first time");
    assert!(build_sample(&mut library, &footage).expect("looked").is_none(), "once only");
    assert_eq!(sample.recordings.len(), 2, "the shipped recordings are found");
    let golfer = library.golfer(sample.golfer).expect("the golfer");
    assert!(golfer.invented && golfer.name.contains("invented"));
    assert_eq!(library.sessions(sample.golfer).expect("sessions").len(), 3);
    for &session in &sample.sessions {
        for swing in library.swings(Of::Session(session)).expect("swings") {
            assert!(swing.invented && swing.result_is_current, "{swing:?}");
        }
    }

    let blocks = library.blocks(sample.sessions[1]).expect("blocks");
    let (before, after) = (Of::Block(blocks[0].0), Of::Block(blocks[1].0));
    let c = compare(&library, sample.golfer, before, after).expect("a comparison");
    assert!(c.offset(Quantity::DivotStart).expect("both").is_shown(), "{c:?}");
    assert!(
        c.sentence(LengthUnit::Mm).starts_with("Divot start "),
        "{}",
        c.sentence(LengthUnit::Mm)
    );
    // The gap between practice without and strikes with a ball.
    let blocks = library.blocks(sample.sessions[0]).expect("blocks");
    let (bare, with) = (Of::Block(blocks[0].0), Of::Block(blocks[1].0));
    let (a, b) =
        (offsets_of(&library, bare).expect("swings"), offsets_of(&library, with).expect("swings"));
    let gap = compare(&library, sample.golfer, bare, with).expect("a comparison");
    assert!(gap.is_ball_gap(&a, &b));
    assert!(gap.offset(Quantity::DivotStart).expect("both").means.difference < 0.0);

    // One club's strikes only: practice swings, other clubs and swings left out do not count.
    let iron = Club("7-iron".into());
    let points = season(&library, sample.golfer, Quantity::DivotStart, Some(&iron));
    let points = points.expect("a season");
    for (point, &session) in points.iter().zip(&sample.sessions) {
        let counts = |s: &&SwingOffsets| {
            s.club.as_ref() == Some(&iron) && s.kind == SwingKind::Strike && !s.left_out
        };
        let swings = offsets_of(&library, Of::Session(session)).expect("swings");
        let starts = swings.iter().filter(counts).filter_map(|s| s.value(Quantity::DivotStart));
        assert_eq!((point.session, point.n), (session, starts.count()));
    }
    assert_eq!(points.len(), 3);
    let clubs = study_clubs(&library, sample.golfer, Span::Session(sample.sessions[0]));
    let clubs = clubs.expect("clubs").rows;
    let told: Vec<_> = clubs
        .iter()
        .map(|row| (row.club.as_ref().map_or("", |c| c.0.as_str()), row.kind, row.summary.n))
        .collect();
    // The longest club first; strikes and practice swings of one club stand apart.
    let names: Vec<_> = told.iter().map(|(club, kind, _)| (*club, *kind)).collect();
    let (struck, practised) = (SwingKind::Strike, SwingKind::Practice);
    assert_eq!(
        names,
        [("5-iron", struck), ("7-iron", struck), ("7-iron", practised), ("PW", struck)]
    );
    assert_eq!(told[2].2, 10);
    let drills = study_drills(&library, sample.golfer).expect("drills");
    let bare = drills.iter().find(|d| d.drill.key == "two-lines-bare").expect("the drill");
    let best = bare.best().expect("played");
    assert_eq!(best.block, blocks[0].0);
    assert!(best.score.hits <= 10);
}
