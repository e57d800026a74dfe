//! Steps: the frequency jumps and stays. A lamp is put down beside the coil, a lead moves, a hand rests on the table.
//!
//! They are data; the fits of drift and pushing go on with a constant of their own behind each ([`super::drift`]), so that a step
//! bends no slope. Steps that the battery's own step explains are listed and keep the one constant: pushing is read from them.
//!
//! Some minutes of means over seconds at a time are searched for changes of level about one slope
//! ([`super::statistics::change_points`]). Drift is no straight line, so that each change found must hold against a line of its
//! own on either side: a bend common to both cancels in their difference. Where neighbouring steps say that the scatter is no
//! white one, the jump must moreover be sudden and stand out from the usual steps. A change across a break is not reported:
//! nobody saw it. Memory: 240 seconds of means.

use std::collections::VecDeque;

use crate::units::Span;

use super::events::Kept;
use super::excursions::is_of_supply;
use super::mean::{FIRST_WIDTH_US, Mean};
use super::pairing::Place;
use super::statistics::change_points::{middle, scatter, usual_penalty, with_slope};
use super::statistics::hampel::SIGMA_PER_MAD;

/// Length of a cell, which is judged as one, in microseconds.
const CELL_US: i64 = 1_000_000;
/// Cells searched at once, and those at the end that wait for later ones. Chosen: drift hardly bends in four minutes.
const WINDOW: usize = 240;
const WAITING: usize = 60;
/// Cells handed on after each search.
const HANDED: usize = WINDOW / 2;
/// The shortest level, in cells.
const LEAST_CELLS: usize = 5;
/// Cells on either side that the jump is taken from. Chosen.
const SIDE: usize = 30;
/// Cells left out on either side, where the frequency may be on its way; the first that hold is taken. Chosen.
const ON_THE_WAY: [usize; 2] = [0, 2];
/// Standard errors that a jump must exceed, and usual steps where the scatter wanders. Chosen, as for excursions.
const LIMIT: f64 = 5.0;
/// Correlation of neighbouring differences below which the scatter counts as white, for which it is -1/2. Chosen.
const WHITE: f64 = -0.35;
/// Differences are cut off at this multiple of the usual one before they are correlated: a step is no sign of anything else.
const CUT: f64 = 3.0;
/// The least scatter, as a share of the frequency. Chosen.
const LEAST_SCATTER: f64 = 1e-7;
/// Nine in ten values of a normal distribution lie within this many standard deviations.
const NINE_IN_TEN: f64 = 1.645;
/// Steps that get a constant of their own in the fits. Chosen: they must leave most of their means.
const MOST_LEVELS: u8 = 15;

/// The frequency jumped and stayed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// First reading behind it, in seconds since the session began.
    pub at_s: f64,
    /// Numbers of the rows before and behind it.
    pub rows: (u64, u64),
    /// Size, in hertz, drift taken out.
    pub change_hz: f64,
    /// Half the 95 % interval of the size, in hertz, scatter taken as white.
    pub half_width_hz: f64,
    /// Size as a share of the frequency before it.
    pub ratio: f64,
    /// The change of the battery voltage at the same time, in volts, if it was read.
    pub battery_step_v: Option<f64>,
    /// Whether that explains it.
    pub is_of_supply: bool,
}

/// Readings of a second.
#[derive(Debug, Clone)]
struct Cell {
    whole: Mean,
    parts: Vec<Mean>,
}

impl Cell {
    fn new(mean: Mean) -> Self {
        Self {
            whole: mean,
            parts: vec![mean],
        }
    }

    fn takes(&self, mean: &Mean) -> bool {
        mean.place == Place::Follows && self.whole.index(CELL_US) == mean.index(CELL_US)
    }

    fn add(&mut self, mean: &Mean) {
        self.whole.add(mean);
        match self.parts.last_mut() {
            Some(last) if last.index(FIRST_WIDTH_US) == mean.index(FIRST_WIDTH_US) => {
                last.add(mean);
            }
            _ => self.parts.push(*mean),
        }
    }
}

