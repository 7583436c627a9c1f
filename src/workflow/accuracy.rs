//! How well swings are measured: recordings with truth files, judged.
//!
//! A truth file `NAME.truth.json` lies beside its recording. The tool under judgement is given
//! the reference objects' pixels (and, for practice swings, the point that stands in for the
//! ball), or nothing at all; the truth is read for that and by the judge, nowhere else.

use std::path::{Path, PathBuf};
use std::time::Instant;

use serde_json::Value;

use super::{MeasureError, Measurement, Progress, SwingInput, measure_file, state};
use crate::domain::{
    GroundMark, ImagePoint, Mark, Measured, Millimetres, Reference, ReferenceKind, Reviewable,
    Setup, SwingKind, SwingResult,
};

/// What the tool under judgement is given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Given {
    /// The reference objects' pixels and sizes, and practice swings' origins.
    References,
    /// The recording alone.
    Nothing,
}

/// Why a folder could not be judged.
#[derive(Debug, thiserror::Error)]
pub enum AccuracyError {
    /// No recording with a truth file.
    #[error("No recording with a .truth.json beside it is here; choose another folder: {0}")]
    NothingToJudge(PathBuf),
    /// A file that can't be read.
    #[error("The file cannot be read ({reason}); check it: {path}")]
    Unreadable {
        /// What the system said.
        reason: String,
        /// Which.
        path: PathBuf,
    },
    /// A truth file without the fields named.
    #[error("The truth file lacks {field}; write it in the documented format: {path}")]
    BadTruth {
        /// What is missing.
        field: &'static str,
        /// Which.
        path: PathBuf,
    },
}

/// One quantity of one swing, judged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judged {
    /// What was said minus the truth.
    pub error: f64,
    /// The stated expanded uncertainty.
    pub stated: f64,
    /// It was put before a person.
    pub flagged: bool,
}

impl Judged {
    /// Off by more than three times its own ± and not flagged.
    pub fn is_silent_blunder(&self) -> bool {
        !self.flagged && self.error.abs() > 3.0 * self.stated
    }
}

/// Whether something was said, and if so how well.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Outcome {
    /// There is a truth and the tool gave a value.
    Value(Judged),
    /// There is a truth and the tool gave none.
    Missing {
        /// It said so.
        flagged: bool,
    },
    /// There is no truth and the tool gave a value.
    Invented {
        /// It was put before a person.
        flagged: bool,
    },
    /// There is no truth and the tool gave no value.
    RightlyNone,
}

/// One swing of the truth that was found, judged.
#[derive(Clone, Debug)]
pub struct SwingAccuracy {
    /// What the truth calls it.
    pub kind: SwingKind,
    /// The kind was told right.
    pub kind_right: bool,
    /// Frames between the stated and the nearest right last frame before contact.
    pub frame_error: i64,
    /// Ball, in pixels; the stated ± is not printed and taken as 1 px.
    pub ball: Outcome,
    /// Divot start against what a perfect reader sees, mm.
    pub divot_start: Outcome,
    /// Divot start against the exact first contact, mm.
    pub divot_start_exact: Option<f64>,
    /// Divot end against what a perfect reader sees, mm.
    pub divot_end: Outcome,
    /// Low point, mm.
    pub low_point: Outcome,
    /// Attack angle where the edge passes the ball, degrees.
    pub attack_angle: Outcome,
    /// Ground touched or not: told right, told wrong, or (`None`) not told.
    pub contact_right: Option<bool>,
    /// What was proposed, how sure the program was, and whether it was right.
    pub claims: Vec<Claim>,
}

/// A proposal's stated confidence beside the outcome.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Claim {
    /// The stated chance of being right, 0 to 1.
    pub sure: f64,
    /// The kind of swing or of mark is right, the ball within 1 pixel, the start or end within
    /// its ±.
    pub right: bool,
}

/// One recording, judged.
#[derive(Clone, Debug)]
pub struct RecordingAccuracy {
    /// The recording's name.
    pub name: String,
    /// Swings of the truth that were found.
    pub swings: Vec<SwingAccuracy>,
    /// Swings of the truth that were not.
    pub missed: usize,
    /// Swings that are not in the truth.
    pub invented: usize,
    /// Why it could not be measured at all; its swings then count as missed.
    pub failed: Option<String>,
    /// Time taken over the recording's length.
    pub time_share: f64,
    /// Frames a second.
    pub rate: f64,
}

/// A found swing belongs to a true one at most this far from it.
const SAME_SWING_S: f64 = 0.3;

