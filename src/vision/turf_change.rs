//! What a swing left in the ground: before against after.
//!
//! Clear plates of the ground before and after the strike are laid on each other, the change of
//! exposure is taken out, and a mark is looked for on the strip through the ball along the target
//! line (register, normalise, threshold against a noise model: Radke et al. 2005).

use super::clear_plate::{BLOCK, Patch, Plate};
use super::ground_strip::{Axes, Colour, Cover, Disc, Extent, Strip, tint_of};
use super::mark_edges::{End, Profile};
use super::mark_shape::{
    Limits, Noise, Rect, Sense, Sighting, follow_middle, robust_sigma, search, to_shares,
    under_ball,
};
use super::plane::{Plane, fill};
use super::steady::{Steadying, median};
use crate::domain::{
    BallOutline, ColourFrame, Found, FrameIndex, GroundMark, ImagePoint, MarkLine, Millimetres,
    MillimetresPerPixel, PictureError, PictureSize, Pictures, Pixels, Seconds, Surface, Warning,
};

/// Frames averaged on each side.
const FRAMES: usize = 14;
/// Before: from the address to just before the strike, seconds of capture.
const BEFORE: [f64; 2] = [1.2, 0.05];
/// After: turf and club have left the strip by a tenth of a second, crumbs come to rest later.
const AFTER: [f64; 2] = [0.12, 1.5];
/// A change that stands out of the noise by less is not called a mark. The search tries some
/// millions of rectangles on ground whose noise is not quite normal; unmarked ground reaches 12.
const SIGNIFICANT: f64 = 14.0;
/// Least change of tint (log units) that is called soil or a scuff, least that is not doubted, and
/// least that is not doubted where it stands out of the noise by little: the tint of soil differs
/// from grass by 0.1 to 0.4, but coding takes some of that away from a small mark.
const LEAST_TINT: f64 = 0.06;
const FAINT_TINT: f64 = 0.08;
const SOIL_TINT: f64 = 0.1;
/// Least change of light that is called a scuff, log units: three per cent.
const LEAST_LIGHT: f64 = 0.03;
/// Light that changes by this much more in one place of the strip than in another (log units)
/// does so by a shadow's edge, not by exposure.
const WIDE_SHADOW: f64 = 0.1;
/// How sure a mark that lay under the ball is, and its ends (standard, mm).
const HIDDEN_SURE: f64 = 0.7;
const HIDDEN_EDGE: f64 = 6.0;
/// A start that is less certain than this (standard, mm) could not be told.
const VAGUE: f64 = 9.0;
/// The ragged start edge, mm: blades lean over it, so that the ground was met up to 7 mm before
/// (rendered recordings, whose truth tells both).
const RAGGED_START: f64 = 2.2;
/// The torn end, mm.
const RAGGED_END: f64 = 5.0;
/// Coding keeps colours at half size and smooths thin marks away at their ends, pixels.
const PIXEL_SIGMA: f64 = 0.7;

/// Blocks of the coder that step by more (log units) show, and half of the starts are then off by
/// more than they should: clips of a camera reach 0.007, coarse ones 0.01 to 0.04 (motion JPEG,
/// MPEG-4, H.264 without its filter, and scenes of the program's own).
const BLOCKS_SHOW: f64 = 0.01;
/// Beyond this a third of the marks were taken for what they are not.
const BLOCKS_HIDE: f64 = 0.028;
const BLOCKS_WORTH: f64 = 0.7;

/// Where and when to look.
#[derive(Clone, Debug)]
pub struct GroundMarkRequest {
    /// The last frame before contact.
    pub strike_frame: FrameIndex,
    /// The way the club goes: +1 to the right of the picture, -1 to the left.
    pub heading: f64,
    /// The ball at rest, in the steadied picture.
    pub ball: Option<BallOutline>,
    /// The ball was struck. One that still lies there was swung beside: the mark is then looked for
    /// as where there is none, 130 mm to both sides of it.
    pub struck: bool,
    /// A point on the ground that stands in for the ball, in the steadied picture; where the
    /// club's bottom was seen will do, the mark being looked for 130 mm to both sides of it.
    pub origin: Option<ImagePoint>,
    /// The first frame that shows the ground as this swing found it.
    pub earliest: FrameIndex,
    /// The last frame that shows the ground as this swing left it.
    pub latest: FrameIndex,
    /// What the ball lies on.
    pub surface: Option<Surface>,
    /// Scale at the ball; `None`: from the ball's diameter.
    pub scale: Option<MillimetresPerPixel>,
    /// The target line's direction in the picture, either way; `None`: level.
    pub along: Option<[f64; 2]>,
}

