//! The scale of a waveform: where seconds and volts of a sample come from.

use crate::instrument::line::answer::belongs;
use crate::instrument::number::unit::unit_scale;
use crate::instrument::refusal::Refusal;
use crate::instrument::waveform::codes::{Codes, NO_NUMBER_FROM};
use crate::instrument::waveform::rule::{Origin, ScaleRule, ScaleValue};
use crate::units::{self, Scale, Unit};

/// The contents of a preamble.
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
    /// The offset that is added, in volts.
    pub added_v: f64,
}

/// Why there is no scale: the key of the profile that has no number, and the reason.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("{key}: {why}")]
pub struct NoScale {
    /// The key.
    pub key: &'static str,
    /// The reason.
    pub why: Refusal,
}

/// More samples than this are no record but a fault of the preamble.
const MOST_POINTS: usize = 1_000_000_000;

/// A whole number above 0.
fn count(value: f64) -> Option<usize> {
    let count = format!("{value}").parse().ok()?;
    (1..=MOST_POINTS).contains(&count).then_some(count)
}

impl Preamble {
    /// Reads the scale from the answers to all of the rule's questions, in their order, and from the block.
    ///
    /// Values of an answer stand between commas or semicolons, each with a header before it or not. Without the block, a
    /// number that stands in it counts as 1.
    ///
    /// # Errors
    /// [`NoScale`].
    pub fn read(
        answers: &[String],
        block: Option<&[u8]>,
        rule: &ScaleRule,
    ) -> Result<Self, NoScale> {
        let (preamble, own) = answers.split_at(rule.preamble.len().min(answers.len()));
        let found = Found {
            preamble: preamble.iter().flat_map(|answer| fields(answer)).collect(),
            own,
            questions: &rule.questions,
            block,
        };
        let number = |key, unit, value: &ScaleValue| {
            found
                .number(unit, value)
                .map_err(|why| NoScale { key, why })
        };
        let sum = |key, unit, values: &[ScaleValue]| {
            let numbers = values.iter().map(|value| number(key, unit, value));
            numbers.sum::<Result<f64, NoScale>>()
        };
        let points = rule.points.as_ref().map(|value| {
            let key = "points";
            let why = Refusal::NoCount;
            count(number(key, None, value)?).ok_or(NoScale { key, why })
        });
        let preamble = Self {
            points: points.transpose()?,
            interval_s: number("interval", Some(Unit::Second), &rule.interval)?,
            volts_per_code: number("volts_per_code", Some(Unit::Volt), &rule.volts_per_code)?,
            zero_code: sum("zero_code", None, &rule.zero_code)?,
            added_v: sum("added_volts", Some(Unit::Volt), &rule.added_volts)?,
        };
        let fault = |key, why| Err(NoScale { key, why });
        if preamble.interval_s <= 0.0 {
            return fault("interval", Refusal::NotAboveZero);
        }
        if preamble.volts_per_code.abs() < f64::MIN_POSITIVE {
            return fault("volts_per_code", Refusal::NoVolts);
        }
        Ok(preamble)
    }
}

/// Everything that a scale is read from.
struct Found<'a> {
    preamble: Vec<&'a str>,
    own: &'a [String],
    questions: &'a [String],
    block: Option<&'a [u8]>,
}

impl Found<'_> {
    fn number(&self, unit: Option<Unit>, value: &ScaleValue) -> Result<f64, Refusal> {
        let unit = if value.is_rate {
            Some(Unit::Hertz)
        } else {
            unit
        };
        let plain = match value.origin {
            Origin::Constant(constant) => constant,
            Origin::Preamble(position) => {
                let field = self.preamble.get(position - 1);
                let field = field.ok_or(Refusal::TooFewInPreamble)?;
                read_field(field, unit, None)?.ok_or(Refusal::NoNumberInPreamble)?
            }
            Origin::Answer { question, position } => {
                let fields = self.own.get(question).map(|answer| fields(answer));
                let fields = fields.unwrap_or_default();
                let field = fields.get(position - 1);
                let field = field.ok_or(Refusal::TooFewInAnswer)?;
                let asked = self.questions.get(question).map(String::as_str);
                read_field(field, unit, asked)?.ok_or(Refusal::NoNumberInAnswer)?
            }
            Origin::Block { offset, codes } => match self.block {
                Some(block) => in_block(block, offset, codes)?,
                None => 1.0,
            },
        };
        let plain = match (value.is_rate, plain > 0.0) {
            (false, _) => plain,
            (true, true) => 1.0 / plain,
            (true, false) => return Err(Refusal::RateNotAboveZero),
        };
        let number = value.multiplier.scale(plain);
        number
            .is_finite()
            .then_some(number)
            .ok_or(Refusal::TooLarge)
    }
}

fn in_block(block: &[u8], offset: usize, codes: Codes) -> Result<f64, Refusal> {
    let end = offset.saturating_add(codes.sample_len());
    let bytes = block.get(offset..end);
    let bytes = bytes.ok_or(Refusal::EndsBeforeNumber)?;
    let numbers = codes.read(bytes).map_err(|_| Refusal::NoNumberInBlock)?;
    numbers.first().copied().ok_or(Refusal::NoNumberInBlock)
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

/// Reads a number of a scale with its unit or without. Text before it, with a blank between, is its header, which must be that of
/// the question, if there is one. `None` where it is no number.
fn read_field(
    field: &str,
    unit: Option<Unit>,
    question: Option<&str>,
) -> Result<Option<f64>, Refusal> {
    let mut text = field.trim();
    let mut header = None;
    let (mantissa, exponent, rest) = loop {
        if let Some(parts) = units::split_number(text) {
            break parts;
        }
        let Some((word, rest)) = text.split_once([' ', '\t']) else {
            return Ok(None);
        };
        (header, text) = (Some(word), rest.trim_start());
    };
    if let (Some(header), Some(question)) = (header, question)
        && !belongs(header, question)
    {
        return Err(Refusal::OtherHeader);
    }
    let Some(shift) = shift_of(rest.trim(), unit) else {
        return Ok(None);
    };
    let plain = units::with_exponent(mantissa, exponent);
    let value = units::with_exponent(mantissa, exponent.saturating_add(shift));
    Ok((plain.abs() < NO_NUMBER_FROM && value.is_finite()).then_some(value))
}

/// The power of ten of a unit's text; `None` if it is another unit. Samples a second (`MSa/s`) are hertz.
fn shift_of(text: &str, unit: Option<Unit>) -> Option<i32> {
    if text.is_empty() {
        return Some(0);
    }
    let unit = unit?;
    let as_hertz = ["Sa/s", "SA/S", "S/s"]
        .into_iter()
        .find_map(|end| text.strip_suffix(end))
        .filter(|_| unit == Unit::Hertz)
        .map(|prefix| format!("{prefix}Hz"));
    match unit_scale(as_hertz.as_deref().unwrap_or(text), unit)? {
        Scale::Exponent(shift) => Some(shift),
        Scale::Factor(_) => None,
    }
}
