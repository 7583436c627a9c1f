//! From marks to millimetres: what is known of each swing, found or given, is measured.
//!
//! Reads no pictures, so it is quick enough to run after every edit.

use crate::domain::{
    BallOutline, Club, ClubHeadSighting, Direction, Found, FoundSwing, FrameIndex, GroundMark,
    ImagePoint, LengthUnit, LensProfile, Mark, Measured, Millimetres, MillimetresPerPixel,
    PictureSize, Pixels, Reference, ReferenceKind, Register, Reviewable, Seconds, Setup, Surface,
    SwingKind, SwingMarks, SwingResult, Timeline, Warning, WorldPoint,
};
use crate::geometry::{
    self, ArcFit, ArcRequest, CalibrationRequest, Contacts, GeometryError, GroundView, ImageMark,
    MiddleLine, OffsetRequest, Origin, Pose,
};

use super::state::length_words;

/// Below this confidence a proposal is put before a person.
pub const SURE_ENOUGH: f64 = 0.8;

/// With frames farther apart the club head is seen fewer than four times within the stretch that
/// an arc is fitted to (0.84 rad at some 23 rad/s; common practice, no source for the speed).
const ARC_SPACING_S: f64 = 0.0101;

/// How far a tee's top may stand beside its foot along the target line, mm, standard: three
/// degrees of lean over 35 mm of height (common practice, no source).
const TEE_LEAN: f64 = 2.0;

/// How well a person places the middle of a blurred leading edge, along and across its way,
/// standard: four and three times a click on something that stands still (assumed, no source).
const CLUB_HEAD_CLICK: [Pixels; 2] = [Pixels(2.0), Pixels(1.5)];

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

/// Where the references put the camera.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CameraFacts {
    /// Over the ground plane and against the target line, each with its standard uncertainty.
    pub pose: Pose,
    /// Along the target line at the ball.
    pub scale: MillimetresPerPixel,
    /// Its standard uncertainty as a part of it.
    pub scale_doubt: f64,
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
    /// Where the camera stands.
    pub camera: Option<CameraFacts>,
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
    let view = calibrated(size, setup, inputs, target.unwrap_or(Direction::Right))?;
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
    let scene = Scene { timeline, setup, view: view.as_ref().filter(|_| target.is_some()) };
    let (swings, grounds) = inputs.iter().map(|input| scene.measure(input)).unzip();
    let camera = view.as_ref().and_then(|view| camera_facts(view, inputs));
    Ok(Evaluation { swings, warnings, view, grounds, camera })
}

fn heading(inputs: &[SwingInput]) -> Option<Direction> {
    let sum: f64 = inputs.iter().filter_map(|i| i.found.as_ref()?.heading).sum();
    match sum {
        s if s > 0.0 => Some(Direction::Right),
        s if s < 0.0 => Some(Direction::Left),
        _ => None,
    }
}

/// "an A4 sheet", "a stick of 1219 mm", as in "scale from …".
pub fn reference_words(reference: &Reference, unit: LengthUnit) -> String {
    reference.kind.phrase(&|mm| lengths_words(mm, unit))
}

/// "A4 sheet", "stick of 1219 mm", as in a list.
pub fn reference_title(reference: &Reference, unit: LengthUnit) -> String {
    reference.kind.title(&|mm| lengths_words(mm, unit))
}

/// "500 x 400 mm".
fn lengths_words(mm: &[f64], unit: LengthUnit) -> String {
    let all: Vec<String> = mm.iter().map(|mm| length_words(*mm, unit)).collect();
    format!("{} {}", all.join(" x "), unit.short_name())
}

