//! The running of a recording: the folder is begun, rows go from the instruments to the folder, and something ends it.
//!
//! The room takes plain values and reports facts: everything that a person may want to know is one [`News`], handed to the
//! [`Listener`] of the caller. It knows no terminal, no exit code and no sentence; `report::record` has the words.

mod begin;
mod board_clock;
mod desk;
mod end;
mod error;
mod flag_rule;
mod forecast;
mod full_disk;
mod marks;
mod news;
mod plan;
mod run;
mod wrong_speed;

pub use begin::{About, Begun, Folder, Ready, begin};
pub use end::{End, Recorded, StopSignal};
pub use error::RecordingError;
pub use flag_rule::flag_rule;
pub use forecast::{Battery, Earlier, EarlierRuns, Forecast};
pub use marks::{Marks, read_marks, scripted};
pub use news::{FromInstrument, Listener, Missing, News};
pub use plan::Plan;
pub use run::record;
