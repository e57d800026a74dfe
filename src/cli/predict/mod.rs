//! `predict`: how the build should behave.

mod card;
mod field;
mod plan;

use std::path::Path;

use crate::circuit::netlist::{self, Watch};
use crate::circuit::practice::Spread;
use crate::cli::args::{Earth, Format, Parts, PredictArgs};
use crate::cli::exit::{Failure, Outcome, USAGE};
use crate::cli::outlook::outlook;
use crate::cli::settings::Settings;
use crate::cli::{output, pictures, sheet};
use crate::coil::pickup::Signal;
use crate::coil::prediction::Prediction;
use crate::coil::surroundings::EarthState;
use crate::coil::wanted::wanted;
use crate::coil::winding::Primary;
use crate::coil::{
    self,
    field::{Around, picture},
};
use crate::report;
use crate::report::card::working_end;
use crate::report::predict::answer::{Commands, answer};
use crate::report::predict::asked;
use crate::report::predict::start::{Start, spread_word};
use crate::sheet::{
    Sheet,
    drive::{CircuitSets, WhyNone},
};

pub(super) fn run(args: &PredictArgs, settings: &Settings) -> Result<Outcome, Failure> {
    let (mut sheet, _) = sheet::read(&args.sheet)?;
    if let Some(earth) = args.earth {
        sheet.earth = earth.into();
    }
    if let Some(wanted_hz) = args.wanted {
        return wind_to(&sheet, wanted_hz, args.format);
    }
    if let Some(evening) = &args.plan.evening {
        return plan::run(&sheet, evening, args, &commands(args), settings);
    }
    let prediction = sheet.prediction()?;
    let sets = sheet.circuit_sets(&prediction);
    if let Some(parts) = args.netlist {
        return write_netlist(&sheet, sets, parts.into());
    }
    if args.card {
        return print_card(&sheet, &prediction, args.plot.as_deref());
    }
    let computed = match &sets {
        Ok(sets) => outlook(&sets.specs)
            .map(|outlook| (outlook, sets))
            .map_err(|error| error.to_string()),
        Err(why) => Err(why.to_string()),
    };
    let start = computed.as_ref().map(|(outlook, sets)| Start {
        class: sheet.circuit.transistor,
        sheet: &sheet,
        outlook,
        assumptions: &sets.assumptions,
        shown: sets.shown.as_ref(),
    });
    let outlook = computed.as_ref().ok().map(|(outlook, _)| outlook);
    let top = field::at_top(&args.field, &sheet, &prediction, outlook);
    let around = field::around(&args.field, &top)?;
    let signal = field::signal(&args.field, &top)?;
    let text = match args.format {
        Format::Text if args.detail => {
            let coil = report::predict::text(&sheet, &prediction);
            let more = full(
                start.as_ref().map_err(|why| why.as_str()),
                signal.as_ref(),
                around.as_ref(),
            );
            output::account(format!("{coil}\n{more}"))
        }
        Format::Text if signal.is_some() || around.is_some() => {
            let hazards = start.as_ref().ok().map(Start::hazards);
            let hazards = hazards.as_ref();
            asked::answer(
                signal.as_ref(),
                around.as_ref(),
                hazards,
                &commands(args),
                output::width(),
            )
        }
        Format::Text => {
            let start = start.as_ref().map_err(|why| why.as_str());
            answer(&sheet, &prediction, start, &commands(args), output::width())
        }
        Format::Json => {
            let asked = report::predict::json::Asked {
                start: start.as_ref().ok(),
                around: around.as_ref(),
                signal: signal.as_ref(),
            };
            output::json(&report::predict::json::Json::new(
                &sheet,
                &prediction,
                asked,
            ))?
        }
    };
    output::result(&text)?;
    if let Some(dir) = &args.plot {
        draw(&sheet, &prediction, around.as_ref(), dir)?;
    }
    Ok(Outcome::DONE)
}

/// Returns the full account of the circuit, and of everything that was asked beside it.
fn full(
    start: Result<&Start<'_>, &str>,
    signal: Option<&Signal>,
    around: Option<&Around>,
) -> String {
    let circuit = match start {
        Ok(start) => report::predict::start::text(start),
        Err(why) => report::predict::start::not_computed(why),
    };
    let part = |text: String| format!("\n{text}");
    let pick_up = signal.map(report::predict::pickup::text).map(part);
    let field = around.map(report::predict::field::text).map(part);
    let asked = [pick_up, field].map(Option::unwrap_or_default).concat();
    format!("{circuit}{asked}")
}

