//! What can be read on a circuit, and the forms in which a person may say it.

use crate::units::Unit;

/// Something that can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Quantity {
    /// Supply current, in ampere; negative if it flows backwards.
    Current,
    /// The battery's voltage with the circuit switched on, in volt.
    Battery,
    /// The battery's voltage with nothing joined, in volt.
    BatteryOpen,
    /// The battery's resistance with all joints behind the place where its voltage is read, in ohm.
    BatteryOhm,
    /// Base against minus, in volt; to be trusted only while nothing oscillates.
    Base,
    /// Collector against minus, in volt.
    Collector,
    /// The light-emitting diode at the base: its mean current, in ampere.
    Led,
    /// A neon or fluorescent lamp beside the top: the top's voltage, in volt.
    Lamp,
    /// The transistor's heat: the power into its collector, in watt.
    Heat,
    /// Frequency, in hertz.
    Frequency,
    /// Frequency over that while it ran well.
    FrequencyRatio,
    /// Pick-up amplitude, or the lamp's reach, over that while it ran well.
    AmplitudeRatio,
    /// Whether it runs in bursts: the envelope's swing over its mean.
    Bursts,
    /// What touches it or stands near: the place in [`NEAR`].
    Near,
    /// How often the LED blinks: its period, in seconds. In a row, nothing or zero where it does not blink to the eye; the LED's
    /// current there is the one while it is lit. Bursts of an oscillation are far too quick to be seen.
    Blinking,
    /// The lowest of the own voltages of several batteries in series with nothing joined, in volts; negative for one that stands
    /// the wrong way round. In a row, nothing where the build has one battery.
    WeakestBattery,
    /// From the base's joint to the secondary's end at the top, power off, in ohm.
    FootToTop,
    /// From the bared wire behind that joint to the end at the top, power off, in ohm.
    WireToTop,
    /// A meter's diode test from base to minus, power off, in volt.
    BaseTest,
    /// The same the other way round, in volt.
    BaseTestBack,
    /// A meter's diode test from base to collector, power off, in volt.
    CollectorTest,
    /// A meter's diode test from collector to minus, power off, in volt.
    AcrossTest,
    /// A meter's diode test of the base's diode lifted out, red on its anode, in volt.
    LedTest,
    /// Primary, power off, in ohm.
    Primary,
    /// From the supply's plus to the base, battery out, in ohm.
    Bias,
    /// Frequency of the secondary when it is pinged, power off, in hertz.
    RingFrequency,
    /// Its quality factor then.
    RingQ,
}

/// How many quantities there are.
pub const COUNT: usize = Quantity::ALL.len();

/// The words a person may use where no number was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Seen {
    /// The diode or lamp stays dark.
    Dark,
    /// The diode glows faintly.
    Faint,
    /// The diode is lit as it should be.
    Lit,
    /// The diode goes on and off, slowly enough to be seen.
    Blinking,
    /// The lamp lights only where it touches the glass.
    Touching,
    /// The lamp lights beside the top.
    Near,
    /// The transistor stays cold.
    Cold,
    /// It becomes warm.
    Warm,
    /// A drop of water hisses on it or is gone within seconds, it smells or has discoloured, or it shows 90 °C: no finger finds out.
    Hot,
    /// No signal where a frequency should be.
    NoSignal,
    /// No conduction: a meter's sign for an open circuit.
    Open,
    /// It does so.
    Yes,
    /// It does not.
    No,
    /// Nothing touches it or stands near.
    Nothing,
    /// A hand on the battery's case.
    OnCase,
    /// A hand on the secondary's base wire or the base.
    OnWire,
    /// A hand or a body near the top.
    Body,
    /// Something that touches the top.
    AtTop,
    /// A lamp near the top.
    Lamp,
    /// Metal on or beside the top.
    Metal,
    /// A probe at the top.
    Probe,
}

/// All that may touch a build or stand near, nothing first.
pub const NEAR: [Seen; 8] = [
    Seen::Nothing,
    Seen::OnCase,
    Seen::OnWire,
    Seen::Body,
    Seen::AtTop,
    Seen::Lamp,
    Seen::Metal,
    Seen::Probe,
];

/// A reading in the form it was given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reading {
    /// A number in the quantity's SI unit, with how far it may be off; `None` for the usual.
    Value {
        /// The value.
        value: f64,
        /// Its tolerance, in the same unit.
        tolerance: Option<f64>,
    },
    /// A word.
    Seen(Seen),
}

