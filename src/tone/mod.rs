//! The frequency and size of an oscillation in a row of samples, each with its standard error.
//!
//! Pure numbers, in cycles per sample and in the samples' own unit. A caller who knows the sampling interval and the volts per
//! code makes them hertz and volts. The search starts from an interpolated peak of the spectrum and ends in a joint least-squares
//! fit of a fundamental with its harmonics. The fit reaches the Cramér-Rao bound; the peak alone stays above one and a half times
//! it.

mod fit;
mod found;
mod peak;

use fit::{Fitted, Scatter, Start, fitted};

pub use fit::fit;
pub use found::{FEWEST_CYCLES, FEWEST_SAMPLES, Harmonic, NoTone, Rails, Tone};
pub use peak::{Peak, peak};

/// Harmonics fitted where sampling leaves room for them, the fundamental counted (chosen: five reach the bound on pulses).
const MOST_HARMONICS: usize = 5;

/// The number of cycles below which the harmonics are too close together to be distinguished, and the fundamental is fitted
/// alone.
const FEWEST_CYCLES_FOR_HARMONICS: f64 = 2.0;

/// Clipped samples are left out of the fit only where this share remains; else they are better than nothing.
const LEAST_SHARE_UNCLIPPED: f64 = 0.4;

/// Where clipped samples are left out, harmonics are fitted beside the fundamental if this share remains. In larger holes
/// they are free to do as they like, and stay only where the residual falls by [`FALLS_BY`] with them. Chosen by trials on
/// a sine and on a signal with harmonics of 30 and 15 %.
const LEAST_SHARE_FOR_HARMONICS: f64 = 0.7;

/// A frequency is judged a harmonic of a half or a third of it where the residual's variance falls by this factor. Chosen: a
/// residual half as large has fallen by far, whatever the noise.
const FALLS_BY: f64 = 2.0;

/// The share of the strongest that the harmonics in between must have, too. An oscillation whose cycles differ by less is one of
/// the higher frequency. Chosen.
const LEAST_BETWEEN: f64 = 0.1;

/// The share that a fit takes from a residual of `n` samples by chance is less than this over `n`, as a logarithm. Chosen: six
/// more unknowns take 40 less than once in a million records (chi-squared with six degrees of freedom, 1e-6 above 38.3).
const BY_CHANCE: f64 = 40.0;

/// Finds the oscillation in a record of equally spaced samples.
///
/// Samples at the rails, if there are any, are left out where enough remain. The highest peak of a spectrum may be the second or
/// third harmonic of a coil whose fundamental is weaker. A half and a third of it are tried too. `quantum` is the step between
/// neighbouring values. The residual's variance is set to `quantum`²/12 at least, because the rounding of a quiet signal may hide
/// in the fit.
///
/// A record aliased by too slow sampling looks like any other: nothing in it shows the aliasing.
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
    // Cheap, and nearly always the end of it: the fundamental and the next but one are not in the residuals.
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
