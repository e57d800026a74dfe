//! The behaviour of a running circuit as its battery drains: the frequency over the voltage, and where it goes dark.

use super::running::{Follower, Running, Until};
use crate::circuit::stepper::{Accuracy, TransientError};
use crate::circuit::verdict::{JudgeError, Judged, State};
use crate::circuit::wiring::CircuitSpec;
use crate::units::Span;

/// How fast the supply of a running start is switched on, in seconds: as the circuit's own switch.
const SWITCHED_ON_S: f64 = 1e-6;
/// How near an open voltage has to be to the set's own for its known state to be taken, in volts.
const KNOWN_WITHIN_V: f64 = 1e-6;
/// How fast the voltage is turned, in seconds: slow against a cycle, as fast as the envelope follows.
const TURNED_OVER_S: f64 = 20e-6;
/// How long each voltage is followed at most, in seconds.
const FOLLOWED_S: f64 = 400e-6;
/// How often the last step down is halved to find where it ends: an eighth of the step is left.
const HALVINGS: u32 = 3;

/// A running circuit at one voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pushed {
    /// The battery's open voltage, in volts.
    pub open_v: f64,
    /// Its values.
    pub running: Running,
}

/// A running circuit on its way down.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Descent {
    /// The voltages at which it ran fully, in their order.
    pub points: Vec<Pushed>,
    /// The lowest open voltage at which it was seen to run fully, in volts; `None` if it never did.
    pub keeps_running_v: Option<f64>,
}

/// Where a running circuit ceases to run fully as its battery drains.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ceases {
    /// The lowest open voltage at which it was seen to run fully, in volts.
    pub open_v: f64,
    /// The voltage at the battery's clips there, in volts.
    pub clips_v: f64,
}

/// A measured stop beside the predicted one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StopBeside {
    /// It stopped while the battery had more than the circuit needs.
    Earlier,
    /// About where it was predicted.
    AsPredicted,
    /// It ran on below.
    Later,
}

/// How far a measured stop may be from the predicted one to be called the same, as a share (chosen: the parts' spread and the
/// steps of the descent move it by as much).
const SAME_STOP_WITHIN: f64 = 0.1;

impl Ceases {
    /// Returns a stop that was read at the clips, in volts, beside this.
    pub fn beside(&self, measured_v: f64) -> StopBeside {
        let ratio = measured_v / self.clips_v;
        if ratio > 1.0 + SAME_STOP_WITHIN {
            StopBeside::Earlier
        } else if ratio < 1.0 - SAME_STOP_WITHIN {
            StopBeside::Later
        } else {
            StopBeside::AsPredicted
        }
    }
}

impl Descent {
    /// Returns where it ceases; `None` where it never ran fully.
    pub fn ceases(&self) -> Option<Ceases> {
        self.points.last().map(|point| Ceases {
            open_v: point.open_v,
            clips_v: point.running.battery_v,
        })
    }

    /// Runs a set out of its best state, or out of a running start, at the first open voltage. Then it turns the voltage down
    /// through the others until the set no longer runs fully. The interval in which that happens is halved three times.
    ///
    /// Down to 60 % of the first voltage, where the pushing is read, it is followed with [`Accuracy::usual`], below with
    /// [`Accuracy::coarse`].
    ///
    /// # Errors
    /// [`TransientError`] where it can't be followed.
    pub fn of(judged: &Judged, open_v: &[f64]) -> Result<Self, TransientError> {
        let mut descent = Self::default();
        let Some((&first_v, others)) = open_v.split_first() else {
            return Ok(descent);
        };
        let (mut way, running) = Way::begun(judged, first_v)?;
        if judged.state_of(&running) != State::Full {
            return Ok(descent);
        }
        descent.ran(first_v, running);
        for &open_v in others {
            let mut next = way.clone();
            let running = next.turned(open_v, TURNED_OVER_S)?;
            if judged.state_of(&running) != State::Full {
                descent.halve(judged, way, (descent.lowest_v(), open_v))?;
                break;
            }
            way = next;
            descent.ran(open_v, running);
        }
        Ok(descent)
    }

    fn ran(&mut self, open_v: f64, running: Running) {
        self.points.push(Pushed { open_v, running });
        self.keeps_running_v = Some(open_v);
    }

    /// Returns the lowest voltage so far, in volts.
    fn lowest_v(&self) -> f64 {
        self.keeps_running_v.unwrap_or(f64::NAN)
    }

    /// Finds where a circuit that ran fully at the first voltage ceases to, down to the second, at which it does not.
    fn halve(
        &mut self,
        judged: &Judged,
        mut way: Way,
        (mut full_v, mut weak_v): (f64, f64),
    ) -> Result<(), TransientError> {
        for _ in 0..HALVINGS {
            let between_v = 0.5 * (full_v + weak_v);
            let mut next = way.clone();
            let running = next.turned(between_v, TURNED_OVER_S)?;
            if judged.state_of(&running) == State::Full {
                (way, full_v) = (next, between_v);
                self.ran(full_v, running);
            } else {
                weak_v = between_v;
            }
        }
        Ok(())
    }

