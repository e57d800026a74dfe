//! The current that a plan assumes for the coil, in words and as JSON.

use serde::Serialize;

use super::evenings::Evenings;
use crate::battery::charge::Load;
use crate::battery::logbook::Logbook;
use crate::battery::plan::Supply;
use crate::circuit::pushing::Ceases;
use crate::report::compare::pushing::stop_words;
use crate::report::form::part;
use crate::report::hazards;
use crate::report::layout::kept;
use crate::report::predict::answer::to;
use crate::sheet::supply::PredictedSupply;
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

/// Returns the coil's current, in a few words.
pub(super) fn drawn(all: &Evenings<'_>) -> String {
    match all.supply {
        Supply::Predicted { current, .. } => {
            let drawn = all.hazards.and_then(|hazards| hazards.supply);
            let (low_a, high_a) = drawn.map_or((current.low_a, current.high_a), |drawn| {
                (drawn.low_a, drawn.high_a)
            });
            let ampere = |value_a| rounded(value_a, Unit::Ampere, 2);
            let range = to(&ampere(low_a), &ampere(high_a));
            format!("{range}, as predicted")
        }
        Supply::Typed(_) => {
            let words = supply_words(all);
            let (number, origin) = words.split_once(", ").unwrap_or((&words, "as typed"));
            format!("{}, {origin}", kept(number))
        }
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

/// Returns a note that a battery's own runs stopped this build elsewhere than predicted; `None` where both agree or one is not
/// known.
pub fn stops_otherwise(book: &Logbook, build: &str, supply: &Supply) -> Option<String> {
    let (measured_v, _) = book.own_stops(Some(build))?;
    let stop = supply.stop()?;
    let ceases = Ceases {
        open_v: stop.open_v,
        clips_v: stop.loaded_v,
    };
    let words = stop_words(measured_v, ceases.beside(measured_v), &ceases)?;
    Some(format!("in the runs of {} the coil {words}", book.battery))
}

/// Returns the notes on a predicted supply current.
pub fn predicted_notes(predicted: &PredictedSupply) -> Vec<String> {
    let mut notes = Vec::new();
    if predicted.dead_sets > 0 {
        notes.push(format!(
            "{} of the worst, typical and best set of parts would not oscillate and is left out of it; sagtrace \
             predict shows more",
            predicted.dead_sets
        ));
    }
    if predicted.weak_sets > 0 {
        notes.push(
            "a weak run lights little: what follows is how long the battery gives that current, not how long lamps light"
                .to_owned(),
        );
    }
    notes
}
