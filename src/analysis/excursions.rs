//! Brief excursions: a hand or a lamp comes near and goes again, and the frequency with it.
//!
//! They move the frequency by per cents, far more than an evening's drift, so that one of them would bend every fit. They are
//! data and stay in the record, the summary and the pictures; only the fits of drift and pushing go without them.
//!
//! Each second's mean is held against the median of the minutes around it (see [`super::statistics::hampel`]). A stretch that
//! stands out is an excursion on three conditions. It comes back to where it left from. It is more than a random walk of the size
//! of the usual steps would reach. The battery's own steps do not explain it. A step that stays, a start, and a stretch that has
//! not yet ended are none.

use std::collections::VecDeque;
use std::mem;

use crate::units::Span;

use super::events::Kept;
use super::mean::{FIRST_WIDTH_US, Mean};
use super::pairing::{Paired, Place};
use super::statistics::hampel::{SIGMA_PER_MAD, Sorted};

/// Length of a cell, which is judged as one, in microseconds.
const CELL_US: i64 = 1_000_000;
/// Parts of a second that are kept apart for the fits.
const MOST_PARTS: usize = 16;
/// Reach of the median to each side, in seconds: it follows the drift and outlasts a passing hand, of up to 150 s in all.
/// Chosen.
const REACH_S: f64 = 150.0;
/// Reach to each side at the least, when the readings are slow. Chosen.
const LEAST_REACH: usize = 10;
/// Robust standard deviations from the median that stand out. Chosen: white noise passes it in 6 of ten million.
const LIMIT: f64 = 5.0;
/// Least standard deviation as a share of the frequency: a counter that never shows another digit is not exact. Chosen.
const LEAST_SCALE: f64 = 2e-6;
/// Seconds over which the level before and after is taken. Chosen.
const CALM: usize = 3;
/// Seconds by which its slopes may reach beyond the part that stands out (chosen). It has ended once nothing has stood out for
/// that time, so that a hand that waves is one.
const MARGIN: usize = 15;
/// It has come back when the levels before and after differ by no more than this share of it. Chosen.
const RETURNED: f64 = 0.3;
/// The battery has stepped when its voltage moved this far, in volts. Chosen: well above the noise of a voltmeter.
const SUPPLY_STEP_V: f64 = 0.05;
/// No pushing is larger, as a share of the frequency for each volt. Chosen: forty times that of a simulated circuit, 245 ppm/V.
const LARGEST_PUSHING_PER_V: f64 = 0.01;

/// The frequency went away and came back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Excursion {
    /// First reading that belongs to it, in seconds since the session began.
    pub from_s: f64,
    /// Last reading that belongs to it, in seconds since the session began.
    pub to_s: f64,
    /// Numbers of its first and last row.
    pub rows: (u64, u64),
    /// Readings.
    pub readings: usize,
    /// Least and greatest frequency in it, in hertz.
    pub range_hz: Span,
    /// Its furthest second from the level around it, in hertz.
    pub deviation_hz: f64,
    /// The same as a share of that level.
    pub ratio: f64,
}

/// A second of readings, and how it stands among its neighbours once that is known.
#[derive(Debug, Clone)]
struct Cell {
    whole: Mean,
    parts: Vec<Mean>,
    /// Distance from the second before it, in hertz.
    step_hz: Option<f64>,
    off_hz: f64,
    scale_hz: f64,
    /// Standard deviation of the usual step, in hertz.
    usual_step_hz: f64,
    is_left_out: bool,
}

impl Cell {
    fn new(mean: Mean) -> Self {
        Self {
            whole: mean,
            parts: vec![mean],
            step_hz: None,
            off_hz: 0.0,
            scale_hz: f64::INFINITY,
            usual_step_hz: 0.0,
            is_left_out: false,
        }
    }

