use super::*;
use crate::circuit::outlook::Outlook;
use crate::coil::predict::predict;
use crate::coil::winding::CollectorEnd;
use crate::sheet;

const PILLAR: &str = include_str!("../../../sample-data/glow-pillar.toml");
const MEASURED: &str = include_str!("../../../sample-data/glow-pillar-measured.toml");

fn card(text: &str) -> Card {
    let sheet = sheet::parse(text).unwrap();
    let prediction = predict(&sheet.coil_spec()).unwrap();
    let sets = sheet.circuit_sets(&prediction).unwrap();
    let outlook = Outlook::of(&sets.specs).unwrap();
    Card::of(&sheet, &prediction, Some(&outlook))
}

#[test]
fn an_led_that_only_a_running_start_lights_is_not_expected_when_switched_on() {
    let slow = PILLAR.replace("\"22 kohm\"", "\"470 kohm\"");
    assert_ne!(slow, PILLAR);
    let said = text(&card(&slow));
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("dark when switched on"), "{said}");
}

#[test]
fn the_card_tells_the_wires_and_what_each_step_should_read() {
    insta::assert_snapshot!(text(&card(MEASURED)), @"
    glow pillar, measured: wiring and first power-up

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

               .            the top: stays open
            |////|
            |////|          the secondary, seen from the side
            |////|
        /// |////| ///      the primary's upper end: to the collector
        /// |////| ///      the primary's lower end: to plus
               |            the foot: to the base

    secondary     450 turns, right-handed: in front the turns rise to the right, like an ordinary
                  screw's
    primary       3 turns, right-handed: in front the turns rise to the right, like an ordinary
                  screw's
    plus          the primary's end nearest the secondary's foot, one end of 22.0 kΩ, 100 nF to minus
                  beside the transistor
    collector     the primary's end nearest the secondary's top
    base          the secondary's foot, the other end of 22.0 kΩ, the LED's cathode (shorter leg, flat
                  side)
    minus         the emitter, the LED's anode (longer leg)
    top           stays open, away from all else
    TO-220        print towards you, legs down: base, collector, emitter from the left, the tab is the
                  collector: common practice for this case, no source; look at the data sheet of yours
    enamel        scrape the enamel off the last 10 mm of the secondary's foot, all round, until the
                  copper shines, and tin it; the same on the primary's ends if its wire is enamelled

    nothing plugged in
      1  ohms, joint of the foot to the top       11.7 Ω to 13.5 Ω                ____________
      2  ohms, end to end of the primary          below 0.5 Ω, leads taken off    ____________
      3  ohms, foot to the primary                open                            ____________
         foot to top open: enamel left in the joint (try 5 mm further along the scraped wire), or a
         broken wire

    foot taken off the base, a supply of 6.0 V limited to 100 mA in place of the battery, not 9.0 V
    (up to 94 mA and a case of 73 °C there), on for 10 s at a time; nothing oscillates, so a meter may
    be joined
      4  supply current                           16 mA to 62 mA                  ____________
      5  base to minus                            580 mV to 670 mV                ____________
      6  collector to minus                       5.5 V to 6.2 V                  ____________
         at the limit at once: power off, the legs of the transistor are not where they were thought

    only once what is beyond its rating is mended: power off, meter off base and collector, foot
    joined to the base; the battery joined, hands and metal away from coil and battery case, power on
    for 10 s at a time
      7  supply current                           430 mA to 660 mA                ____________
      8  battery at its clips (9.0 V open)        6.4 V to 8.1 V                  ____________
      9  LED                                      lit                             ____________
     10  frequency, stub three coil lengths away  3.47 MHz                        ____________
         supply current by the model: 430 mA to 660 mA over its parts, typical parts 570 mA
         no light, and no more current than at rest (25 mA to 98 mA): look with the stub (5 cm of
         insulated wire, open at its end, brought nearer until it counts), or a neon lamp near the
         top. A frequency in the range: it runs weakly; leave its wires alone. None: power off, hold
         both windings beside the picture and swap the two wires of the primary only where they differ
         from it
         the transistor's case comes to 95 °C in the model: power off and let it cool, never a finger
         to try it

    Do not touch the coil, its top or anything that draws a spark from it: small dry spots burn, and
    above about 100 kHz nerves do not warn.
    Never a probe, a clip or a meter on the top or the secondary: it carries the current that burns,
    can break the instrument, and pulls the frequency far down.
    Switch off and unplug the battery before you touch anything, measure ohms, solder or move a wire.
    Anyone with a pacemaker, defibrillator, neurostimulator, insulin pump or cochlear implant stays
    out of the room; hearing aids come out.
    This is not a toy: an adult holds the switch, children only watch, onlookers stay a metre back.
    Never short a battery, not even to test it; cap its terminals.
    This program measures; it does not make a build safe.
    Local codes and licensed practice come first: follow your local rules, and ask a qualified person
    where they apply.
    ");
}

/// Without the circuit's figures, which take their time.
fn wiring(text: &str) -> Card {
    let sheet = sheet::parse(text).unwrap();
    let prediction = predict(&sheet.coil_spec()).unwrap();
    Card::of(&sheet, &prediction, None)
}

/// By the rule of the trade, common practice, both windings go the same way round, with the primary's end nearest the foot to
/// plus. With one of them turned round, it is the other end.
#[test]
fn the_end_that_goes_to_plus_follows_from_the_senses_alone() {
    let of = |text: &str| wiring(text).collector_end;
    assert_eq!(of(PILLAR), CollectorEnd::TopSide);
    let (before, from) = PILLAR.split_at(PILLAR.find("[primary]").unwrap());
    let left = |part: &str| part.replace("sense = \"right\"", "sense = \"left\"");
    let turned = before.to_owned() + &left(from);
    assert_eq!(of(&turned), CollectorEnd::FootSide);
    let both = left(before) + &left(from);
    assert_eq!(of(&both), CollectorEnd::TopSide);
    assert!(
        wiring(PILLAR)
            .warnings
            .iter()
            .all(|words| !words.contains("other way round"))
    );
    let warned = wiring(&turned).warnings.join(" ");
    assert!(warned.contains("other way round"), "{warned}");
}

#[test]
fn the_page_holds_every_step_and_stays_one_page() {
    let card = wiring(PILLAR);
    let drawing = drawing(&card);
    assert!(
        (drawing.height / 1600.0 - 297.0 / 210.0).abs() < 1e-9,
        "{}",
        drawing.height
    );
    let words: Vec<_> = drawing
        .items
        .iter()
        .filter_map(|item| match item {
            crate::figure::Item::Words { text, at, .. } => Some((text.as_str(), at.1)),
            _ => None,
        })
        .collect();
    let count = card
        .stages
        .iter()
        .map(|stage| stage.steps.len())
        .sum::<usize>();
    assert!(words.iter().any(|(text, _)| *text == count.to_string()));
    assert!(words.iter().all(|(_, y)| *y < drawing.height));
}

#[test]
fn the_card_of_a_spiral_asks_which_end_is_at_the_base() {
    let plate = include_str!("../../../sample-data/glow-plate.toml");
    let asked = |text: &str| {
        let card = card(text);
        let steps = card.stages[0].steps.iter();
        let found = steps.filter(|step| step.what.contains("which end of the spiral"));
        found.map(|step| step.expected.clone()).collect::<Vec<_>>()
    };
    assert_eq!(asked(plate), ["the outer one"]);
    let line = "foot_end = \"outer\"\n";
    assert_eq!(
        asked(&plate.replacen(line, "foot_end = \"inner\"\n", 1)),
        ["the inner one"]
    );
    assert_eq!(
        asked(&plate.replacen(line, "", 1)),
        ["the outer one is assumed: set coil.foot_end"]
    );
    assert_eq!(asked(PILLAR), [] as [&str; 0]);
}
