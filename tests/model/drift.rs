//! The drift estimator against certified values, two independent programs, and made-up data whose truth is known.

use sagtrace::analysis::drift::{Drift, Joint, Slope, Trust};
use sagtrace::analysis::hampel::Identifier;
use sagtrace::analysis::pairing::{Paired, Place};
use sagtrace::analysis::regression::{FirstRow, Fit, Moments, Term};
use sagtrace::reading::Stamp;

const ON_TIME: [Term; 2] = [Term::Constant, Term::Time];
const ON_VOLTAGE: [Term; 2] = [Term::Constant, Term::Voltage];
const ON_BOTH: [Term; 3] = [Term::Constant, Term::Time, Term::Voltage];

/// NIST Statistical Reference Datasets, Norris ("Calibration of Ozone Monitors"): x and y of 36 observations.
const NORRIS: [(f64, f64); 36] = [
    (0.2, 0.1),
    (337.4, 338.8),
    (118.2, 118.1),
    (884.6, 888.0),
    (10.1, 9.2),
    (226.5, 228.1),
    (666.3, 668.5),
    (996.3, 998.5),
    (448.6, 449.1),
    (777.0, 778.9),
    (558.2, 559.2),
    (0.4, 0.3),
    (0.6, 0.1),
    (775.5, 778.1),
    (666.9, 668.8),
    (338.0, 339.3),
    (447.5, 448.9),
    (11.6, 10.8),
    (556.0, 557.7),
    (228.1, 228.3),
    (995.8, 998.0),
    (887.6, 888.8),
    (120.2, 119.6),
    (0.3, 0.3),
    (0.3, 0.6),
    (556.8, 557.6),
    (339.1, 339.3),
    (887.2, 888.0),
    (999.0, 998.5),
    (779.0, 778.9),
    (11.1, 10.2),
    (118.3, 117.6),
    (229.2, 228.9),
    (669.1, 668.4),
    (448.9, 449.2),
    (0.5, 0.2),
];

use crate::noise::Noise;

/// Invented: 200 readings, a sagging battery, pushing 12 kHz/V, drift -0.5 Hz/s, AR(1) scatter with ρ = 0.8.
/// `tests/compare/prais_winsten.py` makes the same.
fn sagging() -> Vec<[f64; 3]> {
    let (mut noise, mut scatter) = (Noise(1234567890), 0.0);
    (0..200)
        .map(|i| {
            let x = f64::from(i) / 199.0;
            scatter = 0.8 * scatter + 30.0 * noise.unit();
            let (time_s, volts) = (10.0 * f64::from(i), 9.0 - 1.2 * x - 0.3 * x * x);
            let hertz = 3200000.0 + 12000.0 * (volts - 8.0) - 0.5 * time_s + scatter;
            [time_s, volts, hertz]
        })
        .collect()
}

fn moments(rows: &[[f64; 3]]) -> Moments {
    let mut moments = Moments::default();
    for &[time_s, volts, hertz] in rows {
        moments.push(time_s, volts, hertz);
    }
    moments
}

fn drift(rows: &[[f64; 3]]) -> Drift {
    let mut drift = Drift::default();
    for (i, &[time_s, volts, hertz]) in rows.iter().enumerate() {
        let elapsed_us = format!("{:.0}", time_s * 1e6)
            .parse()
            .expect("a whole number");
        drift.push(&Paired {
            stamp: Stamp {
                elapsed_us,
                wall_ms: 0,
            },
            row: 1 + i as u64,
            frequency_hz: hertz,
            battery_v: Some(volts),
            place: if i == 0 {
                Place::Begins
            } else {
                Place::Follows
            },
        });
    }
    drift
}

#[track_caller]
fn assert_close(got: f64, want: f64, relative: f64) {
    assert!(
        (got - want).abs() <= relative * want.abs(),
        "{got} is not {want} within {relative}"
    );
}