    fn add(&mut self, mean: &Mean) {
        self.whole.add(mean);
        let is_crowded = self.parts.len() >= MOST_PARTS;
        match self.parts.last_mut() {
            Some(last)
                if last.index(FIRST_WIDTH_US) == mean.index(FIRST_WIDTH_US)
                    && (mean.place == Place::Follows || is_crowded) =>
            {
                last.add(mean);
            }
            _ => self.parts.push(*mean),
        }
    }

    /// Returns how many standard deviations it is off, with its sign.
    fn off(&self) -> f64 {
        self.off_hz / self.scale_hz
    }
}

/// Cells that stand out, by their numbers.
#[derive(Debug, Clone, Copy)]
struct Run {
    from: usize,
    last: usize,
}

/// Whether more is to come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ahead {
    More,
    Nothing,
}

/// Finds excursions as readings come, and hands on the other readings, some minutes late. Cells are numbered from the first of
/// the session.
#[derive(Debug, Clone, Default)]
pub struct Excursions {
    open: Option<Cell>,
    cells: VecDeque<Cell>,
    /// Number of the first cell still kept.
    first: usize,
    /// Number of the next cell to be judged.
    next: usize,
    /// Number of the next cell to be handed on.
    due: usize,
    /// Numbers of the cells around the one judged, the second one excluded.
    window: (usize, usize),
    levels: Sorted,
    steps: Sorted,
    run: Option<Run>,
    is_broken: bool,
    found: Kept<Excursion>,
    left_out: usize,
}

impl Excursions {
    /// Takes a pair in, in the order of time; hands each mean on that belongs to no excursion.
    pub fn push(&mut self, paired: &Paired, settled: &mut impl FnMut(&Mean)) {
        let mean = Mean::of(paired);
        match &mut self.open {
            Some(open) if open.whole.index(CELL_US) == mean.index(CELL_US) => open.add(&mean),
            open => {
                let closed = open.replace(Cell::new(mean));
                self.close(closed);
                self.advance(Ahead::More, settled);
            }
        }
    }

    /// Hands on all that still waits, as it is if nothing more comes.
    pub fn finish(&mut self, settled: &mut impl FnMut(&Mean)) {
        let closed = self.open.take();
        self.close(closed);
        self.advance(Ahead::Nothing, settled);
    }

    /// Returns the excursions so far, in the order of time.
    pub fn found(&self) -> &Kept<Excursion> {
        &self.found
    }

    /// Returns the number of readings in them.
    pub fn left_out(&self) -> usize {
        self.left_out
    }

    fn close(&mut self, cell: Option<Cell>) {
        let Some(mut cell) = cell else { return };
        let before = self.cells.back();
        cell.step_hz =
            before.map(|before| (cell.whole.frequency_hz - before.whole.frequency_hz).abs());
        self.cells.push_back(cell);
    }

    fn end(&self) -> usize {
        self.first + self.cells.len()
    }

    fn cell(&self, number: usize) -> Option<&Cell> {
        self.cells.get(number.checked_sub(self.first)?)
    }

    fn advance(&mut self, ahead: Ahead, settled: &mut impl FnMut(&Mean)) {
        while self.next < self.end() && (ahead == Ahead::Nothing || self.is_surrounded(self.next)) {
            self.judge(self.next);
            self.next += 1;
            self.follow(self.next - 1);
        }
        if ahead == Ahead::Nothing
            && let Some(run) = self.run.take()
        {
            self.decide(run);
        }
        self.hand_on(ahead, settled);
    }

    fn distance_s(&self, from: usize, to: usize) -> f64 {
        let time_s = |number| self.cell(number).map_or(0.0, |cell| cell.whole.time_s);
        time_s(to) - time_s(from)
    }

    /// Whether all cells that the median of this one needs have come.
    fn is_surrounded(&self, number: usize) -> bool {
        let last = self.end() - 1;
        last - number >= LEAST_REACH && self.distance_s(number, last) > REACH_S
    }

