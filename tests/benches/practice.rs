//! Computes the table of part sets anew: draws over the published and assumed ranges of each class, weighs each draw by how well
//! builds whose behaviour is common practice run with it, and picks the kept sets in proportion to the weights.
//!
//! `cargo bench --bench practice` prints the table; what the draws and the kept sets do goes to standard error.
//! `SAGTRACE_PRACTICE_DRAWS` sets another number of draws, `SAGTRACE_PRACTICE_CLASS` one class alone, for a first look.

use sagtrace::chance::Draws;
use sagtrace::circuit::Circuit;
use sagtrace::circuit::parts::TransistorClass;
use sagtrace::circuit::practice::PartSet;
use sagtrace::circuit::running::SEEN_A;
use sagtrace::circuit::wiring::CircuitSpec;
use sagtrace::coil::predict::predict;
use sagtrace::diagnosis::build::{Drawn, PLACES};
use sagtrace::diagnosis::case::Case;
use sagtrace::diagnosis::fault::fault;
use sagtrace::diagnosis::library::alone;
use sagtrace::diagnosis::quantity::Quantity;
use sagtrace::sheet::{self, Sheet};

#[path = "../common/build.rs"]
#[expect(dead_code, reason = "a bench weighs builds itself")]
mod common;

use common::on_two;

/// Sets kept of each class.
const KEPT: usize = 200;

/// The range of each figure, evenly by ratios.
struct Ranges {
    class: TransistorClass,
    word: &'static str,
    figures: [(f64, f64); 11],
    /// Whether practice takes 2 to 6 W with this class, as with the TO-220 one.
    is_power_known: bool,
    /// Whether builds with this class are common practice at all.
    is_common: bool,
    /// Number of draws: enough that their weights leave about as many as are kept.
    draws: u64,
}

/// From the published figures of each class to those of fast parts; what no source has is assumed.
///
/// In order: gain, transit time, its growth, the current of that, emitter and collector capacitance, reverse transit time, base
/// resistance, collector breakdown, the LED's capacitance and transit time. `tests/references/practice.md` has the sources.
const CLASSES: [Ranges; 4] = [
    Ranges {
        class: TransistorClass::SmallSignal,
        word: "small-signal",
        figures: [
            (75.0, 300.0),
            (0.3e-9, 0.8e-9),
            (0.05, 1.0),
            (0.1, 3.0),
            (18e-12, 30e-12),
            (7e-12, 15e-12),
            (30e-9, 80e-9),
            (3.0, 15.0),
            (75.0, 120.0),
            (15e-12, 100e-12),
            (2e-9, 30e-9),
        ],
        is_power_known: false,
        is_common: true,
        draws: 500,
    },
    Ranges {
        class: TransistorClass::Medium,
        word: "medium",
        figures: [
            (50.0, 250.0),
            (0.6e-9, 4e-9),
            (0.05, 2.0),
            (0.1, 5.0),
            (80e-12, 170e-12),
            (18e-12, 45e-12),
            (80e-9, 250e-9),
            (1.0, 6.0),
            (80.0, 150.0),
            (15e-12, 100e-12),
            (2e-9, 30e-9),
        ],
        is_power_known: false,
        is_common: true,
        draws: 500,
    },
    Ranges {
        class: TransistorClass::PowerTo220,
        word: "power-to220",
        figures: [
            (50.0, 250.0),
            // fT from 4 MHz, near the published files', to 120 MHz.
            (1.33e-9, 40e-9),
            (0.05, 4.0),
            (0.03, 30.0),
            (200e-12, 1000e-12),
            (80e-12, 500e-12),
            (0.1e-6, 1.4e-6),
            (0.1, 5.0),
            (80.0, 200.0),
            (15e-12, 100e-12),
            (2e-9, 30e-9),
        ],
        is_power_known: true,
        is_common: true,
        draws: 5000,
    },
    Ranges {
        class: TransistorClass::PowerTo3,
        word: "power-to3",
        figures: [
            (50.0, 120.0),
            (13e-9, 100e-9),
            (0.05, 1.0),
            (0.3, 30.0),
            (415e-12, 1200e-12),
            (276e-12, 1000e-12),
            (0.57e-6, 1e-6),
            (0.1, 1.0),
            (80.0, 150.0),
            (15e-12, 100e-12),
            (2e-9, 30e-9),
        ],
        is_power_known: false,
        is_common: false,
        draws: 300,
    },
];

