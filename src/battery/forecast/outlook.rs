//! The outlook for the run a battery is in: the forecast with its basis, or the reason for none.

use super::backtest::{self, Knowledge, SHARES, Widening, replay, replay_on};
use super::end::End;
use super::level::Flat;
use super::library::Library;
use super::question::{Likeness, Prior, Question};
use super::{knee, level};
use crate::battery::curve::{self, Curve, Sample};
use crate::battery::finished::{Finished, Start};
use crate::battery::forecast::{self, Level, NoForecast, TimeLeft, time_left};
use crate::battery::kind::Kind;
use crate::battery::{last_run, shipped};
use crate::units::Span;

/// Runs of other batteries that are laid on at most; more make a forecast slower and hardly better. Chosen.
const MOST_OTHERS: usize = 90;
/// Runs that are replayed at most to find how wide the band must be. Chosen, likewise.
const MOST_REPLAYED: usize = 20;

/// Whole curves a forecast was laid on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// The number of finished runs of the battery itself.
    Own(usize),
    /// The number of finished runs of other batteries of its kind.
    SameKind(usize),
    /// The number of curves that ship with the program, none of them measured.
    Shipped(usize, &'static str),
    /// None.
    Nothing,
}

impl Basis {
    /// Returns it in a word or three, for a table.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Own(_) => "own runs",
            Self::SameKind(_) => "runs of its kind",
            Self::Shipped(_, label) => label,
            Self::Nothing => "nothing",
        }
    }
}

/// The run that is looked at.
#[derive(Debug, Clone)]
pub struct Run<'a> {
    /// Its samples so far.
    pub so_far: &'a [Sample],
    /// How it began.
    pub start: Start,
    /// The kind of battery, if known.
    pub kind: Option<Kind>,
    /// How many stand in series.
    pub series: u32,
    /// Where it ends; `None` where that is not known.
    pub end: Option<End>,
    /// Charge printed on the battery, in ampere hours.
    pub rated_ah: Option<f64>,
    /// Its internal resistance, in ohms.
    pub resistance_ohm: Option<f64>,
}

/// The forecast, or the reason for none.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// Time left by the voltage, or why none is said.
    pub said: Result<TimeLeft, NoForecast>,
    /// Which end the times mean.
    pub end: Option<End>,
    /// Its basis.
    pub basis: Basis,
    /// How much the band was widened by the back-test of those curves.
    pub widening: f64,
    /// Time left by the battery's own full runs alone, foot and top, in seconds; only after a full start.
    pub by_log_s: Option<Span>,
    /// When the output of a battery with a converter stepped down, in seconds under load.
    pub stepped_s: Option<f64>,
    /// Whether the voltage turns down: minutes left, not a forecast.
    pub past_knee: bool,
}

/// Looks at a run with the battery's own finished runs, oldest first, and those of others of its kind.
pub fn outlook(run: &Run<'_>, own: &[Finished], others: &[Finished]) -> Outlook {
    Known::of(run, own, others).look(run)
}

/// The curves and runs that a run is held against, made ready once for any number of looks.
#[derive(Debug, Clone)]
pub struct Known {
    basis: Basis,
    library: Library,
    widening: Widening,
    /// Lengths of its own full runs, in seconds.
    lengths_s: Vec<f64>,
    /// Mean current of the last of them, in amperes.
    last_a: Option<f64>,
    /// The charge that each of them gave, in ampere seconds; empty unless the current was measured in all.
    charges_as: Vec<f64>,
}

