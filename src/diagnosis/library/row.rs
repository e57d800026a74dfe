//! A computed circuit's row: whether it runs, how it stands beside the sound one and its neighbours.

use super::unpowered::put;
use crate::circuit::running::SEEN_A;
use crate::diagnosis::answer::likelihood::seen_to_light;
use crate::diagnosis::quantity::{BLURRED, COUNT, Quantity, Row};

/// A swing at the top below which nothing oscillates, in volts.
pub(super) const SILENT_V: f64 = 1.0;

/// Whether a row is of a circuit that oscillates.
pub(super) fn is_running(row: &Row) -> bool {
    row[Quantity::Lamp.index()] > 1.0
}

/// Returns how surely the LED of a computed circuit is seen to light; `None` where it has none.
pub(super) fn is_lit(row: &Row) -> Option<f64> {
    let led_a = value(row, Quantity::Led);
    let seen = if is_running(row) {
        seen_to_light(led_a)
    } else {
        0.0
    };
    (!led_a.is_nan()).then_some(seen)
}

/// Whether it oscillates with its diode dark.
pub(super) fn is_weak(row: &Row) -> bool {
    is_running(row) && value(row, Quantity::Led) < SEEN_A
}

pub(super) fn value(row: &Row, quantity: Quantity) -> f64 {
    f64::from(row[quantity.index()])
}

/// Of the running draws, those around one that it has to stand for: with twelve of them followed in time, itself and the
/// next three.
const STANDS_FOR: usize = 3;

/// A draw stands for no more than this, as a logarithm of a ratio (chosen: twice and a half).
const WIDEST: f64 = 1.0;

/// Writes how far apart a fault's draws lie. In frequency, which each draw has for itself, that is their spread over the cube
/// root of their number. This bandwidth lies between that of a single hump (fifth root, Silverman 1986, from memory) and of many
/// (chosen). In quantities that only draws followed in time have, it is the distance from each to its neighbours (a variable
/// kernel after Breiman, Meisel and Purcell, Technometrics 19 (1977) 135, from memory).
pub(super) fn blur(rows: &mut [Row]) {
    for (place, quantity) in BLURRED.into_iter().enumerate() {
        let mut logs: Vec<(f64, usize)> = rows
            .iter()
            .enumerate()
            .filter(|(_, row)| is_running(row) && value(row, quantity) > 1e-9)
            .map(|(index, row)| (value(row, quantity).ln(), index))
            .collect();
        logs.sort_by(|a, b| a.0.total_cmp(&b.0));
        let widths: Vec<f64> = if quantity == Quantity::Frequency {
            vec![spread(&logs) / (logs.len().max(1) as f64).cbrt(); logs.len()]
        } else {
            (0..logs.len())
                .map(|own| reach(&logs, own, logs.len() / STANDS_FOR))
                .collect()
        };
        for ((_, index), width) in logs.into_iter().zip(widths) {
            if let Some(slot) = rows
                .get_mut(index)
                .and_then(|row| row.get_mut(COUNT + place))
            {
                #[expect(
                    clippy::cast_possible_truncation,
                    reason = "a bandwidth needs no more digits"
                )]
                let width = width as f32;
                *slot = width;
            }
        }
    }
}

fn spread(logs: &[(f64, usize)]) -> f64 {
    let count = logs.len().max(1) as f64;
    let mean = logs.iter().map(|log| log.0).sum::<f64>() / count;
    let square = logs.iter().map(|log| (log.0 - mean).powi(2)).sum::<f64>() / count;
    square.sqrt()
}

/// Returns how far from one of these sorted values its `count` nearest reach.
fn reach(logs: &[(f64, usize)], own: usize, count: usize) -> f64 {
    let at = |index: usize| logs.get(index).map(|log| log.0);
    let Some(here) = at(own) else { return 0.0 };
    (own.saturating_sub(count)..=own)
        .filter_map(|first| {
            let (low, high) = (at(first)?, at(first + count)?);
            Some((here - low).max(high - here))
        })
        .fold(WIDEST, f64::min)
}

/// Writes how a draw compares with the sound circuit of the same parts.
pub(super) fn compare(row: &mut Row, sound: &Row) {
    let ratio = |quantity: Quantity| {
        let ratio = value(row, quantity) / value(sound, quantity);
        ratio.is_finite().then_some(ratio)
    };
    let (frequency, amplitude) = (ratio(Quantity::Frequency), ratio(Quantity::Lamp));
    if is_running(row) && is_running(sound) {
        put(row, Quantity::FrequencyRatio, frequency);
        put(row, Quantity::AmplitudeRatio, amplitude);
    }
}
