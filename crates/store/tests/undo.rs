//! What somebody did is undone: what it wrote is reversed, or is as it was before.

#![allow(clippy::unwrap_used)]

mod common;

use capful_domain::facts::{Method, Order, OrderStatus, Pour};
use capful_domain::{
    Condition, ExpectedPour, Facts, Id, Job, JobStatus, Money, Quantity, Ratio, SheetRow, Snapshot,
    VehicleSize,
};
use capful_forecast::expected_pours;
use capful_store::{AuditAction, Change, Effects, EventKind, Finish, WriteContext};
use common::{
    Fresh, TestShop, count, discard, id, job, march, mix, ml, noon, opening, order, pour, receipt,
};
use uuid::Uuid;

on_both!(
    rows_of_each_kind_are_undone,
    several_rows_are_undone_together,
    what_was_reversed_already_is_passed_over,
    what_others_need_is_not_undone,
    a_finished_job_is_open_again,
    finished_again_it_takes_as_much_as_once,
    what_was_poured_before_the_end_stays,
    a_pour_of_nothing_goes_with_the_end,
    an_open_job_is_not_deducted_and_teaches_nothing,
    a_day_before_the_undo_is_as_it_was,
    a_job_goes_back_step_by_step,
    an_edit_of_a_job_is_undone,
    a_booking_is_undone,
    orders_are_undone,
    some_things_stay,
    of_two_who_undo_one_does,
);

async fn stocked(fresh: &Fresh) -> TestShop {
    let shop = TestShop::with_soap(fresh).await;
    shop.product("wax").await;
    let receipts = vec![receipt("r1", 2, "soap", 2), receipt("r2", 2, "wax", 1)];
    shop.done(Change::Receive(receipts)).await;
    shop
}

/// Undoes what was done, and finds the books sound.
async fn undoes(shop: &TestShop, done: &Effects) -> Effects {
    let outcome = shop.done(Change::Undo { deed: done.deed }).await;
    shop.is_as_replayed().await;
    let deed = shop.store.deed(shop.shop, done.deed).await.unwrap().unwrap();
    assert_eq!((deed.undone_at, deed.can_be_undone), (Some(noon(20)), false));
    let twice = shop.refused(Change::Undo { deed: done.deed }).await;
    assert!(twice.contains("already undone"), "{twice}");
    outcome
}

async fn keeps(shop: &TestShop, done: &Effects) -> String {
    let refused = shop.refused(Change::Undo { deed: done.deed }).await;
    let deed = shop.store.deed(shop.shop, done.deed).await.unwrap().unwrap();
    assert_eq!(deed.undone_at, None);
    refused
}

async fn the_job(shop: &TestShop, own: &str) -> Job {
    shop.store.get::<Job>(shop.shop, own).await.unwrap().row
}

/// Standing facts, but for how the order of rows was written.
async fn facts(shop: &TestShop) -> Facts {
    shop.store.facts(shop.shop, None).await.unwrap()
}

async fn rows_of_each_kind_are_undone(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    for (own, change) in [
        ("pour", Change::Pour(vec![pour("p1", noon(4), "soap", 1200)])),
        ("opening", Change::Open(opening("o1", noon(4), "soap"))),
        ("mix", Change::Mix(mix("m1", noon(4), "soap", 500, 4))),
        ("discard", Change::Discard(discard("d1", noon(4), "soap"))),
        ("count", Change::Count(count("c1", noon(4), "soap", 700))),
        ("receipt", Change::Receive(vec![receipt("r3", 4, "soap", 3)])),
    ] {
        let (before, standing) = (shop.shelf("soap").await, facts(&shop).await);
        let done = shop.done(change).await;
        assert_ne!(shop.shelf("soap").await, before, "{own}");
        let undone = undoes(&shop, &done).await;
        assert_eq!(undone.written, done.written, "{own}");
        assert!(!undone.movements.is_empty() && !undone.containers.is_empty(), "{own}");
        let mut after = shop.shelf("soap").await;
        after.truncate(before.len());
        assert_eq!(after, before, "{own}");
        assert_eq!(facts(&shop).await, standing, "{own}");
    }
}

