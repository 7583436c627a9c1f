//! The page as PDF 1.7, tagged for readers that do not see it (ISO 14289-1, PDF/UA-1), with
//! its fonts embedded and cut down to the glyphs used.

use std::collections::BTreeMap;
use std::io::Write;

use flate2::{Compression, write::ZlibEncoder};
use pdf_writer::types::{
    CidFontType, FontFlags, ListNumbering, StructRole, SystemInfo, TabOrder, TableHeaderScope,
    UnicodeCmap,
};
use pdf_writer::writers::{StructElement, StructTreeRoot};
use pdf_writer::{Content as Operators, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};
use subsetter::GlyphRemapper;

use super::ReportError;
use super::content::Content;
use super::drawing::{Anchor, Ink, Outline, Shape, Tone, Words};
use super::page::{self, Element, Page, Paper, Part, PictureSlot};
use super::picture::{self, Picture};
use super::typeface::{Face, face};

/// The page as a PDF file. `pictures`: at most two are shown.
///
/// # Errors
/// [`ReportError::Picture`] if a picture cannot be written.
pub fn write(
    content: &Content,
    pictures: &[Picture],
    paper: Paper,
) -> Result<Vec<u8>, ReportError> {
    let slots: Vec<PictureSlot> =
        pictures.iter().map(|p| PictureSlot { caption: p.caption.clone() }).collect();
    let page = page::lay_out(content, &slots, paper);
    let mut writer = Writer::new(&page);
    writer.fonts(&page);
    writer.pictures(&page, pictures)?;
    writer.page(&page);
    writer.structure(&page);
    writer.catalog(&page);
    Ok(writer.pdf.finish())
}

/// Colours of print: those of the window's light theme on white paper.
fn colour(tone: Tone) -> [f32; 3] {
    let rgb: [u8; 3] = match tone {
        Tone::Text => [0x1C, 0x20, 0x1E],
        Tone::Quiet => [0x5C, 0x64, 0x5F],
        Tone::Hairline => [0xD5, 0xD6, 0xCF],
        Tone::Accent => [0x24, 0x52, 0xB8],
        Tone::Surface | Tone::White => [0xFF, 0xFF, 0xFF],
    };
    rgb.map(|v| f32::from(v) / 255.0)
}

const CATALOG: Ref = Ref::new(1);
const PAGES: Ref = Ref::new(2);
const PAGE: Ref = Ref::new(3);
const CONTENT: Ref = Ref::new(4);
const METADATA: Ref = Ref::new(5);
const DOCUMENT: Ref = Ref::new(6);
const TREE: Ref = Ref::new(7);
const PARENTS: Ref = Ref::new(8);
const INFO: Ref = Ref::new(9);
const FONTS: [Ref; 2] = [Ref::new(10), Ref::new(11)];
const FIRST_FREE: i32 = 12;

const IDENTITY: SystemInfo =
    SystemInfo { registry: Str(b"Adobe"), ordering: Str(b"Identity"), supplement: 0 };

/// A weight of the typeface as it is embedded.
struct Embedded {
    face: &'static Face,
    glyphs: GlyphRemapper,
    /// What each new glyph stands for, by its new number.
    stands_for: BTreeMap<u16, String>,
    font: Ref,
}

struct Writer {
    pdf: Pdf,
    next: i32,
    height: f64,
    /// Regular, then strong.
    embedded: [Embedded; 2],
    images: Vec<Ref>,
    /// Opacities used, in per mille, each a named graphics state.
    opacities: BTreeMap<u16, Ref>,
    /// For each marked content, in order of its number, the structure element it belongs to.
    parents: Vec<Ref>,
    /// The structure element of each page element, in the order in which they are walked.
    elements: Vec<Ref>,
}

