//! One circuit read in two situations: the doubts about it are the same in both.
//!
//! A draw whose LED glows more than the model has it does so in every situation. Somebody who calls it lit once calls the same
//! light lit again. So a second reading of a quantity is weighed by its addition to the first. Where a situation changes nothing,
//! a reading that says the same again says nothing of any cause.

use super::likelihood::{
    Compared, WRONG, compared, flat, likelihood, most_probable, normal, open_value, span,
};
use crate::diagnosis::evidence::Observation;
use crate::diagnosis::library::Library;
use crate::diagnosis::quantity::{Quantity, Reading, Row, Seen};
use crate::diagnosis::situation::Situation;

/// How well a computed change is known, one standard deviation as a share of itself (chosen: as a running circuit's figures).
const CHANGE_DOUBT: f64 = 0.3;
/// No meter shows the same twice to better than this, on a quantity's scale (chosen).
const LEAST_NOISE: f64 = 2e-3;

/// A reading of a circuit and the row that the circuit was computed to have there.
pub(super) type Of<'a> = (Reading, &'a Row);

/// Whether two rows show the same of a quantity: as computed, the situation changes nothing for it.
pub(super) fn is_same(quantity: Quantity, first: &Row, second: &Row) -> bool {
    // Whether it runs and whether it blinks decide how a quantity is read.
    [quantity, Quantity::Lamp, Quantity::Blinking]
        .into_iter()
        .all(|of| first[of.index()].to_bits() == second[of.index()].to_bits())
}

/// Returns how probable a second reading of a quantity is on a computed circuit, once the first is known.
///
/// The first is wrong with the probability that it has on this circuit; a wrong reading is wrong in the same way again. A right
/// reading has one opinion behind its words and one deviation of the model behind its numbers. That holds as far as both
/// situations are computed to show the same. The computed change itself is known within [`CHANGE_DOUBT`].
pub(super) fn again(quantity: Quantity, first: Of<'_>, second: Of<'_>) -> f64 {
    let wide = flat(quantity, second.0);
    let was_wrong = WRONG * flat(quantity, first.0) / likelihood(quantity, first.0, first.1);
    let was_wrong = was_wrong.clamp(0.0, 1.0);
    let Some((right, persists)) = parts(quantity, first, second) else {
        return likelihood(quantity, second.0, second.1);
    };
    let known = (1.0 - was_wrong) * right + was_wrong * persists;
    (1.0 - WRONG) * known + WRONG * wide
}

/// Returns the second reading's probability where the first was right, and where it was wrong; `None` where nothing joins the
/// two.
fn parts(quantity: Quantity, first: Of<'_>, second: Of<'_>) -> Option<(f64, f64)> {
    let is_same = is_same(quantity, first.1, second.1);
    match (first.0, second.0) {
        (Reading::Seen(said), Reading::Seen(says)) if said != Seen::Open && says != Seen::Open => {
            if is_same {
                let same = f64::from(u8::from(said == says));
                return Some((same, same));
            }
            words(quantity, (said, first.1), (says, second.1))
        }
        (one, other) => {
            let (one, other) = (
                on_scale(quantity, one, first.1)?,
                on_scale(quantity, other, second.1)?,
            );
            numbers(one, other, is_same)
        }
    }
}

/// Returns a reading as a number: an open circuit is one too.
fn on_scale(quantity: Quantity, reading: Reading, row: &Row) -> Option<Compared> {
    match reading {
        Reading::Value { value, tolerance } => Some(compared(quantity, value, tolerance, row)),
        Reading::Seen(Seen::Open) => Some(compared(quantity, open_value(quantity), Some(0.0), row)),
        Reading::Seen(_) => None,
    }
}

/// Two words: both have to fit one opinion.
fn words(quantity: Quantity, first: (Seen, &Row), second: (Seen, &Row)) -> Option<(f64, f64)> {
    let one = span(quantity, first.0, first.1)?;
    let other = span(quantity, second.0, second.1)?;
    let both = (one.high.min(other.high) - one.low.max(other.low)).max(0.0);
    let wide = one.width();
    let right = if wide > 0.0 { both / wide } else { 0.0 };
    // How far both situations are computed to bring the same words.
    let moved: f64 = quantity
        .form()
        .seen
        .iter()
        .filter_map(|&seen| {
            let (was, is) = (
                span(quantity, seen, first.1)?,
                span(quantity, seen, second.1)?,
            );
            Some(0.5 * (was.width() - is.width()).abs())
        })
        .sum();
    let alike = (1.0 - moved).max(0.0);
    let persists = alike * f64::from(u8::from(first.0 == second.0));
    Some((right, persists + (1.0 - alike) * other.width()))
}

