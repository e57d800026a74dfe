//! A run that came to its end, and how its battery was when it began.

use super::curve::Sample;

/// How a battery was when its run began.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Start {
    /// Charged or new.
    Full,
    /// Nobody knows, so part-used states are tried as well.
    Unknown,
}

/// A run that came to its end.
#[derive(Debug, Clone)]
pub struct Finished {
    /// Its samples.
    pub samples: Vec<Sample>,
    /// How long it lasted, in seconds under load.
    pub run_s: f64,
    /// The voltage it ended at, in volts.
    pub end_v: f64,
    /// How it began.
    pub start: Start,
    /// Runs with the same word come from one battery or cell and are left out together.
    pub group: String,
}

impl Finished {
    /// Returns the same as if it had been recorded only from this share of its length on, by someone who did not know.
    #[must_use]
    pub fn begun_late(&self, share: f64) -> Self {
        let from_s = share * self.run_s;
        let later = self.samples.iter().filter(|one| one.running_s >= from_s);
        Self {
            samples: later
                .map(|one| Sample {
                    running_s: one.running_s - from_s,
                    ..*one
                })
                .collect(),
            run_s: self.run_s - from_s,
            end_v: self.end_v,
            start: Start::Unknown,
            group: self.group.clone(),
        }
    }
}