    /// Returns the rise of the frequency with the voltage at the battery's clips, in hertz per volt. It is taken from the first
    /// point to the last at or above `down_to` of the first open voltage.
    pub fn slope_hz_per_v(&self, down_to: f64) -> Option<f64> {
        let first = self.points.first()?;
        let last = self
            .points
            .iter()
            .rfind(|point| point.open_v >= down_to * first.open_v)?;
        let rise_v = first.running.battery_v - last.running.battery_v;
        let rise_hz = first.running.frequency_hz - last.running.frequency_hz;
        (rise_v > 0.0).then(|| rise_hz / rise_v)
    }
}

/// The part of a fresh battery's open voltage down to which a prediction gives the pushing.
const USUAL_DOWN_TO: f64 = 0.6;
/// Voltages a curve is followed through, beside the one it begins at.
const CURVE_POINTS: u32 = 6;

/// A set's frequency over the voltage at the battery's clips, while it runs fully.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Voltage at the clips in volts, rising, with the frequency in hertz.
    points: Vec<(f64, f64)>,
}

impl Curve {
    /// Follows a set down through the clips' voltages from `high_v` to `low_v`, out of a running start; it ends where the set
    /// no longer runs fully. `None` where it runs fully at fewer than two of them.
    ///
    /// The battery's open voltage for a voltage at the clips is taken by the set's own current, as if its load were a resistor.
    ///
    /// # Errors
    /// [`JudgeError`] where the set does not rest or can't be followed.
    pub fn of(spec: &CircuitSpec, low_v: f64, high_v: f64) -> Result<Option<Self>, JudgeError> {
        let judged = Judged::at_rest(spec)?;
        let begin = Descent::of(&judged, &[high_v])?;
        let Some(Pushed { running, .. }) = begin.points.first() else {
            return Ok(None);
        };
        let open_over_clips = high_v / running.battery_v;
        let open_v: Vec<f64> = (0..CURVE_POINTS)
            .map(|index| {
                let part = f64::from(index) / f64::from(CURVE_POINTS - 1);
                (high_v + part * (low_v - high_v)) * open_over_clips
            })
            .collect();
        let descent = Descent::of(&judged, &open_v)?;
        let points = descent
            .points
            .iter()
            .map(|point| (point.running.battery_v, point.running.frequency_hz));
        Ok(Self::from_points(points))
    }

    /// Returns the curve that a prediction shows: a set's own way down from the clips' voltage of a fresh battery. It ends where
    /// the set ceases to run fully, or where its open voltage is 60 % of a fresh one's, whichever comes first. `None` where it
    /// runs fully at fewer than two voltages.
    pub fn usual(descent: &Descent) -> Option<Self> {
        let first = descent.points.first()?;
        let points = descent
            .points
            .iter()
            .filter(|one| one.open_v >= USUAL_DOWN_TO * first.open_v)
            .map(|one| (one.running.battery_v, one.running.frequency_hz));
        Self::from_points(points)
    }

    /// Creates a curve of voltages at the clips with their frequencies, in any order; `None` for fewer than two voltages.
    pub fn from_points(points: impl IntoIterator<Item = (f64, f64)>) -> Option<Self> {
        let mut points: Vec<_> = points.into_iter().collect();
        points.sort_by(|one, other| one.0.total_cmp(&other.0));
        points.dedup_by(|next, kept| next.0 <= kept.0);
        (points.len() > 1).then_some(Self { points })
    }

    /// Returns the points, the voltage rising.
    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
    }

    /// Returns the frequency at a voltage, straight between the points, in hertz; outside them that of the nearest.
    pub fn at_hz(&self, volt: f64) -> f64 {
        let after = self.points.partition_point(|point| point.0 <= volt);
        let before = after.checked_sub(1).and_then(|i| self.points.get(i));
        match (before, self.points.get(after)) {
            (Some(&(v0, f0)), Some(&(v1, f1))) => f0 + (f1 - f0) * (volt - v0) / (v1 - v0),
            (Some(&(_, hertz)), None) | (None, Some(&(_, hertz))) => hertz,
            (None, None) => f64::NAN,
        }
    }

    /// Returns the range from the first point's voltage to the last's, in volts.
    pub fn reach_v(&self) -> Span {
        let volt = |point: Option<&(f64, f64)>| point.map_or(f64::NAN, |point| point.0);
        Span::new(volt(self.points.first()), volt(self.points.last()))
    }

    /// Returns the rise of the frequency over the whole reach, in hertz per volt: the straight line of least squares through the
    /// points, because each of them scatters by some parts in a million (a wild collector).
    pub fn slope_hz_per_v(&self) -> f64 {
        let count = self.points.len() as f64;
        let mean = |of: fn(&(f64, f64)) -> f64| self.points.iter().map(of).sum::<f64>() / count;
        let (mean_v, mean_hz) = (mean(|point| point.0), mean(|point| point.1));
        let (mut across, mut square) = (0.0, 0.0);
        for (volt, hertz) in &self.points {
            across += (volt - mean_v) * (hertz - mean_hz);
            square += (volt - mean_v).powi(2);
        }
        across / square
    }

    /// Returns the least and the most of the slopes from point to point, in hertz per volt: how far from straight it is.
    pub fn slopes_hz_per_v(&self) -> Span {
        Span::over(self.points.windows(2).filter_map(|pair| match pair {
            [(v0, f0), (v1, f1)] => Some((f1 - f0) / (v1 - v0)),
            _ => None,
        }))
    }
}

