use super::*;

#[derive(Debug, PartialEq)]
struct Coil {
    diameter_m: f64,
    turns: i64,
}

fn coil(text: &str) -> Result<Coil, Faults> {
    read(text, |top| {
        let table = top.need_table("coil")?;
        let diameter_m = table
            .need(
                "diameter",
                "expected the former's diameter, such as \"16 mm\"",
            )
            .and_then(|entry| entry.quantity(Unit::Metre, 0.001..=1.0));
        let turns = table
            .need("turns", "expected a number of turns")
            .and_then(|entry| entry.integer(1..=100_000));
        let shape = table.entry("shape").map_or(Some(()), |entry| {
            entry.choice(&[("cylinder", ()), ("cone", ())])
        });
        table.close();
        shape.and(Some(Coil {
            diameter_m: diameter_m?,
            turns: turns?,
        }))
    })
}

#[test]
fn a_good_file_is_read() {
    assert_eq!(
        coil("[coil]\ndiameter = \"16 mm\"\nturns = 450\n"),
        Ok(Coil {
            diameter_m: 0.016,
            turns: 450
        })
    );
}

#[test]
fn every_fault_is_told_at_once_with_its_line() {
    let text =
        "extra = 1\n[coil]\ndiameter = \"16 mH\"\nturns = 0\nshape = \"cube\"\nwinding = 3\n";
    insta::assert_snapshot!(coil(text).unwrap_err(), @r#"
    line 1: extra: unknown key: expected one of coil
    line 3: coil.diameter: found "16 mH": expected a length, such as "16 mm"
    line 4: coil.turns: found 0: expected a whole number from 1 to 100000
    line 5: coil.shape: found "cube": expected one of "cylinder", "cone"
    line 6: coil.winding: unknown key: expected one of diameter, turns, shape
    "#);
    insta::assert_snapshot!(coil("").unwrap_err(), @"line 1: coil: missing: expected a [coil] table");
    insta::assert_snapshot!(coil("[coil]\ndiameter = 16\n").unwrap_err(), @r#"
    line 1: coil.turns: missing: expected a number of turns
    line 2: coil.diameter: found 16: expected a quantity with its unit in quotes, such as "16 mm"
    "#);
    insta::assert_snapshot!(coil("[coil]\ndiameter = \"3 m\"\nturns = 9").unwrap_err(),
        @r#"line 2: coil.diameter: found "3 m": expected from 1 mm to 1 m"#);
}

#[test]
fn of_many_faults_the_first_are_told_and_all_are_counted() {
    let keys: Vec<String> = (0..3000).map(|key| format!("k{key} = 1\n")).collect();
    let faults = coil(&keys.concat()).unwrap_err();
    assert_eq!((faults.first.len(), faults.more), (100, 3001 - 100));
    let told = faults.to_string();
    assert!(told.starts_with("line 1: coil: missing"), "{told}");
    assert!(told.ends_with("\nand 2901 more"), "{told}");
    let broken = coil(&"k = = 1\n".repeat(1000)).unwrap_err();
    assert!(broken.more > 800, "{}", broken.more);
}

#[test]
fn a_file_that_is_not_toml_is_told_with_its_line() {
    let faults = coil("[coil]\ndiameter = 16 mm\n").unwrap_err();
    assert!(faults.first.iter().all(|fault| fault.line == 2), "{faults}");
}

proptest::proptest! {
    #[test]
    fn any_text_is_read_or_refused_without_panic(text in "(\\[coil\\]\n)?(diameter|turns|shape)? ?=? ?.{0,20}") {
        if let Err(faults) = coil(&text) {
            proptest::prop_assert!(!faults.first.is_empty());
        }
    }
}
