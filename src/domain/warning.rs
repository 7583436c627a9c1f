//! What was odd on the way to a result: saved with it, shown with it.

use serde::{Deserialize, Serialize};

use super::{Direction, LengthUnit};

/// A warning with its evidence. Its text ends with what the user can do.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "code", rename_all = "kebab-case")]
pub enum Warning {
    /// The camera is not square to the target line.
    CameraYaw {
        /// Degrees off square, + to the right.
        degrees: f64,
    },
    /// No object of known size was given or found.
    NoReference,
    /// The ball is the only ruler.
    BallIsRuler,
    /// Something of known size was found that nobody has confirmed.
    ReferenceProposed {
        /// What it seems to be, in plain words.
        what: String,
        /// How sure the program is, 0 to 1.
        confidence: f64,
    },
    /// A mat's edge was found that nobody has confirmed as the target line.
    LineProposed {
        /// How sure the program is, 0 to 1.
        confidence: f64,
    },
    /// References do not agree on the scale.
    ReferencesDisagree {
        /// Which one does not fit, in plain words.
        which: String,
        /// What it says, mm a pixel at the ball.
        says: f64,
        /// What the others say, mm a pixel at the ball.
        others: f64,
        /// The other one in plain words, where there is one alone; else "others".
        #[serde(default = "others")]
        against: String,
    },
    /// Two references that are said to tell the target line do not point the same way.
    DirectionsDisagree {
        /// Both, in plain words.
        which: [String; 2],
        /// The angle between them on the ground, degrees.
        degrees: f64,
    },
    /// What is marked fits no thing of the size given.
    SizeMisfit {
        /// What is marked, in plain words.
        which: String,
    },
    /// Camera angle and ground tilt are only known within their usual range.
    CameraAngleUnknown,
    /// The target's side was neither given nor seen.
    TargetUnknown,
    /// The target line was taken as level in the picture.
    TargetLineAssumed,
    /// The surface was not given and taken as turf.
    SurfaceAssumed,
    /// The swing has no ball and no point that stands in for it.
    NoOrigin,
    /// The picture moved more than steadying can follow.
    CameraMoved {
        /// Largest shift, pixels.
        pixels: f64,
    },
    /// Too few frames show the club head for an arc.
    TooFewClubFrames {
        /// How many there were.
        frames: usize,
    },
    /// The camera does not stand where it stood in the recording from which the set-up is carried
    /// over.
    ViewDiffers {
        /// The file name of that recording.
        from: String,
        /// How far the view is off, pixels; `None`: it shows other ground.
        pixels: Option<f64>,
    },
    /// The club head's path is too straight to tell its low point.
    NearlyStraight,
    /// Arc and mark do not agree on the low point.
    LowPointsDisagree {
        /// From the arc, mm.
        arc: f64,
        /// From the mark, mm.
        mark: f64,
    },
    /// The club head passes well above the ground that it marked, or below ground that it left
    /// untouched.
    ArcOffGround {
        /// Where its low point lies over the ground, mm; negative: below.
        height: f64,
        /// Whether a mark was found or placed.
        marked: bool,
    },
    /// The club head's path bends more or less than a swing's does.
    ArcRadiusOdd {
        /// Its radius, mm.
        radius: f64,
    },
    /// Too few random draws were possible to check the interval: it is the budget's sum alone.
    IntervalNotDrawn,
    /// The divot starts farther towards the target than it ends.
    MarkReversed,
    /// The club head went to the other side than the one on which the target is said to lie.
    TargetOtherSide {
        /// Where it went.
        went: Direction,
    },
    /// The ball is marked beside where it is seen.
    BallMarkApart {
        /// How far, pixels.
        pixels: f64,
    },
    /// A reference object ends outside the picture as displayed.
    OutsidePicture {
        /// Which object.
        which: String,
    },
    /// The picture is interlaced.
    Interlaced,
    /// Blocks of the coder show on the ground.
    CoarselyCoded {
        /// By how much they step, percent of the light.
        percent: f64,
    },
    /// What lies above a row of the picture is displaced against what lies below.
    PictureTorn {
        /// The first row below.
        row: f64,
        /// By how much, pixels.
        pixels: f64,
    },
    /// A strike that is told by its ball alone.
    ClubUnseen,
    /// The file plays slower than it was captured.
    SlowMotion {
        /// Seconds of play in one second of capture.
        factor: f64,
    },
    /// The file does not say that it plays slower than it was captured, and shows swings only if it
    /// is taken to.
    SlowMotionGuessed {
        /// How many times slower it was taken to play.
        factor: f64,
    },
    /// The file is damaged or cut short.
    Damaged {
        /// What is missing.
        what: String,
    },
    /// Anything a room has to say that has no evidence to carry; `note` is a full sentence.
    Note {
        /// A full sentence that ends with what the user can do.
        note: String,
    },
}

