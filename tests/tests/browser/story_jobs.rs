//! Jobs, as a shop has them: looked at first, booked, moved, called off; and what the owner reads
//! of usage and costs in the evening.

use capful_domain::{Job, JobStatus};
use capful_store::Role;

use crate::in_a_browser;
use crate::stage::{Look, Shop, Stage};

in_a_browser!(
    a_job_is_looked_at_and_booked_and_moved,
    the_sheet_is_set_to_what_was_learned,
    the_pages_of_jobs_are_for_everybody,
);

const DAY: &str = "2026-03-03";

async fn a_job_is_looked_at_and_booked_and_moved(stage: Stage) {
    let shop = Shop::demo(DAY).await;
    for look in [Look::PHONE, Look::LAPTOP.without_scripts()] {
        let helper = stage.signed_in_as(Role::Helper, &shop, look).await;
        helper.tap("Jobs").await;
        helper.sees("2 to 8 March, week 10").await;
        helper.tap("Week after").await;
        helper.sees("9 to 15 March, week 11").await;
        helper.tap("Book Tuesday 10").await;
        helper.holds("Day", "2026-03-10").await;
        helper.tap("Look first").await;
        helper.sees("at least one job type").await;
        helper.tap("Maintenance wash").await;
        helper.fill("Vehicle", "striped van, GUL 999").await;
        helper.choose("Condition", "5, neglected").await;
        helper.tap("Look first").await;
        helper.sees("What the shelf says").await;
        helper.holds("Vehicle", "striped van, GUL 999").await;
        helper.tap("Book").await;
        helper.sees("is booked").await;
        helper.sees("Tuesday 10 March 2026").await;
        helper.sees("Medium, condition 5").await;
        helper.does_not_see("CAD").await;
        helper.tap("Change or move").await;
        helper.fill("Day", "2026-03-11").await;
        helper.tap("Save").await;
        helper.sees("Wednesday 11 March 2026").await;
        helper.tap("Undo").await;
        helper.sees("Tuesday 10 March 2026").await;
        helper.tap("Call off").await;
        helper.tap("Call off striped van, GUL 999").await;
        helper.sees("called off").await;
    }
}

async fn the_sheet_is_set_to_what_was_learned(stage: Stage) {
    let shop = Shop::demo(DAY).await;
    let owner = stage.signed_in(&shop, Look::PHONE).await;
    owner.open("/usage").await;
    owner.sees("Wheel cleaner, acid-free, 5 L").await;
    owner.sees("The sheet says 153 mL, but jobs take more").await;
    let button = "const all = [...document.querySelectorAll('h3')]; \
                  const own = all.find((h) => h.textContent.includes('Wheel cleaner')); \
                  return own.parentElement.querySelector('button').textContent;";
    let button = owner.ask(button, vec![]).await;
    owner.tap(button.as_str().unwrap()).await;
    owner.sees("The usage sheet of").await;
    owner.does_not_see("The sheet says 153 mL, but jobs take more").await;
}

async fn the_pages_of_jobs_are_for_everybody(stage: Stage) {
    let shop = Shop::demo(DAY).await;
    let jobs = shop.store.jobs_back(shop.id(), None, 0, 500).await.unwrap();
    let is = |job: &Job, status| job.status == status;
    let first = |status| jobs.iter().find(|listed| is(&listed.row, status)).unwrap();
    let id = |status| first(status).row.id.to_string();
    let (booked, done) = (id(JobStatus::Booked), id(JobStatus::Done));
    let facts = shop.store.facts(shop.id(), None).await.unwrap();
    let lot = facts.receipts.iter().find_map(|receipt| receipt.lot.clone()).unwrap();
    for look in Look::ALL {
        let owner = stage.signed_in(&shop, look).await;
        for (path, name) in [
            ("/jobs", "jobs"),
            ("/jobs?all=1", "jobs-all"),
            ("/jobs/new", "job-new"),
            (&*format!("/jobs/{booked}"), "job-booked"),
            (&*format!("/jobs/{done}"), "job-done"),
            (&*format!("/jobs/{done}/record"), "job-record"),
            ("/usage", "usage"),
            ("/costs", "costs"),
            (&*format!("/trace/lots/{lot}"), "trace"),
        ] {
            owner.open(path).await;
            owner.is_for_everybody().await;
            owner.screenshot(name).await;
            assert!(owner.page_bytes().await < 100_000, "{path}");
        }
        owner.open("/jobs/new").await;
        owner.tap("Look first").await;
        owner.sees("at least one job type").await;
        owner.is_for_everybody().await;
        owner.tap("Paint coating").await;
        owner.tap("Look first").await;
        owner.sees("What the shelf says").await;
        owner.is_for_everybody().await;
        owner.screenshot("job-look").await;
    }
}
