//! A board's own clock beside this computer's: how fast it runs, which is how wrong a frequency is that is counted by it.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::analysis::regression::{FirstRow, Moments, Term};
use crate::analysis::student::half_width_95;
use crate::reading::BoardTime;
use crate::session::ClockRate;

/// Less time says nothing: lines come a millisecond early or late. Chosen.
const LEAST_S: f64 = 30.0;

/// An unbroken run of one board's clock.
#[derive(Debug, Default)]
struct Run {
    begin_s: f64,
    end_s: f64,
    moments: Moments,
}

impl Run {
    fn length_s(&self) -> f64 {
        self.end_s - self.begin_s
    }

    /// The board's seconds in one of the computer's, fitted with autocorrelated lateness.
    fn rate(&self) -> Option<ClockRate> {
        if self.length_s() < LEAST_S {
            return None;
        }
        let fit = self
            .moments
            .fit(&[Term::Constant, Term::Time], FirstRow::Keep)
            .ok()?;
        let (ahead, error) = (*fit.coefficients.get(1)?, *fit.standard_errors.get(1)?);
        Some(ClockRate {
            ratio: 1.0 + ahead,
            half_width_95: error * half_width_95(fit.degrees)?,
        })
    }
}

/// The clocks of all boards of a recording.
#[derive(Debug, Default)]
pub(super) struct BoardClocks {
    /// For each board the run that goes on, and the longest before it.
    runs: BTreeMap<Arc<str>, (Run, Run)>,
}

impl BoardClocks {
    /// Takes moments of both clocks.
    pub(super) fn take(&mut self, source: Arc<str>, times: &[BoardTime]) {
        let (run, longest) = self.runs.entry(source).or_default();
        for time in times {
            if time.is_first {
                let ended = std::mem::take(run);
                if ended.length_s() > longest.length_s() {
                    *longest = ended;
                }
                run.begin_s = time.elapsed_s;
            }
            run.end_s = time.elapsed_s;
            run.moments
                .push(time.elapsed_s, 0.0, time.board_s - time.elapsed_s);
        }
    }

    /// Returns the rate of each board's clock, where its longest unbroken run says anything.
    pub(super) fn rates(&self) -> impl Iterator<Item = (&Arc<str>, ClockRate)> {
        self.runs.iter().filter_map(|(source, (run, longest))| {
            let run = if run.length_s() > longest.length_s() {
                run
            } else {
                longest
            };
            Some((source, run.rate()?))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A board whose clock runs at `ratio`, and whose lines come up to 2 ms late by a rule of the test's own.
    fn board(ratio: f64, seconds: u32) -> BoardClocks {
        let mut clocks = BoardClocks::default();
        let times: Vec<BoardTime> = (0..seconds)
            .map(|second| {
                let late_s = f64::from(second * 7919 % 13) / 13.0 * 2e-3;
                BoardTime {
                    elapsed_s: 5.0 + f64::from(second) + late_s,
                    board_s: f64::from(second) * ratio,
                    is_first: second == 0,
                }
            })
            .collect();
        clocks.take("board".into(), &times);
        clocks
    }

    fn ratios(clocks: &BoardClocks) -> Vec<f64> {
        clocks.rates().map(|(_, rate)| rate.ratio).collect()
    }

    #[test]
    fn a_fast_clock_is_found_with_its_interval() {
        for ratio in [1.003, 0.99, 1.0] {
            let clocks = board(ratio, 600);
            let (_, rate) = clocks.rates().next().unwrap();
            assert!((rate.ratio - ratio).abs() < rate.half_width_95, "{rate:?}");
            assert!(rate.half_width_95 < 1e-6, "{rate:?}");
        }
    }

    #[test]
    fn half_a_minute_says_nothing() {
        assert!(ratios(&board(1.003, 29)).is_empty());
    }

    #[test]
    fn a_board_that_began_anew_is_judged_by_its_longest_run() {
        let mut clocks = board(1.003, 600);
        let again = |second: u32| BoardTime {
            elapsed_s: 700.0 + f64::from(second),
            board_s: f64::from(second) * 1.5,
            is_first: second == 0,
        };
        let times: Vec<BoardTime> = (0..100).map(again).collect();
        clocks.take("board".into(), &times);
        assert!((ratios(&clocks)[0] - 1.003).abs() < 1e-6);
    }
}
