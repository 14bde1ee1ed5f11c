//! The service is killed at a random moment, again and again, in one database.

use std::time::Duration;

use crate::figures::Figures;
use crate::round::Round;
use crate::stage::Stage;

pub(super) fn on_sqlite(stage: &Stage, seed: u64, kills: u64) -> Figures {
    killed(Round::on_sqlite(stage, seed), kills)
}

pub(super) fn on_postgres(stage: &Stage, seed: u64, kills: u64) -> Figures {
    killed(Round::on_postgres(stage, seed), kills)
}

fn killed(mut round: Round<'_>, kills: u64) -> Figures {
    let mut service = round.open();
    while round.figures.faults < kills {
        let Some(running) = service.take() else { break };
        let work = round.work(&[&running]);
        let (entries, ()) = work.run(|| {
            round.pass_with(&work, 0..60);
            running.kill();
        });
        round.take(entries);
        round.figures.faults += 1;
        if round.chance.percent(20) && round.figures.faults < kills {
            // While it opens what the one before left.
            let (after, program) = (round.chance.from(0..120), round.stage.program.clone());
            program.serve_and_kill(&round.url, Duration::from_millis(after));
            round.figures.faults += 1;
        }
        service = round.open();
        if let Some(running) = &service {
            round.judge(running);
        }
    }
    round.end(service)
}
