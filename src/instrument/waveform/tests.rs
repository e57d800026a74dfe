use super::*;
use crate::instrument::{Catalogue, Origin, ScaleRule, ScaleValue};
use crate::reading::Channel;
use proptest::prelude::*;

/// A preamble of points, interval, volts per code, the code of no volts, and added volts if `adds`.
fn rule(adds: bool) -> ScaleRule {
    let at = |position| ScaleValue::at(Origin::Preamble(position));
    ScaleRule {
        preamble: vec!["P?".to_owned()],
        questions: Vec::new(),
        points: Some(at(1)),
        interval: at(2),
        volts_per_code: at(3),
        zero_code: vec![at(4)],
        added_volts: if adds { vec![at(5)] } else { Vec::new() },
    }
}

fn read(preamble: &str, rule: &ScaleRule) -> Result<Preamble, String> {
    Preamble::read(&[preamble.to_owned()], None, rule).map_err(|fault| fault.to_string())
}

fn volts(preamble: &str, rule: &ScaleRule, block: &[u8], codes: Codes) -> Vec<f64> {
    let preamble = read(preamble, rule).unwrap();
    Trace::new(preamble, block, codes)
        .unwrap()
        .volts()
        .collect()
}

/// Formulas of the two families as instrument guides print them; the sums are by hand.
#[test]
fn both_conventions_of_the_offset_give_volts() {
    // (code - offset in codes) × volts per code.
    let got = volts(
        "3,1E-9,2E-2,128",
        &rule(false),
        &[128, 178, 78],
        Codes::Uint8,
    );
    assert_eq!(got, [0.0, 1.0, -1.0]);
    // (code - reference) × volts a code + origin in volts.
    let got = volts(
        "3,1E-9,2E-2,128,-0.5",
        &rule(true),
        &[128, 178, 78],
        Codes::Uint8,
    );
    assert_eq!(got, [-0.5, 0.5, -1.5]);
}

#[test]
fn a_preamble_may_have_headers_and_texts_in_it() {
    let at = |position| ScaleValue::at(Origin::Preamble(position));
    let rule = ScaleRule {
        points: Some(at(2)),
        interval: at(4),
        volts_per_code: at(3),
        zero_code: vec![at(5)],
        ..rule(false)
    };
    let text = "\"CH 1, DC; 1:1\";NR 1000;:WF:YM +4.0E-02;XI .5e-9;YO 5.";
    let preamble = read(text, &rule).unwrap();
    let want = Preamble {
        points: Some(1000),
        interval_s: 0.5e-9,
        volts_per_code: 0.04,
        zero_code: 5.0,
        added_v: 0.0,
    };
    assert_eq!(preamble, want);
}

#[test]
fn numbers_of_points_that_are_none_are_refused() {
    for points in ["0", "-5", "10.5", "1E12"] {
        let text = format!("{points},1E-9,1E-2,0");
        let refused = read(&text, &rule(false)).unwrap_err();
        assert_eq!(refused, "points: no whole number above 0", "{points}");
    }
}

#[test]
fn a_block_that_does_not_fit_is_refused() {
    let preamble = read("2,1E-9,2E-2,0", &rule(false)).unwrap();
    let refused = |block: &[u8], codes| Trace::new(preamble, block, codes).unwrap_err();
    assert_eq!(
        refused(&[1, 2, 3], Codes::Int16LowFirst),
        Refusal::HalfSample
    );
    assert_eq!(refused(&[1], Codes::Int8), Refusal::NotAsManyAsPoints);
    let open = Preamble {
        points: None,
        ..preamble
    };
    assert_eq!(Trace::new(open, &[], Codes::Int8), Err(Refusal::NoSamples));
}

#[test]
fn digits_beyond_the_error_are_left_out() {
    let shown = |value, error| to_its_error(value, error).to_string();
    assert_eq!(shown(6_231_234.567, 12.4), "6231235");
    assert_eq!(shown(6_231_234.567, 1.1), "6231234.6");
    assert_eq!(shown(2.360_123_456, 0.0012), "2.3601");
    assert_eq!(shown(1.5, 0.0), "1.5");
}

/// Own samples: steps of 4 mV about a line that is no multiple of it.
#[test]
fn the_step_of_samples_in_volts_is_found() {
    let samples: Vec<f64> = [3.0, 0.0, 1.0, 0.0, 7.0]
        .iter()
        .map(|code| code * 0.004 + 0.0013)
        .collect();
    assert!((smallest_step(&samples) - 0.004).abs() < 1e-12);
    assert!(smallest_step(&[2.0, 2.0]).abs() < f64::MIN_POSITIVE);
    assert!(smallest_step(&[]).abs() < f64::MIN_POSITIVE);
}

proptest! {
    #[test]
    fn any_preamble_and_any_block_are_read_or_refused(
        text in "[-+0-9.eE,; '\"A-Z]{0,60}",
        block in prop::collection::vec(any::<u8>(), 0..200),
        interval_s in prop::num::f64::POSITIVE,
        is_wide in any::<bool>(),
    ) {
        read(&text, &rule(true)).ok();
        let preamble = Preamble {
            points: None,
            interval_s,
            volts_per_code: 0.01,
            zero_code: 0.0,
            added_v: 0.0,
        };
        let (profile, _) = Catalogue::default().get("scpi-scope-wave").unwrap();
        let rule = profile.waveform.unwrap();
        let codes = if is_wide { Codes::Int16LowFirst } else { Codes::Int8 };
        for codes in [codes, Codes::Real32LowFirst] {
            if let Ok(trace) = Trace::new(preamble, &block, codes) {
            let mut reading = Reading::default();
            trace.fill(&rule, &profile.values, &mut reading);
            let amplitude = reading.readings.get(Channel::AmplitudeV);
                prop_assert!(amplitude.is_some_and(|volts| volts >= 0.0));
            }
        }
    }
}

#[path = "scopes.rs"]
mod scopes;
