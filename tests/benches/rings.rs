//! What one resonance by the ring model costs, against a full solution of matrices as large by `nalgebra`'s Cholesky and
//! symmetric eigenvalues, in the same run. The baseline's matrices are given; ours are made from the winding each time.
//!
//! Then against the same model in numpy and scipy, where `target/venv` has them (`tests/compare/rings.py` says how), and the
//! whole band, 300 draws in three earth states, against as many single resonances.

use std::hint::black_box;
use std::process::Command;

use nalgebra::{Cholesky, DMatrix};
use sagtrace::clock::Clock;
use sagtrace::coil::band::parts;
use sagtrace::coil::former::Shift;
use sagtrace::coil::rings::{Fineness, frequency_hz};
use sagtrace::coil::setup::{Footing, scene};
use sagtrace::coil::spec::CoilSpec;
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
    let ours_hz =
        frequency_hz(&scene, Fineness::Extrapolated(RINGS)).expect("the sample coil resonates");
    vectorised(ours_s, ours_hz);
    whole_band(&sheet.coil_spec(), ours_s);
}

/// The same model in numpy and scipy, which prints its hertz and its seconds.
fn vectorised(ours_s: f64, ours_hz: f64) {
    let root = env!("CARGO_MANIFEST_DIR");
    let python = format!("{root}/target/venv/bin/python");
    let output = Command::new(python)
        .arg(format!("{root}/tests/compare/rings.py"))
        .output();
    let numbers: Vec<f64> = output.map_or_else(
        |_| Vec::new(),
        |output| {
            let text = String::from_utf8_lossy(&output.stdout);
            text.split_whitespace()
                .filter_map(|word| word.parse().ok())
                .collect()
        },
    );
    let [theirs_hz, theirs_s] = numbers.as_slice() else {
        println!("numpy and scipy      not measured: tests/compare/rings.py says what it needs");
        return;
    };
    assert!(
        (ours_hz / theirs_hz - 1.0).abs() < 1e-6,
        "{ours_hz} Hz here, {theirs_hz} Hz in numpy"
    );
    println!(
        "numpy and scipy      {:.2} ms, the same {:.6} MHz (baseline)",
        theirs_s * 1e3,
        theirs_hz / 1e6
    );
    println!(
        "ratio                {:.2} times as fast as the baseline",
        theirs_s / ours_s
    );
}

/// The band's parts in three earth states, each with its 300 draws.
fn whole_band(spec: &CoilSpec, single_s: f64) {
    let none = Shift {
        value: 0.0,
        low: 0.0,
        high: 0.0,
    };
    let band_s = shortest(|| {
        let states = [Footing::Wired, Footing::Touched, Footing::Afloat];
        states.map(|state| parts(spec, state, 2e-12, none).expect("a band").len() as f64)[0]
    });
    println!(
        "whole band           {:.0} ms, 3 x 300 draws and the other parts",
        band_s * 1e3
    );
    println!(
        "ratio                {:.2} of as many single resonances (baseline)",
        band_s / (900.0 * single_s)
    );
}
