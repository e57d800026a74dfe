//! The findings on a recorded run: it died, came back, jumped or faded, beside the expected behaviour of the build's circuit.

use super::evidence::{Evidence, History};
use super::quantity::{Quantity, Reading, Seen};
use super::situation::Situation;
use crate::analysis::compare::Comparison;
use crate::analysis::events::Stop;
use crate::battery::kind::Kind;
use crate::reading::{Channel, Row};
use crate::units::Span;

/// The voltages at which a build's circuit should begin and cease to run, open battery, in volts.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Thresholds {
    /// Lowest for beginning to oscillate.
    pub starts_v: Option<f64>,
    /// Lowest for running on fully.
    pub keeps_running_v: Option<f64>,
}

/// The meaning of a stop beside the thresholds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meaning {
    /// The battery still had more than the circuit needs: look elsewhere.
    NotTheVoltage,
    /// The battery was about where the circuit ceases to run.
    TheVoltage,
    /// The circuit ran on well below where it was predicted to cease.
    RanOnBelow,
    /// The battery's voltage was gone at once: a converter switched off.
    SwitchedOff,
    /// No voltage was read, or no threshold is known.
    Unknown,
}

/// Something that happened in a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Finding {
    /// It died.
    Stopped {
        /// When, in seconds.
        at_s: f64,
        /// The row it rests on.
        row: u64,
        /// The battery just before, in volts.
        battery_v: Option<f64>,
        /// When it came back, in seconds, and the battery's voltage then.
        back: Option<(f64, Option<f64>)>,
        /// Short returns in between.
        flickers: usize,
        /// Its meaning.
        meaning: Meaning,
    },
    /// Its frequency jumped and stayed.
    Jumped {
        /// When, in seconds.
        at_s: f64,
        /// Frequency after over before.
        ratio: f64,
        /// Whether the battery's voltage jumped with it.
        is_of_supply: bool,
        /// By how much it did, in volts, if it was read.
        supply_step_v: Option<f64>,
    },
    /// Its amplitude faded, last over first.
    Faded {
        /// The ratio.
        ratio: f64,
    },
    /// The battery's voltage fell.
    Sagged {
        /// First reading, in volts.
        from_v: f64,
        /// Last reading, in volts.
        to_v: f64,
    },
}

/// A battery is at a threshold within these parts of it (chosen). The threshold is of the open voltage, the reading of the loaded
/// one, which a tired battery holds a volt or so lower.
const AT_THRESHOLD: Span = Span::new(0.85, 1.25);
/// An amplitude that lost less has not faded.
const FADED: f64 = 0.8;
/// A battery that lost less has not sagged.
const SAGGED: f64 = 0.95;

/// A battery that has less than this share of its voltage before a stop that stays was switched off (chosen: one at rest
/// recovers).
const GONE: f64 = 0.2;

fn stopped(stop: &Stop, thresholds: Thresholds, last_v: Option<f64>) -> Finding {
    let is_gone = stop.to_s.is_none()
        && stop
            .battery_from_v
            .zip(last_v)
            .is_some_and(|(from_v, last_v)| last_v < GONE * from_v);
    let meaning = match (stop.battery_from_v, thresholds.keeps_running_v) {
        _ if is_gone => Meaning::SwitchedOff,
        (Some(volt), Some(least_v)) if volt > AT_THRESHOLD.high * least_v => Meaning::NotTheVoltage,
        (Some(volt), Some(least_v)) if volt < AT_THRESHOLD.low * least_v => Meaning::RanOnBelow,
        (Some(_), Some(_)) => Meaning::TheVoltage,
        _ => Meaning::Unknown,
    };
    Finding::Stopped {
        at_s: stop.from_s,
        row: stop.rows.0,
        battery_v: stop.battery_from_v,
        back: stop.to_s.map(|at_s| (at_s, stop.battery_to_v)),
        flickers: stop.flickers,
        meaning,
    }
}

/// Returns the first and last reading of a channel, of the source that has most of it.
fn ends(comparison: &Comparison, channel: Channel) -> Option<(f64, f64)> {
    let sources = comparison.summary.sources().iter();
    let channels = sources.flat_map(|source| &source.channels);
    let found = channels.filter(|one| one.channel == channel && one.readings > 1);
    let most = found.max_by_key(|one| one.readings)?;
    Some((most.first, most.last))
}