/// What was found in the ground.
#[derive(Clone, Debug, PartialEq)]
pub struct GroundMarkFinding {
    /// What the swing left; `None`: could not look.
    pub mark: Option<Found<GroundMark>>,
    /// Where the mark begins, on its middle line, in the steadied picture; `None`: could not tell.
    pub start: Option<Found<ImagePoint>>,
    /// Where it ends.
    pub end: Option<Found<ImagePoint>>,
    /// The mark's middle line, where it could be followed.
    pub line: Option<MarkLine>,
    /// A clear frame before and one after, for a person to compare.
    pub compared: Option<(FrameIndex, FrameIndex)>,
    /// The frames that were averaged, before and after.
    pub averaged: [Vec<FrameIndex>; 2],
    /// Standard uncertainty of laying after on before, at the ball.
    pub steadying_sigma: Pixels,
    /// What was odd on the way.
    pub warnings: Vec<Warning>,
}

impl GroundMarkFinding {
    fn could_not_look() -> Self {
        Self {
            mark: None,
            start: None,
            end: None,
            line: None,
            compared: None,
            averaged: [Vec::new(), Vec::new()],
            steadying_sigma: Pixels(0.0),
            warnings: Vec::new(),
        }
    }

    /// Start and end may lie anywhere in a coding block, and may not be the mark's at all.
    fn doubt_for_blocks(&mut self, step: f64) {
        self.warnings.push(Warning::CoarselyCoded { percent: 100.0 * step });
        for end in [&mut self.start, &mut self.end].into_iter().flatten() {
            end.sigma = end.sigma.hypot(BLOCK as f64 / 12f64.sqrt());
            end.confidence *= BLOCKS_WORTH;
        }
        if let Some(mark) = self.mark.as_mut().filter(|_| step > BLOCKS_HIDE) {
            mark.confidence *= BLOCKS_WORTH;
        }
    }
}

/// Looks for the mark that one swing left in the ground.
///
/// Points come in the steadied picture, their `sigma` in pixels along the target line, without
/// the register's own uncertainty, which stands beside them. Where the ground cannot be compared
/// the mark is `None`; where it can, and nothing shows, it is [`GroundMark::None`].
///
/// # Errors
/// What the reader of pictures says.
pub fn find_ground_mark(
    pictures: &mut dyn Pictures,
    steadying: &mut Steadying,
    request: &GroundMarkRequest,
) -> Result<GroundMarkFinding, PictureError> {
    let mut finding = GroundMarkFinding::could_not_look();
    let Some(place) = Place::new(request, pictures.size()) else { return Ok(finding) };
    let averaged = choose_frames(pictures, request);
    if averaged.iter().any(|frames| frames.len() < 3) {
        finding.warnings.push(Warning::Note {
            note: "The recording shows too little of the ground before or after the strike; keep the camera running two seconds longer.".into(),
        });
        return Ok(finding);
    }
    let before = Plate::new(pictures, steadying, &averaged[0], place.patch)?;
    let after = Plate::new(pictures, steadying, &averaged[1], place.patch)?;
    let (b, a) = (averaged[0][averaged[0].len() * 2 / 3], averaged[1][averaged[1].len() / 2]);
    finding.compared = Some((b, a));
    let (there, here) = (steadying.motion(pictures, b)?, steadying.motion(pictures, a)?);
    let sigmas = [there.sigma_at(place.origin).0, here.sigma_at(place.origin).0];
    finding.steadying_sigma = Pixels(sigmas[0].hypot(sigmas[1]));
    finding.averaged = averaged;
    if !(there.is_trusted && here.is_trusted) {
        finding.warnings.push(Warning::CameraMoved { pixels: steadying.largest_shift().0 });
        return Ok(finding);
    }
    place.look(&before, &after, &mut finding);
    Ok(finding)
}

/// Two pictures of the ground and what differs, laid on each other.
#[derive(Clone, Debug, PartialEq)]
pub struct BeforeAfter {
    /// Where the pictures' first pixel lies in the steadied picture.
    pub corner: ImagePoint,
    /// The ground before.
    pub before: ColourFrame,
    /// The ground after, registered on before.
    pub after: ColourFrame,
    /// What differs in the colour that differs most, four times enlarged, about a middle grey:
    /// lighter or darker than before.
    pub difference: ColourFrame,
}

