//! The card that goes to the bench: how a build is wired, and what each step of its first power-up should read.

mod page;
mod text;

pub use page::drawing;
pub use text::text;

use crate::circuit::outlook::Outlook;
use crate::circuit::parts::{BaseDiode, TransistorClass};
use crate::circuit::running::Running;
use crate::circuit::verdict::{Judged, State, Verdict};
use crate::coil::prediction::{BandBasis, Prediction};
use crate::coil::winding::{CollectorEnd, Sense};
use crate::sheet::Sheet;
use crate::units::{Unit, rounded};

use super::cautions::{HIGH_SUPPLY, HIGH_SUPPLY_V};

/// What wire and a room's warmth may do to a coil's ohms, as a share: 1.5 % of the diameter twice, 10 K at 0.4 % a kelvin.
const OHMS_DOUBT: f64 = 0.07;
/// Bias resistor and supply may be off by so much, as a share (common practice, no source).
const PARTS_DOUBT: f64 = 0.05;
/// A junction's voltage over 15 K of warmth at 2 mV a kelvin, in volt.
const BASE_DOUBT_V: f64 = 0.03;
/// What the model may be off in a running circuit's current, as a share: an estimate of ours.
const MODEL_DOUBT: f64 = 0.3;

/// One thing to do and to read.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Step {
    pub(super) what: String,
    pub(super) expected: String,
}

/// Steps under one heading, which says how the build stands meanwhile.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stage {
    pub(super) heading: String,
    pub(super) steps: Vec<Step>,
    /// What to do if the readings are others, and what could hurt.
    pub(super) notes: Vec<String>,
}

/// Where the legs of a transistor are, seen from its front.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pinout {
    /// The legs from left to right; `None` where parts of the class differ.
    pub(super) legs: Option<[&'static str; 3]>,
    pub(super) words: &'static str,
}

/// A build's card.
#[derive(Debug, Clone, PartialEq)]
pub struct Card {
    pub(super) name: String,
    pub(super) warnings: Vec<String>,
    /// Senses of secondary and primary.
    pub(super) senses: (Sense, Sense),
    pub(super) turns: (String, String),
    /// The primary's end that goes to the collector.
    pub(super) collector_end: CollectorEnd,
    /// Each joint with what meets there.
    pub(super) wires: Vec<(&'static str, String)>,
    pub(super) case: &'static str,
    pub(super) pinout: Pinout,
    pub(super) enamel: &'static str,
    pub(super) stages: Vec<Stage>,
    pub(super) cautions: Vec<&'static str>,
}

const ENAMEL: &str = "scrape the enamel off the last 10 mm of the secondary's foot, all round, until the copper shines, and tin it; \
                      the same on the primary's ends if its wire is enamelled";

const CAUTIONS: [&str; 4] = [
    "Never a finger, probe or meter on the top or the secondary while it runs: RF burns, and nerves do not warn.",
    "Power off and the battery unplugged before ohms are measured and before anything is soldered or moved.",
    "Pacemakers, defibrillators, pumps and cochlear implants stay out of the room; hearing aids come out. Children only watch.",
    "Never short the battery. Local codes and licensed practice come first; this card makes no build safe.",
];

const fn pinout(class: TransistorClass) -> Pinout {
    match class {
        TransistorClass::PowerTo220 => Pinout {
            legs: Some(["B", "C", "E"]),
            words: "print towards you, legs down: base, collector, emitter from the left, the tab is the collector: common \
                    practice for this case, no source; look at the data sheet of yours",
        },
        TransistorClass::Medium => Pinout {
            legs: None,
            words: "the order of the legs differs from type to type in this case: look it up in the data sheet of yours; the metal \
                    on its back is the collector",
        },
        TransistorClass::SmallSignal => Pinout {
            legs: None,
            words: "the order of the legs differs from type to type in this case: look it up in the data sheet of yours",
        },
        TransistorClass::PowerTo3 => Pinout {
            legs: None,
            words: "the metal case is the collector; which pin is the base, look up in the data sheet of yours",
        },
    }
}

/// The end of the primary that has to go to the collector, whatever the sheet has.
pub fn working_end(sheet: &Sheet) -> CollectorEnd {
    if sheet.winding.sense == sheet.primary.sense {
        CollectorEnd::TopSide
    } else {
        CollectorEnd::FootSide
    }
}

impl Card {
    /// The card of a build; the circuit's ranges, of the build with its primary as in [`working_end`], are left out where it
    /// could not be computed.
    pub fn of(sheet: &Sheet, prediction: &Prediction, outlook: Option<&Outlook>) -> Self {
        let collector_end = working_end(sheet);
        let mut warnings = Vec::new();
        if sheet.primary.collector_end != collector_end {
            warnings.push(
                "the sheet has the primary the other way round, in which no build starts: the card shows the way that works"
                    .to_owned(),
            );
        }
        let class = sheet.circuit.transistor;
        let verdict = outlook.map(|outlook| &outlook.verdict);
        if verdict.is_none() {
            warnings.push(
                "the circuit is not computed: no currents and voltages are expected".to_owned(),
            );
        }
        Self {
            name: sheet.name.clone(),
            warnings,
            senses: (sheet.winding.sense, sheet.primary.sense),
            turns: (
                turns(sheet.winding.turns),
                turns(f64::from(sheet.primary.turns)),
            ),
            collector_end,
            wires: wires(sheet, collector_end),
            case: class.case().name,
            pinout: pinout(class),
            enamel: ENAMEL,
            stages: vec![
                unplugged(sheet, prediction),
                not_closed(sheet, verdict),
                running(sheet, prediction, verdict),
            ],
            cautions: CAUTIONS
                .into_iter()
                .chain((sheet.battery.nominal_v() > HIGH_SUPPLY_V).then_some(HIGH_SUPPLY))
                .collect(),
        }
    }
}

fn turns(turns: f64) -> String {
    if (turns - 1.0).abs() < 1e-9 {
        "1 turn".to_owned()
    } else {
        format!("{turns} turns")
    }
}

pub(super) const fn sense_words(sense: Sense) -> &'static str {
    match sense {
        Sense::Right => {
            "right-handed: in front the turns rise to the right, like an ordinary screw's"
        }
        Sense::Left => "left-handed: in front the turns rise to the left",
    }
}

