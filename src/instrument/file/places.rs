//! The keys of `[lines]` and `[[value]]` for frames with fixed places.

use crate::faults::{Entry, Table};
use crate::instrument::file::keys::{usual, whole};
use crate::instrument::number::unit::unit_scale;
use crate::instrument::profile::Place;
use crate::instrument::profile::places::{Digits, Flag, Means, PlacesLayout, Shown, Test};
use crate::reading::Channel;
use crate::units::{self, Scale};

/// The longest frame, in bytes.
const LONGEST: i64 = 200;
/// The longest frame whose places a nibble can count.
const LONGEST_COUNTED: usize = 15;

/// The keys of a value that is on the display.
pub(in crate::instrument) const KEYS: [&str; 4] = ["digits", "when", "unless", "sizes"];

/// Flags that mean something by themselves.
const MEANINGS: [(&str, Means); 6] = [
    ("negative", Means::Negative),
    ("overload", Means::Overload),
    ("no_signal", Means::NoSignal),
    ("unsteady", Means::Unsteady),
    ("low_battery", Means::LowBattery),
    ("hold", Means::Hold),
];

/// Reads the layout of frames with fixed places.
pub(in crate::instrument) fn layout(table: &Table<'_>) -> Option<PlacesLayout> {
    let length = table
        .need("length", "expected the number of bytes of a frame")
        .and_then(|entry| whole::<usize>(&entry, 2, LONGEST));
    let is_counted = usual(Some(table), "counted", false, Entry::flag);
    let digits = table.entry("digits");
    let segments = table.table("segments");
    let flags = table.table("flags");
    let (length, is_counted) = (length?, is_counted?);
    if is_counted && length > LONGEST_COUNTED {
        table.fault(
            "counted frames of more than 15 bytes",
            "a nibble counts no further",
        );
        return None;
    }
    let digits = match digits {
        Some(entry) => self::digits(&entry, segments.as_ref(), length).map(Some),
        None => Some(None),
    };
    let flags = flags.map_or(Some(Vec::new()), |table| {
        let all = table.entries();
        let flags: Vec<Option<Flag>> = all
            .iter()
            .map(|(name, entry)| flag(name, entry, length))
            .collect();
        flags.into_iter().collect()
    });
    Some(PlacesLayout {
        length,
        is_counted,
        digits: digits?,
        flags: flags?,
    })
}

fn digits(entry: &Entry<'_>, segments: Option<&Table<'_>>, length: usize) -> Option<Digits> {
    let bounds = entry.text()?.split_once('-').and_then(|(first, last)| {
        let (first, last) = (first.trim().parse().ok()?, last.trim().parse().ok()?);
        (1 <= first && first <= last && last <= length).then_some((first, last))
    });
    let Some((first, last)): Option<(usize, usize)> = bounds else {
        entry.fault(&format!(
            "expected the first and last place of the digits, within 1 to {length}, such as \"2-6\""
        ));
        return None;
    };
    let Some(segments) = segments else {
        return Some(Digits::Letters { first, last });
    };
    if (last - first) % 2 == 0 {
        entry.fault("expected two places for each digit");
        return None;
    }
    let all = segments.entries();
    let table: Vec<Option<(u8, char)>> = all
        .iter()
        .map(|(pattern, entry)| {
            let bits = u8::from_str_radix(pattern, 16).ok();
            let bits = bits.filter(|bits| *bits < 0x80 && pattern.len() == 2);
            let mut letters = entry.text()?.chars();
            if let (Some(bits), Some(letter), None) = (bits, letters.next(), letters.next()) {
                return Some((bits, letter));
            }
            entry.fault(
                "expected two hexadecimal digits up to 7f = one character, such as 7d = \"0\"",
            );
            None
        })
        .collect();
    Some(Digits::Segments {
        first,
        last,
        table: table.into_iter().collect::<Option<_>>()?,
    })
}

/// A flag: `"13.2"` is bit 2 of place 13, `"7=;"` the byte `;` at place 7.
fn flag(name: &str, entry: &Entry<'_>, length: usize) -> Option<Flag> {
    let text = entry.text()?;
    let is_place = |place: &usize| (1..=length).contains(place);
    let bit = || {
        let (place, bit) = text.split_once('.')?;
        let bit = bit.parse().ok().filter(|bit| *bit < 8)?;
        Some((place.parse().ok().filter(is_place)?, Test::Bit(bit)))
    };
    let byte = || {
        let (place, byte) = text.split_once('=')?;
        let [byte] = byte.as_bytes() else { return None };
        Some((place.parse().ok().filter(is_place)?, Test::Byte(*byte)))
    };
    let Some((place, test)) = byte().or_else(bit) else {
        entry.fault(&format!(
            "expected PLACE.BIT or PLACE=CHARACTER, with a place from 1 to {length}, such as \"8.0\" or \"7=;\""
        ));
        return None;
    };
    let point = name.strip_prefix("point_").map(str::parse::<usize>);
    let means = match point {
        Some(Ok(digit)) => Means::Point(digit),
        Some(Err(_)) => {
            entry.fault("expected the number of a digit behind point_, such as point_2");
            return None;
        }
        None => MEANINGS
            .iter()
            .find(|(known, _)| *known == name)
            .map_or(Means::Nothing, |(_, means)| *means),
    };
    Some(Flag {
        name: name.to_owned(),
        place,
        test,
        means,
    })
}

