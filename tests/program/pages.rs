//! Runs the commands that README and the guide show, and holds the printed output to that on the page.
//!
//! Commands run in a folder as the pages suppose it: the sample data, two sheets, a session, and the virtual counter in the
//! place of the port. Numbers may differ from those on the page, words may not.

use std::fs;
use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// A command on a page, with what the page shows of its output.
#[derive(Debug)]
struct OnPage {
    page: String,
    command: String,
    shown: Option<String>,
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// README and the pages for people, each with its name.
fn pages() -> Vec<(String, String)> {
    let guide = fs::read_dir(root().join("src/guide")).unwrap().flatten();
    let guide = guide.map(|file| file.path());
    let guide = guide.filter(|path| path.extension().is_some_and(|end| end == "md"));
    let others = ["README.md", "sample-data/README.md", "devices/README.md"];
    let mut paths: Vec<PathBuf> = others.map(|name| root().join(name)).to_vec();
    paths.extend(guide);
    paths.sort();
    let named = paths.into_iter().map(|path| {
        let name = path.strip_prefix(root()).unwrap().display().to_string();
        (name, fs::read_to_string(path).unwrap())
    });
    named.collect()
}

/// The fenced blocks of a page: the word behind the fence, and the lines.
fn blocks(page: &str) -> Vec<(String, Vec<String>)> {
    let mut blocks = Vec::new();
    let mut open: Option<(String, Vec<String>)> = None;
    for line in page.lines() {
        match (line.trim_start().strip_prefix("```"), &mut open) {
            (Some(word), None) => open = Some((word.trim().to_owned(), Vec::new())),
            (Some(_), Some(_)) => blocks.extend(open.take()),
            (None, Some((_, lines))) => lines.push(line.to_owned()),
            (None, None) => {}
        }
    }
    blocks
}

/// Lines with those that a backslash continues joined to them.
fn joined(lines: &[String]) -> Vec<String> {
    let text = lines.join("\n").replace("\\\n", " ");
    text.lines().map(str::to_owned).collect()
}

fn commands(page: &str, text: &str) -> Vec<OnPage> {
    let mut found = Vec::new();
    for (word, lines) in blocks(text) {
        let lines = joined(&lines);
        if word == "sh" {
            let commands = lines
                .iter()
                .filter(|line| !line.trim_start().starts_with('#'));
            found.extend(commands.filter(|line| !line.is_empty()).map(|line| OnPage {
                page: page.to_owned(),
                command: line.trim().to_owned(),
                shown: None,
            }));
        } else if word == "console" {
            for line in lines {
                if let Some(command) = line.trim_start().strip_prefix("$ ") {
                    found.push(OnPage {
                        page: page.to_owned(),
                        command: command.to_owned(),
                        shown: Some(String::new()),
                    });
                } else if let Some(shown) = found.last_mut().and_then(|one| one.shown.as_mut()) {
                    shown.push_str(&line);
                    shown.push('\n');
                }
            }
        }
    }
    found
}

/// The virtual counter on a port of its own.
struct Bench {
    child: Child,
    port: String,
}

impl Bench {
    fn new() -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_sagtrace"))
            .args(["simulate", "--port-only"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let words = lines.map_while(Result::ok);
        let port = words
            .flat_map(|line| {
                line.split_whitespace()
                    .map(str::to_owned)
                    .collect::<Vec<_>>()
            })
            .find_map(|word| Some(word.get(word.find("/dev/")?..)?.to_owned()))
            .unwrap();
        Self { child, port }
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        self.child.kill().ok();
        self.child.wait().ok();
    }
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap().flatten() {
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// The folder that the pages suppose.
fn bench_folder() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    let samples = root().join("sample-data");
    copy(&samples, &dir.path().join("sample-data"));
    copy(&samples.join("evening"), &dir.path().join("evening"));
    let mine = fs::read_to_string(samples.join("glow-pillar-measured.toml")).unwrap();
    let theirs = mine.replacen("turns = 3", "turns = 2", 1);
    assert_ne!(mine, theirs);
    fs::write(dir.path().join("my-pillar.toml"), mine).unwrap();
    fs::write(dir.path().join("their-pillar.toml"), theirs).unwrap();
    dir
}

/// The command with the virtual counter for the port, and a recording of two seconds for one of minutes.
fn shortened(command: &str, port: &str) -> String {
    let command = command.replace("/dev/ttyUSB0", port);
    let command = command.replace("--for 20min", "--for 2s");
    command.replace("--for 30s", "--for 2s")
}

/// Runs a command as a shell does; its output, or why it failed.
fn run(dir: &Path, command: &str) -> Result<String, String> {
    let program = Path::new(env!("CARGO_BIN_EXE_sagtrace"));
    let path = std::env::var("PATH").unwrap();
    let path = format!("{}:{path}", program.parent().unwrap().display());
    let cache = Path::new(env!("CARGO_TARGET_TMPDIR")).join("pages-cache");
    let mut shell = Command::new("sh");
    for name in [
        "SAGTRACE_INSTRUMENT",
        "SAGTRACE_SESSIONS",
        "SAGTRACE_CONFIG",
    ] {
        shell.env_remove(name);
    }
    let output = shell
        .args(["-c", command])
        .current_dir(dir)
        .env("PATH", path)
        .env("HOME", dir)
        .env("XDG_CONFIG_HOME", dir.join("config"))
        .env("XDG_CACHE_HOME", cache)
        .stdin(Stdio::null())
        .output()
        .unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    if output.status.success() {
        Ok(text(&output.stdout) + &text(&output.stderr))
    } else {
        Err(format!("{}{}", text(&output.stdout), text(&output.stderr)))
    }
}

/// Words with every number the same, each parted by one space.
fn shape(text: &str) -> String {
    let mut shape = String::new();
    let mut is_number = false;
    for c in text.chars() {
        let goes_on = is_number && matches!(c, '.' | ',');
        if c.is_ascii_digit() || goes_on {
            if !is_number {
                shape.push('#');
            }
            is_number = true;
        } else {
            is_number = false;
            shape.push(if c == '−' { '-' } else { c });
        }
    }
    let shape = shape.split_whitespace().collect::<Vec<_>>().join(" ");
    // A time may be so much longer on a busy machine that its unit is another.
    shape.replace("# µs", "# s").replace("# ms", "# s")
}

/// The first part of the page's output that was not printed behind the one before it.
fn missing<'a>(shown: &'a str, printed: &str) -> Option<&'a str> {
    let printed = shape(printed);
    let mut rest = printed.as_str();
    for part in shown.split("…\n") {
        let wanted = shape(part);
        match rest.find(&wanted) {
            Some(at) => rest = rest.get(at + wanted.len()..).unwrap_or(""),
            None => return Some(part),
        }
    }
    None
}

#[test]
fn every_command_on_a_page_runs_and_prints_what_the_page_shows() {
    let bench = Bench::new();
    let mut faults = Vec::new();
    let mut count = 0;
    for (page, text) in pages() {
        let dir = bench_folder();
        for one in commands(&page, &text) {
            count += 1;
            let command = shortened(&one.command, &bench.port);
            match run(dir.path(), &command) {
                Err(why) => faults.push(format!("{}: {} failed:\n{why}", one.page, one.command)),
                Ok(printed) => {
                    let printed = printed.replace(&bench.port, "/dev/ttyUSB0");
                    let lacks = one
                        .shown
                        .as_deref()
                        .and_then(|shown| missing(shown, &printed));
                    if let Some(part) = lacks {
                        faults.push(format!(
                            "{}: {} does not print\n{part}\nbut\n{printed}",
                            one.page, one.command
                        ));
                    }
                }
            }
        }
    }
    assert!(count > 40, "{count} commands found");
    assert!(
        faults.is_empty(),
        "{} faults\n{}",
        faults.len(),
        faults.join("\n\n")
    );
}

/// Commands within a sentence, in backticks.
fn in_text(text: &str) -> Vec<String> {
    let whole = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let spans = whole.split('`').skip(1).step_by(2);
    let commands = spans.filter(|span| span.starts_with("sagtrace ") && !span.contains('|'));
    commands.map(str::to_owned).collect()
}

/// A word in capitals stands for a value.
fn is_placeholder(word: &str) -> bool {
    let letters = word.chars().filter(|c| c.is_alphabetic());
    let mut is_any = false;
    letters.inspect(|_| is_any = true).all(char::is_uppercase) && is_any
}

#[test]
fn commands_in_sentences_have_options_that_exist() {
    let mut faults = Vec::new();
    let dir = tempfile::tempdir().unwrap();
    for (page, text) in pages() {
        for command in in_text(&text) {
            let known = command.split(' ').take_while(|word| !is_placeholder(word));
            let known: Vec<&str> = known.collect();
            if let Err(why) = run(dir.path(), &format!("{} --help", known.join(" "))) {
                faults.push(format!("{page}: {command}:\n{why}"));
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn a_page_that_shows_another_text_is_found() {
    let printed = "Runs at 5.40 MHz.\nIt never stopped.\nmore: sagtrace compare e --detail\n";
    assert_eq!(
        missing(
            "Runs at 6.1 MHz.\n…\nmore: sagtrace compare e --detail\n",
            printed
        ),
        None
    );
    assert!(missing("Runs at 6.1 kHz.\n", printed).is_some());
    assert!(missing("It never stopped.\n…\nRuns at 1 MHz.\n", printed).is_some());
    let text = "```sh\n# first\nsagtrace a \\\n    --b\n```\n```console\n$ sagtrace c\nout\n```\n";
    let found = commands("page", text);
    let commands: Vec<&str> = found.iter().map(|one| one.command.as_str()).collect();
    assert_eq!(commands, ["sagtrace a      --b", "sagtrace c"]);
    assert_eq!(found[1].shown.as_deref(), Some("out\n"));
}
