//! The quantities that can be read on a circuit, and the forms in which a person may give them.

use crate::units::{Span, Unit};
use Seen::{Blinking, Cold, Dark, Faint, Hot, Lit, Near, No, NoSignal, Open, Touching, Warm, Yes};

macro_rules! quantities {
    ($($(#[doc = $doc:literal])* $id:ident = $form:expr;)*) => {
        /// Something that can be read.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Quantity {
            $($(#[doc = $doc])* $id),*
        }

        /// How many quantities there are.
        pub const COUNT: usize = [$(stringify!($id)),*].len();

        impl Quantity {
            /// All of them.
            pub const ALL: [Self; COUNT] = [$(Self::$id),*];

            /// Returns how it is entered and printed.
            pub const fn form(self) -> Form {
                match self {
                    $(Self::$id => $form),*
                }
            }
        }
    };
}

const OHM: (f64, f64) = (0.0, 1e9);
const TEST: (f64, f64) = (0.0, 4.0);

const fn form(
    key: &'static str,
    words: &'static str,
    unit: Option<Unit>,
    (low, high): (f64, f64),
    seen: &'static [Seen],
) -> Form {
    Form {
        key,
        words,
        unit,
        range: Span::new(low, high),
        seen,
    }
}

quantities! {
    /// Supply current, in amperes; negative if it flows backwards.
    Current = form("current", "supply current", Some(Unit::Ampere), (-20.0, 20.0), &[]);
    /// The battery's voltage with the circuit switched on, in volts.
    Battery = form("battery", "battery voltage, switched on", Some(Unit::Volt), (-60.0, 60.0), &[]);
    /// The battery's voltage with nothing joined, in volts.
    BatteryOpen = form("battery_open", "battery voltage, nothing joined", Some(Unit::Volt), (-60.0, 60.0), &[]);
    /// The battery's resistance with all joints behind the place where its voltage is read, in ohms.
    BatteryOhm = form("battery_resistance", "resistance of battery and joints", Some(Unit::Ohm), (0.0, 10e3), &[]);
    /// Base against minus, in volts; to be trusted only while nothing oscillates.
    Base = form("base", "base against minus", Some(Unit::Volt), (-60.0, 60.0), &[]);
    /// Collector against minus, in volts.
    Collector = form("collector", "collector against minus", Some(Unit::Volt), (-60.0, 60.0), &[]);
    /// The light-emitting diode at the base: its mean current, in amperes.
    Led = form("led", "LED at the base", None, (0.0, 0.0), &[Dark, Faint, Lit, Blinking]);
    /// A neon or fluorescent lamp beside the top: the top's voltage, in volts.
    Lamp = form("lamp", "neon or tube beside the top", None, (0.0, 0.0), &[Dark, Touching, Near]);
    /// The transistor's heat: the power into its collector, in watts.
    Heat = form("heat", "transistor", None, (0.0, 0.0), &[Cold, Warm, Hot]);
    /// Frequency, in hertz.
    Frequency = form("frequency", "frequency", Some(Unit::Hertz), (1e4, 1e9), &[NoSignal]);
    /// Frequency over that while it ran well.
    FrequencyRatio = form("frequency_change", "frequency against a good run", Some(Unit::Percent), (-0.9, 9.0), &[]);
    /// Pick-up amplitude, or the lamp's reach, over that while it ran well.
    AmplitudeRatio = form("amplitude_change", "pick-up or lamp's reach against a good run", Some(Unit::Percent), (-1.0, 9.0), &[]);
    /// Whether it runs in bursts: the envelope's swing over its mean.
    Bursts = form("bursts", "runs in bursts", None, (0.0, 0.0), &[Yes, No]);
    /// The object that touches it or stands near: the place in [`NEAR`].
    Near = form("near", "what touches it or stands near", None, (0.0, 0.0), &NEAR);
    /// How often the LED blinks: its period, in seconds. In a row, nothing or zero where it does not blink to the eye; the LED's
    /// current there is the one while it is lit. Bursts of an oscillation are far too quick to be seen.
    Blinking = form("blinking", "period of the LED's blinking", Some(Unit::Second), (0.02, 600.0), &[]);
    /// The lowest of the own voltages of several batteries in series with nothing joined, in volts; negative for one that stands
    /// the wrong way round. In a row, nothing where the build has one battery.
    WeakestBattery = form("battery_each", "each battery's own voltage, nothing joined", Some(Unit::Volt), (-60.0, 60.0), &[]);
    /// From the base's joint to the secondary's end at the top, power off, in ohms.
    FootToTop = form("foot_to_top", "base joint to the top's wire end, battery out", Some(Unit::Ohm), OHM, &[Open]);
    /// From the bared wire behind that joint to the end at the top, power off, in ohms.
    WireToTop = form("wire_to_top", "bared wire behind the foot joint to the top's wire end, battery out", Some(Unit::Ohm), OHM, &[Open]);
    /// A meter's diode test from base to minus, power off, in volts.
    BaseTest = form("base_test", "diode test, red on base, black on minus", Some(Unit::Volt), TEST, &[Open]);
    /// The same the other way round, in volts.
    BaseTestBack = form("base_test_back", "diode test, black on base, red on minus", Some(Unit::Volt), TEST, &[Open]);
    /// A meter's diode test from base to collector, power off, in volts.
    CollectorTest = form("collector_test", "diode test, red on base, black on collector", Some(Unit::Volt), TEST, &[Open]);
    /// A meter's diode test from collector to minus, power off, in volts.
    AcrossTest = form("across_test", "diode test, red on collector, black on minus", Some(Unit::Volt), TEST, &[Open]);
    /// A meter's diode test of the base's diode lifted out, red on its anode, in volts.
    LedTest = form("led_test", "diode test of the base's diode lifted out, red on its anode", Some(Unit::Volt), TEST, &[Open]);
    /// Primary, power off, in ohms.
    Primary = form("primary", "across the primary, battery out", Some(Unit::Ohm), OHM, &[Open]);
    /// From the supply's plus to the base, battery out, in ohms.
    Bias = form("bias", "plus to base, battery out", Some(Unit::Ohm), OHM, &[Open]);
    /// Frequency of the secondary when it is pinged, power off, in hertz.
    RingFrequency = form("ring_frequency", "secondary's own ring, battery out", Some(Unit::Hertz), (1e4, 1e9), &[NoSignal]);
    /// Its quality factor then.
    RingQ = form("ring_q", "quality factor of that ring", None, (0.1, 10e3), &[]);
}

macro_rules! words {
    ($($(#[doc = $doc:literal])* $id:ident $word:literal;)*) => {
        /// The words a person may use where no number was read.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum Seen {
            $($(#[doc = $doc])* $id),*
        }

        impl Seen {
            /// Returns the word as it is typed.
            pub const fn word(self) -> &'static str {
                match self {
                    $(Self::$id => $word),*
                }
            }
        }
    };
}

words! {
    /// The diode or lamp stays dark.
    Dark "dark";
    /// The diode glows faintly.
    Faint "faint";
    /// The diode is lit as it should be.
    Lit "lit";
    /// The diode goes on and off, slowly enough to be seen.
    Blinking "blinking";
    /// The lamp lights only where it touches the glass.
    Touching "touching";
    /// The lamp lights beside the top.
    Near "near";
    /// The transistor stays cold.
    Cold "cold";
    /// It becomes warm.
    Warm "warm";
    /// A drop of water hisses on it or is gone within seconds, it smells or has discoloured, or it shows 90 °C: no finger finds
    /// out.
    Hot "hot";
    /// No signal where a frequency should be.
    NoSignal "none";
    /// No conduction: a meter's sign for an open circuit.
    Open "open";
    /// It does so.
    Yes "yes";
    /// It does not.
    No "no";
    /// Nothing touches it or stands near.
    Nothing "nothing";
    /// A hand on the battery's case.
    OnCase "case";
    /// A hand on the secondary's base wire or the base.
    OnWire "wire";
    /// A hand or a body near the top.
    Body "body";
    /// Something that touches the top.
    AtTop "touch";
    /// A lamp near the top.
    Lamp "lamp";
    /// Metal on or beside the top.
    Metal "metal";
    /// A probe at the top.
    Probe "probe";
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
    /// Creates a number with the usual tolerance.
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
    pub range: Span,
    /// The words that may stand in place of a number.
    pub seen: &'static [Seen],
}

/// Voltage from which a meter's diode test shows an open circuit, in volts (chosen: handheld meters say so above 2 to 3 V).
pub const OPEN_TEST_V: f64 = 2.4;
/// Resistance from which a wire counts as broken, in ohms.
pub const OPEN_READ_OHM: f64 = 1e6;

impl Quantity {
    /// Returns its place in a row of readings.
    pub const fn index(self) -> usize {
        self as usize
    }

    /// Whether it is read with the battery out: no situation changes it.
    pub const fn is_unpowered(self) -> bool {
        self.index() >= Self::FootToTop.index()
    }

    /// Whether the entered number is a change against a good run, of which the ratio is kept.
    pub const fn is_change(self) -> bool {
        matches!(self, Self::FrequencyRatio | Self::AmplitudeRatio)
    }
}

/// The values of a computed circuit: one number for each quantity, NaN where there is nothing to read. Behind them stands, for
/// each of [`BLURRED`], the distance between its fault's draws there, as a ratio.
pub type Row = [f32; COUNT + BLURRED.len()];

/// The quantities known from few draws, so that each stands for those between it and the next.
pub const BLURRED: [Quantity; 5] = [
    Quantity::Frequency,
    Quantity::Current,
    Quantity::Led,
    Quantity::Lamp,
    Quantity::Heat,
];

/// A row with nothing in it.
pub const NOTHING: Row = [f32::NAN; COUNT + BLURRED.len()];

/// Returns how far apart draws lie in a quantity around a row, as a logarithm of a ratio; nothing where that is not known.
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
