//! How things are on the bench at any moment: the coil, its battery, the warmth, the noise and who walks by.
//!
//! Pure: the same specification gives the same world whenever, however often and in whatever order it is asked. So two
//! instruments with different rates look at one coil.

use super::noise::Noise;
use super::runs::{self, Run, State};

pub use super::spec::{Hand, NoiseSize, Rebound, Restart, Stop, Warming, WorldError, WorldSpec};

/// How things are at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// Frequency in hertz; `None` while the coil is stopped.
    pub frequency_hz: Option<f64>,
    /// Battery voltage in volts.
    pub battery_v: f64,
    /// Supply current in amperes.
    pub current_a: f64,
    /// Peak-to-peak volts at the pick-up.
    pub amplitude_v: f64,
    /// Temperature at the circuit in degrees Celsius.
    pub temperature_c: f64,
}

/// A world: one coil on one battery.
#[derive(Debug, Clone, PartialEq)]
pub struct World {
    spec: WorldSpec,
    runs: Vec<Run>,
    white_hz: Noise,
    walk_hz: Noise,
    white_v: Noise,
}

impl World {
    /// Makes a world.
    ///
    /// # Errors
    /// [`WorldError`], the first fault found in the specification.
    pub fn new(spec: WorldSpec) -> Result<Self, WorldError> {
        spec.check()?;
        Ok(Self {
            runs: runs::plan(&spec),
            white_hz: Noise::new(spec.seed, 1),
            walk_hz: Noise::new(spec.seed, 2),
            white_v: Noise::new(spec.seed, 3),
            spec,
        })
    }

    /// Returns how things are at a moment; before 0 s as at 0 s.
    pub fn at(&self, elapsed_s: f64) -> Moment {
        let elapsed_s = elapsed_s.max(0.0);
        let spec = &self.spec;
        let run = self.run_at(elapsed_s);
        let battery_v = run.battery_v(spec, elapsed_s);
        let warmth = run.warmth_at(spec, elapsed_s);
        let share = match run.state {
            State::Running => battery_v / spec.full_v(),
            State::Stopped => 0.0,
        };
        Moment {
            frequency_hz: (run.state == State::Running)
                .then(|| self.frequency_hz(elapsed_s, battery_v, warmth)),
            battery_v: battery_v + spec.noise.white_v * self.white_v.white(elapsed_s),
            current_a: spec.current_a * share,
            amplitude_v: spec.amplitude_v * share,
            temperature_c: spec.warming.ambient_c + spec.warming.rise_k * warmth,
        }
    }

    fn frequency_hz(&self, elapsed_s: f64, battery_v: f64, warmth: f64) -> f64 {
        let spec = &self.spec;
        let undisturbed_hz = spec.f0_hz * (1.0 + spec.warming.shift_relative * warmth)
            + spec.pushing_hz_per_v * (battery_v - spec.full_v());
        let hands: f64 = spec.hands.iter().map(|hand| hand.change(elapsed_s)).sum();
        undisturbed_hz * (1.0 + hands)
            + spec.noise.white_hz * self.white_hz.white(elapsed_s)
            + spec.noise.walk_hz * self.walk_hz.walk(elapsed_s)
    }

