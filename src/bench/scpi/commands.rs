//! The commands of the two instruments, as trees for the `scpi` crate.

use scpi::parser::format::Character;
use scpi::tree::prelude::*;
use scpi::{Branch, Leaf, Root, cmd_nquery, cmd_qonly};

use super::super::Quantity;
use super::super::time_word;
use super::panel::{Model, Panel};
use super::parameters::{asked_channels, nothing_more};
use super::trace::{ByteOrder, Format, Preamble, Trace};

/// A query of one quantity, `[<expected>[,<resolution>]][,(@<channels>)]`.
struct Measure(Quantity);

impl Command<Panel> for Measure {
    cmd_qonly!();

    fn query(
        &self,
        device: &mut Panel,
        _context: &mut Context<'_>,
        mut params: Parameters<'_, '_>,
        mut response: ResponseUnit<'_>,
    ) -> Result<(), Error> {
        for channel in asked_channels(&mut params, device.channels())? {
            match device.reading(self.0, channel) {
                Some(number) => response.data(Character(number.as_bytes())),
                None => response.data(f64::NAN),
            };
        }
        response.finish()
    }
}

/// `*IDN?`
struct Identity;

impl Command<Panel> for Identity {
    cmd_qonly!();

    fn query(
        &self,
        device: &mut Panel,
        _context: &mut Context<'_>,
        mut params: Parameters<'_, '_>,
        mut response: ResponseUnit<'_>,
    ) -> Result<(), Error> {
        nothing_more(&mut params)?;
        let model: &[u8] = match device.model {
            Model::Counter => b"virtual counter",
            Model::Scope => b"virtual scope",
        };
        let serial = time_word(device.time_scale);
        response
            .data(Character(b"sagtrace"))
            .data(Character(model))
            .data(Character(serial.as_bytes()))
            .data(Character(env!("CARGO_PKG_VERSION").as_bytes()))
            .finish()
    }
}

/// `*CLS`: empties the error queue.
struct Clear;

impl Command<Panel> for Clear {
    cmd_nquery!();

    fn event(
        &self,
        device: &mut Panel,
        _context: &mut Context<'_>,
        mut params: Parameters<'_, '_>,
    ) -> Result<(), Error> {
        nothing_more(&mut params)?;
        device.errors.clear();
        Ok(())
    }
}

/// `*RST`: there is nothing set that could be set back; the error queue stays, as the standard has it.
struct Reset;

impl Command<Panel> for Reset {
    cmd_nquery!();

    fn event(
        &self,
        _device: &mut Panel,
        _context: &mut Context<'_>,
        mut params: Parameters<'_, '_>,
    ) -> Result<(), Error> {
        nothing_more(&mut params)
    }
}

/// `*OPC?`: all that was asked before is done.
struct Complete;

impl Command<Panel> for Complete {
    cmd_qonly!();

    fn query(
        &self,
        _device: &mut Panel,
        _context: &mut Context<'_>,
        mut params: Parameters<'_, '_>,
        mut response: ResponseUnit<'_>,
    ) -> Result<(), Error> {
        nothing_more(&mut params)?;
        response.data(true).finish()
    }
}

/// `SYSTem:ERRor[:NEXT]?`: takes the oldest error out of the queue.
struct NextError;

impl Command<Panel> for NextError {
    cmd_qonly!();

    fn query(
        &self,
        device: &mut Panel,
        _context: &mut Context<'_>,
        mut params: Parameters<'_, '_>,
        mut response: ResponseUnit<'_>,
    ) -> Result<(), Error> {
        nothing_more(&mut params)?;
        response
            .data(device.errors.pop_front().unwrap_or_default())
            .finish()
    }
}

/// The counter's commands.
pub(super) const COUNTER: &Node<'_, Panel> = &Root![
    Leaf!(b"*IDN" => &Identity),
    Leaf!(b"*CLS" => &Clear),
    Leaf!(b"*RST" => &Reset),
    Leaf!(b"*OPC" => &Complete),
    Branch![b"SYSTem"; Branch![b"ERRor"; Leaf!(default b"NEXT" => &NextError)]],
    Branch![b"MEASure";
        Leaf!(b"FREQuency" => &Measure(Quantity::FrequencyHz)),
        Branch![b"VOLTage"; Leaf!(default b"DC" => &Measure(Quantity::BatteryV))],
        Branch![b"CURRent"; Leaf!(default b"DC" => &Measure(Quantity::CurrentA))],
        Leaf!(b"TEMPerature" => &Measure(Quantity::TemperatureC))
    ]
];

/// The scope's commands.
pub(super) const SCOPE: &Node<'_, Panel> = &Root![
    Leaf!(b"*IDN" => &Identity),
    Leaf!(b"*CLS" => &Clear),
    Leaf!(b"*RST" => &Reset),
    Leaf!(b"*OPC" => &Complete),
    Branch![b"SYSTem"; Branch![b"ERRor"; Leaf!(default b"NEXT" => &NextError)]],
    Branch![b"MEASure";
        Branch![b"VOLTage";
            Leaf!(default b"DC" => &Measure(Quantity::BatteryV)),
            Leaf!(b"FREQuency" => &Measure(Quantity::FrequencyHz)),
            Leaf!(b"PTPeak" => &Measure(Quantity::AmplitudeV))
        ]
    ],
    Branch![b"TRACe"; Leaf!(default b"DATA" => &Trace), Leaf!(b"PREamble" => &Preamble)],
    Branch![b"FORMat"; Leaf!(default b"DATA" => &Format), Leaf!(b"BORDer" => &ByteOrder)]
];
