//! What happened in a session, in the order of time: a short table for people, all of it for programs.

use serde_json::{Value, json};

use super::interruptions::{clock, seconds};
use crate::analysis::compare::Comparison;
use crate::analysis::timeline::{Happening, not_listed, timeline};
use crate::reading::Channel;
use crate::units::{self, Unit};

/// Lines of the table at the most; the rest is counted.
const SHOWN: usize = 20;
/// Columns of a terminal; what a line says is cut there.
const WIDTH: usize = 98;

/// The table, one line each: when, what, on which rows it rests, how much.
pub(super) fn lines(comparison: &Comparison) -> Vec<String> {
    let all = timeline(comparison);
    let count = all.len() + not_listed(comparison);
    if count == 0 {
        return vec!["events     none".to_owned()];
    }
    let mut lines = vec![format!("events     {count}, in the order of time")];
    lines.extend(all.iter().take(SHOWN).map(line));
    if count > SHOWN {
        lines.push(format!(
            "           and {} more, in --format json",
            count - all.len().min(SHOWN)
        ));
    }
    lines
}

fn line(happening: &Happening<'_>) -> String {
    let rows = match happening.rows() {
        Some((first, last)) if first == last => format!("row {first}"),
        Some((first, last)) => format!("rows {first}-{last}"),
        None => "no row".to_owned(),
    };
    let at = clock(happening.from_s());
    let line = format!(
        "           {at} {:<9}  {rows:<14}  {}",
        word(happening),
        told(happening)
    );
    if line.chars().count() <= WIDTH {
        return line;
    }
    let cut: String = line.chars().take(WIDTH - 1).collect();
    cut + "…"
}

const fn word(happening: &Happening<'_>) -> &'static str {
    match happening {
        Happening::Stop(_) => "stop",
        Happening::Restart(..) => "restart",
        Happening::Gap(_) => "gap",
        Happening::Step(_) => "step",
        Happening::Excursion(_) => "excursion",
        Happening::Lone(_) => "alone",
        Happening::Doubt(doubt) => doubt.status.word(),
        Happening::Mark(_) => "mark",
    }
}

fn told(happening: &Happening<'_>) -> String {
    match happening {
        Happening::Stop(stop) => {
            let flickers = match stop.flickers {
                0 => String::new(),
                1 => ", ran for a moment in between".to_owned(),
                count => format!(", ran for a moment {count} times"),
            };
            let battery = battery(stop.battery_from_v);
            format!("{}{battery}{flickers}", length(stop.from_s, stop.to_s))
        }
        Happening::Restart(stop, ..) => match stop.battery_to_v {
            Some(volts) => format!("battery {}", units::rounded(volts, Unit::Volt, 3)),
            None => String::new(),
        },
        Happening::Gap(outage) => {
            let reason = match outage.reason.as_str() {
                "" => String::new(),
                reason => format!(" ({reason})"),
            };
            format!(
                "{}, {}: {}{reason}",
                length(outage.from_s, outage.to_s),
                outage.source,
                outage.status
            )
        }
        Happening::Step(step) => {
            let supply = match step.battery_step_v {
                Some(volts) if step.is_of_supply => {
                    format!(", battery {}", units::rounded(volts, Unit::Volt, 2))
                }
                _ => String::new(),
            };
            format!("{}{supply}", change(step.change_hz, step.ratio))
        }
        Happening::Excursion(excursion) => format!(
            "{}, {}",
            length(excursion.from_s, Some(excursion.to_s)),
            change(excursion.deviation_hz, excursion.ratio)
        ),
        Happening::Lone(lone) => {
            let (name, digits) = match lone.channel {
                Channel::FrequencyHz => ("frequency", 6),
                _ => ("battery", 3),
            };
            let unit = lone.channel.unit();
            let value = |value| units::rounded(value, unit, digits);
            format!(
                "{name} {} where {} is usual",
                value(lone.value),
                value(lone.usual)
            )
        }
        Happening::Doubt(doubt) => {
            let count = match doubt.readings {
                1 => String::new(),
                count => format!(" and on, {count} rows"),
            };
            format!(
                "{}, {}: {}{count}",
                doubt.source,
                doubt.channel.column(),
                doubt.why
            )
        }
        Happening::Mark(mark) => mark.text.clone(),
    }
}

fn length(from_s: f64, to_s: Option<f64>) -> String {
    to_s.map_or_else(
        || "until the end".to_owned(),
        |to_s| format!("for {}", seconds(to_s - from_s)),
    )
}

fn battery(volts: Option<f64>) -> String {
    volts.map_or_else(String::new, |volts| {
        format!(", battery {}", units::rounded(volts, Unit::Volt, 3))
    })
}

fn change(hertz: f64, ratio: f64) -> String {
    format!(
        "{} ({})",
        units::rounded(hertz, Unit::Hertz, 3),
        units::rounded(ratio, Unit::Percent, 2)
    )
}

/// All of it as a JSON list.
pub(super) fn json(comparison: &Comparison) -> Vec<Value> {
    timeline(comparison).iter().map(object).collect()
}

fn object(happening: &Happening<'_>) -> Value {
    let rows = happening.rows();
    let mut value = json!({
        "kind": word(happening),
        "source": happening.source().map(|source| &**source),
        "from_s": happening.from_s(),
        "to_s": happening.to_s(),
        "first_row": rows.map(|rows| rows.0),
        "last_row": rows.map(|rows| rows.1),
    });
    let size = match happening {
        Happening::Stop(stop) => json!({
            "battery_v": stop.battery_from_v,
            "flickers": stop.flickers,
        }),
        Happening::Restart(stop, ..) => json!({ "battery_v": stop.battery_to_v }),
        Happening::Gap(outage) => json!({
            "status": outage.status.word(),
            "reason": outage.reason,
        }),
        Happening::Step(step) => json!({
            "change_hz": step.change_hz,
            "half_width_hz": step.half_width_hz,
            "change_ratio": step.ratio,
            "battery_step_v": step.battery_step_v,
            "is_of_supply": step.is_of_supply,
        }),
        Happening::Excursion(excursion) => json!({
            "change_hz": excursion.deviation_hz,
            "change_ratio": excursion.ratio,
            "readings": excursion.readings,
        }),
        Happening::Lone(lone) => json!({
            "channel": lone.channel.column(),
            "value": lone.value,
            "usual": lone.usual,
            "readings": lone.readings,
        }),
        Happening::Doubt(doubt) => json!({
            "channel": doubt.channel.column(),
            "reason": doubt.why,
            "readings": doubt.readings,
        }),
        Happening::Mark(mark) => json!({ "text": mark.text }),
    };
    if let (Some(value), Value::Object(size)) = (value.as_object_mut(), size) {
        value.extend(size);
    }
    value
}
