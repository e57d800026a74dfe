//! The catalogue of checks: for a build with an LED at its base, and for one without any to look at.

use crate::caution::Caution;
use crate::diagnosis::quantity::Quantity as Q;
use crate::diagnosis::situation::Situation as S;

use CheckId as Id;

macro_rules! ids {
    ($($id:ident $key:literal $trouble:literal;)*) => {
        /// Which check it is.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum CheckId {
            $(#[doc = $key] $id),*
        }

        const COUNT: usize = [$($key),*].len();

        impl CheckId {
            /// Returns its name in files, and its trouble, swapping two wires being 1 (own estimate).
            const fn key_and_trouble(self) -> (&'static str, f64) {
                match self {
                    $(Self::$id => ($key, $trouble)),*
                }
            }
        }
    };
}

ids! {
    LookLed "look-led" 0.3;
    LookLamp "look-lamp" 0.5;
    SwapLeads "swap-leads" 1.0;
    SwappedCurrent "swapped-current" 1.2;
    HandsAway "hands-away" 0.4;
    HandsAwayFrequency "hands-away-frequency" 1.9;
    WhatIsNear "what-is-near" 0.4;
    BatteryOpen "battery-open" 0.4;
    BatteryEach "battery-each" 0.6;
    BatteryLoaded "battery-loaded" 0.7;
    Current "current" 1.0;
    Heat "heat" 0.5;
    BaseCollector "base-collector" 0.9;
    Frequency "frequency" 1.5;
    FootOhms "foot-ohms" 0.7;
    WireOhms "wire-ohms" 0.8;
    BaseDiodes "base-diodes" 0.9;
    TransistorDiodes "transistor-diodes" 1.0;
    LedOut "led-out" 1.5;
    PrimaryOhms "primary-ohms" 0.7;
    BiasOhms "bias-ohms" 0.7;
    Ring "ring" 3.0;
    FreshBattery "fresh-battery" 1.0;
    PrimaryOnFoot "primary-on-foot" 1.0;
    BallOnTop "ball-on-top" 1.2;
    Nudge "nudge" 1.2;
    OtherTransistor "other-transistor" 5.0;
}

const POWER_OFF: &str = Caution::Unplug.words();
const LIMITED: &str = Caution::FirstPower.words();
const NOT_AT_TOP: &str = Caution::Probe.words();
const LAMP_AWAY: &str = Caution::LampDistance.words();

/// Every check of a build with an LED at its base.
pub const CHECKS: &[Check] = &all(true);
/// Every check of a build whose diode never glows, or that has none: a lamp beside the top stands in for it.
pub const WITHOUT_LED: &[Check] = {
    let [_look_at_the_led, rest @ ..] = &all(false);
    rest
};

impl Check {
    /// Whether something is unsoldered for it: it needs a soldering iron.
    pub const fn unsolders(&self) -> bool {
        matches!(self.id, Id::LedOut | Id::OtherTransistor)
    }

    /// Whether it is made with the battery unplugged.
    pub fn is_unpowered(&self) -> bool {
        let mut reads = self.reads.iter();
        reads.all(|quantity| {
            quantity.is_unpowered() || matches!(quantity, Q::BatteryOpen | Q::WeakestBattery)
        })
    }
}

/// Returns how the checks are made that differ: swap, hands away, fresh battery, primary on the foot, ball, nudge, other
/// transistor, diode out.
#[rustfmt::skip]
const fn how(has_led: bool) -> [&'static str; 8] {
    if has_led {
        [
            "the wire at the collector goes to plus and the one at plus to the collector; switch on and look at the LED",
            "nothing within three coil lengths of the top, the battery on the table and not in a hand; then look at the LED",
            "look at the LED and read its voltage switched on",
            "as low and as close round the secondary as it goes, then look at the LED",
            "set it on with the battery out; the coil then resonates lower, where the transistor is quicker",
            "bridge the bias resistor with it, on two insulated test leads, and take it away: if the LED stays lit, the circuit is marginal, not faulty",
            "the same pinout; then look at the LED",
            "unsolder one of its legs; red on the anode, the longer leg: a red one shows about 1.6 V and glows",
        ]
    } else {
        [
            "the wire at the collector goes to plus and the one at plus to the collector; switch on and hold a neon beside the top",
            "nothing but a neon on a dry plastic stick within three coil lengths of the top, the battery on the table and not in a hand",
            "hold a neon beside the top and read its voltage switched on",
            "as low and as close round the secondary as it goes, then hold a neon beside the top",
            "set it on with the battery out; the coil then resonates lower, where the transistor is quicker; a neon beside the top shows it",
            "bridge the bias resistor with it, on two insulated test leads, and take it away: if a neon beside the top stays lit, the circuit is \
             marginal, not faulty",
            "the same pinout; then hold a neon beside the top",
            "unsolder one of its legs; red on the anode, the end without the ring: a silicon one shows about 0.6 V",
        ]
    }
}

