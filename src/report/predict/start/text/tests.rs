use super::*;
use crate::coil::predict::predict;
use crate::sheet;

pub(in crate::report) const MEASURED: &str =
    include_str!("../../../../../sample-data/glow-pillar-measured.toml");

pub(in crate::report) fn told(sheet: &str, tell: impl Fn(&Start<'_>) -> String) -> String {
    let sheet = sheet::parse(sheet).unwrap();
    let prediction = predict(&sheet.coil_spec()).unwrap();
    let sets = sheet.circuit_sets(&prediction).unwrap();
    let outlook = Outlook::of(&sets.specs).unwrap();
    tell(&Start {
        class: sheet.circuit.transistor,
        sheet: &sheet,
        outlook: &outlook,
        assumptions: &sets.assumptions,
        shown: sets.shown.as_ref(),
    })
}

#[test]
fn a_build_that_starts_is_told_with_its_figures() {
    insta::assert_snapshot!(told(MEASURED, text), @"
        hazards of this build, by its own figures
          beyond its rating: diode: 48 mA on average, data sheets of small ones allow 30 mA
          beyond its rating: collector: swings to 89 V, rated 60 V; a lower supply, or a type rated higher
          transistor: its case comes to 95 °C, which burns within seconds: on for 10 s at a time, never a
          finger to try it; power off and let it cool first, a metal case or tab is the collector, too; a
          heat sink of 24 K/W or less keeps it below 55 °C
          standing measurements, foot off the base: at 9.0 V it would take up to 94 mA (810 mW in the
          transistor, case 73 °C) with a meter on it: make them at 6.0 V, limited to 100 mA, on for 10 s
          at a time
          top: up to 2.0 kV and 310 mA to and fro in the coil (published reference level for a touch,
          public: 17.5 mA; sagtrace cautions has the sources). Do not touch the coil, its top or anything
          that draws a spark from it: small dry spots burn, and above about 100 kHz nerves do not warn.
          Anyone with a pacemaker, defibrillator, neurostimulator, insulin pump or cochlear implant stays
          out of the room; hearing aids come out. An open coil is a transmitter: minutes, low power,
          indoors, no aerial; stop on any complaint. Local codes and licensed practice come first: follow
          your local rules, and ask a qualified person where they apply.

        start         starts, with the worst parts of its class too
                      worst parts: starts and runs fully, LED lit; 430 mA, top 1.8 kV, LED 48 mA
                      typical parts: starts and runs fully, LED lit; 570 mA, top 2.0 kV, LED 23 mA
                      best parts: starts and runs fully, LED lit; 660 mA, top 2.0 kV, LED 13 mA
                      fully: the LED at the base is seen to be lit, by more than 300 µA on average
                      (assumed); weakly: it oscillates with the LED dark
                      figures of the parts: from published model files of 3 to 10 A TO-220 types to fast
                      parts, weighed by builds that run
        supply        430 mA to 660 mA over its parts, typical parts 570 mA
                      its parts are weighed by how builds of this kind run (common practice, no source);
                      most builds should lie about in the ranges of current and top voltage here
        speed needed  fT of 4.1 MHz at the bias current starts it; at 8.5 MHz about half of such builds
                      run fully
                      a data sheet's least fT says little: real parts are often faster
        to spare      coupling 11.54, Q 11.25, speed 11.09 times what starting needs
                      starts with a bias resistor of up to 6.0 MΩ
        loop gain     7.52, 11.47 without what the collector's capacitance takes; above 1 starts
        running       3.500 MHz, 570 mA, battery at 7.30 V, top 2.0 kV
                      LED lit, average current 23 mA
        power         5.1 W from the battery: coil 3.0 W, transistor 1.0 W, battery's own resistance 970
                      mW, LED 110 mW, bias resistor and leads 33 mW
                      transistor 1.0 W: after some minutes 88 °C inside and 84 °C at its TO-220 case,
                      without a heat sink in still air of 25 °C
                      thermal resistances: 1 to 4 K/W to the case by a public page on cases; 62.5 K/W to
                      air and 150 °C from memory
                      modelled with typical parts
        pushing       3.02 kHz/V (864 ppm/V) from 4.52 V to 7.30 V at the clips, 1.9 kHz/V to 4.0 kHz/V
                      from point to point and no better known than that, running fully with typical parts
        lowest        560 mV of battery, open, to begin to oscillate, weakly at first; fully takes more
                      1.5 V to keep running fully once it does

        assumed about the circuit
          circuit: 50 mΩ in the primary; wiring of 5 to 10 pF
        ");
}

/// The sample with a bias resistor of a colour ring misread, and more.
pub(in crate::report) fn marginal() -> String {
    let pillar = include_str!("../../../../../sample-data/glow-pillar.toml");
    let large = pillar.replace("\"22 kohm\"", "\"330 kohm\"");
    assert_ne!(large, pillar);
    large
}

#[test]
fn a_marginal_build_is_told_with_what_decides_and_what_to_try() {
    insta::assert_snapshot!(told(&marginal(), text), @"
        hazards of this build, by its own figures
          beyond its rating: transistor: 255 °C inside at 3.7 W, data sheets allow 150 °C; a heat sink of
          15 K/W or less keeps it at 100 °C
          transistor: its case comes to 240 °C, which burns within seconds: not to be switched on so,
          never a finger to try it; power off and let it cool first, a metal case or tab is the collector,
          too; a heat sink of 7.6 K/W or less keeps it below 55 °C
          top: up to 2.4 kV and 180 mA to and fro in the coil (published reference level for a touch,
          public: 20.0 mA; sagtrace cautions has the sources). Do not touch the coil, its top or anything
          that draws a spark from it: small dry spots burn, and above about 100 kHz nerves do not warn.
          Anyone with a pacemaker, defibrillator, neurostimulator, insulin pump or cochlear implant stays
          out of the room; hearing aids come out. An open coil is a transmitter: minutes, low power,
          indoors, no aerial; stop on any complaint. Local codes and licensed practice come first: follow
          your local rules, and ask a qualified person where they apply.

        start         marginal: it depends on the parts
                      worst parts: starts weakly, LED dark; once it has been brought there it runs fully,
                      LED lit: it may run on and not start again; 190 mA, top 2.4 kV, LED 19 mA
                      typical parts: starts and runs fully, LED lit; 390 mA, top 2.4 kV, LED 5.9 mA
                      best parts: starts and runs fully, LED lit; 630 mA, top 2.2 kV, LED 4.8 mA
                      fully: the LED at the base is seen to be lit, by more than 300 µA on average
                      (assumed); weakly: it oscillates with the LED dark
                      the transistor's speed, the transistor's gain or the coupling decides: where one of
                      them is as in the set that does not run fully, the others as usual, it does not
                      either
                      figures of the parts: from published model files of 3 to 10 A TO-220 types to fast
                      parts, weighed by builds that run
        supply        4.4 mA to 630 mA over its parts, typical parts 390 mA; switched on, 1 of 3 sets run
                      weakly
                      its parts are weighed by how builds of this kind run (common practice, no source);
                      most builds should lie about in the ranges of current and top voltage here
        speed needed  fT of 5.9 MHz at the bias current starts it; at 12 MHz about half of such builds run
                      fully
                      a data sheet's least fT says little: real parts are often faster
        to spare      coupling 5.56, Q 5.02, speed 5.00 times what starting needs
                      starts with a bias resistor of up to 3.9 MΩ
        loop gain     3.33, 5.62 without what the collector's capacitance takes; above 1 starts
        running       6.250 MHz, 390 mA, battery at 7.83 V, top 2.4 kV
                      LED lit, average current 5.9 mA
        power         3.5 W from the battery: coil 1.1 W, transistor 1.9 W, battery's own resistance 460
                      mW, LED 22 mW, bias resistor and leads 14 mW
                      transistor 1.9 W: after some minutes 145 °C inside and 137 °C at its TO-220 case,
                      without a heat sink in still air of 25 °C
                      thermal resistances: 1 to 4 K/W to the case by a public page on cases; 62.5 K/W to
                      air and 150 °C from memory
                      modelled with typical parts
        pushing       1.58 kHz/V (253 ppm/V) from 4.72 V to 7.83 V at the clips, -550 Hz/V to 4.2 kHz/V
                      from point to point and no better known than that, running fully with typical parts
        lowest        1.5 V of battery, open, to begin to oscillate, weakly at first; fully takes more
                      3.4 V to keep running fully once it does

        to try
          a dark diode does not say that nothing runs: look with a stub, or a neon lamp near the top,
          before a wire is moved
          if nothing oscillates: hold both windings beside the picture of sagtrace predict --card; swap
          the two primary wires only where they differ from it
          10 kΩ beside the bias resistor for a second: if the diode then stays lit, the circuit is
          marginal, not faulty
          hands, lamps and metal away from the top; the primary closer to the foot; a faster transistor

        assumed about the circuit
          battery.resistance: 3 Ω for each battery
          measured.lead_inductance: 200 nH in the battery's leads
          circuit: 50 mΩ in the primary; wiring of 5 to 10 pF
          coupling: within 10 % for where the primary really sits
          Q: 240, 149, 202 for the worst, typical and best set, weighed by builds that run (common
          practice, no source)
        ");
}

#[test]
fn a_reversed_primary_is_told_no_and_first_to_be_swapped() {
    let reversed = MEASURED.replace(
        "collector_end = \"top-side\"",
        "collector_end = \"foot-side\"",
    );
    insta::assert_snapshot!(told(&reversed, text), @"
        hazards of this build, by its own figures
          transistor: its case comes to 73 °C, even while nothing oscillates, which burns within seconds:
          on for 10 s at a time, never a finger to try it; power off and let it cool first, a metal case
          or tab is the collector, too; a heat sink of 36 K/W or less keeps it below 55 °C
          standing measurements, foot off the base: at 9.0 V it would take up to 94 mA (810 mW in the
          transistor, case 73 °C) with a meter on it: make them at 6.0 V, limited to 100 mA, on for 10 s
          at a time

        start         no, not with the best parts of its class either
                      worst parts: does not start
                      typical parts: does not start
                      best parts: does not start
                      as the sheet has it, the primary works against the base: swap its two wires, or look
                      at the senses
                      figures of the parts: from published model files of 3 to 10 A TO-220 types to fast
                      parts, weighed by builds that run

        to try
          swap the two primary wires

        assumed about the circuit
          circuit: 50 mΩ in the primary; wiring of 5 to 10 pF
        ");
}

#[test]
fn no_line_is_wider_than_a_terminal() {
    let all = told(MEASURED, text) + &told(&marginal(), text) + &not_computed("a reason of words");
    for row in all.lines() {
        assert!(row.chars().count() <= 98, "{row}");
    }
}
