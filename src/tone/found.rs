//! An oscillation found in a record, or the reason why there is none.

/// Fewer samples than this hold no frequency worth the name (chosen).
pub const FEWEST_SAMPLES: usize = 16;

/// How often noise alone may pass for an oscillation (chosen: less than once in a long evening of one record per second).
pub(super) const FALSE_ALARM: f64 = 1e-5;

/// The values at and beyond which a sample is clipped.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rails {
    /// The lower end stop.
    pub low: f64,
    /// The upper end stop.
    pub high: f64,
}

impl Rails {
    /// Whether a sample stands at an end stop, and so is a bound and not a value.
    pub fn clips(self, sample: f64) -> bool {
        sample <= self.low || sample >= self.high
    }
}

/// The size of one harmonic.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Harmonic {
    /// Zero to peak, in the samples' unit.
    pub amplitude: f64,
    /// Its standard error.
    pub amplitude_se: f64,
}

/// An oscillation found in a record.
#[derive(Debug, Clone, PartialEq)]
pub struct Tone {
    /// Frequency of the fundamental.
    pub cycles_per_sample: f64,
    /// Its standard error: from the residuals, as if they were independent.
    pub cycles_per_sample_se: f64,
    /// The fundamental and its harmonics, in order; never empty.
    pub harmonics: Vec<Harmonic>,
    /// The constant part.
    pub mean: f64,
    /// Standard deviation of the residuals.
    pub residual_sd: f64,
    /// Samples that the fit rests on.
    pub used: usize,
    /// Correlation of neighbouring residuals: 0 for white noise, near 1 for noise that wanders or harmonics that the fit lacks.
    pub residual_rho: f64,
}

impl Tone {
    /// The fundamental, zero to peak.
    pub fn fundamental(&self) -> Harmonic {
        self.harmonics.first().copied().unwrap_or(Harmonic {
            amplitude: 0.0,
            amplitude_se: f64::INFINITY,
        })
    }

    /// The largest of its harmonics' amplitudes.
    pub(super) fn strongest(&self) -> f64 {
        let sizes = self.harmonics.iter().map(|harmonic| harmonic.amplitude);
        sizes.fold(0.0, f64::max)
    }

    /// Whether noise as coloured as the residuals may have made it.
    ///
    /// White noise is refused before the fit. Noise that wanders has most of its power in few cycles, and any fit finds an
    /// oscillation there. So the power of at least one harmonic must exceed that of the residuals' own spectrum at its frequency.
    /// The margin is the one that white noise exceeds in one of 100 000 records: `A² n/(4 S(ω)) > ln(bins/1e-5)`. `S` is that of
    /// a first-order autoregression, `σ² (1 - ρ²)/(1 - 2ρ cos ω + ρ²)`, and of a random walk, `σ² (1 - ρ)/(1 - cos ω)`, where the
    /// residuals wander (both from memory). There the fit itself took the slowest part away, and ρ comes out low.
    pub(super) fn may_be_coloured_noise(&self) -> bool {
        let rho = self.residual_rho;
        let variance = self.residual_sd * self.residual_sd;
        if rho <= 0.0 || variance <= 0.0 {
            return false;
        }
        let used = self.used as f64;
        let least = (used / 2.0 / FALSE_ALARM).ln();
        (1..).zip(&self.harmonics).all(|(order, harmonic)| {
            let omega = std::f64::consts::TAU * f64::from(order) * self.cycles_per_sample;
            let spectrum = if rho < WANDERS {
                variance * (1.0 - rho * rho) / (1.0 - 2.0 * rho * omega.cos() + rho * rho)
            } else {
                variance * (1.0 - rho) / (1.0 - omega.cos())
            };
            harmonic.amplitude.powi(2) * used / (4.0 * spectrum) < least
        })
    }
}

/// Why a record gives no frequency.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoTone {
    /// Fewer than [`FEWEST_SAMPLES`].
    #[error("too few samples")]
    TooShort,
    /// Nothing but noise, or nothing at all.
    #[error("no oscillation above the noise")]
    Noise,
    /// Fewer than [`FEWEST_CYCLES`].
    #[error("too few cycles")]
    TooFewCycles,
    /// The fit did not settle near the peak of the spectrum.
    #[error("no single frequency fits")]
    Unsettled,
}

/// The correlation of neighbouring residuals from which on they are assumed to wander without end. Chosen.
const WANDERS: f64 = 0.7;

/// The fewest cycles in a record that can be distinguished from a slope (chosen; the fit was tried down to it).
pub const FEWEST_CYCLES: f64 = 1.2;
