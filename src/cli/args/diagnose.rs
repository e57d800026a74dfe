//! What was typed of a circuit that won't start.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::minding::{brief, minding};
use super::values::Format;
use crate::caution::Caution;
use crate::diagnosis::evidence::History;

/// Whether the build ran before.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum RanBefore {
    /// This is its first switching-on
    Never,
    /// It ran well before
    Yes,
}

impl From<RanBefore> for History {
    fn from(ran: RanBefore) -> Self {
        match ran {
            RanBefore::Never => Self::Never,
            RanBefore::Yes => Self::Ran,
        }
    }
}

#[derive(Debug, Args)]
#[command(after_help = brief("diagnose", "\
  sagtrace diagnose my-pillar.toml
  sagtrace diagnose my-pillar.toml -r led=dark -r battery=9.4V -r current=50mA
  sagtrace diagnose --session 20260131T190000Z-my-pillar"),
    after_long_help = minding("\
Examples:
  sagtrace diagnose my-pillar.toml
  sagtrace diagnose my-pillar.toml --ran-before never -r led=dark \\
      -r battery=9.4V -r current=50mA
  sagtrace diagnose my-pillar.toml --answers evening.toml -r swapped.led=lit
  sagtrace diagnose my-pillar.toml --answers evening.toml --format json
  sagtrace diagnose my-pillar.toml --form > questions.toml
  sagtrace diagnose --session 20260131T190000Z-my-pillar

At a terminal and without readings it asks one question at a time; press Enter if you do not know.
After trying something, put the trial's name before the reading: swapped, hands_away, fresh_battery,
primary_on_foot, ball_on_top, nudged, other_transistor. For something seen only while a hand was on
the insulated wire or the case, use touched: -r touched.led=lit -r touched.near=wire.

Numbers need a unit; only V may be left out (base=0.62). An LED may blink, with its period:
-r \"led=blinking every 2 s\". A meter may show OL. Batteries in series have a voltage each, minus
for one the wrong way round: -r \"battery_each=9.4 V, 9.3 V, -9.1 V\".

The first time for a build it computes what each fault does to it, and keeps that in the cache
folder. Every cause is weighed by those circuits and by priors, an estimate that --priors changes.",
    &[Caution::NotToTry, Caution::Unplug, Caution::Touch, Caution::Probe, Caution::FirstPower, Caution::HotParts]))]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a switch of its own on the command line"
)]
pub(crate) struct DiagnoseArgs {
    /// Build sheet; - for stdin
    #[arg(value_name = "SHEET", required_unless_present = "session")]
    pub(crate) sheet: Option<PathBuf>,
    /// Explain a recorded run that died or faded
    ///
    /// Also a run that came back or jumped. Without a sheet, it uses the one in the session folder.
    #[arg(long, value_name = "SESSION")]
    pub(crate) session: Option<PathBuf>,
    /// Print twelve questions to fill in
    ///
    /// For somebody whose copy stays dark; --answers reads them.
    #[arg(long, conflicts_with_all = ["session", "readings", "answers", "ask"])]
    pub(crate) form: bool,
    /// A reading, like led=dark or current=50mA
    ///
    /// Also "battery=9.4V +- 0.1V", primary=open or swapped.led=lit. May be given more than once.
    #[arg(short, long = "read", value_name = "NAME=VALUE")]
    pub(crate) readings: Vec<String>,
    /// The filled-in questions
    ///
    /// A file of answers: whether it ran before, and a table of readings for each situation, `found` first.
    #[arg(long, value_name = "FILE")]
    pub(crate) answers: Option<PathBuf>,
    /// Whether the build ran before: never, yes
    #[arg(long, value_name = "RAN", value_enum, hide_possible_values = true)]
    pub(crate) ran_before: Option<RanBefore>,
    /// Ask one question at a time even if this is not a terminal
    #[arg(long, hide_short_help = true)]
    pub(crate) ask: bool,
    /// A file that changes how often each fault is met; --priors - prints the shipped one
    #[arg(long, value_name = "FILE", hide_short_help = true)]
    pub(crate) priors: Option<PathBuf>,
    /// Do a quarter of the computation, for a slow machine
    #[arg(long, hide_short_help = true)]
    pub(crate) quick: bool,
    /// Print the full account
    ///
    /// Every reading, cause, check and caution.
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
    /// No progress, no notes
    #[arg(short, long, help_heading = "For programs", hide_short_help = true)]
    pub(crate) quiet: bool,
}
