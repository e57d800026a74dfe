//! How likely each length of a run is, given the run so far and whole curves to lay it on.

use super::question::{Likeness, Prior};
use super::unlike::{self, Factor};
use crate::battery::curve::{self, Curve, Place, Sample};
use crate::battery::finished::Start;

/// Lengths tried in each pass; the second pass looks closer at where the first found something.
const LENGTHS: usize = 80;
/// Averaged points of the run so far, laid on curves of its own type.
const POINTS: usize = 36;
/// The first of a run is the battery settling, and is left out.
const SETTLING: f64 = 0.02;
/// The least and the most that a run may last, as multiples of its length so far.
const LONGEST: f64 = 12.0;
const SHORTEST: f64 = 1.01;
/// Shares of the charge that a part-used battery may have spent; those the published back-test searched.
const SPENT: [f64; 4] = [0.0, 0.1, 0.2, 0.3];
/// The weight that part-used states keep together where a battery was noted as full and its first volts agree. Chosen: a note
/// is wrong once in ten times.
const WRONG_NOTE: f64 = 0.1;
/// How many of the 36 points count as independent: the rest repeat their neighbours.
const INDEPENDENT: f64 = 8.0;
/// How far one battery's voltage lies beside another's of its type, in volts for a 9 V battery.
const OFFSET_V: f64 = 0.12;
/// How far the shapes of two curves of one type lie apart, in volts for a 9 V battery; tuned on the published back-test, where
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
    /// Mean share of the charge that was spent before.
    spent: f64,
    /// Weight of the part-used states.
    part_used: f64,
}

/// The part of a run that is laid on the curves.
#[derive(Debug)]
pub(super) struct Evidence<'a> {
    pub(super) so_far: &'a [Sample],
    pub(super) elapsed_s: f64,
    pub(super) library: &'a [Curve],
    pub(super) prior: Option<Prior>,
    /// Batteries in series: spreads of voltage grow with their number.
    pub(super) series: f64,
    pub(super) start: Start,
    pub(super) likeness: Likeness,
}

impl Posterior {
    pub(super) fn of(evidence: &Evidence<'_>) -> Option<Self> {
        let elapsed_s = evidence.elapsed_s;
        let (count, settling_s) = match evidence.likeness {
            Likeness::Same => (POINTS, SETTLING * elapsed_s),
            Likeness::Other => (
                unlike::POINTS,
                unlike::SETTLING_S
                    .max(SETTLING * elapsed_s)
                    .min(0.5 * elapsed_s),
            ),
        };
        let points = curve::averaged(evidence.so_far, settling_s, elapsed_s, count);
        if points.len() < count / 4 || evidence.library.is_empty() {
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
        let mut costs = Vec::with_capacity(LENGTHS * SPENT.len() * evidence.library.len());
        let mut laid = Vec::with_capacity(points.len());
        for length in 0..LENGTHS {
            let run_s = from_s * ratio.powi(i32::try_from(length).unwrap_or(0));
            for (spent, odds) in SPENT.into_iter().zip(odds(evidence.start)) {
                let full_s = run_s / (1.0 - spent);
                let surprise = evidence.prior.map_or(0.0, |prior| prior.surprise(full_s)) + odds;
                let laying = Laying {
                    run_s,
                    spent,
                    surprise,
                };
                laying.push_costs(evidence, points, &mut laid, &mut costs);
            }
        }
        let least = costs.iter().copied().min_by(f64::total_cmp)?;
        if !least.is_finite() {
            return None;
        }
        let curves = evidence.library.len();
        let each: Vec<f64> = costs
            .chunks(curves)
            .map(|costs| costs.iter().map(|cost| weight(cost - least)).sum())
            .collect();
        let sum: f64 = each.iter().sum();
        let of_spent = |at: usize| each.iter().skip(at).step_by(SPENT.len()).sum::<f64>() / sum;
        let shares: Vec<f64> = (0..SPENT.len()).map(of_spent).collect();
        Some(Self {
            from_s,
            ratio,
            weights: each
                .chunks(SPENT.len())
                .map(|one| one.iter().sum::<f64>() / sum)
                .collect(),
            spent: shares
                .iter()
                .zip(SPENT)
                .map(|(share, spent)| share * spent)
                .sum(),
            part_used: shares.iter().skip(1).sum(),
        })
    }

    /// Returns how likely it is that the battery was part-used when the run began.
    pub(super) const fn part_used(&self) -> f64 {
        self.part_used
    }

    /// Returns how long a full battery is likely to run at this load, in seconds.
    pub(super) fn full_s(&self) -> f64 {
        self.quantile_s(0.5) / (1.0 - self.spent)
    }

    /// Returns the length that a share of the weight lies below, in seconds.
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

/// Returns the weight of a cost so far above the least; one that is zero in an `f64` is not computed.
fn weight(above: f64) -> f64 {
    /// exp(-746) is less than half the smallest `f64`.
    const NOTHING: f64 = 2.0 * 746.0;
    if above > NOTHING {
        0.0
    } else {
        (-0.5 * above).exp()
    }
}

/// Returns the cost of each share of [`SPENT`] beforehand, in squared standard deviations: minus twice the logarithm of its
/// weight.
fn odds(start: Start) -> [f64; 4] {
    let part = WRONG_NOTE / (SPENT.len() - 1) as f64;
    let cost = |weight: f64| -2.0 * f64::ln(weight);
    match start {
        Start::Full => [cost(1.0 - WRONG_NOTE), cost(part), cost(part), cost(part)],
        Start::Unknown => [0.0; 4],
    }
}

/// A length and a state at the start that the points are laid by.
struct Laying {
    run_s: f64,
    spent: f64,
    /// Their cost before a curve is looked at.
    surprise: f64,
}

impl Laying {
    /// The cost of each curve: the points' places are the same on all.
    fn push_costs(
        &self,
        evidence: &Evidence<'_>,
        points: &[(f64, f64)],
        laid: &mut Vec<(Place, f64)>,
        costs: &mut Vec<f64>,
    ) {
        let per_second = (1.0 - self.spent) / self.run_s;
        let share = |at_s: f64| self.spent + at_s * per_second;
        laid.clear();
        laid.extend(
            points
                .iter()
                .map(|&(at_s, volts_v)| (Place::of(share(at_s)), volts_v)),
        );
        match evidence.likeness {
            Likeness::Same => costs.extend(
                evidence
                    .library
                    .iter()
                    .map(|curve| self.surprise + misfit(laid, curve, evidence.series)),
            ),
            Likeness::Other => {
                let shares: Vec<f64> = points.iter().map(|&(at_s, _)| share(at_s)).collect();
                let factor = Factor::of(&shares, evidence.series);
                let full_s = self.run_s / (1.0 - self.spent);
                costs.extend(evidence.library.iter().map(|curve| {
                    let off_v = laid
                        .iter()
                        .map(|&(place, volts_v)| volts_v - curve.volts_in(place));
                    self.surprise + factor.misfit(off_v) + unlike::load(full_s, curve.run_s)
                }));
            }
        }
    }
}

/// Returns how badly the points lie on a curve, in squared standard deviations.
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
