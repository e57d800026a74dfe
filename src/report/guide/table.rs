//! A table whose cells are broken where its columns end.

use crate::report::layout::filled;

/// Columns are parted by this.
const GAP: &str = "  ";

/// A column is not made narrower than this for the others' sake.
const LEAST: usize = 8;

/// Returns the rows, the first one underlined, none of them wider than `width` where words allow.
pub(super) fn table(rows: &[Vec<String>], width: usize) -> String {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let widths = widths(rows, columns, width);
    let mut out = String::new();
    for (number, row) in rows.iter().enumerate() {
        let cells: Vec<Vec<String>> = (row.iter().zip(&widths))
            .map(|(cell, &width)| broken(cell, width))
            .collect();
        let height = cells.iter().map(Vec::len).max().unwrap_or(0);
        for line in 0..height {
            let parts = cells.iter().zip(&widths).map(|(cell, &width)| {
                let words = cell.get(line).map_or("", String::as_str);
                format!("{words:width$}")
            });
            let parts: Vec<String> = parts.collect();
            out.push_str(parts.join(GAP).trim_end());
            out.push('\n');
        }
        if number == 0 {
            let rule: Vec<String> = widths.iter().map(|&width| "-".repeat(width)).collect();
            out.push_str(&rule.join(GAP));
            out.push('\n');
        }
    }
    out
}

/// The widest columns give way until all fit.
fn widths(rows: &[Vec<String>], columns: usize, width: usize) -> Vec<usize> {
    let widest = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column));
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let mut widths: Vec<usize> = (0..columns).map(widest).collect();
    let room = width.saturating_sub(GAP.len() * columns.saturating_sub(1));
    while widths.iter().sum::<usize>() > room {
        match widths.iter_mut().max() {
            Some(widest) if *widest > LEAST => *widest -= 1,
            _ => break,
        }
    }
    widths
}

fn broken(cell: &str, width: usize) -> Vec<String> {
    let mut out = String::new();
    filled(&mut out, width, 0, cell);
    if out.lines().any(|line| line.chars().count() > width) {
        // In so narrow a column numbers stand above their units.
        out.clear();
        filled(&mut out, width, 0, &cell.replace('\u{a0}', " "));
    }
    out.lines().map(str::to_owned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_widest_column_gives_way() {
        let rows = [
            ["sign", "means"],
            ["+", "the line was opened, at the start and after each loss"],
        ];
        let rows = rows.map(|row| row.map(str::to_owned).to_vec());
        insta::assert_snapshot!(table(&rows, 34), @"
        sign  means
        ----  ----------------------------
        +     the line was opened, at the
              start and after each loss
        ");
    }
}