    fn run_at(&self, elapsed_s: f64) -> Run {
        let after = self.runs.partition_point(|run| run.start_s <= elapsed_s);
        self.runs[after.saturating_sub(1)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The moments at which the coil stops or starts again, in order.
    fn changes_s(world: &World) -> impl Iterator<Item = f64> + '_ {
        world.runs.iter().skip(1).map(|run| run.start_s)
    }

    fn world(change: impl FnOnce(&mut WorldSpec)) -> World {
        let mut spec = WorldSpec::steady(6_230_000.0, 9.0);
        change(&mut spec);
        World::new(spec).unwrap()
    }

    fn hz(world: &World, elapsed_s: f64) -> f64 {
        world.at(elapsed_s).frequency_hz.unwrap()
    }

    /// Drains by 1 V in 1000 s under load and stops at 8.5 V, which is after 500 s; 0.3 A × 2 Ω come back at once
    /// (0.3 A at 9 V is 0.2833 A at 8.5 V: 0.5667 V), another 0.2 V slowly.
    fn stopping(restart: Restart) -> World {
        world(|spec| {
            spec.battery = vec![(0.0, 9.0), (1000.0, 8.0)];
            spec.rebound = Rebound {
                resistance_ohm: 2.0,
                slow_v: 0.2,
                time_constant_s: 30.0,
            };
            spec.stop = Some(Stop {
                below_v: 8.5,
                restart,
            });
        })
    }

    #[test]
    fn the_order_and_number_of_questions_change_nothing() {
        let spec = |spec: &mut WorldSpec| {
            spec.noise = NoiseSize {
                white_hz: 3.0,
                walk_hz: 1.0,
                white_v: 0.002,
            };
        };
        let (asked_forward, asked_backward) = (world(spec), world(spec));
        let times: Vec<f64> = (0..500).map(|i| f64::from(i) * 0.37).collect();
        let forward: Vec<Moment> = times.iter().map(|t| asked_forward.at(*t)).collect();
        let mut backward: Vec<Moment> = times.iter().rev().map(|t| asked_backward.at(*t)).collect();
        backward.reverse();
        assert_eq!(forward, backward);
        let other = world(|it| {
            spec(it);
            it.seed = 1;
        });
        assert_ne!(forward[7], other.at(times[7]));
    }

    #[test]
    fn noise_of_frequency_and_voltage_have_their_own_size() {
        let world = world(|spec| {
            spec.noise.white_hz = 3.0;
            spec.noise.white_v = 0.002;
        });
        let n = 10_000;
        let rms = |deviation: &dyn Fn(&Moment) -> f64| {
            let sum: f64 = (0..n)
                .map(|i| deviation(&world.at(f64::from(i))).powi(2))
                .sum();
            (sum / f64::from(n)).sqrt()
        };
        // Four standard errors σ/√(2n) of a normal sample's deviation.
        let allowed = 4.0 / (2.0 * f64::from(n)).sqrt();
        let noise_hz = rms(&|moment| moment.frequency_hz.unwrap() - 6_230_000.0);
        let noise_v = rms(&|moment| moment.battery_v - 9.0);
        assert!((noise_hz / 3.0 - 1.0).abs() < allowed, "{noise_hz} Hz");
        assert!((noise_v / 0.002 - 1.0).abs() < allowed, "{noise_v} V");
    }

    #[test]
    fn the_frequency_follows_the_battery_by_the_pushing() {
        let world = world(|spec| {
            spec.battery = vec![(0.0, 9.0), (100.0, 8.0), (200.0, 7.8)];
            spec.pushing_hz_per_v = 1500.0;
        });
        for (elapsed_s, volts) in [(0.0, 9.0), (50.0, 8.5), (150.0, 7.9), (1000.0, 7.8)] {
            assert!((world.at(elapsed_s).battery_v - volts).abs() < 1e-9);
            let want_hz = 6_230_000.0 - 1500.0 * (9.0 - volts);
            assert!((hz(&world, elapsed_s) - want_hz).abs() < 1e-6);
        }
        assert!((world.at(50.0).current_a - 0.3 * 8.5 / 9.0).abs() < 1e-12);
    }

    #[test]
    fn warming_has_gone_63_per_cent_of_its_way_after_its_time_constant() {
        let world = world(|spec| {
            spec.warming = Warming {
                shift_relative: -1e-4,
                time_constant_s: 120.0,
                ambient_c: 20.0,
                rise_k: 10.0,
            };
        });
        // 1 - 1/e.
        let part = 0.632_120_558_8;
        assert!((hz(&world, 120.0) - 6_230_000.0 * (1.0 - 1e-4 * part)).abs() < 1e-3);
        assert!((world.at(120.0).temperature_c - (20.0 + 10.0 * part)).abs() < 1e-8);
        assert!((hz(&world, 0.0) - 6_230_000.0).abs() < 1e-6);
    }

    #[test]
    fn a_hand_dips_smoothly_and_leaves_no_trace() {
        let world = world(|spec| {
            spec.hands = vec![Hand {
                from_s: 10.0,
                to_s: 14.0,
                depth_relative: -0.04,
            }];
        });
        let change = |elapsed_s| hz(&world, elapsed_s) / 6_230_000.0 - 1.0;
        // Of a raised cosine: full in the middle, half a quarter from each end, level at both.
        for (elapsed_s, want) in [
            (9.0, 0.0),
            (10.0, 0.0),
            (11.0, -0.02),
            (12.0, -0.04),
            (13.0, -0.02),
            (14.0, 0.0),
            (20.0, 0.0),
        ] {
            assert!((change(elapsed_s) - want).abs() < 1e-12, "{elapsed_s} s");
        }
        assert!(change(10.01).abs() < 1e-5, "it begins without a jump");
    }

    #[test]
    fn a_coil_below_its_voltage_stops_and_the_battery_comes_back() {
        let world = stopping(Restart::Never);
        assert_eq!(changes_s(&world).count(), 1);
        let stop_s = changes_s(&world).next().unwrap();
        assert!((stop_s - 500.0).abs() < 1e-5, "{stop_s}");
        let before = world.at(stop_s - 1e-3);
        assert!(before.frequency_hz.is_some() && before.current_a > 0.28);
        let after = world.at(stop_s);
        assert_eq!(after.frequency_hz, None);
        assert!(after.current_a.abs() < 1e-12 && after.amplitude_v.abs() < 1e-12);
        let step_v = after.battery_v - before.battery_v;
        assert!((step_v - 0.5667).abs() < 1e-3, "{step_v} V at once");
        let slow_v = world.at(stop_s + 1e4).battery_v - after.battery_v;
        assert!((slow_v - 0.2).abs() < 1e-9, "{slow_v} V slowly");
    }

    #[test]
    fn a_coil_restarts_at_its_voltage() {
        // 8.5 V + 0.5667 V at once + 0.1 V of the 0.2 V: half of the slow part, after 30 s · ln 2.
        let at_v = 8.5 + 0.3 * 8.5 / 9.0 * 2.0 + 0.1;
        let world = stopping(Restart::AtV(at_v));
        let changes_s: Vec<f64> = changes_s(&world).take(3).collect();
        let rest_s = changes_s[1] - changes_s[0];
        assert!((rest_s - 30.0 * 2.0_f64.ln()).abs() < 1e-3, "{rest_s} s");
        assert!((world.at(changes_s[1] - 1e-6).battery_v - at_v).abs() < 1e-5);
        let again = world.at(changes_s[1]);
        assert!(again.frequency_hz.is_some());
        assert!(
            (again.battery_v - 8.6).abs() < 1e-4,
            "loaded again, with the slow 0.1 V to use up: {} V",
            again.battery_v
        );
        assert!(
            changes_s[2] > changes_s[1] + 1.0,
            "it runs on that for a while"
        );
        assert_eq!(world.at(changes_s[2]).frequency_hz, None);
    }

    #[test]
    fn a_coil_restarts_after_its_rest() {
        let world = stopping(Restart::AfterS(60.0));
        let changes_s: Vec<f64> = changes_s(&world).take(2).collect();
        assert!((changes_s[1] - changes_s[0] - 60.0).abs() < 1e-9);
        assert!(world.at(changes_s[1] + 0.1).frequency_hz.is_some());
    }

    #[test]
    fn an_impossible_world_is_refused_with_what_is_wrong() {
        let refused = |change: &dyn Fn(&mut WorldSpec)| {
            let mut spec = WorldSpec::steady(6.23e6, 9.0);
            change(&mut spec);
            World::new(spec).unwrap_err().to_string()
        };
        insta::assert_snapshot!(refused(&|spec| spec.f0_hz = 0.0),
            @"f0_hz of the bench's world: 0, must be a number above 0");
        insta::assert_snapshot!(refused(&|spec| spec.battery.clear()),
            @"battery of the bench's world: no rows, at least one is needed");
        insta::assert_snapshot!(refused(&|spec| spec.battery.push((0.0, 8.0))),
            @"battery of the bench's world, row 1: 0 s and 8 V, times must rise and volts be above 0");
        insta::assert_snapshot!(
            refused(&|spec| spec.hands.push(Hand { from_s: 3.0, to_s: 2.0, depth_relative: -0.1 })),
            @"hand of the bench's world: from 3 s to 2 s by -0.1, must end after it begins and stay above -1");
        insta::assert_snapshot!(
            refused(&|spec| {
                spec.rebound.resistance_ohm = 3.0;
                spec.stop = Some(Stop { below_v: 6.0, restart: Restart::AtV(6.5) });
            }),
            @"stop.restart of the bench's world: 6.5 V, must be above 6.6 V, or it would stop and start without end");
    }
}