/// The lens that the set-up knows: stored, or from straight edges.
pub(super) fn lens_of(
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
pub(super) fn target_marks(line: [Mark; 2]) -> [ImageMark; 2] {
    let apart = register_along(&line);
    let each = Pixels(apart.0 / std::f64::consts::SQRT_2);
    line.map(|mark| ImageMark::click(mark.point).with_register(each))
}

/// So many reference objects are adjusted together. Each is also tried against all others: the
/// work grows with the fourth power of their number, and thirty would take minutes.
const MOST_REFERENCES: usize = 10;

/// The view that the set-up's references give; without any, the one that the balls give.
fn calibrated(
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
    // is always as large, tells. Then it is a ruler among the others, and the two are named.
    match inputs.iter().find(|input| is_another_size(setup, input, &view)) {
        Some(input) if !has_ball(&references) => {
            references.extend(ball_reference(setup, input));
            by(&references).map(Some)
        }
        _ => Ok(Some(view)),
    }
}

fn has_ball(references: &[Reference]) -> bool {
    references.iter().any(|reference| matches!(reference.kind, ReferenceKind::Ball { .. }))
}

/// Whether the ball that was found, surely, is not as large as the view has it.
fn is_another_size(setup: &Setup, input: &SwingInput, view: &GroundView) -> bool {
    let sure = input.found_ball().filter(|ball| ball.confidence >= SURE_ENOUGH);
    let on_tee = is_on_tee(setup, input.club(setup));
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
                let height = Millimetres(geometry::ball_rest(is_on_tee(setup, club)).0);
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
pub(super) fn ball_reference(setup: &Setup, input: &SwingInput) -> Option<Reference> {
    let outline = input.found.as_ref()?.ball?.value;
    // Of the centre and the width, the width decides the scale.
    let point_sigma = Some(Pixels(outline.diameter_sigma.0 / 2f64.sqrt()));
    Some(Reference {
        kind: ReferenceKind::Ball { outline: Some((outline.centre, outline.diameter)) },
        height: Millimetres(geometry::ball_rest(is_on_tee(setup, input.club(setup))).0),
        along_target: false,
        frame: None,
        point_sigma,
    })
}

/// Where a swing happens: the ball or what stands in for it, and how high above the ground.
pub(super) fn scene_point(setup: &Setup, input: &SwingInput) -> Option<(ImagePoint, Millimetres)> {
    let ground = input.given.tee.or_else(|| input.stand_in(setup));
    place_of(setup, input.ball_point(), ground, input.club(setup))
}

/// The place of a ball's centre, or else of a point on the ground, and how high above it.
pub(super) fn place_of(
    setup: &Setup,
    ball: Option<ImagePoint>,
    ground: Option<Mark>,
    club: Option<&Club>,
) -> Option<(ImagePoint, Millimetres)> {
    let on_tee = is_on_tee(setup, club);
    let ball = ball.map(|point| Origin::Ball { centre: ImageMark::click(point), on_tee });
    let ground = ground.map(|mark| Origin::Ground(ImageMark::click(mark.point)));
    Some(ball.or(ground)?.place())
}

/// Common practice, no source: a driver is played off a tee.
fn is_on_tee(setup: &Setup, club: Option<&Club>) -> bool {
    setup.on_tee.unwrap_or_else(|| club.is_some_and(Club::is_driver))
}

fn camera_facts(view: &GroundView, inputs: &[SwingInput]) -> Option<CameraFacts> {
    let about = inputs.iter().find_map(SwingInput::ball_point).unwrap_or_else(|| {
        let size = view.size();
        ImagePoint::new(size.width as f64 / 2.0, size.height as f64 * 0.8)
    });
    Some(CameraFacts {
        pose: view.pose(),
        scale: view.scale_at(about)?,
        scale_doubt: view.scale_uncertainty_at(about)?,
    })
}

impl SwingInput {
    fn found_mark(&self) -> Option<Found<GroundMark>> {
        self.found.as_ref()?.ground_mark
    }

    fn found_ball(&self) -> Option<Found<BallOutline>> {
        self.found.as_ref()?.ball
    }

    /// The ball's centre, given or found.
    pub fn ball_point(&self) -> Option<ImagePoint> {
        let given = self.given.ball.map(|mark| mark.point);
        given.or_else(|| self.found_ball().map(|ball| ball.value.centre))
    }

    fn club<'a>(&'a self, setup: &'a Setup) -> Option<&'a Club> {
        self.club.as_ref().or(setup.club.as_ref())
    }

    /// The point that stands in for the ball in a practice swing.
    fn stand_in(&self, setup: &Setup) -> Option<Mark> {
        self.given.origin.or(setup.origin)
    }

    fn kind(&self) -> SwingKind {
        let found = self.found.as_ref().map(|found| found.kind.value);
        let guess = if self.given.ball.is_some() { SwingKind::Strike } else { SwingKind::Practice };
        self.kind.or(found).unwrap_or(guess)
    }

    fn strike_time(&self) -> Option<Seconds> {
        self.given.strike_time.or_else(|| self.found.as_ref().map(|f| f.strike_time.value))
    }

    fn start(&self) -> Option<Placed> {
        if self.given.has_no_mark() {
            return None;
        }
        placed(self.given.divot_start, self.found.as_ref().and_then(|f| f.divot_start))
    }

    /// How well what was read of the ball lies on what was read of the mark: of the ground before
    /// and after on each other, or between the frames of a person's marks.
    fn steadying(&self, one: &Placed, other: &Placed) -> Pixels {
        let found = self.found.as_ref().map_or(0.0, |found| found.steadying_sigma.0);
        match (one.read, other.read) {
            (Read::Found, Read::Found) => Pixels(found),
            (Read::Given(one), Read::Given(other)) => Register::between(one, other),
            (Read::Given(given), Read::Found) | (Read::Found, Read::Given(given)) => {
                Pixels(found.hypot(given.map_or(0.0, |register| register.sigma.0)))
            }
        }
    }

    /// Two places that the club's path passes over: start and end where a person put both on the
    /// mark's middle, else its middle line as it was found.
    fn middle_line(&self) -> Option<MiddleLine> {
        if self.given.has_no_mark() {
            return None;
        }
        if let (Some(start), Some(end)) = (self.given.divot_start, self.given.divot_end) {
            return Some(MiddleLine::Clicked([start, end].map(|mark| ImageMark::steadied(&mark))));
        }
        let line = self.found.as_ref()?.mark_line?;
        let end = |point| ImageMark { point, sigma: [line.across; 2] };
        Some(MiddleLine::Fitted(line.ends.map(end)))
    }

    fn end(&self) -> Option<Placed> {
        if self.given.has_no_mark() {
            return None;
        }
        placed(self.given.divot_end, self.found.as_ref().and_then(|f| f.divot_end))
    }
}

/// A mark as it was placed, without what is doubtful of the frame it was read in.
#[derive(Clone, Copy)]
struct Placed {
    mark: ImageMark,
    read: Read,
}

/// By whom a mark was read, and by a person in which frame.
#[derive(Clone, Copy)]
enum Read {
    Found,
    Given(Option<Register>),
}

impl Placed {
    fn given(mark: Mark) -> Self {
        Self { mark: ImageMark::click(mark.point), read: Read::Given(mark.register) }
    }

    fn found(point: ImagePoint, sigma: f64) -> Self {
        Self { mark: ImageMark::found(point, sigma), read: Read::Found }
    }

    /// With all that is doubtful of where it lies in the steadied picture.
    fn absolute(&self) -> ImageMark {
        match self.read {
            Read::Given(Some(register)) => self.mark.with_register(register.sigma),
            Read::Given(None) | Read::Found => self.mark,
        }
    }
}

fn placed(given: Option<Mark>, found: Option<Found<ImagePoint>>) -> Option<Placed> {
    match given {
        Some(mark) => Some(Placed::given(mark)),
        None => found.map(|found| Placed::found(found.value, found.sigma)),
    }
}

/// What a swing's offsets are counted from.
#[derive(Clone, Copy)]
struct Zero {
    placed: Placed,
    origin: fn(ImageMark, bool) -> Origin,
    on_tee: bool,
}

impl Zero {
    /// A point on the ground in the place of a ball.
    fn stand_in(mark: Mark) -> Self {
        let origin = |mark, _| Origin::Ground(mark);
        Self { placed: Placed::given(mark), origin, on_tee: false }
    }

    /// For marks to which how far it is off by the register is told apart.
    fn relative(&self) -> Origin {
        (self.origin)(self.placed.mark, self.on_tee)
    }

    /// With all that is doubtful of where it lies in the steadied picture.
    fn absolute(&self) -> Origin {
        (self.origin)(self.placed.absolute(), self.on_tee)
    }
}

/// What all swings of a recording share.
struct Scene<'a> {
    timeline: &'a Timeline,
    setup: &'a Setup,
    /// Absent where nothing has a known size, or the target's side is unknown.
    view: Option<&'a GroundView>,
}

impl Scene<'_> {
    fn measure(&self, input: &SwingInput) -> (SwingResult, Option<SwingGround>) {
        let kind = input.kind();
        let mut warnings = input.found.as_ref().map_or(Vec::new(), |f| f.warnings.clone());
        let zero = self.zero(input, kind);
        let given = |mark: Option<Mark>| mark.map(Placed::given);
        if kind == SwingKind::Practice && zero.is_none() {
            warnings.push(Warning::NoOrigin);
        }
        let ground_mark = self.ground_mark(input);
        let offset =
            |mark: Option<Placed>, struck: bool| self.offset(input, struck, mark?, zero.as_ref()?);
        let struck = kind == SwingKind::Strike;
        let start = offset(input.start(), struck);
        let end = offset(input.end(), struck);
        let [lead_heel, trail_heel] = input.given.heels.map(|heel| offset(given(heel), false));
        let reach_line = offset(given(self.setup.reach_line), false);
        let arc = self.arc(input, kind, zero.map(|zero| zero.absolute()).as_ref(), &mut warnings);
        let low_point = self.low_point(arc.as_ref(), start.as_ref(), end.as_ref(), &mut warnings);
        let contact_order = geometry::contact_order(&Contacts {
            kind,
            surface: self.setup.surface.unwrap_or_default(),
            ground_mark,
            divot_start: start.as_ref(),
            arc: arc.as_ref(),
        });
        let mut result = SwingResult {
            kind,
            strike_time: input.strike_time(),
            strike_frame: self.strike_frame(input),
            ball: input.ball_point(),
            divot_start: input.start().map(|placed| placed.mark.point),
            divot_end: input.end().map(|placed| placed.mark.point),
            ground_mark,
            divot_start_offset: start,
            divot_end_offset: end,
            low_point,
            attack_angle: arc.as_ref().map(|arc| arc.attack_angle.clone()),
            height_at_ball: arc.as_ref().map(|arc| arc.height_at_ball.clone()),
            arc_radius: arc.as_ref().map(|arc| arc.radius.clone()),
            arc_plane: arc.as_ref().map(|arc| arc.plane.clone()),
            predicted_contact: arc.as_ref().and_then(|arc| arc.first_contact.clone()),
            ball_position: lead_heel.map(turned),
            from_trail_heel: trail_heel.map(turned),
            reach_line,
            contact_order,
            needs_review: Vec::new(),
            warnings,
        };
        result.needs_review = needs_review(input, &result, self.review_rule());
        (result, self.ground(input, zero, arc))
    }

    /// The ground for drawing. What stands in for the ball serves a strike too, whose ball
    /// nobody has marked yet.
    fn ground(
        &self,
        input: &SwingInput,
        zero: Option<Zero>,
        arc: Option<ArcFit>,
    ) -> Option<SwingGround> {
        let stand_in = || input.stand_in(self.setup).map(Zero::stand_in);
        let origin = zero.or_else(stand_in)?.relative();
        let view = self.view?.with_zero(origin.mark().point, origin.height().0)?;
        Some(SwingGround { view, path: arc.map_or(Vec::new(), |arc| arc.path) })
    }

    /// Whether the bottom of a swing is seen in enough frames at all.
    fn review_rule(&self) -> ReviewRule {
        ReviewRule {
            below: self.setup.review_below.unwrap_or(SURE_ENOUGH),
            measurable: self.view.is_some(),
            arc_expected: self.is_fast_enough_for_arcs(),
        }
    }

    fn is_fast_enough_for_arcs(&self) -> bool {
        self.timeline.median_spacing().0 <= ARC_SPACING_S * self.timeline.slow_factor
    }

    fn strike_frame(&self, input: &SwingInput) -> Option<crate::domain::FrameIndex> {
        match (input.given.strike_time, &input.found) {
            (None, Some(found)) => Some(found.strike_frame),
            (Some(time), _) if !self.timeline.is_empty() => Some(self.timeline.frame_at(time)),
            _ => None,
        }
    }

    fn zero(&self, input: &SwingInput, kind: SwingKind) -> Option<Zero> {
        if let Some(tee) = input.given.tee {
            let placed = Placed { mark: self.tee_foot(tee.point), ..Placed::given(tee) };
            return Some(Zero { placed, origin: |mark, _| Origin::Tee(mark), on_tee: true });
        }
        let found = input.found_ball().map(|ball| Placed::found(ball.value.centre, ball.sigma));
        if let Some(placed) = input.given.ball.map(Placed::given).or(found) {
            let on_tee = is_on_tee(self.setup, input.club(self.setup));
            let origin = |centre, on_tee| Origin::Ball { centre, on_tee };
            return Some(Zero { placed, origin, on_tee });
        }
        let stand_in = input.stand_in(self.setup).filter(|_| kind == SwingKind::Practice)?;
        Some(Zero::stand_in(stand_in))
    }

    /// The click on a tee's foot; how far the tee may lean counts as doubt of where it is.
    fn tee_foot(&self, point: ImagePoint) -> ImageMark {
        let view = self.view;
        let ground = |p: ImagePoint| view?.ground_from_image(p);
        let step = ground(point).zip(ground(point.moved(1.0, 0.0)));
        let lean = step.map_or(0.0, |(a, b)| TEE_LEAN / (b.x - a.x).hypot(b.y - a.y).max(0.01));
        let click = ImageMark::click(point);
        let along = Pixels(click.sigma[0].0.hypot(lean));
        ImageMark { sigma: [along, click.sigma[1]], ..click }
    }

    fn ground_mark(&self, input: &SwingInput) -> Option<GroundMark> {
        if let Some(answer) = input.given.ground {
            return answer.mark();
        }
        let found = input.found_mark().map(|mark| mark.value);
        let given = input.given.divot_start.is_some() || input.given.divot_end.is_some();
        let told = match self.setup.surface.unwrap_or_default() {
            Surface::Turf => GroundMark::Divot,
            Surface::Mat => GroundMark::Scuff,
        };
        match found {
            None | Some(GroundMark::None) if given => Some(told),
            _ => found,
        }
    }

    fn offset(
        &self,
        input: &SwingInput,
        struck: bool,
        placed: Placed,
        zero: &Zero,
    ) -> Option<Measured> {
        let request = OffsetRequest {
            view: self.view?,
            mark: &placed.mark,
            origin: &zero.relative(),
            struck,
            steadying: input.steadying(&placed, &zero.placed),
        };
        geometry::measure_offset(&request).ok()
    }

    fn arc(
        &self,
        input: &SwingInput,
        kind: SwingKind,
        origin: Option<&Origin>,
        warnings: &mut Vec<Warning>,
    ) -> Option<ArcFit> {
        let (view, origin) = (self.view?, origin?);
        if input.found.is_none() && input.given.club_head.is_empty() {
            return None;
        }
        let sightings = self.sightings(input);
        let request = ArcRequest {
            view,
            origin,
            struck: kind == SwingKind::Strike,
            sightings: &sightings,
            club: input.club(self.setup),
            middle_line: input.middle_line(),
        };
        match geometry::fit_arc(&request) {
            Ok(arc) => Some(arc),
            Err(GeometryError::NearlyStraight { .. }) => {
                warnings.push(Warning::NearlyStraight);
                None
            }
            Err(GeometryError::TooFewSightings { found }) => {
                warnings.push(Warning::TooFewClubFrames { frames: found });
                None
            }
            Err(other) => {
                warnings.push(Warning::Note { note: other.to_string() });
                None
            }
        }
    }

    /// The club head frame by frame: as a person marked it, else as it was found.
    fn sightings(&self, input: &SwingInput) -> Vec<ClubHeadSighting> {
        let given = &input.given.club_head;
        let found = input.found.iter().flat_map(|found| &found.club_head);
        let kept = found.filter(|seen| !given.contains_key(&seen.frame)).copied();
        // A file that was exchanged for a shorter one has fewer frames than were marked.
        let shown = |frame: &FrameIndex| frame.0 < self.timeline.len();
        let within = given.iter().filter(|(frame, _)| shown(frame));
        let marked = within.map(|(frame, mark)| ClubHeadSighting {
            frame: *frame,
            time: self.timeline.time_of(*frame),
            point: mark.point,
            sigma: CLUB_HEAD_CLICK.map(|own| Pixels(own.0.hypot(mark.register_sigma().0))),
        });
        let mut all: Vec<_> = kept.chain(marked).collect();
        all.sort_by_key(|seen| seen.frame);
        all
    }

    fn low_point(
        &self,
        arc: Option<&ArcFit>,
        start: Option<&Measured>,
        end: Option<&Measured>,
        warnings: &mut Vec<Warning>,
    ) -> Option<(Measured, crate::domain::LowPointMethod)> {
        let ends = start.zip(end).filter(|(start, end)| {
            let reversed = start.value > end.value;
            if reversed {
                warnings.push(Warning::MarkReversed);
            }
            !reversed
        });
        let from_mark = ends.map(|(start, end)| geometry::low_point_from_mark(start, end));
        let combined = geometry::combine_low_points(arc.map(|a| &a.low_point), from_mark.as_ref());
        if let Some((measured, _)) = &combined {
            warnings.extend(measured.warnings.iter().cloned());
        }
        combined
    }
}

