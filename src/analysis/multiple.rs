//! Readings that are a multiple of the coil's frequency: an instrument that counts a harmonic, or a gate that is set wrongly.

use crate::coil::Resonance;

use super::level::BandPlace;

/// How many times the coil's own frequency an instrument is likely to have read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Multiple {
    /// Every other cycle was counted.
    Half,
    /// The second harmonic, or both edges.
    Double,
    /// The third harmonic.
    Triple,
}

impl Multiple {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Half, Self::Double, Self::Triple];

    /// Returns the read over the true frequency.
    pub fn factor(self) -> f64 {
        match self {
            Self::Half => 0.5,
            Self::Double => 2.0,
            Self::Triple => 3.0,
        }
    }

    /// Returns the multiple that a frequency in hertz looks like: outside the model's band, but inside it once divided.
    ///
    /// Where a wide band admits two, the one whose quotient is nearer to the model's value.
    pub fn of(frequency_hz: f64, model: &Resonance) -> Option<Self> {
        if BandPlace::of(frequency_hz, model) == BandPlace::Inside {
            return None;
        }
        let off = |multiple: &Self| {
            let quotient_hz = frequency_hz / multiple.factor();
            (quotient_hz / model.value_hz).ln().abs()
        };
        Self::ALL
            .into_iter()
            .filter(|one| BandPlace::of(frequency_hz / one.factor(), model) == BandPlace::Inside)
            .min_by(|one, other| off(one).total_cmp(&off(other)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coil::Route;

    fn model(low_hz: f64, high_hz: f64) -> Resonance {
        Resonance {
            value_hz: 6e6,
            low_hz,
            high_hz,
            route: Route::Measured,
        }
    }

    #[test]
    fn twice_thrice_and_half_the_model_are_known_within_its_band() {
        let model = model(5.7e6, 6.3e6);
        for (frequency_hz, want) in [
            (12.5e6, Some(Multiple::Double)),
            (17.2e6, Some(Multiple::Triple)),
            (2.9e6, Some(Multiple::Half)),
            (6.2e6, None),
            (6.4e6, None),
            (12.7e6, None),
            (2.8e6, None),
            (24e6, None),
        ] {
            assert_eq!(Multiple::of(frequency_hz, &model), want, "{frequency_hz}");
        }
    }

    #[test]
    fn what_the_band_holds_is_never_a_multiple_and_the_nearer_of_two_is_taken() {
        let wide = model(3e6, 9e6);
        assert_eq!(Multiple::of(8.9e6, &wide), None);
        assert_eq!(Multiple::of(13e6, &wide), Some(Multiple::Double));
        assert_eq!(Multiple::of(17e6, &wide), Some(Multiple::Triple));
    }
}
