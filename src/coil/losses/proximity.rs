//! The losses that a single layer's turns cause in each other: the copper's resistance at a frequency, from direct current up.
//!
//! Below a wire five skin depths thick the currents that the turns drive in each other are computed; above eight depths
//! Medhurst's table holds, which was measured there; between the two one passes into the other.

use std::f64::consts::PI;

use nalgebra::{Complex, SMatrix, SVector};

use super::loss::{bessel_ratio, crowding_ratio, skin_ratio};
use crate::coil::elliptic::complete;
use crate::coil::numeric::interpolate::mix;
use crate::coil::winding::Cylinder;

/// Thickness of a wire, in skin depths, up to which the table has no part in its resistance. Chosen: Dowell's layer and
/// the computed row still agree within 3 % there for close turns.
const TABLE_BEGINS: f64 = 5.0;

/// Thickness of a wire, in skin depths, from which the table alone gives its resistance: chosen; Medhurst asks for wire
/// that is thick against the skin depth.
const TABLE_ALONE: f64 = 8.0;

/// Thickness in radii of a wire at which the computed row and the table are compared: so thin a skin that neither changes.
const THIN_SKIN: f64 = 200.0;

/// Orders of a wire's field that are kept on each side, even or odd: with six, touching turns are right to 2e-5.
const ORDERS: usize = 6;

/// Which form gives a coil's resistance at a frequency.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Crowding {
    /// The turns' own field alone: the wire is thin against the skin depth.
    Field,
    /// Between the two.
    Joined,
    /// The table alone: the wire is thick against the skin depth.
    Table,
}

impl Crowding {
    /// Returns the form for a wire of a bare diameter at a skin depth.
    pub fn of(bare_m: f64, depth_m: f64) -> Self {
        match bare_m / depth_m {
            thickness if thickness <= TABLE_BEGINS => Self::Field,
            thickness if thickness < TABLE_ALONE => Self::Joined,
            _ => Self::Table,
        }
    }

    /// Returns it in words fit for a report.
    pub fn words(self) -> &'static str {
        match self {
            Self::Field => "skin effect, and the field of the other turns in fine wire",
            Self::Joined => "skin effect, and close turns partly by Medhurst's table",
            Self::Table => "skin effect, and close turns by Medhurst's table",
        }
    }
}

/// Returns the resistance of a coil at a skin depth over its direct-current value; `None` outside the table's spacings, 1 to 10
/// wires.
///
/// Up to 5 skin depths of bare diameter: skin ratio plus the loss in the field of the other turns. That loss is the endless row's
/// (`row_excess`) with the mean square of the coil's own field in place of the row's. For thin skins it is drawn to Medhurst's
/// factor. From 8 depths on: skin ratio × [`crowding_ratio`]. Rises with frequency; its limit at direct current is 1. The same
/// current flows in every turn; turns count as circles.
///
/// At low frequency within 2 % of the classical loss in a cross field, by which neighbours change each other's field
/// little. Long close coils are within 10 % of Dowell's layer from 0.5 to 6 depths. At 8 depths the endless row itself lies
/// 11 % below skin ratio × factor for touching turns, 1 % at ten wires apart: the table, measured on thick wire, errs high
/// just above the joint.
pub fn coil_ratio(coil: &Cylinder, depth_m: f64) -> Option<f64> {
    let radius_over_depth = coil.bare_m / 2.0 / depth_m;
    let pitch_over_wire = coil.length_m / coil.turns / coil.bare_m;
    let factor = crowding_ratio(coil.length_m / coil.diameter_m, pitch_over_wire)?;
    let skin = skin_ratio(radius_over_depth);
    let table = skin * factor;
    let share = (2.0 * radius_over_depth - TABLE_BEGINS) / (TABLE_ALONE - TABLE_BEGINS);
    if share >= 1.0 {
        return Some(table);
    }
    let field = field_share(coil);
    let excess = |at: f64| Some(row_excess(at, pitch_over_wire)?.of(field));
    // The neighbours' answer to each other grows with the currents that the field drives, −1 < J2/J0 for thin skins.
    let thin = excess(THIN_SKIN)? / skin_ratio(THIN_SKIN);
    let answer = (thin / (factor - 1.0)).sqrt() - 1.0;
    let driven = Complex::from(1.0) - induced(radius_over_depth, 1) * answer;
    let fine = skin + excess(radius_over_depth)? / driven.norm_sqr();
    let share = share.max(0.0);
    Some(mix(fine, table, share * share * (3.0 - 2.0 * share)))
}

/// Returns the resistance of an endless straight row of wires over its direct-current value. The current is the same in each
/// wire. One side of the row has no field, as inside and outside a long coil. `None` where the spacing is below 1.
///
/// The skin ratio and `row_excess`. With thin skins it gives Medhurst's row for an infinite coil within 1 %.
pub fn row_ratio(radius_over_depth: f64, pitch_over_wire: f64) -> Option<f64> {
    Some(skin_ratio(radius_over_depth) + row_excess(radius_over_depth, pitch_over_wire)?.of(1.0))
}

