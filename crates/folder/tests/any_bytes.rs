//! Whatever bytes stand in a file, reading ends with facts or with errors that name the place.

#![allow(clippy::unwrap_used)]

mod common;

use capful_folder::{read_files, to_files};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::{Index, select};

/// Pieces that are likely to upset a reader.
fn piece() -> impl Strategy<Value = Vec<u8>> {
    let pieces: [&[u8]; 16] = [
        b"",
        b"\"",
        b",",
        b"\n",
        b"\r",
        b";",
        b"/",
        b"-",
        b"0",
        b"[",
        b"=",
        b"\xff",
        b"9999999999",
        b"99999999999999999999999999999",
        b"0.00000000000000000000000000000001",
        "\u{feff}€".as_bytes(),
    ];
    select(pieces.map(<[u8]>::to_vec).to_vec())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    #[test]
    fn are_read_or_told_of(
        changes in vec((any::<Index>(), any::<Index>(), 0..12_usize, piece()), 1..6)
    ) {
        let mut folder = common::folder();
        let names: Vec<_> = folder.keys().cloned().collect();
        for (name, place, length, piece) in changes {
            let bytes = folder.get_mut(name.get(&names)).unwrap();
            let start = place.index(bytes.len() + 1);
            let end = (start + length).min(bytes.len());
            bytes.splice(start..end, piece);
        }
        match read_files(&folder) {
            Ok(reading) => {
                let again = read_files(&to_files(&reading.facts));
                prop_assert_eq!(again.unwrap().facts, reading.facts);
            }
            Err(errors) => {
                prop_assert!(!errors.problems.is_empty());
                for problem in errors.problems {
                    prop_assert!(names.contains(&problem.file), "{problem}");
                    prop_assert!(!problem.to_string().contains('\n'), "{problem}");
                }
            }
        }
    }
}
