//! Measured pushing beside the modelled one: how far the circuit explains the battery's effect on the frequency.

use crate::circuit::pushing::{Ceases, Curve, StopBeside};
use crate::units::Span;

use super::compare::{Comparison, Traces};
use super::drift::{DriftReport, Joint, Slope};
use super::statistics::estimate::Estimate;

/// The battery voltage has to span so much, in volts, before it is worth following the circuit through it. Chosen.
const LEAST_SPAN_V: f64 = 0.2;

/// Returns the pushing that was fitted, in hertz per volt: at constant time where the record can separate the two.
pub fn measured(drift: &DriftReport) -> Option<Estimate> {
    match (drift.joint, drift.on_voltage) {
        (Joint::Separate { on_voltage, .. }, _) | (_, Slope::Fitted(on_voltage)) => {
            Some(on_voltage.slope)
        }
        _ => None,
    }
}

/// Returns the battery voltages that a pushing was fitted over, in volts; `None` without one, or where they span too little.
pub fn reach_v(traces: &Traces, comparison: &Comparison) -> Option<Span> {
    measured(&comparison.drift)?;
    let pieces = traces.frequency.pieces();
    let volts = || {
        pieces
            .iter()
            .flatten()
            .filter_map(|sample| sample.battery_v)
    };
    let reach_v = Span::new(
        volts().min_by(f64::total_cmp)?,
        volts().max_by(f64::total_cmp)?,
    );
    (reach_v.low > 0.0 && reach_v.width() >= LEAST_SPAN_V).then_some(reach_v)
}

/// The pushing by the circuit's model.
#[derive(Debug, Clone, PartialEq)]
pub enum Modelled {
    /// Its frequency over the voltage.
    Curve {
        /// Over the voltages that were read.
        read: Curve,
        /// Over those of a prediction of the build; `None` where it has none.
        predicted: Option<Curve>,
        /// Where a prediction of the build has it cease to run fully; `None` where it never runs fully.
        ceases: Option<Ceases>,
    },
    /// Typical parts do not run fully at the voltages read.
    NotRunning {
        /// From this voltage, in volts.
        low_v: f64,
        /// To this one, in volts.
        high_v: f64,
        /// Where a prediction of the build has it cease to run fully; `None` where it never runs fully.
        ceases: Option<Ceases>,
    },
    /// It could not be computed.
    NotComputed {
        /// Why.
        reason: String,
    },
}

/// Returns the measured stops that a prediction contradicts, each with the way it does. They are the highest of those that were
/// earlier and the lowest of those that came later, in volts at the clips.
pub fn contradicted_stops(comparison: &Comparison, ceases: &Ceases) -> Vec<(f64, StopBeside)> {
    let stops = comparison.events.stops().entries.iter();
    let read: Vec<f64> = stops.filter_map(|stop| stop.battery_from_v).collect();
    let of = |beside: StopBeside| {
        let found = read.iter().copied();
        found.filter(move |&volt| ceases.beside(volt) == beside)
    };
    let earlier = of(StopBeside::Earlier).max_by(f64::total_cmp);
    let later = of(StopBeside::Later).min_by(f64::total_cmp);
    let with = |volt: Option<f64>, beside| volt.map(|volt| (volt, beside));
    [
        with(earlier, StopBeside::Earlier),
        with(later, StopBeside::Later),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// A measured slope beside the curve's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beside {
    /// Measured less modelled, in hertz per volt.
    pub more: Estimate,
}

impl Beside {
    /// Returns the measured pushing of a comparison beside a curve.
    pub fn of(comparison: &Comparison, curve: &Curve) -> Option<Self> {
        let measured = measured(&comparison.drift)?;
        Some(Self {
            more: Estimate {
                value: measured.value - curve.slope_hz_per_v(),
                half_width: measured.half_width,
            },
        })
    }

    /// Whether the model's slope lies in the measured one's interval.
    pub fn is_inside(&self) -> bool {
        self.more.value.abs() <= self.more.half_width
    }
}

#[cfg(test)]
mod tests {
    use super::super::compare::Compare;
    use super::super::pairing::Pairing;
    use super::super::testing::row;
    use super::*;
    use crate::reading::Status;

    /// Invented: 1200 Hz/V about 6 MHz, ±2 Hz of scatter, the battery falling by `fall_v` in 100 s.
    fn session(fall_v: f64) -> (Traces, Comparison) {
        let mut compare = Compare::new(None, Pairing::new());
        for i in 0..100 {
            let volts = 9.0 - fall_v * f64::from(i) / 99.0;
            let hertz = 6e6 + 1200.0 * (volts - 8.0) + f64::from(i * 7919 % 101) * 0.04;
            let at_s = f64::from(i);
            compare.push(&[row("scope", at_s, Some(hertz), Some(volts), Status::Ok)]);
        }
        (compare.traces(), compare.report())
    }

    #[test]
    fn a_model_of_the_same_slope_lies_inside_and_another_does_not() {
        let (traces, comparison) = session(1.0);
        let read_v = reach_v(&traces, &comparison).unwrap();
        assert!((read_v.low - 8.0).abs() < 1e-9 && (read_v.high - 9.0).abs() < 1e-9);
        let beside = |slope: f64| {
            let curve = Curve::from_points([(8.0, 5e6), (9.0, 5e6 + slope)]).unwrap();
            Beside::of(&comparison, &curve).unwrap()
        };
        assert!(beside(1200.0).is_inside(), "{:?}", beside(1200.0));
        let weaker = beside(200.0);
        assert!(!weaker.is_inside() && (weaker.more.value - 1000.0).abs() < 10.0);
    }

    #[test]
    fn a_battery_that_hardly_moves_is_not_followed() {
        let (traces, comparison) = session(0.1);
        assert_eq!(reach_v(&traces, &comparison), None);
    }
}
