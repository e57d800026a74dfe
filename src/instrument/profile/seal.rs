//! Checksums at the end of a line that comes unasked: `… *HH`.

use crate::instrument::refusal::Refusal;

/// The checksum that an unasked line may or must carry to prove itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Checksum {
    /// Checked where it stands.
    Optional,
    /// A line without it is refused.
    Required,
}

/// How a checksum is made from the bytes before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sum {
    /// The XOR of all bytes.
    Xor,
    /// CRC-8/SMBUS of the catalogue of parametrised CRC algorithms: width 8, polynomial 0x07, initial value 0. Nothing is
    /// reflected, and nothing is added at the end; the text `123456789` gives 0xF4.
    Crc8,
    /// The sum of all bytes, modulo 256.
    Add8,
}

/// The proof of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seal {
    /// Whether it must be there.
    pub need: Checksum,
    /// How it is made.
    pub sum: Sum,
    /// A character at the line's start that it does not cover.
    pub after: Option<char>,
}

impl From<Checksum> for Seal {
    fn from(need: Checksum) -> Self {
        Self {
            need,
            sum: Sum::Xor,
            after: None,
        }
    }
}

impl Sum {
    /// The checksum of these bytes.
    pub fn of(self, bytes: &[u8]) -> u8 {
        match self {
            Self::Xor => bytes.iter().fold(0, |sum, byte| sum ^ byte),
            Self::Crc8 => bytes.iter().fold(0, |sum, byte| crc8_step(sum ^ byte)),
            Self::Add8 => bytes.iter().fold(0, |sum, byte| sum.wrapping_add(*byte)),
        }
    }
}

/// One byte through the polynomial x^8 + x^2 + x + 1, highest bit first.
fn crc8_step(sum: u8) -> u8 {
    (0..8).fold(sum, |sum, _| {
        let shifted = sum << 1;
        if sum & 0x80 == 0 {
            shifted
        } else {
            shifted ^ 0x07
        }
    })
}

impl Seal {
    /// Splits ` *HH` from a line: the line's text, and whether its checksum is right; `None` where there is no checksum.
    fn split(self, line: &str) -> (&str, Option<bool>) {
        let Some((body, digits)) = line.rsplit_once('*') else {
            return (line, None);
        };
        let body = body.trim_end_matches(' ');
        let covered = self.after.and_then(|sign| body.strip_prefix(sign));
        let sum = self.sum.of(covered.unwrap_or(body).as_bytes());
        let is_sum = digits.len() == 2 && digits.bytes().all(|byte| byte.is_ascii_hexdigit());
        let is_right = is_sum && u8::from_str_radix(digits, 16) == Ok(sum);
        (body, Some(is_right))
    }

    /// Whether a line carries a checksum that is right, and so is whole even if it is the first after opening.
    pub fn proves(self, line: &str) -> bool {
        self.split(line).1 == Some(true)
    }

    /// The line's text without its checksum.
    ///
    /// # Errors
    /// [`Refusal::ChecksumWrong`] or [`Refusal::ChecksumMissing`].
    pub(in crate::instrument) fn open(self, line: &str) -> Result<&str, Refusal> {
        match (self.split(line), self.need) {
            ((_, Some(false)), _) => Err(Refusal::ChecksumWrong),
            ((_, None), Checksum::Required) => Err(Refusal::ChecksumMissing),
            ((body, Some(true)), _) | ((body, None), Checksum::Optional) => Ok(body),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// CRC-8/SMBUS has width 8, poly 0x07, init 0x00, no reflection, xorout 0x00, check 0xf4 and residue 0x00. These stand in the
    /// catalogue of parametrised CRC algorithms (`CRC RevEng`), as the documentation of the crate `crc-catalog` gives it.
    #[test]
    fn crc_8_has_the_catalogues_check_value_and_residue() {
        assert_eq!(Sum::Crc8.of(b"123456789"), 0xF4);
        assert_eq!(Sum::Crc8.of(b"123456789\xF4"), 0, "residue");
    }

    /// Common practice, no source. 66 + 3d + 34 + 4d + 48 + 7a (hex) is 1e6, summed by hand.
    #[test]
    fn a_sum_of_bytes_is_counted_modulo_256() {
        assert_eq!(Sum::Add8.of(b"f=4MHz"), 0xE6);
        let seal = Seal {
            sum: Sum::Add8,
            ..Seal::from(Checksum::Optional)
        };
        assert!(seal.proves("f=4MHz *e6"));
        assert!(!seal.proves("f=4MHz *10"));
    }

    /// The form of the sentences of marine instruments, whose sum covers the text between `$` and `*` (NMEA 0183, from memory).
    /// The XOR of `FV,1` is 46 ^ 56 ^ 2c ^ 31 = 0d (hex), by hand.
    #[test]
    fn a_sign_at_the_start_may_be_left_out_of_the_sum() {
        let seal = Seal {
            after: Some('$'),
            ..Seal::from(Checksum::Required)
        };
        assert_eq!(seal.open("$FV,1*0D"), Ok("$FV,1"));
        let whole = Seal::from(Checksum::Required);
        assert_eq!(whole.open("$FV,1*0D"), Err(Refusal::ChecksumWrong));
        assert_eq!(whole.open("$FV,1*29"), Ok("$FV,1"));
    }

    /// A CRC of degree 8 finds every burst of up to 8 bits; the XOR misses two equal flips a byte apart.
    #[test]
    fn crc_8_finds_what_the_xor_misses() {
        let (sent, hit) = (b"f=4012345Hz", b"f=5112345Hz");
        assert_eq!(Sum::Xor.of(sent), Sum::Xor.of(hit));
        assert_ne!(Sum::Crc8.of(sent), Sum::Crc8.of(hit));
        for bit in 0..sent.len() * 8 {
            for burst in 1_u16..256 {
                let mut spoilt = sent.to_vec();
                for offset in (0..8).filter(|offset| burst >> offset & 1 == 1) {
                    if let Some(byte) = spoilt.get_mut((bit + offset) / 8) {
                        *byte ^= 0x80 >> ((bit + offset) % 8);
                    }
                }
                assert!(spoilt == sent || Sum::Crc8.of(&spoilt) != Sum::Crc8.of(sent));
            }
        }
    }
}