/// Judges every recording of a folder that has a truth file, in order of name.
///
/// # Errors
/// The folder or a truth file can't be read.
pub fn judge_folder(
    folder: &Path,
    given: Given,
    each: &mut dyn FnMut(&RecordingAccuracy),
) -> Result<Vec<RecordingAccuracy>, AccuracyError> {
    let recordings = recordings_with_truth(folder)?;
    if recordings.is_empty() {
        return Err(AccuracyError::NothingToJudge(folder.into()));
    }
    recordings
        .iter()
        .map(|(recording, truth)| {
            let judged = judge(recording, truth, given)?;
            each(&judged);
            Ok(judged)
        })
        .collect()
}

fn recordings_with_truth(folder: &Path) -> Result<Vec<(PathBuf, PathBuf)>, AccuracyError> {
    let unreadable = |error: std::io::Error| AccuracyError::Unreadable {
        reason: error.to_string(),
        path: folder.into(),
    };
    let mut pairs = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(unreadable)? {
        let path = entry.map_err(unreadable)?.path();
        let truth = path.with_extension("truth.json");
        let is_truth = path.extension().is_some_and(|e| e == "json");
        if !is_truth && truth.is_file() {
            pairs.push((path, truth));
        }
    }
    pairs.sort();
    Ok(pairs)
}

/// Judges one recording.
///
/// # Errors
/// The truth file can't be read.
pub fn judge(
    recording: &Path,
    truth_path: &Path,
    given: Given,
) -> Result<RecordingAccuracy, AccuracyError> {
    let unreadable = |reason: String| AccuracyError::Unreadable { reason, path: truth_path.into() };
    let text = std::fs::read_to_string(truth_path).map_err(|e| unreadable(e.to_string()))?;
    let value: Value = serde_json::from_str(&text).map_err(|e| unreadable(e.to_string()))?;
    let truth = Truth { value: &value, path: truth_path };
    let setup = match given {
        Given::References => truth.setup(),
        Given::Nothing => Setup::default(),
    };
    let started = Instant::now();
    let measured = measure_file(recording, &setup, &mut Progress::silent());
    let taken = started.elapsed().as_secs_f64();
    let name = recording.file_stem().map_or_else(String::new, |s| s.to_string_lossy().into());
    match measured {
        Ok(measurement) => truth.judge(name, &measurement, taken),
        Err(error) => Ok(truth.not_measured(name, &error)),
    }
}

/// What the tool under judgement is given of a truth: reference objects, and the origin of practice
/// swings.
pub fn given_setup(truth: &Value) -> Setup {
    Truth { value: truth, path: Path::new("") }.setup()
}

struct Truth<'a> {
    value: &'a Value,
    path: &'a Path,
}

