//! A comparison as text, short enough to be read at the bench.

use crate::analysis::compare::{BandPlace, Comparison, Deviation, Level, START_S};
use crate::analysis::estimate::{Estimate, to_place_of};
use crate::analysis::multiple::Multiple;
use crate::analysis::stretches::Judged;
use crate::coil::Resonance;
use crate::coil::surroundings::EarthState;
use crate::reading::Channel;
use crate::units::{self, Unit};

use super::interruptions::{self, clock};
use super::{compare_drift, events};

/// The comparison as lines of text, each estimate with its uncertainty and the assumption it rests on.
pub fn text(comparison: &Comparison) -> String {
    let mut lines = vec![record_line(comparison)];
    lines.extend(battery_line(comparison));
    lines.extend(frequency_lines(comparison));
    lines.extend(stretch_lines(comparison));
    lines.extend(compare_drift::lines(comparison));
    lines.extend(interruptions::lines(
        &comparison.events,
        comparison.summary.end_s(),
    ));
    lines.push(excursion_line(comparison));
    lines.push(step_line(comparison));
    lines.extend(events::lines(comparison));
    lines.push(format!("paired     {}", comparison.pairing));
    lines.extend(passed_over_line(comparison));
    lines.join("\n") + "\n"
}

/// Writes what was computed from readings to the place of their spread; to four digits where they never differed, since a
/// computed value has no last digit of its own.
fn computed(value: f64, spread: f64, unit: Unit) -> String {
    if spread > 0.0 {
        to_place_of(value, spread, unit)
    } else {
        units::rounded(value, unit, 4)
    }
}

fn record_line(comparison: &Comparison) -> String {
    let summary = &comparison.summary;
    let sources: Vec<_> = summary
        .sources()
        .iter()
        .map(|source| {
            let statuses: Vec<_> = source
                .statuses()
                .map(|(status, rows)| format!("{rows} {status}"))
                .collect();
            format!("; {}: {}", source.source, statuses.join(", "))
        })
        .collect();
    format!(
        "record     {} rows in {}{}",
        summary.rows(),
        clock(summary.duration_s()),
        sources.concat()
    )
}

fn battery_line(comparison: &Comparison) -> Option<String> {
    let wanted = comparison.pairing.voltage_source.as_ref()?;
    let sources = comparison.summary.sources();
    let source = sources.iter().find(|source| source.source == *wanted)?;
    let battery = source
        .channels
        .iter()
        .find(|summary| summary.channel == Channel::BatteryV)?;
    let volts = |value| units::rounded(value, Unit::Volt, 3);
    Some(format!(
        "battery    {} at first, {} at last, lowest {}",
        volts(battery.first),
        volts(battery.last),
        volts(battery.min)
    ))
}

fn excursion_line(comparison: &Comparison) -> String {
    match comparison.excursions.count() {
        0 => "excursions none".to_owned(),
        count => format!(
            "excursions {count} brief, {} readings, left out of drift and pushing and of nothing else",
            comparison.left_out
        ),
    }
}

fn step_line(comparison: &Comparison) -> String {
    let steps = &comparison.steps;
    let of_supply = steps
        .entries
        .iter()
        .filter(|step| step.is_of_supply)
        .count();
    let supply = match of_supply {
        0 => String::new(),
        count => format!(", {count} of them as the battery stepped"),
    };
    let parted = match comparison.drift.levels {
        0 | 1 => "",
        _ => "; behind each other one drift and pushing have a constant of its own",
    };
    match steps.count() {
        0 => "steps      none".to_owned(),
        count => format!("steps      {count}{supply}{parted}"),
    }
}

/// What other instruments read of the same kind and the comparison passed over.
fn passed_over_line(comparison: &Comparison) -> Option<String> {
    let passed: Vec<_> = comparison
        .passed_over()
        .map(|(source, summary)| {
            let what = match summary.channel {
                Channel::FrequencyHz => "frequency",
                _ => "battery voltage",
            };
            format!("{what} of {source} ({} readings)", summary.readings)
        })
        .collect();
    (!passed.is_empty()).then(|| format!("           not analysed: {}", passed.join(", ")))
}

