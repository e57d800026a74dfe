//! What is to be looked at next.

use super::*;

fn dark() -> Evidence {
    answers::parse("ran_before = \"never\"\n[found]\nled = \"dark\"\n").unwrap()
}

#[test]
fn another_prior_or_another_circuit_changes_what_is_to_be_looked_at_next() {
    let library = library_of("pillar-medium");
    let shipped = Priors::shipped().unwrap();
    let first =
        |library: &Library, priors: &Priors| Answer::of(library, priors, &dark()).next[0].check.key;
    let next = first(&library, &shipped);
    let other = shipped
        .changed_by(
            "[first]\nprimary-reversed = 0\nfoot-enamel = 0\nbattery-dead = 9\nsupply-open = 9\n",
        )
        .unwrap();
    assert_ne!(first(&library, &other), next);
    // The same answers on a slow transistor's circuit, where far more stays dark.
    let order = |library: &Library| -> Vec<&str> {
        let answer = Answer::of(library, &shipped, &dark());
        answer.next.iter().map(|next| next.check.key).collect()
    };
    let standing = library_of("pillar-standing");
    println!("{:?}\n{:?}", order(&library), order(&standing));
    assert_ne!(order(&library), order(&standing));
}

/// A library whose diodes hardly glow although the circuits run, as on builds of little current.
fn faint(mut library: Library) -> Library {
    for rows in library.shown.iter_mut().flat_map(|shown| &mut shown.rows) {
        for row in rows {
            row[Quantity::Led.index()] *= 1e-5;
        }
    }
    library
}

const SWAP: &str = "swap the two primary wires";

/// Common practice, no source.
#[test]
fn a_dark_led_is_told_to_swap_the_primary_within_the_first_two_unless_it_ran_or_was_swapped() {
    for library in [
        library_of("pillar-medium"),
        faint(library_of("pillar-standing")),
    ] {
        for (ran, read) in [("never", ""), ("unknown", "current = \"50 mA\"\n")] {
            let text = format!("ran_before = \"{ran}\"\n[found]\nled = \"dark\"\n{read}");
            let (_, answer) = answered(&library, &text);
            let next = checks(&answer);
            assert!(next[..2].contains(&"swap-leads"), "{text}: {next:?}");
        }
        let (_, answer) = answered(
            &library,
            "[found]\nled = \"dark\"\n[swapped]\ncurrent = \"40 mA\"\n",
        );
        assert!(!checks(&answer).contains(&"swap-leads"));
    }
    // A neon beside the top says that the loop is closed.
    let (_, runs) = answered(
        &library_of("pillar-medium"),
        "[found]\nled = \"dark\"\nlamp = \"near\"\n",
    );
    assert!(
        !checks(&runs)[..2].contains(&"swap-leads"),
        "{:?}",
        checks(&runs)
    );
}

#[test]
fn a_swap_that_helped_is_left_and_one_that_did_not_is_not_advised_again() {
    let found = "ran_before = \"never\"\n[found]\nled = \"dark\"\ncurrent = \"40 mA\"\nfoot_to_top = \"12.6 ohm\"\n";
    for library in [
        library_of("pillar-medium"),
        faint(library_of("pillar-medium")),
    ] {
        let was = probability(&weighed(&library, found), "primary-reversed");

        let lit = answered(&library, &format!("{found}[swapped]\nled = \"lit\"\n"));
        let text = printed(&lit);
        assert!(probability(&lit.1, "primary-reversed") > 0.9, "{text}");
        assert!(
            text.contains("leave the two primary wires as they are now"),
            "{text}"
        );
        let (_, reversed) = lit.1.cause("primary-reversed").unwrap();
        let swapped = |one: &&Support| one.observation.situation == Situation::LeadsSwapped;
        assert!(reversed.support.iter().find(swapped).unwrap().bits > 0.5);
        assert!(!text.contains(SWAP), "{text}");

        let dark = answered(&library, &format!("{found}[swapped]\nled = \"dark\"\n"));
        let text = printed(&dark);
        assert!(probability(&dark.1, "primary-reversed") < was, "{text}");
        assert!(!text.contains(SWAP), "{text}");

        let more =
            format!("{found}[swapped]\nled = \"dark\"\ncurrent = \"40 mA\"\nlamp = \"dark\"\n");
        let more = weighed(&library, &more);
        assert!(probability(&more, "primary-reversed") < 0.2 * was);
    }
    // Where the LED says little, the current and a lamp are asked for.
    let dark = format!("{found}[swapped]\nled = \"dark\"\n");
    let (_, answer) = answered(&faint(library_of("pillar-medium")), &dark);
    assert!(
        checks(&answer)[..3].contains(&"swapped-current"),
        "{:?}",
        checks(&answer)
    );
}