impl Reading {
    /// A number with the usual tolerance.
    pub const fn value(value: f64) -> Self {
        Self::Value {
            value,
            tolerance: None,
        }
    }
}

/// How a quantity is entered, printed and compared.
#[derive(Debug, Clone, Copy)]
pub struct Form {
    /// The key in a file of answers, and the option's name with hyphens.
    pub key: &'static str,
    /// In words fit for a list.
    pub words: &'static str,
    /// The unit of a number; `None` if only words are taken or it is a plain ratio.
    pub unit: Option<Unit>,
    /// Least and greatest number that can be meant.
    pub range: (f64, f64),
    /// The words that may stand in place of a number.
    pub seen: &'static [Seen],
}

impl Seen {
    /// The word as it is typed.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Dark => "dark",
            Self::Faint => "faint",
            Self::Lit => "lit",
            Self::Blinking => "blinking",
            Self::Touching => "touching",
            Self::Near => "near",
            Self::Cold => "cold",
            Self::Warm => "warm",
            Self::Hot => "hot",
            Self::NoSignal => "none",
            Self::Open => "open",
            Self::Yes => "yes",
            Self::No => "no",
            Self::Nothing => "nothing",
            Self::OnCase => "case",
            Self::OnWire => "wire",
            Self::Body => "body",
            Self::AtTop => "touch",
            Self::Lamp => "lamp",
            Self::Metal => "metal",
            Self::Probe => "probe",
        }
    }
}

/// Voltage from which a meter's diode test shows an open circuit, in volt (chosen: handheld meters say so above 2 to 3 V).
pub const OPEN_TEST_V: f64 = 2.4;
/// Resistance from which a wire counts as broken, in ohm.
pub const OPEN_READ_OHM: f64 = 1e6;

impl Quantity {
    /// All of them.
    pub const ALL: [Self; 27] = [
        Self::Current,
        Self::Battery,
        Self::BatteryOpen,
        Self::BatteryOhm,
        Self::Base,
        Self::Collector,
        Self::Led,
        Self::Lamp,
        Self::Heat,
        Self::Frequency,
        Self::FrequencyRatio,
        Self::AmplitudeRatio,
        Self::Bursts,
        Self::Near,
        Self::Blinking,
        Self::WeakestBattery,
        Self::FootToTop,
        Self::WireToTop,
        Self::BaseTest,
        Self::BaseTestBack,
        Self::CollectorTest,
        Self::AcrossTest,
        Self::LedTest,
        Self::Primary,
        Self::Bias,
        Self::RingFrequency,
        Self::RingQ,
    ];

    /// Its place in a row of readings.
    pub const fn index(self) -> usize {
        self as usize
    }

    /// Whether it is read with the battery out: no situation changes it.
    pub const fn is_unpowered(self) -> bool {
        self.index() >= Self::FootToTop.index()
    }

