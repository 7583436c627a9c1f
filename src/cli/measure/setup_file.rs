//! `SETUP.json` to [`Setup`], field by field.
//!
//! Points stay in displayed pixels. Any list of points may be written as it is or as
//! `{"px": …, "frame": N}`; a reference and a swing may carry `"frame"` for all their points.

use std::io::ErrorKind;
use std::path::Path;

use anyhow::bail;
use serde::Deserialize;

use crate::domain::{
    Club, Direction, FrameIndex, GroundAnswer, ImagePoint, LensProfile, Mark, Millimetres, Pixels,
    Reference, ReferenceKind, Seconds, Setup, Surface, SwingMarks, excerpt,
};

#[derive(Default, Deserialize)]
#[serde(default)]
struct SetupFile {
    target: Option<Direction>,
    surface: Option<Surface>,
    club: Option<String>,
    on_tee: Option<bool>,
    references: Option<Vec<ReferenceFile>>,
    target_line_px: Option<Framed<[ImagePoint; 2]>>,
    origin_px: Option<Framed<ImagePoint>>,
    only_given: Option<bool>,
    review_below: Option<f64>,
    swings: Option<Vec<SwingFile>>,
    straight_edges_px: Option<Vec<Framed<Vec<ImagePoint>>>>,
    lens: Option<LensProfile>,
}

#[derive(Deserialize)]
struct ReferenceFile {
    #[serde(flatten)]
    kind: KindFile,
    height_mm: Option<f64>,
    along_target: Option<bool>,
    frame: Option<usize>,
}

#[derive(Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
enum KindFile {
    Sheet { size_mm: [f64; 2], corners_px: Framed<[ImagePoint; 4]> },
    FourPoints { sides_mm: [f64; 4], diagonal_mm: f64, points_px: Framed<[ImagePoint; 4]> },
    Line { length_mm: f64, ends_px: Framed<[ImagePoint; 2]> },
    LinePair { distance_mm: f64, lines_px: Framed<[[ImagePoint; 2]; 2]> },
    Ball { outline_px: Option<Framed<[f64; 3]>> },
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct SwingFile {
    strike_time_s: Option<f64>,
    ball_px: Option<Framed<ImagePoint>>,
    divot_start_px: Option<Framed<ImagePoint>>,
    divot_end_px: Option<Framed<ImagePoint>>,
    origin_px: Option<Framed<ImagePoint>>,
    tee_px: Option<Framed<ImagePoint>>,
    lead_heel_px: Option<Framed<ImagePoint>>,
    trail_heel_px: Option<Framed<ImagePoint>>,
    #[serde(default)]
    club_head_px: Vec<HeadFile>,
    ground: Option<GroundAnswer>,
    frame: Option<usize>,
}

/// The club head in one frame, in pixels of that frame as it is.
#[derive(Deserialize)]
struct HeadFile {
    frame: usize,
    px: ImagePoint,
}

/// Pixels as they are, or with the frame they were read in.
#[derive(Clone, Deserialize)]
#[serde(untagged)]
enum Framed<T> {
    Plain(T),
    InFrame { px: T, frame: Option<usize> },
}

impl<T> Framed<T> {
    fn px(self) -> T {
        match self {
            Self::Plain(px) | Self::InFrame { px, .. } => px,
        }
    }

