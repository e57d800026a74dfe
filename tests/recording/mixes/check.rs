//! What was recorded against what was sent.

use std::collections::BTreeMap;
use std::path::Path;

use super::truth::{Mark, Said, Truth, WireLine};

/// A row as it stands in the table.
#[derive(Debug, PartialEq)]
pub(crate) struct TableRow {
    pub(crate) elapsed_us: i64,
    pub(crate) said: Said,
    pub(crate) status: String,
}

/// The rows of one instrument, read by the `csv` crate: the digits count, not the numbers.
pub(crate) fn table(dir: &Path, source: &str) -> Vec<TableRow> {
    let mut reader = csv::Reader::from_path(dir.join("samples.csv")).unwrap();
    let header = reader.headers().unwrap().clone();
    let column = |name| header.iter().position(|found| found == name).unwrap();
    let (elapsed, from) = (column("elapsed_s"), column("source"));
    let (frequency, battery) = (column("frequency_hz"), column("battery_v"));
    let status = column("status");
    let mut last_us = BTreeMap::new();
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.unwrap();
        let elapsed_us: i64 = record[elapsed].replace('.', "").parse().unwrap();
        let before_us = last_us.insert(record[from].to_owned(), elapsed_us);
        assert!(
            before_us.is_none_or(|before_us| elapsed_us > before_us),
            "the time of an instrument stands still or runs backwards"
        );
        if &record[from] == source {
            rows.push(TableRow {
                elapsed_us,
                said: Said {
                    frequency: record[frequency].to_owned(),
                    battery: record[battery].to_owned(),
                },
                status: record[status].to_owned(),
            });
        }
    }
    rows
}

/// The entries of `rejected.log` of one instrument, as they stand there.
pub(crate) fn rejected(dir: &Path, source: &str) -> Vec<String> {
    let text = std::fs::read_to_string(dir.join("rejected.log")).unwrap();
    let word = format!(" {source} (");
    text.lines()
        .filter(|line| line.contains(&word))
        .map(str::to_owned)
        .collect()
}

/// What a mix came to.
#[derive(Debug, Default)]
pub(crate) struct Tally {
    pub(crate) clean: usize,
    pub(crate) refused: usize,
    pub(crate) gaps: usize,
    /// Clean lines that a hang-up of the system's own took with it, all of them right before a gap.
    pub(crate) unread: usize,
    pub(crate) faults: BTreeMap<&'static str, usize>,
    /// The latest row against the end of a board's line or the first byte of an answer, in microseconds.
    pub(crate) late_us: i64,
}

impl Tally {
    pub(crate) fn add(&mut self, other: &Self) {
        self.clean += other.clean;
        self.refused += other.refused;
        self.gaps += other.gaps;
        self.unread += other.unread;
        self.late_us = self.late_us.max(other.late_us);
        for (kind, count) in &other.faults {
            *self.faults.entry(kind).or_default() += count;
        }
    }
}

/// How far a check may trust the line.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rules {
    pub(crate) limit: usize,
    /// The line hands over all that was sent before it is lost; a pseudo-terminal does not.
    pub(crate) hands_all_over: bool,
    /// Both run on one clock, and nothing but what the mix says holds them up.
    pub(crate) same_clock: bool,
}

fn is_value(row: &TableRow) -> bool {
    row.said != Said::default()
}

