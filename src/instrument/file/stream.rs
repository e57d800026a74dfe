//! The keys of `[lines]` for bookkeeping: a first field, a counter of lines, the board's clock.
//!
//! A file with any fault gives no profile, so a faulty key may stand as if it were not there.

use crate::faults::{Entry, Table};
use crate::instrument::file::keys::{usual, whole};
use crate::instrument::line::stream::{ClockRule, CounterRule, Spot, Stream};
use crate::units::Unit;

/// The way a field of the bookkeeping is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::instrument) enum SpotKind {
    /// The value is known by its name.
    Name,
    /// The value is known by its column.
    Column,
}

/// A board's clock counts in 32 bits, unless the profile says otherwise.
const CLOCK_WRAPS: u64 = 1 << 32;

/// The most that a counter may count to.
const MOST: i64 = 1 << 53;

/// Reads the keys of the bookkeeping.
pub(in crate::instrument) fn stream(table: &Table<'_>, kind: SpotKind) -> Stream {
    let first = table.entry("first").and_then(|entry| {
        let text = entry.text()?;
        if text.is_empty() || text.contains([' ', '\t']) {
            entry.fault("expected the text of the first field, without blanks");
        }
        Some(text.to_owned())
    });
    Stream {
        first,
        counter: counter(table, kind),
        clock: clock(table, kind),
    }
}

fn counter(table: &Table<'_>, kind: SpotKind) -> Option<CounterRule> {
    let entry = table.entry("counter");
    let wraps = table
        .entry("counter_wraps")
        .and_then(|entry| whole(&entry, 2, MOST));
    if entry.is_none() && wraps.is_some() {
        alone(table, "counter_wraps", "counter");
    }
    let spot = spot(&entry?, kind)?;
    Some(CounterRule { spot, wraps })
}

fn clock(table: &Table<'_>, kind: SpotKind) -> Option<ClockRule> {
    let entry = table.entry("clock");
    let tick = table.entry("clock_tick");
    let wraps = usual(Some(table), "clock_wraps", CLOCK_WRAPS, |entry| {
        whole(entry, 2, MOST)
    });
    if entry.is_none() && tick.is_some() {
        alone(table, "clock_tick", "clock");
    }
    let spot = spot(&entry?, kind);
    let Some(tick) = tick else {
        table.fault(
            "clock without clock_tick",
            "expected the time of one tick, such as clock_tick = \"1 us\"",
        );
        return None;
    };
    let tick_s = tick.quantity(Unit::Second, 1e-9..=1.0);
    Some(ClockRule {
        spot: spot?,
        tick_s: tick_s?,
        wraps: wraps?,
    })
}

/// A key that means nothing without another is a fault.
fn alone(table: &Table<'_>, key: &str, other: &str) {
    table.fault(
        &format!("{key} without {other}"),
        &format!("{other} says which field it is about"),
    );
}

fn spot(entry: &Entry<'_>, kind: SpotKind) -> Option<Spot> {
    match kind {
        SpotKind::Name => entry.text().map(|name| Spot::Named(name.to_owned())),
        SpotKind::Column => whole(entry, 1, 1000).map(Spot::Column),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instrument::Profile;

    fn profile(lines: &str, place: &str) -> Result<Profile, crate::faults::Faults> {
        let text = format!(
            "schema = 1\nname = \"m\"\nabout = \"a board\"\nmanner = \"unasked\"\n[lines]\n{lines}\n[[value]]\nchannel = \"battery_v\"\n{place}\n"
        );
        Profile::parse("m", &text)
    }

    #[test]
    fn the_keys_of_the_bookkeeping_are_read() {
        let lines = "layout = \"fields\"\nfirst = \"$FV\"\ncounter = \"n\"\ncounter_wraps = 65536\nclock = \"us\"\nclock_tick = \"1 us\"";
        let stream = profile(lines, "name = \"v\"").unwrap().stream;
        let want = Stream {
            first: Some("$FV".to_owned()),
            counter: Some(CounterRule {
                spot: Spot::Named("n".to_owned()),
                wraps: Some(65_536),
            }),
            clock: Some(ClockRule {
                spot: Spot::Named("us".to_owned()),
                tick_s: 1e-6,
                wraps: 1 << 32,
            }),
        };
        assert_eq!(stream, want);
    }

    #[test]
    fn keys_that_mean_nothing_alone_are_faults() {
        let lines = "layout = \"columns\"\ncounter = \"n\"\ncounter_wraps = 1\nclock_tick = \"1 us\"\nfirst = \"\"";
        let place = "position = 2\nunit = \"kV\"";
        insta::assert_snapshot!(profile(lines, place).unwrap_err(), @r#"
        line 5: lines: clock_tick without clock: clock says which field it is about
        line 7: lines.counter: found "n": expected a whole number from 1 to 1000
        line 8: lines.counter_wraps: found 1: expected a whole number from 2 to 9007199254740992
        line 10: lines.first: found "": expected the text of the first field, without blanks
        line 14: value[1].unit: found "kV": expected a unit of battery_v, such as "V"
        "#);
    }
}
