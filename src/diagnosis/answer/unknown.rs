//! Something that is not in the catalogue: no fault here explains one or more of the readings.
//!
//! Such a build is taken to be like one of the known ones in all readings but one, or two, or more; those may be anything. So
//! where some fault shows all that was read, nothing is gained by it, and each further reading that fits makes it less probable;
//! where every fault has a reading against it that a person would have to have misread, it gains on all of them.

use super::likelihood::flat;
use super::repeated::Read;
use super::weighed::Weighed;
use crate::diagnosis::evidence::Observation;
use crate::diagnosis::library::Library;

/// The likelihood of readings on a build whose fault is not known here, summed up draw by draw.
#[derive(Debug, Clone)]
pub(super) struct Unknown {
    /// Density of each reading if it may be anything.
    flat: Vec<f64>,
    sum: f64,
    weight: f64,
}

impl Unknown {
    pub(super) fn new(observations: &[Observation]) -> Self {
        Self {
            flat: observations
                .iter()
                .map(|seen| flat(seen.quantity, seen.reading))
                .collect(),
            sum: 0.0,
            weight: 0.0,
        }
    }

    /// Takes in a draw of a known fault: its weight before anything was read, and how probable each reading is on it.
    pub(super) fn add(&mut self, weight: f64, each: &[f64]) {
        let ratios: Vec<f64> = self
            .flat
            .iter()
            .zip(each)
            .map(|(flat, p)| flat / p)
            .collect();
        self.sum += weight * each.iter().product::<f64>() * some_odd(&ratios);
        self.weight += weight;
    }

    /// Returns the likelihood over all that was taken in.
    pub(super) fn likelihood(&self) -> f64 {
        self.sum / self.weight.max(f64::MIN_POSITIVE)
    }
}

/// How much less likely one more odd reading is (chosen).
const FEWER: f64 = 0.25;

/// Returns the factor on the likelihood of all readings if at least one of them may be anything: each is then `ratios` of its
/// former likelihood.
///
/// Any reading is as likely to be the odd one as any other. One odd one is four times as likely as two, two as three, and so on
/// (chosen). The mean over all sets of a size is an elementary symmetric polynomial over the number of such sets.
fn some_odd(ratios: &[f64]) -> f64 {
    if ratios.is_empty() {
        return 1.0;
    }
    // means[k]: of the products over all sets of k among those seen so far.
    let mut means = vec![1.0];
    for (seen, ratio) in ratios.iter().enumerate() {
        let count = (seen + 1) as f64;
        let mut next = vec![1.0; seen + 2];
        for (size, slot) in next.iter_mut().enumerate() {
            let share = size as f64 / count;
            let of = |size: usize| means.get(size).copied().unwrap_or(0.0);
            let with = size.checked_sub(1).map_or(0.0, of);
            *slot = share * ratio * with + (1.0 - share) * of(size);
        }
        means = next;
    }
    let (sum, weights) = means
        .iter()
        .skip(1)
        .fold((0.0, (0.0, 1.0)), |(sum, (all, weight)), mean| {
            (sum + weight * mean, (all + weight, FEWER * weight))
        });
    sum / weights.0
}

/// Returns how much better each reading is explained by being anything at all than by the known causes as they stand now.
pub(super) fn odd(
    library: &Library,
    weighed: &[Weighed],
    observations: &[Observation],
) -> Vec<f64> {
    observations
        .iter()
        .map(|seen| {
            let wide = flat(seen.quantity, seen.reading);
            let (mut sum, mut all) = (0.0, 0.0);
            for cause in weighed {
                let read = Read::of(library, cause.place, seen, observations);
                for (draw, share) in cause.draws.iter().enumerate() {
                    let weight = cause.probability * share;
                    sum += weight * wide / read.likelihood(draw);
                    all += weight;
                }
            }
            sum / f64::max(all, f64::MIN_POSITIVE)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_odd_reading_counts_by_its_share_and_a_fit_counts_against_it() {
        // By hand: sets of one have the mean (50 + 0.1 + 0.1) / 3, of two (5 + 5 + 0.01) / 3, of three 0.5.
        let expected = (50.2 / 3.0 + 10.01 / 12.0 + 0.5 / 16.0) / (1.0 + 1.0 / 4.0 + 1.0 / 16.0);
        let got = some_odd(&[50.0, 0.1, 0.1]);
        assert!((got / expected - 1.0).abs() < 1e-12, "{got} {expected}");
        assert!((some_odd(&[]) - 1.0).abs() < 1e-12);
        assert!((some_odd(&[0.3]) - 0.3).abs() < 1e-12);
        assert!(some_odd(&[0.2; 6]) < 0.2);
    }
}
