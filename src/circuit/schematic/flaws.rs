//! A circuit built otherwise than drawn, or broken: faults that no other value of a part can express.
//!
//! Every flaw is a change to the network, so that a person's readings on it are computed and not looked up.

use super::network::{
    Branch, BranchId, Course, DiodeId, GROUND, Network, Node, PlacedTransistor, Polarity,
    TransistorId,
};
use super::wiring::{BIAS_NAME, CircuitSpec, Decoupling, Probes, TopLoad, Wired};
use crate::circuit::diode::{Breakdown, Diode};
use crate::circuit::junction::Depletion;

/// A joint that does not conduct, in ohms (chosen: a thousand times the resistance that a handheld meter calls open).
pub const OPEN_OHM: f64 = 1e9;

/// The capacitance of a wire's free end to its surroundings, in farads (assumed).
const FREE_END_F: f64 = 2e-12;

/// A leg of a transistor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Leg {
    /// Collector.
    Collector,
    /// Base.
    Base,
    /// Emitter.
    Emitter,
}

/// The fate of the diode at the base.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DiodeFlaw {
    /// Nothing.
    None,
    /// It stands the wrong way round.
    Reversed,
    /// It conducts both ways.
    Shorted,
}

/// A winding closed in itself: turns of the secondary whose enamel gave way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClosedTurns {
    /// Inductance, in henries.
    pub henry: f64,
    /// Resistance at the resonance, in ohms.
    pub ohm: f64,
    /// Coupling factor to the secondary.
    pub to_secondary: f64,
    /// Coupling factor to the primary.
    pub to_primary: f64,
}

/// The room around a circuit without firm earth: the top's field ends on it, and so does the circuit's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Room {
    /// From the lumped coil's top to the room, in farads.
    pub top_f: f64,
    /// From the circuit's minus to the room, in farads.
    pub circuit_f: f64,
    /// A body that joins both.
    pub body: Option<TopLoad>,
}

/// The departures from the drawing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flaws {
    /// The leg that stands where collector, base and emitter belong.
    pub legs: [Leg; 3],
    /// Which way the transistor's currents flow.
    pub polarity: Polarity,
    /// Resistance of the joints at these three places, in ohms.
    pub leg_ohm: [f64; 3],
    /// Resistance inside the transistor from collector to emitter, from collector to base, from base to emitter, in ohms.
    pub bridge_ohm: [Option<f64>; 3],
    /// Resistance between the battery's clips and the circuit, in ohms.
    pub supply_ohm: f64,
    /// Resistance between the primary and the collector, in ohms.
    pub primary_ohm: f64,
    /// Resistance across the primary, in ohms.
    pub across_primary_ohm: Option<f64>,
    /// Resistance between the base and the secondary's foot, in ohms.
    pub foot_ohm: f64,
    /// A capacitor in the same place, in farads.
    pub foot_f: Option<f64>,
    /// The diode at the base.
    pub diode: DiodeFlaw,
    /// Share of the secondary, from the foot, after which its wire is broken; the circuit's coil is that share alone.
    pub broken_at: Option<f64>,
    /// Shorted turns of the secondary.
    pub closed_turns: Option<ClosedTurns>,
    /// A circuit that floats.
    pub room: Option<Room>,
    /// The part at the base.
    pub base_load: Option<TopLoad>,
}

impl Flaws {
    /// As drawn.
    pub const NONE: Self = Self {
        legs: [Leg::Collector, Leg::Base, Leg::Emitter],
        polarity: Polarity::Npn,
        leg_ohm: [0.0; 3],
        bridge_ohm: [None; 3],
        supply_ohm: 0.0,
        primary_ohm: 0.0,
        across_primary_ohm: None,
        foot_ohm: 0.0,
        foot_f: None,
        diode: DiodeFlaw::None,
        broken_at: None,
        closed_turns: None,
        room: None,
        base_load: None,
    };
}

/// Places of a network where a meter is held, beside those a running circuit is read at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Places {
    /// The supply rail behind the battery's leads.
    pub rail: Node,
    /// The secondary's wire just behind its joint at the base.
    pub foot: Node,
    /// The end of the secondary's wire at the top.
    pub wire_end: Node,
}

