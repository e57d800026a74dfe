//! The contents of a card: how a build is wired, and the cautions.

use crate::caution::Caution;
use crate::circuit::hazards::Hazards;
use crate::circuit::outlook::Outlook;
use crate::circuit::parts::{BaseDiode, TransistorClass};
use crate::coil::prediction::Prediction;
use crate::coil::winding::{CollectorEnd, Sense};
use crate::sheet::Sheet;
use crate::units::{Unit, rounded};

use super::stages;
use super::steps::Stage;
use crate::report::hazards;

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
    /// The hazards by its own figures, the gravest first.
    pub(super) hazards: Vec<String>,
    pub(super) warnings: Vec<String>,
    /// Senses of secondary and primary.
    pub(super) senses: (Sense, Sense),
    pub(super) turns: (String, String),
    /// The primary's end that goes to the collector.
    pub(super) collector_end: CollectorEnd,
    /// Each joint with the wires that meet there.
    pub(super) wires: Vec<(&'static str, String)>,
    pub(super) case: &'static str,
    pub(super) pinout: Pinout,
    pub(super) enamel: &'static str,
    pub(super) stages: Vec<Stage>,
    pub(super) cautions: [Caution; 8],
}

const ENAMEL: &str = "scrape the enamel off the last 10 mm of the secondary's foot, all round, until the copper shines, and tin it; \
                      the same on the primary's ends if its wire is enamelled";

const CAUTIONS: [Caution; 8] = [
    Caution::Touch,
    Caution::Probe,
    Caution::Unplug,
    Caution::Implants,
    Caution::Toy,
    Caution::ShortCircuit,
    Caution::MeasuresOnly,
    Caution::CodesFirst,
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
    /// Returns the card of a build. The circuit's ranges are of the build with its primary as in [`working_end`]; they are left
    /// out where it could not be computed.
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
        let sink_k_per_w = sheet.known.heat_sink_k_per_w;
        let found = verdict.map(|verdict| Hazards::of(&verdict.sets, class, sink_k_per_w));
        if verdict.is_none() {
            warnings.push(
                "the circuit is not computed: no currents and voltages are expected".to_owned(),
            );
        }
        Self {
            name: sheet.name.clone(),
            hazards: hazards::or_not_computed(found.as_ref()),
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
                stages::unplugged(sheet, prediction),
                stages::not_closed(sheet, found.as_ref()),
                stages::running(sheet, prediction, verdict.zip(found.as_ref())),
            ],
            cautions: CAUTIONS,
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
