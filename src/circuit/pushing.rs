//! What a running circuit does as its battery drains: the frequency over the voltage, and where it goes dark.

use super::running::{Follower, Running, Until};
use super::stepper::{Accuracy, TransientError};
use super::verdict::{JudgeError, Judged, State};
use super::wiring::CircuitSpec;

/// How fast the voltage is turned, in second: slow against a cycle, as fast as the envelope follows.
const TURNED_OVER_S: f64 = 20e-6;
/// How long each voltage is followed at most, in second.
const FOLLOWED_S: f64 = 400e-6;
/// How often the last step down is halved to find where it ends: an eighth of the step is left.
const HALVINGS: u32 = 3;

/// A running circuit at one voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pushed {
    /// The battery's open voltage, in volt.
    pub open_v: f64,
    /// What it shows.
    pub running: Running,
}

/// A running circuit on its way down.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Descent {
    /// The voltages at which it ran fully, in their order.
    pub points: Vec<Pushed>,
    /// The lowest open voltage at which it was seen to run fully, in volt; `None` if it never did.
    pub keeps_running_v: Option<f64>,
}

impl Descent {
    /// Runs a set out of a running start at the first open voltage and turns it down through the others until it no longer
    /// runs fully; where between two of them that happens is halved three times.
    ///
    /// # Errors
    /// [`TransientError`] where it can't be followed.
    pub fn of(judged: &Judged, open_v: &[f64]) -> Result<Self, TransientError> {
        let wired = &judged.rest.wired;
        let accuracy = Accuracy::usual(judged.rest.startup.frequency_hz);
        let charged = judged.charged();
        let mut follower = Follower::new(&wired.network, &wired.probes, &charged, accuracy)?;
        let mut descent = Self::default();
        for &open_v in open_v {
            let before = follower.clone();
            let running = turned(&mut follower, open_v)?;
            if judged.state_of(&running) != State::Full {
                descent.halve(judged, before, open_v)?;
                break;
            }
            descent.points.push(Pushed { open_v, running });
            descent.keeps_running_v = Some(open_v);
        }
        Ok(descent)
    }

    /// Finds where a circuit that ran fully at the last voltage does not, down to `dark_v`.
    fn halve(
        &mut self,
        judged: &Judged,
        mut lit: Follower,
        mut dark_v: f64,
    ) -> Result<(), TransientError> {
        let Some(mut lit_v) = self.keeps_running_v else {
            return Ok(());
        };
        for _ in 0..HALVINGS {
            let between_v = 0.5 * (lit_v + dark_v);
            let mut follower = lit.clone();
            let running = turned(&mut follower, between_v)?;
            if judged.state_of(&running) == State::Full {
                (lit, lit_v) = (follower, between_v);
            } else {
                dark_v = between_v;
            }
        }
        self.keeps_running_v = Some(lit_v);
        Ok(())
    }

    /// How much the frequency rises with the voltage at the battery's clips, from the first point to the last at or above
    /// `down_to` of the first open voltage, in hertz a volt.
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

/// The part of a fresh battery's open voltage down to which a prediction tells the pushing.
const USUAL_DOWN_TO: f64 = 0.6;
/// Voltages a curve is followed through, beside the one it begins at.
const CURVE_POINTS: u32 = 6;

/// A set's frequency over the voltage at the battery's clips, while it runs fully.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Voltage at the clips in volt, rising, with the frequency in hertz.
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

    /// The curve that a prediction tells: from the clips' voltage of a fresh battery down to that where it ceases to run fully, or
    /// where its open voltage is 60 % of a fresh one's, whichever comes first. `None` where it does not run fully so far.
    ///
    /// # Errors
    /// [`JudgeError`] where the set does not rest or can't be followed.
    pub fn usual(judged: &Judged, descent: &Descent) -> Result<Option<Self>, JudgeError> {
        let Some(first) = descent.points.first() else {
            return Ok(None);
        };
        let least_v = USUAL_DOWN_TO * first.open_v;
        let last = descent.points.iter().rfind(|one| one.open_v >= least_v);
        let low_v = last.map_or(f64::NAN, |last| last.running.battery_v);
        let high_v = first.running.battery_v;
        if low_v < high_v {
            Self::of(&judged.spec, low_v, high_v)
        } else {
            Ok(None)
        }
    }

    /// A curve of voltages at the clips with their frequencies, in any order; `None` for fewer than two voltages.
    pub fn from_points(points: impl IntoIterator<Item = (f64, f64)>) -> Option<Self> {
        let mut points: Vec<_> = points.into_iter().collect();
        points.sort_by(|one, other| one.0.total_cmp(&other.0));
        points.dedup_by(|next, kept| next.0 <= kept.0);
        (points.len() > 1).then_some(Self { points })
    }

    /// The points, the voltage rising.
    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
    }

    /// The frequency at a voltage, straight between the points, in hertz; outside them that of the nearest.
    pub fn at_hz(&self, volt: f64) -> f64 {
        let after = self.points.partition_point(|point| point.0 <= volt);
        let before = after.checked_sub(1).and_then(|i| self.points.get(i));
        match (before, self.points.get(after)) {
            (Some(&(v0, f0)), Some(&(v1, f1))) => f0 + (f1 - f0) * (volt - v0) / (v1 - v0),
            (Some(&(_, hertz)), None) | (None, Some(&(_, hertz))) => hertz,
            (None, None) => f64::NAN,
        }
    }

    /// From the first point's voltage to the last's, in volt.
    pub fn reach_v(&self) -> (f64, f64) {
        let volt = |point: Option<&(f64, f64)>| point.map_or(f64::NAN, |point| point.0);
        (volt(self.points.first()), volt(self.points.last()))
    }

    /// How much the frequency rises over the whole reach, in hertz a volt: the straight line of least squares through the points,
    /// because each of them scatters by some parts in a million (a wild collector).
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

    /// The least and the most of the slopes from point to point, in hertz a volt: how far from straight it is.
    pub fn slopes_hz_per_v(&self) -> (f64, f64) {
        let slopes = self.points.windows(2).filter_map(|pair| match pair {
            [(v0, f0), (v1, f1)] => Some((f1 - f0) / (v1 - v0)),
            _ => None,
        });
        slopes.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), slope| {
            (low.min(slope), high.max(slope))
        })
    }
}

fn turned(follower: &mut Follower, open_v: f64) -> Result<Running, TransientError> {
    follower.turn_supply(open_v, TURNED_OVER_S);
    follower.follow(Until::Settled {
        at_most_s: FOLLOWED_S,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

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
        assert_eq!(curve.slopes_hz_per_v(), (1.0, 3.0));
        assert_eq!(Curve::from_points([(8.0, 1.0), (8.0, 1.0)]), None);
    }
}
