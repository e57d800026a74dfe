//! Faults that a script makes between an instrument and its line.

use std::time::Duration;

use super::lines;
use crate::chance::scatter;

/// One thing that goes wrong.
#[derive(Debug, Clone, PartialEq)]
pub enum FaultKind {
    /// Nothing is answered.
    Silent,
    /// As many bytes of anything instead of the answer, ended as the answer was.
    Garbage,
    /// The answer comes so much later, in real time; the ones after it wait behind it.
    Late(Duration),
    /// The first measured number of an answer is this word: `9.9E37` (overload), `9.91E37` (not a number), `nan`.
    /// A checksum is made to fit, since it is the instrument that says so.
    Says(String),
    /// One digit of the first measured number is another; a checksum stays, since it is the line that is bad.
    WrongDigit,
    /// Of a longer answer only this number of bytes comes, and no end.
    BreaksOff(usize),
    /// This is said first when a program opens the line, for instance by a board that starts anew.
    Banner(String),
    /// Each message heard is sent back before it is answered.
    Echo,
    /// The first answer to which this happens is given again and again: an instrument that hangs.
    Hang,
    /// The line is gone, as if unplugged; it comes back at the end as a new one.
    Vanish,
}

/// A fault with its time. The time counts from the moment when a program first opens the line, so that the program's own start-up
/// changes nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// From when, in seconds of the device's clock.
    pub from_s: f64,
    /// Until when.
    pub to_s: f64,
    /// How often at most; `None` for every time. [`FaultKind::Vanish`] goes by time alone.
    pub at_most: Option<usize>,
    /// The fault.
    pub kind: FaultKind,
}

impl Fault {
    /// Creates a fault from the first opening for ever.
    pub const fn always(kind: FaultKind) -> Self {
        Self {
            from_s: 0.0,
            to_s: f64::INFINITY,
            at_most: None,
            kind,
        }
    }

    /// Creates a fault for the first `count` times it could happen.
    pub const fn first(count: usize, kind: FaultKind) -> Self {
        Self {
            from_s: 0.0,
            to_s: f64::INFINITY,
            at_most: Some(count),
            kind,
        }
    }

    /// Creates a fault between two moments.
    pub const fn between(from_s: f64, to_s: f64, kind: FaultKind) -> Self {
        Self {
            from_s,
            to_s,
            at_most: None,
            kind,
        }
    }

    fn is_on(&self, elapsed_s: f64) -> bool {
        elapsed_s >= self.from_s && elapsed_s < self.to_s
    }
}

/// An answer as it leaves the device.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Delivery {
    /// Its bytes; empty when nothing is sent.
    pub bytes: Vec<u8>,
    /// How long it is kept back, in real time.
    pub wait: Duration,
}

/// The faults of one device, and how often each has happened.
#[derive(Debug, Clone, Default)]
pub struct Script {
    faults: Vec<(Fault, usize)>,
    draws: u64,
    /// The words of an instrument that hangs.
    hung: Option<Vec<u8>>,
}

impl Script {
    /// Creates a script; with no faults all is well. `seed` decides the look of garbage and wrong digits.
    pub fn new(seed: u64, faults: Vec<Fault>) -> Self {
        Self {
            faults: faults.into_iter().map(|fault| (fault, 0)).collect(),
            draws: scatter(seed),
            hung: None,
        }
    }

    /// Whether the line is gone at a moment.
    pub fn is_gone(&self, elapsed_s: f64) -> bool {
        self.faults
            .iter()
            .any(|(fault, _)| fault.kind == FaultKind::Vanish && fault.is_on(elapsed_s))
    }

    /// Returns the words said first to a program that opens the line now; empty for none.
    pub fn banner(&mut self, elapsed_s: f64) -> Vec<u8> {
        self.strike(elapsed_s, |kind| match kind {
            FaultKind::Banner(text) => Some(text.as_bytes().to_vec()),
            _ => None,
        })
        .concat()
    }

    /// Whether a message heard now is sent back.
    pub fn echoes(&mut self, elapsed_s: f64) -> bool {
        !self
            .strike(elapsed_s, |kind| (*kind == FaultKind::Echo).then_some(()))
            .is_empty()
    }

