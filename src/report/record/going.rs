//! How a recording goes, in one line.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

use crate::reading::{Channel, Chunk, Readings, Status};
use crate::units;

/// How a recording goes.
#[derive(Debug, Default)]
pub struct Going {
    rows: u64,
    elapsed_s: f64,
    /// The newest value of each channel, and the newest status of each instrument.
    values: Readings,
    states: BTreeMap<Arc<str>, Status>,
    /// Rows whose readings were doubted.
    suspect: u64,
    stale: u64,
    /// How long the battery lasts, in words; empty where that is not asked.
    left: String,
}

impl Going {
    /// Takes rows that were written.
    pub fn push(&mut self, rows: &Chunk) {
        for row in rows {
            self.rows += 1;
            self.elapsed_s = self.elapsed_s.max(row.stamp.elapsed_s());
            match self.states.get_mut(&row.source) {
                Some(state) => *state = row.status,
                None => drop(self.states.insert(Arc::clone(&row.source), row.status)),
            }
            self.suspect += u64::from(row.status == Status::Suspect);
            self.stale += u64::from(row.status == Status::Stale);
            for channel in Channel::ALL {
                match row.readings.get(channel) {
                    Some(value) => self.values.set(channel, value),
                    // A silent coil has no frequency, and an old one must not stand for it.
                    None if row.status == Status::NoSignal && channel == Channel::FrequencyHz => {
                        self.values.clear(channel);
                    }
                    None => {}
                }
            }
        }
    }

    /// Takes how long the battery lasts, in words.
    pub fn left(&mut self, words: String) {
        self.left = words;
    }

    /// Returns the line. One that is wider than `width` loses the least needed parts first, and never the time left.
    pub fn line(&self, width: usize) -> String {
        let parts = self.parts();
        let mut order: Vec<usize> = (0..parts.len()).collect();
        // Those alike come in their order.
        order.sort_by_key(|&index| parts.get(index).map(|(need, _)| std::cmp::Reverse(*need)));
        let mut kept = vec![false; parts.len()];
        let mut columns = 0;
        for index in order {
            let Some((need, words)) = parts.get(index) else {
                continue;
            };
            let more = words.chars().count() + if columns == 0 { 0 } else { GAP.len() };
            if *need == Need::Left || columns == 0 || columns + more <= width {
                columns += more;
                if let Some(keep) = kept.get_mut(index) {
                    *keep = true;
                }
            }
        }
        let parts = parts.into_iter().zip(kept).filter(|(_, keep)| *keep);
        let words: Vec<String> = parts.map(|((_, words), _)| words).collect();
        words.join(GAP)
    }

    fn parts(&self) -> Vec<(Need, String)> {
        let mut parts = vec![
            (Need::Clock, clock_face(self.elapsed_s)),
            (Need::Rows, format!("{} rows", self.rows)),
        ];
        for channel in Channel::ALL {
            let (digits, need) = match channel {
                Channel::FrequencyHz => (7, Need::Reading),
                Channel::BatteryV => (4, Need::Reading),
                _ => (4, Need::OtherReading),
            };
            let shown = |value| (need, units::rounded(value, channel.unit(), digits));
            parts.extend(self.values.get(channel).map(shown));
        }
        parts.extend((!self.left.is_empty()).then(|| (Need::Left, self.left.clone())));
        let states = self.states.iter();
        let odd = states.filter(|(_, status)| **status != Status::Ok);
        parts.extend(odd.map(|(source, status)| (Need::State, format!("{source}: {status}"))));
        for (count, word) in [(self.suspect, "suspect"), (self.stale, "stale")] {
            parts.extend((count > 0).then(|| (Need::Doubts, format!("{count} {word}"))));
        }
        parts
    }
}

/// The gap between parts of the line.
const GAP: &str = "  ";

/// How much a part of the line is needed, the least first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Need {
    Rows,
    Doubts,
    OtherReading,
    Clock,
    State,
    Reading,
    Left,
}

/// Elapsed time as `h:mm:ss`.
fn clock_face(elapsed_s: f64) -> String {
    let whole = Duration::from_secs_f64(elapsed_s.max(0.0)).as_secs();
    format!("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_says_what_a_person_at_the_bench_wants() {
        let mut values = Readings::default();
        values.set(Channel::BatteryV, 8.9123);
        values.set(Channel::FrequencyHz, 6_231_234.5);
        let states = BTreeMap::from([
            (Arc::from("counter"), Status::Ok),
            (Arc::from("meter"), Status::Silent),
        ]);
        let mut going = Going {
            rows: 731,
            elapsed_s: 3751.2,
            values,
            states,
            ..Going::default()
        };
        insta::assert_snapshot!(going.line(100),
            @"1:02:31  731 rows  6.231234 MHz  8.912 V  meter: silent");
        (going.suspect, going.stale) = (2, 15);
        insta::assert_snapshot!(going.line(100),
            @"1:02:31  731 rows  6.231234 MHz  8.912 V  meter: silent  2 suspect  15 stale");
        (going.suspect, going.stale) = (0, 0);
        going.left("12 to 19 min left, middle 15 min".to_owned());
        insta::assert_snapshot!(going.line(100),
            @"1:02:31  731 rows  6.231234 MHz  8.912 V  12 to 19 min left, middle 15 min  meter: silent");
        going.stale = 15;
        for (width, line) in [
            (
                80,
                "1:02:31  6.231234 MHz  8.912 V  12 to 19 min left, middle 15 min  meter: silent",
            ),
            (
                60,
                "6.231234 MHz  8.912 V  12 to 19 min left, middle 15 min",
            ),
            (41, "8.912 V  12 to 19 min left, middle 15 min"),
            (10, "12 to 19 min left, middle 15 min"),
        ] {
            assert_eq!(going.line(width), line);
        }
    }
}
