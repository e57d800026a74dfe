//! The voltage of a pick-up at an instrument, as text and JSON: a part of a prediction.

use std::f64::consts::SQRT_2;

use serde::Serialize;

use crate::caution::Caution;
use crate::coil::field::VoltageOrigin;
use crate::coil::pickup::{Input, Kind, LEAD_M, Reached, Signal};
use crate::limits::{COUNTER_NEEDS_RMS_V, COUNTER_STANDS_RMS_V, PROBE_STANDS_V};
use crate::units::{Span, Unit, exact, rounded};

use super::field::origin;
use crate::report::form::part;
use crate::report::layout::{list, told, under};

/// The notes beside every pick-up.
const NOTES: [&str; 3] = [
    "computed from the model's mode and nothing of it was measured; a person, a lamp or metal near by changes it",
    Caution::PickUp.words(),
    "a plain metre of coaxial cable adds some 100 pF to the input (common practice, no source): count it in --input. A probe that \
     divides by ten gives a counter a tenth",
];

/// The further note beside a loop.
const OF_LOOP: &str = "the loop lies across the coil's direction, level with the middle of the winding; turned upright it sees nothing. Its wire's own \
     electric pick-up runs off through its earthed end and is not counted";

/// The lines of a prediction about a pick-up.
pub fn text(signal: &Signal) -> String {
    let mut out = String::new();
    told(&mut out, "pick-up", &answer(signal));
    under(&mut out, &for_counter(signal));
    under(&mut out, &over(signal));
    if let Some(words) = too_much(signal) {
        under(&mut out, &words);
    }
    under(&mut out, &moved(signal));
    list(&mut out, "to know of the pick-up", &notes(signal));
    out
}

/// Returns sentences for a short answer. They give the voltage to expect, and too much of it first; whether a counter counts it;
/// and how far it moves the coil.
pub(super) fn brief(signal: &Signal) -> [String; 3] {
    let too_much = too_much(signal).map_or_else(String::new, |words| words + ". ");
    let expected = format!(
        "{too_much}Expect {} from {}. With other parts or another earth: {}.",
        rms(signal.input_v),
        kind(signal),
        rms(signal.over_v)
    );
    let needs = rounded(COUNTER_NEEDS_RMS_V, Unit::Volt, 2);
    let usual = format!("counters usually need {needs} rms (common practice, no source)");
    let more = more(signal);
    let counted = match signal.counter() {
        Reached::Always => format!("A counter should count it: {usual}."),
        Reached::Sometimes => format!("A counter may miss it: {usual}. If so, {more}."),
        Reached::Never => format!("Too little for a counter: {usual}. To get more, {more}."),
    };
    let moved = rounded(-signal.moved_ratio, Unit::Percent, 2);
    let moved = format!(
        "It lowers the resonance by up to {moved}. All of this is computed; nothing was measured."
    );
    [expected, counted, moved]
}

fn more(signal: &Signal) -> &'static str {
    match signal.pick_up.kind {
        Kind::Stub { .. } => "come nearer or take a longer stub",
        Kind::Loop { .. } => "come nearer, or take an open stub, which picks up far more",
    }
}

fn volts(amplitude_v: Span, factor: f64, words: &str) -> String {
    let volt = |value_v: f64| rounded(value_v * factor, Unit::Volt, 2);
    let (least, most) = (volt(amplitude_v.low), volt(amplitude_v.high));
    if least == most {
        format!("{least} {words}")
    } else {
        format!("{least} to {most} {words}")
    }
}

fn rms(amplitude_v: Span) -> String {
    volts(amplitude_v, 1.0 / SQRT_2, "rms")
}

fn centimetres(value_m: f64) -> String {
    format!("{} cm", (value_m * 1e4).round() / 100.0)
}

fn kind(signal: &Signal) -> String {
    let away = centimetres(signal.pick_up.distance_m);
    match signal.pick_up.kind {
        Kind::Stub { length_m } => {
            format!(
                "a stub of {}, {away} beside the coil and level with its top",
                centimetres(length_m)
            )
        }
        Kind::Loop { diameter_m, turns } => {
            let turns = if turns == 1 {
                "1 turn".to_owned()
            } else {
                format!("{turns} turns")
            };
            format!(
                "a loop of {} and {turns}, {away} beside the coil",
                centimetres(diameter_m)
            )
        }
    }
}

fn input(input: Input) -> String {
    let ohm = exact(input.ohm, Unit::Ohm);
    if input.farad > 0.0 {
        format!("{ohm} and {}", exact(input.farad, Unit::Farad))
    } else {
        ohm
    }
}

