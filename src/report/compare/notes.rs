//! The objects that came near, the lamps that were lit and the jumps of the frequency, a sentence each.

use super::change::{lasting, times};
use super::interruptions::clock;
use super::lamp::centimetres;
use crate::analysis::compare::Comparison;
use crate::analysis::lamp::{Sighting, by_lamp};
use crate::report::layout::kept;
use crate::units::{Unit, rounded};

/// Times when something came near and went again.
pub(super) fn nearby(comparison: &Comparison) -> Option<String> {
    let excursions = &comparison.excursions;
    let size = |ratio: f64| ratio.abs();
    let entries = excursions.entries.iter();
    let most = entries.max_by(|one, other| size(one.ratio).total_cmp(&size(other.ratio)))?;
    let count = excursions.count();
    let most_words = if count == 1 { "" } else { "at most " };
    Some(format!(
        "Something came near {} (a hand, a lamp?): {most_words}{} for {}, at {}.",
        times(count),
        kept(&rounded(most.deviation_hz, Unit::Hertz, 2)),
        lasting(most.to_s - most.from_s),
        clock(most.from_s)
    ))
}

/// Lamps that were noted, each with its first and last distance.
pub(super) fn lamps(sightings: &[Sighting]) -> Vec<String> {
    let lit = |one: &Sighting| {
        let at = one.battery_v.map_or_else(String::new, |volts| {
            format!(" at {}", kept(&rounded(volts, Unit::Volt, 3)))
        });
        format!("{}{at}", kept(&centimetres(one.mark.distance_m)))
    };
    let each = by_lamp(sightings)
        .into_iter()
        .map(|(name, seen)| match *seen {
            [first, .., last] => format!(
                "Lamp {name}: lit from {}, at last from {}.",
                lit(first),
                lit(last)
            ),
            [only] => format!("Lamp {name}: lit from {}.", lit(only)),
            [] => format!("Lamp {name}."),
        });
    each.collect()
}

/// Times when the frequency jumped and stayed.
pub(super) fn jumps(comparison: &Comparison) -> Option<String> {
    let steps = &comparison.steps;
    let size = |ratio: f64| ratio.abs();
    let most = steps
        .entries
        .iter()
        .max_by(|one, other| size(one.ratio).total_cmp(&size(other.ratio)))?;
    let of_supply = steps
        .entries
        .iter()
        .filter(|step| step.is_of_supply)
        .count();
    let with = match of_supply {
        0 => String::new(),
        all if all == steps.count() => ", with the battery".to_owned(),
        some => format!(", {some} of them with the battery"),
    };
    Some(format!(
        "It jumped and stayed {}{with}: at most by {}, at {}.",
        times(steps.count()),
        kept(&rounded(most.change_hz, Unit::Hertz, 2)),
        clock(most.at_s)
    ))
}
