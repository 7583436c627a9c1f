//! The one page to send home, laid out: which words and shapes go where, in reading order.
//!
//! The layout knows nothing of PDF. It measures words with the [`super::typeface`], gives the
//! ruler the room that is left, and cuts words off with "…" only when all else has shrunk.

use super::content::{BlockSummary, Content, Spread};
use super::drawing::{Anchor, Drawing, Ink, Shape, Tone, Words};
use super::ruler::{self, Along, Group, Style};
use super::typeface::face;
use crate::domain::{MarkWord, Millimetres, counted};

/// The sheet that the page is printed on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// 210 mm by 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 in by 11 in (ANSI/ASME Y14.1, size A).
    Letter,
}

impl Paper {
    /// Width and height in points of 1/72 in.
    pub fn points(self) -> [f64; 2] {
        match self {
            Self::A4 => [210.0, 297.0].map(|mm| mm / Millimetres::INCH.0 * 72.0),
            Self::Letter => [8.5 * 72.0, 11.0 * 72.0],
        }
    }
}

/// What a part of the page is, for readers that do not see it (ISO 32000-1, 14.8.4).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// The page's title.
    Title,
    /// A heading.
    Heading,
    /// A paragraph.
    Paragraph,
    /// A picture or drawing; has a description.
    Figure,
    /// What a figure shows.
    Caption,
    /// A table of rows.
    Table,
    /// A row of cells.
    Row,
    /// A cell at a column's head.
    ColumnHead,
    /// A cell at a row's head.
    RowHead,
    /// A cell.
    Cell,
    /// A list of items.
    List,
    /// An item of a list; holds its body.
    Item,
    /// What an item says.
    ItemBody,
}

/// A part of the page with what is drawn for it, or with parts of its own.
#[derive(Clone, Debug, PartialEq)]
pub struct Element {
    /// What it is.
    pub part: Part,
    /// A figure's description in words.
    pub description: Option<String>,
    /// What is drawn.
    pub shapes: Vec<Shape>,
    /// The picture that is drawn, by its number, and its rectangle: top left, bottom right.
    pub picture: Option<(usize, [[f64; 2]; 2])>,
    /// Parts within.
    pub children: Vec<Element>,
}

impl Element {
    fn drawn(part: Part, shapes: Vec<Shape>) -> Self {
        Self { part, description: None, shapes, picture: None, children: Vec::new() }
    }

    fn item(shapes: Vec<Shape>) -> Self {
        Self::group(Part::Item, vec![Self::drawn(Part::ItemBody, shapes)])
    }

    fn group(part: Part, children: Vec<Element>) -> Self {
        Self { part, description: None, shapes: Vec::new(), picture: None, children }
    }
}

/// A page ready to be written.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// Width and height in points.
    pub size: [f64; 2],
    /// The document's title.
    pub title: String,
    /// In reading order.
    pub elements: Vec<Element>,
    /// Lines and other ornaments that mean nothing by themselves.
    pub ornaments: Vec<Shape>,
}

/// A picture that wants a place on the page.
#[derive(Clone, Debug, PartialEq)]
pub struct PictureSlot {
    /// What it shows, in words.
    pub caption: String,
}

const MARGIN: f64 = 48.0;
const TOP: f64 = 44.0;
const FOOT: f64 = 34.0;
/// Three sizes of type and the small print.
const TITLE: f64 = 22.0;
const LEAD: f64 = 14.5;
const BODY: f64 = 9.6;
const SMALL: f64 = 7.6;
const GAP: f64 = 16.0;

/// Lays the page out. `pictures`: at most two are shown.
pub fn lay_out(content: &Content, pictures: &[PictureSlot], paper: Paper) -> Page {
    let size = paper.points();
    let title = format!("{}: where the club met the turf", content.golfer);
    let page = Page { size, title, elements: Vec::new(), ornaments: Vec::new() };
    let mut sheet = Sheet { page, left: MARGIN, width: size[0] - 2.0 * MARGIN, y: TOP };
    sheet.header(content);
    sheet.headline(content);
    // The small print is laid out first, for its height, and read last.
    let (foot_top, small_print) = sheet.small_print(content, size[1] - FOOT);
    let below = sheet.below(content, pictures, foot_top);
    sheet.ruler(content, foot_top - below.height);
    sheet.pictures(pictures, below.picture_height);
    sheet.columns(content, foot_top);
    sheet.page.elements.extend(small_print);
    sheet.page
}

