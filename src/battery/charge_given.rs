//! The charge that a kind of battery gives at a current, from published figures, as a range.

use super::kind::Kind;
use super::last_run;
use super::logbook::{Entry, Logbook};
use super::peukert::Peukert;

/// Currents of a vendor's published discharge-test page, in ampere.
const TESTED_A: [f64; 3] = [0.1, 0.5, 1.0];
/// What five alkaline types of the size gave there, in ampere hour, followed to 0.1 V.
const ALKALINE_AH: [[f64; 3]; 5] = [
    [0.31, 0.17, 0.09],
    [0.31, 0.17, 0.09],
    [0.45, 0.33, 0.23],
    [0.49, 0.28, 0.30],
    [0.44, 0.29, 0.14],
];
/// The page followed its batteries to 0.1 V, so that its figures are the most a resonator gets. The foot of the range is
/// this share of them; chosen so that at 0.35 A it comes down to the trade's 20 minutes (common practice, no source).
const TO_THE_END_POINT: f64 = 0.6;
/// What an alkaline one gives at some 15 mA, in ampere hour: the encyclopaedia's table of the size.
const ALKALINE_LIGHT_AH: f64 = 0.565;
/// What the one zinc-carbon type of the vendor's page gave at 100 mA, in ampere hour.
const ZINC_CARBON_AH: f64 = 0.052;
/// Share of its printed charge that a rechargeable one is sure to give here: cell B0005 of the published ageing set (Saha and
/// Goebel 2007, rated 2 Ah) gave 1.8565 Ah at first and 1.3251 Ah after 168 runs. One lithium-ion cell; taken for all kinds.
const AGED: f64 = 0.66;

/// A range of charge, in ampere hour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Given {
    /// The foot; zero where only a top is known.
    pub low_ah: f64,
    /// What to expect, where more is known than the two ends.
    pub expected_ah: Option<f64>,
    /// The top.
    pub high_ah: f64,
    /// Where the figures come from.
    pub source: &'static str,
}

impl Given {
    /// What to expect, else the middle of the range on a logarithmic scale; `None` where it has no foot.
    pub fn middle_ah(&self) -> Option<f64> {
        let middle = || (self.low_ah > 0.0).then(|| (self.low_ah * self.high_ah).sqrt());
        self.expected_ah.or_else(middle)
    }
}

/// The charge of one battery of a kind at a current in ampere; `printed_ah` is what stands on it, which only for rechargeable
/// kinds tells something of a current this large.
///
/// Ranges, not 90 % bands: they hold what the published figures span. `None` where no figure is known.
pub fn given(kind: Kind, current_a: f64, printed_ah: Option<f64>) -> Option<Given> {
    match kind {
        Kind::Alkaline => Some(alkaline(current_a)),
        Kind::ZincCarbon => (current_a >= TESTED_A[0]).then_some(Given {
            low_ah: 0.0,
            expected_ah: None,
            high_ah: ZINC_CARBON_AH,
            source: "one type in a vendor's published test gave 52 mAh at 100 mA; no figure at more",
        }),
        Kind::LithiumPrimary => Some(Given {
            low_ah: 0.0,
            expected_ah: None,
            high_ah: 1.2,
            source: "about 1200 mAh at a low drain (encyclopaedia table of the size); no figure at more",
        }),
        Kind::Nimh6 | Kind::Nimh7 | Kind::Nimh8 | Kind::LiIon2s | Kind::UsbConverter => {
            Some(rechargeable(kind, printed_ah))
        }
    }
}

/// The charge of a battery by its own full runs: the last, as far off as its runs were from those before, moved to another
/// current by Peukert's law where its runs tell one. `None` without a full run of known charge.
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
    })
}

fn rechargeable(kind: Kind, printed_ah: Option<f64>) -> Given {
    let (low_ah, high_ah, source) = match (printed_ah, kind) {
        // What a converter costs is not on the label, and the label often counts the cells inside.
        (Some(printed_ah), kind) if kind != Kind::UsbConverter => (
            printed_ah,
            printed_ah,
            "the charge in the build sheet, less what an aged cell lost",
        ),
        (_, Kind::LiIon2s) => (
            0.52,
            0.52,
            "about 520 mAh (encyclopaedia table of the size), less what an aged cell lost",
        ),
        (_, Kind::UsbConverter) => (
            0.335,
            0.335,
            "3.55 Wh in a published teardown through a converter taken to give 85 %, less what an aged cell lost",
        ),
        _ => (
            0.175,
            0.3,
            "175 to 300 mAh (encyclopaedia table of the size), less what an aged cell lost",
        ),
    };
    Given {
        low_ah: AGED * low_ah,
        expected_ah: None,
        high_ah,
        source,
    }
}

fn alkaline(current_a: f64) -> Given {
    let [least_a, .., most_a] = TESTED_A;
    let (mut low_ah, mut high_ah) = (f64::INFINITY, 0.0_f64);
    for tested_ah in ALKALINE_AH {
        let charge_ah = between(tested_ah, current_a.clamp(least_a, most_a));
        low_ah = low_ah.min(charge_ah);
        high_ah = high_ah.max(charge_ah);
    }
    low_ah *= TO_THE_END_POINT;
    if current_a > most_a {
        return Given {
            low_ah: 0.0,
            expected_ah: None,
            high_ah,
            source: "five types in a vendor's published test gave 90 to 300 mAh at 1 A; no figure at more",
        };
    }
    Given {
        low_ah,
        expected_ah: None,
        high_ah: if current_a < least_a {
            ALKALINE_LIGHT_AH
        } else {
            high_ah
        },
        source: "five types in a vendor's published test at 0.1, 0.5 and 1 A, followed to 0.1 V; foot lowered to 0.6 of it",
    }
}

/// Charge of one type between the tested currents, by Peukert's law through the two neighbours.
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
        assert!((given.high_ah - 0.364).abs() < 0.001, "{given:?}");
        assert!((60.0 * given.high_ah / 0.3 - 73.0).abs() < 0.5);
        for (at, current_a) in TESTED_A.into_iter().enumerate() {
            let of_types = ALKALINE_AH.map(|tested_ah| between(tested_ah, current_a));
            let printed = ALKALINE_AH.map(|tested_ah| tested_ah[at]);
            for (got, expected) in of_types.iter().zip(printed) {
                assert!((got - expected).abs() < 1e-9);
            }
        }
    }

    /// A fact of the trade, common practice without a source: a fresh alkaline one runs for 20 to 50 minutes, at 0.35 A.
    #[test]
    fn the_trades_running_time_of_an_alkaline_one_lies_in_the_range() {
        let given = given(Kind::Alkaline, 0.35, None).unwrap();
        let minutes = |charge_ah: f64| 60.0 * charge_ah / 0.35;
        assert!((18.0..=21.0).contains(&minutes(given.low_ah)), "{given:?}");
        assert!(minutes(given.high_ah) >= 50.0, "{given:?}");
        let middle = minutes(given.middle_ah().unwrap());
        assert!((20.0..=50.0).contains(&middle), "{middle}");
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
        assert!((printed(Kind::Alkaline) - 0.364).abs() < 0.001);
        // 1.3251 of 2 Ah in the published set.
        assert!((AGED - 1.3251_f64 / 2.0).abs() < 0.005);
    }
}
