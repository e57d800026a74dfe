//! The events of a session, in the order of time: a short table for people, all of it for programs.
//!
//! Where there is more than the table holds, it is cut by weight and never by time.

use serde::Serialize;

use super::interruptions::{clock, seconds};
use crate::analysis::compare::Comparison;
use crate::analysis::timeline::{Happening, not_listed, timeline};
use crate::reading::Channel;
use crate::report::form::part;
use crate::units::{self, Unit};

/// Lines of the table at the most, those that weigh most; the rest is counted.
const SHOWN: usize = 20;
/// Columns of a terminal; the words of a line are cut there.
const WIDTH: usize = 98;

/// Returns the table, one line per event: when, what, its rows, how much.
pub(super) fn lines(comparison: &Comparison) -> Vec<String> {
    let all = timeline(comparison);
    let count = all.len() + not_listed(comparison);
    if count == 0 {
        return vec!["events     none".to_owned()];
    }
    let shown = weightiest(&all);
    if shown.len() == count {
        let mut lines = vec![format!("events     {count}, in the order of time")];
        lines.extend(all.iter().map(line));
        return lines;
    }
    let mut lines = vec![format!(
        "events     {count}; those that weigh most of each kind, in the order of time"
    )];
    lines.extend(shown.iter().filter_map(|index| all.get(*index)).map(line));
    lines.push(format!(
        "           and {} more, in --format json{}",
        count - shown.len(),
        left_out(&all, &shown)
    ));
    lines
}

/// Returns the numbers of those that are shown, in the order of time. The table takes the heaviest of each kind, then the next of
/// each, until it is full. No kind hides another, however often it happens.
fn weightiest(all: &[Happening<'_>]) -> Vec<usize> {
    let mut kinds: Vec<(&str, Vec<usize>)> = Vec::new();
    for (index, happening) in all.iter().enumerate() {
        let kind = word(happening);
        match kinds.iter_mut().find(|(known, _)| *known == kind) {
            Some((_, of_kind)) => of_kind.push(index),
            None => kinds.push((kind, vec![index])),
        }
    }
    let weight_of = |index: &usize| all.get(*index).map_or(0.0, weight);
    for (_, of_kind) in &mut kinds {
        // Stable: of equal ones the first stays first.
        of_kind.sort_by(|one, other| weight_of(other).total_cmp(&weight_of(one)));
    }
    let longest = kinds.iter().map(|(_, of_kind)| of_kind.len()).max();
    let in_turn = (0..longest.unwrap_or(0)).flat_map(|turn| {
        kinds
            .iter()
            .filter_map(move |(_, of_kind)| of_kind.get(turn))
    });
    let mut shown: Vec<usize> = in_turn.copied().take(SHOWN).collect();
    shown.sort_unstable();
    shown
}

/// How much one weighs among those of its kind: the time it took, how far it went, the readings it spoilt.
fn weight(happening: &Happening<'_>) -> f64 {
    // To the millisecond: of two equally long, neither weighs more by its last bit.
    let length_s = |from_s: f64, to_s: Option<f64>| {
        to_s.map_or(f64::INFINITY, |to_s| ((to_s - from_s) * 1e3).round() / 1e3)
    };
    match happening {
        Happening::Stop(stop) | Happening::Restart(stop, ..) => length_s(stop.from_s, stop.to_s),
        Happening::Gap(outage) => length_s(outage.from_s, outage.to_s),
        Happening::Step(step) => step.ratio.abs(),
        Happening::Excursion(excursion) => excursion.ratio.abs(),
        Happening::Lone(lone) => ((lone.value - lone.usual) / lone.usual).abs(),
        Happening::Doubt(doubt) => doubt.readings as f64,
        Happening::Clock(_) | Happening::Mark(_) => 0.0,
    }
}

/// `: 3009 gap, 4 mark`, of those that are listed but not shown.
fn left_out(all: &[Happening<'_>], shown: &[usize]) -> String {
    let mut kinds: Vec<(&str, usize)> = Vec::new();
    for (index, happening) in all.iter().enumerate() {
        if shown.binary_search(&index).is_ok() {
            continue;
        }
        let kind = word(happening);
        match kinds.iter_mut().find(|(known, _)| *known == kind) {
            Some((_, count)) => *count += 1,
            None => kinds.push((kind, 1)),
        }
    }
    let kinds: Vec<String> = kinds
        .iter()
        .map(|(kind, count)| format!("{count} {kind}"))
        .collect();
    if kinds.is_empty() {
        String::new()
    } else {
        format!(": {}", kinds.join(", "))
    }
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
        Happening::Clock(_) => "clock",
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
        Happening::Clock(step) => step.what.clone(),
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

/// All of it for other programs.
pub(super) fn parts(comparison: &Comparison) -> Vec<EventPart<'_>> {
    timeline(comparison).iter().map(EventPart::new).collect()
}

part! {
    pub(super) struct EventPart<'a>(happening: &Happening<'a>) with {
        let rows = happening.rows();
    } {
        kind: &'static str = word(happening),
        source: Option<&'a str> = happening.source().map(|source| &**source),
        from_s: f64 = happening.from_s(),
        to_s: Option<f64> = happening.to_s(),
        first_row: Option<u64> = rows.map(|rows| rows.0),
        last_row: Option<u64> = rows.map(|rows| rows.1),
        #[serde(flatten)]
        size: Size<'a> = size(happening),
    }
}

/// What each kind has of its own.
#[derive(Debug, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(untagged)]
enum Size<'a> {
    Stop {
        battery_v: Option<f64>,
        flickers: usize,
    },
    Restart {
        battery_v: Option<f64>,
    },
    Gap {
        status: &'static str,
        reason: &'a str,
    },
    Step {
        change_hz: f64,
        half_width_hz: f64,
        change_ratio: f64,
        battery_step_v: Option<f64>,
        is_of_supply: bool,
    },
    Excursion {
        change_hz: f64,
        change_ratio: f64,
        readings: usize,
    },
    Lone {
        channel: &'static str,
        value: f64,
        usual: f64,
        readings: usize,
    },
    Doubt {
        channel: &'static str,
        reason: &'a str,
        readings: usize,
    },
    Text {
        text: &'a str,
    },
}