impl Known {
    /// From the battery's own finished runs, oldest first, and those of others of its kind; of the run only the battery's
    /// kind, number and end count, and whether its charge is known.
    pub fn of(run: &Run<'_>, own: &[Finished], others: &[Finished]) -> Self {
        let others = newest(others, MOST_OTHERS);
        let end_v = run.end.map(|end| end.volts_v);
        let made = |known: &[Finished]| -> Library {
            let to_end = |one| Some((one, curve_to(one, end_v)?));
            Library::new(known.iter().filter_map(to_end).collect())
        };
        let (basis, library) = if !own.is_empty() {
            let library = made(own);
            (Basis::Own(library.curves.len()), library)
        } else if !others.is_empty() {
            let library = made(others);
            (Basis::SameKind(library.curves.len()), library)
        } else {
            shipped_curves(run)
        };
        let to_end = |one: &Finished| {
            let run_s = curve_to(one, end_v)?.run_s;
            let mean_a = curve::mean_current_a(&one.samples);
            Some((run_s, mean_a.map(|mean_a| mean_a * run_s)))
        };
        let given: Vec<(f64, Option<f64>)> = own.iter().filter_map(to_end).collect();
        Self {
            basis,
            library,
            widening: widening(run, basis, own, others),
            lengths_s: given.iter().map(|one| one.0).collect(),
            last_a: own
                .last()
                .and_then(|last| curve::mean_current_a(&last.samples)),
            charges_as: given
                .iter()
                .map(|one| one.1)
                .collect::<Option<_>>()
                .unwrap_or_default(),
        }
    }

    /// Its basis.
    pub const fn basis(&self) -> Basis {
        self.basis
    }

    /// Returns the outlook for a run so far.
    pub fn look(&self, run: &Run<'_>) -> Outlook {
        let elapsed_s = run.so_far.last().map_or(0.0, |last| last.running_s);
        let stepped_s = level::step_down_s(run.so_far);
        let holds = run.kind.is_some_and(Kind::has_converter) || stepped_s.is_some();
        let said = self.said(run, holds);
        let widening = said.as_ref().map_or(1.0, |said| {
            let share = said.elapsed_s / (said.elapsed_s + said.middle_s);
            match self.basis {
                // Its own runs say how long it lasts; curves of others say little before the first share that was replayed.
                Basis::SameKind(_) | Basis::Shipped(..) if share < SHARES[0] => Widening::MOST,
                _ => self.widening.at(share),
            }
        });
        let most_s = self.prior(run).map_or(f64::INFINITY, |prior| prior.most_s);
        Outlook {
            said: said.map(|said| said.widened(widening).capped(most_s)),
            end: run.end,
            basis: self.basis,
            widening,
            by_log_s: self.by_log_s(run, elapsed_s),
            stepped_s,
            past_knee: !holds && knee::is_past_knee(run.so_far, run.resistance_ohm),
        }
    }

    fn said(&self, run: &Run<'_>, holds: bool) -> Result<TimeLeft, NoForecast> {
        let flat = flat(run);
        if holds {
            return Err(NoForecast::HoldsVoltage(Level::Converter));
        }
        if run.end.is_none() {
            let is_level = forecast::is_old_enough(run.so_far) && level::is_level(run.so_far, flat);
            return Err(if is_level {
                NoForecast::HoldsVoltage(Level::CannotTell)
            } else {
                NoForecast::NoEnd
            });
        }
        let is_iron = run.kind.is_some_and(Kind::is_iron_phosphate);
        let said = time_left(&Question {
            so_far: run.so_far,
            start: run.start,
            library: &self.library,
            likeness: match self.basis {
                Basis::Own(_) => Likeness::Same,
                Basis::SameKind(_) | Basis::Shipped(..) | Basis::Nothing => Likeness::Other,
            },
            prior: self.prior(run),
            flat,
            series: run.series,
        });
        said.map_err(|refused| match refused {
            NoForecast::HoldsVoltage(_) if is_iron => {
                NoForecast::HoldsVoltage(Level::IronPhosphate)
            }
            refused => refused,
        })
    }

    fn prior(&self, run: &Run<'_>) -> Option<Prior> {
        let current_a = curve::mean_current_a(run.so_far);
        if self.lengths_s.is_empty() {
            let printed = backtest::by_printed(run.rated_ah?, current_a?);
            let is_primary = run.kind.is_some_and(Kind::is_primary);
            // The charge printed on a battery that is used once was measured at a far lighter load: it is no more than a top.
            return Some(Prior {
                log_sd: if is_primary {
                    f64::INFINITY
                } else {
                    printed.log_sd
                },
                ..printed
            });
        }
        let scale = match (self.last_a, current_a) {
            (Some(then_a), Some(now_a)) => then_a / now_a,
            _ => 1.0,
        };
        last_run::prior(&self.lengths_s, scale)
    }

