//! A drawn circuit at rest: its bias point, whether it starts, and the readings of a meter and an eye.

use crate::circuit::bias::{Bias, METER_OHM};
use crate::circuit::startup::Startup;
use crate::circuit::wiring::Wired;

use super::unpowered::put;
use crate::diagnosis::fault::build::{Drawn, PLACES};
use crate::diagnosis::fault::case::Case;
use crate::diagnosis::quantity::{NEAR, NOTHING, Quantity, Row};

/// A lamp beside the top of a broken coil is as far from the voltage as the break lies below it. The voltage at the lamp falls
/// with this power of the share that is left (chosen: an eighth for a break half-way, as a dipole's field over twice the
/// distance).
const BEYOND_BREAK: i32 = 3;

/// A draw at rest.
pub(super) struct Resting {
    pub(super) wired: Wired,
    pub(super) row: Row,
    pub(super) small_hz: f64,
    pub(super) loaded_hz: f64,
    pub(super) open_v: f64,
    pub(super) place: [f32; PLACES],
    pub(super) starts: bool,
    pub(super) rest_a: f64,
    /// The share of the top's voltage at the place where a lamp is held.
    pub(super) seen_ratio: f64,
}

/// Bias resistance from which a meter at the base moves its own reading, in ohms: a tenth of the meter's own.
const LEAST_HIGH_OHM: f64 = 0.1 * METER_OHM;

/// Whether a meter at base or collector changes the voltage there: elsewhere it takes less than a hundredth of the current.
fn is_high_resistance(case: &Case) -> bool {
    let flaws = &case.flaws;
    let joints = [flaws.supply_ohm, flaws.primary_ohm];
    let mut all = joints.iter().chain(&flaws.leg_ohm);
    case.spec.bias_ohm >= LEAST_HIGH_OHM || all.any(|ohm| *ohm >= LEAST_HIGH_OHM)
}

/// Writes the look of a converter that tries again: each attempt lights the LED for a moment.
fn write_retries(row: &mut Row, case: &Case) {
    let period_s = case.trip.and_then(|trip| trip.period_s);
    let glows = !row[Quantity::Led.index()].is_nan();
    if glows && period_s.is_some() {
        put(row, Quantity::Blinking, period_s);
        put(row, Quantity::Led, Some(FLASH_A));
    }
}

/// Current of an LED that flashes, in amperes (chosen: anything that is called lit).
const FLASH_A: f64 = 5e-3;

/// Writes the batteries' voltages with nothing joined.
fn write_batteries(row: &mut Row, case: &Case, drawn: &Drawn) {
    let open_v = case
        .trip
        .map_or(case.spec.supply.open_v, |trip| trip.open_v);
    put(row, Quantity::BatteryOpen, Some(open_v));
    if drawn.batteries > 1 {
        let each_v = case.spec.supply.open_v.abs() / f64::from(drawn.batteries);
        let weakest_v = case.weakest_v.unwrap_or(each_v);
        put(row, Quantity::WeakestBattery, Some(weakest_v));
    }
}

/// Writes the readings and the look of a circuit at its bias point.
fn write_rest(row: &mut Row, case: &Case, wired: &Wired, bias: &Bias) {
    let supply_a = -bias.branch_a(wired.probes.battery);
    put(row, Quantity::Current, Some(supply_a));
    let is_high = is_high_resistance(case);
    let read = |node| {
        let metered = is_high.then(|| bias.read_v(node));
        metered.flatten().or_else(|| Some(bias.node_v(node)))
    };
    put(row, Quantity::Battery, Some(bias.node_v(wired.probes.plus)));
    put(row, Quantity::Base, read(wired.probes.base));
    put(row, Quantity::Collector, read(wired.probes.collector));
    // Silicon never glows, whatever flows.
    let glows = case.spec.base_diode.is_none_or(|diode| diode.gives_light());
    let diode = wired.probes.base_diode.filter(|_| glows);
    let lit = diode.map(|id| bias.diode_a(id));
    put(row, Quantity::Led, lit);
    let heat = bias.node_v(wired.probes.collector) * bias.branch_a(wired.probes.primary);
    put(row, Quantity::Heat, Some(heat.max(0.0)));
    put(row, Quantity::Lamp, Some(0.0));
    put(row, Quantity::Bursts, Some(0.0));
}

/// Returns a draw at rest with the meter readings while nothing oscillates.
pub(super) fn at_rest(case: &Case, drawn: &Drawn) -> Resting {
    let (wired, _) = case.wired();
    let mut row = NOTHING;
    let supply = &case.spec.supply;
    let mut small_hz = case.spec.resonator.loaded_hz();
    let mut starts = false;
    let mut rest_a = 0.0;
    write_batteries(&mut row, case, drawn);
    let near = NEAR.iter().position(|near| *near == case.near);
    put(&mut row, Quantity::Near, near.map(|place| place as f64));
    if let Ok(mut bias) = Bias::find(&wired.network) {
        rest_a = -bias.branch_a(wired.probes.battery);
        write_rest(&mut row, case, &wired, &bias);
        if let Ok(startup) = Startup::at(&mut bias) {
            starts = startup.starts();
            small_hz = startup.frequency_hz;
        }
    }
    write_retries(&mut row, case);
    // All resistance between the source and the place where a meter reads the battery: its clips.
    put(&mut row, Quantity::BatteryOhm, Some(supply.battery_ohm));
    Resting {
        loaded_hz: case.spec.resonator.loaded_hz(),
        open_v: supply.open_v,
        place: drawn.place,
        wired,
        row,
        small_hz,
        starts,
        rest_a,
        seen_ratio: case
            .flaws
            .broken_at
            .map_or(1.0, |share| share.powi(BEYOND_BREAK)),
    }
}
