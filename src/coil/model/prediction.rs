//! A prediction as a value: every number with its origin, the resonance with the basis of its band.

use std::fmt;

use super::band::{Part, Sensitivity};
use crate::coil::Resonance;
use crate::coil::losses::ohms::TurnsByOhms;
use crate::coil::proximity::Crowding;
use crate::coil::rings::RingError;
use crate::coil::surroundings::USUAL_CIRCUIT_M;
use crate::units::{Unit, rounded};

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
    /// The capacitance that resonates with the inductance, by the ring model: another for each surroundings.
    Resonance,
    /// The same, as measured.
    MeasuredResonance,
    /// The same, as a measured frequency asks for.
    FromFrequency,
}

/// The basis of a resonance's band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BandBasis {
    /// The parts that are listed.
    Parts,
    /// The same, beside a measured inductance.
    PartsAndInductance,
    /// The computed inductance, beside a measured capacitance.
    ComputedInductance,
    /// The tolerance that the person gave for the measured frequency.
    Stated,
    /// Nothing: the values are measured and no tolerance was given.
    NoneGiven,
}

impl fmt::Display for BandBasis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Parts => "the parts below",
            Self::PartsAndInductance => "the parts below, beside the measured inductance",
            Self::ComputedInductance => "1 % on the computed inductance",
            Self::Stated => "the tolerance given for the measured frequency",
            Self::NoneGiven => "the measured values alone, for which no tolerance was given",
        })
    }
}

/// The coil as a circuit sees it at the foot: two elements that resonate as it does.
///
/// Not the inductance for slow currents: the current falls towards the top, so the circuit sees 0.55 to 0.75 of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtFoot {
    /// Inductance, in henries.
    pub inductance_h: f64,
    /// Capacitance, in farads.
    pub capacitance_f: f64,
    /// Mutual inductance with the primary, in henries.
    pub mutual_h: f64,
    /// Coupling with the primary.
    pub coupling: f64,
    /// Voltage from foot to top over that across the two elements.
    pub top_factor: f64,
    /// Voltage from foot to top over the current at the foot, both amplitudes or both effective, in volts per ampere.
    pub top_v_per_a: f64,
    /// The foot's own voltage against earth over the top's; negative where the circuit floats.
    pub foot_share: f64,
}

/// A resonance of the bare coil, by how it would be measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Terminal {
    /// How.
    pub how: Probing,
    /// The resonance, in hertz.
    pub frequency_hz: f64,
    /// The same with [`CLIP_F`] from the open end to earth, in hertz; `None` where nothing is clipped to an open end.
    pub clipped_hz: Option<f64>,
}

/// Capacitance of a clip and its lead on a coil's open end, in farads: chosen, a short clip without a probe.
pub const CLIP_F: f64 = 1e-12;

/// How a coil's own resonance is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Probing {
    /// A loosely coupled loop or a balanced instrument that floats, both ends open.
    BothOpen,
    /// An analyser with its earth clip at the foot and its other at the top: the peak of the impedance.
    FootClipped,
    /// The same with its earth clip at the top.
    TopClipped,
    /// Both clips, the dip of the impedance: both ends are at earth then.
    BothEarthed,
}

impl Probing {
    /// Returns it in words fit for a report.
    pub fn words(self) -> &'static str {
        match self {
            Self::BothOpen => "both ends open, loose coupling loop",
            Self::FootClipped => "foot on the instrument's earth, top open: impedance peak",
            Self::TopClipped => "top on the instrument's earth, foot open: impedance peak",
            Self::BothEarthed => "both ends on the instrument: impedance dip",
        }
    }
}

/// The handbook's resonance.
#[derive(Debug, Clone, PartialEq)]
pub struct Handbook {
    /// The resonance, with the band of its published comparison.
    pub resonance: Resonance,
    /// The self-capacitance it takes from the table, in farads.
    pub capacitance_f: f64,
}

