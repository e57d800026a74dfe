//! The damage that a circuit does to its parts.

use crate::circuit::heat::Heat;
use crate::circuit::running::Running;
use crate::circuit::sets::Ratings;
use crate::circuit::wiring::RealTransistor;

/// The greatest mean current of a light-emitting diode, in amperes (from memory; data sheets of 5 mm types say 20 to 30 mA).
const LED_MOST_A: f64 = 0.03;
/// The battery and the wires of such builds are not made for more, in amperes (common practice, no source).
const SUPPLY_MOST_A: f64 = 1.0;
/// The most that an ordinary small resistor turns to heat, in watts (common practice, no source).
const RESISTOR_MOST_W: f64 = 0.25;

/// A part that is asked too much.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Damage {
    /// The base is driven below the limit of its junction: the gain fades over hours, the junction fails in the end.
    ReverseBase {
        /// The base's lowest, in volts.
        lowest_v: f64,
        /// The limit that data sheets promise, in volts.
        rated_v: f64,
    },
    /// The collector goes beyond its rating.
    Collector {
        /// The collector's highest, in volts.
        highest_v: f64,
        /// Its rating, in volts.
        rated_v: f64,
    },
    /// More mean current than the transistor's collector is rated for.
    CollectorCurrent {
        /// The supply's mean, which all goes through it, in amperes.
        supply_a: f64,
        /// Its rating, in amperes.
        rated_a: f64,
    },
    /// More current than battery and wires are made for.
    Supply {
        /// In amperes.
        supply_a: f64,
        /// The battery's voltage under that, in volts.
        battery_v: f64,
    },
    /// More current than a light-emitting diode stands.
    Diode {
        /// In amperes.
        diode_a: f64,
        /// The limit that data sheets allow, in amperes.
        rated_a: f64,
    },
    /// More heat in the bias resistor than a small one stands.
    BiasResistor {
        /// In watts.
        power_w: f64,
        /// The limit of small ones, in watts.
        rated_w: f64,
    },
    /// The transistor's junction becomes hotter than it may.
    Junction {
        /// Temperatures once nothing changes any more.
        heat: Heat,
    },
}

impl Damage {
    /// Returns how many times its rating a part is asked; a junction's rise over the air's temperature counts.
    pub fn times_rated(&self) -> f64 {
        match *self {
            Self::ReverseBase { lowest_v, rated_v } => -lowest_v / rated_v,
            Self::Collector { highest_v, rated_v } => highest_v / rated_v,
            Self::CollectorCurrent { supply_a, rated_a } => supply_a / rated_a,
            Self::Supply { supply_a, .. } => supply_a.abs() / SUPPLY_MOST_A,
            Self::Diode { diode_a, rated_a } => diode_a / rated_a,
            Self::BiasResistor { power_w, rated_w } => power_w / rated_w,
            Self::Junction { heat } => heat.times_rated(),
        }
    }
}

/// A junction that gives way in reverse.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GivesWay {
    /// Collector to base.
    Collector,
    /// Base to emitter.
    Base,
}

/// From this part of a junction's breakdown on its clamp conducts (chosen: a milliampere flows at the breakdown itself).
const CLAMPED_FROM: f64 = 0.995;

/// Returns the junctions that give way while it runs: the model clamps them at one voltage, so its figures there are uncertain.
pub fn gives_way(running: &Running, transistor: &RealTransistor) -> Vec<GivesWay> {
    let reaches = |volt: f64, breakdown_v: f64| volt >= CLAMPED_FROM * breakdown_v;
    let collector = reaches(running.collector_base_v, transistor.collector_breakdown_v);
    let base = reaches(-running.base_lowest_v, transistor.emitter_breakdown_v);
    [(GivesWay::Collector, collector), (GivesWay::Base, base)]
        .into_iter()
        .filter_map(|(junction, is_so)| is_so.then_some(junction))
        .collect()
}

/// Returns every part that running asks too much, but for the transistor's heat.
pub fn damage(running: &Running, ratings: &Ratings) -> Vec<Damage> {
    let (supply_a, battery_v) = (running.supply_a, running.battery_v);
    let all = [
        Damage::ReverseBase {
            lowest_v: running.base_lowest_v,
            rated_v: ratings.reverse_base_v,
        },
        Damage::Collector {
            highest_v: running.collector_highest_v,
            rated_v: ratings.collector_v,
        },
        Damage::CollectorCurrent {
            supply_a,
            rated_a: ratings.collector_a,
        },
        Damage::Supply {
            supply_a,
            battery_v,
        },
        Damage::Diode {
            diode_a: running.diode_a,
            rated_a: LED_MOST_A,
        },
    ];
    let too_much = |one: &Damage| one.times_rated() > 1.0;
    all.into_iter().filter(too_much).collect()
}

/// Returns the bias resistor, if the voltage across it, in volts, makes it too hot.
pub fn bias_resistor(across_v: f64, ohm: f64) -> Option<Damage> {
    let damage = Damage::BiasResistor {
        power_w: across_v * across_v / ohm,
        rated_w: RESISTOR_MOST_W,
    };
    (damage.times_rated() > 1.0).then_some(damage)
}

/// Returns the transistor's junction, if it becomes hotter than it may.
pub fn junction(heat: Heat) -> Option<Damage> {
    (heat.times_rated() > 1.0).then_some(Damage::Junction { heat })
}
