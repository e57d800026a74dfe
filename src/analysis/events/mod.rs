//! Breaks of the run: the coil stopped and started again, data are missing or doubted, or the clock was moved. Each kind has its
//! own list.
//!
//! Memory: 4096 entries of each list; later ones are counted.

use std::sync::Arc;

use crate::reading::{Channel, Chunk, Row, Status};

/// Entries kept in each list; later ones are counted. A loose lead can make thousands.
const KEPT: usize = 4096;
/// A coil has started again when it ran for these numbers of readings and of seconds (chosen): a coil that flickers at the end of
/// its battery is in one stop.
const RUNS_READINGS: usize = 3;
const RUNS_S: f64 = 2.0;

/// The coil was silent while the instrument answered.
#[derive(Debug, Clone, PartialEq)]
pub struct Stop {
    /// The instrument that saw it.
    pub source: Arc<str>,
    /// First row without a signal, in seconds since the session began.
    pub from_s: f64,
    /// First good frequency after it, in seconds; `None` if none came.
    pub to_s: Option<f64>,
    /// Numbers of the first and last row without a signal; the first row of a session is 1.
    pub rows: (u64, u64),
    /// Number of the row with the first good frequency after it.
    pub restart_row: Option<u64>,
    /// How often it began to run in between and fell silent at once.
    pub flickers: usize,
    /// Last battery voltage read at or before the stop, in volts.
    pub battery_from_v: Option<f64>,
    /// Last battery voltage read at or before the restart, in volts.
    pub battery_to_v: Option<f64>,
}

/// An instrument gave no usable data.
#[derive(Debug, Clone, PartialEq)]
pub struct Outage {
    /// The instrument.
    pub source: Arc<str>,
    /// The most serious status met.
    pub status: Status,
    /// Its note, when there is one.
    pub reason: String,
    /// First row without data, in seconds since the session began.
    pub from_s: f64,
    /// First row with data after it, in seconds; `None` if none came.
    pub to_s: Option<f64>,
    /// Numbers of the first and last row without data.
    pub rows: (u64, u64),
}

/// Readings of one channel that were doubted one after the other.
#[derive(Debug, Clone, PartialEq)]
pub struct Doubt {
    /// The instrument.
    pub source: Arc<str>,
    /// The channel.
    pub channel: Channel,
    /// `stale` or `suspect`.
    pub status: Status,
    /// The reason given for the first.
    pub why: String,
    /// The first of them, in seconds since the session began.
    pub from_s: f64,
    /// The last, in the same seconds.
    pub to_s: f64,
    /// Numbers of their rows, first and last.
    pub rows: (u64, u64),
    /// Readings.
    pub readings: usize,
}

/// The wall clock was moved.
#[derive(Debug, Clone, PartialEq)]
pub struct ClockStep {
    /// When, in seconds since the session began.
    pub at_s: f64,
    /// Number of the row that says so.
    pub row: u64,
    /// By how much, in the row's words.
    pub what: String,
}

/// A list that counts the entries it could not keep.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept<T> {
    /// The entries, in the order they began: the first, or for entries with a size the heaviest.
    pub entries: Vec<T>,
    /// How many more there were.
    pub more: usize,
}

impl<T> Default for Kept<T> {
    fn default() -> Self {
        Self {
            entries: Vec::new(),
            more: 0,
        }
    }
}

impl<T> Kept<T> {
    /// Adds an entry and says where it stands.
    pub(super) fn add(&mut self, entry: T) -> Running {
        if self.entries.len() == KEPT {
            self.more += 1;
            return Running::Counted;
        }
        self.entries.push(entry);
        Running::At(self.entries.len() - 1)
    }

    /// Adds an entry that is not looked up again. Where the list is full, the lightest makes room for a heavier one, so that a
    /// late entry is not lost behind many small ones.
    pub(super) fn add_heaviest(&mut self, entry: T, weight: impl Fn(&T) -> f64) {
        if self.entries.len() < KEPT {
            self.entries.push(entry);
            return;
        }
        self.more += 1;
        let weights = self.entries.iter().map(&weight).enumerate();
        let lightest = weights.min_by(|one, other| one.1.total_cmp(&other.1));
        if let Some((index, least)) = lightest
            && weight(&entry) > least
        {
            self.entries.remove(index);
            self.entries.push(entry);
        }
    }

