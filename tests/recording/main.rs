//! Instruments, the recorder and the session folder: on real pseudo-terminals, in memory, and through everything that goes wrong.
#![cfg(unix)]

#[path = "../common/mod.rs"]
mod common;
#[path = "../common/line.rs"]
mod line;
#[path = "../common/machine.rs"]
mod machine;
#[path = "../common/noise.rs"]
mod noise;
#[path = "../common/noted.rs"]
mod noted;
#[path = "../common/recorded.rs"]
mod recorded;

mod answers;
mod battery_live;
mod battery_unheard;
mod bench;
#[cfg(target_os = "linux")]
mod disk;
mod doubts;
mod finder;
#[cfg(target_os = "linux")]
mod lost;
mod mixes;
mod order;
mod proof;
mod record;
mod session;
mod ten_hours;
mod trouble;
mod waveform;

impl common::Desk {
    /// Runs `record` into the folder `out`, showing rows, to its end.
    fn record(&self, args: &[&str]) -> common::Ended {
        self.start(args).end()
    }
}
