//! The frequency and size of an oscillation in a row of samples, each with its standard error.
//!
//! Pure numbers, in cycles a sample and in the samples' own unit: who knows the sampling interval and the volts a code
//! makes them hertz and volts. It starts from an interpolated peak of the spectrum and ends in a joint least-squares fit of
//! a fundamental with its harmonics, which reaches the Cramér-Rao bound; the peak alone stays above one and a half times it.

mod fit;
mod peak;

use fit::{Fitted, Scatter, Start, fitted};

pub use fit::fit;
pub use peak::{Peak, peak};

/// Fewer samples than this hold no frequency worth the name (chosen).
pub const FEWEST_SAMPLES: usize = 16;

/// Fewer cycles than this in a record can't be told from a slope (chosen; the fit was tried down to it).
pub const FEWEST_CYCLES: f64 = 1.2;

/// Harmonics fitted where sampling leaves room for them, the fundamental counted (chosen: five reach the bound on pulses).
const MOST_HARMONICS: usize = 5;

/// Below so many cycles the harmonics are too close together to be told apart, and the fundamental is fitted alone.
const FEWEST_CYCLES_FOR_HARMONICS: f64 = 2.0;

/// Clipped samples are left out of the fit only where this share remains; else they are better than nothing.
const LEAST_SHARE_UNCLIPPED: f64 = 0.4;

/// Where clipped samples are left out, harmonics are fitted beside the fundamental if this share remains. In larger holes
/// they are free to do as they like, and stay only where the residual falls by [`FALLS_BY`] with them. Chosen by trials on
/// a sine and on a signal with harmonics of 30 and 15 %.
const LEAST_SHARE_FOR_HARMONICS: f64 = 0.7;

/// A frequency is taken for a harmonic of a half or a third of it where the residual's variance falls by this factor.
/// Chosen: what is half as large has fallen by far, whatever the noise.
const FALLS_BY: f64 = 2.0;

/// And where the harmonics in between have this share of the strongest: an oscillation that differs by less from cycle to
/// cycle is one of the higher frequency. Chosen.
const LEAST_BETWEEN: f64 = 0.1;

/// What a fit takes from a residual of `n` samples by chance is less than this over `n`, as a logarithm. Chosen: six more
/// unknowns take 40 less than once in a million records (chi-squared with six degrees of freedom, 1e-6 above 38.3).
const BY_CHANCE: f64 = 40.0;

/// From this correlation of neighbouring residuals on they are taken to wander without end. Chosen.
const WANDERS: f64 = 0.7;

