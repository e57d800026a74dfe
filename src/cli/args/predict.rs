//! What `predict` was asked.

use std::path::PathBuf;

use clap::Args;

use super::field::FieldArgs;
use super::minding::brief;
use super::plan::PlanArgs;
use super::values::{Earth, Format, Parts, hertz};

#[derive(Debug, Args)]
#[command(after_help = brief("predict", "\
  sagtrace predict my-pillar.toml
  sagtrace predict my-pillar.toml --card --plot card"),
    after_long_help = "\
Examples:
  sagtrace predict pillar.toml
  sagtrace predict pillar.toml --detail
  sagtrace predict pillar.toml --earth held
  sagtrace predict pillar.toml --wanted 5MHz
  sagtrace predict pillar.toml --netlist typical > pillar.cir
  sagtrace predict pillar.toml --plot pictures
  sagtrace predict pillar.toml --card --plot card
  sagtrace predict pillar.toml --field --top-amplitude 1.2kV --plot pictures
  sagtrace predict pillar.toml --pickup \"stub 5cm at 30cm\"
  sagtrace predict pillar.toml --pickup \"loop 4cm 3 turns at 10cm into 50 ohm\"
  sagtrace predict pillar.toml --evening \"4 x 6min every 15min\"
  sagtrace predict pillar.toml --evening \"4 x 6min every 15min\" --load 0.3A \\
      --price alkaline=3.50,nimh=9/300
  sagtrace predict pillar.toml --evening \"4 x 6min every 15min\" --own N2 \\
      --sessions evenings
  sagtrace predict pillar.toml --format json")]
pub(crate) struct PredictArgs {
    /// Build sheet; - for stdin
    #[arg(value_name = "SHEET")]
    pub(crate) sheet: PathBuf,
    /// standing, held, clipped or earthed
    ///
    /// How the circuit stands to earth [default: as the build sheet says].
    #[arg(long, value_enum, hide_possible_values = true)]
    pub(crate) earth: Option<Earth>,
    /// Turns that resonate here, like 5MHz
    ///
    /// At the sheet's pitch.
    #[arg(long, value_name = "FREQUENCY", value_parser = hertz, help_heading = "Other questions")]
    pub(crate) wanted: Option<f64>,
    /// Print the circuit as a netlist for ngspice, with these parts, instead
    #[arg(long, value_enum, value_name = "PARTS", conflicts_with_all = ["wanted", "format", "plot"], hide_short_help = true)]
    pub(crate) netlist: Option<Parts>,
    /// The card for wiring and first power-up
    ///
    /// How it is wired, and the readings to expect at each step, with blanks; --plot DIR draws it on one page.
    #[arg(long, conflicts_with_all = ["wanted", "netlist", "format", "evening", "is_asked"], help_heading = "Other questions")]
    pub(crate) card: bool,
    /// Draw plots into this folder
    ///
    /// The mode along the coil, the resonance against a hand above the top, and the parts of its band.
    #[arg(long, value_name = "DIR", conflicts_with = "wanted")]
    pub(crate) plot: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) field: FieldArgs,
    #[command(flatten)]
    pub(crate) plan: PlanArgs,
    /// Print the full account
    ///
    /// Every value with its origin and basis, and every warning.
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
