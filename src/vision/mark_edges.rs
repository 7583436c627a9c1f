//! Start and end of a mark: its share averaged over the middle of its width, column by column,
//! and the half-way points of that profile.

use super::edge::{Column, Step, find_rise};
use super::ground_strip::{Cover, Strip};
use super::mark_shape::{Rect, Shares, robust_sigma};
use super::steady::median;

/// Neighbouring columns share texture and coding blocks: so many make one independent one.
const COLUMNS_TOGETHER: f64 = 3.0;
/// Unevenness of the mark itself: variance of a cell's share.
const UNEVEN: f64 = 0.02;

/// A crumb lies so far past the mark and past what joins it, and is no longer than this, mm.
const CRUMB_APART: f64 = 8.0;
const CRUMB_LENGTH: f64 = 10.0;

/// The mark's profile along the line.
pub(crate) struct Profile {
    pub columns: Vec<Column>,
    /// Level inside the mark; 1 if the core is typical of it.
    pub inner: f64,
    /// Spread of the profile inside the mark.
    pub inner_sigma: f64,
    /// The row of the mark's middle and its width in rows.
    pub middle: f64,
    pub width: f64,
    /// Share that the ground had before already, column by column.
    pub earlier: Vec<f64>,
    core: [usize; 2],
    /// Columns a millimetre.
    per_mm: f64,
}

/// One end of the mark.
#[derive(Clone, Copy, Debug)]
pub(crate) struct End {
    pub step: Step,
    /// Share of the columns within 12 mm of it in which the ground could be compared.
    pub seen: f64,
    /// Share that the ground just outside had before already: over a half, an older mark hides
    /// where this one begins.
    pub earlier: f64,
}

impl Profile {
    /// Averages `shares` over the middle of the mark's width. `ball`: radius of the ball in
    /// columns, the noise being told from columns away from it.
    pub fn new(strip: &Strip, shares: &Shares, core: Rect, per_mm: f64, ball: f64) -> Option<Self> {
        let (from, to) = (core.columns[0], core.columns[1]);
        let sixth = (to - from) / 6;
        let inside = from + sixth..(to - sixth).max(from + sixth + 1);
        let [low, high] = half_rows(strip, shares, core, inside.clone());
        let first = f64::from(strip.extent.rows[0]);
        let middle = first + (low + high) as f64 / 2.0;
        let width = (high - low + 1) as f64;
        let reach = (0.3 * width).max(1.01);
        let rows: Vec<usize> =
            (0..strip.height).filter(|&y| (first + y as f64 - middle).abs() <= reach).collect();
        let mut profile = Self {
            columns: Vec::with_capacity(strip.width),
            inner: 1.0,
            inner_sigma: 0.0,
            middle,
            width,
            earlier: Vec::with_capacity(strip.width),
            core: core.columns,
            per_mm,
        };
        for x in 0..strip.width {
            profile.add_column(strip, shares, x, &rows);
        }
        let values: Vec<f64> = profile.columns[inside.clone()].iter().map(|c| c.value).collect();
        profile.inner = median(values.clone());
        profile.inner_sigma = robust_sigma(values).max(0.05);
        profile.scale_variances(ball);
        (profile.inner > 0.2).then_some(profile)
    }

    /// Weighted mean of one column; its variance still as if cells were independent.
    fn add_column(&mut self, strip: &Strip, shares: &Shares, x: usize, rows: &[usize]) {
        let (mut weight, mut sum, mut earlier) = (0.0, 0.0, 0.0);
        for i in rows.iter().map(|y| y * strip.width + x) {
            if shares.variance[i].is_finite() {
                let w = 1.0 / (shares.variance[i] + UNEVEN);
                weight += w;
                sum += w * shares.share[i];
            }
            earlier += shares.earlier[i] / rows.len() as f64;
        }
        let value = if weight > 0.0 { sum / weight } else { 0.0 };
        let variance = if weight > 0.0 { 1.0 / weight } else { f64::INFINITY };
        self.columns.push(Column { at: strip.column(x), value, variance });
        self.earlier.push(earlier);
    }

