//! What was typed of the field around a coil, behind `predict`.

use clap::Args;

use super::above_zero_volts;

/// Whether the field is asked for, and with what at the top.
#[derive(Debug, Args)]
pub(in super::super) struct FieldArgs {
    /// Tell the electric field around the coil, and how far out public reference levels are met; --plot draws it
    #[arg(long = "field", conflicts_with_all = ["wanted", "netlist"])]
    pub(in super::super) is_asked: bool,
    /// Amplitude of the top's voltage against earth, like 1.2kV [default: what the circuit should give]
    #[arg(long, value_name = "VOLTS", requires = "is_asked", value_parser = above_zero_volts)]
    pub(in super::super) top_amplitude: Option<f64>,
    /// The same as an effective value, like 850V; for a sine the amplitude is 1.41 times that
    #[arg(long, value_name = "VOLTS", requires = "is_asked", conflicts_with = "top_amplitude", value_parser = above_zero_volts)]
    pub(in super::super) top_rms: Option<f64>,
}
