//! The knee at the end of a discharge, as an alarm: "minutes left", not a forecast.

use crate::battery::curve::{self, Sample};

/// The last slopes must exceed this multiple of the usual one.
const RATIO: f64 = 3.0;
/// Not before this time, in seconds: the first minutes of every battery are steep.
const LEAST_S: f64 = 600.0;
/// Stretches of the run whose slopes are compared; each is 2 % of it.
const STRETCHES: usize = 50;

/// Whether the voltage of the run so far turns down: the slope of each of the last two stretches of 2 % is more than three
/// times the median slope of those before, the steep first seventh left out.
///
/// Fewer than one reading per stretch show nothing. A load that wanders sets the rule off falsely, as a measured nickel-metal
/// run showed; `ohm` takes the wandering out: the voltage is moved to the mean current by it.
pub(super) fn is_past_knee(so_far: &[Sample], ohm: Option<f64>) -> bool {
    let elapsed_s = so_far.last().map_or(0.0, |last| last.running_s);
    if elapsed_s < LEAST_S {
        return false;
    }
    let steadied = steadied(so_far, ohm);
    let levels = curve::averaged(&steadied, 0.0, elapsed_s, STRETCHES + 1);
    let slopes: Vec<f64> = levels
        .windows(2)
        .map(|pair| (pair[0].1 - pair[1].1) / (pair[1].0 - pair[0].0))
        .collect();
    if levels.len() <= STRETCHES {
        return false;
    }
    let Some((before, last)) = slopes.split_last_chunk::<2>() else {
        return false;
    };
    let mut before: Vec<f64> = before.iter().copied().skip(STRETCHES / 7).collect();
    before.sort_by(f64::total_cmp);
    let Some(&usual) = before.get(before.len() / 2) else {
        return false;
    };
    usual > 0.0 && last.iter().all(|slope| *slope > RATIO * usual)
}

fn steadied(so_far: &[Sample], ohm: Option<f64>) -> Vec<Sample> {
    let (Some(ohm), Some(mean_a)) = (ohm, curve::mean_current_a(so_far)) else {
        return so_far.to_vec();
    };
    let moved = |sample: &Sample| Sample {
        volts_v: sample.volts_v + sample.current_a.map_or(0.0, |now_a| ohm * (now_a - mean_a)),
        ..*sample
    };
    so_far.iter().map(moved).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::kind::Kind;
    use crate::battery::shipped;

    /// The share of each run that is left when the alarm first sounds.
    fn left(kind: Kind) -> Vec<Option<f64>> {
        let one = |run: crate::battery::finished::Finished| {
            let at = (1..=run.samples.len()).find(|&n| is_past_knee(&run.samples[..n], None))?;
            Some(1.0 - run.samples[at - 1].running_s / run.run_s)
        };
        shipped::finished(kind).into_iter().map(one).collect()
    }

    /// The published rule was early in 11 of 45 lithium-ion runs.
    #[test]
    fn the_alarm_sounds_near_the_end_and_hardly_ever_in_the_first_half() {
        for kind in [Kind::LiIon2s, Kind::Alkaline] {
            let left = left(kind);
            let early = left.iter().flatten().filter(|share| **share >= 0.5);
            assert!(20 * early.count() <= left.len(), "{kind:?} {left:?}");
            let heard = left.iter().flatten().count();
            assert!(2 * heard > left.len(), "{kind:?} {left:?}");
        }
    }

    #[test]
    fn a_load_that_wanders_is_taken_out_by_the_resistance() {
        let samples: Vec<Sample> = (0..1000)
            .map(|i| {
                let current_a = if i < 900 {
                    0.2
                } else {
                    0.2 + 0.002 * f64::from(i - 900)
                };
                Sample {
                    running_s: 2.0 * f64::from(i),
                    volts_v: 9.0 - 0.0005 * f64::from(i) - 3.0 * current_a,
                    current_a: Some(current_a),
                }
            })
            .collect();
        assert!(is_past_knee(&samples, None));
        assert!(!is_past_knee(&samples, Some(3.0)));
    }
}
