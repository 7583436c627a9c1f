//! Statistics of blocks of swings.
//!
//! "e-Handbook": NIST/SEMATECH e-Handbook of Statistical Methods,
//! https://www.itl.nist.gov/div898/handbook/.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use scuffline::domain::{PlacedBy, Quantity, Seconds, SwingKind};
use scuffline::geometry::coverage_factor;
use scuffline::stats::{
    AimWindow, Moments, bartlett, brown_forsythe, individuals_chart, mean_interval, moments,
    one_way_f, paired_t, pooled, sd_interval,
};
use scuffline::store::{Edit, GolferId, Library, NewSwing, StoreError, SwingId};
use scuffline::workflow::{add_tape_value, tape_study};

use super::{near, printed};
use crate::stats::{MINI, WRIGHT};
use crate::store;
use crate::support::strd;

fn given(n: usize, mean: f64, sd: f64) -> Moments {
    Moments { n, mean, sd: Some(sd) }
}

#[test]
fn examples_of_the_handbook() {
    // e-Handbook 7.2.2.1: particles on wafers, against 50.
    let particles = [50., 48., 44., 56., 61., 52., 53., 55., 67., 51.];
    let m = moments(&particles).unwrap();
    printed(m.mean, 53.7, 1);
    printed(m.sd.unwrap(), 6.566751, 6);
    printed(paired_t(&[50.0; 10], &particles).unwrap().test.statistic, 1.781768, 6);
    // e-Handbook 1.3.5.8: all of GEAR.DAT.
    let gear = moments(&strd::gear().concat()).unwrap();
    let sd = gear.sd.unwrap();
    printed(sd, 0.006278905, 9);
    // The same as chi squared against a spread of 0.1, with its limits.
    printed(99.0 * (sd / 0.1).powi(2), 0.390304, 6);
    let limits = sd_interval(&gear).unwrap();
    printed(99.0 * (sd / limits.high).powi(2), 73.36108, 5);
    printed(99.0 * (sd / limits.low).powi(2), 128.42199, 5);
    // e-Handbook 1.3.5.3, AUTO83B.DAT: two-sided chance 5.27e-30.
    let (us, japan) = (given(249, 20.14458, 6.41470), given(79, 30.48101, 6.10771));
    near(pooled(&us, &japan).unwrap().test.p, 5.27e-30, 0.005e-30);
    // e-Handbook 1.3.5.2, ZARR13.DAT: T against 5, 194 degrees of freedom.
    let zarr = mean_interval(&given(195, 9.261460, 0.022789)).unwrap();
    let u = zarr.half_width() / coverage_factor(Some(194.0));
    near((9.261460 - 5.0) / u, 2611.2838, 0.05);
    // Three values against 38.9 (boost.math documentation of Student's t, one sample).
    let three = paired_t(&[38.9; 3], &[38.9, 37.4, 37.1]).unwrap().test;
    printed(three.statistic, -1.97566, 5);
    printed(three.p, 0.1869, 4);
}

#[test]
fn how_a_spread_fits_its_window() {
    // e-Handbook 6.1.6: limits 8 and 20, mean 16, spread 2.
    let window = AimWindow { low_mm: 8.0, high_mm: 20.0 };
    let fit = window.capability(&given(50, 16.0, 2.0)).unwrap();
    printed(fit.cp, 1.0, 12);
    printed(fit.upper, 0.6667, 4);
    printed(fit.lower, 1.3333, 4);
    printed(fit.cpk(), 0.6667, 4);
    // k, how far off its middle in half widths: Cpk = (1 - k) Cp.
    printed(1.0 - fit.cpk() / fit.cp, 0.3333, 4);
    // Three sigma to either side hold 99.73 %, two and four 97.72 % (tables of the normal).
    printed(100.0 * fit.share_if_centred(), 99.73, 2);
    printed(100.0 * fit.share(), 97.72, 2);
    assert!(window.capability(&given(3, 16.0, 0.0)).is_none());
}

#[test]
fn a_steady_block_leaves_its_limits_once_in_370() {
    // e-Handbook 6.3.2: beyond three sigma 0.0026998 of a steady process, every 370.4th.
    let mut rng = ChaCha8Rng::seed_from_u64(370);
    let values: Vec<f64> = StandardNormal.sample_iter(&mut rng).take(400_000).collect();
    let chart = individuals_chart(&values).unwrap();
    let every = values.len() as f64 / chart.outside.len() as f64;
    // 1080 of them, ± 33; the chart's d2 of 1.128 for 1.1284 changes 0.3 %.
    near(every, 370.4, 40.0);
}

