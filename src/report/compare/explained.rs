//! The explanation of a measured resonance, as text and as JSON (part of the comparison's form).

use crate::coil::fit::{Amount, Fit, Verdict};
use crate::coil::surroundings::EarthState;
use crate::units::{Unit, rounded};

use crate::report::digits::nine_digits;
use crate::report::form::part;
use crate::report::layout::kept;

/// The explanation as lines that stand below a comparison's; `earth` is how the circuit was recorded to stand.
pub fn text(fit: &Fit, measured_hz: f64, earth: EarthState) -> String {
    let (found, unit) = amount(fit);
    let verdict = match fit.verdict {
        Verdict::Plausible => "plausible",
        Verdict::TooLarge | Verdict::TooSmall => "not plausible; look for another cause",
    };
    let contradiction = if fit.amount.contradicts(earth) {
        format!(
            "           but it was recorded as {}, and this takes the circuit as floating: look at the earth lead,\n           \
             or explain it by --fit winding, top or former\n",
            earth.name()
        )
    } else {
        String::new()
    };
    format!(
        "explained  {found} gives {}\n           {verdict}: {} to {} is likely\n{contradiction}",
        rounded(measured_hz, Unit::Hertz, 5),
        rounded(fit.likely.low, unit, 2),
        rounded(fit.likely.high, unit, 2),
    )
}

/// Returns the explanation's amount in words, and the unit of its likely range.
fn amount(fit: &Fit) -> (String, Unit) {
    match fit.amount {
        Amount::Circuit { diameter_m } => (
            format!(
                "a floating circuit as large as a disc of {}",
                rounded(diameter_m, Unit::Metre, 3)
            ),
            Unit::Metre,
        ),
        Amount::Top { capacitance_f } => (
            format!(
                "{} from the top to earth",
                rounded(capacitance_f, Unit::Farad, 3)
            ),
            Unit::Farad,
        ),
        Amount::Former { shift } => (
            format!(
                "a shift of {} by former and enamel",
                rounded(shift, Unit::Percent, 3)
            ),
            Unit::Percent,
        ),
        Amount::Winding { shift } => (
            format!(
                "a shift of {} by the winding's measures and the model",
                rounded(shift, Unit::Percent, 3)
            ),
            Unit::Percent,
        ),
    }
}

/// The explanation in a sentence for a first reading.
pub(super) fn sentence(fit: &Fit, earth: EarthState) -> String {
    let (found, unit) = amount(fit);
    let likely = |value| kept(&rounded(value, unit, 2));
    let (low, high) = (likely(fit.likely.low), likely(fit.likely.high));
    let verdict = match fit.verdict {
        Verdict::Plausible => "plausible".to_owned(),
        Verdict::TooLarge | Verdict::TooSmall => {
            format!("{}, look for something else", kept("not plausible"))
        }
    };
    let contradiction = if fit.amount.contradicts(earth) {
        format!(
            " But it was recorded as {}, and this takes the circuit as floating: look at the earth lead.",
            earth.name()
        )
    } else {
        String::new()
    };
    format!("Explained by {found}: {verdict} ({low} to {high} is likely).{contradiction}")
}

part! {
    /// The same for other programs: SI numbers under keys that name their unit.
    pub struct ExplainedPart(fit: &Fit, measured: f64, recorded: EarthState) with {
        let found = match fit.amount {
            Amount::Circuit { diameter_m } => ("circuit-size", "m", diameter_m),
            Amount::Top { capacitance_f } => ("top-capacitance", "f", capacitance_f),
            Amount::Former { shift } => ("former-shift", "ratio", shift),
            Amount::Winding { shift } => ("winding-shift", "ratio", shift),
        };
    } {
        thing: &'static str = found.0,
        unit: &'static str = found.1,
        amount: f64 = nine_digits(found.2),
        likely_low: f64 = nine_digits(fit.likely.low),
        likely_high: f64 = nine_digits(fit.likely.high),
        verdict: &'static str = match fit.verdict {
            Verdict::Plausible => "plausible",
            Verdict::TooLarge => "too-large",
            Verdict::TooSmall => "too-small",
        },
        measured_hz: f64 = measured,
        earth: &'static str = recorded.name(),
        contradicts_earth: bool = fit.amount.contradicts(recorded),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;
    use crate::coil::fit::{Free, fit};
    use crate::sheet;

    fn pillar(free: Free, measured_hz: f64) -> Fit {
        let sheet = sheet::parse(include_str!("../../../sample-data/glow-pillar.toml")).unwrap();
        fit(&sheet.coil_spec(), free, measured_hz).unwrap()
    }

    #[test]
    fn each_explanation_says_what_it_comes_to_and_whether_that_is_likely() {
        let told = [
            (Free::Earth, 7.2e6),
            (Free::Top, 6.0e6),
            (Free::Top, 2.0e6),
            (Free::Former, 6.1e6),
            (Free::Former, 6.5e6),
            (Free::Winding, 6.256e6),
        ]
        .map(|(free, hertz)| text(&pillar(free, hertz), hertz, EarthState::Earthed));
        insta::assert_snapshot!(told.concat(), @"
        explained  a floating circuit as large as a disc of 36.2 mm gives 7.2000 MHz
                   plausible: 25 mm to 250 mm is likely
                   but it was recorded as earthed, and this takes the circuit as floating: look at the earth lead,
                   or explain it by --fit winding, top or former
        explained  0.109 pF from the top to earth gives 6.0000 MHz
                   plausible: 0.0 F to 0.40 pF is likely
        explained  11.7 pF from the top to earth gives 2.0000 MHz
                   not plausible; look for another cause: 0.0 F to 0.40 pF is likely
        explained  a shift of -1.88 % by former and enamel gives 6.1000 MHz
                   plausible: -2.4 % to 0.0 % is likely
        explained  a shift of 4.55 % by former and enamel gives 6.5000 MHz
                   not plausible; look for another cause: -2.4 % to 0.0 % is likely
        explained  a shift of 0.627 % by the winding's measures and the model gives 6.2560 MHz
                   plausible: -2.4 % to 2.4 % is likely
        ");
    }

    #[test]
    fn a_program_finds_the_amount_with_its_unit_and_the_verdict() {
        let form = |free, measured_hz, earth| {
            serde_json::to_value(ExplainedPart::new(
                &pillar(free, measured_hz),
                measured_hz,
                earth,
            ))
            .unwrap()
        };
        let value = form(Free::Top, 2.0e6, EarthState::Earthed);
        assert_eq!(
            (&value["unit"], &value["verdict"]),
            (&json!("f"), &json!("too-large"))
        );
        assert_eq!(
            (&value["likely_low"], &value["likely_high"]),
            (&json!(0.0), &json!(0.4e-12))
        );
        assert_eq!(value["measured_hz"], json!(2.0e6));
        assert_eq!(value["contradicts_earth"], json!(false));
        for (earth, want) in [(EarthState::Clipped, true), (EarthState::Held, false)] {
            let value = form(Free::Earth, 7.2e6, earth);
            assert_eq!(value["contradicts_earth"], json!(want));
        }
        assert!(value["amount"].as_f64().unwrap() > 6e-12);
    }
}