    fn by_log_s(&self, run: &Run<'_>, elapsed_s: f64) -> Option<Span> {
        if run.start != Start::Full {
            return None;
        }
        let now_a = curve::mean_current_a(run.so_far).filter(|now_a| *now_a > 0.0);
        let by_charge = last_run::band(&self.charges_as).zip(now_a);
        // At another load than then, the charge is nearly the same, not the time.
        let (low_s, high_s) = if let Some(((low_as, _, high_as), now_a)) = by_charge {
            (low_as / now_a, high_as / now_a)
        } else {
            let (low_s, _, high_s) = last_run::band(&self.lengths_s)?;
            (low_s, high_s)
        };
        Some(Span::new(
            (low_s - elapsed_s).max(0.0),
            (high_s - elapsed_s).max(0.0),
        ))
    }
}

/// Iron phosphate may stand behind a battery of unknown kind, and behind one that is called lithium-ion and stays flat below 3.4
/// V per cell. Its own cells rest at about that (from memory; the shipped simulated ones lie below it after the first 2 %), where
/// lithium-ion falls steeply.
fn flat(run: &Run<'_>) -> Flat {
    Flat {
        taken: run
            .rated_ah
            .and_then(|rated_ah| backtest::taken(run.so_far, rated_ah)),
        below_v: match run.kind.map(Kind::flat_below_v) {
            None => f64::INFINITY,
            Some(below_v) => below_v * f64::from(run.series),
        },
    }
}

/// Returns the curve of a finished run down to an end, in volts; `None` where it was not followed that far. A battery whose
/// voltage shows no end is taken as its run ended.
fn curve_to(one: &Finished, end_v: Option<f64>) -> Option<Curve> {
    match end_v {
        Some(end_v) if (one.end_v - end_v).abs() > 1e-9 => Curve::to_end(&one.samples, end_v),
        _ => Curve::of(&one.samples, one.run_s, one.end_v),
    }
}

/// Returns the shipped curves of its kind, to its end.
fn shipped_curves(run: &Run<'_>) -> (Basis, Library) {
    let of_kind = run.kind.map(shipped::finished).unwrap_or_default();
    let library = run.end.map_or_else(Library::default, |end| {
        let one_end_v = end.volts_v / f64::from(run.series);
        let curves = of_kind.iter().filter_map(|one| {
            let curve = curve_to(one, Some(one_end_v))?;
            Some((one, curve.in_series(run.series)))
        });
        Library::new(curves.collect())
    });
    let label = shipped::all().find(|one| Some(one.kind) == run.kind);
    match (library.curves.len(), label) {
        (count @ 1.., Some(one)) => (Basis::Shipped(count, one.label), library),
        _ => (Basis::Nothing, library),
    }
}

/// Returns the last ones, up to this number.
fn newest(runs: &[Finished], count: usize) -> &[Finished] {
    runs.get(runs.len().saturating_sub(count)..).unwrap_or(&[])
}

/// Returns the factor by which the back-test of the curves it rests on requires the band wider; a back-test needs three runs, and
/// of shipped curves two cells.
fn widening(run: &Run<'_>, basis: Basis, own: &[Finished], others: &[Finished]) -> Widening {
    let trials = match basis {
        Basis::Own(3..) => replay(newest(own, MOST_REPLAYED), Knowledge::LastRun),
        Basis::SameKind(3..) => replay(newest(others, MOST_REPLAYED), Knowledge::VoltageOnly),
        Basis::Shipped(..) => {
            let kind = run.kind.unwrap_or(Kind::LiIon2s);
            let known = shipped::finished(kind);
            let knowledge = match run.rated_ah {
                Some(_) if kind == Kind::LiIon2s => {
                    Knowledge::RatedCharge(shipped::LI_ION_RATED_AH)
                }
                _ => Knowledge::VoltageOnly,
            };
            replay_on(&shipped::trials(kind), &known, knowledge)
        }
        Basis::Own(_) | Basis::SameKind(_) | Basis::Nothing => return Widening::NONE,
    };
    if matches!(basis, Basis::Shipped(..)) && trials.iter().all(|trial| trial.said.is_err()) {
        // Curves of one cell can't be put to the test.
        return Widening([Widening::MOST; 4]);
    }
    Widening::of(&trials)
}