/// Finds steps as means come, and hands the means on some minutes late, each with its level.
#[derive(Debug, Clone)]
pub struct Steps {
    open: Option<Cell>,
    /// The unbroken stretch, as far as it still waits.
    cells: VecDeque<Cell>,
    /// Places before this have been searched.
    searched: usize,
    found: Kept<Step>,
    /// Times of the first means behind steps that part levels, in microseconds, not yet handed on.
    parted_us: VecDeque<i64>,
    level: u8,
    /// The largest power of ten that all readings are whole multiples of, in hertz: the last digit of the counter.
    digit_hz: f64,
}

impl Default for Steps {
    fn default() -> Self {
        Self {
            open: None,
            cells: VecDeque::new(),
            searched: 0,
            found: Kept::default(),
            parted_us: VecDeque::new(),
            level: 0,
            digit_hz: 1e4,
        }
    }
}

impl Steps {
    /// Takes a mean in, in the order of time; hands on those whose level is known.
    pub fn push(&mut self, mean: &Mean, settled: &mut impl FnMut(&Mean)) {
        self.digit_hz = last_digit_hz(self.digit_hz, mean.range_hz);
        match &mut self.open {
            Some(open) if open.takes(mean) => open.add(mean),
            open => {
                self.cells.extend(open.replace(Cell::new(*mean)));
                if mean.place == Place::Begins {
                    self.end(settled);
                } else if self.cells.len() == WINDOW {
                    self.search(WINDOW - WAITING);
                    self.hand_on(HANDED, settled);
                    self.searched = WINDOW - WAITING - HANDED;
                }
            }
        }
    }

    /// Hands on all that still waits, as it is if nothing more comes.
    pub fn finish(&mut self, settled: &mut impl FnMut(&Mean)) {
        let open = self.open.take();
        self.cells.extend(open);
        self.end(settled);
    }

    /// Returns the steps so far, in the order of time.
    pub fn found(&self) -> &Kept<Step> {
        &self.found
    }

    /// Ends the stretch.
    fn end(&mut self, settled: &mut impl FnMut(&Mean)) {
        self.search(self.cells.len());
        self.hand_on(self.cells.len(), settled);
        self.searched = 0;
    }

    fn hand_on(&mut self, count: usize, settled: &mut impl FnMut(&Mean)) {
        for cell in self.cells.drain(..count) {
            for mut part in cell.parts {
                while self
                    .parted_us
                    .front()
                    .is_some_and(|&from_us| from_us <= part.between_us.0)
                {
                    self.parted_us.pop_front();
                    self.level = (self.level + 1).min(MOST_LEVELS);
                }
                part.level = self.level;
                settled(&part);
            }
        }
    }

    /// Searches the cells for steps from the first one not yet searched to before `until`.
    fn search(&mut self, until: usize) {
        if self.cells.len() < 2 * LEAST_CELLS {
            return;
        }
        let hertz: Vec<f64> = self
            .cells
            .iter()
            .map(|cell| cell.whole.frequency_hz)
            .collect();
        let Some(about) = About::of(&hertz, self.digit_hz) else {
            return;
        };
        let penalty = usual_penalty(about.scatter_hz, hertz.len());
        let breaks = with_slope(&hertz, LEAST_CELLS, penalty).breaks;
        let edge = |place: usize| breaks.get(place).copied();
        for (place, &at) in breaks.iter().enumerate() {
            if !(self.searched..until).contains(&at) {
                continue;
            }
            let low = place.checked_sub(1).and_then(edge).unwrap_or(0);
            let high = edge(place + 1).unwrap_or(hertz.len());
            if let Some(jump) = about.jump(&hertz, low, at, high) {
                self.keep(at, &jump);
            }
        }
    }

