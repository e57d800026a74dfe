//! A recording in a few lines, and the same for programs.

use std::borrow::Cow;

use super::end::end;
use crate::plain::Shown as _;
use crate::recording::Recorded;
use crate::report::form::{Digits, Form, part};
use crate::session::Extent;
use crate::units::{self, Unit};

/// Returns a recording in a few lines.
pub fn text(recorded: &Recorded) -> String {
    let summary = &recorded.summary;
    let mut lines = vec![format!(
        "{} rows in {:.1} s, {} good, {} gaps; it ended because {}",
        summary.rows,
        summary.duration_s,
        summary.good_rows,
        summary.gaps,
        end(&recorded.end)
    )];
    lines.extend(summary.frequency_hz.map(|extent| {
        let hertz = |value| units::rounded(value, Unit::Hertz, 7);
        format!(
            "frequency  {} to {}",
            hertz(extent.first),
            hertz(extent.last)
        )
    }));
    lines.extend(summary.battery_v.map(|extent| {
        // As many digits as the comparison that often follows.
        let volts = |value| units::rounded(value, Unit::Volt, 3);
        format!(
            "battery    {} at first, {} at last, lowest {}",
            volts(extent.first),
            volts(extent.last),
            volts(extent.min)
        )
    }));
    lines.push(format!("written to {}", recorded.dir.shown()));
    lines.join("\n") + "\n"
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
