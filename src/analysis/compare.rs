//! Measured against modelled: the whole judgement of a session in one accumulator.

use crate::coil::Resonance;
use crate::reading::{Channel, Chunk, Status};

use super::drift::{self, Drift, DriftReport};
use super::events::{Events, Kept};
use super::excursions::{Excursion, Excursions};
use super::lone::{Alone, Lone};
use super::mean::Mean;
use super::pairing::{Paired, Pairing, PairingRule, Place};
use super::regression::{FirstRow, Moments, Term};
use super::steps::{Step, Steps};
use super::student;
use super::summary::{ChannelSummary, Summary};
use super::timeline::Noted;
use super::trace::{Sample, Trace};

/// Length of the start, whose mean frequency is set against the model: the coil is cold and the battery fresh. Chosen.
pub const START_S: f64 = 10.0;

/// Where a frequency lies against the model's band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BandPlace {
    /// Below the lower edge.
    Below,
    /// Inside, the edges included.
    Inside,
    /// Above the upper edge.
    Above,
}

impl BandPlace {
    /// Where a frequency in hertz lies.
    pub fn of(frequency_hz: f64, model: &Resonance) -> Self {
        if frequency_hz < model.low_hz {
            Self::Below
        } else if frequency_hz > model.high_hz {
            Self::Above
        } else {
            Self::Inside
        }
    }
}

/// Frequency over a stretch of a session.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// Mean, in hertz.
    pub mean_hz: f64,
    /// Half the 95 % interval of the mean, in hertz, residuals taken as AR(1); `None` when the readings are too few.
    pub half_width_hz: Option<f64>,
    /// Autocorrelation of the readings that the interval was made with.
    pub rho: Option<f64>,
    /// Lowest reading, in hertz.
    pub low_hz: f64,
    /// Highest reading, in hertz.
    pub high_hz: f64,
    /// Readings.
    pub readings: usize,
}

/// How far a measured frequency is from the model's value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Deviation {
    /// Measured less modelled, in hertz.
    pub deviation_hz: f64,
    /// The same as a ratio to the modelled value.
    pub ratio: f64,
    /// Where the measured value lies against the band.
    pub place: BandPlace,
}

impl Deviation {
    /// The deviation of a measured frequency, in hertz.
    pub fn of(frequency_hz: f64, model: &Resonance) -> Self {
        let deviation_hz = frequency_hz - model.value_hz;
        Self {
            deviation_hz,
            ratio: deviation_hz / model.value_hz,
            place: BandPlace::of(frequency_hz, model),
        }
    }
}

/// All that a session says of itself and of the model.
#[derive(Debug, Clone)]
pub struct Comparison {
    /// The modelled resonance; `None` without a build sheet.
    pub model: Option<Resonance>,
    /// The first [`START_S`] of good readings.
    pub start: Option<Level>,
    /// All good readings. No interval: what drifts has no one mean.
    pub whole: Option<Level>,
    /// Share of the readings that lie inside the model's band.
    pub inside_share: Option<f64>,
    /// Drift and pushing, without the excursions.
    pub drift: DriftReport,
    /// Times when the frequency went away and came back.
    pub excursions: Kept<Excursion>,
    /// Readings in them, which the fits go without.
    pub left_out: usize,
    /// Times when the frequency jumped and stayed.
    pub steps: Kept<Step>,
    /// Readings of frequency and battery voltage that stood alone.
    pub lone: [Kept<Lone>; 2],
    /// What the person noted, in the order of time.
    pub marks: Vec<Noted>,
    /// Least and greatest frequency outside the excursions, in hertz.
    pub settled_hz: Option<(f64, f64)>,
    /// Median interval of the frequency readings, in seconds.
    pub interval_s: Option<f64>,
    /// How frequency and battery voltage were paired.
    pub pairing: PairingRule,
    /// Rows and channels.
    pub summary: Summary,
    /// Stops, restarts and missing data.
    pub events: Events,
}

impl Comparison {
    /// Channels of frequency or battery voltage that other instruments read too, with the instrument: not analysed.
    pub fn passed_over(&self) -> impl Iterator<Item = (&str, &ChannelSummary)> {
        let rule = &self.pairing;
        let sources = self.summary.sources().iter();
        sources.flat_map(move |source| {
            let is_passed_over = |summary: &&ChannelSummary| {
                let used = match summary.channel {
                    Channel::FrequencyHz => &rule.frequency_source,
                    Channel::BatteryV => &rule.voltage_source,
                    _ => return false,
                };
                used.as_ref() != Some(&source.source)
            };
            let channels = source.channels.iter().filter(is_passed_over);
            channels.map(|summary| (&*source.source, summary))
        })
    }
}

/// Frequency and battery voltage over time, for the pictures.
#[derive(Debug, Clone, Default)]
pub struct Traces {
    /// Frequency, in hertz, with the voltage paired to it.
    pub frequency: Trace,
    /// Battery voltage as read, in volts.
    pub voltage: Trace,
}

/// Sums over the paired readings.
#[derive(Debug, Clone, Default)]
struct Tally {
    excursions: Excursions,
    steps: Steps,
    settled: Settled,
    start: Range,
    start_moments: Moments,
    whole: Range,
    begun_s: Option<f64>,
    inside: usize,
}

