//! The commands of the two instruments, as trees for the `scpi` crate.

use scpi::parser::expression::channel_list::{ChannelList, Token as Listed};
use scpi::parser::format::Character;
use scpi::tree::prelude::*;
use scpi::{Branch, Leaf, Root, cmd_nquery, cmd_qonly};

use super::super::Quantity;
use super::super::time_word;
use super::panel::{Model, Panel};
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

/// The channels a query is for, 1 when it says nothing; expected value and resolution set nothing here.
pub(super) fn asked_channels(
    params: &mut Parameters<'_, '_>,
    most: usize,
) -> Result<Vec<usize>, Error> {
    let mut numbers = 0;
    while let Some(token) = params.next_optional_token()? {
        match token {
            Token::ExpressionProgramData(list) => {
                nothing_more(params)?;
                return listed_channels(list, most);
            }
            Token::DecimalNumericProgramData(_)
            | Token::DecimalNumericSuffixProgramData(..)
            | Token::CharacterProgramData(_)
                if numbers < 2 =>
            {
                numbers += 1;
            }
            Token::DecimalNumericProgramData(_)
            | Token::DecimalNumericSuffixProgramData(..)
            | Token::CharacterProgramData(_) => return Err(ErrorCode::ParameterNotAllowed.into()),
            _ => return Err(ErrorCode::DataTypeError.into()),
        }
    }
    Ok(vec![1])
}

fn listed_channels(list: &[u8], most: usize) -> Result<Vec<usize>, Error> {
    let mut channels = Vec::new();
    for item in ChannelList::new(list).ok_or(ErrorCode::InvalidExpression)? {
        let (first, last) = match item? {
            Listed::ChannelSpec(channel) => {
                let channel = usize::try_from(channel)?;
                (channel, channel)
            }
            Listed::ChannelRange(first, last) => (usize::try_from(first)?, usize::try_from(last)?),
            _ => return Err(ErrorCode::InvalidExpression.into()),
        };
        if first < 1 || last < first || last > most {
            return Err(ErrorCode::DataOutOfRange.into());
        }
        channels.extend(first..=last);
    }
    if channels.is_empty() {
        return Err(ErrorCode::InvalidExpression.into());
    }
    Ok(channels)
}

/// Refuses parameters before anything is answered, or half an answer would be sent.
pub(super) fn nothing_more(params: &mut Parameters<'_, '_>) -> Result<(), Error> {
    match params.next_optional_token()? {
        Some(_) => Err(ErrorCode::ParameterNotAllowed.into()),
        None => Ok(()),
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
