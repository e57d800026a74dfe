//! A recording in a few lines, and the same for programs.

use std::borrow::Cow;

use super::end::end;
use crate::analysis::estimate::to_place_of;
use crate::plain::Shown as _;
use crate::recording::Recorded;
use crate::report::form::{Digits, Form, part};
use crate::report::layout::{kept, shell_word};
use crate::report::short::Short;
use crate::session::Extent;
use crate::units::{self, Unit};

/// Returns a recording in a few lines of `width` columns, and the next step.
pub fn text(recorded: &Recorded, width: usize) -> String {
    let mut short = short(recorded);
    let command = format!("sagtrace compare {}", shell_word(&recorded.dir));
    short.next("to compare it with its build", &command);
    short.printed(width)
}

/// Returns the same without the next step, where the comparison follows at once.
pub fn without_next(recorded: &Recorded, width: usize) -> String {
    short(recorded).printed(width)
}

fn short(recorded: &Recorded) -> Short {
    let summary = &recorded.summary;
    let mut short = Short::default();
    short.say(format!(
        "Recorded {} rows in {}, {} of them good, {}. Ended: {}.",
        summary.rows,
        kept(&format!("{:.1} s", summary.duration_s)),
        summary.good_rows,
        match summary.gaps {
            0 => "no gap".to_owned(),
            1 => "1 gap".to_owned(),
            gaps => format!("{gaps} gaps"),
        },
        end(&recorded.end)
    ));
    if let Some(extent) = summary.frequency_hz {
        // Two digits of the change; a counter is not read beyond a millionth.
        let moved_hz = (extent.last - extent.first).abs().max(1e-6 * extent.first);
        let hertz = |value_hz| kept(&to_place_of(value_hz, moved_hz, Unit::Hertz));
        let (first, last) = (hertz(extent.first), hertz(extent.last));
        short.say(format!("Frequency: {first} at first, {last} at last."));
    }
    if let Some(extent) = summary.battery_v {
        // As many digits as the comparison that often follows.
        let volts = |value_v| kept(&units::rounded(value_v, Unit::Volt, 3));
        let (first, last, least) = (volts(extent.first), volts(extent.last), volts(extent.min));
        short.say(format!(
            "Battery: {first} at first, {last} at last, lowest {least}."
        ));
    }
    short.say(format!("Written to {}", kept(&recorded.dir.shown())));
    short
}

part! {
    /// A recording for programs.
    pub struct Json<'a>(recorded: &'a Recorded) with {
        let summary = &recorded.summary;
    } {
        session: Cow<'a, str> = recorded.dir.to_string_lossy(),
        end_reason: String = end(&recorded.end),
        rows: u64 = summary.rows,
        good_rows: u64 = summary.good_rows,
        gaps: u64 = summary.gaps,
        duration_s: f64 = summary.duration_s,
        frequency_hz: Option<Extent> = summary.frequency_hz,
        battery_v: Option<Extent> = summary.battery_v,
    }
}

impl Form for Json<'_> {
    const DIGITS: Digits = Digits::All;
}
