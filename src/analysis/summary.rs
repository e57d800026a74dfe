//! The recording in numbers: rows by instrument and status, and for each channel first, last, extremes, mean and median.

use std::sync::Arc;

use crate::reading::{Channel, Chunk, Row, Status};
use crate::units::Span;

use super::statistics::median::Median;

/// The good readings of one channel, in its SI unit.
#[derive(Debug, Clone)]
pub struct ChannelSummary {
    /// The channel.
    pub channel: Channel,
    /// Good readings.
    pub readings: usize,
    /// First of them.
    pub first: f64,
    /// Last of them.
    pub last: f64,
    /// Least of them.
    pub min: f64,
    /// Greatest of them.
    pub max: f64,
    /// Their mean, kept as a running mean so that long sessions lose no digits.
    pub mean: f64,
    median: Median,
}

impl ChannelSummary {
    fn new(channel: Channel, value: f64) -> Self {
        Self {
            channel,
            readings: 0,
            first: value,
            last: value,
            min: value,
            max: value,
            mean: 0.0,
            median: Median::default(),
        }
    }

    fn push(&mut self, value: f64) {
        self.readings += 1;
        self.last = value;
        self.min = self.min.min(value);
        self.max = self.max.max(value);
        self.mean += (value - self.mean) / self.readings as f64;
        self.median.push(value);
    }

    /// Returns their median, estimated in one pass (P², see [`Median`]).
    pub fn median(&self) -> Option<f64> {
        self.median.value()
    }
}

/// One instrument's part of a session.
#[derive(Debug, Clone)]
pub struct SourceSummary {
    /// The label of the instrument.
    pub source: Arc<str>,
    /// Rows.
    pub rows: usize,
    statuses: [usize; Status::ALL.len()],
    /// Its channels, in the order they were first read.
    pub channels: Vec<ChannelSummary>,
}

impl SourceSummary {
    /// Returns how many rows have each status, those without one left out, the gravest first.
    pub fn statuses(&self) -> impl Iterator<Item = (Status, usize)> {
        Status::ALL
            .into_iter()
            .map(|status| (status, self.statuses[status as usize]))
            .filter(|&(_, rows)| rows > 0)
    }

    fn push(&mut self, row: &Row) {
        self.rows += 1;
        self.statuses[row.status as usize] += 1;
        for channel in Channel::ALL {
            let value = match channel {
                Channel::BatteryV => row.battery_v(),
                _ => row.good(channel),
            };
            let Some(value) = value else { continue };
            let known = self
                .channels
                .iter()
                .position(|known| known.channel == channel);
            let at = known.unwrap_or_else(|| {
                self.channels.push(ChannelSummary::new(channel, value));
                self.channels.len() - 1
            });
            if let Some(summary) = self.channels.get_mut(at) {
                summary.push(value);
            }
        }
    }
}

/// Collects the numbers of a recording.
#[derive(Debug, Clone, Default)]
pub struct Summary {
    sources: Vec<SourceSummary>,
    span_s: Option<Span>,
}

impl Summary {
    /// Takes rows in, in the order of their time.
    pub fn push(&mut self, rows: &Chunk) {
        for row in rows {
            let at_s = row.stamp.elapsed_s();
            let first_s = self.span_s.map_or(at_s, |span_s| span_s.low);
            self.span_s = Some(Span::new(first_s, at_s));
            let known = self
                .sources
                .iter()
                .position(|known| *known.source == *row.source);
            let at = known.unwrap_or_else(|| {
                self.sources.push(SourceSummary {
                    source: Arc::clone(&row.source),
                    rows: 0,
                    statuses: [0; Status::ALL.len()],
                    channels: Vec::new(),
                });
                self.sources.len() - 1
            });
            if let Some(source) = self.sources.get_mut(at) {
                source.push(row);
            }
        }
    }

    /// Returns the instruments, in the order they were first heard.
    pub fn sources(&self) -> &[SourceSummary] {
        &self.sources
    }

    /// Returns the number of all rows.
    pub fn rows(&self) -> usize {
        self.sources.iter().map(|source| source.rows).sum()
    }

    /// Returns when the last row came, in seconds since the session began; 0 before the first.
    pub fn end_s(&self) -> f64 {
        self.span_s.map_or(0.0, |span_s| span_s.high)
    }

    /// Returns the time from the first row to the last, in seconds; 0 before the first.
    pub fn duration_s(&self) -> f64 {
        self.span_s.map_or(0.0, Span::width)
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::row;
    use super::*;

    fn summary() -> Summary {
        let mut summary = Summary::default();
        summary.push(&[
            row("scope", 1.0, Some(6.0e6), Some(9.0), Status::Ok),
            row("scope", 2.0, None, Some(8.8), Status::NoSignal),
            row("meter", 2.5, None, None, Status::Silent),
            row("scope", 3.0, Some(7.7e6), Some(7.7), Status::Suspect),
            row("scope", 4.5, Some(5.9e6), Some(8.9), Status::Ok),
        ]);
        summary
    }

    #[test]
    fn rows_are_counted_by_instrument_and_status() {
        let summary = summary();
        assert_eq!((summary.rows(), summary.duration_s()), (5, 3.5));
        assert!((summary.end_s() - 4.5).abs() < f64::EPSILON);
        let [scope, meter] = summary.sources() else {
            panic!("{summary:?}");
        };
        let statuses: Vec<_> = scope.statuses().collect();
        assert_eq!(
            statuses,
            [(Status::NoSignal, 1), (Status::Suspect, 1), (Status::Ok, 2)]
        );
        assert_eq!(
            (&*meter.source, meter.rows, meter.channels.len()),
            ("meter", 1, 0)
        );
    }

    #[test]
    fn figures_come_from_good_readings_and_the_battery_is_read_while_the_coil_is_silent() {
        let summary = summary();
        let [frequency, battery] = summary.sources()[0].channels.as_slice() else {
            panic!("{summary:?}");
        };
        assert_eq!((frequency.readings, frequency.mean), (2, 5.95e6));
        assert_eq!((frequency.first, frequency.last), (6.0e6, 5.9e6));
        assert_eq!((battery.readings, battery.min, battery.max), (3, 8.8, 9.0));
        assert_eq!(battery.median(), Some(8.9));
    }

    #[test]
    fn nothing_recorded_has_no_duration() {
        assert!(Summary::default().duration_s().abs() < f64::EPSILON);
    }
}
