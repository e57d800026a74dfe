//! Measured against modelled: the whole judgement of a session in one accumulator.

use crate::coil::Resonance;
use crate::reading::{Channel, Chunk, Status};
use crate::units::Span;

use crate::analysis::drift::DriftReport;
use crate::analysis::events::{Events, Kept};
use crate::analysis::excursions::Excursion;
use crate::analysis::level::Level;
use crate::analysis::lone::{Alone, Lone};
use crate::analysis::noted::Noted;
use crate::analysis::pairing::{Paired, Pairing, PairingRule, Place};
use crate::analysis::steps::Step;
use crate::analysis::stretches::{Judged, Stretch};
use crate::analysis::summary::{ChannelSummary, Summary};
use crate::analysis::tally::{Range, Tally};
use crate::analysis::trace::{Sample, Trace};

/// All that a session says of itself and of the model.
#[derive(Debug, Clone)]
pub struct Comparison {
    /// The modelled resonance at the start; `None` without a build sheet.
    pub model: Option<Resonance>,
    /// The stretches in different earth states, in their order; one where the state never changed.
    pub stretches: Vec<Judged>,
    /// Which stretch drift, pushing and the settled range are those of: the one with most readings.
    pub longest: usize,
    /// The first [`START_S`](crate::analysis::level::START_S) of good readings.
    pub start: Option<Level>,
    /// All good readings. No interval: a drifting frequency has no one mean.
    pub whole: Option<Level>,
    /// Share of the readings that lie inside their stretch's band.
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
    /// The person's notes, in the order of time.
    pub marks: Vec<Noted>,
    /// Least and greatest frequency outside the excursions, in hertz.
    pub settled_hz: Option<Span>,
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
    /// Returns the channels of frequency or battery voltage that other instruments read too, with the instrument: they are not
    /// analysed.
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

impl Loners {
    fn frequency(&mut self, paired: &Paired) {
        let at_s = paired.stamp.elapsed_s();
        self.frequency
            .push(at_s, paired.row, paired.frequency_hz, paired.place);
    }

    /// Returns those found, as if no more readings came than these.
    fn found(&self, rest: impl Iterator<Item = Paired>) -> [Kept<Lone>; 2] {
        let mut all = self.clone();
        rest.for_each(|paired| all.frequency(&paired));
        [all.frequency, all.voltage].map(|mut alone| {
            alone.finish();
            alone.found().clone()
        })
    }
}

/// Counts a reading into the stretch that it lies in.
fn count(stretches: &mut [(Stretch, Tally)], paired: &Paired) {
    let at_s = paired.stamp.elapsed_s();
    let after = stretches.partition_point(|(stretch, _)| stretch.from_s <= at_s);
    if let Some((stretch, tally)) = stretches.get_mut(after.saturating_sub(1)) {
        tally.push(paired, stretch.model.as_ref());
    }
}

fn judged(stretches: &[(Stretch, Tally)]) -> Vec<Judged> {
    let ends = stretches.iter().skip(1).map(|(next, _)| Some(next.from_s));
    stretches
        .iter()
        .zip(ends.chain([None]))
        .map(|((stretch, tally), to_s)| Judged {
            stretch: stretch.clone(),
            to_s,
            start: tally.start(),
            whole: tally.whole(),
            inside_share: stretch
                .model
                .as_ref()
                .and_then(|_| tally.whole())
                .map(|level| tally.inside() as f64 / level.readings as f64),
        })
        .collect()
}

/// Returns the share of all readings inside the band of their stretch; `None` without a model or a reading.
fn inside_share(stretches: &[(Stretch, Tally)]) -> Option<f64> {
    let with_model = stretches
        .iter()
        .filter(|(stretch, _)| stretch.model.is_some());
    let (inside, readings) = with_model.fold((0, 0), |(inside, readings), (_, tally)| {
        (inside + tally.inside(), readings + tally.readings())
    });
    (readings > 0).then(|| inside as f64 / readings as f64)
}

/// Collects a session, from its folder or live.
#[derive(Debug, Clone)]
pub struct Compare {
    /// At least one, by their beginning.
    stretches: Vec<(Stretch, Tally)>,
    pairing: Pairing,
    whole: Range,
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

impl Default for Compare {
    fn default() -> Self {
        Self::new(None, Pairing::default())
    }
}

impl Compare {
    /// Compares with a modelled resonance, if there is one, pairing the instruments as `pairing` says.
    pub fn new(model: Option<Resonance>, pairing: Pairing) -> Self {
        let only = Stretch {
            from_s: f64::NEG_INFINITY,
            earth: None,
            model,
        };
        Self::in_stretches(vec![only], pairing)
    }

