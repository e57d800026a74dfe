//! The Hampel identifier: a reading far from the median of its neighbours, measured by their median deviation.
//!
//! Source: F. R. Hampel, "The influence curve and its role in robust estimation" (1974); L. Davies and U. Gather, "The
//! identification of multiple outliers" (1993); both from memory. Up to half of the neighbours may be wrong.

use std::collections::VecDeque;

/// Median deviation to standard deviation of a normal distribution: 1/Φ⁻¹(3/4).
pub const SIGMA_PER_MAD: f64 = 1.4826;

/// The values in sight, kept in order of size while they come and go.
#[derive(Debug, Clone, Default)]
pub struct Sorted {
    values: Vec<f64>,
}

impl Sorted {
    /// Takes a value in.
    pub fn insert(&mut self, value: f64) {
        self.values.insert(self.place(value), value);
    }

    /// Takes a value out again; one that is not there changes nothing.
    pub fn remove(&mut self, value: f64) {
        let place = self.place(value);
        if self.values.get(place).map(|found| found.to_bits()) == Some(value.to_bits()) {
            self.values.remove(place);
        }
    }

    /// Takes a value out and another in, which is moved past its neighbours: near values stay near.
    pub fn replace(&mut self, old: f64, new: f64) {
        let mut at = self.place(old);
        if self.values.get(at).map(|found| found.to_bits()) != Some(old.to_bits()) {
            self.insert(new);
            return;
        }
        self.values[at] = new;
        while at > 0 && self.values[at - 1].total_cmp(&new).is_gt() {
            self.values.swap(at - 1, at);
            at -= 1;
        }
        while at + 1 < self.values.len() && self.values[at + 1].total_cmp(&new).is_lt() {
            self.values.swap(at, at + 1);
            at += 1;
        }
    }

    fn place(&self, value: f64) -> usize {
        self.values
            .partition_point(|other| other.total_cmp(&value).is_lt())
    }

    /// Returns the median; `None` without a value.
    pub fn median(&self) -> Option<f64> {
        middle(self.values.len(), |place| self.values.get(place).copied())
    }

    /// Returns the median distance of the values from `centre`; `None` without a value.
    pub fn median_distance(&self, centre: f64) -> Option<f64> {
        // Seen from the centre, the distances rise to both sides: they are merged until the middle one is reached.
        let split = self.place(centre);
        let (below, above) = self.values.split_at_checked(split)?;
        let mut below = below.iter().rev().map(|value| centre - value).peekable();
        let mut above = above.iter().map(|value| value - centre).peekable();
        let mut nearest = || match (below.peek(), above.peek()) {
            (Some(left), Some(right)) if left <= right => below.next(),
            (Some(_), None) => below.next(),
            _ => above.next(),
        };
        let half = self.values.len() / 2;
        let mut lower = None;
        for _ in 0..half {
            lower = nearest();
        }
        let upper = nearest()?;
        match lower {
            Some(lower) if self.values.len().is_multiple_of(2) => Some(f64::midpoint(lower, upper)),
            _ => Some(upper),
        }
    }
}

/// Returns the middle of `count` values in order, or half-way between the two in the middle.
fn middle(count: usize, at: impl Fn(usize) -> Option<f64>) -> Option<f64> {
    let upper = at(count / 2)?;
    if !count.is_multiple_of(2) {
        return Some(upper);
    }
    Some(f64::midpoint(at(count / 2 - 1)?, upper))
}

/// Finds the values that lie further than a number of robust standard deviations (1.4826 × median deviation) from the median of
/// themselves and their neighbours on either side. It works as values come; the window is cut at the ends.
#[derive(Debug, Clone)]
pub struct Identifier {
    half_width: usize,
    limit: f64,
    least_scale: f64,
    /// Values in sight, and how many of the first of them have been judged.
    values: VecDeque<f64>,
    judged: usize,
    window: Sorted,
}

/// The outcome for a value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Verdict {
    /// The value.
    pub value: f64,
    /// The median around it.
    pub median: f64,
    /// Whether it stands out.
    pub is_outlier: bool,
}

