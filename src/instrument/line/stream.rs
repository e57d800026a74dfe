//! Bookkeeping in lines that come unasked: a first field that is always the same, a counter of lines, the board's clock.

use crate::instrument::line::field::Field;

/// The place of a number of the bookkeeping.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Spot {
    /// Behind this name, or in the column of this name.
    Named(String),
    /// It is in this column, counted from 1.
    Column(usize),
}

/// A counter of lines.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CounterRule {
    /// Its place.
    pub spot: Spot,
    /// The number of values before it begins anew at 0; `None` if it never does.
    pub wraps: Option<u64>,
}

/// The board's own clock.
#[derive(Debug, Clone, PartialEq)]
pub struct ClockRule {
    /// Its place.
    pub spot: Spot,
    /// One tick, in seconds.
    pub tick_s: f64,
    /// The number of values before it begins anew at 0.
    pub wraps: u64,
}

/// The bookkeeping that the lines of an instrument have in common, whatever their layout.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Stream {
    /// The text that every line of readings begins with.
    pub first: Option<String>,
    /// A counter of lines.
    pub counter: Option<CounterRule>,
    /// The board's clock.
    pub clock: Option<ClockRule>,
}

impl Stream {
    /// Returns the text behind the first field; `None` for a line that begins otherwise.
    pub(in crate::instrument) fn behind_first<'l>(&self, line: &'l str) -> Option<&'l str> {
        let Some(first) = &self.first else {
            return Some(line);
        };
        let rest = line.strip_prefix(first.as_str())?;
        let is_whole = rest.is_empty() || rest.starts_with([' ', '\t', ',', ';', ':']);
        is_whole.then(|| rest.trim_start_matches([' ', '\t', ',', ';', ':']))
    }

    /// Whether a field is one of the bookkeeping.
    pub(in crate::instrument) fn has(&self, name: &str) -> bool {
        self.named().any(|own| own == name)
    }

    /// The names of the bookkeeping's fields.
    fn named(&self) -> impl Iterator<Item = &str> {
        let counter = self.counter.as_ref().map(|rule| &rule.spot);
        let clock = self.clock.as_ref().map(|rule| &rule.spot);
        counter
            .into_iter()
            .chain(clock)
            .filter_map(|spot| match spot {
                Spot::Named(name) => Some(name.as_str()),
                Spot::Column(_) => None,
            })
    }

    /// Returns the names for the bookkeeping that a line of names lacks, in words.
    pub(in crate::instrument) fn lacks(&self, names: &[String]) -> Option<String> {
        let has = |wanted: &str| names.iter().any(|name| name.eq_ignore_ascii_case(wanted));
        let lacking = self.named().find(|name| !has(name))?;
        Some(format!(
            "no column {lacking}: the line of names has {}",
            names.join(", ")
        ))
    }
}

impl Spot {
    /// The text that stands here in a line of fields.
    pub(in crate::instrument) fn in_fields<'l>(&self, fields: &[Field<'l>]) -> Option<&'l str> {
        let Self::Named(name) = self else { return None };
        let field = fields.iter().find(|field| field.name == name)?;
        Some(field.text)
    }

    /// The text that stands here in a line of columns with these names.
    pub(in crate::instrument) fn in_cells<'c>(
        &self,
        cells: &'c [String],
        names: &[String],
    ) -> Option<&'c str> {
        let index = match self {
            Self::Column(position) => position.checked_sub(1)?,
            Self::Named(name) => names
                .iter()
                .position(|own| own.eq_ignore_ascii_case(name))?,
        };
        cells.get(index).map(String::as_str)
    }
}

/// The ticks of a clock in millionths, since some boards print them with decimals, `12.5` or `12,5`.
pub(in crate::instrument) fn millionths(text: &str) -> Option<u64> {
    let (ticks, decimals) = text.split_once(['.', ',']).unwrap_or((text, ""));
    let decimals: String = decimals.chars().take(6).collect();
    let part = format!("{decimals:0<6}");
    whole(ticks)?
        .checked_mul(MILLION)?
        .checked_add(whole(&part)?)
}

/// Millionths in one.
const MILLION: u64 = 1_000_000;

pub(in crate::instrument) fn whole(text: &str) -> Option<u64> {
    let is_digits = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    text.parse().ok().filter(|_| is_digits)
}

/// The share of its values that a counter may run ahead through its end: fewer are lines lost. If it ran farther, it has begun
/// anew. Chosen.
const WRAP_SHARE: u64 = 16;
/// At least this number of values counts as passed over, however short the counter is. Chosen.
const WRAP_LEAST: u64 = 16;

