//! The guides to uncertainty: JCGM 100:2008 and JCGM 101:2008.

use scuffline::domain::{Contribution, Measured, Source};
use scuffline::geometry::{coverage_factor, expand};

use super::printed;

#[test]
fn budgets_of_the_guides() {
    let part = |standard, freedom| Contribution {
        source: Source::Model,
        standard,
        freedom: Some(freedom),
    };
    // JCGM 100:2008, H.1: the difference of the end gauges by itself, nm (as worked in MSLNZ/GTC,
    // examples/GUM_H1.py).
    let d = Measured::new(215.0, vec![part(5.8, 24.0), part(3.9, 5.0), part(6.7, 8.0)]);
    printed(d.standard_uncertainty(), 9.68, 2);
    printed(d.effective_freedom().unwrap(), 25.4, 1);
    // JCGM 101:2008, 9.2.3 and 9.2.4: u 2.00 and 10.15; 95 % by the law of propagation ±3.92.
    let sum =
        |u: [f64; 4]| Measured::new(0.0, u.map(|u| Contribution::new(Source::Mark, u)).into());
    printed(sum([1.0; 4]).standard_uncertainty(), 2.0, 2);
    printed(sum([1.0, 1.0, 1.0, 10.0]).standard_uncertainty(), 10.15, 2);
    printed(expand(&sum([1.0; 4])).half_width(), 3.92, 2);
    // JCGM 100:2008, table G.2, 95 %: t of 5, 10 and 20 degrees of freedom.
    for (freedom, t) in [(5.0, 2.57), (10.0, 2.23), (20.0, 2.09)] {
        printed(coverage_factor(Some(freedom)), t, 2);
    }
}