    /// How it is entered and printed.
    #[rustfmt::skip]
    pub const fn form(self) -> Form {
        use Seen::{Blinking, Cold, Dark, Faint, Hot, Lit, Near, No, NoSignal, Open, Touching, Warm, Yes};
        const fn form(
            key: &'static str, words: &'static str, unit: Option<Unit>, range: (f64, f64), seen: &'static [Seen],
        ) -> Form {
            Form { key, words, unit, range, seen }
        }
        const OHM: (f64, f64) = (0.0, 1e9);
        const TEST: (f64, f64) = (0.0, 4.0);
        match self {
            Self::Current => form("current", "supply current", Some(Unit::Ampere), (-20.0, 20.0), &[]),
            Self::Battery => form("battery", "battery voltage, switched on", Some(Unit::Volt), (-60.0, 60.0), &[]),
            Self::BatteryOpen => form("battery_open", "battery voltage, nothing joined", Some(Unit::Volt), (-60.0, 60.0), &[]),
            Self::BatteryOhm => form("battery_resistance", "resistance of battery and joints", Some(Unit::Ohm), (0.0, 10e3), &[]),
            Self::Base => form("base", "base against minus", Some(Unit::Volt), (-60.0, 60.0), &[]),
            Self::Collector => form("collector", "collector against minus", Some(Unit::Volt), (-60.0, 60.0), &[]),
            Self::Led => form("led", "LED at the base", None, (0.0, 0.0), &[Dark, Faint, Lit, Blinking]),
            Self::Lamp => form("lamp", "neon or tube beside the top", None, (0.0, 0.0), &[Dark, Touching, Near]),
            Self::Heat => form("heat", "transistor", None, (0.0, 0.0), &[Cold, Warm, Hot]),
            Self::Frequency => form("frequency", "frequency", Some(Unit::Hertz), (1e4, 1e9), &[NoSignal]),
            Self::FrequencyRatio => form("frequency_change", "frequency against a good run", Some(Unit::Percent), (-0.9, 9.0), &[]),
            Self::AmplitudeRatio => form("amplitude_change", "pick-up or lamp's reach against a good run", Some(Unit::Percent), (-1.0, 9.0), &[]),
            Self::Bursts => form("bursts", "runs in bursts", None, (0.0, 0.0), &[Yes, No]),
            Self::Near => form("near", "what touches it or stands near", None, (0.0, 0.0), &NEAR),
            Self::Blinking => form("blinking", "period of the LED's blinking", Some(Unit::Second), (0.02, 600.0), &[]),
            Self::WeakestBattery => form("battery_each", "each battery's own voltage, nothing joined", Some(Unit::Volt), (-60.0, 60.0), &[]),
            Self::FootToTop => form("foot_to_top", "base joint to the top's wire end, battery out", Some(Unit::Ohm), OHM, &[Open]),
            Self::WireToTop => form("wire_to_top", "bared wire behind the foot joint to the top's wire end, battery out", Some(Unit::Ohm), OHM, &[Open]),
            Self::BaseTest => form("base_test", "diode test, red on base, black on minus", Some(Unit::Volt), TEST, &[Open]),
            Self::BaseTestBack => form("base_test_back", "diode test, black on base, red on minus", Some(Unit::Volt), TEST, &[Open]),
            Self::CollectorTest => form("collector_test", "diode test, red on base, black on collector", Some(Unit::Volt), TEST, &[Open]),
            Self::AcrossTest => form("across_test", "diode test, red on collector, black on minus", Some(Unit::Volt), TEST, &[Open]),
            Self::LedTest => form("led_test", "diode test of the base's diode lifted out, red on its anode", Some(Unit::Volt), TEST, &[Open]),
            Self::Primary => form("primary", "across the primary, battery out", Some(Unit::Ohm), OHM, &[Open]),
            Self::Bias => form("bias", "plus to base, battery out", Some(Unit::Ohm), OHM, &[Open]),
            Self::RingFrequency => form("ring_frequency", "secondary's own ring, battery out", Some(Unit::Hertz), (1e4, 1e9), &[NoSignal]),
            Self::RingQ => form("ring_q", "quality factor of that ring", None, (0.1, 10e3), &[]),
        }
    }

    /// Whether the entered number is a change against a good run, of which the ratio is kept.
    pub const fn is_change(self) -> bool {
        matches!(self, Self::FrequencyRatio | Self::AmplitudeRatio)
    }
}

/// What a computed circuit shows: one number for each quantity, not a number where there is nothing to read, and behind them
/// for each of [`BLURRED`] how far apart its fault's draws lie there, as a ratio.
pub type Row = [f32; COUNT + BLURRED.len()];

/// What is known from few draws, so that each stands for those between it and the next.
pub const BLURRED: [Quantity; 5] = [
    Quantity::Frequency,
    Quantity::Current,
    Quantity::Led,
    Quantity::Lamp,
    Quantity::Heat,
];

/// A row with nothing in it.
pub const NOTHING: Row = [f32::NAN; COUNT + BLURRED.len()];

/// How far apart draws lie in a quantity around a row, as a logarithm of a ratio; nothing where that is not known.
pub fn blur(row: &Row, quantity: Quantity) -> f64 {
    let place = BLURRED.iter().position(|known| *known == quantity);
    let blur = place.and_then(|place| row.get(COUNT + place));
    blur.filter(|blur| blur.is_finite())
        .map_or(0.0, |blur| f64::from(*blur))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_quantity_stands_at_its_place_and_has_a_key_of_its_own() {
        let mut keys = Vec::new();
        for (index, quantity) in Quantity::ALL.into_iter().enumerate() {
            assert_eq!(quantity.index(), index);
            keys.push(quantity.form().key);
        }
        keys.sort_unstable();
        keys.dedup();
        assert_eq!(keys.len(), COUNT);
    }
}