/// The part of a row's resistance over direct current that its wires drive in each other.
#[derive(Debug, Clone, Copy)]
struct Excess {
    /// By the field of the neighbours about a wire, the same on both sides of the row.
    about: f64,
    /// By the field along the row, which is half the sheet's on the wires.
    along: f64,
}

impl Excess {
    /// With so much of the mean square field along the row as a share of the endless row's.
    fn of(self, field_share: f64) -> f64 {
        self.about + self.along * field_share
    }
}

/// Returns the losses of an endless row of round wires beyond the lone wire's.
///
/// Each wire answers a field r^m·cos mφ with r^−m·a^2m·J(m+1)/J(m−1), J at (1 − j)a/δ; the answers of all wires act on
/// each through the sums over the row 2ζ(n)/pⁿ, and twelve orders are solved together. The two-dimensional problem is that
/// of Butterworth's long coils (S. Butterworth, Phil. Trans. A 222, 1922, from memory), solved in full.
fn row_excess(radius_over_depth: f64, pitch_over_wire: f64) -> Option<Excess> {
    if pitch_over_wire < 1.0 || radius_over_depth.is_nan() {
        return None;
    }
    if radius_over_depth < 1e-4 {
        return Some(Excess {
            about: 0.0,
            along: 0.0,
        });
    }
    let radius_over_pitch = 0.5 / pitch_over_wire;
    // Fields times the wire's radius, over μ0 and one ampere.
    let about = |order: i32| {
        let sum = 2.0 * zeta(order) * radius_over_pitch.powi(order);
        sum / f64::from(order) / (2.0 * PI)
    };
    let along = |order: i32| match order {
        1 => radius_over_pitch / 2.0,
        _ => 0.0,
    };
    let loss = |first: i32, applied: &dyn Fn(i32) -> f64| {
        let order = |index: usize| first + 2 * i32::try_from(index).unwrap_or(0);
        let answers: [Complex<f64>; ORDERS] =
            std::array::from_fn(|index| induced(radius_over_depth, order(index)));
        let matrix = SMatrix::<Complex<f64>, ORDERS, ORDERS>::from_fn(|row, column| {
            let (to, from) = (order(row), order(column));
            let sum = 2.0 * zeta(to + from) * radius_over_pitch.powi(to + from);
            let own = if row == column { 1.0 } else { 0.0 };
            Complex::from(own) - answers[column] * (choose(to + from - 1, to) * sum)
        });
        let fields = SVector::<Complex<f64>, ORDERS>::from_fn(|row, _| applied(order(row)).into());
        let fields = matrix.lu().solve(&fields)?;
        let losses = fields.iter().zip(answers).enumerate();
        let sum: f64 = losses
            .map(|(index, (field, answer))| f64::from(order(index)) * field.norm_sqr() * -answer.im)
            .sum();
        Some((2.0 * PI * radius_over_depth).powi(2) * sum)
    };
    // Cosines of even orders and sines of odd ones do not mix, and both meet their neighbours with the same sign.
    Some(Excess {
        about: loss(2, &about)?,
        along: loss(1, &along)?,
    })
}

/// Returns a wire's response to a field r^m·cos mφ, over that field at its surface: J(m+1)/J(m−1) at (1 − j)·a/δ.
fn induced(radius_over_depth: f64, order: i32) -> Complex<f64> {
    if radius_over_depth < 1e-4 {
        return Complex::from(0.0);
    }
    let order = f64::from(order);
    (bessel_ratio(radius_over_depth, order) * bessel_ratio(radius_over_depth, order + 1.0)).inv()
}

/// Returns the mean square of the field in a coil's turns, as a share of the endless row's (I/2p)².
///
/// It sums filaments of circles, Biot and Savart in complete elliptic integrals (Smythe 1950, from memory), along the axis and
/// across it. To them comes a circle's own mean field in its wire, I/4πR·(ln(8R/a) − 3/4). That is the force that widens it over
/// its current, by Rosa & Grover's inductance μ0R·(ln(8R/a) − 7/4).
fn field_share(coil: &Cylinder) -> f64 {
    let pitch_m = coil.length_m / coil.turns;
    let radius_m = coil.diameter_m / 2.0;
    // The field of one circle at another, a number of pitches above it, over I/2p; summed up to that place.
    let own = pitch_m / (2.0 * PI * radius_m) * ((16.0 * radius_m / coil.bare_m).ln() - 0.75);
    // Half of it, as a turn counts it from below and from above.
    let (mut axial, mut radial) = (own / 2.0, 0.0);
    let mut sums = vec![(axial, radial)];
    for place in 1..whole(coil.turns) {
        let height_m = place as f64 * pitch_m;
        let reach2 = 4.0 * radius_m * radius_m + height_m * height_m;
        let found = complete(height_m * height_m / reach2);
        let scale = pitch_m / (PI * reach2.sqrt());
        axial += scale * found.k_minus_e;
        let across = 2.0 * (radius_m / height_m).powi(2) * found.e - found.k_minus_e;
        radial += scale * height_m / radius_m * across;
        sums.push((axial, radial));
    }
    let squares = sums
        .iter()
        .zip(sums.iter().rev())
        .map(|(below, above)| (below.0 + above.0).powi(2) + (below.1 - above.1).powi(2));
    squares.sum::<f64>() / sums.len() as f64
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a number of turns, positive and far below the whole numbers' end"
)]
fn whole(turns: f64) -> usize {
    turns.round().max(1.0) as usize
}

