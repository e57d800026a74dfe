//! The `[waveform]` table of a profile, and the values that are taken from a waveform.

use std::time::Duration;

use super::profile::{ChannelRule, Handshake, Manner, Place, PortRule};
use super::profile_file::{usual, whole};
use super::waveform::{Codes, Figure, PreambleRule, WaveformRule};
use crate::faults::{Entry, Table};
use crate::reading::Channel;
use crate::units::Unit;

/// The resonators that this program is for oscillate at 1 to 10 MHz.
const USUAL_HIGHEST_HZ: f64 = 10e6;

const CODES: [(&str, Codes); 6] = [
    ("int8", Codes::Int8),
    ("uint8", Codes::Uint8),
    ("int16-high-first", Codes::Int16HighFirst),
    ("int16-low-first", Codes::Int16LowFirst),
    ("uint16-high-first", Codes::Uint16HighFirst),
    ("uint16-low-first", Codes::Uint16LowFirst),
];

/// The waveform of a profile; `None` where it has none, and after a fault. Table and values taken from it go together.
pub(super) fn of_profile(
    top: &Table<'_>,
    manner: Option<Manner>,
    port: Option<&PortRule>,
    values: Option<&[ChannelRule]>,
) -> Option<WaveformRule> {
    let is_used = values.map(|values| {
        values
            .iter()
            .any(|rule| matches!(rule.place, Place::Waveform(_)))
    });
    let Some(table) = top.table("waveform") else {
        if is_used == Some(true) {
            top.fault(
                "no [waveform]",
                "a value taken from the waveform needs to be told how to ask for it",
            );
        }
        return None;
    };
    if manner == Some(Manner::Unasked) {
        table.fault(
            "[waveform] in an unasked profile",
            "a waveform is asked for",
        );
    }
    if is_used == Some(false) {
        table.fault(
            "no [[value]] is taken from it",
            "a value with waveform = \"frequency\", say, is wanted",
        );
    }
    waveform(&table, port)
}

/// Reads the table; `port` is how the line is set, which must carry any byte.
fn waveform(table: &Table<'_>, port: Option<&PortRule>) -> Option<WaveformRule> {
    let before = usual(Some(table), "before", Vec::new(), Entry::texts);
    let question = |key, wanted: &str| {
        table
            .need(key, wanted)
            .and_then(|entry| entry.text().map(str::to_owned))
    };
    let preamble = question("preamble", "the question for the preamble is wanted");
    let ask = question("ask", "the question for the block is wanted");
    let codes = table
        .need("codes", "how samples are coded is wanted, like \"int8\"")
        .and_then(|entry| entry.choice(&CODES));
    let (low, high) = codes.unwrap_or(Codes::Int8).range();
    let code = |key, usual_code: i32| {
        usual(Some(table), key, usual_code, |entry| {
            whole(entry, low.into(), high.into())
        })
    };
    let lowest_code = code("lowest_code", low);
    let highest_code = code("highest_code", high);
    let places = places(table);
    let highest_hz = usual(Some(table), "highest", USUAL_HIGHEST_HZ, |entry| {
        entry.quantity(Unit::Hertz, 1.0..=1e9)
    });
    let longest_block = usual(Some(table), "longest_block", 1_000_000, |entry| {
        whole(entry, 1, 100_000_000)
    });
    let idle = usual(Some(table), "idle", 0.5, |entry| {
        entry.quantity(Unit::Second, 0.01..=60.0)
    });
    table.close();
    carries_any_byte(table, port);
    let (lowest_code, highest_code) = (lowest_code?, highest_code?);
    if lowest_code >= highest_code {
        table.fault(
            &format!("lowest_code {lowest_code} and highest_code {highest_code}"),
            "the lowest must be below the highest",
        );
        return None;
    }
    Some(WaveformRule {
        before: before?,
        preamble: preamble?,
        ask: ask?,
        codes: codes?,
        lowest_code,
        highest_code,
        places: places?,
        highest_hz: highest_hz?,
        longest_block: longest_block?,
        idle: Duration::from_secs_f64(idle?),
    })
}

/// Where the preamble's values are.
fn places(table: &Table<'_>) -> Option<PreambleRule> {
    let place = |entry: &Entry<'_>| whole::<usize>(entry, 1, 1000);
    let needed = |key| {
        table
            .need(
                key,
                "its position in the preamble is wanted, counted from 1",
            )
            .and_then(|entry| place(&entry))
    };
    let optional = |key| match table.entry(key) {
        Some(entry) => place(&entry).map(Some),
        None => Some(None),
    };
    let points = optional("points");
    let interval = needed("interval");
    let volts_per_code = needed("volts_per_code");
    let zero_code = optional("zero_code");
    let added_volts = optional("added_volts");
    Some(PreambleRule {
        points: points?,
        interval: interval?,
        volts_per_code: volts_per_code?,
        zero_code: zero_code?,
        added_volts: added_volts?,
    })
}

