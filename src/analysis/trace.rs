//! A series for a picture in bounded memory: nothing a person should see is lost, however long the session.

use crate::reading::Stamp;
use crate::units::Span;

use super::pairing::Place;

/// Buckets kept at the most; each holds up to four points, so that a picture gets 200 000 at the most.
const BUCKETS: usize = 50_000;
/// Width of a bucket at first, in microseconds: up to 1000 readings per second stay as they are.
const FIRST_WIDTH_US: i64 = 1000;

/// A point of a trace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// When.
    pub stamp: Stamp,
    /// The value that is drawn.
    pub value: f64,
    /// The battery voltage beside it, in volts, if it was paired.
    pub battery_v: Option<f64>,
}

/// Readings of one stretch of time: the first, the extremes and the last.
#[derive(Debug, Clone, Copy)]
struct Bucket {
    index: i64,
    place: Place,
    first: Sample,
    low: Sample,
    high: Sample,
    last: Sample,
}

impl Bucket {
    fn new(index: i64, place: Place, sample: Sample) -> Self {
        let (first, low, high, last) = (sample, sample, sample, sample);
        Self {
            index,
            place,
            first,
            low,
            high,
            last,
        }
    }

    fn add(&mut self, later: &Self) {
        if later.low.value < self.low.value {
            self.low = later.low;
        }
        if later.high.value > self.high.value {
            self.high = later.high;
        }
        self.last = later.last;
    }

    /// Returns its points in the order of time, each once.
    fn samples(&self) -> Vec<Sample> {
        let mut samples = vec![self.first, self.low, self.high, self.last];
        samples.sort_by_key(|sample| sample.stamp);
        samples.dedup_by_key(|sample| sample.stamp);
        samples
    }
}

/// Collects a series; when it grows too long, neighbouring stretches of time are merged and first, least, greatest and last
/// reading of each kept. A break shorter than such a stretch, a small part of a pixel, is then no longer drawn.
#[derive(Debug, Clone)]
pub struct Trace {
    width_us: i64,
    buckets: Vec<Bucket>,
    range: Option<Span>,
}

impl Default for Trace {
    fn default() -> Self {
        Self {
            width_us: FIRST_WIDTH_US,
            buckets: Vec::new(),
            range: None,
        }
    }
}

impl Trace {
    /// Takes one point in, in the order of time.
    pub fn push(&mut self, place: Place, sample: Sample) {
        let own = Span::of(sample.value);
        self.range = Some(self.range.unwrap_or(own).joined(own));
        let index = sample.stamp.elapsed_us.div_euclid(self.width_us);
        let bucket = Bucket::new(index, place, sample);
        match self.buckets.last_mut() {
            Some(last) if last.index == index && place == Place::Follows => last.add(&bucket),
            _ => self.buckets.push(bucket),
        }
        while self.buckets.len() > BUCKETS {
            self.widen();
        }
    }

    /// Doubles the width of the buckets and merges those that then fall together.
    fn widen(&mut self) {
        self.width_us *= 2;
        let mut merged: Vec<Bucket> = Vec::with_capacity(BUCKETS + 1);
        for mut bucket in self.buckets.drain(..) {
            bucket.index = bucket.first.stamp.elapsed_us.div_euclid(self.width_us);
            match merged.last_mut() {
                Some(last) if last.index == bucket.index => last.add(&bucket),
                _ => merged.push(bucket),
            }
        }
        self.buckets = merged;
    }

    /// Returns the least and greatest value so far; `None` before the first.
    pub fn range(&self) -> Option<Span> {
        self.range
    }

    /// Returns the points in the order of time, one run for each unbroken stretch.
    pub fn pieces(&self) -> Vec<Vec<Sample>> {
        let mut pieces: Vec<Vec<Sample>> = Vec::new();
        for bucket in &self.buckets {
            match pieces.last_mut() {
                Some(piece) if bucket.place == Place::Follows => piece.extend(bucket.samples()),
                _ => pieces.push(bucket.samples()),
            }
        }
        pieces
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(elapsed_us: i64, value: f64) -> Sample {
        Sample {
            stamp: Stamp {
                elapsed_us,
                wall_ms: 0,
            },
            value,
            battery_v: None,
        }
    }

    fn points(trace: &Trace) -> usize {
        trace.pieces().iter().map(Vec::len).sum()
    }

    #[test]
    fn a_short_series_comes_back_point_by_point_with_its_breaks() {
        let mut trace = Trace::default();
        let samples: Vec<_> = (0..10_u8)
            .map(|i| sample(i64::from(i) * 500_000, f64::from(i * i % 5)))
            .collect();
        for (i, &sample) in samples.iter().enumerate() {
            let place = if i % 4 == 0 {
                Place::Begins
            } else {
                Place::Follows
            };
            trace.push(place, sample);
        }
        let pieces = trace.pieces();
        assert_eq!(pieces.iter().map(Vec::len).collect::<Vec<_>>(), [4, 4, 2]);
        assert_eq!(pieces.concat(), samples);
    }

    #[test]
    fn ten_hours_at_a_thousand_a_second_stay_bounded_and_keep_the_one_odd_reading() {
        let mut trace = Trace::default();
        // One in ten of the rows of such a session, at their own times, is as long a stretch of time.
        for i in 0..3_600_000_i64 {
            let value = if i == 1_234_567 { -9.0 } else { (i % 7) as f64 };
            trace.push(Place::Follows, sample(i * 10_000, value));
        }
        assert!(points(&trace) <= 200_000, "{}", points(&trace));
        assert!(points(&trace) > 50_000, "{}", points(&trace));
        assert_eq!(trace.range(), Some(Span::new(-9.0, 6.0)));
        let all = trace.pieces().concat();
        assert!(all.contains(&sample(12_345_670_000, -9.0)));
        assert_eq!(
            all.last(),
            Some(&sample(35_999_990_000, 3_599_999_f64 % 7.0))
        );
        assert!(all.is_sorted_by_key(|sample| sample.stamp));
    }

    #[test]
    fn breaks_without_number_do_not_fill_the_memory() {
        let mut trace = Trace::default();
        for i in 0..200_000 {
            trace.push(Place::Begins, sample(i * 1000, 0.0));
        }
        assert!(points(&trace) <= 200_000);
        assert!(trace.pieces().len() <= BUCKETS);
    }
}
