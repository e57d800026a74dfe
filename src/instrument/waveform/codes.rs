//! How the samples of a waveform stand in their block or line.

use crate::instrument::refusal::Refusal;
use crate::units;

/// How a sample stands in the block.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Codes {
    /// One byte with a sign.
    Int8,
    /// One byte without a sign.
    Uint8,
    /// Two bytes with a sign, the high one first.
    Int16HighFirst,
    /// Two bytes with a sign, the low one first.
    Int16LowFirst,
    /// Two bytes without a sign, the high one first.
    Uint16HighFirst,
    /// Two bytes without a sign, the low one first.
    Uint16LowFirst,
    /// A floating-point number of four bytes (IEEE 754), the high one first.
    Real32HighFirst,
    /// A floating-point number of four bytes, the low one first.
    Real32LowFirst,
    /// A floating-point number of eight bytes, the high one first.
    Real64HighFirst,
    /// A floating-point number of eight bytes, the low one first.
    Real64LowFirst,
    /// Numbers in text with commas between, in braces or not.
    Ascii,
}

/// 9.9E37 and 9.91E37 stand for infinity and no number (SCPI-1999, 7.2.1.4 and 7.2.1.5).
pub(in crate::instrument) const NO_NUMBER_FROM: f64 = 9.0e37;

impl Codes {
    /// Bytes per sample; 1 where their number is not fixed.
    pub const fn sample_len(self) -> usize {
        match self {
            Self::Int8 | Self::Uint8 | Self::Ascii => 1,
            Self::Int16HighFirst
            | Self::Int16LowFirst
            | Self::Uint16HighFirst
            | Self::Uint16LowFirst => 2,
            Self::Real32HighFirst | Self::Real32LowFirst => 4,
            Self::Real64HighFirst | Self::Real64LowFirst => 8,
        }
    }

    /// The lowest and the highest code there can be; `None` where samples are numbers of any size.
    pub const fn range(self) -> Option<(i32, i32)> {
        match self {
            Self::Int8 => Some((-128, 127)),
            Self::Uint8 => Some((0, 255)),
            Self::Int16HighFirst | Self::Int16LowFirst => Some((-32_768, 32_767)),
            Self::Uint16HighFirst | Self::Uint16LowFirst => Some((0, 65_535)),
            Self::Real32HighFirst
            | Self::Real32LowFirst
            | Self::Real64HighFirst
            | Self::Real64LowFirst
            | Self::Ascii => None,
        }
    }

    /// Whether samples are text, in a line or in a block.
    pub const fn is_text(self) -> bool {
        matches!(self, Self::Ascii)
    }

    /// Reads the samples of a block.
    ///
    /// # Errors
    /// [`Refusal`].
    pub fn read(self, block: &[u8]) -> Result<Vec<f64>, Refusal> {
        if self == Self::Ascii {
            return ascii(block);
        }
        if !block.len().is_multiple_of(self.sample_len()) {
            return Err(Refusal::HalfSample);
        }
        let samples = match self {
            Self::Int8 => fixed(block, |[byte]: [u8; 1]| i8::from_be_bytes([byte]).into()),
            Self::Uint8 | Self::Ascii => fixed(block, |[byte]: [u8; 1]| byte.into()),
            Self::Int16HighFirst => fixed(block, |pair| i16::from_be_bytes(pair).into()),
            Self::Int16LowFirst => fixed(block, |pair| i16::from_le_bytes(pair).into()),
            Self::Uint16HighFirst => fixed(block, |pair| u16::from_be_bytes(pair).into()),
            Self::Uint16LowFirst => fixed(block, |pair| u16::from_le_bytes(pair).into()),
            Self::Real32HighFirst => fixed(block, |four| f32::from_be_bytes(four).into()),
            Self::Real32LowFirst => fixed(block, |four| f32::from_le_bytes(four).into()),
            Self::Real64HighFirst => fixed(block, f64::from_be_bytes),
            Self::Real64LowFirst => fixed(block, f64::from_le_bytes),
        };
        if self.range().is_none() && samples.iter().any(|value| !is_number(*value)) {
            return Err(Refusal::SampleNoNumber);
        }
        Ok(samples)
    }

    /// The numbers of a small block, each as text with no more digits than its form holds.
    ///
    /// # Errors
    /// [`Refusal`].
    pub fn texts(self, block: &[u8]) -> Result<Vec<String>, Refusal> {
        if !block.len().is_multiple_of(self.sample_len()) {
            return Err(Refusal::HalfNumber);
        }
        Ok(match self {
            Self::Real32HighFirst => fixed(block, |four| format!("{:e}", f32::from_be_bytes(four))),
            Self::Real32LowFirst => fixed(block, |four| format!("{:e}", f32::from_le_bytes(four))),
            Self::Real64HighFirst => {
                fixed(block, |eight| format!("{:e}", f64::from_be_bytes(eight)))
            }
            Self::Real64LowFirst => {
                fixed(block, |eight| format!("{:e}", f64::from_le_bytes(eight)))
            }
            _ => self.read(block)?.iter().map(ToString::to_string).collect(),
        })
    }
}

fn is_number(value: f64) -> bool {
    value.abs() < NO_NUMBER_FROM
}

/// Reads a block in pieces of one length.
fn fixed<const LENGTH: usize, T>(block: &[u8], read: impl Fn([u8; LENGTH]) -> T) -> Vec<T> {
    let pieces = block.chunks_exact(LENGTH);
    pieces
        .filter_map(|piece| piece.try_into().ok())
        .map(read)
        .collect()
}