/// Returns the findings, the most worth reporting first.
pub fn findings(comparison: &Comparison, thresholds: Thresholds) -> Vec<Finding> {
    let stops = comparison.events.stops().entries.iter();
    let last_v = ends(comparison, Channel::BatteryV).map(|(_, last_v)| last_v);
    let mut found: Vec<Finding> = stops
        .map(|stop| stopped(stop, thresholds, last_v))
        .collect();
    found.extend(comparison.steps.entries.iter().map(|step| Finding::Jumped {
        at_s: step.at_s,
        ratio: 1.0 + step.ratio,
        is_of_supply: step.is_of_supply,
        supply_step_v: step.battery_step_v,
    }));
    if let Some((first, last)) = ends(comparison, Channel::AmplitudeV)
        && last < FADED * first
    {
        found.push(Finding::Faded {
            ratio: last / first,
        });
    }
    if let Some((from_v, to_v)) = ends(comparison, Channel::BatteryV)
        && to_v < SAGGED * from_v
    {
        found.push(Finding::Sagged { from_v, to_v });
    }
    found
}

/// Below this current nothing loads the battery, in amperes (chosen: a bias alone takes more).
const REST_A: f64 = 5e-3;
/// A step down of the battery's voltage by more than this share of its earlier value is a converter's (chosen: one measured log
/// of a converter-type cell stepped by 26 %, and no chemistry loses a tenth in seconds).
const SUPPLY_STEP: f64 = 0.1;

/// The supply's values since the circuit last ran, and before it ran at all.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Standstill {
    current_a: Option<f64>,
    rest_v: Option<f64>,
    has_run: bool,
}

impl Standstill {
    /// Takes a row in, in the order of time.
    pub fn push(&mut self, row: &Row) {
        if row.status.is_unread() {
            // It may be the current of a coil that runs unseen.
            return;
        }
        let current_a = row.supplied(Channel::CurrentA);
        if row.good(Channel::FrequencyHz).is_some() {
            self.current_a = None;
            self.has_run = true;
            return;
        }
        let is_at_rest = current_a.is_some_and(|current_a| current_a.abs() < REST_A);
        if is_at_rest && !self.has_run {
            self.rest_v = row.supplied(Channel::BatteryV).or(self.rest_v);
        }
        if let Some(current_a) = current_a {
            self.current_a = Some(current_a);
        }
    }
}

/// The battery that a session names, as far as a diagnosis uses it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SessionBattery {
    /// Its kind, where the session names one.
    pub kind: Option<Kind>,
    /// The voltage of each one in series at the start, in volts; empty where they were not read.
    pub each_v: Vec<f64>,
}

/// Returns the largest step down of the battery's voltage while the circuit ran on, in volts.
fn supply_step_v(comparison: &Comparison) -> Option<f64> {
    let (first_v, _) = ends(comparison, Channel::BatteryV)?;
    let steps = comparison.steps.entries.iter();
    let volts = steps.filter_map(|step| step.battery_step_v);
    volts
        .filter(|step_v| *step_v < -SUPPLY_STEP * first_v)
        .min_by(f64::total_cmp)
        .map(f64::abs)
}

