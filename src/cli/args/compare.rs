//! What was typed behind `compare`.

use std::path::PathBuf;

use clap::Args;

use super::minding::{brief, flowed};
use super::values::{FitTo, Format};

const PROGRAMS: &str = "For programs";
const JUDGE: &str = "What to judge by";

/// One thing that explains the resonance.
#[derive(Debug, Args)]
pub(crate) struct FitArgs {
    /// One of: winding, earth, top, former
    ///
    /// Finds how much of one thing explains the resonance.
    /// If it is plausible, it is kept as good-day.toml in the session.
    #[arg(long = "fit", value_enum, value_name = "THING", hide_possible_values = false, help_heading = JUDGE, hide_possible_values = true)]
    pub(crate) to: Option<FitTo>,
    /// Move an existing good-day.toml aside
    #[arg(long, requires = "to", help_heading = JUDGE, hide_short_help = true)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
#[command(
    after_help = brief("compare", "\
  sagtrace compare 20260131T190000Z-glow-pillar
  sagtrace compare my-pillar.toml their-pillar.toml"),
    after_long_help = flowed("\
Examples:
  sagtrace compare 20260131T190000Z-glow-pillar
  sagtrace compare session --detail
  sagtrace compare session --ppm --plots pictures
  sagtrace compare session --format json --no-plots
  sagtrace compare session --fit winding
  sagtrace compare next-session --good-day session/good-day.toml
  sagtrace compare my-pillar.toml their-pillar.toml

A mark like \"earth: held\" (standing, clipped, earthed) made while recording begins a stretch that is
compared in its own earth state."))]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a switch of its own on the command line"
)]
pub(crate) struct CompareArgs {
    /// Session folder, or the first of two build sheets
    #[arg(value_name = "SESSION")]
    pub(crate) session: PathBuf,
    /// The second of two build sheets
    ///
    /// Lists how each difference alone changes the start and the resonance.
    #[arg(value_name = "SHEET", conflicts_with_all = ["build", "good_day", "plots", "no_plots", "ppm", "strict", "to"])]
    pub(crate) other: Option<PathBuf>,
    /// Build sheet to use instead of the session's
    #[arg(short, long, value_name = "SHEET", help_heading = JUDGE)]
    pub(crate) build: Option<PathBuf>,
    /// A good day of this build, whose band is narrower
    #[arg(long, value_name = "FILE", help_heading = JUDGE, conflicts_with = "to")]
    pub(crate) good_day: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) fit: FitArgs,
    /// Folder for the plots
    ///
    /// [default: plots in the session folder]
    #[arg(long, value_name = "DIR")]
    pub(crate) plots: Option<PathBuf>,
    /// Draw nothing
    #[arg(long, hide_short_help = true, conflicts_with = "plots")]
    pub(crate) no_plots: bool,
    /// Print the full account
    ///
    /// Every figure with its interval, every event, and the basis of each.
    #[arg(long)]
    pub(crate) detail: bool,
    /// Show deviations in parts per million instead of per cent
    #[arg(long, hide_short_help = true)]
    pub(crate) ppm: bool,
    /// How the result is printed
    #[arg(long, value_enum, help_heading = PROGRAMS, hide_short_help = true, default_value = "text")]
    pub(crate) format: Format,
    /// Exit with 1 when the coil does not resonate inside the model's band
    #[arg(long, help_heading = PROGRAMS, hide_short_help = true)]
    pub(crate) strict: bool,
}
