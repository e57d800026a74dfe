//! Hands, lamps and steps in made-up sessions whose truth is known: what is an excursion, what is none, and what the fits
//! make of it.

use sagtrace::analysis::compare::{Compare, Comparison};
use sagtrace::analysis::drift::{Fitted, Slope};
use sagtrace::analysis::pairing::Pairing;
use sagtrace::reading::{Channel, Note, Readings, Row, Stamp, Status};

use crate::noise::Noise;

const DRIFT_HZ_PER_S: f64 = -1.5;
const F0_HZ: f64 = 6e6;

/// A session of half an hour with a number of rows per second; `world` gives frequency and battery voltage of a second.
fn session(rate: i32, mut world: impl FnMut(f64) -> (f64, f64)) -> Comparison {
    let mut compare = Compare::new(None, Pairing::new());
    for i in 0..1800 * rate {
        let elapsed_us = i64::from(i) * i64::from(1_000_000 / rate);
        let (hertz, volts) = world(elapsed_us as f64 / 1e6);
        let mut readings = Readings::default();
        readings.set(Channel::FrequencyHz, hertz);
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

/// A hand that comes and goes as a raised cosine, -1.2 % at its nearest.
fn hand(from_s: f64, length_s: f64) -> impl Fn(f64) -> f64 {
    move |t| {
        let turn = (t - from_s) / length_s;
        let is_there = (0.0..1.0).contains(&turn);
        let depth = 0.5 - 0.5 * (turn * std::f64::consts::TAU).cos();
        if is_there {
            -0.012 * F0_HZ * depth
        } else {
            0.0
        }
    }
}

fn on_time(comparison: &Comparison) -> Fitted {
    match comparison.drift.on_time {
        Slope::Fitted(fit) => fit,
        other => panic!("no drift: {other:?}"),
    }
}

#[test]
fn hands_of_20_and_90_seconds_are_found_at_one_and_ten_rows_a_second() {
    for rate in [1, 10] {
        for length_s in [20.0, 90.0] {
            let comparison = session(rate, drifting(1, hand(700.0, length_s)));
            let [found] = comparison.excursions.entries.as_slice() else {
                panic!("{rate}/s, {length_s} s: {:?}", comparison.excursions);
            };
            // The first and last moments of a cosine lie within the noise.
            assert!((found.from_s - 700.0).abs() < 3.0, "{found:?}");
            assert!((found.to_s - 700.0 - length_s).abs() < 3.0, "{found:?}");
            assert!((found.ratio + 0.012).abs() < 3e-4, "{found:?}");
            assert!(
                (found.range_hz.low - 0.988 * F0_HZ).abs() < 1500.0,
                "{found:?}"
            );
            assert_eq!(found.readings, comparison.left_out);
            let left_in = on_time(&comparison).readings;
            assert_eq!(
                left_in + found.readings,
                usize::try_from(1800 * rate).unwrap()
            );
        }
    }
}

#[test]
fn the_drift_is_recovered_with_and_without_a_hand() {
    for seed in 1..=5 {
        let without = on_time(&session(1, drifting(seed, |_| 0.0)));
        let with = on_time(&session(1, drifting(seed, hand(300.0, 48.0))));
        for fit in [without, with] {
            let off = (fit.slope.value - DRIFT_HZ_PER_S).abs();
            assert!(off < 1.5 * fit.slope.half_width, "{fit:?}");
            // White noise of 10 Hz on 1800 s: a standard error of 10 √12 / 1800^1.5 = 0.00045 Hz/s.
            assert!(fit.slope.half_width < 0.003, "{fit:?}");
        }
    }
}

#[test]
fn white_correlated_and_wandering_noise_hold_no_excursions() {
    let quiet = |rho: f64, size_hz: f64, rate: i32| {
        let is_quiet = |seed: &u64| {
            let (mut noise, mut off) = (Noise(1000 + 77 * seed), 0.0);
            let comparison = session(rate, |t| {
                off = rho * off + size_hz * noise.unit();
                (F0_HZ + DRIFT_HZ_PER_S * t + off, 9.0)
            });
            comparison.excursions.count() == 0
        };
        (0..20).filter(is_quiet).count()
    };
    for (rho, size_hz) in [(0.0, 10.0), (0.9, 10.0), (1.0, 10.0), (1.0, 300.0)] {
        for rate in [1, 4] {
            let quiet = quiet(rho, size_hz, rate);
            assert!(
                quiet >= 19,
                "ρ = {rho}, {size_hz} Hz, {rate}/s: {quiet} of 20"
            );
        }
    }
}

#[test]
fn a_step_that_stays_is_no_excursion() {
    for at_s in [20.0, 900.0, 1770.0] {
        let step = move |t: f64| if t < at_s { 0.0 } else { -40e3 };
        let comparison = session(1, drifting(3, step));
        assert_eq!(
            comparison.excursions.count(),
            0,
            "{at_s} s: {:?}",
            comparison.excursions
        );
    }
}

#[test]
fn a_start_that_settles_is_no_excursion() {
    let comparison = session(1, drifting(4, |t| 5000.0 * (-t / 15.0).exp()));
    assert_eq!(
        comparison.excursions.count(),
        0,
        "{:?}",
        comparison.excursions
    );
}

#[test]
fn a_dropper_switched_in_for_a_minute_is_kept_for_the_pushing() {
    let is_in = |t: f64| (800.0..860.0).contains(&t);
    let mut quiet = drifting(5, |_| 0.0);
    let comparison = session(1, |t| {
        let (hertz, volts) = quiet(t);
        let step_v = if is_in(t) { -0.4 } else { 0.0 };
        (hertz + 12e3 * step_v, volts + step_v)
    });
    assert_eq!(
        comparison.excursions.count(),
        0,
        "{:?}",
        comparison.excursions
    );
    // The same step of the frequency with no step of the battery is a lamp.
    let lamp = session(
        1,
        drifting(5, move |t| if is_in(t) { -4800.0 } else { 0.0 }),
    );
    let [found] = lamp.excursions.entries.as_slice() else {
        panic!("{:?}", lamp.excursions);
    };
    assert_eq!(
        (found.from_s, found.to_s, found.readings),
        (800.0, 859.0, 60)
    );
}

#[test]
fn slow_readings_reach_as_far_as_they_need() {
    // One reading a minute; a hand is seen in one of them.
    let mut compare = Compare::new(None, Pairing::new());
    let mut noise = Noise(6);
    for i in 0..120_i32 {
        let off_hz = if i == 60 { 50e3 } else { 0.0 };
        let mut readings = Readings::default();
        readings.set(
            Channel::FrequencyHz,
            F0_HZ - f64::from(i) + 10.0 * noise.unit() + off_hz,
        );
        compare.push(&[Row {
            stamp: Stamp {
                elapsed_us: i64::from(i) * 60_000_000,
                wall_ms: 0,
            },
            source: "counter".into(),
            readings,
            status: Status::Ok,
            note: Note::default(),
        }]);
    }
    let excursions = compare.report().excursions;
    assert_eq!(excursions.count(), 1);
    assert_eq!(
        (excursions.entries[0].from_s, excursions.entries[0].readings),
        (3600.0, 1)
    );
}

#[test]
fn a_hand_that_is_still_there_at_the_end_is_not_yet_an_excursion() {
    let mut world = drifting(7, hand(1770.0, 60.0));
    assert_eq!(session(1, &mut world).excursions.count(), 0);
}
