//! How well swings are measured: recordings with truth files, judged.
//!
//! A truth file `NAME.truth.json` lies beside its recording. The tool under judgement is given
//! the reference objects' pixels (and, for practice swings, the point that stands in for the
//! ball), or nothing at all; the truth is read for that and by the judge, nowhere else.

use std::path::{Path, PathBuf};
use std::time::Instant;

use serde_json::Value;

use super::{MeasureError, Measurement, Progress, Stated, SwingInput, measure_file, state};
use crate::domain::{
    GroundMark, ImagePoint, Interval, Mark, Measured, Millimetres, Reference, ReferenceKind,
    Reviewable, Setup, SwingKind, SwingResult,
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
    /// The stated expanded uncertainty: half the interval's width.
    pub stated: f64,
    /// The stated interval holds the truth; it need not lie evenly about what was said.
    pub held: bool,
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
    /// There is no truth, or the truth says that it is hidden, and the tool gave no value.
    RightlyNone,
}

/// One swing of the truth that was found, judged.
#[derive(Clone, Debug)]
pub struct SwingAccuracy {
    /// What the truth calls it.
    pub kind: SwingKind,
    /// The kind was told right.
    pub kind_right: bool,
    /// The swing was put before a person.
    pub kind_flagged: bool,
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

impl SwingAccuracy {
    /// Called a strike or a practice swing wrongly, and nobody was asked to look.
    pub fn is_silently_wrong(&self) -> bool {
        !self.kind_right && !self.kind_flagged
    }
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
            outcome(truth, said.map(state), flagged(what))
        };
        let start = said.divot_start_offset.as_ref();
        let exact = metres(&contact["start_offset_from_ball_m"]);
        let mut judged = SwingAccuracy {
            kind,
            kind_right: said.kind == kind,
            kind_flagged: flagged(Reviewable::Swing),
            frame_error: self.frame_error(truth, said, kind)?,
            ball: ball_outcome(truth, said, flagged(Reviewable::Ball)),
            divot_start: unless_hidden(
                contact["start_hidden"].as_bool() == Some(true),
                judge(seen("seen_start_offset_from_ball_m"), start, Reviewable::DivotStart),
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
    let within = |outcome: &Outcome| matches!(outcome, Outcome::Value(j) if j.held);
    let is_value =
        |outcome: &Outcome| matches!(outcome, Outcome::Value(_) | Outcome::Invented { .. });
    let mut claims = vec![Claim { sure: found.kind.confidence, right: judged.kind_right }];
    if let Some(mark) = &found.ground_mark {
        let right = (mark.value != GroundMark::None) == visible;
        claims.push(Claim { sure: mark.confidence, right });
    }
    let ball = found.placed_ball().map(|ball| ball.confidence);
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

fn outcome(truth: Option<f64>, said: Option<Stated>, flagged: bool) -> Outcome {
    match (truth, said) {
        (Some(truth), Some(Stated { value, interval })) => {
            let (stated, held) = (interval.half_width(), interval.contains(truth));
            Outcome::Value(Judged { error: value - truth, stated, held, flagged })
        }
        (Some(_), None) => Outcome::Missing { flagged },
        (None, Some(_)) => Outcome::Invented { flagged },
        (None, None) => Outcome::RightlyNone,
    }
}

/// Where the truth says that nothing can be made out, "could not tell" is the right answer.
fn unless_hidden(hidden: bool, outcome: Outcome) -> Outcome {
    match outcome {
        Outcome::Missing { .. } if hidden => Outcome::RightlyNone,
        told => told,
    }
}

/// How far the ball was found from where it lies; its "±" is a pixel.
fn ball_outcome(truth: &Value, said: &SwingResult, flagged: bool) -> Outcome {
    let at: Option<ImagePoint> = from(&truth["ball"]["centre_px"]);
    let off = said.ball.map(|ball| {
        let value = at.map_or(0.0, |at| ball.distance(at));
        Stated { value, interval: Interval { low: value - 1.0, high: value + 1.0 } }
    });
    outcome(at.map(|_| 0.0), off, flagged)
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;
    use crate::domain::{
        BallOutline, Contribution, Found, FoundSwing, FrameIndex, PictureSize, Pixels, Seconds,
        Source, SwingMarks,
    };
    use crate::workflow::RecordingFacts;

    /// A strike at 2 s between the frames 119 and 120, first contact 18 mm behind the ball.
    fn strike() -> Value {
        json!({
            "kind": "strike",
            "strike": { "time_s": 2.0, "last_frame_before_contact": 119 },
            "ball": { "centre_px": [640.0, 500.0] },
            "ground_contact": {
                "visible_mark": true,
                "start_offset_from_ball_m": -0.018,
                "seen_start_offset_from_ball_m": -0.015,
                "seen_end_offset_from_ball_m": 0.120,
            },
            "low_point": { "offset_from_ball_m": 0.085, "point_m": [0.085, 0.01, -0.01] },
            "attack_angle_deg": { "at_ball_position": -4.0 },
        })
    }

    /// What a tool might say of it: start 5 mm late, the rest as it is.
    fn said() -> SwingResult {
        let known = |value, standard| {
            Some(Measured::new(value, vec![Contribution::new(Source::Mark, standard)]))
        };
        SwingResult {
            strike_time: Some(Seconds(2.01)),
            strike_frame: Some(FrameIndex(119)),
            ball: Some(ImagePoint::new(640.0, 500.6)),
            ground_mark: Some(GroundMark::Divot),
            divot_start_offset: known(-10.0, 1.0),
            divot_end_offset: known(120.0, 5.0),
            ..SwingResult::without_numbers(SwingKind::Strike)
        }
    }

    fn found(sure: f64) -> FoundSwing {
        let at = ImagePoint::new(640.0, 500.6);
        let ball = BallOutline { centre: at, diameter: Pixels(20.0), diameter_sigma: Pixels(0.3) };
        FoundSwing {
            kind: Found { value: SwingKind::Strike, sigma: 0.0, confidence: sure },
            strike_time: Found { value: Seconds(2.01), sigma: 0.002, confidence: sure },
            strike_frame: FrameIndex(119),
            heading: None,
            ball: Some(Found { value: ball, sigma: 0.3, confidence: sure }),
            ground_mark: Some(Found { value: GroundMark::Divot, sigma: 0.0, confidence: sure }),
            divot_start: Some(Found { value: at, sigma: 0.5, confidence: sure }),
            divot_end: None,
            mark_line: None,
            club_head: Vec::new(),
            compared: None,
            steadying_sigma: Pixels(0.0),
            warnings: Vec::new(),
        }
    }

    fn judge(swings: Value, said: Vec<SwingResult>) -> RecordingAccuracy {
        let value = json!({ "swings": swings });
        let truth = Truth { value: &value, path: Path::new("invented.truth.json") };
        let input = || SwingInput {
            found: Some(found(0.9)),
            given: SwingMarks::default(),
            kind: None,
            club: None,
        };
        let measurement = Measurement {
            recording: RecordingFacts {
                frames: 480,
                duration: Seconds(8.0),
                size: PictureSize { width: 1280, height: 720 },
                slow_factor: 1.0,
            },
            setup: Setup::default(),
            inputs: said.iter().map(|_| input()).collect(),
            swings: said,
            warnings: Vec::new(),
            view: None,
        };
        truth.judge("invented".into(), &measurement, 4.0).unwrap()
    }

    #[test]
    fn a_swing_is_judged_quantity_by_quantity() {
        let judged = judge(json!([strike()]), vec![said()]);
        assert_eq!((judged.missed, judged.invented, judged.time_share), (0, 0, 0.5));
        let [swing] = &judged.swings[..] else { panic!("{judged:?}") };
        assert!(swing.kind_right && swing.frame_error == 0);
        let Outcome::Value(start) = swing.divot_start else { panic!("{swing:?}") };
        assert!((start.error - 5.0).abs() < 1e-9 && (start.stated - 1.96).abs() < 1e-2);
        assert!(!start.is_silent_blunder());
        assert!((swing.divot_start_exact.unwrap() - 8.0).abs() < 1e-9);
        let Outcome::Value(ball) = swing.ball else { panic!("{swing:?}") };
        assert!((ball.error - 0.6).abs() < 1e-9);
        assert_eq!(swing.low_point, Outcome::Missing { flagged: false });
        assert_eq!(swing.contact_right, Some(true));
        // The kind, the mark, the ball within its pixel; the start not within its ±.
        let right: Vec<bool> = swing.claims.iter().map(|claim| claim.right).collect();
        assert_eq!(right, [true, true, true, false]);
    }

    #[test]
    fn far_off_is_a_blunder_unless_a_person_is_asked() {
        let mut far = said();
        far.divot_start_offset.as_mut().unwrap().value = 20.0;
        let silent = |said: SwingResult| match judge(json!([strike()]), vec![said]).swings[0] {
            SwingAccuracy { divot_start: Outcome::Value(start), .. } => start.is_silent_blunder(),
            _ => panic!("no start"),
        };
        assert!(silent(far.clone()));
        far.needs_review = vec![Reviewable::DivotStart];
        assert!(!silent(far));
    }

    #[test]
    fn a_wrong_kind_is_silent_unless_a_person_is_asked() {
        let mut other = SwingResult { kind: SwingKind::Practice, ..said() };
        let silent = |said: &SwingResult| {
            judge(json!([strike()]), vec![said.clone()]).swings[0].is_silently_wrong()
        };
        assert!(silent(&other) && !silent(&said()));
        other.needs_review = vec![Reviewable::Swing];
        assert!(!silent(&other));
    }

    #[test]
    fn swings_are_found_missed_and_invented() {
        let mut early = strike();
        early["strike"]["time_s"] = json!(1.0);
        let at = |time| SwingResult { strike_time: Some(Seconds(time)), ..said() };
        let judged = judge(json!([early, strike()]), vec![at(2.05), at(5.0)]);
        assert_eq!((judged.swings.len(), judged.missed, judged.invented), (1, 1, 1));
        // 0.3 s is the same swing, more is another.
        let judged = judge(json!([strike()]), vec![at(2.31)]);
        assert_eq!((judged.swings.len(), judged.missed, judged.invented), (0, 1, 1));
    }

    #[test]
    fn what_is_not_there_must_not_be_told() {
        let mut bare = strike();
        bare["ground_contact"] = Value::Null;
        bare["ball"] = Value::Null;
        let judged = judge(json!([bare]), vec![said()]);
        let [swing] = &judged.swings[..] else { panic!("{judged:?}") };
        for outcome in [swing.ball, swing.divot_start, swing.divot_end] {
            assert_eq!(outcome, Outcome::Invented { flagged: false });
        }
        assert_eq!(swing.contact_right, Some(false));
        assert_eq!(swing.divot_start_exact, None);
        let quiet = SwingResult {
            strike_time: Some(Seconds(2.0)),
            ..SwingResult::without_numbers(SwingKind::Strike)
        };
        let judged = judge(json!([bare]), vec![quiet]);
        assert_eq!(judged.swings[0].divot_start, Outcome::RightlyNone);
        assert_eq!(judged.swings[0].contact_right, None);
    }

    #[test]
    fn not_telling_a_hidden_start_is_right() {
        let mut hidden = strike();
        hidden["ground_contact"]["start_hidden"] = json!(true);
        let silent = SwingResult { divot_start_offset: None, ..said() };
        let start = |truth: &Value, said: &SwingResult| {
            judge(json!([truth]), vec![said.clone()]).swings[0].divot_start
        };
        assert_eq!(start(&strike(), &silent), Outcome::Missing { flagged: false });
        assert_eq!(start(&hidden, &silent), Outcome::RightlyNone);
        // Who tells it all the same is judged like anybody.
        assert_eq!(start(&hidden, &said()), start(&strike(), &said()));
    }

    #[test]
    fn frames_have_the_play_that_the_truth_leaves() {
        let error = |truth: &Value, frame: usize| {
            let said = SwingResult { strike_frame: Some(FrameIndex(frame)), ..said() };
            judge(json!([truth]), vec![said]).swings[0].frame_error
        };
        assert_eq!([118, 119, 120].map(|f| error(&strike(), f)), [-1, 0, 1]);
        let mut inside = strike();
        inside["strike"]["contact_inside_exposure_of_frame"] = json!(120);
        assert_eq!([118, 119, 120, 121].map(|f| error(&inside, f)), [-1, 0, 0, 1]);
        let mut practice = strike();
        practice["kind"] = json!("rehearsal");
        assert_eq!([116, 117, 121, 122].map(|f| error(&practice, f)), [-1, 0, 0, 1]);
    }

    #[test]
    fn the_tool_is_given_references_and_origins_and_nothing_else() {
        let mut truth = json!({
            "swings": [strike()],
            "reference_objects": [{
                "kind": "sheet",
                "size_m": [0.297, 0.21],
                "height_m": 0.006,
                "corners_px": [[1.0, 2.0], [3.0, 2.0], [3.0, 4.0], [1.0, 4.0]],
            }],
        });
        let given = given_setup(&truth);
        assert_eq!(given.references.len(), 1);
        assert_eq!(given.references[0].height, Millimetres(6.0));
        assert!(given.origin.is_none() && given.swings.is_empty());
        // Nothing of a strike's truth reaches the tool.
        truth["swings"] = json!([]);
        assert_eq!(given_setup(&truth), given);
    }

    #[test]
    fn a_practice_swings_origin_is_where_the_truths_camera_sees_it() {
        let mut practice = strike();
        practice["kind"] = json!("rehearsal");
        practice["reference_x_m"] = json!(0.1);
        practice["low_point"]["point_m"] = json!([0.2, 0.5, 0.0]);
        // Looks along y from 2 m away: 0.1 / 2.5 to the side, 1 / 2.5 down.
        let truth = json!({
            "swings": [practice],
            "camera": {
                "K": [[1000.0, 0.0, 640.0], [0.0, 1000.0, 360.0], [0.0, 0.0, 1.0]],
                "dist": [0.1, 0.0, 0.0, 0.0, 0.0],
                "R_world_to_cam": [[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]],
                "t": [0.0, 1.0, 2.0],
            },
        });
        let at = given_setup(&truth).origin.unwrap().point;
        let bend = 1.0 + 0.1 * (0.04f64.powi(2) + 0.4f64.powi(2));
        assert!((at.x - (640.0 + 40.0 * bend)).abs() < 1e-9);
        assert!((at.y - (360.0 + 400.0 * bend)).abs() < 1e-9);
    }
}
