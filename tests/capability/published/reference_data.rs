//! "StRD": NIST Statistical Reference Datasets, https://www.itl.nist.gov/div898/strd/.

use nalgebra::DVector;
use scuffline::geometry::minimise;
use scuffline::stats::{lag_1, moments, one_way_f};

use super::near;
use crate::support::strd;

fn f_of(groups: &[Vec<f64>]) -> f64 {
    let groups: Vec<&[f64]> = groups.iter().map(Vec::as_slice).collect();
    one_way_f(&groups).unwrap().statistic
}

#[test]
fn strd_analysis_of_variance() {
    // StRD SmLs01, 04 and 07: F 21. A double holds tenths above 1e6 to 1e-9 of a tenth, above 1e12 to
    // 6e-4: what is read in has, exactly, F 21.0000000008 and 21.0008.
    near(f_of(&strd::simon_lesage(1.0)), 21.0, 1e-11);
    near(f_of(&strd::simon_lesage(1e6)), 21.0, 1e-9);
    near(f_of(&strd::simon_lesage(1e12)), 21.0, 1e-3);
    // StRD AtmWtAg, read in to 1.4e-14 of differences of 1e-5.
    near(f_of(&strd::ATM_WT_AG.map(Vec::from)), 15.9467335677930, 1e-7);
}

#[test]
fn strd_digits_of_pi() {
    // StRD PiDigits: certified mean, standard deviation and lag-1 coefficient.
    let digits = strd::pi_digits();
    let m = moments(&digits).unwrap();
    assert_eq!(digits.len(), 5000);
    near(m.mean, 4.5348, 1e-14);
    near(m.sd.unwrap(), 2.86733906028871, 1e-13);
    near(lag_1(&digits).unwrap(), -0.00355099287237972, 1e-15);
}

/// One of StRD's sets for nonlinear regression.
struct Curve {
    data: &'static [(f64, f64)],
    model: fn(&[f64], f64) -> f64,
    start: &'static [f64],
    /// Parameters and their standard deviations.
    certified: &'static [(f64, f64)],
    /// Residual sum of squares.
    squares: f64,
}

impl Curve {
    fn check(&self) {
        // In units of the start: the search asks for parameters of order one.
        let scaled = |q: &DVector<f64>| -> Vec<f64> {
            q.iter().zip(self.start).map(|(q, unit)| q * unit).collect()
        };
        let (n, k) = (self.data.len(), self.start.len());
        let residuals = |q: &DVector<f64>| {
            let b = scaled(q);
            Some(DVector::from_fn(n, |i, _| (self.model)(&b, self.data[i].0) - self.data[i].1))
        };
        let found = minimise(residuals, DVector::from_element(k, 1.0)).unwrap();
        let squares = found.sum_of_squares();
        near(squares / self.squares, 1.0, 1e-9);
        let variance = squares / (n - k) as f64;
        for (i, (parameter, sd)) in self.certified.iter().enumerate() {
            near(scaled(&found.parameters)[i] / parameter, 1.0, 1e-7);
            // Central differences leave 3e-7 where a step is a thousandth of the curve's width.
            let got = (found.covariance[(i, i)] * variance).sqrt() * self.start[i].abs();
            near(got / sd, 1.0, 1e-6);
        }
    }
}

#[test]
fn strd_growth_curves() {
    // StRD Rat42 and Rat43, higher difficulty, each from both of its starts.
    for start in [&[100.0, 1.0, 0.1], &[75.0, 2.5, 0.07]] {
        Curve {
            data: &strd::RAT42,
            model: |b, x| b[0] / (1.0 + (b[1] - b[2] * x).exp()),
            start,
            certified: &[
                (72.462237576, 1.7340283401),
                (2.6180768402, 0.088295217536),
                (0.067359200066, 0.0034465663377),
            ],
            squares: 8.0565229338,
        }
        .check();
    }
    for start in [&[100.0, 10.0, 1.0, 1.0], &[700.0, 5.0, 0.75, 1.3]] {
        Curve {
            data: &strd::RAT43,
            model: |b, x| b[0] / (1.0 + (b[1] - b[2] * x).exp()).powf(1.0 / b[3]),
            start,
            certified: &[
                (699.64151270, 16.302297817),
                (5.2771253025, 2.0828735829),
                (0.75962938329, 0.19566123451),
                (1.2792483859, 0.68761936385),
            ],
            squares: 8786.4049080,
        }
        .check();
    }
}

#[test]
fn strd_saturation_and_peak() {
    // StRD BoxBOD and Eckerle4, higher difficulty, from the nearer of their two starts: from the
    // farther one both run off to where the parameters change nothing any more.
    Curve {
        data: &strd::BOX_BOD,
        model: |b, x| b[0] * (1.0 - (-b[1] * x).exp()),
        start: &[100.0, 0.75],
        certified: &[(213.80940889, 12.354515176), (0.54723748542, 0.10455993237)],
        squares: 1168.0088766,
    }
    .check();
    Curve {
        data: &strd::ECKERLE4,
        model: |b, x| b[0] / b[1] * (-0.5 * ((x - b[2]) / b[1]).powi(2)).exp(),
        start: &[1.5, 5.0, 450.0],
        certified: &[
            (1.5543827178, 0.015408051163),
            (4.0888321754, 0.046803020753),
            (451.54121844, 0.046800518816),
        ],
        squares: 1.4635887487e-3,
    }
    .check();
}