    /// Adds the contents of another list, its entries as far as there is room.
    pub(super) fn append(&mut self, other: &Self)
    where
        T: Clone,
    {
        for entry in &other.entries {
            self.add(entry.clone());
        }
        self.more += other.more;
    }

    fn at(&mut self, running: Running) -> Option<&mut T> {
        match running {
            Running::At(index) => self.entries.get_mut(index),
            Running::Counted | Running::No => None,
        }
    }

    /// Returns all there were, kept or not.
    pub fn count(&self) -> usize {
        self.entries.len() + self.more
    }
}

/// Whether something is going on, and where it stands in its list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Running {
    No,
    At(usize),
    /// The list was full.
    Counted,
}

/// The open events of one instrument.
#[derive(Debug, Clone)]
struct Watch {
    source: Arc<str>,
    has_started: bool,
    stop: Running,
    outage: Running,
    /// The last stop, while it is not sure that the coil runs again.
    trial: Option<Trial>,
    /// The doubts that the row before had.
    doubts: Vec<(Channel, Running)>,
}

/// A coil that began to run again.
#[derive(Debug, Clone, Copy)]
struct Trial {
    stop: Running,
    from_s: f64,
    readings: usize,
}

/// Collects stops and missing data.
#[derive(Debug, Clone, Default)]
pub struct Events {
    stops: Kept<Stop>,
    outages: Kept<Outage>,
    doubts: Kept<Doubt>,
    clock_steps: Kept<ClockStep>,
    restarts: usize,
    rows: u64,
    watches: Vec<Watch>,
    battery_v: Option<f64>,
}

impl Events {
    /// Takes rows in, in the order of their time.
    pub fn push(&mut self, rows: &Chunk) {
        for row in rows {
            self.rows += 1;
            let at = self.watch_of(row);
            self.outage(at, row);
            self.doubt(at, row);
            if row.status == Status::ClockStep {
                self.clock_steps.add(ClockStep {
                    at_s: row.stamp.elapsed_s(),
                    row: self.rows,
                    what: row.note.to_string(),
                });
            }
            // Where nobody saw whether the coil ran, its battery may have rested already.
            let seen_v = row.battery_v().filter(|_| !row.status.is_unread());
            let volts = seen_v.or(self.battery_v);
            // A coil stopped at the voltage of its last reading: in the row that shows it, the battery has rested already.
            if row.status != Status::NoSignal {
                self.battery_v = volts;
            }
            self.stop(at, row);
            self.battery_v = volts;
        }
    }

    fn watch_of(&mut self, row: &Row) -> usize {
        let known = self
            .watches
            .iter()
            .position(|watch| *watch.source == *row.source);
        known.unwrap_or_else(|| {
            self.watches.push(Watch {
                source: Arc::clone(&row.source),
                has_started: false,
                stop: Running::No,
                outage: Running::No,
                trial: None,
                doubts: Vec::new(),
            });
            self.watches.len() - 1
        })
    }

    fn outage(&mut self, at: usize, row: &Row) {
        let Some(watch) = self.watches.get_mut(at) else {
            return;
        };
        match (watch.outage, row.status.is_unread()) {
            (Running::No, true) => {
                watch.outage = self.outages.add(Outage {
                    source: Arc::clone(&row.source),
                    status: row.status,
                    reason: row.note.to_string(),
                    from_s: row.stamp.elapsed_s(),
                    to_s: None,
                    rows: (self.rows, self.rows),
                });
            }
            (running, true) => {
                if let Some(outage) = self.outages.at(running) {
                    outage.rows.1 = self.rows;
                    if row.status < outage.status {
                        outage.status = row.status;
                        outage.reason = row.note.to_string();
                    }
                }
            }
            (running, false) if row.status != Status::ClockStep => {
                watch.outage = Running::No;
                if let Some(outage) = self.outages.at(running) {
                    outage.to_s = Some(row.stamp.elapsed_s());
                }
            }
            _ => {}
        }
    }

