//! A coil that stops before the battery's end point, and how much of a run lies above its stop.

use super::range::Range;
use super::worth::Held;
use crate::battery::curve;
use crate::battery::finished::Finished;
use crate::battery::kind::Kind;
use crate::battery::shipped;
use crate::units::Span;

/// A synthetic alkaline-like curve that begins below this is of a part-used one: a fresh one has 8.4 to 9.0 V at 0.35 A.
/// Common practice, no source.
const FRESH_LOADED_V: f64 = 8.4;
/// Widenings that are tried on the scale of the odds; the least that holds the truth often enough is taken. Chosen.
const WIDENINGS: [f64; 7] = [1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0];
/// Shares nearer to none or all than this count as this near: their odds are still a number.
const NEAR: f64 = 0.001;

/// Where a coil stops, in volts for all batteries in series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stop {
    /// The battery's open voltage there.
    pub open_v: f64,
    /// The voltage at its clips.
    pub loaded_v: f64,
}

/// The charge left by a coil that stops before the battery's end point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StopsEarly {
    /// The voltage at the battery's clips at which it stops, in volts, for all in series.
    pub loaded_v: f64,
    /// The share of a run that lies above it; `None` where no curve of the kind ships with the program.
    pub share: Option<Share>,
}

/// The share of a run above a voltage, by the curves of the kind that ship with the program, none of them measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// The least, made less by the replay.
    pub low: f64,
    /// The middle of the curves' shares.
    pub middle: f64,
    /// The greatest, made greater by the replay.
    pub high: f64,
    /// The factor by which it is wider than the curves' span, on the scale of the odds.
    pub widening: f64,
    /// How often the range so widened held a curve's share, that curve and the others of its cell left out: the widening was
    /// chosen by it. [`super::replay`] finds it without the run as well.
    pub held: Held,
}

impl Share {
    /// Returns the share of a run above a voltage, in volts for one battery; `None` without curves of two cells.
    pub(super) fn above(curves: &[Finished], loaded_v: f64) -> Option<Self> {
        let shares: Vec<(f64, &str)> = curves
            .iter()
            .map(|one| (share_above(one, loaded_v), one.group.as_str()))
            .collect();
        let (_, first) = shares.first()?;
        if curves.len() > 1 && shares.iter().all(|(_, group)| group == first) {
            // Curves of one cell can't be put to the test.
            return None;
        }
        let replayed = |widening: f64| {
            let held = |(share, group): &(f64, &str)| {
                let others = shares.iter().filter(|other| other.1 != *group);
                spanned(others.map(|other| other.0))
                    .is_some_and(|span| holds(widened(span, widening), *share))
            };
            Held::count(shares.iter().map(held))
        };
        let tried = WIDENINGS.map(|widening| (widening, replayed(widening)));
        let enough = tried.iter().find(|(_, held)| held.is_enough());
        let (widening, held) = *enough.or_else(|| tried.last())?;
        let of_curves = spanned(shares.iter().map(|one| one.0))?;
        let wide = widened(of_curves, widening);
        let odds = f64::midpoint(log_odds(of_curves.low), log_odds(of_curves.high));
        Some(Self {
            low: wide.low,
            middle: of_odds(odds),
            high: wide.high,
            widening,
            held,
        })
    }
}

impl StopsEarly {
    /// Returns where a coil that stops at this open voltage and voltage at the clips, in volts, stops before the end point of the
    /// kind.
    pub(super) fn of(kind: Kind, series: f64, stop: Stop) -> Option<Self> {
        let Stop { open_v, loaded_v } = stop;
        let end_v = series * kind.end_point()?.value_v;
        (open_v > end_v && loaded_v > end_v).then(|| Self {
            loaded_v,
            share: Share::above(&begun_full(kind), loaded_v / series),
        })
    }

    /// Returns the part left of a time on one charge; without a curve nothing is sure of it.
    pub(super) fn cut(&self, range: Range) -> Range {
        let Some(share) = self.share else {
            return Range {
                low: 0.0,
                middle: None,
                ..range
            };
        };
        Range {
            low: share.low * range.low,
            middle: range.middle.map(|middle_s| share.middle * middle_s),
            high: share.high * range.high,
        }
    }
}

/// Returns the shipped curves of a kind that began full.
pub(super) fn begun_full(kind: Kind) -> Vec<Finished> {
    let mut curves = shipped::finished(kind);
    curves.retain(|one| {
        let first_v = one.samples.first().map_or(0.0, |first| first.volts_v);
        kind != Kind::Alkaline || first_v >= FRESH_LOADED_V
    });
    curves
}

/// Returns the share of a run before it first came down to a voltage, in volts.
pub(super) fn share_above(run: &Finished, loaded_v: f64) -> f64 {
    let reached_s = curve::reached_s(&run.samples, loaded_v).unwrap_or(run.run_s);
    (reached_s / run.run_s).clamp(NEAR, 1.0 - NEAR)
}

fn holds(span: Span, share: f64) -> bool {
    // A share that stands on the edge lies inside.
    (span.low - 1e-9..=span.high + 1e-9).contains(&share)
}

fn spanned(shares: impl Iterator<Item = f64>) -> Option<Span> {
    shares.map(Span::of).reduce(Span::joined)
}

fn widened(span: Span, widening: f64) -> Span {
    let (low, high) = (log_odds(span.low), log_odds(span.high));
    let (middle, half) = (f64::midpoint(low, high), 0.5 * widening * (high - low));
    Span::new(of_odds(middle - half), of_odds(middle + half))
}

fn log_odds(share: f64) -> f64 {
    (share / (1.0 - share)).ln()
}

fn of_odds(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}
