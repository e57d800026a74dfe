//! The sums that a stretch of readings is judged by.

use crate::coil::Resonance;
use crate::units::Span;

use super::drift::{self, Drift};
use super::excursions::Excursions;
use super::level::{BandPlace, Level, START_S};
use super::mean::Mean;
use super::pairing::{Paired, Place};
use super::statistics::regression::{FirstRow, Moments, Term};
use super::statistics::student;
use super::steps::Steps;

/// Sums over the paired readings.
#[derive(Debug, Clone, Default)]
pub(super) struct Tally {
    pub(super) excursions: Excursions,
    pub(super) steps: Steps,
    pub(super) settled: Settled,
    start: Range,
    start_moments: Moments,
    whole: Range,
    begun_s: Option<f64>,
    inside: usize,
}

/// Sums over the readings outside excursions.
#[derive(Debug, Clone, Default)]
pub(super) struct Settled {
    pub(super) drift: Drift,
    pub(super) range_hz: Option<Span>,
}

impl Settled {
    fn push(&mut self, mean: &Mean) {
        self.drift.push_mean(mean);
        let known_hz = self.range_hz.unwrap_or(mean.range_hz);
        self.range_hz = Some(known_hz.joined(mean.range_hz));
    }
}

/// Mean and extremes of a stretch.
#[derive(Debug, Clone, Default)]
pub(super) struct Range {
    limits_hz: Option<Span>,
    mean_hz: f64,
    readings: usize,
}

impl Range {
    pub(super) fn push(&mut self, hertz: f64) {
        let own_hz = Span::of(hertz);
        self.limits_hz = Some(self.limits_hz.unwrap_or(own_hz).joined(own_hz));
        self.readings += 1;
        self.mean_hz += (hertz - self.mean_hz) / self.readings as f64;
    }

    pub(super) fn level(&self) -> Option<Level> {
        let limits_hz = self.limits_hz?;
        Some(Level {
            mean_hz: self.mean_hz,
            half_width_hz: None,
            rho: None,
            low_hz: limits_hz.low,
            high_hz: limits_hz.high,
            readings: self.readings,
        })
    }
}

/// Returns the level with the interval of its mean, the mean being that of the same fit; as it was when the readings are too few.
fn with_interval(level: Level, moments: &Moments) -> Level {
    let fitted = || {
        let fit = moments.fit(&[Term::Constant], FirstRow::Keep).ok()?;
        let reach = student::half_width_95(fit.degrees)?;
        let (_, _, origin_hz) = moments.origin()?;
        let few = drift::effective(level.readings, fit.rho) < drift::LEAST_EFFECTIVE;
        (!few).then_some(Level {
            mean_hz: origin_hz + fit.coefficients.first()?,
            half_width_hz: Some(reach * fit.standard_errors.first()?),
            rho: Some(fit.rho),
            ..level
        })
    };
    fitted().unwrap_or(level)
}

impl Tally {
    /// Returns the number of good readings.
    pub(super) fn readings(&self) -> usize {
        self.whole.readings
    }

    /// Returns the number of readings inside the model's band.
    pub(super) fn inside(&self) -> usize {
        self.inside
    }

    /// Returns the first [`START_S`] of good readings.
    pub(super) fn start(&self) -> Option<Level> {
        let level = self.start.level()?;
        Some(with_interval(level, &self.start_moments))
    }

    /// Returns all good readings, without an interval.
    pub(super) fn whole(&self) -> Option<Level> {
        self.whole.level()
    }

    /// Releases the readings that wait for their neighbours. It is to be called before drift and excursions are read.
    pub(super) fn finish(&mut self) {
        let (steps, settled) = (&mut self.steps, &mut self.settled);
        self.excursions.finish(&mut |mean| {
            steps.push(mean, &mut |mean| settled.push(mean));
        });
        steps.finish(&mut |mean| settled.push(mean));
    }

    pub(super) fn push(&mut self, paired: &Paired, model: Option<&Resonance>) {
        let (steps, settled) = (&mut self.steps, &mut self.settled);
        self.excursions.push(paired, &mut |mean| {
            steps.push(mean, &mut |mean| settled.push(mean));
        });
        self.whole.push(paired.frequency_hz);
        let at_s = paired.stamp.elapsed_s();
        let begun_s = *self.begun_s.get_or_insert(at_s);
        if at_s - begun_s <= START_S {
            if paired.place == Place::Begins {
                self.start_moments.end_stretch();
            }
            self.start_moments.push(at_s, 0.0, paired.frequency_hz);
            self.start.push(paired.frequency_hz);
        }
        if model.is_some_and(|model| BandPlace::of(paired.frequency_hz, model) == BandPlace::Inside)
        {
            self.inside += 1;
        }
    }
}
