//! Whatever a writing operation does fails in turn: the first row that it writes, then the second,
//! and so on, and the commit of them all. Each time it is answered with an error, the database is
//! as it was before, and what is done next is done for good.
//!
//! Nothing in the store knows of it: the database itself refuses, by triggers that a second
//! connection made. On PostgreSQL every statement is cut off as well, reads too, by a relay on the
//! way there; `CAPFUL_EVERY_STATEMENT=1` does that to every operation, else to a few.

#![allow(clippy::unwrap_used)]

#[path = "../common/mod.rs"]
mod common;
mod database;
mod relay;
mod story;

use std::collections::HashSet;

use capful_domain::Job;
use capful_store::{AuditAction, Change, Store, StoreError};
use common::{Fresh, TestShop, id, job};
use database::{Database, Fault};
use relay::{Cut, Relay};
use story::{Act, Story};

/// Rows that no operation of the story writes so many of.
const MOST: i64 = 400;

mod sqlite {
    use super::*;

    #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
    async fn a_row_is_refused() {
        each_row_fails(Fresh::sqlite(), Fault::Statement).await;
    }

    #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
    async fn the_transaction_is_taken_back() {
        each_row_fails(Fresh::sqlite(), Fault::Transaction).await;
    }

    #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
    async fn the_commit_fails() {
        each_row_fails(Fresh::sqlite(), Fault::Commit).await;
    }
}

mod postgres {
    use super::*;

    #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
    async fn a_row_is_refused() {
        if let Some(fresh) = Fresh::postgres().await {
            each_row_fails(fresh, Fault::Statement).await;
        }
    }

    #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
    async fn the_connection_is_ended() {
        if let Some(fresh) = Fresh::postgres().await {
            each_row_fails(fresh, Fault::Transaction).await;
        }
    }

    #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
    async fn the_commit_fails() {
        if let Some(fresh) = Fresh::postgres().await {
            each_row_fails(fresh, Fault::Commit).await;
        }
    }

    #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
    async fn a_statement_is_lost_on_its_way() {
        if let Some(fresh) = Fresh::postgres().await {
            each_statement_is_cut(fresh, Cut::Statement).await;
        }
    }

    #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
    async fn an_answer_is_lost_on_its_way() {
        if let Some(fresh) = Fresh::postgres().await {
            each_statement_is_cut(fresh, Cut::Answer).await;
        }
    }
}

async fn each_row_fails(fresh: Fresh, fault: Fault) {
    let shop = TestShop::with_soap(&fresh).await;
    let mut database = Database::open(&fresh.url).await;
    let story = Story::prepare(&shop).await;
    database.install(fault).await;
    let mut failed = 0;
    for (place, act) in story.acts().into_iter().enumerate() {
        let rows = rows_fail(&shop, &database, &act, place).await;
        assert!(rows > 0, "nothing was refused of {act:?}");
        failed += rows;
        is_whole_when_opened_anew(&fresh.url, &shop, &act, &format!("after-{place}-{rows}")).await;
    }
    println!("{fault:?}: {failed} rows or commits were refused");
    everything_was_done(&shop, &story).await;
}

/// Lets one row after the other fail until all are written; gives how many failed.
async fn rows_fail(shop: &TestShop, database: &Database, act: &Act, place: usize) -> i64 {
    let mut before = database.content().await;
    for row in 1..MOST {
        // Which row it is that makes the commit fail is all the same to it.
        let row_that_fails =
            if database.fault == Fault::Commit && row > 1 { i64::MAX } else { row };
        database.fail_from(row_that_fails).await;
        let done = act.run(shop, place).await;
        database.fail_from(i64::MAX).await;
        match done {
            Ok(()) => return row - 1,
            Err(error) if has_failed(&error) => {}
            // Why SQLite's commit fails here.
            Err(StoreError::Refused(why)) if why.starts_with("what a row names") => {}
            Err(other) => panic!("row {row} of {act:?}: {other}"),
        }
        let after = database.content().await;
        let is_kept = |line: &&String| !act.is_in_steps() || !line.starts_with("idempotency ");
        let is_as_before = before.iter().filter(is_kept).eq(after.iter().filter(is_kept));
        assert!(is_as_before, "row {row} of {act:?} failed, and something was changed");
        before = is_done_for_good(shop, database, &format!("after-{place}-{row}"), act).await;
    }
    panic!("{act:?} fails for ever");
}

/// Whether it is said that it failed, and not that it was wrong.
fn has_failed(error: &StoreError) -> bool {
    matches!(error, StoreError::Database(_) | StoreError::Busy(_) | StoreError::Unavailable(_))
}

