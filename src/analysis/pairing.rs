//! Frequency and battery voltage from different instruments, joined by nearness in time.

use std::collections::VecDeque;
use std::fmt;
use std::sync::Arc;

use crate::reading::{Channel, Chunk, Row, Stamp, Status};
use crate::units::{self, Unit};

use super::statistics::median::Median;

/// Readings of frequency that wait for the next voltage, at the most; the oldest then takes the voltage before it.
const WAITING: usize = 65_536;
/// Voltages are never taken from farther away than this or two of the slower interval, whichever is more.
const LEAST_WINDOW_S: f64 = 1.0;
/// A pause of more than this many usual intervals is a break, whether or not a row says so. Chosen: well beyond jitter.
const BREAK_INTERVALS: f64 = 5.0;

/// A good frequency reading with the battery voltage nearest to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Paired {
    /// When the frequency was read.
    pub stamp: Stamp,
    /// Number of its row, the first of the session being 1.
    pub row: u64,
    /// Frequency, in hertz.
    pub frequency_hz: f64,
    /// Battery voltage, in volts; `None` when none was read near enough.
    pub battery_v: Option<f64>,
    /// Whether it follows the reading before it or begins an unbroken stretch.
    pub place: Place,
}

/// Where a reading stands in its stretch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// Something was missing before it.
    Begins,
    /// It follows the one before it.
    Follows,
}

/// How the pairs were made, for the foot of every result.
#[derive(Debug, Clone, PartialEq)]
pub struct PairingRule {
    /// The instrument whose frequency is used: the first that read one, unless one was chosen.
    pub frequency_source: Option<Arc<str>>,
    /// The instrument whose battery voltage is used, likewise.
    pub voltage_source: Option<Arc<str>>,
    /// How far apart the two may be, in seconds, by the intervals seen so far.
    pub window_s: f64,
}

impl fmt::Display for PairingRule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (&self.frequency_source, &self.voltage_source) {
            (None, _) => f.write_str("no frequency was read"),
            (Some(frequency), None) => {
                write!(f, "frequency of {frequency}; no battery voltage was read")
            }
            (Some(frequency), Some(voltage)) if frequency == voltage => {
                write!(
                    f,
                    "frequency and battery voltage of {frequency}, read together"
                )
            }
            (Some(frequency), Some(voltage)) => write!(
                f,
                "frequency of {frequency} with the battery voltage of {voltage} nearest in time, within {}",
                units::rounded(self.window_s, Unit::Second, 2)
            ),
        }
    }
}

/// One channel of one instrument and the rhythm it is read in.
#[derive(Debug, Clone, Default)]
struct Voice {
    source: Option<Arc<str>>,
    last: Option<Stamp>,
    interval_s: Median,
}

impl Voice {
    /// Whether the row is of this instrument; the first asked about becomes it.
    fn adopts(&mut self, row: &Row) -> bool {
        **self.source.get_or_insert_with(|| Arc::clone(&row.source)) == *row.source
    }

    /// Notes a reading and says whether it follows the one before it in the usual rhythm.
    fn heard(&mut self, stamp: Stamp) -> Place {
        let usual_s = self.interval_s.value();
        let Some(last) = self.last.replace(stamp) else {
            return Place::Begins;
        };
        let pause_s = stamp.elapsed_s() - last.elapsed_s();
        self.interval_s.push(pause_s);
        if usual_s.is_some_and(|usual_s| pause_s > BREAK_INTERVALS * usual_s) {
            Place::Begins
        } else {
            Place::Follows
        }
    }
}

/// Pairs rows as they come.
///
/// A row that has both values is its own pair. Else a frequency waits for the next voltage. It takes the nearer of that and the
/// one before it, if within two of the slower median interval or 1 s. Readings of a second counter are left out: two instruments'
/// errors would look like noise of the coil.
#[derive(Debug, Clone, Default)]
pub struct Pairing {
    frequency: Voice,
    voltage: Voice,
    last_voltage: Option<(Stamp, f64)>,
    waiting: VecDeque<Paired>,
    broken: bool,
    /// Rows taken in.
    rows: u64,
}

