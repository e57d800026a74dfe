//! A linear model with first-order autoregressive residuals, fitted in one pass and constant memory.
//!
//! Model: `f = b0 + b1 t + b2 V + e`, `e(i) = ρ e(i-1) + u(i)`, u white. For a given ρ the fit is least squares on
//! `z(i) - ρ z(i-1)` with `z = (1, t, V, f)`; S. J. Prais and C. B. Winsten, "Trend estimators and serial correlation"
//! (1954), keep the first row of each unbroken stretch with weight √(1-ρ²), D. Cochrane and G. H. Orcutt (1949) drop it.
//! All sums this needs, for any ρ, are four matrices of second moments, so that no row is kept.

use nalgebra::{DMatrix, DVector, SMatrix, SVector};

/// Places in `z`; the response stands last.
const RESPONSE: usize = 3;
type Z = SVector<f64, 4>;
type Moment = SMatrix<f64, 4, 4>;

/// ρ is kept this far inside (-1, 1), where the model is still stationary. Chosen: at the limit an interval is useless anyway.
pub(in crate::analysis) const RHO_LIMIT: f64 = 0.9999;
/// The iteration ends when ρ moves by less than this, or than its own rounding error. Chosen: far below the resolution of any
/// record.
const RHO_SETTLED: f64 = 1e-11;
/// Rounds before it is given up; 6 to 60 were seen on records that settle.
const MAX_ROUNDS: usize = 500;
/// Rounding errors of a quadratic form in the sums, in units of the last place of its largest term. Chosen.
const ROUNDING: f64 = 16.0;
/// A column whose part not explained by the others is below this share of itself cannot be fitted.
const INDEPENDENT: f64 = 1e-11;

/// A column of the model.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Term {
    /// The constant.
    Constant,
    /// Time, in seconds.
    Time,
    /// Battery voltage, in volts.
    Voltage,
}

/// The treatment of the first row of a stretch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FirstRow {
    /// Kept with weight √(1-ρ²): Prais–Winsten.
    Keep,
    /// Dropped: Cochrane–Orcutt.
    Drop,
}

/// A fit: coefficients in the order of the terms asked for, in the units of the rows.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Coefficients; the constant is the response at the first row's time and voltage, less the first row's response.
    pub coefficients: Vec<f64>,
    /// Their standard errors.
    pub standard_errors: Vec<f64>,
    /// Autocorrelation of the residuals that the fit was made with.
    pub rho: f64,
    /// Degrees of freedom left.
    pub degrees: usize,
    /// Rounds until ρ stood still.
    pub rounds: usize,
}

/// Why there is no fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum FitError {
    /// Fewer rows than the model needs.
    #[error("readings for a fit: {rows}, at least {needed} are needed")]
    TooFew {
        /// Rows that count.
        rows: usize,
        /// The least number.
        needed: usize,
    },
    /// A column does not vary, or is a combination of the others.
    #[error("columns of a fit: one does not vary or follows the others, each must vary by itself")]
    Dependent,
    /// ρ would not stand still.
    #[error("autocorrelation of a fit: still moving after {rounds} rounds, it must settle")]
    Unsettled {
        /// Rounds tried.
        rounds: usize,
    },
}

/// A sum of products with its rounding loss, after W. Kahan, "Further remarks on reducing truncation errors" (1965). The scatter
/// is the remainder of sums that are a million times larger, and a session has millions of rows.
#[derive(Debug, Clone, Default)]
struct Sum {
    total: Moment,
    excess: Moment,
}

impl Sum {
    fn add(&mut self, left: &Z, right: &Z) {
        let term = left * right.transpose() - self.excess;
        let total = self.total + term;
        self.excess = (total - self.total) - term;
        self.total = total;
    }
}

/// The sums of all rows so far.
#[derive(Debug, Clone, Default)]
pub struct Moments {
    origin: Option<Z>,
    last: Option<Z>,
    /// Σ z zᵀ over the first row of each stretch.
    firsts: Sum,
    /// Σ z(i) z(i)ᵀ over all rows that have a successor.
    earlier: Sum,
    /// Σ d zᵀ, d = z(i+1) - z(i).
    cross: Sum,
    /// Σ d dᵀ: kept as differences, since at ρ near 1 the plain sums would cancel to nothing.
    steps: Sum,
    stretches: usize,
    pairs: usize,
}

impl Moments {
    /// Takes one row in: time in seconds, battery voltage in volts, frequency in hertz (or any other three).
    pub fn push(&mut self, time_s: f64, battery_v: f64, frequency_hz: f64) {
        let plain = Z::new(1.0, time_s, battery_v, frequency_hz);
        // Sums about the first row: raw sums at 6 MHz would lose the slope in the last digits.
        let origin = *self
            .origin
            .get_or_insert_with(|| Z::new(0.0, time_s, battery_v, frequency_hz));
        let z = plain - origin;
        if let Some(last) = self.last.replace(z) {
            let step = z - last;
            self.earlier.add(&last, &last);
            self.cross.add(&step, &last);
            self.steps.add(&step, &step);
            self.pairs += 1;
        } else {
            self.firsts.add(&z, &z);
            self.stretches += 1;
        }
    }