impl Identifier {
    /// Creates one with up to `half_width` neighbours on each side; a standard deviation counts as `least_scale` at the least.
    pub fn new(half_width: usize, limit: f64, least_scale: f64) -> Self {
        Self {
            half_width,
            limit,
            least_scale,
            values: VecDeque::new(),
            judged: 0,
            window: Sorted::default(),
        }
    }

    /// Takes a value in; the verdict on the one that now has all its neighbours.
    pub fn push(&mut self, value: f64) -> Option<Verdict> {
        self.values.push_back(value);
        self.window.insert(value);
        (self.values.len() - self.judged > self.half_width).then(|| self.judge())?
    }

    /// Returns the verdict on the next value that still waits, as it is if no more come; `None` when all are judged, and then it
    /// begins anew.
    pub fn rest(&mut self) -> Option<Verdict> {
        let verdict = self.judge();
        if verdict.is_none() {
            *self = Self::new(self.half_width, self.limit, self.least_scale);
        }
        verdict
    }

    fn judge(&mut self) -> Option<Verdict> {
        let value = *self.values.get(self.judged)?;
        if self.judged > self.half_width
            && let Some(gone) = self.values.pop_front()
        {
            self.window.remove(gone);
            self.judged -= 1;
        }
        self.judged += 1;
        let median = self.window.median().unwrap_or(value);
        let scale = SIGMA_PER_MAD * self.window.median_distance(median).unwrap_or(0.0);
        Some(Verdict {
            value,
            median,
            is_outlier: (value - median).abs() > self.limit * scale.max(self.least_scale),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn outliers(values: &[f64], half_width: usize, limit: f64) -> Vec<bool> {
        let mut identifier = Identifier::new(half_width, limit, 0.0);
        let mut verdicts: Vec<Verdict> = values
            .iter()
            .filter_map(|&value| identifier.push(value))
            .collect();
        verdicts.extend(std::iter::from_fn(|| identifier.rest()));
        assert!(
            verdicts
                .iter()
                .map(|verdict| verdict.value)
                .eq(values.iter().copied())
        );
        verdicts.iter().map(|verdict| verdict.is_outlier).collect()
    }

    fn plain_median(mut values: Vec<f64>) -> f64 {
        values.sort_by(f64::total_cmp);
        let half = values.len() / 2;
        if values.len() % 2 == 1 {
            values[half]
        } else {
            f64::midpoint(values[half - 1], values[half])
        }
    }

    proptest! {
        #[test]
        fn median_and_median_distance_are_those_of_the_values_in_sight(
            values in prop::collection::vec(-9_i32..9, 1..60), kept in 1_usize..20
        ) {
            let values: Vec<f64> = values.into_iter().map(f64::from).collect();
            let mut sorted = Sorted::default();
            let mut replaced = Sorted::default();
            for (i, &value) in values.iter().enumerate() {
                sorted.insert(value);
                match i.checked_sub(kept) {
                    Some(oldest) => {
                        sorted.remove(values[oldest]);
                        replaced.replace(values[oldest], value);
                    }
                    None => replaced.insert(value),
                }
                prop_assert_eq!(&replaced.values, &sorted.values);
                let seen = values[(i + 1).saturating_sub(kept)..=i].to_vec();
                let median = plain_median(seen.clone());
                let distances = seen.iter().map(|value| (value - median).abs()).collect();
                prop_assert_eq!(sorted.median(), Some(median));
                prop_assert_eq!(sorted.median_distance(median), Some(plain_median(distances)));
            }
        }
    }

    #[test]
    fn nothing_in_sight_has_no_median() {
        assert_eq!(Sorted::default().median(), None);
        assert_eq!(Sorted::default().median_distance(0.0), None);
        assert!(outliers(&[], 5, 5.0).is_empty());
    }

    #[test]
    fn readings_that_never_differ_have_no_outlier_and_one_that_does_is_one() {
        assert_eq!(outliers(&[7.0; 9], 3, 5.0), [false; 9]);
        let mut odd = [7.0; 9];
        odd[4] = 8.0;
        let flagged = outliers(&odd, 3, 5.0);
        assert_eq!(flagged.iter().filter(|flag| **flag).count(), 1);
        assert!(flagged[4]);
    }
}
