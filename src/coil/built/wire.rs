//! Round copper wire: gauges and metric sizes, bare.

use crate::units::{self, Unit};

/// The American gauges whose sizes are listed in tenths of a mil.
const LISTED_AWG: std::ops::RangeInclusive<i32> = 20..=40;

/// One mil, 0.001 inch, in metres: exact.
pub const MIL_M: f64 = 25.4e-6;

/// The thinnest bare wire taken, in metres: chosen, thinner wire is not wound by hand.
const THINNEST_M: f64 = 10e-6;

/// The thickest bare wire taken, in metres: chosen, thicker is tube.
const THICKEST_M: f64 = 10e-3;

/// How a wire's size is named.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Gauge {
    /// By its bare diameter, in metres.
    Metric(f64),
    /// By its number in the American wire gauge; −3 is 0000.
    Awg(i32),
}

/// Why a text names no wire.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum GaugeError {
    /// Neither a diameter nor a gauge number.
    #[error("expected a wire size, such as \"0.2 mm\" or \"32 AWG\"")]
    NotASize,
    /// A size no one winds with.
    #[error("expected from 0.01 mm to 10 mm or 50 AWG to 0 AWG")]
    OutOfRange,
}

impl Gauge {
    /// Reads `"0.2 mm"`, `"8 mil"`, `"32 AWG"` or `"AWG 32"`, the letters large or small.
    ///
    /// # Errors
    /// [`GaugeError::NotASize`] for any other text, [`GaugeError::OutOfRange`] for a wire thinner than 10 µm or 50 AWG
    /// or thicker than 10 mm or 0 AWG.
    pub fn parse(text: &str) -> Result<Self, GaugeError> {
        let trimmed = text.trim();
        let shouted = trimmed.to_ascii_uppercase();
        let number = shouted
            .strip_suffix("AWG")
            .or_else(|| shouted.strip_prefix("AWG"));
        if let Some(number) = number {
            let number: i32 = number.trim().parse().map_err(|_| GaugeError::NotASize)?;
            return if (0..=50).contains(&number) {
                Ok(Self::Awg(number))
            } else {
                Err(GaugeError::OutOfRange)
            };
        }
        let bare_m = units::parse(trimmed, Unit::Metre).map_err(|_| GaugeError::NotASize)?;
        if (THINNEST_M..=THICKEST_M).contains(&bare_m) {
            Ok(Self::Metric(bare_m))
        } else {
            Err(GaugeError::OutOfRange)
        }
    }

    /// Returns the bare diameter in metres: the nominal one of the wire tables where the gauge is listed.
    pub fn bare_m(self) -> f64 {
        match self {
            Self::Metric(bare_m) => bare_m,
            Self::Awg(number) => awg_nominal_m(number),
        }
    }

    /// Returns a wire as many times as thick, by its diameter.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self::Metric(self.bare_m() * factor)
    }

    /// Returns the size as it is called: `"0.2 mm"`, `"32 AWG"`.
    pub fn name(self) -> String {
        match self {
            // Wire is called by millimetres even where an engineer's prefix would be micro.
            Self::Metric(bare_m) => format!("{} mm", (bare_m * 1e9).round() / 1e6),
            Self::Awg(number) => format!("{number} AWG"),
        }
    }
}

/// Returns the diameter of an American gauge by its defining formula, in metres: 0.005 in · 92^((36−n)/39).
///
/// ASTM B258: gauge 36 is 0.0050 in and 0000 is 0.46 in, with 39 equal steps between. Exact by definition.
pub fn awg_formula_m(number: i32) -> f64 {
    5.0 * MIL_M * 92.0_f64.powf(f64::from(36 - number) / 39.0)
}

/// Returns the nominal diameter of an American gauge as wire tables list it, in metres.
///
/// From 20 to 40 the formula rounded to 0.1 mil, up to 1.4 % off it at 40; the published resistances follow from this
/// value. Outside that span the formula.
pub fn awg_nominal_m(number: i32) -> f64 {
    let formula_m = awg_formula_m(number);
    if LISTED_AWG.contains(&number) {
        (formula_m / MIL_M * 10.0).round() / 10.0 * MIL_M
    } else {
        formula_m
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wire_is_read_by_diameter_or_by_gauge() {
        assert_eq!(Gauge::parse("0.2 mm"), Ok(Gauge::Metric(0.0002)));
        assert_eq!(Gauge::parse(" 32 AWG"), Ok(Gauge::Awg(32)));
        assert_eq!(Gauge::parse("AWG32"), Ok(Gauge::Awg(32)));
        assert_eq!(Gauge::parse("32 awg"), Ok(Gauge::Awg(32)));
        assert_eq!(Gauge::parse("Awg 32"), Ok(Gauge::Awg(32)));
        assert_eq!(Gauge::Awg(32).name(), "32 AWG");
        assert_eq!(Gauge::Metric(0.0002).name(), "0.2 mm");
    }

    #[test]
    fn what_is_no_wire_is_told_in_words() {
        insta::assert_snapshot!(Gauge::parse("thin").unwrap_err(),
            @r#"expected a wire size, such as "0.2 mm" or "32 AWG""#);
        insta::assert_snapshot!(Gauge::parse("0.2").unwrap_err(),
            @r#"expected a wire size, such as "0.2 mm" or "32 AWG""#);
        insta::assert_snapshot!(Gauge::parse("0.2 m").unwrap_err(),
            @"expected from 0.01 mm to 10 mm or 50 AWG to 0 AWG");
        insta::assert_snapshot!(Gauge::parse("99 AWG").unwrap_err(),
            @"expected from 0.01 mm to 10 mm or 50 AWG to 0 AWG");
        assert!(Gauge::parse("3.2 AWG").is_err());
    }
}
