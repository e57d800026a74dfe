use super::*;
use crate::instrument::Catalogue;
use crate::reading::Channel;
use proptest::prelude::*;

const OFFSET_IN_CODES: PreambleRule = PreambleRule {
    points: Some(1),
    interval: 2,
    volts_per_code: 3,
    zero_code: Some(4),
    added_volts: None,
};

fn volts(preamble: &str, places: &PreambleRule, block: &[u8], codes: Codes) -> Vec<f64> {
    let preamble = Preamble::read(preamble, places).unwrap();
    Trace::new(preamble, block, codes)
        .unwrap()
        .volts()
        .collect()
}

/// Formulas of the two families as instrument guides print them; the sums are by hand.
#[test]
fn both_conventions_of_the_offset_give_volts() {
    // (code - offset in codes) × volts a code.
    let got = volts(
        "3,1E-9,2E-2,128",
        &OFFSET_IN_CODES,
        &[128, 178, 78],
        Codes::Uint8,
    );
    assert_eq!(got, [0.0, 1.0, -1.0]);
    // (code - reference) × volts a code + origin in volts.
    let places = PreambleRule {
        added_volts: Some(5),
        ..OFFSET_IN_CODES
    };
    let got = volts(
        "3,1E-9,2E-2,128,-0.5",
        &places,
        &[128, 178, 78],
        Codes::Uint8,
    );
    assert_eq!(got, [-0.5, 0.5, -1.5]);
}

#[test]
fn codes_are_read_with_their_sign_and_order() {
    let read = |codes: Codes| codes.read(&[0x80, 0x01, 0xff, 0x7f]);
    assert_eq!(read(Codes::Int8), [-128.0, 1.0, -1.0, 127.0]);
    assert_eq!(read(Codes::Uint8), [128.0, 1.0, 255.0, 127.0]);
    assert_eq!(read(Codes::Int16HighFirst), [-32767.0, -129.0]);
    assert_eq!(read(Codes::Int16LowFirst), [384.0, 32767.0]);
    assert_eq!(read(Codes::Uint16HighFirst), [32769.0, 65407.0]);
    assert_eq!(read(Codes::Uint16LowFirst), [384.0, 32767.0]);
}

#[test]
fn a_preamble_may_have_headers_and_texts_in_it() {
    let places = PreambleRule {
        points: Some(2),
        interval: 4,
        volts_per_code: 3,
        ..OFFSET_IN_CODES
    };
    let places = PreambleRule {
        zero_code: Some(5),
        ..places
    };
    let text = "\"CH 1, DC; 1:1\";NR 1000;:WF:YM +4.0E-02;XI .5e-9;YO 5.";
    let preamble = Preamble::read(text, &places).unwrap();
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
        assert_eq!(
            Preamble::read(&text, &OFFSET_IN_CODES),
            Err("the preamble's number of points is no whole number above 0"),
            "{points}"
        );
    }
}

#[test]
fn a_block_that_does_not_fit_is_refused() {
    let preamble = Preamble::read("2,1E-9,2E-2,0", &OFFSET_IN_CODES).unwrap();
    let refused = |block: &[u8], codes| Trace::new(preamble, block, codes).unwrap_err();
    assert_eq!(
        refused(&[1, 2, 3], Codes::Int16LowFirst),
        "half a sample at the end of the block"
    );
    assert_eq!(
        refused(&[1], Codes::Int8),
        "the block has not as many samples as the preamble says"
    );
    let open = Preamble {
        points: None,
        ..preamble
    };
    assert_eq!(
        Trace::new(open, &[], Codes::Int8),
        Err("a block without samples")
    );
}

#[test]
fn digits_beyond_the_error_are_left_out() {
    let shown = |value, error| to_its_error(value, error).to_string();
    assert_eq!(shown(6_231_234.567, 12.4), "6231235");
    assert_eq!(shown(6_231_234.567, 1.1), "6231234.6");
    assert_eq!(shown(2.360_123_456, 0.0012), "2.3601");
    assert_eq!(shown(1.5, 0.0), "1.5");
}

proptest! {
    #[test]
    fn any_preamble_and_any_block_are_read_or_refused(
        text in "[-+0-9.eE,; '\"A-Z]{0,60}",
        block in prop::collection::vec(any::<u8>(), 0..200),
        interval_s in prop::num::f64::POSITIVE,
        is_wide in any::<bool>(),
    ) {
        Preamble::read(&text, &OFFSET_IN_CODES).ok();
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
        if let Ok(trace) = Trace::new(preamble, &block, codes) {
            let mut reading = Reading::default();
            trace.fill(&rule, &profile.values, &mut reading);
            let amplitude = reading.readings.get(Channel::AmplitudeV);
            prop_assert!(amplitude.is_some_and(|volts| volts >= 0.0));
        }
    }
}
