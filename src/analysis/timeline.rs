//! The events of a session, in the order of time: each with its time, its size and the rows that it rests on.
//!
//! Rows are numbered from 1 in the order in which they were read; lines of a file that are no rows have no number.

use std::sync::Arc;

use super::compare::Comparison;
use super::events::{ClockStep, Doubt, Outage, Stop};
use super::excursions::Excursion;
use super::lone::Lone;
use super::noted::Noted;
use super::steps::Step;
use crate::reading::Channel;

/// One thing that happened.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Happening<'a> {
    /// The coil stopped.
    Stop(&'a Stop),
    /// It started again after this stop: time, row.
    Restart(&'a Stop, f64, u64),
    /// Data are missing.
    Gap(&'a Outage),
    /// The frequency jumped and stayed.
    Step(&'a Step),
    /// It went away and came back.
    Excursion(&'a Excursion),
    /// A reading stood alone.
    Lone(&'a Lone),
    /// Readings were doubted when they were recorded.
    Doubt(&'a Doubt),
    /// The wall clock was moved.
    Clock(&'a ClockStep),
    /// The person noted something.
    Mark(&'a Noted),
}

impl<'a> Happening<'a> {
    /// Returns when it began, in seconds since the session began.
    pub fn from_s(&self) -> f64 {
        match self {
            Self::Stop(stop) => stop.from_s,
            Self::Restart(_, at_s, _) => *at_s,
            Self::Gap(outage) => outage.from_s,
            Self::Step(step) => step.at_s,
            Self::Excursion(excursion) => excursion.from_s,
            Self::Lone(lone) => lone.at_s,
            Self::Doubt(doubt) => doubt.from_s,
            Self::Clock(step) => step.at_s,
            Self::Mark(mark) => mark.at_s,
        }
    }

    /// Returns when it ended, in seconds since the session began; `None` for an event that has no length, or has not ended.
    pub fn to_s(&self) -> Option<f64> {
        match self {
            Self::Stop(stop) => stop.to_s,
            Self::Gap(outage) => outage.to_s,
            Self::Excursion(excursion) => Some(excursion.to_s),
            Self::Doubt(doubt) => Some(doubt.to_s),
            Self::Restart(..) | Self::Step(_) | Self::Lone(_) | Self::Clock(_) | Self::Mark(_) => {
                None
            }
        }
    }

    /// Returns the numbers of the first and last row it rests on; `None` for a mark behind the last row.
    pub fn rows(&self) -> Option<(u64, u64)> {
        match self {
            Self::Stop(stop) => Some(stop.rows),
            Self::Restart(_, _, row) => Some((*row, *row)),
            Self::Gap(outage) => Some(outage.rows),
            Self::Step(step) => Some(step.rows),
            Self::Excursion(excursion) => Some(excursion.rows),
            Self::Lone(lone) => Some(lone.rows),
            Self::Doubt(doubt) => Some(doubt.rows),
            Self::Clock(step) => Some((step.row, step.row)),
            Self::Mark(mark) => mark.row.map(|row| (row, row)),
        }
    }

    /// Returns the instrument that saw it, where only one can have.
    pub fn source(&self) -> Option<&'a Arc<str>> {
        match self {
            Self::Stop(stop) | Self::Restart(stop, ..) => Some(&stop.source),
            Self::Gap(outage) => Some(&outage.source),
            Self::Doubt(doubt) => Some(&doubt.source),
            Self::Step(_) | Self::Excursion(_) | Self::Lone(_) | Self::Clock(_) | Self::Mark(_) => {
                None
            }
        }
    }
}

/// A reading that stood alone is the excursion it lies in where it went no farther than this many times as far. Chosen.
const SAME: f64 = 1.5;

/// Returns all that happened, in the order of time.
pub fn timeline(comparison: &Comparison) -> Vec<Happening<'_>> {
    let events = &comparison.events;
    let stops = events.stops().entries.iter();
    let excursions = &comparison.excursions.entries;
    let is_in_excursion = |lone: &&Lone| {
        let holds = |excursion: &Excursion| {
            // An excursion is judged by means of some readings, and may show a third of the deviation of one of them.
            let off_hz = (lone.value - lone.usual).abs();
            lone.channel == Channel::FrequencyHz
                && excursion.rows.0 <= lone.rows.0
                && lone.rows.1 <= excursion.rows.1
                && off_hz <= SAME * excursion.deviation_hz.abs()
        };
        excursions.iter().any(holds)
    };
    let mut all: Vec<Happening<'_>> = stops
        .flat_map(|stop| {
            let restart = stop.to_s.zip(stop.restart_row);
            let restart = restart.map(|(at_s, row)| Happening::Restart(stop, at_s, row));
            std::iter::once(Happening::Stop(stop)).chain(restart)
        })
        .chain(events.outages().entries.iter().map(Happening::Gap))
        .chain(events.doubts().entries.iter().map(Happening::Doubt))
        .chain(events.clock_steps().entries.iter().map(Happening::Clock))
        .chain(comparison.steps.entries.iter().map(Happening::Step))
        .chain(excursions.iter().map(Happening::Excursion))
        .chain(
            comparison
                .lone
                .iter()
                .flat_map(|lone| lone.entries.iter())
                // A single reading may be both.
                .filter(|lone| !is_in_excursion(lone))
                .map(Happening::Lone),
        )
        .chain(comparison.marks.iter().map(Happening::Mark))
        .collect();
    all.sort_by(|one, other| one.from_s().total_cmp(&other.from_s()));
    all
}

/// Returns how many more there were than the lists hold.
pub fn not_listed(comparison: &Comparison) -> usize {
    let events = &comparison.events;
    let lone: usize = comparison.lone.iter().map(|lone| lone.more).sum();
    let restarts = events
        .stops()
        .entries
        .iter()
        .filter(|stop| stop.to_s.is_some());
    events.stops().more
        + (events.restarts() - restarts.count())
        + events.outages().more
        + events.doubts().more
        + events.clock_steps().more
        + comparison.steps.more
        + comparison.excursions.more
        + lone
}
