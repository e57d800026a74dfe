//! Readings that stand alone: one or two far off while those on either side agree. The cause is a digit that went wrong on the
//! line, or a spark. They are judged from both sides, so that neither a step nor a hand that stays for some readings is one. They
//! stay in every figure that a median does not protect, and are reported so that a person may look.
//!
//! Memory: the window.

use std::collections::VecDeque;

use super::events::Kept;
use super::pairing::Place;
use super::statistics::hampel::Identifier;
use crate::reading::Channel;

/// Neighbours on each side. Chosen.
const HALF_WIDTH: usize = 20;
/// Robust standard deviations. Chosen: white scatter passes it in about one of a million readings.
const LIMIT: f64 = 8.0;
/// Least standard deviation of a frequency, as a share of it. Chosen, as for excursions.
const LEAST_RATIO: f64 = 2e-6;
/// Least standard deviation of a battery voltage, in volts. Chosen: the last digit of a coarse voltmeter.
const LEAST_V: f64 = 0.01;
/// The most in a row that still stand alone. Chosen: a line that is damaged twice.
const ALONE: usize = 2;

/// A reading, or two, that stood alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lone {
    /// The channel.
    pub channel: Channel,
    /// First of them, in seconds since the session began.
    pub at_s: f64,
    /// Numbers of their rows, first and last.
    pub rows: (u64, u64),
    /// The one that is farthest off, in the channel's unit.
    pub value: f64,
    /// The median around it.
    pub usual: f64,
    /// Readings.
    pub readings: usize,
}

/// Finds them in one channel as readings come, twenty readings late.
#[derive(Debug, Clone)]
pub struct Alone {
    channel: Channel,
    identifier: Option<Identifier>,
    /// Times and rows of the readings that wait for their verdict.
    waiting: VecDeque<(f64, u64)>,
    run: Option<Lone>,
    /// Whether none of the stretch has been judged as usual.
    is_first: bool,
    found: Kept<Lone>,
}

impl Alone {
    /// Creates the search for one channel.
    pub fn new(channel: Channel) -> Self {
        Self {
            channel,
            identifier: None,
            waiting: VecDeque::new(),
            run: None,
            is_first: true,
            found: Kept::default(),
        }
    }

    /// Takes a good reading in, in the order of time.
    pub fn push(&mut self, at_s: f64, row: u64, value: f64, place: Place) {
        if place == Place::Begins {
            self.finish();
        }
        let least_scale = match self.channel {
            Channel::FrequencyHz => LEAST_RATIO * value.abs(),
            _ => LEAST_V,
        };
        let identifier = self
            .identifier
            .get_or_insert_with(|| Identifier::new(HALF_WIDTH, LIMIT, least_scale));
        self.waiting.push_back((at_s, row));
        if let Some(verdict) = identifier.push(value) {
            self.follow(verdict);
        }
    }

    /// Judges the readings that still wait, as if nothing more came.
    pub fn finish(&mut self) {
        while let Some(verdict) = self.identifier.as_mut().and_then(Identifier::rest) {
            self.follow(verdict);
        }
        // With nothing behind it, it may be a step.
        self.run = None;
        self.is_first = true;
    }

    /// Returns those found so far, in the order of time.
    pub fn found(&self) -> &Kept<Lone> {
        &self.found
    }

    fn follow(&mut self, verdict: super::statistics::hampel::Verdict) {
        let Some((at_s, row)) = self.waiting.pop_front() else {
            return;
        };
        if !verdict.is_outlier {
            self.end();
            self.is_first = false;
            return;
        }
        // With nothing before it, it may be a start.
        if self.is_first {
            return;
        }
        let next = Lone {
            channel: self.channel,
            at_s,
            rows: (row, row),
            value: verdict.value,
            usual: verdict.median,
            readings: 1,
        };
        let off = |lone: &Lone| (lone.value - lone.usual).abs();
        match &mut self.run {
            Some(run) => {
                run.readings += 1;
                run.rows.1 = row;
                if off(&next) > off(run) {
                    (run.value, run.usual) = (next.value, next.usual);
                }
            }
            None => self.run = Some(next),
        }
    }

    fn end(&mut self) {
        if let Some(run) = self.run.take()
            && run.readings <= ALONE
        {
            let off = |lone: &Lone| (lone.value - lone.usual).abs();
            self.found.add_heaviest(run, off);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::Noise;
    use super::*;

    fn found(count: usize, channel: Channel, value: impl Fn(usize, f64) -> f64) -> Vec<Lone> {
        let (mut alone, mut noise) = (Alone::new(channel), Noise(1234567890));
        for i in 0..count {
            let place = if i == 0 {
                Place::Begins
            } else {
                Place::Follows
            };
            alone.push(i as f64, i as u64 + 1, value(i, noise.unit()), place);
        }
        alone.finish();
        alone.found().entries.clone()
    }

    #[test]
    fn a_wrong_digit_is_found_with_its_row_and_size() {
        let hertz = found(100, Channel::FrequencyHz, |i, noise| {
            let wrong = if [0, 40, 99].contains(&i) { 50e3 } else { 0.0 };
            6e6 - 0.5 * i as f64 + 5.0 * noise + wrong
        });
        let rows: Vec<_> = hertz
            .iter()
            .map(|lone| (lone.rows, lone.readings))
            .collect();
        assert_eq!(
            rows,
            [((41, 41), 1)],
            "the first and the last have only one side"
        );
        assert!(
            (hertz[0].value - hertz[0].usual - 50e3).abs() < 30.0,
            "{hertz:?}"
        );
        let volts = found(100, Channel::BatteryV, |i, noise| match i {
            // A flipped bit in the second digit.
            60 => 8.9,
            _ => 8.1 - 0.001 * i as f64 + 0.003 * noise,
        });
        assert_eq!(
            volts.iter().map(|lone| lone.rows.0).collect::<Vec<_>>(),
            [61]
        );
    }

    #[test]
    fn steps_hands_and_scatter_hold_none() {
        let step = |i: usize| if i < 200 { 0.0 } else { -18e3 };
        let hand = |i: usize| match i {
            300..320 => {
                -72e3
                    * ((i - 300) as f64 / 20.0 * std::f64::consts::PI)
                        .sin()
                        .powi(2)
            }
            _ => 0.0,
        };
        let hertz = |i, noise: f64| 6e6 + 5.0 * noise + step(i) + hand(i);
        assert_eq!(found(500, Channel::FrequencyHz, hertz), []);
        // Frequency of 3 µHz/Hz scatter, well above the least: it is the limit that holds.
        let scatter = found(300_000, Channel::FrequencyHz, |_, noise| {
            6e6 + 100.0 * noise
        });
        assert!(scatter.len() <= 1, "{scatter:?}");
        assert_eq!(
            found(100_000, Channel::BatteryV, |_, noise| 8.0 + 0.02 * noise),
            []
        );
    }

    #[test]
    fn what_stands_at_a_break_has_only_its_own_side() {
        let mut alone = Alone::new(Channel::BatteryV);
        for i in 0..40_u32 {
            let (volts, place) = match i {
                20 => (9.0, Place::Begins),
                0..20 => (8.0, Place::Follows),
                _ => (9.0, Place::Follows),
            };
            alone.push(f64::from(i), u64::from(i) + 1, volts, place);
        }
        alone.finish();
        assert_eq!(alone.found().count(), 0);
    }
}
