use super::text;
use super::text::computed;
use crate::analysis::compare::{Compare, Comparison};
use crate::analysis::pairing::Pairing;
use crate::coil::{Resonance, Route};
use crate::reading::{Channel, Note, Readings, Row, Stamp, Status};
use crate::units::Unit;

pub(super) fn row(source: &str, at_ms: i32, values: &[(Channel, f64)], status: Status) -> Row {
    let mut readings = Readings::default();
    for &(channel, value) in values {
        readings.set(channel, value);
    }
    Row {
        stamp: Stamp {
            elapsed_us: i64::from(at_ms) * 1000,
            wall_ms: 0,
        },
        source: source.into(),
        readings,
        status,
        note: Note::default(),
    }
}

pub(super) fn model(low_hz: f64, high_hz: f64) -> Resonance {
    Resonance {
        value_hz: f64::midpoint(low_hz, high_hz),
        low_hz,
        high_hz,
        route: Route::Measured,
    }
}

/// Invented scatter of ±1 with little correlation between neighbours.
fn scatter(i: i32) -> f64 {
    f64::from(i * 7919 % 1009) / 504.0 - 1.0
}

/// Invented: four rows per second, -0.5 Hz/s and 12 kHz/V about 6 MHz at 8 V, ±5 Hz of scatter, the battery as `volts` says.
fn session(rows: i32, model: Option<Resonance>, volts: impl Fn(i32) -> f64) -> Compare {
    let mut compare = Compare::new(model, Pairing::new());
    for i in 0..rows {
        let hertz = 6e6 - 0.125 * f64::from(i) + 12e3 * (volts(i) - 8.0) + 5.0 * scatter(i);
        let values = [(Channel::FrequencyHz, hertz), (Channel::BatteryV, volts(i))];
        compare.push(&[row("scope", 250 * i, &values, Status::Ok)]);
    }
    compare
}

/// Invented: a resistor switched in and out, then a stop of five seconds and a line that is lost for good.
pub(super) fn switched() -> Comparison {
    let dropper = |i: i32| 8.0 - f64::from(i / 200 % 2) * 0.4;
    let mut compare = session(2400, Some(model(5.98e6, 6.02e6)), dropper);
    let battery = [(Channel::BatteryV, 6.5)];
    compare.push(&[row("scope", 600_000, &battery, Status::NoSignal)]);
    // -0.5 Hz/s for 605 s and 12 kHz/V for -1.4 V, as before the stop.
    let values = [
        (Channel::FrequencyHz, 5.9828975e6),
        (Channel::BatteryV, 6.6),
    ];
    compare.push(&[row("scope", 605_000, &values, Status::Ok)]);
    let lost = Row {
        note: Note::read("unplugged"),
        ..row("scope", 606_000, &[], Status::Gap)
    };
    compare.push(&[lost]);
    compare.report()
}

#[test]
fn a_computed_value_has_four_digits_where_the_readings_never_differed() {
    assert_eq!(computed(18_774.921_448, 0.0, Unit::Hertz), "18.77 kHz");
    assert_eq!(computed(18_774.921_448, 120.0, Unit::Hertz), "18.77 kHz");
    assert_eq!(computed(18_774.921_448, 1.2, Unit::Hertz), "18.7749 kHz");
}

