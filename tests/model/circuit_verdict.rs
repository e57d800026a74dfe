//! The verdict on builds: two coils computed as rings over a plane, each with the three sets of parts of a class.

use sagtrace::circuit::Circuit;
use sagtrace::circuit::damage::{Damage, GivesWay, gives_way};
use sagtrace::circuit::junction::Depletion;
use sagtrace::circuit::outlook::{Outlook, descent};
use sagtrace::circuit::parts::{BaseDiode, TransistorClass};
use sagtrace::circuit::practice::Spread;
use sagtrace::circuit::pushing::Descent;
use sagtrace::circuit::running::{Envelope, Running};
use sagtrace::circuit::sets::SILICON;
use sagtrace::circuit::transistor::{Transistor, TransitRise};
use sagtrace::circuit::verdict::{Answer, Deciding, Judged, State, Verdict};
use sagtrace::circuit::wiring::{CircuitSpec, PrimaryCoil, Resonator, Supply};

use crate::reference;

/// 450 turns on 16 mm, three turns of primary over the foot, a plane 5 mm below.
const LONG: Resonator = Resonator {
    henry: 280.486e-6,
    farad: 2.3182e-12,
    q: 100.0,
    coupling: 0.262729,
    foot_to_top: 1.2524,
    load: None,
};
const LONG_PRIMARY: PrimaryCoil = PrimaryCoil {
    henry: 0.263347e-6,
    ohm: 0.05,
};

fn circuit(transistor: TransistorClass) -> Circuit {
    Circuit {
        transistor,
        bias_resistor_ohm: 22e3,
        base_diode: BaseDiode::Led,
        decoupling_f: Some(100e-9),
        gain: None,
        transition_hz: None,
    }
}

/// The sets of a build, its coupling and its Q over their spread.
fn sets(transistor: TransistorClass, couplings: [f64; 3]) -> [CircuitSpec; 3] {
    let mut couplings = couplings.into_iter();
    Spread::ALL.map(|spread| {
        let set = transistor.part_set(spread);
        let resonator = Resonator {
            coupling: couplings.next().unwrap(),
            q: set.q,
            ..LONG
        };
        circuit(transistor).spec(&set, Supply::USUAL, LONG_PRIMARY, resonator)
    })
}

const COUPLINGS: [f64; 3] = [0.16, 0.25, 0.32];

fn shown(verdict: &Verdict) {
    for set in &verdict.sets {
        println!(
            "{:?} {:?} {:?} {:?}",
            set.state, set.gain, set.switched_on, set.running_start
        );
    }
    println!(
        "{:?} {:?} {:?} {:?}",
        verdict.answer, verdict.deciding, verdict.start_needs_hz, verdict.full_needs_hz
    );
}

/// A TO-220 transistor of 16 MHz, between published files of the class and what running builds show: assumed.
fn slow(transit_s: f64, collector_f: f64) -> Transistor {
    let collector_depletion = Depletion {
        zero_bias_f: collector_f,
        ..reference::PT.collector_depletion
    };
    Transistor {
        forward_gain: 110.0,
        emitter_depletion: Depletion {
            zero_bias_f: 430e-12,
            ..reference::PT.emitter_depletion
        },
        collector_depletion,
        forward_transit_s: transit_s,
        transit_rise: TransitRise {
            ratio: 1.2,
            scale_v: 10.0,
            scale_a: 36.0,
        },
        base_ohm: 1.0,
        ..reference::PT
    }
}

/// A build with that transistor.
fn slow_build(model: Transistor, q: f64) -> CircuitSpec {
    CircuitSpec {
        resonator: Resonator { q, ..LONG },
        primary: LONG_PRIMARY,
        ..reference::circuit(model, 0.2, q)
    }
}

#[test]
fn a_build_whose_worst_transistor_is_too_slow_is_marginal_and_its_speed_decides() {
    let specs = [(40e-9, 500e-12), (8e-9, 160e-12), (6e-9, 120e-12)]
        .map(|(transit_s, collector_f)| slow_build(slow(transit_s, collector_f), 150.0));
    let verdict = Verdict::of(&specs).unwrap();
    shown(&verdict);
    assert_eq!(verdict.answer, Answer::Marginal);
    assert_eq!(verdict.set(Spread::Worst).state, State::Dead);
    assert_eq!(verdict.set(Spread::Typical).state, State::Full);
    assert_eq!(verdict.set(Spread::Best).state, State::Full);
    assert_eq!(verdict.deciding, [Deciding::Speed]);
    let needed_hz = verdict.start_needs_hz.unwrap();
    assert!((5e6..10e6).contains(&needed_hz), "{needed_hz}");
}

