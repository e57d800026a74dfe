//! What was typed behind `battery`.

use std::path::PathBuf;
use std::time::Duration;

use clap::Args;
use clap::builder::{PossibleValuesParser, TypedValueParser};

use super::minding::{brief, minding};
use super::values::{Format, load, seconds, volts};
use crate::battery::kind::Kind;
use crate::caution::Caution;
use crate::logbook::Loading;
use crate::units::{self, Unit};

const TWO: &str = "A test of two readings";

#[derive(Debug, Args)]
#[command(after_help = brief("battery", "\
  sagtrace battery
  sagtrace battery N2 --end 6.5V
  sagtrace battery --open 9.42V --loaded 8.60V --current 0.3A"),
    after_long_help = minding("\
Examples:
  sagtrace battery
  sagtrace battery N2 --end 6.5V
  sagtrace battery N2 N5 --plots pictures
  sagtrace battery A1 --load \"30 ohm\" --no-plots
  sagtrace battery --open 9.42V --loaded 8.60V --current 0.3A --kind alkaline
  sagtrace battery --backtest

Sessions that name a battery (record --battery N2 --battery-start full) are its logbook. One that
began full and reached the end voltage is a full run; the next is forecast from it. Time counts
only while the coil runs.",
    &[Caution::ShortCircuit, Caution::ChargePrimary, Caution::ChargeOwn, Caution::EndVoltage]))]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a switch of its own on the command line"
)]
pub(crate) struct BatteryArgs {
    /// One battery, or several to compare
    ///
    /// [default: a list of all]
    #[arg(id = "label", value_name = "LABEL")]
    pub(crate) labels: Vec<String>,
    /// Folder that holds the sessions [default: the current folder]
    #[arg(
        long,
        value_name = "DIR",
        env = "SAGTRACE_SESSIONS",
        hide_env_values = true,
        hide_short_help = true
    )]
    pub(crate) sessions: Option<PathBuf>,
    /// Voltage under load at which it is empty for you
    ///
    /// [default: the end point of its kind]
    #[arg(long, value_name = "VOLTS", value_parser = volts)]
    pub(crate) end: Option<f64>,
    /// Kind of battery where no build sheet says
    #[arg(long, value_name = "KIND", value_parser = kind(), hide_short_help = true)]
    pub(crate) kind: Option<Kind>,
    /// Load where no current was measured, like "30 ohm", 3W, 0.3A, or build: the current
    /// predicted for the build; results based on it are marked "estimated"
    #[arg(long, value_name = "LOAD", value_parser = load, hide_short_help = true)]
    pub(crate) load: Option<Loading>,
    /// Charge to expect at this current, by Peukert's law, within the currents of its own full runs
    #[arg(long, value_name = "AMPERES", value_parser = amperes, requires = "label", hide_short_help = true)]
    pub(crate) at: Option<f64>,
    /// Replay runs whose end is known, and print how well they were predicted and planned
    #[arg(long, conflicts_with = "label", hide_short_help = true)]
    pub(crate) backtest: bool,
    /// Voltage with the load off
    #[arg(long, value_name = "VOLTS", value_parser = volts, requires = "loaded", requires = "current", conflicts_with_all = ["label", "backtest"], help_heading = TWO)]
    pub(crate) open: Option<f64>,
    /// Voltage with the load on
    #[arg(long, value_name = "VOLTS", value_parser = volts, requires = "open", help_heading = TWO)]
    pub(crate) loaded: Option<f64>,
    /// Current with the load on
    #[arg(long, value_name = "AMPERES", value_parser = amperes, requires = "open", help_heading = TWO)]
    pub(crate) current: Option<f64>,
    /// Current of the first reading, if it was a light load [default: 0 A]
    #[arg(long, value_name = "AMPERES", value_parser = amperes, requires = "open", hide_short_help = true, help_heading = TWO)]
    pub(crate) light_current: Option<f64>,
    /// Time from the change of load to the second reading, like 1s; the resistance depends on it
    #[arg(long, value_name = "TIME", allow_hyphen_values = true, value_parser = seconds, requires = "open", hide_short_help = true, help_heading = TWO)]
    pub(crate) pulse: Option<Duration>,
    /// Last digit of the voltmeter, like 10mV, for the uncertainty
    #[arg(long, value_name = "VOLTS", value_parser = volts, requires = "open", hide_short_help = true, help_heading = TWO)]
    pub(crate) digit: Option<f64>,
    /// Folder for the plot [default: plots in the battery's last session]
    #[arg(
        long,
        value_name = "DIR",
        requires = "label",
        hide_short_help = true,
        help_heading = "Plots"
    )]
    pub(crate) plots: Option<PathBuf>,
    /// Also draw the voltage under load at which the coil of the last session's build sheet is predicted to
    /// stop; takes some seconds
    #[arg(
        long,
        requires = "label",
        conflicts_with = "no_plots",
        hide_short_help = true,
        help_heading = "Plots"
    )]
    pub(crate) coil_stop: bool,
    /// Draw nothing
    #[arg(
        long,
        conflicts_with = "plots",
        hide_short_help = true,
        help_heading = "Plots"
    )]
    pub(crate) no_plots: bool,
    /// Print the full account
    #[arg(long)]
    pub(crate) detail: bool,
    /// How the result is printed
    #[arg(
        long,
        value_enum,
        default_value = "text",
        help_heading = "For programs",
        hide_short_help = true
    )]
    pub(crate) format: Format,
}

fn amperes(text: &str) -> Result<f64, String> {
    units::parse(text, Unit::Ampere).map_err(|error| error.to_string())
}

/// Takes the words of the table of kinds, which help and completions list.
pub(super) fn kind() -> impl TypedValueParser<Value = Kind> {
    let words = Kind::WORDS.map(|(word, _)| word);
    PossibleValuesParser::new(words)
        .try_map(|word| Kind::of_word(&word).ok_or("no kind of battery"))
}
