//! The losses of the copper: direct-current resistance, skin effect, the crowding of close turns.

use nalgebra::Complex;

use crate::coil::inductance::MU0_H_PER_M;
use crate::coil::numeric::interpolate::{between, mix};

/// Resistivity of annealed copper (100 % IACS) at 20 °C, Ω·m.
///
/// 0.15328 Ω·g/m² at 8.89 g/cm³; NBS Circular 31, Handbook 100.
pub const COPPER_OHM_M: f64 = 1.7241e-8;

/// Temperature coefficient of copper's resistance at 20 °C, per kelvin; NBS Handbook 100 (from memory).
pub const COPPER_PER_K: f64 = 0.00393;

/// Density of copper, kg/m³; NBS Circular 31.
pub const COPPER_KG_PER_M3: f64 = 8890.0;

/// Returns the resistance of round copper wire at a temperature, in ohms per metre.
///
/// ρ₂₀·(1 + α(T − 20 °C))/(πd²/4). Tolerance of the wire's diameter doubles in the result.
pub fn resistance_ohm_per_m(bare_diameter_m: f64, temperature_c: f64) -> f64 {
    let area_m2 = std::f64::consts::FRAC_PI_4 * bare_diameter_m * bare_diameter_m;
    COPPER_OHM_M * (1.0 + COPPER_PER_K * (temperature_c - 20.0)) / area_m2
}

/// Returns the skin depth in copper at 20 °C, in metres: √(ρ/(π·f·μ0)).
pub fn skin_depth_m(frequency_hz: f64) -> f64 {
    (COPPER_OHM_M / (std::f64::consts::PI * frequency_hz * MU0_H_PER_M)).sqrt()
}

/// Returns the resistance of a straight round wire over its direct-current value, for radius/skin depth.
///
/// Re[(ka/2)·J0(ka)/J1(ka)] with ka = (1 − j)·a/δ; NBS Circular 74. Exact for a lone straight wire. J0/J1 comes from the
/// recurrence J(n−1)/J(n) = 2n/z − 1/(J(n)/J(n+1)) run downwards, which is stable because J is its smallest solution
/// once n > |z|; it starts 40 orders above, where the start value no longer shows in 15 digits. The work grows as a/δ.
pub fn skin_ratio(radius_over_depth: f64) -> f64 {
    if radius_over_depth < 1e-4 {
        // The ratio is 1 + (a/δ)⁴/48, which rounds to one; the recurrence would divide by zero at direct current.
        return 1.0;
    }
    let z = Complex::new(radius_over_depth, -radius_over_depth);
    (z * 0.5 * bessel_ratio(radius_over_depth, 1.0)).re
}

/// Returns J(n−1)/J(n) at (1 − j)·a/δ, n a whole number from 1 on, a/δ above 0; see [`skin_ratio`].
pub(super) fn bessel_ratio(radius_over_depth: f64, lowest: f64) -> Complex<f64> {
    let z = Complex::new(radius_over_depth, -radius_over_depth);
    let one = Complex::new(1.0, 0.0);
    let mut order = z.norm().ceil() + 40.0;
    let mut ratio = 2.0 * order / z;
    while order > lowest {
        order -= 1.0;
        ratio = 2.0 * order * z.inv() - one / ratio;
    }
    ratio
}

/// Spacings (pitch/bare diameter) of Medhurst's columns.
const SPACINGS: [f64; 10] = [1.0, 1.111, 1.25, 1.429, 1.667, 2.0, 2.5, 3.333, 5.0, 10.0];

