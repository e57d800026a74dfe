use super::super::testing::row;
use super::*;
use crate::analysis::level::{BandPlace, Deviation};
use crate::coil::Route;
use crate::coil::surroundings::EarthState;

fn model() -> Resonance {
    Resonance {
        value_hz: 6.0e6,
        low_hz: 5.9e6,
        high_hz: 6.1e6,
        route: Route::Measured,
    }
}

/// Invented: half a minute at 6.05 MHz, then half a minute above the band.
fn session(model: Option<Resonance>) -> Compare {
    let mut compare = Compare::new(model, Pairing::new());
    for i in 0..60 {
        let hertz = if i < 30 { 6.05e6 } else { 6.15e6 } + f64::from(i * 37 % 11);
        compare.push(&[row(
            "scope",
            f64::from(i),
            Some(hertz),
            Some(9.0),
            Status::Ok,
        )]);
    }
    compare
}

#[test]
fn the_start_is_set_against_the_model_with_its_interval() {
    let report = session(Some(model())).report();
    let start = report.start.unwrap();
    assert_eq!(start.readings, 11, "0 to 10 s, both included");
    let half_width_hz = start.half_width_hz.unwrap();
    assert!(
        (start.mean_hz - 6.050005e6).abs() < half_width_hz,
        "{start:?}"
    );
    let deviation = Deviation::of(start.mean_hz, &model());
    assert_eq!(deviation.place, BandPlace::Inside);
    assert!((deviation.ratio - 0.05 / 6.0).abs() < 1e-5, "{deviation:?}");
}

#[test]
fn the_whole_has_its_extremes_and_the_share_inside_the_band() {
    let report = session(Some(model())).report();
    let whole = report.whole.unwrap();
    assert_eq!((whole.low_hz, whole.high_hz), (6.05e6, 6.15001e6));
    assert_eq!(report.inside_share, Some(0.5));
    assert_eq!(whole.half_width_hz, None);
}

#[test]
fn each_stretch_is_judged_against_its_own_model() {
    let held = Resonance {
        value_hz: 6.15e6,
        low_hz: 6.12e6,
        high_hz: 6.2e6,
        ..model()
    };
    let stretch = |from_s, earth, model| Stretch {
        from_s,
        earth: Some(earth),
        model: Some(model),
    };
    let plan = vec![
        stretch(f64::NEG_INFINITY, EarthState::Earthed, model()),
        stretch(30.0, EarthState::Held, held),
    ];
    let mut compare = Compare::in_stretches(plan, Pairing::new());
    for i in 0..60 {
        let hertz = if i < 30 { 6.05e6 } else { 6.15e6 } + f64::from(i * 37 % 11);
        let at_s = f64::from(i);
        compare.push(&[row("scope", at_s, Some(hertz), Some(9.0), Status::Ok)]);
    }
    let report = compare.report();
    assert_eq!(report.inside_share, Some(1.0));
    let [earthed, held] = report.stretches.as_slice() else {
        panic!("{:?}", report.stretches);
    };
    assert_eq!((earthed.to_s, held.to_s), (Some(30.0), None));
    assert!((earthed.whole.unwrap().high_hz - 6.05001e6).abs() < 1e-6);
    assert_eq!(held.start.unwrap().readings, 11, "its own first 10 s");
    assert_eq!(held.inside_share, Some(1.0));
    assert_eq!(report.whole.unwrap().readings, 60);
    assert_eq!(report.start, earthed.start);
    // Against one model for all, half of them were outside; see above.
    assert_eq!(report.longest, 0);
}

#[test]
fn without_a_model_the_drift_is_still_there() {
    let report = session(None).report();
    assert_eq!(report.inside_share, None);
    assert!(report.whole.is_some());
    assert_eq!(report.interval_s, Some(1.0));
}

#[test]
fn readings_that_wait_for_a_voltage_are_in_the_live_report_too() {
    let mut compare = Compare::new(None, Pairing::new());
    for i in 0..5 {
        compare.push(&[row("counter", f64::from(i), Some(6e6), None, Status::Ok)]);
    }
    assert_eq!(compare.report().whole.unwrap().readings, 5);
    assert_eq!(compare.traces().frequency.pieces().concat().len(), 5);
}

#[test]
fn chunks_of_one_and_one_chunk_give_the_same_report() {
    let rows: Vec<_> = (0..200)
        .map(|i| {
            let (source, hertz, volts) = match i % 3 {
                0 => ("meter", None, Some(9.0 - f64::from(i) * 0.001)),
                _ => ("counter", Some(6e6 + f64::from(i * 37 % 11)), None),
            };
            row(source, f64::from(i) * 0.2, hertz, volts, Status::Ok)
        })
        .collect();
    let (mut live, mut folder) = (Compare::default(), Compare::default());
    rows.chunks(1).for_each(|one| live.push(one));
    folder.push(&rows);
    let (live, folder) = (live.report(), folder.report());
    assert_eq!((live.start, live.whole), (folder.start, folder.whole));
    assert_eq!((live.drift, live.pairing), (folder.drift, folder.pairing));
}
