//! The handbook route to the resonance: inductance by formula, self-capacitance from a table.
//!
//! It takes a cylinder and gives a value with a band. It knows nothing of planes or neighbours; what they may do is in
//! the band.

use std::f64::consts::TAU;

use super::Resonance;
use super::self_capacitance::{LENGTH_RATIO_HIGH, LENGTH_RATIO_LOW, self_capacitance_f};
use super::winding::{Cylinder, Winding};

/// The route's name, fit for a legend.
pub const ROUTE: &str =
    "handbook route (current sheet with Rosa's corrections, tabulated self-capacitance)";

/// Lower edge of the band over the value: 1/1.034.
///
/// On published coils measured with the foot earthed (public mailing-list archive, February 2001; those with full
/// geometry are 0.6 to 1.8 m long and run at 0.09 to 0.37 MHz) the handbook route came out between 11.3 % below and
/// 3.4 % above the measured frequency. It was taken there with Wheeler's inductance, within 0.6 % of the sheet's. No
/// measured coil of battery size with full geometry was found.
pub const BAND_LOW: f64 = 0.967;

/// Upper edge of the band over the value with an earthed foot: 1/0.887, from the same comparison.
pub const BAND_HIGH_EARTHED: f64 = 1.127;

/// Upper edge of the band over the value when the circuit floats: 8.85 MHz / 5.85 MHz, rounded up.
///
/// Computed, not measured: rings and their charges give the example coil (450 turns on 16 mm) 7.1 to 8.85 MHz when its
/// circuit is a free disc of 50 down to 15 mm radius, where this route says 5.85 MHz.
pub const BAND_HIGH_FLOATING: f64 = 1.52;

/// How firmly the foot is joined to earth, which decides how far the band reaches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Foot {
    /// By a wire or an instrument's ground.
    Earthed,
    /// Not at all, or by a hand.
    Floating,
}

/// How far the winding's own measures may be off; zero where nothing is said.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tolerance {
    /// Of the diameter, in metre.
    pub diameter_m: f64,
    /// Of the length, in metre.
    pub length_m: f64,
    /// Of the number of turns.
    pub turns: f64,
}

/// Why the route gives nothing.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum HandbookError {
    /// The formulas and the table are for cylinders.
    #[error("handbook route: found shape \"{found}\", a cylinder is wanted")]
    Shape {
        /// The shape.
        found: &'static str,
    },
    /// The self-capacitance table ends before this coil.
    #[error(
        "handbook route: found a length of {found:.3} diameters, {LENGTH_RATIO_LOW} to {LENGTH_RATIO_HIGH} is tabulated"
    )]
    LengthRatio {
        /// Length over diameter.
        found: f64,
    },
}

/// The winding as a cylinder.
///
/// # Errors
/// [`HandbookError::Shape`] for any other shape.
pub fn cylinder(winding: &Winding) -> Result<Cylinder, HandbookError> {
    winding.cylinder().ok_or_else(|| HandbookError::Shape {
        found: winding.shape.name(),
    })
}

/// The tabulated self-capacitance of a cylinder with its foot earthed, in farad.
///
/// # Errors
/// [`HandbookError::LengthRatio`] outside the table.
pub fn capacitance_f(coil: &Cylinder) -> Result<f64, HandbookError> {
    self_capacitance_f(coil.diameter_m, coil.length_m).ok_or(HandbookError::LengthRatio {
        found: coil.length_m / coil.diameter_m,
    })
}

/// Resonance of an inductance and a capacitance, in hertz: 1/(2π√(LC)), Thomson 1853.
pub fn thomson_hz(inductance_h: f64, capacitance_f: f64) -> f64 {
    1.0 / (TAU * (inductance_h * capacitance_f).sqrt())
}

/// The resonance of a cylinder with its band.
///
/// `inductance_h` replaces the formula where it was measured. The band is that of the published comparison, wider above
/// when the circuit floats, and widened by the winding's own tolerances, taken as independent.
///
/// # Errors
/// [`HandbookError::LengthRatio`] outside the self-capacitance table.
pub fn resonance(
    coil: &Cylinder,
    foot: Foot,
    tolerance: Tolerance,
    inductance_h: Option<f64>,
) -> Result<Resonance, HandbookError> {
    let inductance_h = inductance_h.unwrap_or_else(|| coil.inductance_h());
    let value_hz = thomson_hz(inductance_h, capacitance_f(coil)?);
    let spread = tolerance_ratio(coil, tolerance);
    let high = match foot {
        Foot::Earthed => BAND_HIGH_EARTHED,
        Foot::Floating => BAND_HIGH_FLOATING,
    };
    Ok(Resonance {
        value_hz,
        low_hz: value_hz * BAND_LOW * (1.0 - spread),
        high_hz: value_hz * high * (1.0 + spread),
        route: ROUTE.to_owned(),
    })
}

