//! Advice on a cause, given the steps already tried.

use crate::diagnosis::evidence::Evidence;
use crate::diagnosis::fault::build::Lack;
use crate::diagnosis::fault::{Family, Fault, FaultId};
use crate::diagnosis::quantity::{Quantity, Reading, Seen};
use crate::diagnosis::situation::Situation;

/// A current after the swap over that before it from which the circuit runs now (chosen: a full state takes several times its
/// bias).
const RUNS_RATIO: f64 = 2.0;

/// The advice for a build as drawn whose readings or figures are not to be left alone.
pub const NOT_ALONE: &str = "it seems built as drawn, and it is not to be left on as it is: power off, and see to what stands above";

/// Returns a cause in words: a build that can't start as drawn, or that is hot or takes too much, is not as it should be.
pub fn words(fault: &Fault, is_design_dead: bool, is_of_concern: bool) -> &'static str {
    if fault.family == Family::Sound && is_design_dead {
        "the design itself: as drawn, without any fault, it does not start"
    } else if fault.family == Family::Sound && is_of_concern {
        "none of the faults known here: it seems built as drawn, but that does not make its readings right"
    } else {
        fault.words
    }
}

/// Returns the advice for a design that can't start: the deciding quantities, by its computed margins.
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

/// Whether leaving a build with that fault switched on does damage: its cure begins with switching off.
pub const fn is_urgent(fault: FaultId) -> bool {
    matches!(
        fault,
        FaultId::DiodeReversed
            | FaultId::DiodeOpen
            | FaultId::BatteryOneReversed
            | FaultId::BatteryReversed
    )
}

/// Returns the advice for a fault: its cure, unless that was tried.
pub fn advice(fault: &Fault, evidence: &Evidence) -> &'static str {
    let swapped =
        |seen: &crate::diagnosis::evidence::Observation| seen.situation == Situation::LeadsSwapped;
    if fault.id != FaultId::PrimaryReversed || !evidence.observations.iter().any(swapped) {
        return fault.cure;
    }
    if runs_in(evidence, Situation::LeadsSwapped) {
        "leave the two primary wires as they are now, swapped"
    } else if evidence.steps.is_put_back {
        "the two wires were swapped and it did not help: go on to the next cause"
    } else {
        "the two wires were swapped and it did not help: put them back as they were and go on to the next cause"
    }
}

/// Whether the primary's wires were swapped in vain and are still to be put back. The readings with them swapped say that the
/// circuit does not run so, and none says that it does.
pub fn is_to_put_back(evidence: &Evidence) -> bool {
    let is = |quantity, seen| {
        evidence.reading(Situation::LeadsSwapped, quantity) == Some(Reading::Seen(seen))
    };
    let stands_still = is(Quantity::Led, Seen::Dark)
        || is(Quantity::Lamp, Seen::Dark)
        || is(Quantity::Frequency, Seen::NoSignal);
    stands_still && !runs_in(evidence, Situation::LeadsSwapped) && !evidence.steps.is_put_back
}

/// Whether the readings of a situation say that the circuit runs so.
pub fn runs_in(evidence: &Evidence, situation: Situation) -> bool {
    let of = |quantity| evidence.reading(situation, quantity);
    let seen = |quantity, words: &[Seen]| matches!(of(quantity), Some(Reading::Seen(word)) if words.contains(&word));
    let is_value = |quantity| matches!(of(quantity), Some(Reading::Value { .. }));
    let draws_more = || {
        let current = |situation| evidence.number(situation, Quantity::Current);
        let (now, before) = (current(situation), current(Situation::AsFound));
        now.zip(before)
            .is_some_and(|(now, before)| now > RUNS_RATIO * before)
    };
    seen(Quantity::Led, &[Seen::Lit, Seen::Faint, Seen::Blinking])
        || seen(Quantity::Lamp, &[Seen::Near, Seen::Touching])
        || is_value(Quantity::Frequency)
        || is_value(Quantity::FrequencyRatio)
        || draws_more()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnosis::fault::CATALOGUE;

    #[test]
    fn a_fault_is_urgent_where_its_cure_says_at_once() {
        for fault in CATALOGUE {
            let says = fault.cure.contains("off at once");
            assert_eq!(says, is_urgent(fault.id), "{}", fault.key);
        }
    }
}