fn answer(signal: &Signal) -> String {
    let at = rounded(signal.frequency_hz, Unit::Hertz, 3);
    let top = rounded(signal.top.typical.amplitude_v, Unit::Volt, 2);
    format!(
        "expect {} ({}) from {}, into {}; at {at} and with {top} at the top",
        rms(signal.input_v),
        volts(signal.input_v, 2.0, "peak to peak"),
        kind(signal),
        input(signal.input),
    )
}

fn for_counter(signal: &Signal) -> String {
    let needs = rounded(COUNTER_NEEDS_RMS_V, Unit::Volt, 2);
    let usual = format!("the {needs} rms that counters usually need (common practice, no source)");
    let times = |amplitude_v: f64| amplitude_v / SQRT_2 / COUNTER_NEEDS_RMS_V;
    let more = more(signal);
    match signal.counter() {
        Reached::Always => format!(
            "a counter should count it: at least {:.1} times {usual}",
            times(signal.over_v.low)
        ),
        Reached::Sometimes => format!(
            "a counter may count it or not: {:.1} to {:.1} times {usual}; if not, {more}",
            times(signal.over_v.low),
            times(signal.over_v.high)
        ),
        Reached::Never => format!(
            "too little for a counter: at most {:.2} times {usual}; {more}",
            times(signal.over_v.high)
        ),
    }
}

/// The least and the most at the input, and over which cases.
fn over(signal: &Signal) -> String {
    let parts = match signal.top.typical.origin {
        VoltageOrigin::Circuit { .. } => {
            "any set of parts that oscillates, 30 % either way (chosen), table and ceiling as drawn or none"
        }
        VoltageOrigin::Amplitude | VoltageOrigin::Rms => {
            "the voltage typed, table and ceiling as drawn or none"
        }
    };
    let earth = match signal.pick_up.kind {
        Kind::Stub { .. } => format!(
            ". The least is behind an instrument that floats close to the stub, the most behind a lead of {} whose screen is earthed",
            exact(LEAD_M, Unit::Metre)
        ),
        Kind::Loop { .. } => String::new(),
    };
    format!("over all cases {}: {parts}{earth}", rms(signal.over_v))
}

fn too_much(signal: &Signal) -> Option<String> {
    let most = rounded(signal.over_v.high / SQRT_2, Unit::Volt, 2);
    let counter = rounded(COUNTER_STANDS_RMS_V, Unit::Volt, 1);
    let probe = rounded(PROBE_STANDS_V, Unit::Volt, 3);
    let farther = "Go farther away or take a smaller pick-up before the battery is joined; the instrument's own rating counts";
    if signal.is_beyond_probe() {
        return Some(format!(
            "TOO MUCH: up to {most} rms, beyond what probes ({probe}) and counters ({counter} rms) usually stand (common practice, no \
             source). {farther}"
        ));
    }
    signal.is_beyond_counter().then(|| {
        format!(
            "TOO MUCH for a counter: up to {most} rms, and {counter} rms is what an input usually stands at such frequencies (common \
             practice, no source). {farther}"
        )
    })
}

fn moved(signal: &Signal) -> String {
    let moved_hz = signal.moved_ratio * signal.frequency_hz;
    format!(
        "with its lead it lowers the resonance by up to {}, {}",
        rounded(-moved_hz, Unit::Hertz, 2),
        rounded(-signal.moved_ratio, Unit::Percent, 2)
    )
}

fn notes(signal: &Signal) -> Vec<String> {
    let mut notes: Vec<String> = Vec::new();
    match signal.pick_up.kind {
        Kind::Stub { .. } => notes.push(
            "the return path of a stub is the instrument's earth: another earth, or a hand on the lead, changes the reading".to_owned(),
        ),
        Kind::Loop { .. } => notes.push(OF_LOOP.to_owned()),
    }
    if let (true, Some(own_hz)) = (signal.is_near_own_resonance(), signal.own_hz) {
        notes.push(format!(
            "this loop resonates with its input at {}, near the coil: the voltage depends on both, so take fewer turns or 50 ohm",
            rounded(own_hz, Unit::Hertz, 2)
        ));
    }
    notes.extend(NOTES.iter().map(ToString::to_string));
    notes
}