/// What lies below the ruler: its height in all, and that of the pictures.
struct Below {
    height: f64,
    picture_height: f64,
}

/// A page being filled from the top.
struct Sheet {
    page: Page,
    left: f64,
    width: f64,
    y: f64,
}

/// How lines of words are set.
#[derive(Clone, Copy)]
struct Type {
    size: f64,
    leading: f64,
    strong: bool,
    ink: Ink,
}

impl Type {
    const fn new(size: f64, strong: bool, tone: Tone) -> Self {
        Self { size, leading: 1.36, strong, ink: tone.ink() }
    }

    fn height(&self, lines: usize) -> f64 {
        lines as f64 * self.size * self.leading
    }

    fn wrap(&self, text: &str, width: f64, most: usize) -> Vec<String> {
        let mut lines = face(self.strong).wrap(text, width / self.size);
        if lines.len() > most {
            lines.truncate(most);
            if let Some(last) = lines.last_mut() {
                *last = self.cut(last, width);
            }
        }
        lines
    }

    /// As much of a line as leaves room for the sign that something is left out. Found by halves:
    /// a line of thousands of characters is not set anew for each of them.
    fn cut(&self, line: &str, width: f64) -> String {
        let ends: Vec<usize> = line.char_indices().map(|(at, _)| at).chain([line.len()]).collect();
        let with_sign = |end: usize| format!("{}…", &line[..end]);
        let fits = |end: &usize| face(self.strong).width(&with_sign(*end)) * self.size <= width;
        let count = ends.partition_point(fits);
        with_sign(ends[count.saturating_sub(1)])
    }

    /// The lines as shapes, the first one's top at `y`. Each but the last ends in a space, so
    /// that words do not run together when the text is read out.
    fn set(&self, lines: &[String], x: f64, y: f64, anchor: Anchor) -> Vec<Shape> {
        let line = |(i, text): (usize, &String)| {
            let middle = y + self.size * self.leading * (i as f64 + 0.5);
            let space = if i + 1 < lines.len() && anchor == Anchor::Left { " " } else { "" };
            Shape::Words(Words {
                at: [x, middle],
                anchor,
                size: self.size,
                strong: self.strong,
                ink: self.ink,
                text: format!("{text}{space}"),
            })
        };
        lines.iter().enumerate().map(line).collect()
    }
}

const BODY_TYPE: Type = Type::new(BODY, false, Tone::Text);
const TIGHT_TYPE: Type = Type::new(SMALL, false, Tone::Text);
const QUIET_TYPE: Type = Type::new(BODY, false, Tone::Quiet);
const HEAD_TYPE: Type = Type::new(BODY, true, Tone::Text);
const SMALL_TYPE: Type = Type::new(SMALL, false, Tone::Quiet);
const SMALL_HEAD: Type = Type::new(SMALL, true, Tone::Quiet);

impl Sheet {
    /// Sets a paragraph at the pen and moves the pen below it.
    fn paragraph(&mut self, part: Part, text: &str, t: Type, most: usize) {
        let lines = t.wrap(text, self.width, most);
        let shapes = t.set(&lines, self.left, self.y, Anchor::Left);
        self.y += t.height(lines.len());
        self.page.elements.push(Element::drawn(part, shapes));
    }

    fn hairline(&mut self, y: f64) {
        let mut line = Drawing::default();
        let right = self.left + self.width;
        line.line([self.left, y], [right, y], 0.7, Tone::Hairline.ink());
        self.page.ornaments.extend(line.shapes);
    }

