//! The numbers of a world, and the limits of each.

use std::f64::consts::PI;

/// Warming of the circuit, from cold towards a steady state as `1 - exp(-t/τ)`, and back while it is stopped.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Warming {
    /// How far the frequency has moved when it is warm, relative to `f0_hz`.
    pub shift_relative: f64,
    /// Time constant τ in seconds.
    pub time_constant_s: f64,
    /// Temperature when cold, in degrees Celsius.
    pub ambient_c: f64,
    /// How much warmer it gets, in kelvin.
    pub rise_k: f64,
}

/// The voltage that the battery gives back when the load is gone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rebound {
    /// Resistance in ohms that the step at once comes from.
    pub resistance_ohm: f64,
    /// Volts that come back slowly after that.
    pub slow_v: f64,
    /// Time constant of the slow part, in seconds.
    pub time_constant_s: f64,
}

/// Size of the noises, each a standard deviation.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct NoiseSize {
    /// Frequency noise, independent from second to second, in hertz.
    pub white_hz: f64,
    /// Random walk of the frequency, in hertz after one second; it grows as the square root of time.
    pub walk_hz: f64,
    /// Battery voltage noise, independent from second to second, in volts.
    pub white_v: f64,
}

/// A hand that comes near and goes: the frequency dips and comes back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hand {
    /// When it begins to matter, in elapsed seconds.
    pub from_s: f64,
    /// When it no longer does.
    pub to_s: f64,
    /// The frequency's change in the middle, relative: `-0.04` for four per cent down.
    pub depth_relative: f64,
}

impl Hand {
    /// Returns the frequency's relative change at a moment: a raised cosine, level at both ends.
    pub(super) fn change(&self, elapsed_s: f64) -> f64 {
        if elapsed_s <= self.from_s || elapsed_s >= self.to_s {
            return 0.0;
        }
        let part = (elapsed_s - self.from_s) / (self.to_s - self.from_s);
        self.depth_relative * (PI * part).sin().powi(2)
    }
}

/// When a stopped coil starts again.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Restart {
    /// It doesn't.
    Never,
    /// As soon as the rested battery has come back to this voltage.
    AtV(f64),
    /// After this many seconds of rest.
    AfterS(f64),
}

/// A coil that stops when its battery is low.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stop {
    /// It stops when the voltage under load falls below this many volts.
    pub below_v: f64,
    /// When it starts again.
    pub restart: Restart,
}

/// The numbers of a world.
#[derive(Debug, Clone, PartialEq)]
pub struct WorldSpec {
    /// Where all noise comes from.
    pub seed: u64,
    /// Frequency in hertz, cold, at the voltage in the battery table's first row.
    pub f0_hz: f64,
    /// How the frequency follows the battery, in hertz per volt.
    pub pushing_hz_per_v: f64,
    /// Warming.
    pub warming: Warming,
    /// Battery: seconds under load and volts under load, straight between the rows and level beyond the ends.
    pub battery: Vec<(f64, f64)>,
    /// The voltage that the battery gives back at rest.
    pub rebound: Rebound,
    /// Supply current in amperes at the first row's voltage; proportional to the voltage (chosen), none when stopped.
    pub current_a: f64,
    /// Peak-to-peak volts at the pick-up at the first row's voltage; proportional to the voltage (chosen).
    pub amplitude_v: f64,
    /// Noise.
    pub noise: NoiseSize,
    /// Hands that pass.
    pub hands: Vec<Hand>,
    /// When the coil stops; `None` for one that runs for ever.
    pub stop: Option<Stop>,
}

impl WorldSpec {
    /// Creates a coil that does nothing but oscillate: no pushing, warming, noise, hands or stop, on a battery that keeps its
    /// voltage. The start for others: set the fields that are to differ.
    ///
    /// Current (0.3 A), amplitude (3 V) and temperature (20 °C) are invented.
    pub fn steady(f0_hz: f64, battery_v: f64) -> Self {
        Self {
            seed: 0,
            f0_hz,
            pushing_hz_per_v: 0.0,
            warming: Warming {
                shift_relative: 0.0,
                time_constant_s: 60.0,
                ambient_c: 20.0,
                rise_k: 0.0,
            },
            battery: vec![(0.0, battery_v)],
            rebound: Rebound {
                resistance_ohm: 0.0,
                slow_v: 0.0,
                time_constant_s: 60.0,
            },
            current_a: 0.3,
            amplitude_v: 3.0,
            noise: NoiseSize::default(),
            hands: Vec::new(),
            stop: None,
        }
    }

    /// Returns the supply current of the running coil at a battery voltage, in amperes.
    pub(super) fn current_at(&self, battery_v: f64) -> f64 {
        self.current_a * battery_v / self.full_v()
    }

    /// Returns the voltage of the full battery.
    pub(super) fn full_v(&self) -> f64 {
        self.battery.first().map_or(f64::NAN, |&(_, volts)| volts)
    }