/// Averages clear frames before and after over an area `[left, top, width, height]` of the
/// steadied picture, for a person to compare; single frames are taken as they are. `None` if the
/// area lies outside the picture.
///
/// # Errors
/// What the reader of pictures says.
pub fn before_after(
    pictures: &mut dyn Pictures,
    steadying: &mut Steadying,
    averaged: &[Vec<FrameIndex>; 2],
    area: [f64; 4],
) -> Result<Option<BeforeAfter>, PictureError> {
    let [left, top, width, height] = area;
    let corners = [ImagePoint::new(left, top), ImagePoint::new(left + width, top + height)];
    let Some(patch) = bounding_patch(&corners, pictures.size()) else { return Ok(None) };
    if averaged.iter().any(Vec::is_empty) {
        return Ok(None);
    }
    let before = Plate::new(pictures, steadying, &averaged[0], patch)?.to_colour();
    let after = Plate::new(pictures, steadying, &averaged[1], patch)?.to_colour();
    let pixels = before.data.chunks_exact(4).zip(after.data.chunks_exact(4));
    let data = pixels.flat_map(|(b, a)| enlarged(b, a)).collect();
    let difference = ColourFrame { width: before.width, height: before.height, data };
    let corner = ImagePoint::new(patch.left as f64, patch.top as f64);
    Ok(Some(BeforeAfter { corner, before, after, difference }))
}

/// A difference of two pixels as a grey. Of the three colours the one that differs most tells:
/// soil may be as bright as grass, and each for itself they would make a rainbow of a sleeve.
fn enlarged(before: &[u8], after: &[u8]) -> [u8; 4] {
    let by = |i: usize| i32::from(after[i]) - i32::from(before[i]);
    let most = (0..3).map(by).max_by_key(|by| by.abs()).unwrap_or(0);
    let grey = (128 + 4 * most).clamp(0, 255) as u8;
    [grey, grey, grey, 255]
}

/// Evenly spread frames before and after the strike.
fn choose_frames(pictures: &dyn Pictures, request: &GroundMarkRequest) -> [Vec<FrameIndex>; 2] {
    let timeline = pictures.timeline();
    if request.strike_frame.0 >= timeline.len() {
        return [Vec::new(), Vec::new()];
    }
    let strike = timeline.time_of(request.strike_frame);
    let at = |seconds: f64| strike + Seconds(seconds * timeline.slow_factor);
    let after_or_at = |time: Seconds| {
        let frame = timeline.frame_at(time);
        if timeline.time_of(frame) < time { frame.0 + 1 } else { frame.0 }
    };
    let last = request.latest.0.min(timeline.len() - 1);
    let before = [
        after_or_at(at(-BEFORE[0])).max(request.earliest.0),
        timeline.frame_at(at(-BEFORE[1])).0.min(request.strike_frame.0.saturating_sub(1)),
    ];
    let after = [
        after_or_at(at(AFTER[0])).max(request.strike_frame.0 + 2),
        timeline.frame_at(at(AFTER[1])).0.min(last),
    ];
    [before, after].map(|[from, to]| spread(from, to))
}

fn spread(from: usize, to: usize) -> Vec<FrameIndex> {
    if to < from {
        return Vec::new();
    }
    let count = FRAMES.min(to - from + 1);
    let step = (to - from) as f64 / (count - 1).max(1) as f64;
    (0..count).map(|i| FrameIndex(from + (i as f64 * step).round() as usize)).collect()
}

/// Whole pixels about some points, inside the picture.
fn bounding_patch(points: &[ImagePoint], size: PictureSize) -> Option<Patch> {
    let low = |of: &dyn Fn(&ImagePoint) -> f64, most: usize| {
        points.iter().map(of).fold(f64::INFINITY, f64::min).floor().clamp(0.0, most as f64) as usize
    };
    let high = |of: &dyn Fn(&ImagePoint) -> f64, most: usize| {
        points.iter().map(of).fold(f64::NEG_INFINITY, f64::max).ceil().clamp(0.0, most as f64)
            as usize
    };
    let (left, right) = (low(&|p| p.x, size.width), high(&|p| p.x, size.width));
    let (top, bottom) = (low(&|p| p.y, size.height), high(&|p| p.y, size.height));
    (right >= left + 8 && bottom >= top + 8).then(|| Patch {
        left,
        top,
        width: right - left,
        height: bottom - top,
    })
}

/// The ground to look at.
struct Place {
    origin: ImagePoint,
    axes: Axes,
    extent: Extent,
    patch: Patch,
    ball: Option<Disc>,
    /// The club met the ball, and so the ground there.
    at_ball: bool,
    surface: Option<Surface>,
    /// Millimetres a raster cell.
    cell: f64,
}

