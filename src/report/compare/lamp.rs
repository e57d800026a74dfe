//! The lamps of a session as text and JSON: a part of a comparison.

use std::fmt::Write as _;

use crate::analysis::lamp::{Change, Sighting, by_lamp};
use crate::units::{Unit, rounded};

use super::interruptions::clock;
use crate::report::form::part;

/// The lines about the lamps, each lamp's first and last against each other; nothing without lamps.
pub fn text(sightings: &[Sighting]) -> String {
    let mut out = String::new();
    for (index, (name, seen)) in by_lamp(sightings).into_iter().enumerate() {
        let head = if index == 0 { "lamps" } else { "" };
        // Writing to a String cannot fail, here and below.
        writeln!(out, "{head:10} {name}: {}", change(&seen)).ok();
        for one in seen {
            writeln!(out, "             at {} {}", clock(one.at_s), lit(one)).ok();
        }
    }
    if !out.is_empty() {
        writeln!(
            out,
            "           to be compared only for one lamp, held by one hand in one way"
        )
        .ok();
    }
    out
}

/// A distance in centimetres, to the millimetre and no further.
pub(super) fn centimetres(distance_m: f64) -> String {
    let text = format!("{:.1}", distance_m * 100.0);
    format!("{} cm", text.trim_end_matches('0').trim_end_matches('.'))
}

fn lit(one: &Sighting) -> String {
    let distance = centimetres(one.mark.distance_m);
    match one.battery_v {
        Some(volts) => format!("lit at {distance} at {}", rounded(volts, Unit::Volt, 3)),
        None => format!("lit at {distance}, no battery voltage near"),
    }
}

fn change(seen: &[&Sighting]) -> String {
    let Some(change) = Change::of(seen) else {
        return seen.first().map_or_else(String::new, |one| lit(one));
    };
    let distance = match change.distance_ratio {
        Some(ratio) => format!("{:+.0} %", ratio * 100.0),
        None => "farther than touching".to_owned(),
    };
    let battery = change.battery_v.map_or_else(String::new, |volts| {
        format!(" for {volts:+.2} V at the battery")
    });
    let last = seen.last().copied();
    let ends = [seen.first().copied(), last].map(|one| one.map_or_else(String::new, lit));
    let [first, last] = ends;
    format!(
        "{first}, then {}: {distance}{battery}",
        last.trim_start_matches("lit at ")
    )
}

/// The lamps for other programs: part of a comparison's form.
pub(super) fn parts(sightings: &[Sighting]) -> Vec<LampPart<'_>> {
    let lamps = by_lamp(sightings);
    lamps
        .into_iter()
        .map(|(name, seen)| LampPart::new(name, &seen))
        .collect()
}

part! {
    pub(super) struct LampPart<'a>(name: &'a str, seen: &[&Sighting]) with {
        let change = Change::of(seen);
    } {
        lamp: &'a str = name,
        lit: Vec<LitPart> = seen.iter().map(|one| LitPart::new(one)).collect(),
        distance_change_ratio: Option<f64> = change.and_then(|change| change.distance_ratio),
        battery_change_v: Option<f64> = change.and_then(|change| change.battery_v),
    }
}

part! {
    struct LitPart(one: &Sighting) {
        elapsed_s: f64 = one.at_s,
        distance_m: f64 = one.mark.distance_m,
        battery_v: Option<f64> = one.battery_v,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::lamp::LampMark;

    fn seen(at_s: f64, lamp: &str, distance_m: f64, battery_v: Option<f64>) -> Sighting {
        Sighting {
            at_s,
            mark: LampMark {
                lamp: lamp.to_owned(),
                distance_m,
            },
            battery_v,
        }
    }

    #[test]
    fn a_lamp_on_a_fresh_and_a_tired_battery_is_compared() {
        let all = [
            seen(70.0, "neon", 0.12, Some(9.1)),
            seen(900.0, "tube", 0.305, None),
            seen(1862.0, "neon", 0.07, Some(7.02)),
        ];
        insta::assert_snapshot!(text(&all));
        assert_eq!(text(&[]), "");
    }

    #[test]
    fn programs_get_each_sighting_and_the_change() {
        let seen = [
            seen(70.0, "neon", 0.0, None),
            seen(1862.0, "neon", 0.07, Some(7.02)),
        ];
        let found = serde_json::to_value(parts(&seen)).unwrap();
        assert_eq!(found[0]["lit"][1]["battery_v"], 7.02);
        assert!(found[0]["lit"][0]["battery_v"].is_null());
        assert!(found[0]["distance_change_ratio"].is_null());
        assert!(parts(&[]).is_empty());
    }
}
