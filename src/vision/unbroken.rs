//! Pictures of a recording of which some cannot be decoded.

use std::sync::Arc;

use crate::domain::{
    ColourFrame, FrameIndex, GrayFrame, PictureError, PictureSize, Pictures, Timeline,
};

/// The same pictures, in which a frame that cannot be decoded shows what the one before it did (the
/// first of all, what the one after it does): the frames keep their numbers, and one lost picture
/// does not lose the recording.
pub(crate) struct Unbroken<'a>(pub &'a mut dyn Pictures);

/// How far it is looked for one that can be.
const MOST_LOST: usize = 12;

impl Unbroken<'_> {
    fn nearest<T>(
        &mut self,
        frame: FrameIndex,
        read: impl Fn(&mut dyn Pictures, FrameIndex) -> Result<T, PictureError>,
    ) -> Result<T, PictureError> {
        let lost = match read(self.0, frame) {
            Err(PictureError::Unreadable(why)) => PictureError::Unreadable(why),
            told => return told,
        };
        let last = self.0.timeline().len();
        let before = (frame.0.saturating_sub(MOST_LOST)..frame.0).rev();
        for near in before.chain(frame.0 + 1..last.min(frame.0 + MOST_LOST)) {
            match read(self.0, FrameIndex(near)) {
                Err(PictureError::Unreadable(_)) => {}
                told => return told,
            }
        }
        Err(lost)
    }
}

impl Pictures for Unbroken<'_> {
    fn timeline(&self) -> &Timeline {
        self.0.timeline()
    }

    fn size(&self) -> PictureSize {
        self.0.size()
    }

    fn gray(&mut self, frame: FrameIndex) -> Result<Arc<GrayFrame>, PictureError> {
        self.nearest(frame, |pictures, frame| pictures.gray(frame))
    }

    fn colour(&mut self, frame: FrameIndex) -> Result<Arc<ColourFrame>, PictureError> {
        self.nearest(frame, |pictures, frame| pictures.colour(frame))
    }

    fn for_each_gray(
        &mut self,
        from: FrameIndex,
        to: FrameIndex,
        each: &mut dyn FnMut(FrameIndex, &GrayFrame) -> bool,
    ) -> Result<(), PictureError> {
        let to = to.0.min(self.0.timeline().len());
        let (mut next, mut last, mut goes_on) = (from.0, None::<GrayFrame>, true);
        self.0.for_each_gray(from, FrameIndex(to), &mut |frame, gray| {
            while goes_on && next < frame.0 {
                goes_on = each(FrameIndex(next), last.as_ref().unwrap_or(gray));
                next += 1;
            }
            goes_on = goes_on && each(frame, gray);
            next = frame.0 + 1;
            match &mut last {
                Some(kept) => kept.clone_from(gray),
                none => *none = Some(gray.clone()),
            }
            goes_on
        })?;
        if let Some(last) = last {
            while goes_on && next < to {
                goes_on = each(FrameIndex(next), &last);
                next += 1;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{FrameEntry, Pts, TimeBase};

    /// Eight pictures, each as bright as its number, of which some are lost.
    struct Broken(Timeline, &'static [usize]);

    impl Pictures for Broken {
        fn timeline(&self) -> &Timeline {
            &self.0
        }

        fn size(&self) -> PictureSize {
            PictureSize { width: 2, height: 1 }
        }

        fn gray(&mut self, frame: FrameIndex) -> Result<Arc<GrayFrame>, PictureError> {
            match self.1.contains(&frame.0) {
                true => Err(PictureError::Unreadable("Lost.".into())),
                false => {
                    Ok(Arc::new(GrayFrame { width: 2, height: 1, data: vec![frame.0 as u8; 2] }))
                }
            }
        }

        fn colour(&mut self, frame: FrameIndex) -> Result<Arc<ColourFrame>, PictureError> {
            let level = self.gray(frame)?.data[0];
            Ok(Arc::new(ColourFrame { width: 2, height: 1, data: vec![level; 8] }))
        }

        /// As the reader of files does: what is lost is left out.
        fn for_each_gray(
            &mut self,
            from: FrameIndex,
            to: FrameIndex,
            each: &mut dyn FnMut(FrameIndex, &GrayFrame) -> bool,
        ) -> Result<(), PictureError> {
            for frame in (from.0..to.0).map(FrameIndex) {
                if let Ok(gray) = self.gray(frame)
                    && !each(frame, &gray)
                {
                    break;
                }
            }
            Ok(())
        }
    }

    fn broken(lost: &'static [usize]) -> Broken {
        let entry = |i| FrameEntry { pts: Pts(i), key: true };
        let frames = (0..8).map(entry).collect();
        let time_base = TimeBase { numerator: 1, denominator: 30 };
        Broken(Timeline { time_base, frames, slow_factor: 1.0 }, lost)
    }

    fn passed(lost: &'static [usize], stop: usize) -> Vec<(usize, u8)> {
        let mut seen = Vec::new();
        let mut each = |frame: FrameIndex, gray: &GrayFrame| {
            seen.push((frame.0, gray.data[0]));
            frame.0 < stop
        };
        let mut pictures = broken(lost);
        Unbroken(&mut pictures).for_each_gray(FrameIndex(1), FrameIndex(8), &mut each).unwrap();
        seen
    }

    #[test]
    fn a_lost_picture_shows_what_the_one_before_it_did() {
        let told = [(1, 1), (2, 2), (3, 2), (4, 2), (5, 5), (6, 6), (7, 6)];
        assert_eq!(passed(&[3, 4, 7], 9), told);
        assert_eq!(passed(&[3, 4, 7], 3), told[..3]);
        let mut pictures = broken(&[3, 4, 7]);
        let mut whole = Unbroken(&mut pictures);
        assert_eq!(whole.gray(FrameIndex(4)).unwrap().data[0], 2);
        assert_eq!(whole.colour(FrameIndex(5)).unwrap().data[0], 5);
    }

    #[test]
    fn the_first_shows_what_the_one_after_it_does() {
        assert_eq!(passed(&[1, 2], 9)[..3], [(1, 3), (2, 3), (3, 3)]);
        let mut pictures = broken(&[0, 1]);
        assert_eq!(Unbroken(&mut pictures).gray(FrameIndex(0)).unwrap().data[0], 2);
    }

    #[test]
    fn where_nothing_can_be_decoded_that_is_said() {
        let mut pictures = broken(&[0, 1, 2, 3, 4, 5, 6, 7]);
        assert!(Unbroken(&mut pictures).gray(FrameIndex(3)).is_err());
        assert_eq!(passed(&[0, 1, 2, 3, 4, 5, 6, 7], 9), []);
    }
}
