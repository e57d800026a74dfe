//! What broke the run: the coil stopped and started again, or data are missing. Two different things, two lists.

use std::sync::Arc;

use crate::reading::{Channel, Chunk, Row, Status};

/// Entries kept in each list; what comes after is counted. A loose lead can make thousands.
const KEPT: usize = 4096;

/// The coil was silent while the instrument answered.
#[derive(Debug, Clone, PartialEq)]
pub struct Stop {
    /// The instrument that saw it.
    pub source: Arc<str>,
    /// First row without a signal, in seconds since the session began.
    pub from_s: f64,
    /// First good frequency after it, in seconds; `None` if none came.
    pub to_s: Option<f64>,
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
}

/// Collects stops and missing data.
#[derive(Debug, Clone, Default)]
pub struct Events {
    stops: Kept<Stop>,
    outages: Kept<Outage>,
    restarts: usize,
    watches: Vec<Watch>,
    battery_v: Option<f64>,
}

impl Events {
    /// Takes rows in, in the order of their time.
    pub fn push(&mut self, rows: &Chunk) {
        for row in rows {
            let at = self.watch_of(row);
            self.outage(at, row);
            let volts = super::battery_v(row).or(self.battery_v);
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
                });
            }
            (running, true) => {
                if let Some(outage) = self.outages.at(running)
                    && row.status < outage.status
                {
                    outage.status = row.status;
                    outage.reason.clone_from(&row.note);
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

    fn stop(&mut self, at: usize, row: &Row) {
        let Some(watch) = self.watches.get_mut(at) else {
            return;
        };
        let at_s = row.stamp.elapsed_s();
        match watch.stop {
            // Before it was first switched on a coil is silent without having stopped.
            Running::No if row.status == Status::NoSignal && watch.has_started => {
                watch.stop = self.stops.add(Stop {
                    source: Arc::clone(&row.source),
                    from_s: at_s,
                    to_s: None,
                    battery_from_v: self.battery_v,
                    battery_to_v: None,
                });
            }
            Running::No => {}
            running if row.good(Channel::FrequencyHz).is_some() => {
                watch.stop = Running::No;
                self.restarts += 1;
                if let Some(stop) = self.stops.at(running) {
                    stop.to_s = Some(at_s);
                    stop.battery_to_v = self.battery_v;
                }
            }
            _ => {}
        }
        watch.has_started |= row.good(Channel::FrequencyHz).is_some();
    }

    /// Stops of the coil, by the instrument that saw them.
    pub fn stops(&self) -> &Kept<Stop> {
        &self.stops
    }

    /// Times without data, by instrument.
    pub fn outages(&self) -> &Kept<Outage> {
        &self.outages
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
    fn a_loose_lead_fills_no_memory_and_is_counted_whole() {
        let mut events = Events::default();
        for i in 0..5000 {
            let at_s = f64::from(i);
            events.push(&[good(at_s, 9.0), fault(at_s + 0.5, Status::NoSignal, "")]);
        }
        assert_eq!(events.stops().entries.len(), KEPT);
        assert_eq!((events.stops().count(), events.restarts()), (5000, 4999));
    }
}
