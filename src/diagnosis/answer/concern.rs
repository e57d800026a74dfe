//! Readings that are not to be left as they are, whatever lights: heat, and more current than the build should take.

use crate::battery::Battery;
use crate::circuit::hazards::Hazards;
use crate::diagnosis::evidence::Evidence;
use crate::diagnosis::quantity::{Quantity, Reading, Seen};
use crate::diagnosis::situation::Situation;

/// Current above which it is too much whatever is predicted, in amperes (common practice, no source: the design limit of such
/// batteries and wires).
const USUAL_MOST_A: f64 = 1.0;

/// A battery under load that has less than this share of its open or usual voltage has collapsed (chosen).
const COLLAPSED: f64 = 2.0 / 3.0;
/// Above this current a collapsed battery heats itself and its load, in amperes (chosen: 9 V batteries are made for less).
const COLLAPSING_A: f64 = 0.5;

/// Why a circuit is to be switched off before anything else.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Danger {
    /// More current than such batteries and wires are made for.
    Current {
        /// How the circuit stood.
        situation: Situation,
        /// As read, in amperes.
        read_a: f64,
    },
    /// A battery whose voltage has collapsed under a large current.
    Collapse {
        /// How the circuit stood.
        situation: Situation,
        /// Its voltage switched on, in volts.
        loaded_v: f64,
        /// As read, in amperes.
        read_a: f64,
    },
}

/// Whether a circuit is to be switched off before anything else, and why; `usual_v` is its battery's usual open voltage, in
/// volts, for where none was read.
pub fn danger(evidence: &Evidence, usual_v: Option<f64>) -> Option<Danger> {
    Situation::ALL.into_iter().find_map(|situation| {
        let read_a = evidence.number(situation, Quantity::Current)?.abs();
        if read_a > USUAL_MOST_A {
            return Some(Danger::Current { situation, read_a });
        }
        let loaded_v = evidence.number(situation, Quantity::Battery)?;
        let open_v = evidence
            .number(situation, Quantity::BatteryOpen)
            .or_else(|| evidence.number(Situation::AsFound, Quantity::BatteryOpen))
            .or(usual_v)?;
        let is_collapsed = loaded_v < COLLAPSED * open_v && read_a > COLLAPSING_A;
        is_collapsed.then_some(Danger::Collapse {
            situation,
            loaded_v,
            read_a,
        })
    })
}

/// More than this times the voltage of a fresh battery is the voltage of more batteries than the sheet has (chosen).
const MORE_BATTERIES: f64 = 1.3;
/// A fresh battery's open voltage over its nominal one where its kind has no figure (assumed).
const FRESH_RATIO: f64 = 1.12;

/// Returns the readings of another number of batteries than the sheet has, if there are any.
fn other_series(evidence: &Evidence, battery: &Battery) -> Option<Concern> {
    let kind = battery.kind;
    let fresh_v = kind
        .full_high()
        .map_or_else(|| FRESH_RATIO * kind.nominal().value_v, |high| high.value_v);
    let volts = [Quantity::BatteryOpen, Quantity::Battery];
    let read = evidence.observations.iter().filter_map(|seen| {
        let is_volt = volts.contains(&seen.quantity);
        match seen.reading {
            Reading::Value { value, .. } if is_volt => Some(value.abs()),
            _ => None,
        }
    });
    let read_v = read.fold(0.0, f64::max);
    let most_v = MORE_BATTERIES * f64::from(battery.series) * fresh_v;
    let listed = evidence.battery_each_v.len();
    if read_v > most_v {
        return Some(Concern::MoreBatteries {
            read_v,
            read_as: (read_v / kind.nominal().value_v).round().max(2.0),
            series: battery.series,
        });
    }
    let is_other = listed > 0 && u32::try_from(listed) != Ok(battery.series);
    is_other.then_some(Concern::OtherCount {
        listed,
        series: battery.series,
    })
}

/// A reading that is a finding of its own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Concern {
    /// The transistor was found hot.
    Hot {
        /// How the circuit stood.
        situation: Situation,
        /// The temperature of its case in the model, in °C; `None` where nothing was computed.
        predicted_c: Option<f64>,
        /// Whether that burns.
        is_predicted: bool,
    },
    /// More supply current than the build takes with any set of parts, or than batteries and wires are made for.
    OverCurrent {
        /// How the circuit stood.
        situation: Situation,
        /// As read, in amperes.
        read_a: f64,
        /// The most that is predicted, in amperes; `None` where nothing was computed, or as much is predicted.
        most_a: Option<f64>,
    },
    /// The voltage of more batteries than the sheet has.
    MoreBatteries {
        /// As read, in volts.
        read_v: f64,
        /// The number of batteries that it is nearest to.
        read_as: f64,
        /// The number in the sheet.
        series: u32,
    },
    /// Own voltages of another number of batteries than the sheet has.
    OtherCount {
        /// The number that was read.
        listed: usize,
        /// The number in the sheet.
        series: u32,
    },
}

