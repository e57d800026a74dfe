//! Whether a build starts, over the known spread of its parts.
//!
//! A slow transistor has two stable states. In the weak one its bias limits the current and the diode at the base stays dark. In
//! the full one the diode's rectified current is the bias. So each set of parts is judged by how it would run, switched on and
//! out of a running start. Full means everywhere: a light-emitting diode at the base is lit. Where no diode there gives light,
//! full means that the diode's rectified current, or the supply's current, is well above that at rest.

use super::damage::{Damage, damage};
use crate::circuit::network::Node;
use crate::circuit::practice::Spread;
use crate::circuit::rest::{Rest, VerdictError};
use crate::circuit::rule::{LoopGain, transition_needed_hz};
use crate::circuit::running::{Follower, Running, Until};
use crate::circuit::sets::Ratings;
use crate::circuit::stepper::{Accuracy, TransientError};
use crate::circuit::wiring::CircuitSpec;
use thiserror::Error;

/// A diode that gives no light: its average current above which that counts as the bias, in amperes (chosen: a weak state has
/// less than a microampere, a full one hundreds, and about 0.4 mA comes through the bias resistor).
pub const RECTIFIED_A: f64 = 0.1e-3;
/// Without a diode that gives light: supply current over that at rest (chosen: a weak state stays within a few per cent of it).
pub const FULL_CURRENT_RATIO: f64 = 2.0;
/// A swing at the top below which nothing oscillates, in volts (chosen: a weak state has tens of volts).
const SILENT_V: f64 = 1.0;
/// The top's voltage in a running start, in volts: as it runs fully.
pub const RUNNING_START_V: f64 = 3000.0;
/// How long a set is followed, in seconds: near the threshold an oscillation takes a hundred microseconds to grow by e.
const FOLLOWED_S: f64 = 600e-6;
/// Cycles followed closely for the peaks.
const PEAK_CYCLES: f64 = 72.0;
/// From which of them on they are read (chosen: the ringing that coarse steps left decays within ten).
const PEAKS_FROM: f64 = 24.0;
/// The loop gain from which a dead set is never called hopeless: the rule's possible error (124 of 126 circuits right).
const HOPELESS_BELOW: f64 = 0.85;
/// The multiples of the speed that just starts at which half of a grid of 64 builds lit the diode when switched on: 2.1 for a
/// gain of 110 at the bias current, 2.8 for one of 60. The grid: Q of 60 to 180, coupling 0.16 to 0.32, bias resistor 10 and 22 kohm,
/// collector capacitance 120 and 280 pF, one coil of 6.2 MHz. It is no promise: at 3.6 times, 48 and 41 of 64 lit it.
const FULL_SPEED: [(f64, f64); 2] = [(110.0, 2.1), (0.0, 2.8)];

/// How a set of parts runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum State {
    /// Not at all.
    Dead,
    /// Weakly: it oscillates, a light-emitting diode at the base stays dark.
    Weak,
    /// Weakly when switched on, fully out of a running start: it may run on and not restart.
    FullOnceRunning,
    /// Fully when switched on: a light-emitting diode at the base is lit; see [`Lamp`] where there is none.
    Full,
}

/// The answer for a build.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answer {
    /// Every set of parts runs fully when switched on.
    Starts,
    /// It depends on the parts.
    Marginal,
    /// Every set of parts is dead.
    No,
}

/// The part at the base that shows a full state.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lamp {
    /// A light-emitting diode: lit in a full state, dark in a weak one.
    Led,
    /// A diode that gives no light: in a full state its average current is above [`RECTIFIED_A`], or the supply's above
    /// [`FULL_CURRENT_RATIO`] times that at rest.
    Silicon,
    /// No diode: in a full state the supply's current is above [`FULL_CURRENT_RATIO`] times that at rest.
    None,
}

impl Lamp {
    /// Returns the part that a circuit has at its base.
    pub fn of(spec: &CircuitSpec) -> Self {
        match &spec.base_diode {
            None => Self::None,
            Some(diode) if diode.gives_light() => Self::Led,
            Some(_) => Self::Silicon,
        }
    }
}

