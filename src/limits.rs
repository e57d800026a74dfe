//! Published reference levels for the effects of a coil on people, radio and probes. They are figures to compare with, and no
//! proof that a build may be run: local codes and people who are qualified come first.

/// Current through a person who touches it, in amperes, at two levels of protection.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ContactCurrent {
    /// The limit for everybody.
    pub public_a: f64,
    /// The limit for workers, or for trained people in restricted areas who grasp it.
    pub trained_a: f64,
}

/// Reference levels for contact current at a frequency in hertz: ICNIRP 2010, 100 kHz to 10 MHz; `None` outside.
pub fn contact_icnirp(frequency_hz: f64) -> Option<ContactCurrent> {
    (100e3..=10e6)
        .contains(&frequency_hz)
        .then_some(ContactCurrent {
            public_a: 20e-3,
            trained_a: 40e-3,
        })
}

/// Limits for contact current at a frequency in hertz; `None` outside. The source is IEEE C95.1-2345 (2014) as tabulated by Tell
/// and Tell, Biomed. Eng. `OnLine` 2018, table 2. The limits are for touch by the public, mean over 1 s, and for grasp by trained
/// people. They are constant from 0.1 to 3 MHz, and rise from there to 30 MHz as (f / 3 MHz)^0.3. The table's note says that even
/// a light brush can arc and burn at 50 mA.
pub fn contact_ieee(frequency_hz: f64) -> Option<ContactCurrent> {
    let rise = (frequency_hz / 3e6).max(1.0).powf(0.3);
    (100e3..=30e6)
        .contains(&frequency_hz)
        .then_some(ContactCurrent {
            public_a: 16.7e-3 * rise,
            trained_a: 100e-3 * rise,
        })
}

/// A field, root mean square.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Field {
    /// Electric, in volts per metre.
    pub electric_v_per_m: f64,
    /// Magnetic, in amperes per metre.
    pub magnetic_a_per_m: f64,
}

/// Local reference levels for the public at a frequency in hertz, mean over 6 min; `None` outside 0.1 to 30 MHz. By ICNIRP 2020
/// they are 671 / f^0.7 V/m and 4.9 / f A/m with f in MHz.
pub fn local_field(frequency_hz: f64) -> Option<Field> {
    let mega = frequency_hz / 1e6;
    (0.1..=30.0).contains(&mega).then(|| Field {
        electric_v_per_m: 671.0 / mega.powf(0.7),
        magnetic_a_per_m: 4.9 / mega,
    })
}

/// Electric field averaged over the body and 30 min, public, root mean square in volts per metre, at a frequency in hertz. By
/// ICNIRP 2020 it is 300 / f^0.7 with f in MHz, 0.1 to 30 MHz, from memory; `None` outside.
pub fn whole_body_v_per_m(frequency_hz: f64) -> Option<f64> {
    let mega = frequency_hz / 1e6;
    (0.1..=30.0).contains(&mega).then(|| 300.0 / mega.powf(0.7))
}

/// Electric field at any moment, against stimulated nerves, public, root mean square in volts per metre, at a frequency in hertz.
/// By ICNIRP 2010, which the guidelines of 2020 keep, it is 83 V/m up to 10 MHz, from memory. It is asked for from 0.1 MHz here;
/// `None` outside.
pub fn nerves_v_per_m(frequency_hz: f64) -> Option<f64> {
    (0.1e6..=10e6).contains(&frequency_hz).then_some(83.0)
}

/// The field that may be radiated in the US between 1.705 and 10 MHz, in volts per metre at 30 m (47 CFR 15.223). It is 100 uV/m
/// unless the bandwidth at 6 dB is below a tenth of the frequency. Then it is the greater of 15 uV/m and, in uV/m, the
/// bandwidth's kilohertz over the frequency's megahertz. Both arguments are in hertz; `None` outside the band.
pub fn radiated_v_per_m(frequency_hz: f64, bandwidth_hz: f64) -> Option<f64> {
    let micro = if bandwidth_hz < 0.1 * frequency_hz {
        (bandwidth_hz / 1e3 / (frequency_hz / 1e6)).max(15.0)
    } else {
        100.0
    };
    (1.705e6..=10e6)
        .contains(&frequency_hz)
        .then_some(micro * 1e-6)
}

/// The share of its frequency that a resonator keeps with a capacitance added: sqrt(C / (C + dC)), both in farads, its inductance
/// unchanged.
pub fn detuning(own_f: f64, added_f: f64) -> f64 {
    (own_f / (own_f + added_f)).sqrt()
}

/// The least peak voltage that breaks down a gap in air at normal pressure, in volts: Paschen's minimum, at low frequency, a
/// published figure.
pub const PASCHEN_MINIMUM_V: f64 = 327.0;

/// The gap that it does at, in metres; wider and narrower gaps want more.
pub const PASCHEN_MINIMUM_M: f64 = 7.5e-6;

/// The least sine that a counter usually counts, root mean square in volts: 50 mV (common practice, no source). Counters differ from
/// 10 to 100 mV, and many need more above 10 MHz.
pub const COUNTER_NEEDS_RMS_V: f64 = 0.05;

/// The voltage that a counter's input typically stands at megahertz, root mean square in volts: 5 V (common practice, no source).
pub const COUNTER_STANDS_RMS_V: f64 = 5.0;

/// The voltage that a probe that divides by ten is typically rated for at low frequency, in volts: 300 V (common practice, no
/// source). The rating falls with frequency.
pub const PROBE_STANDS_V: f64 = 300.0;

/// Peak voltage over needle gap: volt, metre. AIEE table, in air at 25 C and 760 mmHg.
const NEEDLES: [(f64, f64); 2] = [(10e3, 8.5e-3), (25e3, 22.0e-3)];

/// The gap between needles that a peak voltage in volts breaks down, in metres, straight between the table's rows; `None` outside
/// them. At radio frequency less is enough: a spark's length is no voltmeter to rely on.
pub fn needle_gap_m(peak_v: f64) -> Option<f64> {
    let [low, high] = NEEDLES;
    let share = (peak_v - low.0) / (high.0 - low.0);
    (0.0..=1.0)
        .contains(&share)
        .then_some(low.1 + share * (high.1 - low.1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outside_its_range_no_level_is_given() {
        assert_eq!(contact_icnirp(13.56e6), None);
        assert_eq!(contact_ieee(50e3), None);
        assert_eq!(local_field(50e3), None);
        assert_eq!(radiated_v_per_m(13.56e6, 1e3), None);
        assert_eq!(needle_gap_m(30e3), None);
    }

    #[test]
    fn levels_do_not_jump_where_a_formula_changes() {
        let (below, above) = (contact_ieee(2.999e6), contact_ieee(3.001e6));
        let (below, above) = (below.unwrap().public_a, above.unwrap().public_a);
        assert!((above / below - 1.0).abs() < 1e-3);
    }
}
