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

/// A clock's rate in words.
pub(super) fn words(rate: ClockRate) -> String {
    let (ahead, half) = ((rate.ratio - 1.0) * 100.0, rate.half_width_95 * 100.0);
    // Two digits of the uncertainty; five are a tenth of a part in a million.
    let decimals = (0_u8..5)
        .find(|decimals| half * 10_f64.powi(i32::from(*decimals)) >= 10.0)
        .unwrap_or(5);
    let decimals = usize::from(decimals);
    if ahead.abs() <= half {
        return format!(
            "the board's clock agrees with this computer's to {:.decimals$} %",
            ahead.abs() + half
        );
    }
    let (low, high) = (ahead.abs() - half, ahead.abs() + half);
    let way = if ahead > 0.0 { "fast" } else { "slow" };
    let places = decimals + 2;
    format!(
        "the board's clock is {:.decimals$} % {way} against this computer ({low:.decimals$} % to {high:.decimals$} %); \
         if it counts the frequency by that clock, factor = {:.places$} in its profile corrects it",
        ahead.abs(),
        rate.ratio
    )
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

    fn said(clocks: &BoardClocks) -> Vec<String> {
        clocks.rates().map(|(_, rate)| words(rate)).collect()
    }

    #[test]
    fn a_fast_clock_is_told_with_its_interval_and_factor() {
        let clocks = board(1.003, 600);
        let (_, rate) = clocks.rates().next().unwrap();
        assert!((rate.ratio - 1.003).abs() < rate.half_width_95, "{rate:?}");
        assert!(rate.half_width_95 < 1e-6, "{rate:?}");
        let words = said(&clocks);
        assert!(
            words[0].starts_with("the board's clock is 0.300"),
            "{words:?}"
        );
        assert!(
            words[0].contains(" % fast against this computer (0.29"),
            "{words:?}"
        );
        assert!(words[0].contains("factor = 1.00300"), "{words:?}");
        assert!(said(&board(0.99, 600))[0].contains(" % slow against"));
    }

    #[test]
    fn a_right_clock_agrees_and_half_a_minute_says_nothing() {
        let words = said(&board(1.0, 600));
        assert!(
            words[0].starts_with("the board's clock agrees with this computer's to 0.000"),
            "{words:?}"
        );
        assert_eq!(said(&board(1.003, 29)), [""; 0]);
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
        assert!(said(&clocks)[0].contains("0.300"), "{:?}", said(&clocks));
    }
}
