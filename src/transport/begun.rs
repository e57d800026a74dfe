//! When a line began: the time of an answer is that of its first byte, however slowly the rest follows.

use crate::frame::{Frame, Splitter};
use crate::reading::Stamp;

/// Cuts lines for one question, and knows when each began.
#[derive(Debug, Default)]
pub(super) struct Begun {
    /// When the first byte of the half line came, if it came after the question.
    half: Option<Stamp>,
}

impl Begun {
    /// Takes what came in one read; the lines that it completes, each with the moment of its first byte.
    pub(super) fn push(
        &mut self,
        splitter: &mut Splitter,
        stamp: Stamp,
        bytes: &[u8],
    ) -> Vec<(Stamp, Frame)> {
        if bytes.is_empty() {
            return Vec::new();
        }
        let mut frames = Vec::new();
        splitter.push(bytes, &mut frames);
        let mut begun = self.half.take();
        let lines: Vec<(Stamp, Frame)> = frames
            .into_iter()
            .map(|frame| (begun.take().unwrap_or(stamp), frame))
            .collect();
        self.half = (!splitter.rest().is_empty()).then(|| begun.unwrap_or(stamp));
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frame::LineEnd;

    #[test]
    fn each_line_has_the_moment_of_its_own_first_byte() {
        let mut splitter = Splitter::new(LineEnd::Any, 10);
        let mut begun = Begun::default();
        let mut push = |elapsed_us, bytes: &[u8]| -> Vec<(i64, String)> {
            let stamp = Stamp {
                elapsed_us,
                wall_ms: 0,
            };
            let lines = begun.push(&mut splitter, stamp, bytes);
            let told = |(stamp, frame): (Stamp, Frame)| match frame {
                Frame::Line(line) => (stamp.elapsed_us, String::from_utf8(line).unwrap()),
                Frame::Overlong(_) => (stamp.elapsed_us, "overlong".to_owned()),
            };
            lines.into_iter().map(told).collect()
        };
        assert_eq!(push(1, b"on"), []);
        assert_eq!(push(2, b""), []);
        assert_eq!(push(3, b"e"), []);
        let lines = push(4, b"\r\ntwo\nth");
        assert_eq!(lines, [(1, "one".to_owned()), (4, "two".to_owned())]);
        assert_eq!(push(5, b"ree\r"), [(4, "three".to_owned())]);
        // The rest of a line end begins nothing.
        assert_eq!(push(6, b"\n"), []);
        assert_eq!(push(7, b"0123456789"), []);
        assert_eq!(push(8, b"x"), [(7, "overlong".to_owned())]);
        assert_eq!(push(9, b"more"), []);
        assert_eq!(push(10, b"\nfour"), []);
        assert_eq!(push(11, b"\n"), [(10, "four".to_owned())]);
    }
}