/// One meaning of full: the diode is lit. The same build with 22 kohm runs at 69 mA with 0.27 mA in its diode, which nobody
/// sees; with a silicon diode, or with none, its current over that at rest is all there is to go by.
#[test]
fn full_is_a_lit_diode_where_there_is_one_and_current_where_there_is_none() {
    let spec = slow_build(slow(10e-9, 280e-12), 150.0);
    let judged = Judged::of(&spec).unwrap();
    let running = judged.switched_on.unwrap();
    assert!(!running.is_lit() && running.diode_a > 0.1e-3, "{running:?}");
    assert_eq!(judged.state, State::Weak);
    let mut silicon = spec;
    silicon.base_diode = Some(SILICON);
    assert_eq!(Judged::of(&silicon).unwrap().state, State::Full);
    let mut bare = spec;
    bare.base_diode = None;
    let judged = Judged::of(&bare).unwrap();
    let is_beyond_rest = judged.running().unwrap().supply_a > 2.0 * judged.rest_a;
    assert_eq!(judged.state >= State::FullOnceRunning, is_beyond_rest);
}

/// A running start with its supply turned up over 20 us had decayed before the descent began, so no voltage at all was found.
#[test]
fn what_runs_on_with_a_large_bias_resistor_has_a_voltage_that_keeps_it_running() {
    for (bias_ohm, expected_v) in [(47e3, 8.4), (100e3, 8.6), (220e3, 8.6)] {
        let spec = CircuitSpec {
            bias_ohm,
            ..slow_build(slow(10e-9, 280e-12), 150.0)
        };
        let judged = Judged::of(&spec).unwrap();
        assert_eq!(judged.state, State::FullOnceRunning, "{bias_ohm}");
        let keeps_v = descent(&judged).unwrap().keeps_running_v.unwrap();
        assert!((keeps_v - expected_v).abs() < 0.2, "{bias_ohm}: {keeps_v}");
        // Begun at another voltage, out of a charged top.
        let again = Descent::of(&judged, &[9.1, 8.1]).unwrap();
        let keeps_v = again.keeps_running_v.unwrap();
        assert!((keeps_v - expected_v).abs() < 0.2, "{bias_ohm}: {keeps_v}");
    }
}

fn unaccounted(running: &Running) -> f64 {
    let power = &running.power;
    let used_w = power.battery_w + power.coil_w + power.diode_w + power.others_w;
    1.0 - (used_w + running.transistor_w) / power.given_w
}

#[test]
fn the_power_of_a_running_circuit_adds_up_to_what_its_battery_gives() {
    for model in [reference::PT, reference::M, reference::S] {
        let spec = reference::circuit(model, 0.2, 100.0);
        let running = Judged::of(&spec).unwrap().switched_on.unwrap();
        let rest = unaccounted(&running);
        println!("{rest:.5} {:?}", running.power);
        assert!(rest.abs() < 5e-3, "{rest}");
        // By hand: half the square of the current that makes the top's voltage, in the winding's own resistance.
        let coil = &spec.resonator;
        let peak_a = running.top_v * std::f64::consts::TAU * running.frequency_hz * coil.farad;
        near(
            running.power.coil_w,
            0.5 * peak_a * peak_a * coil.ohm(),
            0.1,
        );
        near(running.power.given_w, 9.0 * running.supply_a, 5e-3);
    }
}

#[test]
fn a_collector_at_its_breakdown_is_found_and_one_below_it_is_not() {
    let found = |spec: CircuitSpec| {
        let judged = Judged::of(&spec).unwrap();
        gives_way(judged.running().unwrap(), &spec.transistor)
    };
    // An earlier computation of our own: its collector comes to 82 V, the clamp's knee is at 80 V.
    assert_eq!(
        found(slow_build(reference::M, 150.0)),
        [GivesWay::Collector]
    );
    assert_eq!(found(reference::circuit(reference::PT, 0.2, 100.0)), []);
    let mut bare = reference::circuit(reference::M, 0.2, 100.0);
    bare.base_diode = None;
    assert!(found(bare).contains(&GivesWay::Base));
}

