//! Instruments as descriptions: what to ask and how to read the answer, with no port in sight.

mod answer;
mod block_value;
mod catalogue;
mod cells;
mod complaint;
mod fields;
mod grouping;
mod habits;
mod line;
mod marks;
mod mask;
mod number;
mod period;
mod places;
mod port_file;
mod profile;
mod profile_file;
mod profile_lines;
mod profile_places;
mod profile_stream;
mod profile_unit;
mod seal;
mod stream;
mod unasked;
mod unit_text;
mod waveform;
mod waveform_file;

pub use answer::read_answer;
pub use block_value::read_block_values;
pub use catalogue::{Catalogue, CatalogueError, shipped};
pub use complaint::{Complaint, read_complaint};
pub use fields::fields;
pub use line::{ColumnLayout, ColumnMap, Reading, columns, missing_names};
pub use marks::Marks;
pub use mask::{Mask, mask};
pub use number::{Multiplier, NumberRule, Value, read_number};
pub use places::{Digits, Flag, Means, PlacesLayout, Shown, Test};
pub use profile::{
    Belief, ChannelRule, Errors, Form, Handshake, Manner, ParityBit, Place, PortRule, Profile,
    Resync, SentEnd, Timing, WireEnd,
};
pub use seal::{Checksum, Seal, Sum};
pub use stream::{BoardMoment, ClockRule, CounterRule, Spot, Stream};
pub use unasked::{Heard, Line, LineReader, Notice};
pub use unit_text::UnitCell;
pub use waveform::{
    Codes, Figure, NoScale, Origin, Preamble, ScaleRule, ScaleValue, Trace, WaveformRule,
};
