//! A test of two readings: the resistance, and whether to take the battery to the show.

use crate::battery::kind::{Kind, Open, Sourced};
use crate::battery::resistance::{Level, Resistance, Verdict, matched_power_w, sag_v, verdict};
use crate::report::form::{Form, part};
use crate::report::layout::{told, under};
use crate::units::{Unit, rounded};

/// Taken where the kind is not known.
const NOMINAL_V: f64 = 9.0;

/// Two readings and their result.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Test {
    /// The reading with the load off, or light.
    pub light: Level,
    /// The reading under load.
    pub heavy: Level,
    /// The resistance.
    pub resistance: Resistance,
    /// The kind of battery, if it was said.
    pub kind: Option<Kind>,
}

impl Test {
    pub(super) fn verdict(&self) -> Verdict {
        let nominal_v = self.kind.map_or(NOMINAL_V, |kind| kind.nominal().value_v);
        verdict(self.heavy, self.resistance, nominal_v)
    }

    /// Returns the words on a kind by the voltage without load, where both are known.
    pub(super) fn open_words(&self) -> Option<String> {
        let kind = self.kind.filter(|_| self.light.current_a <= 0.0)?;
        Some(open(kind, self.light.volts_v))
    }
}

/// The test as lines of text.
pub fn text(test: &Test) -> String {
    let Resistance {
        ohm,
        uncertainty_ohm,
        pulse_s,
    } = test.resistance;
    let doubt = uncertainty_ohm.map_or_else(String::new, |ohm| {
        format!(
            " ± {} (standard, from the voltmeter's last digit)",
            rounded(ohm, Unit::Ohm, 2)
        )
    });
    let pulse = pulse_s.map_or_else(
        || "; time after the change of load not noted, and it matters".to_owned(),
        |pulse_s| {
            format!(
                "; {} after the change of load",
                rounded(pulse_s, Unit::Second, 2)
            )
        },
    );
    let mut out = String::new();
    told(
        &mut out,
        "resistance",
        &format!("{}{doubt}{pulse}", rounded(ohm, Unit::Ohm, 3)),
    );
    let current_a = test.heavy.current_a;
    told(
        &mut out,
        "under load",
        &format!(
            "at {} it falls by {} to {}",
            rounded(current_a, Unit::Ampere, 3),
            rounded(sag_v(ohm, current_a - test.light.current_a), Unit::Volt, 3),
            rounded(test.heavy.volts_v, Unit::Volt, 3)
        ),
    );
    let most_w = matched_power_w(test.light.volts_v + sag_v(ohm, test.light.current_a), ohm);
    told(
        &mut out,
        "at the most",
        &format!(
            "{} into a load, with as much lost inside the battery",
            rounded(most_w, Unit::Watt, 3)
        ),
    );
    if let Some(words) = test.open_words() {
        told(
            &mut out,
            "open",
            &rounded(test.light.volts_v, Unit::Volt, 3),
        );
        under(&mut out, &words);
    }
    if test.kind.is_some_and(Kind::has_converter) {
        told(&mut out, "verdict", "none of these readings shows it");
        under(
            &mut out,
            "Its converter holds the voltage until it stops: neither volts nor ohms say how much charge is left. Charge \
             it fully before the show, and know it by its log.",
        );
        return out;
    }
    told(&mut out, "verdict", words(test.verdict()));
    under(
        &mut out,
        "Lamps disappoint below 6.5 V under load (common practice, no source); the other limits are chosen: 7.8 V \
         and 4 ohm for a spare, 6 ohm to leave it, all for 9 V.",
    );
    out
}

fn open(kind: Kind, open_v: f64) -> String {
    let window = |figure: Option<Sourced>| {
        figure.map_or_else(String::new, |figure| {
            format!(
                "{} ({})",
                rounded(figure.value_v, Unit::Volt, 3),
                figure.source
            )
        })
    };
    let (low, high, name) = (
        window(kind.full_low()),
        window(kind.full_high()),
        kind.name(),
    );
    match kind.judge_open(open_v) {
        Open::Fresh => format!("As a fresh or full {name} battery has: at least {low}."),
        Open::PartUsed => format!("Below a fresh or full {name} battery: at least {low}."),
        Open::AnotherKind => format!("Not {name}: that has at most {high}."),
        Open::Unknown => format!("No figure is known to tell fresh from used {name} by."),
    }
}

const fn words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Take => "take it",
        Verdict::WithSpare => "take it, and a spare",
        Verdict::Leave => "leave it home",
    }
}

part! {
    /// The test for other programs.
    pub struct Json(test: &Test) {
        resistance_ohm: f64 = test.resistance.ohm,
        uncertainty_ohm: Option<f64> = test.resistance.uncertainty_ohm,
        pulse_s: Option<f64> = test.resistance.pulse_s,
        open_v: f64 = test.light.volts_v,
        light_current_a: f64 = test.light.current_a,
        loaded_v: f64 = test.heavy.volts_v,
        current_a: f64 = test.heavy.current_a,
        kind: Option<&'static str> = test.kind.map(Kind::name),
        verdict: Option<&'static str> =
            test.kind.is_none_or(|kind| !kind.has_converter()).then(|| words(test.verdict())),
    }
}

impl Form for Json {}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::resistance::two_level;

    fn test(open_v: f64, heavy_v: f64, kind: Option<Kind>) -> Test {
        let light = Level {
            volts_v: open_v,
            current_a: 0.0,
        };
        let heavy = Level {
            volts_v: heavy_v,
            current_a: 0.3,
        };
        Test {
            light,
            heavy,
            resistance: two_level(light, heavy, Some(1.0), Some(0.01)).unwrap(),
            kind,
        }
    }

    /// Invented readings.
    #[test]
    fn a_test_says_what_was_measured_and_what_to_do() {
        insta::assert_snapshot!(text(&test(9.42, 8.6, Some(Kind::Alkaline))), @"
        resistance    2.73 Ω ± 14 mΩ (standard, from the voltmeter's last digit); 1.0 s after the change
                      of load
        under load    at 300 mA it falls by 820 mV to 8.60 V
        at the most   8.12 W into a load, with as much lost inside the battery
        open          9.42 V
                      As a fresh or full alkaline battery has: at least 9.36 V (6 x 1.56 V, a maker's LR6
                      specification after IEC 60086-2).
        verdict       take it
                      Lamps disappoint below 6.5 V under load (common practice, no source); the other
                      limits are chosen: 7.8 V and 4 ohm for a spare, 6 ohm to leave it, all for 9 V.
        ");
    }

    #[test]
    fn a_voltage_that_no_battery_of_the_kind_has_is_told() {
        let said = text(&test(10.5, 9.6, Some(Kind::Alkaline)));
        assert!(
            said.contains("Not alkaline: that has at most 9.90 V"),
            "{said}"
        );
    }
}