impl Place {
    fn new(request: &GroundMarkRequest, size: PictureSize) -> Option<Self> {
        // The ball's centre stands a radius over its resting point, seen from 10° to 30° above.
        let ball = request.ball.map(|b| {
            let radius = b.diameter.0 / 2.0;
            Disc { centre: b.centre, radius, foot: b.centre.moved(0.0, 0.94 * radius) }
        });
        let scale = match (request.scale, ball) {
            (Some(scale), _) => scale.0,
            (None, Some(disc)) => Millimetres::BALL.0 / (2.0 * disc.radius),
            // A golfer with room for the swing fills the picture: some 2.7 m along its longer side.
            (None, None) => 2700.0 / size.width.max(size.height) as f64,
        };
        let origin = match ball {
            Some(disc) => disc.foot,
            None => request.origin?,
        };
        let usable = scale.is_finite() && scale > 0.05 && origin.is_finite();
        if !usable || request.heading == 0.0 {
            return None;
        }
        let pitch = (1.5 / scale).max(1.0);
        let cell = pitch * scale;
        let cells = |mm: f64| (mm / cell).round() as i32;
        let at_ball = ball.is_some() && request.struck;
        let aside = if at_ball { [-75.0, 60.0] } else { [-150.0, 150.0] };
        let extent = Extent { columns: [cells(-340.0), cells(440.0)], rows: aside.map(cells) };
        let axes = Axes { origin, along: direction(request), pitch };
        let turned = f64::from(extent.columns[1]) * 0.1;
        let corner = |c: usize, r: usize| {
            let row = f64::from(extent.rows[r]) + if r == 0 { -turned } else { turned };
            axes.point(f64::from(extent.columns[c]), row)
        };
        let corners = [corner(0, 0), corner(0, 1), corner(1, 0), corner(1, 1)];
        let patch = bounding_patch(&corners, size)?;
        Some(Self { origin, axes, extent, patch, ball, at_ball, surface: request.surface, cell })
    }

    fn limits(&self) -> Limits {
        let cells = |mm: f64| mm / self.cell;
        let count = |mm: f64, least: f64| cells(mm).round().max(least) as usize;
        let band = if self.at_ball { 32.0 } else { 130.0 };
        Limits {
            band: cells(band),
            length: [cells(30.0), cells(420.0)],
            // A divot some 50 mm wide, seen from 45° above at most.
            width: cells(45.0),
            reach: [cells(-270.0), cells(330.0)],
            quiet: if self.at_ball { cells(32.0) } else { 0.0 },
            noise_patch: [count(20.0, 3.0), count(8.0, 2.0)],
        }
    }

    fn strip(&self, before: &Plate, after: &Plate, axes: Axes) -> Strip {
        Strip::new(before, after, axes, self.extent, self.ball, self.limits().quiet)
    }

    /// Fills in what the two plates tell, and doubts it where their coding may have hidden the rest.
    fn look(&self, before: &Plate, after: &Plate, finding: &mut GroundMarkFinding) {
        self.compare(before, after, finding);
        let step = before.block_step().max(after.block_step());
        if step > BLOCKS_SHOW {
            finding.doubt_for_blocks(step);
        }
    }

    /// Fills in what the two plates tell.
    fn compare(&self, before: &Plate, after: &Plate, finding: &mut GroundMarkFinding) {
        let limits = self.limits();
        let strip = self.strip(before, after, self.axes);
        let (noise, sighting) = self.look_all_ways(&strip, &limits);
        let ball_gone = is_ball_gone(&strip);
        let Some((sense, sighting)) = sighting else {
            match ball_gone.then(|| under_ball(&strip, &limits)).flatten() {
                Some(hidden) => self.say_hidden(&strip, &hidden, finding),
                None => finding.mark = self.nothing_found(&strip, noise, &limits),
            }
            return;
        };
        // Once more along the mark's own middle line.
        let followed = to_shares(&strip, sense, sighting.rect, &limits, ball_gone)
            .map(|shares| follow_middle(&strip, &shares, sighting.rect));
        let (axes, across) = followed.unwrap_or((self.axes, None));
        let line = across.map(|rows| MarkLine {
            ends: sighting.rect.columns.map(|c| axes.point(strip.column(c), 0.0)),
            across: Pixels(rows * axes.pitch),
        });
        let strip = self.strip(before, after, axes);
        let centred = Limits { band: 0.012 * strip.width as f64 + 3.0, ..limits };
        let again = search(&strip, sense, &centred).1;
        let sighting = again.filter(|s| is_mark(sense, s)).unwrap_or(sighting);
        let ball = self.ball.map_or(0.0, |d| d.radius / strip.axes.pitch);
        let profile = to_shares(&strip, sense, sighting.rect, &limits, ball_gone)
            .and_then(|shares| Profile::new(&strip, &shares, sighting.rect, 1.0 / self.cell, ball));
        let Some(profile) = profile else { return };
        finding.line = line;
        finding.mark = Some(Found {
            value: self.kind(sense, &strip, sighting.rect),
            sigma: 0.0,
            confidence: if sighting.significance > 2.0 * SIGNIFICANT { 0.97 } else { 0.85 },
        });
        let at = axes.point(strip.column(sighting.rect.columns[0]), profile.middle);
        let worth = self.worth(sense, &strip, &limits, &sighting, self.aside(at));
        let say = |end: Option<End>, ragged| {
            let found = self.point(&strip, &profile, end?, ragged, &sighting)?;
            let hidden = !ball_gone && self.is_beside_ball(found.value);
            let worth = worth * if hidden { 0.6 } else { 1.0 };
            Some(Found { confidence: worth * found.confidence, ..found })
        };
        finding.start = say(profile.start(), RAGGED_START);
        finding.end = say(profile.end(), RAGGED_END);
        share_doubt(&finding.start, &mut finding.end);
        finding.mark = finding.mark.map(|m| Found { confidence: worth * m.confidence, ..m });
    }

