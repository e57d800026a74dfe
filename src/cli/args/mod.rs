//! What was typed, literally; `settings.rs` resolves it with the environment and the settings file.

use std::path::PathBuf;
use std::time::Duration;

use clap::{Args, Parser, Subcommand, ValueEnum};

mod battery;
mod battery_in_use;
mod diagnose;
mod field;
mod minding;
mod plan;
mod predict;
mod values;

pub(super) use battery::BatteryArgs;
use battery_in_use::mask;
pub(super) use battery_in_use::{BatteryInUse, DemoBattery};
pub(super) use diagnose::DiagnoseArgs;
pub(super) use field::FieldArgs;
use minding::minding;
pub(super) use plan::PlanArgs;
pub(super) use predict::PredictArgs;
pub(super) use values::{BatteryStart, Earth, FitTo, Format, Parts, Show};
use values::{factor, hertz, seconds, volts};

use super::exit;
use crate::caution::Caution;
use crate::instrument::Mask;
use crate::recording::Address;

/// Bench logger for small battery-powered high-voltage resonators.
///
/// Records frequency and battery voltage from your own counter or scope, compares them with where the wound coil should
/// resonate, and draws how it drifts while the battery drains.
#[derive(Debug, Parser)]
#[command(name = "sagtrace", version, max_term_width = 100, after_help = after_help(), arg_required_else_help = true)]
pub(super) struct Cli {
    #[command(subcommand)]
    pub(super) command: Command,
    /// Settings file to use instead of the usual one
    #[arg(
        long,
        global = true,
        value_name = "FILE",
        env = "SAGTRACE_CONFIG",
        hide_env_values = true
    )]
    pub(super) config: Option<PathBuf>,
}

/// Examples and exit codes, for the end of the help.
fn after_help() -> String {
    let examples = "\
Examples:
  sagtrace simulate
  sagtrace record -i scpi-counter@serial:/dev/ttyUSB0 -b glow-pillar.toml --for 20min
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
    /// The whole job without hardware: a virtual bench, a recording, the comparison and its plots
    Simulate(SimulateArgs),
    /// What is plugged in, and who answers to which profile
    Ports(PortsArgs),
    /// A build sheet: a template to fill in, or a check of one
    Sheet(SheetArgs),
    /// A test session from one or more instruments
    Record(RecordArgs),
    /// What the build should do: its resonance with a band, the coil's figures, whether it starts and how it runs
    Predict(PredictArgs),
    /// Measured against predicted: deviation, drift, stops and gaps, plots
    Compare(CompareArgs),
    /// A circuit that won't start, or runs badly: ranked causes, and what to look at next
    Diagnose(DiagnoseArgs),
    /// A session folder: whole or torn, what is missing
    Check(CheckArgs),
    /// A battery's logbook, the time it has left, a test of two readings
    Battery(BatteryArgs),
    /// What to mind, with the published reference levels at a frequency
    Cautions(CautionsArgs),
    /// Words for the shell to complete
    #[command(after_help = "\
Examples:
  sagtrace completions bash > ~/.local/share/bash-completion/completions/sagtrace
  sagtrace completions fish > ~/.config/fish/completions/sagtrace.fish
  sagtrace completions zsh > _sagtrace")]
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
    /// The manual page
    #[command(after_help = "\
Examples:
  sagtrace man > sagtrace.1
  sagtrace man | man -l -
  sagtrace man | gzip > ~/.local/share/man/man1/sagtrace.1.gz")]
    Man,
}

/// What `compare` explains and keeps.
#[derive(Debug, Args)]
pub(super) struct FitArgs {
    /// Find how much of one thing explains the resonance, and keep it as good-day.toml in the session
    #[arg(long = "fit", value_enum, value_name = "THING")]
    pub(super) to: Option<FitTo>,
    /// Move a good-day.toml that is there aside
    #[arg(long, requires = "to")]
    pub(super) force: bool,
}

/// What becomes of the bytes that instruments send.
#[derive(Debug, Args)]
pub(super) struct BytesArgs {
    /// Keep all bytes with their times in bytes/LABEL.log of the session, to be played again with @log:FILE
    #[arg(long)]
    pub(super) keep_bytes: bool,
    /// Play byte logs at so many times their own speed, like 1 or 10 [default: at once]
    #[arg(long, value_name = "FACTOR", value_parser = factor)]
    pub(super) replay_speed: Option<f64>,
    /// Record nothing: prove each profile against its instrument, and say what it got wrong
    #[arg(long, conflicts_with_all = ["out", "force", "keep_bytes", "replay_speed", "duration", "until_below", "show"])]
    pub(super) dry_run: bool,
}

