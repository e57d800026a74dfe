//! The modelled pushing of a session's build, over the voltages that were read.

use crate::analysis::compare::{Comparison, Traces};
use crate::analysis::pushing::{Modelled, reach_v};
use crate::circuit::outlook::descent;
use crate::circuit::pushing::{Curve, Descent};
use crate::circuit::verdict::Judged;
use crate::circuit::wiring::CircuitSpec;
use crate::sheet::Sheet;

/// Returns the pushing by the circuit's model; `None` without a sheet, or where no pushing was measured.
///
/// A failed computation is stated beside the measured pushing, which needs no model.
pub(super) fn modelled(
    sheet: Option<&Sheet>,
    comparison: &Comparison,
    traces: &Traces,
) -> Option<Modelled> {
    let read_v = reach_v(traces, comparison)?;
    let (low_v, high_v) = (read_v.low, read_v.high);
    let mut sheet = sheet?.clone();
    let longest = comparison.stretches.get(comparison.longest);
    sheet.earth = longest
        .and_then(|one| one.stretch.earth)
        .unwrap_or(sheet.earth);
    let not_computed = |reason: String| Some(Modelled::NotComputed { reason });
    let prediction = match sheet.prediction() {
        Ok(prediction) => prediction,
        Err(error) => return not_computed(error.to_string()),
    };
    let sets = match sheet.circuit_sets(&prediction) {
        Ok(sets) => sets,
        Err(why) => return not_computed(why.to_string()),
    };
    let [_, typical, _] = &sets.specs;
    Some(match Curve::of(typical, low_v, high_v) {
        Ok(Some(read)) => {
            let descent = predicted(typical);
            Modelled::Curve {
                read,
                predicted: descent.as_ref().and_then(Curve::usual),
                ceases: descent.and_then(|descent| descent.ceases()),
            }
        }
        Ok(None) => Modelled::NotRunning {
            low_v,
            high_v,
            ceases: predicted(typical).and_then(|descent| descent.ceases()),
        },
        Err(error) => return not_computed(error.to_string()),
    })
}

/// The descent that a prediction of the build has, so that its figures stand beside the measured ones.
fn predicted(typical: &CircuitSpec) -> Option<Descent> {
    let judged = Judged::of(typical).ok()?;
    descent(&judged).ok()
}