/// Reads numbers in text: `{0.1,0.2}`, `0.1,0.2`, `:CURVE 1,2,3`, a comma behind the last one or not.
fn ascii(block: &[u8]) -> Result<Vec<f64>, Refusal> {
    let text = std::str::from_utf8(block).map_err(|_| Refusal::SamplesNoText)?;
    let text = text.trim().trim_end_matches(';').trim_end();
    let begins = |c: char| c.is_ascii_digit() || matches!(c, '{' | '+' | '-' | '.');
    // A header has a blank behind it, so that the 2 of `CH2` is not taken for a sample.
    let text = match text.split_once([' ', '\t']) {
        Some((_, rest)) if !text.starts_with(begins) => rest.trim_start(),
        _ => text,
    };
    let text = match (text.strip_prefix('{'), text.strip_suffix('}')) {
        (Some(inner), Some(_)) => inner.strip_suffix('}').unwrap_or(inner),
        (None, None) => text,
        _ => return Err(Refusal::LoneBrace),
    };
    let text = text.trim_end();
    let text = text.strip_suffix(',').unwrap_or(text);
    if text.trim().is_empty() {
        return Ok(Vec::new());
    }
    text.split(',')
        .map(|sample| {
            let (mantissa, exponent, rest) = units::split_number(sample.trim())?;
            let value = units::with_exponent(mantissa, exponent);
            (rest.is_empty() && is_number(value)).then_some(value)
        })
        .collect::<Option<Vec<f64>>>()
        .ok_or(Refusal::SampleNoNumber)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn codes_are_read_with_their_sign_and_order() {
        let read = |codes: Codes| codes.read(&[0x80, 0x01, 0xff, 0x7f]).unwrap();
        assert_eq!(read(Codes::Int8), [-128.0, 1.0, -1.0, 127.0]);
        assert_eq!(read(Codes::Uint8), [128.0, 1.0, 255.0, 127.0]);
        assert_eq!(read(Codes::Int16HighFirst), [-32767.0, -129.0]);
        assert_eq!(read(Codes::Int16LowFirst), [384.0, 32767.0]);
        assert_eq!(read(Codes::Uint16HighFirst), [32769.0, 65407.0]);
        assert_eq!(read(Codes::Uint16LowFirst), [384.0, 32767.0]);
    }

    /// IEEE 754: 1.0 is 3F800000 and 3FF0000000000000, -2.5 is C0200000 and C004000000000000.
    #[test]
    fn floating_point_numbers_are_read_in_either_order() {
        let single = [0x3f, 0x80, 0, 0, 0xc0, 0x20, 0, 0];
        assert_eq!(Codes::Real32HighFirst.read(&single).unwrap(), [1.0, -2.5]);
        let turned = [0, 0, 0x80, 0x3f, 0, 0, 0x20, 0xc0];
        assert_eq!(Codes::Real32LowFirst.read(&turned).unwrap(), [1.0, -2.5]);
        let double = [0x3f, 0xf0, 0, 0, 0, 0, 0, 0];
        assert_eq!(Codes::Real64HighFirst.read(&double).unwrap(), [1.0]);
        let turned = [0, 0, 0, 0, 0, 0, 4, 0xc0];
        assert_eq!(Codes::Real64LowFirst.read(&turned).unwrap(), [-2.5]);
        // Not a number: 7FC00000.
        let nothing = [0x7f, 0xc0, 0, 0];
        let refused = Codes::Real32HighFirst.read(&nothing);
        assert_eq!(refused, Err(Refusal::SampleNoNumber));
        let half = Codes::Real64LowFirst.read(&single[..7]);
        assert_eq!(half, Err(Refusal::HalfSample));
    }

    /// 0.1 of 32 bits is 0.1 to the digits that it has, not 0.10000000149011612.
    #[test]
    fn the_numbers_of_a_small_block_have_their_own_digits() {
        let bytes = 0.1_f32.to_le_bytes();
        assert_eq!(Codes::Real32LowFirst.texts(&bytes).unwrap(), ["1e-1"]);
        assert_eq!(
            Codes::Int16HighFirst.texts(&[1, 0, 0xff, 0xff]).unwrap(),
            ["256", "-1"]
        );
        assert!(Codes::Real64LowFirst.texts(&bytes).is_err());
    }

    #[test]
    fn samples_in_text_are_read_with_braces_or_without() {
        let want = [0.1, -0.25, 3e-3];
        for text in [
            "{0.1,-0.25,3E-3}",
            "0.1,-0.25,3E-3",
            " 0.1, -0.25,\t+3.0e-03,",
            ":CURVE 0.1,-.25,3E-3;",
            "CURV {0.1, -0.25, 3E-3}",
        ] {
            assert_eq!(Codes::Ascii.read(text.as_bytes()).unwrap(), want, "{text}");
        }
        for text in [
            "{0.1,0.2",
            "0.1,0.2}",
            "0.1,,0.2",
            "0.1,9.91E37",
            "0.1 V",
            "0.1,abc",
            "0.1;0.2",
            "CH2,1",
            "\u{e9}",
        ] {
            assert!(Codes::Ascii.read(text.as_bytes()).is_err(), "{text}");
        }
        assert_eq!(Codes::Ascii.read(b"{}"), Ok(Vec::new()));
    }

    proptest! {
        #[test]
        fn any_bytes_are_samples_or_refused(block in prop::collection::vec(any::<u8>(), 0..100), text in "[-+0-9.eE,{} ]{0,40}") {
            for codes in [Codes::Ascii, Codes::Real32LowFirst, Codes::Real64HighFirst] {
                for bytes in [block.as_slice(), text.as_bytes()] {
                    if let Ok(samples) = codes.read(bytes) {
                        prop_assert!(samples.iter().all(|value| value.is_finite()));
                    }
                    codes.texts(bytes).ok();
                }
            }
        }
    }
}
