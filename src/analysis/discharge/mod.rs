//! A session as a discharge of its battery: time under load, charge, energy, and the resistance where the load went off.

mod points;

use std::sync::Arc;

use crate::battery::charge::{Follows, GAP_INTERVALS, Load, Meter};
use crate::battery::curve::Sample;
use crate::battery::resistance::{Level, Resistance, two_level};
use crate::reading::{Channel, Chunk, Row, Status};

use super::statistics::median::Median;
use points::Thinner;

pub use points::Point;

/// A current read by another instrument counts for this time, or for two intervals of the voltage. As in pairing.
const LEAST_AGE_S: f64 = 1.0;
/// Steps of the load that are kept for the resistance.
const STEPS: usize = 1000;

/// The load went off, and the voltage gave the resistance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoadOff {
    /// Time under load until then, in seconds.
    pub running_s: f64,
    /// The resistance.
    pub resistance: Resistance,
}

/// The coil stopped while the battery was still read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoilStop {
    /// Time under load until then, in seconds.
    pub running_s: f64,
    /// The last voltage under load, in volts.
    pub volts_v: f64,
}

/// Stops whose voltages differ by no more than this share are one and the same stop. Chosen.
const SAME_STOP: f64 = 0.05;
/// A coil that stops above this share of the battery's first voltage was switched off by somebody. Chosen.
const TIRED: f64 = 0.9;
/// From its first such stop to the end a coil runs for no more than this share of the run. Chosen.
const LAST_FLICKERS: f64 = 0.25;

#[derive(Debug, Clone, Copy)]
struct Last {
    at_s: f64,
    volts_v: f64,
    current_a: Option<f64>,
    under_load: bool,
}

/// Makes a discharge of rows in the order of their time.
///
/// The load is on while the coil gives a signal, and always where none is ever missed; while the counter says nothing, it is
/// as it was. A gap with the load on at both ends counts as time under load, and not as charge.
#[derive(Debug)]
pub struct Discharge {
    load: Load,
    source: Option<Arc<str>>,
    is_silent: bool,
    last_current: Option<(f64, f64)>,
    last: Option<Last>,
    intervals: Median,
    running_s: f64,
    thinner: Thinner,
    steps: Vec<LoadOff>,
    stops: Vec<CoilStop>,
    /// Charge, energy and the gaps they leave out.
    pub meter: Meter,
    /// Whether any current was estimated.
    pub is_estimated: bool,
    /// The lowest voltage read, in volts.
    pub least_v: Option<f64>,
}

impl Discharge {
    /// Creates one that estimates the current by `load` where it was not measured.
    pub fn new(load: Load) -> Self {
        Self {
            load,
            source: None,
            is_silent: false,
            last_current: None,
            last: None,
            intervals: Median::default(),
            running_s: 0.0,
            thinner: Thinner::default(),
            steps: Vec::new(),
            stops: Vec::new(),
            meter: Meter::default(),
            is_estimated: false,
            least_v: None,
        }
    }

    /// Takes rows in.
    pub fn push(&mut self, rows: &Chunk) {
        for row in rows {
            if row.status == Status::NoSignal {
                self.is_silent = true;
            } else if row.good(Channel::FrequencyHz).is_some() {
                self.is_silent = false;
            }
            if let Some(current_a) = row.supplied(Channel::CurrentA) {
                self.last_current = Some((row.stamp.elapsed_s(), current_a));
            }
            self.reading(row);
        }
    }

    fn reading(&mut self, row: &Row) {
        let Some(volts_v) = row.battery_v() else {
            return;
        };
        let source = self.source.get_or_insert_with(|| Arc::clone(&row.source));
        if *source != row.source {
            return;
        }
        let at_s = row.stamp.elapsed_s();
        let measured_a = self.current_at(at_s);
        let now = Last {
            at_s,
            volts_v,
            // An estimate is for the load switched on.
            current_a: if self.is_silent {
                measured_a
            } else {
                self.load.current_a(volts_v, measured_a)
            },
            under_load: !self.is_silent,
        };
        self.is_estimated |= now.under_load && measured_a.is_none() && now.current_a.is_some();
        self.least_v = Some(self.least_v.map_or(volts_v, |least_v| least_v.min(volts_v)));
        let follows = self.follows(&now);
        if let Some(last) = self.last.replace(now) {
            if follows != Follows::AfterRest {
                self.running_s += at_s - last.at_s;
            }
            if last.under_load && !now.under_load {
                self.step(&last, &now);
                if self.stops.len() < STEPS {
                    self.stops.push(CoilStop {
                        running_s: self.running_s,
                        volts_v: last.volts_v,
                    });
                }
            }
            self.intervals.push(at_s - last.at_s);
        }
        if now.under_load {
            self.count(&now, follows);
        }
    }

    fn current_at(&self, at_s: f64) -> Option<f64> {
        let age_s = LEAST_AGE_S.max(2.0 * self.intervals.value().unwrap_or(0.0));
        self.last_current
            .filter(|(read_s, _)| at_s - read_s <= age_s)
            .map(|(_, current_a)| current_a)
    }

