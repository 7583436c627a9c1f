//! The typeface of everything this room draws: Lato, regular and semibold (SIL Open Font
//! License 1.1), shaped with tabular figures so that numbers stand under each other.

use std::ops::Range;
use std::sync::LazyLock;

use harfrust::{Feature, ShapeOptions, ShaperData, Tag, UnicodeBuffer};
use skrifa::outline::{DrawSettings, OutlinePen};
use skrifa::prelude::{LocationRef, Size};
use skrifa::{FontRef, GlyphId, MetadataProvider};

/// One weight of the typeface.
pub struct Face {
    /// The font file.
    pub bytes: &'static [u8],
    /// Its PostScript name.
    pub name: &'static str,
    /// Height of the capitals, in ems.
    pub cap_height: f64,
    /// Height over the baseline that lines are set for, in ems.
    pub ascent: f64,
    /// Depth below the baseline, in ems; negative.
    pub descent: f64,
    font: FontRef<'static>,
    shaper: ShaperData,
    units_per_em: f64,
}

/// A glyph in its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Glyph {
    /// Its number in the font.
    pub id: u16,
    /// Where it is drawn: ems to the right of the text's start, up from the baseline.
    pub at: [f64; 2],
    /// How far the pen moves on, in ems.
    pub advance: f64,
    /// The bytes of the text that it stands for.
    pub text: Range<usize>,
}

static REGULAR: LazyLock<Face> =
    LazyLock::new(|| Face::new(include_bytes!("../../assets/Lato-Regular.ttf"), "Lato-Regular"));
static STRONG: LazyLock<Face> =
    LazyLock::new(|| Face::new(include_bytes!("../../assets/Lato-Semibold.ttf"), "Lato-Semibold"));

/// The regular or the bolder weight.
pub fn face(strong: bool) -> &'static Face {
    if strong { &STRONG } else { &REGULAR }
}

impl Face {
    fn new(bytes: &'static [u8], name: &'static str) -> Self {
        let font = FontRef::new(bytes).expect("the font that is compiled in is whole");
        let metrics = font.metrics(Size::unscaled(), LocationRef::default());
        let em = f64::from(metrics.units_per_em);
        Self {
            bytes,
            name,
            // 0.7 em is usual for a sans serif; Lato states its own.
            cap_height: metrics.cap_height.map_or(0.7, |h| f64::from(h) / em),
            ascent: f64::from(metrics.ascent) / em,
            descent: f64::from(metrics.descent) / em,
            shaper: ShaperData::new(&font),
            units_per_em: em,
            font,
        }
    }

    /// The glyphs of one line in order. A character that the font lacks becomes a question mark.
    pub fn shape(&self, text: &str) -> Vec<Glyph> {
        let charmap = self.font.charmap();
        let known = |c: char| if charmap.map(c).is_some() { c } else { '?' };
        // Clusters must count the bytes of `text`, so the stand-in is shaped at its place.
        let mut buffer = UnicodeBuffer::new();
        let starts: Vec<usize> = text.char_indices().map(|(i, _)| i).collect();
        text.chars().enumerate().for_each(|(i, c)| buffer.add(known(c), i as u32));
        buffer.guess_segment_properties();
        let features = [Feature::new(Tag::new(b"tnum"), 1, ..)];
        let shaper = self.shaper.shaper(&self.font).build();
        let shaped = shaper.shape(buffer, ShapeOptions::new().features(&features));
        let mut pen = 0.0;
        let em = |units: i32| f64::from(units) / self.units_per_em;
        let placed = shaped.glyph_infos().iter().zip(shaped.glyph_positions());
        let mut glyphs: Vec<Glyph> = placed
            .map(|(info, position)| {
                let at = [pen + em(position.x_offset), em(position.y_offset)];
                pen += em(position.x_advance);
                let start = starts.get(info.cluster as usize).copied().unwrap_or(text.len());
                let advance = em(position.x_advance);
                Glyph { id: info.glyph_id as u16, at, advance, text: start..start }
            })
            .collect();
        close_ranges(&mut glyphs, text.len());
        glyphs
    }

