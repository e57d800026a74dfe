//! Means fitted by straight lines, a constant for each level, and a judgement of the fit.

use super::report::{Fitted, Joint, Slope, Trust};
use crate::analysis::mean::{Mean, Means};
use crate::analysis::pairing::Place;
use crate::analysis::statistics::estimate::Estimate;
use crate::analysis::statistics::regression::{FirstRow, Fit, FitError, Moments, RHO_LIMIT, Term};
use crate::analysis::statistics::student;

/// Readings that a slope needs at the least. Chosen.
pub const LEAST_READINGS: usize = 10;

/// Independent readings that the interval of a level needs at the least. Chosen.
pub(in crate::analysis) const LEAST_EFFECTIVE: f64 = 10.0;

/// Beyond this the residuals are as good as a random walk, however long the record. Chosen.
const RHO_TRUSTED: f64 = 0.99;

/// Above this two columns cannot be separated: common practice, no single source.
pub const INFLATION_LIMIT: f64 = 10.0;

/// Differences of neighbouring means of a random walk have a correlation of 1/4, which widens the interval of their mean by
/// √(1 + 2/4): H. Working, "Note on the correlation of first differences of averages in a random chain" (1960), from memory.
const DIFFERENCES_OF_MEANS: f64 = 1.224_744_871_391_589;

/// Returns how many independent readings `readings` are worth for a mean or slope, after Santer et al. (2000): n (1-ρ) / (1+ρ).
pub(in crate::analysis) fn effective(readings: usize, rho: f64) -> f64 {
    let rho = unbiased(readings, rho).min(1.0);
    let readings = readings as f64;
    (readings * (1.0 - rho) / (1.0 + rho)).clamp(0.0, readings)
}

/// About a straight line the estimate of ρ is too low by (2+4ρ)/n (after M. G. Kendall, 1954; this form from memory), which
/// would let short records pass for more than they are.
fn unbiased(readings: usize, rho: f64) -> f64 {
    rho + 4.0_f64.mul_add(rho, 2.0) / readings as f64
}

/// Whether residuals with this autocorrelation can be distinguished from a random walk.
///
/// D. A. Dickey and W. A. Fuller (1979): n (1-ρ) about a straight line must exceed a critical value. At 1 % it is 22.5, 25.7,
/// 27.4, 28.4, 28.9 and 29.5 for n = 25, 50, 100, 250, 500 and ∞ (W. A. Fuller, 1976, from memory); 29.5 - 180/n is that to 0.5.
fn trust(readings: usize, rho: f64) -> Trust {
    let readings = readings as f64;
    let critical = 29.5 - 180.0 / readings;
    if rho < RHO_TRUSTED && readings * (1.0 - rho) > critical {
        Trust::Fair
    } else {
        Trust::Wandering
    }
}

/// A fit with its judgement.
struct Judged {
    fit: Fit,
    /// Standard errors of the fit of differences, for the terms after the constant, where the residuals wander.
    of_differences: Vec<f64>,
    effective: f64,
    trust: Trust,
}

/// The means about to be fitted.
pub(super) struct Fitting<'a> {
    means: &'a Means,
    moments: Moments,
    /// Levels with a constant of their own.
    pub(super) levels: usize,
    /// Mean time, voltage and frequency of the longest level, about which the fit is; zeros with one level.
    centre: [f64; 3],
}

/// Returns the mean time, voltage and frequency of the means of one level.
fn centre(means: &[Mean]) -> [f64; 3] {
    let count = means.len() as f64;
    let mean = |of: &dyn Fn(&Mean) -> f64| means.iter().map(of).sum::<f64>() / count;
    [
        mean(&|mean| mean.time_s),
        mean(&|mean| mean.battery_v.unwrap_or(0.0)),
        mean(&|mean| mean.frequency_hz),
    ]
}

impl<'a> Fitting<'a> {
    pub(super) fn new(means: &'a Means) -> Self {
        let mut moments = Moments::default();
        let levels: Vec<&[Mean]> = means
            .kept()
            .chunk_by(|one, next| one.level == next.level)
            .collect();
        let longest = levels.iter().max_by_key(|level| level.len());
        // One level stays as it is: sums about the first row need no centre.
        let longest = longest.filter(|_| levels.len() > 1);
        for level in &levels {
            let [time_s, volts, hertz] = longest.map_or([0.0; 3], |_| centre(level));
            moments.end_stretch();
            for mean in *level {
                if mean.place == Place::Begins {
                    moments.end_stretch();
                }
                moments.push(
                    mean.time_s - time_s,
                    mean.battery_v.unwrap_or(0.0) - volts,
                    mean.frequency_hz - hertz,
                );
            }
        }
        Self {
            means,
            moments,
            levels: levels.len(),
            centre: longest.map_or([0.0; 3], |level| centre(level)),
        }
    }

