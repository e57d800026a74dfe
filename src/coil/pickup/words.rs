//! A person's words for a pick-up: `"stub 5cm at 30cm"`, `"loop 4cm 3 turns at 10cm into 50 ohm"`.

use std::ops::RangeInclusive;

use super::{Input, Kind, PickUp};
use crate::units::{self, Unit, UnitError, exact};

/// Good examples, for errors.
const EXAMPLES: &str =
    "write it like \"stub 5cm at 30cm\" or \"loop 4cm 3 turns at 10cm into 50 ohm\"";

/// A good example of an input, for errors.
const INPUT_EXAMPLE: &str = "write it like \"1 Mohm 15 pF\" or \"50 ohm\"";

/// Every fault of a text, and an example of a good one.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}; {example}", .faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
pub struct WordsError {
    faults: Vec<WordsFault>,
    example: &'static str,
}

/// The fault of one part of a text.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
enum WordsFault {
    #[error("expected \"at\" and a distance from the coil")]
    NoDistance,
    #[error("found \"{0}\", expected \"stub\" or \"loop\" and its size")]
    OtherKind(String),
    #[error("found \"{0}\", expected a diameter before the turns")]
    NoDiameter(String),
    #[error("found \"{0}\" turns, expected a whole number from 1 to {most}", most = PickUp::MOST_TURNS)]
    Turns(String),
    #[error("{name}: {error}")]
    NoQuantity {
        name: &'static str,
        error: UnitError,
    },
    #[error("{name}: found \"{found}\", expected {} to {}", exact(*.allowed.start(), *.unit), exact(*.allowed.end(), *.unit))]
    Outside {
        name: &'static str,
        found: String,
        unit: Unit,
        allowed: RangeInclusive<f64>,
    },
    #[error("{0}: found it twice, expected it once")]
    Twice(&'static str),
    #[error("found no input, expected a resistance, a capacitance or both")]
    NoInput,
}

impl PickUp {
    /// Reads a pick-up, its distance from the coil, and the input behind it if one is named.
    ///
    /// # Errors
    /// [`WordsError`] with every fault of the text.
    pub fn parse(text: &str) -> Result<(Self, Option<Input>), WordsError> {
        let (what, into) = match text.split_once(" into ") {
            Some((what, into)) => (what, Some(into)),
            None => (text, None),
        };
        let (body, at) = match what.split_once(" at ") {
            Some((body, at)) => (body.trim(), Some(at)),
            None => (what.trim(), None),
        };
        let kind = kind(body);
        let distance_m = at.map_or_else(
            || Err(WordsFault::NoDistance),
            |at| within("distance", at, &Self::DISTANCES_M),
        );
        let input = into.map(input).transpose();
        match (kind, distance_m, input) {
            (Ok(kind), Ok(distance_m), Ok(input)) => Ok((Self { kind, distance_m }, input)),
            (kind, distance_m, input) => {
                let faults = [kind.err(), distance_m.err(), input.err()];
                Err(WordsError {
                    faults: faults.into_iter().flatten().collect(),
                    example: EXAMPLES,
                })
            }
        }
    }
}

impl Input {
    /// Reads an input's resistance and capacitance, in any order; a missing one has its usual value.
    ///
    /// # Errors
    /// [`WordsError`] with the first fault of the text.
    pub fn parse(text: &str) -> Result<Self, WordsError> {
        input(text).map_err(|fault| WordsError {
            faults: vec![fault],
            example: INPUT_EXAMPLE,
        })
    }
}

fn kind(body: &str) -> Result<Kind, WordsFault> {
    if let Some(length) = body.strip_prefix("stub ") {
        let length_m = within("length of the stub", length, &PickUp::SIZES_M)?;
        return Ok(Kind::Stub { length_m });
    }
    let Some(rest) = body.strip_prefix("loop ") else {
        return Err(WordsFault::OtherKind(body.to_owned()));
    };
    let rest = rest.trim();
    let counted = rest
        .strip_suffix("turns")
        .or_else(|| rest.strip_suffix("turn"));
    let (diameter, turns) = match counted {
        None => (rest, 1),
        Some(counted) => {
            let (diameter, turns) = counted
                .trim_end()
                .rsplit_once(' ')
                .ok_or_else(|| WordsFault::NoDiameter(rest.to_owned()))?;
            let allowed = 1..=PickUp::MOST_TURNS;
            let turns = turns
                .parse()
                .ok()
                .filter(|turns| allowed.contains(turns))
                .ok_or_else(|| WordsFault::Turns(turns.to_owned()))?;
            (diameter, turns)
        }
    };
    let diameter_m = within("diameter of the loop", diameter, &PickUp::SIZES_M)?;
    Ok(Kind::Loop { diameter_m, turns })
}

/// Returns a length inside a range.
fn within(
    name: &'static str,
    text: &str,
    allowed: &RangeInclusive<f64>,
) -> Result<f64, WordsFault> {
    quantity(name, text, Unit::Metre, allowed)
}

fn quantity(
    name: &'static str,
    text: &str,
    unit: Unit,
    allowed: &RangeInclusive<f64>,
) -> Result<f64, WordsFault> {
    let value = units::parse(text, unit).map_err(|error| WordsFault::NoQuantity { name, error })?;
    if allowed.contains(&value) {
        return Ok(value);
    }
    Err(WordsFault::Outside {
        name,
        found: text.trim().to_owned(),
        unit,
        allowed: allowed.clone(),
    })
}

fn input(text: &str) -> Result<Input, WordsFault> {
    // A number begins a quantity; a unit set off by a blank belongs to the number before it.
    let mut quantities: Vec<String> = Vec::new();
    for word in text.split([' ', ',']).filter(|word| !word.is_empty()) {
        let is_number =
            word.starts_with(|sign: char| sign.is_ascii_digit() || "+-.".contains(sign));
        match quantities.last_mut() {
            Some(last) if !is_number => *last += word,
            _ => quantities.push(word.to_owned()),
        }
    }
    let (mut ohm, mut farad) = (None, None);
    for text in &quantities {
        let (name, unit, allowed, into) = if text.ends_with('F') {
            (
                "capacitance of the input",
                Unit::Farad,
                &Input::FARADS,
                &mut farad,
            )
        } else {
            ("resistance of the input", Unit::Ohm, &Input::OHMS, &mut ohm)
        };
        let value = quantity(name, text, unit, allowed)?;
        if into.replace(value).is_some() {
            return Err(WordsFault::Twice(name));
        }
    }
    if quantities.is_empty() {
        return Err(WordsFault::NoInput);
    }
    Ok(Input {
        ohm: ohm.unwrap_or(Input::USUAL.ohm),
        farad: farad.unwrap_or(Input::USUAL.farad),
    })
}
