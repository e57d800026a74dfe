//! How a drawn circuit runs, followed only as long and as closely as a diagnosis needs.

use crate::circuit::network::Node;
use crate::circuit::running::{Follower, Running, Until};
use crate::circuit::stepper::Accuracy;
use crate::circuit::wild;
use crate::circuit::wiring::Wired;
use crate::units::Span;

/// Cycles of which one set of figures is the mean.
const WINDOW_CYCLES: f64 = 24.0;
/// Windows at most: near the threshold an oscillation takes hundreds of cycles to grow by e.
const MOST_WINDOWS: usize = 150;
/// Windows at least: the supply's edge has to be over and the base to have found its bias.
const LEAST_WINDOWS: usize = 6;
/// Windows in a row that have to agree: one swing of a slow envelope looks settled at its top.
const AGREEING: usize = 4;
/// The most that they may differ by when a run has settled.
const SETTLED: f64 = 0.015;
/// Windows over which bursts are looked for in a run that does not settle.
const BURST_WINDOWS: usize = 30;

/// The values of a run.
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

/// Follows a circuit from nothing, or from charged nodes, until two windows agree; `None` where it can't be followed.
pub(super) fn run(wired: &Wired, small_hz: f64, charged: &[(Node, f64)]) -> Option<Run> {
    // A wild collector is now and then too much for coarse steps.
    followed(wired, small_hz, charged, Accuracy::coarse(small_hz))
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
    let envelope_v = envelope_v(tail)?;
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
            envelope_v.width() / mean(|r| r.top_v).max(1e-9)
        } else {
            0.0
        },
    })
}

fn near(a: f64, b: f64, least: f64) -> bool {
    (a - b).abs() < SETTLED * b.abs() + least
}

/// Returns the number of windows over which the figures are to be read once they change no more; `None` while they still do.
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
    let tail = seen.get(seen.len().saturating_sub(wild::LEAST)..)?;
    let tail = tail.iter().map(|window| wild::Seen {
        top_v: window.top_v,
        supply_a: window.supply_a,
    });
    wild::is_steady(&tail.collect::<Vec<_>>()).then_some(wild::READ)
}

/// Returns the envelope's lowest and highest, in volts.
fn envelope_v(windows: &[Running]) -> Option<Span> {
    let tops_v = windows.iter().map(|window| Span::of(window.top_v));
    tops_v.reduce(Span::joined)
}
