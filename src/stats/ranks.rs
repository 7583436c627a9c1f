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
    /// The differences of medians that dealing the swings at random does not rule out, at least
    /// 95 %; `None` where there are too few values for any.
    pub median_interval: Option<Interval>,
    /// The chance of so large a difference of medians if the swings were dealt at random.
    pub median_p: f64,
    /// The standard uncertainty of that chance from dealing at random; 0 where all deals were
    /// looked at.
    pub median_p_u: f64,
    /// The chance of so uneven rank sums if the swings were dealt at random.
    pub rank_p: f64,
}

/// Products of sizes up to which the rank sums' distribution is counted out, not approximated.
const COUNTED: usize = 900;

/// Deals of swings up to which all are looked at.
const ALL_DEALS: u64 = 20_000;

/// Random deals looked at where there are more.
const RANDOM_DEALS: usize = 9_999;
/// Deals that reach as far as observed after which no more are needed.
const ENOUGH_HITS: usize = 200;

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
    let (median_p, median_p_u) = median_permutation_p(first, second)?;
    Some(Shift {
        estimate: median(&differences)?,
        interval,
        median_difference: median(second)? - median(first)?,
        median_interval: median_difference_interval(first, second),
        median_p,
        median_p_u,
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
    if 2 * m > ranks.len() {
        // The others' sums are what is left of the whole, and there are fewer of them.
        let mut others = rank_sum_chances(ranks, ranks.len() - m);
        others.reverse();
        return others;
    }
    // ways[k][s]: how many choices of k of the ranks so far have the sum s. A product of sizes
    // up to [`COUNTED`] gives at most 60 over 30 = 1.2e17 choices, so nothing overflows.
    let mut ways = vec![vec![0.0_f64; largest + 1]; m + 1];
    ways[0][0] = 1.0;
    let mut reached = 0;
    for (dealt, &rank) in ranks.iter().enumerate() {
        for k in (1..=m.min(dealt + 1)).rev() {
            let (fewer, more) = ways.split_at_mut(k);
            let (from, to) = (&fewer[k - 1], &mut more[0]);
            for s in 0..=reached {
                to[s + rank] += from[s];
            }
        }
        reached += rank;
    }
    let chances = ways.swap_remove(m);
    let all = sum(chances.iter().copied());
    chances.into_iter().map(|ways| ways / all).collect()
}

/// The chance that dealing the swings into two blocks at random makes the medians differ at
/// least as much, and its standard uncertainty; `None` where one block is empty.
///
/// All deals are looked at up to 20,000: then the uncertainty is zero. Else random ones from a
/// fixed seed, until 200 reach as far or 9,999 are dealt (Besag & Clifford 1991, Biometrika
/// 78:301-304): a chance that is large is known well enough after a few, one that is small
/// gets every deal.
pub fn median_permutation_p(first: &[f64], second: &[f64]) -> Option<(f64, f64)> {
    let observed = (median(second)? - median(first)?).abs();
    // Equal differences must not fall apart by rounding.
    let limit = observed * (1.0 - 1e-12);
    let all = sorted(&[first, second].concat());
    let as_far = |chosen: &[bool]| {
        let [first_middle, second_middle] = medians(&all, chosen, [first.len(), second.len()]);
        (second_middle - first_middle).abs() >= limit
    };
    let mut chosen: Vec<bool> = (0..all.len()).map(|i| i < second.len()).collect();
    if choices(all.len() as u64, second.len() as u64) <= ALL_DEALS {
        let (mut hits, mut deals) = (0_usize, 0_usize);
        loop {
            deals += 1;
            hits += usize::from(as_far(&chosen));
            if !next_choice(&mut chosen) {
                return Some((hits as f64 / deals as f64, 0.0));
            }
        }
    }
    let mut rng = ChaCha8Rng::seed_from_u64(0x5c0f_f11e);
    let (mut hits, mut deals) = (0_usize, 0_usize);
    while hits < ENOUGH_HITS && deals < RANDOM_DEALS {
        chosen.shuffle(&mut rng);
        deals += 1;
        hits += usize::from(as_far(&chosen));
    }
    // Stopped by the hits, the last deal is one of them; else the observed deal counts too.
    let p = match hits {
        ENOUGH_HITS => hits as f64 / deals as f64,
        _ => (hits + 1) as f64 / (deals + 1) as f64,
    };
    Some((p, (p * (1.0 - p) / deals as f64).sqrt()))
}

/// Random deals by which an interval of the medians' difference is found where there are more
/// than [`ALL_DEALS`].
const INTERVAL_DEALS: usize = 999;

/// Places of the middle values of both groups of one deal, among all values in order.
type Middles = [[usize; 2]; 2];

/// The differences second minus first of medians that a permutation test does not rule out
/// (two-sided 5 %): those by which the second can be moved back so that dealing all values at
/// random makes the medians differ as much in more than one of twenty deals. At least 95 % for
/// blocks that differ by a shift, whatever their distribution; `None` where not even far apart
/// blocks would be told apart.
///
/// Random deals are the same for every difference tried, from a fixed seed, and the observed
/// one counts among them (Phipson & Smyth 2010, Stat Appl Genet Mol Biol 9:39).
pub fn median_difference_interval(first: &[f64], second: &[f64]) -> Option<Interval> {
    let centre = median(second)? - median(first)?;
    let (a, b) = (sorted(first), sorted(second));
    let ends = [b[0] - a[a.len() - 1], b[b.len() - 1] - a[0]];
    // Beyond the ends the blocks lie apart altogether, and nothing changes any more.
    let beyond = (ends[1] - ends[0]).max(f64::MIN_POSITIVE) * 2.0;
    let (deals, observed) = middles_of_deals(first.len(), second.len());
    let limit = (deals.len() + observed) / 20;
    let fits = |shift: f64| {
        let all = sorted(&[first, &second.iter().map(|v| v - shift).collect::<Vec<_>>()].concat());
        let least = (centre - shift).abs() * (1.0 - 1e-12);
        let middle = |[low, high]: [usize; 2]| all[low] / 2.0 + all[high] / 2.0;
        let as_far = |[one, other]: &&Middles| (middle(*other) - middle(*one)).abs() >= least;
        // One more than the limit is enough to know.
        deals.iter().filter(as_far).take(limit + 1).count() + observed > limit
    };
    let edge = |end: f64| outermost(centre, end, &fits);
    Some(Interval { low: edge(ends[0] - beyond)?, high: edge(ends[1] + beyond)? })
}

/// The value farthest toward `end` for which `fits` holds, as it does at `centre`; `None` if it
/// holds at `end`. Looks from outside, since `fits` may hold again beyond a gap.
fn outermost(centre: f64, end: f64, fits: &impl Fn(f64) -> bool) -> Option<f64> {
    const STEPS: usize = 24;
    const HALVINGS: usize = 24;
    let at = |step: usize| end + (centre - end) * step as f64 / STEPS as f64;
    if fits(end) {
        return None;
    }
    let first = (1..=STEPS).find(|&step| fits(at(step))).unwrap_or(STEPS);
    let (mut outside, mut inside) = (at(first - 1), at(first));
    for _ in 0..HALVINGS {
        let between = outside / 2.0 + inside / 2.0;
        *(if fits(between) { &mut inside } else { &mut outside }) = between;
    }
    Some(outside)
}

/// The middles of every deal, or of random ones beside which the observed deal counts as one
/// more.
fn middles_of_deals(n: usize, m: usize) -> (Vec<Middles>, usize) {
    let mut chosen: Vec<bool> = (0..n + m).map(|i| i < m).collect();
    let mut deals = Vec::new();
    if choices((n + m) as u64, m as u64) <= ALL_DEALS {
        loop {
            deals.push(middles(&chosen, [n, m]));
            if !next_choice(&mut chosen) {
                return (deals, 0);
            }
        }
    }
    let mut rng = ChaCha8Rng::seed_from_u64(0x5c0f_f11e);
    for _ in 0..INTERVAL_DEALS {
        chosen.shuffle(&mut rng);
        deals.push(middles(&chosen, [n, m]));
    }
    (deals, 1)
}

/// Where the middle values of those not chosen and of those chosen stand.
fn middles(chosen: &[bool], sizes: [usize; 2]) -> Middles {
    // One of an odd number is met twice, two of an even number once each.
    let (low, high) = (sizes.map(|n| (n - 1) / 2), sizes.map(|n| n / 2));
    let mut seen = [0, 0];
    let mut middle = [[0, 0], [0, 0]];
    for (place, &group) in chosen.iter().enumerate() {
        let group = usize::from(group);
        if seen[group] == low[group] {
            middle[group][0] = place;
        }
        if seen[group] == high[group] {
            middle[group][1] = place;
        }
        seen[group] += 1;
    }
    middle
}

/// The medians of those ascending values that are not chosen and of those that are, so many
/// of each.
fn medians(ascending: &[f64], chosen: &[bool], sizes: [usize; 2]) -> [f64; 2] {
    middles(chosen, sizes).map(|[low, high]| ascending[low] / 2.0 + ascending[high] / 2.0)
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
