//! From marks to millimetres: what is known of each swing, found or given, is measured.
//!
//! Reads no pictures, so it is quick enough to run after every edit.

mod calibrated;
mod input;
mod review;
mod scene;

use super::check_setup::outside_warnings;
use crate::domain::{
    Club, Direction, FoundSwing, PictureSize, Setup, SwingKind, SwingMarks, SwingResult, Timeline,
    Warning, WorldPoint,
};
use crate::geometry::{GeometryError, GroundView};
pub use calibrated::lens_of_edges;
pub(super) use calibrated::{ball_reference, lens_of, place_of, scene_point, target_marks};
use scene::Scene;

/// Below this confidence a proposal is put before a person.
pub const SURE_ENOUGH: f64 = 0.8;

/// What is known of one swing before measuring. Points lie in the steadied picture.
#[derive(Clone, Debug, Default)]
pub struct SwingInput {
    /// What the program found.
    pub found: Option<FoundSwing>,
    /// What a person placed; it outranks what was found.
    pub given: SwingMarks,
    /// The kind a person said it was.
    pub kind: Option<SwingKind>,
    /// This swing's own club, where it is not the set-up's.
    pub club: Option<Club>,
}

/// The measured swings of one recording.
#[derive(Clone, Debug, Default)]
pub struct Evaluation {
    /// One for each input, in the same order.
    pub swings: Vec<SwingResult>,
    /// What concerns all of them.
    pub warnings: Vec<Warning>,
    /// Picture to ground, where something of known size was there.
    pub view: Option<GroundView>,
    /// The ground of each swing with its zero at the ball, and the club head's path over it.
    pub grounds: Vec<Option<SwingGround>>,
}

/// The ground as one swing sees it, for drawing.
#[derive(Clone, Debug)]
pub struct SwingGround {
    /// Between picture and ground; zero lies below the ball or at what stands in for it.
    pub view: GroundView,
    /// The club head's path near the ground; empty where no arc was fitted.
    pub path: Vec<WorldPoint>,
}

/// Measures every swing.
///
/// `setup`: its points lie in the steadied picture. Without any reference the balls are the
/// ruler.
///
/// # Errors
/// The references or the target line can't be used.
pub fn evaluate(
    size: PictureSize,
    timeline: &Timeline,
    setup: &Setup,
    inputs: &[SwingInput],
) -> Result<Evaluation, GeometryError> {
    let mut warnings = Vec::new();
    let target = setup.target.or_else(|| heading(inputs));
    if target.is_none() && !inputs.is_empty() {
        warnings.push(Warning::TargetUnknown);
    }
    if setup.surface.is_none() && inputs.iter().any(|input| input.found_mark().is_some()) {
        warnings.push(Warning::SurfaceAssumed);
    }
    let view = calibrated::calibrated(size, setup, inputs, target.unwrap_or(Direction::Right))?;
    match &view {
        Some(view) => warnings.extend(view.warnings.iter().cloned()),
        None => warnings.push(Warning::NoReference),
    }
    // A proposal is never measured by: a wrong size would pass unseen.
    warnings.extend(setup.proposed.iter().map(|proposed| Warning::ReferenceProposed {
        what: proposed.reference.kind.likeness(),
        confidence: proposed.confidence,
    }));
    warnings.extend(
        setup.asked_line().map(|line| Warning::LineProposed { confidence: line.confidence }),
    );
    warnings.extend(outside_warnings(setup, size));
    let scene = Scene {
        timeline,
        setup,
        target,
        has_scale: view.is_some(),
        view: view.as_ref().filter(|_| target.is_some()),
    };
    let (swings, grounds) = inputs.iter().map(|input| scene.measure(input)).unzip();
    Ok(Evaluation { swings, warnings, view, grounds })
}

