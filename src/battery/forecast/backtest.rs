//! Forecasts of runs whose end is known, each made as if the run were still going on.

use super::level::Flat;
use super::library::Library;
use super::question::{Likeness, Prior, Question};
use crate::battery::curve::{self, Curve, Sample};
use crate::battery::finished::Finished;
use crate::battery::forecast::{NoForecast, TimeLeft, time_left};

/// Shares of a run at which its end is forecast.
pub const SHARES: [f64; 4] = [0.25, 0.5, 0.75, 0.9];
/// A 90 % band that holds the truth less often than this is widened.
const LEAST_COVERED: f64 = 0.85;
/// Widenings that are tried, the least that covers is taken. Chosen.
const WIDENINGS: [f64; 6] = [1.0, 1.25, 1.5, 2.0, 2.5, 3.0];
/// How much a length from the printed charge is trusted, as a standard deviation of its logarithm. In the published
/// back-tests it was 9 % off for new packs and 29 % for aged ones.
pub const RATED_LOG_SD: f64 = 0.25;
/// No battery gives more than this many times the charge printed on it. Chosen: a cell of a published parameter set gives
/// 1.26 times its nominal charge.
pub const MOST_OF_RATED: f64 = 1.35;

/// The knowledge that may be used beside the voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Knowledge {
    /// Nothing.
    VoltageOnly,
    /// The current, and the charge printed on the battery, in ampere hours.
    RatedCharge(f64),
    /// The battery's own runs before.
    LastRun,
}

impl Knowledge {
    /// Returns the likeness of the curves: the battery's own runs are like it, those of others are not.
    const fn likeness(self) -> Likeness {
        match self {
            Self::LastRun => Likeness::Same,
            Self::VoltageOnly | Self::RatedCharge(_) => Likeness::Other,
        }
    }
}

/// One forecast of one run.
#[derive(Debug, Clone)]
pub struct Trial {
    /// The battery or cell it was made of.
    pub group: String,
    /// Where in [`SHARES`] it was made.
    pub place: usize,
    /// How long the run lasted in truth, in seconds.
    pub run_s: f64,
    /// The forecast, or the reason for none.
    pub said: Result<TimeLeft, NoForecast>,
}

/// How much wider bands must be at each of [`SHARES`] to hold the truth as often as they say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Widening(pub [f64; 4]);

impl Widening {
    /// Bands as they are.
    pub const NONE: Self = Self([1.0; 4]);
    /// The factor before the first of [`SHARES`], where there is no back-test: the largest that is tried. Forecast every ten
    /// seconds, a simulated run at half its charge per hour was missed in 25 of 37 bands before its first tenth, and in none
    /// after it.
    pub const MOST: f64 = WIDENINGS[WIDENINGS.len() - 1];

    /// Returns the least that covers enough in these trials.
    pub fn of(trials: &[Trial]) -> Self {
        let mut all = Self::NONE;
        for (place, widening) in all.0.iter_mut().enumerate() {
            let enough = WIDENINGS.into_iter().find(|&factor| {
                let cell = cell(trials, place, |_| factor);
                cell.runs == 0 || cell.covered >= LEAST_COVERED
            });
            *widening = enough.unwrap_or(WIDENINGS[WIDENINGS.len() - 1]);
        }
        all
    }

    /// Returns the factor at a share of the run: the greater of those on either side, for a band should rather be too wide.
    pub fn at(&self, share: f64) -> f64 {
        let above = SHARES.iter().position(|known| share <= *known);
        let above = above.unwrap_or(SHARES.len() - 1);
        self.0[above].max(self.0[above.saturating_sub(1)])
    }
}

/// The results at one share of the run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cell {
    /// Number of runs that were forecast.
    pub runs: usize,
    /// Runs for which a forecast was refused.
    pub refused: usize,
    /// Mean error of the middle value, as a share of the whole run.
    pub error: f64,
    /// Share of the runs that ended inside the band.
    pub covered: f64,
    /// Median width of the band, as a share of the whole run.
    pub width: f64,
}

/// Forecasts each run from the others, leaving out its own group.
pub fn replay(runs: &[Finished], knowledge: Knowledge) -> Vec<Trial> {
    replay_on(runs, runs, knowledge)
}

