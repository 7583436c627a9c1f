//! Differences that ask for no distribution: exact rank sums, permutations, shifts.

use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;

use super::intervals::{UPPER, normal_quantile, normal_two_sided_p};
use super::summary::{median, sorted, sum};
use crate::domain::Interval;

/// By how much the second block lies farther ahead than the first, without asking for any
/// distribution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shift {
    /// The median of all differences second minus first (Hodges & Lehmann 1963).
    pub estimate: f64,
    /// The shifts that a permutation of the ranks does not rule out, at least 95 %; `None`
    /// where there are too few values for any.
    pub interval: Option<Interval>,
    /// The median of the second minus that of the first.
    pub median_difference: f64,
    /// The chance of so large a difference of medians if the swings were dealt at random.
    pub median_p: f64,
    /// The chance of so uneven rank sums if the swings were dealt at random.
    pub rank_p: f64,
}

/// Products of sizes up to which the rank sums' distribution is counted out, not approximated.
const COUNTED: usize = 900;

/// Deals of swings up to which all are looked at.
const ALL_DEALS: u64 = 20_000;

/// Random deals looked at where there are more.
const RANDOM_DEALS: usize = 9_999;

/// The shift between two blocks; `None` where one is empty.
pub fn shift(first: &[f64], second: &[f64]) -> Option<Shift> {
    let mut differences: Vec<f64> =
        second.iter().flat_map(|b| first.iter().map(move |a| b - a)).collect();
    differences.sort_by(f64::total_cmp);
    let cut = differences_to_cut(first.len(), second.len());
    let interval = (cut > 0).then(|| Interval {
        low: differences[cut - 1],
        high: differences[differences.len() - cut],
    });
    Some(Shift {
        estimate: median(&differences)?,
        interval,
        median_difference: median(second)? - median(first)?,
        median_p: median_permutation_p(first, second)?,
        rank_p: rank_sum_p(first, second)?,
    })
}

/// How many of the sorted differences are cut off at each end for at least 95 %.
fn differences_to_cut(n: usize, m: usize) -> usize {
    let product = n * m;
    if product > COUNTED {
        let (n, m) = (n as f64, m as f64);
        let sd = (n * m * (n + m + 1.0) / 12.0).sqrt();
        return (n * m / 2.0 - normal_quantile(UPPER) * sd).floor().max(0.0) as usize;
    }
    // Without ties every rank sum counts pairs; ranks 1..n+m doubled as below.
    let ranks: Vec<usize> = (1..=n + m).map(|r| 2 * r).collect();
    let counts = rank_sum_chances(&ranks, m);
    let least = m * (m + 1);
    let mut below = 0.0;
    (0..product)
        .take_while(|&u| {
            below += counts.get(least + 2 * u).copied().unwrap_or(0.0);
            below <= 1.0 - UPPER
        })
        .count()
}

/// The two-sided chance of rank sums so uneven, given the values as they are, ties included
/// (Wilcoxon 1945, Mann & Whitney 1947): counted out for up to 900 pairs, else normal with
/// the correction for ties. `None` where one block is empty.
pub fn rank_sum_p(first: &[f64], second: &[f64]) -> Option<f64> {
    let (n, m) = (first.len(), second.len());
    if n == 0 || m == 0 {
        return None;
    }
    let ranks = doubled_ranks(first, second);
    let observed: usize = ranks[n..].iter().sum();
    // The doubled rank sum's mean: m(n + m + 1).
    let mean = m * (n + m + 1);
    let off = observed.abs_diff(mean);
    if n * m > COUNTED {
        let all = (n + m) as f64;
        let spread = sum(ranks.iter().map(|&r| (r as f64 - (all + 1.0)).powi(2)));
        let variance = (n * m) as f64 * spread / (all * (all - 1.0));
        return Some(if off == 0 { 1.0 } else { normal_two_sided_p(off as f64 / variance.sqrt()) });
    }
    let chances = rank_sum_chances(&ranks, m);
    let out = chances.iter().enumerate().filter(|(s, _)| s.abs_diff(mean) >= off);
    Some(sum(out.map(|(_, chance)| *chance)).min(1.0))
}

/// Twice the mid-ranks: whole numbers also where values are tied. First block first.
fn doubled_ranks(first: &[f64], second: &[f64]) -> Vec<usize> {
    let all = sorted(&[first, second].concat());
    let rank = |v: &f64| {
        let below = all.partition_point(|x| x < v);
        let up_to = all.partition_point(|x| x <= v);
        below + up_to + 1
    };
    first.iter().chain(second).map(rank).collect()
}