    /// Brings the variances to what untouched columns really scatter by.
    fn scale_variances(&mut self, ball: f64) {
        let from = self.core[0] as f64 - 25.0 * self.per_mm;
        let to = self.core[1] as f64 + 120.0 * self.per_mm;
        let outside: Vec<Column> = (self.columns.iter().enumerate())
            .filter(|(x, c)| {
                ((*x as f64) < from || *x as f64 > to)
                    && c.at.abs() > 2.5 * ball
                    && c.variance.is_finite()
            })
            .map(|(_, c)| *c)
            .collect();
        let known: Vec<f64> =
            self.columns.iter().map(|c| c.variance).filter(|v| v.is_finite()).collect();
        let (scatter, typical) = if outside.len() >= 12 {
            let typical = median(outside.iter().map(|c| c.variance).collect());
            (robust_sigma(outside.iter().map(|c| c.value).collect()), typical)
        } else {
            (0.1, median(known))
        };
        let scatter = scatter.max(0.02);
        for column in &mut self.columns {
            column.variance = scatter.powi(2) * (column.variance / typical).max(1.0);
        }
    }

    fn tells(&self, x: usize) -> bool {
        self.columns[x].variance.sqrt() < 0.5 * self.inner.max(0.3)
    }

    /// Where the mark begins; as with its end, between two places where ground that is hardly marked
    /// lies inside of what was found.
    pub fn start(&self) -> Option<End> {
        let indices: Vec<usize> = (0..self.columns.len()).collect();
        let mut start = self.rise(&indices, self.core[0])?;
        if let Some([first, last]) = self.torn_start(start.step.at) {
            start.step.at = (first + last) / 2.0;
            start.step.sigma = start.step.sigma.hypot((last - first) / 12f64.sqrt());
        }
        Some(start)
    }

    /// Where the mark may begin, first and last, if 8 mm and more of ground that is hardly marked, as
    /// far as can be told, lie between its middle and the `start` that was found.
    fn torn_start(&self, start: f64) -> Option<[f64; 2]> {
        let run = (8.0 * self.per_mm).round().max(2.0) as usize;
        let middle = (self.core[0] + self.core[1]) / 2;
        let bare = 0.25 * self.inner;
        let is_bare = |from: usize| {
            let mean =
                self.columns[from..from + run].iter().map(|c| c.value).sum::<f64>() / run as f64;
            (from..from + run).all(|x| self.tells(x)) && mean < bare
        };
        let first = self.columns.iter().position(|c| c.at > start + 0.5)?;
        let gap = (first..middle.saturating_sub(run)).rev().find(|&x| is_bare(x))?;
        let last = (gap + run..middle).find(|&x| self.columns[x].value > bare)?;
        Some([start, self.columns[last].at - 0.5])
    }

    /// Where it ends: torn turf and crumbs make that less plain than the start. Where the profile
    /// falls below its half and comes back within 28 mm, the end lies between the two.
    pub fn end(&self) -> Option<End> {
        let crumbs = self.crumbs_beyond();
        let indices: Vec<usize> = (0..self.columns.len())
            .rev()
            .filter(|x| !crumbs.iter().any(|c| c.contains(x)))
            .collect();
        let mut end = self.rise(&indices, self.core[1].min(self.columns.len()) - 1)?;
        if let Some([first, last]) = self.torn_end(end.step.at).filter(|_| end.seen > 0.7) {
            let near = (end.step.at - first).abs() < 6.0 * self.per_mm;
            end.step.at = (if near { end.step.at } else { first } + last) / 2.0;
            end.step.sigma = end.step.sigma.hypot((last - first) / 12f64.sqrt());
        }
        let beyond = self.soil_beyond(&end.step);
        end.step.at += beyond;
        end.step.sigma = end.step.sigma.hypot(beyond);
        Some(end)
    }

