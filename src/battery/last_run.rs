//! The best predictor of a battery's run: its own last one.
//!
//! On the published ageing runs of four cells (616 runs at one current) "as long as last time" was wrong by 0.7 %, the
//! printed charge over the current by 29 %.

use super::forecast::question::Prior;

/// Runs wanted before the battery's own spread is believed.
const ENOUGH: usize = 5;
/// Standard deviation of the logarithm before and after that, as the published recipe has it.
const FEW_LOG_SD: f64 = 0.10;
const ENOUGH_LOG_SD: f64 = 0.05;
/// Half the width of the band before that, and its least after. From the same recipe.
const FEW_HALF_WIDTH: f64 = 0.10;
const LEAST_HALF_WIDTH: f64 = 0.03;

/// Returns the length predicted from earlier full runs; `scale` is the last run's current over this one's. `None` without a run.
pub fn prior(lengths_s: &[f64], scale: f64) -> Option<Prior> {
    let last_s = lengths_s.last()?;
    Some(Prior {
        centre_s: last_s * scale,
        log_sd: if lengths_s.len() >= ENOUGH {
            ENOUGH_LOG_SD
        } else {
            FEW_LOG_SD
        },
        most_s: f64::INFINITY,
    })
}

/// Returns the foot, middle and top of the next run, from earlier full runs in their order, in their own unit; `None` without
/// one.
///
/// Up to five runs the band is 10 % to either side; then it is the difference of the battery's runs from the run before (5 to 95
/// %), never less than 3 %.
pub fn band(amounts: &[f64]) -> Option<(f64, f64, f64)> {
    let last = *amounts.last()?;
    let (mut low, mut high) = (1.0 - FEW_HALF_WIDTH, 1.0 + FEW_HALF_WIDTH);
    if amounts.len() >= ENOUGH {
        let mut ratios: Vec<f64> = amounts.windows(2).map(|pair| pair[1] / pair[0]).collect();
        ratios.sort_by(f64::total_cmp);
        low = quantile(&ratios, 0.05).min(1.0 - LEAST_HALF_WIDTH);
        high = quantile(&ratios, 0.95).max(1.0 + LEAST_HALF_WIDTH);
    }
    Some((last * low, last, last * high))
}

/// The rule for the next run's expected charge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rule {
    /// As much as the run before.
    Last,
    /// The median of the last three.
    MedianOfThree,
    /// Always the same, as printed on it.
    Printed(f64),
}

/// Returns the mean error of a rule over all runs from the one numbered `from` (counted from 0), as a share of the truth; `None`
/// where there is none to forecast. Batteries age, so that the last run beats the median of three, and both beat the printed
/// charge.
pub fn error(amounts: &[f64], from: usize, rule: Rule) -> Option<f64> {
    let expected = |at: usize| match rule {
        Rule::Last => amounts.get(at.checked_sub(1)?).copied(),
        Rule::MedianOfThree => {
            let mut three = amounts.get(at.checked_sub(3)?..at)?.to_vec();
            three.sort_by(f64::total_cmp);
            three.get(1).copied()
        }
        Rule::Printed(amount) => Some(amount),
    };
    let judged = (from..amounts.len()).filter_map(|at| Some((expected(at)?, *amounts.get(at)?)));
    let errors: Vec<f64> = judged
        .map(|(expected, truth)| (expected / truth - 1.0).abs())
        .collect();
    (!errors.is_empty()).then(|| errors.iter().sum::<f64>() / errors.len() as f64)
}

/// Returns a quantile of sorted values, between neighbours along a straight line.
fn quantile(sorted: &[f64], share: f64) -> f64 {
    let place = share * (sorted.len().max(1) - 1) as f64;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a place in a short list"
    )]
    let below = place as usize;
    let low = sorted.get(below).copied().unwrap_or(f64::NAN);
    let high = sorted.get(below + 1).copied().unwrap_or(low);
    low + (place - below as f64) * (high - low)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_runs_give_ten_per_cent_and_many_their_own_spread() {
        let (low, middle, high) = band(&[3600.0]).unwrap();
        assert!((low - 3240.0).abs() < 1e-9 && (high - 3960.0).abs() < 1e-9);
        assert!((middle - 3600.0).abs() < 1e-9);
        let (low, _, high) = band(&[100.0, 100.0, 100.0, 100.0, 100.0]).unwrap();
        assert!((low - 97.0).abs() < 1e-9 && (high - 103.0).abs() < 1e-9);
        let (low, _, high) = band(&[100.0, 120.0, 100.0, 120.0, 100.0]).unwrap();
        assert!(low < 90.0 && high > 115.0, "{low} {high}");
        assert_eq!(band(&[]), None);
    }

    #[test]
    fn a_larger_current_shortens_the_run_expected() {
        let prior = prior(&[3600.0], 0.5).unwrap();
        assert!((prior.centre_s - 1800.0).abs() < 1e-9);
        assert!((prior.log_sd - FEW_LOG_SD).abs() < 1e-12);
    }

    #[test]
    fn runs_without_enough_before_them_are_not_judged() {
        assert_eq!(error(&[1.0], 0, Rule::Last), None);
        assert_eq!(error(&[1.0, 2.0], 0, Rule::Last), Some(0.5));
        assert_eq!(error(&[1.0, 2.0], 0, Rule::MedianOfThree), None);
        assert_eq!(error(&[4.0, 2.0], 1, Rule::Printed(1.0)), Some(0.5));
    }
}