    /// Ends the unbroken stretch: the next row does not follow the last one.
    pub fn end_stretch(&mut self) {
        self.last = None;
    }

    /// Returns the number of rows taken in.
    pub fn rows(&self) -> usize {
        self.pairs + self.stretches
    }

    /// Returns the number of unbroken stretches begun.
    pub fn stretches(&self) -> usize {
        self.stretches
    }

    /// Returns the time, voltage and response of the first row, from which the fit's constant counts.
    pub fn origin(&self) -> Option<(f64, f64, f64)> {
        self.origin.map(|z| (z[1], z[2], z[RESPONSE]))
    }

    /// Returns Σ z zᵀ over all rows.
    fn all(&self) -> Moment {
        let cross = self.cross.total;
        self.firsts.total + self.earlier.total + cross + cross.transpose() + self.steps.total
    }

    /// Returns the means of z, and Σ over all rows of the products of deviations from them.
    fn centred(&self) -> Moment {
        let all = self.all();
        let means = all.column(0) / self.rows() as f64;
        all - means * means.transpose() * self.rows() as f64
    }

    /// Returns the variance inflation factor of time against voltage, 1 / (1 - r²): how many times the variance of a slope grows
    /// because the other column moved with it. `None` when either did not vary.
    pub fn variance_inflation(&self) -> Option<f64> {
        let s = self.centred();
        let (time, voltage) = (s[(1, 1)], s[(2, 2)]);
        let left_over = s[(1, 2)].mul_add(-s[(1, 2)] / (time * voltage), 1.0);
        (self.rows() > 2 && time > 0.0 && voltage > 0.0).then(|| 1.0 / left_over.max(f64::EPSILON))
    }

    /// Returns the normal equations of the rows transformed with ρ; `z(i+1) - ρ z(i)` is written `d + (1-ρ) z(i)`.
    fn transformed(&self, rho: f64, first_row: FirstRow) -> Moment {
        let rest = 1.0 - rho;
        let kept = match first_row {
            FirstRow::Keep => 1.0 - rho * rho,
            FirstRow::Drop => 0.0,
        };
        let cross = self.cross.total;
        self.steps.total
            + (cross + cross.transpose()) * rest
            + self.earlier.total * (rest * rest)
            + self.firsts.total * kept
    }

    /// Returns the autocorrelation of the residuals of a fit at lag 1 (Yule–Walker, residuals less their mean, each sum divided
    /// by its own number of terms), kept inside the stationary range; and its rounding error.
    fn autocorrelation(&self, terms: &[Term], coefficients: &[f64]) -> (f64, f64) {
        let mut weights = residual_weights(terms, coefficients);
        let all = self.all();
        weights[0] -= weights.dot(&all.column(0)) / self.rows() as f64;
        let square = weights.dot(&(all * weights)) / self.rows() as f64;
        let lagged = self.earlier.total + self.cross.total;
        let product = weights.dot(&(lagged * weights)) / self.pairs as f64;
        let grain = weights.component_mul(&weights).dot(&all.diagonal()) / self.rows() as f64;
        if square > 0.0 {
            let rho = (product / square).clamp(-RHO_LIMIT, RHO_LIMIT);
            (rho, ROUNDING * f64::EPSILON * grain / square)
        } else {
            (0.0, 0.0)
        }
    }

    /// Fits with a given ρ; with ρ = 0 and the first rows kept this is plain least squares.
    ///
    /// # Errors
    /// [`FitError::TooFew`] without a degree of freedom, [`FitError::Dependent`] when the columns don't vary independently.
    pub fn fit_at(&self, terms: &[Term], first_row: FirstRow, rho: f64) -> Result<Fit, FitError> {
        let rows = match first_row {
            FirstRow::Keep => self.rows(),
            FirstRow::Drop => self.pairs,
        };
        let degrees = rows
            .checked_sub(terms.len())
            .filter(|&left| left > 0 && self.pairs > 0)
            .ok_or(FitError::TooFew {
                rows,
                needed: terms.len() + 1,
            })?;
        let sums = self.transformed(rho, first_row);
        let at = |i: usize| terms.get(i).map_or(RESPONSE, |&term| term as usize);
        let scale = DVector::from_fn(terms.len(), |i, _| sums[(at(i), at(i))].sqrt());
        let normal = DMatrix::from_fn(terms.len(), terms.len(), |i, j| {
            sums[(at(i), at(j))] / (scale[i] * scale[j])
        });
        let right = DVector::from_fn(terms.len(), |i, _| sums[(at(i), RESPONSE)] / scale[i]);
        let factor = normal.cholesky().ok_or(FitError::Dependent)?;
        // The squared pivots of a matrix scaled to a diagonal of ones are the part that each column has of its own.
        if factor
            .l_dirty()
            .diagonal()
            .iter()
            .any(|pivot| pivot * pivot < INDEPENDENT)
        {
            return Err(FitError::Dependent);
        }
        let coefficients = factor.solve(&right).component_div(&scale);
        let weights = residual_weights(terms, coefficients.as_slice());
        let variance = weights.dot(&(sums * weights)).max(0.0) / degrees as f64;
        let inverse = factor.inverse();
        let standard_errors = (0..terms.len())
            .map(|i| (variance * inverse[(i, i)]).sqrt() / scale[i])
            .collect();
        Ok(Fit {
            coefficients: coefficients.iter().copied().collect(),
            standard_errors,
            rho,
            degrees,
            rounds: 0,
        })
    }