/// Returns all readings of this kind: first those that do not fit the sheet's battery, if that is known, then the rest in the
/// order of the readings.
pub fn concerns(
    evidence: &Evidence,
    hazards: Option<&Hazards>,
    battery: Option<&Battery>,
) -> Vec<Concern> {
    let most_a = hazards.map(Hazards::most_a);
    let found = evidence.observations.iter().filter_map(|seen| {
        let situation = seen.situation;
        match (seen.quantity, seen.reading) {
            (Quantity::Heat, Reading::Seen(Seen::Hot)) => Some(Concern::Hot {
                situation,
                predicted_c: hazards.map(|hazards| hazards.hottest.case_c),
                is_predicted: hazards.is_some_and(|hazards| hazards.hottest.burns()),
            }),
            (Quantity::Current, Reading::Value { value, .. }) => {
                let read_a = value.abs();
                let beyond_model = most_a.filter(|most_a| read_a > *most_a);
                let is_more = beyond_model.is_some() || read_a > USUAL_MOST_A;
                is_more.then_some(Concern::OverCurrent {
                    situation,
                    read_a,
                    most_a: beyond_model,
                })
            }
            _ => None,
        }
    });
    let series = battery.and_then(|battery| other_series(evidence, battery));
    series.into_iter().chain(found).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::kind::Kind;

    #[test]
    fn heat_and_a_large_current_count_whatever_lights_and_without_a_model() {
        let mut evidence = Evidence::default();
        let found = Situation::AsFound;
        evidence.add(found, Quantity::Led, Reading::Seen(Seen::Lit));
        assert_eq!(concerns(&evidence, None, None), []);
        evidence.add(found, Quantity::Heat, Reading::Seen(Seen::Hot));
        evidence.add(found, Quantity::Current, Reading::value(-1.2));
        let told = concerns(&evidence, None, None);
        assert!(matches!(
            told[..],
            [Concern::Hot { .. }, Concern::OverCurrent { read_a, .. }] if (read_a - 1.2).abs() < 1e-12
        ));
    }

    #[test]
    fn a_large_current_or_a_collapsed_battery_is_to_be_switched_off_and_a_tired_one_is_not() {
        let with = |readings: &[(Quantity, f64)]| {
            let mut evidence = Evidence::default();
            for (quantity, value) in readings {
                evidence.add(Situation::AsFound, *quantity, Reading::value(*value));
            }
            danger(&evidence, Some(9.0))
        };
        let (current, loaded, open) = (Quantity::Current, Quantity::Battery, Quantity::BatteryOpen);
        assert!(matches!(
            with(&[(current, 1.4)]),
            Some(Danger::Current { .. })
        ));
        assert!(matches!(
            with(&[(current, -1.4)]),
            Some(Danger::Current { .. })
        ));
        let collapsed = with(&[(current, 0.8), (loaded, 5.5)]);
        assert!(matches!(collapsed, Some(Danger::Collapse { .. })));
        assert_eq!(with(&[(current, 0.8), (loaded, 5.5), (open, 7.0)]), None);
        // Tired, in use; a converter that has tripped; no current read.
        assert_eq!(with(&[(current, 0.36), (loaded, 4.5), (open, 9.1)]), None);
        assert_eq!(with(&[(current, 0.0), (loaded, 0.5)]), None);
        assert_eq!(with(&[(loaded, 2.0)]), None);
    }

    #[test]
    fn the_voltage_of_two_batteries_on_a_sheet_of_one_is_noticed() {
        let of = |volt: f64, series: u32| {
            let mut evidence = Evidence::default();
            let open = Quantity::BatteryOpen;
            evidence.add(Situation::AsFound, open, Reading::value(volt));
            let battery = Battery {
                kind: Kind::Alkaline,
                series,
                capacity_ah: None,
                resistance_ohm: None,
            };
            concerns(&evidence, None, Some(&battery))
        };
        assert!(matches!(
            of(18.8, 1)[..],
            [Concern::MoreBatteries { read_as, series: 1, .. }] if (read_as - 2.0).abs() < 1e-12
        ));
        for (volt, series) in [(9.9, 1), (18.8, 2), (28.2, 3), (9.4, 3)] {
            assert_eq!(of(volt, series), [], "{volt} V of {series}");
        }
    }
}
