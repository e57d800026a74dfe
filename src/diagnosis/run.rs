//! How a drawn circuit runs, followed only as long and as closely as a diagnosis needs.

use crate::circuit::network::Node;
use crate::circuit::running::{Follower, Running, Until};
use crate::circuit::stepper::Accuracy;
use crate::circuit::wiring::Wired;

/// Cycles of which one set of figures is the mean.
const WINDOW_CYCLES: f64 = 24.0;
/// Windows at most: near the threshold an oscillation takes hundreds of cycles to grow by e.
const MOST_WINDOWS: usize = 150;
/// Windows at least: the supply's edge has to be over and the base to have found its bias.
const LEAST_WINDOWS: usize = 6;
/// Windows in a row that have to agree: one swing of a slow envelope looks settled at its top.
const AGREEING: usize = 4;
/// What they may differ by when a run has settled.
const SETTLED: f64 = 0.015;
/// Windows in two halves whose means have to agree where a wild collector lets single windows never do.
const WILD_WINDOWS: usize = 12;
/// Share of the scatter of the first half that the second one has to keep.
const STILL_WILD: f64 = 0.5;
/// Windows over which bursts are looked for in a run that does not settle.
const BURST_WINDOWS: usize = 30;

/// What a run shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Run {
    pub(super) frequency_hz: f64,
    pub(super) supply_a: f64,
    pub(super) top_v: f64,
    pub(super) base_v: f64,
    pub(super) diode_a: f64,
    pub(super) transistor_w: f64,
    /// The envelope's swing over its mean; zero once settled.
    pub(super) bursts: f64,
}

/// Error of a step and steps a cycle of a diagnosis: against the usual accuracy frequency within 0.1 %, current within
/// 2 % on the medium, small and power transistor's circuits.
fn accuracy(resonance_hz: f64) -> Accuracy {
    Accuracy {
        tolerance: 1e-2,
        longest_step_s: 1.0 / (40.0 * resonance_hz),
    }
}

/// Follows a circuit from nothing, or from charged nodes, until two windows agree; `None` where it can't be followed.
pub(super) fn run(wired: &Wired, small_hz: f64, charged: &[(Node, f64)]) -> Option<Run> {
    // A wild collector is now and then too much for coarse steps.
    followed(wired, small_hz, charged, accuracy(small_hz))
        .or_else(|| followed(wired, small_hz, charged, Accuracy::usual(small_hz)))
}

fn followed(
    wired: &Wired,
    small_hz: f64,
    charged: &[(Node, f64)],
    accuracy: Accuracy,
) -> Option<Run> {
    let mut follower = Follower::new(&wired.network, &wired.probes, charged, accuracy).ok()?;
    let window_s = WINDOW_CYCLES / small_hz;
    let mut seen: Vec<Running> = Vec::new();
    let mut now_s = 0.0;
    let mut settled = None;
    while seen.len() < MOST_WINDOWS && settled.is_none() {
        // The first cycle of a window is a part of one.
        let until = Until::Time {
            end_s: now_s + window_s,
            read_from_s: now_s + 1.5 / small_hz,
        };
        seen.push(follower.follow(until).ok()?);
        now_s += window_s;
        settled = settled_over(&seen);
    }
    let is_settled = settled.is_some();
    let tail = settled.unwrap_or(BURST_WINDOWS);
    let tail = seen.get(seen.len().saturating_sub(tail)..)?;
    let mean = |get: fn(&Running) -> f64| tail.iter().map(get).sum::<f64>() / tail.len() as f64;
    let (low, high) = lowest_and_highest(tail);
    let last = tail.last()?;
    // An envelope that only grows is slow, not in bursts.
    let falls = tail.windows(2).any(|pair| match pair {
        [a, b] => b.top_v < 0.9 * a.top_v,
        _ => false,
    });
    let growing = !is_settled && !falls;
    let of = |get: fn(&Running) -> f64| if growing { get(last) } else { mean(get) };
    Some(Run {
        frequency_hz: of(|r| r.frequency_hz),
        supply_a: of(|r| r.supply_a),
        top_v: of(|r| r.top_v),
        base_v: of(|r| r.base_v),
        diode_a: of(|r| r.diode_a),
        transistor_w: of(|r| r.transistor_w),
        bursts: if falls {
            (high - low) / mean(|r| r.top_v).max(1e-9)
        } else {
            0.0
        },
    })
}

fn near(a: f64, b: f64, least: f64) -> bool {
    (a - b).abs() < SETTLED * b.abs() + least
}

/// Over how many windows the figures are to be read once they change no more; `None` while they still do.
fn settled_over(seen: &[Running]) -> Option<usize> {
    let (now, before) = seen.split_last()?;
    if seen.len() < LEAST_WINDOWS || !now.top_v.is_finite() {
        return None;
    }
    let mut last = before.iter().rev().take(AGREEING - 1);
    let is_calm = last
        .all(|last| near(last.top_v, now.top_v, 0.02) && near(last.supply_a, now.supply_a, 0.2e-3));
    if is_calm {
        return Some(2);
    }
    is_steady(seen).then_some(WILD_WINDOWS)
}

/// Whether a wild run is as wild as it was: no trend from one half of the last windows to the other, nor an envelope that
/// only grows or only falls.
fn is_steady(seen: &[Running]) -> bool {
    let Some((first, last)) = seen
        .get(seen.len().saturating_sub(WILD_WINDOWS + 2)..)
        .and_then(|tail| tail.get(2..))
        .filter(|tail| tail.len() == WILD_WINDOWS)
        .map(|tail| tail.split_at(WILD_WINDOWS / 2))
    else {
        return false;
    };
    let mean = |windows: &[Running], get: fn(&Running) -> f64| {
        windows.iter().map(get).sum::<f64>() / windows.len() as f64
    };
    let agree =
        |get: fn(&Running) -> f64, least: f64| near(mean(first, get), mean(last, get), least);
    let turns = |windows: &[Running]| {
        let rises = |pair: &[Running]| match pair {
            [a, b] => b.top_v > a.top_v,
            _ => false,
        };
        let rising = windows.windows(2).filter(|pair| rises(pair)).count();
        rising > 0 && rising + 1 < windows.len()
    };
    let range_v = |windows: &[Running]| {
        let (low, high) = lowest_and_highest(windows);
        high - low
    };
    agree(|r| r.top_v, 0.02)
        && agree(|r| r.supply_a, 0.2e-3)
        && turns(first)
        && turns(last)
        // What rings down to a calm state is waited for.
        && range_v(last) > STILL_WILD * range_v(first)
}

/// The envelope's lowest and highest, in volt.
fn lowest_and_highest(windows: &[Running]) -> (f64, f64) {
    windows
        .iter()
        .fold((f64::INFINITY, 0.0), |(low, high): (f64, f64), r| {
            (low.min(r.top_v), high.max(r.top_v))
        })
}