async fn several_rows_are_undone_together(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let before = (shop.shelf("soap").await, shop.shelf("wax").await);
    let pours = vec![
        pour("p1", noon(4), "soap", 900),
        pour("p2", noon(4), "wax", 10),
        pour("p3", noon(4), "soap", 300),
    ];
    let done = shop.done(Change::Pour(pours)).await;
    shop.done(Change::Pour(vec![pour("p4", noon(5), "wax", 5)])).await;
    undoes(&shop, &done).await;
    assert_eq!(shop.shelf("soap").await, before.0);
    assert_eq!(shop.shelf("wax").await, ["r2/1 open 995"]);
}

async fn what_was_reversed_already_is_passed_over(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let pours = vec![pour("p1", noon(4), "soap", 100), pour("p2", noon(4), "wax", 10)];
    let one = shop.done(Change::Pour(pours)).await;
    shop.reverses(EventKind::Pour, "p1").await;
    assert_eq!(undoes(&shop, &one).await.written, ["p2"]);
    assert_eq!(shop.shelf("wax").await, ["r2/1 sealed 1000"]);

    let two = shop.done(Change::Pour(vec![pour("p3", noon(4), "soap", 100)])).await;
    shop.reverses(EventKind::Pour, "p3").await;
    let refused = keeps(&shop, &two).await;
    assert!(refused.contains("already undone"), "{refused}");
}

async fn what_others_need_is_not_undone(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let more = vec![receipt("r3", 4, "wax", 1), receipt("r4", 4, "soap", 1)];
    let received = shop.done(Change::Receive(more)).await;
    let named = Some(common::container("r3/1"));
    let poured = Pour { container: named, ..pour("p1", noon(5), "wax", 10) };
    let poured = shop.done(Change::Pour(vec![poured])).await;
    let before = (shop.shelf("soap").await, shop.shelf("wax").await);
    let refused = keeps(&shop, &received).await;
    assert!(refused.contains("pour p1 names a container of it"), "{refused}");
    assert_eq!((shop.shelf("soap").await, shop.shelf("wax").await), before);
    undoes(&shop, &poured).await;
    undoes(&shop, &received).await;
}

fn of_job(own: &str, product: &str, number: i64) -> Pour {
    Pour { job: Some(id("j1")), ..pour(own, noon(5), product, number) }
}

fn expected(product: &str, quantity: i64) -> ExpectedPour {
    let quantity = Quantity::from_ledger_units(quantity * 1000);
    ExpectedPour { at: noon(5), job: id("j1"), product: id(product), quantity, ratio: Ratio::NEAT }
}

/// Ends `j1`, which took 100 mL of soap, and 20 mL of wax that nobody measured.
async fn finishes(shop: &TestShop, own: &str) -> Effects {
    let job = shop.store.get::<Job>(shop.shop, "j1").await.unwrap();
    let pours = vec![of_job(own, "soap", 100)];
    let expected = vec![expected("wax", 20)];
    shop.done(Change::FinishJob(Finish { job, at: noon(5), pours, expected })).await
}

async fn a_finished_job_is_open_again(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    shop.done(Change::Book(job("j1", 5))).await;
    let before = (facts(&shop).await, shop.shelf("soap").await, shop.shelf("wax").await);
    let done = finishes(&shop, "p1").await;
    assert_eq!(shop.shelf("soap").await, ["r1/1 open 900", "r1/2 sealed 1000"]);
    assert_eq!(shop.shelf("wax").await, ["r2/1 open 980"]);
    let undone = undoes(&shop, &done).await;
    assert_eq!(undone.version, Some(3));
    assert_eq!(undone.written.first().map(String::as_str), Some("j1"));
    assert_eq!(undone.written.len(), 3);
    let after = (facts(&shop).await, shop.shelf("soap").await, shop.shelf("wax").await);
    assert_eq!(after, before);

    shop.done(Change::StartJob { job: id("j1"), at: noon(4) }).await;
    let started = the_job(&shop, "j1").await;
    let done = finishes(&shop, "p2").await;
    undoes(&shop, &done).await;
    assert_eq!(the_job(&shop, "j1").await, started);
    shop.done(Change::CancelJob { job: id("j1"), at: noon(6) }).await;
}

