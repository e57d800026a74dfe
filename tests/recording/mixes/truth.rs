//! What a device put on its line, byte by byte, and what can be read from that by rules written here once more.

/// The prompt of an instrument that has one: without a line end, behind each answer.
pub(crate) const PROMPT: &str = "> ";

/// A line that the device sent as it should be.
#[derive(Debug, Clone)]
pub(crate) struct Mark {
    /// Where it stands among the bytes of its run, without its end.
    pub(crate) from: usize,
    pub(crate) to: usize,
    /// What a row must say of it.
    pub(crate) says: Said,
    /// When it was asked for, on the session's clock.
    pub(crate) asked_us: i64,
    /// Nothing had gone wrong for long enough that nothing excuses its loss.
    pub(crate) calm: bool,
}

/// The digits of one line as they must stand in the table; empty for a value that is none.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct Said {
    pub(crate) frequency: String,
    pub(crate) battery: String,
}

/// From plug to unplug.
#[derive(Debug, Default)]
pub(crate) struct Run {
    pub(crate) bytes: Vec<u8>,
    pub(crate) marks: Vec<Mark>,
    /// Where copies of answers stand: nobody asked for them, and no value may be read from them or from their ends.
    pub(crate) copies: Vec<(usize, usize)>,
    /// How many bytes had been sent, and when.
    sent: Vec<(usize, i64)>,
}

/// Everything a device sent.
#[derive(Debug, Default)]
pub(crate) struct Truth {
    pub(crate) runs: Vec<Run>,
    /// Silences longer than the recorder's patience.
    pub(crate) silences: usize,
    /// Faults of each kind.
    pub(crate) faults: std::collections::BTreeMap<&'static str, usize>,
}

impl Truth {
    pub(crate) fn run(&mut self) -> &mut Run {
        if self.runs.is_empty() {
            self.runs.push(Run::default());
        }
        self.runs.last_mut().expect("there is one")
    }

    pub(crate) fn count(&mut self, fault: &'static str) {
        *self.faults.entry(fault).or_default() += 1;
    }
}

impl Run {
    pub(crate) fn sent(&mut self, bytes: &[u8], now_us: i64) {
        self.bytes.extend_from_slice(bytes);
        self.sent.push((self.bytes.len(), now_us));
    }

    /// When the byte at this place had been sent.
    fn when(&self, place: usize) -> i64 {
        let index = self.sent.partition_point(|(count, _)| *count <= place);
        self.sent.get(index).map_or(i64::MAX, |(_, when)| *when)
    }

    /// Where the pieces that these bytes were sent in begin, but for the first, counted from the first byte.
    fn pieces(&self, from: usize, to: usize) -> Vec<usize> {
        let first = self.sent.partition_point(|(count, _)| *count <= from);
        let begins = self.sent[first..].iter().map(|(count, _)| *count);
        begins
            .take_while(|at| *at < to)
            .map(|at| at - from)
            .collect()
    }

    /// The lines as they stood on the wire, whatever was meant; a last one without its end is none.
    pub(crate) fn lines(&self, limit: usize) -> Vec<WireLine<'_>> {
        let mut lines = Vec::new();
        let mut from = 0;
        for (place, byte) in self.bytes.iter().enumerate() {
            if matches!(byte, b'\n' | b'\r') {
                // A prompt stands behind the answer before it, and before this one.
                while self.bytes[from..place].starts_with(PROMPT.as_bytes()) {
                    from += PROMPT.len();
                }
                if place > from {
                    let index = self.marks.partition_point(|mark| mark.from < from);
                    let mark = self
                        .marks
                        .get(index)
                        .filter(|mark| mark.from == from && mark.to == place);
                    let last = self.marks.partition_point(|mark| mark.to <= place);
                    let tail = last
                        .checked_sub(1)
                        .and_then(|last| self.marks.get(last))
                        .filter(|mark| mark.to == place && mark.from > from);
                    lines.push(WireLine {
                        tail,
                        is_copy: self.copies.iter().any(|(a, b)| (*a..*b).contains(&from)),
                        bytes: &self.bytes[from..place],
                        mark,
                        is_overlong: place - from > limit,
                        begun_us: self.when(from),
                        pieces: self.pieces(from, place),
                        came_us: self.when(place),
                    });
                }
                from = place + 1;
            }
        }
        lines
    }
}

/// A line as it stood on the wire.
#[derive(Debug)]
pub(crate) struct WireLine<'a> {
    pub(crate) bytes: &'a [u8],
    /// It is what the device meant.
    pub(crate) mark: Option<&'a Mark>,
    /// What the device meant, behind something without an end that the recorder may have waited out or cut off as noise.
    pub(crate) tail: Option<&'a Mark>,
    pub(crate) is_overlong: bool,
    /// It is a copy of an answer.
    pub(crate) is_copy: bool,
    /// Where the pieces in which it was sent begin, but for the first.
    pub(crate) pieces: Vec<usize>,
    /// When its first byte was sent.
    pub(crate) begun_us: i64,
    /// When its end was sent.
    pub(crate) came_us: i64,
}

