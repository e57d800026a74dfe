//! A build's current from its battery, and the dangers of its circuit to people and parts, from the sheet alone.

use super::Sheet;
use super::drive::WhyNone;
use crate::battery::charge::Load;
use crate::battery::plan::{Current, Supply};
use crate::circuit::hazards::Hazards;
use crate::circuit::outlook::descent;
use crate::circuit::supply::SupplyCurrent;
use crate::circuit::verdict::{JudgeError, Judged, State, judged};
use crate::circuit::wiring::CircuitSpec;
use crate::coil::predict::{PredictError, predict};
use crate::coil::prediction::Prediction;

/// No supply current.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SupplyError {
    /// The coil has no prediction.
    #[error(transparent)]
    Coil(#[from] PredictError),
    /// The circuit with that coil draws no known current.
    #[error("supply current of {build}: not predicted, {why}")]
    Circuit {
        /// The build's name.
        build: String,
        /// Why.
        why: NoCurrent,
    },
}

/// Why a circuit draws no known current.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NoCurrent {
    /// There is no circuit to compute.
    #[error(transparent)]
    NoCircuit(#[from] WhyNone),
    /// A set of parts can't be computed.
    #[error(transparent)]
    NotComputed(#[from] JudgeError),
    /// No set of parts oscillates.
    #[error("its circuit does not oscillate with any parts")]
    Dead,
    /// Typical parts do not oscillate.
    #[error("its circuit does not oscillate with typical parts")]
    TypicalDead,
}

/// A build's current, predicted over those sets of parts that oscillate.
#[derive(Debug, Clone)]
pub struct PredictedSupply {
    /// The current, and down to which voltage it is drawn.
    pub supply: Supply,
    /// How many of the worst, typical and best set of parts do not oscillate and are left out.
    pub dead_sets: usize,
    /// How many of those that do run weakly.
    pub weak_sets: usize,
    /// The dangers of the circuit to people and parts.
    pub hazards: Hazards,
}

impl Sheet {
    /// The coil as predicted.
    ///
    /// # Errors
    /// [`PredictError`] where the model has no solution and nothing measured takes its place.
    pub fn prediction(&self) -> Result<Prediction, PredictError> {
        predict(&self.coil_spec())
    }

    fn no_current(&self, why: impl Into<NoCurrent>) -> SupplyError {
        SupplyError::Circuit {
            build: self.name.clone(),
            why: why.into(),
        }
    }

    /// The supply current over those sets of parts that oscillate.
    ///
    /// # Errors
    /// [`SupplyError`] where none is predicted.
    pub fn predicted_supply(&self) -> Result<PredictedSupply, SupplyError> {
        let sets = self
            .circuit_sets(&self.prediction()?)
            .map_err(|why| self.no_current(why))?;
        let judged = judged(&sets.specs).map_err(|error| self.no_current(error))?;
        let drawn = SupplyCurrent::of(&judged).ok_or_else(|| self.no_current(NoCurrent::Dead))?;
        let [_, typical, _] = &judged;
        let descent = descent(typical).map_err(|error| self.no_current(JudgeError::from(error)))?;
        let last = descent.points.last();
        Ok(PredictedSupply {
            supply: Supply::Predicted {
                current: Current {
                    low_a: drawn.low_a,
                    middle_a: drawn.middle_a(),
                    high_a: drawn.high_a,
                },
                open_v: self.battery.nominal_v(),
                keeps_running_v: descent.keeps_running_v,
                loaded_ratio: last.map_or(1.0, |last| last.running.battery_v / last.open_v),
            },
            dead_sets: judged.len() - drawn.oscillate,
            weak_sets: drawn.weak,
            hazards: self.hazards_judged(&judged),
        })
    }

    /// The voltage under load at which the circuit is predicted to stop, in volts; `None` where its typical parts do not run fully.
    ///
    /// # Errors
    /// [`SupplyError`] where it can't be predicted.
    pub fn stop_v(&self) -> Result<Option<f64>, SupplyError> {
        let stop = self.predicted_supply()?.supply.stop();
        Ok(stop.map(|stop| stop.loaded_v))
    }

    /// The load that the circuit, its typical parts running, is predicted to be.
    ///
    /// It is taken as a resistance: the predicted current falls with the voltage about as fast as the voltage itself (chosen).
    ///
    /// # Errors
    /// [`SupplyError`] where no current is predicted.
    pub fn predicted_load(&self) -> Result<Load, SupplyError> {
        let sets = self
            .circuit_sets(&self.prediction()?)
            .map_err(|why| self.no_current(why))?;
        let [_, typical, _] = &sets.specs;
        let judged = Judged::of(typical).map_err(|error| self.no_current(error))?;
        let runs = match judged.state {
            State::Full | State::Weak => judged.switched_on,
            State::FullOnceRunning => judged.running_start,
            State::Dead => None,
        };
        runs.filter(|running| running.supply_a > 0.0)
            .map(|running| Load::Resistance(running.battery_v / running.supply_a))
            .ok_or_else(|| self.no_current(NoCurrent::TypicalDead))
    }

    /// Returns the hazards of the circuit over its parts, with the primary the way that works. The build has it so once its wires
    /// are right. It is `None` where the circuit can't be computed.
    pub fn hazards_of(&self, specs: &[CircuitSpec; 3]) -> Option<Hazards> {
        let working = specs.map(|mut spec| {
            spec.resonator.coupling = spec.resonator.coupling.abs();
            spec
        });
        Some(self.hazards_judged(&judged(&working).ok()?))
    }

    /// The same from the sheet alone.
    pub fn hazards(&self) -> Option<Hazards> {
        let sets = self.circuit_sets(&self.prediction().ok()?).ok()?;
        self.hazards_of(&sets.specs)
    }

    fn hazards_judged(&self, judged: &[Judged; 3]) -> Hazards {
        let sink_k_per_w = self.known.heat_sink_k_per_w;
        Hazards::of(judged, self.circuit.transistor, sink_k_per_w)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet;

    #[test]
    fn the_sample_build_is_taken_as_the_resistance_that_its_circuit_is() {
        let sheet = sheet::parse(include_str!("../../sample-data/glow-pillar.toml")).unwrap();
        let Ok(Load::Resistance(ohm)) = sheet.predicted_load() else {
            panic!("the sample build runs");
        };
        // Regression of our own computation, 397 mA at 7.81 V: no outside value.
        assert!((ohm / 19.68 - 1.0).abs() < 0.01, "{ohm}");
    }
}
