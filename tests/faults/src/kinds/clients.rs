//! Clients that go away in the middle of what they ask, and ask again.

use crate::figures::Figures;
use crate::round::Round;
use crate::stage::Stage;

pub(super) fn on_sqlite(stage: &Stage, seed: u64, _: u64) -> Figures {
    gone(Round::on_sqlite(stage, seed))
}

pub(super) fn on_postgres(stage: &Stage, seed: u64, _: u64) -> Figures {
    gone(Round::on_postgres(stage, seed))
}

fn gone(mut round: Round<'_>) -> Figures {
    let Some(service) = round.open() else { return round.end(None) };
    let mut work = round.work(&[&service]);
    work.gone_percent = 30;
    work.clients = 6;
    let (entries, ()) = work.run(|| round.pass_with(&work, 40..120));
    round.take(entries);
    round.figures.faults += 1;
    // It ends what is in flight, and whatever nobody waits for.
    if let Err(why) = service.stop() {
        round.figures.otherwise(why);
    }
    let service = round.open();
    if let Some(service) = &service {
        round.judge(service);
    }
    round.end(service)
}
