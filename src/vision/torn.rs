//! A picture that is torn along a row: what lies above is displaced against what lies below, as
//! where a recording was put together from parts, or a stream lost some of them. Texture does not
//! show so small a step; the straight edges of a sheet that cross the row do.

use super::plane::Plane;
use super::references::{half_level, through};
use crate::domain::{GrayFrame, ImagePoint};

/// Where a picture is torn, and by how much.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tear {
    /// The first row below.
    pub row: f64,
    /// By how much what lies above is displaced, pixels.
    pub pixels: f64,
}

/// An edge that runs flatter than this (rows a column) tells a row badly.
const LEAST_STEEP: f64 = 0.6;
/// With fewer rows to either side an edge's straight line is not known.
const LEAST_ROWS: usize = 4;
/// A step is smaller than this where only grass stands before an edge, pixels.
const LEAST_STEP: f64 = 0.3;
/// A step counts if it is so many times its standard uncertainty; the other edge's, at the same
/// row and to the same side, must be, too.
const SURE: f64 = 4.0;
/// With a step less than this part of the squares must be left that a bend or a bow leaves.
const PLAINLY: f64 = 0.5;
/// Two edges step at one row if their steps are found no farther apart.
const SAME_ROW: f64 = 3.0;
/// Neighbouring rows share what codec and lens did to them: so many are worth one.
const ROWS_ALIKE: f64 = 1.5;
/// No edge is straighter than this, pixels.
const LEAST_SCATTER: f64 = 0.05;

/// Whether the picture is torn along a row that crosses a sheet, which is seen with its corners
/// about there, going round; `None` where its edges are straight, or are not seen.
///
/// Method: each steep edge's place of half light row by row, a straight line fitted to it with a
/// step at every row in turn, and with a bend or a bow instead; the best step of two edges must agree.
pub fn find_tear(frame: &GrayFrame, corners: &[ImagePoint; 4]) -> Option<Tear> {
    let plane = Plane::from_gray(frame);
    let middle = corners.iter().map(|p| p.x).sum::<f64>() / 4.0;
    let steps: Vec<(Step, f64)> = (0..4)
        .filter_map(|i| {
            let (a, b) = (corners[i], corners[(i + 1) % 4]);
            let outward = if (a.x + b.x) / 2.0 > middle { 1.0 } else { -1.0 };
            let step = step(&places(&plane, a, b, outward)?)?;
            Some((step, (b.x - a.x) / (b.y - a.y)))
        })
        .collect();
    let [(one, lean), (other, lean_of_other)] = &steps[..] else { return None };
    let agree = (one.row - other.row).abs() <= SAME_ROW && one.pixels * other.pixels > 0.0;
    let is_sure = |s: &Step| s.pixels.abs() > LEAST_STEP && s.pixels.abs() > SURE * s.sigma;
    (agree && is_sure(one) && is_sure(other)).then(|| {
        let sharper = if one.sigma < other.sigma { one } else { other };
        let pixels = displaced([one.pixels, other.pixels], [*lean, *lean_of_other]);
        Tear { row: sharper.row, pixels }
    })
}

/// How far what lies above is displaced, by the steps along the row of two edges and how many
/// columns each leans to the right a row down: moved down by a row it steps by as much to the left.
/// Edges that lean alike tell what is along the row alone.
fn displaced(steps: [f64; 2], leans: [f64; 2]) -> f64 {
    const APART: f64 = 0.2;
    let along = steps[0].abs().max(steps[1].abs());
    let apart = leans[1] - leans[0];
    if apart.abs() < APART {
        return along;
    }
    let down = (steps[1] - steps[0]) / apart;
    (steps[0] - leans[0] * down).hypot(down)
}

/// Where an edge between two corners is seen, row by row: how far outside the straight line between
/// them; `None` where it is flat or short, or hardly seen.
fn places(plane: &Plane, a: ImagePoint, b: ImagePoint, outward: f64) -> Option<Vec<(f64, f64)>> {
    let (top, foot) = if a.y < b.y { (a, b) } else { (b, a) };
    let (down, along) = (foot.y - top.y, foot.x - top.x);
    if down < LEAST_STEEP * along.abs() {
        return None;
    }
    // The corners themselves are round.
    let rows = (top.y + 2.0).ceil() as usize..=(foot.y - 2.0).max(0.0) as usize;
    let all = rows.clone().count();
    let places: Vec<(f64, f64)> = rows
        .filter_map(|row| {
            let x = top.x + along * (row as f64 - top.y) / down;
            let level = |u: f64| plane.sample(x + outward * u, row as f64);
            Some((row as f64, outward * half_level(&level)?))
        })
        .collect();
    (places.len() > 2 * LEAST_ROWS && places.len() * 4 >= all * 3).then_some(places)
}

/// The step of an edge at the row where it fits best.
struct Step {
    row: f64,
    pixels: f64,
    sigma: f64,
}

