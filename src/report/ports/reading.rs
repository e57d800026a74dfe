//! The reading of an instrument, in a few words.

use crate::reading::{Channel, Status};
use crate::recording::{Found, Read};
use crate::units;

/// Returns the words for a reading that proves, or does not prove, that a port answers to a profile.
pub(super) fn words(found: &Found) -> String {
    let read = found.read.as_ref().map(read_words);
    let withheld = found.withheld.as_ref();
    let withheld = withheld
        .map(|command| format!("its waveform is read only after {command}, which was not sent"));
    let words: Vec<String> = read.into_iter().chain(withheld).collect();
    words.join("; ")
}

fn read_words(read: &Read) -> String {
    let values: Vec<String> = Channel::ALL
        .into_iter()
        .filter_map(|channel| Some(units::exact(read.readings.get(channel)?, channel.unit())))
        .collect();
    let words = match (values.is_empty(), read.status) {
        (true, status) => status.to_string(),
        (false, Status::Ok) => values.join(", "),
        (false, status) => format!("{}, {status}", values.join(", ")),
    };
    if read.is_proof {
        words
    } else {
        format!("{words}, and no number that proves it")
    }
}
