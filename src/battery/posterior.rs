//! How likely each length of a run is, given the run so far and whole curves to lay it on.

use super::curve::{self, Curve, Place, Sample};
use super::forecast::{Prior, Start};

/// Lengths tried in each pass; the second pass looks closer at where the first found something.
const LENGTHS: usize = 80;
/// Averaged points of the run so far.
const POINTS: usize = 36;
/// The first of a run is the battery settling, and is left out.
const SETTLING: f64 = 0.02;
/// A run is at least so many and at most so many times as long as it has lasted.
const LONGEST: f64 = 12.0;
const SHORTEST: f64 = 1.01;
/// Shares of the charge that a part-used battery may have spent; those the published back-test searched.
const SPENT: [f64; 4] = [0.0, 0.1, 0.2, 0.3];
/// How many of the 36 points count as independent: the rest repeat what their neighbours say.
const INDEPENDENT: f64 = 8.0;
/// How far one battery's voltage lies beside another's, in volt for a 9 V battery.
const OFFSET_V: f64 = 0.12;
/// How far the shapes of two curves of one kind lie apart, in volt for a 9 V battery; tuned on the published back-test, where
/// its bands held the truth in 98 to 100 % of the runs.
const SHAPE_V: f64 = 0.05;
/// Share of the weight that the closer look covers on either side.
const LOOK: f64 = 0.002;

/// Weights of run lengths on a logarithmic scale.
#[derive(Debug, Clone)]
pub(super) struct Posterior {
    from_s: f64,
    ratio: f64,
    weights: Vec<f64>,
}

/// What is laid on the curves.
#[derive(Debug)]
pub(super) struct Evidence<'a> {
    pub(super) so_far: &'a [Sample],
    pub(super) elapsed_s: f64,
    pub(super) library: &'a [Curve],
    pub(super) prior: Option<Prior>,
    /// Batteries in series: spreads of voltage grow with their number.
    pub(super) series: f64,
    pub(super) start: Start,
}

impl Posterior {
    pub(super) fn of(evidence: &Evidence<'_>) -> Option<Self> {
        let elapsed_s = evidence.elapsed_s;
        let points = curve::averaged(evidence.so_far, SETTLING * elapsed_s, elapsed_s, POINTS);
        if points.len() < POINTS / 4 || evidence.library.is_empty() {
            return None;
        }
        let wide = Self::between(evidence, &points, SHORTEST * elapsed_s, LONGEST * elapsed_s)?;
        let from_s = (wide.quantile_s(LOOK) / wide.ratio).max(SHORTEST * elapsed_s);
        let to_s = wide.quantile_s(1.0 - LOOK) * wide.ratio;
        Self::between(evidence, &points, from_s, to_s)
    }

    fn between(
        evidence: &Evidence<'_>,
        points: &[(f64, f64)],
        from_s: f64,
        to_s: f64,
    ) -> Option<Self> {
        let ratio = (to_s / from_s).powf(1.0 / (LENGTHS - 1) as f64);
        let spent: &[f64] = match evidence.start {
            Start::Full => &SPENT[..1],
            Start::Unknown => &SPENT,
        };
        let mut costs = Vec::with_capacity(LENGTHS * spent.len() * evidence.library.len());
        let mut laid = Vec::with_capacity(points.len());
        for length in 0..LENGTHS {
            let run_s = from_s * ratio.powi(i32::try_from(length).unwrap_or(0));
            for &spent in spent {
                let full_s = run_s / (1.0 - spent);
                let surprise = evidence.prior.map_or(0.0, |prior| prior.surprise(full_s));
                lay(&mut laid, points, run_s, spent);
                for curve in evidence.library {
                    let cost = surprise + misfit(&laid, curve, evidence.series);
                    costs.push(cost);
                }
            }
        }
        let least = costs.iter().copied().min_by(f64::total_cmp)?;
        let of_a_length = spent.len() * evidence.library.len();
        let mut weights: Vec<f64> = costs
            .chunks(of_a_length)
            .map(|costs| costs.iter().map(|cost| weight(cost - least)).sum())
            .collect();
        let sum: f64 = weights.iter().sum();
        for weight in &mut weights {
            *weight /= sum;
        }
        sum.is_finite().then_some(Self {
            from_s,
            ratio,
            weights,
        })
    }

    /// The length that a share of the weight lies below, in second.
    pub(super) fn quantile_s(&self, share: f64) -> f64 {
        let mut below = 0.0;
        for (length, &weight) in self.weights.iter().enumerate() {
            if below + weight >= share {
                let inside = ((share - below) / weight).clamp(0.0, 1.0);
                // Each weight is spread over the cell around its length.
                return self.from_s * self.ratio.powf(length as f64 - 0.5 + inside);
            }
            below += weight;
        }
        self.from_s * self.ratio.powf(self.weights.len() as f64)
    }
}

/// The weight of a cost so far above the least; one that is zero in an `f64` is not computed.
fn weight(above: f64) -> f64 {
    /// exp(-746) is less than half the smallest `f64`.
    const NOTHING: f64 = 2.0 * 746.0;
    if above > NOTHING {
        0.0
    } else {
        (-0.5 * above).exp()
    }
}

/// Lays the points on curves of a length and a start: their places are the same on every curve.
fn lay(laid: &mut Vec<(Place, f64)>, points: &[(f64, f64)], run_s: f64, spent: f64) {
    let per_second = (1.0 - spent) / run_s;
    let place = |&(at_s, volts_v): &(f64, f64)| (Place::of(spent + at_s * per_second), volts_v);
    laid.clear();
    laid.extend(points.iter().map(place));
}

/// How badly the points lie on a curve, in squared standard deviations.
fn misfit(laid: &[(Place, f64)], curve: &Curve, series: f64) -> f64 {
    let (mut sum_v, mut squares_v2) = (0.0, 0.0);
    for &(place, volts_v) in laid {
        let off_v = volts_v - curve.volts_in(place);
        sum_v += off_v;
        squares_v2 += off_v * off_v;
    }
    let count = laid.len() as f64;
    let offset_v = sum_v / count;
    let spread_v2 = (squares_v2 / count - offset_v.powi(2)).max(0.0);
    let shape_v = SHAPE_V * series;
    INDEPENDENT * spread_v2 / shape_v.powi(2) + (offset_v / (OFFSET_V * series)).powi(2)
}
