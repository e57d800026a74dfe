//! The virtual bench: a seeded world behind instruments that answer on a real pseudo-terminal.
//!
//! It is the other hand: it shares no parsing and no formatting with the recorder's side. So both can agree only by the standard
//! or the written form, and not by a common mistake. A [`world::World`] says how things are at a moment, an [`Instrument`] turns
//! that into bytes, a [`faults::Script`] spoils them, and a [`pty::Device`] carries them.

use std::fmt::Debug;

pub mod account;
pub mod evening;
pub mod faults;
pub mod lines;
mod noise;
mod port;
pub mod pty;
mod runs;
pub mod scpi;
mod serve;
mod spec;
pub mod world;

use world::{Moment, World};

/// The quantities that an instrument of the bench may measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// Frequency of the oscillation, in hertz; there is none while the coil is stopped.
    FrequencyHz,
    /// Battery voltage at the circuit, in volts.
    BatteryV,
    /// Supply current, in amperes.
    CurrentA,
    /// Peak-to-peak voltage at the pick-up, in volts.
    AmplitudeV,
    /// Temperature at the circuit, in degrees Celsius.
    TemperatureC,
}

impl Quantity {
    /// Returns its value at a moment, in the SI unit; `None` for the frequency of a stopped coil.
    pub const fn of(self, moment: &Moment) -> Option<f64> {
        match self {
            Self::FrequencyHz => moment.frequency_hz,
            Self::BatteryV => Some(moment.battery_v),
            Self::CurrentA => Some(moment.current_a),
            Self::AmplitudeV => Some(moment.amplitude_v),
            Self::TemperatureC => Some(moment.temperature_c),
        }
    }
}

/// How a line ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineEnd {
    /// A line feed.
    Lf,
    /// Carriage return and line feed.
    CrLf,
}

impl LineEnd {
    /// Returns its bytes.
    pub const fn bytes(self) -> &'static [u8] {
        match self {
            Self::Lf => b"\n",
            Self::CrLf => b"\r\n",
        }
    }
}

/// Returns the third field of a virtual instrument's identity, where others have their serial number (IEEE 488.2, 10.14, from
/// memory: `0` where there is none): `x20` in a world that runs 20 times faster than real.
fn time_word(scale: u32) -> String {
    match scale {
        1 => "0".to_owned(),
        _ => format!("x{scale}"),
    }
}

/// An instrument as its line sees it: bytes in, bytes out, and the world to look at.
pub trait Instrument: Debug + Send {
    /// Returns its words when a program opens its line, for instance a heading.
    fn opened(&mut self) -> Vec<Vec<u8>> {
        Vec::new()
    }

    /// Takes bytes as they come, in pieces of any size, and returns the answers to the messages they complete.
    fn hear(&mut self, bytes: &[u8], world: &World, elapsed_s: f64) -> Vec<Vec<u8>>;

    /// Returns when it next speaks unasked, in seconds of the world; `None` for an instrument that only answers.
    fn due_s(&self) -> Option<f64> {
        None
    }

    /// Returns its unasked message at the moment it is due, and moves on to the next.
    fn speak(&mut self, _world: &World) -> Vec<u8> {
        Vec::new()
    }
}
