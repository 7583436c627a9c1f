//! A frame of the recording with the ruler on the ground burnt in.

use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::{ImageFormat, RgbImage, imageops};

use super::ReportError;
use super::drawing::{Anchor, Drawing, Ink, Outline, Shape, Tone, Words};
use super::paint::{ON_PICTURE, overlay};
use super::ruler::Place;
use crate::domain::{ColourFrame, LengthUnit};

/// The part of a picture that must be seen when it is cut to another shape.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Focus {
    /// Its centre, pixels.
    pub centre: [f64; 2],
    /// How far it reaches to either side, pixels.
    pub reach: f64,
}

/// A picture with what it shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// The pixels, with whatever is burnt in.
    pub frame: ColourFrame,
    /// What it shows, in words.
    pub caption: String,
    /// What must be seen; `None`: its middle.
    pub focus: Option<Focus>,
}

/// From a place on the ground (mm toward the target, mm away from the camera) to the pixel
/// where it is seen; `None` where it is not.
pub type Project<'a> = dyn Fn(f64, f64) -> Option<[f64; 2]> + 'a;

/// What lies on the ground of one swing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OnGround {
    /// Divot start.
    pub start: Option<Place>,
    /// Divot end.
    pub end: Option<Place>,
    /// Low point.
    pub low_point: Option<Place>,
    /// The stretch aimed at.
    pub aim: Option<[f64; 2]>,
    /// The unit of the graduation.
    pub unit: LengthUnit,
    /// Left and right edge of what is seen, where that is not all of the picture.
    pub seen: Option<[f64; 2]>,
}

/// The ruler's far and near edge, mm from the ball toward the camera: beside the divot, so
/// that it hides nothing of it.
const FAR: f64 = -105.0;
const NEAR: f64 = -175.0;
/// How far it reaches behind and ahead of the ball at least, mm.
const REACH: f64 = 300.0;
/// Where the ruler would leave what is seen it ends this far before, in thinnest lines.
const INSET: f64 = 8.0;
/// A centimetre narrower than so many lines leaves no room for fine graduation and whiskers:
/// seen from afar the ruler shows where, and close up how sure.
const CROWDED: f64 = 3.0;

/// The ruler as it lies on the ground, in pixels of the picture: ball at zero, graduation,
/// the measured places with their ±, an arrow toward the target.
///
/// `pixel`: the width of the thinnest line, in pixels; 1.5 suits a picture 1280 pixels wide.
pub fn ground_ruler(project: &Project, ground: &OnGround, pixel: f64) -> Drawing {
    let places = [ground.start, ground.end, ground.low_point];
    let farthest = places.iter().flatten().map(|p| p.value).fold(REACH, f64::max);
    let nearest = places.iter().flatten().map(|p| p.value).fold(-REACH, f64::min);
    let mut chalk = Chalk { project, drawing: Drawing::default(), pixel, crowded: false };
    let range = chalk.in_view([nearest.max(-600.0), farthest.min(900.0)], ground.seen);
    chalk.crowded = chalk.centimetre().is_some_and(|wide| wide < CROWDED * pixel);
    chalk.band(range, ground.aim);
    chalk.graduation(range, ground.unit);
    chalk.curve(range, FAR, 1.4, Tone::White.ink());
    chalk.arrow(range[1]);
    chalk.across(0.0, [NEAR, -8.0], 1.4, Tone::White.ink());
    for place in [ground.start, ground.end].into_iter().flatten() {
        chalk.place(place, -66.0, range);
    }
    if let Some(place) = ground.low_point {
        chalk.place(place, -90.0, range);
        chalk.pointer(place.value);
    }
    chalk.drawing
}

/// Draws on the ground.
struct Chalk<'a> {
    project: &'a Project<'a>,
    drawing: Drawing,
    pixel: f64,
    crowded: bool,
}