/// A build whose behaviour is known, ready for any set of parts.
struct Known {
    circuit: Circuit,
    spec: CircuitSpec,
}

impl Known {
    fn of(text: &str, class: TransistorClass) -> Self {
        let mut sheet: Sheet = sheet::parse(text).expect("a sheet");
        sheet.circuit.transistor = class;
        let prediction = predict(&sheet.coil_spec()).expect("a prediction");
        let [_, spec, _] = sheet.circuit_sets(&prediction).expect("a circuit").specs;
        Self {
            circuit: sheet.circuit,
            spec,
        }
    }

    fn with(&self, set: &PartSet, own: &Nuisance) -> CircuitSpec {
        let mut coil = self.spec.resonator;
        coil.q = set.q;
        coil.coupling *= own.coupling;
        let mut supply = self.spec.supply;
        supply.open_v *= own.open;
        supply.battery_ohm *= own.ohm;
        let mut spec = self.circuit.spec(set, supply, self.spec.primary, coil);
        spec.transistor.emitter_breakdown_v = 7.3;
        spec
    }
}

/// What differs from one build of a kind to the next and is no part of a set.
#[derive(Clone, Copy)]
struct Nuisance {
    coupling: f64,
    open: f64,
    ohm: f64,
}

impl Nuisance {
    /// As the sheet has it.
    const NONE: Self = Self {
        coupling: 1.0,
        open: 1.0,
        ohm: 1.0,
    };
}

/// Top voltage, supply current and the LED's current of a sound circuit, or of one with a fault.
fn shows(spec: &CircuitSpec, key: Option<&str>) -> (f64, f64, f64) {
    let drawn = Drawn {
        sound: *spec,
        secondary_dc_ohm: 12.0,
        fresh_v: 9.0,
        fresh_ohm: 3.0,
        own: [0.5; 4],
        place: [0.0; PLACES],
        floats: true,
        primary_turns: 3.0,
        batteries: 1,
    };
    let case = key
        .and_then(fault)
        .map_or_else(|| Case::sound(*spec), |fault| fault.case(&drawn));
    let row = alone(&case, &drawn);
    let of = |quantity: Quantity| {
        let value = f64::from(row[quantity.index()]);
        if value.is_nan() { 0.0 } else { value }
    };
    (of(Quantity::Lamp), of(Quantity::Current), of(Quantity::Led))
}

/// How surely an LED is seen at a current.
fn lit(led_a: f64) -> f64 {
    1.0 / (1.0 + (SEEN_A / led_a.max(1e-9)).powi(3))
}

/// How well a value lies in a range: 1 inside, falling by a normal curve of this deviation in the logarithm outside.
fn within(value: f64, (low, high): (f64, f64), deviation: f64) -> f64 {
    let log = value.max(1e-9).ln();
    let off = (low.ln() - log).max(log - high.ln()).max(0.0) / deviation;
    (-0.5 * off * off).exp()
}

/// A class's draw with the weight of each fact of practice, and what puts it in its place: the held build's supply current, or
/// its top voltage for a class that is not weighed.
#[derive(Clone, Copy)]
struct Weighed {
    set: PartSet,
    weights: [f64; 3],
    order: f64,
}

