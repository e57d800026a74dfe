//! A voltage that stays level, and the step down by which some converters warn.

use crate::battery::curve::{self, Sample};

/// A run whose voltage fell by less than this between its second and its last tenth is level. Chosen: above the 0.11 % that
/// one measured log of a converter-type cell wandered, below the 1 % that the flattest lithium-ion curve falls in as long.
const LEVEL: f64 = 0.003;
/// The same where iron phosphate may stand behind it, for a run whose share of the charge is known: a voltage is level if it fell
/// by less than this times that share. The simulated curves of iron phosphate that ship fall by 3 to 8 % so reckoned up to three
/// quarters of their runs.
const LEVEL_OF_A_RUN: f64 = 0.085;
/// Where that is not known, and the run has lasted [`LONG_S`], it is level below this. Chosen by the same curves.
const LEVEL_LONG: f64 = 0.02;
/// Long for a 9 V battery that drives a resonator, in seconds. Chosen.
const LONG_S: f64 = 1800.0;
/// A fall of more than this share, the load unchanged, is a step; the measured one was 26 %.
const STEP: f64 = 0.10;
/// It takes no longer than this, in seconds.
const STEP_S: f64 = 10.0;
/// The current counts as unchanged within this share; a converter that gives less voltage into a resistor gives as much less
/// current, so a fall with the voltage is accepted.
const SAME_LOAD: f64 = 0.05;
/// The number of low readings in a row that make a step; one may be a slip of the meter.
const READINGS: usize = 3;

/// How flat a voltage must be to show no end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flat {
    /// The share of the charge that the run has taken so far, where the printed charge and the current are known.
    pub taken: Option<f64>,
    /// Below this voltage, in volts, iron phosphate may stand behind it, and a fall as slow as its own counts as level.
    pub below_v: f64,
}

impl Flat {
    /// As a converter holds it, whatever stands behind it.
    pub const HELD: Self = Self {
        taken: None,
        below_v: 0.0,
    };
}

/// Whether the voltage shows no end: held by a converter, or a chemistry as flat; which of the two is not known.
pub fn is_level(so_far: &[Sample], flat: Flat) -> bool {
    let elapsed_s = so_far.last().map_or(0.0, |last| last.running_s);
    let of_iron = match flat.taken {
        Some(taken) => LEVEL_OF_A_RUN * taken.min(1.0),
        None if elapsed_s >= LONG_S => LEVEL_LONG,
        None => 0.0,
    };
    let tenths = curve::averaged(so_far, 0.0, elapsed_s, 10);
    match (tenths.get(1), tenths.last()) {
        (Some(&(_, early_v)), Some(&(_, late_v))) if tenths.len() == 10 => {
            let least = if late_v < flat.below_v {
                LEVEL.max(of_iron)
            } else {
                LEVEL
            };
            early_v - late_v < least * early_v
        }
        _ => false,
    }
}

/// Returns when a voltage that had been level stepped down and stayed there, in seconds under load; noise is distinguished from a
/// step by the two readings that follow.
///
/// In one measured log of a converter-type cell 6 % of the run was left at that moment; some designs give no such warning.
pub fn step_down_s(so_far: &[Sample]) -> Option<f64> {
    let mut from = 0;
    for (at, sample) in so_far.iter().enumerate() {
        while so_far
            .get(from)
            .is_some_and(|first| first.running_s < sample.running_s - STEP_S)
        {
            from += 1;
        }
        let Some(before) = so_far.get(from) else {
            continue;
        };
        let fell = sample.volts_v < before.volts_v * (1.0 - STEP);
        if fell
            && has_same_load(before, sample)
            && is_level(so_far.get(..=from).unwrap_or(&[]), Flat::HELD)
        {
            let after = so_far.get(at..).unwrap_or(&[]);
            let stays = after
                .iter()
                .all(|later| later.volts_v < before.volts_v * (1.0 - STEP));
            return (stays && after.len() >= READINGS).then_some(sample.running_s);
        }
    }
    None
}

fn has_same_load(before: &Sample, after: &Sample) -> bool {
    match (before.current_a, after.current_a) {
        (Some(before_a), Some(after_a)) => after_a <= before_a * (1.0 + SAME_LOAD),
        _ => true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An invented converter: 9.02 V, a step to 6.7 V at 3600 s.
    fn held(current_a: impl Fn(f64) -> Option<f64>) -> Vec<Sample> {
        (0..3700)
            .map(|second| {
                let running_s = f64::from(second);
                Sample {
                    running_s,
                    volts_v: if second < 3600 { 9.02 } else { 6.7 },
                    current_a: current_a(running_s),
                }
            })
            .collect()
    }

    #[test]
    fn the_step_of_a_converter_is_found_with_its_third_reading() {
        assert_eq!(step_down_s(&held(|_| None)), Some(3600.0));
        assert_eq!(step_down_s(&held(|_| Some(0.3))), Some(3600.0));
        assert_eq!(step_down_s(&held(|_| None)[..3603]), Some(3600.0));
        assert_eq!(step_down_s(&held(|_| None)[..3602]), None);
    }

    #[test]
    fn a_heavier_load_is_no_step() {
        let heavier = held(|at_s| Some(if at_s < 3600.0 { 0.3 } else { 0.6 }));
        assert_eq!(step_down_s(&heavier), None);
    }

    #[test]
    fn a_voltage_that_comes_back_has_not_stepped() {
        let mut samples = held(|_| None);
        samples
            .iter_mut()
            .skip(3650)
            .for_each(|one| one.volts_v = 9.02);
        assert_eq!(step_down_s(&samples), None);
    }
}