    /// Short stretches that lie by themselves past the mark, clear ground between: crumbs of turf,
    /// which may differ from the grass more than the mark does, so the step is not laid through them.
    /// Those within reach of torn turf still count as a doubt of the end.
    fn crumbs_beyond(&self) -> Vec<std::ops::Range<usize>> {
        let cells = |mm: f64| (mm * self.per_mm).round().max(2.0) as usize;
        let (apart, longest) = (cells(CRUMB_APART), cells(CRUMB_LENGTH));
        let is_clear = |c: &Column| c.variance.is_finite() && c.value < 0.25 * self.inner;
        let (mut crumbs, mut clear) = (Vec::new(), 0);
        let mut x = self.core[1].min(self.columns.len());
        while x < self.columns.len() {
            if is_clear(&self.columns[x]) {
                (x, clear) = (x + 1, clear + 1);
                continue;
            }
            let length = self.columns[x..].iter().take_while(|c| !is_clear(c)).count();
            if clear >= apart && length <= longest {
                crumbs.push(x..x + length);
            } else {
                clear = 0;
            }
            x += length;
        }
        crumbs
    }

    /// How many columns' worth of mark lies within 20 mm past its end beyond what the step itself
    /// smears there. Turf torn over the end hides some of the mark and leaves the rest lying
    /// apart, so the mark reaches on by about as much again as shows, from nothing to twice that.
    fn soil_beyond(&self, step: &Step) -> f64 {
        let reach = 20.0 * self.per_mm;
        let shows: f64 = (self.columns.iter())
            .filter(|c| c.variance.is_finite() && (0.0..reach).contains(&(c.at - step.at)))
            .map(|c| (c.value / self.inner).clamp(-1.0, 1.0))
            .sum();
        // A normal step of deviation w has w / √(2π) past its middle.
        (shows - step.width / std::f64::consts::TAU.sqrt()).max(0.0)
    }

    /// First and last place where the smoothed profile falls below a half, if they differ. Where it
    /// stays below for long, and what comes back leads to an `end` farther on, that is the last.
    fn torn_end(&self, end: f64) -> Option<[f64; 2]> {
        let count = self.columns.len();
        let smooth = |x: usize| {
            let range = x.saturating_sub(1)..(x + 2).min(count);
            let n = range.len() as f64;
            self.columns[range].iter().map(|c| c.value).sum::<f64>() / n / self.inner
        };
        let below: Vec<bool> = (0..count).map(|x| smooth(x) < 0.5).collect();
        let run = (8.0 * self.per_mm).round().max(2.0) as usize;
        let middle = (self.core[0] + self.core[1]) / 2;
        let first =
            (middle..count.saturating_sub(run)).find(|&x| below[x..x + run].iter().all(|&b| b))?;
        let limit = (first + (28.0 * self.per_mm) as usize).min(count - 1);
        let at = |x: usize| self.columns[x].at - 0.5;
        let last = (first..limit).rev().find(|&x| !below[x]).map(|x| at(x + 1));
        let last = last.or((end > at(limit)).then_some(end))?;
        Some([at(first), last])
    }