/// A wild collector: blocks of cycles never agree, so the run ends where its halves do. At a tenth of the usual tolerance its
/// averages over 50 us wander from 293 to 331 mA and from 1925 to 2141 V for as long as it was followed (700 us).
#[test]
fn a_wild_run_is_ended_when_it_is_as_steady_as_it_becomes() {
    let mut spec = slow_build(reference::M, 150.0);
    spec.supply.open_v = 6.3;
    let judged = Judged::of(&spec).unwrap();
    let running = judged.switched_on.unwrap();
    let coarse = Judged::coarse(&spec).unwrap().switched_on.unwrap();
    println!("{running:?} {coarse:?}");
    for run in [running, coarse] {
        near(run.supply_a, 0.312, 0.12);
        near(run.top_v, 2033.0, 0.08);
        near(run.collector_highest_v, 56.0, 0.08);
    }
    assert_eq!(running.envelope, Envelope::Settled);
    assert!(running.followed_s < 300e-6, "{}", running.followed_s);
    near(coarse.frequency_hz, running.frequency_hz, 1e-3);
}

#[test]
fn the_pushing_is_read_from_the_descent_itself() {
    let specs = [slow_build(slow(8e-9, 120e-12), 150.0); 3];
    let outlook = Outlook::of(&specs).unwrap();
    let points = outlook.pushing.as_ref().unwrap().points();
    let clips_v: Vec<f64> = points.iter().map(|point| point.0).collect();
    for pushed in &outlook.descent.points {
        let is_above = pushed.open_v >= 0.6 * 9.0;
        let is_in = clips_v
            .iter()
            .any(|volt| (volt - pushed.running.battery_v).abs() < 1e-9);
        assert_eq!(is_in, is_above, "{}", pushed.open_v);
    }
}

#[test]
fn a_medium_transistor_starts_whatever_it_is_once_the_coil_is_known() {
    let specs = sets(TransistorClass::Medium, [LONG.coupling; 3]).map(|mut spec| {
        spec.resonator.q = 100.0;
        spec
    });
    let verdict = Verdict::of(&specs).unwrap();
    shown(&verdict);
    assert_eq!(verdict.answer, Answer::Starts);
    assert_eq!(verdict.deciding, []);
}

/// ngspice 39, 100 us at 120 steps a cycle: 768 mA, 2222 V, the base down to -7.3 V with nothing at the base.
#[test]
fn without_a_diode_the_base_is_driven_into_breakdown_and_that_is_said() {
    let mut spec = reference::circuit(reference::M, 0.2, 100.0);
    spec.base_diode = None;
    let judged = Judged::of(&spec).unwrap();
    let running = judged.running().unwrap();
    near(running.supply_a, 0.768, 0.04);
    near(running.top_v, 2222.0, 0.02);
    let found = judged.damage(&TransistorClass::Medium.ratings());
    let reverse = found.iter().any(|damage| {
        matches!(damage, Damage::ReverseBase { lowest_v, .. } if (lowest_v + 7.3).abs() < 0.15)
    });
    assert!(reverse, "{found:?}");
}