    fn frame(&self) -> Option<usize> {
        match self {
            Self::Plain(_) => None,
            Self::InFrame { frame, .. } => *frame,
        }
    }
}

/// Reads a set-up file.
///
/// # Errors
/// The file can't be read, is not JSON of the documented form, or holds a size that is not
/// a positive number.
pub fn read_setup(path: &Path) -> anyhow::Result<Setup> {
    let text = std::fs::read_to_string(path).map_err(|error| {
        let why = match error.kind() {
            ErrorKind::NotFound => "There is no set-up file here; check its name",
            ErrorKind::PermissionDenied => "The set-up file may not be read; change its rights",
            ErrorKind::IsADirectory => "This is a folder; name the set-up file in it",
            ErrorKind::InvalidData => "The set-up file is no text; name the right one",
            _ => "The set-up file could not be read; copy it to this machine's own disk",
        };
        anyhow::anyhow!("{why}: {}", path.display())
    })?;
    parse_setup(&text).map_err(|error| anyhow::anyhow!("{error}: {}", path.display()))
}

/// Parses the text of a set-up file.
///
/// # Errors
/// As [`read_setup`].
pub fn parse_setup(text: &str) -> anyhow::Result<Setup> {
    let file: SetupFile = serde_json::from_str(text).map_err(|error| {
        let why = excerpt(&error.to_string());
        anyhow::anyhow!("The set-up file is not in the documented form ({why}); correct it there")
    })?;
    let references = file.references.unwrap_or_default().into_iter().map(reference);
    Ok(Setup {
        reach_line: None,
        target: file.target,
        surface: file.surface,
        club: file.club.map(Club),
        on_tee: file.on_tee,
        references: references.collect::<anyhow::Result<_>>()?,
        proposed: Vec::new(),
        proposed_line: None,
        lens: file.lens,
        straight_edges: file.straight_edges_px.unwrap_or_default().into_iter().map(edge).collect(),
        target_line: file.target_line_px.map(|line| {
            let frame = line.frame();
            line.px().map(|p| mark(p, frame))
        }),
        origin: file.origin_px.map(|o| {
            let frame = o.frame();
            mark(o.px(), frame)
        }),
        only_given: file.only_given.unwrap_or(false),
        review_below: file.review_below,
        swings: file.swings.unwrap_or_default().into_iter().map(swing).collect(),
    })
}

fn mark(point: ImagePoint, frame: Option<usize>) -> Mark {
    Mark::read_in(point, frame.map(FrameIndex))
}

fn edge(points: Framed<Vec<ImagePoint>>) -> Vec<Mark> {
    let frame = points.frame();
    points.px().into_iter().map(|p| mark(p, frame)).collect()
}

fn swing(file: SwingFile) -> SwingMarks {
    let place = |px: Option<Framed<ImagePoint>>| {
        px.map(|p| {
            let frame = p.frame().or(file.frame);
            mark(p.px(), frame)
        })
    };
    SwingMarks {
        strike_time: file.strike_time_s.map(Seconds),
        ball: place(file.ball_px),
        divot_start: place(file.divot_start_px),
        divot_end: place(file.divot_end_px),
        origin: place(file.origin_px),
        tee: place(file.tee_px),
        heels: [place(file.lead_heel_px), place(file.trail_heel_px)],
        club_head: file
            .club_head_px
            .into_iter()
            .map(|head| (FrameIndex(head.frame), mark(head.px, Some(head.frame))))
            .collect(),
        ground: file.ground,
    }
}

fn reference(file: ReferenceFile) -> anyhow::Result<Reference> {
    let (kind, own_frame) = match file.kind {
        KindFile::Sheet { size_mm, corners_px } => {
            let size = [length(size_mm[0], "sheet")?, length(size_mm[1], "sheet")?];
            let frame = corners_px.frame();
            (ReferenceKind::Sheet { size, corners: corners_px.px() }, frame)
        }
        KindFile::FourPoints { sides_mm, diagonal_mm, points_px } => {
            let what = "side of four points";
            let mut sides = [Millimetres(0.0); 4];
            for (side, mm) in sides.iter_mut().zip(sides_mm) {
                *side = length(mm, what)?;
            }
            let (diagonal, frame) = (length(diagonal_mm, what)?, points_px.frame());
            (ReferenceKind::FourPoints { sides, diagonal, points: points_px.px() }, frame)
        }
        KindFile::Line { length_mm, ends_px } => {
            let (length, frame) = (length(length_mm, "line")?, ends_px.frame());
            (ReferenceKind::Line { length, ends: ends_px.px() }, frame)
        }
        KindFile::LinePair { distance_mm, lines_px } => {
            let (distance, frame) = (length(distance_mm, "line pair")?, lines_px.frame());
            (ReferenceKind::LinePair { distance, lines: lines_px.px() }, frame)
        }
        KindFile::Ball { outline_px } => {
            let frame = outline_px.as_ref().and_then(Framed::frame);
            let outline = outline_px.map(|o| {
                let [x, y, diameter] = o.px();
                (ImagePoint::new(x, y), Pixels(diameter))
            });
            (ReferenceKind::Ball { outline }, frame)
        }
    };
    Ok(Reference {
        kind,
        height: Millimetres(file.height_mm.unwrap_or(0.0)),
        along_target: file.along_target.unwrap_or(false),
        frame: own_frame.or(file.frame).map(FrameIndex),
        point_sigma: None,
    })
}

fn length(mm: f64, what: &str) -> anyhow::Result<Millimetres> {
    if !(mm.is_finite() && mm > 0.0) {
        bail!(
            "A {what} of {mm} mm can't be a ruler; give its length in millimetres as a number above zero"
        );
    }
    Ok(Millimetres(mm))
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHOLE: &str = r#"{"target": "right", "surface": "turf", "club": "7-iron", "on_tee": false,
 "references": [
   {"kind": "sheet", "size_mm": [297, 210], "corners_px": [[835.6,644.2],[986.5,638.3],[959.2,605.9],[817.2,611.2]], "height_mm": 6, "along_target": false},
   {"kind": "four_points", "sides_mm": [950, 700, 660, 570], "diagonal_mm": 1030, "points_px": [[500,640],[800,650],[790,560],[520,570]]},
   {"kind": "line", "length_mm": 1219.2, "ends_px": [[354.1,627.1],[962.1,631.0]], "height_mm": 8, "along_target": true},
   {"kind": "line_pair", "distance_mm": 400, "lines_px": [[[532.0,626.5],[546.6,540.2]],[[739.7,627.4],[721.6,541.2]]], "frame": 3},
   {"kind": "ball", "outline_px": [660.2, 592.0, 20.2]}],
 "target_line_px": [[100,600],[1100,604]],
 "origin_px": [660.3, 601.7],
 "only_given": false,
 "swings": [{"strike_time_s": 1.55, "ball_px": [660.2, 592.0], "divot_start_px": {"px": [651.6, 601.7], "frame": 240}, "divot_end_px": [739.4, 599.7], "origin_px": null, "lead_heel_px": [740, 598], "ground": "smear"}]}"#;