    fn header(&mut self, content: &Content) {
        let title = Type { leading: 1.2, ..Type::new(TITLE, true, Tone::Text) };
        let date = vec![content.date_words()];
        let date_width = face(false).width(&date[0]) * BODY;
        let golfer = title.wrap(&content.golfer, self.width - date_width - GAP, 1);
        let shapes = title.set(&golfer, self.left, self.y, Anchor::Left);
        self.page.elements.push(Element::drawn(Part::Title, shapes));
        // The date stands on the title's baseline.
        let baseline = self.y + title.height(1) / 2.0 + face(true).cap_height * TITLE / 2.0;
        let middle = baseline - face(false).cap_height * BODY / 2.0;
        let top = middle - QUIET_TYPE.height(1) / 2.0;
        if !date[0].is_empty() {
            let shapes = QUIET_TYPE.set(&date, self.left + self.width, top, Anchor::Right);
            self.page.elements.push(Element::drawn(Part::Paragraph, shapes));
        }
        self.y += title.height(1) + 3.0;
        self.paragraph(Part::Paragraph, &facts(content), QUIET_TYPE, 1);
        self.y += 10.0;
        self.hairline(self.y);
        self.y += 13.0;
    }

    fn headline(&mut self, content: &Content) {
        let lead = Type { leading: 1.28, ..Type::new(LEAD, true, Tone::Text) };
        if let Some(sentence) = headline_words(content) {
            self.paragraph(Part::Paragraph, &sentence, lead, 3);
            self.y += 4.0;
        }
        if let Some(more) = content.comparison.as_ref().and_then(|c| c.more_swings.as_ref()) {
            self.paragraph(Part::Paragraph, more, QUIET_TYPE, 2);
        }
        self.y += 8.0;
    }

    /// The small print at the foot, and where it begins.
    fn small_print(&mut self, content: &Content, bottom: f64) -> (f64, Vec<Element>) {
        let gap = 24.0;
        let width = (self.width - gap) / 2.0;
        let columns = [
            ("How it was measured", small_lines(&content.how_measured, width)),
            ("Please mind", small_lines(&content.cautions, width)),
        ];
        let lines_of = |items: &[Vec<String>]| items.iter().map(Vec::len).sum::<usize>();
        let lines = columns.iter().map(|(_, items)| lines_of(items)).max().unwrap_or(0);
        if lines == 0 {
            return (bottom, Vec::new());
        }
        let top = bottom - SMALL_TYPE.height(lines + 1) - 10.0;
        self.hairline(top);
        let mut elements = Vec::new();
        for (i, (head, items)) in columns.into_iter().enumerate().filter(|(_, c)| !c.1.is_empty()) {
            let x = self.left + i as f64 * (width + gap);
            let mut y = top + 10.0;
            let head = SMALL_HEAD.set(&[head.to_owned()], x, y, Anchor::Left);
            elements.push(Element::drawn(Part::Heading, head));
            y += SMALL_HEAD.height(1);
            let list = items.iter().map(|lines| {
                let item = Element::item(SMALL_TYPE.set(lines, x, y, Anchor::Left));
                y += SMALL_TYPE.height(lines.len());
                item
            });
            elements.push(Element::group(Part::List, list.collect()));
        }
        (top, elements)
    }

    /// How much room pictures and columns need; pictures shrink before the ruler does.
    fn below(&self, content: &Content, pictures: &[PictureSlot], foot_top: f64) -> Below {
        let columns = column_height(content, self.width);
        let shown = pictures.len().min(2);
        let caption = SMALL_TYPE.height(1) + 5.0;
        let rows = content.swings.len().min(20) as f64;
        let ruler = 110.0 + rows * 11.0;
        let room = foot_top - self.y - ruler - columns - 3.0 * GAP - caption;
        let full = picture_width(self.width, shown) * 9.0 / 16.0;
        let picture_height = if shown == 0 { 0.0 } else { room.min(full).clamp(70.0, 190.0) };
        let pictures = if shown == 0 { 0.0 } else { picture_height + caption + GAP };
        Below { height: pictures + columns + 2.0 * GAP, picture_height }
    }

