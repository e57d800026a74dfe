//! The joint least-squares fit of a fundamental, its harmonics and a constant.

use std::f64::consts::TAU;

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use super::found::{Harmonic, NoTone, Rails, Tone};

/// Steps after which a fit that still moves is given up (four are usual).
const MOST_STEPS: usize = 40;

/// A step of the phase at the record's end, in radians, below which the fit has settled.
const SETTLED_RAD: f64 = 1e-9;

/// How far the fit may go from its start, in cycles of the whole record.
const FARTHEST_CYCLES: f64 = 1.0;

/// A parameter whose variance grows by this much through the others is not determined (chosen).
const WORST_INFLATION: f64 = 1e6;

/// How the samples scatter about the model, as far as the errors given depend on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Scatter {
    /// All alike.
    Even,
    /// Some more than others: clipped samples stand in the record.
    Uneven,
}

/// The shape fitted at one frequency.
#[derive(Debug, Clone)]
struct Shape {
    omega: f64,
    mean: f64,
    /// Cosine and sine part of each harmonic, at the middle of the record.
    parts: Vec<(f64, f64)>,
}

/// The record, seen from its middle, which makes phase and frequency independent of each other.
struct Record<'s> {
    samples: &'s [f64],
    rails: Option<Rails>,
    middle: f64,
    half: f64,
}

impl Record<'_> {
    fn used(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.samples
            .iter()
            .enumerate()
            .filter(|(_, sample)| self.rails.is_none_or(|rails| !rails.clips(**sample)))
            .map(|(index, sample)| (index as f64 - self.middle, *sample))
    }
}

/// Fits `harmonics` harmonics, the fundamental counted, starting from a frequency; samples at the rails are left out.
///
/// Fits the sine of IEEE Std 1057 (four parameters, from memory), with harmonics beside the fundamental. Each step solves for all
/// amplitudes and the change of the frequency at once. With white noise of standard deviation `s` its frequency has the least
/// variance that there can be: for a sine, `var(ω) = 12 · 2 s²/(A² N (N² - 1))`. With harmonics, `Σ k² A_k²` stands instead of
/// `A²`. The sources are Rife and Boorstyn, IEEE Trans. IT-20, 1974, and, for real sines, S. Kay, Estimation Theory, 1993, from
/// memory. The errors given come from the residuals and the exact normal matrix.
///
/// # Errors
/// [`NoTone::Unsettled`] when it runs away or the samples do not determine it.
pub fn fit(
    samples: &[f64],
    start_cycles_per_sample: f64,
    harmonics: usize,
    rails: Option<Rails>,
) -> Result<Tone, NoTone> {
    let start = Start {
        cycles_per_sample: start_cycles_per_sample,
        harmonics,
    };
    Ok(fitted(samples, start, rails, Scatter::Even)?.tone)
}

/// Where a fit begins.
#[derive(Debug, Clone, Copy)]
pub(super) struct Start {
    pub(super) cycles_per_sample: f64,
    pub(super) harmonics: usize,
}

/// A tone with the residuals of its fit.
#[derive(Debug)]
pub(super) struct Fitted {
    pub(super) tone: Tone,
    /// Time from the middle of the record, in samples, and residual, of each sample that was used.
    left: Vec<(f64, f64)>,
}

impl Fitted {
    /// Returns the amplitude that a frequency has in the residuals.
    pub(super) fn left_at(&self, cycles_per_sample: f64) -> f64 {
        let omega = cycles_per_sample * TAU;
        let (cos, sin) = self
            .left
            .iter()
            .fold((0.0, 0.0), |(cos, sin), (time, rest)| {
                let (at_sin, at_cos) = (omega * time).sin_cos();
                (cos + rest * at_cos, sin + rest * at_sin)
            });
        2.0 * cos.hypot(sin) / self.left.len() as f64
    }
}

/// Fits as [`fit`] does, and returns the residuals too.
pub(super) fn fitted(
    samples: &[f64],
    from: Start,
    rails: Option<Rails>,
    scatter: Scatter,
) -> Result<Fitted, NoTone> {
    let length = samples.len() as f64;
    let record = Record {
        samples,
        rails,
        middle: (length - 1.0) / 2.0,
        half: length / 2.0,
    };
    let start = from.cycles_per_sample * TAU;
    let mut shape = Shape {
        omega: start,
        mean: 0.0,
        parts: vec![(0.0, 0.0); from.harmonics.max(1)],
    };
    // All amplitudes are zero, and so is the column of the frequency: the first step is for the amplitudes alone.
    step(&record, &mut shape, Unknowns::Amplitudes)?;
    for _ in 0..MOST_STEPS {
        let moved_rad = step(&record, &mut shape, Unknowns::All)? * record.half;
        let gone_cycles = (shape.omega - start).abs() * length / TAU;
        if !(shape.omega > 0.0 && gone_cycles < FARTHEST_CYCLES) {
            return Err(NoTone::Unsettled);
        }
        if moved_rad.abs() < SETTLED_RAD {
            return judged(&record, &shape, scatter);
        }
    }
    Err(NoTone::Unsettled)
}

