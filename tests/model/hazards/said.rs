//! What is said of them beyond their own lines: before a hand goes near, in findings, and by the commands.

use super::*;

/// A practitioner finds out by smell, by colour, by a drop of water or by a thermometer: common practice, no source.
#[test]
fn nobody_is_asked_to_feel_a_transistor_that_may_burn() {
    let measured = Known::of(MEASURED);
    assert!(measured.hazards.hottest.case_c > 60.0);
    let form = measured.form();
    let question = form.split_once(" 4. transistor: ").unwrap().1;
    let question = question.split_once("heat = ").unwrap().0;
    for words in [
        "never a finger",
        "smells",
        "discoloured",
        "drop of water",
        "infrared thermometer",
    ] {
        assert!(question.contains(words), "{words}: {question}");
    }
    for said in [
        form.clone(),
        measured.diagnosed(&Evidence::default()),
        measured.card(),
    ] {
        assert!(
            !said.contains("then feel") && !said.contains("keep a finger"),
            "{said}"
        );
    }
}

#[test]
fn heat_and_too_much_current_are_findings_whatever_lights() {
    let measured = Known::of(MEASURED);
    let read =
        |text: &str| answers::parse(&format!("ran_before = \"yes\"\n[found]\n{text}")).unwrap();
    let lit = "led = \"lit\"\nlamp = \"near\"\n";
    let both = read(&format!("{lit}heat = \"hot\"\ncurrent = \"900 mA\"\n"));
    let said = measured.diagnosed(&both);
    for words in [
        "finding the transistor is hot, whatever lights: power off",
        "900 mA is too much, whatever lights",
        "no set of its parts takes more than",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    assert!(!said.contains("leave it alone"), "{said}");
    assert!(!said.contains("the build is as it should be"), "{said}");
    // Each alone, and in another situation than as found.
    let swapped = answers::parse("[swapped]\nled = \"lit\"\nheat = \"hot\"\n").unwrap();
    for evidence in [
        read(&format!("{lit}heat = \"hot\"\n")),
        read(&format!("{lit}current = \"900 mA\"\n")),
        swapped,
    ] {
        let said = measured.diagnosed(&evidence);
        assert!(
            said.contains("whatever lights") && !said.contains("leave it alone"),
            "{said}"
        );
    }
    // A build without a hazard whose readings are as predicted may be left alone.
    let harmless = builds().swap_remove(0).1;
    let said = Known::of(&harmless).diagnosed(&read(lit));
    assert!(said.contains("leave it alone"), "{said}");
}

/// The worst parts run weakly here, the others fully: all of them are the build, and its wires are right.
#[test]
fn predict_card_and_evening_have_one_supply_current_and_a_weak_build_keeps_its_wires() {
    let weak = changed(HELD, &[("earth = \"held\"", "earth = \"standing\"")]);
    let known = Known::of(&weak);
    let supply = known.hazards.supply.unwrap();
    assert!(supply.weak > 0, "{supply:?}");
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("weak.toml");
    fs::write(&path, &weak).unwrap();
    let predicted = run(&["predict", path.to_str().unwrap(), "--detail"]);
    let (_, supply_words) = predicted.split_once(" supply ").unwrap();
    let (supply_words, _) = supply_words.split_once(" its parts are weighed ").unwrap();
    let (range, _) = supply_words.split_once(" over its parts").unwrap();
    let card = run(&["predict", path.to_str().unwrap(), "--card"]);
    let evening = run(&[
        "predict",
        path.to_str().unwrap(),
        "--evening",
        "4 x 6min every 15min",
        "--detail",
    ]);
    assert!(
        supply_words.contains("over its parts, typical parts"),
        "{supply_words}"
    );
    for said in [&card, &evening] {
        assert!(said.contains(supply_words), "{supply_words}: {said}");
    }
    assert!(
        card.contains(&format!("supply current {range} ____")),
        "{range}: {card}"
    );
    // What the typical set is predicted to draw lies in the range that the card has.
    let value = serde_json::to_value(StartPart::new(&known.start())).unwrap();
    let typical_a = value["sets"][1]["running"]["supply_a"].as_f64().unwrap();
    let (low_a, high_a) = (supply.low_a, supply.high_a);
    assert!(low_a < high_a && (low_a..=high_a).contains(&typical_a));
    assert!(
        card.contains("it runs weakly, as 1 of 3 sets of parts do"),
        "{card}"
    );
    assert!(card.contains("leave its wires alone"), "{card}");
    assert!(card.contains("only where they differ from it"), "{card}");
    assert!(
        !card.contains("swap the two wires of the primary, try again"),
        "{card}"
    );
}

/// The sample evening's own build with a transistor of 25 MHz: both commands print one line for one range, and compare says
/// that the evening's stops, at 6.36 V, lie far above the predicted one.
#[test]
fn predict_and_compare_have_one_pushing_over_one_stated_range() {
    let samples = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-data");
    let fast = changed(
        include_str!("../../../sample-data/evening/build.toml"),
        &[("[circuit]", "[circuit]\ntransition_frequency = \"25 MHz\"")],
    );
    let dir = tempfile::tempdir().unwrap();
    let sheet = dir.path().join("fast.toml");
    fs::write(&sheet, &fast).unwrap();
    let sheet = sheet.to_str().unwrap();
    let predicted = run(&["predict", sheet, "--detail"]);
    let (_, words) = predicted.split_once(" pushing ").unwrap();
    let (words, _) = words
        .split_once(", running fully with typical parts")
        .unwrap();
    assert!(
        words.contains(" at the clips") && !words.contains("60 %"),
        "{words}"
    );
    let evening = format!("{samples}/evening");
    let compared = run(&[
        "compare",
        &evening,
        "--build",
        sheet,
        "--no-plots",
        "--detail",
    ]);
    let said = format!("over its usual range, as sagtrace predict has it: {words}");
    assert!(compared.contains(&said), "{said}: {compared}");
    // The range is one in which the set was seen to run, and the measured stop stands beside its end.
    let outlook = Outlook::of(&Known::of(&fast).sets.specs).unwrap();
    let ceases_v = outlook.descent.ceases().unwrap().clips_v;
    let said = format!(
        "stopped at 6.36 V at the clips, where typical parts should run on to {}",
        rounded(ceases_v, Unit::Volt, 3)
    );
    assert!(compared.contains(&said), "{said}: {compared}");
    let reach_v = outlook.pushing.as_ref().unwrap().reach_v();
    let keeps_v = outlook.descent.keeps_running_v.unwrap();
    assert!(
        reach_v.low > 0.9 * keeps_v && reach_v.high < 9.0,
        "{reach_v:?} {keeps_v}"
    );
}

/// What the program prints, its words alone.
fn run(args: &[&str]) -> String {
    let mut program = Command::new(env!("CARGO_BIN_EXE_sagtrace"));
    let output = program
        .env_remove("SAGTRACE_CONFIG")
        .args(args)
        .output()
        .unwrap();
    assert!(output.status.success(), "{args:?}: {output:?}");
    plain(&String::from_utf8(output.stdout).unwrap())
}

/// The commands themselves, on the sheet as it ships: three batteries, a part beyond its rating.
#[test]
fn every_command_prints_the_hazards_of_its_sheet() {
    let sheet = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-data/glow-plate.toml");
    let known = Known::of(PLATE);
    let build = Build::new(
        &known.sets.specs,
        &known.sets.drawn,
        &known.prediction,
        known.sheet.earth.is_floating(),
        (known.sheet.turns(), f64::from(known.sheet.primary.turns)),
    )
    .with_battery(known.sheet.battery.kind);
    let cache = tempfile::tempdir().unwrap();
    let folder = cache.path().join("sagtrace");
    fs::create_dir_all(&folder).unwrap();
    // Another build's library: what is said here does not come from it.
    let library = folder.join(kept::file_name(&build, Effort::QUICK));
    fs::copy(library_file("pillar-medium"), library).unwrap();
    let diagnose = |more: &[&str]| {
        let mut program = Command::new(env!("CARGO_BIN_EXE_sagtrace"));
        let output = program
            .env_remove("SAGTRACE_CONFIG")
            .env("XDG_CACHE_HOME", cache.path())
            .args(["diagnose", sheet, "--quick", "--detail"])
            .args(more)
            .stdin(std::process::Stdio::null())
            .output()
            .unwrap();
        assert!(output.status.success(), "{output:?}");
        let text = |bytes| String::from_utf8(bytes).unwrap();
        (text(output.stdout), text(output.stderr))
    };
    let (_, asked) = diagnose(&["--ask"]);
    let (told, _) = diagnose(&["-r", "led=lit", "-r", "heat=hot", "-r", "current=950mA"]);
    let (form, _) = diagnose(&["--form"]);
    let said = [
        run(&["predict", sheet, "--detail"]),
        run(&["predict", sheet, "--card"]),
        run(&[
            "predict",
            sheet,
            "--evening",
            "4 x 6min every 15min",
            "--detail",
        ]),
        run(&[
            "predict",
            sheet,
            "--evening",
            "4 x 6min every 15min",
            "--load",
            "0.3A",
            "--detail",
        ]),
        plain(&asked),
        plain(&told),
        plain(&form.replace('#', " ")),
    ];
    for line in report::hazards::lines(&known.hazards) {
        for said in &said {
            assert!(said.contains(&plain(&line)), "{line}: {said}");
        }
    }
    let (told, _) = diagnose(&[
        "-r",
        "led=lit",
        "-r",
        "heat=hot",
        "-r",
        "current=950mA",
        "--format",
        "json",
    ]);
    let value: serde_json::Value = serde_json::from_str(&told).unwrap();
    assert_eq!(value["findings"][0]["finding"], "hot");
    assert_eq!(value["findings"][1]["finding"], "over-current");
    assert_eq!(value["hazards"][0]["hazard"], "junction-beyond-rating");
}

/// Common practice, no source: a probe on the top is a burn, a broken instrument and another frequency.
#[test]
fn a_recording_warns_of_a_probe_on_the_top_and_of_an_earth_clip() {
    let said = |args: &[&str]| {
        let mut program = Command::new(env!("CARGO_BIN_EXE_sagtrace"));
        let output = program
            .env_remove("SAGTRACE_CONFIG")
            .args(["record", "-i", "scpi-counter@serial:/nowhere/at/all"])
            .args(args)
            .output()
            .unwrap();
        plain(&String::from_utf8(output.stderr).unwrap())
    };
    let probe = said(&["--connected", "CH1 probe on the top"]);
    assert!(probe.contains(Caution::Probe.words()), "{probe}");
    // By hand: 5 pF beside 12 pF more leave sqrt(5/17) of the frequency.
    assert!(probe.contains("54 % of its frequency"), "{probe}");
    let clipped = said(&["--earth", "clipped"]);
    assert!(clipped.contains("mind: earth clipped"), "{clipped}");
    let usual = said(&[
        "--connected",
        "CH1 loop 10 cm from the top",
        "--earth",
        "standing",
    ]);
    assert!(!usual.contains("mind:"), "{usual}");
}
