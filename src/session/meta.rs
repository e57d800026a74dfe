//! `session.toml`: the description of a recording, in a form that later versions can read.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::summary::Summary;
use crate::clock::rfc3339_ms;
use crate::plain;

/// Whether a recording was closed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// It goes on, or it was cut off.
    Recording,
    /// It was closed.
    Closed,
}

/// The whole of `session.toml`. Readers ignore keys they do not know.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Meta {
    /// The folder's form.
    pub schema: u32,
    /// Whether it was closed.
    pub state: State,
    /// Program and version.
    pub program: String,
    /// When it began, RFC 3339 in UTC.
    pub started: String,
    /// When it ended.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ended: Option<String>,
    /// Why it ended.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub end_reason: Option<String>,
    /// The build's name.
    pub build: String,
    /// How the circuit stood to earth; `None` if nobody said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub earth: Option<String>,
    /// The battery's label.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub battery: Option<String>,
    /// `full` or `unknown`.
    pub battery_start: String,
    /// The battery's kind where it is not the build sheet's.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub battery_kind: Option<String>,
    /// The voltage at which it counts as empty, for all in series, where it is not the kind's, in volts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub battery_end_v: Option<f64>,
    /// The voltage of each battery in series at the start, in volts.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub battery_each_v: Vec<f64>,
    /// The person's note about it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// Whether the data come from the virtual bench.
    pub simulated: bool,
    /// Seconds recorded for one that passed.
    pub time_scale: f64,
    /// Bands in which a frequency is not the coil's, each from and to, in hertz.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub masked_hz: Vec<(f64, f64)>,
    /// The columns of `samples.csv`.
    pub columns: Vec<String>,
    /// The instruments.
    #[serde(rename = "instrument", default)]
    pub instruments: Vec<InstrumentMeta>,
    /// How they were joined to the circuit.
    #[serde(default)]
    pub connection: Vec<LinkMeta>,
    /// SHA-256 of the files in force.
    #[serde(default)]
    pub checksums: BTreeMap<String, String>,
    /// The summary of the recording, once it is closed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub summary: Option<Summary>,
}

impl Meta {
    /// Returns the description of a session when its recording begins, at this wall time in milliseconds.
    pub fn new(began_ms: i64, build: String) -> Self {
        Self {
            schema: SCHEMA,
            state: State::Recording,
            program: concat!("sagtrace ", env!("CARGO_PKG_VERSION")).to_owned(),
            started: rfc3339_ms(began_ms),
            ended: None,
            end_reason: None,
            build,
            earth: None,
            battery: None,
            battery_start: "unknown".to_owned(),
            battery_kind: None,
            battery_end_v: None,
            battery_each_v: Vec::new(),
            note: None,
            simulated: false,
            time_scale: 1.0,
            masked_hz: Vec::new(),
            columns: Vec::new(),
            instruments: Vec::new(),
            connection: Vec::new(),
            checksums: BTreeMap::new(),
            summary: None,
        }
    }

    /// Reads the text of `session.toml`, with the line ends and other controls in its texts shown as escapes. They are words for
    /// people, and come from instruments and by hand.
    pub(super) fn read(text: &str) -> Result<Self, toml::de::Error> {
        let mut top: toml::Table = toml::from_str(text)?;
        top.iter_mut().for_each(|(_, value)| show(value));
        top.try_into()
    }
}

fn show(value: &mut toml::Value) {
    match value {
        toml::Value::String(text) => *text = plain::line(text).into_owned(),
        toml::Value::Array(values) => values.iter_mut().for_each(show),
        toml::Value::Table(table) => table.iter_mut().for_each(|(_, value)| show(value)),
        _ => {}
    }
}

/// One instrument of a session.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct InstrumentMeta {
    /// Its label in the source column.
    pub label: String,
    /// Its profile.
    pub profile: String,
    /// Where it was.
    pub address: String,
    /// The identity that it gave.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub identity: Option<String>,
    /// Seconds from one row to the next, for one that is asked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub every_s: Option<f64>,
    /// Its gate time, or `unknown`.
    pub gate_time: String,
    /// Its averaging mode, or `unknown`.
    pub averaging: String,
    /// Its own clock beside this computer's, if it sends it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clock: Option<ClockRate>,
}

/// How fast an instrument's clock ran.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ClockRate {
    /// Its seconds in one of this computer's.
    pub ratio: f64,
    /// Half the width of the interval of the ratio, at 95 %.
    pub half_width_95: f64,
}

/// How one input of an instrument was joined to the circuit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LinkMeta {
    /// The instrument's label.
    pub instrument: String,
    /// The input.
    pub input: String,
    /// The part that it sees, in the person's words.
    pub sees: String,
    /// The multiplier: the value in the file over this is the instrument's own.
    pub factor: f64,
    /// The columns that the factor stands in.
    pub scaled_columns: Vec<String>,
}

/// The form of the folder that this program writes.
pub const SCHEMA: u32 = 1;