#[rustfmt::skip]
const fn all(has_led: bool) -> [Check; COUNT] {
    const fn check(
        id: Id, situation: S, reads: &'static [Q],
        words: &'static str, how: &'static str, caution: &'static str,
    ) -> Check {
        let (key, trouble) = id.key_and_trouble();
        Check { id, key, words, how, caution, situation, reads, trouble }
    }
    let light: &[Q] = if has_led { &[Q::Led] } else { &[Q::Lamp] };
    let [swap, hands_away, fresh, on_foot, ball, nudge, other, diode_out] = how(has_led);
    let fresh_reads: &[Q] = if has_led { &[Q::Led, Q::Battery] } else { &[Q::Lamp, Q::Battery] };
    [
        check(Id::LookLed, S::AsFound, &[Q::Led], "look at the LED",
            "switch on for a second and look: dark, faint, lit or blinking", ""),
        check(Id::LookLamp, S::AsFound, &[Q::Lamp], "hold a neon lamp or tube beside the top",
            "on a dry plastic stick, at arm's length of the rest; dark, lit only touching the glass to the wire's side, or lit beside it",
            LAMP_AWAY),
        check(Id::SwapLeads, S::LeadsSwapped, light, "swap the two primary wires", swap, POWER_OFF),
        check(Id::SwappedCurrent, S::LeadsSwapped, &[Q::Current, Q::Lamp],
            "with the wires as they are now, swapped: the supply current and a neon beside the top",
            "they say whether it runs so; meter in the plus lead, the lamp on a dry plastic stick",
            LIMITED),
        check(Id::HandsAway, S::HandsAway, light, "hands, lamps and metal away", hands_away,
            if has_led { "" } else { LAMP_AWAY }),
        check(Id::HandsAwayFrequency, S::HandsAway, &[Q::Frequency], "the frequency with hands, lamps and metal away",
            "nothing within three coil lengths of the top, the battery on the table; a stub, 5 cm of open wire, that far away on a counter or a probe",
            NOT_AT_TOP),
        check(Id::WhatIsNear, S::AsFound, &[Q::Near], "what touches it or stands near",
            "a hand on the battery's case, a finger on the base's wire, somebody, a lamp or metal beside the top: as it is when it fails",
            Caution::NotToTry.words()),
        check(Id::BatteryOpen, S::AsFound, &[Q::BatteryOpen], "the battery's voltage, nothing connected",
            "at its clips, circuit unplugged", ""),
        check(Id::BatteryEach, S::AsFound, &[Q::WeakestBattery], "each battery's own voltage, nothing connected",
            "circuit unplugged, red on each one's end towards plus: a minus sign is one that stands the wrong way round", ""),
        check(Id::BatteryLoaded, S::AsFound, &[Q::Battery], "the battery's voltage while it is switched on",
            "meter at the battery's clips, its leads away from the coil", ""),
        check(Id::Current, S::AsFound, &[Q::Current], "the supply current",
            "meter in the plus lead, on its ampere range first; ten seconds on at most", LIMITED),
        check(Id::Heat, S::AsFound, &[Q::Heat], "whether the transistor becomes hot",
            "ten seconds on, switch off, battery out; never a finger. Hot: it smells, has discoloured, or a drop of water on its case hisses or \
             is gone within seconds. With an infrared thermometer on a spot of dull tape: cold below 40 °C, hot above 90 °C, warm between. \
             Neither to hand: unknown",
            Caution::HotParts.words()),
        check(Id::BaseCollector, S::AsFound, &[Q::Base, Q::Collector], "base and collector against minus",
            "with the secondary's foot in place, ten seconds on at most; of use only while nothing oscillates", NOT_AT_TOP),
        check(Id::Frequency, S::AsFound, &[Q::Frequency], "the frequency, or that there is none",
            "a stub, 5 cm of open wire, three coil lengths away on a counter or a probe; nearer if it counts nothing", NOT_AT_TOP),
        check(Id::FootOhms, S::AsFound, &[Q::FootToTop], "ohms from the base's joint to the top's wire end",
            "one lead on the solder at the base, one on the bare end at the top", POWER_OFF),
        check(Id::WireOhms, S::AsFound, &[Q::WireToTop], "ohms from the bared wire behind the foot joint to the top",
            "bare the enamel 5 mm further along the wire and touch there, not on the solder", POWER_OFF),
        check(Id::BaseDiodes, S::AsFound, &[Q::BaseTest, Q::BaseTestBack], "diode test from base to minus, both ways",
            "red on base shows the transistor, black on base the diode beside it", POWER_OFF),
        check(Id::TransistorDiodes, S::AsFound, &[Q::CollectorTest, Q::AcrossTest],
            "diode test from base to collector and from collector to minus",
            "about 0.65 V and nothing in a sound one", POWER_OFF),
        check(Id::LedOut, S::AsFound, &[Q::LedTest],
            if has_led { "diode test of the LED lifted out" } else { "diode test of the base's diode lifted out" },
            diode_out, POWER_OFF),
        check(Id::PrimaryOhms, S::AsFound, &[Q::Primary], "ohms across the primary",
            "less than half an ohm if it is whole", POWER_OFF),
        check(Id::BiasOhms, S::AsFound, &[Q::Bias], "ohms from plus to base",
            "red on plus; about the bias resistor's value", POWER_OFF),
        check(Id::Ring, S::AsFound, &[Q::RingFrequency, Q::RingQ], "ring test of the secondary",
            "ping it through a loop with a square wave, look with another loop: its frequency and how fast it dies away", POWER_OFF),
        check(Id::FreshBattery, S::FreshBattery, fresh_reads, "a fresh battery", fresh,
            if has_led { "" } else { LAMP_AWAY }),
        check(Id::PrimaryOnFoot, S::PrimaryOnFoot, light, "push the primary onto the foot", on_foot, POWER_OFF),
        check(Id::BallOnTop, S::BallOnTop, light, "a 10-20 mm metal ball on the top", ball,
            Caution::Touch.words()),
        check(Id::Nudge, S::Nudged, light, "10 kΩ beside the bias resistor for a second", nudge,
            Caution::OneHand.words()),
        check(Id::OtherTransistor, S::OtherTransistor, light, "another transistor of the same type", other, POWER_OFF),
    ]
}

