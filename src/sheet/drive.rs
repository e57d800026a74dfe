//! The sheet's circuit with its coil as predicted: worst, typical and best set of parts.

use crate::circuit::practice::PartSet;
use crate::circuit::practice::Spread;
use crate::circuit::shown::{LIT_SPEED, LeastSpeed};
use crate::circuit::wiring::{CircuitSpec, PrimaryCoil, Resonator, Supply};
use crate::coil::prediction::{Origin, Prediction};
use crate::coil::winding::CollectorEnd;

use super::Sheet;
use super::assumed::{Assumed, Assumption};
use super::known::Shown;

/// A computed coupling over its spread: how far the primary may sit from where the sheet has it (chosen).
const COUPLING_SPREAD: [f64; 3] = [0.9, 1.0, 1.1];

/// Why a build has no circuit: only a coil whose rings the model computes is known from its foot, where the circuit is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the coil as the circuit sees it is not known")]
pub struct WhyNone;

/// A build's circuit over the spread of its parts.
#[derive(Debug, Clone, PartialEq)]
pub struct CircuitSets {
    /// Worst, typical and best for starting.
    pub specs: [CircuitSpec; 3],
    /// The circuit with each set of parts that practice leaves of its class. Each set is as probable as every other; the primary
    /// is as the typical circuit has it.
    pub drawn: Vec<CircuitSpec>,
    /// The assumptions beside the sheet and the coil's prediction.
    pub assumptions: Vec<Assumption>,
    /// The least speed of the transistor, since the build is known to start. It is computed with the best of all else, so that it
    /// holds whatever the parts.
    pub shown: Option<LeastSpeed>,
}

impl Sheet {
    /// The circuit with the coil as predicted from this sheet.
    ///
    /// # Errors
    /// [`WhyNone`] where the coil is not known as a circuit sees it.
    pub fn circuit_sets(&self, prediction: &Prediction) -> Result<CircuitSets, WhyNone> {
        let foot = prediction.at_foot.ok_or(WhyNone)?;
        let primary_h = prediction.primary_inductance_h.ok_or(WhyNone)?.value;
        let mut assumed = Assumed::default();
        let supply = self.supply(&mut assumed);
        let primary = PrimaryCoil {
            henry: primary_h,
            ohm: 0.05,
        };
        assumed.note("circuit", "50 mΩ in the primary; wiring of 5 to 10 pF");
        let measured =
            prediction.coupling.map(|coupling| coupling.origin) == Some(Origin::Measured);
        let couplings = if measured {
            [1.0; 3]
        } else {
            assumed.note("coupling", "within 10 % for where the primary really sits");
            COUPLING_SPREAD
        };
        let class = self.circuit.transistor;
        let own = Spread::ALL.map(|spread| class.part_set(spread));
        self.note_qualities(prediction, &own, &mut assumed);
        let sign = self.polarity();
        let with = |share: f64, set: &PartSet| {
            let resonator = Resonator {
                henry: foot.inductance_h,
                farad: foot.capacitance_f,
                q: self.quality(prediction, set),
                // Above 1 no pair of windings is coupled.
                coupling: sign * (foot.coupling * share).min(0.99),
                foot_to_top: foot.top_factor,
                load: None,
            };
            self.circuit.spec(set, supply, primary, resonator)
        };
        let [worst, typical, best] = &own;
        let [low, middle, high] = couplings;
        let specs = [with(low, worst), with(middle, typical), with(high, best)];
        let (specs, shown) = self.as_shown(specs, &mut assumed);
        let sets = class.part_sets().iter();
        let drawn = sets.map(|set| {
            let spec = self.at_least(&with(middle, set));
            shown.map_or(spec, |least| least.to(&spec))
        });
        let drawn = drawn.collect();
        Ok(CircuitSets {
            specs,
            drawn,
            assumptions: assumed.0,
            shown,
        })
    }

    /// Returns the sets with transistors as fast as the known facts ask for. A set that cannot be computed stays as it is: the
    /// later verdict says why.
    fn as_shown(
        &self,
        mut specs: [CircuitSpec; 3],
        assumed: &mut Assumed,
    ) -> ([CircuitSpec; 3], Option<LeastSpeed>) {
        specs = specs.map(|spec| self.at_least(&spec));
        let times = match self.known.starts {
            None => return (specs, None),
            Some(Shown::Dark) => 1.0,
            Some(Shown::Lit) => LIT_SPEED,
        };
        let least = |spec: &CircuitSpec| LeastSpeed::of(spec, times).ok().flatten();
        let [_, _, best] = &specs;
        let shown = least(best);
        if shown.is_none() {
            assumed.note(
                "circuit.starts",
                "not used: as the sheet has it no transistor is fast enough; look at the senses",
            );
        }
        let raised = specs.map(|spec| least(&spec).map_or(spec, |least| least.to(&spec)));
        (raised, shown)
    }

