//! The enamel on a wire: how thick a wire is with its film, by the standards' tables.

use super::wire::{Gauge, MIL_M};
use crate::coil::numeric::interpolate::{between, mix};

/// How much enamel a wire carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Film {
    /// Metric grade 1, the thinnest.
    Grade1,
    /// Metric grade 2.
    Grade2,
    /// Metric grade 3.
    Grade3,
    /// American single film.
    Single,
    /// American heavy film.
    Heavy,
}

impl Film {
    /// Each grade by the word a sheet uses.
    pub const WORDS: [(&str, Self); 5] = [
        ("grade-1", Self::Grade1),
        ("grade-2", Self::Grade2),
        ("grade-3", Self::Grade3),
        ("single", Self::Single),
        ("heavy", Self::Heavy),
    ];

    /// Returns the thinnest grade of a wire's own standard, which is sold where nothing is said (common practice, no source).
    pub fn usual(gauge: Gauge) -> Self {
        match gauge {
            Gauge::Metric(_) => Self::Grade1,
            Gauge::Awg(_) => Self::Single,
        }
    }

    /// Returns the word a sheet uses.
    pub fn name(self) -> &'static str {
        Self::WORDS
            .iter()
            .find(|(_, film)| *film == self)
            .map_or("", |(word, _)| word)
    }
}

/// Where a diameter over the enamel comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// A row of a published table.
    Listed,
    /// A row of a published table, quoted from memory.
    FromMemory,
    /// Between two rows of a table.
    Interpolated,
    /// The heavy film's least increase is published; its greatest diameter is taken as far above that as single film's.
    HeavyWindow,
    /// The person's own callipers.
    Measured,
}

impl Origin {
    /// Returns it in words fit for a report.
    pub fn words(self) -> &'static str {
        match self {
            Self::Listed => "from a published table",
            Self::FromMemory => "from a table quoted from memory",
            Self::Interpolated => "interpolated between listed sizes",
            Self::HeavyWindow => {
                "least increase listed, greatest diameter taken as for single film"
            }
            Self::Measured => "measured",
        }
    }
}

/// The diameter of a wire with its enamel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OverEnamel {
    /// The least, in metres.
    pub low_m: f64,
    /// The greatest, in metres.
    pub high_m: f64,
    /// Where it comes from.
    pub origin: Origin,
}

impl OverEnamel {
    /// Returns the diameter to reckon with, in metres: the middle of the standard's range.
    pub fn middle_m(self) -> f64 {
        f64::midpoint(self.low_m, self.high_m)
    }

    /// Creates a measured diameter.
    pub fn measured(diameter_m: f64) -> Self {
        Self {
            low_m: diameter_m,
            high_m: diameter_m,
            origin: Origin::Measured,
        }
    }
}

/// A listed metric size: bare, least increase by the film, greatest diameter, all in mm.
struct MetricRow {
    bare_mm: f64,
    increase_mm: f64,
    greatest_mm: f64,
    origin: Origin,
}

const fn row(bare_mm: f64, increase_mm: f64, greatest_mm: f64, origin: Origin) -> MetricRow {
    MetricRow {
        bare_mm,
        increase_mm,
        greatest_mm,
        origin,
    }
}

// IS 13730-0-1, the Indian adoption of IEC 60317-0-1; 0.100 mm from a page that quotes IEC 60317.
const GRADE_1: &[MetricRow] = &[
    row(0.100, 0.008, 0.117, Origin::Listed),
    row(0.200, 0.014, 0.226, Origin::FromMemory),
    row(0.250, 0.017, 0.281, Origin::FromMemory),
    row(0.315, 0.019, 0.349, Origin::Listed),
    row(0.376, 0.021, 0.417, Origin::Listed),
    row(0.457, 0.024, 0.501, Origin::Listed),
    row(0.508, 0.025, 0.554, Origin::Listed),
    row(0.610, 0.027, 0.659, Origin::Listed),
    row(0.813, 0.032, 0.872, Origin::Listed),
];
const GRADE_2: &[MetricRow] = &[
    row(0.200, 0.027, 0.239, Origin::FromMemory),
    row(0.250, 0.032, 0.297, Origin::FromMemory),
    row(0.315, 0.035, 0.367, Origin::Listed),
    row(0.376, 0.040, 0.435, Origin::Listed),
    row(0.457, 0.045, 0.523, Origin::Listed),
    row(0.508, 0.047, 0.578, Origin::Listed),
    row(0.610, 0.050, 0.684, Origin::Listed),
    row(0.813, 0.060, 0.902, Origin::Listed),
];
const GRADE_3: &[MetricRow] = &[
    row(0.315, 0.053, 0.384, Origin::Listed),
    row(0.376, 0.060, 0.454, Origin::Listed),
    row(0.457, 0.067, 0.544, Origin::Listed),
    row(0.508, 0.071, 0.601, Origin::Listed),
    row(0.610, 0.075, 0.708, Origin::Listed),
    row(0.813, 0.090, 0.931, Origin::Listed),
];