    /// Compares a cell with the median around it.
    fn judge(&mut self, number: usize) {
        let is_near = |this: &Self, a, b| b - a <= LEAST_REACH || this.distance_s(a, b) <= REACH_S;
        while self.window.1 < self.end() && is_near(self, number, number.max(self.window.1)) {
            let coming = self.cell(self.window.1);
            let seen = coming.map(|cell| (cell.whole.frequency_hz, cell.step_hz));
            if let Some((level_hz, step_hz)) = seen {
                self.levels.insert(level_hz);
                if let Some(step_hz) = step_hz {
                    self.steps.insert(step_hz);
                }
            }
            self.window.1 += 1;
        }
        while self.window.0 < number && !is_near(self, self.window.0, number) {
            let going = self.cell(self.window.0);
            let seen = going.map(|cell| (cell.whole.frequency_hz, cell.step_hz));
            if let Some((level_hz, step_hz)) = seen {
                self.levels.remove(level_hz);
                if let Some(step_hz) = step_hz {
                    self.steps.remove(step_hz);
                }
            }
            self.window.0 += 1;
        }
        let Some(median_hz) = self.levels.median() else {
            return;
        };
        let spread_hz = self.levels.median_distance(median_hz).unwrap_or(0.0);
        let usual_step_hz = SIGMA_PER_MAD * self.steps.median().unwrap_or(0.0);
        let at = number - self.first;
        if let Some(cell) = self.cells.get_mut(at) {
            cell.off_hz = cell.whole.frequency_hz - median_hz;
            cell.usual_step_hz = usual_step_hz;
            cell.scale_hz = (SIGMA_PER_MAD * spread_hz)
                .max(usual_step_hz / 2.0_f64.sqrt())
                .max(LEAST_SCALE * median_hz.abs());
        }
    }

    /// Begins, carries on or ends the run of cells that stand out.
    fn follow(&mut self, number: usize) {
        let off = |number| self.cell(number).map_or(0.0, |cell| cell.off().abs());
        let stands_out = off(number) > LIMIT;
        let Some(run) = self.run else {
            self.run = stands_out.then_some(Run {
                from: number,
                last: number,
            });
            return;
        };
        if stands_out {
            let is_brief = self.distance_s(run.from, number) <= REACH_S;
            let last = number;
            self.run = is_brief.then_some(Run { last, ..run });
            return;
        }
        if number - run.last >= MARGIN + CALM {
            self.run = None;
            self.decide(run);
        }
    }

    /// Returns the run with its slopes. They are the cells more than a standard deviation off to the same side, and beyond them
    /// those still to move back by more than the usual steps.
    fn with_slopes(&self, run: Run) -> Run {
        let side = self.cell(run.from).map_or(0.0, |cell| cell.off_hz.signum());
        let is_slope = |number: usize, outer: usize| {
            let (Some(cell), Some(outer)) = (self.cell(number), self.cell(outer)) else {
                return false;
            };
            let back_hz = (cell.whole.frequency_hz - outer.whole.frequency_hz) * side;
            cell.off() * side > 1.0 || back_hz > 2.0 * cell.usual_step_hz
        };
        let Run { mut from, mut last } = run;
        while from > self.first + 1 && run.from - from < MARGIN && is_slope(from - 1, from - 2) {
            from -= 1;
        }
        while last + 2 < self.next && last - run.last < MARGIN && is_slope(last + 1, last + 2) {
            last += 1;
        }
        Run { from, last }
    }

    /// Leaves the run out if it is an excursion.
    fn decide(&mut self, run: Run) {
        let stands_out = run.last + 1 - run.from;
        let run = self.with_slopes(run);
        let Some(excursion) = self.excursion(run, stands_out) else {
            return;
        };
        let readings = excursion.readings;
        let size = |one: &Excursion| one.deviation_hz.abs();
        self.found.add_heaviest(excursion, size);
        self.left_out += readings;
        let (from, last) = (run.from - self.first, run.last - self.first);
        for cell in self.cells.range_mut(from..=last) {
            cell.is_left_out = true;
        }
    }

