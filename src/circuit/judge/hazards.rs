//! Hazards of a build to people and to its own parts, by its own computed figures: a closed list, the gravest first.
//!
//! One set of parts is enough: a figure is the worst over the worst, typical and best set, weak and full runs, and the circuit
//! at rest. The figures are the model's; a build's own parts may lie outside those sets. A build without a hazard here is not
//! called safe: nothing but these is looked at.

use std::mem::discriminant;

use crate::limits::{PASCHEN_MINIMUM_V, contact_icnirp, contact_ieee};

use super::damage::{Damage, bias_resistor, damage, junction};
use super::supply::SupplyCurrent;
use super::verdict::Judged;
use crate::circuit::bias::Bias;
use crate::circuit::heat::{Case, Heat, TOUCH_C, sink_for_case_k_per_w, sink_needed_k_per_w};
use crate::circuit::parts::TransistorClass;
use crate::circuit::running::Running;
use crate::circuit::wiring::CircuitSpec;
use crate::units::Span;

/// Open battery above which arcs are mentioned, in volts: more than two nine-volt batteries, fresh.
pub const ARCS_ABOVE_V: f64 = 20.0;

/// Supplies tried for the standing measurements where the battery's own voltage makes too much heat, in volts (chosen: the
/// voltages of one to six ordinary cells, so that it needs no adjustable supply).
const LOWER_V: [f64; 4] = [9.0, 6.0, 4.5, 3.0];

/// The circuit's state meanwhile.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doing {
    /// Nothing oscillates.
    Standing,
    /// It oscillates, weakly or fully.
    Running,
}

/// Something that can hurt somebody or break a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Hazard {
    /// A part beyond its rating.
    Rating {
        /// Which, and by how much.
        damage: Damage,
        /// When.
        doing: Doing,
    },
    /// The transistor's case burns who touches it.
    Case {
        /// Temperatures once nothing changes any more.
        heat: Heat,
        /// When.
        doing: Doing,
        /// The largest heat sink's thermal resistance that keeps the case from burning, in K/W; `None` where none does.
        sink_k_per_w: Option<f64>,
    },
    /// Standing measurements at the battery's voltage make too much heat, or have too much voltage, to be made at leisure.
    Standing(Standing),
    /// Enough batteries in series for long arcs.
    Arcs {
        /// Open battery, in volts.
        open_v: f64,
        /// The most that the model has at the top, in volts; `None` where it has no set running.
        top_v: Option<f64>,
    },
    /// The top burns, disturbs implants and transmits.
    Top {
        /// The most at the top, half of its swing from peak to peak, in volts.
        top_v: f64,
        /// The current that goes to and fro in the coil then, amplitude, in amperes.
        circulating_a: f64,
        /// The published reference level for a touch at that frequency, for everybody, in amperes; `None` where none is known.
        touch_a: Option<f64>,
    },
}

impl Hazard {
    /// Whether it is the transistor's heat.
    pub const fn is_heat(&self) -> bool {
        matches!(
            self,
            Self::Case { .. }
                | Self::Rating {
                    damage: Damage::Junction { .. },
                    ..
                }
        )
    }
}

/// The circuit at rest, its foot off the base: a meter may be joined to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// The supply to measure at, in volts.
    pub supply_v: f64,
    /// Supply current there over the sets, least and most, in amperes.
    pub supply_a: Span,
    /// Base to minus, in volts.
    pub base_v: Span,
    /// Collector to minus, in volts.
    pub collector_v: Span,
    /// The transistor there, left on.
    pub heat: Heat,
    /// The battery's open voltage, in volts.
    pub battery_v: f64,
    /// The least that it would give at rest, in amperes.
    pub battery_low_a: f64,
    /// The most that it would give at rest, in amperes.
    pub battery_a: f64,
    /// The transistor at the battery's voltage, left on.
    pub battery_heat: Heat,
}

impl Standing {
    /// Whether the battery's voltage is too much to measure at.
    pub fn is_lowered(&self) -> bool {
        self.supply_v < self.battery_v
    }
}

/// All that a build's figures say of hazards.
#[derive(Debug, Clone, PartialEq)]
pub struct Hazards {
    /// The hazards, the gravest first.
    pub found: Vec<Hazard>,
    /// The transistor's class.
    pub class: TransistorClass,
    /// The standing measurements.
    pub standing: Standing,
    /// The hottest that the transistor comes to, running or at rest.
    pub hottest: Heat,
    /// The current that it draws while it oscillates; `None` where no set does.
    pub supply: Option<SupplyCurrent>,
}