/// Reads when a value is shown, and its sizes.
pub(in crate::instrument) fn shown(
    table: &Table<'_>,
    channel: Option<Channel>,
    layout: &PlacesLayout,
) -> Option<Place> {
    let number = |name: &str| layout.flags.iter().position(|flag| flag.name == name);
    let list = |key| {
        usual(Some(table), key, Vec::new(), |entry| {
            let names = entry.texts()?;
            let flags: Option<Vec<usize>> = names.iter().map(|name| number(name)).collect();
            if flags.is_none() {
                entry.fault(&format!(
                    "expected names of [lines.flags]: {}",
                    known(layout)
                ));
            }
            flags
        })
    };
    let (when, unless) = (list("when"), list("unless"));
    let digits = match table.entry("digits") {
        Some(entry) => digits(&entry, None, layout.length).map(Some),
        None => Some(None),
    };
    if layout.digits.is_none() && digits == Some(None) {
        table.fault(
            "no digits",
            "expected the places of its digits, here or under [lines], such as \"2-6\"",
        );
        return None;
    }
    let sizes = table.table("sizes").map_or(Some(Vec::new()), |sizes| {
        let all = sizes.entries();
        let sizes: Vec<Option<(usize, i32)>> = all
            .iter()
            .map(|(name, entry)| {
                let exponent = size(entry, channel?);
                let flag = number(name);
                if flag.is_none() {
                    entry.fault(&format!(
                        "expected a name of [lines.flags]: {}",
                        known(layout)
                    ));
                }
                Some((flag?, exponent?))
            })
            .collect();
        sizes.into_iter().collect()
    });
    Some(Place::Shown(Shown {
        digits: digits?,
        when: when?,
        unless: unless?,
        sizes: sizes?,
    }))
}

fn known(layout: &PlacesLayout) -> String {
    let names: Vec<&str> = layout.flags.iter().map(|flag| flag.name.as_str()).collect();
    names.join(", ")
}

/// A power of ten of the channel's unit, `"0.1 mV"`.
fn size(entry: &Entry<'_>, channel: Channel) -> Option<i32> {
    let unit = channel.unit();
    let power = units::split_number(entry.text()?).and_then(|(mantissa, exponent, rest)| {
        let Scale::Exponent(scale) = unit_scale(rest.trim(), unit)? else {
            return None;
        };
        let one: f64 = mantissa.parse().ok()?;
        let shown = format!("{one:e}");
        let power: i32 = shown.strip_prefix("1e")?.parse().ok()?;
        Some(power.saturating_add(exponent).saturating_add(scale))
    });
    if power.is_none() {
        entry.fault(&format!(
            "expected the size of 1 on the display, a power of ten with its unit, such as \"0.1 {}\"",
            unit.symbol()
        ));
    }
    power
}

#[cfg(test)]
mod tests {
    use crate::instrument::Profile;

    #[test]
    fn every_fault_of_a_layout_with_places_is_named() {
        let text = r#"
schema = 1
name = "m"
about = "a meter"
manner = "unasked"
[lines]
layout = "places"
length = 16
counted = true
digits = "2-20"
[lines.flags]
volts = "7"
point_x = "3.1"
far = "17=a"
[[value]]
channel = "battery_v"
when = ["volts"]
sizes = { range0 = "2 mV" }
"#;
        insta::assert_snapshot!(Profile::parse("m", text).unwrap_err(), @"line 6: lines: counted frames of more than 15 bytes: a nibble counts no further");
        let text = text.replace("counted = true\n", "");
        insta::assert_snapshot!(Profile::parse("m", &text).unwrap_err(), @r#"
        line 9: lines.digits: found "2-20": expected the first and last place of the digits, within 1 to 16, such as "2-6"
        line 11: lines.flags.volts: found "7": expected PLACE.BIT or PLACE=CHARACTER, with a place from 1 to 16, such as "8.0" or "7=;"
        line 12: lines.flags.point_x: found "3.1": expected the number of a digit behind point_, such as point_2
        line 13: lines.flags.far: found "17=a": expected PLACE.BIT or PLACE=CHARACTER, with a place from 1 to 16, such as "8.0" or "7=;"
        "#);
        let text = text
            .replace("\"2-20\"", "\"2-6\"")
            .replace("\"7\"", "\"7=;\"")
            .replace("point_x", "point_2")
            .replace("\"17=a\"", "\"16.3\"")
            .replace("[\"volts\"]", "[\"volt\"]");
        insta::assert_snapshot!(Profile::parse("m", &text).unwrap_err(), @r#"
        line 16: value[1].when: found ["volt"]: expected names of [lines.flags]: far, point_2, volts
        line 17: value[1].sizes.range0: found "2 mV": expected the size of 1 on the display, a power of ten with its unit, such as "0.1 V"
        line 17: value[1].sizes.range0: found "2 mV": expected a name of [lines.flags]: far, point_2, volts
        "#);
    }
}