fn frequency_lines(comparison: &Comparison) -> Vec<String> {
    let (Some(start), Some(whole)) = (&comparison.start, &comparison.whole) else {
        return vec!["frequency  no good reading".to_owned()];
    };
    let spread_hz = whole.high_hz - whole.low_hz;
    let hertz = |value| to_place_of(value, spread_hz, Unit::Hertz);
    let mut lines = vec![start_line(start)];
    if let Some(model) = &comparison.model {
        lines.extend(model_lines(model));
        lines.push(deviation_line(start, model));
        lines.extend(multiple_line(start, model));
        let off = |frequency_hz| hertz(Deviation::of(frequency_hz, model).deviation_hz);
        let inside = inside_text(comparison.inside_share.unwrap_or(f64::NAN));
        lines.push(if comparison.stretches.len() > 1 {
            format!("           {inside} inside the band of the earth state at the time")
        } else {
            let (low, high) = (off(whole.low_hz), off(whole.high_hz));
            format!("           {low} to {high} over the whole, {inside} inside the band")
        });
    } else {
        lines.push("model      none: there is no build sheet to compare with".to_owned());
    }
    lines.push(format!(
        "whole      {} to {}, mean {} of {} readings",
        hertz(whole.low_hz),
        hertz(whole.high_hz),
        hertz(whole.mean_hz),
        whole.readings
    ));
    lines
}

/// A share of the readings, in words where it is all or none of them.
fn inside_text(share: f64) -> String {
    if share >= 1.0 {
        "all readings".to_owned()
    } else if share <= 0.0 {
        "no reading".to_owned()
    } else {
        format!(
            "{} of the readings",
            units::rounded(share, Unit::Percent, 3)
        )
    }
}

/// The model with its route; how the route goes, which its name has in brackets, on a line of its own.
fn model_lines(model: &Resonance) -> Vec<String> {
    let hertz = |value| to_place_of(value, model.high_hz - model.low_hz, Unit::Hertz);
    let (name, how) = model.route.split_once(" (").unwrap_or((&model.route, ""));
    let mut lines = vec![format!(
        "model      {}, band {} to {}, {name}",
        hertz(model.value_hz),
        hertz(model.low_hz),
        hertz(model.high_hz),
    )];
    if !how.is_empty() {
        lines.push(format!("           {}", how.trim_end_matches(')')));
    }
    lines
}

fn start_line(start: &Level) -> String {
    let over = format!(
        "first {}, {} readings",
        units::exact(START_S, Unit::Second),
        start.readings
    );
    if let (Some(half_width), Some(rho)) = (start.half_width_hz, start.rho) {
        let mean = Estimate {
            value: start.mean_hz,
            half_width,
        };
        let mean = mean.written(Unit::Hertz, "");
        return format!("start      {mean} ({over}; 95 %, AR(1) with ρ = {rho:.2})");
    }
    let hertz = |value| to_place_of(value, start.high_hz - start.low_hz, Unit::Hertz);
    format!(
        "start      {}, from {} to {} ({over}: too few for an interval)",
        hertz(start.mean_hz),
        hertz(start.low_hz),
        hertz(start.high_hz)
    )
}

fn deviation_line(start: &Level, model: &Resonance) -> String {
    let (off, place) = deviation_words(start, model);
    format!("deviation  {off} at the start, {place}")
}

/// How far a level is from a model with its interval, and where it lies against the band.
fn deviation_words(start: &Level, model: &Resonance) -> (String, &'static str) {
    let deviation = Deviation::of(start.mean_hz, model);
    let place = match deviation.place {
        BandPlace::Below => "below the band",
        BandPlace::Inside => "inside the band",
        BandPlace::Above => "above the band",
    };
    let (absolute, relative) = if let Some(half_width) = start.half_width_hz {
        let off = Estimate {
            value: deviation.deviation_hz,
            half_width,
        };
        let share = off.scaled(1.0 / model.value_hz);
        (
            off.written(Unit::Hertz, ""),
            share.written(Unit::Percent, ""),
        )
    } else {
        let spread_hz = start.high_hz - start.low_hz;
        (
            computed(deviation.deviation_hz, spread_hz, Unit::Hertz),
            computed(deviation.ratio, spread_hz / model.value_hz, Unit::Percent),
        )
    };
    (format!("{absolute} ({relative})"), place)
}