/// Resistance of a coil over that of its straight wire at high frequency; rows are length/diameter.
///
/// R. G. Medhurst, Wireless Engineer, February 1947 p. 35; several public copies agree. Row 6 has no value at spacing
/// 1.25: the mean of rows 4 and 8 stands there. Row 10 at 1.429 appears as 2.27 or 2.37; 2.37 fits the trend.
const CROWDING: [(f64, [f64; 10]); 11] = [
    (
        0.0,
        [5.31, 3.73, 2.74, 2.12, 1.74, 1.44, 1.20, 1.16, 1.07, 1.02],
    ),
    (
        0.2,
        [5.45, 3.84, 2.83, 2.20, 1.77, 1.48, 1.29, 1.19, 1.08, 1.02],
    ),
    (
        0.4,
        [5.65, 3.99, 2.97, 2.28, 1.83, 1.54, 1.33, 1.21, 1.08, 1.03],
    ),
    (
        0.6,
        [5.80, 4.11, 3.10, 2.38, 1.89, 1.60, 1.38, 1.22, 1.10, 1.03],
    ),
    (
        0.8,
        [5.80, 4.17, 3.20, 2.44, 1.92, 1.64, 1.42, 1.23, 1.10, 1.03],
    ),
    (
        1.0,
        [5.55, 4.10, 3.17, 2.47, 1.94, 1.67, 1.45, 1.24, 1.10, 1.03],
    ),
    (
        2.0,
        [4.10, 3.36, 2.74, 2.32, 1.98, 1.74, 1.50, 1.28, 1.13, 1.04],
    ),
    (
        4.0,
        [3.54, 3.05, 2.60, 2.27, 2.01, 1.78, 1.54, 1.32, 1.15, 1.04],
    ),
    (
        6.0,
        [3.31, 2.92, 2.61, 2.29, 2.03, 1.80, 1.56, 1.34, 1.16, 1.04],
    ),
    (
        8.0,
        [3.20, 2.90, 2.62, 2.34, 2.08, 1.81, 1.57, 1.34, 1.165, 1.04],
    ),
    (
        10.0,
        [3.23, 2.93, 2.65, 2.37, 2.10, 1.83, 1.58, 1.35, 1.17, 1.04],
    ),
];

/// The row for an infinitely long coil.
const CROWDING_LONG: [f64; 10] = [3.41, 3.11, 2.815, 2.51, 2.22, 1.93, 1.65, 1.395, 1.19, 1.05];

/// Returns Medhurst's factor: resistance of the coil over that of the straight wire, both at high frequency.
///
/// Read bilinearly between the table's places; above l/D 10 along D/l to the row for an infinite coil. About 3 %,
/// of either sign, and only where the wire is thick against the skin depth (d ≫ 2δ). `None` outside spacings 1 to 10.
pub fn crowding_ratio(length_over_diameter: f64, pitch_over_wire: f64) -> Option<f64> {
    let row = |values: &[f64; 10]| {
        let columns: Vec<(f64, f64)> = SPACINGS.into_iter().zip(*values).collect();
        let (low, high, share) = between(&columns, |column| column.0, pitch_over_wire)?;
        Some(mix(low.1, high.1, share))
    };
    if let Some((low, high, share)) = between(&CROWDING, |row| row.0, length_over_diameter) {
        return Some(mix(row(&low.1)?, row(&high.1)?, share));
    }
    let last = CROWDING
        .last()
        .filter(|last| length_over_diameter > last.0)?;
    let share = 1.0 - last.0 / length_over_diameter;
    Some(mix(row(&last.1)?, row(&CROWDING_LONG)?, share))
}

/// Why [`layer_ratio`] differs from Medhurst's table, in words fit for a report.
pub const LAYER_WORDS: &str = "Dowell's layer: a foil in an even field along the axis, without the field at the ends and \
                               between spaced turns, which Medhurst measured; for long close coils";

