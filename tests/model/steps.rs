//! Steps of the frequency in made-up sessions whose truth is known: where they are, how large, and what the fits make of them.

use sagtrace::analysis::compare::{Compare, Comparison};
use sagtrace::analysis::drift::{Fitted, Slope};
use sagtrace::analysis::pairing::Pairing;
use sagtrace::reading::{Channel, Note, Readings, Row, Stamp, Status};

use crate::noise::Noise;

const F0_HZ: f64 = 6e6;
const DRIFT_HZ_PER_S: f64 = -1.5;

/// A session of a number of seconds with a number of rows per second; `world` gives frequency and battery voltage of a second.
fn session(seconds: i32, rate: i32, mut world: impl FnMut(f64) -> (f64, f64)) -> Comparison {
    let mut compare = Compare::new(None, Pairing::new());
    for i in 0..seconds * rate {
        let elapsed_us = i64::from(i) * i64::from(1_000_000 / rate);
        let (hertz, volts) = world(elapsed_us as f64 / 1e6);
        let mut readings = Readings::default();
        // As a counter of ten digits shows it.
        readings.set(Channel::FrequencyHz, (hertz * 1e3).round() / 1e3);
        readings.set(Channel::BatteryV, volts);
        compare.push(&[Row {
            stamp: Stamp {
                elapsed_us,
                wall_ms: 0,
            },
            source: "counter".into(),
            readings,
            status: Status::Ok,
            note: Note::default(),
        }]);
    }
    compare.report()
}

/// Drift and white noise of 10 Hz, with `disturbance` in hertz on it.
fn drifting(seed: u64, disturbance: impl Fn(f64) -> f64) -> impl FnMut(f64) -> (f64, f64) {
    let mut noise = Noise(seed);
    move |t| {
        let hertz = F0_HZ + DRIFT_HZ_PER_S * t + 10.0 * noise.unit() + disturbance(t);
        (hertz, 9.0 - t / 1800.0 + 0.002 * noise.unit())
    }
}

fn on_time(comparison: &Comparison) -> Fitted {
    match comparison.drift.on_time {
        Slope::Fitted(fit) => fit,
        other => panic!("no drift: {other:?}"),
    }
}

/// A hand that takes 18 kHz off at once and stays.
fn hand(t: f64) -> f64 {
    if t < 900.0 { 0.0 } else { -18e3 }
}

#[test]
fn a_hand_of_18_khz_is_a_step_with_its_rows_and_size() {
    for rate in [1, 10] {
        let comparison = session(1800, rate, drifting(1, hand));
        let [step] = comparison.steps.entries.as_slice() else {
            panic!("{rate}/s: {:?}", comparison.steps);
        };
        let before = u64::try_from(900 * rate).unwrap();
        assert_eq!((step.at_s, step.rows), (900.0, (before, before + 1)));
        assert!(
            (step.change_hz + 18e3).abs() < 1.5 * step.half_width_hz,
            "{step:?}"
        );
        // Two lines through 30 seconds each, taken to their ends: 2 · σ √(8/30).
        let scatter_hz = 10.0 / f64::from(rate).sqrt();
        assert!(step.half_width_hz < 1.4 * scatter_hz, "{step:?}");
        assert!((step.ratio + 0.003).abs() < 1e-5 && !step.is_of_supply);
        assert_eq!(comparison.excursions.count(), 0);
        assert_eq!(comparison.drift.levels, 2);
    }
}

#[test]
fn the_drift_is_not_pulled_by_a_step() {
    let mut held = 0;
    for seed in 1..=40 {
        let fit = on_time(&session(1800, 1, drifting(12345 + 791_901 * seed, hand)));
        let off = (fit.slope.value - DRIFT_HZ_PER_S).abs();
        held += usize::from(off < fit.slope.half_width);
        // Two halves of 900 s: a standard error of 10 √12 / 900^1.5 / √2 = 0.0009 Hz/s; the step over the whole is -15 Hz/s.
        assert!(off < 0.004 && fit.slope.half_width < 0.006, "{fit:?}");
    }
    // Of 400 such sessions 373 held it; of 40, fewer than 33 would be three standard deviations less.
    assert!(held >= 33, "{held} of 40 intervals of 95 % held the truth");
}

/// The portable series of 40, -40 and 15 Hz on 5 Hz of scatter, about which `change_points` agrees with another program.
#[test]
fn small_steps_are_recovered_within_the_noise() {
    let mut noise = Noise(1234567890);
    let comparison = session(300, 1, |t| {
        let level = match t {
            80.0..150.0 => 40.0,
            230.0.. => 15.0,
            _ => 0.0,
        };
        (F0_HZ - 0.2 * t + 5.0 * noise.unit() + level, 9.0)
    });
    let steps = &comparison.steps.entries;
    assert_eq!(steps.len(), 3, "{steps:?}");
    for (step, (at_s, change_hz)) in steps
        .iter()
        .zip([(80.0, 40.0), (150.0, -40.0), (230.0, 15.0)])
    {
        assert!(
            (step.change_hz - change_hz).abs() < 1.5 * step.half_width_hz,
            "{step:?}"
        );
        // A jump of three standard deviations is placed to a reading or two.
        assert!((step.at_s - at_s).abs() <= 2.0, "{step:?}");
    }
    let fit = on_time(&comparison);
    assert!(
        (fit.slope.value + 0.2).abs() < 1.5 * fit.slope.half_width,
        "{fit:?}"
    );
}

