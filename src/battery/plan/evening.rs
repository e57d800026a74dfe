//! The pattern of an evening of demonstrations: a number of runs of one length, begun at equal intervals.

use crate::units::{self, Unit, UnitError};

/// Runs that an evening has at most; more is a slip of the finger.
const MOST_RUNS: u32 = 1000;
/// How a pattern is written.
const EXAMPLE: &str = "4 x 6min every 15min";

/// An evening's runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evening {
    /// How many.
    pub runs: u32,
    /// How long each lasts, in seconds.
    pub run_s: f64,
    /// From the beginning of one to that of the next, in seconds.
    pub every_s: f64,
}

/// Why a text is no pattern.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PatternError {
    /// It is put together otherwise.
    #[error("\"{found}\" is no evening, write it like \"{EXAMPLE}\"")]
    Form {
        /// The text.
        found: String,
    },
    /// The number of runs is none.
    #[error(
        "runs in \"{found}\": found \"{count}\": expected a whole number from 1 to {MOST_RUNS}"
    )]
    Count {
        /// The text.
        found: String,
        /// The text in the number's place.
        count: String,
    },
    /// A time cannot be read.
    #[error("{what} in \"{found}\": {error}")]
    Time {
        /// Which.
        what: &'static str,
        /// The text.
        found: String,
        /// Why.
        error: UnitError,
    },
    /// A time is not above zero.
    #[error("{what} in \"{found}\": not above 0 s")]
    NoTime {
        /// Which.
        what: &'static str,
        /// The text.
        found: String,
    },
    /// A run begins before the one before it has ended.
    #[error(
        "\"{found}\": a run would begin before the last one has ended: expected at least the length of a run after \"every\""
    )]
    Overlap {
        /// The text.
        found: String,
    },
    /// Several runs, and nobody says how far apart.
    #[error("\"{found}\" does not say when the next run begins, write it like \"{EXAMPLE}\"")]
    NoEvery {
        /// The text.
        found: String,
    },
}

impl Evening {
    /// Reads `"4 x 6min every 15min"`; one run alone needs no `every`.
    ///
    /// # Errors
    /// [`PatternError`].
    pub fn parse(text: &str) -> Result<Self, PatternError> {
        let found = || text.trim().to_owned();
        let form = || PatternError::Form { found: found() };
        let (count, rest) = text.split_once(['x', '×']).ok_or_else(form)?;
        let (run, every) = match rest.split_once("every") {
            Some((run, every)) => (run, Some(every)),
            None => (rest, None),
        };
        let count = count.trim();
        let runs = count
            .parse()
            .ok()
            .filter(|runs| (1..=MOST_RUNS).contains(runs));
        let runs = runs.ok_or_else(|| PatternError::Count {
            found: found(),
            count: count.to_owned(),
        })?;
        let time = |what, word: &str| match units::parse(word, Unit::Second) {
            Ok(time_s) if time_s > 0.0 => Ok(time_s),
            Ok(_) => Err(PatternError::NoTime {
                what,
                found: found(),
            }),
            Err(error) => Err(PatternError::Time {
                what,
                found: found(),
                error,
            }),
        };
        let run_s = time("length of a run", run.trim())?;
        let every_s = match every {
            Some(every) => time("time after every", every.trim())?,
            None if runs == 1 => run_s,
            None => return Err(PatternError::NoEvery { found: found() }),
        };
        if every_s < run_s && runs > 1 {
            return Err(PatternError::Overlap { found: found() });
        }
        Ok(Self {
            runs,
            run_s,
            every_s,
        })
    }

    /// Returns the time under load of all runs, in seconds.
    pub fn running_s(&self) -> f64 {
        f64::from(self.runs) * self.run_s
    }

    /// Returns the time from the beginning of the first run to the end of the last, in seconds.
    pub fn lasts_s(&self) -> f64 {
        f64::from(self.runs - 1) * self.every_s + self.run_s
    }

    /// Returns the rest between two runs, in seconds.
    pub fn rest_s(&self) -> f64 {
        self.every_s - self.run_s
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pattern_is_read_with_and_without_spaces() {
        let club = Evening {
            runs: 4,
            run_s: 360.0,
            every_s: 900.0,
        };
        for text in [
            "4 x 6min every 15min",
            "4x6min every 15 min",
            " 4 × 0.1 h every 900s ",
        ] {
            assert_eq!(Evening::parse(text), Ok(club), "{text}");
        }
        let sums_s = [club.running_s(), club.lasts_s(), club.rest_s()];
        for (got_s, expected_s) in sums_s.into_iter().zip([1440.0, 3060.0, 540.0]) {
            assert!(
                (got_s - expected_s).abs() < 1e-9,
                "{got_s}, not {expected_s}"
            );
        }
        assert_eq!(
            Evening::parse("1 x 20min").map(|one| one.lasts_s()),
            Ok(1200.0)
        );
    }

    #[test]
    fn each_slip_is_told_by_its_place() {
        let told = |text| Evening::parse(text).unwrap_err().to_string();
        insta::assert_snapshot!(told("6min"), @r#""6min" is no evening, write it like "4 x 6min every 15min""#);
        insta::assert_snapshot!(told("0 x 6min every 15min"), @r#"runs in "0 x 6min every 15min": found "0": expected a whole number from 1 to 1000"#);
        insta::assert_snapshot!(told("4 x 6 every 15min"), @r#"length of a run in "4 x 6 every 15min": "6" has no unit: write 6 s, 6 min or 6 h"#);
        insta::assert_snapshot!(told("4 x 6min every -15min"), @r#"time after every in "4 x 6min every -15min": not above 0 s"#);
        insta::assert_snapshot!(told("4 x 6min"), @r#""4 x 6min" does not say when the next run begins, write it like "4 x 6min every 15min""#);
        insta::assert_snapshot!(told("4 x 6min every 5min"), @r#""4 x 6min every 5min": a run would begin before the last one has ended: expected at least the length of a run after "every""#);
    }
}
