//! The alarms of a battery while it runs, each raised once, and when a forecast ends the recording.

use super::outlook::Outlook;
use crate::battery::forecast::NoForecast;

/// A forecast may slip once; two in a row at or below a limit count.
const IN_A_ROW: u32 = 2;

/// Times left that matter, in seconds.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Limits {
    /// Warn here.
    pub warn_s: Option<f64>,
    /// End here.
    pub end_s: Option<f64>,
}

/// Something to act on, the more urgent the later.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Alarm {
    /// The time left is at the limit that was asked for.
    LittleLeft,
    /// The voltage turns down: minutes left, not a forecast.
    TurnsDown,
    /// The output of a converter stepped down: it is nearly empty.
    SteppedDown,
    /// The voltage is below the end: weak cells are being reversed.
    BelowEnd,
}

impl Alarm {
    /// All of them.
    pub const ALL: [Self; 4] = [
        Self::LittleLeft,
        Self::TurnsDown,
        Self::SteppedDown,
        Self::BelowEnd,
    ];

    /// Returns its word in a table.
    pub const fn word(self) -> &'static str {
        match self {
            Self::LittleLeft => "little-left",
            Self::TurnsDown => "turns-down",
            Self::SteppedDown => "stepped-down",
            Self::BelowEnd => "below-end",
        }
    }
}

/// Returns the time left that limits are held against, in seconds. It is the middle of the forecast. Where the voltage shows no
/// end, or too little for a middle, it is the foot of the range by the battery's own runs.
pub fn left_s(looked: &Outlook) -> Option<f64> {
    let middle_s = looked.said.ok().and_then(|said| said.middle_said_s());
    middle_s.or_else(|| looked.by_log_s.map(|left_s| left_s.low))
}

/// The findings of one look.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Seen {
    /// Alarms that stand now, in the order of their urgency.
    pub standing: Vec<Alarm>,
    /// Those of them that did not stand before: to be reported now.
    pub new: Vec<Alarm>,
    /// Why there is no forecast, if that is to be reported now.
    pub refused: Option<NoForecast>,
    /// Whether the recording is to end.
    pub ends: bool,
}

/// Remembers the reports already made.
#[derive(Debug, Clone, Default)]
pub struct Watch {
    limits: Limits,
    told: Vec<Alarm>,
    refused: Vec<NoForecast>,
    at_warn: u32,
    at_end: u32,
}

impl Watch {
    /// Creates one that has reported nothing yet.
    pub fn new(limits: Limits) -> Self {
        Self {
            limits,
            ..Self::default()
        }
    }

    /// Takes in the outlook for the run at a moment, and whether the battery is below its end.
    pub fn take(&mut self, looked: &Outlook, is_below_end: bool) -> Seen {
        let left_s = left_s(looked);
        let counted = |count: u32, limit_s: Option<f64>| match (left_s, limit_s) {
            (Some(left_s), Some(limit_s)) if left_s <= limit_s => count.saturating_add(1),
            _ => 0,
        };
        self.at_warn = counted(self.at_warn, self.limits.warn_s);
        self.at_end = counted(self.at_end, self.limits.end_s);
        let stands = |alarm: &Alarm| match alarm {
            Alarm::LittleLeft => self.at_warn >= IN_A_ROW,
            Alarm::TurnsDown => looked.past_knee,
            Alarm::SteppedDown => looked.stepped_s.is_some(),
            Alarm::BelowEnd => is_below_end,
        };
        let standing: Vec<Alarm> = Alarm::ALL.into_iter().filter(stands).collect();
        let is_new = |alarm: &Alarm| !self.told.contains(alarm);
        let new: Vec<Alarm> = standing.iter().copied().filter(is_new).collect();
        self.told.extend(&new);
        let has_stepped = self.limits.end_s.is_some() && looked.stepped_s.is_some();
        Seen {
            standing,
            new,
            refused: self.refused(looked),
            ends: self.at_end >= IN_A_ROW || has_stepped,
        }
    }

    /// Returns a refusal that was not reported yet. That it is early is no refusal: it passes by itself.
    fn refused(&mut self, looked: &Outlook) -> Option<NoForecast> {
        let refused = looked.said.err()?;
        let is_known = self.refused.contains(&refused);
        if is_known || matches!(refused, NoForecast::TooEarly { .. }) {
            return None;
        }
        self.refused.push(refused);
        Some(refused)
    }
}