impl Chalk<'_> {
    /// How wide a centimetre of the ruler is at the ball, pixels.
    fn centimetre(&self) -> Option<f64> {
        let ([a, b], [c, d]) = ((self.project)(0.0, FAR)?, (self.project)(10.0, FAR)?);
        Some((c - a).hypot(d - b))
    }

    /// The part of the ruler that is seen, so that its arrow is; all of it where the ball is not
    /// seen either, and with it whatever lies there.
    fn in_view(&self, range: [f64; 2], seen: Option<[f64; 2]>) -> [f64; 2] {
        let Some([left, right]) = seen else { return range };
        let inset = INSET * self.pixel;
        let is_seen = |x: f64| {
            let at = |y| {
                (self.project)(x, y).is_some_and(|[u, _]| u > left + inset && u < right - inset)
            };
            at(FAR) && at(NEAR)
        };
        if !is_seen(0.0) {
            return range;
        }
        range.map(|end| {
            let steps = (end.abs() / 5.0) as i32;
            let places = (0..=steps).rev().map(|i| 5.0 * f64::from(i) * end.signum());
            if is_seen(end) { end } else { places.into_iter().find(|x| is_seen(*x)).unwrap_or(end) }
        })
    }

    /// Lens distortion bends straight lines, so they are drawn in short pieces.
    fn points(&self, [from, to]: [f64; 2], y: f64) -> Vec<[f64; 2]> {
        let x = |i: i32| from + (to - from) * f64::from(i) / 24.0;
        (0..=24).filter_map(|i| (self.project)(x(i), y)).collect()
    }

    fn polyline(&mut self, points: &[[f64; 2]], width: f64, ink: Ink) {
        for pair in points.windows(2) {
            self.drawing.line(pair[0], pair[1], width * self.pixel, ink);
        }
    }

    fn curve(&mut self, range: [f64; 2], y: f64, width: f64, ink: Ink) {
        let points = self.points(range, y);
        self.polyline(&points, width, ink);
    }

    /// A line across the ruler at `x`, from y to y.
    fn across(&mut self, x: f64, [from, to]: [f64; 2], width: f64, ink: Ink) {
        if let (Some(a), Some(b)) = ((self.project)(x, from), (self.project)(x, to)) {
            self.drawing.line(a, b, width * self.pixel, ink);
        }
    }

    fn band(&mut self, range: [f64; 2], aim: Option<[f64; 2]>) {
        self.strip(range, Tone::Surface.faint(0.55));
        if let Some(aim) = aim {
            self.strip(aim.map(|mm| mm.clamp(range[0], range[1])), Tone::Accent.faint(0.5));
        }
    }

    fn strip(&mut self, range: [f64; 2], ink: Ink) {
        let mut points = self.points(range, NEAR);
        points.extend(self.points(range, FAR).into_iter().rev());
        if points.len() > 2 {
            self.drawing.shapes.push(Shape::Polygon { points, fill: Some(ink), outline: None });
        }
    }

    fn graduation(&mut self, range: [f64; 2], unit: LengthUnit) {
        let fine = unit.tick_mm();
        // Every ten centimetres, or some ten.
        let every = if unit == LengthUnit::Inch { 4 } else { 10 };
        let (first, last) = ((range[0] / fine).ceil() as i32, (range[1] / fine).floor() as i32);
        for i in first..=last {
            let x = f64::from(i) * fine;
            let depth = match i.rem_euclid(every) {
                0 => 1.0,
                r if 2 * r == every => 0.6,
                _ if self.crowded => continue,
                _ => 0.32,
            };
            let foot = FAR + (NEAR - FAR) * depth;
            self.across(x, [FAR, foot], 0.8, Tone::White.faint(0.9));
            if depth == 1.0 {
                self.label(x, &format!("{:.0}", unit.from_mm(x).abs()));
            }
        }
    }

    fn label(&mut self, x: f64, text: &str) {
        let Some(at) = (self.project)(x, NEAR - 4.0) else { return };
        let size = 9.5 * self.pixel;
        self.drawing.shapes.push(Shape::Words(Words {
            at: [at[0], at[1] + size * 0.7],
            anchor: Anchor::Centre,
            size,
            strong: false,
            ink: Tone::White.ink(),
            text: text.to_owned(),
        }));
    }

    fn arrow(&mut self, tip: f64) {
        let corners = [(tip - 28.0, FAR + 18.0), (tip, FAR), (tip - 28.0, FAR - 18.0)];
        let points: Vec<[f64; 2]> =
            corners.iter().filter_map(|(x, y)| (self.project)(*x, *y)).collect();
        self.polyline(&points, 1.6, Tone::White.ink());
        if !self.crowded {
            self.named_target(tip);
        }
    }

    /// The word before the arrow's tip, on the side of the ruler that is away from its numbers.
    fn named_target(&mut self, tip: f64) {
        let ends = [(self.project)(tip - 34.0, FAR), (self.project)(tip, FAR)];
        let [Some(tail), Some(tip)] = ends else { return };
        let anchor = if tip[0] > tail[0] { Anchor::Right } else { Anchor::Left };
        let size = 9.5 * self.pixel;
        self.drawing.shapes.push(Shape::Words(Words {
            at: [tail[0], tail[1] - size * 0.8],
            anchor,
            size,
            strong: false,
            ink: Tone::White.ink(),
            text: "target".to_owned(),
        }));
    }

    /// A place's 95 % interval as a whisker lying at `y`, and a line from it to the ruler.
    fn place(&mut self, place: Place, y: f64, range: [f64; 2]) {
        let [low, high] = place.interval_95.map(|mm| mm.clamp(range[0], range[1]));
        let ink = Tone::Accent.ink();
        if !self.crowded {
            self.curve([low, high], y, 1.6, ink);
            for end in [low, high] {
                self.across(end, [y - 8.0, y + 8.0], 1.6, ink);
            }
        }
        if (range[0]..=range[1]).contains(&place.value) {
            self.across(place.value, [FAR, y + 16.0], 2.2, ink);
        }
    }

    /// The low point's sign, a small point that looks down on the ruler.
    fn pointer(&mut self, x: f64) {
        let corners = [(x, FAR - 2.0), (x - 9.0, FAR + 18.0), (x + 9.0, FAR + 18.0)];
        let points: Vec<[f64; 2]> =
            corners.iter().filter_map(|(x, y)| (self.project)(*x, *y)).collect();
        if points.len() == 3 {
            let outline = Some(Outline { ink: Tone::Surface.ink(), width: 0.6 * self.pixel });
            let fill = Some(Tone::Accent.ink());
            self.drawing.shapes.push(Shape::Polygon { points, fill, outline });
        }
    }
}

