//! Hazards and findings for other programs.

use serde_json::{Value, json};

use super::concerns::concern;
use super::supply::limit_a;
use super::words::{READING_S, words};
use crate::circuit::damage::Damage;
use crate::circuit::hazards::{Hazard, Hazards};
use crate::circuit::supply::SupplyCurrent;
use crate::diagnosis::concern::Concern;
use crate::diagnosis::situation::Situation;
use crate::report::digits::nine_digits;

/// The same for other programs.
pub(in crate::report) fn concern_json(found: &Concern) -> Value {
    let (name, situation) = match found {
        Concern::Hot { situation, .. } => ("hot", situation),
        Concern::OverCurrent { situation, .. } => ("over-current", situation),
        Concern::MoreBatteries { .. } => ("more-batteries", &Situation::AsFound),
        Concern::OtherCount { .. } => ("other-number-of-batteries", &Situation::AsFound),
    };
    json!({ "finding": name, "situation": situation.key(), "words": concern(found) })
}

/// The supply current over a build's parts for other programs; null where no set oscillates.
pub(in crate::report) fn supply_json(supply: Option<&SupplyCurrent>) -> Value {
    supply.map_or(Value::Null, |supply| {
        json!({
            "low_a": nine_digits(supply.low_a),
            "typical_a": supply.typical_a.map(nine_digits),
            "high_a": nine_digits(supply.high_a),
            "sets_oscillating": supply.oscillate,
            "sets_weak": supply.weak,
        })
    })
}

/// The hazards for other programs: a word for each with its figures, and the same line.
pub fn json(hazards: &Hazards) -> Value {
    let each = hazards.found.iter().map(|hazard| {
        let mut one = figures(hazard);
        if let Some(keys) = one.as_object_mut() {
            keys.insert("words".to_owned(), json!(words(hazard, hazards.class)));
        }
        one
    });
    Value::Array(each.collect())
}

/// What a hazard is called in JSON.
fn name(hazard: &Hazard) -> &'static str {
    match hazard {
        Hazard::Rating { damage, .. } => match damage {
            Damage::ReverseBase { .. } => "base-beyond-rating",
            Damage::Collector { .. } => "collector-beyond-rating",
            Damage::CollectorCurrent { .. } => "collector-current-beyond-rating",
            Damage::Supply { .. } => "supply-current",
            Damage::Diode { .. } => "diode-beyond-rating",
            Damage::BiasResistor { .. } => "bias-resistor-beyond-rating",
            Damage::Junction { .. } => "junction-beyond-rating",
        },
        Hazard::Case { .. } => "hot-case",
        Hazard::Standing(_) => "standing-measurements",
        Hazard::Arcs { .. } => "arcs",
        Hazard::Top { .. } => "top",
    }
}

fn figures(hazard: &Hazard) -> Value {
    let of = |value: f64| nine_digits(value);
    let name = name(hazard);
    match hazard {
        Hazard::Rating { damage, .. } => {
            json!({ "hazard": name, "times_rated": of(damage.times_rated()) })
        }
        Hazard::Case { heat, .. } => {
            json!({ "hazard": name, "case_c": of(heat.case_c), "transistor_w": of(heat.power_w) })
        }
        Hazard::Standing(standing) => json!({
            "hazard": name,
            "battery_v": of(standing.battery_v),
            "battery_a": of(standing.battery_a),
            "measure_at_v": of(standing.supply_v),
            "limit_a": of(limit_a(standing)),
            "at_most_s": READING_S,
        }),
        Hazard::Arcs { open_v, top_v } => {
            json!({ "hazard": name, "open_v": of(*open_v), "top_v": top_v.map(of) })
        }
        Hazard::Top {
            top_v,
            circulating_a,
            touch_a,
        } => json!({
            "hazard": name,
            "top_v": of(*top_v),
            "circulating_a": of(*circulating_a),
            "touch_level_a": touch_a.map(of),
        }),
    }
}