/// A running circuit on its way down, with how closely it is followed.
#[derive(Debug, Clone)]
struct Way {
    follower: Follower,
    /// The open voltage that it began at, in volts.
    first_v: f64,
    /// Its frequency at rest, in hertz.
    small_hz: f64,
}

impl Way {
    /// Returns a set in its best state if that is known at this voltage, else out of a running start.
    ///
    /// The supply is switched on within a microsecond: the charged top would decay during a slow rise.
    fn begun(judged: &Judged, first_v: f64) -> Result<(Self, Running), TransientError> {
        let small_hz = judged.rest.startup.frequency_hz;
        let way = |follower| Self {
            follower,
            first_v,
            small_hz,
        };
        let is_known = (judged.spec.supply.open_v - first_v).abs() < KNOWN_WITHIN_V;
        if let (true, Some(running), Some(left)) = (is_known, judged.running(), judged.left()) {
            return Ok((way(left.clone()), *running));
        }
        let wired = &judged.rest.wired;
        let charged = judged.charged();
        let accuracy = Accuracy::usual(small_hz);
        let follower = Follower::new(&wired.network, &wired.probes, &charged, accuracy)?;
        let mut way = way(follower);
        let running = way.turned(first_v, SWITCHED_ON_S)?;
        Ok((way, running))
    }

    /// Turns the supply to another open voltage and follows the circuit there.
    fn turned(&mut self, open_v: f64, over_s: f64) -> Result<Running, TransientError> {
        let usual = Accuracy::usual(self.small_hz);
        if open_v >= USUAL_DOWN_TO * self.first_v {
            return self.follow(open_v, over_s, usual);
        }
        let mut closely = self.clone();
        let coarsely = self.follow(open_v, over_s, Accuracy::coarse(self.small_hz));
        // A wild collector is now and then too much for coarse steps.
        coarsely.or_else(|_| {
            let running = closely.follow(open_v, over_s, usual);
            *self = closely;
            running
        })
    }

    fn follow(
        &mut self,
        open_v: f64,
        over_s: f64,
        accuracy: Accuracy,
    ) -> Result<Running, TransientError> {
        self.follower.set_accuracy(accuracy);
        self.follower.turn_supply(open_v, over_s);
        self.follower.follow(Until::Steady {
            at_most_s: FOLLOWED_S,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stop_beside_the_predicted_one_is_earlier_the_same_or_later() {
        let ceases = Ceases {
            open_v: 8.1,
            clips_v: 8.0,
        };
        for (measured_v, expected) in [
            (8.9, StopBeside::Earlier),
            (8.7, StopBeside::AsPredicted),
            (7.3, StopBeside::AsPredicted),
            (6.36, StopBeside::Later),
        ] {
            assert_eq!(ceases.beside(measured_v), expected, "{measured_v}");
        }
    }

    #[test]
    fn a_curve_is_straight_between_its_points_and_level_beyond_them() {
        let curve = Curve::from_points([(8.0, 104.0), (6.0, 100.0), (8.0, 104.0), (7.0, 103.0)]);
        let curve = curve.unwrap();
        assert_eq!(curve.points().len(), 3);
        for (volt, expected) in [(5.0, 100.0), (6.5, 101.5), (7.5, 103.5), (9.0, 104.0)] {
            assert!((curve.at_hz(volt) - expected).abs() < 1e-12, "{volt}");
        }
        // By hand: deviations of -1, 0, 1 V and -2.33, 0.67, 1.67 Hz make 4 over 2.
        assert!((curve.slope_hz_per_v() - 2.0).abs() < 1e-12);
        assert_eq!(curve.slopes_hz_per_v(), Span::new(1.0, 3.0));
        assert_eq!(Curve::from_points([(8.0, 1.0), (8.0, 1.0)]), None);
    }
}
