//! What one resonance by the ring model costs, against a full solution of matrices as large by `nalgebra`'s Cholesky and
//! symmetric eigenvalues, in the same run. The baseline's matrices are given; ours are made from the winding each time.

use std::hint::black_box;

use nalgebra::{Cholesky, DMatrix};
use sagtrace::clock::Clock;
use sagtrace::coil::rings::{Fineness, frequency_hz};
use sagtrace::coil::setup::{Footing, scene};
use sagtrace::sheet;

const ROUNDS: usize = 15;
const RINGS: usize = 160;

/// The lowest value of a full solution.
fn full(a: &DMatrix<f64>, b: &DMatrix<f64>) -> f64 {
    let lower = Cholesky::new(b.clone()).expect("a positive matrix").l();
    let half = lower.solve_lower_triangular(a).expect("a regular matrix");
    let whole = lower
        .solve_lower_triangular(&half.transpose())
        .expect("a regular matrix");
    whole.symmetric_eigenvalues().min()
}

/// An even line with inductances that fall with the distance: as full and as large as a winding's matrices.
fn line(size: usize) -> (DMatrix<f64>, DMatrix<f64>) {
    let a = DMatrix::from_fn(size, size, |row, column| match row.abs_diff(column) {
        0 => 2.0,
        1 => -1.0,
        _ => 0.0,
    });
    let b = DMatrix::from_fn(size, size, |row, column| {
        (-(row.abs_diff(column) as f64) / 20.0).exp()
    });
    (a, b)
}

/// The shortest of several rounds, in seconds.
fn shortest(mut work: impl FnMut() -> f64) -> f64 {
    (0..ROUNDS)
        .map(|_| {
            let clock = Clock::real();
            black_box(work());
            clock.elapsed_s()
        })
        .fold(f64::INFINITY, f64::min)
}

fn main() {
    let sheet = sheet::parse(include_str!("../../sample-data/glow-pillar.toml"))
        .expect("the sample sheet has no faults");
    let scene = scene(&sheet.coil_spec(), Footing::Wired);
    let ours_s = shortest(|| {
        frequency_hz(&scene, Fineness::Extrapolated(RINGS)).expect("the sample coil resonates")
    });
    let pairs = [line(RINGS), line(RINGS / 2)];
    let full_s = shortest(|| pairs.iter().map(|(a, b)| full(a, b)).sum());
    println!(
        "ring model           {:.2} ms a resonance, 160 and 80 rings",
        ours_s * 1e3
    );
    println!("full solution        {:.2} ms (baseline)", full_s * 1e3);
    println!(
        "ratio                {:.2} times as fast as the baseline",
        full_s / ours_s
    );
}
