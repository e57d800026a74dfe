//! Everything known of a circuit that is not as it should be.

use super::quantity::{Quantity, Reading, Seen};
use super::situation::Situation;

/// Whether the build ran before.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum History {
    /// This is its first switching-on.
    Never,
    /// It ran well before.
    Ran,
    /// Nobody says.
    #[default]
    Unknown,
}

/// One reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// How the circuit stood.
    pub situation: Situation,
    /// The quantity that was read.
    pub quantity: Quantity,
    /// The reading.
    pub reading: Reading,
}

/// Steps already taken about the readings while somebody was asked for them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Steps {
    /// It was asked whether the build ran before.
    pub is_history_asked: bool,
    /// The primary's wires were swapped and are back as they were.
    pub is_put_back: bool,
}

/// How the build's LED is when nothing is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SoundLed {
    /// Nobody says: as with such builds, most of which light it.
    #[default]
    Usual,
    /// It was seen to light.
    Lit,
    /// It stays dark though the circuit oscillates.
    Dark,
}

/// All that is known; anything else is unknown and weighs nothing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Evidence {
    /// Whether it ran before.
    pub history: History,
    /// How its LED is when nothing is wrong.
    pub sound_led: SoundLed,
    /// The readings.
    pub observations: Vec<Observation>,
    /// The own voltages of several batteries in series, in volts, if they were read; empty if not. The lowest is weighed.
    pub battery_each_v: Vec<f64>,
    /// The step down of the battery's voltage that a recording has while the circuit ran on, in volts; `None` for none.
    pub supply_step_v: Option<f64>,
    /// Steps already taken about them.
    pub steps: Steps,
}

/// Tolerance of a voltage where none is given: this share of the reading, plus a number of volts.
const TOLERANCE_SHARE: f64 = 5e-3;
const TOLERANCE_V: f64 = 0.01;
/// Least current from which a battery's resistance is worth computing, in amperes.
const LEAST_LOAD_A: f64 = 5e-3;
/// Below these nothing can run: a meter's last digit, and less than a transistor's base needs.
const NO_LOAD_A: f64 = 1e-4;
const NO_SUPPLY_V: f64 = 0.3;
/// Doubt in a battery's resistance beside that of its readings, as a share: voltages are read one after the other.
const OHM_DOUBT: f64 = 0.1;

impl Evidence {
    /// Adds a reading; an earlier one of the same quantity in the same situation gives way, and with an LED's the period at
    /// which it blinked.
    pub fn add(&mut self, situation: Situation, quantity: Quantity, reading: Reading) {
        let gives_way = |known: Quantity| {
            known == quantity || quantity == Quantity::Led && known == Quantity::Blinking
        };
        self.observations
            .retain(|known| known.situation != situation || !gives_way(known.quantity));
        self.observations.push(Observation {
            situation,
            quantity,
            reading,
        });
    }

    /// Adds all that other evidence has; anything unknown there stays as it is.
    pub fn take(&mut self, other: Self) {
        if other.history != History::Unknown {
            self.history = other.history;
        }
        for seen in other.observations {
            self.add(seen.situation, seen.quantity, seen.reading);
        }
        if !other.battery_each_v.is_empty() {
            self.battery_each_v = other.battery_each_v;
        }
    }

    /// Whether it is still to be asked if the build ran before.
    pub fn asks_history(&self) -> bool {
        self.history == History::Unknown && !self.steps.is_history_asked
    }

    /// Returns the number of a reading in a situation, in the quantity's SI unit; `None` for a word or without a reading.
    pub fn number(&self, situation: Situation, quantity: Quantity) -> Option<f64> {
        match self.reading(situation, quantity)? {
            Reading::Value { value, .. } => Some(value),
            Reading::Seen(_) => None,
        }
    }

    /// Returns the reading of a quantity in a situation, if there is one; unpowered ones are the same in all.
    pub fn reading(&self, situation: Situation, quantity: Quantity) -> Option<Reading> {
        let mut found = self.observations.iter().filter(|known| {
            known.quantity == quantity && (known.situation == situation || quantity.is_unpowered())
        });
        found.next().map(|known| known.reading)
    }

