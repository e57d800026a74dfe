//! Change points of a series: where its level jumps, none too many and none too few.
//!
//! PELT: R. Killick, P. Fearnhead and I. A. Eckley, "Optimal detection of changepoints with a linear computational cost" (2012):
//! the segmentation that minimises the squares about the means of its segments plus a penalty for each break, exactly. Candidates
//! that can never become the best are dropped on the way. At worst it takes n² sums, so that it is for stretches of some
//! hundreds.
//!
//! A series that drifts has no levels. [`with_slope`] takes the slope that all segments share out of it. Breaks and slope are
//! found in turn until both stand still, each turn lowering the same sum. This descent by blocks finds a minimum, not surely the
//! least one. So it is begun from both ends: no slope, and one line through all.

use super::hampel::SIGMA_PER_MAD;

/// Turns of breaks and slope before it is given up. Chosen: 2 to 4 were seen.
const TURNS: usize = 25;

/// Levels that follow each other, with a slope that they share.
#[derive(Debug, Clone, PartialEq)]
pub struct Levels {
    /// Place of the first value of each level but the first.
    pub breaks: Vec<usize>,
    /// The levels, at place 0 of the series.
    pub levels: Vec<f64>,
    /// Slope, for each place.
    pub slope: f64,
    /// Sum of the squares that are left.
    pub squares: f64,
}

/// Returns the standard deviation of white scatter about a line that may jump: 1.4826 × median distance of first differences from
/// their median, over √2. A few jumps among many differences leave it as it is.
pub fn scatter(values: &[f64]) -> f64 {
    let mut steps: Vec<f64> = values.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let median = middle(&mut steps);
    for step in &mut steps {
        *step = (*step - median).abs();
    }
    SIGMA_PER_MAD * middle(&mut steps) / 2.0_f64.sqrt()
}

/// Returns the middle of some values, which are sorted; 0 without any.
pub(in crate::analysis) fn middle(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    let upper = values.get(values.len() / 2).copied().unwrap_or(0.0);
    if values.len().is_multiple_of(2) {
        let lower = values.get((values.len() / 2).saturating_sub(1));
        return f64::midpoint(lower.copied().unwrap_or(0.0), upper);
    }
    upper
}

/// Returns the usual penalty of a break: 3 σ² ln n.
pub fn usual_penalty(scatter: f64, count: usize) -> f64 {
    3.0 * scatter * scatter * (count.max(2) as f64).ln()
}

/// Sums that give the squares about the mean of any segment at once.
struct Cost {
    sums: Vec<(f64, f64)>,
}

impl Cost {
    fn new(values: &[f64]) -> Self {
        // About the first value: at 6 MHz the squares would lose the hertz.
        let origin = values.first().copied().unwrap_or(0.0);
        let mut sums = vec![(0.0, 0.0)];
        let (mut sum, mut squares) = (0.0, 0.0);
        for value in values {
            let off = value - origin;
            sum += off;
            squares = off.mul_add(off, squares);
            sums.push((sum, squares));
        }
        Self { sums }
    }

    fn of(&self, from: usize, to: usize) -> f64 {
        let (Some(low), Some(high)) = (self.sums.get(from), self.sums.get(to)) else {
            return f64::INFINITY;
        };
        let sum = high.0 - low.0;
        high.1 - low.1 - sum * sum / (to - from) as f64
    }
}

/// Returns where the level of the values jumps: places of the first value of each segment but the first, each segment having
/// `least` values or more.
pub fn pelt(values: &[f64], least: usize, penalty: f64) -> Vec<usize> {
    let (count, least) = (values.len(), least.max(1));
    let cost = Cost::new(values);
    // The best sum up to each place, and where its last segment begins.
    let mut best = vec![(f64::INFINITY, 0); count + 1];
    best[0] = (-penalty, 0);
    // Where the last segment may still begin, each with the place from which it no longer may.
    let mut open: Vec<(usize, usize)> = vec![(0, usize::MAX)];
    for to in least..=count {
        open.retain(|&(_, dropped_at)| to < dropped_at);
        let sum = |from: usize| best[from].0 + cost.of(from, to) + penalty;
        let found = open
            .iter()
            .filter(|(from, _)| to - from >= least)
            .map(|&(from, _)| (sum(from), from))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let Some(found) = found else { continue };
        for (from, dropped_at) in &mut open {
            // From there on a break here is possible too, and never worse.
            if to - *from >= least && sum(*from) - penalty > found.0 {
                *dropped_at = (*dropped_at).min(to + least);
            }
        }
        best[to] = found;
        if count - to >= least {
            open.push((to, usize::MAX));
        }
    }
    let mut breaks = Vec::new();
    let mut at = best[count].1;
    while at > 0 {
        breaks.push(at);
        at = best[at].1;
    }
    breaks.reverse();
    breaks
}