    /// Fits with ρ taken from the residuals, repeated until it stands still.
    ///
    /// # Errors
    /// As [`Moments::fit_at`], and [`FitError::Unsettled`] when ρ keeps moving.
    pub fn fit(&self, terms: &[Term], first_row: FirstRow) -> Result<Fit, FitError> {
        let mut rho = 0.0;
        for rounds in 1..=MAX_ROUNDS {
            let fit = self.fit_at(terms, first_row, rho)?;
            let (next, grain) = self.autocorrelation(terms, &fit.coefficients);
            if (next - rho).abs() < RHO_SETTLED.max(grain) {
                return Ok(Fit { rounds, ..fit });
            }
            rho = next;
        }
        Err(FitError::Unsettled { rounds: MAX_ROUNDS })
    }
}

/// Returns the combination of z that is the residual of a row.
fn residual_weights(terms: &[Term], coefficients: &[f64]) -> Z {
    let mut weights = Z::zeros();
    weights[RESPONSE] = 1.0;
    for (&term, &coefficient) in terms.iter().zip(coefficients) {
        weights[term as usize] = -coefficient;
    }
    weights
}

#[cfg(test)]
mod tests {
    use super::*;

    const LINE: [Term; 2] = [Term::Constant, Term::Time];

    #[test]
    fn a_straight_line_comes_back_as_it_was() {
        let mut moments = Moments::default();
        for i in 0..20 {
            let t = f64::from(i) * 0.5;
            moments.push(t, 0.0, 6e6 - 3.0 * t);
        }
        let fit = moments.fit(&LINE, FirstRow::Keep).unwrap();
        assert!((fit.coefficients[1] + 3.0).abs() < 1e-12, "{fit:?}");
        assert!(fit.standard_errors[1] < 1e-6, "{fit:?}");
    }

    #[test]
    fn scatter_a_millionth_of_the_drift_still_settles_on_its_own_autocorrelation() {
        // Invented: 200 kHz of drift, ±0.2 Hz that changes sign every third reading, so that ρ is near 1/3.
        let mut moments = Moments::default();
        for i in 0..300_000_i32 {
            let scatter = if i / 3 % 2 == 0 { 0.2 } else { -0.2 };
            moments.push(f64::from(i) * 0.1, 0.0, 6e6 - f64::from(i) * 0.7 + scatter);
        }
        let fit = moments.fit(&LINE, FirstRow::Keep).unwrap();
        assert!((fit.rho - 1.0 / 3.0).abs() < 1e-3, "{fit:?}");
        assert!((fit.coefficients[1] + 7.0).abs() < 1e-6, "{fit:?}");
    }

    #[test]
    fn a_column_that_does_not_vary_is_refused() {
        let mut moments = Moments::default();
        for i in 0..20 {
            moments.push(f64::from(i), 7.2, f64::from(i % 3));
        }
        let terms = [Term::Constant, Term::Voltage];
        assert_eq!(
            moments.fit(&terms, FirstRow::Keep),
            Err(FitError::Dependent)
        );
        assert_eq!(moments.variance_inflation(), None);
    }

    #[test]
    fn too_few_rows_are_refused_with_the_number_needed() {
        let mut moments = Moments::default();
        moments.push(0.0, 0.0, 1.0);
        moments.push(1.0, 0.0, 2.0);
        let error = moments.fit(&LINE, FirstRow::Keep).unwrap_err();
        insta::assert_snapshot!(error, @"readings for a fit: 2, at least 3 are needed");
    }

    #[test]
    fn a_stretch_that_ends_is_not_joined_to_the_next() {
        let (mut joined, mut parted) = (Moments::default(), Moments::default());
        for i in 0..40 {
            let (t, f) = (f64::from(i), f64::from(i * i % 7));
            if i == 20 {
                parted.end_stretch();
            }
            joined.push(t, 0.0, f);
            parted.push(t, 0.0, f);
        }
        assert_eq!((parted.rows(), parted.stretches()), (40, 2));
        let plain = |moments: &Moments| moments.fit_at(&LINE, FirstRow::Keep, 0.0).unwrap();
        let gap = plain(&joined).coefficients[1] - plain(&parted).coefficients[1];
        assert!(
            gap.abs() < 1e-14,
            "without autocorrelation the parting is not seen: {gap}"
        );
        let at = |moments: &Moments| moments.fit_at(&LINE, FirstRow::Keep, 0.5).unwrap();
        assert_ne!(at(&joined).coefficients, at(&parted).coefficients);
    }
}