    fn excursion(&self, run: Run, stands_out: usize) -> Option<Excursion> {
        let before = self.level(run.from.checked_sub(CALM)?.max(self.first), run.from)?;
        let after = self.level(run.last + 1, (run.last + 1 + CALM).min(self.next))?;
        let mut cells = (run.from..=run.last).filter_map(|number| self.cell(number));
        let first = cells.next()?;
        // A change after a break is a start, not a disturbance of a run.
        if first.whole.place == Place::Begins {
            return None;
        }
        let (mut all, mut peak) = (first.whole, first);
        for cell in cells {
            all.add(&cell.whole);
            if cell.off_hz.abs() > peak.off_hz.abs() {
                peak = cell;
            }
        }
        let size_hz = peak.off_hz.abs();
        let has_returned = (after.frequency_hz - before.frequency_hz).abs() <= RETURNED * size_hz;
        let walk_hz = LIMIT * peak.usual_step_hz * (stands_out as f64).sqrt();
        if !has_returned || size_hz <= walk_hz || is_supply(&before, peak, &after) {
            return None;
        }
        let level_hz = f64::midpoint(before.frequency_hz, after.frequency_hz);
        Some(Excursion {
            from_s: all.between_us.0 as f64 / 1e6,
            to_s: all.between_us.1 as f64 / 1e6,
            rows: all.rows,
            readings: all.readings,
            range_hz: all.range_hz,
            deviation_hz: peak.off_hz,
            ratio: peak.off_hz / level_hz,
        })
    }

    /// Returns the mean over cells `from` to before `to`; `None` unless all of them are there.
    fn level(&self, from: usize, to: usize) -> Option<Mean> {
        let mut cells = (from..to).filter_map(|number| self.cell(number));
        let mut level = cells.next()?.whole;
        let mut count = 1;
        for cell in cells {
            level.add(&cell.whole);
            count += 1;
        }
        (count == CALM).then_some(level)
    }

    /// Hands on the cells that no run can reach any more, and forgets those that nothing needs.
    fn hand_on(&mut self, ahead: Ahead, settled: &mut impl FnMut(&Mean)) {
        let until = match (ahead, self.run) {
            (Ahead::Nothing, _) => self.end(),
            (Ahead::More, Some(run)) => run.from.saturating_sub(MARGIN),
            (Ahead::More, None) => self.next.saturating_sub(MARGIN),
        };
        while self.due < until {
            let at = self.due - self.first;
            self.due += 1;
            let Some(cell) = self.cells.get_mut(at) else {
                continue;
            };
            let parts = mem::take(&mut cell.parts);
            if cell.is_left_out {
                self.is_broken = true;
                continue;
            }
            for mut part in parts {
                if mem::take(&mut self.is_broken) {
                    part.place = Place::Begins;
                }
                settled(&part);
            }
        }
        while self.first + CALM < self.due && self.first < self.window.0 {
            self.cells.pop_front();
            self.first += 1;
        }
    }
}

/// Whether the battery stepped at the same time, by enough that the step may be the cause.
fn is_supply(before: &Mean, peak: &Cell, after: &Mean) -> bool {
    let (Some(before_v), Some(at_v), Some(after_v)) =
        (before.battery_v, peak.whole.battery_v, after.battery_v)
    else {
        return false;
    };
    let step_v = at_v - f64::midpoint(before_v, after_v);
    is_of_supply(peak.off_hz, step_v, before.frequency_hz)
}

/// Whether a step of the battery voltage may have moved the frequency by this amount.
pub(super) fn is_of_supply(off_hz: f64, step_v: f64, frequency_hz: f64) -> bool {
    let largest_hz = LARGEST_PUSHING_PER_V * step_v.abs() * frequency_hz.abs();
    step_v.abs() > SUPPLY_STEP_V && off_hz.abs() <= largest_hz
}
