//! A diode with series resistance, stored charge and breakdown.

use super::junction::{
    Depletion, LEAST_CONDUCTANCE_S, Sloped, THERMAL_V, critical_v, exponential, held_back, ideal,
};

/// Where a junction gives way in reverse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Breakdown {
    /// The reverse voltage at which `current_a` flows, in volts.
    pub voltage_v: f64,
    /// That current, in amperes.
    pub current_a: f64,
}

/// A diode's parameters, at 27 °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Diode {
    /// Saturation current, in amperes.
    pub saturation_a: f64,
    /// Ideality: 1 for an ideal junction, about 2 for a light-emitting one.
    pub ideality: f64,
    /// Series resistance, in ohms; 0 for none.
    pub series_ohm: f64,
    /// Depletion charge.
    pub depletion: Depletion,
    /// Transit time, in seconds: the stored charge over the current.
    pub transit_s: f64,
    /// Breakdown, if it matters.
    pub breakdown: Option<Breakdown>,
}

/// A current at which diodes differ by the voltage across them, in amperes.
const TOLD_APART_A: f64 = 10e-3;
/// The least voltage across the junction of a diode that gives light, in volts at that current (chosen: silicon has 0.6 to 0.9 V,
/// a red light-emitting diode 1.6 V and more; from memory).
const LIGHT_LEAST_V: f64 = 1.2;

impl Diode {
    /// Whether it gives light: by the voltage across it, 1.2 V or more at 10 mA without its series resistance.
    pub fn gives_light(&self) -> bool {
        self.scale_v() * (TOLD_APART_A / self.saturation_a).ln() > LIGHT_LEAST_V
    }

    fn scale_v(&self) -> f64 {
        self.ideality * THERMAL_V
    }

    /// Returns the current in amperes at a junction voltage.
    pub(crate) fn current(&self, volt: f64) -> Sloped {
        let scale_v = self.scale_v();
        let mut current = ideal(self.saturation_a, scale_v, volt);
        current.value += LEAST_CONDUCTANCE_S * volt;
        current.slope += LEAST_CONDUCTANCE_S;
        if let Some(breakdown) = self.breakdown {
            let beyond = exponential(-(volt + breakdown.voltage_v) / scale_v);
            current.value -= breakdown.current_a * beyond;
            current.slope += breakdown.current_a * beyond / scale_v;
        }
        current
    }

    /// Returns the stored charge in coulombs at a junction voltage with its current.
    pub(crate) fn charge(&self, volt: f64, current: Sloped) -> Sloped {
        let depletion = self.depletion.charge(volt);
        Sloped {
            value: depletion.value + self.transit_s * current.value,
            slope: depletion.slope + self.transit_s * current.slope,
        }
    }

    /// Returns where Newton has to be held back; known once for a diode, for it takes logarithms.
    pub(crate) fn steep(&self) -> Steep {
        let scale_v = self.scale_v();
        // In breakdown the same exponential runs the other way, counted from where it begins to conduct.
        let begins_v = self.breakdown.map_or(f64::INFINITY, |breakdown| {
            breakdown.voltage_v - scale_v * (breakdown.current_a / self.saturation_a).ln()
        });
        Steep {
            scale_v,
            critical_v: critical_v(self.saturation_a, scale_v),
            begins_v,
        }
    }
}

/// Where a diode's exponentials outrun Newton's tangent.
#[derive(Debug, Clone, Copy)]
#[expect(
    clippy::struct_field_names,
    reason = "each is a voltage and says so as every name does"
)]
pub(crate) struct Steep {
    scale_v: f64,
    critical_v: f64,
    begins_v: f64,
}

impl Steep {
    /// Returns the junction voltage Newton may go to from `last_v`.
    pub(crate) fn held_back(&self, next_v: f64, last_v: f64) -> f64 {
        let held = |next_v, last_v| held_back(next_v, last_v, self.scale_v, self.critical_v);
        let begins_v = self.begins_v;
        if next_v < -begins_v {
            return -(held(-(next_v + begins_v), -(last_v + begins_v)) + begins_v);
        }
        held(next_v, last_v)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LED: Diode = Diode {
        saturation_a: 5e-17,
        ideality: 2.0,
        series_ohm: 5.0,
        depletion: Depletion {
            zero_bias_f: 40e-12,
            built_in_v: 1.0,
            grading: 0.5,
        },
        transit_s: 20e-9,
        breakdown: Some(Breakdown {
            voltage_v: 30.0,
            current_a: 1e-3,
        }),
    };

    #[test]
    fn a_light_emitting_diode_drops_about_one_and_seven_tenths_of_a_volt_at_ten_milliamperes() {
        // By hand: 2 * 25.865 mV * ln(10 mA / 5e-17 A) = 1.7034 V over the junction.
        let current = LED.current(1.7034);
        assert!((current.value / 10e-3 - 1.0).abs() < 2e-3, "{current:?}");
    }

    #[test]
    fn a_light_emitting_diode_gives_light_and_a_silicon_diode_does_not() {
        assert!(LED.gives_light());
        // By hand: 1.9 * 25.865 mV * ln(10 mA / 4 nA) = 0.72 V.
        let silicon = Diode {
            saturation_a: 4e-9,
            ideality: 1.9,
            ..LED
        };
        assert!(!silicon.gives_light());
    }

    #[test]
    fn a_diode_gives_way_at_its_breakdown_voltage_by_its_stated_current() {
        let current = LED.current(-30.0);
        assert!((current.value / -1e-3 - 1.0).abs() < 1e-6, "{current:?}");
        assert!(LED.current(-25.0).value.abs() < 1e-9);
    }

    #[test]
    fn newton_is_held_back_in_breakdown_too() {
        let held = LED.steep().held_back(-60.0, -29.9);
        assert!(held > -31.0 && held < -29.9, "{held}");
    }
}
