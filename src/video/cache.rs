//! Decoded pictures kept in memory, bounded in bytes; the longest unused go first.

use std::collections::HashMap;
use std::sync::Arc;

use super::libav::VideoFrame;

/// Pictures by frame number.
pub(super) struct FrameCache {
    pictures: HashMap<usize, Kept>,
    bytes: usize,
    limit: usize,
    clock: u64,
}

struct Kept {
    /// `None`: the frame is known to be damaged.
    picture: Option<Arc<VideoFrame>>,
    bytes: usize,
    used: u64,
}

impl FrameCache {
    pub fn new(limit: usize) -> Self {
        Self { pictures: HashMap::new(), bytes: 0, limit, clock: 0 }
    }

    pub fn contains(&self, frame: usize) -> bool {
        self.pictures.contains_key(&frame)
    }

    pub fn get(&mut self, frame: usize) -> Option<Arc<VideoFrame>> {
        self.clock += 1;
        let kept = self.pictures.get_mut(&frame)?;
        kept.used = self.clock;
        kept.picture.clone()
    }

    /// Keeps a copy of the picture, in the memory of the one that has to go for it if there is
    /// such: fresh memory for each would scatter the heap.
    pub fn insert(&mut self, frame: usize, picture: &VideoFrame) {
        if let Some(old) = self.pictures.remove(&frame) {
            self.bytes -= old.bytes;
        }
        let bytes = picture.bytes();
        let mut spare = None;
        while self.bytes + bytes > self.limit && !self.pictures.is_empty() {
            spare = self.drop_longest_unused().or(spare);
        }
        let copy = match spare.and_then(Arc::into_inner) {
            Some(old) => picture.copied_into(old),
            None => picture.detached(),
        };
        let bytes = copy.bytes();
        self.put(frame, Kept { picture: Some(Arc::new(copy)), bytes, used: 0 });
    }

    /// Remembers that the frame cannot be had, so that it is not prepared again and again.
    pub fn insert_damaged(&mut self, frame: usize) {
        self.put(frame, Kept { picture: None, bytes: 64, used: 0 });
    }

    fn put(&mut self, frame: usize, kept: Kept) {
        self.clock += 1;
        self.bytes += kept.bytes;
        if let Some(old) = self.pictures.insert(frame, Kept { used: self.clock, ..kept }) {
            self.bytes -= old.bytes;
        }
    }

    fn drop_longest_unused(&mut self) -> Option<Arc<VideoFrame>> {
        let oldest = self.pictures.iter().min_by_key(|(_, kept)| kept.used).map(|(&n, _)| n)?;
        let old = self.pictures.remove(&oldest)?;
        self.bytes -= old.bytes;
        old.picture
    }

    /// How many pictures fit, judged by those that are kept.
    pub fn room(&self) -> usize {
        let typical = self.bytes / self.pictures.len().max(1);
        self.limit.checked_div(typical).unwrap_or(1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture(side: u32) -> VideoFrame {
        use ffmpeg_next::{format::Pixel, frame::Video};
        VideoFrame::new(Video::new(Pixel::GRAY8, side, side))
    }

    #[test]
    fn stays_within_its_bytes_and_keeps_what_is_used() {
        let one = picture(64).bytes();
        let mut cache = FrameCache::new(3 * one);
        for frame in 0..3 {
            cache.insert(frame, &picture(64));
        }
        assert!(cache.get(0).is_some(), "frame 0 is used again");
        cache.insert(3, &picture(64));
        assert!(cache.bytes <= 3 * one);
        let kept: Vec<bool> = (0..4).map(|n| cache.contains(n)).collect();
        assert_eq!(kept, [true, false, true, true]);
        cache.insert(3, &picture(64));
        assert_eq!(cache.bytes, 3 * one, "a replaced picture is not counted twice");
        assert_eq!(cache.room(), 3);
    }
}
