//! The invented evening of the virtual bench: a science club's glow pillar on one of three 9 V batteries.
//!
//! Every number here is invented for the demonstration, apart from the resonance, which is the model's own moved by a
//! little that the seed decides. Pushing is about the 245 ppm/V of a simulated circuit.

use super::world::{
    Hand, NoiseSize, Rebound, Restart, Stop, Warming, World, WorldError, WorldSpec,
};

/// The build that is simulated when none is named.
pub const SHEET: &str = include_str!("../../sample-data/glow-pillar.toml");

/// How far the invented coil may be from its model, as a share.
const BUILD_SPREAD: f64 = 0.02;

/// A battery of the evening.
#[derive(Debug)]
pub struct Battery {
    /// The label that the helper wrote on it.
    pub label: &'static str,
    /// Share of the evening's length, volts under load.
    curve: &'static [(f64, f64)],
    /// The voltage that comes back when the load is gone: at once, in ohms, and slowly, in volts.
    rebound: (f64, f64),
    /// The voltage at which the coil stops, in volts, give or take a part that the seed decides.
    stop_below_v: f64,
    /// When the coil starts again after it stopped, as a share of the evening's length; `None` for never.
    restart: Option<f64>,
}

/// One that sags from the first minute. Invented.
pub const ALKALINE: Battery = Battery {
    label: "A1",
    curve: &[
        (0.0, 9.05),
        (0.05, 8.72),
        (0.2, 8.31),
        (0.4, 7.93),
        (0.6, 7.55),
        (0.8, 7.05),
        (0.9, 6.6),
        (0.96, 6.0),
        (1.0, 5.5),
    ],
    rebound: (1.2, 0.25),
    stop_below_v: 6.3,
    restart: Some(0.03),
};

/// One that holds for long. Invented.
pub const NIMH: Battery = Battery {
    label: "N2",
    curve: &[
        (0.0, 9.3),
        (0.05, 8.9),
        (0.2, 8.65),
        (0.5, 8.45),
        (0.75, 8.3),
        (0.88, 8.0),
        (0.95, 7.4),
        (1.0, 6.6),
    ],
    ..ALKALINE
};

/// One whose converter holds 9.02 V, steps down and cuts off, which stops the coil for good; nothing comes back behind it. The
/// height of the step, 26 %, and when it comes, 6 % before the end, are those of one measured log of a converter-type cell; the
/// rest is invented.
pub const CONVERTER: Battery = Battery {
    label: "U3",
    curve: &[
        (0.0, 9.02),
        (0.8475, 9.02),
        (0.8480, 6.67),
        (0.9, 6.67),
        (0.9001, 0.05),
    ],
    rebound: (0.0, 0.0),
    stop_below_v: 0.5,
    restart: None,
};

/// An evening: the world, and its helper's notes with their seconds.
#[derive(Debug)]
pub struct Evening {
    /// The coil on its battery.
    pub world: World,
    /// Second and text of each note.
    pub marks: Vec<(f64, String)>,
}

/// Returns the evening `length_s` long around a modelled resonance in hertz.
///
/// # Errors
/// [`WorldError`] where length or resonance make no world.
pub fn evening(
    seed: u64,
    modelled_hz: f64,
    length_s: f64,
    battery: &Battery,
) -> Result<Evening, WorldError> {
    let curve = battery.curve;
    let full_v = curve.first().map_or(f64::NAN, |&(_, volts)| volts);
    let mut chance = fastrand::Rng::with_seed(seed);
    let mut spread = |half_width: f64| (chance.f64() * 2.0 - 1.0) * half_width;
    let f0_hz = modelled_hz * (1.0 + spread(BUILD_SPREAD));
    let pushing_hz_per_v = f0_hz * (245e-6 + spread(60e-6));
    let hand_at = 0.3 + spread(0.08);
    let stop_below_v = battery.stop_below_v + spread(0.1);
    let world = World::new(WorldSpec {
        seed,
        pushing_hz_per_v,
        warming: Warming {
            shift_relative: -350e-6,
            time_constant_s: 0.12 * length_s,
            ambient_c: 20.0,
            rise_k: 14.0,
        },
        battery: curve
            .iter()
            .map(|(share, volts)| (share * length_s, *volts))
            .collect(),
        rebound: Rebound {
            resistance_ohm: battery.rebound.0,
            slow_v: battery.rebound.1,
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
            restart: battery
                .restart
                .map_or(Restart::Never, |share| Restart::AfterS(share * length_s)),
        }),
        ..WorldSpec::steady(f0_hz, full_v)
    })?;
    let marks = vec![
        (0.02 * length_s, "doors open".to_owned()),
        (hand_at * length_s, "a hand near the top".to_owned()),
    ];
    Ok(Evening { world, marks })
}