impl Truth<'_> {
    /// What a person would have marked: reference objects, and the origin of practice swings.
    fn setup(&self) -> Setup {
        let objects = self.value["reference_objects"].as_array().cloned().unwrap_or_default();
        let mut references: Vec<Reference> = objects.iter().filter_map(reference).collect();
        let chalk: Vec<&Value> = objects.iter().filter(|o| o["kind"] == "chalk_line").collect();
        if let [a, b] = chalk[..] {
            references.extend(line_pair(a, b));
        }
        let practice = self.swings().find(|s| s["kind"] != "strike");
        let origin = practice.and_then(|s| self.origin_of(s)).map(Mark::steadied);
        Setup { references, origin, ..Setup::default() }
    }

    fn swings(&self) -> impl Iterator<Item = &Value> {
        self.value["swings"].as_array().into_iter().flatten()
    }

    /// Where the point that stands in for the ball is seen: the truth's camera looks at it.
    fn origin_of(&self, swing: &Value) -> Option<ImagePoint> {
        let x = swing["reference_x_m"].as_f64()?;
        let y = swing["low_point"]["point_m"][1].as_f64()?;
        let camera = &self.value["camera"];
        let rotation: [[f64; 3]; 3] = from(&camera["R_world_to_cam"])?;
        let shift: [f64; 3] = from(&camera["t"])?;
        let k: [[f64; 3]; 3] = from(&camera["K"])?;
        let lens: Vec<f64> = from(&camera["dist"])?;
        let c: Vec<f64> =
            (0..3).map(|i| rotation[i][0] * x + rotation[i][1] * y + shift[i]).collect();
        let (u, v) = (c[0] / c[2], c[1] / c[2]);
        let r2 = u * u + v * v;
        let bend = 1.0 + r2 * (lens.first()? + r2 * lens.get(1)?);
        Some(ImagePoint::new(k[0][0] * bend * u + k[0][2], k[1][1] * bend * v + k[1][2]))
    }

    /// All its swings are missed.
    fn not_measured(&self, name: String, error: &MeasureError) -> RecordingAccuracy {
        RecordingAccuracy {
            name,
            swings: Vec::new(),
            missed: self.swings().count(),
            invented: 0,
            failed: Some(error.to_string()),
            time_share: 0.0,
            rate: 0.0,
        }
    }

    fn judge(
        &self,
        name: String,
        measurement: &Measurement,
        taken: f64,
    ) -> Result<RecordingAccuracy, AccuracyError> {
        let mut left: Vec<(&SwingInput, &SwingResult)> =
            measurement.inputs.iter().zip(&measurement.swings).collect();
        let mut swings = Vec::new();
        let mut missed = 0;
        for truth in self.swings() {
            let time = self.number(&truth["strike"]["time_s"], "strike.time_s")?;
            let gap = |s: (&SwingInput, &SwingResult)| {
                s.1.strike_time.map_or(f64::MAX, |t| (t.0 - time).abs())
            };
            let nearest = (0..left.len()).min_by(|&a, &b| gap(left[a]).total_cmp(&gap(left[b])));
            match nearest.filter(|&i| gap(left[i]) <= SAME_SWING_S) {
                Some(i) => swings.push(self.judge_swing(truth, left.remove(i))?),
                None => missed += 1,
            }
        }
        let facts = &measurement.recording;
        Ok(RecordingAccuracy {
            name,
            swings,
            missed,
            invented: left.len(),
            failed: None,
            time_share: taken / facts.duration.0.max(1e-9),
            rate: facts.frames as f64 / facts.duration.0.max(1e-9),
        })
    }

    fn judge_swing(
        &self,
        truth: &Value,
        (input, said): (&SwingInput, &SwingResult),
    ) -> Result<SwingAccuracy, AccuracyError> {
        let kind = if truth["kind"] == "strike" { SwingKind::Strike } else { SwingKind::Practice };
        let contact = &truth["ground_contact"];
        let metres = |value: &Value| value.as_f64().map(|v| 1000.0 * v);
        let visible = contact["visible_mark"].as_bool().unwrap_or(false);
        let seen = |field: &str| metres(&contact[field]).filter(|_| visible);
        let flagged = |what: Reviewable| said.needs_review.contains(&what);
        let judge = |truth: Option<f64>, said: Option<&Measured>, what: Reviewable| {
            outcome(
                truth,
                said.map(state).map(|s| (s.value, s.interval.half_width())),
                flagged(what),
            )
        };
        let start = said.divot_start_offset.as_ref();
        let exact = metres(&contact["start_offset_from_ball_m"]);
        let mut judged = SwingAccuracy {
            kind,
            kind_right: said.kind == kind,
            frame_error: self.frame_error(truth, said, kind)?,
            ball: ball_outcome(truth, said, flagged(Reviewable::Ball)),
            divot_start: judge(
                seen("seen_start_offset_from_ball_m"),
                start,
                Reviewable::DivotStart,
            ),
            divot_start_exact: start.zip(exact.filter(|_| visible)).map(|(s, e)| s.value - e),
            divot_end: judge(
                seen("seen_end_offset_from_ball_m"),
                said.divot_end_offset.as_ref(),
                Reviewable::DivotEnd,
            ),
            low_point: judge(
                metres(&truth["low_point"]["offset_from_ball_m"]),
                said.low_point.as_ref().map(|(measured, _)| measured),
                Reviewable::LowPoint,
            ),
            attack_angle: judge(
                truth["attack_angle_deg"]["at_ball_position"].as_f64(),
                said.attack_angle.as_ref(),
                Reviewable::AttackAngle,
            ),
            contact_right: said
                .ground_mark
                .filter(|_| !flagged(Reviewable::ContactOrder))
                .map(|mark| (mark != GroundMark::None) == visible),
            claims: Vec::new(),
        };
        judged.claims = claims(input, &judged, visible);
        Ok(judged)
    }

    /// How far off the stated frame is: the frame with the contact inside its exposure counts
    /// like the one before it, and practice swings have two frames' play.
    fn frame_error(
        &self,
        truth: &Value,
        said: &SwingResult,
        kind: SwingKind,
    ) -> Result<i64, AccuracyError> {
        let strike = &truth["strike"];
        let last = self.number(&strike["last_frame_before_contact"], "the strike's frames")? as i64;
        let inside = strike["contact_inside_exposure_of_frame"].as_i64().unwrap_or(last);
        let (low, high) = match kind {
            SwingKind::Strike => (last.min(inside), last.max(inside)),
            SwingKind::Practice => (last - 2, last + 2),
        };
        let said = said.strike_frame.map_or(i64::MAX / 2, |f| f.0 as i64);
        Ok(if said < low { said - low } else { (said - high).max(0) })
    }

    fn number(&self, value: &Value, field: &'static str) -> Result<f64, AccuracyError> {
        value.as_f64().ok_or_else(|| AccuracyError::BadTruth { field, path: self.path.into() })
    }
}

