//! Prices as the user types them, and what a run of the coil costs by them. No price is known to the program.

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
    /// What one costs.
    pub amount: f64,
    /// How many charges it lasts; 1 for one that cannot be charged.
    pub charges: f64,
}

/// Why a text is no list of prices.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PriceError {
    /// One is put together otherwise.
    #[error("\"{found}\" is no price, write prices like \"{EXAMPLE}\"")]
    Form {
        /// The text.
        found: String,
    },
    /// The kind is not known.
    #[error(
        "price \"{found}\": \"{word}\" is no kind of battery, nimh, {} are",
        words()
    )]
    Kind {
        /// The text.
        found: String,
        /// What stands for the kind.
        word: String,
    },
    /// The price or the number of charges is not a number above zero.
    #[error("price \"{found}\": \"{number}\" is not a number above 0")]
    Number {
        /// The text.
        found: String,
        /// What stands for the number.
        number: String,
    },
    /// A rechargeable one without the number of its charges.
    #[error("price \"{found}\": how many charges it lasts is wanted, like \"{found}/300\"")]
    NoCharges {
        /// The text.
        found: String,
    },
    /// Charges of a battery that must not be charged.
    #[error("price \"{found}\": this kind must not be charged, write it without \"/\"")]
    Charges {
        /// The text.
        found: String,
    },
    /// The same kind twice.
    #[error("price \"{found}\": this kind has a price already")]
    Twice {
        /// The text.
        found: String,
    },
}

fn words() -> String {
    Kind::WORDS.map(|(word, _)| word).join(", ")
}

/// Reads `"alkaline=3.50,nimh=9/300"`: what one battery costs, and how many charges a rechargeable one lasts.
///
/// # Errors
/// [`PriceError`].
pub fn parse(text: &str) -> Result<Vec<Price>, PriceError> {
    let mut prices: Vec<Price> = Vec::new();
    for one in text.split(',') {
        let found = one.trim().to_owned();
        for price in parse_one(&found)? {
            if prices.iter().any(|known| known.kind == price.kind) {
                return Err(PriceError::Twice { found });
            }
            prices.push(price);
        }
    }
    Ok(prices)
}

fn parse_one(text: &str) -> Result<Vec<Price>, PriceError> {
    let found = || text.to_owned();
    let (word, rest) = text
        .split_once('=')
        .ok_or_else(|| PriceError::Form { found: found() })?;
    let word = word.trim();
    let kinds = match Kind::of_word(word) {
        Some(kind) => vec![kind],
        None if word == NIMH => {
            let all = Kind::WORDS.into_iter().map(|(_, kind)| kind);
            all.filter(|kind| kind.is_nickel()).collect()
        }
        None => {
            return Err(PriceError::Kind {
                found: found(),
                word: word.to_owned(),
            });
        }
    };
    let number = |text: &str| {
        let number = text.trim();
        let value: Option<f64> = number.parse().ok();
        value
            .filter(|value| *value > 0.0 && value.is_finite())
            .ok_or_else(|| PriceError::Number {
                found: found(),
                number: number.to_owned(),
            })
    };
    let (amount, charges) = match rest.split_once('/') {
        Some((amount, charges)) => (number(amount)?, Some(number(charges)?)),
        None => (number(rest)?, None),
    };
    let charges = match (
        kinds.first().is_some_and(|kind| !kind.is_primary()),
        charges,
    ) {
        (true, Some(charges)) => charges,
        (true, None) => return Err(PriceError::NoCharges { found: found() }),
        (false, Some(_)) => return Err(PriceError::Charges { found: found() }),
        (false, None) => 1.0,
    };
    let of_kind = |kind| Price {
        kind,
        amount,
        charges,
    };
    Ok(kinds.into_iter().map(of_kind).collect())
}

/// What one run of an evening costs, in the money of the price.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cost {
    /// The least.
    pub low: f64,
    /// By the middle of the time that a charge lasts; `None` where that has none.
    pub middle: Option<f64>,
    /// The most; `None` where the time may be any.
    pub high: Option<f64>,
}

/// The cost of one run, all in series together; what is left is used another time. The charger and its current are left out.
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
        insta::assert_snapshot!(told("alkaline"), @r#""alkaline" is no price, write prices like "alkaline=3.50,nimh=9/300""#);
        insta::assert_snapshot!(told("lead=2"), @r#"price "lead=2": "lead" is no kind of battery, nimh, alkaline, zinc-carbon, nimh-6, nimh-7, nimh-8, li-ion-2s, lfp-2s, lfp-3s, usb-rechargeable, lithium-primary are"#);
        insta::assert_snapshot!(told("alkaline=-1"), @r#"price "alkaline=-1": "-1" is not a number above 0"#);
        insta::assert_snapshot!(told("nimh-7=9"), @r#"price "nimh-7=9": how many charges it lasts is wanted, like "nimh-7=9/300""#);
        insta::assert_snapshot!(told("alkaline=3/20"), @r#"price "alkaline=3/20": this kind must not be charged, write it without "/""#);
        insta::assert_snapshot!(told("nimh=9/300,nimh-7=8/200"), @r#"price "nimh-7=8/200": this kind has a price already"#);
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
