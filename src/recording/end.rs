//! Why a recording ended, and its outcome.

use std::path::PathBuf;
use std::sync::Arc;

use crate::session::{Meta, Summary};

/// How the person, or the system, asked for the end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StopSignal {
    /// Ctrl-C.
    Interrupt,
    /// The program was asked to end.
    Terminate,
    /// The terminal went away.
    HangUp,
}

/// Why a recording ended.
#[derive(Debug, Clone, PartialEq)]
pub enum End {
    /// The duration was reached.
    Duration,
    /// The battery was below this voltage, in volts.
    BatteryBelow {
        /// The limit that was asked for.
        limit_v: f64,
    },
    /// The output of the battery stepped down.
    SteppedDown,
    /// The forecast said that so little time is left.
    LittleLeft {
        /// The time left, in seconds.
        left_s: f64,
    },
    /// It was stopped.
    Stopped(StopSignal),
    /// All byte logs are at their end.
    LogsEnded,
    /// An instrument did not come back in time.
    GivenUp(Arc<str>),
    /// The time of a virtual instrument runs at another speed than the recording's.
    OtherTime {
        /// Its label.
        source: Arc<str>,
        /// How many times faster than real it runs.
        scale: f64,
    },
}

/// The outcome of a recording.
#[derive(Debug)]
pub struct Recorded {
    /// Its folder.
    pub dir: PathBuf,
    /// Why it ended.
    pub end: End,
    /// Counts and extremes.
    pub summary: Summary,
    /// Instruments that never gave a value or a "no signal".
    pub mute: Vec<Arc<str>>,
    /// Instruments whose line was lost at the end.
    pub lost: Vec<Arc<str>>,
    /// Instruments on serial ports.
    pub(super) on_ports: Vec<String>,
}

impl Recorded {
    /// Returns whether one of these instruments is on a serial port.
    pub fn is_on_port(&self, labels: &[Arc<str>]) -> bool {
        labels
            .iter()
            .any(|label| self.on_ports.iter().any(|other| **other == **label))
    }
}

/// Returns the labels of the instruments on serial ports.
pub(super) fn on_ports(meta: &Meta) -> Vec<String> {
    let instruments = meta.instruments.iter();
    let on_ports = instruments.filter(|one| one.address.starts_with("serial:"));
    on_ports.map(|one| one.label.clone()).collect()
}
