//! Frames of a fixed length, as meters send the contents of their display: digits, ranges, functions and flags in fixed places.

use crate::instrument::line::reading::{Reading, settle};
use crate::instrument::number::read_scaled;
use crate::instrument::number::value::Value;
use crate::instrument::profile::places::{Means, PlacesLayout, Shown};
use crate::instrument::profile::{ChannelRule, Place};
use crate::instrument::refusal::Refusal;
use crate::reading::{Remark, Status};
use crate::units::Scale;

/// Reads a frame.
pub(in crate::instrument) fn read(
    bytes: &[u8],
    layout: &PlacesLayout,
    rules: &[ChannelRule],
) -> Reading {
    let failed = |why: &str| Reading::failed(Status::Garbled, why);
    if bytes.len() != layout.length {
        let (came, wanted) = (bytes.len(), layout.length);
        return failed(&format!(
            "a frame of {came} bytes where {wanted} are expected"
        ));
    }
    let is_counted = bytes
        .iter()
        .enumerate()
        .all(|(at, byte)| usize::from(byte >> 4) == at + 1);
    if layout.is_counted && !is_counted {
        return failed("a frame whose bytes are not in their places");
    }
    let set: Vec<bool> = layout.flags.iter().map(|flag| flag.is_set(bytes)).collect();
    let is_set = |flag: &usize| set.get(*flag) == Some(&true);
    let has = |means: Means| {
        let mut flags = layout.flags.iter().zip(&set);
        flags.any(|(flag, set)| *set && flag.means == means)
    };
    let mut reading = Reading::default();
    let mut is_any = false;
    for rule in rules {
        let Place::Shown(shown) = &rule.place else {
            continue;
        };
        if !shown.when.iter().all(is_set) || shown.unless.iter().any(is_set) {
            continue;
        }
        is_any = true;
        let digits = shown.digits.as_ref().or(layout.digits.as_ref());
        let text = match layout.text(bytes, &set, digits) {
            Ok(text) => text,
            Err(why) => return failed(&why.to_string()),
        };
        let value = if has(Means::Overload) {
            Value::Overload
        } else if has(Means::NoSignal) {
            Value::NoSignal
        } else if has(Means::Unsteady) {
            Value::Unsteady
        } else {
            value(&text, has(Means::Negative), rule, shown, is_set)
        };
        reading.add(rule.channel, value);
        let doubts = [
            (Means::LowBattery, "the instrument's own battery is low"),
            (Means::Hold, "the display is held"),
        ];
        for (means, why) in doubts {
            if has(means) {
                reading.note(Status::Suspect, Remark::of(rule.channel, why));
            }
        }
    }
    if is_any {
        return settle(reading);
    }
    let names = layout.flags.iter().zip(&set).filter(|(_, set)| **set);
    let names: Vec<&str> = names.map(|(flag, _)| flag.name.as_str()).collect();
    let names = names.join(" ");
    let text = layout.text(bytes, &set, layout.digits.as_ref());
    let text = text.unwrap_or_default();
    failed(&format!(
        "the display shows {text} and no value of the profile; flags set: {}",
        if names.is_empty() { "none" } else { &names }
    ))
}

fn value(
    text: &str,
    is_negative: bool,
    rule: &ChannelRule,
    shown: &Shown,
    is_set: impl Fn(&usize) -> bool,
) -> Value {
    let mut sizes = shown.sizes.iter().filter(|(flag, _)| is_set(flag));
    let scale = match (sizes.next(), sizes.next()) {
        (Some((_, exponent)), None) => Some(Scale::Exponent(*exponent)),
        (None, _) => rule.number.scale,
        (Some(_), Some(_)) => return Value::Garbled(Refusal::TwoSizes),
    };
    let is_mark = rule.number.marks.have(text.trim());
    if scale.is_none() && !is_mark {
        return Value::Garbled(Refusal::UnknownSize);
    }
    let sign = if is_negative && !is_mark { "-" } else { "" };
    let text = format!("{sign}{}", text.trim());
    read_scaled(&text, &rule.number, scale, rule.channel)
}

#[cfg(test)]
mod tests;
