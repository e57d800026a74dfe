//! A waveform as an instrument hands it out: codes in a block, and a preamble that says what a code and a step are.
//!
//! Guides of instruments write the scale in two ways, offset in codes and offset in volts, and both are
//! `volts = (code - zero_code) × volts_per_code + added_volts`; the profile says which values of the preamble are which.

use std::time::Duration;

use super::line::Reading;
use super::number::Value;
use super::profile::{ChannelRule, Place};
use crate::reading::Status;
use crate::tone::{self, NoTone, Rails};
use crate::units::{self, Unit};

/// How a sample stands in the block.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Codes {
    /// One byte with a sign.
    Int8,
    /// One byte without a sign.
    Uint8,
    /// Two bytes with a sign, the high one first.
    Int16HighFirst,
    /// Two bytes with a sign, the low one first.
    Int16LowFirst,
    /// Two bytes without a sign, the high one first.
    Uint16HighFirst,
    /// Two bytes without a sign, the low one first.
    Uint16LowFirst,
}

impl Codes {
    /// Bytes a sample.
    pub const fn sample_len(self) -> usize {
        match self {
            Self::Int8 | Self::Uint8 => 1,
            Self::Int16HighFirst
            | Self::Int16LowFirst
            | Self::Uint16HighFirst
            | Self::Uint16LowFirst => 2,
        }
    }

    /// The lowest and the highest code there can be.
    pub const fn range(self) -> (i32, i32) {
        match self {
            Self::Int8 => (-128, 127),
            Self::Uint8 => (0, 255),
            Self::Int16HighFirst | Self::Int16LowFirst => (-32_768, 32_767),
            Self::Uint16HighFirst | Self::Uint16LowFirst => (0, 65_535),
        }
    }

    fn read(self, block: &[u8]) -> Vec<f64> {
        let pairs = |read: fn([u8; 2]) -> f64| {
            block
                .chunks_exact(2)
                .map(|pair| read([pair[0], pair[1]]))
                .collect()
        };
        match self {
            Self::Int8 => block
                .iter()
                .map(|byte| f64::from(i8::from_be_bytes([*byte])))
                .collect(),
            Self::Uint8 => block.iter().copied().map(f64::from).collect(),
            Self::Int16HighFirst => pairs(|pair| i16::from_be_bytes(pair).into()),
            Self::Int16LowFirst => pairs(|pair| i16::from_le_bytes(pair).into()),
            Self::Uint16HighFirst => pairs(|pair| u16::from_be_bytes(pair).into()),
            Self::Uint16LowFirst => pairs(|pair| u16::from_le_bytes(pair).into()),
        }
    }
}

/// What is taken from a waveform.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Figure {
    /// The frequency of the fundamental.
    Frequency,
    /// The highest sample less the lowest.
    PeakToPeak,
    /// Peak-to-peak of the fundamental alone: twice its amplitude.
    Fundamental,
}

/// Which value of the preamble is which, each counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PreambleRule {
    /// The number of samples.
    pub points: Option<usize>,
    /// Seconds from one sample to the next.
    pub interval: usize,
    /// Volts from one code to the next.
    pub volts_per_code: usize,
    /// The code that stands for no volts, before `added_volts`; 0 where the preamble has none.
    pub zero_code: Option<usize>,
    /// What is added to the volts; nothing where the preamble has none.
    pub added_volts: Option<usize>,
}

/// How a waveform is asked for and read.
#[derive(Debug, Clone, PartialEq)]
pub struct WaveformRule {
    /// Commands sent before each waveform.
    pub before: Vec<String>,
    /// The question for the preamble.
    pub preamble: String,
    /// The question for the block.
    pub ask: String,
    /// How the samples stand in it.
    pub codes: Codes,
    /// A code at or below this is clipped.
    pub lowest_code: i32,
    /// A code at or above this is clipped.
    pub highest_code: i32,
    /// Where the preamble's values are.
    pub places: PreambleRule,
    /// The highest frequency that may be at the input: sampling must be fast enough for it.
    pub highest_hz: f64,
    /// The longest block, in bytes.
    pub longest_block: usize,
    /// The silence that ends a block of unknown length.
    pub idle: Duration,
}

/// What a preamble says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Preamble {
    /// The number of samples, where it says so.
    pub points: Option<usize>,
    /// Seconds from one sample to the next.
    pub interval_s: f64,
    /// Volts from one code to the next.
    pub volts_per_code: f64,
    /// The code that stands for no volts, before `added_v`.
    pub zero_code: f64,
    /// What is added to the volts.
    pub added_v: f64,
}

