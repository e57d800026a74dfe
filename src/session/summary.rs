//! The summary of a recording, counted while it is written.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::reading::{Channel, Chunk, Row, Status};

/// First, last and least of one channel's usable readings, by the first instrument that read it: the rule by which a
/// comparison chooses too, so that both say the same of one session.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Extent {
    /// The first.
    pub first: f64,
    /// The last.
    pub last: f64,
    /// The least.
    pub min: f64,
    /// The greatest.
    pub max: f64,
}

/// The summary of a recording.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Summary {
    /// Rows written.
    pub rows: u64,
    /// The number of them with good readings.
    pub good_rows: u64,
    /// Times a line was lost.
    pub gaps: u64,
    /// The time from the first row to the last.
    pub duration_s: f64,
    /// The battery voltage.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub battery_v: Option<Extent>,
    /// The frequency.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub frequency_hz: Option<Extent>,
    #[serde(skip)]
    between_us: Option<(i64, i64)>,
    #[serde(skip)]
    battery_source: Option<Arc<str>>,
    #[serde(skip)]
    frequency_source: Option<Arc<str>>,
}

impl Summary {
    /// Counts rows in.
    pub fn push(&mut self, rows: &Chunk) {
        for row in rows {
            self.rows += 1;
            self.gaps += u64::from(row.status == Status::Gap);
            self.good_rows += u64::from(row.status == Status::Ok);
            let at_us = row.stamp.elapsed_us;
            // A row that was whole late may be the earliest.
            let (first_us, last_us) = self.between_us.unwrap_or((at_us, at_us));
            let (first_us, last_us) = (first_us.min(at_us), last_us.max(at_us));
            self.between_us = Some((first_us, last_us));
            self.duration_s = (last_us - first_us) as f64 / 1e6;
            if let Some(volts) = row.battery_v()
                && adopts(&mut self.battery_source, row)
            {
                extend(&mut self.battery_v, volts);
            }
            if let Some(hertz) = row.good(Channel::FrequencyHz)
                && adopts(&mut self.frequency_source, row)
            {
                extend(&mut self.frequency_hz, hertz);
            }
        }
    }
}

/// Whether a row is of this instrument; the first asked about becomes it.
fn adopts(source: &mut Option<Arc<str>>, row: &Row) -> bool {
    *source.get_or_insert_with(|| Arc::clone(&row.source)) == row.source
}

fn extend(extent: &mut Option<Extent>, value: f64) {
    match extent {
        Some(extent) => {
            extent.last = value;
            extent.min = extent.min.min(value);
            extent.max = extent.max.max(value);
        }
        None => {
            *extent = Some(Extent {
                first: value,
                last: value,
                min: value,
                max: value,
            });
        }
    }
}
