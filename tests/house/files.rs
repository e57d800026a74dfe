//! Holds what makes a room easy to walk through: no circle of files, no long file, no crowded folder.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// Most lines of a file.
const MOST_LINES: usize = 450;

/// Most source files side by side in one folder.
const MOST_FILES: usize = 20;

/// A file's place among the modules: `["coil", "rings"]`.
type Module = Vec<String>;

/// What a file says: the names it defines, the paths it uses, and the names it hands on from elsewhere.
#[derive(Debug, Default)]
struct Said {
    defined: BTreeSet<String>,
    used: Vec<Vec<String>>,
    handed_on: BTreeMap<String, Vec<String>>,
}

/// Names and signs of a text, without its comments, its strings and the tests at its end.
fn tokens(text: &str) -> Vec<String> {
    let end = text.find("#[cfg(test)]\nmod tests {");
    let text: Vec<char> = text
        .get(..end.unwrap_or(text.len()))
        .unwrap_or("")
        .chars()
        .collect();
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(&sign) = text.get(at) {
        let rest = |from: usize, is_in: fn(&char) -> bool| {
            from + text.iter().skip(from).take_while(|one| is_in(one)).count()
        };
        if text.get(at..at + 2) == Some(&['/', '/']) {
            at = rest(at, |one| *one != '\n');
        } else if sign == '"' {
            at += 1;
            while text.get(at).is_some_and(|one| *one != '"') {
                at += if text.get(at) == Some(&'\\') { 2 } else { 1 };
            }
            at += 1;
        } else if sign.is_alphabetic() || sign == '_' {
            let end = rest(at, |one| one.is_alphanumeric() || *one == '_');
            found.push(text.iter().take(end).skip(at).collect());
            at = end;
        } else if text.get(at..at + 2) == Some(&[':', ':']) {
            found.push("::".to_owned());
            at += 2;
        } else {
            if !sign.is_whitespace() {
                found.push(sign.to_string());
            }
            at += 1;
        }
    }
    found
}

/// The paths of one `use`, from behind its keyword to its semicolon.
fn tree(
    tokens: &[String],
    at: &mut usize,
    before: &[String],
    found: &mut Vec<(String, Vec<String>)>,
) {
    let mut path = before.to_vec();
    while let Some(token) = tokens.get(*at) {
        *at += 1;
        match token.as_str() {
            "{" => loop {
                tree(tokens, at, &path, found);
                *at += 1;
                if tokens.get(*at - 1).is_none_or(|token| token == "}") {
                    return;
                }
            },
            "," | "}" | ";" => {
                *at -= 1;
                break;
            }
            "::" => {}
            "as" => {
                let name = tokens.get(*at).cloned().unwrap_or_default();
                *at += 1;
                found.push((name, path));
                return;
            }
            "self" if path.len() > before.len() || !before.is_empty() => {}
            name => path.push(name.to_owned()),
        }
    }
    if path.len() > before.len() || !before.is_empty() {
        found.push((path.last().cloned().unwrap_or_default(), path));
    }
}

fn said(text: &str) -> Said {
    const DEFINES: [&str; 9] = [
        "fn", "struct", "enum", "trait", "type", "const", "static", "union", "mod",
    ];
    let tokens = tokens(text);
    let mut said = Said::default();
    let mut named = BTreeMap::new();
    let mut at = 0;
    while let Some(token) = tokens.get(at) {
        at += 1;
        let last = at
            .checked_sub(2)
            .and_then(|at| tokens.get(at))
            .map_or("", String::as_str);
        if token == "use" {
            let mut paths = Vec::new();
            tree(&tokens, &mut at, &[], &mut paths);
            for (name, path) in paths {
                if last == "pub" || last == ")" {
                    said.handed_on.insert(name, path);
                } else {
                    named.insert(name, path);
                }
            }
        } else if DEFINES.contains(&token.as_str()) {
            said.defined.extend(tokens.get(at).cloned());
        } else if tokens.get(at).is_some_and(|next| next == "::") && last != "::" {
            let mut path = vec![token.clone()];
            while tokens.get(at).is_some_and(|sign| sign == "::") {
                path.extend(tokens.get(at + 1).cloned());
                at += 2;
            }
            said.used.push(path);
        }
    }
    // A path that begins with a name from elsewhere goes on from there.
    for path in &mut said.used {
        if let Some(begun) = path.first().and_then(|name| named.get(name)) {
            *path = begun.iter().chain(path.iter().skip(1)).cloned().collect();
        }
    }
    said.used.extend(named.into_values());
    said
}

/// The file that a path of a file leads to, through the faces that hand its name on.
fn leads_to(
    from: &Module,
    path: &[String],
    files: &BTreeMap<Module, Said>,
    depth: usize,
) -> Option<Module> {
    let mut place = from.clone();
    let mut rest = path;
    match path.first()?.as_str() {
        "crate" => {
            place.clear();
            rest = rest.get(1..)?;
        }
        "self" => rest = rest.get(1..)?,
        "super" => {
            while rest.first().is_some_and(|name| name == "super") {
                place.pop();
                rest = rest.get(1..)?;
            }
        }
        // A path that begins with neither leads to a file only from its own face.
        name => {
            place.push(name.to_owned());
            rest = rest.get(1..)?;
        }
    }
    for (count, name) in rest.iter().enumerate() {
        let inner: Module = place.iter().cloned().chain([name.clone()]).collect();
        if files.contains_key(&inner) {
            place = inner;
            continue;
        }
        let said = files.get(&place)?;
        if let (false, Some(on), true) = (
            said.defined.contains(name),
            said.handed_on.get(name),
            depth < 8,
        ) {
            let on: Vec<String> = on
                .iter()
                .chain(rest.iter().skip(count + 1))
                .cloned()
                .collect();
            return leads_to(&place, &on, files, depth + 1).or(Some(place));
        }
        break;
    }
    files.contains_key(&place).then_some(place)
}

