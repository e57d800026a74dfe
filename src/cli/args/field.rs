//! What was typed of the field around a coil, and of a pick-up in it, behind `predict`.

use clap::{ArgGroup, Args};

use super::values::above_zero_volts;
use crate::coil::pickup::{Input, PickUp};

/// Whether the field is asked for, or what a pick-up sees of it, and with what at the top.
#[derive(Debug, Args)]
#[command(group = ArgGroup::new("around").args(["is_asked", "pick_up"]).multiple(true))]
pub(crate) struct FieldArgs {
    /// The electric field around the coil
    ///
    /// And how far out public reference levels are met; --plot draws it.
    #[arg(long = "field", conflicts_with_all = ["wanted", "netlist"], help_heading = "Other questions")]
    pub(crate) is_asked: bool,
    /// Volts that a stub or loop will give
    ///
    /// The voltage at an instrument from a pick-up beside the coil: "stub 5cm at 30cm", or
    /// "loop 4cm 3 turns at 10cm into 50 ohm".
    #[arg(long = "pickup", value_name = "PICK-UP", conflicts_with_all = ["wanted", "netlist", "card", "evening"],
          value_parser = PickUp::parse, help_heading = "Other questions")]
    pub(crate) pick_up: Option<(PickUp, Option<Input>)>,
    /// The input behind the pick-up, its cable counted, like "50 ohm" [default: 1 Mohm 15 pF]
    #[arg(long, value_name = "INPUT", requires = "pick_up", value_parser = Input::parse, hide_short_help = true, help_heading = "Other questions")]
    pub(crate) input: Option<Input>,
    /// Amplitude of the top's voltage against earth, like 1.2kV [default: what the circuit should give]
    #[arg(long, value_name = "VOLTS", requires = "around", value_parser = above_zero_volts, hide_short_help = true, help_heading = "Other questions")]
    pub(crate) top_amplitude: Option<f64>,
    /// The top's voltage as rms, such as 850V; for a sine the amplitude is 1.41 times that
    #[arg(long, value_name = "VOLTS", requires = "around", conflicts_with = "top_amplitude", value_parser = above_zero_volts, hide_short_help = true, help_heading = "Other questions")]
    pub(crate) top_rms: Option<f64>,
}