    /// The step from untouched to marked ground, walking along `order` (outside first) past the
    /// column `near`.
    fn rise(&self, order: &[usize], near: usize) -> Option<End> {
        let at = order.iter().position(|&x| x == near)?;
        // What is marked outside of the core, under ball and shade, is none of the ground before it.
        let is_bare = |x: usize| self.tells(x) && self.columns[x].value < 0.5 * self.inner;
        let outside = walk(order[..at].iter().rev(), 35.0 * self.per_mm, is_bare);
        let length = (self.core[1] - self.core[0]) as f64;
        let within = (40.0 * self.per_mm).min(0.6 * length);
        let inside = walk(order[at..].iter(), within, |x| self.tells(x));
        let window = &order[at - outside..at + inside];
        let sign = if order.first() < order.last() { 1.0 } else { -1.0 };
        let columns: Vec<Column> = window
            .iter()
            .enumerate()
            .map(|(k, &x)| {
                let c = self.columns[x];
                let own = if k >= outside { self.inner_sigma.powi(2) } else { 0.0 };
                let variance = COLUMNS_TOGETHER * (c.variance + own);
                Column { at: sign * c.at, value: c.value, variance }
            })
            .collect();
        let step = find_rise(&columns, self.inner)?;
        // What smeared the edge need not have smeared it evenly to both sides.
        let doubt = self.twilight(window).hypot(self.changed_otherwise(&columns, &step));
        let sigma = step.sigma.hypot(doubt).hypot(0.5 * step.width);
        let step = Step { at: sign * step.at, sigma, ..step };
        let close: Vec<usize> = window
            .iter()
            .copied()
            .filter(|&x| (self.columns[x].at - step.at).abs() <= 12.0 * self.per_mm)
            .collect();
        let seen = close.iter().filter(|&&x| self.tells(x)).count();
        let seen = seen as f64 / close.len().max(1) as f64;
        let before_it = |x: &&usize| {
            let ahead = sign * (step.at - self.columns[**x].at) / self.per_mm;
            (3.0..20.0).contains(&ahead)
        };
        let earlier = median(window.iter().filter(before_it).map(|&x| self.earlier[x]).collect());
        Some(End { step, seen, earlier })
    }

    /// Doubt, in columns, from a stretch that is neither marked nor untouched: between where a
    /// mean over 8 mm first exceeds seven tenths, coming from outside, and where it first falls
    /// below three tenths, coming from inside. A sharp edge takes 10 mm of raggedness and blur.
    fn twilight(&self, window: &[usize]) -> f64 {
        let run = ((8.0 * self.per_mm).round() as usize).clamp(2, window.len().max(2));
        let means: Vec<f64> = window
            .windows(run)
            .map(|w| w.iter().map(|&x| self.columns[x].value).sum::<f64>() / run as f64)
            .collect();
        let marked = means.iter().position(|&m| m > 0.7 * self.inner).unwrap_or(means.len());
        let bare = means.iter().rposition(|&m| m < 0.3 * self.inner).unwrap_or(0);
        let stretch = (marked as f64 - bare as f64) / self.per_mm;
        (stretch.abs() - 10.0).max(0.0) * self.per_mm / 12f64.sqrt()
    }

    /// Doubt, in columns, from ground that changed next to the edge, but not as the mark did: its
    /// share is below nothing over 8 mm and more. Strong coding loses the colours of a block and
    /// keeps its light, which is read like that, so the mark may begin anywhere in there.
    fn changed_otherwise(&self, columns: &[Column], step: &Step) -> f64 {
        let run = ((8.0 * self.per_mm).round() as usize).max(2);
        let outside: Vec<&Column> =
            columns.iter().filter(|c| c.at < step.at - step.width - 0.5).collect();
        let is_changed = |w: &&[&Column]| {
            let n = w.len() as f64;
            let mean = w.iter().map(|c| c.value).sum::<f64>() / n;
            // The variances are of columns that hang together.
            let sigma = w.iter().map(|c| c.variance).sum::<f64>().sqrt() / n;
            // Below a tenth of the mark's own contrast a change says little, however sure it is.
            mean < -0.1 * self.inner && mean < -4.0 * sigma
        };
        // A single such window is no longer than an edge frays; beyond that the mark may begin
        // anywhere from here to where it ends, counted from one side.
        outside.windows(run).rev().take_while(is_changed).count() as f64 / 3f64.sqrt()
    }
}

/// How many columns to take until `wanted` of them count.
fn walk<'a>(
    order: impl Iterator<Item = &'a usize>,
    wanted: f64,
    counts: impl Fn(usize) -> bool,
) -> usize {
    let (mut taken, mut counted) = (0, 0.0);
    for &x in order {
        if counted >= wanted {
            break;
        }
        taken += 1;
        counted += if counts(x) { 1.0 } else { 0.0 };
    }
    taken
}

