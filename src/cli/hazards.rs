//! What a sheet's own figures say of hazards, for every command that names them.

use super::predict;
use crate::circuit::hazards::Hazards;
use crate::circuit::verdict::judged;
use crate::circuit::wiring::CircuitSpec;
use crate::sheet::Sheet;

/// The hazards of a sheet's circuit over its parts, with the primary the way that works: that is what it comes to once its
/// wires are right. `None` where the circuit can't be computed.
pub(super) fn of_sets(sheet: &Sheet, specs: &[CircuitSpec; 3]) -> Option<Hazards> {
    let working = specs.map(|mut spec| {
        spec.resonator.coupling = spec.resonator.coupling.abs();
        spec
    });
    let judged = judged(&working).ok()?;
    let sink_k_per_w = sheet.known.heat_sink_k_per_w;
    Some(Hazards::of(&judged, sheet.circuit.transistor, sink_k_per_w))
}

/// The same from the sheet alone.
pub(super) fn of_sheet(sheet: &Sheet) -> Option<Hazards> {
    let prediction = predict::prediction(sheet).ok()?;
    of_sets(sheet, &sheet.circuit_sets(&prediction)?.specs)
}
