//! Drift and pushing in a comparison's text: the numbers, the basis of their intervals, how far they may be trusted.

use crate::analysis::compare::Comparison;
use crate::analysis::drift::{Fitted, INFLATION_LIMIT, Joint, LEAST_READINGS, Slope, Trust};
use crate::units::{self, Unit};

/// The quantity that a slope is given per, and its name.
#[derive(Clone, Copy)]
struct Kind {
    name: &'static str,
    per: &'static str,
    factor: f64,
    level: &'static str,
    unread: &'static str,
}

const DRIFT: Kind = Kind {
    name: "drift",
    per: "/h",
    factor: 3600.0,
    level: "all readings have the same time",
    unread: "no frequency was read",
};

const PUSHING: Kind = Kind {
    name: "pushing",
    per: "/V",
    factor: 1.0,
    level: "the battery voltage did not change",
    unread: "no battery voltage was read beside a frequency",
};

/// Returns the lines for drift and pushing, separated where the record allows it.
pub(super) fn lines(comparison: &Comparison) -> Vec<String> {
    let drift = &comparison.drift;
    let mean_hz = comparison.whole.map_or(f64::NAN, |whole| whole.mean_hz);
    let mut lines = Vec::new();
    let mut fits = Vec::new();
    if let Joint::Separate {
        on_time,
        on_voltage,
        inflation,
    } = drift.joint
    {
        lines.push(fitted_line(DRIFT, &on_time, mean_hz) + ", at constant battery voltage");
        lines.push(fitted_line(PUSHING, &on_voltage, mean_hz) + ", at constant time");
        lines.push(format!(
            "           told apart in one fit, variance inflation {}",
            inflation_text(inflation)
        ));
        fits.push((on_time, ""));
    } else {
        for (kind, slope) in [(DRIFT, drift.on_time), (PUSHING, drift.on_voltage)] {
            lines.push(slope_line(kind, slope, mean_hz));
            if let Slope::Fitted(fit) = slope {
                fits.push((fit, kind.name));
            }
        }
    }
    lines.extend(trust_lines(&fits));
    if let Joint::Together { inflation } = drift.joint {
        lines.push(format!(
            "           time and voltage went together and cannot be told apart: variance inflation {}, limit {INFLATION_LIMIT:.0}",
            inflation_text(inflation)
        ));
        lines.push(
            "           to tell them apart, switch a resistor at the battery in and out during a run"
                .to_owned(),
        );
    }
    lines
}

/// Returns lines on the basis of some fits' intervals, each with the name it goes by, and how far they may be trusted.
fn trust_lines(fits: &[(Fitted, &str)]) -> Vec<String> {
    let listed = |part: &dyn Fn(&Fitted) -> String| {
        let named = |(fit, name): &(Fitted, &str)| match *name {
            "" => part(fit),
            name => format!("{} for {name}", part(fit)),
        };
        fits.iter().map(named).collect::<Vec<_>>().join(", ")
    };
    let Some((first, _)) = fits.first() else {
        return Vec::new();
    };
    let over = first.width_s.map_or_else(
        || "from one reading to the next".to_owned(),
        |width_s| format!("of means over {}", units::exact(width_s, Unit::Second)),
    );
    let mut lines = vec![
        format!(
            "           95 %, taking residuals as AR(1) {over}, ρ = {}",
            listed(&|fit| format!("{:.2}", fit.rho))
        ),
        format!(
            "           {} readings, effectively independent: {}",
            first.readings,
            listed(&|fit| format!("{:.1}", fit.effective))
        ),
    ];
    let mut wandering = fits
        .iter()
        .filter(|(fit, _)| fit.trust == Trust::Wandering)
        .map(|(_, name)| *name);
    if let Some(name) = wandering.next() {
        let of = match (name, wandering.next()) {
            ("", _) | (_, Some(_)) => String::new(),
            (name, None) => format!(" of {name}"),
        };
        lines.push(format!(
            "           the residuals{of} wander like a random walk: such an interval is a lower bound of the uncertainty"
        ));
    }
    lines
}

/// Beyond a million the factor is but the rounding of a perfect agreement.
fn inflation_text(inflation: f64) -> String {
    if inflation > 1e6 {
        "over 1000000".to_owned()
    } else if inflation > 100.0 {
        format!("{inflation:.0}")
    } else {
        format!("{inflation:.1}")
    }
}

fn slope_line(kind: Kind, slope: Slope, mean_hz: f64) -> String {
    let none = |why: String| format!("{:<11}no number: {why}", kind.name);
    match slope {
        Slope::Fitted(fit) => fitted_line(kind, &fit, mean_hz) + ", if nothing else changed",
        Slope::TooFew { readings: 0 } => none(kind.unread.to_owned()),
        Slope::TooFew { readings } => none(format!(
            "{readings} readings, at least {LEAST_READINGS} are needed"
        )),
        Slope::Level => none(kind.level.to_owned()),
    }
}

fn fitted_line(kind: Kind, fit: &Fitted, mean_hz: f64) -> String {
    let slope = fit.slope.scaled(kind.factor);
    let ratio = slope.scaled(1e6 / mean_hz);
    let written = slope.written(Unit::Hertz, kind.per);
    let decimals = usize::from(ratio.half_width < 10.0);
    let (value, per) = (ratio.value, kind.per);
    format!("{:<11}{written} ({value:.decimals$} ppm{per})", kind.name)
}
