//! An evening's plan for other programs.

use serde_json::{Value, json};

use super::evenings::{ESTIMATED, Evenings, to_narrow, word};
use super::supply::supply_json;
use crate::battery::evening::Evening;
use crate::battery::plan::{Plan, Range};
use crate::battery::price::Cost;
use crate::battery::worth::Held;
use crate::report::digits::nine_digits;
use crate::report::hazards;

/// The form of the JSON.
const SCHEMA: u32 = 1;

/// As JSON: SI numbers and ampere hours under keys that name their unit, null for what is not known.
pub fn json(all: &Evenings<'_>) -> Value {
    let evening = all.evening;
    let kinds: Vec<Value> = all
        .plans
        .iter()
        .map(|plan| kind(plan, evening, all.cost(plan)))
        .collect();
    let names = |known: Vec<(String, f64)>| -> Vec<String> {
        known.into_iter().map(|(name, _)| name).collect()
    };
    json!({
        "schema": SCHEMA,
        "build": all.build,
        "estimated": true,
        "evening": {
            "runs": evening.runs,
            "run_s": evening.run_s,
            "every_s": evening.every_s,
            "running_s": evening.running_s(),
            "lasts_s": evening.lasts_s(),
        },
        "hazards": all.hazards.map(hazards::json),
        "supply": supply_json(all.supply),
        "supply_notes": all.supply_notes,
        "kinds": kinds,
        "by_minutes": names(all.by_minutes()),
        "by_left": names(all.by_left()),
        "by_cost": names(all.by_cost()),
        "to_narrow": to_narrow(all),
        "ranges": ESTIMATED,
    })
}

fn kind(plan: &Plan, evening: &Evening, cost: Option<Cost>) -> Value {
    let range = |range: Option<Range>, unit: &str| {
        let value =
            |pick: fn(&Range) -> Option<f64>| range.as_ref().and_then(pick).map(nine_digits);
        let mut of_unit = serde_json::Map::new();
        of_unit.insert(format!("low_{unit}"), json!(value(|range| Some(range.low))));
        of_unit.insert(format!("middle_{unit}"), json!(value(|range| range.middle)));
        of_unit.insert(
            format!("high_{unit}"),
            json!(value(|range| Some(range.high))),
        );
        Value::Object(of_unit)
    };
    let share = plan.stops_early.and_then(|stop| stop.share);
    let held = |held: Option<Held>| held.map(|held| json!({ "held": held.held, "of": held.of }));
    json!({
        "kind": plan.kind.name(),
        "battery": plan.own,
        "simulated": plan.is_simulated,
        "answer": word(plan.answer).replace(' ', "-"),
        "nominal_v": nine_digits(plan.nominal_v),
        "current_a": plan.current.map(|current| nine_digits(current.middle_a)),
        "charge_low_ah": plan.given.map(|given| nine_digits(given.low_ah)),
        "charge_high_ah": plan.given.map(|given| nine_digits(given.high_ah)),
        "charge_source": plan.given.map(|given| given.source),
        "charge_range": plan.given.map(|given| given.worth.word()),
        "charge_replayed": held(plan.given.and_then(|given| given.worth.held())),
        "rated_at_a": plan.rating.map(|rating| nine_digits(rating.current_a)),
        "running": range(plan.running_s, "s"),
        "left": range(plan.left_s(evening), "s"),
        "left_share": range(plan.left_share(evening), "ratio"),
        "sure_runs": plan.sure_runs(evening),
        "stops_at_loaded_v": plan.stops_early.map(|stop| nine_digits(stop.loaded_v)),
        "share_above_stop": share.map(|share| json!({
            "low_ratio": nine_digits(share.low),
            "middle_ratio": nine_digits(share.middle),
            "high_ratio": nine_digits(share.high),
            "widened_by": share.widening,
            "replayed": held(Some(share.held)),
        })),
        "cost_per_run_low": cost.map(|cost| nine_digits(cost.low)),
        "cost_per_run_middle": cost.and_then(|cost| cost.middle).map(nine_digits),
        "cost_per_run_high": cost.and_then(|cost| cost.high).map(nine_digits),
        "dim": plan.is_dim,
    })
}
