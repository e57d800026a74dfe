//! The effects of the catalogue's faults on a circuit. Figures without a source are assumed, near the fault study's.

use crate::circuit::flaws::{ClosedTurns, DiodeFlaw, Leg, OPEN_OHM, Room};
use crate::circuit::sets::{LED, SILICON};
use crate::circuit::wiring::{PrimaryCoil, TopLoad};

use super::build::Drawn;
use super::case::{Case, Trip};
use crate::diagnosis::quantity::Seen;
use crate::units::Span;

use Leg::{Base, Collector, Emitter};

pub(super) const LEGS_CE: [Leg; 3] = [Emitter, Base, Collector];
pub(super) const LEGS_BC: [Leg; 3] = [Base, Collector, Emitter];
pub(super) const LEGS_BE: [Leg; 3] = [Collector, Emitter, Base];
pub(super) const LEGS_BEC: [Leg; 3] = [Base, Emitter, Collector];
pub(super) const LEGS_ECB: [Leg; 3] = [Emitter, Collector, Base];

/// A body: 100 pF behind 1.5 kΩ, the human-body model of ANSI/ESDA/JEDEC JS-001 (from memory).
const BODY: TopLoad = TopLoad {
    farad: 100e-12,
    ohm: 1.5e3,
};
/// From a floating circuit and its battery to the room, in farads (assumed).
const CIRCUIT_TO_ROOM_F: f64 = 5e-12;
/// Share of the top's capacitance that ends on the room (assumed).
const TOP_TO_ROOM: f64 = 0.43;

fn between(low: f64, high: f64, share: f64) -> f64 {
    low + (high - low) * share
}

pub(super) fn primary_reversed(case: &mut Case, _: &Drawn) {
    case.spec.resonator.coupling = -case.spec.resonator.coupling;
}

pub(super) fn coupling(case: &mut Case, share: f64) {
    case.spec.resonator.coupling *= share;
}

/// Another number of turns in the primary: the inductance goes as turns to the power of 1.7, the coupling a little up with them.
///
/// The power lies between that of a close winding, 2, and of turns apart, 1; 1.7 and the coupling's 0.12 are those of the
/// fault study's primaries of 1, 2, 3, 6 and 12 turns (0.09 to 6 µH, 0.15 to 0.24).
pub(super) fn primary_turns(case: &mut Case, drawn: &Drawn, turns: f64) {
    let ratio = turns / drawn.primary_turns;
    let primary = case.spec.primary;
    case.spec.primary = PrimaryCoil {
        henry: primary.henry * ratio.powf(1.7),
        ohm: primary.ohm * ratio,
    };
    case.spec.resonator.coupling *= ratio.powf(0.12);
}

pub(super) fn primary_open(case: &mut Case, _: &Drawn) {
    case.flaws.primary_ohm = OPEN_OHM;
}

pub(super) fn primary_shorted(case: &mut Case, _: &Drawn) {
    case.flaws.across_primary_ohm = Some(0.02);
}

pub(super) fn foot_enamel(case: &mut Case, _: &Drawn) {
    case.flaws.foot_ohm = OPEN_OHM;
}

pub(super) fn foot_cold(case: &mut Case, drawn: &Drawn) {
    // From a few coil resistances to a few kilohm, by ratios.
    case.flaws.foot_ohm = 150.0 * 20.0_f64.powf(drawn.own[0]);
}

pub(super) fn foot_capacitor(case: &mut Case, drawn: &Drawn) {
    case.flaws.foot_f = Some(1e-9 * 10.0_f64.powf(drawn.own[0]));
    case.spec.base_diode = None;
}

/// How the part left below a break differs from the whole coil, as powers of its share, from two sources. The first is the ring
/// model of `coil` for the build of the samples with a half to a quarter of its turns. For a half its mode's inductance is 0.47,
/// capacitance 0.74, coupling 1.39 and quality factor 1.14 of the whole one's. The second is the fault study's half coil: 300 to
/// 120 µH, 7 to 4.5 pF, 0.20 to 0.28, the same quality factor.
///
/// The part above the break is taken to be silent: it makes the true coil ring somewhat lower than the first of both.
struct Left {
    henry: f64,
    farad: f64,
    coupling: f64,
    q: f64,
}

const LEFT_BY_RINGS: Left = Left {
    henry: 1.10,
    farad: 0.40,
    coupling: -0.46,
    q: -0.17,
};
const LEFT_BY_STUDY: Left = Left {
    henry: 1.322,
    farad: 0.637,
    coupling: -0.485,
    q: 0.0,
};

/// A broken wire: the share of the coil below the break goes on alone, somewhere between both.
pub(super) fn broken(case: &mut Case, drawn: &Drawn, share: f64) {
    case.flaws.broken_at = Some(share);
    let left = |get: fn(&Left) -> f64| {
        share.powf(between(
            get(&LEFT_BY_RINGS),
            get(&LEFT_BY_STUDY),
            drawn.own[1],
        ))
    };
    let coil = &mut case.spec.resonator;
    coil.henry *= left(|left| left.henry);
    coil.farad *= left(|left| left.farad);
    coil.q *= left(|left| left.q);
    coil.coupling = (coil.coupling * left(|left| left.coupling)).clamp(-0.9, 0.9);
}