    fn keep(&mut self, at: usize, jump: &Jump) {
        // The means around it, each nearer to the line before it or to the one behind.
        let from = at.saturating_sub(3);
        let near = self.cells.iter().enumerate().skip(from).take(6);
        let mut means =
            near.flat_map(|(place, cell)| cell.parts.iter().map(move |part| (place, part)));
        let Some((_, mut before)) = means.next() else {
            return;
        };
        let is_behind = |place: usize, part: &Mean| {
            let off = part.frequency_hz - jump.before_hz - jump.slope * (place as f64 - at as f64);
            off * jump.change_hz.signum() > jump.change_hz.abs() / 2.0
        };
        let mut first = None;
        for (place, part) in means {
            if is_behind(place, part) {
                first = Some(part);
                break;
            }
            before = part;
        }
        let Some(first) = first else { return };
        let volts = |cells: std::ops::Range<usize>| {
            let cells = self.cells.iter().skip(cells.start).take(cells.len());
            let volts: Vec<f64> = cells.filter_map(|cell| cell.whole.battery_v).collect();
            (!volts.is_empty()).then(|| volts.iter().sum::<f64>() / volts.len() as f64)
        };
        let battery_before_v = volts(at.saturating_sub(LEAST_CELLS + 1)..at.saturating_sub(1));
        let battery_step_v = battery_before_v
            .zip(volts(at + 1..at + LEAST_CELLS + 1))
            .map(|(before_v, behind_v)| behind_v - before_v);
        let is_of_supply = battery_step_v
            .is_some_and(|step_v| is_of_supply(jump.change_hz, step_v, jump.before_hz));
        let step = Step {
            at_s: first.between_us.0 as f64 / 1e6,
            rows: (before.rows.1, first.rows.0),
            change_hz: jump.change_hz,
            half_width_hz: 2.0 * jump.standard_error_hz,
            ratio: jump.change_hz / jump.before_hz,
            battery_step_v,
            is_of_supply,
        };
        let from_us = first.between_us.0;
        self.found.add(step);
        if !is_of_supply {
            self.parted_us.push_back(from_us);
        }
    }
}

/// A jump between two lines.
#[derive(Debug, Clone, Copy)]
struct Jump {
    change_hz: f64,
    standard_error_hz: f64,
    /// The line before it at its place, in hertz, and its slope from cell to cell.
    before_hz: f64,
    slope: f64,
}

/// How the cells of a stretch differ from one to the next.
#[derive(Debug, Clone, Copy)]
struct About {
    /// Standard deviation of a cell, if the scatter is white.
    scatter_hz: f64,
    is_white: bool,
}

impl About {
    fn of(hertz: &[f64], digit_hz: f64) -> Option<Self> {
        let first = hertz.first()?;
        let scatter_hz = scatter(hertz)
            .max(often(hertz))
            .max(LEAST_SCATTER * first.abs())
            .max(digit_hz);
        let mut differences: Vec<f64> = hertz.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let median = middle(&mut differences.clone());
        let cut = CUT * 2.0_f64.sqrt() * scatter_hz;
        for step in &mut differences {
            *step = (*step - median).clamp(-cut, cut);
        }
        let squares: f64 = differences.iter().map(|step| step * step).sum();
        let products: f64 = differences.windows(2).map(|pair| pair[0] * pair[1]).sum();
        Some(Self {
            scatter_hz,
            is_white: products <= WHITE * squares,
        })
    }

    /// Returns the jump at a change of level between its neighbours, if it is one.
    fn jump(&self, hertz: &[f64], low: usize, at: usize, high: usize) -> Option<Jump> {
        let found = ON_THE_WAY.iter().find_map(|&skipped| {
            let before = Line::through(
                hertz,
                low.max(at.saturating_sub(SIDE)),
                at.checked_sub(skipped)?,
                at,
            )?;
            let behind = Line::through(hertz, at + skipped, high.min(at + SIDE), at)?;
            let scatter_hz = self.scatter_hz.max(before.left_hz).max(behind.left_hz);
            let jump = Jump {
                change_hz: behind.at_hz - before.at_hz,
                standard_error_hz: scatter_hz * (before.weight + behind.weight).sqrt(),
                before_hz: before.at_hz,
                slope: before.slope,
            };
            (jump.change_hz.abs() > LIMIT * jump.standard_error_hz).then_some(jump)
        })?;
        (self.is_white || self.is_sudden(hertz, at, &found)).then_some(found)
    }

