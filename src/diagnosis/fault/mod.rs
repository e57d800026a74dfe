//! The catalogue of faults: each a change to the circuit, with its cure.

pub mod build;
pub mod case;
pub(super) mod parts;
pub mod priors;

use crate::circuit::network::Polarity;
use crate::diagnosis::quantity::Seen;
use build::{Build, Drawn};
use case::Case;

/// A part of the build that a fault belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Family {
    /// Nothing is wrong.
    Sound,
    /// The primary.
    Primary,
    /// The secondary.
    Secondary,
    /// The transistor.
    Transistor,
    /// The bias resistor.
    Bias,
    /// The diode at the base.
    Diode,
    /// Battery, switch and leads.
    Supply,
    /// Objects nearby.
    Surroundings,
    /// Something that is not in the catalogue.
    Unknown,
}

/// One thing that may be wrong.
#[derive(Debug, Clone, Copy)]
pub struct Fault {
    /// Which it is.
    pub id: FaultId,
    /// Its name in files.
    pub key: &'static str,
    /// Its part.
    pub family: Family,
    /// In words fit for a list.
    pub words: &'static str,
    /// The advice for it.
    pub cure: &'static str,
    /// Its effect on a circuit.
    pub change: fn(&mut Case, &Drawn),
}

impl Fault {
    /// Returns a drawn circuit with this fault.
    pub fn case(&self, drawn: &Drawn) -> Case {
        let mut case = Case::sound(drawn.sound);
        (self.change)(&mut case, drawn);
        case
    }

    /// Whether this build can have it and its circuit can be computed: one without a diode has no diode to turn round, and only
    /// some batteries have a converter inside. A cause outside the catalogue has no circuit.
    pub fn applies(&self, build: &Build) -> bool {
        if self.id.is_of_converter() && !build.may_have_converter {
            return false;
        }
        let drawn = build.drawn(0);
        self.family == Family::Sound || self.case(&drawn) != Case::sound(drawn.sound)
    }
}

impl FaultId {
    /// Whether only a battery with a converter inside can have it.
    pub const fn is_of_converter(self) -> bool {
        matches!(self, Self::BatteryFolds | Self::BatteryTrips)
    }
}

/// Returns the fault of that name.
pub fn fault(key: &str) -> Option<&'static Fault> {
    CATALOGUE.iter().find(|fault| fault.key == key)
}

macro_rules! catalogue {
    ($($family:ident $id:ident $key:literal $change:expr, $words:literal, $cure:literal;)*) => {
        /// Which fault of the catalogue it is; as a number, its place there.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum FaultId {
            $(#[doc = $words] $id),*
        }

        /// Every fault that is known here, the sound build first. Names and words are our own.
        pub const CATALOGUE: &[Fault] = &[$(Fault {
            id: FaultId::$id,
            key: $key,
            family: Family::$family,
            words: $words,
            cure: $cure,
            change: $change,
        }),*];
    };
}