    /// Returns the readings as they are weighed. Where the battery was read open, loaded and with its current, its resistance
    /// stands in place of the loaded voltage. It says the same, and says it of the battery alone.
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

    /// Returns the battery's resistance from its open and loaded voltage and its current, in ohms.
    fn battery_ohm(&self, situation: Situation) -> Option<Reading> {
        let of = |situation, quantity| match self.reading(situation, quantity)? {
            Reading::Value { value, tolerance } => Some((value, tolerance)),
            Reading::Seen(_) => None,
        };
        let volt = |(value, tolerance): (f64, Option<f64>)| {
            let usual = TOLERANCE_SHARE * f64::abs(value) + TOLERANCE_V;
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
        if supply_a < LEAST_LOAD_A || loaded_v - open_v > open_doubt_v + loaded_doubt_v {
            return None;
        }
        let value = ((open_v - loaded_v) / supply_a).max(0.05);
        let doubt = open_doubt_v.hypot(loaded_doubt_v) / supply_a;
        Some(Reading::Value {
            value,
            tolerance: Some(doubt.hypot(OHM_DOUBT * value)),
        })
    }

    /// Returns the readings of the build as it was found that can't all be true, in words. They are weighed all the same, each
    /// with its own doubt.
    pub fn clashes(&self) -> Vec<&'static str> {
        let number = |quantity| match self.reading(Situation::AsFound, quantity)? {
            Reading::Value { value, .. } => Some(value),
            Reading::Seen(_) => None,
        };
        let is_seen = |quantity, seen| {
            self.reading(Situation::AsFound, quantity) == Some(Reading::Seen(seen))
        };
        let (open_v, loaded_v) = (number(Quantity::BatteryOpen), number(Quantity::Battery));
        let rises_under_load = open_v.zip(loaded_v).is_some_and(|(open_v, loaded_v)| {
            loaded_v > open_v * (1.0 + 2.0 * TOLERANCE_SHARE) + 2.0 * TOLERANCE_V
        });
        let runs = is_seen(Quantity::Led, Seen::Lit) || number(Quantity::Frequency).is_some();
        let takes_nothing = number(Quantity::Current)
            .is_some_and(|supply_a| supply_a.abs() < NO_LOAD_A)
            || loaded_v.is_some_and(|loaded_v| loaded_v < NO_SUPPLY_V);
        let all = [
            (
                rises_under_load,
                "the battery reads more under load than open: read both again",
            ),
            (
                runs && takes_nothing,
                "it runs, and yet no current or no battery is read: read those again",
            ),
        ];
        all.into_iter()
            .filter_map(|(is_so, words)| is_so.then_some(words))
            .collect()
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
    fn readings_that_cannot_all_be_true_are_told() {
        let with = |readings: &[(Quantity, Reading)]| {
            let mut evidence = Evidence::default();
            for (quantity, reading) in readings {
                evidence.add(Situation::AsFound, *quantity, *reading);
            }
            evidence
        };
        let odd = with(&[
            (Quantity::BatteryOpen, Reading::value(8.0)),
            (Quantity::Battery, Reading::value(9.4)),
            (Quantity::Current, Reading::value(0.05)),
        ]);
        assert!(odd.clashes()[0].starts_with("the battery reads more under load"));
        let is_ohm = |seen: &Observation| seen.quantity == Quantity::BatteryOhm;
        assert!(!odd.weighed().iter().any(is_ohm), "no resistance of it");
        let lit = with(&[
            (Quantity::Led, Reading::Seen(Seen::Lit)),
            (Quantity::Current, Reading::value(0.0)),
        ]);
        assert!(lit.clashes()[0].starts_with("it runs, and yet no current"));
        let sound = with(&[
            (Quantity::BatteryOpen, Reading::value(9.40)),
            (Quantity::Battery, Reading::value(9.42)),
            (Quantity::Led, Reading::Seen(Seen::Lit)),
            (Quantity::Current, Reading::value(0.36)),
        ]);
        assert!(sound.clashes().is_empty());
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