/// Words along the picture's lower edge: the one number that matters, and beside it who,
/// when and which club.
pub fn caption_band(size: [usize; 2], number: &str, facts: &str) -> Drawing {
    let [width, height] = size.map(|v| v as f64);
    let unit = width.min(height * 1.6);
    let mut drawing = Drawing { width, height, shapes: Vec::new() };
    let band = unit * 0.062;
    let middle = height - band / 2.0;
    drawing.fill([0.0, height - band], [width, height], 0.0, Tone::Surface.faint(0.62));
    let margin = unit * 0.022;
    let words = |x: f64, anchor, size: f64, strong, tone: Tone, text: &str| {
        let (at, ink, text) = ([x, middle], tone.ink(), text.to_owned());
        Shape::Words(Words { at, anchor, size, strong, ink, text })
    };
    let large = words(margin, Anchor::Left, unit * 0.031, true, Tone::White, number);
    let small = words(width - margin, Anchor::Right, unit * 0.018, false, Tone::Quiet, facts);
    drawing.shapes.extend([large, small]);
    drawing
}

/// The width of the thinnest line that suits a picture of this size.
pub fn line_width(size: [usize; 2]) -> f64 {
    (size[0].min(size[1] * 16 / 9) as f64 / 1280.0 * 1.5).max(0.8)
}