/// Two numbers: a pair of normal deviations that are joined the more closely, the less the situation changes.
fn numbers(one: Compared, other: Compared, is_same: bool) -> Option<(f64, f64)> {
    let noise = one.noise.hypot(other.noise).max(LEAST_NOISE);
    let change = other.shown - one.shown;
    if is_same {
        let same = normal(other.read - one.read, noise);
        return Some((same, same));
    }
    if change.is_nan() {
        return None;
    }
    let change_doubt = CHANGE_DOUBT * change.abs();
    let least = one.doubt.min(other.doubt).max(LEAST_NOISE);
    let joined = least * least / (least * least + change_doubt * change_doubt);
    let shared = joined * one.doubt * other.doubt;
    let known = one.doubt.hypot(one.noise).max(LEAST_NOISE).powi(2);
    let mean = (one.read - one.shown) * shared / known;
    let spread = other.doubt.powi(2) + other.noise.powi(2) - shared * shared / known;
    let right = normal(
        other.read - other.shown - mean,
        spread.max(LEAST_NOISE.powi(2)).sqrt(),
    );
    let persists = normal(other.read - one.read - change, noise.hypot(change_doubt));
    Some((right, persists))
}

/// Returns the second reading that a person would most probably bring, once the first is known.
pub(super) fn most_probable_again(
    quantity: Quantity,
    first: Of<'_>,
    second: &Row,
) -> Option<Reading> {
    if is_same(quantity, first.1, second) {
        return Some(first.0);
    }
    let usual = most_probable(quantity, second)?;
    let (Reading::Seen(_), Reading::Seen(_)) = (first.0, usual) else {
        return Some(usual);
    };
    let p = |seen: Seen| again(quantity, first, (Reading::Seen(seen), second));
    let words = quantity.form().seen.iter().copied();
    words
        .max_by(|a, b| p(*a).total_cmp(&p(*b)))
        .map(Reading::Seen)
}

/// A reading on all draws of a cause, with the one of the same quantity before it, if there is one.
#[derive(Debug, Clone, Copy)]
pub(super) struct Read<'a> {
    pub(super) seen: &'a Observation,
    rows: &'a [Row],
    before: Option<(&'a Observation, &'a [Row])>,
}

impl<'a> Read<'a> {
    /// Creates a reading among others, of the library's fault at a place.
    pub(super) fn of(
        library: &'a Library,
        place: usize,
        seen: &'a Observation,
        all: &'a [Observation],
    ) -> Self {
        let rows = |seen: &Observation| library.rows(place, rows_of(seen.quantity, seen.situation));
        let own = rows(seen);
        Self {
            seen,
            rows: own,
            before: before(seen.quantity, seen.situation, own, all, rows),
        }
    }

    /// Returns how probable it is on a draw, with all that was read before it.
    pub(super) fn likelihood(&self, draw: usize) -> f64 {
        let Some(row) = self.rows.get(draw) else {
            return 1.0;
        };
        let quantity = self.seen.quantity;
        match self
            .before
            .and_then(|(seen, rows)| Some((seen.reading, rows.get(draw)?)))
        {
            Some(first) => again(quantity, first, (self.seen.reading, row)),
            None => likelihood(quantity, self.seen.reading, row),
        }
    }

    /// Returns how probable the one before it is on a draw.
    fn before_likelihood(&self, draw: usize) -> f64 {
        self.before
            .and_then(|(seen, rows)| Some(likelihood(seen.quantity, seen.reading, rows.get(draw)?)))
            .unwrap_or(1.0)
    }

    /// Returns the mean likelihood over draws that were equally probable at first.
    pub(super) fn mean(&self) -> f64 {
        let (sum, all) = (0..self.rows.len()).fold((0.0, 0.0), |(sum, all), draw| {
            let weight = self.before_likelihood(draw);
            (sum + weight * self.likelihood(draw), all + weight)
        });
        sum / f64::max(all, f64::MIN_POSITIVE)
    }
}

/// Returns the situation whose rows hold a quantity: readings with the battery out are the same in all.
pub(super) const fn rows_of(quantity: Quantity, situation: Situation) -> Situation {
    if quantity.is_unpowered() {
        Situation::AsFound
    } else {
        situation
    }
}