impl WireLine<'_> {
    /// The line carries a checksum, and whether it is right.
    pub(crate) fn checksum(&self) -> Option<bool> {
        let star = self.bytes.iter().rposition(|byte| *byte == b'*')?;
        let mut body = &self.bytes[..star];
        while let [head @ .., b' '] = body {
            body = head;
        }
        let sum = body.iter().fold(0_u8, |sum, byte| sum ^ byte);
        let written = std::str::from_utf8(&self.bytes[star + 1..]).ok();
        Some(written.is_some_and(|text| text.eq_ignore_ascii_case(&format!("{sum:02X}"))))
    }

    /// What a line of named fields says, as far as it can be read at all.
    pub(crate) fn fields(&self) -> Said {
        if self.checksum() == Some(false) || self.is_overlong {
            return Said::default();
        }
        let Ok(text) = std::str::from_utf8(self.bytes) else {
            return Said::default();
        };
        // The blank before the checksum may have been lost: the sum is that of what stands before it all the same.
        let text = text.rsplit_once('*').map_or(text, |(body, _)| body);
        let field = |name: &str, unit: &str| {
            let value = text
                .split([' ', '\t', '\x0c', '\x0b'])
                .find_map(|field| field.strip_prefix(name)?.strip_prefix('='));
            // The recorder takes a prefix without its unit, `8912m`.
            value
                .and_then(|value| {
                    digits(value, unit).or_else(|| digits(&format!("{value}{unit}"), unit))
                })
                .unwrap_or_default()
        };
        Said {
            frequency: field("f", "Hz"),
            battery: field("v", "V"),
        }
    }

    /// The numbers that its later pieces say: a half answer before them may have been waited out.
    pub(crate) fn late_numbers(&self) -> impl Iterator<Item = String> {
        let pieces = self.pieces.iter();
        pieces.filter_map(|at| answered(&self.bytes[*at..]))
    }

    /// What an answer says: one number.
    pub(crate) fn number(&self) -> Option<String> {
        answered(self.bytes)
    }
}

/// The number of an answer, which may have a prefix by a flipped bit.
fn answered(bytes: &[u8]) -> Option<String> {
    let text = std::str::from_utf8(bytes).ok()?.trim();
    digits(text, "").or_else(|| digits(&format!("{text}V"), "V"))
}

/// The digits of a number in the base unit, moved as text: no number is ever computed with.
pub(crate) fn digits(text: &str, unit: &str) -> Option<String> {
    let text = text.strip_suffix(unit)?.trim_end();
    let (text, prefix) = match text.chars().last()? {
        'G' if !unit.is_empty() => (&text[..text.len() - 1], 9),
        'M' if !unit.is_empty() => (&text[..text.len() - 1], 6),
        'k' if !unit.is_empty() => (&text[..text.len() - 1], 3),
        'm' if !unit.is_empty() => (&text[..text.len() - 1], -3),
        'u' if !unit.is_empty() => (&text[..text.len() - 1], -6),
        'n' if !unit.is_empty() => (&text[..text.len() - 1], -9),
        'p' if !unit.is_empty() => (&text[..text.len() - 1], -12),
        _ => (text, 0),
    };
    let text = text.trim_end();
    let (mantissa, exponent) = match text.split_once(['e', 'E']) {
        Some((mantissa, exponent)) => (mantissa, exponent.parse::<i32>().ok()?),
        None => (text, 0),
    };
    let (sign, mantissa) = match mantissa.strip_prefix('-') {
        Some(rest) => ("-", rest),
        None => ("", mantissa.strip_prefix('+').unwrap_or(mantissa)),
    };
    let (whole, part) = mantissa.split_once('.').unwrap_or((mantissa, ""));
    let all = format!("{whole}{part}");
    if all.is_empty() || !all.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let point = i32::try_from(whole.len()).ok()? + exponent + prefix;
    let (all, point) = if point <= 0 {
        let zeros = usize::try_from(1 - point)
            .ok()
            .filter(|zeros| *zeros < 100)?;
        (format!("{}{all}", "0".repeat(zeros)), 1)
    } else {
        let point = usize::try_from(point).ok().filter(|point| *point < 100)?;
        (format!("{all:0<point$}"), point)
    };
    let (whole, part) = all.split_at(point);
    let whole = whole.trim_start_matches('0');
    let part = part.trim_end_matches('0');
    let whole = if whole.is_empty() { "0" } else { whole };
    Some(if part.is_empty() {
        format!("{sign}{whole}")
    } else {
        format!("{sign}{whole}.{part}")
    })
}

#[test]
fn digits_are_moved_as_text() {
    for (text, unit, want) in [
        ("6.231234MHz", "Hz", Some("6231234")),
        ("+6.2312345E+06", "", Some("6231234.5")),
        ("8912mV", "V", Some("8.912")),
        ("0.5mV", "V", Some("0.0005")),
        ("9.V", "V", Some("9")),
        ("none", "V", None),
        ("6.2MHz", "V", None),
    ] {
        assert_eq!(digits(text, unit).as_deref(), want, "{text}");
    }
}
