//! The discharge curves that ship with the program, for a battery that has no run of its own yet.
//!
//! None of them is measured: the lithium-ion ones are simulated, the alkaline-like ones synthetic (`curves/README.md`).

use super::curve::Sample;
use super::finished::{Finished, Start};
use super::kind::Kind;

/// A curve that ships with the program.
#[derive(Debug, Clone, Copy)]
pub struct Shipped {
    /// Its name; of a lithium cell its load and rate.
    pub name: &'static str,
    /// The kind of battery.
    pub kind: Kind,
    /// The words that a result based on it must carry.
    pub label: &'static str,
    /// The cell or the formula that it comes from: a back-test leaves all curves of one out together.
    pub cell: &'static str,
    /// Runs of one load rate carry the same word.
    pub rate: &'static str,
    /// Where it ends, in volts.
    pub end_v: f64,
    /// How it began.
    pub start: Start,
    text: &'static str,
}

macro_rules! lithium {
    ($kind:ident, $label:literal, $cell:literal, $load:literal, $rate:literal, $end_v:literal, $file:literal) => {
        Shipped {
            name: concat!($load, "_", $rate),
            kind: Kind::$kind,
            label: $label,
            cell: $cell,
            rate: $rate,
            end_v: $end_v,
            start: Start::Full,
            text: include_str!(concat!(
                "curves/",
                $file,
                "_",
                $load,
                "_",
                $rate,
                "_start100.csv"
            )),
        }
    };
}

macro_rules! cell {
    ($name:ident, $kind:ident, $label:literal, $cell:literal, $end_v:literal, $file:literal) => {
        const $name: [Shipped; 9] = [
            lithium!($kind, $label, $cell, "current", "0.25C", $end_v, $file),
            lithium!($kind, $label, $cell, "current", "0.5C", $end_v, $file),
            lithium!($kind, $label, $cell, "current", "1.0C", $end_v, $file),
            lithium!($kind, $label, $cell, "power", "0.25C", $end_v, $file),
            lithium!($kind, $label, $cell, "power", "0.5C", $end_v, $file),
            lithium!($kind, $label, $cell, "power", "1.0C", $end_v, $file),
            lithium!($kind, $label, $cell, "resistance", "0.25C", $end_v, $file),
            lithium!($kind, $label, $cell, "resistance", "0.5C", $end_v, $file),
            lithium!($kind, $label, $cell, "resistance", "1.0C", $end_v, $file),
        ];
    };
}

cell!(
    CHEN,
    LiIon2s,
    "simulated lithium-ion curves",
    "Chen2020",
    6.0,
    "li2s_chen"
);
cell!(
    AI,
    LiIon2s,
    "simulated lithium-ion curves",
    "Ai2020",
    6.0,
    "li2s_ai"
);
cell!(
    RAMADASS,
    LiIon2s,
    "simulated lithium-ion curves",
    "Ramadass2004",
    6.0,
    "li2s_ramadass"
);
cell!(
    PRADA,
    Lfp2s,
    "simulated iron-phosphate curves",
    "Prada2013",
    5.0,
    "lfp2s_prada"
);

macro_rules! alkaline {
    ($name:literal, $start:ident) => {
        Shipped {
            name: $name,
            kind: Kind::Alkaline,
            label: "synthetic alkaline-like curves",
            cell: $name,
            rate: $name,
            end_v: 5.4,
            start: Start::$start,
            text: include_str!(concat!("curves/", $name, ".csv")),
        }
    };
}

const ALKALINE: [Shipped; 8] = [
    alkaline!("alklike_0", Unknown),
    alkaline!("alklike_1", Full),
    alkaline!("alklike_2", Unknown),
    alkaline!("alklike_3", Unknown),
    alkaline!("alklike_4", Full),
    alkaline!("alklike_5", Full),
    alkaline!("alklike_6", Full),
    alkaline!("alklike_7", Full),
];

/// Returns all of them.
pub fn all() -> impl Iterator<Item = &'static Shipped> {
    const CELLS: [&[Shipped]; 5] = [&CHEN, &AI, &RAMADASS, &PRADA, &ALKALINE];
    CELLS.into_iter().flatten()
}

/// Charge of the simulated lithium-ion pack that its load rates refer to, in ampere hours.
pub const LI_ION_RATED_AH: f64 = 0.5;
/// The share that the part-used ones among [`trials`] had spent before.
const SPENT_BEFORE: f64 = 0.2;

impl Shipped {
    /// Returns its samples; a line that is no sample is left out, which a test forbids.
    pub fn samples(&self) -> Vec<Sample> {
        self.text
            .lines()
            .skip(1)
            .filter_map(|line| {
                let mut numbers = line.split(',').map(str::parse);
                Some(Sample {
                    running_s: numbers.next()?.ok()?,
                    volts_v: numbers.next()?.ok()?,
                    current_a: Some(numbers.next()?.ok()?),
                })
            })
            .collect()
    }
}

/// Returns the curves of a kind as finished runs; empty where none ships. Some of the alkaline-like ones began part-used.
pub fn finished(kind: Kind) -> Vec<Finished> {
    all()
        .filter(|one| one.kind == kind)
        .map(|one| {
            let samples = one.samples();
            Finished {
                run_s: samples.last().map_or(0.0, |last| last.running_s),
                samples,
                end_v: one.end_v,
                start: one.start,
                group: one.cell.to_owned(),
            }
        })
        .collect()
}

/// Runs to try forecasts on: of each cell one at each load rate, begun full and at four fifths.
pub fn trials(kind: Kind) -> Vec<Finished> {
    let finished = finished(kind);
    let chosen = all().filter(|one| one.kind == kind).zip(&finished);
    let chosen = chosen.filter(|(one, _)| {
        let load = match one.rate {
            "0.25C" => "current",
            "0.5C" => "resistance",
            "1.0C" => "power",
            _ => return true,
        };
        one.name.contains(load)
    });
    let chosen: Vec<&Finished> = chosen.map(|(_, run)| run).collect();
    let late = chosen
        .iter()
        .filter(|run| run.start == Start::Full)
        .map(|run| run.begun_late(SPENT_BEFORE));
    chosen
        .iter()
        .map(|run| (*run).clone())
        .chain(late)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_of_every_curve_is_a_sample() {
        for one in all() {
            assert_eq!(one.samples().len(), 121, "{}", one.name);
            assert_eq!(one.text.lines().count(), 122, "{}", one.name);
        }
    }
}
