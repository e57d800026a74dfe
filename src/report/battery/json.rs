//! Batteries for other programs.

use serde_json::{Value, json};

use crate::battery::finished::Start;
use crate::battery::forecast::TimeLeft;
use crate::battery::kind::Kind;
use crate::battery::logbook::{Entry, Logbook};
use crate::battery::outlook::{Basis, Outlook};
use crate::battery::question::Claim;
use crate::report::digits::nine_digits;

/// All batteries.
pub fn list(books: &[Logbook]) -> Value {
    json!({ "schema": 1, "batteries": books.iter().map(book).collect::<Vec<_>>() })
}

/// One battery with the outlook of its last run.
pub fn one(logbook: &Logbook, looked: Option<&Outlook>) -> Value {
    json!({ "schema": 1, "battery": book(logbook), "outlook": looked.map(outlook) })
}

fn book(book: &Logbook) -> Value {
    let is_primary = book.kind().is_some_and(Kind::is_primary);
    let next = book.next_run_s().filter(|_| !is_primary).map(|(low_s, middle_s, high_s)| {
        json!({ "low_s": nine_digits(low_s), "middle_s": nine_digits(middle_s), "high_s": nine_digits(high_s) })
    });
    json!({
        "label": book.battery,
        "simulated": book.is_simulated,
        "kind": book.kind().map(Kind::name),
        "next_full_run": next,
        "lasts_at_least_s": book.lower_bound_s().map(nine_digits),
        "charge_trend": book.charge_trend().map(nine_digits),
        "resistance_trend": book.resistance_trend().map(nine_digits),
        "is_due": book.due().is_some(),
        "sessions": book.entries.iter().map(entry).collect::<Vec<_>>(),
    })
}

fn entry(entry: &Entry) -> Value {
    let number = |value: Option<f64>| value.map(nine_digits);
    json!({
        "folder": entry.folder,
        "started": entry.started,
        "start": if entry.start == Start::Full { "full" } else { "unknown" },
        "simulated": entry.simulated,
        "closed": entry.closed,
        "end_v": entry.end_v,
        "running_s": nine_digits(entry.running_s),
        "end_reached_s": number(entry.reached_s),
        "coil_stopped_s": number(entry.stopped.map(|(running_s, _)| running_s)),
        "coil_stopped_v": number(entry.stopped.map(|(_, volts_v)| volts_v)),
        "build": entry.build,
        "first_v": number(entry.first_v),
        "last_v": number(entry.last_v),
        "least_v": number(entry.least_v),
        "charge_ah": number(entry.charge_ah),
        "energy_wh": number(entry.energy_wh),
        "charge_and_energy_are_at_least": entry.missing_s > 0.0,
        "current_a": number(entry.current_a),
        "current_is_estimated": entry.estimated,
        "missing_s": nine_digits(entry.missing_s),
        "resistance_ohm": number(entry.resistance_ohm),
        "pulse_s": number(entry.pulse_s),
    })
}

fn outlook(looked: &Outlook) -> Value {
    let said = looked.said.as_ref().ok();
    let number = |value: Option<f64>| value.map(nine_digits);
    let curves = match looked.basis {
        Basis::Own(count) | Basis::SameKind(count) | Basis::Shipped(count, _) => count,
        Basis::Nothing => 0,
    };
    json!({
        "low_s": number(said.map(|said| said.low_s)),
        "middle_s": number(said.and_then(TimeLeft::middle_said_s)),
        "high_s": number(said.map(|said| said.high_s)),
        "elapsed_s": number(said.map(|said| said.elapsed_s)),
        "refused": looked.said.as_ref().err().map(ToString::to_string),
        "at_least_only": said.map(TimeLeft::is_too_wide),
        "until": looked.end.map(|end| end.until.word()),
        "until_v": number(looked.end.map(|end| end.volts_v)),
        "full_start_doubted": said.map(|said| said.claim == Claim::Disagrees),
        "full_start_believed": said.map(|said| said.claim == Claim::Agrees),
        "basis": looked.basis.word(),
        "curves": curves,
        "widened_by": looked.widening,
        "by_log_low_s": number(looked.by_log_s.map(|band| band.low)),
        "by_log_high_s": number(looked.by_log_s.map(|band| band.high)),
        "stepped_down_s": number(looked.stepped_s),
        "past_knee": looked.past_knee,
    })
}