/// Returns the levels with the slope that they share, breaks given: least squares about the means of each segment.
pub fn fit_levels(values: &[f64], breaks: &[usize]) -> Levels {
    let edges = || {
        let from = std::iter::once(0).chain(breaks.iter().copied());
        from.zip(breaks.iter().copied().chain([values.len()]))
    };
    let origin = values.first().copied().unwrap_or(0.0);
    let means: Vec<(f64, f64)> = edges()
        .map(|(from, to)| {
            let part = values.get(from..to).unwrap_or(&[]);
            let sum: f64 = part.iter().map(|value| value - origin).sum();
            (
                (from + to).saturating_sub(1) as f64 / 2.0,
                sum / part.len() as f64,
            )
        })
        .collect();
    let off = |segment: usize, place: usize| {
        let (at, mean) = means.get(segment).copied().unwrap_or_default();
        (
            place as f64 - at,
            values.get(place).map_or(0.0, |value| value - origin - mean),
        )
    };
    let pairs = || {
        let segments = edges().enumerate();
        segments.flat_map(|(segment, (from, to))| (from..to).map(move |place| off(segment, place)))
    };
    let (squares_x, products) = pairs().fold((0.0, 0.0), |(xx, xy), (x, y)| {
        (f64::mul_add(x, x, xx), f64::mul_add(x, y, xy))
    });
    let slope = if squares_x > 0.0 {
        products / squares_x
    } else {
        0.0
    };
    Levels {
        breaks: breaks.to_vec(),
        levels: means
            .iter()
            .map(|(at, mean)| slope.mul_add(-at, mean + origin))
            .collect(),
        slope,
        squares: pairs().map(|(x, y)| slope.mul_add(-x, y).powi(2)).sum(),
    }
}