    /// How far a mark is to be believed, 0 to 1, that lies so many millimetres aside of where the
    /// club went: less for each thing that speaks against it.
    fn worth(
        &self,
        sense: Sense,
        strip: &Strip,
        limits: &Limits,
        sighting: &Sighting,
        aside: f64,
    ) -> f64 {
        // A mark in turf that is not bare soil is an odd one.
        let is_turf = self.surface_by(strip, limits) == Surface::Turf;
        // A scuff is told by the light alone, and so is the edge of a shadow.
        let is_shade = is_turf || strip.light_tilt > WIDE_SHADOW || aside > FAR_ASIDE;
        let least = if sighting.significance < 4.0 * SIGNIFICANT { SOIL_TINT } else { FAINT_TINT };
        let doubts = [
            sense == Sense::Light && is_shade,
            sense == Sense::Tint && sighting.contrast < least,
            self.is_elsewhere(strip, sighting.rect),
            is_along_edge(strip, sense, sighting, self.cell),
        ];
        0.6_f64.powi(doubts.into_iter().filter(|&doubt| doubt).count() as i32)
    }

    /// Whether a mark lies where no club that struck the ball, or went by what stands in for it,
    /// meets level ground: it begins past any low point or ends before any, or is longer than any
    /// club cuts.
    fn is_elsewhere(&self, strip: &Strip, rect: Rect) -> bool {
        let [first, last] = rect.columns.map(|c| strip.column(c) * self.cell);
        let past = if self.at_ball { PAST_BALL } else { FAR_OFF };
        first > past || last < -FAR_OFF || last - first > LONGEST
    }

    /// Whether a mark that ends there may run on behind the ball.
    fn is_beside_ball(&self, end: ImagePoint) -> bool {
        self.ball.is_some_and(|ball| ball.centre.distance(end) < 2.0 * ball.radius)
    }

    /// How far a point lies from the line through the ball, or what stands in for it, mm by the
    /// scale there.
    fn aside(&self, at: ImagePoint) -> f64 {
        let [x, y] = self.axes.along;
        let (dx, dy) = (at.x - self.origin.x, at.y - self.origin.y);
        (dy * x - dx * y).abs() * self.cell / self.axes.pitch
    }

    /// What the ball lies on: as it was said, or as it looks.
    fn surface_by(&self, strip: &Strip, limits: &Limits) -> Surface {
        self.surface.unwrap_or_else(|| match looks_like_grass(strip, limits.quiet) {
            true => Surface::Turf,
            false => Surface::Mat,
        })
    }

    /// Fills in a mark that the ball lay on: what the ground was like there before is a guess, so a
    /// person looks at it.
    fn say_hidden(&self, strip: &Strip, sighting: &Sighting, finding: &mut GroundMarkFinding) {
        let Rect { columns, rows } = sighting.rect;
        let sigma = HIDDEN_EDGE / self.cell * strip.axes.pitch;
        let row = (strip.row(rows[0] * strip.width) + strip.row((rows[1] - 1) * strip.width)) / 2.0;
        let edge = |column: usize| {
            let value = strip.axes.point(strip.column(column) - 0.5, row);
            Some(Found { value, sigma, confidence: HIDDEN_SURE })
        };
        finding.mark = Some(Found {
            value: self.kind(Sense::Tint, strip, sighting.rect),
            sigma: 0.0,
            confidence: HIDDEN_SURE,
        });
        finding.start = edge(columns[0]);
        finding.end = edge(columns[1]);
    }