    /// Readings of a channel that are doubted for the same reason in row after row are one doubt.
    fn doubt(&mut self, at: usize, row: &Row) {
        let Some(watch) = self.watches.get_mut(at) else {
            return;
        };
        if !matches!(row.status, Status::Stale | Status::Suspect) {
            watch.doubts.clear();
            return;
        }
        let at_s = row.stamp.elapsed_s();
        let mut open = Vec::new();
        for (channel, why) in row.note.doubts() {
            let known = watch.doubts.iter().find(|(doubted, _)| *doubted == channel);
            let running = match (known, known.and_then(|known| self.doubts.at(known.1))) {
                (Some((_, running)), Some(doubt)) if doubt.status == row.status => {
                    doubt.to_s = at_s;
                    doubt.rows.1 = self.rows;
                    doubt.readings += 1;
                    *running
                }
                (Some((_, Running::Counted)), _) => Running::Counted,
                _ => self.doubts.add(Doubt {
                    source: Arc::clone(&row.source),
                    channel,
                    status: row.status,
                    why: why.to_owned(),
                    from_s: at_s,
                    to_s: at_s,
                    rows: (self.rows, self.rows),
                    readings: 1,
                }),
            };
            open.push((channel, running));
        }
        watch.doubts = open;
    }

    fn stop(&mut self, at: usize, row: &Row) {
        let Some(watch) = self.watches.get_mut(at) else {
            return;
        };
        let at_s = row.stamp.elapsed_s();
        let is_silent = row.status == Status::NoSignal;
        let is_running = row.good(Channel::FrequencyHz).is_some();
        match watch.stop {
            Running::No if is_silent => {
                if let Some(trial) = watch.trial.take() {
                    self.fall_back(at, trial.stop);
                } else if watch.has_started {
                    // Before it was first switched on a coil is silent without having stopped.
                    watch.stop = self.stops.add(Stop {
                        source: Arc::clone(&row.source),
                        from_s: at_s,
                        to_s: None,
                        rows: (self.rows, self.rows),
                        restart_row: None,
                        flickers: 0,
                        battery_from_v: self.battery_v,
                        battery_to_v: None,
                    });
                }
            }
            Running::No if is_running => {
                if let Some(trial) = &mut watch.trial {
                    trial.readings += 1;
                    if trial.readings >= RUNS_READINGS && at_s - trial.from_s >= RUNS_S {
                        watch.trial = None;
                    }
                }
            }
            running if is_running => {
                watch.stop = Running::No;
                watch.trial = Some(Trial {
                    stop: running,
                    from_s: at_s,
                    readings: 1,
                });
                self.restarts += 1;
                if let Some(stop) = self.stops.at(running) {
                    stop.to_s = Some(at_s);
                    stop.restart_row = Some(self.rows);
                    stop.battery_to_v = self.battery_v;
                }
            }
            running if is_silent => {
                if let Some(stop) = self.stops.at(running) {
                    stop.rows.1 = self.rows;
                }
            }
            _ => {}
        }
        if let Some(watch) = self.watches.get_mut(at) {
            watch.has_started |= is_running;
        }
    }

    /// The coil fell silent before it had started again: it is in the stop that it was in.
    fn fall_back(&mut self, at: usize, stop: Running) {
        if let Some(watch) = self.watches.get_mut(at) {
            watch.stop = stop;
        }
        self.restarts -= 1;
        if let Some(stop) = self.stops.at(stop) {
            stop.to_s = None;
            stop.restart_row = None;
            stop.battery_to_v = None;
            stop.rows.1 = self.rows;
            stop.flickers += 1;
        }
    }

    /// Returns the stops of the coil, by the instrument that saw them.
    pub fn stops(&self) -> &Kept<Stop> {
        &self.stops
    }

    /// Returns the times without data, by instrument.
    pub fn outages(&self) -> &Kept<Outage> {
        &self.outages
    }

    /// Returns the readings that were doubted when they were recorded, by instrument and channel.
    pub fn doubts(&self) -> &Kept<Doubt> {
        &self.doubts
    }

    /// Returns where the wall clock was moved.
    pub fn clock_steps(&self) -> &Kept<ClockStep> {
        &self.clock_steps
    }

    /// Returns how often the coil started again after a stop.
    pub fn restarts(&self) -> usize {
        self.restarts
    }
}

#[cfg(test)]
mod tests;
