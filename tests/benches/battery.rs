//! What a forecast costs over ninety curves, against the bare sums that its method cannot do without; and what a list of five
//! thousand sessions costs, against asking the system for the two files of each. Both in one run.

use std::fmt::Write as _;
use std::fs;
use std::hint::black_box;
use std::path::Path;
use std::process::Command;

use sagtrace::battery::end::{End, Until};
use sagtrace::battery::finished::{Finished, Start};
use sagtrace::battery::kind::Kind;
use sagtrace::battery::outlook::{Known, Run};
use sagtrace::battery::shipped;
use sagtrace::clock::Clock;

const ROUNDS: usize = 15;
const CURVES: usize = 90;
const SESSIONS: usize = 5000;

/// The shortest of several rounds, in seconds.
fn shortest(rounds: usize, mut work: impl FnMut() -> f64) -> f64 {
    (0..rounds)
        .map(|_| {
            let clock = Clock::real();
            black_box(work());
            clock.elapsed_s()
        })
        .fold(f64::INFINITY, f64::min)
}

/// Ninety finished runs: the nine that ship, each stretched ten ways.
fn runs() -> Vec<Finished> {
    let shipped = shipped::finished(Kind::LiIon2s);
    (0..CURVES)
        .map(|at| {
            let mut one = shipped[at % shipped.len()].clone();
            let stretch = 1.0 + 0.02 * (at / shipped.len()) as f64;
            one.run_s *= stretch;
            for sample in &mut one.samples {
                sample.running_s *= stretch;
            }
            one
        })
        .collect()
}

/// 80 lengths, 4 starts, 90 curves, 36 points, as the published recipe counts them.
fn bare_sums() -> f64 {
    let table: Vec<f64> = (0..200).map(|i| 8.4 - 0.01 * f64::from(i)).collect();
    let mut sum = 0.0;
    for length in 0..80 {
        for start in 0..4 {
            for curve in 0..CURVES {
                for point in 0..36 {
                    let place = (length + 13 * start + 7 * curve + 3 * point) % 199;
                    let (low, high) = (table[place], table[place + 1]);
                    let off = 8.0 - (low + 0.4 * (high - low));
                    sum += off * off;
                }
            }
        }
    }
    sum
}

/// Invented sessions of fifty batteries, 120 rows each.
fn write_sessions(dir: &Path) {
    for number in 0..SESSIONS {
        let session = dir.join(format!("s{number:05}"));
        fs::create_dir(&session).expect("a folder for a session");
        let meta = format!(
            "schema = 1\nstate = \"closed\"\nprogram = \"invented\"\nstarted = \"2026-01-01T{:02}:{:02}:00.000Z\"\n\
             build = \"invented\"\nbattery = \"N{}\"\nbattery_kind = \"nimh-7\"\nbattery_start = \"full\"\nsimulated = true\n\
             time_scale = 1.0\ncolumns = []\n",
            number / 60 % 24,
            number % 60,
            number % 50
        );
        fs::write(session.join("session.toml"), meta).expect("its description");
        let mut rows =
            "timestamp,elapsed_s,source,frequency_hz,battery_v,current_a,status,note\n".to_owned();
        for row in 0..120 {
            writeln!(
                rows,
                "2026-01-01T00:00:00.000Z,{}.000000,board,4000000,{:.3},0.3,ok,",
                20 * row,
                9.0 - 0.017 * f64::from(row)
            )
            .expect("a line");
        }
        fs::write(session.join("samples.csv"), rows).expect("its readings");
    }
}

fn list(dir: &Path) -> f64 {
    let output = Command::new(env!("CARGO_BIN_EXE_sagtrace"))
        .args(["battery", "--sessions"])
        .arg(dir)
        .output()
        .expect("the list");
    assert_eq!(
        String::from_utf8_lossy(&output.stdout)
            .lines()
            .filter(|line| line.starts_with('N'))
            .count(),
        50
    );
    output.stdout.len() as f64
}

fn ask_the_system(dir: &Path) -> f64 {
    let mut sum = 0.0;
    for place in fs::read_dir(dir).expect("the folder").flatten() {
        for name in ["session.toml", "samples.csv"] {
            sum += fs::metadata(place.path().join(name)).map_or(0.0, |data| data.len() as f64);
        }
    }
    sum
}

fn main() {
    let all = runs();
    let truth = shipped::finished(Kind::LiIon2s).remove(4);
    let half = truth
        .samples
        .partition_point(|one| one.running_s <= 0.5 * truth.run_s);
    let run = |start| Run {
        so_far: &truth.samples[..half],
        start,
        kind: Some(Kind::LiIon2s),
        series: 1,
        end: Some(End {
            volts_v: 6.0,
            until: Until::Empty,
        }),
        rated_ah: None,
        resistance_ohm: None,
    };
    // Made ready once for a recording; its back-test of ninety runs is no part of one forecast.
    let known = Known::of(&run(Start::Unknown), &[], &all);
    let forecast_s = shortest(ROUNDS, || {
        known
            .look(&run(Start::Unknown))
            .said
            .expect("a forecast")
            .middle_s
    });
    let sums_s = shortest(ROUNDS, bare_sums);
    println!(
        "forecast             {:.2} ms over {CURVES} curves, start unknown",
        forecast_s * 1e3
    );
    println!(
        "bare sums            {:.2} ms (baseline), of one of its two passes",
        sums_s * 1e3
    );
    println!(
        "ratio                {:.2} times the baseline",
        forecast_s / sums_s
    );

    let dir = tempfile::tempdir().expect("a temporary folder");
    write_sessions(dir.path());
    let first_s = shortest(1, || list(dir.path()));
    let again_s = shortest(5, || list(dir.path()));
    let system_s = shortest(5, || ask_the_system(dir.path()));
    println!(
        "list of {SESSIONS}         {:.0} ms with its index, {:.0} ms without",
        again_s * 1e3,
        first_s * 1e3
    );
    println!("lengths of the files {:.0} ms (baseline)", system_s * 1e3);
    println!(
        "ratio                {:.2} times the baseline",
        again_s / system_s
    );
}
