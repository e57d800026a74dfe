//! The frequency of a waveform, against a converged fit by another hand, and against the least error that there can be.
//!
//! W1 to W5: waveforms from a portable generator; the expected values are those of a least-squares fit in numpy that was
//! carried on until nothing moved, started from other formulas than ours (computed, not published). The Cramér-Rao bound:
//! D. C. Rife and R. R. Boorstyn, IEEE Trans. Inf. Theory IT-20 (1974); for real sines S. M. Kay, Fundamentals of
//! Statistical Signal Processing: Estimation Theory (1993), example 3.14 (both from memory).

use std::f64::consts::TAU;

use sagtrace::tone::{NoTone, Rails, find, fit, peak};

use crate::noise::Noise;

const EIGHT_BITS: Rails = Rails {
    low: -128.0,
    high: 127.0,
};

const NO_RAILS: Rails = Rails {
    low: f64::NEG_INFINITY,
    high: f64::INFINITY,
};

/// A waveform: samples, cycles a sample, amplitude, noise, constant, and harmonics as order, share and phase.
struct Wave<'h> {
    length: usize,
    cycles_per_sample: f64,
    phase: f64,
    amplitude: f64,
    noise_sd: f64,
    mean: f64,
    harmonics: &'h [(f64, f64, f64)],
}

impl Wave<'_> {
    const fn new(length: usize, cycles_per_sample: f64, amplitude: f64, noise_sd: f64) -> Self {
        Self {
            length,
            cycles_per_sample,
            phase: 1.0,
            amplitude,
            noise_sd,
            mean: 0.0,
            harmonics: &[],
        }
    }

    fn samples(&self, chance: &mut Noise) -> Vec<f64> {
        (0..self.length)
            .map(|index| {
                let angle = TAU * self.cycles_per_sample * index as f64 + self.phase;
                let harmonics: f64 = self
                    .harmonics
                    .iter()
                    .map(|(order, share, phase)| {
                        self.amplitude * share * (order * angle + phase).cos()
                    })
                    .sum();
                self.amplitude * angle.cos() + harmonics + self.mean + self.noise_sd * chance.unit()
            })
            .collect()
    }

    /// As an eight-bit converter sees it; the generator begins with the same number each time.
    fn codes(&self, sum: f64, squares: f64) -> Vec<f64> {
        let codes: Vec<f64> = self
            .samples(&mut Noise(1_234_567_890))
            .into_iter()
            .map(|sample| (sample + 0.5).floor().clamp(-128.0, 127.0))
            .collect();
        // Sums told with the expected values: the waveform is the one they are for.
        assert!((codes.iter().sum::<f64>() - sum).abs() < 0.5);
        let total: f64 = codes.iter().map(|code| code * code).sum();
        assert!((total - squares).abs() < 0.5);
        codes
    }

    /// The least standard deviation of the frequency with white noise, in cycles a sample.
    fn bound(&self) -> f64 {
        let size: f64 = 1.0
            + self
                .harmonics
                .iter()
                .map(|(order, share, _)| (order * share).powi(2))
                .sum::<f64>();
        let n = self.length as f64;
        let snr = self.amplitude.powi(2) * size / (2.0 * self.noise_sd.powi(2));
        (12.0 / (snr * n * (n * n - 1.0))).sqrt() / TAU
    }
}

fn close(got: f64, want: f64, relative: f64, what: &str) {
    assert!(
        (got / want - 1.0).abs() <= relative,
        "{what}: {got} instead of {want}, off by {:e}",
        got / want - 1.0
    );
}

#[test]
fn a_noisy_sine_gives_the_frequency_of_the_converged_fit() {
    let mut wave = Wave::new(1024, 0.0637, 100.0, 5.0);
    wave.mean = 3.0;
    let codes = wave.codes(2947.0, 5_155_775.0);
    assert_eq!(
        codes[..8],
        [52.0, 17.0, -19.0, -51.0, -84.0, -102.0, -103.0, -80.0]
    );
    let start = peak(&codes).unwrap();
    assert_eq!(start.bin, 65);
    close(
        start.cycles_per_sample,
        0.063701477152,
        2e-11,
        "W1 peak, by Candan's formula",
    );
    let tone = fit(&codes, start.cycles_per_sample, 1, None).unwrap();
    close(
        tone.cycles_per_sample,
        0.063698942754,
        1e-10,
        "W1 frequency",
    );
    close(tone.cycles_per_sample_se, 1.147e-6, 5e-4, "W1 error");
    close(
        tone.fundamental().amplitude,
        100.156363,
        1e-8,
        "W1 amplitude",
    );
    close(tone.mean, 2.861699, 2e-7, "W1 mean");
    close(tone.residual_sd, 4.845883, 2e-7, "W1 residual");
}

