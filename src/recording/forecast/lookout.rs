//! Keeps the forecasts of a recording, and reports those facts about them that a person must know.

use super::battery::{Battery, Forecast};
use super::foreteller::{Answer, Answers, Foreteller};
use crate::battery::outlook::{Basis, Outlook};
use crate::battery::watch::{Alarm, Watch, left_s};
use crate::reading::Row;
use crate::recording::end::End;
use crate::recording::error::RecordingError;
use crate::recording::news::{Listener, News};
use crate::session::{ForecastWriter, Foretold, Writer};

/// Keeps the forecasts of a recording.
#[derive(Debug)]
pub(crate) struct Lookout {
    foreteller: Foreteller,
    file: ForecastWriter,
    /// Whether it was reported that forecasts can't be written.
    is_reported: bool,
    watch: Watch,
    battery: Battery,
}

impl Lookout {
    /// Makes the table in the session's folder and begins.
    pub(crate) fn start(
        forecast: Forecast,
        writer: &Writer,
    ) -> Result<(Self, Answers), RecordingError> {
        let file = ForecastWriter::create(writer.dir(), writer.meta())
            .map_err(RecordingError::ForecastTable)?;
        let battery = forecast.battery.clone();
        let (foreteller, answers) = Foreteller::start(forecast, writer.dir().to_owned())
            .map_err(RecordingError::ForecastThread)?;
        let lookout = Self {
            foreteller,
            file,
            is_reported: false,
            watch: Watch::new(battery.limits),
            battery,
        };
        Ok((lookout, answers))
    }

    /// Returns the cautions before the battery runs.
    pub(crate) fn cautions(&self) -> Vec<News> {
        self.battery.cautions()
    }

    /// Takes in rows that were written.
    pub(crate) fn push(&mut self, rows: &[Row]) {
        self.foreteller.push(rows);
    }

    /// Returns whether an answer is on its way.
    pub(crate) const fn is_busy(&self) -> bool {
        self.foreteller.is_busy()
    }

    /// Takes in an answer: it is written down and reported; returns the end of the recording if it is one.
    pub(crate) fn take(&mut self, answer: &Answer, hear: &mut Listener) -> Option<End> {
        self.foreteller.answered();
        let looked = &answer.looked;
        let seen = self.watch.take(looked, answer.is_below_end);
        hear(News::Forecast(looked.clone()));
        if let Some(why) = seen.refused {
            hear(News::NoForecast {
                why,
                looked: looked.clone(),
                kind: self.battery.kind,
            });
        }
        for alarm in seen.new {
            hear(News::Alarm {
                alarm,
                looked: looked.clone(),
                end_v: self.battery.end_v,
            });
        }
        let foretold = foretold(answer, seen.standing.last(), self.battery.is_simulated);
        // Readings come first: without room for forecasts the recording goes on as long as there is room for rows.
        if let Err(error) = self.file.append(&foretold)
            && !std::mem::replace(&mut self.is_reported, true)
        {
            hear(News::ForecastsUnwritten(error));
        }
        seen.ends.then(|| end(looked))
    }
}

/// Why a forecast ends the recording.
fn end(looked: &Outlook) -> End {
    match (looked.stepped_s, left_s(looked)) {
        (None, Some(left_s)) => End::LittleLeft { left_s },
        (Some(_), _) | (None, None) => End::SteppedDown,
    }
}

/// A forecast as it stands in the table.
fn foretold(answer: &Answer, alarm: Option<&Alarm>, is_simulated: bool) -> Foretold {
    let looked = &answer.looked;
    let said = looked.said.as_ref();
    Foretold {
        stamp: answer.stamp,
        running_s: answer.last.map_or(0.0, |last| last.running_s),
        battery_v: answer.last.map(|last| last.volts_v),
        charge_ah: answer.charge_ah,
        is_estimated: answer.is_estimated,
        said: said.err().map_or("forecast", |no| no.word()),
        left_s: said
            .ok()
            .map(|said| (said.low_s, said.middle_said_s(), said.high_s)),
        by_log_s: looked.by_log_s,
        basis: basis(looked.basis, is_simulated),
        alarm: alarm.map(|alarm| alarm.word()),
    }
}

/// The curves that a forecast rests on; a battery's invented runs are named so.
fn basis(basis: Basis, is_simulated: bool) -> String {
    match basis {
        Basis::Own(_) | Basis::SameKind(_) if is_simulated => {
            format!("{}, simulated", basis.word())
        }
        _ => basis.word().to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_of_an_invented_battery_are_named_so_in_the_forecasts() {
        assert_eq!(basis(Basis::Own(2), true), "own runs, simulated");
        assert_eq!(basis(Basis::Own(2), false), "own runs");
        let shipped = Basis::Shipped(9, "simulated curves");
        assert_eq!(basis(shipped, true), "simulated curves");
    }
}
