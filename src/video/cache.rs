//! Decoded pictures kept in memory, bounded in bytes; those farthest from where one looks go first, or
//! those asked for longest ago.

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
    /// Those asked for longest ago go first, wherever they lie.
    by_turn: bool,
    /// How many times a frame was looked at.
    turn: usize,
}

struct Kept {
    /// `None`: the frame is known to be damaged.
    picture: Option<Arc<VideoFrame>>,
    bytes: usize,
    /// When it was last looked at.
    turn: usize,
}

/// Frames before are dearer to decode than frames after: these count as so many times as far.
const AFTER: usize = 4;

/// No more than these, however small: what steps in both directions ask for, and some to spare.
const MOST_PICTURES: usize = 96;

impl FrameCache {
    pub fn new(limit: usize) -> Self {
        Self { pictures: HashMap::new(), bytes: 0, limit, focus: 0, by_turn: false, turn: 0 }
    }

    /// From now on holds what was asked for last, for work that comes back to a few frames here and
    /// there.
    pub fn hold_by_turn(&mut self) {
        self.by_turn = true;
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
        self.turn += 1;
        if let Some(kept) = self.pictures.get_mut(&frame) {
            kept.turn = self.turn;
        }
    }

    fn distance(&self, frame: usize) -> usize {
        if self.by_turn {
            return self.pictures.get(&frame).map_or(0, |kept| self.turn - kept.turn);
        }
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
        self.pictures.insert(frame, Kept { picture: Some(Arc::new(copy)), bytes, turn: self.turn });
        true
    }

    /// Remembers that the frame cannot be had, so that it is not prepared again and again.
    pub fn insert_damaged(&mut self, frame: usize) {
        const BYTES: usize = 64;
        self.forget(frame);
        self.bytes += BYTES;
        self.pictures.insert(frame, Kept { picture: None, bytes: BYTES, turn: self.turn });
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
    fn by_turn_what_was_asked_for_last_stays_wherever_it_lies() {
        let one = picture(64).bytes();
        let mut cache = FrameCache::new(3 * one);
        cache.hold_by_turn();
        for frame in [0, 100, 199, 0, 50] {
            cache.look_at(frame);
            assert!(cache.contains(frame) || cache.insert(frame, &picture(64)));
        }
        assert_eq!(held(&cache), [0, 50, 199], "frame 100 was asked for longest ago");
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
