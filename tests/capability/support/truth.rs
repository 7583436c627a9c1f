//! The truth files of the rendered sample footage.

use std::path::Path;

use scuffline::domain::{
    Club, ClubHeadSighting, Direction, FrameIndex, ImagePoint, Millimetres, PictureSize, Pixels,
    Reference, ReferenceKind, Seconds,
};
use serde_json::Value;

/// All truth files, by name.
pub const SCENES: [&str; 13] = [
    "iron_turf_sheet",
    "iron_mat_stick",
    "driver_tee",
    "left_handed",
    "chalk_practice",
    "iron_four_swings",
    "rolling_shutter",
    "iron_30fps",
    "thin_no_mark",
    "mat_sheet",
    "portrait",
    "drifting_tripod",
    "long_rehearsals",
];

/// One scene's truth.
pub struct Truth(pub Value);

/// One swing's truth.
pub struct SwingTruth<'a>(pub &'a Value);

/// Reads `sample-frames/NAME.truth.json`.
pub fn truth(name: &str) -> Truth {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("sample-frames")
        .join(format!("{name}.truth.json"));
    Truth(serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap())
}

/// A pair of numbers as a point.
pub fn point(v: &Value) -> ImagePoint {
    ImagePoint::new(v[0].as_f64().unwrap(), v[1].as_f64().unwrap())
}

impl Truth {
    pub fn size(&self) -> PictureSize {
        let of = |key: &str| self.0["video"][key].as_u64().unwrap() as usize;
        PictureSize { width: of("width"), height: of("height") }
    }

    pub fn direction(&self) -> Direction {
        match self.0["target_direction_in_picture"].as_str().unwrap() {
            "left" => Direction::Left,
            _ => Direction::Right,
        }
    }

    /// Sheets, sticks and the pair of chalk lines, with their true picture points.
    pub fn references(&self) -> Vec<Reference> {
        let mut references = Vec::new();
        let mut chalk = Vec::new();
        for r in self.0["reference_objects"].as_array().unwrap() {
            let mm = |v: &Value| Millimetres(v.as_f64().unwrap() * 1000.0);
            match r["kind"].as_str().unwrap() {
                "sheet" => references.push(reference(
                    ReferenceKind::Sheet {
                        size: [mm(&r["size_m"][0]), mm(&r["size_m"][1])],
                        corners: [0, 1, 2, 3].map(|i| point(&r["corners_px"][i])),
                    },
                    mm(&r["height_m"]),
                    false,
                )),
                "stick" => references.push(reference(
                    ReferenceKind::Line {
                        length: mm(&r["size_m"][0]),
                        ends: [0, 1].map(|i| point(&r["ends_px"][i])),
                    },
                    mm(&r["height_m"]),
                    true,
                )),
                "chalk_line" => chalk.push(r),
                _ => {}
            }
        }
        if let [a, b] = chalk[..] {
            let x = |r: &Value| r["axis_m"][0][0].as_f64().unwrap();
            let lines = [a, b].map(|r| [0, 1].map(|i| point(&r["axis_px"][i])));
            let distance = Millimetres((x(b) - x(a)).abs() * 1000.0);
            let kind = ReferenceKind::LinePair { distance, lines };
            references.push(reference(kind, Millimetres(0.0), false));
        }
        references
    }

    pub fn has_sheet(&self) -> bool {
        self.references().iter().any(|r| matches!(r.kind, ReferenceKind::Sheet { .. }))
    }

    pub fn swings(&self) -> Vec<SwingTruth<'_>> {
        self.0["swings"].as_array().unwrap().iter().map(SwingTruth).collect()
    }

    /// The true camera's picture of a point in metres.
    pub fn project(&self, p: [f64; 3]) -> ImagePoint {
        let camera = &self.0["camera"];
        let c: [f64; 3] = std::array::from_fn(|i| {
            (0..3).map(|j| camera["R_world_to_cam"][i][j].as_f64().unwrap() * p[j]).sum::<f64>()
                + camera["t"][i].as_f64().unwrap()
        });
        let (x, y) = (c[0] / c[2], c[1] / c[2]);
        let k = |i: usize| camera["dist"][i].as_f64().unwrap();
        let q = x * x + y * y;
        let gain = 1.0 + q * (k(0) + k(1) * q);
        let m = |i: usize, j: usize| camera["K"][i][j].as_f64().unwrap();
        ImagePoint::new(m(0, 0) * x * gain + m(0, 2), m(1, 1) * y * gain + m(1, 2))
    }
}

fn reference(kind: ReferenceKind, height: Millimetres, along_target: bool) -> Reference {
    Reference { kind, height, along_target, frame: None, point_sigma: None }
}

impl SwingTruth<'_> {
    pub fn number(&self, path: &[&str]) -> Option<f64> {
        path.iter().fold(self.0, |v, key| &v[*key]).as_f64()
    }

    /// The ball's centre, where there is one.
    pub fn ball(&self) -> Option<ImagePoint> {
        let ball = &self.0["ball"];
        (self.0["ball_present"].as_bool() == Some(true) && ball.is_object())
            .then(|| point(&ball["centre_px"]))
    }

    pub fn on_tee(&self) -> bool {
        self.0["ball"]["on_tee"].as_bool().unwrap_or(false)
    }

    /// Where the mark begins and ends in the picture; `None`: nothing was touched.
    pub fn mark(&self) -> Option<[ImagePoint; 2]> {
        let contact = &self.0["ground_contact"];
        contact.is_object().then(|| [point(&contact["start_px"]), point(&contact["end_px"])])
    }

    /// Offsets of the mark's start and end, mm.
    pub fn mark_offsets(&self) -> Option<[f64; 2]> {
        let at = |key| self.number(&["ground_contact", key]).map(|m| m * 1000.0);
        Some([at("start_offset_from_ball_m")?, at("end_offset_from_ball_m")?])
    }
}

impl SwingTruth<'_> {
    pub fn club(&self) -> Club {
        Club(self.0["club"].as_str().unwrap().into())
    }

    pub fn struck(&self) -> bool {
        self.0["ball_struck"].as_bool().unwrap()
    }

    /// The leading edge's true picture points in the frames around the strike.
    pub fn sightings(&self, scene: &Truth, sigma: f64) -> Vec<ClubHeadSighting> {
        let path = &self.0["club_path"];
        let strike = self.number(&["strike", "time_s"]).unwrap();
        (0..path["frames"].as_array().unwrap().len())
            .filter(|i| path["in_picture"][i] == true)
            .map(|i| {
                let frame = path["frames"][i].as_u64().unwrap() as usize;
                let time = scene.0["pts_s"][frame].as_f64().unwrap();
                ClubHeadSighting {
                    frame: FrameIndex(frame),
                    time: Seconds(time),
                    point: point(&path["px"][i]),
                    sigma: [Pixels(2.0 * sigma), Pixels(sigma)],
                }
            })
            .filter(|s| (s.time.0 - strike).abs() < 0.05)
            .collect()
    }
}