/// Something a reader of the prediction should know.
#[derive(Debug, Clone, PartialEq)]
pub enum Note {
    /// The reason why the model could not compute, in words; measured values stand in its place.
    NotComputed(RingError),
    /// The circuit floats and its size is not given.
    CircuitSizeNotTold,
    /// The measured resistance does not go with the sheet's turns.
    OhmsDisagree,
    /// No measured flat spiral or cone of known geometry was found to check against.
    NoMeasuredCoilOfThisShape,
    /// The coupling is so close that two peaks are to be expected.
    SplitPeaks,
    /// The resonance depends on the data of the plane more than on all else.
    PlaneNearerThanRadius,
    /// The foot of a flat spiral is its inner end.
    InnerEndAtFoot,
    /// The metal of circuit and battery under a coil that is no cylinder also carries eddy currents.
    EddyCurrents,
    /// The turns are so far apart that the crowding table says nothing.
    CrowdingNotTabulated {
        /// Pitch over wire.
        pitch_over_wire: f64,
    },
    /// No table or formula for the crowding of turns on this shape was found.
    CrowdingUnknownForShape,
    /// The Q is that of the copper.
    QOfCopperAlone,
    /// The coupling is for the same current in every turn.
    CouplingUniform,
    /// The primary is inside the secondary.
    PrimaryInside,
    /// The primary's leads are not in its inductance.
    PrimaryWithoutLeads,
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotComputed(error) => write!(f, "not computed: {error}"),
            Self::CircuitSizeNotTold => write!(
                f,
                "foot: the circuit floats and usual.circuit_size is not given; a disc of {} is taken for it",
                rounded(USUAL_CIRCUIT_M, Unit::Metre, 2)
            ),
            Self::OhmsDisagree => f.write_str(
                "turns: the measured ohms ask for another number than the sheet's; count again before the glue, or is it warm, \
                 shorted, another wire?",
            ),
            Self::NoMeasuredCoilOfThisShape => f.write_str(
                "resonance: checked against full-wave runs and closed forms, not against a measured coil of this shape",
            ),
            Self::SplitPeaks => f.write_str(
                "coupling: above 0.35 the primary may split the resonance in two peaks",
            ),
            Self::PlaneNearerThanRadius => f.write_str(
                "resonance: a flat coil nearer to a plane than its radius depends on what that plane is; say table or metal",
            ),
            Self::InnerEndAtFoot => f.write_str(
                "foot: the spiral's inner end is at the base, so its hot outer end lies next to the primary: the resonance is \
                 lower and a spark may jump there; the outer end at the base is usual",
            ),
            Self::EddyCurrents => f.write_str(
                "resonance: metal of circuit and battery under the coil is counted for its charge alone; if it is wide and \
                 whole, its eddy currents raise the resonance up to the band's upper edge; keep it out from under the coil",
            ),
            Self::CrowdingNotTabulated { pitch_over_wire } => write!(
                f,
                "resistance at resonance: turns {pitch_over_wire:.1} wires apart are outside the table (1 to 10)"
            ),
            Self::CrowdingUnknownForShape => f.write_str(
                "Q: how close turns raise the copper's resistance is tabulated for cylinders alone, so only its upper end is \
                 known here; measure it and give measured.q",
            ),
            Self::QOfCopperAlone => f.write_str(
                "Q: the copper alone at 20 °C; former, enamel, lamp and transistor lower it",
            ),
            Self::CouplingUniform => f.write_str(
                "coupling: for the same current in every turn; the mode's own is listed with what the circuit sees",
            ),
            Self::PrimaryInside => f.write_str(
                "primary: inside the secondary's turns, from where its own wire must come out; is that meant?",
            ),
            Self::PrimaryWithoutLeads => f.write_str("primary: its leads are not counted"),
        }
    }
}

/// The results of the ring model beside the resonance that it gave.
#[derive(Debug, Clone, PartialEq)]
pub struct Modelled {
    /// The band's parts, each as if the others were none.
    pub parts: Vec<Part>,
    /// The next resonance, in hertz.
    pub next_hz: f64,
    /// The one after that, in hertz.
    pub third_hz: f64,
    /// The capacitance of a linear voltage from foot to top, in farads: the value of slow measurements.
    pub linear_f: f64,
    /// The capacitance of the whole winding at one potential, in farads.
    pub one_potential_f: f64,
    /// The bare coil's resonances by how they would be measured.
    pub terminals: Vec<Terminal>,
    /// The changes of the resonance if a measure is off.
    pub sensitivities: Vec<Sensitivity>,
    /// The handbook's resonance; `None` where it gives none.
    pub handbook: Option<Handbook>,
}

/// The expected behaviour of a build.
#[derive(Debug, Clone, PartialEq)]
pub struct Prediction {
    /// The resonance with its band.
    pub resonance: Resonance,
    /// The basis of the band.
    pub band: BandBasis,
    /// The values that go with the model's own resonance; `None` where measured values gave it.
    pub modelled: Option<Modelled>,
    /// The secondary's inductance, in henries; at high frequency if computed.
    pub inductance_h: Option<Valued>,
    /// The secondary's capacitance, in farads.
    pub capacitance_f: Option<f64>,
    /// Which capacitance that is.
    pub capacitance_kind: Option<CapacitanceKind>,
    /// The coil as the circuit sees it.
    pub at_foot: Option<AtFoot>,
    /// Length of the secondary's wire, in metres.
    pub wire_length_m: f64,
    /// Mass of the secondary's copper, in kilograms.
    pub copper_mass_kg: f64,
    /// The secondary's resistance to direct current at 20 °C, in ohms.
    pub resistance_dc_ohm: f64,
    /// The turns that a measured resistance asks for; `None` without one.
    pub turns_by_ohms: Option<TurnsByOhms>,
    /// The secondary's resistance at resonance, in ohms; from the Q where that was measured.
    pub resistance_ohm: Option<Valued>,
    /// Which form gives that resistance if it is computed.
    pub crowding: Crowding,
    /// The same by Dowell's layer, a second method, in ohms; `None` where it says nothing or the first was measured.
    pub layer_ohm: Option<f64>,
    /// The most that the quality factor can be, by skin effect alone; `None` where [`Self::q`] is known.
    pub q_most: Option<f64>,
    /// Quality factor: of the copper alone if computed, as built if measured.
    pub q: Option<Valued>,
    /// The primary's inductance, in henries.
    pub primary_inductance_h: Option<Valued>,
    /// Coupling between primary and secondary, for the same current in every turn if computed.
    pub coupling: Option<Valued>,
    /// Notes that a reader should know.
    pub notes: Vec<Note>,
}
