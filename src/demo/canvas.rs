//! Filling convex shapes with smooth edges.

/// A point of the picture: column, row.
pub(super) type Dot = [f64; 2];

/// Sub-rows a pixel is cut into; columns are exact.
const SUB_ROWS: usize = 4;

/// Rows that may be painted: `from..to`.
#[derive(Clone, Copy)]
pub(super) struct Rows {
    pub from: usize,
    pub to: usize,
}

/// Calls `each(column, row, coverage)` for every pixel of a `width`-wide picture that a
/// convex polygon covers.
pub(super) fn fill_convex(
    polygon: &[Dot],
    width: usize,
    rows: Rows,
    each: &mut dyn FnMut(usize, usize, f32),
) {
    let (low, high) = extent(polygon, 1);
    let (left, right) = extent(polygon, 0);
    if !(low.is_finite() && high.is_finite() && left.is_finite() && right.is_finite()) {
        return;
    }
    let first_row = (low + 0.5).floor().max(rows.from as f64) as usize;
    let last_row = ((high + 1.5).floor().max(0.0) as usize).min(rows.to);
    let x0 = (left + 0.5).floor().clamp(0.0, width as f64) as usize;
    let x1 = ((right + 1.5).floor().max(0.0) as usize).min(width);
    if x0 >= x1 {
        return;
    }
    let mut cover = vec![0.0f32; x1 - x0];
    for row in first_row..last_row {
        cover.fill(0.0);
        let mut any = false;
        for sub in 0..SUB_ROWS {
            let y = row as f64 - 0.5 + (sub as f64 + 0.5) / SUB_ROWS as f64;
            if let Some((a, b)) = span(polygon, y) {
                any |= add_span(&mut cover, a + 0.5 - x0 as f64, b + 0.5 - x0 as f64);
            }
        }
        if any {
            for (i, &c) in cover.iter().enumerate().filter(|(_, c)| **c > 0.004) {
                each(x0 + i, row, c.min(1.0));
            }
        }
    }
}

/// Adds a sub-row's span, in pixel-edge coordinates of `cover`; whether it touched any.
fn add_span(cover: &mut [f32], from: f64, to: f64) -> bool {
    let (from, to) = (from.max(0.0), to.min(cover.len() as f64));
    if to <= from {
        return false;
    }
    let last = (to.ceil() as usize).min(cover.len());
    let first = from.floor() as usize;
    for (i, c) in cover[first..last].iter_mut().enumerate() {
        let cell = (first + i) as f64;
        *c += ((to.min(cell + 1.0) - from.max(cell)).max(0.0) / SUB_ROWS as f64) as f32;
    }
    true
}

fn extent(polygon: &[Dot], axis: usize) -> (f64, f64) {
    polygon.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), p| {
        (low.min(p[axis]), high.max(p[axis]))
    })
}

fn span(polygon: &[Dot], y: f64) -> Option<(f64, f64)> {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    let mut before = *polygon.last()?;
    for &p in polygon {
        if (before[1] <= y) != (p[1] <= y) {
            let x = before[0] + (p[0] - before[0]) * (y - before[1]) / (p[1] - before[1]);
            low = low.min(x);
            high = high.max(x);
        }
        before = p;
    }
    (low < high).then_some((low, high))
}

/// The convex hull, going round (Andrew's monotone chain, 1979).
pub(super) fn hull(mut points: Vec<Dot>) -> Vec<Dot> {
    points.retain(|p| p[0].is_finite() && p[1].is_finite());
    points.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    let mut lower = chain(points.iter().copied());
    let mut upper = chain(points.iter().rev().copied());
    lower.pop();
    upper.pop();
    lower.extend(upper);
    lower
}

fn chain(points: impl Iterator<Item = Dot>) -> Vec<Dot> {
    let mut out: Vec<Dot> = Vec::new();
    for p in points {
        while let [.., a, b] = out[..] {
            let turn = (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
            if turn > 0.0 {
                break;
            }
            out.pop();
        }
        out.push(p);
    }
    out
}

/// The outline of a limb: two discs and what lies between them.
pub(super) fn limb(a: Dot, radius_a: f64, b: Dot, radius_b: f64) -> Vec<Dot> {
    let mut points = disc(a, radius_a);
    points.extend(disc(b, radius_b));
    hull(points)
}

/// The outline of a disc.
pub(super) fn disc(centre: Dot, radius: f64) -> Vec<Dot> {
    const CORNERS: usize = 20;
    (0..CORNERS)
        .map(|i| {
            let (sin, cos) = (std::f64::consts::TAU * i as f64 / CORNERS as f64).sin_cos();
            [centre[0] + radius * cos, centre[1] + radius * sin]
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(polygon: &[Dot]) -> f64 {
        let mut sum = 0.0;
        fill_convex(polygon, 100, Rows { from: 0, to: 100 }, &mut |_, _, c| sum += f64::from(c));
        sum
    }

    #[test]
    fn coverage_adds_up_to_the_area() {
        assert!(
            (area(&[[10.2, 20.0], [30.7, 20.0], [30.7, 25.5], [10.2, 25.5]]) - 112.75).abs() < 3.0
        );
        let r = 12.0;
        // A regular 20-gon: n/2 r² sin(2π/n).
        let exact = 10.0 * r * r * (std::f64::consts::TAU / 20.0).sin();
        assert!((area(&disc([50.0, 50.0], r)) - exact).abs() < 0.02 * exact);
    }

    #[test]
    fn hull_drops_inner_points() {
        let square = vec![[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0], [2.0, 2.0], [1.0, 3.0]];
        assert_eq!(hull(square).len(), 4);
    }

    #[test]
    fn nothing_is_painted_outside_the_picture() {
        let far = limb([-50.0, -50.0], 3.0, [300.0, 250.0], 5.0);
        fill_convex(&far, 100, Rows { from: 10, to: 60 }, &mut |x, y, _| {
            assert!(x < 100 && (10..60).contains(&y));
        });
    }
}
