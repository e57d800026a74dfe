//! Whether a battery that was noted as full can have been: its first volts beside those of full batteries at like load.

use super::question::{Claim, Likeness, Question};
use crate::battery::curve::Curve;
use crate::battery::finished::Start;

/// How far below the lowest full battery of another type the first volts may lie, in volts for a 9 V battery. Of the three
/// lithium cells that ship the lowest lies 0.06 to 0.10 V below the others at like load.
const BELOW_OTHERS_V: f64 = 0.10;
/// The same beside its own full runs: two offsets of one battery from another as the posterior allows.
const BELOW_OWN_V: f64 = 0.24;
/// The first volts are those before this share of the run, in which a load only meets the battery's resistance.
const FIRST: f64 = 0.003;
/// How much a full run of another load still counts, as a standard deviation of the logarithm of its length. Chosen: half or
/// twice as long counts an eighth.
const LIKE_LOG_SD: f64 = 0.34;

/// Whether the first volts agree with the note, where a full battery would last `full_s` at this load.
pub(super) fn judge(question: &Question<'_>, full_s: f64) -> Claim {
    if question.start == Start::Unknown {
        return Claim::None;
    }
    let Some((first_s, first_v)) = first(question, full_s) else {
        return Claim::Agrees;
    };
    let below_v = match question.likeness {
        Likeness::Same => BELOW_OWN_V,
        Likeness::Other => BELOW_OTHERS_V,
    };
    let library = question.library;
    let full = library.full.iter().map(|places| {
        let curves = places.iter().filter_map(|&at| library.curves.get(at));
        at_like_load(&curves.collect::<Vec<_>>(), full_s, first_s)
    });
    match full.min_by(f64::total_cmp) {
        Some(least_v) if first_v < least_v - below_v * f64::from(question.series) => {
            Claim::Disagrees
        }
        _ => Claim::Agrees,
    }
}

/// Returns the mean time and volts of the first readings.
fn first(question: &Question<'_>, full_s: f64) -> Option<(f64, f64)> {
    let begun_s = question.so_far.first()?.running_s;
    let (mut sum_s, mut sum_v, mut count) = (0.0, 0.0, 0.0);
    for one in question.so_far {
        if count > 0.0 && one.running_s - begun_s > FIRST * full_s {
            break;
        }
        sum_s += one.running_s;
        sum_v += one.volts_v;
        count += 1.0;
    }
    Some((sum_s / count, sum_v / count))
}

/// Returns the volts of one cell's full runs at a time, those of like load before the others.
fn at_like_load(curves: &[&Curve], full_s: f64, at_s: f64) -> f64 {
    let (mut sum_v, mut weights) = (0.0, 0.0);
    for curve in curves {
        let off = (curve.run_s / full_s).ln() / LIKE_LOG_SD;
        // Far from all of them the nearest counts alone, however little.
        let weight = (-0.5 * off * off).exp().max(f64::MIN_POSITIVE);
        sum_v += weight * curve.volts_at(at_s / curve.run_s);
        weights += weight;
    }
    sum_v / weights
}
