use super::super::testing::{Noise, row};
use super::*;
use crate::reading::Note;

fn flags(stale: StaleRule) -> Flags {
    let mut flags = Flags::default();
    let rules = [Channel::FrequencyHz, Channel::BatteryV].map(|channel| Rule {
        stale,
        ..Rule::usual(channel)
    });
    flags.add("scope".into(), rules);
    flags
}

fn judged(flags: &mut Flags, values: &[(f64, f64)]) -> Vec<(Status, String)> {
    let judge = |(i, &(hertz, volts)): (usize, &(f64, f64))| {
        let mut row = row("scope", i as f64, Some(hertz), Some(volts), Status::Ok);
        flags.judge(&mut row);
        (row.status, row.note.to_string())
    };
    values.iter().enumerate().map(judge).collect()
}

fn doubted(values: &[(f64, f64)]) -> Vec<(usize, Status, String)> {
    let all = judged(&mut flags(StaleRule::Usual), values);
    let all = all.into_iter().enumerate();
    all.filter(|(_, (status, _))| *status != Status::Ok)
        .map(|(i, (status, note))| (i, status, note))
        .collect()
}

/// Invented: 6.23 MHz with 3 Hz of scatter read to `digit` hertz, drifting by `drift` hertz a reading; 8 V.
fn counter(count: usize, digit: f64, drift: f64) -> Vec<(f64, f64)> {
    let mut noise = Noise(1234567890);
    (0..count)
        .map(|i| {
            let hertz = 6.23e6 + drift * i as f64 + 3.0 * noise.unit();
            ((hertz / digit).round() * digit, 8.0)
        })
        .collect()
}

#[test]
fn a_damaged_line_that_still_reads_is_suspect_and_only_in_the_channel_that_it_changed() {
    let mut values = counter(40, 0.1, 0.0);
    // A corrupted line that was measured to stay well formed: 0.91 V where about 8 V was sent.
    values[20].1 = 0.91;
    values[30].0 = 1.23e6;
    let doubted = doubted(&values);
    assert_eq!(
        doubted,
        [
            (
                20,
                Status::Suspect,
                "battery_v: 910.0 mV after 8.000 V".to_owned()
            ),
            (
                30,
                Status::Suspect,
                "frequency_hz: 1.230 MHz after 6.230 MHz".to_owned()
            ),
        ]
    );
}

#[test]
fn a_hand_that_takes_18_khz_off_at_once_or_per_cents_in_a_sweep_is_not_doubted() {
    let mut values = counter(60, 0.1, 0.0);
    values[30..].iter_mut().for_each(|value| value.0 -= 18e3);
    assert_eq!(doubted(&values), []);
    for (i, value) in values.iter_mut().enumerate().skip(40) {
        value.0 *= 1.0 - 0.04 * (i as f64 - 40.0).sin().abs();
    }
    assert_eq!(doubted(&values), []);
}

#[test]
fn a_new_level_costs_one_doubted_row() {
    let mut values = counter(60, 0.1, 0.0);
    // A fresh battery is put in, and a probe clipped on.
    values[20..].iter_mut().for_each(|value| value.1 = 12.4);
    values[40..].iter_mut().for_each(|value| value.0 *= 0.4);
    let rows: Vec<_> = doubted(&values).iter().map(|doubt| doubt.0).collect();
    assert_eq!(rows, [20, 40]);
}

#[test]
fn scatter_as_wide_as_a_jump_is_no_jump() {
    let mut noise = Noise(7);
    let values: Vec<_> = (0..2000)
        .map(|_| (6e6 * (1.0 + 0.08 * noise.unit()), 8.0))
        .collect();
    let count = doubted(&values).len();
    // Beyond 10 % lie 21 % of them; beyond five standard deviations taken from nine readings, few.
    assert!(count < 60, "{count} of 2000");
}

#[test]
fn what_cannot_be_is_suspect_however_often_it_comes() {
    let values = [
        (6e6, 8.0),
        (6e6, 44.0),
        (6e6, 44.0),
        (6e6, 44.0),
        (9e8, 8.0),
    ];
    let told: Vec<_> = doubted(&values).into_iter().map(|doubt| doubt.2).collect();
    assert_eq!(
        told,
        [
            "battery_v: 44.00 V, outside 0 V to 30 V",
            "battery_v: 44.00 V, outside 0 V to 30 V",
            "battery_v: 44.00 V, outside 0 V to 30 V",
            "frequency_hz: 900.0 MHz, outside 100 kHz to 100 MHz",
        ]
    );
}

