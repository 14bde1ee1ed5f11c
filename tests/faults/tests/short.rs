//! A short round of each kind of fault.
//!
//! `scripts/faults` runs more of them, with seeds of its own.

#![allow(clippy::unwrap_used)]

use capful_faults::kinds::KINDS;
use capful_faults::postgres;
use capful_faults::stage::{Stage, built_program};

/// Runs this many faults of a kind, all of which have to leave the books whole.
fn survives(name: &str, faults: u64) {
    let kind = KINDS.iter().find(|kind| kind.name == name).unwrap();
    if kind.on_postgres && postgres::programs().is_none() {
        return;
    }
    let figures = kind.rounds(&Stage::new(built_program()), 1, faults);
    assert!(figures.acknowledged > 0, "nothing was done: {figures:?}");
    assert!(figures.is_well(), "\n{}\n", figures.findings.join("\n"));
}

macro_rules! kinds {
    ($($test:ident: $name:literal, $faults:literal;)*) => {
        $(
            #[test]
            fn $test() {
                survives($name, $faults);
            }
        )*
    };
}

kinds! {
    a_killed_service_loses_nothing_on_sqlite: "kill-sqlite", 4;
    a_killed_service_loses_nothing_on_postgres: "kill-postgres", 3;
    a_full_disk_loses_nothing: "disk-full", 2;
    a_disk_that_fails_loses_nothing: "disk-errors", 3;
    a_power_cut_loses_nothing: "power-cut", 4;
    a_lock_held_by_another_program_is_waited_for: "locked", 1;
    a_file_that_may_not_be_written_is_left_as_it_is: "read-only", 1;
    two_services_work_on_one_file: "two-sqlite", 1;
    two_services_work_on_one_postgres: "two-postgres", 1;
    clients_that_go_away_leave_nothing_half_done_on_sqlite: "gone-sqlite", 1;
    clients_that_go_away_leave_nothing_half_done_on_postgres: "gone-postgres", 1;
    a_network_that_fails_loses_nothing: "network", 2;
    a_postgres_that_is_started_anew_loses_nothing: "postgres-restart", 1;
}