/// With fewer columns a row's share is not known.
const LEAST_COLUMNS: usize = 6;

/// First and last row in which the mark's inner columns are marked by more than a half; where ball
/// and shade hide those, all of its columns, and where they hide these, those in the shade as well.
fn half_rows(
    strip: &Strip,
    shares: &Shares,
    core: Rect,
    inside: std::ops::Range<usize>,
) -> [usize; 2] {
    let middle = (core.rows[0] + core.rows[1]) / 2;
    let whole = core.columns[0]..core.columns[1];
    let cells_of = |y: usize, (columns, in_shade): &(std::ops::Range<usize>, bool)| {
        let cells = columns.clone().map(|x| y * strip.width + x);
        let is_seen = |&i: &usize| match strip.cover[i] {
            Cover::Open => true,
            Cover::Shade => *in_shade,
            Cover::Ball | Cover::Unknown => false,
        };
        cells.filter(is_seen).collect::<Vec<usize>>()
    };
    let ways = [(inside, false), (whole.clone(), false), (whole, true)];
    let tells =
        |way: &&(std::ops::Range<usize>, bool)| cells_of(middle, way).len() >= LEAST_COLUMNS;
    let way = ways.iter().find(tells).unwrap_or(&ways[2]);
    let is_marked = |y: usize| {
        let cells = cells_of(y, way);
        cells.len() >= LEAST_COLUMNS
            && median(cells.into_iter().map(|i| shares.share[i]).collect()) > 0.5
    };
    let (mut low, mut high) = (middle, middle);
    while low > 0 && is_marked(low - 1) {
        low -= 1;
    }
    while high + 1 < strip.height && is_marked(high + 1) {
        high += 1;
    }
    [low, high]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of a mark as plain as it can be, with its unevenness, on ground that was untouched before.
    fn profile(columns: Vec<Column>, inner_sigma: f64, core: [usize; 2], per_mm: f64) -> Profile {
        let earlier = vec![0.0; columns.len()];
        let (inner, middle, width) = (1.0, 0.0, 10.0);
        Profile { columns, inner, inner_sigma, middle, width, earlier, core, per_mm }
    }

    /// A mark from column 30 on, two columns a centimetre, the ground before it changed by
    /// `otherwise` from column 12 on.
    fn doubt(otherwise: f64, noise: f64) -> f64 {
        let columns: Vec<Column> = (0..50)
            .map(|i| {
                let value = match i {
                    30.. => 1.0,
                    12.. => otherwise,
                    _ => 0.0,
                };
                let ripple = if i % 2 == 0 { noise } else { -noise };
                Column { at: f64::from(i), value: value + ripple, variance: 3.0 * noise * noise }
            })
            .collect();
        let profile = profile(columns.clone(), 0.05, [30, 50], 0.5);
        let step = find_rise(&columns, 1.0).expect("a step");
        assert!((step.at - 29.5).abs() < 1.0, "{step:?}");
        profile.changed_otherwise(&columns, &step)
    }

    #[test]
    fn a_crumb_past_the_end_is_no_end_and_torn_turf_beside_it_is_part_of_the_mark() {
        // A mark 92 mm long, uneven in itself, two columns in 3 mm; then a strip or a crumb.
        let end = |beyond: std::ops::Range<usize>| {
            let value = |i: usize| match i {
                30..92 => 1.0 + 0.15 * f64::from(i as u32 % 3) - 0.15,
                i if beyond.contains(&i) => 1.5,
                _ => 0.01 * f64::from(i as u32 % 5) - 0.02,
            };
            let columns: Vec<Column> = (0..160)
                .map(|i| Column { at: i as f64, value: value(i), variance: 0.0004 })
                .collect();
            let found = profile(columns, 0.15, [30, 92], 2.0 / 3.0).end().expect("an end");
            (found.step.at, found.step.sigma)
        };
        let (bare, _) = end(0..0);
        assert!((bare - 91.5).abs() < 0.5, "{bare}");
        // 31 mm past it, 4 mm long and darker than the mark.
        let (with_crumb, sigma) = end(112..115);
        assert!((with_crumb - bare).abs() < 0.5 && sigma < 2.0, "{with_crumb} ± {sigma}");
        // 12 mm past it, within reach of torn turf: half-way, and the doubt reaches the bare end.
        let (torn, sigma) = end(100..103);
        assert!(torn > bare + 2.0 && torn - 2.0 * sigma < bare, "{torn} ± {sigma}");
        // As far away and longer than a crumb: part of the mark.
        let (longer, _) = end(100..110);
        assert!((longer - 109.5).abs() < 1.0, "{longer}");
    }

    #[test]
    fn turf_that_lies_in_a_heap_far_past_the_end_leaves_it_open() {
        // A mark 93 mm long, 45 mm of clear ground, and a heap of 34 mm that was taken for its rest.
        let value = |i: usize| match i {
            30..92 | 122..145 => 1.0 + 0.15 * f64::from(i as u32 % 3) - 0.15,
            _ => 0.01 * f64::from(i as u32 % 5) - 0.02,
        };
        let columns: Vec<Column> =
            (0..200).map(|i| Column { at: i as f64, value: value(i), variance: 0.0004 }).collect();
        let per_mm = 2.0 / 3.0;
        let end = profile(columns, 0.15, [30, 145], per_mm).end().expect("an end");
        let [from, to] = [-2.0, 2.0].map(|k| end.step.at + k * end.step.sigma);
        assert!(from < 91.5 && to > 144.5, "{from} to {to}");
        assert!(end.step.sigma / per_mm > 9.0, "too vague to be told");
    }

    #[test]
    fn ground_hardly_marked_inside_of_a_start_leaves_it_between_two_places() {
        // Marked from 20 on and bare about 30; three columns a centimetre.
        let start = |bare: std::ops::Range<usize>| {
            let value = |i: usize| match i {
                i if bare.contains(&i) => 0.02,
                20..90 => 0.9,
                _ => 0.0,
            };
            let columns: Vec<Column> = (0..120)
                .map(|i| Column { at: i as f64, value: value(i), variance: 0.0009 })
                .collect();
            profile(columns, 0.05, [33, 90], 0.3).start().expect("a start").step
        };
        let torn = start(29..33);
        assert!(torn.at - 2.0 * torn.sigma < 20.0 && torn.at + 2.0 * torn.sigma > 32.0, "{torn:?}");
        let whole = start(0..0);
        assert!(whole.sigma < 0.7 * torn.sigma, "{whole:?}");
    }

    #[test]
    fn a_mark_that_begins_under_ball_and_shade_does_not_begin_where_those_end() {
        // A step at 29.5 of which the ball tells little and its shade too little, then open ground.
        let column = |i: usize| match i {
            ..30 => (0.0, 0.05),
            30..44 => (0.85, 0.12),
            44..48 => (0.55, 0.04),
            _ => (1.05, 0.05),
        };
        let columns: Vec<Column> = (0..120)
            .map(|i| (i as f64, column(i)))
            .map(|(at, (value, sigma))| Column { at, value, variance: sigma * sigma })
            .collect();
        let start = profile(columns, 0.05, [52, 90], 0.33).start().expect("a start");
        let [from, to] = [-2.0, 2.0].map(|k| start.step.at + k * start.step.sigma);
        assert!(from < 29.5 && 29.5 < to, "{from} to {to}");
    }

    #[test]
    fn ground_that_changed_otherwise_before_the_edge_is_doubt() {
        assert_eq!(doubt(0.0, 0.05), 0.0);
        assert_eq!(doubt(-0.05, 0.03), 0.0, "hardly");
        assert_eq!(doubt(0.2, 0.03), 0.0, "as the mark did: that is the fit's own doubt");
        // 18 columns, the last four of which are one window's own.
        let found = doubt(-0.2, 0.03);
        assert!((6.0..10.0).contains(&found), "{found}");
    }
}
