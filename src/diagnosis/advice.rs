//! What to do about a cause, given what was tried already.

use super::build::Lack;
use super::evidence::Evidence;
use super::fault::{Family, Fault};
use super::quantity::{Quantity, Reading, Seen};
use super::situation::Situation;

/// A current after the swap over that before it from which the circuit runs now (chosen: a full state takes several times its bias).
const RUNS_RATIO: f64 = 2.0;

/// What to do about a build as drawn whose readings or figures are not to be left alone.
pub const NOT_ALONE: &str = "it seems built as drawn, and it is not to be left on as it is: power off, and see to what stands above";

/// A cause in words: a build that can't start as drawn, or that is hot or takes too much, is not as it should be.
pub fn words(fault: &Fault, is_design_dead: bool, is_of_concern: bool) -> &'static str {
    if fault.family == Family::Sound && is_design_dead {
        "the design itself: as drawn, without any fault, it does not start"
    } else if fault.family == Family::Sound && is_of_concern {
        "none of the faults known here: it seems built as drawn, but that does not make its readings right"
    } else {
        fault.words
    }
}

/// What to do about a design that can't start: what decides, by its computed margins.
pub fn design(lacks: &[Lack]) -> String {
    let words: Vec<String> = lacks
        .iter()
        .map(|lack| format!("{:.2} times {}", lack.times, lack.words))
        .collect();
    if words.is_empty() {
        return "change the design: no single quantity starts it; sagtrace predict says what it lacks".to_owned();
    }
    format!(
        "change the design: it just starts with {}; sagtrace predict says more",
        words.join(", or ")
    )
}

/// What to do about a fault: its cure, unless that was tried.
pub fn advice(fault: &Fault, evidence: &Evidence) -> &'static str {
    let swapped = |seen: &super::evidence::Observation| seen.situation == Situation::LeadsSwapped;
    if fault.key != "primary-reversed" || !evidence.observations.iter().any(swapped) {
        return fault.cure;
    }
    if runs_swapped(evidence) {
        "leave the two primary wires as they are now, swapped"
    } else {
        "the two wires are swapped already and it did not help; a lit LED may be too faint to see, so the current and a neon \
         tell whether it runs now: if not, back as they were and on to the next cause"
    }
}

/// Whether what was read with the wires swapped says that it runs so.
fn runs_swapped(evidence: &Evidence) -> bool {
    let of = |situation, quantity| evidence.reading(situation, quantity);
    let swapped = |quantity| of(Situation::LeadsSwapped, quantity);
    let seen = |quantity, words: [Seen; 2]| matches!(swapped(quantity), Some(Reading::Seen(word)) if words.contains(&word));
    let current = |situation| match of(situation, Quantity::Current) {
        Some(Reading::Value { value, .. }) => Some(value),
        _ => None,
    };
    let draws_more = || {
        let (now, before) = (
            current(Situation::LeadsSwapped),
            current(Situation::AsFound),
        );
        now.zip(before)
            .is_some_and(|(now, before)| now > RUNS_RATIO * before)
    };
    seen(Quantity::Led, [Seen::Lit, Seen::Faint])
        || seen(Quantity::Lamp, [Seen::Near, Seen::Touching])
        || matches!(swapped(Quantity::Frequency), Some(Reading::Value { .. }))
        || draws_more()
}