/// The primary's ends in words: that to plus, that to the collector.
pub(super) const fn ends(collector_end: CollectorEnd) -> (&'static str, &'static str) {
    const LOWER: &str = "the primary's end nearest the secondary's foot";
    const UPPER: &str = "the primary's end nearest the secondary's top";
    match collector_end {
        CollectorEnd::TopSide => (LOWER, UPPER),
        CollectorEnd::FootSide => (UPPER, LOWER),
    }
}

fn wires(sheet: &Sheet, collector_end: CollectorEnd) -> Vec<(&'static str, String)> {
    let circuit = &sheet.circuit;
    let bias = rounded(circuit.bias_resistor_ohm, Unit::Ohm, 3);
    let (to_plus, to_collector) = ends(collector_end);
    let (to_base, to_minus) = match circuit.base_diode {
        BaseDiode::Led => (
            ", the LED's cathode (shorter leg, flat side)",
            ", the LED's anode (longer leg)",
        ),
        BaseDiode::Silicon => (", the diode's cathode (the ring)", ", the diode's anode"),
        BaseDiode::None => ("", ""),
    };
    let capacitor = circuit.decoupling_f.map_or_else(String::new, |farad| {
        format!(
            ", {} to minus beside the transistor",
            rounded(farad, Unit::Farad, 3)
        )
    });
    vec![
        ("plus", format!("{to_plus}, one end of {bias}{capacitor}")),
        ("collector", to_collector.to_owned()),
        (
            "base",
            format!("the secondary's foot, the other end of {bias}{to_base}"),
        ),
        ("minus", format!("the emitter{to_minus}")),
        ("top", "stays open, away from all else".to_owned()),
    ]
}

fn between(low: f64, high: f64, unit: Unit) -> String {
    let (low, high) = (rounded(low, unit, 2), rounded(high, unit, 2));
    if low == high {
        low
    } else {
        format!("{low} to {high}")
    }
}

fn step(what: impl Into<String>, expected: impl Into<String>) -> Step {
    Step {
        what: what.into(),
        expected: expected.into(),
    }
}

fn unplugged(sheet: &Sheet, prediction: &Prediction) -> Stage {
    let dc_ohm = prediction.resistance_dc_ohm;
    let ohms = |share: f64| rounded(dc_ohm * share, Unit::Ohm, 3);
    let expected = format!("{} to {}", ohms(1.0 - OHMS_DOUBT), ohms(1.0 + OHMS_DOUBT));
    let end = sheet.winding.spiral_end().map(|end| {
        let is_assumed = sheet
            .assumptions
            .iter()
            .any(|one| one.key == "coil.foot_end");
        let expected = format!("the {} one", end.name());
        step(
            "which end of the spiral is the foot, at the base?",
            if is_assumed {
                format!("{expected} is assumed: set coil.foot_end")
            } else {
                expected
            },
        )
    });
    Stage {
        heading: "nothing plugged in".to_owned(),
        steps: end.into_iter().chain([
            step("ohms, joint of the foot to the top", expected),
            step("ohms, end to end of the primary", "below 0.5 Ω, leads taken off"),
            step("ohms, foot to the primary", "open"),
        ]).collect(),
        notes: vec!["foot to top open: enamel left in the joint (try 5 mm further along the scraped wire), or a broken wire".to_owned()],
    }
}

/// Least and greatest of a figure over the sets.
fn over_sets(verdict: &Verdict, of: impl Fn(&Judged) -> f64) -> (f64, f64) {
    let values = verdict.sets.each_ref().map(of);
    values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &value| {
            (low.min(value), high.max(value))
        })
}

