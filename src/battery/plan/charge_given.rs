//! The charge that a kind of battery gives at a current, from published figures, as a range.

use statrs::distribution::{ContinuousCDF as _, StudentsT};

use super::worth::{Held, Worth};
use crate::battery::curve;
use crate::battery::kind::{Gives, Kind, Size};
use crate::battery::last_run;
use crate::battery::logbook::{Entry, Logbook};
use crate::battery::peukert::Peukert;
use crate::battery::shipped::{self, LI_ION_RATED_AH};
use crate::units::Span;

/// Currents of a vendor's published discharge-test page, in amperes.
const TESTED_A: [f64; 3] = [0.1, 0.5, 1.0];
/// The charges that five alkaline types of the size gave there, in ampere hours, followed to 0.1 V.
static ALKALINE_AH: [[f64; 3]; 5] = [
    [0.31, 0.17, 0.09],
    [0.31, 0.17, 0.09],
    [0.45, 0.33, 0.23],
    [0.49, 0.28, 0.30],
    [0.44, 0.29, 0.14],
];
/// The page followed its batteries to 0.1 V, so that its figures are the most a resonator gets. The foot of the range is at
/// most this share of the least type; chosen so that at 0.35 A it comes down to the trade's 20 minutes (common practice, no
/// source), so that those are no check of it.
const TO_THE_END_POINT: f64 = 0.6;
/// The charge that an alkaline one gives at some 15 mA, in ampere hours: the encyclopaedia's table of the size.
const ALKALINE_LIGHT_AH: f64 = 0.565;
/// Share of its printed charge that a rechargeable one is sure to give here: cell B0005 of the published ageing set (Saha and
/// Goebel 2007, rated 2 Ah) gave 1.8565 Ah at first and 1.3251 Ah after 168 runs. One lithium-ion cell; taken for all kinds.
const AGED: f64 = 0.66;
/// A new lithium-ion pack gives up to this many times its printed charge: chosen by the simulated cells that ship, of which
/// Ai2020 gives 1.05.
const NEW: f64 = 1.10;

/// A range of charge, in ampere hours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Given {
    /// The foot; zero where only a top is known.
    pub low_ah: f64,
    /// The expected charge, where more is known than the two ends.
    pub expected_ah: Option<f64>,
    /// The top.
    pub high_ah: f64,
    /// Where the figures come from.
    pub source: &'static str,
    /// The worth of the range.
    pub worth: Worth,
}

impl Given {
    /// Returns the expected charge, else the middle of the range on a logarithmic scale; `None` where it has no foot.
    pub fn middle_ah(&self) -> Option<f64> {
        let middle = || (self.low_ah > 0.0).then(|| (self.low_ah * self.high_ah).sqrt());
        self.expected_ah.or_else(middle)
    }
}

/// Returns the charge of one battery of a kind at a current in amperes. `printed_ah` is the charge printed on it, which only for
/// rechargeable kinds holds for a current this large.
///
/// Each range gives its worth. `None` where no figure is known.
pub fn given(kind: Kind, current_a: f64, printed_ah: Option<f64>) -> Option<Given> {
    let printed = printed_ah.map(|ah| Size {
        ah: Span::new(ah, ah),
        source: "the charge in the build sheet, less what an aged cell lost",
    });
    match kind.gives() {
        Gives::AsTested => Some(alkaline(current_a)),
        Gives::AtMost {
            high_ah,
            from_a,
            source,
        } => (current_a >= from_a).then_some(Given {
            low_ah: 0.0,
            expected_ah: None,
            high_ah,
            source,
            worth: Worth::TopOnly,
        }),
        Gives::Printed { size } => printed.or(size).map(aged),
        Gives::Size(size) => Some(aged(size)),
        Gives::LithiumIon { size } => {
            let aged = aged(printed.unwrap_or(size));
            Some(Given {
                high_ah: NEW * aged.high_ah,
                worth: Worth::Replayed {
                    held: replayed_lithium_ion(),
                    on: "simulated runs of new packs",
                },
                ..aged
            })
        }
    }
}

