//! What was typed behind `record`.

use std::path::PathBuf;
use std::time::Duration;

use clap::Args;

use super::battery_in_use::{BatteryInUse, mask};
use super::minding::{brief, minding};
use super::values::{Earth, Format, Show, factor, seconds, volts};
use crate::caution::Caution;
use crate::instrument::Mask;
use crate::recording::Address;

/// The bytes that instruments send.
#[derive(Debug, Args)]
pub(crate) struct BytesArgs {
    /// Test the instrument; record nothing
    ///
    /// Prints each answer, how the profile reads it, how long it took, and each fault of the profile.
    #[arg(long, help_heading = WHICH, conflicts_with_all = ["out", "force", "keep_bytes", "replay_speed", "duration", "until_below", "show"])]
    pub(crate) dry_run: bool,
    /// Keep all bytes with their times in bytes/LABEL.log of the session, to be played again with @log:FILE
    #[arg(long, help_heading = FILES, hide_short_help = true)]
    pub(crate) keep_bytes: bool,
    /// Play byte logs at this multiple of their own speed, such as 1 or 10 [default: at once]
    #[arg(long, value_name = "FACTOR", help_heading = FILES, hide_short_help = true, value_parser = factor)]
    pub(crate) replay_speed: Option<f64>,
}

const WHICH: &str = "Which instrument";
const WHEN: &str = "When to stop";
const FILES: &str = "Files and battery";
const PROGRAMS: &str = "For programs";

