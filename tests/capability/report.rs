//! Writing a session down and reading it back.

use scuffline::domain::{
    ContactOrder, GroundMark, LengthUnit, LowPointMethod, Reviewable, SwingKind,
};
use scuffline::report::content::{
    AimWindow, BlockSummary, CAUTIONS, Comparison, Content, Figure, PLUS_MINUS, Share, Spread,
    SwingRow,
};
use scuffline::report::{ReportError, csv, json};

fn figure(value: f64, half: f64, words: &str) -> Figure {
    let interval_95 = [value - half, value + half];
    Figure { value, expanded_uncertainty: half, interval_95, words: words.into() }
}

fn swing(number: usize, block: &str, start: f64, length: f64) -> SwingRow {
    let side = |mm: f64| if mm < 0.0 { "behind" } else { "ahead" };
    let offset = |mm: f64, half: f64| {
        figure(mm, half, &format!("{:.0} mm {} ± {half:.0}", mm.abs(), side(mm)))
    };
    SwingRow {
        number,
        block: block.into(),
        club: "7-iron".into(),
        kind: SwingKind::Strike,
        ground_mark: Some(GroundMark::Divot),
        divot_start_mm: Some(offset(start, 4.1)),
        divot_end_mm: Some(offset(start + length, 5.2)),
        low_point_mm: Some(offset(start + 0.45 * length, 17.0)),
        low_point_method: Some(LowPointMethod::ArcAndMark),
        attack_angle_deg: Some(figure(-3.2, 0.6, "3.2° down ± 0.6")),
        contact_order: Some(if start < -14.0 {
            ContactOrder::TurfFirst
        } else {
            ContactOrder::BallFirst
        }),
        needs_review: Vec::new(),
        left_out: None,
        notes: String::new(),
    }
}

/// An invented lesson: six swings before, six after.
fn lesson() -> Content {
    let before = [-22.4, 3.1, -31.8, 12.6, -8.3, -40.2];
    let after = [18.7, 31.2, 9.4, 26.0, 38.8, 22.1];
    let mut swings: Vec<SwingRow> = Vec::new();
    for (block, starts) in [("before", before), ("after", after)] {
        for start in starts {
            swings.push(swing(swings.len() + 1, block, start, 118.0 + start / 4.0));
        }
    }
    swings[3].left_out = Some("ball moved on the tee".into());
    swings[8].needs_review = vec![Reviewable::DivotEnd, Reviewable::LowPoint];
    swings[8].notes = "=SUM(A1:A9)".into();
    let spread =
        |swings, mean: Figure, sd: Figure| Some(Spread { swings, mean_mm: mean, sd_mm: Some(sd) });
    let share = |count, of| Some(Share { count, of, words: format!("{count} of {of}") });
    Content {
        golfer: "Robin Example (invented)".into(),
        date: "2026-05-14".into(),
        place: "Birch Hollow range (invented)".into(),
        clubs: vec!["7-iron".into()],
        surface: "turf".into(),
        unit: LengthUnit::Mm,
        aim_window: Some(AimWindow { from_mm: 0.0, to_mm: 60.0 }),
        swings,
        blocks: vec![
            BlockSummary {
                name: "before".into(),
                counted: 5,
                left_out: 1,
                divot_start: spread(
                    5,
                    figure(-19.9, 22.0, "20 mm behind ± 22"),
                    figure(17.4, 13.0, "17 mm"),
                ),
                low_point: spread(
                    5,
                    figure(31.1, 25.0, "31 mm ahead ± 25"),
                    figure(15.2, 11.0, "15 mm"),
                ),
                ball_first: share(2, 5),
                in_aim_window: share(1, 5),
            },
            BlockSummary {
                name: "after".into(),
                counted: 6,
                left_out: 0,
                divot_start: spread(
                    6,
                    figure(24.4, 11.0, "24 mm ahead ± 11"),
                    figure(10.2, 6.0, "10 mm"),
                ),
                low_point: spread(
                    6,
                    figure(80.2, 14.0, "80 mm ahead ± 14"),
                    figure(11.3, 7.0, "11 mm"),
                ),
                ball_first: share(6, 6),
                in_aim_window: share(6, 6),
            },
        ],
        comparison: Some(Comparison {
            before: "before".into(),
            after: "after".into(),
            sentence: "After the lesson the divot starts 44 mm further ahead ± 21: more than luck."
                .into(),
            difference_mm: Some(figure(44.3, 21.0, "44 mm further ahead ± 21")),
            spread_ratio: Some(figure(0.59, 0.6, "0.59, 0.21 to 1.4")),
            more_swings: None,
        }),
        coach_words: "Brush the grass past the ball; let the ball get in the way.".into(),
        practise: vec![
            "Two lines, ten swings without a ball: mark the ground at the far line.".into(),
            "Ten balls with the same picture in mind; count how many reach it.".into(),
        ],
        how_measured: vec![
            "Scale and camera angle from an A4 sheet on the ground.".into(),
            PLUS_MINUS.into(),
        ],
        cautions: CAUTIONS.map(String::from).to_vec(),
    }
}

