//! The recording in the picture: its frames, its set-up, the ground as calibrated.

use std::collections::HashMap;
use std::path::PathBuf;
use std::sync::Arc;

use crate::app::strip::Strip;
use crate::domain::{
    ColourFrame, FrameIndex, GroundPoint, ImagePoint, Mark, PictureSize, Setup, Timeline, Warning,
    WorldPoint,
};
use crate::geometry::GroundView;
use crate::store::{RecordingId, SwingId};
use crate::vision::Motion;
use crate::workflow::{LensChoice, ViewDoubt};

/// The recording in the picture.
#[derive(Debug)]
pub struct OpenRecording {
    /// In the library.
    pub id: RecordingId,
    /// The file.
    pub path: PathBuf,
    /// When each frame is shown; `None` until the file is indexed.
    pub timeline: Option<Arc<Timeline>>,
    /// Displayed size.
    pub size: PictureSize,
    /// The frame asked for.
    pub frame: FrameIndex,
    /// The frame at hand, perhaps an older one while the newer is read.
    pub shown: Option<(FrameIndex, Arc<ColourFrame>)>,
    /// The last frame that could not be read.
    pub unreadable: Option<FrameIndex>,
    /// How frames have moved against the first, as far as known.
    pub motions: HashMap<FrameIndex, Motion>,
    /// The strip under the picture.
    pub strip: Strip,
    /// What belongs to the set-up.
    pub setup: Setup,
    /// What is known of where the camera stands.
    pub standing: Standing,
    /// Why a set-up carried over may not fit what is seen, compared since it was opened.
    pub view_differs: Option<ViewDoubt>,
    /// What is odd about the file.
    pub warnings: Vec<Warning>,
    /// The file cannot be read; its sentence.
    pub trouble: Option<String>,
}

impl OpenRecording {
    /// A recording about to be read.
    pub fn new(id: RecordingId, path: PathBuf) -> Self {
        Self {
            id,
            path,
            timeline: None,
            size: PictureSize { width: 0, height: 0 },
            frame: FrameIndex(0),
            shown: None,
            unreadable: None,
            motions: HashMap::new(),
            strip: Strip::default(),
            setup: Setup::default(),
            standing: Standing::default(),
            view_differs: None,
            warnings: Vec::new(),
            trouble: None,
        }
    }

    /// It is waited for.
    pub fn is_opening(&self) -> bool {
        self.timeline.is_none() && self.trouble.is_none()
    }

    /// Why a set-up carried over may not fit: that the view differs, as just compared or as when it
    /// was read in, else that it could not be compared.
    pub fn view_doubt(&self) -> Option<ViewDoubt> {
        let is = |w: &&Warning| matches!(w, Warning::ViewDiffers { .. });
        let kept = || self.standing.warnings.iter().find(is).cloned().map(ViewDoubt::Differs);
        let differs = |doubt: &ViewDoubt| matches!(doubt, ViewDoubt::Differs(_));
        let fresh = self.view_differs.clone();
        fresh.clone().filter(differs).or_else(kept).or(fresh)
    }

    /// The last frame's number.
    pub fn last_frame(&self) -> usize {
        self.timeline.as_ref().map_or(0, |t| t.len().saturating_sub(1))
    }

    /// The motion of a frame against the first, where it is known and to be believed.
    fn motion_of(&self, frame: Option<FrameIndex>) -> Option<&Motion> {
        self.motions.get(&frame?).filter(|motion| motion.is_trusted)
    }

    fn shown_frame(&self) -> Option<FrameIndex> {
        self.shown.as_ref().map(|(frame, _)| *frame)
    }

    /// Where a mark lies in the steadied picture, as far as its frame's motion is known.
    pub fn steadied(&self, mark: Mark) -> ImagePoint {
        self.motion_of(mark.frame).map_or(mark.point, |m| m.to_first(mark.point))
    }

    /// Where a mark lies in the frame that is shown.
    pub fn place_in_shown(&self, mark: Mark) -> ImagePoint {
        if mark.frame.is_some() && mark.frame == self.shown_frame() {
            return mark.point;
        }
        let first = self.steadied(mark);
        self.motion_of(self.shown_frame()).map_or(first, |m| m.from_first(first))
    }

    /// Where `point` of the frame that is shown lies in `frame`; `None`: in the steadied picture.
    pub fn shown_point_in(&self, point: ImagePoint, frame: Option<FrameIndex>) -> ImagePoint {
        if frame.is_some() && frame == self.shown_frame() {
            return point;
        }
        let first = self.steadied(Mark::read_in(point, self.shown_frame()));
        self.motion_of(frame).map_or(first, |m| m.from_first(first))
    }

    /// A mark read at `point` of the frame that is shown: in the steadied picture where the
    /// frame's motion is known, else in the frame itself.
    pub fn mark_at(&self, point: ImagePoint) -> Mark {
        let shown = self.shown_frame();
        match (shown, self.motion_of(shown)) {
            (Some(frame), Some(motion)) => motion.steadied(point, frame),
            _ => Mark::read_in(point, shown),
        }
    }
}

/// What is known of where a recording's camera stands, and what it sees through.
#[derive(Clone, Debug, Default)]
pub struct Standing {
    /// The recording the set-up was made in, where it is carried over from another.
    pub carried_from: Option<String>,
    /// The ground as calibrated, for each swing that has a ball or a ball line.
    pub grounds: Vec<(SwingId, Ground)>,
    /// Lenses that could have made it.
    pub lenses: LensChoice,
    /// What makes its numbers wider or doubtful as a whole: references that disagree, a target
    /// line that is only assumed.
    pub warnings: Vec<Warning>,
    /// The recording's view of the ground: where the camera stands, how the references fit.
    pub view: Option<Arc<GroundView>>,
}

/// The ground as the calibration sees it.
#[derive(Clone, Debug)]
pub struct Ground {
    /// Between picture and ground; its zero is the swing's ball or ball line.
    pub view: Arc<GroundView>,
    /// The club head's path over it; empty where no arc was fitted.
    pub path: Vec<WorldPoint>,
}

impl Ground {
    /// Where a ground point appears in the steadied picture.
    pub fn project(&self, point: GroundPoint) -> Option<ImagePoint> {
        self.view.image_from_ground(point)
    }
}

/// The ground before and after a swing, steadied on each other.
#[derive(Clone, Debug)]
pub struct BeforeAfter {
    /// Whose.
    pub swing: SwingId,
    /// Before.
    pub before: Arc<ColourFrame>,
    /// After, on the before picture's grid.
    pub after: Arc<ColourFrame>,
    /// Where they differ.
    pub difference: Arc<ColourFrame>,
}
