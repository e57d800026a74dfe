//! The worth of a reading at the moment it is recorded: stuck, implausible, or as it should be.
//!
//! A row is judged by the rows before it and never again; nothing is filtered, a doubted value stands in its column. So a doubt
//! must be one that the next row will not lift:
//!
//! - `stale`: the same digits many times over, of a value whose own scatter is several of its last digits. A coarse counter that
//!   truly reads the same shows no such scatter before, and is not doubted, unless its profile says after how many.
//! - `suspect`: outside the possible range, or too far from the median of the last readings. Too far is farther than their
//!   scatter allows (see [`crate::analysis::statistics::hampel`]) and than a hand, a lamp or a switched load moves it. The next
//!   reading that agrees with it makes it a new level. So a step costs one doubted row at the most, and one of some per cent
//!   none.
//!
//! A wrong digit further down cannot be distinguished from a hand when the row is written; [`crate::analysis::lone`] finds those
//! that stand alone.

use std::collections::VecDeque;
use std::sync::Arc;

use crate::analysis::statistics::hampel::{SIGMA_PER_MAD, Sorted};
use crate::reading::{Channel, Remark, Row, Status};
use crate::units;

/// Readings whose median the next one is held against. Chosen.
const WINDOW: usize = 9;
/// Readings before anything is a jump. Chosen: with fewer, the first wrong one would make the right ones wrong.
const LEAST_READINGS: usize = 3;
/// Robust standard deviations that scatter may reach. Chosen.
const LIMIT: f64 = 5.0;
/// The frequency may jump by this share from one reading to the next. Chosen: a hand moves it by some per cent.
const FREQUENCY_JUMP: f64 = 0.1;
/// The battery voltage may jump by this share. Chosen: a load going off gives back up to a fifth of it.
const BATTERY_JUMP: f64 = 0.3;
/// The same reading this many times in a row is stuck, where its scatter says so. Chosen: white scatter of three last digits
/// repeats one reading in eleven, and this run once in 10⁹ rows.
pub const USUAL_STALE_AFTER: u32 = 10;
/// Readings from which the scatter is taken, those of the run left out.
const SCATTER: usize = 48;
/// Readings that the scatter needs at the least. Chosen.
const LEAST_SCATTER: usize = 16;
/// The scatter is finer than the resolution when the median second difference is this many last digits: of white scatter that
/// is 1.65 standard deviations. Second differences, since a steady drift has none.
const LIVELY: f64 = 5.0;

/// When a reading that repeats is stuck.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum StaleRule {
    /// After [`USUAL_STALE_AFTER`] of them, where the readings before scattered by several last digits.
    #[default]
    Usual,
    /// After this number, whatever came before.
    After(u32),
    /// Never.
    Never,
}

/// How one channel of an instrument is judged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rule {
    /// The channel.
    pub channel: Channel,
    /// The least value that can be, in the channel's unit.
    pub at_least: f64,
    /// The greatest value that can be, in the channel's unit.
    pub at_most: f64,
    /// When it is stuck.
    pub stale: StaleRule,
}

impl Rule {
    /// Returns the usual rule of a channel. Its window is chosen wide: a value outside it is no reading of such a circuit.
    pub const fn usual(channel: Channel) -> Self {
        let (at_least, at_most) = match channel {
            // A third of 1 MHz to ten times 10 MHz: gate settings and harmonics are left to the comparison.
            Channel::FrequencyHz => (1e5, 1e8),
            Channel::BatteryV => (0.0, 30.0),
            Channel::CurrentA => (-10.0, 10.0),
            Channel::AmplitudeV => (0.0, 1e4),
            Channel::TemperatureC => (-60.0, 200.0),
        };
        Self {
            channel,
            at_least,
            at_most,
            stale: StaleRule::Usual,
        }
    }
}

/// Judges rows as they come.
#[derive(Debug, Clone, Default)]
pub struct Flags {
    sources: Vec<(Arc<str>, Vec<Watch>)>,
}

impl Flags {
    /// Judges the channels of an instrument by these rules.
    pub fn add(&mut self, source: Arc<str>, rules: impl IntoIterator<Item = Rule>) {
        let watches = rules.into_iter().map(Watch::new).collect();
        self.sources.push((source, watches));
    }

    /// Judges a row; doubts stand in its status and note. A graver status stays.
    pub fn judge(&mut self, row: &mut Row) {
        let known = self
            .sources
            .iter_mut()
            .find(|(source, _)| *source == row.source);
        let Some((_, watches)) = known else { return };
        match row.status {
            // Nobody saw the changes to the circuit meanwhile.
            Status::Gap => watches.iter_mut().for_each(Watch::forget),
            Status::Stale | Status::Suspect | Status::ClockStep => {}
            _ => {
                let mut doubts: Vec<(Status, Remark)> = Vec::new();
                for watch in watches {
                    let channel = watch.rule.channel;
                    // A frequency without the coil's signal is another's, masked or picked up; beside a fault it is not used.
                    let is_others = channel == Channel::FrequencyHz && row.status != Status::Ok;
                    match row.readings.get(channel).filter(|_| !is_others) {
                        Some(value) => doubts.extend(watch.judge(value)),
                        // A coil that starts again may do so elsewhere.
                        None if row.status == Status::NoSignal => watch.forget(),
                        None => {}
                    }
                }
                if !doubts.is_empty() {
                    tell(row, doubts);
                }
            }
        }
    }
}

