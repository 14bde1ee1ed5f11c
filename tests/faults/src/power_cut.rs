//! What a disk may hold after a power cut, made of the journal of all that was written to it.
//!
//! What was synced is there. Of what was written to a file since its last sync, each write is kept,
//! dropped, or torn between sectors, whatever its place in the order; a file that was made or
//! unlinked since may be there or not.

use std::path::Path;

use crate::chance::Chance;

/// What a disk writes whole.
const SECTOR: usize = 512;

/// A line of the journal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Record {
    pub what: What,
    /// Which file: 1 the database, 2 its -wal, 4 its -journal.
    pub file: u8,
    /// Where in the journal it ends.
    pub end: u64,
}

/// What was done to a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    Written { place: usize, data: Vec<u8> },
    Truncated { length: usize },
    Synced,
    Made,
    Unlinked,
    DirectorySynced,
}

/// The files that are looked at, by the endings of their names.
const FILES: [(u8, &str); 3] = [(1, ""), (2, "-wal"), (4, "-journal")];

/// Reads a journal; a last line that is not whole is left out.
pub fn read(journal: &[u8]) -> Vec<Record> {
    let mut records = Vec::new();
    let mut at = 0;
    while let Some(head) = journal.get(at..at + 16) {
        let length = u32::from_le_bytes(head[4..8].try_into().unwrap());
        let place = u64::from_le_bytes(head[8..16].try_into().unwrap());
        let (length, place) = (usize::try_from(length).unwrap(), usize::try_from(place).unwrap());
        let Some(data) = journal.get(at + 16..at + 16 + length) else { break };
        let what = match head[0] {
            1 => What::Written { place, data: data.to_vec() },
            2 => What::Truncated { length: place },
            3 => What::Synced,
            4 => What::Made,
            5 => What::Unlinked,
            6 => What::DirectorySynced,
            other => panic!("no journal: {other} at {at}"),
        };
        at += 16 + length;
        records.push(Record { what, file: head[1], end: at as u64 });
    }
    records
}

/// A place in the journal at which the power goes: anywhere, or just beside a sync.
pub fn draw(records: &[Record], chance: &mut Chance) -> usize {
    let any = |chance: &mut Chance| usize::try_from(chance.from(0..records.len() as u64)).unwrap();
    if chance.percent(50) {
        return any(chance);
    }
    let syncs: Vec<usize> =
        (0..records.len()).filter(|place| records[*place].what == What::Synced).collect();
    if syncs.is_empty() {
        return any(chance);
    }
    *chance.one(&syncs) + usize::from(chance.percent(50))
}

/// Writes the files as a cut before the record `at` may leave them.
pub fn leave(records: &[Record], at: usize, first: &Path, file: &Path, chance: &mut Chance) {
    // How much of what was not synced is dropped, and how much of the rest torn.
    let (dropped, torn) = (*chance.one(&[0, 20, 50, 90, 100]), *chance.one(&[0, 20, 60]));
    for (number, ending) in FILES {
        let before = if number == 1 { Some(std::fs::read(first).unwrap()) } else { None };
        let own: Vec<&Record> = records[..at]
            .iter()
            .filter(|record| record.file == number || record.what == What::DirectorySynced)
            .collect();
        let left = one_file(before, &own, (dropped, torn), chance);
        let path = format!("{}{ending}", file.display());
        if let Some(left) = left {
            std::fs::write(path, left).unwrap();
        }
    }
}

/// One file as it may be left; nothing where it is not there.
fn one_file(
    before: Option<Vec<u8>>,
    own: &[&Record],
    (dropped, torn): (u64, u64),
    chance: &mut Chance,
) -> Option<Vec<u8>> {
    let last = |what: &What| own.iter().rposition(|record| record.what == *what);
    let synced = last(&What::Synced);
    let named = last(&What::DirectorySynced).max(synced);
    let mut left = before;
    for (place, record) in own.iter().enumerate() {
        let is_sure = match record.what {
            What::Made | What::Unlinked => named.is_some_and(|named| place < named),
            _ => synced.is_some_and(|synced| place < synced),
        };
        let is_kept = is_sure || !chance.percent(dropped);
        match &record.what {
            _ if !is_kept => {}
            What::Made => left = Some(left.unwrap_or_default()),
            What::Unlinked => left = None,
            What::Truncated { length } => {
                if let Some(left) = &mut left {
                    left.resize(*length, 0);
                }
            }
            What::Written { place, data } => {
                if let Some(left) = &mut left {
                    let is_torn = !is_sure && chance.percent(torn);
                    write(left, *place, data, is_torn.then_some(&mut *chance));
                }
            }
            What::Synced | What::DirectorySynced => {}
        }
    }
    left
}

/// Writes into a file; of a torn write each sector may be missing.
fn write(left: &mut Vec<u8>, place: usize, data: &[u8], mut torn: Option<&mut Chance>) {
    let mut at = 0;
    while at < data.len() {
        // To the end of the sector that this byte lies in.
        let end = data.len().min(at + SECTOR - (place + at) % SECTOR);
        let is_there = torn.as_mut().is_none_or(|chance| chance.percent(50));
        if is_there {
            if left.len() < place + end {
                left.resize(place + end, 0);
            }
            left[place + at..place + end].copy_from_slice(&data[at..end]);
        }
        at = end;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record(what: What) -> Record {
        Record { what, file: 1, end: 0 }
    }

    fn written(place: usize, byte: u8, length: usize) -> Record {
        record(What::Written { place, data: vec![byte; length] })
    }

    fn left(records: &[Record], dropped: u64, torn: u64) -> Vec<u8> {
        let own: Vec<&Record> = records.iter().collect();
        let mut chance = Chance::new(1, 0);
        one_file(Some(vec![0; 1024]), &own, (dropped, torn), &mut chance).unwrap()
    }

    #[test]
    fn what_was_synced_is_there_and_what_came_after_may_not_be() {
        let records = [written(0, 1, 1024), record(What::Synced), written(512, 2, 512)];
        assert_eq!(left(&records, 100, 0), [1; 1024]);
        let kept = left(&records, 0, 0);
        assert_eq!((kept[511], kept[512], kept.len()), (1, 2, 1024));
    }

    #[test]
    fn a_write_is_torn_between_sectors_only() {
        let torn = left(&[written(100, 1, 1024 - 100)], 0, 100);
        let sectors = [&torn[100..512], &torn[512..]];
        assert!(sectors.iter().all(|part| part.iter().all(|byte| *byte == part[0])));
        assert_eq!(torn[..100], [0; 100]);
    }

    #[test]
    fn a_journal_is_read_as_far_as_it_is_whole() {
        let mut bytes = vec![1, 2, 0, 0, 3, 0, 0, 0, 7, 0, 0, 0, 0, 0, 0, 0, 9, 9, 9];
        bytes.extend([3, 2, 0, 0, 0, 0, 0, 0]);
        let what = What::Written { place: 7, data: vec![9; 3] };
        assert_eq!(read(&bytes), [Record { what, file: 2, end: 19 }]);
    }
}