impl Writer {
    fn new(page: &Page) -> Self {
        let embed = |strong| Embedded {
            face: face(strong),
            glyphs: GlyphRemapper::new(),
            stands_for: BTreeMap::new(),
            font: FONTS[usize::from(strong)],
        };
        Self {
            pdf: Pdf::new(),
            next: FIRST_FREE,
            height: page.size[1],
            embedded: [embed(false), embed(true)],
            images: Vec::new(),
            opacities: BTreeMap::new(),
            parents: Vec::new(),
            elements: Vec::new(),
        }
    }

    fn reference(&mut self) -> Ref {
        self.next += 1;
        Ref::new(self.next - 1)
    }

    /// Gathers the glyphs of all words and embeds them.
    fn fonts(&mut self, page: &Page) {
        let mut all = Vec::new();
        page.elements.iter().for_each(|e| walk(e, &mut |e| all.extend(e.shapes.iter())));
        for words in all.into_iter().chain(&page.ornaments).filter_map(words_of) {
            let embedded = &mut self.embedded[usize::from(words.strong)];
            for glyph in embedded.face.shape(&words.text) {
                let new = embedded.glyphs.remap(glyph.id);
                let text = words.text[glyph.text].to_owned();
                embedded.stands_for.entry(new).or_insert(text);
            }
        }
        for i in 0..self.embedded.len() {
            self.font(i);
        }
    }

    fn font(&mut self, index: usize) {
        let [cid, descriptor, cmap, file] = std::array::from_fn(|_| self.reference());
        let Embedded { face, glyphs, stands_for, font } = &self.embedded[index];
        // Six letters mark a subset (ISO 32000-1, 9.6.4).
        let name = format!("{}+{}", ["SCUFFA", "SCUFFB"][index], face.name);
        let name = Name(name.as_bytes());
        let thousand = |em: f64| (em * 1000.0) as f32;
        let data = subsetter::subset(face.bytes, 0, glyphs)
            .expect("the font that is compiled in can be cut down");
        let mut unicode = UnicodeCmap::new(Name(b"Custom"), IDENTITY);
        for (glyph, text) in stands_for {
            unicode.pair_with_multiple(*glyph, text.chars());
        }
        let pdf = &mut self.pdf;
        pdf.type0_font(*font)
            .base_font(name)
            .encoding_predefined(Name(b"Identity-H"))
            .descendant_font(cid)
            .to_unicode(cmap);
        let mut cid_font = pdf.cid_font(cid);
        cid_font
            .subtype(CidFontType::Type2)
            .base_font(name)
            .system_info(IDENTITY)
            .font_descriptor(descriptor)
            .default_width(0.0)
            .cid_to_gid_map_predefined(Name(b"Identity"));
        let widths = glyphs.remapped_gids().map(|old| thousand(face.own_advance(old)));
        cid_font.widths().consecutive(0, widths);
        cid_font.finish();
        let [left, bottom, right, top] = face.bounds().map(thousand);
        pdf.font_descriptor(descriptor)
            .name(name)
            .flags(FontFlags::NON_SYMBOLIC)
            .bbox(Rect::new(left, bottom, right, top))
            .italic_angle(0.0)
            .ascent(thousand(face.ascent))
            .descent(thousand(face.descent))
            .cap_height(thousand(face.cap_height))
            // Stem widths measured on the letter l of the two weights.
            .stem_v([79.0, 104.0][index])
            .font_file2(file);
        pdf.cmap(cmap, &deflate(&unicode.finish())).filter(Filter::FlateDecode);
        let packed = deflate(&data);
        let mut stream = pdf.stream(file, &packed);
        stream.filter(Filter::FlateDecode).pair(Name(b"Length1"), data.len() as i32);
    }

