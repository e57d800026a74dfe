//! Whether one charge covers an evening, for each kind of battery.
//!
//! A resting battery is taken to draw nothing and to win nothing. Its voltage comes back, its charge hardly: 0.3 to 0.4 % in
//! simulated lithium-ion runs with rests of 10 and 30 minutes. The greater gain of an alkaline or zinc-carbon one is not known.
//! So the time given errs on the short side.

use crate::battery::kind::{Kind, Rating};
use crate::battery::logbook::Logbook;
use charge::Load;
use charge_given::{Given, given, given_by};
use evening::Evening;

pub mod charge;
pub mod charge_given;
pub mod evening;
pub mod price;
mod range;
pub mod replay;
mod stop;
pub mod worth;

pub use range::{LEAST_SAID_S, Range};
pub use stop::{Share, Stop, StopsEarly};

/// Lamps disappoint below this voltage under load, in volts. Common practice, no source.
pub const DIM_V: f64 = 6.5;

/// A current as a range, in amperes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Current {
    /// The foot.
    pub low_a: f64,
    /// The expected current.
    pub middle_a: f64,
    /// The top.
    pub high_a: f64,
}

impl Current {
    const fn just(current_a: f64) -> Self {
        Self {
            low_a: current_a,
            middle_a: current_a,
            high_a: current_a,
        }
    }
}

/// The current that the coil draws.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Supply {
    /// As the build's circuit is predicted to, over its parts.
    Predicted {
        /// The supply current.
        current: Current,
        /// Open voltage of the battery that it was predicted with, in volts.
        open_v: f64,
        /// The lowest open voltage at which the typical set was seen to run fully, in volts.
        keeps_running_v: Option<f64>,
        /// The voltage at the battery's clips over its open voltage, near there.
        loaded_ratio: f64,
    },
    /// As typed.
    Typed(Load),
}

impl Supply {
    /// Returns the current from a battery of this nominal voltage.
    ///
    /// A predicted circuit is taken as a resistance, as elsewhere: its current goes with the voltage.
    pub fn current(&self, nominal_v: f64) -> Option<Current> {
        match *self {
            Self::Predicted {
                current, open_v, ..
            } => {
                let scale = nominal_v / open_v;
                Some(Current {
                    low_a: scale * current.low_a,
                    middle_a: scale * current.middle_a,
                    high_a: scale * current.high_a,
                })
            }
            Self::Typed(load) => load.current_a(nominal_v, None).map(Current::just),
        }
    }

    /// Returns where the coil stops, if that was predicted.
    pub fn stop(&self) -> Option<Stop> {
        match *self {
            Self::Predicted {
                keeps_running_v,
                loaded_ratio,
                ..
            } => keeps_running_v.map(|open_v| Stop {
                open_v,
                loaded_v: loaded_ratio * open_v,
            }),
            Self::Typed(_) => None,
        }
    }

    /// Returns the lowest open voltage at which the coil runs fully, in volts, if that was predicted.
    pub const fn keeps_running_v(&self) -> Option<f64> {
        match self {
            Self::Predicted {
                keeps_running_v, ..
            } => *keeps_running_v,
            Self::Typed(_) => None,
        }
    }
}

/// Whether one charge covers the evening.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answer {
    /// Also at the foot of the range.
    Covered,
    /// The range has the evening's length in it.
    Depends,
    /// Not at the top of the range either.
    NotCovered,
    /// The coil does not run fully at this kind's voltage.
    TooFewVolts,
    /// No figure is known for this kind at this current.
    NotKnown,
}

/// One kind, or one battery, on an evening.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The kind.
    pub kind: Kind,
    /// The label of the battery whose own runs are laid under it; `None` for the kind by published figures.
    pub own: Option<String>,
    /// Whether those runs are invented.
    pub is_simulated: bool,
    /// Nominal voltage of all in series, in volts.
    pub nominal_v: f64,
    /// The current that the coil draws from it; `None` where it does not run.
    pub current: Option<Current>,
    /// Charge, with its source and the worth of its range.
    pub given: Option<Given>,
    /// How the charge printed on it was measured, where the printed charge is used.
    pub rating: Option<Rating>,
    /// Time under load on one charge, in seconds.
    pub running_s: Option<Range>,
    /// Whether it covers the evening.
    pub answer: Answer,
    /// Whether and where the coil stops before the kind's end point, so that less than its charge is had.
    pub stops_early: Option<StopsEarly>,
    /// Whether its nominal voltage lies below that which lamps need.
    pub is_dim: bool,
}

/// The battery that the sheet has, as far as a plan wants it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OfSheet {
    /// Its kind.
    pub kind: Kind,
    /// How many stand in series, whatever the kind.
    pub series: u32,
    /// The charge printed on one, in ampere hours; counts for its own kind alone.
    pub printed_ah: Option<f64>,
}