fn size<'a>(happening: &Happening<'a>) -> Size<'a> {
    match *happening {
        Happening::Stop(stop) => Size::Stop {
            battery_v: stop.battery_from_v,
            flickers: stop.flickers,
        },
        Happening::Restart(stop, ..) => Size::Restart {
            battery_v: stop.battery_to_v,
        },
        Happening::Gap(outage) => Size::Gap {
            status: outage.status.word(),
            reason: &outage.reason,
        },
        Happening::Step(step) => Size::Step {
            change_hz: step.change_hz,
            half_width_hz: step.half_width_hz,
            change_ratio: step.ratio,
            battery_step_v: step.battery_step_v,
            is_of_supply: step.is_of_supply,
        },
        Happening::Excursion(excursion) => Size::Excursion {
            change_hz: excursion.deviation_hz,
            change_ratio: excursion.ratio,
            readings: excursion.readings,
        },
        Happening::Lone(lone) => Size::Lone {
            channel: lone.channel.column(),
            value: lone.value,
            usual: lone.usual,
            readings: lone.readings,
        },
        Happening::Doubt(doubt) => Size::Doubt {
            channel: doubt.channel.column(),
            reason: &doubt.why,
            readings: doubt.readings,
        },
        Happening::Clock(step) => Size::Text { text: &step.what },
        Happening::Mark(mark) => Size::Text { text: &mark.text },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::compare::Compare;
    use crate::reading::{Note, Readings, Row, Stamp, Status};

    fn row(at_ms: i64, frequency_hz: Option<f64>, status: Status) -> Row {
        let mut readings = Readings::default();
        if let Some(hertz) = frequency_hz {
            readings.set(Channel::FrequencyHz, hertz);
        }
        Row {
            stamp: Stamp {
                elapsed_us: at_ms * 1000,
                wall_ms: 0,
            },
            source: "counter".into(),
            readings,
            status,
            note: Note::default(),
        }
    }

    /// Ten readings a second with a gap of 10 ms in every fifth second, the last of them 2 s long.
    fn with_gaps(seconds: i64, outlier_at: i64) -> Vec<Row> {
        let mut rows = Vec::new();
        for tenth in 0..10 * seconds {
            let at_ms = 100 * tenth;
            let hertz = if tenth == outlier_at {
                6.256e6 + 56e3
            } else {
                // A little scatter: 0, 7, 4, 1 … Hz.
                6.256e6 + (tenth * 7 % 10) as f64
            };
            if tenth % 50 == 25 {
                rows.push(row(at_ms - 10, None, Status::Gap));
            }
            rows.push(row(at_ms, Some(hertz), Status::Ok));
        }
        rows.push(row(1000 * seconds, None, Status::Gap));
        rows.push(row(1000 * seconds + 2000, Some(6.256e6), Status::Ok));
        rows
    }

    #[test]
    fn gaps_in_any_number_hide_neither_an_outlier_nor_the_longest_of_them() {
        let mut compare = Compare::default();
        compare.push(&with_gaps(1000, 8760));
        let comparison = compare.report();
        let lines = lines(&comparison);
        assert_eq!(lines.len(), SHOWN + 2, "{lines:#?}");
        let has = |words: &str| lines.iter().any(|line| line.contains(words));
        // 56 kHz as read, not the value that a mean over its neighbours leaves.
        assert!(has("0:14:36.0 alone") && has("6.31200 MHz"), "{lines:#?}");
        assert!(has("0:16:40.0 gap") && has("for 2.00 s"), "{lines:#?}");
        let head = &lines[0];
        assert!(
            head.contains("those that weigh most of each kind"),
            "{head}"
        );
        let times: Vec<_> = lines[1..=SHOWN]
            .iter()
            .map(|line| line.get(11..20))
            .collect();
        assert!(times.is_sorted(), "{times:?}");
        // 201 gaps, the outlier and the excursion of its neighbourhood: 18 gaps are shown.
        let tail = &lines[SHOWN + 1];
        assert!(
            tail.contains("and 183 more, in --format json: 183 gap"),
            "{tail}"
        );
    }

    #[test]
    fn a_clock_that_was_moved_is_among_the_events() {
        let mut compare = Compare::default();
        let mut rows: Vec<Row> = (0..20)
            .map(|at| row(1000 * at, Some(6e6), Status::Ok))
            .collect();
        let moved = Row {
            note: Note::read("the wall clock was moved by +3600.0 s"),
            ..row(9500, None, Status::ClockStep)
        };
        rows.insert(10, moved);
        compare.push(&rows);
        let comparison = compare.report();
        let told = lines(&comparison).join("\n");
        insta::assert_snapshot!(told, @r"
        events     1, in the order of time
                   0:00:09.5 clock      row 11          the wall clock was moved by +3600.0 s
        ");
        let value = &serde_json::to_value(parts(&comparison)).unwrap()[0];
        assert_eq!(
            (&value["kind"], &value["first_row"]),
            (&"clock".into(), &11.into())
        );
        assert_eq!(value["text"], "the wall clock was moved by +3600.0 s");
    }

    #[test]
    fn what_the_table_holds_is_shown_whole() {
        let mut compare = Compare::default();
        compare.push(&with_gaps(60, -1));
        let lines = lines(&compare.report());
        assert_eq!(lines[0], "events     13, in the order of time");
        assert_eq!(lines.len(), 14);
    }
}