/// Returns the end of a run as evidence: a build that ran, as it was when the record ends.
pub fn evidence(
    comparison: &Comparison,
    standstill: Standstill,
    battery: &SessionBattery,
) -> Evidence {
    let mut evidence = Evidence {
        history: History::Ran,
        supply_step_v: supply_step_v(comparison),
        ..Evidence::default()
    };
    let least_v = battery.each_v.iter().copied().min_by(f64::total_cmp);
    if let (Some(least_v), true) = (least_v, battery.each_v.len() > 1) {
        let reading = Reading::value(least_v);
        evidence.add(Situation::AsFound, Quantity::WeakestBattery, reading);
        evidence.battery_each_v.clone_from(&battery.each_v);
    }
    let mut add = |quantity, reading| evidence.add(Situation::AsFound, quantity, reading);
    // A converter holds its voltage to the end; any other battery's at the start says nothing of its end.
    if let Some(rest_v) = standstill.rest_v
        && battery.kind.is_some_and(Kind::has_converter)
    {
        add(Quantity::BatteryOpen, Reading::value(rest_v));
    }
    let is_dead = comparison
        .events
        .stops()
        .entries
        .last()
        .is_some_and(|stop| stop.to_s.is_none());
    if let Some((_, last_v)) = ends(comparison, Channel::BatteryV) {
        add(Quantity::Battery, Reading::value(last_v));
    }
    let current_a = if is_dead {
        // Its current while it ran says nothing of why it does not.
        standstill.current_a
    } else {
        ends(comparison, Channel::CurrentA).map(|(_, last_a)| last_a)
    };
    if let Some(current_a) = current_a {
        add(Quantity::Current, Reading::value(current_a));
    }
    if is_dead {
        add(Quantity::Frequency, Reading::Seen(Seen::NoSignal));
        return evidence;
    }
    if let Some(step) = comparison.steps.entries.last() {
        add(Quantity::FrequencyRatio, Reading::value(1.0 + step.ratio));
    } else if let Some((first_hz, last_hz)) = ends(comparison, Channel::FrequencyHz) {
        add(Quantity::FrequencyRatio, Reading::value(last_hz / first_hz));
    }
    if let Some((first, last)) = ends(comparison, Channel::AmplitudeV) {
        add(Quantity::AmplitudeRatio, Reading::value(last / first));
    }
    evidence
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::compare::Compare;
    use crate::analysis::pairing::Pairing;
    use crate::reading::{Note, Readings, Stamp, Status};

    /// Runs at 222 mA, then stands still behind a converter that has switched off.
    fn run(second: i64) -> Row {
        let is_running = second < 200;
        let mut readings = Readings::default();
        if is_running {
            readings.set(Channel::FrequencyHz, 6.23e6);
        }
        readings.set(Channel::BatteryV, if is_running { 9.02 } else { 0.453 });
        readings.set(Channel::CurrentA, if is_running { 0.222 } else { 0.0 });
        Row {
            stamp: Stamp {
                elapsed_us: second * 1_000_000,
                wall_ms: second * 1000,
            },
            source: "board".into(),
            readings,
            status: if is_running {
                Status::Ok
            } else {
                Status::NoSignal
            },
            note: Note::default(),
        }
    }

    fn current(rows: &[Row]) -> Option<Reading> {
        let mut compare = Compare::new(None, Pairing::new());
        let mut standstill = Standstill::default();
        compare.push(rows);
        for row in rows {
            standstill.push(row);
        }
        let battery = SessionBattery::default();
        evidence(&compare.report(), standstill, &battery)
            .reading(Situation::AsFound, Quantity::Current)
    }

    #[test]
    fn a_run_that_died_is_read_by_what_it_takes_now_and_a_running_one_by_its_last() {
        let rows: Vec<Row> = (0..300).map(run).collect();
        assert_eq!(current(&rows), Some(Reading::value(0.0)));
        assert_eq!(current(&rows[..200]), Some(Reading::value(0.222)));
        let without: Vec<Row> = rows
            .into_iter()
            .map(|mut row| {
                if row.status == Status::NoSignal {
                    row.readings = Readings::default();
                }
                row
            })
            .collect();
        assert_eq!(current(&without), None, "what it took running is not known");
    }

    /// Rests at 9.04 V, runs at 9.02 V, steps to 6.67 V, and is switched off by its converter.
    fn converter_run(second: i64) -> Row {
        let mut row = run(second.clamp(0, 300));
        let (battery_v, current_a) = match second {
            ..5 => (9.04, 0.0),
            5..180 => (9.02, 0.222),
            180..230 => (6.67, 0.163),
            _ => (0.453, 0.0),
        };
        row.stamp.elapsed_us = second * 1_000_000;
        row.readings = Readings::default();
        row.readings.set(Channel::BatteryV, battery_v);
        row.readings.set(Channel::CurrentA, current_a);
        row.status = Status::NoSignal;
        if (5..230).contains(&second) {
            let stepped = if battery_v < 7.0 { -3.6e3 } else { 0.0 };
            // A little scatter, as an instrument has it.
            let scatter = ((second * 7919) % 13) as f64 - 6.0;
            row.readings
                .set(Channel::FrequencyHz, 6.23e6 + stepped + scatter);
            row.status = Status::Ok;
        }
        row
    }

    #[test]
    fn a_converters_rest_voltage_and_its_step_are_evidence_and_another_batterys_rest_is_not() {
        let rows: Vec<Row> = (0..300).map(converter_run).collect();
        let mut compare = Compare::new(None, Pairing::new());
        let mut standstill = Standstill::default();
        compare.push(&rows);
        for row in &rows {
            standstill.push(row);
        }
        let comparison = compare.report();
        let of = |kind| {
            let battery = SessionBattery {
                kind,
                each_v: Vec::new(),
            };
            evidence(&comparison, standstill, &battery)
        };
        let stop = findings(&comparison, Thresholds::default());
        assert!(
            matches!(
                stop[0],
                Finding::Stopped {
                    meaning: Meaning::SwitchedOff,
                    ..
                }
            ),
            "{stop:?}"
        );
        let found = Situation::AsFound;
        let converter = of(Some(Kind::UsbConverter));
        let volt = |quantity| converter.number(found, quantity);
        assert_eq!(volt(Quantity::BatteryOpen), Some(9.04));
        assert_eq!(volt(Quantity::Battery), Some(0.453));
        assert_eq!(volt(Quantity::Current), Some(0.0));
        let step_v = converter.supply_step_v.unwrap();
        assert!((step_v - 2.35).abs() < 0.05, "{step_v}");
        let alkaline = of(Some(Kind::Alkaline));
        assert_eq!(alkaline.reading(found, Quantity::BatteryOpen), None);
    }
}