#[test]
fn strd_rational_curves() {
    // StRD Hahn1 and Kirby2, average difficulty, and Thurber, higher, each from both of its starts.
    let cubic = |b: &[f64], x: f64| {
        (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) / (1.0 + x * (b[4] + x * (b[5] + x * b[6])))
    };
    for start in [
        &[10.0, -1.0, 0.05, -1e-5, -0.05, 0.001, -1e-6],
        &[1.0, -0.1, 0.005, -1e-6, -0.005, 1e-4, -1e-7],
    ] {
        Curve {
            data: &strd::HAHN1,
            model: cubic,
            start,
            certified: &[
                (1.0776351733, 0.17070154742),
                (-0.12269296921, 0.012000289189),
                (4.0863750610e-3, 2.2508314937e-4),
                (-1.4262662514e-6, 2.7578037666e-7),
                (-5.7609940901e-3, 2.4712888219e-4),
                (2.4053735503e-4, 1.0449373768e-5),
                (-1.2314450199e-7, 1.3027335327e-8),
            ],
            squares: 1.5324382854,
        }
        .check();
    }
    for start in [&[2.0, -0.1, 0.003, -0.001, 1e-5], &[1.5, -0.15, 0.0025, -0.0015, 2e-5]] {
        Curve {
            data: &strd::KIRBY2,
            model: |b, x| (b[0] + x * (b[1] + x * b[2])) / (1.0 + x * (b[3] + x * b[4])),
            start,
            certified: &[
                (1.6745063063, 0.087989634338),
                (-0.13927397867, 4.1182041386e-3),
                (2.5961181191e-3, 4.1856520458e-5),
                (-1.7241811870e-3, 5.8931897355e-5),
                (2.1664802578e-5, 2.0129761919e-7),
            ],
            squares: 3.9050739624,
        }
        .check();
    }
    for start in [
        &[1000.0, 1000.0, 400.0, 40.0, 0.7, 0.3, 0.03],
        &[1300.0, 1500.0, 500.0, 75.0, 1.0, 0.4, 0.05],
    ] {
        Curve {
            data: &strd::THURBER,
            model: cubic,
            start,
            certified: &[
                (1288.1396800, 4.6647963344),
                (1491.0792535, 39.571156086),
                (583.23836877, 28.698696102),
                (75.416644291, 5.5675370270),
                (0.96629502864, 0.031333340687),
                (0.39797285797, 0.014984928198),
                (0.049727297349, 0.0065842344623),
            ],
            squares: 5642.7082397,
        }
        .check();
    }
}

#[test]
fn strd_several_predictors() {
    // StRD Longley, higher difficulty: its predictors are nearly a plane. Taken from their means and
    // in units of their own spread, as the search asks for, and put back.
    let column = |c: usize| strd::LONGLEY.map(|row| row[c]);
    let of: Vec<_> = (0..7).map(|c| moments(&column(c)).unwrap()).collect();
    let sd = |c: usize| of[c].sd.unwrap();
    let unit = |row: &[f64; 7], c: usize| (row[c] - of[c].mean) / sd(c);
    let residuals = |b: &DVector<f64>| {
        let miss =
            |row: &[f64; 7]| b[0] + (1..7).map(|c| b[c] * unit(row, c)).sum::<f64>() - unit(row, 0);
        Some(DVector::from_iterator(16, strd::LONGLEY.iter().map(miss)))
    };
    let found = minimise(residuals, DVector::zeros(7)).unwrap();
    let scatter = (found.sum_of_squares() / 9.0).sqrt();
    near(scatter * sd(0) / 304.854073561965, 1.0, 1e-8);
    let certified = [
        (15.0618722713733, 84.9149257747669),
        (-0.0358191792925910, 0.0334910077722432),
        (-2.02022980381683, 0.488399681651699),
        (-1.03322686717359, 0.214274163161675),
        (-0.0511041056535807, 0.226073200069370),
        (1829.15146461355, 455.478499142212),
    ];
    let mut constant = of[0].mean + sd(0) * found.parameters[0];
    for (c, (slope, doubt)) in (1..7).zip(certified) {
        let scale = sd(0) / sd(c);
        let got = found.parameters[c] * scale;
        near(got / slope, 1.0, 1e-6);
        near(found.covariance[(c, c)].sqrt() * scatter * scale / doubt, 1.0, 1e-6);
        constant -= got * of[c].mean;
    }
    near(constant / -3482258.63459582, 1.0, 1e-7);
}
