//! What the clients were told, held against what stands in the books.

use std::collections::{HashMap, HashSet};

use crate::books::Books;
use crate::entry::{Deed, Entry, Row, Standing, Table};
use crate::figures::Figures;
use crate::shop::{FIRST_RECEIPTS, JOB_TYPES, PRODUCTS};

/// Holds every request against the books.
pub fn judge(entries: &[Entry], books: &Books, figures: &mut Figures) {
    for entry in entries {
        rows(entry, books, figures);
        parts(entry, books, figures);
    }
    jobs(entries, books, figures);
    vehicles(entries, books, figures);
    never_asked_for(entries, books, figures);
    for pour in &books.still {
        figures.half_done(format!("pour {pour} moved nothing"));
    }
    figures.wrong_books(&books.wrong);
}

/// Each row of a request: there once where it was acknowledged, not there where it was refused,
/// and with all of its others where nobody knows.
fn rows(entry: &Entry, books: &Books, figures: &mut Figures) {
    let standing = entry.standing();
    if standing == Standing::Done && entry.deed == Deed::Wrong {
        figures.doubled(format!("{}: it should have been refused", entry.story()));
        return;
    }
    let count = |row: &Row| books.rows.get(row).copied().unwrap_or_default();
    let there = entry.rows.iter().filter(|row| count(row) > 0).count();
    let is_whole = there == entry.rows.len();
    if let Some(row) = entry.rows.iter().find(|row| count(row) > 1) {
        figures.doubled(format!("{}: {row:?} is there {} times", entry.story(), count(row)));
    }
    if standing == Standing::Done && !is_whole {
        figures.lost(format!("{}: {there} of {:?}", entry.story(), entry.rows));
    }
    if standing == Standing::Refused && there > 0 {
        figures.doubled(format!("{}: refused, and there: {:?}", entry.story(), entry.rows));
    }
    if there > 0 && !is_whole {
        figures.half_done(format!("{}: {there} of {:?}", entry.story(), entry.rows));
    }
}

/// What a request does beside its rows.
fn parts(entry: &Entry, books: &Books, figures: &mut Figures) {
    let is_there = |row: &Row| books.rows.contains_key(row);
    let is_reversed = |row: &Row| books.reversed.get(row).copied().unwrap_or_default();
    match (&entry.deed, entry.rows.as_slice()) {
        (Deed::Order { lines }, [row]) if is_there(row) => {
            let found = books.lines.get(&row.id).copied().unwrap_or_default();
            if found < *lines {
                figures.half_done(format!("{}: {found} of {lines} lines", entry.story()));
            } else if found > *lines {
                figures.doubled(format!("{}: {found} lines, not {lines}", entry.story()));
            }
        }
        (Deed::Receive { containers }, [row]) if is_there(row) && !is_reversed(row) => {
            let found = books.containers.get(&row.id).copied().unwrap_or_default();
            if found < *containers {
                figures.half_done(format!("{}: {found} of {containers} in", entry.story()));
            } else if found > *containers {
                figures.doubled(format!("{}: {found} in, not {containers}", entry.story()));
            }
        }
        (Deed::Reverse { row }, _) => match (entry.standing(), is_reversed(row)) {
            (Standing::Done, false) => figures.lost(format!("{}: of {row:?}", entry.story())),
            (Standing::Refused, true) => {
                figures.doubled(format!("{}: refused, and {row:?} is reversed", entry.story()));
            }
            _ => {}
        },
        _ => {}
    }
}

/// A finished job has each product of its usage sheet once; any other has none.
fn jobs(entries: &[Entry], books: &Books, figures: &mut Figures) {
    let mut ends: HashMap<&str, Vec<&Entry>> = HashMap::new();
    for entry in entries {
        if let Deed::Finish { job } = &entry.deed {
            ends.entry(job).or_default().push(entry);
        }
    }
    for entry in entries {
        let [Row { table: Table::Job, id }] = entry.rows.as_slice() else { continue };
        let Some(job) = books.jobs.get(id) else { continue };
        let ends = ends.get(id.as_str()).map(Vec::as_slice).unwrap_or_default();
        let of = |standing| ends.iter().filter(|end| end.standing() == standing).count();
        let (done, unknown) = (of(Standing::Done), of(Standing::Unknown));
        let is_done = job.status == "done";
        if done > 1 {
            figures.doubled(format!("job {id} was finished {done} times"));
        }
        if done > 0 && !is_done {
            figures.lost(format!("job {id} was finished, and is {}", job.status));
        }
        if done + unknown == 0 && is_done {
            figures.doubled(format!("job {id} is done, and nobody finished it"));
        }
        let mut expected: Vec<&str> = Vec::new();
        if is_done {
            let is_of = |kind: &str| entry.ask.body.contains(&format!("\"{kind}\""));
            expected.extend(JOB_TYPES.iter().find(|(kind, _)| is_of(kind)).unwrap().1);
        }
        expected.sort_unstable();
        let poured = books.pours.get(id).map(Vec::as_slice).unwrap_or_default();
        let mut poured: Vec<&str> = poured.iter().map(String::as_str).collect();
        poured.sort_unstable();
        if poured.len() > expected.len() {
            figures.doubled(format!("job {id} ({}) took {poured:?}", job.status));
        } else if poured != expected {
            figures.half_done(format!("job {id} ({}) took {poured:?} only", job.status));
        }
    }
}

