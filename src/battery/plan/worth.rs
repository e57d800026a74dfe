//! The worth of a range of a plan: how often it held where the truth was known, or that nobody could put it to the test.

/// How often a range held the truth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Held {
    /// How often it did.
    pub held: usize,
    /// Of how many.
    pub of: usize,
}

impl Held {
    /// Counts the true ones.
    pub fn count(truths: impl IntoIterator<Item = bool>) -> Self {
        let mut all = Self::default();
        for is_held in truths {
            all.held += usize::from(is_held);
            all.of += 1;
        }
        all
    }

    /// Whether it held as often as a 90 % band is asked to in a back-test, 85 %.
    pub const fn is_enough(self) -> bool {
        self.of > 0 && 100 * self.held >= 85 * self.of
    }
}

/// The worth of a range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Worth {
    /// It was replayed where the truth is known.
    Replayed {
        /// How often it held.
        held: Held,
        /// The runs that it was replayed on.
        on: &'static str,
    },
    /// The number of the battery's own full runs that it follows from.
    OwnRuns(usize),
    /// It holds the span of published figures; no run is known to put it to the test.
    Span,
    /// Only a top is known.
    TopOnly,
}

impl Worth {
    /// Returns its word in a table.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Replayed { .. } => "replayed",
            Self::OwnRuns(_) => "own-runs",
            Self::Span => "span",
            Self::TopOnly => "top-only",
        }
    }

    /// Returns how often it held, where it was replayed.
    pub const fn held(self) -> Option<Held> {
        match self {
            Self::Replayed { held, .. } => Some(held),
            Self::OwnRuns(_) | Self::Span | Self::TopOnly => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seventeen_of_twenty_are_enough_and_none_of_none_is_not() {
        let of_twenty = |held| Held { held, of: 20 }.is_enough();
        assert!(of_twenty(17) && !of_twenty(16));
        assert!(!Held::default().is_enough());
        let counted = Held::count([true, false, true]);
        assert_eq!((counted.held, counted.of), (2, 3));
    }
}