    /// The width of one line in ems.
    pub fn width(&self, text: &str) -> f64 {
        self.shape(text).iter().map(|g| g.advance).sum()
    }

    /// How far the font itself moves the pen after a glyph, in ems.
    pub fn own_advance(&self, glyph: u16) -> f64 {
        let metrics = self.font.glyph_metrics(Size::unscaled(), LocationRef::default());
        let units = metrics.advance_width(GlyphId::new(u32::from(glyph))).unwrap_or(0.0);
        f64::from(units) / self.units_per_em
    }

    /// The box that holds every glyph, in ems: left, bottom, right, top.
    pub fn bounds(&self) -> [f64; 4] {
        let metrics = self.font.metrics(Size::unscaled(), LocationRef::default());
        let em = |v: f32| f64::from(v) / self.units_per_em;
        metrics.bounds.map_or([0.0, self.descent, 1.0, self.ascent], |b| {
            [em(b.x_min), em(b.y_min), em(b.x_max), em(b.y_max)]
        })
    }

    /// Traces a glyph's outline for type of `size`, y up from the baseline.
    pub fn trace(&self, glyph: u16, size: f64, pen: &mut impl OutlinePen) {
        let outlines = self.font.outline_glyphs();
        let settings = DrawSettings::unhinted(Size::new(size as f32), LocationRef::default());
        if let Some(outline) = outlines.get(GlyphId::new(u32::from(glyph))) {
            // A glyph that cannot be drawn leaves its place empty; the words stay in the text.
            let _ = outline.draw(settings, pen);
        }
    }

    /// Breaks `text` into lines no wider than `width` ems, at spaces and at its own breaks; a
    /// word wider than that stands alone.
    pub fn wrap(&self, text: &str, width: f64) -> Vec<String> {
        let mut lines = Vec::new();
        for paragraph in text.lines() {
            let mut line = String::new();
            for word in paragraph.split_whitespace() {
                let longer =
                    if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
                if line.is_empty() || self.width(&longer) <= width {
                    line = longer;
                } else {
                    lines.push(std::mem::replace(&mut line, word.to_owned()));
                }
            }
            lines.push(line);
        }
        lines
    }
}

/// Each glyph stands for the text up to where the next one's begins.
fn close_ranges(glyphs: &mut [Glyph], end: usize) {
    for i in 0..glyphs.len() {
        let start = glyphs[i].text.start;
        let next = glyphs[i..].iter().map(|g| g.text.start).find(|s| *s > start);
        glyphs[i].text.end = next.unwrap_or(end);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_tabular() {
        for strong in [false, true] {
            let zero = face(strong).width("0");
            for digit in 1..10 {
                assert!((face(strong).width(&digit.to_string()) - zero).abs() < 1e-9, "{digit}");
            }
        }
    }

    #[test]
    fn glyphs_cover_the_text_byte_by_byte() {
        let text = "Zoë ± 4°";
        let glyphs = face(false).shape(text);
        assert_eq!(glyphs.first().unwrap().text.start, 0);
        assert_eq!(glyphs.last().unwrap().text.end, text.len());
        assert!(glyphs.windows(2).all(|pair| pair[0].text.end == pair[1].text.start));
        assert!(glyphs.iter().all(|g| g.id != 0));
    }

    #[test]
    fn unknown_characters_become_question_marks() {
        let glyphs = face(false).shape("\u{4e2d}");
        assert_eq!(glyphs[0].id, face(false).shape("?")[0].id);
        assert_eq!(glyphs[0].text, 0..3);
    }

    #[test]
    fn lines_break_at_spaces() {
        let face = face(false);
        let width = face.width("brush the grass");
        assert_eq!(
            face.wrap("brush the grass past the ball", width),
            ["brush the grass", "past the ball"]
        );
        assert_eq!(face.wrap("one\n\ntwo", 9.0), ["one", "", "two"]);
        assert_eq!(face.wrap("immeasurably far", 0.1), ["immeasurably", "far"]);
    }
}
