//! Draws shapes into pixels, for pictures and clips.

use skrifa::outline::OutlinePen;
use vello_cpu::color::{AlphaColor, Srgb};
use vello_cpu::kurbo::{Affine, BezPath, Cap, Circle, Join, Rect, RoundedRect, Shape as _, Stroke};
use vello_cpu::{Pixmap, RenderContext, Resources};

use super::drawing::{Anchor, Drawing, Ink, Outline, Shape, Tone, Words};
use super::typeface::face;
use crate::domain::ColourFrame;

/// What the tones look like in pixels: red, green, blue.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Palette {
    /// [`Tone::Text`].
    pub text: [u8; 3],
    /// [`Tone::Quiet`].
    pub quiet: [u8; 3],
    /// [`Tone::Hairline`].
    pub hairline: [u8; 3],
    /// [`Tone::Accent`].
    pub accent: [u8; 3],
    /// [`Tone::Surface`].
    pub surface: [u8; 3],
}

/// On white paper.
pub const LIGHT: Palette = Palette {
    text: [0x1C, 0x20, 0x1E],
    quiet: [0x5C, 0x64, 0x5F],
    hairline: [0xD5, 0xD6, 0xCF],
    accent: [0x24, 0x52, 0xB8],
    surface: [0xFF, 0xFF, 0xFF],
};

/// On a recorded picture, whose turf may be light or dark: light marks on dark edges.
pub const ON_PICTURE: Palette = Palette {
    text: [0xFF, 0xFF, 0xFF],
    quiet: [0xE2, 0xE6, 0xE2],
    hairline: [0x90, 0x96, 0x90],
    accent: [0x9C, 0xC0, 0xFF],
    surface: [0x10, 0x12, 0x11],
};

impl Palette {
    /// A tone's red, green and blue.
    pub fn rgb(&self, tone: Tone) -> [u8; 3] {
        match tone {
            Tone::Text => self.text,
            Tone::Quiet => self.quiet,
            Tone::Hairline => self.hairline,
            Tone::Accent => self.accent,
            Tone::Surface => self.surface,
            Tone::White => [0xFF; 3],
        }
    }

    fn colour(&self, ink: Ink) -> AlphaColor<Srgb> {
        let [r, g, b] = self.rgb(ink.tone);
        AlphaColor::from_rgba8(r, g, b, (ink.opacity.clamp(0.0, 1.0) * 255.0).round() as u8)
    }
}

/// Shapes in pixels with see-through ground, to be laid over any number of frames.
#[derive(Clone, Debug)]
pub struct Overlay {
    pixmap: Pixmap,
}

/// Draws `drawing` in pixels of a picture `size` wide and high.
///
/// `edge`: width in pixels of an edge around every line and letter, so that it shows on any
/// ground; 0 for none. Pictures over 65,535 pixels a side are drawn that far.
pub fn overlay(drawing: &Drawing, size: [usize; 2], palette: &Palette, edge: f64) -> Overlay {
    let [width, height] = size.map(|v| v.clamp(1, usize::from(u16::MAX)) as u16);
    let mut brush = Brush { context: RenderContext::new(width, height), palette, edge };
    for shape in &drawing.shapes {
        brush.shape(shape);
    }
    let mut pixmap = Pixmap::new(width, height);
    brush.context.flush();
    brush.context.render(&mut pixmap, &mut Resources::new());
    Overlay { pixmap }
}

impl Overlay {
    /// Lays the overlay over `frame`, whose size it was drawn for.
    pub fn apply(&self, frame: &mut ColourFrame) {
        let width = usize::from(self.pixmap.width()).min(frame.width);
        let height = usize::from(self.pixmap.height()).min(frame.height);
        let (over, stride) = (self.pixmap.data_as_u8_slice(), usize::from(self.pixmap.width()));
        for y in 0..height {
            let from = &over[4 * y * stride..][..4 * width];
            let to = &mut frame.data[4 * y * frame.width..][..4 * width];
            for (over, under) in from.chunks_exact(4).zip(to.chunks_exact_mut(4)) {
                if over[3] == 0 {
                    continue;
                }
                // "Over" of Porter and Duff (1984); the overlay is premultiplied.
                let rest = 255 - u32::from(over[3]);
                for c in 0..3 {
                    let beneath = (u32::from(under[c]) * rest + 127) / 255;
                    under[c] = (u32::from(over[c]) + beneath).min(255) as u8;
                }
            }
        }
    }
}

struct Brush<'a> {
    context: RenderContext,
    palette: &'a Palette,
    edge: f64,
}