    fn ruler(&mut self, content: &Content, bottom: f64) {
        let mut style = Style {
            width: self.width,
            row: 14.0,
            gutter: 40.0,
            margin: 4.0,
            type_size: 8.0,
            stroke: 0.9,
            unit: content.unit,
        };
        let aim = content.aim_window.map(|w| [w.from_mm, w.to_mm]);
        let mut groups = ruler::groups_of(content);
        emphasise_latest(&mut groups);
        let all: usize = groups.iter().map(|g| g.bars.len()).sum();
        keep_told(&mut groups, &blocks_shown(content));
        let range = ruler::range_of(groups.iter().flat_map(|g| &g.bars), aim);
        let headings = groups.iter().filter(|g| !g.name.is_empty()).count() as f64;
        let head = ruler::head(range, aim, &style);
        let room = bottom - self.y - head.height - headings * style.type_size * 2.0;
        let shown = keep_newest(&mut groups, (room / LEAST_ROW).max(4.0) as usize);
        style.row = (room / shown.max(1) as f64).clamp(LEAST_ROW, 14.0);
        style.type_size = style.type_size.min(style.row * 0.92);
        let mut drawing = ruler::draw(&groups, aim, &style);
        let left_out = (shown < all).then(|| shown_words(&groups, all));
        legend(&mut drawing, &style.along(range), aim.is_some(), left_out.as_deref());
        let height = drawing.height;
        let mut shapes = Drawing::default();
        shapes.place(drawing, [self.left, self.y]);
        let description = Some(ruler_description(content));
        let figure = Element { description, ..Element::drawn(Part::Figure, shapes.shapes) };
        self.page.elements.push(figure);
        self.y += height + GAP;
    }

    fn pictures(&mut self, pictures: &[PictureSlot], height: f64) {
        let shown = pictures.len().min(2);
        if shown == 0 {
            return;
        }
        let (width, gap) = (picture_width(self.width, shown), 12.0);
        for (i, picture) in pictures.iter().take(2).enumerate() {
            let x = self.left + i as f64 * (width + gap);
            let rectangle = [[x, self.y], [x + width, self.y + height]];
            let figure = Element {
                description: Some(picture.caption.clone()),
                picture: Some((i, rectangle)),
                ..Element::drawn(Part::Figure, Vec::new())
            };
            let caption = SMALL_TYPE.wrap(&picture.caption, width, 1);
            let shapes = SMALL_TYPE.set(&caption, x, self.y + height + 4.0, Anchor::Left);
            self.page.elements.push(figure);
            self.page.elements.push(Element::drawn(Part::Caption, shapes));
        }
        self.y += height + SMALL_TYPE.height(1) + 5.0 + GAP;
    }

    /// The blocks in numbers to the left, the coach's words and what to practise to the right.
    fn columns(&mut self, content: &Content, bottom: f64) {
        let blocks = blocks_shown(content);
        let [left, right] = column_widths(self.width, !blocks.is_empty());
        let top = self.y;
        if !blocks.is_empty() {
            self.table(&blocks, content.mark(), left);
        }
        let x = self.left + self.width - right;
        let mut y = top;
        for section in sections(content, right) {
            let head = HEAD_TYPE.set(&[section.head.to_owned()], x, y, Anchor::Left);
            self.page.elements.push(Element::drawn(Part::Heading, head));
            y += HEAD_TYPE.height(1) + 1.0;
            let mut items = Vec::new();
            for lines in section.items {
                if y + BODY_TYPE.height(lines.len()) > bottom {
                    break;
                }
                let indent = if section.list { 11.0 } else { 0.0 };
                let mut shapes = BODY_TYPE.set(&lines, x + indent, y, Anchor::Left);
                if section.list {
                    let dash = BODY_TYPE.set(&["–".to_owned()], x, y, Anchor::Left);
                    shapes.splice(0..0, dash);
                }
                y += BODY_TYPE.height(lines.len()) + 1.5;
                items.push(match section.list {
                    true => Element::item(shapes),
                    false => Element::drawn(Part::Paragraph, shapes),
                });
            }
            match section.list {
                true => self.page.elements.push(Element::group(Part::List, items)),
                false => self.page.elements.extend(items),
            }
            y += 8.0;
        }
    }