async fn finished_again_it_takes_as_much_as_once(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    shop.done(Change::Book(job("j1", 5))).await;
    let first = finishes(&shop, "p1").await;
    let once = (shop.shelf("soap").await, shop.shelf("wax").await);
    undoes(&shop, &first).await;
    let second = finishes(&shop, "p2").await;
    assert_eq!((shop.shelf("soap").await, shop.shelf("wax").await), once);
    shop.is_as_replayed().await;
    let facts = facts(&shop).await;
    assert_eq!(facts.pours.len(), 2);
    assert_eq!(facts.jobs[0].finished_at, Some(noon(5)));
    undoes(&shop, &second).await;
    assert_eq!(shop.shelf("wax").await, ["r2/1 sealed 1000"]);
}

async fn what_was_poured_before_the_end_stays(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    shop.done(Change::Book(job("j1", 5))).await;
    shop.done(Change::Pour(vec![of_job("p0", "wax", 30)])).await;
    let done = finishes(&shop, "p1").await;
    assert_eq!(shop.shelf("wax").await, ["r2/1 open 970"], "of wax nothing is expected then");
    undoes(&shop, &done).await;
    assert_eq!(shop.shelf("wax").await, ["r2/1 open 970"]);
    assert_eq!(shop.shelf("soap").await, ["r1/1 sealed 1000", "r1/2 sealed 1000"]);

    // A job that took nothing is open again too.
    let job = shop.store.get::<Job>(shop.shop, "j1").await.unwrap();
    let finish = Finish { job, at: noon(5), pours: vec![], expected: vec![] };
    let done = shop.done(Change::FinishJob(finish)).await;
    undoes(&shop, &done).await;
    assert_eq!(the_job(&shop, "j1").await.status, JobStatus::Booked);
}

async fn a_pour_of_nothing_goes_with_the_end(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    shop.done(Change::Book(job("j1", 5))).await;
    let done = finishes(&shop, "p1").await;
    let wax = facts(&shop).await.pours.into_iter().find(|pour| pour.product == id("wax"));
    shop.reverses(EventKind::Pour, wax.unwrap().id.as_str()).await;
    let says_none = |pour: &Pour| pour.amount.number.is_zero();
    assert!(facts(&shop).await.pours.iter().any(says_none), "it took none, and says so");
    undoes(&shop, &done).await;
    assert_eq!(facts(&shop).await.pours, []);
    finishes(&shop, "p2").await;
    assert_eq!(shop.shelf("wax").await, ["r2/1 open 980"], "deducted again");
}

async fn an_open_job_is_not_deducted_and_teaches_nothing(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    for (product, number) in [("soap", 40), ("wax", 20)] {
        shop.done(Change::SheetRow(SheetRow {
            job_type: id("wash"),
            product: id(product),
            amount: ml(number),
            ratio: None,
            share_of_jobs: None,
            log_sd: None,
        }))
        .await;
    }
    shop.done(Change::Book(job("j1", 5))).await;
    let done = finishes(&shop, "p1").await;
    let snapshot = Snapshot::of(&facts(&shop).await, noon(25));
    assert_eq!(snapshot.measured_pairs().len(), 1);
    undoes(&shop, &done).await;
    let snapshot = Snapshot::of(&facts(&shop).await, noon(25));
    assert!(snapshot.measured_pairs().is_empty());
    assert_eq!(expected_pours(&snapshot), []);
    let ledger = snapshot.ledger(&[]);
    assert_eq!(ledger.left_of(&id("soap")).ledger_units(), 2_000_000);
    assert_eq!(ledger.left_of(&id("wax")).ledger_units(), 1_000_000);

    // Taken out as a folder and taken over, it is the same shop.
    let files = capful_folder::to_files(&facts(&shop).await);
    let read = capful_folder::read_files(&files).unwrap().facts;
    let other = TestShop { shop: Uuid::now_v7(), store: shop.store };
    let expected = expected_pours(&Snapshot::of(&read, noon(25)));
    let import = Change::Import { facts: Box::new(read), expected };
    other
        .store
        .change_plainly(&WriteContext::plainly(other.shop, noon(25)), &import)
        .await
        .unwrap();
    assert_eq!(other.shelf("wax").await, ["r2/1 sealed 1000"]);
    other.is_as_replayed().await;
}

