//! What a battery's current is taken to be where none is measured.

use crate::battery::charge::Load;
use crate::session::Session;
use crate::sheet;
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

impl Loading {
    /// The load in a session; none is estimated where its build says nothing.
    pub(super) fn in_session(self, session: &Session) -> Load {
        match self {
            Self::As(load) => load,
            Self::Build => session
                .build_sheet
                .as_deref()
                .and_then(|text| sheet::parse(text).ok())
                .and_then(|sheet| sheet.predicted_load().ok())
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
}
