//! The analyses of the rows: pairing, drift, pushing, stops and gaps, and the measured against the modelled resonance.
//!
//! Every analysis takes rows in the order of their time, from a session folder or live, in one pass and bounded memory. It
//! reports at any moment the results that the rows so far support. It never reads a file or a clock, and never says a number
//! without the assumption it rests on.

pub mod compare;
pub mod discharge;
pub mod drift;
pub mod events;
pub mod excursions;
pub mod figures;
pub mod flags;
pub mod lamp;
pub mod level;
pub mod lone;
pub mod mean;
pub mod multiple;
pub mod noted;
pub mod pairing;
pub mod pushing;
pub mod statistics;
pub mod steps;
pub mod stretches;
pub mod summary;
mod tally;
pub mod timeline;
pub mod trace;

pub use statistics::{estimate, hampel, regression, student};

#[cfg(test)]
mod testing {
    use crate::reading::{Channel, Note, Readings, Row, Stamp, Status};

    /// Park and Miller's "minimal standard" generator; twelve of its numbers less 6 have unit variance.
    pub(super) struct Noise(pub(super) u64);

    impl Noise {
        pub(super) fn unit(&mut self) -> f64 {
            let mut uniform = || {
                self.0 = 16807 * self.0 % 2147483647;
                self.0 as f64 / 2147483647.0
            };
            (0..12).map(|_| uniform()).sum::<f64>() - 6.0
        }
    }

    /// Returns an invented row; a channel that is `None` was not read.
    pub(super) fn row(
        source: &str,
        elapsed_s: f64,
        frequency_hz: Option<f64>,
        battery_v: Option<f64>,
        status: Status,
    ) -> Row {
        let mut readings = Readings::default();
        for (channel, value) in [
            (Channel::FrequencyHz, frequency_hz),
            (Channel::BatteryV, battery_v),
        ] {
            if let Some(value) = value {
                readings.set(channel, value);
            }
        }
        let elapsed_us = format!("{:.0}", elapsed_s * 1e6).parse().unwrap();
        Row {
            stamp: Stamp {
                elapsed_us,
                wall_ms: elapsed_us / 1000,
            },
            source: source.into(),
            readings,
            status,
            note: Note::default(),
        }
    }
}