    /// Applies the script's faults of this moment to an answer, in the script's order.
    pub fn spoil(&mut self, elapsed_s: f64, answer: Vec<u8>) -> Delivery {
        let kinds = self.strike(elapsed_s, |kind| {
            let of_answers = match kind {
                FaultKind::Banner(_) | FaultKind::Echo | FaultKind::Vanish => false,
                FaultKind::BreaksOff(length) => answer.len() > *length,
                _ => true,
            };
            of_answers.then(|| kind.clone())
        });
        let mut delivery = Delivery {
            bytes: answer,
            wait: Duration::ZERO,
        };
        for kind in kinds {
            match kind {
                FaultKind::Silent => delivery.bytes.clear(),
                FaultKind::Garbage => self.garble(&mut delivery.bytes),
                FaultKind::BreaksOff(length) => delivery.bytes.truncate(length),
                FaultKind::Late(wait) => delivery.wait += wait,
                FaultKind::Says(word) => say(&mut delivery.bytes, &word),
                FaultKind::WrongDigit => self.change_digit(&mut delivery.bytes),
                FaultKind::Hang => {
                    let hung = self.hung.get_or_insert_with(|| delivery.bytes.clone());
                    delivery.bytes.clone_from(hung);
                }
                FaultKind::Banner(_) | FaultKind::Echo | FaultKind::Vanish => {}
            }
        }
        delivery
    }

    /// Counts and returns the results of `pick` on the faults that are on now and not used up.
    fn strike<T>(&mut self, elapsed_s: f64, pick: impl Fn(&FaultKind) -> Option<T>) -> Vec<T> {
        let mut struck = Vec::new();
        for (fault, used) in &mut self.faults {
            if fault.is_on(elapsed_s)
                && fault.at_most.is_none_or(|most| *used < most)
                && let Some(picked) = pick(&fault.kind)
            {
                *used += 1;
                struck.push(picked);
            }
        }
        struck
    }

    fn draw(&mut self) -> u64 {
        self.draws = scatter(self.draws);
        self.draws
    }

    fn garble(&mut self, bytes: &mut [u8]) {
        let end = body_length(bytes);
        for byte in bytes.iter_mut().take(end) {
            *byte = self.draw().to_le_bytes()[0];
        }
    }

    fn change_digit(&mut self, bytes: &mut [u8]) {
        let Some((start, end)) = measured_number(bytes) else {
            return;
        };
        let draw = self.draw();
        let mut digits: Vec<&mut u8> = bytes
            .iter_mut()
            .take(end)
            .skip(start)
            .filter(|byte| byte.is_ascii_digit())
            .collect();
        let count = digits.len().max(1) as u64;
        let which = usize::try_from(draw % count).unwrap_or(0);
        if let Some(digit) = digits.get_mut(which) {
            // A step of 1 to 9 never leads back to the same digit.
            let step = scatter(draw) % 9 + 1;
            let value = (u64::from(**digit - b'0') + step) % 10;
            **digit = b'0' + value.to_le_bytes()[0];
        }
    }
}

/// Returns the number of bytes before the line end.
fn body_length(bytes: &[u8]) -> usize {
    bytes
        .iter()
        .rposition(|byte| !matches!(byte, b'\r' | b'\n'))
        .map_or(0, |last| last + 1)
}

/// Returns where the first measured number stands: digits with one decimal point, so neither a count, a time in whole
/// milliseconds nor a version.
fn measured_number(bytes: &[u8]) -> Option<(usize, usize)> {
    let belongs = |byte: &u8| byte.is_ascii_digit() || b"+-.E".contains(byte);
    let mut start = 0;
    while start < bytes.len() {
        let length = bytes
            .iter()
            .skip(start)
            .take_while(|byte| belongs(byte))
            .count();
        let word = bytes.get(start..start + length)?;
        let has_one_point = word.split(|byte| *byte == b'.').count() == 2;
        if has_one_point && word.iter().any(u8::is_ascii_digit) {
            return Some((start, start + length));
        }
        start += length + 1;
    }
    None
}