impl Plan {
    /// Plans one kind on an evening, by published figures.
    pub fn of(kind: Kind, evening: &Evening, supply: &Supply, sheet: &OfSheet) -> Self {
        let printed_ah = sheet.printed_ah.filter(|_| kind == sheet.kind);
        let plan = Self::with(kind, evening, supply, sheet.series, |current_a| {
            given(kind, current_a, printed_ah)
        });
        Self {
            rating: printed_ah.and_then(|printed_ah| kind.rating(printed_ah)),
            ..plan
        }
    }

    /// Creates a battery on an evening by its own full runs; `None` where its kind is not known or it has none with a known
    /// charge.
    pub fn of_own(
        book: &Logbook,
        evening: &Evening,
        supply: &Supply,
        sheet: &OfSheet,
    ) -> Option<Self> {
        let kind = book.kind()?;
        given_by(book, 1.0)?;
        let plan = Self::with(kind, evening, supply, sheet.series, |current_a| {
            given_by(book, current_a)
        });
        Some(Self {
            own: Some(book.battery.clone()),
            is_simulated: book.is_simulated,
            ..plan
        })
    }

    fn with(
        kind: Kind,
        evening: &Evening,
        supply: &Supply,
        series: u32,
        given: impl Fn(f64) -> Option<Given>,
    ) -> Self {
        let series = f64::from(series);
        let nominal_v = series * kind.nominal().value_v;
        let keeps_v = supply.keeps_running_v();
        let fresh_v = kind
            .full_high()
            .map_or(nominal_v, |full| series * full.value_v);
        let runs = keeps_v.is_none_or(|keeps_v| fresh_v >= keeps_v);
        let current = supply.current(nominal_v).filter(|_| runs);
        let at_middle = current.and_then(|current| given(current.middle_a));
        let stops_early = supply
            .stop()
            .and_then(|stop| StopsEarly::of(kind, series, stop));
        let running_s = current
            .and_then(|current| running_s(current, &given))
            .map(|range| stops_early.map_or(range, |stop| stop.cut(range)))
            .map(Range::without_idle_middle);
        Self {
            kind,
            own: None,
            is_simulated: false,
            nominal_v,
            current,
            given: at_middle,
            rating: None,
            running_s,
            answer: match running_s {
                _ if !runs => Answer::TooFewVolts,
                None => Answer::NotKnown,
                Some(range) if range.low >= evening.running_s() => Answer::Covered,
                Some(range) if range.high < evening.running_s() => Answer::NotCovered,
                Some(_) => Answer::Depends,
            },
            stops_early: stops_early.filter(|_| runs),
            is_dim: nominal_v < DIM_V,
        }
    }

    /// Returns its name in a report.
    pub fn name(&self) -> String {
        let kind = self.kind.name();
        let simulated = if self.is_simulated { ", simulated" } else { "" };
        self.own.as_ref().map_or_else(
            || kind.to_owned(),
            |label| format!("{label}, {kind}{simulated}"),
        )
    }

    /// Returns the time left when the evening is over, in seconds under load.
    pub fn left_s(&self, evening: &Evening) -> Option<Range> {
        let left_s = |time_s: f64| (time_s - evening.running_s()).max(0.0);
        self.running_s.map(|range| range.map(left_s))
    }

    /// Returns the same as a share of the charge.
    pub fn left_share(&self, evening: &Evening) -> Option<Range> {
        let share = |time_s: f64| {
            if time_s > 0.0 {
                (1.0 - evening.running_s() / time_s).max(0.0)
            } else {
                0.0
            }
        };
        self.running_s.map(|range| range.map(share))
    }

    /// Returns the number of whole runs of the evening that the foot of the range covers.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "not negative, and cut to the runs of an evening"
    )]
    pub fn sure_runs(&self, evening: &Evening) -> u32 {
        let runs = self
            .running_s
            .map_or(0.0, |range| range.low / evening.run_s);
        (runs as u32).min(evening.runs)
    }
}

fn running_s(current: Current, given: impl Fn(f64) -> Option<Given>) -> Option<Range> {
    let time_s = |charge_ah: f64, current_a: f64| 3600.0 * charge_ah / current_a;
    let (most, usual, least) = (
        given(current.high_a)?,
        given(current.middle_a)?,
        given(current.low_a)?,
    );
    Some(Range {
        low: time_s(most.low_ah, current.high_a),
        middle: usual
            .middle_ah()
            .map(|charge_ah| time_s(charge_ah, current.middle_a)),
        high: time_s(least.high_ah, current.low_a),
    })
}

#[cfg(test)]
mod tests;
