//! Stretches of columns in which something holds.

/// First and last of the longest stretch of `columns`, which come in order; up to two missing ones
/// break none. It goes on beyond a gap to the next stretch where that `joins`: told its first and
/// last column, and how far away it begins.
pub fn longest_stretch(
    columns: impl Iterator<Item = usize>,
    joins: impl Fn((usize, usize), usize) -> bool,
) -> Option<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for x in columns {
        match runs.last_mut() {
            Some(run) if x - run.1 <= 3 => run.1 = x,
            _ => runs.push((x, x)),
        }
    }
    let longest = (0..runs.len()).max_by_key(|&i| runs[i].1 - runs[i].0)?;
    let mut run = runs[longest];
    for next in &runs[longest + 1..] {
        if !joins(*next, next.0 - run.1) {
            break;
        }
        run.1 = next.1;
    }
    for next in runs[..longest].iter().rev() {
        if !joins(*next, run.0 - next.1) {
            break;
        }
        run.0 = next.0;
    }
    Some(run)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_run_goes_on_only_where_what_follows_joins_it() {
        let columns = || (10..20).chain(22..60).chain(70..90).chain(130..135);
        assert_eq!(longest_stretch(columns(), |_, _| false), Some((10, 59)));
        assert_eq!(longest_stretch(columns(), |_, away| away < 20), Some((10, 89)));
        let long = |(first, last): (usize, usize), _| last - first > 10;
        assert_eq!(longest_stretch(columns(), long), Some((10, 89)));
        assert_eq!(longest_stretch(columns(), |_, _| true), Some((10, 134)));
        assert_eq!(longest_stretch(std::iter::empty(), |_, _| true), None);
    }
}
