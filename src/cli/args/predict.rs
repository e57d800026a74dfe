//! What `predict` was asked.

use std::path::PathBuf;

use clap::Args;

use super::field::FieldArgs;
use super::plan::PlanArgs;
use super::values::{Earth, Format, Parts, hertz};

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  sagtrace predict glow-pillar.toml
  sagtrace predict glow-pillar.toml --detail
  sagtrace predict glow-pillar.toml --earth held
  sagtrace predict glow-pillar.toml --wanted 5MHz
  sagtrace predict glow-pillar.toml --netlist typical > pillar.cir
  sagtrace predict glow-pillar.toml --plot pictures
  sagtrace predict glow-pillar.toml --card --plot card
  sagtrace predict glow-pillar.toml --field --top-amplitude 1.2kV --plot pictures
  sagtrace predict glow-pillar.toml --pickup \"stub 5cm at 30cm\"
  sagtrace predict glow-pillar.toml --pickup \"loop 4cm 3 turns at 10cm into 50 ohm\"
  sagtrace predict glow-pillar.toml --evening \"4 x 6min every 15min\"
  sagtrace predict glow-pillar.toml --evening \"4 x 6min every 15min\" --load 0.3A \\
      --price alkaline=3.50,nimh=9/300
  sagtrace predict glow-pillar.toml --evening \"4 x 6min every 15min\" --own N2 --sessions evenings
  sagtrace predict glow-pillar.toml --format json")]
pub(crate) struct PredictArgs {
    /// Build sheet; - for stdin
    #[arg(value_name = "SHEET")]
    pub(crate) sheet: PathBuf,
    /// How the circuit stands to earth [default: as the build sheet says]
    #[arg(long, value_enum)]
    pub(crate) earth: Option<Earth>,
    /// Find the number of turns, at the sheet's pitch, that resonate here, like 5MHz
    #[arg(long, value_name = "FREQUENCY", value_parser = hertz)]
    pub(crate) wanted: Option<f64>,
    /// Print the circuit as a netlist for ngspice, with these parts, instead
    #[arg(long, value_enum, value_name = "PARTS", conflicts_with_all = ["wanted", "format", "plot"])]
    pub(crate) netlist: Option<Parts>,
    /// Print the card for the bench instead: how it is wired, and what each step of the first power-up should read, with
    /// blanks; --plot DIR draws it on one page
    #[arg(long, conflicts_with_all = ["wanted", "netlist", "format", "evening", "is_asked"])]
    pub(crate) card: bool,
    /// Draw the mode along the coil, the resonance against a hand above the top, and what its band is made of, into
    /// this folder
    #[arg(long, value_name = "DIR", conflicts_with = "wanted")]
    pub(crate) plot: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) field: FieldArgs,
    #[command(flatten)]
    pub(crate) plan: PlanArgs,
    /// Print the full account: every value with its origin, what it rests on, and every warning
    #[arg(long)]
    pub(crate) detail: bool,
    /// How the result is printed
    #[arg(long, value_enum, default_value = "text")]
    pub(crate) format: Format,
}