/// More samples than this are no record but a fault of the preamble.
const MOST_POINTS: usize = 1_000_000_000;

/// A whole number above 0.
fn count(value: f64) -> Option<usize> {
    let count = format!("{value}").parse().ok()?;
    (1..=MOST_POINTS).contains(&count).then_some(count)
}

impl Preamble {
    /// Reads a preamble: values between commas or semicolons, each with a header before it or not.
    ///
    /// # Errors
    /// The reason, in a few words.
    pub fn read(text: &str, places: &PreambleRule) -> Result<Self, &'static str> {
        let values = fields(text);
        let number = |position: usize| {
            let field = values
                .get(position - 1)
                .ok_or("too few values in the preamble")?;
            read_plain(field).ok_or("a value of the preamble is not a number")
        };
        let optional = |position: Option<usize>| position.map_or(Ok(0.0), number);
        let points = places
            .points
            .map(|position| {
                count(number(position)?)
                    .ok_or("the preamble's number of points is no whole number above 0")
            })
            .transpose()?;
        let preamble = Self {
            points,
            interval_s: number(places.interval)?,
            volts_per_code: number(places.volts_per_code)?,
            zero_code: optional(places.zero_code)?,
            added_v: optional(places.added_volts)?,
        };
        if preamble.interval_s <= 0.0 {
            return Err("the preamble's interval is not above 0");
        }
        if preamble.volts_per_code.abs() < f64::MIN_POSITIVE {
            return Err("the preamble's volts per code are 0");
        }
        Ok(preamble)
    }
}

/// Splits a text at commas and semicolons outside quotes.
fn fields(text: &str) -> Vec<&str> {
    let mut quote = None;
    text.split(|c: char| {
        match quote {
            Some(open) if open == c => quote = None,
            None if matches!(c, '"' | '\'') => quote = Some(c),
            Some(_) | None => {}
        }
        quote.is_none() && matches!(c, ',' | ';')
    })
    .collect()
}

/// A number of a preamble; what stands before it with a blank between is its header.
fn read_plain(field: &str) -> Option<f64> {
    let word = field.split_ascii_whitespace().next_back()?;
    let (mantissa, exponent, rest) = units::split_number(word)?;
    let value = units::with_exponent(mantissa, exponent);
    // 9.9E37 and 9.91E37 stand for infinity and no number (SCPI-1999, 7.2.1.4 and 7.2.1.5).
    (rest.is_empty() && value.abs() < 9.0e37).then_some(value)
}

/// A waveform: its codes with their scale.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    preamble: Preamble,
    codes: Vec<f64>,
}