    /// Each picture is cut to its rectangle's shape and written as JPEG.
    fn pictures(&mut self, page: &Page, pictures: &[Picture]) -> Result<(), ReportError> {
        let mut places = Vec::new();
        page.elements.iter().for_each(|e| walk(e, &mut |e| places.extend(e.picture)));
        for (index, [min, max]) in places {
            let id = self.reference();
            let shape = (max[0] - min[0]) / (max[1] - min[1]);
            let cut = picture::cut_to_shape(&pictures[index], shape)?;
            // 300 pixels an inch print sharply; more only makes the file larger.
            let most = ((max[0] - min[0]) / 72.0 * 300.0) as u32;
            let cut = picture::shrink(cut, most);
            let jpeg = picture::jpeg(&cut)?;
            let mut image = self.pdf.image_xobject(id, &jpeg);
            image.filter(Filter::DctDecode);
            image.width(cut.width() as i32).height(cut.height() as i32);
            image.color_space().device_rgb();
            image.bits_per_component(8).interpolate(true);
            self.images.push(id);
        }
        Ok(())
    }

    fn page(&mut self, page: &Page) {
        let mut ops = Operators::new();
        ops.begin_marked_content(Name(b"Artifact"));
        page.ornaments.iter().for_each(|shape| self.shape(&mut ops, shape));
        ops.end_marked_content();
        for element in &page.elements {
            self.draw(&mut ops, element);
        }
        self.pdf.stream(CONTENT, &deflate(&ops.finish())).filter(Filter::FlateDecode);
        for (per_mille, id) in &self.opacities {
            let opacity = f32::from(*per_mille) / 1000.0;
            self.pdf.ext_graphics(*id).non_stroking_alpha(opacity).stroking_alpha(opacity);
        }
        self.pdf.pages(PAGES).kids([PAGE]).count(1);
        let [width, height] = page.size.map(|v| v as f32);
        let mut leaf = self.pdf.page(PAGE);
        leaf.parent(PAGES)
            .media_box(Rect::new(0.0, 0.0, width, height))
            .contents(CONTENT)
            .struct_parents(0)
            .tab_order(TabOrder::StructureOrder);
        let mut resources = leaf.resources();
        let mut fonts = resources.fonts();
        for (i, embedded) in self.embedded.iter().enumerate() {
            fonts.pair(Name(format!("F{i}").as_bytes()), embedded.font);
        }
        fonts.finish();
        let mut images = resources.x_objects();
        for (i, id) in self.images.iter().enumerate() {
            images.pair(Name(format!("P{i}").as_bytes()), *id);
        }
        images.finish();
        let mut states = resources.ext_g_states();
        for (per_mille, id) in &self.opacities {
            states.pair(Name(format!("G{per_mille}").as_bytes()), *id);
        }
    }

    /// Draws an element as one marked content, then its children; each gets its structure
    /// element's reference on the way.
    fn draw(&mut self, ops: &mut Operators, element: &Element) {
        let id = self.reference();
        self.elements.push(id);
        if !element.shapes.is_empty() || element.picture.is_some() {
            let number = self.parents.len() as i32;
            self.parents.push(id);
            ops.begin_marked_content_with_properties(role(element.part).to_name())
                .properties()
                .identify(number);
            if let Some((index, rectangle)) = element.picture {
                self.image(ops, rectangle, index);
            }
            element.shapes.iter().for_each(|shape| self.shape(ops, shape));
            ops.end_marked_content();
        }
        element.children.iter().for_each(|child| self.draw(ops, child));
    }

    fn image(&self, ops: &mut Operators, [min, max]: [[f64; 2]; 2], index: usize) {
        let (width, height) = ((max[0] - min[0]) as f32, (max[1] - min[1]) as f32);
        let [x, y] = self.flip([min[0], max[1]]);
        ops.save_state();
        ops.transform([width, 0.0, 0.0, height, x, y]);
        ops.x_object(Name(format!("P{index}").as_bytes()));
        ops.restore_state();
    }

    /// PDF counts y upwards from the page's foot.
    fn flip(&self, point: [f64; 2]) -> [f32; 2] {
        [point[0] as f32, (self.height - point[1]) as f32]
    }