/// Slopes and standard errors are to agree with printed values to the last of their digits.
#[track_caller]
fn assert_fit(fit: &Fit, rho: f64, slopes: &[(f64, f64)], relative: f64) {
    assert_close(fit.rho, rho, 1e-8);
    for (i, &(slope, error)) in slopes.iter().enumerate() {
        assert_close(fit.coefficients[i + 1], slope, relative);
        assert_close(fit.standard_errors[i + 1], error, relative);
    }
}

#[test]
fn the_made_up_data_are_those_of_the_other_programs() {
    let rows = sagging();
    let first: Vec<f64> = rows.iter().take(3).map(|row| row[2]).collect();
    assert_eq!(
        first,
        [3211971.1885556583, 3211882.1232446576, 3211814.5929563954]
    );
    assert_eq!(
        rows[199].map(f64::to_bits)[2],
        3192969.5545500503_f64.to_bits()
    );
}

#[test]
fn without_autocorrelation_it_is_the_certified_straight_line() {
    // NIST StRD, Norris: certified slope and standard deviation of the slope.
    let rows = NORRIS.map(|(x, y)| [x, 0.0, y]);
    let fit = moments(&rows)
        .fit_at(&ON_TIME, FirstRow::Keep, 0.0)
        .expect("a fit");
    assert_close(fit.coefficients[1], 1.00211681802045, 1e-12);
    assert_close(fit.standard_errors[1], 0.429796848199937e-03, 1e-10);
    assert_eq!(fit.degrees, 34);
}

#[test]
fn a_carrier_a_million_times_the_signal_costs_no_digits() {
    // Norris with y as thousandths of a hertz on 10 MHz: slope of the rounded data by 40-digit arithmetic.
    let rows = NORRIS.map(|(x, y)| [x, 0.0, 1e7 + 1e-3 * y]);
    let fit = moments(&rows)
        .fit_at(&ON_TIME, FirstRow::Keep, 0.0)
        .expect("a fit");
    assert_close(fit.coefficients[1], 0.001002116818614, 1e-9);
}

#[test]
fn plain_least_squares_agree_with_an_independent_library() {
    // statsmodels 0.15.0, OLS(f, [1, t]) and OLS(f, [1, V]): slope and standard error.
    let moments = moments(&sagging());
    let plain = |terms: &[Term]| moments.fit_at(terms, FirstRow::Keep, 0.0).expect("a fit");
    let on_time = plain(&ON_TIME);
    assert_close(on_time.coefficients[1], -9.51880713968, 1e-9);
    assert_close(on_time.standard_errors[1], 0.03390821943, 1e-9);
    let on_voltage = plain(&ON_VOLTAGE);
    assert_close(on_voltage.coefficients[1], 12626.6789484, 1e-9);
    assert_close(on_voltage.standard_errors[1], 7.717510817, 1e-9);
    let both = plain(&ON_BOTH);
    assert_close(both.coefficients[1], -0.450457332775, 1e-9);
    assert_close(both.coefficients[2], 12030.6774107, 1e-9);
    assert_close(both.standard_errors[1], 0.1080119184, 1e-9);
    assert_close(both.standard_errors[2], 143.1032338, 1e-9);
    assert_close(
        moments.variance_inflation().expect("both vary"),
        372.2965,
        1e-6,
    );
}

#[test]
fn with_the_first_row_dropped_it_is_the_librarys_iterated_fit() {
    // statsmodels 0.15.0, GLSAR(f, x, 1).iterative_fit run to convergence; the same lines are printed by
    // `target/venv/bin/python tests/compare/prais_winsten.py`.
    let moments = moments(&sagging());
    let fit = |terms: &[Term]| moments.fit(terms, FirstRow::Drop).expect("a fit");
    assert_fit(
        &fit(&ON_TIME),
        0.9891217590,
        &[(-11.27146978, 0.3684891508)],
        1e-8,
    );
    assert_fit(
        &fit(&ON_VOLTAGE),
        0.7699819612,
        &[(12626.60123, 21.52718212)],
        1e-8,
    );
    let slopes = [(-0.3855710772, 0.2922361578), (12119.91022, 384.5021204)];
    assert_fit(&fit(&ON_BOTH), 0.7487063890, &slopes, 1e-8);
}

