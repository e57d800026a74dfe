//! The points of a discharge, a bounded number of them.

use crate::battery::curve::Sample;

/// Points kept; beyond them neighbours are averaged, so that memory stays bounded.
pub(super) const KEPT: usize = 16_384;

/// One point of a discharge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// The reading; its time counts only under load.
    pub sample: Sample,
    /// Charge given so far, in ampere hours; `None` where no current is known.
    pub charge_ah: Option<f64>,
    /// Energy given so far, in Wh.
    pub energy_wh: Option<f64>,
    /// Whether data are missing before it.
    pub after_gap: bool,
}

/// Keeps a bounded number of points by averaging more and more of them.
#[derive(Debug, Clone, Default)]
pub(super) struct Thinner {
    pub(super) kept: Vec<Point>,
    /// Doublings so far: each point kept stands for 2^doublings readings.
    doublings: u32,
    pending: Vec<Point>,
}

impl Thinner {
    pub(super) fn push(&mut self, point: Point) {
        self.pending.push(point);
        if self.pending.len() < 1_usize << self.doublings.min(30) {
            return;
        }
        self.kept.extend(mean(&self.pending));
        self.pending.clear();
        if self.kept.len() >= KEPT {
            self.kept = self.kept.chunks(2).filter_map(mean).collect();
            self.doublings += 1;
        }
    }
}

/// Returns the mean of points that follow each other, with the charge and energy of the last.
fn mean(points: &[Point]) -> Option<Point> {
    let last = points.last()?;
    let count = points.len() as f64;
    let current_a: Option<f64> = points.iter().map(|point| point.sample.current_a).sum();
    Some(Point {
        sample: Sample {
            running_s: points
                .iter()
                .map(|point| point.sample.running_s)
                .sum::<f64>()
                / count,
            volts_v: points.iter().map(|point| point.sample.volts_v).sum::<f64>() / count,
            current_a: current_a.map(|sum_a| sum_a / count),
        },
        after_gap: points.iter().any(|point| point.after_gap),
        ..*last
    })
}
