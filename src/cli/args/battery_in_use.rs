//! What was typed behind `record` about the battery that is in use.

use std::time::Duration;

use clap::{Args, ValueEnum};

use super::battery::kind;
use super::values::{BatteryStart, hertz, load, seconds, volts};
use crate::battery::kind::Kind;
use crate::instrument::Mask;
use crate::logbook::Loading;

#[derive(Debug, Args)]
pub(crate) struct BatteryInUse {
    /// The battery's label, like N2, for its time left
    ///
    /// As written on the battery. The time left is forecast from its own runs.
    #[arg(long, value_name = "LABEL", value_parser = label, help_heading = "Files and battery")]
    pub(crate) battery: Option<String>,
    /// How it was at the start: full, unknown
    #[arg(
        long,
        value_name = "STATE",
        value_enum,
        default_value = "unknown",
        hide_possible_values = true,
        hide_default_value = true,
        help_heading = "Files and battery",
        hide_short_help = true
    )]
    pub(crate) battery_start: BatteryStart,
    /// Kind of battery, if it is not the build sheet's
    #[arg(long, value_name = "KIND", value_parser = kind(), hide_short_help = true, help_heading = "Files and battery")]
    pub(crate) battery_kind: Option<Kind>,
    /// Voltage under load, all in series together, at which it is empty for you [default: the end
    /// point of its kind]
    #[arg(long, value_name = "VOLTS", value_parser = volts, hide_short_help = true, help_heading = "Files and battery")]
    pub(crate) battery_end: Option<f64>,
    /// Voltage of each battery in series, read one by one, like "9.42V 9.10V": the weakest sets the end
    #[arg(long, value_name = "VOLTS", value_parser = each, hide_short_help = true, help_heading = "Files and battery")]
    pub(crate) battery_each: Option<Each>,
    /// Load where no current is measured, like "30 ohm", 3W, 0.3A, or build: the current
    /// predicted for the build; results based on it are marked "estimated"
    #[arg(long, value_name = "LOAD", value_parser = load, hide_short_help = true, help_heading = "Files and battery")]
    pub(crate) load: Option<Loading>,
    /// Warn when the forecast gives this time or less, such as 10min
    #[arg(long, value_name = "TIME", allow_hyphen_values = true, value_parser = seconds, hide_short_help = true, help_heading = "Files and battery")]
    pub(crate) warn_left: Option<Duration>,
    /// End when the forecast gives this time or less, or the output of a converter steps down
    #[arg(long, value_name = "TIME", allow_hyphen_values = true, value_parser = seconds, hide_short_help = true, help_heading = "Files and battery")]
    pub(crate) until_forecast: Option<Duration>,
}

/// The voltages of batteries in series.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Each(pub(crate) Vec<f64>);

fn label(text: &str) -> Result<String, String> {
    let label = text.trim();
    if label.is_empty() || label.chars().any(char::is_control) {
        return Err(format!(
            "{text:?} is no label, write it as it stands on the battery, like N2"
        ));
    }
    Ok(label.to_owned())
}

fn each(text: &str) -> Result<Each, String> {
    let words = text.split([' ', ',']).filter(|word| !word.is_empty());
    let each_v: Vec<f64> = words.map(volts).collect::<Result<_, _>>()?;
    match (each_v.len(), each_v.iter().all(|volts_v| *volts_v > 0.0)) {
        (2..=4, true) => Ok(Each(each_v)),
        (_, false) => Err(format!(
            "\"{text}\" has a voltage that is not above 0 V: is one the wrong way round?"
        )),
        _ => Err(format!(
            "\"{text}\" is not two to four voltages, write them like \"9.42V 9.10V\""
        )),
    }
}

/// A frequency, and how far to either side if that is said.
pub(super) fn mask(text: &str) -> Result<Mask, String> {
    /// What to allow where nobody says: a converter's own frequency wanders with its load. Chosen.
    const USUAL: f64 = 0.01;
    let whole = hertz(text).map(|centre_hz| Mask::around(centre_hz, USUAL * centre_hz));
    whole.or_else(|error| {
        let (centre, width) = text.trim().split_once(' ').ok_or(error)?;
        Ok(Mask::around(hertz(centre)?, hertz(width)?))
    })
}

/// The batteries of the virtual bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum DemoBattery {
    /// A1, which sags from the first minute
    Alkaline,
    /// N2, which holds its voltage for a long time and falls at the end
    #[value(name = "nimh-7")]
    Nimh7,
    /// U3, whose converter holds the voltage, steps down once and stops
    UsbRechargeable,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn voltages_of_a_series_are_read_one_by_one_and_a_wrong_one_is_told() {
        assert_eq!(each("9.42V, 9100mV"), Ok(Each(vec![9.42, 9.1])));
        insta::assert_snapshot!(each("9.42V").unwrap_err(), @r#""9.42V" is not two to four voltages, write them like "9.42V 9.10V""#);
        insta::assert_snapshot!(each("9.42V -9.1V").unwrap_err(), @r#""9.42V -9.1V" has a voltage that is not above 0 V: is one the wrong way round?"#);
        assert!(each("9.42V 9.1ohm").is_err());
    }
}