impl Hazards {
    /// Returns the hazards of a build by its three sets, its transistor's class and the heat sink on that, in K/W.
    pub fn of(sets: &[Judged; 3], class: TransistorClass, sink_k_per_w: Option<f64>) -> Self {
        let case = class.case();
        let standing = standing(sets, class, &case, sink_k_per_w);
        let supply = SupplyCurrent::of(sets);
        let runs: Vec<(&Judged, &Running)> = sets.iter().flat_map(runs).collect();
        let heats = runs.iter().map(|(_, running)| {
            let heat = Heat::at(running.transistor_w, &case, sink_k_per_w);
            (heat, Doing::Running)
        });
        let at_rest = (standing.battery_heat, Doing::Standing);
        let (hottest, doing) = heats.fold(at_rest, |most, one| {
            if one.0.case_c > most.0.case_c {
                one
            } else {
                most
            }
        });
        let mut found = ratings(sets, &runs, class, (hottest, doing));
        if hottest.burns() {
            found.push(Hazard::Case {
                heat: hottest,
                doing,
                // One that leaves the inside beyond its rating is no help.
                sink_k_per_w: sink_for_case_k_per_w(hottest.power_w, TOUCH_C)
                    .filter(|_| sink_needed_k_per_w(hottest.power_w, &case, case.most_c).is_some()),
            });
        }
        let open_v = standing.battery_v;
        if standing.is_lowered() {
            found.push(Hazard::Standing(standing));
        }
        let top = top(&runs);
        if open_v > ARCS_ABOVE_V {
            let top_v = top.map(|(top_v, _, _)| top_v);
            found.push(Hazard::Arcs { open_v, top_v });
        }
        if let Some((top_v, circulating_a, frequency_hz)) = top {
            let touch_a = touch_a(frequency_hz);
            let burns = touch_a.is_some_and(|touch_a| circulating_a > touch_a);
            if burns || top_v > PASCHEN_MINIMUM_V {
                found.push(Hazard::Top {
                    top_v,
                    circulating_a,
                    touch_a,
                });
            }
        }
        Self {
            found,
            class,
            standing,
            hottest,
            supply,
        }
    }

    /// Returns the most that it is predicted to draw, oscillating or at rest, in amperes.
    pub fn most_a(&self) -> f64 {
        let running_a = self.supply.map_or(0.0, |supply| supply.high_a);
        running_a.max(self.standing.battery_a)
    }

    /// Returns the part that is asked the most beyond its rating.
    pub fn first_rating(&self) -> Option<&Damage> {
        self.found.iter().find_map(|hazard| match hazard {
            Hazard::Rating { damage, .. } => Some(damage),
            _ => None,
        })
    }
}

/// Returns the ways a set is known to run: switched on, and out of a running start.
fn runs(set: &Judged) -> impl Iterator<Item = (&Judged, &Running)> {
    let runs = [set.switched_on.as_ref(), set.running_start.as_ref()];
    runs.into_iter()
        .flatten()
        .map(move |running| (set, running))
}

/// Returns the parts beyond their ratings, each once at its worst, the one that is asked the most first.
fn ratings(
    sets: &[Judged; 3],
    runs: &[(&Judged, &Running)],
    class: TransistorClass,
    (hottest, doing): (Heat, Doing),
) -> Vec<Hazard> {
    let mut all: Vec<(Damage, Doing)> = Vec::new();
    for (_, running) in runs {
        let found = damage(running, &class.ratings());
        all.extend(found.into_iter().map(|one| (one, Doing::Running)));
    }
    for set in sets {
        let across_v = set.spec.supply.open_v - set.rest.bias.node_v(set.rest.wired.probes.base);
        let found = bias_resistor(across_v, set.spec.bias_ohm);
        all.extend(found.map(|one| (one, Doing::Standing)));
    }
    all.extend(junction(hottest).map(|one| (one, doing)));
    all.sort_by(|a, b| b.0.times_rated().total_cmp(&a.0.times_rated()));
    let mut found: Vec<(Damage, Doing)> = Vec::new();
    for one in all {
        if found
            .iter()
            .all(|known| discriminant(&known.0) != discriminant(&one.0))
        {
            found.push(one);
        }
    }
    let hazard = |(damage, doing)| Hazard::Rating { damage, doing };
    found.into_iter().map(hazard).collect()
}

/// Returns the most at the top, in volts, with the alternating current in that coil, in amperes, and its frequency, in hertz.
fn top(runs: &[(&Judged, &Running)]) -> Option<(f64, f64, f64)> {
    let (set, running) = runs.iter().max_by(|a, b| a.1.top_v.total_cmp(&b.1.top_v))?;
    let coil = &set.spec.resonator;
    let angle = std::f64::consts::TAU * running.frequency_hz;
    // The coil as the circuit sees it: V/(ωL), the voltage across its two elements being the top's over the mode's factor.
    let circulating_a = running.top_v / coil.foot_to_top / (angle * coil.henry);
    let known = circulating_a.is_finite() && running.top_v > 0.0;
    known.then_some((running.top_v, circulating_a, running.frequency_hz))
}

