//! Writing a session down and reading it back.

use std::path::Path;
use std::process::Command;

use scuffline::domain::{
    ColourFrame, ContactOrder, GroundMark, LengthUnit, LowPointMethod, Reviewable, SwingKind,
};
use scuffline::report::content::{
    AimWindow, BlockSummary, Comparison, Content, Figure, PLUS_MINUS, Share, Spread, SwingRow,
    cautions,
};
use scuffline::report::page::Paper;
use scuffline::report::picture::{self, Focus, OnGround, Picture};
use scuffline::report::ruler::Place;
use scuffline::report::{ReportError, csv, html, json, pdf, svg};

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
            sentence: "After the lesson the divot starts 44 mm farther ahead ± 21: more than luck."
                .into(),
            difference_mm: Some(figure(44.3, 21.0, "44 mm farther ahead ± 21")),
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
        cautions: cautions(LengthUnit::Mm).to_vec(),
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

/// A turf-coloured picture, 960 by 540, with the ruler of a swing burnt in.
fn turf(number: &str) -> Picture {
    let (width, height) = (960, 540);
    let pixel = |i: usize| {
        let (x, y) = (i % width, i / width);
        let grain = (x * 7919 + y * 104_729) % 23;
        [58 + grain as u8, 96 + (y / 12) as u8, 48 + grain as u8 / 2, 255]
    };
    let data = (0..width * height).flat_map(pixel).collect();
    let mut frame = ColourFrame { width, height, data };
    // Seen from the front and above: 0.6 pixels a millimetre at the ball, less farther away.
    let project = |x: f64, y: f64| {
        let scale = 0.6 * 4000.0 / (4000.0 + y);
        Some([430.0 + scale * x, 330.0 - scale * 0.35 * y])
    };
    let place =
        |value: f64, half: f64| Some(Place { value, interval_95: [value - half, value + half] });
    let ground = OnGround {
        start: place(18.7, 4.1),
        end: place(141.0, 5.2),
        low_point: place(72.0, 17.0),
        aim: Some([0.0, 60.0]),
        unit: LengthUnit::Mm,
        seen: None,
    };
    let size = [width, height];
    let ruler = picture::ground_ruler(&project, &ground, picture::line_width(size));
    picture::burn_in(&mut frame, [ruler]);
    let focus = Some(Focus { centre: [430.0, 360.0], reach: 200.0 });
    Picture { frame, caption: format!("Divot start {number}"), focus }
}

fn run(program: &str, arguments: &[&str], folder: &Path) -> String {
    let output = Command::new(program).args(arguments).current_dir(folder).output().unwrap();
    let errors = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success() && errors.is_empty(), "{program}: {errors}");
    String::from_utf8(output.stdout).unwrap()
}

/// Writes the page and returns its text as poppler's pdftotext reads it.
fn page_text(content: &Content, pictures: &[Picture], paper: Paper, folder: &Path) -> String {
    std::fs::write(folder.join("page.pdf"), pdf::write(content, pictures, paper).unwrap()).unwrap();
    run("pdftotext", &["-layout", "page.pdf", "-"], folder)
}

#[test]
fn the_page_says_what_the_screen_says() {
    let folder = tempfile::tempdir().unwrap();
    let content = lesson();
    let pictures = [turf("22 mm behind ± 4"), turf("19 mm ahead ± 4")];
    for paper in [Paper::A4, Paper::Letter] {
        let text = page_text(&content, &pictures, paper, folder.path());
        let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(joined.contains("Robin Example (invented)") && joined.contains("14 May 2026"));
        for block in &content.blocks {
            let spreads = [&block.divot_start, &block.low_point];
            for spread in spreads.into_iter().flatten() {
                assert!(joined.contains(&spread.mean_mm.words), "{text}");
                assert!(joined.contains(&spread.sd_mm.as_ref().unwrap().words), "{text}");
            }
        }
        for shown in ["2 of 5", "6 of 6", "target", "Your coach's words", "Please mind", "± (95 %)"]
        {
            assert!(joined.contains(shown), "{shown} is missing in {text}");
        }
        for picture in &pictures {
            assert!(joined.contains(&picture.caption), "{text}");
        }
        assert!(joined.contains("more than luck."));
    }
}