    fn table(&mut self, blocks: &[&BlockSummary], mark: MarkWord, width: f64) {
        let label = 76.0;
        let column = (width - label) / blocks.len() as f64;
        let right_of = |i: usize| self.left + label + column * (i + 1) as f64;
        let mut y = self.y;
        let mut rows = Vec::new();
        let head = blocks.iter().enumerate().map(|(i, block)| {
            let words = HEAD_TYPE.wrap(block_name(block), column - 8.0, 1);
            Element::drawn(Part::ColumnHead, HEAD_TYPE.set(&words, right_of(i), y, Anchor::Right))
        });
        rows.push(Element::group(Part::Row, head.collect()));
        y += ROW;
        let mut lines = Drawing::default();
        for (name, cells) in table_rows(blocks, mark) {
            let (from, to) = ([self.left, y], [self.left + width, y]);
            lines.line(from, to, 0.5, Tone::Hairline.ink());
            let top = y + (ROW - BODY_TYPE.height(1)) / 2.0;
            let name = QUIET_TYPE.set(&[name.to_owned()], self.left, top, Anchor::Left);
            let mut row = vec![Element::drawn(Part::RowHead, name)];
            // A number without its ± is none: rather smaller than cut off.
            let room = column - 6.0;
            let fits = cells.iter().all(|cell| BODY_TYPE.wrap(cell, room, 2).len() == 1);
            let letters = if fits { BODY_TYPE } else { TIGHT_TYPE };
            row.extend(cells.into_iter().enumerate().map(|(i, cell)| {
                let words = letters.wrap(&cell, room, 1);
                Element::drawn(Part::Cell, letters.set(&words, right_of(i), top, Anchor::Right))
            }));
            rows.push(Element::group(Part::Row, row));
            y += ROW;
        }
        self.page.ornaments.extend(lines.shapes);
        self.page.elements.push(Element::group(Part::Table, rows));
    }
}

/// Items of the small print broken into lines; what exceeds fourteen lines is left out.
fn small_lines(items: &[String], width: f64) -> Vec<Vec<String>> {
    let mut room = 14;
    let mut set = Vec::new();
    for item in items {
        let lines = SMALL_TYPE.wrap(item, width, 6);
        if lines.len() > room {
            break;
        }
        room -= lines.len();
        set.push(lines);
    }
    set
}

/// A swing's row is at least so high, in points, that its number stands clear of the next.
const LEAST_ROW: f64 = 7.0;
/// Height of a table's row.
const ROW: f64 = 16.5;

/// Place, clubs, surface and number of swings in one line.
pub(super) fn facts(content: &Content) -> String {
    let swings = counted(content.swings.len(), "swing");
    let clubs = content.clubs.join(", ");
    let facts = [content.place.as_str(), &clubs, &content.surface, &swings];
    facts.into_iter().filter(|f| !f.is_empty()).collect::<Vec<_>>().join("  ·  ")
}

/// The comparison's sentence, or the mean of the only block.
pub(super) fn headline_words(content: &Content) -> Option<String> {
    if let Some(comparison) = &content.comparison {
        return Some(comparison.sentence.clone());
    }
    let block = content.blocks.iter().rfind(|block| block.divot_start.is_some())?;
    let start = block.divot_start.as_ref()?;
    let of = match content.blocks.len() > 1 && !block.name.is_empty() {
        true => format!(", {}", block.name),
        false => String::new(),
    };
    let name = content.mark().start_title();
    Some(format!("{name}{of}: on average {}.", start.mean_mm.words))
}

fn picture_width(width: f64, shown: usize) -> f64 {
    if shown == 2 { (width - 12.0) / 2.0 } else { width }
}

fn column_widths(width: f64, table: bool) -> [f64; 2] {
    let gap = 26.0;
    if table { [(width - gap) * 0.54, (width - gap) * 0.46] } else { [0.0, width] }
}