    /// A circuit with a transistor as fast as this one is known to be at least.
    fn at_least(&self, spec: &CircuitSpec) -> CircuitSpec {
        self.known.least_transition_hz.map_or(*spec, |least_hz| {
            LeastSpeed::applied(spec, least_hz).unwrap_or(*spec)
        })
    }

    fn supply(&self, assumed: &mut Assumed) -> Supply {
        let usual = Supply::USUAL;
        let series = f64::from(self.battery.series);
        let battery_ohm = self.battery.resistance_ohm.unwrap_or_else(|| {
            assumed.note("battery.resistance", "3 Ω for each battery");
            usual.battery_ohm
        });
        let lead_h = self.measured.lead_inductance_h.unwrap_or_else(|| {
            assumed.note("measured.lead_inductance", "200 nH in the battery's leads");
            usual.lead_h
        });
        Supply {
            open_v: self.battery.nominal_v(),
            battery_ohm: series * battery_ohm,
            lead_h,
            ..usual
        }
    }

    /// Returns the coil's Q with a set of parts: as measured, or the share that former, enamel and surroundings leave of the
    /// copper's.
    fn quality(&self, prediction: &Prediction, set: &PartSet) -> f64 {
        let copper = prediction.q.map_or(f64::INFINITY, |q| q.value);
        self.measured.q.unwrap_or_else(|| set.q.min(copper))
    }

    /// Lists the coil's Q where it was not measured.
    fn note_qualities(&self, prediction: &Prediction, own: &[PartSet; 3], assumed: &mut Assumed) {
        if self.measured.q.is_some() {
            return;
        }
        let [worst, typical, best] = own.map(|set| self.quality(prediction, &set));
        assumed.note(
            "Q",
            format!(
                "{worst:.0}, {typical:.0}, {best:.0} for the worst, typical and best set, weighed by builds that run (common \
                 practice, no source)"
            ),
        );
    }

    /// Returns 1 where the collector's current drives the base on, -1 where it drives it off.
    fn polarity(&self) -> f64 {
        let same = self.winding.sense == self.primary.sense;
        let top_side = self.primary.collector_end == CollectorEnd::TopSide;
        if same == top_side { 1.0 } else { -1.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coil::predict::predict;
    use crate::coil::winding::Sense;
    use crate::sheet;

    fn sets(sheet: &Sheet) -> CircuitSets {
        let prediction = predict(&sheet.coil_spec()).unwrap();
        sheet.circuit_sets(&prediction).unwrap()
    }

    /// The sheet's measured values are those of the reference circuit.
    #[test]
    fn measured_values_reach_the_circuit_unchanged() {
        let text = include_str!("../../sample-data/glow-pillar-measured.toml");
        let sets = sets(&sheet::parse(text).unwrap());
        for spec in sets.specs {
            let near = |got: f64, expected: f64| {
                assert!((got / expected - 1.0).abs() < 1e-9, "{got}, not {expected}");
            };
            near(spec.resonator.henry, 300e-6);
            near(spec.resonator.farad, 7e-12);
            near(spec.resonator.coupling, 0.2);
            near(spec.resonator.q, 100.0);
            near(spec.resonator.foot_to_top, 1.0);
            near(spec.primary.henry, 0.6e-6);
            near(spec.bias_ohm, 22e3);
            assert_eq!(spec.supply, Supply::USUAL);
        }
    }

    #[test]
    fn turning_the_primary_round_or_swapping_its_ends_turns_the_coupling_round_and_both_do_not() {
        let text = include_str!("../../sample-data/glow-pillar.toml");
        let mut sheet = sheet::parse(text).unwrap();
        let sign = |sheet: &Sheet| sheet.polarity();
        assert!(sign(&sheet) > 0.0);
        sheet.primary.sense = Sense::Left;
        assert!(sign(&sheet) < 0.0);
        sheet.primary.collector_end = CollectorEnd::FootSide;
        assert!(sign(&sheet) > 0.0);
        assert!(sets(&sheet).specs[0].resonator.coupling > 0.0);
    }
}