/// Which way the swings went; what is more surely a swing counts more, and a ball struck more than
/// a club swung back and forth.
fn heading(inputs: &[SwingInput]) -> Option<Direction> {
    let of = |input: &SwingInput| {
        let found = input.found.as_ref()?;
        let struck = if found.kind.value == SwingKind::Strike { 2.0 } else { 1.0 };
        Some(found.heading? * struck * found.kind.confidence)
    };
    let sum: f64 = inputs.iter().filter_map(of).sum();
    match sum {
        s if s > 0.0 => Some(Direction::Right),
        s if s < 0.0 => Some(Direction::Left),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::super::state::state;
    use super::*;
    use crate::domain::{
        BallOutline, ContactOrder, Found, FrameEntry, FrameIndex, GroundAnswer, GroundMark,
        ImagePoint, LowPointMethod, Mark, Measured, Millimetres, Pixels, Pts, Reference,
        ReferenceKind, Register, Reviewable, Seconds, Source, TimeBase,
    };
    use crate::geometry::{self, ImageMark, OffsetRequest, Origin};

    fn timeline() -> Timeline {
        Timeline {
            time_base: TimeBase { numerator: 1, denominator: 120 },
            frames: (0..312).map(|i| FrameEntry { pts: Pts(i), key: i % 60 == 0 }).collect(),
            slow_factor: 1.0,
        }
    }

    const SIZE: PictureSize = PictureSize { width: 1280, height: 720 };

    fn sheet() -> Reference {
        let corners =
            [[835.622, 644.248], [986.457, 638.278], [959.208, 605.861], [817.198, 611.197]];
        Reference {
            kind: ReferenceKind::Sheet {
                size: [Millimetres(297.0), Millimetres(210.0)],
                corners: corners.map(ImagePoint::from),
            },
            height: Millimetres(6.0),
            along_target: false,
            frame: None,
            point_sigma: None,
        }
    }

    fn marks() -> SwingMarks {
        let mark = |x, y| Some(Mark::steadied(ImagePoint::new(x, y)));
        SwingMarks {
            strike_time: Some(Seconds(1.5513)),
            ball: mark(660.19, 591.996),
            divot_start: mark(651.645, 601.678),
            divot_end: mark(739.413, 599.661),
            ..SwingMarks::default()
        }
    }

    #[test]
    fn given_marks_are_measured_and_not_questioned() {
        let setup =
            Setup { target: Some(Direction::Right), references: vec![sheet()], ..Setup::default() };
        let input = SwingInput { given: marks(), ..SwingInput::default() };
        let evaluation = evaluate(SIZE, &timeline(), &setup, &[input]).expect("usable marks");
        let swing = &evaluation.swings[0];
        assert_eq!(swing.kind, SwingKind::Strike);
        assert_eq!(swing.strike_frame, Some(FrameIndex(186)));
        let start = swing.divot_start_offset.as_ref().expect("measured");
        assert!((start.value - -18.27).abs() < 4.0, "{}", start.value);
        assert!(state(start).interval.contains(-18.27));
        assert_eq!(swing.ground_mark, Some(GroundMark::Divot));
        let (_, method) = swing.low_point.as_ref().expect("from the mark");
        assert_eq!(*method, LowPointMethod::Mark);
        for given in [Reviewable::Strike, Reviewable::Ball, Reviewable::DivotStart] {
            assert!(!swing.needs_review.contains(&given));
        }
    }

    #[test]
    fn what_a_person_says_of_the_ground_outranks_what_was_found_and_placed() {
        let setup =
            Setup { target: Some(Direction::Right), references: vec![sheet()], ..Setup::default() };
        let told = |ground| {
            let given = SwingMarks { ground, ..marks() };
            let input = SwingInput { given, ..SwingInput::default() };
            evaluate(SIZE, &timeline(), &setup, &[input]).expect("usable marks").swings.remove(0)
        };
        let ends = [Reviewable::DivotStart, Reviewable::DivotEnd, Reviewable::ContactOrder];
        for (answer, mark, order) in [
            (GroundAnswer::None, Some(GroundMark::None), Some(ContactOrder::NoGroundContact)),
            (GroundAnswer::Unseen, None, None),
        ] {
            let swing = told(Some(answer));
            assert_eq!((swing.ground_mark, swing.contact_order), (mark, order));
            assert_eq!(swing.divot_start, None);
            assert!(swing.divot_start_offset.is_none() && swing.low_point.is_none());
            assert!(!ends.iter().any(|what| swing.needs_review.contains(what)), "{answer:?}");
        }
        let swing = told(Some(GroundAnswer::Smear));
        assert_eq!(swing.ground_mark, Some(GroundMark::Smear));
        assert_eq!(swing.divot_start_offset, told(None).divot_start_offset);
    }

    #[test]
    fn a_mark_that_runs_backwards_is_questioned() {
        let setup =
            Setup { target: Some(Direction::Left), references: vec![sheet()], ..Setup::default() };
        let input = SwingInput { given: marks(), ..SwingInput::default() };
        let evaluation = evaluate(SIZE, &timeline(), &setup, &[input]).expect("usable marks");
        let swing = &evaluation.swings[0];
        assert!(swing.warnings.contains(&Warning::MarkReversed));
        assert!(swing.low_point.is_none() && swing.divot_start_offset.is_some());
        for end in [Reviewable::DivotStart, Reviewable::DivotEnd] {
            assert!(swing.needs_review.contains(&end));
        }
    }

    #[test]
    fn the_ball_lies_behind_a_heel_that_is_ahead_of_it() {
        let setup =
            Setup { target: Some(Direction::Right), references: vec![sheet()], ..Setup::default() };
        // A heel where the divot ends: 167.6 mm ahead of the ball in truth.
        let heels = [marks().divot_end, None];
        let input = SwingInput { given: SwingMarks { heels, ..marks() }, ..SwingInput::default() };
        let evaluation = evaluate(SIZE, &timeline(), &setup, &[input]).expect("usable marks");
        let swing = &evaluation.swings[0];
        let (end, ball) = (swing.divot_end_offset.as_ref(), swing.ball_position.as_ref());
        let (end, ball) = (end.expect("an end"), ball.expect("a ball position"));
        // Nothing holds a heel beside the ball, so of that nothing is used.
        let [origin, mark] = [marks().ball, marks().divot_end]
            .map(|mark| ImageMark::click(mark.expect("marked").point));
        let blind = geometry::measure_offset(&OffsetRequest {
            view: evaluation.view.as_ref().expect("calibrated"),
            mark: &mark,
            origin: &Origin::Ball { centre: origin, on_tee: false },
            struck: false,
            steadying: Pixels(0.0),
        });
        assert_eq!(ball.value, -blind.expect("on the ground").value);
        assert!((ball.value + end.value).abs() < 1.0, "{} {}", ball.value, end.value);
        assert!(state(ball).interval.contains(-167.6), "{}", ball.value);
    }

    #[test]
    fn without_a_side_there_are_no_signs() {
        let setup = Setup { references: vec![sheet()], ..Setup::default() };
        let input = SwingInput { given: marks(), ..SwingInput::default() };
        let evaluation = evaluate(SIZE, &timeline(), &setup, &[input]).expect("usable marks");
        assert!(evaluation.warnings.contains(&Warning::TargetUnknown));
        assert!(evaluation.swings[0].divot_start_offset.is_none());
        assert!(evaluation.swings[0].divot_start.is_some());
        // Millimetres that are wanting for that alone are asked for.
        assert!(evaluation.swings[0].needs_review.contains(&Reviewable::ContactOrder));
    }

    /// A swing that the program found, away from the target or toward it.
    fn found(heading: f64, kind: SwingKind, confidence: f64) -> FoundSwing {
        FoundSwing {
            kind: Found { value: kind, sigma: 0.0, confidence },
            strike_time: Found { value: Seconds(1.5513), sigma: 0.001, confidence },
            strike_frame: FrameIndex(186),
            heading: Some(heading),
            ball: None,
            ground_mark: None,
            divot_start: None,
            divot_end: None,
            mark_line: None,
            club_head: Vec::new(),
            compared: None,
            steadying_sigma: Pixels(0.0),
            warnings: Vec::new(),
        }
    }

    #[test]
    fn a_low_point_by_a_mark_that_may_be_none_is_questioned() {
        let setup =
            Setup { target: Some(Direction::Right), references: vec![sheet()], ..Setup::default() };
        let found_end = |mark: Option<Mark>| {
            mark.map(|m| Found { value: m.point, sigma: 1.0, confidence: 0.95 })
        };
        let asked = |confidence| {
            let ground_mark = Some(Found { value: GroundMark::Scuff, sigma: 0.0, confidence });
            let found = FoundSwing {
                ground_mark,
                divot_start: found_end(marks().divot_start),
                divot_end: found_end(marks().divot_end),
                ..found(1.0, SwingKind::Strike, 0.97)
            };
            let given = SwingMarks { divot_start: None, divot_end: None, ..marks() };
            let input = SwingInput { found: Some(found), given, ..SwingInput::default() };
            let evaluation = evaluate(SIZE, &timeline(), &setup, &[input]).expect("usable marks");
            let swing = &evaluation.swings[0];
            assert_eq!(swing.low_point.as_ref().map(|l| l.1), Some(LowPointMethod::Mark));
            swing.needs_review.contains(&Reviewable::LowPoint)
        };
        assert!(asked(0.57) && !asked(0.97));
    }

    #[test]
    fn where_a_ball_may_have_been_missed_nothing_is_counted_from_another_point_unasked() {
        let origin = Some(Mark::steadied(ImagePoint::new(640.0, 592.0)));
        let setup = Setup {
            target: Some(Direction::Right),
            references: vec![sheet()],
            origin,
            ..Setup::default()
        };
        let asked = |confidence, own: Option<Mark>, kind| {
            let found = Some(found(1.0, SwingKind::Practice, confidence));
            let given = SwingMarks { ball: None, origin: own, ..marks() };
            let input = SwingInput { found, given, kind, ..SwingInput::default() };
            let evaluation = evaluate(SIZE, &timeline(), &setup, &[input]).expect("usable marks");
            let swing = &evaluation.swings[0];
            assert!(swing.divot_start_offset.is_some() && swing.divot_end_offset.is_some());
            let ends = [Reviewable::DivotStart, Reviewable::DivotEnd];
            ends.map(|end| swing.needs_review.contains(&end))
        };
        assert_eq!(asked(0.6, None, None), [true; 2]);
        assert_eq!(asked(0.95, None, None), [false; 2]);
        // A person said from where it counts, or what it was.
        assert_eq!(asked(0.6, origin, None), [false; 2]);
        assert_eq!(asked(0.6, None, Some(SwingKind::Practice)), [false; 2]);
    }

    #[test]
    fn a_swing_away_from_the_target_is_questioned() {
        let setup =
            Setup { target: Some(Direction::Left), references: vec![sheet()], ..Setup::default() };
        let found = Some(found(1.0, SwingKind::Strike, 0.97));
        let input = SwingInput { found, given: marks(), ..SwingInput::default() };
        let evaluation = evaluate(SIZE, &timeline(), &setup, &[input]).expect("usable marks");
        let swing = &evaluation.swings[0];
        let went = Warning::TargetOtherSide { went: Direction::Right };
        assert!(swing.warnings.contains(&went), "{:?}", swing.warnings);
        for what in [Reviewable::LowPoint, Reviewable::ContactOrder, Reviewable::DivotStart] {
            assert!(swing.needs_review.contains(&what), "{what:?}");
        }
    }

    #[test]
    fn a_strike_outweighs_a_club_swung_back() {
        let setup = Setup { references: vec![sheet()], ..Setup::default() };
        let strike = SwingInput {
            found: Some(found(1.0, SwingKind::Strike, 0.95)),
            given: marks(),
            ..SwingInput::default()
        };
        let back = SwingInput {
            found: Some(found(-1.0, SwingKind::Practice, 0.95)),
            ..SwingInput::default()
        };
        let evaluation = evaluate(SIZE, &timeline(), &setup, &[strike, back]).expect("usable");
        assert!(!evaluation.warnings.contains(&Warning::TargetUnknown));
        assert!(evaluation.swings[0].divot_start_offset.is_some());
        let went = Warning::TargetOtherSide { went: Direction::Left };
        assert!(evaluation.swings[1].warnings.contains(&went));
    }

    #[test]
    fn a_ball_marked_beside_the_ball_is_questioned() {
        let setup =
            Setup { target: Some(Direction::Right), references: vec![sheet()], ..Setup::default() };
        let told = |off: f64| {
            let mut found = found(1.0, SwingKind::Strike, 0.97);
            let centre = marks().ball.expect("marked").point.moved(off, 0.0);
            let [diameter, diameter_sigma] = [Pixels(20.2), Pixels(0.5)];
            let value = BallOutline { centre, diameter, diameter_sigma };
            found.ball = Some(Found { value, sigma: 0.4, confidence: 0.95 });
            let input = SwingInput { found: Some(found), given: marks(), ..SwingInput::default() };
            let evaluation = evaluate(SIZE, &timeline(), &setup, &[input]).expect("usable marks");
            evaluation.swings[0].warnings.iter().any(|w| w.code() == "ball-mark-apart")
        };
        // Within a click's doubt; a slip; another ball, which a person chose.
        assert!(!told(1.0) && told(6.0) && !told(60.0));
    }

    #[test]
    fn without_a_ruler_there_are_no_millimetres() {
        let setup = Setup { target: Some(Direction::Right), ..Setup::default() };
        let input = SwingInput { given: marks(), ..SwingInput::default() };
        let evaluation = evaluate(SIZE, &timeline(), &setup, &[input]).expect("usable marks");
        assert!(evaluation.warnings.contains(&Warning::NoReference));
        assert!(evaluation.swings[0].divot_start_offset.is_none());
    }

    #[test]
    fn a_tees_foot_is_zero_whatever_its_height() {
        let setup =
            Setup { target: Some(Direction::Right), references: vec![sheet()], ..Setup::default() };
        let start_of = |given: SwingMarks, on_tee| {
            let input = SwingInput { given, ..SwingInput::default() };
            let setup = Setup { on_tee, ..setup.clone() };
            let evaluation = evaluate(SIZE, &timeline(), &setup, &[input]).expect("usable marks");
            evaluation.swings[0].divot_start_offset.clone().expect("a ball or a tee")
        };
        // The ground straight below the ball, in the truth of the recording.
        let tee = Some(Mark::steadied(ImagePoint::new(660.3, 601.7)));
        let by_ball = start_of(marks(), Some(false));
        let by_tee = start_of(SwingMarks { tee, ..marks() }, None);
        assert!((by_ball.value - by_tee.value).abs() < 3.0, "{by_ball:?} {by_tee:?}");
        // A mark for the tee makes up for a height nobody knows.
        let unknown = start_of(marks(), Some(true));
        assert!(by_tee.standard_uncertainty() < unknown.standard_uncertainty());
        // And it does without a ball: a swing at a bare tee.
        let bare = start_of(SwingMarks { tee, ball: None, ..marks() }, None);
        assert!((bare.value - by_tee.value).abs() < 0.1, "{} {}", bare.value, by_tee.value);
    }

    #[test]
    fn a_stand_in_never_applies_to_a_strike() {
        let setup = Setup {
            target: Some(Direction::Right),
            references: vec![sheet()],
            origin: Some(Mark::steadied(ImagePoint::new(660.3, 601.7))),
            ..Setup::default()
        };
        let given = SwingMarks { ball: None, ..marks() };
        let offset_of = |kind| {
            let input =
                SwingInput { given: given.clone(), kind: Some(kind), ..SwingInput::default() };
            let evaluation = evaluate(SIZE, &timeline(), &setup, &[input]).expect("usable marks");
            evaluation.swings[0].divot_start_offset.clone()
        };
        assert!(offset_of(SwingKind::Strike).is_none());
        let practice = offset_of(SwingKind::Practice).expect("measured from the stand-in");
        assert!((practice.value - -18.27).abs() < 4.0, "{}", practice.value);
    }

    #[test]
    fn what_the_register_leaves_open_is_in_the_budget() {
        let setup =
            Setup { target: Some(Direction::Right), references: vec![sheet()], ..Setup::default() };
        // The mark's ends are read in one frame, the ball in the same one or in another.
        let start_of = |ball_frame: usize| {
            let read_in = |mark: Option<Mark>, frame: usize| {
                let register = Register { frame: FrameIndex(frame), sigma: Pixels(0.5f64.sqrt()) };
                mark.map(|mark| Mark { register: Some(register), ..mark })
            };
            let mut given = marks();
            given.ball = read_in(given.ball, ball_frame);
            given.divot_start = read_in(given.divot_start, 300);
            let input = SwingInput { given, ..SwingInput::default() };
            let evaluation = evaluate(SIZE, &timeline(), &setup, &[input]).expect("usable marks");
            evaluation.swings[0].divot_start_offset.clone().expect("a start")
        };
        let part = |start: &Measured| {
            let of = start.budget.iter().find(|c| c.source == Source::Steadying);
            of.map_or(0.0, |c| c.standard.abs())
        };
        let (one_frame, two_frames) = (start_of(300), start_of(20));
        assert_eq!(part(&one_frame), 0.0);
        // One pixel along the target line, at some 2 to 4 mm a pixel.
        assert!((1.5..6.0).contains(&part(&two_frames)), "{}", part(&two_frames));
        assert!(two_frames.standard_uncertainty() > one_frame.standard_uncertainty());
    }
}
