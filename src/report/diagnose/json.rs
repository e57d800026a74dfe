//! A diagnosis as JSON.

use serde_json::{Value, json};

use crate::diagnosis::advice;
use crate::diagnosis::answer::{Belief, Cause};
use crate::diagnosis::evidence::Observation;
use crate::diagnosis::quantity::Reading;
use crate::diagnosis::session::{Finding, Meaning, Thresholds};

use super::told::Told;
use crate::report::digits::nine_digits;
use crate::report::hazards;

/// Causes listed one by one.
const LISTED: usize = 20;

/// A diagnosis of schema 1, ended by a line end.
pub fn json(told: &Told<'_>) -> String {
    let answer = told.answer;
    let causes: Vec<Value> = answer
        .causes
        .iter()
        .take(LISTED)
        .map(|one| cause(one, told))
        .collect();
    let groups: Vec<Value> = answer
        .groups
        .iter()
        .filter(|group| group.probability >= 1e-3)
        .map(|group| {
            let members: Vec<&str> = group
                .members
                .iter()
                .filter_map(|&member| Some(answer.causes.get(member)?.fault.key))
                .collect();
            json!({
                "probability": nine_digits(group.probability),
                "belief": Belief::of(group.probability).word(),
                "causes": members,
            })
        })
        .collect();
    let next: Vec<Value> = answer
        .next
        .iter()
        .map(|one| {
            json!({
                "check": one.check.key,
                "words": one.check.words,
                "how": one.check.how,
                "caution": (!one.check.caution.is_empty()).then_some(one.check.caution),
                "gain_bits": nine_digits(one.gain_bits),
                "trouble": one.check.trouble,
            })
        })
        .collect();
    let document = json!({
        "schema": 1,
        "build": told.build,
        "sheet_has_primary_reversed": told.is_reversed,
        "starts_with_typical_parts": told.starts,
        "readings": told.evidence.observations.iter().map(reading).collect::<Vec<_>>(),
        "clashes": told.evidence.clashes(),
        "findings": told.concerns().iter().map(hazards::concern_json).collect::<Vec<_>>(),
        "hazards": told.hazards.map(hazards::json),
        "battery_of_session": told.other_battery,
        "supply_step_v": told.evidence.supply_step_v.map(nine_digits),
        "run": told.run.map(|(findings, thresholds)| run(findings, *thresholds)),
        "frequency_read_as_multiple": answer.multiple.map(|one| json!({
            "times": one.times,
            "probability": nine_digits(one.probability),
        })),
        "switch_off": answer.danger.as_ref().map(hazards::switch_off),
        "asks_whether_it_ran_before": told.evidence.asks_history(),
        "put_primary_wires_back": advice::is_to_put_back(told.evidence),
        "groups": groups,
        "causes": causes,
        "next": next,
    });
    format!("{document:#}\n")
}

fn cause(cause: &Cause, told: &Told<'_>) -> Value {
    let support: Vec<Value> = cause
        .support
        .iter()
        .map(|one| {
            json!({
                "quantity": one.observation.quantity.form().key,
                "situation": one.observation.situation.key(),
                "bits": nine_digits(one.bits),
            })
        })
        .collect();
    json!({
        "cause": cause.fault.key,
        "words": told.words(cause),
        "cure": told.advice(cause),
        "probability": nine_digits(cause.probability),
        "prior": nine_digits(cause.prior),
        "support": support,
    })
}

fn run(findings: &[Finding], thresholds: Thresholds) -> Value {
    let findings: Vec<Value> = findings
        .iter()
        .map(|finding| match *finding {
            Finding::Stopped {
                at_s,
                row,
                battery_v,
                back,
                flickers,
                meaning,
            } => json!({
                "what": "stopped",
                "at_s": at_s,
                "row": row,
                "battery_v": battery_v,
                "back_s": back.map(|(at_s, _)| at_s),
                "back_battery_v": back.and_then(|(_, volt)| volt),
                "flickers": flickers,
                "meaning": match meaning {
                    Meaning::NotTheVoltage => "not-the-voltage",
                    Meaning::TheVoltage => "the-voltage",
                    Meaning::RanOnBelow => "ran-on-below",
                    Meaning::SwitchedOff => "switched-off",
                    Meaning::Unknown => "unknown",
                },
            }),
            Finding::Jumped {
                at_s,
                ratio,
                is_of_supply,
                supply_step_v,
            } => json!({
                "what": "jumped",
                "at_s": at_s,
                "frequency_ratio": nine_digits(ratio),
                "is_of_supply": is_of_supply,
                "supply_step_v": supply_step_v.map(nine_digits),
            }),
            Finding::Faded { ratio } => json!({
                "what": "faded",
                "amplitude_ratio": nine_digits(ratio),
            }),
            Finding::Sagged { from_v, to_v } => json!({
                "what": "sagged",
                "from_v": from_v,
                "to_v": to_v,
            }),
        })
        .collect();
    json!({
        "starts_v": thresholds.starts_v.map(nine_digits),
        "keeps_running_v": thresholds.keeps_running_v.map(nine_digits),
        "findings": findings,
    })
}

fn reading(seen: &Observation) -> Value {
    let (value, tolerance, word) = match seen.reading {
        Reading::Value { value, tolerance } => (Some(value), tolerance, None),
        Reading::Seen(seen) => (None, None, Some(seen.word())),
    };
    json!({
        "quantity": seen.quantity.form().key,
        "situation": seen.situation.key(),
        "value_si": value.map(nine_digits),
        "tolerance_si": tolerance.map(nine_digits),
        "word": word,
    })
}
