//! Whether a circuit starts and with what to spare, against another simulator's growth rates and an earlier computation.

use crate::reference::{M, PT, S, circuit};
use sagtrace::circuit::bias::Bias;
use sagtrace::circuit::flaws::{ClosedTurns, DiodeFlaw, Flaws, Leg, OPEN_OHM};
use sagtrace::circuit::margin::Margins;
use sagtrace::circuit::network::Polarity;
use sagtrace::circuit::rest::Rest;
use sagtrace::circuit::rule::LoopGain;
use sagtrace::circuit::shown::LeastSpeed;
use sagtrace::circuit::startup::Startup;
use sagtrace::circuit::transistor::Transistor;
use sagtrace::circuit::wiring::CircuitSpec;

/// The power type with an fT of about 2 MHz: too slow.
const P: Transistor = Transistor {
    forward_transit_s: 80e-9,
    ..PT
};

fn at_volt(mut spec: CircuitSpec, open_v: f64) -> CircuitSpec {
    spec.supply.open_v = open_v;
    spec
}

/// Growth after a small kick at rest, ngspice 39 at 200 steps a cycle, reltol 1e-6. Its frequencies are low by the trapezoid
/// rule's `(w h)^2 / 12`, 82 ppm, which is taken off here.
#[test]
fn growth_and_frequency_are_another_simulators() {
    const TRAPEZOID: f64 = 82e-6;
    let cases = [
        ("M k=.02", circuit(M, 0.02, 100.0), 2.5177e5, 3.49022e6),
        ("M k=.01 Q40", circuit(M, 0.01, 40.0), -9.7983e4, 3.48493e6),
        ("Pt", circuit(PT, 0.2, 100.0), 2.2332e5, 3.47330e6),
        ("Pt k=.1", circuit(PT, 0.1, 100.0), 6.0729e4, 3.47387e6),
        ("P", circuit(P, 0.2, 100.0), -5.8418e4, 3.47189e6),
        ("P k=.6 Q200", circuit(P, 0.6, 200.0), 8.3688e4, 3.46381e6),
        ("S k=.01", circuit(S, 0.01, 100.0), 2.5579e5, 3.51541e6),
        (
            "Pt 3 V",
            at_volt(circuit(PT, 0.2, 100.0), 3.0),
            1.6959e5,
            3.47368e6,
        ),
        (
            "M k=-.05 Q150",
            circuit(M, -0.05, 150.0),
            -1.0375e6,
            3.44447e6,
        ),
    ];
    for (name, spec, growth_per_s, frequency_hz) in cases {
        let startup = Rest::of(&spec).unwrap().startup;
        let growth = startup.growth_per_s / growth_per_s - 1.0;
        let frequency = startup.frequency_hz / frequency_hz - 1.0 - TRAPEZOID;
        println!("{name:14} growth {growth:9.1e} frequency {frequency:9.1e}");
        // What the envelope's reading leaves; the frequencies have six digits.
        assert!(growth.abs() < 4e-4, "{name}: {startup:?}");
        assert!(frequency.abs() < 6e-6, "{name}: {startup:?}");
    }
}

/// ngspice 39 at 200 steps a cycle, reltol 1e-6: what is fed back through the collector's capacitance alone does not start.
#[test]
fn a_fast_transistor_does_not_start_without_coupling() {
    let startup = Rest::of(&circuit(S, 1e-4, 100.0)).unwrap().startup;
    assert!(
        (startup.growth_per_s / -1.4939e5 - 1.0).abs() < 4e-4,
        "{startup:?}"
    );
}

/// A faulted circuit of the fault study at rest: battery, base and collector in volts, supply current in amperes, growth per
/// second and its frequency in hertz.
struct Faulted {
    name: &'static str,
    spec: CircuitSpec,
    flaws: Flaws,
    rest: Option<[f64; 4]>,
    growth_per_s: f64,
    frequency_hz: f64,
}

