use super::*;
use crate::battery::finished::Start;
use crate::battery::logbook::Entry;
use crate::battery::shipped;

const CLUB: OfSheet = OfSheet {
    kind: Kind::Alkaline,
    series: 1,
    printed_ah: None,
};

fn club() -> Evening {
    Evening::parse("4 x 6min every 15min").unwrap()
}

fn plan(kind: Kind, evening: &Evening, supply: &Supply) -> Plan {
    Plan::of(kind, evening, supply, &CLUB)
}

/// At 0.3 A the converter's 335 mAh are 67 minutes, and 66 % of them 44: own arithmetic on the published figures.
#[test]
fn a_typed_current_divides_the_charge() {
    let supply = Supply::Typed(Load::Current(0.3));
    let plan = plan(Kind::UsbConverter, &club(), &supply);
    let running_s = plan.running_s.unwrap();
    assert!((running_s.high / 60.0 - 67.0).abs() < 1e-9);
    assert!((running_s.low / 60.0 - 44.22).abs() < 1e-9);
    assert_eq!(plan.answer, Answer::Covered);
    assert_eq!(plan.sure_runs(&club()), 4);
    let left_s = plan.left_s(&club()).unwrap();
    assert!((left_s.low / 60.0 - 20.22).abs() < 1e-9);
    let share = plan.left_share(&club()).unwrap();
    assert!((share.high - 43.0 / 67.0).abs() < 1e-9);
}

#[test]
fn the_answer_follows_the_evenings_length() {
    let supply = Supply::Typed(Load::Current(0.3));
    let answer = |text| {
        let evening = Evening::parse(text).unwrap();
        plan(Kind::Nimh7, &evening, &supply).answer
    };
    // 66 % of 175 mAh to 300 mAh: 23.1 to 60 minutes.
    assert_eq!(answer("3 x 7min every 15min"), Answer::Covered);
    assert_eq!(answer("4 x 6min every 15min"), Answer::Depends);
    assert_eq!(answer("7 x 10min every 15min"), Answer::NotCovered);
    let zinc = plan(Kind::ZincCarbon, &club(), &supply);
    assert_eq!(zinc.answer, Answer::NotCovered);
    assert_eq!(zinc.running_s.unwrap().middle, None);
}

#[test]
fn the_spread_of_the_current_widens_the_range_and_its_voltage_moves_it() {
    let predicted = |keeps_running_v| Supply::Predicted {
        current: Current {
            low_a: 0.2,
            middle_a: 0.3,
            high_a: 0.4,
        },
        open_v: 9.0,
        keeps_running_v,
        loaded_ratio: 1.0,
    };
    let usb = plan(Kind::UsbConverter, &club(), &predicted(None));
    let running_s = usb.running_s.unwrap();
    assert!((running_s.high / 60.0 - 100.5).abs() < 1e-9);
    assert!((running_s.low / 60.0 - 0.66 * 50.25).abs() < 1e-9);
    let six = plan(Kind::Nimh6, &club(), &predicted(Some(6.1)));
    assert!((six.current.unwrap().middle_a - 0.24).abs() < 1e-12);
    // No curve of this kind ships, so that nothing says how much of its charge lies above.
    let stop = six.stops_early.unwrap();
    assert_eq!((stop.share, six.running_s.unwrap().middle), (None, None));
    assert_eq!(six.answer, Answer::Depends);
    // A full one of this kind has 8.4 V at most.
    let too_few = plan(Kind::Nimh6, &club(), &predicted(Some(8.5)));
    assert_eq!(
        (too_few.answer, too_few.current),
        (Answer::TooFewVolts, None)
    );
}