/// The block's name; one without a name holds all swings.
pub(super) fn block_name(block: &BlockSummary) -> &str {
    if block.name.is_empty() { "all swings" } else { &block.name }
}

/// The two blocks that are compared, else the last two whose marks have a mean, else the last two.
pub(super) fn blocks_shown(content: &Content) -> Vec<&BlockSummary> {
    let named = |name: &str| content.blocks.iter().find(|b| b.name == name);
    let compared = content.comparison.as_ref().map(|c| [named(&c.before), named(&c.after)]);
    match compared {
        Some([Some(before), Some(after)]) => vec![before, after],
        _ => {
            let has_mean = |block: &&BlockSummary| block.divot_start.is_some();
            let told: Vec<_> = content.blocks.iter().filter(has_mean).collect();
            let all: Vec<_> = content.blocks.iter().collect();
            let of = if told.len() < 2 { all } else { told };
            of[of.len().saturating_sub(2)..].to_vec()
        }
    }
}

pub(super) fn table_rows(
    blocks: &[&BlockSummary],
    mark: MarkWord,
) -> Vec<(&'static str, Vec<String>)> {
    let none = || "–".to_owned();
    let mean = |s: &Option<Spread>| s.as_ref().map_or_else(none, |s| s.mean_mm.words.clone());
    let sd = |s: &Option<Spread>| {
        s.as_ref().and_then(|s| s.sd_mm.as_ref()).map_or_else(none, |f| f.words.clone())
    };
    let share =
        |s: &Option<super::content::Share>| s.as_ref().map_or_else(none, |s| s.words.clone());
    let row = |name, cell: &dyn Fn(&BlockSummary) -> String| {
        (name, blocks.iter().map(|b| cell(b)).collect::<Vec<_>>())
    };
    let rows = [
        row(mark.start_title(), &|b| mean(&b.divot_start)),
        row("its spread (SD)", &|b| sd(&b.divot_start)),
        row("Low point", &|b| mean(&b.low_point)),
        row("its spread (SD)", &|b| sd(&b.low_point)),
        row("Ball first", &|b| share(&b.ball_first)),
        row("In aim window", &|b| share(&b.in_aim_window)),
        row("Swings", &|b| match b.left_out {
            0 => b.counted.to_string(),
            n => format!("{}, {n} left out", b.counted),
        }),
    ];
    rows.into_iter().filter(|(_, cells)| cells.iter().any(|c| c != "–")).collect()
}

/// A heading with its paragraphs or items, broken into lines.
struct Section {
    head: &'static str,
    list: bool,
    items: Vec<Vec<String>>,
}

fn sections(content: &Content, width: f64) -> Vec<Section> {
    let mut sections = Vec::new();
    if !content.coach_words.is_empty() {
        let items = vec![BODY_TYPE.wrap(&content.coach_words, width, 7)];
        sections.push(Section { head: "Your coach's words", list: false, items });
    }
    if !content.practise.is_empty() {
        let items = practise_lines(&content.practise, width - 11.0);
        sections.push(Section { head: "What to practise", list: true, items });
    }
    sections
}

/// At most five items, broken into lines. A few are told in full; many are cut short, so that
/// the ruler keeps its room.
fn practise_lines(items: &[String], width: f64) -> Vec<Vec<String>> {
    const ROOM: usize = 16;
    let cut = |most| -> Vec<Vec<String>> {
        items.iter().take(5).map(|item| BODY_TYPE.wrap(item, width, most)).collect()
    };
    let fits = |lines: &Vec<Vec<String>>| lines.iter().map(Vec::len).sum::<usize>() <= ROOM;
    (4..=6).rev().map(cut).find(fits).unwrap_or_else(|| cut(3))
}

fn column_height(content: &Content, width: f64) -> f64 {
    let blocks = blocks_shown(content);
    let [_, right] = column_widths(width, !blocks.is_empty());
    let table = if blocks.is_empty() {
        0.0
    } else {
        ROW * (1 + table_rows(&blocks, content.mark()).len()) as f64
    };
    let section = |s: &Section| {
        let items: f64 = s.items.iter().map(|i| BODY_TYPE.height(i.len()) + 1.5).sum();
        HEAD_TYPE.height(1) + 1.0 + items + 8.0
    };
    sections(content, right).iter().map(section).sum::<f64>().max(table)
}

