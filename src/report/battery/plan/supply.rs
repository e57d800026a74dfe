//! What a plan takes the coil to draw, in words and as JSON.

use serde::Serialize;

use super::evenings::Evenings;
use crate::battery::charge::Load;
use crate::battery::plan::Supply;
use crate::report::form::part;
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
#[derive(Debug, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(tag = "origin", rename_all = "kebab-case")]
pub(super) enum SupplyPart {
    Predicted {
        low_a: f64,
        middle_a: f64,
        high_a: f64,
        open_v: f64,
        keeps_running_v: Option<f64>,
    },
    Typed(LoadPart),
}

impl SupplyPart {
    pub(super) fn new(supply: &Supply) -> Self {
        match *supply {
            Supply::Predicted {
                current,
                open_v,
                keeps_running_v,
                loaded_ratio: _,
            } => Self::Predicted {
                low_a: current.low_a,
                middle_a: current.middle_a,
                high_a: current.high_a,
                open_v,
                keeps_running_v,
            },
            Supply::Typed(load) => Self::Typed(LoadPart::new(load)),
        }
    }
}

part! {
    pub(super) struct LoadPart(load: Load) {
        resistance_ohm: Option<f64> = if let Load::Resistance(ohm) = load { Some(ohm) } else { None },
        power_w: Option<f64> = if let Load::Power(watt) = load { Some(watt) } else { None },
        current_a: Option<f64> = if let Load::Current(ampere) = load { Some(ampere) } else { None },
    }
}