    /// Returns a fit with the degrees of freedom that the levels took.
    fn with_levels(&self, fit: Fit, terms: &[Term]) -> Result<Fit, FitError> {
        let taken = self.levels.saturating_sub(1);
        let left = fit.degrees.checked_sub(taken).filter(|&left| left > 0);
        let degrees = left.ok_or_else(|| FitError::TooFew {
            rows: self.moments.rows(),
            needed: terms.len() + taken + 1,
        })?;
        let widened = (fit.degrees as f64 / degrees as f64).sqrt();
        Ok(Fit {
            standard_errors: fit
                .standard_errors
                .iter()
                .map(|error| widened * error)
                .collect(),
            degrees,
            ..fit
        })
    }

    /// Fits a constant and other terms.
    fn judged(&self, terms: &[Term]) -> Result<Judged, FitError> {
        let means = self.moments.rows();
        let rho = match self.moments.fit(terms, FirstRow::Keep) {
            Ok(fit) => fit.rho,
            // Residuals that swing between two states of the fit are as good as a random walk.
            Err(FitError::Unsettled { .. }) => RHO_LIMIT,
            Err(error) => return Err(error),
        };
        let trust = trust(means, rho);
        // Each further constant lowers the estimate by another 1/n.
        let further = self.levels.saturating_sub(1) as f64 / means as f64;
        let raised = (unbiased(means, rho) + further).clamp(-RHO_LIMIT, RHO_LIMIT);
        let fit = self.moments.fit_at(terms, FirstRow::Keep, raised)?;
        let fit = self.with_levels(fit, terms)?;
        let of_differences = match trust {
            Trust::Fair => Vec::new(),
            // A constant has no differences.
            Trust::Wandering => self
                .moments
                .fit_at(terms.get(1..).unwrap_or_default(), FirstRow::Drop, 1.0)
                .map(|fit| fit.standard_errors)
                .unwrap_or_default(),
        };
        Ok(Judged {
            effective: effective(means, rho),
            fit,
            of_differences,
            trust,
        })
    }

    /// Returns the slope at `place` among the terms of a fit.
    fn slope(&self, judged: &Judged, place: usize, term: Term) -> Option<Fitted> {
        let fit = &judged.fit;
        let (time_s, volts, origin_hz) = self.moments.origin()?;
        let [centre_s, centre_v, centre_hz] = self.centre;
        let at = if term == Term::Time {
            time_s + centre_s
        } else {
            volts + centre_v
        };
        let width_s = self.means.width_s();
        let widened = width_s.map_or(1.0, |_| DIFFERENCES_OF_MEANS);
        let of_difference = judged.of_differences.get(place - 1);
        let error = fit
            .standard_errors
            .get(place)?
            .max(of_difference.map_or(0.0, |error| widened * error));
        Some(Fitted {
            slope: Estimate {
                value: *fit.coefficients.get(place)?,
                half_width: student::half_width_95(fit.degrees)? * error,
            },
            rho: fit.rho,
            readings: self.means.readings(),
            means: self.moments.rows(),
            width_s,
            effective: judged.effective,
            at,
            at_hz: centre_hz + origin_hz + fit.coefficients.first()?,
            trust: judged.trust,
        })
    }

    pub(super) fn single(&self, term: Term) -> Slope {
        let readings = self.means.readings();
        if readings < LEAST_READINGS {
            return Slope::TooFew { readings };
        }
        match self.judged(&[Term::Constant, term]) {
            Ok(judged) => self
                .slope(&judged, 1, term)
                .map_or(Slope::TooFew { readings }, Slope::Fitted),
            Err(FitError::Dependent) => Slope::Level,
            Err(_) => Slope::TooFew { readings },
        }
    }

    pub(super) fn joint(&self) -> Joint {
        let Some(inflation) = self.moments.variance_inflation() else {
            return Joint::Absent;
        };
        if self.means.readings() < LEAST_READINGS {
            return Joint::Absent;
        }
        if inflation > INFLATION_LIMIT {
            return Joint::Together { inflation };
        }
        let slopes = self
            .judged(&[Term::Constant, Term::Time, Term::Voltage])
            .ok()
            .and_then(|judged| {
                let on_time = self.slope(&judged, 1, Term::Time)?;
                Some((on_time, self.slope(&judged, 2, Term::Voltage)?))
            });
        slopes.map_or(Joint::Absent, |(on_time, on_voltage)| Joint::Separate {
            on_time,
            on_voltage,
            inflation,
        })
    }
}
