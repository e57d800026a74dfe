//! How long a battery still lasts, from its run so far: a band first, its middle second, and a refusal where neither can be
//! had.
//!
//! Whole curves (its own, else of its kind) are laid on the run so far, stretched in time, moved in voltage, begun full or
//! part-used. Each length of the run is weighed by how well that fits. No formula is fitted to a part of a curve: in back-tests
//! that was wrong by 15 to 100 % of the run, and laying on whole curves by 3 to 9 %.

pub mod backtest;
mod claim;
pub mod end;
mod knee;
pub mod level;
pub mod library;
pub mod outlook;
mod posterior;
pub mod question;
mod unlike;
pub mod watch;

use crate::battery::curve::Sample;
use crate::battery::finished::Start;
use crate::units::Span;
use posterior::{Evidence, Posterior};
use question::{Claim, Likeness, Question};

/// Before this time nothing is said, in seconds.
pub const LEAST_S: f64 = 300.0;
/// The same where only curves of other types are known: those settle in other ways. Chosen.
const LEAST_OTHER_S: f64 = 600.0;
/// Nor before this share of the run that is expected.
const LEAST_SHARE: f64 = 0.1;
/// A band is never narrower than this share of the whole run to either side: the difference of one run from the next.
const LEAST_HALF_WIDTH: f64 = 0.03;
/// Where the top of the band is more than this many times its foot, only the foot is worth saying. Chosen.
const TOO_WIDE: f64 = 4.0;
/// The foot and the top of the band.
const BAND: Span = Span::new(0.05, 0.95);

/// Time left, in seconds under load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimeLeft {
    /// How long the run had lasted when this was said.
    pub elapsed_s: f64,
    /// The foot of the 90 % band.
    pub low_s: f64,
    /// The middle of the likely times.
    pub middle_s: f64,
    /// The top of the band.
    pub high_s: f64,
    /// Whether the claim "full at the start" was believed.
    pub claim: Claim,
}

/// The cause of a voltage that stays level, as far as it is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Level {
    /// A converter holds it.
    Converter,
    /// Iron phosphate, which stays level by itself.
    IronPhosphate,
    /// One of the two; the log does not show which.
    CannotTell,
}

impl Level {
    const fn words(self) -> &'static str {
        match self {
            Self::Converter => {
                "this battery holds its voltage until it stops: its voltage does not tell how long is left"
            }
            Self::IronPhosphate => {
                "iron phosphate stays flat until shortly before its end: its voltage does not tell how long is left"
            }
            Self::CannotTell => {
                "flat: regulated or LFP-type, cannot tell; its voltage does not tell how long is left"
            }
        }
    }
}

/// Why no forecast is made.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum NoForecast {
    /// The run is too young.
    #[error(
        "not enough data: {:.0} min recorded, expected at least {:.0} min",
        elapsed_s / 60.0,
        wanted_s / 60.0
    )]
    TooEarly {
        /// How long it has lasted, in seconds.
        elapsed_s: f64,
        /// How long it must have, in seconds.
        wanted_s: f64,
    },
    /// The voltage stays level.
    #[error("{}", .0.words())]
    HoldsVoltage(Level),
    /// No voltage is known at which it is empty.
    #[error("no voltage is known at which this battery is empty")]
    NoEnd,
    /// No whole curve to lay it on.
    #[error("no whole curve of this kind is known")]
    NoCurves,
}

impl NoForecast {
    /// Returns its word in a table.
    pub const fn word(self) -> &'static str {
        match self {
            Self::TooEarly { .. } => "too-early",
            Self::HoldsVoltage(_) => "holds-voltage",
            Self::NoEnd => "no-end",
            Self::NoCurves => "no-curves",
        }
    }
}

/// Whether a run has lasted long enough for anything to be said of its voltage.
pub(super) fn is_old_enough(so_far: &[Sample]) -> bool {
    so_far.last().is_some_and(|last| last.running_s >= LEAST_S)
}

