//! The readings of a meter and a ring test with the battery out, computed from the faulted circuit itself.

use std::f64::consts::PI;

use crate::circuit::bias::Bias;
use crate::circuit::flaws::{DiodeFlaw, OPEN_OHM, Places};
use crate::circuit::network::{Branch, Course, GROUND, Network, Node};
use crate::circuit::startup::Startup;
use crate::circuit::wiring::{Probes, Wired};

use crate::diagnosis::fault::build::Drawn;
use crate::diagnosis::fault::case::Case;
use crate::diagnosis::quantity::{Quantity, Row};

/// A meter: open voltage and inner resistance.
#[derive(Debug, Clone, Copy)]
struct Meter {
    open_v: f64,
    ohm: f64,
}

/// Measuring resistance: too little voltage for a junction to conduct.
const OHMMETER: Meter = Meter {
    open_v: 0.2,
    ohm: 1e3,
};
/// Testing a diode: about a milliampere into a silicon junction (chosen, as handheld meters do).
const DIODE_TESTER: Meter = Meter {
    open_v: 3.0,
    ohm: 2.3e3,
};

/// From a meter's leads to all around (chosen: far above any reading, far below a computer's loss of digits).
const INSULATION_OHM: f64 = 1e8;

/// Returns the voltage between a meter's red and black lead; `None` where no circuit closes.
fn shown_v(network: &Network, (red, black): (Node, Node), meter: Meter) -> Option<f64> {
    let mut measured = network.clone();
    // A meter is no better insulated, and a circuit without battery must be tied to something.
    measured.resistor("RED", (red, GROUND), INSULATION_OHM);
    measured.resistor("BLACK", (black, GROUND), INSULATION_OHM);
    measured.branch(Branch {
        name: "METER".to_owned(),
        ends: (red, black),
        source: Some(Course(vec![(0.0, meter.open_v)])),
        ohm: meter.ohm,
        henry: 0.0,
    });
    let bias = Bias::find(&measured).ok()?;
    Some(bias.node_v(red) - bias.node_v(black))
}

/// Returns the resistance an ohmmeter shows, in ohms.
fn shown_ohm(network: &Network, leads: (Node, Node)) -> Option<f64> {
    let volt = shown_v(network, leads, OHMMETER)?;
    let part = volt / OHMMETER.open_v;
    Some((OHMMETER.ohm * part / (1.0 - part).max(1e-9)).clamp(0.0, OPEN_OHM))
}

/// Writes a meter's readings on the circuit without its battery.
pub(super) fn measure(case: &Case, drawn: &Drawn, row: &mut Row) {
    let (mut wired, places) = case.wired();
    take_battery_out(&mut wired, case, drawn);
    let network = &wired.network;
    let Probes {
        base, collector, ..
    } = wired.probes;
    let Places {
        rail,
        foot,
        wire_end,
    } = places;
    let mut set = |quantity: Quantity, value: Option<f64>| {
        put(row, quantity, value);
    };
    set(Quantity::FootToTop, shown_ohm(network, (base, wire_end)));
    set(Quantity::WireToTop, shown_ohm(network, (foot, wire_end)));
    set(Quantity::Primary, shown_ohm(network, (rail, collector)));
    set(Quantity::Bias, shown_ohm(network, (rail, base)));
    let test = |leads| shown_v(network, leads, DIODE_TESTER);
    set(Quantity::BaseTest, test((base, GROUND)));
    set(Quantity::BaseTestBack, test((GROUND, base)));
    set(Quantity::CollectorTest, test((base, collector)));
    set(Quantity::AcrossTest, test((collector, GROUND)));
    set(Quantity::LedTest, Some(diode_alone_v(case)));
}

/// Returns a diode test of the base's diode by itself, in volts.
fn diode_alone_v(case: &Case) -> f64 {
    let Some(diode) = case.spec.base_diode else {
        return DIODE_TESTER.open_v;
    };
    if case.flaws.diode == DiodeFlaw::Shorted {
        return 0.0;
    }
    let mut alone = Network::default();
    let anode = alone.node("a");
    alone.diode("LED", (anode, GROUND), diode);
    shown_v(&alone, (anode, GROUND), DIODE_TESTER).unwrap_or(DIODE_TESTER.open_v)
}

/// Writes how the secondary rings when it is pinged.
pub(super) fn ring(case: &Case, drawn: &Drawn, row: &mut Row) {
    let (mut wired, _) = case.wired();
    let rf_ohm = secondary_ohm(&mut wired);
    take_battery_out(&mut wired, case, drawn);
    set_secondary_ohm(&mut wired, rf_ohm);
    let rung = Bias::find(&wired.network)
        .ok()
        .and_then(|mut bias| Startup::lowest_ring(&mut bias).ok());
    if let Some(rung) = rung {
        put(row, Quantity::RingFrequency, Some(rung.frequency_hz));
        let q = PI * rung.frequency_hz / rung.growth_per_s.abs().max(1.0);
        put(row, Quantity::RingQ, Some(q));
    }
}

/// Writes a number into a row.
#[expect(
    clippy::cast_possible_truncation,
    reason = "seven digits are more than any reading here has"
)]
pub(super) fn put(row: &mut Row, quantity: Quantity, value: Option<f64>) {
    if let (Some(slot), Some(value)) = (row.get_mut(quantity.index()), value) {
        *slot = value as f32;
    }
}

fn secondary_ohm(wired: &mut Wired) -> f64 {
    let id = wired.probes.secondary;
    wired
        .network
        .branch_mut(id)
        .map_or(0.0, |branch| branch.ohm)
}

fn set_secondary_ohm(wired: &mut Wired, ohm: f64) {
    let id = wired.probes.secondary;
    if let Some(branch) = wired.network.branch_mut(id) {
        branch.ohm = ohm;
    }
}

/// The battery unplugged; the secondary with its resistance to direct current.
fn take_battery_out(wired: &mut Wired, case: &Case, drawn: &Drawn) {
    let id = wired.probes.battery;
    if let Some(battery) = wired.network.branch_mut(id) {
        battery.source = None;
        battery.ohm = OPEN_OHM;
    }
    let share = case.flaws.broken_at.unwrap_or(1.0);
    let dc_ohm = drawn.secondary_dc_ohm * case.dc_ratio * share;
    set_secondary_ohm(wired, dc_ohm);
}