/// With several blocks the latest one is told apart by the accent.
fn emphasise_latest(groups: &mut [Group]) {
    if let [latest, _, ..] = groups {
        latest.bars.iter_mut().for_each(|bar| bar.current = true);
    }
}

/// With many blocks, only the newest and those of the table: bars that can be read.
fn keep_told(groups: &mut Vec<Group>, told: &[&BlockSummary]) {
    const MANY: usize = 3;
    if groups.len() <= MANY {
        return;
    }
    let mut place = 0;
    groups.retain(|group| {
        place += 1;
        place == 1 || told.iter().any(|block| block.name == group.name)
    });
}

/// Keeps at most `most` bars, the newest of each group alike; returns how many are left.
fn keep_newest(groups: &mut [Group], most: usize) -> usize {
    let mut depth = groups.iter().map(|g| g.bars.len()).max().unwrap_or(0);
    let kept = |groups: &[Group], depth: usize| {
        groups.iter().map(|g| g.bars.len().min(depth)).sum::<usize>()
    };
    while depth > 1 && kept(groups, depth) > most {
        depth -= 1;
    }
    for group in groups.iter_mut() {
        group.bars.truncate(depth);
    }
    kept(groups, depth)
}

/// "the newest 8 of 75 swings", "the newest swing of these blocks": which bars stayed.
fn shown_words(groups: &[Group], all: usize) -> String {
    let most = groups.iter().map(|g| g.bars.len()).max().unwrap_or(0);
    match (groups.len(), most) {
        (0 | 1, _) => format!("the newest {most} of {all} swings"),
        (_, 1) => "the newest swing of these blocks".into(),
        _ => format!("the newest {most} swings of these blocks"),
    }
}

/// What the signs mean, in the free room beside the ball.
fn legend(drawing: &mut Drawing, x: &Along, aim: bool, shown: Option<&str>) {
    let ball = Millimetres::BALL.0 / 2.0;
    let right = [x.at(ball) + 18.0, x.right];
    let left = [x.left, x.at(-ball) - 18.0];
    let [from, to] = if right[1] - right[0] >= left[1] - left[0] { right } else { left };
    let mut pen = [from, SMALL * 0.7];
    let mut next = |drawing: &mut Drawing, sign: f64, text: &str| {
        let words = face(false).width(text) * SMALL;
        if pen[0] + sign + 4.0 + words > to && pen[0] > from {
            pen = [from, pen[1] + SMALL * 1.8];
        }
        let at = [pen[0] + sign + 4.0, pen[1] - SMALL_TYPE.height(1) / 2.0];
        drawing.shapes.extend(SMALL_TYPE.set(&[text.to_owned()], at[0], at[1], Anchor::Left));
        let place = pen;
        pen[0] = at[0] + words + 14.0;
        place
    };
    let ink = Tone::Text.ink();
    let [x, y] = next(drawing, 18.0, "divot, start to end");
    drawing.fill([x, y - 2.5], [x + 18.0, y + 2.5], 1.2, Tone::Text.faint(0.5));
    let [x, y] = next(drawing, 14.0, "± (95 %)");
    drawing.line([x, y], [x + 14.0, y], 1.1, ink);
    for end in [x, x + 14.0] {
        drawing.line([end, y - 2.2], [end, y + 2.2], 1.1, ink);
    }
    let [x, y] = next(drawing, 6.0, "low point");
    drawing.line([x + 3.0, y - 4.0], [x + 3.0, y + 3.0], 1.4, ink);
    let points = vec![[x + 3.0, y + 4.5], [x + 0.8, y + 1.0], [x + 5.2, y + 1.0]];
    drawing.shapes.push(Shape::Polygon { points, fill: Some(ink), outline: None });
    if aim {
        let [x, y] = next(drawing, 10.0, "aim window");
        drawing.fill([x, y - 3.5], [x + 10.0, y + 3.5], 0.0, Tone::Accent.faint(0.12));
    }
    if let Some(shown) = shown {
        next(drawing, -4.0, shown);
    }
}

