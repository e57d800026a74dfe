//! Instruments as descriptions: what to ask and how to read the answer, with no port in sight.

mod answer;
mod catalogue;
mod line;
mod mask;
mod number;
mod profile;
mod profile_file;
mod waveform;
mod waveform_file;

pub use answer::read_answer;
pub use catalogue::{Catalogue, CatalogueError, shipped};
pub use line::{ColumnMap, Reading, columns, fields, is_checked_line};
pub use mask::{Mask, mask};
pub use number::{Marks, Multiplier, NumberRule, Value, read_number};
pub use profile::{
    Belief, ChannelRule, Checksum, Errors, Form, Handshake, Manner, ParityBit, Place, PortRule,
    Profile, Resync, SentEnd, Timing, WireEnd,
};
pub use waveform::{Codes, Figure, Preamble, PreambleRule, Trace, WaveformRule};