    #[test]
    fn every_field_is_read() {
        let setup = parse_setup(WHOLE).expect("the documented example parses");
        assert_eq!(setup.target, Some(Direction::Right));
        assert_eq!(setup.surface, Some(Surface::Turf));
        assert_eq!(setup.club, Some(Club("7-iron".into())));
        assert_eq!(setup.on_tee, Some(false));
        assert_eq!(setup.references.len(), 5);
        assert_eq!(setup.references[0].height, Millimetres(6.0));
        let four = &setup.references[1].kind;
        assert!(matches!(four, ReferenceKind::FourPoints { sides, .. } if sides[3].0 == 570.0));
        assert!(setup.references[2].along_target);
        assert_eq!(setup.references[3].frame, Some(FrameIndex(3)));
        let ReferenceKind::Ball { outline: Some((centre, width)) } = setup.references[4].kind
        else {
            panic!("the ball's outline is read");
        };
        assert_eq!((centre, width), (ImagePoint::new(660.2, 592.0), Pixels(20.2)));
        assert_eq!(setup.target_line.map(|l| l[1].point), Some(ImagePoint::new(1100.0, 604.0)));
        assert_eq!(setup.origin.map(|o| o.point), Some(ImagePoint::new(660.3, 601.7)));
        let swing = &setup.swings[0];
        assert_eq!(swing.strike_time, Some(Seconds(1.55)));
        assert_eq!(swing.divot_start.and_then(|m| m.frame), Some(FrameIndex(240)));
        assert_eq!(swing.divot_end.map(|m| m.point), Some(ImagePoint::new(739.4, 599.7)));
        assert_eq!(swing.origin, None);
        assert_eq!(swing.heels[0].map(|m| m.point), Some(ImagePoint::new(740.0, 598.0)));
        assert_eq!(swing.heels[1], None);
        assert_eq!(swing.ground, Some(GroundAnswer::Smear));
    }

    #[test]
    fn every_field_may_be_absent() {
        assert_eq!(parse_setup("{}").expect("an empty set-up is one"), Setup::default());
    }

    #[test]
    fn sizes_that_are_no_sizes_are_refused() {
        for length in ["0", "-3"] {
            let text = format!(
                r#"{{"references": [{{"kind": "line", "length_mm": {length}, "ends_px": [[1,2],[3,4]]}}]}}"#
            );
            let error = parse_setup(&text).expect_err("no length").to_string();
            assert!(error.contains("above zero"), "{error}");
        }
    }

    #[test]
    fn a_fault_says_where() {
        let error = parse_setup(r#"{"target": "up"}"#).expect_err("no such side").to_string();
        assert!(error.contains("line 1"), "{error}");
    }
}
