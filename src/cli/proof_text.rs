//! What `record --dry-run` found, for people and for programs.

use serde_json::{Value, json};

use super::prove::{Heard, Proof};
use crate::units::{self, Unit};

/// The median and the largest.
fn median_and_worst(times_s: &[f64]) -> Option<(f64, f64)> {
    let mut sorted = times_s.to_vec();
    sorted.sort_by(f64::total_cmp);
    let (middle, worst) = (sorted.get(sorted.len() / 2)?, sorted.last()?);
    Some((*middle, *worst))
}

pub(super) fn text(proofs: &[Proof]) -> String {
    let mut lines = Vec::new();
    for proof in proofs {
        lines.push(format!(
            "{} by {} at {}",
            proof.label, proof.profile, proof.place
        ));
        if let Some(identity) = &proof.identity {
            lines.push(format!("  identity     {identity}"));
        }
        for heard in &proof.heard {
            lines.extend(heard_lines(heard));
        }
        if let Some((median_s, worst_s)) = median_and_worst(&proof.round_trips_s) {
            let time = |time_s| units::rounded(time_s, Unit::Second, 3);
            lines.push(format!(
                "  round trip   median {}, worst {}, of {} questions",
                time(median_s),
                time(worst_s),
                proof.round_trips_s.len()
            ));
        }
        if let Some(rate) = proof.rows_per_s {
            let digits = if rate >= 100.0 { 0 } else { 2 };
            lines.push(match proof.every_s {
                Some(every_s) => format!(
                    "  rows         up to {rate:.digits$} a second can be asked for; asked is one every {}",
                    units::exact(every_s, Unit::Second)
                ),
                None => format!("  rows         {rate:.digits$} a second came"),
            });
        }
        lines.extend(
            proof
                .notes
                .iter()
                .map(|note| format!("  note         {note}")),
        );
        lines.extend(
            proof
                .faults
                .iter()
                .map(|fault| format!("  wrong        {fault}")),
        );
        if proof.faults.is_empty() {
            lines.push("  the profile fits".to_owned());
        }
    }
    lines.join("\n") + "\n"
}

fn heard_lines(heard: &Heard) -> Vec<String> {
    let first = match (&heard.question, heard.round_trip_s) {
        (Some(question), Some(time_s)) => format!(
            "  asked        {question}: {} in {}",
            heard.text,
            units::rounded(time_s, Unit::Second, 3)
        ),
        _ => format!("  heard        {}", heard.text),
    };
    let value = |(channel, field, value): &(crate::reading::Channel, String, Option<f64>)| {
        let read = value.map_or_else(
            || "no number".to_owned(),
            |value| units::exact(value, channel.unit()),
        );
        format!("               {} ({field}) is {read}", channel.column())
    };
    std::iter::once(first)
        .chain(heard.values.iter().map(value))
        .collect()
}

pub(super) fn json(proofs: &[Proof]) -> Value {
    let heard = |heard: &Heard| {
        let values: Vec<Value> = heard
            .values
            .iter()
            .map(|(channel, field, value)| {
                json!({"channel": channel.column(), "field": field, "value_si": value})
            })
            .collect();
        json!({
            "question": heard.question,
            "text": heard.text,
            "round_trip_s": heard.round_trip_s,
            "values": values,
        })
    };
    let instruments: Vec<Value> = proofs
        .iter()
        .map(|proof| {
            let times = median_and_worst(&proof.round_trips_s);
            json!({
                "label": proof.label,
                "profile": proof.profile,
                "place": proof.place,
                "identity": proof.identity,
                "heard": proof.heard.iter().map(heard).collect::<Vec<_>>(),
                "round_trip_median_s": times.map(|(median_s, _)| median_s),
                "round_trip_worst_s": times.map(|(_, worst_s)| worst_s),
                "rows_per_s": proof.rows_per_s,
                "every_s": proof.every_s,
                "notes": proof.notes,
                "faults": proof.faults,
            })
        })
        .collect();
    json!({"schema": 1, "instruments": instruments})
}
