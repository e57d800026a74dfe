//! Everything that a recording reports while it runs, as facts: the closed list.

use std::fmt;
use std::path::PathBuf;
use std::sync::Arc;

use crate::battery::forecast::NoForecast;
use crate::battery::kind::Kind;
use crate::battery::outlook::Outlook;
use crate::battery::series::Weakest;
use crate::battery::watch::Alarm;
use crate::reading::{Row, Status};
use crate::session::{ClockRate, SessionError};

/// Takes the news of a recording, one after the other; the recording waits until it returns.
pub type Listener = Box<dyn FnMut(News) + Send>;

/// One fact.
#[derive(Debug)]
pub enum News {
    /// A folder of the same name was there already, and is here now.
    MovedAside(PathBuf),
    /// The recording writes to this folder.
    Begins(PathBuf),
    /// The header of the table of rows, with its line end.
    Header(String),
    /// Rows that were written.
    Rows {
        /// Their lines, as they stand in the table.
        lines: String,
        /// The rows.
        rows: Vec<Row>,
    },
    /// A mark was taken.
    Marked(String),
    /// Something of one instrument.
    Instrument(Arc<str>, FromInstrument),
    /// The disk is full; nothing is written until there is room.
    DiskFull,
    /// There is room again; meanwhile this was not written.
    RoomAgain(Missing),
    /// The disk is still full at the end; this number of refused texts is not written.
    RefusedMissing(u64),
    /// One of several batteries in series is far behind the others.
    BatteryBehind {
        /// That one.
        weakest: Weakest,
        /// Where to stop them together, in volts.
        end_v: Option<f64>,
    },
    /// The ripple of a battery of this kind may pass for the coil.
    MayRipple(Kind),
    /// A new forecast.
    Forecast(Outlook),
    /// There is no forecast; reported once per reason.
    NoForecast {
        /// The reason.
        why: NoForecast,
        /// The outlook.
        looked: Outlook,
        /// The kind of battery, if known.
        kind: Option<Kind>,
    },
    /// An alarm of the battery.
    Alarm {
        /// Which.
        alarm: Alarm,
        /// The outlook.
        looked: Outlook,
        /// Where the battery is empty, in volts.
        end_v: Option<f64>,
    },
    /// Forecasts cannot be written; the recording goes on.
    ForecastsUnwritten(SessionError),
}

/// One fact of an instrument; notes are those of its rows.
#[derive(Debug)]
pub enum FromInstrument {
    /// It said who it is.
    Identity(String),
    /// The line to it is lost, for this reason; the recording waits for it.
    Lost(String),
    /// The line is back.
    Back,
    /// A message of its own, or about its line.
    Message(String),
    /// It gives no more, because of this fault.
    Ended(String),
    /// Most of its bytes are no text: its speed may be another.
    MostlyNoText,
    /// It gave nothing yet that can be read; the note says why.
    NothingYet(String),
    /// It gives a part of its values; the note says why.
    PartOnly(String),
    /// It was heard, and now it fell silent, hangs, or gave a value that is hard to believe.
    Odd(Status, String),
    /// How fast its clock runs.
    Clock(ClockRate),
    /// Its byte log ended early, for this reason; the recording goes on.
    BytesEnd(String),
}

/// Counts of the data that a full disk did not take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Missing {
    /// Rows.
    pub rows: u64,
    /// Marks.
    pub marks: usize,
}

impl fmt::Display for Missing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { rows, marks } = self;
        match marks {
            0 => write!(f, "{rows} rows are missing"),
            _ => write!(f, "{rows} rows and {marks} marks are missing"),
        }
    }
}
