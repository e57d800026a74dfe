//! Chance that comes out the same from the same seed: the one random stream of the program.

use std::f64::consts::TAU;

/// A stream of draws by the split-mix generator of 64 bits (Steele, Lea and Flood 2014), which passes from any seed.
#[derive(Debug, Clone)]
pub struct Draws(u64);

impl Draws {
    /// Draws of a seed.
    pub fn seeded(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        let bits = scatter(self.0);
        self.0 = self.0.wrapping_add(STEP);
        bits
    }

    /// Returns a number evenly between 0 and 1, both left out.
    pub fn share(&mut self) -> f64 {
        share(self.next())
    }

    /// Returns a number from the normal distribution of mean 0 and deviation 1, cut at three deviations; Box and Muller 1958.
    ///
    /// Cut, because a tolerance is no promise that a coil may be wound with minus two turns.
    pub fn normal(&mut self) -> f64 {
        let (first, second) = (self.next(), self.next());
        normal(first, second).clamp(-3.0, 3.0)
    }
}

/// The step of the generator's state.
const STEP: u64 = 0x9E37_79B9_7F4A_7C15;

/// Scatters the bits of a number: returns the generator's output in this state.
pub const fn scatter(state: u64) -> u64 {
    let mixed = state.wrapping_add(STEP);
    let mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    mixed ^ (mixed >> 31)
}

/// Returns scattered bits as a number between 0 and 1, both left out, so that its logarithm exists.
fn share(bits: u64) -> f64 {
    ((bits >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
}

/// Returns a normal deviate of mean 0 and deviation 1 from two sets of scattered bits (Box and Muller 1958).
pub fn normal(first: u64, second: u64) -> f64 {
    (-2.0 * share(first).ln()).sqrt() * (TAU * share(second)).cos()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first five numbers of the seed 1234567, as the public reference implementation of the generator prints them (from
    /// memory of a collection of programming tasks).
    #[test]
    fn the_stream_is_that_of_the_published_generator() {
        let mut draws = Draws::seeded(1_234_567);
        let bits: Vec<u64> = (0..5).map(|_| draws.next()).collect();
        let published = [
            6_457_827_717_110_365_317,
            3_203_168_211_198_807_973,
            9_817_491_932_198_370_423,
            4_593_380_528_125_082_431,
            16_408_922_859_458_223_821,
        ];
        assert_eq!(bits, published);
    }

    #[test]
    fn the_same_seed_gives_the_same_draws_and_another_seed_others() {
        let of = |seed| {
            let mut draws = Draws::seeded(seed);
            [draws.normal(), draws.normal(), draws.normal()].map(f64::to_bits)
        };
        assert_eq!(of(1), of(1));
        assert_ne!(of(1), of(2));
    }

    #[test]
    fn draws_have_mean_zero_and_deviation_one() {
        let mut draws = Draws::seeded(7);
        let values: Vec<f64> = (0..10_000).map(|_| draws.normal()).collect();
        let mean = values.iter().sum::<f64>() / 1e4;
        let variance = values
            .iter()
            .map(|value| (value - mean).powi(2))
            .sum::<f64>()
            / 1e4;
        // Five standard errors: 0.05 of the mean, 0.07 of the variance; the cut takes 0.013 of it.
        assert!(mean.abs() < 0.05, "{mean}");
        assert!((variance - 0.987).abs() < 0.07, "{variance}");
    }
}
