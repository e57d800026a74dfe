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
    /// An instrument said who it is.
    Identity {
        /// Its label.
        source: Arc<str>,
        /// Its answer.
        text: String,
    },
    /// The line to an instrument is lost; the recording waits for it.
    Lost {
        /// The label of the instrument.
        source: Arc<str>,
        /// How it was lost.
        reason: String,
    },
    /// The line to an instrument is back.
    Back(Arc<str>),
    /// An instrument's own message, or one about its line.
    Message {
        /// The label of the instrument.
        source: Arc<str>,
        /// The text.
        text: String,
    },
    /// An instrument gives no more, because of a fault.
    Ended {
        /// Its label.
        source: Arc<str>,
        /// The fault.
        fault: String,
    },
    /// Most bytes of an instrument are no text: its speed may be another.
    MostlyNoText(Arc<str>),
    /// An instrument gave nothing yet that can be read; reported once.
    NothingYet {
        /// Its label.
        source: Arc<str>,
        /// The note of its row.
        note: String,
    },
    /// An instrument gives a part of its values.
    PartOnly {
        /// Its label.
        source: Arc<str>,
        /// The note of its row.
        note: String,
    },
    /// An instrument that was heard fell silent, hangs, or gave a value that is hard to believe.
    Odd {
        /// Its label.
        source: Arc<str>,
        /// The status of its row.
        status: Status,
        /// The note of its row.
        note: String,
    },
    /// How fast the clock of a board runs.
    BoardClock {
        /// The label of the board.
        source: Arc<str>,
        /// The rate.
        rate: ClockRate,
    },
    /// The disk is full; nothing is written until there is room.
    DiskFull,
    /// There is room again; meanwhile this was not written.
    RoomAgain(Missing),
    /// The disk is still full at the end; this number of refused texts is not written.
    RefusedMissing(u64),
    /// The byte log of an instrument ended early; the recording goes on.
    BytesEnd {
        /// The label of the instrument.
        source: String,
        /// The reason.
        why: String,
    },
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
        /// What was looked at.
        looked: Outlook,
        /// The kind of battery, if known.
        kind: Option<Kind>,
    },
    /// An alarm of the battery.
    Alarm {
        /// Which.
        alarm: Alarm,
        /// What was looked at.
        looked: Outlook,
        /// Where the battery is empty, in volts.
        end_v: Option<f64>,
    },
    /// Forecasts cannot be written; the recording goes on.
    ForecastsUnwritten(SessionError),
}

/// Counts of what a full disk did not take.
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
