//! The embedded typeface (licence: `FONT-LICENSE.txt`): how wide a text is, and how it is broken into lines.
//!
//! Widths come from the font file's own tables, so the layout knows before drawing which words will fit. Pair kerning is left
//! out: it draws letters together, so a text is never wider than measured.

use std::sync::OnceLock;

use crate::plain;

/// Names tried in turn by whoever shows the SVG; the PNG is always drawn with the first.
pub(super) const FAMILY: &str = "DejaVu Sans, Verdana, sans-serif";

/// Regular or bold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Weight {
    Regular,
    Bold,
}

impl Weight {
    /// The font file.
    pub(super) fn file(self) -> &'static [u8] {
        match self {
            Self::Regular => dejavu::sans::regular(),
            Self::Bold => dejavu::sans::bold(),
        }
    }

    fn advances(self) -> &'static Advances {
        static REGULAR: OnceLock<Advances> = OnceLock::new();
        static BOLD: OnceLock<Advances> = OnceLock::new();
        let cell = match self {
            Self::Regular => &REGULAR,
            Self::Bold => &BOLD,
        };
        cell.get_or_init(|| Advances::read(self.file()).unwrap_or_default())
    }

    /// Width of a text set in one line, in pixels at the given size.
    pub(super) fn width_px(self, text: &str, size_px: f64) -> f64 {
        let advances = self.advances();
        // As it will be written.
        let text = plain::line(text);
        text.chars().map(|c| advances.of(c)).sum::<f64>() * size_px
    }

    /// Breaks a text into lines no wider than `room_px`; a word too long for a line is broken itself.
    ///
    /// White space only parts words; a character that is not to be shown stands as its escape. A text without a word gives no
    /// line.
    pub(super) fn wrap(self, text: &str, size_px: f64, room_px: f64) -> Vec<String> {
        let mut lines = Vec::new();
        let mut line = String::new();
        let is_blank = |c: char| c.is_whitespace() || !is_printable(c);
        let text: String = text
            .chars()
            .map(|c| if is_blank(c) { ' ' } else { c })
            .collect();
        let text = plain::line(&text);
        for word in text.split(' ').filter(|word| !word.is_empty()) {
            let joined = if line.is_empty() {
                word.to_owned()
            } else {
                format!("{line} {word}")
            };
            if self.width_px(&joined, size_px) <= room_px {
                line = joined;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for c in word.chars() {
                line.push(c);
                if self.width_px(&line, size_px) > room_px && line.chars().count() > 1 {
                    line.pop();
                    lines.push(std::mem::replace(&mut line, c.to_string()));
                }
            }
        }
        if !line.is_empty() {
            lines.push(line);
        }
        lines
    }
}

/// Whether XML 1.0 admits the character (production 2, `Char`), the controls left out, which are escaped.
fn is_printable(c: char) -> bool {
    !matches!(c, '\u{fffe}' | '\u{ffff}')
}

/// A stretch of characters whose glyphs follow one another: first, last, glyph of the first.
type Stretch = (u16, u16, u16);

/// Advance widths, in ems.
#[derive(Debug, Default)]
struct Advances {
    by_glyph_em: Vec<f64>,
    stretches: Vec<Stretch>,
}

impl Advances {
    /// Reads `head`, `hhea`, `hmtx` and the `cmap` subtable of format 4, as the OpenType specification lays them out.
    fn read(file: &[u8]) -> Option<Self> {
        let units_per_em = f64::from(u16_at(table(file, *b"head")?, 18)?);
        let count = usize::from(u16_at(table(file, *b"hhea")?, 34)?);
        let metrics = table(file, *b"hmtx")?;
        let by_glyph_em = (0..count)
            .map(|glyph| u16_at(metrics, 4 * glyph).map(|units| f64::from(units) / units_per_em))
            .collect::<Option<Vec<_>>>()?;
        let stretches = stretches(table(file, *b"cmap")?)?;
        Some(Self {
            by_glyph_em,
            stretches,
        })
    }

    /// Advance of a character; that of the "missing" glyph (number 0) if the face lacks it.
    fn of(&self, c: char) -> f64 {
        let glyph = u16::try_from(u32::from(c))
            .ok()
            .and_then(|code| {
                let (first, _, glyph) = self
                    .stretches
                    .iter()
                    .find(|(first, last, _)| (*first..=*last).contains(&code))?;
                Some(usize::from(glyph + (code - first)))
            })
            .unwrap_or(0);
        // The last width stands for all glyphs after it (`hmtx`, "monospaced tail").
        let last = self.by_glyph_em.len().saturating_sub(1);
        self.by_glyph_em
            .get(glyph.min(last))
            .copied()
            .unwrap_or(0.6)
    }
}

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    let pair = bytes.get(at..at + 2)?;
    Some(u16::from_be_bytes(pair.try_into().ok()?))
}

