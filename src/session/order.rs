//! Rows of several instruments in the order of time.
//!
//! A row is written once it is whole, and has the time of its answer's first byte. So the row of a scope that sends a block for
//! eight seconds stands behind those that a counter gave meanwhile. Each instrument's own rows rise, so that they can be merged.
//! The earliest of the instruments' next rows is taken once each has one, or once no awaited row can be earlier. The wait has a
//! limit.

use std::collections::VecDeque;
use std::sync::Arc;

use crate::reading::Row;

/// The most rows that are held back while one instrument has none, as when its line is lost: a minute of a thousand per second.
const MOST_HELD: usize = 65_536;

/// Merges the rows of several instruments.
#[derive(Debug, Default)]
pub(super) struct Order {
    lanes: Vec<Lane>,
    held: usize,
    taken: u64,
    /// No more rows come.
    is_over: bool,
}

/// The rows of one instrument that wait, each with its place among all.
#[derive(Debug)]
struct Lane {
    source: Arc<str>,
    rows: VecDeque<(u64, Row)>,
}

impl Order {
    /// Awaits rows of these instruments, and of any others that have some.
    pub(super) fn of(sources: impl Iterator<Item = Arc<str>>) -> Self {
        let lane = |source| Lane {
            source,
            rows: VecDeque::new(),
        };
        Self {
            lanes: sources.map(lane).collect(),
            ..Self::default()
        }
    }

    /// Takes a row in.
    pub(super) fn push(&mut self, row: Row) {
        self.held += 1;
        self.taken += 1;
        let next = (self.taken, row);
        let lane = self
            .lanes
            .iter_mut()
            .find(|lane| lane.source == next.1.source);
        if let Some(lane) = lane {
            lane.rows.push_back(next);
        } else {
            self.lanes.push(Lane {
                source: Arc::clone(&next.1.source),
                rows: VecDeque::from([next]),
            });
        }
    }

    /// No more rows come: those that are held need wait for none.
    pub(super) fn end(&mut self) {
        self.is_over = true;
    }

    /// The earliest row, once that is known; `None` while another may be earlier.
    pub(super) fn pop(&mut self) -> Option<Row> {
        let is_known = self.is_over
            || self.held > MOST_HELD
            || self.lanes.iter().all(|lane| !lane.rows.is_empty());
        if !is_known {
            return None;
        }
        let time = |lane: &&mut Lane| {
            let next = lane.rows.front();
            // Rows of one moment stay in the order in which they were written.
            next.map(|(place, row)| (row.stamp.elapsed_us, *place))
        };
        let earliest = self
            .lanes
            .iter_mut()
            .filter(|lane| !lane.rows.is_empty())
            .min_by_key(time)?;
        let (_, row) = earliest.rows.pop_front()?;
        self.held -= 1;
        Some(row)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::{Note, Readings, Stamp, Status};

    fn row(source: &str, elapsed_us: i64) -> Row {
        Row {
            stamp: Stamp {
                elapsed_us,
                wall_ms: 0,
            },
            source: Arc::from(source),
            readings: Readings::default(),
            status: Status::Ok,
            note: Note::default(),
        }
    }

    fn times(order: &mut Order) -> Vec<i64> {
        std::iter::from_fn(|| order.pop())
            .map(|row| row.stamp.elapsed_us)
            .collect()
    }

    #[test]
    fn a_row_that_was_whole_late_stands_where_its_time_is() {
        let mut order = Order::of(["counter", "scope"].map(Arc::from).into_iter());
        for at in [1, 3, 5] {
            order.push(row("counter", at));
        }
        // The scope's may be earlier than any of them.
        assert!(times(&mut order).is_empty());
        order.push(row("scope", 2));
        assert_eq!(times(&mut order), [1, 2]);
        order.push(row("scope", 5));
        assert_eq!(times(&mut order), [3, 5]);
        order.push(row("counter", 7));
        assert_eq!(times(&mut order), [5]);
        order.end();
        assert_eq!(times(&mut order), [7]);
    }

    #[test]
    fn one_that_has_no_rows_holds_the_others_up_no_longer_than_the_memory_for_it() {
        let mut order = Order::of(["counter", "scope"].map(Arc::from).into_iter());
        let mut given = 0;
        for at in 0..200_000 {
            order.push(row("counter", at));
            while let Some(row) = order.pop() {
                assert_eq!(row.stamp.elapsed_us, given);
                given += 1;
            }
            assert!(order.held <= MOST_HELD);
        }
        assert_eq!(given, 200_000 - i64::try_from(MOST_HELD).unwrap());
    }
}
