//! PostgreSQL behind a bad network, or stopped and started again. The service is not.

use crate::figures::Figures;
use crate::postgres::{Stop, url};
use crate::program::Service;
use crate::proxy::Proxy;
use crate::round::Round;
use crate::stage::Stage;

/// The network cuts, delays, stalls and refuses.
pub(super) fn network(stage: &Stage, seed: u64, faults: u64) -> Figures {
    let mut round = Round::on_postgres(stage, seed);
    let proxy = Proxy::before(stage.postgres().0.port);
    let direct = round.url.clone();
    let database = direct.rsplit('/').next().unwrap();
    round.url = url(proxy.port, database);
    let service = round.open();
    direct.clone_into(&mut round.url);
    let Some(service) = service else { return round.end(None) };
    let work = round.work(&[&service]);
    let (entries, ()) = work.run(|| {
        for _ in 0..faults {
            round.pass_with(&work, 5..40);
            match round.chance.from(0..4) {
                0 => proxy.cut(),
                1 => {
                    proxy.delay(round.chance.from(5..120));
                    round.pass(200..600);
                    proxy.delay(0);
                }
                2 => {
                    proxy.stall(true);
                    round.pass(200..1500);
                    // What was stalled comes through, or never does.
                    if round.chance.percent(50) {
                        proxy.cut();
                    }
                    proxy.stall(false);
                }
                _ => {
                    proxy.refuse(true);
                    proxy.cut();
                    round.pass(100..800);
                    proxy.refuse(false);
                }
            }
            round.figures.faults += 1;
            round.is_back(&work, "the network was well again");
        }
    });
    round.take(entries);
    ended(round, service)
}

/// PostgreSQL is stopped, ended at once or killed, and starts again.
pub(super) fn restart(stage: &Stage, seed: u64, faults: u64) -> Figures {
    let mut round = Round::on_postgres(stage, seed);
    let cluster = &stage.postgres().0;
    let Some(service) = round.open() else { return round.end(None) };
    let work = round.work(&[&service]);
    let (entries, ()) = work.run(|| {
        for _ in 0..faults {
            round.pass_with(&work, 5..40);
            cluster.stop(*round.chance.one(&[Stop::Fast, Stop::Immediate, Stop::Kill]));
            round.pass(0..600);
            cluster.begin();
            round.figures.faults += 1;
            round.is_back(&work, "PostgreSQL was back");
        }
    });
    round.take(entries);
    ended(round, service)
}

/// The service that lived through it is killed or stopped, and the shop is opened again.
fn ended(mut round: Round<'_>, service: Service) -> Figures {
    if round.chance.percent(50) {
        service.kill();
    } else if let Err(why) = service.stop() {
        round.figures.otherwise(why);
    }
    let service = round.open();
    if let Some(service) = &service {
        round.judge(service);
    }
    round.end(service)
}
