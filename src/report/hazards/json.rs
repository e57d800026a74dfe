//! Hazards and findings for other programs.

use serde::Serialize;

use super::concerns::concern;
use super::supply::limit_a;
use super::words::{READING_S, words};
use crate::circuit::damage::Damage;
use crate::circuit::hazards::{Hazard, Hazards};
use crate::circuit::supply::SupplyCurrent;
use crate::diagnosis::concern::Concern;
use crate::diagnosis::situation::Situation;
use crate::report::form::part;

part! {
    pub(in crate::report) struct ConcernPart(found: &Concern) with {
        let (name, place) = match found {
            Concern::Hot { situation, .. } => ("hot", situation),
            Concern::OverCurrent { situation, .. } => ("over-current", situation),
            Concern::MoreBatteries { .. } => ("more-batteries", &Situation::AsFound),
            Concern::OtherCount { .. } => ("other-number-of-batteries", &Situation::AsFound),
        };
    } {
        finding: &'static str = name,
        situation: &'static str = place.key(),
        words: String = concern(found),
    }
}

part! {
    /// The supply current over a build's parts.
    pub(in crate::report) struct SupplyPart(supply: &SupplyCurrent) {
        low_a: f64 = supply.low_a,
        typical_a: Option<f64> = supply.typical_a,
        high_a: f64 = supply.high_a,
        sets_oscillating: usize = supply.oscillate,
        sets_weak: usize = supply.weak,
    }
}

/// The hazards of a build.
pub fn parts(hazards: &Hazards) -> Vec<HazardPart> {
    let each = hazards.found.iter();
    each.map(|hazard| HazardPart::new(hazard, hazards))
        .collect()
}

part! {
    /// A word for a hazard with its figures, and the line that people read.
    pub struct HazardPart(found: &Hazard, all: &Hazards) {
        hazard: &'static str = name(found),
        #[serde(flatten)]
        figures: Figures = figures(found),
        words: String = words(found, all.class),
    }
}

/// What each hazard has of its own.
#[derive(Debug, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(untagged)]
enum Figures {
    Rating {
        times_rated: f64,
    },
    Case {
        case_c: f64,
        transistor_w: f64,
    },
    Standing {
        battery_v: f64,
        battery_a: f64,
        measure_at_v: f64,
        limit_a: f64,
        at_most_s: u32,
    },
    Arcs {
        open_v: f64,
        top_v: Option<f64>,
    },
    Top {
        top_v: f64,
        circulating_a: f64,
        touch_level_a: Option<f64>,
    },
}

/// Returns the name of a hazard in JSON.
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

fn figures(hazard: &Hazard) -> Figures {
    match *hazard {
        Hazard::Rating { ref damage, .. } => Figures::Rating {
            times_rated: damage.times_rated(),
        },
        Hazard::Case { ref heat, .. } => Figures::Case {
            case_c: heat.case_c,
            transistor_w: heat.power_w,
        },
        Hazard::Standing(ref standing) => Figures::Standing {
            battery_v: standing.battery_v,
            battery_a: standing.battery_a,
            measure_at_v: standing.supply_v,
            limit_a: limit_a(standing),
            at_most_s: READING_S,
        },
        Hazard::Arcs { open_v, top_v } => Figures::Arcs { open_v, top_v },
        Hazard::Top {
            top_v,
            circulating_a,
            touch_a,
        } => Figures::Top {
            top_v,
            circulating_a,
            touch_level_a: touch_a,
        },
    }
}
