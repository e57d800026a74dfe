//! What was read that is not to be left as it is, whatever lights: heat, and more current than the build should take.

use super::evidence::Evidence;
use super::quantity::{Quantity, Reading, Seen};
use super::situation::Situation;
use crate::circuit::hazards::Hazards;

/// Current above which it is too much where the build's own is not known, in ampere (common practice, no source: what such
/// batteries and wires are made for).
const USUAL_MOST_A: f64 = 1.0;

/// A reading that is a finding of its own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Concern {
    /// The transistor was found hot.
    Hot {
        /// How the circuit stood.
        situation: Situation,
        /// What its case comes to in the model, in °C; `None` where nothing was computed.
        predicted_c: Option<f64>,
        /// Whether that burns.
        is_predicted: bool,
    },
    /// More supply current than the build takes with any set of parts.
    OverCurrent {
        /// How the circuit stood.
        situation: Situation,
        /// As read, in ampere.
        read_a: f64,
        /// The most that is predicted, in ampere; `None` where nothing was computed.
        most_a: Option<f64>,
    },
}

/// All that was read of this kind, in the order of the readings.
pub fn concerns(evidence: &Evidence, hazards: Option<&Hazards>) -> Vec<Concern> {
    let most_a = hazards.map(Hazards::most_a);
    let found = evidence.observations.iter().filter_map(|seen| {
        let situation = seen.situation;
        match (seen.quantity, seen.reading) {
            (Quantity::Heat, Reading::Seen(Seen::Hot)) => Some(Concern::Hot {
                situation,
                predicted_c: hazards.map(|hazards| hazards.hottest.case_c),
                is_predicted: hazards.is_some_and(|hazards| hazards.hottest.burns()),
            }),
            (Quantity::Current, Reading::Value { value, .. }) => {
                let is_more = value.abs() > most_a.unwrap_or(USUAL_MOST_A);
                is_more.then_some(Concern::OverCurrent {
                    situation,
                    read_a: value.abs(),
                    most_a,
                })
            }
            _ => None,
        }
    });
    found.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heat_and_a_large_current_count_whatever_lights_and_without_a_model() {
        let mut evidence = Evidence::default();
        let found = Situation::AsFound;
        evidence.add(found, Quantity::Led, Reading::Seen(Seen::Lit));
        assert_eq!(concerns(&evidence, None), []);
        evidence.add(found, Quantity::Heat, Reading::Seen(Seen::Hot));
        evidence.add(found, Quantity::Current, Reading::value(-1.2));
        let told = concerns(&evidence, None);
        assert!(matches!(
            told[..],
            [Concern::Hot { .. }, Concern::OverCurrent { read_a, .. }] if (read_a - 1.2).abs() < 1e-12
        ));
    }
}
