//! Noise as a function of seed and time: whoever asks, whenever and in whatever order, sees the same.

use std::f64::consts::FRAC_PI_2;

use crate::chance::{normal, scatter};

/// Seconds over which the random walk is laid out, 2^26: two years; beyond it stands still.
const WALK_SPAN_LOG2: u32 = 26;

/// One of several independent noises of a world.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Noise {
    key: u64,
}

impl Noise {
    /// Returns the noise number `stream` of the world with this seed.
    pub(super) fn new(seed: u64, stream: u64) -> Self {
        Self {
            key: scatter(seed ^ scatter(stream)),
        }
    }

    /// Returns noise with standard deviation 1, independent from one whole second to the next.
    ///
    /// Between two seconds the neighbours are blended by cosine and sine, which keeps the deviation at 1 throughout (a
    /// straight line would halve the variance in the middle).
    pub(super) fn white(self, elapsed_s: f64) -> f64 {
        let knot = elapsed_s.floor();
        let (sin, cos) = ((elapsed_s - knot) * FRAC_PI_2).sin_cos();
        cos * self.gauss(index(knot)) + sin * self.gauss(index(knot + 1.0))
    }

    /// Returns a random walk from 0 whose standard deviation is 1 after one second and grows as the square root of time.
    ///
    /// Lévy's midpoint construction of Brownian motion (from memory): the end is drawn first, then each middle from its
    /// neighbours with variance a quarter of the span, down to one second; straight within the second.
    pub(super) fn walk(self, elapsed_s: f64) -> f64 {
        let mut half = 1_u64 << (WALK_SPAN_LOG2 - 1);
        let end = 2 * half;
        let at_s = elapsed_s.clamp(0.0, end as f64);
        let (mut left, mut left_value) = (0_u64, 0.0);
        let mut right_value = (end as f64).sqrt() * self.gauss(end);
        while half > 0 {
            let middle = left + half;
            let value = f64::midpoint(left_value, right_value)
                + (half as f64 / 2.0).sqrt() * self.gauss(middle);
            if at_s < middle as f64 {
                right_value = value;
            } else {
                (left, left_value) = (middle, value);
            }
            half /= 2;
        }
        left_value + (at_s - left as f64) * (right_value - left_value)
    }

    /// Returns a normal deviate for a whole number, whatever was drawn before.
    fn gauss(self, at: u64) -> f64 {
        let first = scatter(self.key ^ scatter(at));
        normal(first, scatter(first))
    }
}

/// Returns the knot of a whole second, negative ones too.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "seconds are far below 2^63, and the bits only feed a hash"
)]
fn index(knot: f64) -> u64 {
    knot as i64 as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Mean and standard deviation.
    fn moments(values: &[f64]) -> (f64, f64) {
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
        (mean, variance.sqrt())
    }

    /// The standard error of a normal sample's deviation is σ/√(2n); four of them hold but once in 16 000 draws.
    fn assert_unit_normal(values: &[f64], what: &str) {
        let n = values.len() as f64;
        let (mean, sigma) = moments(values);
        assert!(mean.abs() < 4.0 / n.sqrt(), "{what}: mean {mean}");
        assert!(
            (sigma - 1.0).abs() < 4.0 / (2.0 * n).sqrt(),
            "{what}: sigma {sigma}"
        );
    }

    #[test]
    fn white_noise_has_unit_deviation_on_and_between_the_seconds() {
        let noise = Noise::new(7, 1);
        for offset_s in [0.0, 0.25, 0.5] {
            // Every second second, so that samples are independent between the knots too.
            let values: Vec<f64> = (0..10_000)
                .map(|i| noise.white(f64::from(2 * i) + offset_s))
                .collect();
            assert_unit_normal(&values, "white");
        }
    }

    #[test]
    fn white_noise_of_one_second_says_nothing_of_the_next() {
        let noise = Noise::new(8, 1);
        let n = 10_000;
        let product = (0..n)
            .map(|i| noise.white(f64::from(i)) * noise.white(f64::from(i + 1)))
            .sum::<f64>()
            / f64::from(n);
        assert!(product.abs() < 4.0 / f64::from(n).sqrt(), "{product}");
    }

    #[test]
    fn a_walk_spreads_as_the_root_of_time_from_any_start() {
        for (from_s, span_s) in [(0.0, 1.0), (0.0, 100.0), (900.0, 100.0), (3.0, 3600.0)] {
            let steps: Vec<f64> = (0..2000)
                .map(|seed| {
                    let noise = Noise::new(seed, 2);
                    (noise.walk(from_s + span_s) - noise.walk(from_s)) / span_s.sqrt()
                })
                .collect();
            assert_unit_normal(&steps, "walk");
        }
    }

    #[test]
    fn a_walk_begins_at_zero_and_has_no_jumps() {
        let noise = Noise::new(3, 2);
        assert!(noise.walk(0.0).abs() < 1e-12);
        for second in [1.0, 64.0, 1024.0, 4096.0] {
            let step = noise.walk(second) - noise.walk(second - 1e-6);
            assert!(step.abs() < 1e-4, "{step} at {second} s");
        }
    }

    #[test]
    fn streams_and_seeds_differ() {
        let at = |seed, stream| Noise::new(seed, stream).white(5.0).to_bits();
        assert_ne!(at(1, 1), at(1, 2));
        assert_ne!(at(1, 1), at(2, 1));
    }
}