impl Pairing {
    /// Pairs the first instrument that reads a frequency with the first that reads a battery voltage.
    pub fn new() -> Self {
        Self::default()
    }

    /// Pairs the instruments named; `None` takes the first that reads.
    pub fn of(frequency: Option<Arc<str>>, voltage: Option<Arc<str>>) -> Self {
        let mut pairing = Self::default();
        pairing.frequency.source = frequency;
        pairing.voltage.source = voltage;
        pairing
    }

    /// Takes rows in and hands each pair out once it is settled, in the order of time.
    pub fn push(&mut self, rows: &Chunk, each: &mut impl FnMut(Paired)) {
        for row in rows {
            self.rows += 1;
            if let Some(volts) = row.battery_v()
                && self.voltage.adopts(row)
            {
                self.voltage.heard(row.stamp);
                let next = (row.stamp, volts);
                while let Some(paired) = self.waiting.pop_front() {
                    each(self.settled(paired, Some(next)));
                }
                self.last_voltage = Some(next);
            }
            self.push_frequency(row, each);
        }
    }

    fn push_frequency(&mut self, row: &Row, each: &mut impl FnMut(Paired)) {
        let Some(frequency_hz) = row.good(Channel::FrequencyHz) else {
            let ours = self.frequency.source.as_ref() == Some(&row.source);
            // The session's own time is monotonic: a moved wall clock breaks nothing.
            self.broken |= ours && row.status != Status::ClockStep && is_frequency_missing(row);
            return;
        };
        if !self.frequency.adopts(row) {
            return;
        }
        let rhythm = self.frequency.heard(row.stamp);
        let paired = Paired {
            stamp: row.stamp,
            row: self.rows,
            frequency_hz,
            battery_v: row.battery_v(),
            place: if self.broken { Place::Begins } else { rhythm },
        };
        self.broken = false;
        if self.waiting.is_empty() && paired.battery_v.is_some() {
            each(paired);
            return;
        }
        self.waiting.push_back(paired);
        if self.waiting.len() > WAITING
            && let Some(oldest) = self.waiting.pop_front()
        {
            each(self.settled(oldest, None));
        }
    }

    /// Gives a waiting reading the nearer of the voltages before and after it.
    fn settled(&self, paired: Paired, next: Option<(Stamp, f64)>) -> Paired {
        let away = |at: Stamp| (at.elapsed_us - paired.stamp.elapsed_us).abs();
        let nearest = self
            .last_voltage
            .into_iter()
            .chain(next)
            .min_by_key(|&(at, _)| away(at))
            .filter(|&(at, _)| away(at) as f64 / 1e6 <= self.window_s());
        Paired {
            battery_v: paired.battery_v.or_else(|| nearest.map(|(_, volts)| volts)),
            ..paired
        }
    }

    fn window_s(&self) -> f64 {
        let interval = |voice: &Voice| voice.interval_s.value().unwrap_or(0.0);
        let slower = interval(&self.frequency).max(interval(&self.voltage));
        (2.0 * slower).max(LEAST_WINDOW_S)
    }

    /// Returns the pairs still waiting, as they are if no further voltage comes.
    pub fn rest(&self) -> impl Iterator<Item = Paired> {
        self.waiting
            .iter()
            .map(|&paired| self.settled(paired, None))
    }

    /// Returns the median interval of the frequency readings, in seconds; `None` below two readings.
    pub fn interval_s(&self) -> Option<f64> {
        self.frequency.interval_s.value()
    }

    /// Returns the instrument whose battery voltage is used, once one has read it.
    pub fn voltage_source(&self) -> Option<&str> {
        self.voltage.source.as_deref()
    }

    /// Returns how the pairs were made.
    pub fn rule(&self) -> PairingRule {
        PairingRule {
            frequency_source: self.frequency.source.clone(),
            voltage_source: self.voltage.source.clone(),
            window_s: self.window_s(),
        }
    }
}