    fn follows(&self, now: &Last) -> Follows {
        let Some(last) = self.last else {
            return Follows::Closely;
        };
        let usual_s = self.intervals.value().unwrap_or(f64::INFINITY);
        if !last.under_load || !now.under_load {
            Follows::AfterRest
        } else if now.at_s - last.at_s > GAP_INTERVALS * usual_s {
            Follows::AfterGap
        } else {
            Follows::Closely
        }
    }

    /// The load went off: the jump of the voltage gives the resistance.
    fn step(&mut self, before: &Last, after: &Last) {
        let pulse_s = after.at_s - before.at_s;
        let usual_s = self.intervals.value().unwrap_or(0.0);
        let (Some(heavy_a), true) = (before.current_a, pulse_s <= 2.0 * usual_s) else {
            return;
        };
        let light = Level {
            volts_v: after.volts_v,
            current_a: after.current_a.unwrap_or(0.0),
        };
        let heavy = Level {
            volts_v: before.volts_v,
            current_a: heavy_a,
        };
        if let Ok(resistance) = two_level(light, heavy, Some(pulse_s), None)
            && self.steps.len() < STEPS
        {
            self.steps.push(LoadOff {
                running_s: self.running_s,
                resistance,
            });
        }
    }

    fn count(&mut self, now: &Last, follows: Follows) {
        if let Some(current_a) = now.current_a {
            self.meter.push(now.at_s, now.volts_v, current_a, follows);
        }
        self.thinner.push(Point {
            sample: Sample {
                running_s: self.running_s,
                volts_v: now.volts_v,
                current_a: now.current_a,
            },
            charge_ah: self.meter.charge_ah(),
            energy_wh: self.meter.energy_wh(),
            after_gap: follows == Follows::AfterGap,
        });
    }

    /// Returns the points, in the order of their time.
    pub fn points(&self) -> &[Point] {
        &self.thinner.kept
    }

    /// Returns the points as samples.
    pub fn samples(&self) -> Vec<Sample> {
        self.points().iter().map(|point| point.sample).collect()
    }

    /// Returns the coil's repeated stop at which the run ended. The coil stopped at least twice at about one voltage, far below
    /// the first. It ran on no longer than it takes a tired battery to come back. `None` where the run ended otherwise: a pause
    /// that somebody made comes once at its voltage, or early.
    pub fn repeated_stop(&self) -> Option<CoilStop> {
        let last = self.stops.last()?;
        let first_v = self.points().first()?.sample.volts_v;
        let is_same =
            |stop: &&CoilStop| (stop.volts_v - last.volts_v).abs() <= SAME_STOP * last.volts_v;
        let same: Vec<&CoilStop> = self.stops.iter().rev().take_while(is_same).collect();
        let first = same.last().filter(|_| same.len() > 1)?;
        let has_ended = self.last.is_some_and(|now| !now.under_load)
            || self.running_s - last.running_s <= SAME_STOP * self.running_s;
        let is_tired = last.volts_v <= TIRED * first_v
            && self.running_s - first.running_s <= LAST_FLICKERS * self.running_s;
        let mut volts: Vec<f64> = same.iter().map(|stop| stop.volts_v).collect();
        volts.sort_by(f64::total_cmp);
        let volts_v = *volts.get(volts.len() / 2)?;
        (has_ended && is_tired).then_some(CoilStop {
            running_s: first.running_s,
            volts_v,
        })
    }

    /// Returns the places where the load went off and gave the resistance, in the order of their time.
    pub fn steps(&self) -> &[LoadOff] {
        &self.steps
    }