#[test]
fn the_page_is_one_tagged_page_with_embedded_fonts() {
    let folder = tempfile::tempdir().unwrap();
    page_text(&lesson(), &[turf("19 mm ahead ± 4")], Paper::A4, folder.path());
    let info = run("pdfinfo", &["page.pdf"], folder.path());
    let line = |name: &str| {
        let found = info.lines().find(|l| l.starts_with(name)).unwrap_or_default();
        found.split_once(':').map_or("", |(_, value)| value.trim()).to_owned()
    };
    assert_eq!([line("Pages"), line("Tagged"), line("PDF version")], ["1", "yes", "1.7"]);
    assert!(line("Page size").ends_with("(A4)"), "{info}");
    let structure = run("pdfinfo", &["-struct-text", "page.pdf"], folder.path());
    for part in ["H1", "Figure", "Table", "TH", "LBody", "Caption"] {
        assert!(structure.lines().any(|l| l.trim_start().starts_with(part)), "{part}: {structure}");
    }
    let fonts = run("pdffonts", &["page.pdf"], folder.path());
    let fonts: Vec<&str> = fonts.lines().skip(2).collect();
    assert_eq!(fonts.len(), 2);
    for font in fonts {
        // Columns: name, type, encoding, embedded, subset, Unicode map, object.
        assert!(font.contains("Lato") && font.contains("Identity-H"), "{font}");
        assert_eq!(font.matches("yes").count(), 3, "{font}");
    }
    // Small enough to send.
    let size = folder.path().join("page.pdf").metadata().unwrap().len();
    assert!(size < 400_000, "{size} bytes");
}

#[test]
fn the_page_looks_like_a_page() {
    let folder = tempfile::tempdir().unwrap();
    let pictures = [turf("22 mm behind ± 4"), turf("19 mm ahead ± 4")];
    // ISO 216: 210 mm by 297 mm; Letter: 8.5 in by 11 in; at 50 pixels an inch.
    for (paper, size) in [(Paper::A4, [413, 585]), (Paper::Letter, [425, 550])] {
        page_text(&lesson(), &pictures, paper, folder.path());
        run("pdftoppm", &["-r", "50", "-png", "-singlefile", "page.pdf", "page"], folder.path());
        let image = image::open(folder.path().join("page.png")).unwrap().to_rgb8();
        let (width, height) = (image.width(), image.height());
        let fits = width.abs_diff(size[0]) <= 1 && height.abs_diff(size[1]) <= 1;
        assert!(fits, "{width} x {height}");
        let is_white = |x: u32, y: u32| image.get_pixel(x, y).0.iter().all(|v| *v > 250);
        // Nothing runs into the margins (48 points at the sides, 50 pixels an inch).
        for y in 0..height {
            assert!((0..30).chain(width - 30..width).all(|x| is_white(x, y)), "row {y}");
        }
        let ink = image.pixels().filter(|p| p.0.iter().any(|v| *v < 250)).count();
        let share = ink as f64 / f64::from(width * height);
        assert!((0.15..0.6).contains(&share), "{share}");
        // The accent of the aim window, a tint of blue, is on the page.
        assert!(image.pixels().any(|p| p.0[2] > p.0[0].saturating_add(12) && p.0[0] > 200));
    }
}

#[test]
fn any_amount_of_words_and_swings_stays_on_one_page() {
    let folder = tempfile::tempdir().unwrap();
    let mut content = lesson();
    for number in 13..=90 {
        content.swings.push(swing(number, "after", 10.0 + (number % 17) as f64, 110.0));
    }
    content.golfer = "Maximiliana Theodora von und zu Example-Longname (invented) ".repeat(3);
    content.coach_words = "Let the ball get in the way of the swing. ".repeat(60);
    content.practise = vec!["Ten swings over the two lines without a ball. ".repeat(9); 12];
    content.how_measured = vec!["An A4 sheet on the ground gives scale and angle. ".repeat(8); 9];
    let text = page_text(&content, &[turf("19 mm ahead ± 4")], Paper::Letter, folder.path());
    assert!(text.contains('…') && text.contains("of these blocks"), "{text}");
    assert!(run("pdfinfo", &["page.pdf"], folder.path()).contains("Pages:           1"));
    let empty = page_text(&Content::default(), &[], Paper::A4, folder.path());
    assert!(empty.contains("0 swings"), "{empty}");
}

#[test]
fn the_web_page_asks_nobody() {
    let mut content = lesson();
    content.golfer = "<script>alert(1)</script> & \"Co\"".into();
    let page = html::write(&content, &[turf("19 mm ahead ± 4")]).unwrap();
    assert!(
        !page.contains("<script") && page.contains("&lt;script&gt;alert(1)&lt;/script&gt; &amp;")
    );
    // Outside addresses could only stand in these; names of XML vocabularies are not fetched.
    for way in ["src=\"http", "href=", "url(", "@import", "<link", "<iframe"] {
        assert!(!page.contains(way), "{way}");
    }
    assert!(page.contains("default-src 'none'") && page.contains("data:image/jpeg;base64,"));
    for swing in &content.swings {
        for figure in [&swing.divot_start_mm, &swing.low_point_mm, &swing.attack_angle_deg] {
            assert!(page.contains(&figure.as_ref().unwrap().words));
        }
    }
    assert!(page.contains(&svg::escape(&content.comparison.unwrap().sentence)));
}
