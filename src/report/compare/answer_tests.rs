use super::answer::{Of, answer};
use super::tests::{model, row};
use crate::analysis::compare::Compare;
use crate::analysis::lamp::{LampMark, Sighting};
use crate::analysis::pairing::Pairing;
use crate::coil::Resonance;
use crate::logbook::Compared;
use crate::reading::{Channel, Note, Row, Status};
use crate::session::{Meta, Skipped};

fn compared(model: Option<Resonance>, rows: &[Row]) -> Compared {
    let mut compare = Compare::new(model, Pairing::new());
    compare.push(rows);
    Compared {
        comparison: compare.report(),
        lamps: Vec::new(),
        lamp_faults: Vec::new(),
        pushing: None,
        traces: compare.traces(),
        skipped: Skipped::default(),
    }
}

fn said(compared: &Compared, width: usize) -> String {
    let mut meta = Meta::new(0, "bench".to_owned());
    meta.battery = Some("A 1".to_owned());
    let of = Of {
        meta: &meta,
        dir: "out".as_ref(),
        is_sheet_changed: false,
        has_good_day: true,
    };
    let text = answer(of, compared, None, width);
    assert!(
        text.lines().count() <= if width < 80 { 22 } else { 12 },
        "{text}"
    );
    assert!(
        text.lines().all(|line| line.chars().count() <= width),
        "{text}"
    );
    text
}

/// Invented: a reading per second, ±`scatter_hz` about a line that falls by `fall_hz` in all, the battery from 9 V to 8 V.
fn falling(seconds: i32, fall_hz: f64, scatter_hz: f64) -> Vec<Row> {
    (0..seconds)
        .map(|at| {
            let share = f64::from(at) / f64::from(seconds - 1);
            let scatter = f64::from(at * 7919 % 1009) / 504.0 - 1.0;
            let values = [
                (
                    Channel::FrequencyHz,
                    6e6 - fall_hz * share + scatter_hz * scatter,
                ),
                (Channel::BatteryV, 9.0 - share),
            ];
            row("counter", 1000 * at, &values, Status::Ok)
        })
        .collect()
}

