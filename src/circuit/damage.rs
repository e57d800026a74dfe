//! What a running circuit does to its parts.

use super::running::Running;
use super::sets::Ratings;

/// The greatest mean current of a light-emitting diode, in ampere (from memory; data sheets of 5 mm types say 20 to 30 mA).
const LED_MOST_A: f64 = 0.03;
/// The battery and the wires of such builds are not made for more, in ampere (common practice, no source).
const SUPPLY_MOST_A: f64 = 1.0;

/// A part that is asked too much.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Damage {
    /// The base is driven below what its junction stands: the gain fades over hours, the junction fails in the end.
    ReverseBase {
        /// The base's lowest, in volt.
        lowest_v: f64,
        /// What data sheets promise, in volt.
        rated_v: f64,
    },
    /// The collector goes beyond its rating.
    Collector {
        /// The collector's highest, in volt.
        highest_v: f64,
        /// Its rating, in volt.
        rated_v: f64,
    },
    /// More current than battery and wires are made for.
    Supply {
        /// In ampere.
        supply_a: f64,
    },
    /// More current than a light-emitting diode stands.
    Diode {
        /// In ampere.
        diode_a: f64,
        /// What data sheets allow, in ampere.
        rated_a: f64,
    },
}

/// Every part that is asked too much.
pub fn damage(running: &Running, ratings: &Ratings) -> Vec<Damage> {
    let mut found = Vec::new();
    if running.base_lowest_v < -ratings.reverse_base_v {
        found.push(Damage::ReverseBase {
            lowest_v: running.base_lowest_v,
            rated_v: ratings.reverse_base_v,
        });
    }
    if running.collector_highest_v > ratings.collector_v {
        found.push(Damage::Collector {
            highest_v: running.collector_highest_v,
            rated_v: ratings.collector_v,
        });
    }
    if running.supply_a.abs() > SUPPLY_MOST_A {
        found.push(Damage::Supply {
            supply_a: running.supply_a,
        });
    }
    if running.diode_a > LED_MOST_A {
        found.push(Damage::Diode {
            diode_a: running.diode_a,
            rated_a: LED_MOST_A,
        });
    }
    found
}