/// American films from gauge 20 on: least increase and greatest diameter of single film, least increase of heavy film,
/// in mil. A wire maker's sheet headed NEMA MW 1000 / NTC 361; heavy film's greatest diameters were not legible.
const AMERICAN: [(f64, f64, f64); 21] = [
    (1.2, 33.9, 2.3),
    (1.1, 30.3, 2.2),
    (1.1, 27.0, 2.1),
    (1.0, 24.3, 2.0),
    (1.0, 21.7, 1.9),
    (0.9, 19.4, 1.8),
    (0.9, 17.3, 1.7),
    (0.8, 15.6, 1.6),
    (0.8, 14.0, 1.6),
    (0.7, 12.6, 1.5),
    (0.7, 11.2, 1.4),
    (0.6, 10.0, 1.3),
    (0.6, 9.1, 1.2),
    (0.5, 8.1, 1.1),
    (0.5, 7.2, 1.0),
    (0.4, 6.4, 0.9),
    (0.4, 5.8, 0.8),
    (0.3, 5.2, 0.8),
    (0.3, 4.7, 0.7),
    (0.2, 4.1, 0.6),
    (0.2, 3.7, 0.6),
];

/// Why there is no diameter over the enamel.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FilmError {
    /// The film belongs to the other system of sizes.
    #[error("film of {wire}: found \"{found}\", {allowed}")]
    OtherSystem {
        /// The wire.
        wire: String,
        /// The film.
        found: &'static str,
        /// The allowed films.
        allowed: &'static str,
    },
    /// No table reaches this size.
    #[error("film of {wire}: \"{film}\" is not listed for it, {listed} is")]
    NotListed {
        /// The wire.
        wire: String,
        /// The film.
        film: &'static str,
        /// The sizes listed.
        listed: &'static str,
    },
}

/// Returns the diameter of a wire over its enamel, by the tables of its standard.
///
/// Listed rows as printed; between two of them least increase and greatest diameter run straight. Outside the listed
/// sizes nothing is given.
///
/// # Errors
/// [`FilmError::OtherSystem`] for a metric film on an American gauge or the reverse, [`FilmError::NotListed`] for a size
/// the tables do not reach.
pub fn over_enamel(gauge: Gauge, film: Film) -> Result<OverEnamel, FilmError> {
    let other = |allowed| FilmError::OtherSystem {
        wire: gauge.name(),
        found: film.name(),
        allowed,
    };
    let not_listed = |listed| FilmError::NotListed {
        wire: gauge.name(),
        film: film.name(),
        listed,
    };
    match (gauge, film) {
        (Gauge::Metric(bare_m), Film::Grade1 | Film::Grade2 | Film::Grade3) => {
            let (table, listed) = match film {
                Film::Grade1 => (GRADE_1, "0.1 mm to 0.813 mm"),
                Film::Grade2 => (GRADE_2, "0.2 mm to 0.813 mm"),
                _ => (GRADE_3, "0.315 mm to 0.813 mm"),
            };
            metric(table, bare_m).ok_or_else(|| not_listed(listed))
        }
        (Gauge::Awg(number), Film::Single | Film::Heavy) => {
            american(number, film).ok_or_else(|| not_listed("20 AWG to 40 AWG"))
        }
        (Gauge::Metric(_), _) => Err(other("expected grade-1, grade-2 or grade-3")),
        (Gauge::Awg(_), _) => Err(other("expected single or heavy")),
    }
}

fn metric(table: &[MetricRow], bare_m: f64) -> Option<OverEnamel> {
    // Rounded to a nanometre, so that 0.2 mm is the row 0.200 whatever the last bit says.
    let bare_mm = (bare_m * 1e9).round() / 1e6;
    let (low, high, share) = between(table, |row| row.bare_mm, bare_mm)?;
    let origin = if share <= 0.0 {
        low.origin
    } else if share >= 1.0 {
        high.origin
    } else {
        Origin::Interpolated
    };
    Some(OverEnamel {
        low_m: (bare_mm + mix(low.increase_mm, high.increase_mm, share)) * 1e-3,
        high_m: mix(low.greatest_mm, high.greatest_mm, share) * 1e-3,
        origin,
    })
}

