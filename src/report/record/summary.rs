//! A recording in a few lines, and the same for programs.

use std::borrow::Cow;

use serde::Serialize;

use super::end::end;
use crate::plain::Shown as _;
use crate::recording::Recorded;
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

/// A recording for programs.
#[derive(Debug, Serialize)]
pub struct Json<'a> {
    schema: u32,
    session: Cow<'a, str>,
    end_reason: String,
    rows: u64,
    good_rows: u64,
    gaps: u64,
    duration_s: f64,
    frequency_hz: Option<Extent>,
    battery_v: Option<Extent>,
}

impl<'a> Json<'a> {
    /// Returns the form of a recording.
    pub fn new(recorded: &'a Recorded) -> Self {
        let summary = &recorded.summary;
        Self {
            schema: 1,
            session: recorded.dir.to_string_lossy(),
            end_reason: end(&recorded.end),
            rows: summary.rows,
            good_rows: summary.good_rows,
            gaps: summary.gaps,
            duration_s: summary.duration_s,
            frequency_hz: summary.frequency_hz,
            battery_v: summary.battery_v,
        }
    }
}