#[test]
fn a_long_quiet_record_gives_the_frequency_of_the_converged_fit() {
    let mut wave = Wave::new(4096, 0.0123, 60.0, 1.0);
    wave.mean = -7.0;
    let codes = wave.codes(-29455.0, 7_583_155.0);
    let tone = fit(&codes, peak(&codes).unwrap().cycles_per_sample, 1, None).unwrap();
    close(
        tone.cycles_per_sample,
        0.012300004511,
        1e-10,
        "W2 frequency",
    );
    close(tone.cycles_per_sample_se, 5.137e-8, 5e-4, "W2 error");
    close(
        tone.fundamental().amplitude,
        60.001765,
        2e-8,
        "W2 amplitude",
    );
    close(tone.mean, -6.995781, 2e-7, "W2 mean");
}

#[test]
fn harmonics_are_fitted_with_the_fundamental() {
    let mut wave = Wave::new(1024, 0.0317, 70.0, 2.0);
    wave.harmonics = &[(2.0, 0.30, 0.7), (3.0, 0.15, 1.9)];
    let codes = wave.codes(-507.0, 2_780_509.0);
    let start = peak(&codes).unwrap().cycles_per_sample;
    for (harmonics, want) in [
        (1, 0.031700498255),
        (3, 0.031699668019),
        (5, 0.031699674957),
    ] {
        let tone = fit(&codes, start, harmonics, None).unwrap();
        close(tone.cycles_per_sample, want, 1e-10, "W3 frequency");
        if harmonics == 3 {
            close(tone.cycles_per_sample_se, 5.385e-7, 5e-4, "W3 error");
            for (harmonic, want) in tone.harmonics.iter().zip([70.028246, 21.050190, 10.411878]) {
                close(harmonic.amplitude, want, 1e-7, "W3 amplitude");
            }
        }
    }
    let found = find(&codes, 1.0, EIGHT_BITS).unwrap();
    close(
        found.cycles_per_sample,
        0.031699674957,
        1e-10,
        "five harmonics have room",
    );
}

#[test]
fn two_and_a_half_cycles_are_enough() {
    let codes = Wave::new(1024, 2.5 / 1024.0, 100.0, 3.0).codes(-10996.0, 5_121_844.0);
    let start = peak(&codes).unwrap().cycles_per_sample;
    close(start, 0.002449677805, 1e-9, "W4 peak, by Candan's formula");
    let tone = fit(&codes, start, 1, None).unwrap();
    close(tone.cycles_per_sample, 0.002441108195, 1e-9, "W4 frequency");
    close(tone.cycles_per_sample_se, 6.989e-7, 5e-4, "W4 error");
}

#[test]
fn clipped_samples_are_left_out() {
    let codes = Wave::new(1024, 0.0411, 200.0, 2.0).codes(-136.0, 11_919_058.0);
    let start = peak(&codes).unwrap().cycles_per_sample;
    let plain = fit(&codes, start, 1, None).unwrap();
    close(
        plain.cycles_per_sample,
        0.041099308344,
        1e-10,
        "W5 with the clipped samples",
    );
    let masked = find(&codes, 1.0, EIGHT_BITS).unwrap();
    close(
        masked.cycles_per_sample,
        0.041099555499,
        1e-10,
        "W5 without them",
    );
    assert_eq!(masked.used, 452);
    let error = (masked.cycles_per_sample - 0.0411) / masked.cycles_per_sample_se;
    assert!(error.abs() < 3.0, "{error} standard errors");
    close(
        masked.fundamental().amplitude,
        200.0,
        0.01,
        "the top that was not seen",
    );
}

/// Root mean square error over the bound, and the variance of the error in units of the error told.
fn quality(wave: &mut Wave<'_>, trials: usize, seed: u64) -> (f64, f64) {
    let mut chance = Noise(seed);
    let (mut errors, mut honest) = (0.0, 0.0);
    for _ in 0..trials {
        wave.phase = TAU * chance.uniform();
        wave.cycles_per_sample = 0.02 + 0.06 * chance.uniform();
        let tone = find(&wave.samples(&mut chance), 0.0, NO_RAILS).unwrap();
        let error = tone.cycles_per_sample - wave.cycles_per_sample;
        errors += (error / wave.bound()).powi(2);
        honest += (error / tone.cycles_per_sample_se).powi(2);
    }
    ((errors / trials as f64).sqrt(), honest / trials as f64)
}