part! {
    /// The pick-up for other programs.
    pub(super) struct PickUpPart(signal: &Signal) with {
        let rms = |amplitude_v: Span| SpanPart::new(amplitude_v, 1.0 / SQRT_2);
        let top = signal.top.typical;
        let moved = signal.moved_ratio;
    } {
        #[serde(flatten)]
        form: FormPart = form(signal),
        distance_m: f64 = signal.pick_up.distance_m,
        input_ohm: f64 = signal.input.ohm,
        input_f: f64 = signal.input.farad,
        frequency_hz: f64 = signal.frequency_hz,
        top_amplitude_v: f64 = top.amplitude_v,
        top_voltage_origin: &'static str = origin(top.origin),
        open_rms_v: SpanPart = rms(signal.open_v),
        input_rms_v: SpanPart = rms(signal.input_v),
        input_peak_to_peak_v: SpanPart = SpanPart::new(signal.input_v, 2.0),
        over_parts_input_rms_v: SpanPart = rms(signal.over_v),
        counter_needs_rms_v: f64 = COUNTER_NEEDS_RMS_V,
        counter_reached: &'static str = match signal.counter() {
            Reached::Always => "always",
            Reached::Sometimes => "sometimes",
            Reached::Never => "never",
        },
        counter_stands_rms_v: f64 = COUNTER_STANDS_RMS_V,
        is_beyond_counter: bool = signal.is_beyond_counter(),
        probe_stands_v: f64 = PROBE_STANDS_V,
        is_beyond_probe: bool = signal.is_beyond_probe(),
        resonance_moved_ratio: f64 = moved,
        resonance_moved_hz: f64 = moved * signal.frequency_hz,
    }
}

part! {
    /// Both ends of a range, each times a factor.
    struct SpanPart(span: Span, factor: f64) {
        least: f64 = span.low * factor,
        most: f64 = span.high * factor,
    }
}

/// What each kind has of its own.
#[derive(Debug, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(tag = "kind", rename_all = "kebab-case")]
enum FormPart {
    Stub {
        length_m: f64,
        source_f: SpanPart,
    },
    Loop {
        diameter_m: f64,
        turns: u32,
        source_h: f64,
        own_resonance_hz: Option<f64>,
    },
}

fn form(signal: &Signal) -> FormPart {
    match signal.pick_up.kind {
        Kind::Stub { length_m } => FormPart::Stub {
            length_m,
            source_f: SpanPart::new(signal.source, 1.0),
        },
        Kind::Loop { diameter_m, turns } => FormPart::Loop {
            diameter_m,
            turns,
            source_h: signal.source.high,
            own_resonance_hz: signal.own_hz,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coil::field::TopVoltage;
    use crate::coil::pickup::{PickUp, Top, pick_up};
    use crate::sheet;

    const PILLAR: &str = include_str!("../../../sample-data/glow-pillar.toml");

    /// The pick-up at the sample pillar with 1.4 kV at its top.
    fn signal(words: &str) -> Signal {
        let sheet = sheet::parse(PILLAR).unwrap();
        let (what, into) = PickUp::parse(words).unwrap();
        let typical = TopVoltage::amplitude(1400.0);
        let top = Top {
            typical,
            amplitude_v: Span::of(1400.0),
        };
        let input = into.unwrap_or(Input::USUAL);
        pick_up(&sheet.coil_spec(), 4.3e6, top, what, input).unwrap()
    }

    #[test]
    fn a_stub_is_answered_first_then_judged_for_a_counter() {
        insta::assert_snapshot!(text(&signal("stub 5cm at 30cm")));
    }

    #[test]
    fn a_loop_far_away_is_too_little_and_a_stub_at_the_coil_too_much() {
        let far = text(&signal("loop 4cm 1 turn at 30cm"));
        assert!(far.contains("too little for a counter"), "{far}");
        assert!(far.contains("take an open stub"), "{far}");
        let close = text(&signal("stub 20cm at 1cm"));
        assert!(close.contains("TOO MUCH"), "{close}");
        let many = text(&signal("loop 10cm 20 turns at 10cm"));
        assert!(many.contains("resonates with its input"), "{many}");
        for told in [far, close, many] {
            let whole = told.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(whole.contains("nothing of it was measured"));
            assert!(whole.contains(Caution::PickUp.words()));
            for row in told.lines() {
                assert!(row.chars().count() <= 100, "{row}");
            }
        }
    }

    #[test]
    fn programs_get_both_ends_of_each_span_with_its_unit() {
        let form = |words| serde_json::to_value(PickUpPart::new(&signal(words))).unwrap();
        let found = form("stub 5cm at 30cm");
        let rms_v = found["input_rms_v"]["most"].as_f64().unwrap();
        let peak_to_peak_v = found["input_peak_to_peak_v"]["most"].as_f64().unwrap();
        assert!((peak_to_peak_v / rms_v - 8.0_f64.sqrt()).abs() < 1e-6);
        assert_eq!(found["kind"], "stub");
        assert_eq!(found["length_m"], 0.05);
        assert!(found["source_f"]["least"].as_f64().unwrap() > 0.3e-12);
        let of_loop = form("loop 4cm 3 turns at 10cm into 50 ohm");
        assert_eq!(
            (&of_loop["turns"], &of_loop["input_ohm"]),
            (&3.into(), &50.0.into())
        );
        assert!(of_loop["source_h"].is_f64() && of_loop["source_f"].is_null());
    }
}
