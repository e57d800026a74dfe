//! Charge and energy by the trapezoid rule. A gap is named and left out, never bridged.

/// Gaps beyond this number are counted and no longer listed.
const LISTED: usize = 100;
/// A pause of more than this many usual intervals is a gap.
pub const GAP_INTERVALS: f64 = 5.0;

/// Where the current comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Load {
    /// It was measured.
    Measured,
    /// It is estimated from the voltage over this resistance, in ohms.
    Resistance(f64),
    /// It is estimated from this power over the voltage, in watts.
    Power(f64),
    /// It is estimated to be this at every voltage, in amperes.
    Current(f64),
}

impl Load {
    /// Returns the current at a voltage, in amperes; a measured one overrides every estimate.
    pub fn current_a(self, volts_v: f64, measured_a: Option<f64>) -> Option<f64> {
        measured_a.or(match self {
            Self::Measured => None,
            Self::Resistance(ohm) => Some(volts_v / ohm),
            Self::Power(watt) => Some(watt / volts_v),
            Self::Current(current_a) => Some(current_a),
        })
    }
}

/// A stretch without readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// Where it begins, in seconds.
    pub from_s: f64,
    /// Where it ends, in seconds.
    pub to_s: f64,
}

/// How a reading follows the one before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Follows {
    /// In the usual rhythm.
    Closely,
    /// After a gap: the charge that flowed meanwhile is not known.
    AfterGap,
    /// After a rest with the load off: nothing flowed.
    AfterRest,
}

/// Counts charge and energy.
#[derive(Debug, Clone, Default)]
pub struct Meter {
    charge_as: f64,
    energy_ws: f64,
    counted_s: f64,
    last: Option<(f64, f64, f64)>,
    /// The gaps, up to a hundred of them.
    pub gaps: Vec<Gap>,
    /// All gaps together, in seconds.
    pub missing_s: f64,
}

impl Meter {
    /// Takes a reading in, in the order of its time in seconds.
    pub fn push(&mut self, at_s: f64, volts_v: f64, current_a: f64, follows: Follows) {
        if let Some((from_s, from_v, from_a)) = self.last.replace((at_s, volts_v, current_a)) {
            let step_s = at_s - from_s;
            match follows {
                Follows::Closely => {
                    self.charge_as += f64::midpoint(from_a, current_a) * step_s;
                    self.energy_ws += f64::midpoint(from_v * from_a, volts_v * current_a) * step_s;
                    self.counted_s += step_s;
                }
                Follows::AfterGap => {
                    self.missing_s += step_s;
                    if self.gaps.len() < LISTED {
                        self.gaps.push(Gap { from_s, to_s: at_s });
                    }
                }
                Follows::AfterRest => {}
            }
        }
    }

    /// Returns the charge, in ampere hours; `None` before two readings.
    pub fn charge_ah(&self) -> Option<f64> {
        (self.counted_s > 0.0).then_some(self.charge_as / 3600.0)
    }

    /// Returns the energy, in Wh; `None` before two readings.
    pub fn energy_wh(&self) -> Option<f64> {
        (self.counted_s > 0.0).then_some(self.energy_ws / 3600.0)
    }

    /// Returns the mean current while it was counted, in amperes.
    pub fn mean_current_a(&self) -> Option<f64> {
        (self.counted_s > 0.0).then_some(self.charge_as / self.counted_s)
    }
}

/// Returns the energy over charge: the mean voltage of a discharge, in volts.
pub fn mean_volts_v(charge_ah: f64, energy_wh: f64) -> f64 {
    energy_wh / charge_ah
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_is_named_and_what_flowed_in_it_is_not_counted() {
        let mut meter = Meter::default();
        for (at_s, follows) in [
            (0.0, Follows::Closely),
            (1800.0, Follows::Closely),
            (3600.0, Follows::AfterGap),
            (5400.0, Follows::Closely),
            (9000.0, Follows::AfterRest),
        ] {
            meter.push(at_s, 9.0, 0.2, follows);
        }
        assert!((meter.charge_ah().unwrap() - 0.2).abs() < 1e-12);
        assert_eq!(
            meter.gaps,
            [Gap {
                from_s: 1800.0,
                to_s: 3600.0
            }]
        );
        assert!((meter.missing_s - 1800.0).abs() < 1e-9);
        assert!((meter.mean_current_a().unwrap() - 0.2).abs() < 1e-12);
    }

    #[test]
    fn nothing_is_counted_before_two_readings() {
        let mut meter = Meter::default();
        meter.push(0.0, 9.0, 0.2, Follows::Closely);
        assert_eq!((meter.charge_ah(), meter.energy_wh()), (None, None));
    }

    #[test]
    fn a_measured_current_stands_over_an_estimate() {
        assert_eq!(
            Load::Resistance(30.0).current_a(9.0, Some(0.25)),
            Some(0.25)
        );
        assert_eq!(Load::Resistance(30.0).current_a(9.0, None), Some(0.3));
        assert_eq!(Load::Power(3.0).current_a(6.0, None), Some(0.5));
        assert_eq!(Load::Measured.current_a(9.0, None), None);
    }
}