/// The counter of lines as it has run so far.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(in crate::instrument) struct LineCount {
    last: Option<u64>,
    /// A step in a line that nothing proves; the next line shows whether the counter or only the line was wrong.
    doubtful: Option<(u64, u64)>,
}

impl LineCount {
    /// Takes the counter of a line, and returns a sentence about the lines before it if some are missing.
    pub(in crate::instrument) fn take(
        &mut self,
        count: u64,
        rule: &CounterRule,
        is_proven: bool,
    ) -> Option<String> {
        if rule.wraps.is_some_and(|wraps| count >= wraps) {
            return None;
        }
        let last = self.last.replace(count)?;
        if last == count {
            return None;
        }
        let doubtful = self.doubtful.take();
        let is_next = rule.ahead(last, count) == Some(1);
        match doubtful {
            // The line between had a damaged counter, or none was lost.
            Some((from, _)) if rule.ahead(from, count) == Some(2) => return None,
            Some((from, to)) if is_next => return Some(rule.missing(from, to)),
            _ => {}
        }
        let said = doubtful.map(|(from, to)| rule.missing(from, to));
        if is_next {
            return said;
        }
        if is_proven {
            return Some(rule.missing(last, count));
        }
        self.doubtful = Some((last, count));
        said
    }

    /// The board has begun anew, and so may its counter.
    pub(in crate::instrument) const fn forget(&mut self) {
        self.last = None;
        self.doubtful = None;
    }
}

impl CounterRule {
    /// Returns the number of lines from the one with counter `from` to that with `to`; `None` if the counter began anew.
    fn ahead(&self, from: u64, to: u64) -> Option<u64> {
        match (to.checked_sub(from), self.wraps) {
            (Some(ahead), _) => Some(ahead),
            (None, None) => None,
            (None, Some(wraps)) => {
                let ahead = wraps.checked_sub(from)?.checked_add(to)?;
                let most = (wraps / WRAP_SHARE).max(WRAP_LEAST).min(wraps / 2);
                Some(ahead).filter(|ahead| *ahead <= most)
            }
        }
    }

    fn missing(&self, from: u64, to: u64) -> String {
        match self.ahead(from, to) {
            Some(2) => format!("1 line missing: the line counter went from {from} to {to}"),
            Some(ahead) => format!(
                "{} lines missing: the line counter went from {from} to {to}",
                ahead.saturating_sub(1)
            ),
            None => {
                format!("lines may be missing: the line counter began anew, {to} came after {from}")
            }
        }
    }
}

/// Between two lines, a board's time may differ by this much from the computer's: bunches of lines come late. Chosen.
const LATE_S: f64 = 1.0;
/// It may differ by this share of the time between them, too: no board's clock is further off. Chosen.
const LATE_SHARE: f64 = 0.2;
/// After this number of lines whose clock does not go on, the board has begun anew. Chosen.
const ANEW: u32 = 3;

/// A board's clock as it has run so far.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(in crate::instrument) struct Ticks {
    /// Seconds since the session began, millionths of ticks, and the board's seconds since its first line.
    last: Option<(f64, u64, f64)>,
    odd: u32,
}

/// The board's time at a moment of this computer's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoardMoment {
    /// The board's seconds, counted from its first line.
    pub board_s: f64,
    /// The clock begins anew here.
    pub is_first: bool,
}

impl Ticks {
    /// Takes the clock of a line that came then; `None` where it does not go on from the one before.
    pub(in crate::instrument) fn take(
        &mut self,
        elapsed_s: f64,
        millionths: u64,
        rule: &ClockRule,
    ) -> Option<BoardMoment> {
        let (ticks, wraps) = (millionths, rule.wraps.saturating_mul(MILLION));
        if ticks >= wraps {
            return None;
        }
        if let Some((last_s, last_ticks, last_board_s)) = self.last {
            let passed = ticks.checked_sub(last_ticks);
            let passed = passed.unwrap_or_else(|| wraps - last_ticks + ticks);
            let (own_s, passed_s) = (
                passed as f64 * rule.tick_s / MILLION as f64,
                elapsed_s - last_s,
            );
            if (own_s - passed_s).abs() <= LATE_S + LATE_SHARE * passed_s {
                let board_s = last_board_s + own_s;
                self.last = Some((elapsed_s, ticks, board_s));
                self.odd = 0;
                return Some(BoardMoment {
                    board_s,
                    is_first: false,
                });
            }
            self.odd += 1;
            if self.odd < ANEW {
                return None;
            }
        }
        self.odd = 0;
        self.last = Some((elapsed_s, ticks, 0.0));
        Some(BoardMoment {
            board_s: 0.0,
            is_first: true,
        })
    }