impl Trace {
    /// A block's samples, if they are as many as the preamble says.
    ///
    /// # Errors
    /// The reason, in a few words.
    pub fn new(preamble: Preamble, block: &[u8], codes: Codes) -> Result<Self, &'static str> {
        if !block.len().is_multiple_of(codes.sample_len()) {
            return Err("half a sample at the end of the block");
        }
        let codes = codes.read(block);
        if preamble.points.is_some_and(|points| points != codes.len()) {
            return Err("the block has not as many samples as the preamble says");
        }
        if codes.is_empty() {
            return Err("a block without samples");
        }
        Ok(Self { preamble, codes })
    }

    /// The samples in volts, as the instrument's input saw them.
    pub fn volts(&self) -> impl Iterator<Item = f64> + '_ {
        let scale = self.preamble;
        self.codes
            .iter()
            .map(move |code| (code - scale.zero_code) * scale.volts_per_code + scale.added_v)
    }

    /// Takes what the profile wants from the waveform into a row.
    ///
    /// A clipped waveform makes the row `overload`: its amplitude is a lower bound, its frequency stands. Where sampling is
    /// too slow for the highest frequency that may be at the input, the frequency is left out and the row is `suspect`.
    pub fn fill(&self, rule: &WaveformRule, values: &[ChannelRule], reading: &mut Reading) {
        let rails = Rails {
            low: rule.lowest_code.into(),
            high: rule.highest_code.into(),
        };
        let found = tone::find(&self.codes, 1.0, rails);
        let clipped = self.codes.iter().filter(|code| rails.clips(**code)).count();
        let mut told: Vec<(Status, String)> = Vec::new();
        for value in values {
            let Place::Waveform(figure) = value.place else {
                continue;
            };
            let name = value.channel.column();
            let outcome = match figure {
                Figure::Frequency => self.frequency(rule, &found, name),
                Figure::PeakToPeak => Ok(significant(self.peak_to_peak_v(), PEAK_DIGITS)),
                Figure::Fundamental => self.fundamental(&found, name),
            };
            let number = match outcome {
                Ok(number) => value.number.multiplier.scale(number),
                Err(why) => {
                    told.push(why);
                    continue;
                }
            };
            reading.add(value.channel, Value::Number(number));
            if clipped > 0 && figure != Figure::Frequency {
                let volts = units::exact(number, Unit::Volt);
                let why = format!(
                    "{name}: at least {volts}, {clipped} of {} samples stand at the end stops",
                    self.codes.len()
                );
                told.push((Status::Overload, why));
            }
        }
        // What is graver comes first, and sets the status; the rest is told behind it.
        told.sort_by_key(|(status, _)| *status);
        if let Some((status, _)) = told.first() {
            let whys: Vec<&str> = told.iter().map(|(_, why)| why.as_str()).collect();
            reading.note(*status, &whys.join("; "));
        }
    }

    /// The highest sample less the lowest, in volts.
    fn peak_to_peak_v(&self) -> f64 {
        let (low, high) = self
            .codes
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), code| {
                (low.min(*code), high.max(*code))
            });
        (high - low) * self.preamble.volts_per_code.abs()
    }

    fn frequency(
        &self,
        rule: &WaveformRule,
        found: &Result<tone::Tone, NoTone>,
        name: &str,
    ) -> Result<f64, (Status, String)> {
        let tone = found.as_ref().map_err(|why| no_tone(*why, name))?;
        let rate_hz = 1.0 / self.preamble.interval_s;
        let frequency_hz = tone.cycles_per_sample * rate_hz;
        let shown = |value_hz| units::rounded(value_hz, Unit::Hertz, 4);
        let highest = units::exact(rule.highest_hz, Unit::Hertz);
        if rate_hz < 2.0 * rule.highest_hz {
            let why = format!(
                "{name}: {} may be an alias, sampled at {} where inputs go up to {highest}",
                shown(frequency_hz),
                shown(rate_hz)
            );
            return Err((Status::Suspect, why));
        }
        if frequency_hz > rule.highest_hz {
            let why = format!(
                "{name}: {} where inputs go up to {highest}",
                shown(frequency_hz)
            );
            return Err((Status::Suspect, why));
        }
        Ok(to_its_error(
            frequency_hz,
            tone.cycles_per_sample_se * rate_hz,
        ))
    }

    fn fundamental(
        &self,
        found: &Result<tone::Tone, NoTone>,
        name: &str,
    ) -> Result<f64, (Status, String)> {
        let tone = found.as_ref().map_err(|why| no_tone(*why, name))?;
        let volts = 2.0 * self.preamble.volts_per_code.abs();
        let harmonic = tone.fundamental();
        Ok(to_its_error(
            harmonic.amplitude * volts,
            harmonic.amplitude_se * volts,
        ))
    }
}

/// Why a row has no frequency.
fn no_tone(why: NoTone, name: &str) -> (Status, String) {
    let (status, words) = match why {
        NoTone::Noise => (Status::NoSignal, "no signal"),
        NoTone::TooShort => (Status::Garbled, "too few samples for a frequency"),
        NoTone::TooFewCycles => (
            Status::Suspect,
            "too few cycles in the waveform, a slower time base is wanted",
        ),
        NoTone::Unsettled => (Status::Suspect, "no single frequency fits the waveform"),
    };
    (status, format!("{name}: {words}"))
}

/// Digits of the highest less the lowest sample: more than sixteen bits have.
const PEAK_DIGITS: usize = 6;

fn significant(value: f64, digits: usize) -> f64 {
    format!("{value:.*e}", digits.saturating_sub(1))
        .parse()
        .unwrap_or(value)
}

/// A value without the digits that its standard error makes meaningless: rounded to a tenth of the error or finer.
fn to_its_error(value: f64, error: f64) -> f64 {
    if !(error > 0.0 && error.is_finite()) {
        return value;
    }
    let decimals = (0..15_u8).find(|decimals| 10.0_f64.powi(1 - i32::from(*decimals)) <= error);
    let Some(decimals) = decimals else {
        return value;
    };
    format!("{value:.*}", usize::from(decimals))
        .parse()
        .unwrap_or(value)
}

#[cfg(test)]
mod tests;
