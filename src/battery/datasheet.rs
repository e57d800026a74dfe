//! A discharge curve through three points of a data sheet: a reference to look at, or a finished run kept in five numbers. It is
//! no forecast: fitted to a part of a run it was 15 to 26 % of the run off.

/// Parameters of V(q) = E0 - K Q / (Q - q) + A exp(-B q) - R i, with charges in ampere hour.
///
/// Source: Tremblay, Dessaint, Dekkiche, IEEE VPPC 2007, after Shepherd, J. Electrochem. Soc. 112 (1965) 657; parameters of
/// the table from memory. It turns down too early: at 98 % of its charge the table's nickel-metal cell is at 0.34 V.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Form {
    /// E0, in volt.
    pub constant_v: f64,
    /// K, in volt.
    pub polarisation_v: f64,
    /// Q, in ampere hour.
    pub charge_ah: f64,
    /// A, in volt.
    pub exponential_v: f64,
    /// B, for each ampere hour.
    pub exponential_per_ah: f64,
    /// R, in ohm.
    pub resistance_ohm: f64,
}

/// Three points of a data sheet's curve at one current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Points {
    /// Voltage when full, in volt.
    pub full_v: f64,
    /// Where the steep beginning ends: charge in ampere hour, voltage in volt.
    pub settled: (f64, f64),
    /// Where the level part ends.
    pub nominal: (f64, f64),
    /// Charge in all, in ampere hour.
    pub charge_ah: f64,
    /// Internal resistance, in ohm.
    pub resistance_ohm: f64,
    /// Current of the curve, in ampere.
    pub current_a: f64,
}

/// The steep beginning has gone to a twentieth where it is said to end: B = 3 / Q there.
pub fn exponential_per_ah(settled_ah: f64) -> f64 {
    3.0 / settled_ah
}

impl Form {
    /// Through three points; `None` unless charges rise and voltages fall.
    pub fn through(points: &Points) -> Option<Self> {
        let (settled_ah, settled_v) = points.settled;
        let (nominal_ah, nominal_v) = points.nominal;
        let rises = 0.0 < settled_ah && settled_ah < nominal_ah && nominal_ah < points.charge_ah;
        let falls = points.full_v > settled_v && settled_v > nominal_v;
        let exponential_v = points.full_v - settled_v;
        let exponential_per_ah = exponential_per_ah(settled_ah);
        let decayed = (-exponential_per_ah * nominal_ah).exp_m1();
        let fallen_v = points.full_v - nominal_v + exponential_v * decayed;
        let polarisation_v = fallen_v * (points.charge_ah - nominal_ah) / nominal_ah;
        let drop_v = points.resistance_ohm * points.current_a;
        (rises && falls).then_some(Self {
            constant_v: points.full_v + polarisation_v + drop_v - exponential_v,
            polarisation_v,
            charge_ah: points.charge_ah,
            exponential_v,
            exponential_per_ah,
            resistance_ohm: points.resistance_ohm,
        })
    }

    /// Voltage after a charge in ampere hour, at a current in ampere, in volt.
    pub fn volts_v(&self, given_ah: f64, current_a: f64) -> f64 {
        self.constant_v - self.polarisation_v * self.charge_ah / (self.charge_ah - given_ah)
            + self.exponential_v * (-self.exponential_per_ah * given_ah).exp()
            - self.resistance_ohm * current_a
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_out_of_order_give_no_curve() {
        let points = Points {
            full_v: 9.8,
            settled: (0.04, 9.0),
            nominal: (0.18, 8.4),
            charge_ah: 0.2,
            resistance_ohm: 1.0,
            current_a: 0.04,
        };
        assert!(Form::through(&points).is_some());
        let swapped = Points {
            settled: points.nominal,
            nominal: points.settled,
            ..points
        };
        assert_eq!(Form::through(&swapped), None);
    }
}