fn carries_any_byte(table: &Table<'_>, port: Option<&PortRule>) {
    if port.is_some_and(|port| port.data_bits != 8) {
        table.fault(
            "port.data_bits is not 8",
            "the bytes of a waveform have eight bits",
        );
    }
    if port.is_some_and(|port| port.handshake == Handshake::Software) {
        table.fault(
            "port.handshake is software",
            "none or hardware is wanted: a waveform may hold the bytes that stop and start the line",
        );
    }
}

/// Where a value is taken from.
pub(super) enum Taken {
    /// From an answer or a line.
    Elsewhere,
    /// From the waveform; `None` after a fault.
    Waveform(Option<Place>),
}

/// Whether a value is taken from the waveform, and which.
pub(super) fn place(table: &Table<'_>, channel: Option<Channel>) -> Taken {
    match table.entry("waveform") {
        Some(entry) => Taken::Waveform(figure(table, &entry, channel)),
        None => Taken::Elsewhere,
    }
}

fn figure(table: &Table<'_>, entry: &Entry<'_>, channel: Option<Channel>) -> Option<Place> {
    let figure = entry.choice(&[
        ("frequency", Figure::Frequency),
        ("peak-to-peak", Figure::PeakToPeak),
        ("fundamental", Figure::Fundamental),
    ])?;
    let fits = match figure {
        Figure::Frequency => Channel::FrequencyHz,
        Figure::PeakToPeak | Figure::Fundamental => Channel::AmplitudeV,
    };
    let channel = channel?;
    if channel != fits {
        entry.fault(&format!("{} is not taken from it", channel.column()));
        return None;
    }
    for key in ["ask", "name", "position", "unit", "quantity"] {
        if let Some(entry) = table.entry(key) {
            entry.fault("a value taken from the waveform has none");
            return None;
        }
    }
    Some(Place::Waveform(figure))
}

#[cfg(test)]
mod tests {
    use crate::instrument::Profile;

    #[test]
    fn every_fault_of_a_waveform_is_told_at_once() {
        let text = r#"
schema = 1
name = "m"
about = "a scope"
manner = "asked"
[port]
data_bits = 7
handshake = "software"
[waveform]
preamble = "P?"
codes = "int12"
interval = 0
lowest_code = 5
highest_code = 5
highest = "10"
unit = "V"
[[value]]
channel = "frequency_hz"
waveform = "frequency"
unit = "Hz"
[[value]]
channel = "battery_v"
waveform = "peak-to-peak"
[[value]]
channel = "amplitude_v"
waveform = "height"
"#;
        insta::assert_snapshot!(Profile::parse("m", text).unwrap_err(), @r#"
        line 9: waveform.ask: missing, the question for the block is wanted
        line 9: waveform.volts_per_code: missing, its position in the preamble is wanted, counted from 1
        line 9: waveform: port.data_bits is not 8, the bytes of a waveform have eight bits
        line 9: waveform: port.handshake is software, none or hardware is wanted: a waveform may hold the bytes that stop and start the line
        line 9: waveform: lowest_code 5 and highest_code 5, the lowest must be below the highest
        line 11: waveform.codes: found "int12", one of "int8", "uint8", "int16-high-first", "int16-low-first", "uint16-high-first", "uint16-low-first" is wanted
        line 12: waveform.interval: found 0, a whole number from 1 to 1000 is wanted
        line 15: waveform.highest: "10" has no unit, write it like "4.2 MHz", a quantity is wanted
        line 16: waveform.unit: unknown key, known here: before, preamble, ask, codes, lowest_code, highest_code, points, interval, volts_per_code, zero_code, added_volts, highest, longest_block, idle
        line 20: value[1].unit: found "Hz", a value taken from the waveform has none
        line 23: value[2].waveform: found "peak-to-peak", battery_v is not taken from it
        line 26: value[3].waveform: found "height", one of "frequency", "peak-to-peak", "fundamental" is wanted
        "#);
    }

    #[test]
    fn a_waveform_and_the_values_taken_from_it_go_together() {
        let head = "schema = 1\nname = \"m\"\nabout = \"a scope\"\nmanner = \"asked\"\n";
        let value = "[[value]]\nchannel = \"frequency_hz\"\nwaveform = \"frequency\"\n";
        let other = "[[value]]\nchannel = \"battery_v\"\nask = \"V?\"\nunit = \"V\"\n";
        let table = "[waveform]\npreamble = \"P?\"\nask = \"W?\"\ncodes = \"int8\"\ninterval = 1\nvolts_per_code = 2\n";
        let parse = |parts: &[&str]| Profile::parse("m", &[&[head], parts].concat().concat());
        assert!(parse(&[table, value]).is_ok());
        insta::assert_snapshot!(parse(&[value]).unwrap_err(), @"line 1: no [waveform], a value taken from the waveform needs to be told how to ask for it");
        insta::assert_snapshot!(parse(&[table, other]).unwrap_err(), @r#"line 5: waveform: no [[value]] is taken from it, a value with waveform = "frequency", say, is wanted"#);
        insta::assert_snapshot!(
            Profile::parse("m", &[&head.replace("asked", "unasked"), table, value, "[lines]\nlayout = \"fields\"\n"].concat()).unwrap_err(),
            @"line 5: waveform: [waveform] in an unasked profile, a waveform is asked for"
        );
    }
}
