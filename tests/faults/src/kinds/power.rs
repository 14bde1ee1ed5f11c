//! The power goes while the service writes: many cuts of one run.

use std::path::Path;
use std::time::Duration;

use crate::entry::{Deed, Entry, Standing};
use crate::figures::Figures;
use crate::http::Told;
use crate::power_cut::{Record, draw, leave, read};
use crate::round::Round;
use crate::stage::Stage;

pub(super) fn cuts(stage: &Stage, seed: u64, cuts: u64) -> Figures {
    let mut round = Round::on_sqlite(stage, seed);
    let file = round.file();
    let first = round.place.path().join("before.db");
    std::fs::copy(&file, &first).unwrap();
    let journal = round.place.path().join("journal");
    let program = stage.program.with(&[
        ("LD_PRELOAD", stage.preload().to_str().unwrap()),
        ("FAULTS_FILE", file.to_str().unwrap()),
        ("FAULTS_JOURNAL", journal.to_str().unwrap()),
    ]);
    let Some(service) = round.serve(&program) else { return round.end(None) };
    let mut work = round.work(&[&service]);
    work.journal = Some(journal.clone());
    work.patience = Duration::from_secs(10);
    let stops = round.chance.percent(25);
    let (entries, ()) = work.run(|| {
        round.pass_with(&work, 30..150);
        if !stops {
            service.kill();
            return;
        }
        // The power may go while the service ends, too.
        if let Err(why) = service.stop() {
            round.figures.otherwise(why);
        }
    });
    round.take(entries);
    let records = read(&std::fs::read(&journal).unwrap());
    if records.is_empty() {
        round.figures.otherwise("nothing was written to the journal".to_owned());
        return round.end(None);
    }
    let mut figures = std::mem::take(&mut round.figures);
    for _ in 0..cuts {
        figures += cut(&mut round, &records, &first);
    }
    figures.rounds = 1;
    figures
}

/// One cut: the files as it may leave them are opened again.
fn cut(round: &mut Round<'_>, records: &[Record], first: &Path) -> Figures {
    let at = draw(records, &mut round.chance);
    let end = if at == 0 { 0 } else { records[at - 1].end };
    let mut after = Round::on_sqlite(round.stage, round.chance.bits());
    leave(records, at, first, &after.file(), &mut round.chance);
    after.token.clone_from(&round.token);
    after.entries.clone_from(&round.entries);
    for entry in &mut after.entries {
        if entry.standing() == Standing::Done && entry.journal > end {
            entry.told = vec![Told::Nothing("the power went".to_owned())];
        }
    }
    // What is wrong because of something else may be right where that is gone.
    let keeps = |entry: &Entry| entry.deed != Deed::Wrong || entry.standing() != Standing::Unknown;
    after.entries.retain(keeps);
    after.settled_most = 25;
    let service = after.open();
    if let Some(service) = &service {
        after.judge(service);
    }
    after.figures.faults += 1;
    let mut own = after.end(service);
    let cut = format!(" (cut at {at} of {} writes)", records.len());
    own.findings.iter_mut().for_each(|finding| finding.push_str(&cut));
    own
}