/// Returns the breakdown of a junction as a diode of its own (steepness and resistance assumed).
fn breakdown(voltage_v: f64) -> Diode {
    Diode {
        saturation_a: 1e-18,
        ideality: 1.0,
        series_ohm: 2.0,
        depletion: Depletion::NONE,
        transit_s: 0.0,
        breakdown: Some(Breakdown {
            voltage_v,
            current_a: 1e-3,
        }),
    }
}

impl CircuitSpec {
    /// Returns the network of this circuit as drawn, switched on at time zero.
    pub fn wired(&self) -> Wired {
        self.wired_with(&Flaws::NONE).0
    }

    /// Returns the network of this circuit with its flaws, switched on at time zero.
    pub fn wired_with(&self, flaws: &Flaws) -> (Wired, Places) {
        let mut n = Network::default();
        let (plus, rail) = (n.node("plus"), n.node("rail"));
        let (collector, base, top) = (n.node("c"), n.node("b"), n.node("top"));
        let supply = &self.supply;
        let battery = n.branch(Branch {
            name: "BAT".to_owned(),
            ends: (plus, GROUND),
            source: Some(Course::switched_on(supply.open_v)),
            ohm: supply.battery_ohm,
            henry: 0.0,
        });
        let lead_ohm = supply.lead_ohm + flaws.supply_ohm;
        n.winding("LEAD", (plus, rail), lead_ohm, supply.lead_h);
        if let Some(Decoupling { farad, series_ohm }) = supply.decoupling {
            shunt(&mut n, "DEC", rail, farad, series_ohm);
        }
        n.capacitor("RAIL", (rail, GROUND), self.strays.supply_f);
        let primary = n.winding(
            "PRI",
            (rail, collector),
            self.primary.ohm + flaws.primary_ohm,
            self.primary.henry,
        );
        if let Some(ohm) = flaws.across_primary_ohm {
            n.resistor("ACROSS", (rail, collector), ohm);
        }
        n.capacitor("COL", (collector, GROUND), self.strays.collector_f);
        n.resistor(BIAS_NAME, (rail, base), self.bias_ohm);
        n.capacitor("BASE", (base, GROUND), self.strays.base_f);
        if let Some(load) = flaws.base_load {
            shunt(&mut n, "HELD", base, load.farad, load.ohm);
        }
        let foot = foot(&mut n, base, flaws);
        let (secondary, wire_end) = self.secondary(&mut n, (foot, top), primary, flaws);
        let (transistor, breakdowns) = self.place_transistor(&mut n, (collector, base), flaws);
        let base_diode = self.base_diode.map(|diode| {
            let ends = match flaws.diode {
                DiodeFlaw::Reversed => (base, GROUND),
                DiodeFlaw::None | DiodeFlaw::Shorted => (GROUND, base),
            };
            n.diode("LED", ends, diode)
        });
        if flaws.diode == DiodeFlaw::Shorted {
            n.resistor("LED", (base, GROUND), 0.1);
        }
        let wired = Wired {
            network: n,
            probes: Probes {
                battery,
                plus,
                base,
                collector,
                top,
                primary,
                secondary,
                base_diode,
                transistor,
                breakdowns,
                foot_to_top: self.resonator.foot_to_top,
            },
            transistor,
        };
        (
            wired,
            Places {
                rail,
                foot,
                wire_end,
            },
        )
    }

