//! What was typed, literally; `settings.rs` resolves it with the environment and the settings file.

use std::path::PathBuf;
use std::time::Duration;

use clap::builder::PossibleValuesParser;
use clap::{Args, Parser, Subcommand, ValueEnum};

mod battery;
mod battery_in_use;
mod compare;
mod diagnose;
mod field;
mod minding;
mod plan;
mod predict;
mod record;
mod values;

pub(super) use battery::BatteryArgs;
pub(super) use battery_in_use::{BatteryInUse, DemoBattery};
pub(super) use compare::CompareArgs;
pub(super) use diagnose::DiagnoseArgs;
pub(super) use field::FieldArgs;
use minding::minding;
pub(super) use plan::PlanArgs;
pub(super) use predict::PredictArgs;
pub(super) use record::RecordArgs;
pub(super) use values::{BatteryStart, Earth, FitTo, Format, Parts, Show};
use values::{hertz, seconds};

use super::exit;
use crate::caution::Caution;
use crate::guide::PAGES;

/// Bench logger for small battery-powered high-voltage resonators
///
/// Records frequency and battery voltage from your own counter or scope, compares them with where the wound coil should
/// resonate, and draws how it drifts while the battery drains.
#[derive(Debug, Parser)]
#[command(name = "sagtrace", version, max_term_width = 100, help_template = TEMPLATE,
          after_help = BRIEF, after_long_help = after_help())]
pub(super) struct Cli {
    /// Without one, the program says what is in the current folder.
    #[command(subcommand)]
    pub(super) command: Option<Command>,
    /// Settings file to use instead of the default one
    #[arg(
        long,
        global = true,
        value_name = "FILE",
        env = "SAGTRACE_CONFIG",
        hide_short_help = true,
        hide_env_values = true
    )]
    pub(super) config: Option<PathBuf>,
}

/// The short page has 24 lines.
const TEMPLATE: &str = "{about}\n{usage-heading} {usage}\n\n{all-args}{after-help}";

const BRIEF: &str = "A command's options: sagtrace COMMAND -h. Pages to read: sagtrace guide";

/// Examples and exit codes, for the end of the help.
fn after_help() -> String {
    let examples = "\
Examples:
  sagtrace simulate
  sagtrace record -i scpi-counter@serial:/dev/ttyUSB0 -b pillar.toml --for 20min
  sagtrace compare 20260131T190000Z-glow-pillar";
    minding(&format!("{examples}\n\n{}", exit::TABLE), &CAUTIONS)
}

/// What everybody who stands at such a coil must know.
const CAUTIONS: [Caution; 11] = [
    Caution::MeasuresOnly,
    Caution::CodesFirst,
    Caution::Touch,
    Caution::Probe,
    Caution::Stub,
    Caution::Implants,
    Caution::Transmitter,
    Caution::Toy,
    Caution::ShortCircuit,
    Caution::ChargePrimary,
    Caution::Unplug,
];

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Try the whole job without an instrument
    ///
    /// A virtual bench, a recording, the comparison and its plots.
    Simulate(SimulateArgs),
    /// Find the instruments that are plugged in
    ///
    /// Lists them, and with --identify asks which profile each answers to.
    Ports(PortsArgs),
    /// Describe a build: write its sheet, or check one
    Sheet(SheetArgs),
    /// Record a test session from one or more instruments
    Record(RecordArgs),
    /// Predict where a build should resonate and whether it starts
    ///
    /// With a band for each figure. Also: the card for the bench, the field, a pick-up, an evening's batteries.
    Predict(PredictArgs),
    /// Compare a session with the model, or one build with another
    ///
    /// Deviation, drift, stops and gaps, with plots.
    Compare(CompareArgs),
    /// Find out why a build stays dark or runs badly
    ///
    /// Ranked causes, and the next check.
    Diagnose(DiagnoseArgs),
    /// Check that a session folder is whole, or repair it
    Check(CheckArgs),
    /// See how long a battery lasts, from its past sessions
    ///
    /// Its logbook, the time it has left, a test of two readings.
    Battery(BatteryArgs),
    /// Read the cautions, and the published reference levels
    Cautions(CautionsArgs),
    /// Read a page about the work at the bench
    Guide(GuideArgs),
    /// Print a script that completes commands in your shell
    #[command(after_help = "\
Examples:
  sagtrace completions bash >> ~/.bash_completion
  sagtrace completions fish > ~/.config/fish/completions/sagtrace.fish
  sagtrace completions zsh > _sagtrace")]
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
    /// Print the manual page
    #[command(after_help = "\
Examples:
  sagtrace man > sagtrace.1
  sagtrace man | man -l -
  sagtrace man | gzip > ~/.local/share/man/man1/sagtrace.1.gz")]
    Man,
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  sagtrace simulate
  sagtrace simulate --seed 7 --out demo
  sagtrace simulate --battery usb-rechargeable
  sagtrace simulate --port-only --device plain-lines")]
