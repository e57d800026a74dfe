//! The tabulated self-capacitance of a single-layer coil with one end earthed.

use crate::coil::numeric::interpolate::{between, mix};

/// Medhurst's H in pF per cm of diameter against length/diameter.
///
/// R. G. Medhurst, "H.F. resistance and self-capacitance of single-layer solenoids", Wireless Engineer, February 1947
/// p. 35 and March 1947 p. 80, as transcribed in 1997 on a public mailing-list archive. A circulating copy has 0.70 at
/// 0.7, a misprint for 0.47.
const TABLE: &[(f64, f64)] = &[
    (0.1, 0.96),
    (0.15, 0.79),
    (0.2, 0.70),
    (0.25, 0.64),
    (0.3, 0.60),
    (0.35, 0.57),
    (0.4, 0.54),
    (0.45, 0.52),
    (0.5, 0.50),
    (0.6, 0.48),
    (0.7, 0.47),
    (0.8, 0.46),
    (0.9, 0.46),
    (1.0, 0.46),
    (1.5, 0.47),
    (2.0, 0.50),
    (2.5, 0.56),
    (3.0, 0.61),
    (3.5, 0.67),
    (4.5, 0.77),
    (5.0, 0.81),
    (6.0, 0.92),
    (7.0, 1.01),
    (8.0, 1.12),
    (9.0, 1.22),
    (10.0, 1.32),
    (15.0, 1.86),
    (20.0, 2.36),
    (25.0, 2.9),
    (30.0, 3.4),
    (40.0, 4.6),
    (50.0, 5.8),
];

/// The smallest length/diameter of the table.
pub const LENGTH_RATIO_LOW: f64 = 0.1;

/// The largest length/diameter of the table.
pub const LENGTH_RATIO_HIGH: f64 = 50.0;

/// Returns the self-capacitance in farads, H·D, with H read between the table's rows; `None` outside 0.1 ≤ l/D ≤ 50.
///
/// One end is earthed and the other open. Medhurst claims about 5 % (from memory); his coils sat on solid rods and his
/// rows above l/D 30 are probably extrapolated. Outside 0.8 to 5 a computation of the field
/// disagrees with the table by more than 10 %: below by the leads and the rod of his rig, above up to 31 % at 20 (computed,
/// not measured). On measured coils the table errs to the high side more often, so that the resonance comes out low.
pub fn self_capacitance_f(mean_diameter_m: f64, length_m: f64) -> Option<f64> {
    let (low, high, share) = between(TABLE, |row| row.0, length_m / mean_diameter_m)?;
    let h_f_per_m = mix(low.1, high.1, share) * 1e-10;
    Some(h_f_per_m * mean_diameter_m)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_stated_range_is_the_table_s_own() {
        assert!(TABLE.is_sorted_by(|a, b| a.0 < b.0));
        assert!((TABLE.first().unwrap().0 - LENGTH_RATIO_LOW).abs() < 1e-15);
        assert!((TABLE.last().unwrap().0 - LENGTH_RATIO_HIGH).abs() < 1e-15);
        assert!(self_capacitance_f(0.01, 0.01 * 0.09).is_none());
        assert!(self_capacitance_f(0.01, 0.01 * 50.1).is_none());
    }

    #[test]
    fn between_two_rows_a_straight_line_is_taken() {
        // Half way from 0.47 to 0.50 pF/cm on a coil of 1 cm.
        let got_f = self_capacitance_f(0.01, 0.0175).unwrap();
        assert!((got_f - 0.485e-12).abs() < 1e-18, "{got_f}");
    }
}
