//! Bench evenings told step by step, each with what has to come first.

use super::*;

fn texts(table: &toml::Table, key: &str) -> Vec<String> {
    match table.get(key) {
        None => Vec::new(),
        Some(toml::Value::String(text)) => vec![text.clone()],
        Some(value) => value
            .as_array()
            .unwrap()
            .iter()
            .map(|text| text.as_str().unwrap().to_owned())
            .collect(),
    }
}

/// Plays a story. Returns what did not come out as it says.
fn tell(path: &Path, library: &Library) -> Vec<String> {
    let story: toml::Table = fs::read_to_string(path).unwrap().parse().unwrap();
    let title = story["title"].as_str().unwrap();
    println!("\n== {title}");
    let mut evidence = Evidence::default();
    let mut wrong = Vec::new();
    for step in story["step"].as_array().unwrap() {
        let step = step.as_table().unwrap();
        for key in step.keys() {
            let known = [
                "said", "answers", "first", "with", "family", "belief", "next", "proposed", "says",
            ];
            assert!(known.contains(&key.as_str()), "{title}: {key}");
        }
        println!("{}", step["said"].as_str().unwrap());
        let said = answers::parse(step["answers"].as_str().unwrap())
            .unwrap_or_else(|faults| panic!("{title}: {faults}"));
        evidence.take(said);
        let answer = Answer::of(library, &Priors::shipped().unwrap(), &evidence);
        show(&answer);
        let proposed: Vec<&str> = answer.next.iter().take(4).map(|n| n.check.key).collect();
        println!("  next {}", proposed.join(", "));
        let first = &answer.groups[0];
        let members: Vec<_> = first.members.iter().map(|&m| &answer.causes[m]).collect();
        let has = |key: &String| members.iter().any(|cause| cause.fault.key == *key);
        let mut hold = |what: &str, holds: bool| {
            if !holds {
                wrong.push(format!(
                    "{title}: {}: {what}",
                    step["said"].as_str().unwrap()
                ));
            }
        };
        hold(
            "first",
            texts(step, "first")
                .iter()
                .all(|key| members[0].fault.key == *key),
        );
        hold("with", texts(step, "with").iter().all(has));
        short(&(evidence.clone(), answer.clone()));
        let words = texts(step, "says");
        if !words.is_empty() {
            let print = printed(&(evidence.clone(), answer.clone()));
            hold("says", words.iter().all(|words| print.contains(words)));
        }
        hold(
            "next",
            texts(step, "next")
                .iter()
                .all(|key| proposed.first() == Some(&key.as_str())),
        );
        hold(
            "proposed",
            texts(step, "proposed")
                .iter()
                .all(|key| proposed.contains(&key.as_str())),
        );
        hold(
            "belief",
            texts(step, "belief")
                .iter()
                .all(|word| Belief::of(first.probability).word() == word),
        );
        hold(
            "family",
            texts(step, "family").iter().all(|word| {
                members
                    .iter()
                    .all(|cause| format!("{:?}", cause.fault.family) == *word)
            }),
        );
    }
    wrong
}

#[test]
fn every_story_comes_out_as_it_is_told() {
    let libraries = BUILDS.map(|name| (name, library_of(name)));
    let mut told = 0;
    let mut wrong = Vec::new();
    let mut paths: Vec<PathBuf> = fs::read_dir(scenarios())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.to_string_lossy().contains("story-"))
        .collect();
    paths.sort();
    for path in paths {
        let story: toml::Table = fs::read_to_string(&path).unwrap().parse().unwrap();
        let on = story["build"].as_str().unwrap();
        let (_, library) = libraries.iter().find(|(name, _)| *name == on).unwrap();
        wrong.extend(tell(&path, library));
        told += 1;
    }
    assert!(told >= 8, "{told}");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
