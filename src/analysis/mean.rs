//! Means of readings over equal stretches of time, in bounded memory: the basis of the fits of drift and pushing.
//!
//! Averaging costs a slope nothing and gains three things. Rows become evenly spaced. The noise of counter and voltmeter shrinks
//! against the changes of coil and battery in a step. A session of any length is fitted at once. Without it the voltmeter's
//! noise, large against the battery's fall from one row to the next, would pull the pushing to zero.

use crate::units::Span;

use super::pairing::{Paired, Place};

/// Means kept at the most; when there are more, the stretches are doubled, so that 33 to 64 are left. Chosen: enough for a
/// line and its autocorrelation, and a step of the battery that stands well above a voltmeter's noise.
const MOST: usize = 64;
/// Length of a stretch at first, in microseconds: 1/16 s, from which doubling comes to whole seconds.
pub(super) const FIRST_WIDTH_US: i64 = 62_500;

/// Readings of a short stretch of time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mean {
    /// First and last time, in microseconds since the session began.
    pub between_us: (i64, i64),
    /// Numbers of its first and last row.
    pub rows: (u64, u64),
    /// Mean time, in seconds.
    pub time_s: f64,
    /// Mean frequency, in hertz.
    pub frequency_hz: f64,
    /// Least and greatest frequency, in hertz.
    pub range_hz: Span,
    /// Mean of the battery voltages paired, in volts; `None` if none was.
    pub battery_v: Option<f64>,
    /// Readings.
    pub readings: usize,
    /// Whether it follows the mean before it.
    pub place: Place,
    /// Steps of the frequency before it, as far as the fits separate them.
    pub level: u8,
}

impl Mean {
    /// Creates the mean of one reading by itself.
    pub fn of(paired: &Paired) -> Self {
        let at_us = paired.stamp.elapsed_us;
        Self {
            between_us: (at_us, at_us),
            rows: (paired.row, paired.row),
            time_s: paired.stamp.elapsed_s(),
            frequency_hz: paired.frequency_hz,
            range_hz: Span::of(paired.frequency_hz),
            battery_v: paired.battery_v,
            readings: 1,
            place: paired.place,
            level: 0,
        }
    }

    /// Takes in a later mean.
    pub fn add(&mut self, later: &Self) {
        self.readings += later.readings;
        let share = later.readings as f64 / self.readings as f64;
        let towards = |mean: f64, other: f64| share.mul_add(other - mean, mean);
        self.time_s = towards(self.time_s, later.time_s);
        self.frequency_hz = towards(self.frequency_hz, later.frequency_hz);
        self.battery_v = match (self.battery_v, later.battery_v) {
            (Some(volts), Some(other)) => Some(towards(volts, other)),
            (one, other) => one.or(other),
        };
        self.range_hz = self.range_hz.joined(later.range_hz);
        self.between_us.1 = later.between_us.1;
        self.rows.1 = later.rows.1;
    }

    /// Returns the number of the stretch of this width that it begins in.
    pub fn index(&self, width_us: i64) -> i64 {
        self.between_us.0.div_euclid(width_us)
    }
}

/// Collects means; breaks shorter than a stretch are forgotten as the stretches grow.
#[derive(Debug, Clone)]
pub struct Means {
    width_us: i64,
    kept: Vec<Mean>,
}

impl Default for Means {
    fn default() -> Self {
        Self {
            width_us: FIRST_WIDTH_US,
            kept: Vec::new(),
        }
    }
}

impl Means {
    /// Takes readings in, in the order of time.
    pub fn push(&mut self, mean: &Mean) {
        match self.kept.last_mut() {
            Some(last)
                if mean.place == Place::Follows
                    && last.level == mean.level
                    && last.index(self.width_us) == mean.index(self.width_us) =>
            {
                last.add(mean);
            }
            _ => self.kept.push(*mean),
        }
        if self.kept.len() > MOST {
            self.merge();
        }
        while self.kept.len() > MOST {
            self.width_us *= 2;
            self.merge();
        }
    }

    /// Merges the means that begin in the same stretch, parted by a break or not, but never across a step.
    fn merge(&mut self) {
        let mut merged: Vec<Mean> = Vec::with_capacity(MOST + 1);
        for mean in self.kept.drain(..) {
            match merged.last_mut() {
                Some(last)
                    if last.level == mean.level
                        && last.index(self.width_us) == mean.index(self.width_us) =>
                {
                    last.add(&mean);
                }
                _ => merged.push(mean),
            }
        }
        self.kept = merged;
    }

    /// Returns the means in the order of time.
    pub fn kept(&self) -> &[Mean] {
        &self.kept
    }

    /// Returns the number of readings taken in.
    pub fn readings(&self) -> usize {
        self.kept.iter().map(|mean| mean.readings).sum()
    }

    /// Returns the length of a stretch, in seconds; `None` while every reading still stands by itself.
    pub fn width_s(&self) -> Option<f64> {
        let is_averaged = self.kept.iter().any(|mean| mean.readings > 1);
        is_averaged.then(|| self.width_us as f64 / 1e6)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::Stamp;

    fn paired(at_us: i64, frequency_hz: f64, place: Place) -> Mean {
        Mean::of(&Paired {
            stamp: Stamp {
                elapsed_us: at_us,
                wall_ms: 0,
            },
            row: 1 + at_us.unsigned_abs(),
            frequency_hz,
            battery_v: (at_us % 2_000_000 == 0).then_some(9.0),
            place,
        })
    }

    #[test]
    fn few_readings_stand_by_themselves() {
        let mut means = Means::default();
        for i in 0..64 {
            means.push(&paired(i * 1_000_000, i as f64, Place::Follows));
        }
        assert_eq!((means.kept().len(), means.width_s()), (64, None));
    }

    #[test]
    fn a_long_session_is_as_many_means_of_whole_seconds() {
        let mut means = Means::default();
        for i in 0..2400 {
            means.push(&paired(i * 1_000_000, i as f64, Place::Follows));
        }
        assert_eq!(means.width_s(), Some(64.0));
        assert_eq!((means.kept().len(), means.readings()), (38, 2400));
        let second = means.kept()[1];
        assert!((second.frequency_hz - 95.5).abs() < 1e-9, "{second:?}");
        assert!((second.time_s - 95.5).abs() < 1e-9, "{second:?}");
        let range_hz = Span::new(64.0, 127.0);
        assert_eq!((second.readings, second.range_hz), (64, range_hz));
        assert_eq!(second.battery_v, Some(9.0));
    }

    #[test]
    fn breaks_without_number_do_not_fill_the_memory() {
        let mut means = Means::default();
        for i in 0..100_000 {
            means.push(&paired(i * 1000, 0.0, Place::Begins));
        }
        assert!(means.kept().len() <= MOST);
        assert_eq!(means.readings(), 100_000);
    }
}
