//! A vehicle's words are erased wherever the database holds them, and the shop goes on.

#![allow(clippy::unwrap_used)]

mod common;

use capful_domain::{Job, Snapshot};
use capful_store::{
    Answer, Answered, AuditAction, By, Change, Erased, Finish, StoreError, WriteContext,
};
use common::{Fresh, TestShop, id, job, noon, pour, receipt};
use sea_orm::{ConnectionTrait, Database, DatabaseConnection, Statement};
use uuid::Uuid;

on_both!(
    the_words_are_gone_and_the_books_add_up,
    what_was_answered_is_answered_again_without_them,
    an_edit_is_undone_without_them,
    other_words_and_other_shops_stay,
    it_is_told_who_did_it_and_not_what_they_were,
    nothing_is_told_of_words_that_stand_nowhere,
);

const WORDS: &str = "Grey estate GULL 404";

fn named(own: &str, day: u32, vehicle: &str) -> Job {
    Job { vehicle: Some(vehicle.to_owned()), ..job(own, day) }
}

/// A shop with jobs of the vehicle and of another, one of them done.
async fn busy(fresh: &Fresh) -> TestShop {
    let shop = TestShop::with_soap(fresh).await;
    shop.done(Change::Receive(vec![receipt("r1", 2, "soap", 2)])).await;
    shop.done(Change::Book(named("j1", 5, WORDS))).await;
    shop.done(Change::Book(named("j2", 6, " grey ESTATE gull 404 "))).await;
    shop.done(Change::Book(named("j3", 7, "Blue van"))).await;
    shop.done(Change::ChangeJob(named("j3", 7, WORDS))).await;
    shop.done(Change::ChangeJob(named("j3", 8, "Blue van"))).await;
    let job = shop.store.get::<Job>(shop.shop, "j1").await.unwrap();
    let pours = vec![pour("p1", noon(5), "soap", 40)];
    shop.done(Change::FinishJob(Finish { job, at: noon(5), pours, expected: vec![] })).await;
    shop
}

async fn erase(shop: &TestShop, words: &str) -> Erased {
    shop.store.erase_vehicle(shop.shop, words, noon(21), By::Nobody).await.unwrap()
}

async fn connection(fresh: &Fresh) -> DatabaseConnection {
    Database::connect(&fresh.url).await.unwrap()
}

/// Every text of every row of every table of the database.
async fn texts(fresh: &Fresh) -> Vec<String> {
    let connection = connection(fresh).await;
    let backend = connection.get_database_backend();
    let mut texts = Vec::new();
    for (table, column) in [
        ("job", "own_id"),
        ("job", "COALESCE(vehicle, '')"),
        ("deed", "written"),
        ("deed", "about"),
        ("idempotency", "own_id"),
        ("idempotency", "body"),
        ("pour", "own_id"),
        ("movement", "source"),
    ] {
        let text = format!("SELECT {column} AS text FROM {table}");
        let rows = connection.query_all_raw(Statement::from_string(backend, text)).await.unwrap();
        texts.extend(rows.iter().map(|row| row.try_get::<String>("", "text").unwrap()));
    }
    connection.close().await.unwrap();
    texts
}

async fn stands(fresh: &Fresh) -> bool {
    texts(fresh).await.iter().any(|text| text.to_lowercase().contains("gull 404"))
}

async fn the_words_are_gone_and_the_books_add_up(fresh: Fresh) {
    let shop = busy(&fresh).await;
    let facts = shop.store.facts(shop.shop, None).await.unwrap();
    let movements = shop.is_sound().await.movements;
    assert!(stands(&fresh).await);
    let jobs = shop.store.jobs_of_vehicle(shop.shop, "GREY estate gull 404").await.unwrap();
    let jobs: Vec<&str> = jobs.iter().map(|job| job.id.as_str()).collect();
    assert_eq!(jobs, ["j1", "j2"]);
    let erased = erase(&shop, "GREY estate gull 404").await;
    assert_eq!((erased.jobs, erased.edits), (vec![id("j1"), id("j2")], 2));
    assert!(!stands(&fresh).await);
    let mut without = facts;
    without.jobs[0].vehicle = None;
    without.jobs[1].vehicle = None;
    assert_eq!(shop.store.facts(shop.shop, None).await.unwrap(), without);
    assert_eq!(shop.is_sound().await.movements, movements);
    shop.is_as_replayed().await;
    // Whoever read the job before has to read it again before it is written over.
    let read = shop.store.get::<Job>(shop.shop, "j2").await.unwrap();
    assert_eq!(read.place.version, 2);
}