impl Brush<'_> {
    fn shape(&mut self, shape: &Shape) {
        let at = |p: &[f64; 2]| (p[0], p[1]);
        match shape {
            Shape::Line { from, to, outline } => {
                let mut path = BezPath::new();
                path.move_to(at(from));
                path.line_to(at(to));
                self.line(&path, outline);
            }
            Shape::Rect { min, max, radius, fill, outline } => {
                let rect = Rect::from_points(at(min), at(max));
                let path = RoundedRect::from_rect(rect, *radius).to_path(0.1);
                self.area(&path, *fill, *outline);
            }
            Shape::Circle { centre, radius, fill, outline } => {
                self.area(&Circle::new(at(centre), *radius).to_path(0.1), *fill, *outline);
            }
            Shape::Polygon { points, fill, outline } => {
                let mut path = BezPath::new();
                for (i, point) in points.iter().enumerate() {
                    if i == 0 { path.move_to(at(point)) } else { path.line_to(at(point)) }
                }
                path.close_path();
                self.area(&path, *fill, *outline);
            }
            Shape::Words(words) => self.words(words),
        }
    }

    fn stroke(&mut self, path: &BezPath, width: f64, colour: AlphaColor<Srgb>) {
        let stroke = Stroke::new(width).with_caps(Cap::Round).with_join(Join::Round);
        self.context.set_paint(colour);
        self.context.set_stroke(stroke);
        self.context.stroke_path(path);
    }

    /// A line, on a wider one of the surface's colour where edges are wanted.
    fn line(&mut self, path: &BezPath, outline: &Outline) {
        if self.edge > 0.0 {
            let under = Ink { tone: Tone::Surface, opacity: 0.75 * outline.ink.opacity };
            self.stroke(path, outline.width + 2.0 * self.edge, self.palette.colour(under));
        }
        self.stroke(path, outline.width, self.palette.colour(outline.ink));
    }

    fn area(&mut self, path: &BezPath, fill: Option<Ink>, outline: Option<Outline>) {
        if let Some(ink) = fill {
            self.context.set_paint(self.palette.colour(ink));
            self.context.fill_path(path);
        }
        if let Some(outline) = outline {
            self.line(path, &outline);
        }
    }

    fn words(&mut self, words: &Words) {
        let face = face(words.strong);
        let glyphs = face.shape(&words.text);
        let width: f64 = glyphs.iter().map(|g| g.advance).sum::<f64>() * words.size;
        let before = match words.anchor {
            Anchor::Left => 0.0,
            Anchor::Centre => width / 2.0,
            Anchor::Right => width,
        };
        let baseline = words.at[1] + face.cap_height * words.size / 2.0;
        let mut pen = Outliner(BezPath::new());
        for glyph in &glyphs {
            let mut one = Outliner(BezPath::new());
            face.trace(glyph.id, words.size, &mut one);
            let x = words.at[0] - before + glyph.at[0] * words.size;
            let y = baseline - glyph.at[1] * words.size;
            one.0.apply_affine(Affine::new([1.0, 0.0, 0.0, -1.0, x, y]));
            pen.0.extend(one.0);
        }
        if self.edge > 0.0 {
            let under = Ink { tone: Tone::Surface, opacity: 0.75 * words.ink.opacity };
            self.stroke(&pen.0, 2.0 * self.edge, self.palette.colour(under));
        }
        self.context.set_paint(self.palette.colour(words.ink));
        self.context.fill_path(&pen.0);
    }
}

/// Receives a glyph's outline as a path.
struct Outliner(BezPath);

impl OutlinePen for Outliner {
    fn move_to(&mut self, x: f32, y: f32) {
        self.0.move_to((f64::from(x), f64::from(y)));
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.0.line_to((f64::from(x), f64::from(y)));
    }

    fn quad_to(&mut self, cx: f32, cy: f32, x: f32, y: f32) {
        let control = (f64::from(cx), f64::from(cy));
        self.0.quad_to(control, (f64::from(x), f64::from(y)));
    }

    fn curve_to(&mut self, ax: f32, ay: f32, bx: f32, by: f32, x: f32, y: f32) {
        let controls = ((f64::from(ax), f64::from(ay)), (f64::from(bx), f64::from(by)));
        self.0.curve_to(controls.0, controls.1, (f64::from(x), f64::from(y)));
    }

    fn close(&mut self) {
        self.0.close_path();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gray(width: usize, height: usize) -> ColourFrame {
        ColourFrame { width, height, data: [100, 100, 100, 255].repeat(width * height) }
    }

    #[test]
    fn shapes_cover_and_the_rest_stays() {
        let mut drawing = Drawing::default();
        drawing.fill([2.0, 2.0], [6.0, 6.0], 0.0, Tone::White.ink());
        let mut frame = gray(10, 10);
        overlay(&drawing, [10, 10], &LIGHT, 0.0).apply(&mut frame);
        assert_eq!(frame.rgb(4, 4), [255; 3]);
        assert_eq!(frame.rgb(8, 8), [100; 3]);
    }

    #[test]
    fn half_opacity_mixes_half() {
        let mut drawing = Drawing::default();
        drawing.fill([0.0, 0.0], [4.0, 4.0], 0.0, Tone::White.faint(0.5));
        let mut frame = gray(4, 4);
        overlay(&drawing, [4, 4], &LIGHT, 0.0).apply(&mut frame);
        // 0.5 * 255 + 0.5 * 100 = 177.5.
        assert!(frame.rgb(2, 2).into_iter().all(|v| v.abs_diff(178) <= 1), "{:?}", frame.rgb(2, 2));
    }

    #[test]
    fn words_are_as_wide_as_their_face_says() {
        let text = "58 mm ahead ± 4";
        let words = Words {
            at: [10.0, 20.0],
            anchor: Anchor::Left,
            size: 20.0,
            strong: true,
            ink: Tone::White.ink(),
            text: text.into(),
        };
        let drawing = Drawing { shapes: vec![Shape::Words(words)], ..Drawing::default() };
        let mut frame = gray(220, 40);
        overlay(&drawing, [220, 40], &LIGHT, 0.0).apply(&mut frame);
        let lit = |x: &usize| (0..40).any(|y| frame.rgb(*x, y)[0] > 180);
        let (first, last) = ((0..220).find(lit).unwrap(), (0..220).rfind(lit).unwrap());
        let width = face(true).width(text) * 20.0;
        // The first and last glyph's own bearings lie within the advance.
        assert!((10..=13).contains(&first), "{first}");
        assert!((last as f64) < 10.0 + width && last as f64 > 10.0 + width - 4.0, "{last} {width}");
    }
}
