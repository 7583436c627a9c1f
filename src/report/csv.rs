//! A report as a table (RFC 4180): one row a swing, units in the header, UTF-8.
//!
//! Text that a spreadsheet would take for a formula gets an apostrophe in front, which reading
//! takes away again (the remedy of OWASP's page on CSV injection). Numbers are written in the
//! shortest form that reads back as the same number.

use std::collections::HashMap;

use csv_core::{ReadRecordResult, Reader, Terminator, WriteResult, WriterBuilder};
use serde::{Serialize, de::DeserializeOwned};

use super::ReportError;
use super::content::{Content, Figure, SwingRow};

/// A row of the table as it is read back: the swing and the session it was made in.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// The golfer's name.
    pub golfer: String,
    /// The day, ISO 8601.
    pub date: String,
    /// Where.
    pub place: String,
    /// "turf" or "mat"; empty if unknown.
    pub surface: String,
    /// The swing.
    pub swing: SwingRow,
}

/// A figure's name and unit in the header; see [`figure_columns`].
const START: [&str; 2] = ["divot start", "mm ahead of the ball"];
const END: [&str; 2] = ["divot end", "mm ahead of the ball"];
const LOW_POINT: [&str; 2] = ["low point", "mm ahead of the ball"];
const ATTACK: [&str; 2] = ["attack angle", "degrees upward"];

fn figure_columns([name, unit]: [&str; 2]) -> [String; 5] {
    let short = unit.split(' ').next().unwrap_or(unit);
    [
        format!("{name} ({unit})"),
        format!("{name} ± ({short})"),
        format!("{name} low ({short})"),
        format!("{name} high ({short})"),
        format!("{name} in words"),
    ]
}

/// The header.
pub fn header() -> Vec<String> {
    let plain = |names: &[&str]| names.iter().map(|n| (*n).to_owned()).collect::<Vec<_>>();
    let session = ["golfer", "date", "place", "surface", "block", "swing", "club", "kind"];
    let mut header = plain(&session);
    header.push("ground mark".into());
    header.extend(figure_columns(START));
    header.extend(figure_columns(END));
    header.extend(figure_columns(LOW_POINT));
    header.push("low point from".into());
    header.extend(figure_columns(ATTACK));
    header.extend(plain(&[
        "contact order",
        "still to look at",
        "counts",
        "left out because",
        "notes",
    ]));
    header
}

/// The report's swings as a table, lines ending in CR LF.
pub fn write(content: &Content) -> String {
    let mut table = Vec::new();
    write_record(&mut table, &header());
    for swing in &content.swings {
        write_record(&mut table, &line(content, swing));
    }
    String::from_utf8(table).expect("every field is text")
}

/// Appends one record with its line end; fields are quoted where RFC 4180 asks for it.
fn write_record(table: &mut Vec<u8>, fields: &[String]) {
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).build();
    let longest = fields.iter().map(String::len).max().unwrap_or(0);
    // Each quote is doubled and two are put around: no step can need more room than this.
    let mut room = vec![0; 2 * longest + 8];
    let mut put = |(result, written): (WriteResult, usize), room: &[u8]| {
        assert_eq!(result, WriteResult::InputEmpty, "the room was measured for the longest field");
        table.extend_from_slice(&room[..written]);
    };
    for (i, field) in fields.iter().enumerate() {
        if i > 0 {
            put(writer.delimiter(&mut room), &room);
        }
        let (result, read, written) = writer.field(field.as_bytes(), &mut room);
        debug_assert_eq!(read, field.len());
        put((result, written), &room);
    }
    put(writer.terminator(&mut room), &room);
}

fn line(content: &Content, swing: &SwingRow) -> Vec<String> {
    let mut line = vec![
        guard(&content.golfer),
        guard(&content.date),
        guard(&content.place),
        guard(&content.surface),
        guard(&swing.block),
        swing.number.to_string(),
        guard(&swing.club),
        word(&swing.kind),
        swing.ground_mark.as_ref().map(word).unwrap_or_default(),
    ];
    line.extend(figure_fields(swing.divot_start_mm.as_ref()));
    line.extend(figure_fields(swing.divot_end_mm.as_ref()));
    line.extend(figure_fields(swing.low_point_mm.as_ref()));
    line.push(swing.low_point_method.as_ref().map(word).unwrap_or_default());
    line.extend(figure_fields(swing.attack_angle_deg.as_ref()));
    line.push(swing.contact_order.as_ref().map(word).unwrap_or_default());
    line.push(swing.needs_review.iter().map(word).collect::<Vec<_>>().join(" "));
    line.push(if swing.left_out.is_some() { "no" } else { "yes" }.into());
    line.push(guard(swing.left_out.as_deref().unwrap_or_default()));
    line.push(guard(&swing.notes));
    line
}

