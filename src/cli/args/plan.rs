//! What was typed of an evening to plan, behind `predict`.

use std::path::PathBuf;

use clap::Args;

use super::battery::kind;
use super::values::load;
use crate::battery::evening::Evening;
use crate::battery::kind::Kind;
use crate::battery::price::{self, Price};
use crate::logbook::Loading;

/// An evening, and the batteries to judge for it.
#[derive(Debug, Args)]
pub(crate) struct PlanArgs {
    /// Batteries for "4 x 6min every 15min"
    ///
    /// Says for each kind of battery whether one charge covers the evening.
    #[arg(long, value_name = "PATTERN", value_parser = evening, conflicts_with_all = ["wanted", "netlist", "plot", "is_asked"], help_heading = "Other questions")]
    pub(crate) evening: Option<Evening>,
    /// Kind of battery to judge; may be given more than once [default: all]
    #[arg(long = "battery", value_name = "KIND", requires = "evening", value_parser = kind(), hide_short_help = true, help_heading = "An evening")]
    pub(crate) kinds: Vec<Kind>,
    /// Judge this battery too, by its own full runs, like N2; may be given more than once
    #[arg(
        long = "own",
        value_name = "LABEL",
        requires = "evening",
        hide_short_help = true,
        help_heading = "An evening"
    )]
    pub(crate) own: Vec<String>,
    /// Folder with the sessions of those runs [default: the current folder]
    #[arg(
        long,
        value_name = "DIR",
        requires = "own",
        hide_short_help = true,
        help_heading = "An evening"
    )]
    pub(crate) sessions: Option<PathBuf>,
    /// Load of the coil, like 0.3A, "30 ohm" or 3W, instead of the current predicted for it
    #[arg(long, value_name = "LOAD", requires = "evening", value_parser = load, hide_short_help = true, help_heading = "An evening")]
    pub(crate) load: Option<Loading>,
    /// Price of one battery, a rechargeable one with the charges it lasts, like
    /// "alkaline=3.50,nimh=9/300", to compare the cost of a run
    #[arg(long = "price", value_name = "PRICES", requires = "evening", value_parser = prices, hide_short_help = true, help_heading = "An evening")]
    pub(crate) prices: Option<Prices>,
}

/// Prices by kind.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Prices(pub(crate) Vec<Price>);

fn prices(text: &str) -> Result<Prices, String> {
    price::parse(text)
        .map(Prices)
        .map_err(|error| error.to_string())
}

fn evening(text: &str) -> Result<Evening, String> {
    Evening::parse(text).map_err(|error| error.to_string())
}