/// Returns the range from the sure charge of an aged one to the charge of a new one.
const fn aged(size: Size) -> Given {
    Given {
        low_ah: AGED * size.ah.low,
        expected_ah: None,
        high_ah: size.ah.high,
        source: size.source,
        worth: Worth::Span,
    }
}

/// Returns the charge of a battery by its own full runs. It is the last run's, as far off as its runs were from those before. It
/// is moved to another current by Peukert's law where its runs give one. `None` without a full run of known charge.
pub fn given_by(book: &Logbook, current_a: f64) -> Option<Given> {
    let full: Vec<&Entry> = book
        .entries
        .iter()
        .filter(|entry| entry.full_ah().is_some())
        .collect();
    let charges_ah: Vec<f64> = full.iter().filter_map(|entry| entry.full_ah()).collect();
    let (low_ah, expected_ah, high_ah) = last_run::band(&charges_ah)?;
    let last_a = full.last().and_then(|entry| entry.current_a);
    let moved = book.peukert().zip(last_a).and_then(|(law, last_a)| {
        Some(law.charge_ah(current_a).ok()? / law.charge_ah(last_a).ok()?)
    });
    let share = moved.unwrap_or(1.0);
    Some(Given {
        low_ah: share * low_ah,
        expected_ah: Some(share * expected_ah),
        high_ah: share * high_ah,
        source: if moved.is_some() {
            "its own full runs, moved to this current by Peukert's law between them"
        } else {
            "its own full runs, at the current that they were made at"
        },
        worth: Worth::OwnRuns(charges_ah.len()),
    })
}

/// Returns how often the range of a printed charge holds the charge of a simulated lithium-ion run of that charge; no range rests
/// on one.
pub fn replayed_lithium_ion() -> Held {
    let sure_ah = AGED * LI_ION_RATED_AH;
    let runs = shipped::finished(Kind::LiIon2s);
    Held::count(runs.iter().map(|run| {
        let mean_a = curve::mean_current_a(&run.samples).unwrap_or(0.0);
        (sure_ah..=NEW * LI_ION_RATED_AH).contains(&(mean_a * run.run_s / 3600.0))
    }))
}

fn alkaline(current_a: f64) -> Given {
    let [least_a, .., most_a] = TESTED_A;
    let at_a = current_a.clamp(least_a, most_a);
    let given_ah = another_type(&ALKALINE_AH.map(|tested_ah| between(tested_ah, at_a)));
    if current_a > most_a {
        return Given {
            low_ah: 0.0,
            expected_ah: None,
            high_ah: given_ah.high,
            source: "five types in a vendor's published test gave 90 to 300 mAh at 1 A; no figure at more",
            worth: Worth::TopOnly,
        };
    }
    let is_tested = current_a >= least_a;
    Given {
        low_ah: given_ah.low,
        expected_ah: Some(middle_type(at_a)),
        high_ah: if is_tested {
            given_ah.high
        } else {
            ALKALINE_LIGHT_AH
        },
        source: if is_tested {
            "five types in a vendor's published test at 0.1, 0.5 and 1 A, followed to 0.1 V: where nine of ten types are \
             expected, the foot lowered to 0.6 of the least"
        } else {
            "from 0.6 of the least of five types in a vendor's published test at 0.1 A to what the size gives at a light \
             drain (encyclopaedia table)"
        },
        worth: if is_tested {
            Worth::Replayed {
                held: replayed_types(),
                on: "figures of those types, each from the types unlike it",
            }
        } else {
            Worth::Span
        },
    }
}

/// Returns the middle of the tested types, half lowered as the foot is, in ampere hours.
fn middle_type(current_a: f64) -> f64 {
    let (mean, _) = log_spread(&ALKALINE_AH.map(|tested_ah| between(tested_ah, current_a)));
    TO_THE_END_POINT.sqrt() * mean.exp()
}