    /// Checks the specification and returns its first fault.
    pub(super) fn check(&self) -> Result<(), WorldError> {
        let positive = [
            ("f0_hz", self.f0_hz),
            ("warming.time_constant_s", self.warming.time_constant_s),
            ("rebound.time_constant_s", self.rebound.time_constant_s),
        ];
        let not_negative = [
            ("rebound.resistance_ohm", self.rebound.resistance_ohm),
            ("rebound.slow_v", self.rebound.slow_v),
            ("current_a", self.current_a),
            ("amplitude_v", self.amplitude_v),
            ("noise.white_hz", self.noise.white_hz),
            ("noise.walk_hz", self.noise.walk_hz),
            ("noise.white_v", self.noise.white_v),
        ];
        let any = [
            ("pushing_hz_per_v", self.pushing_hz_per_v),
            ("warming.shift_relative", self.warming.shift_relative),
            ("warming.ambient_c", self.warming.ambient_c),
            ("warming.rise_k", self.warming.rise_k),
        ];
        refuse_unless(&positive, "a number above 0", |value| value > 0.0)?;
        refuse_unless(&not_negative, "a number of at least 0", |value| {
            value >= 0.0
        })?;
        refuse_unless(&any, "a finite number", f64::is_finite)?;
        self.check_battery()?;
        self.check_events()
    }

    fn check_battery(&self) -> Result<(), WorldError> {
        if self.battery.is_empty() {
            return Err(WorldError::NoBattery);
        }
        let mut before_s = f64::NEG_INFINITY;
        for (row, &(row_s, volts)) in self.battery.iter().enumerate() {
            if !(row_s.is_finite() && row_s > before_s && volts.is_finite() && volts > 0.0) {
                return Err(WorldError::BatteryRow { row, row_s, volts });
            }
            before_s = row_s;
        }
        Ok(())
    }

    fn check_events(&self) -> Result<(), WorldError> {
        for hand in &self.hands {
            let whole = [hand.from_s, hand.to_s, hand.depth_relative]
                .iter()
                .all(|value| value.is_finite());
            if !(whole && hand.from_s < hand.to_s && hand.depth_relative > -1.0) {
                return Err(WorldError::Hand {
                    from_s: hand.from_s,
                    to_s: hand.to_s,
                    depth_relative: hand.depth_relative,
                });
            }
        }
        let Some(stop) = self.stop else {
            return Ok(());
        };
        refuse_unless(
            &[("stop.below_v", stop.below_v)],
            "a finite number",
            f64::is_finite,
        )?;
        match stop.restart {
            Restart::Never => Ok(()),
            Restart::AfterS(rest_s) => {
                refuse_unless(&[("stop.restart", rest_s)], "a number above 0", |value| {
                    value > 0.0
                })
            }
            Restart::AtV(volts) => {
                // A restart inside the step of the resistance would stop and start without end.
                let above_v =
                    stop.below_v + self.rebound.resistance_ohm * self.current_at(stop.below_v);
                if volts.is_finite() && volts > above_v {
                    Ok(())
                } else {
                    Err(WorldError::Restart { volts, above_v })
                }
            }
        }
    }
}

fn refuse_unless(
    values: &[(&'static str, f64)],
    allowed: &'static str,
    is_good: impl Fn(f64) -> bool,
) -> Result<(), WorldError> {
    match values
        .iter()
        .find(|(_, value)| !(value.is_finite() && is_good(*value)))
    {
        Some(&(name, found)) => Err(WorldError::Number {
            name,
            found,
            allowed,
        }),
        None => Ok(()),
    }
}

/// Why there can be no such world.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum WorldError {
    /// A number out of its range.
    #[error("{name} of the bench's world: {found}, must be {allowed}")]
    Number {
        /// Which.
        name: &'static str,
        /// Its value.
        found: f64,
        /// The allowed values.
        allowed: &'static str,
    },
    /// The battery's table has no rows.
    #[error("battery of the bench's world: no rows, at least one is needed")]
    NoBattery,
    /// A row of the battery's table is out of order or no voltage.
    #[error(
        "battery of the bench's world, row {row}: {row_s} s and {volts} V, times must rise and volts be above 0"
    )]
    BatteryRow {
        /// Which row, from 0.
        row: usize,
        /// Its time.
        row_s: f64,
        /// Its voltage.
        volts: f64,
    },
    /// A hand that goes before it comes, or moves the frequency below zero.
    #[error(
        "hand of the bench's world: from {from_s} s to {to_s} s by {depth_relative}, must end after it begins and stay above -1"
    )]
    Hand {
        /// Its start.
        from_s: f64,
        /// Its end.
        to_s: f64,
        /// Its depth.
        depth_relative: f64,
    },
    /// A restart voltage that the battery's resistance alone gives back at once.
    #[error(
        "stop.restart of the bench's world: {volts} V, must be above {above_v} V, or it would stop and start without end"
    )]
    Restart {
        /// The voltage asked for.
        volts: f64,
        /// The voltage that it must be above.
        above_v: f64,
    },
}