/// Forecasts each run from curves of other groups than its own.
pub fn replay_on(runs: &[Finished], known: &[Finished], knowledge: Knowledge) -> Vec<Trial> {
    let curves: Vec<Option<Curve>> = known
        .iter()
        .map(|run| Curve::of(&run.samples, run.run_s, run.end_v))
        .collect();
    let mut trials = Vec::new();
    for (at, run) in runs.iter().enumerate() {
        let others = known.iter().zip(&curves);
        let others = others.filter(|(other, _)| other.group != run.group);
        let others = others.filter_map(|(other, curve)| Some((other, curve.clone()?)));
        let library = Library::new(others.collect());
        for (place, share) in SHARES.into_iter().enumerate() {
            let cut_s = share * run.run_s;
            let count = run
                .samples
                .partition_point(|sample| sample.running_s <= cut_s);
            let so_far = run.samples.get(..count).unwrap_or(&[]);
            let earlier = runs.get(..at).unwrap_or(&[]);
            let question = Question {
                so_far,
                start: run.start,
                library: &library,
                likeness: knowledge.likeness(),
                prior: prior(so_far, earlier, knowledge),
                flat: Flat::HELD,
                series: 1,
            };
            trials.push(Trial {
                group: run.group.clone(),
                place,
                run_s: run.run_s,
                said: time_left(&question),
            });
        }
    }
    trials
}

/// Returns the share of a printed charge, in ampere hours, that a run has taken; `None` without a current.
pub(super) fn taken(so_far: &[Sample], rated_ah: f64) -> Option<f64> {
    let elapsed_s = so_far.last()?.running_s;
    Some(curve::mean_current_a(so_far)? * elapsed_s / (3600.0 * rated_ah))
}

/// Returns the length of a run predicted from a printed charge, in ampere hours, and a current, in amperes.
pub(super) fn by_printed(rated_ah: f64, current_a: f64) -> Prior {
    let centre_s = rated_ah * 3600.0 / current_a;
    Prior {
        centre_s,
        log_sd: RATED_LOG_SD,
        most_s: MOST_OF_RATED * centre_s,
    }
}

fn prior(so_far: &[Sample], earlier: &[Finished], knowledge: Knowledge) -> Option<Prior> {
    let current_a = curve::mean_current_a(so_far);
    match knowledge {
        Knowledge::VoltageOnly => None,
        Knowledge::RatedCharge(rated_ah) => {
            current_a.map(|current_a| by_printed(rated_ah, current_a))
        }
        Knowledge::LastRun => {
            let lengths_s: Vec<f64> = earlier.iter().map(|run| run.run_s).collect();
            let last = earlier.last()?;
            let scale = match (curve::mean_current_a(&last.samples), current_a) {
                (Some(then_a), Some(now_a)) => then_a / now_a,
                _ => 1.0,
            };
            crate::battery::last_run::prior(&lengths_s, scale)
        }
    }
}

/// Returns the results of the trials at each of [`SHARES`], the band of each made as wide as the trials of all other groups
/// require.
///
/// So nothing is judged by the data it was tuned on.
pub fn judged(trials: &[Trial]) -> [Cell; 4] {
    let of_others = |group: &str| -> Widening {
        let others = trials.iter().filter(|other| other.group != group);
        Widening::of(&others.cloned().collect::<Vec<_>>())
    };
    let mut groups: Vec<&str> = trials.iter().map(|trial| trial.group.as_str()).collect();
    groups.sort_unstable();
    groups.dedup();
    let widenings: Vec<(&str, Widening)> = groups
        .into_iter()
        .map(|group| (group, of_others(group)))
        .collect();
    let widening = |trial: &Trial| {
        let own = widenings.iter().find(|(group, _)| *group == trial.group);
        own.map_or(Widening::NONE, |(_, widening)| *widening).0[trial.place]
    };
    [0, 1, 2, 3].map(|place| cell(trials, place, widening))
}

