//! The highest peak of a record's spectrum, between the bins.

use std::f64::consts::PI;

use realfft::RealFftPlanner;
use realfft::num_complex::Complex;

use super::found::{FALSE_ALARM, FEWEST_SAMPLES, NoTone};

/// The highest peak of a spectrum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peak {
    /// Its bin; bin 1 is one cycle in the record.
    pub bin: usize,
    /// Where the peak stands between the bins.
    pub cycles_per_sample: f64,
}

/// Finds the highest peak, and refuses noise.
///
/// The place between the bins is by the three-bin formula of Jacobsen and Kootsookos (2007). Its bias is taken away by the factor
/// of Candan (IEEE Signal Processing Letters, 2011, doi 10.1109/LSP.2011.2136378). Both formulas are from memory, the values of
/// the tests from another hand's. The result is good to some hundredths of a bin with more than ten cycles, to a third with
/// fewer.
///
/// Noise is found by Fisher's test (1929, from memory). In white noise the highest bin's share of all power exceeds `x` with a
/// chance of `n (1 - x)^(n - 1)` at most; `n` is the number of bins.
///
/// # Errors
/// [`NoTone::TooShort`] and [`NoTone::Noise`].
pub fn peak(samples: &[f64]) -> Result<Peak, NoTone> {
    let length = samples.len();
    if length < FEWEST_SAMPLES {
        return Err(NoTone::TooShort);
    }
    let spectrum = spectrum(samples);
    // Not the constant part, and not half the sampling rate, which has no phase.
    let last = (length - 1) / 2;
    let power = |bin: usize| spectrum.get(bin).map_or(0.0, Complex::norm_sqr);
    let total: f64 = (1..=last).map(power).sum();
    let bin = (1..=last)
        .max_by(|one, other| power(*one).total_cmp(&power(*other)))
        .ok_or(NoTone::TooShort)?;
    let bins = last as f64;
    let least_share = 1.0 - (FALSE_ALARM / bins).powf(1.0 / (bins - 1.0));
    // Written so that a record of equal samples, without any power, is noise too.
    if total <= f64::MIN_POSITIVE || power(bin) / total <= least_share {
        return Err(NoTone::Noise);
    }
    let at = |bin: usize| spectrum.get(bin).copied().unwrap_or_default();
    let (before, here, after) = (at(bin - 1), at(bin), at(bin + 1));
    let offset = ((before - after) / (here * 2.0 - before - after)).re;
    let step = PI / length as f64;
    // With few cycles the peak may be the next bin's.
    let offset = (offset * step.tan() / step).clamp(-1.0, 1.0);
    Ok(Peak {
        bin,
        cycles_per_sample: (bin as f64 + offset) / length as f64,
    })
}

/// The spectrum of a record without its mean, from the constant part to half the sampling rate; empty if it can't be had.
fn spectrum(samples: &[f64]) -> Vec<Complex<f64>> {
    let mean = samples.iter().sum::<f64>() / samples.len() as f64;
    let mut centred: Vec<f64> = samples.iter().map(|sample| sample - mean).collect();
    let transform = RealFftPlanner::<f64>::new().plan_fft_forward(samples.len());
    let mut spectrum = transform.make_output_vec();
    // The only error is a wrong length, and both lengths come from the plan.
    match transform.process(&mut centred, &mut spectrum) {
        Ok(()) => spectrum,
        Err(_) => Vec::new(),
    }
}
