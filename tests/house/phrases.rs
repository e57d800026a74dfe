//! Holds the words that people read to plain English: a phrase of `phrases.txt` fails with file, line and the better form.

use std::fs;
use std::path::{Path, PathBuf};

/// A phrase that no text uses, and what stands there instead.
struct Phrase {
    words: String,
    better: String,
}

fn phrases() -> Vec<Phrase> {
    let list = include_str!("phrases.txt").lines();
    let list = list.filter(|line| !line.trim().is_empty() && !line.starts_with('#'));
    list.map(|line| {
        let (words, better) = line.split_once('=').expect("`phrase = better form`");
        Phrase {
            words: words.trim().to_lowercase(),
            better: better.trim().to_owned(),
        }
    })
    .collect()
}

/// Where a phrase stands in a line as whole words.
fn has(line: &str, words: &str) -> bool {
    let line = line.to_lowercase();
    let is_word =
        |sign: Option<char>| sign.is_some_and(|sign| sign.is_alphanumeric() || sign == '_');
    line.match_indices(words).any(|(at, _)| {
        let before = line.get(..at).and_then(|text| text.chars().next_back());
        let behind = line
            .get(at + words.len()..)
            .and_then(|text| text.chars().next());
        !is_word(before) && !is_word(behind)
    })
}

/// How a line of source begins.
#[derive(Clone, Copy, PartialEq)]
enum Inside {
    Code,
    Text,
    /// A raw text, with the number of its signs `#`.
    Raw(usize),
}

/// What people read of each line of Rust source: its strings and its comments, without the code between.
fn words_of(source: &str) -> Vec<String> {
    let mut inside = Inside::Code;
    source
        .lines()
        .map(|line| words_of_line(line, &mut inside))
        .collect()
}

fn words_of_line(line: &str, inside: &mut Inside) -> String {
    let signs: Vec<char> = line.chars().collect();
    let (mut words, mut at) = (String::new(), 0);
    let hashes = |from: usize| {
        signs
            .iter()
            .skip(from)
            .take_while(|sign| **sign == '#')
            .count()
    };
    while let Some(&sign) = signs.get(at) {
        let next = signs.get(at + 1).copied();
        match *inside {
            Inside::Code if sign == '/' && next == Some('/') => {
                words.extend(signs.iter().skip(at));
                break;
            }
            // A character, which may be a quotation mark.
            Inside::Code if sign == '\'' && signs.get(at + 2) == Some(&'\'') => at += 2,
            Inside::Code if sign == '\'' && next == Some('\\') => at += 2,
            Inside::Code if sign == 'r' && signs.get(at + 1 + hashes(at + 1)) == Some(&'"') => {
                *inside = Inside::Raw(hashes(at + 1));
                at += 1 + hashes(at + 1);
            }
            Inside::Code if sign == '"' => *inside = Inside::Text,
            Inside::Code => {}
            Inside::Text if sign == '\\' => at += 1,
            Inside::Raw(count) if sign == '"' && hashes(at + 1) >= count => {
                *inside = Inside::Code;
                at += count;
                words.push('\n');
            }
            Inside::Text if sign == '"' => {
                *inside = Inside::Code;
                words.push('\n');
            }
            Inside::Text | Inside::Raw(_) => words.push(sign),
        }
        at += 1;
    }
    words
}

fn files(dir: &Path, end: &str, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(dir).expect("the folder is read") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            files(&path, end, found);
        } else if path.extension().is_some_and(|found| found == end) {
            found.push(path);
        }
    }
}

/// `file:line: "phrase": better form` for each phrase in the lines of a text.
fn faults(name: &str, lines: &[String], phrases: &[Phrase]) -> Vec<String> {
    let mut found = Vec::new();
    for (index, line) in lines.iter().enumerate() {
        let here = phrases.iter().filter(|phrase| has(line, &phrase.words));
        found.extend(here.map(|phrase| {
            format!(
                "{name}:{}: \"{}\", better: {}",
                index + 1,
                phrase.words,
                phrase.better
            )
        }));
    }
    found
}

#[test]
fn no_text_uses_a_phrase_that_has_a_better_form() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut paths = ["README.md", "DEVELOPERS.md"]
        .map(|name| root.join(name))
        .to_vec();
    for folder in ["devices", "sample-data", "src"] {
        files(&root.join(folder), "md", &mut paths);
    }
    files(&root.join("src"), "rs", &mut paths);
    files(&root.join("tests"), "rs", &mut paths);
    // Its own text quotes what it looks for.
    paths.retain(|path| !path.ends_with("house/phrases.rs"));
    paths.sort();
    assert!(paths.len() > 300, "{} files", paths.len());
    let phrases = phrases();
    let mut found = Vec::new();
    for path in paths {
        let text = fs::read_to_string(&path).expect("the file is read");
        let name = path
            .strip_prefix(root)
            .expect("below the root")
            .display()
            .to_string();
        let lines = if path.extension().is_some_and(|end| end == "rs") {
            words_of(&text)
        } else {
            text.lines().map(str::to_owned).collect()
        };
        found.extend(faults(&name, &lines, &phrases));
    }
    assert!(
        found.is_empty(),
        "{} phrases:\n{}",
        found.len(),
        found.join("\n")
    );
}

#[test]
fn a_phrase_is_found_in_strings_and_comments_and_not_in_code_or_in_a_longer_word() {
    let source = "let hangs_on = 1; // It Hangs on.\nlet a = hangs(on, \"it \\\" hangs on it\");\nlet b = '\"'; hangs on\n\
                  let c = r#\"a \"quoted\"\nit hangs on\"#; hangs on\nlet d = \"hangs only\";\n";
    let phrases = [Phrase {
        words: "hangs on".to_owned(),
        better: "depends on".to_owned(),
    }];
    let found = faults("a.rs", &words_of(source), &phrases);
    let line = |number: u8| format!("a.rs:{number}: \"hangs on\", better: depends on");
    assert_eq!(found, [line(1), line(2), line(5)]);
}
