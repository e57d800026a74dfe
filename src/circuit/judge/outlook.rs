//! All that is computed of a build's circuit, in one.

use super::verdict::{JudgeError, Judged, State, Verdict, judged};
use crate::circuit::margin::Margins;
use crate::circuit::practice::Spread;
use crate::circuit::pushing::{Curve, Descent};
use crate::circuit::stepper::TransientError;
use crate::circuit::wiring::CircuitSpec;

/// The open voltages a running circuit is turned down through, as parts of the battery's (chosen: close where the pushing is
/// read).
const DOWN: [f64; 8] = [1.0, 0.9, 0.8, 0.7, 0.6, 0.4, 0.2, 0.1];

/// The expected behaviour of a build's circuit.
#[derive(Debug, Clone)]
pub struct Outlook {
    /// Whether it starts, over its parts.
    pub verdict: Verdict,
    /// The margins that the typical set has to spare.
    pub margins: Margins,
    /// The typical set as its battery drains; empty if it never runs fully.
    pub descent: Descent,
    /// The typical set's frequency over the voltage at the battery's clips; `None` where it does not run fully.
    pub pushing: Option<Curve>,
}

impl Outlook {
    /// Judges the worst, typical and best set of a build and looks into the typical one.
    ///
    /// # Errors
    /// [`JudgeError`] where a set can't be computed.
    pub fn of(specs: &[CircuitSpec; 3]) -> Result<Self, JudgeError> {
        let sets = judged(specs)?;
        let [_, typical, _] = &sets;
        let descent = descent(typical)?;
        Self::from_sets(specs, sets, descent)
    }

    /// Returns the same of a build whose sets are judged and whose typical set is followed down already.
    ///
    /// # Errors
    /// [`JudgeError`] where the rest can't be computed.
    pub fn from_sets(
        specs: &[CircuitSpec; 3],
        sets: [Judged; 3],
        descent: Descent,
    ) -> Result<Self, JudgeError> {
        let verdict = Verdict::from_sets(specs, sets)?;
        let typical = verdict.set(Spread::Typical);
        let margins = Margins::of(&typical.spec, &typical.rest)?;
        let pushing = Curve::usual(&descent);
        Ok(Self {
            verdict,
            margins,
            descent,
            pushing,
        })
    }
}

/// Returns a set as its battery drains; empty if it never runs fully.
///
/// # Errors
/// [`TransientError`] where it can't be followed.
pub fn descent(judged: &Judged) -> Result<Descent, TransientError> {
    if judged.state < State::FullOnceRunning {
        return Ok(Descent::default());
    }
    let open_v = judged.spec.supply.open_v;
    Descent::of(judged, &DOWN.map(|part| part * open_v))
}