fn u32_at(bytes: &[u8], at: usize) -> Option<usize> {
    let four = bytes.get(at..at + 4)?;
    usize::try_from(u32::from_be_bytes(four.try_into().ok()?)).ok()
}

/// A table of the font file, found in its directory.
fn table(file: &[u8], tag: [u8; 4]) -> Option<&[u8]> {
    let count = usize::from(u16_at(file, 4)?);
    let entry = (0..count)
        .map(|index| 12 + 16 * index)
        .find(|at| file.get(*at..at + 4) == Some(&tag))?;
    let start = u32_at(file, entry + 8)?;
    file.get(start..start + u32_at(file, entry + 12)?)
}

/// The character map of the basic plane: subtable format 4.
fn stretches(cmap: &[u8]) -> Option<Vec<Stretch>> {
    let count = usize::from(u16_at(cmap, 2)?);
    let map = (0..count)
        .filter_map(|index| cmap.get(u32_at(cmap, 4 + 8 * index + 4)?..))
        .find(|map| u16_at(map, 0) == Some(4))?;
    let doubled = usize::from(u16_at(map, 6)?);
    let mut found = Vec::new();
    for at in (0..doubled).step_by(2) {
        let last = u16_at(map, 14 + at)?;
        let first = u16_at(map, 16 + doubled + at)?;
        let delta = u16_at(map, 16 + 2 * doubled + at)?;
        let offset_at = 16 + 3 * doubled + at;
        let offset = usize::from(u16_at(map, offset_at)?);
        if offset == 0 {
            found.push((first, last, first.wrapping_add(delta)));
            continue;
        }
        for code in first..=last {
            let step = 2 * usize::from(code - first);
            let Some(glyph @ 1..) = u16_at(map, offset_at + offset + step) else {
                continue;
            };
            found.push((code, code, glyph.wrapping_add(delta)));
        }
    }
    Some(found)
}

#[cfg(test)]
mod tests {
    use super::*;
    use resvg::usvg;

    /// Width that the rasteriser itself gives a text.
    fn drawn_px(text: &str, weight: Weight) -> f64 {
        let css = if weight == Weight::Bold {
            "bold"
        } else {
            "normal"
        };
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"9000\" height=\"99\"><text x=\"9\" y=\"60\" \
             font-family=\"{FAMILY}\" font-size=\"50\" font-weight=\"{css}\">{text}</text></svg>"
        );
        let options = super::super::raster::options();
        let tree = usvg::Tree::from_str(&svg, &options).expect("the text is well formed");
        f64::from(tree.root().abs_bounding_box().width())
    }

    #[test]
    fn a_text_is_drawn_no_wider_than_measured_and_little_narrower() {
        for weight in [Weight::Regular, Weight::Bold] {
            for text in [
                "6.2305",
                "(frequency − 6.231 MHz) / Hz",
                "battery under load, second cell µΩ°⁻⁶",
                "WAVE To Ty fi 10 min",
            ] {
                let ours_px = weight.width_px(text, 50.0);
                let drawn_px = drawn_px(text, weight);
                assert!(
                    drawn_px <= 1.001 * ours_px && drawn_px >= 0.95 * ours_px,
                    "{text}: {ours_px} against {drawn_px}"
                );
            }
        }
    }

    #[test]
    fn wrapped_lines_fit_and_keep_every_letter() {
        let text = "a word, anotherverylongwordthatdoesnotfitintoonelineatall\u{7}\nand more";
        let lines = Weight::Regular.wrap(text, 36.0, 400.0);
        assert!(lines.len() > 3, "{lines:?}");
        for line in &lines {
            assert!(Weight::Regular.width_px(line, 36.0) <= 400.0, "{line}");
        }
        let letters = |text: &str| {
            text.chars()
                .filter(|c| c.is_alphanumeric() || *c == ',')
                .collect::<String>()
        };
        let shown = plain::line(text).replace(r"\u000a", " ");
        assert_eq!(letters(&lines.concat()), letters(&shown));
    }

    #[test]
    fn a_text_of_blanks_has_no_line() {
        assert!(Weight::Bold.wrap(" \t\n", 36.0, 400.0).is_empty());
    }
}