/// The ruler in words, for readers that do not see it.
fn ruler_description(content: &Content) -> String {
    let name = content.mark().start();
    let swing = |s: &super::content::SwingRow| {
        let start = s.divot_start_mm.as_ref().map_or("not known", |f| f.words.as_str());
        let low = s.low_point_mm.as_ref().map(|f| format!(", low point {}", f.words));
        format!("Swing {}: {name} {start}{}.", s.number, low.unwrap_or_default())
    };
    let head = "Ruler on the turf, ball at zero, target to the right.".to_owned();
    std::iter::once(head).chain(content.swings.iter().map(swing)).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paper_sizes_are_the_standards() {
        // ISO 216: A4 is 210 mm by 297 mm; Letter is 8.5 in by 11 in. 1 pt = 1/72 in.
        let [width, height] = Paper::A4.points();
        assert!((width - 595.2756).abs() < 1e-3 && (height - 841.8898).abs() < 1e-3);
        assert_eq!(Paper::Letter.points(), [612.0, 792.0]);
    }

    #[test]
    fn the_newest_bars_stay() {
        let bars = |n: usize| {
            let bar = |i: usize| ruler::Bar {
                label: i.to_string(),
                start: None,
                end: None,
                low_point: None,
                current: false,
                left_out: false,
                practice: false,
            };
            Group { name: String::new(), bars: (0..n).rev().map(bar).collect() }
        };
        let mut groups = vec![bars(10), bars(3)];
        assert_eq!(keep_newest(&mut groups, 8), 8);
        assert_eq!([groups[0].bars.len(), groups[1].bars.len()], [5, 3]);
        assert_eq!(groups[0].bars[0].label, "9");
        assert_eq!(shown_words(&groups, 13), "the newest 5 swings of these blocks");
        assert_eq!(shown_words(&groups[..1], 10), "the newest 5 of 10 swings");
        assert_eq!(keep_newest(&mut groups, 2), 2);
        assert_eq!(shown_words(&groups, 13), "the newest swing of these blocks");
        assert_eq!(keep_newest(&mut [], 8), 0);
    }

    #[test]
    fn a_few_things_to_practise_are_told_in_full() {
        let long = "brush the ground at the reach line or beyond ".repeat(3);
        let lines = |n: usize, width| practise_lines(&vec![long.clone(); n], width);
        let full = BODY_TYPE.wrap(&long, 160.0, 99);
        assert!((4..=5).contains(&full.len()), "{full:?}");
        assert_eq!(lines(3, 160.0), vec![full; 3]);
        let many = lines(7, 160.0);
        assert_eq!(many.len(), 5);
        assert!(many.iter().all(|item| item.len() == 3 && item[2].ends_with('…')), "{many:?}");
    }

    /// Found by spoiled files: a name of thousands of characters was set anew for each of them.
    #[test]
    fn a_line_is_cut_where_it_fits() {
        let (width, fits) = (60.0, |t: &str| face(false).width(t) * BODY);
        let line = "iiWWW".repeat(8000);
        let cut = BODY_TYPE.cut(&line, width);
        let kept = cut.chars().count() - 1;
        assert!(fits(&cut) <= width && cut.ends_with('…') && kept > 3, "{cut}");
        assert!(fits(&format!("{}…", &line[..=kept])) > width);
        assert_eq!(BODY_TYPE.cut("é short", 200.0), "é short…");
        assert_eq!(BODY_TYPE.cut(&line, -5.0), "…");
    }

    #[test]
    fn too_many_words_end_in_an_ellipsis() {
        let lines = BODY_TYPE.wrap("one two three four five six", 30.0, 2);
        assert_eq!(lines.len(), 2);
        assert!(lines[1].ends_with('…'), "{lines:?}");
    }
}