    /// Compares each stretch with its own model; they stand in the order of their time, and the first counts from the start.
    pub fn in_stretches(stretches: Vec<Stretch>, pairing: Pairing) -> Self {
        let with_tally = |stretch| (stretch, Tally::default());
        Self {
            stretches: stretches.into_iter().map(with_tally).collect(),
            pairing,
            whole: Range::default(),
            traces: Traces::default(),
            voltage_is_broken: false,
            summary: Summary::default(),
            events: Events::default(),
            lone: Loners::default(),
            marks: Vec::new(),
            placed: 0,
            rows: 0,
        }
    }

    /// Takes in the person's notes; the rows come after them.
    pub fn note(&mut self, mut marks: Vec<Noted>) {
        marks.sort_by(|one, other| one.at_s.total_cmp(&other.at_s));
        self.marks = marks;
        self.placed = 0;
    }

    /// Takes rows in, in the order of their time.
    pub fn push(&mut self, rows: &Chunk) {
        self.summary.push(rows);
        self.events.push(rows);
        let (stretches, whole, traces) = (&mut self.stretches, &mut self.whole, &mut self.traces);
        let lone = &mut self.lone;
        self.pairing.push(rows, &mut |paired| {
            whole.push(paired.frequency_hz);
            count(stretches, &paired);
            traces.push_frequency(&paired);
            lone.frequency(&paired);
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

    /// Returns the comparison by the rows so far.
    pub fn report(&self) -> Comparison {
        let (mut stretches, mut whole) = (self.stretches.clone(), self.whole.clone());
        for paired in self.pairing.rest() {
            whole.push(paired.frequency_hz);
            count(&mut stretches, &paired);
        }
        let (mut excursions, mut steps) = (Kept::default(), Kept::default());
        let mut left_out = 0;
        for (_, tally) in &mut stretches {
            tally.finish();
            excursions.append(tally.excursions.found());
            steps.append(tally.steps.found());
            left_out += tally.excursions.left_out();
        }
        let judged = judged(&stretches);
        let first = judged.iter().find(|one| one.whole.is_some());
        let first = first.or_else(|| judged.first());
        let longest = (0..stretches.len())
            .rev()
            .max_by_key(|index| stretches[*index].1.readings())
            .unwrap_or(0);
        let settled = stretches
            .get(longest)
            .map(|(_, tally)| tally.settled.clone());
        let settled = settled.unwrap_or_default();
        Comparison {
            model: first.and_then(|one| one.stretch.model),
            start: first.and_then(|one| one.start),
            whole: whole.level(),
            inside_share: inside_share(&stretches),
            stretches: judged,
            longest,
            drift: settled.drift.report(),
            excursions,
            left_out,
            steps,
            lone: self.lone.found(self.pairing.rest()),
            marks: self.marks.clone(),
            settled_hz: settled.range_hz,
            interval_s: self.pairing.interval_s(),
            pairing: self.pairing.rule(),
            summary: self.summary.clone(),
            events: self.events.clone(),
        }
    }

    /// Returns the series for the pictures.
    pub fn traces(&self) -> Traces {
        let mut traces = self.traces.clone();
        for paired in self.pairing.rest() {
            traces.push_frequency(&paired);
        }
        traces
    }
}

#[cfg(test)]
mod tests;