/// Puts a word in the place of the first measured number.
fn say(bytes: &mut Vec<u8>, word: &str) {
    let Some((start, end)) = measured_number(bytes) else {
        return;
    };
    bytes.splice(start..end, word.bytes());
    lines::reseal(bytes);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spoilt(kind: FaultKind, answer: &str) -> Vec<u8> {
        Script::new(1, vec![Fault::always(kind)])
            .spoil(0.0, answer.as_bytes().to_vec())
            .bytes
    }

    #[test]
    fn a_word_takes_the_place_of_the_first_measured_number_alone() {
        let says = |answer| {
            String::from_utf8(spoilt(FaultKind::Says("9.9E37".to_owned()), answer)).unwrap()
        };
        assert_eq!(says("+6.2E+06;+8.9E+00\r\n"), "9.9E37;+8.9E+00\r\n");
        assert_eq!(says("1000,6231.2,8.9\n"), "1000,9.9E37,8.9\n");
        assert_eq!(says("1\n"), "1\n", "the answer to *OPC?");
        assert_eq!(
            says("maker,model E,0,1.2.3\n"),
            "maker,model E,0,1.2.3\n",
            "an identity"
        );
    }

    #[test]
    fn a_word_of_the_instrument_keeps_the_checksum_right_and_a_bad_line_does_not() {
        let mut line = b"f=6231234.5Hz v=8.912V".to_vec();
        lines::seal(&mut line);
        line.push(b'\n');
        let text = String::from_utf8(line).unwrap();
        let is_sealed = |bytes: &[u8]| {
            let mut again = bytes.to_vec();
            lines::reseal(&mut again);
            again == bytes
        };
        assert!(is_sealed(text.as_bytes()));
        assert!(is_sealed(&spoilt(FaultKind::Says("nan".to_owned()), &text)));
        assert!(!is_sealed(&spoilt(FaultKind::WrongDigit, &text)));
    }

    #[test]
    fn a_wrong_digit_is_one_other_digit_in_the_number() {
        let mut script = Script::new(5, vec![Fault::always(FaultKind::WrongDigit)]);
        let good = b"+6.2312345E+06\n";
        for _ in 0..200 {
            let bad = script.spoil(0.0, good.to_vec()).bytes;
            assert_eq!(bad.len(), good.len());
            let changed: Vec<_> = good.iter().zip(&bad).filter(|(a, b)| a != b).collect();
            assert_eq!(changed.len(), 1);
            assert!(changed.iter().all(|(_, b)| b.is_ascii_digit()));
        }
    }

    #[test]
    fn garbage_is_as_long_as_the_answer_and_ends_like_it() {
        let bad = spoilt(FaultKind::Garbage, "+6.2312345E+06\r\n");
        assert_eq!(bad.len(), 16);
        assert!(bad.ends_with(b"\r\n"));
        assert_ne!(&bad[..14], b"+6.2312345E+06");
    }

    #[test]
    fn a_fault_ends_with_its_time_or_its_count() {
        let mut script = Script::new(
            1,
            vec![
                Fault::between(10.0, 20.0, FaultKind::Silent),
                Fault {
                    from_s: 30.0,
                    to_s: 40.0,
                    at_most: Some(2),
                    kind: FaultKind::Silent,
                },
            ],
        );
        let mut is_silent = |elapsed_s| script.spoil(elapsed_s, b"1\n".to_vec()).bytes.is_empty();
        let heard: Vec<bool> = [9.9, 10.0, 19.9, 20.0, 30.0, 31.0, 32.0]
            .into_iter()
            .map(&mut is_silent)
            .collect();
        assert_eq!(heard, [false, true, true, false, true, true, false]);
    }

    #[test]
    fn an_instrument_that_hangs_says_the_same_until_it_goes_on() {
        let mut script = Script::new(1, vec![Fault::between(1.0, 3.0, FaultKind::Hang)]);
        let mut say = |elapsed_s, text: &str| {
            let bytes = script.spoil(elapsed_s, text.as_bytes().to_vec()).bytes;
            String::from_utf8(bytes).unwrap()
        };
        let said = [(0.0, "a"), (1.0, "b"), (2.0, "c"), (3.0, "d")].map(|(at, text)| say(at, text));
        assert_eq!(said, ["a", "b", "b", "d"]);
    }

    #[test]
    fn a_line_that_vanishes_is_back_at_the_end() {
        let script = Script::new(1, vec![Fault::between(5.0, 6.0, FaultKind::Vanish)]);
        assert_eq!(
            [4.9, 5.0, 5.9, 6.0].map(|t| script.is_gone(t)),
            [false, true, true, false]
        );
    }
}
