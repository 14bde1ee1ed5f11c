//! The kinds of faults, each a round that a seed repeats.

mod clients;
mod disk;
mod kill;
mod lock;
mod network;
mod power;
mod services;

use crate::chance::Chance;
use crate::figures::Figures;
use crate::stage::Stage;

/// Findings of a round that are told of in words.
const TOLD: usize = 6;

/// A kind of fault.
#[derive(Debug, Clone, Copy)]
pub struct Kind {
    /// What it is called on the command line.
    pub name: &'static str,
    /// What is done in a round.
    pub what: &'static str,
    /// Whether a round needs PostgreSQL.
    pub on_postgres: bool,
    /// Faults of a round, where they are counted one by one.
    pub faults: u64,
    /// Faults of a long run.
    pub long: u64,
    run: fn(&Stage, u64, u64) -> Figures,
}

impl Kind {
    /// One round, of this many faults at most.
    pub fn round(&self, stage: &Stage, seed: u64, faults: u64) -> Figures {
        (self.run)(stage, seed, faults.min(self.faults))
    }

    /// As many rounds as this many faults take; gives what they came to, with the seed of each
    /// finding.
    pub fn rounds(&self, stage: &Stage, seed: u64, faults: u64) -> Figures {
        let mut all = Figures::default();
        let mut chance = Chance::new(seed, 0);
        let mut own = seed;
        while all.faults < faults {
            let mut round = self.round(stage, own, faults - all.faults);
            let again = format!("scripts/faults {} --seed {own} --rounds 1", self.name);
            let more = round.findings.len().saturating_sub(TOLD);
            round.findings.truncate(TOLD);
            if let Some(last) = round.findings.last_mut() {
                let more = if more == 0 { String::new() } else { format!("and {more} more; ") };
                last.push_str(&format!("\n    {more}again: {again}"));
            }
            round.faults = round.faults.max(1);
            all += round;
            own = chance.bits() >> 16;
        }
        if all.acknowledged == 0 {
            all.otherwise("nothing was done in any round".to_owned());
        }
        all
    }
}

/// All of them.
pub const KINDS: [Kind; 13] = [
    Kind {
        name: "kill-sqlite",
        what: "the service is killed, on SQLite",
        on_postgres: false,
        faults: 10,
        long: 500,
        run: kill::on_sqlite,
    },
    Kind {
        name: "kill-postgres",
        what: "the service is killed, on PostgreSQL",
        on_postgres: true,
        faults: 10,
        long: 200,
        run: kill::on_postgres,
    },
    Kind {
        name: "disk-full",
        what: "the disk is full, and has room again",
        on_postgres: false,
        faults: 1,
        long: 20,
        run: disk::full,
    },
    Kind {
        name: "disk-errors",
        what: "writes, syncs and reads fail, once or for a while",
        on_postgres: false,
        faults: 3,
        long: 60,
        run: disk::errors,
    },
    Kind {
        name: "power-cut",
        what: "the power goes: what was not synced is kept, dropped or torn",
        on_postgres: false,
        faults: 10,
        long: 200,
        run: power::cuts,
    },
    Kind {
        name: "locked",
        what: "another program holds the file's lock",
        on_postgres: false,
        faults: 1,
        long: 8,
        run: lock::locked,
    },
    Kind {
        name: "read-only",
        what: "the file or its directory is read-only",
        on_postgres: false,
        faults: 1,
        long: 6,
        run: lock::read_only,
    },
    Kind {
        name: "two-sqlite",
        what: "two services on one file, one of them killed",
        on_postgres: false,
        faults: 1,
        long: 20,
        run: services::on_sqlite,
    },
    Kind {
        name: "two-postgres",
        what: "two services on one PostgreSQL, one of them killed",
        on_postgres: true,
        faults: 1,
        long: 20,
        run: services::on_postgres,
    },
    Kind {
        name: "gone-sqlite",
        what: "clients go away in the middle, on SQLite",
        on_postgres: false,
        faults: 1,
        long: 20,
        run: clients::on_sqlite,
    },
    Kind {
        name: "gone-postgres",
        what: "clients go away in the middle, on PostgreSQL",
        on_postgres: true,
        faults: 1,
        long: 20,
        run: clients::on_postgres,
    },
    Kind {
        name: "network",
        what: "the network to PostgreSQL cuts, delays and stalls",
        on_postgres: true,
        faults: 3,
        long: 60,
        run: network::network,
    },
    Kind {
        name: "postgres-restart",
        what: "PostgreSQL is stopped or killed, and starts again",
        on_postgres: true,
        faults: 2,
        long: 40,
        run: network::restart,
    },
];