fn figure_fields(figure: Option<&Figure>) -> [String; 5] {
    let Some(f) = figure else { return Default::default() };
    let [low, high] = f.interval_95;
    let numbers = [f.value, f.expanded_uncertainty, low, high].map(|n| n.to_string());
    let [value, half, low, high] = numbers;
    [value, half, low, high, guard(&f.words)]
}

/// Reads back what [`write()`] wrote, also with columns in another order or added ones.
///
/// # Errors
/// [`ReportError::Table`] with the line that cannot be read.
pub fn read(text: &str) -> Result<Vec<Row>, ReportError> {
    let mut records = records(text)?.into_iter();
    let (_, header) = records.next().unwrap_or_default();
    let columns = header.into_iter().enumerate().map(|(i, name)| (name, i)).collect();
    records
        .map(|(line, record)| {
            if record.len() != columns_of(&columns) {
                let (found, wanted) = (record.len(), columns_of(&columns));
                let why = format!("it has {found} fields, the header {wanted}");
                return Err(ReportError::Table { line, why });
            }
            Fields { columns: &columns, line, record }.row()
        })
        .collect()
}

fn columns_of(columns: &HashMap<String, usize>) -> usize {
    columns.values().max().map_or(0, |last| last + 1)
}

/// The records of a table with the line on which each begins, from 1.
///
/// # Errors
/// [`ReportError::Table`] if a field is cut within a character.
pub fn records(text: &str) -> Result<Vec<(u64, Vec<String>)>, ReportError> {
    let mut reader = Reader::new();
    let mut input = text.as_bytes();
    // A record cannot hold more than the text does.
    let (mut fields, mut ends) = (vec![0; input.len() + 1], vec![0; input.len() + 2]);
    let (mut found, mut line) = (Vec::new(), 1);
    loop {
        // The reader stops within CR LF and passes over empty lines, so both lie ahead of it.
        let blank = input.iter().take_while(|b| b"\r\n".contains(b)).count();
        line += line_breaks(&input[..blank]);
        input = &input[blank..];
        let (mut result, read, written, mut end) =
            reader.read_record(input, &mut fields, &mut ends);
        let lines = line_breaks(&input[..read]);
        input = &input[read..];
        if result == ReadRecordResult::InputEmpty {
            // A last line without a line break: an empty input says that nothing follows.
            let (room, more_ends) = (&mut fields[written..], &mut ends[end..]);
            let (last, _, _, more) = reader.read_record(&[], room, more_ends);
            (result, end) = (last, end + more);
        }
        if result != ReadRecordResult::Record {
            return Ok(found);
        }
        let starts = std::iter::once(0).chain(ends.iter().copied());
        let texts = starts.zip(&ends[..end]).map(|(from, to)| {
            let cut = |_| ReportError::Table { line, why: "it is not UTF-8".into() };
            String::from_utf8(fields[from..*to].to_vec()).map_err(cut)
        });
        found.push((line, texts.collect::<Result<_, _>>()?));
        line += lines;
    }
}

fn line_breaks(bytes: &[u8]) -> u64 {
    bytes.iter().filter(|b| **b == b'\n').count() as u64
}

/// One record and where its columns are.
struct Fields<'a> {
    columns: &'a HashMap<String, usize>,
    line: u64,
    record: Vec<String>,
}

