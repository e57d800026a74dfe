//! What a plan takes the coil to draw, in words and as JSON.

use serde_json::{Value, json};

use super::evenings::Evenings;
use crate::battery::charge::Load;
use crate::battery::plan::Supply;
use crate::report::digits::nine_digits;
use crate::report::hazards;
use crate::units::{Unit, exact, rounded};

/// The supply in words.
pub(super) fn supply_words(all: &Evenings<'_>) -> String {
    match all.supply {
        Supply::Predicted {
            current, open_v, ..
        } => {
            let drawn = all.hazards.and_then(|hazards| hazards.supply);
            let drawn = drawn.map_or_else(
                || hazards::between(current.low_a, current.high_a, Unit::Ampere),
                |drawn| hazards::supply_words(&drawn),
            );
            format!(
                "{drawn}, at a battery of {}: estimated from the build's circuit; at other voltages it is taken to go with the voltage",
                rounded(*open_v, Unit::Volt, 2)
            )
        }
        Supply::Typed(Load::Resistance(ohm)) => format!("{}, as typed", exact(*ohm, Unit::Ohm)),
        Supply::Typed(Load::Power(watt)) => format!("{}, as typed", exact(*watt, Unit::Watt)),
        Supply::Typed(Load::Current(current_a)) => {
            format!("{}, as typed", exact(*current_a, Unit::Ampere))
        }
        Supply::Typed(Load::Measured) => "not known".to_owned(),
    }
}

/// The supply for other programs.
pub(super) fn supply_json(supply: &Supply) -> Value {
    match supply {
        Supply::Predicted {
            current,
            open_v,
            keeps_running_v,
            loaded_ratio: _,
        } => json!({
            "origin": "predicted",
            "low_a": nine_digits(current.low_a),
            "middle_a": nine_digits(current.middle_a),
            "high_a": nine_digits(current.high_a),
            "open_v": open_v,
            "keeps_running_v": keeps_running_v.map(nine_digits),
        }),
        Supply::Typed(load) => {
            let (resistance_ohm, power_w, current_a) = match *load {
                Load::Resistance(ohm) => (Some(ohm), None, None),
                Load::Power(watt) => (None, Some(watt), None),
                Load::Current(current_a) => (None, None, Some(current_a)),
                Load::Measured => (None, None, None),
            };
            json!({
                "origin": "typed",
                "resistance_ohm": resistance_ohm,
                "power_w": power_w,
                "current_a": current_a,
            })
        }
    }
}