/// The simulated lithium-ion curves cross 7.0 V at a share of their run that their own table gives.
#[test]
fn a_coil_that_stops_early_gets_the_part_of_the_run_above_its_stop() {
    let whole = plan(
        Kind::LiIon2s,
        &club(),
        &Supply::Typed(Load::Resistance(30.0)),
    );
    let predicted = Supply::Predicted {
        current: Current::just(0.3),
        open_v: 9.0,
        keeps_running_v: Some(7.2),
        loaded_ratio: 7.0 / 7.2,
    };
    let cut = plan(Kind::LiIon2s, &club(), &predicted);
    let stop = cut.stops_early.unwrap();
    let share = stop.share.unwrap();
    assert!((stop.loaded_v - 7.0).abs() < 1e-9, "{stop:?}");
    // The curves themselves span 0.528 to 0.781; by the curves of other load rates alone that holds 5 of the 9.
    assert!(share.low < 0.528 && 0.781 < share.high, "{share:?}");
    assert!(share.widening > 1.0 && share.held.is_enough(), "{share:?}");
    assert!(
        (share.low..=share.high).contains(&share.middle),
        "{share:?}"
    );
    let (whole_s, cut_s) = (whole.running_s.unwrap(), cut.running_s.unwrap());
    assert!((cut_s.low / whole_s.low - share.low).abs() < 1e-9);
    assert!((cut_s.high / whole_s.high - share.high).abs() < 1e-9);
    let alkaline = plan(Kind::Alkaline, &club(), &predicted)
        .stops_early
        .unwrap();
    assert!(alkaline.share.unwrap().low > 0.0, "{alkaline:?}");
}

#[test]
fn a_coil_that_stops_above_what_a_curve_begins_at_gets_next_to_nothing_of_it() {
    let share = Share::above(&shipped::finished(Kind::LiIon2s), 8.4).unwrap();
    assert!(share.high < 0.01, "{share:?}");
    assert_eq!(Share::above(&[], 7.0), None);
}

#[test]
fn two_in_series_double_the_voltage_and_not_the_charge() {
    let two = OfSheet { series: 2, ..CLUB };
    let supply = Supply::Typed(Load::Resistance(30.0));
    let plan = Plan::of(Kind::Alkaline, &club(), &supply, &two);
    assert!((plan.current.unwrap().middle_a - 0.6).abs() < 1e-12);
    assert!((plan.nominal_v - 18.0).abs() < 1e-12);
}

/// Two full runs of an invented N2, 40 and 36 minutes at 0.3 A: the last, 180 mAh, less and more a tenth.
#[test]
fn a_battery_is_judged_by_its_own_last_full_run() {
    let run = |day: u32, minutes: f64| Entry {
        folder: format!("2026010{day}T190000Z-glow-pillar"),
        started: format!("2026-01-0{day}T19:00:00.000Z"),
        battery: "N2".to_owned(),
        kind: Some(Kind::Nimh7),
        series: 1,
        rated_ah: None,
        start: Start::Full,
        simulated: true,
        closed: true,
        end_v: Some(7.0),
        running_s: 60.0 * minutes,
        reached_s: Some(60.0 * minutes),
        asked_v: None,
        build: None,
        stopped: None,
        first_v: None,
        last_v: None,
        least_v: None,
        charge_ah: Some(0.3 * minutes / 60.0),
        energy_wh: None,
        current_a: Some(0.3),
        estimated: false,
        missing_s: 0.0,
        resistance_ohm: None,
        pulse_s: None,
    };
    let book = Logbook::by_battery(vec![run(1, 40.0), run(2, 36.0)]).remove(0);
    let supply = Supply::Typed(Load::Current(0.3));
    let own = Plan::of_own(&book, &club(), &supply, &CLUB).unwrap();
    let minutes = own.running_s.unwrap();
    assert!((minutes.low / 60.0 - 32.4).abs() < 1e-9);
    assert!((minutes.middle.unwrap() / 60.0 - 36.0).abs() < 1e-9);
    assert!((minutes.high / 60.0 - 39.6).abs() < 1e-9);
    assert_eq!(
        (own.answer, own.name().as_str()),
        (Answer::Covered, "N2, nimh-7, simulated")
    );
    let real = Entry {
        simulated: false,
        ..run(1, 40.0)
    };
    let books = Logbook::by_battery(vec![real, run(2, 36.0)]);
    let real = Plan::of_own(&books[0], &club(), &supply, &CLUB).unwrap();
    assert_eq!(real.name(), "N2, nimh-7");
    assert_eq!(real.running_s.unwrap().middle, Some(40.0 * 60.0));
    let mut early = run(1, 40.0);
    early.reached_s = None;
    let book = Logbook::by_battery(vec![early]).remove(0);
    assert_eq!(Plan::of_own(&book, &club(), &supply, &CLUB), None);
}

#[test]
fn a_time_whose_foot_is_next_to_nothing_has_no_middle() {
    let range = |low| Range {
        low,
        middle: Some(600.0),
        high: 3600.0,
    };
    assert_eq!(range(20.0).without_idle_middle().middle, None);
    assert_eq!(range(40.0).without_idle_middle().middle, Some(600.0));
}