async fn a_day_before_the_undo_is_as_it_was(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    shop.done(Change::Book(job("j1", 5))).await;
    let done = finishes(&shop, "p1").await;
    undoes(&shop, &done).await;
    let before = shop.store.facts(shop.shop, Some(noon(19))).await.unwrap();
    let methods: Vec<_> = before.pours.iter().map(|pour| pour.method).collect();
    assert_eq!(methods, [None, Some(Method::Expected)], "what was deducted stood then");
    let ledger = Snapshot::of(&before, noon(19)).ledger(&[]);
    assert_eq!(ledger.left_of(&id("soap")).ledger_units(), 1_900_000);
    assert_eq!(ledger.left_of(&id("wax")).ledger_units(), 980_000);
}

async fn a_job_goes_back_step_by_step(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    shop.done(Change::Book(job("j1", 5))).await;
    let booked = the_job(&shop, "j1").await;
    let started = shop.done(Change::StartJob { job: id("j1"), at: noon(5) }).await;
    let as_started = the_job(&shop, "j1").await;
    let done = finishes(&shop, "p1").await;
    let refused = keeps(&shop, &started).await;
    assert!(refused.contains("job j1 is done"), "{refused}");
    undoes(&shop, &done).await;
    let cancelled = shop.done(Change::CancelJob { job: id("j1"), at: noon(6) }).await;
    undoes(&shop, &cancelled).await;
    assert_eq!(the_job(&shop, "j1").await, as_started);
    undoes(&shop, &started).await;
    assert_eq!(the_job(&shop, "j1").await, booked);
    let cancelled = shop.done(Change::CancelJob { job: id("j1"), at: noon(6) }).await;
    undoes(&shop, &cancelled).await;
    assert_eq!(the_job(&shop, "j1").await, booked);
}

async fn an_edit_of_a_job_is_undone(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let booked = job("j1", 5);
    shop.done(Change::Book(booked.clone())).await;
    let edited = Job {
        planned_on: march(9),
        size: VehicleSize::Oversize,
        condition: Condition::new(5).unwrap(),
        vehicle: Some("red \"van\"\u{e9}".to_owned()),
        price: Some(Money::from_minor(12_050)),
        ..booked.clone()
    };
    let first = shop.done(Change::ChangeJob(edited.clone())).await;
    let second = Job { vehicle: None, price: None, ..edited.clone() };
    let second = shop.done(Change::ChangeJob(second)).await;
    let refused = keeps(&shop, &first).await;
    assert!(refused.contains("job j1 was changed since"), "{refused}");
    // How far it has come is no edit, and stays.
    shop.done(Change::StartJob { job: id("j1"), at: noon(5) }).await;
    let is_started =
        |job: Job| Job { status: JobStatus::Started, started_at: Some(noon(5)), ..job };
    undoes(&shop, &second).await;
    assert_eq!(the_job(&shop, "j1").await, is_started(edited));
    undoes(&shop, &first).await;
    assert_eq!(the_job(&shop, "j1").await, is_started(booked));
}

async fn a_booking_is_undone(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let booked = shop.done(Change::Book(job("j1", 5))).await;
    let poured = shop.done(Change::Pour(vec![of_job("p1", "soap", 10)])).await;
    let refused = keeps(&shop, &booked).await;
    assert!(refused.contains("something was poured for job j1"), "{refused}");
    undoes(&shop, &poured).await;
    let started = shop.done(Change::StartJob { job: id("j1"), at: noon(5) }).await;
    let refused = keeps(&shop, &booked).await;
    assert!(refused.contains("job j1 is started"), "{refused}");
    undoes(&shop, &started).await;
    undoes(&shop, &booked).await;
    let cancelled = the_job(&shop, "j1").await;
    assert_eq!((cancelled.status, cancelled.cancelled_at), (JobStatus::Cancelled, Some(noon(20))));
}