    /// Returns the secondary from foot to top with all that its field meets.
    ///
    /// Of a broken wire the circuit's own coil is the part below the break; the rest of the wire is taken to be silent.
    fn secondary(
        &self,
        n: &mut Network,
        (foot, top): (Node, Node),
        primary: BranchId,
        flaws: &Flaws,
    ) -> (BranchId, Node) {
        let coil = &self.resonator;
        let secondary = n.winding("SEC", (foot, top), coil.ohm(), coil.henry);
        n.couple((primary, secondary), coil.coupling);
        let mut top_f = coil.farad;
        if let Some(room) = flaws.room {
            // The capacitance to the room by way of the circuit's own is part of the resonator's.
            top_f -= room.top_f * room.circuit_f / (room.top_f + room.circuit_f);
            let around = n.node("room");
            n.capacitor("ROOM", (top, around), room.top_f);
            n.capacitor("CASE", (around, GROUND), room.circuit_f);
            n.resistor("ROOM", (around, GROUND), OPEN_OHM);
            if let Some(body) = room.body {
                shunt(n, "BODY", around, body.farad, body.ohm);
            }
        }
        n.capacitor("TOP", (top, GROUND), top_f);
        if let Some(load) = coil.load {
            // At the lumped coil's lower voltage the load has to take the same power and charge.
            let square = coil.foot_to_top * coil.foot_to_top;
            shunt(n, "LOAD", top, load.farad * square, load.ohm / square);
        }
        if let Some(turns) = flaws.closed_turns {
            let ring = n.node("turns");
            let closed = n.winding("TURNS", (ring, GROUND), turns.ohm, turns.henry);
            n.winding("CLOSED", (ring, GROUND), 1e-4, 0.0);
            n.couple((secondary, closed), turns.to_secondary);
            n.couple((primary, closed), turns.to_primary);
        }
        if flaws.broken_at.is_none() {
            return (secondary, top);
        }
        let end = n.node("end");
        n.resistor("BREAK", (top, end), OPEN_OHM);
        n.capacitor("END", (end, GROUND), FREE_END_F);
        (secondary, end)
    }

    /// Returns the transistor with its legs where they were soldered.
    fn place_transistor(
        &self,
        n: &mut Network,
        (collector, base): (Node, Node),
        flaws: &Flaws,
    ) -> (TransistorId, [DiodeId; 2]) {
        let places = [(collector, "leg_c"), (base, "leg_b"), (GROUND, "leg_e")];
        let mut legs = [GROUND; 3];
        for (((place, name), leg), ohm) in places.into_iter().zip(flaws.legs).zip(flaws.leg_ohm) {
            let node = if ohm > 0.0 {
                let inner = n.node(name);
                n.resistor(&name.to_uppercase(), (place, inner), ohm);
                inner
            } else {
                place
            };
            match leg {
                Leg::Collector => legs[0] = node,
                Leg::Base => legs[1] = node,
                Leg::Emitter => legs[2] = node,
            }
        }
        let [collector, base, emitter] = legs;
        let transistor = n.transistor(PlacedTransistor {
            name: "1".to_owned(),
            collector,
            base,
            emitter,
            polarity: flaws.polarity,
            transistor: self.transistor.model,
        });
        // Both junctions conduct away from an NPN transistor's base, and towards a PNP one's.
        let junction = |other: Node| match flaws.polarity {
            Polarity::Npn => (base, other),
            Polarity::Pnp => (other, base),
        };
        let reverse = breakdown(self.transistor.emitter_breakdown_v);
        let emitter_gives = n.diode("BE", junction(emitter), reverse);
        let clamp = breakdown(self.transistor.collector_breakdown_v);
        let collector_gives = n.diode("BC", junction(collector), clamp);
        let ends = [
            ("CE", (collector, emitter)),
            ("CB", (collector, base)),
            ("BE", (base, emitter)),
        ];
        for ((name, ends), ohm) in ends.into_iter().zip(flaws.bridge_ohm) {
            if let Some(ohm) = ohm {
                n.resistor(name, ends, ohm);
            }
        }
        (transistor, [emitter_gives, collector_gives])
    }
}

/// Returns the node of the secondary's wire behind its joint at the base.
fn foot(n: &mut Network, base: Node, flaws: &Flaws) -> Node {
    if flaws.foot_ohm <= 0.0 && flaws.foot_f.is_none() {
        return base;
    }
    let foot = n.node("foot");
    n.capacitor("FOOT", (foot, GROUND), FREE_END_F);
    match flaws.foot_f {
        Some(farad) => {
            n.capacitor("SERIES", (base, foot), farad);
            n.resistor("SERIES", (base, foot), OPEN_OHM);
        }
        None => n.resistor("FOOT", (base, foot), flaws.foot_ohm),
    }
    foot
}

/// Capacitance to ground through a resistance, which may be nothing.
fn shunt(network: &mut Network, name: &str, from: Node, farad: f64, ohm: f64) {
    if ohm > 0.0 {
        let between = network.node(&name.to_lowercase());
        network.capacitor(name, (from, between), farad);
        network.resistor(name, (between, GROUND), ohm);
    } else {
        network.capacitor(name, (from, GROUND), farad);
    }
}