/// Each stretch in its own earth state, where the state changed.
fn stretch_lines(comparison: &Comparison) -> Vec<String> {
    let stretches = &comparison.stretches;
    if stretches.len() < 2 {
        return Vec::new();
    }
    let state = |one: &Judged| one.stretch.earth.map_or("not told", EarthState::name);
    let begin = |one: &Judged| clock(one.stretch.from_s.max(0.0));
    let mut lines = Vec::new();
    for (index, one) in stretches.iter().enumerate() {
        let name = if index == 0 { "stretches" } else { "" };
        let against = one
            .stretch
            .model
            .as_ref()
            .map_or_else(String::new, |model| {
                let hertz = |value| to_place_of(value, model.high_hz - model.low_hz, Unit::Hertz);
                let (value, low, high) = (model.value_hz, model.low_hz, model.high_hz);
                let band = format!("{} to {}", hertz(low), hertz(high));
                format!(": model {}, band {band}", hertz(value))
            });
        lines.push(format!(
            "{name:10} {} from {}{against}",
            state(one),
            begin(one)
        ));
        lines.push(match (one.start, &one.stretch.model) {
            (Some(start), Some(model)) => {
                let (off, place) = deviation_words(&start, model);
                let inside = inside_text(one.inside_share.unwrap_or(f64::NAN));
                let readings = one.whole.map_or(0, |whole| whole.readings);
                format!("             {off} at its start, {place}; {inside} of {readings} inside")
            }
            (Some(start), None) => {
                let mean = units::rounded(start.mean_hz, Unit::Hertz, 6);
                format!("             {mean} at its start")
            }
            (None, _) => "             no good reading".to_owned(),
        });
    }
    if let Some(longest) = stretches.get(comparison.longest) {
        let (state, begin) = (state(longest), begin(longest));
        lines.push(format!(
            "           drift and pushing below are those of the longest, {state} from {begin}"
        ));
    }
    lines
}

/// A reading that looks like a multiple says nothing against the model.
fn multiple_line(start: &Level, model: &Resonance) -> Option<String> {
    let multiple = Multiple::of(start.mean_hz, model)?;
    Some(format!(
        "           looks like a harmonic (or a gate setting): {:.2} times the model, inside its band times {}",
        start.mean_hz / model.value_hz,
        multiple.factor()
    ))
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::analysis::compare::Compare;
    use crate::analysis::pairing::Pairing;
    use crate::reading::{Readings, Row, Stamp, Status};

    fn row(source: &str, at_ms: i32, values: &[(Channel, f64)], status: Status) -> Row {
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
            note: String::new(),
        }
    }

    pub(in super::super) fn model(low_hz: f64, high_hz: f64) -> Resonance {
        Resonance {
            value_hz: f64::midpoint(low_hz, high_hz),
            low_hz,
            high_hz,
            route: "invented".to_owned(),
        }
    }

    /// Invented scatter of ±1 with little correlation between neighbours.
    fn scatter(i: i32) -> f64 {
        f64::from(i * 7919 % 1009) / 504.0 - 1.0
    }

    /// Invented: four rows a second, -0.5 Hz/s and 12 kHz/V about 6 MHz at 8 V, ±5 Hz of scatter, the battery as `volts` says.
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
    pub(in super::super) fn switched() -> Comparison {
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
            note: "unplugged".to_owned(),
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
        model      6.000 MHz, band 5.980 MHz to 6.020 MHz, invented
        deviation  -2.5 Hz ± 1.4 Hz (-0.000041 % ± 0.000024 %) at the start, inside the band
                   -17 kHz to 0 Hz over the whole, all readings inside the band
        whole      5.983 MHz to 6.000 MHz, mean 5.997 MHz of 2401 readings
        drift      -1.80005 kHz/h ± 530 mHz/h (-300.1 ppm/h), at constant battery voltage
        pushing    11.99993 kHz/V ± 120 mHz/V (2000.8 ppm/V), at constant time
                   told apart in one fit, variance inflation 1.1
                   95 %, taking residuals as AR(1) of means over 16 s, ρ = -0.27
                   2401 readings, worth so many independent ones: 39.0
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
        model      5.50 MHz, band 5.20 MHz to 5.80 MHz, invented
        deviation  511.88 kHz (9.3069 %) at the start, above the band
                   497 kHz to 512 kHz over the whole, no reading inside the band
        whole      5.997 MHz to 6.012 MHz, mean 6.005 MHz of 2400 readings
        drift      -88.1999 kHz/h ± 3.5 Hz/h (-14688.6 ppm/h), as if it alone were at work
        pushing    12.249995 kHz/V ± 70 mHz/V (2040.1 ppm/V), as if it alone were at work
                   95 %, taking residuals as AR(1) of means over 16 s, ρ = -0.04 for drift, -0.26 for pushing
                   2400 readings, worth so many independent ones: 38.0 for drift, 38.0 for pushing
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
    pub(in super::super) fn disturbed() -> Comparison {
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
        drift      -1.79960 kHz/h ± 690 mHz/h (-300.1 ppm/h), as if it alone were at work
        pushing    no number: no battery voltage was read beside a frequency
                   95 %, taking residuals as AR(1) of means over 16 s, ρ = -0.66 for drift
                   860 readings, worth so many independent ones: 55.0 for drift
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
}
