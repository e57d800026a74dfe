//! A diagnosis as JSON.

use serde_json::{Value, json};

use crate::diagnosis::answer::{Belief, Cause};
use crate::diagnosis::evidence::Observation;
use crate::diagnosis::quantity::Reading;

use super::diagnose::Told;
use super::digits::nine_digits;

/// Causes listed one by one.
const LISTED: usize = 20;

/// A diagnosis of schema 1, ended by a line end.
pub fn json(told: &Told<'_>) -> String {
    let answer = told.answer;
    let causes: Vec<Value> = answer.causes.iter().take(LISTED).map(cause).collect();
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
        "groups": groups,
        "causes": causes,
        "next": next,
    });
    format!("{document:#}\n")
}

fn cause(cause: &Cause) -> Value {
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
        "words": cause.fault.words,
        "cure": cause.fault.cure,
        "probability": nine_digits(cause.probability),
        "prior": nine_digits(cause.prior),
        "support": support,
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
