//! How a waveform is asked for, and where its scale comes from.

use std::time::Duration;

use crate::instrument::number::value::Multiplier;
use crate::instrument::refusal::Refusal;
use crate::instrument::waveform::codes::Codes;

/// The figure that is taken from a waveform.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Figure {
    /// The frequency of the fundamental.
    Frequency,
    /// The highest sample less the lowest.
    PeakToPeak,
    /// Peak-to-peak of the fundamental alone: twice its amplitude.
    Fundamental,
}

/// How a waveform is asked for and read.
#[derive(Debug, Clone, PartialEq)]
pub struct WaveformRule {
    /// Commands sent before each waveform.
    pub before: Vec<String>,
    /// Where its scale comes from.
    pub scale: ScaleRule,
    /// The question for the samples.
    pub ask: String,
    /// How the samples stand in the answer.
    pub codes: Codes,
    /// Bytes of the block in front of the samples.
    pub skip: usize,
    /// A code at or below this is clipped.
    pub lowest_code: f64,
    /// A code at or above this is clipped.
    pub highest_code: f64,
    /// The highest frequency that may be at the input: sampling must be fast enough for it.
    pub highest_hz: f64,
    /// The longest block, in bytes.
    pub longest_block: usize,
    /// The silence that ends a block of unknown length.
    pub idle: Duration,
}

impl WaveformRule {
    /// The part of a block that holds the samples.
    ///
    /// # Errors
    /// [`Refusal`].
    pub fn samples<'b>(&self, block: &'b [u8]) -> Result<&'b [u8], Refusal> {
        block.get(self.skip..).ok_or(Refusal::EndsBeforeSamples)
    }

    /// Returns the length of a block with this number of samples, where each has a fixed length.
    pub fn block_len(&self, points: usize) -> Option<usize> {
        let samples = points.saturating_mul(self.codes.sample_len());
        (!self.codes.is_text()).then(|| samples.saturating_add(self.skip))
    }
}

/// Where a number of the scale stands, before its factor.
#[derive(Debug, Clone, PartialEq)]
pub enum Origin {
    /// Nowhere: the profile says it.
    Constant(f64),
    /// It stands in the preamble, at this position, counted from 1 over all its answers.
    Preamble(usize),
    /// It stands in the answer to a question of its own.
    Answer {
        /// Which of the rule's further questions, counted from 0.
        question: usize,
        /// Which of its values, counted from 1.
        position: usize,
    },
    /// It stands in the block itself, in front of the samples.
    Block {
        /// Bytes of the block before it.
        offset: usize,
        /// How it stands there.
        codes: Codes,
    },
}

/// One number of the scale.
#[derive(Debug, Clone, PartialEq)]
pub struct ScaleValue {
    /// Where it stands.
    pub origin: Origin,
    /// It is a rate: its reciprocal is meant.
    pub is_rate: bool,
    /// The multiplier that is applied to it after that.
    pub multiplier: Multiplier,
}

impl ScaleValue {
    /// A number that the profile says.
    pub const fn constant(value: f64) -> Self {
        Self::at(Origin::Constant(value))
    }

    /// A number as it stands somewhere.
    pub const fn at(origin: Origin) -> Self {
        Self {
            origin,
            is_rate: false,
            multiplier: Multiplier::ONE,
        }
    }
}

/// Where the scale of a waveform comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct ScaleRule {
    /// The questions whose answers are the preamble.
    pub preamble: Vec<String>,
    /// Further questions, each for a number of its own.
    pub questions: Vec<String>,
    /// The number of samples.
    pub points: Option<ScaleValue>,
    /// Seconds from one sample to the next.
    pub interval: ScaleValue,
    /// Volts from one code to the next.
    pub volts_per_code: ScaleValue,
    /// The code that stands for no volts, before `added_volts`: the sum of these.
    pub zero_code: Vec<ScaleValue>,
    /// The offset in volts that is added: the sum of these.
    pub added_volts: Vec<ScaleValue>,
}

impl ScaleRule {
    /// All questions for the scale, in the order in which they are asked.
    pub fn questions(&self) -> impl Iterator<Item = &str> {
        let all = self.preamble.iter().chain(&self.questions);
        all.map(String::as_str)
    }
}
