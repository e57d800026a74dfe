//! Stops of the coil and missing data, in a few lines.

use crate::analysis::events::{Events, Kept, Outage, Stop};
use crate::units::{self, Unit};

/// Entries printed of each kind; the rest is counted.
const SHOWN: usize = 5;

/// Lines for stops, restarts and missing data of a record that ends at `end_s`; one line for each kind when there were none.
pub fn lines(events: &Events, end_s: f64) -> Vec<String> {
    let stops = events.stops();
    let mut lines = vec![match stops.count() {
        0 => "stops      none".to_owned(),
        count => format!("stops      {count}, started again {}", events.restarts()),
    }];
    listed(&mut lines, stops, stop_line);
    let outages = events.outages();
    lines.push(match outages.count() {
        0 => "gaps       none".to_owned(),
        count => format!("gaps       {count}, {} in all", missing(outages, end_s)),
    });
    listed(&mut lines, outages, outage_line);
    lines
}

/// Adds a line for each of the first entries, and one that counts the rest.
pub(super) fn listed<T>(lines: &mut Vec<String>, kept: &Kept<T>, line: impl Fn(&T) -> String) {
    let shown = kept.entries.iter().take(SHOWN).map(line);
    lines.extend(shown.map(|text| format!("           {text}")));
    if kept.count() > SHOWN {
        lines.push(format!("           and {} more", kept.count() - SHOWN));
    }
}

fn stop_line(stop: &Stop) -> String {
    let length = stop.to_s.map_or_else(
        || "until the end".to_owned(),
        |to_s| format!("for {}", seconds(to_s - stop.from_s)),
    );
    let volts = |volts: Option<f64>| units::rounded(volts.unwrap_or(f64::NAN), Unit::Volt, 3);
    let battery = match (stop.battery_from_v, stop.battery_to_v) {
        (None, None) => String::new(),
        (from_v, None) => format!(", battery {} when it stopped", volts(from_v)),
        (from_v, to_v) => format!(
            ", battery {} when it stopped, {} when it started again",
            volts(from_v),
            volts(to_v)
        ),
    };
    format!("at {} {length}{battery}", clock(stop.from_s))
}

fn outage_line(outage: &Outage) -> String {
    let length = outage.to_s.map_or_else(
        || "until the end".to_owned(),
        |to_s| format!("for {}", seconds(to_s - outage.from_s)),
    );
    let reason = if outage.reason.is_empty() {
        String::new()
    } else {
        format!(" ({})", outage.reason)
    };
    let (at, source) = (clock(outage.from_s), &outage.source);
    format!("at {at} {length}, {source}: {}{reason}", outage.status)
}

/// The time without data, summed over the instruments; what has not ended reaches to the end.
fn missing(outages: &Kept<Outage>, end_s: f64) -> String {
    let length_s = |outage: &Outage| outage.to_s.unwrap_or(end_s) - outage.from_s;
    seconds(outages.entries.iter().map(length_s).sum())
}

fn seconds(seconds: f64) -> String {
    units::rounded(seconds, Unit::Second, 3)
}

/// Elapsed time as hours, minutes and seconds, `1:12:03.2`.
pub fn clock(elapsed_s: f64) -> String {
    let tenths = (elapsed_s * 10.0).round();
    let (hours, rest) = ((tenths / 36_000.0).floor(), tenths.rem_euclid(36_000.0));
    let (minutes, rest) = ((rest / 600.0).floor(), rest.rem_euclid(600.0));
    format!("{hours:.0}:{minutes:02.0}:{:04.1}", rest / 10.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::{Channel, Readings, Row, Stamp, Status};

    fn row(source: &str, second: i64, frequency_hz: Option<f64>, status: Status) -> Row {
        let mut readings = Readings::default();
        if let Some(hertz) = frequency_hz {
            readings.set(Channel::FrequencyHz, hertz);
        }
        Row {
            stamp: Stamp {
                elapsed_us: second * 1_000_000,
                wall_ms: 0,
            },
            source: source.into(),
            readings,
            status,
            note: String::new(),
        }
    }

    #[test]
    fn elapsed_time_is_rounded_before_it_is_split() {
        assert_eq!(clock(0.0), "0:00:00.0");
        assert_eq!(clock(4323.21), "1:12:03.2");
        assert_eq!(clock(3599.96), "1:00:00.0");
    }

    #[test]
    fn a_quiet_session_has_two_lines() {
        insta::assert_snapshot!(lines(&Events::default(), 0.0).join("\n"), @r"
        stops      none
        gaps       none
        ");
    }

    #[test]
    fn a_long_list_is_cut_and_the_rest_counted() {
        let mut events = Events::default();
        for second in 0..14 {
            let (status, reading) = match second % 2 {
                0 => (Status::Ok, Some(6e6)),
                _ => (Status::NoSignal, None),
            };
            events.push(&[row("counter", second, reading, status)]);
        }
        events.push(&[row("meter", 14, None, Status::Silent)]);
        events.push(&[row("counter", 20, Some(6e6), Status::Ok)]);
        insta::assert_snapshot!(lines(&events, 20.0).join("\n"), @r"
        stops      7, started again 7
                   at 0:00:01.0 for 1.00 s
                   at 0:00:03.0 for 1.00 s
                   at 0:00:05.0 for 1.00 s
                   at 0:00:07.0 for 1.00 s
                   at 0:00:09.0 for 1.00 s
                   and 2 more
        gaps       1, 6.00 s in all
                   at 0:00:14.0 until the end, meter: silent
        ");
    }
}