/// Returns the lower of the published reference levels for a touch, for everybody, in amperes.
fn touch_a(frequency_hz: f64) -> Option<f64> {
    let levels = [contact_icnirp(frequency_hz), contact_ieee(frequency_hz)];
    let levels = levels.into_iter().flatten().map(|level| level.public_a);
    levels.min_by(f64::total_cmp)
}

/// Readings at rest over the sets, each least and most.
struct AtRest {
    supply_a: Span,
    base_v: Span,
    collector_v: Span,
    transistor_w: f64,
}

/// Returns the figures of the sets at rest on a supply of this voltage; `None` where a set has no bias point there.
fn at_rest(specs: &[CircuitSpec], supply_v: f64) -> Option<AtRest> {
    let mut found = AtRest {
        supply_a: Span::NONE,
        base_v: Span::NONE,
        collector_v: Span::NONE,
        transistor_w: 0.0,
    };
    let widen = |range: &mut Span, value| *range = range.joined(Span::of(value));
    for spec in specs {
        let mut spec = *spec;
        spec.supply.open_v = supply_v;
        let wired = spec.wired();
        let bias = Bias::find(&wired.network).ok()?;
        let probes = &wired.probes;
        let supply_a = -bias.branch_a(probes.battery);
        let collector_v = bias.node_v(probes.collector);
        widen(&mut found.supply_a, supply_a);
        widen(&mut found.base_v, bias.node_v(probes.base));
        widen(&mut found.collector_v, collector_v);
        // The bias resistor's current is in it, a part in a hundred or less too much.
        found.transistor_w = found.transistor_w.max(supply_a * collector_v);
    }
    Some(found)
}

/// Returns the standing measurements of a build. They are at its battery's voltage, or at the highest lower one tried at which
/// the transistor's case does not burn and no long arcs come; where none does, at the lowest.
fn standing(
    sets: &[Judged; 3],
    class: TransistorClass,
    case: &Case,
    sink_k_per_w: Option<f64>,
) -> Standing {
    let extremes = extremes(sets, class);
    let all: Vec<&Judged> = sets.iter().chain(&extremes).collect();
    let specs: Vec<CircuitSpec> = all.iter().map(|set| set.spec).collect();
    let [_, typical, _] = sets;
    let battery_v = typical.spec.supply.open_v;
    let battery = as_judged(&all);
    let heat = |at: &AtRest| Heat::at(at.transistor_w, case, sink_k_per_w);
    let battery_heat = heat(&battery);
    let in_battery_a = battery.supply_a;
    let (mut supply_v, mut chosen) = (battery_v, battery);
    for lower_v in LOWER_V.into_iter().filter(|lower_v| *lower_v < battery_v) {
        if !heat(&chosen).burns() && supply_v <= ARCS_ABOVE_V {
            break;
        }
        if let Some(found) = at_rest(&specs, lower_v) {
            (supply_v, chosen) = (lower_v, found);
        }
    }
    Standing {
        supply_v,
        supply_a: chosen.supply_a,
        base_v: chosen.base_v,
        collector_v: chosen.collector_v,
        heat: heat(&chosen),
        battery_v,
        battery_low_a: in_battery_a.low,
        battery_a: in_battery_a.high,
        battery_heat,
    }
}

/// Returns the typical circuit with the least and the most gain of its class, where its gain is not known: at rest the gain
/// decides, and the sets are ordered by how they run.
fn extremes(sets: &[Judged; 3], class: TransistorClass) -> Vec<Judged> {
    let gain = |set: &Judged| set.spec.transistor.model.forward_gain;
    let [_, typical, _] = sets;
    let is_known = sets
        .iter()
        .all(|set| (gain(set) / gain(typical) - 1.0).abs() < 1e-9);
    if is_known {
        return Vec::new();
    }
    let range = class.gain_range();
    let with = |gain: f64| {
        let mut spec = typical.spec;
        spec.transistor.model.forward_gain = gain;
        Judged::at_rest(&spec).ok()
    };
    [range.low, range.high]
        .into_iter()
        .filter_map(with)
        .collect()
}

/// Returns the figures of circuits at rest at their own supply, as they were judged.
fn as_judged(sets: &[&Judged]) -> AtRest {
    let range = |of: &dyn Fn(&Judged) -> f64| Span::over(sets.iter().map(|set| of(set)));
    let volt = |set: &Judged, node| set.rest.bias.node_v(node);
    let collector = |set: &Judged| volt(set, set.rest.wired.probes.collector);
    AtRest {
        supply_a: range(&|set| set.rest_a),
        base_v: range(&|set| volt(set, set.rest.wired.probes.base)),
        collector_v: range(&collector),
        transistor_w: range(&|set| set.rest_a * collector(set)).high,
    }
}
