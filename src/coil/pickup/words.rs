//! What a person writes of a pick-up: `"stub 5cm at 30cm"`, `"loop 4cm 3 turns at 10cm into 50 ohm"`.

use super::{Input, Kind, PickUp};
use crate::units::{self, Unit};

/// Good examples, for errors.
const EXAMPLES: &str =
    "write it like \"stub 5cm at 30cm\" or \"loop 4cm 3 turns at 10cm into 50 ohm\"";

/// A good example of an input, for errors.
const INPUT_EXAMPLE: &str = "write it like \"1 Mohm 15 pF\" or \"50 ohm\"";

impl PickUp {
    /// Reads a pick-up, its distance from the coil, and the input behind it if one is named.
    ///
    /// # Errors
    /// A sentence with every fault of the text and an example.
    pub fn parse(text: &str) -> Result<(Self, Option<Input>), String> {
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
            || Err("expected \"at\" and a distance from the coil".to_owned()),
            |at| within("distance", at, &Self::DISTANCES_M),
        );
        let input = into.map(input).transpose();
        match (kind, distance_m, input) {
            (Ok(kind), Ok(distance_m), Ok(input)) => Ok((Self { kind, distance_m }, input)),
            (kind, distance_m, input) => {
                let faults = [kind.err(), distance_m.err(), input.err()];
                let faults: Vec<_> = faults.into_iter().flatten().collect();
                Err(format!("{}; {EXAMPLES}", faults.join("; ")))
            }
        }
    }
}

impl Input {
    /// Reads an input's resistance and capacitance, in any order; what is not said is as usual.
    ///
    /// # Errors
    /// A sentence with the first fault of the text and an example.
    pub fn parse(text: &str) -> Result<Self, String> {
        input(text).map_err(|fault| format!("{fault}; {INPUT_EXAMPLE}"))
    }
}

fn kind(body: &str) -> Result<Kind, String> {
    if let Some(length) = body.strip_prefix("stub ") {
        let length_m = within("length of the stub", length, &PickUp::SIZES_M)?;
        return Ok(Kind::Stub { length_m });
    }
    let Some(rest) = body.strip_prefix("loop ") else {
        return Err(format!(
            "found \"{body}\", expected \"stub\" or \"loop\" and its size"
        ));
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
                .ok_or_else(|| format!("found \"{rest}\", expected a diameter before the turns"))?;
            let allowed = 1..=PickUp::MOST_TURNS;
            let turns = turns
                .parse()
                .ok()
                .filter(|turns| allowed.contains(turns))
                .ok_or_else(|| {
                    let most = PickUp::MOST_TURNS;
                    format!("found \"{turns}\" turns, expected a whole number from 1 to {most}")
                })?;
            (diameter, turns)
        }
    };
    let diameter_m = within("diameter of the loop", diameter, &PickUp::SIZES_M)?;
    Ok(Kind::Loop { diameter_m, turns })
}

/// A length inside a range.
fn within(name: &str, text: &str, allowed: &std::ops::RangeInclusive<f64>) -> Result<f64, String> {
    quantity(name, text, Unit::Metre, allowed)
}

fn quantity(
    name: &str,
    text: &str,
    unit: Unit,
    allowed: &std::ops::RangeInclusive<f64>,
) -> Result<f64, String> {
    let value = units::parse(text, unit).map_err(|error| format!("{name}: {error}"))?;
    if allowed.contains(&value) {
        return Ok(value);
    }
    let (least, most) = (
        units::exact(*allowed.start(), unit),
        units::exact(*allowed.end(), unit),
    );
    let text = text.trim();
    Err(format!(
        "{name}: found \"{text}\", expected {least} to {most}"
    ))
}

fn input(text: &str) -> Result<Input, String> {
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
            return Err(format!("{name}: found it twice, expected it once"));
        }
    }
    if quantities.is_empty() {
        return Err("found no input, expected a resistance, a capacitance or both".to_owned());
    }
    Ok(Input {
        ohm: ohm.unwrap_or(Input::USUAL.ohm),
        farad: farad.unwrap_or(Input::USUAL.farad),
    })
}