    fn shape(&mut self, ops: &mut Operators, shape: &Shape) {
        match shape {
            Shape::Line { from, to, outline } => {
                let ([x, y], [x2, y2]) = (self.flip(*from), self.flip(*to));
                self.paint(ops, None, Some(*outline), |ops| {
                    ops.move_to(x, y).line_to(x2, y2);
                });
            }
            Shape::Rect { min, max, radius, fill, outline } => {
                let corners = [*min, *max].map(|p| self.flip(p));
                let radius = *radius as f32;
                self.paint(ops, *fill, *outline, |ops| round_rect(ops, corners, radius));
            }
            Shape::Circle { centre, radius, fill, outline } => {
                let ([x, y], r) = (self.flip(*centre), *radius as f32);
                let corners = [[x - r, y + r], [x + r, y - r]];
                self.paint(ops, *fill, *outline, |ops| round_rect(ops, corners, r));
            }
            Shape::Polygon { points, fill, outline } => {
                let points: Vec<[f32; 2]> = points.iter().map(|p| self.flip(*p)).collect();
                self.paint(ops, *fill, *outline, |ops| {
                    for (i, [x, y]) in points.iter().enumerate() {
                        if i == 0 {
                            ops.move_to(*x, *y)
                        } else {
                            ops.line_to(*x, *y)
                        };
                    }
                    ops.close_path();
                });
            }
            Shape::Words(words) => self.words(ops, words),
        }
    }

    fn opacity(&mut self, ops: &mut Operators, ink: Ink) {
        let per_mille = (ink.opacity * 1000.0).round() as u16;
        if per_mille < 1000 {
            if !self.opacities.contains_key(&per_mille) {
                let id = self.reference();
                self.opacities.insert(per_mille, id);
            }
            ops.set_parameters(Name(format!("G{per_mille}").as_bytes()));
        }
    }

    /// Fills, then strokes, since the two may have opacities of their own.
    fn paint(
        &mut self,
        ops: &mut Operators,
        fill: Option<Ink>,
        outline: Option<Outline>,
        path: impl Fn(&mut Operators),
    ) {
        if let Some(ink) = fill {
            ops.save_state();
            self.opacity(ops, ink);
            let [r, g, b] = colour(ink.tone);
            ops.set_fill_rgb(r, g, b);
            path(ops);
            ops.fill_nonzero().restore_state();
        }
        if let Some(outline) = outline {
            ops.save_state();
            self.opacity(ops, outline.ink);
            let [r, g, b] = colour(outline.ink.tone);
            ops.set_stroke_rgb(r, g, b).set_line_width(outline.width as f32);
            path(ops);
            ops.stroke().restore_state();
        }
    }

    fn words(&mut self, ops: &mut Operators, words: &Words) {
        let index = usize::from(words.strong);
        let face = self.embedded[index].face;
        let glyphs = face.shape(&words.text);
        let width: f64 = glyphs.iter().map(|g| g.advance).sum::<f64>() * words.size;
        let start = words.at[0] - width * share_before(words.anchor);
        let baseline = words.at[1] + face.cap_height * words.size / 2.0;
        let [x, y] = self.flip([start, baseline]);
        ops.save_state();
        self.opacity(ops, words.ink);
        let [r, g, b] = colour(words.ink.tone);
        ops.set_fill_rgb(r, g, b);
        ops.begin_text().set_font(Name(format!("F{index}").as_bytes()), words.size as f32);
        ops.set_text_matrix([1.0, 0.0, 0.0, 1.0, x, y]);
        let mut line = ops.show_positioned();
        let mut items = line.items();
        // Where the font alone would have moved the pen; kerning is the difference.
        let mut pen = 0.0;
        for glyph in &glyphs {
            let kern = pen - glyph.at[0];
            if kern.abs() > 1e-6 {
                items.adjust((kern * 1000.0) as f32);
            }
            let new = self.embedded[index].glyphs.get(glyph.id).unwrap_or(0);
            items.show(Str(&new.to_be_bytes()));
            pen = glyph.at[0] + face.own_advance(glyph.id);
        }
        items.finish();
        line.finish();
        ops.end_text().restore_state();
    }