#[derive(Debug, Args)]
#[command(
    after_help = brief("record", "\
  sagtrace record --for 20min
  sagtrace record -i scpi-counter@serial:/dev/ttyUSB0 -b my-pillar.toml"),
    after_long_help = minding("\
Examples:
  sagtrace record
  sagtrace record -i scpi-counter@serial:/dev/ttyUSB0 -b pillar.toml --for 20min
  sagtrace record -i f=scpi-counter@serial:/dev/ttyUSB0 \\
      -i v=plain-lines@serial:/dev/ttyACM0 --until-below 6.5V
  sagtrace record -i scpi-scope@tcp:192.168.1.20:5025 \\
      --connected \"CH1 stub 30 cm; CH2 battery via x10\"
  sagtrace record -i scpi-counter@serial:/dev/ttyUSB0 --dry-run
  sagtrace record -i scpi-counter@log:evening/bytes/scpi-counter.log --out again
  sagtrace record -i scpi-counter@serial:/dev/ttyUSB0 -b pillar.toml \\
      --battery N2 --battery-kind nimh-7 --battery-start full \\
      --warn-left 10min --until-forecast 5min

Without -i it uses the settings' instruments, else the one that is plugged in, and without -b as
well the only build sheet in this folder. It reports both. With --battery or --battery-kind the progress line and forecast.csv show the
time left. While it records, a line typed and ended by Enter is noted as a mark.
Ctrl-C ends the recording cleanly.

The stub is level with the top; come nearer by some centimetres until it counts. sagtrace predict
--pickup computes what the instrument will see.", &[Caution::Unplug, Caution::Touch, Caution::Probe, Caution::Ripple]))]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a switch of its own on the command line"
)]
pub(crate) struct RecordArgs {
    /// Such as scpi-counter@serial:/dev/ttyUSB0
    ///
    /// An instrument: [LABEL=]PROFILE@serial:PATH[,baud=N], @tcp:HOST:PORT or @log:FILE. May be given more than once,
    /// or in the environment as `SAGTRACE_INSTRUMENT`.
    #[arg(
        short,
        long = "instrument",
        value_name = "ADDRESS",
        env = "SAGTRACE_INSTRUMENT",
        help_heading = WHICH,
        hide_env = true
    )]
    pub(crate) instruments: Vec<Address>,
    /// "CH1 stub 30 cm; CH2 battery via x10"
    ///
    /// What each input sees, with its factor.
    #[arg(long, value_name = "TEXT", help_heading = WHICH)]
    pub(crate) connected: Option<String>,
    /// Build sheet of the resonator under test
    ///
    /// - for stdin.
    #[arg(short, long, value_name = "SHEET", help_heading = FILES)]
    pub(crate) build: Option<PathBuf>,
    /// Folder of this session; must not exist
    ///
    /// [default: a new one, named by time and build]
    #[arg(short, long, value_name = "DIR", help_heading = FILES, hide_short_help = true)]
    pub(crate) out: Option<PathBuf>,
    /// Folder in which new sessions are made [default: the current folder]
    #[arg(
        long,
        value_name = "DIR",
        env = "SAGTRACE_SESSIONS",
        help_heading = FILES,
        hide_short_help = true,
        hide_env_values = true
    )]
    pub(crate) sessions: Option<PathBuf>,
    /// Move an existing folder aside instead of refusing it
    #[arg(long, help_heading = FILES, hide_short_help = true)]
    pub(crate) force: bool,
    /// Time from one row to the next of instruments that are asked [default: as the profile says]
    #[arg(long, value_name = "TIME", help_heading = WHICH, hide_short_help = true, allow_hyphen_values = true, value_parser = seconds)]
    pub(crate) every: Option<Duration>,
    /// After this time, like 90s, 20min, 2h
    #[arg(long = "for", value_name = "TIME", help_heading = WHEN, allow_hyphen_values = true, value_parser = seconds)]
    pub(crate) duration: Option<Duration>,
    /// Below this battery voltage, like 6.5V
    ///
    /// Ends when three good readings in a row are below it.
    #[arg(long, value_name = "VOLTS", help_heading = WHEN, value_parser = volts)]
    pub(crate) until_below: Option<f64>,
    /// End when a lost instrument has not come back within this time [default: wait for ever]
    #[arg(long, value_name = "TIME", help_heading = WHEN, hide_short_help = true, allow_hyphen_values = true, value_parser = seconds)]
    pub(crate) give_up_after: Option<Duration>,
    /// A frequency that is not the coil's, like 2.1MHz or "2.1MHz 30kHz" with the distance allowed to either
    /// side [default: 1 %]; a reading there counts as no-signal; may be given more than once
    #[arg(long = "mask", value_name = "FREQUENCY", help_heading = WHICH, hide_short_help = true, value_parser = mask)]
    pub(crate) masks: Vec<Mask>,
    /// Wait while the disk is full and go on when there is room, and a row reports the missing rows
    #[arg(long, help_heading = FILES, hide_short_help = true)]
    pub(crate) wait_for_room: bool,
    /// A note about this session
    #[arg(short, long, value_name = "TEXT", help_heading = FILES, hide_short_help = true)]
    pub(crate) note: Option<String>,
    /// How the circuit stands to earth [default: as the build sheet says]
    #[arg(long, value_enum, help_heading = WHICH, hide_short_help = true)]
    pub(crate) earth: Option<Earth>,
    #[command(flatten)]
    pub(crate) battery: BatteryInUse,
    /// The instrument is a virtual one: mark the data as invented
    #[arg(long, help_heading = WHICH, hide_short_help = true)]
    pub(crate) simulated: bool,
    /// How many times faster than real the time of that virtual instrument runs
    #[arg(long, value_name = "FACTOR", help_heading = WHICH, hide_short_help = true, default_value_t = 1, requires = "simulated",
          value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub(crate) time_scale: u32,
    #[command(flatten)]
    pub(crate) bytes: BytesArgs,
    /// What to print on stdout
    #[arg(long, value_enum, help_heading = PROGRAMS, hide_short_help = true, default_value = "summary")]
    pub(crate) show: Show,
    /// How the summary is printed
    #[arg(long, value_enum, help_heading = PROGRAMS, hide_short_help = true, default_value = "text")]
    pub(crate) format: Format,
    /// No progress, no notes
    #[arg(short, long, help_heading = PROGRAMS, hide_short_help = true)]
    pub(crate) quiet: bool,
}