/// The unknowns that a step solves for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Unknowns {
    Amplitudes,
    All,
}

/// Takes one step and returns the change of the frequency, in radians per sample.
fn step(record: &Record<'_>, shape: &mut Shape, unknowns: Unknowns) -> Result<f64, NoTone> {
    let (normal, right) = normal(record, shape, unknowns);
    let found = solve(&normal)?.solve(&right);
    let mut values = found.iter().copied();
    shape.mean = values.next().unwrap_or(0.0);
    for part in &mut shape.parts {
        *part = (values.next().unwrap_or(0.0), values.next().unwrap_or(0.0));
    }
    let change = values.next().unwrap_or(0.0) / record.half;
    shape.omega += change;
    Ok(change)
}

/// The normal matrix and its right side at a shape.
fn normal(record: &Record<'_>, shape: &Shape, unknowns: Unknowns) -> (DMatrix<f64>, DVector<f64>) {
    let amplitudes = 1 + 2 * shape.parts.len();
    let size = amplitudes + usize::from(unknowns == Unknowns::All);
    // The lower triangle row by row: this is where all the time goes.
    let mut triangle = vec![0.0; size * (size + 1) / 2];
    let mut right = DVector::zeros(size);
    let mut columns = vec![1.0; amplitudes + 1];
    for (time, sample) in record.used() {
        fill(&mut columns, shape, time, time / record.half);
        let mut cells = triangle.iter_mut();
        for (row, (one, sum)) in columns.iter().zip(right.iter_mut()).enumerate() {
            *sum += one * sample;
            for (other, cell) in columns.iter().take(row + 1).zip(&mut cells) {
                *cell += one * other;
            }
        }
    }
    let at = |row: usize, column: usize| {
        let (low, high) = (row.min(column), row.max(column));
        triangle
            .get(high * (high + 1) / 2 + low)
            .copied()
            .unwrap_or(0.0)
    };
    (DMatrix::from_fn(size, size, at), right)
}

/// The model's derivatives at a time: by the constant, by each cosine and sine part, and by the frequency.
fn fill(columns: &mut [f64], shape: &Shape, time: f64, share: f64) {
    let (sin, cos) = (shape.omega * time).sin_cos();
    let (mut sin_k, mut cos_k) = (0.0, 1.0);
    let mut by_frequency = 0.0;
    for (index, (a, b)) in shape.parts.iter().enumerate() {
        (sin_k, cos_k) = (sin_k * cos + cos_k * sin, cos_k * cos - sin_k * sin);
        if let Some([at_cos, at_sin]) = columns.get_mut(2 * index + 1..2 * index + 3) {
            (*at_cos, *at_sin) = (cos_k, sin_k);
        }
        by_frequency += (index + 1) as f64 * share * (b * cos_k - a * sin_k);
    }
    if let Some(last) = columns.last_mut() {
        *last = by_frequency;
    }
}

/// Factors a normal matrix, unless the samples do not determine its unknowns.
fn solve(normal: &DMatrix<f64>) -> Result<Cholesky<f64, Dyn>, NoTone> {
    let factored = Cholesky::new(normal.clone()).ok_or(NoTone::Unsettled)?;
    let inverse = factored.inverse();
    let worst = (0..normal.nrows())
        .map(|index| normal[(index, index)] * inverse[(index, index)])
        .fold(0.0, f64::max);
    if worst < WORST_INFLATION {
        Ok(factored)
    } else {
        Err(NoTone::Unsettled)
    }
}

/// Returns the shape without the share that noise adds to the size of its harmonics. That share would make the frequency look
/// better known than it is. On average `A²` is too large by the variances of its two parts.
fn calmed(shape: &Shape, variance: f64, covariance: &DMatrix<f64>) -> Shape {
    let mut calm = shape.clone();
    for (index, (a, b)) in calm.parts.iter_mut().enumerate() {
        let (at_a, at_b) = (2 * index + 1, 2 * index + 2);
        let added = variance * (covariance[(at_a, at_a)] + covariance[(at_b, at_b)]);
        let size = *a * *a + *b * *b;
        let share = if size > added {
            (1.0 - added / size).sqrt()
        } else {
            0.0
        };
        (*a, *b) = (*a * share, *b * share);
    }
    calm
}