#[test]
fn a_record_that_tells_time_from_voltage_gives_both() {
    insta::assert_snapshot!(text(&switched()), @"
    record     2403 rows in 0:10:06.0; scope: 1 gap, 1 no-signal, 2401 ok
    battery    8.00 V at first, 6.60 V at last, lowest 6.50 V
    start      5.9999975 MHz ± 1.4 Hz (first 10 s, 41 readings; 95 %, AR(1) with ρ = 0.32)
    model      6.000 MHz, band 5.980 MHz to 6.020 MHz, measured
    deviation  -2.5 Hz ± 1.4 Hz (-0.000041 % ± 0.000024 %) at the start, inside the band
               -17 kHz to 0 Hz over the whole, all readings inside the band
    whole      5.983 MHz to 6.000 MHz, mean 5.997 MHz of 2401 readings
    drift      -1.80005 kHz/h ± 530 mHz/h (-300.1 ppm/h), at constant battery voltage
    pushing    11.99993 kHz/V ± 120 mHz/V (2000.8 ppm/V), at constant time
               told apart in one fit, variance inflation 1.1
               95 %, taking residuals as AR(1) of means over 16 s, ρ = -0.27
               2401 readings, effectively independent: 39.0
    stops      1, started again 1
    gaps       1, 0.00 s in all
    excursions none
    steps      11, 11 of them as the battery stepped
    events     14, in the order of time
               0:00:50.0 step       rows 200-201    -4.80 kHz (-0.080 %), battery -400 mV
               0:01:40.0 step       rows 400-401    4.80 kHz (0.080 %), battery 400 mV
               0:02:30.0 step       rows 600-601    -4.80 kHz (-0.080 %), battery -400 mV
               0:03:20.0 step       rows 800-801    4.80 kHz (0.080 %), battery 400 mV
               0:04:10.0 step       rows 1000-1001  -4.80 kHz (-0.080 %), battery -400 mV
               0:05:00.0 step       rows 1200-1201  4.80 kHz (0.080 %), battery 400 mV
               0:05:50.0 step       rows 1400-1401  -4.80 kHz (-0.080 %), battery -400 mV
               0:06:40.0 step       rows 1600-1601  4.80 kHz (0.080 %), battery 400 mV
               0:07:30.0 step       rows 1800-1801  -4.80 kHz (-0.080 %), battery -400 mV
               0:08:20.0 step       rows 2000-2001  4.80 kHz (0.080 %), battery 400 mV
               0:09:10.0 step       rows 2200-2201  -4.80 kHz (-0.080 %), battery -400 mV
               0:10:00.0 stop       row 2401        for 5.00 s, battery 7.60 V
               0:10:05.0 restart    row 2402        battery 6.60 V
               0:10:06.0 gap        row 2403        until the end, scope: gap (unplugged)
    paired     frequency and battery voltage of scope, read together
    ");
}

#[test]
fn a_steady_fall_says_that_the_two_cannot_be_told_apart() {
    let fall = |i: i32| 9.0 - 0.0005 * f64::from(i) + 0.001 * scatter(3 * i);
    let compare = session(2400, Some(model(5.2e6, 5.8e6)), fall);
    insta::assert_snapshot!(text(&compare.report()), @r"
    record     2400 rows in 0:09:59.8; scope: 2400 ok
    battery    9.00 V at first, 7.80 V at last, lowest 7.80 V
    start      6.01188 MHz, from 6.01175 MHz to 6.01200 MHz (first 10 s, 41 readings: too few for an interval)
    model      5.50 MHz, band 5.20 MHz to 5.80 MHz, measured
    deviation  511.88 kHz (9.3069 %) at the start, above the band
               497 kHz to 512 kHz over the whole, no reading inside the band
    whole      5.997 MHz to 6.012 MHz, mean 6.005 MHz of 2400 readings
    drift      -88.1999 kHz/h ± 3.5 Hz/h (-14688.6 ppm/h), if nothing else changed
    pushing    12.249995 kHz/V ± 70 mHz/V (2040.1 ppm/V), if nothing else changed
               95 %, taking residuals as AR(1) of means over 16 s, ρ = -0.04 for drift, -0.26 for pushing
               2400 readings, effectively independent: 38.0 for drift, 38.0 for pushing
               time and voltage went together and cannot be told apart: variance inflation over 1000000, limit 10
               to tell them apart, switch a resistor at the battery in and out during a run
    stops      none
    gaps       none
    excursions none
    steps      none
    events     none
    paired     frequency and battery voltage of scope, read together
    ");
}

#[test]
fn a_reading_at_thrice_the_model_looks_like_a_harmonic() {
    let compare = session(60, Some(model(1.95e6, 2.05e6)), |_| 8.0);
    let text = text(&compare.report());
    let told = text
        .split('\n')
        .skip_while(|line| !line.starts_with("deviation"));
    insta::assert_snapshot!(told.take(2).collect::<Vec<_>>().join("\n"), @"
    deviation  3.9999975 MHz ± 1.4 Hz (199.999877 % ± 0.000071 %) at the start, above the band
               looks like a harmonic (or a gate setting): 3.00 times the model, inside its band times 3
    ");
}

#[test]
fn a_short_record_without_a_sheet_gives_no_slopes() {
    let compare = session(6, None, |_| 9.0);
    insta::assert_snapshot!(text(&compare.report()), @r"
    record     6 rows in 0:00:01.3; scope: 6 ok
    battery    9.00 V at first, 9.00 V at last, lowest 9.00 V
    start      6.0119992 MHz, from 6.0119950 MHz to 6.0120034 MHz (first 10 s, 6 readings: too few for an interval)
    model      none: there is no build sheet to compare with
    whole      6.0119950 MHz to 6.0120034 MHz, mean 6.0119992 MHz of 6 readings
    drift      no number: 6 readings, at least 10 are needed
    pushing    no number: 6 readings, at least 10 are needed
    stops      none
    gaps       none
    excursions none
    steps      none
    events     none
    paired     frequency and battery voltage of scope, read together
    ");
}

/// Invented: a hand near the coil for 40 s, and a second counter that reads its own frequency.
pub(super) fn disturbed() -> Comparison {
    let mut compare = Compare::new(None, Pairing::new());
    for i in 0..900 {
        let hand_hz = if (400..440).contains(&i) { -72e3 } else { 0.0 };
        let hertz = 6e6 - 0.5 * f64::from(i) + 5.0 * scatter(i) + hand_hz;
        let values = [(Channel::FrequencyHz, hertz)];
        compare.push(&[row("counter", 1000 * i, &values, Status::Ok)]);
        if i % 3 == 0 {
            let values = [(Channel::FrequencyHz, 7e6)];
            compare.push(&[row("other", 1000 * i + 1, &values, Status::Ok)]);
        }
    }
    compare.report()
}

#[test]
fn a_passing_hand_and_a_second_counter_are_named_and_left_out() {
    insta::assert_snapshot!(text(&disturbed()), @r"
    record     1200 rows in 0:14:59.0; counter: 900 ok; other: 300 ok
    start      5.999998 MHz, from 5.999993 MHz to 6.000003 MHz (first 10 s, 11 readings: too few for an interval)
    model      none: there is no build sheet to compare with
    whole      5.928 MHz to 6.000 MHz, mean 5.997 MHz of 900 readings
    drift      -1.79960 kHz/h ± 690 mHz/h (-300.1 ppm/h), if nothing else changed
    pushing    no number: no battery voltage was read beside a frequency
               95 %, taking residuals as AR(1) of means over 16 s, ρ = -0.66 for drift
               860 readings, effectively independent: 55.0 for drift
    stops      none
    gaps       none
    excursions 1 brief, 40 readings, left out of drift and pushing and of nothing else
    steps      none
    events     1, in the order of time
               0:06:40.0 excursion  rows 535-587    for 39.0 s, -72.0 kHz (-1.2 %)
    paired     frequency of counter; no battery voltage was read
               not analysed: frequency of other (300 readings)
    ");
}

#[test]
fn an_empty_record_says_so() {
    insta::assert_snapshot!(text(&Compare::default().report()), @r"
    record     0 rows in 0:00:00.0
    frequency  no good reading
    drift      no number: no frequency was read
    pushing    no number: no battery voltage was read beside a frequency
    stops      none
    gaps       none
    excursions none
    steps      none
    events     none
    paired     no frequency was read
    ");
}