/// Returns the charge of one more type where these types gave theirs, in ampere hours.
///
/// The 90 % prediction interval of one more value of a log-normal sample, exp(m ± t s √(1 + 1/n)), a textbook formula. Its foot
/// is lowered to [`TO_THE_END_POINT`] of the least type, its top is no more than the size gives at a light drain.
fn another_type(tested_ah: &[f64]) -> Span {
    let (mean, deviation) = log_spread(tested_ah);
    let count = tested_ah.len() as f64;
    let half = student(count - 1.0) * deviation * (1.0 + 1.0 / count).sqrt();
    let least_ah = tested_ah.iter().copied().fold(f64::INFINITY, f64::min);
    Span::new(
        (mean - half).exp().min(TO_THE_END_POINT * least_ah),
        (mean + half).exp().min(ALKALINE_LIGHT_AH),
    )
}

/// Returns Student's t that 5 % lie above.
fn student(degrees: f64) -> f64 {
    StudentsT::new(0.0, 1.0, degrees).map_or(f64::INFINITY, |student| student.inverse_cdf(0.95))
}

/// Returns the mean and standard deviation of the logarithms.
fn log_spread(amounts: &[f64]) -> (f64, f64) {
    let count = amounts.len() as f64;
    let logs: Vec<f64> = amounts.iter().map(|amount| amount.ln()).collect();
    let mean = logs.iter().sum::<f64>() / count;
    let squares: f64 = logs.iter().map(|log| (log - mean).powi(2)).sum();
    (mean, (squares / (count - 1.0)).sqrt())
}

/// Returns the tested types whose figures differ from these.
fn unlike(tested_ah: &[f64; 3]) -> impl Iterator<Item = &'static [f64; 3]> {
    let differs = move |other: &&[f64; 3]| {
        let mut pairs = other.iter().zip(tested_ah);
        pairs.any(|(one, other)| (one - other).abs() > 1e-9)
    };
    ALKALINE_AH.iter().filter(differs)
}

/// Returns how often the range for one more type holds a tested type at a tested current. The range is by the types whose figures
/// differ from its own: two of the page's five have the same.
pub fn replayed_types() -> Held {
    let of_current = |place: usize| {
        ALKALINE_AH.iter().map(move |tested_ah| {
            let others: Vec<f64> = unlike(tested_ah).map(|other| other[place]).collect();
            another_type(&others).contains(tested_ah[place])
        })
    };
    Held::count((0..TESTED_A.len()).flat_map(of_current))
}

