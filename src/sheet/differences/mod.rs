//! The differences of two builds, one at a time, and the effect of each on the start and on the resonance.

use crate::circuit::Circuit;
use crate::circuit::margin::Margins;
use crate::circuit::parts::{BaseDiode, TransistorClass};
use crate::circuit::rest::{Rest, VerdictError};
use crate::coil::former::Former;
use crate::coil::predict::{PredictError, predict};
use crate::coil::surroundings::{Body, Plane};
use crate::coil::winding::{CollectorEnd, Sense, Winding};
use crate::units::{Unit, rounded};

use crate::sheet::Sheet;
use crate::sheet::drive::WhyNone;
use crate::sheet::known::Shown;

/// The result of a sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outcome {
    /// The resonance, in hertz.
    pub resonance_hz: f64,
    /// The transistor's speed over the speed that starting needs, with typical parts; above 1 starts. `None` where no speed would
    /// start it, or none is too slow.
    pub start_margin: Option<f64>,
    /// Growth of a small oscillation with typical parts, per second; it starts if positive.
    pub growth_per_s: f64,
}

/// Why the result of a sheet can't be computed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error(transparent)]
pub enum NotComputed {
    /// The coil has no prediction.
    Coil(#[from] PredictError),
    /// There is no circuit to compute.
    NoCircuit(#[from] WhyNone),
    /// The circuit can't be judged.
    Circuit(#[from] VerdictError),
}

/// One difference.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// The part that differs.
    pub what: &'static str,
    /// The value in the first sheet.
    pub mine: String,
    /// The value in the other.
    pub theirs: String,
    /// The first sheet's result with this alone as the other has it, or why that can't be computed.
    pub outcome: Result<Outcome, NotComputed>,
}

/// Two sheets walked through.
#[derive(Debug, Clone, PartialEq)]
pub struct Walk {
    /// The first sheet's result, or why that can't be computed.
    pub mine: Result<Outcome, NotComputed>,
    /// The other's result.
    pub theirs: Result<Outcome, NotComputed>,
    /// The differences, that with the greatest effect on the start first.
    pub differences: Vec<Difference>,
}

/// Something of a sheet that may differ alone.
struct Part {
    what: &'static str,
    words: fn(&Sheet) -> String,
    take: fn(&mut Sheet, &Sheet),
}

impl Walk {
    /// Takes each difference over alone; a difference that does not bear on resonance or start (names, tolerances, a heat sink)
    /// is passed over.
    pub fn of(mine: &Sheet, theirs: &Sheet) -> Self {
        let outcome = outcome(mine);
        let mut differences: Vec<_> = PARTS
            .iter()
            .filter_map(|part| {
                let mut changed = mine.clone();
                (part.take)(&mut changed, theirs);
                (changed != *mine).then(|| Difference {
                    what: part.what,
                    mine: (part.words)(mine),
                    theirs: (part.words)(theirs),
                    outcome: self::outcome(&changed),
                })
            })
            .collect();
        let growth =
            |one: &Result<Outcome, NotComputed>| one.as_ref().ok().map(|one| one.growth_per_s);
        let begin = growth(&outcome);
        let effect = |one: &Difference| match (begin, growth(&one.outcome)) {
            (Some(begin), Some(now)) => (now - begin).abs(),
            _ => f64::INFINITY,
        };
        differences.sort_by(|one, other| effect(other).total_cmp(&effect(one)));
        Self {
            mine: outcome,
            theirs: self::outcome(theirs),
            differences,
        }
    }
}

/// Returns the result of a sheet with typical parts.
fn outcome(sheet: &Sheet) -> Result<Outcome, NotComputed> {
    let prediction = predict(&sheet.coil_spec())?;
    let sets = sheet.circuit_sets(&prediction)?;
    let [_, typical, _] = &sets.specs;
    let rest = Rest::of(typical)?;
    let start_hz = Margins::transition_to_start_hz(typical, &rest)?;
    Ok(Outcome {
        resonance_hz: prediction.resonance.value_hz,
        start_margin: start_hz.map(|start_hz| rest.transition_hz() / start_hz),
        growth_per_s: rest.startup.growth_per_s,
    })
}

fn si(value: f64, unit: Unit) -> String {
    rounded(value, unit, 4)
}

fn known(value: Option<f64>, unit: Unit) -> String {
    value.map_or_else(|| "not given".to_owned(), |value| si(value, unit))
}

fn number(value: Option<f64>) -> String {
    value.map_or_else(|| "not given".to_owned(), |value| format!("{value}"))
}

/// The word a sheet has for a value.
fn word<T: PartialEq>(words: &[(&'static str, T)], value: &T) -> String {
    let found = words.iter().find(|(_, one)| one == value);
    found.map_or("", |(word, _)| word).to_owned()
}

const fn sense(sense: Sense) -> &'static str {
    match sense {
        Sense::Right => "right",
        Sense::Left => "left",
    }
}

fn winding(sheet: &Sheet) -> String {
    let Winding { shape, turns, .. } = sheet.winding;
    let over = si(shape.slope_m(), Unit::Metre);
    format!(
        "{turns:.0} turns, {over}, on {}",
        si(shape.mean_diameter_m(), Unit::Metre)
    )
}

fn former(sheet: &Sheet) -> String {
    match sheet.former {
        Former::Unsaid => "not given".to_owned(),
        Former::Fitted { shift } => format!("shift of {:.1} %", shift * 100.0),
        Former::Board { thickness_m, .. } => format!("board of {}", si(thickness_m, Unit::Metre)),
        other => word(&Former::WORDS, &other),
    }
}

fn plane(sheet: &Sheet) -> String {
    match sheet.surroundings.plane {
        Plane::None => "none".to_owned(),
        Plane::Table { distance_m } => format!("table {} below", si(distance_m, Unit::Metre)),
        Plane::Metal { distance_m } => format!("metal {} below", si(distance_m, Unit::Metre)),
    }
}

fn top(sheet: &Sheet) -> String {
    sheet.surroundings.top_load.map_or_else(
        || "nothing".to_owned(),
        |load| match load.body {
            Body::Sphere { diameter_m } => format!("ball of {}", si(diameter_m, Unit::Metre)),
            Body::Disc { diameter_m } => format!("disc of {}", si(diameter_m, Unit::Metre)),
            Body::Toroid { diameter_m, .. } => format!("ring of {}", si(diameter_m, Unit::Metre)),
        },
    )
}

fn near(sheet: &Sheet) -> String {
    let around = &sheet.surroundings;
    let hand = known(around.hand_m, Unit::Metre);
    format!(
        "hand {hand}, ceiling {}",
        known(around.ceiling_m, Unit::Metre)
    )
}

fn size(sheet: &Sheet) -> String {
    let around = &sheet.surroundings;
    let wide = known(around.circuit_m, Unit::Metre);
    format!(
        "{wide}, {} below",
        known(around.circuit_below_m, Unit::Metre)
    )
}

fn shown(sheet: &Sheet) -> String {
    let starts = sheet.known.starts;
    starts.map_or_else(
        || "not given".to_owned(),
        |starts| word(&Shown::WORDS, &starts),
    )
}

/// Returns the transistor in words, with the facts known of it, which are of no use to another.
fn transistor(sheet: &Sheet) -> String {
    let Circuit {
        transistor,
        gain,
        transition_hz,
        ..
    } = sheet.circuit;
    let mut words = vec![word(&TransistorClass::WORDS, &transistor)];
    words.extend(gain.map(|gain| format!("gain {gain}")));
    words.extend(transition_hz.map(|hertz| format!("fT {}", si(hertz, Unit::Hertz))));
    let least = sheet.known.least_transition_hz;
    words.extend(least.map(|hertz| format!("fT at least {}", si(hertz, Unit::Hertz))));
    words.join(", ")
}

/// All that bears on resonance or start.
const PARTS: &[Part] = &[
    Part {
        what: "secondary: winding",
        words: winding,
        take: |mine, theirs| {
            mine.winding.shape = theirs.winding.shape;
            mine.winding.turns = theirs.winding.turns;
        },
    },
    Part {
        what: "secondary: wire",
        words: |sheet| {
            let over = si(sheet.winding.over_enamel.middle_m(), Unit::Metre);
            format!("{}, {over} over enamel", sheet.winding.gauge.name())
        },
        take: |mine, theirs| {
            mine.winding.gauge = theirs.winding.gauge;
            mine.winding.over_enamel = theirs.winding.over_enamel;
        },
    },
    Part {
        what: "secondary: sense",
        words: |sheet| sense(sheet.winding.sense).to_owned(),
        take: |mine, theirs| mine.winding.sense = theirs.winding.sense,
    },
    Part {
        what: "secondary: former",
        words: former,
        take: |mine, theirs| mine.former = theirs.former,
    },
    Part {
        what: "secondary: board below",
        words: |sheet| match sheet.surroundings.board {
            Some(board) => format!("board of {}", si(board.thickness_m, Unit::Metre)),
            None => "not given".to_owned(),
        },
        take: |mine, theirs| mine.surroundings.board = theirs.surroundings.board,
    },
    Part {
        what: "secondary: end at the foot",
        words: |sheet| sheet.winding.foot_end.name().to_owned(),
        take: |mine, theirs| mine.winding.foot_end = theirs.winding.foot_end,
    },
    Part {
        what: "primary: turns",
        words: |sheet| sheet.primary.turns.to_string(),
        take: |mine, theirs| mine.primary.turns = theirs.primary.turns,
    },
    Part {
        what: "primary: diameter and wire",
        words: |sheet| {
            let one = &sheet.primary;
            let pitch = si(one.pitch_m, Unit::Metre);
            format!("{}, {pitch} a turn", si(one.diameter_m, Unit::Metre))
        },
        take: |mine, theirs| {
            let (one, other) = (&mut mine.primary, &theirs.primary);
            one.diameter_m = other.diameter_m;
            one.gauge = other.gauge;
            one.pitch_m = other.pitch_m;
            one.lay = other.lay;
        },
    },
    Part {
        what: "primary: position",
        words: |sheet| si(sheet.primary.position_m, Unit::Metre),
        take: |mine, theirs| mine.primary.position_m = theirs.primary.position_m,
    },
    Part {
        what: "primary: sense",
        words: |sheet| sense(sheet.primary.sense).to_owned(),
        take: |mine, theirs| mine.primary.sense = theirs.primary.sense,
    },
    Part {
        what: "primary: end at the collector",
        words: |sheet| {
            match sheet.primary.collector_end {
                CollectorEnd::FootSide => "foot-side",
                CollectorEnd::TopSide => "top-side",
            }
            .to_owned()
        },
        take: |mine, theirs| mine.primary.collector_end = theirs.primary.collector_end,
    },
    Part {
        what: "transistor",
        words: transistor,
        take: |mine, theirs| {
            mine.circuit.transistor = theirs.circuit.transistor;
            mine.circuit.gain = theirs.circuit.gain;
            mine.circuit.transition_hz = theirs.circuit.transition_hz;
            mine.known.least_transition_hz = theirs.known.least_transition_hz;
        },
    },
    Part {
        what: "has been seen to start",
        words: shown,
        take: |mine, theirs| mine.known.starts = theirs.known.starts,
    },
    Part {
        what: "bias resistor",
        words: |sheet| si(sheet.circuit.bias_resistor_ohm, Unit::Ohm),
        take: |mine, theirs| mine.circuit.bias_resistor_ohm = theirs.circuit.bias_resistor_ohm,
    },
    Part {
        what: "diode at the base",
        words: |sheet| word(&BaseDiode::WORDS, &sheet.circuit.base_diode),
        take: |mine, theirs| mine.circuit.base_diode = theirs.circuit.base_diode,
    },
    Part {
        what: "decoupling capacitor",
        words: |sheet| {
            let farad = sheet.circuit.decoupling_f;
            farad.map_or_else(|| "none".to_owned(), |farad| si(farad, Unit::Farad))
        },
        take: |mine, theirs| mine.circuit.decoupling_f = theirs.circuit.decoupling_f,
    },
    Part {
        what: "battery",
        words: |sheet| {
            let battery = &sheet.battery;
            let ohm = known(battery.resistance_ohm, Unit::Ohm);
            format!("{} × {}, {ohm}", battery.series, battery.kind.name())
        },
        take: |mine, theirs| {
            mine.battery.kind = theirs.battery.kind;
            mine.battery.series = theirs.battery.series;
            mine.battery.resistance_ohm = theirs.battery.resistance_ohm;
        },
    },
    Part {
        what: "earth",
        words: |sheet| sheet.earth.name().to_owned(),
        take: |mine, theirs| mine.earth = theirs.earth,
    },
    Part {
        what: "plane below",
        words: plane,
        take: |mine, theirs| mine.surroundings.plane = theirs.surroundings.plane,
    },
    Part {
        what: "size of the circuit",
        words: size,
        take: |mine, theirs| {
            mine.surroundings.circuit_m = theirs.surroundings.circuit_m;
            mine.surroundings.circuit_below_m = theirs.surroundings.circuit_below_m;
        },
    },
    Part {
        what: "near the top",
        words: near,
        take: |mine, theirs| {
            mine.surroundings.hand_m = theirs.surroundings.hand_m;
            mine.surroundings.ceiling_m = theirs.surroundings.ceiling_m;
        },
    },
    Part {
        what: "on the top",
        words: top,
        take: |mine, theirs| mine.surroundings.top_load = theirs.surroundings.top_load,
    },
    Part {
        what: "measured: inductance",
        words: |sheet| known(sheet.measured.inductance_h, Unit::Henry),
        take: |mine, theirs| mine.measured.inductance_h = theirs.measured.inductance_h,
    },
    Part {
        what: "measured: capacitance",
        words: |sheet| known(sheet.measured.resonance_capacitance_f, Unit::Farad),
        take: |mine, theirs| {
            mine.measured.resonance_capacitance_f = theirs.measured.resonance_capacitance_f;
        },
    },
    Part {
        what: "measured: Q",
        words: |sheet| number(sheet.measured.q),
        take: |mine, theirs| mine.measured.q = theirs.measured.q,
    },
    Part {
        what: "measured: coupling",
        words: |sheet| number(sheet.measured.coupling),
        take: |mine, theirs| mine.measured.coupling = theirs.measured.coupling,
    },
    Part {
        what: "measured: primary inductance",
        words: |sheet| known(sheet.measured.primary_inductance_h, Unit::Henry),
        take: |mine, theirs| {
            mine.measured.primary_inductance_h = theirs.measured.primary_inductance_h;
        },
    },
    Part {
        what: "measured: leads",
        words: |sheet| known(sheet.measured.lead_inductance_h, Unit::Henry),
        take: |mine, theirs| mine.measured.lead_inductance_h = theirs.measured.lead_inductance_h,
    },
    Part {
        what: "measured: frequency",
        words: |sheet| known(sheet.measured.frequency_hz, Unit::Hertz),
        take: |mine, theirs| {
            mine.measured.frequency_hz = theirs.measured.frequency_hz;
            mine.measured.frequency_ratio = theirs.measured.frequency_ratio;
        },
    },
];

#[cfg(test)]
mod tests;