#[test]
fn with_the_first_row_kept_it_is_prais_and_winsten_written_out() {
    // Printed by `target/venv/bin/python tests/compare/prais_winsten.py` (numpy, rows transformed one by one, QR).
    let moments = moments(&sagging());
    let fit = |terms: &[Term]| moments.fit(terms, FirstRow::Keep).expect("a fit");
    assert_fit(
        &fit(&ON_TIME),
        0.9711344242,
        &[(-9.535883847, 0.09925618562)],
        1e-8,
    );
    assert_fit(
        &fit(&ON_VOLTAGE),
        0.7706769942,
        &[(12630.55659, 20.51631966)],
        1e-8,
    );
    let slopes = [(-0.3887066721, 0.2656633578), (12115.92605, 351.9445545)];
    assert_fit(&fit(&ON_BOTH), 0.7486801128, &slopes, 1e-8);
}

#[test]
fn stretches_that_do_not_follow_each_other_each_keep_their_first_row() {
    // As above, "in three stretches": rows 60 to 69 and 140 are lost.
    let mut moments = Moments::default();
    for (i, [time_s, volts, hertz]) in sagging().into_iter().enumerate() {
        if (60..70).contains(&i) || i == 140 {
            moments.end_stretch();
        } else {
            moments.push(time_s, volts, hertz);
        }
    }
    let fit = |terms: &[Term]| moments.fit(terms, FirstRow::Keep).expect("a fit");
    let on_time = [(-9.547109975, 0.1049966067)];
    assert_fit(&fit(&ON_TIME), 0.9757716634, &on_time, 1e-8);
    let on_voltage = [(12631.97235, 20.91409494)];
    assert_fit(&fit(&ON_VOLTAGE), 0.7758602942, &on_voltage, 1e-8);
    let on_both = [(-0.3407955289, 0.2710541985), (12180.31521, 359.4354535)];
    assert_fit(&fit(&ON_BOTH), 0.7535576380, &on_both, 1e-8);
}

#[test]
fn one_monotone_discharge_gives_both_slopes_but_not_the_two_apart() {
    let report = drift(&sagging()).report();
    let (Slope::Fitted(drift), Slope::Fitted(pushing)) = (report.on_time, report.on_voltage) else {
        panic!("{report:?}");
    };
    // The generalised fits of the independent library on single readings, above: -9.536 Hz/s and 12 631 Hz/V.
    assert_close(drift.slope.value, -9.535883847, 0.02);
    assert_close(pushing.slope.value, 12630.55659, 0.001);
    assert_eq!((drift.readings, drift.means), (200, 63));
    assert_eq!(drift.width_s, Some(32.0), "200 readings, 10 s apart");
    assert_eq!(pushing.trust, Trust::Fair);
    assert_eq!(
        drift.trust,
        Trust::Wandering,
        "a sag that is no straight line leaves no independent readings"
    );
    assert!(drift.effective < 4.0, "{drift:?}");
    assert!(matches!(report.joint, Joint::Together { inflation } if inflation > 300.0));
}

#[test]
fn a_noisy_voltmeter_does_not_pull_the_pushing_to_zero() {
    // Invented: 1 V of sag in 40 minutes is 0.4 mV a second under 2 mV of noise; 1.5 kHz/V, and a bend that is no noise, so
    // that steps from one row to the next count for more than levels.
    let mut noise = Noise(4711);
    let rows: Vec<_> = (0..2400)
        .map(|i| {
            let t = f64::from(i);
            let volts = 9.0 - t / 2400.0;
            let hertz = 6e6 + 1500.0 * volts + 300.0 * (t / 400.0).sin() + noise.unit();
            [t, volts + 0.002 * noise.unit(), hertz]
        })
        .collect();
    let Slope::Fitted(pushing) = drift(&rows).report().on_voltage else {
        panic!("2400 readings over a volt");
    };
    assert!(
        (pushing.slope.value - 1500.0).abs() < pushing.slope.half_width,
        "{pushing:?}"
    );
    assert!(pushing.slope.value > 1000.0, "{pushing:?}");
}

