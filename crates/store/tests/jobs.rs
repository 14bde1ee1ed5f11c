//! Jobs are read by their days, and from the last back.

#![allow(clippy::unwrap_used)]

mod common;

use capful_domain::Job;
use capful_store::{Change, Versioned};
use common::{Fresh, TestShop, job, march};

on_both!(jobs_are_read_by_their_days, jobs_are_read_from_the_last_back_by_vehicle);

fn names(jobs: &[Versioned<Job>]) -> Vec<&str> {
    jobs.iter().map(|listed| listed.row.id.as_str()).collect()
}

async fn shop(fresh: &Fresh) -> TestShop {
    let shop = TestShop::with_soap(fresh).await;
    for (own, day, vehicle) in
        [("j1", 9, "Red van"), ("j2", 5, "blue VAN"), ("j3", 12, "50% off_road"), ("j4", 5, "ute")]
    {
        let vehicle = Some(vehicle.to_owned());
        shop.done(Change::Book(Job { vehicle, ..job(own, day) })).await;
    }
    shop
}

async fn jobs_are_read_by_their_days(fresh: Fresh) {
    let shop = shop(&fresh).await;
    let between = |from, to| shop.store.jobs_between(shop.shop, march(from), march(to));
    assert_eq!(names(&between(5, 12).await.unwrap()), ["j2", "j4", "j1"]);
    assert_eq!(names(&between(12, 13).await.unwrap()), ["j3"]);
    assert!(between(6, 9).await.unwrap().is_empty());
    let other = shop.store.new_uuid(common::noon(1));
    assert!(shop.store.jobs_between(other, march(1), march(20)).await.unwrap().is_empty());
}

async fn jobs_are_read_from_the_last_back_by_vehicle(fresh: Fresh) {
    let shop = shop(&fresh).await;
    let back = |vehicle, skip, most| shop.store.jobs_back(shop.shop, vehicle, skip, most);
    assert_eq!(names(&back(None, 0, 2).await.unwrap()), ["j3", "j1"]);
    assert_eq!(names(&back(None, 2, 9).await.unwrap()), ["j4", "j2"]);
    assert_eq!(names(&back(Some("van"), 0, 9).await.unwrap()), ["j1", "j2"]);
    // What has a meaning in a pattern has none here.
    assert_eq!(names(&back(Some("0% OFF_"), 0, 9).await.unwrap()), ["j3"]);
    assert!(back(Some("e%v"), 0, 9).await.unwrap().is_empty());
    assert!(back(Some("van\0"), 0, 9).await.unwrap().is_empty());
    assert!(back(Some("r_d"), 0, 9).await.unwrap().is_empty());
}