    /// The board has begun anew, and so has its clock.
    pub(in crate::instrument) const fn forget(&mut self) {
        self.last = None;
        self.odd = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counter(wraps: Option<u64>) -> CounterRule {
        CounterRule {
            spot: Spot::Named("n".to_owned()),
            wraps,
        }
    }

    fn said(rule: &CounterRule, counts: &[u64], is_proven: bool) -> Vec<String> {
        let mut state = LineCount::default();
        let counts = counts.iter();
        counts
            .filter_map(|count| state.take(*count, rule, is_proven))
            .collect()
    }

    #[test]
    fn lines_that_are_missing_are_counted() {
        let rule = counter(None);
        let four = ["4 lines missing: the line counter went from 12 to 17"];
        assert_eq!(said(&rule, &[11, 12, 17, 18], true), four);
        assert_eq!(said(&rule, &[11, 12, 17, 18], false), four);
        let one = "1 line missing: the line counter went from";
        let want = [format!("{one} 1 to 3"), format!("{one} 3 to 5")];
        assert_eq!(said(&rule, &[1, 3, 5, 6], false), want);
        // A doubled line, and a line whose counter is damaged.
        assert_eq!(said(&rule, &[1, 2, 2, 3], true), [""; 0]);
        assert_eq!(said(&rule, &[1234, 7235, 1236, 1237], false), [""; 0]);
    }

    #[test]
    fn a_counter_that_begins_anew_is_no_loss_of_millions() {
        let anew = |from: u64, to: u64| {
            format!("lines may be missing: the line counter began anew, {to} came after {from}")
        };
        assert_eq!(said(&counter(None), &[1234, 3, 4], true), [anew(1234, 3)]);
        let byte = counter(Some(256));
        assert_eq!(said(&byte, &[254, 255, 0, 1], true), [""; 0]);
        assert_eq!(
            said(&byte, &[254, 2, 3], true),
            ["3 lines missing: the line counter went from 254 to 2"]
        );
        assert_eq!(said(&byte, &[100, 0, 1], true), [anew(100, 0)]);
        let word = counter(Some(65_536));
        assert_eq!(said(&word, &[50_000, 0, 1], true), [anew(50_000, 0)]);
    }

    fn clock(tick_s: f64) -> ClockRule {
        ClockRule {
            spot: Spot::Named("us".to_owned()),
            tick_s,
            wraps: 1 << 32,
        }
    }

    #[test]
    fn a_clock_may_have_decimals_of_either_sign() {
        for (text, want) in [
            ("12", Some(12_000_000)),
            ("12.5", Some(12_500_000)),
            ("12,0000019", Some(12_000_001)),
            ("12.", Some(12_000_000)),
            ("-1", None),
            ("1.2.3", None),
            ("12:30", None),
        ] {
            assert_eq!(millionths(text), want, "{text}");
        }
    }

    #[test]
    fn a_boards_clock_runs_on_through_its_end_and_damaged_digits() {
        let rule = clock(1e-6);
        let mut ticks = Ticks::default();
        let begin = (1_u64 << 32) - 2_500_000;
        for second in 0..6_u64 {
            let now = (begin + second * 1_000_000) % (1 << 32);
            let moment = ticks
                .take(second as f64 + 0.01, now * MILLION, &rule)
                .unwrap();
            assert!((moment.board_s - second as f64).abs() < 1e-9, "{moment:?}");
            assert_eq!(moment.is_first, second == 0);
            // A digit far up.
            assert_eq!(
                ticks.take(second as f64 + 0.02, (now ^ 0x4000_0000) * MILLION, &rule),
                None
            );
        }
    }

    #[test]
    fn a_board_that_begins_anew_has_a_clock_of_its_own_from_there() {
        let rule = clock(1e-3);
        let mut ticks = Ticks::default();
        for second in 0..20_u64 {
            ticks.take(second as f64, (90_000 + second * 1000) * MILLION, &rule);
        }
        let moments: Vec<_> = (0..5_u64)
            .map(|second| ticks.take(20.0 + second as f64, second * 1000 * MILLION, &rule))
            .collect();
        assert_eq!(moments[..2], [None, None]);
        let [third, fourth] = [moments[2].unwrap(), moments[3].unwrap()];
        assert!(third.is_first && !fourth.is_first);
        assert!((fourth.board_s - 1.0).abs() < 1e-9);
    }
}