/// `None` unless a step explains the edge plainly better than what paper does: a fold or a curled
/// corner bends its edges at a row, and all of it may be bowed.
fn step(places: &[(f64, f64)]) -> Option<Step> {
    let n = places.len();
    let best = |explain: &dyn Fn(usize, usize) -> f64| {
        let fits = (LEAST_ROWS..n - LEAST_ROWS + 1)
            .filter_map(|k| Some((k, Explained::by(places, &|i| explain(i, k))?)));
        fits.min_by(|(_, a), (_, b)| a.left.total_cmp(&b.left))
    };
    let (k, stepped) = best(&|i, k| if i < k { 0.0 } else { 1.0 })?;
    let (_, bent) = best(&|i, k| i.saturating_sub(k) as f64)?;
    let bowed = Explained::by(places, &|i| (i as f64 - n as f64 / 2.0).powi(2))?;
    let variance = (stepped.left / (n as f64 - 3.0)).max(LEAST_SCATTER * LEAST_SCATTER);
    (stepped.left < PLAINLY * bent.left.min(bowed.left)).then(|| Step {
        row: places[k].0,
        pixels: stepped.size,
        sigma: (ROWS_ALIKE * variance / stepped.weight).sqrt(),
    })
}

/// How an edge's places are explained by a straight line and one thing more.
struct Explained {
    /// How much of it there is.
    size: f64,
    /// The sum of squares that is left.
    left: f64,
    /// The sum of squares of what no straight line explains of that thing.
    weight: f64,
}

impl Explained {
    /// Least squares of offset, slope and one more: what slope and offset explain is taken out of
    /// both first (Frisch, Waugh and Lovell).
    fn by(places: &[(f64, f64)], more: &dyn Fn(usize) -> f64) -> Option<Self> {
        let rest = |value: &dyn Fn(usize) -> f64| -> Option<Vec<f64>> {
            let points: Vec<(f64, f64)> =
                places.iter().enumerate().map(|(i, p)| (p.0, value(i))).collect();
            let (offset, slope) = through(&points)?;
            Some(points.iter().map(|(x, y)| y - offset - slope * x).collect())
        };
        let (edge, more) = (rest(&|i| places[i].1)?, rest(more)?);
        let weight: f64 = more.iter().map(|m| m * m).sum();
        let size = edge.iter().zip(&more).map(|(e, m)| e * m).sum::<f64>() / weight;
        let left = edge.iter().zip(&more).map(|(e, m)| (e - size * m).powi(2)).sum();
        (weight > 0.0).then_some(Self { size, left, weight })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::vision::references::tests::picture;

    /// A sheet whose edges run steeply.
    const SHEET: [[f64; 2]; 4] = [[150.3, 252.6], [251.7, 248.2], [232.4, 205.9], [141.8, 208.1]];

    fn corners() -> [ImagePoint; 4] {
        SHEET.map(|[x, y]| ImagePoint::new(x, y))
    }

    /// What lies above the row moved to the right by so many pixels; `columns` of it alone.
    fn torn_at(row: usize, by: usize, columns: std::ops::Range<usize>) -> GrayFrame {
        let whole = picture(&SHEET, 240.0);
        let mut torn = whole.clone();
        for y in 0..row {
            for x in columns.clone() {
                torn.data[y * whole.width + x] = whole.at(x - by, y);
            }
        }
        torn
    }

    #[test]
    fn a_step_of_both_edges_is_a_tear() {
        let torn = torn_at(230, 1, 8..400);
        let tear = find_tear(&torn, &corners()).expect("a tear");
        assert!((tear.row - 230.0).abs() <= 1.0 && (tear.pixels - 1.0).abs() < 0.3, "{tear:?}");
        // Corners that were clicked beside where they are seen tell it as well.
        let beside = corners().map(|p| p.moved(0.8, -0.7));
        assert!(find_tear(&torn, &beside).is_some());
    }

    #[test]
    fn steps_of_two_edges_tell_both_ways() {
        // A row and a half up: edges that lean by 0.5 and by 1 step by 0.75 and by 1.5.
        assert!((displaced([0.75, 1.5], [0.5, 1.0]) - 1.5).abs() < 1e-12);
        assert!((displaced([1.0, 1.0], [0.1, 0.6]) - 1.0).abs() < 1e-12);
        assert_eq!(displaced([0.9, 1.1], [0.1, 0.2]), 1.1);
    }

    #[test]
    fn a_folded_sheet_is_none() {
        // Folded across its middle, the upper half leans to the right.
        let seen = |row: f64| {
            let share = (row - 205.9) / (252.6 - 205.9);
            if share < 0.5 { 2.5 * (0.5 - share) } else { 0.0 }
        };
        let whole = picture(&SHEET, 240.0);
        let mut folded = whole.clone();
        for y in 190..252 {
            let by = seen(y as f64);
            for x in 8..400 {
                let (near, part) = (x - by.floor() as usize, by.fract());
                let light = f64::from(whole.at(near, y)) * (1.0 - part)
                    + f64::from(whole.at(near - 1, y)) * part;
                folded.data[y * whole.width + x] = light.round() as u8;
            }
        }
        assert_eq!(find_tear(&folded, &corners()), None);
    }

    #[test]
    fn straight_edges_and_a_step_of_one_alone_are_none() {
        assert_eq!(find_tear(&picture(&SHEET, 240.0), &corners()), None);
        // Grass before the left edge.
        assert_eq!(find_tear(&torn_at(230, 1, 100..190), &corners()), None);
        // Where there is no sheet there are no edges.
        let elsewhere = corners().map(|p| p.moved(-100.0, -100.0));
        assert_eq!(find_tear(&torn_at(230, 1, 8..400), &elsewhere), None);
    }
}
