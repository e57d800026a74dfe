//! The layout of a frame of fixed places, and how its digits are read.

use crate::instrument::refusal::Refusal;

/// The layout of a frame; places are counted from 1.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlacesLayout {
    /// Bytes of a frame, without its line end.
    pub length: usize,
    /// Whether each byte's high nibble says its place, from 1.
    pub is_counted: bool,
    /// The places of the digits of values that do not name their own.
    pub digits: Option<Digits>,
    /// The other things that the frame says.
    pub flags: Vec<Flag>,
}

/// The digits of a display.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Digits {
    /// It is shown as letters.
    Letters {
        /// The first place.
        first: usize,
        /// The last place.
        last: usize,
    },
    /// It is shown as segments of seven-segment digits, each in two bytes: three bits of the first, four of the second.
    Segments {
        /// The first place.
        first: usize,
        /// The last place.
        last: usize,
        /// Which segments mean which character.
        table: Vec<(u8, char)>,
    },
}

/// Something that a frame says with one bit or byte.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Flag {
    /// Its name in the profile.
    pub name: String,
    /// Its place.
    pub place: usize,
    /// The test that it is set.
    pub test: Test,
    /// Its meaning by itself.
    pub means: Means,
}

/// The test that a flag is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Test {
    /// This bit is set, counted from 0, the lowest.
    Bit(u8),
    /// The byte is this one.
    Byte(u8),
}

/// The meaning of a flag by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Means {
    /// Nothing: values refer to it.
    Nothing,
    /// The number is below zero.
    Negative,
    /// A decimal point before this digit, counted from 1.
    Point(usize),
    /// The value is beyond the range.
    Overload,
    /// There is nothing to measure.
    NoSignal,
    /// There is a signal, but it has no one value.
    Unsteady,
    /// The instrument's own battery is low, and its readings may be wrong.
    LowBattery,
    /// The display is held, and shows an earlier value.
    Hold,
}

/// The conditions for a value to be on the display, and the size of 1 then; flags are numbers in the layout's list.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Shown {
    /// The places of its digits, if they are its own.
    pub digits: Option<Digits>,
    /// Flags that must be set.
    pub when: Vec<usize>,
    /// Flags that must not be set.
    pub unless: Vec<usize>,
    /// The size of 1 on the display while a flag is set, as a power of ten of the SI unit.
    pub sizes: Vec<(usize, i32)>,
}

impl Flag {
    pub(in crate::instrument) fn is_set(&self, bytes: &[u8]) -> bool {
        let byte = self.place.checked_sub(1).and_then(|at| bytes.get(at));
        byte.is_some_and(|byte| match self.test {
            Test::Bit(bit) => byte >> bit & 1 == 1,
            Test::Byte(wanted) => *byte == wanted,
        })
    }
}

impl PlacesLayout {
    /// Returns the text on the display, with its points.
    pub(in crate::instrument) fn text(
        &self,
        bytes: &[u8],
        set: &[bool],
        digits: Option<&Digits>,
    ) -> Result<String, Refusal> {
        let digits: Vec<char> = match digits {
            None => return Err(Refusal::NoDigits),
            Some(Digits::Letters { first, last }) => {
                let letters = part(bytes, *first, *last).iter();
                let is_letter = |byte: &u8| byte.is_ascii_graphic() || *byte == b' ';
                letters
                    .map(|byte| is_letter(byte).then(|| char::from(*byte)))
                    .collect::<Option<_>>()
                    .ok_or(Refusal::DigitsNoText)?
            }
            Some(Digits::Segments { first, last, table }) => part(bytes, *first, *last)
                .chunks_exact(2)
                .map(|pair| digit(pair, table))
                .collect::<Option<_>>()
                .ok_or(Refusal::SegmentsNoDigit)?,
        };
        let mut text = String::new();
        for (index, digit) in digits.into_iter().enumerate() {
            let mut flags = self.flags.iter().zip(set);
            if flags.any(|(flag, set)| *set && flag.means == Means::Point(index + 1)) {
                text.push('.');
            }
            text.push(digit);
        }
        Ok(text)
    }
}

fn part(bytes: &[u8], first: usize, last: usize) -> &[u8] {
    let from = first.saturating_sub(1);
    bytes.get(from..last).unwrap_or(&[])
}

/// The character of one digit's segments.
fn digit(pair: &[u8], table: &[(u8, char)]) -> Option<char> {
    let [high, low] = pair else { return None };
    let segments = (high & 0x07) << 4 | (low & 0x0f);
    table
        .iter()
        .find(|(known, _)| *known == segments)
        .map(|(_, digit)| *digit)
}
