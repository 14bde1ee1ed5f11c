//! A shop goes in and comes out as it was, again and again.

#![allow(clippy::unwrap_used)]

mod common;

use capful_demo::demo_shop;
use capful_domain::{Facts, Snapshot};
use capful_forecast::{PlanSettings, expected_pours, plan};
use capful_store::{Change, Effects, Store, StoreError, WriteContext};
use chrono::{DateTime, Duration, NaiveDate, Utc};
use common::Fresh;
use uuid::Uuid;

on_both!(
    the_demo_shop_comes_back_as_it_went_in,
    what_is_new_is_added_and_what_differs_is_told,
    a_history_in_parts_is_the_same_shop,
);

fn today() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 3, 2).unwrap()
}

fn morning(facts: &Facts) -> DateTime<Utc> {
    facts.shop.start_of(today())
}

async fn import(
    store: &Store,
    shop: Uuid,
    facts: &Facts,
    whole: &Facts,
) -> Result<Effects, StoreError> {
    let now = morning(facts);
    let expected = expected_pours(&Snapshot::of(whole, now));
    let import = Change::Import { facts: Box::new(facts.clone()), expected };
    store.change_plainly(&WriteContext::plainly(shop, now), &import).await
}

async fn the_demo_shop_comes_back_as_it_went_in(fresh: Fresh) {
    let facts = demo_shop(today(), 1);
    let now = morning(&facts);
    let store = fresh.store().await;
    let shop = store.new_uuid(now);
    let outcome = import(&store, shop, &facts, &facts).await.unwrap();
    assert!(outcome.is_new);
    let read = store.facts(shop, None).await.unwrap();
    assert_eq!(read, facts);
    assert_eq!(store.facts(shop, Some(now)).await.unwrap(), facts);

    let snapshot = Snapshot::of(&facts, now);
    let settings = PlanSettings { futures: 50 };
    let (mine, theirs) = (Snapshot::of(&read, now), &snapshot);
    assert_eq!(plan(&mine, &settings, 1), plan(theirs, &settings, 1));

    let checked = store.check(shop).await.unwrap();
    assert_eq!((checked.wrong, checked.otherwise), (vec![], vec![]));
    assert!(checked.movements > 1000 && checked.containers > 100);

    let again = import(&store, shop, &read, &read).await.unwrap();
    assert_eq!((again.is_new, again.added, again.movements), (false, vec![], vec![]));
    assert_eq!(store.facts(shop, None).await.unwrap(), facts);
}

async fn what_is_new_is_added_and_what_differs_is_told(fresh: Fresh) {
    let facts = demo_shop(today(), 1);
    let store = fresh.store().await;
    let shop = store.new_uuid(morning(&facts));
    import(&store, shop, &facts, &facts).await.unwrap();

    let mut later = facts.clone();
    let mut pour = facts.pours[0].clone();
    pour.id = common::id("one-more");
    later.pours.push(pour);
    later.shop.name = "Another name".to_owned();
    let outcome = import(&store, shop, &later, &later).await.unwrap();
    assert_eq!(outcome.added, [("pours.csv", 1)]);
    assert_eq!(store.facts(shop, None).await.unwrap().pours.len(), facts.pours.len() + 1);

    let mut other = facts.clone();
    other.receipts[0].containers += 1;
    other.products[0].name.push('!');
    let new = other.pours.last().unwrap().clone();
    other.pours.push(capful_domain::facts::Pour { id: common::id("never"), ..new });
    let refused = import(&store, shop, &other, &other).await.unwrap_err();
    let StoreError::Problems(problems) = refused else { panic!("{refused}") };
    let files: Vec<&str> = problems.iter().map(|problem| problem.file.as_str()).collect();
    assert_eq!(files, ["products.csv", "receipts.csv"]);
    let read = store.facts(shop, None).await.unwrap();
    assert!(read.pours.iter().all(|pour| pour.id.as_str() != "never"));
}

/// First what had been written down half a year ago, then all of it: the facts are the same, and
/// so are the books, as nothing was written down late.
async fn a_history_in_parts_is_the_same_shop(fresh: Fresh) {
    let facts = demo_shop(today(), 1);
    let store = fresh.store().await;
    let shop = store.new_uuid(morning(&facts));
    let until = morning(&facts) - Duration::days(180);
    let mut first = facts.clone();
    let cut = |at: DateTime<Utc>| at <= until;
    first.pours.retain(|row| cut(row.at));
    first.receipts.retain(|row| cut(row.at));
    first.openings.retain(|row| cut(row.at));
    first.discards.retain(|row| cut(row.at));
    first.mixes.retain(|row| cut(row.at));
    first.counts.retain(|row| cut(row.at));
    let ended = |job: &capful_domain::Job| job.ended_at(&facts.shop);
    first.jobs.retain(|job| ended(job) <= until);
    let jobs: Vec<_> = first.jobs.iter().map(|job| job.id.clone()).collect();
    first.pours.retain(|row| row.job.as_ref().is_none_or(|job| jobs.contains(job)));
    import(&store, shop, &first, &facts).await.unwrap();
    import(&store, shop, &facts, &facts).await.unwrap();
    let read = store.facts(shop, None).await.unwrap();
    assert_eq!(sorted(read), sorted(facts.clone()));
    let checked = store.check(shop).await.unwrap();
    assert_eq!((checked.wrong, checked.otherwise), (vec![], vec![]));
}

fn sorted(mut facts: Facts) -> Facts {
    facts.jobs.sort_by(|a, b| a.id.cmp(&b.id));
    facts.pours.sort_by(|a, b| a.id.cmp(&b.id));
    facts
}
