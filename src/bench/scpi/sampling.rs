//! How a virtual scope samples, and the form in which it sends its samples.

/// How the scope samples.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sampling {
    /// Samples of one waveform.
    pub points: usize,
    /// Seconds from one to the next.
    pub interval_s: f64,
    /// Volts of one step of its eight bits; with sixteen bits a step is the 256th part.
    pub volts_per_code: f64,
    /// How samples are coded when nobody has said anything.
    pub form: Form,
}

impl Default for Sampling {
    /// 20 µs at 50 million samples per second, 5 V from end to end (invented).
    fn default() -> Self {
        Self {
            points: 1000,
            interval_s: 20e-9,
            volts_per_code: 0.02,
            form: Form {
                has_sign: true,
                is_wide: false,
                low_first: false,
            },
        }
    }
}

/// How samples are coded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Form {
    /// Two's complement; else counted from the lower end.
    pub has_sign: bool,
    /// Two bytes a sample; else one.
    pub is_wide: bool,
    /// The low byte before the high one.
    pub low_first: bool,
}

impl Form {
    /// Returns the code of no volts.
    pub(super) const fn zero_code(self) -> i32 {
        match (self.has_sign, self.is_wide) {
            (true, _) => 0,
            (false, false) => 128,
            (false, true) => 32_768,
        }
    }
}
