//! Today: a job is finished in two taps, undone, and finished where there is no signal.

use capful_domain::{Job, JobStatus};
use capful_store::Role;
use chrono::Utc;

use crate::in_a_browser;
use crate::stage::{Look, Shop, Stage};

in_a_browser!(
    a_job_is_finished_in_two_taps_and_undone,
    a_job_is_finished_without_signal,
    a_job_is_finished_without_the_script,
    today_is_for_everybody,
    a_wrong_password_is_told_and_slowed_down,
);

/// A day on which the demo shop has jobs.
const DAY: &str = "2026-03-03";

/// The open jobs of the shop's day, by their ids and vehicles.
async fn open_jobs(shop: &Shop) -> Vec<(String, String)> {
    let facts = shop.store.facts(shop.id(), None).await.unwrap();
    let today = facts.shop.day_of(shop.now());
    let open = [JobStatus::Booked, JobStatus::Started];
    let own = facts.jobs.iter();
    let own = own.filter(|job| open.contains(&job.status) && job.planned_on <= today);
    own.map(|job| (job.id.to_string(), job.vehicle.clone().unwrap_or_default())).collect()
}

async fn status(shop: &Shop, job: &str) -> JobStatus {
    shop.store.get::<Job>(shop.id(), job).await.unwrap().row.status
}

async fn a_job_is_finished_in_two_taps_and_undone(stage: Stage) {
    let shop = Shop::demo(DAY).await;
    shop.person("ines", Role::Owner).await;
    let (job, vehicle) = open_jobs(&shop).await.remove(0);
    let phone = stage.before(&shop, Look::PHONE).await;
    phone.signs_in("ines").await;
    phone.screenshot("today").await;
    phone.tap(&format!("Finish {vehicle}")).await;
    phone.is_at(&format!("/jobs/{job}/finish")).await;
    phone.screenshot("finish").await;
    phone.is_for_everybody().await;
    phone.tap("Done").await;
    phone.sees(&format!("Job {job} is finished")).await;
    assert_eq!(status(&shop, &job).await, JobStatus::Done);
    phone.tap("Undo").await;
    phone.sees("Undone").await;
    assert_ne!(status(&shop, &job).await, JobStatus::Done);
    let checked = shop.store.check(shop.id()).await.unwrap();
    assert!(checked.wrong.is_empty(), "{:?}", checked.wrong);
}

async fn a_job_is_finished_without_signal(stage: Stage) {
    // The phone has a clock of its own: the story is played today.
    let shop = Shop::demo(&Utc::now().date_naive().to_string()).await;
    shop.pass(Utc::now() - shop.now());
    shop.person("sam", Role::Helper).await;
    // On a day on which the shop is closed it is a job of the next.
    let facts = shop.store.facts(shop.id(), None).await.unwrap();
    let booked = facts.jobs.iter().filter(|job| job.status == JobStatus::Booked);
    let next = booked.min_by_key(|job| (job.planned_on, job.id.clone())).unwrap();
    let (job, vehicle) = (next.id.to_string(), next.vehicle.clone().unwrap());
    let phone = stage.before(&shop, Look::PHONE).await;
    phone.signs_in("sam").await;
    phone.open(&format!("/jobs/{job}/finish")).await;
    phone.go_offline().await;
    phone.tap("Done").await;
    phone.sees(&format!("Kept on this phone until there is signal: Finish {vehicle}")).await;
    assert_ne!(status(&shop, &job).await, JobStatus::Done);
    phone.go_online().await;
    phone.sees("What was kept on this phone is sent").await;
    assert_eq!(status(&shop, &job).await, JobStatus::Done);
    let deeds = shop.store.deeds(shop.id(), None, 50).await.unwrap();
    assert_eq!(deeds.iter().filter(|deed| deed.of == job).count(), 1);
}

async fn a_job_is_finished_without_the_script(stage: Stage) {
    let shop = Shop::demo(DAY).await;
    shop.person("ines", Role::Owner).await;
    let (job, vehicle) = open_jobs(&shop).await.remove(0);
    let laptop = stage.before(&shop, Look::LAPTOP.without_scripts()).await;
    laptop.signs_in("ines").await;
    laptop.tap(&format!("Finish {vehicle}")).await;
    laptop.tap("Done").await;
    laptop.sees(&format!("Job {job} is finished")).await;
    assert_eq!(status(&shop, &job).await, JobStatus::Done);
}

async fn today_is_for_everybody(stage: Stage) {
    let shop = Shop::demo(DAY).await;
    shop.person("ines", Role::Owner).await;
    for look in Look::ALL {
        let screen = stage.before(&shop, look).await;
        screen.open("/sign-in").await;
        screen.is_for_everybody().await;
        screen.signs_in("ines").await;
        screen.screenshot("today").await;
        screen.is_for_everybody().await;
        assert!(screen.page_bytes().await < 100_000);
    }
}

async fn a_wrong_password_is_told_and_slowed_down(stage: Stage) {
    let shop = Shop::demo(DAY).await;
    shop.person("ines", Role::Owner).await;
    let phone = stage.before(&shop, Look::PHONE).await;
    phone.open("/sign-in").await;
    for _ in 0..5 {
        phone.fill("Sign-in name", "ines").await;
        phone.fill("Password", "not the one").await;
        phone.tap("Sign in").await;
        phone.sees("No one signs in with this name and password").await;
    }
    phone.fill("Password", crate::stage::PASSWORD).await;
    phone.tap("Sign in").await;
    phone.sees("Too many wrong passwords").await;
    shop.pass(chrono::TimeDelta::minutes(1));
    phone.signs_in("ines").await;
}
