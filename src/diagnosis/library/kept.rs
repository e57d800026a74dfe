//! A library as bytes, to be kept: it is computed once for a build.

use std::fmt::Write as _;

use sha2::{Digest as _, Sha256};

use crate::diagnosis::fault::build::Build;
use crate::diagnosis::library::{Effort, Library, Shown};
use crate::diagnosis::quantity::{COUNT, NOTHING, Row};

/// First line of a kept library; its number rises whenever the circuit, a fault's effect on it or the form of the rows changes. A
/// fault that is new or gone is seen without it.
const HEAD: &str = "sagtrace diagnosis library 5\n";

/// Bytes of the seal behind the head: SHA-256 of all that follows it.
const SEAL: usize = 32;

/// Returns the name a build's library is kept under: another build, another name.
pub fn file_name(build: &Build, effort: Effort) -> String {
    let described = format!("{HEAD}{build:?}{effort:?}");
    // FNV-1a of 64 bits (Fowler, Noll and Vo; constants from memory): a name, not a seal.
    let hash = described
        .bytes()
        .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
        });
    format!("diagnosis-{hash:016x}.library")
}

/// Returns the pieces of a library as bytes.
pub fn bytes(shown: &[Shown]) -> Vec<u8> {
    let mut body = Vec::new();
    for fault in shown {
        let mut line = fault.key.clone();
        for rows in &fault.rows {
            // Writing to a string can't fail.
            write!(line, " {}", rows.len()).ok();
        }
        line.push('\n');
        body.extend(line.as_bytes());
        for row in fault.rows.iter().flatten() {
            for value in row.iter().take(COUNT) {
                body.extend(value.to_le_bytes());
            }
        }
    }
    [HEAD.as_bytes(), Sha256::digest(&body).as_slice(), &body].concat()
}

/// Reads pieces back; `None` for anything that is not a whole library of this form, to the last bit.
pub fn read(bytes: &[u8]) -> Option<Vec<Shown>> {
    let (seal, mut rest) = bytes
        .strip_prefix(HEAD.as_bytes())?
        .split_at_checked(SEAL)?;
    if Sha256::digest(rest).as_slice() != seal {
        return None;
    }
    let mut shown = Vec::new();
    while !rest.is_empty() {
        let end = rest.iter().position(|byte| *byte == b'\n')?;
        let (line, behind) = rest.split_at_checked(end)?;
        rest = behind.get(1..)?;
        let mut words = std::str::from_utf8(line).ok()?.split(' ');
        let key = words.next()?.to_owned();
        let mut rows = Vec::new();
        for count in words {
            let count: usize = count.parse().ok()?;
            let (numbers, behind) = rest.split_at_checked(count.checked_mul(4 * COUNT)?)?;
            rest = behind;
            rows.push(numbers.chunks_exact(4 * COUNT).map(row).collect());
        }
        shown.push(Shown { key, rows });
    }
    (!shown.is_empty()).then(|| Library::of(shown).shown)
}

fn row(bytes: &[u8]) -> Row {
    let mut row = NOTHING;
    for (slot, chunk) in row.iter_mut().zip(bytes.chunks_exact(4)) {
        if let Ok(four) = chunk.try_into() {
            *slot = f32::from_le_bytes(four);
        }
    }
    row
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_kept_library_reads_back_and_a_torn_one_does_not() {
        let mut filled = NOTHING;
        filled[0] = 0.25;
        let shown = vec![Shown {
            key: "sound".to_owned(),
            rows: vec![vec![filled; 3], Vec::new(), vec![NOTHING]],
        }];
        let kept = bytes(&shown);
        let back = read(&kept).unwrap();
        assert_eq!(back[0].key, "sound");
        assert_eq!(back[0].rows[0].len(), 3);
        assert!(back[0].rows[1].is_empty() && back[0].rows[2][0][0].is_nan());
        assert!((back[0].rows[0][2][0] - 0.25).abs() < 1e-9);
        // Cut between two faults it would still be of the right form.
        let two = bytes(&[shown[0].clone(), shown[0].clone()]);
        assert!(read(&two).is_some());
        for end in 0..two.len() {
            assert!(read(&two[..end]).is_none(), "cut at {end}");
        }
        let mut flipped = kept;
        *flipped.last_mut().unwrap() ^= 1;
        assert!(read(&flipped).is_none());
        assert!(read(b"something else\n").is_none());
        assert!(read(b"").is_none());
    }
}
