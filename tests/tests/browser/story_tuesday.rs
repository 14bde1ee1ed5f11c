//! A Tuesday with three jobs: one takes what is expected, one takes more, and one is finished where
//! there is no signal.

use capful_domain::{Job, JobStatus};
use capful_store::{Change, Role};
use chrono::TimeDelta;

use crate::in_a_browser;
use crate::stage::{Browser, Look, Shop, Stage};

in_a_browser!(a_tuesday_with_three_jobs);

/// A Tuesday.
const DAY: &str = "2026-03-03";

async fn a_tuesday_with_three_jobs(stage: Stage) {
    for look in [Look::PHONE, Look::LAPTOP] {
        let shop = Shop::demo(DAY).await;
        let person = stage.signed_in_as(Role::Helper, &shop, look).await;
        only_these(&shop, &person).await;
        as_expected(&shop, &person).await;
        with_more_of_something(&shop, &person).await;
        without_signal(&shop, &person).await;
        person.open("/").await;
        person.sees("No job is left for today.").await;
        for vehicle in VEHICLES {
            person.sees(vehicle).await;
        }
        person.is_for_everybody().await;
        person.screenshot("tuesday").await;
        let checked = shop.store.check(shop.id()).await.unwrap();
        assert!(checked.wrong.is_empty(), "{:?}", checked.wrong);
    }
}

const VEHICLES: [&str; 3] = ["grey estate, GUL 701", "red hatch, GUL 702", "white van, GUL 703"];

/// The day's jobs are three that are booked this morning.
async fn only_these(shop: &Shop, person: &Browser) {
    let facts = shop.store.facts(shop.id(), None).await.unwrap();
    let today = facts.shop.day_of(shop.now());
    let is_open = |job: &&Job| matches!(job.status, JobStatus::Booked | JobStatus::Started);
    let early = facts.jobs.iter().filter(is_open).filter(|job| job.planned_on <= today);
    for job in early {
        let asked = capful_store::WriteContext::plainly(shop.id(), shop.now());
        let cancel = Change::CancelJob { job: job.id.clone(), at: shop.now() };
        shop.store.change_plainly(&asked, &cancel).await.unwrap();
    }
    for (vehicle, grade) in
        VEHICLES.iter().zip(["3, usual road dirt", "5, neglected", "2, lightly"])
    {
        person.open(&format!("/jobs/new?planned_on={DAY}")).await;
        person.tap("Maintenance wash").await;
        person.fill("Vehicle", vehicle).await;
        person.tap(grade).await;
        person.tap("Book").await;
        person.sees("is booked").await;
    }
    // It takes the morning until the first is washed.
    shop.pass(TimeDelta::hours(2));
}

async fn job(shop: &Shop, vehicle: &str) -> Job {
    let jobs = shop.store.facts(shop.id(), None).await.unwrap().jobs;
    jobs.into_iter().rfind(|job| job.vehicle.as_deref() == Some(vehicle)).unwrap()
}

async fn as_expected(shop: &Shop, person: &Browser) {
    person.open("/").await;
    person.sees("Set out").await;
    for vehicle in VEHICLES {
        person.sees(vehicle).await;
    }
    person.tap(&format!("Finish {}", VEHICLES[0])).await;
    person.tap("Done").await;
    person.sees("is finished, and what it took is deducted.").await;
    assert_eq!(job(shop, VEHICLES[0]).await.status, JobStatus::Done);
}

async fn with_more_of_something(shop: &Shop, person: &Browser) {
    shop.pass(TimeDelta::hours(1));
    person.tap(&format!("Finish {}", VEHICLES[1])).await;
    person.fill("Amount of Wash shampoo concentrate, 5 L", "90").await;
    person.tap("Done with these amounts").await;
    person.sees("is finished, and what it took is deducted.").await;
    let done = job(shop, VEHICLES[1]).await;
    let pours = shop.store.facts(shop.id(), None).await.unwrap().pours;
    let shampoo = pours.iter().rfind(|pour| {
        pour.job.as_ref() == Some(&done.id) && pour.product.as_str() == "wash-shampoo"
    });
    assert_eq!(shampoo.unwrap().amount.number.to_string(), "90");
}

async fn without_signal(shop: &Shop, person: &Browser) {
    shop.pass(TimeDelta::hours(1));
    let own = job(shop, VEHICLES[2]).await;
    person.tap(&format!("Finish {}", VEHICLES[2])).await;
    person.go_offline().await;
    person.tap("Done").await;
    let kept = format!("Kept on this phone until there is signal: Finish {}", VEHICLES[2]);
    person.sees(&kept).await;
    assert_eq!(job(shop, VEHICLES[2]).await.status, JobStatus::Booked);
    person.go_online().await;
    person.sees("What was kept on this phone is sent").await;
    let done = job(shop, VEHICLES[2]).await;
    assert_eq!(done.status, JobStatus::Done);
    // When it was finished, by the clock of the shop: not when it was sent, nor by the phone's.
    let finished_at = done.finished_at.unwrap();
    assert!(finished_at <= shop.now() && finished_at > shop.now() - TimeDelta::minutes(30));
    let deeds = shop.store.deeds(shop.id(), None, 50).await.unwrap();
    let finished = deeds.iter().filter(|deed| deed.of == own.id.as_str());
    assert_eq!(finished.count(), 2, "booked, and finished once");
}