/// Returns the residual of each sample that is used, with the sample's time.
fn residuals(record: &Record<'_>, shape: &Shape) -> Vec<(f64, f64)> {
    let mut columns = vec![1.0; 2 * shape.parts.len() + 2];
    let left = |(time, sample): (f64, f64)| {
        fill(&mut columns, shape, time, 0.0);
        let waves: f64 = shape
            .parts
            .iter()
            .zip(columns.get(1..).unwrap_or(&[]).chunks_exact(2))
            .map(|((a, b), waves)| a * waves[0] + b * waves[1])
            .sum();
        (time, sample - shape.mean - waves)
    };
    record.used().map(left).collect()
}

/// How alike neighbouring residuals are, from -1 to 1: their correlation over one sample.
fn rho(left: &[(f64, f64)]) -> f64 {
    let (mut product, mut squares) = (0.0, 0.0);
    for pair in left.windows(2) {
        if let [one, next] = pair
            && next.0 - one.0 < 1.5
        {
            product += one.1 * next.1;
            squares += f64::midpoint(one.1 * one.1, next.1 * next.1);
        }
    }
    if squares > 0.0 {
        product / squares
    } else {
        0.0
    }
}

/// Returns the covariance of the unknowns where the scatter differs from sample to sample. It is `(J'J)⁻¹ J' diag(r²) J (J'J)⁻¹`,
/// scaled by the share that the unknowns take from the residuals. The sources are H. White, Econometrica 48, 1980, and for the
/// scaling `MacKinnon` and White, 1985, both from memory. Clipped samples do not scatter; those in between scatter fully and hold
/// all there is to know.
fn uneven(
    record: &Record<'_>,
    shape: &Shape,
    left: &[(f64, f64)],
    covariance: &DMatrix<f64>,
) -> DMatrix<f64> {
    let size = covariance.nrows();
    let mut columns = vec![1.0; size];
    let mut middle = DMatrix::<f64>::zeros(size, size);
    for &(time, rest) in left {
        fill(&mut columns, shape, time, time / record.half);
        let weighted = DVector::from_iterator(size, columns.iter().map(|one| one * rest));
        middle.ger(1.0, &weighted, &weighted, 1.0);
    }
    let scale = left.len() as f64 / (left.len() - size) as f64;
    covariance * middle * covariance * scale
}

/// The tone of a shape that has settled, with its errors.
fn judged(record: &Record<'_>, shape: &Shape, scatter: Scatter) -> Result<Fitted, NoTone> {
    let (at_shape, _) = normal(record, shape, Unknowns::All);
    let size = at_shape.nrows();
    let left = residuals(record, shape);
    let used = left.len();
    if used <= size {
        return Err(NoTone::Unsettled);
    }
    let squares: f64 = left.iter().map(|(_, rest)| rest * rest).sum();
    let variance = squares / (used - size) as f64;
    let inverse = solve(&at_shape)?.inverse();
    let calm = calmed(shape, variance, &inverse);
    let mut covariance = solve(&normal(record, &calm, Unknowns::All).0)?.inverse() * variance;
    if scatter == Scatter::Uneven {
        // The larger of the two is taken: residuals that come from missing harmonics, and not from scatter, make either one too
        // large.
        let uneven = uneven(record, shape, &left, &inverse);
        for index in 0..size {
            let wider = (uneven[(index, index)] / covariance[(index, index)])
                .max(1.0)
                .sqrt();
            covariance.row_mut(index).scale_mut(wider);
            covariance.column_mut(index).scale_mut(wider);
        }
    }
    let error = |index: usize| covariance[(index, index)].sqrt();
    let harmonics = shape
        .parts
        .iter()
        .enumerate()
        .map(|(index, &(a, b))| {
            let amplitude = a.hypot(b);
            let (at_a, at_b) = (2 * index + 1, 2 * index + 2);
            // Along the harmonic's own phase; a harmonic of no size has no phase, and either part's error will do.
            let spread = a * a * covariance[(at_a, at_a)]
                + b * b * covariance[(at_b, at_b)]
                + 2.0 * a * b * covariance[(at_a, at_b)];
            Harmonic {
                amplitude,
                amplitude_se: if amplitude > 0.0 {
                    spread.max(0.0).sqrt() / amplitude
                } else {
                    error(at_a)
                },
            }
        })
        .collect();
    let tone = Tone {
        cycles_per_sample: shape.omega / TAU,
        cycles_per_sample_se: error(size - 1) / record.half / TAU,
        harmonics,
        mean: shape.mean,
        residual_sd: variance.sqrt(),
        used,
        residual_rho: rho(&left),
    };
    Ok(Fitted { tone, left })
}
