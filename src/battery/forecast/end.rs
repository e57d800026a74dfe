//! Where the time left ends: where the battery is empty, or before that where the coil stops.

use crate::battery::curve::Sample;

/// Which end of a run is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Until {
    /// A voltage that was asked for.
    Asked,
    /// The battery is empty.
    Empty,
    /// The coil stops, as it did at the end of this number of earlier runs of this battery with this build.
    OwnStops(usize),
    /// The coil stops, as the build sheet says in `runs_down_to`.
    Sheet,
    /// The coil stops, as its circuit is predicted to with typical parts.
    Predicted,
}

impl Until {
    /// Returns its word in a table.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Asked => "asked",
            Self::Empty => "empty",
            Self::OwnStops(_) => "own-stops",
            Self::Sheet => "sheet",
            Self::Predicted => "predicted",
        }
    }
}

/// An end with its voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct End {
    /// The voltage under load of all in series, in volts.
    pub volts_v: f64,
    /// Which end it is.
    pub until: Until,
}

/// All that is known of where a run ends, in volts under load for all in series.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Ends {
    /// As asked for.
    pub asked_v: Option<f64>,
    /// Where the battery is empty.
    pub empty_v: Option<f64>,
    /// Where the coil stopped with this battery, and in how many runs.
    pub own_stops: Option<(f64, usize)>,
    /// Where the build sheet says that the coil stops.
    pub sheet_v: Option<f64>,
    /// Where the circuit is predicted to stop.
    pub predicted_v: Option<f64>,
}

impl Ends {
    /// Returns the end that comes first: the one asked for, else the coil's stop where that is known, else the empty battery. No
    /// stop counts once the coil has run below it, down to `run_down_to_v`.
    pub fn first(&self, run_down_to_v: Option<f64>) -> Option<End> {
        let end = |until| move |volts_v| End { volts_v, until };
        if let Some(asked_v) = self.asked_v {
            return Some(end(Until::Asked)(asked_v));
        }
        let is_ahead = |stop: &End| run_down_to_v.is_none_or(|least_v| least_v > stop.volts_v);
        let own = self.own_stops.map(|(volts_v, runs)| End {
            volts_v,
            until: Until::OwnStops(runs),
        });
        let stop = own
            .filter(is_ahead)
            .or_else(|| self.sheet_v.map(end(Until::Sheet)).filter(is_ahead))
            .or_else(|| self.predicted_v.map(end(Until::Predicted)).filter(is_ahead));
        let empty = self.empty_v.map(end(Until::Empty));
        match (stop, empty) {
            (Some(stop), Some(empty)) if stop.volts_v <= empty.volts_v => Some(empty),
            (stop, empty) => stop.or(empty),
        }
    }
}

/// Returns how far down a run has come for certain, in volts: one low reading, or two, may be a slip of the meter.
pub fn run_down_to_v(so_far: &[Sample]) -> Option<f64> {
    so_far
        .windows(3)
        .map(|three| three.iter().map(|one| one.volts_v).fold(0.0, f64::max))
        .min_by(f64::total_cmp)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: Ends = Ends {
        asked_v: None,
        empty_v: Some(5.4),
        own_stops: Some((6.9, 2)),
        sheet_v: Some(6.5),
        predicted_v: Some(7.2),
    };

    #[test]
    fn its_own_stops_come_before_the_sheet_and_the_sheet_before_the_prediction() {
        let first = |ends: Ends| ends.first(Some(8.0)).map(|end| (end.volts_v, end.until));
        assert_eq!(first(ALL), Some((6.9, Until::OwnStops(2))));
        let no_own = Ends {
            own_stops: None,
            ..ALL
        };
        assert_eq!(first(no_own), Some((6.5, Until::Sheet)));
        let predicted = Ends {
            sheet_v: None,
            ..no_own
        };
        assert_eq!(first(predicted), Some((7.2, Until::Predicted)));
        assert_eq!(first(Ends::default()), None);
    }

    #[test]
    fn a_stop_below_the_empty_battery_and_a_refuted_prediction_are_no_end() {
        let low = Ends {
            own_stops: Some((5.0, 1)),
            ..ALL
        };
        let until = |ends: Ends, least_v| ends.first(least_v).map(|end| end.until);
        assert_eq!(until(low, None), Some(Until::Empty));
        let predicted = Ends {
            own_stops: None,
            sheet_v: None,
            ..ALL
        };
        assert_eq!(until(predicted, Some(7.0)), Some(Until::Empty));
        // A coil that runs on below where it stopped before, or where the sheet has its stop, has time left all the same.
        let stops = Ends {
            predicted_v: None,
            ..ALL
        };
        assert_eq!(until(stops, Some(6.7)), Some(Until::Sheet));
        assert_eq!(until(stops, Some(6.4)), Some(Until::Empty));
        let asked = Ends {
            asked_v: Some(6.0),
            ..ALL
        };
        assert_eq!(until(asked, None), Some(Until::Asked));
    }
}
