//! Instruments as descriptions: the questions to ask and how to read the answers, with no port in sight.

mod catalogue;
mod file;
mod line;
mod mask;
mod number;
mod profile;
mod refusal;
mod waveform;

pub use catalogue::{Catalogue, CatalogueError, shipped};
pub use line::answer::read_answer;
pub use line::block::read_block_values;
pub use line::columns::{ColumnMap, columns, missing_names};
pub use line::complaint::{Complaint, read_complaint};
pub use line::reading::Reading;
pub use line::stream::{BoardMoment, ClockRule, CounterRule, Spot, Stream};
pub use line::unasked::{Heard, Line, LineReader, Notice};
pub use mask::{Mask, mask};
pub use number::marks::Marks;
pub use number::read_number;
pub use number::rule::NumberRule;
pub use number::value::{Multiplier, Value};
pub use profile::layout::ColumnLayout;
pub use profile::places::{Digits, Flag, Means, PlacesLayout, Shown, Test};
pub use profile::port::{Handshake, ParityBit, PortRule, SentEnd, WireEnd};
pub use profile::seal::{Checksum, Seal, Sum};
pub use profile::unit_cell::UnitCell;
pub use profile::{Belief, ChannelRule, Errors, Form, Manner, Place, Profile, Resync, Timing};
pub use refusal::Refusal;
pub use waveform::Trace;
pub use waveform::codes::Codes;
pub use waveform::rule::{Figure, Origin, ScaleRule, ScaleValue, WaveformRule};
pub use waveform::scale::{NoScale, Preamble};