#[test]
fn nothing_is_unsoldered_before_it_is_asked_whether_the_build_ran() {
    let library = library_of("pillar-medium");
    let mut unsoldered = 0;
    for read in [
        "led = \"dark\"\ncurrent = \"50 mA\"\nbase = 0.7\nfoot_to_top = \"12.6 ohm\"\n",
        "led = \"dark\"\nbase = 0.1\nbase_test = \"OL\"\nbias = \"22k\"\nprimary = \"0.1 ohm\"\n",
        "led = \"dark\"\nbase_test_back = 0.0\nbase_test = 0.0\nbase = 0.0\n",
    ] {
        let unknown = answered(&library, &format!("[found]\n{read}"));
        for next in &unknown.1.next {
            assert!(!next.check.unsolders(), "{}", next.check.key);
        }
        let text = printed(&unknown);
        assert!(
            text.contains(" next say whether this build has ever run: "),
            "{text}"
        );
        let known = answered(
            &library,
            &format!("ran_before = \"never\"\n[found]\n{read}"),
        );
        unsoldered += known
            .1
            .next
            .iter()
            .filter(|next| next.check.unsolders())
            .count();
        assert!(!printed(&known).contains("say whether this build"));
    }
    assert!(unsoldered > 0, "they are proposed once that is known");
}

/// As the library of a build with a silicon diode has it: nothing to look at.
#[test]
fn a_silicon_diode_is_never_looked_at() {
    let mut library = library_of("pillar-medium");
    for rows in library.shown.iter_mut().flat_map(|shown| &mut shown.rows) {
        for row in rows {
            row[Quantity::Led.index()] = f32::NAN;
        }
    }
    assert!(!library.has_led());
    for read in [
        "",
        "lamp = \"dark\"\n",
        "lamp = \"dark\"\ncurrent = \"50 mA\"\n",
    ] {
        let told = answered(
            &library,
            &format!("ran_before = \"never\"\n[found]\n{read}"),
        );
        for next in &told.1.next {
            assert!(
                !next.check.reads.contains(&Quantity::Led),
                "{}",
                next.check.key
            );
        }
        let text = printed(&told);
        assert!(!text.contains("LED"), "{text}");
        if !read.is_empty() {
            assert!(checks(&told.1)[..2].contains(&"swap-leads"), "{text}");
        }
    }
    // How it looks is not weighed.
    let looked = answered(&library, "[found]\nled = \"dark\"\n");
    for cause in &looked.1.causes {
        assert!((cause.probability - cause.prior).abs() < 1e-12);
    }
    assert!(printed(&looked).contains("never glows"));
}

#[test]
fn hands_away_is_a_look_and_not_a_frequency_reading() {
    let library = library_of("pillar-standing");
    let priors = Priors::shipped().unwrap();
    let mut first = 0;
    let mut frequency = 0;
    for shown in &library.shown {
        let row = &shown.rows[0][0];
        let mut evidence = Evidence::default();
        for quantity in [Quantity::Led, Quantity::Current, Quantity::Battery] {
            if let Some(reading) = most_probable(quantity, row) {
                evidence.add(Situation::AsFound, quantity, reading);
            }
        }
        let answer = Answer::of(&library, &priors, &evidence);
        let Some(next) = answer.next.first() else {
            continue;
        };
        if next.check.situation == Situation::HandsAway {
            println!("{}: {} {:.2}", shown.key, next.check.key, next.gain_bits);
            first += 1;
            frequency += usize::from(next.check.key == "hands-away-frequency");
        }
    }
    println!("hands away first in {first} of {}", library.shown.len());
    assert_eq!(frequency, 0);
    assert!(first < library.shown.len() / 6, "{first}");
}
