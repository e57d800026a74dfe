//! Markdown as text for a terminal.

use std::fmt::Write as _;

use pulldown_cmark::{CodeBlockKind, Event, HeadingLevel, Options, Parser, Tag, TagEnd};

use super::table::table;
use crate::report::layout::{filled, numbers_kept};

/// Code stands this far in.
const CODE_INDENT: usize = 2;

/// Returns a page as text, no line of it wider than `width` but code and words that are longer.
pub fn on_terminal(markdown: &str, width: usize) -> String {
    let mut page = Page {
        width,
        ..Page::default()
    };
    for event in Parser::new_ext(markdown, Options::ENABLE_TABLES) {
        page.take(event);
    }
    page.out
}

#[derive(Default)]
struct Page {
    width: usize,
    out: String,
    /// Words of the block that is being read.
    words: String,
    /// For each list around it: the next number, if it is numbered.
    lists: Vec<Option<u64>>,
    /// The sign before the item that is being read; it is printed once.
    sign: String,
    is_code: bool,
    /// Where a link leads, if that is outside the guide.
    link: Option<String>,
    rows: Vec<Vec<String>>,
}

impl Page {
    fn take(&mut self, event: Event<'_>) {
        match event {
            Event::Start(tag) => self.start(tag),
            Event::End(tag) => self.end(tag),
            Event::Text(text) if self.is_code => self.code(&text),
            Event::Text(text) => self.words.push_str(&text),
            Event::Code(text) => {
                // A command or a key stays in one piece where it is short.
                let text = if text.len() < 24 {
                    text.replace(' ', "\u{a0}")
                } else {
                    text.to_string()
                };
                // Writing to a String cannot fail, here and below.
                write!(self.words, "`{text}`").ok();
            }
            Event::SoftBreak | Event::HardBreak => self.words.push(' '),
            Event::Rule => self.out.push('\n'),
            _ => {}
        }
    }

    fn start(&mut self, tag: Tag<'_>) {
        match tag {
            Tag::Heading { .. } | Tag::Table(_) => self.gap(),
            Tag::Paragraph if self.lists.is_empty() => self.gap(),
            Tag::List(first) => {
                if self.lists.is_empty() {
                    self.gap();
                } else {
                    self.block();
                }
                self.lists.push(first);
            }
            Tag::Item => {
                self.sign = match self.lists.last_mut() {
                    Some(Some(number)) => {
                        let sign = format!("{number}. ");
                        *number += 1;
                        sign
                    }
                    _ => "- ".to_owned(),
                };
            }
            Tag::CodeBlock(CodeBlockKind::Fenced(_) | CodeBlockKind::Indented) => {
                self.block();
                self.gap();
                self.is_code = true;
            }
            Tag::TableHead | Tag::TableRow => self.rows.push(Vec::new()),
            Tag::Link { dest_url, .. } if dest_url.contains("://") => {
                self.link = Some(dest_url.to_string());
            }
            _ => {}
        }
    }

    fn end(&mut self, tag: TagEnd) {
        match tag {
            TagEnd::Heading(level) => self.heading(level),
            TagEnd::Paragraph | TagEnd::Item => self.block(),
            TagEnd::List(_) => {
                self.lists.pop();
            }
            TagEnd::CodeBlock => self.is_code = false,
            TagEnd::TableCell => {
                let cell = std::mem::take(&mut self.words);
                if let Some(row) = self.rows.last_mut() {
                    row.push(numbers_kept(&cell));
                }
            }
            TagEnd::Table => {
                let rows = std::mem::take(&mut self.rows);
                self.out.push_str(&table(&rows, self.width));
            }
            TagEnd::Link => {
                if let Some(url) = self.link.take() {
                    write!(self.words, " ({url})").ok();
                }
            }
            _ => {}
        }
    }

    /// A blank line, but for the start of the page.
    fn gap(&mut self) {
        if !self.out.is_empty() && !self.out.ends_with("\n\n") {
            self.out.push('\n');
        }
    }

    fn heading(&mut self, level: HeadingLevel) {
        let words = std::mem::take(&mut self.words);
        let rule = if level == HeadingLevel::H1 { "=" } else { "-" };
        self.out.push_str(&words);
        self.out.push('\n');
        if level <= HeadingLevel::H2 {
            self.out.push_str(&rule.repeat(words.chars().count()));
            self.out.push('\n');
        }
    }

    /// Prints the words that were read, behind the sign of their item.
    fn block(&mut self) {
        let words = std::mem::take(&mut self.words);
        if words.is_empty() {
            return;
        }
        let sign = std::mem::take(&mut self.sign);
        let inset = |list: &Option<u64>| if list.is_some() { 3 } else { 2 };
        let indent: usize = self.lists.iter().map(inset).sum();
        let outer = indent - self.lists.last().map_or(0, inset);
        let mut set = String::new();
        filled(&mut set, self.width, indent, &numbers_kept(&words));
        if !sign.is_empty() {
            let first = format!("{:outer$}{sign}", "");
            set.replace_range(
                ..first.len().min(indent),
                first.get(..indent).unwrap_or(&first),
            );
        }
        self.out.push_str(&set);
    }

    fn code(&mut self, text: &str) {
        // Code is never broken; a wide block begins at the edge.
        let widest = text.lines().map(|line| line.chars().count()).max();
        let indent = CODE_INDENT + 2 * self.lists.len();
        let indent = if widest.unwrap_or(0) + indent > self.width {
            0
        } else {
            indent
        };
        for line in text.lines() {
            let row = format!("{:indent$}{line}", "");
            self.out.push_str(row.trim_end());
            self.out.push('\n');
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::guide::PAGES;

    #[test]
    fn a_page_stands_on_a_terminal() {
        let page = "# It stays dark\n\nLook at the *battery* first, then at `led`.\n\n## Steps\n\n\
            1. Switch off and unplug the battery, all 9 V of it, before you touch anything at all here.\n\
            2. Then:\n   - measure\n   - solder\n\n```sh\nsagtrace diagnose my-pillar.toml\n```\n\n\
            See [`sagtrace guide dark`](dark.md).\n";
        insta::assert_snapshot!(on_terminal(page, 50), @"
        It stays dark
        =============

        Look at the battery first, then at `led`.

        Steps
        -----

        1. Switch off and unplug the battery, all 9 V of
           it, before you touch anything at all here.
        2. Then:
           - measure
           - solder

          sagtrace diagnose my-pillar.toml

        See `sagtrace guide dark`.
        ");
    }

    #[test]
    fn no_line_of_any_page_is_wider_than_the_window() {
        for page in PAGES {
            for width in [60, 80] {
                let text = on_terminal(page.markdown, width);
                let is_code =
                    |line: &str| page.markdown.lines().any(|one| one.trim() == line.trim());
                let prose = text
                    .lines()
                    .filter(|line| !line.starts_with("  ") && !is_code(line));
                for line in prose {
                    let longest = line.split(' ').map(|word| word.chars().count()).max();
                    let fits = line.chars().count() <= width;
                    assert!(fits || longest >= Some(width), "{}: {line}", page.topic);
                }
            }
        }
    }
}