async fn what_was_answered_is_answered_again_without_them(fresh: Fresh) {
    let shop = busy(&fresh).await;
    let asked = shop.asked().once("k-1", "print");
    let change = Change::Book(named("j9", 9, WORDS));
    let body = format!(r#"{{"job":"j9","all":[{{"vehicle":"{WORDS}"}}]}}"#);
    let answer = |_: &_| Answer { status: 201, body: body.clone() };
    shop.store.change(&asked, &change, answer).await.unwrap();
    assert_eq!(erase(&shop, WORDS).await.answers, 1);
    let again = shop.store.change(&asked, &change, answer).await.unwrap();
    let Answered::Replayed(Answer { status, body }) = again else { panic!("it was done twice") };
    let body: serde_json::Value = serde_json::from_str(&body).unwrap();
    assert_eq!((status, &body["job"], &body["all"][0]["vehicle"]), (201, &"j9".into(), &().into()));
    assert!(!stands(&fresh).await);
}

async fn an_edit_is_undone_without_them(fresh: Fresh) {
    let shop = busy(&fresh).await;
    erase(&shop, WORDS).await;
    let edits = shop.store.deeds(shop.shop, None, 100).await.unwrap();
    let edits = edits.iter().filter(|deed| deed.what == AuditAction::JobChanged);
    for deed in edits.map(|deed| deed.id).collect::<Vec<Uuid>>() {
        shop.done(Change::Undo { deed }).await;
    }
    let job = shop.store.get::<Job>(shop.shop, "j3").await.unwrap().row;
    assert_eq!((job.vehicle.as_deref(), job.planned_on), (Some("Blue van"), common::march(7)));
    shop.is_as_replayed().await;
}

async fn other_words_and_other_shops_stay(fresh: Fresh) {
    let shop = busy(&fresh).await;
    shop.done(Change::Book(named("j4", 9, "Grey estate GULL 4040"))).await;
    let other = TestShop::with_soap(&fresh).await;
    other.done(Change::Book(named("j1", 5, WORDS))).await;
    erase(&shop, WORDS).await;
    let vehicle = async |shop: &TestShop, own: &str| {
        shop.store.get::<Job>(shop.shop, own).await.unwrap().row.vehicle
    };
    assert_eq!(vehicle(&shop, "j4").await.as_deref(), Some("Grey estate GULL 4040"));
    assert_eq!(vehicle(&shop, "j3").await.as_deref(), Some("Blue van"));
    assert_eq!(vehicle(&shop, "j1").await, None);
    assert_eq!(vehicle(&other, "j1").await.as_deref(), Some(WORDS));
}

async fn it_is_told_who_did_it_and_not_what_they_were(fresh: Fresh) {
    let shop = busy(&fresh).await;
    let ann = Uuid::from_u128(7);
    shop.store.erase_vehicle(shop.shop, WORDS, noon(21), By::Person(ann)).await.unwrap();
    let deed = shop.store.deeds(shop.shop, None, 1).await.unwrap().remove(0);
    assert_eq!((deed.what, &*deed.of), (AuditAction::VehicleErased, "j1, j2"));
    assert_eq!((deed.by, deed.at, deed.can_be_undone), (By::Person(ann), noon(21), false));
    let refused = shop.refused(Change::Undo { deed: deed.id }).await;
    assert!(refused.contains("what was erased is gone"), "{refused}");
}

async fn nothing_is_told_of_words_that_stand_nowhere(fresh: Fresh) {
    let shop = busy(&fresh).await;
    let before = shop.store.deeds(shop.shop, None, 100).await.unwrap();
    assert!(erase(&shop, "Red coupe").await.is_nothing());
    assert_eq!(shop.store.deeds(shop.shop, None, 100).await.unwrap(), before);
    let refused = shop.store.erase_vehicle(shop.shop, " ", noon(21), By::Nobody).await;
    assert!(matches!(refused, Err(StoreError::Refused(_))), "{refused:?}");
    // A second time there is nothing left to erase.
    assert!(!erase(&shop, WORDS).await.is_nothing());
    assert!(erase(&shop, WORDS).await.is_nothing());
}

/// SQLite leaves what it writes over in the free room of its file, and in the log beside it.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_words_are_in_no_byte_of_the_file() {
    let fresh = Fresh::sqlite();
    let shop = busy(&fresh).await;
    let asked = WriteContext::plainly(shop.shop, noon(20));
    for n in 10..60 {
        let own = format!("k{n}");
        shop.done(Change::Book(named(&own, 9, WORDS))).await;
        let moved = Change::ChangeJob(named(&own, 10, WORDS));
        shop.store.change_plainly(&asked, &moved).await.unwrap();
    }
    let file = fresh.url.strip_prefix("sqlite:").unwrap().to_owned();
    let holds = |words: &[u8]| {
        let is_there = |name: &str| match std::fs::read(name) {
            Ok(bytes) => bytes.windows(words.len()).any(|part| part == words),
            Err(_) => false,
        };
        [file.clone(), format!("{file}-wal")].iter().any(|name| is_there(name))
    };
    assert!(holds(WORDS.as_bytes()));
    erase(&shop, WORDS).await;
    assert!(!holds(WORDS.as_bytes()));
    assert!(holds(b"Blue van"));
    shop.is_as_replayed().await;
}

#[tokio::test]
async fn a_plan_is_the_same_without_them() {
    let fresh = Fresh::sqlite();
    let shop = busy(&fresh).await;
    let plan = async || {
        let facts = shop.store.facts(shop.shop, None).await.unwrap();
        let settings = capful_forecast::PlanSettings { futures: 50 };
        capful_forecast::plan(&Snapshot::of(&facts, noon(4)), &settings, 1)
    };
    let before = plan().await;
    erase(&shop, WORDS).await;
    assert_eq!(plan().await, before);
}
