//! What a battery's current is taken to be where none is measured.

use super::exit::{Failure, USAGE};
use super::predict;
use crate::battery::charge::Load;
use crate::circuit::verdict::{Judged, State};
use crate::session::Session;
use crate::sheet::{self, Sheet};
use crate::units::{self, Unit};

/// How the load was named.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Loading {
    /// By itself.
    As(Load),
    /// As the supply current that the build's circuit is predicted to draw.
    Build,
}

/// Reads a load as it is typed.
pub(super) fn parse(text: &str) -> Result<Loading, String> {
    if text == "build" {
        return Ok(Loading::Build);
    }
    let read = |unit| units::parse(text, unit).ok().filter(|value| *value > 0.0);
    read(Unit::Ohm)
        .map(Load::Resistance)
        .or_else(|| read(Unit::Watt).map(Load::Power))
        .or_else(|| read(Unit::Ampere).map(Load::Current))
        .map(Loading::As)
        .ok_or_else(|| {
            format!(
                "\"{text}\" is no load, write it like \"30 ohm\", \"3 W\" or \"300 mA\", or as build"
            )
        })
}

/// The load that a build's circuit, its typical parts running, is predicted to be.
///
/// It is taken as a resistance: the predicted current falls with the voltage about as fast as the voltage itself (chosen).
pub(super) fn of_build(sheet: &Sheet) -> Result<Load, Failure> {
    let cannot = |why: String| {
        Failure::new(
            USAGE,
            format!("supply current of {}: not predicted, {why}", sheet.name),
        )
        .hint("measure the current once and type the load, like --load 0.3A")
    };
    let prediction = predict::prediction(sheet)?;
    let sets = sheet
        .circuit_sets(&prediction)
        .ok_or_else(|| cannot("the coil as the circuit sees it is not known".to_owned()))?;
    let [_, typical, _] = &sets.specs;
    let judged = Judged::of(typical).map_err(|error| cannot(error.to_string()))?;
    let runs = match judged.state {
        State::Full | State::Weak => judged.switched_on,
        State::FullOnceRunning => judged.running_start,
        State::Dead => None,
    };
    runs.filter(|running| running.supply_a > 0.0)
        .map(|running| Load::Resistance(running.battery_v / running.supply_a))
        .ok_or_else(|| cannot("its circuit does not oscillate with typical parts".to_owned()))
}

impl Loading {
    /// The load in a session; none is estimated where its build says nothing.
    pub(super) fn in_session(self, session: &Session) -> Load {
        match self {
            Self::As(load) => load,
            Self::Build => session
                .build_sheet
                .as_deref()
                .and_then(|text| sheet::parse(text).ok())
                .and_then(|sheet| of_build(&sheet).ok())
                .unwrap_or(Load::Measured),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_load_is_read_with_its_unit_or_as_the_builds_own() {
        assert_eq!(parse("30 ohm"), Ok(Loading::As(Load::Resistance(30.0))));
        assert_eq!(parse("3W"), Ok(Loading::As(Load::Power(3.0))));
        assert_eq!(parse("build"), Ok(Loading::Build));
        insta::assert_snapshot!(parse("30").unwrap_err(), @r#""30" is no load, write it like "30 ohm", "3 W" or "300 mA", or as build"#);
    }

    #[test]
    fn the_sample_build_is_taken_as_the_resistance_that_its_circuit_is() {
        let sheet = sheet::parse(include_str!("../../sample-data/glow-pillar.toml")).unwrap();
        let Ok(Load::Resistance(ohm)) = of_build(&sheet) else {
            panic!("the sample build runs");
        };
        // Regression of our own computation, 397 mA at 7.81 V: no outside value.
        assert!((ohm / 19.68 - 1.0).abs() < 0.01, "{ohm}");
    }
}
