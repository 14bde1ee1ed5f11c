//! A shop folder as one file: a ZIP archive.

use std::collections::BTreeMap;
use std::io::{Cursor, Read, Write};

use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

use crate::problem::{Kind, Problem};

/// What every archive begins with.
const MARK: &[u8] = b"PK\x03\x04";

/// Whether these are the bytes of an archive.
pub(super) fn is_archive(bytes: &[u8]) -> bool {
    bytes.starts_with(MARK)
}

/// Packs files.
///
/// # Errors
/// [`Problem`] where that fails.
pub(crate) fn pack<'f>(
    files: impl Iterator<Item = (&'f str, &'f [u8])>,
) -> Result<Vec<u8>, Problem> {
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in files {
        let begun = writer.start_file(name, SimpleFileOptions::default());
        begun.map_err(|error| Problem::internal(&error))?;
        writer.write_all(bytes).map_err(|error| Problem::internal(&error))?;
    }
    let packed = writer.finish().map_err(|error| Problem::internal(&error))?;
    Ok(packed.into_inner())
}

/// The files of an archive by their names, whatever folders they stand in; together no larger than
/// `most` bytes.
///
/// # Errors
/// [`Problem`] where it cannot be read or holds more.
pub(crate) fn unpack(bytes: &[u8], most: usize) -> Result<BTreeMap<String, Vec<u8>>, Problem> {
    let unreadable = |error: &dyn std::fmt::Display| {
        Problem::field("files", format!("an archive that can be read; this one: {error}"))
    };
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(|error| unreadable(&error))?;
    let mut files = BTreeMap::new();
    let mut left = u64::try_from(most).unwrap_or(u64::MAX);
    for index in 0..archive.len() {
        let mut file = archive.by_index(index).map_err(|error| unreadable(&error))?;
        let path = file.name().map_err(|error| unreadable(&error))?.into_owned();
        let name = path.rsplit(['/', '\\']).next().unwrap_or_default().to_owned();
        // What some systems put beside the files.
        if file.is_dir() || name.starts_with('.') || path.starts_with("__MACOSX/") {
            continue;
        }
        let mut text = Vec::new();
        let read = file.by_ref().take(left.saturating_add(1)).read_to_end(&mut text);
        let read = u64::try_from(read.map_err(|error| unreadable(&error))?).unwrap_or(u64::MAX);
        let too_large =
            || Problem::new(Kind::BodyTooLarge, "the files of this archive are too large");
        left = left.checked_sub(read).ok_or_else(too_large)?;
        files.insert(name, text);
    }
    Ok(files)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn files_come_out_as_they_went_in() {
        let files: [(&str, &[u8]); 2] = [("shop.toml", b"name = 1"), ("a/products.csv", b"id\n")];
        let packed = pack(files.into_iter()).unwrap();
        assert!(is_archive(&packed));
        let out = unpack(&packed, 100).unwrap();
        assert_eq!(out["shop.toml"], b"name = 1");
        assert_eq!(out["products.csv"], b"id\n");
    }

    #[test]
    fn an_archive_is_not_unpacked_past_what_may_be_sent() {
        let large = vec![b'a'; 100_000];
        let packed = pack([("a.csv", &large[..])].into_iter()).unwrap();
        assert!(packed.len() < 1000);
        assert_eq!(unpack(&packed, 99_999).unwrap_err().kind, Kind::BodyTooLarge);
        assert_eq!(unpack(&packed, 100_000).unwrap()["a.csv"].len(), 100_000);
        assert_eq!(unpack(b"PK\x03\x04no", 10).unwrap_err().field.as_deref(), Some("files"));
    }
}