fn tell(row: &mut Row, doubts: Vec<(Status, Remark)>) {
    for (status, why) in doubts {
        row.status = row.status.worst(status);
        row.note.push(why);
    }
}

/// One channel of one instrument, and its last readings.
#[derive(Debug, Clone)]
struct Watch {
    rule: Rule,
    /// The share by which it may jump; `None` where any jump can be.
    jump: Option<f64>,
    /// The last readings that were not suspect, in the order of time and of size.
    order: VecDeque<f64>,
    level: Sorted,
    last: Option<f64>,
    /// The last readings, whatever they were worth.
    recent: VecDeque<f64>,
    /// How often the last reading has come in a row.
    run: u32,
    is_stuck: bool,
}

impl Watch {
    fn new(rule: Rule) -> Self {
        Self {
            rule,
            jump: match rule.channel {
                Channel::FrequencyHz => Some(FREQUENCY_JUMP),
                Channel::BatteryV => Some(BATTERY_JUMP),
                _ => None,
            },
            order: VecDeque::new(),
            level: Sorted::default(),
            last: None,
            recent: VecDeque::new(),
            run: 0,
            is_stuck: false,
        }
    }

    fn forget(&mut self) {
        *self = Self::new(self.rule);
    }

    /// Takes a reading in and returns the doubt about it.
    fn judge(&mut self, value: f64) -> Option<(Status, Remark)> {
        let stale = self.stale(value);
        let suspect = self.suspect(value);
        self.last = Some(value);
        let (status, why) = stale
            .map(|why| (Status::Stale, why))
            .or_else(|| suspect.map(|why| (Status::Suspect, why)))?;
        Some((status, Remark::of(self.rule.channel, why)))
    }

    fn stale(&mut self, value: f64) -> Option<String> {
        if self.last.map(f64::to_bits) == Some(value.to_bits()) {
            self.run = self.run.saturating_add(1);
        } else {
            (self.run, self.is_stuck) = (1, false);
        }
        let run_long = usize::try_from(USUAL_STALE_AFTER).unwrap_or(usize::MAX);
        if self.recent.len() == SCATTER + run_long {
            self.recent.pop_front();
        }
        self.recent.push_back(value);
        match self.rule.stale {
            StaleRule::Usual if self.run == USUAL_STALE_AFTER => {
                self.is_stuck = is_lively(&self.recent, run_long);
            }
            StaleRule::Usual => {}
            StaleRule::After(count) => self.is_stuck = self.run >= count,
            StaleRule::Never => return None,
        }
        self.is_stuck
            .then(|| format!("the same {} times in a row", self.run))
    }

    fn suspect(&mut self, value: f64) -> Option<String> {
        let Rule {
            at_least, at_most, ..
        } = self.rule;
        let told = |value: f64| self.told(value);
        if !(at_least..=at_most).contains(&value) {
            return Some(format!(
                "{}, outside {} to {}",
                told(value),
                units::exact(at_least, self.rule.channel.unit()),
                units::exact(at_most, self.rule.channel.unit())
            ));
        }
        if let Some(jump) = self.jump
            && self.order.len() >= LEAST_READINGS
            && let Some(level) = self.level.median()
            && (value - level).abs() > jump * level.abs()
        {
            let spread = self.level.median_distance(level).unwrap_or(0.0);
            let scatter = LIMIT * SIGMA_PER_MAD * spread;
            if (value - level).abs() > scatter {
                let agrees = |last: f64| (value - last).abs() <= scatter.max(jump * last.abs());
                let Some(last) = self.last.filter(|&last| agrees(last)) else {
                    return Some(format!("{} after {}", told(value), told(level)));
                };
                self.order.clear();
                self.level = Sorted::default();
                self.accept(last);
            }
        }
        self.accept(value);
        None
    }

    fn accept(&mut self, value: f64) {
        let oldest = (self.order.len() == WINDOW).then(|| self.order.pop_front());
        match oldest.flatten() {
            Some(oldest) => self.level.replace(oldest, value),
            None => self.level.insert(value),
        }
        self.order.push_back(value);
    }

    fn told(&self, value: f64) -> String {
        units::rounded(value, self.rule.channel.unit(), 4)
    }
}

/// Whether the readings before the last `run` of them scatter by several of their last digits.
fn is_lively(recent: &VecDeque<f64>, run: usize) -> bool {
    let before: Vec<f64> = recent.iter().copied().take(recent.len() - run).collect();
    if before.len() < LEAST_SCATTER {
        return false;
    }
    let differences = before.windows(2).map(|pair| (pair[1] - pair[0]).abs());
    let least = differences
        .filter(|&difference| difference > 0.0)
        .min_by(f64::total_cmp);
    let mut seconds: Vec<f64> = before
        .windows(3)
        .map(|three| (three[2] - 2.0 * three[1] + three[0]).abs())
        .collect();
    seconds.sort_by(f64::total_cmp);
    let median = seconds.get(seconds.len() / 2);
    least
        .zip(median)
        .is_some_and(|(digit, &scatter)| scatter >= LIVELY * digit)
}

#[cfg(test)]
mod tests;