fn faulted() -> [Faulted; 8] {
    let of = |name, spec, flaws, rest, growth_per_s, frequency_hz| Faulted {
        name,
        spec,
        flaws,
        rest,
        growth_per_s,
        frequency_hz,
    };
    let (medium, power) = (circuit(M, 0.2, 100.0), circuit(PT, 0.2, 100.0));
    let none = Flaws::NONE;
    let foot_off = Flaws {
        foot_ohm: OPEN_OHM,
        ..none
    };
    let diode = |diode| Flaws { diode, ..none };
    let exchanged = Flaws {
        legs: [Leg::Emitter, Leg::Base, Leg::Collector],
        ..none
    };
    let bridged = Flaws {
        bridge_ohm: [Some(0.5), None, None],
        ..none
    };
    let emitter_open = Flaws {
        leg_ohm: [0.0, 0.0, OPEN_OHM],
        ..none
    };
    let turns = Flaws {
        closed_turns: Some(ClosedTurns {
            henry: 0.7e-6,
            ohm: 0.15,
            to_secondary: 0.30,
            to_primary: 0.08,
        }),
        ..none
    };
    let rest = |battery_v, base_v, collector_v, supply_ma: f64| {
        Some([battery_v, base_v, collector_v, 1e-3 * supply_ma])
    };
    let n03 = rest(8.9259, 0.6180, 8.9235, 24.6934);
    let n04 = rest(8.9988, 0.0, 8.9988, 0.4090);
    let n05 = rest(7.4665, 1.0602, 7.4153, 511.18);
    let n06 = rest(1.4983, 0.6320, 1.2482, 2500.57);
    let n07 = rest(-5.3250, -3.7649, -5.2025, -1225.02);
    let n08 = rest(9.0, 9.0, 9.0, 0.0);
    [
        of("N03", power, foot_off, n03, -2.0175e5, 7.35806e6),
        of(
            "N04",
            power,
            diode(DiodeFlaw::Shorted),
            n04,
            -1.0914e5,
            3.47201e6,
        ),
        of("N05", medium, exchanged, n05, -2.5463e5, 3.53750e6),
        of("N06", medium, bridged, n06, -1.5614e5, 3.56612e6),
        of(
            "N07",
            at_volt(medium, -9.0),
            none,
            n07,
            -3.5945e5,
            3.52426e6,
        ),
        of("N08", medium, emitter_open, n08, -1.6558e5, 3.69625e6),
        of(
            "T07",
            medium,
            diode(DiodeFlaw::Reversed),
            None,
            3.3753e6,
            3.52934e6,
        ),
        of("T09", medium, turns, None, 3.3286e6, 3.69211e6),
    ]
}

/// The netlists of these names, run by ngspice 39 at T/400, reltol 2e-5: rest within the study's 0.2 % and 1 mV, currents 0.5 %;
/// growth and its frequency, of which some were checked with ngspice, within 1 % and 0.02 %. Here each fault is a flaw of the
/// sound circuit, not a netlist.
#[test]
fn a_flawed_circuit_rests_and_decays_as_its_netlist_does() {
    for case in faulted() {
        let name = case.name;
        let (wired, _) = case.spec.wired_with(&case.flaws);
        let mut bias = Bias::find(&wired.network).unwrap();
        if let Some([battery_v, base_v, collector_v, supply_a]) = case.rest {
            let probes = &wired.probes;
            let places = [probes.plus, probes.base, probes.collector];
            for (node, expected_v) in places.into_iter().zip([battery_v, base_v, collector_v]) {
                let got_v = bias.node_v(node);
                println!("{name} {got_v:.4} {expected_v:.4} V");
                assert!(
                    (got_v - expected_v).abs() < 2e-3 * f64::abs(expected_v) + 1e-3,
                    "{name}: {got_v} {expected_v} V"
                );
            }
            let got_a = -bias.branch_a(probes.battery);
            println!("{name} {got_a:.6} {supply_a:.6} A");
            // The table's last digit is a tenth of a microampere.
            assert!(
                (got_a - supply_a).abs() < 5e-3 * f64::abs(supply_a) + 1e-7,
                "{name}: {got_a} {supply_a} A"
            );
        }
        let startup = Startup::at(&mut bias).unwrap();
        let growth = startup.growth_per_s / case.growth_per_s - 1.0;
        let frequency = startup.frequency_hz / case.frequency_hz - 1.0;
        println!("{name} growth {growth:.1e} frequency {frequency:.1e}");
        assert!(growth.abs() < 0.01, "{name}: {startup:?}");
        assert!(frequency.abs() < 2e-4, "{name}: {startup:?}");
    }
}