/// Returns the charge of one type between the tested currents, by Peukert's law through the two neighbours.
fn between(tested_ah: [f64; 3], current_a: f64) -> f64 {
    let at = usize::from(current_a > TESTED_A[1]);
    let law = Peukert::through(
        (TESTED_A[at], tested_ah[at]),
        (TESTED_A[at + 1], tested_ah[at + 1]),
    );
    law.and_then(|law| law.charge_ah(current_a).ok())
        .unwrap_or(tested_ah[at])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The vendor's page read at 300 mA by Peukert's law: 206 to 364 mAh, 41 to 73 minutes (own arithmetic on its figures).
    #[test]
    fn alkaline_types_between_the_tested_currents_are_those_of_the_page() {
        let given = given(Kind::Alkaline, 0.3, None).unwrap();
        assert!(
            (given.low_ah / TO_THE_END_POINT - 0.206).abs() < 0.0005,
            "{given:?}"
        );
        let most_ah = ALKALINE_AH
            .map(|tested_ah| between(tested_ah, 0.3))
            .into_iter()
            .fold(0.0, f64::max);
        assert!((most_ah - 0.364).abs() < 0.001, "{most_ah}");
        assert!((60.0 * most_ah / 0.3 - 73.0).abs() < 0.5);
        assert!(given.high_ah > most_ah, "{given:?}");
        for (at, current_a) in TESTED_A.into_iter().enumerate() {
            let of_types = ALKALINE_AH.map(|tested_ah| between(tested_ah, current_a));
            let printed = ALKALINE_AH.map(|tested_ah| tested_ah[at]);
            for (got, expected) in of_types.iter().zip(printed) {
                assert!((got - expected).abs() < 1e-9);
            }
        }
    }

    /// A fact of the trade, common practice without a source: a fresh alkaline one runs for 20 to 50 minutes, at 0.35 A. The
    /// foot was chosen by it, so that its line checks that choice alone; the middle and the top rest on the page.
    #[test]
    fn the_trades_running_time_of_an_alkaline_one_lies_in_the_range() {
        let given = given(Kind::Alkaline, 0.35, None).unwrap();
        let minutes = |charge_ah: f64| 60.0 * charge_ah / 0.35;
        assert!((18.0..=21.0).contains(&minutes(given.low_ah)), "{given:?}");
        assert!(minutes(given.high_ah) >= 50.0, "{given:?}");
        let middle = minutes(given.middle_ah().unwrap());
        assert!((20.0..=50.0).contains(&middle), "{middle}");
    }

    /// NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.2 (its number from memory, the digits from a reprint),
    /// column 0.95, printed to three decimals.
    #[test]
    fn students_t_is_that_of_the_printed_table() {
        for (degrees, printed) in [(2.0, 2.920), (3.0, 2.353), (4.0, 2.132)] {
            assert!((student(degrees) - printed).abs() <= 0.0005, "{degrees}");
        }
    }

    /// The published page's own figures, each predicted from the types unlike it: the span of the others alone, as it was before
    /// its top was widened, held 12 of the 15.
    #[test]
    fn the_range_of_another_alkaline_type_holds_each_tested_one() {
        let held = replayed_types();
        assert_eq!(held.of, 15);
        assert!(held.is_enough(), "{held:?}");
        let spanned = (0..3).flat_map(|place| {
            ALKALINE_AH.iter().map(move |tested_ah| {
                let (mut low, mut high) = (f64::INFINITY, 0.0_f64);
                for other in unlike(tested_ah) {
                    (low, high) = (low.min(other[place]), high.max(other[place]));
                }
                (TO_THE_END_POINT * low..=high).contains(&tested_ah[place])
            })
        });
        assert!(!Held::count(spanned).is_enough());
    }

    /// Simulated runs (`PyBaMM`, parameter sets Chen2020, Ai2020 and Ramadass2004, see `curves/README.md`) of a pack of 0.5 Ah.
    #[test]
    fn the_range_of_a_printed_charge_holds_the_simulated_lithium_ion_runs() {
        let held = replayed_lithium_ion();
        assert_eq!(held.of, 27);
        assert!(held.is_enough(), "{held:?}");
    }

    #[test]
    fn a_current_beyond_the_figures_has_a_top_and_no_foot() {
        assert_eq!(given(Kind::Alkaline, 1.5, None).unwrap().middle_ah(), None);
        assert_eq!(given(Kind::ZincCarbon, 0.05, None), None);
        assert_eq!(
            given(Kind::ZincCarbon, 0.3, None).unwrap().middle_ah(),
            None
        );
        let light = given(Kind::Alkaline, 0.02, None).unwrap();
        assert!((light.high_ah - 0.565).abs() < 1e-12 && light.low_ah > 0.18);
    }

    #[test]
    fn what_is_printed_counts_for_rechargeable_kinds_alone() {
        let printed = |kind| given(kind, 0.3, Some(0.2)).unwrap().high_ah;
        assert!((printed(Kind::Nimh7) - 0.2).abs() < 1e-12);
        assert!((printed(Kind::UsbConverter) - 0.335).abs() < 1e-12);
        let typical = given(Kind::Alkaline, 0.3, None).unwrap();
        assert!((printed(Kind::Alkaline) - typical.high_ah).abs() < 1e-12);
        // 1.3251 of 2 Ah in the published set.
        assert!((AGED - 1.3251_f64 / 2.0).abs() < 0.005);
    }
}
