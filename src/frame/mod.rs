//! The end of one answer: bytes in, whole lines and blocks out.
//!
//! Half-read bytes live here, in the connection's own buffer, so that nothing that can be cancelled holds data. One read
//! is never one line, and a line without an end cannot grow without limit.

mod block;
mod fixed;
mod line;

pub use block::{BlockCut, BlockFrame, BlockReader, Broken};
pub use line::{Frame, LineEnd, Lines, Piece};

/// Cuts a stream of bytes into lines.
#[derive(Debug)]
pub struct Splitter {
    end: LineEnd,
    limit: usize,
    buffer: Vec<u8>,
    /// The rest of an overlong line is being dropped, or the bytes in the buffer belong to no frame.
    dropping: bool,
}

impl Splitter {
    /// A splitter for lines of at most `limit` bytes.
    pub const fn new(end: LineEnd, limit: usize) -> Self {
        Self {
            end,
            limit,
            buffer: Vec::new(),
            dropping: false,
        }
    }

    /// Takes bytes as they came and hands out the lines that they complete.
    pub fn push(&mut self, bytes: &[u8], frames: &mut Vec<Frame>) {
        self.cut(bytes, |piece| frames.push(piece.to_frame()));
    }

    /// Takes bytes as they came and shows the lines that they complete where they stand.
    pub fn cut(&mut self, bytes: &[u8], mut show: impl FnMut(Piece<'_>)) {
        if let LineEnd::Counted(length) = self.end {
            return fixed::cut(
                &mut self.buffer,
                &mut self.dropping,
                length,
                bytes,
                &mut show,
            );
        }
        let mut rest = bytes;
        while let Some(at) = rest.iter().position(|byte| self.end.ends(*byte)) {
            let (line, tail) = rest.split_at(at);
            if self.buffer.is_empty() && !self.dropping {
                self.show_whole(line, &mut show);
            } else {
                self.keep(line, &mut show);
                self.finish(&mut show);
            }
            rest = tail.get(1..).unwrap_or(&[]);
        }
        self.keep(rest, &mut show);
    }

    /// Shows a line that came whole.
    fn show_whole(&self, line: &[u8], show: &mut impl FnMut(Piece<'_>)) {
        let line = self.without_padding(line);
        if let Some((head, [_, ..])) = line.split_at_checked(self.limit) {
            show(Piece::Overlong(head));
            return;
        }
        let line = self.without_return(line);
        if !line.is_empty() {
            show(Piece::Line(line));
        }
    }

    /// A line feed left over from the CR LF before it belongs to no line.
    fn without_padding<'b>(&self, line: &'b [u8]) -> &'b [u8] {
        let is_padding = |byte: &&u8| match self.end {
            LineEnd::Cr => **byte == b'\n',
            LineEnd::Byte(_) => matches!(byte, b'\r' | b'\n'),
            LineEnd::Lf | LineEnd::Any | LineEnd::Counted(_) => false,
        };
        let padding = line.iter().take_while(is_padding).count();
        line.get(padding..).unwrap_or(&[])
    }

    /// A carriage return before the line feed belongs to the line's end.
    fn without_return<'b>(&self, line: &'b [u8]) -> &'b [u8] {
        match line {
            [line @ .., b'\r'] if self.end == LineEnd::Lf => line,
            line => line,
        }
    }

    /// Takes bytes of one line, up to the limit.
    fn keep(&mut self, bytes: &[u8], show: &mut impl FnMut(Piece<'_>)) {
        if self.dropping {
            return;
        }
        let bytes = if self.buffer.is_empty() {
            self.without_padding(bytes)
        } else {
            bytes
        };
        let room = self.limit - self.buffer.len();
        if let Some((head, [_, ..])) = bytes.split_at_checked(room) {
            self.buffer.extend_from_slice(head);
            show(Piece::Overlong(&self.buffer));
            self.buffer.clear();
            self.dropping = true;
        } else {
            self.buffer.extend_from_slice(bytes);
        }
    }

    /// The half line in the buffer.
    pub fn rest(&self) -> &[u8] {
        &self.buffer
    }

    /// Empties the buffer and returns the half line that was in it.
    pub fn take_rest(&mut self) -> Vec<u8> {
        self.dropping = false;
        std::mem::take(&mut self.buffer)
    }

    fn finish(&mut self, show: &mut impl FnMut(Piece<'_>)) {
        self.dropping = false;
        let line = self.without_return(&self.buffer);
        if !line.is_empty() {
            show(Piece::Line(line));
        }
        self.buffer.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn split(end: LineEnd, pieces: &[&[u8]]) -> Vec<Frame> {
        let mut splitter = Splitter::new(end, 16);
        let mut frames = Vec::new();
        for piece in pieces {
            splitter.push(piece, &mut frames);
        }
        frames
    }

    fn line(text: &str) -> Frame {
        Frame::Line(text.as_bytes().to_vec())
    }

    #[test]
    fn mixed_line_ends_give_no_empty_and_no_doubled_lines() {
        let want = vec![line("a"), line("b"), line("c"), line("d")];
        assert_eq!(split(LineEnd::Any, &[b"a\nb\r\nc\r", b"\nd\n\r"]), want);
        assert_eq!(split(LineEnd::Lf, &[b"a\r\n\nb\r", b"\nc\nd\n"]), want);
        assert_eq!(split(LineEnd::Cr, &[b"a\rb\r", b"\nc\r\nd\r\n"]), want);
        let etx = LineEnd::Byte(3);
        assert_eq!(split(etx, &[b"a\x03\r", b"\nb\x03c\x03\r\nd\x03\r"]), want);
    }

    #[test]
    fn a_line_without_end_is_cut_once_and_the_next_is_whole() {
        let frames = split(LineEnd::Any, &[&[b'x'; 4000], b"yz\n12\n"]);
        assert_eq!(frames, vec![Frame::Overlong(vec![b'x'; 16]), line("12")]);
    }

    #[test]
    fn a_half_line_is_handed_back_when_asked_for() {
        let mut splitter = Splitter::new(LineEnd::Any, 16);
        splitter.push(b"2500", &mut Vec::new());
        assert_eq!(splitter.rest(), b"2500");
        assert_eq!(splitter.take_rest(), b"2500");
        assert_eq!(splitter.take_rest(), b"");
    }

    proptest! {
        #[test]
        fn lines_do_not_depend_on_how_the_bytes_arrive(
            bytes in prop::collection::vec(prop_oneof![Just(b'\n'), Just(b'\r'), any::<u8>()], 0..200),
            cuts in prop::collection::vec(0_usize..200, 0..8),
        ) {
            for end in [LineEnd::Lf, LineEnd::Cr, LineEnd::Any, LineEnd::Byte(b';')] {
                let whole = split(end, &[&bytes]);
                let mut cuts: Vec<usize> = cuts.iter().map(|cut| (*cut).min(bytes.len())).collect();
                cuts.sort_unstable();
                let mut pieces = Vec::new();
                let mut at = 0;
                for cut in cuts {
                    pieces.push(&bytes[at..cut]);
                    at = cut;
                }
                pieces.push(&bytes[at..]);
                prop_assert_eq!(split(end, &pieces), whole);
            }
        }
    }
}