/// Returns the reading of a quantity that a reading in a situation is weighed after: one of the very same circuit, else the first
/// one.
pub(super) fn before<'a>(
    quantity: Quantity,
    situation: Situation,
    own: &[Row],
    all: &'a [Observation],
    rows: impl Fn(&Observation) -> &'a [Row],
) -> Option<(&'a Observation, &'a [Row])> {
    let mut earlier: Vec<(&Observation, &[Row])> = all
        .iter()
        .filter(|known| known.quantity == quantity && known.situation < situation)
        .map(|known| (known, rows(known)))
        .collect();
    earlier.sort_by_key(|(known, _)| known.situation);
    let same = earlier
        .iter()
        .find(|(_, rows)| std::ptr::eq(rows.as_ptr(), own.as_ptr()));
    same.or_else(|| earlier.first()).copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnosis::quantity::NOTHING;

    fn row(pairs: &[(Quantity, f32)]) -> Row {
        let mut row = NOTHING;
        for (quantity, value) in pairs {
            row[quantity.index()] = *value;
        }
        row
    }

    fn runs(supply_a: f32, led_a: f32) -> Row {
        row(&[
            (Quantity::Current, supply_a),
            (Quantity::Led, led_a),
            (Quantity::Lamp, 900.0),
        ])
    }

    #[test]
    fn what_is_read_again_on_an_unchanged_circuit_favours_no_cause() {
        // One circuit that shows the readings, one that hardly does, one that does not.
        let rows = [
            runs(0.3, 5e-3),
            runs(0.24, 1e-3),
            row(&[(Quantity::Current, 0.04), (Quantity::Led, 0.0)]),
        ];
        for (quantity, reading) in [
            (Quantity::Led, Reading::Seen(Seen::Lit)),
            (Quantity::Current, Reading::value(0.3)),
        ] {
            let of = |row: &Row| again(quantity, (reading, row), (reading, row));
            let known = of(&rows[0]);
            for row in &rows {
                assert!((of(row) / known - 1.0).abs() < 1e-9, "{quantity:?}");
                assert!(
                    likelihood(quantity, reading, row) <= likelihood(quantity, reading, &rows[0])
                );
            }
        }
        // Another word of the same circuit is a misreading, on each of them alike.
        let lit = Reading::Seen(Seen::Lit);
        let dark = |row: &Row| again(Quantity::Led, (lit, row), (Reading::Seen(Seen::Dark), row));
        assert!(dark(&rows[0]) < 0.01 && (dark(&rows[0]) / dark(&rows[2]) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn of_two_numbers_the_change_counts_and_not_what_the_model_is_off_in_both() {
        // Read a third below the model both times: as found 0.3 A for 0.45, then 0.2 A where a load takes a third.
        let (found, changed) = (runs(0.45, 5e-3), runs(0.30, 5e-3));
        let at = |second: f64| {
            again(
                Quantity::Current,
                (Reading::value(0.30), &found),
                (Reading::value(second), &changed),
            )
        };
        assert!(at(0.2) > 3.0 * at(0.3), "{} {}", at(0.2), at(0.3));
        // By themselves the readings say the contrary.
        let alone = |second| likelihood(Quantity::Current, Reading::value(second), &changed);
        assert!(alone(0.3) > alone(0.2));
    }

    #[test]
    fn a_word_that_follows_from_the_first_is_sure_and_one_that_a_change_brings_is_as_probable_as_it_was()
     {
        let lit = Reading::Seen(Seen::Lit);
        let dark = Reading::Seen(Seen::Dark);
        // A little more current than before: lit before, so lit now.
        let (found, more) = (runs(0.3, 1.6e-3), runs(0.3, 1.8e-3));
        let after = again(Quantity::Led, (lit, &found), (lit, &more));
        assert!(after > 0.97, "{after}");
        assert!(likelihood(Quantity::Led, lit, &more) < 0.8);
        // From a circuit at rest to a running one nothing is known beforehand.
        let rest = row(&[(Quantity::Led, 0.0), (Quantity::Lamp, 0.0)]);
        let swapped = again(Quantity::Led, (dark, &rest), (lit, &found));
        let alone = likelihood(Quantity::Led, lit, &found);
        assert!((swapped / alone - 1.0).abs() < 0.05, "{swapped} {alone}");
    }

    #[test]
    fn all_words_together_are_sure_after_any_word() {
        let rows = [
            runs(0.3, 1.6e-3),
            runs(0.3, 0.3e-3),
            row(&[(Quantity::Led, 0.0), (Quantity::Lamp, 0.0)]),
        ];
        let words = Quantity::Led.form().seen;
        for first in &rows {
            for second in &rows {
                for said in words {
                    let of = |seen: &Seen| {
                        let first = (Reading::Seen(*said), first);
                        again(Quantity::Led, first, (Reading::Seen(*seen), second))
                    };
                    let sum: f64 = words.iter().map(of).sum();
                    assert!((sum - 1.0).abs() < 1e-9, "{said:?}: {sum}");
                }
            }
        }
    }
}