/// By what share of itself the resonance moves with the winding's tolerances: the root of the sum of the squares.
fn tolerance_ratio(coil: &Cylinder, tolerance: Tolerance) -> f64 {
    let value = |coil: &Cylinder| {
        capacitance_f(coil).map(|capacitance_f| thomson_hz(coil.inductance_h(), capacitance_f))
    };
    let shifted = [
        Cylinder {
            diameter_m: coil.diameter_m + tolerance.diameter_m,
            ..*coil
        },
        Cylinder {
            length_m: coil.length_m + tolerance.length_m,
            ..*coil
        },
        Cylinder {
            turns: coil.turns + tolerance.turns,
            ..*coil
        },
    ];
    let Ok(here) = value(coil) else {
        return 0.0;
    };
    // A shifted coil that leaves the table adds nothing: the table's edge is itself far less certain than that.
    shifted
        .iter()
        .filter_map(|coil| value(coil).ok())
        .map(|there| (there / here - 1.0).powi(2))
        .sum::<f64>()
        .sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    const EXAMPLE: Cylinder = Cylinder {
        turns: 450.0,
        diameter_m: 0.01622,
        length_m: 0.099,
        bare_m: 0.0002,
    };

    fn example(foot: Foot, tolerance: Tolerance) -> Resonance {
        resonance(&EXAMPLE, foot, tolerance, None).unwrap()
    }

    #[test]
    fn a_floating_circuit_has_the_same_value_and_a_higher_upper_edge() {
        let (earthed, floating) = (
            example(Foot::Earthed, Tolerance::default()),
            example(Foot::Floating, Tolerance::default()),
        );
        assert!((earthed.value_hz - floating.value_hz).abs() < 1e-6);
        assert!((earthed.low_hz - floating.low_hz).abs() < 1e-6);
        // The ring computation's earthed 6.24 MHz and floating 8.85 MHz lie inside.
        assert!(earthed.low_hz < 6.24e6 && 6.24e6 < earthed.high_hz);
        assert!(earthed.high_hz < 8.85e6 && 8.85e6 < floating.high_hz);
    }

    #[test]
    fn the_band_holds_every_coil_of_the_published_comparison() {
        // Route over measured − 1, in per cent: the comparison's own extremes and what lies between.
        for off in [-11.3, -5.5, -2.2, -1.9, -1.8, -0.5, 1.0, 3.4] {
            let measured_over_route = 1.0 / (1.0 + off / 100.0);
            assert!(measured_over_route >= BAND_LOW - 5e-4, "{off}");
            assert!(measured_over_route <= BAND_HIGH_EARTHED + 5e-4, "{off}");
        }
    }

    #[test]
    fn tolerances_widen_the_band_as_independent_errors_do() {
        let only = |tolerance| {
            let wide = example(Foot::Earthed, tolerance);
            wide.high_hz / (wide.value_hz * BAND_HIGH_EARTHED) - 1.0
        };
        let diameter = Tolerance {
            diameter_m: 0.0001,
            ..Tolerance::default()
        };
        let turns = Tolerance {
            turns: 3.0,
            ..Tolerance::default()
        };
        let both = Tolerance {
            turns: 3.0,
            ..diameter
        };
        // f goes as 1/N at a fixed length, within the small wire corrections.
        assert!((only(turns) - 3.0 / 453.0).abs() < 1e-4, "{}", only(turns));
        let want = only(diameter).hypot(only(turns));
        assert!((only(both) - want).abs() < 1e-9);
        assert!(only(Tolerance::default()).abs() < 1e-12);
    }

    #[test]
    fn a_coil_outside_the_table_is_refused_with_the_table_s_range() {
        let flat = Cylinder {
            length_m: 0.001,
            ..EXAMPLE
        };
        insta::assert_snapshot!(resonance(&flat, Foot::Earthed, Tolerance::default(), None).unwrap_err(),
            @"handbook route: found a length of 0.062 diameters, 0.1 to 50 is tabulated");
    }

    proptest::proptest! {
        #[test]
        fn all_lengths_times_s_give_the_resonance_over_s(s in 0.2_f64..20.0) {
            let scaled = Cylinder {
                turns: EXAMPLE.turns,
                diameter_m: EXAMPLE.diameter_m * s,
                length_m: EXAMPLE.length_m * s,
                bare_m: EXAMPLE.bare_m * s,
            };
            let of = |coil: &Cylinder| resonance(coil, Foot::Earthed, Tolerance::default(), None).unwrap().value_hz;
            proptest::prop_assert!((of(&scaled) * s / of(&EXAMPLE) - 1.0).abs() < 1e-12);
        }
    }
}