/// How often noise alone may pass for an oscillation (chosen: less than once in a long evening of one record a second).
const FALSE_ALARM: f64 = 1e-5;

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
    /// Standard deviation of what the fit leaves over.
    pub residual_sd: f64,
    /// Samples that the fit rests on.
    pub used: usize,
    /// Correlation of neighbouring residuals: 0 for white noise, near 1 for what wanders or what the harmonics lack.
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
    fn strongest(&self) -> f64 {
        let sizes = self.harmonics.iter().map(|harmonic| harmonic.amplitude);
        sizes.fold(0.0, f64::max)
    }

    /// Whether noise as coloured as the residuals may have made it.
    ///
    /// White noise is refused before the fit. Noise that wanders has most of its power in few cycles, and any fit finds an
    /// oscillation there. So the power of at least one harmonic must exceed that of the residuals' own spectrum at its
    /// frequency by what white noise exceeds in one of 100 000 records: `A² n/(4 S(ω)) > ln(bins/1e-5)`. `S` is that of a
    /// first-order autoregression, `σ² (1 - ρ²)/(1 - 2ρ cos ω + ρ²)`, and of a random walk, `σ² (1 - ρ)/(1 - cos ω)`, where
    /// the residuals wander (both from memory): there the fit itself took the slowest part away, and ρ comes out low.
    fn may_be_coloured_noise(&self) -> bool {
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

/// Finds the oscillation in a record of equally spaced samples.
///
/// Samples at the rails, if there are any, are left out where enough remain. The highest peak of a spectrum may be the second
/// or third harmonic of a coil whose fundamental is weaker: a half and a third of it are tried too. `quantum` is the step
/// between neighbouring values: the residual's variance is taken as `quantum`²/12 at least, because the rounding of a quiet
/// signal may hide in the fit.
///
/// A record aliased by too slow sampling looks like any other: nothing in it can tell.
///
/// # Errors
/// [`NoTone`].
pub fn find(samples: &[f64], quantum: f64, rails: Rails) -> Result<Tone, NoTone> {
    let peak = peak(samples)?;
    let length = samples.len() as f64;
    if peak.cycles_per_sample * length < FEWEST_CYCLES {
        return Err(NoTone::TooFewCycles);
    }
    let least_sd = quantum / 12.0_f64.sqrt();
    let first = suited(samples, peak.cycles_per_sample, rails)?;
    let tone = [2.0, 3.0]
        .into_iter()
        .filter_map(|order| parent(samples, &first, order, least_sd, rails))
        .min_by(|one, other| one.residual_sd.total_cmp(&other.residual_sd))
        .unwrap_or(first.tone);
    if tone.cycles_per_sample * length < FEWEST_CYCLES {
        return Err(NoTone::TooFewCycles);
    }
    let tone = widened(tone, least_sd);
    if tone.may_be_coloured_noise() {
        return Err(NoTone::Noise);
    }
    Ok(tone)
}

/// The fit that suits a record: with as many harmonics as have room, and without its clipped samples where enough remain.
fn suited(samples: &[f64], cycles_per_sample: f64, rails: Rails) -> Result<Fitted, NoTone> {
    let with = |harmonics| Start {
        cycles_per_sample,
        harmonics,
    };
    let room = with(harmonics_with_room(cycles_per_sample, samples.len()));
    let unclipped = samples.iter().filter(|sample| !rails.clips(**sample));
    let share = unclipped.count() as f64 / samples.len() as f64;
    if share >= 1.0 {
        // A harmonic close to half the sampling rate may be one too many.
        return fitted(samples, room, None, Scatter::Even)
            .or_else(|_| fitted(samples, with(1), None, Scatter::Even));
    }
    let without = |start| fitted(samples, start, Some(rails), Scatter::Even);
    if share < LEAST_SHARE_UNCLIPPED {
        return fitted(samples, room, None, Scatter::Uneven);
    }
    let (one, all) = (without(with(1)), without(room));
    let variance = |found: &Fitted| found.tone.residual_sd.powi(2);
    match (one, all) {
        (Ok(one), Ok(all)) => {
            let are_needed = variance(&one) > FALLS_BY * variance(&all);
            let is_wanted = share >= LEAST_SHARE_FOR_HARMONICS || are_needed;
            Ok(if is_wanted { all } else { one })
        }
        (Ok(found), Err(_)) | (Err(_), Ok(found)) => Ok(found),
        (Err(_), Err(_)) => fitted(samples, room, None, Scatter::Uneven),
    }
}

/// The tone of which `found` is the harmonic of an order, if the record has one.
fn parent(
    samples: &[f64],
    found: &Fitted,
    order: f64,
    least_sd: f64,
    rails: Rails,
) -> Option<Tone> {
    let at = found.tone.cycles_per_sample / order;
    if at * (samples.len() as f64) < FEWEST_CYCLES_FOR_HARMONICS {
        return None;
    }
    let largest = found.tone.strongest();
    // Cheap, and nearly always the end of it: the fundamental and the next but one are not in what is left over.
    let between = found.left_at(at).max(found.left_at((order + 1.0) * at));
    if between < LEAST_BETWEEN / 2.0 * largest {
        return None;
    }
    let tone = suited(samples, at, rails).ok()?.tone;
    let sizes = (1_u32..).zip(&tone.harmonics);
    let between = sizes.filter(|(number, _)| f64::from(*number) % order > 0.5);
    let between = between.fold(0.0, |most, (_, one)| one.amplitude.max(most));
    let variance = |tone: &Tone| tone.residual_sd.max(least_sd).powi(2);
    let falls_by = variance(&found.tone) / variance(&tone);
    let by_chance = (BY_CHANCE / tone.used as f64).exp();
    let is_parent =
        between >= LEAST_BETWEEN * tone.strongest() && falls_by > FALLS_BY.max(by_chance);
    is_parent.then_some(tone)
}

/// How many harmonics stay below half the sampling rate, by a bin at least.
fn harmonics_with_room(cycles_per_sample: f64, length: usize) -> usize {
    let length = length as f64;
    if cycles_per_sample * length < FEWEST_CYCLES_FOR_HARMONICS {
        return 1;
    }
    (1..=MOST_HARMONICS)
        .take_while(|order| *order as f64 * cycles_per_sample < 0.5 - 1.0 / length)
        .count()
        .max(1)
}

/// The tone with its errors no smaller than a residual of `least_sd` makes them.
fn widened(mut tone: Tone, least_sd: f64) -> Tone {
    if tone.residual_sd < least_sd {
        let by = if tone.residual_sd > 0.0 {
            least_sd / tone.residual_sd
        } else {
            // A fit without any residual has no errors to scale: the bound for white noise stands in (Rife and Boorstyn,
            // IEEE Trans. IT-20, 1974, from memory): var(ω) = 24 s²/(A² N³), var(A) = 2 s²/N.
            let used = tone.used as f64;
            let amplitude = tone.fundamental().amplitude;
            tone.cycles_per_sample_se =
                24.0_f64.sqrt() * least_sd / (amplitude * used.powf(1.5) * std::f64::consts::TAU);
            for harmonic in &mut tone.harmonics {
                harmonic.amplitude_se = (2.0 / used).sqrt() * least_sd;
            }
            1.0
        };
        tone.cycles_per_sample_se *= by;
        for harmonic in &mut tone.harmonics {
            harmonic.amplitude_se *= by;
        }
        tone.residual_sd = least_sd;
    }
    tone
}