#[test]
fn an_evening_without_trouble_leads_on_to_the_battery() {
    let compared = compared(Some(model(5.5e6, 6.5e6)), &falling(1200, 3200.0, 4.0));
    insta::assert_snapshot!(said(&compared, 80), @"
    bench, 1970-01-01 00:00 UTC
    Runs at 6.00 MHz, where the model expects it (5.5 to 6.5 MHz), at the predicted
    value. It never stopped.
    Over 20 min it fell by 3.2 kHz while the battery went from 9.00 V to 8.00 V.
    The trend is -9.6 kHz/h, by time and battery together.
    No data are missing, and no reading is in doubt.
    next, to see what the battery has left: sagtrace battery 'A 1'
    more: sagtrace compare out --detail
    ");
}

#[test]
fn a_fall_within_the_scatter_is_none_and_a_few_minutes_have_no_trend() {
    let compared = compared(None, &falling(300, 20.0, 40.0));
    insta::assert_snapshot!(said(&compared, 80), @"
    bench, 1970-01-01 00:00 UTC
    Runs at 6.000 MHz. There is no build sheet to compare it with. It never stopped.
    Over 5.0 min it stayed within 75 Hz while the battery went from 8.98 V to
    8.02 V.
    No data are missing, and no reading is in doubt.
    next, to describe the build: sagtrace sheet new build.toml
    more: sagtrace compare out --detail
    ");
}

#[test]
fn a_level_at_thrice_the_model_is_a_matter_of_the_instrument() {
    let compared = compared(Some(model(1.95e6, 2.05e6)), &falling(12, 0.0, 0.0));
    insta::assert_snapshot!(said(&compared, 80), @"
    bench, 1970-01-01 00:00 UTC
    The instrument reads 6.000 MHz, about three times what the model expects
    (1.95 to 2.05 MHz). It looks like a harmonic, or a gate setting; it says nothing
    against the coil. It never stopped.
    At 11 s, the recording is too short to show a drift.
    No data are missing, and no reading is in doubt.
    next, to check what the instrument counts: sagtrace ports --identify
    more: sagtrace compare out --detail
    ");
}

#[test]
fn a_level_outside_the_band_has_no_more_than_two_digits() {
    let compared = compared(Some(model(5.2e6, 5.8e6)), &falling(60, 0.0, 0.0));
    insta::assert_snapshot!(said(&compared, 80), @"
    bench, 1970-01-01 00:00 UTC
    Runs at 6.000 MHz, above the band that the model expects (5.20 to 5.80 MHz):
    9.1 % above the predicted 5.50 MHz. It never stopped.
    Over 59 s it did not move while the battery went from 8.92 V to 8.08 V.
    No data are missing, and no reading is in doubt.
    next, to find what changed: sagtrace diagnose --session out
    more: sagtrace compare out --detail
    ");
}

#[test]
fn a_coil_that_stayed_dark_and_a_session_without_rows_say_so() {
    let battery = [(Channel::BatteryV, 9.0)];
    let dark: Vec<Row> = (0..600)
        .map(|at| row("counter", 1000 * at, &battery, Status::NoSignal))
        .collect();
    let text = said(&compared(Some(model(5.2e6, 5.8e6)), &dark), 80);
    insta::assert_snapshot!(text + &said(&compared(None, &[]), 80), @r#"
    bench, 1970-01-01 00:00 UTC
    No frequency was read in 10 min: 600 of 600 rows say "no signal". The coil was
    dark, or its pick-up too far away.
    next, to find out why: sagtrace diagnose --session out
    more: sagtrace compare out --detail
    bench, 1970-01-01 00:00 UTC
    Nothing was recorded: the session has no row.
    next, to see whether the folder is whole: sagtrace check out
    more: sagtrace compare out --detail
    "#);
}

#[test]
fn more_than_fits_is_counted_on_a_narrow_screen_too() {
    let mut rows = falling(1200, 3200.0, 4.0);
    for at in 0..40_usize {
        rows[600 + at].readings.set(Channel::FrequencyHz, 5.93e6);
        rows[700 + at].status = Status::Suspect;
        rows[700 + at].note = Note::read("frequency_hz: stuck");
    }
    for (index, silent) in rows.iter_mut().enumerate().skip(1100).take(20) {
        *silent = row(
            "counter",
            1000 * i32::try_from(index).unwrap(),
            &[],
            Status::Silent,
        );
    }
    let mut compared = compared(Some(model(5.5e6, 6.5e6)), &rows);
    compared.lamps = ["neon", "tube", "bulb"]
        .map(|lamp| Sighting {
            at_s: 10.0,
            mark: LampMark {
                lamp: lamp.to_owned(),
                distance_m: 0.12,
            },
            battery_v: Some(8.99),
        })
        .to_vec();
    insta::assert_snapshot!(said(&compared, 80) + "\n" + &said(&compared, 40), @"
    bench, 1970-01-01 00:00 UTC
    Runs at 6.00 MHz, where the model expects it (5.5 to 6.5 MHz), at the predicted
    value. It never stopped while data came.
    Over 20 min it fell by 3.2 kHz while the battery went from 9.00 V to 8.00 V.
    The trend is -9.6 kHz/h, by time and battery together.
    Data are missing once, 20.0 s in all. In doubt: 40 readings, the first at
    0:11:40.0 (stuck).
    Something came near once (a hand, a lamp?): -68 kHz for 39 s, at 0:10:00.0.
    Lamp neon: lit from 12 cm at 8.99 V.
    Lamp tube: lit from 12 cm at 8.99 V.
    next, to see what the battery has left: sagtrace battery 'A 1'
    more (1 finding left out here): sagtrace compare out --detail

    bench, 1970-01-01 00:00 UTC
    Runs at 6.00 MHz, where the model
    expects it (5.5 to 6.5 MHz), at the
    predicted value. It never stopped while
    data came.
    Over 20 min it fell by 3.2 kHz while the
    battery went from 9.00 V to 8.00 V.
    The trend is -9.6 kHz/h, by time and
    battery together.
    Data are missing once, 20.0 s in all. In
    doubt: 40 readings, the first at
    0:11:40.0 (stuck).
    Something came near once (a hand, a
    lamp?): -68 kHz for 39 s, at 0:10:00.0.
    Lamp neon: lit from 12 cm at 8.99 V.
    Lamp tube: lit from 12 cm at 8.99 V.
    Lamp bulb: lit from 12 cm at 8.99 V.
    next, to see what the battery has left:
      sagtrace battery 'A 1'
    more: sagtrace compare out --detail
    ");
}
