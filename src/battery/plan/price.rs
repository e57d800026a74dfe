//! Prices as the user types them, and the cost of a run of the coil by them. No price is known to the program.

use super::evening::Evening;
use crate::battery::kind::Kind;
use crate::battery::plan::Plan;

/// How prices are written.
const EXAMPLE: &str = "alkaline=3.50,nimh=9/300";
/// Stands for the three nickel-metal kinds.
const NIMH: &str = "nimh";

/// The price of one battery, in the user's own money.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Price {
    /// Of which kind.
    pub kind: Kind,
    /// The price of one.
    pub amount: f64,
    /// How many charges it lasts; 1 for one that cannot be charged.
    pub charges: f64,
}

/// Why a text is no list of prices.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PriceError {
    /// Another form, kind or number than there is, or a kind that has a price already.
    #[error("\"{found}\" is no price, write each kind once like \"{EXAMPLE}\"")]
    Form {
        /// The text.
        found: String,
    },
    /// A rechargeable one without the number of its charges.
    #[error("price \"{found}\": expected the number of charges it lasts, such as \"{found}/300\"")]
    NoCharges {
        /// The text.
        found: String,
    },
}

/// Reads `"alkaline=3.50,nimh=9/300"`: the price of one battery, and the number of charges that a rechargeable one lasts.
///
/// # Errors
/// [`PriceError`].
pub fn parse(text: &str) -> Result<Vec<Price>, PriceError> {
    let mut prices: Vec<Price> = Vec::new();
    for one in text.split(',') {
        let found = one.trim();
        let form = || PriceError::Form {
            found: found.to_owned(),
        };
        let (word, rest) = found.split_once('=').ok_or_else(form)?;
        let (amount, charges) = match rest.split_once('/') {
            Some((amount, charges)) => (amount, Some(number(charges).ok_or_else(form)?)),
            None => (rest, None),
        };
        let amount = number(amount).ok_or_else(form)?;
        let kinds = kinds(word.trim());
        let first = *kinds.first().ok_or_else(form)?;
        let charges = match (first.is_primary(), charges) {
            (true, None) => 1.0,
            (false, Some(charges)) => charges,
            (true, Some(_)) => return Err(form()),
            (false, None) => {
                return Err(PriceError::NoCharges {
                    found: found.to_owned(),
                });
            }
        };
        if prices.iter().any(|known| kinds.contains(&known.kind)) {
            return Err(form());
        }
        let of_kind = |kind| Price {
            kind,
            amount,
            charges,
        };
        prices.extend(kinds.into_iter().map(of_kind));
    }
    Ok(prices)
}

/// Returns the kinds that a word stands for.
fn kinds(word: &str) -> Vec<Kind> {
    let all = Kind::WORDS.into_iter();
    all.filter(|(name, kind)| *name == word || (word == NIMH && kind.is_nickel()))
        .map(|(_, kind)| kind)
        .collect()
}

/// Returns a number above 0.
fn number(text: &str) -> Option<f64> {
    let number: f64 = text.trim().parse().ok()?;
    (number > 0.0 && number.is_finite()).then_some(number)
}

/// The cost of one run of an evening, in the money of the price.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cost {
    /// The least.
    pub low: f64,
    /// By the middle of the time that a charge lasts; `None` where that has none.
    pub middle: Option<f64>,
    /// The most; `None` where the time may be any.
    pub high: Option<f64>,
}

/// Returns the cost of one run, all in series together; the rest of the charge is used another time. The charger and its current
/// are left out.
pub fn cost_per_run(plan: &Plan, evening: &Evening, series: u32, price: &Price) -> Option<Cost> {
    let per_charge = f64::from(series) * price.amount / price.charges;
    let cost = |running_s: f64| per_charge * evening.run_s / running_s;
    plan.running_s
        .filter(|range| range.high > 0.0)
        .map(|range| Cost {
            low: cost(range.high),
            middle: range.middle.map(cost),
            high: Some(range.low).filter(|low_s| *low_s > 0.0).map(cost),
        })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::plan::charge::Load;
    use crate::battery::plan::{OfSheet, Supply};

    #[test]
    fn prices_are_read_and_nimh_stands_for_its_three_kinds() {
        let prices = parse("alkaline=3.50, nimh=9/300").unwrap();
        let kinds: Vec<Kind> = prices.iter().map(|price| price.kind).collect();
        assert_eq!(
            kinds,
            [Kind::Alkaline, Kind::Nimh6, Kind::Nimh7, Kind::Nimh8]
        );
        assert!((prices[0].amount - 3.5).abs() < 1e-12);
        assert!((prices[3].charges - 300.0).abs() < 1e-12);
    }

    #[test]
    fn each_slip_is_told() {
        let told = |text| parse(text).unwrap_err().to_string();
        insta::assert_snapshot!(told("lead=2"), @r#""lead=2" is no price, write each kind once like "alkaline=3.50,nimh=9/300""#);
        insta::assert_snapshot!(told("nimh-7=9"), @r#"price "nimh-7=9": expected the number of charges it lasts, such as "nimh-7=9/300""#);
        for slip in [
            "alkaline",
            "alkaline=-1",
            "alkaline=3/20",
            "nimh=9/300,nimh-7=8/200",
        ] {
            assert!(told(slip).contains("is no price"), "{slip}");
        }
    }

    /// Own arithmetic: 335 mAh at 0.3 A are 67 minutes, so that a run of 6 minutes takes 6/67 of a charge.
    #[test]
    fn a_run_costs_its_part_of_a_charge() {
        let evening = Evening::parse("4 x 6min every 15min").unwrap();
        let supply = Supply::Typed(Load::Current(0.3));
        let sheet = OfSheet {
            kind: Kind::Alkaline,
            series: 2,
            printed_ah: None,
        };
        let plan = |kind| Plan::of(kind, &evening, &supply, &sheet);
        let price = parse("usb-rechargeable=10/100").unwrap()[0];
        let cost = cost_per_run(&plan(Kind::UsbConverter), &evening, 2, &price).unwrap();
        assert!((cost.low - 2.0 * 0.1 * 6.0 / 67.0).abs() < 1e-12);
        assert!((cost.high.unwrap() - cost.low / 0.66).abs() < 1e-12);
        let zinc = cost_per_run(&plan(Kind::ZincCarbon), &evening, 1, &price).unwrap();
        assert_eq!((zinc.middle, zinc.high), (None, None));
    }
}