/// Returns where the level of values that drift along one slope jumps.
pub fn with_slope(values: &[f64], least: usize, penalty: f64) -> Levels {
    let descend = |slope: f64| {
        let mut found = fit_levels(values, &[]);
        let mut slope = slope;
        for _ in 0..TURNS {
            let level: Vec<f64> = values
                .iter()
                .enumerate()
                .map(|(place, value)| slope.mul_add(-(place as f64), *value))
                .collect();
            let next = fit_levels(values, &pelt(&level, least, penalty));
            let is_settled = next.breaks == found.breaks;
            slope = next.slope;
            found = next;
            if is_settled {
                break;
            }
        }
        found
    };
    let sum = |levels: &Levels| penalty.mul_add(levels.breaks.len() as f64, levels.squares);
    let line = descend(fit_levels(values, &[]).slope);
    if line.breaks.is_empty() {
        // Steps that a line through all of them hides are smaller than the scatter.
        return line;
    }
    let level = descend(0.0);
    if sum(&line) < sum(&level) {
        line
    } else {
        level
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Park and Miller's "minimal standard" generator; twelve of its numbers less 6 have unit variance.
    fn noise(count: usize, size: f64) -> Vec<f64> {
        let mut state = 1234567890_u64;
        let mut uniform = || {
            state = 16807 * state % 2147483647;
            state as f64 / 2147483647.0
        };
        (0..count)
            .map(|_| size * ((0..12).map(|_| uniform()).sum::<f64>() - 6.0))
            .collect()
    }

    /// 300 values of scatter 5 about 0, 40, 0 and 15 from places 0, 80, 150 and 230.
    fn stepped() -> Vec<f64> {
        let level = |i: usize| match i {
            0..80 | 150..230 => 0.0,
            80..150 => 40.0,
            _ => 15.0,
        };
        let noise = noise(300, 5.0);
        noise
            .iter()
            .enumerate()
            .map(|(i, off)| off + level(i))
            .collect()
    }

    #[track_caller]
    fn assert_close(got: f64, want: f64, relative: f64) {
        assert!(
            (got - want).abs() <= relative * want.abs(),
            "{got} is not {want}"
        );
    }

    /// Breaks, means and squares: the program `ruptures` 1.1.10 (PELT, squared cost, at least 5 a segment; its exact dynamic
    /// programming and binary segmentation agree) and numpy 2.4.6 on the same numbers.
    #[test]
    fn the_breaks_of_a_stepped_series_are_exactly_those_of_another_program() {
        let values = stepped();
        assert_close(values[0], -4.801907390263822, 1e-12);
        assert_close(values.iter().sum(), 3780.7872968450133, 1e-12);
        let scatter = scatter(&values);
        assert_close(scatter, 5.266434078, 1e-9);
        let penalty = usual_penalty(scatter, values.len());
        assert_close(penalty, 474.5888315, 1e-9);
        let breaks = pelt(&values, 5, penalty);
        assert_eq!(breaks, [80, 150, 230]);
        let edges = [0, 80, 150, 230, 300];
        let wanted = [-0.4300723271, 40.05784471, 0.1464916801, 14.27749456];
        let cost = Cost::new(&values);
        for (edge, want) in edges.windows(2).zip(wanted) {
            let part = &values[edge[0]..edge[1]];
            assert_close(part.iter().sum::<f64>() / part.len() as f64, want, 1e-8);
        }
        let squares: f64 = edges.windows(2).map(|edge| cost.of(edge[0], edge[1])).sum();
        assert_close(squares, 7191.405751, 1e-8);
    }

    /// The same sources: a model of steps alone breaks a drift at 43, 80, 120, 150, 196, 230 and 253; slope, levels and squares
    /// with the breaks given are numpy's.
    #[test]
    fn a_common_slope_leaves_the_true_steps_alone() {
        let drifting: Vec<f64> = stepped()
            .iter()
            .enumerate()
            .map(|(i, value)| value - 0.2 * i as f64)
            .collect();
        let penalty = usual_penalty(scatter(&drifting), drifting.len());
        assert_eq!(
            pelt(&drifting, 5, penalty),
            [43, 80, 120, 150, 196, 230, 253]
        );
        let found = with_slope(&drifting, 5, penalty);
        assert_eq!(found.breaks, [80, 150, 230]);
        assert_close(found.slope, -0.1962001968, 1e-8);
        let wanted = [-0.58016455, 39.622767, -0.57357103, 13.272447];
        for (got, want) in found.levels.iter().zip(wanted) {
            assert_close(*got, want, 1e-7);
        }
        assert_close(found.squares, 7189.348625, 1e-8);
        // At 6 MHz the same.
        let high: Vec<f64> = drifting.iter().map(|value| 6e6 + value).collect();
        assert_eq!(with_slope(&high, 5, penalty).breaks, [80, 150, 230]);
    }

    #[test]
    fn scatter_about_a_line_has_no_steps() {
        for (count, slope) in [(30, 0.0), (300, 0.7), (300, -50.0)] {
            let noise = noise(count, 5.0);
            let values: Vec<f64> = noise
                .iter()
                .enumerate()
                .map(|(i, off)| slope * i as f64 + off)
                .collect();
            let penalty = usual_penalty(scatter(&values), count);
            assert_eq!(
                with_slope(&values, 5, penalty).breaks,
                [0; 0],
                "{count}, {slope}"
            );
        }
    }

    #[test]
    fn series_without_room_for_a_break_have_none() {
        for count in 0..10 {
            assert_eq!(pelt(&noise(count, 1.0), 5, 0.1), [0; 0]);
            assert_eq!(with_slope(&noise(count, 1.0), 5, 0.1).breaks, [0; 0]);
        }
    }

    /// The least sum over every segmentation, by trying each last segment.
    fn least_sum(values: &[f64], least: usize, penalty: f64) -> f64 {
        let cost = Cost::new(values);
        let mut best = vec![-penalty];
        for to in 1..=values.len() {
            let sums = (0..to)
                .filter(|from| to - from >= least)
                .map(|from| best[from] + cost.of(from, to) + penalty);
            best.push(sums.min_by(f64::total_cmp).unwrap_or(f64::INFINITY));
        }
        best[values.len()]
    }

    proptest! {
        #[test]
        fn what_is_dropped_on_the_way_was_never_the_best(
            values in prop::collection::vec(-9_i32..9, 1..80), least in 1_usize..8, penalty in 0.1_f64..200.0
        ) {
            let values: Vec<f64> = values.into_iter().map(f64::from).collect();
            let breaks = pelt(&values, least, penalty);
            let cost = Cost::new(&values);
            let edges: Vec<usize> = [0].into_iter().chain(breaks).chain([values.len()]).collect();
            let sum: f64 = edges.windows(2).map(|edge| cost.of(edge[0], edge[1]) + penalty).sum();
            prop_assume!(values.len() >= least);
            prop_assert!(edges.windows(2).all(|edge| edge[1] - edge[0] >= least));
            let wanted = least_sum(&values, least, penalty);
            prop_assert!((sum - penalty - wanted).abs() < 1e-6, "{sum} {wanted}");
        }
    }
}