/// A check that can be made.
#[derive(Debug, Clone, Copy)]
pub struct Check {
    /// Which it is.
    pub id: CheckId,
    /// Its name in files.
    pub key: &'static str,
    /// In words, as a thing to do.
    pub words: &'static str,
    /// The way to do it, and its cautions.
    pub how: &'static str,
    /// The caution that goes with it; empty where none does.
    pub caution: &'static str,
    /// How the circuit stands.
    pub situation: S,
    /// The quantities that it reads.
    pub reads: &'static [Q],
    /// Trouble, swapping two wires being 1 (own estimate).
    pub trouble: f64,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_build_without_an_led_has_the_same_checks_and_none_that_looks_at_one() {
        assert_eq!(WITHOUT_LED.len() + 1, CHECKS.len());
        for (with, without) in CHECKS.iter().skip(1).zip(WITHOUT_LED) {
            assert_eq!(with.key, without.key);
            assert!(!without.reads.contains(&Q::Led), "{}", without.key);
            let text = format!("{} {} {}", without.words, without.how, without.caution);
            assert!(!text.contains("LED"), "{text}");
        }
    }

    #[test]
    fn what_is_read_with_the_battery_out_is_known_and_so_is_what_is_unsoldered() {
        let keys = |is: fn(&Check) -> bool| -> Vec<&str> {
            CHECKS
                .iter()
                .filter(|check| is(check))
                .map(|check| check.key)
                .collect()
        };
        assert_eq!(
            keys(Check::is_unpowered),
            [
                "battery-open",
                "battery-each",
                "foot-ohms",
                "wire-ohms",
                "base-diodes",
                "transistor-diodes",
                "led-out",
                "primary-ohms",
                "bias-ohms",
                "ring"
            ]
        );
        assert_eq!(keys(Check::unsolders), ["led-out", "other-transistor"]);
    }
}