/// Sums over the readings outside excursions.
#[derive(Debug, Clone, Default)]
struct Settled {
    drift: Drift,
    range_hz: Option<(f64, f64)>,
}

impl Settled {
    fn push(&mut self, mean: &Mean) {
        self.drift.push_mean(mean);
        let (low_hz, high_hz) = self.range_hz.unwrap_or(mean.range_hz);
        self.range_hz = Some((low_hz.min(mean.range_hz.0), high_hz.max(mean.range_hz.1)));
    }
}

/// Mean and extremes of a stretch.
#[derive(Debug, Clone, Default)]
struct Range {
    limits: Option<(f64, f64)>,
    mean_hz: f64,
    readings: usize,
}

impl Range {
    fn push(&mut self, hertz: f64) {
        let (low, high) = self.limits.unwrap_or((hertz, hertz));
        self.limits = Some((low.min(hertz), high.max(hertz)));
        self.readings += 1;
        self.mean_hz += (hertz - self.mean_hz) / self.readings as f64;
    }

    fn level(&self) -> Option<Level> {
        let (low_hz, high_hz) = self.limits?;
        Some(Level {
            mean_hz: self.mean_hz,
            half_width_hz: None,
            rho: None,
            low_hz,
            high_hz,
            readings: self.readings,
        })
    }
}