fn american(number: i32, film: Film) -> Option<OverEnamel> {
    let index = usize::try_from(number - 20).ok()?;
    let (single_mil, greatest_mil, heavy_mil) = *AMERICAN.get(index)?;
    let bare_mil = Gauge::Awg(number).bare_m() / MIL_M;
    let (increase_mil, greatest_mil, origin) = if film == Film::Heavy {
        let window_mil = greatest_mil - bare_mil - single_mil;
        let greatest_mil = bare_mil + heavy_mil + window_mil;
        (heavy_mil, greatest_mil, Origin::HeavyWindow)
    } else {
        (single_mil, greatest_mil, Origin::Listed)
    };
    Some(OverEnamel {
        low_m: (bare_mil + increase_mil) * MIL_M,
        high_m: greatest_mil * MIL_M,
        origin,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_listed_size_gives_its_row_and_says_so() {
        let wire = over_enamel(Gauge::Metric(0.0002), Film::Grade1).unwrap();
        assert!((wire.low_m - 0.214e-3).abs() < 1e-12 && (wire.high_m - 0.226e-3).abs() < 1e-12);
        assert!((wire.middle_m() - 0.220e-3).abs() < 1e-12);
        assert_eq!(wire.origin, Origin::FromMemory);
        let wire = over_enamel(Gauge::Metric(0.000315), Film::Grade3).unwrap();
        assert!((wire.high_m - 0.384e-3).abs() < 1e-12);
        assert_eq!(wire.origin, Origin::Listed);
    }

    #[test]
    fn a_size_between_two_rows_is_marked_as_interpolated() {
        let wire = over_enamel(Gauge::Metric(0.000225), Film::Grade1).unwrap();
        assert!((wire.low_m - 0.2405e-3).abs() < 1e-12 && (wire.high_m - 0.2535e-3).abs() < 1e-12);
        assert_eq!(wire.origin, Origin::Interpolated);
    }

    #[test]
    fn heavy_film_keeps_the_window_of_single_film() {
        // 10.0 + 1.4 mil at least; single film leaves 11.2 − 10.7 = 0.5 mil.
        let wire = over_enamel(Gauge::Awg(30), Film::Heavy).unwrap();
        assert!((wire.low_m / MIL_M - 11.4).abs() < 1e-9);
        assert!((wire.high_m / MIL_M - 11.9).abs() < 1e-9);
        assert_eq!(wire.origin, Origin::HeavyWindow);
    }

    #[test]
    fn every_listed_wire_is_thicker_with_each_grade_and_always_thicker_than_bare() {
        for number in 20..=40 {
            let gauge = Gauge::Awg(number);
            let single = over_enamel(gauge, Film::Single).unwrap();
            let heavy = over_enamel(gauge, Film::Heavy).unwrap();
            assert!(single.low_m > gauge.bare_m(), "{number}");
            assert!(single.high_m > single.low_m, "{number}");
            assert!(heavy.low_m > single.low_m, "{number}");
        }
        for row in GRADE_2 {
            let gauge = Gauge::Metric(row.bare_mm * 1e-3);
            let thin = over_enamel(gauge, Film::Grade1).unwrap();
            let thick = over_enamel(gauge, Film::Grade2).unwrap();
            assert!(thin.high_m > thin.low_m && thick.high_m > thick.low_m);
            assert!(thick.low_m > thin.low_m && thick.high_m > thin.high_m);
        }
    }

    #[test]
    fn a_film_that_no_table_has_is_refused_in_words() {
        insta::assert_snapshot!(over_enamel(Gauge::Metric(0.0002), Film::Heavy).unwrap_err(),
            @r#"film of 0.2 mm: found "heavy", expected grade-1, grade-2 or grade-3"#);
        insta::assert_snapshot!(over_enamel(Gauge::Awg(32), Film::Grade2).unwrap_err(),
            @r#"film of 32 AWG: found "grade-2", expected single or heavy"#);
        insta::assert_snapshot!(over_enamel(Gauge::Metric(0.001), Film::Grade1).unwrap_err(),
            @r#"film of 1 mm: "grade-1" is not listed for it, 0.1 mm to 0.813 mm is"#);
        assert!(over_enamel(Gauge::Awg(18), Film::Single).is_err());
        assert!(over_enamel(Gauge::Awg(41), Film::Heavy).is_err());
    }
}