/// The same distance seen from its other end.
fn turned(mut offset: Measured) -> Measured {
    offset.value = -offset.value;
    offset.budget.iter_mut().for_each(|part| part.standard = -part.standard);
    offset.monte_carlo =
        offset.monte_carlo.map(|i| crate::domain::Interval { low: -i.high, high: -i.low });
    offset
}

/// What decides about that.
#[derive(Clone, Copy)]
struct ReviewRule {
    /// Proposals less sure than this.
    below: f64,
    /// There is a scale.
    measurable: bool,
    /// There are frames enough for an arc.
    arc_expected: bool,
}

/// What a person should look at: proposals below the threshold, and what could not be told.
fn needs_review(input: &SwingInput, result: &SwingResult, rule: ReviewRule) -> Vec<Reviewable> {
    let ReviewRule { below, measurable, arc_expected } = rule;
    let mut review = Vec::new();
    let mut flag = |what: Reviewable, doubtful: bool| {
        if doubtful {
            review.push(what);
        }
    };
    let found = input.found.as_ref();
    let doubtful = |confidence: Option<f64>| confidence.is_none_or(|c| c < below);
    let kind_given = input.kind.is_some() || input.given.strike_time.is_some();
    flag(Reviewable::Swing, !kind_given && doubtful(found.map(|f| f.kind.confidence)));
    flag(
        Reviewable::Strike,
        input.given.strike_time.is_none() && doubtful(found.map(|f| f.strike_time.confidence)),
    );
    let struck = result.kind == SwingKind::Strike;
    let ball = input.found_ball().map(|b| b.confidence);
    let ball_expected = struck || ball.is_some();
    flag(Reviewable::Ball, input.given.ball.is_none() && ball_expected && doubtful(ball));
    let untouched = result.ground_mark == Some(GroundMark::None);
    let mark = input.found_mark().map(|m| m.confidence);
    let reversed = result.warnings.contains(&Warning::MarkReversed);
    // Whoever said that there is no mark, or that it cannot be seen, is not asked for its ends,
    // nor for what can be read from them alone.
    let answered = input.given.has_no_mark();
    for (what, given, end) in [
        (Reviewable::DivotStart, input.given.divot_start, found.and_then(|f| f.divot_start)),
        (Reviewable::DivotEnd, input.given.divot_end, found.and_then(|f| f.divot_end)),
    ] {
        let unsure = if untouched { doubtful(mark) } else { doubtful(end.map(|e| e.confidence)) };
        flag(what, reversed || given.is_none() && unsure && !answered);
    }
    let start_unsure = review.contains(&Reviewable::DivotStart);
    let mut flag = |what: Reviewable, doubtful: bool| {
        if doubtful {
            review.push(what);
        }
    };
    flag(
        Reviewable::LowPoint,
        measurable && result.low_point.is_none() && (arc_expected || !answered),
    );
    // Too few frames a second for an arc is no doubt that looking could settle: a warning says it.
    flag(Reviewable::AttackAngle, measurable && arc_expected && result.attack_angle.is_none());
    flag(
        Reviewable::ContactOrder,
        struck && measurable && !answered && (result.contact_order.is_none() || start_unsure),
    );
    review
}

#[cfg(test)]
mod tests {
    use super::super::state::state;
    use super::*;
    use crate::domain::{ContactOrder, FrameEntry, GroundAnswer, Pts, TimeBase};

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
        assert_eq!(swing.strike_frame, Some(crate::domain::FrameIndex(186)));
        let start = swing.divot_start_offset.as_ref().expect("measured");
        assert!((start.value - -18.27).abs() < 4.0, "{}", start.value);
        assert!(state(start).interval.contains(-18.27));
        assert_eq!(swing.ground_mark, Some(GroundMark::Divot));
        let (_, method) = swing.low_point.as_ref().expect("from the mark");
        assert_eq!(*method, crate::domain::LowPointMethod::Mark);
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
            let of = start.budget.iter().find(|c| c.source == crate::domain::Source::Steadying);
            of.map_or(0.0, |c| c.standard.abs())
        };
        let (one_frame, two_frames) = (start_of(300), start_of(20));
        assert_eq!(part(&one_frame), 0.0);
        // One pixel along the target line, at some 2 to 4 mm a pixel.
        assert!((1.5..6.0).contains(&part(&two_frames)), "{}", part(&two_frames));
        assert!(two_frames.standard_uncertainty() > one_frame.standard_uncertainty());
    }
}
