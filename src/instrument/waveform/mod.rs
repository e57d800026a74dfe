//! A waveform as an instrument hands it out: codes in a block or a line, and a scale. The scale gives the volts per code and the
//! time per step.
//!
//! Guides of instruments write the scale in two ways, as an offset in codes or in volts. Both are
//! `volts = (code - zero_code) × volts_per_code + added_volts`; the profile assigns the values of the preamble to these terms.

pub(in crate::instrument) mod codes;
pub(in crate::instrument) mod rule;
pub(in crate::instrument) mod scale;

use crate::instrument::line::reading::Reading;
use crate::instrument::number::value::Value;
use crate::instrument::profile::{ChannelRule, Place};
use crate::instrument::refusal::Refusal;
use crate::instrument::waveform::codes::Codes;
use crate::instrument::waveform::rule::{Figure, WaveformRule};
use crate::instrument::waveform::scale::Preamble;
use crate::reading::{Channel, Remark, Status};
use crate::tone::{self, NoTone, Rails};
use crate::units::{self, Unit};

/// A waveform: its codes with their scale.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    preamble: Preamble,
    codes: Vec<f64>,
    /// The step between neighbouring codes.
    quantum: f64,
}

/// The smallest step between samples that differ, 0 where none do: of numbers in volts, it is the converter's or finer.
fn smallest_step(samples: &[f64]) -> f64 {
    let mut sorted = samples.to_vec();
    sorted.sort_by(f64::total_cmp);
    let steps = sorted.iter().zip(sorted.iter().skip(1));
    let steps = steps
        .map(|(low, high)| high - low)
        .filter(|step| *step > 0.0);
    let least = steps.fold(f64::INFINITY, f64::min);
    if least.is_finite() { least } else { 0.0 }
}

impl Trace {
    /// A block's samples, if they are as many as the preamble says.
    ///
    /// # Errors
    /// [`Refusal`].
    pub fn new(preamble: Preamble, block: &[u8], form: Codes) -> Result<Self, Refusal> {
        let codes = form.read(block)?;
        if preamble.points.is_some_and(|points| points != codes.len()) {
            return Err(Refusal::NotAsManyAsPoints);
        }
        if codes.is_empty() {
            return Err(Refusal::NoSamples);
        }
        let quantum = match form.range() {
            Some(_) => 1.0,
            None => smallest_step(&codes),
        };
        Ok(Self {
            preamble,
            codes,
            quantum,
        })
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
            low: rule.lowest_code,
            high: rule.highest_code,
        };
        let found = tone::find(&self.codes, self.quantum, rails);
        let clipped = self.codes.iter().filter(|code| rails.clips(**code)).count();
        let mut told: Vec<(Status, Remark)> = Vec::new();
        for value in values {
            let Place::Waveform(figure) = value.place else {
                continue;
            };
            let channel = value.channel;
            let outcome = match figure {
                Figure::Frequency => self.frequency(rule, &found, channel),
                Figure::PeakToPeak => Ok(significant(self.peak_to_peak_v(), PEAK_DIGITS)),
                Figure::Fundamental => self.fundamental(&found, channel),
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
                    "at least {volts}, {clipped} of {} samples stand at the end stops",
                    self.codes.len()
                );
                told.push((Status::Overload, Remark::of(channel, why)));
            }
        }
        // The graver remark comes first, and sets the status; the rest follows.
        told.sort_by_key(|(status, _)| *status);
        if let Some((gravest, _)) = told.first() {
            reading.note_all(*gravest, told.into_iter().map(|(_, why)| why));
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
        channel: Channel,
    ) -> Result<f64, (Status, Remark)> {
        let tone = found.as_ref().map_err(|why| no_tone(*why, channel))?;
        let rate_hz = 1.0 / self.preamble.interval_s;
        let frequency_hz = tone.cycles_per_sample * rate_hz;
        let shown = |value_hz| units::rounded(value_hz, Unit::Hertz, 4);
        let highest = units::exact(rule.highest_hz, Unit::Hertz);
        if rate_hz < 2.0 * rule.highest_hz {
            let why = format!(
                "{} may be an alias, sampled at {} where inputs go up to {highest}",
                shown(frequency_hz),
                shown(rate_hz)
            );
            return Err((Status::Suspect, Remark::of(channel, why)));
        }
        if frequency_hz > rule.highest_hz {
            let why = format!("{} where inputs go up to {highest}", shown(frequency_hz));
            return Err((Status::Suspect, Remark::of(channel, why)));
        }
        Ok(to_its_error(
            frequency_hz,
            tone.cycles_per_sample_se * rate_hz,
        ))
    }

    fn fundamental(
        &self,
        found: &Result<tone::Tone, NoTone>,
        channel: Channel,
    ) -> Result<f64, (Status, Remark)> {
        let tone = found.as_ref().map_err(|why| no_tone(*why, channel))?;
        let volts = 2.0 * self.preamble.volts_per_code.abs();
        let harmonic = tone.fundamental();
        Ok(to_its_error(
            harmonic.amplitude * volts,
            harmonic.amplitude_se * volts,
        ))
    }
}

/// Why a row has no frequency.
fn no_tone(why: NoTone, channel: Channel) -> (Status, Remark) {
    let (status, words) = match why {
        NoTone::Noise => (Status::NoSignal, "no signal"),
        NoTone::TooShort => (Status::Garbled, "too few samples for a frequency"),
        NoTone::TooFewCycles => (
            Status::Suspect,
            "too few cycles in the waveform, set a slower time base",
        ),
        NoTone::Unsettled => (Status::Suspect, "no single frequency fits the waveform"),
    };
    (status, Remark::of(channel, words))
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
