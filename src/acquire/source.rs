//! One instrument of a recording, open and ready.

use std::sync::Arc;
use std::time::Duration;

use crate::clock::Clock;
use crate::frame::LineEnd;
use crate::instrument::{PortRule, Profile, WireEnd};
use crate::transport::{Link, Passing};

/// One instrument of a recording, open and ready.
#[derive(Debug)]
pub struct Source {
    /// Its label, unique in the session.
    pub label: Arc<str>,
    /// Its profile, with the connection's factors in it.
    pub profile: Profile,
    /// The line to it.
    pub link: Link,
    /// From one row to the next, on the session's clock, for an instrument that is asked.
    pub every: Duration,
    /// The session's clock.
    pub clock: Clock,
}

/// Returns where a line from the instrument ends.
pub const fn line_end(port: &PortRule) -> LineEnd {
    match port.received_end {
        WireEnd::Lf => LineEnd::Lf,
        WireEnd::Cr => LineEnd::Cr,
        WireEnd::Any => LineEnd::Any,
        WireEnd::Byte(byte) => LineEnd::Byte(byte),
        WireEnd::Counted(length) => LineEnd::Counted(length),
    }
}

/// Returns the prompt and the lines that an instrument sends beside its answers, by its profile.
pub fn passing(port: &PortRule) -> Passing {
    Passing {
        prompt: port.prompt.clone().map(String::into_bytes),
        skip: port.skip.iter().cloned().map(String::into_bytes).collect(),
    }
}