/// Returns the resistance of a single layer at a frequency over its direct-current value: the second method beside [`skin_ratio`]
/// × [`crowding_ratio`].
///
/// P. L. Dowell, Proc. IEE 113 (1966) 1387, one layer, quoted from memory: Δ·(sinh 2Δ + sin 2Δ)/(cosh 2Δ − cos 2Δ) with Δ =
/// (h/δ)·√(h/p), h = d·√(π/4) the side of the square of the wire's area, δ the skin depth, p the pitch. It takes the layer as a
/// foil in a field along the axis, so it holds for long, close-wound coils. There it is 6 % below Medhurst's table on the example
/// coil; for short or spaced coils it is not reliable.
pub fn layer_ratio(bare_m: f64, pitch_m: f64, depth_m: f64) -> f64 {
    let side_m = bare_m * std::f64::consts::FRAC_PI_4.sqrt();
    let thickness = side_m / depth_m * (side_m / pitch_m).sqrt();
    if thickness < 1e-2 {
        // 1 + 4Δ⁴/45, below the last digits that the quotient of small differences keeps.
        return 1.0 + 4.0 * thickness.powi(4) / 45.0;
    }
    let double = 2.0 * thickness;
    // Divided by cosh, which overflows for a foil of hundreds of depths.
    let (sine, cosine) = double.sin_cos();
    let sech = double.cosh().recip();
    thickness * (double.tanh() + sine * sech) / (1.0 - cosine * sech)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_skin_ratio_meets_its_limits() {
        assert!((skin_ratio(0.0) - 1.0).abs() < 1e-15);
        // Small: 1 + (a/δ)⁴/48. Large: a/(2δ) + 1/4 + 3δ/(32a)·…, so within 10⁻³ of the first two terms at 200.
        assert!((skin_ratio(0.1) - (1.0 + 1e-4 / 48.0)).abs() < 1e-9);
        assert!(
            (skin_ratio(200.0) - 100.25).abs() < 1e-3,
            "{}",
            skin_ratio(200.0)
        );
    }

    #[test]
    fn the_skin_ratio_is_continuous_where_the_short_form_ends() {
        assert!((skin_ratio(1.0001e-4) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn places_of_the_crowding_table_come_out_as_printed() {
        let at = |l_over_d, spacing, want: f64| {
            let got = crowding_ratio(l_over_d, spacing).unwrap();
            assert!((got - want).abs() < 1e-12, "{l_over_d} {spacing}: {got}");
        };
        at(4.0, 1.111, 3.05);
        at(10.0, 2.0, 1.83);
        at(0.0, 10.0, 1.02);
        at(3.0, 1.0, 3.82);
        at(20.0, 1.0, 3.32);
        at(f64::INFINITY, 1.0, 3.41);
    }

    #[test]
    fn a_spacing_that_is_not_in_the_table_is_refused() {
        assert_eq!(crowding_ratio(4.0, 0.99), None);
        assert_eq!(crowding_ratio(4.0, 10.1), None);
        assert_eq!(crowding_ratio(-1.0, 2.0), None);
        assert_eq!(crowding_ratio(f64::NAN, 2.0), None);
    }

    #[test]
    fn a_layer_meets_its_limits() {
        // Thin: 1 + 4Δ⁴/45. Thick: Δ itself, the current on one face.
        let thin = layer_ratio(1e-4, 1e-4, 1e-3);
        let side = 0.1 * std::f64::consts::FRAC_PI_4.sqrt();
        let thickness = side * side.sqrt() / 0.1_f64.sqrt();
        assert!(
            (thin - 1.0 - 4.0 * thickness.powi(4) / 45.0).abs() < 1e-8,
            "{thin}"
        );
        let side = 1000.0 * std::f64::consts::FRAC_PI_4.sqrt();
        let thick = layer_ratio(1.0, 1.0, 1e-3);
        let delta = side * std::f64::consts::FRAC_PI_4.sqrt().sqrt();
        assert!((thick / delta - 1.0).abs() < 1e-12, "{thick}");
        let (below, above) = (layer_ratio(1e-2, 1e-2, 1.199), layer_ratio(1e-2, 1e-2, 0.8));
        assert!((below - 1.0).abs() < 1e-8 && (above - 1.0).abs() < 1e-7);
    }

    #[test]
    fn two_methods_agree_within_a_tenth_on_the_example_coil() {
        // Computed before by another program of ours: 12.584 Ω become 75.7 Ω as a layer, 80.6 Ω by Medhurst.
        let depth_m = skin_depth_m(6.230e6);
        let layer = layer_ratio(0.2e-3, 0.22e-3, depth_m);
        assert!((12.584 * layer / 75.7 - 1.0).abs() < 2e-3, "{layer}");
        let table = skin_ratio(0.1e-3 / depth_m) * crowding_ratio(6.10, 1.10).unwrap();
        assert!((layer / table - 0.94).abs() < 0.01, "{layer} {table}");
    }

    proptest! {
        #[test]
        fn a_higher_frequency_never_lowers_the_resistance(x in 0.0_f64..60.0) {
            prop_assert!(skin_ratio(x * 1.01) >= skin_ratio(x) - 1e-13);
        }

        #[test]
        fn thicker_and_cooler_wire_resists_less(d in 1e-5_f64..1e-2, t in -40.0_f64..100.0) {
            prop_assert!(resistance_ohm_per_m(d * 1.01, t) < resistance_ohm_per_m(d, t));
            prop_assert!(resistance_ohm_per_m(d, t + 1.0) > resistance_ohm_per_m(d, t));
        }
    }
}
