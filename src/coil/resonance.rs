//! A resonance with its band, and by which route it was found.

use std::fmt;

use super::surroundings::EarthState;

/// A resonance as a model gives it: a value and a band, never one number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resonance {
    /// The model's own value, in hertz.
    pub value_hz: f64,
    /// The band's lower edge, in hertz.
    pub low_hz: f64,
    /// The band's upper edge, in hertz.
    pub high_hz: f64,
    /// How the value came about.
    pub route: Route,
}

/// How a resonance came about; printed, it is fit for a legend.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Route {
    /// It was measured.
    Measured,
    /// Inductance and capacitance were measured.
    MeasuredElements,
    /// The capacitance was measured, the inductance is a current sheet's.
    MeasuredCapacitance,
    /// The ring model.
    Rings,
    /// The ring model, moved to a measured inductance.
    RingsAtInductance,
    /// Current sheet and tabulated self-capacitance.
    Handbook,
    /// The build's good day, in the same earth state.
    GoodDay,
    /// The build's good day, which was in this earth state.
    GoodDayIn(EarthState),
}

impl fmt::Display for Route {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Measured => "measured",
            Self::MeasuredElements => "measured inductance and resonance capacitance",
            Self::MeasuredCapacitance => {
                "current sheet with Rosa's corrections, measured resonance capacitance"
            }
            Self::Rings => "ring model: turns as rings of charge and current",
            Self::RingsAtInductance => {
                "ring model: turns as rings of charge and current, measured inductance"
            }
            Self::Handbook => "handbook route",
            Self::GoodDay => "as on the build's good day",
            Self::GoodDayIn(earth) => {
                return write!(f, "from the build's good day, {} then", earth.name());
            }
        })
    }
}
