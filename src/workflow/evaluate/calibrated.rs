//! Picture to ground: by the set-up's references, its lens and its target line.

use crate::domain::{
    Club, Direction, ImagePoint, LensProfile, Mark, Millimetres, PictureSize, Pixels, Reference,
    ReferenceKind, Register, Setup,
};
use crate::geometry::{self, CalibrationRequest, GeometryError, GroundView, ImageMark, Origin};

use super::{SURE_ENOUGH, SwingInput};

/// The lens that the set-up knows: stored, or from straight edges.
pub(in crate::workflow) fn lens_of(
    setup: &Setup,
    size: PictureSize,
) -> Result<Option<LensProfile>, GeometryError> {
    match &setup.lens {
        Some(lens) => Ok(Some(lens.clone())),
        None if setup.straight_edges.is_empty() => Ok(None),
        None => lens_of_edges(setup, size).map(Some),
    }
}

/// The lens that a set-up's straight edges tell.
///
/// # Errors
/// No edge has three points, or they fit no lens.
pub fn lens_of_edges(setup: &Setup, size: PictureSize) -> Result<LensProfile, GeometryError> {
    let edges: Vec<Vec<ImagePoint>> = setup
        .straight_edges
        .iter()
        .map(|edge| edge.iter().map(|mark| mark.point).collect())
        .collect();
    let registers = setup.straight_edges.iter().map(|edge| register_along(edge).0);
    let sigma =
        registers.fold(geometry::CLICK_SIGMA, |sum, own| sum.max(geometry::CLICK_SIGMA.hypot(own)));
    geometry::fit_lens_from_edges(size, &edges, sigma)
}

/// What the register adds to how straight the marks along one edge lie: nothing where all were read
/// in one frame.
fn register_along(marks: &[Mark]) -> Pixels {
    let first = marks.first().and_then(|mark| mark.register);
    let between = marks.iter().map(|mark| Register::between(first, mark.register));
    between.fold(Pixels(0.0), |most, one| if one.0 > most.0 { one } else { most })
}

/// The marks of the target line. What they share by being read in one frame moves the line as a
/// whole and turns it by nothing.
pub(in crate::workflow) fn target_marks(line: [Mark; 2]) -> [ImageMark; 2] {
    let apart = register_along(&line);
    let each = Pixels(apart.0 / std::f64::consts::SQRT_2);
    line.map(|mark| ImageMark::click(mark.point).with_register(each))
}

/// So many reference objects are adjusted together. Each is also tried against all others: the
/// work grows with the fourth power of their number, and thirty would take minutes.
const MOST_REFERENCES: usize = 10;

/// The view that the set-up's references give; without any, the one that the balls give.
pub(super) fn calibrated(
    size: PictureSize,
    setup: &Setup,
    inputs: &[SwingInput],
    direction: Direction,
) -> Result<Option<GroundView>, GeometryError> {
    let mut references = references(setup, inputs);
    if references.is_empty() {
        return Ok(None);
    }
    if references.len() > MOST_REFERENCES {
        return Err(GeometryError::TooMany { found: references.len(), most: MOST_REFERENCES });
    }
    let about = inputs.iter().find_map(|input| scene_point(setup, input));
    let lens = lens_of(setup, size)?;
    let by = |references: &[Reference]| {
        geometry::calibrate(&CalibrationRequest {
            size,
            references,
            target_line: setup.target_line.map(target_marks),
            direction,
            about,
            lens: lens.as_ref(),
        })
    };
    let view = by(&references)?;
    // A sheet of another size, or with its sides exchanged, fits a camera of its own: the ball, which
    // is always as large, tells. Then it is a ruler among the others, and the two are named; so it
    // is beside a ball whose outline a person drew too wide.
    match inputs.iter().find(|input| is_another_size(setup, input, &view)) {
        Some(input) if !has_found_ball(setup) => {
            references.extend(ball_reference(setup, input));
            by(&references).map(Some)
        }
        _ => Ok(Some(view)),
    }
}

/// Whether the ball that was found is a ruler already.
fn has_found_ball(setup: &Setup) -> bool {
    let is_found = |r: &Reference| matches!(r.kind, ReferenceKind::Ball { outline: None });
    setup.references.is_empty() || setup.references.iter().any(is_found)
}

/// Whether the ball that was found, surely, is not as large as the view has it.
fn is_another_size(setup: &Setup, input: &SwingInput, view: &GroundView) -> bool {
    let sure = input.found_ball().filter(|ball| ball.confidence >= SURE_ENOUGH);
    let on_tee = setup.is_on_tee(input.club(setup));
    sure.and_then(|ball| geometry::ball_fits(view, &ball.value, on_tee)) == Some(false)
}

fn references(setup: &Setup, inputs: &[SwingInput]) -> Vec<Reference> {
    let balls = || inputs.iter().filter_map(|input| ball_reference(setup, input));
    let mut references = Vec::new();
    for reference in &setup.references {
        match reference.kind {
            ReferenceKind::Ball { outline: None } => {
                references.extend(balls().take(1));
            }
            // Marked by hand it has no height of its own yet.
            ReferenceKind::Ball { .. } if reference.height.0 == 0.0 => {
                let club =
                    inputs.iter().find_map(|input| input.club(setup)).or(setup.club.as_ref());
                let height = Millimetres(geometry::ball_rest(setup.is_on_tee(club)).0);
                references.push(Reference { height, ..reference.clone() });
            }
            _ => references.push(reference.clone()),
        }
    }
    if setup.references.is_empty() {
        references.extend(balls().take(1));
    }
    references
}

/// The ball as the ruler, as it was found.
pub(in crate::workflow) fn ball_reference(setup: &Setup, input: &SwingInput) -> Option<Reference> {
    let outline = input.found.as_ref()?.ball?.value;
    // Of the centre and the width, the width decides the scale.
    let point_sigma = Some(Pixels(outline.diameter_sigma.0 / 2f64.sqrt()));
    Some(Reference {
        kind: ReferenceKind::Ball { outline: Some((outline.centre, outline.diameter)) },
        height: Millimetres(geometry::ball_rest(setup.is_on_tee(input.club(setup))).0),
        along_target: false,
        frame: None,
        point_sigma,
    })
}

/// Where a swing happens: the ball or what stands in for it, and how high above the ground.
pub(in crate::workflow) fn scene_point(
    setup: &Setup,
    input: &SwingInput,
) -> Option<(ImagePoint, Millimetres)> {
    let ground = input.given.tee.or_else(|| input.stand_in(setup));
    place_of(setup, input.ball_point(), ground, input.club(setup))
}

/// The place of a ball's centre, or else of a point on the ground, and how high above it.
pub(in crate::workflow) fn place_of(
    setup: &Setup,
    ball: Option<ImagePoint>,
    ground: Option<Mark>,
    club: Option<&Club>,
) -> Option<(ImagePoint, Millimetres)> {
    let on_tee = setup.is_on_tee(club);
    let ball = ball.map(|point| Origin::Ball { centre: ImageMark::click(point), on_tee });
    let ground = ground.map(|mark| Origin::Ground(ImageMark::click(mark.point)));
    Some(ball.or(ground)?.place())
}