#[cfg(test)]
mod tests {
    use super::super::end::Until;
    use super::*;

    fn run(so_far: &[Sample], kind: Kind, end_v: f64) -> Run<'_> {
        Run {
            so_far,
            start: Start::Full,
            kind: Some(kind),
            series: 1,
            end: Some(End {
                volts_v: end_v,
                until: Until::Empty,
            }),
            rated_ah: None,
            resistance_ohm: None,
        }
    }

    fn half(one: &Finished) -> Vec<Sample> {
        let half_s = one.run_s / 2.0;
        let count = one
            .samples
            .partition_point(|sample| sample.running_s <= half_s);
        one.samples[..count].to_vec()
    }

    #[test]
    fn a_battery_without_a_run_of_its_own_is_laid_on_curves_of_its_kind_and_says_so() {
        let truth = &shipped::finished(Kind::LiIon2s)[1];
        let so_far = half(truth);
        let found = outlook(&run(&so_far, Kind::LiIon2s, 6.0), &[], &[]);
        assert_eq!(
            found.basis,
            Basis::Shipped(27, "simulated lithium-ion curves")
        );
        let said = found.said.unwrap();
        let left_s = truth.run_s - said.elapsed_s;
        assert!(
            (said.low_s..=said.high_s).contains(&left_s),
            "{said:?} {left_s}"
        );
    }

    #[test]
    fn its_own_runs_come_first() {
        let truth = shipped::finished(Kind::LiIon2s).remove(1);
        let so_far = half(&truth);
        let found = outlook(
            &run(&so_far, Kind::LiIon2s, 6.0),
            std::slice::from_ref(&truth),
            &[],
        );
        assert_eq!(found.basis, Basis::Own(1));
        let by_log_s = found.by_log_s.unwrap();
        let left_s = truth.run_s - so_far.last().unwrap().running_s;
        assert!(by_log_s.low < left_s && left_s < by_log_s.high);
    }

    #[test]
    fn at_another_load_than_then_its_log_counts_charge_and_not_time() {
        let drawn = |current_a: f64, run_s: u32| -> Vec<Sample> {
            (0..=run_s / 60)
                .map(|minute| Sample {
                    running_s: 60.0 * f64::from(minute),
                    volts_v: 9.02,
                    current_a: Some(current_a),
                })
                .collect()
        };
        // 62 min at 300 mA are 0.31 Ah; 24 min at 600 mA have taken 0.24 Ah, 77 % of it.
        let then = Finished {
            samples: drawn(0.3, 3720),
            run_s: 3720.0,
            ..shipped::finished(Kind::LiIon2s).remove(0)
        };
        let own = std::slice::from_ref(&then);
        let so_far = drawn(0.6, 1440);
        let found = outlook(&run(&so_far, Kind::UsbConverter, 6.0), own, &[]);
        let Span { low, high } = found.by_log_s.unwrap();
        // 31 min in all at 600 mA, 10 % to either side.
        assert!((low - (0.9 * 1860.0 - 1440.0)).abs() < 1.0, "{low}");
        assert!((high - (1.1 * 1860.0 - 1440.0)).abs() < 1.0, "{high}");
        let so_far = drawn(0.6, 2400);
        let found = outlook(&run(&so_far, Kind::UsbConverter, 6.0), own, &[]);
        assert_eq!(
            found.by_log_s,
            Some(Span::of(0.0)),
            "it has given all it ever gave"
        );
    }

    #[test]
    fn a_kind_without_curves_is_refused() {
        let so_far = half(&shipped::finished(Kind::Alkaline)[0]);
        let found = outlook(&run(&so_far, Kind::Nimh7, 7.0), &[], &[]);
        assert_eq!(
            (found.said, found.basis),
            (Err(NoForecast::NoCurves), Basis::Nothing)
        );
    }

    #[test]
    fn a_battery_with_a_converter_is_answered_from_its_log_alone() {
        let so_far = half(&shipped::finished(Kind::Alkaline)[0]);
        let found = outlook(&run(&so_far, Kind::UsbConverter, 6.0), &[], &[]);
        assert_eq!(found.said, Err(NoForecast::HoldsVoltage(Level::Converter)));
        assert_eq!(found.by_log_s, None);
    }
}
