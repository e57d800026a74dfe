//! What broke the run: the coil stopped and started again, or data are missing or doubted. Different things, a list each.
//!
//! Memory: 4096 entries of each list; what comes after is counted.

use std::sync::Arc;

use crate::reading::{Channel, Chunk, Row, Status};

/// Entries kept in each list; what comes after is counted. A loose lead can make thousands.
const KEPT: usize = 4096;
/// A coil has started again when it ran for so many readings and so many seconds: one that flickers at the end of its battery
/// is in one stop. Chosen.
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
    /// What was said of the first.
    pub why: String,
    /// First and last of them, in seconds since the session began.
    pub between_s: (f64, f64),
    /// Numbers of their rows, first and last.
    pub rows: (u64, u64),
    /// Readings.
    pub readings: usize,
}

/// A list that counts what it could not keep.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept<T> {
    /// The first entries, in the order they began.
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

    /// Adds what another list holds, its entries as far as there is room.
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

    /// All there were, kept or not.
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

/// What one instrument is in the middle of.
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
            let volts = row.battery_v().or(self.battery_v);
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
        match (watch.outage, is_missing(row.status)) {
            (Running::No, true) => {
                watch.outage = self.outages.add(Outage {
                    source: Arc::clone(&row.source),
                    status: row.status,
                    reason: row.note.clone(),
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
                        outage.reason.clone_from(&row.note);
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
        for (channel, why) in row.doubts() {
            let known = watch.doubts.iter().find(|(doubted, _)| *doubted == channel);
            let running = match (known, known.and_then(|known| self.doubts.at(known.1))) {
                (Some((_, running)), Some(doubt)) if doubt.status == row.status => {
                    doubt.between_s.1 = at_s;
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
                    between_s: (at_s, at_s),
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

    /// Stops of the coil, by the instrument that saw them.
    pub fn stops(&self) -> &Kept<Stop> {
        &self.stops
    }

    /// Times without data, by instrument.
    pub fn outages(&self) -> &Kept<Outage> {
        &self.outages
    }

    /// Readings that were doubted when they were recorded, by instrument and channel.
    pub fn doubts(&self) -> &Kept<Doubt> {
        &self.doubts
    }

    /// How often the coil started again after a stop.
    pub fn restarts(&self) -> usize {
        self.restarts
    }
}

/// Whether a row with this status has no usable data; `no-signal` is data of another kind.
fn is_missing(status: Status) -> bool {
    matches!(
        status,
        Status::Gap | Status::Silent | Status::Refused | Status::Garbled | Status::Overload
    )
}

#[cfg(test)]
mod tests {
    use super::super::testing::row;
    use super::*;

    fn good(at_s: f64, volts: f64) -> Row {
        row("scope", at_s, Some(6e6), Some(volts), Status::Ok)
    }

    fn fault(at_s: f64, status: Status, note: &str) -> Row {
        Row {
            note: note.to_owned(),
            ..row("scope", at_s, None, None, status)
        }
    }

    fn events(rows: &Chunk) -> Events {
        let mut events = Events::default();
        for one in rows.chunks(1) {
            events.push(one);
        }
        events
    }

    #[test]
    fn a_stop_has_its_times_and_the_battery_at_both_ends() {
        let events = events(&[
            good(0.0, 7.0),
            row("scope", 1.0, None, Some(6.4), Status::NoSignal),
            row("scope", 2.0, None, Some(6.6), Status::NoSignal),
            row("scope", 3.0, Some(6e6), Some(6.5), Status::Ok),
        ]);
        let wanted = Stop {
            source: "scope".into(),
            from_s: 1.0,
            to_s: Some(3.0),
            rows: (2, 3),
            restart_row: Some(4),
            flickers: 0,
            battery_from_v: Some(7.0),
            battery_to_v: Some(6.5),
        };
        assert_eq!(events.stops().entries, [wanted]);
        assert_eq!((events.restarts(), events.outages().count()), (1, 0));
    }

    #[test]
    fn a_coil_that_was_not_yet_switched_on_has_not_stopped() {
        let events = events(&[fault(0.0, Status::NoSignal, ""), good(1.0, 9.0)]);
        assert_eq!((events.stops().count(), events.restarts()), (0, 0));
    }

    #[test]
    fn a_stop_at_the_end_of_the_record_stays_open() {
        let events = events(&[good(0.0, 9.0), fault(1.0, Status::NoSignal, "")]);
        assert_eq!(events.stops().entries[0].to_s, None);
        assert_eq!(events.restarts(), 0);
    }

    #[test]
    fn missing_rows_in_a_run_are_one_outage_with_the_gravest_reason() {
        let events = events(&[
            good(0.0, 9.0),
            fault(1.0, Status::Silent, "no answer within 500 ms"),
            fault(2.0, Status::Gap, "unplugged"),
            fault(5.0, Status::Silent, ""),
            good(7.5, 8.9),
            fault(8.0, Status::Garbled, ""),
        ]);
        let [first, second] = events.outages().entries.as_slice() else {
            panic!("{events:?}");
        };
        assert_eq!(
            (first.status, first.reason.as_str()),
            (Status::Gap, "unplugged")
        );
        assert_eq!((first.from_s, first.to_s), (1.0, Some(7.5)));
        assert_eq!((first.rows, second.rows), ((2, 4), (6, 6)));
        assert_eq!((second.from_s, second.to_s), (8.0, None));
        assert_eq!(events.stops().count(), 0);
    }

    #[test]
    fn another_instrument_going_on_does_not_end_an_outage() {
        let meter = row("meter", 2.0, None, Some(9.0), Status::Ok);
        let events = events(&[fault(1.0, Status::Gap, ""), meter, good(3.0, 9.0)]);
        assert_eq!(events.outages().entries[0].to_s, Some(3.0));
    }

    #[test]
    fn a_coil_that_flickers_at_the_end_of_its_battery_is_in_one_stop() {
        let silent = |at_s| row("scope", at_s, None, Some(6.6), Status::NoSignal);
        let mut rows = vec![good(0.0, 7.0), good(1.0, 6.5), silent(2.0)];
        for at_s in [3.0, 5.0, 7.0] {
            rows.extend([good(at_s, 6.2), silent(at_s + 1.0)]);
        }
        let flickering = events(&rows);
        let [stop] = flickering.stops().entries.as_slice() else {
            panic!("{flickering:?}");
        };
        assert_eq!((stop.from_s, stop.to_s, stop.flickers), (2.0, None, 3));
        assert_eq!((stop.rows, stop.restart_row), ((3, 9), None));
        assert_eq!((stop.battery_from_v, flickering.restarts()), (Some(6.5), 0));
        // It has started again with the first reading of a run that lasts, and what comes then is another stop.
        rows.extend([
            good(10.0, 6.9),
            good(11.0, 6.9),
            good(12.0, 6.9),
            silent(13.0),
        ]);
        let again = events(&rows);
        let stops = &again.stops().entries;
        assert_eq!(
            (stops[0].to_s, stops[0].restart_row),
            (Some(10.0), Some(10))
        );
        assert_eq!(
            (stops[1].from_s, stops[1].battery_from_v),
            (13.0, Some(6.9))
        );
        assert_eq!((stops.len(), again.restarts()), (2, 1));
    }

    #[test]
    fn a_fast_flicker_is_no_restart_however_many_readings_it_has() {
        let mut rows = vec![good(0.0, 7.0), fault(1.0, Status::NoSignal, "")];
        rows.extend((0..150).map(|i| good(2.0 + 0.01 * f64::from(i), 7.0)));
        rows.push(fault(3.6, Status::NoSignal, ""));
        assert_eq!(events(&rows).stops().count(), 1);
        rows.truncate(152);
        rows.extend([good(4.1, 7.0), fault(4.2, Status::NoSignal, "")]);
        assert_eq!(events(&rows).stops().count(), 2);
    }

    #[test]
    fn doubts_of_row_after_row_are_one_and_each_channel_has_its_own() {
        let doubted = |at_s, status, note: &str| Row {
            note: note.to_owned(),
            ..row("scope", at_s, Some(6e6), Some(9.0), status)
        };
        let hung = "frequency_hz: the same 10 times in a row";
        let events = events(&[
            good(0.0, 9.0),
            doubted(1.0, Status::Stale, hung),
            doubted(2.0, Status::Stale, hung),
            good(3.0, 9.0),
            doubted(4.0, Status::Suspect, "battery_v: 0.91 V after 9.00 V"),
            doubted(5.0, Status::Stale, hung),
        ]);
        let found: Vec<_> = events
            .doubts()
            .entries
            .iter()
            .map(|doubt| (doubt.channel, doubt.status, doubt.rows, doubt.readings))
            .collect();
        assert_eq!(
            found,
            [
                (Channel::FrequencyHz, Status::Stale, (2, 3), 2),
                (Channel::BatteryV, Status::Suspect, (5, 5), 1),
                (Channel::FrequencyHz, Status::Stale, (6, 6), 1),
            ]
        );
        assert_eq!(events.doubts().entries[0].why, "the same 10 times in a row");
        assert_eq!((events.outages().count(), events.stops().count()), (0, 0));
    }

    #[test]
    fn a_loose_lead_fills_no_memory_and_is_counted_whole() {
        let mut events = Events::default();
        for i in 0..5000 {
            let at_s = f64::from(i) * 10.0;
            let runs = [1.0, 2.0, 3.0].map(|later_s| good(at_s + later_s, 9.0));
            events.push(&runs);
            events.push(&[fault(at_s + 4.0, Status::NoSignal, "")]);
        }
        assert_eq!(events.stops().entries.len(), KEPT);
        assert_eq!((events.stops().count(), events.restarts()), (5000, 4999));
    }
}