    /// Returns the middle one of the resistances at which the load went off; `None` where it never did, or no current is known.
    pub fn resistance(&self) -> Option<Resistance> {
        let mut found: Vec<Resistance> = self.steps.iter().map(|step| step.resistance).collect();
        found.sort_by(|a, b| a.ohm.total_cmp(&b.ohm));
        found.get(found.len() / 2).copied()
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::row;
    use super::points::KEPT;
    use super::*;

    /// Invented: 9 V falling by 1 mV per second, the coil silent from 100 to 199 s with the battery 0.6 V higher.
    fn evening() -> Vec<Row> {
        (0..300)
            .map(|second| {
                let at_s = f64::from(second);
                let is_silent = (100..200).contains(&second);
                let (frequency_hz, status) = if is_silent {
                    (None, Status::NoSignal)
                } else {
                    (Some(4e6), Status::Ok)
                };
                let volts_v = 9.0 - 0.001 * at_s + if is_silent { 0.6 } else { 0.0 };
                row("board", at_s, frequency_hz, Some(volts_v), status)
            })
            .collect()
    }

    fn discharge(rows: &[Row], load: Load) -> Discharge {
        let mut discharge = Discharge::new(load);
        for chunk in rows.chunks(7) {
            discharge.push(chunk);
        }
        discharge
    }

    #[test]
    fn a_rest_is_no_time_under_load_and_its_rebound_no_charge() {
        let found = discharge(&evening(), Load::Current(0.3));
        let points = found.points();
        assert_eq!(points.len(), 200);
        assert!((points.last().unwrap().sample.running_s - 198.0).abs() < 1e-6);
        let charge_ah = found.meter.charge_ah().unwrap();
        assert!(
            (charge_ah - 0.3 * 198.0 / 3600.0).abs() < 1e-9,
            "{charge_ah}"
        );
        assert!(found.is_estimated && found.meter.gaps.is_empty());
    }

    #[test]
    fn the_load_going_off_tells_the_resistance() {
        let found = discharge(&evening(), Load::Current(0.3));
        let resistance = found.resistance().unwrap();
        // The second in which it went off belongs to no time under load.
        assert!(matches!(found.steps(), [one] if (one.running_s - 99.0).abs() < 1e-9));
        assert!(
            (resistance.ohm - 0.599 / 0.3).abs() < 1e-9,
            "{resistance:?}"
        );
        assert_eq!(resistance.pulse_s, Some(1.0));
        assert_eq!(discharge(&evening(), Load::Measured).resistance(), None);
    }

    /// Invented: a battery that falls from 9 V, its coil stopping at the seconds given for 20 s each.
    fn stopping(stops: &[i32], until: i32) -> Discharge {
        let row_at = |second: i32| {
            let is_silent = stops
                .iter()
                .any(|from| (*from..from + 20).contains(&second));
            let volts_v = 9.0 - 0.01 * f64::from(second) + if is_silent { 0.5 } else { 0.0 };
            let (frequency_hz, status) = if is_silent {
                (None, Status::NoSignal)
            } else {
                (Some(4e6), Status::Ok)
            };
            row(
                "board",
                f64::from(second),
                frequency_hz,
                Some(volts_v),
                status,
            )
        };
        let rows: Vec<Row> = (0..until).map(row_at).collect();
        discharge(&rows, Load::Measured)
    }

    #[test]
    fn a_run_that_ends_with_the_coils_repeated_stop_is_told_from_one_with_pauses() {
        let tired = stopping(&[250, 280], 300).repeated_stop().unwrap();
        assert!((tired.running_s - 249.0).abs() < 1e-9, "{tired:?}");
        assert!((6.2..6.6).contains(&tired.volts_v), "{tired:?}");
        let paused = [
            // Once; early, while it is fresh; at other voltages; and one that runs on for long afterwards.
            stopping(&[250], 270),
            stopping(&[20, 45], 65),
            stopping(&[120, 250], 270),
            stopping(&[200, 225], 290),
        ];
        for one in paused {
            assert_eq!(one.repeated_stop(), None);
        }
    }

    #[test]
    fn missing_rows_are_a_gap_and_are_not_counted() {
        let mut rows = evening();
        rows.drain(20..60);
        let found = discharge(&rows, Load::Current(0.3));
        assert_eq!(found.meter.gaps.len(), 1);
        assert!((found.meter.missing_s - 41.0).abs() < 1e-6);
        let charge_ah = found.meter.charge_ah().unwrap();
        assert!(
            (charge_ah - 0.3 * 157.0 / 3600.0).abs() < 1e-9,
            "{charge_ah}"
        );
        assert!(found.points()[20].after_gap);
    }

    #[test]
    fn a_battery_that_runs_down_beside_a_counter_that_says_nothing_is_followed() {
        for status in [
            Status::Silent,
            Status::Refused,
            Status::Garbled,
            Status::Overload,
        ] {
            let mut rows = evening();
            for row in rows.iter_mut().skip(250) {
                row.status = status;
                row.readings.clear(Channel::FrequencyHz);
            }
            let found = discharge(&rows, Load::Measured);
            assert_eq!(found.points().len(), 200, "{status}");
            assert_eq!(found.least_v, Some(9.0 - 0.299), "{status}");
            assert_eq!(found.meter.gaps.len(), 0, "{status}");
        }
    }

    #[test]
    fn without_a_current_no_charge_is_claimed() {
        let found = discharge(&evening(), Load::Measured);
        assert_eq!(found.meter.charge_ah(), None);
        assert!(!found.is_estimated);
    }

    #[test]
    fn a_long_record_is_averaged_and_keeps_its_shape() {
        let mut discharge = Discharge::new(Load::Measured);
        for second in 0..100_000 {
            let at_s = f64::from(second);
            let volts_v = Some(9.0 - 1e-5 * at_s);
            discharge.push(&[row("board", at_s, Some(4e6), volts_v, Status::Ok)]);
        }
        let points = discharge.points();
        assert!(
            points.len() < KEPT && points.len() > KEPT / 4,
            "{}",
            points.len()
        );
        let middle = points[points.len() / 2].sample;
        assert!((middle.volts_v - (9.0 - 1e-5 * middle.running_s)).abs() < 1e-9);
    }
}
