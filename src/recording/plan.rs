//! When a recording ends, and how its rows are judged.

use std::time::Duration;

use super::end::End;
use super::forecast::Forecast;
use crate::clock::Clock;
use crate::instrument::Mask;

/// When a recording ends, and how its rows are judged.
#[derive(Debug)]
pub struct Plan {
    /// The session's clock.
    pub clock: Clock,
    /// How long it lasts, on the session's clock; `None` without a limit.
    pub duration: Option<Duration>,
    /// The battery voltage below which it ends, in volts.
    pub until_below_v: Option<f64>,
    /// How long a lost instrument is waited for; `None` without a limit.
    pub give_up_after: Option<Duration>,
    /// Frequencies that are not the coil's.
    pub masks: Vec<Mask>,
    /// The battery whose time left is forecast.
    pub forecast: Option<Forecast>,
    /// Whether a full disk is waited out.
    pub wait_for_room: bool,
    /// The words in which the folder says why the recording ended.
    pub end_words: fn(&End) -> String,
}
