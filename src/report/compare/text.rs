//! A comparison as text, short enough to be read at the bench.

use crate::analysis::compare::Comparison;
use crate::analysis::estimate::{Estimate, to_place_of};
use crate::analysis::level::{BandPlace, Deviation, Level, START_S};
use crate::analysis::multiple::Multiple;
use crate::analysis::stretches::Judged;
use crate::coil::Resonance;
use crate::coil::surroundings::EarthState;
use crate::reading::Channel;
use crate::units::{self, Unit};

use super::interruptions::{self, clock};
use super::{drift, events};

/// The comparison as lines of text, each estimate with its uncertainty and the assumption it rests on.
pub fn text(comparison: &Comparison) -> String {
    let mut lines = vec![record_line(comparison)];
    lines.extend(battery_line(comparison));
    lines.extend(frequency_lines(comparison));
    lines.extend(stretch_lines(comparison));
    lines.extend(drift::lines(comparison));
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

/// Writes a value computed from readings to the place of their spread. It has four digits where they never differed, since a
/// computed value has no last digit of its own.
pub(super) fn computed(value: f64, spread: f64, unit: Unit) -> String {
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

/// Returns the line for readings of other instruments of the same kind that the comparison passed over.
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
        lines.push(model_line(model));
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

/// The model with its route.
fn model_line(model: &Resonance) -> String {
    let hertz = |value| to_place_of(value, model.high_hz - model.low_hz, Unit::Hertz);
    format!(
        "model      {}, band {} to {}, {}",
        hertz(model.value_hz),
        hertz(model.low_hz),
        hertz(model.high_hz),
        model.route
    )
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
    let state = |one: &Judged| one.stretch.earth.map_or("not given", EarthState::name);
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
