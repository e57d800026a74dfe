//! `good-day.toml`: a build's good day as a file that stands beside the session it was measured in.

use crate::coil::fit::Amount;
use crate::coil::good_day::GoodDay;
use crate::coil::surroundings::EarthState;
use crate::faults::{self, Faults, Table};
use crate::units::{Unit, exact};

use super::named;

/// A good day with its build and session.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptDay {
    /// The build's name.
    pub build: String,
    /// When its session began, as the session says.
    pub started: String,
    /// Whether that session was invented by a virtual bench.
    pub simulated: bool,
    /// The good day.
    pub day: GoodDay,
}

/// The keys of an amount.
const CIRCUIT: &str = "circuit_size";
const TOP: &str = "top_capacitance";
const FORMER: &str = "former_shift";
const WINDING: &str = "winding_shift";

impl KeptDay {
    /// The file's text, schema 1; [`parse`] reads it back to the last bit.
    pub fn text(&self) -> String {
        let quoted = |text: &str| toml::Value::String(text.to_owned()).to_string();
        let day = &self.day;
        let mut lines = vec![
            "# A good day of this build: what was measured, and the one thing that explains it."
                .to_owned(),
            "# Later sessions are judged against it with: sagtrace compare SESSION --good-day FILE"
                .to_owned(),
            "schema = 1".to_owned(),
            format!("build = {}", quoted(&self.build)),
            format!("started = {}", quoted(&self.started)),
            format!("simulated = {}", self.simulated),
            format!("earth = \"{}\"", day.earth.name()),
            format!("frequency = \"{}\"", exact(day.measured_hz, Unit::Hertz)),
        ];
        lines.extend(
            day.half_width_hz
                .map(|half_hz| format!("half_width = \"{}\"", exact(half_hz, Unit::Hertz))),
        );
        lines.push(match day.amount {
            Amount::Circuit { diameter_m } => {
                format!("{CIRCUIT} = \"{}\"", exact(diameter_m, Unit::Metre))
            }
            Amount::Top { capacitance_f } => {
                format!("{TOP} = \"{}\"", exact(capacitance_f, Unit::Farad))
            }
            Amount::Former { shift } => format!("{FORMER} = {shift:?}"),
            Amount::Winding { shift } => format!("{WINDING} = {shift:?}"),
        });
        lines.join("\n") + "\n"
    }
}

/// Reads a good day of schema 1.
///
/// # Errors
/// [`Faults`] with every fault at once: each with its line, key, the text found and the text expected.
pub fn parse(text: &str) -> Result<KeptDay, Faults> {
    faults::read(text, read)
}

fn read(top: &Table<'_>) -> Option<KeptDay> {
    let schema = top
        .need("schema", "expected schema = 1")
        .and_then(|entry| entry.integer(1..=1));
    let build = top
        .need("build", "expected the build's name")
        .and_then(|entry| named(&entry));
    let started = top
        .need("started", "expected when its session began")
        .and_then(|entry| entry.text().map(str::to_owned));
    let simulated = top
        .need("simulated", "expected true or false")
        .and_then(|entry| entry.flag());
    let earth = top
        .need("earth", "expected standing, held, clipped or earthed")
        .and_then(|entry| entry.choice(&EarthState::WORDS));
    let measured_hz = top
        .need("frequency", "expected the measured resonance")
        .and_then(|entry| entry.quantity(Unit::Hertz, 1e3..=1e9));
    let half_width_hz = super::optional(top.entry("half_width"), |entry| {
        entry.quantity(Unit::Hertz, 0.0..=1e8)
    });
    let amount = amount(top);
    schema?;
    Some(KeptDay {
        build: build?,
        started: started?,
        simulated: simulated?,
        day: GoodDay {
            earth: earth?,
            measured_hz: measured_hz?,
            half_width_hz: half_width_hz?,
            amount: amount?,
        },
    })
}