/// A board's lines: each clean one is a row, once, in order, with its digits; no row is anything else; each gap is marked.
pub(crate) fn check_board(dir: &Path, source: &str, truth: &Truth, rules: Rules) -> Tally {
    let rows = table(dir, source);
    let mut tally = Tally {
        faults: truth.faults.clone(),
        ..Tally::default()
    };
    let mut rows = rows.iter().peekable();
    let mut given = 0;
    let mut lines_in_all = 0;
    for (number, run) in truth.runs.iter().enumerate() {
        let lines = run.lines(rules.limit);
        lines_in_all += lines.len();
        let mut left = lines.iter().enumerate().peekable();
        // The first line after opening may be a fragment, and is taken only if its checksum says that it is whole.
        let is_due = |(index, line): &(usize, &WireLine<'_>)| {
            line.mark.is_some() && (*index > 0 || line.checksum() == Some(true))
        };
        while let Some(row) = rows.next_if(|row| row.status != "gap") {
            if !is_value(row) {
                // Of a damaged line the word for a silent coil may be all that is left.
                given += usize::from(matches!(&*row.status, "no-signal" | "overload"));
                continue;
            }
            given += 1;
            loop {
                let Some((index, line)) = left.next() else {
                    panic!(
                        "run {number}: a row that nothing on the line says, or says once more: {row:?}"
                    );
                };
                // Said again by a whole line right behind it, and recorded once: by that one.
                let is_the_next_s = line.mark.is_none()
                    && left
                        .peek()
                        .is_some_and(|next| is_due(next) && gives(next.1, row))
                    && rows.peek().is_none_or(|after| after.said != row.said);
                if (index > 0 || line.checksum() == Some(true))
                    && gives(line, row)
                    && !is_the_next_s
                {
                    if line.mark.is_some() {
                        tally.clean += 1;
                        if rules.same_clock {
                            let late_us = row.elapsed_us - line.came_us;
                            assert!((0..2000).contains(&late_us), "{late_us} us late: {row:?}");
                            tally.late_us = tally.late_us.max(late_us);
                        }
                    }
                    break;
                }
                let before = || {
                    let shown = |line: &WireLine<'_>| {
                        format!(
                            "{} {} {:?}",
                            line.bytes.escape_ascii(),
                            line.came_us,
                            line.mark
                        )
                    };
                    let before: Vec<_> = lines[index.saturating_sub(4)..=index]
                        .iter()
                        .map(shown)
                        .collect();
                    before.join("\n")
                };
                assert!(
                    !is_due(&(index, line)),
                    "run {number}: line {index} is not recorded, next is {row:?}; sent:\n{}",
                    before()
                );
                tally.refused += 1;
            }
        }
        for (index, line) in left {
            if is_due(&(index, line)) {
                let may_be = !rules.hands_all_over && rows.peek().is_some();
                assert!(
                    may_be,
                    "run {number}: line {index} is not recorded: {line:?}"
                );
                tally.unread += 1;
            } else {
                tally.refused += 1;
            }
        }
        let is_last = number + 1 == truth.runs.len();
        if is_last {
            assert!(rows.peek().is_none(), "a gap too many");
        } else {
            assert!(rows.next().is_some(), "run {number}: its end is not marked");
            tally.gaps += 1;
        }
    }
    let silent = table(dir, source)
        .iter()
        .filter(|row| row.status == "silent")
        .count();
    assert!(
        silent >= truth.silences,
        "{silent} of {} silences are marked",
        truth.silences
    );
    if rules.hands_all_over {
        let kept = rejected(dir, source).len();
        // Noise without an end is kept in pieces.
        assert!(
            given + kept >= lines_in_all,
            "{given} rows and {kept} refusals for {lines_in_all} lines"
        );
    }
    tally
}

/// Rows of one moment are kept apart by a microsecond each.
const BUMP_US: i64 = 50;

/// Noise of this length may be cut off before its end comes.
const NOISE: usize = 64;

/// Whether a row is what a line says: all of it for a clean line, nothing else for a spoilt one.
fn gives(line: &WireLine<'_>, row: &TableRow) -> bool {
    let says = line.fields();
    // Of what a board sends, only noise of some length is cut off before its end comes.
    let is_cut_off = |mark: &&Mark| line.bytes.len() >= mark.to - mark.from + NOISE;
    if line
        .tail
        .filter(is_cut_off)
        .is_some_and(|mark| row.said == mark.says)
    {
        return true;
    }
    if let Some(mark) = line.mark {
        let plain = |text: &str| text.to_owned();
        if !mark.says.frequency.is_empty() {
            assert_eq!(
                plain(&says.frequency),
                mark.says.frequency,
                "the test reads its own line"
            );
        }
        row.said == mark.says
    } else {
        let from = |found: &str, said: &str| found.is_empty() || found == said;
        from(&row.said.frequency, &says.frequency) && from(&row.said.battery, &says.battery)
    }
}

/// One answer on the line.
struct Given<'a> {
    line: WireLine<'a>,
    run: usize,
    /// What the device meant; `None` for an answer that was spoilt.
    meant: Option<&'a Mark>,
    used: bool,
}

impl Given<'_> {
    fn shown(&self) -> String {
        let asked_us = self.meant.map(|mark| mark.asked_us);
        let Self { line, used, .. } = self;
        let text = line.bytes.escape_ascii();
        format!(
            "{text} asked {asked_us:?} begun {} came {} used {used}",
            line.begun_us, line.came_us
        )
    }
}

