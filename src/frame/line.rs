//! The end of a line, and the frames cut from the stream.

/// The end of a line from the instrument.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineEnd {
    /// A line feed; a carriage return before it is dropped.
    Lf,
    /// A carriage return; a line feed after it is dropped.
    Cr,
    /// Either of them, in any mixture.
    Any,
    /// This byte; carriage returns and line feeds before a line are dropped.
    Byte(u8),
    /// Nothing: each byte's high nibble says its place in a frame of this number of bytes, from 1.
    Counted(u8),
}

impl LineEnd {
    /// Whether a line ends with this byte.
    pub const fn ends(self, byte: u8) -> bool {
        match self {
            Self::Lf => byte == b'\n',
            Self::Cr => byte == b'\r',
            Self::Any => matches!(byte, b'\n' | b'\r'),
            Self::Byte(end) => byte == end,
            Self::Counted(_) => false,
        }
    }
}

/// A frame cut from the stream.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Frame {
    /// A line without its end; never empty.
    Line(Vec<u8>),
    /// A line beyond the limit: its first bytes, the rest up to its end is dropped.
    Overlong(Vec<u8>),
}

/// A frame cut from the stream, at its place in the buffer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Piece<'b> {
    /// As [`Frame::Line`].
    Line(&'b [u8]),
    /// As [`Frame::Overlong`].
    Overlong(&'b [u8]),
}

impl Piece<'_> {
    pub(super) fn to_frame(self) -> Frame {
        match self {
            Self::Line(bytes) => Frame::Line(bytes.to_vec()),
            Self::Overlong(bytes) => Frame::Overlong(bytes.to_vec()),
        }
    }
}

/// The frames that were cut from the stream in one go, in one piece of memory. At full speed an allocation for each line costs
/// too much.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Lines {
    bytes: Vec<u8>,
    /// Where each ends, and whether it is overlong.
    ends: Vec<(usize, bool)>,
}

impl Lines {
    /// Adds a piece.
    pub fn push(&mut self, piece: Piece<'_>) {
        let (bytes, is_overlong) = match piece {
            Piece::Line(bytes) => (bytes, false),
            Piece::Overlong(bytes) => (bytes, true),
        };
        self.bytes.extend_from_slice(bytes);
        self.ends.push((self.bytes.len(), is_overlong));
    }

    /// How many there are.
    pub const fn len(&self) -> usize {
        self.ends.len()
    }

    /// Whether there is none.
    pub const fn is_empty(&self) -> bool {
        self.ends.is_empty()
    }

    /// All of them, in order.
    pub fn iter(&self) -> impl Iterator<Item = Piece<'_>> {
        let mut begin = 0;
        self.ends.iter().map(move |&(end, is_overlong)| {
            let bytes = self.bytes.get(begin..end).unwrap_or(&[]);
            begin = end;
            if is_overlong {
                Piece::Overlong(bytes)
            } else {
                Piece::Line(bytes)
            }
        })
    }
}
