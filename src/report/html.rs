//! The report as one web page without any outside request: words, tables, the ruler as vector
//! graphics and the pictures lie within the file, and its content policy forbids the rest.

use std::fmt::Write;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;

use super::ReportError;
use super::content::{Content, Figure, SwingRow};
use super::page;
use super::picture::{self, Picture};
use super::ruler::{self, Style};
use super::svg::{self, escape};

/// The page. Every text is escaped; pictures are written into it as JPEG.
///
/// # Errors
/// [`ReportError::Picture`] if a picture cannot be written.
pub fn write(content: &Content, pictures: &[Picture]) -> Result<String, ReportError> {
    let mut out = String::new();
    head(&mut out, content);
    // Writing to a string does not fail, here and below.
    let _ = writeln!(out, "<header><h1>{}</h1>", escape(&content.golfer));
    let facts = [content.date_words(), page::facts(content)];
    let facts: Vec<&str> = facts.iter().map(String::as_str).filter(|f| !f.is_empty()).collect();
    let _ = writeln!(out, "<p class=\"quiet\">{}</p></header>", escape(&facts.join("  ·  ")));
    if let Some(sentence) = page::headline_words(content) {
        let _ = writeln!(out, "<p class=\"lead\">{}</p>", escape(&sentence));
    }
    if let Some(more) = content.comparison.as_ref().and_then(|c| c.more_swings.as_ref()) {
        let _ = writeln!(out, "<p class=\"quiet\">{}</p>", escape(more));
    }
    out.push_str(&drawn_ruler(content));
    figures(&mut out, pictures)?;
    blocks(&mut out, content);
    section(&mut out, "Your coach's words", std::slice::from_ref(&content.coach_words), "p");
    section(&mut out, "What to practise", &content.practise, "li");
    swings(&mut out, content);
    out.push_str("<footer>\n");
    section(&mut out, "How it was measured", &content.how_measured, "li");
    section(&mut out, "Please mind", &content.cautions, "li");
    out.push_str("</footer>\n</main>\n</body>\n</html>\n");
    Ok(out)
}

