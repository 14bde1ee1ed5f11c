//! Two services on one database; one of them is killed, and another takes its place.

use crate::figures::Figures;
use crate::round::Round;
use crate::stage::Stage;

pub(super) fn on_sqlite(stage: &Stage, seed: u64, _: u64) -> Figures {
    two(Round::on_sqlite(stage, seed))
}

pub(super) fn on_postgres(stage: &Stage, seed: u64, _: u64) -> Figures {
    two(Round::on_postgres(stage, seed))
}

fn two(mut round: Round<'_>) -> Figures {
    let (Some(one), Some(other)) = (round.open(), round.open()) else { return round.end(None) };
    let work = round.work(&[&one, &other]);
    let (entries, ()) = work.run(|| {
        round.pass_with(&work, 5..60);
        one.kill();
        round.pass_with(&work, 5..30);
    });
    round.take(entries);
    round.figures.faults += 1;
    round.judge(&other);
    // What one service answered, the other answers too; and together again.
    if let Some(third) = round.open() {
        let mut work = round.work(&[&other, &third]);
        work.most = 20;
        let entries = work.run_to_its_end();
        round.take(entries);
        round.judge(&third);
        if let Err(why) = third.stop() {
            round.figures.otherwise(why);
        }
    }
    round.end(Some(other))
}