/// The chance of each sum of `m` of the ranks, every choice being as likely.
fn rank_sum_chances(ranks: &[usize], m: usize) -> Vec<f64> {
    let largest: usize = ranks.iter().sum();
    // ways[k][s]: chance-weighted count of choosing k of the ranks so far with sum s. Dealing
    // is done one rank at a time, so the numbers stay chances and cannot overflow.
    let mut ways = vec![vec![0.0_f64; largest + 1]; m + 1];
    ways[0][0] = 1.0;
    for (dealt, &rank) in ranks.iter().enumerate() {
        let left = (ranks.len() - dealt) as f64;
        let mut next = vec![vec![0.0_f64; largest + 1]; m + 1];
        for (k, row) in ways.iter().enumerate() {
            let take = (m - k) as f64 / left;
            for (s, &chance) in row.iter().enumerate().filter(|(_, c)| **c > 0.0) {
                next[k][s] += chance * (1.0 - take);
                if k < m && take > 0.0 {
                    next[k + 1][s + rank] += chance * take;
                }
            }
        }
        ways = next;
    }
    ways.swap_remove(m)
}

/// The chance that dealing the swings into two blocks at random makes the medians differ at
/// least as much: all deals up to 20,000, else 9,999 random ones from a fixed seed, the
/// observed one counted in. `None` where one block is empty.
pub fn median_permutation_p(first: &[f64], second: &[f64]) -> Option<f64> {
    let observed = (median(second)? - median(first)?).abs();
    // Equal differences must not fall apart by rounding.
    let limit = observed * (1.0 - 1e-12);
    let all = sorted(&[first, second].concat());
    let as_far = |chosen: &[bool]| {
        let second_middle = middle_of(&all, chosen, true, second.len());
        let first_middle = middle_of(&all, chosen, false, first.len());
        (second_middle - first_middle).abs() >= limit
    };
    let mut chosen: Vec<bool> = (0..all.len()).map(|i| i < second.len()).collect();
    if choices(all.len() as u64, second.len() as u64) <= ALL_DEALS {
        let (mut hits, mut deals) = (0_usize, 0_usize);
        loop {
            deals += 1;
            hits += usize::from(as_far(&chosen));
            if !next_choice(&mut chosen) {
                return Some(hits as f64 / deals as f64);
            }
        }
    }
    let mut rng = ChaCha8Rng::seed_from_u64(0x5c0f_f11e);
    let hits = (0..RANDOM_DEALS)
        .filter(|_| {
            chosen.shuffle(&mut rng);
            as_far(&chosen)
        })
        .count();
    Some((hits + 1) as f64 / (RANDOM_DEALS + 1) as f64)
}

/// The median of those `n` ascending values whose `chosen` is `want`.
fn middle_of(ascending: &[f64], chosen: &[bool], want: bool, n: usize) -> f64 {
    let those = ascending.iter().zip(chosen).filter(|(_, c)| **c == want);
    let mut middle = those.map(|(v, _)| *v).skip((n - 1) / 2);
    let low = middle.next().unwrap_or(f64::NAN);
    if n % 2 == 1 { low } else { low / 2.0 + middle.next().unwrap_or(f64::NAN) / 2.0 }
}

/// The next choice in order; `false` after the last one.
fn next_choice(chosen: &mut [bool]) -> bool {
    // The last "taken, then not" moves one place on; all taken after it close up behind.
    let Some(place) = (1..chosen.len()).rev().find(|&i| chosen[i - 1] && !chosen[i]) else {
        return false;
    };
    chosen.swap(place - 1, place);
    let taken = chosen[place + 1..].iter().filter(|c| **c).count();
    for (i, c) in chosen[place + 1..].iter_mut().enumerate() {
        *c = i < taken;
    }
    true
}

/// n choose k, or the largest number where that is larger.
fn choices(n: u64, k: u64) -> u64 {
    let mut result = 1_u64;
    for i in 0..k.min(n - k) {
        match result.checked_mul(n - i) {
            Some(product) => result = product / (i + 1),
            None => return u64::MAX,
        }
    }
    result
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_choices_are_visited_once() {
        for (n, k) in [(1_usize, 1_usize), (5, 2), (6, 3), (7, 0), (7, 7), (10, 4)] {
            let mut chosen: Vec<bool> = (0..n).map(|i| i < k).collect();
            let mut seen = std::collections::BTreeSet::from([chosen.clone()]);
            while next_choice(&mut chosen) {
                assert_eq!(chosen.iter().filter(|c| **c).count(), k);
                assert!(seen.insert(chosen.clone()), "twice");
            }
            assert_eq!(seen.len() as u64, choices(n as u64, k as u64));
        }
    }

    #[test]
    fn large_numbers_of_choices_saturate() {
        assert_eq!(choices(10, 5), 252);
        assert_eq!(choices(1000, 500), u64::MAX);
    }

    #[test]
    fn chances_of_rank_sums_add_up() {
        let ranks = doubled_ranks(&[1.0, 2.0, 2.0, 5.0], &[2.0, 7.0, 9.0]);
        let total: f64 = rank_sum_chances(&ranks, 3).iter().sum();
        assert!((total - 1.0).abs() < 1e-12);
    }
}
