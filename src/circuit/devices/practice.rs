//! The parts of each class as practice leaves them: sets of figures, each as probable as every other.
//!
//! The range that data sheets and model files leave open is wide, and most of it does not run at all. Builds of these classes do
//! run. So sets of figures were drawn over the whole range from the published figures to those of fast parts. Each was weighed by
//! how well a few builds, whose behaviour is common practice, then run with it. The number kept here was picked in proportion to
//! their weights. `tests/references/practice.md` has the facts, the ranges, the weights and the rest they leave; `cargo bench
//! --bench practice` computes the table anew.

use std::sync::OnceLock;

use super::diode::Diode;
use super::parts::TransistorClass;
use crate::units::Span;

/// The kept sets, a line each, from the worst to the best for starting within a class.
const TABLE: &str = include_str!("practice.csv");

/// Columns of the table, behind the class.
const COLUMNS: usize = 12;

/// The figures of one transistor, of the light-emitting diode beside it and of the coil's losses, drawn together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PartSet {
    /// Forward current gain.
    pub gain: f64,
    /// Forward transit time, in seconds.
    pub transit_s: f64,
    /// The greatest growth of the transit time where current crowds, as a ratio to it.
    pub rise_ratio: f64,
    /// The current at which that growth is a quarter of the greatest, in amperes.
    pub rise_a: f64,
    /// Depletion capacitance from base to emitter at no voltage, in farads.
    pub emitter_f: f64,
    /// Depletion capacitance from base to collector at no voltage, in farads.
    pub collector_f: f64,
    /// Reverse transit time, in seconds.
    pub reverse_transit_s: f64,
    /// Base resistance, in ohms.
    pub base_ohm: f64,
    /// Breakdown from collector to base, in volts.
    pub collector_breakdown_v: f64,
    /// Capacitance of a light-emitting diode at the base at no voltage, in farads.
    pub led_f: f64,
    /// Transit time of that diode, in seconds.
    pub led_transit_s: f64,
    /// The secondary's quality factor with its former, enamel and surroundings, where it was not measured.
    pub q: f64,
}

/// The shares of a class's sets, in their order, between which one stands for the worst, the typical and the best. They are about
/// the fourth, the fiftieth and the ninety-seventh of a hundred, for coupling and battery differ from build to build, too.
const WINDOWS: [(f64, f64); 3] = [(0.025, 0.05), (0.45, 0.55), (0.96, 0.985)];

impl PartSet {
    /// Returns the figures as a row of the table.
    pub const fn figures(&self) -> [f64; COLUMNS] {
        [
            self.gain,
            self.transit_s,
            self.rise_ratio,
            self.rise_a,
            self.emitter_f,
            self.collector_f,
            self.reverse_transit_s,
            self.base_ohm,
            self.collector_breakdown_v,
            self.led_f,
            self.led_transit_s,
            self.q,
        ]
    }

    /// Returns the set whose figures are those of a row.
    pub const fn from_figures(figures: [f64; COLUMNS]) -> Self {
        let [
            gain,
            transit_s,
            rise_ratio,
            rise_a,
            emitter_f,
            collector_f,
            reverse_transit_s,
            base_ohm,
            collector_breakdown_v,
            led_f,
            led_transit_s,
            q,
        ] = figures;
        Self {
            gain,
            transit_s,
            rise_ratio,
            rise_a,
            emitter_f,
            collector_f,
            reverse_transit_s,
            base_ohm,
            collector_breakdown_v,
            led_f,
            led_transit_s,
            q,
        }
    }

    /// Returns a light-emitting diode with this set's charges.
    pub fn led(&self, led: Diode) -> Diode {
        let mut own = led;
        own.depletion.zero_bias_f = self.led_f;
        own.transit_s = self.led_transit_s;
        own
    }

    /// Returns the set that lies nearest to the geometric average of all; `None` of no sets. It is one that was drawn: an average
    /// of sets that are poor for different reasons would be better than each of them.
    fn central(sets: &[Self]) -> Option<Self> {
        let count = sets.len() as f64;
        let logs = |set: &Self| set.figures().map(f64::ln);
        let mut average = [0.0; COLUMNS];
        for set in sets {
            for (sum, log) in average.iter_mut().zip(logs(set)) {
                *sum += log / count;
            }
        }
        let apart = |set: &Self| -> f64 {
            let pairs = logs(set).into_iter().zip(average);
            pairs.map(|(log, average)| (log - average).powi(2)).sum()
        };
        sets.iter()
            .min_by(|a, b| apart(a).total_cmp(&apart(b)))
            .copied()
    }

