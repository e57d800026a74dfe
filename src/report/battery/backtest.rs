//! How well runs whose end is known are predicted: one table per kind, never pooled.

use std::fmt::Write as _;

use crate::battery::backtest::{Cell, SHARES, Trial, Widening, judged};
use crate::battery::plan::replay::Replay;
use crate::report::form::{Form, part};
use crate::report::layout::{kept, wrapped};
use crate::units::{Unit, rounded};

/// The outcome of one back-test.
#[derive(Debug, Clone)]
pub struct Table {
    heading: String,
    cells: [Cell; 4],
    widening: Widening,
    by_log: ByLog,
}

/// Mean errors of predictions from a logbook alone, as shares of the run.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ByLog {
    /// The forecast that it lasts as long as the run before.
    pub last: Option<f64>,
    /// The median of the three before.
    pub median_of_three: Option<f64>,
    /// The printed charge over the mean current.
    pub printed: Option<f64>,
}

impl Table {
    /// Sums up trials, the band of each widened as the trials of all other batteries or cells want it.
    pub fn new(heading: String, trials: &[Trial]) -> Self {
        Self {
            heading,
            cells: judged(trials),
            widening: Widening::of(trials),
            by_log: ByLog::default(),
        }
    }

    /// The same with the predictions from the logbook alone beside it.
    #[must_use]
    pub fn beside(self, by_log: ByLog) -> Self {
        Self { by_log, ..self }
    }
}

impl Table {
    /// How well runs are predicted half-way, in a sentence.
    pub(super) fn half_way(&self) -> String {
        let half_way = SHARES.iter().position(|share| (share - 0.5).abs() < 1e-9);
        let cell = half_way.and_then(|place| self.cells.get(place));
        match cell.filter(|cell| cell.runs > 0) {
            None => format!("{}: no forecast half-way.", self.heading),
            Some(cell) => format!(
                "{}: off by {} of the run on average, {} ended in the range said.",
                self.heading,
                kept(&per_cent(cell.error, 1)),
                kept(&format!(
                    "{:.0} of {}",
                    cell.covered * cell.runs as f64,
                    cell.runs
                ))
            ),
        }
    }
}

/// The tables as text.
pub fn text(tables: &[Table], plans: &[Replay]) -> String {
    let mut out = String::new();
    wrapped(
        &mut out,
        0,
        "Each run is forecast as if it were still going on, from other runs: of the shipped curves those of other cells, of your \
         own all others. Its band is made as wide as the other cells' or runs' trials want it, never its own; the last column \
         is what all of them together want. Of shipped lithium runs half begin at four fifths of the charge, not noted. Error, \
         band and widths are shares of the whole run. No shipped curve is measured.",
    );
    for table in tables {
        // Writing to a String cannot fail, here and below.
        writeln!(out, "\n{}", table.heading).ok();
        writeln!(
            out,
            "  {:>6}  {:>5}  {:>8}  {:>10}  {:>12}  {:>12}  band made wider by",
            "at", "runs", "refused", "mean error", "band covers", "median width"
        )
        .ok();
        for (place, cell) in table.cells.iter().enumerate() {
            writeln!(
                out,
                "  {:>6}  {:>5}  {:>8}  {:>10}  {:>12}  {:>12}  {}",
                per_cent(SHARES[place], 2),
                cell.runs,
                cell.refused,
                shown(cell, cell.error),
                shown(cell, cell.covered),
                shown(cell, cell.width),
                table.widening.0[place]
            )
            .ok();
        }
        let rules = [
            ("as long as the run before", table.by_log.last),
            (
                "the median of the three before",
                table.by_log.median_of_three,
            ),
            ("printed charge over mean current", table.by_log.printed),
        ];
        for (words, error) in rules {
            if let Some(error) = error {
                writeln!(out, "  {words}: mean error {}", per_cent(error, 2)).ok();
            }
        }
    }
    planned(&mut out, plans);
    out
}

