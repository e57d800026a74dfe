//! A port that is set to another speed than the instrument's gives bytes, but hardly any text.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::reading::Rejected;

/// The number of refused bytes looked at before anything is said: two or three lines.
const ENOUGH_BYTES: usize = 48;

/// Refused bytes since an instrument was last understood.
#[derive(Debug, Default, Clone, Copy)]
struct Seen {
    bytes: usize,
    /// Those that are neither printable nor white space of ASCII.
    strange: usize,
    was_told: bool,
}

/// Watches the refused lines, instrument by instrument.
#[derive(Debug, Default)]
pub(super) struct WrongSpeed(BTreeMap<Arc<str>, Seen>);

impl WrongSpeed {
    /// Takes a refused line, and returns whether it is time to report, once, that most of its instrument's bytes are no text.
    pub(super) fn is_doubtful(&mut self, rejected: &Rejected) -> bool {
        let seen = self.0.entry(Arc::clone(&rejected.source)).or_default();
        let is_text = |byte: &u8| byte.is_ascii_graphic() || byte.is_ascii_whitespace();
        seen.bytes += rejected.bytes.len();
        seen.strange += rejected.bytes.iter().filter(|byte| !is_text(byte)).count();
        let is_so = seen.bytes >= ENOUGH_BYTES && seen.strange * 2 > seen.bytes;
        is_so && !std::mem::replace(&mut seen.was_told, true)
    }

    /// An instrument was understood: the bytes before are forgotten.
    pub(super) fn is_read(&mut self, source: &Arc<str>) {
        self.0.remove(source);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::Stamp;

    fn rejected(bytes: &[u8]) -> Rejected {
        Rejected {
            stamp: Stamp {
                elapsed_us: 0,
                wall_ms: 0,
            },
            source: Arc::from("board"),
            why: "it could not be read".to_owned(),
            bytes: bytes.to_vec(),
        }
    }

    #[test]
    fn bytes_that_are_no_text_are_told_once_and_text_is_not() {
        let mut speed = WrongSpeed::default();
        assert!(
            !speed.is_doubtful(&rejected(b"\xf0\x00\xff")),
            "too few to tell"
        );
        let noise: Vec<u8> = (0..64_u8).map(|n| n.wrapping_mul(3) | 0x80).collect();
        assert!(speed.is_doubtful(&rejected(&noise)));
        assert!(!speed.is_doubtful(&rejected(&noise)), "once is enough");
        let mut speed = WrongSpeed::default();
        for _ in 0..20 {
            assert!(!speed.is_doubtful(&rejected(b"f=6231234.f=6231234.5Hz v=8.9V")));
        }
        speed.is_read(&Arc::from("board"));
        assert!(
            speed.is_doubtful(&rejected(&noise)),
            "good lines in between begin anew"
        );
    }
}