pub(super) fn quality(case: &mut Case, q: f64) {
    case.spec.resonator.q = q.min(case.spec.resonator.q);
}

/// Shorted turns as a closed loop: one of 40 nH, 35 mΩ, coupled 0.20; five of 0.7 µH, 0.15 Ω, coupled 0.30.
///
/// So the fault study has them, whose rings move by +2.1 % and +4.9 %; in between by powers of their number.
pub(super) fn closed_turns(case: &mut Case, drawn: &Drawn, turns: f64, coupled: (f64, f64)) {
    let (to_secondary, to_primary) = coupled;
    let wide = |share: f64| between(0.8, 1.2, share);
    case.flaws.closed_turns = Some(ClosedTurns {
        henry: 0.04e-6 * turns.powf(1.78),
        ohm: 0.035 * turns.powf(0.9) * wide(drawn.own[0]),
        to_secondary: to_secondary * wide(drawn.own[1]),
        to_primary: to_primary * wide(drawn.own[2]),
    });
}

/// Another number of turns: inductance and capacitance of a long winding both go nearly as the number (chosen).
pub(super) fn secondary_turns(case: &mut Case, ratio: f64) {
    let coil = &mut case.spec.resonator;
    coil.henry *= ratio.powf(1.3);
    coil.farad *= ratio.powf(0.5);
    coil.coupling *= ratio.powf(-0.5);
    case.dc_ratio = ratio;
}

/// Slower than the worst of its class: three to eight times the typical transit time, and not less than 30 ns.
pub(super) fn slow(case: &mut Case, drawn: &Drawn) {
    let model = &mut case.spec.transistor.model;
    let times = between(3.0, 8.0, drawn.own[0]);
    model.forward_transit_s = (model.forward_transit_s * times).max(30e-9 * times / 3.0);
}

pub(super) fn gain(case: &mut Case, gain: f64) {
    case.spec.transistor.model.forward_gain = gain;
}

pub(super) fn leg_open(case: &mut Case, place: usize) {
    if let Some(ohm) = case.flaws.leg_ohm.get_mut(place) {
        *ohm = OPEN_OHM;
    }
}

pub(super) fn bridge(case: &mut Case, place: usize, ohm: f64) {
    if let Some(bridge) = case.flaws.bridge_ohm.get_mut(place) {
        *bridge = Some(ohm);
    }
}

pub(super) fn bias(case: &mut Case, low: f64, high: f64, drawn: &Drawn) {
    case.spec.bias_ohm *= low * (high / low).powf(drawn.own[0]);
}

/// Bursts: the running circuit charges a capacitor from base to minus in a few cycles, and the bias resistor takes far longer to
/// charge it back. From 1 to 10 nF and five to twenty times the resistor, by ratios: where simulated envelopes come in bursts
/// with fast and medium transistors (chosen; slow ones merely run weakly there).
pub(super) fn squegging(case: &mut Case, drawn: &Drawn) {
    case.spec.strays.base_f += 1e-9 * 10.0_f64.powf(drawn.own[0]);
    case.spec.bias_ohm *= 5.0 * 4.0_f64.powf(drawn.own[1]);
}

pub(super) fn diode_reversed(case: &mut Case, _: &Drawn) {
    if case.spec.base_diode.is_some() {
        case.flaws.diode = DiodeFlaw::Reversed;
    }
}

pub(super) fn diode_open(case: &mut Case, _: &Drawn) {
    case.spec.base_diode = None;
}

pub(super) fn diode_shorted(case: &mut Case, _: &Drawn) {
    if case.spec.base_diode.is_some() {
        case.flaws.diode = DiodeFlaw::Shorted;
    }
}

pub(super) fn diode_other(case: &mut Case, _: &Drawn) {
    case.spec.base_diode = case
        .spec
        .base_diode
        .map(|diode| if diode == SILICON { LED } else { SILICON });
}

/// The rest of a worn battery: its share of a good one's voltage, and its resistance in ohms (assumed).
pub(super) struct Worn {
    share: Span,
    ohm: Span,
}

impl Worn {
    fn share(&self, drawn: &Drawn) -> f64 {
        between(self.share.low, self.share.high, drawn.own[0])
    }

    fn ohm(&self, drawn: &Drawn) -> f64 {
        self.ohm.low * (self.ohm.high / self.ohm.low).powf(drawn.own[1])
    }
}

pub(super) const TIRED: Worn = Worn {
    share: Span::new(0.82, 0.97),
    ohm: Span::new(8.0, 22.0),
};
pub(super) const FLAT: Worn = Worn {
    share: Span::new(0.5, 0.7),
    ohm: Span::new(40.0, 90.0),
};
pub(super) const DEAD: Worn = Worn {
    share: Span::new(0.2, 0.45),
    ohm: Span::new(150.0, 500.0),
};

pub(super) fn battery(case: &mut Case, worn: &Worn, drawn: &Drawn) {
    let supply = &mut case.spec.supply;
    supply.open_v *= worn.share(drawn);
    supply.battery_ohm = worn.ohm(drawn);
}

