//! Why a row is not `ok`: the remarks on the row, and on single channels.

use std::fmt;

use super::Channel;

/// One thing that is said of a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    /// The channel that is doubted; `None` where it is said of the whole row.
    pub channel: Option<Channel>,
    /// The fault, in a few words.
    pub why: String,
}

impl Remark {
    /// The note on one channel.
    pub fn of(channel: Channel, why: impl Into<String>) -> Self {
        Self {
            channel: Some(channel),
            why: why.into(),
        }
    }
}

impl<T: Into<String>> From<T> for Remark {
    fn from(why: T) -> Self {
        Self {
            channel: None,
            why: why.into(),
        }
    }
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.channel {
            Some(channel) => write!(f, "{}: {}", channel.column(), self.why),
            None => f.write_str(&self.why),
        }
    }
}

/// All that is said of a row; nothing when it is `ok`.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Note(Vec<Remark>);

impl Note {
    /// Reads the text of a note's column, `battery_v: …; frequency_hz: …`.
    pub fn read(text: &str) -> Self {
        let parts = text.split("; ").filter(|part| !part.is_empty());
        Self(
            parts
                .map(|part| {
                    let of_channel = part
                        .split_once(": ")
                        .and_then(|(name, why)| Some(Remark::of(Channel::from_column(name)?, why)));
                    of_channel.unwrap_or_else(|| part.into())
                })
                .collect(),
        )
    }

    /// Whether nothing is said.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Says one thing more.
    pub fn push(&mut self, remark: impl Into<Remark>) {
        self.0.push(remark.into());
    }

    /// The channels that are doubted, each with its remark.
    pub fn doubts(&self) -> impl Iterator<Item = (Channel, &str)> {
        self.0
            .iter()
            .filter_map(|one| Some((one.channel?, one.why.as_str())))
    }
}

impl<T: Into<Remark>> From<T> for Note {
    fn from(remark: T) -> Self {
        Self(vec![remark.into()])
    }
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (place, remark) in self.0.iter().enumerate() {
            if place > 0 {
                f.write_str("; ")?;
            }
            remark.fmt(f)?;
        }
        Ok(())
    }
}
