//! The battery whose time left is forecast.

use std::fmt;
use std::path::Path;

use crate::battery::charge::Load;
use crate::battery::end::Ends;
use crate::battery::finished::{Finished, Start};
use crate::battery::kind::Kind;
use crate::battery::series::Weakest;
use crate::battery::watch::Limits;
use crate::recording::news::News;

/// A forecast that is asked for.
#[derive(Debug)]
pub struct Forecast {
    /// The battery.
    pub battery: Battery,
    /// Its earlier runs; they are read once, in the forecast's own thread.
    pub earlier: Box<dyn EarlierRuns>,
}

/// A battery in use.
#[derive(Debug, Clone)]
pub struct Battery {
    /// Its kind, if known.
    pub kind: Option<Kind>,
    /// How many stand in series.
    pub series: u32,
    /// Where it is empty, for all in series, in volts; `None` where that is not known.
    pub end_v: Option<f64>,
    /// The charge printed on it, in ampere hours.
    pub rated_ah: Option<f64>,
    /// How it is at the start.
    pub start: Start,
    /// The load where no current is measured.
    pub load: Load,
    /// Times left that matter.
    pub limits: Limits,
    /// The weakest of several in series.
    pub weakest: Option<Weakest>,
    /// Whether a line that is not the coil's is masked.
    pub is_masked: bool,
    /// Whether the recording is invented.
    pub is_simulated: bool,
}

impl Battery {
    /// Returns the cautions before it runs.
    pub(super) fn cautions(&self) -> Vec<News> {
        let &Self { end_v, kind, .. } = self;
        let weakest = self.weakest.filter(Weakest::is_behind);
        let behind = weakest.map(|weakest| News::BatteryBehind { weakest, end_v });
        let ripple = kind.filter(|kind| kind.has_converter() && !self.is_masked);
        behind
            .into_iter()
            .chain(ripple.map(News::MayRipple))
            .collect()
    }
}

/// The knowledge of a battery from earlier sessions.
#[derive(Debug, Default)]
pub struct Earlier {
    /// Where its runs end.
    pub ends: Ends,
    /// Its finished runs, oldest first.
    pub own: Vec<Finished>,
    /// Those of others of its kind, where it has none.
    pub others: Vec<Finished>,
}

/// A way to earlier sessions.
pub trait EarlierRuns: fmt::Debug + Send {
    /// Reads them; the session in the folder `own` is the one that is recorded, and not one of them.
    fn read(&self, own: &Path) -> Earlier;
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::series::weakest;

    fn battery(kind: Kind, each_v: &[f64], is_masked: bool) -> Battery {
        Battery {
            kind: Some(kind),
            series: 2,
            end_v: Some(11.12),
            rated_ah: None,
            start: Start::Full,
            load: Load::Measured,
            limits: Limits::default(),
            weakest: weakest(each_v),
            is_masked,
            is_simulated: false,
        }
    }

    #[test]
    fn cautions_are_reported_where_they_apply_and_nowhere_else() {
        let behind = battery(Kind::Alkaline, &[9.42, 9.10], false).cautions();
        assert!(
            matches!(&*behind, [News::BatteryBehind { weakest, .. }] if weakest.place == 2),
            "{behind:?}"
        );
        let converter = battery(Kind::UsbConverter, &[9.42, 9.40], false).cautions();
        assert!(
            matches!(&*converter, [News::MayRipple(Kind::UsbConverter)]),
            "{converter:?}"
        );
        for quiet in [
            battery(Kind::UsbConverter, &[9.42], true),
            battery(Kind::Alkaline, &[9.42, 9.40], false),
        ] {
            assert!(quiet.cautions().is_empty());
        }
    }
}
