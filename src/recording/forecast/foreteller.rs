//! Asks for forecasts as rows come in, and makes them in a thread of its own.

use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};

use tokio::sync::mpsc;

use super::battery::{Battery, Earlier, Forecast};
use crate::analysis::discharge::Discharge;
use crate::battery::curve::Sample;
use crate::battery::end::{self, End};
use crate::battery::outlook::{Known, Outlook, Run};
use crate::reading::{Row, Stamp};

/// The time from one forecast to the next, in seconds of the session's own time.
const EVERY_S: f64 = 10.0;
/// This many readings below the end in a row are no slip.
const BELOW_IN_A_ROW: usize = 3;

/// The run so far, as it is looked at.
#[derive(Debug)]
struct Snapshot {
    stamp: Stamp,
    samples: Vec<Sample>,
    resistance_ohm: Option<f64>,
    charge_ah: Option<f64>,
    is_estimated: bool,
}

/// The result.
#[derive(Debug)]
pub(crate) struct Answer {
    pub(super) stamp: Stamp,
    pub(super) last: Option<Sample>,
    pub(super) charge_ah: Option<f64>,
    pub(super) is_estimated: bool,
    pub(super) is_below_end: bool,
    pub(super) looked: Outlook,
}

/// The way back from the thread that forecasts.
pub(crate) type Answers = mpsc::Receiver<Answer>;

/// Asks for forecasts as rows come in.
#[derive(Debug)]
pub(super) struct Foreteller {
    discharge: Discharge,
    questions: Sender<Snapshot>,
    is_busy: bool,
    due_s: f64,
}

impl Foreteller {
    /// Starts the thread, which reads the battery's earlier sessions first; the session in the folder `own` is not one.
    pub(super) fn start(forecast: Forecast, own: PathBuf) -> std::io::Result<(Self, Answers)> {
        let (questions, asked) = channel();
        let (answer, answers) = mpsc::channel(1);
        let discharge = Discharge::new(forecast.battery.load);
        std::thread::Builder::new()
            .name("forecast".to_owned())
            .spawn(move || work(&forecast, &own, &asked, &answer))?;
        let foreteller = Self {
            discharge,
            questions,
            is_busy: false,
            due_s: EVERY_S,
        };
        Ok((foreteller, answers))
    }

    /// Takes in rows that were written.
    pub(super) fn push(&mut self, rows: &[Row]) {
        self.discharge.push(rows);
        let Some(last) = rows.last() else { return };
        if self.is_busy || last.stamp.elapsed_s() < self.due_s {
            return;
        }
        self.due_s = last.stamp.elapsed_s() + EVERY_S;
        let snapshot = Snapshot {
            stamp: last.stamp,
            samples: self.discharge.samples(),
            resistance_ohm: self.discharge.resistance().map(|one| one.ohm),
            charge_ah: self.discharge.meter.charge_ah(),
            is_estimated: self.discharge.is_estimated,
        };
        self.is_busy = self.questions.send(snapshot).is_ok();
    }

    /// Returns whether an answer is on its way.
    pub(super) const fn is_busy(&self) -> bool {
        self.is_busy
    }

    /// An answer has come, so another question may be asked.
    pub(super) fn answered(&mut self) {
        self.is_busy = false;
    }
}

/// Answers questions until nobody asks or listens any more.
fn work(
    forecast: &Forecast,
    own: &Path,
    asked: &Receiver<Snapshot>,
    answer: &mpsc::Sender<Answer>,
) {
    let battery = &forecast.battery;
    let Earlier { ends, own, others } = forecast.earlier.read(own);
    let known_to = |end| Known::of(&run(battery, &[], None, end), &own, &others);
    let mut end = ends.first(None);
    let mut known = known_to(end);
    for snapshot in asked {
        let samples = &snapshot.samples;
        let now = ends.first(end::run_down_to_v(samples));
        if now != end {
            end = now;
            known = known_to(end);
        }
        let looked = known.look(&run(battery, samples, snapshot.resistance_ohm, end));
        let newest = samples.iter().rev().take(BELOW_IN_A_ROW);
        let below = newest.filter(|one| battery.end_v.is_some_and(|end_v| one.volts_v < end_v));
        let answered = answer.blocking_send(Answer {
            stamp: snapshot.stamp,
            last: samples.last().copied(),
            charge_ah: snapshot.charge_ah,
            is_estimated: snapshot.is_estimated,
            is_below_end: below.count() == BELOW_IN_A_ROW,
            looked,
        });
        if answered.is_err() {
            return;
        }
    }
}

fn run<'a>(
    battery: &Battery,
    so_far: &'a [Sample],
    resistance_ohm: Option<f64>,
    end: Option<End>,
) -> Run<'a> {
    Run {
        so_far,
        start: battery.start,
        kind: battery.kind,
        series: battery.series,
        end,
        rated_ah: battery.rated_ah,
        resistance_ohm,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::charge::Load;
    use crate::reading::{Channel, Note, Readings, Status};

    fn row(second: i64) -> Row {
        let mut readings = Readings::default();
        readings.set(Channel::BatteryV, 9.0);
        readings.set(Channel::FrequencyHz, 6.23e6);
        Row {
            stamp: Stamp {
                elapsed_us: second * 1_000_000,
                wall_ms: second * 1000,
            },
            source: "board".into(),
            readings,
            status: Status::Ok,
            note: Note::default(),
        }
    }

    #[test]
    fn nothing_waits_for_a_forecast_that_takes_its_time() {
        let (questions, asked) = channel();
        let mut foreteller = Foreteller {
            discharge: Discharge::new(Load::Measured),
            questions,
            is_busy: false,
            due_s: EVERY_S,
        };
        for second in 0..1000 {
            foreteller.push(&[row(second)]);
        }
        // Nobody answered the first question, so there was no second one.
        let first: Vec<Snapshot> = asked.try_iter().collect();
        assert_eq!(first.len(), 1);
        assert_eq!(first[0].samples.len(), 11);
        foreteller.answered();
        foreteller.push(&[row(1000)]);
        foreteller.push(&[row(1001)]);
        let second: Vec<Snapshot> = asked.try_iter().collect();
        assert_eq!(second.len(), 1);
        assert_eq!(second[0].samples.len(), 1001);
    }
}
