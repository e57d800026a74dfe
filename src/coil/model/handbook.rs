//! The handbook route to the resonance: inductance by formula, self-capacitance from a table.
//!
//! It takes a cylinder and gives a value with a band. It knows nothing of planes or neighbours; their possible effect is in the
//! band.

use std::f64::consts::TAU;

use super::self_capacitance::{LENGTH_RATIO_HIGH, LENGTH_RATIO_LOW, self_capacitance_f};
use crate::coil::winding::Cylinder;
use crate::coil::{Resonance, Route};

/// Lower edge of the band over the value: 1/1.034.
///
/// On published coils measured with the foot earthed (public mailing-list archive, February 2001; those with full
/// geometry are 0.6 to 1.8 m long and run at 0.09 to 0.37 MHz) the handbook route came out between 11.3 % below and
/// 3.4 % above the measured frequency. It was taken there with Wheeler's inductance, within 0.6 % of the sheet's. No
/// measured coil of battery size with full geometry was found.
pub const BAND_LOW: f64 = 0.967;

/// Upper edge of the band over the value: 1/0.887, from the same comparison.
pub const BAND_HIGH: f64 = 1.127;

/// Why the route gives nothing.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum HandbookError {
    /// The self-capacitance table ends before this coil.
    #[error(
        "handbook route: found a length of {found:.3} diameters, {LENGTH_RATIO_LOW} to {LENGTH_RATIO_HIGH} is tabulated"
    )]
    LengthRatio {
        /// Length over diameter.
        found: f64,
    },
}

/// Returns the tabulated self-capacitance of a cylinder with its foot earthed, in farads.
///
/// # Errors
/// [`HandbookError::LengthRatio`] outside the table.
pub fn capacitance_f(coil: &Cylinder) -> Result<f64, HandbookError> {
    self_capacitance_f(coil.diameter_m, coil.length_m).ok_or(HandbookError::LengthRatio {
        found: coil.length_m / coil.diameter_m,
    })
}

/// Returns the resonance of an inductance and a capacitance, in hertz: 1/(2π√(LC)), Thomson 1853.
pub fn thomson_hz(inductance_h: f64, capacitance_f: f64) -> f64 {
    1.0 / (TAU * (inductance_h * capacitance_f).sqrt())
}

/// Returns the resonance of a cylinder with its foot earthed, with the band of the published comparison.
///
/// # Errors
/// [`HandbookError::LengthRatio`] outside the self-capacitance table.
pub fn resonance(coil: &Cylinder) -> Result<Resonance, HandbookError> {
    let value_hz = thomson_hz(coil.inductance_h(), capacitance_f(coil)?);
    Ok(Resonance {
        value_hz,
        low_hz: value_hz * BAND_LOW,
        high_hz: value_hz * BAND_HIGH,
        route: Route::Handbook,
    })
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

    #[test]
    fn the_band_holds_every_coil_of_the_published_comparison() {
        // Route over measured − 1, in per cent: the comparison's own extremes and values between them.
        for off in [-11.3, -5.5, -2.2, -1.9, -1.8, -0.5, 1.0, 3.4] {
            let measured_over_route = 1.0 / (1.0 + off / 100.0);
            assert!(measured_over_route >= BAND_LOW - 5e-4, "{off}");
            assert!(measured_over_route <= BAND_HIGH + 5e-4, "{off}");
        }
        // The ring model's 6.23 MHz for the example coil lies inside.
        let found = resonance(&EXAMPLE).unwrap();
        assert!((found.low_hz..found.high_hz).contains(&6.23e6));
    }

    #[test]
    fn a_coil_outside_the_table_is_refused_with_the_table_s_range() {
        let flat = Cylinder {
            length_m: 0.001,
            ..EXAMPLE
        };
        insta::assert_snapshot!(resonance(&flat).unwrap_err(),
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
            let of = |coil: &Cylinder| resonance(coil).unwrap().value_hz;
            proptest::prop_assert!((of(&scaled) * s / of(&EXAMPLE) - 1.0).abs() < 1e-12);
        }
    }
}
