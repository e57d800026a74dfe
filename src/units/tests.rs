use super::*;
use proptest::prelude::*;

#[test]
fn a_prefix_gives_the_same_bits_as_the_plain_number() {
    let same = |text, unit, plain: f64| {
        assert_eq!(
            parse(text, unit).map(f64::to_bits),
            Ok(plain.to_bits()),
            "{text}"
        );
    };
    same("4.012345 MHz", Unit::Hertz, 4012345.0);
    same("0.2 mm", Unit::Metre, 0.0002);
    same("22k", Unit::Ohm, 22000.0);
    same("100n", Unit::Farad, 1e-7);
    same("6.4 g", Unit::Gram, 0.0064);
}

#[test]
fn every_spelling_of_the_trade_is_read() {
    let close = |text, unit, want: f64| {
        let got = parse(text, unit).unwrap();
        assert!(
            (got - want).abs() <= 1e-15 * want.abs(),
            "{text}: {got} is not {want}"
        );
    };
    close("22 kohm", Unit::Ohm, 22e3);
    close("22 kΩ", Unit::Ohm, 22e3);
    close("120R", Unit::Ohm, 120.0);
    close("12 µH", Unit::Henry, 12e-6);
    close("12uH", Unit::Henry, 12e-6);
    close("5min", Unit::Second, 300.0);
    close("1.5 h", Unit::Second, 5400.0);
    close("0.5 in", Unit::Metre, 0.0127);
    close("8 mil", Unit::Metre, 0.0002032);
    close("1.6cm", Unit::Metre, 0.016);
    close("+.5e1 V", Unit::Volt, 5.0);
    close("2 %", Unit::Percent, 0.02);
    close("200 mAh", Unit::AmpereHour, 0.2);
    close("6.4 g", Unit::Gram, 0.0064);
}

#[test]
fn ambiguous_or_foreign_units_are_refused_by_name() {
    insta::assert_snapshot!(parse("16", Unit::Metre).unwrap_err(), @r#""16" has no unit: expected a length with its unit, such as "16 mm""#);
    insta::assert_snapshot!(parse("5m", Unit::Second).unwrap_err(),
        @r#""5m" has the unit "m": expected a time, such as "500 ms""#);
    insta::assert_snapshot!(parse("3 V", Unit::Hertz).unwrap_err(),
        @r#""3 V" has the unit "V": expected a frequency, such as "4.2 MHz""#);
    insta::assert_snapshot!(parse("about ten", Unit::Ohm).unwrap_err(),
        @r#""about ten" is not a number with a unit: expected a resistance, such as "22 kohm""#);
    insta::assert_snapshot!(parse("1e400 V", Unit::Volt).unwrap_err(), @r#""1e400 V" is out of range"#);
    assert!(parse("0.00000000000000001e9999999999 V", Unit::Volt).is_err());
}

#[test]
fn numbers_are_written_in_the_form_that_is_read() {
    assert_eq!(exact(3.204e6, Unit::Hertz), "3.204 MHz");
    assert_eq!(exact(0.0002, Unit::Metre), "200 µm");
    assert_eq!(exact(0.0, Unit::Volt), "0 V");
    assert_eq!(exact(-0.25, Unit::Volt), "-250 mV");
    assert_eq!(exact(0.02, Unit::Percent), "2 %");
    assert_eq!(exact(1e-14, Unit::Farad), "0.01 pF");
    assert_eq!(rounded(6_243_612.0, Unit::Hertz, 4), "6.244 MHz");
    assert_eq!(rounded(999_960.0, Unit::Hertz, 4), "1.000 MHz");
    assert_eq!(rounded(12.584, Unit::Ohm, 3), "12.6 Ω");
}

proptest! {
    #[test]
    fn what_is_written_exactly_reads_back_to_the_same_bits(value in prop::num::f64::NORMAL) {
        prop_assume!(value.abs() > 1e-200 && value.abs() < 1e200);
        prop_assert_eq!(parse(&exact(value, Unit::Volt), Unit::Volt).map(f64::to_bits), Ok(value.to_bits()));
    }

    /// The standard library's reading, which is correctly rounded by its own promise, is the reference.
    #[test]
    fn the_short_way_to_a_number_gives_the_library_s_bits(mantissa in "[+-]?[0-9]{0,18}[.]?[0-9]{0,6}", exponent in -30_i32..30) {
        let by_library: f64 = format!("{mantissa}e{exponent}").parse().unwrap_or(f64::NAN);
        prop_assert_eq!(with_exponent(&mantissa, exponent).to_bits(), by_library.to_bits());
    }

    #[test]
    fn any_text_is_read_or_refused_without_panic(text in ".{0,40}") {
        for unit in [Unit::Hertz, Unit::Metre, Unit::Second, Unit::Percent, Unit::Ohm] {
            if let Ok(value) = parse(&text, unit) {
                prop_assert!(value.is_finite());
            }
        }
    }
}