fn others() -> String {
    "others".into()
}

impl Warning {
    /// The stable code that scripts see (listed in `docs/formats.md`).
    pub fn code(&self) -> &'static str {
        match self {
            Self::CameraYaw { .. } => "camera-yaw",
            Self::NoReference => "no-reference",
            Self::BallIsRuler => "ball-is-ruler",
            Self::ReferenceProposed { .. } => "reference-proposed",
            Self::LineProposed { .. } => "line-proposed",
            Self::ReferencesDisagree { .. } => "references-disagree",
            Self::DirectionsDisagree { .. } => "directions-disagree",
            Self::SizeMisfit { .. } => "size-misfit",
            Self::CameraAngleUnknown => "camera-angle-unknown",
            Self::TargetUnknown => "target-unknown",
            Self::TargetLineAssumed => "target-line-assumed",
            Self::SurfaceAssumed => "surface-assumed",
            Self::NoOrigin => "no-origin",
            Self::CameraMoved { .. } => "camera-moved",
            Self::ViewDiffers { .. } => "view-differs",
            Self::TooFewClubFrames { .. } => "too-few-club-frames",
            Self::NearlyStraight => "nearly-straight",
            Self::LowPointsDisagree { .. } => "low-points-disagree",
            Self::ArcOffGround { .. } => "arc-off-ground",
            Self::ArcRadiusOdd { .. } => "arc-radius-odd",
            Self::IntervalNotDrawn => "interval-not-drawn",
            Self::MarkReversed => "mark-reversed",
            Self::TargetOtherSide { .. } => "target-other-side",
            Self::BallMarkApart { .. } => "ball-mark-apart",
            Self::OutsidePicture { .. } => "outside-picture",
            Self::Interlaced => "interlaced",
            Self::CoarselyCoded { .. } => "coarsely-coded",
            Self::PictureTorn { .. } => "picture-torn",
            Self::ClubUnseen => "club-unseen",
            Self::SlowMotion { .. } => "slow-motion",
            Self::SlowMotionGuessed { .. } => "slow-motion-guessed",
            Self::Damaged { .. } => "damaged",
            Self::Note { .. } => "note",
        }
    }

    /// What happened and what to do, in plain words.
    pub fn text(&self) -> String {
        let place = |mm: f64| {
            let side = if mm < 0.0 { "behind" } else { "ahead" };
            format!("{:.0} mm {side}", mm.abs())
        };
        self.text_with(&place, LengthUnit::Mm)
    }

    /// The same with places along the target line (mm from the ball, + ahead) in words of the
    /// caller's ("58 mm ahead"), and scales in the unit given.
    pub fn text_with(&self, place: &dyn Fn(f64) -> String, unit: LengthUnit) -> String {
        match self {
            Self::CameraYaw { degrees } => {
                let side = if *degrees < 0.0 { "left" } else { "right" };
                let degrees = degrees.abs();
                format!("The camera is turned {degrees:.1}° to the {side} of square to the target line; turn it square for a smaller ±.")
            }
            Self::NoReference => {
                "Nothing of known size is marked, so there are no millimetres; mark a sheet, four points, a stick or the ball.".into()
            }
            Self::BallIsRuler => {
                "The ball is the only ruler and a poor one; lay down a sheet or a stick for a smaller ±.".into()
            }
            Self::LineProposed { confidence } => format!(
                "What looks like a mat's edge lies on the ground ({:.0} % sure); confirm it to take the target line along it.",
                100.0 * confidence
            ),
            Self::ReferenceProposed { what, confidence } => format!(
                "What looks like {what} lies on the ground ({:.0} % sure); confirm it to measure by it.",
                100.0 * confidence
            ),
            Self::ReferencesDisagree { which, says, others, against } => {
                let name = unit.short_name();
                let places = if unit == LengthUnit::Mm { 2 } else { 3 };
                let [says, others] = [says, others].map(|mm| unit.from_mm(*mm));
                format!(
                    "The {which} says {says:.places$} {name} a pixel, the {against} {others:.places$}; check the marks on the {which}."
                )
            }
            Self::DirectionsDisagree { which: [one, other], degrees } => format!(
                "The {one} and the {other} point {degrees:.1}° apart, though both are said to tell the target line; check which of them does."
            ),
            Self::SizeMisfit { which } => format!(
                "What is marked as {which} does not fit the size given; check the marks, their order and the size."
            ),
            Self::CameraAngleUnknown => {
                "The camera's angle to the ground is not known and is carried in the ±; add a sheet or four points to fix it.".into()
            }
            Self::TargetUnknown => {
                "Which way the target lies could not be told; say left or right in the set-up.".into()
            }
            Self::TargetLineAssumed => {
                "The target line is taken as level in the picture; mark it, or lay a stick along it, for a smaller ±.".into()
            }
            Self::SurfaceAssumed => "The surface was not given and is taken as turf; say mat if it is one.".into(),
            Self::NoOrigin => {
                "A practice swing needs a point that stands in for the ball; mark the ball line.".into()
            }
            Self::CameraMoved { pixels } => format!(
                "The picture moved by {pixels:.0} pixels during the swing; fix the tripod and check the marks."
            ),
            Self::ViewDiffers { from, pixels } => {
                let differs = pixels.map_or("This does not look like the ground".into(), |pixels| {
                    format!("The camera stands {pixels:.1} pixels off where it stood")
                });
                format!("{differs} in {from}, from which the set-up is carried over; set it up anew here.")
            }
            Self::TooFewClubFrames { frames } => {
                let seen = match frames {
                    0 => "No frame shows".into(),
                    1 => "Only one frame shows".into(),
                    n => format!("Only {n} frames show"),
                };
                format!(
                    "{seen} the club head well enough for an arc; record at 120 frames a second or more."
                )
            }
            Self::NearlyStraight => {
                "The club head's path is too straight to tell its lowest point; record more of the swing's bottom.".into()
            }
            Self::LowPointsDisagree { arc, mark } => format!(
                "The arc puts the low point {}, the mark {}; check divot start and end.",
                place(*arc),
                place(*mark)
            ),
            Self::ArcRadiusOdd { radius } => {
                let size = unit.words(*radius);
                format!("The club head's path comes out with a radius of {size}, which few swings have; check the club head's marks, the middle of its leading edge.")
            }
            Self::ArcOffGround { height, marked } => {
                let size = unit.words(height.abs());
                match marked {
                    true => format!("The club head's lowest point comes out {size} above the ground, which it marked; check the club head's marks, the middle of its leading edge, and the mark in the ground."),
                    false => format!("The club head's lowest point comes out {size} below the ground, which it left untouched; check the club head's marks, the middle of its leading edge, and whether there is a mark."),
                }
            }
            Self::IntervalNotDrawn => "The ± could not be checked by random draws and is the sum of its parts alone; mark one more thing of known size.".into(),
            Self::TargetOtherSide { went } => {
                let [went, said] = match went {
                    Direction::Left => ["left", "right"],
                    Direction::Right => ["right", "left"],
                };
                format!("The club head went to the {went} of the picture, and the target is said to lie to the {said}; check which way it lies.")
            }
            Self::BallMarkApart { pixels } => format!(
                "The ball is marked {pixels:.0} pixels beside where it is seen; check the ball mark."
            ),
            Self::MarkReversed => {
                "The divot starts ahead of where it ends, seen toward the target; check both marks and which way the target lies.".into()
            }
            Self::OutsidePicture { which } => format!("The {which} ends outside the picture, where nobody can see it; check it."),
            Self::CoarselyCoded { percent } => format!(
                "The film is compressed so strongly that its blocks step by {percent:.1} % on the ground and may hide where the mark begins and ends; look at both, and use the phone's own file, not one passed on."
            ),
            Self::PictureTorn { row, pixels } => format!(
                "Part of the picture is displaced by {pixels:.1} pixels along row {row:.0}, the ball perhaps with it; look at its mark."
            ),
            Self::Interlaced => "The picture is interlaced; record progressive video for sharper marks.".into(),
            Self::ClubUnseen => "The strike is told by its ball alone, since no turning club was seen; look whether it is one, and film the whole club.".into(),
            Self::SlowMotion { factor } => format!(
                "The file plays {factor:.1} times slower than it was captured; times shown are those of playing."
            ),
            Self::SlowMotionGuessed { factor } => format!(
                "No strike shows at the speed at which the file plays; it is taken to play some {factor:.0} times slower than it was captured, so look whether each swing is one."
            ),
            Self::Damaged { what } => format!("The file is damaged: {what}; copy it again from the phone."),
            Self::Note { note } => note.clone(),
        }
    }
}