    /// Searches the tint, then what has turned greener, which only chalk that is gone explains,
    /// then the light; the earlier has the say where it stands out.
    fn look_all_ways(
        &self,
        strip: &Strip,
        limits: &Limits,
    ) -> ([Noise; 2], Option<(Sense, Sighting)>) {
        let (tint_noise, tint) = search(strip, Sense::Tint, limits);
        let (light_noise, light) = search(strip, Sense::Light, limits);
        let pick = |sense, found: Option<Sighting>| {
            found.filter(|s| is_mark(sense, s)).map(|s| (sense, s))
        };
        let smear = || {
            let found = pick(Sense::Greener, search(strip, Sense::Greener, limits).1);
            found.filter(|(sense, s)| self.kind(*sense, strip, s.rect) == GroundMark::Smear)
        };
        // A foot or its shadow farther aside changes the light more than a scuff does.
        let beside = Limits { band: FAR_ASIDE / self.cell, ..*limits };
        let scuff = || match limits.band > beside.band {
            true => pick(Sense::Light, search(strip, Sense::Light, &beside).1),
            false => None,
        };
        // Where the tint is too faint for soil, chalk that is gone more plainly says there is none.
        let tint = pick(Sense::Tint, tint);
        let plainer = |(_, faint): &(Sense, Sighting)| {
            let is_plainer = |(_, s): &(Sense, Sighting)| s.contrast > faint.contrast;
            (faint.contrast < SOIL_TINT).then(smear).flatten().filter(is_plainer)
        };
        let best = tint.map(|soil| plainer(&soil).unwrap_or(soil));
        let best = best.or_else(smear).or_else(scuff);
        let best = best.or_else(|| pick(Sense::Light, light));
        ([tint_noise, light_noise], best)
    }

    /// A point with its doubt; `None` where it could not be told.
    fn point(
        &self,
        strip: &Strip,
        profile: &Profile,
        end: End,
        ragged: f64,
        sighting: &Sighting,
    ) -> Option<Found<ImagePoint>> {
        let pixel = strip.axes.pitch;
        let scale = self.cell / pixel;
        let fit = end.step.sigma * self.cell;
        if fit > VAGUE || end.seen < 0.1 {
            return None;
        }
        let sigma = (fit.hypot(ragged) / scale).hypot(PIXEL_SIGMA);
        let mut confidence = 0.95;
        for (doubt, worth) in [
            (sighting.significance < 2.0 * SIGNIFICANT, 0.85),
            (end.seen < 0.5, 0.8),
            (fit > 5.0, 0.85),
            (fit > 6.0, 0.9),
            // Seen from 5° to 45° above, a mark 15 to 80 mm wide.
            (!(3.0..=60.0).contains(&(profile.width * self.cell)), 0.6),
            (end.earlier > 0.5, 0.5),
        ] {
            confidence *= if doubt { worth } else { 1.0 };
        }
        let value = strip.axes.point(end.step.at, profile.middle);
        Some(Found { value, sigma, confidence })
    }

    /// Nothing stands out: was the ground to be seen, and would a divot have shown?
    fn nothing_found(
        &self,
        strip: &Strip,
        [tint, light]: [Noise; 2],
        limits: &Limits,
    ) -> Option<Found<GroundMark>> {
        let strip_cells: Vec<usize> = (0..strip.cover.len())
            .filter(|&i| {
                strip.row(i).abs() * self.cell < 15.0
                    && (limits.reach[0]..limits.reach[1]).contains(&strip.column(i))
            })
            .collect();
        let seen = strip_cells.iter().filter(|&&i| strip.cover[i] != Cover::Unknown).count();
        if (seen as f64) < 0.7 * strip_cells.len() as f64 {
            return None;
        }
        // A mark 60 mm long and 10 mm high in the picture.
        let cells = (600.0 / self.cell.powi(2)).sqrt();
        let least = |noise: Noise| SIGNIFICANT * noise.sigma * noise.inflation / cells;
        let confidence = match self.surface_by(strip, limits) {
            Surface::Mat if least(light) > LEAST_LIGHT => return None,
            // A mat may keep no trace at all.
            Surface::Mat => 0.75,
            Surface::Turf if least(tint) > 2.0 * LEAST_TINT => return None,
            // Of a short mark most may lie where the ball hid the ground.
            Surface::Turf if crumbs(strip) >= TELLING_CRUMBS => 0.7,
            Surface::Turf => 0.95,
        };
        Some(Found { value: GroundMark::None, sigma: 0.0, confidence })
    }