/// The next of 1, 2, 5 above a value.
fn next_round(value: f64) -> f64 {
    let decade = 10_f64.powf(value.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|step| step * decade)
        .find(|&round| round >= value)
        .unwrap_or(value)
}

fn not_closed(sheet: &Sheet, verdict: Option<&Verdict>) -> Stage {
    let supply = rounded(sheet.battery.nominal_v(), Unit::Volt, 2);
    let Some(verdict) = verdict else {
        return Stage {
            heading: format!(
                "foot taken off the base, a current-limited supply of {supply} for the battery"
            ),
            steps: ["supply current", "base to minus", "collector to minus"]
                .map(|what| step(what, "not computed"))
                .to_vec(),
            notes: Vec::new(),
        };
    };
    let (low_a, high_a) = over_sets(verdict, |set| set.rest_a);
    let volts = |of: fn(&Judged) -> f64| over_sets(verdict, of);
    let (low_b, high_b) = volts(|set| set.rest.bias.node_v(set.rest.wired.probes.base));
    let (low_c, high_c) = volts(|set| set.rest.bias.node_v(set.rest.wired.probes.collector));
    let (less, more) = (1.0 - PARTS_DOUBT, 1.0 + PARTS_DOUBT);
    let limit = rounded(next_round(1.5 * high_a), Unit::Ampere, 2);
    Stage {
        heading: format!(
            "foot taken off the base, a supply of {supply} limited to {limit} for the battery; nothing oscillates, so a meter may be joined"
        ),
        steps: vec![
            step("supply current", between(low_a * less, high_a * more, Unit::Ampere)),
            step("base to minus", between(low_b - BASE_DOUBT_V, high_b + BASE_DOUBT_V, Unit::Volt)),
            step("collector to minus", between(low_c * less, high_c * more, Unit::Volt)),
        ],
        notes: vec!["at the limit at once: power off, the legs of the transistor are not where they were thought".to_owned()],
    }
}

/// The figures of every set that runs fully.
fn full(verdict: &Verdict) -> impl Iterator<Item = &Running> {
    let sets = verdict.sets.iter();
    sets.filter(|set| set.state >= State::FullOnceRunning)
        .filter_map(Judged::running)
}

fn running(sheet: &Sheet, prediction: &Prediction, verdict: Option<&Verdict>) -> Stage {
    let range = |of: fn(&Running) -> f64| {
        let values = verdict.into_iter().flat_map(full).map(of);
        values.fold(None, |range: Option<(f64, f64)>, value| {
            Some(range.map_or((value, value), |(low, high)| {
                (low.min(value), high.max(value))
            }))
        })
    };
    let current = range(|running| running.supply_a);
    let not_known = || "no set of parts runs fully in the model".to_owned();
    let expected_a = current.map_or_else(not_known, |(low, high)| {
        between(
            low * (1.0 - MODEL_DOUBT),
            high * (1.0 + MODEL_DOUBT),
            Unit::Ampere,
        )
    });
    let open_v = sheet.battery.nominal_v();
    let expected_v = range(|running| running.battery_v).map_or_else(not_known, |(low, high)| {
        let sag = |volt: f64, share: f64| open_v - (open_v - volt) * share;
        between(
            sag(low, 1.0 + MODEL_DOUBT),
            sag(high, 1.0 - MODEL_DOUBT),
            Unit::Volt,
        )
    });
    let mut steps = vec![
        step("supply current", expected_a),
        step(
            format!(
                "battery at its clips ({} open)",
                rounded(open_v, Unit::Volt, 2)
            ),
            expected_v,
        ),
    ];
    if sheet.circuit.base_diode == BaseDiode::Led {
        let lit = verdict.into_iter().flat_map(full).map(Running::is_lit);
        let lit: Vec<bool> = lit.collect();
        let words = if lit.is_empty() {
            "dark"
        } else if lit.iter().all(|lit| *lit) {
            "lit"
        } else if lit.iter().any(|lit| *lit) {
            "lit, or too faint to see with slower parts"
        } else {
            "too faint to see; a lamp near the top shows more"
        };
        steps.push(step("LED", words));
    }
    let found = &prediction.resonance;
    let hertz = |value_hz| rounded(value_hz, Unit::Hertz, 3);
    let runs_not = verdict.is_some_and(|verdict| full(verdict).next().is_none());
    steps.push(step(
        "frequency, loop three coil lengths away",
        if runs_not {
            "none, or a weak one".to_owned()
        } else if prediction.band == BandBasis::NoneGiven {
            hertz(found.value_hz)
        } else {
            format!("{} to {}", hertz(found.low_hz), hertz(found.high_hz))
        },
    ));
    Stage {
        heading: "power off, meter off base and collector, foot joined to the base; the battery joined, hands and metal away from coil \
                  and battery case, power on"
            .to_owned(),
        steps,
        notes: vec![
            "current as in the stage before and no light: power off, swap the two wires of the primary, try again".to_owned(),
            "the transistor gets hot: power off and wait before you touch it".to_owned(),
        ],
    }
}

#[cfg(test)]
mod tests;
