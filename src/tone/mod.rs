//! The frequency and size of an oscillation in a row of samples, each with its standard error.
//!
//! Pure numbers, in cycles a sample and in the samples' own unit: who knows the sampling interval and the volts a code
//! makes them hertz and volts. It starts from an interpolated peak of the spectrum and ends in a joint least-squares fit of
//! a fundamental with its harmonics, which reaches the Cramér-Rao bound; the peak alone stays above one and a half times it.

mod fit;
mod peak;

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
}

impl Tone {
    /// The fundamental, zero to peak.
    pub fn fundamental(&self) -> Harmonic {
        self.harmonics.first().copied().unwrap_or(Harmonic {
            amplitude: 0.0,
            amplitude_se: f64::INFINITY,
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
/// Samples at the rails, if there are any, are left out, and the fundamental is then fitted alone, because harmonics would
/// be free to do as they like in the holes. `quantum` is the step between neighbouring values: the residual's variance is
/// taken as `quantum`²/12 at least, because the rounding of a quiet signal may hide in the fit.
///
/// A record aliased by too slow sampling looks like any other: nothing in it can tell.
///
/// # Errors
/// [`NoTone`].
pub fn find(samples: &[f64], quantum: f64, rails: Rails) -> Result<Tone, NoTone> {
    let peak = peak(samples)?;
    let cycles = peak.cycles_per_sample * samples.len() as f64;
    if cycles < FEWEST_CYCLES {
        return Err(NoTone::TooFewCycles);
    }
    let unclipped = samples
        .iter()
        .filter(|sample| !rails.clips(**sample))
        .count();
    let share = unclipped as f64 / samples.len() as f64;
    let room = harmonics_with_room(peak.cycles_per_sample, samples.len());
    let tone = if unclipped < samples.len() && share >= LEAST_SHARE_UNCLIPPED {
        fit(samples, peak.cycles_per_sample, 1, Some(rails))
            .or_else(|_| fit(samples, peak.cycles_per_sample, room, None))?
    } else {
        fit(samples, peak.cycles_per_sample, room, None)?
    };
    if tone.cycles_per_sample * (samples.len() as f64) < FEWEST_CYCLES {
        return Err(NoTone::TooFewCycles);
    }
    Ok(widened(tone, quantum / 12.0_f64.sqrt()))
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