/// With 2000 trials the ratio is known to 1/√4000 = 1.6 %, the variance to √(2/2000) = 3.2 %: both bands are three wide.
#[test]
fn the_error_is_the_least_there_can_be_and_is_told_honestly() {
    let shapes: [&[(f64, f64, f64)]; 2] = [&[], &[(2.0, 0.30, 0.7), (3.0, 0.15, 1.9)]];
    for (index, harmonics) in shapes.into_iter().enumerate() {
        for (decibels, seed) in [(10.0, 11), (20.0, 12), (40.0, 13)] {
            let noise_sd = 10.0_f64.powf(-decibels / 20.0) / 2.0_f64.sqrt();
            let mut wave = Wave::new(256, 0.05, 1.0, noise_sd);
            wave.harmonics = harmonics;
            let (ratio, honest) = quality(&mut wave, 2000, seed + 100 * index as u64);
            println!(
                "{decibels} dB, {} harmonics: {ratio:.4} of the bound, honest {honest:.4}",
                harmonics.len()
            );
            assert!(
                (0.952..=1.048).contains(&ratio),
                "{decibels} dB: {ratio} times the bound"
            );
            assert!((0.904..=1.096).contains(&honest), "{decibels} dB: {honest}");
        }
    }
}

#[test]
fn noise_and_nothing_and_half_a_cycle_give_no_frequency() {
    let mut chance = Noise(7);
    for _ in 0..500 {
        let noise: Vec<f64> = (0..512).map(|_| chance.unit()).collect();
        assert_eq!(find(&noise, 0.0, NO_RAILS), Err(NoTone::Noise));
    }
    assert_eq!(find(&[3.0; 1000], 1.0, EIGHT_BITS), Err(NoTone::Noise));
    assert_eq!(
        find(&[1.0, -1.0, 1.0], 1.0, EIGHT_BITS),
        Err(NoTone::TooShort)
    );
    let slope: Vec<f64> = (0..1000).map(f64::from).collect();
    let refused = find(&slope, 1.0, NO_RAILS).unwrap_err();
    assert!(
        matches!(refused, NoTone::TooFewCycles | NoTone::Unsettled),
        "{refused:?}"
    );
}

/// A sine whose second harmonic is the strongest line, and the share of it that the fundamental has.
fn led_by_the_second(share: f64, decibels: f64, chance: &mut Noise) -> (f64, Vec<f64>) {
    let order = (2.0, 1.0 / share, TAU * chance.uniform());
    let harmonics = [order];
    let noise_sd = 10.0_f64.powf(-decibels / 20.0) / 2.0_f64.sqrt();
    let mut wave = Wave::new(1024, 0.01 + 0.06 * chance.uniform(), share, noise_sd);
    wave.phase = TAU * chance.uniform();
    wave.harmonics = &harmonics;
    (wave.cycles_per_sample, wave.samples(chance))
}

#[test]
fn a_second_harmonic_stronger_than_the_fundamental_does_not_double_the_frequency() {
    let mut chance = Noise(77);
    for (share, decibels) in [(0.8, 10.0), (0.4, 10.0), (0.2, 20.0), (0.5, 40.0)] {
        for _ in 0..100 {
            let (want, samples) = led_by_the_second(share, decibels, &mut chance);
            let tone = find(&samples, 0.0, NO_RAILS).unwrap();
            let error = (tone.cycles_per_sample - want) / tone.cycles_per_sample_se;
            assert!(
                error.abs() < 5.0,
                "{share}: {tone:?}, {error} errors from {want}"
            );
        }
    }
}

#[test]
fn a_third_harmonic_stronger_than_the_fundamental_does_not_treble_the_frequency() {
    let mut wave = Wave::new(1024, 0.0317, 0.5, 0.02);
    wave.harmonics = &[(2.0, 0.4, 0.3), (3.0, 2.0, 1.1)];
    let tone = find(&wave.samples(&mut Noise(5)), 0.0, NO_RAILS).unwrap();
    let error = (tone.cycles_per_sample - 0.0317) / tone.cycles_per_sample_se;
    assert!(error.abs() < 4.0, "{tone:?}");
}

/// Noise may look like half the frequency, and cycles may differ a little in turn: neither makes it the frequency.
#[test]
fn a_sine_is_not_halved_by_noise_or_by_a_weak_line_at_its_half() {
    let mut chance = Noise(78);
    for (share, decibels) in [(1e-9, 0.0), (1e-9, 10.0), (1e-9, 40.0), (0.05, 40.0)] {
        for _ in 0..100 {
            let (half, samples) = led_by_the_second(share, decibels, &mut chance);
            let tone = find(&samples, 0.0, NO_RAILS).unwrap();
            close(tone.cycles_per_sample, 2.0 * half, 0.02, "the sine itself");
        }
    }
}