/// Burns drawings in pixels into a frame, with dark edges so that they show on any turf.
pub fn burn_in(frame: &mut ColourFrame, drawings: impl IntoIterator<Item = Drawing>) {
    let size = [frame.width, frame.height];
    let mut all = Drawing::default();
    drawings.into_iter().for_each(|d| all.shapes.extend(d.shapes));
    overlay(&all, size, &ON_PICTURE, 0.7 * line_width(size)).apply(frame);
}

/// The picture as a PNG file.
///
/// # Errors
/// [`ReportError::Picture`] if it has no pixels.
pub fn png(frame: &ColourFrame) -> Result<Vec<u8>, ReportError> {
    let mut bytes = Cursor::new(Vec::new());
    rgb(frame)?.write_to(&mut bytes, ImageFormat::Png).map_err(unwritable)?;
    Ok(bytes.into_inner())
}

/// The picture as a JPEG file of good quality.
///
/// # Errors
/// [`ReportError::Picture`] if it has no pixels.
pub fn jpeg(picture: &RgbImage) -> Result<Vec<u8>, ReportError> {
    let mut bytes = Vec::new();
    JpegEncoder::new_with_quality(&mut bytes, 88).encode_image(picture).map_err(unwritable)?;
    Ok(bytes)
}

fn unwritable(error: image::ImageError) -> ReportError {
    ReportError::Picture { why: error.to_string() }
}

/// The frame without its alpha.
///
/// # Errors
/// [`ReportError::Picture`] if its size and its data do not fit each other, or it is empty.
pub fn rgb(frame: &ColourFrame) -> Result<RgbImage, ReportError> {
    let colours = frame.data.chunks_exact(4).flat_map(|p| [p[0], p[1], p[2]]).collect();
    let (width, height) = (frame.width as u32, frame.height as u32);
    let image = RgbImage::from_raw(width, height, colours).filter(|_| width > 0 && height > 0);
    image.ok_or_else(|| ReportError::Picture { why: "it has no pixels".into() })
}

/// The largest part of the picture with `shape` (width over height) about its focus; with a
/// focus, no more than what must be seen and as much again.
///
/// # Errors
/// [`ReportError::Picture`] if the frame is empty.
pub fn cut_to_shape(picture: &Picture, shape: f64) -> Result<RgbImage, ReportError> {
    let image = rgb(&picture.frame)?;
    let [width, height] = [image.width(), image.height()].map(f64::from);
    let widest = width.min(height * shape);
    let (centre, cut) = match picture.focus {
        Some(focus) => (focus.centre, (2.6 * focus.reach).clamp(widest * 0.35, widest)),
        None => ([width / 2.0, height / 2.0], widest),
    };
    let size = [cut, cut / shape].map(|v| v.max(1.0));
    let corner = |axis: usize, whole: f64| {
        (centre[axis] - size[axis] / 2.0).clamp(0.0, (whole - size[axis]).max(0.0)) as u32
    };
    let [w, h] = size.map(|v| v as u32);
    let (x, y) = (corner(0, width), corner(1, height));
    Ok(imageops::crop_imm(&image, x, y, w.max(1), h.max(1)).to_image())
}

/// The frame in another size, for clips.
///
/// # Errors
/// [`ReportError::Picture`] if it has no pixels.
pub fn scaled(
    frame: &ColourFrame,
    [width, height]: [usize; 2],
) -> Result<ColourFrame, ReportError> {
    if [frame.width, frame.height] == [width, height] {
        return Ok(frame.clone());
    }
    let image = rgb(frame)?;
    let small =
        imageops::resize(&image, width as u32, height as u32, imageops::FilterType::Triangle);
    let data = small.pixels().flat_map(|p| [p.0[0], p.0[1], p.0[2], 255]).collect();
    Ok(ColourFrame { width, height, data })
}