/// What is wrong next is refused, and what is done next is done, and there for whoever else looks;
/// gives what is there then.
async fn is_done_for_good(
    shop: &TestShop,
    database: &Database,
    own: &str,
    act: &Act,
) -> Vec<String> {
    let wrong = Job { job_types: vec![id("magic")], ..job("wrong", 9) };
    let refused = shop.tries(Change::Book(wrong)).await;
    let is_refused = matches!(&refused, Err(StoreError::NotFound { what: "job type", .. }));
    assert!(is_refused, "after a failure of {act:?}: {refused:?}");
    let next = shop.tries(Change::Book(job(own, 9))).await;
    assert!(next.is_ok(), "after a failure of {act:?}: {next:?}");
    let content = database.content().await;
    let is_there = content.iter().any(|line| line.starts_with("job ") && line.contains(own));
    assert!(is_there, "{own}, done after a failure of {act:?}, was answered and is not there");
    content
}

async fn is_whole_when_opened_anew(url: &str, shop: &TestShop, act: &Act, last: &str) {
    let store = Store::open(url).await.unwrap();
    let found = store.get::<Job>(shop.shop, last).await;
    assert!(found.is_ok(), "{last}, done after a failure of {act:?}: {found:?}");
    for (own, _) in store.shops().await.unwrap() {
        let checked = store.check(own).await.unwrap();
        assert_eq!((checked.wrong, checked.otherwise), (vec![], vec![]), "{act:?}");
    }
    store.close().await;
}

/// The story has done everything that can be done to a shop.
async fn everything_was_done(shop: &TestShop, story: &Story) {
    let mut done = HashSet::new();
    for own in [shop.shop, story.other] {
        let deeds = shop.store.deeds(own, None, 10_000).await.unwrap();
        done.extend(deeds.into_iter().map(|deed| deed.what));
    }
    let missing: Vec<_> = AuditAction::ALL.iter().filter(|what| !done.contains(what)).collect();
    assert!(missing.is_empty(), "{missing:?}");
}

async fn each_statement_is_cut(fresh: Fresh, cut: Cut) {
    let relay = Relay::before(&fresh.url).await;
    let through = Fresh::at(&relay.url(&fresh.url));
    let shop = TestShop::with_soap(&through).await;
    let database = Database::open(&fresh.url).await;
    let story = Story::prepare(&shop).await;
    let every = std::env::var("CAPFUL_EVERY_STATEMENT").is_ok();
    let mut lost = 0;
    for (place, act) in story.acts().into_iter().enumerate() {
        if !every && !act.is_large() {
            act.run(&shop, place).await.unwrap();
            continue;
        }
        let statements = statements_are_cut(&shop, &database, &relay, (&act, place), cut).await;
        assert!(statements > 0, "nothing was cut off of {act:?}");
        lost += statements;
        let last = format!("after-{place}-{statements}");
        is_whole_when_opened_anew(&fresh.url, &shop, &act, &last).await;
    }
    println!("{cut:?}: {lost} of them were lost");
    everything_was_done(&shop, &story).await;
}

/// Cuts one statement after the other off until none is left; gives how many.
async fn statements_are_cut(
    shop: &TestShop,
    database: &Database,
    relay: &Relay,
    (act, place): (&Act, usize),
    cut: Cut,
) -> u64 {
    let mut before = database.content().await;
    for statement in 1..2000 {
        relay.cut(statement, cut);
        let done = act.run(shop, place).await;
        if !relay.stop_cutting() {
            done.unwrap();
            return statement - 1;
        }
        let after = database.content().await;
        let what = format!("statement {statement} of {act:?}");
        let is_done = is_done_once(&before, &after, act);
        match done {
            Ok(()) => assert!(is_done, "{what}: answered, and not there"),
            Err(error) if has_failed(&error) => {
                // Whether a commit was done whose answer was lost is not known to who asked.
                let may_be_done = cut == Cut::Answer || act.is_in_steps();
                assert!(!is_done || may_be_done, "{what} was lost, and it was done");
            }
            Err(other) => panic!("{what}: {other}"),
        }
        let own = format!("after-{place}-{statement}");
        before = is_done_for_good(shop, database, &own, act).await;
        if is_done && !act.is_in_steps() {
            return statement;
        }
    }
    panic!("{act:?} has no last statement");
}

/// Whether it was done, and then whole: what is done to a shop is told of once.
fn is_done_once(before: &[String], after: &[String], act: &Act) -> bool {
    let deeds = |lines: &[String]| lines.iter().filter(|line| line.starts_with("deed ")).count();
    let is_done = after != before;
    if is_done && act.is_change() {
        assert_eq!(deeds(after), deeds(before) + 1, "of {act:?} a part was done");
    }
    is_done
}
