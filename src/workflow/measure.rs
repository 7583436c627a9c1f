//! The whole job on one page: a recording and what a person said of it become measured swings.

use std::path::Path;

use crate::domain::{
    Direction, FoundSwing, ImagePoint, Mark, Millimetres, PictureError, PictureSize, Pictures,
    Pixels, Seconds, Setup, SwingKind, SwingMarks, Warning,
};
use crate::geometry::{self, CalibrationRequest, GeometryError, GroundView};
use crate::video::{Recording, VideoError};
use crate::vision::{Click, ClickFinder, GivenStrike, Hints, Steadying, find_swings};

use super::check_setup::{SetupFault, check_setup};
use super::evaluate::{
    SURE_ENOUGH, SwingInput, ball_reference, evaluate, lens_of, place_of, scene_point, target_marks,
};
use super::progress::Progress;
use super::propose::{KnownBefore, propose_line, propose_references};
use super::slowed::find_slowed;
use super::torn::doubt_torn_balls;

/// A found swing nearer than this to a given one is the given one.
const SAME_SWING: Seconds = Seconds(0.5);

/// What the file says of itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RecordingFacts {
    /// How many frames are shown.
    pub frames: usize,
    /// From the first frame to the end of the last.
    pub duration: Seconds,
    /// The displayed picture.
    pub size: PictureSize,
    /// How many times slower it was taken to play than it was captured: as it says itself, or as
    /// its swings showed.
    pub slow_factor: f64,
}

/// A measured recording.
#[derive(Clone, Debug)]
pub struct Measurement {
    /// What the file says of itself.
    pub recording: RecordingFacts,
    /// The set-up, its points brought into the steadied picture.
    pub setup: Setup,
    /// What was found and given, swing by swing, in order of time.
    pub inputs: Vec<SwingInput>,
    /// What was measured, in the same order.
    pub swings: Vec<crate::domain::SwingResult>,
    /// What concerns the whole recording.
    pub warnings: Vec<Warning>,
    /// Picture to ground.
    pub view: Option<GroundView>,
}

