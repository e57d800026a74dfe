//! A sheet's objects nearby: planes, boards, the circuit's height, and the end of a spiral at the base.

use super::tests::{PILLAR, faults_of, pillar_with};
use super::*;
use crate::coil::predict::predict;
use crate::coil::winding::SpiralEnd;

#[test]
fn a_circuit_told_in_or_below_the_plane_is_a_fault_with_its_line_and_key() {
    let with = |below: &str, distance: &str| {
        let text = pillar_with(
            "plane_distance = \"5 mm\"",
            &format!("plane_distance = \"{distance}\"\ncircuit_below = \"{below}\""),
        );
        text.replacen("earth = \"earthed\"", "earth = \"standing\"", 1)
    };
    for (below, distance) in [
        ("10 mm", "10 mm"),
        ("10 mm", "10.05 mm"),
        ("30 mm", "10 mm"),
    ] {
        let told = faults_of(&with(below, distance));
        assert!(told.starts_with("line 42: usual.circuit_below: "), "{told}");
    }
    insta::assert_snapshot!(faults_of(&with("10 mm", "10 mm")), @r#"line 42: usual.circuit_below: found "10 mm": expected 9.900 mm or less, or none, with usual.plane_distance = 10.00 mm: the circuit must be above the plane"#);
    for distance in ["10.1 mm", "10.5 mm", "11 mm", "30 mm"] {
        let sheet = parse(&with("10 mm", distance)).unwrap();
        assert!(predict(&sheet.coil_spec()).is_ok(), "{distance}");
    }
}

#[test]
fn an_assumed_height_of_the_circuit_is_listed_and_follows_the_plane() {
    let said = |distance: &str| {
        let text = pillar_with(
            "plane_distance = \"5 mm\"",
            &format!("plane_distance = \"{distance}\""),
        );
        let text = text.replacen("earth = \"earthed\"", "earth = \"standing\"", 1);
        let sheet = parse(&text).unwrap();
        let all: Vec<_> = sheet.assumptions.iter().map(ToString::to_string).collect();
        all.into_iter()
            .find(|one| one.starts_with("usual.circuit_below"))
            .unwrap()
    };
    assert_eq!(
        ["5 mm", "19 mm", "20 mm", "1 m"].map(said),
        [
            "usual.circuit_below: 2.5 mm assumed, half way to the plane",
            "usual.circuit_below: 9.5 mm assumed, half way to the plane",
            "usual.circuit_below: 10 mm assumed",
            "usual.circuit_below: 10 mm assumed",
        ]
    );
    let earthed = parse(PILLAR).unwrap();
    assert!(
        !earthed
            .assumptions
            .iter()
            .any(|one| one.key == "usual.circuit_below")
    );
}

const PLATE: &str = include_str!("../../sample-data/glow-plate.toml");

#[test]
fn a_plane_in_the_board_or_the_wire_is_a_fault() {
    let over = |distance: &str| {
        PLATE.replacen(
            "plane = \"none\"",
            &format!("plane = \"table\"\nplane_distance = \"{distance}\""),
            1,
        )
    };
    insta::assert_snapshot!(faults_of(&over("1.5 mm")), @r#"line 43: usual.plane_distance: found "1.5 mm": expected 2.000 mm or more, coil.board_thickness, which lies between winding and plane"#);
    assert!(parse(&over("2 mm")).is_ok());
    let bare = over("0.2 mm").replacen(
        "board_thickness = \"2 mm\"\nboard_permittivity = 3\n",
        "",
        1,
    );
    insta::assert_snapshot!(faults_of(&bare), @r#"line 41: usual.plane_distance: found "0.2 mm": expected more than 200 µm, which coil.wire reaches below its centre"#);
}

#[test]
fn the_end_of_a_spiral_at_the_base_is_read_assumed_and_told_apart() {
    let read = |line: &str| parse(&PLATE.replacen("foot_end = \"outer\"\n", line, 1)).unwrap();
    let (outer, inner, unsaid) = (
        parse(PLATE).unwrap(),
        read("foot_end = \"inner\"\n"),
        read(""),
    );
    assert_eq!(inner.winding.foot_end, SpiralEnd::Inner);
    assert_eq!(unsaid.winding.foot_end, SpiralEnd::Outer);
    let notes = |sheet: &Sheet| {
        let of = sheet
            .assumptions
            .iter()
            .filter(|one| one.key == "coil.foot_end");
        of.map(ToString::to_string).collect::<Vec<_>>()
    };
    assert_eq!(notes(&outer), [] as [&str; 0]);
    assert_eq!(
        notes(&unsaid),
        ["coil.foot_end: the outer end at the base assumed"]
    );
    let walk = differences::Walk::of(&outer, &inner);
    let names: Vec<_> = walk.differences.iter().map(|one| one.what).collect();
    assert_eq!(names, ["secondary: end at the foot"]);
    let on_a_tube = pillar_with("turns = 450", "turns = 450\nfoot_end = \"inner\"");
    assert!(faults_of(&on_a_tube).contains("coil.foot_end: unknown key"));
}

#[test]
fn a_board_under_a_cylinder_is_read_and_moves_the_resonance() {
    let bare = parse(PILLAR).unwrap();
    let text = pillar_with(
        "turns = 450",
        "turns = 450\nboard_thickness = \"3 mm\"\nboard_permittivity = 3",
    );
    let on_board = parse(&text).unwrap();
    let hertz = |sheet: &Sheet| predict(&sheet.coil_spec()).unwrap().resonance.value_hz;
    let shift = hertz(&on_board) / hertz(&bare) - 1.0;
    assert!((-0.003..-0.001).contains(&shift), "{shift}");
    let walk = differences::Walk::of(&bare, &on_board);
    assert_eq!(walk.differences[0].what, "secondary: board below");
}