/// Returns the commands that an answer offers, with the arguments as typed.
fn commands(args: &PredictArgs) -> Commands {
    Commands::new(&args.sheet, std::env::args_os().skip(1))
}

/// The card, which has the primary the way that works, and its figures are of that.
fn print_card(
    sheet: &Sheet,
    prediction: &Prediction,
    plot: Option<&Path>,
) -> Result<Outcome, Failure> {
    let turned = Sheet {
        primary: Primary {
            collector_end: working_end(sheet),
            ..sheet.primary
        },
        ..sheet.clone()
    };
    let sets = turned.circuit_sets(prediction).ok();
    let computed = sets.and_then(|sets| outlook(&sets.specs).ok());
    card::run(sheet, prediction, computed.as_ref(), plot)
}

/// The circuit as a netlist.
fn write_netlist(
    sheet: &Sheet,
    sets: Result<CircuitSets, WhyNone>,
    spread: Spread,
) -> Result<Outcome, Failure> {
    let sets = sets.map_err(|why| Failure::no_circuit("netlist", &sheet.name, why))?;
    let [worst, typical, best] = &sets.specs;
    let spec = match spread {
        Spread::Worst => worst,
        Spread::Typical => typical,
        Spread::Best => best,
    };
    let wired = spec.wired();
    let watch = Watch::usual(spec.resonator.loaded_hz());
    let title = format!(
        "{}, {} parts, steps of 1/{} of a cycle: ngspice -b prints what to hold beside sagtrace predict",
        sheet.name,
        spread_word(spread),
        watch.steps_per_cycle
    );
    let text = netlist::text(&title, &wired.network, &wired.probes, &[], &watch);
    output::result(&text)?;
    Ok(Outcome::DONE)
}

impl From<Parts> for Spread {
    fn from(parts: Parts) -> Self {
        match parts {
            Parts::Worst => Self::Worst,
            Parts::Typical => Self::Typical,
            Parts::Best => Self::Best,
        }
    }
}

/// Draws the pictures of a prediction into a folder.
fn draw(
    sheet: &Sheet,
    prediction: &Prediction,
    around: Option<&Around>,
    dir: &Path,
) -> Result<(), Failure> {
    let spec = sheet.coil_spec();
    let cannot_draw = |error| Failure::from_error(USAGE, &error);
    let mut figures = vec![
        (
            "mode-along-the-coil",
            coil::figures::mode(&sheet.name, &spec, prediction).map_err(cannot_draw)?,
        ),
        (
            "resonance-against-a-hand",
            coil::figures::hand(&sheet.name, &spec, prediction).map_err(cannot_draw)?,
        ),
    ];
    figures.extend(
        coil::figures::parts(&sheet.name, prediction).map(|figure| ("parts-of-the-band", figure)),
    );
    figures.extend(around.map(|around| {
        let figure = picture(&sheet.name, around);
        ("field-around-the-coil", figure)
    }));
    pictures::tell(&pictures::draw(&figures, dir, pictures::PLOT)?);
    Ok(())
}

/// The turns that resonate at a frequency.
fn wind_to(sheet: &Sheet, wanted_hz: f64, format: Format) -> Result<Outcome, Failure> {
    let found = wanted(&sheet.coil_spec(), wanted_hz).map_err(|error| {
        Failure::from_error(USAGE, &error)
            .hint("another wire, pitch or diameter in the sheet moves what can be wound")
    })?;
    let text = match format {
        Format::Text => report::predict::wanted::text(sheet, wanted_hz, &found),
        Format::Json => output::json(&report::predict::wanted::Json::new(
            sheet, wanted_hz, &found,
        ))?,
    };
    output::result(&text)?;
    Ok(Outcome::DONE)
}

impl From<Earth> for EarthState {
    fn from(earth: Earth) -> Self {
        match earth {
            Earth::Standing => Self::Standing,
            Earth::Held => Self::Held,
            Earth::Clipped => Self::Clipped,
            Earth::Earthed => Self::Earthed,
        }
    }
}
