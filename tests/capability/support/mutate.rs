//! Damages files in ways that copying, cutting and bad memory do; the same number gives the same
//! damage.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// The bytes of `original` with one to four kinds of damage, chosen by `number`.
pub fn damaged(original: &[u8], number: u64) -> Vec<u8> {
    let rng = &mut ChaCha8Rng::seed_from_u64(number);
    let mut bytes = original.to_vec();
    for _ in 0..rng.random_range(1..=4) {
        damage(&mut bytes, rng);
    }
    bytes
}

fn damage(bytes: &mut Vec<u8>, rng: &mut ChaCha8Rng) {
    if bytes.len() < 16 {
        return;
    }
    // Half of the damage goes where the headers are.
    let reach = if rng.random_bool(0.5) { bytes.len().min(1500) } else { bytes.len() };
    let at = rng.random_range(0..reach);
    let length = rng.random_range(1..=64).min(bytes.len() - at);
    match rng.random_range(0..8) {
        0 => bytes[at] ^= 1 << rng.random_range(0..8),
        1 => bytes[at] = [0, 1, 0x7f, 0x80, 0xff][rng.random_range(0..5)],
        2 => bytes[at..at + length].fill(0),
        3 => bytes[at..at + length].fill(0xff),
        4 => bytes.truncate(at.max(1)),
        5 => drop(bytes.drain(at..at + length)),
        6 => {
            let copy = bytes[at..at + length].to_vec();
            let to = rng.random_range(0..bytes.len());
            bytes.splice(to..to, copy);
        }
        _ => bytes[at..at + length].iter_mut().for_each(|byte| *byte = rng.random()),
    }
}