/// A quantity that decides between the states.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Deciding {
    /// The transistor's speed.
    Speed,
    /// The transistor's current gain.
    Gain,
    /// The secondary's quality factor.
    Q,
    /// The coupling.
    Coupling,
}

/// No verdict.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum JudgeError {
    /// A set has no bias point or nothing that can oscillate.
    #[error(transparent)]
    Rest(#[from] VerdictError),
    /// A set could not be followed in time.
    #[error(transparent)]
    Transient(#[from] TransientError),
}

/// How closely a circuit of a resonance, in hertz, is followed.
type AccuracyAt = fn(f64) -> Accuracy;

/// One set of parts, judged.
#[derive(Debug, Clone)]
pub struct Judged {
    /// The set.
    pub spec: CircuitSpec,
    /// At rest, with its start-up condition.
    pub rest: Rest,
    /// The loop's gain, as explanation.
    pub gain: LoopGain,
    /// Supply current at rest, in amperes.
    pub rest_a: f64,
    /// Switched on; `None` where nothing grows.
    pub switched_on: Option<Running>,
    /// Out of a running start; `None` where that was not needed.
    pub running_start: Option<Running>,
    /// How it runs.
    pub state: State,
    /// Its best state where it was left.
    left: Option<Follower>,
}

impl Judged {
    /// Judges a set, followed with [`Accuracy::usual`].
    ///
    /// # Errors
    /// [`JudgeError`] where it can't be computed.
    pub fn of(spec: &CircuitSpec) -> Result<Self, JudgeError> {
        Self::with(spec, Accuracy::usual)
    }

    /// Judges a set, followed with [`Accuracy::coarse`]: for a state and for figures of two digits, in half the time.
    ///
    /// # Errors
    /// [`JudgeError`] where it can't be computed.
    pub fn coarse(spec: &CircuitSpec) -> Result<Self, JudgeError> {
        // A wild collector is now and then too much for coarse steps.
        Self::with(spec, Accuracy::coarse)
            .and_then(Self::with_peaks)
            .or_else(|_| Self::of(spec))
    }

    /// Returns the same with the peaks of its best state read closely, over some cycles more: coarse steps overshoot them.
    fn with_peaks(mut self) -> Result<Self, JudgeError> {
        let small_hz = self.rest.startup.frequency_hz;
        let Some(left) = &mut self.left else {
            return Ok(self);
        };
        left.set_accuracy(Accuracy::usual(small_hz));
        let peaks = left.follow_cycles(PEAK_CYCLES, PEAKS_FROM, small_hz)?;
        let running = match self.state {
            State::FullOnceRunning => &mut self.running_start,
            State::Dead | State::Weak | State::Full => &mut self.switched_on,
        };
        if let Some(running) = running {
            running.take_peaks(&peaks);
        }
        Ok(self)
    }

    fn with(spec: &CircuitSpec, accuracy: AccuracyAt) -> Result<Self, JudgeError> {
        let mut judged = Self::switched_on(spec, accuracy)?;
        if judged.switched_on.is_some() && judged.state < State::Full {
            let (left, running) = judged.run(&judged.charged(), accuracy)?;
            if judged.state_of(&running) == State::Full {
                judged.state = State::FullOnceRunning;
                judged.left = Some(left);
            }
            judged.running_start = Some(running);
        }
        Ok(judged)
    }

    /// Creates a set at rest, not followed yet.
    pub(crate) fn at_rest(spec: &CircuitSpec) -> Result<Self, VerdictError> {
        let rest = Rest::of(spec)?;
        Ok(Self {
            spec: *spec,
            gain: LoopGain::of(spec, &rest),
            rest_a: -rest.bias.branch_a(rest.wired.probes.battery),
            rest,
            switched_on: None,
            running_start: None,
            state: State::Dead,
            left: None,
        })
    }

    /// Judges a set by switching it on alone.
    fn switched_on(spec: &CircuitSpec, accuracy: AccuracyAt) -> Result<Self, JudgeError> {
        let mut judged = Self::at_rest(spec)?;
        if judged.rest.startup.starts() {
            let (left, running) = judged.run(&[], accuracy)?;
            judged.state = judged.state_of(&running);
            judged.left = Some(left);
            judged.switched_on = Some(running);
        }
        Ok(judged)
    }

    /// Returns the charged top of a running start.
    pub(crate) fn charged(&self) -> [(Node, f64); 1] {
        let top = self.rest.wired.probes.top;
        [(top, RUNNING_START_V / self.spec.resonator.foot_to_top)]
    }

    /// Returns the best state where it was left, to be followed on.
    pub(crate) const fn left(&self) -> Option<&Follower> {
        self.left.as_ref()
    }

    fn run(
        &self,
        charged: &[(Node, f64)],
        accuracy: AccuracyAt,
    ) -> Result<(Follower, Running), TransientError> {
        let wired = &self.rest.wired;
        let accuracy = accuracy(self.rest.startup.frequency_hz);
        let mut follower = Follower::new(&wired.network, &wired.probes, charged, accuracy)?;
        let running = follower.follow(Until::Steady {
            at_most_s: FOLLOWED_S,
        })?;
        Ok((follower, running))
    }

    /// Returns how a circuit like this runs that shows these figures.
    pub(crate) fn state_of(&self, running: &Running) -> State {
        let is_beyond_rest = running.supply_a > FULL_CURRENT_RATIO * self.rest_a;
        let is_full = match Lamp::of(&self.spec) {
            Lamp::Led => running.is_lit(),
            Lamp::Silicon => running.diode_a > RECTIFIED_A || is_beyond_rest,
            Lamp::None => is_beyond_rest,
        };
        if running.top_v < SILENT_V {
            State::Dead
        } else if is_full {
            State::Full
        } else {
            State::Weak
        }
    }

    /// Returns the figures of its best state.
    pub fn running(&self) -> Option<&Running> {
        match self.state {
            State::FullOnceRunning => self.running_start.as_ref(),
            _ => self.switched_on.as_ref(),
        }
    }

    /// Returns every way it is known to run: switched on, and out of a running start where that is another; none of a dead set.
    pub fn runs(&self) -> impl Iterator<Item = &Running> {
        let second = match self.state {
            State::FullOnceRunning => self.running_start.as_ref(),
            _ => None,
        };
        let runs = [self.switched_on.as_ref(), second];
        let oscillates = self.state > State::Dead;
        runs.into_iter().flatten().filter(move |_| oscillates)
    }

    /// Whether it runs weakly when switched on, whatever a running start makes of it.
    pub fn begins_weakly(&self) -> bool {
        matches!(self.state, State::Weak | State::FullOnceRunning)
    }

    /// Returns the damage that its best state does to its parts.
    pub fn damage(&self, ratings: &Ratings) -> Vec<Damage> {
        self.running()
            .map_or_else(Vec::new, |running| damage(running, ratings))
    }
}

/// The verdict on a build.
#[derive(Debug, Clone)]
pub struct Verdict {
    /// In a word.
    pub answer: Answer,
    /// Worst, typical and best set.
    pub sets: [Judged; 3],
    /// The quantities that decide, each changed alone in the typical set to that of a set which runs otherwise. Empty unless
    /// marginal, and where no single quantity decides.
    pub deciding: Vec<Deciding>,
    /// The transition frequency with which the typical set would just start, in hertz.
    pub start_needs_hz: Option<f64>,
    /// That with which about half of such builds run fully when switched on, in hertz.
    pub full_needs_hz: Option<f64>,
}

impl Verdict {
    /// Judges the worst, typical and best set of a build, each meant as a whole.
    ///
    /// # Errors
    /// [`JudgeError`] where one can't be computed.
    pub fn of(specs: &[CircuitSpec; 3]) -> Result<Self, JudgeError> {
        Self::from_sets(specs, judged(specs)?)
    }

    /// Returns the verdict on a build whose sets are judged already.
    ///
    /// # Errors
    /// [`JudgeError`] where the deciding quantities can't be computed.
    pub fn from_sets(specs: &[CircuitSpec; 3], sets: [Judged; 3]) -> Result<Self, JudgeError> {
        let [_, typical, _] = specs;
        let answer = answer(&sets);
        let deciding = match answer {
            Answer::Marginal => deciding(specs, sets.each_ref().map(|set| set.state))?,
            Answer::Starts | Answer::No => Vec::new(),
        };
        let small = sets[1]
            .rest
            .bias
            .small_signal(sets[1].rest.wired.transistor);
        let coil = &typical.resonator;
        let full_speed = FULL_SPEED
            .iter()
            .find(|(least, _)| small.gain >= *least)
            .map_or(f64::INFINITY, |(_, times)| *times);
        let start_needs_hz = transition_needed_hz(coil, &typical.primary, small.collector_base_f);
        Ok(Self {
            answer,
            sets,
            deciding,
            start_needs_hz,
            full_needs_hz: start_needs_hz.map(|start_hz| start_hz * full_speed),
        })
    }

    /// Returns one of its sets.
    pub const fn set(&self, spread: Spread) -> &Judged {
        match spread {
            Spread::Worst => &self.sets[0],
            Spread::Typical => &self.sets[1],
            Spread::Best => &self.sets[2],
        }
    }
}

/// Judges the worst, typical and best set of a build, without the quantities that decide between them: these take as long again.
///
/// The typical set is followed closely, the other two coarsely.
///
/// # Errors
/// [`JudgeError`] where one can't be computed.
pub fn judged([worst, typical, best]: &[CircuitSpec; 3]) -> Result<[Judged; 3], JudgeError> {
    Ok([
        Judged::coarse(worst)?,
        Judged::of(typical)?,
        Judged::coarse(best)?,
    ])
}

fn answer(sets: &[Judged; 3]) -> Answer {
    let is_hopeless =
        |set: &Judged| set.state == State::Dead && set.gain.with_feedback < HOPELESS_BELOW;
    if sets.iter().all(|set| set.state == State::Full) {
        Answer::Starts
    } else if sets.iter().all(is_hopeless) {
        Answer::No
    } else {
        Answer::Marginal
    }
}

/// Returns the deciding quantities, each changed alone in the typical set.
fn deciding(
    [worst, typical, best]: &[CircuitSpec; 3],
    [of_worst, state, _]: [State; 3],
) -> Result<Vec<Deciding>, JudgeError> {
    // The set that differs: a build that is poor for one reason may be good for another.
    let other = if (of_worst == State::Full) == (state == State::Full) {
        best
    } else {
        worst
    };
    let mut found = Vec::new();
    for quantity in [
        Deciding::Speed,
        Deciding::Gain,
        Deciding::Q,
        Deciding::Coupling,
    ] {
        let changed = quantity.taken_from(other, typical);
        if changed == *typical {
            continue;
        }
        let is_full = state_switched_on(&changed)? == State::Full;
        if is_full != (state == State::Full) {
            found.push(quantity);
        }
    }
    Ok(found)
}

/// Returns how a set runs when switched on, followed as closely as its state needs.
fn state_switched_on(spec: &CircuitSpec) -> Result<State, JudgeError> {
    // A wild collector is now and then too much for coarse steps.
    let judged = Judged::switched_on(spec, Accuracy::coarse)
        .or_else(|_| Judged::switched_on(spec, Accuracy::usual))?;
    Ok(judged.state)
}

impl Deciding {
    /// Returns a set with this quantity as another has it.
    fn taken_from(self, other: &CircuitSpec, set: &CircuitSpec) -> CircuitSpec {
        let mut changed = *set;
        let (to, from) = (&mut changed.transistor.model, &other.transistor.model);
        match self {
            Self::Speed => {
                to.forward_transit_s = from.forward_transit_s;
                to.transit_rise = from.transit_rise;
                to.emitter_depletion = from.emitter_depletion;
                to.collector_depletion = from.collector_depletion;
            }
            Self::Gain => to.forward_gain = from.forward_gain,
            Self::Q => changed.resonator.q = other.resonator.q,
            Self::Coupling => changed.resonator.coupling = other.resonator.coupling,
        }
        changed
    }
}