pub(super) struct SimulateArgs {
    /// Folder of the session; must not exist
    ///
    /// [default: a new one, named by time and build]
    #[arg(short, long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
    /// Folder in which new sessions are made [default: the current folder]
    #[arg(
        long,
        value_name = "DIR",
        env = "SAGTRACE_SESSIONS",
        hide_env_values = true,
        hide_short_help = true
    )]
    pub(super) sessions: Option<PathBuf>,
    /// Move an existing folder aside instead of refusing it
    #[arg(long, hide_short_help = true)]
    pub(super) force: bool,
    /// Build sheet of the resonator to simulate [default: the glow pillar]
    #[arg(short, long, value_name = "SHEET", hide_short_help = true)]
    pub(super) build: Option<PathBuf>,
    /// Number that selects the invented evening
    #[arg(
        long,
        default_value_t = 1,
        value_name = "NUMBER",
        hide_short_help = true
    )]
    pub(super) seed: u64,
    /// How long the evening lasts, in its own time
    #[arg(long = "for", value_name = "TIME", default_value = "40min", allow_hyphen_values = true, value_parser = seconds)]
    pub(super) duration: Duration,
    /// How many times faster than real it runs [default: 240, or 1 with --port-only]
    #[arg(long, value_name = "FACTOR", value_parser = clap::value_parser!(u32).range(1..=1000), hide_short_help = true)]
    pub(super) time_scale: Option<u32>,
    /// Only serve the port until Ctrl-C, to practise
    #[arg(long)]
    pub(super) port_only: bool,
    /// The battery on the bench
    #[arg(long, value_enum, default_value = "alkaline", value_name = "KIND")]
    pub(super) battery: DemoBattery,
    /// The instrument on the bench
    #[arg(long, value_enum, default_value = "scpi-counter")]
    pub(super) device: Device,
}

/// The instruments of the virtual bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Device {
    /// A counter-voltmeter that is asked
    ScpiCounter,
    /// A two-channel scope that is asked
    ScpiScope,
    /// The same scope, its waveform read and measured here
    ScpiScopeWave,
    /// A board that prints named fields
    PlainLines,
    /// A board that prints columns
    Columns,
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  sagtrace cautions
  sagtrace cautions --at 6.2MHz --detail
  sagtrace cautions --at 4MHz --format json")]
pub(super) struct CautionsArgs {
    /// Frequency of the coil
    #[arg(long, value_name = "FREQUENCY", value_parser = hertz, default_value = "4MHz")]
    pub(super) at: f64,
    /// Print all cautions with their sources, and all levels
    #[arg(long)]
    pub(super) detail: bool,
    /// How the result is printed
    #[arg(long, value_enum, default_value = "text")]
    pub(super) format: Format,
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  sagtrace guide
  sagtrace guide first-session
  sagtrace guide dark | less")]
pub(super) struct GuideArgs {
    /// Topic [default: a list of all]
    #[arg(value_name = "TOPIC", value_parser = PossibleValuesParser::new(PAGES.iter().map(|page| page.topic)))]
    pub(super) topic: Option<String>,
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  sagtrace ports
  sagtrace ports --identify
  sagtrace ports --identify --path /dev/pts/3")]
pub(super) struct PortsArgs {
    /// Send each port an identity query, then try every profile; opening a port restarts some boards
    #[arg(long)]
    pub(super) identify: bool,
    /// Try this port too, even if the system does not list it; may be given more than once
    #[arg(long = "path", value_name = "PATH")]
    pub(super) paths: Vec<String>,
    /// How the result is printed
    #[arg(long, value_enum, default_value = "text")]
    pub(super) format: Format,
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  sagtrace check 20260131T190000Z-glow-pillar
  sagtrace check session --repair
  sagtrace check session --strict --format json")]
pub(super) struct CheckArgs {
    /// Session folder
    #[arg(value_name = "SESSION")]
    pub(super) session: PathBuf,
    /// Write a repaired copy beside a folder that is not whole; the folder itself is never changed
    #[arg(long)]
    pub(super) repair: bool,
    /// List every fault, not only three of a kind
    #[arg(long)]
    pub(super) detail: bool,
    /// Exit with 1 when the folder is not whole
    #[arg(long)]
    pub(super) strict: bool,
    /// How the result is printed
    #[arg(long, value_enum, default_value = "text")]
    pub(super) format: Format,
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  sagtrace sheet new
  sagtrace sheet check pillar.toml
  sagtrace sheet template | sagtrace sheet check -")]
pub(super) struct SheetArgs {
    #[command(subcommand)]
    pub(super) action: SheetAction,
}

#[derive(Debug, Subcommand)]
pub(super) enum SheetAction {
    /// Ask for a build in plain words and write its sheet
    New {
        /// File to write, which must not exist yet; without it the build's name as a file name
        #[arg(value_name = "FILE")]
        file: Option<PathBuf>,
    },
    /// Print a commented sheet to fill in
    Template,
    /// List every fault of a sheet
    Check {
        /// Build sheet; - for stdin
        #[arg(value_name = "SHEET")]
        sheet: PathBuf,
    },
}