#[cfg(test)]
mod tests {
    use super::super::outlook::Basis;
    use super::super::question::Claim;
    use super::*;
    use crate::battery::forecast::{Level, TimeLeft};
    use crate::units::Span;

    fn looked(said: Result<f64, NoForecast>) -> Outlook {
        Outlook {
            said: said.map(|left_s| TimeLeft {
                elapsed_s: 1000.0,
                low_s: 0.8 * left_s,
                middle_s: left_s,
                high_s: 1.2 * left_s,
                claim: Claim::Agrees,
            }),
            end: None,
            basis: Basis::Own(1),
            widening: 1.0,
            by_log_s: None,
            stepped_s: None,
            past_knee: false,
        }
    }

    fn ten_and_five_minutes() -> Watch {
        Watch::new(Limits {
            warn_s: Some(600.0),
            end_s: Some(300.0),
        })
    }

    #[test]
    fn the_warning_comes_once_and_after_two_forecasts_in_a_row() {
        let mut watch = ten_and_five_minutes();
        assert_eq!(watch.take(&looked(Ok(590.0)), false), Seen::default());
        assert_eq!(watch.take(&looked(Ok(700.0)), false), Seen::default());
        assert_eq!(watch.take(&looked(Ok(590.0)), false), Seen::default());
        let seen = watch.take(&looked(Ok(580.0)), false);
        assert_eq!(seen.new, [Alarm::LittleLeft]);
        let seen = watch.take(&looked(Ok(570.0)), false);
        assert_eq!((seen.standing, seen.new), (vec![Alarm::LittleLeft], vec![]));
    }

    #[test]
    fn the_recording_ends_after_two_forecasts_at_its_limit() {
        let mut watch = ten_and_five_minutes();
        assert!(!watch.take(&looked(Ok(299.0)), false).ends);
        assert!(watch.take(&looked(Ok(298.0)), false).ends);
        let mut without = Watch::default();
        assert!(!without.take(&looked(Ok(0.0)), false).ends);
        assert!(!without.take(&looked(Ok(0.0)), false).ends);
    }

    #[test]
    fn a_band_too_wide_for_a_middle_reaches_no_limit() {
        let mut wide = looked(Ok(200.0));
        if let Ok(said) = &mut wide.said {
            said.low_s = 100.0;
            said.high_s = 1e6;
        }
        assert_eq!(left_s(&wide), None);
        let mut watch = ten_and_five_minutes();
        for _ in 0..3 {
            let seen = watch.take(&wide, false);
            assert_eq!((seen.new, seen.ends), (Vec::new(), false));
        }
    }

    #[test]
    fn a_refusal_is_told_once_and_an_early_one_never() {
        let mut watch = Watch::default();
        let early = NoForecast::TooEarly {
            elapsed_s: 10.0,
            wanted_s: 300.0,
        };
        assert_eq!(watch.take(&looked(Err(early)), false).refused, None);
        let holds = looked(Err(NoForecast::HoldsVoltage(Level::Converter)));
        assert_eq!(
            watch.take(&holds, false).refused,
            Some(NoForecast::HoldsVoltage(Level::Converter))
        );
        assert_eq!(watch.take(&holds, false).refused, None);
    }

    #[test]
    fn a_step_down_is_told_at_once_and_ends_only_where_an_end_was_asked_for() {
        let mut stepped = looked(Err(NoForecast::HoldsVoltage(Level::Converter)));
        stepped.stepped_s = Some(2040.0);
        let seen = Watch::default().take(&stepped, false);
        assert_eq!((seen.new, seen.ends), (vec![Alarm::SteppedDown], false));
        assert!(ten_and_five_minutes().take(&stepped, false).ends);
    }

    #[test]
    fn where_the_voltage_tells_nothing_the_foot_of_the_log_is_held_against_the_limit() {
        let mut by_log = looked(Err(NoForecast::HoldsVoltage(Level::Converter)));
        by_log.by_log_s = Some(Span::new(250.0, 600.0));
        let mut watch = ten_and_five_minutes();
        watch.take(&by_log, false);
        let seen = watch.take(&by_log, false);
        assert_eq!((seen.new, seen.ends), (vec![Alarm::LittleLeft], true));
    }

    #[test]
    fn the_most_urgent_alarm_stands_last() {
        let mut worst = looked(Ok(100.0));
        worst.past_knee = true;
        let seen = Watch::default().take(&worst, true);
        assert_eq!(seen.new, [Alarm::TurnsDown, Alarm::BelowEnd]);
        assert!(Alarm::ALL.is_sorted());
    }
}