impl Fields<'_> {
    fn row(&self) -> Result<Row, ReportError> {
        let left_out = match self.text("counts").as_str() {
            "" | "yes" => None,
            "no" => Some(unguard(&self.text("left out because"))),
            other => return Err(self.error(format!("\"{other}\" in \"counts\" is not yes or no"))),
        };
        let review = self.text("still to look at");
        let swing = SwingRow {
            number: self.number("swing")?.ok_or_else(|| self.error("the swing has no number"))?,
            block: unguard(&self.text("block")),
            club: unguard(&self.text("club")),
            kind: self.term("kind")?.ok_or_else(|| self.error("\"kind\" is empty"))?,
            ground_mark: self.term("ground mark")?,
            divot_start_mm: self.figure(START)?,
            divot_end_mm: self.figure(END)?,
            low_point_mm: self.figure(LOW_POINT)?,
            low_point_method: self.term("low point from")?,
            attack_angle_deg: self.figure(ATTACK)?,
            contact_order: self.term("contact order")?,
            needs_review: review
                .split_whitespace()
                .map(|w| self.parse_term("still to look at", w))
                .collect::<Result<_, _>>()?,
            left_out,
            notes: unguard(&self.text("notes")),
        };
        let session = |name| unguard(&self.text(name));
        let [golfer, date, place, surface] = ["golfer", "date", "place", "surface"].map(session);
        Ok(Row { golfer, date, place, surface, swing })
    }

    fn text(&self, column: &str) -> String {
        let index = self.columns.get(column);
        index.and_then(|i| self.record.get(*i)).cloned().unwrap_or_default()
    }

    fn error(&self, why: impl Into<String>) -> ReportError {
        ReportError::Table { line: self.line, why: why.into() }
    }

    fn number<T: std::str::FromStr>(&self, column: &str) -> Result<Option<T>, ReportError> {
        let text = self.text(column);
        if text.is_empty() {
            return Ok(None);
        }
        let wrong = |_| self.error(format!("\"{text}\" in \"{column}\" is not a number"));
        text.parse().map(Some).map_err(wrong)
    }

    fn finite(&self, column: &str) -> Result<Option<f64>, ReportError> {
        match self.number::<f64>(column)? {
            Some(n) if !n.is_finite() => Err(self.error(format!("\"{column}\" is not finite"))),
            number => Ok(number),
        }
    }

    fn figure(&self, name: [&str; 2]) -> Result<Option<Figure>, ReportError> {
        let [value, half, low, high, words] = figure_columns(name);
        let Some(number) = self.finite(&value)? else { return Ok(None) };
        let missing = |column: &str| self.error(format!("\"{column}\" is empty"));
        let need = |column: &str| self.finite(column)?.ok_or_else(|| missing(column));
        Ok(Some(Figure {
            value: number,
            expanded_uncertainty: need(&half)?,
            interval_95: [need(&low)?, need(&high)?],
            words: unguard(&self.text(&words)),
        }))
    }

    fn term<T: DeserializeOwned>(&self, column: &str) -> Result<Option<T>, ReportError> {
        match self.text(column).as_str() {
            "" => Ok(None),
            text => self.parse_term(column, text).map(Some),
        }
    }

    fn parse_term<T: DeserializeOwned>(&self, column: &str, text: &str) -> Result<T, ReportError> {
        serde_json::from_value(text.into())
            .map_err(|_| self.error(format!("\"{text}\" is not a word known in \"{column}\"")))
    }
}

/// The one word a term is written as, the same as in JSON.
fn word<T: Serialize>(term: &T) -> String {
    match serde_json::to_value(term) {
        Ok(serde_json::Value::String(word)) => word,
        other => unreachable!("terms are written as one word, not {other:?}"),
    }
}

/// What makes a spreadsheet read a formula (OWASP, "CSV Injection"), the full-width forms too.
const FORMULA: [char; 11] = ['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'];

fn is_formula(text: &str) -> bool {
    text.trim_start_matches([' ', '\'']).starts_with(FORMULA)
}

fn guard(text: &str) -> String {
    if is_formula(text) { format!("'{text}") } else { text.to_owned() }
}

fn unguard(text: &str) -> String {
    match text.strip_prefix('\'') {
        Some(rest) if is_formula(rest) => rest.to_owned(),
        _ => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_disarmed_and_come_back() {
        let dangers = ["=1+1", "+1", "-1", "@x", "\t=1", "\r=1", " =1", "'=1", "''-2", "＝1"];
        for danger in dangers {
            let guarded = guard(danger);
            assert!(guarded.starts_with('\''), "{danger}");
            assert_eq!(unguard(&guarded), danger);
        }
        for harmless in ["7-iron", "'twas windy", "", "O'Hara", "3 = 3"] {
            assert_eq!(guard(harmless), harmless);
            assert_eq!(unguard(harmless), harmless);
        }
    }

    #[test]
    fn the_header_names_units() {
        let header = header().join(",");
        assert!(header.contains("divot start (mm ahead of the ball),divot start ± (mm)"));
        assert!(header.contains("attack angle (degrees upward),attack angle ± (degrees)"));
    }
}