/// Returns the forecast from the voltage over time.
///
/// # Errors
/// [`NoForecast`]: too early, a level voltage, or no curves.
pub fn time_left(question: &Question<'_>) -> Result<TimeLeft, NoForecast> {
    let elapsed_s = question.so_far.last().map_or(0.0, |last| last.running_s);
    let expected_s = question.prior.map_or(0.0, |prior| prior.centre_s);
    let least_s = match question.likeness {
        Likeness::Same => LEAST_S,
        Likeness::Other => LEAST_OTHER_S,
    };
    let wanted_s = least_s.max(LEAST_SHARE * expected_s);
    if elapsed_s < wanted_s {
        return Err(NoForecast::TooEarly {
            elapsed_s,
            wanted_s,
        });
    }
    if level::is_level(question.so_far, question.flat) {
        return Err(NoForecast::HoldsVoltage(Level::CannotTell));
    }
    let posterior = |start| {
        let evidence = |prior| Evidence {
            so_far: question.so_far,
            elapsed_s,
            library: &question.library.curves,
            prior,
            series: f64::from(question.series),
            start,
            likeness: question.likeness,
        };
        // A run that gave more than its prior allows says that the printed charge is wrong.
        Posterior::of(&evidence(question.prior))
            .or_else(|| Posterior::of(&evidence(None)))
            .ok_or(NoForecast::NoCurves)
    };
    let (posterior, claim) = match question.start {
        Start::Unknown => (posterior(Start::Unknown)?, Claim::None),
        Start::Full => {
            let unknown = posterior(Start::Unknown)?;
            let first_volts = claim::judge(question, unknown.full_s());
            let full = posterior(Start::Full)?;
            if first_volts == Claim::Disagrees || full.part_used() > 0.5 {
                (unknown, Claim::Disagrees)
            } else {
                (full, Claim::Agrees)
            }
        }
    };
    Ok(TimeLeft::of_run(
        elapsed_s,
        posterior.quantile_s(BAND.low),
        posterior.quantile_s(0.5),
        posterior.quantile_s(BAND.high),
        claim,
    ))
}

impl TimeLeft {
    /// Creates one from the length of the whole run, its band made no narrower than one run differs from the next.
    pub fn of_run(elapsed_s: f64, low_s: f64, middle_s: f64, high_s: f64, claim: Claim) -> Self {
        let left_s = |run_s: f64| (run_s - elapsed_s).max(0.0);
        Self {
            elapsed_s,
            low_s: left_s(low_s.min(middle_s * (1.0 - LEAST_HALF_WIDTH))),
            middle_s: left_s(middle_s),
            high_s: left_s(high_s.max(middle_s * (1.0 + LEAST_HALF_WIDTH))),
            claim,
        }
    }

    /// Returns the same with the band of the whole run `factor` times as wide, on a logarithmic scale, as a back-test says.
    #[must_use]
    pub fn widened(self, factor: f64) -> Self {
        let run_s = |left_s: f64| self.elapsed_s + left_s;
        let middle_s = run_s(self.middle_s);
        let widened = |left_s: f64| middle_s * (run_s(left_s) / middle_s).powf(factor);
        Self::of_run(
            self.elapsed_s,
            widened(self.low_s),
            middle_s,
            widened(self.high_s),
            self.claim,
        )
    }

    /// Returns the same with a run no longer than this, in seconds, unless it is longer already.
    #[must_use]
    pub fn capped(self, most_s: f64) -> Self {
        let most_left_s = most_s - self.elapsed_s;
        Self {
            high_s: if most_left_s > self.middle_s {
                self.high_s.min(most_left_s)
            } else {
                self.high_s
            },
            ..self
        }
    }

    /// Whether the band is so wide that only its foot is worth saying.
    pub fn is_too_wide(&self) -> bool {
        self.elapsed_s + self.high_s > TOO_WIDE * (self.elapsed_s + self.low_s)
    }

    /// Returns the middle, in seconds, where it is worth saying: not where the band is too wide.
    pub fn middle_said_s(&self) -> Option<f64> {
        (!self.is_too_wide()).then_some(self.middle_s)
    }
}
