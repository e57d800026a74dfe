//! A prediction as a value: every number with its origin, the resonance with what its band rests on.

use std::fmt;

use super::Resonance;
use super::self_capacitance::CONFIRMED_LENGTH_RATIO;

/// Where a value comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// By formula.
    Computed,
    /// By the person.
    Measured,
}

/// A value with its origin; its unit is in the name of the field it stands in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Valued {
    /// The value.
    pub value: f64,
    /// Where it comes from.
    pub origin: Origin,
}

impl Valued {
    pub(super) fn or_measured(
        measured: Option<f64>,
        computed: impl FnOnce() -> Option<f64>,
    ) -> Option<Self> {
        let of = |origin| move |value| Self { value, origin };
        measured
            .map(of(Origin::Measured))
            .or_else(|| computed().map(of(Origin::Computed)))
    }
}

/// Which of the coil's capacitances a value is; they differ by up to a fifth and must not be mixed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CapacitanceKind {
    /// Medhurst's tabulated self-capacitance.
    Tabulated,
    /// The resonance capacitance, as measured.
    MeasuredResonance,
    /// The resonance capacitance that a measured frequency asks for.
    FromFrequency,
}

/// What the band of a resonance rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BandBasis {
    /// The published comparison with measured coils, foot earthed.
    MeasuredCoils,
    /// The same, and above it what a floating circuit was computed to do.
    MeasuredCoilsAndFloating,
    /// The computed inductance, beside a measured capacitance.
    ComputedInductance,
    /// What the person said of the measured frequency.
    Stated,
    /// Nothing: the values are measured and no tolerance was given.
    NoneGiven,
}

impl fmt::Display for BandBasis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::MeasuredCoils => {
                "how far this route was from published coils, measured with the foot earthed; \
                 none of them was of battery size"
            }
            Self::MeasuredCoilsAndFloating => {
                "how far this route was from published coils, measured with the foot earthed, and for its \
                 upper edge on what a circuit that floats does by our own computation, not by measurement"
            }
            Self::ComputedInductance => "1 % on the computed inductance",
            Self::Stated => "the tolerance given for the measured frequency",
            Self::NoneGiven => "the measured values alone, for which no tolerance was given",
        })
    }
}

/// Something a reader of the prediction should know.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Note {
    /// The coil is in the table, where a computation of the field disagrees with it.
    CapacitanceUnconfirmed {
        /// Length over diameter.
        length_over_diameter: f64,
    },
    /// The turns are so far apart that the crowding table says nothing.
    CrowdingNotTabulated {
        /// Pitch over wire.
        pitch_over_wire: f64,
    },
    /// The Q is that of the copper.
    QOfCopperAlone,
    /// The coupling is for the same current in every turn.
    CouplingUniform,
    /// The primary's leads are not in its inductance.
    PrimaryWithoutLeads,
    /// The winding's tolerances are in the resonance's band.
    BandWithTolerances,
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::CapacitanceUnconfirmed {
                length_over_diameter,
            } => write!(
                f,
                "self-capacitance: the coil is {length_over_diameter:.2} diameters long; computed fields confirm \
                 the table from {} to {} only",
                CONFIRMED_LENGTH_RATIO.start(),
                CONFIRMED_LENGTH_RATIO.end()
            ),
            Self::CrowdingNotTabulated { pitch_over_wire } => write!(
                f,
                "resistance at resonance: turns {pitch_over_wire:.1} wires apart are outside the table (1 to 10)"
            ),
            Self::QOfCopperAlone => f.write_str(
                "Q: the copper alone at 20 °C; former, enamel, lamp and transistor lower it",
            ),
            Self::CouplingUniform => f.write_str(
                "coupling: for the same current in every turn; at resonance it is higher",
            ),
            Self::PrimaryWithoutLeads => f.write_str("primary: its leads are not counted"),
            Self::BandWithTolerances => {
                f.write_str("resonance: the winding's own tolerances widen the band")
            }
        }
    }
}

/// What a build should do.
#[derive(Debug, Clone, PartialEq)]
pub struct Prediction {
    /// The resonance with its band.
    pub resonance: Resonance,
    /// What the band rests on.
    pub band: BandBasis,
    /// The secondary's inductance, in henry; at high frequency if computed.
    pub inductance_h: Option<Valued>,
    /// The secondary's capacitance, in farad.
    pub capacitance_f: Option<f64>,
    /// Which capacitance that is.
    pub capacitance_kind: Option<CapacitanceKind>,
    /// Length of the secondary's wire, in metre.
    pub wire_length_m: f64,
    /// Mass of the secondary's copper, in kilogram.
    pub copper_mass_kg: f64,
    /// The secondary's resistance to direct current at 20 °C, in ohm.
    pub resistance_dc_ohm: f64,
    /// The secondary's resistance at resonance, in ohm; from the Q where that was measured.
    pub resistance_ohm: Option<Valued>,
    /// Quality factor: of the copper alone if computed, as built if measured.
    pub q: Option<Valued>,
    /// The primary's inductance, in henry.
    pub primary_inductance_h: Option<Valued>,
    /// Coupling between primary and secondary.
    pub coupling: Option<Valued>,
    /// What a reader should know.
    pub notes: Vec<Note>,
}
