//! Decoded pictures kept in memory, bounded in bytes; those farthest from where one looks go first.

use std::collections::HashMap;
use std::sync::Arc;

use super::libav::VideoFrame;

/// Pictures by frame number.
pub(super) struct FrameCache {
    pictures: HashMap<usize, Kept>,
    bytes: usize,
    limit: usize,
    /// The frame that is looked at.
    focus: usize,
}

struct Kept {
    /// `None`: the frame is known to be damaged.
    picture: Option<Arc<VideoFrame>>,
    bytes: usize,
}

/// Frames before are dearer to decode than frames after: these count as so many times as far.
const AFTER: usize = 4;

/// No more than these, however small: what steps in both directions ask for, and some to spare.
const MOST_PICTURES: usize = 96;

impl FrameCache {
    pub fn new(limit: usize) -> Self {
        Self { pictures: HashMap::new(), bytes: 0, limit, focus: 0 }
    }

    /// From now on holds at most so many bytes.
    pub fn hold(&mut self, limit: usize) {
        self.limit = limit;
        while self.bytes > self.limit && self.drop_farthest().is_some() {}
    }

    pub fn contains(&self, frame: usize) -> bool {
        self.pictures.contains_key(&frame)
    }

    pub fn get(&self, frame: usize) -> Option<Arc<VideoFrame>> {
        self.pictures.get(&frame)?.picture.clone()
    }

    /// Which frame is looked at: those near it are held longest.
    pub fn look_at(&mut self, frame: usize) {
        self.focus = frame;
    }

    fn distance(&self, frame: usize) -> usize {
        match frame.checked_sub(self.focus) {
            Some(after) => after.saturating_mul(AFTER),
            None => self.focus - frame,
        }
    }

    /// Keeps a copy of the picture, in the memory of one that has to go for it if there is such:
    /// fresh memory for each would scatter the heap. False: what is held is nearer and stays.
    pub fn insert(&mut self, frame: usize, picture: &VideoFrame) -> bool {
        self.forget(frame);
        let bytes = picture.bytes();
        let mut spare = None;
        while self.bytes + bytes > self.limit || self.pictures.len() >= MOST_PICTURES {
            match self.farthest() {
                Some(other) if self.distance(other) >= self.distance(frame) => {
                    spare = self.forget(other).or(spare);
                }
                Some(_) => return false,
                // Even one that is larger than the limit is held: it is the one looked at.
                None => break,
            }
        }
        let copy = match spare.and_then(Arc::into_inner) {
            Some(old) => picture.copied_into(old),
            None => picture.detached(),
        };
        let bytes = copy.bytes();
        self.bytes += bytes;
        self.pictures.insert(frame, Kept { picture: Some(Arc::new(copy)), bytes });
        true
    }

    /// Remembers that the frame cannot be had, so that it is not prepared again and again.
    pub fn insert_damaged(&mut self, frame: usize) {
        const BYTES: usize = 64;
        self.forget(frame);
        self.bytes += BYTES;
        self.pictures.insert(frame, Kept { picture: None, bytes: BYTES });
    }

    fn forget(&mut self, frame: usize) -> Option<Arc<VideoFrame>> {
        let old = self.pictures.remove(&frame)?;
        self.bytes -= old.bytes;
        old.picture
    }

    fn farthest(&self) -> Option<usize> {
        self.pictures.keys().copied().max_by_key(|frame| (self.distance(*frame), *frame))
    }

    fn drop_farthest(&mut self) -> Option<usize> {
        let farthest = self.farthest()?;
        self.forget(farthest);
        Some(farthest)
    }

    /// How many pictures fit, judged by those that are kept.
    pub fn room(&self) -> usize {
        let pictures = self.pictures.values().filter(|kept| kept.picture.is_some()).count();
        let typical = self.bytes / pictures.max(1);
        self.limit.checked_div(typical).unwrap_or(1).min(MOST_PICTURES)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture(side: u32) -> VideoFrame {
        use ffmpeg_next::{format::Pixel, frame::Video};
        VideoFrame::new(Video::new(Pixel::GRAY8, side, side))
    }

    fn held(cache: &FrameCache) -> Vec<usize> {
        (0..200).filter(|frame| cache.contains(*frame)).collect()
    }

    #[test]
    fn stays_within_its_bytes_and_keeps_what_is_near() {
        let one = picture(64).bytes();
        let mut cache = FrameCache::new(4 * one);
        cache.look_at(100);
        for frame in [97, 98, 99, 100] {
            assert!(cache.insert(frame, &picture(64)));
        }
        assert!(!cache.insert(96, &picture(64)), "what is held is nearer");
        assert!(!cache.insert(101, &picture(64)), "frames after count as four times as far");
        cache.look_at(101);
        assert!(cache.insert(101, &picture(64)));
        assert_eq!(held(&cache), [98, 99, 100, 101]);
        cache.insert(101, &picture(64));
        assert_eq!(cache.bytes, 4 * one, "a replaced picture is not counted twice");
        assert_eq!(cache.room(), 4);
        cache.hold(2 * one);
        assert_eq!(held(&cache), [100, 101]);
        cache.look_at(7);
        assert!(cache.insert(7, &picture(256)), "the one looked at is held whatever its size");
        assert_eq!(held(&cache), [7]);
    }

    #[test]
    fn holds_no_more_than_steps_ask_for() {
        let mut cache = FrameCache::new(usize::MAX);
        for frame in 0..200 {
            cache.look_at(frame);
            cache.insert(frame, &picture(16));
        }
        assert_eq!(held(&cache), (200 - MOST_PICTURES..200).collect::<Vec<_>>());
        assert_eq!(cache.room(), MOST_PICTURES);
    }
}