/// ngspice 39 coming down from a running 9 V: at 7.5 V (T/400) and, each held for 600 us (T/80), at 4 and 3 V. Ramped down
/// in half a millisecond its diode went dark at 1.7 V, where switched on it needs 5.1 V.
#[test]
fn a_running_circuit_keeps_running_below_the_voltage_it_starts_at() {
    let judged = Judged::of(&reference::circuit(reference::PT, 0.2, 100.0)).unwrap();
    let descent = Descent::of(&judged, &[9.0, 7.5, 5.5, 4.0, 3.0, 2.0, 1.2]).unwrap();
    let at = |open_v: f64| {
        let found = descent
            .points
            .iter()
            .find(|point| (point.open_v - open_v).abs() < 1e-9);
        found.unwrap().running
    };
    near(at(7.5).top_v, 1210.0, 0.015);
    near(at(7.5).frequency_hz, 3.48283e6, 1e-4);
    near(at(4.0).top_v, 576.0, 0.03);
    near(at(4.0).supply_a, 107e-3, 0.03);
    near(at(3.0).top_v, 395.0, 0.03);
    near(at(3.0).diode_a, 1.15e-3, 0.06);
    let keeps_v = descent.keeps_running_v.unwrap();
    assert!((1.2..=2.0).contains(&keeps_v), "{keeps_v}");
    println!("{keeps_v} {:?}", descent.slope_hz_per_v(0.8));
    // Between 7.5 and 9 V the converged runs differ by 0.85 kHz a volt, 1.27 kHz in all.
    let slope_hz_per_v = descent.slope_hz_per_v(0.8).unwrap();
    assert!(
        (800.0..1100.0).contains(&slope_hz_per_v),
        "{slope_hz_per_v}"
    );
}

fn near(got: f64, expected: f64, within: f64) {
    assert!(
        (got / expected - 1.0).abs() < within,
        "{got}, not {expected}"
    );
}

/// Common practice, no source.
#[test]
fn with_the_primary_reversed_no_class_starts() {
    let reversed = COUPLINGS.map(|coupling| -coupling);
    for (word, class) in TransistorClass::WORDS {
        let verdict = Verdict::of(&sets(class, reversed)).unwrap();
        assert_eq!(verdict.answer, Answer::No, "{word}");
        assert_eq!(verdict.start_needs_hz, None, "{word}");
    }
}

/// The study's pair of netlists in plain numbers: weak when switched on, full out of a running start.
#[test]
fn two_states_of_one_circuit_are_told_apart() {
    let mut spec = reference::circuit(reference::PT, 0.2, 100.0);
    spec.resonator = LONG;
    spec.primary = LONG_PRIMARY;
    let judged = Judged::of(&spec).unwrap();
    assert_eq!(judged.state, State::FullOnceRunning);
    // ngspice 39 at T/300: 374.3 V and 24.6 mA, 1303.7 V and 86.5 mA.
    let on = judged.switched_on.unwrap();
    let kicked = judged.running_start.unwrap();
    near(on.top_v, 374.3, 0.02);
    near(on.supply_a, 24.6e-3, 0.02);
    near(kicked.top_v, 1303.7, 0.02);
    near(kicked.supply_a, 86.5e-3, 0.02);
}

/// The coil as one mode of two elements beside the coil as a ladder of fifteen sections with all mutual inductances and all
/// capacitances, simulated with ngspice 39: top voltage and supply current of a distributed check of our own circuit
/// (computed, not published). Higher modes are what the two elements lack.
#[test]
fn two_elements_run_as_a_ladder_of_fifteen_sections_does() {
    use State::{Full, FullOnceRunning};
    // What the ladder has, what ngspice has for the two elements, and how near the ladder's current we come. For the medium
    // type the two elements themselves are more than a quarter below it, however short the step: ngspice on our netlist gives
    // 298.9 mA (25.5 %) at T/400 and T/1000, we 297.7 mA at a hundredth of our usual tolerance and 296.5 mA at that.
    for (model, q, state, (top_v, supply_a), (two_v, two_a), within) in [
        (
            reference::PT,
            100.0,
            FullOnceRunning,
            (373.0, 24.6e-3),
            (375.0, 24.6e-3),
            0.25,
        ),
        (
            reference::PT,
            150.0,
            Full,
            (1526.0, 84.1e-3),
            (1577.0, 89.0e-3),
            0.25,
        ),
        (
            reference::M,
            100.0,
            Full,
            (2972.0, 401e-3),
            (2579.0, 302e-3),
            0.27,
        ),
    ] {
        let mut spec = reference::circuit(model, 0.2, q);
        spec.resonator = Resonator { q, ..LONG };
        spec.primary = LONG_PRIMARY;
        let judged = Judged::of(&spec).unwrap();
        let on = judged.switched_on.unwrap();
        assert_eq!(judged.state, state, "Q {q}");
        near(on.top_v, top_v, 0.15);
        near(on.supply_a, supply_a, within);
        near(on.top_v, two_v, 0.02);
        near(on.supply_a, two_a, 0.03);
    }
}