#[test]
fn a_table_reads_back_as_it_was_written() {
    let content = lesson();
    let rows = csv::read(&csv::write(&content)).unwrap();
    let swings: Vec<SwingRow> = rows.iter().map(|r| r.swing.clone()).collect();
    assert_eq!(swings, content.swings);
    assert!(rows.iter().all(|r| r.golfer == content.golfer && r.date == content.date));
}

#[test]
fn a_table_follows_rfc_4180() {
    // RFC 4180, 2.1, 2.4, 2.6 and 2.7: CR LF after each record, the same number of fields in
    // each, fields with line breaks, quotes or commas in quotes, inner quotes doubled.
    let mut content = lesson();
    content.swings.truncate(1);
    content.swings[0].notes = "thin, \"clicky\"\nagain".into();
    let text = csv::write(&content);
    assert!(text.ends_with(",\"thin, \"\"clicky\"\"\nagain\"\r\n"), "{text}");
    let (header, line) = text.split_once("\r\n").unwrap();
    let outside = |t: &str| {
        let unquoted: String = t.split('"').step_by(2).collect();
        unquoted.matches(',').count()
    };
    assert_eq!(outside(header), outside(line));
    assert_eq!(csv::read(&text).unwrap()[0].swing, content.swings[0]);
}

#[test]
fn a_table_cannot_carry_a_formula() {
    let mut content = lesson();
    content.golfer = "=HYPERLINK(\"x\")".into();
    content.place = "@cmd".into();
    content.swings[0].club = "+7".into();
    let text = csv::write(&content);
    for (_, record) in csv::records(&text).unwrap() {
        for field in record {
            let formula = field.starts_with(['=', '+', '-', '@', '\t', '\r']);
            assert!(!formula || field.parse::<f64>().is_ok(), "{field}");
        }
    }
    assert_eq!(csv::read(&text).unwrap()[0].golfer, content.golfer);
}

#[test]
fn tables_of_other_programs_are_read() {
    // RFC 4180, 2.2: the last record may have no line break. Spreadsheets also save a byte
    // order mark, bare line feeds and columns in another order.
    let text = "\u{feff}kind,club,swing,mood\nstrike,\"PW, bent\",2,good\npractice swing,,3,";
    let rows = csv::read(text).unwrap();
    assert_eq!(rows.len(), 2);
    assert_eq!(rows[0].swing.club, "PW, bent");
    assert_eq!(rows[1].swing.kind, SwingKind::Practice);
    assert!(csv::read("").unwrap().is_empty());
}

#[test]
fn damaged_tables_are_refused_with_the_line() {
    let text = csv::write(&lesson());
    let broken = text.replacen("ball first", "ball last", 1);
    let sentence = csv::read(&broken).unwrap_err().to_string();
    assert!(
        sentence.contains("\"ball last\" is not a word known in \"contact order\""),
        "{sentence}"
    );
    assert!(sentence.starts_with("Line 3 "), "{sentence}");
    assert!(csv::read("swing,kind\n1,strike,9\n").is_err());
    assert!(csv::read("swing,kind\nnan,strike\n").is_err());
    assert!(csv::read("swing,kind,divot start (mm ahead of the ball)\n1,strike,inf\n").is_err());
    assert_eq!(csv::read("swing,kind\n1,strike\n").unwrap()[0].swing.number, 1);
}

#[test]
fn json_reads_back_as_it_was_written() {
    let content = lesson();
    assert_eq!(json::read(&json::write(&content)).unwrap(), content);
}

#[test]
fn json_says_its_schema_and_refuses_newer_ones() {
    let text = json::write(&lesson());
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(value["schema"], 1);
    assert_eq!(value["swings"][0]["divot_start_mm"]["words"], "22 mm behind ± 4");
    let newer = text.replacen("\"schema\": 1", "\"schema\": 7", 1);
    assert!(matches!(json::read(&newer), Err(ReportError::NewerSchema { found: 7, known: 1 })));
    assert!(matches!(
        json::read("{\"schema\": 1, \"kind\": \"x\"}"),
        Err(ReportError::Json { .. })
    ));
    assert!(matches!(json::read("[1"), Err(ReportError::Json { .. })));
}