fn drawn(ranges: &Ranges, builds: &[Known; 3], seed: u64) -> Weighed {
    let mut draws = Draws::seeded(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15));
    let mut even = |(low, high): (f64, f64)| low * f64::powf(high / low, draws.share());
    let figures = ranges.figures.map(&mut even);
    let coupling = even((0.85, 1.35));
    let q = (120.0 * (0.3 * draws.normal()).exp()).clamp(50.0, 240.0);
    let own = Nuisance {
        coupling,
        open: 1.0 + 0.025 * draws.normal(),
        ohm: (0.3 * draws.normal()).exp(),
    };
    let [a, b, c, d, e, f, g, h, i, j, k] = figures;
    let set = PartSet::from_figures([a, b, c, d, e, f, g, h, i, j, k, q]);
    let [held, standing, spiral] = builds;
    let mut weighed = Weighed {
        set,
        weights: [1.0; 3],
        order: 0.0,
    };
    let (top_v, supply_a, led_a) = shows(&held.with(&set, &own), None);
    if !ranges.is_common {
        weighed.order = top_v.max(1e-3).ln();
        return weighed;
    }
    weighed.weights[0] = lit(led_a) * within(top_v, (500.0, 5000.0), 0.3);
    if ranges.is_power_known {
        weighed.weights[0] *= within(supply_a, (0.2, 0.6), 0.3);
    }
    if weighed.weights[0] < 1e-3 {
        return weighed;
    }
    let (top_v, _, led_a) = shows(&standing.with(&set, &own), None);
    weighed.weights[1] = within(top_v, (200.0, 5000.0), 0.3) * (0.1 + 0.9 * lit(led_a));
    if ranges.is_power_known {
        let (top_v, supply_a, led_a) = shows(&spiral.with(&set, &own), None);
        weighed.weights[2] = within(top_v, (1000.0, 50e3), 0.3)
            * within(supply_a, (0.1, 1.0), 0.2)
            * (0.02 + 0.98 * lit(led_a));
    }
    weighed
}

/// The value below which a share of all lies.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a place in a short list"
)]
fn quantile(values: &mut [f64], share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let place = (share * (values.len() - 1) as f64).round() as usize;
    values[place]
}

/// As many as are kept, in proportion to their weights: evenly through the running sum.
fn picked(weighed: &[Weighed], weight: impl Fn(&Weighed) -> f64) -> Vec<Weighed> {
    let all: f64 = weighed.iter().map(&weight).sum();
    let (mut reached, mut kept) = (0.0, Vec::new());
    for one in weighed {
        reached += weight(one) / all;
        while kept.len() < KEPT && (kept.len() as f64 + 0.5) / (KEPT as f64) < reached {
            kept.push(*one);
        }
    }
    kept
}

/// What sets leave of each figure: the fifth, fiftieth and ninety-fifth of a hundred.
fn left(name: &str, kept: &[Weighed]) {
    const NAMES: [&str; 12] = [
        "gain", "TF s", "rise", "rise A", "CJE F", "CJC F", "TR s", "RB ohm", "BV V", "LED F",
        "LED s", "Q",
    ];
    for (place, figure) in NAMES.iter().enumerate() {
        let mut values: Vec<f64> = kept.iter().map(|one| one.set.figures()[place]).collect();
        let [low, middle, high] = [0.05, 0.5, 0.95].map(|share| quantile(&mut values, share));
        eprintln!("| {name} | {figure} | {low:.3e} | {middle:.3e} | {high:.3e} |");
    }
}

/// How a build runs with the kept sets.
fn runs(name: &str, build: &Known, measured_q: Option<f64>, key: Option<&str>, kept: &[Weighed]) {
    let shown = on_two(kept, |one| {
        let mut set = one.set;
        set.q = measured_q.unwrap_or(set.q);
        shows(&build.with(&set, &Nuisance::NONE), key)
    });
    let lit = shown.iter().filter(|one| one.2 > SEEN_A).count() as f64 / shown.len() as f64;
    let quantiles = |get: fn(&(f64, f64, f64)) -> f64| {
        let mut values: Vec<f64> = shown.iter().map(get).collect();
        [0.05, 0.5, 0.95].map(|share| quantile(&mut values, share))
    };
    let (a, v) = (quantiles(|one| one.1), quantiles(|one| one.0));
    eprintln!(
        "| {name} | {lit:.2} | {:.3} | {:.3} | {:.3} | {:.0} | {:.0} | {:.0} |",
        a[0], a[1], a[2], v[0], v[1], v[2]
    );
}

