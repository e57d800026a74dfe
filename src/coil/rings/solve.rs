//! A scene's resonance and the values that go with it, extrapolated in the number of rings.

use std::f64::consts::TAU;

use nalgebra::{Cholesky, DVector};

use super::eigen::{FIRST, THREE, TWO};
use super::network::Network;
use super::scene::{End, RingError, Scene};

/// Most turns that get a ring each. Chosen: below, one ring a turn is the real winding; above, extrapolation is as near and
/// a hundred times faster.
const MOST_SINGLE_TURNS: f64 = 200.0;

/// How a winding is cut into rings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fineness {
    /// This number of rings, taken as they come: one for each turn.
    EachTurn(usize),
    /// This number of rings and half as many, extrapolated to infinitely many; the error is of first order, by the open edge.
    Extrapolated(usize),
}

impl Fineness {
    /// Returns the cut for a winding: a ring a turn up to 200 turns, 160 and 80 extrapolated above.
    ///
    /// Up to 0.1 % lies between the two where they meet. Against 640 rings, 160 extrapolated are within 0.01 %.
    pub fn for_turns(turns: f64) -> Self {
        if turns <= MOST_SINGLE_TURNS {
            Self::EachTurn(whole(turns))
        } else {
            Self::Extrapolated(160)
        }
    }

    /// Returns how many rings the finer of its cuts has.
    pub const fn rings(self) -> usize {
        match self {
            Self::EachTurn(count) | Self::Extrapolated(count) => count,
        }
    }

    /// Creates a coarse cut, for ratios between scenes that differ little: its error is the same in both.
    pub fn coarse(turns: f64) -> Self {
        Self::EachTurn(whole(turns.min(40.0)))
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a number of turns between 1 and 200"
)]
fn whole(turns: f64) -> usize {
    turns.round().clamp(1.0, MOST_SINGLE_TURNS) as usize
}

/// A scene's behaviour at its lowest resonance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Solution {
    /// The resonance, in hertz.
    pub frequency_hz: f64,
    /// The next resonance, in hertz.
    pub next_hz: f64,
    /// The one after that, in hertz.
    pub third_hz: f64,
    /// Inductance for the same current in every turn, in henries, planes of metal counted.
    pub inductance_h: f64,
    /// Inductance seen by the current at the foot, iᵀMi with that current as 1, in henries. With an open foot the current's
    /// greatest value stands for the foot's.
    pub mode_inductance_h: f64,
    /// Mutual inductance of the primary with the mode, the current at the foot as 1, in henries.
    pub mode_mutual_h: f64,
    /// Voltage from foot to top over that of the two-element circuit with the same current at the foot.
    pub top_factor: f64,
    /// The foot's own voltage against earth over the top's; negative, as they swing against each other.
    pub foot_share: f64,
    /// The capacitance of a linear voltage from foot to top, in farads: the value of slow measurements.
    pub linear_f: f64,
    /// The capacitance of the whole winding at one potential, in farads.
    pub one_potential_f: f64,
}

impl Solution {
    /// Returns the capacitance that resonates with [`Self::inductance_h`], in farads.
    pub fn resonance_f(&self) -> f64 {
        resonant_f(self.frequency_hz, self.inductance_h)
    }

    /// Returns the capacitance that resonates with [`Self::mode_inductance_h`], in farads.
    pub fn mode_f(&self) -> f64 {
        resonant_f(self.frequency_hz, self.mode_inductance_h)
    }

    /// Returns each figure of the finer solution moved on by its distance from the coarser one.
    fn beyond(&self, coarser: &Self) -> Self {
        let on = |of: fn(&Self) -> f64| 2.0 * of(self) - of(coarser);
        Self {
            frequency_hz: on(|found| found.frequency_hz),
            next_hz: on(|found| found.next_hz),
            third_hz: on(|found| found.third_hz),
            inductance_h: on(|found| found.inductance_h),
            mode_inductance_h: on(|found| found.mode_inductance_h),
            mode_mutual_h: on(|found| found.mode_mutual_h),
            top_factor: on(|found| found.top_factor),
            foot_share: on(|found| found.foot_share),
            linear_f: on(|found| found.linear_f),
            one_potential_f: on(|found| found.one_potential_f),
        }
    }
}

fn resonant_f(frequency_hz: f64, inductance_h: f64) -> f64 {
    1.0 / ((TAU * frequency_hz).powi(2) * inductance_h)
}

/// Current and voltage along the winding at resonance.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// Share of the way from foot to top, and the current there over its greatest value.
    pub current: Vec<(f64, f64)>,
    /// Share of the way from foot to top, and the voltage there over that of the top.
    pub voltage: Vec<(f64, f64)>,
}