/// The vehicle of a job is the one that was acknowledged last, or one that nobody knows of.
fn vehicles(entries: &[Entry], books: &Books, figures: &mut Figures) {
    let mut changes: HashMap<&str, (Option<&str>, Vec<&str>)> = HashMap::new();
    for entry in entries {
        let Deed::Change { job, vehicle } = &entry.deed else { continue };
        let (last, unknown) = changes.entry(job).or_default();
        match entry.standing() {
            Standing::Done => *last = Some(vehicle),
            Standing::Unknown => unknown.push(vehicle),
            Standing::Refused => {}
        }
    }
    for (job, (last, unknown)) in changes {
        let Some(row) = books.jobs.get(job) else { continue };
        let found = row.vehicle.as_deref();
        if found != last && !unknown.iter().any(|vehicle| found == Some(*vehicle)) {
            figures.lost(format!("job {job} has the vehicle {found:?}, not {last:?}"));
        }
    }
}

/// Rows that no request of the clients wrote.
fn never_asked_for(entries: &[Entry], books: &Books, figures: &mut Figures) {
    let known: HashSet<&Row> = entries.iter().flat_map(|entry| &entry.rows).collect();
    for row in books.rows.keys().filter(|row| !known.contains(row)) {
        let is_first = match row.table {
            Table::Receipt => FIRST_RECEIPTS.contains(&row.id.as_str()),
            Table::Product => PRODUCTS.iter().any(|(product, _)| *product == row.id),
            // The service writes what a job is expected to take.
            Table::Pour => books.job_of.get(&row.id).is_some_and(Option::is_some),
            _ => false,
        };
        if !is_first {
            figures.doubled(format!("{row:?} is there, and nobody asked for it"));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::books::JobRow;
    use crate::http::{Answer, Ask, Told};

    fn entry(deed: Deed, rows: &[Row], statuses: &[u16]) -> Entry {
        let ask = Ask { method: "POST", body: "\"wash\"".to_owned(), ..Ask::get("/x") };
        let mut entry = Entry::new(ask, deed, rows.to_vec());
        for status in statuses {
            let answer = Answer { status: *status, ..Answer::default() };
            entry.told.push(Told::Answer(answer));
        }
        entry
    }

    fn judged(entries: &[Entry], there: &[(&Row, u64)]) -> Figures {
        let mut books = Books::default();
        for (row, times) in there {
            books.rows.insert((*row).clone(), *times);
            if row.table == Table::Job {
                let job = JobRow { status: "booked".to_owned(), vehicle: None };
                books.jobs.insert(row.id.clone(), job);
            }
        }
        let mut figures = Figures::default();
        judge(entries, &books, &mut figures);
        figures
    }

    #[test]
    fn what_was_acknowledged_is_there_once() {
        let row = Row::new(Table::Count, "C-1");
        let done = [entry(Deed::Write, std::slice::from_ref(&row), &[503, 201])];
        assert!(judged(&done, &[(&row, 1)]).is_well());
        assert_eq!(judged(&done, &[]).lost, 1);
        assert_eq!(judged(&done, &[(&row, 2)]).doubled, 1);
    }

    #[test]
    fn what_was_refused_or_never_asked_for_is_not_there() {
        let row = Row::new(Table::Count, "C-1");
        let refused = [entry(Deed::Write, std::slice::from_ref(&row), &[503, 422])];
        assert!(judged(&refused, &[]).is_well());
        assert_eq!(judged(&refused, &[(&row, 1)]).doubled, 1);
        assert_eq!(judged(&[], &[(&row, 1)]).doubled, 1);
    }

    #[test]
    fn what_nobody_knows_is_there_whole_or_not_at_all() {
        let (one, two) = (Row::new(Table::Pour, "P-1"), Row::new(Table::Pour, "P-2"));
        let unknown = [entry(Deed::Write, &[one.clone(), two.clone()], &[503])];
        assert!(judged(&unknown, &[]).is_well());
        assert!(judged(&unknown, &[(&one, 1), (&two, 1)]).is_well());
        assert_eq!(judged(&unknown, &[(&two, 1)]).half_done, 1);
    }

    #[test]
    fn an_order_has_all_its_lines_and_a_finished_job_its_pours() {
        let row = Row::new(Table::Order, "O-1");
        let order = [entry(Deed::Order { lines: 2 }, std::slice::from_ref(&row), &[201])];
        assert_eq!(judged(&order, &[(&row, 1)]).half_done, 1);
        let job = Row::new(Table::Job, "J-1");
        let end = Deed::Finish { job: "J-1".to_owned() };
        let booked = entry(Deed::Write, std::slice::from_ref(&job), &[201]);
        assert!(judged(std::slice::from_ref(&booked), &[(&job, 1)]).is_well());
        let ended = [booked, entry(end, &[], &[200])];
        assert_eq!(judged(&ended, &[(&job, 1)]).lost, 1);
    }
}