/// Thresholds of an earlier computation of our own, to the digits it printed: a regression, no outside value.
#[test]
fn thresholds_are_those_of_the_earlier_computation() {
    let near = |what: &str, got: Option<f64>, expected: Option<f64>| {
        println!("{what}: {got:?} {expected:?}");
        match (got, expected) {
            (Some(got), Some(expected)) => {
                assert!(
                    (got / expected - 1.0).abs() < 0.012,
                    "{what}: {got} {expected}"
                );
            }
            (got, expected) => assert_eq!(got, expected, "{what}"),
        }
    };
    let cases = [
        // The earlier computation missed the fast set's least coupling and printed none; that there is one, the test above
        // shows, and its value is this one's own.
        ("S", S, 0.565, 0.00376, 1.25, 33.8e6),
        ("M", M, 0.584, 0.0065, 2.95, 6.9e6),
        ("Pt", PT, 0.827, 0.064, 32.8, 0.83e6),
    ];
    for (name, set, supply_v, coupling, q, bias_ohm) in cases {
        let spec = circuit(set, 0.2, 100.0);
        let margins = Margins::of(&spec, &Rest::of(&spec).unwrap()).unwrap();
        near(
            &format!("{name} supply"),
            margins.supply_v.threshold,
            Some(supply_v),
        );
        near(
            &format!("{name} coupling"),
            margins.coupling.threshold,
            Some(coupling),
        );
        near(&format!("{name} Q"), margins.q.threshold, Some(q));
        near(
            &format!("{name} bias"),
            margins.bias_ohm.threshold,
            Some(bias_ohm),
        );
        // A transit time of 37.6 to 38.6 ns is a transition frequency of about 4.2 MHz.
        let needed_hz = margins.transition_hz.threshold.unwrap();
        assert!((3.4e6..4.3e6).contains(&needed_hz), "{name}: {needed_hz}");
    }
    let slow = circuit(P, 0.2, 100.0);
    let margins = Margins::of(&slow, &Rest::of(&slow).unwrap()).unwrap();
    near("P coupling", margins.coupling.threshold, Some(0.452));
    near("P Q", margins.q.threshold, Some(216.0));
    near("P supply", margins.supply_v.threshold, None);
}

#[test]
fn a_reversed_primary_starts_at_no_quality_factor_and_needs_its_coupling_turned_round() {
    let spec = circuit(PT, -0.2, 100.0);
    let rest = Rest::of(&spec).unwrap();
    assert!(!rest.startup.starts());
    let margins = Margins::of(&spec, &rest).unwrap();
    assert_eq!(margins.q.threshold, None);
    assert!(margins.coupling.threshold.unwrap() > 0.0);
}

/// A threshold is found on the secondary's loop; that the growth changes its sign there the eigenvalues of the whole circuit
/// must show.
#[test]
fn the_growth_changes_its_sign_at_every_threshold() {
    type Turn = fn(&mut CircuitSpec, f64);
    let mut found = 0;
    for set in [S, M, PT, P] {
        for (coupling, q) in [(-0.1, 60.0), (0.02, 20.0), (0.02, 150.0), (0.25, 60.0)] {
            for (open_v, bias_ohm) in [(3.0, 220e3), (9.0, 22e3), (9.0, 4.7e3)] {
                let mut spec = at_volt(circuit(set, coupling, q), open_v);
                spec.bias_ohm = bias_ohm;
                let margins = Margins::of(&spec, &Rest::of(&spec).unwrap()).unwrap();
                let turns: [(_, Turn); 4] = [
                    (margins.coupling, |spec, k| spec.resonator.coupling = k),
                    (margins.q, |spec, q| spec.resonator.q = q),
                    (margins.supply_v, |spec, volt| spec.supply.open_v = volt),
                    (margins.bias_ohm, |spec, ohm| spec.bias_ohm = ohm),
                ];
                for (margin, turn) in turns {
                    let Some(threshold) = margin.threshold else {
                        continue;
                    };
                    let starts = |share: f64| {
                        let mut there = spec;
                        turn(&mut there, threshold * share);
                        Rest::of(&there).unwrap().startup.starts()
                    };
                    assert_ne!(starts(0.998), starts(1.002), "{margin:?} {spec:?}");
                    found += 1;
                }
            }
        }
    }
    assert!(found > 100, "{found}");
}