/// Invented sorts of scatter, each unit a step of the generator.
#[derive(Debug, Clone, Copy)]
enum Scatter {
    Autoregressive(f64),
    Walk,
}

/// How many of `runs` records of `readings`, with a slope of 0.02 Hz/s, gave an interval that holds it.
fn held(scatter: Scatter, readings: i32, runs: usize) -> usize {
    let (mut noise, truth) = (Noise(20240601), 0.02);
    let rho = match scatter {
        Scatter::Autoregressive(rho) => rho,
        Scatter::Walk => 1.0,
    };
    (0..runs)
        .filter(|_| {
            let mut off = match scatter {
                Scatter::Autoregressive(rho) => noise.unit() / (1.0 - rho * rho).sqrt(),
                Scatter::Walk => 0.0,
            };
            let rows: Vec<_> = (0..readings)
                .map(|i| {
                    let row = [f64::from(i), 9.0, 6e6 + truth * f64::from(i) + off];
                    off = rho * off + noise.unit();
                    row
                })
                .collect();
            let Slope::Fitted(fit) = drift(&rows).report().on_time else {
                panic!("{readings} readings over time");
            };
            (fit.slope.value - truth).abs() <= fit.slope.half_width
        })
        .count()
}

#[test]
fn an_interval_of_95_per_cent_holds_the_truth_about_as_often() {
    // 1000 runs leave ±0.7 % (one sigma).
    for (scatter, least) in [
        (Scatter::Autoregressive(0.0), 920),
        (Scatter::Autoregressive(0.6), 920),
        (Scatter::Autoregressive(0.9), 930),
        (Scatter::Walk, 930),
    ] {
        let held = held(scatter, 400, 1000);
        assert!(held >= least, "{scatter:?}: {held} of 1000");
    }
    // Where the assumption holds the interval is not wider than it needs to be either.
    let white = held(Scatter::Autoregressive(0.0), 400, 1000);
    assert!(white <= 970, "{white} of 1000");
}

#[test]
fn a_random_walk_is_flagged() {
    // Invented: 500 random walks of 300 readings, which have no drift at all.
    let (mut noise, mut fair) = (Noise(20240601), 0);
    for _ in 0..500 {
        let mut walk = 0.0;
        let rows: Vec<_> = (0..300)
            .map(|i| {
                walk += noise.unit();
                [f64::from(i), 9.0, 6e6 + walk]
            })
            .collect();
        if let Slope::Fitted(fit) = drift(&rows).report().on_time {
            fair += usize::from(fit.trust == Trust::Fair);
        }
    }
    assert!(fair <= 10, "{fair} of 500 walks were taken for a drift");
}

/// The same with spikes of 25 kHz, up and down in turn.
const SPIKES: [usize; 7] = [17, 42, 43, 44, 90, 133, 171];

#[test]
fn spikes_are_told_from_scatter_and_sag() {
    let mut hertz: Vec<f64> = sagging().iter().map(|row| row[2]).collect();
    let flagged = |hertz: &[f64]| {
        let mut identifier = Identifier::new(5, 5.0, 0.0);
        let mut flags: Vec<_> = hertz
            .iter()
            .filter_map(|&hertz| identifier.push(hertz))
            .collect();
        flags.extend(std::iter::from_fn(|| identifier.rest()));
        (0..hertz.len())
            .filter(|&i| flags[i].is_outlier)
            .collect::<Vec<_>>()
    };
    assert!(flagged(&hertz).is_empty());
    for (turn, &i) in SPIKES.iter().enumerate() {
        hertz[i] += if turn % 2 == 0 { 25e3 } else { -25e3 };
    }
    // Running median and 1.4826 MAD by numpy, half width 5, limit 5: exactly the spikes.
    assert_eq!(flagged(&hertz), SPIKES);
}