/// Riemann's zeta for whole n from 2 on: twenty terms and the tail by Euler and Maclaurin (DLMF 25.2.9), right to 1e-8.
fn zeta(n: i32) -> f64 {
    let last = 20.0_f64;
    let terms: f64 = (1..=20).map(|k| f64::from(k).powi(-n)).sum();
    let n = f64::from(n);
    terms + last.powf(-n) * (last / (n - 1.0) - 0.5 + n / (12.0 * last))
}

/// Returns the number of ways to choose k of n.
fn choose(n: i32, k: i32) -> f64 {
    (1..=k).fold(1.0, |ways, step| {
        ways * f64::from(n - k + step) / f64::from(step)
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// 0.1 mm of bare wire on 20 mm, at a spacing.
    fn coil(turns: f64, pitch_over_wire: f64) -> Cylinder {
        Cylinder {
            turns,
            diameter_m: 0.02,
            length_m: turns * pitch_over_wire * 1e-4,
            bare_m: 1e-4,
        }
    }

    fn ratio(coil: &Cylinder, thickness: f64) -> f64 {
        coil_ratio(coil, coil.bare_m / thickness).unwrap()
    }

    #[test]
    fn a_direct_current_meets_the_resistance_for_direct_current() {
        for spacing in [1.0, 1.1, 2.0, 10.0] {
            assert!((ratio(&coil(600.0, spacing), 1e-6) - 1.0).abs() < 1e-12);
            assert!((ratio(&coil(600.0, spacing), 0.1) - 1.0).abs() < 1e-5);
        }
    }

    #[test]
    fn thick_wire_has_medhursts_factor_alone() {
        let coil = coil(600.0, 1.111);
        let table = crowding_ratio(600.0 * 1.111e-4 / 0.02, 1.111).unwrap();
        for thickness in [8.0, 12.0, 100.0] {
            let table = skin_ratio(thickness / 2.0) * table;
            assert!((ratio(&coil, thickness) / table - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn nothing_jumps_where_the_forms_meet() {
        for thickness in [2e-4, 5.0, 8.0] {
            let coil = coil(600.0, 1.05);
            let (below, above) = (
                ratio(&coil, thickness * (1.0 - 1e-6)),
                ratio(&coil, thickness * (1.0 + 1e-6)),
            );
            assert!(
                (above / below - 1.0).abs() < 1e-5,
                "{thickness}: {below} {above}"
            );
        }
    }

    #[test]
    fn a_spacing_outside_the_table_is_refused() {
        assert_eq!(coil_ratio(&coil(600.0, 10.1), 1e-4), None);
        assert_eq!(row_ratio(1.0, 0.99), None);
        assert_eq!(row_ratio(f64::NAN, 1.1), None);
    }

    #[test]
    fn zeta_is_eulers() {
        // π²/6, π⁴/90, π⁶/945 (DLMF 25.6.1).
        for (n, want) in [
            (2, PI.powi(2) / 6.0),
            (4, PI.powi(4) / 90.0),
            (6, PI.powi(6) / 945.0),
        ] {
            assert!((zeta(n) / want - 1.0).abs() < 1e-7, "{n}: {}", zeta(n));
        }
    }

    #[test]
    fn the_field_of_a_long_coil_is_half_the_sheets_and_falls_off_at_its_ends() {
        // 20 000 turns of a pitch a hundredth of the diameter: as an endless row but for the ends.
        let long = field_share(&Cylinder {
            turns: 20_000.0,
            diameter_m: 0.02,
            length_m: 4.0,
            bare_m: 1e-4,
        });
        assert!((long - 1.0).abs() < 0.01, "{long}");
        let short = field_share(&Cylinder {
            turns: 100.0,
            diameter_m: 0.02,
            length_m: 0.02,
            bare_m: 1e-4,
        });
        assert!((0.4..0.6).contains(&short), "{short}");
    }

    proptest! {
        #[test]
        fn a_higher_frequency_costs_more_without_a_jump(
            thickness in 0.01_f64..20.0, spacing in 1.0_f64..9.9, turns in 10.0_f64..2000.0,
        ) {
            let coil = coil(turns, spacing);
            let (here, next) = (ratio(&coil, thickness), ratio(&coil, thickness * 1.01));
            prop_assert!(here >= 1.0 - 1e-12 && next >= here * (1.0 - 1e-12));
            // The steepest is the fourth power of the lone excess, below the cube of all.
            prop_assert!(next <= here * 1.01_f64.powi(4));
        }
    }
}