/// Why a recording could not be measured.
#[derive(Debug, thiserror::Error)]
pub enum MeasureError {
    /// The recording can't be opened.
    #[error(transparent)]
    Video(#[from] VideoError),
    /// A picture can't be read, or the person stopped the work.
    #[error(transparent)]
    Picture(#[from] PictureError),
    /// The set-up does not fit the recording.
    #[error(transparent)]
    Setup(#[from] SetupFault),
    /// The references can't be used.
    #[error(transparent)]
    Geometry(#[from] GeometryError),
}

/// Opens a recording and measures its swings.
///
/// ```
/// use std::path::Path;
/// use scuffline::domain::Setup;
/// use scuffline::workflow::{Progress, measure_file};
///
/// let clip = Path::new("sample-frames/iron_turf_sheet.mp4");
/// let found = measure_file(clip, &Setup::default(), &mut Progress::silent())?;
/// assert_eq!(found.swings.len(), 1);
/// assert!(found.swings[0].divot_start.is_some());
/// # Ok::<(), scuffline::workflow::MeasureError>(())
/// ```
///
/// # Errors
/// The recording can't be read, the set-up does not fit it, or the work was stopped.
pub fn measure_file(
    path: &Path,
    setup: &Setup,
    progress: &mut Progress,
) -> Result<Measurement, MeasureError> {
    let mut recording = Recording::open(path)?;
    recording.hold_little();
    let clicks = clicks_of(&recording)?;
    let mut measurement = measure(&mut recording, clicks.as_deref(), setup, progress)?;
    measurement.warnings.extend(recording.warnings());
    Ok(measurement)
}

/// The clicks on a recording's sound track; `None` if it has none.
///
/// # Errors
/// [`VideoError::Cancelled`]; a sound that can't be read counts as none.
pub fn clicks_of(recording: &Recording) -> Result<Option<Vec<Click>>, VideoError> {
    let mut finder = ClickFinder::default();
    let heard = recording.for_each_sound(&mut |block| {
        finder.take(block);
        true
    });
    match heard {
        Err(VideoError::Cancelled) => Err(VideoError::Cancelled),
        // A sound that can't be read is none: the pictures tell the swings, too.
        // Nor is why: the words name the file.
        Err(_) => {
            tracing::warn!("a recording's sound can't be read");
            Ok(None)
        }
        Ok(heard) => Ok(heard.then(|| finder.finish())),
    }
}

/// Measures the swings of a recording that is already open, told the clicks of its sound.
///
/// # Errors
/// As [`measure_file`].
pub fn measure(
    pictures: &mut dyn Pictures,
    clicks: Option<&[Click]>,
    setup: &Setup,
    progress: &mut Progress,
) -> Result<Measurement, MeasureError> {
    let (mut timeline, size) = (pictures.timeline().clone(), pictures.size());
    check_setup(setup, &timeline, size)?;
    let (mut setup, moved) = steadied_setup(setup, pictures)?;
    let (found, guessed) = find(pictures, clicks, &setup, progress)?;
    timeline.slow_factor = guessed.unwrap_or(timeline.slow_factor);
    let mut inputs = pair(&setup, found);
    look_for_references(pictures, &mut setup, &inputs)?;
    doubt_torn_balls(pictures, &setup, &mut inputs)?;
    let mut evaluation = evaluate(size, &timeline, &setup, &inputs)?;
    let guessed = guessed.map(|factor| Warning::SlowMotionGuessed { factor });
    evaluation.warnings.splice(0..0, guessed);
    evaluation.warnings.extend(moved);
    let slow_factor = timeline.slow_factor;
    let (frames, duration) = (timeline.len(), timeline.duration());
    Ok(Measurement {
        recording: RecordingFacts { frames, duration, size, slow_factor },
        setup,
        inputs,
        swings: evaluation.swings,
        warnings: evaluation.warnings,
        view: evaluation.view,
    })
}

/// Proposes what of known size lies on the ground and the target line, where the set-up has none.
///
/// # Errors
/// A frame can't be read.
pub(super) fn look_for_references(
    pictures: &mut dyn Pictures,
    setup: &mut Setup,
    inputs: &[SwingInput],
) -> Result<(), PictureError> {
    let ball = inputs.iter().find_map(|input| ball_reference(setup, input));
    let about = inputs.iter().find_map(|input| scene_point(setup, input));
    let known = KnownBefore { ball: ball.as_ref(), about, surface: setup.surface };
    if setup.references.is_empty() && setup.proposed.is_empty() {
        setup.proposed = propose_references(pictures, &known)?;
    }
    if !setup.tells_target_line() {
        setup.proposed_line = propose_line(pictures, &known)?;
    }
    Ok(())
}

/// The set-up with every point that was read in a frame of its own brought into the steadied
/// picture, and a warning if one of those frames could not be steadied: its points are then where
/// the picture as a whole seems to have gone.
///
/// # Errors
/// A frame can't be read.
pub fn steadied_setup(
    setup: &Setup,
    pictures: &mut dyn Pictures,
) -> Result<(Setup, Option<Warning>), PictureError> {
    let mut setup = setup.clone();
    if !has_frames(&setup) {
        return Ok((setup, None));
    }
    let mut steadying = Steadying::new(pictures)?;
    let mut steady = |mark: &mut Mark| -> Result<(), PictureError> {
        if let Some(frame) = mark.frame {
            *mark = steadying.motion(pictures, frame)?.steadied(mark.point, frame);
        }
        Ok(())
    };
    let lines = setup.target_line.iter_mut().flatten();
    let points = lines.chain(&mut setup.origin).chain(&mut setup.reach_line);
    let own = points.chain(setup.straight_edges.iter_mut().flatten());
    own.chain(setup.swings.iter_mut().flat_map(SwingMarks::points_mut))
        .try_for_each(&mut steady)?;
    for reference in &mut setup.references {
        let frame = reference.frame.take();
        let mut register = 0.0f64;
        for point in reference.kind.points_mut() {
            let mut mark = Mark::read_in(*point, frame);
            steady(&mut mark)?;
            register = register.max(mark.register_sigma().0);
            *point = mark.point;
        }
        if register > 0.0 {
            let placed = geometry::placed_sigma(reference.point_sigma);
            reference.point_sigma = Some(Pixels(placed.hypot(register)));
        }
    }
    Ok((setup, steadying.warning()))
}

/// Whether any point was read in a frame of its own.
pub(super) fn has_frames(setup: &Setup) -> bool {
    let framed = |mark: &Mark| mark.frame.is_some();
    let mut swings = setup.swings.iter().flat_map(SwingMarks::points).map(|(.., mark)| mark);
    setup.references.iter().any(|r| r.frame.is_some())
        || setup.target_line.iter().flatten().any(framed)
        || setup.origin.iter().any(framed)
        || setup.straight_edges.iter().flatten().any(framed)
        || setup.reach_line.iter().any(framed)
        || swings.any(|mark| framed(&mark))
}

/// What the program proposes by itself, told what the set-up says; and how many times slower the
/// film was taken to play than it says, if that alone showed a swing.
fn find(
    pictures: &mut dyn Pictures,
    clicks: Option<&[Click]>,
    setup: &Setup,
    progress: &mut Progress,
) -> Result<(Vec<FoundSwing>, Option<f64>), PictureError> {
    let hints = hints(setup, pictures.size());
    let found = find_swings(pictures, clicks, &hints, &mut |step| progress.search(step))?;
    // Part of a slowed-down swing can pass for a practice swing, though a doubtful one, and its
    // ball leaves as any does.
    let doubtful = |swing: &FoundSwing| match swing.kind.value {
        SwingKind::Practice => swing.kind.confidence < SURE_ENOUGH,
        SwingKind::Strike => swing.warnings.contains(&Warning::ClubUnseen),
    };
    let slowed = match found.iter().all(doubtful) {
        true => find_slowed(pictures, &hints, progress)?,
        false => None,
    };
    Ok(slowed.map_or((found, None), |(factor, found)| (found, Some(factor))))
}

/// The first ball, or what stands in for one, that a person marked, and its height.
fn given_place(setup: &Setup) -> Option<(ImagePoint, Millimetres)> {
    let ball = setup.swings.iter().find_map(|swing| swing.ball).map(|mark| mark.point);
    let own = setup.swings.iter().find_map(|swing| swing.tee.or(swing.origin));
    place_of(setup, ball, own.or(setup.origin), setup.club.as_ref())
}

/// What the set-up tells the search. The references alone already say how large things are;
/// where they can't be used, measuring says so later and the search goes by the ball.
fn hints(setup: &Setup, size: PictureSize) -> Hints {
    let given = setup.swings.iter().map(|swing| GivenStrike {
        time: swing.strike_time,
        ball: swing.ball.map(|mark| mark.point),
        origin: swing.origin.map(|mark| mark.point),
    });
    let about = given_place(setup);
    let lens = lens_of(setup, size).ok().flatten();
    let view = geometry::calibrate(&CalibrationRequest {
        size,
        references: &setup.references,
        target_line: setup.target_line.map(target_marks),
        direction: setup.target.unwrap_or(Direction::Right),
        about,
        lens: lens.as_ref(),
    })
    .ok();
    let ground = about.map(|(point, _)| point).or_else(|| first_point(setup));
    Hints {
        given: given.collect(),
        only_given: setup.only_given,
        surface: setup.surface,
        scale: view.as_ref().and_then(|view| view.scale_at(ground?)),
        camera_distance: view.as_ref().map(|view| Millimetres(view.pose().distance.value)),
        target_line: view.as_ref().and_then(|view| target_in_picture(view, ground?)),
        origin: setup.origin.map(|mark| mark.point),
        is_speed_guessed: false,
    }
}

fn first_point(setup: &Setup) -> Option<ImagePoint> {
    setup.references.first()?.kind.clone().points_mut().first().map(|point| **point)
}

/// The way to the target in the picture at a ground point, as a unit vector.
fn target_in_picture(view: &GroundView, point: ImagePoint) -> Option<[f64; 2]> {
    let ground = view.ground_from_image(point)?;
    let ahead = view.image_from_ground(ground.moved(100.0, 0.0))?;
    let (dx, dy) = (ahead.x - point.x, ahead.y - point.y);
    let length = dx.hypot(dy);
    (length > 0.0).then(|| [dx / length, dy / length])
}

/// One input for each given swing, each with the found swing nearest to it; then, unless only
/// the given ones are wanted, the found ones that are no given one. In order of time.
fn pair(setup: &Setup, found: Vec<FoundSwing>) -> Vec<SwingInput> {
    let mut found: Vec<Option<FoundSwing>> = found.into_iter().map(Some).collect();
    let mut inputs: Vec<SwingInput> = Vec::new();
    // Those with a time choose first: a swing without one takes what is left.
    let (timed, untimed): (Vec<_>, Vec<_>) =
        setup.swings.iter().partition(|swing| swing.strike_time.is_some());
    for given in timed.into_iter().chain(untimed) {
        let gap = |f: &FoundSwing| {
            given
                .strike_time
                .map_or(f.strike_time.value.0 * 1e-9, |t| (f.strike_time.value - t).abs().0)
        };
        let nearest = found
            .iter_mut()
            .filter(|slot| slot.as_ref().is_some_and(|f| gap(f) <= SAME_SWING.0))
            .min_by(|a, b| {
                let gap = |slot: &Option<FoundSwing>| slot.as_ref().map_or(f64::MAX, &gap);
                gap(a).total_cmp(&gap(b))
            });
        let found = nearest.and_then(Option::take);
        inputs.push(SwingInput { found, given: given.clone(), ..SwingInput::default() });
    }
    if !setup.only_given {
        let given_times: Vec<f64> =
            setup.swings.iter().filter_map(|s| s.strike_time.map(|t| t.0)).collect();
        let apart = |f: &FoundSwing| {
            given_times.iter().all(|t| (f.strike_time.value.0 - t).abs() > SAME_SWING.0)
        };
        inputs.extend(
            found
                .into_iter()
                .flatten()
                .filter(apart)
                .map(|f| SwingInput { found: Some(f), ..SwingInput::default() }),
        );
    }
    inputs.sort_by(|a, b| time_of(a).total_cmp(&time_of(b)));
    inputs
}

fn time_of(input: &SwingInput) -> f64 {
    let found = input.found.as_ref().map(|f| f.strike_time.value.0);
    input.given.strike_time.map(|t| t.0).or(found).unwrap_or(f64::MAX)
}
