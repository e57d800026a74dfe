//! sagtrace: a bench logger for small battery-powered high-voltage resonators.
//!
//! Data run one way: an instrument's answers become [`reading::Row`]s, rows become a session folder, and everything that
//! is computed, drawn or said is made from that folder and the build sheet in it. `DEVELOPERS.md` has the map.

#![cfg_attr(
    not(test),
    warn(
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::panic,
        clippy::print_stdout,
        clippy::print_stderr,
        clippy::exit,
        unused_crate_dependencies
    )
)]

pub mod acquire;
pub mod analysis;
pub mod battery;
pub mod bench;
pub mod caution;
pub mod chance;
pub mod circuit;
pub mod cli;
pub mod clock;
pub mod coil;
pub mod diagnosis;
pub mod faults;
pub mod figure;
pub mod frame;
pub mod guide;
pub mod input;
pub mod instrument;
pub mod limits;
pub mod logbook;
pub mod plain;
pub mod plot;
pub mod reading;
pub mod recording;
pub mod report;
pub mod session;
pub mod sheet;
pub mod tone;
pub mod transport;
pub mod units;