/// The level with the interval of its mean, the mean being that of the same fit; as it was when the readings are too few.
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
    fn push(&mut self, paired: &Paired, model: Option<&Resonance>) {
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

impl Traces {
    fn push_frequency(&mut self, paired: &Paired) {
        let sample = Sample {
            stamp: paired.stamp,
            value: paired.frequency_hz,
            battery_v: paired.battery_v,
        };
        self.frequency.push(paired.place, sample);
    }
}

/// Readings that stand alone, by channel.
#[derive(Debug, Clone)]
struct Loners {
    frequency: Alone,
    voltage: Alone,
}

impl Default for Loners {
    fn default() -> Self {
        Self {
            frequency: Alone::new(Channel::FrequencyHz),
            voltage: Alone::new(Channel::BatteryV),
        }
    }
}

/// Collects a session, from its folder or live.
#[derive(Debug, Clone, Default)]
pub struct Compare {
    model: Option<Resonance>,
    pairing: Pairing,
    tally: Tally,
    traces: Traces,
    voltage_is_broken: bool,
    summary: Summary,
    events: Events,
    lone: Loners,
    marks: Vec<Noted>,
    /// Marks that have their row.
    placed: usize,
    rows: u64,
}

impl Compare {
    /// Compares with a modelled resonance, if there is one, pairing the instruments as `pairing` says.
    pub fn new(model: Option<Resonance>, pairing: Pairing) -> Self {
        Self {
            model,
            pairing,
            ..Self::default()
        }
    }

    /// Takes in what the person noted; the rows come after it.
    pub fn note(&mut self, mut marks: Vec<Noted>) {
        marks.sort_by(|one, other| one.at_s.total_cmp(&other.at_s));
        self.marks = marks;
        self.placed = 0;
    }

    /// Takes rows in, in the order of their time.
    pub fn push(&mut self, rows: &Chunk) {
        self.summary.push(rows);
        self.events.push(rows);
        let (tally, traces, model) = (&mut self.tally, &mut self.traces, self.model.as_ref());
        let lone = &mut self.lone.frequency;
        self.pairing.push(rows, &mut |paired| {
            tally.push(&paired, model);
            traces.push_frequency(&paired);
            let at_s = paired.stamp.elapsed_s();
            lone.push(at_s, paired.row, paired.frequency_hz, paired.place);
        });
        self.push_voltage(rows);
        self.place_marks(rows);
        self.rows += rows.len() as u64;
    }

    fn place_marks(&mut self, rows: &Chunk) {
        for (number, row) in (self.rows + 1..).zip(rows) {
            let at_s = row.stamp.elapsed_s();
            while let Some(mark) = self.marks.get_mut(self.placed)
                && mark.at_s <= at_s
            {
                mark.row = Some(number);
                self.placed += 1;
            }
        }
    }

    fn push_voltage(&mut self, rows: &Chunk) {
        let Some(source) = self.pairing.voltage_source() else {
            return;
        };
        let numbered = (self.rows + 1..).zip(rows);
        for (number, row) in numbered.filter(|(_, row)| *row.source == *source) {
            let Some(volts) = row.battery_v() else {
                self.voltage_is_broken |= !matches!(row.status, Status::Ok | Status::Suspect);
                continue;
            };
            let place = if self.voltage_is_broken {
                Place::Begins
            } else {
                Place::Follows
            };
            self.voltage_is_broken = false;
            let sample = Sample {
                stamp: row.stamp,
                value: volts,
                battery_v: None,
            };
            self.traces.voltage.push(place, sample);
            let at_s = row.stamp.elapsed_s();
            self.lone.voltage.push(at_s, number, volts, place);
        }
    }

    /// What the rows so far say.
    pub fn report(&self) -> Comparison {
        let mut tally = self.tally.clone();
        for paired in self.pairing.rest() {
            tally.push(&paired, self.model.as_ref());
        }
        let Tally {
            excursions,
            steps,
            settled,
            ..
        } = &mut tally;
        excursions.finish(&mut |mean| steps.push(mean, &mut |mean| settled.push(mean)));
        steps.finish(&mut |mean| settled.push(mean));
        let mut lone = self.lone.clone();
        for paired in self.pairing.rest() {
            let at_s = paired.stamp.elapsed_s();
            let hertz = paired.frequency_hz;
            lone.frequency.push(at_s, paired.row, hertz, paired.place);
        }
        let lone = [lone.frequency, lone.voltage].map(|mut alone| {
            alone.finish();
            alone.found().clone()
        });
        let (start, whole) = (tally.start.level(), tally.whole.level());
        let inside = self.model.as_ref().and(whole);
        Comparison {
            model: self.model.clone(),
            start: start.map(|level| with_interval(level, &tally.start_moments)),
            whole,
            inside_share: inside.map(|level| tally.inside as f64 / level.readings as f64),
            drift: tally.settled.drift.report(),
            excursions: tally.excursions.found().clone(),
            left_out: tally.excursions.left_out(),
            steps: tally.steps.found().clone(),
            lone,
            marks: self.marks.clone(),
            settled_hz: tally.settled.range_hz,
            interval_s: self.pairing.interval_s(),
            pairing: self.pairing.rule(),
            summary: self.summary.clone(),
            events: self.events.clone(),
        }
    }

    /// The series for the pictures.
    pub fn traces(&self) -> Traces {
        let mut traces = self.traces.clone();
        for paired in self.pairing.rest() {
            traces.push_frequency(&paired);
        }
        traces
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::row;
    use super::*;

    fn model() -> Resonance {
        Resonance {
            value_hz: 6.0e6,
            low_hz: 5.9e6,
            high_hz: 6.1e6,
            route: "invented".to_owned(),
        }
    }

    /// Invented: half a minute at 6.05 MHz, then half a minute above the band.
    fn session(model: Option<Resonance>) -> Compare {
        let mut compare = Compare::new(model, Pairing::new());
        for i in 0..60 {
            let hertz = if i < 30 { 6.05e6 } else { 6.15e6 } + f64::from(i * 37 % 11);
            compare.push(&[row(
                "scope",
                f64::from(i),
                Some(hertz),
                Some(9.0),
                Status::Ok,
            )]);
        }
        compare
    }

    #[test]
    fn the_start_is_set_against_the_model_with_its_interval() {
        let report = session(Some(model())).report();
        let start = report.start.unwrap();
        assert_eq!(start.readings, 11, "0 to 10 s, both included");
        let half_width_hz = start.half_width_hz.unwrap();
        assert!(
            (start.mean_hz - 6.050005e6).abs() < half_width_hz,
            "{start:?}"
        );
        let deviation = Deviation::of(start.mean_hz, &model());
        assert_eq!(deviation.place, BandPlace::Inside);
        assert!((deviation.ratio - 0.05 / 6.0).abs() < 1e-5, "{deviation:?}");
    }

    #[test]
    fn the_whole_has_its_extremes_and_the_share_inside_the_band() {
        let report = session(Some(model())).report();
        let whole = report.whole.unwrap();
        assert_eq!((whole.low_hz, whole.high_hz), (6.05e6, 6.15001e6));
        assert_eq!(report.inside_share, Some(0.5));
        assert_eq!(whole.half_width_hz, None);
    }

    #[test]
    fn without_a_model_the_drift_is_still_there() {
        let report = session(None).report();
        assert_eq!(report.inside_share, None);
        assert!(report.whole.is_some());
        assert_eq!(report.interval_s, Some(1.0));
    }

    #[test]
    fn readings_that_wait_for_a_voltage_are_in_the_live_report_too() {
        let mut compare = Compare::new(None, Pairing::new());
        for i in 0..5 {
            compare.push(&[row("counter", f64::from(i), Some(6e6), None, Status::Ok)]);
        }
        assert_eq!(compare.report().whole.unwrap().readings, 5);
        assert_eq!(compare.traces().frequency.pieces().concat().len(), 5);
    }

    #[test]
    fn chunks_of_one_and_one_chunk_give_the_same_report() {
        let rows: Vec<_> = (0..200)
            .map(|i| {
                let (source, hertz, volts) = match i % 3 {
                    0 => ("meter", None, Some(9.0 - f64::from(i) * 0.001)),
                    _ => ("counter", Some(6e6 + f64::from(i * 37 % 11)), None),
                };
                row(source, f64::from(i) * 0.2, hertz, volts, Status::Ok)
            })
            .collect();
        let (mut live, mut folder) = (Compare::default(), Compare::default());
        rows.chunks(1).for_each(|one| live.push(one));
        folder.push(&rows);
        let (live, folder) = (live.report(), folder.report());
        assert_eq!((live.start, live.whole), (folder.start, folder.whole));
        assert_eq!((live.drift, live.pairing), (folder.drift, folder.pairing));
    }
}