async fn order_status(shop: &TestShop, own: &str) -> Option<OrderStatus> {
    shop.store.get::<Order>(shop.shop, own).await.unwrap().row.status
}

async fn orders_are_undone(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let placed = shop.done(order("b1", 3, "soap", 2)).await;
    let against =
        capful_domain::facts::Receipt { order: Some(id("b1")), ..receipt("r3", 4, "soap", 1) };
    let received = shop.done(Change::Receive(vec![against])).await;
    let refused = keeps(&shop, &placed).await;
    assert!(refused.contains("something of order b1 came in"), "{refused}");
    let ended = Change::SetOrder { order: id("b1"), status: OrderStatus::Received };
    let ended = shop.done(ended).await;
    undoes(&shop, &received).await;
    let refused = keeps(&shop, &placed).await;
    assert!(refused.contains("order b1 is received"), "{refused}");
    let cancel = || Change::SetOrder { order: id("b1"), status: OrderStatus::Cancelled };
    let cancelled = shop.done(cancel()).await;
    let refused = keeps(&shop, &ended).await;
    assert!(refused.contains("it is cancelled now"), "{refused}");
    undoes(&shop, &cancelled).await;
    assert_eq!(order_status(&shop, "b1").await, Some(OrderStatus::Received));
    undoes(&shop, &ended).await;
    assert_eq!(order_status(&shop, "b1").await, None);
    undoes(&shop, &placed).await;
    assert_eq!(order_status(&shop, "b1").await, Some(OrderStatus::Cancelled));

    let placed = shop.done(order("b2", 3, "soap", 2)).await;
    shop.done(Change::SetOrder { order: id("b2"), status: OrderStatus::Cancelled }).await;
    let refused = keeps(&shop, &placed).await;
    assert!(refused.contains("order b2 is cancelled already"), "{refused}");
}

async fn some_things_stay(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let poured = shop.done(Change::Pour(vec![pour("p1", noon(4), "soap", 100)])).await;
    undoes(&shop, &poured).await;
    shop.done(Change::Pour(vec![pour("p2", noon(4), "soap", 100)])).await;
    shop.reverses(EventKind::Pour, "p2").await;
    let same = Box::new(facts(&shop).await);
    shop.done(Change::Import { facts: same, expected: vec![] }).await;
    let deeds = shop.store.deeds(shop.shop, None, 100).await.unwrap();
    let mut seen = Vec::new();
    for deed in deeds.iter().filter(|deed| !deed.can_be_undone && deed.undone_at.is_none()) {
        let refused = shop.refused(Change::Undo { deed: deed.id }).await;
        assert!(refused.contains("stays"), "{refused}");
        seen.push(deed.what);
    }
    for what in
        [AuditAction::Imported, AuditAction::Reversed, AuditAction::Undone, AuditAction::Shop]
    {
        assert!(seen.contains(&what), "{what:?}");
    }
}

async fn of_two_who_undo_one_does(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let other = fresh.store().await;
    for round in 0..5 {
        let own: Id = id(&format!("p{round}"));
        let poured = Pour { id: own, ..pour("p", noon(4), "soap", 100) };
        let poured = shop.done(Change::Pour(vec![poured])).await;
        let (asked, undo) = (shop.asked(), Change::Undo { deed: poured.deed });
        let (one, two) = tokio::join!(
            shop.store.change_plainly(&asked, &undo),
            other.change_plainly(&asked, &undo),
        );
        assert!(one.is_ok() != two.is_ok(), "{one:?} {two:?}");
    }
    assert_eq!(shop.shelf("soap").await, ["r1/1 sealed 1000", "r1/2 sealed 1000"]);
    shop.is_as_replayed().await;
}