    /// Soil where grass was is a divot; a white line gone is a smear; all else is a scuff.
    fn kind(&self, sense: Sense, strip: &Strip, rect: Rect) -> GroundMark {
        let around = strip.open_outside(self.limits().quiet);
        let usual = |of: &dyn Fn(usize) -> f64| median(around.iter().map(|&i| of(i)).collect());
        let colourful = |i: usize| strip.before[i].max() - strip.before[i].min();
        let (light, colour) = (usual(&|i| strip.before[i].mean()), usual(&colourful));
        let cells: Vec<usize> = (rect.rows[0]..rect.rows[1])
            .flat_map(|y| (rect.columns[0]..rect.columns[1]).map(move |x| y * strip.width + x))
            .filter(|&i| strip.cover[i] == Cover::Open)
            .collect();
        // Chalk: brighter than the ground by a quarter, less than half as colourful, and darker
        // by a tenth since.
        let is_chalk = |i: usize| {
            strip.before[i].mean() > light + 0.25
                && colourful(i) < 0.5 * colour
                && strip.light(i) < -0.1
        };
        let weight = |i: usize| strip.light(i).abs();
        let gone: Vec<usize> = cells.iter().copied().filter(|&i| is_chalk(i)).collect();
        let share = gone.iter().map(|&i| weight(i)).sum::<f64>()
            / cells.iter().map(|&i| weight(i)).sum::<f64>().max(1e-9);
        // Most of what changed is chalk that has gone, however wide the rectangle about it.
        if share > 0.5 || gone.len() as f64 > 0.4 * cells.len() as f64 {
            GroundMark::Smear
        } else if sense == Sense::Tint && self.surface != Some(Surface::Mat) {
            GroundMark::Divot
        } else {
            GroundMark::Scuff
        }
    }
}

/// A scuff farther above or below in the picture than the club's width and the doubt of where it
/// went may be a foot's or a shadow's, mm.
const FAR_ASIDE: f64 = 70.0;

/// Where a strike's mark begins at the latest, and where any mark must be on one side of, mm along
/// the target line: low points lie up to 150 mm past the ball and 200 mm before it, and the ground
/// is met before them (common practice, no source).
const PAST_BALL: f64 = 150.0;
const FAR_OFF: f64 = 250.0;
/// Divots are 100 mm long in the mean (A. Patton, Purdue, 2018) and twice that when fat, mm; a mark
/// longer than this is something else, or joined to it.
const LONGEST: f64 = 330.0;

/// A crumb of turf is darker or paler than what it fell on by at least so much.
const CRUMB_CONTRAST: f64 = 0.15;
/// A tee and what is left of it may lie there after a strike that touched nothing; so many small
/// things are turf that has flown.
const TELLING_CRUMBS: usize = 4;

/// How many small things, of two cells at least, have come to lie in the strip or have left it.
fn crumbs(strip: &Strip) -> usize {
    let cells = 0..strip.cover.len();
    let open: Vec<usize> = cells.filter(|&i| strip.cover[i] == Cover::Open).collect();
    let noise = robust_sigma(open.iter().map(|&i| strip.light(i)).collect());
    let least = CRUMB_CONTRAST.max(6.0 * noise) as f32;
    let mut change =
        Plane { width: strip.width, height: strip.height, data: vec![0.0; strip.cover.len()] };
    open.iter().for_each(|&i| change.data[i] = strip.light(i).abs() as f32);
    let (mut seen, mut crumb) = (vec![false; strip.cover.len()], Vec::new());
    let mut count = 0;
    for i in open {
        if !seen[i] && change.data[i] >= least {
            fill(&change, i, least, &mut seen, &mut crumb);
            count += usize::from(crumb.len() >= 2);
        }
    }
    count
}

/// Below this the start is doubtful enough to cast doubt on the end.
const DOUBTFUL: f64 = 0.8;

/// Where it is doubtful which mark begins there, its end is doubtful too; a torn end says nothing
/// against the start.
fn share_doubt(start: &Option<Found<ImagePoint>>, end: &mut Option<Found<ImagePoint>>) {
    let (Some(start), Some(end)) = (start, end) else { return };
    if start.confidence < DOUBTFUL {
        end.confidence = end.confidence.min(0.5 * (start.confidence + DOUBTFUL));
    }
}

/// Leaves take blue light for their own more than red, so grass is a yellowish green, dry grass
/// the more so; the dye of a mat takes red as much as blue, and black rubber has no colour. Good
/// enough for a doubt where nobody said what the ball lies on (plant reflectance: common
/// knowledge; the limit of seven tenths: halfway on the program's own scenes and recordings).
fn looks_like_grass(strip: &Strip, quiet: f64) -> bool {
    let cells = strip.open_outside(quiet);
    let usual = |of: &dyn Fn(usize) -> f64| median(cells.iter().map(|&i| of(i)).collect());
    let over_red = usual(&|i| strip.before[i].y - strip.before[i].x);
    let over_blue = usual(&|i| strip.before[i].y - strip.before[i].z);
    !cells.is_empty() && over_blue > 0.08 && over_red < 0.7 * over_blue
}

