//! The battery: its kind, and the known behaviour of that kind.

pub mod curve;
pub mod finished;
pub mod forecast;
pub mod kind;
pub mod last_run;
pub mod logbook;
pub mod peukert;
pub mod plan;
pub mod resistance;
pub mod series;
pub mod shipped;

pub use forecast::{backtest, end, level, outlook, question, watch};
pub use plan::{charge, evening, price, worth};

use kind::Kind;

/// The battery of a build.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Battery {
    /// Its kind.
    pub kind: Kind,
    /// How many stand in series.
    pub series: u32,
    /// The charge printed on one of them, in ampere hours.
    pub capacity_ah: Option<f64>,
    /// The resistance of one of them as measured, in ohms.
    pub resistance_ohm: Option<f64>,
}

impl Battery {
    /// Returns the nominal voltage of the whole, in volts.
    pub fn nominal_v(&self) -> f64 {
        f64::from(self.series) * self.kind.nominal().value_v
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn batteries_in_series_add_their_voltages() {
        let battery = Battery {
            kind: Kind::Nimh7,
            series: 2,
            capacity_ah: None,
            resistance_ohm: None,
        };
        assert!((battery.nominal_v() - 16.8).abs() < 1e-12);
    }
}