/// As [`quality`], of waves cut off at both sides; the bound is that of the whole wave, which none can reach.
fn clipped_quality(harmonics: &[(f64, f64, f64)], rail: f64, noise_sd: f64) -> (f64, f64) {
    const TRIALS: usize = 300;
    let rails = Rails {
        low: -rail,
        high: rail,
    };
    let mut chance = Noise(5);
    let (mut errors, mut honest) = (0.0, 0.0);
    for _ in 0..TRIALS {
        let mut wave = Wave::new(1024, 0.02 + 0.06 * chance.uniform(), 1.0, noise_sd);
        wave.phase = TAU * chance.uniform();
        wave.harmonics = harmonics;
        let samples = wave.samples(&mut chance);
        let cut: Vec<f64> = samples.iter().map(|v| v.clamp(-rail, rail)).collect();
        let tone = find(&cut, 0.0, rails).unwrap();
        let error = tone.cycles_per_sample - wave.cycles_per_sample;
        errors += (error / wave.bound()).powi(2);
        honest += (error / tone.cycles_per_sample_se).powi(2);
    }
    let trials = TRIALS as f64;
    ((errors / trials).sqrt(), honest / trials)
}

/// A fundamental alone on what the clipping left of this signal came out at 65 to 105 times the bound, told as four times
/// its error; 300 trials know the ratio to 4 %, the variance to 8 %.
#[test]
fn a_clipped_signal_keeps_its_harmonics_and_comes_near_the_bound() {
    let harmonics = &[(2.0, 0.30, 0.7), (3.0, 0.15, 1.9)];
    for rail in [0.75, 0.8, 0.9, 1.0, 1.2] {
        let (ratio, honest) = clipped_quality(harmonics, rail, 0.001);
        println!("clipped at {rail}: {ratio:.3} of the bound, honest {honest:.3}");
        assert!(ratio < 1.35, "{rail}: {ratio} times the bound");
        assert!((0.75..1.25).contains(&honest), "{rail}: {honest}");
    }
}

/// Where most samples are clipped, those in between hold all there is to know and all the scatter; an error from the
/// average scatter was given at less than half its size. What the harmonics lack may make the given error too large.
#[test]
fn a_wave_clipped_below_four_tenths_of_its_amplitude_has_an_error_as_large_as_it_is() {
    for rail in [0.05, 0.1, 0.2, 0.3, 0.38] {
        let (_, noisy) = clipped_quality(&[], rail, 0.1);
        assert!((0.75..1.25).contains(&noisy), "{rail}: {noisy}");
        let (_, quiet) = clipped_quality(&[], rail, 0.001);
        assert!(quiet < 1.25, "{rail}: {quiet}");
    }
}

/// Noise that wanders is no tone, however much of it a slow sine takes away: in 400 records of each kind at most one. Before there
/// was a second look at the residuals, 9 % of random walks came out as a tone of 1.2 to 6 cycles.
#[test]
fn noise_that_wanders_is_not_taken_for_a_tone() {
    for (name, share, length) in [
        ("random walk", 1.0, 256),
        ("random walk", 1.0, 512),
        ("first order, 0.97", 0.97, 512),
        ("first order, 0.7", 0.7, 512),
    ] {
        let mut chance = Noise(991);
        let found = (0..400).filter(|_| {
            let mut level = 0.0;
            let walk: Vec<f64> = (0..length)
                .map(|_| {
                    level = share * level + chance.unit();
                    level
                })
                .collect();
            find(&walk, 0.0, NO_RAILS).is_ok()
        });
        let found = found.count();
        assert!(found <= 1, "{name} of {length}: {found} of 400");
    }
}

/// A frequency that the samples are too slow for comes out as another, clean and wrong: nothing here can tell, which is why
/// a profile must say how high the input may be. 4.0157 MHz at 4.545 MS/s: 4.545 - 4.0157 = 0.5293.
#[test]
fn an_alias_looks_like_any_other_frequency() {
    let samples = Wave::new(1000, 4.0157 / 4.545, 1.0, 0.01).samples(&mut Noise(3));
    let tone = find(&samples, 0.0, NO_RAILS).unwrap();
    assert!((tone.cycles_per_sample * 4.545 - 0.5293).abs() < 1e-4);
}