    /// The structure tree (ISO 32000-1, 14.7.2): one element for each part of the page.
    fn structure(&mut self, page: &Page) {
        let mut walked = Walked { element: 0, content: 0 };
        let tops: Vec<Ref> =
            page.elements.iter().map(|e| self.structure_of(e, DOCUMENT, &mut walked)).collect();
        let mut document = self.pdf.struct_element(DOCUMENT);
        document.kind(StructRole::Document).parent(TREE);
        let mut children = document.children();
        for top in tops {
            children.struct_element(top);
        }
    }

    fn structure_of(&mut self, element: &Element, parent: Ref, walked: &mut Walked) -> Ref {
        let id = self.elements[walked.element];
        walked.element += 1;
        let drawn = !element.shapes.is_empty() || element.picture.is_some();
        let number = walked.content;
        walked.content += i32::from(drawn);
        let children: Vec<Ref> =
            element.children.iter().map(|c| self.structure_of(c, id, walked)).collect();
        let mut node = self.pdf.struct_element(id);
        node.kind(role(element.part)).parent(parent).page(PAGE);
        if let Some(description) = &element.description {
            node.alt(TextStr(description));
        }
        let mut kids = node.children();
        if drawn {
            kids.marked_content_id(number);
        }
        for child in children {
            kids.struct_element(child);
        }
        kids.finish();
        attributes(&mut node, element, self.height);
        id
    }

    fn catalog(&mut self, page: &Page) {
        self.pdf.metadata(METADATA, metadata(&page.title).as_bytes());
        // Older programs look for the title here, newer ones in the metadata.
        self.pdf.document_info(INFO).title(TextStr(&page.title)).producer(TextStr("scuffline"));
        let mut root = self.pdf.indirect(TREE).start::<StructTreeRoot>();
        root.child(DOCUMENT).parent_tree_next_key(1);
        root.parent_tree().nums().insert(0, PARENTS);
        root.finish();
        self.pdf.indirect(PARENTS).array().items(self.parents.iter().copied());
        let mut catalog = self.pdf.catalog(CATALOG);
        catalog.pages(PAGES).metadata(METADATA).lang(TextStr("en-GB"));
        catalog.viewer_preferences().display_doc_title(true);
        catalog.mark_info().marked(true);
        catalog.pair(Name(b"StructTreeRoot"), TREE);
    }
}

/// How far the walk through the structure has come.
struct Walked {
    element: usize,
    content: i32,
}

fn walk<'a>(element: &'a Element, each: &mut impl FnMut(&'a Element)) {
    each(element);
    element.children.iter().for_each(|child| walk(child, each));
}

fn words_of(shape: &Shape) -> Option<&Words> {
    match shape {
        Shape::Words(words) => Some(words),
        _ => None,
    }
}

fn role(part: Part) -> StructRole {
    match part {
        Part::Title => StructRole::H1,
        Part::Heading => StructRole::H2,
        Part::Paragraph => StructRole::P,
        Part::Figure => StructRole::Figure,
        Part::Caption => StructRole::Caption,
        Part::Table => StructRole::Table,
        Part::Row => StructRole::TR,
        Part::ColumnHead | Part::RowHead => StructRole::TH,
        Part::Cell => StructRole::TD,
        Part::List => StructRole::L,
        Part::Item => StructRole::LI,
        Part::ItemBody => StructRole::LBody,
    }
}