#[test]
fn constants_for_a_number_of_swings() {
    // Tables of chi-square and Student's t: limits of a spread and of a mean in its own units, and
    // the change of a mean that two blocks of n just show.
    for (n, low, high, mean, change) in [
        (5, 0.5991, 2.8736, 1.2417, 1.458),
        (8, 0.6612, 2.0353, 0.8360, 1.072),
        (10, 0.6878, 1.8256, 0.7154, 0.940),
        (15, 0.7321, 1.5771, 0.5538, 0.748),
        (20, 0.7605, 1.4606, 0.4680, 0.640),
        (30, 0.7964, 1.3443, 0.3734, 0.517),
    ] {
        let one = given(n, 0.0, 1.0);
        let spread = sd_interval(&one).unwrap();
        printed(spread.low, low, 4);
        printed(spread.high, high, 4);
        printed(mean_interval(&one).unwrap().half_width(), mean, 4);
        printed(pooled(&one, &one).unwrap().interval.half_width(), change, 3);
    }
}

#[test]
fn spreads_of_several_groups() {
    // R's data sets `PlantGrowth` and `InsectSprays`, with R's own bartlett.test and, about the
    // medians, leveneTest of its package `car`.
    let plants = [
        [4.17, 5.58, 5.18, 6.11, 4.50, 4.61, 5.17, 4.53, 5.33, 5.14],
        [4.81, 4.17, 4.41, 3.59, 5.87, 3.83, 6.03, 4.89, 4.32, 4.69],
        [6.31, 5.12, 5.54, 5.50, 5.37, 5.29, 4.92, 6.15, 5.80, 5.26],
    ];
    let groups = plants.each_ref().map(|g| &g[..]);
    let f = one_way_f(&groups).unwrap();
    printed(f.statistic, 4.846088, 6);
    printed(f.p, 0.01590996, 8);
    let tests = [bartlett(&groups).unwrap(), brown_forsythe(&groups).unwrap()];
    for (test, [statistic, p]) in tests.iter().zip([[2.878574, 0.237097], [1.119186, 0.341227]]) {
        printed(test.statistic, statistic, 6);
        printed(test.p, p, 6);
    }
    let sprays = [
        [10., 7., 20., 14., 14., 12., 10., 23., 17., 20., 14., 13.],
        [11., 17., 21., 11., 16., 14., 17., 17., 19., 21., 7., 13.],
        [0., 1., 7., 2., 3., 1., 2., 1., 3., 0., 1., 4.],
        [3., 5., 12., 6., 4., 3., 5., 5., 5., 5., 2., 4.],
        [3., 5., 3., 5., 3., 6., 1., 1., 3., 2., 6., 4.],
        [11., 9., 15., 22., 15., 16., 13., 10., 26., 26., 24., 13.],
    ];
    let groups = sprays.each_ref().map(|g| &g[..]);
    printed(bartlett(&groups).unwrap().statistic, 25.959825, 6);
    printed(bartlett(&groups).unwrap().p, 9.085e-5, 8);
    printed(brown_forsythe(&groups).unwrap().statistic, 3.821356, 6);
    printed(brown_forsythe(&groups).unwrap().p, 0.0042228, 7);
}

/// A golfer's swings whose marks begin where `read` says.
fn swings_of(edit: &Edit, read: &[f64]) -> Result<(GolferId, Vec<SwingId>), StoreError> {
    let golfer = edit.add_golfer(&store::golfer())?;
    let session = edit.add_session(golfer, &store::session())?;
    let recording = edit.add_recording(session, &store::recording("one"))?;
    let add = |(i, value): (usize, &f64)| {
        let time = Seconds(5.0 * i as f64);
        let new = NewSwing::on(recording, SwingKind::Strike, time, PlacedBy::Program);
        let swing = edit.add_swing(session, &new)?;
        edit.set_result(swing, &store::result(*value))?;
        Ok(swing)
    };
    Ok((golfer, read.iter().enumerate().map(add).collect::<Result<_, StoreError>>()?))
}

#[test]
fn limits_of_agreement_through_the_tape_study() {
    // Bland & Altman 1986, Lancet i:307-310: one meter's readings as the program's, the other's as
    // the tape's, kept in a library and read from it.
    let folder = tempfile::tempdir().unwrap();
    let mut library = Library::open(folder.path().join("test.scuffline")).unwrap();
    let (golfer, swings) = library.save(|edit| swings_of(edit, &WRIGHT)).unwrap();
    for (swing, taped) in swings.into_iter().zip(MINI) {
        add_tape_value(&mut library, swing, Quantity::DivotStart, taped).unwrap();
    }
    let study = tape_study(&library, golfer).unwrap();
    let verdict = study.verdict(Quantity::DivotStart).unwrap();
    assert_eq!(verdict.pairs, 17);
    let found = verdict.agreement.unwrap();
    // The paper takes 2 SD about the bias; the program 1.96, where the normal's 1.959964 would be
    // 0.0014 nearer.
    printed(found.bias - 2.0 * found.sd, -79.648, 3);
    printed(found.bias + 2.0 * found.sd, 75.413, 3);
    near(found.limits.low, -78.096, 0.002);
    near(found.limits.high, 73.862, 0.002);
}
