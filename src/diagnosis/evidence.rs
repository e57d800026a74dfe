//! What is known of a circuit that is not as it should be.

use super::quantity::{Quantity, Reading};
use super::situation::Situation;

/// Whether the build ran before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum History {
    /// This is its first switching-on.
    Never,
    /// It ran well before.
    Ran,
    /// Nobody says.
    Unknown,
}

/// One reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// How the circuit stood.
    pub situation: Situation,
    /// What was read.
    pub quantity: Quantity,
    /// The reading.
    pub reading: Reading,
}

/// All that is known; what is not in it is unknown and weighs nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// Whether it ran before.
    pub history: History,
    /// The readings.
    pub observations: Vec<Observation>,
}

/// Tolerance of a voltage where none is told: of the reading, and in volt.
const VOLT_TOLERANCE: (f64, f64) = (5e-3, 0.01);
/// Least current from which a battery's resistance is worth computing, in ampere.
const LEAST_LOAD_A: f64 = 5e-3;
/// Doubt in a battery's resistance beside that of its readings, as a share: voltages are read one after the other.
const OHM_DOUBT: f64 = 0.1;

impl Default for Evidence {
    fn default() -> Self {
        Self {
            history: History::Unknown,
            observations: Vec::new(),
        }
    }
}

impl Evidence {
    /// Adds a reading; an earlier one of the same quantity in the same situation gives way.
    pub fn add(&mut self, situation: Situation, quantity: Quantity, reading: Reading) {
        self.observations
            .retain(|known| (known.situation, known.quantity) != (situation, quantity));
        self.observations.push(Observation {
            situation,
            quantity,
            reading,
        });
    }

    /// The reading of a quantity in a situation, if there is one; unpowered ones are the same in all.
    pub fn reading(&self, situation: Situation, quantity: Quantity) -> Option<Reading> {
        let mut found = self.observations.iter().filter(|known| {
            known.quantity == quantity && (known.situation == situation || quantity.is_unpowered())
        });
        found.next().map(|known| known.reading)
    }

    /// The readings as they are weighed: where the battery was read open, loaded and with its current, its resistance
    /// stands in place of the loaded voltage, which says the same and says it of the battery alone.
    pub fn weighed(&self) -> Vec<Observation> {
        let mut weighed = self.observations.clone();
        for seen in &mut weighed {
            if seen.quantity == Quantity::Battery
                && let Some(reading) = self.battery_ohm(seen.situation)
            {
                seen.quantity = Quantity::BatteryOhm;
                seen.reading = reading;
            }
        }
        weighed
    }

    /// The battery's resistance from its open and loaded voltage and its current, in ohm.
    fn battery_ohm(&self, situation: Situation) -> Option<Reading> {
        let of = |situation, quantity| match self.reading(situation, quantity)? {
            Reading::Value { value, tolerance } => Some((value, tolerance)),
            Reading::Seen(_) => None,
        };
        let volt = |(value, tolerance): (f64, Option<f64>)| {
            let usual = VOLT_TOLERANCE.0 * f64::abs(value) + VOLT_TOLERANCE.1;
            (value, tolerance.unwrap_or(usual))
        };
        let (loaded_v, loaded_doubt_v) = volt(of(situation, Quantity::Battery)?);
        let open = of(situation, Quantity::BatteryOpen);
        let as_found = || of(Situation::AsFound, Quantity::BatteryOpen);
        let open = match situation {
            Situation::FreshBattery => open,
            _ => open.or_else(as_found),
        };
        let (open_v, open_doubt_v) = volt(open?);
        let (supply_a, _) = of(situation, Quantity::Current)?;
        if supply_a < LEAST_LOAD_A {
            return None;
        }
        let value = ((open_v - loaded_v) / supply_a).max(0.05);
        let doubt = open_doubt_v.hypot(loaded_doubt_v) / supply_a;
        Some(Reading::Value {
            value,
            tolerance: Some(doubt.hypot(OHM_DOUBT * value)),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_battery_read_open_and_loaded_is_weighed_by_its_resistance() {
        let mut evidence = Evidence::default();
        let found = Situation::AsFound;
        evidence.add(found, Quantity::BatteryOpen, Reading::value(8.6));
        evidence.add(found, Quantity::Battery, Reading::value(5.88));
        evidence.add(found, Quantity::Current, Reading::value(0.248));
        let weighed = evidence.weighed();
        let ohm = weighed
            .iter()
            .find(|seen| seen.quantity == Quantity::BatteryOhm)
            .unwrap();
        // By hand: (8.6 - 5.88) / 0.248 = 10.97.
        assert!(
            matches!(ohm.reading, Reading::Value { value, .. } if (value - 10.97).abs() < 0.01)
        );
        assert_eq!(weighed.len(), 3);
    }

    #[test]
    fn a_second_reading_of_the_same_takes_the_first_ones_place() {
        let mut evidence = Evidence::default();
        for value in [0.4, 0.5] {
            evidence.add(Situation::AsFound, Quantity::Current, Reading::value(value));
        }
        assert_eq!(evidence.observations.len(), 1);
    }
}