/// Returns the lowest resonance of a scene, in hertz.
///
/// # Errors
/// Those of [`solve`].
pub fn frequency_hz(scene: &Scene, fineness: Fineness) -> Result<f64, RingError> {
    scene.check()?;
    let at = |count| {
        let network = Network::new(scene, count)?;
        let found = network.modes(&network.inductance_h(), FIRST)?;
        Ok(found.values[0].sqrt() / TAU)
    };
    let at = |count| at(count).map_err(|error| scene.named(error));
    match fineness {
        Fineness::EachTurn(count) => at(count),
        Fineness::Extrapolated(count) => Ok(2.0 * at(count)? - at(count / 2)?),
    }
}

/// Solves a scene at its lowest resonance.
///
/// # Errors
/// [`RingError`] for a winding of too few turns or with turns in each other, and for a conductor in the winding, the plane or
/// another conductor. The same is returned for a mode that does not settle.
pub fn solve(scene: &Scene, fineness: Fineness) -> Result<Solution, RingError> {
    scene.check()?;
    let at = |count| solution(scene, count).map_err(|error| scene.named(error));
    match fineness {
        Fineness::EachTurn(count) => at(count),
        Fineness::Extrapolated(count) => Ok(at(count)?.beyond(&at(count / 2)?)),
    }
}

/// Returns the current and voltage along the winding, on a number of rings.
///
/// # Errors
/// Those of [`solve`].
pub fn profile(scene: &Scene, count: usize) -> Result<Profile, RingError> {
    scene.check()?;
    profiled(scene, count).map_err(|error| scene.named(error))
}

fn profiled(scene: &Scene, count: usize) -> Result<Profile, RingError> {
    let network = Network::new(scene, count)?;
    let found = network.modes(&network.inductance_h(), TWO)?;
    let potentials = network.potentials_vs(&found.vector);
    let greatest = greatest(&found.vector);
    let top = potentials[network.top()];
    let elements = count as f64;
    let first = network.first_edge as f64;
    let along = |from: f64, values: &mut dyn Iterator<Item = f64>| {
        let place = |index: usize| (index as f64 + from) / elements;
        values
            .enumerate()
            .map(|(index, value)| (place(index), value))
            .collect()
    };
    let mut current: Vec<(f64, f64)> = along(
        first,
        &mut found.vector.iter().map(|value| value / greatest),
    );
    // An open end carries none.
    if scene.foot == End::Open {
        current.insert(0, (0.0, 0.0));
    }
    if scene.top == End::Open {
        current.push((1.0, 0.0));
    }
    Ok(Profile {
        current,
        voltage: along(
            0.5,
            &mut potentials.iter().take(count).map(|value| value / top),
        ),
    })
}

/// Returns the entry farthest from zero, with its sign.
fn greatest(values: &DVector<f64>) -> f64 {
    values.iter().copied().fold(0.0, |most: f64, value| {
        if value.abs() > most.abs() {
            value
        } else {
            most
        }
    })
}

fn solution(scene: &Scene, count: usize) -> Result<Solution, RingError> {
    let network = Network::new(scene, count)?;
    let inductance_h = network.inductance_h();
    let found = network.modes(&inductance_h, THREE)?;
    let omega = found.values[0].sqrt();
    let foot = if network.first_edge == 0 {
        found.vector[0]
    } else {
        greatest(&found.vector)
    };
    let currents = &found.vector / foot;
    let mode_inductance_h = currents.dot(&(&inductance_h * &currents));
    let mutuals_h = network.grid.primary_mutuals_h();
    let mutuals_h = mutuals_h.rows(network.first_edge, currents.len());
    let potentials = network.potentials_vs(&currents);
    // The circuit's capacitor has I/(ωC) = ω·L·I across it.
    let circuit_vs = omega * omega * mode_inductance_h;
    let (foot_vs, top_vs) = (network.foot_vs(&potentials), potentials[network.top()]);
    let (linear_f, one_potential_f) = slow_capacitances(&network)?;
    Ok(Solution {
        frequency_hz: omega / TAU,
        next_hz: found.values[1].sqrt() / TAU,
        third_hz: found.values[2].sqrt() / TAU,
        inductance_h: network.inductances.uniform_h,
        mode_inductance_h,
        mode_mutual_h: currents.dot(&mutuals_h),
        top_factor: ((top_vs - foot_vs) / circuit_vs).abs(),
        foot_share: foot_vs / top_vs,
        linear_f,
        one_potential_f,
    })
}

/// Returns the capacitances for a linear voltage and for one potential, in farads, with the foot's own conductors at earth.
fn slow_capacitances(network: &Network<'_>) -> Result<(f64, f64), RingError> {
    let coefficients = network.above_foot_v_per_c();
    let nodes = coefficients.nrows();
    let cholesky = Cholesky::new(coefficients).ok_or(RingError::Crowded)?;
    let energy_f = |volts: DVector<f64>| volts.dot(&cholesky.solve(&volts));
    let share = |row: usize| ((row as f64 + 0.5) / network.count as f64).min(1.0);
    let linear = DVector::from_fn(nodes, |row, _| share(row));
    Ok((
        energy_f(linear),
        energy_f(DVector::from_element(nodes, 1.0)),
    ))
}