#[derive(Debug, Args)]
#[command(after_help = minding("\
Examples:
  sagtrace record -i scpi-counter@serial:/dev/ttyUSB0 -b glow-pillar.toml --for 20min
  sagtrace record -i f=scpi-counter@serial:/dev/ttyUSB0 -i v=plain-lines@serial:/dev/ttyACM0 \\
      --until-below 6.5V
  sagtrace record -i scpi-scope@tcp:192.168.1.20:5025 \\
      --connected \"CH1 stub 30 cm; CH2 battery via x10\"
  sagtrace record -i scpi-counter@serial:/dev/ttyUSB0 --dry-run
  sagtrace record -i scpi-counter@log:evening/bytes/scpi-counter.log --out again
  sagtrace record -i scpi-counter@serial:/dev/ttyUSB0 -b glow-pillar.toml --battery N2 \\
      --battery-kind nimh-7 --battery-start full --warn-left 10min --until-forecast 5min

With --battery or --battery-kind the time left stands on the progress line and in forecast.csv.
While it records, a line typed and ended by Enter is noted as a mark.
Ctrl-C ends the recording cleanly.

The stub is level with the top; come nearer by some centimetres until it counts. sagtrace predict
--pickup computes what the instrument will see.", &[Caution::Unplug, Caution::Touch, Caution::Probe, Caution::Ripple]))]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a switch of its own on the command line"
)]
pub(super) struct RecordArgs {
    /// Instrument: [LABEL=]PROFILE@serial:PATH[,baud=N], @tcp:HOST:PORT or @log:FILE; may be given more than once
    #[arg(
        short,
        long = "instrument",
        value_name = "ADDRESS",
        env = "SAGTRACE_INSTRUMENT",
        hide_env_values = true
    )]
    pub(super) instruments: Vec<Address>,
    /// Build sheet of the resonator under test; - for stdin
    #[arg(short, long, value_name = "SHEET")]
    pub(super) build: Option<PathBuf>,
    /// Folder of this session; must not exist [default: a new one, named by time and build]
    #[arg(short, long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
    /// Folder in which new sessions are made [default: the current folder]
    #[arg(
        long,
        value_name = "DIR",
        env = "SAGTRACE_SESSIONS",
        hide_env_values = true
    )]
    pub(super) sessions: Option<PathBuf>,
    /// Move an existing folder aside instead of refusing it
    #[arg(long)]
    pub(super) force: bool,
    /// Time from one row to the next of instruments that are asked [default: as the profile says]
    #[arg(long, value_name = "TIME", value_parser = seconds)]
    pub(super) every: Option<Duration>,
    /// End after this time, like 90s, 20min, 2h
    #[arg(long = "for", value_name = "TIME", value_parser = seconds)]
    pub(super) duration: Option<Duration>,
    /// End when three good readings in a row are below this battery voltage, like 6.5V
    #[arg(long, value_name = "VOLTS", value_parser = volts)]
    pub(super) until_below: Option<f64>,
    /// End when a lost instrument has not come back for this time [default: wait for ever]
    #[arg(long, value_name = "TIME", value_parser = seconds)]
    pub(super) give_up_after: Option<Duration>,
    /// A frequency that is not the coil's, like 2.1MHz or "2.1MHz 30kHz" with what to allow to either
    /// side [default: 1 %]; a reading there counts as no-signal; may be given more than once
    #[arg(long = "mask", value_name = "FREQUENCY", value_parser = mask)]
    pub(super) masks: Vec<Mask>,
    /// Wait while the disk is full and go on when there is room, with a row that says what is missing
    #[arg(long)]
    pub(super) wait_for_room: bool,
    /// A note about this session
    #[arg(short, long, value_name = "TEXT")]
    pub(super) note: Option<String>,
    /// What each input sees, with its factor: "CH1 stub 30 cm; CH2 battery via x10"
    #[arg(long, value_name = "TEXT")]
    pub(super) connected: Option<String>,
    /// How the circuit stands to earth [default: as the build sheet says]
    #[arg(long, value_enum)]
    pub(super) earth: Option<Earth>,
    #[command(flatten)]
    pub(super) battery: BatteryInUse,
    /// The instrument is a virtual one: mark the data as invented
    #[arg(long)]
    pub(super) simulated: bool,
    /// How many times faster than real the time of that virtual instrument runs
    #[arg(long, value_name = "FACTOR", default_value_t = 1, requires = "simulated",
          value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub(super) time_scale: u32,
    #[command(flatten)]
    pub(super) bytes: BytesArgs,
    /// What to print on stdout
    #[arg(long, value_enum, default_value = "summary")]
    pub(super) show: Show,
    /// How the summary is printed
    #[arg(long, value_enum, default_value = "text")]
    pub(super) format: Format,
    /// No progress, no notes
    #[arg(short, long)]
    pub(super) quiet: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  sagtrace compare 20260131T190000Z-glow-pillar
  sagtrace compare session --detail
  sagtrace compare session --ppm --plots pictures
  sagtrace compare session --format json --no-plots
  sagtrace compare session --fit winding
  sagtrace compare next-session --good-day session/good-day.toml
  sagtrace compare my-pillar.toml their-pillar.toml