/// The one amount; none, or more than one, is a fault.
fn amount(top: &Table<'_>) -> Option<Amount> {
    let circuit = top.entry(CIRCUIT).map(|entry| {
        let diameter_m = entry.quantity(Unit::Metre, 1e-3..=2.0)?;
        Some(Amount::Circuit { diameter_m })
    });
    let load = top.entry(TOP).map(|entry| {
        let capacitance_f = entry.quantity(Unit::Farad, 0.0..=1e-9)?;
        Some(Amount::Top { capacitance_f })
    });
    let former = top.entry(FORMER).map(|entry| {
        let shift = entry.number(-0.9..=0.9)?;
        Some(Amount::Former { shift })
    });
    let winding = top.entry(WINDING).map(|entry| {
        let shift = entry.number(-0.9..=0.9)?;
        Some(Amount::Winding { shift })
    });
    let told: Vec<_> = [circuit, load, former, winding]
        .into_iter()
        .flatten()
        .collect();
    if let [amount] = told[..] {
        return amount;
    }
    let allowed = format!("expected one of {CIRCUIT}, {TOP}, {FORMER} and {WINDING}");
    top.fault(&format!("{} explanations", told.len()), &allowed);
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Invented.
    fn kept(amount: Amount) -> KeptDay {
        KeptDay {
            build: "glow \"pillar\"".to_owned(),
            started: "2026-01-31T19:04:05.000Z".to_owned(),
            simulated: false,
            day: GoodDay {
                earth: EarthState::Standing,
                measured_hz: 7.01e6,
                half_width_hz: Some(12.5),
                amount,
            },
        }
    }

    #[test]
    fn a_good_day_is_written_as_a_person_reads_it() {
        insta::assert_snapshot!(kept(Amount::Top { capacitance_f: 0.12e-12 }).text(), @r#"
        # A good day of this build: what was measured, and the one thing that explains it.
        # Later sessions are judged against it with: sagtrace compare SESSION --good-day FILE
        schema = 1
        build = 'glow "pillar"'
        started = "2026-01-31T19:04:05.000Z"
        simulated = false
        earth = "standing"
        frequency = "7.01 MHz"
        half_width = "12.5 Hz"
        top_capacitance = "0.12 pF"
        "#);
    }

    #[test]
    fn every_fault_is_told_at_once() {
        let text = kept(Amount::Former { shift: -0.01 })
            .text()
            .replace("schema = 1", "schema = 2")
            .replace("earth = \"standing\"", "earth = \"hung\"")
            .replace("7.01 MHz", "7.01")
            + "top_capacitance = \"1 pF\"\nmood = \"good\"\n";
        insta::assert_snapshot!(parse(&text).unwrap_err(), @r#"
        line 1: 2 explanations: expected one of circuit_size, top_capacitance, former_shift and winding_shift
        line 3: schema: found 2: expected 1
        line 7: earth: found "hung": expected one of "standing", "held", "clipped", "earthed"
        line 8: frequency: found "7.01": expected a frequency with its unit, such as "4.2 MHz"
        line 12: mood: unknown key: expected one of schema, build, started, simulated, earth, frequency, half_width, circuit_size, top_capacitance, former_shift, winding_shift
        "#);
    }

    #[test]
    fn a_day_without_an_explanation_is_refused() {
        let text = kept(Amount::Former { shift: -0.01 }).text();
        let text = text.replace("former_shift", "# former_shift");
        insta::assert_snapshot!(parse(&text).unwrap_err(), @"line 1: 0 explanations: expected one of circuit_size, top_capacitance, former_shift and winding_shift");
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_back_to_the_last_bit(
            share in 0.0_f64..1.0,
            measured_hz in 1e5_f64..1e8,
            half_width_hz in proptest::option::of(0.0_f64..1e4),
            simulated: bool,
        ) {
            for amount in [
                Amount::Circuit { diameter_m: 0.01 + 0.29 * share },
                Amount::Top { capacitance_f: 1e-10 * share },
                Amount::Former { shift: 0.4 * share - 0.2 },
                Amount::Winding { shift: 0.4 * share - 0.2 },
            ] {
                let mut one = kept(amount);
                one.simulated = simulated;
                one.day.measured_hz = measured_hz;
                one.day.half_width_hz = half_width_hz;
                prop_assert_eq!(parse(&one.text()).unwrap(), one);
            }
        }
    }
}