/// The rule behind it, `G' = 1`, has no gain of its own to check against; the eigenvalues of the circuit with that speed do.
#[test]
fn a_transistor_as_fast_as_a_starting_build_shows_it_to_be_just_starts_it() {
    let slow = circuit(P, 0.2, 100.0);
    let least = LeastSpeed::of(&slow, 1.0).unwrap().unwrap();
    let starts = |share: f64| {
        let spec = LeastSpeed::applied(&slow, share * least.transition_hz).unwrap();
        let rest = Rest::of(&spec).unwrap();
        let got = rest.transition_hz() / least.transition_hz;
        assert!((got / share - 1.0).abs() < 1e-9, "{got}, not {share}");
        rest.startup.starts()
    };
    assert!(!starts(0.995) && starts(1.005));
    // A part that is faster anyway stays as it is, and no speed starts a reversed primary.
    let fast = circuit(M, 0.2, 100.0);
    assert_eq!(LeastSpeed::applied(&fast, 1e6).unwrap(), fast);
    assert_eq!(LeastSpeed::of(&circuit(P, -0.2, 100.0), 1.0).unwrap(), None);
}

/// Two ways to the same question: the loop's gain by hand and the eigenvalues of the whole circuit.
#[test]
fn the_one_line_rule_agrees_with_the_eigenvalues_but_near_one() {
    let (mut all, mut agree) = (0, 0);
    for set in [S, M, PT, P] {
        for coupling in [-0.2, -0.05, 0.01, 0.03, 0.1, 0.2, 0.3] {
            for q in [20.0, 60.0, 150.0] {
                for open_v in [3.0, 9.0] {
                    for bias_ohm in [4.7e3, 22e3, 220e3] {
                        let mut spec = at_volt(circuit(set, coupling, q), open_v);
                        spec.bias_ohm = bias_ohm;
                        let rest = Rest::of(&spec).unwrap();
                        let gain = LoopGain::of(&spec, &rest);
                        let same = gain.starts() == rest.startup.starts();
                        assert!(
                            same || (0.5..2.0).contains(&gain.with_feedback),
                            "{gain:?} {:?} {spec:?}",
                            rest.startup
                        );
                        all += 1;
                        agree += i32::from(same);
                    }
                }
            }
        }
    }
    println!("{agree} of {all} agree");
    // An earlier grid had 498 of 504.
    assert!(agree >= 490, "{agree} of {all}");
}

/// Everything turned round is the same circuit with every sign changed.
#[test]
fn a_pnp_with_supply_and_diode_turned_round_is_the_mirror_of_the_npn() {
    let npn = circuit(M, 0.2, 100.0);
    let mut pnp = npn;
    pnp.supply.open_v = -npn.supply.open_v;
    let flaws = Flaws {
        polarity: Polarity::Pnp,
        diode: DiodeFlaw::Reversed,
        ..Flaws::NONE
    };
    let of = |spec: &CircuitSpec, flaws: &Flaws| {
        let (wired, _) = spec.wired_with(flaws);
        let mut bias = Bias::find(&wired.network).unwrap();
        let startup = Startup::at(&mut bias).unwrap();
        let probes = wired.probes;
        let rest = [
            bias.node_v(probes.base),
            bias.node_v(probes.collector),
            bias.branch_a(probes.battery),
        ];
        (rest, startup)
    };
    let (known, known_startup) = of(&npn, &Flaws::NONE);
    let (mirrored, startup) = of(&pnp, &flaws);
    for (known, mirrored) in known.into_iter().zip(mirrored) {
        assert!(
            (known + mirrored).abs() < 1e-6 * known.abs(),
            "{known} {mirrored}"
        );
    }
    let growth = startup.growth_per_s / known_startup.growth_per_s;
    assert!(startup.starts() && (growth - 1.0).abs() < 1e-6, "{growth}");
}