#[test]
fn a_step_is_found_once_wherever_it_stands_in_what_is_searched_at_once() {
    for at_s in (20..500).step_by(23) {
        let at_s = f64::from(at_s);
        let step = move |t: f64| if t < at_s { 0.0 } else { 500.0 };
        let comparison = session(600, 1, drifting(11, step));
        let found: Vec<_> = comparison
            .steps
            .entries
            .iter()
            .map(|step| step.at_s)
            .collect();
        assert_eq!(found, [at_s]);
    }
}

#[test]
fn white_correlated_and_wandering_noise_hold_no_steps() {
    for (rho, size_hz) in [
        (0.0, 10.0),
        (0.5, 10.0),
        (0.9, 10.0),
        (1.0, 10.0),
        (1.0, 300.0),
    ] {
        for rate in [1, 4] {
            let quiet = (0..20).filter(|seed| {
                let (mut noise, mut off) = (Noise(1000 + 77 * seed), 0.0);
                let comparison = session(1800, rate, |t| {
                    off = rho * off + size_hz * noise.unit();
                    (F0_HZ + DRIFT_HZ_PER_S * t + off, 9.0)
                });
                comparison.steps.count() == 0
            });
            let quiet = quiet.count();
            assert!(
                quiet >= 19,
                "ρ = {rho}, {size_hz} Hz, {rate}/s: {quiet} of 20"
            );
        }
    }
}

#[test]
fn warming_sagging_and_a_start_that_settles_are_no_steps() {
    for (size_hz, time_constant_s) in [(5000.0, 15.0), (2000.0, 120.0), (-20e3, 600.0)] {
        for seed in 1..=5 {
            let curve = move |t: f64| size_hz * (-t / time_constant_s).exp();
            let comparison = session(1800, 1, drifting(seed, curve));
            assert_eq!(
                comparison.steps.count(),
                0,
                "{size_hz} Hz in {time_constant_s} s: {:?}",
                comparison.steps
            );
        }
    }
}

#[test]
fn a_coarse_counter_that_counts_down_has_no_steps() {
    for digit_hz in [1.0, 10.0, 100.0] {
        let mut noise = Noise(5);
        let comparison = session(1800, 1, |t| {
            let hertz = F0_HZ - 0.8 * t + 2.0 * noise.unit();
            ((hertz / digit_hz).round() * digit_hz, 9.0)
        });
        assert_eq!(
            comparison.steps.count(),
            0,
            "{digit_hz} Hz: {:?}",
            comparison.steps
        );
    }
}

#[test]
fn a_constant_counter_steps_when_it_steps() {
    let comparison = session(600, 1, |t| (6.2e6 + hand(t + 600.0), 9.0));
    let steps = &comparison.steps.entries;
    assert_eq!(steps.len(), 1);
    assert!(
        (steps[0].at_s, steps[0].change_hz) == (300.0, -18e3),
        "{steps:?}"
    );
}

#[test]
fn a_step_of_the_battery_is_told_and_parts_no_level() {
    let mut quiet = drifting(5, |_| 0.0);
    let comparison = session(1800, 1, |t| {
        let (hertz, volts) = quiet(t);
        // A dropper of 0.4 V from 600 s to 1200 s, long enough for no excursion.
        let step_v = if (600.0..1200.0).contains(&t) {
            -0.4
        } else {
            0.0
        };
        (hertz + 12e3 * step_v, volts + step_v)
    });
    let steps = &comparison.steps.entries;
    assert_eq!(steps.len(), 2, "{steps:?}");
    assert!(steps.iter().all(|step| step.is_of_supply));
    assert!(
        (steps[0].battery_step_v.unwrap() + 0.4).abs() < 0.01,
        "{steps:?}"
    );
    assert_eq!(comparison.drift.levels, 1);
    // The same step with no step of the battery is a lamp, and parts three levels.
    let lamp = |t: f64| {
        if (600.0..1200.0).contains(&t) {
            -4800.0
        } else {
            0.0
        }
    };
    let lamp = session(1800, 1, drifting(5, lamp));
    assert!(lamp.steps.entries.iter().all(|step| !step.is_of_supply));
    assert_eq!((lamp.steps.count(), lamp.drift.levels), (2, 3));
}

#[test]
fn a_passing_hand_is_an_excursion_and_no_step() {
    let passing = |t: f64| {
        if (700.0..740.0).contains(&t) {
            -72e3
        } else {
            0.0
        }
    };
    let comparison = session(1800, 1, drifting(3, passing));
    assert_eq!(
        (comparison.excursions.count(), comparison.steps.count()),
        (1, 0)
    );
}

#[test]
fn more_steps_than_levels_still_give_a_drift_and_fill_no_memory() {
    // A lamp switched every three minutes for three hours.
    let lamp = |t: f64| {
        if (t / 180.0).rem_euclid(2.0) < 1.0 {
            0.0
        } else {
            -4800.0
        }
    };
    let comparison = session(10_800, 1, drifting(9, lamp));
    assert_eq!(comparison.steps.count(), 59);
    assert_eq!(comparison.drift.levels, 16);
    assert!(on_time(&comparison).slope.value.is_finite());
}
