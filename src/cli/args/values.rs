//! Choices and quantities as they are typed, for every command.

use std::time::Duration;

use clap::ValueEnum;

use crate::battery::charge::Load;
use crate::logbook::Loading;
use crate::units::{self, Unit};

/// How a result is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// For people
    Text,
    /// For programs
    Json,
}

/// Which end of the parts' spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Parts {
    /// Worst for starting
    Worst,
    /// Typical
    Typical,
    /// Best for starting
    Best,
}

/// How the circuit stands to earth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Earth {
    /// On an insulating table
    Standing,
    /// In a hand
    Held,
    /// An instrument's ground clip is on it
    Clipped,
    /// Joined to earth
    Earthed,
}

impl Earth {
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Standing => "standing",
            Self::Held => "held",
            Self::Clipped => "clipped",
            Self::Earthed => "earthed",
        }
    }
}

/// The one quantity that `compare --fit` varies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum FitTo {
    /// How large the floating circuit is for the field
    Earth,
    /// Capacitance from the top to earth
    Top,
    /// What former and enamel do
    Former,
    /// How far the winding's measures and the model are off
    Winding,
}

/// How the battery was when the session began.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum BatteryStart {
    /// Charged or new
    Full,
    /// Nobody knows
    Unknown,
}

/// What `record` prints on stdout while it records.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Show {
    /// Each row of samples.csv once it is written, and no summary
    Rows,
    /// Nothing but the summary at the end
    Summary,
}

pub(super) fn seconds(text: &str) -> Result<Duration, String> {
    let value = units::parse(text, Unit::Second).map_err(|error| error.to_string())?;
    match Duration::try_from_secs_f64(value) {
        Ok(time) if time >= Duration::from_millis(1) => Ok(time),
        _ => Err(format!("found \"{text}\": expected a time of 1 ms or more")),
    }
}

pub(super) fn factor(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if (0.001..=1e6).contains(&value) => Ok(value),
        _ => Err(format!("\"{text}\" is not a factor from 0.001 to 1000000")),
    }
}

pub(super) fn hertz(text: &str) -> Result<f64, String> {
    match units::parse(text, Unit::Hertz) {
        Ok(value) if value > 0.0 => Ok(value),
        Ok(_) => Err(format!("\"{text}\" is not a frequency above 0 Hz")),
        Err(error) => Err(error.to_string()),
    }
}

pub(super) fn volts(text: &str) -> Result<f64, String> {
    units::parse(text, Unit::Volt).map_err(|error| error.to_string())
}

pub(super) fn above_zero_volts(text: &str) -> Result<f64, String> {
    match volts(text)? {
        value if value > 0.0 => Ok(value),
        _ => Err(format!("\"{text}\" is not a voltage above 0 V")),
    }
}

/// Reads a load as it is typed.
pub(super) fn load(text: &str) -> Result<Loading, String> {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_load_is_read_with_its_unit_or_as_the_builds_own() {
        assert_eq!(load("30 ohm"), Ok(Loading::As(Load::Resistance(30.0))));
        assert_eq!(load("3W"), Ok(Loading::As(Load::Power(3.0))));
        assert_eq!(load("build"), Ok(Loading::Build));
        insta::assert_snapshot!(load("30").unwrap_err(), @r#""30" is no load, write it like "30 ohm", "3 W" or "300 mA", or as build"#);
    }
}