const STYLE: &str = "
:root { color-scheme: light dark; --text: #1c201e; --quiet: #5c645f; --hairline: #d5d6cf;
  --accent: #2452b8; --surface: #fff; }
@media (prefers-color-scheme: dark) { :root { --text: #eaece8; --quiet: #a3aba6;
  --hairline: #383e3d; --accent: #8fb4ff; --surface: #1a1d1d; } }
body { margin: 0; background: var(--surface); color: var(--text);
  font: 16px/1.5 Lato, 'Segoe UI', system-ui, sans-serif; font-variant-numeric: tabular-nums; }
main { max-width: 52rem; margin: 0 auto; padding: 2.5rem 1.25rem; }
h1 { font-size: 2rem; line-height: 1.2; margin: 0; } h2 { font-size: 1rem; margin: 1.6rem 0 .3rem; }
p { margin: .2rem 0; } ul { margin: 0; padding-left: 1.1rem; }
header { border-bottom: 1px solid var(--hairline); padding-bottom: 1rem; margin-bottom: 1.2rem; }
.quiet, footer, figcaption { color: var(--quiet); } .lead { font-size: 1.35rem; font-weight: 600; }
svg { width: 100%; height: auto; margin: 1rem 0; }
.pictures { display: grid; grid-template-columns: repeat(auto-fit, minmax(18rem, 1fr)); gap: 1rem; }
figure { margin: 0; } img { width: 100%; display: block; border-radius: 4px; }
figcaption, footer, td, th { font-size: .875rem; }
.wide { overflow-x: auto; } table { border-collapse: collapse; width: 100%; }
td, th { text-align: left; padding: .3rem .9rem .3rem 0; border-bottom: 1px solid var(--hairline);
  white-space: nowrap; } tr.out { color: var(--quiet); }
footer { border-top: 1px solid var(--hairline); margin-top: 2rem; }
@media print { main { padding: 0; } }
";

fn head(out: &mut String, content: &Content) {
    let title = escape(&content.golfer);
    let _ = write!(
        out,
        "<!DOCTYPE html>\n<html lang=\"en-GB\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" \
         content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'\">\n\
         <title>{title}: where the club met the turf</title>\n<style>{STYLE}</style>\n</head>\n\
         <body>\n<main>\n"
    );
}

fn drawn_ruler(content: &Content) -> String {
    let style = Style {
        width: 800.0,
        row: 22.0,
        gutter: 64.0,
        margin: 6.0,
        type_size: 13.0,
        stroke: 1.3,
        unit: content.unit,
    };
    let aim = content.aim_window.map(|w| [w.from_mm, w.to_mm]);
    let drawing = ruler::draw(&ruler::groups_of(content), aim, &style);
    svg::write(&drawing, "The turf ruler: ball at zero, target to the right, one bar a swing")
}

fn figures(out: &mut String, pictures: &[Picture]) -> Result<(), ReportError> {
    if pictures.is_empty() {
        return Ok(());
    }
    out.push_str("<div class=\"pictures\">\n");
    for shown in pictures {
        let image = picture::shrink(picture::rgb(&shown.frame)?, 1280);
        let data = STANDARD.encode(picture::jpeg(&image)?);
        let words = escape(&shown.caption);
        let _ = writeln!(
            out,
            "<figure><img alt=\"{words}\" src=\"data:image/jpeg;base64,{data}\">\
             <figcaption>{words}</figcaption></figure>"
        );
    }
    out.push_str("</div>\n");
    Ok(())
}

fn blocks(out: &mut String, content: &Content) {
    let blocks = page::blocks_shown(content);
    if blocks.is_empty() {
        return;
    }
    out.push_str("<h2>In numbers</h2>\n<table>\n<tr><td></td>");
    for block in &blocks {
        let _ = write!(out, "<th scope=\"col\">{}</th>", escape(page::block_name(block)));
    }
    out.push_str("</tr>\n");
    for (name, cells) in page::table_rows(&blocks, content.mark()) {
        let _ = write!(out, "<tr><th scope=\"row\">{name}</th>");
        cells.iter().for_each(|cell| _ = write!(out, "<td>{}</td>", escape(cell)));
        out.push_str("</tr>\n");
    }
    out.push_str("</table>\n");
}

fn section(out: &mut String, head: &str, items: &[String], tag: &str) {
    let items: Vec<&String> = items.iter().filter(|i| !i.is_empty()).collect();
    if items.is_empty() {
        return;
    }
    let _ = writeln!(out, "<h2>{head}</h2>");
    let (open, close) = if tag == "li" { ("<ul>\n", "</ul>\n") } else { ("", "") };
    out.push_str(open);
    items.iter().for_each(|item| _ = writeln!(out, "<{tag}>{}</{tag}>", escape(item)));
    out.push_str(close);
}

fn swings(out: &mut String, content: &Content) {
    out.push_str("<h2>Every swing</h2>\n<div class=\"wide\"><table>\n<tr>");
    let heads = [
        "Swing",
        "Block",
        "Club",
        content.mark().start_title(),
        content.mark().end_title(),
        "Low point",
        "Attack angle",
        "Contact",
        "Notes",
    ];
    heads.iter().for_each(|head| _ = write!(out, "<th scope=\"col\">{head}</th>"));
    out.push_str("</tr>\n");
    content.swings.iter().for_each(|swing| swing_row(out, swing));
    out.push_str("</table></div>\n");
}

fn swing_row(out: &mut String, swing: &SwingRow) {
    let words = |f: &Option<Figure>| f.as_ref().map_or("–".into(), |f| escape(&f.words));
    let notes = match &swing.left_out {
        Some(reason) => format!("left out: {reason} {}", swing.notes),
        None => swing.notes.clone(),
    };
    let class = if swing.left_out.is_some() { " class=\"out\"" } else { "" };
    let order = swing.contact_words().unwrap_or("–");
    let _ = write!(out, "<tr{class}><th scope=\"row\">{}</th>", swing.number);
    let cells = [
        escape(&swing.block),
        escape(&swing.club),
        words(&swing.divot_start_mm),
        words(&swing.divot_end_mm),
        words(&swing.low_point_mm),
        words(&swing.attack_angle_deg),
        order.to_owned(),
        escape(notes.trim()),
    ];
    cells.iter().for_each(|cell| _ = write!(out, "<td>{cell}</td>"));
    out.push_str("</tr>\n");
}