/// What the program proposed for a swing, beside what the judge found.
fn claims(input: &SwingInput, judged: &SwingAccuracy, visible: bool) -> Vec<Claim> {
    let Some(found) = &input.found else { return Vec::new() };
    let within =
        |outcome: &Outcome| matches!(outcome, Outcome::Value(j) if j.error.abs() <= j.stated);
    let is_value =
        |outcome: &Outcome| matches!(outcome, Outcome::Value(_) | Outcome::Invented { .. });
    let mut claims = vec![Claim { sure: found.kind.confidence, right: judged.kind_right }];
    if let Some(mark) = &found.ground_mark {
        let right = (mark.value != GroundMark::None) == visible;
        claims.push(Claim { sure: mark.confidence, right });
    }
    let ball = found.ball.as_ref().map(|ball| ball.confidence);
    let start = found.divot_start.map(|start| start.confidence);
    let end = found.divot_end.map(|end| end.confidence);
    let pairs = [(ball, &judged.ball), (start, &judged.divot_start), (end, &judged.divot_end)];
    for (sure, outcome) in pairs {
        let sure = sure.filter(|_| is_value(outcome));
        claims.extend(sure.map(|sure| Claim { sure, right: within(outcome) }));
    }
    claims
}

fn from<T: serde::de::DeserializeOwned>(value: &Value) -> Option<T> {
    serde_json::from_value(value.clone()).ok()
}

fn reference(object: &Value) -> Option<Reference> {
    let size: Vec<f64> = from(&object["size_m"])?;
    let mm = |m: f64| Millimetres(1000.0 * m);
    let (kind, along_target) = match object["kind"].as_str()? {
        "sheet" => {
            let corners = from(&object["corners_px"])?;
            (ReferenceKind::Sheet { size: [mm(size[0]), mm(*size.get(1)?)], corners }, false)
        }
        "stick" => {
            let ends = from(&object["ends_px"])?;
            (ReferenceKind::Line { length: mm(size[0]), ends }, true)
        }
        _ => return None,
    };
    let height = mm(object["height_m"].as_f64().unwrap_or(0.0));
    Some(Reference { kind, height, along_target, frame: None, point_sigma: None })
}

fn line_pair(a: &Value, b: &Value) -> Option<Reference> {
    let axis = |o: &Value| from::<[[f64; 3]; 2]>(&o["axis_m"]);
    let distance = Millimetres(1000.0 * (axis(a)?[0][0] - axis(b)?[0][0]).abs());
    let lines = [from(&a["axis_px"])?, from(&b["axis_px"])?];
    Some(Reference {
        kind: ReferenceKind::LinePair { distance, lines },
        height: Millimetres(0.0),
        along_target: false,
        frame: None,
        point_sigma: None,
    })
}

fn outcome(truth: Option<f64>, said: Option<(f64, f64)>, flagged: bool) -> Outcome {
    match (truth, said) {
        (Some(truth), Some((value, stated))) => {
            Outcome::Value(Judged { error: value - truth, stated, flagged })
        }
        (Some(_), None) => Outcome::Missing { flagged },
        (None, Some(_)) => Outcome::Invented { flagged },
        (None, None) => Outcome::RightlyNone,
    }
}

fn ball_outcome(truth: &Value, said: &SwingResult, flagged: bool) -> Outcome {
    let at: Option<ImagePoint> = from(&truth["ball"]["centre_px"]);
    match (at, said.ball) {
        (Some(at), Some(ball)) => {
            Outcome::Value(Judged { error: ball.distance(at), stated: 1.0, flagged })
        }
        (Some(_), None) => Outcome::Missing { flagged },
        (None, Some(_)) => Outcome::Invented { flagged },
        (None, None) => Outcome::RightlyNone,
    }
}
