//! The invented evening of the virtual bench: a science club's glow pillar on one 9 V battery.
//!
//! Every number here is invented for the demonstration, apart from the resonance, which is the model's own moved by a
//! little that the seed decides. Pushing is about the 245 ppm/V of a simulated circuit.

use crate::bench::world::{
    Hand, NoiseSize, Rebound, Restart, Stop, Warming, World, WorldError, WorldSpec,
};

/// The build that is simulated when none is named.
pub(super) const SHEET: &str = include_str!("../../sample-data/glow-pillar.toml");

/// How far the invented coil may be from its model, as a share.
const BUILD_SPREAD: f64 = 0.02;

/// The battery under load over the evening: share of its length, volts. Invented.
const BATTERY: [(f64, f64); 9] = [
    (0.0, 9.05),
    (0.05, 8.72),
    (0.2, 8.31),
    (0.4, 7.93),
    (0.6, 7.55),
    (0.8, 7.05),
    (0.9, 6.6),
    (0.96, 6.0),
    (1.0, 5.5),
];

/// An evening: the world, and what its helper notes at which second.
#[derive(Debug)]
pub(super) struct Evening {
    pub(super) world: World,
    pub(super) marks: Vec<(f64, String)>,
}

/// The evening `length_s` long around a modelled resonance.
pub(super) fn evening(seed: u64, modelled_hz: f64, length_s: f64) -> Result<Evening, WorldError> {
    let mut chance = fastrand::Rng::with_seed(seed);
    let mut spread = |half_width: f64| (chance.f64() * 2.0 - 1.0) * half_width;
    let f0_hz = modelled_hz * (1.0 + spread(BUILD_SPREAD));
    let pushing_hz_per_v = f0_hz * (245e-6 + spread(60e-6));
    let hand_at = 0.3 + spread(0.08);
    let stop_below_v = 6.3 + spread(0.1);
    let world = World::new(WorldSpec {
        seed,
        pushing_hz_per_v,
        warming: Warming {
            shift_relative: -350e-6,
            time_constant_s: 0.12 * length_s,
            ambient_c: 20.0,
            rise_k: 14.0,
        },
        battery: BATTERY
            .iter()
            .map(|(share, volts)| (share * length_s, *volts))
            .collect(),
        rebound: Rebound {
            resistance_ohm: 1.2,
            slow_v: 0.25,
            time_constant_s: 0.02 * length_s,
        },
        noise: NoiseSize {
            white_hz: 10.0,
            walk_hz: 2.0,
            white_v: 0.002,
        },
        hands: vec![Hand {
            from_s: hand_at * length_s,
            to_s: (hand_at + 0.02) * length_s,
            depth_relative: -0.012,
        }],
        stop: Some(Stop {
            below_v: stop_below_v,
            restart: Restart::AfterS(0.03 * length_s),
        }),
        ..WorldSpec::steady(f0_hz, BATTERY[0].1)
    })?;
    let marks = vec![
        (0.02 * length_s, "doors open".to_owned()),
        (hand_at * length_s, "a hand near the top".to_owned()),
    ];
    Ok(Evening { world, marks })
}