    /// Whether half of a jump comes within three cells, and that is more than the usual wandering brings.
    fn is_sudden(&self, hertz: &[f64], at: usize, jump: &Jump) -> bool {
        let near = hertz.get(at.saturating_sub(SIDE)..hertz.len().min(at + SIDE));
        let mut steps: Vec<f64> = near
            .unwrap_or(&[])
            .windows(2)
            .map(|pair| pair[1] - pair[0])
            .collect();
        let usual = middle(&mut steps);
        for step in &mut steps {
            *step = (*step - usual).abs();
        }
        let wander_hz = (SIGMA_PER_MAD * middle(&mut steps)).max(self.scatter_hz);
        let (from, to) = (at.saturating_sub(2), (at + 1).min(hertz.len() - 1));
        let span = (to - from) as f64;
        let Some(moved_hz) = hertz
            .get(to)
            .zip(hertz.get(from))
            .map(|(to, from)| to - from)
        else {
            return false;
        };
        let excess_hz = (moved_hz - usual * span) * jump.change_hz.signum();
        excess_hz > LIMIT * wander_hz * span.sqrt() && excess_hz > jump.change_hz.abs() / 2.0
    }
}

/// Returns the standard deviation by the size that nine in ten differences stay below: a jump in one of ten is no step, but
/// scatter.
fn often(hertz: &[f64]) -> f64 {
    let mut steps: Vec<f64> = hertz.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let median = middle(&mut steps);
    for step in &mut steps {
        *step = (*step - median).abs();
    }
    steps.sort_by(f64::total_cmp);
    let high = steps.get(steps.len() * 9 / 10).copied().unwrap_or(0.0);
    high / (NINE_IN_TEN * 2.0_f64.sqrt())
}

/// A line through neighbouring cells, at the place of the jump.
#[derive(Debug, Clone, Copy)]
struct Line {
    at_hz: f64,
    slope: f64,
    /// Variance of `at_hz` in units of that of a cell.
    weight: f64,
    /// Standard deviation of the cells about the line.
    left_hz: f64,
}

impl Line {
    /// Fits one through the cells from `from` to before `to`, taken to the edge before cell `at`.
    fn through(hertz: &[f64], from: usize, to: usize, at: usize) -> Option<Self> {
        let cells = hertz.get(from..to).filter(|cells| cells.len() > 2)?;
        let count = cells.len() as f64;
        let origin = *cells.first()?;
        let centre = (count - 1.0) / 2.0;
        let mean = cells.iter().map(|hertz| hertz - origin).sum::<f64>() / count;
        let squares = count * (count * count - 1.0) / 12.0;
        let off = |place: usize| place as f64 - centre;
        let products: f64 = (0..)
            .zip(cells)
            .map(|(place, hertz)| off(place) * (hertz - origin))
            .sum();
        let slope = products / squares;
        let left: f64 = (0..)
            .zip(cells)
            .map(|(place, hertz)| slope.mul_add(-off(place), hertz - origin - mean).powi(2))
            .sum();
        let reach = at as f64 - 0.5 - (from as f64 + centre);
        Some(Self {
            at_hz: slope.mul_add(reach, origin + mean),
            slope,
            weight: count.recip() + reach * reach / squares,
            left_hz: (left / (count - 2.0)).sqrt(),
        })
    }
}

/// Returns the largest power of ten, at most `digit_hz`, that both readings are whole multiples of.
fn last_digit_hz(mut digit_hz: f64, range_hz: Span) -> f64 {
    let is_whole = |hertz: f64, digit_hz: f64| {
        let count = hertz / digit_hz;
        // Ten digits leave a rounding of one part in a million of the last.
        (count - count.round()).abs() < 1e-5
    };
    while digit_hz > 1e-4
        && !(is_whole(range_hz.low, digit_hz) && is_whole(range_hz.high, digit_hz))
    {
        digit_hz /= 10.0;
    }
    digit_hz
}
