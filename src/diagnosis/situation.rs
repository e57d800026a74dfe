//! The steps that a person may try, and their effect on a circuit.

use crate::circuit::flaws::Flaws;
use crate::circuit::wiring::TopLoad;
use crate::units::Span;

use super::fault::build::Drawn;
use super::fault::case::Case;
use super::fault::parts;
use super::quantity::Seen;

macro_rules! situations {
    ($($(#[doc = $doc:literal])* $id:ident $key:literal, $words:literal;)*) => {
        /// How the circuit stood when it was read.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Situation {
            $($(#[doc = $doc])* $id),*
        }

        impl Situation {
            /// All of them, as found first.
            pub const ALL: [Self; [$($key),*].len()] = [$(Self::$id),*];

            /// Returns the table in a file of answers.
            pub const fn key(self) -> &'static str {
                match self {
                    $(Self::$id => $key),*
                }
            }

            /// Returns it in words that follow a reading.
            pub const fn words(self) -> &'static str {
                match self {
                    $(Self::$id => $words),*
                }
            }
        }
    };
}

situations! {
    /// As it was found.
    AsFound "found", "as found";
    /// The primary's two wires swapped.
    LeadsSwapped "swapped", "primary wires swapped";
    /// Hands, lamps, metal and probes away.
    HandsAway "hands_away", "hands, lamps and metal away";
    /// A fresh battery.
    FreshBattery "fresh_battery", "fresh battery";
    /// The primary pushed onto the foot.
    PrimaryOnFoot "primary_on_foot", "primary pushed onto the foot";
    /// A ball of 10 to 20 mm on the top.
    BallOnTop "ball_on_top", "10-20 mm ball on the top";
    /// 10 kΩ beside the bias resistor for a second, and read after that.
    Nudged "nudged", "after 10 kΩ beside the bias resistor for a second";
    /// Another transistor of the same type.
    OtherTransistor "other_transistor", "another transistor of the type";
    /// A hand on the base's wire, through its insulation, or on the case: joined to the circuit while it is read. Nobody is
    /// asked to try this; somebody may have seen it.
    Touched "touched", "while a hand touches it";
}

/// The primary on the foot: coupling over that as found (chosen: the computed range of a primary 3 mm off to one that touches).
const ON_FOOT: f64 = 1.3;
/// A ball of 10 to 20 mm: its capacitance beside a coil's top, in farads (about half of 4πε₀r, 0.6 to 1.1 pF, own estimate).
const BALL_F: f64 = 0.7e-12;
/// A finger through a wire's insulation, least and most, in farads and ohm (assumed; on bare wire a body has ten times as much).
const FINGER_F: Span = Span::new(5e-12, 30e-12);
const FINGER_OHM: Span = Span::new(0.3e3, 2e3);
/// Share of the draws in which it is the wire that is touched; in the others it is the case (chosen).
const ON_WIRE: f64 = 0.5;
/// No coupling is tighter than a primary wound onto the foot's turns.
const TIGHTEST: f64 = 0.6;

impl Situation {
    /// Returns how to undo it, in words; `None` where nothing is to be undone.
    pub const fn undo(self) -> Option<&'static str> {
        match self {
            Self::LeadsSwapped => Some(
                "put the two primary wires back as they were, battery out: swapped they did not help",
            ),
            Self::FreshBattery => {
                Some("put the battery back that was in it: a fresh one did not help")
            }
            Self::PrimaryOnFoot => {
                Some("put the primary back where it was, battery out: it did not help")
            }
            Self::BallOnTop => Some("take the ball off the top, battery out: it did not help"),
            Self::AsFound
            | Self::HandsAway
            | Self::Nudged
            | Self::OtherTransistor
            | Self::Touched => None,
        }
    }

    /// Returns the case in this situation; the same where it changes nothing.
    pub fn of(self, case: &Case, drawn: &Drawn) -> Case {
        let mut changed = *case;
        let coil = &mut changed.spec.resonator;
        match self {
            Self::AsFound | Self::Nudged => {}
            Self::LeadsSwapped => coil.coupling = -coil.coupling,
            Self::HandsAway => {
                coil.load = drawn.sound.resonator.load;
                changed.flaws.base_load = None;
                changed.near = Seen::Nothing;
                changed.flaws.room = changed.flaws.room.map(|mut room| {
                    room.body = None;
                    room
                });
            }
            Self::FreshBattery => {
                changed.spec.supply.open_v = drawn.fresh_v;
                changed.spec.supply.battery_ohm = drawn.fresh_ohm;
                changed.trip = None;
                changed.weakest_v = None;
            }
            Self::PrimaryOnFoot => {
                coil.coupling = (coil.coupling * ON_FOOT).clamp(-TIGHTEST, TIGHTEST);
            }
            Self::BallOnTop => {
                let held = coil.load.unwrap_or(TopLoad {
                    farad: 0.0,
                    ohm: 0.0,
                });
                coil.load = Some(TopLoad {
                    farad: held.farad + BALL_F,
                    ..held
                });
            }
            Self::OtherTransistor => {
                changed.spec.transistor = drawn.sound.transistor;
                changed.flaws.bridge_ohm = Flaws::NONE.bridge_ohm;
            }
            Self::Touched => touch(&mut changed, drawn),
        }
        changed
    }
}

/// A hand on the circuit: a body that joins it to the room, and on the base's wire also the current that a finger takes through
/// the insulation. A circuit with a firm earth is joined to the room already: there only the wire counts.
fn touch(case: &mut Case, drawn: &Drawn) {
    let [strength, ohm, _, place] = drawn.own;
    parts::hand_on_case(case, drawn);
    if drawn.floats && place > ON_WIRE {
        return;
    }
    let between = |span: Span, share: f64| span.low + span.width() * share;
    let finger = TopLoad {
        farad: between(FINGER_F, strength),
        ohm: between(FINGER_OHM, ohm),
    };
    case.flaws.base_load.get_or_insert(finger);
    case.near = Seen::OnWire;
}
