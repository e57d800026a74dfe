//! Fewer points for the same picture.
//!
//! A line keeps, for every half pixel of width, its first, lowest, highest and last point: the others would have been drawn over
//! these. First and last go too where the two neighbours overlap in height, for the join then lies inside a drawn area. That
//! halves the time a dense line takes. Dots keep one for each small square; an outlier has its square to itself and always stays.

use std::collections::HashSet;

/// A place on the page, in pixels from the upper left corner.
pub(super) type Place = (f64, f64);

/// The points of one bucket that count.
#[derive(Debug, Clone, Copy)]
struct Bucket {
    first: (f64, f64),
    /// Lowest and highest, the earlier one before the later.
    extremes: [(f64, f64); 2],
    last: (f64, f64),
}

impl Bucket {
    fn of(run: &[(f64, f64)]) -> Option<Self> {
        let (first, last) = (*run.first()?, *run.last()?);
        let (mut low, mut high) = ((0, first), (0, first));
        for (index, &point) in run.iter().enumerate() {
            if point.1 < low.1.1 {
                low = (index, point);
            }
            if point.1 > high.1.1 {
                high = (index, point);
            }
        }
        let extremes = if low.0 <= high.0 {
            [low.1, high.1]
        } else {
            [high.1, low.1]
        };
        Some(Self {
            first,
            extremes,
            last,
        })
    }

    /// Whether the two share a height, so that the join between them adds nothing to the picture.
    fn overlaps(&self, other: &Self) -> bool {
        let reach = |bucket: &Self| {
            let [a, b] = bucket.extremes.map(|point| point.1);
            (a.min(b), a.max(b))
        };
        let ((low, high), (other_low, other_high)) = (reach(self), reach(other));
        low <= other_high && other_low <= high
    }
}

/// Thins a line: runs of points with the same bucket number become up to four points, in their order.
pub(super) fn line(points: &[(f64, f64)], bucket: impl Fn(f64) -> i64) -> Vec<(f64, f64)> {
    let runs = points.chunk_by(|a, b| bucket(a.0) == bucket(b.0));
    let buckets: Vec<Bucket> = runs.filter_map(Bucket::of).collect();
    let mut kept = Vec::with_capacity(2 * buckets.len() + 2);
    for (index, bucket) in buckets.iter().enumerate() {
        let before = index.checked_sub(1).and_then(|index| buckets.get(index));
        if !before.is_some_and(|before| before.overlaps(bucket)) {
            kept.push(bucket.first);
        }
        kept.extend(bucket.extremes);
        let after = buckets.get(index + 1);
        if !after.is_some_and(|after| after.overlaps(bucket)) {
            kept.push(bucket.last);
        }
    }
    kept.dedup();
    kept
}

/// Keeps the first dot of each square; the squares grow until no more than `most` dots are left.
pub(super) fn dots(places: impl Iterator<Item = Place>, square_px: f64, most: usize) -> Vec<Place> {
    let mut squares = Squares {
        side_px: square_px,
        taken: HashSet::new(),
        kept: Vec::new(),
    };
    for place in places {
        squares.take(place);
        while squares.kept.len() > most.max(1) {
            squares.grow();
        }
    }
    squares.kept
}

#[derive(Debug)]
struct Squares {
    side_px: f64,
    taken: HashSet<(i64, i64)>,
    kept: Vec<Place>,
}

impl Squares {
    fn take(&mut self, place: Place) {
        let square = (floor(place.0 / self.side_px), floor(place.1 / self.side_px));
        if self.taken.insert(square) {
            self.kept.push(place);
        }
    }

    fn grow(&mut self) {
        self.side_px *= 2.0;
        self.taken.clear();
        for place in std::mem::take(&mut self.kept) {
            self.take(place);
        }
    }
}

/// The whole number below; pages are far smaller than the greatest `i64`, and a cast saturates.
#[expect(
    clippy::cast_possible_truncation,
    reason = "saturating is right far outside the page"
)]
pub(super) fn floor(number: f64) -> i64 {
    number.floor() as i64
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn every_bucket_keeps_its_extremes_and_its_join_to_a_distant_neighbour(
            steps in proptest::collection::vec((0.0..0.4_f64, -1e3..1e3_f64), 1..400),
        ) {
            let mut x = 0.0;
            let points: Vec<_> = steps.iter().map(|(step, y)| { x += step; (x, *y) }).collect();
            let kept = line(&points, floor);
            prop_assert!(kept.first() == points.first() && kept.last() == points.last());
            for bucket in 0..=floor(x) {
                let of = |all: &[(f64, f64)]| -> Vec<(f64, f64)> {
                    all.iter().copied().filter(|point| floor(point.0) == bucket).collect()
                };
                let (before, after) = (of(&points), of(&kept));
                prop_assert!(after.len() <= 4);
                let highest = |all: &[(f64, f64)]| all.iter().map(|p| p.1).fold(f64::MIN, f64::max);
                let lowest = |all: &[(f64, f64)]| all.iter().map(|p| p.1).fold(f64::MAX, f64::min);
                prop_assert!((highest(&before) - highest(&after)).abs() < f64::EPSILON);
                prop_assert!((lowest(&before) - lowest(&after)).abs() < f64::EPSILON);
                prop_assert!(after.iter().all(|point| before.contains(point)));
            }
            // The kept line covers every height that the whole line passes between two buckets.
            for pair in points.windows(2).filter(|pair| floor(pair[0].0) != floor(pair[1].0)) {
                let (from, to) = (floor(pair[0].0), floor(pair[1].0));
                let near: Vec<_> = kept.iter().filter(|point| (from..=to).contains(&floor(point.0))).collect();
                for end in pair {
                    prop_assert!(near.iter().any(|point| point.1 <= end.1));
                    prop_assert!(near.iter().any(|point| point.1 >= end.1));
                }
            }
        }
    }

    #[test]
    fn neighbours_far_apart_keep_the_points_that_join_them() {
        let points = [
            (0.1, 5.0),
            (0.2, 9.0),
            (0.3, 0.0),
            (0.4, 4.0),
            (1.1, 50.0),
            (1.2, 40.0),
            (1.3, 45.0),
        ];
        assert_eq!(line(&points, floor), points);
        let level = [
            (0.1, 5.0),
            (0.2, 9.0),
            (0.3, 0.0),
            (0.4, 4.0),
            (1.1, 3.0),
            (1.2, 8.0),
            (1.3, 6.0),
        ];
        assert_eq!(
            line(&level, floor),
            [
                (0.1, 5.0),
                (0.2, 9.0),
                (0.3, 0.0),
                (1.1, 3.0),
                (1.2, 8.0),
                (1.3, 6.0)
            ]
        );
    }

    #[test]
    fn a_crowd_of_dots_is_thinned_and_the_outlier_stays() {
        let crowd = (0..100_000_u32).map(|index| {
            let place = f64::from(index);
            (place % 1400.0, 300.0 + (place * 0.37) % 90.0)
        });
        let kept = dots(crowd.chain([(700.0, 5.0)]), 4.0, 1500);
        assert!(kept.len() > 300 && kept.len() <= 1500, "{}", kept.len());
        assert!(kept.contains(&(700.0, 5.0)));
    }
}