/// The picture no wider than `most` pixels.
pub fn shrink(image: RgbImage, most: u32) -> RgbImage {
    if image.width() <= most.max(1) {
        return image;
    }
    let height = (u64::from(image.height()) * u64::from(most) / u64::from(image.width())).max(1);
    imageops::resize(&image, most, height as u32, imageops::FilterType::CatmullRom)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame(width: usize, height: usize) -> ColourFrame {
        ColourFrame { width, height, data: [60, 110, 50, 255].repeat(width * height) }
    }

    fn picture(width: usize, height: usize, focus: Option<Focus>) -> Picture {
        Picture { frame: frame(width, height), caption: String::new(), focus }
    }

    #[test]
    fn cuts_keep_the_shape_and_the_focus() {
        let check = |focus, shape, expected: [u32; 2]| {
            let cut = cut_to_shape(&picture(1280, 720, focus), shape).unwrap();
            assert_eq!([cut.width(), cut.height()], expected);
        };
        check(None, 16.0 / 9.0, [1280, 720]);
        check(None, 1.0, [720, 720]);
        check(Some(Focus { centre: [600.0, 600.0], reach: 250.0 }), 16.0 / 9.0, [650, 365]);
        check(Some(Focus { centre: [0.0, 719.0], reach: 9_000.0 }), 2.0, [1280, 640]);
        assert!(cut_to_shape(&picture(0, 0, None), 1.0).is_err());
    }

    #[test]
    fn the_ruler_lies_where_the_ground_is_seen() {
        // A ground seen straight from above, half a pixel a millimetre, target to the left.
        let project = |x: f64, y: f64| Some([400.0 - x / 2.0, 300.0 - y / 2.0]);
        let ground = OnGround {
            start: Some(Place { value: 20.0, interval_95: [16.0, 24.0] }),
            ..OnGround::default()
        };
        let drawing = ground_ruler(&project, &ground, 1.0);
        let zero = drawing.shapes.iter().find_map(|s| match s {
            Shape::Words(words) if words.text == "0" => Some(words.at[0]),
            _ => None,
        });
        assert_eq!(zero, Some(400.0));
        let hundreds: Vec<f64> = drawing
            .shapes
            .iter()
            .filter_map(|s| match s {
                Shape::Words(words) if words.text == "100" => Some(words.at[0]),
                _ => None,
            })
            .collect();
        // 100 mm behind lies to the right here, 100 mm ahead to the left.
        assert_eq!(hundreds, [450.0, 350.0]);
    }

    #[test]
    fn the_ruler_ends_within_what_is_seen() {
        let project = |x: f64, y: f64| Some([400.0 + 2.0 * x, 300.0 - y / 2.0]);
        let ends = |seen| {
            let drawing = ground_ruler(&project, &OnGround { seen, ..OnGround::default() }, 1.0);
            let lines = drawing.shapes.iter().filter_map(|s| match s {
                Shape::Line { from, to, .. } => Some([from[0].min(to[0]), from[0].max(to[0])]),
                _ => None,
            });
            lines.fold([f64::MAX, f64::MIN], |e, [a, b]| [e[0].min(a), e[1].max(b)])
        };
        assert_eq!(ends(None), [-200.0, 1000.0]);
        assert_eq!(ends(Some([-1000.0, 2000.0])), [-200.0, 1000.0]);
        // In steps of 5 mm, 8 pixels from the edges.
        assert_eq!(ends(Some([0.0, 900.0])), [10.0, 890.0]);
        // Away from the ball the ruler is as long as ever.
        assert_eq!(ends(Some([500.0, 900.0])), [-200.0, 1000.0]);
    }

    #[test]
    fn ground_out_of_sight_is_not_drawn() {
        let drawing = ground_ruler(&|_, _| None, &OnGround::default(), 1.0);
        assert!(drawing.shapes.is_empty());
    }

    #[test]
    fn a_burnt_in_picture_is_a_png_of_the_same_size() {
        let mut frame = frame(320, 180);
        let before = frame.clone();
        burn_in(&mut frame, [caption_band([320, 180], "58 mm ahead ± 4", "swing 3")]);
        assert_ne!(frame, before);
        let read = image::load_from_memory(&png(&frame).unwrap()).unwrap().to_rgb8();
        assert_eq!((read.width(), read.height()), (320, 180));
        assert_eq!(read.get_pixel(5, 5).0, [60, 110, 50]);
    }
}