fn main() {
    let set = |name: &str| std::env::var(name).ok();
    let count = set("SAGTRACE_PRACTICE_DRAWS").and_then(|text| text.parse().ok());
    let only = set("SAGTRACE_PRACTICE_CLASS");
    let held = include_str!("../scenarios/practice-held.toml");
    let standing = held.replace("earth = \"held\"", "earth = \"standing\"");
    let spiral = include_str!("../../sample-data/glow-plate.toml");
    println!(
        "# Each class's sets of parts as practice leaves them, the worst for starting first; cargo bench --bench practice computes them."
    );
    println!(
        "class,gain,transit_s,rise_ratio,rise_a,emitter_f,collector_f,reverse_transit_s,base_ohm,collector_breakdown_v,led_f,led_transit_s,q"
    );
    for ranges in CLASSES
        .iter()
        .filter(|one| only.as_deref().is_none_or(|only| only == one.word))
    {
        let of = |text: &str| Known::of(text, ranges.class);
        let builds = [of(held), of(&standing), of(spiral)];
        let seeds: Vec<u64> = (1..=count.unwrap_or(ranges.draws)).collect();
        let weighed = on_two(&seeds, |seed| drawn(ranges, &builds, *seed));
        let word = ranges.word;
        for facts in 0..=3 {
            let weight = |one: &Weighed| one.weights.iter().take(facts).product::<f64>();
            let (sum, square) = weighed.iter().fold((0.0, 0.0), |(sum, square), one| {
                (sum + weight(one), square + weight(one).powi(2))
            });
            eprintln!(
                "\n{word}, {facts} facts: as many as {:.0} even draws of {}",
                sum * sum / square,
                weighed.len()
            );
            left(word, &picked(&weighed, weight));
        }
        let mut kept = picked(&weighed, |one| one.weights.iter().product());
        if ranges.is_common {
            let currents = on_two(&kept, |one| {
                shows(&builds[0].with(&one.set, &Nuisance::NONE), None).1
            });
            for (one, supply_a) in kept.iter_mut().zip(currents) {
                one.order = supply_a;
            }
        }
        kept.sort_by(|a, b| a.order.total_cmp(&b.order));
        for one in &kept {
            let figures: Vec<String> = one
                .set
                .figures()
                .iter()
                .map(|figure| format!("{figure:.4e}"))
                .collect();
            println!("{word},{}", figures.join(","));
        }
        all_runs(&builds, of, &kept);
    }
}

/// How builds run with the kept sets, those that weighed and others.
fn all_runs(builds: &[Known; 3], of: impl Fn(&str) -> Known, kept: &[Weighed]) {
    let [held, standing, spiral] = builds;
    let measured = of(include_str!("../../sample-data/glow-pillar-measured.toml"));
    let q = measured.spec.resonator.q;
    runs("held", held, None, None, kept);
    runs("standing", standing, None, None, kept);
    runs("spiral", spiral, None, None, kept);
    runs(
        "pillar",
        &of(include_str!("../../sample-data/glow-pillar.toml")),
        None,
        None,
        kept,
    );
    runs("pillar, measured", &measured, Some(q), None, kept);
    runs(
        "held, hand on the case",
        held,
        None,
        Some("hand-on-case"),
        kept,
    );
    runs(
        "held, hand on the wire",
        held,
        None,
        Some("hand-on-base"),
        kept,
    );
    runs("held, lamp near", held, None, Some("lamp-near-top"), kept);
    runs(
        "held, primary reversed",
        held,
        None,
        Some("primary-reversed"),
        kept,
    );
}
