//! The frequency of a stretch, and how it lies against the model.

use crate::coil::Resonance;

/// Length of the start, whose mean frequency is set against the model: the coil is cold and the battery fresh. Chosen.
pub const START_S: f64 = 10.0;

/// Where a frequency lies against the model's band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BandPlace {
    /// Below the lower edge.
    Below,
    /// Inside, the edges included.
    Inside,
    /// Above the upper edge.
    Above,
}

impl BandPlace {
    /// Returns where a frequency in hertz lies.
    pub fn of(frequency_hz: f64, model: &Resonance) -> Self {
        if frequency_hz < model.low_hz {
            Self::Below
        } else if frequency_hz > model.high_hz {
            Self::Above
        } else {
            Self::Inside
        }
    }
}

/// Frequency over a stretch of a session.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// Mean, in hertz.
    pub mean_hz: f64,
    /// Half the 95 % interval of the mean, in hertz, residuals taken as AR(1); `None` when the readings are too few.
    pub half_width_hz: Option<f64>,
    /// Autocorrelation of the readings that the interval was made with.
    pub rho: Option<f64>,
    /// Lowest reading, in hertz.
    pub low_hz: f64,
    /// Highest reading, in hertz.
    pub high_hz: f64,
    /// Readings.
    pub readings: usize,
}

/// How far a measured frequency is from the model's value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Deviation {
    /// Measured less modelled, in hertz.
    pub deviation_hz: f64,
    /// The same as a ratio to the modelled value.
    pub ratio: f64,
    /// Where the measured value lies against the band.
    pub place: BandPlace,
}

impl Deviation {
    /// Returns the deviation of a measured frequency, in hertz.
    pub fn of(frequency_hz: f64, model: &Resonance) -> Self {
        let deviation_hz = frequency_hz - model.value_hz;
        Self {
            deviation_hz,
            ratio: deviation_hz / model.value_hz,
            place: BandPlace::of(frequency_hz, model),
        }
    }
}
