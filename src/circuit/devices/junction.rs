//! The common part of diodes and transistors: a pn junction's exponential, its depletion charge, and the bridle Newton needs on
//! both.

use std::f64::consts::SQRT_2;

/// Thermal voltage kT/q at 27 °C, in volts (CODATA 2018 constants, 300.15 K).
pub const THERMAL_V: f64 = 0.025864926;

/// Conductance put across every junction so that no node hangs free, in siemens (chosen: the usual 1e-12).
pub(super) const LEAST_CONDUCTANCE_S: f64 = 1e-12;

/// Where the depletion law is continued by its tangent, as a part of the built-in voltage (the usual 0.5).
const TANGENT_FROM: f64 = 0.5;

/// A function's value at a voltage and its slope there.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Sloped {
    pub(crate) value: f64,
    pub(crate) slope: f64,
}

/// The charge a junction's depletion layer holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Depletion {
    /// Capacitance at no voltage, in farads; 0 leaves the charge out.
    pub zero_bias_f: f64,
    /// Built-in voltage, in volts.
    pub built_in_v: f64,
    /// Grading exponent: 0.5 for an abrupt junction, 0.33 for a graded one.
    pub grading: f64,
}

impl Depletion {
    /// No depletion charge.
    pub const NONE: Self = Self {
        zero_bias_f: 0.0,
        built_in_v: 1.0,
        grading: 0.5,
    };

    /// Returns the charge in coulombs and capacitance in farads at a forward voltage.
    ///
    /// C = C0 (1 - v/vj)^-m below half the built-in voltage, its tangent above it (Gummel and Poon's model as every
    /// circuit simulator has it).
    pub(super) fn charge(&self, volt: f64) -> Sloped {
        if self.zero_bias_f <= 0.0 {
            return Sloped::default();
        }
        let edge_v = TANGENT_FROM * self.built_in_v;
        if volt < edge_v {
            return self.below_edge(volt);
        }
        let edge = self.below_edge(edge_v);
        let rise = edge.slope * self.grading / (self.built_in_v * (1.0 - TANGENT_FROM));
        let beyond = volt - edge_v;
        Sloped {
            value: edge.value + beyond * (edge.slope + 0.5 * rise * beyond),
            slope: edge.slope + rise * beyond,
        }
    }

    fn below_edge(&self, volt: f64) -> Sloped {
        let left = 1.0 - volt / self.built_in_v;
        let power = left.powf(-self.grading);
        Sloped {
            value: self.zero_bias_f * self.built_in_v * (1.0 - left * power) / (1.0 - self.grading),
            slope: self.zero_bias_f * power,
        }
    }
}

/// Returns the exponential; nothing below an exponent of -100, where it is 4e-44 and the library's way to it is slow.
pub(super) fn exponential(exponent: f64) -> f64 {
    if exponent < -100.0 {
        0.0
    } else {
        exponent.exp()
    }
}

/// Returns the current of an ideal junction, `saturation_a * (exp(volt / scale_v) - 1)`.
pub(super) fn ideal(saturation_a: f64, scale_v: f64, volt: f64) -> Sloped {
    if saturation_a <= 0.0 {
        return Sloped::default();
    }
    let grown = saturation_a * exponential(volt / scale_v);
    Sloped {
        value: grown - saturation_a,
        slope: grown / scale_v,
    }
}

/// Returns the voltage above which a junction's exponential outruns Newton's tangent, in volts.
pub(crate) fn critical_v(saturation_a: f64, scale_v: f64) -> f64 {
    scale_v * (scale_v / (SQRT_2 * saturation_a)).ln()
}

/// Holds back a junction's step from `last_v` to `next_v` where the exponential would throw Newton off.
///
/// Source: L. W. Nagel, SPICE2, memorandum ERL-M520, Berkeley 1975, the logarithmic step (form from memory).
pub(crate) fn held_back(next_v: f64, last_v: f64, scale_v: f64, critical_v: f64) -> f64 {
    if next_v <= critical_v || (next_v - last_v).abs() <= 2.0 * scale_v {
        return next_v;
    }
    if last_v <= 0.0 {
        return scale_v * (next_v / scale_v).ln();
    }
    let steps = (next_v - last_v) / scale_v;
    if steps > -1.0 {
        last_v + scale_v * steps.ln_1p()
    } else {
        critical_v
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const COLLECTOR: Depletion = Depletion {
        zero_bias_f: 120e-12,
        built_in_v: 0.6,
        grading: 0.4,
    };

    #[test]
    fn the_capacitance_is_the_slope_of_the_charge_on_both_sides_of_the_tangents_start() {
        for volt in [-20.0, -1.0, 0.0, 0.29, 0.31, 0.9] {
            let step = 1e-6;
            let numeric = (COLLECTOR.charge(volt + step).value
                - COLLECTOR.charge(volt - step).value)
                / (2.0 * step);
            let told = COLLECTOR.charge(volt).slope;
            assert!(
                (numeric / told - 1.0).abs() < 1e-6,
                "{volt}: {numeric} {told}"
            );
        }
    }

    #[test]
    fn a_reversed_junction_holds_less_than_at_rest_by_the_depletion_law() {
        // By hand: 120 pF * (1 + 9.4 / 0.6)^-0.4.
        let expected = 120e-12 * (1.0_f64 + 9.4 / 0.6).powf(-0.4);
        assert!((COLLECTOR.charge(-9.4).slope / expected - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_long_forward_step_is_held_back_and_a_short_one_is_not() {
        let critical = critical_v(1e-12, THERMAL_V);
        assert!((held_back(0.70, 0.69, THERMAL_V, critical) - 0.70).abs() < 1e-15);
        let held = held_back(5.0, 0.69, THERMAL_V, critical);
        assert!(held > 0.69 && held < 0.9, "{held}");
        assert!((held_back(-5.0, 0.69, THERMAL_V, critical) + 5.0).abs() < 1e-15);
    }
}