catalogue! {
    Sound Sound "sound" |_, _| (), "nothing: the build is as it should be",
        "leave it alone";

    Primary PrimaryReversed "primary-reversed" parts::primary_reversed, "primary the wrong way round",
        "swap the two primary wires";
    Primary PrimaryFar "primary-far" |case, d| parts::coupling(case, 0.2 + 0.2 * d.own[0]), "primary too far from the foot, or too wide",
        "push the primary down over the secondary's foot";
    Primary PrimaryVeryFar "primary-very-far" |case, d| parts::coupling(case, 0.03 + 0.05 * d.own[0]), "primary hardly coupled: far up, far out or across",
        "wind it round the secondary's foot, on the same axis";
    Primary PrimaryOneTurn "primary-one-turn" |case, d| parts::primary_turns(case, d, 1.0), "primary of one turn only",
        "wind the turns that the sheet has";
    Primary PrimaryFewTurns "primary-few-turns" |case, d| parts::primary_turns(case, d, (d.primary_turns - 1.0).max(1.0)), "primary a turn short",
        "wind the turns that the sheet has";
    Primary PrimaryDouble "primary-double" |case, d| parts::primary_turns(case, d, 2.0 * d.primary_turns), "primary of twice the turns",
        "wind the turns that the sheet has";
    Primary PrimaryFourfold "primary-fourfold" |case, d| parts::primary_turns(case, d, 4.0 * d.primary_turns), "primary of four times the turns",
        "wind the turns that the sheet has";
    Primary PrimaryOpen "primary-open" parts::primary_open, "primary open: a broken wire or a joint that does not hold",
        "power off: scrape, tin and solder both ends anew";
    Primary PrimaryShorted "primary-shorted" parts::primary_shorted, "the primary's ends touch each other",
        "power off: part the bare ends";

    Secondary FootEnamel "foot-enamel" parts::foot_enamel, "enamel left on the secondary's foot joint",
        "power off: scrape the wire's end bright all round, tin it, solder it anew";
    Secondary FootCold "foot-cold" parts::foot_cold, "cold joint at the secondary's foot",
        "power off: heat the joint until the solder flows round the wire";
    Secondary FootCapacitor "foot-capacitor" parts::foot_capacitor, "a capacitor between foot and base, the diode not at the base",
        "power off: join the foot straight to the base, the diode's cathode with it";
    Secondary BrokenLow "broken-low" |case, d| parts::broken(case, d, 0.05 + 0.15 * d.own[0]), "secondary broken near the foot",
        "power off: ohms from foot to top, open says that it is broken; then unwind to the break and join it, or wind anew";
    Secondary BrokenMiddle "broken-middle" |case, d| parts::broken(case, d, 0.4 + 0.2 * d.own[0]), "secondary broken about half-way",
        "power off: ohms from foot to top, open says that it is broken; then wind anew, or use the part below the break";
    Secondary BrokenHigh "broken-high" |case, d| parts::broken(case, d, 0.8 + 0.15 * d.own[0]), "secondary broken near the top",
        "power off: ohms from foot to top, open says that it is broken; then take the part above the break off";
    Secondary QLow "q-low" |case, d| parts::quality(case, 15.0 + 15.0 * d.own[0]), "losses in the secondary: damp former, lossy varnish, metal inside",
        "dry it, take metal away, another former";
    Secondary QVeryLow "q-very-low" |case, d| parts::quality(case, 5.0 + 5.0 * d.own[0]), "heavy losses in the secondary: wet, carbon-filled former, many shorted turns",
        "another former, another winding";
    Secondary ShortedTurnMiddle "shorted-turn-middle" |case, d| parts::closed_turns(case, d, 1.0, (0.20, 0.04)), "a shorted turn in the secondary",
        "look for a scratched or crossed turn, varnish it apart, or wind anew";
    Secondary ShortedTurnLow "shorted-turn-low" |case, d| parts::closed_turns(case, d, 1.0, (0.14, 0.25)), "a shorted turn beside the primary",
        "look for a scratched or crossed turn beside the primary";
    Secondary ShortedFive "shorted-five" |case, d| parts::closed_turns(case, d, 5.0, (0.30, 0.08)), "several shorted turns in the secondary",
        "wind anew";
    Secondary TurnsFew "turns-few" |case, d| parts::secondary_turns(case, 0.65 + 0.2 * d.own[0]), "secondary of far too few turns",
        "count the turns by its ohms, wind anew";
    Secondary TurnsMany "turns-many" |case, d| parts::secondary_turns(case, 1.2 + 0.25 * d.own[0]), "secondary of far too many turns, or another wire",
        "count the turns by its ohms";

    Transistor TransistorSlow "transistor-slow" parts::slow, "transistor too slow",
        "a faster one of the same pinout";
    Transistor GainLow "gain-low" |case, d| parts::gain(case, 6.0 + 10.0 * d.own[0]), "transistor of hardly any gain: hurt, or a counterfeit",
        "another transistor";
    Transistor GainDead "gain-dead" |case, d| parts::gain(case, 1.5 + 2.5 * d.own[0]), "transistor with next to no gain: destroyed",
        "another transistor";
    Transistor LegsCe "legs-ce" |case, _| case.flaws.legs = parts::LEGS_CE, "collector and emitter exchanged",
        "power off: look the pinout up for this very case, solder it anew";
    Transistor LegsBc "legs-bc" |case, _| case.flaws.legs = parts::LEGS_BC, "base and collector exchanged",
        "power off: look the pinout up, solder it anew; it may be destroyed";
    Transistor LegsBe "legs-be" |case, _| case.flaws.legs = parts::LEGS_BE, "base and emitter exchanged",
        "power off: look the pinout up, solder it anew";
    Transistor LegsBec "legs-bec" |case, _| case.flaws.legs = parts::LEGS_BEC, "all three legs one place off, base at the collector's",
        "power off: look the pinout up, solder it anew";
    Transistor LegsEcb "legs-ecb" |case, _| case.flaws.legs = parts::LEGS_ECB, "all three legs one place off, emitter at the collector's",
        "power off: look the pinout up, solder it anew; it may be destroyed";
    Transistor Pnp "pnp" |case, _| case.flaws.polarity = Polarity::Pnp, "a PNP part in the place of the NPN",
        "power off: read its type again, put an NPN of the sheet's class in; this one may be hurt";
    Transistor EmitterOpen "emitter-open" |case, _| parts::leg_open(case, 2), "emitter joint open",
        "power off: solder the emitter to minus anew";
    Transistor BaseOpen "base-open" |case, _| parts::leg_open(case, 1), "the transistor's base leg not joined",
        "power off: solder the base leg anew";
    Transistor CollectorOpen "collector-open" |case, _| parts::leg_open(case, 0), "collector joint open",
        "power off: solder the collector to the primary anew";
    Transistor ShortCe "short-ce" |case, d| parts::bridge(case, 0, 0.2 + d.own[0]), "collector and emitter shorted",
        "another transistor, or take the solder bridge away";
    Transistor ShortCb "short-cb" |case, d| parts::bridge(case, 1, 0.2 + d.own[0]), "collector and base shorted",
        "another transistor, or take the solder bridge away";
    Transistor ShortBe "short-be" |case, d| parts::bridge(case, 2, 0.1 + 0.4 * d.own[0]), "base and emitter shorted",
        "lift one of the diode's legs and test both; another transistor";

    Bias BiasOpen "bias-open" |case, _| case.spec.bias_ohm = 1e9, "bias resistor open or not joined",
        "power off: solder it anew";
    Bias BiasTenfold "bias-tenfold" |case, d| parts::bias(case, 5.0, 15.0, d), "bias resistor ten times too large: one ring misread",
        "read its rings again, or measure it out of the circuit";
    Bias Bias1m "bias-1m" |case, d| parts::bias(case, 20.0, 130.0, d), "bias resistor some twenty to a hundred times too large",
        "read its rings again, or measure it out of the circuit";
    Bias Bias10m "bias-10m" |case, d| parts::bias(case, 300.0, 600.0, d), "bias resistor hundreds of times too large",
        "read its rings again, or measure it out of the circuit";
    Bias BiasTenth "bias-tenth" |case, d| parts::bias(case, 0.04, 0.15, d), "bias resistor a tenth of what it should be: one ring misread",
        "read its rings again, or measure it out of the circuit";
    Bias BiasHundredth "bias-hundredth" |case, d| parts::bias(case, 0.008, 0.012, d), "bias resistor a hundredth of what it should be",
        "read its rings again; the transistor becomes hot";
    Bias Squegging "squegging" parts::squegging, "it runs in bursts: a capacitor of nanofarads at the base, the bias resistor far too large",
        "take the capacitor off the base, put the sheet's bias resistor in";

    Diode DiodeReversed "diode-reversed" parts::diode_reversed, "diode at the base the wrong way round",
        "switch off at once: without it the base is driven beyond -7 V, which hurts the transistor; power off: diode test, then turn it, \
         cathode to the base";
    Diode DiodeOpen "diode-open" parts::diode_open, "diode at the base open, burnt or not joined",
        "switch off at once: without it the base is driven beyond -7 V, which hurts the transistor; power off: test it out of the circuit, \
         put another in";
    Diode DiodeShorted "diode-shorted" parts::diode_shorted, "diode at the base shorted",
        "lift one of its legs and test it and the transistor";
    Diode DiodeOther "diode-other" parts::diode_other, "silicon and light-emitting diode exchanged",
        "put the one in that the sheet has";

    Supply BatteryTired "battery-tired" |case, d| parts::battery(case, &parts::TIRED, d), "tired battery: its resistance has grown",
        "try a fresh battery: all is as at first then, or something else is wrong besides";
    Supply BatteryFlat "battery-flat" |case, d| parts::battery(case, &parts::FLAT, d), "flat battery",
        "a fresh battery";
    Supply BatteryDead "battery-dead" |case, d| parts::battery(case, &parts::DEAD, d), "dead battery",
        "a fresh battery";
    Supply BatteryFolds "battery-folds" parts::battery_folds, "USB-rechargeable battery whose converter folds back",
        "a battery without a converter";
    Supply BatteryTrips "battery-trips" parts::battery_trips, "USB-rechargeable battery whose converter switches off under the load",
        "unplug it for a moment; a battery without a converter, or a larger bias resistor and so less current";
    Supply BatteryOneReversed "battery-one-reversed" parts::one_battery_reversed, "one of the batteries in series the wrong way round",
        "power off at once: each plus to the next one's minus; read each battery's own voltage";
    Supply BatteryOneDead "battery-one-dead" parts::one_battery_dead, "one of the batteries in series dead",
        "read each battery's own voltage, all of them out, and put a fresh one in for the lowest";
    Supply BatteryReversed "battery-reversed" parts::battery_reversed, "battery clip reversed",
        "power off at once: red to plus; then test diode and transistor";
    Supply SupplyOpen "supply-open" |case, _| case.flaws.supply_ohm = 1e9, "no supply: switch, clip or wire open",
        "follow the voltage from the battery to the primary's plus end";
    Supply SupplyCold "supply-cold" |case, d| case.flaws.supply_ohm = 6.0 + 20.0 * d.own[0], "bad joint, switch or thin wire in the supply",
        "power off: solder the supply's joints anew, press the clip";
    Supply DecouplingMissing "decoupling-missing" parts::decoupling_missing, "decoupling capacitor missing or not joined",
        "put it from plus to minus beside the primary";
    Supply DecouplingLongLeads "decoupling-long-leads" parts::long_leads, "decoupling missing and long battery leads",
        "the capacitor beside the primary, the leads short";

    Supply CapacitorAtCollector "capacitor-at-collector" parts::capacitor_at_collector, "the decoupling capacitor at the collector and not at plus",
        "power off: put it from plus to minus beside the primary, nothing at the collector";
    Supply CapacitorAtBase "capacitor-at-base" parts::capacitor_at_base, "the decoupling capacitor at the base and not at plus",
        "power off: put it from plus to minus beside the primary, nothing but the diode at the base";

    Surroundings HandOnCase "hand-on-case" parts::hand_on_case, "a hand on the battery's case: it detunes and loads",
        "insulate the case; then the primary closer or a faster transistor, for there is little margin; battery and joints are sound then";
    Surroundings HandOnBase "hand-on-base" parts::hand_on_base, "a hand on the secondary's base wire or the base",
        "keep hands off the base's wiring";
    Surroundings HandNearTop "hand-near-top" |case, d| parts::top_load(case, Seen::Body, (1.2e-12 + 1.6e-12 * d.own[0], 1.5e3)), "a hand or a body too near the top",
        "step back";
    Surroundings TouchOnTop "touch-on-top" |case, d| parts::top_load(case, Seen::AtTop, (8e-12 + 12e-12 * d.own[0], 1.5e3)), "something touches the top: a finger, a wire, a damp thread",
        "power off: take it away; never touch the top";
    Surroundings LampNearTop "lamp-near-top" |case, d| parts::top_load(case, Seen::Lamp, (0.8e-12 + 1.2e-12 * d.own[0], 10e3 + 20e3 * d.own[1])), "a lamp too near the top",
        "take the lamp away, bring it near once it runs";
    Surroundings MetalOnTop "metal-on-top" |case, d| parts::top_load(case, Seen::Metal, (2e-12 + 4e-12 * d.own[0], 0.0)), "metal on or beside the top: a large ball, a shade, a stand",
        "take it away";
    Surroundings ProbeOnTop "probe-on-top" |case, d| parts::top_load(case, Seen::Probe, (9e-12 + 8e-12 * d.own[0], 100.0)), "a probe or its lead at the top",
        "power off: take it away; pick up with a stub, 5 cm of open wire, three coil lengths away";

    Unknown NoneOfThese "none-of-these" |_, _| (), "none of the faults known here explains these readings",
        "read again what fits least; then power off, battery out, and go through the build joint by joint: a solder bridge, a part of \
         another type or value, a wire in another place";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_catalogue_has_the_states_of_the_study_and_each_has_a_name_of_its_own() {
        let mut keys: Vec<_> = CATALOGUE.iter().map(|fault| fault.key).collect();
        assert!(keys.len() >= 48, "{}", keys.len());
        assert_eq!(CATALOGUE[0].family, Family::Sound);
        let unknown = CATALOGUE.iter().filter(|f| f.family == Family::Unknown);
        assert_eq!(unknown.count(), 1, "none of these is one cause");
        keys.sort_unstable();
        keys.dedup();
        assert_eq!(keys.len(), CATALOGUE.len());
    }
}