/// A converter that folds back gives its full voltage open and holds less current the more is drawn: as a source, its
/// voltage behind 60 to 200 Ω (assumed: 50 to 150 mA at most).
pub(super) fn battery_folds(case: &mut Case, drawn: &Drawn) {
    case.spec.supply.battery_ohm = between(60.0, 200.0, drawn.own[0]);
}

/// Between the clips of a converter that has switched off, in volts (assumed, around the half volt of such a battery after a
/// run), and its resistance there, in ohms (assumed).
const TRIPPED_V: Span = Span::new(0.3, 0.55);
const TRIPPED_OHM: f64 = 100.0;
/// Period at which a converter tries again, in seconds (assumed).
const RETRY_S: Span = Span::new(0.3, 3.0);
/// Share of converters that try again; the others stay off until they are unplugged (chosen).
const RETRIES: f64 = 0.5;

/// A converter that switches off under the load and does no more than try again every so often. The reading is a meter's between
/// two attempts.
pub(super) fn battery_trips(case: &mut Case, drawn: &Drawn) {
    let [volt, retries, period, _] = drawn.own;
    case.trip = Some(Trip {
        open_v: case.spec.supply.open_v,
        period_s: (retries < RETRIES)
            .then(|| RETRY_S.low * (RETRY_S.high / RETRY_S.low).powf(period)),
    });
    case.spec.supply.open_v = between(TRIPPED_V.low, TRIPPED_V.high, volt);
    case.spec.supply.battery_ohm = TRIPPED_OHM;
}

/// One of several in series the wrong way round takes its own voltage off the others'.
pub(super) fn one_battery_reversed(case: &mut Case, drawn: &Drawn) {
    if drawn.batteries < 2 {
        return;
    }
    let supply = &mut case.spec.supply;
    let each_v = supply.open_v / f64::from(drawn.batteries);
    supply.open_v -= 2.0 * each_v;
    case.weakest_v = Some(-each_v);
}

/// One of several in series is as a dead one alone: little voltage behind much resistance.
pub(super) fn one_battery_dead(case: &mut Case, drawn: &Drawn) {
    if drawn.batteries < 2 {
        return;
    }
    let supply = &mut case.spec.supply;
    let count = f64::from(drawn.batteries);
    let (each_v, each_ohm) = (supply.open_v / count, supply.battery_ohm / count);
    let weakest_v = each_v * DEAD.share(drawn);
    let ohm = DEAD.ohm(drawn);
    supply.open_v += weakest_v - each_v;
    supply.battery_ohm += ohm - each_ohm;
    case.weakest_v = Some(weakest_v);
}

pub(super) fn battery_reversed(case: &mut Case, _: &Drawn) {
    case.spec.supply.open_v = -case.spec.supply.open_v;
}

pub(super) fn decoupling_missing(case: &mut Case, _: &Drawn) {
    case.spec.supply.decoupling = None;
}

/// The sheet's capacitor between the collector and minus, where it shorts the primary's swing.
pub(super) fn capacitor_at_collector(case: &mut Case, _: &Drawn) {
    if let Some(decoupling) = case.spec.supply.decoupling.take() {
        case.spec.strays.collector_f += decoupling.farad;
    }
}

/// The sheet's capacitor between the base and minus, where it shorts the signal from the foot.
pub(super) fn capacitor_at_base(case: &mut Case, _: &Drawn) {
    if let Some(decoupling) = case.spec.supply.decoupling.take() {
        case.spec.strays.base_f += decoupling.farad;
    }
}

pub(super) fn long_leads(case: &mut Case, drawn: &Drawn) {
    case.spec.supply.decoupling = None;
    case.spec.supply.lead_h = between(0.7e-6, 1.5e-6, drawn.own[0]);
}

pub(in crate::diagnosis) fn hand_on_case(case: &mut Case, drawn: &Drawn) {
    if drawn.floats {
        let top_f = TOP_TO_ROOM * case.spec.resonator.farad;
        case.flaws.room = Some(Room {
            top_f,
            circuit_f: CIRCUIT_TO_ROOM_F * between(0.6, 1.4, drawn.own[0]),
            body: Some(BODY),
        });
        case.near = Seen::OnCase;
    }
}

/// A hand on the base's wire: a body beside the foot, and its share of the foot's own swing against the room.
pub(super) fn hand_on_base(case: &mut Case, drawn: &Drawn) {
    case.flaws.base_load = Some(TopLoad {
        farad: BODY.farad * between(0.5, 2.0, drawn.own[0]),
        ohm: between(0.3e3, 2e3, drawn.own[1]),
    });
    if drawn.floats {
        hand_on_case(case, drawn);
    }
    case.near = Seen::OnWire;
}

pub(super) fn top_load(case: &mut Case, near: Seen, (farad, ohm): (f64, f64)) {
    case.near = near;
    let held = case.spec.resonator.load.map_or(0.0, |load| load.farad);
    case.spec.resonator.load = Some(TopLoad {
        farad: farad + held,
        ohm,
    });
}
