//! The discharge curves that ship with the program, for a battery that has no run of its own yet.
//!
//! None of them is measured: the lithium-ion ones are simulated, the alkaline-like ones synthetic (`curves/README.md`).

use super::backtest::Finished;
use super::curve::Sample;
use super::forecast::Start;
use super::kind::Kind;

/// A curve that ships with the program.
#[derive(Debug, Clone, Copy)]
pub struct Shipped {
    /// Its name.
    pub name: &'static str,
    /// The kind of battery.
    pub kind: Kind,
    /// Runs of one load rate carry the same word: a back-test leaves them out together.
    pub rate: &'static str,
    /// Where it ends, in volt.
    pub end_v: f64,
    text: &'static str,
}

macro_rules! li_ion {
    ($name:literal, $rate:literal) => {
        Shipped {
            name: $name,
            kind: Kind::LiIon2s,
            rate: $rate,
            end_v: 6.0,
            text: include_str!(concat!("curves/li2s_chen_", $name, "_start100.csv")),
        }
    };
}

macro_rules! alkaline {
    ($name:literal) => {
        Shipped {
            name: $name,
            kind: Kind::Alkaline,
            rate: $name,
            end_v: 5.4,
            text: include_str!(concat!("curves/", $name, ".csv")),
        }
    };
}

/// All of them.
pub const SHIPPED: [Shipped; 17] = [
    li_ion!("current_0.25C", "0.25C"),
    li_ion!("current_0.5C", "0.5C"),
    li_ion!("current_1.0C", "1.0C"),
    li_ion!("power_0.25C", "0.25C"),
    li_ion!("power_0.5C", "0.5C"),
    li_ion!("power_1.0C", "1.0C"),
    li_ion!("resistance_0.25C", "0.25C"),
    li_ion!("resistance_0.5C", "0.5C"),
    li_ion!("resistance_1.0C", "1.0C"),
    alkaline!("alklike_0"),
    alkaline!("alklike_1"),
    alkaline!("alklike_2"),
    alkaline!("alklike_3"),
    alkaline!("alklike_4"),
    alkaline!("alklike_5"),
    alkaline!("alklike_6"),
    alkaline!("alklike_7"),
];

/// Charge of the simulated lithium-ion pack that its load rates refer to, in ampere hour.
pub const LI_ION_RATED_AH: f64 = 0.5;

impl Shipped {
    /// What a result that rests on it must say of it.
    pub const fn label(&self) -> &'static str {
        match self.kind {
            Kind::LiIon2s => "simulated lithium-ion curves",
            _ => "synthetic alkaline-like curves",
        }
    }

    /// Its samples; a line that is no sample is left out, which a test forbids.
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

/// The curves of a kind as finished runs; empty where none ships.
///
/// The lithium-ion ones began full. Some of the alkaline-like ones began part-used, so none is said to have begun full.
pub fn finished(kind: Kind) -> Vec<Finished> {
    let start = match kind {
        Kind::LiIon2s => Start::Full,
        _ => Start::Unknown,
    };
    let of_kind = SHIPPED.iter().filter(|one| one.kind == kind);
    of_kind
        .map(|one| {
            let samples = one.samples();
            Finished {
                run_s: samples.last().map_or(0.0, |last| last.running_s),
                samples,
                end_v: one.end_v,
                start,
                group: one.rate.to_owned(),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_of_every_curve_is_a_sample() {
        for one in SHIPPED {
            assert_eq!(one.samples().len(), 121, "{}", one.name);
            assert_eq!(one.text.lines().count(), 122, "{}", one.name);
        }
    }
}
