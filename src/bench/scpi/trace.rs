//! The scope's waveform: how it samples, and its commands.
//!
//! `TRACe[:DATA]?`, `FORMat[:DATA]` and `FORMat:BORDer` are words of SCPI-1999 (from memory). The preamble's layout is the
//! bench's own: points, seconds a step, volts a code, the code of no volts, volts added.

use std::f64::consts::TAU;

use scpi::parser::format::{Arbitrary, Character};
use scpi::tree::prelude::*;
use scpi::{cmd_nquery, cmd_qonly};

use super::number::{Resolution, nr3};
use super::panel::Panel;
use super::parameters::{asked_channels, nothing_more};
use super::sampling::Form;

/// Standard deviation of the converter's noise, in steps of eight bits (invented).
const NOISE_CODES: f64 = 0.7;

/// The second harmonic as a share of the fundamental (invented). It adds to one peak the amount that it takes from the other.
const SECOND: f64 = 0.05;

impl Panel {
    /// Returns the volts of one code as coded now.
    fn volts_per_code(&self) -> f64 {
        self.sampling.volts_per_code / if self.form.is_wide { 256.0 } else { 1.0 }
    }

    /// Returns the pick-up's samples at the moment, coded.
    fn samples(&mut self) -> Vec<u8> {
        self.traces += 1;
        let mut chance = fastrand::Rng::with_seed(self.traces);
        let phase = chance.f64();
        let (frequency_hz, amplitude_v) = self.moment.as_ref().map_or((0.0, 0.0), |moment| {
            (moment.frequency_hz.unwrap_or(0.0), moment.amplitude_v / 2.0)
        });
        let volts_per_code = self.volts_per_code();
        let mut bytes = Vec::new();
        for index in 0..self.sampling.points {
            let angle = TAU * (frequency_hz * self.sampling.interval_s * index as f64 + phase);
            let volts = amplitude_v * (angle.cos() + SECOND * (2.0 * angle).cos());
            // Twelve uniform numbers less six have variance 1.
            let noise = (0..12).map(|_| chance.f64()).sum::<f64>() - 6.0;
            let volts = volts + NOISE_CODES * noise * self.sampling.volts_per_code;
            push(&mut bytes, (volts / volts_per_code).round(), self.form);
        }
        bytes
    }
}

/// Writes one sample, held within the range of its bits.
#[expect(
    clippy::cast_possible_truncation,
    reason = "a whole number of sixteen bits at most, by the clamp"
)]
fn push(bytes: &mut Vec<u8>, steps: f64, form: Form) {
    let half = if form.is_wide { 32_768.0 } else { 128.0 };
    let code = steps.clamp(-half, half - 1.0) as i32 + form.zero_code();
    let [low, high, ..] = code.to_le_bytes();
    match (form.is_wide, form.low_first) {
        (false, _) => bytes.push(low),
        (true, true) => bytes.extend([low, high]),
        (true, false) => bytes.extend([high, low]),
    }
}

/// `TRACe[:DATA]? [(@1)]`: a block of samples.
pub(super) struct Trace;

impl Command<Panel> for Trace {
    cmd_qonly!();

    fn query(
        &self,
        device: &mut Panel,
        _context: &mut Context<'_>,
        mut params: Parameters<'_, '_>,
        mut response: ResponseUnit<'_>,
    ) -> Result<(), Error> {
        // Channel 2 has no waveform to show.
        asked_channels(&mut params, 1)?;
        let samples = device.samples();
        device.block_len = samples.len();
        response.data(Arbitrary(&samples)).finish()
    }
}

/// `TRACe:PREamble? [(@1)]`: the form of the samples.
pub(super) struct Preamble;

impl Command<Panel> for Preamble {
    cmd_qonly!();

    fn query(
        &self,
        device: &mut Panel,
        _context: &mut Context<'_>,
        mut params: Parameters<'_, '_>,
        mut response: ResponseUnit<'_>,
    ) -> Result<(), Error> {
        asked_channels(&mut params, 1)?;
        let number = |value| nr3(value, Resolution::Digits(7));
        response
            .data(device.sampling.points)
            .data(Character(number(device.sampling.interval_s).as_bytes()))
            .data(Character(number(device.volts_per_code()).as_bytes()))
            .data(device.form.zero_code())
            .data(Character(number(0.0).as_bytes()))
            .finish()
    }
}

/// `FORMat[:DATA] INTeger|UINTeger[,8|16]`
pub(super) struct Format;

impl Command<Panel> for Format {
    cmd_nquery!();

    fn event(
        &self,
        device: &mut Panel,
        _context: &mut Context<'_>,
        mut params: Parameters<'_, '_>,
    ) -> Result<(), Error> {
        let has_sign = match params.next_token()? {
            Token::CharacterProgramData(word) if is(word, b"INT", b"INTEGER") => true,
            Token::CharacterProgramData(word) if is(word, b"UINT", b"UINTEGER") => false,
            Token::CharacterProgramData(_) => return Err(ErrorCode::IllegalParameterValue.into()),
            _ => return Err(ErrorCode::DataTypeError.into()),
        };
        let is_wide = match params.next_optional_data::<usize>()? {
            None | Some(8) => false,
            Some(16) => true,
            Some(_) => return Err(ErrorCode::IllegalParameterValue.into()),
        };
        nothing_more(&mut params)?;
        (device.form.has_sign, device.form.is_wide) = (has_sign, is_wide);
        Ok(())
    }
}

/// `FORMat:BORDer NORMal|SWAPped`: normal is the high byte first.
pub(super) struct ByteOrder;

impl Command<Panel> for ByteOrder {
    cmd_nquery!();

    fn event(
        &self,
        device: &mut Panel,
        _context: &mut Context<'_>,
        mut params: Parameters<'_, '_>,
    ) -> Result<(), Error> {
        let low_first = match params.next_token()? {
            Token::CharacterProgramData(word) if is(word, b"NORM", b"NORMAL") => false,
            Token::CharacterProgramData(word) if is(word, b"SWAP", b"SWAPPED") => true,
            Token::CharacterProgramData(_) => return Err(ErrorCode::IllegalParameterValue.into()),
            _ => return Err(ErrorCode::DataTypeError.into()),
        };
        nothing_more(&mut params)?;
        device.form.low_first = low_first;
        Ok(())
    }
}

/// Whether a word is the short or the long form of another.
fn is(word: &[u8], short: &[u8], long: &[u8]) -> bool {
    word.eq_ignore_ascii_case(short) || word.eq_ignore_ascii_case(long)
}
