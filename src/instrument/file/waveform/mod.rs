//! The `[waveform]` table of a profile, and the values that are taken from a waveform or from a small block.

mod scale;

use std::time::Duration;

use crate::faults::{Entry, Table};
use crate::instrument::file::keys::{CODES, byte_codes, count_of, usual, whole};
use crate::instrument::profile::port::{Handshake, PortRule};
use crate::instrument::profile::{ChannelRule, Manner, Place};
use crate::instrument::waveform::codes::Codes;
use crate::instrument::waveform::rule::{Figure, WaveformRule};
use crate::reading::Channel;
use crate::units::Unit;

/// The resonators that this program is for oscillate at 1 to 10 MHz.
const USUAL_HIGHEST_HZ: f64 = 10e6;

/// The waveform of a profile; `None` where it has none, and after a fault. Table and values taken from it go together.
pub(in crate::instrument) fn of_profile(
    top: &Table<'_>,
    manner: Option<Manner>,
    port: Option<&PortRule>,
    values: Option<&[ChannelRule]>,
) -> Option<WaveformRule> {
    let has_block = |values: &[ChannelRule]| {
        values
            .iter()
            .any(|rule| matches!(rule.place, Place::Block { .. }))
    };
    if values.is_some_and(has_block) {
        carries_any_byte(top, port);
    }
    let is_used = values.map(|values| {
        values
            .iter()
            .any(|rule| matches!(rule.place, Place::Waveform(_)))
    });
    let Some(table) = top.table("waveform") else {
        if is_used == Some(true) {
            top.fault(
                "no [waveform]",
                "a value taken from the waveform needs this table, which says how to ask for it",
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
            "expected a value with waveform = \"frequency\", for example",
        );
    }
    waveform(&table, port)
}

/// Reads the table; `port` is how the line is set, which must carry any byte of a block.
fn waveform(table: &Table<'_>, port: Option<&PortRule>) -> Option<WaveformRule> {
    let before = usual(Some(table), "before", Vec::new(), Entry::texts);
    let preamble = usual(Some(table), "preamble", Vec::new(), Entry::text_or_texts);
    let ask = table
        .need("ask", "expected the question for the samples")
        .and_then(|entry| entry.text().map(str::to_owned));
    let codes = table
        .need(
            "codes",
            "expected the code of the samples, such as \"int8\"",
        )
        .and_then(|entry| entry.choice(&CODES));
    let ends = end_stops(table, codes.unwrap_or(Codes::Int8));
    let skip = usual(Some(table), "skip", 0, |entry| whole(entry, 0, 1_000_000));
    let scale = scale::scale(table, preamble, codes);
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
    if !codes.is_some_and(Codes::is_text) {
        carries_any_byte(table, port);
    } else if skip.is_some_and(|skip| skip > 0) {
        table.fault(
            "skip with codes = \"ascii\"",
            "only bytes of a block can be skipped",
        );
    }
    let (lowest_code, highest_code) = ends?;
    Some(WaveformRule {
        before: before?,
        scale: scale?,
        ask: ask?,
        codes: codes?,
        skip: skip?,
        lowest_code,
        highest_code,
        highest_hz: highest_hz?,
        longest_block: longest_block?,
        idle: Duration::from_secs_f64(idle?),
    })
}

/// The end stops of the converter: those of the code's form unless the profile says others; numbers of any size have none.
fn end_stops(table: &Table<'_>, codes: Codes) -> Option<(f64, f64)> {
    let stop = |key, usual_code: f64| {
        usual(Some(table), key, usual_code, |entry| match codes.range() {
            Some((low, high)) => whole::<i32>(entry, low.into(), high.into()).map(f64::from),
            None => entry.number(-1e30..=1e30),
        })
    };
    let (low, high) = codes
        .range()
        .map_or((f64::NEG_INFINITY, f64::INFINITY), |(low, high)| {
            (low.into(), high.into())
        });
    let (lowest, highest) = (stop("lowest_code", low), stop("highest_code", high));
    let (lowest, highest) = (lowest?, highest?);
    if lowest >= highest {
        table.fault(
            &format!("lowest_code {lowest} and highest_code {highest}"),
            "the lowest must be below the highest",
        );
        return None;
    }
    Some((lowest, highest))
}

fn carries_any_byte(table: &Table<'_>, port: Option<&PortRule>) {
    if port.is_some_and(|port| port.data_bits != 8) {
        table.fault(
            "port.data_bits is not 8",
            "the bytes of a block have eight bits",
        );
    }
    if port.is_some_and(|port| port.handshake == Handshake::Software) {
        table.fault(
            "port.handshake is software",
            "expected none or hardware: a block may hold the bytes that stop and start the line",
        );
    }
}

/// Where a value is taken from.
pub(in crate::instrument) enum Taken {
    /// It is taken from an answer or a line.
    Elsewhere,
    /// It is taken from the waveform; `None` after a fault.
    Waveform(Option<Place>),
}

/// Whether a value is taken from the waveform, and which.
pub(in crate::instrument) fn place(table: &Table<'_>, channel: Option<Channel>) -> Taken {
    match table.entry("waveform") {
        Some(entry) => Taken::Waveform(figure(table, &entry, channel)),
        None => Taken::Elsewhere,
    }
}

/// The place of a value in a small block of numbers in bytes, the answer to its question; `None` after a fault.
pub(in crate::instrument) fn block_place(
    table: &Table<'_>,
    entry: &Entry<'_>,
    ask: Option<&str>,
    position: usize,
) -> Option<Place> {
    let codes = byte_codes(entry);
    let of = count_of(table, position);
    let Some(ask) = ask else {
        entry.fault("expected its question beside it: ask");
        return None;
    };
    Some(Place::Block {
        ask: ask.to_owned(),
        position,
        of: of?,
        codes: codes?,
    })
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
    for key in ["ask", "name", "position", "unit", "quantity", "codes"] {
        if let Some(entry) = table.entry(key) {
            entry.fault("a value taken from the waveform has none");
            return None;
        }
    }
    Some(Place::Waveform(figure))
}

#[cfg(test)]
mod tests;