    /// Creates a set from the text of a row behind its class; `None` where it is not a row of positive numbers.
    fn parsed(fields: std::str::Split<'_, char>) -> Option<Self> {
        let numbers: Vec<f64> = fields
            .map(str::parse)
            .collect::<Result<_, _>>()
            .ok()
            .filter(|numbers: &Vec<f64>| numbers.iter().all(|number| *number > 0.0))?;
        numbers.try_into().ok().map(Self::from_figures)
    }
}

impl TransistorClass {
    /// Returns the class's sets of parts, each as probable as every other, from the worst to the best for starting.
    pub fn part_sets(self) -> &'static [PartSet] {
        static SETS: OnceLock<[Vec<PartSet>; 4]> = OnceLock::new();
        let all = SETS.get_or_init(|| Self::WORDS.map(|(word, _)| read(TABLE, word)));
        let place = Self::WORDS.iter().position(|(_, class)| *class == self);
        place
            .and_then(|place| all.get(place))
            .map_or(&[], Vec::as_slice)
    }

    /// Returns the fifth and the ninety-fifth of a hundred of its sets' gains, whatever else they have.
    pub fn gain_range(self) -> Span {
        let mut gains: Vec<f64> = self.part_sets().iter().map(|set| set.gain).collect();
        gains.sort_by(f64::total_cmp);
        let cut = gains.len() / 20;
        let at = |place: Option<usize>| place.and_then(|place| gains.get(place).copied());
        let low = at(Some(cut));
        let high = at(gains.len().checked_sub(cut + 1));
        Span::new(low.unwrap_or(1.0), high.unwrap_or(1.0))
    }

    /// Whether its sets are weighed by how builds run; nothing is common practice for the TO-3 class.
    pub const fn is_weighed(self) -> bool {
        !matches!(self, Self::PowerTo3)
    }

    /// Returns the set of parts at one end of the class's spread.
    pub fn part_set(self, spread: Spread) -> PartSet {
        let sets = self.part_sets();
        let (from, to) = spread.pick(WINDOWS);
        let count = sets.len() as f64;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a place in a short table"
        )]
        let place = |share: f64| (share * count).round() as usize;
        sets.get(place(from)..place(to))
            .and_then(PartSet::central)
            .unwrap_or(PartSet::from_figures([1.0; COLUMNS]))
    }
}

/// Returns the sets of the class of that name.
fn read(table: &str, word: &str) -> Vec<PartSet> {
    table
        .lines()
        .filter_map(|line| {
            let mut fields = line.split(',');
            (fields.next() == Some(word)).then(|| PartSet::parsed(fields))?
        })
        .collect()
}

/// Which end of the parts' spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Spread {
    /// Worst for starting.
    Worst,
    /// The expected case.
    Typical,
    /// Best for starting.
    Best,
}

impl Spread {
    /// From worst to best.
    pub const ALL: [Self; 3] = [Self::Worst, Self::Typical, Self::Best];

    pub(super) fn pick<T>(self, [worst, typical, best]: [T; 3]) -> T {
        match self {
            Self::Worst => worst,
            Self::Typical => typical,
            Self::Best => best,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_of_the_table_is_a_set_of_its_class_and_every_class_has_enough() {
        let lines = TABLE.lines().filter(|line| !line.starts_with('#')).count();
        let sets: usize = TransistorClass::WORDS
            .iter()
            .map(|(_, class)| class.part_sets().len())
            .sum();
        // The first line names the columns.
        assert_eq!(sets + 1, lines);
        for (word, class) in TransistorClass::WORDS {
            assert!(class.part_sets().len() >= 100, "{word}");
        }
    }

    #[test]
    fn the_set_in_the_middle_of_others_stands_for_them() {
        let sets = [2.0, 5.0, 8.0].map(|figure| PartSet::from_figures([figure; COLUMNS]));
        // By hand: the geometric average of 2, 5 and 8 is 4.31.
        assert_eq!(PartSet::central(&sets), Some(sets[1]));
        assert_eq!(PartSet::central(&[]), None);
    }

    #[test]
    fn a_row_that_is_not_whole_is_no_set() {
        assert_eq!(read("medium,1,2", "medium"), []);
        let whole = format!("medium{}", ",1".repeat(COLUMNS));
        assert_eq!(read(&whole, "medium").len(), 1);
        assert_eq!(read(&whole, "small-signal"), []);
        assert_eq!(read(&whole.replace(",1,", ",x,"), "medium"), []);
    }
}