A mark like \"earth: held\" (standing, clipped, earthed) made while recording begins a stretch that is
compared in its own earth state.")]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a switch of its own on the command line"
)]
pub(super) struct CompareArgs {
    /// Session folder; or a build sheet, with another behind it
    #[arg(value_name = "SESSION")]
    pub(super) session: PathBuf,
    /// Another build sheet: tells what each of its differences does alone to the start and to the resonance
    #[arg(value_name = "SHEET", conflicts_with_all = ["build", "good_day", "plots", "no_plots", "ppm", "strict", "to"])]
    pub(super) other: Option<PathBuf>,
    /// Build sheet to compare with instead of the one in the session
    #[arg(short, long, value_name = "SHEET")]
    pub(super) build: Option<PathBuf>,
    /// Judge against this good day of the build, whose band is narrower
    #[arg(long, value_name = "FILE", conflicts_with = "to")]
    pub(super) good_day: Option<PathBuf>,
    /// Folder for the plots [default: plots in the session folder]
    #[arg(long, value_name = "DIR")]
    pub(super) plots: Option<PathBuf>,
    /// Draw nothing
    #[arg(long, conflicts_with = "plots")]
    pub(super) no_plots: bool,
    /// Show deviations in parts per million instead of per cent
    #[arg(long)]
    pub(super) ppm: bool,
    /// How the result is printed
    #[arg(long, value_enum, default_value = "text")]
    pub(super) format: Format,
    /// Print everything: every figure with its interval, every event, what each rests on
    #[arg(long)]
    pub(super) detail: bool,
    /// Exit with 1 when the coil does not resonate inside the model's band
    #[arg(long)]
    pub(super) strict: bool,
    #[command(flatten)]
    pub(super) fit: FitArgs,
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  sagtrace simulate
  sagtrace simulate --seed 7 --out demo
  sagtrace simulate --battery usb-rechargeable
  sagtrace simulate --port-only --device plain-lines")]
pub(super) struct SimulateArgs {
    /// Folder of the session; must not exist [default: a new one, named by time and build]
    #[arg(short, long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
    /// Folder in which new sessions are made [default: the current folder]
    #[arg(
        long,
        value_name = "DIR",
        env = "SAGTRACE_SESSIONS",
        hide_env_values = true
    )]
    pub(super) sessions: Option<PathBuf>,
    /// Move an existing folder aside instead of refusing it
    #[arg(long)]
    pub(super) force: bool,
    /// Build sheet of the resonator to simulate [default: the glow pillar]
    #[arg(short, long, value_name = "SHEET")]
    pub(super) build: Option<PathBuf>,
    /// Which of the endless evenings to invent
    #[arg(long, default_value_t = 1, value_name = "NUMBER")]
    pub(super) seed: u64,
    /// How long the evening lasts, in its own time
    #[arg(long = "for", value_name = "TIME", default_value = "40min", value_parser = seconds)]
    pub(super) duration: Duration,
    /// How many times faster than real it runs [default: 240, or 1 with --port-only]
    #[arg(long, value_name = "FACTOR", value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub(super) time_scale: Option<u32>,
    /// Only open the port and serve it until Ctrl-C, to practise on
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
  sagtrace cautions --at 6.2MHz
  sagtrace cautions --at 4MHz --format json")]
pub(super) struct CautionsArgs {
    /// Frequency of the coil
    #[arg(long, value_name = "FREQUENCY", value_parser = hertz, default_value = "4MHz")]
    pub(super) at: f64,
    /// How the result is printed
    #[arg(long, value_enum, default_value = "text")]
    pub(super) format: Format,
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  sagtrace ports
  sagtrace ports --identify
  sagtrace ports --identify --path /dev/pts/3")]
pub(super) struct PortsArgs {
    /// Ask each port who is there, and try each profile that asks or listens; some boards restart by it
    #[arg(long)]
    pub(super) identify: bool,
    /// Look at this port too, though the machine does not list it; may be given more than once
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
    /// Write a mended copy beside a folder that is not whole; the folder itself is never changed
    #[arg(long)]
    pub(super) repair: bool,
    /// List every fault, however many share a kind
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
  sagtrace sheet template > glow-pillar.toml
  sagtrace sheet check glow-pillar.toml
  sagtrace sheet template | sagtrace sheet check -")]
pub(super) struct SheetArgs {
    #[command(subcommand)]
    pub(super) action: SheetAction,
}

#[derive(Debug, Subcommand)]
pub(super) enum SheetAction {
    /// Print a commented sheet to fill in
    Template,
    /// List every fault of a sheet
    Check {
        /// Build sheet; - for stdin
        #[arg(value_name = "SHEET")]
        sheet: PathBuf,
    },
}