/// How often the ranges of `predict --evening` held.
fn planned(out: &mut String, plans: &[Replay]) {
    if plans.is_empty() {
        return;
    }
    out.push('\n');
    wrapped(
        out,
        0,
        "Ranges of predict --evening, each made without the run's cell, or without types of the same figures. Of \
         other kinds no run is known.",
    );
    let mut before = None;
    for one in plans {
        if before != Some((one.kind, one.what)) {
            writeln!(out, "\n{}: {}", one.kind.name(), one.what).ok();
            writeln!(out, "  {:>8}  {:>7}", "stops at", "held").ok();
            before = Some((one.kind, one.what));
        }
        let stop = one
            .stop_v
            .map_or_else(|| "-".to_owned(), |stop_v| rounded(stop_v, Unit::Volt, 2));
        let held = format!("{} of {}", one.held.held, one.held.of);
        writeln!(out, "  {stop:>8}  {held:>7}").ok();
    }
}

fn per_cent(share: f64, digits: usize) -> String {
    rounded(share, Unit::Percent, digits)
}

fn shown(cell: &Cell, share: f64) -> String {
    if cell.runs == 0 {
        "-".to_owned()
    } else {
        per_cent(share, if share >= 0.9995 { 3 } else { 2 })
    }
}

part! {
    /// The tables for other programs.
    pub struct Json<'a>(all: &'a [Table], replays: &'a [Replay]) {
        tables: Vec<TablePart<'a>> = all.iter().map(TablePart::new).collect(),
        plans: Vec<ReplayPart> = replays.iter().map(ReplayPart::new).collect(),
    }
}

impl Form for Json<'_> {}

part! {
    struct TablePart<'a>(table: &'a Table) {
        heading: &'a str = &table.heading,
        cells: Vec<CellPart> = SHARES
            .iter()
            .zip(&table.cells)
            .zip(table.widening.0)
            .map(|((share, cell), widening)| CellPart::new(*share, cell, widening))
            .collect(),
        last_run_error: Option<f64> = table.by_log.last,
        median_of_three_error: Option<f64> = table.by_log.median_of_three,
        printed_charge_error: Option<f64> = table.by_log.printed,
    }
}

part! {
    struct CellPart(share: f64, cell: &Cell, widening: f64) with {
        let known = |value: f64| (cell.runs > 0).then_some(value);
    } {
        at: f64 = share,
        runs: usize = cell.runs,
        refused: usize = cell.refused,
        mean_error: Option<f64> = known(cell.error),
        covered: Option<f64> = known(cell.covered),
        median_width: Option<f64> = known(cell.width),
        widened_by: f64 = widening,
    }
}

part! {
    struct ReplayPart(one: &Replay) {
        kind: &'static str = one.kind.name(),
        what: &'static str = one.what,
        stop_v: Option<f64> = one.stop_v,
        held: usize = one.held.held,
        of: usize = one.held.of,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::backtest::{Knowledge, replay};
    use crate::battery::kind::Kind;
    use crate::battery::shipped;
    use crate::battery::worth::Held;

    /// Regression of our own computation: no outside value.
    #[test]
    fn the_back_test_of_the_shipped_curves_is_as_it_was_read() {
        let trials = replay(&shipped::finished(Kind::LiIon2s), Knowledge::VoltageOnly);
        let text = text(&[Table::new("li-ion-2s".to_owned(), &trials)], &[]);
        insta::assert_snapshot!("backtest-shipped", text);
    }

    #[test]
    fn ranges_of_a_plan_stand_under_what_was_replayed() {
        let plan = |stop_v, held| Replay {
            kind: Kind::LiIon2s,
            what: "an invented replay",
            stop_v,
            held: Held { held, of: 9 },
        };
        insta::assert_snapshot!(text(&[], &[plan(None, 9), plan(Some(7.0), 8)]).split_once("known.\n").unwrap().1, @"
        li-ion-2s: an invented replay
          stops at     held
                 -   9 of 9
             7.0 V   8 of 9
        ");
    }

    #[test]
    fn a_table_without_a_forecast_has_no_numbers() {
        let tables = [Table::new("none".to_owned(), &[])];
        let said = serde_json::to_value(Json::new(&tables, &[])).unwrap();
        assert!(said["tables"][0]["cells"][0]["mean_error"].is_null());
        assert!(text(&[Table::new("none".to_owned(), &[])], &[]).contains(" - "));
    }
}