#[test]
fn a_value_that_hangs_is_stale_from_the_tenth_time_until_it_moves() {
    let mut values = counter(100, 0.1, -1.5);
    let hung = values[50].0;
    values[50..75].iter_mut().for_each(|value| value.0 = hung);
    let doubted = doubted(&values);
    let rows: Vec<_> = doubted.iter().map(|doubt| doubt.0).collect();
    assert_eq!(rows, (59..75).collect::<Vec<_>>());
    assert_eq!(
        (doubted[0].1, doubted[0].2.as_str()),
        (Status::Stale, "frequency_hz: the same 10 times in a row")
    );
}

#[test]
fn a_coarse_counter_that_truly_reads_the_same_is_not_stale() {
    // Never another digit; one now and then; a start that drifts by whole digits and comes to rest.
    for digit in [10.0, 100.0, 1000.0] {
        for drift in [0.0, -0.5] {
            assert_eq!(
                doubted(&counter(2000, digit, drift)),
                [],
                "{digit} Hz, {drift} Hz"
            );
        }
    }
    let mut noise = Noise(3);
    let settling: Vec<_> = (0..600_i32)
        .map(|i| {
            let off = 5000.0 * (-f64::from(i) / 15.0).exp() + 3.0 * noise.unit();
            (
                (6.23e6_f64 + off / 100.0 * 100.0).div_euclid(100.0) * 100.0,
                8.0,
            )
        })
        .collect();
    assert_eq!(doubted(&settling), []);
}

#[test]
fn a_profile_says_after_how_many_or_never() {
    let values = [(6e6, 8.0); 6];
    let rows = judged(&mut flags(StaleRule::After(4)), &values);
    let stale: Vec<_> = rows.iter().map(|row| row.0 == Status::Stale).collect();
    assert_eq!(stale, [false, false, false, true, true, true]);
    assert_eq!(
        rows[3].1,
        "frequency_hz: the same 4 times in a row; battery_v: the same 4 times in a row"
    );
    let mut hung = counter(60, 0.1, 0.0);
    hung.extend([hung[59]; 40]);
    let rows = judged(&mut flags(StaleRule::Never), &hung);
    assert!(rows.iter().all(|row| row.0 == Status::Ok));
}

#[test]
fn a_graver_status_stays_and_the_doubt_stands_in_the_note() {
    for status in [
        Status::NoSignal,
        Status::Silent,
        Status::Refused,
        Status::Garbled,
        Status::Overload,
    ] {
        let mut flags = flags(StaleRule::Usual);
        judged(&mut flags, &[(6e6, 8.0); 5]);
        let mut silent = Row {
            note: Note::read("frequency_hz: no signal"),
            ..row("scope", 9.0, None, Some(0.91), status)
        };
        flags.judge(&mut silent);
        assert_eq!(silent.status, status);
        assert_eq!(
            silent.note.to_string(),
            "frequency_hz: no signal; battery_v: 910.0 mV after 8.000 V"
        );
        assert_eq!(silent.battery_v(), None);
    }
}

#[test]
fn after_a_gap_or_a_silent_coil_the_next_level_is_as_good_as_the_last() {
    for status in [Status::Gap, Status::NoSignal] {
        let mut flags = flags(StaleRule::Usual);
        judged(&mut flags, &[(6e6, 8.0); 9]);
        flags.judge(&mut row("scope", 9.0, None, None, status));
        let after = judged(&mut flags, &[(4e6, 8.0), (4e6, 8.0)]);
        assert!(
            after.iter().all(|row| row.0 == Status::Ok),
            "{status}: {after:?}"
        );
    }
}

#[test]
fn an_instrument_without_rules_is_not_judged() {
    let mut other = row("other", 0.0, Some(1.0), Some(99.0), Status::Ok);
    flags(StaleRule::Usual).judge(&mut other);
    assert_eq!(other.status, Status::Ok);
}