fn cell(trials: &[Trial], place: usize, widening: impl Fn(&Trial) -> f64) -> Cell {
    let mut cell = Cell {
        runs: 0,
        refused: 0,
        error: 0.0,
        covered: 0.0,
        width: f64::NAN,
    };
    let mut widths = Vec::new();
    for trial in trials.iter().filter(|trial| trial.place == place) {
        let Ok(said) = trial.said else {
            cell.refused += 1;
            continue;
        };
        let said = said.widened(widening(trial));
        let left_s = trial.run_s - said.elapsed_s;
        cell.runs += 1;
        cell.error += (said.middle_s - left_s).abs() / trial.run_s;
        cell.covered += f64::from((said.low_s..=said.high_s).contains(&left_s));
        widths.push((said.high_s - said.low_s) / trial.run_s);
    }
    let count = cell.runs.max(1) as f64;
    cell.error /= count;
    cell.covered /= count;
    widths.sort_by(f64::total_cmp);
    cell.width = widths.get(widths.len() / 2).copied().unwrap_or(f64::NAN);
    cell
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::kind::Kind;
    use crate::battery::shipped::{self, LI_ION_RATED_AH};

    fn check(kind: Kind, knowledge: Knowledge, at_most: [f64; 3], least_covered: f64) {
        let known = shipped::finished(kind);
        let trials = replay_on(&shipped::trials(kind), &known, knowledge);
        let cells = judged(&trials);
        println!("{knowledge:?} {cells:#?}");
        for (cell, at_most) in cells.iter().zip(at_most) {
            assert!(cell.error <= at_most, "{cells:#?}");
        }
        for cell in &cells {
            // The shortest alkaline-like run is too young at its first share.
            assert!(cell.refused <= 1, "{cells:#?}");
            assert!(cell.covered >= least_covered, "{cells:#?}");
        }
    }

    /// Limits of the first: the errors of the published back-test with curves of other types and the current known, 12, 9 and
    /// 8 % from full and 10, 10 and 9 % from four fifths, with room for the number here. By the volts alone it had 24 to 53 %.
    #[test]
    fn lithium_ion_runs_are_foretold_from_other_cells() {
        let rated = Knowledge::RatedCharge(LI_ION_RATED_AH);
        check(Kind::LiIon2s, rated, [0.14, 0.13, 0.13], 0.9);
        // Two known cells are few for the volts alone: at three quarters 78 % hold.
        check(
            Kind::LiIon2s,
            Knowledge::VoltageOnly,
            [0.25, 0.25, 0.35],
            0.75,
        );
    }

    #[test]
    fn alkaline_like_runs_are_foretold_from_voltage_alone() {
        check(
            Kind::Alkaline,
            Knowledge::VoltageOnly,
            [0.30, 0.18, 0.13],
            0.8,
        );
    }

    #[test]
    fn what_a_cell_is_judged_by_is_tuned_on_the_others_alone() {
        let trial = |group: &str, run_s: f64| Trial {
            group: group.to_owned(),
            place: 0,
            run_s,
            said: Ok(TimeLeft::of_run(
                250.0,
                950.0,
                1000.0,
                1050.0,
                super::super::question::Claim::None,
            )),
        };
        // Ten of one cell fall outside: its own trials would widen the band until it holds, those of the others do not.
        let mut trials: Vec<Trial> = (0..10).map(|_| trial("far", 1090.0)).collect();
        trials.extend((0..10).map(|_| trial("near", 1010.0)));
        let [cell, ..] = judged(&trials);
        assert!((cell.covered - 0.5).abs() < 1e-12, "{cell:?}");
    }

    #[test]
    fn no_shipped_curve_is_taken_for_a_level_one() {
        for kind in [Kind::LiIon2s, Kind::Alkaline] {
            for run in shipped::finished(kind) {
                for share in [0.1, 0.25, 0.5, 0.75, 0.9] {
                    let cut_s = share * run.run_s;
                    let count = run.samples.partition_point(|s| s.running_s <= cut_s);
                    let flat = Flat {
                        taken: Some(share),
                        below_v: if kind == Kind::LiIon2s { 6.8 } else { 0.0 },
                    };
                    assert!(!super::super::level::is_level(&run.samples[..count], flat));
                }
            }
        }
    }

    #[test]
    fn a_band_that_covers_too_little_is_widened_and_one_that_covers_is_not() {
        let trial = |run_s: f64| Trial {
            group: "one".to_owned(),
            place: 0,
            run_s,
            said: Ok(TimeLeft::of_run(
                250.0,
                950.0,
                1000.0,
                1050.0,
                super::super::question::Claim::None,
            )),
        };
        let good: Vec<_> = (0..10).map(|_| trial(1010.0)).collect();
        assert_eq!(Widening::of(&good), Widening::NONE);
        let bad: Vec<_> = (0..10).map(|_| trial(1090.0)).collect();
        assert!((Widening::of(&bad).0[0] - 2.0).abs() < 1e-12);
    }
}
