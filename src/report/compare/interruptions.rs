//! Stops of the coil and missing data, counted.

use crate::analysis::events::{Events, Kept, Outage};
use crate::units::{self, Unit};

/// A line each for stops with restarts and for missing data, of a record that ends at `end_s`.
pub fn lines(events: &Events, end_s: f64) -> Vec<String> {
    let stops = match events.stops().count() {
        0 => "stops      none".to_owned(),
        count => format!("stops      {count}, started again {}", events.restarts()),
    };
    let outages = events.outages();
    let gaps = match outages.count() {
        0 => "gaps       none".to_owned(),
        count => format!("gaps       {count}, {} in all", missing(outages, end_s)),
    };
    vec![stops, gaps]
}

/// The time without data, summed over the instruments; an outage that has not ended reaches to the end.
pub(super) fn missing(outages: &Kept<Outage>, end_s: f64) -> String {
    let length_s = |outage: &Outage| outage.to_s.unwrap_or(end_s) - outage.from_s;
    seconds(outages.entries.iter().map(length_s).sum())
}

/// A time in seconds to three digits.
pub(super) fn seconds(seconds: f64) -> String {
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
    use crate::reading::{Channel, Note, Readings, Row, Stamp, Status};

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
            note: Note::default(),
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
    fn stops_and_the_time_without_data_are_counted() {
        let mut events = Events::default();
        for second in 0..15 {
            let (status, reading) = match second % 5 {
                4 => (Status::NoSignal, None),
                _ => (Status::Ok, Some(6e6)),
            };
            events.push(&[row("counter", second, reading, status)]);
        }
        events.push(&[row("meter", 14, None, Status::Silent)]);
        events.push(&[row("counter", 20, Some(6e6), Status::Ok)]);
        insta::assert_snapshot!(lines(&events, 20.0).join("\n"), @r"
        stops      3, started again 3
        gaps       1, 6.00 s in all
        ");
    }
}