/// A counter's answers: each value of a row is an answer to its own question of that turn, and no answer is taken twice;
/// what came in calm is in a row; what is in none is in `rejected.log`.
pub(crate) fn check_counter(dir: &Path, source: &str, truth: &Truth, rules: Rules) -> Tally {
    let rows = table(dir, source);
    let refused: Vec<String> = rejected(dir, source)
        .iter()
        .filter_map(|entry| Some(entry.split_once("): ")?.1.to_owned()))
        .collect();
    // What was waited out in silence stands there as it came, piece by piece.
    let all_refused = refused.concat();
    let is_kept = |text: &str| {
        let in_two = (0..=text.len()).any(|cut| {
            let (head, tail) = text.split_at(cut);
            refused.iter().any(|entry| entry.ends_with(head))
                && refused.iter().any(|entry| entry.starts_with(tail))
        });
        in_two || all_refused.contains(text)
    };
    let mut tally = Tally {
        faults: truth.faults.clone(),
        ..Tally::default()
    };
    let mut answers = Vec::new();
    for (number, run) in truth.runs.iter().enumerate() {
        for line in run.lines(rules.limit) {
            answers.push(Given {
                meant: line.mark.or(line.tail),
                line,
                run: number,
                used: false,
            });
        }
    }
    let (mut last_us, mut run) = (i64::MIN, 0);
    for row in &rows {
        if row.status == "gap" {
            run += 1;
            tally.gaps += 1;
        }
        let mut asked_us = last_us;
        for (value, is_frequency) in [(&row.said.frequency, true), (&row.said.battery, false)] {
            if value.is_empty() {
                continue;
            }
            let is_in_time = |answer: &Given<'_>| {
                !answer.used
                    && answer.run == run
                    && answer.line.begun_us <= row.elapsed_us + BUMP_US
                    && answer.line.came_us + BUMP_US >= last_us
            };
            let fits_as_meant = |answer: &Given<'_>| {
                let says = |mark: &Mark| {
                    if is_frequency {
                        mark.says.frequency == *value
                    } else {
                        mark.says.battery == *value
                    }
                };
                let is_it = |mark: &Mark| says(mark) && mark.asked_us + BUMP_US >= asked_us;
                answer.meant.is_some_and(is_it) && is_in_time(answer)
            };
            // What its bytes still say. It has no question that could be known: its end is missing, say, and the next
            // answer lacks bytes.
            let fits_as_damaged = |answer: &Given<'_>| {
                let late = answer.line.late_numbers();
                let mut numbers = late.chain(answer.line.number());
                answer.line.mark.is_none()
                    && !answer.line.is_copy
                    && numbers.any(|number| number == *value)
                    && is_in_time(answer)
            };
            // A damaged answer may say the same as one that was meant.
            let found = answers.iter().position(fits_as_meant);
            let found = found.or_else(|| answers.iter().position(fits_as_damaged));
            let Some(found) = found else {
                let near = answers.iter().filter(|answer| {
                    answer.run == run && (answer.line.came_us - row.elapsed_us).abs() < 1_500_000
                });
                let near: Vec<_> = near.map(Given::shown).collect();
                panic!(
                    "a value that was not the answer to its question: {value} in {row:?}, run {run}, the row before at {last_us}; sent about then:\n{}",
                    near.join("\n")
                );
            };
            let found = &mut answers[found];
            found.used = true;
            asked_us = found
                .meant
                .map_or(asked_us, |mark| mark.asked_us.max(asked_us));
            if found.line.mark.is_some() {
                tally.clean += 1;
                let is_calm = found.line.mark.is_some_and(|mark| mark.calm);
                if rules.same_clock && !is_frequency && is_calm {
                    // The row is of the moment of the answer's first byte, however late its end, and whatever the
                    // other instrument gave meanwhile.
                    let late_us = row.elapsed_us - found.line.begun_us;
                    assert!((0..=1000).contains(&late_us), "{late_us} us late: {row:?}");
                    tally.late_us = tally.late_us.max(late_us);
                }
            }
        }
        last_us = row.elapsed_us;
    }
    assert_eq!(tally.gaps + 1, truth.runs.len(), "each gap is marked once");
    for answer in answers.iter().filter(|answer| !answer.used) {
        let Some(mark) = answer.line.mark else {
            continue;
        };
        let text = answer.line.bytes.escape_ascii().to_string();
        assert!(
            !mark.calm || !rules.same_clock,
            "an answer in calm is in no row: {text}"
        );
        // The last of a run may go with the hang-up: a question can't be written, and what is unread is never read.
        let is_newest = answers
            .iter()
            .all(|other| other.run != answer.run || other.line.came_us <= answer.line.came_us);
        let is_lost_with_it = answer.run + 1 < truth.runs.len() && is_newest;
        assert!(
            is_kept(&text) || is_lost_with_it || !rules.same_clock,
            "an answer is nowhere: {text} of run {}",
            answer.run
        );
        tally.refused += 1;
    }
    tally
}