/// A row that reads only other channels says nothing of the frequency; one with a fault or nothing in it does. One that is
/// doubted was read in its turn: whether it leaves a hole is for the rhythm to say.
fn is_frequency_missing(row: &Row) -> bool {
    match row.status {
        Status::Ok => row.readings.is_empty(),
        Status::Stale | Status::Suspect => false,
        _ => true,
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::row;
    use super::Place::{Begins, Follows};
    use super::*;
    use proptest::prelude::*;

    fn pairs(rows: &Chunk) -> Vec<(f64, f64, Option<f64>, Place)> {
        let (mut pairing, mut out) = (Pairing::new(), Vec::new());
        // One row at a time, as live rows come.
        for one in rows.chunks(1) {
            pairing.push(one, &mut |paired| out.push(paired));
        }
        out.extend(pairing.rest());
        out.iter()
            .map(|p| (p.stamp.elapsed_s(), p.frequency_hz, p.battery_v, p.place))
            .collect()
    }

    fn frequency(at_s: f64, hz: f64) -> Row {
        row("counter", at_s, Some(hz), None, Status::Ok)
    }

    fn voltage(at_s: f64, volts: f64) -> Row {
        row("meter", at_s, None, Some(volts), Status::Ok)
    }

    #[test]
    fn a_row_with_both_values_is_its_own_pair() {
        let rows = [
            row("scope", 0.0, Some(5e6), Some(9.0), Status::Ok),
            row("scope", 1.0, Some(6e6), Some(8.9), Status::Ok),
        ];
        assert_eq!(
            pairs(&rows),
            [
                (0.0, 5e6, Some(9.0), Begins),
                (1.0, 6e6, Some(8.9), Follows)
            ]
        );
    }

    #[test]
    fn a_frequency_takes_the_nearer_voltage_and_a_tie_the_earlier() {
        let rows = [
            voltage(0.0, 9.0),
            frequency(0.4, 1.0),
            frequency(0.5, 2.0),
            frequency(0.6, 3.0),
            voltage(1.0, 8.0),
            frequency(1.1, 4.0),
        ];
        let volts: Vec<_> = pairs(&rows).iter().map(|pair| pair.2).collect();
        assert_eq!(volts, [Some(9.0), Some(9.0), Some(8.0), Some(8.0)]);
    }

    #[test]
    fn a_voltage_beyond_the_window_is_not_taken() {
        let rows = [
            voltage(0.0, 9.0),
            frequency(0.9, 1.0),
            frequency(1.1, 2.0),
            frequency(1.2, 3.0),
        ];
        let volts: Vec<_> = pairs(&rows).iter().map(|pair| pair.2).collect();
        assert_eq!(volts, [Some(9.0), None, None], "the window is 1 s here");
    }

    #[test]
    fn a_slow_voltmeter_opens_the_window_to_two_of_its_intervals() {
        let mut rows = vec![voltage(0.0, 9.0)];
        rows.extend((1..10).map(|i| frequency(f64::from(i), 1.0)));
        rows.push(voltage(10.0, 8.0));
        let pairs = pairs(&rows);
        assert_eq!((pairs[4].2, pairs[5].2), (Some(9.0), Some(8.0)));
    }

    #[test]
    fn a_fault_of_the_counter_breaks_the_stretch_and_another_instruments_does_not() {
        let rows = [
            frequency(0.0, 1.0),
            frequency(1.0, 2.0),
            row("meter", 1.5, None, None, Status::Silent),
            frequency(2.0, 3.0),
            row("counter", 3.0, None, None, Status::NoSignal),
            frequency(4.0, 4.0),
        ];
        let places: Vec<_> = pairs(&rows).iter().map(|pair| pair.3).collect();
        assert_eq!(places, [Begins, Follows, Follows, Begins]);
    }

    #[test]
    fn a_doubted_row_is_left_out_and_breaks_no_stretch_and_a_doubt_of_the_battery_leaves_the_frequency()
     {
        let doubted = |at_s: f64, note: &str| Row {
            note: crate::reading::Note::read(note),
            ..row("scope", at_s, Some(6e6), Some(0.91), Status::Suspect)
        };
        let good = |at_s| row("scope", at_s, Some(6e6), Some(9.0), Status::Ok);
        let rows = [
            good(0.0),
            good(1.0),
            doubted(2.0, "frequency_hz: 6 MHz after 3 MHz"),
            good(3.0),
            doubted(3.4, "battery_v: 0.91 V after 9 V"),
            good(5.0),
        ];
        assert_eq!(
            pairs(&rows),
            [
                (0.0, 6e6, Some(9.0), Begins),
                (1.0, 6e6, Some(9.0), Follows),
                (3.0, 6e6, Some(9.0), Follows),
                // Its own voltage is not taken; the good one 0.4 s before it is.
                (3.4, 6e6, Some(9.0), Follows),
                (5.0, 6e6, Some(9.0), Follows),
            ]
        );
    }

    #[test]
    fn a_pause_that_no_row_explains_breaks_the_stretch_too() {
        let rows = [0.0, 1.0, 2.0, 60.0, 61.0].map(|at_s| frequency(at_s, 1.0));
        let places: Vec<_> = pairs(&rows).iter().map(|pair| pair.3).collect();
        assert_eq!(places, [Begins, Follows, Follows, Begins, Follows]);
    }

    #[test]
    fn a_second_counter_is_left_out() {
        let rows = [
            frequency(0.0, 1.0),
            row("other", 0.1, Some(7.0), None, Status::Ok),
        ];
        assert_eq!(pairs(&rows).len(), 1);
    }

    #[test]
    fn each_pair_has_the_number_of_its_row() {
        let (mut pairing, mut numbers) = (Pairing::new(), Vec::new());
        let rows = [
            frequency(0.0, 1.0),
            voltage(0.1, 9.0),
            frequency(1.0, 2.0),
            voltage(1.1, 9.0),
        ];
        for one in rows.chunks(1) {
            pairing.push(one, &mut |paired| numbers.push(paired.row));
        }
        assert_eq!(numbers, [1, 3]);
    }

    #[test]
    fn the_rule_says_what_was_joined() {
        let mut pairing = Pairing::new();
        let rule = |pairing: &Pairing| pairing.rule().to_string();
        insta::assert_snapshot!(rule(&pairing), @"no frequency was read");
        pairing.push(&[frequency(0.0, 1.0)], &mut |_| ());
        insta::assert_snapshot!(rule(&pairing), @"frequency of counter; no battery voltage was read");
        pairing.push(&[voltage(0.1, 9.0)], &mut |_| ());
        insta::assert_snapshot!(rule(&pairing),
            @"frequency of counter with the battery voltage of meter nearest in time, within 1.0 s");
    }

    #[test]
    fn readings_that_wait_for_a_voltage_are_bounded() {
        let (mut pairing, mut out) = (Pairing::new(), 0);
        for i in 0..70_000 {
            pairing.push(&[frequency(f64::from(i), 1.0)], &mut |_| out += 1);
        }
        assert_eq!(pairing.rest().count(), WAITING);
        assert_eq!(out + WAITING, 70_000);
    }

    proptest! {
        #[test]
        fn pairing_as_rows_come_is_pairing_with_all_rows_at_hand(
            steps in prop::collection::vec((1..2_000_i32, any::<bool>()), 1..200)
        ) {
            // Steps of at most 2 ms between rows keep every interval short, so that the window is 1 s throughout.
            let mut at_us = 0;
            let rows: Vec<Row> = steps
                .iter()
                .enumerate()
                .map(|(i, &(step, is_voltage))| {
                    at_us += step;
                    let (at_s, value) = (f64::from(at_us) / 1e6, i as f64);
                    if is_voltage { voltage(at_s, value) } else { frequency(at_s, value) }
                })
                .collect();
            let nearest = |at: Stamp| {
                let volts = rows.iter().filter(|row| &*row.source == "meter");
                volts.min_by_key(|row| (row.stamp.elapsed_us - at.elapsed_us).abs())
            };
            let wanted: Vec<_> = rows
                .iter()
                .filter(|row| &*row.source == "counter")
                .map(|row| nearest(row.stamp).and_then(Row::battery_v))
                .collect();
            let got: Vec<_> = pairs(&rows).iter().map(|pair| pair.2).collect();
            prop_assert_eq!(got, wanted);
        }
    }
}
