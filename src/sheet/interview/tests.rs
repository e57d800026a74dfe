use super::*;

#[test]
fn tmp() {
    let mut one = Interview::default();
    while let Some(question) = one.question() {
        let line = match question.key {
            "coil.former_diameter" => "16 mm",
            "coil.wire" => "0.2 mm",
            "coil.turns" => "450",
            "primary.turns" => "3",
            _ => "",
        };
        if let Err(why) = one.take(line) {
            panic!("{}: {why}", question.key);
        }
    }
    println!("{}", one.text());
    one.sheet().unwrap();
}
