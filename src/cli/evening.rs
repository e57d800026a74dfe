//! The invented evening of the virtual bench: a science club's glow pillar on one of three 9 V batteries.
//!
//! Every number here is invented for the demonstration, apart from the resonance, which is the model's own moved by a
//! little that the seed decides. Pushing is about the 245 ppm/V of a simulated circuit.

use super::args::DemoBattery;
use crate::battery::kind::Kind;
use crate::bench::world::{
    Hand, NoiseSize, Rebound, Restart, Stop, Warming, World, WorldError, WorldSpec,
};

/// The build that is simulated when none is named.
pub(super) const SHEET: &str = include_str!("../../sample-data/glow-pillar.toml");

/// How far the invented coil may be from its model, as a share.
const BUILD_SPREAD: f64 = 0.02;

/// A battery of the evening: share of its length, volts under load.
type Curve = &'static [(f64, f64)];

/// One that sags from the first minute. Invented.
const ALKALINE: Curve = &[
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

/// One that holds for long. Invented.
const NIMH: Curve = &[
    (0.0, 9.3),
    (0.05, 8.9),
    (0.2, 8.65),
    (0.5, 8.45),
    (0.75, 8.3),
    (0.88, 8.0),
    (0.95, 7.4),
    (1.0, 6.6),
];

/// One whose converter holds 9.02 V, steps down and cuts off. The height of the step, 26 %, and when it comes, 6 % before the
/// end, are those of one measured log of a converter-type cell; the rest is invented.
const CONVERTER: Curve = &[
    (0.0, 9.02),
    (0.8475, 9.02),
    (0.8480, 6.67),
    (0.9, 6.67),
    (0.9001, 0.05),
];

impl DemoBattery {
    /// What the helper wrote on it.
    pub(super) const fn label(self) -> &'static str {
        match self {
            Self::Alkaline => "A1",
            Self::Nimh7 => "N2",
            Self::UsbRechargeable => "U3",
        }
    }

    /// Its kind.
    pub(super) const fn kind(self) -> Kind {
        match self {
            Self::Alkaline => Kind::Alkaline,
            Self::Nimh7 => Kind::Nimh7,
            Self::UsbRechargeable => Kind::UsbConverter,
        }
    }

    const fn curve(self) -> Curve {
        match self {
            Self::Alkaline => ALKALINE,
            Self::Nimh7 => NIMH,
            Self::UsbRechargeable => CONVERTER,
        }
    }

    /// What comes back when the load is gone: nothing of it behind a converter.
    const fn rebound(self, length_s: f64) -> Rebound {
        let (resistance_ohm, slow_v) = match self {
            Self::Alkaline | Self::Nimh7 => (1.2, 0.25),
            Self::UsbRechargeable => (0.0, 0.0),
        };
        Rebound {
            resistance_ohm,
            slow_v,
            time_constant_s: 0.02 * length_s,
        }
    }

    /// Where the coil stops, give or take what the seed decides, in volt; on a converter with its cut-off.
    const fn stop_below_v(self) -> f64 {
        match self {
            Self::Alkaline | Self::Nimh7 => 6.3,
            Self::UsbRechargeable => 0.5,
        }
    }

    /// Whether the coil starts again after it stopped.
    const fn restart(self, length_s: f64) -> Restart {
        match self {
            Self::Alkaline | Self::Nimh7 => Restart::AfterS(0.03 * length_s),
            Self::UsbRechargeable => Restart::Never,
        }
    }
}

/// An evening: the world, and what its helper notes at which second.
#[derive(Debug)]
pub(super) struct Evening {
    pub(super) world: World,
    pub(super) marks: Vec<(f64, String)>,
}

/// The evening `length_s` long around a modelled resonance.
pub(super) fn evening(
    seed: u64,
    modelled_hz: f64,
    length_s: f64,
    battery: DemoBattery,
) -> Result<Evening, WorldError> {
    let curve = battery.curve();
    let full_v = curve.first().map_or(f64::NAN, |&(_, volts)| volts);
    let mut chance = fastrand::Rng::with_seed(seed);
    let mut spread = |half_width: f64| (chance.f64() * 2.0 - 1.0) * half_width;
    let f0_hz = modelled_hz * (1.0 + spread(BUILD_SPREAD));
    let pushing_hz_per_v = f0_hz * (245e-6 + spread(60e-6));
    let hand_at = 0.3 + spread(0.08);
    let stop_below_v = battery.stop_below_v() + spread(0.1);
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
        rebound: battery.rebound(length_s),
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
            restart: battery.restart(length_s),
        }),
        ..WorldSpec::steady(f0_hz, full_v)
    })?;
    let marks = vec![
        (0.02 * length_s, "doors open".to_owned()),
        (hand_at * length_s, "a hand near the top".to_owned()),
    ];
    Ok(Evening { world, marks })
}
