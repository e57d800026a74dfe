//! How the port of an instrument is set and its lines are cut.

use std::time::Duration;

/// The parity bit of a serial line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ParityBit {
    /// None.
    None,
    /// Even.
    Even,
    /// Odd.
    Odd,
}

/// The handshake of a serial line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Handshake {
    /// None.
    None,
    /// RTS and CTS wires.
    Hardware,
    /// XON and XOFF bytes.
    Software,
}

/// The end of a line that the instrument sends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WireEnd {
    /// A line feed.
    Lf,
    /// A carriage return.
    Cr,
    /// Either, in any mixture.
    Any,
    /// This byte; line feeds and carriage returns behind it are dropped.
    Byte(u8),
    /// Nothing: each byte's high nibble says its place in a frame of this number of bytes, from 1.
    Counted(u8),
}

/// The end of a line that is sent to the instrument.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SentEnd {
    /// A line feed.
    Lf,
    /// A carriage return.
    Cr,
    /// Both.
    CrLf,
    /// Nothing: the text is whole without an end.
    None,
}

impl SentEnd {
    /// The bytes.
    pub const fn bytes(self) -> &'static [u8] {
        match self {
            Self::Lf => b"\n",
            Self::Cr => b"\r",
            Self::CrLf => b"\r\n",
            Self::None => b"",
        }
    }
}

/// How the port is set and lines are cut.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PortRule {
    /// Bits per second.
    pub baud: u32,
    /// 7 or 8.
    pub data_bits: u8,
    /// Parity bit.
    pub parity: ParityBit,
    /// 1 or 2.
    pub stop_bits: u8,
    /// Handshake.
    pub handshake: Handshake,
    /// Whether to raise DTR at opening.
    pub dtr: bool,
    /// Whether RTS stays up as the system raises it at opening.
    pub rts: bool,
    /// End of a line sent.
    pub sent_end: SentEnd,
    /// End of a line received.
    pub received_end: WireEnd,
    /// The longest line received, in bytes.
    pub longest_line: usize,
    /// The prompt, which is cut off wherever it begins a line.
    pub prompt: Option<String>,
    /// Lines that are passed over.
    pub skip: Vec<String>,
}

impl PortRule {
    /// How long one byte takes on the line: a start bit, its own, parity and stop bits.
    pub fn byte_time(&self) -> Duration {
        let parity = u32::from(self.parity != ParityBit::None);
        let bits = 1 + u32::from(self.data_bits) + parity + u32::from(self.stop_bits);
        Duration::from_secs(1) * bits / self.baud.max(1)
    }
}