/// Unit vector of the target line, the way the club goes.
fn direction(request: &GroundMarkRequest) -> [f64; 2] {
    let [x, y] = request.along.unwrap_or([1.0, 0.0]);
    let length = x.hypot(y);
    if !length.is_finite() || x.abs() < 0.5 * length || length == 0.0 {
        return [request.heading.signum(), 0.0];
    }
    let sign = request.heading.signum() * x.signum() / length;
    [x * sign, y * sign]
}

fn is_mark(sense: Sense, sighting: &Sighting) -> bool {
    let least = match sense {
        Sense::Tint | Sense::Greener => LEAST_TINT,
        Sense::Light => LEAST_LIGHT,
    };
    sighting.significance >= SIGNIFICANT && sighting.contrast.abs() >= least
}

/// A mark no higher than this, mm or rows, that lies along an edge so many times its own contrast
/// may be nothing but that edge: colours are coded at half size, which blurs it over some rows.
const THIN: f64 = 6.0;
const THIN_ROWS: usize = 4;
const STRONG_EDGE: f64 = 2.0;

/// Whether what differs is a thin stripe along an edge that is there before and after, such as a
/// chalk line's along the target line: laid on itself a part of a pixel too high or too low, or less
/// sharp, that differs, too.
fn is_along_edge(strip: &Strip, sense: Sense, sighting: &Sighting, cell: f64) -> bool {
    let Rect { columns, rows } = sighting.rect;
    let value = |colour: &Colour| match sense {
        Sense::Light => colour.mean(),
        Sense::Tint | Sense::Greener => tint_of(colour),
    };
    let level = |of: &[Colour], row: usize| {
        let cells = (columns[0]..columns[1]).map(|x| row * strip.width + x);
        let open = cells.filter(|&i| strip.cover[i] == Cover::Open);
        median(open.map(|i| value(&of[i])).collect())
    };
    let about = rows[0].saturating_sub(2)..(rows[1] + 1).min(strip.height - 1);
    let edge = |of: &[Colour]| {
        about.clone().map(|row| (level(of, row + 1) - level(of, row)).abs()).fold(0.0, f64::max)
    };
    let height = rows[1] - rows[0];
    let is_thin = height <= THIN_ROWS || height as f64 * cell <= THIN;
    is_thin && edge(&strip.before).min(edge(&strip.after)) > STRONG_EDGE * sighting.contrast.abs()
}

/// Behind the ball's outline the picture has changed for good.
fn is_ball_gone(strip: &Strip) -> bool {
    let changes: Vec<f64> = (0..strip.cover.len())
        .filter(|&i| strip.cover[i] == Cover::Ball)
        .map(|i| strip.light(i))
        .collect();
    let spread = robust_sigma(changes.clone());
    !changes.is_empty() && (median(changes).abs() > 0.15 || spread > 0.3)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Even ground 80 wide, with a chalk line from row 20 on; the rows before it by `halo` darker.
    fn ground(halo: f32) -> Plate {
        let patch = Patch { left: 0, top: 0, width: 80, height: 40 };
        let level = |row: usize| match row {
            20..26 => 5.2,
            18..20 => 4.3 - halo,
            _ => 4.3,
        };
        let pixels = (0..80 * 40).map(|i| [level(i / 80); 3]).collect();
        Plate { patch, pixels, clear: vec![9; 80 * 40] }
    }

    #[test]
    fn a_thin_stripe_along_an_edge_that_stays_may_be_that_edge() {
        let axes = Axes { origin: ImagePoint::new(2.0, 2.0), along: [1.0, 0.0], pitch: 1.0 };
        let extent = Extent { columns: [0, 70], rows: [0, 34] };
        let strip = Strip::new(&ground(0.1), &ground(0.0), axes, extent, None, 0.0);
        let along = |rows: [usize; 2], contrast: f64| {
            let rect = Rect { columns: [10, 60], rows };
            let sighting = Sighting { rect, significance: 100.0, contrast };
            is_along_edge(&strip, Sense::Light, &sighting, 1.5)
        };
        assert!(along([16, 18], 0.1));
        assert!(along([15, 19], 0.1), "no more rows than colours are blurred over");
        assert!(!along([16, 18], 0.6), "it differs by more than such an edge can");
        assert!(!along([12, 18], 0.1), "as wide as a mark");
        assert!(!along([6, 8], 0.1), "no edge beside it");
    }
}
