//! How a drawn circuit runs, followed only as long and as closely as a diagnosis needs.

use crate::circuit::network::Node;
use crate::circuit::running::{Follower, Running, Until};
use crate::circuit::stepper::Accuracy;
use crate::circuit::wiring::Wired;

/// Cycles followed before figures are compared.
const WINDOW_CYCLES: f64 = 60.0;
/// Windows at most: near the threshold an oscillation takes hundreds of cycles to grow by e.
const MOST_WINDOWS: usize = 60;
/// Windows at least: the supply's edge has to be over.
const LEAST_WINDOWS: usize = 4;
/// What two windows may differ by when a run has settled.
const SETTLED: f64 = 0.015;
/// Windows over which bursts are looked for in a run that does not settle.
const BURST_WINDOWS: usize = 12;

/// What a run shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Run {
    pub(super) frequency_hz: f64,
    pub(super) supply_a: f64,
    pub(super) top_v: f64,
    pub(super) base_v: f64,
    pub(super) diode_a: f64,
    pub(super) collector_w: f64,
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
    let mut is_settled = false;
    while seen.len() < MOST_WINDOWS && !is_settled {
        // The first cycle of a window is a part of one.
        let until = Until::Time {
            end_s: now_s + window_s,
            read_from_s: now_s + 1.5 / small_hz,
        };
        let running = follower.follow(until).ok()?;
        now_s += window_s;
        is_settled = seen.len() >= LEAST_WINDOWS
            && seen
                .last()
                .is_some_and(|last| agree(last, &running) && running.top_v.is_finite());
        seen.push(running);
    }
    let tail = if is_settled { 1 } else { BURST_WINDOWS };
    let tail = seen.get(seen.len().saturating_sub(tail)..)?;
    let mean = |get: fn(&Running) -> f64| tail.iter().map(get).sum::<f64>() / tail.len() as f64;
    let (low, high) = tail
        .iter()
        .fold((f64::INFINITY, 0.0), |(low, high): (f64, f64), r| {
            (low.min(r.top_v), high.max(r.top_v))
        });
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
        collector_w: of(|r| r.collector_w),
        bursts: if falls {
            (high - low) / mean(|r| r.top_v).max(1e-9)
        } else {
            0.0
        },
    })
}

fn agree(last: &Running, now: &Running) -> bool {
    let near = |a: f64, b: f64, least: f64| (a - b).abs() < SETTLED * b.abs() + least;
    near(last.top_v, now.top_v, 0.02) && near(last.supply_a, now.supply_a, 0.2e-3)
}
