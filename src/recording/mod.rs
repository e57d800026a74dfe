//! The running of a recording: instruments are opened, the folder is begun, rows go from the one to the other, and something
//! ends it. A profile is proved, and an instrument identified, by the same reader.
//!
//! The room takes plain values and reports facts: everything that a person may need is one [`News`], handed to the
//! [`Listener`] of the caller. It knows no terminal, no exit code and no sentence; `report::record` and `report::ports` have the words.

mod address;
mod begin;
mod belief;
mod board_clock;
mod desk;
mod end;
mod error;
mod forecast;
mod full_disk;
mod hearing;
mod identify;
mod marks;
mod naming;
mod news;
mod opening;
mod plan;
pub mod proof;
mod run;
mod wrong_speed;

pub use address::{Address, AddressError, Place};
pub use begin::{About, Begun, Folder, Ready, begin};
pub use end::{End, Recorded, StopSignal};
pub use error::RecordingError;
pub use forecast::{Battery, Earlier, EarlierRuns, Forecast};
pub use identify::{Found, IdentifyError, Read, identify};
pub use marks::{Marks, read_marks, scripted};
pub use naming::{Named, NamingError, name_all};
pub use news::{FromInstrument, Listener, Missing, News};
pub use opening::{OpeningError, OpeningNews};
pub use plan::Plan;
pub use run::record;