/// What PDF/UA wants to know beyond an element's kind: which way a head cell looks, how a list
/// is numbered, where a figure lies.
fn attributes(node: &mut StructElement, element: &Element, page_height: f64) {
    match element.part {
        Part::ColumnHead => {
            node.attributes().push().table().scope(TableHeaderScope::Column);
        }
        Part::RowHead => {
            node.attributes().push().table().scope(TableHeaderScope::Row);
        }
        Part::List => {
            node.attributes().push().list().list_numbering(ListNumbering::None);
        }
        Part::Figure => {
            let bounds = bounds_of(element, page_height);
            node.attributes().push().layout().bbox(bounds);
        }
        _ => {}
    }
}

/// The rectangle that a figure's shapes or picture lie in, y upwards.
fn bounds_of(element: &Element, page_height: f64) -> Rect {
    let corners = element.shapes.iter().flat_map(|shape| match shape {
        Shape::Line { from, to, .. } => vec![*from, *to],
        Shape::Rect { min, max, .. } => vec![*min, *max],
        Shape::Circle { centre: [x, y], radius: r, .. } => vec![[x - r, y - r], [x + r, y + r]],
        Shape::Polygon { points, .. } => points.clone(),
        Shape::Words(words) => vec![words.at],
    });
    let picture = element.picture.into_iter().flat_map(|(_, corners)| corners);
    let (mut min, mut max) = ([f64::MAX; 2], [f64::MIN; 2]);
    for corner in corners.chain(picture) {
        for axis in 0..2 {
            min[axis] = min[axis].min(corner[axis]);
            max[axis] = max[axis].max(corner[axis]);
        }
    }
    let up = |y: f64| (page_height - y) as f32;
    Rect::new(min[0] as f32, up(max[1]), max[0] as f32, up(min[1]))
}

fn share_before(anchor: Anchor) -> f64 {
    match anchor {
        Anchor::Left => 0.0,
        Anchor::Centre => 0.5,
        Anchor::Right => 1.0,
    }
}

/// A rectangle between two opposite corners with corners rounded by quarter circles.
fn round_rect(ops: &mut Operators, [[x1, y1], [x2, y2]]: [[f32; 2]; 2], radius: f32) {
    let ([left, right], [low, high]) = ([x1.min(x2), x1.max(x2)], [y1.min(y2), y1.max(y2)]);
    let r = radius.min((right - left) / 2.0).min((high - low) / 2.0);
    if r <= 0.0 {
        ops.rect(left, low, right - left, high - low);
        return;
    }
    // The usual cubic for a quarter circle: 4 / 3 (sqrt 2 - 1), off by 0.03 % of the radius.
    let k = r * (1.0 - 0.552_284_8);
    ops.move_to(left + r, low).line_to(right - r, low);
    ops.cubic_to(right - k, low, right, low + k, right, low + r).line_to(right, high - r);
    ops.cubic_to(right, high - k, right - k, high, right - r, high).line_to(left + r, high);
    ops.cubic_to(left + k, high, left, high - k, left, high - r).line_to(left, low + r);
    ops.cubic_to(left, low + k, left + k, low, left + r, low).close_path();
}

fn deflate(data: &[u8]) -> Vec<u8> {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::best());
    encoder.write_all(data).expect("memory takes every byte");
    encoder.finish().expect("memory takes every byte")
}

/// XMP metadata (ISO 16684-1) with the title and the claim of PDF/UA-1 (ISO 14289-1, 5).
fn metadata(title: &str) -> String {
    let title = super::svg::escape(title);
    format!(
        r#"<?xpacket begin="{bom}" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:pdf="http://ns.adobe.com/pdf/1.3/" xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/">
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
<dc:language><rdf:Bag><rdf:li>en-GB</rdf:li></rdf:Bag></dc:language>
<pdf:Producer>scuffline</pdf:Producer><pdfuaid:part>1</pdfuaid:part>
</rdf:Description></rdf:RDF></x:xmpmeta>
<?xpacket end="r"?>"#,
        bom = '\u{feff}'
    )
}
