//! A drawing as vector graphics within a web page; its tones are the page's own colours.

use std::fmt::Write;

use super::drawing::{Anchor, Drawing, Ink, Outline, Shape, Tone, Words};
use super::typeface::face;

/// The drawing as an `svg` element with a title for readers that do not see it. Colours are
/// CSS variables: `--text`, `--quiet`, `--hairline`, `--accent`, `--surface`.
pub fn write(drawing: &Drawing, title: &str) -> String {
    let (width, height) = (drawing.width, drawing.height);
    let mut out = format!(
        "<svg viewBox=\"0 0 {width:.1} {height:.1}\" role=\"img\" \
         xmlns=\"http://www.w3.org/2000/svg\">\n<title>{}</title>\n",
        escape(title)
    );
    for shape in &drawing.shapes {
        out.push_str(&element(shape));
        out.push('\n');
    }
    out.push_str("</svg>\n");
    out
}

/// The text with what HTML and XML read as markup written out.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // Control characters are not allowed in XML at all.
            c if c.is_control() && c != '\n' && c != '\t' => {}
            c => out.push(c),
        }
    }
    out
}

fn element(shape: &Shape) -> String {
    match shape {
        Shape::Line { from: [x1, y1], to: [x2, y2], outline } => format!(
            "<line x1=\"{x1:.2}\" y1=\"{y1:.2}\" x2=\"{x2:.2}\" y2=\"{y2:.2}\"{}/>",
            stroke(Some(*outline))
        ),
        Shape::Rect { min, max, radius, fill: inside, outline } => format!(
            "<rect x=\"{:.2}\" y=\"{:.2}\" width=\"{:.2}\" height=\"{:.2}\" rx=\"{radius:.2}\"{}{}/>",
            min[0],
            min[1],
            max[0] - min[0],
            max[1] - min[1],
            fill(*inside),
            stroke(*outline)
        ),
        Shape::Circle { centre: [x, y], radius, fill: inside, outline } => format!(
            "<circle cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"{radius:.2}\"{}{}/>",
            fill(*inside),
            stroke(*outline)
        ),
        Shape::Polygon { points, fill: inside, outline } => {
            let mut list = String::new();
            for [x, y] in points {
                // Writing to a string does not fail.
                let _ = write!(list, "{x:.2},{y:.2} ");
            }
            let list = list.trim_end();
            format!("<polygon points=\"{list}\"{}{}/>", fill(*inside), stroke(*outline))
        }
        Shape::Words(words) => text(words),
    }
}

fn text(words: &Words) -> String {
    let anchor = match words.anchor {
        Anchor::Left => "start",
        Anchor::Centre => "middle",
        Anchor::Right => "end",
    };
    let baseline = words.at[1] + face(words.strong).cap_height * words.size / 2.0;
    let weight = if words.strong { " font-weight=\"600\"" } else { "" };
    format!(
        "<text x=\"{:.2}\" y=\"{baseline:.2}\" text-anchor=\"{anchor}\" font-size=\"{:.2}\"{weight}{}>{}</text>",
        words.at[0],
        words.size,
        fill(Some(words.ink)),
        escape(&words.text)
    )
}

fn colour(tone: Tone) -> &'static str {
    match tone {
        Tone::Text => "var(--text)",
        Tone::Quiet => "var(--quiet)",
        Tone::Hairline => "var(--hairline)",
        Tone::Accent => "var(--accent)",
        Tone::Surface => "var(--surface)",
        Tone::White => "#fff",
    }
}

fn fill(ink: Option<Ink>) -> String {
    let Some(ink) = ink else { return " fill=\"none\"".into() };
    let opacity = opacity("fill-opacity", ink);
    format!(" fill=\"{}\"{opacity}", colour(ink.tone))
}

fn stroke(outline: Option<Outline>) -> String {
    let Some(Outline { ink, width }) = outline else { return String::new() };
    let opacity = opacity("stroke-opacity", ink);
    format!(" stroke=\"{}\" stroke-width=\"{width:.2}\"{opacity}", colour(ink.tone))
}

fn opacity(name: &str, ink: Ink) -> String {
    if ink.opacity < 1.0 { format!(" {name}=\"{:.3}\"", ink.opacity) } else { String::new() }
}