fn walk(dir: &Path, take: &mut impl FnMut(PathBuf)) {
    for entry in fs::read_dir(dir).expect("the folder can be read") {
        let path = entry.expect("an entry can be read").path();
        if path.is_dir() {
            walk(&path, take);
        } else if path.extension().is_some_and(|end| end == "rs") {
            take(path);
        }
    }
}

/// The files below a folder, tests left out, as modules with what they say.
fn modules(root: &Path) -> BTreeMap<Module, Said> {
    let mut found = BTreeMap::new();
    walk(root, &mut |path| {
        let inside = path
            .strip_prefix(root)
            .expect("it is below")
            .with_extension("");
        let mut module: Module = inside
            .iter()
            .map(|part| part.to_string_lossy().into_owned())
            .collect();
        if module.iter().any(|part| part == "tests") || module == ["main"] {
            return;
        }
        if module
            .last()
            .is_some_and(|name| name == "mod" || name == "lib")
        {
            module.pop();
        }
        found.insert(
            module,
            said(&fs::read_to_string(&path).expect("it can be read")),
        );
    });
    found
}

/// Every file that comes back to itself, with the file that it names on the way.
fn circles(root: &Path) -> Vec<String> {
    let files = modules(root);
    let named: BTreeMap<&Module, BTreeSet<Module>> = files
        .iter()
        .map(|(module, said)| {
            let leads = said
                .used
                .iter()
                .filter_map(|path| leads_to(module, path, &files, 0));
            (module, leads.filter(|to| to != module).collect())
        })
        .collect();
    let reached = |from: &Module| {
        let mut seen = BTreeSet::new();
        let mut next = vec![from.clone()];
        while let Some(module) = next.pop() {
            for to in named.get(&module).into_iter().flatten() {
                if seen.insert(to.clone()) {
                    next.push(to.clone());
                }
            }
        }
        seen
    };
    let mut found = Vec::new();
    for (module, to) in &named {
        for one in to {
            if reached(one).contains(*module) {
                found.push(format!("{} names {}", module.join("/"), one.join("/")));
            }
        }
    }
    found
}

fn sources() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

#[test]
fn no_file_comes_back_to_itself() {
    let found = circles(&sources());
    assert!(found.is_empty(), "circles of files:\n{}", found.join("\n"));
}

#[test]
fn a_circle_is_found_directly_through_a_face_and_round_about_and_a_face_alone_is_none() {
    let dir = tempfile::tempdir().unwrap();
    let root = dir.path().join("src");
    let write = |name: &str, text: &str| {
        let path = root.join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    };
    write("lib.rs", "pub mod room;\n");
    write(
        "room/mod.rs",
        "mod high;\nmod low;\npub use high::{High, open};\npub use low::Low;\n",
    );
    write(
        "room/high.rs",
        "use super::low::Low;\npub struct High(Low);\npub fn open() {}\n",
    );
    write(
        "room/low.rs",
        "// crate::room::High is not named here.\npub struct Low;\n",
    );
    assert_eq!(circles(&root), Vec::<String>::new());
    write(
        "room/low.rs",
        "pub struct Low;\nfn up() { crate::room::open(); }\n",
    );
    assert_eq!(
        circles(&root),
        ["room/high names room/low", "room/low names room/high"]
    );
    write(
        "room/low.rs",
        "use super::{other::{self, Other}};\npub struct Low(Other);\nfn on() { other::on() }\n",
    );
    write(
        "room/other.rs",
        "use crate::room::High as Top;\npub struct Other;\npub fn on() {}\n",
    );
    assert_eq!(
        circles(&root),
        [
            "room/high names room/low",
            "room/low names room/other",
            "room/other names room/high"
        ]
    );
}

#[test]
fn no_file_is_too_long_and_no_folder_too_full() {
    let mut beside: BTreeMap<PathBuf, usize> = BTreeMap::new();
    let mut faults = Vec::new();
    let mut look = |path: PathBuf| {
        let text = fs::read_to_string(&path).expect("it can be read");
        let lines = text.lines().count();
        if lines > MOST_LINES {
            faults.push(format!(
                "{}: {lines} lines, at most {MOST_LINES}",
                path.display()
            ));
        }
        *beside
            .entry(path.parent().expect("it has a folder").to_owned())
            .or_default() += 1;
    };
    walk(&sources(), &mut look);
    walk(&sources().with_file_name("tests"), &mut look);
    for (folder, files) in beside {
        if files > MOST_FILES {
            faults.push(format!(
                "{}: {files} files, at most {MOST_FILES}",
                folder.display()
            ));
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}
